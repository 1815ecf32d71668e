"""From readings on a tube to its openings, each with its plus-minus.

A wrapped strip reads the arc s = pi (D + t) theta / 360 on the strip's middle layer, D + t across; a caliper
reads the chord c = D sin(theta / 2) across the outside (plane geometry). Ranges are carried along by the root of
the summed squares of each reading's range times its slope (JCGM 100:2008 (GUM), 5.1.2).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, NoReturn

from msgspec import Struct

from chassis_gen.params.readings import averaged, read_numbers, refuse
from chassis_gen.problems import InputError, Problem, nearest_name

HOLE_KEYS = ("near", "far", "width", "arc", "arc_near", "arc_far", "chord", "chord_near", "chord_far", "mark")
AT_ODDS = 3.0
"""How many combined ranges two ways of measuring one thing may differ before that is an error."""


class Known(Struct, frozen=True):
    """A figure and its plus-minus, mm or degrees."""

    value: float
    range: float


class Outside(Struct, frozen=True):
    """The outside of the tube where a strip or a caliper is laid round it.

    Args:
        diameter: mm.
        paper: thickness of the strip, mm.
        accuracy: plus-minus of the caliper, mm.
        strip: plus-minus of an arc that is read on a strip, mm.
        length: of the tube, mm, or None where it isn't known.
    """

    diameter: Known
    paper: float
    accuracy: float
    strip: float
    length: float | None = None


class Hole(Struct, frozen=True):
    """An opening as it was measured.

    Args:
        name: the opening's.
        station: of its axis, mm.
        clock: of its axis, degrees; None where nothing was read round the tube.
        diameter: mm.
        remarks: what the readings don't agree in, though within what can be.
    """

    name: str
    station: Known
    clock: Known | None
    diameter: Known
    remarks: tuple[str, ...] = ()


def read_hole(option: str, outside: Outside) -> Hole:
    """Return an opening from a text such as ``button: near=111.9,112.0 far=124.1 arc=31.4``.

    ``near`` and ``far`` are the hole's edges from the mouth, ``width`` its diameter. Round the tube, from the
    mark to the hole's middle or its edges: ``arc`` on a wrapped strip, ``chord`` with a caliper. ``mark`` is the
    mark's clock (default 0).

    Args:
        option: the text.
        outside: the tube's outside.

    Raises:
        InputError: a key is unknown, readings are missing, impossible or at odds.
    """
    name, sign, rest = option.partition(":")
    name = name.strip()
    if not (sign and name and rest.strip()):
        refuse(
            "usage",
            "a name and readings are wanted",
            f'"{option}"',
            '--hole "button: near=111.9 far=124.1 arc=31.4"',
        )
    rows = _keyed(name, rest)
    accuracy, strip = outside.accuracy, outside.strip
    mark = read_numbers(rows.pop("mark", "0"), f"{name} mark", -360, 360, "deg")[0]
    found: dict[str, Known] = {}
    for key, text in rows.items():
        reading = averaged(
            read_numbers(text, f"{name} {key}", 0, 2000), strip if key.startswith("arc") else accuracy
        )
        found[key] = Known(reading.mean, reading.range)
    diameter, station = _along(name, found)
    ways = [_arc(name, found, diameter, outside), _chord(name, found, diameter, outside)]
    clocks = [w for w in ways if w is not None]
    clock = None
    if clocks:
        turned = _agreed(name, "clock by arc and by chord", clocks, "deg")
        clock = Known((mark + turned.value) % 360.0, turned.range)
    _check_place(name, station, diameter, outside)
    remarks = [_round(name, found, key, diameter, outside) for key in ("arc", "chord")]
    return Hole(name, station, clock, diameter, tuple(r for r in remarks if r))


def _check_place(name: str, station: Known, diameter: Known, outside: Outside) -> None:
    """Raise when a hole lies beyond the tube or is wider than it."""
    near, far = station.value - diameter.value / 2, station.value + diameter.value / 2
    slack = station.range + diameter.range / 2
    if outside.length is not None and (near < -slack or far > outside.length + slack):
        refuse("out-of-range", f"hole {name} reaches beyond the tube", f"{near:g} to {far:g} mm",
               f"within 0 to {outside.length:g} mm, the tube's length")  # fmt: skip
    if diameter.value >= outside.diameter.value:
        refuse("out-of-range", f"hole {name} is as wide as the tube", f"{diameter.value:g} mm",
               f"below its outside diameter of {outside.diameter.value:g} mm")  # fmt: skip


def _round(name: str, found: Mapping[str, Known], key: str, diameter: Known, outside: Outside) -> str:
    """Return how the hole's width round the tube differs from that along it, or nothing.

    Edges that an arc s apart on a strip, or a chord's angle, are OD sin(theta / 2) apart across (plane geometry).
    """
    near, far = found.get(f"{key}_near"), found.get(f"{key}_far")
    if near is None or far is None:
        return ""
    across = outside.diameter.value
    if key == "arc":
        half = (far.value - near.value) / (across + outside.paper)
    else:
        half = math.asin(far.value / across) - math.asin(near.value / across)
    if half <= 0.0:
        refuse("readings", f"hole {name} ends before it begins", f"{key}_near {near.value:g}, {key}_far {far.value:g} mm",
               f"{key}_far beyond {key}_near")  # fmt: skip
    width = Known(across * math.sin(half), math.hypot(near.range, far.range))
    _agreed(name, f"width round the tube by {key} and along it", (width, diameter), "mm")
    if abs(width.value - diameter.value) <= math.hypot(width.range, diameter.range):
        return ""
    return (
        f"hole {name}: {width.value:.2f} mm wide round the tube by its {key}s and {diameter.value:.2f} mm along it; "
        "the width along it is taken: measure again, or it isn't round"
    )


def _keyed(name: str, text: str) -> dict[str, str]:
    rows: dict[str, str] = {}
    for word in re.split(r"[;\s]+(?=\w+\s*=)|;", text.strip()):
        key, sign, value = word.partition("=")
        if not sign or key not in HOLE_KEYS:
            raise InputError([Problem("unknown-key", f"hole {name} has no such reading", value=f'"{word}"',
                                      allowed=", ".join(HOLE_KEYS), nearest=nearest_name(key, HOLE_KEYS))])  # fmt: skip
        if key in rows:
            refuse("duplicate-name", f"hole {name} has {key} twice", f'"{word}"', f"{key}=first,second")
        rows[key] = value
    return rows


def _along(name: str, found: Mapping[str, Known]) -> tuple[Known, Known]:
    """Return the hole's diameter and its station from readings along the tube."""
    near, far, width = (found.get(k) for k in ("near", "far", "width"))
    diameters = [width] if width else []
    if near and far:
        if far.value <= near.value:
            refuse(
                "readings",
                f"hole {name} ends before it begins",
                f"near {near.value:g}, far {far.value:g} mm",
                "far beyond near",
            )
        diameters.append(Known(far.value - near.value, math.hypot(near.range, far.range)))
    if not diameters or not (near or far):
        refuse("readings", f"hole {name} lacks readings along the tube", ", ".join(found) or "none",
               "near and far, or one of them and width")  # fmt: skip
    diameter = _agreed(name, "diameter by width and by its edges", diameters, "mm")
    if near and far:
        return diameter, Known((near.value + far.value) / 2, math.hypot(near.range, far.range) / 2)
    edge = near or far
    assert edge is not None
    side = 1.0 if near else -1.0
    return diameter, Known(edge.value + side * diameter.value / 2, math.hypot(edge.range, diameter.range / 2))


