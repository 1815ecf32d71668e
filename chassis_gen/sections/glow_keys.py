"""The keys of a glow chamber, what it decides, and the frames that both are seen in.

Origin and axes: the tube's. Each end is planned in a frame that stands on its face, +z going into the section,
+y to the section's top; the body goes in from the top.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.params.quantities import Angle, NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionParams, Setting
from chassis_gen.sections.features.part_choice import part_of_kind
from chassis_gen.shapes.frame import Frame, reversed_axis, topped
from chassis_gen.shapes.primitives import Hull

LED_KINDS = ("led_round", "led_slug")
LEAST_SHOULDER = 0.5
"""Least width of the ring on which the body's end stands round the LED, mm: common practice, no source."""
BODY_ROOM = 0.5
"""Room between the body's seat and the rear wall's face, mm (chosen)."""
SPINE = 8.0
"""Least width of a rear wall, mm: what the chassis keeps as its spine."""
SOURCE = "parameter file or its default"


class GlowChamberParams(SectionParams):
    """Keys of a glow chamber."""

    kind: Literal["glow_chamber"] = "glow_chamber"
    part: str = Field(
        "glow rod 12 mm",
        min_length=1,
        max_length=80,
        description="the translucent body: a rod, tube or prism, or an own part from a model",
    )
    along: Literal["y", "z"] = Field(
        "y", description="own part: its axis that lies along the tube; the other points to where it goes in"
    )
    led: str = Field(
        "led 5 mm", min_length=1, max_length=60, description="what lights it: a round LED or one on a slug"
    )
    lit: Literal["near", "far", "both"] = Field("near", description="end or ends with an LED")
    glue_fit: str = Field("free", description="fit class of the gap round the body and at its ends, for glue")
    light_gap: NonNegativeLength = Field(0.5, description="from the LED's top to the body's end")
    windows: Annotated[int, Field(ge=1, le=8)] | None = Field(
        None, description="how many windows; left out: up to 3, as long as the body goes in by one"
    )
    window_deg: Annotated[float, quantity("deg", 5, 350)] | None = Field(
        None, description="clock angle that each window takes; left out: what the pillars leave"
    )
    window_clocks_deg: tuple[Angle, ...] | None = Field(
        None,
        min_length=1,
        max_length=8,
        description="clock angles of the windows' middles; left out: evenly from the top",
    )
    pillar: Literal["flat", "tube", "fluted"] = Field(
        "flat", description="between windows: part of the frame, or a round wire tube, plain or fluted"
    )
    pillar_width: PositiveLength = Field(4.0, description="of a flat pillar, at the outer surface")
    wire_bore: Annotated[float, quantity("mm", 1, 8)] = Field(3.2, description="bore of a wire tube")
    tube_wall: PositiveLength = Field(1.2, description="wall of a wire tube, under its flutes")
    frame_wall: PositiveLength = Field(3.0, description="thickness of a flat pillar, inward from the outside")
    rear_wall: PositiveLength | None = Field(
        None, description="width of the wall behind the body that hides wires; left out: what fits"
    )
    lip: PositiveLength = Field(4.0, description="how much of each end of the body its seat hides")
    bulkhead: Annotated[float, quantity("mm", 1.2, 30)] = Field(3.2, description="wall toward each neighbour")
    ledge: PositiveLength = Field(2.4, description="thickness of the ledge behind the LED")
    wire_room: PositiveLength = Field(9.0, description="length of the room for an LED's joints")
    light_through: bool = Field(False, description="a hole in the unlit end's bulkhead lets light through")


class End(Struct, frozen=True):
    """One end of the chamber, mm from its own face.

    Args:
        facing: ``near`` or ``far``.
        lit: True with an LED.
        room_starts: where the wire room begins (lit).
        room_ends: where it ends.
        ledge_ends: where the LED's back lies.
        body_starts: where the room for the body begins.
        led_id: id of its LED (lit).
        prefix: before its terminals' names.
    """

    facing: str
    lit: bool
    room_starts: float
    room_ends: float
    ledge_ends: float
    body_starts: float
    led_id: str = ""
    prefix: str = ""


class Pillar(Struct, frozen=True):
    """Material between two windows.

    Args:
        clock: of its middle, degrees.
        half: half the angle that it takes at the outer surface, degrees.
    """

    clock: float
    half: float


