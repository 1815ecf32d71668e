"""The labelled sums of a cell cradle: its length, the seat along the axis, and the mouth between the arms."""

from __future__ import annotations

import math

from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import CHOSEN, FIT_CLEARANCE, PART_SIZE, WALL, Dimension, Term
from chassis_gen.sections.base import Setting
from chassis_gen.sections.cell_cradle_model import SQUEEZE_RANGE, CellCradleParams, cell_of

SEAT_FIT = "slide"
USUAL_SQUEEZE = 0.3
LEAST_HOLD = 0.1
"""Squeeze per side with which the smallest cell is still held, mm: common practice, no source."""


def section_length(params: CellCradleParams, setting: Setting) -> Dimension:
    """Return walls, contact rooms, shoulders and seat as one sum.

    Raises:
        InputError: the part is unknown, neither cell nor pack, or a pack is to stand in line.
    """
    seat = seat_length_of(params, cell_of(params, setting), setting.fitter)
    source = "parameter file or its default"
    terms = (
        Term(WALL, 2 * params.end_wall, f"both end walls: {source}"),
        Term(CHOSEN, params.contact_room_near, f"contact room at the near end: {source}"),
        Term(CHOSEN, params.contact_room_far, f"contact room at the far end: {source}"),
        Term(CHOSEN, 2 * params.shoulder, f"both shoulders: {source}"),
    )
    return setting.fitter.summed(f"{params.name}.length", terms + seat.terms, "length along the axis")


def seat_length_of(params: CellCradleParams, cell: Part, fitter: Fitter) -> Dimension:
    """Return the seat's length: the longest cells in line still slide between the shoulders.

    Args:
        params: the cradle's keys.
        cell: what it holds.
        fitter: makes labelled sums.
    """
    size, n = cell.sizes["length"], params.cells
    clearance = fitter.classes[SEAT_FIT]
    terms = (
        Term(PART_SIZE, n * size.value, f"{n} x {cell.name}: {size.source}", n * size.tolerance),
        Term("longest cell", n * size.tolerance, f"{n} x upper limit of the length: {size.source}"),
        Term(
            FIT_CLEARANCE,
            2 * clearance.clearance,
            f"{SEAT_FIT}, {clearance.clearance:g} per side: {clearance.source}",
        ),
    )
    note = "between the shoulders, along the axis"
    return fitter.printed_sum(f"{params.name}.seat_length", terms, fitter.printer.inner, note, coats=2)


def mouth_width(name: str, squeeze: float, cell: Part, fitter: Fitter) -> Dimension:
    """Return the width between the arms' tips, narrower than a mean cell by the squeeze at either side.

    Args:
        name: the section's.
        squeeze: per side, mm.
        cell: what the arms hold.
        fitter: makes labelled sums.
    """
    size = cell.sizes["diameter"]
    terms = (
        Term(PART_SIZE, size.value, f"{cell.name}: {size.source}", size.tolerance),
        Term("squeeze", -2 * squeeze, f"{squeeze:g} per side: parameter file or its default"),
    )
    note = "between the arms' tips"
    return fitter.printed_sum(f"{name}.mouth_width", terms, fitter.printer.inner, note, coats=2)


def least_squeeze(diameter: Measure) -> float:
    """Return the squeeze that still holds the smallest cell, mm, rounded up to 0.01.

    Args:
        diameter: of the cell.
    """
    return math.ceil((LEAST_HOLD + diameter.tolerance / 2) * 100 - 1e-6) / 100


def squeeze_of(params: CellCradleParams, cell: Part) -> float:
    """Return the squeeze that is asked for, or else the usual one, more where cells of the sort vary, mm.

    Args:
        params: the cradle's keys.
        cell: what it holds.
    """
    if params.squeeze is not None:
        return params.squeeze
    return min(SQUEEZE_RANGE[1], max(USUAL_SQUEEZE, least_squeeze(cell.sizes["diameter"])))
