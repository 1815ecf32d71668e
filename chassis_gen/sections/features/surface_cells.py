"""Cells of surface patterns: one solid each, to be cut from a round surface and repeated.

Every cell stands near clock 0 at station 0 and is moved by `Cell.frame`. Its own u runs round the axis the
way clocks grow, its v along the axis away from the mouth; u = v = 0 is its middle. Floors follow the surface, so a
pocket is as deep at its edges as in its middle.

             v ^   ______             seen from outside
               |  |      |
               |  | cell |
               +--------------> u
"""

from __future__ import annotations

import math

from msgspec import Struct

from chassis_gen.shapes.frame import Frame, Vec3, clocked, radial, shifted
from chassis_gen.shapes.primitives import (
    Cylinder,
    Hull,
    Outline,
    Primitive,
    Prism,
    Ring,
    TubeSegment,
    Within,
)

OVERSHOOT = 1.0
"""How far cutters reach out of the surface, mm."""
ROUND_SIDES = 12
"""Sides of a slot's half-round end (chosen: within 0.03 mm of a round 2.5 mm wide)."""
WIDEST_DEG = 50.0
"""How far to either side a flat outline may reach round the axis, degrees: beyond, its edge would be cut slanting
more than that (chosen)."""

OFF_FACETS_DEG = 0.217
"""Where the middle of a pocket stands, degrees: at clock 0 an edge of the floor's facets runs, and many outlines have
a corner in their middle; the two would differ by rounding only (chosen: no facets are as narrow)."""


class Cell(Struct, frozen=True):
    """One cell of a pattern.

    Args:
        solids: what is cut; several for an outline of several pieces.
        half_clock: how far it reaches to either side round the axis, degrees.
        half_length: how far it reaches to either side along the axis, mm.
        middle: clock that its middle stands at, degrees.
    """

    solids: tuple[Primitive, ...]
    half_clock: float
    half_length: float
    middle: float = 0.0

    def frame(self, clock: float, station: float) -> Frame:
        """Return the frame that puts the cell's middle at a place.

        Args:
            clock: degrees.
            station: mm.
        """
        return clocked(clock - self.middle, station)


def flute(radius: float, width: float, depth: float, length: float) -> Cell:
    """Return a groove along the axis with a round floor.

    Args:
        radius: of the surface, mm.
        width: at the surface, mm.
        depth: below the surface in its middle, mm; more than `least_flute_depth`.
        length: mm.
    """
    round_radius, axis = flute_round(radius, width, depth)
    bar = Cylinder(round_radius, -length / 2, length / 2, shifted(x=axis))
    return Cell((bar,), math.degrees(math.asin(width / 2 / radius)), length / 2)


def flute_round(radius: float, width: float, depth: float) -> tuple[float, float]:
    """Return the radius of a flute's floor and the distance of its centre from the tube's axis, mm.

    The floor's circle passes the surface's circle at half the width and lies `depth` below it (circle geometry).

    Args:
        radius: of the surface, mm.
        width: at the surface, mm.
        depth: mm.
    """
    half = width / 2
    rise = math.sqrt(radius**2 - half**2) - (radius - depth)
    round_radius = (rise**2 + half**2) / (2 * rise)
    return round_radius, radius - depth + round_radius


def least_flute_depth(radius: float, width: float) -> float:
    """Return the depth that a flute must exceed to leave a hollow: the sagitta of the surface below it, mm."""
    return radius - math.sqrt(max(0.0, radius**2 - (width / 2) ** 2))


def groove(radius: float, width: float, depth: float, span: float) -> Cell:
    """Return a square groove round the axis.

    Args:
        radius: of the surface, mm.
        width: along the axis, mm.
        depth: mm.
        span: clock interval that it runs over, degrees; 360 for all round.
    """
    low, high, half = radius - depth, radius + OVERSHOOT, width / 2
    if span >= 360.0:
        return Cell((Ring(low, high, -half, half),), 180.0, half)
    return Cell((TubeSegment(low, high, -half, half, -span / 2, span / 2),), span / 2, half)


def pit(radius: float, width: float, depth: float) -> Cell:
    """Return a diamond-shaped pit that narrows to a point at its floor; rows of them leave crossing ridges.

    Args:
        radius: of the surface, mm.
        width: over its corners, mm.
        depth: of its point, mm.
    """
    half = width / 2
    grown = half * (depth + OVERSHOOT) / depth
    top, floor = radius + OVERSHOOT, radius - depth
    rim: tuple[Vec3, ...] = ((top, grown, 0.0), (top, 0.0, grown), (top, -grown, 0.0), (top, 0.0, -grown))
    return Cell((Hull(((floor, 0.0, 0.0), *rim)),), _half_clock(radius, depth, half), half)


def pocket(radius: float, depth: float, pieces: tuple[tuple[Outline, tuple[Outline, ...]], ...]) -> Cell:
    """Return a pocket of an outline, straight walls and a floor that follows the surface.

    Args:
        radius: of the surface, mm.
        depth: mm.
        pieces: outline, counter-clockwise, and holes of each piece in u and v, mm.
    """
    corners = [p for outline, _ in pieces for p in outline]
    half_u = max(abs(u) for u, _ in corners)
    half_v = max(abs(v) for _, v in corners)
    low, high = radius - depth, radius + OVERSHOOT
    turn = _half_clock(radius, depth, half_u)
    middle, wide = OFF_FACETS_DEG, min(turn + 2.0, 170.0)
    shell = TubeSegment(low, high, -half_v - 1.0, half_v + 1.0, middle - wide, middle + wide)
    inward = low * math.cos(math.radians(turn)) - 0.5
    frame = radial(middle, 0.0)
    solids = tuple(
        Within(Prism(outline, inward, high + 1.0, holes, frame), shell) for outline, holes in pieces
    )
    return Cell(solids, turn, half_v, middle)


def hexagon(across: float) -> Outline:
    """Return a regular hexagon with two sides across the u axis.

    Args:
        across: over its flats, mm.
    """
    r = across / math.sqrt(3.0)
    return tuple(
        (r * math.cos(math.radians(30.0 + 60.0 * k)), r * math.sin(math.radians(30.0 + 60.0 * k)))
        for k in range(6)
    )


def stadium(width: float, length: float) -> Outline:
    """Return a slot along v with half-round ends.

    Args:
        width: mm.
        length: over its ends, mm.
    """
    r, straight = width / 2, max(length - width, 0.0) / 2
    turns = [math.pi * k / ROUND_SIDES for k in range(ROUND_SIDES + 1)]
    far = [(r * math.cos(t), straight + r * math.sin(t)) for t in turns]
    near = [(-u, -v) for u, v in far]
    return tuple([*far, *near] if straight > 0.0 else [*far[:-1], *near[:-1]])


def turned(outline: Outline, degrees: float, scale: float = 1.0) -> Outline:
    """Return an outline scaled, then turned about the middle, against the clock as seen from outside."""
    c, s = math.cos(math.radians(degrees)) * scale, math.sin(math.radians(degrees)) * scale
    return tuple((c * u - s * v, s * u + c * v) for u, v in outline)


def reaches_too_far(radius: float, depth: float, half: float) -> bool:
    """Return whether a flat outline reaches so far round the axis that its walls would slant away."""
    low = radius - depth
    return half >= low * math.sin(math.radians(WIDEST_DEG))


def _half_clock(radius: float, depth: float, half: float) -> float:
    """Return how far a straight-walled cell reaches round the axis, at its floor where that is farthest, degrees."""
    return math.degrees(math.asin(min(1.0, half / (radius - depth))))
