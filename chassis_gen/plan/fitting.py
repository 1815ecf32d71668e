"""Fitted dimensions as labelled sums: part size, fit clearance, printer, finish and test-fit terms.

Fit clearances are what remains after printing; the printer's term is added to what is drawn so that
they do remain. An uncalibrated printer contributes an allowance, a calibrated one its measured
behaviour, in which the material's shrink is part of the scale.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct, field
from msgspec.structs import replace

from chassis_gen.parts.model import Measure
from chassis_gen.plan.finish import NO_FINISH, Finish, Group
from chassis_gen.plan.model import BoreProbe, Fit, GapProbe, PlayProbe
from chassis_gen.plan.sums import (
    ADJUSTMENT,
    CHOSEN,
    CORRECTION,
    FIT_CLEARANCE,
    PART_SIZE,
    PRINTER,
    TEST_FIT,
    Dimension,
    Term,
)
from chassis_gen.tables.fits import FitClass

SAME_COMPENSATION = 1e-4
"""Compensations closer than this are one, mm: the log keeps four decimals."""


class Behaviour(Struct, frozen=True):
    """What the printer makes of one kind of dimension: printed = scale x drawn + offset.

    Args:
        words: the kind of dimension, for the sources.
        scale: printed size per drawn size; holds the material's shrink.
        offset: mm on the whole dimension (not per side).
        tolerance: plus-minus range of a printed dimension, mm.
        source: where the figures come from.
        by_slicer: True when the slicer makes up for it, so that what is drawn is what is printed.
    """

    words: str
    scale: float = 1.0
    offset: float = 0.0
    tolerance: float = 0.0
    source: str = ""
    by_slicer: bool = False

    def printed(self, drawn: float) -> float:
        """Return the size that a drawn size is expected to be printed with, mm."""
        return drawn if self.by_slicer else self.scale * drawn + self.offset

    def compensation(self, wanted: float) -> float:
        """Return drawn less wanted, mm: what to add to a wanted size so that it is printed with it."""
        return 0.0 if self.by_slicer else (wanted - self.offset) / self.scale - wanted

    def term(self, wanted: float, label: str = PRINTER, share: float = 1.0) -> Term:
        """Return the compensation of a wanted size as the one printer term of a sum.

        Args:
            wanted: size after printing, mm.
            label: the term's label, where a sum holds two printed surfaces.
            share: part of the whole dimension that the sum counts, such as a half for a radius.
        """
        value = share * self.compensation(wanted)
        elsewhere = share * replace(self, by_slicer=False).compensation(wanted) if self.by_slicer else 0.0
        return Term(label, value, f"{self.words}: {self.source}", share * self.tolerance, elsewhere=elsewhere)


class PrinterTerms(Struct, frozen=True):
    """What the printer makes of each kind of dimension.

    Args:
        inner: bores, pockets and slots.
        outer: outside dimensions.
        z: heights as printed.
        standing_hole: round holes whose axis stands up in the print.
        lying_hole: round holes whose axis lies flat in the print.
        source: where the figures come from.
        calibrated: True when the figures are measured on this printer.
    """

    inner: Behaviour
    outer: Behaviour
    z: Behaviour
    standing_hole: Behaviour
    lying_hole: Behaviour
    source: str
    calibrated: bool = False

    def hole(self, lying: bool) -> Behaviour:
        """Return the behaviour of round holes whose axis lies flat in the print, or stands up in it."""
        return self.lying_hole if lying else self.standing_hole

    def by_slicer(self, source: str) -> PrinterTerms:
        """Return the same printer with every compensation left to the slicer.

        Args:
            source: who compensates, for the terms of value 0 that stand in their place.
        """

        def left(b: Behaviour) -> Behaviour:
            return replace(b, by_slicer=True, source=f"{source} ({b.source})")

        return replace(
            self,
            inner=left(self.inner),
            outer=left(self.outer),
            z=left(self.z),
            standing_hole=left(self.standing_hole),
            lying_hole=left(self.lying_hole),
            source=source,
        )


def allowances(
    inner: float, outer: float, standing_hole: float, lying_hole: float, tolerance: float, source: str
) -> PrinterTerms:
    """Return the terms of a printer that wasn't measured: fixed amounts whatever the size, none in height.

    Args:
        inner: added to bores, pockets and slots, mm.
        outer: taken off outside dimensions, mm.
        standing_hole: added to standing round holes, mm.
        lying_hole: added to lying round holes, mm.
        tolerance: plus-minus range of a printed dimension, mm.
        source: where the figures come from.
    """

    def fixed(words: str, added: float) -> Behaviour:
        return Behaviour(words, 1.0, -added, tolerance, source)

    return PrinterTerms(
        fixed("inner dimension", inner),
        fixed("outer dimension", -outer),
        fixed("height as printed", 0.0),
        fixed("standing hole", standing_hole),
        fixed("lying hole", lying_hole),
        source,
    )


class Fitter(Struct, frozen=True):
    """Makes labelled sums with one printer, one set of fit classes and one set of test-fit adjustments.

    Args:
        classes: fit classes by name.
        printer: printer terms.
        finish: coats on the printed surfaces.
        adjustments: test-fit terms by dimension name.
        bases: by dimension name, what was made up for on the print that its first test fit was seen on, mm.
    """

    classes: Mapping[str, FitClass]
    printer: PrinterTerms
    finish: Finish = NO_FINISH
    adjustments: Mapping[str, tuple[Term, ...]] = field(default_factory=dict)
    bases: Mapping[str, float] = field(default_factory=dict)

    def inner(
        self, name: str, size: Measure, fit: str, note: str, part: str = "part", mate: float = 0.0
    ) -> Dimension:
        """Return the drawn size of a bore, pocket or slot that takes a size with a fit.

        Args:
            name: dimension name.
            size: what goes in, mm.
            fit: fit class.
            note: what the dimension is.
            part: whose size it is, for the source.
            mate: what is made up for on a printed part that goes in, mm.
        """
        c = self.classes[fit]
        source = f"{part}: {size.source}"
        terms = [
            Term(PART_SIZE, size.value, source, size.tolerance, size.uniform, -mate),
            Term(FIT_CLEARANCE, 2 * c.clearance, f"{fit}, {c.clearance:g} per side: {c.source}"),
        ]
        return self.printed_sum(name, tuple(terms), self.printer.inner, note, coats=2)

    def outer(
        self, name: str, room: Measure, fit: str, note: str, part: str = "room", mate: float = 0.0
    ) -> Dimension:
        """Return the drawn size of an outside dimension that goes into a room with a fit.

        Args:
            name: dimension name.
            room: what it goes into, mm.
            fit: fit class.
            note: what the dimension is.
            part: whose size it is, for the source.
            mate: what is made up for on a printed room, mm.
        """
        c = self.classes[fit]
        source = f"{part}: {room.source}"
        terms = [
            Term(PART_SIZE, room.value, source, room.tolerance, room.uniform, -mate),
            Term(FIT_CLEARANCE, -2 * c.clearance, f"{fit}, {c.clearance:g} per side: {c.source}"),
        ]
        return self.printed_sum(name, tuple(terms), self.printer.outer, note, coats=-2)

    def hole(self, name: str, diameter: float, source: str, note: str, lying: bool = False) -> Dimension:
        """Return the drawn diameter of a round screw, pin or wire hole.

        Args:
            name: dimension name.
            diameter: wanted diameter after printing, mm.
            source: where that figure comes from.
            note: what the hole is for.
            lying: True when the hole's axis lies flat in the print.
        """
        terms = (Term(PART_SIZE, diameter, source),)
        return self.printed_sum(name, terms, self.printer.hole(lying), note, 2, "holes")

    def printed_sum(
        self,
        name: str,
        terms: tuple[Term, ...],
        behaviour: Behaviour,
        note: str,
        coats: int = 0,
        group: Group | None = None,
    ) -> Dimension:
        """Return the drawn size of given terms with printer's term, coating and adjustments added.

        The printer's term makes up for the whole wanted size, coating included; what a test fit adds is
        added to the drawn size as it is.

        Args:
            name: dimension name.
            terms: what the size is to be after printing and coating.
            behaviour: what the printer makes of this kind of dimension.
            note: what the dimension is.
            coats: coatings that the size leaves room for: 2 for a bore, -2 for an outside, 0 for none.
            group: what kind of surface it is, for masks; None for a seat or, with negative coats, a spigot.
        """
        finish = self.finish.terms(name, coats, group or ("seats" if coats > 0 else "spigots"))
        wanted = math.fsum(t.value for t in (*terms, *finish))
        return self._adjusted(Dimension(name, (*terms, behaviour.term(wanted), *finish), note))

    def as_made(self, dimension: Dimension) -> float:
        """Return the size that a drawn dimension is expected to have after printing and coating, mm."""
        return dimension.total - dimension.compensation

    def mating(self, name: str, other: Dimension, fit: str, note: str, outer: bool) -> Dimension:
        """Return a printed size that mates with another printed size.

        The start is the other size as made: its drawn size less its own printer and finish terms. Only its
        printer's range acts on the pair, for what the other size was made for isn't there.

        Args:
            name: dimension name.
            other: the mating dimension as drawn.
            fit: fit class.
            note: what the dimension is.
            outer: True when this is the outside of the pair (a bore that goes over `other`).
        """
        size = Measure(self.as_made(other), other.spread(PRINTER), f"{other.name} as printed and coated")
        make = self.inner if outer else self.outer
        return make(name, size, fit, note, other.name, self._held(other))

    def chosen(
        self, name: str, value: float, note: str, source: str = "parameter file or its default"
    ) -> Dimension:
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
        as_printed = planned - sign * dimension.compensation / 2
        return Fit(
            dimension.name,
            kind,
            between,
            fit_class,
            (c.low, c.high),
            planned,
            as_printed,
            tuple(t.tolerance / 2 for t in dimension.terms if t.tolerance and not t.uniform),
            probe,
            dimension,
            tuple(t.tolerance / 2 for t in dimension.terms if t.tolerance and t.uniform),
        )

    def _adjusted(self, dimension: Dimension) -> Dimension:
        """Return a dimension with its adjustments; where its print was measured, that range is its printer's."""
        more = self._beyond(dimension, self.adjustments.get(dimension.name, ()))
        readings = [t for t in more if t.label == CORRECTION]
        if not readings:
            return dimension.plus(more)
        range_ = readings[-1].tolerance
        terms = (
            replace(t, tolerance=min(t.tolerance, range_)) if t.label == PRINTER else t
            for t in dimension.terms
        )
        added = (replace(t, tolerance=0.0) if t.label == CORRECTION else t for t in more)
        return replace(dimension, terms=(*terms, *added))

    def _beyond(self, dimension: Dimension, terms: tuple[Term, ...]) -> tuple[Term, ...]:
        """Return test-fit terms less what the printer's term makes up for since the first of them was seen.

        A reading on a print says what the drawn size has to be: size and clearance wanted, what was made up for
        then, and what was still asked for. So the first term in effect takes what the printer's term gave since.
        """
        basis = self.bases.get(dimension.name)
        first = next((i for i, t in enumerate(terms) if t.label in (TEST_FIT, CORRECTION)), None)
        if basis is None or first is None:
            return terms
        t = terms[first]
        now = dimension.printer_made_up if t.label == CORRECTION else dimension.pair_made_up
        if abs(now - basis) < SAME_COMPENSATION:
            return terms
        left = t.value + basis - now
        of_pair = "" if now == dimension.printer_made_up else ", less its mate's,"
        source = (
            f"{t.source}; its print asked for {t.value:+.3f} beyond a printer compensation{of_pair} of {basis:+.3f}: "
            f"beyond today's {now:+.3f} that is {left:+.3f}"
        )
        return (*terms[:first], replace(t, value=left, source=source), *terms[first + 1 :])

    def _held(self, dimension: Dimension) -> float:
        """Return what is made up for on a print, mm, as if a calibration since its test fits had not been."""
        first = next(
            (t for t in self.adjustments.get(dimension.name, ()) if t.label in (TEST_FIT, CORRECTION)), None
        )
        basis = self.bases.get(dimension.name)
        if basis is None or first is None:
            return dimension.printer_made_up
        now = dimension.printer_made_up if first.label == CORRECTION else dimension.pair_made_up
        return dimension.printer_made_up + basis - now


def adjustment(value: float, source: str) -> Term:
    """Return a test-fit term, mm."""
    return Term(ADJUSTMENT, value, source)
