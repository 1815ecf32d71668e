"""What can't work about a display window: its board's walls, what is left under it, and what hides its picture."""

from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.parts.model import Part
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.display_window_model import DisplayWindowParams, DisplayWindowPlan
from chassis_gen.sections.features.surface import half_chord

SPINE_WALLS = 4
"""Least spine under the board's slot and screws, in least walls (chosen)."""
ALL_SEEN = 0.999


def findings(
    params: DisplayWindowParams, ctx: SectionContext, part: Part, d: DisplayWindowPlan, visible: float | None
) -> tuple[Finding, ...]:
    """Return what can't work.

    Args:
        params: of the section.
        ctx: of the section.
        part: the screen.
        d: what was planned.
        visible: share of the picture that shows, or None without an opening.
    """
    return (*_wide(params, ctx, part, d), *_spine(ctx, d), *_view(ctx, d, visible))


def _wide(
    params: DisplayWindowParams, ctx: SectionContext, part: Part, d: DisplayWindowPlan
) -> Iterator[Finding]:
    """Yield an error where the walls beside the board are too thin at their top."""
    least, r = ctx.setting.rules.least_wall, ctx.radius
    x = (d.bezel.bay_width if d.bezel else d.seat_width).total / 2
    # The walls beside the board end at the bezel's underside, or at the board's top.
    level = d.bezel.under if d.bezel else d.seat_height + part.size("thickness")
    wall = half_chord(r, level) - x
    if wall >= least and level > 0.0:
        return
    message = f"beside the board {max(wall, 0.0):.2f} mm of wall are left at its top, less than {least:g} mm"
    numbers = {"wall": wall, "least_wall": least, "width": 2 * x, "chassis": 2 * r}
    deeper = half_chord(r, x + least)
    more = math.ceil((params.bezel_edge + level - deeper) * 10) / 10
    fits = bool(d.bezel) and 0.0 < deeper < level and more <= r / 2
    remedies = (Remedy("bezel_edge", more, f"bezel {more:g} mm thick over the screen"),) if fits else ()
    yield error("display-wide", ctx.name, message, numbers, *remedies, blocks=True)


def _spine(ctx: SectionContext, d: DisplayWindowPlan) -> Iterator[Finding]:
    """Yield an error where slot, relief or screws leave too little of the chassis under them."""
    low, wanted = d.seat_height - max(d.slot[2], d.relief), SPINE_WALLS * ctx.setting.rules.least_wall
    if d.bezel:
        low = min(low, *(d.bezel.under - h.depth for h in d.bezel.screws if h.piece == ctx.piece))
    left = low + ctx.radius
    if left >= wanted:
        return
    message = f"under the board's slot and screws {max(left, 0.0):.2f} mm are left; {wanted:g} mm are wanted"
    yield error("spine-thin", ctx.name, message, {"left": left, "wanted": wanted}, blocks=True)


def _view(ctx: SectionContext, d: DisplayWindowPlan, visible: float | None) -> Iterator[Finding]:
    if ctx.opening is None or visible is None:
        message = "no opening of the tube shows this screen: at_opening names one"
        yield Finding("note", "display-covered", ctx.name, message)
        return
    if visible >= ALL_SEEN:
        return
    needed = math.hypot(d.view[0], d.view[1])
    message = (
        f"the opening {ctx.opening.name}, {ctx.opening.diameter:.2f} mm wide, shows {100 * visible:.0f} % of "
        f"the picture of {d.view[0]:g} x {d.view[1]:g} mm; all of it needs {needed:.2f} mm"
    )
    numbers = {"visible_share": visible, "opening": ctx.opening.diameter, "needed": needed}
    yield Finding("warning", "picture-hidden", ctx.name, message, numbers)
