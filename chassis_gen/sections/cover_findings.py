"""What can't work about a cover: its width, its length, its walls and the place of its screws."""

from __future__ import annotations

import math

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.cover_model import PRY_DEPTH, CoverParams, CoverPlan
from chassis_gen.sections.cover_sums import rim
from chassis_gen.sections.features.head_screw import head_height
from chassis_gen.sections.features.lid import END_RELIEF

LEAST_OPEN = 2.0
"""A lid that opens less than this along the axis is a mistake, mm (chosen)."""


def findings(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> tuple[Finding, ...]:
    """Return what can't work.

    Args:
        params: of the section.
        ctx: of the section.
        d: what was planned.
    """
    found = (_wide(params, ctx, d), _short(ctx, d), _thin(ctx, d), _off_lid(params, ctx, d))
    return tuple(f for f in found if f)


def _wide(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Finding | None:
    """Return a finding where the round seat doesn't reach below the lid's sides."""
    lid, least = d.lid, ctx.setting.rules.least_wall
    floor = lid.seat_radius - max(PRY_DEPTH, END_RELIEF)
    side = lid.rebate_half
    if side + least <= floor:
        return None
    half = math.degrees(math.asin(max(0.1, min(1.0, (floor - least) / ctx.radius))))
    best, largest = math.floor(2 * half), max(0.0, 2 * (floor - least))
    message = (
        f"a lid of {params.arc_deg:g} degrees is {2 * side:.2f} mm wide, wider than what it would lie on, "
        f"{largest:.2f} mm under {d.thickness.total:.2f} mm of lid"
    )
    numbers = {"width": 2 * side, "largest": largest, "thickness": d.thickness.total}
    candidates = (Remedy("arc_deg", best, f"a lid of {best:g} degrees"),) if best >= 20 else ()
    return error("cover-wide", ctx.name, message, numbers, *candidates, blocks=True)


def _short(ctx: SectionContext, d: CoverPlan) -> Finding | None:
    lid = d.lid
    opens = lid.open_to - lid.open_from
    if opens >= LEAST_OPEN - 1e-6:
        return None
    least = math.ceil((ctx.length + LEAST_OPEN - opens) * 10) / 10
    message = (
        f"a cover {ctx.length:.2f} mm long is all lips, rests and screws; with an opening of {LEAST_OPEN:g} mm "
        f"it is {least:g} mm long"
    )
    numbers = {"length": ctx.length, "least_length": least, "opening": opens}
    remedy = Remedy("length", least, f"a cover {least:g} mm long")
    return error("cover-short", ctx.name, message, numbers, remedy, blocks=True)


def _thin(ctx: SectionContext, d: CoverPlan) -> Finding | None:
    """Return a finding where a wall of the lid, its hook or the hook's roof is thinner than can be printed."""
    lid, least = d.lid, ctx.setting.rules.least_wall
    walls = {"lid": d.thickness.total}
    through = lid.holes[0]
    if through.counterbore:
        head = through.counterbore.diameter
        bears = rim(ctx, head) - head_height(through.thread)
        walls["wall under the screw's head"] = bears - lid.under_radius
    if lid.hook:
        walls["hook"] = lid.hook.outer - lid.hook.inner
        walls["roof over the hook"] = ctx.radius - lid.hook.roof
    what, wall = min(walls.items(), key=lambda w: w[1])
    if wall >= least - 1e-3:
        return None
    # Hook and roof share the lid's thickness.
    share = 2.0 if "hook" in what else 1.0
    more = math.ceil((d.thickness.total + share * (least - wall)) * 10) / 10
    message = (
        f"of a lid {d.thickness.total:.2f} mm thick the {what} is {max(wall, 0.0):.2f} mm; "
        f"the printer needs {least:g} mm"
    )
    numbers = {"wall": wall, "least_wall": least, "thickness": d.thickness.total}
    remedy = Remedy("thickness", more, f"a lid {more:g} mm thick")
    return error("cover-thin", ctx.name, message, numbers, remedy, blocks=True)


def _off_lid(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Finding | None:
    """Return a finding where screws stand too near the lid's sides or each other."""
    lid, least = d.lid, ctx.setting.rules.least_wall
    through = lid.holes[0]
    wide = (through.counterbore.diameter if through.counterbore else through.diameter).total / 2
    offset = math.radians(abs(params.screw_offset_deg))
    edge = lid.half - ctx.radius * math.sin(offset) - wide
    apart = 2 * (ctx.radius * math.sin(offset) - wide) if params.screws_per_end == 2 else math.inf
    wall = min(edge, apart)
    if wall >= least - 1e-3:
        return None
    most = math.degrees(math.asin(max(0.0, min(1.0, (lid.half - wide - least) / ctx.radius))))
    fewest = math.degrees(math.asin(min(1.0, (wide + least / 2) / ctx.radius)))
    message = (
        f"screws at {params.screw_offset_deg:g} degrees leave {max(wall, 0.0):.2f} mm of the lid beside them"
    )
    numbers = {"wall": wall, "least_wall": least, "largest_offset_deg": most}
    value = math.floor(most) if edge < least or fewest > most else math.ceil(fewest)
    remedy = Remedy("screw_offset_deg", float(value), f"screws at {value:g} degrees")
    return error("cover-screw", ctx.name, message, numbers, remedy, blocks=True)
