"""The command-line contract: exit statuses, --json on either side, quick help, no traceback for bad input."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

import chassis_gen.cli.main as program
from chassis_gen import __version__
from chassis_gen.cli.main import COMMANDS, TRACE, cli, run
from tests.cli.support import PROGRAM, REPOSITORY, process, ran

HEAVY = ("numpy", "trimesh", "cadquery", "OCP", "manifold3d", "pydantic", "pint", "networkx", "tree_sitter")
LOADED = (
    "import sys; from chassis_gen.cli.main import run; status = run(sys.argv[1:]); "
    f"print(sorted(set({HEAVY!r}) & set(sys.modules)), file=sys.stderr); sys.exit(status)"
)


@pytest.mark.parametrize(
    "arguments", [["--help"], ["--version"], ["check", "--help"], ["build", "--help"], ["new", "-h"]]
)
def test_help_and_version_import_nothing_heavy(arguments: list[str]) -> None:
    done = process(*arguments, program=[sys.executable, "-c", LOADED])
    assert (done.status, done.err.strip()) == (0, "[]")
    assert done.out


def test_threads_and_tubes_import_no_kernel() -> None:
    done = process("threads", "M3", program=[sys.executable, "-c", LOADED])
    assert (done.status, done.err.strip()) == (0, "[]")


def test_help_lists_every_command_with_the_line_its_own_help_begins_with() -> None:
    context = click.Context(cli)
    for name, line in COMMANDS.items():
        command = cli.get_command(context, name)
        assert command is not None
        assert command.name == name
        assert (command.help or "").split("\n")[0] == line


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_takes_json(name: str) -> None:
    command = cli.get_command(click.Context(cli), name)
    assert command is not None
    assert "--json" in [o for p in command.params for o in p.opts]


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert ran(capsys, "--version").out == f"chassis-gen {__version__}\n"


@pytest.mark.parametrize(
    "arguments",
    [
        ["--json", "tubes", "copper 1 L"],
        ["tubes", "--json", "copper 1 L"],
        ["tubes", "copper 1 L", "--json"],
        ["--json", "tubes", "copper 1 L", "--json"],
    ],
)
def test_json_before_or_after_the_command(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, *arguments)
    assert done.status == 0
    assert done.document["bore_diameter"] == pytest.approx(26.035)
    # ASTM B88: 1 inch type L, 1.125 in outside, 0.050 in wall
    assert done.document["outer_diameter"] == pytest.approx(1.125 * 25.4)
    assert "copper 1 L" in done.err


@pytest.mark.parametrize("arguments", [["--json", "--help"], ["--version", "--json"]])
def test_json_with_help_is_still_one_document(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, *arguments)
    assert (done.status, done.document) == (0, {"status": "ok"})
    assert "chassis-gen" in done.err


USAGE = {
    "misspelt command": (
        ["chekc", "x"],
        '[usage] there is no such command; read "chekc"; allowed: new, check, build, batch, cache, why, trial, '
        'printer, parts, threads, sections, tubes; did you mean "check"?',
    ),
    "command far from any": (
        ["zzzz"],
        '[usage] there is no such command; read "zzzz"; allowed: new, check, build, batch, cache, why, trial, '
        "printer, parts, threads, sections, tubes",
    ),
    "misspelt option": (
        ["build", "x", "--no-stp"],
        '[usage] there is no such option; read "--no-stp"; did you mean "--no-step"?',
    ),
    "misspelt option before the command": (
        ["--workspce", "x", "check", "x"],
        '[usage] there is no such option; read "--workspce"; did you mean "--workspace"?',
    ),
    "no build": (["check"], "[usage] Missing argument 'BUILD'."),
    "no builds": (["build"], "[usage] Missing argument 'BUILD...'."),
    "one too many": (["why", "a", "b", "c"], "[usage] Got unexpected extra argument (c)"),
    "chord of text": (
        ["check", "x", "--chord", "fine"],
        "[usage] Invalid value for '--chord': \"fine\" is no chord tolerance; allowed: 0.001 <= mm <= 0.5",
    ),
    "chord not a number": (
        ["check", "x", "--chord", "nan"],
        "[usage] Invalid value for '--chord': \"nan\" is no chord tolerance; allowed: 0.001 <= mm <= 0.5",
    ),
    "chord of nothing": (
        ["check", "x", "--chord", "0"],
        "[usage] Invalid value for '--chord': \"0\" is no chord tolerance; allowed: 0.001 <= mm <= 0.5",
    ),
    "no such workspace": (
        ["--workspace", "nowhere", "parts"],
        '[missing-file] --workspace: there is no such folder; read "nowhere"',
    ),
    "drill without thread": (
        ["threads", "--drill", "#29"],
        "[usage] --drill needs a thread; allowed: threads DESIGNATION --drill DRILL",
    ),
    "schema of one kind": (
        ["sections", "lead_bay", "--schema"],
        '[usage] --schema is of the whole file; read "lead_bay"',
    ),
}


@pytest.mark.parametrize("name", USAGE)
def test_wrong_arguments_end_with_2_and_one_line(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    arguments, line = USAGE[name]
    done = ran(capsys, *arguments)
    assert done.status == 2
    assert done.out == ""
    # click puts its own quotes and full stop; the first line is ours, a pointer to --help may follow
    assert done.err.splitlines()[0] == line
    assert all(more.startswith("See chassis-gen") for more in done.err.splitlines()[1:])


@pytest.mark.parametrize("name", USAGE)
def test_wrong_arguments_as_json(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "--json", *USAGE[name][0])
    assert done.status == 2
    assert done.document["status"] == "bad-input"
    assert [p["code"] for p in done.document["problems"]] in (["usage"], ["missing-file"])


def test_no_command_shows_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys)
    assert done.status == 2
    assert "Commands:" in done.err


def test_problems_come_one_a_line_and_as_one_document(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "profiles" / "odd").mkdir(parents=True)
    (tmp_path / "profiles" / "odd" / "build.toml").write_text("[build]\ntitel = 1\n[tube]\n")
    lines = ran(capsys, "--workspace", tmp_path, "check", "odd").err.splitlines()
    assert [line.split(": ")[0] for line in lines] == [
        "profiles/odd/build.toml:1:1",
        "profiles/odd/build.toml:1:1",
        "profiles/odd/build.toml:2:1",
    ]
    done = ran(capsys, "--workspace", tmp_path, "check", "odd", "--json")
    assert done.err.splitlines() == lines
    assert [p["code"] for p in done.document["problems"]] == ["missing-key", "missing-key", "unknown-key"]
    assert done.document["problems"][2] | {"allowed": None} == {
        "code": "unknown-key",
        "message": "unknown key",
        "file": "profiles/odd/build.toml",
        "line": 2,
        "column": 1,
        "key": "build.titel",
        "value": "1",
        "allowed": None,
        "nearest": "title",
    }


def _raises(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def broken(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(cli, "invoke", broken)


def test_a_fault_of_the_program_is_told_from_bad_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _raises(monkeypatch, RuntimeError("odd\nthing"))
    monkeypatch.delenv(TRACE, raising=False)
    done = ran(capsys, "parts")
    assert (done.status, done.out) == (70, "")
    assert "RuntimeError: odd thing" in done.err
    assert "report" in done.err
    assert "Traceback" not in done.err
    assert ran(capsys, "parts", "--json").document == {
        "status": "bug",
        "type": "RuntimeError",
        "message": "odd thing",
    }
    monkeypatch.setenv(TRACE, "1")
    assert "Traceback" in ran(capsys, "parts").err


def test_interrupt(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    _raises(monkeypatch, KeyboardInterrupt())
    assert ran(capsys, "parts") == type(ran(capsys, "parts"))(130, "", "interrupted\n")
    assert ran(capsys, "parts", "--json").document == {"status": "interrupted"}


def test_a_refusal_of_the_system_is_no_fault_of_the_program(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _raises(monkeypatch, OSError(28, "No space left on device", "out/x.stl"))
    done = ran(capsys, "parts")
    assert (done.status, done.err) == (
        2,
        "out/x.stl: [system] the system refuses (No space left on device)\n",
    )


def test_a_reader_that_goes_away_is_met_quietly() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    environment = {**os.environ, "PYTHONPATH": str(REPOSITORY)}
    done = subprocess.run(
        [*PROGRAM, "tubes"], stdout=writing, stderr=subprocess.PIPE, env=environment, check=False
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (program.BROKEN_PIPE, b"")


def test_characters_that_the_terminal_lacks_are_written_as_escapes() -> None:
    done = process("tubes", "4 Ω", PYTHONIOENCODING="latin-1")
    assert done.status == 2
    assert 'read "4 \\u03a9"' in done.err


def test_exit_statuses_of_a_process(tmp_path: Path) -> None:
    done = process("--workspace", tmp_path, "check", "nothing", "--json")
    assert done.status == 2
    assert done.document["problems"][0]["code"] == "unknown-name"


def test_double_dash_ends_the_options(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["tubes", "--", "--json"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert '[unknown-tube] there is no such stock tube; read "--json"' in captured.err
