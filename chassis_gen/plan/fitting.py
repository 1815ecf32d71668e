"""Fitted dimensions as labelled sums: part size, fit clearance, printer, finish and test-fit terms.

Fit clearances are what remains after printing; the printer's term is added to what is drawn so that
they do remain. An uncalibrated printer contributes an allowance, a calibrated one its measured offset.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from chassis_gen.parts.model import Measure
from chassis_gen.plan.model import BoreProbe, Fit, GapProbe, PlayProbe
from chassis_gen.plan.sums import (
    ADJUSTMENT,
    CHOSEN,
    FINISH,
    FIT_CLEARANCE,
    PART_SIZE,
    PRINTER,
    Dimension,
    Term,
)


@dataclass(frozen=True)
class FitClass:
    """A class of fit: clearance per side after printing.

    Args:
        name: such as ``slide``.
        clearance: design value per side, mm.
        low: smallest acceptable clearance per side, mm.
        high: largest acceptable clearance per side, mm.
        source: where the figures come from.
    """

    name: str
    clearance: float
    low: float
    high: float
    source: str


@dataclass(frozen=True)
class PrinterTerms:
    """What the printer does to dimensions, mm on the whole dimension (not per side).

    Args:
        inner: added to holes, bores and pockets.
        outer: taken off outside dimensions.
        standing_hole: added to round holes whose axis stands up in the print.
        lying_hole: added to round holes whose axis lies flat in the print.
        tolerance: plus-minus range of a printed dimension.
        source: where the figures come from.
        calibrated: True when the figures are measured on this printer.
    """

    inner: float
    outer: float
    standing_hole: float
    lying_hole: float
    tolerance: float
    source: str
    calibrated: bool = False


@dataclass(frozen=True)
class Fitter:
    """Makes labelled sums with one printer, one set of fit classes and one set of test-fit adjustments.

    Args:
        classes: fit classes by name.
        printer: printer terms.
        finish: coating thickness per surface, mm.
        adjustments: test-fit terms by dimension name.
    """

    classes: Mapping[str, FitClass]
    printer: PrinterTerms
    finish: float = 0.0
    adjustments: Mapping[str, tuple[Term, ...]] = field(default_factory=dict)

    def inner(self, name: str, size: Measure, fit: str, note: str, part: str = "part") -> Dimension:
        """Return the drawn size of a bore, pocket or slot that takes a size with a fit.

        Args:
            name: dimension name.
            size: what goes in, mm.
            fit: fit class.
            note: what the dimension is.
            part: whose size it is, for the source.
        """
        c = self.classes[fit]
        terms = [
            Term(PART_SIZE, size.value, f"{part}: {size.source}", size.tolerance),
            Term(FIT_CLEARANCE, 2 * c.clearance, f"{fit}, {c.clearance:g} per side: {c.source}"),
            Term(PRINTER, self.printer.inner, f"inner dimension: {self.printer.source}", self.printer.tolerance),
        ]
        if self.finish:
            terms.append(Term(FINISH, 2 * self.finish, "coating on both sides"))
        return self._adjusted(Dimension(name, tuple(terms), note))

    def outer(self, name: str, room: Measure, fit: str, note: str, part: str = "room") -> Dimension:
        """Return the drawn size of an outside dimension that goes into a room with a fit.

        Args:
            name: dimension name.
            room: what it goes into, mm.
            fit: fit class.
            note: what the dimension is.
            part: whose size it is, for the source.
        """
        c = self.classes[fit]
        terms = [
            Term(PART_SIZE, room.value, f"{part}: {room.source}", room.tolerance),
            Term(FIT_CLEARANCE, -2 * c.clearance, f"{fit}, {c.clearance:g} per side: {c.source}"),
            Term(PRINTER, -self.printer.outer, f"outer dimension: {self.printer.source}", self.printer.tolerance),
        ]
        if self.finish:
            terms.append(Term(FINISH, -2 * self.finish, "coating on both sides"))
        return self._adjusted(Dimension(name, tuple(terms), note))

    def hole(self, name: str, diameter: float, source: str, note: str, lying: bool = False) -> Dimension:
        """Return the drawn diameter of a round screw, pin or wire hole.

        Args:
            name: dimension name.
            diameter: wanted diameter after printing, mm.
            source: where that figure comes from.
            note: what the hole is for.
            lying: True when the hole's axis lies flat in the print.
        """
        way = "lying" if lying else "standing"
        amount = self.printer.lying_hole if lying else self.printer.standing_hole
        terms = (
            Term(PART_SIZE, diameter, source),
            Term(PRINTER, amount, f"{way} hole: {self.printer.source}", self.printer.tolerance),
        )
        return self._adjusted(Dimension(name, terms, note))

    def mating(self, name: str, other: Dimension, fit: str, note: str, outer: bool) -> Dimension:
        """Return a printed size that mates with another printed size.

        The other size's own printer term is already in it, so its printed size is the starting term.

        Args:
            name: dimension name.
            other: the mating dimension as drawn.
            fit: fit class.
            note: what the dimension is.
            outer: True when this is the outside of the pair (a bore that goes over `other`).
        """
        printed = other.total - other.term(PRINTER)
        size = Measure(printed, other.worst_case, f"{other.name} as printed")
        make = self.inner if outer else self.outer
        return make(name, size, fit, note, other.name)

    def chosen(self, name: str, value: float, note: str, source: str = "parameter file or its default") -> Dimension:
        """Return a dimension that is chosen, not fitted, mm."""
        return self._adjusted(Dimension(name, (Term(CHOSEN, value, source),), note))

    def summed(self, name: str, terms: tuple[Term, ...], note: str) -> Dimension:
        """Return a dimension of given terms with the test-fit adjustments added."""
        return self._adjusted(Dimension(name, terms, note))

    def fit(
        self,
        dimension: Dimension,
        kind: str,
        between: tuple[str, str],
        fit_class: str,
        probe: PlayProbe | GapProbe | BoreProbe,
        outer: bool = False,
    ) -> Fit:
        """Return the planned fit that a dimension from `inner`, `outer` or `mating` governs.

        Args:
            dimension: the governing sum; its part-size term is the other half of the pair.
            kind: kind of fit.
            between: what goes together.
            fit_class: class the sum was made with.
            probe: how to measure it on the solids.
            outer: True when the dimension came from `outer`.
        """
        c = self.classes[fit_class]
        sign = -1.0 if outer else 1.0
        planned = sign * (dimension.total - dimension.term(PART_SIZE)) / 2
        unwanted = dimension.term(PRINTER) + dimension.term(FINISH)
        as_printed = planned - sign * unwanted / 2
        return Fit(
            dimension.name,
            kind,
            between,
            fit_class,
            (c.low, c.high),
            planned,
            as_printed,
            tuple(t.tolerance / 2 for t in dimension.terms if t.tolerance),
            probe,
            dimension,
        )

    def _adjusted(self, dimension: Dimension) -> Dimension:
        return dimension.plus(self.adjustments.get(dimension.name, ()))


def adjustment(value: float, source: str) -> Term:
    """Return a test-fit term, mm."""
    return Term(ADJUSTMENT, value, source)
