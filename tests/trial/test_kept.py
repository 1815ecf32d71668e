"""Fonts and meshes of old revisions: kept once, given back as they were, and told of where they aren't kept."""

from __future__ import annotations

import hashlib
import importlib.util
from pathlib import Path

import pytest

from chassis_gen.output.stl import stl_bytes
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build, plan_of, solids_of
from chassis_gen.problems import InputError
from chassis_gen.trial import kept
from chassis_gen.trial.history import compare, history, loaded_of, revision_of
from chassis_gen.trial.noting import note
from chassis_gen.trial.prints import Printed, log_print
from chassis_gen.trial.revisions import restore
from chassis_gen.trial.seen import Seen
from tests.cli.support import ran
from tests.shapes.model_files import BOARD, CUBE, joined, stl
from tests.trial.support import DAY

BUILD = """
[build]
title = "own font, own mesh"
[tube]
chassis_offset = 4
[[tube.segment]]
length = 200
bores = [{ from_mouth = 0, diameter = 46 }]
[[section]]
kind = "end_plate"
name = "near"
thickness = 24
bearing = true
[[section]]
kind = "custom"
name = "own"
part = "thing"
[[section]]
kind = "end_plate"
name = "far"
[[lettering]]
text = "RS"
section = "near"
font = "own.ttf"
size = 9
"""


def font(name: str) -> bytes:
    """Return a font that ships with matplotlib."""
    found = importlib.util.find_spec("matplotlib")
    assert found is not None and found.origin is not None
    return (Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / name).read_bytes()


@pytest.fixture
def at(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Workspace:
    root = tmp_path / "w"
    (root / "profiles" / "b").mkdir(parents=True)
    (root / "profiles" / "b" / "build.toml").write_text(BUILD)
    (root / "profiles" / "b" / "own.ttf").write_bytes(font("DejaVuSans-Bold.ttf"))
    model = tmp_path / "thing.stl"
    model.write_bytes(stl(*joined(*BOARD)))
    assert ran(capsys, "--workspace", root, "parts", "from", "thing", model, "--units", "mm").status == 0
    return Workspace(root)


def made(at: Workspace) -> dict[str, bytes]:
    """Return the STL files of a workspace's build."""
    solids = solids_of(plan_of(load_build(at, "b")))
    return {name: stl_bytes(body, name) for name, body in solids.pieces.items()}


def test_an_old_revision_is_made_again_with_its_own_font_and_mesh(
    at: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = made(at)
    log_print(at, "b", Printed(), DAY)
    own = at.root / "profiles/b/own.ttf"
    own.write_bytes(font("DejaVuSerif-Bold.ttf"))
    assert [s.files for s in history(at, "b").steps] == [(), ("profiles/b/own.ttf",)]
    log_print(at, "b", Printed(), DAY)
    model = tmp_path / "other.stl"
    model.write_bytes(stl(*CUBE))
    for old in (at.root / "profiles/parts").iterdir():
        old.unlink()
    again = ("parts", "from", "thing", model, "--units", "mm")
    assert ran(capsys, "--workspace", at.root, *again).status == 0
    log_print(at, "b", Printed(), DAY)
    note(at, "b", "own.seat_width", Seen("good", None, "fits"), DAY)
    assert [s.revision for s in history(at, "b").steps] == [1, 2, 3]
    assert history(at, "b").findings == ()
    # two fonts and two meshes for three revisions, each under its own hash
    store = at.root / "profiles/b/revisions/files"
    names = sorted(p.name for p in store.iterdir())
    assert names == sorted(hashlib.sha256(p.read_bytes()).hexdigest() for p in store.iterdir())
    assert len(names) == 4

    own.unlink()
    for number, same in (("1", True), ("2", False), ("3", False)):
        folder = tmp_path / number
        assert "profiles/b/own.ttf" in restore(revision_of(at, "b", number), folder)
        assert (made(Workspace(folder)) == first) == same
    assert plan_of(loaded_of(at, "b", "1")).pieces != plan_of(loaded_of(at, "b", "2")).pieces
    assert not compare(at, "b", "2", "3", lambda _: None).nothing
    shown = ran(capsys, "--workspace", at.root, "--json", "trial", "history", "b", "--at", "1").document
    assert {n: b["kept"] for n, b in shown["binaries"].items()} == {
        "profiles/b/own.ttf": True,
        "profiles/parts/thing.mesh.npz": True,
    }


def test_what_is_not_kept_is_told_with_its_hash_and_put_back_serves(
    at: Workspace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    data = (at.root / "profiles/b/own.ttf").read_bytes()
    monkeypatch.setattr(kept, "MOST_KEPT_BYTES", 100_000)
    done = note(at, "b", "own.seat_width", Seen("good", None, "fits"), DAY)
    (remark,) = (r for r in done.remarks if "own.ttf" in r)
    digest = hashlib.sha256(data).hexdigest()
    assert digest in remark
    assert f"{len(data) / 2**20:.2f} MiB" in remark
    assert [f.code for f in history(at, "b").findings] == ["trial-revision"]
    with pytest.raises(InputError, match=r"\[missing-file\].*own\.ttf") as told:
        loaded_of(at, "b", "1")
    assert digest in told.value.problems[0].message
    status = ran(
        capsys, "--workspace", at.root, "trial", "history", "b", "--at", "1", "--to", tmp_path / "old"
    )
    assert status.status == 2
    assert not (tmp_path / "old" / "profiles").exists()
    store = at.root / "profiles/b/revisions/files"
    # the mesh, which had room, is there
    assert len(list(store.iterdir())) == 1
    (store / digest).write_bytes(b"0" * len(data))
    with pytest.raises(InputError, match="isn't kept as it was"):
        loaded_of(at, "b", "1")
    (store / digest).write_bytes(data)
    assert history(at, "b").findings == ()
    assert loaded_of(at, "b", "1").binaries["profiles/b/own.ttf"] == data


def test_contents_that_no_revision_names_make_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "MOST_KEPT_BYTES", 100)
    old, used, new = (letter * 40 for letter in (b"a", b"b", b"c"))
    kept.keep([old, used], tmp_path, set())
    name = kept.kept_as(used, tmp_path).sha256
    # it isn't known what the damaged revisions use: nothing goes
    kept.keep([new], tmp_path, None)
    assert not kept.kept_as(new, tmp_path).there
    kept.keep([new], tmp_path, {name})
    assert [kept.kept_as(d, tmp_path).there for d in (old, used, new)] == [False, True, True]
