"""Batches of tiny builds: what changed is made, what didn't stays, and nothing is left half done."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import trimesh

from chassis_gen.batch import work
from chassis_gen.cache.store import Store
from chassis_gen.params.workspace import Workspace
from tests.batch.support import CHORD, batch, files, text, times, workspace

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """A workspace with a built cell build and a plain one; tests leave it as they found it."""
    root = tmp_path_factory.mktemp("made")
    where = workspace(root, {"cell": text("cell", 40.0, "cell 18650"), "plain": text("plain", 38.0)})
    done = batch(where)
    assert [(o.verdict, o.before, [p.how for p in o.pieces]) for o in done.values()] == [
        ("pass", None, ["new"]),
        ("pass", None, ["new"]),
    ]
    return where


def edit(where: Workspace, build: str, old: str, new: str) -> None:
    path = where.root / "profiles" / build / "build.toml"
    before = path.read_text("utf-8")
    assert old in before
    path.write_text(before.replace(old, new), "utf-8")


def innermost(solid: trimesh.Trimesh) -> float:
    """Return the least distance of a bay's rails from the axis, mm: cut across between the plate and the cell."""
    lines = trimesh.intersections.mesh_plane(solid, (0.0, 0.0, 1.0), (0.0, 0.0, solid.bounds[0][2] + 8.0))
    return float(np.hypot(lines[..., 0], lines[..., 1]).min())


def test_a_second_run_does_nothing_and_loads_no_kernel(made: Workspace) -> None:
    before = times(made)
    code = (
        "import sys; from chassis_gen.cli.main import run; status = run(sys.argv[1:]); "
        "print(sorted({'cadquery', 'manifold3d', 'numpy', 'joblib', 'rich'} & set(sys.modules)), "
        "'chassis_gen.plan.planner' in sys.modules, file=sys.stderr); sys.exit(status)"
    )
    asked = ["--workspace", str(made.root), "batch", "--chord", str(CHORD)]
    done = subprocess.run(
        [sys.executable, "-c", code, *asked], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr.strip()) == (0, "[] False")
    assert done.stdout.count("unchanged") == 2
    assert times(made) == before


def test_one_change_touches_its_piece_alone_and_says_which_term(made: Workspace) -> None:
    before, stamps = files(made), times(made)
    solid = trimesh.load_mesh(made.out_dir("cell") / "pieces" / "chassis.stl")
    edit(made, "cell", "add = 0.1", "add = 0.3")
    try:
        dry = batch(made, dry=True)
        assert (files(made), times(made)) == (before, stamps)
        done = batch(made)
        for outcomes in (dry, done):
            assert outcomes["plain"].unchanged
            (piece,) = outcomes["cell"].pieces
            assert (piece.piece, piece.how) == ("chassis", "changed")
            thickness = next(d for d in piece.dimensions if d.name == "bay.rail_thickness")
            assert thickness.new == pytest.approx((thickness.old or 0.0) + 0.2)
            assert [(t.label, t.old, t.new) for t in thickness.terms] == [("test-fit adjustment", 0.1, 0.3)]
            assert (outcomes["cell"].before, outcomes["cell"].verdict) == ("pass", "pass")
        after, now = files(made), times(made)
        assert {n for n in before if not n.startswith("cell/")} <= {n for n in now if now[n] == stamps[n]}
        assert "cell/pieces/chassis.stl" in {n for n in before if before[n] != after[n]}
        thicker = trimesh.load_mesh(made.out_dir("cell") / "pieces" / "chassis.stl")
        # measured on the meshes: rails grow inward by what was noted, the outside stays
        assert np.allclose(thicker.bounds, solid.bounds, atol=1e-4)
        assert innermost(solid) - innermost(thicker) == pytest.approx(0.2, abs=CHORD / 2)
    finally:
        edit(made, "cell", "add = 0.3", "add = 0.1")
        batch(made)
    # back again by the cache, to the same bytes
    assert files(made) == before


def test_a_change_of_words_rewrites_no_piece(made: Workspace) -> None:
    stamps = times(made)
    edit(made, "plain", 'why = "thin"', 'why = "too thin"')
    try:
        done = batch(made)["plain"]
        assert (done.changed, done.pieces) == (("fit-report.json",), ())
        changed = {n for n, t in times(made).items() if t != stamps[n]}
        assert changed == {"plain/fit-report.json", "plain/manifest.json"}
    finally:
        edit(made, "plain", 'why = "too thin"', 'why = "thin"')
        batch(made)


