"""The mesh kernel: makes a faceted solid of a primitive or a recipe; what is printed and checked.

All of it is double precision, so that stations stay exact.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import manifold3d
import numpy as np

from chassis_gen.shapes import facets
from chassis_gen.shapes.body import (
    Body,
    Bounds,
    Component,
    Hit,
    bounds_overlap,
    from_arrays,
    require_sound,
)
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.facets import Points
from chassis_gen.shapes.frame import IDENTITY, Frame
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
from chassis_gen.shapes.recipe import Recipe, Step

__all__ = [
    "DEFAULT_CHORD",
    "Body",
    "Bounds",
    "Component",
    "GeometryError",
    "Hit",
    "from_arrays",
    "from_bytes",
    "make",
    "solid",
]

DEFAULT_CHORD = 0.01
NOTHING_REMOVED = 1e-6
_AREA_TOLERANCE = 1e-9


def from_bytes(vertices: bytes, faces: bytes, chord: float) -> Body:
    """Return the body of a mesh that is kept as bytes.

    Args:
        vertices: little-endian doubles, mm.
        faces: little-endian 32-bit vertex numbers.
        chord: chord tolerance, mm.

    Raises:
        GeometryError: when the facets don't enclose a solid.
    """
    points = np.frombuffer(vertices, dtype="<f8").reshape(-1, 3)
    return from_arrays(points, np.frombuffer(faces, dtype="<i4").reshape(-1, 3), chord, "imported mesh")


def solid(primitive: Primitive, chord: float = DEFAULT_CHORD) -> Body:
    """Return a primitive's faceted solid.

    Args:
        primitive: the primitive, placed by its own frame.
        chord: chord tolerance of round walls, mm.

    Raises:
        GeometryError: when its figures enclose no solid.
    """
    return _solid(primitive, IDENTITY, chord)


def make(recipe: Recipe, chord: float = DEFAULT_CHORD) -> Body:
    """Return a recipe's faceted solid; each run of equal steps is one boolean operation.

    A cut with `must_touch` is held against the solid as it stands before its run of cuts.

    Args:
        recipe: the recipe.
        chord: chord tolerance of round walls, mm.

    Raises:
        GeometryError: with the step's label, when a primitive is empty, a cut that must touch removes
            nothing, nothing is left, or the kernel fails.
    """
    made: Body | None = None
    for operation, steps in recipe.batches():
        tools = [tool(step, chord) for step in steps]
        if made is None and operation == "cut":
            raise GeometryError(steps[0].label, "there is nothing to cut from yet")
        if made is None:
            made = tools[0].union(*tools[1:])
        elif operation == "add":
            made = made.union(*tools)
        else:
            left = made.cut(*tools)
            _require_touch(made, left, zip(steps, tools, strict=True))
            made = left
        require_sound(made.manifold, steps[-1].label)
    if made is None:
        raise GeometryError(recipe.name, "the recipe has no steps")
    return made


def tool(step: Step, chord: float = DEFAULT_CHORD) -> Body:
    """Return a step's solid as one original, so that the kernel can tell which facets came from it.

    Args:
        step: of a recipe.
        chord: chord tolerance of round walls, mm.

    Raises:
        GeometryError: with the step's label, when its figures enclose no solid.
    """
    try:
        made = solid(step.solid, chord)
        return made if made.manifold.original_id() >= 0 else Body(made.manifold.as_original(), chord)
    except GeometryError as error:
        raise GeometryError(step.label, f"{error.label}: {error.why}") from error


def _require_touch(before: Body, after: Body, cuts: Iterable[tuple[Step, Body]]) -> None:
    """Raise for a cutter that must touch and doesn't.

    A cutter that left some of its own skin on the result has removed something; only the others
    (swallowed by a neighbouring cut, or missing the body) need a boolean of their own.
    """
    mesh = after.manifold.to_mesh64()
    starts = np.asarray(mesh.run_index)
    seen = set(np.asarray(mesh.run_original_id)[np.diff(starts) > 0].tolist())
    for step, tool in cuts:
        if not step.must_touch:
            continue
        skin = tool.manifold.original_id() in seen and bounds_overlap(before.bounds, tool.bounds)
        if not skin and before.common_volume(tool) <= NOTHING_REMOVED:
            raise GeometryError(step.label, "this cut removes nothing")


def _solid(primitive: Primitive, outer: Frame, chord: float) -> Body:
    _require_finite(primitive)
    frame = outer @ primitive.frame
    match primitive:
        case Box():
            return _box(primitive, frame, chord)
        case Cylinder():
            return _cylinder(primitive, frame, chord)
        case Cone():
            return _cone(primitive, frame, chord)
        case Ring():
            return _ring(primitive, frame, chord)
        case TubeSegment():
            return _segment(primitive, frame, chord)
        case Prism():
            return _prism(primitive, frame, chord)
        case Hull():
            return _hull(primitive, frame, chord)
        case Within():
            return _within(primitive, frame, chord)
        case Pattern():
            return _pattern(primitive, frame, chord)


def _box(p: Box, frame: Frame, chord: float) -> Body:
    for axis, low, high in zip("xyz", p.low, p.high, strict=True):
        _require(high > low, "box", f"it has no size along {axis}: from {low:g} to {high:g} mm")
    (x0, y0, z0), (x1, y1, z1) = p.low, p.high
    outline = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    return _extruded("box", [outline], z0, z1, frame, chord)


def _cylinder(p: Cylinder, frame: Frame, chord: float) -> Body:
    _require(p.radius > 0, "cylinder", f"its radius is {p.radius:g} mm")
    turned, _ = facets.round_frame(frame)
    return _extruded("cylinder", [facets.circle(p.radius, chord)], p.z0, p.z1, turned, chord)


def _ring(p: Ring, frame: Frame, chord: float) -> Body:
    _require_wall("ring", p.inner_radius, p.outer_radius, chord)
    _require(p.inner_radius > 0, "ring", f"its inner radius is {p.inner_radius:g} mm")
    turned, _ = facets.round_frame(frame)
    loops = [facets.circle(p.outer_radius, chord), facets.circle(p.inner_radius, chord)[::-1]]
    return _extruded("ring", loops, p.z0, p.z1, turned, chord)


def _segment(p: TubeSegment, frame: Frame, chord: float) -> Body:
    name = "tube segment"
    _require_wall(name, p.inner_radius, p.outer_radius, chord)
    span = p.clock_to - p.clock_from
    _require(0 < span <= 359, name, f"it spans {span:g} degrees; allowed: more than 0, up to 359")
    turned, clock = facets.round_frame(frame)
    loop = facets.sector(p.inner_radius, p.outer_radius, p.clock_from + clock, p.clock_to + clock, chord)
    return _extruded(name, [loop], p.z0, p.z1, turned, chord)


def _prism(p: Prism, frame: Frame, chord: float) -> Body:
    loops = [_wound(p.outline, 1.0), *(_wound(hole, -1.0) for hole in p.holes)]
    return _extruded("prism", loops, p.z0, p.z1, frame, chord)


def _wound(outline: Sequence[tuple[float, float]], sense: float) -> Points:
    """Return an outline as an array that runs counter-clockwise (sense 1) or clockwise (sense -1)."""
    _require(len(outline) >= 3, "prism", "an outline needs at least three points")
    loop = np.array(outline, dtype=np.float64)
    return loop if facets.signed_area(loop) * sense > 0 else loop[::-1]


def _extruded(name: str, loops: list[Points], z0: float, z1: float, frame: Frame, chord: float) -> Body:
    _require(z1 > z0, name, f"it has no length: from {z0:g} to {z1:g} mm")
    caps = np.array(manifold3d.triangulate(loops), dtype=np.int64)
    _require_simple(name, loops, caps)
    points, faces = facets.extrusion(loops, caps, z0, z1)
    return from_arrays(facets.placed_points(points, frame), faces, chord, name)


def _require_simple(name: str, loops: list[Points], caps: facets.Faces) -> None:
    """Raise where triangles overlap: their areas then add up to more than the loops enclose."""
    enclosed = sum(facets.signed_area(loop) for loop in loops)
    a, b, c = (np.concatenate(loops)[caps[:, k]] for k in range(3))
    (ux, uy), (vx, vy) = (b - a).T, (c - a).T
    covered = float(np.abs(ux * vy - uy * vx).sum()) / 2.0
    _require(enclosed > 0, name, "its outline encloses nothing")
    crossed = "its outline crosses or touches itself or a hole"
    _require(abs(covered - enclosed) <= _AREA_TOLERANCE * max(1.0, covered), name, crossed)


def _cone(p: Cone, frame: Frame, chord: float) -> Body:
    large = max(p.r0, p.r1)
    _require(min(p.r0, p.r1) >= 0 and large > 0, "cone", f"its radii are {p.r0:g} and {p.r1:g} mm")
    _require(p.z1 > p.z0, "cone", f"it has no length: from {p.z0:g} to {p.z1:g} mm")
    corners = facets.circle(large, chord)
    low, high = (corners * (r / large) if r > 0 else np.zeros((1, 2)) for r in (p.r0, p.r1))
    points, faces = facets.cone(low, high, p.z0, p.z1)
    turned, _ = facets.round_frame(frame)
    return from_arrays(facets.placed_points(points, turned), faces, chord, "cone")


def _hull(p: Hull, frame: Frame, chord: float) -> Body:
    # hulled before it is turned: there its upright faces are exactly plane
    made = manifold3d.Manifold.hull_points(np.array(p.points, dtype=np.float64).reshape(-1, 3))
    _require(made.volume() > 0, "hull", "its points lie in one plane")
    return Body(made, chord).transformed(frame)


def _within(p: Within, frame: Frame, chord: float) -> Body:
    shared = _solid(p.a, frame, chord).common(_solid(p.b, frame, chord))
    require_sound(shared.manifold, "within")
    return shared


def _pattern(p: Pattern, frame: Frame, chord: float) -> Body:
    _require(len(p.frames) > 0, "pattern", "it has no frames")
    one = _solid(p.solid, IDENTITY, chord)
    copies = [one.transformed(frame @ place) for place in p.frames]
    made = copies[0].union(*copies[1:])
    require_sound(made.manifold, "pattern")
    return made


def _require(holds: bool, label: str, why: str) -> None:
    if not holds:
        raise GeometryError(label, why)


def _require_wall(name: str, inner: float, outer: float, chord: float) -> None:
    wall = (
        f"its wall from radius {inner:g} to {outer:g} mm isn't thicker than the chord tolerance {chord:g} mm"
    )
    _require(outer - inner > chord and inner >= 0, name, wall)


def _require_finite(primitive: Primitive) -> None:
    """Raise where a primitive's own number isn't finite."""
    for name in primitive.__struct_fields__:
        value = getattr(primitive, name)
        finite = not isinstance(value, float) or math.isfinite(value)
        _require(finite, type(primitive).__name__.lower(), f"{name} is {value}")
