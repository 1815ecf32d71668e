"""Thin walls that were built in, and shapes that aren't thin walls."""

import pytest

from chassis_gen.checks.walls import Relief, check_walls, thin_patches
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.primitives import Box, Cylinder, Prism, Ring
from chassis_gen.shapes.recipe import Recipe, add, cut
from tests.checks import support as s


def test_the_sound_chassis_has_no_thin_wall():
    build = s.plan()
    assert check_walls(build, s.solids(build)) == ()


@pytest.mark.parametrize("wall", [0.3, 0.5, 0.7])
def test_a_thin_end_wall_is_told_with_section_station_clock_and_thickness(wall):
    build = s.plan()
    room = Box((3.0, -14.0, 85.0), (11.0, -6.0, 96.0 - wall))
    steps = (*s.button_steps(), *cut("room", room), *cut("vent", Box((5.0, -20.0, 86.0), (7.0, -6.0, 88.0))))
    (finding,) = check_walls(build, s.solids(build, button=steps))
    assert (finding.code, finding.where) == ("wall-thin", "button")
    assert finding.numbers["thickness"] == pytest.approx(wall, abs=0.002)
    assert finding.numbers["station"] == pytest.approx(96.0 - wall / 2, abs=wall)
    assert finding.numbers["clock_deg"] == pytest.approx(305.0, abs=30.0)
    assert finding.numbers["area_mm2"] == pytest.approx(64.0, rel=0.15)


def test_a_wall_of_the_least_thickness_is_thick_enough():
    assert thin_patches(solid(Ring(10.0, 10.8, 0.0, 20.0)), 0.8 - 0.02) == ()
    (patch,) = thin_patches(solid(Ring(10.0, 10.7, 0.0, 20.0)), 0.8 - 0.02)
    assert patch.thickness == pytest.approx(0.7, abs=0.012)


def test_a_curved_wall_thin_in_one_place_is_found_there():
    # Two circles of radius 10 and 8.9, 0.6 mm apart: the wall is 1.1 - 0.6 mm at clock 0 (plane geometry).
    ring = make(Recipe("eccentric", (*add("out", Cylinder(10.0, 0.0, 20.0)), *cut("in", _moved(8.9, 0.6)))))
    (patch,) = thin_patches(ring, 0.78)
    assert patch.thickness == pytest.approx(0.5, abs=0.02)
    assert patch.point[0] > 8.5


def _moved(radius, x):
    return Cylinder(radius, -1.0, 21.0, shifted(x=x))


def test_corners_of_more_than_30_degrees_are_no_walls():
    wedge = solid(Prism(((0.0, 0.0), (10.0, 0.0), (10.0, 7.0)), 0.0, 20.0))
    assert thin_patches(wedge, 0.78) == ()


def test_a_feather_edge_is_a_thin_wall():
    blade = solid(Prism(((0.0, 0.0), (20.0, 0.0), (20.0, 3.0)), 0.0, 20.0))
    (patch,) = thin_patches(blade, 0.78)
    assert patch.thickness < 0.2
    # The slope is 3 in 20: the wall is thinner than 0.78 mm over 5.2 mm, half of it thinner than 0.39 mm.
    assert patch.typical == pytest.approx(0.39, abs=0.06)


def test_a_patch_of_less_than_1_mm2_doesnt_count():
    def pocketed(side):
        pocket = Box((0.0, 0.0, 0.5), (side, side, 6.0))
        return make(
            Recipe("block", (*add("block", Box((-5.0, -5.0, 0.0), (5.0, 5.0, 5.0))), *cut("pocket", pocket)))
        )

    assert thin_patches(pocketed(0.9), 0.78) == ()
    (patch,) = thin_patches(pocketed(1.6), 0.78)
    assert patch.area == pytest.approx(1.6**2, rel=0.25)


def test_the_same_body_gives_the_same_patches():
    ring = solid(Ring(10.0, 10.6, 0.0, 20.0))
    assert thin_patches(ring, 0.78) == thin_patches(ring, 0.78)


def lettered(ground, style, *letters):
    """Return a plate of 5 mm over a room, `ground` thick beneath letters 0.6 mm deep, and its text."""
    steps = (
        *add("plate", Box((-10.0, -10.0, 0.0), (10.0, 10.0, 5.0))),
        *cut("room", Box((-8.0, -8.0, -1.0), (8.0, 8.0, 4.4 - ground))),
        *(cut("panel", Box((-5.0, -5.0, 4.4), (5.0, 5.0, 6.0))) if style == "raised" else ()),
        *(cut if style == "engraved" else add)("letters", *letters),
    )
    text = Relief(letters, style == "raised")
    return make(Recipe("plate", steps)), text


BARS = tuple(Box((x, -4.0, 4.4), (x + 0.6, 4.0, 6.0)) for x in (-0.8, 0.2))


def test_a_ridge_between_two_engraved_letters_is_no_wall_but_one_between_two_other_cuts_is():
    body, text = lettered(2.0, "engraved", *BARS)
    (ridge,) = thin_patches(body, 0.78)
    assert (ridge.thickness, ridge.area) == (pytest.approx(0.4, abs=0.001), pytest.approx(8 * 0.6, rel=0.1))
    assert thin_patches(body, 0.78, [text]) == ()
    (still,) = thin_patches(body, 0.78, [Relief(BARS[:1], False)])
    assert still == ridge


def test_the_ground_of_a_text_is_a_wall():
    body, text = lettered(0.5, "engraved", *BARS)
    ground = thin_patches(body, 0.78, [text])
    assert [p.thickness for p in ground] == [pytest.approx(0.5, abs=0.001)]
    assert ground[0].area == pytest.approx(2 * 8 * 0.6, rel=0.2)


def test_a_raised_letter_is_no_wall():
    body, text = lettered(2.0, "raised", Box((0.0, -4.0, 4.3), (0.5, 4.0, 4.95)))
    assert [p.thickness for p in thin_patches(body, 0.78)] == [pytest.approx(0.5, abs=0.001)]
    assert thin_patches(body, 0.78, [text]) == ()
