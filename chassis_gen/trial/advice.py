"""Which reading would lower the chance of failure most: ranked by what it takes out of the fits' variances.

A clearance per side is half a diameter, so each term of a labelled sum acts on it with a sensitivity of one half.
A reading replaces a term's range by the reading's own error; the seat then follows the reading, so that the
clearance stays where it was planned and only its spread shrinks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.checks.fits import share_that_fits
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import Fit
from chassis_gen.plan.sums import PRINTER, Term
from chassis_gen.problems import quoted
from chassis_gen.tables.fits import printer_tolerance
from chassis_gen.tables.trial import trial_rule

SENSITIVITY = 0.5
"""Of a clearance per side to a term of its diameter."""

SIGMAS_IN_RANGE = 3.0
LIKE = 1e-6
"""Figures that are closer than this are the same size, mm."""
_AS_PRINTED = " as printed and coated"
_AS_MADE = " as made"
_TUBE = "tube bore"


class Advice(Struct, frozen=True):
    """One reading that could be taken.

    Args:
        kind: ``caliper`` or ``gauge``.
        what: what is measured or printed.
        command: what to type once it is read.
        dimensions: the sums that it acts on.
        variance_share: share of those clearances' variance that it takes out, 0 to 1, the largest.
        before: share of chassis whose fits all fit, now.
        after: the same, expected after the reading.
        source: where the reading's error comes from.
    """

    kind: str
    what: str
    command: str
    dimensions: tuple[str, ...]
    variance_share: float
    before: float
    after: float
    source: str

    @property
    def gain(self) -> float:
        """Return how much the yield is expected to grow."""
        return self.after - self.before


def advice(plan: ChassisPlan, build: str) -> tuple[Advice, ...]:
    """Return the readings that shrink any fit's spread, the most useful first.

    Args:
        plan: the build.
        build: its name, for the commands.
    """
    fits = _governing(plan.fits)
    before = yield_of(fits)
    caliper, tuned = trial_rule("caliper_tolerance"), printer_tolerance(True)
    found = []
    for size, fit in _part_terms(fits):
        what, command = _reading(plan, size, fit, build)

        def read(term: Term, size: Term = size) -> Term:
            smaller = _same_size(term, size) and term.tolerance > caliper.value
            return replace(term, tolerance=caliper.value, uniform=False) if smaller else term

        found.append(_advice("caliper", what, command, fits, before, read, caliper.source))
    if not plan.calibrated:

        def gauged(term: Term) -> Term:
            smaller = _of_printer(term) and term.tolerance > tuned.value
            return replace(term, tolerance=tuned.value) if smaller else term

        command = f"chassis-gen printer gauge {quoted(plan.printer or 'PRINTER')}"
        found.append(
            _advice("gauge", f"gauge of {plan.printer}", command, fits, before, gauged, tuned.source)
        )
        for fit in fits:
            command = _note(build, fit)
            what = f"a short ring of {fit.dimension.name}, printed and measured"
            found.append(
                _advice("gauge", what, command, fits, before, gauged, tuned.source, fit.dimension.name)
            )
    useful = {a.what: a for a in found if a.dimensions}
    return tuple(sorted(useful.values(), key=lambda a: (-a.after, -a.variance_share, a.what)))


def yield_of(fits: Sequence[Fit]) -> float:
    """Return the share of chassis whose fits all fit, taken as independent.

    Args:
        fits: one per governing sum.
    """
    return math.prod(share_that_fits(f) for f in fits)


def _governing(fits: Sequence[Fit]) -> tuple[Fit, ...]:
    """Return one fit per governing sum: fits of one sum fail together."""
    worst: dict[str, Fit] = {}
    for f in fits:
        held = worst.get(f.dimension.name)
        if held is None or share_that_fits(f) < share_that_fits(held):
            worst[f.dimension.name] = f
    return tuple(worst.values())


def _part_terms(fits: Sequence[Fit]) -> list[tuple[Term, Fit]]:
    """Return the distinct sizes with a range that aren't printed, each with a fit that it acts on."""
    found: list[tuple[Term, Fit]] = []
    for f in fits:
        for t in f.dimension.terms:
            if t.tolerance and not _of_printer(t) and not any(_same_size(t, held) for held, _ in found):
                found.append((t, f))
    return found


def _same_size(a: Term, b: Term) -> bool:
    """Return whether two terms are one size of one part: same figures from the same source."""
    return (a.source, a.value, a.tolerance) == (b.source, b.value, b.tolerance)


def _of_printer(term: Term) -> bool:
    """Return whether a term's range is the printer's: its own term, or the size of something printed."""
    return term.label == PRINTER or term.source.endswith((_AS_PRINTED, _AS_MADE))


def _reading(plan: ChassisPlan, size: Term, fit: Fit, build: str) -> tuple[str, str]:
    """Return what a caliper would measure, and what to do with the reading."""
    name = size.source.partition(":")[0]
    if name == _TUBE:
        words = size.source.removeprefix(f"{_TUBE}: ").partition(",")[0]
        return words, f"[[tube.segment]] bores in profiles/{build}/build.toml, with the reading's tolerance"
    part = next((p.part for p in plan.parts if name.endswith(p.part.name)), None)
    if part is None:
        return f"{name}, for the {fit.dimension.note or fit.dimension.name}", _note(build, fit)
    alike = (n for n, m in part.sizes.items() if abs(m.value - size.value) < LIKE)
    wanted = next(alike, "SIZE")
    what = f"{part.name}, {wanted.replace('_', ' ') if wanted != 'SIZE' else fit.dimension.note}"
    return what, f"chassis-gen trial note --part {quoted(part.name)} --measured {wanted}=MM"


def _note(build: str, fit: Fit) -> str:
    return f"chassis-gen trial note {quoted(build)} {quoted(fit.dimension.name)} --measured MM"


def _advice(
    kind: str,
    what: str,
    command: str,
    fits: Sequence[Fit],
    before: float,
    read: Callable[[Term], Term],
    source: str,
    only: str | None = None,
) -> Advice:
    after, touched, share = [], [], 0.0
    for f in fits:
        terms = (
            tuple(read(t) for t in f.dimension.terms)
            if only in (None, f.dimension.name)
            else f.dimension.terms
        )
        if terms == f.dimension.terms:
            after.append(f)
            continue
        was, now = _variance(f.dimension.terms), _variance(terms)
        share = max(share, (was - now) / was if was else 0.0)
        touched.append(f.dimension.name)
        after.append(with_terms(f, terms))
    return Advice(kind, what, command, tuple(touched), share, before, yield_of(after), source)


def with_terms(fit: Fit, terms: Sequence[Term]) -> Fit:
    """Return a fit whose spread comes from other terms; its clearance stays.

    Args:
        fit: the fit.
        terms: of its governing sum.
    """
    ranged = [t for t in terms if t.tolerance]
    return replace(
        fit,
        tolerance_terms=tuple(t.tolerance * SENSITIVITY for t in ranged if not t.uniform),
        uniform_terms=tuple(t.tolerance * SENSITIVITY for t in ranged if t.uniform),
    )


def _variance(terms: Sequence[Term]) -> float:
    """Return the variance of a clearance per side, mm2.

    A range is three standard deviations of a normal term; a uniform one of half-width a has a2 / 3 (JCGM
    100:2008, 4.3.7).
    """
    return math.fsum(
        (SENSITIVITY * t.tolerance) ** 2 / (3.0 if t.uniform else SIGMAS_IN_RANGE**2) for t in terms
    )
