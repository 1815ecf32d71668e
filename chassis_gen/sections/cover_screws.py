"""The screws of a cover: their ways through the lid, the holes that hold them, and what to buy."""

from __future__ import annotations

import math
from collections.abc import Sequence

from chassis_gen.plan.model import Hardware
from chassis_gen.plan.sums import on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.cover_model import UNDER_SURFACE, CoverParams, CoverPlan, screw_spec, thread_of
from chassis_gen.sections.cover_sums import Across, rim
from chassis_gen.sections.features.head_screw import head_height
from chassis_gen.sections.features.screw_hole import Counterbore, ShapedHole, plan_hole
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.shapes.frame import Frame, radial, reversed_axis
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread

LEAST_BEARING = 0.3
"""Least material under a screw's head, mm: what is thinner than a wall is found (chosen)."""
WAY_ROOM = 0.3
TIP_ROOM = 0.5
"""Room beside a screw's way under the lid, and before a set screw's end, mm (chosen)."""


def screw_holes(
    params: CoverParams, ctx: SectionContext, across: Across, frame: Frame, spots: Sequence[float]
) -> tuple[ShapedHole, ...]:
    """Return the way through the lid and the hole that holds it for every screw.

    Args:
        params: the cover's keys.
        ctx: where it stands.
        across: sizes in the cross-section.
        frame: the lid's frame.
        spots: s of the screws at each end that has any, mm.

    Raises:
        InputError: the thread has no such hole.
    """
    offset = params.screw_offset_deg
    offsets = (-abs(offset), abs(offset)) if params.screws_per_end == 2 else (offset,)
    places = [(frame.point((0.0, 0.0, on_grid(s)))[2], ctx.clock_deg + o) for s in spots for o in offsets]
    tags = [f"_{i + 1}" if len(places) > 1 else "" for i in range(len(places))]
    return tuple(
        hole
        for tag, (station, clock) in zip(tags, places, strict=True)
        for hole in (
            _way(params, ctx, across, station, clock, tag),
            _held(params, ctx, across, station, clock, tag),
        )
    )


def _way(
    params: CoverParams, ctx: SectionContext, across: Across, station: float, clock: float, tag: str
) -> ShapedHole:
    """Return a screw's way through the lid."""
    thread, under = thread_of(params), across.inside.total / 2
    top = ctx.outer.largest_radius(ctx.z0, ctx.z1)
    mouth, bears = None, top
    if across.head is not None:
        bears = max(rim(ctx, across.head) - head_height(thread), under + LEAST_BEARING)
        mouth = Counterbore(across.head, top + 1.0 - bears)
    # The lid's round underside falls away beside the hole.
    fall = under - half_chord(under, hole_for("clearance", find_thread(thread)).diameter / 2 + WAY_ROOM)
    return plan_hole(
        ctx.setting.fitter,
        f"{ctx.name}.lid_hole{tag}",
        "clearance",
        thread,
        reversed_axis(radial(clock, station, bears)),
        bears - under + fall,
        f"{ctx.name} lid",
        up=radial(clock, station).z_axis,
        counterbore=mouth,
        through=True,
    )


def _held(
    params: CoverParams, ctx: SectionContext, across: Across, station: float, clock: float, tag: str
) -> ShapedHole:
    """Return the hole that holds a screw; a set screw's goes as deep as the screw."""
    spec, seat = screw_spec(params), across.seat.total / 2
    depth, engagement = spec.min_depth, spec.min_engagement
    if across.head is None:
        held = _set_screw_length(params, ctx, seat) - _stands_out(ctx, seat)
        depth, engagement = max(depth, held + TIP_ROOM), held if spec.kind == "set_screw" else engagement
    return plan_hole(
        ctx.setting.fitter,
        f"{ctx.name}.screw_hole{tag}",
        spec.kind,
        thread_of(params),
        reversed_axis(radial(clock, station, seat)),
        depth,
        ctx.piece,
        engagement=engagement,
    )


def _stands_out(ctx: SectionContext, seat_radius: float) -> float:
    """Return how far a set screw stands out of its hole, into the lid's hole, mm."""
    return ctx.radius - UNDER_SURFACE - seat_radius


def _set_screw_length(params: CoverParams, ctx: SectionContext, seat_radius: float) -> float:
    """Return the shortest length in stock that holds and stands in the lid, mm."""
    wanted = screw_spec(params).min_engagement + _stands_out(ctx, seat_radius)
    stock = find_thread(thread_of(params)).set_screw.lengths
    return min((x for x in stock if x >= wanted), default=math.ceil(wanted))


def hardware(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> tuple[Hardware, ...]:
    """Return the screws to buy, and what holds them.

    Args:
        params: the cover's keys.
        ctx: where it stands.
        d: what was planned.
    """
    own = [h for h in d.lid.holes if h.piece == ctx.piece]
    count, thread, where = len(own), thread_of(params), f"{ctx.name}: holds the lid"
    insert = (Hardware(f"heat-set insert {thread}", count, where),) if own[0].kind == "insert" else ()
    if params.hold == "set_screw":
        length = _set_screw_length(params, ctx, d.lid.seat_radius)
        return (Hardware(f"set screw {thread} x {length:g}", count, where), *insert)
    bears = math.hypot(*d.lid.holes[0].frame.origin[:2])
    long = math.ceil(bears - d.lid.seat_radius + own[0].engagement)
    for_plastic = " for plastic" if own[0].kind == "thread_forming" else ""
    return (Hardware(f"screw {thread} x {long}{for_plastic}", count, where), *insert)
