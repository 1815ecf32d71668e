"""A table of overrides: one build, made once for each row with other values, into a folder each.

As CSV: a first line ``name`` and dotted keys, then a line per row; an empty cell leaves the file's value.
As TOML: ``[[row]]`` tables with ``name`` and dotted keys, quoted where they hold a list index.
"""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field
from msgspec.structs import replace

from chassis_gen.batch.task import Outcome, Target
from chassis_gen.overrides import EXAMPLE, KEY
from chassis_gen.params.reading import read_source, read_text
from chassis_gen.params.workspace import name_rejection
from chassis_gen.problems import InputError, Problem

if TYPE_CHECKING:
    from chassis_gen.params.workspace import Workspace

MOST_ROWS = 1000
"""How many rows a table may have (chosen)."""

_PLAIN = (str, int, float, bool)
Place = tuple[int, int | None]


class Row(Struct, frozen=True):
    """One row of the table.

    Args:
        name: of the row; its folder is ``out/<build>-<name>/``.
        values: value by dotted key.
        place: line and column of the row.
        places: line and column of each value.
    """

    name: str
    values: Mapping[str, str | int | float | bool]
    place: Place
    places: Mapping[str, Place] = field(default_factory=dict)


class Matrix(Struct, frozen=True):
    """A table as read.

    Args:
        file: its name as shown to the maker.
        rows: in order.
    """

    file: str
    rows: tuple[Row, ...]

    def targets(self, workspace: Workspace, build: str) -> tuple[Target, ...]:
        """Return the builds that the rows make of a build.

        Args:
            workspace: where it lies.
            build: its name or path.

        Raises:
            InputError: when there is no such build, or a row's folder would be another build's.
        """
        base = workspace.build_name(workspace.build_file(build))
        problems: list[Problem] = []
        for row in self.rows:
            name = f"{base}-{row.name}"
            rejection = name_rejection(name)
            if rejection:
                problems.append(self._problem(row, rejection.code, rejection.message, rejection.allowed))
            elif name in workspace.builds():
                message = f"the folder out/{name}/ belongs to the build of that name"
                problems.append(self._problem(row, "duplicate-name", message, "another name"))
        if problems:
            raise InputError(problems)
        return tuple(Target(build, f"{base}-{r.name}", tuple(r.values.items())) for r in self.rows)

    def placed(self, outcome: Outcome, number: int) -> Outcome:
        """Return a row's outcome with its problems placed in this table where a value of it is meant.

        Args:
            outcome: what became of the row.
            number: of the row, from 0.
        """
        row = self.rows[number]
        return replace(outcome, problems=tuple(self._placed(p, row) for p in outcome.problems))

    def _placed(self, problem: Problem, row: Row) -> Problem:
        # a problem's key shows the entry's name beside its index
        key = re.sub(r' "(?:[^"\\]|\\.)*"', "", problem.key or "")
        message = f'row "{row.name}": {problem.message}'
        for column in row.values:
            if key == column or key.startswith((f"{column}.", f"{column}[")):
                line, at = row.places[column]
                return replace(problem, message=message, file=self.file, line=line, column=at)
        return replace(problem, message=message)

    def _problem(self, row: Row, code: str, message: str, allowed: str | None) -> Problem:
        line, column = row.place
        return Problem(code, message, self.file, line, column, "name", f'"{row.name}"', allowed)


def read_matrix(path: Path, root: Path) -> Matrix:
    """Return a table of overrides.

    Args:
        path: a ``.csv`` or ``.toml`` file.
        root: the workspace, relative to which the file's name is shown.

    Raises:
        InputError: with every mistake of the table.
    """
    if path.suffix == ".toml":
        file, found = _toml_rows(path, root)
    elif path.suffix == ".csv":
        file, found = _csv_rows(path, root)
    else:
        message = "the table's kind is not known by its name"
        raise InputError([Problem("bad-name", message, str(path), allowed="a .csv or a .toml file")])
    rows = [r for r in found if isinstance(r, Row)]
    problems = [p for p in found if isinstance(p, Problem)]
    seen: set[str] = set()
    for row in rows:
        line, column = row.place
        rejection = name_rejection(row.name)
        if rejection:
            value = f'"{row.name}"'
            problems.append(
                Problem(
                    rejection.code, rejection.message, file, line, column, "name", value, rejection.allowed
                )
            )
        elif row.name.casefold() in seen:
            message = "two rows have the same name"
            problems.append(Problem("duplicate-name", message, file, line, column, "name", f'"{row.name}"'))
        seen.add(row.name.casefold())
    if not found:
        problems.append(Problem("missing-key", "the table has no rows", file, allowed="name and values"))
    if len(found) > MOST_ROWS:
        problems.append(
            Problem("too-large", "the table has too many rows", file, allowed=f"{MOST_ROWS} rows")
        )
    if problems:
        raise InputError(sorted(problems, key=lambda p: (p.line or 0, p.column or 0)))
    return Matrix(file, tuple(rows))


