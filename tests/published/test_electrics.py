"""Electrics against published worked examples and textbook circuits, each with its source."""

from __future__ import annotations

import math

import pytest

from chassis_gen.electrics.loading import (
    converter_input_a,
    fuse_rating,
    fuse_window,
    led_resistor,
    runtime_h,
    wire_resistance,
)
from chassis_gen.electrics.network import Element, Feed, Resistor, Source, solve
from chassis_gen.electrics.thermal import film_resistance, wall_resistance
from chassis_gen.tables.electrical import bundle_limit, preferred_values, wire_currents
from chassis_gen.tables.wire import awg_area


def bridge(ab: float, bc: float, cd: float, da: float, bd: float, volts: float) -> float:
    """Return the current from B to D of a Wheatstone bridge with a voltage from A to C, A."""
    arms: list[Element] = [
        Resistor("AB", "A", "B", ab),
        Resistor("BC", "B", "C", bc),
        Resistor("CD", "C", "D", cd),
        Resistor("DA", "D", "A", da),
        Resistor("BD", "B", "D", bd),
        Source("battery", "A", "C", volts, 1e-9),
    ]
    return solve(arms).currents["BD"]


def test_wheatstone_bridge_of_a_school_textbook() -> None:
    """NCERT Physics class 12, chapter on current electricity: arms 100, 10, 5, 60 ohm, 15 ohm galvanometer, 10 V.

    It prints 4.87 mA.
    """
    assert bridge(100.0, 10.0, 5.0, 60.0, 15.0, 10.0) == pytest.approx(4.87e-3, abs=0.005e-3)


def test_balanced_bridge_carries_nothing() -> None:
    """Wheatstone's condition, any text: AB / BC = DA / DC."""
    assert bridge(2.0, 4.0, 4.0, 2.0, 10.0, 5.0) == pytest.approx(0.0, abs=1e-12)


def test_unbalanced_bridge_by_thevenin() -> None:
    """Thevenin's theorem on the bridge of a measurements text: 1000, 400, 41, 100 ohm, 50 ohm meter, 1.5 V.

    Open voltage 1.5 (400/1400 - 41/141), source resistance 1000 x 400 / 1400 + 100 x 41 / 141.
    """
    open_v = 1.5 * (400.0 / 1400.0 - 41.0 / 141.0)
    inner = 1000.0 * 400.0 / 1400.0 + 100.0 * 41.0 / 141.0
    found = bridge(1000.0, 400.0, 41.0, 100.0, 50.0, 1.5)
    assert found == pytest.approx(open_v / (inner + 50.0), rel=1e-6)


# supply V, forward V, A: exact ohm, E24 pick, mA at the pick, mW (Ohm's law; IEC 60063)
RESISTORS = [
    (4.2, 2.0, 0.010, 220.0, 220.0, 10.000, 22.00),
    (5.0, 3.1, 0.015, 126.67, 130.0, 14.615, 27.77),
    (3.7, 1.9, 0.005, 360.0, 360.0, 5.000, 9.00),
]


@pytest.mark.parametrize(("supply", "forward", "amps", "exact", "pick", "milliamps", "milliwatts"), RESISTORS)
def test_led_series_resistors(
    supply: float, forward: float, amps: float, exact: float, pick: float, milliamps: float, milliwatts: float
) -> None:
    """Worked examples of Ohm's law with the next value up of IEC 60063 E24."""
    found = led_resistor("led", supply, forward, amps)
    assert found is not None
    assert found.exact_ohm == pytest.approx(exact, abs=0.005)
    assert found.pick_ohm == pick
    assert found.current_a * 1000.0 == pytest.approx(milliamps, abs=0.0005)
    assert found.power_w * 1000.0 == pytest.approx(milliwatts, abs=0.005)
    assert found.rating_w >= 2 * found.power_w


def test_e24_is_the_series_of_iec_60063() -> None:
    """IEC 60063: 24 values a decade, each near the 24th root of 10 of the one before, two digits."""
    values = preferred_values("e24")
    assert len(values) == 24
    assert all(v == round(v, 1) for v in values)
    # the standard's own rounding departs from the root by up to 6 %
    assert all(v == pytest.approx(10.0 ** (k / 24), rel=0.06) for k, v in enumerate(values))


@pytest.mark.parametrize(
    ("mah", "share", "amps", "hours"), [(3000, 0.85, 0.45, 5.667), (2500, 0.80, 1.2, 1.667)]
)
def test_runtimes(mah: float, share: float, amps: float, hours: float) -> None:
    """Capacity x usable share / current, worked by hand."""
    assert runtime_h(mah, share, amps) == pytest.approx(hours, abs=0.0005)


def test_converter_load() -> None:
    """5 V 0.6 A at 90 % from 3.6 V: power over efficiency and voltage, worked by hand."""
    assert converter_input_a(5.0, 0.6, 0.90, 3.6) == pytest.approx(0.9259, abs=0.00005)


@pytest.mark.parametrize(
    ("gauge", "metres", "amps", "millivolts"), [(24, 0.30, 2.0, 101.06), (22, 0.25, 3.0, 79.44)]
)
def test_drop_there_and_back(gauge: int, metres: float, amps: float, millivolts: float) -> None:
    """ASTM B258 with the copper of IEC 60028 at 20 C: 2 x length x resistance x current."""
    one_way = wire_resistance(awg_area(gauge), metres * 1000.0)
    assert 2 * one_way * amps * 1000.0 == pytest.approx(millivolts, abs=0.01)


