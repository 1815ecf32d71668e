"""The cache's entries: found by content, told by hash when they are not whole, bounded in size."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from msgspec.structs import replace

from chassis_gen.cache.canonical import digest
from chassis_gen.cache.solids import body_bytes, body_of, mesh_of
from chassis_gen.cache.store import NOTHING, Store
from chassis_gen.output.stl import stl_bytes
from chassis_gen.shapes import mesh
from chassis_gen.shapes.frame import clocked
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Recipe, add, cut

ROOT = Path(__file__).resolve().parents[2]
PLATE = Recipe(
    "plate",
    (*add("plate", Cylinder(19.0, 0.0, 4.0)), *cut("way", Box((-3.0, -3.0, -1.0), (3.0, 3.0, 5.0)))),
)
NEXT = Recipe("next", (*add("bar", Cylinder(19.0, 3.5, 9.0)), *cut("bore", Cylinder(6.0, 3.0, 10.0))))


def entries(store: Store) -> list[Path]:
    return sorted(p for p in store.folder.rglob("*") if p.is_file())


def keeps(store: Store, content: object, data: bytes = b"data") -> list[bool]:
    """Ask for some content and return [True] if it had to be made."""
    made: list[bool] = []
    assert store.kept("thing", content, lambda: made.append(True) or data) == data  # type: ignore[func-returns-value]
    return made


def test_what_was_made_once_is_not_made_again(tmp_path: Path) -> None:
    store = Store(tmp_path / "c")
    assert keeps(store, PLATE.steps) == [True]
    assert keeps(Store(tmp_path / "c"), PLATE.steps) == []


@pytest.mark.parametrize(
    "other",
    [
        replace(PLATE.steps[0], solid=Cylinder(19.0 + 2.0**-40, 0.0, 4.0)),
        replace(PLATE.steps[0], solid=Cylinder(19.0, 0.0, 4.0, clocked(1.0))),
        replace(PLATE.steps[0], operation="cut"),
        replace(PLATE.steps[0], label="plates"),
    ],
)
def test_every_bit_of_the_content_counts(other: object) -> None:
    assert digest(other) != digest(PLATE.steps[0])


def test_values_that_read_alike_differ() -> None:
    values = [1, 1.0, True, "1", b"1", ("1",), [["1"]], {"1": None}, None, ("1", ""), ("", "1"), -0.0, 0.0]
    assert len({digest(v) for v in values}) == len(values)
    with pytest.raises(TypeError, match="object"):
        digest(object())


def test_another_process_finds_the_same_key() -> None:
    """A salted hash would differ from process to process."""
    code = (
        "from tests.batch.test_store import PLATE, digest; print(digest((PLATE.steps, {'b': 1, 'a': 2.5})))"
    )
    run = [sys.executable, "-c", code]
    done = subprocess.run(
        run, cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": "1"}, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == digest((PLATE.steps, {"a": 2.5, "b": 1}))


@pytest.mark.parametrize(
    "damage",
    [
        lambda d: d[:-1],
        lambda d: d[: len(d) // 3],
        lambda d: d[:-1] + bytes([d[-1] ^ 1]),
        lambda d: b"",
        lambda d: b"another program's file\n" + d,
    ],
    ids=["one byte short", "cut off", "one bit", "empty", "foreign"],
)
def test_an_entry_that_is_not_whole_is_thrown_away_and_made_again(tmp_path: Path, damage: object) -> None:
    store = Store(tmp_path / "c")
    keeps(store, "a")
    (path,) = entries(store)
    whole = path.read_bytes()
    path.write_bytes(damage(whole))  # type: ignore[operator]
    assert keeps(store, "a") == [True]
    assert path.read_bytes() == whole
    assert keeps(store, "a") == []


def test_an_entry_under_another_s_name_is_thrown_away(tmp_path: Path) -> None:
    store = Store(tmp_path / "c")
    keeps(store, "a", b"of a")
    keeps(store, "b", b"of b")
    one, other = entries(store)
    one.write_bytes(other.read_bytes())
    assert sorted(keeps(store, "a", b"of a") + keeps(store, "b", b"of b")) == [True]


def test_file_times_do_not_count(tmp_path: Path) -> None:
    store = Store(tmp_path / "c")
    keeps(store, "a")
    os.utime(entries(store)[0], (0, 0))
    assert keeps(store, "a") == []


def test_what_was_used_longest_ago_goes_first(tmp_path: Path) -> None:
    store = Store(tmp_path / "c", bound=3 * 1200)
    for number, content in enumerate("abcd"):
        keeps(store, content, bytes(1000))
        path = max(entries(store), key=lambda p: p.stat().st_mtime_ns)
        os.utime(path, ns=(number, number))
    assert keeps(store, "a", bytes(1000)) == []
    store.trim()
    assert store.size().entries == 3
    assert store.size().bytes <= store.bound
    assert [content for content in "acd" if keeps(store, content, bytes(1000))] == []
    assert keeps(store, "b", bytes(1000)) == [True]


def test_a_dry_run_s_cache_changes_nothing(tmp_path: Path) -> None:
    keeps(Store(tmp_path / "c"), "a")
    (path,) = entries(Store(tmp_path / "c"))
    path.write_bytes(b"damaged")
    dry = Store(tmp_path / "c", bound=0, read_only=True)
    assert keeps(dry, "a") == [True]
    assert keeps(dry, "b") == [True]
    dry.trim()
    assert [p.read_bytes() for p in entries(dry)] == [b"damaged"]


def test_a_disk_that_takes_nothing_is_no_error(tmp_path: Path) -> None:
    (tmp_path / "c").write_text("a file stands there")
    assert keeps(Store(tmp_path / "c"), "a") == [True]


def test_clearing_leaves_files_that_are_no_entries(tmp_path: Path) -> None:
    store = Store(tmp_path / "c")
    keeps(store, "a")
    (store.folder / "note.txt").write_text("mine")
    (entries(store)[0].parent / f".{'0' * 16}.tmp").write_text("of a killed run")
    assert store.clear().entries == 1
    assert [p.name for p in entries(store)] == ["note.txt"]


def test_a_kept_solid_gives_the_bytes_of_one_made_anew(tmp_path: Path) -> None:
    store = Store(tmp_path / "c")

    def joined(keeper: object) -> bytes:
        bodies = [mesh_of(r, 0.01, keeper) for r in (PLATE, NEXT)]  # type: ignore[arg-type]
        return stl_bytes(bodies[0].union(bodies[1]), "joined")

    assert joined(NOTHING) == joined(store) == joined(store)
    assert store.size().entries == 2


def test_a_solid_keeps_its_every_figure_on_disk() -> None:
    body = mesh.make(PLATE, 0.01)
    back = body_of(body_bytes(body), 0.01, "plate")
    assert back.volume == pytest.approx(body.volume, rel=1e-12)
    assert back.bounds == body.bounds
    assert {tuple(v) for v in back.arrays()[0]} == {tuple(v) for v in body.arrays()[0]}
