"""Primitive solids as plain frozen data: no geometry kernel is imported here.

Every primitive has a `frame` that places it; lengths are mm, angles degrees. In its own frame a
round or extruded primitive runs from `z0` to `z1` along +z. Clock angles of a tube segment count
from the frame's +x toward its +y.
"""

from __future__ import annotations

from typing import TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.shapes.frame import IDENTITY, Frame, Vec3

Point2 = tuple[float, float]
Outline = tuple[Point2, ...]


class Box(Struct, frozen=True):
    """A rectangular block between two opposite corners, mm, in its frame."""

    low: Vec3
    high: Vec3
    frame: Frame = IDENTITY


class Cylinder(Struct, frozen=True):
    """A round bar of a radius from z0 to z1, mm, about its frame's z axis."""

    radius: float
    z0: float
    z1: float
    frame: Frame = IDENTITY


class Cone(Struct, frozen=True):
    """A truncated cone of radius r0 at z0 and r1 at z1, mm; one radius may be 0."""

    r0: float
    r1: float
    z0: float
    z1: float
    frame: Frame = IDENTITY


class Ring(Struct, frozen=True):
    """A full hollow cylinder between two radii from z0 to z1, mm."""

    inner_radius: float
    outer_radius: float
    z0: float
    z1: float
    frame: Frame = IDENTITY


class TubeSegment(Struct, frozen=True):
    """A sector of a ring between two radii and two clock angles, z0 to z1.

    Args:
        inner_radius: mm; 0 gives a wedge.
        outer_radius: mm.
        z0: mm.
        z1: mm.
        clock_from: degrees.
        clock_to: degrees, more than `clock_from` and at most 359 more.
    """

    inner_radius: float
    outer_radius: float
    z0: float
    z1: float
    clock_from: float
    clock_to: float
    frame: Frame = IDENTITY


class Prism(Struct, frozen=True):
    """A straight extrusion of a 2-D outline with holes from z0 to z1.

    Args:
        outline: counter-clockwise simple polygon, mm.
        holes: simple polygons inside the outline that don't touch it or each other, mm.
    """

    outline: Outline
    z0: float
    z1: float
    holes: tuple[Outline, ...] = ()
    frame: Frame = IDENTITY


class Hull(Struct, frozen=True):
    """The convex hull of four or more points that are not all in one plane, mm."""

    points: tuple[Vec3, ...]
    frame: Frame = IDENTITY


class Within(Struct, frozen=True):
    """What two solids share; both stand in this primitive's frame."""

    a: Primitive
    b: Primitive
    frame: Frame = IDENTITY


class Pattern(Struct, frozen=True):
    """One solid repeated at several frames (a union of the copies)."""

    solid: Primitive
    frames: tuple[Frame, ...]
    frame: Frame = IDENTITY


Primitive: TypeAlias = Box | Cylinder | Cone | Ring | TubeSegment | Prism | Hull | Within | Pattern


def placed(solid: Primitive, frame: Frame) -> Primitive:
    """Return the primitive with its own frame taken inside another frame."""
    return replace(solid, frame=frame @ solid.frame)


def centred_box(size: Vec3, frame: Frame = IDENTITY, z0: float = 0.0) -> Box:
    """Return a box centred in x and y that runs from z0 to z0 + size[2], mm."""
    return Box((-size[0] / 2, -size[1] / 2, z0), (size[0] / 2, size[1] / 2, z0 + size[2]), frame)