def test_copper_warms() -> None:
    """IEC 60028: 0.00393 per K at 20 C, so 10 % more at 45.4 C."""
    cold, warm = wire_resistance(0.2, 1000.0, 20.0), wire_resistance(0.2, 1000.0, 20.0 + 0.1 / 0.00393)
    assert warm / cold == pytest.approx(1.1, rel=1e-9)


def test_fuse_window_of_two_amperes() -> None:
    """UL 248-14 and IEC 60127 practice: 2.0 A load, fuse from 2.5 to 3.0 A, never above what the wire bears."""
    assert fuse_window(2.0) == pytest.approx((2.5, 3.0))
    assert fuse_rating(2.0, None) == 2.5
    assert fuse_rating(2.0, 2.4) is None


def test_fuse_ratings_are_the_r10_series() -> None:
    """ISO 3 R 10, as IEC 60127-2 uses it: ten steps a decade, each near the tenth root of 10 (rounded to 3 %)."""
    values = [v for v in preferred_values("fuse") if v >= 0.1]
    assert all(v == pytest.approx(0.1 * 10.0 ** (k / 10), rel=0.03) for k, v in enumerate(values))


@pytest.mark.parametrize(("gauge", "amps"), [(20, 3.7), (22, 2.5), (26, 1.4), (28, 1.0), (30, 0.7)])
def test_bundle_column(gauge: int, amps: float) -> None:
    """MIL-STD-975 and EEE-INST-002, wires in bundles of 15 or more."""
    assert bundle_limit(gauge) == amps


def test_a_gauge_that_is_not_tabled_takes_the_thinner_ones_figure() -> None:
    """Nothing is interpolated: AWG 24 bears what AWG 26 does; below AWG 30 nothing is published."""
    assert bundle_limit(24) == bundle_limit(26)
    assert bundle_limit(32) is None


def test_the_rules_keep_their_order_of_caution() -> None:
    """Transmission below bundle below single below free air, for thick wires; the free-air column never counts."""
    assert all(r.transmission < r.bundle < r.single for r in wire_currents())
    assert all(r.bundle < r.free_air for r in wire_currents() if r.gauge_awg <= 28)


def test_brick_wall() -> None:
    """A published course on heat transfer: 0.10 m of brick, k = 0.7 W/(m K), 1 m2: 0.143 K/W."""
    assert wall_resistance(100.0, 0.7, 1e6) == pytest.approx(0.143, abs=0.0005)


def test_composite_wall_in_series() -> None:
    """Worked problem of many texts: brick, pine, plywood, plaster between 20 C and -10 C, films 5 and 100 W/(m2 K).

    Conductivities 1.32, 0.15, 0.12, 0.72; the heat is 30 K over the sum of the six resistances of 1 m2.
    """
    layers = [(100.0, 1.32), (50.0, 0.15), (50.0, 0.12), (15.0, 0.72)]
    ohms = [
        film_resistance(100.0, 1e6),
        *(wall_resistance(t, k, 1e6) for t, k in layers),
        film_resistance(5.0, 1e6),
    ]
    by_hand = 1 / 100 + 0.1 / 1.32 + 0.05 / 0.15 + 0.05 / 0.12 + 0.015 / 0.72 + 1 / 5
    chain: list[Element] = [Resistor(f"r{k}", f"n{k}", f"n{k + 1}", r) for k, r in enumerate(ohms)]
    s = solve([*chain, Source("room", "n0", f"n{len(ohms)}", 30.0, 1e-6)])
    assert s.currents["r0"] == pytest.approx(30.0 / (by_hand + 1e-6), rel=1e-7)


@pytest.mark.parametrize(("conductivity", "watts"), [(398.0, 8.3), (180.0, 5.6), (14.0, 1.6)])
def test_long_rod_loses_the_heat_that_a_textbook_prints(conductivity: float, watts: float) -> None:
    """Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, example 3.9.

    A very long rod of 5 mm, base 100 C, air 25 C, film 100 W/(m2 K): copper 8.3 W, aluminium 5.6 W,
    stainless steel 1.6 W. The rod is cut into cells of 1.5 mm, as the tube of a build is into longer ones.
    """
    area, cell, cells = math.pi / 4 * 25.0, 1.5, 400
    rod: list[Element] = []
    for i in range(cells):
        half = wall_resistance(cell / 2, conductivity, area) if i == 0 else 0.0
        along = half or wall_resistance(cell, conductivity, area)
        rod.append(Resistor(f"along {i}", "base" if i == 0 else f"c{i - 1}", f"c{i}", along))
        rod.append(Resistor(f"film {i}", f"c{i}", "air", film_resistance(100.0, math.pi * 5.0 * cell)))
    s = solve([*rod, Source("base", "base", "air", 75.0, 1e-6)])
    assert s.currents["base"] == pytest.approx(watts, abs=0.06)


def test_junction_above_the_air_is_power_times_the_sum_of_resistances() -> None:
    """Thermal Ohm's law of any semiconductor data book: 2 W through 8 + 1 + 20 K/W is 58 K."""
    chain: list[Element] = [
        Resistor("junction to case", "junction", "case", 8.0),
        Resistor("case to sink", "case", "sink", 1.0),
        Resistor("sink to air", "sink", "air", 20.0),
    ]
    s = solve([*chain, Feed("heat", "air", "junction", 2.0)])
    assert s.across("junction", "air") == pytest.approx(58.0, rel=1e-9)
