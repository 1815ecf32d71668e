"""Parameters and plan of a speaker cup, and the part that it seats; see `speaker_cup` for origin and axes."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.params.quantities import Angle, quantity
from chassis_gen.parts.catalogue import catalogue
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import Setting
from chassis_gen.sections.features.screw_hole import ShapedHole
from chassis_gen.sections.resonance_cap import CapParams, CapPlan, Facing, Thin
from chassis_gen.shapes.frame import Frame

LEAST_LEDGE = 0.5
CONE_ROOM = 0.3
LEAD_ROOM = 0.5
LEAST_BOSS = 0.2
WAY_OUT_LIMIT_DEG = 90.0
"""Chosen: what a rim rests on, room beside a cone and behind a basket, the lowest boss, widest way out."""


class SpeakerCupParams(CapParams):
    """Keys of a speaker cup."""

    kind: Literal["speaker_cup"] = "speaker_cup"
    part: str = Field(min_length=1, max_length=80, description="the speaker")
    facing: Literal["near", "far"] | None = Field(
        None, description="end that the speaker looks to; by default the open end of the chassis, else near"
    )
    bearing: bool = Field(
        True,
        description="bear on the bore over the section's whole length: cap and cup have no wall to spare",
    )
    rim_fit: Literal["press", "snug", "slide"] = Field("snug", description="fit class of the rim in its seat")
    cup_wall: Thin = Field(1.2, description="least wall of the cup round the rim, as printed")
    back_depth: Annotated[float, quantity("mm", 0.5, 300)] = Field(
        6.0, description="free depth of the closed back volume behind the magnet"
    )
    end_wall: Thin = Field(2.4, description="bulkhead behind the back volume")
    lead_in_deg: Angle = Field(0.0, description="clock of the wires' way out, counted from the section's top")
    lead_in_width: Annotated[float, quantity("mm", 1, 8)] = Field(
        2.6, description="room along the axis for the wires' way out"
    )


class CupStations(Struct, frozen=True):
    """Where things stand, s in mm from the open end.

    Args:
        cup_face: where the cup's own body begins.
        rim_front: the rim's front plane.
        ledge: what the rim rests on.
        shoulder: from here the cup has the chassis's outer surface.
        cap_end: where the cap ends, or 0.
        lead_in: the plane of the wires' way out.
        back: the back volume's end.
        end: the section's other end.
    """

    cup_face: float
    rim_front: float
    ledge: float
    shoulder: float
    cap_end: float
    lead_in: float
    back: float
    end: float


class Boss(Struct, frozen=True):
    """A block in the back volume that a cap screw bites in.

    Args:
        frame: its +z points outward, its origin lies on the tube's axis.
        half: half its width, mm.
        inner: distance of its inner face from the axis, mm.
        outer: where it ends in the wall, mm.
    """

    frame: Frame
    half: float
    inner: float
    outer: float


class SpeakerCupPlan(Struct, frozen=True):
    """What a speaker cup decides."""

    length: Dimension
    rim_seat_diameter: Dimension
    rim_seat_depth: Dimension
    bore_diameter: Dimension
    end_wall: Dimension
    radial_sum: Dimension
    cup_wall: Dimension
    cup_outer_diameter: Dimension | None
    cap_bore_diameter: Dimension | None
    spigot_diameter: Dimension | None
    chamber_diameter: Dimension | None
    port_diameter: Dimension | None
    cap_screw_diameter: Dimension | None
    facing: Facing
    at: CupStations
    cap: CapPlan | None
    bosses: tuple[Boss, ...]
    screws: tuple[ShapedHole, ...]


def speaker_of(params: SpeakerCupParams, setting: Setting) -> Part:
    """Return the speaker that the cup seats.

    Raises:
        InputError: the part is unknown or no speaker.
    """
    part = setting.find_part(params.part)
    if part.kind != "speaker":
        known = ", ".join(f'"{p.name}"' for p in speakers())
        message = f"{params.name} seats a speaker, this part is a {part.kind.replace('_', ' ')}"
        raise InputError([Problem("not-allowed", message, key="part", value=f'"{part.name}"', allowed=known)])
    return part


def speakers() -> tuple[Part, ...]:
    """Return the generic speakers, the largest rim first."""
    found = (p for p in catalogue().values() if p.kind == "speaker")
    return tuple(sorted(found, key=lambda p: -p.size("rim_diameter")))
