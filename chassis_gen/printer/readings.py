"""The readings sheet: written with the nominal sizes to be filled in, and read back with every slip named.

A sheet is CSV text with a header. A spreadsheet that parts its columns by semicolons and writes decimal
commas is understood, too.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Mapping, Sequence

from msgspec import Struct

from chassis_gen.params.codes import value_text
from chassis_gen.printer.features import FEATURE_KINDS, Feature, gauge_features
from chassis_gen.problems import InputError, Problem, nearest_name
from chassis_gen.tables.fits import printer_rules

COLUMNS = ("feature", "kind", "nominal_mm", "reading_mm", "place", "note")
PLACES = (1, 2, 3, 4, 5)
NOT_PRINTED = "none"
MM_PER_INCH = 25.4

_SLIP = 0.06
_LEAST_SLIP_SIZE = 2.0
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")


class Reading(Struct, frozen=True):
    """One filled-in row of a sheet.

    Args:
        feature: what was measured.
        value: mm, or None for a wall that did not print.
        place: place on the bed, 1 to 5 (1 is the middle, then the corners).
        line: line of the file, for messages.
        note: the maker's.
    """

    feature: Feature
    value: float | None
    place: int
    line: int
    note: str = ""


class Sheet(Struct, frozen=True):
    """A sheet as it was read.

    Args:
        file: name as the maker knows it.
        readings: in the order of the rows.
    """

    file: str
    readings: tuple[Reading, ...]

    def of(self, kind: str, use: str = "size") -> tuple[Reading, ...]:
        """Return the readings of a kind and a use that have a value."""
        return tuple(
            r for r in self.readings if (r.feature.kind, r.feature.use) == (kind, use) and r.value is not None
        )


def sheet_text(places: Sequence[int] = (1,)) -> str:
    """Return an empty sheet.

    Args:
        places: places of the bed that a gauge is printed at; each has all rows.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for place in places:
        for f in gauge_features().values():
            writer.writerow((f.number, f.kind, f"{f.nominal:g}", "", place, f.what))
    return text.getvalue()


def has_readings(text: str) -> bool:
    """Return whether any row of a sheet is filled in, so that it must not be written over.

    Args:
        text: what lies in the file; anything that is no sheet counts as filled in.
    """
    try:
        rows = list(csv.DictReader(_lines(text), delimiter=_delimiter(text)))
    except csv.Error:
        return True
    if not rows or "reading_mm" not in rows[0]:
        return bool(text.strip())
    return any((row.get("reading_mm") or "").strip() for row in rows)


def read_sheet(text: str, file: str) -> Sheet:
    """Return the readings of a sheet.

    Args:
        text: the sheet.
        file: its name, for messages.

    Raises:
        InputError: with every slip that shows in a row: line, feature and column named.
    """
    delimiter = _delimiter(text)
    lines = csv.reader(_lines(text), delimiter=delimiter)
    try:
        header = [c.strip().lower() for c in next(lines, [])]
    except csv.Error as error:
        raise InputError([Problem("syntax", f"this is not CSV ({error})", file, 1)]) from None
    _require_header(header, file)
    problems: list[Problem] = []
    readings: list[Reading] = []
    seen: dict[tuple[str, int], int] = {}
    try:
        for cells in lines:
            if not any(c.strip() for c in cells):
                continue
            values = [c.strip() for c in cells] + [""] * (len(header) - len(cells))
            row = _Row(file, lines.line_num, dict(zip(header, values, strict=False)), delimiter == ";")
            made = row.reading(problems)
            if made is None:
                continue
            first = seen.setdefault((made.feature.number, made.place), made.line)
            if first != made.line:
                text_ = f"feature {made.feature.number} at place {made.place} stands on line {first} already"
                problems.append(
                    row.problem("duplicate-name", "feature", text_, "each feature once at each place")
                )
            readings.append(made)
    except csv.Error as error:
        problems.append(Problem("syntax", f"this is not CSV ({error})", file, lines.line_num))
    if not readings and not problems:
        problems.append(
            Problem("missing-key", "the sheet has no readings", file, allowed="at least one filled-in row")
        )
    if problems:
        raise InputError(sorted(problems, key=lambda p: p.line or 0))
    return Sheet(file, tuple(readings))


def _lines(text: str) -> io.StringIO:
    return io.StringIO(text.replace("\r\n", "\n").replace("\r", "\n"))


def _delimiter(text: str) -> str:
    return ";" if ";" in text.partition("\n")[0] else ","


def _require_header(header: Sequence[str], file: str) -> None:
    problems = [
        Problem("unknown-key", f'there is no column "{name}"', file, 1, None, name, None, ", ".join(COLUMNS),
                nearest_name(name, COLUMNS))
        for name in header if name not in COLUMNS
    ]  # fmt: skip
    problems += [
        Problem(
            "missing-key", f'the column "{name}" is missing', file, 1, None, name, None, ", ".join(COLUMNS)
        )
        for name in COLUMNS[:4]
        if name not in header
    ]
    problems += [
        Problem("duplicate-key", f'the column "{name}" stands twice', file, 1, None, name)
        for name in dict.fromkeys(header)
        if header.count(name) > 1
    ]
    if problems:
        raise InputError(problems)


