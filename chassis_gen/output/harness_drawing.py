"""The harness drawing: the chassis's surface unrolled, every wire to scale in its colour, as SVG.

Across: the station, 1:1 in mm when printed at full size. Down: the clock, 0 to 360, seen from outside with the
mouth at the left. A wire that turns past clock 0 goes on at the other edge. Dashed lines are drops, from a
terminal inside to the lane; they bow so that several at one station stay apart. Wires that turn side by side in
one gallery are drawn side by side.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Any
from xml.etree import ElementTree as ET

from msgspec import Struct, field

from chassis_gen.output.harness_style import (
    BAND,
    CASING,
    STYLE,
    Box,
    free_spot,
    paint_of,
    text_width,
)
from chassis_gen.output.leads import cut_of
from chassis_gen.plan.chassis import ChassisPlan, PlacedBody, Route
from chassis_gen.plan.model import clock_of
from chassis_gen.shapes.frame import Vec3

SVG = "http://www.w3.org/2000/svg"
MM_PER_DEGREE = 0.6
"""Height of a degree on the sheet, mm."""
LEFT, TOP, RIGHT = 16.0, 46.0, 14.0
ROW = 4.6
"""Height of a line of the list of wires, mm."""
COLUMN = 150.0
"""Width of a column of that list, mm."""
LONGEST_TURNED = 14
"""A section's name that is written aslant is cut to so many letters."""
LEAST_WIDTH = LEFT + COLUMN + RIGHT
ON_AXIS = 0.2
"""A terminal nearer to the axis than this has no clock of its own, mm."""
BESIDE = 8.0
"""How far beside its lane such a terminal is drawn, degrees."""

Point = tuple[float, float]
_Shifts = Mapping[tuple[str, int], float]


class _Sheet(Struct):
    """A drawing in the making: what is placed already keeps the next label away."""

    plan: ChassisPlan
    root: ET.Element
    taken: list[Box] = field(default_factory=list)

    def x(self, station: float) -> float:
        """Return where a station lies across the sheet, mm."""
        return LEFT + station - self.plan.z0

    @property
    def left(self) -> float:
        """Return the left edge of the unrolled surface, mm."""
        return self.x(self.plan.z0)

    @property
    def right(self) -> float:
        """Return the right edge of the unrolled surface, mm."""
        return self.x(self.plan.z1)


def y_of(clock: float) -> float:
    """Return where a clock lies down the sheet, mm.

    Args:
        clock: degrees, 0 to 360.
    """
    return TOP + clock * MM_PER_DEGREE


BOTTOM = TOP + 360.0 * MM_PER_DEGREE


def harness_svg(plan: ChassisPlan) -> str:
    """Return the harness drawing of a build as the text of an SVG file.

    Args:
        plan: the build, with its wires routed.
    """
    ET.register_namespace("", SVG)
    rows = _list_rows(plan)
    width = max(LEFT + plan.z1 - plan.z0 + RIGHT, LEAST_WIDTH)
    height = BOTTOM + 18.0 + ROW * (rows + 1) + 6.0
    root = ET.Element(
        f"{{{SVG}}}svg",
        {"width": f"{_f(width)}mm", "height": f"{_f(height)}mm", "viewBox": f"0 0 {_f(width)} {_f(height)}"},
    )
    sheet = _Sheet(plan, root)
    _child(root, "title").text = f"Harness of {plan.title}"
    _child(root, "style").text = STYLE
    _child(root, "rect", {"width": width, "height": height, "class": "paper"})
    _text(root, LEFT, 8.0, f"Harness: {plan.title}", "head")
    note = (
        "Surface unrolled, seen from outside, mouth at the left. Across: station, mm, full size. "
        "Down: clock, degrees. Dashed: drop to a terminal inside."
    )
    _text(root, LEFT, 13.0, note, "small")
    _draw_ground(sheet)
    _draw_wires(sheet)
    _draw_terminals(sheet)
    _draw_tags(sheet)
    _draw_list(sheet, rows)
    ET.indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _f(value: float) -> str:
    """Return a coordinate as text: hundredths of a mm, with no sign on zero."""
    return f"{round(value, 2) + 0.0:g}" if abs(value) < 1e5 else f"{value:.2f}"


