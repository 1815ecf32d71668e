"""The model of [[rod]]: threaded rods through a run of sections."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from chassis_gen.params.quantities import Angle, PositiveLength
from chassis_gen.params.reading import FileModel

Anchor = Literal["captive_nut", "insert", "tapped", "through_nut"]


class RodTable(FileModel):
    """[[rod]]: two to four threaded rods through chosen sections, all alike."""

    name: Annotated[str, Field(min_length=1, max_length=40)] = Field(
        "rods", description="for messages and lists"
    )
    thread: str = Field("M3", min_length=1, max_length=20, description="thread of the rods")
    clocks_deg: tuple[Angle, ...] = Field(min_length=2, max_length=4, description="clock angle of each rod")
    circle_diameter: PositiveLength = Field(
        description="circle through the rods' axes, about the tube's axis"
    )
    start: str | None = Field(
        None, alias="from", description="first section that they go through; left out: the first of the build"
    )
    end: str | None = Field(
        None, alias="to", description="last section that they go through; left out: the deepest"
    )
    near_end: Anchor = Field("through_nut", description="what holds the rods at their near end")
    far_end: Anchor = Field("through_nut", description="what holds the rods at their far end")
    washers: bool = Field(True, description="a washer under each through nut")
