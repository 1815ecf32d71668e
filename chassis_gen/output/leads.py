"""Leads that parts already have: how much of a wire's way they cover, and what is left to cut."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from chassis_gen.plan.chassis import InLine, PlacedBody, Route
from chassis_gen.tables.wire import wiring_rule


def lead_reaches(route: Route, body: InLine) -> bool:
    """Return True where a part's own lead goes all the way, so that it needs no splice.

    Args:
        route: the wire's path.
        body: a body in the wire; only a splice to a lead can be needless.
    """
    return body.end is not None and body.lead >= route.length + wiring_rule("end_allowance").value


def real_bodies(route: Route) -> tuple[InLine, ...]:
    """Return the bodies that a wire really has: no splice to a lead that goes all the way.

    Args:
        route: the wire's path.
    """
    return tuple(b for b in route.wire.in_line if not lead_reaches(route, b))


def covered(route: Route) -> float:
    """Return how much of a wire's path its parts' own leads cover, mm; a splice may lie before a lead's end.

    Args:
        route: the wire's path.
    """
    return min(route.length, sum(covered_at(route, end) for end in ("start", "end")))


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
    less = covered(route)
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
    length = math.fsum(spans)
    longer = (length + route.length * (twist_of(route) - 1)) / length if length else 1.0
    slack = _slack_piece(route, marks)
    ends, up = 2 * wiring_rule("end_allowance").value, wiring_rule("cut_round_up").value
    wanted = (s * longer + ends + (route.slack if i == slack else 0.0) for i, s in enumerate(spans))
    return tuple(math.ceil(w / up - 1e-9) * up for w in wanted)


def _slack_piece(route: Route, marks: Sequence[float]) -> int:
    """Return the number of the piece that the slack is in: the last where nothing tells."""
    along = 0.0
    for leg in route.legs:
        if leg.section == route.slack_section:
            at = along + leg.length / 2
            return max(0, sum(m <= at for m in marks[:-1]) - 1)
        along += leg.length
    return len(marks) - 2


def twist_of(route: Route) -> float:
    """Return by what a wire's path is multiplied because it is twisted, 1 where it isn't.

    Args:
        route: the wire's path.
    """
    return wiring_rule("twist_lengthening").value if route.wire.twisted_with else 1.0
