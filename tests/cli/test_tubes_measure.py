"""Measuring a tube on the command line: the file that is written serves a build, and why shows its ranges."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from tests.cli.support import ran

READINGS = (
    "--length", "160", "--outside", "43.00,43.02",
    "--bore", "0@0=40.00", "--bore", "0@90=40.06", "--bore", "150@0=40.00", "--bore", "150@90=40.06",
    "--hole", "button: near=73.95,74.05 far=86.0 arc=33.86",
)  # fmt: skip
BUILD = """
[build]
title = "measured"
[tube]
like = "own"
chassis_offset = 4
[[section]]
kind = "lead_bay"
name = "bay"
[[section]]
kind = "switch_block"
name = "button"
at_opening = "button"
[[section]]
kind = "end_plate"
name = "end"
"""


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    (tmp_path / "profiles" / "b").mkdir(parents=True)
    (tmp_path / "profiles" / "b" / "build.toml").write_text(BUILD)
    return tmp_path


def test_a_measured_tube_serves_a_build(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "--workspace", workspace, "tubes", "measure", "own", *READINGS)
    assert done.status == 0
    data = tomllib.loads((workspace / "profiles" / "tubes" / "own.toml").read_text())
    (hole,), (segment,) = data["opening"], data["segment"]
    assert (hole["from_mouth"], hole["diameter"]) == (80.0, 12.0)
    # an arc of 33.86 mm on a strip of 0.1 mm round 43.01 mm is 90.0 degrees
    assert hole["clock_deg"] == pytest.approx(90.0, abs=0.01)
    assert segment["bores"][0] == {
        "from_mouth": 0.0, "diameter": 40.03, "tolerance": 0.03, "ovality": 0.06, "taper": 0.0,
    }  # fmt: skip
    why = ran(capsys, "--workspace", workspace, "--json", "why", "b", "chassis.bearing_diameter").document
    assert {t["term"]: t["tolerance"] for t in why["terms"]}["bore ovality"] == 0.03
    why = ran(capsys, "--workspace", workspace, "--json", "why", "b", "tube.button.station").document
    assert why["worst_case"] == pytest.approx(hole["from_mouth_tolerance"])


def test_measuring_again_keeps_comments(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = ("--workspace", workspace, "tubes", "measure", "own", *READINGS)
    ran(capsys, *command)
    file = workspace / "profiles" / "tubes" / "own.toml"
    file.write_text(
        "# the brass one\n" + file.read_text().replace("diameter = 12.0", "diameter = 12.0 # drilled")
    )
    assert ran(capsys, *command[:-1], "button: near=74 far=86.2 arc=33.86").status == 0
    text = file.read_text()
    assert text.startswith("# the brass one\n")
    assert "diameter = 12.2 # drilled" in text
    assert len(tomllib.loads(text)["opening"]) == 1


def test_nothing_is_asked_for_where_nobody_can_answer(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, "--workspace", workspace, "tubes", "measure", "own", "--length", "160")
    assert done.status == 2
    assert done.err.strip() == "[missing-key] --outside: no reading is given; allowed: --outside READINGS"
    assert not (workspace / "profiles" / "tubes").exists()


def test_lists_and_shows_as_before(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(capsys, "--workspace", workspace, "tubes", "measure", "own", *READINGS)
    assert "In profiles/tubes: own." in ran(capsys, "--workspace", workspace, "tubes").out
    assert "button" in ran(capsys, "--workspace", workspace, "tubes", "own").out
    assert ran(capsys, "--workspace", workspace, "tubes", "nothing").status == 2


IMPOSSIBLE = {
    "outside below bore": (
        ("--length", "290", "--outside", "39.00", "--bore", "20@90=40.02,40.03"),
        "[readings] the bore from station 0 to 290 is as wide as the tube's outside; read bore up to 40.02, outside "
        "39.00 mm; allowed: a bore below the outside diameter",
    ),
    "a hole beyond the end": (
        ("--length", "290", "--outside", "43", "--bore", "20@90=40", "--hole", "b: near=300 far=312 arc=30"),
        "[out-of-range] hole b reaches beyond the tube; read 300 to 312 mm; allowed: within 0 to 290 mm, the tube's "
        "length",
    ),
    "a hole across the whole tube": (
        ("--length", "290", "--outside", "43", "--bore", "20@90=40", "--hole", "b: near=100 far=144"),
        "[out-of-range] hole b is as wide as the tube; read 44 mm; allowed: below its outside diameter of 43 mm",
    ),
    "arcs the wrong way round": (
        (
            "--length", "290", "--outside", "43", "--bore", "20@90=40",
            "--hole", "b: near=100 far=112 arc_near=38 arc_far=26",
        ),
        "[readings] hole b ends before it begins; read arc_near 38, arc_far 26 mm; allowed: arc_far beyond arc_near",
    ),
    "an accuracy below nothing": (
        ("--length", "290", "--outside", "43", "--bore", "20@90=40", "--accuracy", "-1"),
        "[out-of-range] --accuracy: the number is out of range; read -1; allowed: 0 < mm <= 5",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", IMPOSSIBLE)
def test_a_tube_that_can_not_be_is_refused_and_not_written(
    case: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options, said = IMPOSSIBLE[case]
    done = ran(capsys, "--workspace", workspace, "tubes", "measure", "own", *options)
    assert (done.status, done.err.strip()) == (2, said)
    assert not (workspace / "profiles" / "tubes").exists()


def test_what_the_readings_can_not_tell_is_said(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    options = ("--length", "290", "--outside", "43", "--bore", "20@0=40.1", "--bore", "150@90=39.95")
    done = ran(capsys, "--workspace", workspace, "--json", "tubes", "measure", "own", *options)
    assert done.status == 0
    assert "can't be told apart" in done.document["remarks"][0]


def test_readings_take_units(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """11.5 in are 292.1 mm, 1.7 in 43.18 mm, 1.57 in 39.878 mm, 4 in 101.6 mm and 4.5 in 114.3 mm (25.4 mm each)."""
    options = ("--length", "11.5 in", "--outside", "1.7in", "--bore", "1 in@0=1.57 in, 39.9",
               "--hole", "b: near=4 in far=4.5 in arc=1in")  # fmt: skip
    done = ran(capsys, "--workspace", workspace, "--json", "tubes", "measure", "own", *options)
    assert done.status == 0
    (segment,), (hole,) = done.document["segment"], done.document["opening"]
    assert (segment["length"], segment["outer"][0]["diameter"]) == (292.1, 43.18)
    assert segment["bores"][0]["diameter"] == pytest.approx((39.878 + 39.9) / 2)
    assert (hole["from_mouth"], hole["diameter"]) == (pytest.approx(107.95), pytest.approx(12.7))
