"""What laying wires works on: rules, ground, stretches of the chassis, windows of clock, laid wires."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import Lane, Route, Wire
from chassis_gen.plan.cross_section import Clocks
from chassis_gen.plan.model import Gallery, Obstacle, Outer, PlacedTerminal, SectionPlan
from chassis_gen.shapes.recipe import Step


@dataclass(frozen=True)
class WiringRules:
    """How full and how large lanes are; figures come from `chassis_gen.tables.wire`.

    Args:
        open_fill: largest share of an open groove's cross-section that wire may fill.
        closed_fill: the same for a closed lane that wire is pulled through.
        closed_fill_silicone: the same for silicone wire where the closed lane is long.
        long_closed: length from which a closed lane counts as long, mm.
        least_closed: smallest diameter of a closed lane, mm.
        mouth: chamfer at a closed lane's mouths, mm.
        cover: depth of a groove beyond the wire's outside diameter where there is room, mm.
        end_allowance: wire added at each end for stripping and joining, mm.
        round_up: cut lengths are rounded up to a multiple of this, mm.
    """

    open_fill: float
    closed_fill: float
    closed_fill_silicone: float
    long_closed: float
    least_closed: float
    mouth: float
    cover: float
    end_allowance: float
    round_up: float


@dataclass(frozen=True)
class Ground:
    """What wires are laid over.

    Args:
        sections: in order of stations.
        outer: the chassis's outer surface.
        blocked: obstacles of the whole chassis (flat, tube openings) beside the sections' own.
        closed: names of sections whose lanes are closed tunnels.
        wall: material to leave, mm.
        rules: see `WiringRules`.
    """

    sections: tuple[SectionPlan, ...]
    outer: Outer
    blocked: tuple[Obstacle, ...]
    closed: frozenset[str]
    wall: float
    rules: WiringRules


@dataclass(frozen=True)
class Stretch:
    """A run of stations in one section between two breakpoints.

    Args:
        section: owner.
        z0: mm.
        z1: mm.
        radius: smallest outer radius here, mm.
        limit: smallest radius that a lane's bottom may have, by whole degree, mm.
        gallery: the gallery at its far end, if any.
        turn_limit: as `limit`, over the room of that gallery.
    """

    section: SectionPlan
    z0: float
    z1: float
    radius: float
    limit: Clocks
    gallery: Gallery | None
    turn_limit: Clocks

    @property
    def hollow(self) -> bool:
        """Return True where the section is open and nothing needs cutting."""
        return any(g.open_room for g in self.section.galleries)


@dataclass(frozen=True)
class Window:
    """The whole degrees round a middle that one wire takes in one stretch.

    Args:
        wire: its id.
        middle: degrees.
        half: how many degrees it reaches to each side of its middle degree.
        depth: of the lane that it needs, mm.
        area: of the wire's own cross-section, mm2.
        fill_limit: largest share of the lane that wire may fill.
        along: False where the wire only turns at the surface and runs nowhere along the axis.
    """

    wire: str
    middle: int
    half: int
    depth: float
    area: float
    fill_limit: float
    along: bool

    @property
    def first(self) -> int:
        """Return its first degree (may be negative)."""
        return self.middle - self.half

    @property
    def count(self) -> int:
        """Return how many whole degrees it spans."""
        return 2 * self.half + 1


@dataclass(frozen=True)
class Laid:
    """A wire's path: clock per stretch, the stretches it passes, its terminals in order of stations."""

    wire: Wire
    stretches: tuple[int, ...]
    clocks: tuple[int, ...]
    low: PlacedTerminal
    high: PlacedTerminal

    @property
    def along(self) -> bool:
        """Return whether the wire runs along the axis at all."""
        return self.high.position[2] - self.low.position[2] > 1e-9

    @property
    def turns(self) -> tuple[int, ...]:
        """Return the stretches at whose ends the wire changes its clock."""
        changes = zip(self.stretches, itertools.pairwise(self.clocks), strict=False)
        return tuple(k for k, (before, after) in changes if before != after)


@dataclass(frozen=True)
class Wiring:
    """The result of routing."""

    routes: tuple[Route, ...]
    lanes: tuple[Lane, ...]
    steps: Mapping[str, tuple[Step, ...]]
    findings: tuple[Finding, ...]
    unrouted: tuple[Wire, ...] = field(default=())


def lane_size(wire: Wire, stretch: Stretch, ground: Ground) -> tuple[float, float]:
    """Return the least depth and the width that a wire needs in a stretch, mm.

    An open groove is as deep as the wire and wide enough for the fill limit; a closed lane is a round bore
    under a wall.

    Args:
        wire: the wire.
        stretch: where it lies.
        ground: holds rules and walls.
    """
    d, r = wire.outer_diameter, ground.rules
    if is_tunnel(stretch.section, ground):
        bore = max(r.least_closed, d / math.sqrt(closed_fill_of(wire, stretch, ground)))
        return bore + ground.wall, bore
    return d, max(d + 0.2, math.pi * d * d / 4 / (r.open_fill * d))


def closed_fill_of(wire: Wire, stretch: Stretch, ground: Ground) -> float:
    """Return the largest share of a closed lane that a wire may fill; long runs of tunnel grip silicone.

    Args:
        wire: the wire.
        stretch: where it lies.
        ground: its sections tell how long the closed run is.
    """
    long = _closed_length(stretch.section, ground) > ground.rules.long_closed
    silicone = long and wire.insulation == "silicone"
    return ground.rules.closed_fill_silicone if silicone else ground.rules.closed_fill


def is_tunnel(section: SectionPlan, ground: Ground) -> bool:
    """Return True where wires run in closed lanes; a hollow section has none to close."""
    return section.name in ground.closed and not any(g.open_room for g in section.galleries)


def _closed_length(section: SectionPlan, ground: Ground) -> float:
    """Return the length of the run of closed sections that a section belongs to, mm."""
    for closed, run in itertools.groupby(ground.sections, key=lambda s: is_tunnel(s, ground)):
        members = list(run)
        if closed and section in members:
            return members[-1].z1 - members[0].z0
    return section.z1 - section.z0


def turn_width(diameters: Sequence[float], cut: bool, wall: float) -> float:
    """Return the room along the axis that wires turning side by side in one gallery take, mm.

    Args:
        diameters: outside diameters of the wires, mm.
        cut: True where the gallery is cut, so that it has a wall to each side.
        wall: that wall, mm.
    """
    return sum(diameters) + (0.4 + 2 * wall if cut else 0.0)


def degrees_of(width: float, radius: float) -> int:
    """Return how many whole degrees a width takes at a radius, at least one (mm)."""
    return max(1, math.ceil(math.degrees(width / radius)))


def half_window(wire: Wire, stretch: Stretch, ground: Ground) -> int:
    """Return how many degrees a wire's window reaches to each side of its middle degree.

    Args:
        wire: the wire.
        stretch: where it lies.
        ground: holds walls and rules.
    """
    depth, width = lane_size(wire, stretch, ground)
    return math.ceil((degrees_of(width, stretch.radius - depth) - 1) / 2)
