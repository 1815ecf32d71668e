"""Cover: a lid over another section's open side, or over a small bay of its own.

Origin and axes: planned in the lid's frame. +y points to the section's clock, +z (here s) runs along the tube
from the end where the lid hooks in, or from the near end of a lid with screws alone; radii count from the axis.

         hook                                        screw
      ___   ______________________________________    o  _____
     |roof|_|                 lid                 |  |  | lip |     slot: finger or blade, and the way that
     |   ___|_____________________________________|__|__|     |     the lid slides to come off its hook
     |  |  rest |          open side           |  rest  |     |
     0 hook     e0                                      e1    length
"""

from __future__ import annotations

import math
from typing import ClassVar

from chassis_gen.plan.model import (
    Covering,
    Fit,
    GapProbe,
    Obstacle,
    Rest,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.cover_findings import findings
from chassis_gen.sections.cover_layout import laid_out
from chassis_gen.sections.cover_model import LID_FIT, PRY_DEPTH, CoverParams, CoverPlan, hooked
from chassis_gen.sections.cover_screws import hardware
from chassis_gen.sections.features.lid import (
    END_RELIEF,
    Lid,
    bay_cuts,
    frame_steps,
    host_cuts,
    lid_piece,
)
from chassis_gen.sections.features.screw_hole import ShapedHole
from chassis_gen.shapes.recipe import Step


class Cover(SectionKind):
    """A lid."""

    kind: ClassVar[str] = "cover"
    title: ClassVar[str] = "lid over another section's open side or over a bay of its own"
    Params: ClassVar[type[SectionParams]] = CoverParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: CoverParams, setting: Setting) -> Dimension | None:
        """Return the length as given, or None for all that the other section or the layout leaves."""
        if params.length is None:
            return None
        return setting.fitter.chosen(f"{params.name}.length", params.length, "length along the axis")

    def plan(self, params: CoverParams, ctx: SectionContext) -> SectionPlan:
        """Return the lid in its rebate, what holds it, and what can't work.

        Raises:
            InputError: the thread is unknown, or has no such hole.
        """
        d = laid_out(params, ctx)
        found = findings(params, ctx, d)
        sound = not any(f.blocks_solids for f in found)
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            fits=_fits(ctx, d) if sound else (),
            holes=d.lid.holes,
            obstacles=_obstacles(ctx, d),
            extra_pieces=(lid_piece(d.lid, ctx),) if sound else (),
            hardware=hardware(params, ctx, d),
            findings=found,
            facts=_facts(params, d),
            openings=(ctx.opening.name,) if ctx.opening else (),
            covering=_covering(params, ctx, d),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the rebate, the hook's slot and the screws' holes, in a frame of their own where asked."""
        d = plan.detail
        assert isinstance(d, CoverPlan)
        own = () if ctx.companion else bay_cuts(d.lid)
        frame = frame_steps(d.lid, ctx) if d.lid.framed else ()
        return (*ctx.shell(), *own, *frame, *host_cuts(d.lid, ctx))


def _half_angle(lid: Lid, ctx: SectionContext) -> float:
    """Return half the angle that the rebate takes of the outer surface, degrees."""
    return math.degrees(math.asin(min(1.0, lid.rebate_half / ctx.radius)))


def _obstacles(ctx: SectionContext, d: CoverPlan) -> tuple[Obstacle, ...]:
    """Return the lid's whole arc: neither rebate nor screws leave a groove any room; and the own bay."""
    lid, top = d.lid, ctx.clock_deg
    half = _half_angle(lid, ctx) + ctx.wall_angle
    found = [Obstacle(Sector(top - half, top + half), ctx.z0, ctx.z1, "lid")]
    if not ctx.companion:
        x = lid.bay_half
        low, high = lid.stations(lid.open_from, lid.open_to)
        found.append(Obstacle(Slab(-x, x, 0.0, lid.seat_radius, top), low, high, "bay under the lid"))
    return tuple(found)


