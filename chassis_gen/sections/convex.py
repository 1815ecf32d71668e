"""Convex point sets of a part's envelope: what a seat is grown and swept from (no kernel needed)."""

from __future__ import annotations

import math
from collections.abc import Iterable

from chassis_gen.parts.extent import extent_of
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
)

ROUND_WITHIN = 0.004
"""How far the polygon round a circle may lie outside it, mm; a seat is measured to 0.015 mm."""


def convex_points(solids: Iterable[Primitive], frame: Frame) -> tuple[tuple[Vec3, ...], ...]:
    """Return convex bodies that cover primitives, each as its corners in the outer coordinates.

    Round bodies become polygons round them with a side across each of the frame's axes, so that their
    extents along the axes stay exact; hollow and notched ones are filled.

    Args:
        solids: in the frame's coordinates.
        frame: where they stand.
    """
    return tuple(points for solid in solids for points in _of(solid, frame))


def _of(solid: Primitive, outer: Frame) -> tuple[tuple[Vec3, ...], ...]:
    frame = outer @ solid.frame
    if isinstance(solid, Pattern):
        return tuple(p for place in solid.frames for p in _of(solid.solid, frame @ place))
    return (tuple(frame.point(p) for p in _local(solid)),)


def _local(solid: Primitive) -> tuple[Vec3, ...]:
    match solid:
        case Hull():
            return solid.points
        case Box():
            return _corners(solid.low, solid.high)
        case Cylinder():
            return (*_round(solid.radius, solid.z0), *_round(solid.radius, solid.z1))
        case Cone():
            return (*_round(solid.r0, solid.z0), *_round(solid.r1, solid.z1))
        case Ring() | TubeSegment():
            return (*_round(solid.outer_radius, solid.z0), *_round(solid.outer_radius, solid.z1))
        case Prism():
            return tuple((x, y, z) for z in (solid.z0, solid.z1) for x, y in solid.outline)
        case _:
            inner = extent_of(solid)
            back = solid.frame
            # extents are taken with the solid's own frame applied; here they are wanted in that frame
            return tuple(_into(back, corner) for corner in _corners(*inner))


def _into(frame: Frame, p: Vec3) -> Vec3:
    d = tuple(a - b for a, b in zip(p, frame.origin, strict=True))
    x, y, z = (
        sum(a * b for a, b in zip(d, axis, strict=True))
        for axis in (frame.x_axis, frame.y_axis, frame.z_axis)
    )
    return x, y, z


def _corners(low: Vec3, high: Vec3) -> tuple[Vec3, ...]:
    return tuple((x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2]))


def _round(radius: float, z: float) -> tuple[Vec3, ...]:
    if radius <= 0:
        return ((0.0, 0.0, z),)
    quarter = math.ceil(math.pi / math.acos(radius / (radius + ROUND_WITHIN)) / 4)
    count = 4 * max(2, quarter)
    outside = radius / math.cos(math.pi / count)
    turns = (2 * math.pi * (i + 0.5) / count for i in range(count))
    return tuple((outside * math.cos(t), outside * math.sin(t), z) for t in turns)
