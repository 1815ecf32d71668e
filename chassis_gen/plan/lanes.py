"""Lanes: a path for every wire through grooves, galleries and drops, on one grid of whole degrees of clock.

The stations of terminals, galleries and section joints cut the chassis into *stretches*. Within a stretch a
wire keeps its clock; at a gallery it may change it. As the stretches follow each other along the axis, the
shortest path is found exactly by carrying the cost of all 360 clocks from stretch to stretch.
Wires are laid thickest first; a wire that fails is moved to the front and all are laid again.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Lane, Leg, Route, Wire
from chassis_gen.plan.cross_section import (
    DEGREES,
    Clocks,
    Mask,
    innermost_lane_radius,
    interval_mask,
    windowed_max,
)
from chassis_gen.plan.model import (
    OVERLAP,
    Gallery,
    Obstacle,
    Outer,
    PlacedTerminal,
    SectionPlan,
    Sector,
)
from chassis_gen.plan.sums import on_grid
from chassis_gen.shapes.frame import Vec3, clocked, unit
from chassis_gen.shapes.primitives import Box, Cone, Cylinder, Primitive, TubeSegment
from chassis_gen.shapes.recipe import Step, cut


@dataclass(frozen=True)
class WiringRules:
    """How full and how large lanes are; figures come from `chassis_gen.tables.wire`.

    Args:
        open_fill: largest share of an open groove's cross-section that wire may fill.
        closed_fill: the same for a closed lane that wire is pulled through.
        closed_fill_silicone: the same for silicone wire where the closed lane is long.
        long_closed: length from which a closed lane counts as long, mm.
        least_closed: smallest diameter of a closed lane, mm.
        mouth: chamfer at a closed lane's mouths, mm.
        cover: depth of a groove beyond the wire's outside diameter where there is room, mm.
        end_allowance: wire added at each end for stripping and joining, mm.
        round_up: cut lengths are rounded up to a multiple of this, mm.
    """

    open_fill: float
    closed_fill: float
    closed_fill_silicone: float
    long_closed: float
    least_closed: float
    mouth: float
    cover: float
    end_allowance: float
    round_up: float


@dataclass(frozen=True)
class Ground:
    """What wires are laid over.

    Args:
        sections: in order of stations.
        outer: the chassis's outer surface.
        blocked: obstacles of the whole chassis (flat, tube openings) beside the sections' own.
        closed: names of sections whose lanes are closed tunnels.
        wall: material to leave, mm.
        rules: see `WiringRules`.
    """

    sections: tuple[SectionPlan, ...]
    outer: Outer
    blocked: tuple[Obstacle, ...]
    closed: frozenset[str]
    wall: float
    rules: WiringRules


@dataclass(frozen=True)
class Stretch:
    """A run of stations in one section between two breakpoints."""

    section: SectionPlan
    z0: float
    z1: float
    radius: float
    limit: Clocks
    gallery: Gallery | None

    @property
    def hollow(self) -> bool:
        """Return True where the section is open and nothing needs cutting."""
        return any(g.open_room for g in self.section.galleries)


@dataclass(frozen=True)
class Window:
    """The clocks that one wire takes in one stretch: whole degrees from `first` on, and the lane's depth, mm."""

    wire: str
    first: int
    count: int
    depth: float
    area: float


@dataclass(frozen=True)
class Laid:
    """A wire's path: clock per stretch, the stretches it passes, its terminals in order of stations."""

    wire: Wire
    stretches: tuple[int, ...]
    clocks: tuple[int, ...]
    low: PlacedTerminal
    high: PlacedTerminal


@dataclass(frozen=True)
class Wiring:
    """The result of routing."""

    routes: tuple[Route, ...]
    lanes: tuple[Lane, ...]
    steps: Mapping[str, tuple[Step, ...]]
    findings: tuple[Finding, ...]
    unrouted: tuple[Wire, ...] = field(default=())


