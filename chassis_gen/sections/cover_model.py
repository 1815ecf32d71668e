"""Parameters and plan of a cover, and what its screws are; see `cover` for origin and axes."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.params.quantities import PositiveLength, quantity
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionParams
from chassis_gen.sections.features.lid import Lid
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

LID_FIT = "slide"
UNDER_SURFACE = 0.3
"""How far a screw's head or end stays under the outer surface, mm (chosen)."""
PRY_LENGTH = 1.2
PRY_UNDER = 0.5
PRY_DEPTH = 0.8
"""Slot for a blade: before the lid's end, under it, and how deep, mm: common practice, no source."""


class CoverParams(SectionParams):
    """Keys of a cover."""

    kind: Literal["cover"] = "cover"
    hold: Literal["hook", "set_screw", "screws"] = Field(
        "hook",
        description="hook and a screw at the other end, hook and a set screw as a pin, or screws at both ends",
    )
    hook_end: Literal["near", "far"] = Field("near", description="end at which the lid hooks in")
    screw: Literal["thread_forming", "tapped", "insert"] = Field(
        "thread_forming", description="what holds the screws; a set screw's thread is tapped or an insert's"
    )
    thread: str | None = Field(
        None, min_length=1, max_length=20, description="of the screws; left out: M2, M3 for a set screw"
    )
    screws_per_end: int = Field(1, ge=1, le=2, description="screws at each end that has any")
    screw_offset_deg: Annotated[float, quantity("deg", -60, 60)] = Field(
        0.0, description="how far a screw stands from the lid's middle; a pair stands at both sides"
    )
    arc_deg: Annotated[float, quantity("deg", 20, 130)] = Field(
        90.0, description="how far round the chassis the lid reaches"
    )
    length: PositiveLength | None = Field(
        None,
        description="along the axis, its lips included; left out: as long as the section it stands beside",
    )
    thickness: PositiveLength | None = Field(
        None, description="of the lid; left out: what the screw's head or the hook needs"
    )
    lip: Annotated[float, quantity("mm", 0.8, 30)] = Field(
        1.6, description="what is left of the chassis between the lid and the section's end"
    )
    rest: Annotated[float, quantity("mm", 1, 30)] = Field(
        1.5, description="how far the lid's ends rest on the chassis"
    )
    hook_reach: Annotated[float, quantity("mm", 0.6, 5)] = Field(
        1.0, description="how far the hook reaches under the chassis"
    )
    pry_slot: bool = Field(True, description="a slot for a fingernail or blade at the lid's free end")
    frame: bool = Field(
        False, description="bring a frame for the lid to lie on, where the other section is hollow"
    )
    gives_access_to: tuple[Annotated[str, Field(min_length=1, max_length=120)], ...] = Field(
        (), max_length=16, description="what is reached with the lid off: keep-outs and terminals of parts"
    )


class CoverPlan(Struct, frozen=True):
    """What a cover decides, mm.

    Args:
        length: of the section.
        thickness: of the lid at the least outer radius.
        lid_inside_diameter: of the lid's underside.
        seat_diameter: of what the lid lies on.
        rebate_width: of the rebate, across.
        lid_width: of the lid.
        rebate_length: of the rebate, along the axis.
        lid_length: of the lid, its hook left out.
        lip: at the end of the screw, or at both ends.
        hook_lip: before the lid at the hook's end, or None.
        hook_height: thickness of the hook, or None.
        hook_slot_height: of the slot it goes into, or None.
        lid: the lid's places.
        gives_access_to: what it gives access to.
    """

    length: Dimension
    thickness: Dimension
    lid_inside_diameter: Dimension
    seat_diameter: Dimension
    rebate_width: Dimension
    lid_width: Dimension
    rebate_length: Dimension
    lid_length: Dimension
    lip: Dimension
    hook_lip: Dimension | None
    hook_height: Dimension | None
    hook_slot_height: Dimension | None
    lid: Lid
    gives_access_to: tuple[str, ...]


def hooked(params: CoverParams) -> bool:
    """Return whether the lid hooks in at one end."""
    return params.hold != "screws"


def thread_of(params: CoverParams) -> str:
    """Return the thread of the screws."""
    return params.thread or ("M3" if params.hold == "set_screw" else "M2")


def screw_spec(params: CoverParams) -> HoleSpec:
    """Return what the tables say of the hole that holds a screw.

    Raises:
        InputError: the thread is unknown, or has no such hole.
    """
    kind = "set_screw" if params.hold == "set_screw" and params.screw != "insert" else params.screw
    return hole_for(kind, find_thread(thread_of(params)))
