"""Sizes of a cover's lid and rebate, as labelled sums, mm."""

from __future__ import annotations

import math

from msgspec import Struct

from chassis_gen.parts.model import Measure
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.cover_model import LID_FIT, UNDER_SURFACE, CoverParams, hooked, thread_of
from chassis_gen.sections.features.head_screw import head_bore, head_height
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.tables.threads import find_thread

HOOK_SIDE = 0.5
"""Room beside the hook and before its tip, mm (chosen)."""
HEAD_SPARE = 0.1
"""More than the least wall under a screw's head, mm (chosen)."""
SLIM_LID = 2.2
"""Thickness of a lid without a screw's head in it, mm: hook and roof of 0.9 with the hook's fit (chosen)."""
LEAST_HOOK = 0.2


class Across(Struct, frozen=True):
    """Sizes of lid and rebate in the cross-section.

    Args:
        head: counterbore for a screw's head, or None for a set screw.
        thickness: of the lid.
        inside: diameter of the lid's underside.
        seat: diameter of what it lies on.
        rebate_width: of the rebate.
        width: of the lid.
        hook_height: thickness of the hook, or None.
        slot_height: of the slot it goes into, or None.
    """

    head: Dimension | None
    thickness: Dimension
    inside: Dimension
    seat: Dimension
    rebate_width: Dimension
    width: Dimension
    hook_height: Dimension | None
    slot_height: Dimension | None


class Along(Struct, frozen=True):
    """Sizes of lid and rebate along the axis.

    Args:
        lip: at the end of the screw, or at both ends.
        hook_lip: before the lid at the hook's end, or None.
        rebate: length of the rebate.
        lid: length of the lid, its hook left out.
        begin: where the rebate begins, from the lid's end of the section.
        e0: where the lid begins, likewise.
    """

    lip: Dimension
    hook_lip: Dimension | None
    rebate: Dimension
    lid: Dimension
    begin: float
    e0: float


def rim(ctx: SectionContext, head: Dimension) -> float:
    """Return the height of the outer surface beside a screw's head, less what covers it, mm."""
    return half_chord(ctx.radius - UNDER_SURFACE, head.total / 2)


def _thickness(params: CoverParams, ctx: SectionContext, head: Dimension | None) -> Dimension:
    name, note, fitter = f"{ctx.name}.thickness", "thickness of the lid", ctx.setting.fitter
    if params.thickness is not None:
        return fitter.chosen(name, params.thickness, note)
    if head is None:
        return fitter.chosen(name, SLIM_LID, note, "hook and roof of 0.9 mm with the hook's fit: chosen")
    thread = thread_of(params)
    least = max(ctx.setting.rules.least_wall, 0.4 * find_thread(thread).major_diameter)
    terms = (
        Term("head", head_height(thread), "0.7 screw diameters high: common practice, no source"),
        Term("under the surface", UNDER_SURFACE, "so that the head never touches the tube: chosen"),
        Term("round surface", on_grid(ctx.radius - UNDER_SURFACE - rim(ctx, head)), "falls beside the head"),
        Term(WALL, least + HEAD_SPARE, "under the head"),
    )
    return fitter.summed(name, terms, note)


def sizes_across(params: CoverParams, ctx: SectionContext) -> Across:
    """Return the sizes in the cross-section.

    Args:
        params: the cover's keys.
        ctx: where it stands.

    Raises:
        InputError: the thread is unknown.
    """
    fitter, name, r = ctx.setting.fitter, ctx.name, ctx.radius
    # A set screw has no head.
    has_head = params.hold != "set_screw"
    head = head_bore(fitter, f"{name}.head_diameter", thread_of(params)) if has_head else None
    thickness = _thickness(params, ctx, head)
    terms = (
        Term("outer surface", 2 * r, "the chassis's least outer diameter here"),
        Term("lid", -2 * thickness.total, f"twice {thickness.name}"),
    )
    inside = fitter.summed(f"{name}.lid_inside_diameter", terms, "inside diameter of the lid")
    chord = 2 * r * math.sin(math.radians(params.arc_deg / 2))
    term = Term("chord", chord, f"of {params.arc_deg:g} degrees")
    rebate = fitter.summed(f"{name}.rebate_width", (term,), "rebate that takes the lid, across")
    height, slot = _hook(fitter, name, thickness) if hooked(params) else (None, None)
    return Across(
        head=head,
        thickness=thickness,
        inside=inside,
        seat=fitter.mating(f"{name}.seat_diameter", inside, LID_FIT, "what the lid lies on", outer=False),
        rebate_width=rebate,
        width=fitter.mating(f"{name}.lid_width", rebate, LID_FIT, "lid across", outer=False),
        hook_height=height,
        slot_height=slot,
    )


def _hook(fitter: Fitter, name: str, thickness: Dimension) -> tuple[Dimension, Dimension]:
    """Return the hook's thickness and the height of its slot: with the slot's roof they share the lid's."""
    clear = fitter.inner("hook", Measure(0.0), LID_FIT, "").total
    high = on_grid(max(LEAST_HOOK, (thickness.total - clear) / 2))
    height = fitter.chosen(f"{name}.hook_height", high, "thickness of the hook", "half the lid")
    made = Measure(height.total, 0.0, "hook as drawn")
    note = "slot that takes the hook"
    return height, fitter.inner(f"{name}.hook_slot_height", made, LID_FIT, note, "hook")


def sizes_along(params: CoverParams, ctx: SectionContext) -> Along:
    """Return the sizes along the axis.

    Args:
        params: the cover's keys.
        ctx: where it stands.
    """
    fitter, name = ctx.setting.fitter, ctx.name
    lip = fitter.chosen(f"{name}.lip", params.lip, "chassis between the lid and the section's end")
    hook_lip = _hook_lip(params, ctx) if hooked(params) else None
    first = hook_lip or lip
    terms = (
        Term("section", ctx.length, f"{name}.length"),
        Term(WALL, -first.total, first.name),
        Term(WALL, -lip.total, lip.name),
    )
    rebate = fitter.summed(f"{name}.rebate_length", terms, "rebate that takes the lid, along the axis")
    room = rebate
    if hook_lip:
        slide = Term("slide", -params.hook_reach, "the lid slides this far to come off its hook")
        room = Dimension(f"{rebate.name} less the slide", (*rebate.terms, slide))
    note = "lid along the axis, hook left out"
    lid = fitter.mating(f"{name}.lid_length", room, LID_FIT, note, outer=False)
    e0 = on_grid(first.total + (room.total - lid.total) / 2)
    return Along(lip, hook_lip, rebate, lid, first.total, e0)


def _hook_lip(params: CoverParams, ctx: SectionContext) -> Dimension:
    """Return the stretch before the lid that roofs its hook, at least as long as the other lip."""
    least = ctx.setting.rules.least_wall
    terms = (
        Term("hook", params.hook_reach, "hook_reach: parameter file or its default"),
        Term("tip room", HOOK_SIDE, "before the hook's tip: chosen"),
        Term(WALL, max(least, params.lip - params.hook_reach - HOOK_SIDE), "behind the hook's slot"),
    )
    return ctx.setting.fitter.summed(f"{ctx.name}.hook_lip", terms, "chassis before the lid at its hook")
