"""Whether a machine can make a build's fits: squareness, ovality, bow, evenness and repeatability of its prints.

The gauge is printed at five places of the bed. What differs between places or directions is no behaviour
that a term could make up for: it takes room from every fit.
"""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.plan.model import Fit
from chassis_gen.plan.printing import SIGMAS_IN_RANGE
from chassis_gen.plan.sums import PRINTER
from chassis_gen.printer.features import OCTAGON, PLATE_LENGTH
from chassis_gen.printer.readings import PLACES, Reading, Sheet
from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.fits import printer_rules

WANTED_SHARE = 0.95
_NAMED = 4

ShareThatFits = Callable[[Fit], float]


class Machine(Struct, frozen=True):
    """What the readings at five places say of a machine.

    Args:
        skew: out of square, mm per 100 mm: the mean over the places.
        skew_range: smallest and largest over the places, mm per 100 mm.
        ovality: difference of a round disc's diameters along and across, mm: the mean over the places.
        bow: how much higher the gauge's ends stand than its middle, mm: the largest over the places.
        evenness: difference between the highest and the lowest place, mm of height.
        repeatability: standard deviation of one size between prints at the places, mm, inner and outer together.
        freedom: degrees of freedom behind it.
    """

    skew: float
    skew_range: tuple[float, float]
    ovality: float
    bow: float
    evenness: float
    repeatability: float
    freedom: int


class Fault(Struct, frozen=True):
    """What no parameter can mend.

    Args:
        code: ``skew``, ``oval``, ``bow`` or ``uneven``.
        message: one sentence with the numbers.
    """

    code: str
    message: str


class Reach(Struct, frozen=True):
    """One fit of a build on this machine.

    Args:
        fit: the plan's fit.
        form_loss: clearance per side that skew and ovality take on the tight diameter, mm.
        share: share of prints that fit, with the machine's repeatability and form.
        square_share: the same if the machine were square and round.
    """

    fit: Fit
    form_loss: float
    share: float
    square_share: float

    @property
    def within(self) -> bool:
        """Return whether enough prints fit."""
        return self.share >= WANTED_SHARE


class Qualification(Struct, frozen=True):
    """Whether a machine can make a build.

    Args:
        machine: its figures.
        faults: what no parameter can mend.
        reaches: every fit of the build.
    """

    machine: Machine
    faults: tuple[Fault, ...]
    reaches: tuple[Reach, ...]

    @property
    def verdict(self) -> str:
        """Return ``fault``, ``out of reach`` or ``within reach``."""
        if self.faults:
            return "fault"
        return "within reach" if all(r.within for r in self.reaches) else "out of reach"


def measured_machine(sheet: Sheet) -> Machine:
    """Return what the readings at five places say of the machine.

    Args:
        sheet: readings of the gauge at all five places.

    Raises:
        InputError: with each feature that form is taken from and each place that lacks it.
    """
    by = {(r.feature.number, r.place): r for r in sheet.readings if r.value is not None}
    needed = ("34", "35", "38", "39", "71", "72", "73", "81", "82")
    problems = [
        Problem(
            "too-few", f"place {place} has no reading of feature {n}", sheet.file, None, None, "reading_mm",
            None, "all of " + ", ".join(needed) + " at each of the five places",
        )
        for place in PLACES
        for n in needed
        if (n, place) not in by
    ]  # fmt: skip
    if problems:
        raise InputError(problems)

    def at(number: str, place: int) -> float:
        return by[number, place].value or 0.0

    skews = [100 * (at("38", p) - at("39", p)) / OCTAGON for p in PLACES]
    bows = [(at("71", p) + at("73", p)) / 2 - at("72", p) for p in PLACES]
    spread, freedom = _pooled(r for r in sheet.readings if r.feature.kind in ("inner", "outer"))
    return Machine(
        skew=statistics.fmean(skews),
        skew_range=(min(skews), max(skews)),
        ovality=statistics.fmean(at("34", p) - at("35", p) for p in PLACES),
        bow=max(bows, key=abs),
        evenness=_evenness(sheet),
        repeatability=spread,
        freedom=freedom,
    )


def qualify(sheet: Sheet, fits: Sequence[Fit], share_that_fits: ShareThatFits) -> Qualification:
    """Return whether a machine can make a build's fits.

    Args:
        sheet: readings of the gauge at all five places.
        fits: the build's fits, planned with this printer.
        share_that_fits: share of prints whose clearance lies in the required range.

    Raises:
        InputError: when readings are missing.
    """
    machine = measured_machine(sheet)
    reaches = tuple(_reach(fit, machine, share_that_fits) for fit in fits)
    return Qualification(machine, tuple(_faults(machine, reaches)), reaches)


