"""The solid of a speaker cup, and the volume of what stands in its back volume."""

from __future__ import annotations

import math

from chassis_gen.plan.model import OVERLAP
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.bayonet import groove_cutters, lug_solids
from chassis_gen.sections.features.screw_hole import hole_cuts
from chassis_gen.sections.resonance_cap import bayonet_frame
from chassis_gen.sections.speaker_cup_model import Boss, SpeakerCupPlan
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Step, add, cut


def cup_steps(detail: SpeakerCupPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the cup's body, its seat and bore, then what holds the cap.

    Args:
        detail: what was planned.
        ctx: of the section.
    """
    at, facing = detail.at, detail.facing
    frame = facing.frame
    steps = add("cup body", *ctx.body(*facing.span(at.shoulder, at.end)))
    if detail.cup_outer_diameter:
        outside = detail.cup_outer_diameter.total / 2
        steps += add("cup under its cap", Cylinder(outside, at.cup_face, at.shoulder + OVERLAP, frame))
    if detail.cap and detail.cap.bayonet and detail.cap.kind == "round":
        steps += add("bayonet lug", *lug_solids(detail.cap.bayonet, bayonet_frame(detail.cap, facing)))
    seat = Cylinder(detail.rim_seat_diameter.total / 2, at.cup_face - OVERLAP, at.ledge, frame)
    steps += cut("rim seat", seat)
    steps += cut("back volume", Cylinder(detail.bore_diameter.total / 2, at.ledge - OVERLAP, at.back, frame))
    if detail.cap and detail.cap.bayonet and detail.cap.kind == "face":
        steps += cut("bayonet groove", *groove_cutters(detail.cap.bayonet, bayonet_frame(detail.cap, facing)))
    for b in detail.bosses:
        steps += add("cap screw boss", Box((-b.half, -b.half, b.inner), (b.half, b.half, b.outer), b.frame))
    return steps + hole_cuts("cap screw hole", detail.screws)


def boss_volume(boss: Boss, bore: float) -> float:
    """Return a boss's volume inside the bore, mm3: its length times the area from its flat to the circle."""
    # a low boss ends where its flat meets the bore
    half = min(boss.half, math.sqrt(bore**2 - boss.inner**2))
    a = half / bore
    area = bore**2 * (math.asin(a) + a * math.sqrt(1 - a * a)) - 2 * half * boss.inner
    return 2 * boss.half * area
