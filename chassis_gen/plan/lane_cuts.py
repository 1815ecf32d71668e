"""What is cut for wires: grooves and tunnels along the axis, cross passages, ways from terminals to lanes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.plan.chassis import Lane, Wire
from chassis_gen.plan.drop_bends import DROP_ROOM, MOUTH_OVERLAP, Bend
from chassis_gen.plan.grid import step_room
from chassis_gen.plan.laying import (
    Ground,
    Laid,
    Reserved,
    Stretch,
    Turn,
    half_window,
    is_hollow,
    is_tunnel,
    lane_bottom,
    lane_size,
    turn_width,
)
from chassis_gen.plan.model import OVERLAP, PlacedTerminal
from chassis_gen.plan.sums import on_grid
from chassis_gen.shapes.frame import Vec3, clocked, turn_between, unit
from chassis_gen.shapes.primitives import Box, Cone, Cylinder, Hull, Primitive, TubeSegment
from chassis_gen.shapes.recipe import Step, cut

MOUTH_DEPTH = 0.5
"""How far a drop's channel runs into its mouth at least, mm (chosen)."""
RAMP = 2.0
"""A wire rises from a tunnel to a groove by one millimetre on this length, mm (chosen)."""
SAME_EXIT = 1.0
"""How far beyond a terminal's exit its neighbour's drop may lie and still count as in it, degrees: exits are told in
whole degrees, and neighbours' differ by that."""
WEB_ANGLE = 40.0
"""Drops that part by more than this leave a web that is thin at its edge only, degrees (chosen)."""


def lane_solid(lane: Lane, wall: float) -> tuple[Primitive, ...]:
    """Return the cutters of one lane, overshooting at its ends and through the outer surface.

    Args:
        lane: the lane.
        wall: material left over a closed lane, mm.
    """
    z0, z1 = lane.z0 - 2 * OVERLAP, lane.z1 + 2 * OVERLAP
    if not lane.closed:
        return (
            TubeSegment(lane.bottom_radius, lane.outer_radius + 1.0, z0, z1, lane.clock_from, lane.clock_to),
        )
    bore = lane.outer_radius - wall - lane.bottom_radius
    middle = (lane.clock_from + lane.clock_to) / 2
    c, s = unit(middle)
    r = lane.bottom_radius + bore / 2
    frame = replace(clocked(middle), origin=(r * c, r * s, 0.0))
    return (Cylinder(bore / 2, z0, z1, frame),)


def mouth_solids(lane: Lane, wall: float, mouth: float, near: bool, far: bool) -> tuple[Primitive, ...]:
    """Return the cones that break the edges of a closed lane's mouths.

    Args:
        lane: a closed lane.
        wall: material left over it, mm.
        mouth: chamfer, mm.
        near: True where its near end is a mouth.
        far: True where its far end is a mouth.
    """
    bar = lane_solid(lane, wall)[0]
    assert isinstance(bar, Cylinder)
    r = bar.radius
    cones = []
    if near:
        cones.append(Cone(r + mouth, r, lane.z0 - OVERLAP, lane.z0 + mouth, bar.frame))
    if far:
        cones.append(Cone(r, r + mouth, lane.z1 - mouth, lane.z1 + OVERLAP, bar.frame))
    return tuple(cones)


