"""Rods in the material: what stands round their holes when all else is cut, looked at without a geometry kernel."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.rods import RodTable
from chassis_gen.parts.extent import extent_of
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.membership import inside
from chassis_gen.plan.model import ScrewHole, SectionPlan, clock_of
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Step

Points = NDArray[np.float64]
DEPTHS = (0.25, 0.5, 0.75)
"""Where along its depth the wall round a rod's end is looked at: as it is measured on the solids."""
SIDES = 24
"""In how many directions it is looked from a rod's axis (chosen)."""
ALONG = 2.0
"""Distance of the stations at which a passing rod is looked at, mm (chosen)."""
BESIDE = 0.05
"""How far beside a hole's wall its material is looked for, mm: beyond the sag of facets."""
FARTHEST = 1.5
"""How far out the wall of an end's hole begins at most, in radii of the hole: as it is measured on the solids."""
TURNS = (30.0, -30.0)
CIRCLES = (-2.0, 2.0, -4.0)
"""Turns (degrees) and changes of the circle (mm) that are proposed (chosen)."""


def rod_material_findings(
    inputs: BuildInputs, sections: Sequence[SectionPlan], pieces: Sequence[PiecePlan], least_wall: float
) -> tuple[Finding, ...]:
    """Return an error for each section in which rods end in a void, or leave a thin wall beside one.

    Args:
        inputs: the build's files.
        sections: all planned sections, rods included.
        pieces: with all that is cut; none where a section can't be made.
        least_wall: mm.
    """
    steps = {r.name: r.steps for p in pieces for r in p.recipes}
    found = []
    for i, table in enumerate(inputs.build.rod):
        for s in (s for s in sections if s.name in steps):
            said = _said(table, s, steps[s.name], least_wall)
            if said is not None:
                found.append(_finding(inputs, i, table, s, *said))
                found += _bare_ends(table, s, steps[s.name])
    return tuple(found)


def _said(
    table: RodTable, section: SectionPlan, steps: Sequence[Step], least_wall: float
) -> tuple[str, Vec3] | None:
    """Return what is wrong with a group of rods in a section, and where; None where nothing is."""
    ends = _ends(table, section)
    own = (s.solid for s in steps if s.label == f"rod hole of {table.name}")
    bars = [] if ends else [s for s in own if isinstance(s, Cylinder)]
    if not ends and not bars:
        return None
    others = [(s, *extent_of(s.solid)) for s in steps if not s.label.startswith("rod")]
    for hole in ends:
        at = [hole.frame.point((0.0, 0.0, hole.depth * d)) for d in DEPTHS]
        held = _held(others, at, hole.diameter.total / 2 + hole.least_wall - BESIDE).all(axis=1)
        if not held.all():
            return f"less than {hole.least_wall:.2f} mm of material is left round it", at[int(held.argmin())]
    for bar in bars:
        x, y, low = bar.frame.point((0.0, 0.0, bar.z0))
        at = [(x, y, z) for z in np.arange(low + ALONG / 2, low + bar.z1 - bar.z0, ALONG).tolist()]
        beside, behind = (
            _held(others, at, bar.radius + r).all(axis=1) for r in (BESIDE, least_wall - BESIDE)
        )
        thin = beside & ~behind
        if thin.any():
            return f"a wall of less than {least_wall:g} mm is left beside it", at[int(thin.argmax())]
    return None


def _ends(table: RodTable, section: SectionPlan) -> list[ScrewHole]:
    return [h for h in section.holes if h.id.startswith(f"{section.name}.{table.name}_")]


