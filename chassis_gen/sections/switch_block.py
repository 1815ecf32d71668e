"""Switch block: a panel button or a tactile switch board under an opening of the tube.

Origin and axes: the tube's; the switch's axis stands radially at the section's clock, `pin_offset` from the
near end. The room under the switch is open to both sides, so that nut, fingers and wires get in.

      near wall        far wall
       |  ___ head ___  |
       | |___plate____| |     the plate, or a separate carrier held by two screws
       |     room       |
       |______spine_____|
"""

from __future__ import annotations

import math
from typing import ClassVar

from chassis_gen.plan.model import Fit, Hardware, Obstacle, SectionPlan, Sector, Slab
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.carrier import carrier_fit
from chassis_gen.sections.features.surface import half_chord, level_angle
from chassis_gen.sections.switch_block_findings import findings
from chassis_gen.sections.switch_block_layout import laid_out
from chassis_gen.sections.switch_block_model import (
    CORNER_RELIEF,
    Carrier,
    SwitchBlockParams,
    SwitchBlockPlan,
)
from chassis_gen.sections.switch_block_solids import block_steps, carrier_piece
from chassis_gen.sections.switch_block_sums import main_offset, section_length
from chassis_gen.sections.switch_seat_model import SwitchSeat
from chassis_gen.shapes.recipe import Step


class SwitchBlock(SectionKind):
    """A switch under an opening of the tube."""

    kind: ClassVar[str] = "switch_block"
    title: ClassVar[str] = "panel button or tactile switch board under an opening of the tube"
    Params: ClassVar[type[SectionParams]] = SwitchBlockParams

    def length(self, params: SwitchBlockParams, setting: Setting) -> Dimension:
        """Return end walls, rooms and, for a second switch, the distance between the axes.

        Raises:
            InputError: a part or thread is unknown or a part is no switch.
        """
        return section_length(params, setting)

    def pin_offset(self, params: SwitchBlockParams, setting: Setting) -> float:
        """Return the distance of the first switch's axis from the near end, mm."""
        return main_offset(params, setting)

    def plan(self, params: SwitchBlockParams, ctx: SectionContext) -> SectionPlan:
        """Return the switches in their seats.

        Raises:
            InputError: a part or thread is unknown or a part is no switch.
        """
        d = laid_out(params, ctx)
        carrier, parts = d.carrier, tuple(s.part for s in d.seats)
        served = params.aux.at_opening if params.aux else None
        # Only what an opening serves is an axis to be checked against one.
        names = ("button axis", "second button axis" if served else "second button")
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=parts,
            fits=_fits(ctx, d),
            holes=carrier.holes if carrier else (),
            obstacles=(*(o for s in d.seats for o in _obstacles(s, ctx)), *_bay_obstacles(carrier, ctx)),
            terminals=tuple(t for s in d.seats for t in s.terminals),
            extra_pieces=(carrier_piece(carrier, d.main, ctx),) if carrier else (),
            hardware=_hardware(ctx, carrier),
            findings=findings(params, ctx, d),
            features={
                name: ((0.0, 0.0, s.station), s.part.frame.z_axis)
                for name, s in zip(names, d.seats, strict=False)
            },
            facts={"switch_below_outer_face_mm": ctx.tube_outer_radius - d.main.top},
            cautions=tuple(dict.fromkeys(c for p in parts for c in p.part.cautions)),
            openings=tuple(n for n in (ctx.opening.name if ctx.opening else None, served) if n),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return a full bar less rooms, seats and, with a carrier, the bay that takes it."""
        detail = plan.detail
        assert isinstance(detail, SwitchBlockPlan)
        return block_steps(detail, ctx)


def _fits(ctx: SectionContext, d: SwitchBlockPlan) -> tuple[Fit, ...]:
    seated = tuple(f for s in d.seats for f in s.fits)
    if d.carrier is None:
        return seated
    end = d.carrier.z1
    return (*seated, carrier_fit(ctx, f"{ctx.name} carrier", d.carrier.length, end - 0.6, end + 0.6))


def _hardware(ctx: SectionContext, carrier: Carrier | None) -> tuple[Hardware, ...]:
    if carrier is None:
        return ()
    way, held = carrier.holes[:2]
    return (Hardware(f"screw {way.thread}, at least {way.depth + held.engagement:.1f} mm long", 2, ctx.name),)


def _obstacles(seat: SwitchSeat, ctx: SectionContext) -> tuple[Obstacle, ...]:
    """Return the room with its two open sides, and the opening in the outer surface."""
    r, wall, top, z = ctx.radius, ctx.setting.rules.least_wall, seat.clock_deg, seat.station
    margin, floor, under = ctx.wall_angle, seat.floor(ctx.radius), seat.plate_under
    low, high = level_angle(floor, r) - margin, level_angle(under, r) + margin
    room = seat.room_width.total / 2 + wall
    half_floor = half_chord(r, floor)
    along = seat.opening_length.total / 2 + wall
    wide = seat.opening_width.total / 2
    half = math.degrees(math.asin(min(1.0, wide / r))) + margin
    beside = Slab(-wide, wide, min(floor, under), 2 * r, top)
    return (
        # a groove's sides point to the axis, the opening's don't: further in they come nearer
        Obstacle(beside, z - along, z + along, "switch opening"),
        Obstacle(
            Slab(-half_floor, half_floor, floor, under, top), z - room, z + room, "room under the switch"
        ),
        Obstacle(Sector(top - 90 + low, top - 90 + high), z - room, z + room, "open side"),
        Obstacle(Sector(top + 90 - high, top + 90 - low), z - room, z + room, "open side"),
        Obstacle(Sector(top - half, top + half), z - along, z + along, "switch opening"),
    )


def _bay_obstacles(carrier: Carrier | None, ctx: SectionContext) -> tuple[Obstacle, ...]:
    if carrier is None:
        return ()
    wall = ctx.setting.rules.least_wall
    half = 90 - level_angle(carrier.ledge_height - CORNER_RELIEF, ctx.radius) + ctx.wall_angle
    reach = carrier.bay_length.total / 2 + CORNER_RELIEF + wall
    middle, top = carrier.middle, ctx.clock_deg
    bay = Obstacle(Sector(top - half, top + half), middle - reach, middle + reach, "carrier bay")
    screws = tuple(
        Obstacle(
            Slab(
                -h.diameter.total / 2 - h.least_wall,
                h.diameter.total / 2 + h.least_wall,
                carrier.ledge_height - h.depth - wall,
                carrier.ledge_height,
                top,
            ),
            h.frame.origin[2] - h.diameter.total / 2 - h.least_wall,
            h.frame.origin[2] + h.diameter.total / 2 + h.least_wall,
            "carrier screw",
        )
        for h in carrier.holes
        if h.piece == ctx.piece
    )
    return (bay, *screws)


KIND = SwitchBlock()
