"""Faces that lettering stands on: where its points lie, and the solids that letters are between two depths."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from chassis_gen.lettering.model import Island, TextOutline
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import on_grid
from chassis_gen.shapes.frame import Frame, Vec3, radial, unit
from chassis_gen.shapes.primitives import Box, Outline, Point2, Primitive, Prism, TubeSegment, Within

ABOVE = 0.5
"""How far cutters reach out of a face, mm (chosen)."""
STEEPEST = 0.6
"""Sine of the steepest slope at which letters may stand on the round surface: their sides then lean by 37 degrees
against it (chosen)."""
Points = NDArray[np.float64]


class Letter(Struct, frozen=True):
    """A part of a text on its face.

    Args:
        outline: mm; x along the face (the way clocks grow on the round surface), y up on it.
        holes: mm.
        turn: where it stands round the axis from the anchor, mm of the surface; x counts from there.
    """

    outline: Outline
    holes: tuple[Outline, ...]
    turn: float = 0.0

    @property
    def box(self) -> tuple[Point2, Point2]:
        """Return its lower left and upper right corner from the anchor, mm."""
        xs, ys = zip(*self.outline, strict=True)
        return (min(xs) + self.turn, min(ys)), (max(xs) + self.turn, max(ys))


class RoundFace(Struct, frozen=True):
    """The outer surface about an anchor: x goes the way clocks grow, y along the tube.

    Args:
        clock_deg: of the anchor.
        station: of the anchor, mm.
        radius: mm; depths count from it.
        highest: largest outer radius over the text, mm: what is cut reaches beyond it.
    """

    clock_deg: float
    station: float
    radius: float
    highest: float

    def points(self, x: Points, y: Points, depth: Points) -> Points:
        """Return points of the face as rows, mm."""
        r, turn = self.radius - depth, math.radians(self.clock_deg) + x / self.radius
        return np.column_stack([r * np.cos(turn), r * np.sin(turn), self.station + y])

    def solid(self, letter: Letter, low: float, high: float | None) -> Primitive:
        """Return a letter between two depths, planar and within a ring; None for `high` is out of the face."""
        clock = self.clock_deg + math.degrees(letter.turn / self.radius)
        inner = self.radius - low
        outer = self.highest + ABOVE if high is None else self.radius - high
        xs, ys = zip(*letter.outline, strict=True)
        half = math.degrees(math.asin(min(0.95, max(map(abs, xs)) / inner))) + 1.0
        bottom = inner * math.cos(math.radians(half)) - ABOVE
        prism = Prism(
            letter.outline,
            on_grid(bottom),
            on_grid(outer + ABOVE),
            letter.holes,
            radial(clock, self.station),
        )
        ring = TubeSegment(
            on_grid(inner),
            on_grid(outer),
            on_grid(self.station + min(ys) - ABOVE),
            on_grid(self.station + max(ys) + ABOVE),
            clock - half,
            clock + half,
        )
        return Within(prism, ring)

    def panel(self, low: Point2, high: Point2, depth: float) -> Primitive:
        """Return what is cut for a sunk panel between two corners."""
        z0, z1 = self.station + low[1], self.station + high[1]
        a, b = (self.clock_deg + math.degrees(x / self.radius) for x in (low[0], high[0]))
        inner, outer = on_grid(self.radius - depth), on_grid(self.highest + ABOVE)
        return TubeSegment(inner, outer, on_grid(z0), on_grid(z1), a, b)

    def slope(self, letter: Letter, depth: float) -> float:
        """Return the sine of the steepest slope of the surface under a letter, seen along its sides."""
        return max(abs(x) for x, _ in letter.outline) / (self.radius - depth)


class PlaneFace(Struct, frozen=True):
    """A plane face: the frame stands at the anchor, its +z points out of the material."""

    frame: Frame

    def points(self, x: Points, y: Points, depth: Points) -> Points:
        """Return points of the face as rows, mm."""
        axes = np.array([self.frame.x_axis, self.frame.y_axis, self.frame.z_axis])
        found: Points = np.column_stack([x, y, -depth]) @ axes + np.array(self.frame.origin)
        return found

    def solid(self, letter: Letter, low: float, high: float | None) -> Primitive:
        """Return a letter between two depths; None for `high` is out of the face."""
        top = ABOVE if high is None else on_grid(-high)
        return Prism(letter.outline, on_grid(-low), top, letter.holes, self.frame)

    def panel(self, low: Point2, high: Point2, depth: float) -> Primitive:
        """Return what is cut for a sunk panel between two corners."""
        corners = ((*map(on_grid, low), on_grid(-depth)), (*map(on_grid, high), ABOVE))
        return Box(_vec(corners[0]), _vec(corners[1]), self.frame)

    def slope(self, letter: Letter, depth: float) -> float:
        """Return 0: a plane has no slope."""
        return 0.0


TextFace = RoundFace | PlaneFace


def flat_face(clock_deg: float, station: float, distance: float) -> PlaneFace:
    """Return the printing flat about an anchor: x goes the way clocks grow, y along the tube.

    Args:
        clock_deg: clock of the flat, degrees.
        station: of the anchor, mm.
        distance: of the flat from the axis, mm.
    """
    return PlaneFace(radial(clock_deg, station, distance))


def end_face(station: float, clock_deg: float, from_axis: float, far: bool) -> PlaneFace:
    """Return an end face about an anchor, upright for who looks at it with the clock on top.

    Args:
        station: of the face, mm.
        clock_deg: clock that the text's top points to, degrees.
        from_axis: distance of the anchor from the axis toward that clock, mm.
        far: True for the face that looks away from the mouth.
    """
    c, s = unit(clock_deg)
    x_axis = (s, -c, 0.0) if far else (-s, c, 0.0)
    z_axis = (0.0, 0.0, 1.0 if far else -1.0)
    return PlaneFace(Frame((from_axis * c, from_axis * s, station), x_axis, (c, s, 0.0), z_axis))


class PlacedText(Struct, frozen=True):
    """A text on its face, decided.

    Args:
        id: ``lettering[0]`` and so on, its key in the build file.
        text: the text.
        section: section that it stands on.
        piece: piece that it is cut into.
        face: in words of the build file.
        style: ``engraved`` or ``raised``.
        font: name of the font.
        clock_deg: of its anchor.
        station: of its anchor, mm.
        size: height of capitals, mm.
        depth: of the letters, mm.
        length: along the line of reading, mm.
        height: of the ink across it, mm.
        stroke: thinnest stroke, mm.
        gap: narrowest gap, mm.
        area: of the ink, mm2.
        letters: what is cut for it, or what stands in its panel.
        floors: what has to be solid beneath it.
        patch: stations and clocks that it takes of the outer surface, or None on another face.
    """

    id: str
    text: str
    section: str
    piece: str
    face: str
    style: str
    font: str
    clock_deg: float
    station: float
    size: float
    depth: float
    length: float
    height: float
    stroke: float
    gap: float
    area: float
    letters: tuple[Primitive, ...]
    floors: tuple[Primitive, ...]
    patch: tuple[float, float, float, float] | None = None


def letters_on(
    outline: TextOutline, scale: float, start: bool, mirrored: bool, direction: str, bend: bool
) -> tuple[Letter, ...]:
    """Return a text's parts about its anchor: the middle of its capitals, at its middle or its beginning.

    Args:
        outline: in ems.
        scale: mm per em.
        start: True to anchor it where it begins.
        mirrored: True for a stamp.
        direction: ``round``, ``along`` or one of them ``_back``; a plane face's own is ``round``.
        bend: True to stand each part at its own clock.
    """
    (x0, _), (x1, _) = outline.low, outline.high
    beginning = x1 if outline.right_to_left else x0
    middle = beginning if start else (x0 + x1) / 2
    flip = -1.0 if mirrored else 1.0

    def placed(loop: Outline) -> Outline:
        corners = []
        for x, y in loop:
            u, v = flip * (x - middle) * scale, (y - outline.capital / 2) * scale
            corners.append(_turned(u, v, direction))
        return corners_apart(corners)

    def letter(island: Island) -> Letter:
        outer, holes = placed(island.outline), tuple(placed(h) for h in island.holes)
        if not bend:
            return Letter(outer, holes)
        xs = [x for x, _ in outer]
        turn = on_grid((min(xs) + max(xs)) / 2)
        return Letter(_shifted(outer, -turn), tuple(_shifted(h, -turn) for h in holes), turn)

    return tuple(letter(i) for i in (outline.strips if bend else outline.islands))


def corners_apart(corners: Sequence[Point2]) -> Outline:
    """Return corners on the grid, none the same as the one before it."""
    rounded = [(on_grid(x), on_grid(y)) for x, y in corners]
    return tuple(p for p, q in zip(rounded, [rounded[-1], *rounded[:-1]], strict=True) if p != q)


def text_box(letters: Sequence[Letter]) -> tuple[Point2, Point2]:
    """Return lower left and upper right corner of letters on their face, mm from the anchor."""
    boxes = [x.box for x in letters]
    low = min(b[0][0] for b in boxes), min(b[0][1] for b in boxes)
    high = max(b[1][0] for b in boxes), max(b[1][1] for b in boxes)
    return low, high


def grown(box: tuple[Point2, Point2], by: float) -> tuple[Point2, Point2]:
    """Return a box grown to all sides, mm."""
    (x0, y0), (x1, y1) = box
    return (x0 - by, y0 - by), (x1 + by, y1 + by)


def engraved(face: TextFace, letters: Sequence[Letter], depth: float) -> tuple[Primitive, ...]:
    """Return what is cut for engraved letters."""
    return tuple(face.solid(x, depth, None) for x in letters)


def raised(face: TextFace, letters: Sequence[Letter], depth: float) -> tuple[Primitive, ...]:
    """Return the letters that stand on the floor of a panel `depth` and an overlap below the face."""
    return tuple(face.solid(x, depth + 2 * OVERLAP, OVERLAP) for x in letters)


def _turned(u: float, v: float, direction: str) -> Point2:
    return {
        "round": (u, v),
        "round_back": (-u, -v),
        "along": (-v, u),
        "along_back": (v, -u),
    }[direction]


def _shifted(loop: Outline, by: float) -> Outline:
    return tuple((x + by, y) for x, y in loop)


def _vec(values: Sequence[float]) -> Vec3:
    return values[0], values[1], values[2]
