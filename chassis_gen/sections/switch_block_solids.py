"""The solid of a switch block: rooms and seats cut into the bar, and the carrier that bears the first switch."""

from __future__ import annotations

from chassis_gen.plan.model import OVERLAP, ExtraPiece
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.carrier import carrier_block
from chassis_gen.sections.features.screw_hole import hole_cuts
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.switch_block_model import CORNER_RELIEF, Carrier, SwitchBlockPlan
from chassis_gen.sections.switch_seat_model import SwitchSeat
from chassis_gen.shapes.frame import topped
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Step, cut

BAY_OVERLAP = 0.5
"""How far the room under the switch reaches into a carrier's bay, mm."""


def block_steps(d: SwitchBlockPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return a full bar less rooms, seats and, with a carrier, the bay that takes it.

    Args:
        d: what was planned.
        ctx: where it stands.
    """
    steps = list(ctx.shell())
    steps += cut("room under the switch", _room(d.main, ctx, BAY_OVERLAP if d.carrier else 0.0))
    steps += _bay_steps(d.carrier, ctx) if d.carrier else d.main.cutters
    if d.aux:
        steps += cut("room under the second switch", _room(d.aux, ctx))
        steps += d.aux.cutters
    return tuple(steps)


def _wide(ctx: SectionContext) -> float:
    """Return a radius outside the chassis, mm."""
    return ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0


def _room(seat: SwitchSeat, ctx: SectionContext, over: float = 0.0) -> Box:
    """Return the cross-wise room under a switch, reaching over the plate's underside by a length, mm."""
    half, wide = seat.room_width.total / 2, _wide(ctx)
    low, high = (-wide, seat.floor(ctx.radius), -half), (wide, seat.plate_under + over, half)
    return Box(low, high, topped(seat.clock_deg, seat.station))


def _bay_steps(carrier: Carrier, ctx: SectionContext) -> tuple[Step, ...]:
    half, wide, low = carrier.bay_length.total / 2, _wide(ctx), carrier.ledge_height
    top = topped(ctx.clock_deg, carrier.middle)
    # The corners are undercut so that the carrier's edges never ride on a printed radius.
    corners = [
        Box((-wide, low - CORNER_RELIEF, a), (wide, low + OVERLAP, b), top)
        for a, b in ((-half - CORNER_RELIEF / 2, -half + 1.0), (half - 1.0, half + CORNER_RELIEF / 2))
    ]
    return (
        *cut("carrier bay", Box((-wide, low, -half), (wide, wide, half), top)),
        *cut("corner relief", *corners),
        *hole_cuts("carrier screw", carrier.holes, ctx.piece),
    )


def carrier_piece(carrier: Carrier, seat: SwitchSeat, ctx: SectionContext) -> ExtraPiece:
    """Return the carrier as assembled, with the switch's seat in it.

    Args:
        carrier: its sums and screws.
        seat: of the switch.
        ctx: where the block stands.
    """
    name, wide, half = f"{ctx.name} carrier", _wide(ctx), carrier.length.total / 2
    top = topped(ctx.clock_deg, carrier.middle)
    keep = Box((-wide, carrier.ledge_height + REST, -half), (wide, wide, half), top)
    block = carrier_block("carrier", ctx, keep, carrier.middle - half, carrier.middle + half)
    steps = (*block, *seat.cutters, *hole_cuts("carrier screw", carrier.holes, name))
    return ExtraPiece(name, steps, seat.part.way_in, (ctx.piece,))