class _Row(Struct, frozen=True):
    """One row that is being read: where it stands and its cells by column."""

    file: str
    line: int
    cells: Mapping[str, str]
    commas: bool

    def problem(
        self, code: str, column: str, message: str, allowed: str | None = None, nearest: str | None = None
    ) -> Problem:
        """Return what is wrong with a cell."""
        feature, read = self.cells["feature"], self.cells.get(column, "")
        key = f"feature {feature}, {column}" if feature and column != "feature" else column
        place = COLUMNS.index(column) + 1
        return Problem(
            code, f"column {place}: {message}", self.file, self.line, None, key, value_text(read) if read else None,
            allowed, nearest,
        )  # fmt: skip

    def reading(self, problems: list[Problem]) -> Reading | None:
        """Return the row's reading, or None after adding what is wrong with it."""
        before = len(problems)
        feature = self._feature(problems)
        place = self._place(problems)
        value = self._value(feature, problems) if feature else None
        if len(problems) > before or feature is None or place is None:
            return None
        return Reading(feature, value, place, self.line, self.cells.get("note", ""))

    def _feature(self, problems: list[Problem]) -> Feature | None:
        name, known = self.cells["feature"], gauge_features()
        feature = known.get(name)
        if feature is None:
            allowed = "a number that is engraved in the gauge, 11 to 83"
            problems.append(
                self.problem(
                    "unknown-name",
                    "feature",
                    "the gauge has no such feature",
                    allowed,
                    nearest_name(name, known),
                )
            )
            return None
        kind = self.cells["kind"]
        if kind != feature.kind:
            message = f"feature {name} is of kind {feature.kind}"
            nearest = nearest_name(kind, FEATURE_KINDS)
            problems.append(self.problem("not-allowed", "kind", message, feature.kind, nearest))
        nominal = self._number("nominal_mm", problems)
        if nominal is not None and abs(nominal - feature.nominal) > 1e-6:
            message = (
                f"feature {name} is drawn with {feature.nominal:g} mm; the reading goes into the next column"
            )
            problems.append(self.problem("not-allowed", "nominal_mm", message, f"{feature.nominal:g}"))
        return feature

    def _place(self, problems: list[Problem]) -> int | None:
        text = self.cells.get("place", "")
        if text == "":
            return 1
        if text.isascii() and text.isdigit() and int(text[:3]) in PLACES:
            return int(text)
        problems.append(self.problem("out-of-range", "place", "there is no such place of the bed", "1 to 5"))
        return None

    def _value(self, feature: Feature, problems: list[Problem]) -> float | None:
        if feature.kind == "wall" and self.cells["reading_mm"].lower() == NOT_PRINTED:
            return None
        value = self._number("reading_mm", problems)
        wrong = None if value is None else _implausible(feature, value)
        if wrong is not None:
            code, message, allowed = wrong
            problems.append(self.problem(code, "reading_mm", message, allowed))
        return value

    def _number(self, column: str, problems: list[Problem]) -> float | None:
        text = self.cells.get(column, "")
        if text == "":
            allowed = (
                'a number in mm; a row that was not measured is deleted; "none" for a wall that is missing'
            )
            problems.append(self.problem("missing-key", column, "the cell is empty", allowed))
            return None
        plain = text.replace(",", ".") if self.commas else text
        if not _NUMBER.fullmatch(plain):
            problems.append(
                self.problem("bad-number", column, "this is no plain number in mm", "such as 19.93")
            )
            return None
        return float(plain)


def _implausible(feature: Feature, value: float) -> tuple[str, str, str] | None:
    """Return code, message and allowed values for a reading that can't be one of the feature, or None."""
    nominal = feature.nominal
    bound = printer_rules()["gross_error"].value
    if not math.isfinite(value) or value <= 0:
        return "out-of-range", "a size is above zero", f"about {nominal:g} mm"
    if abs(value - nominal) <= bound and (nominal >= _LEAST_SLIP_SIZE or value >= nominal / 3):
        return None
    for factor, unit in (
        (1 / MM_PER_INCH, "inches"),
        (0.1, "centimetres"),
        (MM_PER_INCH, "mm as if they were inches"),
    ):
        if abs(value / nominal / factor - 1.0) <= max(_SLIP, bound / 3 / nominal):
            message = f"{value:g} is {nominal:g} mm in {unit}"
            return "bad-unit", message, f"mm, about {nominal:g}"
    message = f"{value:g} mm is {abs(value - nominal):.2f} mm off the drawn {nominal:g} mm; another feature was measured?"
    return "out-of-range", message, f"{max(nominal - bound, 0):g} to {nominal + bound:g} mm"
