"""Bends of drops into their lanes: a quarter circle in the plane of the drop and the axis, and the room it takes.

A wire comes up its drop along the wall that faces away from its lane, bends over the inner edge and ends under the
lane's roof, so it never stands out of the outer surface. The inner edge is flared as far as that takes:

      outer surface   ___________________________________
                     |  _.---------------------------     wire
                     | /   ________________________      lane's bottom
                     ||  /                               flare
                     || |
                   terminal

Joints hold their wire at any angle, so a drop shorter than the radius needs a part of the quarter circle only.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.plan.chassis import Lane, Wire
from chassis_gen.plan.cross_section import DEGREES, Clocks, Degrees, Mask, feet, innermost_lane_radius
from chassis_gen.plan.laying import (
    Ground,
    Laid,
    Stretch,
    half_window,
    is_hollow,
    is_tunnel,
    lane_bottom,
    spans,
)
from chassis_gen.plan.model import OVERLAP, Disc, Obstacle, PlacedTerminal, Slab
from chassis_gen.plan.sums import GRID, on_grid
from chassis_gen.shapes.frame import Frame, Vec3, unit
from chassis_gen.shapes.primitives import Hull

DROP_ROOM = 0.4
"""Width of a drop's channel beyond its wire, mm: common practice, no source."""
MOUTH_OVERLAP = 0.75
"""How far a drop's mouth reaches past its wire's outermost degree, degrees: half a degree ends the window, the
rest overlaps a neighbouring lane."""
LEAST_SLOPE = 1 / 3
"""A drop that slants more counts as this much only, cosine (chosen)."""
ALL_CLOCKS: Degrees = np.arange(DEGREES)
_STRIPS = 3
_LEAST_CUT = 0.02
_HALVINGS = 12


class Corner(Struct, frozen=True):
    """Where a drop meets its lane, for wires that leave it at one clock or at each.

    Args:
        diameter: outside diameter of the wire, mm.
        deep: from the lane's bottom to its roof, mm.
        long: from the terminal to the lane's bottom, mm, by clock.
        slant: how much longer ways along the drop are than straight out, by clock.
    """

    diameter: float
    deep: float
    long: Clocks
    slant: Clocks

    @property
    def size(self) -> float:
        """Return the width of the drop's channel, mm."""
        return self.diameter + DROP_ROOM

    def centre(self, radius: float) -> tuple[Clocks, Clocks]:
        """Return the centre of the bend: above the lane's bottom, and along the axis from the drop's near wall, mm.

        Args:
            radius: of the wire's middle line, mm.
        """
        under_roof = (self.deep - self.diameter / 2) * self.slant
        rise = np.minimum(self.long + under_roof, radius)
        across = np.sqrt(np.maximum(radius**2 - (radius - np.maximum(rise, 0.0)) ** 2, 0.0))
        return under_roof - radius, self.diameter / 2 - self.size + across

    def rounding(self, radius: float, rise: float = 0.0) -> tuple[Clocks, Clocks]:
        """Return how far the inner edge is flared down the drop and along the lane, mm.

        Geometry: a circle of the radius less half the wire about the bend's centre, cut by the drop's near wall and
        by the lane's bottom; the plane between both cuts lies clear of it. A drop that slants meets the lane's floor
        at an angle, so half the wire counts as longer by its slant.

        Args:
            radius: of the wire's middle line, mm.
            rise: how much higher than at the drop the lane's bottom lies where the flare ends, mm.

        Returns:
            Both lengths; where the edge may stay, no length along and as far down as the bottom rises up.
        """
        high, far = self.centre(radius)
        rise_along = rise * self.slant
        inner = radius - self.diameter / 2 * self.slant
        below = -high - np.sqrt(np.maximum(inner**2 - far**2, 0.0))
        along = far - np.sqrt(np.maximum(inner**2 - (rise_along - high) ** 2, 0.0))
        needed = (high < rise_along) & (far > 0) & (below > -rise_along) & (along > 0)
        return np.where(needed, below, -rise_along), np.where(needed, along, 0.0)


