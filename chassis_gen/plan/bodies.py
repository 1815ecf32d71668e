"""Bodies in wires: splices, resistors, fuses and connectors, each in a straight stretch that has room for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import InLine, PlacedBody, Route, Wire
from chassis_gen.plan.laying import Ground, Laid, Stretch, Window, degrees_of, is_tunnel
from chassis_gen.plan.leads import lead_reaches, lead_to
from chassis_gen.plan.slack import lay_slack
from chassis_gen.plan.sums import GRID, on_grid
from chassis_gen.shapes.frame import turn_between, unit
from chassis_gen.shapes.primitives import TubeSegment
from chassis_gen.shapes.recipe import Step, cut
from chassis_gen.tables.wire import wiring_rule

FROM_BEND = 2.0
"""Straight wire between a body and a bend, a joint of sections or a drop, mm (chosen)."""
STEP = 1.0
"""Places are tried in these steps, mm (chosen)."""
_SPLICE = "splice"
_IN_HOLLOW = 1e4
"""What a groove costs beside a hollow section: more than any distance along a wire (chosen)."""
CLEARANCE = 0.2
"""Room round a body in its pocket, per side, mm (chosen)."""


class _Run(Struct, frozen=True):
    """A straight run of a wire in one section: its stretches, clock, stations, and how far along the wire it begins.

    Args:
        rows: numbers of its stretches.
        clock: degrees.
        z0: station that is nearer to the wire's start, mm.
        z1: the other, mm.
        begins: distance from the wire's start to `z0` along the route, mm.
    """

    rows: tuple[int, ...]
    clock: int
    z0: float
    z1: float
    begins: float

    def station(self, along: float) -> float:
        """Return the station at a distance along the wire, mm."""
        return self.z0 + math.copysign(along - self.begins, self.z1 - self.z0)


class _Spot(Struct, frozen=True):
    """A place that a body may have, and how dear it is."""

    cost: float
    body: PlacedBody


def placed_bodies(
    routes: Sequence[Route],
    laid: Sequence[Laid],
    windows: Mapping[int, Sequence[Window]],
    stretches: Sequence[Stretch],
    ground: Ground,
) -> tuple[tuple[PlacedBody, ...], dict[str, tuple[Step, ...]], tuple[Finding, ...]]:
    """Return all bodies where they lie, the pockets that are cut for them, and a finding for each without room.

    Args:
        routes: the routes.
        laid: the laid wires, in the same order.
        windows: taken windows by stretch.
        stretches: what the paths count.
        ground: holds rules and walls.
    """
    placed: list[PlacedBody] = []
    steps: dict[str, tuple[Step, ...]] = {}
    found = []
    slack, _ = lay_slack(routes, ground)
    served = (replace(r, slack_section=slack.get(r.wire.id)) for r in routes)
    for route, x in zip(served, laid, strict=True):
        wanted = _in_order(route)
        if not wanted:
            continue
        runs = _runs(route, x, stretches)
        columns = [_spots(route, body, runs, windows, stretches, placed, ground) for body in wanted]
        spots, lacking = _chain(wanted, columns, ground)
        found += [_no_room(route, body, runs, stretches, ground) for body in lacking]
        for spot in spots:
            placed.append(spot)
            if spot.cut:
                steps[spot.section] = (*steps.get(spot.section, ()), *_pocket(spot, ground))
    return tuple(placed), steps, tuple(found)


def _in_order(route: Route) -> list[InLine]:
    """Return a wire's bodies from its start on: as the maker wrote them, between the splices to parts' own leads."""
    own = [b for b in route.wire.in_line if not lead_reaches(route, b)]
    return sorted(own, key=lambda b: {"start": 0, None: 1, "end": 2}[b.end])


def _chain(
    wanted: Sequence[InLine], columns: Sequence[Iterator[_Spot]], ground: Ground
) -> tuple[tuple[PlacedBody, ...], tuple[InLine, ...]]:
    """Return the best places of a wire's bodies that follow each other, and the bodies without one.

    Each place's cost is the least of the places before it that leave a gap, and its own: the shortest way over a chain.
    """
    if len(wanted) == 1:
        first = next(columns[0], None)
        return ((first.body,), ()) if first else ((), tuple(wanted))
    kept: list[list[_Spot]] = []
    totals: list[np.ndarray[Any, np.dtype[np.float64]]] = []
    before: list[np.ndarray[Any, np.dtype[np.intp]]] = []
    lacking = []
    for body, column in zip(wanted, columns, strict=True):
        spots = list(column)
        if not spots:
            lacking.append(body)
            continue
        total = np.array([s.cost for s in spots])
        came = np.zeros(len(spots), dtype=np.intp)
        if kept:
            ways = np.where(_follows(kept[-1], spots, ground), totals[-1][:, None], np.inf)
            came = ways.argmin(axis=0)
            total = total + ways.min(axis=0)
        if not np.isfinite(total).any():
            lacking.append(body)
            continue
        kept.append(spots)
        totals.append(total)
        before.append(came)
    chain: list[PlacedBody] = []
    at = int(totals[-1].argmin()) if totals else 0
    for spots, came in zip(reversed(kept), reversed(before), strict=True):
        chain.append(spots[at].body)
        at = int(came[at])
    return tuple(reversed(chain)), tuple(lacking)


def _follows(
    first: Sequence[_Spot], then: Sequence[_Spot], ground: Ground
) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Return for each pair of places whether the second leaves a gap behind the first."""
    a, b = first[0].body.body, then[0].body.body
    least = (a.length + b.length) / 2 + wiring_rule("body_gap").value
    along = _figures(then, lambda s: s.from_start) - _figures(first, lambda s: s.from_start)[:, None]
    apart = np.abs(
        _figures(then, lambda s: s.position[2]) - _figures(first, lambda s: s.position[2])[:, None]
    )
    same = np.array([s.body.section for s in then]) == np.array([s.body.section for s in first])[:, None]
    fits: np.ndarray[Any, np.dtype[np.bool_]] = (along >= least - GRID) & (
        ~same | (apart >= least - 2 * GRID)
    )
    if a.kind == b.kind == _SPLICE:
        fits &= apart >= ground.rules.stagger + 2 * GRID
    return fits


