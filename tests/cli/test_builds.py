"""The commands that work on a build: new, check, build, batch and why."""

from __future__ import annotations

import json
import shlex
import sys
import tomllib
from pathlib import Path

import pytest

from chassis_gen.cli import outcome, session
from chassis_gen.cli.new import DROPPED
from chassis_gen.params.reading import read_source
from chassis_gen.params.taking_over import bring_along
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import DEFAULT_CHORD
from chassis_gen.problems import quoted
from tests.cli.support import REPOSITORY, process, ran

PLATES = """\
# Two plates and what holds them apart: the smallest chassis that is one body.
[build]
title = "two plates"
material = "PETG"

[tube]
chassis_end = 60   # from the mouth

[[tube.segment]]
length = 80
bores = [{ from_mouth = 0, diameter = 40.0 }]

[[section]]
kind = "end_plate"
name = "near plate"

[[section]]
kind = "lead_bay"
name = "bay"

[[section]]
kind = "end_plate"
name = "far plate"

# what the first print showed
[[adjustment]]
dimension = "bay.rail_thickness"
add = 0.1
why = "thin"

[bearing]
fit = "slide"
"""
# rails alone, without a plate, fall apart
RAILS = PLATES[: PLATES.index("[[section]]")] + '[[section]]\nkind = "lead_bay"\nname = "bay"\n'


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    """A workspace with a build that passes and one that fails."""
    for name, text in (("plates", PLATES), ("rails", RAILS)):
        folder = tmp_path / "profiles" / name
        folder.mkdir(parents=True)
        (folder / "build.toml").write_text(text)
    return tmp_path


def _files(root: Path) -> dict[str, bytes]:
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in root.rglob("*") if p.is_file()}


def test_the_usual_chord_is_the_pipelines() -> None:
    assert outcome.USUAL == DEFAULT_CHORD


