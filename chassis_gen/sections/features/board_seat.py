"""Board seat: what a circuit board needs under it and past its +y end, and the fits of its pocket.

A board stands in its part's own frame: +y along the board toward its front (card, antenna), +z to its components.
"""

from __future__ import annotations

from collections.abc import Iterable

from chassis_gen.parts.extent import extent_of
from chassis_gen.parts.model import Keepout, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Fit, PlayProbe
from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.sections.base import SectionContext
from chassis_gen.shapes.frame import Vec3

BOARD_FIT = "slide"
"""Fit class of a board in its pocket (chosen)."""
AIR = 0.5
"""Room beside and under what stands out of a board, mm (chosen)."""
MARGIN = 0.2
"""How far ledges, grooves and reliefs keep from parts and pins, mm (chosen)."""
LEAST_LEDGE = 0.6
"""Narrowest ledge that a board may rest on, mm (chosen)."""
END_INSET = 0.3
"""How far cuts end before or beyond the pocket's ends, mm, so that no two of them meet in an edge."""


def deepest_below(part: Part) -> str:
    """Return the name of the size that reaches deepest under a board: of its parts or of its pins.

    Args:
        part: the board.
    """
    names = [n for n in ("height_below", "pin_length") if part.has(n)]
    return max(names, key=lambda n: part.sizes[n].largest)


def beyond_end(keepout: Keepout, part: Part) -> float:
    """Return how far a keep-out reaches past the board's +y end, mm; negative where it ends before.

    Args:
        keepout: of the board.
        part: the board.
    """
    return extent_of(keepout.solid)[1][1] - part.size("length") / 2


def open_room(part: Part, apart_from: tuple[str, ...] = ("pins",)) -> float:
    """Return how far keep-outs reach past the board's +y end, mm.

    Args:
        part: the board.
        apart_from: keep-outs that don't count, by name.
    """
    return max((0.0, *(beyond_end(k, part) for k in part.keepouts if k.name not in apart_from)))


def relief_radius(part: Part, *plays: float) -> float:
    """Return the radius round a pin's axis that stays free where the board plays, mm.

    Args:
        part: the board.
        plays: how far it can move, per direction, mm.
    """
    return part.size("pin_diameter") / 2 + max(plays) + MARGIN


def length_along(
    fitter: Fitter, section: str, walls: Term, pocket: Dimension, rooms: Iterable[Term]
) -> Dimension:
    """Return the length of a section that holds a board along the tube, as a labelled sum.

    Args:
        fitter: makes labelled sums.
        section: the section's name.
        walls: its end walls.
        pocket: of the board, along the tube.
        rooms: what else is needed beyond the board's ends; what is 0 is left out.
    """
    more = (room for room in rooms if room.value)
    terms = (walls, Term("pocket", pocket.total, pocket.name), *more)
    return fitter.summed(f"{section}.length", terms, "length along the axis")


def board_fits(
    ctx: SectionContext,
    width: Dimension,
    length: Dimension,
    across: tuple[Vec3, ...],
    along: tuple[Vec3, ...],
) -> tuple[Fit, Fit]:
    """Return the fits of a board in its pocket across and along, each measured as its mean play.

    Args:
        ctx: of the section.
        width: of the pocket, across, mm.
        length: of the pocket, along the tube, mm.
        across: directions in which the board is stopped across.
        along: directions in which it is stopped along the tube.
    """
    pair, fit = (ctx.name, ctx.piece), ctx.setting.fitter.fit
    return (
        fit(width, "part in seat", pair, BOARD_FIT, PlayProbe(ctx.name, across)),
        fit(length, "part in seat", pair, BOARD_FIT, PlayProbe(ctx.name, along)),
    )
