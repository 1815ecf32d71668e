"""From readings on a tube to its bores and openings, each with its plus-minus.

A wrapped strip reads the arc s = pi (D + t) theta / 360 on the strip's middle layer, D + t across; a caliper
reads the chord c = D sin(theta / 2) across the outside (plane geometry). Ranges are carried along by the root of
the summed squares of each reading's range times its slope (JCGM 100:2008 (GUM), 5.1.2).
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, NoReturn

from msgspec import Struct

from chassis_gen.params.readings import Averaged, averaged, read_numbers
from chassis_gen.problems import InputError, Problem, nearest_name

HOLE_KEYS = ("near", "far", "width", "arc", "arc_near", "arc_far", "chord", "chord_near", "chord_far", "mark")
AT_ODDS = 3.0
"""How many combined ranges two ways of measuring one thing may differ before that is an error."""
_DECIMALS = 4
_QUARTER_SLACK = 15.0
"""How far two angles may be from a quarter turn apart and still show the ovality between them, degrees (chosen)."""


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


class BoreForm(Struct, frozen=True):
    """A stretch of bore as it was measured.

    Args:
        z0: station where it begins, mm.
        z1: where it ends, mm.
        diameter: mean round the bore at mid-length, mm.
        tolerance: plus-minus of the mean round the bore anywhere in the stretch, mm.
        ovality: largest less smallest diameter across one place, mm.
        taper: mean diameter at its far end less at its near end, mm.
        turns: True when it was read at more than one angle.
        depths: how many depths were read.
        taper_range: plus-minus of the taper, mm.
        doubt: what the readings can't tell, or empty.
    """

    z0: float
    z1: float
    diameter: float
    tolerance: float
    ovality: float
    taper: float
    turns: bool
    depths: int
    taper_range: float = 0.0
    doubt: str = ""


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
        _raise(
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
        _raise("out-of-range", f"hole {name} reaches beyond the tube", f"{near:g} to {far:g} mm",
               f"within 0 to {outside.length:g} mm, the tube's length")  # fmt: skip
    if diameter.value >= outside.diameter.value:
        _raise("out-of-range", f"hole {name} is as wide as the tube", f"{diameter.value:g} mm",
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
        _raise("readings", f"hole {name} ends before it begins", f"{key}_near {near.value:g}, {key}_far {far.value:g} mm",
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
            _raise("duplicate-name", f"hole {name} has {key} twice", f'"{word}"', f"{key}=first,second")
        rows[key] = value
    return rows


def _along(name: str, found: Mapping[str, Known]) -> tuple[Known, Known]:
    """Return the hole's diameter and its station from readings along the tube."""
    near, far, width = (found.get(k) for k in ("near", "far", "width"))
    diameters = [width] if width else []
    if near and far:
        if far.value <= near.value:
            _raise(
                "readings",
                f"hole {name} ends before it begins",
                f"near {near.value:g}, far {far.value:g} mm",
                "far beyond near",
            )
        diameters.append(Known(far.value - near.value, math.hypot(near.range, far.range)))
    if not diameters or not (near or far):
        _raise("readings", f"hole {name} lacks readings along the tube", ", ".join(found) or "none",
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
        _raise("readings", f"hole {name}: its {what} are at odds", f"{shown} {unit}",
               f"within {AT_ODDS * together:.2f} {unit}; measure again")  # fmt: skip
    weights = [1.0 / max(w.range, 1e-9) ** 2 for w in ways]
    mean = math.fsum(w * k.value for w, k in zip(weights, ways, strict=True)) / math.fsum(weights)
    return Known(mean, 1.0 / math.sqrt(math.fsum(weights)))


def read_bores(
    options: Sequence[str], shoulders: Sequence[float], length: float, accuracy: float
) -> tuple[BoreForm, ...]:
    """Return the stretches of bore from texts such as ``0@90=40.02,40.03`` (depth @ angle = readings).

    Args:
        options: the texts.
        shoulders: stations where a further stretch begins, mm.
        length: of the segment, mm.
        accuracy: plus-minus of the instrument, mm.

    Raises:
        InputError: a text can't be read, a depth lies outside the tube, or a stretch has no reading.
    """
    read: dict[tuple[float, float], Averaged] = {}
    for option in options:
        place, sign, text = option.partition("=")
        depth_text, at, angle_text = place.partition("@")
        if not (sign and depth_text.strip() and text.strip()):
            _raise("usage", "depth, angle and readings are wanted", f'"{option}"', "--bore 20@90=40.02,40.03")
        depth = read_numbers(depth_text.strip(), "a depth", 0, length)[0]
        angle = read_numbers(angle_text.strip() or "0", "an angle", -360, 360, "deg")[0] if at else 0.0
        if (depth, angle % 180.0) in read:
            _raise(
                "duplicate-name",
                "one place in the bore is given twice",
                f'"{option}"',
                "all its readings in one --bore",
            )
        read[depth, angle % 180.0] = averaged(
            read_numbers(text, f"the bore at depth {depth:g}", 5, 300), accuracy
        )
    edges = [0.0, *sorted(shoulders), length]
    if any(b <= a for a, b in itertools.pairwise(edges)):
        _raise(
            "out-of-range",
            "a shoulder lies outside the tube, or two are one",
            ", ".join(f"{s:g}" for s in shoulders),
            f"between 0 and {length:g} mm",
        )
    return tuple(_stretch(read, a, b, b == length) for a, b in itertools.pairwise(edges))


def _stretch(read: Mapping[tuple[float, float], Averaged], z0: float, z1: float, last: bool) -> BoreForm:
    here = {k: a for k, a in read.items() if z0 <= k[0] < z1 or (last and k[0] == z1)}
    if not here:
        _raise("readings", "a stretch of bore has no reading", f"{z0:g} to {z1:g} mm", f"--bore {z0:g}@0=...")
    depths = sorted({d for d, _ in here})
    angles = sorted({a for _, a in here})
    form = _form(here, depths, angles, z0, z1)
    rows = [[a.mean for (d, _), a in here.items() if d == depth] for depth in depths]
    ovality = max(form.ovality, *(max(row) - min(row) for row in rows))
    return BoreForm(
        z0, z1, round(form.mean, _DECIMALS), round(form.tolerance, _DECIMALS), round(ovality, _DECIMALS),
        round(form.taper, _DECIMALS) + 0.0, len(angles) > 1, len(depths), round(form.taper_range, _DECIMALS), form.doubt,
    )  # fmt: skip


class _Form(Struct, frozen=True):
    """Mean at mid-length, its plus-minus, ovality and taper of a stretch, mm."""

    mean: float
    tolerance: float
    ovality: float
    taper: float
    taper_range: float = 0.0
    doubt: str = ""


def _form(
    here: Mapping[tuple[float, float], Averaged],
    depths: Sequence[float],
    angles: Sequence[float],
    z0: float,
    z1: float,
) -> _Form:
    """Return the form that fits the readings best: a mean, a taper along the axis and an ellipse round it.

    Least squares of D = mean + taper (z - middle) / length + p cos 2a + q sin 2a; a slightly oval bore follows
    cos 2(a - a0) to first order. From two angles only their difference is known, half of it either way. The
    plus-minus is the greatest of a reading's own, of what the fit leaves over, and of the fitted mean at middle
    and ends (reading's x sqrt(x' (X'X)^-1 x), JCGM 100:2008, H.3).
    """
    import numpy as np

    length = z1 - z0
    columns: list[Any] = [lambda z, a: 1.0]
    if len(depths) > 1:
        columns.append(lambda z, a: (z - (z0 + z1) / 2) / length)
    if len(angles) == 2:
        columns.append(lambda z, a: 0.5 if a == angles[0] else -0.5)
    elif len(angles) > 2:
        columns += [lambda z, a: math.cos(2 * math.radians(a)), lambda z, a: math.sin(2 * math.radians(a))]
    x = np.array([[c(z, a) for c in columns] for z, a in here])
    y = np.array([a.mean for a in here.values()])
    own = max(a.tolerance for a in here.values())
    if np.linalg.matrix_rank(x, tol=1e-6) < len(columns):
        return _unseparated(list(here), y.tolist(), own, depths, length)
    found = np.linalg.solve(x.T @ x, x.T @ y)
    spread = np.linalg.inv(x.T @ x)
    left = float(np.abs(y - x @ found).max())
    tapered = len(depths) > 1
    places = [[1.0, at] if tapered else [1.0] for at in (-0.5, 0.0, 0.5)]
    n = len(places[0])
    fitted = max(math.sqrt(float(np.array(p) @ spread[:n, :n] @ np.array(p))) for p in places)
    turned = [float(v) for v in found[n:]]
    doubt = ""
    if len(angles) == 2 and abs(angles[1] - angles[0] - 90.0) > _QUARTER_SLACK:
        doubt = (
            f"read at {angles[0]:g} and {angles[1]:g} deg only, which show a part of the ovality: "
            "read a quarter turn apart"
        )
    return _Form(
        float(found[0]),
        max(own, left, own * fitted),
        abs(turned[0]) if len(turned) == 1 else 2 * math.hypot(*turned) if turned else 0.0,
        float(found[1]) if tapered else 0.0,
        own * math.sqrt(float(spread[1, 1])) if tapered else 0.0,
        doubt,
    )


def _unseparated(
    places: Sequence[tuple[float, float]],
    means: Sequence[float],
    own: float,
    depths: Sequence[float],
    length: float,
) -> _Form:
    """Return the form where depth and angle changed together: all difference as ovality, and as wide a plus-minus.

    Were it all taper, the ends of the stretch would differ from the mean by half of it; the plus-minus covers that.
    """
    apart = max(means) - min(means)
    if_taper = apart / (depths[-1] - depths[0]) * length / 2
    read = ", ".join(f"{z:g}@{a:g}" for z, a in places)
    doubt = (
        f"depth and angle changed together ({read}), so that ovality and taper can't be told apart: taken as ovality, "
        "with a plus-minus that covers a taper as well; read one depth at two angles and one angle at two depths"
    )
    return _Form(math.fsum(means) / len(means), max(own, apart / 2, if_taper), apart, 0.0, 0.0, doubt)


def check_wall(outside: float, bores: Sequence[BoreForm]) -> None:
    """Raise when a bore is as wide as the outside of the tube.

    Args:
        outside: mean outside diameter, mm.
        bores: from `read_bores`.

    Raises:
        InputError: naming the first stretch where it is.
    """
    for b in bores:
        widest = b.diameter + (b.ovality + abs(b.taper)) / 2
        if widest >= outside:
            _raise("readings", f"the bore from station {b.z0:g} to {b.z1:g} is as wide as the tube's outside",
                   f"bore up to {widest:.2f}, outside {outside:.2f} mm", "a bore below the outside diameter")  # fmt: skip


def tube_values(
    length: float,
    outside: Averaged,
    bores: Sequence[BoreForm],
    holes: Sequence[Hole],
    material: str | None,
    title: str | None,
    source: str | None,
) -> dict[str, Any]:
    """Return the values of a tube file of one segment.

    Args:
        length: mm.
        outside: outside diameter.
        bores: from `read_bores`.
        holes: from `read_hole`.
        material: what the tube is made of, or None to keep what is there.
        title: one line, or None.
        source: who measured, or None.
    """
    segment: dict[str, Any] = {"name": "tube", "from_mouth": 0, "length": round(length, _DECIMALS)}
    if material:
        segment["material"] = material
    segment["outer"] = [{"from_mouth": 0, "diameter": outside.mean}]
    segment["bores"] = [
        {
            "from_mouth": b.z0,
            "diameter": b.diameter,
            "tolerance": b.tolerance,
            "ovality": b.ovality,
            "taper": b.taper,
        }
        for b in bores
    ]
    values: dict[str, Any] = {"title": title} if title else {}
    values["source"] = source or "measured with caliper and strip"
    values["segment"] = [segment]
    if holes:
        values["opening"] = [_opening(h) for h in holes]
    return values


def _opening(hole: Hole) -> dict[str, Any]:
    row: dict[str, Any] = {"name": hole.name, "from_mouth": round(hole.station.value, _DECIMALS)}
    row["from_mouth_tolerance"] = round(hole.station.range, _DECIMALS)
    if hole.clock is not None:
        row["clock_deg"] = round(hole.clock.value, _DECIMALS)
        row["clock_tolerance_deg"] = round(hole.clock.range, _DECIMALS)
    row["diameter"] = round(hole.diameter.value, _DECIMALS)
    row["diameter_tolerance"] = round(hole.diameter.range, _DECIMALS)
    return row


def _too_far(name: str, what: str, value: float, most: float) -> NoReturn:
    _raise(
        "readings",
        f"hole {name}: the {what} doesn't fit round the tube",
        f"{value:g} mm",
        f"below {most:.2f} mm",
    )


def _raise(code: str, message: str, value: str, allowed: str) -> NoReturn:
    raise InputError([Problem(code, message, value=value, allowed=allowed)])
