"""Printed plastics: density, shrink and the strain a snap may see."""

from __future__ import annotations

from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import TableError, lookup, read_csv

PROPERTIES = ("density", "shrink", "snap_strain", "layer_factor", "service_temperature")


class Figure(Struct, frozen=True):
    """One material property with its band.

    Args:
        value: value to start from, in `unit`.
        low: low end of what is published.
        high: high end of what is published.
        unit: unit of all three.
        source: where the figures come from.
    """

    value: float
    low: float
    high: float
    unit: str
    source: str


class Material(Struct, frozen=True):
    """One plastic.

    Args:
        name: such as "PETG".
        density: g/cm3.
        shrink: linear shrink of a print on cooling, %; part of a printer's allowance, not a term of its own.
        snap_strain: largest strain of a snap along the layers, as a ratio.
        layer_factor: share of that strain or strength left across layers, as a ratio.
        service_temperature: highest sensible temperature in use, C.
    """

    name: str
    density: Figure
    shrink: Figure
    snap_strain: Figure
    layer_factor: Figure
    service_temperature: Figure

    @property
    def density_g_cm3(self) -> float:
        """Density, g/cm3."""
        return self.density.value

    @property
    def snap_strain_limit(self) -> float:
        """Largest strain of a snap along the layers, as a ratio."""
        return self.snap_strain.value

    @property
    def snap_strain_across_layers(self) -> float:
        """Largest strain of a snap across the layers, as a ratio."""
        return self.snap_strain.value * self.layer_factor.value


@cache
def all_materials() -> tuple[Material, ...]:
    """Return every material tabled.

    Raises:
        TableError: when a material lacks one of its properties.
    """
    figures: dict[str, dict[str, Figure]] = {}
    for row in read_csv("materials.csv"):
        value, low, high = (float(row[column]) for column in ("value", "low", "high"))
        figure = Figure(value, low, high, row["unit"], row["source"])
        figures.setdefault(row["material"], {})[row["property"]] = figure
    for name, properties in figures.items():
        if set(properties) != set(PROPERTIES):
            raise TableError(f"materials.csv: {name} must have the properties {', '.join(PROPERTIES)}")
    return tuple(Material(name, **properties) for name, properties in figures.items())


def find_material(name: str) -> Material:
    """Return the material of that name.

    Args:
        name: such as "PETG".

    Raises:
        InputError: code ``unknown-material``, with the nearest known name.
    """
    return lookup(name, {item.name: item for item in all_materials()}, "unknown-material", "material")
