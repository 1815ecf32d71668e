"""Patterns on the chassis's outer surface: which cells fit between the features, and the cuts of those that do.

Patterns come after everything else that is cut, into what is left: a cell is kept where its whole footprint has its
depth free and a wall below and beside it (`plan.outer_room`). They lie below the outer surface, so no fit changes.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.codes import Rejection
from chassis_gen.params.surfaces import SurfaceTable
from chassis_gen.plan.chassis import PiecePlan, SurfaceWork
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.model import Obstacle, Outer, OuterStep, SectionPlan
from chassis_gen.plan.outer_room import BEHIND, LAYER, MOST_WALL, OuterRoom, Patch, outer_room, window_room
from chassis_gen.plan.sums import on_grid
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import Rules
from chassis_gen.sections.features.surface_cells import (
    OFF_FACETS_DEG,
    Cell,
    flute,
    groove,
    hexagon,
    least_flute_depth,
    pit,
    pocket,
    reaches_too_far,
    stadium,
    turned,
)
from chassis_gen.shapes.frame import Frame, clocked
from chassis_gen.shapes.primitives import Outline, Pattern
from chassis_gen.shapes.recipe import Recipe, Step, cut
from chassis_gen.tables.surfaces import pattern_sizes

MOST_CELLS = 3000
"""Cells that one pattern may have on one section: a second or two of work (chosen)."""
INTO_ROOM = 0.5
"""How far a window's cutter reaches beyond the wall, mm (chosen)."""
LEAST_RUN = 2.0
"""A groove shorter than this many of its widths is left out (chosen)."""
TRIED_STEP = 0.1
"""Steps of the depth that is offered as a remedy, mm."""


class Surfaces(Struct, frozen=True):
    """What surface work makes of a build.

    Args:
        pieces: with the cuts in their recipes.
        works: what was cut, by pattern and section.
        findings: where nothing could be.
    """

    pieces: tuple[PiecePlan, ...]
    works: tuple[SurfaceWork, ...]
    findings: tuple[Finding, ...]


class _Asked(Struct, frozen=True):
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


class _Tally(Struct):
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


def check_surfaces(
    inputs: BuildInputs, sections: Sequence[SectionPlan], outer: Outer, rules: Rules, gathering: Gathering
) -> None:
    """Gather patterns on sections that there are not, and figures that can't be cut on the chassis.

    Args:
        inputs: the build's files.
        sections: the sections in line.
        outer: the chassis's outer surface.
        rules: limits of printing.
        gathering: takes the problems.
    """
    names = [s.name for s in sections]
    beside = {s.name for s in inputs.build.section if s.beside is not None}
    radii = [s.radius for s in outer.steps if not s.bearing] or [s.radius for s in outer.steps]
    for asked in _all_asked(inputs):
        for k, name in enumerate(asked.table.sections):
            if name in beside:
                why = f'"{name}" stands beside another section, whose surface it is'
                rejection = Rejection("not-allowed", why, "the section that it stands beside")
                gathering.reject(inputs, ("surface", asked.index, "sections", k), rejection)
            elif name not in names:
                rejection = Rejection(
                    "unknown-name",
                    f'there is no section "{name}"',
                    ", ".join(names),
                    nearest_name(name, names),
                )
                gathering.reject(inputs, ("surface", asked.index, "sections", k), rejection)
        longest = max(
            (s.z1 - s.z0 for s in sections if s.name in (asked.table.sections or names)), default=0.0
        )
        faults = tuple(_faults(asked, min(radii), rules)) or tuple(_too_many(asked, max(radii), longest))
        for key, rejection in faults:
            given = (k for k in (key, "width", "pitch", "depth") if getattr(asked.table, k) is not None)
            at = next(given, "pattern")
            gathering.reject(inputs, ("surface", asked.index, at), rejection)


