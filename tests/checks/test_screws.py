"""Engagement and material round screw holes."""

import pytest
from msgspec.structs import replace

from chassis_gen.checks.screws import check_screws
from chassis_gen.findings import Finding
from chassis_gen.shapes.frame import reversed_axis, shifted
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import cut
from tests.checks import support as s


def found(cradle=None, button=None, findings=(), **hole):
    build = s.plan(sections=s.sections(holes=(s.screw(**hole),)), findings=findings)
    return check_screws(build, s.solids(build, cradle=cradle, button=button))


def test_a_sound_hole_raises_nothing():
    assert found() == ()


def test_too_little_engagement_is_told():
    (finding,) = found(engagement=5.0)
    assert finding.code == "screw-engagement"
    assert (finding.numbers["engagement"], finding.numbers["least_engagement"]) == (5.0, 6.0)


def test_a_thread_too_small_to_tap_is_told_once():
    (finding,) = found(thread="M2")
    assert (finding.code, finding.level) == ("screw-too-small", "warning")
    assert found(thread="M2", findings=(Finding("warning", "screw-too-small", "cradle.screw", "said"),)) == ()


def end_hole(x: float, y: float = -15.0) -> dict:
    """An M3 hole of 2.5 mm along the tube in the far end of the button section."""
    return {"frame": reversed_axis(shifted(x, y, 96.0)), "depth": 8.0, "engagement": 8.0}


def drilled(x: float, y: float = -15.0):
    return (*s.button_steps(), *cut("hole", Cylinder(1.25, 88.0, 97.0, shifted(x, y))))


def test_a_hole_too_near_the_edge_is_told_with_the_wall_left():
    assert found(button=drilled(0.0), **end_hole(0.0)) == ()
    # 19.8 - 17.6 - 1.25 = 0.95 mm of material outside the hole.
    (finding,) = found(button=drilled(0.0, -17.6), **end_hole(0.0, -17.6))
    assert finding.code == "screw-edge"
    assert finding.numbers["wall"] == pytest.approx(0.95, abs=0.03)
    assert finding.numbers["clock_deg"] == 270.0


def test_a_hole_that_breaks_out_is_told():
    (finding,) = found(button=drilled(0.0, -19.0), **end_hole(0.0, -19.0))
    assert (finding.code, finding.numbers["wall"]) == ("screw-edge", 0.0)


def test_a_slot_beside_a_hole_is_told():
    steps = (*drilled(0.0), *cut("slot", Box((2.05, -17.0, 87.0), (3.0, -12.0, 97.0))))
    (finding,) = found(button=steps, **end_hole(0.0))
    assert finding.numbers["wall"] == pytest.approx(0.8, abs=0.02)


def test_a_hole_that_was_never_cut_is_told():
    (finding,) = found(**end_hole(0.0))
    assert finding.code == "screw-blocked"


def test_a_nuts_way_in_is_no_missing_wall():
    steps = (*drilled(0.0), *cut("nut slot", Box((-2.9, -25.0, 90.0), (2.9, -12.0, 93.0))))
    assert found(button=steps, kind="captive_nut", **end_hole(0.0)) == ()


def test_the_like_holes_of_a_circle_are_told_once_and_other_holes_each():
    ids = ("cradle.hole_1_1", "cradle.hole_1_2", "cradle.hole_2", "cradle.hole_3")
    holes = tuple(replace(s.screw(engagement=5.0), id=id) for id in ids)
    build = s.plan(sections=s.sections(holes=holes))
    told = [f.where for f in check_screws(build, s.solids(build)) if f.code == "screw-engagement"]
    assert told == ["cradle.hole_1_1", "cradle.hole_2", "cradle.hole_3"]
    first = (Finding("error", "screw-engagement", "cradle.hole_1_2", "said"),)
    build = s.plan(sections=s.sections(holes=holes[:3]), findings=first)
    assert [f.where for f in check_screws(build, s.solids(build)) if f.code == first[0].code] == [
        "cradle.hole_2"
    ]
    # A plate too thin for its threads has been told with the thickness that they need.
    thin = s.plan(sections=s.sections(holes=holes), findings=(Finding("error", "plate-thin", "cradle", ""),))
    assert "screw-engagement" not in [f.code for f in check_screws(thin, s.solids(thin))]
