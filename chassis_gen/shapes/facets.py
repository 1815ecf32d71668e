"""Polygons and facets of the round and extruded primitives, in numpy alone.

A full circle becomes the regular polygon of the same area, so that volumes have no bias. Arcs lie on
the polygon of the full circle of their radius, so that coaxial round solids of one radius share their
facets exactly and leave no slivers when they are joined or cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from chassis_gen.shapes.frame import Frame, Vec3, unit

Points = npt.NDArray[np.float64]
Faces = npt.NDArray[np.int64]

LEAST_FACETS = 24
_ON_GRID = 1e-9


def facet_count(radius: float, chord: float) -> int:
    """Return how many facets a full circle gets: a multiple of 4, at least 24.

    The sagitta radius * (1 - cos(pi / n)) of an inscribed polygon stays within the chord tolerance
    (plane geometry).

    Args:
        radius: mm.
        chord: chord tolerance, mm.
    """
    if chord >= radius:
        return LEAST_FACETS
    needed = math.pi / math.acos(1.0 - chord / radius)
    return max(LEAST_FACETS, 4 * math.ceil(needed / 4.0 - _ON_GRID))


def polygon_radius(radius: float, count: int) -> float:
    """Return the corner radius of the regular polygon that has the circle's area, mm.

    From n/2 * R^2 * sin(2 pi / n) = pi * r^2 (plane geometry).

    Args:
        radius: the circle's radius, mm.
        count: number of corners.
    """
    step = 2.0 * math.pi / count
    return radius * math.sqrt(step / math.sin(step))


@lru_cache(maxsize=512)
def circle(radius: float, chord: float) -> Points:
    """Return the corners of a circle's polygon counter-clockwise from +x, n x 2, mm; not to be written to.

    The four quarters are mirror images to the last bit, so a circle seen from its other end keeps
    its corners.

    Args:
        radius: mm.
        chord: chord tolerance, mm.
    """
    count = facet_count(radius, chord)
    quarter = count // 4
    c = np.cos(np.arange(quarter + 1) * (2.0 * math.pi / count))
    c[-1] = 0.0
    c, s = c[:-1], c[:0:-1]
    unit_circle = np.concatenate([np.stack(q, axis=1) for q in ((c, s), (-s, c), (-c, -s), (s, -c))])
    corners: Points = polygon_radius(radius, count) * unit_circle + 0.0
    corners.flags.writeable = False
    return corners


def arc(radius: float, clock_from: float, clock_to: float, chord: float) -> Points:
    """Return the corners of an arc on the polygon of its full circle, n x 2, mm.

    The corners between the ends are those of the full circle; each end lies where its clock angle
    meets the full circle's polygon.

    Args:
        radius: mm.
        clock_from: degrees.
        clock_to: degrees, more than `clock_from`.
        chord: chord tolerance, mm.
    """
    corners = circle(radius, chord)
    count = len(corners)
    first, last = clock_from * count / 360.0, clock_to * count / 360.0
    inner = np.arange(math.ceil(first + _ON_GRID), math.floor(last - _ON_GRID) + 1) % count
    ends = [_on_polygon(corners, at) for at in (first, last)]
    return np.concatenate([ends[0][None], corners[inner], ends[1][None]])


def _on_polygon(corners: Points, at: float) -> Points:
    """Return the point of a regular polygon at an angle counted in corners."""
    count = len(corners)
    if abs(at - round(at)) < _ON_GRID:
        point: Points = corners[round(at) % count]
        return point
    half = math.pi / count
    flat = float(corners[0, 0]) * math.cos(half)
    reach = flat / math.cos((at - math.floor(at)) * 2.0 * half - half)
    return reach * np.array(unit(at * 360.0 / count))


def sector(inner: float, outer: float, clock_from: float, clock_to: float, chord: float) -> Points:
    """Return the counter-clockwise outline of a tube segment's end face, n x 2, mm.

    Args:
        inner: inner radius, mm; 0 gives a wedge.
        outer: outer radius, mm.
        clock_from: degrees.
        clock_to: degrees.
        chord: chord tolerance, mm.
    """
    far = arc(outer, clock_from, clock_to, chord)
    near = arc(inner, clock_from, clock_to, chord)[::-1] if inner > 0 else np.zeros((1, 2))
    return np.concatenate([far, near])


def signed_area(loop: Points) -> float:
    """Return a polygon's area, mm2, positive when counter-clockwise (shoelace formula)."""
    x, y = loop[:, 0], loop[:, 1]
    ring = x[:-1] @ y[1:] - y[:-1] @ x[1:]
    return float(0.5 * (ring + x[-1] * y[0] - y[-1] * x[0]))


