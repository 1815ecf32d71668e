"""Rework sheets: regions against the solids' own difference, shims reread by trimesh, and when to reprint."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import trimesh

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build
from chassis_gen.trial.bench import planned
from chassis_gen.trial.history import loaded_of
from chassis_gen.trial.noting import note
from chassis_gen.trial.prints import Printed, log_print
from chassis_gen.trial.rescue import PieceSheet, piece_body, rescue
from chassis_gen.trial.seen import Seen
from tests.trial.support import BUILD, SEAT, workspace
from tests.trial.support import DAY as TODAY


@pytest.fixture
def small(tmp_path: Path) -> Workspace:
    made = workspace(tmp_path, "small")
    log_print(made, "small", Printed(), TODAY)
    return made


def sheets(at: Workspace) -> tuple[PieceSheet, ...]:
    return rescue(planned(loaded_of(at, "small", "1")), planned(load_build(at, "small")))


def seen(at: Workspace, dimension: str, said: str, amount: float) -> None:
    note(at, "small", dimension, Seen(said, amount, "because"), TODAY)  # type: ignore[arg-type]


def test_nothing_to_do_where_nothing_differs(small: Workspace) -> None:
    assert sheets(small) == ()


def test_a_tight_bearing_is_filed_off_by_half_the_diameter_wherever_it_bears(small: Workspace) -> None:
    seen(small, "chassis.bearing_diameter", "tight", 0.2)
    (sheet,) = sheets(small)
    assert (sheet.piece, sheet.advice, sheet.reasons) == ("chassis", "rework", ())
    filed = [r for r in sheet.regions if r.action == "file"]
    assert filed
    assert [r.depth for r in filed] == pytest.approx([0.1] * len(filed), abs=0.015)
    # where it bears, that is; the relief between the bands is left as it is
    assert {s for r in filed for s in r.sections} == {"near plate", "bay", "cell"}
    assert not [r for r in filed if r.volume_mm3 > 1 and r.radius[1] < 19.7]
    before, after = (piece_body(p.pieces[0], 0.01) for p in
                     (planned(loaded_of(small, "small", "1")), planned(load_build(small, "small"))))  # fmt: skip
    proud = [r for r in sheet.regions if r.action in ("file", "leave")]
    assert sum(r.volume_mm3 for r in proud) == pytest.approx(before.cut(after).volume, rel=0.01)
    assert sheet.reprint_mass_g == pytest.approx(after.volume / 1000 * 1.27, rel=0.02)  # PETG, 1.27 g/cm3
    assert sheet.rework_time_s < sheet.reprint_time_s
    assert sheet.rework_mass_g == 0


def test_a_bearing_that_is_a_little_loose_takes_tape(small: Workspace) -> None:
    seen(small, "chassis.bearing_diameter", "loose", 0.2)
    (sheet,) = sheets(small)
    (filling,) = sheet.fillings
    assert (filling.tape_layers, filling.shim) == (2, None)  # 0.1 mm a side of 0.05 mm tape
    assert "0.150 mm per side" in filling.words


def test_a_loose_seat_takes_a_shim_of_whole_layers_with_a_fit_of_its_own(small: Workspace) -> None:
    seen(small, SEAT, "loose", 0.4)
    (sheet,) = sheets(small)
    shim = next(f.shim for f in sheet.fillings if f.dimension == SEAT)
    assert shim is not None
    mesh = trimesh.load(io.BytesIO(shim.stl), file_type="stl")
    assert mesh.is_watertight
    assert mesh.extents[2] == pytest.approx(0.4, abs=1e-4)
    assert mesh.volume == pytest.approx(0.4 * shim.width * shim.length, rel=1e-4)
    # 0.4 too wide, 0.4 taken up: the clearance is the designed one
    assert shim.fit.as_printed == pytest.approx(0.15, abs=1e-4)
    assert shim.verdict == "unproven"
    assert sheet.rework_mass_g == pytest.approx(mesh.volume / 1000 * 1.27, rel=0.02)


def test_a_shim_that_whole_layers_make_too_thick_is_not_offered(tmp_path: Path) -> None:
    """0.3 mm of 0.5 mm layers: 0.5 mm would leave 0.05 mm per side, less than a slide fit takes."""
    at = workspace(tmp_path, "small", printer="nozzle = 0.8\nlayer = 0.5\n")
    log_print(at, "small", Printed(), TODAY)
    seen(at, SEAT, "loose", 0.3)
    (sheet,) = sheets(at)
    assert [f.shim for f in sheet.fillings if f.dimension == SEAT] == [None]
    assert sheet.advice == "reprint"


def test_sections_that_move_are_printed_again(small: Workspace) -> None:
    seen(small, "cell.seat_length", "tight", 0.3)
    (sheet,) = sheets(small)
    assert sheet.advice == "reprint"
    assert sheet.reasons == ('section "cell" moves or grows by +0.30 mm along the axis',)


def test_a_hole_that_printed_small_is_drilled(tmp_path: Path) -> None:
    text = BUILD.replace('name = "near plate"', 'name = "near plate"\nholes = [{ count = 2 }]')
    at = workspace(tmp_path, "small", text=text)
    plan = planned(load_build(at, "small"))
    log_print(at, "small", Printed(), TODAY)
    seen(at, plan.holes[0].diameter.name, "tight", 0.2)
    (sheet,) = sheets(at)
    assert [r.action for r in sheet.regions] == ["drill"]
    # ISO 273, medium: 3.4 mm for M3, the printer's 0.1 and the noted 0.2
    assert all(" to 3.70 mm" in r.tool for r in sheet.regions)