def _child(parent: ET.Element, tag: str, attributes: Mapping[str, Any] | None = None) -> ET.Element:
    given = {k: v if isinstance(v, str) else _f(v) for k, v in (attributes or {}).items()}
    return ET.SubElement(parent, f"{{{SVG}}}{tag}", given)


def _text(parent: ET.Element, x: float, y: float, words: str, style: str, turn: float = 0.0) -> ET.Element:
    attributes: dict[str, Any] = {"x": x, "y": y, "class": style}
    if turn:
        attributes["transform"] = f"rotate({_f(turn)} {_f(x)} {_f(y)})"
    made = _child(parent, "text", attributes)
    made.text = words
    return made


def _line(parent: ET.Element, a: Point, b: Point, style: str) -> None:
    _child(parent, "line", {"x1": a[0], "y1": a[1], "x2": b[0], "y2": b[1], "class": style})


# --- what the wires lie on -------------------------------------------------------------------------------


def _draw_ground(sheet: _Sheet) -> None:
    ground = _child(sheet.root, "g", {"id": "ground"})
    _draw_sections(sheet, ground)
    _draw_flat(sheet, ground)
    _draw_lanes(sheet, ground)
    _draw_openings(sheet, ground)
    _draw_axes(sheet, ground)


def _draw_sections(sheet: _Sheet, ground: ET.Element) -> None:
    for i, s in enumerate(sheet.plan.sections):
        x0, x1 = sheet.x(s.z0), sheet.x(s.z1)
        g = _child(ground, "g", {"class": "section", "data-section": s.name})
        box = {"x": x0, "y": TOP, "width": x1 - x0, "height": BOTTOM - TOP, "fill": BAND[i % 2]}
        _child(g, "title").text = s.name
        _child(g, "rect", box)
        _line(g, (x1, TOP), (x1, BOTTOM), "joint")
        if text_width(s.name, 3.0) <= x1 - x0 - 1.0:
            _text(g, (x0 + x1) / 2, TOP - 5.5, s.name, "name middle")
        else:
            _text(g, (x0 + x1) / 2 + 0.8, TOP - 4.5, _cut(s.name), "name", turn=-60.0)
    for piece, members in itertools.groupby(sheet.plan.sections, key=lambda s: s.piece):
        run = list(members)
        x0, x1 = sheet.x(run[0].z0), sheet.x(run[-1].z1)
        _line(ground, (x0 + 0.5, 20.0), (x1 - 0.5, 20.0), "bracket")
        _text(ground, (x0 + x1) / 2, 19.0, f"piece {piece}", "small middle")


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST_TURNED else f"{name[: LONGEST_TURNED - 1]}…"


def _draw_flat(sheet: _Sheet, ground: ET.Element) -> None:
    outer = sheet.plan.outer
    if outer.flat_distance is None:
        return
    widest = max(s.radius for s in outer.steps)
    half = math.degrees(math.acos(min(1.0, outer.flat_distance / widest)))
    y0, y1 = y_of(outer.flat_clock % 360 - half), y_of(outer.flat_clock % 360 + half)
    box = {"x": sheet.left, "y": y0, "width": sheet.right - sheet.left, "height": y1 - y0, "class": "flat"}
    _child(ground, "rect", box)
    _text(ground, sheet.left + 1.0, y1 - 1.2, "printing flat", "faint")


def _draw_lanes(sheet: _Sheet, ground: ET.Element) -> None:
    for lane in sheet.plan.lanes:
        style = "lane closed" if lane.closed else "lane"
        for low, high in _within_turn(lane.clock_from, lane.clock_to):
            box = {
                "x": sheet.x(lane.z0),
                "y": y_of(low),
                "width": lane.z1 - lane.z0,
                "height": (high - low) * MM_PER_DEGREE,
                "class": style,
            }
            _child(ground, "rect", box)