def test_the_cache_changes_no_byte(made: Workspace, tmp_path: Path) -> None:
    anew = workspace(tmp_path, {"plain": text("plain", 38.0)})
    batch(anew, cached=False)
    assert not anew.cache_dir().exists()
    assert files(anew) == {n: d for n, d in files(made).items() if n.startswith("plain/")}


def test_damaged_cache_and_output_are_made_again_to_the_same_bytes(made: Workspace) -> None:
    before = files(made)
    store = Store(made.cache_dir())
    paths = sorted(p for p in store.folder.rglob("*") if p.is_file())
    assert len(paths) > 10
    for number, path in enumerate(paths):
        path.write_bytes(path.read_bytes()[:-2] if number % 2 else b"foreign")
    (made.out_dir("plain") / "pieces" / "chassis.stl").write_bytes(b"damaged")
    done = batch(made, "plain")["plain"]
    assert [p.how for p in done.pieces] == ["made again"]
    assert files(made) == before
    assert batch(made)["cell"].unchanged


def test_a_part_file_that_comes_counts_although_no_file_changed(made: Workspace) -> None:
    """A new file under profiles/parts/ is input of every build."""
    part = made.root / "profiles" / "part-sizes.toml"
    part.write_text("# sizes\n", "utf-8")
    try:
        assert not batch(made, "plain")["plain"].unchanged
    finally:
        part.unlink()
        batch(made, "plain")


def test_builds_that_fail_stop_no_other(made: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    bad = text("bad").replace("chassis_end = 60", "chassis_end = 95")
    where = workspace(made.root, {"bad": bad, "odd": text("odd", 37.0)})
    real = work._made

    def faulty(task: work.Task, loaded: object) -> work.Made:
        if task.target.name == "odd":
            raise ZeroDivisionError("a fault")
        return real(task, loaded)  # type: ignore[arg-type]

    monkeypatch.setattr(work, "_made", faulty)
    try:
        done = batch(where, "bad", "nowhere", "odd", "plain", "plain")
        assert len(done) == 4
        assert [p.code for o in done.values() for p in o.problems] == [
            "layout-long", "unknown-name", "program-fault", "duplicate-name",
        ]  # fmt: skip
        assert not where.out_dir("bad").exists()
        assert not where.out_dir("odd").exists()
    finally:
        for name in ("bad", "odd"):
            (where.root / "profiles" / name / "build.toml").unlink()


def started(root: Path, *more: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "chassis_gen", "--workspace", str(root), "batch", *more]
    return subprocess.Popen(
        [*command, "--chord", str(CHORD)],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )


def test_a_killed_run_leaves_no_half_folder_and_the_next_one_goes_on(tmp_path: Path) -> None:
    where = workspace(tmp_path, {f"b{i}": text(f"b{i}", 36.0 + i) for i in range(3)})
    # with its solids in the cache the run needs no exact kernel, so that it is killed while it writes
    batch(where)
    for build in where.builds():
        shutil.rmtree(where.out_dir(build))
    run = started(tmp_path, "--jobs", "1")
    deadline = time.monotonic() + 40
    while not where.out_dir("b0").exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    os.killpg(run.pid, signal.SIGKILL)
    run.communicate()
    done = batch(where, "b0", "b1")
    assert done["b0"].verdict == done["b1"].verdict == "pass"
    assert all(batch(where, "b0", "b1")[b].unchanged for b in ("b0", "b1"))
    left = {p.name for p in (where.root / "out").iterdir()} - {"b2"}
    assert left == {".cache", "b0", "b1"}


def test_two_batches_at_once_give_what_one_gives(tmp_path: Path) -> None:
    builds = {"b0": text("b0", 36.0)}
    once, twice = (workspace(tmp_path / name, builds) for name in ("once", "twice"))
    batch(once)
    runs = [started(twice.root, "--jobs", "1"), started(twice.root, "--jobs", "1")]
    errors = [run.communicate(timeout=100)[1] for run in runs]
    assert ([run.returncode for run in runs], errors) == ([0, 0], [b"", b""])
    assert files(twice) == files(once)
    assert {p.name for p in (twice.root / "out").iterdir()} == {".cache", "b0"}
