"""Where the switches of a block and their carrier stand."""

from __future__ import annotations

from chassis_gen.plan.sums import Term
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.head_screw import head_width, held_down
from chassis_gen.sections.features.screw_hole import ShapedHole
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.sections.switch_block_model import (
    AuxSwitch,
    Carrier,
    SwitchBlockParams,
    SwitchBlockPlan,
    switch_of,
)
from chassis_gen.sections.switch_block_sums import (
    aux_clock,
    carrier_screw,
    distance,
    land,
    main_half,
    main_offset,
    section_length,
)
from chassis_gen.sections.switch_seat_model import COVER, Site, SwitchSeat, Wishes


def laid_out(params: SwitchBlockParams, ctx: SectionContext) -> SwitchBlockPlan:
    """Return the switches in their seats and the carrier.

    Raises:
        InputError: a part or thread is unknown or a part is no switch.
    """
    setting, name = ctx.setting, ctx.name
    station = ctx.z0 + main_offset(params, setting)
    piece = f"{name} carrier" if params.carrier else ctx.piece
    main = _seat(params, params, ctx, _site(ctx, name, piece, ctx.clock_deg, station))
    aux = None
    if params.aux:
        at = station + distance(params, params.aux, setting)
        site = _site(ctx, f"{name}.aux", ctx.piece, aux_clock(params.aux, ctx), at)
        aux = _seat(params, params.aux, ctx, site)
    return SwitchBlockPlan(
        length=section_length(params, setting),
        end_wall=setting.fitter.chosen(f"{name}.end_wall", params.end_wall, "thickness of each end wall"),
        main=main,
        aux=aux,
        carrier=_carrier(params, ctx, main, station) if params.carrier else None,
    )


def _site(ctx: SectionContext, id: str, piece: str, clock_deg: float, station: float) -> Site:
    return Site(
        id=id,
        section=ctx.name,
        piece=piece,
        clock_deg=clock_deg,
        station=station,
        radius=ctx.radius,
        largest_radius=ctx.outer.largest_radius(ctx.z0, ctx.z1),
        tube_outer_radius=ctx.tube_outer_radius,
        bore_radius=ctx.bore_radius,
    )


def _seat(
    params: SwitchBlockParams, own: SwitchBlockParams | AuxSwitch, ctx: SectionContext, site: Site
) -> SwitchSeat:
    """Return how a switch sits at its site, by its own keys and those of the block."""
    wishes = Wishes(params.plate_thickness, params.wire_room, params.spine, own.actuator_recess, own.slide_in)
    part = switch_of(own.part, ctx.setting)
    if part.kind == "panel_button":
        from chassis_gen.sections.switch_button_seat import plan_button

        return plan_button(part, ctx.setting.fitter, site, wishes)
    from chassis_gen.sections.switch_tactile_seat import plan_tactile

    return plan_tactile(part, ctx.setting.fitter, site, wishes)


def _carrier(params: SwitchBlockParams, ctx: SectionContext, seat: SwitchSeat, station: float) -> Carrier:
    fitter, more, half = ctx.setting.fitter, land(params), main_half(params, ctx.setting)
    terms = (
        Term("switch", 2 * half, f"room of {params.part}"),
        Term("screw lands", 2 * more, f"two {params.carrier_thread} screws"),
    )
    bay = fitter.summed(f"{ctx.name}.carrier_bay_length", terms, "bay that takes the carrier, along the axis")
    length = fitter.mating(f"{ctx.name}.carrier_length", bay, "slide", "carrier along the axis", outer=False)
    room = seat.room_width.total / 2
    at, middle = room + (half - room + more) / 2, length.total / 2
    holes = (
        *_screw(params, ctx, seat, "near", station - at),
        *_screw(params, ctx, seat, "far", station + at),
    )
    return Carrier(bay, length, seat.plate_under, station - middle, station + middle, holes)


def _screw(
    params: SwitchBlockParams, ctx: SectionContext, seat: SwitchSeat, tag: str, z: float
) -> tuple[ShapedHole, ShapedHole]:
    """Return the way through the carrier and the hole that holds the screw, for one screw."""
    spec, id = carrier_screw(params), f"{ctx.name}.carrier_{tag}"
    source = "counterbore for the screw's head, two screw diameters wide: common practice, no source"
    width = head_width(params.carrier_thread)
    head = ctx.setting.fitter.hole(f"{id}_head_diameter", width, source, "counterbore")
    bears = half_chord(ctx.radius - COVER, head.total / 2) - spec.thread.major_diameter
    carrier, place = f"{ctx.name} carrier", (seat.clock_deg, z)
    return held_down(ctx, id, spec, carrier, head, place, (bears, seat.plate_under))