def _bare_ends(table: RodTable, section: SectionPlan, steps: Sequence[Step]) -> Iterator[Finding]:
    """Yield an error for each rod's end that has no material round it at all, as the solids would say of it."""
    others = [(s, *extent_of(s.solid)) for s in steps if not s.label.startswith("rod")]
    for hole in _ends(table, section):
        at = [hole.frame.point((0.0, 0.0, hole.depth * d)) for d in DEPTHS]
        radius = hole.diameter.total / 2
        if any(_held(others, at, r).any() for r in (radius + BESIDE, FARTHEST * radius - BESIDE)):
            continue
        x, y, z = at[1]
        message = (
            f"{hole.id}: there is no material round the hole at station {z:.1f}, clock {clock_of(x, y):.0f}"
        )
        numbers = {"wall": 0.0, "station": z, "clock_deg": clock_of(x, y)}
        words = Remedy(None, None, "other clocks, another circle or other ends for the rods")
        yield Finding("error", "screw-edge", hole.id, message, numbers, candidates=(words,))


def _held(steps: Sequence[tuple[Step, Vec3, Vec3]], at: Sequence[Vec3], radius: float) -> NDArray[np.bool_]:
    """Return on which sides of which places of a rod there is material at a distance; hulls count as material.

    Args:
        steps: of a recipe in order, each with the corners of the box round it.
        at: places on the rod's axis.
        radius: the distance, mm.
    """
    turns = np.arange(SIDES) * (2 * math.pi / SIDES)
    rim = np.column_stack([radius * np.cos(turns), radius * np.sin(turns), np.zeros(SIDES)])
    points: Points = (np.array(at).reshape(-1, 1, 3) + rim).reshape(-1, 3)
    solid = np.zeros(len(points), dtype=np.bool_)
    for step, low, high in steps:
        near = np.flatnonzero(((points >= low) & (points <= high)).all(axis=1))
        if len(near):
            adds = step.operation == "add"
            solid[near[inside(step.solid, points[near], whole=adds)]] = adds
    return solid.reshape(len(at), SIDES)


def _finding(
    inputs: BuildInputs, i: int, table: RodTable, section: SectionPlan, what: str, at: Vec3
) -> Finding:
    clock = clock_of(at[0], at[1])
    message = (
        f"the rods {table.name} stand on a circle of {table.circle_diameter:.2f} mm: in {section.name}, at station "
        f"{at[2]:.1f} and clock {clock:.0f}, {what}"
    )
    numbers = {"circle_diameter": table.circle_diameter, "station": at[2], "clock_deg": clock}
    candidates = (
        *_elsewhere(inputs, i, table, section),
        Remedy(None, None, "other clocks, another circle or other ends"),
    )
    where = f"{section.name}.{table.name}"
    return Finding("error", "rod-outside", where, message, numbers, candidates=candidates)


def _elsewhere(inputs: BuildInputs, i: int, table: RodTable, section: SectionPlan) -> Iterator[Remedy]:
    """Yield other ends, turns and circles for a group of rods."""
    names = [row.name for row in inputs.build.section if row.beside is None]
    at = names.index(section.name)
    first = names.index(table.start) if table.start else 0
    last = names.index(table.end) if table.end else len(names) - 1
    if at == first:
        yield from (Remedy(f"rod[{i}].from", n, f'rods from "{n}"') for n in _near(names, at, 0, last))
    if at == last:
        yield from (
            Remedy(f"rod[{i}].to", n, f'rods to "{n}"') for n in _near(names, at, first + 1, len(names))
        )
    for by in CIRCLES:
        circle = table.circle_diameter + by
        if circle > 0:
            yield Remedy(f"rod[{i}].circle_diameter", circle, f"a circle of {circle:g} mm")
    for turn in TURNS:
        clocks = [(c + turn) % 360.0 for c in table.clocks_deg]
        shown = ", ".join(f"{c:g}" for c in clocks)
        yield Remedy(f"rod[{i}].clocks_deg", clocks, f"rods at clocks {shown}")


def _near(names: Sequence[str], at: int, low: int, high: int) -> Iterator[str]:
    """Yield the names of sections on both sides of one, the nearest first, at most four."""
    near = sorted((k for k in range(low, high) if k != at), key=lambda k: (abs(k - at), k))
    yield from (names[k] for k in near[:4])
