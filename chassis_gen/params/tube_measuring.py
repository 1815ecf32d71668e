"""A tube file of what was measured: one segment with its bores and openings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from chassis_gen.params.bore_measuring import BoreForm
from chassis_gen.params.hole_measuring import Hole
from chassis_gen.params.readings import DECIMALS, Averaged


def tube_values(
    length: float,
    outside: Averaged,
    bores: Sequence[BoreForm],
    holes: Sequence[Hole],
    material: str | None,
    title: str | None,
    source: str | None,
) -> dict[str, Any]:
    """Return the values of a tube file of one segment.

    Args:
        length: mm.
        outside: outside diameter.
        bores: from `read_bores`.
        holes: from `read_hole`.
        material: what the tube is made of, or None to keep what is there.
        title: one line, or None.
        source: who measured, or None.
    """
    segment: dict[str, Any] = {"name": "tube", "from_mouth": 0, "length": round(length, DECIMALS)}
    if material:
        segment["material"] = material
    segment["outer"] = [{"from_mouth": 0, "diameter": outside.mean}]
    segment["bores"] = [
        {
            "from_mouth": b.z0,
            "diameter": b.diameter,
            "tolerance": b.tolerance,
            "ovality": b.ovality,
            "taper": b.taper,
        }
        for b in bores
    ]
    values: dict[str, Any] = {"title": title} if title else {}
    values["source"] = source or "measured with caliper and strip"
    values["segment"] = [segment]
    if holes:
        values["opening"] = [_opening(h) for h in holes]
    return values


def _opening(hole: Hole) -> dict[str, Any]:
    row: dict[str, Any] = {"name": hole.name, "from_mouth": round(hole.station.value, DECIMALS)}
    row["from_mouth_tolerance"] = round(hole.station.range, DECIMALS)
    if hole.clock is not None:
        row["clock_deg"] = round(hole.clock.value, DECIMALS)
        row["clock_tolerance_deg"] = round(hole.clock.range, DECIMALS)
    row["diameter"] = round(hole.diameter.value, DECIMALS)
    row["diameter_tolerance"] = round(hole.diameter.range, DECIMALS)
    return row
