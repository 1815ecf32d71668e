"""The printer commands: gauge, calibrate and qualify, from an empty sheet to a build whose fits are proven."""

from __future__ import annotations

import io
import shutil
import tomllib
from pathlib import Path

import pytest
import trimesh

from chassis_gen.params.printer import PrinterFile
from chassis_gen.printer.readings import PLACES
from tests.cli.support import REPOSITORY, ran
from tests.printer.support import TRUTH, Machine, changed, readings, text_of

PRINTER = "workshop-300"


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    shutil.copytree(REPOSITORY / "profiles", tmp_path / "profiles")
    return tmp_path


def sheet(workspace: Path, rows: list[dict[str, str]], name: str = "readings.csv") -> Path:
    path = workspace / name
    path.write_text(text_of(rows), "utf-8")
    return path


def printer_file(workspace: Path) -> Path:
    return workspace / "profiles" / "printers" / f"{PRINTER}.toml"


def test_the_gauge_is_written_with_its_sheet_and_read_back_watertight(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ("--workspace", workspace, "printer", "gauge", PRINTER, "--json")
    done = ran(capsys, *arguments, "--for", "speaker 32 mm", "--build", "quay-lantern")
    assert done.status == 0
    assert done.document["files"] == ["gauge.3mf", "gauge.stl", "readings.csv", "ring.stl", "try.stl"]
    folder = workspace / done.document["folder"]
    for name in ("gauge.stl", "ring.stl", "try.stl"):
        mesh = trimesh.load(io.BytesIO((folder / name).read_bytes()), file_type="stl")
        assert mesh.is_watertight
    # The ring has the chassis's own bearing (40 mm bore, 0.15 mm slide clearance, 0.1 mm allowance) and seat.
    ring = trimesh.load(io.BytesIO((folder / "ring.stl").read_bytes()), file_type="stl")
    assert ring.extents[0] == pytest.approx(40.0 - 2 * 0.15 - 0.1, abs=0.02)
    before = (folder / "gauge.stl").read_bytes()
    filled = text_of(readings())
    (folder / "readings.csv").write_text(filled, "utf-8")
    again = ran(capsys, *arguments)
    assert "readings-2.csv" in again.document["files"]
    assert (folder / "readings.csv").read_text("utf-8") == filled
    assert (folder / "gauge.stl").read_bytes() == before
    # What was made for another part doesn't stay behind.
    assert not (folder / "try.stl").exists()


def test_calibration_keeps_comments_and_layout_and_the_planted_law_lies_in_its_intervals(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = printer_file(workspace)
    comment = (
        "\n# Tried on 40 mm tube.\n[fits]\nslide = { clearance = 0.16, low = 0.08, high = 0.26 }  # ours\n"
    )
    path.write_text(path.read_text("utf-8") + comment, "utf-8")
    before = path.read_text("utf-8")
    rows = sheet(workspace, readings(seed=11))
    command = ("--workspace", workspace, "printer", "calibrate", PRINTER, rows, "--date", "2025-11-02")
    done = ran(capsys, *command, "--material", "petg", "--json")
    assert done.status == 0
    after = path.read_text("utf-8")
    assert all(line in after.splitlines() for line in before.splitlines())
    assert after.startswith(before.split("\n# Tried")[0])
    file = PrinterFile.model_validate(tomllib.loads(after))
    assert (file.calibrated, file.material, file.smallest_wall) == (True, "PETG", 0.4)
    for found in done.document["behaviours"]:
        scale, offset = TRUTH[found["kind"]]
        assert found["scale_95"][0] <= scale <= found["scale_95"][1]
        assert found["offset_95_mm"][0] <= offset <= found["offset_95_mm"][1]
        table = getattr(file.behaviour, found["kind"])
        assert table.scale == pytest.approx(found["scale"], abs=1e-6)
        assert (table.readings, table.date.isoformat()) == (found["readings"], "2025-11-02")
    # The same readings give the same file, and new ones change it in place.
    assert ran(capsys, *command, "--material", "PETG").status == 0
    assert path.read_text("utf-8") == after
    sheet(workspace, readings(seed=12))
    assert ran(capsys, *command).status == 0
    assert len(path.read_text("utf-8").splitlines()) == len(after.splitlines())


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (changed(readings(), "25", reading_mm="1.02"), "feature 25, reading_mm"),
        (changed(readings(), "25", reading_mm="26.9"), "off the line"),
        ([r for r in readings() if r["feature"] not in ("24", "25", "26")], "too few sizes"),
    ],
    ids=["inches", "residual", "too few"],
)
def test_readings_that_cannot_be_right_change_nothing(
    workspace: Path, capsys: pytest.CaptureFixture[str], rows: list[dict[str, str]], words: str
) -> None:
    path = printer_file(workspace)
    before = path.read_bytes()
    done = ran(capsys, "--workspace", workspace, "printer", "calibrate", PRINTER, sheet(workspace, rows))
    assert (done.status, done.out) == (2, "")
    assert "readings.csv:" in done.err
    assert words in done.err
    assert path.read_bytes() == before