class Place(Struct, frozen=True):
    """Where a wire bends out of a drop.

    Args:
        terminal: where the drop begins.
        up: True where the lane runs to higher stations.
        bottom: radius of the lane's bottom, mm.
        half: degrees from the lane's middle to its side.
        corner: the drop's edge, by whole degree of clock.
        headings: unit vectors from the terminal to the lane's bottom, by whole degree of clock.
        rise: how much higher than at the drop the lane's bottom lies where the flare ends, mm.
    """

    terminal: PlacedTerminal
    up: bool
    bottom: float
    half: int
    corner: Corner
    headings: Clocks
    rise: float = 0.0

    def fits(self, radius: float, ground: Ground, clocks: Degrees = ALL_CLOCKS) -> Mask:
        """Return at which of some clocks the edge can be flared for a bend, a wall away from what bars lanes.

        Args:
            radius: of the wire's middle line, mm.
            ground: the planned sections.
            clocks: whole degrees.
        """
        below, along = (v[clocks] for v in self.corner.rounding(radius, self.rise))
        top = -self.rise * self.corner.slant[clocks]
        reach = float(along.max())
        good: Mask = np.ones(len(clocks), dtype=bool)
        if reach <= 0.0:
            return good
        side = 1.0 if self.up else -1.0
        near = self.terminal.position[2] + side * self.corner.size / 2
        bars = self._bars(min(near, near + side * reach), max(near, near + side * reach), ground)
        for k in range(_STRIPS if bars else 0):
            ends = sorted(near + side * reach * share / _STRIPS for share in (k, k + 1))
            limit = innermost_lane_radius(bars, ends[0], ends[1], ground.wall)
            if not limit.any():
                continue
            depth = below + (top - below) * k / _STRIPS
            x, y = feet(self.bottom)[:, clocks] - depth * self.headings[:, clocks]
            floor = np.hypot(x, y) + 2 * GRID
            there = np.rint(np.degrees(np.arctan2(y, x))).astype(np.intp)
            highest = np.maximum(self._highest(limit, clocks), self._highest(limit, there))
            good &= (depth <= top) | (highest <= floor)
        return good

    def _highest(self, limit: Clocks, clocks: Degrees) -> Clocks:
        """Return the largest of some limits over the width of a lane at each of some clocks, mm."""
        wide = np.arange(-self.half - 1, self.half + 2)
        found: Clocks = limit[(clocks[:, None] + wide) % DEGREES].max(axis=1)
        return found

    def _bars(self, z0: float, z1: float, ground: Ground) -> tuple[Obstacle, ...]:
        """Return what bars a flare between two stations: all but the rooms that the terminal stands in."""
        owners = (s for s in ground.sections if s.z0 < z1 and s.z1 > z0 and not is_hollow(s))
        found = (o for s in owners for o in s.obstacles)
        return tuple(
            o
            for o in (*found, *ground.blocked)
            if o.z0 - ground.wall < z1 and o.z1 + ground.wall > z0 and not _holds(o, self.terminal.position)
        )


def _holds(o: Obstacle, at: Vec3) -> bool:
    """Return whether an obstacle is a room that a point stands in; a drop opens it already."""
    x, y, z = at
    if not o.z0 - 1e-6 <= z <= o.z1 + 1e-6:
        return False
    if isinstance(o.shape, Disc):
        return math.hypot(x - o.shape.x, y - o.shape.y) <= o.shape.radius + 1e-6
    if isinstance(o.shape, Slab):
        c, s = unit(o.shape.top_clock - 90.0)
        own_x, own_y = x * c + y * s, y * c - x * s
        return (
            o.shape.x0 - 1e-6 <= own_x <= o.shape.x1 + 1e-6
            and o.shape.y0 - 1e-6 <= own_y <= o.shape.y1 + 1e-6
        )
    clock = math.degrees(math.atan2(y, x))
    return (clock - o.shape.clock_from) % 360.0 <= o.shape.clock_to - o.shape.clock_from


