"""Layout: sections in file order, pins met exactly, fills taking up the slack."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chassis_gen.plan.layout import LEAST_FILL, LayoutFault, Slot, stand_sections
from chassis_gen.plan.sums import GRID, on_grid


def only_fault(slots: list[Slot], near: float, end: float | None) -> LayoutFault:
    stands, faults = stand_sections(slots, near, end)
    assert stands == ()
    assert len(faults) == 1
    return faults[0]


def test_sections_follow_each_other_from_the_near_end() -> None:
    stands, faults = stand_sections([Slot("a", 20.0), Slot("b", 30.5)], 4.0, None)
    assert not faults
    assert [(s.name, s.z0, s.z1) for s in stands] == [("a", 4.0, 24.0), ("b", 24.0, 54.5)]


def test_fills_share_the_slack_evenly() -> None:
    stands, _ = stand_sections([Slot("a", None), Slot("b", 30.0), Slot("c", None)], 0.0, 50.0)
    assert [s.z1 - s.z0 for s in stands] == [10.0, 30.0, 10.0]


@given(
    st.lists(st.one_of(st.none(), st.floats(1, 80).map(on_grid)), min_size=1, max_size=8),
    st.floats(0, 20).map(on_grid),
    st.floats(3, 70).map(on_grid),
)
def test_pins_are_met_exactly_and_fixed_lengths_kept(
    lengths: list[float | None], near: float, slack: float
) -> None:
    fills = sum(1 for x in lengths if x is None)
    if not fills:
        lengths, fills = [*lengths, None], 1
    end = near + sum(x for x in lengths if x is not None) + slack * fills
    stands, faults = stand_sections([Slot(f"s{i}", x) for i, x in enumerate(lengths)], near, end)
    assert not faults
    assert stands[0].z0 == near
    assert stands[-1].z1 == end
    for a, b in itertools.pairwise(stands):
        assert a.z1 == b.z0
    for s, length in zip(stands, lengths, strict=True):
        if length is not None:
            assert s.z1 - s.z0 == length
        else:
            assert s.z1 - s.z0 == pytest.approx(slack, abs=fills * GRID)


def test_pinned_section_stands_where_it_must_and_the_run_before_yields() -> None:
    slots = [Slot("bay", None), Slot("button", 26.0, 105.0, '"button" at opening "hole"'), Slot("cell", 80.0)]
    stands, faults = stand_sections(slots, 4.0, None)
    assert not faults
    assert [(s.z0, s.z1) for s in stands] == [(4.0, 105.0), (105.0, 131.0), (131.0, 211.0)]


def test_short_of_a_pin_is_told_with_the_numbers() -> None:
    fault = only_fault([Slot("a", 20.0), Slot("b", 10.0, 30.0, '"b" station')], 4.0, None)
    assert (fault.code, fault.index) == ("layout-fixed", 0)
    for words in (
        "chassis_offset at 4",
        '"b" station at 30',
        "26 mm",
        "take 20 mm",
        "6 mm short of the room",
    ):
        assert words in fault.message
    assert "fill" in fault.allowed


def test_over_the_room_is_told_with_the_numbers() -> None:
    fault = only_fault([Slot("a", 20.0), Slot("b", 50.0)], 4.0, 60.0)
    for words in (
        "chassis_offset at 4",
        "chassis_end at 60",
        "56 mm",
        "take 70 mm",
        "14 mm more than the room",
    ):
        assert words in fault.message


def test_first_section_pinned_away_from_the_offset_is_a_fault() -> None:
    assert only_fault([Slot("a", 20.0, 6.0, '"a" station')], 4.0, None).code == "layout-fixed"


def test_fill_with_too_little_left_names_the_fills() -> None:
    fault = only_fault([Slot("a", 20.0), Slot("bay", None), Slot("b", 10.0, 25.0, '"b" station')], 4.0, None)
    assert (fault.code, fault.index) == ("layout-full", 1)
    assert fault.message.endswith('1 mm are left for "bay"')
    assert fault.allowed == f"at least {LEAST_FILL:g} mm for each fill section"


def test_fill_at_an_open_end_is_a_fault() -> None:
    fault = only_fault([Slot("a", 20.0), Slot("bay", None)], 4.0, None)
    assert (fault.code, fault.index) == ("layout-open", 1)
    assert fault.message == '"bay" has length "fill", but nothing pins the chassis beyond it'


def test_two_faults_are_told_together() -> None:
    slots = [Slot("a", 20.0), Slot("b", 10.0, 30.0, "b"), Slot("bay", None)]
    _, faults = stand_sections(slots, 4.0, None)
    assert [f.code for f in faults] == ["layout-fixed", "layout-open"]
