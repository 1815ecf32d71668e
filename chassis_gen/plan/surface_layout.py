"""How a pattern's cells are laid out on one section: rows and grooves where the room for them is, the rest left out."""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.params.surfaces import SurfaceTable
from chassis_gen.plan.model import Outer, OuterStep, SectionPlan
from chassis_gen.plan.outer_room import BEHIND, LAYER, OuterRoom
from chassis_gen.plan.sums import on_grid
from chassis_gen.sections.base import Rules
from chassis_gen.sections.features.surface_cells import (
    OFF_FACETS_DEG,
    Cell,
    flute,
    groove,
    pit,
    pocket,
    reaches_too_far,
)
from chassis_gen.shapes.frame import Frame, clocked
from chassis_gen.shapes.primitives import Outline, Pattern
from chassis_gen.shapes.recipe import Step, cut

INTO_ROOM = 0.5
"""How far a window's cutter reaches beyond the wall, mm (chosen)."""
LEAST_RUN = 2.0
"""A groove shorter than this many of its widths is left out (chosen)."""


class Asked(Struct, frozen=True):
    """One pattern with all its figures, mm; an outline's pieces as they are cut, its thinnest stroke and gap."""

    index: int
    table: SurfaceTable
    pitch: float
    width: float
    depth: float
    length: float
    pieces: tuple[tuple[Outline, tuple[Outline, ...]], ...] = ()
    stroke: float = math.inf
    gap: float = math.inf

    @property
    def row_pitch(self) -> float:
        """Return the distance of rows of single cells along the axis, mm; 0 for one row."""
        match self.table.pattern:
            case "knurl":
                return self.pitch / 2
            case "hexagons":
                return self.pitch * math.sqrt(3.0) / 2
            case "slots":
                return self.length + self.pitch - self.width
            case _ if self.pieces and self.pitch:
                high = max(v for o, _ in self.pieces for _, v in o) - min(
                    v for o, _ in self.pieces for _, v in o
                )
                return high + self.pitch - self.width
            case _:
                return 0.0

    @property
    def label(self) -> str:
        """Return what its steps are called."""
        return f"{self.table.pattern} of {self.table.name}"


class _Placed(Struct, frozen=True):
    """Equal cells and where they stand."""

    cell: Cell
    frames: tuple[Frame, ...]


class Tally(Struct):
    """How many cells were kept and left out, and the largest depth that a cell left out would have had, mm.

    Of windows also the thickest wall that they go through, and the pitch that leaves struts where theirs doesn't, mm.
    """

    kept: int = 0
    left_out: int = 0
    best: float = 0.0
    wall: float = 0.0
    pitch: float = 0.0

    def keep(self, free: float, depth: float) -> bool:
        """Count a cell; return whether it is kept."""
        if free >= depth - 1e-9:
            self.kept += 1
            return True
        self.left_out += 1
        self.best = max(self.best, free)
        return False


def pattern_cuts(
    asked: Asked, section: SectionPlan, room: OuterRoom, outer: Outer, rules: Rules
) -> tuple[tuple[Step, ...], Tally]:
    """Return the cuts of one pattern on one section, and how many cells it has.

    Args:
        asked: the pattern.
        section: where it is cut.
        room: depth that is free there, or the walls that windows may go through.
        outer: the chassis's outer surface.
        rules: limits of printing.
    """
    tally = Tally()
    placed: list[_Placed] = []
    clocks = asked.table.clocks_deg
    for step in outer.over(section.z0, section.z1):
        low, high = step.z0 + rules.least_wall, step.z1 - rules.least_wall
        if asked.table.stations is not None:
            low, high = max(low, asked.table.stations[0]), min(high, asked.table.stations[1])
        if step.bearing or high <= low:
            continue
        area = _Area(replace(step, z0=low, z1=high), clocks)
        match asked.table.pattern:
            case "flutes":
                placed += _flutes(asked, area, room, tally)
            case "ribs":
                placed += _grooves(asked, area, room, tally)
            case _ if asked.table.through:
                placed += _windows(asked, area, room, tally, rules.least_wall)
            case _:
                placed += _cells(asked, area, room, tally)
    # a pattern's copies are one cut: a batch of hundreds of single steps would each be looked after on its own
    solids = (Pattern(solid, p.frames) for p in placed for solid in p.cell.solids)
    return cut(asked.label, *solids, surface=True), tally


class _Area(Struct, frozen=True):
    """One stretch of plain surface, and the clock interval that is wanted of it (degrees), or None for all."""

    step: OuterStep
    clocks: tuple[float, float] | None

    @property
    def radius(self) -> float:
        """Return the surface's radius, mm."""
        return self.step.radius

    @property
    def middle_clock(self) -> float:
        """Return the clock about which cells are laid out, degrees."""
        return 90.0 if self.clocks is None else self.clocks[0] + self.span / 2

    @property
    def span(self) -> float:
        """Return the clock interval's width, degrees."""
        return 360.0 if self.clocks is None else (self.clocks[1] - self.clocks[0]) % 360.0 or 360.0

    def stations(self, half: float, pitch: float) -> tuple[float, ...]:
        """Return the middles of rows a pitch apart, centred; one row where the pitch is 0."""
        return _centred((self.step.z0 + self.step.z1) / 2, self.step.z1 - self.step.z0, half, pitch)

    def clock_row(self, half: float, pitch: float, shifted: bool) -> tuple[float, ...]:
        """Return the clocks of cells a pitch apart, mm, all round or centred in the interval."""
        if self.span >= 360.0 and pitch > 0.0:
            count = max(1, math.floor(2 * math.pi * self.radius / pitch))
            return tuple(
                self.middle_clock + (k + (0.5 if shifted else 0.0)) * 360.0 / count for k in range(count)
            )
        turn = math.degrees(pitch / self.radius)
        row = _centred(self.middle_clock, self.span, half, turn)
        if not shifted or turn == 0.0:
            return row
        return tuple(
            c
            for c in (row[0] - turn / 2, *(c + turn / 2 for c in row))
            if abs(c - self.middle_clock) + half <= self.span / 2 + 1e-9
        )


