"""Walls: material too thin to print, found by rays from the surface inward.

A ray counts where it leaves through a facet within 30 degrees of anti-parallel to the one it came in by, so
that the corner of a solid is no thin wall; a wall counts where the thin patch is at least 1 mm2.

What stands between two letters or parts of a drawing, and a raised letter itself, is no wall: it is as high as the text
is deep, on solid ground, and what of it the nozzle can print is judged by its own strokes and gaps. The ground is a
wall.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from chassis_gen.checks.places import place, section_at, words
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.membership import inside
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.primitives import Primitive

Array = npt.NDArray[np.float64]

FACING_COSINE = math.cos(math.radians(30.0))
LEAST_PATCH = 1.0

_MOST_SAMPLES = 10_000
_COARSE_CELL = 4.0
_FINE_CELL = 0.1
_MOST_PER_FACET = 400
_LEAST_FACET = 0.01
_BELOW_SURFACE = 1e-4
_NEIGHBOUR = 1.5
_BESIDE = 0.05
"""How far beside a flank it is asked whether a letter is there, mm: beyond the sag of facets, within any stroke."""


class ThinPatch(NamedTuple):
    """A stretch of wall too thin: least thickness (mm), where (mm), area (mm2), median thickness (mm)."""

    thickness: float
    point: tuple[float, float, float]
    area: float
    typical: float


class Relief(NamedTuple):
    """Letters or a drawing on a piece: the solids that are cut for it, or stand in its panel where it is raised."""

    solids: tuple[Primitive, ...]
    raised: bool


class _Samples(NamedTuple):
    points: Array
    normals: Array
    areas: Array
    facets: npt.NDArray[np.int64]


def check_walls(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return an error for each patch of wall thinner than the rules allow.

    Args:
        plan: the build.
        solids: its solids.
    """
    least = plan.rules.least_wall
    return tuple(
        _thin(plan, name, patch)
        for name, body in solids.pieces.items()
        for patch in thin_patches(body, least - 2 * solids.chord, _reliefs(plan, name))
    )


def _reliefs(plan: ChassisPlan, piece: str) -> tuple[Relief, ...]:
    """Return the letters and drawings on a piece."""
    own = {s.name for s in plan.sections if s.piece == piece}
    return (
        *(Relief(t.letters, t.style == "raised") for t in plan.lettering if t.piece == piece),
        *(Relief(w.figures, False) for w in plan.surfaces if w.figures and w.section in own),
    )


def thin_patches(body: Body, least: float, reliefs: Sequence[Relief] = ()) -> tuple[ThinPatch, ...]:
    """Return the patches of at least `LEAST_PATCH` where a body is thinner than a limit, thinnest first.

    The surface is sampled every 4 mm2 or in every facet, then closely where something thin was met; a
    patch smaller than that which lies within one large facet may be missed.

    Args:
        body: the piece.
        least: mm.
        reliefs: what is lettered and drawn on it.
    """
    points, faces = body.arrays()
    corners = points[faces]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    cell = max(_COARSE_CELL, float(areas.sum()) / _MOST_SAMPLES)
    coarse = _sampled(corners, areas, np.flatnonzero(areas >= _LEAST_FACET), cell)
    hit = np.isfinite(_thickness(body, coarse, least, reliefs))
    if not hit.any():
        return ()
    met = np.zeros(len(areas), dtype=np.bool_)
    met[coarse.facets[hit]] = True
    close = max(_FINE_CELL, float(areas[met].sum()) / _MOST_SAMPLES)
    fine = _sampled(corners, areas, np.flatnonzero(met), close)
    thickness = _thickness(body, fine, least, reliefs)
    thin = np.isfinite(thickness)
    patches = _patches(fine.points[thin], thickness[thin], fine.areas[thin])
    return tuple(sorted(p for p in patches if p.area >= LEAST_PATCH))


