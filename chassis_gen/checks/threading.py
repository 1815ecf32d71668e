"""Threading: a ball of each wire's diameter, swept along its whole route, meets no material."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from msgspec import Struct

from chassis_gen.checks.places import middle, place, words
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan, DropBend, Leg, Route
from chassis_gen.shapes.body import COLLISION_VOLUME, bounds_overlap
from chassis_gen.shapes.frame import Vec3, turn_between, unit
from chassis_gen.shapes.threads import swept_balls

SHRINK = 0.03
"""Taken off a ball's radius beside the chord, mm: lanes stand on a grid and touch their wire (chosen)."""
STRIPPED = 2.5
"""At a joint the wire is bare and thinner for this length, mm (common practice, no source)."""
STEP_DEGREES = 8.0
"""A turn is swept in chords of this many degrees (chosen)."""


class _Swept(Struct, frozen=True):
    """A ball on a straight piece of a route: whose it is, where it runs, its diameter, mm."""

    route: Route
    leg: Leg
    start: Vec3
    end: Vec3
    diameter: float
    plug: bool = False


def check_threading(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return an error for each wire whose way is blocked, with the place.

    A plug that is to pass a closed lane sweeps it too, as a ball as wide as its head's diagonal.

    Args:
        plan: the build.
        solids: its solids.
    """
    sweeps = [s for r in plan.routes for s in (*_of_wire(r, solids.chord), *_of_plug(plan, r, solids.chord))]
    if not sweeps:
        return ()
    bodies = swept_balls([(s.start, s.end) for s in sweeps], [s.diameter for s in sweeps], solids.chord)
    found: dict[str, Finding] = {}
    for balls, piece in itertools.product(bodies, solids.pieces.values()):
        met = balls.common(piece) if bounds_overlap(balls.bounds, piece.bounds) else None
        if met is None or met.volume <= COLLISION_VOLUME:
            continue
        for shell in met.components():
            if shell.volume > COLLISION_VOLUME:
                at = middle(shell.bounds)
                sweep = min(sweeps, key=lambda s: _distance(at, s.start, s.end) - s.diameter / 2)
                found.setdefault(sweep.route.wire.id, _blocked(sweep, at, shell.volume))
    return tuple(found.values())


def _blocked(sweep: _Swept, at: Vec3, volume: float) -> Finding:
    wire = sweep.route.wire
    what = "its plug" if sweep.plug else f"a ball of its {wire.outer_diameter:g} mm"
    message = (
        f'{wire.id}: {what} meets material on its way through "{sweep.leg.section}" ({sweep.leg.kind}) '
        f"at {words(at)}"
    )
    return Finding("error", "route-blocked", wire.id, message, {**place(at), "volume": round(volume, 4)})


def _of_wire(route: Route, chord: float) -> Iterator[_Swept]:
    """Yield the sweeps of a wire between the bare ends at its joints, then those of its bends out of drops."""
    diameter = route.wire.outer_diameter - 2 * (chord + SHRINK)
    along = 0.0
    for leg in route.legs:
        for a, b in _straight_pieces(leg):
            long = math.dist(a, b)
            first = max(0.0, STRIPPED - along)
            last = min(long, route.length - STRIPPED - along)
            if last > first:
                yield _Swept(route, leg, _between(a, b, first / long), _between(a, b, last / long), diameter)
            along += long
    joints = route.legs[0].start, route.legs[-1].end
    for bend in (b for b in route.bends if b.path):
        bent = Leg("bend", _section_of(route, bend), bend.path[0], bend.path[-1], 0.0)
        for a, b in itertools.pairwise(bend.path):
            if min(math.dist(p, joint) for p in (a, b) for joint in joints) > STRIPPED:
                yield _Swept(route, bent, a, b, diameter)


def _section_of(route: Route, bend: DropBend) -> str:
    """Return the section in which a wire bends out of a drop."""
    ends = ((route.wire.start, route.legs[0]), (route.wire.end, route.legs[-1]))
    return next(leg.section for terminal, leg in ends if terminal == bend.terminal)


def _of_plug(plan: ChassisPlan, route: Route, chord: float) -> Iterator[_Swept]:
    """Yield the sweeps of the smaller plug of a wire through the closed lanes that it is to pass."""
    plugs = [c for c in (route.wire.start_connector, route.wire.end_connector) if c is not None]
    if not plugs or route.fit_connector_after:
        return
    diameter = min(c.diameter for c in plugs) - 2 * (chord + SHRINK)
    closed = {lane.section for lane in plan.lanes if lane.closed and route.wire.id in lane.wires}
    for leg in route.legs:
        # on a ramp the plug is led in from outside
        level = abs(math.hypot(*leg.start[:2]) - math.hypot(*leg.end[:2])) < 1e-6
        if leg.kind == "tube" or (leg.kind == "lane" and leg.section in closed and level):
            yield _Swept(route, leg, leg.start, leg.end, diameter, plug=True)


def _straight_pieces(leg: Leg) -> Iterator[tuple[Vec3, Vec3]]:
    """Yield a leg in straight pieces: a turn by chords, anything else whole."""
    if leg.kind != "gallery":
        yield leg.start, leg.end
        return
    a, b = (math.degrees(math.atan2(p[1], p[0])) for p in (leg.start, leg.end))
    r, s = (math.hypot(p[0], p[1]) for p in (leg.start, leg.end))
    turn = turn_between(a, b)
    count = max(1, math.ceil(abs(turn) / STEP_DEGREES))
    at = leg.start
    for k in range(1, count + 1):
        c, sn = unit(a + turn * k / count)
        radius = r + (s - r) * k / count
        z = leg.start[2] + (leg.end[2] - leg.start[2]) * k / count
        to = (radius * c, radius * sn, z) if k < count else leg.end
        yield at, to
        at = to


def _between(a: Vec3, b: Vec3, share: float) -> Vec3:
    return (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share, a[2] + (b[2] - a[2]) * share)


def _distance(p: Vec3, a: Vec3, b: Vec3) -> float:
    """Return how far a point lies from a line between two points, mm."""
    d = tuple(y - x for x, y in zip(a, b, strict=True))
    long = sum(x * x for x in d)
    share = sum((q - x) * y for q, x, y in zip(p, a, d, strict=True)) / long if long else 0.0
    return math.dist(p, _between(a, b, min(1.0, max(0.0, share))))
