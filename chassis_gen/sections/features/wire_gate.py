"""Wire gate: where the wall beside a board is open, so that wires get from its terminals to the surface.

Heights count from the tube's axis toward the section's top, across is +x at right angles to it.

      rim |      wire  __--     the wire leaves over the board, through the gate in the wall at +x,
          | board __---         above the gate's base
     =====|===---====|base
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

GATE_HALF = 1.6
"""Half the length of a wire gate beside a terminal, mm: the thickest wire's way out and a little."""
GATE_DIP = 1.3
"""How far under its middle a wire's way out is cut at most, mm."""


def joined(spans: Iterable[tuple[float, float]], least: float) -> tuple[tuple[float, float], ...]:
    """Return stretches with those made one that leave less than a least length between them.

    Ways out that were cut one by one would leave webs of no thickness between them.

    Args:
        spans: from and to, mm, in rising order.
        least: the least length that may stay between two of them, mm.
    """
    made: list[tuple[float, float]] = []
    for low, high in spans:
        if made and low - made[-1][1] < least:
            made[-1] = (made[-1][0], high)
        else:
            made.append((low, high))
    return tuple(made)


def exit_angles(
    spot: tuple[float, float], half: float, radius: float, base: float, rim: float, angles: Iterable[int]
) -> tuple[float, float] | None:
    """Return the least and the largest angle at which a wire may leave over the edge at +x, or None.

    Args:
        spot: of the terminal, across and over the axis, mm.
        half: of the wall's inner face from the middle, mm.
        radius: of the chassis, mm.
        base: lowest height of the gate, mm.
        rim: highest point at which a wire may reach the surface, mm.
        angles: over the level, degrees, in rising order: those to try.
    """
    good = tuple(_good_exits(spot, half, radius, base, rim, angles))
    return (good[0], good[-1]) if len(good) > 1 else None


def _good_exits(
    spot: tuple[float, float], half: float, radius: float, base: float, rim: float, angles: Iterable[int]
) -> Iterator[float]:
    x, y = spot
    for angle in angles:
        ex, ey = radius * math.cos(math.radians(angle)), radius * math.sin(math.radians(angle))
        if ex <= half or ey > rim or x >= half:
            continue
        crossing = y + (ey - y) * (half - x) / (ex - x)
        if min(crossing, ey) >= base + GATE_DIP:
            yield float(angle)
