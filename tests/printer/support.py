"""Simulated readings of a gauge print: a machine with a known law, a known spread and known faults."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from chassis_gen.printer.features import OCTAGON, gauge_features
from chassis_gen.printer.readings import COLUMNS

TRUTH: Mapping[str, tuple[float, float]] = {
    "inner": (0.9962, -0.14),
    "outer": (0.9962, 0.09),
    "z": (0.9991, 0.06),
    "standing_hole": (0.9962, -0.21),
    "lying_hole": (0.9962, -0.27),
    "wall": (1.0, 0.04),
}
"""Planted (scale, offset in mm) per kind: what the test's machine does, invented."""


@dataclass(frozen=True)
class Machine:
    """A simulated machine: spread of one reading and its faults, mm (skew in mm per 100 mm)."""

    sd: float = 0.02
    skew: float = 0.0
    ovality: float = 0.0
    bow: float = 0.0
    uneven: float = 0.0
    flare: float = 0.25


def readings(
    machine: Machine = Machine(),
    seed: int = 1,
    places: Sequence[int] = (1,),
    truth: Mapping[str, tuple[float, float]] = TRUTH,
) -> list[dict[str, str]]:
    """Return the rows of a filled-in sheet, read to 0.01 mm as a caliper does."""
    random = np.random.default_rng(seed)
    rows = []
    for place in places:
        for f in gauge_features().values():
            scale, offset = truth[f.kind]
            size = scale * f.nominal + offset + machine.sd * random.standard_normal()
            size += {
                "34": machine.ovality / 2,
                "35": -machine.ovality / 2,
                "38": machine.skew / 100 * OCTAGON / 2,
                "39": -machine.skew / 100 * OCTAGON / 2,
                "71": machine.bow,
                "73": machine.bow,
                "83": machine.flare,
            }.get(f.number, 0.0)
            size += machine.uneven * (place - 3) / 4 if f.kind == "z" else 0.0
            rows.append(
                dict(
                    zip(
                        COLUMNS,
                        (f.number, f.kind, f"{f.nominal:g}", f"{size:.2f}", str(place), ""),
                        strict=True,
                    )
                )
            )
    return rows


def changed(rows: list[dict[str, str]], feature: str, /, **cells: str) -> list[dict[str, str]]:
    """Return the rows with cells of one feature changed."""
    return [{**r, **cells} if r["feature"] == feature else r for r in rows]


def text_of(rows: list[dict[str, str]], delimiter: str = ",", comma: bool = False) -> str:
    """Return rows as a sheet."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, delimiter=delimiter, lineterminator="\n")
    writer.writeheader()
    for row in rows:
        number = row["reading_mm"].replace(".", ",") if comma else row["reading_mm"]
        writer.writerow({**row, "reading_mm": number})
    return text.getvalue()