def ramp_solids(
    lane: Lane, ground: Ground, near: bool, far: bool, lanes: Sequence[Lane] = ()
) -> tuple[Primitive, ...]:
    """Return what opens the roof of a closed lane at its mouths, so that its wire comes up to the next groove.

    A groove is as deep as its wire, a tunnel lies under a wall: without a ramp they meet by a part of their
    height only. Into a hollow section the wire leaves straight. A tunnel too short for its ramps is open all along.

    Args:
        lane: a closed lane.
        ground: its sections tell what lies beyond the mouths.
        near: True where its near end is a mouth.
        far: True where its far end is a mouth.
        lanes: all lanes; those of its section that carry it on take the rest of a long ramp.
    """
    bar = lane_solid(lane, ground.wall)[0]
    assert isinstance(bar, Cylinder)
    names = [s.name for s in ground.sections]
    at = names.index(lane.section)
    middle = lane.bottom_radius + bar.radius
    low, high = _carried_on(lane, lanes)
    grooves = [
        0 <= k < len(names)
        and not is_tunnel(ground.sections[k], ground)
        and not is_hollow(ground.sections[k])
        for k in (at - 1, at + 1)
    ]
    found = []
    for is_mouth, mouth, inward in ((near and grooves[0], lane.z0, 1.0), (far and grooves[1], lane.z1, -1.0)):
        if not is_mouth:
            continue
        rise = ground.outer.largest_radius(mouth - 2 * OVERLAP, mouth + 2 * OVERLAP) - middle
        z0, z1 = sorted((mouth - inward * 2 * OVERLAP, mouth + inward * min(RAMP * rise, high - low)))
        # radial sides: at the middle of the bore the slot is as wide as the bore
        half = math.degrees(bar.radius / middle)
        clock = (lane.clock_from + lane.clock_to) / 2
        outer = ground.outer.largest_radius(z0, z1) + 1.0
        found.append(
            TubeSegment(on_grid(middle), outer, on_grid(z0), on_grid(z1), clock - half, clock + half)
        )
    return tuple(found)


def _carried_on(lane: Lane, lanes: Sequence[Lane]) -> tuple[float, float]:
    """Return the stations between which a closed lane's bore goes on as it is within its section, mm."""
    z0, z1 = lane.z0, lane.z1
    alike = [
        y
        for y in lanes
        if (y.section, y.wires, y.clock_from, y.clock_to, y.bottom_radius, y.outer_radius)
        == (lane.section, lane.wires, lane.clock_from, lane.clock_to, lane.bottom_radius, lane.outer_radius)
    ]
    for y in sorted(alike, key=lambda y: y.z0):
        z1 = y.z1 if abs(y.z0 - z1) < 1e-9 else z1
    for y in sorted(alike, key=lambda y: -y.z1):
        z0 = y.z0 if abs(y.z1 - z0) < 1e-9 else z0
    return z0, z1


def lane_cuts(
    laid: Sequence[Laid],
    lanes: Sequence[Lane],
    stretches: Sequence[Stretch],
    ground: Ground,
    bends: Sequence[Bend] = (),
) -> dict[str, tuple[Step, ...]]:
    """Return the cutting steps by section: lanes, drops and galleries, then the mouths of closed lanes.

    Args:
        laid: the laid wires.
        lanes: the lanes that they lie in.
        stretches: what the wires' paths count.
        ground: holds outer surface, walls and rules.
        bends: of the drops into the lanes.
    """
    steps: dict[str, tuple[Step, ...]] = {}

    def more(section: str, label: str, *solids: Primitive) -> None:
        steps[section] = steps.get(section, ()) + cut(label, *solids, must_touch=False)

    cut_lanes = [lane for lane in lanes if not lane.tube]
    for lane in cut_lanes:
        more(lane.section, f"wire lane {lane.id}", *lane_solid(lane, ground.wall))
    drops = _drops(laid, lanes, stretches, ground, bends)
    for drop in drops:
        more(
            drop.section, f"drop to {drop.terminal.id}", drop.channel, drop.mouth, *_rims(drop.mouth, ground)
        )
        for section, solid in _beyond_joints(drop, ground):
            more(section, f"drop to {drop.terminal.id}", solid)
        for section, solid in _bent(drop, ground):
            more(section, f"bend at {drop.terminal.id}", solid)
    beside: dict[str, list[_Drop]] = {}
    for drop in drops:
        beside.setdefault(drop.section, []).append(drop)
    for a, b in (pair for near in beside.values() for pair in itertools.combinations(near, 2)):
        if _leave_a_web(a, b, ground.wall):
            between = Hull(tuple(_corners(a, _span(a, b)) + _corners(b, _span(a, b))))
            more(a.section, f"web between drops to {a.terminal.id} and {b.terminal.id}", between)
    for a in drops:
        for b, between in _webs_beside_bend(a, beside[a.section], ground.wall):
            more(a.section, f"web between the bend at {a.terminal.id} and {b.terminal.id}", between)
    for x in laid:
        for section, solid in _galleries(x, laid, stretches, ground):
            more(section, f"gallery for {x.wire.id}", solid, *_rims(solid, ground))
    for place in ground.reserved:
        for section, solid in _own_pockets(place, stretches, ground):
            more(section, f"room for {place.terminal}", solid, *_rims(solid, ground))
    for lane in cut_lanes:
        if lane.closed:
            owner = next(s for s in ground.sections if s.name == lane.section)
            near, far = lane.z0 - owner.z0 < 1e-9, owner.z1 - lane.z1 < 1e-9
            more(
                lane.section,
                f"mouth of {lane.id}",
                *mouth_solids(lane, ground.wall, ground.rules.mouth, near, far),
            )
            more(lane.section, f"ramp of {lane.id}", *ramp_solids(lane, ground, near, far, cut_lanes))
    return steps


