"""Electrical figures: currents that wires may carry, parts' figures, contacts, preferred values, conductivities."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import Rule, lookup, read_csv, read_rules, read_toml

ANY = "any"
"""What stands in the table of part figures where a row is for every part of a kind."""


class WireCurrent(Struct, frozen=True):
    """What the published rules let one gauge carry, A.

    Args:
        gauge_awg: American wire gauge.
        free_air: chassis wiring in free air.
        transmission: power transmission.
        single: one wire alone, aerospace rule.
        bundle: wires bundled, aerospace rule: the column for closed spaces.
        source: where the figures come from.
    """

    gauge_awg: int
    free_air: float
    transmission: float
    single: float
    bundle: float
    source: str


class PartFigure(Struct, frozen=True):
    """One electrical figure of a part kind or of one part.

    Args:
        kind: part kind.
        part: catalogue name, or `ANY`.
        name: such as ``forward_v``.
        value: in `unit`.
        unit: unit of the value.
        source: where it comes from.
    """

    kind: str
    part: str
    name: str
    value: float
    unit: str
    source: str


class ContactRow(Struct, frozen=True):
    """A contact that a part kind carries.

    Args:
        kind: part kind.
        a: name of one terminal.
        b: name of the other.
        closed_at_rest: True when it is closed until the part is worked or a plug goes in.
        source: where it comes from.
    """

    kind: str
    a: str
    b: str
    closed_at_rest: bool
    source: str


@cache
def wire_currents() -> tuple[WireCurrent, ...]:
    """Return the published currents, thickest gauge first; nothing is interpolated."""
    rows = (
        WireCurrent(
            int(row["gauge"]),
            float(row["free_air"]),
            float(row["transmission"]),
            float(row["single"]),
            float(row["bundle"]),
            row["source"],
        )
        for row in read_csv("wire_current.csv")
    )
    return tuple(sorted(rows, key=lambda r: r.gauge_awg))


def bundle_limit(gauge: int, insulation: str = "silicone") -> float | None:
    """Return the most that a wire bundled in a closed space may carry, A, or None where nothing is published.

    A gauge that isn't tabled takes the nearest thinner one's figure (MIL-STD-975 and EEE-INST-002).

    Args:
        gauge: American wire gauge.
        insulation: "silicone" or "pvc"; lesser insulation carries a share of the column.

    Raises:
        InputError: code ``unknown-insulation``.
    """
    factors = {row["insulation"]: float(row["factor"]) for row in read_csv("insulation_current.csv")}
    factor = lookup(insulation, factors, "unknown-insulation", "wire insulation")
    row = next((r for r in wire_currents() if r.gauge_awg >= gauge), None)
    return None if row is None else row.bundle * factor


@cache
def part_figures() -> tuple[PartFigure, ...]:
    """Return all electrical figures of parts."""
    return tuple(
        PartFigure(r["kind"], r["part"], r["figure"], float(r["value"]), r["unit"], r["source"])
        for r in read_csv("electrical_parts.csv")
    )


def figure_names(kind: str) -> tuple[str, ...]:
    """Return the names of the figures that a part kind can have.

    Args:
        kind: part kind.
    """
    return tuple(dict.fromkeys(f.name for f in part_figures() if f.kind == kind))


def figures_of(kind: str, part: str) -> Mapping[str, float]:
    """Return a part's electrical figures by name: its own rows over those of its kind.

    Args:
        kind: part kind.
        part: catalogue name.
    """
    rows = [f for f in part_figures() if f.kind == kind and f.part in (ANY, part)]
    return {f.name: f.value for f in sorted(rows, key=lambda f: f.part != ANY)}


@cache
def contact_rows() -> tuple[ContactRow, ...]:
    """Return the contacts that part kinds carry."""
    return tuple(
        ContactRow(r["kind"], r["a"], r["b"], r["at_rest"] == "closed", r["source"])
        for r in read_csv("contacts.csv")
    )


def preferred_values(series: str) -> tuple[float, ...]:
    """Return a series of preferred values, ascending.

    Args:
        series: ``e24`` (first decade), ``fuse`` (A) or ``resistor_power`` (W).
    """
    return tuple(sorted(float(r["value"]) for r in read_csv("preferred_values.csv") if r["series"] == series))


@cache
def conductivities() -> Mapping[str, float]:
    """Return how materials lead heat, W/(m K), by name."""
    return {r["material"]: float(r["conductivity"]) for r in read_csv("conductivities.csv")}


def electrical_rule(name: str) -> Rule:
    """Return one rule, such as "usable_share" or "film".

    Args:
        name: name of the rule.

    Raises:
        InputError: code ``unknown-rule``.
    """
    return lookup(name, read_rules("electrical_rules.toml"), "unknown-rule", "electrical rule")


@cache
def electrical_caution(code: str) -> str:
    """Return what a caution adds to its facts: usual practice, scope of a standard, whose word comes first.

    Args:
        code: code of the finding, such as ``cell-unprotected``.
    """
    return next(str(r["text"]) for r in read_toml("electrical_cautions.toml", "caution") if r["code"] == code)
