"""Broken parameter files, each with the exact lines said about it; no traceback, nothing written."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.support import ran

TABLE = tomllib.loads((Path(__file__).parent / "bad_input.toml").read_text("utf-8"))
CASES: dict[str, Any] = {case["name"]: case for case in TABLE["case"]}
STUB = "[[segment]]\nlength = 270\nbores = [{ from_mouth = 0, diameter = 40 }]\n"
FILE = "profiles/b/build.toml"


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    """A workspace with a printer, a tube, a link that leads out of it, and room for a build `b`."""
    root = tmp_path / "workspace"
    for folder in ("b", "printers", "tubes", "parts"):
        (root / "profiles" / folder).mkdir(parents=True)
    (root / "profiles" / "printers" / "workshop.toml").write_text("nozzle = 0.4\n")
    (root / "profiles" / "tubes" / "stub.toml").write_text(STUB)
    (tmp_path / "outside.toml").write_text(STUB)
    (root / "profiles" / "tubes" / "link.toml").symlink_to(tmp_path / "outside.toml")
    return root


def _edited(case: Any) -> str:
    text: str = TABLE["base"][case["base"]]
    for old, new in case["edits"]:
        assert old in text
        text = text.replace(old, new, 1)
    return text


@pytest.mark.parametrize("base", TABLE["base"])
def test_the_files_are_good_before_the_edit(
    base: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / FILE).write_text(TABLE["base"][base])
    done = ran(capsys, "--workspace", workspace, "why", "b")
    assert (done.status, done.err) == (0, "")


def test_there_are_at_least_sixty_cases_and_no_two_edits_are_the_same() -> None:
    assert len(CASES) == len(TABLE["case"])
    assert len({_edited(case) for case in CASES.values()}) == len(CASES) >= 60


@pytest.mark.parametrize("name", CASES)
def test_a_broken_file(name: str, workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (workspace / FILE).write_text(_edited(CASES[name]))
    done = ran(capsys, "--workspace", workspace, "why", "b")
    assert done.status == 2
    assert done.out == ""
    assert done.err.splitlines() == [f"{FILE}:{line}" for line in CASES[name]["problems"]]


@pytest.mark.parametrize("command", ["check", "build", "batch"])
def test_commands_that_make_solids_refuse_it_too_and_write_nothing(
    command: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    case = CASES["unknown part"]
    (workspace / FILE).write_text(_edited(case))
    done = ran(capsys, "--workspace", workspace, command, "b", "--json")
    assert done.status == 2
    assert done.err.splitlines()[0] == f"{FILE}:{case['problems'][0]}"
    assert done.document["status"] == "bad-input"
    assert not (workspace / "out").exists()


BYTES: dict[str, tuple[bytes, str]] = {
    "empty": (b"", f"{FILE}:1:1: [missing-key] build: the key is missing; allowed: a table"),
    "UTF-16": (
        "[build]".encode("utf-16"),
        f"{FILE}:1:1: [encoding] the file is UTF-16 text; allowed: UTF-8 text",
    ),
    "Latin-1": (
        '[build]\ntitle = "Büro"'.encode("latin-1"),
        f"{FILE}:2:11: [encoding] a byte that no text file has; read byte 0xfc; allowed: UTF-8 text",
    ),
    "a picture": (
        b"\x89PNG\r\n\x1a\n",
        f"{FILE}:1:1: [encoding] a byte that no text file has; read byte 0x89; allowed: UTF-8 text",
    ),
    "zero bytes": (
        b"[build]\n\0\0",
        f"{FILE}:2:1: [encoding] a byte that no text file has; read byte 0x00; allowed: UTF-8 text",
    ),
    "two megabytes": (
        b"#" * 2**21,
        f"{FILE}: [too-large] the file is too large; allowed: at most 1048576 bytes",
    ),
    "deep nesting": (
        b"a = " + b"[" * 5000 + b"]" * 5000,
        f"{FILE}: [too-deep] lists or tables are nested too deeply",
    ),
}


@pytest.mark.parametrize("name", BYTES)
def test_a_file_that_is_no_parameter_file_at_all(
    name: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data, line = BYTES[name]
    (workspace / FILE).write_bytes(data)
    done = ran(capsys, "--workspace", workspace, "why", "b")
    assert (done.status, done.out) == (2, "")
    assert done.err.splitlines()[0] == line


def _no_such_build(_: Path) -> tuple[str, str]:
    return "c", '[unknown-name] there is no such build; read "c"; allowed: b'


def _shared_folder(_: Path) -> tuple[str, str]:
    return "parts", '[unknown-name] there is no such build; read "parts"; allowed: b'


def _hidden(_: Path) -> tuple[str, str]:
    return ".b", '[bad-name] the name cannot be used as a file name; read ".b"; allowed: up to 80 of a-z'


def _missing_path(root: Path) -> tuple[str, str]:
    return f"{root}/x.toml", f'[missing-file] there is no such parameter file; read "{root}/x.toml"'


def _linked_out(root: Path) -> tuple[str, str]:
    (root.parent / "elsewhere").mkdir()
    (root.parent / "elsewhere" / "build.toml").write_text(TABLE["base"]["bays"])
    (root / "profiles" / "c").symlink_to(root.parent / "elsewhere")
    return (
        "c",
        '[leaves-workspace] a link leads out of the workspace; read "c"; allowed: files inside the workspace',
    )


@pytest.mark.parametrize("case", [_no_such_build, _shared_folder, _hidden, _missing_path, _linked_out])
def test_a_build_that_cannot_be_had(
    case: Callable[[Path], tuple[str, str]], workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / FILE).write_text(TABLE["base"]["bays"])
    name, line = case(workspace)
    done = ran(capsys, "--workspace", workspace, "check", name)
    assert (done.status, done.out) == (2, "")
    shown = line if len(line) < 60 or "/x.toml" not in line else line.split("; read")[0]
    assert done.err.startswith(shown)


def test_a_misspelt_dimension(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (workspace / FILE).write_text(TABLE["base"]["bays"])
    done = ran(capsys, "--workspace", workspace, "why", "b", "a.lenth")
    assert (done.status, done.err) == (
        2,
        '[unknown-name] b has no such dimension; read "a.lenth"; allowed: a name that '
        '`chassis-gen why b` lists; did you mean "a.length"?\n',
    )


def test_a_printer_and_a_part_file_are_placed_in_their_own_files(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = TABLE["base"]["bays"].replace('title = "bays"', 'title = "bays"\nprinter = "workshop"')
    (workspace / FILE).write_text(text)
    (workspace / "profiles" / "printers" / "workshop.toml").write_text("nozle = 0.4\n")
    (workspace / "profiles" / "parts" / "own.toml").write_text("kind = 1\n")
    done = ran(capsys, "--workspace", workspace, "why", "b")
    assert done.status == 2
    lines = done.err.splitlines()
    assert lines[0].startswith(
        "profiles/printers/workshop.toml:1:1: [unknown-key] nozle: unknown key; read 0.4;"
    )
    assert lines[0].endswith('did you mean "nozzle"?')
    assert {line.split(":")[0] for line in lines[1:]} == {"profiles/parts/own.toml"}


EVERY_STAGE = """\
[build]
title = "wrong in many ways"
printer = "workshp"
material = "PTEG"