def _figures(
    spots: Sequence[_Spot], of: Callable[[PlacedBody], float]
) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.array([of(s.body) for s in spots])


def _runs(route: Route, x: Laid, stretches: Sequence[Stretch]) -> tuple[_Run, ...]:
    """Return the straight runs of a wire from its start on."""
    if not x.along:
        return ()
    visits = x.visits if x.wire.start == x.low.id else tuple(reversed(x.visits))
    forward = x.wire.start == x.low.id
    groups: list[list[tuple[int, int, float, float]]] = []
    key = None
    for v in visits:
        if v.tube is not None:
            key = None
            continue
        s = stretches[v.stretch]
        up = v.up if forward else not v.up
        a, b = (s.z0, s.z1) if up else (s.z1, s.z0)
        here = (s.section.name, v.clock, up)
        if here == key:
            groups[-1].append((v.stretch, v.clock, a, b))
        else:
            groups.append([(v.stretch, v.clock, a, b)])
        key = here
    found = []
    for group in groups:
        section, clock, z0, z1 = stretches[group[0][0]].section.name, group[0][1], group[0][2], group[-1][3]
        found.append(_Run(tuple(g[0] for g in group), clock, z0, z1, _begins(route, section, clock, z0, z1)))
    return tuple(found)


def _begins(route: Route, section: str, clock: int, z0: float, z1: float) -> float:
    """Return how far along the wire a straight run of a section begins, mm."""
    along = 0.0
    for leg in route.legs:
        turn = turn_between(clock, math.degrees(math.atan2(leg.start[1], leg.start[0])))
        own = (leg.kind, leg.section) == ("lane", section) and abs(turn) < 0.5
        if own and abs(leg.start[2] - z0) < 1e-6 and (leg.end[2] - leg.start[2]) * (z1 - z0) > 0:
            return along
        along += leg.length
    return along


