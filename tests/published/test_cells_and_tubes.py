"""Cells and tubes against IEC 60086-2, ASME, ASTM and a worked tolerance stack."""

from __future__ import annotations

import math

import pytest

from chassis_gen.tables.cells import find_cell
from chassis_gen.tables.materials import find_material
from chassis_gen.tables.tubes import find_tube

INCH = 25.4


@pytest.mark.parametrize(
    ("name", "diameter", "length"), [("AA", (13.5, 14.5), (49.2, 50.5)), ("AAA", (9.5, 10.5), (43.3, 44.5))]
)
def test_iec_60086_2_sizes(name: str, diameter: tuple[float, float], length: tuple[float, float]) -> None:
    # IEC 60086-2 R6 and R03; the least diameters and the least AAA length from memory
    cell = find_cell(name)
    assert (cell.min_diameter, cell.max_diameter) == diameter
    assert (cell.min_length, cell.max_length) == length


@pytest.mark.parametrize(
    ("name", "diameter", "length"),
    [("14500", 14, 50), ("18650", 18, 65), ("18650 protected", 18, 65), ("21700", 21, 70)],
)
def test_trade_codes_give_the_nominal_size(name: str, diameter: int, length: int) -> None:
    # trade practice, no standard: two digits of diameter, two of length, a zero for "round"
    cell = find_cell(name)
    assert name[:4] == f"{diameter}{length}"
    assert (cell.nominal_diameter, cell.nominal_length) == (diameter, length)
    assert diameter <= cell.max_diameter < diameter + 1.5


def test_a_protected_cell_is_longer_and_at_most_19_3_wide() -> None:
    # published pages: 2.5 to 3 mm longer, up to 70 mm, 0.5 mm wider; 19.3 mm with its sleeve
    bare, protected = find_cell("18650"), find_cell("18650 protected")
    assert protected.max_diameter == 19.3 and protected.max_length == 70.0
    assert protected.min_length - bare.max_length == pytest.approx(1.7)


def test_a_21700_has_the_volume_of_the_open_parameter_set() -> None:
    # an open cell-modelling parameter set prints 24.2 cm3 for a 21 x 70 mm cylinder
    cell = find_cell("21700")
    volume_cm3 = math.pi / 4 * cell.nominal_diameter**2 * cell.nominal_length / 1000
    assert volume_cm3 == pytest.approx(24.2, abs=0.05)


@pytest.mark.parametrize(
    ("name", "outer_inch", "wall_inch"),
    [
        ("steel 3/4 sch 40", 1.050, 0.113),  # ASME B36.10M
        ("steel 1 sch 40", 1.315, 0.133),  # ASME B36.10M
        ("steel 1 sch 80", 1.315, 0.179),  # ASME B36.10M
        ("steel 1 1/4 sch 40", 1.660, 0.140),  # ASME B36.10M
        ("steel 1 1/2 sch 40", 1.900, 0.145),  # ASME B36.10M
        ("steel 1 1/2 sch 80", 1.900, 0.200),  # ASME B36.10M
        ("stainless 1 sch 10S", 1.315, 0.109),  # ASME B36.19M
        ("pvc 1 sch 40", 1.315, 0.133),  # ASTM D1785
        ("copper 3/4 L", 0.875, 0.045),  # ASTM B88
        ("copper 1 K", 1.125, 0.065),  # ASTM B88
        ("copper 1 1/4 M", 1.375, 0.042),  # ASTM B88
        ("copper 1 1/2 L", 1.625, 0.060),  # ASTM B88
        ("inch 1 1/2 x 0.065", 1.500, 0.065),  # trade size, from memory
    ],
)
def test_inch_tubes_of_the_standards(name: str, outer_inch: float, wall_inch: float) -> None:
    tube = find_tube(name)
    assert tube.outer_diameter == pytest.approx(INCH * outer_inch, abs=0.00051)
    assert tube.wall == pytest.approx(INCH * wall_inch, abs=0.00051)
    assert tube.bore_diameter == pytest.approx(INCH * (outer_inch - 2 * wall_inch), abs=0.001)


@pytest.mark.parametrize("size", ["3/4", "1", "1 1/4", "1 1/2"])
def test_copper_tube_is_an_eighth_larger_than_its_name(size: str) -> None:
    # ASTM B88: outside diameter = nominal size + 1/8 in
    whole, _, rest = size.rpartition(" ")
    top, _, bottom = rest.partition("/")
    nominal = (int(whole) if whole else 0) + int(top) / int(bottom or 1)
    assert find_tube(f"copper {size} L").outer_diameter == pytest.approx(INCH * (nominal + 0.125))


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("PLA", 1.24, 1.24), ("PETG", 1.27, 1.27), ("ABS", 1.04, 1.08), ("ASA", 1.07, 1.07)],
)
def test_densities_of_published_polymer_tables(name: str, low: float, high: float) -> None:
    # PLA, PETG and ABS: published polymer tables; ASA from memory
    assert low <= find_material(name).density_g_cm3 <= high
