"""``chassis-gen trial``: every subcommand with and without --json, exit statuses, and what is written."""

from __future__ import annotations

import hashlib
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
import trimesh

from chassis_gen.cli.main import COMMANDS
from tests.cli.support import Ran, process, ran
from tests.trial.support import SEAT, workspace

Run = Any


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a trial command in a workspace with three builds that are alike."""
    workspace(tmp_path, "a", "b", "c")

    def command(*arguments: str) -> Ran:
        return ran(capsys, "--workspace", tmp_path, "trial", *arguments)

    return command


def noted(run: Run, build: str = "a", amount: str = "0.2") -> Any:
    done = run("note", build, SEAT, "--tight", amount, "--why", "sticks", "--date", "2026-03-04", "--json")
    assert done.status == 0, done.err
    return json.loads(done.out)


def log(root: Path, build: str = "a") -> dict[str, Any]:
    return tomllib.loads((root / "profiles" / build / "trial-log.toml").read_text("utf-8"))


def test_help_is_quick_and_lists_the_subcommands() -> None:
    done = process("trial", "--help")
    assert done.status == 0
    assert COMMANDS["trial"] in done.out
    for name in ("note", "print", "history", "compare", "next", "rescue", "repeats", "settle"):
        assert f"  {name} " in done.out


def test_a_note_is_kept_with_all_that_was_given(run: Run, tmp_path: Path) -> None:
    run("print", "a", "--lot", "grey 12", "--date", "2026-03-03")
    done = run("note", "a", SEAT, "--tight", "0.2", "--why", 'it "sticks"', "--photo", "seat.jpg", "--piece",
               "chassis", "--print", "1", "--date", "2026-03-04")  # fmt: skip
    assert done.status == 0, done.err
    (entry,) = log(tmp_path)["entry"]
    assert entry | {"date": str(entry["date"])} == {
        "number": 1, "date": "2026-03-04", "revision": 1, "print": 1, "dimension": SEAT, "said": "tight",
        "side": "inner", "term": "test fit", "value": 0.2, "compensation": 0.1, "printer": "p", "piece": "chassis",
            "photo": "seat.jpg",
        "reason": 'it "sticks"',
    }  # fmt: skip
    assert "Sections that change: cell. Pieces: chassis." in done.out
    assert "Revision 1 becomes 2." in done.out
    assert "+0.200" in done.out


def test_a_note_as_json_says_what_moves(run: Run) -> None:
    document = noted(run)
    assert document["status"] == "noted"
    assert document["entry"]["value"] == 0.2
    assert (document["revision_before"], document["revision_after"]) == (1, 2)
    moved = {c["name"]: c["by"] for c in document["changes"]["dimensions"]}
    assert moved[SEAT] == pytest.approx(0.2, abs=1e-4)
    assert document["changes"]["pieces"] == ["chassis"]
    (fit,) = document["changes"]["fits"]
    assert fit["id"] == SEAT
    assert fit["planned"][1] - fit["planned"][0] == pytest.approx(0.1, abs=2e-4)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["a", SEAT], "what was seen is missing"),
        (["a", SEAT, "--tight", "0.1", "--loose", "0.1", "--why", "x"], "stand together"),
        (["a", SEAT, "--tight", "0.1"], "--why is missing"),
        (["a", "--tight", "0.1", "--why", "x"], "BUILD and DIMENSION"),
        (["a", SEAT, "--undo", "1"], "BUILD and DIMENSION"),
        (["a", SEAT, "--tight", "wide", "--why", "x"], "no length"),
        (["a", SEAT, "--measured", "14", "--measured", "15", "--why", "x"], "stands once"),
        (["--part", "cell 14500", "--tight", "0.1", "--why", "x"], "--part takes"),
        (["--part", "cell 14500", "--measured", "14.3", "--why", "x"], "SIZE=MM"),
        (["a", "--undo", "1"], "no such entry"),
        (["a", "cell.seat", "--good"], "did you mean"),
        (["nothing", SEAT, "--good"], "no such build"),
    ],
)
def test_bad_notes_end_with_2_and_write_nothing(
    arguments: list[str], words: str, run: Run, tmp_path: Path
) -> None:
    done = run("note", *arguments)
    assert done.status == 2
    assert words in done.err
    assert "Traceback" not in done.err
    assert not (tmp_path / "profiles/a/trial-log.toml").exists()


def test_undo_takes_back_and_history_tells(run: Run, tmp_path: Path) -> None:
    noted(run)
    assert run("note", "a", "--undo", "1").status == 0
    assert [e["said"] for e in log(tmp_path)["entry"]] == ["tight", "undo"]
    document = run("history", "a", "--json").document
    assert [r["revision"] for r in document["revisions"]] == [1, 2, 3]
    assert document["taken_back"] == [1]
    text = run("history", "a").out
    assert "sticks (taken back)" in " ".join(text.split())
    assert f"{SEAT} 14.550 to 14.750" in text


def test_history_at_prints_and_restores(run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (tmp_path / "profiles/a/build.toml").read_text()
    noted(run)
    shown = run("history", "a", "--at", "1")
    assert text.rstrip() in shown.out
    assert run("history", "a", "--at", "1", "--json").document["files"]["profiles/a/build.toml"] == text
    old = tmp_path / "old"
    assert run("history", "a", "--at", "1", "--to", str(old)).status == 0
    again = ran(capsys, "--workspace", old, "why", "a", SEAT, "--json")
    assert again.document["total"] == pytest.approx(14.55, abs=1e-4)
    assert run("history", "a", "--at", "7").status == 2
    assert run("history", "a", "--to", str(old)).status == 2


def test_prints_keep_the_slicers_hash_and_bad_ones_drop_their_readings(run: Run, tmp_path: Path) -> None:
    settings = tmp_path / "slicer.ini"
    settings.write_text("perimeters = 3\n")
    done = run("print", "a", "--slicer", str(settings), "--orientation", "lying", "--json")
    assert done.document["print"]["slicer_sha256"] == hashlib.sha256(settings.read_bytes()).hexdigest()
    assert log(tmp_path)["print"][0]["slicer_file"] == "slicer.ini"
    noted(run)
    assert run("print", "a", "--bad", "1").status == 2
    bad = run("print", "a", "--bad", "1", "--why", "layer shift", "--json").document
    assert {c["name"]: c["by"] for c in bad["changes"]["dimensions"]}[SEAT] == pytest.approx(-0.2, abs=1e-4)
    assert run("print", "a", "--slicer", str(tmp_path / "none.ini")).status == 2
    assert run("print", "a", "--piece", "cap").status == 2


def test_compare(run: Run) -> None:
    noted(run)
    document = run("compare", "a", "1", "now", "--json").document
    assert {c["name"] for c in document["dimensions"]} >= {SEAT}
    (volume,) = document["volumes"]
    assert (volume["name"], volume["unit"]) == ("chassis", "mm3")
    assert volume["by"] < 0
    assert "Nothing moves." in run("compare", "a", "2", "now").out
    assert run("compare", "a", "1", "9").status == 2


def test_next_ranks_readings(run: Run) -> None:
    document = run("next", "a", "--json").document
    first = document["readings"][0]
    assert first["command"] == 'chassis-gen trial note --part "cell 14500" --measured diameter=MM'
    assert first["after"] > first["before"]
    assert "cell 14500, diameter" in run("next", "a").out.replace("\n", " ")


def test_rescue_writes_a_sheet_and_a_shim(run: Run, tmp_path: Path) -> None:
    run("print", "a")
    run("note", "a", SEAT, "--loose", "0.4", "--why", "rattles")
    dry = run("rescue", "a", "--from", "1", "--dry-run")
    assert dry.status == 0
    assert not (tmp_path / "out").exists()
    document = run("rescue", "a", "--from", "1", "--json").document
    assert len(document["files"]) == 2
    for name in document["files"]:
        assert (tmp_path / name).is_file()
    shim = next(f["shim"] for f in document["pieces"][0]["fillings"] if f["shim"])
    mesh = trimesh.load(tmp_path / f"out/a-rework/{shim['name']}.stl")
    assert mesh.is_watertight
    assert mesh.extents[2] == pytest.approx(shim["thickness"], abs=1e-4)
    assert "shim 0.40 mm thick" in (tmp_path / "out/a-rework/rework-sheet.txt").read_text()


def test_repeats_are_told_with_the_third_note_and_settled(run: Run, tmp_path: Path) -> None:
    assert noted(run, "a")["repeats"] == []
    assert noted(run, "b")["repeats"] == []
    (repeat,) = noted(run, "c", "0.22")["repeats"]
    assert repeat["command"] == "chassis-gen trial settle p"
    assert "3 inner dimensions printed on p" in run("repeats").out
    done = run("settle", "p", "--json").document
    assert done["changed"] == [{"key": "allowance.inner", "before": 0.1, "after": pytest.approx(0.3067)}]
    assert [t["build"] for t in done["taken_back"]] == ["a", "b", "c"]
    assert run("repeats", "--json").document == {"repeats": []}
    assert run("settle", "p").status == 2
    assert run("settle", "q").status == 2


def test_a_parts_size_reaches_all_builds_and_can_be_taken_back(run: Run) -> None:
    done = run(
        "note", "--part", "cell 14500", "--measured", "diameter=14.3", "--why", "caliper", "--json"
    ).document
    assert set(done["builds"]) == {"a", "b", "c"}
    assert done["readings"][0]["value"] == 14.3
    back = run("note", "--part", "cell 14500", "--undo", "1", "--json").document
    assert {c["by"] for b in back["builds"].values() for c in b["dimensions"] if c["name"] == SEAT} == {-0.15}
    assert run("note", "--part", "cell 14500", "--undo", "9").status == 2


def test_a_new_build_takes_no_trial_log_over(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    noted(run)
    assert ran(capsys, "--workspace", tmp_path, "new", "d", "--like", "a").status == 0
    assert [p.name for p in (tmp_path / "profiles/d").iterdir()] == ["build.toml"]
    why = ran(capsys, "--workspace", tmp_path, "why", "d", SEAT, "--json").document
    assert "test fit" not in [t["term"] for t in why["terms"]]


def test_the_reports_terms_show_the_note(
    run: Run, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    noted(run)
    report = ran(capsys, "--workspace", tmp_path, "check", "a", "--chord", "0.05", "--json").document
    (sum_,) = [d for d in report["dimensions"] if d["name"] == SEAT]
    (term,) = [t for t in sum_["terms"] if t["label"] == "test fit"]
    assert term["source"] == "trial entry 1, 2026-03-04: sticks"
    (fit,) = [f for f in report["fits"] if f["id"] == SEAT]
    # 0.15 designed, 0.05 allowance and 0.1 from the test fit per side, found on the solid
    assert fit["measured_mm"] == pytest.approx(0.3, abs=0.06)
    assert fit["as_printed_mm"] == pytest.approx(0.15, abs=1e-3)
