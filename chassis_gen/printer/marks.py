"""Numbers engraved in the gauge: seven-segment digits of boxes, wide enough for a 0.4 mm nozzle."""

from __future__ import annotations

from chassis_gen.plan.model import OVERLAP
from chassis_gen.shapes.primitives import Box

HEIGHT, WIDTH, STROKE, GAP = 4.0, 2.5, 0.8, 1.0
"""Size of a digit, mm: a stroke of two lines of a 0.4 mm nozzle stays open (common practice, no source)."""

_SEGMENTS = {
    "0": "abcdef", "1": "m", "2": "abged", "3": "abgcd", "4": "fgbc",
    "5": "afgcd", "6": "afgedc", "7": "abc", "8": "abcdefg", "9": "abcdfg",
}  # fmt: skip


def mark_width(text: str) -> float:
    """Return how wide a number is, mm."""
    return len(text) * WIDTH + (len(text) - 1) * GAP


def mark(text: str, x: float, y: float, top: float, depth: float) -> tuple[Box, ...]:
    """Return the cutters of a number.

    Args:
        text: digits only.
        x: left end, mm.
        y: lower end, mm.
        top: height of the face that is engraved, mm.
        depth: how deep, mm.
    """
    boxes = []
    for n, digit in enumerate(text):
        left = x + n * (WIDTH + GAP)
        for segment in _SEGMENTS[digit]:
            x0, y0, x1, y1 = _segment(segment)
            boxes.append(Box((left + x0, y + y0, top - depth), (left + x1, y + y1, top + OVERLAP)))
    return tuple(boxes)


def _segment(name: str) -> tuple[float, float, float, float]:
    """Return a segment's box; upright ones reach over the middle, so that they never meet in just an edge."""
    low, high = HEIGHT / 2 - STROKE / 2, HEIGHT / 2 + STROKE / 2
    return {
        "a": (0.0, HEIGHT - STROKE, WIDTH, HEIGHT),
        "b": (WIDTH - STROKE, low, WIDTH, HEIGHT),
        "c": (WIDTH - STROKE, 0.0, WIDTH, high),
        "d": (0.0, 0.0, WIDTH, STROKE),
        "e": (0.0, 0.0, STROKE, high),
        "f": (0.0, low, STROKE, HEIGHT),
        "g": (0.0, low, WIDTH, high),
        "m": (WIDTH / 2 - STROKE / 2, 0.0, WIDTH / 2 + STROKE / 2, HEIGHT),
    }[name]
