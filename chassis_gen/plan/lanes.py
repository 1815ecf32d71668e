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
from dataclasses import replace

import numpy as np

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Lane, Wire
from chassis_gen.plan.cross_section import (
    DEGREES,
    Clocks,
    Degrees,
    Mask,
    innermost_lane_radius,
    interval_mask,
    windowed_max,
)
from chassis_gen.plan.lane_cuts import lane_cuts
from chassis_gen.plan.laying import (
    Ground,
    Laid,
    Stretch,
    Window,
    Wiring,
    closed_fill_of,
    degrees_of,
    half_window,
    is_tunnel,
    lane_size,
    turn_width,
)
from chassis_gen.plan.model import Obstacle, Outer, PlacedTerminal, Sector
from chassis_gen.plan.routes import route_of
from chassis_gen.plan.sums import GRID, on_grid

_DEAR = 1e7
"""More than any path costs, mm."""
TURN_COST = 10.0
"""What changing the clock counts beside its arc, mm: a wire doesn't turn for a degree or two (chosen)."""
GRID_ROUNDING = 2 * GRID
"""A room may be short of a depth by the grid's rounding of the radii that it lies between, mm."""


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
        tuple(route_of(x, stretches, ground) for x in sorted(laid, key=lambda x: wires.index(x.wire))),
        lanes,
        lane_cuts(laid, lanes, stretches, ground),
        tuple(f for _, f in failures),
        tuple(w for w, _ in failures),
    )


def _stretches(ground: Ground, stations: Sequence[float]) -> tuple[Stretch, ...]:
    """Return the stretches between all breakpoints, with the room for lanes in each."""
    found = []
    for s in ground.sections:
        marks = (
            {s.z0, s.z1}
            | {z for z in stations if s.z0 < z < s.z1}
            | {g.z for g in s.galleries if s.z0 < g.z < s.z1}
        )
        ordered = sorted(marks)
        obstacles = (*s.obstacles, *ground.blocked)
        for a, b in itertools.pairwise(ordered):
            limit = innermost_lane_radius(obstacles, a, b, ground.wall)
            gallery = next((g for g in s.galleries if abs(g.z - b) < 1e-9), None)
            half = max(gallery.width / 2 - ground.wall, 0.0) if gallery else 0.0
            turn_limit = innermost_lane_radius(obstacles, b - half, b + half, ground.wall)
            radius = ground.outer.smallest_radius(a, b)
            found.append(Stretch(s, a, b, radius, limit, gallery, turn_limit))
    return tuple(found)


def _free_middles(wire: Wire, stretch: Stretch, taken: Sequence[Window], ground: Ground) -> Mask:
    """Return at which whole degrees the middle of a wire's window may lie."""
    depth, _ = lane_size(wire, stretch, ground)
    half = half_window(wire, stretch, ground)
    count = 2 * half + 1
    ok = _runs(_deep(stretch.limit, stretch.radius, depth), count)
    occupied = _occupied(taken)
    ok &= _runs(~occupied, count)
    if taken and not stretch.hollow:
        shared = max(depth, *(w.depth for w in taken))
        wall = degrees_of(ground.wall, stretch.radius - shared - ground.rules.cover)
        joins = _runs(_deep(stretch.limit, stretch.radius, shared), count)
        joinable = _joinable(taken, stretch, shared, is_tunnel(stretch.section, ground))
        ok &= _clear(occupied, count, wall) | (joins & _clear_or_adjacent(occupied, joinable, count, wall))
    return np.roll(ok, half)


def _deep(limit: Clocks, radius: float, depth: float) -> Mask:
    """Return at which degrees, and one to each side of them, there is room for a depth, mm."""
    room = radius - limit >= depth - GRID_ROUNDING
    return room & np.roll(room, 1) & np.roll(room, -1)


def _occupied(taken: Sequence[Window]) -> Mask:
    mask = np.zeros(DEGREES, dtype=bool)
    for w in taken:
        mask |= _window_mask(w)
    return mask


