"""Lanes are free, not overfilled and open from section to section."""

import pytest

from chassis_gen.checks.lanes_check import check_lanes
from chassis_gen.shapes.frame import shifted, unit
from chassis_gen.shapes.primitives import Box, Cylinder, TubeSegment
from chassis_gen.shapes.recipe import add, cut
from tests.checks import support as s


def found(build=None, **steps):
    build = build or s.plan()
    return check_lanes(build, s.solids(build, **steps))


def test_sound_lanes_raise_nothing():
    assert found() == ()


def test_an_overfull_lane_is_told():
    lanes = (s.lane("cradle", 16.0, 66.0, fill=0.65), s.lane("button", 66.0, 96.0))
    (finding,) = found(s.plan(lanes=lanes))
    assert (finding.code, finding.numbers) == ("lane-overfull", {"fill": 0.65, "fill_limit": 0.6})


def test_a_lane_that_was_never_cut_is_blocked():
    bar, bore, _ = s.button_steps()
    codes = {(f.code, f.where) for f in found(button=(bar, bore))}
    assert ("lane-blocked", "button lane 1") in codes
    assert ("lane-blocked", "cradle lane 1 / button lane 1") in codes


def test_a_rib_across_a_lane_is_found_where_it_stands():
    rib = TubeSegment(15.0, 19.0, 40.0, 42.0, 180.0, 220.0)
    (finding,) = found(cradle=(*s.cradle_steps(), *add("rib", rib)))
    assert finding.where == "cradle lane 1"
    assert finding.numbers["station"] == 40.0


def test_a_plug_in_the_joint_is_found():
    plug = Box((-19.0, -8.0, 65.9), (-16.0, -5.0, 66.01))
    codes = {f.where for f in found(cradle=(*s.cradle_steps(), *add("plug", plug)))}
    assert "cradle lane 1 / button lane 1" in codes


def test_lanes_that_dont_meet_at_a_joint_are_told():
    lanes = (s.lane("cradle", 16.0, 66.0), s.lane("button", 66.0, 96.0, clock_from=206.0, clock_to=216.0))
    wheres = {f.where for f in found(s.plan(lanes=lanes))}
    assert "cradle lane 1 / button lane 1" in wheres


def test_clocks_that_differ_by_a_full_turn_meet():
    lanes = (s.lane("cradle", 16.0, 66.0), s.lane("button", 66.0, 96.0, clock_from=-165.0, clock_to=-155.0))
    assert found(s.plan(lanes=lanes)) == ()


def closed(section, z0, z1):
    # A bore of 3 mm under a wall of 0.8 mm: from 16.0 to 19.0 out of 19.8.
    return s.lane(section, z0, z1, bottom_radius=16.0, closed=True, clock_from=191.0, clock_to=209.0)


def bored(steps, z0, z1):
    x, y = unit(200.0)
    return (*steps[:-1], *cut("tunnel", Cylinder(1.5, z0, z1, shifted(17.5 * x, 17.5 * y))))


def test_closed_lanes_are_looked_through_under_their_wall():
    build = s.plan(lanes=(closed("cradle", 16.0, 66.0), closed("button", 66.0, 96.0)))
    cradle, button = bored(s.cradle_steps(), 15.0, 67.0), bored(s.button_steps(), 65.0, 97.0)
    assert found(build, cradle=cradle, button=button) == ()
    wheres = {f.where for f in found(build, cradle=bored(s.cradle_steps(), 15.0, 60.0), button=button)}
    assert wheres >= {"cradle lane 1", "cradle lane 1 / button lane 1"}


def test_a_rib_between_two_lanes_of_one_section_is_found():
    lanes = (s.lane("cradle", 16.0, 40.0), s.lane("cradle", 40.0, 66.0, id="cradle lane 2"))
    build = s.plan(lanes=(*lanes, s.lane("button", 66.0, 96.0)))
    assert found(build) == ()
    rib = TubeSegment(15.0, 19.0, 39.99, 40.01, 180.0, 220.0)
    wheres = {f.where for f in found(build, cradle=(*s.cradle_steps(), *add("rib", rib)))}
    assert wheres == {"cradle lane 1 / cradle lane 2"}


@pytest.mark.parametrize("depth", [0.9, 1.8])
def test_a_tunnel_and_a_groove_meet_on_the_tunnels_ramp(depth):
    """A shallow groove's bottom lies above the middle between groove and bore; the ramp opens all above the bore's."""
    groove = s.lane("button", 66.0, 96.0, bottom_radius=19.8 - depth)
    build = s.plan(lanes=(closed("cradle", 16.0, 66.0), groove))
    bar, bore, _ = s.button_steps()
    button = (bar, bore, *cut("lane", TubeSegment(19.8 - depth, 21.0, 65.0, 97.0, 190.0, 210.0)))
    cradle = bored(s.cradle_steps(), 15.0, 67.0)
    ramp = cut("ramp", TubeSegment(17.5, 21.0, 62.0, 67.0, 195.0, 205.0))
    assert found(build, cradle=(*cradle, *ramp), button=button) == ()
    overlap = add("overlap", TubeSegment(10.0, 19.8 - depth, 65.9375, 66.5, 195.0, 205.0))
    assert found(build, cradle=(*cradle, *ramp, *overlap), button=button) == ()
    rib = add("rib", TubeSegment(17.0, 19.8, 65.0, 65.5, 195.0, 205.0))
    wheres = {f.where for f in found(build, cradle=(*cradle, *ramp, *rib), button=button)}
    assert "cradle lane 1 / button lane 1" in wheres
