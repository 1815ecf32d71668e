"""Plain tables for a terminal: readable without colour, wrapped to its width."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Sequence

NARROWEST, WIDEST = 60, 120


def terminal_width() -> int:
    """Return how many columns text may take: the terminal's, within 60 to 120; 100 where there is none."""
    return max(NARROWEST, min(WIDEST, shutil.get_terminal_size((100, 24)).columns))


def table(header: Sequence[str], rows: Iterable[Sequence[str]], width: int, right: Sequence[int] = ()) -> str:
    """Return rows in aligned columns under a header; the last column is wrapped where it is too wide.

    Args:
        header: a title per column.
        rows: one text per column.
        width: columns of the terminal.
        right: indices of the columns to align on the right, such as numbers.
    """
    lines = [tuple(header), *(tuple(r) for r in rows)]
    wide = [max(len(line[i]) for line in lines) for i in range(len(header) - 1)]
    indent = sum(wide) + 2 * len(wide)
    room = max(20, width - indent)
    out = []
    for line in lines:
        cells = [
            c.rjust(w) if i in right else c.ljust(w) for i, (c, w) in enumerate(zip(line, wide, strict=False))
        ]
        first, *more = textwrap.wrap(line[-1], room) or [""]
        out.append("  ".join([*cells, first]).rstrip())
        out += [" " * indent + text for text in more]
    out.insert(1, "-" * min(width, max(len(line) for line in out)))
    return "\n".join(out)


def paragraph(text: str, width: int, indent: str = "") -> str:
    """Return a text wrapped to a width, with an indent before each line."""
    return textwrap.fill(text, width, initial_indent=indent, subsequent_indent=indent)
