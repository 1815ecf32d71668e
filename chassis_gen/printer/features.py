"""The features of the gauge piece, by the number that is engraved beside each."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Literal, get_args

from msgspec import Struct

FeatureKind = Literal["inner", "outer", "z", "standing_hole", "lying_hole", "wall"]
FEATURE_KINDS: tuple[FeatureKind, ...] = get_args(FeatureKind)
Use = Literal["size", "form", "wall", "flare", "try"]


class Feature(Struct, frozen=True):
    """One thing to measure on the gauge print.

    Args:
        number: engraved beside it; also its name on the readings sheet.
        kind: kind of dimension.
        nominal: size as drawn, mm.
        what: what to measure and how, one line for people.
        use: ``size`` (goes into the fit of offset and scale), ``form`` (squareness, bow), ``wall``,
            ``flare`` (the first layer), or ``try`` (a seat or a plug to try a part in).
    """

    number: str
    kind: FeatureKind
    nominal: float
    what: str
    use: Use = "size"


STANDING_HOLES = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
LYING_HOLES = (3.0, 4.0, 5.0, 6.0, 8.0)
SLOTS = (4.0, 8.0, 12.0, 18.0, 26.0)
LONG_SLOT = 40.0
PEGS = (4.0, 6.0, 10.0)
DISC = 20.0
OCTAGON = 24.0
STEPS = (4.0, 6.0, 9.0, 13.0, 18.0)
WALLS = (0.4, 0.6, 0.8, 1.0, 1.2, 1.6)
POST_HEIGHT = 8.0
PLATE_LENGTH, PLATE_WIDTH, PLATE_THICKNESS = 110.0, 98.0, 2.0
"""Sizes of the gauge, mm: spread over those of seats, bores and screws (chosen)."""


@cache
def gauge_features() -> Mapping[str, Feature]:
    """Return the gauge's features by number, in the order of the readings sheet."""
    rows = (
        *_row(1, "standing_hole", STANDING_HOLES, "diameter of the standing hole"),
        *_row(2, "inner", SLOTS, "width of the slot, along the plate's length"),
        Feature("26", "inner", LONG_SLOT, "length of the long slot, along the plate's length"),
        *_row(3, "outer", PEGS, "diameter of the peg, above its foot"),
        Feature("34", "outer", DISC, "diameter of the disc, along the plate's length"),
        Feature("35", "outer", DISC, "diameter of the disc, across the plate"),
        Feature("36", "outer", OCTAGON, "octagon over its flats, along the plate's length"),
        Feature("37", "outer", OCTAGON, "octagon over its flats, across the plate"),
        Feature(
            "38", "outer", OCTAGON, "octagon over the sloping flats, from this mark to the opposite", "form"
        ),
        Feature("39", "outer", OCTAGON, "octagon over the other sloping flats", "form"),
        *_row(4, "lying_hole", LYING_HOLES, "diameter of the lying hole, across"),
        *_row(5, "z", STEPS, "height from the plate's underside to the top of the step"),
        *_row(6, "wall", WALLS, 'thickness of the wall; "none" where it did not print', "wall"),
        *_row(
            7,
            "z",
            (POST_HEIGHT,) * 3,
            "height of the post's top over a flat table, gauge lying loose",
            "form",
        ),
        Feature("81", "outer", PLATE_LENGTH, "length of the plate, jaws above its lowest layers"),
        Feature("82", "outer", PLATE_WIDTH, "width of the plate, jaws above its lowest layers"),
        Feature(
            "83", "outer", PLATE_WIDTH, "width of the plate at its foot, lowest layers included", "flare"
        ),
    )
    return {f.number: f for f in rows}


def _row(
    row: int, kind: FeatureKind, sizes: tuple[float, ...], what: str, use: Use = "size"
) -> tuple[Feature, ...]:
    return tuple(Feature(f"{row}{n}", kind, size, what, use) for n, size in enumerate(sizes, 1))
