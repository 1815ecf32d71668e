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

`Site` says where a switch stands, `Wishes` what the maker asks of it, `SwitchSeat` how it sits there.
"""

from __future__ import annotations

import math
from typing import Literal

from msgspec import Struct

from chassis_gen.findings import Finding
from chassis_gen.plan.model import Fit, PlacedPart, PlacedTerminal
from chassis_gen.plan.sums import Dimension
from chassis_gen.shapes.frame import Frame, radial
from chassis_gen.shapes.recipe import Step

COVER = 0.2
"""How far everything stays under the chassis's outer surface while it slides in, mm."""
LEAST_SPINE = 3.0


class Wishes(Struct, frozen=True):
    """What the maker asks of one switch.

    Args:
        plate_thickness: under the head or the board, mm.
        wire_room: under the lugs or pins, mm.
        spine: wanted thickness of the spine, mm.
        actuator_recess: tactile board: actuator's top under the tube's outer face, mm; None for the highest
            place that still slides in.
        slide_in: panel button: ``free`` keeps the released actuator under the bore, ``pressed``
            the head alone.
    """

    plate_thickness: float
    wire_room: float
    spine: float
    actuator_recess: float | None
    slide_in: Literal["free", "pressed"]


class Site(Struct, frozen=True):
    """Where a switch stands.

    Args:
        id: id of the placed part, and stem of the dimension names.
        section: owner.
        piece: piece that seats it.
        clock_deg: clock of the switch's axis.
        station: station of the switch's axis, mm.
        radius: outer radius of the chassis, mm.
        largest_radius: largest outer radius nearby, mm, for cutters that open to the outside.
        tube_outer_radius: mm.
        bore_radius: mm.
    """

    id: str
    section: str
    piece: str
    clock_deg: float
    station: float
    radius: float
    largest_radius: float
    tube_outer_radius: float
    bore_radius: float

    def frame(self, height: float) -> Frame:
        """Return the frame at a height on the switch's axis: +z outward, +y along the tube."""
        return radial(self.clock_deg, self.station, height)


class SwitchSeat(Struct, frozen=True):
    """A planned switch; the `Dimension` fields are its labelled sums.

    Args:
        part: the switch in its seat.
        seat_height: head's or board's underside over the axis.
        plate_thickness: material under it.
        room_width: the open room under the plate, along the axis.
        spine: material left under the room.
        opening_width: recess or pocket in the outer surface, across.
        opening_length: the same along the axis.
        bore_diameter: panel button only.
        bore_flat_width: panel button only: from the flat to the far side of the bore.
        window_width: tactile board only: between its ledges, across.
        window_length: tactile board only.
        cutters: what to cut above the room.
        fits: fits.
        terminals: where wires end.
        findings: what doesn't work.
        top: highest point of the switch, mm from the axis.
    """

    part: PlacedPart
    seat_height: Dimension
    plate_thickness: Dimension
    room_width: Dimension
    spine: Dimension
    opening_width: Dimension
    opening_length: Dimension
    bore_diameter: Dimension | None
    bore_flat_width: Dimension | None
    window_width: Dimension | None
    window_length: Dimension | None
    cutters: tuple[Step, ...]
    fits: tuple[Fit, ...]
    terminals: tuple[PlacedTerminal, ...]
    findings: tuple[Finding, ...]
    top: float

    @property
    def plate_under(self) -> float:
        """Return the height of the plate's underside over the axis, mm."""
        return self.seat_height.total - self.plate_thickness.total

    @property
    def station(self) -> float:
        """Return the station of the switch's axis, mm."""
        return self.part.frame.origin[2]

    @property
    def clock_deg(self) -> float:
        """Return the clock of the switch's axis, degrees."""
        z = self.part.frame.z_axis
        return math.degrees(math.atan2(z[1], z[0])) % 360.0

    def floor(self, radius: float) -> float:
        """Return the height of the room's floor over the axis in a chassis of an outer radius, mm."""
        return self.spine.total - radius
