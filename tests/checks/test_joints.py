"""Joints between pieces: holes that face each other share an axis, and those that don't are named."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from chassis_gen.checks import run_checks
from chassis_gen.checks.joints import check_joints
from chassis_gen.plan.model import ScrewHole, SectionPlan
from chassis_gen.plan.sums import PART_SIZE, Dimension, Term
from chassis_gen.shapes.frame import radial, reversed_axis, shifted
from tests.checks import support


def hole(
    section: str, piece: str, z0: float, clock: float, circle: float = 22.0, depth: float = 4.0
) -> ScrewHole:
    turn = math.radians(clock)
    frame = shifted(circle / 2 * math.cos(turn), circle / 2 * math.sin(turn), z0)
    diameter = Dimension(f"{section}.d", (Term(PART_SIZE, 3.4, "test"),))
    return ScrewHole(
        f"{section}.hole_{clock:g}", "clearance", "M3", frame, depth, diameter, 0.0, 0.0, 1.0, piece
    )


def plate(name: str, piece: str, z0: float, *holes: ScrewHole) -> SectionPlan:
    return SectionPlan("end_plate", name, z0, z0 + 4.0, piece, None, holes=holes)


def joined(clocks: tuple[float, ...], circle: float = 22.0) -> tuple[SectionPlan, ...]:
    near = plate("a", "fore", 16.0, hole("a", "fore", 16.0, 90.0), hole("a", "fore", 16.0, 270.0))
    holes = tuple(hole("b", "aft", 20.0, c, circle) for c in clocks)
    return near, plate("b", "aft", 20.0, *holes)


def test_holes_that_go_on_are_said_nothing_of() -> None:
    assert check_joints(support.plan(sections=joined((90.0, 270.0)))) == ()
    # one piece has no joint
    one = tuple(replace(s, piece="fore") for s in joined((80.0, 260.0)))
    assert check_joints(support.plan(sections=one)) == ()


def test_two_plates_turned_against_each_other_are_warned_of() -> None:
    plan = support.plan(sections=joined((85.0, 265.0)))
    found = check_joints(plan)
    # two pairs of holes that miss each other, each named once
    assert [(f.level, f.code, f.where) for f in found] == [
        ("warning", "joint-misaligned", "a.hole_90"),
        ("warning", "joint-misaligned", "a.hole_270"),
    ]
    first = found[0]
    # chord of 5 degrees on an 11 mm radius
    assert first.numbers["off"] == pytest.approx(22.0 * math.sin(math.radians(2.5)), abs=1e-6)
    assert (first.numbers["clock_deg"], first.numbers["other_clock_deg"]) == pytest.approx((90.0, 85.0))
    for words in ("a.hole_90", "b.hole_85", "clock 90.0", "clock 85.0", "11.00 mm"):
        assert words in first.message
    assert all(f in run_checks(plan, None).findings for f in found)


def test_another_circle_and_a_hole_more_are_found_from_both_sides() -> None:
    (warning, _) = check_joints(support.plan(sections=joined((90.0, 270.0), circle=22.4)))
    assert warning.numbers["off"] == pytest.approx(0.2)
    assert (warning.numbers["radius"], warning.numbers["other_radius"]) == pytest.approx((11.0, 11.2))
    (extra,) = check_joints(support.plan(sections=joined((90.0, 180.0, 270.0))))
    assert extra.where == "b.hole_180"
    # within a tenth of a millimetre it is the same axis
    assert check_joints(support.plan(sections=joined((90.0, 270.0), circle=22.18))) == ()


def test_a_wall_without_holes_is_a_note() -> None:
    found = check_joints(support.plan(sections=joined(())))
    assert [(f.level, f.code) for f in found] == [("note", "joint-closed")] * 2


def test_a_rod_that_ends_behind_the_joint_has_its_partner_there() -> None:
    near, far = joined(())
    behind = plate("c", "aft", 24.0, hole("c", "aft", 24.0, 90.0), hole("c", "aft", 24.0, 270.0))
    assert check_joints(support.plan(sections=(near, far, behind))) == ()


def test_radial_screws_blind_holes_and_gaps_do_not_count() -> None:
    near, far = joined((90.0, 270.0))
    radial_screw = replace(hole("a", "fore", 16.0, 0.0), frame=reversed_axis(radial(0.0, 19.0, 19.0)))
    blind = hole("a", "fore", 16.0, 0.0, depth=3.0)
    more = replace(near, holes=(*near.holes, radial_screw, blind))
    assert check_joints(support.plan(sections=(more, far))) == ()
    apart = replace(far, z0=30.0, z1=34.0)
    assert check_joints(support.plan(sections=(near, apart))) == ()
