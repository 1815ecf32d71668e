"""The exact kernel: makes the boundary solid of a primitive or a recipe for exchange files.

Importing this module loads cadquery (seconds); import it inside the function that needs it.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np

from chassis_gen.shapes import mesh
from chassis_gen.shapes.body import Body, Bounds, bounds_overlap
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.facets import Faces, Points
from chassis_gen.shapes.frame import IDENTITY, Frame, Vec3, unit
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
)
from chassis_gen.shapes.recipe import Recipe, Step

try:
    import cadquery
    from OCP.Bnd import Bnd_Box
    from OCP.BRep import BRep_Tool
    from OCP.BRepBndLib import BRepBndLib
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Copy, BRepBuilderAPI_MakeFace
    from OCP.BRepMesh import BRepMesh_IncrementalMesh
    from OCP.Standard import Standard_Failure
    from OCP.TopAbs import TopAbs_REVERSED
    from OCP.TopLoc import TopLoc_Location
except ImportError as error:
    raise ImportError(
        f"the exact kernel can't be loaded ({error}); it needs cadquery, and the system libraries "
        "libGL.so.1 and libX11.so.6 (Debian packages libgl1 and libx11-6)"
    ) from error

Shape: TypeAlias = Any
"""A cadquery ``Shape``; cadquery carries no complete types."""

NOTHING_REMOVED = 1e-6
_ANGULAR_DEFLECTION = 1.0
_WELD_DIGITS = 9
_UP = (0.0, 0.0, 1.0)
_IN_LINE = 1e-5
"""How far a hull's corners may stand beside the line or plane of their neighbours and count as in it, mm (chosen: ten
times what this kernel's sewing takes for one place)."""
_NEARLY_TOUCHING = (1e-5, 1e-4, 1e-3)
"""Faces closer than these count as one where a cut fails without it, mm (chosen)."""
_AMISS = 1e-3
"""Share of a body by which a cut may take another volume in each kernel before it has failed (chosen): facets err by
less, and what is smaller shows when the solid is held against the mesh."""
_REMOVES_NOTHING = "this cut removes nothing"
_NOTHING_LEFT = "nothing is left of the solid"


def solid(primitive: Primitive) -> Shape:
    """Return a primitive's exact solid.

    Args:
        primitive: the primitive, placed by its own frame.

    Raises:
        GeometryError: when its figures enclose no solid.
    """
    # The mesh kernel is asked first: it is cheap, and both kernels then refuse the same figures.
    mesh.solid(primitive)
    return _solid(primitive, IDENTITY)


def make(recipe: Recipe) -> Shape:
    """Return a recipe's exact solid; each run of equal steps is one general fuse, or a general cut per
    group of tools that keep apart.

    A cut with `must_touch` is held against the solid as it stands before its run of cuts.

    Args:
        recipe: the recipe.

    Raises:
        GeometryError: with the step's label, when a primitive is empty, a cut that must touch removes
            nothing, nothing is left, or the result isn't a valid solid; with the recipe's name, when the
            kernel fails.
    """
    try:
        return _made(recipe)
    except (Standard_Failure, ValueError) as error:
        raise GeometryError(recipe.name, f"the exact kernel fails: {error}") from error


def _made(recipe: Recipe) -> Shape:
    made: Shape | None = None
    body: Body | None = None
    for operation, steps in recipe.batches():
        # The mesh kernel is asked first: it is cheap, and both kernels then refuse the same figures.
        bodies = [mesh.tool(step) for step in steps]
        if operation == "add":
            tools = [_tool(step) for step in steps]
            made = _fused(tools if made is None else [made, *tools])
            _require_valid(made, steps[-1].label)
            body = bodies[0].union(*bodies[1:]) if body is None else body.union(*bodies)
        elif made is None or body is None:
            raise GeometryError(steps[0].label, "there is nothing to cut from yet")
        else:
            made = _cut(made, *_telling(body, steps, bodies))
            body = body.cut(*bodies)
        if solid_count(made) == 0:
            raise GeometryError(steps[-1].label, _NOTHING_LEFT)
    if made is None:
        raise GeometryError(recipe.name, "the recipe has no steps")
    return made