class WireTube(Struct, frozen=True):
    """What the round pillars are, mm: bore, radius of the outside, radius on which their axes stand."""

    bore: Dimension
    radius: float
    distance: float
    fluted: bool


class BodySeat(Struct, frozen=True):
    """What the body takes across, mm.

    Args:
        across: diameter of the troughs that hold its ends, or their width for a body of its own form.
        height: of the seats of a body of its own form, from below to above; None for round troughs.
        half: half of what it needs between the pillars to go in.
        reach: how far its seat reaches from the axis.
        low: how far its seat reaches toward the rear wall.
        stands: radius round the axis that its near and its far end surely cover where the seat holds them.
        steady: True where its ends are flat, so that its play along the axis is known.
    """

    across: Dimension
    height: Dimension | None
    half: float
    reach: float
    low: float
    stands: tuple[float, float]
    steady: bool


class GlowChamberPlan(Struct, frozen=True):
    """What a glow chamber decides, mm and degrees.

    Args:
        length: of the section.
        seat: for the body, across.
        lips: voids in both ends for a body of its own form; empty where the troughs are round.
        body_room: between the faces at the body's ends.
        led_seat_diameter: bore for the LED's flange or slug.
        led_seat_depth: from the body's end to the LED's back.
        lead_hole_diameter: for one lead, or for a slug's wires.
        lip: length of a trough.
        through_diameter: of the hole that lets light into the neighbour, or None.
        ends: both ends, near first.
        pillars: between the windows.
        windows: middle clock and half angle of each, degrees.
        tube: what round pillars are, or None for flat ones.
        entry_clock: clock at which the body goes in.
        hollow_radius: of the chamber round the body.
        rear_level: distance of the rear wall's face from the axis.
        rear_wall: its width.
        room_radius: of the wire rooms.
    """

    length: Dimension
    seat: BodySeat
    lips: tuple[Hull, ...]
    body_room: Dimension
    led_seat_diameter: Dimension
    led_seat_depth: Dimension
    lead_hole_diameter: Dimension
    lip: Dimension
    through_diameter: Dimension | None
    ends: tuple[End, End]
    pillars: tuple[Pillar, ...]
    windows: tuple[tuple[float, float], ...]
    tube: WireTube | None
    entry_clock: float
    hollow_radius: float
    rear_level: float
    rear_wall: float
    room_radius: float


def lit_facings(params: GlowChamberParams) -> tuple[str, ...]:
    """Return the ends that have an LED, near first."""
    return ("near", "far") if params.lit == "both" else (params.lit,)


def lit_ends(d: GlowChamberPlan) -> tuple[End, ...]:
    """Return the ends that have an LED, near first."""
    return tuple(e for e in d.ends if e.lit)


def turn_from(clock: float, start: float) -> float:
    """Return the angle from one clock to another, degrees from -180 up to 180."""
    return (clock - start + 180.0) % 360.0 - 180.0


def inward_frame(end: End, ctx: SectionContext, clock: float | None = None) -> Frame:
    """Return the frame on an end's face, +z going into the section, +y to a clock (default the top)."""
    top = ctx.clock_deg if clock is None else clock
    return topped(top, ctx.z0) if end.facing == "near" else reversed_axis(topped(top, ctx.z1))


def body_span(d: GlowChamberPlan, ctx: SectionContext) -> tuple[float, float]:
    """Return the stations between which the body lies."""
    near, far = d.ends
    return ctx.z0 + near.body_starts, ctx.z1 - far.body_starts


def window_span(d: GlowChamberPlan, ctx: SectionContext) -> tuple[float, float]:
    """Return the stations between which the windows lie."""
    a, b = body_span(d, ctx)
    return a + d.lip.total, b - d.lip.total


def checked_part(name: str, kinds: tuple[str, ...], key: str, what: str, setting: Setting) -> Part:
    """Return a part of one of some kinds.

    Args:
        name: the part's.
        kinds: what it may be.
        key: of the parameter file that names it.
        what: it is to be, in words.
        setting: knows the parts.

    Raises:
        InputError: it is unknown or of another kind.
    """
    return part_of_kind(setting, name, kinds, what, f"a part of kind {' or '.join(kinds)}", key)