def _covering(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Covering:
    lid = d.lid
    z0, z1 = lid.stations(lid.e0, lid.e1)
    return Covering(
        clock_deg=ctx.clock_deg,
        half_width=lid.half,
        z0=z0,
        z1=z1,
        outer_radius=ctx.radius,
        under_radius=lid.under_radius,
        seat_radius=lid.seat_radius,
        gap=lid.under_radius - lid.seat_radius,
        framed=lid.framed,
        rests=_rests(params, ctx, lid),
        gives_access_to=params.gives_access_to,
    )


def _rests(params: CoverParams, ctx: SectionContext, lid: Lid) -> tuple[Rest, ...]:
    """Return what the host must leave solid: under both ends of the lid and round its screws."""
    own = (h for h in lid.holes if h.piece == ctx.piece)
    return (*_end_rests(params, ctx, lid), *(_screw_rest(ctx, lid, h) for h in own))


def _end_rests(params: CoverParams, ctx: SectionContext, lid: Lid) -> tuple[Rest, Rest]:
    least, half = ctx.setting.rules.least_wall, _half_angle(lid, ctx)
    arc = (ctx.clock_deg - half, ctx.clock_deg + half)
    flip, what = lid.frame.z_axis[2] < 0.0, "end of the lid"
    first, last = lid.stations(0.0, lid.e0 + params.rest), lid.stations(lid.e1 - params.rest, lid.length)
    depth = PRY_DEPTH if lid.pry else END_RELIEF
    return (
        Rest(*arc, *first, lid.seat_radius - least, flip, what),
        Rest(*arc, *last, lid.seat_radius - depth - least, not flip, what),
    )


def _screw_rest(ctx: SectionContext, lid: Lid, hole: ShapedHole) -> Rest:
    wide, (x, y, z) = hole.diameter.total / 2 + hole.least_wall, hole.frame.origin
    bottom = lid.seat_radius - hole.depth - ctx.setting.rules.least_wall
    turn = math.degrees(math.asin(min(1.0, wide / max(bottom, wide))))
    clock = math.degrees(math.atan2(y, x))
    far = z > (ctx.z0 + ctx.z1) / 2
    return Rest(clock - turn, clock + turn, z - wide, z + wide, bottom, far, "screw of the lid")


def _fits(ctx: SectionContext, d: CoverPlan) -> tuple[Fit, ...]:
    """Return how the lid goes into its rebate, lies on its seat and hooks in.

    Each is measured where it is the smallest gap: across at the relief under the lid's end, on the seat where
    the lid rests, at the hook before the lid.
    """
    fitter, lid = ctx.setting.fitter, d.lid
    name = f"{ctx.name} lid"
    pair = (name, ctx.piece)

    def gap(a: float, b: float) -> GapProbe:
        return GapProbe(name, ctx.piece, *lid.stations(a, b))

    across = gap(lid.e1 - END_RELIEF + 0.05, lid.e1 - 0.05)
    seat = gap(lid.e0 + 0.1, lid.open_from - 0.1)
    found = [
        fitter.fit(d.lid_width, "lid in rebate", pair, LID_FIT, across, outer=True),
        fitter.fit(d.seat_diameter, "lid on seat", pair, LID_FIT, seat, outer=True),
    ]
    if d.hook_slot_height and lid.hook:
        hook = gap(lid.e0 - lid.hook.reach + 0.1, lid.begin - 0.1)
        found.append(fitter.fit(d.hook_slot_height, "hook in slot", pair, LID_FIT, hook))
    else:
        end = gap(lid.e1 - 0.2, lid.e1 + 0.6)
        found.append(fitter.fit(d.lid_length, "lid in rebate", pair, LID_FIT, end, outer=True))
    return tuple(found)


def _facts(params: CoverParams, d: CoverPlan) -> dict[str, float]:
    facts = {
        "lid_length_mm": d.lid_length.total,
        "lid_width_mm": d.lid_width.total,
        "lid_thickness_mm": d.thickness.total,
    }
    return {**facts, "lid_slide_mm": params.hook_reach} if hooked(params) else facts


KIND = Cover()
