"""Where the chassis's outer surface lies over a clock interval, the printing flat considered."""

from __future__ import annotations

import math

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
