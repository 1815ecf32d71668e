"""The LED of a glow chamber's end: its seat, its leads' holes, the wire room behind it.

Origin and axes: each end in the frame on its own face, +z going into the section.
"""

from __future__ import annotations

import math

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, PlacedPart, PlacedTerminal, Play
from chassis_gen.plan.sums import PART_SIZE, Dimension, Term
from chassis_gen.sections.base import SectionContext, Setting
from chassis_gen.sections.glow_keys import (
    LED_KINDS,
    SOURCE,
    End,
    GlowChamberParams,
    GlowChamberPlan,
    checked_part,
    inward_frame,
)
from chassis_gen.shapes.frame import Frame, negated, shifted
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Step, cut

LED_FIT = "slide"
LEAD_FIT = "free"
OPEN_LEVEL = 0.3
"""How far over the axis a wire room's walls end, in chassis radii (chosen)."""


def find_led(params: GlowChamberParams, setting: Setting) -> Part:
    """Return the LED.

    Raises:
        InputError: it is unknown or of the wrong kind.
    """
    return checked_part(params.led, LED_KINDS, "led", "LED for a glow chamber", setting)


def led_sizes(led: Part) -> tuple[str, str]:
    """Return the names of the size that a seat locates and of the height over the LED's back."""
    return ("flange_diameter", "length") if led.kind == "led_round" else ("slug_diameter", "height")


def led_depth_sum(params: GlowChamberParams, led: Part, fitter: Fitter) -> Dimension:
    """Return how deep an LED's back lies under the body's end."""
    size = led_sizes(led)[1]
    m = led.sizes[size]
    terms = (
        Term(PART_SIZE, m.value, f"{led.name}, {size}: {m.source}", m.tolerance),
        Term("light gap", params.light_gap, f"from the LED's top to the body's end: {SOURCE}"),
    )
    return fitter.summed(f"{params.name}.led_seat_depth", terms, "from the body's end to the LED's back")


def lead_hole_sum(led: Part, ctx: SectionContext) -> Dimension:
    """Return the diameter of a hole for one lead, or for a slug's wire."""
    fitter, name = ctx.setting.fitter, f"{ctx.name}.lead_hole_diameter"
    if led.kind == "led_slug":
        return fitter.hole(
            name, 2.4, "a wire and its insulation: common practice, no source", "way for a wire"
        )
    return fitter.inner(name, led.sizes["lead_diameter"], LEAD_FIT, "hole for one of the leads", led.name)


def placed_led(ctx: SectionContext, led: Part, d: GlowChamberPlan, end: End) -> PlacedPart:
    """Return an LED in its seat."""
    inward = inward_frame(end, ctx)
    # The leads lie side by side, level in the print; a slug's pads lie toward top and bottom.
    frame = inward @ shifted(0.0, 0.0, end.ledge_ends)
    across: float = (d.led_seat_diameter.total - led.size(led_sizes(led)[0])) / 2
    along: float | None = across
    if led.kind == "led_round":
        across = along = min(across, (d.lead_hole_diameter.total - led.size("lead_diameter")) / 2)
    else:
        frame = frame @ Frame(x_axis=(0.0, 1.0, 0.0), y_axis=(-1.0, 0.0, 0.0))
        along = None
    plays = (
        Play(inward.x_axis, across),
        Play(negated(inward.x_axis), across),
        Play(inward.y_axis, along),
        Play(negated(inward.y_axis), along),
        Play(inward.z_axis, None),
        Play(negated(inward.z_axis), 0.0),
    )
    return PlacedPart(end.led_id, led, frame, ctx.name, ctx.piece, negated(inward.z_axis), plays)


def lead_places(led: Part, d: GlowChamberPlan) -> tuple[tuple[float, float], ...]:
    """Return the places of lead or wire holes in an end's frame, mm."""
    if led.kind == "led_slug":
        r = d.led_seat_diameter.total / 2
        return (0.0, r), (0.0, -r)
    x = led.size("lead_spacing") / 2
    return (x, 0.0), (-x, 0.0)


def end_cuts(d: GlowChamberPlan, ctx: SectionContext, led: Part) -> tuple[Step, ...]:
    """Return at each lit end the LED's seat, its lead holes and the wire room; else the way for light."""
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    steps: list[Step] = []
    for end in d.ends:
        inward = inward_frame(end, ctx)
        if not end.lit:
            if d.through_diameter:
                bar = Cylinder(d.through_diameter.total / 2, -OVERLAP, end.body_starts + OVERLAP, inward)
                steps += cut("way for light", bar)
            continue
        a, b = end.room_starts, end.room_ends
        steps += cut("wire room", Cylinder(d.room_radius, a, b, inward))
        level = OPEN_LEVEL * ctx.radius
        steps += cut("wire room's window", Box((-big, level, a), (big, big, b), inward))
        seat = Cylinder(d.led_seat_diameter.total / 2, end.ledge_ends, end.body_starts + OVERLAP, inward)
        steps += cut("LED's seat", seat)
        high = end.body_starts + OVERLAP if led.kind == "led_slug" else end.ledge_ends + OVERLAP
        for x, y in lead_places(led, d):
            hole = Cylinder(d.lead_hole_diameter.total / 2, b - OVERLAP, high, inward @ shifted(x, y))
            steps += cut("lead hole", hole)
    return tuple(steps)


def led_terminals(
    ctx: SectionContext, d: GlowChamberPlan, end: End, placed: PlacedPart
) -> tuple[PlacedTerminal, ...]:
    """Return where each wire's joint lies: in the middle of the wire room, in line with its lead or hole."""
    inward = inward_frame(end, ctx)
    middle = (end.room_starts + end.room_ends) / 2
    bottom = (ctx.clock_deg + 180.0) % 360.0
    found = []
    for t in placed.part.terminals:
        x, y, _ = t.position
        if placed.part.kind == "led_slug":
            away = d.led_seat_diameter.total / 2 / math.hypot(x, y)
            x, y = x * away, y * away
        px, py, _ = placed.frame.point((x, y, 0.0))
        z = inward.point((0.0, 0.0, middle))[2]
        id = f"{ctx.name}.{end.prefix}{t.name}"
        exits = ((bottom - 85.0, bottom + 85.0),)
        found.append(PlacedTerminal(id, (px, py, z), exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)
