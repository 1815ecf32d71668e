"""Resonance cap: the front chamber and the ports before a speaker, printed as a piece of its own.

Origin and axes: those of `Facing`, at the speaker's open end; s counts from there toward the speaker's back.

     round the cup                     on the cup's face

    |-----.=========  cap ring        |-----|#####  chassis
    |     | _______   seam            |     '--.
    p     ||  cup                     p  chamber|rim
    o  ch.||rim                       o        |
    r     ||_                         r        |

"""

from __future__ import annotations

import math
from typing import Annotated, Literal

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field, model_validator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import PositiveLength, quantity
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionParams
from chassis_gen.sections.features.bayonet import Bayonet, groove_cutters, lug_solids
from chassis_gen.sections.features.screw_hole import ShapedHole, hole_cutters
from chassis_gen.shapes.frame import Frame, Vec3, reversed_axis, topped
from chassis_gen.shapes.primitives import Cone, Cylinder, Pattern, Primitive
from chassis_gen.shapes.recipe import Step, add, cut

CapKind = Literal["round", "face", "none"]
CapHold = Literal["friction", "screws", "bayonet"]

SEAM = 0.125
"""Gap drawn where cap and cup meet end to end, mm; chosen, so that no faces are drawn flush."""
HEAD_RECESS = 0.2
"""How far a countersunk head stands below the outer surface, mm; chosen, more than that curves away."""

Thin = Annotated[float, quantity("mm", 0.4, 12)]


class Ports(BaseModel):
    """Round ports on a circle; one port stands in the middle."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    count: int = Field(default=6, ge=1, le=36, description="number of ports")
    diameter: Annotated[float, quantity("mm", 0.8, 60)] = Field(default=3.0, description="diameter of a port")
    circle_diameter: PositiveLength | None = Field(
        default=None, description="circle through the ports' centres"
    )


class Grille(BaseModel):
    """Small round holes all over the front plate."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    hole_diameter: Annotated[float, quantity("mm", 0.8, 10)] = Field(
        default=2.0, description="diameter of a hole"
    )
    web: Annotated[float, quantity("mm", 0.4, 10)] = Field(default=1.2, description="wall between two holes")


class CapParams(SectionParams):
    """Keys of a resonance cap."""

    cap: CapKind = Field("round", description="cap round the cup, on the cup's face, or none")
    cap_hold: CapHold = Field("friction", description="what holds the cap")
    cap_fit: Literal["press", "snug", "slide"] = Field("snug", description="fit class of cap and cup")
    cap_wall: Thin = Field(1.2, description="wall of the cap round the cup, as printed")
    cap_plate: Thin = Field(1.6, description="thickness of the cap's front plate")
    cap_overlap: Annotated[float, quantity("mm", 1, 60)] | None = Field(
        None,
        description="how far cap and cup reach over each other; by default 8 round the cup, 4 on its face",
    )
    chamber_depth: Annotated[float, quantity("mm", 2, 60)] = Field(
        5.0, description="front chamber, from the rim's front to the front plate"
    )
    foam_gap: Annotated[float, quantity("mm", 0.1, 1)] = Field(
        0.3, description="gap between the rim and the cap for a pressed foam ring"
    )
    ports: Ports | None = Field(None, description="ports in the front plate; by default six of 3 mm")
    grille: Grille | None = Field(None, description="a grille instead of ports")
    cap_screw: str = Field(
        "M2", description="thread of the cap's screws, which form their own thread in the cup"
    )
    cap_screws: int = Field(2, ge=2, le=3, description="number of the cap's screws")
    screw_head_diameter: Annotated[float, quantity("mm", 1, 12)] = Field(
        3.8, description="head of a countersunk cap screw"
    )
    bayonet_lugs: int = Field(2, ge=2, le=3, description="lugs of the bayonet: two turn 90 degrees, three 60")
    bayonet_depth: Annotated[float, quantity("mm", 0.6, 4)] = Field(
        1.2, description="radial depth of its grooves"
    )

    @model_validator(mode="after")
    def _one_kind_of_opening(self) -> CapParams:
        if self.ports is not None and self.grille is not None:
            message = "the front plate has either ports or a grille"
            raise rejected(Rejection("not-allowed", message, "one of ports and grille", at=("grille",)))
        return self

    @property
    def overlap(self) -> float:
        """Return how far cap and cup are asked to reach over each other, mm."""
        usual = {"round": 8.0, "face": 4.0, "none": 0.0}
        return usual[self.cap] if self.cap_overlap is None or self.cap == "none" else self.cap_overlap


