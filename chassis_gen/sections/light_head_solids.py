"""The solids of a light head: seat, wire room, carrier and its bosses."""

from __future__ import annotations

from msgspec.structs import replace

from chassis_gen.plan.model import OVERLAP, ExtraPiece
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.screw_hole import hole_cuts
from chassis_gen.sections.light_head_model import PROUD_END, LightHeadPlan, inward_frame, span_of
from chassis_gen.shapes.frame import Frame, shifted
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive
from chassis_gen.shapes.recipe import Step, add, cut


def head_steps(d: LightHeadPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the bar with wire room and seat cut; with a carrier, only what stands behind it.

    Args:
        d: what was planned.
        ctx: of the section.
    """
    inward = inward_frame(d.facing, ctx)
    if d.carrier is None:
        return (*ctx.shell(), *_room_cuts(d, ctx, inward), *_seat_cuts(d, inward))
    joint = d.room_starts
    z0, z1 = (ctx.z0, ctx.z1 - joint) if d.facing == "far" else (ctx.z0 + joint, ctx.z1)
    return (
        *add("outer body", *ctx.body(z0, z1)),
        *_room_cuts(d, ctx, inward),
        *add("carrier boss", *_boss_solids(d, ctx, inward)),
        *hole_cuts("carrier screw", d.forming),
    )


def carrier_piece(ctx: SectionContext, d: LightHeadPlan) -> tuple[ExtraPiece, ...]:
    """Return the carrier: the light end up to the wire room, as assembled."""
    if d.carrier is None:
        return ()
    inward = inward_frame(d.facing, ctx)
    z0, z1 = span_of(d.facing, ctx, 0.0, d.room_starts)
    # A piece of its own: it never reaches into what stands next to it.
    bars = replace(ctx, joined_far=False).body(z0, z1)
    steps = (*add("carrier", *bars), *_seat_cuts(d, inward))
    return (ExtraPiece(d.carrier, steps, inward.z_axis, (ctx.piece,)),)


def _room_cuts(d: LightHeadPlan, ctx: SectionContext, inward: Frame) -> tuple[Step, ...]:
    """Return the cuts of the wire room; under a carrier it opens into the joint."""
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    a, b = d.room_starts - (OVERLAP if d.carrier else 0.0), d.room_ends
    return (
        *cut("wire room", Cylinder(d.room_radius, a, b, inward)),
        *cut("wire room's window", Box((-big, d.open_level, a), (big, big, b), inward)),
    )


def _seat_cuts(d: LightHeadPlan, inward: Frame) -> tuple[Step, ...]:
    """Return the cuts of socket, seat, passages and screws."""
    depth, end = d.seat_depth.total, d.room_starts + OVERLAP
    steps: list[Step] = []
    low = -PROUD_END
    if d.socket_diameter and d.socket_depth:
        low = d.socket_depth.total - OVERLAP
        steps += cut(
            "light tube's socket", Cylinder(d.socket_diameter.total / 2, -PROUD_END, low + OVERLAP, inward)
        )
    steps += cut("light's seat", Cylinder(d.seat_diameter.total / 2, low, depth, inward))
    for p in d.passages:
        begins = p.begins - OVERLAP if p.begins > 0.0 else p.begins
        steps += cut("wire passage", Cylinder(p.radius, begins, end, inward @ shifted(p.x, p.y)))
    for hole in d.cutting:
        steps += hole_cuts(hole.id, (hole,))
    return tuple(steps)


def _boss_solids(d: LightHeadPlan, ctx: SectionContext, inward: Frame) -> tuple[Primitive, ...]:
    """Return the bosses for the carrier's screws along the wire room, grown into its walls and end."""
    if d.bosses is None:
        return ()
    radius, distance = d.bosses
    a, b = d.room_starts, d.room_ends + OVERLAP
    return tuple(Cylinder(radius, a, b, inward @ shifted(side * distance)) for side in (1.0, -1.0))
