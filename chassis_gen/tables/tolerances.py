"""General tolerances of bought and machined parts (ISO 2768-1, linear sizes)."""

from __future__ import annotations

from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.reading import length_mm, lookup, read_csv


def linear_tolerance(size: float, tolerance_class: str = "m") -> float:
    """Return the general tolerance of a linear size, plus or minus mm (ISO 2768-1 Table 1).

    A band holds sizes over its lower and up to and including its upper limit.

    Args:
        size: nominal size, mm, 0.5 to 1000.
        tolerance_class: "f" (fine) or "m" (medium).

    Raises:
        InputError: ``unknown-tolerance-class``, or ``size-range`` for a size outside the table.
    """
    rows = read_csv("tolerances.csv")
    known = {row["tolerance_class"]: row["tolerance_class"] for row in rows}
    wanted = lookup(tolerance_class, known, "unknown-tolerance-class", "tolerance class")
    bands = [row for row in rows if row["tolerance_class"] == wanted]
    smallest, largest = length_mm(bands[0], "over"), length_mm(bands[-1], "up_to")
    if smallest <= size <= largest:
        return next(length_mm(row, "tolerance") for row in bands if size <= length_mm(row, "up_to"))
    message = "the table of general tolerances doesn't hold this size"
    allowed = f"{smallest:g} to {largest:g} mm"
    raise InputError([Problem("size-range", message, value=f"{size:g} mm", allowed=allowed)])