class _Drop(Struct, frozen=True):
    """The channel from a terminal out to the surface at a clock, square of a size, its length to the lane's bottom,
    the stations that it takes near there, its flare included, and where its middle meets it (degrees, mm)."""

    section: str
    terminal: PlacedTerminal
    clock: float
    size: float
    long: float
    channel: Box
    mouth: TubeSegment
    stations: tuple[float, float]
    foot: Vec3
    bend: Bend | None


def _drops(
    laid: Sequence[Laid],
    lanes: Sequence[Lane],
    stretches: Sequence[Stretch],
    ground: Ground,
    bends: Sequence[Bend],
) -> tuple[_Drop, ...]:
    """Return the drops of all laid wires, both ends each."""
    bent = {(b.wire, b.terminal): b for b in bends}
    holders = {t.id: s.name for s in ground.sections for t in s.terminals}
    own: dict[tuple[str, str], list[Lane]] = {}
    for y in (y for y in lanes if not y.tube):
        for w in y.wires:
            own.setdefault((w, y.section), []).append(y)
    found = []
    for x in laid:
        size = x.wire.outer_diameter + DROP_ROOM
        for t, v in x.ends:
            stretch, clock = stretches[v.stretch], v.clock
            mine = own.get((x.wire.id, stretch.section.name), ())
            bottom = lane_bottom(x.wire, stretch, clock, mine, ground)
            half = half_window(x.wire, stretch, ground) + MOUTH_OVERLAP
            z = on_grid(t.position[2])
            mouth = TubeSegment(
                on_grid(bottom),
                ground.outer.largest_radius(stretch.z0, stretch.z1) + 1.0,
                on_grid(z - size / 2),
                on_grid(z + size / 2),
                clock - half,
                clock + half,
            )
            bend = bent.get((x.wire.id, t.id))
            long, channel = _channel(t, clock, bottom, size)
            flare = bend.stations if bend is not None and bend.cuts else (mouth.z0, mouth.z1)
            along = min(mouth.z0, flare[0]), max(mouth.z1, flare[1])
            foot = channel.frame.point((long, 0.0, 0.0))
            found.append(_Drop(holders[t.id], t, clock, size, long, channel, mouth, along, foot, bend))
    return tuple(found)


def _rims(solid: TubeSegment, ground: Ground) -> tuple[TubeSegment, ...]:
    """Return what stands between a cut and a step of the outer surface that is nearer to its end than a wall."""
    found = []
    for a, b in itertools.pairwise(ground.outer.steps):
        rises = b.radius > a.radius
        gap = solid.z0 - b.z0 if rises else b.z0 - solid.z1
        if a.radius == b.radius or not 0.0 < gap < ground.wall:
            continue
        z0, z1 = (b.z0, solid.z0) if rises else (solid.z1, b.z0)
        inner = on_grid(min(a.radius, b.radius) - OVERLAP)
        found.append(replace(solid, inner_radius=inner, z0=z0 - OVERLAP, z1=z1 + OVERLAP))
    return tuple(found)


