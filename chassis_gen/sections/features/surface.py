"""Where the chassis's outer surface lies over a clock interval, the printing flat considered."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

from chassis_gen.plan.model import Outer


def least_surface(outer: Outer, z0: float, z1: float, clock_deg: float, half_angle: float) -> float:
    """Return the least distance of the outer surface from the axis over stations and clocks, mm.

    Args:
        outer: the chassis's outer surface.
        z0: from this station, mm.
        z1: to this station, mm.
        clock_deg: middle of the clock interval, degrees.
        half_angle: half of it, degrees.
    """
    radius = outer.smallest_radius(z0, z1)
    if outer.flat_distance is None:
        return radius
    off = abs((clock_deg - outer.flat_clock + 180.0) % 360.0 - 180.0)
    nearest = math.cos(math.radians(max(0.0, off - half_angle)))
    return min(radius, outer.flat_distance / nearest) if nearest > 0 else radius


def without_ribs(
    outer: Outer,
    recesses: Iterable[tuple[float, float]],
    gate: tuple[float, float],
    rib: float,
    past: float,
) -> tuple[float, float]:
    """Return the stations of a cut through the outer surface, moved past what would leave too thin a rib.

    A rib stands between the cut and the place where the surface falls: at a recess, at a bearing band's end.

    Args:
        outer: the chassis's outer surface.
        recesses: stations of grooves round the chassis, mm.
        gate: stations of the cut, mm.
        rib: the least rib that may stand, mm.
        past: how far beyond the fall the cut is moved, mm.
    """
    steps = list(itertools.pairwise(outer.steps))
    bands = tuple(recesses)
    falls = [*(a.z1 for a, b in steps if b.radius < a.radius), *(low for low, _ in bands)]
    rises = [*(a.z1 for a, b in steps if b.radius > a.radius), *(high for _, high in bands)]
    near, far = gate
    for z in sorted(rises, reverse=True):
        near = z - past if -past < near - z < rib else near
    for z in sorted(falls):
        far = z + past if -past < z - far < rib else far
    return near, far


def level_angle(height: float, radius: float) -> float:
    """Return the angle over the level at which a height over the axis meets a round surface, degrees.

    Args:
        height: over the axis, mm; beyond the surface it counts as its top or bottom.
        radius: of the surface, mm.
    """
    return math.degrees(math.asin(max(-1.0, min(1.0, height / radius))))


def half_chord(radius: float, height: float) -> float:
    """Return half the width of a round surface at a height over its axis, mm; 0 beyond the surface.

    Args:
        radius: of the surface, mm.
        height: over the axis, mm; or half the width of what is flat, for the height it may reach.
    """
    return math.sqrt(max(0.0, radius**2 - height**2))
