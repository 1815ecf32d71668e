"""The cross-section by whole degrees of clock: how far obstacles reach, how deep a lane may lie over them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from chassis_gen.plan.model import Disc, Obstacle, Sector, Slab

Clocks = NDArray[np.float64]
Mask = NDArray[np.bool_]
Degrees = NDArray[np.intp]
DEGREES = 360
BLOCKED = float("inf")


@lru_cache(maxsize=1)
def _rays() -> Clocks:
    a = np.radians(np.arange(DEGREES, dtype=float))
    found = np.stack([np.cos(a), np.sin(a)])
    found.setflags(write=False)
    return found


def feet(radius: float) -> Clocks:
    """Return x and y of every whole degree of clock at a radius, mm."""
    return radius * _rays()


def reach(shape: Disc | Slab | Sector) -> Clocks:
    """Return how far an obstacle reaches from the axis along each whole degree, mm.

    Args:
        shape: the obstacle; 0 where its ray misses it, infinite where a sector blocks.
    """
    if isinstance(shape, Sector):
        barred = interval_mask(math.floor(shape.clock_from), math.ceil(shape.clock_to))
        return np.where(barred, BLOCKED, 0.0)
    if isinstance(shape, Disc):
        return _disc_reach(shape)
    return _slab_reach(shape)


def _disc_reach(d: Disc) -> Clocks:
    c, s = _rays()
    along = d.x * c + d.y * s
    off2 = d.x**2 + d.y**2 - along**2
    inside = d.radius**2 - off2
    far = along + np.sqrt(np.maximum(inside, 0.0))
    return np.where((inside > 0) & (far > 0), far, 0.0)


def _slab_reach(b: Slab) -> Clocks:
    turn = np.radians(b.top_clock - 90.0)
    a = np.radians(np.arange(DEGREES, dtype=float)) - turn
    c, s = np.cos(a), np.sin(a)
    with np.errstate(divide="ignore", invalid="ignore"):
        tx = np.sort(np.stack([b.x0 / c, b.x1 / c]), axis=0)
        ty = np.sort(np.stack([b.y0 / s, b.y1 / s]), axis=0)
    parallel_x, parallel_y = np.abs(c) < 1e-12, np.abs(s) < 1e-12
    tx = np.where(parallel_x, [[-np.inf], [np.inf]] if b.x0 <= 0 <= b.x1 else [[np.inf], [-np.inf]], tx)
    ty = np.where(parallel_y, [[-np.inf], [np.inf]] if b.y0 <= 0 <= b.y1 else [[np.inf], [-np.inf]], ty)
    near, far = np.maximum(tx[0], ty[0]), np.minimum(tx[1], ty[1])
    return np.where((far > 0) & (far >= near), far, 0.0)


def interval_mask(clock_from: float, clock_to: float) -> Mask:
    """Return which whole degrees lie in a clock interval (that may pass 0)."""
    span = clock_to - clock_from
    if span < 0:
        span %= DEGREES
    if span >= DEGREES:
        return np.ones(DEGREES, dtype=bool)
    return (np.arange(DEGREES) - clock_from) % 360.0 <= span + 1e-9


def innermost_lane_radius(obstacles: Iterable[Obstacle], z0: float, z1: float, wall: float) -> Clocks:
    """Return the smallest radius that a lane's bottom may have by whole degree, mm (infinite where blocked).

    Each obstacle is grown by the wall first, so that the wall stands beside a lane as well as under it.

    Args:
        obstacles: what lanes keep away from.
        z0: from this station, mm.
        z1: to this station, mm.
        wall: material to leave between lane and obstacle, mm.
    """
    limit = np.zeros(DEGREES)
    for o in obstacles:
        if o.z0 - wall < z1 and o.z1 + wall > z0:
            limit = np.maximum(limit, _reach_grown(o.shape, wall))
    return limit


@lru_cache(maxsize=4096)
def _reach_grown(shape: Disc | Slab | Sector, by: float) -> Clocks:
    """Return the reach of an obstacle grown by a wall, mm; the same few are asked for at many stations."""
    found = reach(_grown(shape, by))
    found.setflags(write=False)
    return found


def _grown(shape: Disc | Slab | Sector, by: float) -> Disc | Slab | Sector:
    """Return an obstacle grown by a wall, mm; a sector already holds whatever margin its owner wants."""
    if isinstance(shape, Disc):
        return replace(shape, radius=shape.radius + by)
    if isinstance(shape, Slab):
        return Slab(shape.x0 - by, shape.x1 + by, shape.y0 - by, shape.y1 + by, shape.top_clock)
    return shape


def windowed_max(values: Clocks, half: int) -> Clocks:
    """Return the largest value within `half` degrees of each degree, round the circle."""
    largest: Clocks = np.max(np.stack([np.roll(values, k) for k in range(-half, half + 1)]), axis=0)
    return largest
