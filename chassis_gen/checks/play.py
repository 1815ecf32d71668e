"""Play: how far each seated part can move in its seat, measured on the solids.

Rays from the corners of part and seat say how far away the first contact is; a sweep just short of it
shows that nothing else is met before. Where the sweep does meet something (two edges that cross), the
way is bisected.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from chassis_gen.checks.probes import cropped, part_bodies, seat_of
from chassis_gen.checks.result import MeasuredPlay, Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import PlacedPart, PlayProbe
from chassis_gen.shapes.body import COLLISION_VOLUME, Body
from chassis_gen.shapes.frame import Vec3

Array = npt.NDArray[np.float64]

OPEN_WAY = 2.0
"""How far a way with no promised play is looked along, mm."""

_SHORT_OF_CONTACT = 0.005
_BACK = 0.02
_GRAZING = 0.02
_OFF_CONTACT = 0.001
_NEAR = 0.5
_THIN_SWEEP = 0.005
_NEAR_DIRECTION = math.cos(math.radians(45.0)) - 1e-9
_RESOLUTION = 0.002


class Way(Struct, frozen=True):
    """A way to look along.

    Args:
        direction: of any length.
        limit: the farthest that is looked at, mm.
        expected: where bisection, if it comes to that, looks first, mm.
    """

    direction: Vec3
    limit: float
    expected: float = 0.0

    @property
    def unit(self) -> Array:
        """Return the direction at length 1."""
        return np.array(self.direction) / math.hypot(*self.direction)


def tolerance(chord: float) -> float:
    """Return how far a measured play or clearance may lie from the planned one, mm.

    Polygons of one chord tolerance stand in for both round surfaces; 0.005 mm covers the measurement.

    Args:
        chord: chord tolerance of the meshes, mm.
    """
    return chord + 0.005


def measure_plays(plan: ChassisPlan, solids: Solids) -> tuple[MeasuredPlay, ...]:
    """Return the measured play of every seated part, each in at least six directions.

    Directions with no promised play are looked along for `OPEN_WAY` mm.

    Args:
        plan: the build.
        solids: its solids.
    """
    return tuple(play for part in plan.parts for play in _plays(plan, solids, part))


def check_play(
    plan: ChassisPlan, solids: Solids, plays: tuple[MeasuredPlay, ...] | None = None
) -> tuple[Finding, ...]:
    """Return an error for each play that differs from its plan by more than `tolerance`.

    Args:
        plan: the build.
        solids: its solids.
        plays: measured plays, where they are at hand already.
    """
    measured = measure_plays(plan, solids) if plays is None else plays
    allowed = tolerance(solids.chord)
    return tuple(
        _differs(p, p.expected, allowed)
        for p in measured
        if p.expected is not None and abs(p.measured - p.expected) > allowed
    )


def _differs(play: MeasuredPlay, expected: float, allowed: float) -> Finding:
    way = direction_words(play.direction)
    return Finding(
        "error",
        "play-differs",
        play.part,
        f"{play.part} was planned to move {expected:.3f} mm toward {way}; "
        f"in its seat it moves {play.measured:.3f} mm",
        {"planned": expected, "measured": play.measured, "tolerance": allowed},
    )


def direction_words(direction: Vec3) -> str:
    """Return a direction in words, such as ``+z`` or ``clock 45``."""
    x, y, z = direction
    if abs(z) > 0.999:
        return "+z" if z > 0 else "-z"
    if abs(z) < 1e-3:
        return f"clock {math.degrees(math.atan2(y, x)) % 360.0:.0f}"
    return f"({x:.2f}, {y:.2f}, {z:.2f})"


def _plays(plan: ChassisPlan, solids: Solids, part: PlacedPart) -> tuple[MeasuredPlay, ...]:
    asked = [(p.direction, p.expected) for p in part.plays]
    asked += [(d, None) for d in _more_directions(plan, part, [d for d, _ in asked])]
    farthest = max([OPEN_WAY, *(e + 0.5 for _, e in asked if e is not None)])
    seat = seat_of(part, solids, farthest + part.squeeze + 1.0)
    if seat is None:
        return tuple(MeasuredPlay(part.id, d, e, OPEN_WAY) for d, e in asked)
    # Faces that the part rests on must not graze it when it moves along them.
    shrink = _OFF_CONTACT
    movers = part_bodies(part, solids.chord, shrink)
    if part.squeeze > 0 and _overlap(seat, movers):
        shrink = part.squeeze + 2 * solids.chord
        movers = part_bodies(part, solids.chord, shrink)
    ways = [Way(d, max(OPEN_WAY, (e or 0.0) + 0.5) + shrink, (e or 0.0) + shrink) for d, e in asked]
    free = free_ways(seat, movers, ways)
    found = [-part.squeeze] * len(asked) if free is None else [f - shrink for f in free]
    return tuple(MeasuredPlay(part.id, d, e, m) for (d, e), m in zip(asked, found, strict=True))


def _more_directions(plan: ChassisPlan, part: PlacedPart, known: list[Vec3]) -> list[Vec3]:
    """Return the directions that fits ask for and the part's own six, as far as they aren't covered yet."""
    f = part.frame
    probes = (fit.probe for fit in plan.fits)
    asked = [d for p in probes if isinstance(p, PlayProbe) and p.part == part.id for d in p.directions]
    found = list(known)
    for d in asked:
        if not any(_same(d, k) for k in found):
            found.append(d)
    for axis in (f.x_axis, f.y_axis, f.z_axis):
        for d in (axis, (-axis[0], -axis[1], -axis[2])):
            if all(_cosine(d, k) < _NEAR_DIRECTION for k in found):
                found.append(d)
    return found[len(known) :]


def _same(a: Vec3, b: Vec3) -> bool:
    return _cosine(a, b) > 1.0 - 1e-9


def _cosine(a: Vec3, b: Vec3) -> float:
    return sum(p * q for p, q in zip(a, b, strict=True)) / (math.hypot(*a) * math.hypot(*b))


def _overlap(seat: Body, movers: tuple[Body, ...]) -> bool:
    return any(seat.common_volume(m) > COLLISION_VOLUME for m in movers)


def free_ways(seat: Body, movers: tuple[Body, ...], ways: list[Way]) -> list[float] | None:
    """Return how far bodies can move together each way before one of them meets another body, mm.

    Args:
        seat: what they may meet.
        movers: the bodies that move, convex where that can be had.
        ways: the ways to look along.

    Returns:
        One length per way, its limit where the way is free; None where the bodies overlap at the start.
    """
    contacts = [_contact(seat, movers, way) for way in ways]
    sure = [False] * len(ways)
    for i, j in _opposites(ways):
        to, back = contacts[i], contacts[j] if j is not None else 0.0
        if all(_is_free(seat, m, ways[i].unit, to, back) for m in movers):
            sure[i] = True
            if j is not None:
                sure[j] = True
    if not all(sure) and _overlap(seat, movers):
        return None
    return [
        contact if known else _stepped(seat, movers, way, contact)
        for way, contact, known in zip(ways, contacts, sure, strict=True)
    ]


def _contact(seat: Body, movers: tuple[Body, ...], way: Way) -> float:
    """Return the first contact that rays from corners show, mm."""
    contact = way.limit
    for mover in movers:
        contact = _ray_contact(seat, mover, way.unit, contact)
        contact = _ray_contact(mover, seat, -way.unit, contact)
    return contact


def _opposites(ways: list[Way]) -> list[tuple[int, int | None]]:
    """Return the numbers of the ways, those that run against each other in pairs: one sweep does for both."""
    pairs: list[tuple[int, int | None]] = []
    left = list(range(len(ways)))
    while left:
        i = left.pop(0)
        j = next((k for k in left if float(ways[i].unit @ ways[k].unit) < -1.0 + 1e-9), None)
        if j is not None:
            left.remove(j)
        pairs.append((i, j))
    return pairs


def _stepped(seat: Body, movers: tuple[Body, ...], way: Way, contact: float) -> float:
    """Return how far bodies can move where something may come before the contact that rays show, mm."""
    for mover in movers:
        if not _is_free(seat, mover, way.unit, contact, 0.0):
            contact = seat.play(mover, _vec(way.unit), way.expected, contact, resolution=_RESOLUTION)
    return contact


def _is_free(seat: Body, mover: Body, way: Array, to: float, back: float) -> bool:
    """Return whether a convex body certainly meets nothing until just before it has moved so far, or back."""
    to, back = (max(0.0, d - _SHORT_OF_CONTACT) for d in (to, back))
    if max(to, back) < _NEAR:
        low, high = mover.bounds
        seat = cropped(seat, _vec(np.array(low) - _NEAR), _vec(np.array(high) + _NEAR))
    if seat.is_empty:
        return True
    # A hull of nearly no sweep has facets too thin to trust.
    swept = (
        mover.moved(_vec(way * -back)).swept(_vec(way * (to + back))) if to + back > _THIN_SWEEP else mover
    )
    return _is_convex(mover) and not _overlap(seat, (swept,))


def _ray_contact(target: Body, moving: Body, way: Array, limit: float) -> float:
    """Return the least distance from a corner of a moving body to a target along its way, mm.

    Rays start a little behind the corner, so that a face that is touched already is met at 0.
    """
    corners = _leading(moving, way)
    corners = corners[_in_shadow(target, corners, way, limit)]
    if len(corners) == 0:
        return limit
    hits = target.rays(corners - way * _BACK, np.broadcast_to(way, corners.shape), limit + _BACK)
    nearest = (
        h.distance - _BACK
        for ray in hits
        for h in ray
        if h.distance >= _BACK - _OFF_CONTACT
        and h.normal[0] * way[0] + h.normal[1] * way[1] + h.normal[2] * way[2] < -_GRAZING
    )
    return max(0.0, min(nearest, default=limit))


def _leading(body: Body, way: Array) -> Array:
    """Return the corners of the facets that face a way."""
    points, faces, normals = _facets(body)
    leading = np.zeros(len(points), dtype=np.bool_)
    leading[faces[normals @ way > 0]] = True
    return points[leading]


@lru_cache(maxsize=16)
def _facets(body: Body) -> tuple[Array, npt.NDArray[np.int32], Array]:
    """Return a body's corners, its facets and their normals (of any length), asked for once per direction."""
    points, faces = body.arrays()
    a, b, c = (points[faces[:, k]] for k in range(3))
    return points, faces, np.cross(b - a, c - a)


@lru_cache(maxsize=16)
def _is_convex(body: Body) -> bool:
    return body.is_convex


def _in_shadow(target: Body, points: Array, way: Array, limit: float) -> npt.NDArray[np.bool_]:
    """Return which points may meet the target's bounds on their way."""
    low, high = (np.array(c) for c in target.bounds)
    ends = points + way * limit
    near = np.less_equal(np.minimum(points, ends), high + _BACK)
    far = np.greater_equal(np.maximum(points, ends), low - _BACK)
    return np.asarray((near & far).all(axis=1), dtype=np.bool_)


def _vec(v: Array) -> Vec3:
    return float(v[0]), float(v[1]), float(v[2])
