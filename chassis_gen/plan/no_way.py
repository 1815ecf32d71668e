"""Why a wire found no way: where, what it wants and what there is, and what would help."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.cross_section import DEGREES, Mask, innermost_lane_radius, interval_mask, windowed_max
from chassis_gen.plan.grid import Grid
from chassis_gen.plan.laying import Laid, Window, bend_room, is_tunnel, lane_size
from chassis_gen.plan.model import PlacedTerminal
from chassis_gen.plan.search import Blocked, Search, way_of
from chassis_gen.tables.wire import insulated_diameter, thinner_areas

LONGER = (5.0, 10.0, 20.0)
"""By how much a longer lead bay is proposed, mm (chosen)."""
THINNEST = "ptfe"
"""The insulation of least wall in the wire tables."""
MOST_RUNS = 4
"""How many clock intervals a message names (chosen)."""
OTHERS = 3
"""For how many of the wires that bar a way a thinner insulation is proposed (chosen)."""


def no_way(
    wire: Wire,
    blocked: Blocked,
    ends: tuple[PlacedTerminal, PlacedTerminal],
    grid: Grid,
    alone: Laid | Blocked,
) -> Finding:
    """Return the finding for a wire that can't be laid.

    Args:
        wire: the wire.
        blocked: where its straight way ends.
        ends: its terminals.
        grid: what is taken.
        alone: its path were no other wire there, or where even that ends.
    """
    stretch = grid.stretches[blocked.row]
    depth, width = lane_size(wire, stretch, grid.ground)
    half = int(grid.needs(wire).half[blocked.row])
    room = stretch.radius - stretch.limit
    usable = np.where(np.isfinite(room) & (grid.taken[blocked.row] == 0), room, 0.0)
    deepest = max(0.0, float(np.max(-windowed_max(-usable, half + 1))))
    numbers = {
        "wanted_depth": depth,
        "wanted_width": width,
        "wanted_area": depth * width,
        "deepest_room": deepest,
        "free_area": deepest * width,
        "short_by": max(depth - deepest, 0.0),
        "lanes_there": float(len(grid.windows[blocked.row])),
    }
    pinned = isinstance(alone, Blocked) and _pins_bar(wire, ends, grid)
    return Finding(
        "error",
        "wire-unrouted",
        stretch.section.name,
        _why(wire, blocked, ends, grid, alone, pinned, numbers),
        numbers,
        candidates=tuple(_remedies(wire, blocked, grid, alone, pinned)),
    )


def _why(
    wire: Wire,
    blocked: Blocked,
    ends: tuple[PlacedTerminal, PlacedTerminal],
    grid: Grid,
    alone: Laid | Blocked,
    pinned: bool,
    numbers: dict[str, float],
) -> str:
    path = f"{wire.id} ({wire.start} to {wire.end})"
    name = grid.stretches[blocked.row].section.name
    if pinned:
        return f"{path} can't pass {_pins(wire)}, to which it is pinned; it has a way without that"
    if blocked.at_start or blocked.at_end:
        shut = ends[0] if blocked.at_start else ends[1]
        if isinstance(alone, Laid):
            return f"{path} can't leave {shut.id}: the drops of other wires take all ways out of it"
        return f"{path} can't reach {shut.id}: no way leads from it to the outer surface"
    if not blocked.free.any():
        apart = _apart_only(wire, blocked, grid)
        if apart:
            return f'"{name}" has no room for {path} that is {apart:g} mm from wires of other classes'
        return (
            f'"{name}" has no room for {path}: it wants {numbers["wanted_width"]:.2f} x '
            f"{numbers['wanted_depth']:.2f} mm ({numbers['wanted_area']:.1f} mm2), the deepest free place of that "
            f"width is {numbers['deepest_room']:.2f} mm ({numbers['free_area']:.1f} mm2)"
        )
    galleries = _galleries_before(wire, blocked, ends, grid, alone)
    there = f'{path} comes to "{name}" at {_clocks(blocked.reached)}' if blocked.reached is not None else path
    if blocked.reached is not None and not (blocked.reached & blocked.free).any():
        barring = _barring(wire, blocked, grid)
        tight = (
            f"{there}; {_listed(barring)} {'bar' if len(barring) > 1 else 'bars'} it there"
            if barring
            else there
        )
        return f"{tight}; {galleries}"
    if blocked.reached is not None and ends[1].exits:
        out = np.any([interval_mask(a, b) for a, b in ends[1].exits], axis=0)
        return f"{there}, and {ends[1].id} is reached at {_clocks(out)}; {galleries}"
    return f'{path} can\'t get from its clock to a free lane in "{name}"; {galleries}'


def _listed(names: Sequence[str]) -> str:
    """Return names as "a, b and c"."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def _clocks(free: Mask | None) -> str:
    """Return clock intervals in words: those of a mask of whole degrees, at most `MOST_RUNS` of them."""
    if free is None or not free.any():
        return "no clock"
    if free.all():
        return "any clock"
    start = int(np.flatnonzero(~free)[0])
    turned = np.roll(free, -start)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]]).astype(np.int8)))
    pairs = list(zip(edges[::2], edges[1::2], strict=True))
    runs = [f"{(int(a) + start) % DEGREES} to {(int(b) - 1 + start) % DEGREES}" for a, b in pairs]
    return "clock " + ", ".join(runs[:MOST_RUNS]) + (" and others" if len(runs) > MOST_RUNS else "")


