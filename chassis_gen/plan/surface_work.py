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
from chassis_gen.plan.model import Obstacle, Outer, SectionPlan
from chassis_gen.plan.outer_room import MOST_WALL, Patch, outer_room, window_room
from chassis_gen.plan.surface_layout import Asked, Tally, pattern_cuts
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import Rules
from chassis_gen.sections.features.surface_cells import (
    hexagon,
    least_flute_depth,
    reaches_too_far,
    stadium,
    turned,
)
from chassis_gen.shapes.recipe import Recipe
from chassis_gen.tables.surfaces import pattern_sizes

MOST_CELLS = 3000
"""Cells that one pattern may have on one section: a second or two of work (chosen)."""
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
            steps, tally = pattern_cuts(one, section, room, outer, rules)
            recipes[name] = recipe.then(steps)
            tallies[name] = tally
            if tally.kept:
                through = one.table.through
                depth = tally.wall if through else one.depth
                drawn = tuple(s.solid for s in steps) if one.table.pattern == "outline" else ()
                works.append(
                    SurfaceWork(
                        one.table.name,
                        one.table.pattern,
                        name,
                        depth,
                        tally.kept,
                        tally.left_out,
                        through,
                        drawn,
                    )
                )
        findings += _findings(one, tallies, rules)
    return Surfaces(tuple(_renewed(p, recipes) for p in pieces), tuple(works), tuple(findings))


def _renewed(piece: PiecePlan, recipes: Mapping[str, Recipe]) -> PiecePlan:
    if piece.owner is not None:
        return piece
    return replace(piece, recipes=tuple(recipes[name] for name in piece.sections))


def _all_asked(inputs: BuildInputs) -> tuple[Asked, ...]:
    return tuple(_asked(inputs, i, table) for i, table in enumerate(inputs.build.surface))


def _asked(inputs: BuildInputs, index: int, table: SurfaceTable) -> Asked:
    usual = pattern_sizes()[table.pattern]

    def figure(key: str) -> float:
        given = getattr(table, key)
        return float(getattr(usual, key) if given is None else given)

    asked = Asked(index, table, figure("pitch"), figure("width"), figure("depth"), figure("length"))
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


def _faults(asked: Asked, radius: float, rules: Rules) -> Iterator[tuple[str, Rejection]]:
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


def _too_many(asked: Asked, radius: float, length: float) -> Iterator[tuple[str, Rejection]]:
    """Yield a refusal of more cells on the longest section than are reckoned with."""
    area = asked.pitch * asked.row_pitch
    cells = 2 * math.pi * radius * length / area if area else 0.0
    if cells > MOST_CELLS:
        least = asked.pitch * math.sqrt(cells / MOST_CELLS)
        why = f"a section {length:g} long would have about {cells:.0f} cells"
        allowed = f"at most {MOST_CELLS} cells: a pitch from about {math.ceil(least * 10) / 10:g}"
        yield "pitch", Rejection("not-allowed", why, allowed)


def _findings(asked: Asked, tallies: Mapping[str, Tally], rules: Rules) -> Iterable[Finding]:
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