def with_surfaces(
    inputs: BuildInputs,
    pieces: Sequence[PiecePlan],
    sections: Sequence[SectionPlan],
    blocked: Sequence[Obstacle],
    outer: Outer,
    rules: Rules,
    taken: Mapping[str, Sequence[Patch]] | None = None,
) -> Surfaces:
    """Return the pieces with their patterns cut.

    Args:
        inputs: the build's files, checked by `check_surfaces`.
        pieces: with all other steps.
        sections: the sections in line, with their companions' obstacles.
        blocked: obstacles of the whole chassis.
        outer: the chassis's outer surface.
        rules: limits of printing.
        taken: patches of other surface work by section.
    """
    asked = _all_asked(inputs)
    if not asked or not pieces:
        return Surfaces(tuple(pieces), (), ())
    recipes = {n: r for p in pieces if p.owner is None for n, r in zip(p.sections, p.recipes, strict=True)}
    by_name = {s.name: s for s in sections}
    works: list[SurfaceWork] = []
    findings: list[Finding] = []
    for one in asked:
        tallies = {}
        for name in one.table.sections or tuple(by_name):
            section, recipe = by_name[name], recipes[name]
            others = (taken or {}).get(name, ())
            room = (
                window_room(section, recipe.steps, blocked, outer, rules.least_wall, others)
                if one.table.through
                else outer_room(section, recipe.steps, blocked, outer, rules.least_wall, one.depth, others)
            )
            stations = one.table.stations or (section.z0, section.z1)
            room = room.within(*stations, *(one.table.clocks_deg or (0.0, 360.0)))
            steps, tally = _cuts(one, section, room, outer, rules)
            recipes[name] = recipe.then(steps)
            tallies[name] = tally
            if tally.kept:
                through = one.table.through
                depth = tally.wall if through else one.depth
                works.append(
                    SurfaceWork(
                        one.table.name, one.table.pattern, name, depth, tally.kept, tally.left_out, through
                    )
                )
        findings += _findings(one, tallies, rules)
    return Surfaces(tuple(_renewed(p, recipes) for p in pieces), tuple(works), tuple(findings))


def _renewed(piece: PiecePlan, recipes: Mapping[str, Recipe]) -> PiecePlan:
    if piece.owner is not None:
        return piece
    return replace(piece, recipes=tuple(recipes[name] for name in piece.sections))


def _all_asked(inputs: BuildInputs) -> tuple[_Asked, ...]:
    return tuple(_asked(inputs, i, table) for i, table in enumerate(inputs.build.surface))


def _asked(inputs: BuildInputs, index: int, table: SurfaceTable) -> _Asked:
    usual = pattern_sizes()[table.pattern]

    def figure(key: str) -> float:
        given = getattr(table, key)
        return float(getattr(usual, key) if given is None else given)

    asked = _Asked(index, table, figure("pitch"), figure("width"), figure("depth"), figure("length"))
    drawn = inputs.figures.get(table.svg or "")
    if table.pattern == "outline" and drawn is not None:
        scale = 1.0 if table.width is None else table.width / drawn.width
        pieces = tuple(
            (
                turned(i.outline, table.turn_deg, scale),
                tuple(turned(h, table.turn_deg, scale) for h in i.holes),
            )
            for i in drawn.islands
        )
        return replace(
            asked,
            width=drawn.width * scale,
            pieces=pieces,
            stroke=drawn.stroke * scale,
            gap=drawn.gap * scale,
        )
    one = {"hexagons": hexagon(asked.width), "slots": stadium(asked.width, asked.length or asked.width)}
    outline = one.get(table.pattern)
    return replace(asked, pieces=((outline, ()),)) if outline else asked


def _faults(asked: _Asked, radius: float, rules: Rules) -> Iterator[tuple[str, Rejection]]:
    """Yield what can't be cut on a radius, each with the key that it is about."""
    pattern, width, depth = asked.table.pattern, asked.width, asked.depth
    left = asked.pitch - width
    if pattern == "knurl":
        # two lines through neighbouring pits' edges lie (pitch - width) / sqrt(2) apart
        least = rules.nozzle * math.sqrt(2)
        if left < least - 1e-9:
            why = f"ridges of {max(left, 0) / math.sqrt(2):.2f} mm stay between pits {width:g} wide, {asked.pitch:g} apart"
            yield (
                "pitch",
                Rejection("not-allowed", why, f"a pitch from {width + least:.2f}: one line of the nozzle"),
            )
    elif asked.pitch and left < rules.least_wall - 1e-9:
        why = f"walls of {left:g} mm stay between cells {width:g} wide, {asked.pitch:g} apart"
        yield "pitch", Rejection("not-allowed", why, f"a pitch from {width + rules.least_wall:g}")
    if pattern == "slots" and asked.length < width:
        why = f"a slot {asked.length:g} long is {width:g} wide"
        yield "length", Rejection("not-allowed", why, f"from {width:g}")
    if depth >= radius / 2:
        yield (
            "depth",
            Rejection("not-allowed", f"the chassis's radius is {radius:g}", f"below {radius / 2:g}"),
        )
        return
    if pattern == "flutes":
        least = least_flute_depth(radius, width)
        if width >= 2 * radius or depth <= least + 0.05:
            why = f"a flute {width:g} wide on a radius of {radius:g} is no hollow at a depth of {depth:g}"
            yield "depth", Rejection("not-allowed", why, f"above {least + 0.05:.2f}, or a narrower flute")
    elif asked.pieces:
        half = max(abs(u) for outline, _ in asked.pieces for u, _ in outline)
        if reaches_too_far(radius, depth, half):
            why = f"a cell {2 * half:.4g} wide reaches too far round a radius of {radius:g}"
            most = 2 * (radius - depth) * math.sin(math.radians(50.0))
            yield "width", Rejection("not-allowed", why, f"below {most:.4g} across")