def wanted_radius(wire: Wire, ground: Ground) -> float:
    """Return the least radius of a wire's middle line in a bend, mm; 0 for any."""
    return ground.rules.bend * wire.outer_diameter


def place_of(
    terminal: PlacedTerminal,
    wire: Wire,
    stretch: Stretch,
    bottom: float,
    half: int,
    up: bool,
    until: float,
    ground: Ground,
) -> Place:
    """Return the place where a wire bends out of a drop into its lane.

    It comes up under the roof on the lane's own side of the terminal: a step of the outer surface behind it bars
    nothing, as the wire is still deep in the drop there, and behind `until` the wire steps with the surface.

    Args:
        terminal: where the drop begins.
        wire: the wire.
        stretch: that the drop stands in.
        bottom: radius of the lane's bottom, mm.
        half: degrees from the lane's middle to its side.
        up: True where the lane runs to higher stations.
        until: station up to which the lane's roof doesn't step, mm.
        ground: the planned sections.
    """
    x, y, z = terminal.position
    radius = wanted_radius(wire, ground)
    roof = ground.outer.smallest_radius(*((z, min(z + radius, until)) if up else (max(z - radius, until), z)))
    if is_tunnel(stretch.section, ground):
        roof = min(roof, stretch.radius) - ground.wall
    way = feet(bottom) - np.array([[x], [y]])
    long: Clocks = np.hypot(way[0], way[1])
    headings = way / np.maximum(long, 1e-9)
    if math.hypot(x, y) >= bottom:
        # the joint lies in the lane itself
        long = np.full(DEGREES, -np.inf)
    straight = (headings * feet(1.0)).sum(axis=0)
    corner = Corner(wire.outer_diameter, roof - bottom, long, 1.0 / np.maximum(straight, LEAST_SLOPE))
    return Place(terminal, up, bottom, half, corner, headings)


