"""Wire sizes and resistances against ASTM B258 and published wire tables."""

from __future__ import annotations

import pytest

from chassis_gen.tables.wire import awg_area, awg_diameter, awg_resistance_ohm_per_km, insulated_wire

FOOT_IN_KM = 0.0003048

# ASTM B258: diameter mm, area mm2, ohm per km with IEC 60028 copper
ASTM_B258 = {
    20: (0.8118, 0.5176, 33.3),
    22: (0.6438, 0.3255, 53.0),
    23: (0.5733, 0.2582, 66.8),
    24: (0.5106, 0.2047, 84.2),
    25: (0.4547, 0.1624, 106.2),
    26: (0.4049, 0.1288, 133.9),
    28: (0.3211, 0.0810, 212.9),
    29: (0.2859, 0.0642, 268.5),
    30: (0.2546, 0.0509, 338.5),
}

# a published wire table, ohm per 1000 ft of solid copper at 20 C
PRINTED_OHM_PER_1000_FT = {20: 10.15, 22: 16.14, 24: 25.67, 26: 40.81, 28: 64.9, 29: 81.83, 30: 103.2}


@pytest.mark.parametrize("gauge", ASTM_B258)
def test_astm_b258_sizes(gauge: int) -> None:
    diameter, area, resistance = ASTM_B258[gauge]
    assert awg_diameter(gauge) == pytest.approx(diameter, abs=0.000051)
    assert awg_area(gauge) == pytest.approx(area, abs=0.000051)
    assert awg_resistance_ohm_per_km(gauge) == pytest.approx(resistance, abs=0.051)


@pytest.mark.parametrize("gauge", PRINTED_OHM_PER_1000_FT)
def test_printed_resistances(gauge: int) -> None:
    per_1000_ft = awg_resistance_ohm_per_km(gauge) * 1000.0 * FOOT_IN_KM
    # printed from rounded diameters: within 0.2 %
    assert per_1000_ft == pytest.approx(PRINTED_OHM_PER_1000_FT[gauge], rel=0.002)


def test_neighbouring_gauges_keep_the_ratio_of_astm_b258() -> None:
    # 39th root of 92: 1.12293 in diameter, its square 1.26098 in area
    for gauge in range(20, 32):
        assert awg_diameter(gauge) / awg_diameter(gauge + 1) == pytest.approx(1.12293, abs=0.00001)
        assert awg_area(gauge) / awg_area(gauge + 1) == pytest.approx(1.26098, abs=0.00001)


@pytest.mark.parametrize(("gauge", "bundle"), [(22, 0.762), (24, 0.610), (28, 0.381), (30, 0.305)])
def test_pvc_wire_is_its_strands_and_the_ul_758_wall(gauge: int, bundle: float) -> None:
    # published strand-bundle diameters plus twice the 0.41 mm wall of UL 758 style 1007;
    # the table is rounded to 0.1 mm
    assert insulated_wire(gauge, "pvc").diameter == pytest.approx(bundle + 2 * 0.41, abs=0.05)


@pytest.mark.parametrize(("gauge", "diameter"), [(20, 1.8), (22, 1.6), (24, 1.4), (26, 1.3)])
def test_pvc_wire_of_a_published_hook_up_table(gauge: int, diameter: float) -> None:
    assert insulated_wire(gauge, "pvc").diameter == diameter
