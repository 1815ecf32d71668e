"""The upright box round a set of primitives, by arithmetic alone, so that no geometry kernel is needed."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product
from typing import TypeAlias

from chassis_gen.shapes.frame import Frame, Vec3
from chassis_gen.shapes.primitives import (
    Box,
    Cone,
    Cylinder,
    Hull,
    Pattern,
    Primitive,
    Prism,
    Ring,
    TubeSegment,
    Within,
)

Extent: TypeAlias = tuple[Vec3, Vec3]


def _round_points(radius: float, z0: float, z1: float) -> tuple[Vec3, ...]:
    return ((-radius, -radius, z0), (radius, radius, z1))


def _around(points: Iterable[Vec3]) -> Extent:
    xs, ys, zs = zip(*points, strict=True)
    return (min(xs), min(ys), min(zs)), (max(xs), max(ys), max(zs))


def _framed(inner: Extent, frame: Frame) -> Extent:
    return _around(frame.point((x, y, z)) for x, y, z in product(*zip(*inner, strict=True)))


def _common(a: Extent, b: Extent) -> Extent:
    low = tuple(max(p, q) for p, q in zip(a[0], b[0], strict=True))
    high = tuple(min(p, q) for p, q in zip(a[1], b[1], strict=True))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _local(solid: Primitive) -> Extent:
    if isinstance(solid, Box):
        return solid.low, solid.high
    if isinstance(solid, Cylinder):
        return _around(_round_points(solid.radius, solid.z0, solid.z1))
    if isinstance(solid, Cone):
        return _around(_round_points(max(solid.r0, solid.r1), solid.z0, solid.z1))
    if isinstance(solid, Ring | TubeSegment):
        return _around(_round_points(solid.outer_radius, solid.z0, solid.z1))
    if isinstance(solid, Prism):
        return _around((x, y, z) for x, y in solid.outline for z in (solid.z0, solid.z1))
    if isinstance(solid, Hull):
        return _around(solid.points)
    if isinstance(solid, Within):
        return _common(extent_of(solid.a), extent_of(solid.b))
    return _pattern_extent(solid)


def _pattern_extent(pattern: Pattern) -> Extent:
    one = extent_of(pattern.solid)
    return extent(_framed(one, f) for f in pattern.frames)


def extent_of(solid: Primitive) -> Extent:
    """Return the lowest and highest corner of a box that encloses a primitive, mm.

    The box is the smallest one for what the part kinds use (upright boxes, bars, prisms and hulls);
    for turned frames, sectors and `Within` it may be larger than needed, never smaller.

    Args:
        solid: the primitive; its own frame is applied.
    """
    return _framed(_local(solid), solid.frame)


def extent(boxes: Iterable[Extent]) -> Extent:
    """Return the box round several boxes, mm.

    Args:
        boxes: at least one pair of corners.
    """
    return _around(corner for box in boxes for corner in box)
