"""Overlaps that were built in, with volumes by closed form, and contacts that are no overlaps."""

import math

import pytest
from msgspec.structs import replace

from chassis_gen.checks.interference import check_interference, deep_overlap
from chassis_gen.plan.model import PlacedPart
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Box, Cylinder, Ring
from chassis_gen.shapes.recipe import add
from tests.checks import support as s


def block(id: str, low, high, **changes) -> PlacedPart:
    part = replace(s.cell().part, name=id, envelope=(Box(low, high),))
    return replace(s.cell(), id=id, part=part, frame=shifted(), plays=(), **changes)


def with_parts(*parts):
    return s.plan(sections=s.sections(parts=(s.cell(), *parts)))


def test_the_sound_chassis_has_no_interference():
    build = s.plan()
    assert check_interference(build, s.solids(build)) == ()


def test_a_rib_through_the_cell_is_found_with_volume_and_place():
    build = s.plan()
    steps = (*s.cradle_steps(), *add("rib", Box((-2.0, -12.0, 30.0), (2.0, 5.0, 34.0))))
    (finding,) = check_interference(build, s.solids(build, cradle=steps))
    assert (finding.code, finding.where) == ("interference", "cradle / chassis")
    # 4 wide, 4 long, from the cell's underside (mean of sqrt(r2 - x2) over the width) up to y = 5.
    r = 9.25 - 0.02
    under = (2.0 * math.sqrt(r * r - 4.0) + r * r * math.asin(2.0 / r)) / 4.0
    assert finding.numbers["volume_mm3"] == pytest.approx(16.0 * (5.0 + under), rel=1e-3)
    assert finding.numbers["station"] == pytest.approx(32.0)


def test_two_parts_that_overlap_are_found_unless_declared():
    board = block("board", (-5.0, 8.25, 30.0), (5.0, 12.0, 40.0))
    build = with_parts(board)
    (finding,) = check_interference(build, s.solids(build))
    assert finding.where == "cradle / board"
    build = with_parts(replace(board, pierces=("cradle",)))
    assert check_interference(build, s.solids(build)) == ()


def test_parts_that_touch_dont_interfere():
    build = with_parts(block("board", (-5.0, 9.25, 30.0), (5.0, 12.0, 40.0)))
    assert check_interference(build, s.solids(build)) == ()


def test_a_part_in_the_tubes_wall_is_found_and_one_in_its_opening_isnt():
    head = block("head", (-4.0, 15.0, 77.0), (4.0, 23.0, 85.0))
    assert check_interference(with_parts(head), s.solids(with_parts(head))) == ()
    aside = block("head", (-4.0, 15.0, 67.5), (4.0, 23.0, 70.0), pierces=("chassis",))
    (finding,) = check_interference(with_parts(aside), s.solids(with_parts(aside)))
    assert finding.where == "head / tube"


def test_a_piece_that_overlaps_another_is_found():
    build = s.plan()
    lid = solid(Box((-3.0, -3.0, 95.0), (3.0, 3.0, 100.0)))
    (finding,) = check_interference(build, s.solids(build, lid=lid))
    assert finding.where == "chassis / lid"
    assert finding.numbers["volume_mm3"] == pytest.approx(36.0)


def test_pieces_of_one_radius_that_touch_all_round_dont_interfere():
    inner, outer = solid(Cylinder(9.0, 0.0, 20.0)), solid(Ring(9.0, 12.0, 5.0, 25.0))
    assert deep_overlap(inner, outer) is None
    turned = solid(Cylinder(9.001, 0.0, 20.0))
    assert deep_overlap(turned, outer) is None


def test_a_planned_squeeze_is_no_interference_and_a_deeper_one_is():
    outer = solid(Ring(9.0, 12.0, 5.0, 25.0))
    assert deep_overlap(solid(Cylinder(9.05, 0.0, 20.0)), outer) is not None
    assert deep_overlap(solid(Cylinder(9.05, 0.0, 20.0)), outer, squeeze=0.05) is None
    assert deep_overlap(solid(Cylinder(9.15, 0.0, 20.0)), outer, squeeze=0.05) is not None


def test_a_small_deep_overlap_isnt_hidden_by_a_wide_contact():
    inner = solid(Cylinder(9.001, 0.0, 20.0)).union(solid(Box((8.0, -0.5, 22.0), (10.0, 0.5, 23.0))))
    found = deep_overlap(inner, solid(Ring(9.0, 12.0, 5.0, 25.0)))
    assert found is not None
    assert found[0] == pytest.approx(1.0, abs=0.02)


def test_a_part_in_a_wire_lane_is_found():
    lane_part = block("plug", (-18.5, -7.0, 86.0), (-15.0, -4.0, 90.0), pierces=("chassis",))
    build = with_parts(lane_part)
    (finding,) = check_interference(build, s.solids(build))
    assert finding.where == "plug / button lane 1"


def test_another_piece_in_a_wire_lane_is_found():
    build = s.plan()
    plug = solid(Box((-18.5, -6.8, 70.0), (-17.8, -6.2, 72.0)))
    (finding,) = check_interference(build, s.solids(build, plug=plug))
    assert finding.where == "plug / button lane 1"
