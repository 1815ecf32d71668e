"""Which points lie in a recipe's solid: primitives evaluated at points, with no geometry kernel.

It serves questions of the plan such as how deep the outer surface may be cut at a place; what is printed is made
by a kernel. Where an answer isn't exact it errs to less material: a hull or an imported outline that is added
counts for nothing, one that is cut counts with all that its corners span.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from chassis_gen.parts.extent import extent_of
from chassis_gen.shapes.frame import Frame
from chassis_gen.shapes.primitives import (
    Box,
    Cone,
    Cylinder,
    Hull,
    Outline,
    Pattern,
    Primitive,
    Prism,
    Ring,
    TubeSegment,
    Within,
    placed,
)
from chassis_gen.shapes.recipe import Step

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]


class RoundGrid(Struct, frozen=True):
    """Points round the tube's axis: stations, whole degrees, and depths below a radius that goes by station.

    Args:
        stations: mm.
        radii: radius from which depths count, by station, mm.
        depths: mm.
        clocks_deg: degrees.
    """

    stations: Points
    radii: Points
    depths: Points
    clocks_deg: Points

    def flat(self, radius: float) -> Points:
        """Return x and y of all clocks and depths below a radius, as rows in that order, mm."""
        r = radius - self.depths[None, :]
        a = np.radians(self.clocks_deg)[:, None]
        return np.stack([r * np.cos(a), r * np.sin(a)], axis=-1).reshape(-1, 2)


def solid_on(steps: Iterable[Step], grid: RoundGrid) -> Mask:
    """Return which points of a grid lie in the material that ordered steps leave, by station, clock and depth.

    Most of a recipe runs along the axis unchanged, and is looked at once for all its stations.

    Args:
        steps: a recipe's steps.
        grid: the points.
    """
    count = len(grid.clocks_deg) * len(grid.depths)
    solid = np.zeros((len(grid.stations), count), dtype=bool)
    levels = {r: grid.flat(r) for r in sorted(set(grid.radii.tolist()))}
    for step in steps:
        adds = step.operation == "add"
        for primitive in _single(step.solid, adds):
            (_, _, z0), (_, _, z1) = extent_of(primitive)
            there = (grid.stations >= z0) & (grid.stations <= z1)
            for radius, flat in levels.items():
                rows = np.flatnonzero(there & (grid.radii == radius))
                if not len(rows):
                    continue
                near = _near(primitive, flat)
                if steady(primitive):
                    level = _at_level(flat[near], (z0 + z1) / 2)
                    hit = near[inside(primitive, level, whole=not adds)]
                    solid[np.ix_(rows, hit)] = adds
                    continue
                for row in rows:
                    level = _at_level(flat[near], float(grid.stations[row]))
                    solid[row, near[inside(primitive, level, whole=not adds)]] = adds
    return solid.reshape(len(grid.stations), len(grid.clocks_deg), len(grid.depths))


def _single(primitive: Primitive, adds: bool) -> Iterator[Primitive]:
    """Yield a primitive, or the copies of a pattern; for a hull that is cut the box round it, for an added one none."""
    if isinstance(primitive, Pattern):
        for frame in primitive.frames:
            yield from _single(placed(primitive.solid, primitive.frame @ frame), adds)
    elif not isinstance(primitive, Hull):
        yield primitive
    elif not adds:
        corners = np.array(primitive.points)
        (x0, y0, z0), (x1, y1, z1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
        yield Box((x0, y0, z0), (x1, y1, z1), primitive.frame)


def _near(primitive: Primitive, flat: Points) -> NDArray[np.intp]:
    """Return which points lie in the box round a primitive, seen along the axis."""
    low, high = extent_of(primitive)
    return np.flatnonzero(((flat >= low[:2]) & (flat <= high[:2])).all(axis=1))


def _at_level(flat: Points, z: float) -> Points:
    return np.column_stack([flat, np.full(len(flat), z)])


def steady(primitive: Primitive) -> bool:
    """Return whether a primitive's cross-section is the same at all its stations."""
    if abs(primitive.frame.z_axis[2]) < 1.0:
        return isinstance(primitive, Box) and 1.0 in {
            abs(primitive.frame.x_axis[2]),
            abs(primitive.frame.y_axis[2]),
        }
    return isinstance(primitive, Box | Cylinder | Ring | TubeSegment | Prism)


