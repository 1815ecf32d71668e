"""Thread tables against published standards, to the last printed digit."""

from __future__ import annotations

import pytest

from chassis_gen.tables.drills import all_drills, find_drill
from chassis_gen.tables.threads import all_threads, find_thread, percent_thread

INCH = 25.4

# ISO 724 basic dimensions, coarse series (pitch by ISO 261): P, d2, D1
ISO_724 = {
    "M1.6": (0.35, 1.373, 1.221),
    "M2": (0.40, 1.740, 1.567),
    "M2.5": (0.45, 2.208, 2.013),
    "M3": (0.50, 2.675, 2.459),
    "M4": (0.70, 3.545, 3.242),
    "M5": (0.80, 4.480, 4.134),
    "M6": (1.00, 5.350, 4.917),
}

# ASME B1.1 basic dimensions in inch: threads per inch, D, D2, D1 internal (rows #2-56 and #10-24 from memory)
ASME_B1_1 = {
    "#2-56": (56, 0.0860, 0.0744, 0.0667),
    "#4-40": (40, 0.1120, 0.0958, 0.0849),
    "#6-32": (32, 0.1380, 0.1177, 0.1042),
    "#8-32": (32, 0.1640, 0.1437, 0.1302),
    "#10-24": (24, 0.1900, 0.1629, 0.1449),
    "#10-32": (32, 0.1900, 0.1697, 0.1562),
    "1/4-20": (20, 0.2500, 0.2175, 0.1959),
}


@pytest.mark.parametrize("name", ISO_724)
def test_iso_724_basic_dimensions(name: str) -> None:
    pitch, pitch_diameter, minor_diameter = ISO_724[name]
    thread = find_thread(name)
    assert thread.pitch == pitch
    assert thread.pitch_diameter == pytest.approx(pitch_diameter, abs=0.00051)
    assert thread.minor_diameter == pytest.approx(minor_diameter, abs=0.00051)


@pytest.mark.parametrize("name", ASME_B1_1)
def test_asme_b1_1_basic_dimensions(name: str) -> None:
    per_inch, major, pitch_diameter, minor_diameter = ASME_B1_1[name]
    thread = find_thread(name)
    assert thread.pitch == pytest.approx(INCH / per_inch)
    assert thread.major_diameter == pytest.approx(INCH * major)
    assert thread.pitch_diameter / INCH == pytest.approx(pitch_diameter, abs=0.000051)
    assert thread.minor_diameter / INCH == pytest.approx(minor_diameter, abs=0.000051)


@pytest.mark.parametrize("number", [2, 4, 6, 8, 10])
def test_numbered_sizes_follow_the_asme_b1_1_rule(number: int) -> None:
    sizes = [t for t in all_threads() if t.designation.startswith(f"#{number}-")]
    assert sizes
    for thread in sizes:
        assert thread.major_diameter == pytest.approx(INCH * (0.060 + 0.013 * number))


@pytest.mark.parametrize(
    ("name", "drill"),
    [("M1.6", 1.25), ("M2", 1.6), ("M2.5", 2.05), ("M3", 2.5), ("M4", 3.3), ("M5", 4.2), ("M6", 5.0)],
)
def test_iso_2306_tap_drills(name: str, drill: float) -> None:
    thread = find_thread(name)
    assert thread.tap_drill == drill
    # ISO 2306 sizes are the major diameter less one pitch
    assert thread.tap_drill == pytest.approx(thread.major_diameter - thread.pitch)


@pytest.mark.parametrize(
    ("name", "drill", "inch", "percent_1299", "percent_10825"),
    [
        ("#4-40", "#43", 0.0890, 70.8, 85.0),
        ("#6-32", "#36", 0.1065, 77.6, 93.1),
        ("#8-32", "#29", 0.1360, 69.0, 82.8),
        ("#10-32", "#21", 0.1590, 76.4, 91.6),
        ("1/4-20", "#7", 0.2010, 75.4, 90.5),
    ],
)
def test_unified_tap_drills_and_percent_thread(
    name: str, drill: str, inch: float, percent_1299: float, percent_10825: float
) -> None:
    # tap-drill charts; decimals ASME B94.11M; percents by hand from (D - drill) n / 1.299038 and / 1.082532
    thread = find_thread(name)
    assert thread.tap_drill_name == drill
    assert thread.tap_drill == pytest.approx(INCH * inch)
    assert percent_thread(thread, thread.tap_drill, "1.299") == pytest.approx(percent_1299, abs=0.051)
    assert percent_thread(thread, thread.tap_drill, "1.0825") == pytest.approx(percent_10825, abs=0.051)


@pytest.mark.parametrize(
    ("name", "drill", "percent"),
    [
        ("#2-56", "#49", 56),
        ("#2-56", "#50", 69),
        ("#4-40", "#43", 71),
        ("#4-40", "#42", 57),
        ("1/4-20", "#7", 75),
    ],
)
def test_printed_percentages_of_full_thread(name: str, drill: str, percent: int) -> None:
    # a machinist's handbook table of tap drills prints whole percents on the 1.299 basis
    computed = percent_thread(find_thread(name), find_drill(drill).diameter)
    assert computed == pytest.approx(percent, abs=0.51)


def test_the_worked_percent_of_a_general_formula_page() -> None:
    # a page of shop formulas works 1/4-20 with a 0.201 in hole to 75.44 % (constant 0.01299)
    assert percent_thread(find_thread("1/4-20"), INCH * 0.201) == pytest.approx(75.44, abs=0.01)


def test_metric_tap_drills_leave_77_percent() -> None:
    # drill = D - P gives 1 / 1.299038 of full thread, whatever the pitch (arithmetic)
    for name in ISO_724:
        thread = find_thread(name)
        assert percent_thread(thread, thread.tap_drill) == pytest.approx(76.98, abs=0.01)
        assert percent_thread(thread, thread.tap_drill, "1.0825") == pytest.approx(92.38, abs=0.01)


@pytest.mark.parametrize(
    ("name", "millimetres"),
    [
        ("#43", 2.26),
        ("#42", 2.37),
        ("#36", 2.71),
        ("#35", 2.79),
        ("#32", 2.95),
        ("#31", 3.05),
        ("#30", 3.26),
        ("#29", 3.45),
        ("#27", 3.66),
        ("#25", 3.80),
        ("#23", 3.91),
        ("#3", 5.41),
        ("#2", 5.61),
        ("#1", 5.79),
        ("B", 6.05),
        ("17/64", 6.75),
        ("19/64", 7.54),
    ],
)
def test_drill_sizes_of_a_published_equivalents_table(name: str, millimetres: float) -> None:
    # a cutting-tool reference prints number, letter and fraction drills in mm to two places
    # (its last digit is cut here and rounded there, so a whole unit of it is allowed)
    assert find_drill(name).diameter == pytest.approx(millimetres, abs=0.0101)


def test_number_drills_shrink_as_their_numbers_grow() -> None:
    numbered = [all_drills()[f"#{number}"].diameter for number in range(1, 61)]
    assert numbered == sorted(numbered, reverse=True)
    assert len(set(numbered)) == 60


def test_tap_and_clearance_drills_agree_with_the_drill_table() -> None:
    for thread in all_threads():
        hole = thread.clearance
        named = [
            (thread.tap_drill_name, thread.tap_drill),
            *zip(hole.drills, (hole.fine, hole.medium, hole.coarse), strict=True),
        ]
        for name, diameter in named:
            assert find_drill(name).diameter == pytest.approx(diameter, abs=1e-9)
