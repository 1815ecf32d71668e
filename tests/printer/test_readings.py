"""A sheet is read back as it was filled in, and every slip is named with its line, feature and column."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chassis_gen.printer.features import gauge_features
from chassis_gen.printer.readings import COLUMNS, has_readings, read_sheet, sheet_text
from chassis_gen.problems import InputError, Problem
from tests.printer.support import changed, readings, text_of


def problems(rows: list[dict[str, str]]) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as error:
        read_sheet(text_of(rows), "readings.csv")
    return error.value.problems


def line_of(feature: str) -> int:
    return list(gauge_features()).index(feature) + 2


def test_a_filled_in_sheet_reads_back() -> None:
    rows = readings(places=(1, 2))
    sheet = read_sheet(text_of(rows), "readings.csv")
    assert [(r.feature.number, f"{r.value:.2f}", str(r.place)) for r in sheet.readings] == [
        (r["feature"], r["reading_mm"], r["place"]) for r in rows
    ]


def test_semicolons_with_decimal_commas_are_the_same_sheet() -> None:
    rows = readings()
    plain, other = read_sheet(text_of(rows), "a"), read_sheet(text_of(rows, ";", comma=True), "a")
    assert plain == other


def test_the_empty_sheet_has_every_feature_once_per_place_and_no_reading() -> None:
    text = sheet_text((1, 2, 3, 4, 5))
    assert len(text.splitlines()) == 1 + 5 * len(gauge_features())
    assert text.splitlines()[0] == ",".join(COLUMNS)
    assert not has_readings(text)
    assert has_readings(text_of(readings()))
    assert has_readings("my own notes\n1,2\n")


@pytest.mark.parametrize(
    ("feature", "cells", "code", "column", "words"),
    [
        # 18 mm / 25.4 = 0.709 in; 24 mm = 2.40 cm.
        ("24", {"reading_mm": "0.709"}, "bad-unit", 4, "inches"),
        ("11", {"reading_mm": "0.114"}, "bad-unit", 4, "inches"),
        ("61", {"reading_mm": "0.016"}, "bad-unit", 4, "inches"),
        ("36", {"reading_mm": "2.40"}, "bad-unit", 4, "centimetres"),
        ("24", {"reading_mm": "about 18"}, "bad-number", 4, "no plain number"),
        ("24", {"reading_mm": "17,9"}, "bad-number", 4, "no plain number"),
        ("24", {"reading_mm": "nan"}, "bad-number", 4, "no plain number"),
        ("24", {"reading_mm": "-17.9"}, "out-of-range", 4, "above zero"),
        ("24", {"reading_mm": "12.0"}, "out-of-range", 4, "another feature"),
        ("24", {"reading_mm": ""}, "missing-key", 4, "empty"),
        ("24", {"reading_mm": "none"}, "bad-number", 4, "no plain number"),
        ("24", {"feature": "29"}, "unknown-name", 1, "no such feature"),
        ("24", {"kind": "outer"}, "not-allowed", 2, "of kind inner"),
        ("24", {"nominal_mm": "17.93"}, "not-allowed", 3, "drawn with 18 mm"),
        ("24", {"place": "6"}, "out-of-range", 5, "no such place"),
        ("24", {"feature": "23", "nominal_mm": "12", "reading_mm": "11.9"}, "duplicate-name", 1, "already"),
    ],
)
def test_slips_are_named_with_row_and_column(
    feature: str, cells: dict[str, str], code: str, column: int, words: str
) -> None:
    (found,) = problems(changed(readings(), feature, **cells))
    assert (found.code, found.file, found.line) == (code, "readings.csv", line_of(feature))
    assert found.message.startswith(f"column {column}: ")
    assert words in found.message


def test_all_slips_of_a_sheet_are_reported_together_in_the_order_of_its_lines() -> None:
    rows = changed(changed(readings(), "55", reading_mm="0.7087"), "12", reading_mm="x")
    assert [(p.line, p.code) for p in problems(rows)] == [
        (line_of("12"), "bad-number"),
        (line_of("55"), "bad-unit"),
    ]


def test_a_wall_may_be_missing_on_the_print() -> None:
    sheet = read_sheet(text_of(changed(readings(), "61", reading_mm="none")), "a")
    assert next(r for r in sheet.readings if r.feature.number == "61").value is None


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "missing-key"),
        (",".join(COLUMNS) + "\n", "missing-key"),
        ("feature,kind,nominal_mm,reading,place,note\n", "unknown-key"),
        ("feature,kind,kind,nominal_mm,reading_mm\n", "duplicate-key"),
    ],
)
def test_a_sheet_without_its_header_or_rows_is_refused(text: str, code: str) -> None:
    with pytest.raises(InputError) as error:
        read_sheet(text, "a")
    assert code in {p.code for p in error.value.problems}


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_but_never_a_traceback(text: str) -> None:
    has_readings(text)
    for sheet in (text, ",".join(COLUMNS) + "\n" + text):
        try:
            read_sheet(sheet, "a")
        except InputError:
            continue
