"""Wire rules, cells, tubes, materials, fits, cautions, tolerances: found by name, sound in themselves."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest

from chassis_gen.problems import InputError
from chassis_gen.tables.cautions import all_cautions, cautions
from chassis_gen.tables.cells import CellSize, all_cells, find_cell, pack_rule
from chassis_gen.tables.fits import all_fits, find_fit, printer_allowance, printer_tolerance
from chassis_gen.tables.materials import Material, all_materials, find_material
from chassis_gen.tables.tolerances import linear_tolerance
from chassis_gen.tables.tubes import StockTube, all_tubes, find_tube
from chassis_gen.tables.wire import (
    all_insulated,
    awg_diameter,
    fill_rule,
    insulated_diameter,
    insulated_wire,
    wiring_rule,
)


@pytest.mark.parametrize(
    ("find", "name", "code", "nearest"),
    [
        (find_cell, "1865O", "unknown-cell", "18650"),
        (find_tube, "coper 1 L", "unknown-tube", "copper 1 L"),
        (find_material, "PET-G", "unknown-material", "PETG"),
        (find_fit, "slid", "unknown-fit", "slide"),
        (wiring_rule, "mouth_rounds", "unknown-rule", "mouth_round"),
        (pack_rule, "tab_per_ends", "unknown-rule", "tab_per_end"),
        (lambda name: cautions([name]), "solderin", "unknown-caution", "soldering"),
        (lambda name: insulated_wire(24, name), "silicon", "unknown-insulation", "silicone"),
        (lambda name: linear_tolerance(5.0, name), "x", "unknown-tolerance-class", None),
    ],
)
def test_a_name_that_is_not_known_names_the_nearest(
    find: Callable[[str], object], name: str, code: str, nearest: str | None
) -> None:
    with pytest.raises(InputError) as caught:
        find(name)
    (problem,) = caught.value.problems
    assert (problem.code, problem.nearest, problem.value) == (code, nearest, f'"{name}"')
    assert problem.allowed


def test_names_are_found_whatever_their_case() -> None:
    assert find_material("petg").name == "PETG"
    assert find_cell("18650 PROTECTED").name == "18650 protected"
    assert find_tube("Copper  1 1/4  L").name == "copper 1 1/4 L"


@pytest.mark.parametrize("gauge", [19, 33, 22.5, float("nan"), -1])
def test_a_gauge_outside_the_table_is_refused(gauge: float) -> None:
    with pytest.raises(InputError) as caught:
        awg_diameter(gauge)  # type: ignore[arg-type]
    assert caught.value.problems[0].code == "wire-gauge"


def test_an_odd_gauge_is_refused_with_the_gauges_there_are() -> None:
    with pytest.raises(InputError) as caught:
        insulated_diameter(23, "pvc")
    assert caught.value.problems[0].allowed == "20, 22, 24, 26, 28, 30, 32"


def test_insulation_is_thicker_than_the_copper_and_thins_with_it() -> None:
    for insulation in ("silicone", "pvc", "ptfe"):
        wires = [insulated_wire(gauge, insulation) for gauge in range(20, 33, 2)]
        assert all(wire.diameter > awg_diameter(wire.gauge_awg) for wire in wires)
        assert [w.diameter for w in wires] == sorted((w.diameter for w in wires), reverse=True)
        assert all(insulated_diameter(w.gauge_awg, insulation) == w.max_diameter > w.diameter for w in wires)
    assert len(all_insulated()) == 21


@pytest.mark.parametrize(
    ("closed", "insulation", "length", "fill"),
    [
        (True, "pvc", 200.0, 0.40),
        (True, "silicone", 60.0, 0.40),
        (True, "silicone", 60.1, 0.30),
        (False, "silicone", 200.0, 0.60),
    ],
)
def test_lane_fill(closed: bool, insulation: str, length: float, fill: float) -> None:
    # closed: NFPA 70 chapter 9 Table 1 (40 % for more than two conductors); the others common practice,
    # no source
    assert fill_rule(closed, insulation, length).value == fill


@pytest.mark.parametrize("cell", all_cells(), ids=lambda cell: cell.name)
def test_cell_limits_enclose_what_is_sold(cell: CellSize) -> None:
    assert 0.0 < cell.min_diameter < cell.max_diameter and 0.0 < cell.min_length < cell.max_length
    assert cell.max_diameter >= cell.nominal_diameter and cell.max_length >= cell.nominal_length
    # a cell's mean density lies between 1.5 and 4 g/cm3 (common practice, no source): catches a mistyped mass
    volume = 0.785398 * cell.max_diameter**2 * cell.max_length / 1000.0
    assert 1.5 < cell.mass_g / volume < 4.0
    assert cautions(cell.cautions)


@pytest.mark.parametrize("tube", all_tubes(), ids=lambda tube: tube.name)
def test_a_tubes_bore_is_what_its_walls_leave(tube: StockTube) -> None:
    # rows converted from inch tables are rounded to 0.001 mm, once per figure
    assert tube.bore_diameter == pytest.approx(tube.outer_diameter - 2.0 * tube.wall, abs=0.0025)


@pytest.mark.parametrize("material", all_materials(), ids=lambda material: material.name)
def test_material_values_lie_in_their_bands(material: Material) -> None:
    for figure in (material.density, material.shrink, material.snap_strain, material.layer_factor):
        assert figure.low <= figure.value <= figure.high and figure.source
    assert 0.9 < material.density_g_cm3 < 1.4
    assert 0.0 < material.snap_strain_across_layers < material.snap_strain_limit < 0.5
    assert material.snap_strain_across_layers == pytest.approx(0.5 * material.snap_strain_limit)


def test_snap_strain_of_the_usual_plastics() -> None:
    # common practice, no standard; a published snap-fit guide gives 2 to 3 % for PLA and 3 to 5 % for PETG
    assert find_material("PLA").snap_strain_limit == 0.02
    assert find_material("PETG").snap_strain_limit == 0.04


def test_fit_classes_follow_each_other_without_a_gap() -> None:
    fits = all_fits()
    assert [fit.name for fit in fits] == ["press", "snug", "slide", "free"]
    assert all(fit.low <= fit.clearance <= fit.high for fit in fits)
    for tighter, looser in pairwise(fits):
        assert tighter.clearance < looser.clearance and tighter.high < looser.high
        assert looser.low <= tighter.high


def test_fit_clearances_are_the_starting_values() -> None:
    # common practice, no source
    assert {fit.name: fit.clearance for fit in all_fits()} == {
        "press": -0.025,
        "snug": 0.05,
        "slide": 0.15,
        "free": 0.30,
    }


def test_an_uncalibrated_printer_adds_its_own_terms() -> None:
    # common practice, no source; totals on the dimension, not per side
    assert printer_allowance("inner").value == 0.10
    assert printer_allowance("outer").value == 0.10
    assert printer_tolerance(calibrated=False).value == 0.2
    assert printer_tolerance(calibrated=True).value == 0.1


def test_cautions_come_once_each_and_defer_to_the_data_sheet_or_rules() -> None:
    topics = ["soldering", "lithium_cell", "soldering", "charging"]
    assert [caution.topic for caution in cautions(topics)] == ["lithium_cell", "charging", "soldering"]
    wanted = {"lithium_cell", "charging", "soldering", "drilling", "bright_light", "adhesives", "dust"}
    assert wanted <= set(all_cautions())
    for caution in all_cautions().values():
        assert any(word in caution.text for word in ("data sheet", "rules", "instructions"))


def test_every_unknown_caution_topic_is_named() -> None:
    with pytest.raises(InputError) as caught:
        cautions(["dust", "noise", "glitter"])
    assert [problem.value for problem in caught.value.problems] == ['"glitter"', '"noise"']


@pytest.mark.parametrize("size", [0.49, 1000.1, -5.0, float("nan"), float("inf")])
def test_a_size_outside_the_general_tolerances_is_refused(size: float) -> None:
    with pytest.raises(InputError) as caught:
        linear_tolerance(size)
    assert caught.value.problems[0].code == "size-range"
