"""Speaker cup: seats a round speaker by its rim before a closed back volume, with or without a resonance cap.

Origin and axes: s counts from the section's open end toward the speaker's back (`Facing`); the terminals
look to the lead-in's clock.

    open |cap plate, chamber| rim |basket, magnet | back volume |end wall|
    end  |                  |_____|               |             |        |
         |  front chamber   |seat   ledge, straight bore        |########|
         |__________________|_____________________|_____________|########|
"""

from __future__ import annotations

import math
from typing import ClassVar

from msgspec.structs import replace

from chassis_gen.parts.model import Part
from chassis_gen.plan.model import (
    Disc,
    ExtraPiece,
    Fit,
    GapProbe,
    Hardware,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    PlayProbe,
    SectionPlan,
    clock_of,
)
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.seat import across
from chassis_gen.sections.resonance_cap import cap_steps
from chassis_gen.sections.speaker_cup_findings import findings, port_area
from chassis_gen.sections.speaker_cup_layout import laid_out, lead_clock, radius_round
from chassis_gen.sections.speaker_cup_model import (
    WAY_OUT_LIMIT_DEG,
    SpeakerCupParams,
    SpeakerCupPlan,
    speaker_of,
)
from chassis_gen.sections.speaker_cup_solids import boss_volume, cup_steps
from chassis_gen.sections.speaker_cup_sums import section_length
from chassis_gen.shapes.recipe import Step


class SpeakerCup(SectionKind):
    """A cup that seats a speaker at an end of the chassis."""

    kind: ClassVar[str] = "speaker_cup"
    title: ClassVar[str] = "seat and closed back volume of a round speaker, with a resonance cap"
    Params: ClassVar[type[SectionParams]] = SpeakerCupParams

    def length(self, params: SpeakerCupParams, setting: Setting) -> Dimension:
        """Return cap, speaker, back volume and end wall as a labelled sum."""
        return section_length(params, setting, speaker_of(params, setting))

    def plan(self, params: SpeakerCupParams, ctx: SectionContext) -> SectionPlan:
        """Return seat, cap, wires' way out, and what does not fit."""
        part = speaker_of(params, ctx.setting)
        d = laid_out(params, ctx, part)
        placed = _placed(params, ctx, part, d)
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=(placed,),
            fits=_fits(params, ctx, d, placed),
            holes=(*d.screws, *(d.cap.screws if d.cap else ())),
            obstacles=_obstacles(ctx, d),
            terminals=_terminals(params, ctx, d, placed),
            extra_pieces=(ExtraPiece(d.cap.name, cap_steps(d.cap, d.facing, ctx), d.facing.inward),)
            if d.cap
            else (),
            hardware=_hardware(d),
            findings=findings(params, ctx, part, d, radius_round(d.facing, d.at, ctx)),
            facts=_facts(part, d),
            cautions=part.cautions + (("adhesives",) if d.cap is None else ()),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the cup's body, its seat and bore, then what holds the cap."""
        detail = plan.detail
        assert isinstance(detail, SpeakerCupPlan)
        return cup_steps(detail, ctx)


def _placed(params: SpeakerCupParams, ctx: SectionContext, part: Part, d: SpeakerCupPlan) -> PlacedPart:
    frame = d.facing.turned(lead_clock(params, ctx) + 180.0, d.at.rim_front)
    side = (d.rim_seat_diameter.total - part.size("rim_diameter")) / 2
    inward = d.facing.inward
    outward = (0.0, 0.0, -inward[2])
    plays = tuple(Play(way, side) for way in across(frame))
    return PlacedPart(
        id=ctx.name,
        part=part,
        frame=frame,
        section=ctx.name,
        piece=ctx.piece,
        way_in=inward,
        plays=(*plays, Play(inward, 0.0), Play(outward, None)),
        squeeze=max(0.0, -side),
    )


def _fits(
    params: SpeakerCupParams, ctx: SectionContext, d: SpeakerCupPlan, placed: PlacedPart
) -> tuple[Fit, ...]:
    p, name, fitter = params, ctx.name, ctx.setting.fitter
    probe = PlayProbe(name, across(placed.frame))
    rim = fitter.fit(d.rim_seat_diameter, "part in seat", (placed.part.name, name), p.rim_fit, probe)
    if d.cap is None:
        return (rim,)
    start = d.at.cup_face if d.cap.kind == "face" else d.at.rim_front
    margin = min(0.5, (d.at.cap_end - start) / 4)
    span = d.facing.span(start + margin, d.at.cap_end - margin)
    gap = GapProbe(d.cap.name, ctx.piece, *span)
    between = (d.cap.name, name)
    if d.cap_bore_diameter and d.cup_outer_diameter:
        fit = fitter.fit(d.cap_bore_diameter, "cap on cup", between, p.cap_fit, gap)
        return rim, replace(fit, planned=(d.cap_bore_diameter.total - d.cup_outer_diameter.total) / 2)
    assert d.spigot_diameter is not None
    fit = fitter.fit(d.spigot_diameter, "cap on cup", between, p.cap_fit, gap, outer=True)
    return rim, replace(fit, planned=(d.rim_seat_diameter.total - d.spigot_diameter.total) / 2)