def lay_wires(wires: Sequence[Wire], ground: Ground) -> Wiring:
    """Return a path for every wire, the lanes that carry them and the cuts that make them.

    Args:
        wires: all with known terminals.
        ground: the planned sections.
    """
    if not wires:
        return Wiring((), (), {}, ())
    terminals = {t.id: t for s in ground.sections for t in s.terminals}
    stretches = _stretches(ground, [terminals[t].position[2] for w in wires for t in (w.start, w.end)])
    order = sorted(wires, key=lambda w: (-w.outer_diameter, w.id))
    best: tuple[tuple[Laid, ...], dict[int, list[Window]], tuple[tuple[Wire, Finding], ...]] | None = None
    for _ in range(len(wires) + 1):
        attempt = _lay_in_order(order, stretches, terminals, ground, wires)
        if best is None or len(attempt[2]) < len(best[2]):
            best = attempt
        failed = [w for w, _ in attempt[2]]
        moved = failed + [w for w in order if w not in failed]
        if not failed or moved == order:
            break
        order = moved
    assert best is not None
    laid, windows, failures = best
    lanes = _lanes(stretches, windows, ground)
    return Wiring(
        tuple(sorted((_route(x, stretches, ground) for x in laid), key=lambda r: [w.id for w in wires].index(r.wire.id))),
        lanes,
        _cuts(laid, lanes, stretches, ground),
        tuple(f for _, f in failures),
        tuple(w for w, _ in failures),
    )


def _stretches(ground: Ground, stations: Sequence[float]) -> tuple[Stretch, ...]:
    """Return the stretches between all breakpoints, with the room for lanes in each."""
    found = []
    for s in ground.sections:
        marks = {s.z0, s.z1} | {z for z in stations if s.z0 < z < s.z1} | {g.z for g in s.galleries if s.z0 < g.z < s.z1}
        ordered = sorted(marks)
        for a, b in itertools.pairwise(ordered):
            limit = innermost_lane_radius((*s.obstacles, *ground.blocked), a, b, ground.wall)
            gallery = next((g for g in s.galleries if abs(g.z - b) < 1e-9), None)
            found.append(Stretch(s, a, b, ground.outer.smallest_radius(a, b), limit, gallery))
    return tuple(found)


def _lane_size(wire: Wire, stretch: Stretch, ground: Ground) -> tuple[float, float]:
    """Return the least depth and the width that a wire needs in a stretch, mm."""
    d, r = wire.outer_diameter, ground.rules
    if stretch.section.name in ground.closed and not stretch.hollow:
        fill = _closed_fill(wire, stretch, r)
        bore = max(r.least_closed, d / math.sqrt(fill))
        return bore + ground.wall, bore
    return d, max(d + 0.2, math.pi * d * d / 4 / (r.open_fill * d))


def _closed_fill(wire: Wire, stretch: Stretch, rules: WiringRules) -> float:
    long = stretch.section.z1 - stretch.section.z0 > rules.long_closed
    return rules.closed_fill_silicone if long and wire.insulation == "silicone" else rules.closed_fill


def _degrees(width: float, radius: float) -> int:
    return max(1, math.ceil(math.degrees(width / radius)))


def _free_centres(wire: Wire, stretch: Stretch, taken: Sequence[Window], ground: Ground) -> tuple[Mask, int]:
    """Return at which whole degrees a wire's window may begin, and how many degrees it spans."""
    depth, width = _lane_size(wire, stretch, ground)
    if stretch.hollow:
        count = _degrees(wire.outer_diameter, stretch.radius - wire.outer_diameter)
        wall = 0
    else:
        count = _degrees(width, stretch.radius - depth)
        wall = _degrees(ground.wall, stretch.radius - depth)
    room_ok = (stretch.radius - stretch.limit) >= depth - 1e-9
    guarded = room_ok & np.roll(room_ok, 1) & np.roll(room_ok, -1)
    ok = _runs(guarded, count)
    occupied = np.zeros(DEGREES, dtype=bool)
    for w in taken:
        occupied |= _window_mask(w)
    ok &= _runs(~occupied, count)
    if not stretch.hollow:
        ok &= _clear_or_adjacent(occupied, count, wall)
    return ok, count


def _runs(good: Mask, count: int) -> Mask:
    """Return at which degrees a run of `count` good degrees begins."""
    doubled = np.concatenate([good, good]).astype(int)
    total = np.concatenate([[0], np.cumsum(doubled)])
    return (total[count : count + DEGREES] - total[:DEGREES]) == count


def _clear_or_adjacent(occupied: Mask, count: int, wall: int) -> Mask:
    """Return where a window of `count` degrees touches a taken one or keeps a wall of `wall` degrees from it."""
    if not occupied.any():
        return np.ones(DEGREES, dtype=bool)
    after = _gap_to(occupied, count, wall)
    before = _gap_to(occupied[::-1], count, wall)[::-1]
    before = np.roll(before, -(count - 1))
    return after & before


