"""Round cells: sizes with their limits, and what wiring adds to a bare cell."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import Rule, length_mm, lookup, read_csv, read_rules


class CellSize(Struct, frozen=True):
    """One size of round cell, lengths in mm.

    Args:
        name: "18650" or "AA".
        chemistry: "lithium-ion" or "alkaline".
        nominal_diameter: size the name stands for.
        nominal_length: size the name stands for.
        min_diameter: smallest usual.
        max_diameter: largest usual.
        min_length: shortest usual.
        max_length: longest usual, over the button.
        mass_g: usual mass, g.
        cautions: topics of ``cautions.toml`` that go with the cell.
        source: where the sizes come from.
    """

    name: str
    chemistry: str
    nominal_diameter: float
    nominal_length: float
    min_diameter: float
    max_diameter: float
    min_length: float
    max_length: float
    mass_g: float
    cautions: tuple[str, ...]
    source: str


@cache
def all_cells() -> tuple[CellSize, ...]:
    """Return every cell size tabled."""
    return tuple(_cell(row) for row in read_csv("cells.csv"))


def find_cell(name: str) -> CellSize:
    """Return the cell size of that name.

    Args:
        name: such as "18650", "18650 protected" or "AA".

    Raises:
        InputError: code ``unknown-cell``, with the nearest known name.
    """
    return lookup(name, {cell.name: cell for cell in all_cells()}, "unknown-cell", "cell size")


def pack_rules() -> Mapping[str, Rule]:
    """Return by name what tabs, insulators, sleeve, leads and springs add to a bare cell."""
    return read_rules("pack_rules.toml")


def pack_rule(name: str) -> Rule:
    """Return one allowance of a wired pack, such as "tab_per_end" or "lead_exit".

    Args:
        name: name of the allowance.

    Raises:
        InputError: code ``unknown-rule``.
    """
    return lookup(name, pack_rules(), "unknown-rule", "pack allowance")


def _cell(row: Mapping[str, str]) -> CellSize:
    return CellSize(
        name=row["name"],
        chemistry=row["chemistry"],
        nominal_diameter=length_mm(row, "nominal_diameter"),
        nominal_length=length_mm(row, "nominal_length"),
        min_diameter=length_mm(row, "min_diameter"),
        max_diameter=length_mm(row, "max_diameter"),
        min_length=length_mm(row, "min_length"),
        max_length=length_mm(row, "max_length"),
        mass_g=float(row["mass_g"]),
        cautions=tuple(row["cautions"].split(";")),
        source=row["source"],
    )