class Facing(Struct, frozen=True):
    """Which way a speaker looks, and stations counted from its open end.

    Args:
        near: True when it looks to the mouth.
        open_z: station of the open end, mm.
        clock_deg: clock of the section's top.
    """

    near: bool
    open_z: float
    clock_deg: float

    @property
    def frame(self) -> Frame:
        """Return the frame at the open end whose +z points to the speaker's back and whose +y to the top."""
        return self.turned(self.clock_deg)

    def turned(self, clock_deg: float, s: float = 0.0) -> Frame:
        """Return that frame with its +y at another clock, moved to s."""
        frame = topped(clock_deg, self.z(s))
        return frame if self.near else reversed_axis(frame)

    def z(self, s: float) -> float:
        """Return the station of s, mm."""
        return self.open_z + s if self.near else self.open_z - s

    def span(self, s0: float, s1: float) -> tuple[float, float]:
        """Return the stations of a range of s in rising order, mm."""
        a, b = self.z(s0), self.z(s1)
        return (a, b) if a < b else (b, a)

    @property
    def inward(self) -> Vec3:
        """Return the unit vector from the open end to the speaker's back."""
        return (0.0, 0.0, 1.0 if self.near else -1.0)


class CapPlan(Struct, frozen=True):
    """What a cap decides; lengths are mm, s counts from the cap's front.

    Args:
        name: piece name.
        kind: ``round`` or ``face``.
        plate: thickness of the front plate.
        chamber_radius: radius of the front chamber.
        body_end: where the full-width body ends.
        rim_end: where what bears on the rim ends (spigot, or step of a cap round the cup).
        mate_radius: bore over the cup, or outside of the spigot.
        holes: places of the ports' centres, x and y.
        hole_diameter: drawn diameter of a port.
        bayonet: bayonet, if that holds the cap.
        bayonet_mouth: s of the bore's mouth.
        screws: clearance holes.
        head_diameter: of a countersunk screw.
        head_recess: how far heads stand below the surface.
        gridded: True for a grille, which is cut as one pattern.
    """

    name: str
    kind: Literal["round", "face"]
    plate: float
    chamber_radius: float
    body_end: float
    rim_end: float
    mate_radius: float
    holes: tuple[tuple[float, float], ...]
    hole_diameter: Dimension
    bayonet: Bayonet | None
    bayonet_mouth: float
    screws: tuple[ShapedHole, ...]
    head_diameter: float
    head_recess: float
    gridded: bool