def _csv_rows(path: Path, root: Path) -> tuple[str, list[Row | Problem]]:
    file, text = read_text(path, root)
    reader = csv.reader(io.StringIO(text), strict=True)
    try:
        lines = [(reader.line_num, cells) for cells in reader if any(c.strip() for c in cells)]
    except csv.Error as error:
        raise InputError([Problem("syntax", f"this is no CSV ({error})", file, reader.line_num)]) from None
    if not lines:
        return file, []
    (top, header), *body = lines
    keys = [c.strip() for c in header]
    problems = list(_bad_header(keys, file, top))
    if problems:
        raise InputError(problems)
    return file, [_csv_row(keys, cells, file, line) for line, cells in body]


def _bad_header(keys: list[str], file: str, line: int) -> Iterator[Problem]:
    if keys[0] != "name":
        yield Problem("missing-key", "the first column is not the row's name", file, line, allowed="name")
    for number, key in enumerate(keys[1:], 1):
        if not KEY.fullmatch(key):
            yield Problem("unknown-key", "this is no key", file, line, key=key or None, allowed=EXAMPLE)
        elif key in keys[:number]:
            yield Problem("duplicate-key", "two columns have the same key", file, line, key=key)


def _csv_row(keys: list[str], cells: list[str], file: str, line: int) -> Row | Problem:
    if len(cells) != len(keys):
        counts = f"{len(cells)} cells", f"{len(keys)} cells"
        return Problem("wrong-count", "the row has another number of cells than the first", file, line, None,
                       None, *counts)  # fmt: skip
    values = {k: _cell(c.strip()) for k, c in zip(keys[1:], cells[1:], strict=True) if c.strip()}
    return Row(cells[0].strip(), values, (line, None), dict.fromkeys(values, (line, None)))


def _cell(text: str) -> str | int | float | bool:
    """Return a cell as TOML reads it: a number or a truth value; anything else is a text."""
    try:
        read = tomllib.loads(f"value = {text}")
    except ValueError:
        return text
    value = read["value"]
    return value if list(read) == ["value"] and isinstance(value, _PLAIN) else text


def _toml_rows(path: Path, root: Path) -> tuple[str, list[Row | Problem]]:
    source = read_source(path, root)
    rows = source.data.get("row")
    strange = [k for k in source.data if k != "row"]
    if strange or not (isinstance(rows, list) and all(isinstance(r, dict) for r in rows)):
        line, column = _located(source.text, (strange[0],) if strange else ("row",))
        key = strange[0] if strange else None
        message = "the table is a list of [[row]]"
        problem = Problem("unknown-key", message, source.file, line, column, key, allowed="[[row]]")
        raise InputError([problem])
    return source.file, [_toml_row(source.file, source.text, i, row) for i, row in enumerate(rows)]


def _toml_row(file: str, text: str, number: int, row: Mapping[str, Any]) -> Row | Problem:
    place = _located(text, ("row", number))
    name = row.get("name")
    if not isinstance(name, str):
        return Problem("missing-key", "the row has no name", file, *place, "name")
    values: dict[str, str | int | float | bool] = {}
    places: dict[str, Place] = {}
    for path, value in _leaves({k: v for k, v in row.items() if k != "name"}):
        key = ".".join(path)
        at = _located(text, ("row", number, *path))
        if not KEY.fullmatch(key):
            return Problem("unknown-key", "this is no key", file, *at, key, allowed=EXAMPLE)
        if not isinstance(value, _PLAIN):
            return Problem("wrong-type", "the value is no single value", file, *at, key, allowed="one value")
        values[key], places[key] = value, at
    return Row(name, values, place, places)


def _leaves(table: Mapping[str, Any], above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*above, key))
        else:
            yield (*above, key), value


def _located(text: str, path: tuple[str | int, ...]) -> Place:
    from chassis_gen.params.positions import locate

    return locate(text, path)
