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
