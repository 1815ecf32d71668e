"""What can't work about a glow chamber, with numbers and what would help."""

from __future__ import annotations

import math

from chassis_gen.findings import Finding, Remedy, wall_left
from chassis_gen.parts.model import Part
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.sections.glow_frame import chord_height, entry_half_angle
from chassis_gen.sections.glow_keys import (
    BODY_ROOM,
    LEAST_SHOULDER,
    SPINE,
    GlowChamberParams,
    GlowChamberPlan,
    turn_from,
)

LEAD_STUB = 2.0
"""Bare lead that a joint needs in the wire room, and room kept beyond it, mm: common practice, no source."""


def chamber_findings(
    params: GlowChamberParams, ctx: SectionContext, body: Part, led: Part, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    """Return what speaks against a chamber: rooms, windows, LEDs, the way for light."""
    return (
        *_room_findings(params, ctx, d),
        *_window_findings(params, ctx, body, d),
        *_led_findings(params, ctx, body, led, d),
        *_through_findings(params, ctx, d),
    )


def _room_findings(params: GlowChamberParams, ctx: SectionContext, d: GlowChamberPlan) -> tuple[Finding, ...]:
    """Return errors where the chamber, the LED's seat or the rear wall have no room in the chassis."""
    least, found = ctx.setting.rules.least_wall, []
    seat = d.seat.reach
    if seat + BODY_ROOM > d.hollow_radius:
        message = (
            f"the body's seat reaches {seat:.2f} mm from the axis, the room inside the pillars "
            f"{d.hollow_radius:.2f} mm; {BODY_ROOM:g} mm between them are wanted"
        )
        numbers = {"seat": seat, "room": d.hollow_radius, "missing": seat + BODY_ROOM - d.hollow_radius}
        thin = math.floor((ctx.radius - seat - BODY_ROOM) * 10) / 10
        fits = not d.tube and thin >= 2 * least
        candidates = (
            *((Remedy("frame_wall", thin, f"pillars {thin:g} mm thick"),) if fits else ()),
            *((Remedy("pillar", "flat", "flat pillars"),) if d.tube else ()),
            *params.wider(),
            Remedy(None, None, "a narrower body or a larger bore"),
        )
        found.append(
            Finding(
                "error", "body-wide", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )
        )
    rear = chord_height(ctx.radius, d.rear_wall) - d.rear_level
    if rear < 2 * least or d.rear_wall < min(SPINE, ctx.radius):
        message = (
            f"a rear wall {d.rear_wall:.2f} mm wide is {max(rear, 0.0):.2f} mm thick at its sides; "
            f"{min(SPINE, ctx.radius):g} mm wide and {2 * least:g} mm thick are wanted"
        )
        numbers = {"width": d.rear_wall, "thickness": rear, "least_thickness": 2 * least}
        # a wider wall stands nearer to the axis at its sides: the widest that is thick enough there, down to the least
        deep = d.rear_level + 2 * least
        widest = math.floor(20 * half_chord(ctx.radius, deep)) / 10
        usual = min(SPINE, ctx.radius)
        widths = [w for w in dict.fromkeys((SPINE, widest)) if usual <= w <= widest and w != d.rear_wall]
        candidates = (
            *(Remedy("rear_wall", w, f"rear wall {w:g} mm wide") for w in widths),
            *params.wider(),
            Remedy(None, None, "a body that reaches less far from the axis, or a larger bore"),
        )
        blocks = rear < least or d.rear_wall < 2 * least
        found.append(
            Finding(
                "error", "rear-wall", ctx.name, message, numbers, candidates=candidates, blocks_solids=blocks
            )
        )
    if d.room_radius < 2.0:
        message = f"the wire room's radius is {d.room_radius:.2f} mm; 2 mm are wanted"
        numbers = {"room_radius": d.room_radius, "least": 2.0}
        found.append(Finding("error", "wire-room-small", ctx.name, message, numbers, blocks_solids=True))
    wide = d.led_seat_diameter.total / 2
    if ctx.radius - wide < 2 * least + d.lead_hole_diameter.total / 2:
        message = (
            f"the LED's seat is {2 * wide:.2f} mm wide; the chassis's {2 * ctx.radius:.2f} mm leave no wall"
        )
        numbers = {"seat": 2 * wide, "chassis": 2 * ctx.radius}
        remedy = Remedy("led", "led 5 mm", "take a round LED")
        found.append(
            Finding(
                "error", "wall-thin", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=True
            )
        )
    return tuple(found)


def _window_findings(
    params: GlowChamberParams, ctx: SectionContext, body: Part, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    visible = d.body_room.total - 2 * d.lip.total
    if visible < 2.0:
        message = f"lips of {d.lip.total:.2f} mm leave {visible:.2f} mm of the body in sight; 2 mm are wanted"
        lip = math.floor(d.body_room.total / 5 * 10) / 10
        numbers = {"visible": visible, "lip": d.lip.total}
        remedy = Remedy("lip", lip, f"lips of {lip:g} mm")
        found.append(
            Finding(
                "error", "body-hidden", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=True
            )
        )
    entry = next(h for c, h in d.windows if c == d.entry_clock)
    needed = entry_half_angle(d.seat.half, d.hollow_radius)
    if entry < needed and not any(f.blocks_solids for f in found):
        message = (
            f"the window that the body goes in by takes {2 * max(entry, 0.0):.1f} degrees; "
            f"{body.name} needs {2 * needed:.1f}"
        )
        numbers = {"window": 2 * entry, "needed": 2 * needed}
        fewer = range(len(d.windows) - 1, 0, -1) if not params.window_clocks_deg else ()
        candidates = tuple(Remedy("windows", n, f"{n} windows") for n in fewer)
        found.append(
            Finding(
                "error",
                "window-narrow",
                ctx.name,
                message,
                numbers,
                candidates=candidates,
                blocks_solids=True,
            )
        )
    least = math.degrees(2 * ctx.setting.rules.least_wall / ctx.radius)
    if d.tube:
        least = 2 * math.degrees(d.tube.radius / ctx.radius)
    thin = min((2 * p.half for p in d.pillars), default=least)
    if thin < least - 1e-6:
        message = (
            f"a pillar between two windows takes {max(thin, 0.0):.1f} degrees; {least:.1f} are wanted for it"
        )
        numbers = {"pillar": thin, "wanted": least}
        narrower = math.floor(2 * d.windows[0][1] - (least - thin))
        candidates = (
            (Remedy("window_deg", narrower, f"windows of {narrower:g} degrees"),) if narrower > 5 else ()
        )
        found.append(
            Finding(
                "error", "pillar-thin", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )
        )
    turn = abs(turn_from(d.entry_clock, ctx.clock_deg))
    if turn > 90.0:
        message = f"the body goes in {turn:.0f} degrees from the top; its seat is open there up to 90 degrees"
        found.append(Finding("error", "entry-turned", ctx.name, message, {"turn": turn}, blocks_solids=True))
    return tuple(found)


def _led_findings(
    params: GlowChamberParams, ctx: SectionContext, body: Part, led: Part, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    least = ctx.setting.rules.least_wall
    reach = d.led_seat_diameter.total / 2
    stands = min(s for s, e in zip(d.seat.stands, d.ends, strict=True) if e.lit)
    if stands - reach < LEAST_SHOULDER:
        message = (
            f"the LED's seat reaches {reach:.2f} mm from the axis and the body {stands:.2f} mm: its end has "
            f"no shoulder of {LEAST_SHOULDER:g} mm to stand on, and slips over the LED"
        )
        numbers = {"seat": reach, "body": stands, "least": LEAST_SHOULDER}
        usual = ("led 5 mm", "led 3 mm")
        smaller = usual[usual.index(led.name) + 1 :] if led.name in usual else usual
        candidates = (
            *(Remedy("led", name, f"take {name}") for name in smaller),
            Remedy(None, None, "a body with a flat end round the axis that is wider than its LED"),
        )
        found.append(
            Finding(
                "error", "body-narrow", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )
        )
    elif not d.seat.steady:
        message = (
            f"{body.name} has no flat ends round the LED and no even width in its lips: it is held by its slopes, "
            "and how far it moves along the axis isn't promised"
        )
        remedy = Remedy(None, None, "glue it, or give its model flat ends")
        found.append(Finding("note", "body-on-slopes", ctx.name, message, remedy=remedy))
    if led.kind == "led_slug":
        return tuple(found)
    web = led.size("lead_spacing") - d.lead_hole_diameter.total
    if web < least:
        message = f"between the two lead holes {wall_left(web)}, less than {least:g} mm"
        numbers = {"wall": web, "least_wall": least}
        found.append(Finding("error", "wall-thin", ctx.name, message, numbers, blocks_solids=web < least / 2))
    stub = led.size("lead_length") - params.ledge
    if stub < LEAD_STUB:
        thin = led.size("lead_length") - LEAD_STUB
        message = (
            f"leads stand {stub:.2f} mm out of a ledge of {params.ledge:.2f} mm: "
            f"a joint needs {LEAD_STUB:g} mm"
        )
        candidates = (Remedy("ledge", thin, f"ledge {thin:g} mm thick"),) if thin >= least else ()
        numbers = {"stub": stub, "least": LEAD_STUB}
        found.append(Finding("error", "leads-short", ctx.name, message, numbers, candidates=candidates))
    elif stub + LEAD_STUB > params.wire_room:
        wanted = math.ceil((stub + LEAD_STUB) * 10 - 1e-6) / 10
        message = (
            f"leads stand {stub:.2f} mm into a wire room of {params.wire_room:.2f} mm: joint and wire need "
            f"{LEAD_STUB:g} mm more than the leads"
        )
        numbers = {"stub": stub, "wire_room": params.wire_room, "least_wire_room": wanted}
        remedy = Remedy("wire_room", wanted, f"wire room {wanted:g} mm long")
        blocks = stub > params.wire_room
        found.append(
            Finding(
                "error", "leads-long", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=blocks
            )
        )
    return tuple(found)


def _through_findings(
    params: GlowChamberParams, ctx: SectionContext, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    if not params.light_through or params.lit != "both":
        return ()
    message = "both ends have an LED, so no bulkhead is left that could let light through"
    remedy = Remedy("light_through", False, "keep the light in")
    return (Finding("warning", "no-unlit-end", ctx.name, message, candidates=(remedy,)),)
