"""Reading the package's data files: rows are taken only when they carry unit, source and revision."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Any, TypeVar

from msgspec import Struct

from chassis_gen.problems import InputError, Problem, nearest_name

# Exact by the international yard and pound agreement of 1959; also in ISO 80000-3.
MM_PER_UNIT: Mapping[str, float] = {"mm": 1.0, "in": 25.4}
PROVENANCE = ("unit", "source", "revision")

Item = TypeVar("Item")


class TableError(ValueError):
    """A data file of the package itself is unsound; a maker's input never raises this."""


class Rule(Struct, frozen=True):
    """One named figure with its provenance.

    Args:
        name: what the figure is called in its data file.
        value: the figure, in `unit`.
        unit: unit of the value; "1" for a plain ratio.
        source: standard, or "common practice, no standard", or "from memory".
        revision: edition of the standard, or year and month of the row.
    """

    name: str
    value: float
    unit: str
    source: str
    revision: str


def check_provenance(rows: Iterable[Mapping[str, Any]], file: str) -> None:
    """Refuse rows without unit, source or revision.

    Args:
        rows: the rows as read.
        file: name of the data file, for the message.

    Raises:
        TableError: naming the file, the row and the columns that are missing or empty.
    """
    for number, row in enumerate(rows, start=1):
        missing = [name for name in PROVENANCE if not str(row.get(name) or "").strip()]
        if missing:
            raise TableError(f"{file}: row {number} lacks {', '.join(missing)}")


def data_text(file: str) -> str:
    """Return the text of one data file of the package.

    Args:
        file: file name under ``chassis_gen/tables/data``.
    """
    from importlib.resources import files  # only needed when a table is really read

    return files("chassis_gen.tables").joinpath("data", file).read_text(encoding="utf-8")


@cache
def read_csv(file: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of a CSV data file, keyed by column name.

    Args:
        file: file name under ``chassis_gen/tables/data``.

    Raises:
        TableError: when a row has too many or too few cells, or lacks unit, source or revision.
    """
    reader = csv.DictReader(data_text(file).splitlines(), restkey="", restval=None)
    rows = tuple(reader)
    for number, row in enumerate(rows, start=1):
        if "" in row or None in row.values():
            raise TableError(f"{file}: row {number} doesn't have one cell per column")
    check_provenance(rows, file)
    return rows


@cache
def read_toml(file: str, key: str) -> tuple[Mapping[str, Any], ...]:
    """Return the rows of a TOML data file: its array of tables under one key.

    Args:
        file: file name under ``chassis_gen/tables/data``.
        key: name of the array of tables.

    Raises:
        TableError: when the array is missing or a row lacks unit, source or revision.
    """
    rows = tomllib.loads(data_text(file)).get(key)
    if not isinstance(rows, list):
        raise TableError(f"{file}: has no [[{key}]] rows")
    check_provenance(rows, file)
    return tuple(rows)


@cache
def read_rules(file: str) -> Mapping[str, Rule]:
    """Return the [[rule]] rows of a TOML data file by name.

    Args:
        file: file name under ``chassis_gen/tables/data``.
    """
    return {row["name"]: Rule(**row) for row in read_toml(file, "rule")}


def length_mm(row: Mapping[str, str], column: str) -> float:
    """Return a length cell in mm, converted from the row's unit.

    Args:
        row: a row of a CSV data file whose unit is "mm" or "in".
        column: name of the cell.
    """
    return float(row[column]) * MM_PER_UNIT[row["unit"]]


def lengths_mm(row: Mapping[str, str], column: str) -> tuple[float, ...]:
    """Return a cell of several lengths, parted by semicolons, in mm.

    Args:
        row: a row of a CSV data file whose unit is "mm" or "in".
        column: name of the cell.
    """
    return tuple(float(text) * MM_PER_UNIT[row["unit"]] for text in row[column].split(";"))


def lookup(
    name: str, known: Mapping[str, Item], code: str, what: str, fold: Callable[[str], str] = str.casefold
) -> Item:
    """Return the entry of that name, or say which names there are.

    Args:
        name: what was asked for; case doesn't matter.
        known: the entries by their own names.
        code: problem code for a name that isn't known, such as ``unknown-material``.
        what: what is looked for, for the message, such as "material".
        fold: how two spellings are made equal.

    Raises:
        InputError: with the nearest known name, when there is no such entry.
    """
    for key, item in known.items():
        if fold(key) == fold(name):
            return item
    raise InputError([unknown(name, known, code, what)])


def unknown(name: str, known: Iterable[str], code: str, what: str) -> Problem:
    """Return the problem that says a name isn't known.

    Args:
        name: what was asked for.
        known: the names there are.
        code: problem code.
        what: what is looked for, for the message.
    """
    names = list(known)
    return Problem(
        code=code,
        message=f"there is no such {what}",
        value=f'"{name}"',
        allowed=", ".join(names),
        nearest=nearest_name(name, names),
    )
