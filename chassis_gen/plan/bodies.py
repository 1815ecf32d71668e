"""Bodies in wires: splices, resistors, fuses and connectors, each in a straight stretch that has room for it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import InLine, PlacedBody, Route, Wire
from chassis_gen.plan.laying import Ground, Laid, Stretch, Window, degrees_of, is_tunnel
from chassis_gen.plan.sums import GRID, on_grid
from chassis_gen.shapes.frame import unit
from chassis_gen.shapes.primitives import TubeSegment
from chassis_gen.shapes.recipe import Step, cut

FROM_BEND = 2.0
"""Straight wire between a body and a bend, a joint of sections or a drop, mm (chosen)."""
STEP = 1.0
"""Places are tried in these steps, mm (chosen)."""
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
    for route, x in zip(routes, laid, strict=True):
        runs = _runs(route, x, stretches) if route.wire.in_line else ()
        for body in route.wire.in_line:
            if body.end and body.lead >= route.length + ground.rules.end_allowance:
                continue
            spot = next(_spots(route, body, runs, windows, stretches, placed, ground), None)
            if spot is None:
                found.append(_no_room(route, body, runs, stretches, ground))
                continue
            placed.append(spot)
            if spot.cut:
                steps[spot.section] = (*steps.get(spot.section, ()), *_pocket(spot, ground))
    return tuple(placed), steps, tuple(found)


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
        turn = (math.degrees(math.atan2(leg.start[1], leg.start[0])) - clock + 180) % 360 - 180
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
) -> Iterator[PlacedBody]:
    """Yield the places that a body may have, the best first."""
    for _, (distance, r) in sorted(_tries(route, body, runs, stretches), key=lambda t: t[0]):
        z = r.station(distance)
        near, far = sorted((z - body.length / 2, z + body.length / 2))
        section = stretches[r.rows[0]].section
        if not _staggered(body, z, placed, ground) or _meets(route.wire, body, z, section.name, placed):
            continue
        if not _has_room(route.wire, body, near, far, r, windows, stretches, ground):
            continue
        radius = stretches[r.rows[0]].radius - body.diameter / 2
        c, s = unit(r.clock)
        position = (radius * c, radius * s, on_grid(z))
        hollow = stretches[r.rows[0]].hollow
        yield PlacedBody(
            route.wire.id, body, section.name, position, distance, on_grid(near), on_grid(far), not hollow
        )


def _tries(
    route: Route, body: InLine, runs: Sequence[_Run], stretches: Sequence[Stretch]
) -> Iterator[tuple[tuple[float, float], tuple[float, _Run]]]:
    """Yield how dear each place is and where it lies: hollow sections first, a splice as far as its lead goes."""
    for run in runs:
        section = stretches[run.rows[0]].section.name
        if body.section is not None and body.section != section:
            continue
        spare = abs(run.z1 - run.z0) - body.length - 2 * FROM_BEND
        if spare < 0:
            continue
        first = run.begins + FROM_BEND + body.length / 2
        count = int(spare / STEP) + 1
        for k in range(count):
            along = first + (spare * k / (count - 1) if count > 1 else spare / 2)
            from_end = {"start": along, "end": route.length - along}.get(body.end or "", 0.0)
            if from_end > (body.lead if body.end else math.inf):
                continue
            middle = abs(k - (count - 1) / 2) * STEP
            hollow = 0.0 if stretches[run.rows[0]].hollow else 1.0
            cost = (hollow, body.lead - from_end) if body.end else (hollow, middle)
            yield cost, (along, run)


def _staggered(body: InLine, z: float, placed: Sequence[PlacedBody], ground: Ground) -> bool:
    """Return whether a splice stands far enough along the axis from all others; other bodies always do."""
    splices = (p for p in placed if p.body.kind == "splice")
    return body.kind != "splice" or all(
        abs(p.position[2] - z) >= ground.rules.stagger + 2 * GRID for p in splices
    )


def _meets(wire: Wire, body: InLine, z: float, section: str, placed: Sequence[PlacedBody]) -> bool:
    """Return whether a body of the same wire lies there already."""
    return any(
        p.wire == wire.id
        and p.section == section
        and abs(p.position[2] - z) < (p.body.length + body.length) / 2
        for p in placed
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
            apart = abs((w.middle - run.clock + 180) % 360 - 180)
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
    longest = max((abs(r.z1 - r.z0) for r in runs), default=0.0)
    wanted = body.length + 2 * FROM_BEND
    where = f' in "{body.section}"' if body.section else ""
    reach = f", within the {body.lead:g} mm of its lead" if body.end else ""
    message = (
        f"{route.wire.id}: no straight stretch{where} has room for its {body.kind} of {body.diameter:g} x "
        f"{body.length:g} mm{reach}, clear of bends and {ground.rules.stagger:g} mm from other splices"
    )
    bays = [
        Remedy(f"section[{row.index}].length", row.length + more, f'"{name}" {row.length + more:g} mm long')
        for name, row in ground.rows.items()
        if row.kind == "lead_bay" and row.length is not None
        for more in (5.0, 10.0, 20.0)
    ]
    words = Remedy(None, None, f"a longer lead bay on the way of {route.wire.id}")
    return Finding(
        "error",
        "body-no-room",
        route.wire.id,
        message,
        {"wanted_length": wanted, "longest_run": longest, "diameter": body.diameter},
        candidates=(*bays, words),
    )
