"""Stock tubes whose bores suit a chassis; a real bore is measured before printing."""

from __future__ import annotations

from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import length_mm, lookup, read_csv


class StockTube(Struct, frozen=True):
    """One stock tube, lengths in mm.

    Args:
        name: such as "copper 1 1/4 L" or "metric 30 x 2".
        material: what it is made of.
        outer_diameter: outside diameter.
        wall: wall thickness.
        bore_diameter: inside diameter.
        source: where the sizes come from.
    """

    name: str
    material: str
    outer_diameter: float
    wall: float
    bore_diameter: float
    source: str


@cache
def all_tubes() -> tuple[StockTube, ...]:
    """Return every stock tube tabled."""
    return tuple(
        StockTube(
            name=row["name"],
            material=row["material"],
            outer_diameter=length_mm(row, "outer_diameter"),
            wall=length_mm(row, "wall"),
            bore_diameter=length_mm(row, "bore_diameter"),
            source=row["source"],
        )
        for row in read_csv("tubes.csv")
    )


def find_tube(name: str) -> StockTube:
    """Return the stock tube of that name.

    Args:
        name: such as "copper 1 1/4 L" or "metric 30 x 2"; spaces and case don't matter.

    Raises:
        InputError: code ``unknown-tube``, with the nearest known name.
    """
    known = {tube.name: tube for tube in all_tubes()}
    return lookup(name, known, "unknown-tube", "stock tube", lambda text: " ".join(text.casefold().split()))
