"""Bores under tube openings stand on the openings' axes; offsets that were built in are measured."""

import pytest
from msgspec.structs import replace

from chassis_gen.checks.switch_axis import check_switch_axis
from chassis_gen.shapes.frame import radial
from chassis_gen.shapes.primitives import Box, Cylinder, Within
from chassis_gen.shapes.recipe import cut
from tests.checks import support as s


def with_axis(point, direction=s.Y):
    first, second = s.sections()
    return s.plan(sections=(first, replace(second, features={"button axis": (point, direction)})))


def test_a_sound_bore_stands_on_its_axis():
    build = s.plan()
    assert check_switch_axis(build, s.solids(build)) == ()


@pytest.mark.parametrize(("round_off", "along"), [(0.1, 0.0), (0.0, -0.08), (0.05, 0.05)])
def test_a_bore_off_its_axis_is_measured(round_off, along):
    build = s.plan()
    (finding,) = check_switch_axis(build, s.solids(build, button=s.button_steps(round_off, along)))
    assert finding.code == "axis-off"
    assert finding.numbers["round"] == pytest.approx(round_off, abs=0.004)
    assert finding.numbers["along"] == pytest.approx(along, abs=0.004)


def test_a_planned_axis_off_the_opening_is_told():
    build = with_axis((0.0, 0.0, 81.2))
    (finding,) = check_switch_axis(build, s.solids(build))
    assert "planned" in finding.message
    assert finding.numbers["along"] == pytest.approx(0.2)


def test_a_mirrored_axis_is_told():
    build = with_axis((0.0, -15.0, 81.0), s.neg(s.Y))
    (finding,) = check_switch_axis(build, s.solids(build))
    assert finding.code == "axis-off"


def test_an_anti_turn_flat_doesnt_move_the_axis():
    build = s.plan()
    frame = radial(90.0, 81.0)
    flat = Within(Cylinder(6.1, 2.0, 25.0), Box((-7.0, -7.0, 1.0), (5.4, 7.0, 26.0)), frame)
    bar, _, lane = s.button_steps()
    assert check_switch_axis(build, s.solids(build, button=(bar, *cut("bore", flat), lane))) == ()
    moved = replace(flat, frame=frame.moved((-0.06, 0.0, 0.0)))
    (finding,) = check_switch_axis(build, s.solids(build, button=(bar, *cut("bore", moved), lane)))
    assert finding.numbers["round"] == pytest.approx(0.06, abs=0.005)


def test_a_square_bore_counts_by_the_middle_between_its_walls():
    build = s.plan()
    bar, _, lane = s.button_steps()
    slot = Box((-4.0, -2.9, 2.0), (4.0, 3.1, 25.0), radial(90.0, 81.0))
    (finding,) = check_switch_axis(build, s.solids(build, button=(bar, *cut("slot", slot), lane)))
    assert finding.numbers["along"] == pytest.approx(0.1, abs=1e-6)
    assert finding.numbers["round"] == pytest.approx(0.0, abs=1e-6)


def test_a_bore_that_was_never_cut_is_told():
    build = s.plan()
    bar, _, lane = s.button_steps()
    (finding,) = check_switch_axis(build, s.solids(build, button=(bar, lane)))
    assert finding.code == "axis-not-found"