def extrusion(loops: Sequence[Points], caps: Faces, z0: float, z1: float) -> tuple[Points, Faces]:
    """Return the vertices and facets of a straight extrusion.

    Args:
        loops: the outline counter-clockwise and the holes clockwise, each n x 2, mm.
        caps: the loops' triangles, counter-clockwise, as rows of point numbers.
        z0: mm.
        z1: mm, above `z0`.
    """
    flat = np.concatenate(loops)
    count = len(flat)
    low = np.column_stack([flat, np.full(count, z0)])
    high = np.column_stack([flat, np.full(count, z1)])
    starts = np.cumsum([0] + [len(loop) for loop in loops[:-1]])
    walls = [_band(start, count + start, len(loop)) for start, loop in zip(starts, loops, strict=True)]
    return np.concatenate([low, high]), np.concatenate([caps[:, ::-1], caps + count, *walls])


def cone(low: Points, high: Points, z0: float, z1: float) -> tuple[Points, Faces]:
    """Return the vertices and facets of a truncated cone; an end of one point is its tip.

    Args:
        low: corners at z0, counter-clockwise, n x 2, mm, or one point.
        high: corners at z1, as many as at z0, or one point.
        z0: mm.
        z1: mm, above `z0`.
    """
    a, b = len(low), len(high)
    points = np.concatenate([np.column_stack([low, np.full(a, z0)]), np.column_stack([high, np.full(b, z1)])])
    i = np.arange(max(a, b))
    j = np.roll(i, -1)
    if a == 1:
        return points, np.concatenate([np.column_stack([0 * i, j + 1, i + 1]), _fan(1, b)])
    if b == 1:
        return points, np.concatenate([np.column_stack([i, j, 0 * i + a]), _fan(0, a)[:, ::-1]])
    return points, np.concatenate([_fan(0, a)[:, ::-1], _fan(a, b), _band(0, a, a)])


def _fan(start: int, count: int) -> Faces:
    """Return the triangles of a convex loop, counter-clockwise."""
    i = np.arange(1, count - 1)
    return start + np.column_stack([0 * i, i, i + 1])


def _band(low: int, high: int, count: int) -> Faces:
    """Return the outward triangles between two equal loops, the lower one counter-clockwise."""
    i = np.arange(count)
    j = np.roll(i, -1)
    return np.concatenate(
        [np.column_stack([low + i, low + j, high + j]), np.column_stack([low + i, high + j, high + i])]
    )


def placed_points(points: Points, frame: Frame) -> Points:
    """Return local points in the outer coordinates, n x 3, mm."""
    # Column by column, not as a matrix product: its rounding depends on the row's place in the array.
    x, y, z = points[:, 0], points[:, 1], points[:, 2]
    columns = (
        x * frame.x_axis[k] + y * frame.y_axis[k] + z * frame.z_axis[k] + frame.origin[k] for k in range(3)
    )
    return np.column_stack(list(columns))


def round_frame(frame: Frame) -> tuple[Frame, float]:
    """Return the frame about this axis whose +x follows from the axis alone, and the old +x's clock there.

    Round solids are faceted from this +x, so that two coaxial ones share their facets however they
    are turned about their axis.

    Args:
        frame: the primitive's own frame.
    """
    along = frame.z_axis
    flat = math.hypot(along[0], along[1])
    x: Vec3 = (1.0, 0.0, 0.0) if flat < 1e-12 else (-along[1] / flat, along[0] / flat, 0.0)
    y = (
        along[1] * x[2] - along[2] * x[1],
        along[2] * x[0] - along[0] * x[2],
        along[0] * x[1] - along[1] * x[0],
    )
    turned = Frame(frame.origin, x, y, along)
    old = frame.x_axis
    clock = math.degrees(math.atan2(_dot(old, y), _dot(old, x)))
    return turned, clock


def _dot(a: Vec3, b: Vec3) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
