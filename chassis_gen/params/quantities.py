"""Numbers with a unit: plain numbers in the project's units, or text that carries another unit.

The project's units are mm, degrees, grams, newtons, volts, amperes, ohms, watts and hertz. A text such
as ``"3/16 in"`` is converted by pint, which is imported only when a unit other than those occurs.
"""

from __future__ import annotations

import functools
import math
import re
from fractions import Fraction
from typing import Annotated, Any

from msgspec import Struct
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from chassis_gen.params.codes import Rejection, kind_text, number_text, rejected
from chassis_gen.problems import nearest_name

_DECIMAL = r"(?:\d{1,40}(?:\.\d{0,40})?|\.\d{1,40})(?:[eE][+-]?\d{1,2})?"
_NUMBER = re.compile(
    rf"\s*(?P<sign>[+-]?)\s*(?:(?:(?P<whole>\d{{1,40}})(?:\s+|-))?(?P<top>\d{{1,40}})\s*/\s*(?P<bottom>\d{{1,40}})"
    rf"|(?P<decimal>{_DECIMAL}))",
    re.ASCII,
)
_UNIT = re.compile(r"[A-Za-zµμΩ]{1,30}")
_SIGNS = {'"': "in", "″": "in", "°": "deg", "Ω": "ohm", "µm": "um", "μm": "um"}


class Dimension(Struct, frozen=True):
    """What a unit measures, in words, with the unit names offered for a misspelt one.

    Args:
        name: what is measured, with its article.
        units: usual units of it, the project's own first.
        example: a text with another unit that would be accepted.
        only_these: whether no other units are taken, because pint counts angles as plain numbers and
            would take a percentage for an angle and revolutions for radians.
    """

    name: str
    units: tuple[str, ...]
    example: str
    only_these: bool = False


DIMENSIONS: dict[str, Dimension] = {
    "mm": Dimension("a length", ("mm", "millimeter", "cm", "m", "um", "in", "inch", "ft", "thou"), "0.5 in"),
    "deg": Dimension("an angle", ("deg", "degree", "degrees", "rad", "turn", "arcmin"), "0.25 turn", True),
    "g": Dimension("a mass", ("g", "gram", "kg", "mg", "oz", "lb"), "0.05 kg"),
    "N": Dimension("a force", ("N", "newton", "kN", "mN", "lbf"), "300 mN"),
    "V": Dimension("a voltage", ("V", "volt", "mV"), "3700 mV"),
    "A": Dimension("a current", ("A", "ampere", "amp", "mA"), "500 mA"),
    "ohm": Dimension("a resistance", ("ohm", "ohms", "kohm", "mohm"), "120 mohm"),
    "W": Dimension("a power", ("W", "watt", "mW"), "500 mW"),
    "Hz": Dimension("a frequency", ("Hz", "hertz", "kHz", "MHz"), "1.2 kHz", True),
}


class Quantity(Struct, frozen=True):
    """The unit and range of a number; put it into ``Annotated[float, ...]``.

    Args:
        unit: one of the project's units, a key of `DIMENSIONS`.
        low: smallest allowed value, in the unit.
        high: largest allowed value, in the unit.
        low_excluded: whether `low` itself is not allowed.
    """

    unit: str
    low: float
    high: float
    low_excluded: bool = False

    @property
    def allowed(self) -> str:
        """Return the allowed range as text, such as ``0 < mm <= 2000``."""
        sign = "<" if self.low_excluded else "<="
        return f"{number_text(self.low)} {sign} {self.unit} <= {number_text(self.high)}"

    @property
    def wanted(self) -> str:
        """Return range and form as text, for values that are no number in the unit at all."""
        example = DIMENSIONS[self.unit].example
        return f'{self.allowed}, as a number in {self.unit} or as text with a unit such as "{example}"'

    def read(self, value: Any) -> float:
        """Return a value from a file as a number in the unit.

        Args:
            value: a number in the unit, or text with a unit.

        Raises:
            PydanticCustomError: with a `Rejection`, if it is neither, or not finite, or out of range.
        """
        if isinstance(value, str):
            converted = _converted(value, self)
            return self._bounded(converted, f"{number_text(float(converted))} {self.unit}")
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            name = DIMENSIONS[self.unit].name
            raise rejected(Rejection("wrong-type", f"{kind_text(value)} where {name} is wanted", self.wanted))
        return self._bounded(value, "the number")

    def _bounded(self, value: float | Fraction, subject: str) -> float:
        if isinstance(value, float) and not math.isfinite(value):
            raise rejected(Rejection("not-finite", "the number is not finite", self.allowed))
        # compared before conversion to float: whole numbers may be beyond the largest float
        if not self.low <= value <= self.high or (self.low_excluded and value == self.low):
            raise rejected(Rejection("out-of-range", f"{subject} is out of range", self.allowed))
        return float(value)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return the schema by which pydantic reads the number."""
        return core_schema.no_info_plain_validator_function(
            self.read,
            serialization=core_schema.plain_serializer_function_ser_schema(
                float, return_schema=handler(source)
            ),
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Return the JSON Schema: a bounded number, or text with a unit."""
        dimension = DIMENSIONS[self.unit]
        low = "exclusiveMinimum" if self.low_excluded else "minimum"
        # units stand in the alternatives too, where a field's own description does not replace them
        number = {"type": "number", low: self.low, "maximum": self.high, "description": f"in {self.unit}"}
        text = {"type": "string", "description": f'with a unit, such as "{dimension.example}"'}
        return {"anyOf": [number, text], "description": f"{dimension.name}, {self.allowed}"}