def inside(primitive: Primitive, points: Points, whole: bool) -> Mask:
    """Return which points lie in a primitive.

    Args:
        primitive: the primitive.
        points: rows of x, y, z in the coordinates that the primitive's frame stands in, mm.
        whole: True to count all that a hull's corners span as inside it, False to count it for nothing.
    """
    local = _local(primitive.frame, points)
    match primitive:
        case Box():
            return np.asarray(((local >= primitive.low) & (local <= primitive.high)).all(axis=1))
        case Cylinder():
            return _between(local, primitive.z0, primitive.z1) & _round(local, 0.0, primitive.radius)
        case Cone():
            share = np.clip((local[:, 2] - primitive.z0) / (primitive.z1 - primitive.z0), 0.0, 1.0)
            radius = primitive.r0 + share * (primitive.r1 - primitive.r0)
            flat = local[:, 0] ** 2 + local[:, 1] ** 2
            return _between(local, primitive.z0, primitive.z1) & np.asarray(flat <= radius**2)
        case Ring():
            return _between(local, primitive.z0, primitive.z1) & _round(
                local, primitive.inner_radius, primitive.outer_radius
            )
        case TubeSegment():
            return _segment(primitive, local)
        case Prism():
            return _prism(primitive, local)
        case Hull():
            return _hull(primitive, local, whole)
        case Within():
            return inside(primitive.a, local, whole) & inside(primitive.b, local, whole)
        case Pattern():
            return _pattern(primitive, local, whole)


def _local(frame: Frame, points: Points) -> Points:
    axes = np.array([frame.x_axis, frame.y_axis, frame.z_axis])
    found: Points = (points - frame.origin) @ axes.T
    return found


def _between(local: Points, z0: float, z1: float) -> Mask:
    return np.asarray((local[:, 2] >= z0) & (local[:, 2] <= z1))


def _round(local: Points, inner: float, outer: float) -> Mask:
    flat = local[:, 0] ** 2 + local[:, 1] ** 2
    return np.asarray((flat <= outer**2) & (flat >= inner**2))


def _segment(p: TubeSegment, local: Points) -> Mask:
    clocks = np.degrees(np.arctan2(local[:, 1], local[:, 0]))
    turned = np.asarray((clocks - p.clock_from) % 360.0 <= p.clock_to - p.clock_from)
    return _between(local, p.z0, p.z1) & _round(local, p.inner_radius, p.outer_radius) & turned


def _prism(p: Prism, local: Points) -> Mask:
    found = _between(local, p.z0, p.z1)
    there = np.flatnonzero(found)
    if len(there):
        flat = local[there, :2]
        inner = _in_outline(p.outline, flat)
        for hole in p.holes:
            inner &= ~_in_outline(hole, flat)
        found[there] = inner
    return found


def _in_outline(outline: Outline, flat: Points) -> Mask:
    """Return which points lie in a simple polygon: a ray to the right crosses its sides an odd number of times."""
    corners = np.array(outline)
    odd = np.zeros(len(flat), dtype=bool)
    for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if ay != by:
            spans = (flat[:, 1] < ay) != (flat[:, 1] < by)
            odd ^= spans & (flat[:, 0] < ax + (flat[:, 1] - ay) / (by - ay) * (bx - ax))
    return odd


def _hull(p: Hull, local: Points, whole: bool) -> Mask:
    if not whole:
        return np.zeros(len(local), dtype=bool)
    corners = np.array(p.points)
    return np.asarray(((local >= corners.min(axis=0)) & (local <= corners.max(axis=0))).all(axis=1))


def _pattern(p: Pattern, local: Points, whole: bool) -> Mask:
    found = np.zeros(len(local), dtype=bool)
    for frame in p.frames:
        found |= inside(p.solid, _local(frame, local), whole)
    return found
