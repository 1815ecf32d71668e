"""Plain washers: outside diameter and greatest thickness by screw size."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import length_mm, read_csv
from chassis_gen.tables.threads import Thread

UNTABLED_DIAMETER = 2.25
UNTABLED_THICKNESS = 0.3
"""Outside diameter and thickness in screw diameters where no row fits: common practice, no standard, ample."""


class Washer(Struct, frozen=True):
    """A plain washer.

    Args:
        outer_diameter: mm, nominal, which is its greatest.
        thickness: mm, greatest.
        source: where the sizes come from.
    """

    outer_diameter: float
    thickness: float
    source: str


@cache
def all_washers() -> Mapping[str, Washer]:
    """Return the tabled washers by screw size."""
    return {
        row["size"]: Washer(length_mm(row, "outer_diameter"), length_mm(row, "thickness_max"), row["source"])
        for row in read_csv("washers.csv")
    }


def washer_for(thread: Thread) -> Washer:
    """Return the plain washer of a thread.

    Args:
        thread: the screw's or rod's thread.
    """
    size = thread.designation.split("x")[0]
    if size in all_washers():
        return all_washers()[size]
    d = thread.major_diameter
    return Washer(UNTABLED_DIAMETER * d, UNTABLED_THICKNESS * d, "common practice, no standard: ample room")
