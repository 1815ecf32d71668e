"""The generic catalogue: every part is what its sizes say, and overrides are taken or refused by name."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from chassis_gen.parts.catalogue import (
    MEASURED,
    ROW_HEADER,
    catalogue,
    find_part,
    overridden,
    part_extent,
    part_json,
    part_rows,
)
from chassis_gen.parts.kinds import KINDS, make_part
from chassis_gen.parts.model import Measure, Part
from chassis_gen.problems import InputError
from chassis_gen.shapes.mesh import make
from chassis_gen.shapes.recipe import Recipe, add
from chassis_gen.tables.cautions import all_cautions
from chassis_gen.tables.cells import all_cells

NAMES = tuple(catalogue())
parts = pytest.mark.parametrize("name", NAMES)


def problems_of(error: pytest.ExceptionInfo[InputError]) -> list[str]:
    return [p.text() for p in error.value.problems]


def test_what_the_job_asks_for_is_there() -> None:
    kinds = {p.kind for p in catalogue().values()}
    # imported parts are makers' own, never generic
    assert kinds == set(KINDS) - {"imported"}
    assert {f"speaker {d} mm" for d in (20, 23, 28, 32, 36, 40)} <= set(NAMES)
    assert {f"cell {c.name}" for c in all_cells()} <= set(NAMES)


@parts
def test_part_is_complete(name: str) -> None:
    part = find_part(name)
    assert part.name == name
    assert part.title and part.source
    assert 0 < part.mass_g < 100
    assert bool(part.terminals) != part.kind.startswith("glow_")
    assert set(part.cautions) <= set(all_cautions())
    assert all(r.name in part.sizes for r in KINDS[part.kind].rules if r.required)
    assert all(m.source for m in part.sizes.values())


@parts
def test_envelope_is_one_sound_body_within_its_extent(name: str) -> None:
    """The mesh kernel is the outside witness for the arithmetic of the extent."""
    part = find_part(name)
    body = make(Recipe(name, add("envelope", *part.envelope)))
    assert len(body.components()) == 1
    assert body.volume > 0
    low, high = part_extent(part)
    # area-preserving polygons reach past the circle by less than the chord tolerance
    for side in range(3):
        assert body.bounds[0][side] == pytest.approx(low[side], abs=0.011)
        assert body.bounds[1][side] == pytest.approx(high[side], abs=0.011)


@parts
def test_every_keepout_is_a_solid(name: str) -> None:
    part = find_part(name)
    for keepout in part.keepouts:
        assert keepout.reason
        assert make(Recipe(keepout.name, add(keepout.name, keepout.solid))).volume > 0


@parts
def test_terminals_take_the_thickest_wire_that_is_tabled(name: str) -> None:
    """AWG 20 bare is 0.812 mm (ASTM B258 formula, calc)."""
    awg_20 = 0.127 * 92 ** ((36 - 20) / 39)
    assert awg_20 == pytest.approx(0.812, abs=5e-4)
    assert all(t.largest_wire_diameter >= awg_20 for t in find_part(name).terminals)


@parts
def test_terminal_directions_are_unit_vectors(name: str) -> None:
    assert all(sum(c * c for c in t.direction) == pytest.approx(1) for t in find_part(name).terminals)


def test_a_build_must_connect_cells_and_board_supply() -> None:
    wanted = {p.name: {t.name for t in p.terminals if t.must_connect} for p in catalogue().values()}
    assert wanted["cell 18650"] == wanted["wired pack 18650"] == {"plus", "minus"}
    assert wanted["sound board"] == wanted["radio board"] == {"battery plus", "battery minus"}
    assert wanted["speaker 32 mm"] == set()


@pytest.mark.parametrize("cell", all_cells(), ids=lambda c: c.name)
def test_cell_seat_is_for_the_mean_and_covers_the_range(cell) -> None:  # type: ignore[no-untyped-def]
    part = find_part(f"cell {cell.name}")
    for size, low, high in (
        ("diameter", cell.min_diameter, cell.max_diameter),
        ("length", cell.min_length, cell.max_length),
    ):
        measure = part.sizes[size]
        assert measure.value - measure.tolerance == pytest.approx(low)
        assert measure.value + measure.tolerance == pytest.approx(high)
        assert measure.source == cell.source
    assert part.mass_g == cell.mass_g
    assert part.cautions == cell.cautions


def test_published_largest_cells() -> None:
    """AA 14.5 x 50.5, AAA 10.5 x 44.5: maxima of IEC 60086-2; 19.3 for a sleeved 18650: common practice."""
    largest = {
        n: tuple(p.sizes[s].value + p.sizes[s].tolerance for s in ("diameter", "length"))
        for n, p in catalogue().items()
        if p.kind == "cell"
    }
    assert largest["cell AA"] == pytest.approx((14.5, 50.5))
    assert largest["cell AAA"] == pytest.approx((10.5, 44.5))
    assert largest["cell 18650 protected"][0] == pytest.approx(19.3)


def test_pack_is_its_cell_with_sleeve_tabs_and_insulators() -> None:
    """Sleeve 0.15 per side, tab 0.3 and insulator 0.3 per end (common practice, no standard)."""
    cell, pack = find_part("cell 18650"), find_part("wired pack 18650")
    assert pack.size("diameter") - cell.size("diameter") == pytest.approx(2 * 0.15)
    assert pack.size("length") - cell.size("length") == pytest.approx(2 * (0.3 + 0.3))


def test_find_ignores_case_and_names_the_nearest() -> None:
    assert find_part("Speaker 32 MM").name == "speaker 32 mm"
    with pytest.raises(InputError) as error:
        find_part("speeker 32 mm")
    (problem,) = error.value.problems
    assert (problem.code, problem.nearest) == ("unknown-part", "speaker 32 mm")
    assert problem.allowed is not None and "panel button 12 mm" in problem.allowed


def test_own_parts_come_before_generic_ones() -> None:
    own = overridden(find_part("speaker 32 mm"), {"depth": 7.0})
    assert find_part("speaker 32 mm", {"speaker 32 mm": own}).size("depth") == 7.0
    assert find_part("speaker 32 mm").size("depth") != 7.0


def test_override_changes_size_envelope_and_source_only() -> None:
    part = find_part("speaker 32 mm")
    changed = overridden(part, {"rim_diameter": 31.8, "depth": 10.0})
    assert changed.sizes["rim_diameter"] == Measure(31.8, part.sizes["rim_diameter"].tolerance, MEASURED)
    assert part_extent(changed) == ((-15.9, -15.9, 0.0), (15.9, 15.9, 10.0))
    assert {n: m for n, m in changed.sizes.items() if m.source != MEASURED} == {
        n: m for n, m in part.sizes.items() if n not in ("rim_diameter", "depth")
    }
    assert (changed.name, changed.mass_g, changed.terminals) == (part.name, part.mass_g, part.terminals)


def test_override_with_a_measure_brings_its_own_tolerance() -> None:
    measured = Measure(18.35, 0.05, "caliper, ten cells")
    assert overridden(find_part("cell 18650"), {"diameter": measured}).sizes["diameter"] == measured


def test_override_moves_derived_terminals() -> None:
    changed = overridden(find_part("cell 18650"), {"length": 65.2})
    plus = changed.terminal("plus")
    assert plus is not None and plus.position == (0.0, 0.0, 65.2)


def test_override_carries_stated_terminals_in_proportion() -> None:
    part = find_part("sound board")
    changed = overridden(part, {"width": 20.0, "length": 44.0, "thickness": 1.2})
    for before, after in zip(part.terminals, changed.terminals, strict=True):
        assert after.position == pytest.approx(
            (before.position[0] * 20 / 18, before.position[1] * 44 / 40, 1.2)
        )
        assert (after.name, after.must_connect) == (before.name, before.must_connect)


def test_override_may_add_an_optional_feature() -> None:
    changed = overridden(
        find_part("sound board"), {"hole_diameter": 2.2, "hole_pitch_x": 14.0, "hole_pitch_y": 36.0}
    )
    body = make(Recipe("board", add("envelope", changed.envelope[0])))
    assert body.genus == 4
    # closed form: plate less four round holes; the inscribed 32-sided holes are 0.64 % smaller
    plate = 18 * 40 * 1.6
    holes = 4 * 3.14159265 * 1.1**2 * 1.6
    assert body.volume == pytest.approx(plate - holes, abs=0.0065 * holes)
    assert body.volume > plate - holes


def test_no_override_is_the_same_part() -> None:
    part = find_part("charge jack")
    assert overridden(part, {}) is part


@pytest.mark.parametrize(
    ("name", "overrides", "texts"),
    [
        (
            "speaker 32 mm",
            {"rim_diamter": 32.0, "dept": 9.0},
            [
                '[unknown-key] part."speaker 32 mm".rim_diamter: a speaker has no such size; '
                "allowed: rim_diameter, rim_thickness, basket_diameter, basket_depth, "
                "magnet_diameter, depth, "
                "cone_diameter, cone_travel, terminal_spacing, largest_wire_diameter; did you "
                'mean "rim_diameter"?',
                '[unknown-key] part."speaker 32 mm".dept: a speaker has no such size; '
                "allowed: rim_diameter, rim_thickness, basket_diameter, basket_depth, "
                "magnet_diameter, depth, "
                'cone_diameter, cone_travel, terminal_spacing, largest_wire_diameter; did you mean "depth"?',
            ],
        ),
        (
            "speaker 32 mm",
            {"magnet_diameter": 30.0},
            [
                '[not-allowed] part."speaker 32 mm".magnet_diameter: too large beside the other '
                "sizes of a speaker; "
                "read 30 mm; allowed: at most 28.5 mm (basket_diameter)",
            ],
        ),
        (
            "cell 18650",
            {"diameter": float("nan"), "length": -65.0},
            [
                '[not-finite] part."cell 18650".diameter: the number is not finite; read nan; '
                "allowed: 3 to 60 mm",
                '[out-of-range] part."cell 18650".length: out of range (end face to end face, '
                "positive button "
                "included); read -65 mm; allowed: 5 to 200 mm",
            ],
        ),
        (
            "contact board",
            {"pin_count": 2.5},
            [
                '[not-allowed] part."contact board".pin_count: a count is a whole number; read '
                "2.5; allowed: 2 to 12"
            ],
        ),
        (
            "contact board",
            {"pin_force_n": 50.0},
            [
                '[out-of-range] part."contact board".pin_force_n: out of range (force of one pin '
                "at its working "
                "travel); read 50 N; allowed: 0.05 to 20 N"
            ],
        ),
        (
            "panel button 12 mm",
            {"nut_across_corners": 17.0},
            [
                '[not-allowed] part."panel button 12 mm".nut_across_corners: too large beside '
                "the other sizes of a "
                "panel_button; read 17 mm; allowed: at most 16.1758 mm (a sharp hexagon on nut_across_flats)"
            ],
        ),
        (
            "radio board",
            {"card_travel": 10.0},
            [
                '[missing-key] part."radio board".card_slot_width: card_slot_width is needed '
                "beside card_travel",
                '[missing-key] part."radio board".card_slot_height: card_slot_height is needed '
                "beside card_travel",
            ],
        ),
    ],
)
def test_override_errors(name: str, overrides: dict[str, float], texts: list[str]) -> None:
    with pytest.raises(InputError) as error:
        overridden(find_part(name), overrides)
    assert problems_of(error) == texts


def test_make_part_reports_everything_at_once() -> None:
    with pytest.raises(InputError) as error:
        make_part("x", "cell", "x", {"diameter": Measure(18.0, 20.0), "lenght": Measure(65.0)}, float("nan"))
    assert [(p.code, p.key) for p in error.value.problems] == [
        ("out-of-range", "mass_g"),
        ("out-of-range", "sizes.diameter.tolerance"),
        ("unknown-key", "sizes.lenght"),
        ("missing-key", "sizes.length"),
    ]
    with pytest.raises(InputError) as error:
        make_part("x", "speeker", "x", {}, 1.0)
    assert error.value.problems[0].nearest == "speaker"


@parts
def test_listing(name: str) -> None:
    part = find_part(name)
    rows = part_rows(part)
    assert all(len(row) == len(ROW_HEADER) for row in rows)
    assert [row[0] for row in rows] == list(part.sizes)
    data = json.loads(json.dumps(part_json(part), allow_nan=False))
    assert data["sizes"].keys() == part.sizes.keys()
    assert len(data["terminals"]) == len(part.terminals)
    assert [k["name"] for k in data["keepouts"]] == [k.name for k in part.keepouts]


def test_a_row_reads_as_a_statement() -> None:
    assert part_rows(find_part("speaker 32 mm"))[0] == (
        "rim_diameter", "32", "0.2", "mm", "outside diameter of the rim", "generic, measure your own",
    )  # fmt: skip


def test_parts_travel_between_processes() -> None:
    import pickle

    part: Part = find_part("panel button 12 mm")
    assert pickle.loads(pickle.dumps(part)) == part


def test_the_catalogue_loads_no_kernel_and_no_pydantic() -> None:
    code = (
        "import sys; from chassis_gen.parts.catalogue import catalogue; catalogue(); "
        "print([m for m in ('numpy', 'pydantic', 'manifold3d', 'trimesh', 'cadquery', "
        "'pint') if m in sys.modules])"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stdout.strip() == "[]"
