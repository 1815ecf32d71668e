"""The test-fit loop as a maker goes through it: unproven, gauge, calibrate, measure, note, regenerate."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from chassis_gen.cli.main import run
from tests.printer.support import TRUTH, Machine, readings, text_of

ROOT = Path(__file__).parents[2]
BUILDS = ("quay-lantern", "pocket-beacon", "tide-baton")
MEASURED = {
    "speaker 32 mm": ("rim_diameter=32.03",),
    "speaker 20 mm": ("rim_diameter=20.02",),
    "cell 14500": ("diameter=14.2",),
    "speaker 28 mm": ("rim_diameter=28.02",),
    "cell 21700": ("diameter=21.3",),
}
"""What the workshop's caliper shows of its own parts, invented."""


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    for name in (*BUILDS, "printers", "parts", "tubes"):
        shutil.copytree(ROOT / "profiles" / name, tmp_path / "profiles" / name)
    return tmp_path


def ran(workspace: Path, capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 0) -> Any:
    """Return the JSON that a command prints, having checked its exit status."""
    capsys.readouterr()
    found = run(["--workspace", str(workspace), "--json", *arguments])
    printed = capsys.readouterr().out
    assert found == status, printed
    return json.loads(printed)


def report(workspace: Path, build: str) -> Any:
    return json.loads((workspace / "out" / build / "fit-report.json").read_text())


def meshes(workspace: Path) -> dict[str, bytes]:
    files = sorted((workspace / "out").glob("*/pieces/*.stl"))
    return {f"{p.parts[-3]}/{p.stem}": p.read_bytes() for p in files if p.parts[-3] in BUILDS}


def cap_bore(workspace: Path) -> float:
    """Return the diameter of the cap's bore on the written STL: the inner loop of a cut through its skirt, mm."""
    cap = trimesh.load(workspace / "out" / "quay-lantern" / "pieces" / "speaker-cap.stl")
    section = cap.section(plane_origin=[0, 0, cap.bounds[1][2] - 2.0], plane_normal=[0, 0, 1])
    assert section is not None
    areas = [abs(_area(np.asarray(loop)[:, :2])) for loop in section.discrete]
    return float(2 * np.sqrt(min(areas) / np.pi))


def _area(p: np.ndarray[Any, Any]) -> float:
    x, y = p[:, 0], p[:, 1]
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)


def test_from_unproven_fits_to_prints_that_fit(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(workspace, capsys, "batch", "--no-step")
    for build in BUILDS:
        first = report(workspace, build)
        assert first["verdict"] == "pass"
        assert {f["verdict"] for f in first["fits"]} == {"unproven"}

    ran(workspace, capsys, "printer", "gauge", "workshop-300")
    assert (workspace / "out" / "printer-workshop-300" / "gauge.stl").stat().st_size > 0
    sheet = workspace / "readings.csv"
    sheet.write_text(text_of(readings(Machine(sd=0.02))))
    done = ran(
        workspace, capsys, "printer", "calibrate", "workshop-300", str(sheet),
        "--material", "PETG", "--date", "2026-11-20",
    )  # fmt: skip
    for b in done["behaviours"]:
        if b["kind"] in ("inner", "outer"):
            scale, offset = TRUTH[b["kind"]]
            assert b["scale_95"][0] <= scale <= b["scale_95"][1]
            assert b["offset_95_mm"][0] <= offset <= b["offset_95_mm"][1]

    for part, sizes in MEASURED.items():
        options = [x for size in sizes for x in ("--measured", size)]
        ran(workspace, capsys, "trial", "note", "--part", part, *options, "--why", "caliper")
    before = meshes(workspace)
    ran(workspace, capsys, "batch", "--no-step")
    calibrated = meshes(workspace)
    assert all(calibrated[name] != before[name] for name in before)
    bore = cap_bore(workspace)

    ran(
        workspace, capsys, "trial", "note", "quay-lantern", "speaker.cap_bore_diameter",
        "--tight", "0.2", "--why", "the cap binds on the cup",
    )  # fmt: skip
    ran(workspace, capsys, "batch", "--no-step")
    after = meshes(workspace)
    assert [name for name in after if after[name] != calibrated[name]] == ["quay-lantern/speaker-cap"]
    assert cap_bore(workspace) - bore == pytest.approx(0.2, abs=0.005)
    for build in BUILDS:
        last = report(workspace, build)
        assert last["verdict"] == "pass"
        assert all(f["yield"] >= 0.95 for f in last["fits"])