def _joinable(taken: Sequence[Window], stretch: Stretch, depth: float, closed: bool) -> Mask:
    """Return the degrees of lanes that another wire may share: open ones that may be cut to a depth, mm."""
    mask = np.zeros(DEGREES, dtype=bool)
    deep = _deep(stretch.limit, stretch.radius, depth)
    for group in _groups(taken, closed):
        own = _occupied(group)
        if not closed and bool(deep[own].all()):
            mask |= own
    return mask


def _runs(good: Mask, count: int) -> Mask:
    """Return at which degrees a run of `count` good degrees begins."""
    doubled = np.concatenate([good, good]).astype(int)
    total = np.concatenate([[0], np.cumsum(doubled)])
    whole: Mask = (total[count : count + DEGREES] - total[:DEGREES]) == count
    return whole


def _clear(occupied: Mask, count: int, wall: int) -> Mask:
    """Return where a window of `count` degrees keeps a wall of `wall` degrees from all taken ones."""
    return np.roll(_runs(~occupied, count + 2 * wall), wall)


def _clear_or_adjacent(occupied: Mask, joinable: Mask, count: int, wall: int) -> Mask:
    """Return where a window keeps the wall, or touches a taken one that it may join, on each of its sides."""
    after = _gap_to(occupied, joinable, count, wall)
    before = _gap_to(occupied[::-1], joinable[::-1], count, wall)[::-1]
    return after & np.roll(before, -(count - 1))


def _gap_to(occupied: Mask, joinable: Mask, count: int, wall: int) -> Mask:
    """Return where the `wall` degrees after a window are free, or the very next one is of a lane to join."""
    return np.roll(joinable, -count) | _runs(~np.roll(occupied, -count), wall)


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
    turning: dict[int, list[float]] = {i: [] for i in range(len(stretches))}
    for wire in order:
        path = _shortest(wire, stretches, windows, turning, terminals, ground, wires)
        if isinstance(path, Finding):
            failures.append((wire, path))
            continue
        laid.append(path)
        for k, middle in zip(path.stretches, path.clocks, strict=True):
            depth, _ = lane_size(wire, stretches[k], ground)
            half = half_window(wire, stretches[k], ground)
            area, limit = math.pi * wire.outer_diameter**2 / 4, _fill_limit(wire, stretches[k], ground)
            windows[k].append(Window(wire.id, middle, half, depth, area, limit, path.along))
        for k in path.turns:
            turning[k].append(wire.outer_diameter)
    return tuple(laid), windows, tuple(failures)


def _fill_limit(wire: Wire, stretch: Stretch, ground: Ground) -> float:
    if is_tunnel(stretch.section, ground):
        return closed_fill_of(wire, stretch, ground)
    return ground.rules.open_fill


def _drop_cost(t: PlacedTerminal, radius: float) -> Clocks:
    """Return the straight distance from a terminal to each clock at a radius, infinite where barred, mm."""
    a = np.radians(np.arange(DEGREES))
    x, y = radius * np.cos(a) - t.position[0], radius * np.sin(a) - t.position[1]
    barred = np.ones(DEGREES, dtype=bool)
    for low, high in t.exits:
        barred &= ~interval_mask(low, high)
    cost: Clocks = np.hypot(x, y)
    cost[barred] = np.inf
    return cost


