"""Least squares against numpy and scipy on the same readings; planted laws lie within their intervals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from chassis_gen.printer.calibrate import Line, calibrate, fitted
from chassis_gen.printer.readings import read_sheet
from chassis_gen.printer.student import two_sided_limit, two_sided_share
from chassis_gen.problems import InputError, Problem
from tests.printer.support import TRUTH, Machine, changed, readings, text_of


def sheet(rows: list[dict[str, str]]):
    return read_sheet(text_of(rows), "readings.csv")


def refused(rows: list[dict[str, str]]) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as error:
        calibrate(sheet(rows))
    return error.value.problems


def data(line: Line) -> tuple[np.ndarray, np.ndarray]:
    x = np.array([r.reading.feature.nominal for r in line.residuals])
    return x, np.array([r.reading.value for r in line.residuals])


@pytest.mark.parametrize("kind", ["inner", "outer", "z"])
def test_lines_are_those_of_numpy_and_scipy(kind: str) -> None:
    line = calibrate(sheet(readings(seed=7))).lines[kind]
    x, y = data(line)
    there = stats.linregress(x, y)
    assert (line.scale, line.offset) == pytest.approx((there.slope, there.intercept), abs=1e-11)
    assert (line.scale_sd, line.offset_sd) == pytest.approx((there.stderr, there.intercept_stderr), rel=1e-9)
    coefficients, covariance = np.polyfit(x, y, 1, cov=True)
    assert (line.scale, line.offset) == pytest.approx(tuple(coefficients), abs=1e-11)
    assert (line.scale_sd, line.offset_sd) == pytest.approx(tuple(np.sqrt(np.diag(covariance))), rel=1e-8)
    limit = stats.t.ppf(0.975, len(x) - 2)
    assert line.limit == pytest.approx(limit, rel=1e-9)
    assert line.scale_interval == pytest.approx(
        (there.slope - limit * there.stderr, there.slope + limit * there.stderr)
    )


def test_studentised_residuals_are_those_of_the_line_fitted_without_the_reading() -> None:
    # The definition itself: leave one out, predict it, divide by the prediction's standard deviation.
    line = calibrate(sheet(readings(seed=7))).lines["outer"]
    x, y = data(line)
    for k, residual in enumerate(line.residuals):
        rest_x, rest_y = np.delete(x, k), np.delete(y, k)
        there = stats.linregress(rest_x, rest_y)
        left = rest_y - there.slope * rest_x - there.intercept
        variance = left @ left / (len(rest_x) - 2)
        spread = 1 + 1 / len(rest_x) + (x[k] - rest_x.mean()) ** 2 / ((rest_x - rest_x.mean()) ** 2).sum()
        expected = (y[k] - there.slope * x[k] - there.intercept) / np.sqrt(variance * spread)
        assert residual.studentised == pytest.approx(expected, rel=1e-7)


@settings(max_examples=200)
@given(st.floats(0.0, 50.0), st.integers(1, 200))
def test_students_distribution_is_that_of_scipy(t: float, freedom: int) -> None:
    assert two_sided_share(t, freedom) == pytest.approx(1 - 2 * stats.t.sf(t, freedom), abs=1e-12)


def test_students_limits_are_those_of_printed_tables() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, column 0.975.
    printed = {1: 12.706, 2: 4.303, 3: 3.182, 5: 2.571, 10: 2.228, 30: 2.042, 100: 1.984}
    assert {f: round(two_sided_limit(0.95, f), 3) for f in printed} == printed


def test_the_planted_law_lies_within_its_intervals_about_as_often_as_they_promise() -> None:
    sheets, inside = 120, dict.fromkeys(("inner", "outer", "z"), 0)
    for seed in range(sheets):
        lines = calibrate(sheet(readings(seed=seed))).lines
        for kind in inside:
            low, high = lines[kind].scale_interval
            inside[kind] += low <= TRUTH[kind][0] <= high
    # Binomial, n = 120, p = 0.95: fewer than 106 or more than 120 of them has a probability below 0.2 %.
    assert all(count >= stats.binom.ppf(0.001, sheets, 0.95) for count in inside.values()), inside


def test_holes_share_the_scale_of_inner_dimensions_and_have_offsets_of_their_own() -> None:
    lines = calibrate(sheet(readings(seed=3))).lines
    for kind in ("standing_hole", "lying_hole"):
        assert lines[kind].scale == lines["inner"].scale
        low, high = lines[kind].offset_interval
        assert low <= TRUTH[kind][1] <= high
        x, y = data(lines[kind])
        assert lines[kind].offset == pytest.approx(float((y - lines["inner"].scale * x).mean()), abs=1e-12)


def test_five_places_narrow_the_intervals() -> None:
    one = calibrate(sheet(readings(seed=5))).lines["inner"]
    five = calibrate(sheet(readings(seed=5, places=(1, 2, 3, 4, 5)))).lines["inner"]
    assert len(five.residuals) == 5 * len(one.residuals)
    assert five.scale_interval[1] - five.scale_interval[0] < one.scale_interval[1] - one.scale_interval[0]


def test_an_exact_machine_has_no_spread_and_no_outlier() -> None:
    exact = dict.fromkeys(TRUTH, (1.0, 0.0))
    lines = calibrate(sheet(readings(Machine(sd=0.0), truth=exact))).lines
    assert (lines["inner"].scale, lines["inner"].offset) == pytest.approx((1.0, 0.0), abs=1e-12)
    assert lines["outer"].residual_sd == pytest.approx(0.0, abs=1e-12)
    assert not any(line.outliers for line in lines.values())


def test_an_outlier_within_its_bound_is_named_and_kept() -> None:
    rows = readings(seed=2, places=(1, 2, 3))
    odd = next(r for r in rows if r["feature"] == "33")
    odd["reading_mm"] = f"{float(odd['reading_mm']) + 0.2:.2f}"
    line = calibrate(sheet(rows)).lines["outer"]
    assert [(r.reading.feature.number, r.reading.place) for r in line.outliers] == [("33", 1)]
    assert len(line.residuals) == 3 * 9


def test_a_residual_above_its_bound_is_refused_and_only_that_row_is_named() -> None:
    rows = readings(seed=2)
    # 0.9 mm too much on the longest slot tilts the line for all others; still only it is at fault.
    (found,) = refused(changed(rows, "26", reading_mm=f"{40 * 0.9962 - 0.14 + 0.9:.2f}"))
    assert (found.code, found.key) == ("residual", "feature 26, reading_mm")
    assert found.line == [r["feature"] for r in rows].index("26") + 2
    assert float(found.message.split("lies ")[1].split(" mm")[0]) == pytest.approx(0.9, abs=0.1)


def test_too_few_sizes_are_refused_with_the_features_still_to_be_measured() -> None:
    rows = [r for r in readings() if r["feature"] not in ("24", "25", "26")]
    (found,) = refused(rows)
    assert (found.code, found.value) == ("too-few", "4, 8, 12 mm")
    assert found.allowed == "at least 4 sizes; still to be measured: feature 24, 25, 26"
    without = [r for r in readings() if r["kind"] not in ("inner", "outer")]
    assert [p.code for p in refused(without)] == ["too-few", "too-few"]


def test_heights_and_holes_may_be_left_out() -> None:
    rows = [r for r in readings() if r["kind"] in ("inner", "outer")]
    assert set(calibrate(sheet(rows)).lines) == {"inner", "outer"}


def test_the_smallest_wall_is_the_thinnest_of_those_that_printed_without_a_gap() -> None:
    assert calibrate(sheet(readings())).smallest_wall == 0.4
    rows = changed(changed(readings(), "61", reading_mm="none"), "63", reading_mm="none")
    assert calibrate(sheet(rows)).smallest_wall == 1.0


def test_the_flare_of_the_first_layer_is_what_the_plates_foot_is_wider() -> None:
    assert calibrate(sheet(readings(Machine(sd=0.0)))).flare == pytest.approx(0.25, abs=0.011)


def test_a_line_may_be_fitted_to_any_readings() -> None:
    rows = sheet(readings(seed=9)).of("z")
    assert fitted("z", rows).freedom == len(rows) - 2