def _spots(
    route: Route,
    body: InLine,
    runs: Sequence[_Run],
    windows: Mapping[int, Sequence[Window]],
    stretches: Sequence[Stretch],
    placed: Sequence[PlacedBody],
    ground: Ground,
) -> Iterator[_Spot]:
    """Yield the places that a body may have, the best first."""
    radius = ground.rules.bend * route.wire.outer_diameter
    for cost, (distance, r) in sorted(_tries(route, body, runs, stretches, radius), key=lambda t: t[0]):
        z = r.station(distance)
        near, far = sorted((z - body.length / 2, z + body.length / 2))
        section = stretches[r.rows[0]].section
        if not _staggered(body, z, placed, ground):
            continue
        if not _has_room(route.wire, body, near, far, r, windows, stretches, ground):
            continue
        radius = stretches[r.rows[0]].radius - body.diameter / 2
        c, s = unit(r.clock)
        position = (radius * c, radius * s, on_grid(z))
        hollow = stretches[r.rows[0]].hollow
        lies = PlacedBody(
            route.wire.id, body, section.name, position, distance, on_grid(near), on_grid(far), not hollow
        )
        yield _Spot(_IN_HOLLOW * cost[0] + cost[1], lies)


def _tries(
    route: Route, body: InLine, runs: Sequence[_Run], stretches: Sequence[Stretch], radius: float
) -> Iterator[tuple[tuple[float, float], tuple[float, _Run]]]:
    """Yield how dear each place is and where it lies: hollow sections first, a splice as far as its lead goes.

    Beside a drop the wire bends over its radius before it lies straight.
    """
    for run in runs:
        section = stretches[run.rows[0]].section.name
        if body.section is not None and body.section != section:
            continue
        bends = _bends(run, runs, stretches, radius)
        spare = abs(run.z1 - run.z0) - body.length - 2 * FROM_BEND - sum(bends)
        if spare < 0:
            continue
        first = run.begins + FROM_BEND + bends[0] + body.length / 2
        count = int(spare / STEP) + 1
        for k in range(count):
            along = first + (spare * k / (count - 1) if count > 1 else spare / 2)
            from_end = lead_to(route, body.end, along) if body.end else 0.0
            if body.end and from_end > body.lead:
                continue
            middle = abs(k - (count - 1) / 2) * STEP
            hollow = 0.0 if stretches[run.rows[0]].hollow else 1.0
            cost = (hollow, body.lead - from_end) if body.end else (hollow, middle)
            yield cost, (along, run)


def _staggered(body: InLine, z: float, placed: Sequence[PlacedBody], ground: Ground) -> bool:
    """Return whether a splice stands far enough along the axis from all others; other bodies always do."""
    splices = (p for p in placed if p.body.kind == _SPLICE)
    return body.kind != _SPLICE or all(
        abs(p.position[2] - z) >= ground.rules.stagger + 2 * GRID for p in splices
    )


def _has_room(
    wire: Wire,
    body: InLine,
    near: float,
    far: float,
    run: _Run,
    windows: Mapping[int, Sequence[Window]],
    stretches: Sequence[Stretch],
    ground: Ground,
) -> bool:
    """Return whether a body fits under the surface over its whole length, with a wall to other wires' lanes."""
    for k in run.rows:
        s = stretches[k]
        if s.z1 <= near or s.z0 >= far or s.hollow:
            continue
        if is_tunnel(s.section, ground):
            return False
        half = _half(body, s.radius)
        reach = half + degrees_of(ground.wall, s.radius - body.diameter)
        degrees = (run.clock + np.arange(-half, half + 1)) % 360
        if bool((s.radius - s.limit[degrees] < body.diameter + CLEARANCE).any()):
            return False
        for w in windows[k]:
            apart = abs(turn_between(run.clock, w.middle))
            if w.wire != wire.id and apart <= reach + w.half:
                return False
    return True


def _half(body: InLine, radius: float) -> int:
    return math.ceil(degrees_of(body.diameter + 2 * CLEARANCE, radius - body.diameter) / 2)


def _pocket(spot: PlacedBody, ground: Ground) -> tuple[Step, ...]:
    radius = ground.outer.smallest_radius(spot.z0, spot.z1)
    half = _half(spot.body, radius)
    clock = math.degrees(math.atan2(spot.position[1], spot.position[0]))
    pocket = TubeSegment(
        on_grid(radius - spot.body.diameter - CLEARANCE),
        ground.outer.largest_radius(spot.z0, spot.z1) + 1.0,
        on_grid(spot.z0 - CLEARANCE),
        on_grid(spot.z1 + CLEARANCE),
        round(clock) - half,
        round(clock) + half,
    )
    return cut(f"pocket for the {spot.body.kind} in {spot.wire}", pocket, must_touch=False)


