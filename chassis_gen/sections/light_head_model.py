"""Parameters and plan of a light head, its part and its sums; see `light_head` for origin and axes."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.params.quantities import Angle, NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import ScrewHole
from chassis_gen.plan.sums import CHOSEN, PART_SIZE, Dimension, Term
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionParams, Setting
from chassis_gen.shapes.frame import Frame, reversed_axis, topped

Light = Literal["contact_board", "led_slug", "led_round"]

SEAT_FIT = "slide"
LEAD_FIT = "free"
USUAL_PARTS: dict[str, str] = {
    "contact_board": "contact board",
    "led_slug": "led slug 20 mm",
    "led_round": "led 5 mm",
}
PRESS_SHARE = 0.6
"""Share of the pins' travel by which the light tube presses them: common practice, no source."""
LEAST_LEDGE = 1.0
"""Least width of a ledge that bears a part or a light tube, mm: common practice, no source."""
PIN_MARGIN = 1.0
"""Room round the pins' solder joints, mm: common practice, no source."""
LEAD_STUB = 2.0
"""Bare lead that a joint needs in the wire room, and room kept beyond it, mm: common practice, no source."""
OPEN_LEVEL = 0.3
"""How far over the axis the wire room's walls end, in chassis radii."""
SOURCE = "parameter file or its default"
PROUD_END = 1.0
"""How far cuts in the end face begin outside it, mm."""
SEATED_SIZE = {"contact_board": "diameter", "led_slug": "slug_diameter", "led_round": "flange_diameter"}
"""The size of each kind of part that its seat locates."""


class LightHeadParams(SectionParams):
    """Keys of a light head."""

    kind: Literal["light_head"] = "light_head"
    light: Light = Field(
        "contact_board", description="contact board for a light tube, LED on a slug, or round LED"
    )
    part: str | None = Field(
        None, description="the part, by its catalogue name; default the usual one of its kind"
    )
    facing: Literal["far", "near"] = Field(
        "far", description="toward which end of the chassis the light shines"
    )
    carrier: bool = Field(False, description="seat on a piece of its own, held by two screws, wired outside")
    carrier_thread: str = Field(
        "M2.5", description="thread of the carrier's two screws, which form it in the plastic"
    )
    tube_diameter: PositiveLength | None = Field(
        None,
        description="outside diameter of the light tube; default the smallest that stands on its shoulder",
    )
    insertion_depth: PositiveLength = Field(12.0, description="how deep the light tube goes into its socket")
    pin_press: PositiveLength | None = Field(
        None, description="how far the light tube presses the pins; default 0.6 of their travel"
    )
    locking_screw: bool | None = Field(
        None,
        description="set screw on the light tube; default where the socket's wall holds enough of its thread",
    )
    lock_thread: str = Field("M3", description="thread of the locking screw")
    lock_clock_deg: Angle | None = Field(
        None, description="clock angle of the locking screw; default the top"
    )
    proud: Annotated[float, quantity("mm", 0.05, 0.5)] = Field(
        0.15,
        description="how far a slug's front stands out of the end face, so that the metal tube touches it",
    )
    recess: NonNegativeLength = Field(0.0, description="how far a round LED's top stays behind the end face")
    lead_hole_diameter: PositiveLength = Field(2.4, description="hole for a slug's wire")
    ledge: PositiveLength = Field(2.0, description="thickness of the ledge behind the part")
    ledge_width: PositiveLength = Field(2.0, description="how far the ledge reaches in under the part's rim")
    wire_room: PositiveLength = Field(10.0, description="length of the room for joints and wires")
    room_wall: PositiveLength = Field(3.2, description="wall round the wire room")
    end_wall: Annotated[float, quantity("mm", 1.2, 30)] = Field(2.4, description="wall toward the neighbour")


class Passage(Struct, frozen=True):
    """A round way for wires through the ledge: centre, radius and where it begins, mm from the light end."""

    x: float
    y: float
    radius: float
    begins: float


