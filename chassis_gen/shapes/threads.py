"""Balls swept along straight lines: what a wire takes up in its lanes."""

from __future__ import annotations

import math
from collections.abc import Sequence

import manifold3d
import numpy as np
from numpy.typing import NDArray

from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import Vec3

_Points = NDArray[np.float64]
SIDES = 12
"""Facets round a swept ball; its corners lie on the ball, so that it is never larger (chosen)."""


def swept_balls(
    lines: Sequence[tuple[Vec3, Vec3]], diameters: Sequence[float], chord: float
) -> tuple[Body, ...]:
    """Return balls swept along their own lines, as bodies of sweeps that keep apart within each body.

    Nothing is united, which would take far longer than all that is asked of the sweeps.

    Args:
        lines: start and end of each, mm.
        diameters: of each ball, mm.
        chord: for the bodies' book-keeping, mm.
    """
    unit_ball = _ball()
    points = [
        np.concatenate([unit_ball * d / 2 + np.array(a), unit_ball * d / 2 + np.array(b)])
        for (a, b), d in zip(lines, diameters, strict=True)
    ]
    hulls = [manifold3d.Manifold.hull_points(p) for p in points]
    low, high = np.array([p.min(axis=0) for p in points]), np.array([p.max(axis=0) for p in points])
    return tuple(
        Body(manifold3d.Manifold.compose([hulls[i] for i in group]), chord) for group in _apart(low, high)
    )


def _apart(low: _Points, high: _Points) -> list[list[int]]:
    """Return the numbers of boxes in groups within which no two meet."""
    groups: list[list[int]] = []
    for i in range(len(low)):
        meets = (low[i] <= high).all(axis=1) & (low <= high[i]).all(axis=1)
        home = next((g for g in groups if not meets[g].any()), None)
        if home is None:
            groups.append([i])
        else:
            home.append(i)
    return groups


def _ball() -> _Points:
    """Return the corners of a ball of radius 1: rings of `SIDES` corners and two poles."""
    points = [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)]
    for k in (-1, 0, 1):
        up = math.radians(45.0 * k)
        for i in range(SIDES):
            turn = 2 * math.pi * i / SIDES
            points.append((math.cos(up) * math.cos(turn), math.cos(up) * math.sin(turn), math.sin(up)))
    return np.array(points)
