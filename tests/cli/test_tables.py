"""The commands that print what is known: threads, tubes, parts."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from chassis_gen.cli.text import table
from tests.cli.support import ran


@pytest.mark.parametrize("text", ["M3", "m3x0.5", "M3 x 0.5"])
def test_a_metric_thread(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "threads", text)
    assert done.status == 0
    assert done.out.startswith("M3 (M coarse)\n")
    # ISO 724: d2 = d - 0.649519 P, D1 = d - 1.082532 P; ISO 2306: tap drill 2.5 mm for M3
    assert "2.675 mm" in done.out
    assert "2.459 mm" in done.out
    assert "ISO 2306" in done.out
    assert "Drilling and tapping:" in done.out


@pytest.mark.parametrize("text", ["8-32", "#8-32", "#8-32 UNC", "no. 8-32"])
def test_a_unified_thread_as_json(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    data = ran(capsys, "threads", text, "--json").document
    assert data["designation"] == "#8-32"
    # ASME B1.1: size N has a major diameter of 0.060 + 0.013 N inch
    assert data["major_diameter"] == pytest.approx((0.060 + 0.013 * 8) * 25.4)
    assert data["unit"] == "mm"


def test_percent_of_thread_of_a_drill_on_both_bases(capsys: pytest.CaptureFixture[str]) -> None:
    # handbook formula: percent = (major - drill) x threads per inch x 100 / basis
    # #29 is 0.136 in (ASME B94.11M)
    data = ran(capsys, "threads", "8-32", "--drill", "#29", "--json").document
    assert data["percent_thread"]["1.299"] == pytest.approx(
        100 * (0.164 - 0.136) * 32 / (1.5 * math.sqrt(3) / 2), rel=1e-6
    )
    assert data["percent_thread"]["1.0825"] == pytest.approx(
        100 * (0.164 - 0.136) * 32 / (1.25 * math.sqrt(3) / 2), rel=1e-6
    )
    assert data["warning"] is None


def test_too_small_a_drill_is_warned_of(capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "threads", "8-32", "--drill", "#32")
    assert done.status == 0
    # #32 is 0.116 in: (0.164 - 0.116) x 32 / 1.299 = 118 %
    assert "1.299 basis" in done.out
    assert "Warning: a 2.946 mm hole leaves 118 % thread for #8-32 on the 1.299 basis, over 85 %" in " ".join(
        done.out.split()
    )


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (["threads", "M33"], '[unknown-thread] there is no such thread in the tables; read "M33"; allowed: '
         'M1.6, M2, M2.5, M3, M4, M5, M6, #2-56, #4-40, #6-32, #8-32, #10-24, #10-32, 1/4-20; '
         'did you mean "M3"?'),
        (["threads", "M3", "--drill", "29"], "[unknown-drill] there is no such drill"),
        (["tubes", "coper 1 L"], "[unknown-tube] there is no such stock tube"),
        (["parts", "speker 32 mm"], "[unknown-part] there is no such part"),
        (["sections", "led_bay"], "[unknown-section] there is no such section kind"),
    ],
)  # fmt: skip
def test_unknown_names_are_met_with_the_nearest(
    arguments: list[str], line: str, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, *arguments)
    assert (done.status, done.out) == (2, "")
    assert done.err.startswith(line)
    assert len(done.err.splitlines()) == 1


@pytest.mark.parametrize("command", ["threads", "tubes", "parts", "sections"])
def test_lists_fit_80_columns(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    done = ran(capsys, command)
    assert done.status == 0
    # a name may be wider than the room that is left for the last column
    assert max(len(line) for line in done.out.splitlines()) <= 90
    assert ran(capsys, command, "--json").document[command]


def test_a_part_shows_sizes_terminals_and_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "parts", "Cell 18650")
    assert done.status == 0
    assert "Lithium cells: Never short" in done.out
    assert "plus" in done.out
    data = ran(capsys, "--json", "parts", "cell 18650").document
    assert data["kind"] == "cell"
    assert set(data["sizes"]["diameter"]) == {"value", "tolerance", "unit", "meaning", "source"}


OWN_TUBE = """
title = "the old brass one"
source = "measured with a caliper"
[[segment]]
name = "brass"
length = 120
wall = 1.0
bores = [{ from_mouth = 0, diameter = 38.2 }]
[[opening]]
name = "jack"
from_mouth = 20
clock_deg = 0
diameter = 8.2
"""


def test_the_workspaces_own_tubes_and_parts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for folder in ("tubes", "parts"):
        (tmp_path / "profiles" / folder).mkdir(parents=True)
    (tmp_path / "profiles" / "tubes" / "old brass.toml").write_text(OWN_TUBE)
    listed = ran(capsys, "--workspace", tmp_path, "tubes")
    assert "In profiles/tubes: old brass." in listed.out
    shown = ran(capsys, "--workspace", tmp_path, "tubes", "old brass")
    assert "38.2 +- 0.1" in shown.out
    assert "jack" in shown.out
    data = ran(capsys, "--workspace", tmp_path, "tubes", "old brass", "--json").document
    assert data["segment"][0]["bores"][0]["diameter"] == 38.2
    (tmp_path / "profiles" / "parts" / "green.toml").write_text("kind = 5")
    done = ran(capsys, "--workspace", tmp_path, "parts")
    assert done.status == 2
    assert all(line.startswith("profiles/parts/green.toml:1:") for line in done.err.splitlines())


def test_a_table_wraps_its_last_column_only() -> None:
    text = table(("a", "number", "what"), [("x", "1.5", "one two three four five six seven")], 36, right=(1,))
    assert text.splitlines() == [
        "a  number  what",
        "-" * 34,
        "x     1.5  one two three four five",
        "           six seven",
    ]