class LightHeadPlan(Struct, frozen=True):
    """What a light head decides, mm.

    Args:
        length: of the section.
        seat_diameter: bore that locates the part.
        seat_depth: from the light end to the part's back.
        ledge: thickness.
        wire_room: along the axis.
        end_wall: thickness toward the neighbour.
        socket_diameter: bore for the light tube, or None.
        socket_depth: of that bore, or None.
        lead_hole_diameter: hole for an LED's lead or a slug's wire, or None.
        passages: ways for wires through the ledge.
        room_radius: of the wire room's round walls.
        open_level: how far over the axis those walls end.
        facing: toward which end the light shines.
        carrier: name of the carrier piece, or None.
        bosses: radius of the carrier's screw bosses and the distance of their axes from the tube's, or None.
        cutting: holes cut into the seat's piece.
        forming: holes cut into the chassis for the carrier.
    """

    length: Dimension
    seat_diameter: Dimension
    seat_depth: Dimension
    ledge: Dimension
    wire_room: Dimension
    end_wall: Dimension
    socket_diameter: Dimension | None
    socket_depth: Dimension | None
    lead_hole_diameter: Dimension | None
    passages: tuple[Passage, ...]
    room_radius: float
    open_level: float
    facing: str
    carrier: str | None
    bosses: tuple[float, float] | None
    cutting: tuple[ScrewHole, ...]
    forming: tuple[ScrewHole, ...]

    @property
    def seat_radius(self) -> float:
        """Return the largest radius that the part or the light tube takes, mm."""
        wide = max(self.seat_diameter.total, self.socket_diameter.total if self.socket_diameter else 0.0) / 2
        return max([wide, *(math.hypot(p.x, p.y) + p.radius for p in self.passages if p.begins <= 0.0)])

    @property
    def room_starts(self) -> float:
        """Return where the wire room begins, mm from the light end."""
        return self.seat_depth.total + self.ledge.total

    @property
    def room_ends(self) -> float:
        """Return where the wire room ends, mm from the light end."""
        return self.room_starts + self.wire_room.total


def light_part(params: LightHeadParams, setting: Setting) -> Part:
    """Return the part that the light needs.

    Raises:
        InputError: the part is unknown or of another kind.
    """
    part = setting.find_part(params.part or USUAL_PARTS[params.light])
    if part.kind != params.light:
        text = f'light = "{params.light}" takes another kind of part, not a {part.kind.replace("_", " ")}'
        known = f'a {params.light.replace("_", " ")}, such as "{USUAL_PARTS[params.light]}"'
        raise InputError([Problem("not-allowed", text, key="part", value=f'"{part.name}"', allowed=known)])
    return part


def pin_press(params: LightHeadParams, part: Part) -> float:
    """Return how far the light tube presses the pins, mm."""
    return params.pin_press if params.pin_press is not None else PRESS_SHARE * part.size("pin_travel")


def _size_term(part: Part, size: str) -> Term:
    m = part.sizes[size]
    return Term(PART_SIZE, m.value, f"{part.name}, {size.replace('_', ' ')}: {m.source}", m.tolerance)


def seat_depth(name: str, params: LightHeadParams, part: Part, fitter: Fitter) -> Dimension:
    """Return how far behind the light end the part's back lies."""
    if params.light == "contact_board":
        press = pin_press(params, part)
        terms: tuple[Term, ...] = (
            Term(CHOSEN, params.insertion_depth, f"light tube in its socket: {SOURCE}"),
            _size_term(part, "pin_height"),
            Term("pin press", -press, f"the light tube presses the pins: {SOURCE}"),
            _size_term(part, "thickness"),
        )
    elif params.light == "led_slug":
        proud = Term("proud", -params.proud, f"front of the slug outside the end face: {SOURCE}")
        terms = (_size_term(part, "slug_thickness"), proud)
    else:
        terms = (_size_term(part, "length"), Term(CHOSEN, params.recess, f"behind the end face: {SOURCE}"))
    return fitter.summed(f"{name}.seat_depth", terms, "from the light end to the part's back")


def usual_tube(seat: Dimension, fitter: Fitter) -> float:
    """Return the smallest light tube, in whole mm, that the shoulder round the board's seat stops."""
    clearance = 2 * fitter.classes[SEAT_FIT].clearance
    return math.ceil(fitter.printer.inner.printed(seat.total + 2 * LEAST_LEDGE) - clearance)


def inward_frame(facing: str, ctx: SectionContext) -> Frame:
    """Return the frame on the light end, +z going into the chassis, +y to the section's top."""
    if facing == "far":
        return reversed_axis(topped(ctx.clock_deg, ctx.z1))
    return topped(ctx.clock_deg, ctx.z0)


def station_of(facing: str, ctx: SectionContext, inward: float) -> float:
    """Return the station of a point that lies so far behind the light end, mm."""
    return ctx.z1 - inward if facing == "far" else ctx.z0 + inward


def span_of(facing: str, ctx: SectionContext, a: float, b: float) -> tuple[float, float]:
    """Return the stations between two distances behind the light end, the smaller first."""
    z0, z1 = sorted((station_of(facing, ctx, a), station_of(facing, ctx, b)))
    return z0, z1
