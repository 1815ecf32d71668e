"""A text's outlines: shaped, overlaps resolved once, its thinnest stroke and narrowest gap measured."""

from __future__ import annotations

from chassis_gen.lettering.bidi import runs_right_to_left
from chassis_gen.lettering.model import Island, TextOutline
from chassis_gen.lettering.shaping import shaped
from chassis_gen.problems import InputError, Problem

WIDEST = 1.25
"""An island wider than this is bent in strips, em: the widest single letters stay whole (chosen)."""
APART = 0.004
"""Edges nearer than this are drawn apart, em: 0.03 mm at capitals of 6 mm (chosen)."""
STRIP = 0.6
"""Width of a strip at most, em (chosen)."""
STRIP_OVERLAP = 0.02
"""How far a strip reaches into its neighbour, em: 0.06 mm and more from capitals of 2 mm (chosen)."""
MOST_WIDTH = 0.5
"""Strokes and gaps are measured up to this width, em."""


def text_outline(font: bytes, text: str) -> TextOutline:
    """Return the outlines of a line of text.

    Args:
        font: a TrueType or OpenType file.
        text: one line in logical order.

    Raises:
        InputError: the file is no font, it lacks a glyph, or the text can't be drawn.
    """
    from chassis_gen.shapes.errors import GeometryError
    from chassis_gen.shapes.regions import Region

    line = shaped(font, text)
    region = Region(line.contours).parted(APART)
    try:
        islands = tuple(Island(*loops) for loops in region.islands())
        strips = tuple(Island(*loops) for loops in region.strips(WIDEST, STRIP, STRIP_OVERLAP))
    except GeometryError as error:
        why = f"the letters' outlines can't be made solid: {error.why}"
        raise InputError([Problem("not-allowed", why, allowed="another text or another font")]) from None
    low, high = region.bounds
    return TextOutline(
        text,
        line.font,
        islands,
        strips,
        low,
        high,
        line.capital,
        region.thinnest(MOST_WIDTH),
        region.narrowest_gap(MOST_WIDTH),
        region.area,
        runs_right_to_left(text),
    )
