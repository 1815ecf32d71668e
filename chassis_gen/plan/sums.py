"""Labelled sums: every fitted dimension keeps its terms, each with its source.

A seat bore is `part size + fit clearance + printer compensation + finish + test-fit adjustment`;
`why` prints the terms, and a test-fit change is one more term, not an edited number.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

GRID = 2.0**-14


def on_grid(value: float) -> float:
    """Return a length rounded to 2**-14 mm, so that sums of stations are exact in double and float32."""
    return round(value / GRID) * GRID


def shown(value: float) -> str:
    """Return a length in words: what the grid of stations adds to it is left out."""
    return f"{round(value, 3):g}"


class Term(Struct, frozen=True):
    """One term of a labelled sum.

    Args:
        label: what the term is, such as ``part size`` or ``fit clearance``.
        value: mm, or the sum's own unit.
        source: where the figure comes from.
        tolerance: plus-minus range of the figure, mm; 0 where it is chosen, not measured.
        uniform: True when every value in the range is as likely as any other, False when the range is
            three standard deviations of a normal distribution.
        elsewhere: compensation that acts on the fit and isn't in the sum, mm: what the slicer makes up for in
            the term's place, or, negative, what the mating print's own sum makes up for.
    """

    label: str
    value: float
    source: str
    tolerance: float = 0.0
    uniform: bool = False
    elsewhere: float = 0.0


class Dimension(Struct, frozen=True):
    """A dimension as a labelled sum.

    Args:
        name: dotted name: section, then dimension, such as ``speaker.rim_seat_diameter``.
        terms: the terms, in the order in which they were decided.
        note: one sentence on what the dimension is.
        unit: unit of the terms.
    """

    name: str
    terms: tuple[Term, ...]
    note: str = ""
    unit: str = "mm"

    @property
    def total(self) -> float:
        """Return the sum of the terms, on the station grid."""
        return on_grid(math.fsum(t.value for t in self.terms))

    @property
    def worst_case(self) -> float:
        """Return the plus-minus range when every term sits at its limit at once, mm."""
        return math.fsum(t.tolerance for t in self.terms)

    @property
    def rss(self) -> float:
        """Return the plus-minus range as the root of the summed squares of the terms' ranges, mm."""
        return math.sqrt(math.fsum(t.tolerance**2 for t in self.terms))

    def term(self, label: str) -> float:
        """Return the sum of the terms with a label (0 when there is none)."""
        return math.fsum(t.value for t in self.terms if t.label == label)

    @property
    def compensation(self) -> float:
        """Return the sum of the terms that make up for printing and coating; see `COMPENSATION`."""
        return math.fsum(t.value for t in self.terms if t.label in COMPENSATION)

    @property
    def printer_made_up(self) -> float:
        """Return what model or slicer makes up for on this print, test fits apart, mm."""
        return math.fsum(t.value + t.elsewhere for t in self.terms if t.label == PRINTER)

    @property
    def pair_made_up(self) -> float:
        """Return the same less what is made up for on the print that it mates with, mm."""
        return math.fsum(t.value * (t.label == PRINTER) + t.elsewhere for t in self.terms)

    def spread(self, label: str) -> float:
        """Return the plus-minus range of the terms with a label (0 when there is none), mm."""
        return math.fsum(t.tolerance for t in self.terms if t.label == label)

    def plus(self, terms: Iterable[Term]) -> Dimension:
        """Return the dimension with more terms at its end."""
        return replace(self, terms=self.terms + tuple(terms))


class Basis(Struct, frozen=True):
    """What the first test fit in effect on a dimension was reckoned on.

    Args:
        entry: its number in the trial log.
        date: when it was noted.
        compensation: what was made up for on its print, mm, or None where the log doesn't say.
        printer: name of the printer, or empty where the log doesn't say.
    """

    entry: int
    date: datetime.date
    compensation: float | None
    printer: str


PART_SIZE = "part size"
FIT_CLEARANCE = "fit clearance"
PRINTER = "printer compensation"
FINISH = "finish"
ADJUSTMENT = "test-fit adjustment"
TEST_FIT: Final = "test fit"
CORRECTION: Final = "print correction"
WALL = "wall"
CHOSEN = "chosen"

COMPENSATION = (PRINTER, FINISH, TEST_FIT, CORRECTION)
"""Terms that make up for what becomes of a drawn size; none of them is left in the clearance as printed.

A trial log's entry says how far a print was from what its sum wanted, so that its term restores the wanted
clearance; an [[adjustment]] of the build file changes what is wanted.
"""