def _channel(t: PlacedTerminal, clock: float, bottom: float, size: float) -> tuple[float, Box]:
    """Return the length from a terminal straight to its lane's bottom, and a drop's channel there.

    From there its mouth opens the lane's whole width: a slanting or narrower way out would leave a fin beside
    the next lane. Where a channel slants, the wire that turns at its end reaches farther into its corner.
    """
    c, s = unit(clock)
    dx, dy = bottom * c - t.position[0], bottom * s - t.position[1]
    long = math.hypot(dx, dy)
    corner = (size - DROP_ROOM) / 2 * abs(dx * s - dy * c) / max(long, OVERLAP)
    end = long + max(MOUTH_DEPTH, corner)
    heading = math.degrees(math.atan2(dy, dx))
    frame = replace(clocked(heading), origin=(t.position[0], t.position[1], on_grid(t.position[2])))
    return long, Box((0.0, -size / 2, -size / 2), (end, size / 2, size / 2), frame)


def _beyond_joints(drop: _Drop, ground: Ground) -> Iterator[tuple[str, Primitive]]:
    """Yield a drop with the sections beside its own that a part of its width lies in, hollow ones left out."""
    for s in ground.sections:
        if s.name != drop.section and s.z0 < drop.mouth.z1 and s.z1 > drop.mouth.z0 and not is_hollow(s):
            yield s.name, drop.channel
            yield s.name, drop.mouth


def _bent(drop: _Drop, ground: Ground) -> Iterator[tuple[str, Primitive]]:
    """Yield what flares a drop's edge with the sections that it is cut from, those that are hollow left out."""
    if drop.bend is None or not drop.bend.cuts:
        return
    flare, z = drop.bend.cutter(), drop.bend.stations
    for s in ground.sections:
        if s.z0 < z[1] and s.z1 > z[0] and not is_hollow(s):
            yield s.name, flare


def _webs_beside_bend(a: _Drop, drops: Sequence[_Drop], wall: float) -> Iterator[tuple[_Drop, Hull]]:
    """Yield what is between the flare of a drop and others of its section where it is no wall, with those.

    Another one counts with its own flare where it has one to the same side, else with its channel.
    """
    if a.bend is None or not a.bend.cuts:
        return
    low, high = a.bend.stations
    for b in drops:
        if b is a or low >= b.stations[1] + wall or b.stations[0] >= high + wall:
            continue
        if math.dist(a.foot[:2], b.foot[:2]) >= (a.size + b.size) / 2 + wall or not _share_exit(a, b):
            continue
        mate = b.bend if b.bend is not None and b.bend.cuts and b.bend.faces == a.bend.faces else None
        if mate is None:
            sides = ((b.long - a.bend.below, b.long), (-b.size / 2, b.size / 2), (-b.size / 2, b.size / 2))
            yield b, Hull((*a.bend.corners(), *map(b.channel.frame.point, itertools.product(*sides))))
        elif a.clock < b.clock:
            span = _span(a, b)
            yield b, Hull((*a.bend.corners(span), *mate.corners(span)))


def _leave_a_web(a: _Drop, b: _Drop, wall: float) -> bool:
    """Return True where two drops run so close that what is left between them is no wall.

    Drops to neighbouring terminals begin side by side and part only slowly; taking out all between them is
    safe where one exit of both terminals spans both clocks.
    """
    beside = abs(a.terminal.position[2] - b.terminal.position[2]) < (a.size + b.size) / 2 + wall
    turn = abs(turn_between(b.clock, a.clock))
    return beside and turn <= WEB_ANGLE and _share_exit(a, b)


def _share_exit(a: _Drop, b: _Drop) -> bool:
    def spans(exit_: tuple[float, float]) -> bool:
        low, high = exit_[0] - SAME_EXIT, exit_[1] + SAME_EXIT
        return all((d.clock - low) % 360 <= high - low for d in (a, b))

    return any(map(spans, a.terminal.exits)) and any(map(spans, b.terminal.exits))


def _span(a: _Drop, b: _Drop) -> float:
    """Return the arc that the mouths of two drops take together, degrees."""
    apart = abs(turn_between(b.clock, a.clock))
    return apart + sum(m.clock_to - m.clock_from for m in (a.mouth, b.mouth)) / 2