def _telling(body: Body, cuts: Sequence[Step], tools: Sequence[Body]) -> tuple[list[Step], float]:
    """Return the cuts that must touch the body and those that take something which none before them takes.

    With them comes the volume that all of them take, mm3. Half of a board's cuts are ways of wires through rooms that
    are open anyway; telling them by the mesh kernel halves the time. Where one was left out wrongly, the solid differs
    from the mesh, from which all of them are cut.

    Args:
        body: as it stands before the cuts, in the mesh kernel.
        cuts: steps that cut.
        tools: their solids in the mesh kernel.
    """
    telling: list[tuple[Step, Body]] = []
    taken = 0.0
    for cut, tool in zip(cuts, tools, strict=True):
        earlier = [t for _, t in telling if bounds_overlap(t.bounds, tool.bounds)]
        takes = body.common(tool).cut(*earlier).volume
        if cut.must_touch or takes > NOTHING_REMOVED:
            telling.append((cut, tool))
            taken += takes
    return [cut for cut, _ in telling], taken


def shape_bytes(shape: Shape) -> bytes:
    """Return a shape in the exact kernel's own binary form, which keeps every figure."""
    stream = io.BytesIO()
    shape.exportBin(stream)
    return stream.getvalue()


def shape_of(data: bytes) -> Shape:
    """Return the shape that `shape_bytes` wrote."""
    return cadquery.Shape.importBin(io.BytesIO(data))


def volume(shape: Shape) -> float:
    """Return a shape's exact volume, mm3."""
    return float(shape.Volume())


def solid_count(shape: Shape) -> int:
    """Return how many separate solids a shape holds."""
    return len(shape.Solids())


def bounds(shape: Shape) -> Bounds:
    """Return a shape's lowest and highest corner from its exact surfaces, mm.

    A tessellation that the shape may carry is left out of it.
    """
    box = Bnd_Box()
    box.SetGap(0.0)
    BRepBndLib.AddOptimal_s(shape.wrapped, box, False, False)
    x0, y0, z0, x1, y1, z1 = box.Get()
    return (x0, y0, z0), (x1, y1, z1)


def section_areas(shape: Shape, frame: Frame, stations: Sequence[float]) -> tuple[float, ...]:
    """Return the areas of a shape's sections across a frame's z axis, mm2; all in one operation.

    Args:
        shape: the shape.
        frame: the sections are parallel to its x-y plane.
        stations: the different places of the sections along its z axis, mm; none in one of the shape's faces.
    """
    low, high = bounds(shape)
    reach = 1.0 + math.dist(low, high) + max(math.dist(frame.origin, low), math.dist(frame.origin, high))
    corners = [(-reach, -reach), (reach, -reach), (reach, reach), (-reach, reach)]
    planes = [
        cadquery.Face.makeFromWires(_polygon([frame.point((x, y, z)) for x, y in corners])) for z in stations
    ]
    areas = np.zeros(len(stations))
    for face in cadquery.Compound.makeCompound(planes).intersect(shape).Faces():
        away = np.array(face.Center().toTuple()) - np.array(frame.origin)
        nearest = np.abs(np.array(stations) - away @ np.array(frame.z_axis)).argmin()
        areas[nearest] += face.Area()
    return tuple(areas.tolist())


def stl_arrays(shape: Shape, chord: float) -> tuple[Points, Faces]:
    """Return a tessellation's vertices, n x 3 in mm, and facets, m x 3, welded across faces.

    The shape itself is left without a tessellation.

    Args:
        shape: the shape.
        chord: the greatest distance of a facet from its surface, mm (absolute, not relative to size).
    """
    copy = cadquery.Shape.cast(BRepBuilderAPI_Copy(shape.wrapped, True, False).Shape())
    BRepMesh_IncrementalMesh(copy.wrapped, chord, False, _ANGULAR_DEFLECTION, False)
    patches = [_patch(face) for face in copy.Faces()]
    starts = np.cumsum([0] + [len(points) for points, _ in patches[:-1]])
    points = np.concatenate([points for points, _ in patches])
    faces = np.concatenate([start + faces for start, (_, faces) in zip(starts, patches, strict=True)])
    _, first, merged = np.unique(
        points.round(_WELD_DIGITS) + 0.0, axis=0, return_index=True, return_inverse=True
    )
    welded: Faces = merged.reshape(-1)[faces]
    a, b, c = welded.T
    return points[first], welded[(a != b) & (b != c) & (c != a)]


