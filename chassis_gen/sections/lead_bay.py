"""Lead bay: a mostly hollow stretch of rails where wires have room to lie and to change their clock.

Origin and axes: the tube's; the first rail stands opposite the section's top.

      _#_           looking in from the mouth: two rails,
    /     \\         the first at the bottom (the spine),
   |       |        the others spread evenly from there
    \\__#__/

With ties, each rail but the spine has two slots side by side and a groove between them in its outside:
the tie goes in through one, under the outer surface, and out through the other, round rail and wires.
"""

from __future__ import annotations

import math
from typing import ClassVar, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import PositiveLength
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, Gallery, Hardware, Obstacle, SectionPlan, Sector
from chassis_gen.plan.strain_relief import (
    TIE_THICKNESS,
    TIE_WIDTH,
    StrainRelief,
    plan_relief,
    relief_cutters,
)
from chassis_gen.plan.sums import CHOSEN, WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.surface import half_chord, least_surface
from chassis_gen.shapes.frame import radial, reversed_axis
from chassis_gen.shapes.primitives import Box, Primitive, TubeSegment
from chassis_gen.shapes.recipe import Step, add, cut

TIE_PLACE = 5.0
"""From an end of the bay to the middle of its tie slots, mm: well within 15 mm of the joints behind (chosen)."""
LEAST_WEB = 2.0
"""Narrowest web between two slots that a tie pulls on, mm: common practice, no source."""
LEAST_END = 1.5
"""Least length of whole rail between a slot and the bay's end, mm (chosen)."""

NARROW = (6.0, 3.0)
"""Widths of rails that are proposed where wires find no way, mm (chosen)."""
THIN = 2.0
"""Thickness of rails that is proposed there, mm (chosen)."""


class LeadBayParams(SectionParams):
    """Keys of a lead bay."""

    kind: Literal["lead_bay"] = "lead_bay"
    length: PositiveLength | Literal["fill"] = Field("fill", description='length along the axis, or "fill"')
    rails: int = Field(2, ge=2, le=4, description="number of rails")
    rail_width: PositiveLength = Field(10.0, description="width of a rail along the circumference")
    rail_thickness: PositiveLength = Field(3.2, description="radial thickness of a rail")
    ties: Literal["none", "near", "far", "both"] = Field(
        "none",
        description="ends of the bay at which every rail but the spine has slots for a cable tie, which "
        "relieves the joints behind",
    )

    def roomier(self) -> tuple[Remedy, ...]:
        """Return narrower rails, fewer and thinner ones; wires run beside them and within."""
        narrower = (Remedy("rail_width", w, f"rails {w:g} mm wide") for w in NARROW if w < self.rail_width)
        thin = self.rail_thickness > THIN
        return (
            *narrower,
            *((Remedy("rails", 2, "two rails"),) if self.rails > 2 else ()),
            *((Remedy("rail_thickness", THIN, f"rails {THIN:g} mm thick"),) if thin else ()),
            *super().roomier(),
        )


class Tie(Struct, frozen=True):
    """Slots for one cable tie in one rail.

    Args:
        relief: the two slots.
        station: of their middle, mm.
        clock_deg: of the rail's middle, degrees.
        groove: distance of the groove's floor from the tube's axis, mm.
        web: thickness of the rail under that groove, mm.
    """

    relief: StrainRelief
    station: float
    clock_deg: float
    groove: float
    web: float


class LeadBayPlan(Struct, frozen=True):
    """What a lead bay decides: its sums, the clock intervals of its rails (degrees), its tie slots."""

    length: Dimension
    rail_thickness: Dimension
    rail_width: Dimension
    rails: tuple[tuple[float, float], ...]
    ties: tuple[Tie, ...]