def _within_turn(low: float, high: float) -> tuple[tuple[float, float], ...]:
    """Return an interval of clocks as one or two within 0 to 360."""
    start = low % 360
    end = start + high - low
    return ((start, end),) if end <= 360 else ((start, 360.0), (0.0, end - 360))


def _draw_openings(sheet: _Sheet, ground: ET.Element) -> None:
    plan = sheet.plan
    for o in plan.tube.openings:
        if not plan.z0 <= o.station <= plan.z1:
            continue
        radius = plan.outer.largest_radius(max(plan.z0, o.station - 0.5), min(plan.z1, o.station + 0.5))
        half = math.degrees(math.asin(min(1.0, o.diameter / 2 / radius)))
        x, y = sheet.x(o.station), y_of(o.clock_deg % 360)
        shape = {"cx": x, "cy": y, "rx": o.diameter / 2, "ry": half * MM_PER_DEGREE, "class": "opening"}
        _child(ground, "ellipse", shape)
        words = f"opening {o.name}"
        _text(ground, x, y + half * MM_PER_DEGREE + 2.6, words, "faint middle")


def _draw_axes(sheet: _Sheet, ground: ET.Element) -> None:
    plan = sheet.plan
    for z in range(math.ceil(plan.z0 / 10) * 10, math.floor(plan.z1) + 1, 10):
        x, long = sheet.x(z), z % 50 == 0
        _line(ground, (x, BOTTOM), (x, BOTTOM + (2.6 if long else 1.4)), "tick")
        if z % 20 == 0:
            _text(ground, x, BOTTOM + 5.6, f"{z}", "small middle")
    _text(ground, sheet.left, BOTTOM + 10.0, "station from the mouth, mm", "small")
    for clock in range(0, 361, 30):
        y = y_of(clock)
        _line(ground, (sheet.left, y), (sheet.right, y), "grid")
        _text(ground, sheet.left - 1.5, y + 0.8, f"{clock}", "small end")
    for clock, words in ((90, "top"), (270, "bottom")):
        _text(ground, sheet.left - 10.0, y_of(clock) + 0.8, words, "small middle", turn=-90.0)
    frame = {
        "x": sheet.left,
        "y": TOP,
        "width": sheet.right - sheet.left,
        "height": BOTTOM - TOP,
        "class": "frame",
    }
    _child(ground, "rect", frame)


# --- wires -----------------------------------------------------------------------------------------------


def _draw_wires(sheet: _Sheet) -> None:
    """Draw every wire once, thickest first, so that none hides under a thicker one."""
    shifts = _gallery_shifts(sheet.plan)
    clocks = _terminal_clocks(sheet.plan)
    bows = _bows(sheet.plan, clocks)
    for n, route in sorted(_numbered(sheet.plan), key=lambda x: (-x[1].wire.outer_diameter, x[0])):
        wire = route.wire
        paint = paint_of(wire.colour)
        g = _child(
            sheet.root,
            "g",
            {
                "id": f"wire-{n}",
                "class": "wire",
                "data-wire": wire.id,
                "data-from": wire.start,
                "data-to": wire.end,
                "data-stations": f"{_f(route.legs[0].start[2])} {_f(route.legs[-1].end[2])}",
            },
        )
        _child(g, "title").text = f"{wire.id}: {wire.start} to {wire.end}, cut {cut_of(route):.0f} mm"
        path = " ".join(_path(run) for run in _surface_runs(sheet, route, shifts))
        width = wire.outer_diameter
        if path:
            _child(g, "path", {"d": path, "class": "casing", "stroke-width": width + 0.4, "stroke": CASING})
            _child(g, "path", {"d": path, "class": "core", "stroke-width": width, "stroke": paint})
        drops = " ".join(
            _drop_path(sheet, route, i, clocks, bows[wire.id, i], shifts)
            for i, leg in enumerate(route.legs)
            if leg.kind == "drop"
        )
        for placed in route.bodies:
            _draw_body(sheet, g, placed)
        if drops:
            _child(g, "path", {"d": drops, "class": "drop casing", "stroke-width": 1.0, "stroke": CASING})
            _child(g, "path", {"d": drops, "class": "drop core", "stroke-width": 0.6, "stroke": paint})


