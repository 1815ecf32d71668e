"""Reading parameter files: every mistake of a file is reported at once, each with its place."""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, ValidationError, model_validator

from chassis_gen.params.codes import ABSENT, CODES, KeyPath, Rejection, value_at, value_text
from chassis_gen.problems import InputError, Problem

if TYPE_CHECKING:
    from chassis_gen.params.explain import Found

__all__ = [
    "CODES",
    "FileModel",
    "Source",
    "key_text",
    "parse_model",
    "read_model",
    "read_source",
    "read_text",
]

MAX_BYTES = 2**20

_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
# Python refuses to read decimal integers beyond this many digits
_LONG_INTEGER = re.compile(r"[0-9](?:_?[0-9]){4300,}")


class FileModel(BaseModel):
    """Base of the models of parameter files: frozen, no unknown keys, no silent conversions, finite numbers.

    Lists of a file become tuples, so fields are declared as ``tuple[...]``.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False, defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def _lists_to_tuples(cls, data: Any) -> Any:
        return {k: _frozen(v) for k, v in data.items()} if isinstance(data, dict) else data


Model = TypeVar("Model", bound=BaseModel)


class Source(Struct, frozen=True):
    """A parameter file as it was read, for placing problems that only show later.

    Args:
        file: the file as the maker knows it, relative to the workspace where it lies inside.
        text: the file's text.
        data: what TOML makes of the text.
    """

    file: str
    text: str
    data: Mapping[str, Any]

    def problem(self, path: KeyPath, rejection: Rejection) -> Problem:
        """Return what is wrong with a value as a problem with its place in this file.

        Args:
            path: keys and 0-based list indices from the root of the file.
            rejection: what is wrong there.
        """
        from chassis_gen.params.positions import locate

        path = (*path, *rejection.at)
        value = value_at(self.data, path)
        line, column = locate(self.text, path, "key" if rejection.code == "unknown-key" else "value")
        return Problem(
            rejection.code,
            rejection.message,
            self.file,
            line,
            column,
            key_text(self.data, path) or None,
            None if value is ABSENT or not path else value_text(value),
            rejection.allowed,
            rejection.nearest,
        )


def read_model(path: Path, model: type[Model], workspace: Path) -> Model:
    """Return the model that a parameter file describes.

    Args:
        path: the file.
        model: the pydantic model to read it as.
        workspace: the folder that the file's name is shown relative to.

    Raises:
        InputError: with every problem of the file, sorted by line.
    """
    return parse_model(read_source(path, workspace), model)


def parse_model(source: Source, model: type[Model]) -> Model:
    """Return the model that an already read file describes.

    Args:
        source: the file.
        model: the pydantic model to read it as.

    Raises:
        InputError: with every problem of the file, sorted by line.
    """
    try:
        return model.model_validate(source.data)
    except ValidationError as error:
        from chassis_gen.params.explain import explained

        raise InputError(_located(source, explained(error, model, source.data))) from None
    except RecursionError:
        raise InputError([_too_deep(source.file)]) from None


def read_source(path: Path, workspace: Path) -> Source:
    """Return a TOML file's text and data.

    Args:
        path: the file.
        workspace: the folder that the file's name is shown relative to.

    Raises:
        InputError: if the file cannot be read, is no UTF-8 text, or no TOML.
    """
    file = shown_name(path, workspace)
    text = _decoded(_read_bytes(path, file), file)
    try:
        return Source(file, text, tomllib.loads(text))
    except RecursionError:
        raise InputError([_too_deep(file)]) from None
    except ValueError as error:
        raise InputError([_syntax_problem(file, text, str(error))]) from None


def read_bytes(path: Path, workspace: Path, most: int = MAX_BYTES) -> bytes:
    """Return a file's bytes.

    Args:
        path: the file.
        workspace: the folder that the file's name is shown relative to.
        most: bytes that it may have.

    Raises:
        InputError: if it is no ordinary file, longer than that, or cannot be read.
    """
    return _read_bytes(path, shown_name(path, workspace), most)


def read_text(path: Path, workspace: Path) -> tuple[str, str]:
    """Return a text file's name as shown to the maker, and its text.

    Args:
        path: the file.
        workspace: the folder that the file's name is shown relative to.

    Raises:
        InputError: if the file cannot be read or is no UTF-8 text.
    """
    file = shown_name(path, workspace)
    return file, _decoded(_read_bytes(path, file), file)


def key_text(data: Any, path: KeyPath) -> str:
    """Return a path as ``section[2] "button block".part``: 0-based indices, and the entry's name if any.

    Args:
        data: what was read, where names are looked up.
        path: keys and list indices from the root of the file.
    """
    text = ""
    for n, item in enumerate(path):
        if isinstance(item, int):
            name = value_at(data, (*path[: n + 1], "name"))
            text += f"[{item}]" + (f" {value_text(name)}" if isinstance(name, str) and name else "")
        else:
            key = item if _BARE_KEY.fullmatch(item) else value_text(item)
            text += f".{key}" if text else key
    return text


def shown_name(path: Path, workspace: Path) -> str:
    """Return a file's name as shown to the maker: relative to the workspace where it lies inside.

    Args:
        path: the file.
        workspace: the workspace folder.
    """
    try:
        return path.absolute().relative_to(workspace.absolute()).as_posix()
    except ValueError:
        return str(path)


def _frozen(value: Any) -> Any:
    return tuple(_frozen(v) for v in value) if isinstance(value, list) else value


def _located(source: Source, found: Iterable[Found]) -> list[Problem]:
    problems = [source.problem(f.path[: len(f.path) - len(f.rejection.at)], f.rejection) for f in found]
    return sorted(problems, key=lambda p: (p.line or 0, p.column or 0, p.key or ""))


def _read_bytes(path: Path, file: str, most: int = MAX_BYTES) -> bytes:
    """Return a file's bytes, if it is an ordinary file of sensible length."""
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise InputError([Problem("not-a-file", "this is not an ordinary file", file)])
        with path.open("rb") as stream:
            raw = stream.read(most + 1)
    except (FileNotFoundError, NotADirectoryError):
        raise InputError([Problem("missing-file", "there is no such file", file)]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError([Problem("cannot-read", f"the file cannot be read ({reason})", file)]) from None
    if len(raw) > most:
        raise InputError(
            [Problem("too-large", "the file is too large", file, allowed=f"at most {most} bytes")]
        )
    return raw


def _decoded(raw: bytes, file: str) -> str:
    """Return a file's text; a UTF-8 byte order mark, which some editors write, is skipped."""
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError([Problem("encoding", "the file is UTF-16 text", file, 1, 1, allowed="UTF-8 text")])
    raw = raw.removeprefix(b"\xef\xbb\xbf")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8")
        raise InputError([_encoding_problem(file, before, f"byte 0x{raw[error.start]:02x}")]) from None
    if "\0" in text:
        raise InputError([_encoding_problem(file, text[: text.index("\0")], "byte 0x00")])
    return text


def _encoding_problem(file: str, before: str, value: str) -> Problem:
    line, column = _end(before)
    return Problem("encoding", "a byte that no text file has", file, line, column, None, value, "UTF-8 text")


def _syntax_problem(file: str, text: str, message: str) -> Problem:
    """Return tomllib's complaint as a problem, with the line that it is about."""
    long_integer = _LONG_INTEGER.search(text) if message.startswith("Exceeds the limit") else None
    if long_integer:
        line, column = _end(text[: long_integer.start()])
        return Problem(
            "out-of-range", "the number is out of range", file, line, column, allowed="fewer digits"
        )
    at = _AT.search(message)
    line, column = (int(at[1]), int(at[2])) if at and at[1] else _end(text.rstrip())
    reason = message[: at.start()] if at else message
    code = "duplicate-key" if re.match(r"Cannot (overwrite|declare)", reason) else "syntax"
    lines = text.splitlines()
    shown = value_text(lines[line - 1].strip()) if 0 < line <= len(lines) else None
    return Problem(code, f"{_MESSAGES[code]} ({reason})", file, line, column, value=shown)


_MESSAGES = {"duplicate-key": "the key or table is given twice", "syntax": "this is not TOML"}


def _end(text: str) -> tuple[int, int]:
    """Return line and column right behind a text."""
    return text.count("\n") + 1, len(text) - text.rfind("\n")


def _too_deep(file: str) -> Problem:
    return Problem("too-deep", "lists or tables are nested too deeply", file)