def quantity(unit: str, low: float, high: float, *, positive: bool = False) -> Quantity:
    """Return the metadata that makes ``Annotated[float, quantity(...)]`` a number with a unit.

    Args:
        unit: one of the project's units, a key of `DIMENSIONS`.
        low: smallest allowed value, in the unit; ignored where `positive`.
        high: largest allowed value, in the unit.
        positive: whether only values above zero are allowed.

    Raises:
        ValueError: if the unit is not one of the project's, or the range is empty or not finite.
    """
    if unit not in DIMENSIONS:
        raise ValueError(f"{unit} is not one of {', '.join(DIMENSIONS)}")
    lowest = 0.0 if positive else low
    if not (math.isfinite(lowest) and math.isfinite(high) and lowest < high):
        raise ValueError(f"the range from {lowest} to {high} is empty or not finite")
    return Quantity(unit, lowest, high, positive)


def _converted(text: str, wanted: Quantity) -> Fraction:
    """Return a text with a unit, exactly, in the wanted unit."""
    number, rest = _number(text, wanted)
    unit = _SIGNS.get(rest, rest)
    dimension = DIMENSIONS[wanted.unit]
    if not unit:
        raise rejected(
            Rejection("bad-unit", "the unit is missing", wanted.wanted, f"{text.strip()} {wanted.unit}")
        )
    if unit == wanted.unit:
        return number
    factor = _factor(unit, wanted.unit) if _UNIT.fullmatch(unit) else None
    if factor is None:
        nearest = nearest_name(unit, dimension.units)
        raise rejected(
            Rejection("bad-unit", f'the unit "{unit[:30]}" is unknown', _with_units(wanted), nearest)
        )
    if factor == 0:
        message = f'the unit "{unit}" does not measure {dimension.name}'
        raise rejected(Rejection("bad-unit", message, _with_units(wanted)))
    return number * factor


def _with_units(wanted: Quantity) -> str:
    """Return range and form as text, with the usual units by name."""
    return f"{wanted.wanted}; units: {', '.join(DIMENSIONS[wanted.unit].units)}"


def _number(text: str, wanted: Quantity) -> tuple[Fraction, str]:
    """Return the number a text begins with, and what follows it."""
    found = _NUMBER.match(text)
    if found is None:
        raise rejected(Rejection("bad-number", "the text does not begin with a number", wanted.wanted))
    rest = text[found.end() :].strip()
    if re.match(r",\d", rest):
        message = "a decimal comma is not understood"
        raise rejected(Rejection("bad-number", message, wanted.wanted, text.replace(",", ".", 1).strip()))
    if rest[:1].isdigit() or rest[:1] in ("/", ".", "-", "+"):
        raise rejected(Rejection("bad-number", "the number cannot be read", wanted.wanted))
    sign = -1 if found["sign"] == "-" else 1
    if found["decimal"] is not None:
        return sign * Fraction(_decimal(found["decimal"])), rest
    if int(found["bottom"]) == 0:
        raise rejected(Rejection("bad-number", "the fraction divides by zero", wanted.wanted))
    return sign * (int(found["whole"] or 0) + Fraction(int(found["top"]), int(found["bottom"]))), rest


def _decimal(text: str) -> str:
    """Return decimal digits in the form that `Fraction` reads."""
    mantissa, _, exponent = text.lower().partition("e")
    return f"{mantissa.rstrip('.')}e{exponent or 0}"


@functools.cache
def _factor(unit: str, wanted: str) -> Fraction | None:
    """Return the exact factor between two units: None if unknown, 0 if the unit measures another thing."""
    registry = _registry()
    dimension = DIMENSIONS[wanted]
    try:
        if unit not in registry:
            return None
        if dimension.only_these and unit not in dimension.units:
            return Fraction(0)
        return Fraction(registry.Quantity(1, unit).to(wanted).magnitude)
    except TypeError:
        # so pint says that units measure different things, and that decibels are none to multiply with
        return Fraction(0)
    except ValueError:
        # "nan" reaches pint's number reader
        return None


@functools.cache
def _registry() -> Any:
    """Return pint's unit registry, which calculates in fractions so that 3/16 in is exactly 4.7625 mm."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


Length = Annotated[float, quantity("mm", -2000, 2000)]
PositiveLength = Annotated[float, quantity("mm", 0, 2000, positive=True)]
NonNegativeLength = Annotated[float, quantity("mm", 0, 2000)]
Angle = Annotated[float, quantity("deg", -360, 360)]
Mass = Annotated[float, quantity("g", 0, 20_000)]
Force = Annotated[float, quantity("N", 0, 10_000)]
Voltage = Annotated[float, quantity("V", 0, 60)]
Current = Annotated[float, quantity("A", 0, 100)]
Resistance = Annotated[float, quantity("ohm", 0, 10_000_000)]
Power = Annotated[float, quantity("W", 0, 1000)]
Frequency = Annotated[float, quantity("Hz", 0, 10_000_000)]