class LeadBay(SectionKind):
    """A hollow stretch between two sections, held by rails."""

    kind: ClassVar[str] = "lead_bay"
    title: ClassVar[str] = "hollow stretch of rails where wires lie and change lane"
    Params: ClassVar[type[SectionParams]] = LeadBayParams

    def length(self, params: LeadBayParams, setting: Setting) -> Dimension | None:
        """Return the length as given, or None to fill the slack."""
        if params.length == "fill":
            return None
        return setting.fitter.chosen(f"{params.name}.length", params.length, "length along the axis")

    def plan(self, params: LeadBayParams, ctx: SectionContext) -> SectionPlan:
        """Return the rails, spread evenly from the one opposite the section's top."""
        fitter = ctx.setting.fitter
        half = math.degrees(params.rail_width / 2 / ctx.radius)
        middles = [(ctx.clock_deg + 180 + i * 360 / params.rails) % 360 for i in range(params.rails)]
        detail = LeadBayPlan(
            length=fitter.chosen(f"{ctx.name}.length", ctx.length, "length along the axis", "layout"),
            rail_thickness=fitter.chosen(f"{ctx.name}.rail_thickness", params.rail_thickness, "radial"),
            rail_width=fitter.chosen(f"{ctx.name}.rail_width", params.rail_width, "along the circumference"),
            rails=tuple((m - half, m + half) for m in middles),
            ties=tuple(_tie(params, ctx, m, z) for z in _tie_stations(params, ctx) for m in middles[1:]),
        )
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            obstacles=(
                *(Obstacle(Sector(a, b), ctx.z0, ctx.z1, "rail", material=True) for a, b in detail.rails),
                *(_slots_of(t, detail) for t in detail.ties),
            ),
            galleries=(
                Gallery(
                    (ctx.z0 + ctx.z1) / 2,
                    ctx.length,
                    ctx.name,
                    open_room=True,
                    inner_radius=ctx.radius - detail.rail_thickness.total,
                ),
            ),
            hardware=_hardware(detail, ctx),
            findings=_findings(params, detail, ctx),
            facts=_facts(detail, ctx),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return one tube segment per rail and step of the outer surface."""
        detail = plan.detail
        assert isinstance(detail, LeadBayPlan)
        inner = ctx.radius - detail.rail_thickness.total
        near = ctx.z0 - (OVERLAP if ctx.joined_near else 0.0)
        far = ctx.z1 + (OVERLAP if ctx.joined_far else 0.0)
        steps = ctx.outer.over(ctx.z0, ctx.z1)
        segments = []
        for i, s in enumerate(steps):
            a = near if i == 0 else s.z0 - OVERLAP
            b = far if i + 1 == len(steps) else s.z1
            segments += [TubeSegment(inner, s.radius, a, b, lo, hi) for lo, hi in detail.rails]
        made = add("rail", *segments)
        if detail.ties:
            made += cut("tie slot", *(p for t in detail.ties for p in relief_cutters(t.relief)))
            made += cut("tie groove", *(_groove(t, ctx) for t in detail.ties))
        return made


# ties -----------------------------------------------------------------------------------------------


def _least_length(ends: int, fitter: Fitter) -> float:
    """Return how long a bay must be for tie slots at one or both of its ends, mm."""
    slot = fitter.hole("slot", TIE_WIDTH, "", "").total
    return slot + 2 * LEAST_END if ends == 1 else 2 * TIE_PLACE + slot + LEAST_END


def _tie_stations(params: LeadBayParams, ctx: SectionContext) -> tuple[float, ...]:
    """Return where tie slots stand: near the asked ends, or once in the middle of a bay with no room for two."""
    if params.ties == "none" or ctx.length < _least_length(1, ctx.setting.fitter):
        return ()
    if params.ties == "both" and ctx.length < _least_length(2, ctx.setting.fitter):
        return (on_grid((ctx.z0 + ctx.z1) / 2),)
    place = min(TIE_PLACE, ctx.length / 2)
    near, far = on_grid(ctx.z0 + place), on_grid(ctx.z1 - place)
    return {"near": (near,), "far": (far,), "both": (near, far)}[params.ties]


def _tie(params: LeadBayParams, ctx: SectionContext, clock: float, station: float) -> Tie:
    """Return the slots of one tie: between them as much of the rail as the walls beside them leave."""
    fitter, least = ctx.setting.fitter, ctx.setting.rules.least_wall
    inner = ctx.radius - params.rail_thickness
    half = inner * math.sin(min(params.rail_width / 2 / ctx.radius, math.pi / 2))
    name = f"{ctx.name}.tie"
    plain = plan_relief(fitter, name, "tie", radial(clock, station), 0.0, 0.0)
    width, slot = 2 * half, plain.depth.total
    span = fitter.summed(
        f"{name}_span",
        (
            Term(CHOSEN, width, "the rail's width at its inner face"),
            Term(WALL, -2 * least, "beside both slots"),
            Term("slots", -2 * slot, "both slots"),
        ),
        "web between the tie's slots",
    )
    reach = span.total / 2 + slot
    # the rail's faces are round: they are met lower at the slots than over its middle
    floor = half_chord(inner, reach)
    top = ctx.outer.largest_radius(station - plain.length.total, station + plain.length.total)
    turn = math.degrees(math.asin(min(1.0, reach / ctx.radius)))
    low, high = station - plain.length.total / 2, station + plain.length.total / 2
    surface = least_surface(ctx.outer, low, high, clock, turn)
    groove = half_chord(surface, reach) - slot
    frame = reversed_axis(radial(clock, station, on_grid(floor)))
    relief = StrainRelief(name, "tie", frame, on_grid(top - floor), span, plain.length, plain.depth)
    return Tie(relief, station, clock, on_grid(groove), groove - inner)


def _slots_of(tie: Tie, detail: LeadBayPlan) -> Obstacle:
    half = tie.relief.length.total / 2
    a, b = min(detail.rails, key=lambda r: abs((sum(r) / 2 - tie.clock_deg + 180.0) % 360.0 - 180.0))
    return Obstacle(Sector(a, b), tie.station - half, tie.station + half, "tie's slots")


def _groove(tie: Tie, ctx: SectionContext) -> Primitive:
    """Return the groove in the rail's outside from slot to slot; it ends inside both, so no faces meet."""
    across = (tie.relief.span.total + tie.relief.depth.total) / 2
    along = tie.relief.length.total / 2 - OVERLAP
    top = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    frame = radial(tie.clock_deg, tie.station)
    return Box((-across, -along, tie.groove), (across, along, top), frame)


