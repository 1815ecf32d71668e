"""The legs of a laid wire, from terminal to terminal, its length, and what belongs to it beside its path."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import DropBend, Lane, Leg, PlacedBody, Route
from chassis_gen.plan.drop_bends import Bend
from chassis_gen.plan.lane_cuts import RAMP
from chassis_gen.plan.laying import (
    Ground,
    Laid,
    Stretch,
    Turn,
    Visit,
    is_tunnel,
    lane_bottom,
    lane_size,
    step_length,
)
from chassis_gen.plan.model import TubeLane
from chassis_gen.plan.mouths import shared_mouths
from chassis_gen.plan.reliefs import cut_reliefs
from chassis_gen.plan.slack import lay_slack
from chassis_gen.shapes.frame import Vec3, unit
from chassis_gen.shapes.recipe import Step

BEND_STEP = 8.0
"""A drop's bend is told in points this many degrees apart (chosen)."""
BESIDE_RAIL = 0.3
"""A wire passes a rail at this distance, mm (chosen)."""
NO_LANES: Mapping[str, Sequence[Lane]] = MappingProxyType({})


class _Walk:
    """Legs as they are walked from a place; those of one kind in one section that go straight on are one."""

    def __init__(self, at: Vec3) -> None:
        self.at = at
        self.legs: list[Leg] = []

    def go(self, kind: str, where: str, to: Vec3, length: float | None = None) -> None:
        long = math.dist(self.at, to) if length is None else length
        if long <= 1e-9:
            return
        last = self.legs[-1] if self.legs else None
        if last is not None and (last.kind, last.section) == (kind, where) and _straight_on(last, to):
            self.legs[-1] = Leg(kind, where, last.start, to, last.length + long)
        else:
            self.legs.append(Leg(kind, where, self.at, to, long))
        self.at = to


def _straight_on(leg: Leg, to: Vec3) -> bool:
    if leg.kind == "gallery":
        return False
    whole = math.dist(leg.start, to)
    return abs(leg.length + math.dist(leg.end, to) - whole) < 1e-9


class _Run(Struct, frozen=True):
    """Stretches of one section that a wire passes straight on, or a wire tube.

    Args:
        first: where it comes in.
        stretch: its first stretch.
        near: station where it comes in, mm.
        far: station where it goes out, mm.
        radius: of the wire's middle there, mm.
        closed: True in a tunnel.
    """

    first: Visit
    stretch: Stretch
    near: float
    far: float
    radius: float
    closed: bool


def route_of(
    x: Laid, stretches: Sequence[Stretch], ground: Ground, lanes: Mapping[str, Sequence[Lane]] = NO_LANES
) -> Route:
    """Return the legs of a laid wire from its start terminal to its end terminal, its length and cut length.

    A wire lies under the outer surface in a groove and in the middle of a tunnel. Where a lane's surface steps
    it keeps to the outer side; into a tunnel it goes down a ramp.

    Args:
        x: the laid wire.
        stretches: what its path counts.
        ground: its rules give end allowance and rounding.
        lanes: the lanes that each wire lies in, for the depth of its drops.
    """
    walk = _Walk(x.low.position)
    runs = _runs(x, stretches, ground)
    own = lanes.get(x.wire.id, ())
    for n, run in enumerate(runs):
        before = runs[n - 1] if n else None
        after = runs[n + 1] if n + 1 < len(runs) else None
        if run.first.tube is not None:
            beside = stretches[run.first.stretch - 1 if run.first.up else run.first.last + 1].section.name
            _through(walk, run.first.tube, run.first.up, beside)
            continue
        level = x.along and _opened(run, before, after)
        _enter(walk, x, run, before, own, stretches, ground, _joint_radius(run, after) if level else None)
        if x.along:
            _along(walk, run, before, after, level)
    _drop(walk, x, own, stretches, ground)
    legs = walk.legs
    if x.wire.start != x.low.id:
        legs = [Leg(g.kind, g.section, g.end, g.start, g.length) for g in reversed(legs)]
    length = sum(g.length for g in legs)
    return Route(x.wire, tuple(legs), length, cut_length(x, length, ground))


def _runs(x: Laid, stretches: Sequence[Stretch], ground: Ground) -> list[_Run]:
    """Return the runs of a wire's path in order."""

    def alike(v: Visit) -> object:
        s = stretches[v.stretch]
        return (id(s.section), s.radius, v.clock, v.up) if v.tube is None else v

    found = []
    for _, members in itertools.groupby(x.visits, key=alike):
        run = tuple(members)
        a, b = stretches[run[0].stretch], stretches[run[-1].stretch]
        closed = run[0].tube is None and is_tunnel(a.section, ground)
        depth, bore = lane_size(x.wire, a, ground) if closed else (0.0, 0.0)
        radius = a.radius - depth + bore / 2 if closed else a.radius - x.wire.outer_diameter / 2
        ends = (a.z0, b.z1) if run[0].up else (a.z1, b.z0)
        found.append(_Run(run[0], a, ends[0], ends[1], radius, closed))
    return found


