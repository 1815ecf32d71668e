"""The solid of a cell cradle: a bar opened above its base, the arms put back, then seat, rooms, ribbon and marks."""

from __future__ import annotations

from chassis_gen.plan.model import OVERLAP
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.cell_cradle_model import CellCradlePlan
from chassis_gen.shapes.frame import Frame, topped
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, Within
from chassis_gen.shapes.recipe import Step, add, cut

ARM_RELIEF = 1.0
"""Gap between an arm's end and a shoulder, mm: common practice, no source."""
MARK_DEPTH = 0.5
MARK_LENGTH = 3.2
MARK_STROKE = 0.8


def cradle_steps(d: CellCradlePlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the bar, opened above the base, the arms put back, then seat, rooms, ribbon, marks.

    Args:
        d: what was decided.
        ctx: where the cradle stands.
    """
    frame = topped(ctx.clock_deg)
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    base, (a, b), (s0, s1) = d.base_height.total, d.room, d.seat
    bore = d.seat_diameter.total / 2
    steps = [
        *ctx.shell(),
        *cut("open above the base", Box((-big, -base, a), (big, big, b), frame)),
        *add("arms", *(_arms(d, lo, hi, big, frame) for lo, hi in _arm_spans(d))),
        *cut("cell seat", Cylinder(bore, s0, s1, frame)),
    ]
    if s0 - d.shoulder.total - a > OVERLAP:
        steps += cut("near contact room", Cylinder(bore, a, s0 - d.shoulder.total, frame))
    if b - s1 - d.shoulder.total > OVERLAP:
        steps += cut("far contact room", Cylinder(bore, s1 + d.shoulder.total, b, frame))
    if d.ribbon:
        steps += cut("ribbon groove", Cylinder(bore + d.ribbon_depth.total, *d.ribbon, frame))
    near, far = d.marks
    steps += cut(f"{near} mark", *_mark(near, ctx.z0, a, ctx, frame))
    steps += cut(f"{far} mark", *_mark(far, b, ctx.z1, ctx, frame))
    return tuple(steps)


def _arm_spans(detail: CellCradlePlan) -> tuple[tuple[float, float], ...]:
    """Return the stations of the arms: free of the shoulders, and open where the ribbon comes up."""
    lo, hi = detail.seat[0] + ARM_RELIEF, detail.seat[1] - ARM_RELIEF
    if detail.ribbon is None:
        return ((lo, hi),)
    return (lo, detail.ribbon[0]), (detail.ribbon[1], hi)


def _arms(detail: CellCradlePlan, lo: float, hi: float, big: float, frame: Frame) -> Primitive:
    """Return both arms as one round bar cut level with the tips; the seat is cut out of it later."""
    box = Box((-big, -detail.base_height.total - OVERLAP, lo - 1.0), (big, detail.arm_height.total, hi + 1.0))
    return Within(Cylinder(detail.arm_radius, lo, hi), box, frame)


def _mark(pole: str, z0: float, z1: float, ctx: SectionContext, frame: Frame) -> tuple[Primitive, ...]:
    """Return the strokes of a plus or a minus in the top of an end wall."""
    low = ctx.outer.smallest_radius(z0, z1) - MARK_DEPTH
    high = ctx.outer.largest_radius(z0, z1) + 1.0
    z, half, stroke = (z0 + z1) / 2, MARK_LENGTH / 2, MARK_STROKE / 2
    across = Box((-half, low, z - stroke), (half, high, z + stroke), frame)
    if pole == "minus":
        return (across,)
    along = min(half, (z1 - z0) / 2 - stroke)
    return across, Box((-stroke, low, z - along), (stroke, high, z + along), frame)