def test_check_tells_pass_from_fail_and_writes_nothing(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = _files(workspace)
    good = ran(capsys, "--workspace", workspace, "check", "plates")
    assert good.status == 0
    assert "plates: PASS" in good.out
    assert good.err == ""
    bad = ran(capsys, "--workspace", workspace, "check", "rails", "--json")
    assert bad.status == 1
    assert bad.document["verdict"] == "fail"
    assert "piece-falls-apart" in [f["code"] for f in bad.document["findings"]]
    assert "rails: FAIL" in bad.err
    assert _files(workspace) == before


def test_the_chord_is_used(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    coarse = ran(capsys, "--workspace", workspace, "check", "plates", "--chord", "0.05", "--json")
    assert coarse.document["chord_mm"] == 0.05


def test_check_needs_no_exact_kernel(workspace: Path) -> None:
    code = (
        "import sys; from chassis_gen.cli.main import run; status = run(sys.argv[1:]); "
        "heavy = {'cadquery', 'OCP', 'trimesh', 'pint', 'scipy', 'vtk'} & set(sys.modules); "
        "print(sorted(heavy), file=sys.stderr)"
    )
    done = process("--workspace", workspace, "check", "plates", program=[sys.executable, "-c", code])
    assert done.err.strip() == "[]"


def test_build_writes_a_folder_and_says_so(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "--workspace", workspace, "build", "plates", "rails", "--no-step", "--json")
    assert done.status == 1
    assert done.document["status"] == "fail"
    assert [(b["build"], b["verdict"]) for b in done.document["builds"]] == [
        ("plates", "pass"),
        ("rails", "fail"),
    ]
    for build in done.document["builds"]:
        # a design that fails is written all the same
        assert sorted(_files(workspace / build["folder"])) == build["files"]
        assert json.loads((workspace / build["folder"] / "fit-report.json").read_text()) == build["report"]
    assert not any(name.endswith(".step") for name in done.document["builds"][0]["files"])
    assert "Written to out/plates/" in done.err


def test_one_bad_build_of_several_keeps_all_from_being_written(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = workspace / "profiles" / "rails" / "build.toml"
    # each file is sound in itself; that the chassis is too long shows in the plan only
    path.write_text(RAILS.replace("chassis_end = 60", "chassis_end = 90"))
    done = ran(capsys, "--workspace", workspace, "build", "plates", "rails", "nowhere", "--no-step")
    assert done.status == 2
    assert [line.split("[")[1].split("]")[0] for line in done.err.splitlines()] == [
        "layout-long",
        "unknown-name",
    ]
    assert not (workspace / "out").exists()


def test_the_same_build_twice_is_refused(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = workspace / "profiles" / "plates" / "build.toml"
    done = ran(capsys, "--workspace", workspace, "build", "plates", path, "--no-step")
    assert done.status == 2
    assert "[duplicate-name] two builds would be written to out/plates/" in done.err


def test_a_build_by_its_path(workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "elsewhere.toml"
    path.write_text(PLATES)
    done = ran(capsys, "--workspace", workspace, "check", path, "--json")
    assert (done.status, done.document["build"]) == (0, "elsewhere")


def test_batch_builds_what_changed_and_goes_on_after_a_failure(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One test, since each build with STEP takes seconds: new, unchanged, damaged, edited, broken."""

    def batch() -> tuple[int, dict[str, tuple[str, bool, list[str]]]]:
        done = ran(capsys, "--workspace", workspace, "batch", "--json", "--chord", "0.05", "--jobs", "1")
        rows = {b["build"]: (b["verdict"], b["unchanged"], b["changed"]) for b in done.document["builds"]}
        return done.status, rows

    plates = workspace / "profiles" / "plates" / "build.toml"
    status, rows = batch()
    assert status == 1
    assert {b: (v, same) for b, (v, same, _) in rows.items()} == {
        "plates": ("pass", False),
        "rails": ("fail", False),
    }
    assert "pieces/chassis.step" in rows["plates"][2]
    status, rows = batch()
    assert (status, rows) == (1, {"plates": ("pass", True, []), "rails": ("fail", True, [])})
    (workspace / "out" / "plates" / "pieces" / "chassis.stl").write_bytes(b"damaged")
    # the same input gives the same bytes, so nothing differs from what the manifest said
    assert batch()[1]["plates"] == ("pass", False, [])
    plates.write_text(PLATES.replace('why = "thin"', 'why = "still thin"'))
    assert batch()[1]["plates"][2] == ["fit-report.json"]
    plates.write_text(PLATES.replace("end_plate", "end_plait"))
    status, rows = batch()
    assert (status, rows["plates"], rows["rails"]) == (2, ("bad-input", False, []), ("fail", True, []))
    shown = ran(capsys, "--workspace", workspace, "batch", "--chord", "0.05")
    assert "nothing written" in shown.out
    assert "unchanged" in shown.out
    assert 'did you mean "end_plate"?' in shown.err


def test_batch_without_any_build(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "--workspace", tmp_path, "batch")
    assert (done.status, done.err) == (
        2,
        "[unknown-name] there is no build in profiles/; allowed: chassis-gen new NAME\n",
    )


def test_json_stays_alone_on_standard_output_when_step_is_written(workspace: Path) -> None:
    done = process("--workspace", workspace, "build", "plates", "--json", "--chord", "0.05")
    assert done.status == 0
    assert "assembly.step" in done.document["builds"][0]["files"]


def test_without_a_renderer_all_but_the_pictures_is_written_and_the_reason_given(
    workspace: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from chassis_gen.output import pictures

    def none(*_: object) -> None:
        raise pictures.OutputUnavailable("no renderer")

    monkeypatch.setattr(pictures, "assembly_pictures", none)
    done = ran(capsys, "--workspace", workspace, "build", "plates", "--no-step", "--png", "--json")
    assert done.status == 0
    assert "no renderer" in done.err.splitlines()
    built = done.document["builds"][0]
    assert built["no_pictures"] == "no renderer"
    assert "pieces/chassis.stl" in built["files"]


def test_why_lists_and_explains(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    listed = ran(capsys, "--workspace", workspace, "why", "plates", "--json")
    names = [d["name"] for d in listed.document["dimensions"]]
    assert "bay.rail_thickness" in names
    one = ran(capsys, "--workspace", workspace, "why", "plates", "bay.rail_thickness")
    assert one.status == 0
    assert "test-fit adjustment" in one.out
    assert "thin" in one.out
    data = ran(
        capsys, "--json", "--workspace", workspace, "why", "plates", "chassis.bearing_diameter"
    ).document
    assert data["total"] == pytest.approx(sum(t["value"] for t in data["terms"]), abs=2**-14)
    assert all(t["source"] for t in data["terms"])
    # bore 40, slide fit 0.15 a side, 0.10 allowance of an uncalibrated printer (tables/data/fits.csv)
    assert [t["value"] for t in data["terms"]] == pytest.approx([40.0, -0.3, -0.1])


def test_new_writes_a_file_that_plans_and_does_not_overwrite_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, "--workspace", tmp_path, "new", "first lamp", "--json")
    assert (done.status, done.document) == (
        0,
        {
            "status": "written",
            "build": "first lamp",
            "file": "profiles/first lamp/build.toml",
            "like": None,
            "brought": [],
            "kept": [],
            "missing": [],
        },
    )
    text = (tmp_path / "profiles" / "first lamp" / "build.toml").read_text()
    assert tomllib.loads(text)["build"]["title"] == "first lamp"
    assert text.count("#") > 20
    assert ran(capsys, "--workspace", tmp_path, "why", "first lamp").status == 0
    again = ran(capsys, "--workspace", tmp_path, "new", "first lamp")
    assert (again.status, again.err) == (
        2,
        "profiles/first lamp/build.toml: [already-there] the build is there already; it is left as it is\n",
    )
    assert (tmp_path / "profiles" / "first lamp" / "build.toml").read_text() == text


def test_the_template_builds_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran(capsys, "--workspace", tmp_path, "new", "lamp")
    done = ran(capsys, "--workspace", tmp_path, "check", "lamp", "--json")
    assert [f for f in done.document["findings"] if f["level"] == "error"] == []
    assert done.status == 0
    assert len(done.document["wires"]) == 8


@pytest.mark.parametrize("name", ["../x", "/x", "a/b", "parts", "con", "", ".", "-x"])
def test_new_refuses_names_that_no_folder_should_have(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    done = ran(capsys, "--workspace", tmp_path, "new", "--", name)
    assert done.status == 2
    assert done.err.startswith(("[bad-name]", "[leaves-workspace]"))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("by_path", [False, True])
def test_new_like_keeps_comments_and_layout_but_no_adjustments(
    by_path: bool, workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (workspace / "profiles" / "plates" / "trials.toml").write_text("")
    like = workspace / "profiles" / "plates" / "build.toml" if by_path else "plates"
    assert ran(capsys, "--workspace", workspace, "new", "second", "--like", like).status == 0
    text = (workspace / "profiles" / "second" / "build.toml").read_text()
    assert [p.name for p in (workspace / "profiles" / "second").iterdir()] == ["build.toml"]
    old, new = tomllib.loads(PLATES), tomllib.loads(text)
    assert old.pop(DROPPED)
    old["build"]["title"] = "second"
    assert new == old
    assert "chassis_end = 60   # from the mouth" in text
    assert text.startswith("# Two plates and what holds them apart")
    assert ran(capsys, "--workspace", workspace, "check", "second").status == 0


def test_new_like_a_build_with_adjustments_between_its_sections(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    row = '[[adjustment]]\ndimension = "bay.rail_width"\nadd = 0.1\nwhy = "short"\n\n'
    text = PLATES.replace('[[section]]\nkind = "lead_bay"', f'{row}[[section]]\nkind = "lead_bay"')
    (workspace / "profiles" / "plates" / "build.toml").write_text(text)
    assert ran(capsys, "--workspace", workspace, "new", "third", "--like", "plates").status == 0
    new = tomllib.loads((workspace / "profiles" / "third" / "build.toml").read_text())
    assert [s["name"] for s in new["section"]] == ["near plate", "bay", "far plate"]
    assert DROPPED not in new
    assert new["bearing"] == {"fit": "slide"}


def test_new_like_what_is_not_there_or_broken(workspace: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(capsys, "--workspace", workspace, "new", "x", "--like", "plate")
    assert (done.status, done.err) == (
        2,
        '[unknown-name] there is no such build; read "plate"; allowed: plates, rails; '
        'did you mean "plates"?\n',
    )
    (workspace / "profiles" / "plates" / "build.toml").write_text("[build]\n")
    assert ran(capsys, "--workspace", workspace, "new", "x", "--like", "plates").status == 2
    assert not (workspace / "profiles" / "x").exists()


def test_new_like_a_build_elsewhere_brings_what_it_names_and_writes_nothing_over(
    workspace: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = tmp_path / "other"
    files = {
        "printers/p.toml": "nozzle = 0.6\n",
        "parts/bell.toml": 'kind = "speaker"\n',
        "parts/unused.toml": 'kind = "speaker"\n',
        "lamp/mark.svg": "<svg/>",
        "lamp/build.toml": PLATES.replace("[build]", '[build]\nprinter = "p"\n', 1)
        + '\n[[lettering]]\non = "bay"\ntext = "bell"\nfont = "mark.svg"\n',
    }
    for name, text in files.items():
        (other / "profiles" / name).parent.mkdir(parents=True, exist_ok=True)
        (other / "profiles" / name).write_text(text)
    source = read_source(other / "profiles/lamp/build.toml", other)
    here = Workspace(workspace)
    (workspace / "profiles" / "new lamp").mkdir()
    folder = workspace / "profiles" / "new lamp"
    found = bring_along(source, other / "profiles/lamp/build.toml", here, folder)
    brought = ("profiles/new lamp/mark.svg", "profiles/printers/p.toml", "profiles/parts/bell.toml")
    assert (found.written, found.kept, found.missing) == (brought, (), ())
    assert (workspace / "profiles/printers/p.toml").read_text() == "nozzle = 0.6\n"
    (workspace / "profiles/printers/p.toml").write_text("nozzle = 0.4\n")
    again = bring_along(source, other / "profiles/lamp/build.toml", here, folder)
    assert (again.written, again.kept) == ((), ("profiles/printers/p.toml",))
    assert (workspace / "profiles/printers/p.toml").read_text() == "nozzle = 0.4\n"
    (workspace / "profiles/printers/p.toml").unlink()
    alone = tmp_path / "alone.toml"
    alone.write_text(PLATES.replace("[build]", '[build]\nprinter = "p"\n', 1))
    done = ran(capsys, "--workspace", workspace, "new", "third lamp", "--like", alone)
    assert done.status == 0
    assert "The build names what isn't here: write profiles/printers/p.toml, or name another one." in done.out
    assert done.out.endswith('chassis-gen check "third lamp"\n')


def test_what_a_terminal_would_hide_or_turn_is_shown_as_escapes(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """U+202E turns the text after it (Unicode Standard Annex 9); U+009B begins a control sequence (ECMA-48)."""
    path = workspace / "profiles" / "plates" / "build.toml"
    path.write_text(path.read_text().replace('kind = "lead_bay"', 'kind = "lead\u202e\u009b2Jbay"', 1))
    done = ran(capsys, "--workspace", workspace, "check", "plates")
    assert done.status == 2
    assert "\\u202e\\x9b2Jbay" in done.err
    assert all(c.isprintable() or c == "\n" for c in done.err)


@pytest.mark.parametrize(
    ("name", "word"),
    [("lamp-1.x", "lamp-1.x"), ("a b", '"a b"'), ("/a b/c$d.toml", "'/a b/c$d.toml'")],
)
def test_names_in_commands_are_quoted_where_a_shell_would_part_them(name: str, word: str) -> None:
    assert quoted(name) == word
    assert shlex.split(word) == [name]


def test_the_demo_builds_are_listed_in_the_repository(capsys: pytest.CaptureFixture[str]) -> None:
    done = ran(
        capsys, "--workspace", REPOSITORY, "why", "quay-lantern", "speaker.rim_seat_diameter", "--json"
    )
    assert done.status == 0
    assert [t["term"] for t in done.document["terms"]][:3] == [
        "part size",
        "fit clearance",
        "printer compensation",
    ]


def test_the_progress_line_shows_late_and_on_terminals_only(monkeypatch: pytest.MonkeyPatch) -> None:
    import io

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    for quiet, wants_json, shown in ((0.0, False, True), (60.0, False, False), (0.0, True, False)):
        monkeypatch.setattr(session, "QUIET_TIME", quiet)
        terminal = Terminal()
        monkeypatch.setattr(sys, "stderr", terminal)
        with session.Session(wants_json).progress() as progress:
            progress("making the cup")
        assert ("making the cup ..." in terminal.getvalue()) is shown
        assert not shown or terminal.getvalue().endswith("\r\x1b[K")
    monkeypatch.setattr(sys, "stderr", io.StringIO())
    with session.Session(False).progress() as progress:
        progress("making the cup")
    assert sys.stderr.getvalue() == ""  # type: ignore[attr-defined]
