"""A faceted solid that never changes, and what can be measured on it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable
from functools import cached_property
from typing import NamedTuple

import manifold3d
import numpy as np
import numpy.typing as npt
from msgspec import Struct

from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.facets import Faces, Points, signed_area
from chassis_gen.shapes.frame import Frame, Vec3

Bounds = tuple[Vec3, Vec3]

COLLISION_VOLUME = 1e-3
PLAY_BRACKET = 0.01
PLAY_RESOLUTION = 1e-3
SWEEP_STEP = 0.2
_CONVEX_TOLERANCE = 1e-9


class Component(NamedTuple):
    """One connected shell of a body: its volume, mm3 (negative for a trapped void), and its bounds, mm."""

    volume: float
    bounds: Bounds


class Hit(NamedTuple):
    """Where a ray meets a facet: the distance from its origin, mm, and the facet's outward unit normal."""

    distance: float
    normal: Vec3


class Body(Struct, frozen=True, eq=False, dict=True):
    """A closed faceted solid.

    Args:
        manifold: the kernel's solid.
        chord: chord tolerance that its round walls were faceted with, mm.
    """

    manifold: manifold3d.Manifold
    chord: float

    @cached_property
    def volume(self) -> float:
        """Return the volume, mm3."""
        return float(self.manifold.volume())

    @property
    def area(self) -> float:
        """Return the surface area, mm2."""
        return float(self.manifold.surface_area())

    @cached_property
    def bounds(self) -> Bounds:
        """Return the lowest and the highest corner, mm; both the origin when the body is empty."""
        if self.is_empty:
            return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
        b = self.manifold.bounding_box()
        return (b[0], b[1], b[2]), (b[3], b[4], b[5])

    @property
    def is_empty(self) -> bool:
        """Return whether nothing is there."""
        return bool(self.manifold.is_empty())

    @property
    def genus(self) -> int:
        """Return the number of handles (through holes) of a body in one piece."""
        return int(self.manifold.genus())

    @property
    def is_convex(self) -> bool:
        """Return whether the body fills its convex hull."""
        return bool(self.manifold.hull().volume() <= self.volume * (1.0 + _CONVEX_TOLERANCE))

    def arrays(self) -> tuple[Points, npt.NDArray[np.int32]]:
        """Return the vertices, n x 3 in mm, and the facets, m x 3 outward counter-clockwise vertex numbers.

        Facets that meet share their vertices. Where two parts of the body touch in an edge or a point
        alone, each keeps its own vertices there.
        """
        mesh = self.manifold.to_mesh64()
        vertices = np.array(mesh.vert_properties[:, :3], dtype=np.float64, order="C")
        return vertices, np.array(mesh.tri_verts, dtype=np.int32, order="C")

    def components(self) -> tuple[Component, ...]:
        """Return the connected shells, the largest first; shells of negative volume are trapped voids."""
        vertices, faces = self.arrays()
        if len(faces) == 0:
            return ()
        _, shell = np.unique(_labels(len(vertices), faces), return_inverse=True)
        # Volumes are taken about the middle of the bounds, so that far stations cost no digits.
        a, b, c = (vertices[faces[:, k]] - vertices.mean(axis=0) for k in range(3))
        volumes = np.bincount(shell[faces[:, 0]], np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0)
        low = np.full((len(volumes), 3), np.inf)
        high = -low
        np.minimum.at(low, shell, vertices)
        np.maximum.at(high, shell, vertices)
        found = [
            Component(float(v), (_vec(lo), _vec(hi))) for v, lo, hi in zip(volumes, low, high, strict=True)
        ]
        return tuple(sorted(found, key=lambda f: (-f.volume, f.bounds)))

    def shells(self) -> tuple[Body, ...]:
        """Return the connected shells that enclose material, each as a body; trapped voids are left out."""
        vertices, faces = self.arrays()
        if len(faces) == 0:
            return ()
        shell = _labels(len(vertices), faces)[faces[:, 0]]
        found = []
        for label in np.unique(shell):
            used, own = np.unique(faces[shell == label], return_inverse=True)
            mesh = manifold3d.Mesh64(vertices[used], own.reshape(-1, 3).astype(np.uint64))
            made = manifold3d.Manifold(mesh)
            if made.volume() > 0.0:
                found.append(Body(made, self.chord))
        return tuple(found)

    def moved(self, by: Vec3) -> Body:
        """Return the body shifted by a vector, mm."""
        return Body(self.manifold.translate(by), self.chord)

    def transformed(self, frame: Frame) -> Body:
        """Return the body taken from a frame's local coordinates to the outer ones."""
        return Body(self.manifold.transform(np.array(frame.matrix_rows())), self.chord)

    def union(self, *others: Body) -> Body:
        """Return what this body and the others fill together."""
        return self._combined(others, manifold3d.OpType.Add)

    def cut(self, *others: Body) -> Body:
        """Return this body without what the others fill."""
        return self._combined(others, manifold3d.OpType.Subtract)

    def common(self, other: Body) -> Body:
        """Return what both bodies fill."""
        return self._combined((other,), manifold3d.OpType.Intersect)

    def _combined(self, others: tuple[Body, ...], how: manifold3d.OpType) -> Body:
        made = manifold3d.Manifold.batch_boolean([self.manifold, *(o.manifold for o in others)], how)
        return Body(made, max(self.chord, *(o.chord for o in others)) if others else self.chord)

    def common_volume(self, other: Body) -> float:
        """Return the volume that both bodies fill, mm3."""
        if not bounds_overlap(self.bounds, other.bounds):
            return 0.0
        return self.common(other).volume

    def gap(self, other: Body, limit: float) -> float:
        """Return the least distance to another body, mm: 0 when they touch or overlap.

        Args:
            other: the other body.
            limit: distance beyond which `limit` itself is returned, mm.
        """
        return float(self.manifold.min_gap(other.manifold, limit))

    def hull(self) -> Body:
        """Return the convex hull."""
        return Body(self.manifold.hull(), self.chord)

    def simplified(self, tolerance: float) -> Body:
        """Return the body without the corners that its surface hardly needs.

        Args:
            tolerance: how far the surface may move, mm.
        """
        return Body(self.manifold.simplify(tolerance), self.chord)

    def swept(self, by: Vec3) -> Body:
        """Return the convex hull of the body here and shifted by a vector, mm.

        For a convex body that is exactly what it passes through on the way; for any other it contains
        what it passes through.
        """
        ends = [self.manifold, self.manifold.translate(by)]
        return Body(manifold3d.Manifold.batch_hull(ends), self.chord)

    def cropped(self, low: Vec3, high: Vec3) -> Body:
        """Return the part of the body inside the box between two corners, mm."""
        size = tuple(h - lo for lo, h in zip(low, high, strict=True))
        box = manifold3d.Manifold.cube(size).translate(low)
        return Body(self.manifold ^ box, self.chord)

    def slice_polygons(self, z: float) -> tuple[Points, ...]:
        """Return the section at height z as polygons, n x 2 in mm: solid counter-clockwise, holes clockwise.

        At a flat end face the section just above it is returned.
        """
        return tuple(np.array(p) for p in self.manifold.slice(z).to_polygons())

    def slice_area(self, z: float) -> float:
        """Return the area of the section at height z, mm2."""
        return sum(signed_area(p) for p in self.slice_polygons(z))

    def section_polygons(self, frame: Frame) -> tuple[Points, ...]:
        """Return the section in a frame's x-y plane as polygons in that plane, n x 2 in mm."""
        return self.transformed(inverse(frame)).slice_polygons(0.0)

    def section_area(self, frame: Frame) -> float:
        """Return the area of the section in a frame's x-y plane, mm2."""
        return sum(signed_area(p) for p in self.section_polygons(frame))

    def rays(
        self, origins: npt.ArrayLike, directions: npt.ArrayLike, reach: float | None = None
    ) -> tuple[tuple[Hit, ...], ...]:
        """Return where each ray meets the body, nearest first.

        A ray that starts on a facet may or may not report that facet: start a little off it.

        Args:
            origins: n x 3, mm.
            directions: n x 3, of any length.
            reach: how far the rays go, mm; None lets them pass through the whole body. Short rays are
                several times faster.
        """
        starts = np.asarray(origins, dtype=np.float64).reshape(-1, 3)
        ways = np.asarray(directions, dtype=np.float64).reshape(-1, 3)
        ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
        lengths = np.full(len(starts), reach) if reach is not None else self._beyond(starts)
        ends = starts + ways * lengths[:, None]
        cast = self.manifold.ray_cast
        cases = zip(starts.tolist(), ends.tolist(), lengths.tolist(), strict=True)
        found = [(cast(start, end), length) for start, end, length in cases]
        return tuple(
            tuple([Hit(h.distance * length, tuple(h.normal)) for h in hits]) if hits else ()
            for hits, length in found
        )

    def _beyond(self, points: Points) -> npt.NDArray[np.float64]:
        """Return for each point a distance that reaches past the whole body, mm."""
        low, high = np.array(self.bounds)
        away = np.linalg.norm(points - (low + high) / 2.0, axis=1)
        past: npt.NDArray[np.float64] = away + np.linalg.norm(high - low) / 2.0 + 1.0
        return past

    def play(
        self,
        mover: Body,
        direction: Vec3,
        expected: float,
        limit: float = 5.0,
        *,
        resolution: float = PLAY_RESOLUTION,
        step: float = SWEEP_STEP,
    ) -> float:
        """Return how far a body can move along a direction before it runs into this one, mm.

        It runs into this one where they share more than `COLLISION_VOLUME`; the caller shrinks the
        mover beforehand where faceting or an interference fit asks for it. A convex mover is swept as
        the hull of its two ends, so that no wall is too thin to be met; any other is first tried as
        such a hull and then, where that touches, moved in steps.

        Args:
            mover: the body that moves, standing at the start.
            direction: the way it moves, of any length.
            expected: the planned play, mm; a result near it is found fastest.
            limit: the farthest that is looked at, mm; returned when the way is free up to there.
            resolution: how closely the end of the way is found, mm; with 2 x `PLAY_BRACKET` or more a
                play within `PLAY_BRACKET` of the expected one is returned as the expected one.
            step: step of a mover that isn't convex, mm; at most half the thinnest wall.

        Returns:
            The play, mm; 0 when they run into each other at the start (`common_volume` tells how much).
        """
        length = math.hypot(*direction)
        way: Vec3 = (direction[0] / length, direction[1] / length, direction[2] / length)
        near = self._near(mover, _scaled(way, limit))

        def sweep_free(to: float) -> bool:
            swept = mover.swept(_scaled(way, to)) if to > 0.0 else mover
            return near.common_volume(swept) <= COLLISION_VOLUME

        def place_free(at: float) -> bool:
            return near.common_volume(mover.moved(_scaled(way, at))) <= COLLISION_VOLUME

        if not place_free(0.0):
            return 0.0
        low = min(max(0.0, expected - PLAY_BRACKET), limit)
        high = min(expected + PLAY_BRACKET, limit)
        if not sweep_free(low):
            low, high = 0.0, low
        elif sweep_free(high):
            if high >= limit or sweep_free(limit):
                return limit
            low, high = high, limit
        if mover.is_convex:
            return _bisected(sweep_free, low, high, resolution)
        count = max(1, math.ceil((limit - low) / step))
        stops = [low + (limit - low) * i / count for i in range(count + 1)]
        for before, after in itertools.pairwise(stops):
            if not place_free(after):
                return _bisected(place_free, before, after, resolution)
        return limit

    def _near(self, mover: Body, way: Vec3) -> Body:
        """Return the part of this body that a mover can meet on its way."""
        low, high = mover.bounds
        margin = self.chord + 0.1
        start = tuple(lo + min(0.0, d) - margin for lo, d in zip(low, way, strict=True))
        end = tuple(hi + max(0.0, d) + margin for hi, d in zip(high, way, strict=True))
        return self.cropped(_vec(start), _vec(end))


