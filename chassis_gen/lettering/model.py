"""Outlines of a text as plain data, in ems, so that a size can change without a font being read again."""

from __future__ import annotations

from msgspec import Struct

from chassis_gen.shapes.primitives import Outline


class Island(Struct, frozen=True):
    """One connected piece of a text's ink.

    Args:
        outline: counter-clockwise simple polygon, em; x along the line of reading, y up from the baseline.
        holes: simple polygons inside it, em.
    """

    outline: Outline
    holes: tuple[Outline, ...] = ()


class TextOutline(Struct, frozen=True):
    """A line of text as it is drawn, left to right in the order of the eye; overlaps are resolved.

    Args:
        text: the text.
        font: name of the font, for reports.
        islands: the ink.
        strips: the same ink with wide islands (joined letters) in overlapping upright strips, for bending
            round a cylinder.
        low: lower left corner of the ink, em.
        high: upper right corner of the ink, em.
        capital: height of the capital H, em.
        stroke: width of the thinnest stroke, em.
        gap: width of the narrowest gap between strokes, em.
        area: area of the ink, em2.
        right_to_left: True for a line that begins at its right end.
    """

    text: str
    font: str
    islands: tuple[Island, ...]
    strips: tuple[Island, ...]
    low: tuple[float, float]
    high: tuple[float, float]
    capital: float
    stroke: float
    gap: float
    area: float
    right_to_left: bool


class Figure(Struct, frozen=True):
    """What a drawing fills, about the middle of its box.

    Args:
        islands: connected pieces, mm; x to the right and y up as it was drawn.
        width: of its box, mm.
        height: of its box, mm.
        stroke: width of its thinnest stroke, mm; looked for up to a quarter of its size.
        gap: width of the narrowest gap in it, mm, looked for as far.
    """

    islands: tuple[Island, ...]
    width: float
    height: float
    stroke: float
    gap: float