def _no_room(
    route: Route, body: InLine, runs: Sequence[_Run], stretches: Sequence[Stretch], ground: Ground
) -> Finding:
    there = [r for r in runs if body.section in (None, stretches[r.rows[0]].section.name)]
    bend = ground.rules.bend * route.wire.outer_diameter
    taken = {r: body.length + 2 * FROM_BEND + sum(_bends(r, runs, stretches, bend)) for r in there}
    best = min(there, key=lambda r: taken[r] - abs(r.z1 - r.z0), default=None)
    longest = abs(best.z1 - best.z0) if best else 0.0
    wanted = taken[best] if best else body.length + 2 * FROM_BEND
    where = f' in "{body.section}"' if body.section else ""
    reach = f", within the {body.lead:g} mm of its lead" if body.end else ""
    apart = f" and {ground.rules.stagger:g} mm from other splices" if body.kind == _SPLICE else ""
    others = [b for b in route.wire.in_line if b is not body]
    gap = wiring_rule("body_gap").value
    beside = f", {gap:g} mm from the wire's other bodies in the order of in_line" if others else ""
    lengths = (
        f"the longest is {longest:.2f} mm, {wanted:.2f} mm are wanted"
        if best
        else "it runs straight nowhere there"
    )
    message = (
        f"no straight stretch{where} has room for its {body.kind} of {body.diameter:g} x {body.length:g} mm{reach}, "
        f"clear of bends{apart}{beside}: {lengths}"
    )
    return Finding(
        "error",
        "body-no-room",
        route.wire.id,
        message,
        {"wanted_length": wanted, "longest_run": longest, "diameter": body.diameter},
        candidates=tuple(_room_for(route, body, max(wanted - longest, 0.0), ground)),
    )


def _bends(run: _Run, runs: Sequence[_Run], stretches: Sequence[Stretch], radius: float) -> list[float]:
    """Return what the bends of drops take of a run, mm: at a wire's ends, unless the section there is hollow."""
    return [
        radius if run is end and not stretches[run.rows[0]].hollow else 0.0 for end in (runs[0], runs[-1])
    ]


def _room_for(route: Route, body: InLine, short: float, ground: Ground) -> Iterator[Remedy]:
    """Yield what may leave a body its room: another bay, longer bays, and for bays that fill a longer chassis.

    Args:
        route: of its wire.
        body: without room.
        short: what the longest straight stretch lacks, mm.
        ground: what the build file says of the sections.
    """
    wire = route.wire
    bays = {name: row for name, row in ground.rows.items() if row.kind == "lead_bay"}
    if wire.key and body.section is not None:
        k = next(i for i, b in enumerate(wire.in_line) if b is body)
        on_way = dict.fromkeys(leg.section for leg in route.legs)
        for name in bays:
            if name in on_way and name != body.section:
                yield Remedy(f"{wire.key}.in_line[{k}].section", name, f'the {body.kind} in "{name}"')
    fixed = {name: (row, row.length) for name, row in bays.items() if row.length is not None}
    for name, (row, length) in fixed.items():
        if body.section in (None, name):
            for more in (5.0, 10.0, 20.0):
                yield Remedy(
                    f"section[{row.index}].length", length + more, f'"{name}" {length + more:g} mm long'
                )
    fills = len(bays) - len(fixed)
    if fills:
        need = max(fills * short, 1.0)
        for name, (row, length) in fixed.items():
            less = math.floor(10 * (length - need)) / 10
            if name != body.section and less > 0:
                yield Remedy(
                    f"section[{row.index}].length",
                    less,
                    f'"{name}" {less:g} mm long, which leaves more to fill',
                )
        end = max(s.z1 for s in ground.sections)
        for more in (need, need + 5.0):
            far = math.ceil(10 * (end + more)) / 10
            yield Remedy("tube.chassis_end", far, f"the chassis's far end at {far:g} mm")
        longer = "a longer chassis (tube.chassis_end) or shorter sections"
        more_room = (
            f"so that the bays that fill get {short:.1f} mm more" if short else "so that bays fill more"
        )
        yield Remedy(None, None, f"{longer}, {more_room}, or a shorter {body.kind}")
    yield Remedy(None, None, f"a longer lead bay on the way of {wire.id}, or a shorter {body.kind}")
