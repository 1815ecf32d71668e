"""Parts measured and parts taken from models, as a maker does it, up to the play measured in their seats."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import check_build, load_build
from tests.cli.support import ran
from tests.shapes.model_files import BOARD, CUBE, joined, shipped, stl

BUILD = """
[build]
title = "own part"

[tube]
chassis_offset = 4

[[tube.segment]]
length = 200
bores = [{{ from_mouth = 0, diameter = {bore} }}]

[[section]]
kind = "end_plate"
name = "near"

[[section]]
kind = "custom"
name = "own"
part = "thing"
clock_deg = {clock}

[[section]]
kind = "end_plate"
name = "far"
"""


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    (tmp_path / "profiles" / "b").mkdir(parents=True)
    return tmp_path


def seated(workspace: Path, bore: float, clock: float = 90.0) -> None:
    """Assert that the seat's measured play is what the fit leaves in the model, within 0.02 mm.

    The job's own bound; slide is 0.15 mm per side, the uncalibrated printer's 0.05 mm per side comes on top.
    """
    (workspace / "profiles" / "b" / "build.toml").write_text(BUILD.format(bore=bore, clock=clock))
    result = check_build(load_build(Workspace(workspace), "b"))
    assert [f for f in result.findings if f.level == "error"] == []
    promised = [p for p in result.plays if p.expected is not None]
    assert len(promised) == 5
    for play in promised:
        assert play.measured == pytest.approx(0.15 + 0.05, abs=0.02)
    fits = [f for f in result.fits if f.fit.kind == "part in seat"]
    assert {f.fit.id for f in fits} == {"own.seat_width", "own.seat_length", "own.seat_height"}
    for fit in fits:
        assert fit.measured == pytest.approx(fit.fit.planned, abs=0.02)
    assert result.solids is not None
    assert len(result.solids.pieces["chassis"].components()) == 1


def test_a_board_from_a_mesh_is_seated(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    model = workspace / "board.stl"
    model.write_bytes(stl(*joined(*BOARD)))
    done = ran(capsys, "--workspace", workspace, "--json", "parts", "from", "thing", model, "--units", "mm")
    assert done.status == 0
    assert (done.document["pieces"], done.document["exact_mesh"]) == (2, True)
    assert done.document["left_out_mm3"] <= 1e-6 * done.document["volume_mm3"]
    seated(workspace, 40.0, clock=25.0)
    shown = ran(capsys, "--workspace", workspace, "--json", "parts", "thing").document
    assert shown["sizes"]["length"]["value"] == pytest.approx(30.0, abs=0.01)


def test_a_mesh_that_ships_in_a_package_is_seated(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(
        capsys, "--workspace", workspace, "parts", "from", "thing", shipped("object.stl"), "--units", "mm"
    )
    assert done.status == 0
    seated(workspace, 46.0)


def test_a_step_file_that_ships_in_a_package_is_seated(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """component8.step ships with gmsh's examples; the check then opens no STEP file."""
    model = shipped("component8.step")
    done = ran(capsys, "--workspace", workspace, "parts", "from", "thing", model)
    assert done.status == 0
    seated(workspace, 64.0)


