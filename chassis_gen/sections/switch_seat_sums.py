"""What a switch of either kind needs along the axis and across it, as numbers and labelled sums, mm."""

from __future__ import annotations

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import PART_SIZE, Dimension, Term
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.sections.switch_seat_model import COVER, Site

NUT_FINGERS = 4.0


def half_length(part: Part, fitter: Fitter, id: str) -> Dimension:
    """Return half of what a switch needs along the axis between two walls, as a labelled sum.

    Args:
        part: panel button or tactile board.
        fitter: makes labelled sums.
        id: stem of the dimension names.
    """
    room = room_width(part, fitter, id).total
    opening = opening_length(part, fitter, id).total
    term = Term(PART_SIZE, max(room, opening) / 2, f"{part.name}: half of its room or opening, the larger")
    return Dimension(f"{id}.half_length", (term,), "half of what the switch needs along the axis")


def room_width(part: Part, fitter: Fitter, id: str) -> Dimension:
    """Return the open room under the plate, along the axis: for the nut and fingers, or for the board.

    Args:
        part: panel button or tactile board.
        fitter: makes labelled sums.
        id: stem of the dimension names.
    """
    more: tuple[Term, ...] = ()
    if part.kind == "panel_button":
        size, what = part.sizes["nut_across_corners"], "nut across corners"
        more = (Term("fingers", NUT_FINGERS, "room to hold and turn the nut: common practice, no source"),)
    else:
        size, what = part.sizes["length"], "board length"
    first = Term(PART_SIZE, size.value, f"{part.name}: {what}, {size.source}", size.tolerance)
    return fitter.summed(f"{id}.room_width", (first, *more), "open room under the plate, along the axis")


def opening_length(part: Part, fitter: Fitter, id: str) -> Dimension:
    """Return the opening in the outer surface along the axis: a head's recess, or a board's pocket.

    Args:
        part: panel button or tactile board.
        fitter: makes labelled sums.
        id: stem of the dimension names.
    """
    if part.kind == "panel_button":
        return head_recess(part, fitter, id)
    name, note = f"{id}.pocket_length", "board pocket along the tube"
    return fitter.inner(name, part.sizes["length"], "slide", note, part.name)


def head_recess(part: Part, fitter: Fitter, id: str) -> Dimension:
    """Return the diameter of the recess for a button's head.

    Args:
        part: panel button.
        fitter: makes labelled sums.
        id: stem of the dimension names.
    """
    name, note = f"{id}.head_recess_diameter", "recess for the button's head"
    return fitter.inner(name, part.sizes["head_diameter"], "free", note, part.name)


def highest_flat(site: Site, half_width: float) -> float:
    """Return how high a flat top may reach so that its rim stays under the outer surface, mm.

    Args:
        site: where the switch stands.
        half_width: of the flat top, mm.
    """
    return half_chord(site.radius - COVER, half_width)


def spine_under(fitter: Fitter, site: Site, lowest: float, wanted: float) -> Dimension:
    """Return the spine under a room: as wanted, or what is left of it.

    Args:
        fitter: makes labelled sums.
        site: where the switch stands.
        lowest: height down to which the room must reach, mm.
        wanted: thickness of the spine, mm.
    """
    name, note = f"{site.id}.spine", "material left under the room"
    if site.radius + lowest >= wanted:
        return fitter.chosen(name, wanted, note)
    terms = (
        Term("outer radius", site.radius, "chassis in tube"),
        Term("room", lowest, "lowest point that switch and wires need, over the axis"),
    )
    return fitter.summed(name, terms, note)
