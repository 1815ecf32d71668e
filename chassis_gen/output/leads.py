"""Leads that parts already have: how much of a wire's way they cover, and what is left to cut."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from chassis_gen.plan.chassis import InLine, PlacedBody, Route
from chassis_gen.plan.leads import lead_reaches, lead_to, slack_at, twist_of
from chassis_gen.tables.wire import wiring_rule


def real_bodies(route: Route) -> tuple[InLine, ...]:
    """Return the bodies that a wire really has: no splice to a lead that goes all the way.

    Args:
        route: the wire's path.
    """
    return tuple(b for b in route.wire.in_line if not lead_reaches(route, b))


def used(route: Route) -> float:
    """Return how much of its parts' own leads a wire uses, mm; a splice may lie before a lead's end.

    Args:
        route: the wire's path.
    """
    whole = route.length * twist_of(route) + route.slack
    return min(whole, sum(used_at(route, end) for end in ("start", "end")))


def used_at(route: Route, end: str) -> float:
    """Return how much of the lead at one of a wire's ends it uses, mm: all of it where its splice has no place.

    Args:
        route: the wire's path.
        end: ``start`` or ``end``.
    """
    have = route.wire.start_have if end == "start" else route.wire.end_have
    placed = next((b for b in route.bodies if b.body.end == end), None)
    return have if placed is None else lead_to(route, end, placed.from_start)


def covered_at(route: Route, end: str) -> float:
    """Return how much of a wire's path the lead at one of its ends covers, mm.

    Args:
        route: the wire's path.
        end: ``start`` or ``end``.
    """
    wire = route.wire
    have = wire.start_have if end == "start" else wire.end_have
    placed = next((b for b in route.bodies if b.body.end == end), None)
    if placed is None:
        return min(have, route.length)
    return placed.from_start if end == "start" else route.length - placed.from_start


def nothing_to_cut(route: Route) -> bool:
    """Return True where a part's own lead is all the wire there is.

    Args:
        route: the wire's path.
    """
    return any(lead_reaches(route, b) for b in route.wire.in_line)


def cut_of(route: Route) -> float:
    """Return what to cut from the reel for a wire, mm: all its pieces, or the extension to a lead, rounded up.

    The extension has the allowance at its splice that a wire has at its terminal: it makes the lap.

    Args:
        route: the wire's path.
    """
    if nothing_to_cut(route):
        return 0.0
    if between(route):
        return math.fsum(pieces_of(route))
    less = used(route)
    if less == 0.0:
        return route.cut_length
    up = wiring_rule("cut_round_up").value
    wanted = route.length * twist_of(route) + route.slack + 2 * wiring_rule("end_allowance").value - less
    return math.ceil(wanted / up - 1e-9) * up


def between(route: Route) -> tuple[PlacedBody, ...]:
    """Return the bodies that part a wire into pieces, from its start on; splices to parts' own leads don't.

    Args:
        route: the wire's path.
    """
    own = (b for b in route.bodies if b.body.end is None)
    return tuple(sorted(own, key=lambda b: b.from_start))


def pieces_of(route: Route) -> tuple[float, ...]:
    """Return the pieces to cut of a wire, mm, from its start on, each rounded up by itself.

    A piece runs from terminal, lead or middle of a body to the next, with the allowance of a wire's end at both; the
    slack is in the piece that passes the section where it lies.

    Args:
        route: the wire's path.
    """
    if nothing_to_cut(route):
        return ()
    first, last = covered_at(route, "start"), route.length - covered_at(route, "end")
    marks = (first, *(b.from_start for b in between(route)), max(first, last))
    spans = [max(0.0, b - a) for a, b in itertools.pairwise(marks)]
    slack = _slack_piece(route, marks)
    ends, up = 2 * wiring_rule("end_allowance").value, wiring_rule("cut_round_up").value
    wanted = (s * twist_of(route) + ends + (route.slack if i == slack else 0.0) for i, s in enumerate(spans))
    return tuple(math.ceil(w / up - 1e-9) * up for w in wanted)


def _slack_piece(route: Route, marks: Sequence[float]) -> int | None:
    """Return the number of the piece with the slack: None where a lead has it, the last where nothing tells."""
    at = slack_at(route)
    if at is None:
        return len(marks) - 2
    piece = sum(m <= at for m in marks) - 1
    return piece if 0 <= piece < len(marks) - 1 else None
