"""The solid of a display window: pocket, relief, cable slot and bay cut into the bar, and the bezel."""

from __future__ import annotations

from chassis_gen.plan.model import OVERLAP, ExtraPiece
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.display_window_layout import board_frame, middle_of, top_of
from chassis_gen.sections.display_window_model import Bezel, DisplayWindowPlan
from chassis_gen.sections.features.carrier import carrier_block
from chassis_gen.sections.features.screw_hole import hole_cuts
from chassis_gen.shapes.frame import negated
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Step, cut

CORNER_RELIEF = 0.5
"""Depth of the undercut along the bay's edges, so that the bezel never rides on a printed radius, mm."""
VIEW_MARGIN = 0.5
"""Room round the picture in the bezel, mm per side (chosen)."""


def window_steps(d: DisplayWindowPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the bar with the board's pocket, its relief, the cable slot and the bezel's bay cut.

    Args:
        d: what was planned.
        ctx: where it stands.
    """
    x, z = d.seat_width.total / 2, d.seat_length.total / 2
    low, m, (a, b, depth) = d.seat_height, d.relief_margin, d.slot
    top = board_frame(ctx, d)
    steps = [
        *ctx.shell(),
        *cut("screen's seat", Box((-x, low, -z), (x, _outside(ctx), z), top)),
        *cut("cable slot", Box((-x + m, low - depth, a), (x - m, low + OVERLAP, b), top)),
    ]
    if d.relief > 0.0:
        relief = Box((-x + m, low - d.relief, -z + m), (x - m, low + OVERLAP, z - m), top)
        steps += cut("relief under the board", relief, must_touch=False)
    if d.bezel:
        steps += _bay_cuts(d.bezel, ctx)
    return tuple(steps)


def _outside(ctx: SectionContext) -> float:
    return ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0


def _bay_cuts(bezel: Bezel, ctx: SectionContext) -> tuple[Step, ...]:
    big, half = _outside(ctx), bezel.bay_length.total / 2
    wide, low = bezel.bay_width.total / 2, bezel.under - CORNER_RELIEF
    edges = [
        Box((-wide, low, a), (wide, bezel.under + OVERLAP, b), top_of(ctx))
        for a, b in ((-half, -half + CORNER_RELIEF), (half - CORNER_RELIEF, half))
    ]
    return (
        *cut("bezel's bay", Box((-wide, bezel.under, -half), (wide, big, half), top_of(ctx))),
        *cut("corner relief", *edges),
        *hole_cuts("bezel screw", bezel.screws, ctx.piece),
    )


def bezel_piece(bezel: Bezel, d: DisplayWindowPlan, ctx: SectionContext) -> ExtraPiece:
    """Return the bezel as assembled: what the bay took away, less the view and the screws' ways.

    Args:
        bezel: its sums and screws.
        d: what was planned.
        ctx: where it stands.
    """
    top = top_of(ctx)
    big, half, wide = _outside(ctx), bezel.length.total / 2, bezel.width.total / 2
    keep = Box((-wide, bezel.under, -half), (wide, big, half), top)
    mid = middle_of(ctx)
    w, n, shift = d.view[0] / 2 + VIEW_MARGIN, d.view[1] / 2 + VIEW_MARGIN, d.view[2]
    view = Box((-w, bezel.under - 1.0, shift - n), (w, big, shift + n), top)
    name = f"{ctx.name} bezel"
    steps = (
        *carrier_block("bezel", ctx, keep, mid - half, mid + half),
        *cut("view", view),
        *hole_cuts("bezel screw", bezel.screws, name),
    )
    return ExtraPiece(name, steps, negated(top.y_axis), (ctx.piece,))
