"""A maker's own outline from an SVG file: closed, filled shapes in mm.

Read are paths, rectangles, circles, ellipses and polygons with their groups' transforms, the file's size, viewBox
and fill rules (Scalable Vector Graphics 2, W3C Candidate Recommendation of 2018-10-04). What can't be cut is
refused with what to do about it: open lines, texts, pictures, copies by reference. The reader declares no
entities, follows no link, and bounds everything that it counts.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any
from xml.parsers import expat

from msgspec import Struct

from chassis_gen.problems import InputError, Problem

if TYPE_CHECKING:
    from fontTools.misc.transform import Transform
else:
    Transform = Any

Point = tuple[float, float]
Contour = tuple[Point, ...]

MM_PER_PX = 25.4 / 96.0
"""CSS Values and Units Module Level 3, 5.2: 96 px are one inch."""
MOST_POINTS = 4000
MOST_SHAPES = 500
MOST_DEPTH = 32
FLATNESS = 1.0 / 2000.0
"""Curves become lines that leave them by less than this share of the drawing's size (chosen)."""
SAME_POINT = 1e-6
"""Ends of a line nearer than this, in the drawing's own units, meet."""

_SVG = "http://www.w3.org/2000/svg"
_UNITS = {"": MM_PER_PX, "px": MM_PER_PX, "mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6}
_LENGTH = re.compile(r"\s*([+]?[0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)\s*([a-z%]*)\s*")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_PATH_TEXT = re.compile(r"[MmZzLlHhVvCcSsQqTtAaEe0-9.,+\-\s]*")
_TRANSFORM = re.compile(r"\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)\s*,?")
_HIDDEN = ("defs", "symbol", "clipPath", "mask", "marker", "title", "desc", "metadata", "script", "style")
_PAINTS = ("pattern", "linearGradient", "radialGradient", "filter")
_SKIPPED = frozenset((*_HIDDEN, *_PAINTS))
_GROUPS = frozenset(("svg", "g", "a", "switch"))
_REFUSED = {
    "text": "convert texts to paths",
    "tspan": "convert texts to paths",
    "image": "trace pictures to paths",
    "use": "replace copies by what they show",
    "foreignObject": "leave out what is no drawing",
    "line": "draw closed shapes: convert lines to paths round them",
}
_ALLOWED = "closed, filled paths"


class Shape(Struct, frozen=True):
    """One filled shape of a drawing.

    Args:
        contours: closed polygons, mm, x to the right and y up.
        even_odd: True where a point is inside that an odd number of contours surround, False where their windings
            don't cancel (SVG 2, 13.4.2).
    """

    contours: tuple[Contour, ...]
    even_odd: bool


class Drawing(Struct, frozen=True):
    """What an SVG file shows: shapes that are painted over each other."""

    shapes: tuple[Shape, ...]


class _UnfitError(Exception):
    """A drawing can't be used: code, what is wrong, what would do."""

    def __init__(self, code: str, message: str, allowed: str) -> None:
        super().__init__(message)
        self.code, self.message, self.allowed = code, message, allowed


def _reject(code: str, message: str, allowed: str = _ALLOWED) -> _UnfitError:
    """Return the exception that refuses a drawing."""
    return _UnfitError(code, message, allowed)


def read_drawing(text: str, file: str) -> Drawing:
    """Return what an SVG file's text shows.

    Args:
        text: the text.
        file: its name as shown to the maker.

    Raises:
        InputError: code ``drawing``, ``drawing-open`` or ``drawing-heavy``, with the line.
    """
    reader = _Reader()
    parser = expat.ParserCreate("utf-8", " ")
    parser.StartElementHandler = reader.begin
    parser.EndElementHandler = reader.end
    parser.EntityDeclHandler = _no_entities
    try:
        parser.Parse(text.encode("utf-8"), True)
        return reader.drawing()
    except expat.ExpatError as error:
        reason = expat.ErrorString(error.code)
        problem = Problem("drawing", f"this is no SVG ({reason})", file, error.lineno, error.offset + 1)
        raise InputError([problem]) from None
    except _UnfitError as unfit:
        line = parser.CurrentLineNumber if reader.open else None
        raise InputError([Problem(unfit.code, unfit.message, file, line, allowed=unfit.allowed)]) from None


def _no_entities(*_: object) -> None:
    raise _reject("drawing-heavy", "the file declares entities", "a drawing without entity declarations")


class _State(Struct, frozen=True):
    """What an element hands down: its transform, its fill rule, whether it is filled, whether it is shown."""

    transform: Transform
    even_odd: bool
    filled: bool
    shown: bool


class _Reader:
    """Builds a drawing from the parser's calls."""

    def __init__(self) -> None:
        self._states: list[_State] = []
        self._segments: list[tuple[list[list[_Segment]], bool]] = []
        self._count = 0

    @property
    def open(self) -> bool:
        """Return whether an element is being read."""
        return bool(self._states)

    def begin(self, tag: str, attributes: dict[str, str]) -> None:
        """Take an element's start."""
        space, _, name = tag.rpartition(" ")
        if not self._states:
            if name != "svg" or space not in ("", _SVG):
                raise _reject("drawing", f"this is no SVG: its outermost element is <{name[:20]}>")
            self._states.append(_State(_root_transform(attributes), False, True, True))
            return
        if len(self._states) >= MOST_DEPTH:
            raise _reject(
                "drawing-heavy", "elements are nested too deeply", f"at most {MOST_DEPTH} levels of groups"
            )
        state = _inherited(self._states[-1], attributes)
        if space not in ("", _SVG) or name in _SKIPPED:
            state = _State(state.transform, state.even_odd, state.filled, False)
        self._states.append(state)
        if not state.shown or name in _GROUPS:
            return
        if name in _REFUSED:
            raise _reject("drawing", f"<{name}> can't be cut", _REFUSED[name])
        self._take(name, attributes, state)

    def end(self, _: str) -> None:
        """Take an element's end."""
        self._states.pop()

    def _take(self, name: str, attributes: Mapping[str, str], state: _State) -> None:
        path = _path_of(name, attributes)
        if path is None:
            return
        if not state.filled:
            why = f"a <{name}> is drawn as a line, without a fill"
            raise _reject("drawing-open", why, "filled shapes: convert lines to paths round them")
        if len(self._segments) >= MOST_SHAPES:
            raise _reject("drawing-heavy", "there are too many shapes", f"at most {MOST_SHAPES} shapes")
        pen = _Pen(state.transform, MOST_POINTS - self._count)
        _draw(path, pen)
        self._count += pen.count
        if pen.contours:
            self._segments.append((pen.contours, state.even_odd))

    def drawing(self) -> Drawing:
        """Return what was drawn, its curves as lines."""
        corners = [p for contours, _ in self._segments for c in contours for s in c for p in s]
        if not corners:
            raise _reject("drawing", "the drawing shows nothing")
        xs, ys = zip(*corners, strict=True)
        if not all(map(math.isfinite, (*xs, *ys))):
            raise _reject("drawing", "a coordinate isn't finite")
        size = max(max(xs) - min(xs), max(ys) - min(ys))
        if not 0.01 <= size <= 1e5:
            raise _reject("drawing", f"the drawing is {size:g} mm large", "a size from 0.01 to 100000 mm")
        shapes = []
        count = 0
        for contours, even_odd in self._segments:
            flat = tuple(_flattened(c, size * FLATNESS) for c in contours)
            count += sum(map(len, flat))
            if count > MOST_POINTS:
                raise _too_many()
            shapes.append(Shape(tuple(c for c in flat if len(c) >= 3), even_odd))
        return Drawing(tuple(shapes))


def _too_many() -> _UnfitError:
    return _reject(
        "drawing-heavy",
        f"the outline has more than {MOST_POINTS} points",
        "a simpler outline: simplify its paths",
    )


def _root_transform(attributes: Mapping[str, str]) -> Transform:
    """Return the transform from the drawing's units to mm with y up."""
    from fontTools.misc.transform import Transform

    sizes = [_size(attributes.get(k)) for k in ("width", "height")]
    box = attributes.get("viewBox")
    scale = MM_PER_PX
    if box is not None:
        numbers = _numbers(box)
        if len(numbers) != 4 or min(numbers[2:]) <= 0:
            raise _reject("drawing", f'the viewBox is "{box[:40]}"', "four numbers, the last two above zero")
        # where both are given the smaller scale holds: preserveAspectRatio's default is "meet"
        scales = [size / n for size, n in zip(sizes, numbers[2:], strict=True) if size is not None]
        scale = min(scales, default=MM_PER_PX)
    return Transform(scale, 0.0, 0.0, -scale, 0.0, 0.0)


def _size(text: str | None) -> float | None:
    """Return a length in mm, or None where it depends on what shows the drawing."""
    if text is None:
        return None
    found = _LENGTH.fullmatch(text)
    if found is None or (found[2] not in _UNITS and found[2] != "%"):
        units = ", ".join(u for u in _UNITS if u)
        raise _reject("drawing", f'the drawing\'s size is "{text[:40]}"', f"a number with a unit of {units}")
    if found[2] == "%":
        return None
    size = float(found[1]) * _UNITS[found[2]]
    if not 0 < size < 1e6:
        raise _reject("drawing", f'the drawing\'s size is "{text[:40]}"', "a size above zero")
    return size


def _inherited(state: _State, attributes: Mapping[str, str]) -> _State:
    style = {
        k.strip(): v.strip()
        for k, _, v in (part.partition(":") for part in attributes.get("style", "").split(";"))
    }
    look = {**{k: attributes[k] for k in ("fill", "fill-rule", "display") if k in attributes}, **style}
    transform = state.transform
    if "transform" in attributes:
        transform = transform.transform(_transform(attributes["transform"]))
    fill, rule = look.get("fill"), look.get("fill-rule")
    return _State(
        transform,
        state.even_odd if rule in (None, "inherit") else rule == "evenodd",
        state.filled if fill in (None, "inherit") else fill != "none",
        state.shown and look.get("display") != "none",
    )


def _transform(text: str) -> Transform:
    """Return what a transform attribute does (SVG 2, 8.5)."""
    from fontTools.misc.transform import Transform

    made, at = Transform(), 0
    while at < len(text.rstrip()):
        found = _TRANSFORM.match(text, at)
        if found is None:
            raise _reject("drawing", f'the transform "{text[:40]}" can\'t be read')
        made = made.transform(_one_transform(found[1], _numbers(found[2])))
        at = found.end()
    return made


def _one_transform(name: str, values: Sequence[float]) -> Transform:
    from fontTools.misc.transform import Transform

    counts = {
        "matrix": (6,),
        "translate": (1, 2),
        "scale": (1, 2),
        "rotate": (1, 3),
        "skewX": (1,),
        "skewY": (1,),
    }
    if len(values) not in counts[name]:
        raise _reject("drawing", f"a {name} has {len(values)} numbers")
    one = Transform()
    match name:
        case "matrix":
            return Transform(*values)
        case "translate":
            return one.translate(values[0], values[1] if len(values) > 1 else 0.0)
        case "scale":
            return one.scale(values[0], values[-1])
        case "rotate":
            x, y = values[1:] if len(values) > 1 else (0.0, 0.0)
            return one.translate(x, y).rotate(math.radians(values[0])).translate(-x, -y)
        case "skewX":
            return one.skew(math.radians(values[0]), 0.0)
        case _:
            return one.skew(0.0, math.radians(values[0]))


def _numbers(text: str) -> list[float]:
    return [float(n) for n in _NUMBER.findall(text)]


def _path_of(name: str, attributes: Mapping[str, str]) -> str | None:
    """Return a shape as path data (the equivalent paths of SVG 2, chapter 10), or None for one of no size."""
    number = _getter(attributes)
    match name:
        case "path":
            return attributes.get("d", "").strip() or None
        case "polygon" | "polyline":
            points = attributes.get("points", "").strip()
            closed = " Z" if name == "polygon" else ""
            return f"M {points}{closed}" if points else None
        case "circle" | "ellipse":
            rx, ry = (number("r"),) * 2 if name == "circle" else (number("rx"), number("ry"))
            x, y = number("cx"), number("cy")
            arc = f"A {rx!r} {ry!r} 0 0 1"
            return (
                f"M {x - rx!r} {y!r} {arc} {x + rx!r} {y!r} {arc} {x - rx!r} {y!r} Z"
                if min(rx, ry) > 0
                else None
            )
        case "rect":
            return _rectangle(number, attributes)
        case _:
            return None


def _getter(attributes: Mapping[str, str]) -> Callable[[str], float]:
    def number(key: str) -> float:
        text = attributes.get(key, "0").strip().removesuffix("px")
        if not _NUMBER.fullmatch(text):
            raise _reject("drawing", f'{key} is "{text[:40]}"', "a plain number in the drawing's own units")
        return float(text)

    return number


def _rectangle(number: Callable[[str], float], attributes: Mapping[str, str]) -> str | None:
    x, y, w, h = (number(k) for k in ("x", "y", "width", "height"))
    if min(w, h) <= 0:
        return None
    either = {k: number(k) for k in ("rx", "ry") if k in attributes}
    rx = min(either.get("rx", either.get("ry", 0.0)), w / 2)
    ry = min(either.get("ry", either.get("rx", 0.0)), h / 2)
    if min(rx, ry) <= 0:
        return f"M {x!r} {y!r} h {w!r} v {h!r} h {-w!r} Z"
    arc = f"a {rx!r} {ry!r} 0 0 1"
    return (
        f"M {x + rx!r} {y!r} h {w - 2 * rx!r} {arc} {rx!r} {ry!r} v {h - 2 * ry!r} {arc} {-rx!r} {ry!r} "
        f"h {2 * rx - w!r} {arc} {-rx!r} {-ry!r} v {2 * ry - h!r} {arc} {rx!r} {-ry!r} Z"
    )


_Segment = tuple[Point, ...]
"""Control points of a line (2), a quadratic (3) or a cubic curve (4)."""


class _Pen:
    """Takes a path's segments, transformed, contour by contour."""

    def __init__(self, transform: Transform, most: int) -> None:
        self.contours: list[list[_Segment]] = []
        self.count = 0
        self._transform, self._most = transform, most
        self._at: Point = (0.0, 0.0)
        self._start: Point = (0.0, 0.0)

    def moveTo(self, point: Point) -> None:  # noqa: N802 - the name that the path reader calls
        """Begin a contour."""
        self._at = self._start = point
        self.contours.append([])

    def lineTo(self, point: Point) -> None:  # noqa: N802
        """Take a straight line."""
        self._add(point)

    def qCurveTo(self, *points: Point) -> None:  # noqa: N802
        """Take a quadratic curve."""
        self._add(*points)

    def curveTo(self, *points: Point) -> None:  # noqa: N802
        """Take a cubic curve."""
        self._add(*points)

    def closePath(self) -> None:  # noqa: N802
        """End a contour that is closed."""
        if self._at != self._start:
            self._add(self._start)
        self._drop_empty()

    def endPath(self) -> None:  # noqa: N802
        """End a contour that isn't said to be closed; it must end where it began."""
        if not self.contours[-1]:
            self._drop_empty()
        elif math.dist(self._at, self._start) > SAME_POINT:
            raise _reject(
                "drawing-open",
                f"a path is open: it begins at {_shown(self._start)} and ends at {_shown(self._at)}",
                "closed paths",
            )

    def _add(self, *points: Point) -> None:
        self.count += 1
        if self.count > self._most:
            raise _too_many()
        segment = tuple(self._transform.transformPoint(p) for p in (self._at, *points))
        self.contours[-1].append(segment)
        self._at = points[-1]

    def _drop_empty(self) -> None:
        if not self.contours[-1]:
            self.contours.pop()


def _shown(point: Point) -> str:
    return f"{point[0]:g}, {point[1]:g}"


def _draw(path: str, pen: _Pen) -> None:
    from fontTools.svgLib.path import parse_path

    text = " ".join(path.split())
    if not _PATH_TEXT.fullmatch(text):
        raise _reject("drawing", f'the path "{text[:40]}" can\'t be read')
    try:
        parse_path(text, pen)
    except (ValueError, IndexError, ZeroDivisionError, OverflowError, AssertionError):
        raise _reject("drawing", f'the path "{text[:40]}" can\'t be read') from None


def _flattened(segments: Sequence[_Segment], within: float) -> Contour:
    """Return a closed contour's corners, curves as lines that leave them by less than a distance."""
    points: list[Point] = []
    for segment in segments:
        n = _pieces(segment, within)
        points += [_on_curve(segment, k / n) for k in range(n)]
    kept = [p for p, q in zip(points, [*points[1:], *points[:1]], strict=True) if p != q]
    return tuple(kept)


def _pieces(segment: _Segment, within: float) -> int:
    """Return how many lines a curve wants: d (d - 1) / 8 x its largest second difference / n^2 bounds the error.

    G. Wang, The subdivision method for finding the intersection between two Bezier curves or surfaces, Zhejiang
    University Journal (1984).
    """
    degree = len(segment) - 1
    if degree < 2:
        return 1
    bends = [
        math.hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1])
        for a, b, c in zip(segment, segment[1:], segment[2:], strict=False)
    ]
    wanted = math.sqrt(degree * (degree - 1) / 8 * max(bends) / within)
    return min(max(1, math.ceil(wanted)), MOST_POINTS + 1)


def _on_curve(segment: _Segment, t: float) -> Point:
    """Return a point of a Bezier curve (P. de Casteljau's construction)."""
    points = list(segment)
    while len(points) > 1:
        points = [(a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])) for a, b in itertools.pairwise(points)]
    return points[0]
