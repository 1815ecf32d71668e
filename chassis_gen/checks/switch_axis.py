"""Switch axes: a bore that a tube opening serves stands on the opening's axis, planned and on the solids."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from chassis_gen.checks.places import words
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import SectionPlan
from chassis_gen.sections.base import Opening
from chassis_gen.shapes.body import Body, Hit
from chassis_gen.shapes.frame import Frame, Vec3, radial

Array = npt.NDArray[np.float64]

PLANNED_WITHIN = 0.05
MEASURED_WITHIN = 0.02

_AXIS_WORD = "axis"
_RAYS = 48
_DEPTH_STEP = 0.25
_DEPTHS = 2
_WIDEST = 2.0
_KEPT = 0.7
_ROUND_WITHIN = 0.03
_PARALLEL_WITHIN = 1e-3


def check_switch_axis(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return an error for each axis that lies off the tube opening which its section serves.

    Args:
        plan: the build.
        solids: its solids.
    """
    openings = {o.name: o for o in plan.tube.openings}
    found: list[Finding] = []
    for section in plan.sections:
        served = [openings[name] for name in section.openings if name in openings]
        for name, (point, direction) in section.features.items():
            if _AXIS_WORD in name and served:
                opening = _nearest(served, point, direction)
                found += _check(solids, section, name, (point, direction), opening)
    return tuple(found)


def _check(
    solids: Solids,
    section: SectionPlan,
    name: str,
    axis: tuple[Vec3, Vec3],
    opening: Opening,
) -> list[Finding]:
    where = f"{section.name}.{name}"
    frame = radial(opening.clock_deg, opening.station)
    planned = _off(frame, *axis)
    turned = math.dist(_unit(axis[1]), frame.z_axis)
    if math.hypot(*planned) > PLANNED_WITHIN or min(turned, 2.0 - turned) > _PARALLEL_WITHIN:
        return [_finding(where, opening, planned, frame, "was planned")]
    measured = measured_centre(solids, frame, opening, section.z1 - section.z0)
    if measured is None:
        message = f"{where}: no bore is to be found on the solids under the opening {opening.name}"
        return [Finding("error", "axis-not-found", where, message, {"station": opening.station})]
    # The bore is to stand where the plan put it: the planned offset isn't counted a second time.
    off = (measured[0] - planned[0], measured[1] - planned[1])
    return [_finding(where, opening, measured, frame, "stands")] if math.hypot(*off) > MEASURED_WITHIN else []


def measured_centre(
    solids: Solids, frame: Frame, opening: Opening, section_length: float
) -> tuple[float, float] | None:
    """Return where the middle of the bore under an opening lies in the opening's frame: round and along, mm.

    Circles are fitted to rays from the opening's axis at the two outermost depths at which a bore is met;
    a bore with other than round walls counts by the middle between opposite walls.

    Args:
        solids: the build's solids.
        frame: the opening's axis along +z, from the tube's axis outward; +y along the tube.
        opening: the opening.
        section_length: how far the bore's walls can lie apart, mm.
    """
    low, high = _radii(solids)
    reach = min(max(section_length, opening.diameter), _WIDEST * opening.diameter)
    centres = []
    for depth in np.arange(high - _DEPTH_STEP, low, -_DEPTH_STEP):
        found = [_centre(body, frame, float(depth), reach) for body in solids.pieces.values()]
        centres += [c for c in found if c is not None]
        if len(centres) >= _DEPTHS:
            break
    if not centres:
        return None
    x, y = np.mean(np.array(centres), axis=0).tolist()
    return float(x), float(y)


def _radii(solids: Solids) -> tuple[float, float]:
    """Return between which distances from the tube's axis a bore is looked for, mm."""
    widest = max(max(abs(c) for corner in b.bounds for c in corner[:2]) for b in solids.pieces.values())
    return widest / 4, widest


def _centre(body: Body, frame: Frame, depth: float, reach: float) -> tuple[float, float] | None:
    turns = np.arange(_RAYS) * (2 * math.pi / _RAYS)
    local = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    ways = local @ np.array([frame.x_axis, frame.y_axis])
    origins = np.broadcast_to(np.array(frame.point((0.0, 0.0, depth))), ways.shape)
    rays = body.rays(origins, ways, reach)
    distances = np.array([_first_wall(hits, way) for hits, way in zip(rays, ways, strict=True)])
    if np.isnan(distances).any():
        return None
    points = local * distances[:, None]
    fitted, misfit = _fitted_circle(points)
    if misfit <= _ROUND_WITHIN:
        return fitted
    right, top, left, bottom = (points[i * _RAYS // 4] for i in range(4))
    return float(right[0] + left[0]) / 2, float(top[1] + bottom[1]) / 2


def _first_wall(hits: tuple[Hit, ...], way: Array) -> float:
    """Return how far away a ray's first wall is, mm; NaN where it starts in material or misses."""
    return hits[0].distance if hits and float(np.dot(hits[0].normal, way)) < 0 else math.nan


def _fitted_circle(points: Array) -> tuple[tuple[float, float], float]:
    """Return the centre of the circle through most of some points and its largest misfit over these, mm.

    Least squares on x2 + y2 = 2 a x + 2 b y + c, repeated on the points that lie nearest, so that an
    anti-turn flat or a notch has no weight.
    """
    kept = points
    for _ in range(10):
        rows = np.column_stack([2 * kept, np.ones(len(kept))])
        a, b, c = np.linalg.lstsq(rows, (kept**2).sum(axis=1), rcond=None)[0].tolist()
        radius = math.sqrt(max(c + a * a + b * b, 0.0))
        misfits = np.abs(np.hypot(points[:, 0] - a, points[:, 1] - b) - radius)
        order = np.argsort(misfits, kind="stable")[: math.ceil(_KEPT * len(points))]
        kept = points[order]
    return (float(a), float(b)), float(misfits[order].max())


def _nearest(openings: list[Opening], point: Vec3, direction: Vec3) -> Opening:
    return min(openings, key=lambda o: math.hypot(*_off(radial(o.clock_deg, o.station), point, direction)))


def _off(frame: Frame, point: Vec3, direction: Vec3) -> tuple[float, float]:
    """Return where an axis passes an opening's axis, at its own point: round the tube and along it, mm."""
    d = tuple(a - b for a, b in zip(point, frame.origin, strict=True))
    axes = (frame.x_axis, frame.y_axis, frame.z_axis)
    x, y, z = (sum(p * q for p, q in zip(d, axis, strict=True)) for axis in axes)
    # A point on the other side of the tube's axis belongs to another opening.
    return (x, y) if z >= -1e-9 else (x + z, y)


def _unit(v: Vec3) -> Vec3:
    length = math.hypot(*v)
    return v[0] / length, v[1] / length, v[2] / length


def _finding(where: str, opening: Opening, off: tuple[float, float], frame: Frame, stands: str) -> Finding:
    message = (
        f"{where} {stands} {off[0]:+.3f} mm round and {off[1]:+.3f} mm along the tube from the middle of the "
        f"opening {opening.name} at {words(frame.point((0.0, 0.0, 1.0)))}"
    )
    numbers = {"round": off[0], "along": off[1], "off": math.hypot(*off)}
    return Finding("error", "axis-off", where, message, numbers)
