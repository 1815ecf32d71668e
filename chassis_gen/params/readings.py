"""Caliper readings: several of one size become a mean, a spread and a tolerance that covers them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import NoReturn

from msgspec import Struct

from chassis_gen.params.quantities import DIMENSIONS, Quantity
from chassis_gen.problems import InputError, Problem

ACCURACY = 0.03
"""Plus-minus of a workshop caliper, mm: ISO 13385-1 sets no limits; common data sheets say 0.02 to 0.03."""
MOST_ACCURACY = 5.0
"""Largest plus-minus that a reading is taken with, mm (chosen)."""
MOST_READINGS = 200
DECIMALS = 4
"""Figures are rounded to 0.1 um, far below what a caliper shows."""
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")

_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+\s*[A-Za-z\"]+")
"""Two whole numbers of which only the last has a unit: a decimal comma rather than two readings."""


class Averaged(Struct, frozen=True):
    """What several readings of one size say.

    Args:
        mean: mm, or the readings' own unit.
        spread: largest less smallest.
        tolerance: plus-minus that covers every reading and the instrument.
        readings: as they were read.
    """

    mean: float
    spread: float
    tolerance: float
    readings: tuple[float, ...]

    @property
    def range(self) -> float:
        """Return the plus-minus of the mean: half the spread over the root of the count, and the instrument."""
        half = self.spread / 2 / math.sqrt(len(self.readings))
        return math.hypot(half, self.tolerance - max(abs(r - self.mean) for r in self.readings))


def averaged(readings: Sequence[float], accuracy: float = ACCURACY) -> Averaged:
    """Return the mean of readings with what they leave open.

    Args:
        readings: at least one.
        accuracy: plus-minus of the instrument, same unit.
    """
    mean = math.fsum(readings) / len(readings)
    far = max(abs(r - mean) for r in readings)
    spread = max(readings) - min(readings)
    return Averaged(
        round(mean, DECIMALS), round(spread, DECIMALS), round(far + accuracy, DECIMALS), tuple(readings)
    )


def read_numbers(text: str, what: str, low: float, high: float, unit: str = "mm") -> tuple[float, ...]:
    """Return the readings of a text such as ``32.1,32.0,32.2``.

    Args:
        text: numbers with decimal points, parted by commas; each may carry a unit, such as ``1.26 in``.
        what: what they are readings of, for messages.
        low: smallest value that is possible.
        high: largest.
        unit: for messages.

    Raises:
        InputError: a reading is no number, or out of range, or there are too many.
    """
    if _DECIMAL_COMMA.fullmatch(text.strip()):
        refuse("bad-number", f"a reading of {what}: a decimal comma is not understood", f'"{text.strip()[:40]}"',
               _wanted(unit))  # fmt: skip
    found = []
    parts = [p.strip() for p in text.split(",")]
    if len(parts) > MOST_READINGS:
        refuse("readings", f"too many readings of {what}", f"{len(parts)}", f"at most {MOST_READINGS}")
    for part in parts:
        value = float(part) if _NUMBER.fullmatch(part) else _converted(part, what, unit)
        if not low <= value <= high:
            refuse("out-of-range", f"a reading of {what} is out of range", f"{part} {unit}",
                   f"{low:g} to {high:g} {unit}")  # fmt: skip
        found.append(value)
    return tuple(found)


def checked_accuracy(value: float | None, key: str = "--accuracy") -> float:
    """Return the plus-minus of an instrument, mm; the usual caliper's where none is given.

    Args:
        value: as given, or None.
        key: the option, for the message.

    Raises:
        InputError: it isn't above nothing, or more than any instrument's.
    """
    if value is None:
        return ACCURACY
    if not 0.0 < value <= MOST_ACCURACY:
        refuse(
            "out-of-range", "the number is out of range", f"{value:g}", f"0 < mm <= {MOST_ACCURACY:g}", key
        )
    return value


def _wanted(unit: str) -> str:
    return (
        f"numbers with a decimal point in {unit} or with a unit, parted by commas, such as 32.1,32.0,1.26 in"
    )


def _converted(text: str, what: str, unit: str) -> float:
    """Return a reading that carries a unit.

    Raises:
        InputError: it is no number, or its unit isn't known.
    """
    from pydantic_core import PydanticCustomError

    wanted = _wanted(unit)
    if unit not in DIMENSIONS:
        refuse("bad-number", f"a reading of {what} is no number", f'"{text[:40]}"', f"numbers of {unit}")
    try:
        return Quantity(unit, -1e9, 1e9).read(text)
    except PydanticCustomError as error:
        (why, *_) = (error.context or {})["rejections"]
        if why.code == "bad-unit":
            refuse("bad-unit", f"a reading of {what}: {why.message}", f'"{text[:40]}"',
                   f"{wanted}; units: {', '.join(DIMENSIONS[unit].units)}")  # fmt: skip
        refuse("bad-number", f"a reading of {what} is no number", f'"{text[:40]}"', wanted)


def named(options: Sequence[str], key: str, example: str) -> Mapping[str, str]:
    """Return options of the form ``name=text`` as a mapping.

    Args:
        options: as given.
        key: the option's name, for messages.
        example: of such an option.

    Raises:
        InputError: one has no name or no text, or two have one name.
    """
    found: dict[str, str] = {}
    for option in options:
        name, sign, text = option.partition("=")
        name, text = name.strip(), text.strip()
        if not (sign and name and text):
            refuse("usage", "a name and readings are wanted", f'"{option}"', f"{key} {example}", key)
        if name in found:
            refuse("duplicate-name", "given twice", f'"{name}"', f"all its readings in one {key}", key)
        found[name] = text
    return found


def refuse(code: str, message: str, value: str, allowed: str, key: str | None = None) -> NoReturn:
    """Raise that readings can't be taken as they are.

    Args:
        code: of the problem.
        message: what is wrong.
        value: what was given.
        allowed: what is wanted.
        key: the option that it was given by.

    Raises:
        InputError: always.
    """
    raise InputError([Problem(code, message, key=key, value=value, allowed=allowed)])