[[tube.segment]]
length = 270
bores = [{ from_mouth = 0, diameter = 40 }, { from_mouth = 0, diameter = 39 }]

[[section]]
kind = "cell_cradle"
name = "cell"
part = "cell 18560"

[[section]]
kind = "cell_cradle"
name = "cell"
part = "own"

[[section]]
kind = "switch_block"
name = "switch"
at_opening = "hole"
carrier = true
carrier_thread = "M7"

[[wire]]
from = "cell.plus"
to = "swich.a"
gauge_awg = 24
"""


def test_what_is_wrong_at_several_stages_is_told_at_once(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / FILE).write_text(EVERY_STAGE)
    (workspace / "profiles" / "parts" / "own.toml").write_text("kind = 1\n")
    done = ran(capsys, "--workspace", workspace, "check", "b", "--json")
    assert done.status == 2
    told = [(p["file"], p["line"], p["code"]) for p in done.document["problems"]]
    # "own" is there, though it can't be read: that it isn't known would be wrong
    assert [(line, code) for file, line, code in told if file == FILE] == [
        (3, "unknown-name"),
        (4, "unknown-material"),
        (8, "not-allowed"),
        (13, "unknown-part"),
        (17, "duplicate-name"),
        (23, "unknown-name"),
        (25, "unknown-thread"),
        (29, "unknown-name"),
    ]
    assert {file for file, _, _ in told} == {FILE, "profiles/parts/own.toml"}
    # where keys or values are wrong already, names of tables and files still are looked up
    (workspace / FILE).write_text(EVERY_STAGE.replace("length = 270", "length = -1"))
    again = ran(capsys, "--workspace", workspace, "check", "b", "--json")
    assert [(p["line"], p["code"]) for p in again.document["problems"]] == [
        (3, "unknown-name"),
        (4, "unknown-material"),
        (7, "out-of-range"),
        (13, "unknown-part"),
    ]


TIGHT = """\
[build]
title = "no room for a wire"

