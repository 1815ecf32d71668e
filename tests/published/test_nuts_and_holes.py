"""Nuts, clearance holes, set-screw keys and general tolerances against published standards."""

from __future__ import annotations

import pytest

from chassis_gen.tables.threads import find_thread
from chassis_gen.tables.tolerances import linear_tolerance

INCH = 25.4


@pytest.mark.parametrize(
    ("name", "fine", "medium", "coarse"),
    [
        ("M1.6", 1.7, 1.8, 2.0),
        ("M2", 2.2, 2.4, 2.6),
        ("M2.5", 2.7, 2.9, 3.1),
        ("M3", 3.2, 3.4, 3.6),
        ("M4", 4.3, 4.5, 4.8),
        ("M5", 5.3, 5.5, 5.8),
        ("M6", 6.4, 6.6, 7.0),
    ],
)
def test_iso_273_clearance_holes(name: str, fine: float, medium: float, coarse: float) -> None:
    hole = find_thread(name).clearance
    assert (hole.fine, hole.medium, hole.coarse) == (fine, medium, coarse)


@pytest.mark.parametrize(
    ("name", "close", "normal", "loose"),
    [
        ("#2-56", 2.4, 2.6, 2.9),
        ("#4-40", 3.0, 3.3, 3.7),
        ("#6-32", 3.9, 4.3, 4.7),
        ("#8-32", 4.6, 5.0, 5.4),
        ("#10-24", 5.2, 5.6, 6.0),
        ("#10-32", 5.2, 5.6, 6.0),
        ("1/4-20", 6.7, 7.1, 7.5),
    ],
)
def test_asme_b18_2_8_inch_drills_stand_beside_its_metric_drills(
    name: str, close: float, normal: float, loose: float
) -> None:
    # Table 3a lists the nearest metric drill for the inch drill of Table 1a: never more than 0.06 mm apart
    hole = find_thread(name).clearance
    assert hole.fine == pytest.approx(close, abs=0.06)
    assert hole.medium == pytest.approx(normal, abs=0.06)
    assert hole.coarse == pytest.approx(loose, abs=0.06)


@pytest.mark.parametrize(
    ("name", "loose_min", "loose_max"),
    [
        ("#2-56", 0.116, 0.126),
        ("#4-40", 0.144, 0.156),
        ("#6-32", 0.185, 0.197),
        ("#8-32", 0.213, 0.225),
        ("1/4-20", 0.297, 0.311),
    ],
)
def test_asme_b18_2_8_loose_drills_lie_in_the_hole_limits(
    name: str, loose_min: float, loose_max: float
) -> None:
    # Table 1a prints limits to 0.001 in
    assert loose_min - 0.0005 <= find_thread(name).clearance.coarse / INCH <= loose_max


@pytest.mark.parametrize(
    ("name", "s_max", "s_min", "m_max", "m_min", "e_min"),
    [
        ("M1.6", 3.2, 3.02, 1.3, 1.05, 3.41),
        ("M2", 4.0, 3.82, 1.6, 1.35, 4.32),
        ("M2.5", 5.0, 4.82, 2.0, 1.75, 5.45),
        ("M3", 5.5, 5.32, 2.4, 2.15, 6.01),
        ("M4", 7.0, 6.78, 3.2, 2.9, 7.66),
        ("M5", 8.0, 7.78, 4.7, 4.4, 8.79),
        ("M6", 10.0, 9.78, 5.2, 4.9, 11.05),
    ],
)
def test_iso_4032_nuts(
    name: str, s_max: float, s_min: float, m_max: float, m_min: float, e_min: float
) -> None:
    nut = find_thread(name).nut
    assert (nut.across_flats_max, nut.across_flats_min) == (s_max, s_min)
    assert (nut.height_max, nut.height_min) == (m_max, m_min)
    assert nut.across_corners_min == e_min
    # ISO 4759-1 fixes e min as 1.13 times s min for hexagon products
    assert nut.across_corners_min == pytest.approx(1.13 * nut.across_flats_min, abs=0.0051)


@pytest.mark.parametrize(
    ("name", "f_max", "f_min", "h_max", "h_min", "corners_max", "corners_min"),
    [
        ("#2-56", 0.188, 0.180, 0.066, 0.057, 0.217, 0.205),
        ("#4-40", 0.250, 0.241, 0.098, 0.087, 0.289, 0.275),
        ("#6-32", 0.312, 0.302, 0.114, 0.102, 0.361, 0.344),
        ("#8-32", 0.344, 0.332, 0.130, 0.117, 0.397, 0.378),
        ("#10-24", 0.375, 0.362, 0.130, 0.117, 0.433, 0.413),
        ("#10-32", 0.375, 0.362, 0.130, 0.117, 0.433, 0.413),
        ("1/4-20", 0.438, 0.423, 0.193, 0.178, 0.505, 0.482),
    ],
)
def test_asme_machine_screw_nuts(
    name: str, f_max: float, f_min: float, h_max: float, h_min: float, corners_max: float, corners_min: float
) -> None:
    # ASME B18.2.2 (earlier ASME B18.6.3), regular hex machine-screw nuts, inch
    nut = find_thread(name).nut
    assert nut.across_flats_max == pytest.approx(INCH * f_max)
    assert nut.across_flats_min == pytest.approx(INCH * f_min)
    assert nut.height_max == pytest.approx(INCH * h_max)
    assert nut.height_min == pytest.approx(INCH * h_min)
    assert nut.across_corners_min == pytest.approx(INCH * corners_min)
    # printed to 0.001 in; the sharp hexagon on the largest flats
    assert nut.across_corners / INCH == pytest.approx(corners_max, abs=0.001)


@pytest.mark.parametrize(
    ("name", "key"),
    [("M1.6", 0.7), ("M2", 0.9), ("M2.5", 1.3), ("M3", 1.5), ("M4", 2.0), ("M5", 2.5), ("M6", 3.0)],
)
def test_iso_4026_keys(name: str, key: float) -> None:
    assert find_thread(name).set_screw.key == key


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("#2-56", 0.035),
        ("#4-40", 0.050),
        ("#6-32", 1 / 16),
        ("#8-32", 5 / 64),
        ("#10-24", 3 / 32),
        ("#10-32", 3 / 32),
        ("1/4-20", 1 / 8),
    ],
)
def test_asme_b18_3_keys(name: str, key: float) -> None:
    assert find_thread(name).set_screw.key == pytest.approx(INCH * key)


@pytest.mark.parametrize(
    ("size", "fine", "medium"),
    [
        (0.5, 0.05, 0.1),
        (3.0, 0.05, 0.1),
        (3.1, 0.05, 0.1),
        (6.0, 0.05, 0.1),
        (6.1, 0.10, 0.2),
        (30.0, 0.10, 0.2),
        (30.1, 0.15, 0.3),
        (120.0, 0.15, 0.3),
        (120.1, 0.20, 0.5),
        (400.0, 0.20, 0.5),
        (400.1, 0.30, 0.8),
        (1000.0, 0.30, 0.8),
    ],
)
def test_iso_2768_1_linear_tolerances(size: float, fine: float, medium: float) -> None:
    # ISO 2768-1 Table 1: over the lower and up to and including the upper limit
    assert linear_tolerance(size, "f") == fine
    assert linear_tolerance(size, "m") == medium
