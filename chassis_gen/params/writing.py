"""Writing files so that a reader, or a killed run, never meets half a file."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path

from chassis_gen.problems import InputError, Problem


def write_text_atomically(path: Path, text: str) -> None:
    """Write a UTF-8 text file in one step: afterwards there is the old file or the new one, whole.

    Line ends are written as they are in the text, so that the same text gives the same bytes anywhere.

    Args:
        path: the file; its folder must exist. A link is replaced, not followed.
        text: the whole new content.

    Raises:
        InputError: with code ``cannot-write``, if the file cannot be written; the old one then still stands.
    """
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError:
        raise InputError(
            [_cannot_write(path, "the text holds a character that UTF-8 has no bytes for")]
        ) from None
    write_bytes_atomically(path, data)


def write_bytes_atomically(path: Path, data: bytes) -> None:
    """Write a binary file in one step: afterwards there is the old file or the new one, whole.

    Args:
        path: the file; its folder must exist. A link is replaced, not followed.
        data: the whole new content.

    Raises:
        InputError: with code ``cannot-write``, if the file cannot be written; the old one then still stands.
    """
    if not path.parent.is_dir():
        raise InputError([_cannot_write(path, "its folder does not exist")])
    # the leading dot keeps a left-over of a killed run out of every listing of names
    temporary = path.parent / f".{secrets.token_hex(8)}.tmp"
    try:
        _write_synced(temporary, data, _mode(path))
        os.replace(temporary, path)
        _sync_folder(path.parent)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError([_cannot_write(path, reason)]) from None
    finally:
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)


def _cannot_write(path: Path, reason: str) -> Problem:
    return Problem("cannot-write", f"the file cannot be written ({reason})", str(path))


def _mode(path: Path) -> int | None:
    """Return the access rights of an existing ordinary file, which the new one shall keep."""
    return path.stat().st_mode & 0o777 if path.is_file() and not path.is_symlink() else None


def _write_synced(path: Path, data: bytes, mode: int | None) -> None:
    with open(path, "xb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
    if mode is not None:
        path.chmod(mode)


def _sync_folder(folder: Path) -> None:
    """Ask the system to keep the renaming, too; some systems can't open folders, and none needs to."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
