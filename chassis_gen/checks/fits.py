"""Fits: the clearance that the solids show, beside the plan's, and what the printer's range makes of it.

Tolerance terms are plus-minus ranges of three standard deviations, taken as independent and normal; uniform
terms are ranges in which every value is as likely. The worst case is the sum of all, the likely range the
root of their summed squares, and the share of prints that fit the integral of their joint distribution over
the required range.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from itertools import product

import numpy as np
from msgspec.structs import replace

from chassis_gen.checks.places import piece_named
from chassis_gen.checks.play import tolerance
from chassis_gen.checks.probes import TUBE, cropped
from chassis_gen.checks.result import MeasuredFit, MeasuredPlay, Solids
from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import BoreProbe, Fit, GapProbe, PlayProbe
from chassis_gen.plan.sums import PART_SIZE
from chassis_gen.shapes.body import Body

WANTED_SHARE = 0.95
SIGMAS_IN_RANGE = 3.0

_BORE_RAYS = 48
_FEWEST_BORE_HITS = 8
_USUAL_GAP = 0.6
_GAP_LIMIT = 3.0
_FAR = 1000.0


def measure_fits(
    plan: ChassisPlan, solids: Solids, plays: tuple[MeasuredPlay, ...]
) -> tuple[MeasuredFit, ...]:
    """Return every fit of the plan with what the solids show.

    Args:
        plan: the build.
        solids: its solids.
        plays: measured plays of the parts.
    """
    return tuple(_measured(plan, solids, plays, fit) for fit in plan.fits)


def check_fits(plan: ChassisPlan, solids: Solids, fits: tuple[MeasuredFit, ...]) -> tuple[Finding, ...]:
    """Return findings on fits: not as planned, out of range as printed, or doubtful at their limits.

    Args:
        plan: the build.
        solids: its solids.
        fits: measured fits.
    """
    found = (f for fit in fits for f in (_unlike(fit, solids), _out_of_range(fit), _worst_case(plan, fit)))
    return tuple(f for f in found if f is not None)


def worst_case(fit: Fit) -> tuple[float, float]:
    """Return the clearance per side as printed when every tolerance sits at its limit, mm."""
    range_ = math.fsum((*fit.tolerance_terms, *fit.uniform_terms))
    return fit.as_printed - range_, fit.as_printed + range_


def likely(fit: Fit) -> tuple[float, float]:
    """Return the clearance per side as printed by the root of the summed squares of the tolerances, mm."""
    range_ = _root_of_squares((*fit.tolerance_terms, *fit.uniform_terms))
    return fit.as_printed - range_, fit.as_printed + range_


def share_that_fits(fit: Fit) -> float:
    """Return the share of prints whose clearance lies in the required range, 0 to 1.

    The clearance is the sum of one normal variable (the tolerance terms together) and the uniform ones;
    its distribution is a difference of repeated integrals of the normal one (convolution with a box).
    """
    low, high = fit.required
    sigma = _root_of_squares(fit.tolerance_terms) / SIGMAS_IN_RANGE
    boxes = tuple(u for u in fit.uniform_terms if u > 0)
    if sigma <= 0 and not boxes:
        return 1.0 if low <= fit.as_printed <= high else 0.0
    below_high, below_low = (_share_below(limit - fit.as_printed, sigma, boxes) for limit in (high, low))
    return min(1.0, max(0.0, below_high - below_low))


def _root_of_squares(ranges: Sequence[float]) -> float:
    return math.sqrt(math.fsum(r * r for r in ranges))


def _share_below(x: float, sigma: float, boxes: tuple[float, ...]) -> float:
    """Return the share of values below x of a centred normal variable plus centred uniform ones."""
    corners = product((1.0, -1.0), repeat=len(boxes))
    total = math.fsum(
        math.prod(signs)
        * _repeated_integral(
            x + math.fsum(s * u for s, u in zip(signs, boxes, strict=True)), sigma, len(boxes)
        )
        for signs in corners
    )
    return total / math.prod(2.0 * u for u in boxes)


def _repeated_integral(x: float, sigma: float, times: int) -> float:
    """Return the normal distribution integrated so many times from minus infinity to x.

    By the recursion k F_k = x F_(k-1) + sigma2 F_(k-2) from F_0, the distribution, and F_-1, the density
    (integration by parts); without spread it is a step and its integrals powers of x.
    """
    if sigma <= 0:
        before, now = 0.0, 1.0 if x >= 0 else 0.0
    else:
        before = math.exp(-((x / sigma) ** 2) / 2) / (sigma * math.sqrt(2 * math.pi))
        now = math.erfc(-x / (sigma * math.sqrt(2))) / 2
    for k in range(1, times + 1):
        before, now = now, (x * now + sigma**2 * before) / k
    return now


def _measured(plan: ChassisPlan, solids: Solids, plays: tuple[MeasuredPlay, ...], fit: Fit) -> MeasuredFit:
    clearance = _clearance(plan, solids, plays, fit)
    share = share_that_fits(fit)
    as_planned = clearance is not None and abs(clearance - fit.planned) <= tolerance(solids.chord)
    in_range = _in_range(fit)
    if plan.calibrated:
        verdict = "pass" if as_planned and share >= WANTED_SHARE else "fail"
    else:
        verdict = "unproven" if as_planned and in_range else "fail"
    return MeasuredFit(fit, clearance, worst_case(fit), likely(fit), share, verdict)


def _in_range(fit: Fit) -> bool:
    # A design value may sit on a limit; the station grid must not push it over.
    low, high = fit.required
    return low - 1e-3 <= fit.as_printed <= high + 1e-3


def _clearance(plan: ChassisPlan, solids: Solids, plays: tuple[MeasuredPlay, ...], fit: Fit) -> float | None:
    match fit.probe:
        case PlayProbe():
            return _mean_play(plays, fit.probe)
        case GapProbe():
            return _gap(plan, solids, fit.probe)
        case BoreProbe():
            return _bore(solids, fit.probe)


def _mean_play(plays: tuple[MeasuredPlay, ...], probe: PlayProbe) -> float | None:
    found = [
        p.measured
        for d in probe.directions
        for p in plays
        if p.part == probe.part and math.dist(p.direction, d) < 1e-6
    ]
    return statistics.fmean(found) if len(found) >= len(probe.directions) > 0 else None


def _gap(plan: ChassisPlan, solids: Solids, probe: GapProbe) -> float | None:
    a, b = (_between(_named(plan, solids, name, probe), probe) for name in (probe.a, probe.b))
    for limit in (_USUAL_GAP, _GAP_LIMIT):
        # The kernel compares far fewer facets where it needn't look far.
        gap = min((p.gap(q, limit) for p in a for q in b), default=limit)
        if gap < limit:
            return gap
    return None


def _named(plan: ChassisPlan, solids: Solids, name: str, probe: GapProbe) -> list[Body]:
    """Return the bodies that a probe's name stands for.

    Against the tube, a piece is measured with the caps and carriers of its sections: where a cap goes
    round the chassis, the cap is what bears.
    """
    if name == TUBE:
        return [solids.tube]
    names = [name]
    piece = piece_named(plan, name)
    if TUBE in (probe.a, probe.b) and piece is not None:
        names += [p.name for p in plan.pieces if p.owner in piece.sections and p.name != name]
    found = [solids.pieces.get(n) or solids.parts.get(n) for n in names]
    return [b for b in found if b is not None]


def _between(bodies: list[Body], probe: GapProbe) -> list[Body]:
    made = [cropped(b, (-_FAR, -_FAR, probe.z0), (_FAR, _FAR, probe.z1)) for b in bodies]
    return [b for b in made if not b.is_empty]


def _bore(solids: Solids, probe: BoreProbe) -> float | None:
    """Return half the difference of a hole's measured diameter and the nominal one, mm.

    Twice the median distance from the axis leaves a teardrop's roof or an open side without weight.
    """
    body = solids.pieces.get(probe.piece)
    if body is None:
        return None
    turns = np.arange(_BORE_RAYS) * (2 * math.pi / _BORE_RAYS)
    f = probe.frame
    directions = np.outer(np.cos(turns), f.x_axis) + np.outer(np.sin(turns), f.y_axis)
    origins = np.broadcast_to(np.array(f.point((0.0, 0.0, probe.z))), directions.shape)
    rays = body.rays(origins, directions, probe.nominal * 2)
    walls = [
        hits[0].distance
        for hits, d in zip(rays, directions, strict=True)
        if hits and float(np.dot(hits[0].normal, d)) < 0
    ]
    if len(walls) < _FEWEST_BORE_HITS:
        return None
    return statistics.median(walls) - probe.nominal / 2


def _unlike(fit: MeasuredFit, solids: Solids) -> Finding | None:
    f, allowed = fit.fit, tolerance(solids.chord)
    if fit.measured is None:
        pair = f"{f.between[0]} and {f.between[1]}"
        message = f"the solids show no clearance between {pair} where it was planned"
        return Finding("error", "fit-measured", f.id, message, {"planned": f.planned})
    if abs(fit.measured - f.planned) <= allowed:
        return None
    return Finding(
        "error",
        "fit-measured",
        f.id,
        f"{f.between[0]} and {f.between[1]} were planned {f.planned:.3f} mm apart per side; "
        f"the solids show {fit.measured:.3f} mm",
        {"planned": f.planned, "measured": fit.measured, "tolerance": allowed},
    )


def _out_of_range(fit: MeasuredFit) -> Finding | None:
    f = fit.fit
    if _in_range(f):
        return None
    low, high = f.required
    return Finding(
        "error",
        "fit-range",
        f.id,
        f"{f.between[0]} and {f.between[1]} would print {f.as_printed:.3f} mm apart per side; "
        f"a {f.fit_class} fit takes {low:.3f} to {high:.3f} mm",
        {"as_printed": f.as_printed, "low": low, "high": high},
        remedy=_adjustment(f),
    )


def _adjustment(fit: Fit) -> Remedy:
    """Return the test-fit term that brings a fit to the middle of its range: one more [[adjustment]]."""
    low, high = fit.required
    more = fit.dimension.total - fit.dimension.term(PART_SIZE)
    # An outside dimension is smaller than what it goes into: more clearance takes away from it.
    outside = abs(-more - 2 * fit.planned) < abs(more - 2 * fit.planned)
    add = round(2 * ((low + high) / 2 - fit.as_printed) * (-1 if outside else 1), 3)
    value = {"dimension": fit.id, "add": add, "why": "brings the fit back into its range"}
    return Remedy("adjustment", value, f"an [[adjustment]] of {add:+g} mm on {fit.id}")


def _yield_remedy(fit: Fit) -> Remedy:
    """Return what lets enough prints fit: the middle of the range where that does, else a narrower spread."""
    low, high = fit.required
    if share_that_fits(replace(fit, as_printed=(low + high) / 2)) >= WANTED_SHARE:
        return _adjustment(fit)
    widest = max(fit.dimension.terms, key=lambda t: t.tolerance)
    text = (
        f"even in the middle of its range too few would fit: measure what spreads most, +-{widest.tolerance:.2f} mm "
        f"of the {widest.label} ({widest.source}), or take a wider fit class than {fit.fit_class}"
    )
    return Remedy(None, None, text)


def _worst_case(plan: ChassisPlan, fit: MeasuredFit) -> Finding | None:
    f = fit.fit
    low, high = f.required
    if not plan.calibrated or not _in_range(f):
        return None
    least, most = fit.worst_case
    numbers = {"least": least, "most": most, "low": low, "high": high, "share": fit.share}
    if fit.share < WANTED_SHARE:
        message = f"{fit.share:.0%} of prints fit; {WANTED_SHARE:.0%} are wanted"
        return Finding("error", "fit-yield", f.id, message, numbers, remedy=_yield_remedy(f))
    if low <= least and most <= high:
        return None
    message = (
        f"with every tolerance at its limit the clearance per side would be {least:.3f} to "
        f"{most:.3f} mm; a {f.fit_class} fit takes {low:.3f} to {high:.3f} mm"
    )
    return Finding("warning", "fit-worst-case", f.id, message, numbers)