def _shortest(
    wire: Wire,
    stretches: Sequence[Stretch],
    windows: Mapping[int, Sequence[Window]],
    turning: Mapping[int, Sequence[float]],
    terminals: Mapping[str, PlacedTerminal],
    ground: Ground,
    wires: Sequence[Wire],
) -> Laid | Finding:
    """Return the shortest path of one wire past those already laid, or why there is none."""
    low, high = sorted((terminals[wire.start], terminals[wire.end]), key=lambda t: t.position[2])
    between = [
        k
        for k, s in enumerate(stretches)
        if s.z0 >= low.position[2] - 1e-9 and s.z1 <= high.position[2] + 1e-9
    ]
    if not between:
        between = [
            next((k for k, s in enumerate(stretches) if s.z1 >= low.position[2] - 1e-9), len(stretches) - 1)
        ]
    cost: Clocks | None = None
    came: list[Degrees] = []
    for n, k in enumerate(between):
        stretch = stretches[k]
        free = _free_middles(wire, stretch, windows[k], ground)
        if wire.pinned_clock is not None:
            free &= np.arange(DEGREES) == round(wire.pinned_clock) % DEGREES
        if cost is None:
            cost = _drop_cost(low, stretch.radius)
        cost = np.where(free, cost + (stretch.z1 - stretch.z0), np.inf)
        if n + 1 == len(between):
            cost = cost + _drop_cost(high, stretch.radius)
        if not np.isfinite(cost).any():
            ends = (low if n == 0 else None, high if n + 1 == len(between) else None)
            return _no_room(wire, stretch, free, windows[k], ends, ground, wires)
        step: Degrees = np.arange(DEGREES)
        if n + 1 < len(between) and _may_turn(wire, stretch, turning[k], ground):
            cost, step = _round_the_axis(
                cost, stretch, stretches[between[n + 1]], lane_size(wire, stretch, ground)[0]
            )
        came.append(step)
    assert cost is not None
    clock = int(np.argmin(cost))
    clocks = [clock]
    for step in reversed(came[:-1]):
        clock = int(step[clock])
        clocks.append(clock)
    return Laid(wire, tuple(between), tuple(reversed(clocks)), low, high)


def _may_turn(wire: Wire, stretch: Stretch, turning: Sequence[float], ground: Ground) -> bool:
    """Return True where a stretch ends in a gallery with room along the axis for one more wire."""
    gallery = stretch.gallery
    if gallery is None:
        return False
    wanted = turn_width((*turning, wire.outer_diameter), not gallery.open_room, ground.wall)
    return wanted <= gallery.width + 1e-9


