"""Parameters and plan of a display window, and its screen; see `display_window` for origin and axes."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.params.quantities import PositiveLength
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionParams, Setting
from chassis_gen.sections.features.part_choice import part_of_kind
from chassis_gen.sections.features.screw_hole import ShapedHole

SEAT_FIT = "slide"
COVER = 0.3
"""How far everything stays under the chassis's outer surface, mm (chosen)."""
LEDGE = 1.5
"""Width of the ledges beside the board that the bezel rests on, mm (chosen)."""


class DisplayWindowParams(SectionParams):
    """Keys of a display window."""

    kind: Literal["display_window"] = "display_window"
    part: str = Field("display 12 mm", min_length=1, max_length=60, description="the screen board")
    bezel: bool = Field(True, description="a bezel with two screws holds the board; without it glue or tape")
    bezel_edge: PositiveLength = Field(1.0, description="thickness of the bezel at its long sides")
    bezel_thread: str = Field(
        "M2", min_length=1, max_length=20, description="thread of the bezel's screws, formed in the plastic"
    )
    turned: bool = Field(False, description="joints toward the far end instead of the near end")
    cable_slot: PositiveLength = Field(3.0, description="depth of the slot under the joints for their wires")
    end_wall: PositiveLength = Field(2.4, description="thickness of each end wall")


class Bezel(Struct, frozen=True):
    """The bezel, mm.

    Args:
        bay_length: of the bay that takes it, along the axis.
        length: of the bezel.
        bay_width: of the bay, across.
        width: of the bezel.
        under: its underside's height over the axis.
        screws: ways through the bezel, then the holes that hold the screws.
    """

    bay_length: Dimension
    length: Dimension
    bay_width: Dimension
    width: Dimension
    under: float
    screws: tuple[ShapedHole, ...]


class DisplayWindowPlan(Struct, frozen=True):
    """What a display window decides; heights over the axis toward the section's top, mm.

    Args:
        length: of the section.
        seat_width: of the pocket, across.
        seat_length: of the pocket, along.
        seat_height: of the board's underside.
        relief: depth of the pocket under the board's middle.
        relief_margin: ledge that bears the board's edge.
        slot: of the cable slot: where it begins and ends along the board from its middle, and its depth.
        view: picture's width, length and how far its middle lies from the section's middle.
        turned: True when the joints lie toward the far end.
        bezel: or None.
    """

    length: Dimension
    seat_width: Dimension
    seat_length: Dimension
    seat_height: float
    relief: float
    relief_margin: float
    slot: tuple[float, float, float]
    view: tuple[float, float, float]
    turned: bool
    bezel: Bezel | None


def screen_of(params: DisplayWindowParams, setting: Setting) -> Part:
    """Return the screen.

    Raises:
        InputError: the part is unknown or no screen.
    """
    return part_of_kind(setting, params.part, ("display_board",), "screen", "a display_board")
