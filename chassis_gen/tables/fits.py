"""Fit classes and what an uncalibrated printer is taken to do."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Literal

from msgspec import Struct

from chassis_gen.tables.reading import Rule, length_mm, lookup, read_csv, read_rules


class FitClass(Struct, frozen=True):
    """One fit class; clearances are per side, mm, and what remains after printing.

    Args:
        name: "press", "snug", "slide", "free" or a maker's own.
        clearance: value to aim at; negative is squeeze.
        low: smallest clearance that still counts as this fit.
        high: largest clearance that still counts as this fit.
        source: where the figures come from.
    """

    name: str
    clearance: float
    low: float
    high: float
    source: str


@cache
def all_fits() -> tuple[FitClass, ...]:
    """Return the fit classes, tightest first."""
    return tuple(
        FitClass(
            name=row["fit_class"],
            clearance=length_mm(row, "clearance"),
            low=length_mm(row, "low"),
            high=length_mm(row, "high"),
            source=row["source"],
        )
        for row in read_csv("fits.csv")
    )


def find_fit(name: str) -> FitClass:
    """Return the fit class of that name.

    Args:
        name: "press", "snug", "slide" or "free".

    Raises:
        InputError: code ``unknown-fit``, with the nearest known name.
    """
    return lookup(name, {fit.name: fit for fit in all_fits()}, "unknown-fit", "fit class")


def printer_rules() -> Mapping[str, Rule]:
    """Return by name what a printer is taken to do until it is measured."""
    return read_rules("printer_rules.toml")


def printer_allowance(side: Literal["inner", "outer"]) -> Rule:
    """Return the allowance of an uncalibrated printer, mm in total on the dimension.

    Args:
        side: "inner" for a hole, which prints small, or "outer" for a boss, which prints large.

    Raises:
        InputError: code ``unknown-rule``.
    """
    return lookup(f"{side}_allowance", printer_rules(), "unknown-rule", "printer rule")


def printer_tolerance(calibrated: bool) -> Rule:
    """Return the tolerance of a printed dimension, plus or minus mm.

    Args:
        calibrated: whether the printer was measured and tuned.
    """
    return printer_rules()["tuned_tolerance" if calibrated else "uncalibrated_tolerance"]
