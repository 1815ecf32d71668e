"""Files of rows that are only ever appended: a killed process, a second one or a damaged row loses no other row.

Each row is an array-of-tables entry that stands by itself, from its ``[[header]]`` to the next; its last key is
one that must be there and is a text, so that a row that was cut off anywhere is recognised as such. A row that
can't be read is named and left where it is.
"""

from __future__ import annotations

import datetime
import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Generic, TypeVar

from msgspec import Struct
from pydantic import BaseModel

from chassis_gen.findings import Finding
from chassis_gen.params.reading import Source, parse_model, shown_name
from chassis_gen.problems import InputError, Problem

LOCK_SECONDS = 30.0
"""How long a second process waits for the first, s (chosen: a note plans a build twice)."""

_HEADER = re.compile(rb"[ \t]*\[")
_NUMBER = re.compile(rb"^[ \t]*number[ \t]*=[ \t]*(\d{1,9})", re.MULTILINE)
_TABLE = re.compile(rb"[ \t]*\[\[[ \t]*(\w+)")
_AT = re.compile(r" \(at line (\d+), column (\d+)\)$")

Model = TypeVar("Model", bound=BaseModel)


class Rows(Struct, Generic[Model], frozen=True):
    """What a file of rows holds.

    Args:
        file: its name as shown to the maker.
        text: the whole text; bytes that are no UTF-8 are shown as the replacement character.
        parts: one model per good row, each with that row alone, in file order.
        findings: a warning for every row that can't be read, with its line.
        highest: the highest number given so far by table name, damaged rows included.
    """

    file: str
    text: str
    parts: tuple[Model, ...]
    findings: tuple[Finding, ...]
    highest: Mapping[str, int]


def read_rows(path: Path, model: type[Model], root: Path) -> Rows[Model]:
    """Return the good rows of a file and what is wrong with the others; a missing file has none.

    Args:
        path: the file.
        model: describes a file with one row.
        root: the folder that the file's name is shown relative to.

    Raises:
        InputError: when the system refuses to read the file.
    """
    file = shown_name(path, root)
    raw = _bytes(path, file)
    parts: list[Model] = []
    findings: list[Finding] = []
    highest: dict[str, int] = {}
    for line, block in _blocks(raw):
        table, number = _TABLE.match(block), _NUMBER.search(block)
        if table and number:
            name = table[1].decode()
            highest[name] = max(highest.get(name, 0), int(number[1]))
        try:
            parts.append(_row(block, line, file, model))
        except InputError as error:
            findings += [_damaged(p) for p in error.problems]
    return Rows(file, raw.decode("utf-8", "replace"), tuple(parts), tuple(findings), highest)


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Hold the lock of a file of rows; the system gives it back when the process ends, however it ends.

    Args:
        path: the file of rows; its folder must exist.

    Raises:
        InputError: code ``locked`` when another process holds it for too long.
    """
    from filelock import FileLock, Timeout

    try:
        with FileLock(path.with_name(f".{path.name}.lock"), timeout=LOCK_SECONDS):
            yield
    except Timeout:
        message = f"another process has been writing it for more than {LOCK_SECONDS:g} s"
        raise InputError([Problem("locked", message, str(path))]) from None


def append_row(path: Path, table: str, row: Mapping[str, Any], heading: str) -> None:
    """Append one row and sync it to the disk; whatever stands in the file already is kept byte for byte.

    The caller holds the lock.

    Args:
        path: the file.
        table: the row's table name.
        row: keys and values in order; a None is left out.
        heading: comment that a new file begins with.

    Raises:
        InputError: when the file can't be written; it is then as it was.
    """
    from chassis_gen.params.writing import write_bytes_atomically

    before = _bytes(path, str(path)) or f"# {heading}\n".encode()
    end = b"" if before.endswith(b"\n") else b"\n"
    write_bytes_atomically(path, before + end + row_text(table, row, str(path)).encode())


def row_text(table: str, row: Mapping[str, Any], file: str) -> str:
    """Return a row as TOML text, a blank line first.

    Args:
        table: its table name.
        row: keys and values in order; a None is left out.
        file: for the error.

    Raises:
        InputError: when a text holds characters that no file can.
    """
    lines = [f"{k} = {value_toml(v, file)}" for k, v in row.items() if v is not None]
    return "\n".join(("", f"[[{table}]]", *lines, ""))


def value_toml(value: object, file: str) -> str:
    """Return a value as TOML writes it, on one line.

    Args:
        value: text, figure, truth value or date.
        file: for the error.

    Raises:
        InputError: when a text holds characters that no file can.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, datetime.date):
        return value.isoformat()
    text = str(value)
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise InputError([Problem("bad-text", "a text holds a character that UTF-8 has no bytes for", file)])
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _bytes(path: Path, file: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return b""
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError([Problem("cannot-read", f"the file cannot be read ({reason})", file)]) from None


def _blocks(raw: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield each row's first line (1-based) and bytes; what stands before the first row, if it isn't comment."""
    start, held = 1, b""
    for number, line in enumerate(raw.splitlines(keepends=True), start=1):
        if _HEADER.match(line):
            if not _only_comment(held):
                yield start, held
            start, held = number, b""
        held += line
    if not _only_comment(held):
        yield start, held


def _only_comment(block: bytes) -> bool:
    return all(not line.strip() or line.lstrip().startswith(b"#") for line in block.splitlines())


def _row(block: bytes, line: int, file: str, model: type[Model]) -> Model:
    try:
        text = block.decode("utf-8")
        data = tomllib.loads(text)
    except UnicodeDecodeError as error:
        at = line + block[: error.start].count(b"\n")
        raise InputError([Problem("encoding", "a byte that no text file has", file, at, 1)]) from None
    except (ValueError, RecursionError) as error:
        raise InputError([_syntax(str(error), block, line, file)]) from None
    return parse_model(Source(file, "\n" * (line - 1) + text, data), model)


def _syntax(message: str, block: bytes, line: int, file: str) -> Problem:
    found = _AT.search(message)
    ahead = int(found[1]) - 1 if found else len(block.rstrip().splitlines()) - 1
    lines = block.decode("utf-8", "replace").splitlines()
    shown = lines[min(ahead, len(lines) - 1)].strip()[:60]
    return Problem(
        "syntax", "this row is no TOML or breaks off", file, line + max(0, ahead), 1, value=f'"{shown}"'
    )


def _damaged(problem: Problem) -> Finding:
    where = f"{problem.file}:{problem.line}" if problem.line else str(problem.file)
    message = f"{problem.text()}; this row counts for nothing, the others are kept"
    return Finding("warning", "trial-row", where, message, {"line": float(problem.line or 0)})
