"""What a build needs beside its own file when another one starts from it: shared files, fonts, drawings, code."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

from msgspec import Struct

from chassis_gen.params.reading import Source, read_bytes
from chassis_gen.params.workspace import Workspace, name_rejection
from chassis_gen.params.writing import write_bytes_atomically

MOST_BYTES = 64 * 2**20
"""Largest file that is brought along."""
_ENDINGS = (".ttf", ".otf", ".svg", ".py")


class Brought(Struct, frozen=True):
    """What became of the files that a build needs beside its own, by their names as shown.

    Args:
        written: brought along.
        kept: there already with another content, and left as they are.
        missing: named by the build and found nowhere.
    """

    written: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def bring_along(source: Source, origin: Path, workspace: Workspace, folder: Path) -> Brought:
    """Copy what a build needs from where it came from; nothing that is there is written over.

    Args:
        source: the build that is taken over.
        origin: its file.
        workspace: where the new build lies.
        folder: the new build's, which exists.

    Raises:
        InputError: a file can't be read or written.
    """
    home = origin.resolve().parent.parent
    shared = home if home.name == "profiles" else None
    wanted: list[tuple[Path | None, Path]] = [
        (origin.parent / name, folder / name) for name in _beside(source, origin.parent)
    ]
    for kind, name, must in _shared(source, shared):
        there = shared / kind / f"{name}.toml" if shared else None
        target = workspace.root / "profiles" / kind / f"{name}.toml"
        if must or (there is not None and there.is_file()):
            wanted.append((there, target))
            mesh = _mesh_of(there) if kind == "parts" and there else None
            if mesh is not None:
                wanted.append((mesh, target.with_name(mesh.name)))
    return _copied(wanted, workspace)


def _copied(wanted: list[tuple[Path | None, Path]], workspace: Workspace) -> Brought:
    written, kept, missing = [], [], []
    for there, target in wanted:
        shown = target.relative_to(workspace.root).as_posix()
        if there is None or not there.is_file():
            if not target.is_file():
                missing.append(shown)
            continue
        data = read_bytes(there, workspace.root, MOST_BYTES)
        if target.exists() or target.is_symlink():
            if not target.is_file() or read_bytes(target, workspace.root, MOST_BYTES) != data:
                kept.append(shown)
            continue
        target.parent.mkdir(parents=True, exist_ok=True)
        write_bytes_atomically(target, data)
        written.append(shown)
    return Brought(tuple(written), tuple(kept), tuple(missing))


def _texts(value: object) -> Iterator[str]:
    """Return every text in a file's data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for v in value.values():
            yield from _texts(v)
    elif isinstance(value, list):
        for v in value:
            yield from _texts(v)


def _beside(source: Source, folder: Path) -> list[str]:
    """Return the names of files in the build's own folder that it names."""
    names = dict.fromkeys(t for t in _texts(source.data) if t.lower().endswith(_ENDINGS))
    return [n for n in names if not name_rejection(n) and _own_file(folder, n)]


def _own_file(folder: Path, name: str) -> bool:
    file = folder / name
    try:
        return file.is_file() and file.resolve().parent == folder.resolve()
    except (OSError, RuntimeError, ValueError):
        return False


def _shared(source: Source, home: Path | None) -> list[tuple[str, str, bool]]:
    """Return kind and name of the shared files that a build may mean, and whether it is lost without them."""
    build, tube = source.data.get("build"), source.data.get("tube")
    printer = build.get("printer") if isinstance(build, dict) else None
    like = tube.get("like") if isinstance(tube, dict) else None
    found = [(k, n, True) for k, n in (("printers", printer), ("tubes", like)) if isinstance(n, str)]
    if home is not None:
        # a part is named by its text alone, and so is a generic one: only those with a file of their own
        texts = dict.fromkeys((*_texts(source.data), *(source.data.get("part") or {})))
        found += [("parts", t, False) for t in texts]
    return [(k, n, must) for k, n, must in found if not name_rejection(n)]


def _mesh_of(part: Path) -> Path | None:
    """Return the mesh file beside a part file, or None."""
    try:
        mesh = tomllib.loads(part.read_text("utf-8")).get("mesh")
    except (OSError, ValueError):
        return None
    name = mesh.get("file") if isinstance(mesh, dict) else None
    return part.with_name(name) if isinstance(name, str) and _own_file(part.parent, name) else None
