"""Fonts and shaping: a font file and a line of text become the glyphs' contours where they stand, in ems."""

from __future__ import annotations

import importlib.util
import itertools
import math
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import Struct

from chassis_gen.lettering.bidi import Run, visual_runs
from chassis_gen.problems import InputError, Problem
from chassis_gen.shapes.facets import Points

DEFAULT_FONT = "DejaVuSans-Bold.ttf"
"""Free font of the lettering where a build names none: even, wide strokes; Latin, Greek, Cyrillic, Hebrew, Arabic,
Armenian, Georgian and more. It comes with matplotlib, which the exact kernel's viewer library needs anyway."""
FLATNESS = 0.0015
"""Largest distance of a curve from its polygon, em: 0.015 mm at capitals of 7 mm (chosen)."""
_CAPITAL = 0.7
"""Height of capitals in a font that has no H, em (common practice, no source)."""
_COMMON = ("Zyyy", "Zinh", "Zzzz")
Point = tuple[float, float]


class Line(Struct, frozen=True):
    """A line of text as contours.

    Args:
        contours: closed paths, em.
        capital: height of the capital H, em.
        font: the font's full name.
    """

    contours: tuple[Points, ...]
    capital: float
    font: str


@lru_cache(maxsize=1)
def default_font() -> bytes:
    """Return the file of the font that is used where a build names none.

    Raises:
        InputError: the package that it comes with isn't installed.
    """
    found = importlib.util.find_spec("matplotlib")
    if found is not None and found.origin is not None:
        path = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / DEFAULT_FONT
        if path.is_file():
            return path.read_bytes()
    why = "the font that lettering uses by default isn't there"
    raise InputError([Problem("missing-library", why, allowed="install matplotlib, or name a font file")])


def shaped(font: bytes, text: str) -> Line:
    """Return a line of text as contours, in the order and with the forms of its scripts.

    Args:
        font: a TrueType or OpenType file.
        text: one line in logical order.

    Raises:
        InputError: the file is no font, it lacks a glyph, or nothing of the text can be seen.
    """
    import uharfbuzz as hb

    face = hb.Face(font)
    if face.glyph_count == 0 or not face.unicodes:
        why = "this is no TrueType or OpenType font"
        raise InputError([Problem("font-format", why, allowed="a .ttf, .otf or .ttc file")])
    made = hb.Font(face)
    em = float(face.upem)
    contours: list[Points] = []
    missing: list[str] = []
    at_x = at_y = 0.0
    for run, script in _script_runs(text):
        buffer = hb.Buffer()
        buffer.add_codepoints([ord(c) for c in text], run.start, run.end - run.start)
        buffer.direction = "rtl" if run.level % 2 else "ltr"
        buffer.script = script
        buffer.language = "und"
        hb.shape(made, buffer, {})
        for info, place in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            if info.codepoint == 0:
                missing.append(text[info.cluster])
            pen = _Pen(em, (at_x + place.x_offset) / em, (at_y + place.y_offset) / em)
            made.draw_glyph_with_pen(info.codepoint, pen)
            contours += pen.contours
            at_x += place.x_advance
            at_y += place.y_advance
    if missing:
        raise InputError([_missing(c) for c in dict.fromkeys(missing)])
    if not contours:
        raise InputError([Problem("not-allowed", "nothing of this text can be seen", allowed="letters")])
    return Line(tuple(contours), _capital(made, em), _name(face))


def _script_runs(text: str) -> Iterator[tuple[Run, str]]:
    """Yield parts of one direction and one script, from left to right, each with its script's tag."""
    scripts = _scripts(text)
    for run in visual_runs(text):
        parts = []
        places = range(run.start, run.end)
        for script, group in itertools.groupby(places, key=lambda i: scripts[i]):
            members = list(group)
            parts.append((Run(members[0], members[-1] + 1, run.level), script))
        yield from (reversed(parts) if run.level % 2 else parts)


def _scripts(text: str) -> list[str]:
    """Return each character's script; what belongs to none goes with its neighbour."""
    from fontTools import unicodedata as data

    own = [data.script(c) for c in text]
    found = []
    last = next((s for s in own if s not in _COMMON), "Latn")
    for script in own:
        last = last if script in _COMMON else script
        found.append(last)
    return found


def _missing(character: str) -> Problem:
    name = unicodedata.name(character, "no name")
    why = f"the font has no glyph for {character!r} (U+{ord(character):04X}, {name})"
    return Problem("missing-glyph", why, allowed="another font file, or another text")


def _capital(font: Any, em: float) -> float:
    glyph = font.get_nominal_glyph(ord("H"))
    extents = font.get_glyph_extents(glyph) if glyph else None
    return extents.y_bearing / em if extents and extents.y_bearing > 0 else _CAPITAL


def _name(face: Any) -> str:
    # name 4 of the OpenType name table: the full name
    return " ".join((face.get_name(4) or "unnamed font").split())[:80]


class _Pen:
    """Takes a glyph's path in font units and keeps it as polygons in ems."""

    def __init__(self, em: float, x: float, y: float) -> None:
        self.contours: list[Points] = []
        self._em, self._x, self._y = em, x, y
        self._path: list[Point] = []

    def moveTo(self, to: Point) -> None:  # noqa: N802
        """Begin a path."""
        self._path = [self._placed(to)]

    def lineTo(self, to: Point) -> None:  # noqa: N802
        """Go on straight."""
        self._path.append(self._placed(to))

    def qCurveTo(self, *points: Point) -> None:  # noqa: N802
        """Go on by a quadratic curve."""
        control, end = (self._placed(p) for p in points)
        a = self._path[-1]
        # a quadratic curve is a cubic one with its control points at two thirds
        b, c = _between(a, control, 2 / 3), _between(end, control, 2 / 3)
        self._path += _flattened(a, b, c, end)

    def curveTo(self, *points: Point) -> None:  # noqa: N802
        """Go on by a cubic curve."""
        b, c, end = (self._placed(p) for p in points)
        self._path += _flattened(self._path[-1], b, c, end)

    def closePath(self) -> None:  # noqa: N802
        """End the path at its beginning."""
        if self._path[0] == self._path[-1]:
            self._path.pop()
        if len(self._path) >= 3:
            self.contours.append(np.array(self._path))

    def _placed(self, p: Point) -> Point:
        return self._x + p[0] / self._em, self._y + p[1] / self._em


def _between(a: Point, b: Point, share: float) -> Point:
    return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share


def _flattened(a: Point, b: Point, c: Point, d: Point) -> list[Point]:
    """Return points along a cubic curve after its first one, close enough that `FLATNESS` holds.

    Even steps of the parameter: the chord's error is at most h^2 / 8 of the largest second derivative.
    """
    bend = 6.0 * max(
        math.hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1]),
        math.hypot(b[0] - 2 * c[0] + d[0], b[1] - 2 * c[1] + d[1]),
    )
    count = max(1, math.ceil(math.sqrt(bend / (8.0 * FLATNESS))))
    found = []
    for k in range(1, count + 1):
        t = k / count
        u = 1.0 - t
        w = (u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t)
        found.append(
            (
                w[0] * a[0] + w[1] * b[0] + w[2] * c[0] + w[3] * d[0],
                w[0] * a[1] + w[1] * b[1] + w[2] * c[1] + w[3] * d[1],
            )
        )
    found[-1] = d
    return found
