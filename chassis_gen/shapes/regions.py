"""Regions of a plane: overlapping contours resolved into simple polygons, and how narrow they get.

It works in ems or in any unit; the polygons go into both kernels as they come out of here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import manifold3d
import numpy as np

from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.facets import Points
from chassis_gen.shapes.primitives import Outline

Loops = tuple[Outline, tuple[Outline, ...]]
"""An outline, counter-clockwise, and the holes in it."""

_DECIMALS = 7
_ROUND = 32
"""Corners of the full circle with which a region is grown."""
_STEPS = 8


class Region:
    """An area of the plane, resolved: its outlines cross neither themselves nor each other.

    Args:
        contours: closed paths; where they wind round a point at all, it belongs to the region.
        even_odd: True where a point belongs to it instead that they wind round an odd number of times.
    """

    def __init__(self, contours: Sequence[Points], even_odd: bool = False) -> None:
        rule = manifold3d.FillRule.EvenOdd if even_odd else manifold3d.FillRule.NonZero
        self._area = manifold3d.CrossSection([np.asarray(c, dtype=np.float64) for c in contours], rule)

    def joined(self, others: Sequence[Region]) -> Region:
        """Return the region that this one and others cover together."""
        return _region(sum((o._area for o in others), self._area))

    def parted(self, apart: float) -> Region:
        """Return the region with edges that touch or nearly do drawn apart; the same where none do.

        Args:
            apart: edges nearer than this are drawn back by half of it each.
        """
        grown = self._area.offset(apart / 2, manifold3d.JoinType.Miter)
        counts = [(len(a.decompose()), a.num_contour()) for a in (self._area, grown)]
        return (
            self
            if counts[0] == counts[1]
            else _region(self._area.offset(-apart / 2, manifold3d.JoinType.Miter))
        )

    @property
    def area(self) -> float:
        """Return the area, square units."""
        return float(self._area.area())

    @property
    def bounds(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return lower left and upper right corner."""
        x0, y0, x1, y1 = self._area.bounds()
        return (float(x0), float(y0)), (float(x1), float(y1))

    @property
    def is_empty(self) -> bool:
        """Return whether there is nothing of it."""
        return bool(self._area.is_empty())

    def islands(self) -> tuple[Loops, ...]:
        """Return the connected parts, from left to right, then upward.

        Raises:
            GeometryError: an outline touches itself or another one.
        """
        return _sorted(_loops(part) for part in self._area.decompose())

    def strips(self, widest: float, width: float, overlap: float) -> tuple[Loops, ...]:
        """Return the connected parts with wide ones cut into upright strips that overlap.

        Args:
            widest: a part up to this width stays whole.
            width: of a strip at most.
            overlap: how far a strip reaches into each neighbour.
        """
        found: list[Loops] = []
        for part in self._area.decompose():
            x0, y0, x1, y1 = part.bounds()
            count = 1 if x1 - x0 <= widest else math.ceil((x1 - x0) / width)
            if count == 1:
                found.append(_loops(part))
                continue
            step = (x1 - x0) / count
            for k in range(count):
                a = x0 + k * step - (overlap if k else 1.0)
                b = x0 + (k + 1) * step + (overlap if k + 1 < count else 1.0)
                corners = np.array([(a, y0 - 1), (b, y0 - 1), (b, y1 + 1), (a, y1 + 1)])
                strip = part ^ manifold3d.CrossSection([corners])
                found += [_loops(piece) for piece in strip.decompose()]
        return _sorted(found)

    def thinnest(self, most: float) -> float:
        """Return the width of its thinnest stroke, looked for up to `most`.

        A stroke is too thin for a width where a disc of that diameter, moved about inside the region, can't
        fill a part as large as the disc's own square, or leaves the region in more or fewer parts. Pointed
        corners are no strokes.

        Args:
            most: widths from here up aren't told apart.
        """
        return _critical(self._area, most, -1.0)

    def narrowest_gap(self, most: float) -> float:
        """Return the width of the narrowest gap in it or between its parts, looked for up to `most`.

        Args:
            most: widths from here up aren't told apart.
        """
        return _critical(self._area, most, 1.0)


def _region(area: manifold3d.CrossSection) -> Region:
    made = Region(())
    made._area = area
    return made


def _critical(area: manifold3d.CrossSection, most: float, sense: float) -> float:
    """Return the largest width at which growing and shrinking (or the other way) by half of it loses nothing."""
    if not _loses(area, most, sense):
        return most
    low, high = 0.0, most
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (low, middle) if _loses(area, middle, sense) else (middle, high)
    return (low + high) / 2


def _loses(area: manifold3d.CrossSection, width: float, sense: float) -> bool:
    there = area.offset(sense * width / 2, manifold3d.JoinType.Round, 2.0, _ROUND)
    if there.is_empty():
        return True
    back = there.offset(-sense * width / 2, manifold3d.JoinType.Round, 2.0, _ROUND)
    # slivers along curves, where the polygons of both differ
    if len(there.decompose()) != len(area.decompose()) or there.num_contour() != area.num_contour():
        return True
    lost = (area - back) if sense < 0 else (back - area)
    return any(piece.area() >= width**2 for piece in lost.decompose())


def _loops(part: manifold3d.CrossSection) -> Loops:
    polygons = [np.asarray(p, dtype=np.float64) for p in part.to_polygons()]
    sizes = [_signed_area(p) for p in polygons]
    outer = int(np.argmax(sizes))
    rounded = [_rounded(p) for p in polygons]
    every = [point for loop in rounded for point in loop]
    if len(set(every)) != len(every):
        raise GeometryError("outline", "it touches itself or another one in a point")
    return rounded[outer], tuple(loop for k, loop in enumerate(rounded) if k != outer)


def _rounded(points: Points) -> Outline:
    return tuple((round(float(x), _DECIMALS), round(float(y), _DECIMALS)) for x, y in points)


def _signed_area(points: Points) -> float:
    x, y = points[:, 0], points[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2.0


def _sorted(parts: Iterable[Loops]) -> tuple[Loops, ...]:
    return tuple(sorted(parts, key=lambda loops: (min(loops[0]), loops)))
