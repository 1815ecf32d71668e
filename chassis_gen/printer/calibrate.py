"""Behaviours out of readings: least squares of offset and scale, with residuals, intervals and outliers.

The model is ``printed = scale x drawn + offset``. Inner dimensions, outer dimensions and heights are fitted
apart; round holes share the scale of inner dimensions, since they shrink as these do, and have an offset of
their own. Formulas: Draper and Smith, Applied Regression Analysis, chapters 1, 5 and 8 (ordinary least squares,
covariance s2 (X'X)^-1, externally studentised residuals); outliers by the Bonferroni limit of their t test.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from chassis_gen.params.printer import BEHAVIOUR_KINDS, BehaviourKind
from chassis_gen.printer.features import gauge_features
from chassis_gen.printer.readings import Reading, Sheet
from chassis_gen.printer.student import two_sided_limit
from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.fits import printer_rules

CONFIDENCE = 0.95
LINES: tuple[BehaviourKind, ...] = ("inner", "outer", "z")
"""The kinds that are fitted with a scale of their own."""

_LEAST_SPREAD = 1e-6

Array = npt.NDArray[np.float64]


class Residual(Struct, frozen=True):
    """What is left of one reading.

    Args:
        reading: the row.
        value: reading less the line, mm.
        studentised: the same in its own standard deviations, the line fitted without it; 0 where all agree.
        outlier: True when no more than 5 % of sheets would hold so large a one by chance.
    """

    reading: Reading
    value: float
    studentised: float
    outlier: bool


class Line(Struct, frozen=True):
    """The fitted behaviour of one kind.

    Args:
        kind: inner, outer, z, standing_hole or lying_hole.
        scale: printed per drawn.
        offset: mm.
        scale_sd: standard deviation of scale.
        offset_sd: standard deviation of offset, mm.
        residual_sd: standard deviation of one reading about the line, mm.
        freedom: degrees of freedom behind it.
        limit: Student's t for the confidence intervals.
        residuals: one per reading.
    """

    kind: BehaviourKind
    scale: float
    offset: float
    scale_sd: float
    offset_sd: float
    residual_sd: float
    freedom: int
    limit: float
    residuals: tuple[Residual, ...]

    @property
    def scale_interval(self) -> tuple[float, float]:
        """Return the 95 % confidence interval of scale."""
        return self.scale - self.limit * self.scale_sd, self.scale + self.limit * self.scale_sd

    @property
    def offset_interval(self) -> tuple[float, float]:
        """Return the 95 % confidence interval of offset, mm."""
        return self.offset - self.limit * self.offset_sd, self.offset + self.limit * self.offset_sd

    @property
    def outliers(self) -> tuple[Residual, ...]:
        """Return the residuals that are too large to be chance."""
        return tuple(r for r in self.residuals if r.outlier)


class Calibration(Struct, frozen=True):
    """All that a sheet says of a printer.

    Args:
        lines: behaviours by kind.
        smallest_wall: thinnest wall that printed, with all thicker ones, mm, or None without readings.
        flare: how much wider the lowest layers are, mm, or None without readings.
    """

    lines: Mapping[BehaviourKind, Line]
    smallest_wall: float | None
    flare: float | None

    @property
    def readings(self) -> int:
        """Return how many readings stand behind the behaviours."""
        return sum(len(line.residuals) for line in self.lines.values())


def calibrate(sheet: Sheet) -> Calibration:
    """Return the behaviours that a sheet shows.

    Args:
        sheet: the filled-in readings.

    Raises:
        InputError: with every kind that has too few sizes, and every row whose residual is above its bound.
    """
    problems: list[Problem] = []
    lines: dict[BehaviourKind, Line] = {}
    for kind in BEHAVIOUR_KINDS:
        readings = sheet.of(kind)
        if not readings and kind not in ("inner", "outer"):
            continue
        few = _too_few(sheet, kind, readings)
        if few is not None:
            problems.append(few)
            continue
        inner = lines.get("inner")
        if kind not in LINES and inner is None:
            continue
        kept, bad = _within_bound(kind, readings, inner)
        problems += [_above_bound(sheet, r) for r in bad]
        if not bad:
            lines[kind] = fitted(kind, kept, inner)
    if problems:
        raise InputError(sorted(problems, key=lambda p: p.line or 0))
    return Calibration(lines, _smallest_wall(sheet), _flare(sheet))


def fitted(kind: BehaviourKind, readings: Sequence[Reading], inner: Line | None = None) -> Line:
    """Return the behaviour of one kind by least squares.

    Args:
        kind: inner, outer and z are fitted with scale and offset, holes with an offset beside the inner scale.
        readings: at least one more than there are figures to fit.
        inner: the line of inner dimensions, for holes.
    """
    x = np.array([r.feature.nominal for r in readings])
    y = np.array([r.value for r in readings], dtype=np.float64)
    shared = None if kind in LINES or inner is None else inner
    design = np.column_stack([x, np.ones_like(x)]) if shared is None else np.ones((len(x), 1))
    wanted = y if shared is None else y - shared.scale * x
    found = np.linalg.lstsq(design, wanted, rcond=None)[0]
    left = wanted - design @ found
    freedom = len(x) - design.shape[1]
    variance = float(left @ left) / freedom
    inverse = np.linalg.inv(design.T @ design)
    sds = np.sqrt(variance * np.diag(inverse))
    limit = two_sided_limit(CONFIDENCE, freedom)
    if shared is not None:
        # The offset moves with the scale that it was found beside; the fewer readings decide the interval.
        sds[-1] = math.hypot(float(sds[-1]), float(x.mean()) * shared.scale_sd)
        limit = two_sided_limit(CONFIDENCE, min(freedom, shared.freedom))
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design)
    scale, scale_sd = (float(found[0]), float(sds[0])) if shared is None else (shared.scale, shared.scale_sd)
    residuals = _residuals(readings, left, leverage, variance, freedom)
    offset, offset_sd = float(found[-1]), float(sds[-1])
    return Line(kind, scale, offset, scale_sd, offset_sd, math.sqrt(variance), freedom, limit, residuals)


def _residuals(
    readings: Sequence[Reading], left: Array, leverage: Array, variance: float, freedom: int
) -> tuple[Residual, ...]:
    if variance < _LEAST_SPREAD**2:
        return tuple(Residual(r, float(e), 0.0, False) for r, e in zip(readings, left, strict=True))
    inside = left / np.sqrt(variance * (1.0 - leverage))
    room = np.maximum(freedom - inside**2, 1e-9)
    outside = inside * np.sqrt((freedom - 1) / room)
    share = 1.0 - (1.0 - CONFIDENCE) / len(readings)
    limit = two_sided_limit(share, freedom - 1) if freedom > 1 else math.inf
    rows = zip(readings, left, outside, strict=True)
    return tuple(Residual(r, float(e), float(t), abs(float(t)) > limit) for r, e, t in rows)


def _too_few(sheet: Sheet, kind: BehaviourKind, readings: Sequence[Reading]) -> Problem | None:
    rules = printer_rules()
    least = int(rules["least_sizes" if kind in LINES else "least_hole_sizes"].value)
    sizes = sorted({r.feature.nominal for r in readings})
    if len(sizes) >= least:
        return None
    shown = ", ".join(f"{s:g}" for s in sizes) or "none"
    missing = [
        f.number
        for f in gauge_features().values()
        if (f.kind, f.use) == (kind, "size") and f.nominal not in sizes
    ]
    message = f"kind {kind} has readings of too few sizes"
    allowed = f"at least {least} sizes; still to be measured: feature {', '.join(missing)}"
    line = readings[-1].line if readings else None
    return Problem("too-few", message, sheet.file, line, None, "reading_mm", f"{shown} mm", allowed)


def _within_bound(
    kind: BehaviourKind, readings: Sequence[Reading], inner: Line | None
) -> tuple[list[Reading], list[Residual]]:
    """Return the readings that agree with each other, and what does not, worst first.

    One bad reading tilts the line for all others, so the worst is taken out and the line fitted anew.
    """
    bound = printer_rules()["residual_bound"].value
    kept, bad = list(readings), list[Residual]()
    while len(kept) > 3:
        line = fitted(kind, kept, inner)
        worst = max(line.residuals, key=lambda r: (abs(r.studentised), abs(r.value)))
        largest = max(abs(r.value) for r in line.residuals)
        if largest <= bound:
            break
        kept.remove(worst.reading)
        again = fitted(kind, kept, inner)
        predicted = again.scale * worst.reading.feature.nominal + again.offset
        bad.append(Residual(worst.reading, (worst.reading.value or 0.0) - predicted, worst.studentised, True))
    return kept, bad


def _above_bound(sheet: Sheet, residual: Residual) -> Problem:
    r, bound = residual.reading, printer_rules()["residual_bound"].value
    message = (
        f"column 4: the reading lies {residual.value:+.2f} mm off the line through the others of kind "
        f"{r.feature.kind}; measure it again, or delete the row"
    )
    key, read = f"feature {r.feature.number}, reading_mm", f"{r.value:g}"
    return Problem("residual", message, sheet.file, r.line, None, key, read, f"at most {bound:g} mm off")


def _smallest_wall(sheet: Sheet) -> float | None:
    rows = [r for r in sheet.readings if r.feature.use == "wall"]
    missing = [r.feature.nominal for r in rows if r.value is None]
    printed = [r.feature.nominal for r in rows if r.value is not None]
    whole = [w for w in printed if w > max(missing, default=0.0)]
    return min(whole, default=None)


def _flare(sheet: Sheet) -> float | None:
    foot = sheet.of("outer", "flare")
    above = [r for r in sheet.of("outer") if r.feature.number == "82"]
    pairs = [(f.value, a.value) for f in foot for a in above if f.place == a.place]
    found = [f - a for f, a in pairs if f is not None and a is not None]
    return float(np.mean(found)) if found else None
