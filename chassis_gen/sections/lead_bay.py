"""Lead bay: a mostly hollow stretch of rails where wires have room to lie and to change their clock.

Origin and axes: the tube's; the first rail stands opposite the section's top.

      _#_           looking in from the mouth: two rails,
    /     \\         the first at the bottom (the spine),
   |       |        the others spread evenly from there
    \\__#__/
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

from pydantic import Field

from chassis_gen.params.quantities import PositiveLength
from chassis_gen.plan.model import OVERLAP, Gallery, Obstacle, SectionPlan, Sector
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.shapes.primitives import TubeSegment
from chassis_gen.shapes.recipe import Step, add


class LeadBayParams(SectionParams):
    """Keys of a lead bay."""

    kind: Literal["lead_bay"] = "lead_bay"
    length: PositiveLength | Literal["fill"] = Field("fill", description='length along the axis, or "fill"')
    rails: int = Field(2, ge=2, le=4, description="number of rails")
    rail_width: PositiveLength = Field(10.0, description="width of a rail along the circumference")
    rail_thickness: PositiveLength = Field(3.2, description="radial thickness of a rail")


@dataclass(frozen=True)
class LeadBayPlan:
    """What a lead bay decides: its sums and the clock intervals of its rails (degrees)."""

    length: Dimension
    rail_thickness: Dimension
    rail_width: Dimension
    rails: tuple[tuple[float, float], ...]


class LeadBay(SectionKind):
    """A hollow stretch between two sections, held by rails."""

    kind: ClassVar[str] = "lead_bay"
    title: ClassVar[str] = "hollow stretch of rails where wires lie and change lane"
    Params: ClassVar[type[SectionParams]] = LeadBayParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return the length as given, or None to fill the slack."""
        assert isinstance(params, LeadBayParams)
        if params.length == "fill":
            return None
        return setting.fitter.chosen(f"{params.name}.length", params.length, "length along the axis")

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the rails, spread evenly from the one opposite the section's top."""
        assert isinstance(params, LeadBayParams)
        fitter = ctx.setting.fitter
        half = math.degrees(params.rail_width / 2 / ctx.radius)
        middles = [(ctx.clock_deg + 180 + i * 360 / params.rails) % 360 for i in range(params.rails)]
        detail = LeadBayPlan(
            length=fitter.chosen(f"{ctx.name}.length", ctx.length, "length along the axis", "layout"),
            rail_thickness=fitter.chosen(f"{ctx.name}.rail_thickness", params.rail_thickness, "radial"),
            rail_width=fitter.chosen(f"{ctx.name}.rail_width", params.rail_width, "along the circumference"),
            rails=tuple((m - half, m + half) for m in middles),
        )
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            obstacles=tuple(Obstacle(Sector(a, b), ctx.z0, ctx.z1, "rail") for a, b in detail.rails),
            galleries=(Gallery((ctx.z0 + ctx.z1) / 2, ctx.length, ctx.name, open_room=True),),
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
        return add("rail", *segments)


KIND = LeadBay()
