"""At which height a board lies in its tray: how much room it has there, and where it has most, mm."""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct

from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.board_tray_model import BoardTrayParams
from chassis_gen.sections.board_tray_sums import Fitted
from chassis_gen.sections.features.seat import REST

HEIGHT_STEP = 0.25


class Margins(Struct, frozen=True):
    """How much wider, per side, the board could be at a height, by what limits it (mm)."""

    by_limit: Mapping[str, float]

    @property
    def least(self) -> float:
        """Return the smallest margin, mm."""
        return min(self.by_limit.values())

    @property
    def limit(self) -> str:
        """Return what limits most."""
        return min(self.by_limit, key=lambda k: self.by_limit[k])


def reach_across(radius: float, height: float) -> float:
    """Return half the chord of a circle at a height, mm; outside it the more negative, the farther off."""
    return math.sqrt(radius**2 - height**2) if abs(height) < radius else -abs(height)


def margins(params: BoardTrayParams, fitted: Fitted, radius: float, seat: float) -> Margins:
    """Return how much room a board has beside it when its seat stands at a height.

    Args:
        params: the tray's keys.
        fitted: the board's fitted sizes.
        radius: outer radius of the chassis, mm.
        seat: height of the ledges over the axis, mm.
    """
    s = fitted.part.sizes
    half = fitted.width.total / 2 + params.wall
    top = seat + REST + s["thickness"].largest
    components = top + s["height_above"].largest
    floor = seat - fitted.below.total
    room = fitted.width if params.hold == "standoffs" else fitted.room_width
    above = s["width"].value / 2 - s["margin_above"].value + fitted.play
    return Margins(
        {
            "board's lower edge": reach_across(radius, seat) - half,
            "board's upper edge": reach_across(radius, top) - half,
            "room below": reach_across(radius, floor) - room.total / 2 - params.wall,
            "components": reach_across(radius - params.top_clearance, components) - above,
            "floor": radius + floor - params.floor,
        }
    )


def best_height(params: BoardTrayParams, fitted: Fitted, radius: float) -> float:
    """Return the height of the ledges at which the board has most room round it, mm.

    Args:
        params: the tray's keys.
        fitted: the board's fitted sizes.
        radius: outer radius of the chassis, mm.
    """
    count = math.ceil(2 * radius / HEIGHT_STEP)
    heights = [-radius + i * HEIGHT_STEP for i in range(count + 1)]
    return max(heights, key=lambda h: (margins(params, fitted, radius, h).least, -h))


def seat_height(params: BoardTrayParams, ctx: SectionContext, fitted: Fitted) -> Dimension:
    """Return the height of the ledges over the axis: as asked, or where the board has most room.

    Args:
        params: the tray's keys.
        ctx: where it stands.
        fitted: the board's fitted sizes.
    """
    fitter, name, note = ctx.setting.fitter, f"{ctx.name}.seat_height", "ledges over the tube's axis"
    if params.board_height is None:
        best = best_height(params, fitted, ctx.radius)
        return fitter.chosen(name, best, note, "the height with most room round the board")
    terms = (
        Term("board height", params.board_height, "parameter file"),
        Term("rest", -REST, "gap between board and ledges in the model"),
    )
    return fitter.summed(name, terms, note)
