"""What a display window needs along the axis, as numbers and labelled sums, mm."""

from __future__ import annotations

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import Setting
from chassis_gen.sections.display_window_model import SEAT_FIT, DisplayWindowParams, screen_of
from chassis_gen.sections.features.head_screw import head_width
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

LAND_MARGIN = 2.6
"""More than a screw's head or hole that the bezel's land is long, mm: walls and play (chosen)."""


def seat_length(params: DisplayWindowParams, part: Part, fitter: Fitter) -> Dimension:
    """Return the pocket for the board, along the axis."""
    name, note = f"{params.name}.seat_length", "pocket for the board, along"
    return fitter.inner(name, part.sizes["length"], SEAT_FIT, note, part.name)


def bezel_screw(params: DisplayWindowParams) -> HoleSpec:
    """Return what the tables say of the hole that a screw of the bezel forms its thread in.

    Raises:
        InputError: the thread is unknown.
    """
    return hole_for("thread_forming", find_thread(params.bezel_thread))


def land_terms(params: DisplayWindowParams) -> tuple[Term, ...]:
    """Return how much longer the bezel is than the board, for a screw at each end; none without a bezel."""
    if not params.bezel:
        return ()
    spec = bezel_screw(params)
    land = max(head_width(params.bezel_thread), spec.diameter + spec.min_wall) + LAND_MARGIN
    return (Term("screw lands", 2 * land, f"two {params.bezel_thread} screws of the bezel"),)


def section_length(params: DisplayWindowParams, setting: Setting) -> Dimension:
    """Return the board's seat, the bezel's screw lands and two end walls, as a labelled sum.

    Raises:
        InputError: the part or the thread is unknown, or the part is no screen.
    """
    seat = seat_length(params, screen_of(params, setting), setting.fitter)
    walls = Term(WALL, 2 * params.end_wall, "two end walls: parameter file or its default")
    terms = (*seat.terms, *land_terms(params), walls)
    return setting.fitter.summed(f"{params.name}.length", terms, "length along the axis")


def view_shift(params: DisplayWindowParams, part: Part) -> float:
    """Return how far the picture's middle lies beyond the board's, toward the far end, mm."""
    middle = part.size("view_inset") + part.size("view_length") / 2 - part.size("length") / 2
    return -middle if params.turned else middle


def view_offset(params: DisplayWindowParams, setting: Setting) -> float:
    """Return the distance of the picture's middle from the near end, mm.

    Raises:
        InputError: the part or the thread is unknown, or the part is no screen.
    """
    middle = section_length(params, setting).total / 2
    return on_grid(middle + view_shift(params, screen_of(params, setting)))
