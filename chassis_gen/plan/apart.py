"""Classes of wire that keep apart where they leave their terminals: ways out that part, and what runs close even so.

In lanes and galleries the grid keeps classes apart. Drops begin where the terminals stand, which may be closer than
the distance that is wanted. So the ways out are chosen by the length over which they run closer than that, and what
is left of it is told.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Leg, Route, Wire
from chassis_gen.plan.cross_section import DEGREES, Clocks, feet
from chassis_gen.plan.laying import Ground
from chassis_gen.plan.model import PlacedTerminal
from chassis_gen.shapes.frame import Vec3

Points = NDArray[np.float64]
QUIET, LOUD = frozenset(("data", "sound")), frozenset(("power", "light"))
"""The classes of wire that keep apart from each other."""
CLOSE = 30.0
"""What a millimetre that runs closer than wanted counts, mm: a way out that parts may be that much longer (chosen)."""
SAMPLES = 24
"""At how many points a drop is looked at while ways are sought (chosen)."""
STEP = 0.25
"""Distance of the points at which wires that are laid are looked at, mm (chosen)."""
_ROUNDING = 0.02
_LEAST_ASKED = 0.5


def opposed(a: Wire, b: Wire) -> bool:
    """Return whether two wires belong to classes that keep apart."""
    return any(a.keep_apart in one and b.keep_apart in other for one, other in ((QUIET, LOUD), (LOUD, QUIET)))


class Line(Struct, frozen=True):
    """A straight piece of another wire's way; a terminal is one without length.

    Args:
        start: mm.
        end: mm.
        radius: half the wire's outside diameter, mm.
    """

    start: Vec3
    end: Vec3
    radius: float


def gaps(points: Points, lines: Sequence[Line]) -> Points:
    """Return how far each point lies from the nearest surface of some straight wires, mm.

    Args:
        points: x, y and z in the last axis, mm.
        lines: the wires; infinite where there are none.
    """
    # by coordinate: sums over a short last axis take several times as long
    px, py, pz = np.ascontiguousarray(np.moveaxis(points, -1, 0))
    nearest: Points = np.full(px.shape, np.inf)
    for line in lines:
        (x, y, z), (u, v, w) = line.start, (q - p for p, q in zip(line.start, line.end, strict=True))
        dx, dy, dz = px - x, py - y, pz - z
        square = u * u + v * v + w * w
        if square:
            share = np.clip((dx * u + dy * v + dz * w) / square, 0.0, 1.0)
            dx, dy, dz = dx - share * u, dy - share * v, dz - share * w
        nearest = np.minimum(nearest, np.sqrt(dx * dx + dy * dy + dz * dz) - line.radius)
    return nearest


def close_length(
    wire: Wire, terminal: PlacedTerminal, radius: float, lines: Sequence[Line], apart: float
) -> Clocks:
    """Return over which length a drop would run closer than wanted to other wires, by whole degree of clock, mm.

    Args:
        wire: whose drop it is.
        terminal: where it begins.
        radius: where it ends, mm.
        lines: of the other wires.
        apart: least distance between the insulation of both, mm.
    """
    x, y = feet(radius)
    ends = np.stack([x, y, np.full(DEGREES, terminal.position[2])], axis=-1)
    start = np.array(terminal.position)
    shares = (np.arange(SAMPLES) + 0.5) / SAMPLES
    points = start + (ends - start)[:, None, :] * shares[None, :, None]
    close = gaps(points, lines) - wire.outer_diameter / 2 < apart
    length: Clocks = close.mean(axis=1) * np.linalg.norm(ends - start, axis=1)
    return length


def close_lengths(routes: Sequence[Route], ground: Ground) -> dict[tuple[str, str], float]:
    """Return over which length pairs of wires run closer than wanted beside their terminals, mm.

    Args:
        routes: of the laid wires.
        ground: its rules give the distance.
    """
    apart, found = ground.rules.keep_apart, {}
    for a, b in itertools.combinations(routes, 2) if apart else ():
        if opposed(a.wire, b.wire):
            length = max(_Beside(x, y, apart).length for x, y in ((a, b), (b, a)))
            if length > 0.0:
                found[a.wire.id, b.wire.id] = length
    return found


def close_runs(routes: Sequence[Route], ground: Ground) -> tuple[Finding, ...]:
    """Return what wires of classes that keep apart run closer than wanted beside their terminals.

    A note where terminals stand closer than the distance themselves, a warning where they don't.

    Args:
        routes: of the laid wires.
        ground: its rules give the distance.
    """
    apart = ground.rules.keep_apart
    pairs = itertools.combinations(routes, 2) if apart else ()
    found = (_close_run(a, b, apart) for a, b in pairs if opposed(a.wire, b.wire))
    return tuple(f for f in found if f is not None)


def _close_run(a: Route, b: Route, apart: float) -> Finding | None:
    """Return the finding for one pair of wires, or None where they keep their distance."""
    runs = [_Beside(x, y, apart) for x, y in ((a, b), (b, a))]
    length = max(r.length for r in runs)
    if length <= 0.0:
        return None
    least = max(0.0, min(r.least for r in runs))
    ends = [e for r in runs for e in r.ends]
    forced = all(e.gap < apart - _ROUNDING for e in ends)
    nearest = min(ends, key=lambda e: e.gap)
    where = f"{nearest.own} and {nearest.other} stand {nearest.gap:.1f} mm apart"
    why = (
        f"{where}, and the wires part as soon as their ways out allow"
        if forced
        else f"{where}; no ways out were found that part"
    )
    message = (
        f"{a.wire.id} ({a.wire.keep_apart}) and {b.wire.id} ({b.wire.keep_apart}) run closer than {apart:g} mm over "
        f"{length:.1f} mm beside their terminals, {f'{least:.1f} mm at the least' if least else 'and cross'}: {why}"
    )
    numbers = {
        "close_length": length,
        "least_distance": least,
        "wanted_distance": apart,
        "terminals_apart": nearest.gap,
    }
    return Finding(
        "note" if forced else "warning",
        "runs-close",
        f"{a.wire.id} / {b.wire.id}",
        message,
        numbers,
        candidates=() if forced else _remedies(a.wire, b.wire, least),
    )


def _remedies(a: Wire, b: Wire, least: float) -> tuple[Remedy, ...]:
    """Return what might help: no pinned clocks, a smaller distance; each is tried by planning the build with it."""
    free = [
        Remedy(f"{w.key}.clock_deg", None, f"no clock_deg for {w.id}: it finds its own way out")
        for w in (a, b)
        if w.key and w.pinned_clock is not None
    ]
    smaller = math.floor(least * 10) / 10
    asked = [Remedy("wiring.keep_apart", smaller, f"classes of wire {smaller:g} mm apart")]
    words = Remedy(None, None, "terminals farther from each other, or a shielded or twisted wire")
    return (*free, *(asked if smaller >= _LEAST_ASKED else ()), words)


class _End(Struct, frozen=True):
    """Two terminals beside which wires run close: their ids, and the distance of their wires' insulation, mm."""

    own: str
    other: str
    gap: float


