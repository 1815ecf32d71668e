"""One connected body per piece; volumes by closed form."""

import pytest

from chassis_gen.checks.bodies import check_bodies
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import add, cut
from tests.checks import support as s


def test_the_sound_chassis_is_one_body():
    build = s.plan()
    assert check_bodies(build, s.solids(build)) == ()


def test_a_floating_rib_is_found_with_volume_and_place():
    build = s.plan()
    steps = (*s.cradle_steps(), *add("rib", Box((-2.0, 0.0, 30.0), (2.0, 3.0, 40.0))))
    (finding,) = check_bodies(build, s.solids(build, cradle=steps))
    assert finding.code == "piece-falls-apart"
    assert finding.numbers["volume_mm3"] == pytest.approx(120.0)
    assert finding.numbers["station"] == 35.0
    assert "cradle" in finding.message


def test_a_severed_chassis_is_two_bodies():
    build = s.plan()
    steps = (*s.button_steps(), *cut("saw", Box((-30.0, -30.0, 90.0), (30.0, 30.0, 91.0))))
    (finding,) = check_bodies(build, s.solids(build, button=steps))
    assert (finding.code, finding.numbers["bodies"]) == ("piece-falls-apart", 2)
    assert finding.numbers["station"] == pytest.approx(93.5)


def test_a_void_sealed_inside_is_found():
    build = s.plan()
    steps = (*s.button_steps(), *cut("void", Box((-2.0, -12.0, 75.0), (2.0, -8.0, 85.0))))
    (finding,) = check_bodies(build, s.solids(build, button=steps))
    assert finding.code == "trapped-void"
    assert finding.numbers["volume_mm3"] == pytest.approx(160.0)
