"""Measured fits; shares against the standard library's normal distribution, an independent implementation."""

import statistics

import numpy as np
import pytest
from msgspec.structs import replace

from chassis_gen.checks.fits import check_fits, likely, measure_fits, share_that_fits, worst_case
from chassis_gen.checks.play import measure_plays
from chassis_gen.plan.model import BoreProbe, GapProbe
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Ring
from tests.checks import support as s


def judged(build, made):
    fits = measure_fits(build, made, measure_plays(build, made))
    return fits, check_fits(build, made, fits)


def test_a_sound_seat_is_unproven_on_an_uncalibrated_printer_and_passes_on_a_calibrated_one():
    build = s.plan()
    made = s.solids(build)
    (fit,), findings = judged(build, made)
    assert (fit.verdict, findings) == ("unproven", ())
    assert fit.measured == pytest.approx(0.15, abs=0.012)
    (fit,), findings = judged(replace(build, calibrated=True), made)
    assert (fit.verdict, findings) == ("pass", ())


def test_ranges_are_sum_and_root_of_squares_of_the_terms():
    fit = replace(s.seat_fit(), as_printed=0.15, tolerance_terms=(0.03, 0.04))
    assert worst_case(fit) == pytest.approx((0.08, 0.22))
    assert likely(fit) == pytest.approx((0.10, 0.20))


@pytest.mark.parametrize(("as_printed", "terms"), [(0.15, (0.03, 0.04)), (0.22, (0.09,)), (0.30, (0.1, 0.1))])
def test_the_share_that_fits_is_that_of_a_normal_distribution(as_printed, terms):
    fit = replace(s.seat_fit(), as_printed=as_printed, tolerance_terms=terms)
    spread = statistics.NormalDist(as_printed, sum(t * t for t in terms) ** 0.5 / 3)
    assert share_that_fits(fit) == pytest.approx(spread.cdf(0.25) - spread.cdf(0.05), abs=1e-12)


@pytest.mark.parametrize(
    ("terms", "boxes"), [((0.06,), (0.08,)), ((0.03, 0.04), (0.05, 0.1)), ((), (0.12,)), ((), (0.1, 0.05))]
)
def test_uniform_terms_widen_the_share_as_a_simulation_shows(terms, boxes):
    fit = replace(s.seat_fit(), as_printed=0.18, tolerance_terms=terms, uniform_terms=boxes)
    random = np.random.default_rng(1)
    count = 400_000
    drawn = 0.18 + sum(random.normal(0, t / 3, count) for t in terms)
    drawn = drawn + sum(random.uniform(-u, u, count) for u in boxes)
    share = np.mean((drawn >= 0.05) & (drawn <= 0.25))
    assert share_that_fits(fit) == pytest.approx(share, abs=4 * 0.5 / count**0.5)
    assert worst_case(fit)[1] == pytest.approx(0.18 + sum(terms) + sum(boxes))


def test_without_tolerance_a_fit_is_certain_either_way():
    fit = replace(s.seat_fit(), tolerance_terms=())
    assert share_that_fits(replace(fit, as_printed=0.15)) == 1.0
    assert share_that_fits(replace(fit, as_printed=0.3)) == 0.0


def test_a_solid_other_than_planned_fails_its_fit():
    build = s.plan()
    (fit,), (finding,) = judged(build, s.solids(build, cradle=s.cradle_steps(9.3)))
    assert (fit.verdict, finding.code) == ("fail", "fit-measured")
    assert finding.numbers["measured"] == pytest.approx(0.05, abs=0.012)


def test_a_fit_out_of_range_names_the_adjustment_that_brings_it_back():
    wide = replace(s.seat_fit(), as_printed=0.30)
    build = s.plan(fits=(wide,))
    (fit,), (finding,) = judged(build, s.solids(build))
    assert (fit.verdict, finding.code, finding.level) == ("fail", "fit-range", "error")
    # Middle of 0.05 to 0.25 is 0.15 per side: the bore has to lose 2 x 0.15 mm.
    assert finding.remedy.value["add"] == pytest.approx(-0.3)


def test_a_calibrated_printer_is_judged_by_share_and_worst_case_only_warns():
    doubtful = replace(s.seat_fit(), tolerance_terms=(0.06, 0.06))
    build = s.plan(fits=(doubtful,), calibrated=True)
    (fit,), (finding,) = judged(build, s.solids(build))
    assert (fit.verdict, finding.code, finding.level) == ("pass", "fit-worst-case", "warning")
    poor = replace(s.seat_fit(), tolerance_terms=(0.3,))
    build = s.plan(fits=(poor,), calibrated=True)
    (fit,), (finding,) = judged(build, s.solids(build))
    assert (fit.verdict, finding.code) == ("fail", "fit-yield")
    assert "measure what spreads most" in finding.remedy.text


def test_gaps_are_measured_between_the_stations_of_the_probe_alone():
    probe = GapProbe("chassis", "tube", 70.0, 78.0)
    build = s.plan(fits=(replace(s.seat_fit(), id="gap", planned=0.2, as_printed=0.2, probe=probe),))
    collar = solid(Ring(10.0, 19.95, 97.0, 99.0))
    made = s.solids(build)
    made = replace(made, pieces={"chassis": made.pieces["chassis"].union(collar)})
    (fit,), findings = judged(build, made)
    assert fit.measured == pytest.approx(0.2, abs=0.012)
    assert findings == ()


def test_a_bore_is_measured_by_its_median_ray():
    # The cell seat seen along the tube: half of it is open at the top, the bottom half is round, radius 9.4.
    probe = BoreProbe("chassis", shifted(z=0.0), 40.0, 18.5)
    build = s.plan(fits=(replace(s.seat_fit(), planned=0.15, probe=probe),))
    (fit,), findings = judged(build, s.solids(build))
    assert fit.measured == pytest.approx(0.15, abs=0.012)
    assert findings == ()


def test_a_clearance_that_isnt_there_to_be_measured_is_an_error():
    build = s.plan(fits=(replace(s.seat_fit(), probe=GapProbe("chassis", "cap", 20.0, 30.0)),))
    (fit,), (finding,) = judged(build, s.solids(build))
    assert (fit.measured, fit.verdict, finding.code) == (None, "fail", "fit-measured")
