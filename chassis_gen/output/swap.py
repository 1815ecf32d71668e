"""A folder of output that is replaced as a whole: a reader, or a killed run, never meets half of it.

The new folder is made beside the old one under a name of its own, then takes its place in one step
where the system can exchange two names, else in two; leftovers of killed runs are put right by the next.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import re
import shutil
from collections.abc import Callable, Collection, Iterator
from pathlib import Path

from chassis_gen.output.manifest import FILE_NAME
from chassis_gen.problems import InputError, Problem

# linux/fs.h and fcntl.h
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2

Generated = Callable[[Path], Collection[str] | None]


@contextlib.contextmanager
def replaced_folder(folder: Path, generated: Generated) -> Iterator[Path]:
    """Give an empty folder to fill; when that ends well it takes the place of the old one.

    Files in the old folder that weren't generated are the maker's own: they go along.

    Args:
        folder: the folder to replace; it need not exist.
        generated: returns the names, relative to a folder, of what an earlier run made there; None when that
            isn't known, and the old folder must then be empty.

    Raises:
        InputError: code ``not-our-folder`` or ``cannot-write``; the old folder then still stands.
    """
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        recover(folder)
        own = _own_files(folder, generated)
        part = _beside(folder, "part")
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir()
    except OSError as error:
        raise _cannot_write(folder, error) from None
    try:
        yield part
        _carry_over(folder, part, own)
        _take_place(folder, part)
    except OSError as error:
        raise _cannot_write(folder, error) from None
    finally:
        shutil.rmtree(part, ignore_errors=True)


def stays(old: Path, new: Path, data: bytes) -> bool:
    """Carry a file of the old folder over into the new one if it holds the same bytes already.

    It stays the same file where the system has hard links, else it is a copy with the same times.

    Args:
        old: the file in the old folder; it need not exist.
        new: its place in the new folder.
        data: what it shall hold.

    Returns:
        Whether it was carried over; nothing is done otherwise.
    """
    try:
        if old.is_symlink() or old.stat().st_size != len(data) or old.read_bytes() != data:
            return False
    except OSError:
        return False
    try:
        os.link(old, new)
    except OSError:
        try:
            shutil.copy2(old, new)
        except OSError:
            new.unlink(missing_ok=True)
            return False
    return True


def recover(folder: Path) -> None:
    """Put right what killed runs have left beside a folder: half-made folders go, a moved one comes back.

    Args:
        folder: the folder that those runs were replacing.
    """
    pattern = re.compile(re.escape(f".{folder.name}.") + r"(part|old)-(\d+)")
    found = [(m, path) for path in folder.parent.iterdir() if (m := pattern.fullmatch(path.name))]
    for match, path in found:
        if int(match[2]) != os.getpid() and _runs(int(match[2])):
            continue
        if match[1] == "old" and not folder.exists():
            path.rename(folder)
        else:
            shutil.rmtree(path, ignore_errors=True)


def _beside(folder: Path, what: str) -> Path:
    return folder.parent / f".{folder.name}.{what}-{os.getpid()}"


def _runs(process: int) -> bool:
    """Return whether a process is there; where that can't be asked, it is taken to be."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


def _own_files(folder: Path, generated: Generated) -> tuple[str, ...]:
    """Return what lies in the folder beside generated files, relative to it."""
    if folder.exists() and not folder.is_dir():
        message = "a file stands where the output's folder goes"
        raise InputError([_problem("not-our-folder", folder, message, "move it away, then run this again")])
    found = tuple(
        sorted(
            p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_symlink() or not p.is_dir()
        )
    )
    # asked after the listing: a folder that another run put there since is whole, its manifest included
    names = generated(folder)
    if found and names is None:
        damaged = f"its {FILE_NAME} can't be read" if FILE_NAME in found else f"it has no {FILE_NAME}"
        other = next((name for name in found if name != FILE_NAME), FILE_NAME)
        message = (
            f"{damaged}, so what an earlier run made can't be told from own files, such as {other}; "
            "the folder is left alone"
        )
        remedy = "move or delete the folder, then run this again; own files may be moved back after that"
        raise InputError([_problem("not-our-folder", folder, message, remedy)])
    return tuple(name for name in found if name not in (names or ()))


def _carry_over(folder: Path, part: Path, own: tuple[str, ...]) -> None:
    for name in own:
        target = part / name
        if not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(folder / name, target, follow_symlinks=False)


def _take_place(folder: Path, part: Path) -> None:
    if not folder.exists():
        try:
            part.rename(folder)
        except OSError:
            # another run may have put its folder there in the meantime
            if not folder.exists():
                raise
        else:
            return
    if not _exchanged(folder, part):
        old = _beside(folder, "old")
        folder.rename(old)
        part.rename(folder)
        shutil.rmtree(old, ignore_errors=True)


def _exchanged(a: Path, b: Path) -> bool:
    """Exchange two folders' names in one step and return True, or False where the system can't."""
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    names = os.fsencode(a), os.fsencode(b)
    return int(rename(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE)) == 0


def _cannot_write(folder: Path, error: OSError) -> InputError:
    return InputError(
        [_problem("cannot-write", folder, f"the folder cannot be written ({error.strerror or error})")]
    )


def _problem(code: str, folder: Path, message: str, allowed: str | None = None) -> Problem:
    return Problem(code, message, str(folder), allowed=allowed)
