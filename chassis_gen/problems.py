"""What is wrong with the input: one small family of errors that the command line turns into exit status 2.

Every reader collects `Problem` values and raises them together as one `InputError`, so that a maker
sees all mistakes of a file in one run.
"""

from __future__ import annotations

import difflib
import re
import shlex
from collections.abc import Iterable

from msgspec import Struct


class Problem(Struct, frozen=True):
    """One mistake in the input.

    Args:
        code: stable short code, such as ``unknown-key``.
        message: what is wrong, in one sentence without the place.
        file: the file as the maker named it, or None for a command-line argument.
        line: 1-based line, or None where the place has no line.
        column: 1-based column, or None.
        key: dotted key path such as ``section[2].part``.
        value: what was read, as text.
        allowed: what would be accepted, as text.
        nearest: the nearest valid name for a misspelt one.
    """

    code: str
    message: str
    file: str | None = None
    line: int | None = None
    column: int | None = None
    key: str | None = None
    value: str | None = None
    allowed: str | None = None
    nearest: str | None = None

    def text(self) -> str:
        """Return the problem as one line: place, code, message, value, what is allowed, nearest name."""
        place = self.file or ""
        if self.line is not None:
            place += f":{self.line}"
            if self.column is not None:
                place += f":{self.column}"
        head = f"{place}: " if place else ""
        key = f"{self.key}: " if self.key else ""
        parts = [f"{head}[{self.code}] {key}{self.message}"]
        if self.value is not None:
            parts.append(f"read {self.value}")
        if self.allowed is not None:
            parts.append(f"allowed: {self.allowed}")
        if self.nearest is not None:
            parts.append(f'did you mean "{self.nearest}"?')
        return printable("; ".join(parts))


class InputError(Exception):
    """Bad input: carries every `Problem` found; the command line prints them and exits with 2."""

    def __init__(self, problems: Iterable[Problem]):
        self.problems = tuple(problems)
        super().__init__("\n".join(p.text() for p in self.problems))


def in_order(problems: Iterable[Problem]) -> list[Problem]:
    """Return problems each once, file after file as they come up, by line and column.

    Args:
        problems: of any files.
    """
    once = list(dict.fromkeys(problems))
    files = list(dict.fromkeys(p.file for p in once))
    return sorted(once, key=lambda p: (files.index(p.file), p.line or 0, p.column or 0))


def printable(text: str) -> str:
    """Return a text as a terminal may show it: characters that print nothing, or turn what follows, as escapes.

    Line ends and tabs stay.

    Args:
        text: may hold anything that a file held.
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c in "\n\t" else _escaped(c) for c in text)


def _escaped(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def quoted(name: str) -> str:
    """Return a name or a path as one word of a command, as a maker has to type it.

    Args:
        name: the name or path.
    """
    if re.fullmatch(r"[\w@%+=:,./\\-]+", name):
        return name
    # double quotes are understood everywhere; a text with signs that they don't cover is quoted as a shell does
    return shlex.quote(name) if re.search(r'["$`\\!]', name) else f'"{name}"'


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """Return the known name closest to a misspelt one, or None when nothing is close.

    Args:
        name: what was read.
        known: the valid names.
    """
    by_folded = {k.casefold(): k for k in known}
    found = difflib.get_close_matches(name.casefold(), list(by_folded), n=1, cutoff=0.5)
    return by_folded[found[0]] if found else None
