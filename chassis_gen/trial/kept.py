"""Files that are no text and that a build reads, kept beside its revisions: each content once, by its hash."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from pathlib import Path

from msgspec import Struct

from chassis_gen.params.writing import write_bytes_atomically
from chassis_gen.problems import InputError, Problem

FOLDER = "files"
"""Where the contents lie, in the folder of a build's revisions."""
MOST_KEPT_BYTES = 256 * 2**20
"""Of all kept contents of a build together (chosen): eight fonts of the largest size that is read."""
_MIB = 2.0**20


class Kept(Struct, frozen=True):
    """A content that belongs to a revision.

    Args:
        sha256: of the content.
        size: in bytes.
        path: where it lies if it is kept.
    """

    sha256: str
    size: int
    path: Path

    @property
    def there(self) -> bool:
        """Return whether a file of its size lies there; whether it is the right one is seen when it is read."""
        try:
            return self.path.is_file() and self.path.stat().st_size == self.size
        except OSError:
            return False


def kept_as(data: bytes, folder: Path) -> Kept:
    """Return how a content is kept, not written.

    Args:
        data: the content.
        folder: of the build's revisions.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    return Kept(sha256, len(data), folder / FOLDER / sha256)


def keep(contents: Collection[bytes], folder: Path, used: Collection[str] | None) -> None:
    """Write contents that aren't kept yet, as far as there is room for them.

    Args:
        contents: of the files of a new revision.
        folder: of the build's revisions.
        used: hashes that older revisions name, so that others may go where room lacks; None where that isn't known.

    Raises:
        InputError: when a content can't be written.
    """
    wanted = {k.sha256: (k, data) for data in contents for k in (kept_as(data, folder),)}
    new = {h: pair for h, pair in wanted.items() if not pair[0].there}
    if not new:
        return
    store = folder / FOLDER
    store.mkdir(parents=True, exist_ok=True)
    there = {p.name: p.stat().st_size for p in store.iterdir() if p.is_file()}
    room = MOST_KEPT_BYTES - sum(there.values())
    if used is not None and room < sum(k.size for k, _ in new.values()):
        for name in sorted(there.keys() - set(used) - wanted.keys()):
            (store / name).unlink(missing_ok=True)
            room += there[name]
    for one, data in sorted(new.values(), key=lambda pair: (pair[0].size, pair[0].sha256)):
        if one.size <= room:
            write_bytes_atomically(one.path, data)
            room -= one.size


def content(name: str, one: Kept) -> bytes:
    """Return a kept content.

    Args:
        name: the file's name in the revision.
        one: how it is kept.

    Raises:
        InputError: when it isn't kept, or isn't what was kept.
    """
    try:
        data = one.path.read_bytes() if one.there else b""
    except OSError:
        data = b""
    if len(data) == one.size and hashlib.sha256(data).hexdigest() == one.sha256:
        return data
    raise InputError([Problem("missing-file", not_kept(name, one), file=str(one.path))])


def not_kept(name: str, one: Kept) -> str:
    """Return what to say of a content that isn't kept.

    Args:
        name: the file's name in the revision.
        one: how it would be kept.
    """
    return (
        f"{name} of {one.size / _MIB:.2f} MiB isn't kept as it was then: the files of a build's revisions may have "
        f"{MOST_KEPT_BYTES / _MIB:g} MiB in all; a file with SHA-256 {one.sha256} put into {FOLDER}/ beside the "
        f"revisions under that name serves"
    )


def missing(kept: Mapping[str, Kept]) -> tuple[str, ...]:
    """Return what to say of each content that isn't kept.

    Args:
        kept: by the files' names.
    """
    return tuple(not_kept(name, one) for name, one in kept.items() if not one.there)