class Bend(Struct, frozen=True):
    """A wire's bend out of a drop as it is laid.

    Args:
        wire: its id.
        terminal: where the drop begins.
        section: that the drop stands in.
        wanted: least radius of the wire's middle line, mm.
        radius: what there is room for, mm; no more than is wanted.
        frame: at the lane's bottom over the terminal: +x out along the drop, +y along the lane.
        size: width of the drop's channel, mm.
        below: how far the edge is flared down the drop, mm.
        along: how far it is flared along the lane, mm.
        centre: of the bend, x and y in the frame, mm.
        clock: of the lane's middle, degrees.
        turn: from there to the sides of the flare, degrees.
        floor: radius from which the flare goes down, mm.
        rise: how much the lane's bottom lies higher where the flare ends, along the drop, mm.
        until: station up to which the lane keeps its roof, mm; behind it the wire steps with the outer surface or
            comes up or down a ramp.
    """

    wire: str
    terminal: str
    section: str
    wanted: float
    radius: float
    frame: Frame
    size: float
    below: float
    along: float
    centre: tuple[float, float]
    clock: int
    turn: float
    floor: float
    rise: float
    until: float

    @property
    def cuts(self) -> bool:
        """Return whether the edge has to be flared at all."""
        return min(self.below + self.rise, self.along) > _LEAST_CUT

    @property
    def faces(self) -> int:
        """Return 1 where the lane runs to higher stations from the drop, else -1."""
        return 1 if self.frame.y_axis[2] > 0 else -1

    @property
    def stations(self) -> tuple[float, float]:
        """Return between which stations the edge is flared, mm."""
        z, side = self.frame.origin[2], self.frame.y_axis[2]
        low, high = sorted((z + side * self.size / 2, z + side * (self.size / 2 + self.along)))
        return low, high

    def corners(self, span: float | None = None) -> tuple[Vec3, ...]:
        """Return the corners of what flares the edge, as wide as the lane.

        Args:
            span: arc that the straight line across the lane's floor has to clear, degrees; default the lane's own.
        """
        bottom = math.hypot(*self.frame.origin[:2])
        bulge = 1 / math.cos(math.radians(self.turn if span is None else span / 2))
        z, side = self.frame.origin[2], self.frame.y_axis[2]
        # the plane goes on as far as the line across stands above the lane's bottom
        above = (self.floor - bottom) / self._straight
        along = self.along * (self.below + above) / (self.below + self.rise)
        near, far = (z + side * (self.size / 2 + y) for y in (-OVERLAP, along))
        high, low = self.floor * bulge, bottom * bulge
        deep = self.below + low - bottom
        (ux, uy, _), found = self.frame.x_axis, list[Vec3]()
        for c, s in (unit(self.clock + t) for t in (-self.turn, self.turn)):
            found += [(high * c, high * s, near), (high * c, high * s, far)]
            found.append((low * c - deep * ux, low * s - deep * uy, near))
        return tuple(found)

    def cutter(self) -> Hull:
        """Return what flares the edge: a plane that clears the wire, all across the lane's floor."""
        return Hull(self.corners())

    def path(self, step_deg: float) -> tuple[Vec3, ...]:
        """Return points along the wire's middle line in the bend, from the drop to the lane as far as that is even.

        Args:
            step_deg: angle from one to the next at most, degrees.
        """
        x, y = self.centre
        first = math.asin(max(-1.0, min(1.0, (y + DROP_ROOM / 2) / self.radius)))
        count = max(1, math.ceil(math.degrees(first) / step_deg))
        points = (
            self._point(x + self.radius * math.cos(t), y - self.radius * math.sin(t))
            for t in (first * (1 - k / count) for k in range(count + 1))
        )
        half = (self.size - DROP_ROOM) / 2
        return tuple(p for p in points if self.faces * (self.until - p[2]) >= half)

    @property
    def _straight(self) -> float:
        """Return the cosine of the angle between the drop and the way straight out."""
        (c, s), (ux, uy, _) = unit(self.clock), self.frame.x_axis
        return max(c * ux + s * uy, LEAST_SLOPE)

    def _point(self, x: float, y: float) -> Vec3:
        """Return a point of the bend's plane; above the lane's floor the wire goes straight out."""
        if x <= 0.0:
            return self.frame.point((x, y, 0.0))
        c, s = unit(self.clock)
        out = x * self._straight
        foot = self.frame.point((0.0, y, 0.0))
        return foot[0] + out * c, foot[1] + out * s, foot[2]


def drop_bends(
    laid: Sequence[Laid], lanes: Sequence[Lane], stretches: Sequence[Stretch], ground: Ground
) -> tuple[Bend, ...]:
    """Return the bends of all drops into lanes that run along the axis, both ends of each wire.

    Args:
        laid: the laid wires.
        lanes: the lanes that they lie in.
        stretches: what the wires' paths count.
        ground: the planned sections.
    """
    if not ground.rules.bend:
        return ()
    found, even = [], even_roofs(stretches, ground)
    own: dict[str, list[Lane]] = {}
    for lane in lanes:
        for w in () if lane.tube else lane.wires:
            own.setdefault(w, []).append(lane)
    for x in laid:
        ends = ((x.low, x.visits[0], x.visits[0].up), (x.high, x.visits[-1], not x.visits[-1].up))
        for terminal, visit, up in ends if x.along else ():
            stretch = stretches[visit.stretch]
            if visit.tube is None and not stretch.hollow:
                mine = [y for y in own.get(x.wire.id, ()) if spans(y, visit.clock)]
                until = even[visit.stretch][up]
                found.append(_bend(x, terminal, visit.clock, up, mine, stretch, until, ground))
    return tuple(found)