def _draw_body(sheet: _Sheet, g: ET.Element, placed: PlacedBody) -> None:
    """Draw a splice, a resistor or a fuse where it lies."""
    thick = placed.body.diameter
    box = {
        "x": sheet.x(placed.z0),
        "y": y_of(_clock(placed.position)) - thick / 2,
        "width": placed.z1 - placed.z0,
        "height": thick,
        "class": "body",
    }
    _child(_child(g, "rect", box), "title").text = placed.body.kind


def _numbered(plan: ChassisPlan) -> list[tuple[int, Route]]:
    """Return the routes with their numbers from 1; one without a way has nothing to draw."""
    return [(n, r) for n, r in enumerate(plan.routes, start=1) if r.legs]


def _clock(p: Vec3) -> float:
    return clock_of(p[0], p[1])


def _gallery_shifts(plan: ChassisPlan) -> _Shifts:
    """Return how far along the axis each turn lies from its gallery's middle, by wire and leg, mm."""
    turning: dict[tuple[str, int], list[tuple[str, int, float]]] = {}
    for route in plan.routes:
        for i, leg in enumerate(route.legs):
            if leg.kind == "gallery":
                place = (leg.section, round(leg.start[2] * 10))
                turning.setdefault(place, []).append((route.wire.id, i, route.wire.outer_diameter))
    shifts = {}
    for wires in turning.values():
        at = -sum(d for _, _, d in wires) / 2
        for wire, index, d in wires:
            shifts[wire, index] = at + d / 2
            at += d
    return shifts


def _surface_runs(sheet: _Sheet, route: Route, shifts: _Shifts) -> list[list[Point]]:
    """Return the lines of a wire on the surface; one that turns past clock 0 is broken there."""
    runs: list[list[Point]] = []
    current: list[Point] = []
    for i, leg in enumerate(route.legs):
        if leg.kind == "drop":
            continue
        before = shifts.get((route.wire.id, i if leg.kind == "gallery" else i - 1), 0.0)
        after = shifts.get((route.wire.id, i if leg.kind == "gallery" else i + 1), 0.0)
        a = (sheet.x(leg.start[2] + before), _clock(leg.start))
        b = (sheet.x(leg.end[2] + after), _clock(leg.end))
        if not current:
            current = [a]
        elif abs(current[-1][1] - a[1]) > 180 and min(current[-1][1], a[1]) < 1e-6:
            runs.append(current)
            current = [a]
        for part in _broken(a, b):
            if part[0] != current[-1] and abs(part[0][1] - current[-1][1]) > 180:
                runs.append(current)
                current = [part[0]]
            current += part
    if current:
        runs.append(current)
    return [[(x, y_of(c)) for x, c in _thinned(run)] for run in runs]


def _broken(a: Point, b: Point) -> tuple[tuple[Point, Point], ...]:
    """Return a line in station and clock as one or two that keep to the shorter way round."""
    way = b[1] - a[1]
    if abs(way) <= 180:
        return ((a, b),)
    edge, other = (360.0, 0.0) if way < 0 else (0.0, 360.0)
    total = 360 - abs(way)
    share = abs(edge - a[1]) / total
    x = a[0] + (b[0] - a[0]) * share
    return (a, (x, edge)), ((x, other), b)


def _thinned(run: Sequence[Point]) -> list[Point]:
    return [p for i, p in enumerate(run) if i == 0 or p != run[i - 1]]


def _path(points: Sequence[Point]) -> str:
    return "M" + " L".join(f"{_f(x)} {_f(y)}" for x, y in points)


