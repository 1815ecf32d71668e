"""Seat: in which directions a part may play in what holds it, and the fits that are measured there.

All directions are unit vectors in tube coordinates.
"""

from __future__ import annotations

from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Fit, PlacedPart, PlayProbe
from chassis_gen.plan.sums import Dimension
from chassis_gen.shapes.frame import Frame, Vec3, negated

REST = 0.02
"""Gap between a resting part and what it rests on in the model, mm, so that touching never counts as a hit."""


def across(frame: Frame) -> tuple[Vec3, Vec3, Vec3, Vec3]:
    """Return the four directions across a seat's axis: along its frame's x both ways, then along y.

    Args:
        frame: the seat's frame, its axis along z.
    """
    x, y = frame.x_axis, frame.y_axis
    return x, negated(x), y, negated(y)


def seat_fit(fitter: Fitter, seat: Dimension, placed: PlacedPart, fit_class: str, axis: Vec3) -> Fit:
    """Return the fit of a part in its seat, measured as its mean play both ways along a direction.

    Args:
        fitter: holds the fit classes.
        seat: the seat's size across that direction, mm.
        placed: the part in its seat.
        fit_class: name of the fit class.
        axis: one of the two ways.
    """
    probe = PlayProbe(placed.id, (axis, negated(axis)))
    return fitter.fit(seat, "part in seat", (placed.id, placed.section), fit_class, probe)
