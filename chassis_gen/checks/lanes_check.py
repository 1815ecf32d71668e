"""Lanes: not overfilled, really free of material on the solids, and open from one section to the next."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import permutations

from chassis_gen.checks.places import place, words
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan, Lane
from chassis_gen.plan.model import OVERLAP
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import Vec3, unit

_END_ROOM = OVERLAP + 0.02
"""Sections reach into each other by the overlap: below a groove's floor the end of a tunnel is so much shorter. Joints
are looked through on their own."""
_ACROSS_JOINT = 0.5
_JOINED = 0.01
_FILL_SLACK = 1e-6


def check_lanes(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return errors for lanes that are too full, blocked by material, or closed at a joint of sections.

    Args:
        plan: the build.
        solids: its solids.
    """
    return (*_overfull(plan), *_blocked(plan, solids), *_broken(plan, solids))


def _overfull(plan: ChassisPlan) -> Iterator[Finding]:
    for lane in plan.lanes:
        if lane.fill > lane.fill_limit + _FILL_SLACK:
            message = (
                f"{lane.id}: wires fill {lane.fill:.0%} of the lane; {lane.fill_limit:.0%} is the limit "
                f"({', '.join(lane.wires)})"
            )
            numbers = {"fill": lane.fill, "fill_limit": lane.fill_limit}
            yield Finding("error", "lane-overfull", lane.id, message, numbers)


def _blocked(plan: ChassisPlan, solids: Solids) -> Iterator[Finding]:
    for lane in plan.lanes:
        start = _point((lane.clock_from + lane.clock_to) / 2, _middle(plan, lane), lane.z0 + _END_ROOM)
        at = first_material(solids, start, lane.z1 - lane.z0 - 2 * _END_ROOM)
        if at is not None:
            message = f"{lane.id}: there is material in the middle of the lane at {words(at)}"
            yield Finding("error", "lane-blocked", lane.id, message, place(at))


def _middle(plan: ChassisPlan, lane: Lane) -> float:
    """Return the distance of a lane's middle from the tube's axis, mm; a closed lane lies under a wall."""
    roof = lane.outer_radius - (plan.rules.least_wall if lane.closed else 0.0)
    return (lane.bottom_radius + roof) / 2


def _broken(plan: ChassisPlan, solids: Solids) -> Iterator[Finding]:
    seen: set[tuple[str, str]] = set()
    for near, far, wire in (*_between_sections(plan), *_within_sections(plan)):
        if (near.id, far.id) not in seen:
            seen.add((near.id, far.id))
            finding = _joint(plan, near, far, wire, solids)
            if finding:
                yield finding


def _between_sections(plan: ChassisPlan) -> Iterator[tuple[Lane, Lane, str]]:
    """Yield the pairs of lanes that a wire runs through one after the other with no gallery between."""
    for route in plan.routes:
        for leg, following in zip(route.legs, route.legs[1:], strict=False):
            if leg.kind == following.kind == "lane" and leg.section != following.section:
                a, b = (_lane_at(plan, x.section, route.wire.id, leg.end[2]) for x in (leg, following))
                if a is not None and b is not None:
                    near, far = (a, b) if a.z0 <= b.z0 else (b, a)
                    yield near, far, route.wire.id


def _within_sections(plan: ChassisPlan) -> Iterator[tuple[Lane, Lane, str]]:
    """Yield the pairs of lanes of one section that carry on from each other at the same clock."""
    for near, far in permutations(plan.lanes, 2):
        shared = [w for w in near.wires if w in far.wires]
        follow = near.section == far.section and abs(far.z0 - near.z1) <= _JOINED
        if shared and follow and _shared_clocks(near, far) is not None:
            yield near, far, shared[0]


def _lane_at(plan: ChassisPlan, section: str, wire: str, station: float) -> Lane | None:
    """Return the lane of a section that carries a wire nearest to a station."""
    mine = [lane for lane in plan.lanes if lane.section == section and wire in lane.wires]
    return min(mine, key=lambda lane: max(lane.z0 - station, station - lane.z1, 0.0), default=None)


def _shared_clocks(a: Lane, b: Lane) -> tuple[float, float] | None:
    """Return the clock angles that two lanes share, degrees, or None."""
    turn = 360.0 * round((a.clock_from + a.clock_to - b.clock_from - b.clock_to) / 720.0)
    low, high = max(a.clock_from, b.clock_from + turn), min(a.clock_to, b.clock_to + turn)
    return (low, high) if high > low else None


def _joint(plan: ChassisPlan, near: Lane, far: Lane, wire: str, solids: Solids) -> Finding | None:
    where = f"{near.id} / {far.id}"
    clocks = _shared_clocks(near, far)
    # a tunnel's ramp opens its roof up to the groove that it meets, so wires pass at the groove's height
    grooves = [x for x in (near, far) if not x.closed] or [near, far]
    radius = sum(_middle(plan, x) for x in grooves) / len(grooves)
    bottom, top = max(near.bottom_radius, far.bottom_radius), min(near.outer_radius, far.outer_radius)
    if clocks is None or not bottom < radius < top or abs(far.z0 - near.z1) > _JOINED:
        joint = _point((near.clock_from + near.clock_to) / 2, radius, near.z1)
        message = f"{wire}: {near.id} and {far.id} don't meet at {words(joint)}"
        return Finding("error", "lane-blocked", where, message, place(joint))
    start = _point(sum(clocks) / 2, radius, near.z1 - _ACROSS_JOINT)
    at = first_material(solids, start, 2 * _ACROSS_JOINT)
    if at is None:
        return None
    message = f"{wire}: there is material between {near.id} and {far.id} at {words(at)}"
    return Finding("error", "lane-blocked", where, message, place(at))


def first_material(solids: Solids, start: Vec3, length: float) -> Vec3 | None:
    """Return the first point of a line along the tube that lies in or on a piece, or None.

    Args:
        solids: the build's solids.
        start: where the line starts, mm.
        length: how far it runs along +z, mm.
    """
    for body in solids.pieces.values():
        if _inside(body, start):
            return start
        hits = body.rays([start], [(0.0, 0.0, 1.0)], length)[0] if length > 0 else ()
        if hits:
            return start[0], start[1], start[2] + hits[0].distance
    return None


def _inside(body: Body, point: Vec3) -> bool:
    """Return whether a point lies in a body: a ray from it then leaves through the first facet it meets."""
    low, high = body.bounds
    if not all(lo <= p <= hi for lo, p, hi in zip(low, point, high, strict=True)):
        return False
    outward = (point[0], point[1], 0.0) if math.hypot(point[0], point[1]) > 0 else (1.0, 0.0, 0.0)
    hits = body.rays([point], [outward])[0]
    return bool(hits) and sum(n * o for n, o in zip(hits[0].normal, outward, strict=True)) > 0


def _point(clock_deg: float, radius: float, z: float) -> Vec3:
    c, s = unit(clock_deg)
    return radius * c, radius * s, z
