"""Where a display window's board, its picture and its bezel stand, and how much of the picture shows."""

from __future__ import annotations

import math

from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.display_window_model import (
    COVER,
    LEDGE,
    SEAT_FIT,
    Bezel,
    DisplayWindowParams,
    DisplayWindowPlan,
)
from chassis_gen.sections.display_window_sums import bezel_screw, land_terms, seat_length, view_shift
from chassis_gen.sections.features.head_screw import head_bore, head_height, held_down
from chassis_gen.sections.features.screw_hole import ShapedHole
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.shapes.frame import Frame, reversed_axis, topped

END_REST = 0.5
"""How much of the board's end still rests beside the cable slot, mm (chosen)."""
PIN_ROOM = 1.0
"""Room round joints in the cable slot, mm: common practice, no source."""
LEAST_MARGIN = 1.0
"""Least ledge under the board's edge, mm (chosen)."""
LEAST_UNDER_HEAD = 0.8
"""Least thickness of the bezel under a screw's head, mm (chosen)."""


def middle_of(ctx: SectionContext) -> float:
    """Return the station of the section's middle, mm."""
    return on_grid((ctx.z0 + ctx.z1) / 2)


def top_of(ctx: SectionContext) -> Frame:
    """Return the frame in the section's middle, +y to its clock."""
    return topped(ctx.clock_deg, middle_of(ctx))


def board_frame(ctx: SectionContext, d: DisplayWindowPlan) -> Frame:
    """Return `top_of`, turned about the top where the joints lie toward the far end."""
    return reversed_axis(top_of(ctx)) if d.turned else top_of(ctx)


def _high(part: Part) -> float:
    """Return how high a screen's face stands over its board's underside, mm."""
    return part.size("thickness") + part.size("height_above")


def face_height(d: DisplayWindowPlan, part: Part) -> float:
    """Return the height of the screen's face over the axis, mm."""
    return d.seat_height + _high(part)


def view_station(d: DisplayWindowPlan, ctx: SectionContext) -> float:
    """Return the station of the picture's middle, mm."""
    return middle_of(ctx) + d.view[2]


def laid_out(params: DisplayWindowParams, ctx: SectionContext, part: Part) -> DisplayWindowPlan:
    """Return the screen's seat, its cable slot, its picture and the bezel.

    Args:
        params: the window's keys.
        ctx: where it stands.
        part: the screen.
    """
    fitter, name = ctx.setting.fitter, ctx.name
    note = "pocket for the board, across"
    width = fitter.inner(f"{name}.seat_width", part.sizes["width"], SEAT_FIT, note, part.name)
    length = seat_length(params, part, fitter)
    edge = part.size("width") / 2 - part.size("margin_above")
    rim = width.total / 2 + LEDGE if params.bezel else edge
    face = half_chord(ctx.radius, rim) - (params.bezel_edge if params.bezel else 0.0) - COVER
    below = part.size("height_below")
    return DisplayWindowPlan(
        length=fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout"),
        seat_width=width,
        seat_length=length,
        seat_height=on_grid(face - _high(part)),
        relief=below + (COVER if below else 0.0),
        relief_margin=max(LEAST_MARGIN, part.size("margin_below")),
        slot=_cable_slot(params, part),
        view=(part.size("view_width"), part.size("view_length"), view_shift(params, part)),
        turned=params.turned,
        bezel=_bezel(params, ctx, width, length, on_grid(face + COVER)) if params.bezel else None,
    )


def _cable_slot(params: DisplayWindowParams, part: Part) -> tuple[float, float, float]:
    """Return where the cable slot begins and ends along the board from its middle, and its depth, mm."""
    half = part.size("length") / 2
    ys = [t.position[1] for t in part.terminals] or [-half + 2 * PIN_ROOM]
    begin = max(-half + END_REST, min(ys) - PIN_ROOM - part.size("pin_diameter") / 2)
    pins = part.size("pin_length") if part.has("pin_length") else 0.0
    return begin, max(ys) + PIN_ROOM + 1.0, params.cable_slot + max(pins, part.size("height_below"))


def _seat_term(seat: Dimension) -> Term:
    # As drawn: the seat's own printer term must not count once more in what mates with the bay.
    return Term("seat", seat.total, f"{seat.name} as drawn")


def _bezel(
    params: DisplayWindowParams, ctx: SectionContext, across: Dimension, seat: Dimension, under: float
) -> Bezel:
    fitter, name = ctx.setting.fitter, ctx.name
    note = "bay that takes the bezel, along the axis"
    bay = fitter.summed(f"{name}.bezel_bay_length", (_seat_term(seat), *land_terms(params)), note)
    length = fitter.mating(f"{name}.bezel_length", bay, SEAT_FIT, "bezel along the axis", outer=False)
    terms = (_seat_term(across), Term(WALL, 2 * LEDGE, "ledges on both sides: chosen"))
    wide = fitter.summed(f"{name}.bezel_bay_width", terms, "bay that takes the bezel, across")
    width = fitter.mating(f"{name}.bezel_width", wide, SEAT_FIT, "bezel across", outer=False)
    at = (seat.total + bay.total) / 4
    near, far = _screw(params, ctx, under, "near", -at), _screw(params, ctx, under, "far", at)
    return Bezel(bay, length, wide, width, under, (near[0], far[0], near[1], far[1]))


def _screw(
    params: DisplayWindowParams, ctx: SectionContext, under: float, tag: str, z: float
) -> tuple[ShapedHole, ShapedHole]:
    """Return the way through the bezel and the hole that holds the screw."""
    thread, id = params.bezel_thread, f"{ctx.name}.bezel_{tag}"
    head = head_bore(ctx.setting.fitter, f"{id}_head_diameter", thread)
    rim = half_chord(ctx.radius - COVER, head.total / 2)
    bears = max(rim - head_height(thread), under + LEAST_UNDER_HEAD)
    place = (ctx.clock_deg, middle_of(ctx) + z)
    return held_down(ctx, id, bezel_screw(params), f"{ctx.name} bezel", head, place, (bears, under))


def visible_share(d: DisplayWindowPlan, ctx: SectionContext) -> float | None:
    """Return the share of the picture that shows through the tube's opening, or None without one.

    Seen straight on: the rectangle's part inside the opening's circle, by strips (plane geometry).
    """
    if ctx.opening is None:
        return None
    width, length, _ = d.view
    off = ctx.opening.station - view_station(d, ctx)
    r = ctx.opening.diameter / 2
    strips = 400
    seen = 0.0
    for k in range(strips):
        z = (k + 0.5) / strips * length - length / 2 - off
        chord = 2 * math.sqrt(max(0.0, r * r - z * z))
        seen += min(width, chord) / width / strips
    return seen