def _terminal_clocks(plan: ChassisPlan) -> Mapping[str, float]:
    """Return the clock at which each terminal is drawn; one on the axis stands beside its first wire's lane."""
    clocks: dict[str, float] = {}
    for _, route in _numbered(plan):
        first, last = route.legs[0], route.legs[-1]
        for terminal, p, lane in (
            (route.wire.start, first.start, first.end),
            (route.wire.end, last.end, last.start),
        ):
            on_axis = math.hypot(p[0], p[1]) < ON_AXIS
            clocks.setdefault(terminal, (_clock(lane) + BESIDE) % 360 if on_axis else _clock(p))
    return clocks


def _drop_ends(route: Route, index: int, clocks: Mapping[str, float]) -> tuple[float, float]:
    """Return the clocks between which a drop is drawn."""
    leg = route.legs[index]
    start = clocks[route.wire.start] if index == 0 else _clock(leg.start)
    return start, clocks[route.wire.end] if index == len(route.legs) - 1 else _clock(leg.end)


def _bows(plan: ChassisPlan, clocks: Mapping[str, float]) -> Mapping[tuple[str, int], float]:
    """Return how far each drop bows along the axis, by wire and leg, mm; those at one station bow apart."""
    at: dict[int, list[tuple[float, str, int]]] = {}
    for route in plan.routes:
        for i, leg in enumerate(route.legs):
            if leg.kind == "drop":
                start, end = _drop_ends(route, i, clocks)
                at.setdefault(round(leg.start[2]), []).append((abs(start - end), route.wire.id, i))
    bows = {}
    for drops in at.values():
        for k, (height, wire, index) in enumerate(sorted(drops)):
            size = min(3.0 + 2.2 * (k // 2), 0.6 * height * MM_PER_DEGREE)
            bows[wire, index] = size if k % 2 else -size
    return bows


def _drop_path(
    sheet: _Sheet, route: Route, index: int, clocks: Mapping[str, float], bow: float, shifts: _Shifts
) -> str:
    leg = route.legs[index]
    before, after = (shifts.get((route.wire.id, i), 0.0) for i in (index - 1, index + 1))
    start, end = _drop_ends(route, index, clocks)
    a, b = (sheet.x(leg.start[2] + before), start), (sheet.x(leg.end[2] + after), end)
    parts = _broken(a, b)
    if len(parts) > 1:
        # it passes the edge beside its station, apart from other drops there
        (_, out), (back, _) = parts
        runs = ((a, (out[0] + bow, out[1])), ((back[0] + bow, back[1]), b))
        return " ".join(_path([(x, y_of(c)) for x, c in run]) for run in runs)
    control = (a[0] + b[0]) / 2 + 2 * bow, y_of((start + end) / 2)
    return f"M{_f(a[0])} {_f(y_of(start))} Q{_f(control[0])} {_f(control[1])} {_f(b[0])} {_f(y_of(end))}"


# --- words -----------------------------------------------------------------------------------------------


def _terminal_spots(sheet: _Sheet) -> dict[str, tuple[Point, list[int]]]:
    """Return where each terminal is drawn, and the numbers of its wires."""
    spots: dict[str, tuple[Point, list[int]]] = {}
    clocks = _terminal_clocks(sheet.plan)
    for n, route in _numbered(sheet.plan):
        for terminal, p in ((route.wire.start, route.legs[0].start), (route.wire.end, route.legs[-1].end)):
            spot = (sheet.x(p[2]), y_of(clocks[terminal]))
            spots.setdefault(terminal, (spot, []))[1].append(n)
    return spots


def _draw_terminals(sheet: _Sheet) -> None:
    spots = _terminal_spots(sheet)
    pads = [spot for spot, _ in spots.values()]
    sheet.taken += [Box(x - 1.2, y - 1.2, x + 1.2, y + 1.2) for x, y in pads]
    edge = Box(1.0, TOP, sheet.right + RIGHT - 1.0, BOTTOM)
    for terminal, ((x, y), numbers) in spots.items():
        g = _child(sheet.root, "g", {"class": "terminal", "data-terminal": terminal})
        _child(g, "title").text = f"{terminal}: wires {', '.join(map(str, numbers))}"
        words = f"{_short(sheet.plan, terminal)} ({', '.join(map(str, numbers))})"
        w, h = text_width(words, 2.3) + 1.0, 3.0
        box = free_spot((x, y), w, h, sheet.taken, edge, pads)
        sheet.taken.append(box)
        _line(g, (x, y), box.near_side(x), "leader")
        _child(g, "rect", {"x": box.x0, "y": box.y0, "width": w, "height": h, "rx": 0.6, "class": "label"})
        _text(g, box.x0 + 0.5, box.y1 - 0.8, words, "terminal-name")
        _child(g, "circle", {"cx": x, "cy": y, "r": 0.9, "class": "pad"})


def _short(plan: ChassisPlan, terminal: str) -> str:
    """Return a terminal's name without its section's, which is written above."""
    section = next((s.name for s in plan.sections if terminal.startswith(f"{s.name}.")), None)
    return terminal.removeprefix(f"{section}.") if section else terminal


def _draw_tags(sheet: _Sheet) -> None:
    """Put a wire's number on its longest run along the axis, away from other words."""
    for n, route in _numbered(sheet.plan):
        runs = [g for g in route.legs if g.kind in ("lane", "tube")] or list(route.legs)
        leg = max(runs, key=lambda g: g.length)
        y = y_of((_clock(leg.start) + _clock(leg.end)) / 2)
        low, high = sorted((sheet.x(leg.start[2]), sheet.x(leg.end[2])))
        boxes = [Box(x - 1.8, y - 1.8, x + 1.8, y + 1.8) for x in _spread(low + 2.0, high - 2.0)]
        box = next((b for b in boxes if not any(b.touches(t) for t in sheet.taken)), boxes[0])
        sheet.taken.append(box)
        x = (box.x0 + box.x1) / 2
        g = _child(sheet.root, "g", {"class": "tag"})
        _child(g, "circle", {"cx": x, "cy": y, "r": 1.6, "class": "tag-disc"})
        _text(g, x, y + 0.75, f"{n}", "tag-number")


def _spread(low: float, high: float) -> list[float]:
    """Return places between two, the middle first, then ever farther from it."""
    middle = (low + high) / 2
    steps = max(0, int((high - low) / 2 / 2.0))
    return [middle + sign * 2.0 * k for k in range(steps + 1) for sign in ((1, -1) if k else (1,))]


def _columns(plan: ChassisPlan) -> int:
    width = max(LEFT + plan.z1 - plan.z0 + RIGHT, LEAST_WIDTH) - LEFT - RIGHT
    return max(1, int(width // COLUMN))


def _list_rows(plan: ChassisPlan) -> int:
    return math.ceil(len(plan.routes) / _columns(plan))


def _draw_list(sheet: _Sheet, rows: int) -> None:
    """List the wires by number under the drawing."""
    for i, route in enumerate(sheet.plan.routes):
        wire = route.wire
        x, y = LEFT + COLUMN * (i // rows), BOTTOM + 18.0 + ROW * (i % rows)
        g = _child(sheet.root, "g", {"class": "row"})
        _text(g, x + 3.6, y + 0.8, f"{i + 1}", "terminal-name end")
        _line(g, (x + 5.0, y), (x + 13.0, y), "swatch-casing")
        swatch = {
            "x1": x + 5.2,
            "y1": y,
            "x2": x + 12.8,
            "y2": y,
            "stroke": paint_of(wire.colour),
            "class": "swatch",
        }
        _child(g, "line", swatch)
        _text(g, x + 14.5, y + 0.8, f"{wire.id}: {wire.start} to {wire.end}", "terminal-name")
        words = f"{wire.gauge_text}{f' {wire.colour}' if wire.colour else ''}, cut {cut_of(route):.0f}"
        _text(g, x + COLUMN - 4.0, y + 0.8, words, "terminal-name end")
    if sheet.plan.unrouted:
        lost = ", ".join(w.id for w in sheet.plan.unrouted)
        _text(sheet.root, LEFT, BOTTOM + 18.0 + ROW * rows, f"No path: {lost}", "terminal-name")
