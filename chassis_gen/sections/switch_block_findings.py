"""What can't work about a switch block: its switches' distance, their opening, their plate and its screws."""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.sections.base import Opening, SectionContext
from chassis_gen.sections.features.openings import wider_opening
from chassis_gen.sections.switch_block_model import Carrier, SwitchBlockParams, SwitchBlockPlan
from chassis_gen.sections.switch_block_sums import asked_distance, least_distance
from chassis_gen.sections.switch_seat_model import SwitchSeat
from chassis_gen.shapes.frame import turn_between

LEAST_UNDER_HEAD = 1.6
OPENING_CLEARANCE = 0.3
LEAST_PLATE = 1.0


def findings(params: SwitchBlockParams, ctx: SectionContext, d: SwitchBlockPlan) -> tuple[Finding, ...]:
    """Return what can't work, the seats' own findings first.

    Args:
        params: of the section.
        ctx: of the section.
        d: what was planned.
    """
    return (
        *(f for seat in d.seats for f in seat.findings),
        *_too_close(params, ctx),
        *_opening(ctx, d.main),
        *(f for key, seat in zip(("", "aux."), d.seats, strict=False) for f in _reached(ctx, key, seat)),
        *(f for seat in d.seats for f in (*_recess(ctx, seat), *_wire_room(params, ctx, seat))),
        *(_screws(params, ctx, d.carrier) if d.carrier else ()),
    )


def _too_close(params: SwitchBlockParams, ctx: SectionContext) -> Iterator[Finding]:
    if params.aux is None:
        return
    least, offset = (of(params, params.aux, ctx.setting) for of in (least_distance, asked_distance))
    if offset >= least - 1e-6:
        return
    value = math.ceil(least * 10) / 10
    message = (
        f"the two switches stand {offset:.2f} mm apart; with a wall between them they need {least:.2f} mm"
    )
    remedy = Remedy("aux.offset", value, f"put the second switch {value:g} mm further in")
    numbers = {"offset": offset, "needed": least}
    yield error("switches-too-close", ctx.name, message, numbers, remedy, blocks=True)


def _opening(ctx: SectionContext, seat: SwitchSeat) -> Iterator[Finding]:
    """Yield what is wrong between a tube opening and an actuator that stands in it."""
    part = seat.part.part
    if ctx.opening is None or part.kind != "tactile_board":
        return
    actuator = part.size("actuator_diameter")
    wanted = actuator + 2 * OPENING_CLEARANCE
    if math.hypot(seat.top, actuator / 2) < ctx.bore_radius or ctx.opening.diameter >= wanted:
        return
    message = (
        f"the actuator of {part.name} stands in the opening {ctx.opening.name}, which is "
        f"{ctx.opening.diameter:.2f} mm wide; {wanted:.2f} mm are needed"
    )
    numbers = {"opening": ctx.opening.diameter, "needed": wanted}
    yield error("opening-small", ctx.name, message, numbers, wider_opening(wanted))


def _reached(ctx: SectionContext, key: str, seat: SwitchSeat) -> Iterator[Finding]:
    """Yield a warning where the tube's wall is closed over a switch's axis: nobody can press it there."""
    openings = ctx.setting.openings.values()
    if any(_over(o, seat, ctx.tube_outer_radius) for o in openings):
        return
    message = (
        f"no opening of the tube stands over {seat.part.part.name} at station {seat.station:.1f}, clock "
        f"{seat.clock_deg:.0f}: with the chassis in the tube it can't be pressed"
    )
    named = [Remedy(f"{key}at_opening", o.name, f'under the opening "{o.name}"') for o in openings]
    other = Remedy(None, None, f"a [[tube.opening]] there, named by {key}at_opening")
    numbers = {"station": seat.station, "clock_deg": seat.clock_deg}
    found = Finding("warning", "switch-without-opening", seat.part.id, message, numbers)
    yield replace(found, candidates=(*named, other))


def _over(opening: Opening, seat: SwitchSeat, radius: float) -> bool:
    """Return whether a switch's axis goes through an opening of a tube of some outer radius, mm."""
    turn = math.radians(turn_between(seat.clock_deg, opening.clock_deg))
    return math.hypot(opening.station - seat.station, turn * radius) < opening.diameter / 2


def _recess(ctx: SectionContext, seat: SwitchSeat) -> Iterator[Finding]:
    """Yield an error where a head's recess reaches through the chassis's side at its seat."""
    part, wide = seat.part.part, seat.opening_width.total
    seated = math.hypot(seat.seat_height.total, wide / 2)
    if part.kind != "panel_button" or seated + ctx.setting.rules.least_wall <= ctx.radius:
        return
    message = (
        f"the recess for {part.name} is {wide:.2f} mm wide and reaches "
        f"{seated:.2f} mm from the axis at its seat; the chassis reaches {ctx.radius:.2f} mm"
    )
    remedy = Remedy("part", "tactile board", "take the tactile board")
    numbers = {"reach": seated, "radius": ctx.radius}
    yield error("recess-too-wide", part.name, message, numbers, remedy, blocks=True)


def _wire_room(params: SwitchBlockParams, ctx: SectionContext, seat: SwitchSeat) -> Iterator[Finding]:
    """Yield an error where the plate leaves the wires too little room; not where the seat can't be anyway."""
    room, wanted = seat.plate_under - seat.floor(ctx.radius), params.wire_room
    if room >= wanted or any(f.blocks_solids for f in seat.findings):
        return
    message = (
        f"under the plate of {seat.part.part.name} {room:.2f} mm are left over the spine; "
        f"{wanted:.2f} mm are wanted for the wires"
    )
    thin = math.floor((params.plate_thickness - wanted + room) * 10) / 10
    remedies = (Remedy("plate_thickness", thin, f"a plate of {thin:g} mm"),) if thin >= LEAST_PLATE else ()
    numbers = {"room": room, "wanted": wanted}
    yield error("no-wire-room", seat.part.id, message, numbers, *remedies, blocks=True)


def _screws(params: SwitchBlockParams, ctx: SectionContext, carrier: Carrier) -> Iterator[Finding]:
    """Yield what is wrong with the carrier's screws; both are alike, so one finding speaks for both."""
    way, held = carrier.holes[:2]
    if way.depth < LEAST_UNDER_HEAD:
        more = math.ceil((params.plate_thickness + LEAST_UNDER_HEAD - way.depth) * 10) / 10
        message = f"the carrier is {way.depth:.2f} mm thick under a screw; {LEAST_UNDER_HEAD:g} mm are wanted"
        remedy = Remedy("plate_thickness", more, f"a plate of {more:g} mm")
        numbers = {"left": way.depth, "wanted": LEAST_UNDER_HEAD}
        yield error("carrier-thin", way.id, message, numbers, remedy, blocks=True)
    left = carrier.ledge_height - held.depth + ctx.radius
    if left < held.least_wall:
        message = (
            f"{max(left, 0.0):.2f} mm are left under the carrier's screw; {held.least_wall:.2f} mm are wanted"
        )
        numbers = {"left": left, "wanted": held.least_wall}
        yield error("screw-too-deep", held.id, message, numbers, blocks=True)