def _arc(name: str, found: Mapping[str, Known], diameter: Known, outside: Outside) -> Known | None:
    """Return the clock from the mark by readings on a wrapped strip, degrees."""
    across = outside.diameter.value + outside.paper

    def turned(reading: Known) -> Known:
        theta = 360.0 * reading.value / (math.pi * across)
        if theta > 360.0:
            _too_far(name, "arc", reading.value, math.pi * across)
        slopes = (360.0 / (math.pi * across) * reading.range, theta / across * outside.diameter.range)
        return Known(theta, math.hypot(*slopes))

    return _turn(found, "arc", turned, diameter, outside)


def _chord(name: str, found: Mapping[str, Known], diameter: Known, outside: Outside) -> Known | None:
    """Return the clock from the mark by straight readings across the outside, degrees."""
    across = outside.diameter.value

    def turned(reading: Known) -> Known:
        share = reading.value / across
        if share >= 1.0:
            _too_far(name, "chord", reading.value, across)
        slope = 2.0 / math.sqrt(1.0 - share**2)
        ranges = (slope / across * reading.range, slope * share / across * outside.diameter.range)
        return Known(math.degrees(2.0 * math.asin(share)), math.degrees(math.hypot(*ranges)))

    return _turn(found, "chord", turned, diameter, outside)


def _turn(found: Mapping[str, Known], key: str, turned: Any, hole: Known, outside: Outside) -> Known | None:
    """Return the clock of a hole's middle from readings to its middle or its edges."""
    middle, near, far = (found.get(k) for k in (key, f"{key}_near", f"{key}_far"))
    half = Known(0.0, 0.0)
    if (near or far) and hole.value < outside.diameter.value:
        share = hole.value / outside.diameter.value
        slope = 1.0 / math.sqrt(1.0 - share**2) / outside.diameter.value
        half = Known(math.degrees(math.asin(share)), math.degrees(slope * hole.range))
    if middle:
        known: Known = turned(middle)
        return known
    if near and far:
        a, b = turned(near), turned(far)
        return Known((a.value + b.value) / 2, math.hypot(a.range, b.range) / 2)
    if near or far:
        edge = turned(near or far)
        side = 1.0 if near else -1.0
        return Known(edge.value + side * half.value, math.hypot(edge.range, half.range))
    return None


def _agreed(name: str, what: str, ways: Sequence[Known], unit: str) -> Known:
    """Return the weighted mean of ways to measure one thing, weights by the squares of their ranges."""
    if len(ways) == 1:
        return ways[0]
    apart = max(w.value for w in ways) - min(w.value for w in ways)
    together = math.hypot(*(w.range for w in ways))
    if apart > AT_ODDS * together:
        shown = " and ".join(f"{w.value:.2f}" for w in ways)
        refuse("readings", f"hole {name}: its {what} are at odds", f"{shown} {unit}",
               f"within {AT_ODDS * together:.2f} {unit}; measure again")  # fmt: skip
    weights = [1.0 / max(w.range, 1e-9) ** 2 for w in ways]
    mean = math.fsum(w * k.value for w, k in zip(weights, ways, strict=True)) / math.fsum(weights)
    return Known(mean, 1.0 / math.sqrt(math.fsum(weights)))


def _too_far(name: str, what: str, value: float, most: float) -> NoReturn:
    refuse(
        "readings",
        f"hole {name}: the {what} doesn't fit round the tube",
        f"{value:g} mm",
        f"below {most:.2f} mm",
    )
