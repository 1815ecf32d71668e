"""Parameters and plan of a port bay, and the part that it holds; see `port_bay` for origin and axes."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.findings import Remedy
from chassis_gen.params.quantities import NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionParams, Setting
from chassis_gen.sections.features.cut_off_plug import CutOffPlug
from chassis_gen.sections.features.part_choice import part_of_kind
from chassis_gen.sections.features.screw_hole import ShapedHole
from chassis_gen.shapes.frame import Frame

PORT_KINDS = ("charge_jack", "port_board")
SEAT_FIT = "slide"
COVER = 0.3
"""How far everything stays under the chassis's outer surface or under a face, mm (chosen)."""
GRIP_ROOM = 1.0
"""Room round a plug's grip in its recess, mm on the diameter: common practice, no source."""
NUT_ROOM = 1.0
"""Room round a jack's nut for fingers or a thin key, mm per side: common practice, no source."""
REST = 1.5
"""Width of the ledge that a carrier rests on, mm: common practice, no source."""
CORNER_RELIEF = 0.5
"""Depth and width of the undercut along a bay's ends, mm: common practice, no source."""
ROUND_WALL = 0.5
"""How much deeper a hole goes into a round bay, whose wall falls away beside the hole's axis, mm."""
DIMPLE_DEPTH = 0.8
"""Depth of the dimple under a set screw's point, four layers, mm (chosen)."""
CARRIER_WALL = 1.6
"""Wall of a carrier, mm (chosen)."""
LEAST_GROOVE = 0.6
"""How far a board's edge must reach into its groove, mm: common practice, no source."""
OPEN_LEVEL = 0.3
"""How far over the axis the walls of a room that is open to the top end, in chassis radii (chosen)."""
SOURCE = "parameter file or its default"


class PortBayParams(SectionParams):
    """Keys of a port bay."""

    kind: Literal["port_bay"] = "port_bay"
    part: str = Field(
        "charge jack", min_length=1, max_length=60, description="round panel jack or connector on a board"
    )
    mount: Literal["radial", "axial"] = Field(
        "radial", description="through the tube's wall, or out of an end of the chassis"
    )
    facing: Literal["near", "far"] = Field("near", description="axial: out of which end of the chassis")
    carrier: bool | None = Field(
        None, description="the port sits on a piece of its own; left out: a board does, a jack doesn't"
    )
    carrier_hole: Literal["tapped", "insert", "set_screw"] = Field(
        "tapped", description="what holds the carrier's screw"
    )
    carrier_thread: str = Field("M3", min_length=1, max_length=20, description="thread of that screw")
    plate: PositiveLength | None = Field(
        None, description="thickness under the jack's flange; left out: 3 mm, or what a carrier's screw needs"
    )
    recess: NonNegativeLength | None = Field(
        None,
        description="axial: from the end face to the jack's mouth; left out: what the cut-off plug's head needs",
    )
    cap_room: NonNegativeLength = Field(
        0.0, description="axial: free depth inside the end cap or next tube segment over the end face"
    )
    wire_diameter: Annotated[float, quantity("mm", 0.4, 4)] = Field(
        1.8, description="insulated wire that bends behind the port"
    )
    cut_off_plug: bool | None = Field(
        None, description="plug that opens the jack's contact; left out: where the jack's mouth is known"
    )
    plug_reach: PositiveLength | None = Field(
        None, description="how deep the cut-off plug goes into the jack; left out: nearly all the way"
    )
    end_wall: Annotated[float, quantity("mm", 1.2, 30)] = Field(3.2, description="thickness of each end wall")

    def roomier(self) -> tuple[Remedy, ...]:
        """Return a carrier, whose room has walls to both sides, and the port at an end of the chassis."""
        carrier = () if self.carrier else (Remedy("carrier", True, f'"{self.name}" on a carrier'),)
        end = () if self.mount == "axial" else (Remedy("mount", "axial", f'"{self.name}" at an end'),)
        return (*carrier, *end, *super().roomier())


class Block(Struct, frozen=True):
    """A carrier's cross-section in the mouth's frame, mm: round where `radius` is given, else a rectangle."""

    half_x: float
    low_y: float
    high_y: float
    radius: float | None = None


class PortBayPlan(Struct, frozen=True):
    """What a port bay decides, mm.

    Args:
        length: of the section.
        seat: hole for the jack's body, or the groove between a board's edges.
        seat_length: along a board, or None.
        groove: height of a board's groove, or None.
        wire_room: along the mouth's axis behind plate or carrier.
        end_wall: thickness.
        bay: size of the bay that takes the carrier, across, or None.
        bay_length: of a radial bay, along the tube, or None.
        carrier_size: of the carrier in its bay, across, or None.
        carrier_length: of a radial carrier, along the tube, or None.
        frame: the mouth's frame in tube coordinates.
        depth: from z = 0 to the back of plate or carrier.
        front: from z = 0 to the end face (axial) or beyond the surface (radial).
        recess_radius: round a jack's flange and a plug's grip.
        block: the carrier's cross-section as printed, or None.
        well: the bay's cross-section, or None.
        room: half widths of the room behind: across, and along a radial port's tube.
        board_level: a board's underside in the mouth's frame.
        holes: the carrier's screw, first in the chassis, then in the carrier.
        plug: the cut-off plug, or None.
    """

    length: Dimension
    seat: Dimension
    seat_length: Dimension | None
    groove: Dimension | None
    wire_room: Dimension
    end_wall: Dimension
    bay: Dimension | None
    bay_length: Dimension | None
    carrier_size: Dimension | None
    carrier_length: Dimension | None
    frame: Frame
    depth: float
    front: float
    recess_radius: float
    block: Block | None
    well: Block | None
    room: tuple[float, float]
    board_level: float
    holes: tuple[ShapedHole, ...]
    plug: CutOffPlug | None


def port_part(params: PortBayParams, setting: Setting) -> Part:
    """Return the jack or board that the section holds.

    Raises:
        InputError: the part is unknown or no port.
    """
    allowed = f"a part of kind {' or '.join(PORT_KINDS)}"
    return part_of_kind(setting, params.part, PORT_KINDS, "port", allowed)


def has_carrier(params: PortBayParams, part: Part) -> bool:
    """Return whether the port sits on a piece of its own: a board always does, a jack where it is asked."""
    return part.kind == "port_board" or bool(params.carrier)


def level_of(d: PortBayPlan) -> float:
    """Return the height of a radial port's z = 0 over the tube's axis, mm."""
    o, z = d.frame.origin, d.frame.z_axis
    return o[0] * z[0] + o[1] * z[1]
