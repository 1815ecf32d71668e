"""Threads are found as makers write them, described with sources, and judged for tapping."""

from __future__ import annotations

import json

import pytest

from chassis_gen.problems import InputError
from chassis_gen.tables.drills import find_drill
from chassis_gen.tables.threads import (
    Thread,
    all_threads,
    find_thread,
    percent_thread,
    tap_drill_warning,
    thread_json,
    thread_rows,
)


@pytest.mark.parametrize(
    ("text", "designation"),
    [
        ("M3", "M3"),
        ("m3", "M3"),
        (" M 3 ", "M3"),
        ("M3x0.5", "M3"),
        ("M3 x 0.50", "M3"),
        ("M3\u00d70.5", "M3"),
        ("M2.5", "M2.5"),
        ("M6x1", "M6"),
        ("8-32", "#8-32"),
        ("#8-32", "#8-32"),
        ("#8-32 UNC", "#8-32"),
        ("8-32unc", "#8-32"),
        ("no. 8-32", "#8-32"),
        ("10-32 UNF", "#10-32"),
        ("#10-24", "#10-24"),
        ("1/4-20", "1/4-20"),
        ('1/4"-20 UNC', "1/4-20"),
    ],
)
def test_a_thread_is_found_as_makers_write_it(text: str, designation: str) -> None:
    assert find_thread(text).designation == designation


@pytest.mark.parametrize(
    ("text", "nearest"),
    [("M7", "M6"), ("M33", "M3"), ("M3x0.35", "M3"), ("#8", "#8-32"), ("8-32 UNF", "#8-32"), ("", None)],
)
def test_a_thread_that_is_not_tabled_names_the_nearest(text: str, nearest: str | None) -> None:
    with pytest.raises(InputError) as caught:
        find_thread(text)
    (problem,) = caught.value.problems
    assert (problem.code, problem.nearest, problem.value) == ("unknown-thread", nearest, f'"{text}"')
    assert problem.allowed is not None and "M1.6" in problem.allowed and "1/4-20" in problem.allowed


def test_all_wanted_threads_are_tabled() -> None:
    metric = ["M1.6", "M2", "M2.5", "M3", "M4", "M5", "M6"]
    unified = ["#2-56", "#4-40", "#6-32", "#8-32", "#10-24", "#10-32", "1/4-20"]
    assert [thread.designation for thread in all_threads()] == metric + unified


@pytest.mark.parametrize("thread", all_threads(), ids=lambda thread: thread.designation)
def test_sizes_of_one_thread_stand_in_the_order_the_trade_needs(thread: Thread) -> None:
    hole, nut = thread.clearance, thread.nut
    assert thread.minor_diameter < thread.tap_drill < thread.forming_diameter < thread.major_diameter
    assert thread.major_diameter < hole.fine < hole.medium < hole.coarse < nut.across_flats_min
    assert nut.height_min < nut.height_max and nut.across_flats_min < nut.across_flats_max
    assert nut.across_corners_min < nut.across_corners
    assert list(thread.set_screw.lengths) == sorted(thread.set_screw.lengths)
    assert thread.set_screw.key < thread.minor_diameter
    if thread.insert:
        assert hole.medium < thread.insert.hole_diameter
        assert thread.insert.hole_low <= thread.insert.hole_diameter <= thread.insert.hole_high
        assert thread.insert.length >= thread.major_diameter


@pytest.mark.parametrize("thread", all_threads(), ids=lambda thread: thread.designation)
def test_a_thread_forming_hole_leaves_60_to_75_percent(thread: Thread) -> None:
    # common practice, no standard: what the rows of the data file themselves claim
    assert 60.0 <= percent_thread(thread, thread.forming_diameter, "1.0825") <= 75.0


@pytest.mark.parametrize("thread", all_threads(), ids=lambda thread: thread.designation)
def test_the_tabled_tap_drill_is_never_warned_of(thread: Thread) -> None:
    assert tap_drill_warning(thread, thread.tap_drill) is None


def test_a_tap_drill_that_is_too_small_is_warned_of_on_its_basis() -> None:
    thread = find_thread("M3")
    # 85 % of 1.299 x 0.5 mm is 0.5521 mm: the limit lies at a 2.4479 mm hole
    assert tap_drill_warning(thread, 2.45) is None
    warning = tap_drill_warning(thread, 2.44)
    assert warning is not None
    assert "86 %" in warning and "1.299 basis" in warning and "85 %" in warning and "2.5 mm" in warning


@pytest.mark.parametrize("diameter", [0.0, -1.0, float("nan"), float("inf")])
def test_a_drill_without_a_diameter_is_refused(diameter: float) -> None:
    with pytest.raises(InputError) as caught:
        percent_thread(find_thread("M3"), diameter)
    assert caught.value.problems[0].code == "bad-drill"


def test_an_unknown_basis_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        percent_thread(find_thread("M3"), 2.5, "1.3")  # type: ignore[arg-type]
    assert caught.value.problems[0].code == "unknown-basis"


@pytest.mark.parametrize("thread", all_threads(), ids=lambda thread: thread.designation)
def test_every_line_for_people_has_label_value_and_source(thread: Thread) -> None:
    rows = thread_rows(thread)
    labels = [label for label, _, _ in rows]
    assert len(labels) == len(set(labels)) >= 15
    assert all(label and value and source for label, value, source in rows)


def test_json_carries_lengths_in_mm_and_sources() -> None:
    data = json.loads(json.dumps(thread_json(find_thread("#8-32"))))
    assert data["unit"] == "mm" and data["designation"] == "#8-32"
    assert data["tap"] == {"name": "#29", "diameter": pytest.approx(3.4544), "source": data["tap"]["source"]}
    assert data["percent_thread"]["1.299"] == pytest.approx(69.0, abs=0.05)
    assert all(data[key]["source"] for key in ("tap", "clearance", "nut", "set_screw", "insert", "forming"))


@pytest.mark.parametrize(
    ("text", "diameter"),
    [
        ("#29", 3.4544),
        ("no. 29", 3.4544),
        ("b", 6.0452),
        ("7/32 in", 5.55625),
        ("2.5mm", 2.5),
    ],
)
def test_a_drill_is_found_as_makers_write_it(text: str, diameter: float) -> None:
    assert find_drill(text).diameter == pytest.approx(diameter)


@pytest.mark.parametrize("text", ["29", "#299"])
def test_a_drill_that_is_not_tabled_or_has_no_unit_names_the_nearest(text: str) -> None:
    # a bare "2" may mean #2 or 2 mm, which are 3.6 mm apart
    with pytest.raises(InputError) as caught:
        find_drill(text)
    assert caught.value.problems[0].code == "unknown-drill"
    assert caught.value.problems[0].nearest == "#29"