def _too_many(asked: _Asked, radius: float, length: float) -> Iterator[tuple[str, Rejection]]:
    """Yield a refusal of more cells on the longest section than are reckoned with."""
    area = asked.pitch * asked.row_pitch
    cells = 2 * math.pi * radius * length / area if area else 0.0
    if cells > MOST_CELLS:
        least = asked.pitch * math.sqrt(cells / MOST_CELLS)
        why = f"a section {length:g} long would have about {cells:.0f} cells"
        allowed = f"at most {MOST_CELLS} cells: a pitch from about {math.ceil(least * 10) / 10:g}"
        yield "pitch", Rejection("not-allowed", why, allowed)


def _cuts(
    asked: _Asked, section: SectionPlan, room: OuterRoom, outer: Outer, rules: Rules
) -> tuple[tuple[Step, ...], _Tally]:
    """Return the cuts of one pattern on one section, and how many cells it has."""
    tally = _Tally()
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


def _cells(asked: _Asked, area: _Area, room: OuterRoom, tally: _Tally) -> Iterator[_Placed]:
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


def _windows(asked: _Asked, area: _Area, room: OuterRoom, tally: _Tally, least: float) -> Iterator[_Placed]:
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


def _flutes(asked: _Asked, area: _Area, room: OuterRoom, tally: _Tally) -> Iterator[_Placed]:
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


def _grooves(asked: _Asked, area: _Area, room: OuterRoom, tally: _Tally) -> Iterator[_Placed]:
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


def _findings(asked: _Asked, tallies: Mapping[str, _Tally], rules: Rules) -> Iterable[Finding]:
    """Yield a warning where a pattern that was asked for has no cell, and where an outline is too fine."""
    finest = min(asked.stroke, asked.gap)
    if finest < rules.nozzle:
        what = "stroke" if asked.stroke <= asked.gap else "gap"
        width = math.ceil(asked.width * rules.nozzle / max(finest, 0.01) * 10) / 10
        message = (
            f'outline "{asked.table.name}": its finest {what} is {finest:.2f} mm wide, less than a line of the nozzle, '
            f"{rules.nozzle:g} mm; it will print blurred"
        )
        numbers = {"finest": finest, "nozzle": rules.nozzle}
        wider = Remedy(f"surface[{asked.index}].width", width, f"the outline {width:g} mm across")
        yield Finding("warning", "surface-fine", asked.table.name, message, numbers, candidates=(wider,))
    pitch = max((t.pitch for t in tallies.values()), default=0.0)
    if pitch:
        value = math.ceil(10 * pitch - 1e-6) / 10
        message = (
            f'windows "{asked.table.name}" {asked.width:g} mm wide, {asked.pitch:g} mm apart, leave less than '
            f"{rules.least_wall:g} mm between them at the wall's inner face; none are cut there"
        )
        numbers = {"pitch": asked.pitch, "least_pitch": pitch}
        apart = Remedy(f"surface[{asked.index}].pitch", value, f"{value:g} mm apart")
        yield Finding("warning", "surface-struts", asked.table.name, message, numbers, candidates=(apart,))
    bare = [n for n, t in tallies.items() if not t.kept and not t.pitch]
    if not asked.table.sections:
        bare = bare if len(bare) == len(tallies) else []
    if bare and asked.table.through:
        tried_at = sum(tallies[n].left_out for n in bare)
        message = (
            f'windows "{asked.table.name}": none of {tried_at} cells has a wall of at most {MOST_WALL:g} mm with nothing '
            f"but room behind it, and {rules.least_wall:g} mm of wall about it, on {', '.join(bare)}"
        )
        words = Remedy(
            None, None, "a hollow section with wider rails, clocks_deg about a rail, or smaller cells"
        )
        yield Finding(
            "warning", "surface-no-room", asked.table.name, message, {"cells": float(tried_at)}, words
        )
    elif bare:
        best = max(tallies[n].best for n in bare)
        tried = Counter({n: tallies[n].left_out for n in bare})
        depth = math.floor(best / TRIED_STEP + 1e-6) * TRIED_STEP
        where = ", ".join(bare)
        message = (
            f'{asked.table.pattern} "{asked.table.name}": none of {tried.total()} cells has its {asked.depth:g} mm '
            f"of depth and a wall of {rules.least_wall:g} mm free on {where}; at most {best:.2f} mm"
        )
        candidates = [Remedy(None, None, "another section, other stations or clocks, or smaller cells")]
        if depth >= 0.2:
            value = round(depth, 1)
            candidates.insert(0, Remedy(f"surface[{asked.index}].depth", value, f"a depth of {value:g}"))
        numbers = {"depth": asked.depth, "free": best, "cells": float(tried.total())}
        yield Finding(
            "warning", "surface-no-room", asked.table.name, message, numbers, candidates=tuple(candidates)
        )