def cap_steps(cap: CapPlan, facing: Facing, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the cap's recipe as assembled, in tube coordinates.

    Args:
        cap: what the cap decided.
        facing: which way the speaker looks.
        ctx: the section's context, for the outer surface.
    """
    frame = facing.frame
    chamber = Cylinder(cap.chamber_radius, cap.plate, cap.rim_end + OVERLAP, frame)
    steps = add("cap body", *ctx.body(*facing.span(0.0, cap.body_end)))
    if cap.kind == "round":
        over = Cylinder(cap.mate_radius, cap.rim_end, cap.body_end + OVERLAP, frame)
        steps += cut("cap bore", over) + cut("front chamber", chamber)
        if cap.bayonet:
            steps += cut("bayonet groove", *groove_cutters(cap.bayonet, bayonet_frame(cap, facing)))
    else:
        steps += add(
            "cap spigot", Cylinder(cap.mate_radius, cap.body_end - cap.plate / 2, cap.rim_end, frame)
        )
        if cap.bayonet:
            steps += add("bayonet lug", *lug_solids(cap.bayonet, bayonet_frame(cap, facing)))
        steps += cut("front chamber", chamber)
    steps += cut("port", *_port_cutters(cap, frame))
    for hole in cap.screws:
        steps += cut(
            "cap screw hole", *hole_cutters(hole), countersink(hole, cap.head_diameter, cap.head_recess)
        )
    return steps


def bayonet_frame(cap: CapPlan, facing: Facing) -> Frame:
    """Return the frame of the bore that the bayonet's grooves are in."""
    frame = facing.turned(facing.clock_deg, cap.bayonet_mouth)
    return reversed_axis(frame) if cap.kind == "round" else frame


def countersink(hole: ShapedHole, head_diameter: float, recess: float) -> Cone:
    """Return the 90 degree countersink of a screw hole.

    Args:
        hole: the hole.
        head_diameter: mm.
        recess: how far the head's top stands below the entry, mm.
    """
    wide, narrow = head_diameter / 2 + recess, hole.diameter.total * 0.4
    return Cone(wide + OVERLAP, narrow, -OVERLAP, wide - narrow, hole.frame)


def countersink_depth(hole_diameter: float, head_diameter: float, recess: float) -> float:
    """Return how far a 90 degree countersink reaches until it meets the hole, mm."""
    return recess + max(0.0, (head_diameter - hole_diameter) / 2)


def _port_cutters(cap: CapPlan, frame: Frame) -> tuple[Primitive, ...]:
    radius, end = cap.hole_diameter.total / 2, cap.plate + OVERLAP
    places = tuple(Frame((x, y, 0.0)) for x, y in cap.holes)
    if cap.gridded:
        return (Pattern(Cylinder(radius, -OVERLAP, end), places, frame),)
    return tuple(Cylinder(radius, -OVERLAP, end, frame @ p) for p in places)


def port_places(
    ports: Ports, diameter: float, chamber_radius: float, wall: float
) -> tuple[tuple[float, float], ...]:
    """Return the ports' centres: one in the middle, or evenly on a circle from the top.

    Without a circle of its own the ports stand at six tenths of the chamber, or as far out as they need
    to keep a wall between them.

    Args:
        ports: the keys.
        diameter: drawn diameter of a port, mm.
        chamber_radius: mm.
        wall: least wall between ports, mm.
    """
    if ports.count == 1:
        return ((0.0, 0.0),)
    if ports.circle_diameter is not None:
        radius = ports.circle_diameter / 2
    else:
        apart = (diameter + wall) / (2 * math.sin(math.pi / ports.count))
        radius = max(0.6 * chamber_radius, apart + 0.01)
    turns = (math.radians(90.0 + 360.0 * k / ports.count) for k in range(ports.count))
    return tuple((radius * math.cos(t), radius * math.sin(t)) for t in turns)


def grille_places(pitch: float, reach: float) -> tuple[tuple[float, float], ...]:
    """Return the centres of a triangular grid within a circle, the first in the middle.

    Args:
        pitch: between neighbours, mm.
        reach: radius that the centres stay within, mm.
    """
    rows = math.ceil(reach / pitch / math.sqrt(0.75)) + 1
    found = []
    for j in range(-rows, rows + 1):
        for i in range(-2 * rows, 2 * rows + 1):
            x, y = pitch * (i + j / 2), pitch * math.sqrt(0.75) * j
            if math.hypot(x, y) <= reach + 1e-9:
                found.append((x, y))
    return tuple(found)


def port_finding(
    where: str,
    places: tuple[tuple[float, float], ...],
    diameter: float,
    chamber_radius: float,
    wall: float,
    *remedies: Remedy,
) -> Finding | None:
    """Return what keeps the ports from standing in the plate with a wall round each, if anything.

    Args:
        where: piece name.
        places: the ports' centres, mm.
        diameter: drawn diameter, mm.
        chamber_radius: mm.
        wall: least wall, mm.
        remedies: changes to try, best first.
    """
    edge, reach = chamber_radius - wall, max((math.hypot(*p) for p in places), default=0.0) + diameter / 2
    apart = min((math.dist(a, b) for i, a in enumerate(places) for b in places[:i]), default=math.inf)
    numbers = {"reach": reach, "largest_reach": edge, "least_pitch": diameter + wall}
    if not places or reach > edge + 1e-9:
        text = (
            f"ports of {diameter:.2f} mm reach {reach:.2f} mm from the axis; the front chamber's radius "
            f"{chamber_radius:.2f} less a wall of {wall:.2f} mm leaves {edge:.2f} mm"
        )
    elif apart < diameter + wall - 1e-9:
        numbers["pitch"] = apart
        text = (
            f"ports of {diameter:.2f} mm stand {apart:.2f} mm apart; with a wall of {wall:.2f} mm "
            f"between them they need {diameter + wall:.2f} mm"
        )
    else:
        return None
    return Finding("error", "port-room", where, text, numbers, candidates=remedies, blocks_solids=True)