def _corners(drop: _Drop, span: float) -> list[Vec3]:
    """Return the corners of a drop's channel and, out at the surface, of its mouth.

    The mouth's stand so far out that the straight line over a span of degrees clears the surface in its middle.
    """
    box, m = drop.channel, drop.mouth
    sides = zip(box.low, box.high, strict=True)
    corners = [box.frame.point((x, y, z)) for x, y, z in itertools.product(*sides)]
    for clock, z in itertools.product((m.clock_from, m.clock_to), (m.z0, m.z1)):
        c, s = unit(clock)
        r = m.outer_radius / math.cos(math.radians(span / 2))
        corners.append((r * c, r * s, z))
    return corners


def _galleries(
    x: Laid, laid: Sequence[Laid], stretches: Sequence[Stretch], ground: Ground
) -> list[tuple[str, TubeSegment]]:
    """Return the cross passages that have to be cut for one wire, with their sections.

    The wires that turn in one gallery lie side by side, so each passage is as wide as they are together.
    """
    found = []
    for turn in x.turns:
        here = stretches[turn.joint - 1]
        if here.gallery is None or here.gallery.open_room:
            continue
        after = stretches[turn.joint]
        bundle = [(y.wire, t) for y in laid for t in y.turns if t.joint == turn.joint]
        depth = max(lane_size(w, here, ground)[0] for w, _ in bundle)
        # a lane that runs straight on under the passage keeps its wire's depth beside the passage's own
        depth += _under(turn, x, laid, stretches, ground)
        half = _passage_width(bundle, here, ground) / 2
        radius = min(here.radius, after.radius)
        # at its ends the wire is as wide as its lane, to both sides; walls to other lanes begin there
        beyond = half_window(x.wire, here, ground) + MOUTH_OVERLAP
        passage = TubeSegment(
            on_grid(radius - depth),
            ground.outer.largest_radius(here.z0, after.z1) + 1.0,
            on_grid(here.gallery.z - half),
            on_grid(here.gallery.z + half),
            turn.low - beyond,
            turn.low + turn.span + beyond,
        )
        found.append((here.section.name, passage))
    return found


def _passage_width(bundle: Sequence[tuple[Wire, Turn]], here: Stretch, ground: Ground) -> float:
    """Return the length along the axis that wires take which turn side by side, their bends included, mm."""
    plain = turn_width([w.outer_diameter for w, _ in bundle], True, 0.0)
    steps = [(math.radians(t.span) * here.radius, w.outer_diameter) for w, t in bundle]
    others = sum(d for _, d in steps) - max(d for _, d in steps)
    assert here.gallery is not None
    bent = min(step_room(steps, ground.rules.bend) + others, here.gallery.width - 2 * ground.wall)
    return max(plain, bent)


def _under(turn: Turn, x: Laid, laid: Sequence[Laid], stretches: Sequence[Stretch], ground: Ground) -> float:
    """Return the depth of the deepest lane of another wire that runs straight on across a passage, mm."""
    depths = [0.0]
    for y in laid:
        for a, b in itertools.pairwise(y.visits):
            on = a.leaves == turn.joint and a.clock == b.clock and a.up == b.up
            if y is not x and on and (a.clock - turn.low) % 360 <= turn.span:
                depths.append(lane_size(y.wire, stretches[turn.joint - 1], ground)[0])
    return max(depths)


def _own_pockets(
    place: Reserved, stretches: Sequence[Stretch], ground: Ground
) -> list[tuple[str, TubeSegment]]:
    """Return the room that is cut for a terminal of the maker's own, in each section that isn't hollow."""
    found = []
    for section in {s.section.name: s for s in stretches if s.z0 < place.z1 and s.z1 > place.z0}.values():
        if section.hollow:
            continue
        z0, z1 = max(place.z0, section.section.z0), min(place.z1, section.section.z1)
        radius = ground.outer.smallest_radius(z0, z1)
        half = math.degrees(place.diameter / 2 / (radius - place.diameter)) + MOUTH_OVERLAP
        pocket = TubeSegment(
            on_grid(radius - place.diameter),
            ground.outer.largest_radius(z0, z1) + 1.0,
            on_grid(z0),
            on_grid(z1),
            place.clock - half,
            place.clock + half,
        )
        found.append((section.section.name, pocket))
    return found