class _Beside:
    """One wire looked at beside another: where it runs closer than wanted."""

    def __init__(self, own: Route, other: Route, apart: float) -> None:
        radius = own.wire.outer_diameter / 2
        lines = [
            Line(g.start, g.end, other.wire.outer_diameter / 2) for g in other.legs if g.kind != "gallery"
        ]
        drops = [g.start[2] for g in other.legs if g.kind == "drop"]
        reach = apart + radius + other.wire.outer_diameter / 2
        self.length, self.least, self.ends = 0.0, math.inf, list[_End]()
        near_first = near_last = 0.0
        along = 0.0
        for leg in own.legs:
            points, step = _points_of(leg, drops, reach)
            if len(points):
                gap = gaps(points, lines) - radius
                close = gap < apart - _ROUNDING
                self.least = min(self.least, float(gap.min()))
                length = float(close.sum()) * step
                self.length += length
                if along + leg.length / 2 < own.length / 2:
                    near_first += length
                else:
                    near_last += length
            along += leg.length
        for near, at, terminal in (
            (near_first, own.legs[0].start, own.wire.start),
            (near_last, own.legs[-1].end, own.wire.end),
        ):
            if near > 0.0:
                self.ends.append(_nearest_end(terminal, at, radius, other))


def _points_of(leg: Leg, drops: Sequence[float], reach: float) -> tuple[Points, float]:
    """Return points along a leg and their distance: all of a drop, of a lane what lies near another wire's drops."""
    if leg.kind == "gallery" or leg.length <= 0.0:
        return np.empty((0, 3)), 0.0
    count = math.ceil(leg.length / STEP) + 1
    shares = np.linspace(0.0, 1.0, count)
    start, end = np.array(leg.start), np.array(leg.end)
    points: Points = start + (end - start) * shares[:, None]
    if leg.kind != "drop":
        beside = np.any([np.abs(points[:, 2] - z) < reach for z in drops] or [np.zeros(count, bool)], axis=0)
        points = points[beside]
    return points, leg.length / count


def _nearest_end(terminal: str, at: Vec3, radius: float, other: Route) -> _End:
    """Return which terminal of another wire stands nearest to one, and how far their insulation is apart."""
    ends = ((other.legs[0].start, other.wire.start), (other.legs[-1].end, other.wire.end))
    place, name = min(ends, key=lambda e: math.dist(e[0], at))
    return _End(terminal, name, max(0.0, math.dist(place, at) - radius - other.wire.outer_diameter / 2))