def _patch(face: Shape) -> tuple[Points, Faces]:
    """Return one face's own triangles, outward."""
    place = TopLoc_Location()
    triangulation = BRep_Tool.Triangulation_s(face.wrapped, place)
    if triangulation is None:
        return np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64)
    move = place.Transformation()
    nodes = (triangulation.Node(i + 1).Transformed(move) for i in range(triangulation.NbNodes()))
    points = np.array([(p.X(), p.Y(), p.Z()) for p in nodes])
    triangles = (triangulation.Triangle(i + 1).Get() for i in range(triangulation.NbTriangles()))
    faces = np.array(list(triangles), dtype=np.int64) - 1
    return points, faces[:, ::-1] if face.wrapped.Orientation() == TopAbs_REVERSED else faces


def _tool(step: Step) -> Shape:
    try:
        return _solid(step.solid, IDENTITY)
    except GeometryError as error:
        raise GeometryError(step.label, f"{error.label}: {error.why}") from error


def _fused(shapes: list[Shape]) -> Shape:
    return shapes[0].fuse(*shapes[1:]) if len(shapes) > 1 else shapes[0]


def _cut(body: Shape, steps: Sequence[Step], taken: float) -> Shape:
    """Return the body without what the steps cut, having made sure that each that must touch it lies at it.

    Faces that all but touch can make the kernel lose the whole body, leave tools out or turn a solid inside out; they
    then count as one. What comes of it is held against the mesh like any other cut.

    Args:
        body: what is cut.
        steps: that cut.
        taken: the volume that they take from the body by the mesh kernel, mm3.
    """
    if not steps:
        return body
    tools = [_tool(step) for step in steps]
    around = bounds(body)
    for step, tool in zip(steps, tools, strict=True):
        if step.must_touch and not bounds_overlap(around, bounds(tool)):
            raise GeometryError(step.label, _REMOVES_NOTHING)
    groups = _apart(tools)
    held = volume(body)
    for nearly in (None, *_NEARLY_TOUCHING):
        less = _taken_away(body, groups, nearly)
        left = [volume(one) for one in less.Solids()]
        removed = held - sum(left)
        if abs(removed - taken) <= _AMISS * held and min(left, default=0.0) >= 0.0 and less.isValid():
            must_touch = [step.label for step in steps if step.must_touch]
            if must_touch and removed <= NOTHING_REMOVED:
                raise GeometryError(must_touch[0], _REMOVES_NOTHING)
            return less
    raise GeometryError(
        steps[-1].label, f"the exact kernel can't take away what the mesh kernel does, {taken:.3f} mm3"
    )


def _taken_away(body: Shape, groups: list[list[Shape]], nearly: float | None) -> Shape:
    """Return the body without groups of tools that keep apart; nothing where the kernel gives up.

    Args:
        body: what is cut.
        groups: of tools.
        nearly: faces closer than this count as one, mm; None for the kernel's own.
    """
    try:
        for group in groups:
            body = body.cut(*group, tol=nearly)
    except (Standard_Failure, ValueError):
        return cadquery.Compound.makeCompound([])
    return body


def _apart(tools: list[Shape]) -> list[list[Shape]]:
    """Return the tools in groups of tools that don't meet each other, judged by their bounds.

    One general cut with tools that overlap in shared faces drops some of them without a word; tools that keep
    apart can safely be taken in one.
    """
    groups: list[list[tuple[Shape, Bounds]]] = []
    for tool in tools:
        around = bounds(tool)
        free = (g for g in groups if not any(bounds_overlap(around, b) for _, b in g))
        group = next(free, None)
        if group is None:
            groups.append([(tool, around)])
        else:
            group.append((tool, around))
    return [[tool for tool, _ in g] for g in groups]


def _require_valid(shape: Shape, label: str) -> None:
    if not shape.isValid():
        raise GeometryError(label, "the exact kernel made an invalid solid")