def _gap_to(occupied: Mask, count: int, wall: int) -> Mask:
    """Return where the first `wall` degrees after a window are free, or the very next one is taken."""
    behind = np.roll(occupied, -count)
    return behind | _runs(~np.roll(occupied, -count), max(1, wall))


def _window_mask(w: Window) -> Mask:
    mask = np.zeros(DEGREES, dtype=bool)
    mask[(w.first + np.arange(w.count)) % DEGREES] = True
    return mask


def _lay_in_order(
    order: Sequence[Wire],
    stretches: Sequence[Stretch],
    terminals: Mapping[str, PlacedTerminal],
    ground: Ground,
    wires: Sequence[Wire],
) -> tuple[tuple[Laid, ...], dict[int, list[Window]], tuple[tuple[Wire, Finding], ...]]:
    """Return what one order of laying gives: paths, taken windows, failures."""
    laid: list[Laid] = []
    failures: list[tuple[Wire, Finding]] = []
    windows: dict[int, list[Window]] = {i: [] for i in range(len(stretches))}
    for wire in order:
        path = _shortest(wire, stretches, windows, terminals, ground, wires)
        if isinstance(path, Finding):
            failures.append((wire, path))
            continue
        laid.append(path)
        for k, first in zip(path.stretches, path.clocks, strict=True):
            _, count = _free_centres(wire, stretches[k], (), ground)
            depth, _ = _lane_size(wire, stretches[k], ground)
            windows[k].append(Window(wire.id, first, count, depth, math.pi * wire.outer_diameter**2 / 4))
    return tuple(laid), windows, tuple(failures)


def _drop_cost(t: PlacedTerminal, radius: float, count: int) -> Clocks:
    """Return the straight distance from a terminal to each window's middle at a radius, infinite where barred."""
    middle = np.radians(np.arange(DEGREES) + (count - 1) / 2)
    x, y = radius * np.cos(middle) - t.position[0], radius * np.sin(middle) - t.position[1]
    barred = np.ones(DEGREES, dtype=bool)
    centre = np.round(np.degrees(middle)).astype(int) % DEGREES
    for a, b in t.exits:
        barred &= ~interval_mask(a, b)[centre]
    cost: Clocks = np.hypot(x, y)
    cost[barred] = np.inf
    return cost


def _shortest(
    wire: Wire,
    stretches: Sequence[Stretch],
    windows: Mapping[int, Sequence[Window]],
    terminals: Mapping[str, PlacedTerminal],
    ground: Ground,
    wires: Sequence[Wire],
) -> Laid | Finding:
    """Return the shortest path of one wire past those already laid, or why there is none."""
    low, high = sorted((terminals[wire.start], terminals[wire.end]), key=lambda t: t.position[2])
    between = [
        k for k, s in enumerate(stretches) if s.z0 >= low.position[2] - 1e-9 and s.z1 <= high.position[2] + 1e-9
    ]
    if not between:
        between = [next(k for k, s in enumerate(stretches) if s.z1 >= low.position[2] - 1e-9)]
    cost: Clocks | None = None
    came: list[np.ndarray] = []
    for n, k in enumerate(between):
        stretch = stretches[k]
        free, count = _free_centres(wire, stretch, windows[k], ground)
        if wire.pinned_clock is not None:
            free &= np.arange(DEGREES) == round(wire.pinned_clock - (count - 1) / 2) % DEGREES
        if cost is None:
            cost = _drop_cost(low, stretch.radius, count)
        before = cost
        cost = np.where(free, cost + (stretch.z1 - stretch.z0), np.inf)
        if n + 1 == len(between):
            cost = cost + _drop_cost(high, stretch.radius, count)
        if not np.isfinite(cost).any():
            return _no_room(wire, stretch, before, free, windows[k], ground, wires)
        step = np.arange(DEGREES)
        if stretch.gallery is not None and n + 1 < len(between):
            cost, step = _round_the_axis(cost, stretch, stretches[between[n + 1]], _lane_size(wire, stretch, ground)[0])
        came.append(step)
    assert cost is not None
    clock = int(np.argmin(cost))
    clocks = [clock]
    for step in reversed(came[:-1]):
        clock = int(step[clock])
        clocks.append(clock)
    return Laid(wire, tuple(between), tuple(reversed(clocks)), low, high)


