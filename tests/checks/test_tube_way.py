"""What goes into the tube passes every bore on its way."""

import pytest
from msgspec.structs import replace

from chassis_gen.checks.tube_way import check_tube_way
from chassis_gen.plan.model import Outer, OuterStep
from chassis_gen.plan.tube import Bore
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Box, Ring
from tests.checks import support as s


def codes(build, made=None):
    return [(f.code, f.where) for f in check_tube_way(build, made or s.solids(build))]


def test_the_sound_chassis_goes_in():
    assert codes(s.plan()) == []


def test_a_narrow_stretch_by_the_mouth_stops_what_lies_deeper():
    build = s.plan(tube=s.tube(Bore(0.0, 10.0, 39.0, 0.1), Bore(10.0, 120.0, 40.0, 0.1)))
    assert codes(build) == [("chassis-wont-pass", "chassis"), ("piece-outside-bore", "chassis")]


def test_a_narrow_stretch_behind_the_chassis_doesnt_matter():
    assert codes(s.plan(tube=s.tube(Bore(0.0, 100.0, 40.0, 0.1), Bore(100.0, 120.0, 30.0, 0.1)))) == []


def test_a_chassis_turned_down_where_the_bore_is_narrower_goes_in():
    bores = (Bore(0.0, 70.0, 41.0, 0.1), Bore(70.0, 120.0, 40.0, 0.1))
    wide = (OuterStep(16.0, 70.0, 20.3, True), OuterStep(70.0, 96.0, 19.8, True))
    assert codes(s.plan(tube=s.tube(*bores), outer=Outer(wide))) == []
    late = (OuterStep(16.0, 71.0, 20.3, True), OuterStep(71.0, 96.0, 19.8, True))
    build = s.plan(tube=s.tube(*bores), outer=Outer(late))
    (finding,) = check_tube_way(build, s.solids(build))
    assert finding.numbers["station"] == 70.0
    assert finding.numbers["diameter"] == pytest.approx(40.6)


def test_a_piece_beyond_its_planned_surface_is_found():
    build = s.plan()
    collar = solid(Ring(15.0, 20.4, 70.0, 72.0))
    assert ("piece-outside-bore", "collar") in codes(build, s.solids(build, collar=collar))


@pytest.mark.parametrize(("z0", "z1"), [(-1.0, 96.0), (16.0, 121.0)])
def test_a_chassis_beyond_either_end_of_the_tube_is_found(z0, z1):
    build = s.plan(z0=z0, z1=z1)
    assert ("chassis-past-tube", "chassis") in codes(build)


def test_a_part_that_pokes_out_of_the_bore_is_found_with_its_reach():
    tall = replace(s.cell().part, envelope=(Box((-2.0, 0.0, 30.0), (2.0, 20.5, 40.0)),))
    build = s.plan(sections=s.sections(parts=(s.cell(part=tall, frame=shifted()),)))
    (finding,) = check_tube_way(build, s.solids(build))
    assert (finding.code, finding.where) == ("part-outside-bore", "cradle")
    assert finding.numbers["reach"] == pytest.approx((20.5**2 + 4.0) ** 0.5)


def test_a_button_may_stand_out_through_its_opening():
    first, second = s.sections()
    head = replace(s.cell().part, envelope=(Box((-4.0, 10.0, 77.0), (4.0, 24.0, 85.0)),))
    button = s.cell(id="button", part=head, frame=shifted(), section="button")
    assert codes(s.plan(sections=(first, replace(second, parts=(button,))))) == []
    aside = replace(button, frame=shifted(z=-8.0))
    assert codes(s.plan(sections=(first, replace(second, parts=(aside,))))) == [
        ("part-outside-bore", "button")
    ]