[[tube.segment]]
length = 200
bores = [{ from_mouth = 0, diameter = 26.0 }]

[[section]]
kind = "switch_block"
name = "button"
part = "tactile board"

[[section]]
kind = "lead_bay"
name = "bay"
length = 20

[[section]]
kind = "cell_cradle"
name = "cell"

[[section]]
kind = "light_head"
name = "light"
light = "led_round"

[[wire]]
from = "button.a"
to = "light.plus"
gauge_awg = 20
"""

LOUD = """\
[build]
title = "too big a speaker"

[[tube.segment]]
length = 100
bores = [{ from_mouth = 0, diameter = 38.0 }]

[[section]]
kind = "speaker_cup"
name = "speaker"
part = "speaker 36 mm"
"""


def test_a_lane_with_no_room_is_a_finding_that_says_where_and_how_much(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / FILE).write_text(TIGHT)
    done = ran(capsys, "--workspace", workspace, "check", "b", "--json")
    assert done.status == 1
    found = next(f for f in done.document["findings"] if f["code"] == "wire-unrouted")
    assert found["level"] == "error"
    assert found["message"].startswith('"cell" has no room for wire 1 (button.a to light.plus): it wants ')
    assert [w["id"] for w in done.document["unrouted"]] == ["wire 1"]


def test_a_sum_that_does_not_close_is_a_finding_with_the_sum_and_a_remedy(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / FILE).write_text(LOUD)
    done = ran(capsys, "--workspace", workspace, "check", "b", "--json")
    assert done.status == 1
    found = next(f for f in done.document["findings"] if f["code"] == "radial-sum")
    # 18 rim + 0.05 + 0.05 + 1.2 cup wall + 0.05 + 0.05 + 1.2 cap wall; 19 bore - 0.15 slide - 0.05 printer
    assert "needs a radius of 20.60 mm" in found["message"]
    assert "the chassis has 18.80 mm in the 38.00 mm bore, 1.80 mm too little" in found["message"]
    assert found["remedy"]["key"] == "section[0].part"
    assert found["remedy"]["tried"] is True
    changed = LOUD.replace("speaker 36 mm", found["remedy"]["value"])
    (workspace / FILE).write_text(changed)
    again = ran(capsys, "--workspace", workspace, "check", "b", "--json")
    assert "radial-sum" not in [f["code"] for f in again.document["findings"]]