def form_loss(diameter: float, machine: Machine) -> float:
    """Return the clearance per side that is lost on the tight diameter of a printed round, mm.

    A shear by an angle a makes the diameters of a round d between d (1 - a/2) and d (1 + a/2), so it takes
    d a / 4 per side; an ovality of v between two diameters takes v / 4.

    Args:
        diameter: of the round, mm.
        machine: its figures.
    """
    return (abs(diameter) * abs(machine.skew) / 100.0 + abs(machine.ovality)) / 4.0


def _reach(fit: Fit, machine: Machine, share_that_fits: ShareThatFits) -> Reach:
    printed = [t.tolerance / 2 for t in fit.dimension.terms if t.label == PRINTER and t.tolerance]
    others = list(fit.tolerance_terms)
    for t in printed:
        if t in others:
            others.remove(t)
    own = SIGMAS_IN_RANGE * machine.repeatability / 2
    square = replace(fit, tolerance_terms=(*others, own))
    loss = form_loss(fit.dimension.total, machine)
    low, high = fit.required
    bent = replace(square, required=(low + loss, high - loss)) if low + loss < high - loss else None
    return Reach(fit, loss, share_that_fits(bent) if bent else 0.0, share_that_fits(square))


def _faults(machine: Machine, reaches: Sequence[Reach]) -> Iterable[Fault]:
    rules = printer_rules()
    skew, bow, even = (rules[n].value for n in ("skew_bound", "bow_bound", "height_bound"))
    lost = [r for r in reaches if not r.within and r.square_share >= WANTED_SHARE]
    widest = max((r.fit.dimension.total for r in lost), default=0.0)
    sheared = abs(machine.skew) / 100.0 * widest > abs(machine.ovality)
    if abs(machine.skew) > skew or (lost and sheared):
        yield Fault(
            "skew",
            f"the axes are out of square by {machine.skew:+.2f} mm per 100 mm ({machine.skew_range[0]:+.2f} to "
            f"{machine.skew_range[1]:+.2f} over the bed; the bound is {skew:g}){_taken(lost)}; square the frame",
        )
    if lost and not sheared:
        message = (
            f"a round prints {machine.ovality:+.2f} mm longer along the bed than across it{_taken(lost)}"
        )
        yield Fault("oval", f"{message}; look at belts and steps per mm of both axes")
    if machine.evenness > even:
        yield Fault(
            "uneven",
            f"heights differ by {machine.evenness:.2f} mm between places of the bed ({even:g} is the bound); "
            f"level the bed and look at the Z guides",
        )
    if abs(machine.bow) > bow:
        yield Fault(
            "bow",
            f"the ends of the {PLATE_LENGTH:g} mm gauge stand {machine.bow:+.2f} mm over its middle ({bow:g} is the "
            f"bound); prints lift or the bed is not flat",
        )


def _taken(lost: Sequence[Reach]) -> str:
    """Return which fits a fault takes the room of, the first few by name."""
    names = [r.fit.id for r in lost]
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return f"; it takes the room of {', '.join(names[:_NAMED])}{more}" if names else ""


def _pooled(readings: Iterable[Reading]) -> tuple[float, int]:
    """Return the standard deviation within features over the places, pooled, and its degrees of freedom."""
    groups: dict[str, list[float]] = defaultdict(list)
    for r in readings:
        if r.value is not None:
            groups[r.feature.number].append(r.value)
    freedom = sum(len(g) - 1 for g in groups.values())
    squares = math.fsum((v - statistics.fmean(g)) ** 2 for g in groups.values() for v in g)
    return (math.sqrt(squares / freedom) if freedom else 0.0), freedom


def _evenness(sheet: Sheet) -> float:
    """Return how far the places' heights differ: means of what each place's steps are off their own mean, mm."""
    groups: dict[str, list[Reading]] = defaultdict(list)
    for r in sheet.of("z"):
        groups[r.feature.number].append(r)
    off: dict[int, list[float]] = defaultdict(list)
    for rows in groups.values():
        mean = statistics.fmean(r.value or 0.0 for r in rows)
        for r in rows:
            off[r.place].append((r.value or 0.0) - mean)
    means = [statistics.fmean(v) for v in off.values()]
    return max(means) - min(means) if means else 0.0
