"""Which reading helps most: yields against a Monte Carlo draw and the closed form of a normal fit."""

from __future__ import annotations

from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest
from msgspec.structs import replace

from chassis_gen.pipeline import load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.trial.advice import advice, yield_of
from chassis_gen.trial.bench import planned
from chassis_gen.trial.noting import note
from chassis_gen.trial.seen import Seen
from tests.trial.support import CALIBRATED, DAY, SEAT, workspace

DRAWS = 200_000


def small(root: Path, printer: str | None = None) -> ChassisPlan:
    made = workspace(root, "small", printer=printer) if printer else workspace(root, "small")
    return planned(load_build(made, "small"))


def drawn_yield(plan: ChassisPlan, tolerances: dict[str, float]) -> float:
    """Return the share of chassis whose fits all fit, drawn with the ranges of some terms replaced.

    Ranges are three standard deviations of a normal term, half-widths of a uniform one.
    """
    random = np.random.default_rng(20260304)
    fits = np.ones(DRAWS, dtype=bool)
    for name in {f.dimension.name for f in plan.fits}:
        fit = next(f for f in plan.fits if f.dimension.name == name)
        clearance = np.full(DRAWS, fit.as_printed)
        for t in fit.dimension.terms:
            read = next((v for words, v in tolerances.items() if t.source.startswith(words)), None)
            half = (t.tolerance if read is None else min(read, t.tolerance)) / 2
            uniform = t.uniform and read is None
            clearance += random.uniform(-half, half, DRAWS) if uniform else random.normal(0, half / 3, DRAWS)
        fits &= (clearance >= fit.required[0]) & (clearance <= fit.required[1])
    return float(fits.mean())


def test_yields_before_and_after_are_those_of_a_draw(tmp_path: Path) -> None:
    plan = small(tmp_path)
    found = {a.what: a for a in advice(plan, "small")}
    caliper = found["cell 14500, diameter"]
    assert caliper.before == pytest.approx(drawn_yield(plan, {}), abs=0.004)
    bored = found["tube bore from station 0"]
    assert bored.after == pytest.approx(drawn_yield(plan, {"tube bore": 0.03}), abs=0.004)
    gauge = found["gauge of p"]
    tuned = {"inner dimension": 0.1, "outer dimension": 0.1}
    assert gauge.after == pytest.approx(drawn_yield(plan, tuned), abs=0.004)
    assert caliper.command == 'chassis-gen trial note --part "cell 14500" --measured diameter=MM'
    assert caliper.dimensions == (SEAT,)


def test_they_are_ranked_by_the_yield_to_expect(tmp_path: Path) -> None:
    found = advice(small(tmp_path), "small")
    assert [a.after for a in found] == sorted((a.after for a in found), reverse=True)
    assert all(a.gain >= -1e-12 and 0 < a.variance_share <= 1 for a in found)


def test_a_normal_fit_has_the_closed_form(tmp_path: Path) -> None:
    """The normal distribution function of Python's statistics module, between the limits."""
    fit = next(f for f in small(tmp_path).fits if f.id == SEAT)
    normal = replace(fit, tolerance_terms=(0.06, 0.08), uniform_terms=())
    spread = NormalDist(fit.as_printed, 0.1 / 3)
    low, high = fit.required
    assert yield_of([normal, normal]) == pytest.approx((spread.cdf(high) - spread.cdf(low)) ** 2, rel=1e-9)


def test_a_measured_ring_gives_the_yield_that_was_promised(tmp_path: Path) -> None:
    at = workspace(tmp_path, "small")
    plan = planned(load_build(at, "small"))
    promised = next(a for a in advice(plan, "small") if a.command.endswith(f"{SEAT} --measured MM"))
    note(at, "small", SEAT, Seen("measured", 14.30, "ring"), DAY)
    after = planned(load_build(at, "small"))
    # one fit per governing sum: the bearing bands fail together
    fits = {f.dimension.name: f for f in after.fits}
    assert yield_of(list(fits.values())) == pytest.approx(promised.after, abs=1e-4)
    assert promised.after > promised.before


def test_a_calibrated_printer_needs_no_gauge(tmp_path: Path) -> None:
    assert {a.kind for a in advice(small(tmp_path, CALIBRATED), "small")} == {"caliper"}
