"""Where a harness fails, worst first, and which of its connectors nothing needs.

A soldered wire end counts one point; a wire end with a plug counts two, its mating contacts and its crimp. A
plug on a wire that never has to part is needless; one at a cell stays, since cells wear out.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

from msgspec import Struct

from chassis_gen.output.nets import Site, sites_of
from chassis_gen.plan.chassis import ChassisPlan, Route, Wire
from chassis_gen.plan.leads import lead_reaches
from chassis_gen.tables.harness import FailureKind, failure_kinds, part_kinds_that_are
from chassis_gen.tables.wire import wiring_rule

START, END, IN_LINE = "start", "end", "in line"


class FailurePoint(Struct, frozen=True):
    """One place where a harness may fail.

    Args:
        kind: what fails.
        where: terminal, section or pieces.
        wires: wire ids.
        detail: figures in words, or "".
    """

    kind: FailureKind
    where: str
    wires: tuple[str, ...]
    detail: str = ""


class Plug(Struct, frozen=True):
    """A connector on a wire.

    Args:
        wire: wire id.
        at: ``start``, ``end`` or ``in line``.
        where: terminal id, or the section that it lies in.
        keeps: why it stays, or None where nothing needs it.
    """

    wire: str
    at: str
    where: str
    keeps: str | None


def plugs_of(plan: ChassisPlan) -> tuple[Plug, ...]:
    """Return the connectors of all routed wires, each with what needs it.

    Args:
        plan: the build.
    """
    sites = sites_of(plan)
    return tuple(p for r in plan.routes for p in _wire_plugs(r, sites))


def _wire_plugs(route: Route, sites: Mapping[str, Site]) -> tuple[Plug, ...]:
    """Return a wire's connectors; the one nearest to what parts stays, the others are needless."""
    wire = route.wire
    there = [(START, wire.start)] if wire.start_connector else []
    there += [(END, wire.end)] if wire.end_connector else []
    there += [(IN_LINE, _place(route, i)) for i, b in enumerate(wire.in_line) if b.kind == "connector"]
    reason, end = _parting(wire, sites)
    order = sorted(there, key=lambda p: (p[0] != end, p[0] != IN_LINE))
    kept = order[:1] if reason else []
    return tuple(Plug(wire.id, at, where, reason if (at, where) in kept else None) for at, where in there)


def _place(route: Route, index: int) -> str:
    """Return the section that a body of a wire lies in."""
    body = route.wire.in_line[index]
    placed = next((b.section for b in route.bodies if b.body == body), None)
    return placed or body.section or route.wire.id


def _parting(wire: Wire, sites: Mapping[str, Site]) -> tuple[str | None, str]:
    """Return why a wire has to part, and at which end best."""
    start, end = sites[wire.start], sites[wire.end]
    changed = part_kinds_that_are("changed")
    for at, site in ((START, start), (END, end)):
        if site.kind in changed:
            return "the cell wears out and is changed", at
    for at, site in ((START, start), (END, end)):
        if site.removable:
            return f"{site.piece} comes off", at
    if start.piece != end.piece:
        return f"{start.piece} and {end.piece} come apart", START
    return None, START


def failure_points(plan: ChassisPlan, without: Sequence[Plug] = ()) -> tuple[FailurePoint, ...]:
    """Return the points of failure of a build's routed wires, worst first.

    Args:
        plan: the build.
        without: connectors to leave out; a soldered joint stands in for each.
    """
    sites, gone = sites_of(plan), {(p.wire, p.at, p.where) for p in without}
    plugs = [p for p in plugs_of(plan) if (p.wire, p.at, p.where) not in gone]
    found = [point for r in plan.routes for point in _of_route(plan, r, sites, plugs)]
    found += _shared_joints(plan, plugs)
    return tuple(sorted(found, key=lambda p: p.kind.rank))


def _of_route(
    plan: ChassisPlan, route: Route, sites: Mapping[str, Site], plugs: Sequence[Plug]
) -> tuple[FailurePoint, ...]:
    wire, kinds = route.wire, failure_kinds()
    own = [p for p in plugs if p.wire == wire.id]
    found = []
    for at, terminal in ((START, wire.start), (END, wire.end)):
        if not any(p.at == at for p in own):
            found.append(FailurePoint(kinds[_joint_kind(sites[terminal])], terminal, (wire.id,)))
    for p in own:
        # a plug in line has a crimp on each side
        crimps = 2 if p.at == IN_LINE else 1
        found.append(FailurePoint(kinds["connector"], p.where, (wire.id,), p.keeps or "nothing needs it"))
        found += [FailurePoint(kinds["crimp"], p.where, (wire.id,))] * crimps
    for i, body in enumerate(wire.in_line):
        if body.kind != "connector" and not lead_reaches(route, body):
            kind = kinds["splice" if body.kind == "splice" else "component"]
            found.append(FailurePoint(kind, _place(route, i), (wire.id,), body.kind))
    return (*found, *_long_drops(route), *_free_spans(plan, route), *_crossings(plan, route))


def _joint_kind(site: Site) -> str:
    if site.removable:
        return "removable_joint"
    return "shaken_joint" if site.kind in part_kinds_that_are("shaken") else "joint"


def _long_drops(route: Route) -> tuple[FailurePoint, ...]:
    kind, longest = failure_kinds()["long_drop"], wiring_rule("long_drop").value
    ends = {0: route.wire.start, len(route.legs) - 1: route.wire.end}
    return tuple(
        FailurePoint(kind, ends.get(i, leg.section), (route.wire.id,), f"{leg.length:.0f} mm")
        for i, leg in enumerate(route.legs)
        if leg.kind == "drop" and leg.length > longest
    )


def _free_spans(plan: ChassisPlan, route: Route) -> tuple[FailurePoint, ...]:
    kind, longest = failure_kinds()["free_span"], wiring_rule("long_free_span").value
    found = []
    for s in plan.sections:
        span = sum(g.length for g in route.legs if g.section == s.name and g.kind in ("lane", "gallery"))
        if any(g.open_room for g in s.galleries) and span > longest:
            found.append(FailurePoint(kind, s.name, (route.wire.id,), f"{span:.0f} mm"))
    return tuple(found)


def _crossings(plan: ChassisPlan, route: Route) -> tuple[FailurePoint, ...]:
    piece = {s.name: s.piece for s in plan.sections}
    passed = [piece[g.section] for g in route.legs if g.section in piece]
    pairs = dict.fromkeys(" / ".join(sorted(p)) for p in itertools.pairwise(passed) if p[0] != p[1])
    return tuple(FailurePoint(failure_kinds()["piece_crossing"], p, (route.wire.id,)) for p in pairs)


def _shared_joints(plan: ChassisPlan, plugs: Sequence[Plug]) -> list[FailurePoint]:
    plugged = {(p.wire, p.at) for p in plugs}
    there: dict[str, list[str]] = {}
    for r in plan.routes:
        for at, terminal in ((START, r.wire.start), (END, r.wire.end)):
            if (r.wire.id, at) not in plugged:
                there.setdefault(terminal, []).append(r.wire.id)
    kind = failure_kinds()["shared_joint"]
    return [
        FailurePoint(kind, terminal, tuple(wires), f"{len(wires)} wires")
        for terminal, wires in there.items()
        if len(wires) > 1
    ]