def from_arrays(vertices: npt.ArrayLike, faces: npt.ArrayLike, chord: float, label: str = "mesh") -> Body:
    """Return the body that vertices and facets enclose.

    Args:
        vertices: n x 3, mm; facets that meet share their vertices.
        faces: m x 3 vertex numbers, counter-clockwise seen from outside.
        chord: chord tolerance of its round walls, mm.
        label: what it is for, shown in an error.

    Raises:
        GeometryError: when the facets don't enclose a solid.
    """
    points = np.array(vertices, dtype=np.float64, order="C")
    mesh = manifold3d.Mesh64(points, np.array(faces, dtype=np.uint64, order="C"))
    made = manifold3d.Manifold(mesh)
    require_sound(made, label)
    if made.volume() <= 0.0:
        raise GeometryError(label, "the facets enclose no volume or face inward")
    return Body(made, chord)


def require_sound(solid: manifold3d.Manifold, label: str) -> None:
    """Raise where the kernel reports a failed solid or one with nothing in it.

    Raises:
        GeometryError: with the label and the kernel's reason.
    """
    status = solid.status()
    if status != manifold3d.Error.NoError:
        raise GeometryError(label, f"the kernel reports {status.name}")
    if solid.is_empty():
        raise GeometryError(label, "nothing is left of the solid")