def _centred(middle: float, length: float, half: float, pitch: float) -> tuple[float, ...]:
    """Return places a pitch apart about a middle whose cells lie within a length; one place for a pitch of 0."""
    if 2 * half > length + 1e-9:
        return ()
    count = 1 if pitch <= 0.0 else math.floor((length - 2 * half) / pitch + 1e-9) + 1
    return tuple(middle + (k - (count - 1) / 2) * pitch for k in range(count))


def _cells(asked: Asked, area: _Area, room: OuterRoom, tally: Tally) -> Iterator[_Placed]:
    """Yield the cells of a pattern of single cells, every other row moved by half of a pitch."""
    knurl = asked.table.pattern == "knurl"
    cell = (
        pit(area.radius, asked.width, asked.depth)
        if knurl
        else pocket(area.radius, asked.depth, asked.pieces)
    )
    staggered = asked.table.pattern != "outline"
    frames = []
    for k, z in enumerate(area.stations(cell.half_length, asked.row_pitch)):
        station = on_grid(z)
        for clock in area.clock_row(cell.half_clock, asked.pitch, staggered and k % 2 == 1):
            free = room.free(
                station - cell.half_length,
                station + cell.half_length,
                clock - cell.half_clock,
                clock + cell.half_clock,
            )
            if tally.keep(free, asked.depth):
                frames.append(cell.frame(clock, station))
    if frames:
        yield _Placed(cell, tuple(frames))


def _windows(asked: Asked, area: _Area, room: OuterRoom, tally: Tally, least: float) -> Iterator[_Placed]:
    """Yield cells that go through the wall into the room behind it, every other row moved by half of a pitch.

    Their walls are straight, so what stays between two of them is thinnest at the wall's inner face.
    """
    rows = room.depths[room.rows(area.step.z0, area.step.z1)]
    wall = float(rows.max()) if rows.size else 0.0
    inner = area.radius - wall
    half = max(abs(u) for outline, _ in asked.pieces for u, _ in outline)
    if wall == 0.0 or reaches_too_far(area.radius, wall + INTO_ROOM, half):
        return
    pitch = area.radius * (least / inner + 2 * math.asin(half / inner))
    if asked.pitch < pitch - 1e-9:
        tally.pitch = max(tally.pitch, pitch)
        return
    cell = pocket(area.radius, wall + INTO_ROOM, asked.pieces)
    frames = []
    for k, z in enumerate(area.stations(cell.half_length, asked.row_pitch)):
        station = on_grid(z)
        for clock in area.clock_row(cell.half_clock, asked.pitch, k % 2 == 1):
            patch = (
                station - cell.half_length,
                station + cell.half_length,
                clock - cell.half_clock,
                clock + cell.half_clock,
            )
            # all of the footprint is wall, and the cutter ends in the room behind it
            thin = room.free(*patch)
            if tally.keep(thin if thin > 0.0 and wall - thin <= BEHIND / 2 else 0.0, LAYER):
                tally.wall = max(tally.wall, room.thickest(*patch))
                frames.append(cell.frame(clock, station))
    if frames:
        yield _Placed(cell, tuple(frames))


def _flutes(asked: Asked, area: _Area, room: OuterRoom, tally: Tally) -> Iterator[_Placed]:
    """Yield the flutes of a stretch, equally long ones together; each runs as far as it can."""
    found: dict[float, list[Frame]] = {}
    half = math.degrees(math.asin(asked.width / 2 / area.radius))
    for clock in area.clock_row(half, asked.pitch, False):
        runs = [
            (max(a, area.step.z0), min(b, area.step.z1))
            for a, b in room.runs_along(clock - half, clock + half, asked.depth)
            if a < area.step.z1 and b > area.step.z0
        ]
        long = [(a, b) for a, b in runs if b - a >= LEAST_RUN * asked.width]
        free = room.free(area.step.z0 + 1.0, area.step.z1 - 1.0, clock - half, clock + half)
        tally.keep(asked.depth if long else free, asked.depth)
        for a, b in long:
            length = 2 * on_grid((b - a) / 2)
            found.setdefault(length, []).append(clocked(clock, on_grid((a + b) / 2)))
    for length, frames in found.items():
        yield _Placed(flute(area.radius, asked.width, asked.depth, length), tuple(frames))


def _grooves(asked: Asked, area: _Area, room: OuterRoom, tally: Tally) -> Iterator[_Placed]:
    """Yield the grooves between ribs, equally long ones together; each runs as far round as it can."""
    found: dict[float, list[Frame]] = {}
    least = math.degrees(LEAST_RUN * asked.width / area.radius)
    half = on_grid(asked.width / 2)
    for z in area.stations(half, asked.pitch):
        station = on_grid(z)
        runs = room.runs_round(station - half, station + half, asked.depth)
        # drawn in a little: the surface's facets have edges at whole degrees, too
        long = [
            (a + OFF_FACETS_DEG, b - OFF_FACETS_DEG) if b - a < 360.0 else (a, b)
            for a, b in runs
            if b - a >= least
        ]
        free = room.free(station - half, station + half, area.middle_clock - least, area.middle_clock + least)
        tally.keep(asked.depth if long else free, asked.depth)
        for a, b in long:
            found.setdefault(round(b - a, 6), []).append(clocked((a + b) / 2, station))
    for span, frames in found.items():
        yield _Placed(groove(area.radius, 2 * half, asked.depth, span), tuple(frames))
