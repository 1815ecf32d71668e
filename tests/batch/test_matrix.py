"""A table of overrides makes a folder per row; every mistake in it has its place."""

from __future__ import annotations

from pathlib import Path

import pytest
import trimesh

from chassis_gen.batch.matrix import read_matrix
from chassis_gen.problems import InputError
from tests.batch.support import CHORD, text, workspace
from tests.cli.support import ran

KEY = "tube.segment[0].bores[0].diameter"
# 0.15 mm a side of a slide fit and 0.10 mm of an uncalibrated printer (tables/data/fits.csv)
SLIDE_AND_ALLOWANCE = 2 * 0.15 + 0.10


def asked(capsys: pytest.CaptureFixture[str], root: Path, table: Path, *more: str) -> object:
    return ran(
        capsys,
        "--workspace",
        root,
        "batch",
        "lamp",
        "--matrix",
        table,
        "--json",
        "--jobs",
        "1",
        "--chord",
        str(CHORD),
        *more,
    )


def test_rows_become_folders_and_a_bad_row_stops_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workspace(tmp_path, {"lamp": text("lamp", 40.0)})
    table = tmp_path / "family.csv"
    table.write_text(f"name,{KEY},build.material\nwide,42.0,\nodd,-3,PETG\nslim,37.5,PLA\n", "utf-8")
    done = asked(capsys, tmp_path, table)
    assert done.status == 2  # type: ignore[attr-defined]
    rows = {b["build"]: b for b in done.document["builds"]}  # type: ignore[attr-defined]
    assert {n: b["verdict"] for n, b in rows.items()} == {
        "lamp-wide": "pass", "lamp-odd": "bad-input", "lamp-slim": "pass",
    }  # fmt: skip
    (problem,) = rows["lamp-odd"]["problems"]
    assert (problem["file"], problem["line"], problem["code"]) == ("family.csv", 3, "out-of-range")
    assert problem["message"].startswith('row "odd": ')
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [".cache", "lamp-slim", "lamp-wide"]
    for name, bore in (("wide", 42.0), ("slim", 37.5)):
        solid = trimesh.load_mesh(tmp_path / "out" / f"lamp-{name}" / "pieces" / "chassis.stl")
        assert solid.is_watertight
        widest = (solid.vertices[:, :2] ** 2).sum(axis=1).max() ** 0.5 * 2
        assert widest == pytest.approx(bore - SLIDE_AND_ALLOWANCE, abs=2 * CHORD)
    table.write_text(f"name,{KEY},build.material\nwide,42.0,\nslim,37.6,PLA\n", "utf-8")
    done = asked(capsys, tmp_path, table)
    shown = {b["build"]: b["unchanged"] for b in done.document["builds"]}  # type: ignore[attr-defined]
    assert shown == {"lamp-wide": True, "lamp-slim": False}


def test_toml_rows(tmp_path: Path) -> None:
    table = tmp_path / "family.toml"
    table.write_text(
        '[[row]]\nname = "a"\n"section[3].part" = "cell 18650"\ntube.like = "x"\n'
        '[[row]]\nname = "b"\nbuild.title = "t"\n',
        "utf-8",
    )
    found = read_matrix(table, tmp_path)
    assert [(r.name, dict(r.values)) for r in found.rows] == [
        ("a", {"section[3].part": "cell 18650", "tube.like": "x"}),
        ("b", {"build.title": "t"}),
    ]
    assert found.rows[0].places["section[3].part"] == (3, 1)


@pytest.mark.parametrize(
    ("name", "content", "code", "line"),
    [
        ("t.csv", "", "missing-key", None),
        ("t.csv", "a,b\nx,1\n", "missing-key", 1),
        ("t.csv", "name,a..b\nx,1\n", "unknown-key", 1),
        ("t.csv", "name,a,a\nx,1,1\n", "duplicate-key", 1),
        ("t.csv", "name,a\nx\n", "wrong-count", 2),
        ("t.csv", "name,a\nx,1\n../y,1\n", "leaves-workspace", 3),
        ("t.csv", "name,a\nx,1\nX,1\n", "duplicate-name", 3),
        ("t.csv", 'name,a\n"x,1\n', "syntax", 2),
        ("t.toml", "rows = 1\n", "unknown-key", 1),
        ("t.toml", "[[row]]\na = 1\n", "missing-key", 1),
        ("t.toml", '[[row]]\nname = "x"\na = [1]\n', "wrong-type", 3),
        ("t.toml", "[[row\n", "syntax", 1),
        ("t.txt", "name\n", "bad-name", None),
    ],
)
def test_mistakes_have_their_place(
    tmp_path: Path, name: str, content: str, code: str, line: int | None
) -> None:
    (tmp_path / name).write_text(content, "utf-8")
    with pytest.raises(InputError) as caught:
        read_matrix(tmp_path / name, tmp_path)
    assert [(p.code, p.line) for p in caught.value.problems] == [(code, line)]


@pytest.mark.parametrize(
    "key", ["section[9].part", "section.part", "build[0].x", "tube.segment[0].bores.x.y"]
)
def test_a_key_that_leads_nowhere(key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    workspace(tmp_path, {"lamp": text("lamp")})
    (tmp_path / "t.csv").write_text(f"name,{key}\nx,1\n", "utf-8")
    done = asked(capsys, tmp_path, tmp_path / "t.csv")
    (problem,) = done.document["builds"][0]["problems"]  # type: ignore[attr-defined]
    assert (done.status, problem["code"], problem["file"], problem["line"]) == (  # type: ignore[attr-defined]
        2, "unknown-key", "t.csv", 2,
    )  # fmt: skip


def test_a_row_must_not_take_another_build_s_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workspace(tmp_path, {"lamp": text("lamp"), "lamp-x": text("lamp x")})
    (tmp_path / "t.csv").write_text("name,build.title\nx,t\n", "utf-8")
    done = asked(capsys, tmp_path, tmp_path / "t.csv")
    assert done.status == 2  # type: ignore[attr-defined]
    assert [p["code"] for p in done.document["problems"]] == ["duplicate-name"]  # type: ignore[attr-defined]
    two = ran(capsys, "--workspace", tmp_path, "batch", "--matrix", tmp_path / "t.csv")
    assert (two.status, "goes with one build" in two.err) == (2, True)
