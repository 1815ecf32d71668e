"""Entries on disk, each under the hash of what it was made of, and each with the hash of what it holds.

An entry that was cut short, damaged, or put under another's name is told by those two hashes; it is thrown
away and made again. Entries are written beside their place and moved there in one step, so that two runs at
once, or a killed one, can't spoil any. File times serve one purpose only: what was used longest ago goes
first when the bound is reached.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Protocol

from msgspec import Struct

BOUND_BYTES = 256 * 2**20
"""How large a workspace's cache may grow: some hundred builds' solids (chosen)."""

_MAGIC = b"chassis-gen cache 1"
_NAME = re.compile(r"[0-9a-f]{64}")
_LEFT_OVER = re.compile(r"\.[0-9a-f]{16}\.tmp")


class Keeper(Protocol):
    """Gives back what was made before of the same content, or makes it."""

    def kept(self, kind: str, content: object, make: Callable[[], bytes]) -> bytes:
        """Return what is made of some content.

        Args:
            kind: what is made, such as ``mesh``.
            content: all that decides it, as plain data; see `chassis_gen.cache.canonical.digest`.
            make: makes it.
        """


class Nothing:
    """A keeper that keeps nothing."""

    def kept(self, kind: str, content: object, make: Callable[[], bytes]) -> bytes:
        """Return what is made, made anew."""
        return make()


NOTHING = Nothing()


class Size(Struct, frozen=True):
    """How large a cache is.

    Args:
        entries: how many there are.
        bytes: all of them together.
    """

    entries: int
    bytes: int


class Store(Struct, frozen=True):
    """A folder of entries.

    Args:
        folder: where they lie; made when the first one is written.
        bound: largest size, bytes; see `trim`.
        read_only: True to look entries up and change nothing.
    """

    folder: Path
    bound: int = BOUND_BYTES
    read_only: bool = False

    def kept(self, kind: str, content: object, make: Callable[[], bytes]) -> bytes:
        """Return what was made before of the same content by the same code, or make and keep it.

        Args:
            kind: what is made, such as ``mesh``.
            content: all that decides it, as plain data.
            make: makes it; what it raises is raised, and nothing is kept.
        """
        from chassis_gen.cache.canonical import digest
        from chassis_gen.cache.code import solids_code

        key = digest((kind, solids_code(), content))
        data = self.read(key)
        if data is None:
            data = make()
            self.write(key, data)
        return data

    def read(self, key: str) -> bytes | None:
        """Return what an entry holds, or None where there is none; one that isn't whole is thrown away.

        Args:
            key: 64 hexadecimal digits.
        """
        path = self._path(key)
        try:
            head, _, data = path.read_bytes().partition(b"\n")
        except OSError:
            return None
        if head != _head(key, data):
            self._remove(path)
            return None
        if not self.read_only:
            with contextlib.suppress(OSError):
                os.utime(path)
        return data

    def write(self, key: str, data: bytes) -> None:
        """Keep an entry; a disk that is full or locked is no error, since all can be made again.

        Args:
            key: 64 hexadecimal digits.
            data: what it holds.
        """
        if self.read_only:
            return
        path = self._path(key)
        temporary = path.parent / f".{secrets.token_hex(8)}.tmp"
        with contextlib.suppress(OSError):
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
                temporary.write_bytes(_head(key, data) + b"\n" + data)
                os.replace(temporary, path)
            finally:
                temporary.unlink(missing_ok=True)

    def trim(self) -> None:
        """Throw away what was used longest ago until the rest is within the bound."""
        if self.read_only:
            return
        entries = sorted(self._entries(), key=lambda e: (e[1].st_mtime_ns, e[0].name))
        total = sum(stat.st_size for _, stat in entries)
        for path, stat in entries:
            if total <= self.bound:
                return
            self._remove(path)
            total -= stat.st_size

    def size(self) -> Size:
        """Return how many entries there are and how large they are together."""
        sizes = [stat.st_size for _, stat in self._entries()]
        return Size(len(sizes), sum(sizes))

    def clear(self) -> Size:
        """Throw all entries away and return what they were; files that are no entries stay."""
        before = self.size()
        for path, _ in list(self._entries()):
            self._remove(path)
        for folder in (*self.folder.glob("[0-9a-f][0-9a-f]"), self.folder):
            for path in folder.glob(".*.tmp"):
                if _LEFT_OVER.fullmatch(path.name):
                    self._remove(path)
            with contextlib.suppress(OSError):
                folder.rmdir()
        return before

    def _path(self, key: str) -> Path:
        if not _NAME.fullmatch(key):
            raise ValueError("a key has 64 hexadecimal digits")
        return self.folder / key[:2] / key

    def _entries(self) -> Iterator[tuple[Path, os.stat_result]]:
        for path in self.folder.glob("[0-9a-f][0-9a-f]/*"):
            if _NAME.fullmatch(path.name):
                with contextlib.suppress(OSError):
                    yield path, path.lstat()

    def _remove(self, path: Path) -> None:
        if not self.read_only:
            with contextlib.suppress(OSError):
                path.unlink()


def _head(key: str, data: bytes) -> bytes:
    """Return the first line of an entry: its own key, and the hash of what follows."""
    return b" ".join((_MAGIC, key.encode(), hashlib.sha256(data).hexdigest().encode()))
