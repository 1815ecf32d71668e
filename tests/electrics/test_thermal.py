"""Temperatures: closed forms of one part in a tube, order of the estimates, and what is found too hot."""

from __future__ import annotations

import math

import pytest

from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.electrics.thermal import Conditions, HeatSource, conditions, part_rises
from chassis_gen.plan.tube import Bore, Segment, Tube
from tests.electrics.support import led_on_board, lit

LIKELY = Conditions(film=9.0, touching=0.5)


def tube(material: str = "aluminium", length: float = 600.0) -> Tube:
    return Tube((Segment("t", 0.0, length, 1.5, material, (Bore(0.0, length, 27.0, 0.1),)),), ())


def test_a_tube_warmed_in_its_middle_is_a_fin_to_both_sides() -> None:
    """Fin of finite length, adiabatic tip (any text): conductance sqrt(h P k A) tanh(m L) to each side.

    The part's own way to the tube comes on top: half plastic of 0.2 W/(m K), half film. The heat enters
    over 10 mm, so the tube's middle lies a little below the fin's base.
    """
    source = HeatSource("part", 1.0, 295.0, 305.0, 1000.0, 5.0)
    rise = part_rises(tube(), [source], LIKELY)["part"]
    perimeter, area = math.pi * 0.030, math.pi / 4 * (0.030**2 - 0.027**2)
    m = math.sqrt(9.0 * perimeter / (167.0 * area))
    fin = 2 * math.sqrt(9.0 * perimeter * 167.0 * area) * math.tanh(m * 0.300)
    ways = 0.2 * 500e-6 / 0.005 + 9.0 * 500e-6
    assert rise == pytest.approx(1.0 / ways + 1.0 / fin, rel=0.01)


def test_heat_adds_up() -> None:
    """Superposition: rises are linear in the heats."""
    near, far = HeatSource("a", 0.5, 95, 105, 800, 4.0), HeatSource("b", 1.0, 395, 405, 800, 4.0)
    both = part_rises(tube(), [near, far], LIKELY)
    alone = part_rises(tube(), [near], LIKELY)["a"]
    other = part_rises(tube(), [HeatSource("a", 1e-9, 95, 105, 800, 4.0), far], LIKELY)["a"]
    assert both["a"] == pytest.approx(alone + other, rel=1e-6)


def test_a_plastic_tube_keeps_the_heat() -> None:
    source = HeatSource("part", 1.0, 295.0, 305.0, 1000.0, 5.0)
    assert (
        part_rises(tube("pvc"), [source], LIKELY)["part"]
        > part_rises(tube(), [source], LIKELY)["part"] + 10.0
    )


def test_all_the_heat_leaves_through_the_film() -> None:
    """Energy balance: a tube with a mean rise of Q / (h A) gives the heat off; the part is warmer than that."""
    source = HeatSource("part", 2.0, 100.0, 500.0, 30000.0, 1.0)
    rise = part_rises(tube(), [source], LIKELY)["part"]
    assert rise > 2.0 / (9.0 * math.pi * 0.030 * 0.600)


def test_estimates_are_in_order_and_films_within_the_textbook_range() -> None:
    """Free convection in gases: 2 to 25 W/(m2 K) in any text on heat transfer."""
    assert all(2.0 <= c.film <= 25.0 for c in conditions())
    for t in electrics_of(led_on_board(lit()))[0].states[0].temperatures:
        assert 25.0 < t.low_c < t.estimate_c < t.high_c


@pytest.mark.parametrize(("amps", "level"), [(0.02, None), (0.25, "warning"), (0.7, "error")])
def test_a_hot_light_is_found_by_how_sure_the_estimate_is(amps: float, level: str | None) -> None:
    found = [
        f.level
        for f in electrics_of(led_on_board(lit(amps), gauge=22))[1]
        if f.code == "plastic-hot" and f.where == "lit: light"
    ]
    assert found == ([level] if level else [])


def test_an_leds_heat_is_its_power_less_its_light() -> None:
    found = electrics_of(led_on_board(lit(0.2)))[0].states[0].temperatures
    light = next(t for t in found if t.part == "light")
    assert light.heat_w == pytest.approx(0.2 * 3.2 * 0.75)
