"""How the harness drawing looks, and where its words find room."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

CASING = "#3a3a3a"
BAND = ("#f6f5f1", "#eceae3")
PAINTS: Mapping[str, str] = {
    "red": "#d02a24", "black": "#1c1c1c", "white": "#ffffff", "yellow": "#f2cc1f", "green": "#2a9440",
    "blue": "#2659cc", "orange": "#ee851a", "brown": "#734825", "grey": "#9a9a9a", "gray": "#9a9a9a",
    "violet": "#8140a6", "purple": "#8140a6", "pink": "#f08eb0", "turquoise": "#2ab0a8", "clear": "#dfe8ec",
}  # fmt: skip
OTHER = "#99338c"
"""A wire whose colour isn't known."""
CLEAR = 1.0
"""A label's line keeps this far from other terminals, mm."""
STYLE = """
text { font-family: 'DejaVu Sans', Verdana, Arial, sans-serif; fill: #222222; }
.head { font-size: 5px; font-weight: bold; }
.name { font-size: 3px; font-weight: bold; }
.small { font-size: 2.5px; fill: #555555; }
.faint { font-size: 2.3px; fill: #777777; }
.terminal-name { font-size: 2.3px; }
.middle { text-anchor: middle; }
.end { text-anchor: end; }
.paper { fill: #ffffff; }
.frame { fill: none; stroke: #222222; stroke-width: 0.3; }
.joint { stroke: #b5b1a5; stroke-width: 0.25; }
.grid { stroke: #d6d2c6; stroke-width: 0.12; }
.tick { stroke: #222222; stroke-width: 0.2; }
.bracket { stroke: #222222; stroke-width: 0.4; }
.flat { fill: #dedace; }
.lane { fill: #ffffff; stroke: #b5b1a5; stroke-width: 0.12; }
.closed { stroke-dasharray: 0.8 0.6; }
.opening { fill: #ffffff; stroke: #777777; stroke-width: 0.25; stroke-dasharray: 1.2 0.8; }
.casing, .core { fill: none; stroke-linejoin: round; stroke-linecap: round; }
.drop { stroke-dasharray: 1.6 1.0; stroke-linecap: butt; }
.leader { stroke: #555555; stroke-width: 0.15; }
.label { fill: #ffffff; fill-opacity: 0.88; stroke: #b5b1a5; stroke-width: 0.12; }
.body { fill: #ffffff; fill-opacity: 0.75; stroke: #222222; stroke-width: 0.35; }
.pad { fill: #ffffff; stroke: #222222; stroke-width: 0.35; }
.tag-disc { fill: #ffffff; stroke: #222222; stroke-width: 0.2; }
.tag-number { font-size: 2.1px; text-anchor: middle; }
.swatch-casing { stroke: #3a3a3a; stroke-width: 2; }
.swatch { stroke-width: 1.5; }
"""


class Box(Struct, frozen=True):
    """A rectangle on the sheet, mm."""

    x0: float
    y0: float
    x1: float
    y1: float

    def touches(self, other: Box) -> bool:
        """Return True where two rectangles overlap."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def within(self, other: Box) -> bool:
        """Return True where this rectangle lies in another."""
        return self.x0 >= other.x0 and self.x1 <= other.x1 and self.y0 >= other.y0 and self.y1 <= other.y1

    def near_side(self, x: float) -> tuple[float, float]:
        """Return the middle of the side that faces a place across the sheet, mm."""
        return (self.x0 if self.x0 > x else self.x1 if self.x1 < x else x), (self.y0 + self.y1) / 2


def paint_of(colour: str) -> str:
    """Return what a colour in words is drawn as, ``#rrggbb``.

    Args:
        colour: such as ``red`` or ``dark red``; the first word that is known counts.
    """
    words = colour.casefold().replace("/", " ").replace("-", " ").split()
    return next((PAINTS[w] for w in words if w in PAINTS), OTHER)


def text_width(words: str, size: float) -> float:
    """Return about how wide some words are, mm; a wide sans-serif face has 0.56 of its size per letter.

    Args:
        words: the text.
        size: of the letters, mm.
    """
    return 0.56 * size * len(words)


def free_spot(
    at: tuple[float, float],
    width: float,
    height: float,
    taken: Sequence[Box],
    sheet: Box,
    points: Sequence[tuple[float, float]] = (),
) -> Box:
    """Return a rectangle near a point that touches nothing else, or the nearest one on the sheet.

    Args:
        at: the point, mm.
        width: of the rectangle, mm.
        height: of the rectangle, mm.
        taken: rectangles to keep clear of.
        sheet: where it has to lie.
        points: a line from the point to the rectangle passes none of these, mm.
    """
    x, y = at
    found = []
    for step in range(14):
        for side in (1, -1):
            for up in (0, 1, -1) if step == 0 else (step + 1, -step - 1):
                for gap in (3.0, 9.0):
                    x0 = x + gap if side > 0 else x - gap - width
                    y0 = y - height / 2 + up * height * 0.7
                    found.append(Box(x0, y0, x0 + width, y0 + height))
    on_sheet = [b for b in found if b.within(sheet)] or found
    others = [p for p in points if p != at]
    free = [b for b in on_sheet if not any(b.touches(t) for t in taken)] or on_sheet[:1]
    return next((b for b in free if all(_apart(at, b.near_side(x), p) > CLEAR for p in others)), free[0])


def _apart(a: tuple[float, float], b: tuple[float, float], p: tuple[float, float]) -> float:
    """Return the distance of a point from a line between two others, mm."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = dx * dx + dy * dy
    t = 0.0 if length == 0 else max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length))
    return math.hypot(a[0] + t * dx - p[0], a[1] + t * dy - p[1])
