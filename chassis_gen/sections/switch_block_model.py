"""Parameters and plan of a switch block, and the parts that sit in it; see `switch_block` for origin and axes."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.params.quantities import Angle, NonNegativeLength, PositiveLength
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionParams, Setting
from chassis_gen.sections.features.screw_hole import ShapedHole
from chassis_gen.sections.switch_seat_model import SwitchSeat

SWITCH_KINDS = ("panel_button", "tactile_board")
CORNER_RELIEF = 0.5


class AuxSwitch(BaseModel):
    """Keys of a second switch."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    part: str = Field("tactile board", min_length=1, max_length=60, description="the second switch")
    offset: PositiveLength | None = Field(
        None, description="its axis from the first switch's axis, going in; left out: as near as it fits"
    )
    clock_deg: Angle | None = Field(None, description="clock angle of its axis; left out: the section's")
    at_opening: str | None = Field(
        None,
        max_length=60,
        description="tube opening that gives its offset and clock, where the section has one too",
    )
    actuator_recess: NonNegativeLength | None = Field(
        None,
        description="tactile board: actuator's top under the tube's outer face; left out: it still slides in",
    )
    slide_in: Literal["free", "pressed"] = Field("free", description="panel button: as for the first switch")


class SwitchBlockParams(SectionParams):
    """Keys of a switch block."""

    kind: Literal["switch_block"] = "switch_block"
    part: str = Field(
        "panel button 12 mm", min_length=1, max_length=60, description="panel button or tactile board"
    )
    plate_thickness: PositiveLength = Field(
        3.0, description="thickness under the button's head or under the board"
    )
    wire_room: PositiveLength = Field(4.0, description="room under the lugs or pins for the wires to bend")
    spine: PositiveLength = Field(
        8.0, description="material left opposite the switch, less where there is no room"
    )
    end_wall: PositiveLength = Field(3.2, description="thickness of each end wall")
    actuator_recess: NonNegativeLength | None = Field(
        None,
        description="tactile board: actuator's top under the tube's outer face; left out: it still slides in",
    )
    slide_in: Literal["free", "pressed"] = Field(
        "free", description="panel button: clears the bore released, or only while held down"
    )
    aux: AuxSwitch | None = Field(None, description="a second switch further in")
    carrier: bool = Field(False, description="the first switch sits on a piece of its own, wired outside")
    carrier_thread: str = Field(
        "M3", min_length=1, max_length=20, description="thread of the carrier's two screws"
    )
    carrier_hole: Literal["tapped", "thread_forming", "insert"] = Field(
        "thread_forming", description="kind of hole that holds the carrier's screws"
    )


class Carrier(Struct, frozen=True):
    """A planned carrier: its sums, the ways and holes of its two screws and where it stands (stations, mm)."""

    bay_length: Dimension
    length: Dimension
    ledge_height: float
    z0: float
    z1: float
    holes: tuple[ShapedHole, ...]

    @property
    def middle(self) -> float:
        """Return the station of its middle, mm."""
        return (self.z0 + self.z1) / 2


class SwitchBlockPlan(Struct, frozen=True):
    """What a switch block decides: its length, its switches and its carrier."""

    length: Dimension
    end_wall: Dimension
    main: SwitchSeat
    aux: SwitchSeat | None
    carrier: Carrier | None

    @property
    def seats(self) -> tuple[SwitchSeat, ...]:
        """Return the one or two switches."""
        return (self.main, *((self.aux,) if self.aux else ()))


def switch_of(name: str, setting: Setting) -> Part:
    """Return a switch by its part's name.

    Raises:
        InputError: the part is unknown or no switch.
    """
    part = setting.find_part(name)
    if part.kind not in SWITCH_KINDS:
        allowed = "a part of kind panel_button or tactile_board"
        message = f"a {part.kind} can't sit in a switch block"
        raise InputError([Problem("wrong-part-kind", message, value=f'"{name}"', allowed=allowed)])
    return part