def test_a_step_file_made_with_cadquery_is_seated(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A board with a plug and a round can beneath; its volume by hand."""
    import math

    import cadquery

    board = cadquery.Workplane().box(22, 40, 1.6)
    plug = cadquery.Workplane().box(9, 8, 4).translate((0, 12, 2.5))
    can = cadquery.Workplane().circle(3).extrude(-4).translate((2, -10, 0))
    path = workspace / "made.step"
    cadquery.exporters.export(board.union(plug).union(can), str(path))
    done = ran(capsys, "--workspace", workspace, "--json", "parts", "from", "thing", path)
    assert done.status == 0
    volume = 22 * 40 * 1.6 + 9 * 8 * (4.5 - 0.8) + math.pi * 9 * (4 - 0.8)
    assert done.document["volume_mm3"] == pytest.approx(volume, rel=1e-3)
    assert done.document["sizes"]["length"] == pytest.approx(40.0, abs=0.02)
    seated(workspace, 40.0)


def test_a_mesh_beside_its_file_must_be_the_one_that_was_written(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = workspace / "cube.stl"
    model.write_bytes(stl(*CUBE))
    ran(capsys, "--workspace", workspace, "parts", "from", "thing", model, "--units", "mm")
    sidecar = workspace / "profiles" / "parts" / "thing.mesh.npz"
    sidecar.write_bytes(sidecar.read_bytes() + b"x")
    done = ran(capsys, "--workspace", workspace, "parts", "thing")
    assert done.status == 2
    assert "the mesh isn't the one that the part file was written with" in done.err
    sidecar.unlink()
    done = ran(capsys, "--workspace", workspace, "parts", "thing")
    assert done.err.startswith("profiles/parts/thing.mesh.npz: [missing-file]")


def test_a_part_taken_in_again_keeps_what_the_maker_wrote(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = workspace / "cube.stl"
    model.write_bytes(stl(*CUBE))
    command = ("--workspace", workspace, "parts", "from", "thing", model, "--units", "mm")
    ran(capsys, *command, "--terminal", "plus=0,4,6", "--mass-g", "3")
    file = workspace / "profiles" / "parts" / "thing.toml"
    file.write_text("# from the drawer\n" + file.read_text())
    assert ran(capsys, *command).status == 0
    data = tomllib.loads(file.read_text())
    assert file.read_text().startswith("# from the drawer\n")
    assert (data["mass_g"], data["terminal"][0]["name"]) == (3.0, "plus")


REFUSED = {
    "unit unknown": (
        ("cube.stl",),
        "cube.stl: [model-units] the file doesn't say in which unit it was drawn; "
        "allowed: --units with mm (10 x 8 x 6 mm large), cm (100 x 80 x 60 mm large), in (254 x 203.2 x 152.4 mm large)",
    ),
    "wrong unit": (
        ("cube.stl", "--units", "m"),
        "cube.stl: [model-size] no size that a part in a tube has; read 1e+04 x 8000 x 6000 mm; "
        "allowed: 1 to 500 mm along the longest side; another --units?",
    ),
    "no file": (("none.stl",), "none.stl: [missing-file] there is no such file"),
    "axis": (
        ("cube.stl", "--units", "mm", "--up", "z"),
        '[usage] this is no axis of the model; read "z"; allowed: +x, -x, +y, -y, +z, -z',
    ),
    "terminal": (
        ("cube.stl", "--units", "mm", "--terminal", "plus=1,2"),
        '[wrong-count] the place of terminal plus has three numbers; read "1,2"; allowed: x,y,z',
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cant_be_taken_in_is_said(
    name: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / "cube.stl").write_bytes(stl(*CUBE))
    (first, *rest), message = REFUSED[name]
    done = ran(capsys, "--workspace", workspace, "parts", "from", "thing", workspace / first, *rest)
    assert (done.status, done.out, done.err.strip()) == (2, "", message)
    assert not (workspace / "profiles" / "parts").exists()


def test_readings_become_a_part_file(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Mean 32.1; the farthest reading lies 0.1 off it, the caliper's 0.03 comes on top."""
    command = ("--workspace", workspace, "parts", "measure", "thing", "--like", "speaker 32 mm")
    done = ran(capsys, *command, "--size", "rim_diameter=32.1,32.0,32.2")
    assert done.status == 0
    data = tomllib.loads((workspace / "profiles" / "parts" / "thing.toml").read_text())
    assert data["sizes"]["rim_diameter"] == {
        "value": 32.1, "spread": 0.2, "tolerance": 0.13, "readings": [32.1, 32.0, 32.2],
    }  # fmt: skip
    assert data["kind"] == "speaker"
    shown = ran(capsys, "--workspace", workspace, "--json", "parts", "thing").document
    assert shown["sizes"]["rim_diameter"]["tolerance"] == 0.13


def test_measuring_again_keeps_comments_and_other_sizes(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = ("--workspace", workspace, "parts", "measure", "thing")
    ran(capsys, *command, "--like", "speaker 32 mm", "--size", "rim_diameter=32.1")
    file = workspace / "profiles" / "parts" / "thing.toml"
    file.write_text(file.read_text().replace("mass_g = ", "# weighed\nmass_g = "))
    assert ran(capsys, *command, "--size", "depth=9.1,9.2").status == 0
    data = tomllib.loads(file.read_text())
    assert "# weighed\n" in file.read_text()
    assert data["sizes"]["rim_diameter"]["value"] == 32.1
    assert data["sizes"]["depth"]["value"] == 9.15


UNMEASURED = {
    "no kind": (
        ("--size", "rim_diameter=32.1"),
        "[missing-key] --kind: a new part needs a kind, or a part that it is like; allowed: --kind or --like",
    ),
    "no size": (
        ("--kind", "speaker"),
        "[missing-key] --size: no size is given; allowed: --size rim_diameter=32.1,32.0,32.2",
    ),
    "no number": (
        ("--like", "speaker 32 mm", "--size", "depth=9,1 mm"),
        '[bad-number] a reading of depth: a decimal comma is not understood; read "9,1 mm"; allowed: '
        "numbers with a decimal point in mm or with a unit, parted by commas, such as 32.1,32.0,1.26 in",
    ),
    "unit of another thing": (
        ("--like", "speaker 32 mm", "--size", "depth=9 kg"),
        '[bad-unit] a reading of depth: the unit "kg" does not measure a length; read "9 kg"; allowed: '
        "numbers with a decimal point in mm or with a unit, parted by commas, such as 32.1,32.0,1.26 in; "
        "units: mm, millimeter, cm, m, um, in, inch, ft, thou",
    ),
    "no accuracy": (
        ("--like", "speaker 32 mm", "--size", "depth=9", "--accuracy", "-1"),
        "[out-of-range] --accuracy: the number is out of range; read -1; allowed: 0 < mm <= 5",
    ),
    "twice": (
        ("--like", "speaker 32 mm", "--size", "depth=9", "--size", "depth=9.1"),
        '[duplicate-name] --size: given twice; read "depth"; allowed: all its readings in one --size',
    ),
}


@pytest.mark.parametrize("name", UNMEASURED)
def test_readings_that_cant_be_right_are_said(
    name: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options, message = UNMEASURED[name]
    done = ran(capsys, "--workspace", workspace, "parts", "measure", "thing", *options)
    assert (done.status, done.err.strip()) == (2, message)


def test_what_was_taken_for_up_and_in_which_unit_is_said(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = workspace / "cube.stl"
    model.write_bytes(stl(*CUBE))
    command = ("--workspace", workspace, "--json", "parts", "from", "thing", model, "--units", "mm")
    document = ran(capsys, *command).document
    assert document["units"] == "mm, as given"
    # the box of 10 x 8 x 6 mm has two faces of 80 of its 376 mm2
    assert document["axes"].endswith(
        "away from its largest face, 21 % of the surface), along is +x (its longest side across that)"
    )
    given = ran(capsys, *command, "--up", "-y", "--along", "+z").document
    assert given["axes"] == "up is the model's -y (as given), along is +z (as given)"
    assert (given["up"], given["along"]) == ([0, -1, 0], [0, 0, 1])
