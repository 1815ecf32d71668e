"""Twist drills sold by number, letter or fraction of an inch, and millimetre drills."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import length_mm, lookup, read_csv


class Drill(Struct, frozen=True):
    """One drill.

    Args:
        name: "#29", "B", "7/32" or "2.5 mm".
        diameter: mm.
        source: where the size comes from.
    """

    name: str
    diameter: float
    source: str


@cache
def all_drills() -> Mapping[str, Drill]:
    """Return the number, letter and fraction drills by name (ASME B94.11M)."""
    return {
        row["name"]: Drill(row["name"], length_mm(row, "diameter"), row["source"])
        for row in read_csv("drills.csv")
    }


def find_drill(text: str) -> Drill:
    """Return the drill a maker names, such as "#29", "no. 29", "7/32" or "2.5 mm".

    Args:
        text: name of the drill; a millimetre drill is written with its unit or a decimal point.

    Raises:
        InputError: code ``unknown-drill``, with the nearest known name.
    """
    metric = re.fullmatch(r"\s*(\d{1,2}(?:\.\d+)?(?=\s*mm)|\d{0,2}\.\d+)\s*(?:mm)?\s*", text, re.IGNORECASE)
    if metric and float(metric[1]) > 0.0:
        return Drill(f"{float(metric[1]):g} mm", float(metric[1]), "millimetre drill, ISO 235 sizes")
    return lookup(text, all_drills(), "unknown-drill", "drill", _folded)


def _folded(name: str) -> str:
    plain = re.sub(r"[\s\"']|inch|in\b", "", name.casefold())
    return re.sub(r"^(number|no\.?|#)(?=\d)", "#", plain)