def test_a_calibrated_printer_is_judged_by_its_yields_and_the_report_says_who_compensates(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = sheet(workspace, readings(Machine(sd=0.01), seed=11))
    assert (
        ran(
            capsys, "--workspace", workspace, "printer", "calibrate", PRINTER, rows, "--material", "PETG"
        ).status
        == 0
    )
    done = ran(capsys, "--workspace", workspace, "check", "quay-lantern", "--json")
    report = done.document.get("report", done.document)
    assert report["calibrated"] is True
    assert report["compensation"]["by"] == "model"
    assert {f["verdict"] for f in report["fits"]} <= {"pass", "fail"}
    for fit in report["fits"]:
        low, high = fit["required_mm"]
        assert low <= fit["as_printed_mm"] <= high
        assert fit["designed_clearance_mm"] == pytest.approx(fit["as_printed_mm"], abs=2e-3)
        assert fit["worst_case_mm"][0] <= fit["likely_mm"][0] <= fit["as_printed_mm"] <= fit["likely_mm"][1]
        assert fit["prints_that_fit"].endswith("% of prints fit")
        if fit["yield_simulated"] is not None:
            # 200,000 draws: the standard error of a share is at most 0.12 %.
            assert fit["yield_simulated"] == pytest.approx(fit["yield"], abs=0.006)
    assert any(f["yield_simulated"] is not None for f in report["fits"])


def test_a_squared_machine_qualifies_and_a_skewed_one_has_a_fault(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command = ("--workspace", workspace, "printer", "qualify", PRINTER, "quay-lantern")
    build = workspace / "profiles" / "quay-lantern" / "build.toml"
    # A snug rim fit takes a measured speaker; one of generic size, +-0.2 mm, goes with a slide fit.
    wide = build.read_text("utf-8").replace('cap = "round"', 'cap = "round"\nrim_fit = "slide"')
    build.write_text(wide, "utf-8")
    sound = sheet(workspace, readings(Machine(sd=0.01), places=PLACES), "sound.csv")
    assert ran(capsys, "--workspace", workspace, "printer", "calibrate", PRINTER, sound).status == 0
    done = ran(capsys, *command, sound, "--json")
    assert (done.status, done.document["verdict"]) == (0, "within reach")
    assert all(f["yield"] >= 0.95 for f in done.document["fits"])
    skewed = sheet(workspace, readings(Machine(sd=0.01, skew=0.8), places=PLACES), "skewed.csv")
    done = ran(capsys, *command, skewed)
    assert done.status == 1
    assert "FAULT" in done.out
    assert "+0.8" in done.out
    few = ran(capsys, *command, sheet(workspace, readings()))
    assert few.status == 2
    assert "place 2 has no reading of feature 34" in few.err


def test_a_figure_is_drawn_or_the_missing_library_is_named(
    workspace: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    command = (
        "--workspace",
        workspace,
        "printer",
        "calibrate",
        PRINTER,
        sheet(workspace, readings()),
        "--figure",
    )
    before = printer_file(workspace).read_bytes()
    with monkeypatch.context() as patched:
        patched.setitem(__import__("sys").modules, "matplotlib.figure", None)
        done = ran(capsys, *command)
    assert done.status == 2
    assert "matplotlib" in done.err
    assert printer_file(workspace).read_bytes() == before
    pytest.importorskip("matplotlib")
    done = ran(capsys, *command, "--json")
    assert done.status == 0
    assert (workspace / done.document["figure"]).read_bytes().startswith(b"\x89PNG\r\n")


def test_an_unknown_printer_or_part_is_named_with_the_nearest(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, "--workspace", workspace, "printer", "gauge", "workshop-30")
    assert (done.status, 'did you mean "workshop-300"' in done.err) == (2, True)
    done = ran(capsys, "--workspace", workspace, "printer", "gauge", PRINTER, "--for", "speaker 33 mm")
    assert (done.status, "did you mean" in done.err) == (2, True)