def _obstacles(ctx: SectionContext, d: SpeakerCupPlan) -> tuple[Obstacle, ...]:
    at, wall = d.at, ctx.setting.rules.least_wall
    whole = ctx.outer.largest_radius(ctx.z0, ctx.z1)
    found = []

    def block(radius: float, s0: float, s1: float, what: str) -> None:
        if s1 > s0:
            found.append(Obstacle(Disc(0.0, 0.0, radius), *d.facing.span(s0, s1), what))

    if d.cap:
        closed = at.shoulder if d.cap.kind == "round" else at.cup_face
        block(whole, 0.0, closed + wall, "resonance cap")
    lip = d.cap.bayonet.groove_radius if d.cap and d.cap.bayonet and d.cap.kind == "face" else 0.0
    block(max(lip, d.rim_seat_diameter.total / 2), at.cup_face, at.ledge, "rim seat")
    block(d.bore_diameter.total / 2, at.ledge, at.back, "back volume")
    if d.cap and d.cap.kind == "face":
        for h in d.screws:
            x, y, _ = h.frame.origin
            z0, z1 = d.facing.span(at.cup_face, at.cup_face + h.depth)
            found.append(Obstacle(Disc(x, y, h.diameter.total / 2 + h.least_wall), z0, z1, "cap screw"))
    return tuple(found)


def _terminals(
    params: SpeakerCupParams, ctx: SectionContext, d: SpeakerCupPlan, placed: PlacedPart
) -> tuple[PlacedTerminal, ...]:
    """Return the terminals where their wires leave the back volume, behind the basket and the cap."""
    magnet = placed.part.size("magnet_diameter") / 2 + params.lead_in_width / 2
    surface = radius_round(d.facing, d.at, ctx)
    found = []
    for t in placed.part.terminals:
        x, y, _ = placed.frame.point(t.position)
        at = math.hypot(x, y)
        # the straight line that just clears the magnet from the terminal out to the surface
        way = math.acos(min(1.0, magnet / at)) + math.acos(min(1.0, magnet / surface))
        half = min(WAY_OUT_LIMIT_DEG, math.degrees(way))
        clock = clock_of(x, y)
        spot, exits = (x, y, d.facing.z(d.at.lead_in)), ((clock - half, clock + half),)
        name = f"{ctx.name}.{t.name}"
        found.append(PlacedTerminal(name, spot, exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)


def _hardware(d: SpeakerCupPlan) -> tuple[Hardware, ...]:
    if d.cap is None or not d.cap.screws:
        return ()
    way, hole = d.cap.screws[0], d.screws[0]
    longest = way.depth + hole.depth - d.cap.head_recess
    words = f"countersunk {way.thread} screw for plastic, at most {math.floor(longest)} mm"
    return (Hardware(words, len(d.cap.screws), d.cap.name),)


def _facts(part: Part, d: SpeakerCupPlan) -> dict[str, float]:
    """Return volumes by closed form: bars and rings, the speaker taken as its solid envelope."""
    at = d.at

    def bar(diameter: float, depth: float) -> float:
        return math.pi / 4 * diameter**2 * depth

    basket = part.size("basket_depth")
    back = bar(d.bore_diameter.total, at.back - at.ledge)
    back -= bar(part.size("basket_diameter"), basket - part.size("rim_thickness"))
    back -= bar(part.size("magnet_diameter"), part.size("depth") - basket)
    back -= sum(boss_volume(b, d.bore_diameter.total / 2) for b in d.bosses)
    facts = {"back_volume_cm3": back / 1000, "back_depth_mm": at.back - at.rim_front - part.size("depth")}
    if d.cap and d.chamber_diameter and d.port_diameter:
        facts["front_volume_cm3"] = bar(d.chamber_diameter.total, at.rim_front - d.cap.plate) / 1000
        facts["port_count"] = float(len(d.cap.holes))
        facts["port_area_mm2"] = port_area(d)
        facts["port_length_mm"] = d.cap.plate
    return facts


KIND = SpeakerCup()
