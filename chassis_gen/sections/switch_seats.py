"""How one switch sits in a chassis: a panel button in a bore, or a tactile switch board on ledges.

Both work in a *site*: a place on the tube's surface given by station and clock. Heights are counted from
the tube's axis toward the site's clock, across means the way clock angles grow.

    panel button                    tactile board
    __            __  surface       __   | |   __  surface
      |__________|    head          |  |_____|  |  components
      |___    ___|    plate         |__|_____|__|  board on its ledges
          |  |        nut, body        |     |     pins
    ~~~~~~~~~~~~~~~   room, open to both sides
    ==============    spine
"""

from __future__ import annotations

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.sections.switch_button_seat import plan_button
from chassis_gen.sections.switch_seat_model import Site, SwitchSeat, Wishes
from chassis_gen.sections.switch_tactile_seat import plan_tactile


def plan_seat(part: Part, fitter: Fitter, site: Site, wishes: Wishes) -> SwitchSeat:
    """Return how a switch sits at its site.

    Args:
        part: a panel button or a tactile board.
        fitter: makes labelled sums.
        site: where it stands.
        wishes: what the maker asks.
    """
    if part.kind == "panel_button":
        return plan_button(part, fitter, site, wishes)
    return plan_tactile(part, fitter, site, wishes)
