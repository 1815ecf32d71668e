"""Bodies of seated parts for probing, and the material round their seats."""

from __future__ import annotations

import math
from functools import lru_cache

from msgspec.structs import replace

from chassis_gen.checks.result import Solids
from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.plan.model import PlacedPart
from chassis_gen.shapes.body import Body, Bounds, bounds_overlap
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.mesh import GeometryError, solid
from chassis_gen.shapes.primitives import (
    Box,
    Cone,
    Cylinder,
    Hull,
    Outline,
    Pattern,
    Point2,
    Primitive,
    Prism,
    Ring,
    TubeSegment,
    Within,
    placed,
)

TUBE = "tube"
"""The name under which the tube takes part in gaps and pairs."""

_SHARPEST_MITRE = 4.0
_NOTHING = 1e-9


def part_bodies(part: PlacedPart, chord: float, shrink: float = 0.0) -> tuple[Body, ...]:
    """Return a seated part as one body per primitive of its envelope, in tube coordinates.

    Single primitives are nearly always convex, so that a hull is exactly what they sweep; the play of
    a union is the least play of its members. Shrinking members shrinks the union by at least as much.

    Args:
        part: the part in its seat.
        chord: chord tolerance of round walls, mm.
        shrink: how far every surface is moved inward, mm; members that vanish are left out.
    """
    members = [m for p in part.part.envelope for m in _members(p)]
    made = (_body(placed(m, part.frame), chord, shrink) for m in members)
    return tuple(b for b in made if b is not None)


def part_bounds(part: PlacedPart) -> Bounds:
    """Return the box round a seated part, mm."""
    return extent(extent_of(placed(p, part.frame)) for p in part.part.envelope)


def seat_of(part: PlacedPart, solids: Solids, margin: float) -> Body | None:
    """Return the printed material round a part, of all pieces, or None where there is none.

    Args:
        part: the part in its seat.
        solids: the build's solids.
        margin: how far beyond the part's bounds material is kept, mm.
    """
    low, high = _grown(part_bounds(part), margin)
    near = [cropped(b, low, high) for b in solids.pieces.values() if bounds_overlap(b.bounds, (low, high))]
    near = [b for b in near if not b.is_empty]
    return near[0].union(*near[1:]) if near else None


@lru_cache(maxsize=64)
def cropped(body: Body, low: Vec3, high: Vec3) -> Body:
    """Return the part of a body between two corners, evaluated once (mm)."""
    made = body.cropped(low, high)
    # The kernel evaluates late; asked for its volume it does so here and not anew in every later boolean.
    _ = made.volume
    return made


def shrunk(primitive: Primitive, by: float) -> Primitive | None:
    """Return a primitive with every surface moved inward, or None when nothing is left of it.

    Exact for boxes, bars, cones, rings, prisms and what two of those share; a hull is scaled about its
    middle along each axis of its frame, which moves the ends of its extents by `by`, slanting faces less.

    Args:
        primitive: the primitive; its frame is kept.
        by: mm.
    """
    match primitive:
        case Box():
            low = _plus(primitive.low, by)
            high = _plus(primitive.high, -by)
            left = all(b - a > _NOTHING for a, b in zip(low, high, strict=True))
            return Box(low, high, primitive.frame) if left else None
        case Within():
            a, b = shrunk(primitive.a, by), shrunk(primitive.b, by)
            return replace(primitive, a=a, b=b) if a is not None and b is not None else None
        case Pattern():
            one = shrunk(primitive.solid, by)
            return replace(primitive, solid=one) if one is not None else None
        case Hull():
            return _shrunk_hull(primitive, by)
        case _:
            shorter = replace(primitive, z0=primitive.z0 + by, z1=primitive.z1 - by)
            return _narrowed(shorter, by) if shorter.z1 - shorter.z0 > _NOTHING else None


