"""What is wrong with the input: one small family of errors that the command line turns into exit status 2.

Every reader collects `Problem` values and raises them together as one `InputError`, so that a maker
sees all mistakes of a file in one run.
"""

from __future__ import annotations

import difflib
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
        return "; ".join(parts)


class InputError(Exception):
    """Bad input: carries every `Problem` found; the command line prints them and exits with 2."""

    def __init__(self, problems: Iterable[Problem]):
        self.problems = tuple(problems)
        super().__init__("\n".join(p.text() for p in self.problems))


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """Return the known name closest to a misspelt one, or None when nothing is close.

    Args:
        name: what was read.
        known: the valid names.
    """
    by_folded = {k.casefold(): k for k in known}
    found = difflib.get_close_matches(name.casefold(), list(by_folded), n=1, cutoff=0.5)
    return by_folded[found[0]] if found else None
