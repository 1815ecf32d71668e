"""Screw holes: engagement, and the material round them measured by rays from the hole's axis."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from chassis_gen.checks.places import place, words
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import ScrewHole
from chassis_gen.sections.features.screw_hole import circle_of, edge_said, hole_finding
from chassis_gen.shapes.body import Body, Hit
from chassis_gen.shapes.frame import Vec3

Array = npt.NDArray[np.float64]

DEPTHS = (0.25, 0.5, 0.75)
"""Where along its depth the wall round a hole is measured; its mouths lie in curved or open surfaces."""

_RAYS = 48
_NUT = "captive_nut"
_FARTHEST_WALL = 1.5
_FARTHEST_NUT_WALL = 3.0
_SLACK = 0.005


class _Round(NamedTuple):
    """What rays from a hole's axis at one depth see: wall thickness per direction, mm, or None where open."""

    point: Vec3
    walls: list[float | None]
    in_material: bool


def check_screws(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return findings on screw holes: too little engagement, too little material round them, not there.

    Args:
        plan: the build.
        solids: its solids.
    """
    found: list[Finding] = []
    told: set[tuple[str, str]] = set()
    for hole in plan.holes:
        for finding in (*_engagement(plan, hole), *_advice(plan, hole)):
            # the holes of a circle are alike: one speaks for all
            if (finding.code, circle_of(hole.id)) not in told:
                told.add((finding.code, circle_of(hole.id)))
                found.append(finding)
        body = solids.pieces.get(hole.piece)
        if body is not None and not edge_said(hole.id, plan.findings):
            found += _edge(hole, body, solids.chord)
    return tuple(found)


def _engagement(plan: ChassisPlan, hole: ScrewHole) -> list[Finding]:
    thin = [f.where for f in plan.findings if f.code == "plate-thin"]
    if (
        _said(plan, "screw-engagement", hole.id)
        or any(hole.id.startswith(f"{where}.") for where in thin)
        or hole.engagement >= hole.least_engagement - _SLACK
    ):
        return []
    message = (
        f"{hole.id}: {hole.thread} holds over {hole.engagement:.2f} mm of thread; "
        f"a {hole.kind.replace('_', '-')} hole needs {hole.least_engagement:.2f} mm"
    )
    numbers = {"engagement": hole.engagement, "least_engagement": hole.least_engagement}
    return [Finding("error", "screw-engagement", hole.id, message, numbers)]


def _advice(plan: ChassisPlan, hole: ScrewHole) -> list[Finding]:
    """Return what the tables say against the choice, unless the plan has said so of this hole already."""
    advice = hole_finding(hole)
    return [] if advice is None or _said(plan, advice.code, hole.id) else [advice]


def _said(plan: ChassisPlan, code: str, hole_id: str) -> bool:
    """Return whether the plan says so of this hole, or of one of its circle."""
    return any(f.code == code and circle_of(f.where) == circle_of(hole_id) for f in plan.findings)


def _edge(hole: ScrewHole, body: Body, chord: float) -> list[Finding]:
    rounds = [_look_round(hole, body, hole.depth * d) for d in DEPTHS]
    if all(r.in_material for r in rounds):
        at = rounds[1].point
        message = f"{hole.id}: there is material where the hole should be, at {words(at)}"
        return [Finding("error", "screw-blocked", hole.id, message, place(at))]
    walled = [r for r in rounds if not r.in_material and any(w is not None for w in r.walls)]
    if not walled:
        message = f"{hole.id}: there is no material round the hole at {words(rounds[1].point)}"
        return [Finding("error", "screw-edge", hole.id, message, {"wall": 0.0, **place(rounds[1].point)})]
    thinnest = min(walled, key=lambda r: _least(hole, r))
    wall = _least(hole, thinnest)
    if wall >= hole.least_wall - 2 * chord:
        return []
    round_it = f"{wall:.2f} mm of material" if wall > 0 else "an open side"
    message = (
        f"{hole.id}: there is {round_it} beside the hole at {words(thinnest.point)}; "
        f"{hole.thread} needs {hole.least_wall:.2f} mm"
    )
    numbers = {"wall": wall, "least_wall": hole.least_wall, **place(thinnest.point)}
    return [Finding("error", "screw-edge", hole.id, message, numbers)]


def _least(hole: ScrewHole, seen: _Round) -> float:
    """Return the least wall at a depth, mm; an open side counts as none, except for a nut's way in."""
    if hole.kind == _NUT:
        return min(w for w in seen.walls if w is not None)
    return min(w or 0.0 for w in seen.walls)


def _look_round(hole: ScrewHole, body: Body, depth: float) -> _Round:
    f, radius = hole.frame, hole.diameter.total / 2
    turns = np.arange(_RAYS) * (2 * math.pi / _RAYS)
    ways = np.outer(np.cos(turns), f.x_axis) + np.outer(np.sin(turns), f.y_axis)
    origin = f.point((0.0, 0.0, depth))
    # A teardrop's roof and a nut's corners stand farther out than the bore; what lies beyond is open.
    farthest = radius * (_FARTHEST_NUT_WALL if hole.kind == _NUT else _FARTHEST_WALL)
    most = hole.least_wall + 1.0
    rays = body.rays(np.broadcast_to(np.array(origin), ways.shape), ways, farthest + most)
    through = body.rays([origin], ways[:1])[0]
    in_material = bool(through) and not _enters(through[0], ways[0])
    walls = [_wall(hits, way, farthest, most) for hits, way in zip(rays, ways, strict=True)]
    return _Round(origin, walls, in_material)


def _wall(hits: tuple[Hit, ...], way: Array, farthest: float, most: float) -> float | None:
    """Return the thickness behind a hole's wall along one ray, or None where the hole is open."""
    if not hits or not _enters(hits[0], way) or hits[0].distance > farthest:
        return None
    behind = [h.distance for h in hits[1:] if not _enters(h, way)]
    return behind[0] - hits[0].distance if behind else most


def _enters(hit: Hit, way: Array) -> bool:
    return float(np.dot(hit.normal, way)) < 0