def _round_the_axis(cost: Clocks, stretch: Stretch, after: Stretch, depth: float) -> tuple[Clocks, Degrees]:
    """Return the cost at each clock when the wire may change its clock in a gallery, and where it came from.

    Turning costs its arc and `TURN_COST`; staying costs nothing. In a hollow section the wire goes anywhere; a
    gallery that is cut needs a lane's depth all along its arc.
    """
    assert stretch.gallery is not None
    step = math.radians(1.0) * stretch.radius
    shut = np.zeros(DEGREES, dtype=bool)
    if not stretch.gallery.open_room:
        shut = ~_deep(stretch.turn_limit, min(stretch.radius, after.radius), depth)
    degrees: Degrees = np.arange(DEGREES)
    up, up_from = _carried(cost, step, shut)
    down, mirrored = (x[::-1] for x in _carried(cost[::-1], step, shut[::-1]))
    down_from = DEGREES - 1 - mirrored
    # passages are cut along the shorter arc, so a way round by the longer one is none
    up = np.where((degrees - up_from) % DEGREES <= DEGREES // 2, up, np.inf)
    down = np.where((down_from - degrees) % DEGREES < DEGREES // 2, down, np.inf)
    total, came = np.minimum(up, down) + TURN_COST, np.where(up <= down, up_from, down_from)
    return np.minimum(total, cost), np.where(cost <= total, degrees, came)


def _carried(cost: Clocks, step: float, shut: Mask) -> tuple[Clocks, Degrees]:
    """Return the least cost at each degree of coming from a lower one, never across a shut one.

    Args:
        cost: at each degree.
        step: cost of one degree.
        shut: degrees that can't be crossed.
    """
    index = np.arange(2 * DEGREES)
    twice, own = np.concatenate([cost, cost]), np.concatenate([shut, shut])
    run = np.cumsum(own)
    # a degree of a later run always counts as cheaper, so that none looks back across a shut one
    level = np.where(own, np.inf, twice) - step * index - _DEAR * run
    origin = np.maximum.accumulate(np.where(level <= np.minimum.accumulate(level), index, 0))
    stays = own | (run[origin] != run)
    origin = np.where(stays, index, origin)
    total = twice[origin] + step * (index - origin)
    half = slice(DEGREES, None)
    return total[half], origin[half] % DEGREES


def _no_room(
    wire: Wire,
    stretch: Stretch,
    free: Mask,
    taken: Sequence[Window],
    ends: tuple[PlacedTerminal | None, PlacedTerminal | None],
    ground: Ground,
    wires: Sequence[Wire],
) -> Finding:
    """Return the finding for a wire that can't pass a stretch, with what it wants and what there is."""
    depth, width = lane_size(wire, stretch, ground)
    room = stretch.radius - stretch.limit
    half = half_window(wire, stretch, ground)
    usable = np.where(np.isfinite(room) & ~_occupied(taken), room, 0.0)
    deepest = max(0.0, float(np.max(-windowed_max(-usable, half + 1))))
    thinner = range(wire.gauge_awg + 2, 33, 2)
    index = wires.index(wire)
    name, path = stretch.section.name, f"{wire.id} ({wire.start} to {wire.end})"
    shut = next(
        (t for t in ends if t is not None and not np.isfinite(_drop_cost(t, stretch.radius)).any()), None
    )
    if shut is not None:
        why = f"{path} can't reach {shut.id}: no way leads from it to the outer surface"
    elif not free.any():
        why = (
            f'"{name}" has no room for {path}: it wants {width:.2f} x {depth:.2f} mm,'
            f" the deepest free place of that width is {deepest:.2f} mm"
        )
    else:
        why = f'{path} can\'t get from its clock to a free lane in "{name}": no gallery on its path allows it'
    return Finding(
        "error",
        "wire-unrouted",
        name,
        why,
        {
            "wanted_depth": depth,
            "wanted_width": width,
            "deepest_room": deepest,
            "short_by": max(depth - deepest, 0.0),
            "lanes_there": float(len(taken)),
        },
        candidates=tuple(
            Remedy(f"wire[{index}].gauge_awg", g, f"use AWG {g} for {wire.id}") for g in thinner
        ),
    )


def _lane_depth(stretch: Stretch, group: Sequence[Window], ground: Ground) -> float:
    """Return a lane's depth: what its thickest wire needs, and a cover where there is room, mm."""
    need = max(w.depth for w in group)
    if is_tunnel(stretch.section, ground):
        return need
    mask = np.zeros(DEGREES, dtype=bool)
    for w in group:
        mask |= _window_mask(replace(w, half=w.half + 1))
    room = float(np.min((stretch.radius - stretch.limit)[mask]))
    return max(need, min(room, need + ground.rules.cover))


def _groups(windows: Sequence[Window], closed: bool) -> list[list[Window]]:
    """Return windows grouped into lanes: those that touch share an open lane, closed ones stay apart."""
    groups: list[list[Window]] = []
    for w in sorted(windows, key=lambda w: w.first % DEGREES):
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
        closed = is_tunnel(stretch.section, ground)
        for group in _groups([w for w in windows[k] if w.along], closed):
            depth = _lane_depth(stretch, group, ground)
            first, count = group[0].first, sum(w.count for w in group)
            bottom = stretch.radius - depth
            width = math.radians(count) * bottom
            space = math.pi * (depth - ground.wall) ** 2 / 4 if closed else width * depth
            number = sum(1 for x in lanes if x.section == stretch.section.name) + 1
            lanes.append(
                Lane(
                    f"{stretch.section.name} lane {number}",
                    stretch.section.name,
                    first - 0.5,
                    first + count - 0.5,
                    stretch.z0,
                    stretch.z1,
                    on_grid(bottom),
                    stretch.radius if closed else ground.outer.largest_radius(stretch.z0, stretch.z1),
                    tuple(w.wire for w in group),
                    closed,
                    sum(w.area for w in group) / space,
                    min(w.fill_limit for w in group),
                )
            )
    return tuple(lanes)


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
        found.append(
            Obstacle(Sector(outer.flat_clock - half, outer.flat_clock + half), z0, z1, "printing flat")
        )
    for station, clock, radius, surface in openings:
        half = math.degrees(math.asin(min(1.0, (radius + 1.0) / surface)))
        found.append(
            Obstacle(Sector(clock - half, clock + half), station - radius, station + radius, "tube opening")
        )
    return tuple(found)