def _place(run: _Run, radius: float, z: float) -> Vec3:
    c, s = unit(run.first.clock)
    return (radius * c, radius * s, z)


def _enter(
    walk: _Walk,
    x: Laid,
    run: _Run,
    before: _Run | None,
    own: Sequence[Lane],
    stretches: Sequence[Stretch],
    ground: Ground,
    level: float | None,
) -> None:
    """Walk to where a run begins: down a drop, out of a wire tube, or round a gallery.

    At the foot of a drop into a tunnel that is too short for a ramp the wire goes on up to the groove's level.
    """
    name, z = run.stretch.section.name, walk.at[2]
    if before is None:
        for point in (
            _foot(x, x.visits[0], own, stretches, ground, z),
            _place(run, run.radius if level is None else level, z),
        ):
            walk.go("drop", name, point)
    elif before.first.tube is not None:
        # from the mouth it comes out slantingly, clear of the plate that the tube stands in
        way = 1.0 if run.first.up else -1.0
        walk.go("drop", name, _place(run, run.radius, z + way * abs(run.far - run.near) / 2))
    elif before.first.clock != run.first.clock:
        _round(walk, x, before, run, stretches, ground.rules.bend)


def _round(walk: _Walk, x: Laid, before: _Run, run: _Run, stretches: Sequence[Stretch], bend: float) -> None:
    """Walk round the axis in a gallery; in a hollow section inside what stands in the way."""
    name, z = run.stretch.section.name, walk.at[2]
    r = math.hypot(walk.at[0], walk.at[1])
    here = _place(run, r, z)
    joint = run.first.enters
    deep = _inside(x, Turn(joint, before.first.clock, run.first.clock), stretches[joint - 1])
    if deep is None:
        arc = _turn(walk.at, here) * r
        gallery, radius = stretches[joint - 1].gallery, bend * x.wire.outer_diameter
        # one that folds back in a short gallery is longer than its arc and the way along
        if gallery is not None and 2 * radius > gallery.width and arc > 2 * radius:
            arc += max(0.0, step_length(arc, gallery.width, radius) - gallery.width - arc)
        walk.go("gallery", name, here, max(arc, math.dist(walk.at, here)))
        return
    walk.go("gallery", name, _place(before, deep, z))
    under = _place(run, deep, z)
    walk.go("gallery", name, under, max(_turn(walk.at, under) * deep, math.dist(walk.at, under)))
    walk.go("gallery", name, here)


def _inside(x: Laid, turn: Turn, stretch: Stretch) -> float | None:
    """Return how far from the axis a wire passes within the rails of a hollow section, or None where none stand."""
    gallery = stretch.gallery
    if gallery is None or gallery.inner_radius is None:
        return None
    arc = [(turn.low + k) % 360 for k in range(-3, turn.span + 4)]
    if all(stretch.radius - stretch.turn_limit[c] >= x.wire.outer_diameter for c in arc):
        return None
    return gallery.inner_radius - x.wire.outer_diameter / 2 - BESIDE_RAIL


def _groove(run: _Run, beside: _Run | None) -> bool:
    """Return whether a run meets a groove in a run beside it."""
    if beside is None or beside.first.tube is not None or beside.first.clock != run.first.clock:
        return False
    return not beside.closed and not beside.stretch.hollow


def _opened(run: _Run, before: _Run | None, after: _Run | None) -> bool:
    """Return whether ramps open a tunnel's roof from end to end, so that its wire stays at the grooves' level."""
    grooves = [b for b in (before, after) if _groove(run, b)]
    others = [b for b in (before, after) if b is not None and b not in grooves]
    if not run.closed or not grooves or others:
        return False
    return sum(RAMP * (_joint_radius(run, b) - run.radius) for b in grooves) >= abs(run.far - run.near)


def _along(walk: _Walk, run: _Run, before: _Run | None, after: _Run | None, level: bool) -> None:
    """Walk a run from end to end; a tunnel has a ramp at an end that meets a groove."""
    name = run.stretch.section.name
    way = 1.0 if run.first.up else -1.0
    long = abs(run.far - run.near)
    end = _joint_radius(run, after)
    begin = math.hypot(walk.at[0], walk.at[1])
    if level and after is None:
        end = begin
    elif run.closed and not level:
        wanted = [RAMP * abs(r - run.radius) for r in (begin, end)]
        ramps = [r * min(1.0, long / max(sum(wanted), long)) for r in wanted]
        walk.go("lane", name, _place(run, run.radius, run.near + way * ramps[0]))
        walk.go("lane", name, _place(run, run.radius, run.far - way * ramps[1]))
    into_tube = after is not None and after.first.tube is not None
    far = (walk.at[2] + run.far) / 2 if into_tube else run.far
    walk.go("lane", name, _place(run, end, far))