def _barring(wire: Wire, blocked: Blocked, grid: Grid) -> tuple[str, ...]:
    """Return what stands in a stretch where a wire comes to it: obstacles, and other wires."""
    assert blocked.reached is not None
    stretch = grid.stretches[blocked.row]
    half, depth = int(grid.needs(wire).half[blocked.row]), float(grid.needs(wire).depth[blocked.row])
    wide = windowed_max(blocked.reached.astype(float), half) > 0
    names = [
        f"its {o.what}" if o in stretch.section.obstacles else f"the {o.what}"
        for o in (*stretch.section.obstacles, *grid.ground.blocked)
        if innermost_lane_radius([o], stretch.z0, stretch.z1, grid.ground.wall)[wide].max()
        > stretch.radius - depth
    ]
    others = sorted({w.wire for w in grid.windows[blocked.row] if w.wire != wire.id and _lies(w, wide)})
    return tuple(dict.fromkeys((*names, *others)))


def _lies(window: Window, wide: Mask) -> bool:
    return bool(wide[(window.first + np.arange(window.count)) % DEGREES].any())


def _galleries_before(
    wire: Wire,
    blocked: Blocked,
    ends: tuple[PlacedTerminal, PlacedTerminal],
    grid: Grid,
    alone: Laid | Blocked,
) -> str:
    """Return in words whether a wire may change its clock before it comes to where it is barred."""
    first = min(ends, key=lambda t: t.position[2])
    low = first.position[2]
    before = [s for s in grid.stretches[: blocked.row] if s.gallery is not None and s.z1 > low + 1e-9]
    if not before:
        return f"between {first.id} and there it passes no gallery to change its clock in"
    bends = grid.ground.rules.bend
    widest = max(s.gallery.width for s in before if s.gallery is not None)
    if bends and isinstance(alone, Blocked):
        need = bend_room(2 * bends * wire.outer_diameter, bends * wire.outer_diameter)
        if widest < need:
            return f"a turn of any arc takes {need:.1f} mm along the axis, the widest gallery before it has {widest:.1f}"
    return "the galleries before it lead to no other clock"


def _apart_only(wire: Wire, blocked: Blocked, grid: Grid) -> float:
    """Return the distance of classes where nothing but it bars a wire in a row, else 0, mm."""
    if wire.keep_apart is None or not grid.ground.rules.keep_apart:
        return 0.0
    any_class = replace(wire, keep_apart=None)
    free = grid.free(any_class, blocked.row, blocked.row + 1)
    return grid.ground.rules.keep_apart if free.any() else 0.0


def _pins_bar(wire: Wire, ends: tuple[PlacedTerminal, PlacedTerminal], grid: Grid) -> bool:
    """Return whether a wire that alone has no way would have one were it pinned to nothing."""
    if wire.pinned_clock is None and not wire.via:
        return False
    stations = np.array([grid.stretches[0].z0, *(s.z1 for s in grid.stretches)])
    low, high = (int(np.argmin(np.abs(stations - t.position[2]))) for t in ends)
    free = replace(wire, pinned_clock=None, via=())
    return isinstance(way_of(Search(grid, free, alone=True), *ends, (low, high)), Laid)


def _pins(wire: Wire) -> str:
    """Return in words what a wire is pinned to."""
    pins = [] if wire.pinned_clock is None else [f"its clock_deg {wire.pinned_clock:g}"]
    pins += [
        f'"{v.section}"' + ("" if v.clock is None else f" at clock {v.clock:g}") + " (via)" for v in wire.via
    ]
    return _listed(pins)


def _unpinned(wire: Wire, blocked: Blocked, grid: Grid) -> Iterator[Remedy]:
    """Yield other clocks to pin a wire to, fewer pins and none."""
    if not wire.key:
        return
    if wire.pinned_clock is not None:
        for clock in _free_clocks(wire, blocked, grid):
            yield Remedy(f"{wire.key}.clock_deg", float(clock), f"{wire.id} at clock {clock}")
        yield Remedy(f"{wire.key}.clock_deg", None, f"no clock_deg for {wire.id}: it finds its own lanes")
    if wire.via:
        if any(v.clock is not None for v in wire.via):
            bare = [{"section": v.section} for v in wire.via]
            yield Remedy(f"{wire.key}.via", bare, f"no clocks in the via of {wire.id}")
        yield Remedy(f"{wire.key}.via", [], f"no via for {wire.id}: it finds its own lanes")


