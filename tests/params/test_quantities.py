"""Numbers with units: exact conversions, and a clear word for everything else."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from chassis_gen.params.codes import CODES, Rejection
from chassis_gen.params.quantities import (
    DIMENSIONS,
    Angle,
    Current,
    Force,
    Frequency,
    Length,
    Mass,
    PositiveLength,
    Power,
    Resistance,
    Voltage,
    quantity,
)
from tests.params.models import Build

# The inch is 25.4 mm, the pound 453.59237 g (international yard and pound agreement, 1959); standard
# gravity 9.80665 m/s2 (3rd CGPM, 1901), so that 1 lbf = 4.4482216152605 N.
GOOD: list[tuple[Any, Any, float]] = [
    (Length, 12, 12.0),
    (Length, -3.5, -3.5),
    (Length, "12 mm", 12.0),
    (Length, "12mm", 12.0),
    (Length, " 0.2 cm ", 2.0),
    (Length, "0.5 in", 12.7),
    (Length, "-0.5 inch", -12.7),
    (Length, "3/16 in", 4.7625),
    (Length, "1 1/2 in", 38.1),
    (Length, "1-1/2 in", 38.1),
    (Length, '1 / 2"', 12.7),
    (Length, ".25 in", 6.35),
    (Length, "5e-2 m", 50.0),
    (Length, "1 ft", 304.8),
    (Length, "10 thou", 0.254),
    (Length, "150 µm", 0.15),
    (Angle, "90°", 90.0),
    (Angle, "0.25 turn", 90.0),
    (Angle, "1 rad", 180 / math.pi),
    (Mass, "0.05 kg", 50.0),
    (Mass, "1 lb", 453.59237),
    (Force, "1 lbf", 4.4482216152605),
    (Voltage, "3700 mV", 3.7),
    (Current, "500 mA", 0.5),
    (Resistance, "120 mΩ", 0.12),
    (Resistance, "4 Ω", 4.0),
    (Power, "500 mW", 0.5),
    (Frequency, "1.2 kHz", 1200.0),
]


@pytest.mark.parametrize(("kind", "value", "expected"), GOOD, ids=[str(g[1]) for g in GOOD])
def test_accepted_values(kind: Any, value: Any, expected: float) -> None:
    read = TypeAdapter(kind).validate_python(value)
    assert type(read) is float
    assert read == expected


RANGE = "0 < mm <= 2000"
WANTED = f'{RANGE}, as a number in mm or as text with a unit such as "0.5 in"'
UNITS = f"{WANTED}; units: mm, millimeter, cm, m, um, in, inch, ft, thou"
BAD: list[tuple[Any, Rejection]] = [
    (True, Rejection("wrong-type", "a boolean where a length is wanted", WANTED)),
    ([1], Rejection("wrong-type", "a list where a length is wanted", WANTED)),
    (0, Rejection("out-of-range", "the number is out of range", RANGE)),
    (2000.5, Rejection("out-of-range", "the number is out of range", RANGE)),
    (10**400, Rejection("out-of-range", "the number is out of range", RANGE)),
    (math.nan, Rejection("not-finite", "the number is not finite", RANGE)),
    (-math.inf, Rejection("not-finite", "the number is not finite", RANGE)),
    ("-1 in", Rejection("out-of-range", "-25.4 mm is out of range", RANGE)),
    ("9e99 Mm", Rejection("out-of-range", "9e+108 mm is out of range", RANGE)),
    ("12", Rejection("bad-unit", "the unit is missing", WANTED, "12 mm")),
    ("12 inc", Rejection("bad-unit", 'the unit "inc" is unknown', UNITS, "inch")),
    ("12 MM", Rejection("bad-unit", 'the unit "MM" does not measure a length', UNITS)),
    ("1 mil", Rejection("bad-unit", 'the unit "mil" does not measure a length', UNITS)),
    ("5 V", Rejection("bad-unit", 'the unit "V" does not measure a length', UNITS)),
    ("5 nan", Rejection("bad-unit", 'the unit "nan" is unknown', UNITS)),
    ("5 dBm", Rejection("bad-unit", 'the unit "dBm" does not measure a length', UNITS)),
    ("5 mm**2", Rejection("bad-unit", 'the unit "mm**2" is unknown', UNITS, "mm")),
    ("5 mm mm", Rejection("bad-unit", 'the unit "mm mm" is unknown', UNITS, "mm")),
    ("12,5 mm", Rejection("bad-number", "a decimal comma is not understood", WANTED, "12.5 mm")),
    ("1 000 mm", Rejection("bad-number", "the number cannot be read", WANTED)),
    ("1e400 mm", Rejection("bad-number", "the number cannot be read", WANTED)),
    ("3//16 in", Rejection("bad-number", "the number cannot be read", WANTED)),
    ("3/0 in", Rejection("bad-number", "the fraction divides by zero", WANTED)),
    ("half an inch", Rejection("bad-number", "the text does not begin with a number", WANTED)),
    ("", Rejection("bad-number", "the text does not begin with a number", WANTED)),
    ("nan mm", Rejection("bad-number", "the text does not begin with a number", WANTED)),
]


def rejections(kind: Any, value: Any) -> tuple[Rejection, ...]:
    with pytest.raises(ValidationError) as caught:
        TypeAdapter(kind).validate_python(value)
    (entry,) = caught.value.errors()
    found: tuple[Rejection, ...] = entry["ctx"]["rejections"]
    return found


@pytest.mark.parametrize(("value", "expected"), BAD, ids=[str(b[0])[:20] for b in BAD])
def test_rejected_values(value: Any, expected: Rejection) -> None:
    assert rejections(PositiveLength, value) == (expected,)


@pytest.mark.parametrize("text", ["50 percent", "2 rpm", "1 count"])
def test_plain_counts_are_no_angles_or_frequencies(text: str) -> None:
    assert rejections(Angle, text)[0].code == "bad-unit"
    assert rejections(Frequency, text)[0].code == "bad-unit"


def test_usual_units_of_each_dimension_are_understood() -> None:
    for unit, dimension in DIMENSIONS.items():
        kind = quantity(unit, -1e12, 1e12)
        assert all(math.isfinite(kind.read(f"1 {name}")) for name in dimension.units)
        assert math.isfinite(kind.read(dimension.example))


def test_a_quantity_needs_a_known_unit_and_a_range() -> None:
    with pytest.raises(ValueError, match="furlong is not one of mm, deg"):
        quantity("furlong", 0, 1)
    with pytest.raises(ValueError, match="empty or not finite"):
        quantity("mm", 0, math.inf)


def test_json_schema_states_unit_and_range() -> None:
    wall = Build.model_json_schema()["$defs"]["Tube"]["properties"]["wall"]
    assert wall == {
        "title": "Wall",
        "default": 1.5,
        "description": "a length, 0 < mm <= 2000",
        "anyOf": [
            {"type": "number", "exclusiveMinimum": 0.0, "maximum": 2000, "description": "in mm"},
            {"type": "string", "description": 'with a unit, such as "0.5 in"'},
        ],
    }


@given(st.fractions(min_value=Fraction(1, 64), max_value=78, max_denominator=64))
def test_inch_fractions_are_the_nearest_float_of_the_exact_value(inches: Fraction) -> None:
    read = TypeAdapter(PositiveLength).validate_python(f"{inches.numerator}/{inches.denominator} in")
    assert read == float(inches * Fraction(254, 10))


@settings(max_examples=200, deadline=None)
@given(st.one_of(st.text(max_size=12), st.from_regex(r"\A[-+]?[0-9./e ]{0,8} ?[A-Za-z\"°µ]{0,5}\Z")))
def test_any_text_gives_a_length_in_range_or_a_known_code(text: str) -> None:
    try:
        assert -2000 <= TypeAdapter(Length).validate_python(text) <= 2000
    except ValidationError as error:
        assert all(r.code in CODES for e in error.errors() for r in e["ctx"]["rejections"])