def _narrowed(p: Cylinder | Cone | Ring | TubeSegment | Prism, by: float) -> Primitive | None:
    match p:
        case Cylinder():
            return replace(p, radius=p.radius - by) if p.radius - by > _NOTHING else None
        case Ring():
            inner, outer = p.inner_radius + by, p.outer_radius - by
            return replace(p, inner_radius=inner, outer_radius=outer) if outer - inner > _NOTHING else None
        case Cone():
            return _shrunk_cone(p, by)
        case TubeSegment():
            return _shrunk_segment(p, by)
        case Prism():
            outline = offset(p.outline, -by)
            return replace(p, outline=outline, holes=tuple(offset(h, by) for h in p.holes))


def _shrunk_cone(p: Cone, by: float) -> Cone | None:
    # p's ends are already moved in by `by`; its radii are still those of the full length.
    slope = (p.r1 - p.r0) / (p.z1 - p.z0 + 2 * by)
    inward = by * math.hypot(1.0, slope)
    r0, r1 = p.r0 + slope * by - inward, p.r1 - slope * by - inward
    return replace(p, r0=max(r0, 0.0), r1=max(r1, 0.0)) if max(r0, r1) > _NOTHING else None


def _shrunk_segment(p: TubeSegment, by: float) -> TubeSegment | None:
    inner = p.inner_radius + by if p.inner_radius > 0 else 0.0
    outer = p.outer_radius - by
    turn = math.degrees(by / (inner or outer / 2))
    left = outer - inner > _NOTHING and p.clock_to - p.clock_from > 2 * turn
    if not left:
        return None
    return replace(
        p, inner_radius=inner, outer_radius=outer, clock_from=p.clock_from + turn, clock_to=p.clock_to - turn
    )


def _shrunk_hull(p: Hull, by: float) -> Hull | None:
    low, high = (tuple(f(c) for c in zip(*p.points, strict=True)) for f in (min, max))
    halves = [(b - a) / 2 for a, b in zip(low, high, strict=True)]
    if min(halves) - by <= _NOTHING:
        return None
    middle = [(a + b) / 2 for a, b in zip(low, high, strict=True)]

    def moved(q: Vec3) -> Vec3:
        x, y, z = (m + (c - m) * (1.0 - by / h) for m, c, h in zip(middle, q, halves, strict=True))
        return x, y, z

    return replace(p, points=tuple(moved(q) for q in p.points))


def offset(outline: Outline, by: float) -> Outline:
    """Return a simple polygon with every edge moved outward, its corners mitred (plane geometry).

    Args:
        outline: corners in either sense, mm.
        by: mm; negative moves the edges inward.
    """
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, (*outline[1:], outline[0]), strict=True))
    sense = by * math.copysign(1.0, area)
    corners = zip((outline[-1], *outline[:-1]), outline, (*outline[1:], outline[0]), strict=True)
    return tuple(_mitred(before, at, after, sense) for before, at, after in corners)


def _mitred(before: Point2, at: Point2, after: Point2, by: float) -> Point2:
    n0, n1 = _right_of(before, at), _right_of(at, after)
    stretch = by / max(1.0 + n0[0] * n1[0] + n0[1] * n1[1], 2.0 / _SHARPEST_MITRE**2)
    return at[0] + (n0[0] + n1[0]) * stretch, at[1] + (n0[1] + n1[1]) * stretch


def _right_of(a: Point2, b: Point2) -> Point2:
    length = math.dist(a, b)
    return (b[1] - a[1]) / length, (a[0] - b[0]) / length


def _members(primitive: Primitive) -> tuple[Primitive, ...]:
    if not isinstance(primitive, Pattern):
        return (primitive,)
    return tuple(placed(primitive.solid, primitive.frame @ f) for f in primitive.frames)


def _body(primitive: Primitive, chord: float, shrink: float) -> Body | None:
    less = shrunk(primitive, shrink) if shrink > 0 else primitive
    if less is None:
        return None
    try:
        return solid(less, chord)
    except GeometryError:
        # An outline with edges shorter than the step may cross itself when it is moved in.
        return solid(primitive, chord)


def _grown(bounds: Bounds, by: float) -> Bounds:
    return _plus(bounds[0], -by), _plus(bounds[1], by)


def _plus(v: Vec3, by: float) -> Vec3:
    return v[0] + by, v[1] + by, v[2] + by
