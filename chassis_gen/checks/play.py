"""Play: how far each seated part can move in its seat, measured on the solids.

Rays from the corners of part and seat say how far away the first contact is; a sweep just short of it
shows that nothing else is met before. Where the sweep does meet something (two edges that cross), the
way is bisected.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from chassis_gen.checks.probes import part_bodies, seat_of
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
_NEAR_DIRECTION = math.cos(math.radians(45.0)) - 1e-9
_RESOLUTION = 0.002


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
        f"{play.part} was planned to move {expected:.3f} mm toward {way}; in its seat it moves {play.measured:.3f} mm",
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
    seat = seat_of(part, solids)
    movers = part_bodies(part, solids.chord)
    shrink = 0.0
    if seat is not None and part.squeeze > 0 and _overlap(seat, movers):
        shrink = part.squeeze + 2 * solids.chord
        movers = part_bodies(part, solids.chord, shrink)
    stands_in = seat is not None and _overlap(seat, movers)

    def measured(direction: Vec3, expected: float | None) -> float:
        if seat is None:
            return OPEN_WAY
        if stands_in:
            return -shrink
        limit = OPEN_WAY if expected is None else max(OPEN_WAY, expected + 0.5)
        return min((free_way(seat, m, direction, limit + shrink) for m in movers), default=limit) - shrink

    asked = [(p.direction, p.expected) for p in part.plays]
    asked += [(d, None) for d in _more_directions(plan, part, [d for d, _ in asked])]
    return tuple(MeasuredPlay(part.id, d, e, measured(d, e)) for d, e in asked)


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


def free_way(seat: Body, mover: Body, direction: Vec3, limit: float) -> float:
    """Return how far a body that stands clear can move before it meets another, mm.

    Args:
        seat: what it may meet.
        mover: the body that moves.
        direction: the way it moves, of any length.
        limit: the farthest that is looked at, mm; returned when the way is free.
    """
    way = np.array(direction) / math.hypot(*direction)
    contact = min(_ray_contact(seat, mover, way, limit), _ray_contact(mover, seat, -way, limit))
    if mover.is_convex:
        before = contact - _SHORT_OF_CONTACT
        # A hull of nearly no sweep has facets too thin to trust.
        if before <= _SHORT_OF_CONTACT or seat.common_volume(mover.swept(_vec(way * before))) <= COLLISION_VOLUME:
            return contact
    return seat.play(mover, _vec(way), max(0.0, contact - 0.01), contact, resolution=_RESOLUTION)


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
        if h.normal[0] * way[0] + h.normal[1] * way[1] + h.normal[2] * way[2] < -_GRAZING
    )
    return max(0.0, min(nearest, default=limit))


def _leading(body: Body, way: Array) -> Array:
    """Return the corners of the facets that face a way."""
    points, faces = body.arrays()
    a, b, c = (points[faces[:, k]] for k in range(3))
    faces = faces[np.cross(b - a, c - a) @ way > 0]
    leading: Array = points[np.unique(faces)]
    return leading


def _in_shadow(target: Body, points: Array, way: Array, limit: float) -> npt.NDArray[np.bool_]:
    """Return which points may meet the target's bounds on their way."""
    low, high = (np.array(c) for c in target.bounds)
    ends = points + way * limit
    near = np.minimum(points, ends) <= high + _BACK
    far = np.maximum(points, ends) >= low - _BACK
    inside: npt.NDArray[np.bool_] = (near & far).all(axis=1)
    return inside


def _vec(v: Array) -> Vec3:
    return float(v[0]), float(v[1]), float(v[2])
