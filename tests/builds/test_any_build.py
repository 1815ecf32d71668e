"""Whole random builds: rejected with reasons, or said to be wrong, or solid pieces that both kernels agree on."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chassis_gen.checks.result import CheckResult
from chassis_gen.pipeline import check_build
from chassis_gen.problems import InputError
from chassis_gen.shapes import mesh
from chassis_gen.shapes.agreement import compare, cut_stations, without_patterns
from tests.builds.support import loaded, written

CLOCKS = st.sampled_from([0.0, 37.0, 90.0, 135.5, 200.0, 315.0])
SPEAKERS = [f"speaker {d} mm" for d in (20, 23, 28, 32, 36)]
CELLS = ["cell 14500", "cell 18650", "cell 21700", "cell aa", "cell aaa"]


def row(kind: str, **keys: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    """Return a strategy for a section's table; what it draws None for is left out."""
    return st.fixed_dictionaries({"kind": st.just(kind), **keys}).map(
        lambda table: {k: v for k, v in table.items() if v is not None}
    )


MIDDLES = st.one_of(
    row("cell_cradle", part=st.sampled_from(CELLS), clock_deg=CLOCKS, ribbon_slot=st.booleans()),
    row(
        "board_tray",
        part=st.sampled_from(["sound board", "radio board"]),
        hold=st.sampled_from(["ledges", "standoffs", "edge_grooves"]),
        clock_deg=CLOCKS,
    ),
    row(
        "switch_block",
        part=st.sampled_from(["panel button 12 mm", "panel button 16 mm", "tactile board"]),
        clock_deg=CLOCKS,
        carrier=st.booleans(),
    ),
    row("lead_bay", length=st.floats(6, 40).map(lambda x: round(x, 3)), rails=st.integers(2, 4)),
    row(
        "end_plate",
        clock_deg=CLOCKS,
        wire_opening=st.sampled_from([0, 6]),
        holes=st.sampled_from(
            [
                [],
                [{"kind": "clearance", "thread": "M3", "count": 2}],
                [{"kind": "captive_nut", "thread": "M3", "count": 3, "circle_diameter": 20}],
                [{"kind": "insert", "thread": "#6-32", "count": 1, "circle_diameter": 0}],
            ]
        ),
    ),
)
MOUTHS = row(
    "speaker_cup",
    part=st.sampled_from(SPEAKERS),
    cap=st.sampled_from(["none", "round", "face"]),
    cap_hold=st.sampled_from(["friction", "screws", "bayonet"]),
)
HEADS = row(
    "light_head",
    light=st.sampled_from(["contact_board", "led_slug", "led_round"]),
    clock_deg=CLOCKS,
)


@st.composite
def builds(draw: st.DrawFn) -> str:
    """Draw the parameter file of a build: bore, sections in any order, two wires between the first terminals."""
    sections = draw(st.lists(MIDDLES, min_size=1, max_size=4))
    if draw(st.booleans()):
        sections = [draw(MOUTHS), *sections]
    if draw(st.booleans()):
        sections = [*sections, draw(HEADS)]
    for i, section in enumerate(sections):
        section["name"] = f"s{i}"
    wires = []
    cells = [s["name"] for s in sections if s["kind"] == "cell_cradle"]
    boards = [s["name"] for s in sections if s["kind"] == "board_tray"]
    if cells and boards:
        gauge = draw(st.integers(20, 30))
        wires = [
            {"from": f"{cells[0]}.{pole}", "to": f"{boards[0]}.battery {pole}", "gauge_awg": gauge}
            for pole in ("plus", "minus")
        ]
    bore = round(draw(st.floats(30, 45)), 2)
    tube = {
        "chassis_offset": 2.5,
        "segment": [{"length": 700, "bores": [{"from_mouth": 0, "diameter": bore}]}],
    }
    build = {"title": "drawn", "material": draw(st.sampled_from(["PLA", "PETG"]))}
    document = {"build": build, "tube": tube, "section": sections, "wire": wires}
    return tomlkit.dumps({k: v for k, v in document.items() if v})


@dataclass(frozen=True)
class Outcome:
    """What became of a drawn build: what was wrong with the input, or what the checks found."""

    problems: tuple[str, ...] = ()
    result: CheckResult | None = None


def outcome(text: str) -> Outcome:
    """Return what the program makes of a build."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            return Outcome(result=check_build(loaded(Path(folder), text)))
        except InputError as error:
            return Outcome(tuple(p.code for p in error.problems))


def assert_sound(result: CheckResult) -> None:
    """Assert that every piece is one closed body as written, unless a finding says that it isn't."""
    codes = {(f.code, f.where) for f in result.findings if f.level == "error"}
    assert result.solids is not None
    for name in result.solids.pieces:
        again = written(result, name)
        assert again.is_watertight, (name, codes)
        assert again.is_winding_consistent
        if not codes & {("piece-falls-apart", name), ("trapped-void", name)}:
            # trimesh as an independent reader; a void would count as a body of its own.
            assert again.body_count == 1, name


@settings(max_examples=14, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(builds())
def test_a_build_is_rejected_or_found_wrong_or_made_of_pieces_that_are_one_closed_body_each(
    text: str,
) -> None:
    made = outcome(text)
    if made.result is None:
        assert made.problems
    elif made.result.solids is None:
        assert any(f.blocks_solids for f in made.result.findings)
        # A plan that holds always gives a solid.
        assert "no-solid" not in {f.code for f in made.result.findings}
    else:
        assert_sound(made.result)


@settings(max_examples=4, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(builds())
def test_what_is_made_both_kernels_agree_on(text: str) -> None:
    brep = pytest.importorskip("chassis_gen.shapes.brep")
    result = outcome(text).result
    if result is None or result.solids is None:
        return
    for piece in result.plan.pieces:
        for recipe in map(without_patterns, piece.recipes):
            stations = cut_stations(recipe, mesh.DEFAULT_CHORD)
            made = mesh.make(recipe), brep.make(recipe)
            agreement = compare(recipe, *made, mesh.DEFAULT_CHORD, stations)
            assert agreement.ok, "\n".join(agreement.rows())
