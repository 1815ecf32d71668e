"""Fits: the clearance that the solids show, beside the plan's, and what the printer's range makes of it.

Tolerance terms are plus-minus ranges of three standard deviations, taken as independent and normal: the
worst case is their sum, the likely range the root of their summed squares, and the share of prints that
fit the normal distribution's integral over the required range.
"""

from __future__ import annotations

import math
import statistics

import numpy as np

from chassis_gen.checks.play import tolerance
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
_GAP_LIMIT = 3.0


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
    """Return findings on fits: measured other than planned, out of range as printed, or a doubtful worst case.

    Args:
        plan: the build.
        solids: its solids.
        fits: measured fits.
    """
    found = (f for fit in fits for f in (_unlike(fit, solids), _out_of_range(fit), _worst_case(plan, fit)))
    return tuple(f for f in found if f is not None)


def worst_case(fit: Fit) -> tuple[float, float]:
    """Return the clearance per side as printed when every tolerance sits at its limit, mm."""
    range_ = math.fsum(fit.tolerance_terms)
    return fit.as_printed - range_, fit.as_printed + range_


def likely(fit: Fit) -> tuple[float, float]:
    """Return the clearance per side as printed by the root of the summed squares of the tolerances, mm."""
    range_ = math.sqrt(math.fsum(t * t for t in fit.tolerance_terms))
    return fit.as_printed - range_, fit.as_printed + range_


def share_that_fits(fit: Fit) -> float:
    """Return the share of prints whose clearance lies in the required range, 0 to 1.

    The normal distribution's integral between the two limits, 1/2 (erf(b / sqrt 2) - erf(a / sqrt 2))
    with a and b the limits in standard deviations (any statistics textbook).
    """
    low, high = fit.required
    sigma = (likely(fit)[1] - fit.as_printed) / SIGMAS_IN_RANGE
    if sigma <= 0:
        return 1.0 if low <= fit.as_printed <= high else 0.0
    a, b = ((limit - fit.as_printed) / (sigma * math.sqrt(2)) for limit in (low, high))
    return (math.erf(b) - math.erf(a)) / 2


def _measured(plan: ChassisPlan, solids: Solids, plays: tuple[MeasuredPlay, ...], fit: Fit) -> MeasuredFit:
    clearance = _clearance(solids, plays, fit)
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


def _clearance(solids: Solids, plays: tuple[MeasuredPlay, ...], fit: Fit) -> float | None:
    match fit.probe:
        case PlayProbe():
            return _mean_play(plays, fit.probe)
        case GapProbe():
            return _gap(solids, fit.probe)
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


def _gap(solids: Solids, probe: GapProbe) -> float | None:
    a, b = _named(solids, probe.a), _named(solids, probe.b)
    if a is None or b is None:
        return None
    a, b = (_between(body, probe.z0, probe.z1) for body in (a, b))
    if a.is_empty or b.is_empty:
        return None
    gap = a.gap(b, _GAP_LIMIT)
    return gap if gap < _GAP_LIMIT else None


def _named(solids: Solids, name: str) -> Body | None:
    if name == "tube":
        return solids.tube
    return solids.pieces.get(name) or solids.sections.get(name) or solids.parts.get(name)


def _between(body: Body, z0: float, z1: float) -> Body:
    low, high = body.bounds
    made = body.cropped((low[0] - 1.0, low[1] - 1.0, z0), (high[0] + 1.0, high[1] + 1.0, z1))
    _ = made.volume
    return made


def _bore(solids: Solids, probe: BoreProbe) -> float | None:
    """Return half the difference of a hole's measured diameter and the nominal one, mm.

    Twice the median distance from the axis leaves a teardrop's roof or an open side without weight.
    """
    body = _named(solids, probe.piece)
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
        message = f"{f.id}: the solids show no clearance between {f.between[0]} and {f.between[1]} where it was planned"
        return Finding("error", "fit-measured", f.id, message, {"planned": f.planned})
    if abs(fit.measured - f.planned) <= allowed:
        return None
    return Finding(
        "error",
        "fit-measured",
        f.id,
        f"{f.id}: {f.between[0]} and {f.between[1]} were planned {f.planned:.3f} mm apart per side; "
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
        f"{f.id}: {f.between[0]} and {f.between[1]} would print {f.as_printed:.3f} mm apart per side; "
        f"a {f.fit_class} fit takes {low:.3f} to {high:.3f} mm",
        {"as_printed": f.as_printed, "low": low, "high": high},
        candidates=(_adjustment(f),),
    )


def _adjustment(fit: Fit) -> Remedy:
    """Return a test-fit term that brings a fit back to the middle of its range."""
    low, high = fit.required
    size = fit.dimension.term(PART_SIZE)
    # An outside dimension is smaller than what it goes into: more clearance takes away from it.
    outside = abs(size - fit.dimension.total - 2 * fit.planned) < abs(fit.dimension.total - size - 2 * fit.planned)
    add = round(2 * ((low + high) / 2 - fit.as_printed) * (-1 if outside else 1), 3)
    value = {"dimension": fit.id, "add": add, "why": "brings the fit back into its range"}
    return Remedy("adjustment", value, f"an [[adjustment]] of {add:+g} mm on {fit.id}")


def _worst_case(plan: ChassisPlan, fit: MeasuredFit) -> Finding | None:
    f = fit.fit
    low, high = f.required
    if not plan.calibrated or not _in_range(f):
        return None
    numbers = {"least": fit.worst_case[0], "most": fit.worst_case[1], "low": low, "high": high, "share": fit.share}
    if fit.share < WANTED_SHARE:
        message = f"{f.id}: {fit.share:.0%} of prints would fit; {WANTED_SHARE:.0%} are wanted"
        return Finding("error", "fit-yield", f.id, message, numbers, candidates=(_adjustment(f),))
    if low <= fit.worst_case[0] and fit.worst_case[1] <= high:
        return None
    message = (
        f"{f.id}: with every tolerance at its limit the clearance per side would be {fit.worst_case[0]:.3f} to "
        f"{fit.worst_case[1]:.3f} mm; a {f.fit_class} fit takes {low:.3f} to {high:.3f} mm"
    )
    return Finding("warning", "fit-worst-case", f.id, message, numbers)