def _joint_radius(run: _Run, after: _Run | None) -> float:
    """Return how far from the axis a wire passes from one run to the next, mm."""
    if after is None or after.first.tube is not None or after.first.clock != run.first.clock:
        return run.radius
    a, b = (run, after) if run.closed else (after, run)
    if a.closed and b.closed:
        return (a.radius + b.radius) / 2
    if a.closed and b.stretch.hollow:
        return a.radius
    return max(a.radius, b.radius)


def _foot(
    x: Laid, v: Visit, own: Sequence[Lane], stretches: Sequence[Stretch], ground: Ground, z: float
) -> Vec3:
    """Return where a drop's channel meets the bottom of its lane, in the stretch that the wire begins or ends in."""
    bottom = lane_bottom(x.wire, stretches[v.stretch], v.clock, own, ground)
    c, s = unit(v.clock)
    return bottom * c, bottom * s, z


def _drop(walk: _Walk, x: Laid, own: Sequence[Lane], stretches: Sequence[Stretch], ground: Ground) -> None:
    last = x.visits[-1]
    name = stretches[last.stretch].section.name
    walk.go("drop", name, _foot(x, last, own, stretches, ground, walk.at[2]))
    walk.go("drop", name, x.high.position)


def _through(walk: _Walk, tube: TubeLane, up: bool, beside: str) -> None:
    """Walk from a hollow section through a wire tube to its other mouth."""
    c, s = unit(tube.clock_deg)
    near, far = (tube.z0, tube.z1) if up else (tube.z1, tube.z0)
    mouth = (tube.radius * c, tube.radius * s, near)
    walk.go("drop", beside, mouth)
    walk.go("tube", tube.section, (mouth[0], mouth[1], far))


def cut_length(x: Laid, length: float, ground: Ground) -> float:
    """Return what to cut of a wire: path, twist, both ends and service slack, rounded up, mm.

    Args:
        x: the laid wire.
        length: of its path, mm.
        ground: its rules.
    """
    rules = ground.rules
    twist = rules.twist if x.wire.twisted_with else 1.0
    wanted = length * twist + x.wire.serve_out + 2 * rules.end_allowance
    return math.ceil(wanted / rules.round_up - 1e-9) * rules.round_up


def _turn(a: Vec3, b: Vec3) -> float:
    """Return the angle between two points about the axis, radians."""
    d = abs(math.atan2(a[1], a[0]) - math.atan2(b[1], b[0])) % (2 * math.pi)
    return min(d, 2 * math.pi - d)


def finished(
    routes: Sequence[Route],
    laid: Sequence[Laid],
    lanes: Sequence[Lane],
    bodies: Sequence[PlacedBody],
    stretches: Sequence[Stretch],
    ground: Ground,
    bends: Sequence[Bend] = (),
) -> tuple[list[Route], Mapping[str, tuple[Step, ...]], tuple[Finding, ...]]:
    """Return routes with their bodies, plugs, slack and strain reliefs, what is cut for those, and findings.

    Args:
        routes: from `route_of`.
        laid: the laid wires, in the same order.
        lanes: the lanes that carry them.
        bodies: splices and other bodies where they lie.
        stretches: what the paths count.
        ground: the planned sections.
        bends: of the drops into the lanes.
    """
    slack, slack_findings = lay_slack(routes, ground)
    reliefs, steps = cut_reliefs(laid, lanes, stretches, ground, bends)
    made = [
        replace(
            r,
            slack=r.wire.serve_out,
            slack_section=slack.get(r.wire.id),
            fit_connector_after=plug_stops(r, lanes, ground.wall),
            bodies=tuple(b for b in bodies if b.wire == r.wire.id),
            reliefs=reliefs.get(r.wire.id, ()),
            bends=tuple(
                DropBend(b.terminal, b.wanted, b.radius, b.path(BEND_STEP))
                for b in bends
                if b.wire == r.wire.id
            ),
        )
        for r in routes
    ]
    return made, steps, (*slack_findings, *shared_mouths(laid, stretches))


def plug_stops(route: Route, lanes: Sequence[Lane], wall: float) -> bool:
    """Return whether a wire's plug doesn't pass its lanes and has to be fitted after threading.

    An open lane takes the wire from outside, plug and all. Through a closed one the bare end goes first; only
    where both ends have plugs does one of them have to pass.

    Args:
        route: the wire's path.
        lanes: all lanes.
        wall: over a closed lane, mm.
    """
    plugs = [c for c in (route.wire.start_connector, route.wire.end_connector) if c is not None]
    closed = [x for x in lanes if x.closed and route.wire.id in x.wires]
    if not plugs or not closed:
        return False
    bore = min(x.outer_radius - wall - x.bottom_radius for x in closed)
    return min(c.diameter for c in plugs) > bore - 1e-9
