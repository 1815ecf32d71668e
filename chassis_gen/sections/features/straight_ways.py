"""Straight ways: at which clocks a channel leads straight from a joint out of its room to the lanes.

    joint o             a channel that grazes the face of the room that it goes through
           \\ `-.        would leave a feather of material between itself and the room
    ========\\====`-.==  face
             \\
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator

from chassis_gen.shapes.frame import unit

GRAZING = 32.0
"""Least angle between a channel and the face of the room that it goes through, degrees: past 30 degrees the wedge
between them is no thin wall."""
DROP_END = 2.0
"""Depth of a lane's bottom that a channel is taken to lead to, mm (chosen)."""

Clocks = tuple[tuple[float, float], ...]


def across_and_toward(point: tuple[float, float], clock_deg: float) -> tuple[float, float]:
    """Return where a point of a cross-section lies across a clock's direction, the way clocks fall, and toward it.

    Args:
        point: x and y in the tube, mm.
        clock_deg: the clock, degrees.
    """
    (cx, sx), (cy, sy) = unit(clock_deg - 90.0), unit(clock_deg)
    return point[0] * cx + point[1] * sx, point[0] * cy + point[1] * sy


def straight_ways(
    joint: tuple[float, float],
    clock_deg: float,
    radius: float,
    turns: Iterable[int],
    leads_out: Callable[[float, float], bool],
) -> Clocks:
    """Return the clocks to which channels lead straight from a joint, as ranges of clocks.

    Args:
        joint: across and toward the clock that turns count from, mm, from `across_and_toward`.
        clock_deg: that clock, degrees.
        radius: of the chassis, mm.
        turns: whole degrees to try, in rising order.
        leads_out: tells whether a channel that runs so far across and toward the clock, mm, gets out well.
    """
    good = []
    for turn in turns:
        toward, across = ((radius - DROP_END) * v for v in unit(turn))
        if leads_out(-across - joint[0], toward - joint[1]):
            good.append(turn)
    return tuple((clock_deg + run[0], clock_deg + run[-1]) for run in _runs(good) if len(run) > 1)


def is_steep(through: float, along: float) -> bool:
    """Return whether a channel goes through a face steeply enough to leave no feather of material.

    Args:
        through: how far it leads at right angles to the face, mm; below 0 away from it.
        along: how far it leads along the face, either way, mm.
    """
    return math.degrees(math.atan2(through, abs(along))) >= GRAZING


def _runs(turns: Iterable[int]) -> Iterator[list[int]]:
    """Yield turns in runs that follow each other by single degrees."""
    run: list[int] = []
    for turn in turns:
        if run and turn != run[-1] + 1:
            yield run
            run = []
        run.append(turn)
    if run:
        yield run
