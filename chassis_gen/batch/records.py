"""Whole builds in the cache: which files a folder was made of, so that one that is up to date is known at once.

A record holds the hash of every file that was read, which files were looked for and not there, and the hash
of the manifest that was written. Where all of that is as it was, nothing needs to be planned, and no kernel
and no parameter model is imported. A record that misses costs a plan, never a wrong answer.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from chassis_gen.batch.task import Target
from chassis_gen.cache.canonical import digest
from chassis_gen.cache.code import package_code
from chassis_gen.cache.store import Store
from chassis_gen.output.manifest import sha256
from chassis_gen.records import as_data

if TYPE_CHECKING:
    from chassis_gen.params.workspace import Workspace


class Record(Struct, frozen=True):
    """A build as it was made last.

    Args:
        inputs: hash of each file that was read, by its shown name.
        absent: files that were looked for and not there.
        parts: names of the workspace's own parts.
        manifest: hash of the manifest that was written.
        verdict: of its report.
        counts: findings by level.
    """

    inputs: Mapping[str, str]
    absent: tuple[str, ...]
    parts: tuple[str, ...]
    manifest: str
    verdict: str
    counts: Mapping[str, int]


def read_record(store: Store, workspace: Workspace, target: Target, chord: float) -> Record | None:
    """Return the record of a build if its files are still those of the record, else None.

    Args:
        store: the cache.
        workspace: where the build lies.
        target: the build.
        chord: chord tolerance of meshes, mm.
    """
    data = store.read(_key(workspace, target, chord))
    if data is None:
        return None
    try:
        found = json.loads(data)
        record = Record(**{**found, "absent": tuple(found["absent"]), "parts": tuple(found["parts"])})
    except (ValueError, TypeError, KeyError):
        return None
    same = (
        workspace.names("parts") == record.parts
        and not any((workspace.root / name).exists() for name in record.absent)
        and all(_hash(workspace.root / name) == digest for name, digest in record.inputs.items())
    )
    return record if same else None


def write_record(store: Store, workspace: Workspace, target: Target, chord: float, record: Record) -> None:
    """Keep what a build was made of.

    Args:
        store: the cache.
        workspace: where the build lies.
        target: the build.
        chord: chord tolerance of meshes, mm.
        record: see `Record`.
    """
    store.write(_key(workspace, target, chord), json.dumps(as_data(record), sort_keys=True).encode())


def _key(workspace: Workspace, target: Target, chord: float) -> str:
    path = str(workspace.build_file(target.build).absolute())
    return digest(("build", package_code(), path, target.name, target.overrides, chord))


def _hash(path: Path) -> str | None:
    try:
        return sha256(path.read_bytes())
    except OSError:
        return None
