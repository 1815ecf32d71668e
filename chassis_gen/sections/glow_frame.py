"""The frame of a glow chamber: windows, pillars or wire tubes between them, and the rear wall.

Origin and axes: the tube's; windows and pillars are counted from the section's top round.
"""

from __future__ import annotations

import itertools
import math

from chassis_gen.plan.model import OVERLAP, TubeLane
from chassis_gen.plan.sums import on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.sections.glow_keys import (
    SOURCE,
    GlowChamberParams,
    GlowChamberPlan,
    Pillar,
    WireTube,
    turn_from,
    window_span,
)
from chassis_gen.shapes.frame import Frame, shifted, topped, unit
from chassis_gen.shapes.primitives import Box, Cylinder, Pattern, Primitive, TubeSegment, Within
from chassis_gen.shapes.recipe import Step, add, cut

USUAL_WINDOWS = (3, 2, 1)
"""Numbers of windows that are tried in turn where none is asked for (chosen)."""
REAR_SHARE = 1.5
REAR_SIDE = 2.4
"""Usual width of a rear wall in chassis radii, and how thick it is at its sides at least, mm (chosen)."""
FLUTE_PITCH = 2.4
FLUTE_RADIUS = 0.9
FLUTE_DEPTH = 0.6
FLUTE_END = 1.0
"""Flutes of a wire tube: apart along its circumference, radius, depth, and plain ends, mm (chosen)."""


def plan_wire_tube(params: GlowChamberParams, ctx: SectionContext) -> WireTube | None:
    """Return what the round pillars are, or None for flat ones."""
    if params.pillar == "flat":
        return None
    name = f"{ctx.name}.wire_bore"
    bore = ctx.setting.fitter.hole(name, params.wire_bore, SOURCE, "bore of a wire tube")
    radius = bore.total / 2 + params.tube_wall + (FLUTE_DEPTH if params.pillar == "fluted" else 0.0)
    return WireTube(bore, radius, ctx.radius - radius - OVERLAP, params.pillar == "fluted")


def rear_width(params: GlowChamberParams, ctx: SectionContext, level: float) -> float:
    """Return the width of the rear wall, mm: as asked, or wide where its sides stay thick enough."""
    if params.rear_wall is not None:
        return params.rear_wall
    side = level + REAR_SIDE
    return on_grid(min(REAR_SHARE * ctx.radius, 2 * half_chord(ctx.radius, side)))


def rear_half_angle(width: float, radius: float) -> float:
    """Return half the angle that the rear wall takes at a radius, degrees."""
    return math.degrees(math.asin(min(1.0, width / 2 / radius)))


def entry_half_angle(half: float, hollow: float) -> float:
    """Return half the angle that a body half so wide needs to go in between two pillars, degrees."""
    return math.degrees(math.asin(min(1.0, half / max(hollow, half))))


def plan_windows(
    params: GlowChamberParams,
    ctx: SectionContext,
    tube: WireTube | None,
    hollow: float,
    rear: float,
    entry: float,
) -> tuple[tuple[tuple[float, float], ...], tuple[Pillar, ...]]:
    """Return the windows (middle clock and half angle) and the pillars between them, from the top round.

    What stands between an outermost window and the rear wall belongs to the rear wall.
    """
    top, free = ctx.clock_deg, 180.0 - rear_half_angle(rear, max(hollow, 1.0))
    pillar = math.degrees((2 * tube.radius if tube else params.pillar_width) / ctx.radius)
    if params.window_clocks_deg is None:
        halves = {n: (2 * free - (n - 1) * pillar) / n / 2 for n in range(1, 9)}
        n = params.windows or next((k for k in USUAL_WINDOWS if halves[k] >= entry), 1)
        half = halves[n]
        step = 2 * half + pillar
        middles = [top + (k - (n - 1) / 2) * step for k in range(n)]
    else:
        middles = sorted(params.window_clocks_deg, key=lambda c: turn_from(c, top))
        gaps = [turn_from(b, a) % 360.0 for a, b in itertools.pairwise(middles)]
        half = (min(gaps) - pillar) / 2 if gaps else free
    if params.window_deg is not None:
        half = params.window_deg / 2 if params.window_clocks_deg else min(half, params.window_deg / 2)
    windows = tuple((m % 360.0, half) for m in middles)
    pillars = []
    for (a, _), (b, _) in itertools.pairwise(windows):
        apart = (b - a) % 360.0
        pillars.append(Pillar((a + apart / 2) % 360.0, apart / 2 - half))
    return windows, tuple(pillars)


def chord_height(radius: float, width: float) -> float:
    """Return the distance from the axis of a chord of a width, mm; 0 where it is wider than the circle."""
    return math.sqrt(max(0.0, radius**2 - (width / 2) ** 2))


def wire_tube_lanes(ctx: SectionContext, d: GlowChamberPlan) -> tuple[TubeLane, ...]:
    """Return the ways for wires in the round pillars."""
    tube = d.tube
    if tube is None:
        return ()
    return tuple(
        TubeLane(p.clock, tube.distance, tube.bore.total, ctx.z0, ctx.z1, ctx.name) for p in d.pillars
    )


def _bars(ctx: SectionContext, z0: float, z1: float, keep: Primitive) -> tuple[Primitive, ...]:
    """Return what a solid keeps of the chassis's full bar between two stations."""
    return tuple(Within(bar, keep) for bar in ctx.body(z0, z1))


def chamber_steps(d: GlowChamberPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the hollow, the windows, then rear wall and wire tubes put back from bulkhead to bulkhead."""
    a, b = window_span(d, ctx)
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    steps = list(cut("chamber", Cylinder(d.hollow_radius, a, b)))
    inner = d.hollow_radius - OVERLAP
    if d.tube:
        steps += cut("windows", Cylinder(big, a, b))
    else:
        low = [TubeSegment(inner, big, a, b, c - h, c + h) for c, h in d.windows]
        steps += cut("window", *low)
    wide = d.rear_wall / 2
    a, b = a - OVERLAP, b + OVERLAP
    keep = Box((-wide, -big, a), (wide, -d.rear_level, b), topped(ctx.clock_deg))
    steps += add("rear wall", *_bars(ctx, a, b, keep))
    if d.tube:
        steps += _tube_steps(d, d.tube, ctx, a, b)
    return tuple(steps)


def _tube_steps(
    d: GlowChamberPlan, tube: WireTube, ctx: SectionContext, a: float, b: float
) -> tuple[Step, ...]:
    steps: list[Step] = []
    for p in d.pillars:
        frame = topped(p.clock) @ shifted(0.0, tube.distance)
        steps += add("wire tube", Cylinder(tube.radius, a, b, frame))
        if tube.fluted:
            steps += cut("flutes", _flutes(tube, a + FLUTE_END, b - FLUTE_END, frame))
        steps += cut("wire tube's bore", Cylinder(tube.bore.total / 2, ctx.z0 - 1.0, ctx.z1 + 1.0, frame))
    return tuple(steps)


def _flutes(tube: WireTube, z0: float, z1: float, frame: Frame) -> Pattern:
    """Return the round grooves along a wire tube."""
    count = math.floor(2 * math.pi * tube.radius / FLUTE_PITCH)
    away = tube.radius - FLUTE_DEPTH + FLUTE_RADIUS
    places = (unit(360.0 * (k + 0.5) / count) for k in range(count))
    frames = tuple(shifted(away * c, away * s) for c, s in places)
    return Pattern(Cylinder(FLUTE_RADIUS, z0, z1), frames, frame)