def _solid(primitive: Primitive, outer: Frame) -> Shape:
    frame = outer @ primitive.frame
    match primitive:
        case Within():
            return _within(primitive, frame)
        case Pattern():
            one = _solid(primitive.solid, IDENTITY)
            return _fused([one.moved(_location(frame @ place)) for place in primitive.frames])
        case _:
            return _local(primitive).moved(_location(frame))


def _within(primitive: Within, frame: Frame) -> Shape:
    shared = _solid(primitive.a, frame).intersect(_solid(primitive.b, frame))
    if solid_count(shared) == 0:
        raise GeometryError("within", _NOTHING_LEFT)
    _require_valid(shared, "within")
    return shared


def _local(p: Box | Cylinder | Cone | Ring | TubeSegment | Prism | Hull) -> Shape:
    """Return a primitive's solid in its own frame."""
    make_solid = cadquery.Solid
    match p:
        case Box():
            length, width, height = (high - low for low, high in zip(p.low, p.high, strict=True))
            return make_solid.makeBox(length, width, height, cadquery.Vector(*p.low))
        case Cylinder():
            return make_solid.makeCylinder(p.radius, p.z1 - p.z0, (0.0, 0.0, p.z0), _UP)
        case Cone():
            return make_solid.makeCone(p.r0, p.r1, p.z1 - p.z0, (0.0, 0.0, p.z0), _UP)
        case Ring():
            far, near = (
                cadquery.Wire.makeCircle(r, (0, 0, p.z0), _UP) for r in (p.outer_radius, p.inner_radius)
            )
            return _extruded(far, [near], p.z1 - p.z0)
        case TubeSegment():
            return _extruded(_sector(p), [], p.z1 - p.z0)
        case Prism():
            holes = [_polygon(_at(hole, p.z0)) for hole in p.holes]
            return _extruded(_polygon(_at(p.outline, p.z0)), holes, p.z1 - p.z0)
        case Hull():
            return _hull(p)


def _extruded(outer: Shape, inner: list[Shape], length: float) -> Shape:
    return cadquery.Solid.extrudeLinear(outer, inner, cadquery.Vector(0, 0, length))


def _sector(p: TubeSegment) -> Shape:
    """Return the closed wire of a tube segment's lower face."""

    def on(radius: float, clock: float) -> Vec3:
        c, s = unit(clock)
        return radius * c, radius * s, p.z0

    def arc(radius: float) -> Shape:
        clocks = (p.clock_from, (p.clock_from + p.clock_to) / 2.0, p.clock_to)
        return cadquery.Edge.makeThreePointArc(*(cadquery.Vector(*on(radius, a)) for a in clocks))

    sides = [
        cadquery.Edge.makeLine(
            cadquery.Vector(*on(p.inner_radius, a)), cadquery.Vector(*on(p.outer_radius, a))
        )
        for a in (p.clock_from, p.clock_to)
    ]
    edges = [arc(p.outer_radius), *sides] + ([arc(p.inner_radius)] if p.inner_radius > 0 else [])
    return cadquery.Wire.combine(edges)[0]


def _hull(p: Hull) -> Shape:
    """Return the solid of the mesh kernel's hull facets, those of one plane merged.

    Corners that stand in line with others would leave facets without height, which this kernel doesn't close.
    """
    points, faces = mesh.solid(Hull(p.points)).simplified(_IN_LINE).arrays()
    shell = cadquery.Shell.makeShell([_triangle(points[face]) for face in faces])
    if shell.ShapeType() != "Shell":
        raise GeometryError("hull", "the exact kernel can't close it")
    return cadquery.Solid.makeSolid(shell).clean()


def _triangle(corners: Points) -> Shape:
    """Return the face between three corners, which needs none of the repairs of other faces."""
    loop = _polygon([(x, y, z) for x, y, z in corners.tolist()])
    return cadquery.Face(BRepBuilderAPI_MakeFace(loop.wrapped, True).Face())


def _polygon(points: list[Vec3]) -> Shape:
    return cadquery.Wire.makePolygon([cadquery.Vector(*p) for p in points], close=True)


def _at(outline: Outline, z: float) -> list[Vec3]:
    return [(x, y, z) for x, y in outline]


def _location(frame: Frame) -> Shape:
    return cadquery.Location(cadquery.Plane(frame.origin, frame.x_axis, frame.z_axis))