def _remedies(
    wire: Wire, blocked: Blocked, grid: Grid, alone: Laid | Blocked, pinned: bool
) -> Iterator[Remedy]:
    """Yield what might help, the likeliest first: each is tried by planning the build with it."""
    section = grid.stretches[blocked.row].section
    row = grid.ground.rows.get(section.name)
    if pinned:
        yield from _unpinned(wire, blocked, grid)
    if row is not None and is_tunnel(section, grid.ground):
        text = f'open lanes in "{section.name}"'
        yield Remedy(f"section[{row.index}].lanes", "open", text)
    # where the wire alone has no way, what bars it is material
    if isinstance(alone, Blocked):
        yield from _roomier(blocked, grid)
    yield from thinner(wire)
    yield from thin_insulation(wire)
    if wire.keep_apart is not None and grid.ground.rules.keep_apart > 1.0:
        yield Remedy("wiring.keep_apart", 1.0, "classes of wire 1 mm apart")
    if isinstance(alone, Laid):
        yield from _roomier(blocked, grid)
    yield from longer_bays(section.name, grid)
    # what bars it may be thinner too
    there = (grid.wires[w.wire] for w in grid.windows[blocked.row] if w.wire in grid.wires)
    thickest = sorted((w for w in there if w.id != wire.id), key=lambda w: (-w.outer_diameter, w.id))
    for other in dict.fromkeys(thickest[:OTHERS]):
        yield from thin_insulation(other)
    if pinned:
        words = f"{wire.id} without {_pins(wire)}, and more room where it then has none"
    elif isinstance(alone, Blocked):
        words = (
            f'a larger bore, or other sections about "{section.name}": even alone the wire has no way, and no '
            "single key that was tried helps"
        )
    else:
        words = (
            f'fewer or thinner wires through "{section.name}", or more than one of: longer bays, other lanes'
        )
    yield Remedy(None, None, words)


def _roomier(blocked: Blocked, grid: Grid) -> Iterator[Remedy]:
    """Yield what would leave more room where a wire is barred and beside it, as the sections there offer it."""
    order = list(dict.fromkeys(s.section.name for s in grid.stretches))
    at = order.index(grid.stretches[blocked.row].section.name)
    for name in dict.fromkeys((order[at], *order[max(at - 1, 0) : at + 2])):
        row = grid.ground.rows.get(name)
        yield from row.roomier if row is not None else ()
    if any(not s.bearing for s in grid.ground.outer.steps):
        yield Remedy("bearing.relief", 0.0, "no relief between the bearing bands")


def thin_insulation(wire: Wire) -> Iterator[Remedy]:
    """Yield the thinnest insulation that is tabled for a wire's gauge, where it has a thicker one.

    Args:
        wire: the wire.
    """
    if not wire.key or wire.area_mm2 is not None or wire.insulation == THINNEST:
        return
    if insulated_diameter(wire.gauge_awg, THINNEST) < wire.outer_diameter - 1e-9:
        yield Remedy(f"{wire.key}.insulation", THINNEST, f"{THINNEST} insulation for {wire.id}")


def thinner(wire: Wire) -> Iterator[Remedy]:
    """Yield remedies that make a wire thinner, over its insulation too.

    Args:
        wire: the wire.
    """
    if not wire.key:
        return
    if wire.area_mm2 is not None:
        for area in thinner_areas(wire.area_mm2, wire.insulation):
            yield Remedy(f"{wire.key}.area_mm2", area, f"use {area:g} mm2 for {wire.id}")
        return
    for gauge in range(wire.gauge_awg + 2 - wire.gauge_awg % 2, 33, 2):
        if insulated_diameter(gauge, wire.insulation) < wire.outer_diameter + 1e-9:
            yield Remedy(f"{wire.key}.gauge_awg", gauge, f"use AWG {gauge} for {wire.id}")


def _free_clocks(wire: Wire, blocked: Blocked, grid: Grid) -> Sequence[int]:
    """Return a few clocks, spread evenly, at which the wire's window may lie in every stretch up to the block."""
    free = grid.free(replace(wire, pinned_clock=None), blocked.row, blocked.row + 1)[0]
    clocks = np.flatnonzero(free)
    return tuple(int(c) for c in clocks[:: max(1, len(clocks) // 4)][:4])


def longer_bays(section: str, grid: Grid) -> Iterator[Remedy]:
    """Yield longer lead bays of given length, those next to a section first: wires turn in their galleries.

    Args:
        section: its name.
        grid: what is taken.
    """
    order = list(dict.fromkeys(s.section.name for s in grid.stretches))
    at = order.index(section)
    near = sorted(
        (n for n in grid.ground.rows if n in order), key=lambda n: (abs(order.index(n) - at), order.index(n))
    )
    for name in near:
        row = grid.ground.rows[name]
        if row.kind == "lead_bay" and row.length is not None:
            for more in LONGER:
                long = row.length + more
                yield Remedy(f"section[{row.index}].length", long, f'"{name}" {long:g} mm long')