def _round_the_axis(cost: Clocks, stretch: Stretch, after: Stretch, depth: float) -> tuple[Clocks, np.ndarray]:
    """Return the cost at each clock when the wire may change its clock in a gallery, and where it came from.

    In a hollow section the wire goes anywhere; a gallery that is cut needs a lane's depth all along its arc.
    """
    assert stretch.gallery is not None
    degrees = np.arange(DEGREES)
    ahead = (degrees[:, None] - degrees[None, :]) % DEGREES
    turn = np.minimum(ahead, DEGREES - ahead)
    arc = np.radians(turn) * stretch.radius
    total = cost[None, :] + arc
    if not stretch.gallery.open_room:
        shut = np.maximum(stretch.limit, after.limit) > min(stretch.radius, after.radius) - depth
        count = np.concatenate([[0], np.cumsum(np.concatenate([shut, shut]))])
        low = np.where(ahead <= DEGREES - ahead, degrees[None, :], degrees[:, None])
        total = np.where(count[low + turn + 1] - count[low] == 0, total, np.inf)
    came = np.argmin(total, axis=1)
    return total[degrees, came], came


def _no_room(
    wire: Wire,
    stretch: Stretch,
    before: Clocks,
    free: Mask,
    taken: Sequence[Window],
    ground: Ground,
    wires: Sequence[Wire],
) -> Finding:
    """Return the finding for a wire that can't pass a stretch, with what it wants and what there is."""
    depth, width = _lane_size(wire, stretch, ground)
    room = stretch.radius - stretch.limit
    count = _degrees(width, stretch.radius - depth)
    deepest = float(np.max(-windowed_max(-np.where(np.isfinite(room), room, -1.0), count // 2)))
    index = [w.id for w in wires].index(wire.id)
    remedies = tuple(
        Remedy(f"wire[{index}].gauge_awg", g, f"use AWG {g} for {wire.id}")
        for g in range(wire.gauge_awg + 2, 31, 2)
    )
    if free.any() and np.isfinite(before).any():
        why = (
            f"{wire.id} ({wire.start} to {wire.end}) can't get from its clock to a free lane in"
            f' "{stretch.section.name}" without a gallery before it'
        )
    else:
        why = (
            f'"{stretch.section.name}" has no room for {wire.id} ({wire.start} to {wire.end}):'
            f" it wants {width:.2f} x {depth:.2f} mm, the deepest free place is {max(deepest, 0.0):.2f} mm"
        )
    return Finding(
        "error",
        "wire-unrouted",
        stretch.section.name,
        why,
        {
            "wanted_depth": depth,
            "wanted_width": width,
            "deepest_room": max(deepest, 0.0),
            "short_by": max(depth - max(deepest, 0.0), 0.0),
            "lanes_there": float(len(taken)),
        },
        candidates=remedies,
    )


def _lane_depth(stretch: Stretch, group: Sequence[Window], ground: Ground) -> float:
    """Return a lane's depth: what its thickest wire needs, and a cover where there is room, mm."""
    need = max(w.depth for w in group)
    if stretch.section.name in ground.closed:
        return need
    mask = np.zeros(DEGREES, dtype=bool)
    for w in group:
        mask |= _window_mask(replace(w, first=w.first - 1, count=w.count + 2))
    room = float(np.min((stretch.radius - stretch.limit)[mask]))
    return max(need, min(room, need + ground.rules.cover))


def _groups(windows: Sequence[Window], closed: bool) -> list[list[Window]]:
    """Return windows grouped into lanes: those that touch share an open lane, closed ones stay apart."""
    groups: list[list[Window]] = []
    for w in sorted(windows, key=lambda w: w.first):
        touching = groups and (groups[-1][-1].first + groups[-1][-1].count) % DEGREES == w.first % DEGREES
        if touching and not closed:
            groups[-1].append(w)
        else:
            groups.append([w])
    if len(groups) > 1 and not closed:
        last = groups[-1][-1]
        if (last.first + last.count) % DEGREES == groups[0][0].first % DEGREES:
            groups[0] = groups.pop() + groups[0]
    return groups


def _lanes(
    stretches: Sequence[Stretch], windows: Mapping[int, Sequence[Window]], ground: Ground
) -> tuple[Lane, ...]:
    """Return the lanes of every stretch that isn't hollow."""
    lanes: list[Lane] = []
    for k, stretch in enumerate(stretches):
        if stretch.hollow:
            continue
        closed = stretch.section.name in ground.closed
        for group in _groups(windows[k], closed):
            depth = _lane_depth(stretch, group, ground)
            first, count = group[0].first, sum(w.count for w in group)
            bottom = stretch.radius - depth
            width = math.radians(count) * bottom
            space = math.pi * (depth - ground.wall) ** 2 / 4 if closed else width * depth
            limit = ground.rules.closed_fill if closed else ground.rules.open_fill
            number = sum(1 for x in lanes if x.section == stretch.section.name) + 1
            lanes.append(
                Lane(
                    f"{stretch.section.name} lane {number}",
                    stretch.section.name,
                    float(first),
                    float(first + count),
                    stretch.z0,
                    stretch.z1,
                    on_grid(bottom),
                    ground.outer.largest_radius(stretch.z0, stretch.z1),
                    tuple(w.wire for w in group),
                    closed,
                    sum(w.area for w in group) / space,
                    limit,
                )
            )
    return tuple(lanes)


def lane_solid(lane: Lane, wall: float) -> tuple[Primitive, ...]:
    """Return the cutters of one lane, overshooting at its ends and through the outer surface.

    Args:
        lane: the lane.
        wall: material left over a closed lane, mm.
    """
    z0, z1 = lane.z0 - 2 * OVERLAP, lane.z1 + 2 * OVERLAP
    if not lane.closed:
        return (TubeSegment(lane.bottom_radius, lane.outer_radius + 1.0, z0, z1, lane.clock_from, lane.clock_to),)
    bore = lane.outer_radius - wall - lane.bottom_radius
    middle = (lane.clock_from + lane.clock_to) / 2
    c, s = unit(middle)
    r = lane.bottom_radius + bore / 2
    frame = replace(clocked(middle), origin=(r * c, r * s, 0.0))
    return (Cylinder(bore / 2, z0, z1, frame),)


def mouth_solids(lane: Lane, wall: float, mouth: float, near: bool, far: bool) -> tuple[Primitive, ...]:
    """Return the cones that break the edges of a closed lane's mouths.

    Args:
        lane: a closed lane.
        wall: material left over it, mm.
        mouth: chamfer, mm.
        near: True where its near end is a mouth.
        far: True where its far end is a mouth.
    """
    bar = lane_solid(lane, wall)[0]
    assert isinstance(bar, Cylinder)
    r = bar.radius
    cones = []
    if near:
        cones.append(Cone(r + mouth, r, lane.z0 - OVERLAP, lane.z0 + mouth, bar.frame))
    if far:
        cones.append(Cone(r, r + mouth, lane.z1 - mouth, lane.z1 + OVERLAP, bar.frame))
    return tuple(cones)


def _drop_solid(t: PlacedTerminal, clock: float, radius: float, size: float) -> Box:
    """Return the straight channel from a terminal out to the surface at a clock, square of a size, mm."""
    c, s = unit(clock)
    dx, dy = radius * c - t.position[0], radius * s - t.position[1]
    long = math.hypot(dx, dy)
    heading = math.degrees(math.atan2(dy, dx))
    frame = replace(clocked(heading), origin=(t.position[0], t.position[1], on_grid(t.position[2])))
    return Box((0.0, -size / 2, -size / 2), (long + 1.0, size / 2, size / 2), frame)


def _middle_clock(first: int, count: int) -> float:
    return (first + count / 2) % DEGREES


def _cuts(
    laid: Sequence[Laid], lanes: Sequence[Lane], stretches: Sequence[Stretch], ground: Ground
) -> dict[str, tuple[Step, ...]]:
    """Return the cutting steps by section: lanes, then drops."""
    steps: dict[str, tuple[Step, ...]] = {}

    def more(section: str, label: str, *solids: Primitive) -> None:
        steps[section] = steps.get(section, ()) + cut(label, *solids, must_touch=False)

    for lane in lanes:
        more(lane.section, f"wire lane {lane.id}", *lane_solid(lane, ground.wall))
    for x in laid:
        size = x.wire.outer_diameter + 0.4
        for t, k, first in ((x.low, x.stretches[0], x.clocks[0]), (x.high, x.stretches[-1], x.clocks[-1])):
            stretch = stretches[k]
            _, count = _free_centres(x.wire, stretch, (), ground)
            owner = next(s.name for s in ground.sections if any(q.id == t.id for q in s.terminals))
            clock = _middle_clock(first, count)
            more(owner, f"drop to {t.id}", _drop_solid(t, clock, stretch.radius, size))
        for section, solid in _galleries(x, stretches, ground):
            more(section, f"gallery for {x.wire.id}", solid)
    for lane in lanes:
        if lane.closed:
            section = next(s for s in ground.sections if s.name == lane.section)
            near, far = lane.z0 - section.z0 < 1e-9, section.z1 - lane.z1 < 1e-9
            more(lane.section, f"mouth of {lane.id}", *mouth_solids(lane, ground.wall, ground.rules.mouth, near, far))
    return steps


def _galleries(x: Laid, stretches: Sequence[Stretch], ground: Ground) -> list[tuple[str, TubeSegment]]:
    """Return the cross passages that have to be cut for one wire, with their sections."""
    found = []
    for n in range(len(x.stretches) - 1):
        here, after = stretches[x.stretches[n]], stretches[x.stretches[n + 1]]
        if here.gallery is None or here.gallery.open_room or x.clocks[n] == x.clocks[n + 1]:
            continue
        _, count = _free_centres(x.wire, here, (), ground)
        a, b = _middle_clock(x.clocks[n], count), _middle_clock(x.clocks[n + 1], count)
        ahead = (b - a) % 360
        low, span = (a, ahead) if ahead <= 180 else (b, 360 - ahead)
        depth = _lane_size(x.wire, here, ground)[0]
        half = (x.wire.outer_diameter + 0.4) / 2
        radius = min(here.radius, after.radius)
        found.append(
            (
                here.section.name,
                TubeSegment(
                    on_grid(radius - depth),
                    ground.outer.largest_radius(here.z0, after.z1) + 1.0,
                    on_grid(here.gallery.z - half),
                    on_grid(here.gallery.z + half),
                    low - 1.0,
                    low + span + 1.0,
                ),
            )
        )
    return found


def _route(x: Laid, stretches: Sequence[Stretch], ground: Ground) -> Route:
    """Return the legs of a laid wire from its start terminal to its end terminal."""
    legs: list[Leg] = []
    at: Vec3 = x.low.position
    section = stretches[x.stretches[0]].section.name

    def go(kind: str, where: str, to: Vec3, length: float | None = None) -> None:
        nonlocal at
        far = math.dist(at, to) if length is None else length
        if far > 1e-9:
            legs.append(Leg(kind, where, at, to, far))
        at = to

    for n, (k, first) in enumerate(zip(x.stretches, x.clocks, strict=True)):
        stretch = stretches[k]
        _, count = _free_centres(x.wire, stretch, (), ground)
        clock = _middle_clock(first, count)
        c, s = unit(clock)
        r = stretch.radius - x.wire.outer_diameter / 2
        here = (r * c, r * s, at[2])
        if n == 0:
            go("drop", section, here)
        else:
            round_arc = _turn(at, here) * r
            go("gallery" if round_arc > 0.6 else "lane", stretch.section.name, here, max(round_arc, math.dist(at, here)))
        go("lane", stretch.section.name, (r * c, r * s, min(stretch.z1, max(x.high.position[2], stretch.z0))))
    go("drop", stretches[x.stretches[-1]].section.name, x.high.position)
    if x.wire.start != x.low.id:
        legs = [Leg(g.kind, g.section, g.end, g.start, g.length) for g in reversed(legs)]
    length = sum(g.length for g in legs)
    wanted = length + 2 * ground.rules.end_allowance
    up = ground.rules.round_up
    return Route(x.wire, tuple(legs), length, math.ceil(wanted / up - 1e-9) * up)


def _turn(a: Vec3, b: Vec3) -> float:
    """Return the angle between two points about the axis, radians."""
    d = abs(math.atan2(a[1], a[0]) - math.atan2(b[1], b[0])) % (2 * math.pi)
    return min(d, 2 * math.pi - d)


def whole_chassis_obstacles(
    outer: Outer, openings: Sequence[tuple[float, float, float, float]], z0: float, z1: float
) -> tuple[Obstacle, ...]:
    """Return what bars lanes over the whole chassis: the printing flat and the tube's openings.

    Args:
        outer: the outer surface.
        openings: (station, clock, radius, surface radius) of each opening, mm and degrees.
        z0: near end of the chassis, mm.
        z1: far end, mm.
    """
    found = []
    if outer.flat_distance is not None:
        widest = max(s.radius for s in outer.steps)
        half = math.degrees(math.acos(min(1.0, outer.flat_distance / widest))) + 2.0
        found.append(Obstacle(Sector(outer.flat_clock - half, outer.flat_clock + half), z0, z1, "printing flat"))
    for station, clock, radius, surface in openings:
        half = math.degrees(math.asin(min(1.0, (radius + 1.0) / surface)))
        found.append(
            Obstacle(Sector(clock - half, clock + half), station - radius, station + radius, "tube opening")
        )
    return tuple(found)