def _sampled(corners: Array, areas: Array, facets: npt.NDArray[np.int64], cell: float) -> _Samples:
    """Return points spread evenly over facets, about one per cell (mm2), always the same ones."""
    counts = np.clip(np.ceil(areas[facets] / cell).astype(np.int64), 1, _MOST_PER_FACET)
    owner = np.repeat(facets, counts)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    # Steps by the inverse plastic number and its square fill the unit square evenly from any start on.
    u = (0.5 + 0.7548776662466927 * rank) % 1.0
    v = (0.5 + 0.5698402909980532 * rank) % 1.0
    flip = u + v > 1.0
    u, v = np.where(flip, 1.0 - u, u), np.where(flip, 1.0 - v, v)
    alone = np.repeat(counts, counts) == 1
    u, v = np.where(alone, 1 / 3, u), np.where(alone, 1 / 3, v)
    a, b, c = (corners[owner, k] for k in range(3))
    normals = np.cross(b - a, c - a)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    points = a + (b - a) * u[:, None] + (c - a) * v[:, None]
    return _Samples(points, normals, areas[owner] / np.repeat(counts, counts), owner)


def _thickness(body: Body, samples: _Samples, least: float, reliefs: Sequence[Relief]) -> Array:
    """Return the thickness of wall under each sample where it is below a limit, else infinity (mm)."""
    below = samples.points - samples.normals * _BELOW_SURFACE
    rays = body.rays(below, -samples.normals, least - _BELOW_SURFACE)
    found = np.full(len(samples.points), np.inf)
    met = [i for i, hits in enumerate(rays) if hits]
    if met:
        distances = np.array([rays[i][0].distance for i in met])
        leaving = np.array([rays[i][0].normal for i in met])
        entering, starts = samples.normals[met], below[met]
        facing = -np.einsum("ij,ij->i", leaving, entering) >= FACING_COSINE
        ends = starts - entering * distances[:, None]
        for relief in reliefs:
            facing &= ~(_flanks(relief, starts, entering) & _flanks(relief, ends, leaving))
        found[np.array(met)[facing]] = distances[facing] + _BELOW_SURFACE
    return found


def _flanks(relief: Relief, points: Array, normals: Array) -> npt.NDArray[np.bool_]:
    """Return which points of the surface are sides of letters: those cut are before it, raised ones behind."""
    beside = points + normals * (-_BESIDE if relief.raised else _BESIDE)
    found = np.zeros(len(points), dtype=np.bool_)
    for letter in relief.solids:
        found |= inside(letter, beside, whole=False)
    return found


def _patches(points: Array, thickness: Array, areas: Array) -> list[ThinPatch]:
    """Return thin samples grouped with their neighbours."""
    cells: dict[tuple[int, int, int], list[int]] = {}
    for i, key in enumerate(np.floor(points / _NEIGHBOUR).astype(int).tolist()):
        cells.setdefault((key[0], key[1], key[2]), []).append(i)
    patches = []
    while cells:
        start, members = cells.popitem()
        reach, group = [start], list(members)
        while reach:
            x, y, z = reach.pop()
            around = [(x + i, y + j, z + k) for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1)]
            for key in around:
                if key in cells:
                    group += cells.pop(key)
                    reach.append(key)
        worst = min(group, key=lambda i: (thickness[i], i))
        x, y, z = points[worst].tolist()
        # Both faces of a wall are sampled.
        area, typical = float(areas[group].sum()) / 2, statistics.median(thickness[group].tolist())
        patches.append(ThinPatch(float(thickness[worst]), (x, y, z), area, typical))
    return patches


def _thin(plan: ChassisPlan, piece: str, patch: ThinPatch) -> Finding:
    section = section_at(plan, patch.point[2], piece)
    thickness, least, area = patch.thickness, plan.rules.least_wall, patch.area
    message = (
        f"{section}: the wall round {words(patch.point)} is {patch.typical:.2f} mm over {area:.0f} mm2, "
        f"at its thinnest {thickness:.2f} mm; the printer needs {least:g} mm"
    )
    numbers = {
        "thickness": thickness,
        "typical": patch.typical,
        "least_wall": least,
        "area_mm2": area,
        **place(patch.point),
    }
    return Finding("error", "wall-thin", section, message, numbers)
