"""What laying wires works on: rules, ground, stretches of the chassis, windows of clock, laid wires."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Lane, PlacedBody, Route, Wire
from chassis_gen.plan.cross_section import Clocks
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Gallery, Obstacle, Outer, PlacedTerminal, SectionPlan, TubeLane
from chassis_gen.shapes.recipe import Step

LEAST_FOLD = 1.25
"""Least room along the axis for a long side step, in radii: one for its arc, the rest for half the wire (chosen)."""


class WiringRules(Struct, frozen=True):
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
        bend: least radius of a turn's middle line in outside diameters of the wire; 0 for any.
        keep_apart: least distance of data and sound wires from power and light ones, mm.
        stagger: least distance along the axis between splices, mm.
        twist: length of a twisted wire over its path's.
        slack_fill: share of a hollow section's room that folded slack may take.
        relief: farthest strain relief from its joint, mm.
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
    bend: float = 0.0
    keep_apart: float = 0.0
    stagger: float = 15.0
    twist: float = 1.0
    slack_fill: float = 0.25
    relief: float = 15.0


class SectionRow(Struct, frozen=True):
    """What the build file says of a section, for remedies.

    Args:
        index: place in the file.
        kind: section kind.
        length: its own length, mm, where the file gives a number.
        roomier: keys of its own that would leave wires more room.
    """

    index: int
    kind: str
    length: float | None = None
    roomier: tuple[Remedy, ...] = ()


class Reserved(Struct, frozen=True):
    """Room that a terminal of the maker's own takes in the lanes.

    Args:
        terminal: its id.
        clock: degrees.
        diameter: of its body, mm.
        z0: near end, mm.
        z1: far end, mm.
    """

    terminal: str
    clock: float
    diameter: float
    z0: float
    z1: float


MOST_ATTEMPTS = 10
"""How often all wires are laid anew at most (chosen)."""


class Ground(Struct, frozen=True):
    """What wires are laid over.

    Args:
        sections: in order of stations.
        outer: the chassis's outer surface.
        blocked: obstacles of the whole chassis (flat, tube openings) beside the sections' own.
        closed: names of sections whose lanes are closed tunnels.
        wall: material to leave, mm.
        rules: see `WiringRules`.
        reserved: room that the maker's own terminals take.
        rows: what the build file says of each section, by name.
        fitter: makes the sums of strain reliefs, or None where none are cut.
        attempts: how often all wires are laid anew, in another order, while any is left over or uneasy.
    """

    sections: tuple[SectionPlan, ...]
    outer: Outer
    blocked: tuple[Obstacle, ...]
    closed: frozenset[str]
    wall: float
    rules: WiringRules
    reserved: tuple[Reserved, ...] = ()
    rows: Mapping[str, SectionRow] = field(default_factory=dict)
    fitter: Fitter | None = None
    attempts: int = MOST_ATTEMPTS


class Stretch(Struct, frozen=True):
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
        return is_hollow(self.section)


class Window(Struct, frozen=True, gc=False):
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


class Visit(Struct, frozen=True, gc=False):
    """One stretch that a wire passes, or one wire tube that it runs through.

    Args:
        stretch: number of the stretch; of the tube's section's first where it is a tube.
        clock: degrees.
        up: True where it runs to higher stations.
        tube: the wire tube, or None.
        last: number of the tube's section's last stretch; `stretch` itself otherwise.
    """

    stretch: int
    clock: int
    up: bool
    tube: TubeLane | None = None
    last: int = -1

    @property
    def enters(self) -> int:
        """Return the number of the joint of stretches where the wire comes in."""
        return self.stretch if self.up else self._far + 1

    @property
    def leaves(self) -> int:
        """Return the number of the joint of stretches where the wire goes out."""
        return self._far + 1 if self.up else self.stretch

    @property
    def _far(self) -> int:
        return self.stretch if self.tube is None else self.last


class Turn(Struct, frozen=True, gc=False):
    """A change of clock at a joint of stretches: from one whole degree to another by the shorter way."""

    joint: int
    before: int
    after: int

    @property
    def low(self) -> int:
        """Return the degree from which the arc runs upward."""
        return self.before if (self.after - self.before) % 360 <= 180 else self.after

    @property
    def span(self) -> int:
        """Return the arc, degrees."""
        ahead = (self.after - self.before) % 360
        return min(ahead, 360 - ahead)


class Laid(Struct, frozen=True):
    """A wire's path from the terminal of lower station: the stretches it passes, its terminals.

    Args:
        wire: the wire.
        visits: in order; a single one that isn't along where the wire only turns at the surface.
        low: terminal where the path begins.
        high: terminal where it ends.
        along: whether the wire runs along the axis at all.
    """

    wire: Wire
    visits: tuple[Visit, ...]
    low: PlacedTerminal
    high: PlacedTerminal
    along: bool = True

    @property
    def ends(self) -> tuple[tuple[PlacedTerminal, Visit], ...]:
        """Return its two terminals, each with the visit that its drop ends in."""
        return (self.low, self.visits[0]), (self.high, self.visits[-1])

    @property
    def turns(self) -> tuple[Turn, ...]:
        """Return where the wire changes its clock in a gallery."""
        pairs = itertools.pairwise(self.visits)
        return tuple(
            Turn(a.leaves, a.clock, b.clock)
            for a, b in pairs
            if a.clock != b.clock and a.tube is None and b.tube is None
        )


class Wiring(Struct, frozen=True):
    """The result of routing."""

    routes: tuple[Route, ...]
    lanes: tuple[Lane, ...]
    steps: Mapping[str, tuple[Step, ...]]
    findings: tuple[Finding, ...]
    unrouted: tuple[Wire, ...] = ()
    bodies: tuple[PlacedBody, ...] = ()

    def followed_by(self, steps: Mapping[str, tuple[Step, ...]]) -> Wiring:
        """Return a wiring whose sections also take other steps, after the lanes.

        Args:
            steps: by section name.
        """
        names = dict.fromkeys((*self.steps, *steps))
        return replace(self, steps={n: (*self.steps.get(n, ()), *steps.get(n, ())) for n in names})


def lane_size(wire: Wire, stretch: Stretch, ground: Ground) -> tuple[float, float]:
    """Return the least depth and the width that a wire needs in a stretch, mm.

    An open groove is as deep as the wire and wide enough for the fill limit; a closed lane is a round bore
    under a wall.

    Args:
        wire: the wire.
        stretch: where it lies.
        ground: holds rules and walls.
    """
    closed = is_tunnel(stretch.section, ground)
    fill = closed_fill_of(wire, stretch, ground) if closed else ground.rules.open_fill
    return size_for(wire, closed, fill, ground)


def size_for(wire: Wire, closed: bool, fill: float, ground: Ground) -> tuple[float, float]:
    """Return the least depth and the width that a wire needs in a closed or an open lane, mm.

    Args:
        wire: the wire.
        closed: True for a tunnel.
        fill: largest share of the lane that it may fill.
        ground: holds rules and walls.
    """
    d = wire.outer_diameter
    if closed:
        bore = max(ground.rules.least_closed, d / math.sqrt(fill))
        return bore + ground.wall, bore
    return wire.lane_depth, max(d + 0.2, math.pi * d * d / 4 / (fill * d))


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


def is_hollow(section: SectionPlan) -> bool:
    """Return True where a section is open and nothing needs cutting."""
    return any(g.open_room for g in section.galleries)


def is_tunnel(section: SectionPlan, ground: Ground) -> bool:
    """Return True where wires run in closed lanes; a hollow section has none to close."""
    return section.name in ground.closed and not is_hollow(section)


def lies_in(lane: Lane, stretch: Stretch, clock: int) -> bool:
    """Return whether a lane passes a stretch of its own section at a clock.

    Args:
        lane: the lane.
        stretch: the stretch.
        clock: degrees.
    """
    own = lane.section == stretch.section.name
    passes = own and lane.z0 < stretch.z0 + 1e-9 and lane.z1 > stretch.z1 - 1e-9
    return passes and spans(lane, clock)


def lane_bottom(wire: Wire, stretch: Stretch, clock: int, own: Iterable[Lane], ground: Ground) -> float:
    """Return the radius of the bottom of the lane that a drop ends in, mm: where none is cut, that of its own one.

    Args:
        wire: the wire.
        stretch: the stretch that the drop ends in.
        clock: at which it ends, degrees.
        own: the wire's lanes.
        ground: the planned sections.
    """
    here = (y.bottom_radius for y in own if lies_in(y, stretch, clock))
    return next(here, stretch.radius - lane_size(wire, stretch, ground)[0])


def spans(lane: Lane, clock: int) -> bool:
    """Return whether a clock lies between a lane's sides.

    Args:
        lane: the lane.
        clock: degrees.
    """
    return (clock - lane.clock_from) % 360 <= lane.clock_to - lane.clock_from


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
    return half_degrees(width, stretch.radius - depth)


def half_degrees(width: float, radius: float) -> int:
    """Return how many whole degrees a width at a radius reaches to each side of its middle degree (mm)."""
    return math.ceil((degrees_of(width, radius) - 1) / 2)


def bend_room(arc: float, radius: float) -> float:
    """Return the length along the axis that a side step takes, mm: two arcs of one radius, set against each other.

    Geometry: a step by y takes sqrt(4 r y - y^2) while y is below 2 r, and two quarter circles from there on.

    Args:
        arc: how far it steps sideways, mm.
        radius: of the wire's middle line in both arcs, mm.
    """
    return math.sqrt(4 * radius * arc - arc * arc) if arc < 2 * radius else 2 * radius


class Steps(Struct, frozen=True):
    """How far a wire may step sideways: up to a short step, or from a long one on, mm.

    Args:
        short: longest of the short steps.
        long: least of the long ones; infinite where there are none.
    """

    short: float = math.inf
    long: float = 0.0


ANY_STEP = Steps()


def side_steps(room: float, radius: float) -> Steps:
    """Return how far a wire may step sideways in a length along the axis.

    Geometry: the step is two arcs of one radius with a straight line between them that touches both, so their
    centres, `room` along and `arc - 2 r` across from each other, are at least 2 r apart. A long step turns past
    a quarter circle and runs a little back; a short one less than it; what lies between has no room.

    Args:
        room: length along the axis, mm.
        radius: least radius of the wire's middle line, mm.
    """
    if room >= 2 * radius:
        return ANY_STEP
    if room <= 0:
        return Steps(0.0, math.inf)
    across = math.sqrt(4 * radius * radius - room * room)
    return Steps(2 * radius - across, 2 * radius + across if room >= LEAST_FOLD * radius else math.inf)


def step_length(arc: float, room: float, radius: float) -> float:
    """Return the length of a side step's two arcs and the straight line between them, mm.

    Args:
        arc: how far it steps sideways, mm; one that `side_steps` allows.
        room: length along the axis, mm.
        radius: of both arcs, mm.
    """
    apart = math.hypot(room, arc - 2 * radius)
    heading = math.atan2(arc - 2 * radius, room) + math.asin(min(1.0, 2 * radius / apart))
    return math.sqrt(max(apart * apart - 4 * radius * radius, 0.0)) + 2 * radius * heading
