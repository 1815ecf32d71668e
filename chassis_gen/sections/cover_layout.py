"""Where a cover's lid lies, its hook and its screws.

Origin and axes: the lid's frame, s along it; see `cover`.
"""

from __future__ import annotations

import math

from chassis_gen.plan.sums import on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.cover_model import (
    PRY_DEPTH,
    PRY_LENGTH,
    PRY_UNDER,
    CoverParams,
    CoverPlan,
    hooked,
    screw_spec,
)
from chassis_gen.sections.cover_screws import screw_holes
from chassis_gen.sections.cover_sums import HOOK_SIDE, Across, Along, sizes_across, sizes_along
from chassis_gen.sections.features.lid import Hook, Lid
from chassis_gen.shapes.frame import Frame, reversed_axis, topped

HOOK_HALF_WIDTH = 5.0
"""Half the width of the hook, mm: it stays where the round surface is nearly flat (chosen)."""
FLOOR_STEP = 0.1
"""How far the floor of the hook's slot lies below the seat, mm (chosen)."""


def laid_out(params: CoverParams, ctx: SectionContext) -> CoverPlan:
    """Return the lid in its rebate and what holds it.

    Args:
        params: the cover's keys.
        ctx: where it stands.

    Raises:
        InputError: the thread is unknown, or has no such hole.
    """
    across, along = sizes_across(params, ctx), sizes_along(params, ctx)
    name, fitter = f"{ctx.name}.length", ctx.setting.fitter
    return CoverPlan(
        length=fitter.chosen(name, ctx.length, "length along the axis", "layout"),
        thickness=across.thickness,
        lid_inside_diameter=across.inside,
        seat_diameter=across.seat,
        rebate_width=across.rebate_width,
        lid_width=across.width,
        rebate_length=along.rebate,
        lid_length=along.lid,
        lip=along.lip,
        hook_lip=along.hook_lip,
        hook_height=across.hook_height,
        hook_slot_height=across.slot_height,
        lid=_lid(params, ctx, across, along),
        gives_access_to=params.gives_access_to,
    )


def _frame(params: CoverParams, ctx: SectionContext) -> Frame:
    """Return the lid's frame: from the end where it hooks in."""
    if hooked(params) and params.hook_end == "far":
        return reversed_axis(topped(ctx.clock_deg, ctx.z1))
    return topped(ctx.clock_deg, ctx.z0)


def _lid(params: CoverParams, ctx: SectionContext, across: Across, along: Along) -> Lid:
    frame, least, spec = _frame(params, ctx), ctx.setting.rules.least_wall, screw_spec(params)
    e0, e1 = along.e0, on_grid(along.e0 + along.lid.total)
    hole = ctx.setting.fitter.hole("hole", spec.diameter, "", "").total / 2
    head = across.head.total / 2 if across.head else 0.0
    beside = max(head + least, PRY_UNDER + hole + spec.min_wall)
    spots = [e1 - beside] if hooked(params) else [e0 + beside, e1 - beside]
    holes = screw_holes(params, ctx, across, frame, spots)
    land = max(hole + spec.min_wall, params.rest)
    return Lid(
        frame=frame,
        length=ctx.length,
        begin=along.begin,
        end=on_grid(ctx.length - params.lip),
        e0=e0,
        e1=e1,
        rebate_half=across.rebate_width.total / 2,
        half=across.width.total / 2,
        seat_radius=across.seat.total / 2,
        under_radius=across.inside.total / 2,
        open_from=on_grid(e0 + params.rest if hooked(params) else spots[0] + land),
        open_to=on_grid(spots[-1] - land),
        hole_depth=max(h.depth for h in holes if h.piece == ctx.piece),
        wall=ctx.setting.rules.wall,
        pry=(PRY_UNDER, min(PRY_LENGTH, ctx.length - e1 - least), PRY_DEPTH) if params.pry_slot else None,
        framed=params.frame,
        holes=holes,
        hook=_hook(params, across),
    )


def _hook(params: CoverParams, across: Across) -> Hook | None:
    if across.hook_height is None or across.slot_height is None:
        return None
    height, slot = across.hook_height.total, across.slot_height.total
    under, seat = across.inside.total / 2, across.seat.total / 2
    half = max(1.0, min(HOOK_HALF_WIDTH, across.width.total / 2 - 2.0))
    # a lid so thick that nothing is left under it is found too wide; its hook needs an angle all the same
    around = max(under, half)
    turn = math.degrees(math.asin(half / around))
    return Hook(
        reach=params.hook_reach,
        tip_room=HOOK_SIDE,
        inner=under,
        outer=on_grid(under + height),
        # The floor lies below the seat, so that both never meet in one surface.
        floor=on_grid(min(under - (slot - height) / 2, seat) - FLOOR_STEP),
        roof=on_grid(under + (height + slot) / 2),
        half_angle=turn,
        slot_half_angle=turn + math.degrees(HOOK_SIDE / around),
    )
