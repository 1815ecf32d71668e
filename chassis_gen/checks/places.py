"""Words for places: which section a station lies in, and a point as station, clock and radius."""

from __future__ import annotations

import math

from chassis_gen.plan.chassis import ChassisPlan, PiecePlan
from chassis_gen.plan.model import SectionPlan, clock_of
from chassis_gen.shapes.body import Bounds
from chassis_gen.shapes.frame import Vec3


def section_at(plan: ChassisPlan, z: float, piece: str | None = None) -> str:
    """Return the name of the section at a station (of a piece, where its sections are known).

    Args:
        plan: the build.
        z: station, mm.
        piece: name of the piece on which the place lies.
    """
    owned = next((p for p in plan.pieces if p.name == piece), None)
    if owned is not None and owned.owner is not None:
        return owned.owner
    names = set(owned.sections) if owned is not None else {s.name for s in plan.sections}
    sections = [s for s in plan.sections if s.name in names] or list(plan.sections)
    return min(sections, key=lambda s: max(s.z0 - z, z - s.z1, 0.0)).name if sections else ""


def section_named(plan: ChassisPlan, name: str) -> SectionPlan | None:
    """Return a section by name, or None."""
    return next((s for s in plan.sections if s.name == name), None)


def piece_named(plan: ChassisPlan, name: str) -> PiecePlan | None:
    """Return a piece by name, or None."""
    return next((p for p in plan.pieces if p.name == name), None)


def place(point: Vec3) -> dict[str, float]:
    """Return a point's station (mm), clock (degrees) and distance from the axis (mm) by name."""
    x, y, z = point
    clock, radius = clock_of(x, y), math.hypot(x, y)
    return {"station": round(z, 3), "clock_deg": round(clock, 1), "radius": round(radius, 3)}


def middle(bounds: Bounds) -> Vec3:
    """Return the middle of a box, mm."""
    low, high = bounds
    return (low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2


def words(point: Vec3) -> str:
    """Return a point in words, such as ``station 31.2, clock 90``."""
    where = place(point)
    return f"station {where['station']:.1f}, clock {where['clock_deg']:.0f}"
