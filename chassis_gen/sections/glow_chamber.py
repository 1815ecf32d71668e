"""Glow chamber: an open frame that shows a translucent body, lit from one or both ends.

Origin and axes: the tube's. Each end is planned in a frame that stands on its face, +z going into the section,
+y to the section's top; the body goes in from the top.

    lit end                                                unlit end
      |__ ____________ ____ _____ ____ ________________ ____ ______|
      |w | wire room  |led-| LED |lip |    windows     |lip | bulk-|
      |a |            |ge  |     [======== body ===========]| head |
      |l |____________|____|_____|____|________________|____|      |
      |_________________ rear wall, carries the lanes _____________|
"""

from __future__ import annotations

import math
from typing import ClassVar

from msgspec.structs import replace

from chassis_gen.parts.model import Part
from chassis_gen.plan.model import (
    OVERLAP,
    Disc,
    Fit,
    Obstacle,
    PlacedPart,
    PlayProbe,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import CHOSEN, WALL, Dimension, Term
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.seat import seat_fit
from chassis_gen.sections.glow_body import (
    OWN,
    body_room_sum,
    body_size,
    find_body,
    lip_voids,
    placed_body,
    plan_body_seat,
    seat_cuts,
)
from chassis_gen.sections.glow_findings import chamber_findings
from chassis_gen.sections.glow_frame import (
    chamber_steps,
    entry_half_angle,
    plan_windows,
    plan_wire_tube,
    rear_half_angle,
    rear_width,
    wire_tube_lanes,
)
from chassis_gen.sections.glow_keys import (
    BODY_ROOM,
    LEAST_SHOULDER,
    LED_KINDS,
    SOURCE,
    End,
    GlowChamberParams,
    GlowChamberPlan,
    body_span,
    inward_frame,
    lit_ends,
    lit_facings,
    turn_from,
    window_span,
)
from chassis_gen.sections.glow_led import (
    LED_FIT,
    OPEN_LEVEL,
    end_cuts,
    find_led,
    lead_hole_sum,
    led_depth_sum,
    led_sizes,
    led_terminals,
    placed_led,
)
from chassis_gen.shapes.frame import Frame, Vec3, negated, topped
from chassis_gen.shapes.recipe import Step

ROOM_WALL = 3.2
"""Wall round a wire room, mm (chosen)."""


class GlowChamber(SectionKind):
    """A body that glows, in an open frame."""

    kind: ClassVar[str] = "glow_chamber"
    title: ClassVar[str] = "open frame that shows a translucent body lit from one or both ends"
    Params: ClassVar[type[SectionParams]] = GlowChamberParams

    def length(self, params: GlowChamberParams, setting: Setting) -> Dimension | None:
        """Return both ends and the room for the body as one sum.

        Raises:
            InputError: a part is unknown or of the wrong kind.
        """
        room = body_room_sum(params, find_body(params, setting), setting.fitter)
        terms = [*room.terms, Term(WALL, 2 * params.bulkhead, f"two bulkheads: {SOURCE}")]
        for facing in lit_facings(params):
            depth = led_depth_sum(params, find_led(params, setting), setting.fitter)
            where = f"{facing} end"
            terms += [
                Term("LED", depth.total, f"LED and light gap, {where}"),
                Term(WALL, params.ledge, f"ledge behind the LED, {where}: {SOURCE}"),
                Term(CHOSEN, params.wire_room, f"wire room, {where}: {SOURCE}"),
            ]
        return setting.fitter.summed(f"{params.name}.length", tuple(terms), "length along the axis")

    def pin_offset(self, params: GlowChamberParams, setting: Setting) -> float:
        """Return the distance of the body's middle from the near end, mm."""
        near, _ = _ends(params, setting)
        return near.body_starts + body_room_sum(params, find_body(params, setting), setting.fitter).total / 2

    def plan(self, params: GlowChamberParams, ctx: SectionContext) -> SectionPlan:
        """Return body, LEDs, windows and wire ways, and what can't work.

        Raises:
            InputError: a part is unknown or of the wrong kind.
        """
        body, led = find_body(params, ctx.setting), find_led(params, ctx.setting)
        d = _detail(params, ctx, body, led)
        parts = (placed_body(params, ctx, body, d), *(placed_led(ctx, led, d, e) for e in d.ends if e.lit))
        findings = chamber_findings(params, ctx, body, led, d)
        sound = not any(f.blocks_solids for f in findings)
        visible = d.body_room.total - 2 * d.lip.total
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=parts,
            fits=_fits(params, ctx, d, parts) if sound else (),
            obstacles=_obstacles(ctx, led, d),
            terminals=tuple(
                t for e, p in zip(lit_ends(d), parts[1:], strict=True) for t in led_terminals(ctx, d, e, p)
            ),
            tube_lanes=wire_tube_lanes(ctx, d),
            findings=findings,
            facts={
                "visible_length_mm": visible,
                "window_share": sum(2 * h for _, h in d.windows) / 360.0,
                "rear_wall_depth_mm": ctx.radius - d.rear_level,
            },
            cautions=tuple(dict.fromkeys(("bright_light", *led.cautions))),
            openings=(ctx.opening.name,) if ctx.opening else (),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with the chamber, its windows, the rear wall, the seats and the wire rooms."""
        d = plan.detail
        assert isinstance(d, GlowChamberPlan)
        led = next(p.part for p in plan.parts if p.part.kind in LED_KINDS)
        return (*ctx.shell(), *chamber_steps(d, ctx), *seat_cuts(d, ctx), *end_cuts(d, ctx, led))


def _ends(params: GlowChamberParams, setting: Setting) -> tuple[End, End]:
    depth = led_depth_sum(params, find_led(params, setting), setting.fitter).total
    both = params.lit == "both"

    def end(facing: str) -> End:
        if facing not in lit_facings(params):
            wall = params.bulkhead
            return End(facing, False, wall, wall, wall, wall)
        room = params.bulkhead + params.wire_room
        ledge = room + params.ledge
        id = f"{params.name}.{facing}" if both else params.name
        prefix = f"{facing}." if both else ""
        return End(facing, True, params.bulkhead, room, ledge, ledge + depth, id, prefix)

    return end("near"), end("far")


def _detail(params: GlowChamberParams, ctx: SectionContext, body: Part, led: Part) -> GlowChamberPlan:
    fitter, name = ctx.setting.fitter, ctx.name
    length = fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout")
    located = led_sizes(led)[0]
    led_seat = fitter.inner(
        f"{name}.led_seat_diameter", led.sizes[located], LED_FIT, "bore that locates the LED", led.name
    )
    room_along = body_room_sum(params, body, fitter)
    seat = plan_body_seat(params, body, room_along, led_seat.total / 2 + LEAST_SHOULDER, fitter)
    tube = plan_wire_tube(params, ctx)
    hollow = ctx.radius - (2 * tube.radius + OVERLAP if tube else params.frame_wall)
    rear = rear_width(params, ctx, seat.low + BODY_ROOM)
    windows, pillars = plan_windows(params, ctx, tube, hollow, rear, entry_half_angle(seat.half, hollow))
    through = None
    if params.light_through and params.lit != "both":
        covered = 2 * max(seat.stands) if body.kind == OWN else body.size(body_size(body))
        wide = max(1.0, covered - 2 * LEAST_SHOULDER)
        through = fitter.chosen(f"{name}.through_diameter", wide, "hole that lets light into the neighbour")
    room = ctx.radius - ROOM_WALL
    if tube:
        room = min(room, tube.distance - tube.bore.total / 2 - ctx.setting.rules.least_wall)
    top = ctx.clock_deg
    d = GlowChamberPlan(
        length=length,
        seat=seat,
        lips=(),
        body_room=room_along,
        led_seat_diameter=led_seat,
        led_seat_depth=led_depth_sum(params, led, fitter),
        lead_hole_diameter=lead_hole_sum(led, ctx),
        lip=fitter.chosen(f"{name}.lip", params.lip, "how much of the body's end its seat hides"),
        through_diameter=through,
        ends=_ends(params, ctx.setting),
        pillars=pillars,
        windows=windows,
        tube=tube,
        entry_clock=min((c for c, _ in windows), key=lambda c: (abs(turn_from(c, top)), c)),
        hollow_radius=hollow,
        rear_level=seat.low + BODY_ROOM,
        rear_wall=rear,
        room_radius=room,
    )
    return replace(d, lips=lip_voids(params, ctx, body, d))


def _fits(
    params: GlowChamberParams, ctx: SectionContext, d: GlowChamberPlan, parts: tuple[PlacedPart, ...]
) -> tuple[Fit, ...]:
    fitter, body = ctx.setting.fitter, parts[0]
    x_axis = topped(d.entry_clock).x_axis
    found = []
    if d.seat.steady:
        found.append(seat_fit(fitter, d.body_room, body, params.glue_fit, (0.0, 0.0, 1.0)))
    sides: dict[Dimension, tuple[Vec3, ...]] = {}
    if body.part.kind != "glow_prism":
        sides[d.seat.across] = (x_axis, negated(x_axis))
    if d.seat.height is not None:
        sides[d.seat.height] = (body.way_in,)
    for seat, ways in sides.items():
        probe = PlayProbe(body.id, ways)
        found.append(fitter.fit(seat, "part in seat", (body.id, ctx.name), params.glue_fit, probe))
    led = parts[1]
    if led.part.kind == "led_slug":
        x = inward_frame(lit_ends(d)[0], ctx).x_axis
        found.append(seat_fit(fitter, d.led_seat_diameter, led, LED_FIT, x))
    return tuple(found)


def _obstacles(ctx: SectionContext, led: Part, d: GlowChamberPlan) -> tuple[Obstacle, ...]:
    """Return what keeps lanes away: in the chamber all but the rear wall, at the ends seats and rooms."""
    wall, r = ctx.setting.rules.least_wall, ctx.radius
    margin = ctx.wall_angle
    a, b = body_span(d, ctx)
    w0, w1 = window_span(d, ctx)
    top, rear = ctx.clock_deg, ctx.clock_deg + 180.0
    entry = math.degrees(math.asin(min(1.0, d.seat.half / r))) + margin
    clear = rear_half_angle(max(d.rear_wall - 2 * wall, 0.1), r)
    half = d.rear_wall / 2
    found = [
        Obstacle(Disc(0.0, 0.0, d.seat.reach), a, b, "body's seat"),
        Obstacle(Sector(d.entry_clock - entry, d.entry_clock + entry), a, b, "body's way in"),
        Obstacle(Sector(rear + clear, rear + 360.0 - clear), w0, w1, "open frame"),
        Obstacle(Slab(-half, half, -d.rear_level, r, top), w0, w1, "chamber"),
    ]
    for end in d.ends:
        inward = inward_frame(end, ctx)

        def span(low: float, high: float, frame: Frame = inward) -> tuple[float, float]:
            z0, z1 = sorted(frame.point((0.0, 0.0, z))[2] for z in (low, high))
            return z0, z1

        if end.lit:
            room = math.degrees(math.acos(OPEN_LEVEL)) + margin
            reach = d.led_seat_diameter.total / 2
            if led.kind == "led_slug":
                reach += d.lead_hole_diameter.total / 2
            z0, z1 = span(end.room_starts, end.room_ends)
            found += [
                Obstacle(Disc(0.0, 0.0, d.room_radius), z0, z1, "wire room"),
                Obstacle(Sector(top - room, top + room), z0, z1, "wire room's window"),
                Obstacle(Disc(0.0, 0.0, reach), *span(end.room_ends, end.body_starts), "LED's seat"),
            ]
        elif d.through_diameter:
            z0, z1 = span(0.0, end.body_starts)
            found.append(Obstacle(Disc(0.0, 0.0, d.through_diameter.total / 2), z0, z1, "way for light"))
    if d.tube:
        for p in d.pillars:
            x, y, _ = topped(p.clock).point((0.0, d.tube.distance, 0.0))
            found.append(Obstacle(Disc(x, y, d.tube.bore.total / 2), ctx.z0, ctx.z1, "wire tube"))
            turn = math.degrees((d.tube.bore.total / 2 + wall) / d.tube.distance)
            found.append(Obstacle(Sector(p.clock - turn, p.clock + turn), ctx.z0, ctx.z1, "wire tube"))
    return tuple(found)


KIND = GlowChamber()
