"""Usual sizes of surface patterns."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import length_mm, read_csv


class PatternSizes(Struct, frozen=True):
    """What a surface pattern measures where the maker says nothing.

    Args:
        pitch: distance of its cells, middle to middle, mm; 0 where there is one cell.
        width: of what is cut, mm; 0 for the size that it was drawn with.
        depth: mm.
        length: of a cell that is longer than wide, mm; 0 where that means nothing.
    """

    pitch: float
    width: float
    depth: float
    length: float


@cache
def pattern_sizes() -> Mapping[str, PatternSizes]:
    """Return the usual sizes of every pattern by its name."""
    return {
        row["pattern"]: PatternSizes(*(length_mm(row, key) for key in ("pitch", "width", "depth", "length")))
        for row in read_csv("surface_patterns.csv")
    }
