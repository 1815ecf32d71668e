"""Each kind of hole gives diameter, engagement, depth and wall from its rule and the thread's tables."""

from __future__ import annotations

import pytest

from chassis_gen.problems import InputError
from chassis_gen.tables.holes import HoleRule, hole_for, hole_kinds, hole_rules
from chassis_gen.tables.threads import Thread, all_threads, find_thread


def test_six_kinds_of_hole_in_plastic_three_in_metal() -> None:
    plastic = {"tapped", "thread_forming", "clearance", "insert", "captive_nut", "set_screw"}
    assert set(hole_kinds()) == set(hole_kinds("plastic")) == plastic
    assert set(hole_kinds("metal")) == {"tapped", "clearance", "set_screw"}


@pytest.mark.parametrize("thread", all_threads(), ids=lambda thread: thread.designation)
@pytest.mark.parametrize("kind", ["tapped", "thread_forming", "set_screw"])
def test_plastic_carries_two_diameters(kind: str, thread: Thread) -> None:
    # common practice, no standard
    assert hole_for(kind, thread, "plastic").min_engagement == pytest.approx(2.0 * thread.major_diameter)


@pytest.mark.parametrize("thread", all_threads(), ids=lambda thread: thread.designation)
@pytest.mark.parametrize("kind", ["tapped", "set_screw"])
def test_metal_carries_three_turns(kind: str, thread: Thread) -> None:
    # common practice, no standard
    assert hole_for(kind, thread, "metal").min_engagement == pytest.approx(3.0 * thread.pitch)


@pytest.mark.parametrize(("kind", "rule"), [(rule.kind, rule) for rule in hole_rules().values()])
def test_every_hole_is_complete(kind: str, rule: HoleRule) -> None:
    for thread in all_threads():
        if kind == "insert" and thread.insert is None:
            continue
        hole = hole_for(kind, thread, rule.wall_material)
        assert hole.diameter > 0.0
        assert hole.min_wall >= rule.wall_floor
        assert hole.depth_rule and all(hole.sources)
        assert hole.min_depth >= hole.min_engagement


@pytest.mark.parametrize("kind", ["tapped", "set_screw"])
def test_tapping_plastic_starts_at_m3_and_number_4(kind: str) -> None:
    warned = [t.designation for t in all_threads() if hole_for(kind, t, "plastic").finding]
    assert warned == ["M1.6", "M2", "M2.5", "#2-56"]
    finding = hole_for(kind, find_thread("M2"), "plastic").finding
    assert finding is not None and finding[0] == "warning" and "M3 or #4" in finding[1]
    assert hole_for(kind, find_thread("M2"), "metal").finding is None


def test_diameters_come_from_the_threads_tables() -> None:
    thread = find_thread("M3")
    assert hole_for("tapped", thread).diameter == 2.5
    assert hole_for("clearance", thread).diameter == 3.4
    assert hole_for("clearance", thread, fit="fine").diameter == 3.2
    assert hole_for("clearance", thread, fit="coarse").diameter == 3.6
    assert hole_for("captive_nut", thread).diameter == 3.4
    assert hole_for("insert", thread).diameter == 4.0
    assert hole_for("set_screw", thread).diameter == 2.5


def test_an_insert_hole_is_one_millimetre_deeper_than_the_insert() -> None:
    thread = find_thread("M3")
    assert thread.insert is not None
    # common practice, no standard: published guides say 0.5 to 1 mm
    assert hole_for("insert", thread).min_depth == pytest.approx(thread.insert.length + 1.0)


def test_a_nut_pocket_takes_the_tallest_nut() -> None:
    thread = find_thread("M6")
    hole = hole_for("captive_nut", thread)
    assert hole.min_engagement == 5.2
    assert hole.min_depth > 5.2


def test_only_a_smooth_hole_over_3_mm_gets_a_teardrop() -> None:
    assert not hole_for("clearance", find_thread("M2.5")).teardrop_when_lying
    assert hole_for("clearance", find_thread("M3")).teardrop_when_lying
    for kind in ("tapped", "thread_forming", "insert", "set_screw"):
        assert not hole_for(kind, find_thread("M6")).teardrop_when_lying


@pytest.mark.parametrize(
    ("arguments", "code", "nearest"),
    [
        (("taped", "plastic", "medium"), "unknown-hole-kind", "tapped"),
        (("tapped", "metall", "medium"), "unknown-wall-material", "metal"),
        (("clearance", "plastic", "midium"), "unknown-screw-fit", "medium"),
        (("insert", "metal", "medium"), "hole-kind-material", None),
    ],
)
def test_what_is_not_known_is_named(arguments: tuple[str, str, str], code: str, nearest: str | None) -> None:
    kind, material, fit = arguments
    with pytest.raises(InputError) as caught:
        hole_for(kind, find_thread("M3"), material, fit)  # type: ignore[arg-type]
    (problem,) = caught.value.problems
    assert (problem.code, problem.nearest) == (code, nearest)


def test_a_thread_without_insert_is_an_error() -> None:
    with pytest.raises(InputError) as caught:
        hole_for("insert", find_thread("M1.6"))
    assert caught.value.problems[0].code == "no-insert"