def _hardware(detail: LeadBayPlan, ctx: SectionContext) -> tuple[Hardware, ...]:
    size = f"cable tie {TIE_WIDTH:g} x {TIE_THICKNESS:g} mm"
    return (Hardware(size, len(detail.ties), ctx.name),) if detail.ties else ()


def _facts(detail: LeadBayPlan, ctx: SectionContext) -> dict[str, float]:
    if not detail.ties:
        return {}
    near = min(t.station for t in detail.ties) - ctx.z0
    far = ctx.z1 - max(t.station for t in detail.ties)
    return {
        "tie_slot_pairs": float(len(detail.ties)),
        "tie_from_near_end_mm": near,
        "tie_from_far_end_mm": far,
        "tie_web_width_mm": detail.ties[0].relief.span.total,
        "tie_web_thickness_mm": min(t.web for t in detail.ties),
    }


def _findings(params: LeadBayParams, detail: LeadBayPlan, ctx: SectionContext) -> tuple[Finding, ...]:
    """Return where the bay or its rails are too small for tie slots."""
    if params.ties == "none":
        return ()
    if not detail.ties:
        return (_short_bay(params, ctx),)
    tie = min(detail.ties, key=lambda t: t.web)
    return tuple(f for f in (_narrow_web(params, tie, ctx), _thin_web(params, tie, ctx)) if f)


_WITHOUT = Remedy("ties", "none", "no tie slots here")


def _short_bay(params: LeadBayParams, ctx: SectionContext) -> Finding:
    least = _least_length(1, ctx.setting.fitter)
    text = f"the bay is {ctx.length:.2f} mm long; tie slots need {least:.2f} mm"
    value = math.ceil(least * 10) / 10
    longer = () if params.length == "fill" else (Remedy("length", value, f"a bay {value:g} mm long"),)
    numbers = {"length": ctx.length, "least_length": least}
    return Finding("error", "tie-room", ctx.name, text, numbers, candidates=(*longer, _WITHOUT))


def _narrow_web(params: LeadBayParams, tie: Tie, ctx: SectionContext) -> Finding | None:
    width = tie.relief.span.total
    if width >= LEAST_WEB - 1e-3:
        return None
    # the rail's inner face is narrower than its outer one
    inner = max(ctx.radius - params.rail_thickness, 1.0)
    value = math.ceil((params.rail_width + 1.05 * (LEAST_WEB - width) * ctx.radius / inner) * 10) / 10
    text = (
        f"the web between the tie slots in a rail {params.rail_width:g} mm wide is {width:.2f} mm wide; "
        f"{LEAST_WEB:g} mm are wanted"
    )
    return Finding(
        "error",
        "tie-web",
        f"{ctx.name}.rail_width",
        text,
        {"web": width, "least_web": LEAST_WEB},
        candidates=(Remedy("rail_width", value, f"rails {value:g} mm wide"), _WITHOUT),
        blocks_solids=width < ctx.setting.rules.least_wall,
    )


def _thin_web(params: LeadBayParams, tie: Tie, ctx: SectionContext) -> Finding | None:
    least = ctx.setting.rules.least_wall
    if tie.web >= least - 1e-3:
        return None
    value = math.ceil((params.rail_thickness + 1.1 * (least - tie.web)) * 10) / 10
    text = (
        f"{tie.web:.2f} mm of a rail {params.rail_thickness:g} mm thick are left under the tie's groove, "
        f"less than {least:g} mm"
    )
    return Finding(
        "error",
        "tie-web",
        f"{ctx.name}.rail_thickness",
        text,
        {"wall": tie.web, "least_wall": least},
        candidates=(Remedy("rail_thickness", value, f"rails {value:g} mm thick"), _WITHOUT),
        blocks_solids=tie.web < least / 2,
    )


KIND = LeadBay()