def inverse(frame: Frame) -> Frame:
    """Return the frame that takes outer coordinates to a frame's local ones."""
    o, x, y, z = frame.origin, frame.x_axis, frame.y_axis, frame.z_axis
    back = tuple(-sum(a * b for a, b in zip(axis, o, strict=True)) for axis in (x, y, z))
    return Frame(_vec(back), (x[0], y[0], z[0]), (x[1], y[1], z[1]), (x[2], y[2], z[2]))


def bounds_overlap(a: Bounds, b: Bounds) -> bool:
    """Return whether two bounding boxes share more than a face."""
    return all(a[0][k] < b[1][k] and b[0][k] < a[1][k] for k in range(3))


def _labels(count: int, faces: Faces | npt.NDArray[np.int32]) -> npt.NDArray[np.int64]:
    """Return for each vertex the least vertex number of its connected shell."""
    labels = np.arange(count)
    corners = faces.ravel()
    while True:
        least = np.repeat(labels[faces].min(axis=1), 3)
        new = labels.copy()
        np.minimum.at(new, labels[corners], least)
        np.minimum.at(new, corners, least)
        new = new[new]
        if np.array_equal(new, labels):
            return labels
        labels = new


def _bisected(free: Callable[[float], bool], low: float, high: float, resolution: float) -> float:
    """Return the middle of the last interval between a free and a blocked place."""
    while high - low > resolution:
        middle = (low + high) / 2.0
        if free(middle):
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _scaled(v: Vec3, by: float) -> Vec3:
    return v[0] * by, v[1] * by, v[2] * by


def _vec(values: Iterable[float]) -> Vec3:
    x, y, z = values
    return float(x), float(y), float(z)
