"""The plan: everything that numbers decide, as frozen data with no geometry kernel.

All positions are in the tube's coordinates: z is the station, clock angles count from +x toward +y.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct, field
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.shapes.frame import Frame, Vec3
from chassis_gen.shapes.recipe import Step

OVERLAP = 0.0625
"""Overlap of joined solids and overshoot of cutters, mm (at least 0.05, and exact on the station grid)."""


class OuterStep(Struct, frozen=True):
    """The chassis's outer radius over a range of stations.

    Args:
        z0: from this station, mm.
        z1: to this station, mm.
        radius: mm.
        bearing: True where the chassis bears on the bore, False where it is relieved.
        compensation: what of the radius makes up for printing and coating, mm.
    """

    z0: float
    z1: float
    radius: float
    bearing: bool
    compensation: float = 0.0

    @property
    def made_radius(self) -> float:
        """Return the radius that is expected after printing and coating, mm."""
        return self.radius - self.compensation


class Outer(Struct, frozen=True):
    """The chassis's outer surface: radii by station and the printing flat.

    Args:
        steps: contiguous, in order of stations.
        flat_clock: clock of the flat, degrees.
        flat_distance: distance of the flat from the axis, mm, or None for no flat.
    """

    steps: tuple[OuterStep, ...]
    flat_clock: float = 270.0
    flat_distance: float | None = None

    def over(self, z0: float, z1: float) -> tuple[OuterStep, ...]:
        """Return the steps clipped to a range of stations."""
        return tuple(
            replace(s, z0=max(s.z0, z0), z1=min(s.z1, z1))
            for s in self.steps
            if min(s.z1, z1) - max(s.z0, z0) > 1e-9
        )

    def smallest_radius(self, z0: float, z1: float) -> float:
        """Return the smallest outer radius over a range of stations, mm."""
        return min(s.radius for s in self.over(z0, z1))

    def largest_radius(self, z0: float, z1: float) -> float:
        """Return the largest outer radius over a range of stations, mm."""
        return max(s.radius for s in self.over(z0, z1))


class Disc(Struct, frozen=True):
    """A round obstacle in the cross-section: centre and radius, mm."""

    x: float
    y: float
    radius: float


class Slab(Struct, frozen=True):
    """A rectangular obstacle in a cross-section whose +y is turned to `top_clock`, mm."""

    x0: float
    x1: float
    y0: float
    y1: float
    top_clock: float = 90.0

    def gap(self, x: float, y: float) -> float:
        """Return how far a point of the cross-section lies outside the rectangle, mm; 0 inside it."""
        turn = math.radians(self.top_clock)
        c, s = math.cos(turn), math.sin(turn)
        across, up = x * s - y * c, x * c + y * s
        return math.hypot(max(self.x0 - across, across - self.x1, 0.0), max(self.y0 - up, up - self.y1, 0.0))


class Sector(Struct, frozen=True):
    """A blocked interval of clock angles (window, pad, screw, nothing to cut into), degrees."""

    clock_from: float
    clock_to: float


class Obstacle(Struct, frozen=True):
    """Something that a lane must keep a wall away from, over a range of stations.

    Args:
        shape: its cross-section.
        z0: mm.
        z1: mm.
        what: for messages, such as ``cell seat``.
        material: True for a hollow section's own material, such as a rail: windows may be cut through it.
    """

    shape: Disc | Slab | Sector
    z0: float
    z1: float
    what: str
    material: bool = False


class Gallery(Struct, frozen=True):
    """A place where wires may change their clock.

    Args:
        z: station of its middle, mm.
        width: room along the axis, mm.
        section: owner.
        open_room: True where the section is hollow there and nothing needs cutting.
        inner_radius: within this radius a hollow section is free all round, mm; None where nothing is in the way.
    """

    z: float
    width: float
    section: str
    open_room: bool
    inner_radius: float | None = None


class TubeLane(Struct, frozen=True):
    """A round wire tube that stands free in a section, bored out by the section itself.

    Wires enter it from the hollow sections before and behind; it is filled as a closed lane.

    Args:
        clock_deg: of its axis, degrees.
        radius: distance of its axis from the tube's, mm.
        bore: its inside diameter, mm.
        z0: near mouth, mm.
        z1: far mouth, mm.
        section: owner.
    """

    clock_deg: float
    radius: float
    bore: float
    z0: float
    z1: float
    section: str


class PlacedTerminal(Struct, frozen=True):
    """A terminal in the tube's coordinates.

    Args:
        id: ``section.terminal``.
        position: mm.
        exits: clock intervals (degrees) in which a drop may run from the terminal to the outer surface;
            empty means that the terminal can't be reached by a lane.
        largest_wire_diameter: bare conductor, mm.
        must_connect: True when no wire here is a mistake.
        room_for: over the insulation, the wire whose bend its section leaves room for by the key `wire_diameter`,
            mm; None where no room goes by it.
    """

    id: str
    position: Vec3
    exits: tuple[tuple[float, float], ...]
    largest_wire_diameter: float
    must_connect: bool = False
    room_for: float | None = None


class Play(Struct, frozen=True):
    """How far a seated part is meant to move in one direction.

    Args:
        direction: unit vector in tube coordinates.
        expected: mm; None where the way is open (the way in) or nothing is promised.
    """

    direction: Vec3
    expected: float | None


class PlacedPart(Struct, frozen=True):
    """A part in its seat.

    Args:
        id: unique in the build, the section's name or ``section.part``.
        part: the component.
        frame: the part's frame in tube coordinates.
        section: owner.
        piece: the piece that seats it.
        way_in: unit vector along which the part moves when it goes in.
        plays: the promised play per direction, in the seat's own frame.
        pierces: ids of parts, screws or pieces that go through it or that it goes through on purpose.
        squeeze: declared interference per side, mm (snap lips, press fits); the probe is shrunk by it.
    """

    id: str
    part: Part
    frame: Frame
    section: str
    piece: str
    way_in: Vec3
    plays: tuple[Play, ...] = ()
    pierces: tuple[str, ...] = ()
    squeeze: float = 0.0


class PlayProbe(Struct, frozen=True):
    """Measure a fit as the mean play of a part over directions."""

    part: str
    directions: tuple[Vec3, ...]


class GapProbe(Struct, frozen=True):
    """Measure a fit as the smallest gap between two pieces (or ``tube``) over a range of stations."""

    a: str
    b: str
    z0: float
    z1: float


class BoreProbe(Struct, frozen=True):
    """Measure a fit as the bore of a hole less a nominal diameter, halved.

    Args:
        piece: the piece with the hole.
        frame: hole axis along z.
        z: where along that axis the bore is measured, mm.
        nominal: diameter of what goes through, mm.
    """

    piece: str
    frame: Frame
    z: float
    nominal: float


class Fit(Struct, frozen=True):
    """Two things that must go together with a clearance in a range.

    Args:
        id: the governing dimension's name.
        kind: ``part in seat``, ``chassis in tube``, ``cap on cup``, ``carrier in bay``, ``screw in hole``.
        between: what goes together.
        fit_class: name of the fit class.
        required: smallest and largest clearance per side as printed, mm.
        planned: clearance per side in the model (printer terms included), mm.
        as_printed: clearance per side that is expected after printing, mm.
        tolerance_terms: plus-minus ranges that act on the clearance per side, normal, three sigma each, mm.
        probe: how the clearance is measured on the solids.
        dimension: the governing labelled sum.
        uniform_terms: further plus-minus ranges per side in which every value is as likely, mm.
    """

    id: str
    kind: str
    between: tuple[str, str]
    fit_class: str
    required: tuple[float, float]
    planned: float
    as_printed: float
    tolerance_terms: tuple[float, ...]
    probe: PlayProbe | GapProbe | BoreProbe
    dimension: Dimension
    uniform_terms: tuple[float, ...] = ()


class ScrewHole(Struct, frozen=True):
    """A hole for a screw, rod or nut.

    Args:
        id: ``section.hole``.
        kind: a hole kind of `chassis_gen.tables.holes`.
        thread: designation.
        frame: axis along z; z = 0 where the screw enters, the screw advances along +z.
        depth: how far the hole reaches, mm.
        diameter: labelled sum of the hole's diameter.
        engagement: threaded length that bears, mm (0 for clearance holes).
        least_engagement: mm.
        least_wall: material wanted round the hole, mm.
        piece: owner.
        lying: True when the hole's axis lies flat in the print.
    """

    id: str
    kind: str
    thread: str
    frame: Frame
    depth: float
    diameter: Dimension
    engagement: float
    least_engagement: float
    least_wall: float
    piece: str
    lying: bool = False


class Hardware(Struct, frozen=True):
    """A bought fastener for the hardware list: what, how many, where."""

    item: str
    count: int
    where: str


class ExtraPiece(Struct, frozen=True):
    """A piece of its own that a section makes beside the chassis: a cap, a carrier.

    Args:
        name: piece name.
        steps: recipe steps in tube coordinates (as assembled).
        way_in: unit vector along which it goes on.
        nominal_contact: ids it touches on purpose.
    """

    name: str
    steps: tuple[Step, ...]
    way_in: Vec3
    nominal_contact: tuple[str, ...] = ()


class Rest(Struct, frozen=True):
    """Room of a lid's host that has to be solid: under the lid's ends, round its screws.

    Args:
        clock_from: degrees.
        clock_to: degrees, more than `clock_from`.
        z0: mm.
        z1: mm.
        inner_radius: solid from this radius to the outer surface, mm.
        far: True at the far end of the lid.
        what: for messages, such as ``screw of the lid``.
    """

    clock_from: float
    clock_to: float
    z0: float
    z1: float
    inner_radius: float
    far: bool
    what: str


class Covering(Struct, frozen=True):
    """Where a lid lies and what can be reached once it is off.

    Args:
        clock_deg: of its middle, degrees.
        half_width: half its width across, mm.
        z0: its near end, mm.
        z1: its far end, mm.
        outer_radius: least radius of the outer surface that it follows, mm.
        under_radius: of its underside, mm.
        seat_radius: of what it lies on, mm.
        gap: between both, mm.
        framed: True when it brings the frame that it lies on.
        rests: what has to be solid under it.
        gives_access_to: ids of keep-outs and terminals, ``section.name``.
    """

    clock_deg: float
    half_width: float
    z0: float
    z1: float
    outer_radius: float
    under_radius: float
    seat_radius: float
    gap: float
    framed: bool
    rests: tuple[Rest, ...]
    gives_access_to: tuple[str, ...]


class Rim(Struct, frozen=True):
    """The plate of a section at an end of the chassis, round what its middle is taken by.

    Args:
        z0: station from which it fills the outer surface, mm.
        z1: station to which it does, mm.
        core: radius of what stands out of it or is hollow in it, mm; rods keep out of that.
        what: for messages, such as ``spigot``.
        pocket: room beside the middle that rods keep a wall away from, or None.
    """

    z0: float
    z1: float
    core: float
    what: str
    pocket: Slab | None = None


class SectionPlan(Struct, frozen=True):
    """What a section has decided.

    Args:
        kind: section kind.
        name: section name.
        z0: near end, mm.
        z1: far end, mm.
        piece: the piece that it belongs to.
        detail: the kind's own frozen record; its `Dimension` fields are the section's labelled sums.
        parts: seated parts.
        fits: fits.
        holes: screw holes.
        obstacles: what lanes must keep away from.
        terminals: where wires may end.
        galleries: where wires may change clock.
        extra_pieces: caps and carriers.
        hardware: fasteners.
        findings: what the plan itself found.
        features: positions to verify on the solids: name -> (axis point, axis direction).
        facts: named figures for the report, such as back volume in cm3.
        cautions: topics of `chassis_gen.tables.cautions`.
        openings: names of tube openings served.
        tube_lanes: round wire tubes that stand free in it.
        covering: of a lid, where it lies and what it gives access to.
        rim: what of it fills the outer surface, where that isn't all of it or its middle is taken.
        recesses: near edge, far edge and floor's radius of recesses in its outer surface (tape), mm.
    """

    kind: str
    name: str
    z0: float
    z1: float
    piece: str
    detail: object
    parts: tuple[PlacedPart, ...] = ()
    fits: tuple[Fit, ...] = ()
    holes: tuple[ScrewHole, ...] = ()
    obstacles: tuple[Obstacle, ...] = ()
    terminals: tuple[PlacedTerminal, ...] = ()
    galleries: tuple[Gallery, ...] = ()
    extra_pieces: tuple[ExtraPiece, ...] = ()
    hardware: tuple[Hardware, ...] = ()
    findings: tuple[Finding, ...] = ()
    features: Mapping[str, tuple[Vec3, Vec3]] = field(default_factory=dict)
    facts: Mapping[str, float] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    openings: tuple[str, ...] = ()
    tube_lanes: tuple[TubeLane, ...] = ()
    covering: Covering | None = None
    rim: Rim | None = None
    recesses: tuple[tuple[float, float, float], ...] = ()


def clock_of(x: float, y: float) -> float:
    """Return the clock angle of a point in the cross-section, degrees from 0 up to 360."""
    return math.degrees(math.atan2(y, x)) % 360.0