def even_roofs(stretches: Sequence[Stretch], ground: Ground) -> list[tuple[float, float]]:
    """Return for each stretch the stations between which the roof of a lane doesn't step, mm.

    Args:
        stretches: in order.
        ground: tells which sections have tunnels.
    """
    found: list[tuple[float, float]] = []
    for _, run in itertools.groupby(stretches, key=lambda s: (s.radius, is_tunnel(s.section, ground))):
        members = list(run)
        found += [(members[0].z0, members[-1].z1)] * len(members)
    return found


def _rise(place: Place, clock: int, radius: float, until: float, own: Sequence[Lane]) -> float:
    """Return how much higher than at the drop the bottom of a wire's lanes lies within reach of a flare, mm.

    A lane is shallower where a thicker wire has left it, or where there is no room for its cover.
    """
    side = 1.0 if place.up else -1.0
    near = place.terminal.position[2] + side * place.corner.size / 2
    rise = 0.0
    for lane in sorted(own, key=lambda y: side * (y.z0 + y.z1)):
        begins, ends = (lane.z0, lane.z1) if place.up else (lane.z1, lane.z0)
        higher = lane.bottom_radius - place.bottom
        if higher <= rise or side * (ends - near) <= 0 or side * (until - begins) <= 0:
            continue
        if side * (begins - near) < float(place.corner.rounding(radius, higher)[1][clock]):
            rise = higher
    return rise


def _bend(
    x: Laid,
    terminal: PlacedTerminal,
    clock: int,
    up: bool,
    own: Sequence[Lane],
    stretch: Stretch,
    until: float,
    ground: Ground,
) -> Bend:
    bottom = lane_bottom(x.wire, stretch, clock, own, ground)
    half = half_window(x.wire, stretch, ground)
    wanted = wanted_radius(x.wire, ground)
    place = place_of(terminal, x.wire, stretch, bottom, half, up, until, ground)
    place = replace(place, rise=_rise(place, clock, wanted, until, own))
    radius = min(_largest(place, clock, wanted, ground), _between_drops(x, wanted))
    c, s = unit(clock)
    ux, uy = place.headings[:, clock].tolist()
    side = 1.0 if up else -1.0
    frame = Frame(
        (bottom * c, bottom * s, on_grid(terminal.position[2])),
        (ux, uy, 0.0),
        (0.0, 0.0, side),
        (side * uy, -side * ux, 0.0),
    )
    below, along = (float(v[clock]) for v in place.corner.rounding(radius, place.rise))
    rise = place.rise * float(place.corner.slant[clock])
    high, far = place.corner.centre(radius)
    closed = is_tunnel(stretch.section, ground)
    # in a tunnel as wide as the drop where it comes out of the bore's side, and no wider than the lane's room
    slanting = place.corner.size / 2 * float(place.corner.slant[clock])
    return Bend(
        x.wire.id,
        terminal.id,
        stretch.section.name,
        wanted,
        radius,
        frame,
        place.corner.size,
        below,
        along,
        (float(high[clock]), float(far[clock]) + place.corner.size / 2),
        clock,
        min(math.degrees(slanting / bottom), half + 0.5) if closed else half + MOUTH_OVERLAP,
        bottom + (place.corner.deep / 2 if closed else rise + OVERLAP),
        rise,
        until,
    )


def _largest(place: Place, clock: int, wanted: float, ground: Ground) -> float:
    """Return the largest radius up to the wanted one that there is room for at a clock, mm."""
    here = np.array([clock])
    if place.fits(wanted, ground, here)[0]:
        return wanted
    low, high = 0.0, wanted
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if place.fits(middle, ground, here)[0] else (low, middle)
    return low


def _between_drops(x: Laid, wanted: float) -> float:
    """Return the largest radius of two bends that follow each other in one straight lane, mm."""
    if x.turns or any(v.tube is not None for v in x.visits):
        return wanted
    return (abs(x.high.position[2] - x.low.position[2]) + DROP_ROOM) / 2
