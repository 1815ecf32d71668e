"""A build's own section kinds: run only when trusted, held to the contract, mistakes said with their line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import chassis_gen
from tests.cli.support import ran

PAGE = (Path(chassis_gen.__file__).parent / "docs" / "own-sections.md").read_text("utf-8")
BUILD = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)[0]
CODE = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)[0]


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    folder = tmp_path / "profiles" / "cord"
    folder.mkdir(parents=True)
    (folder / "build.toml").write_text(BUILD)
    (folder / "cord_bar.py").write_text(CODE)
    return tmp_path


def test_the_example_of_the_page_passes(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "--workspace", workspace, "--json", "check", "cord", "--trust")
    assert done.status == 0
    report = done.document
    assert report["verdict"] == "pass"
    assert [f for f in report["findings"] if f["level"] != "note"] == []
    why = ran(capsys, "--workspace", workspace, "why", "cord", "cord.hole_diameter", "--trust")
    assert "lying hole" in why.out


def test_the_test_fit_log_of_a_build_with_its_own_code(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def trial(*words: object) -> dict:
        done = ran(capsys, "--workspace", workspace, "--json", "trial", *words, "--trust")
        assert done.status == 0, done.err
        return done.document

    trial("note", "cord", "cord.hole_diameter", "--tight", "0.2", "--why", "the cord sticks")
    trial("print", "cord", "--piece", "chassis")
    changed = trial("compare", "cord", "1", "now")["dimensions"]
    assert [(d["name"], round(d["after"] - d["before"], 6)) for d in changed] == [("cord.hole_diameter", 0.2)]


@pytest.mark.parametrize(
    "command", [("check", "cord"), ("build", "cord"), ("why", "cord"), ("trial", "next", "cord")]
)
def test_nothing_is_run_without_trust(
    command: tuple[str, ...], workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mark = workspace / "was-run"
    file = workspace / "profiles" / "cord" / "cord_bar.py"
    file.write_text(f"open({str(mark)!r}, 'w').close()\n" + CODE)
    done = ran(capsys, "--workspace", workspace, *command)
    assert (done.status, done.out) == (2, "")
    assert done.err.strip() == (
        "profiles/cord/build.toml:5:13: [not-trusted] extend.sections[0]: the build brings its own code, "
        'cord_bar.py, which can do anything that you can do; read "cord_bar.py"; allowed: read it, then run the '
        "command again with --trust"
    )
    assert not mark.exists()


def test_the_code_is_part_of_the_input(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from chassis_gen.params.workspace import Workspace
    from chassis_gen.pipeline import load_build

    loaded = load_build(Workspace(workspace, trusted=True), "cord")
    assert loaded.files["profiles/cord/cord_bar.py"] == CODE
    assert loaded.kinds["cord_bar"].title == "bar with a hole across it for a lanyard cord"
    assert "cord_bar" not in load_build.__globals__["section_kinds"]()


WRONG = {
    "no python": (
        ("import", "imp ort"),
        "cord_bar.py:3:18: [own-section] this is no Python (invalid syntax)",
    ),
    "fails when loaded": (
        ("KIND = CordBar()", "KIND = 1 / 0"),
        "[own-section] the build's own code failed when it was loaded: ZeroDivisionError: division by zero",
    ),
    "ends the program": (
        ("KIND = CordBar()", "raise SystemExit(7)"),
        "[own-section] the build's own code failed when it was loaded: SystemExit: 7",
    ),
    "ends the program at its plan": (
        ("middle = (ctx.z0 + ctx.z1) / 2\n        return", "raise SystemExit(0)\n        return"),
        "[own-section] the build's own code failed at its plan: SystemExit: 0",
    ),
    "no kind": (
        ("KIND = CordBar()", "KIND = CordBar"),
        "[own-section] extend.sections[0]: profiles/cord/cord_bar.py has no KIND that is a SectionKind",
    ),
    "a name that is taken": (
        ('"cord_bar"', '"lead_bay"'),
        'makes a section kind "lead_bay", which there is already',
    ),
    "fails at its plan": (
        ("middle = (ctx.z0 + ctx.z1) / 2\n        return", "middle = ctx.nothing\n        return"),
        "[own-section] the build's own code failed at its plan: AttributeError: "
        "'SectionContext' object has no attribute 'nothing'",
    ),
    "gives no length": (
        (
            'return setting.fitter.chosen(f"{params.name}.length", params.length, "length along the axis")',
            "return 14.0",
        ),
        '[own-section] the section kind "cord_bar" gives float at its length, Dimension or nothing is wanted',
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_mistake_in_the_code_is_said(
    name: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (old, new), message = WRONG[name]
    assert old in CODE
    count = -1 if name.startswith("a name") else 1
    (workspace / "profiles" / "cord" / "cord_bar.py").write_text(CODE.replace(old, new, count))
    done = ran(capsys, "--workspace", workspace, "check", "cord", "--trust")
    assert done.status == 2
    assert message in done.err
    assert "Traceback" not in done.err


@pytest.mark.parametrize(
    ("file", "code"),
    [
        ("../cord_bar.py", "leaves-workspace"),
        ("/etc/passwd.py", "leaves-workspace"),
        ("cord_bar.txt", "leaves-workspace"),
        ("gone.py", "missing-file"),
    ],
)
def test_only_files_of_the_builds_own_folder_are_run(
    file: str, code: str, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / "profiles" / "cord" / "build.toml").write_text(BUILD.replace("cord_bar.py", file))
    done = ran(capsys, "--workspace", workspace, "check", "cord", "--trust")
    assert done.status == 2
    assert f"[{code}] extend.sections[0]" in done.err


def test_a_link_out_of_the_folder_isnt_followed(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = workspace / "profiles" / "cord" / "cord_bar.py"
    file.rename(workspace / "elsewhere.py")
    file.symlink_to(workspace / "elsewhere.py")
    done = ran(capsys, "--workspace", workspace, "check", "cord", "--trust")
    assert "a link leads out of the build's folder" in done.err
