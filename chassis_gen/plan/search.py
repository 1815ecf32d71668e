"""The shortest path of one wire over the grid: straight along, round the axis in galleries, through wire tubes.

Costs of all 360 whole degrees are carried together from one joint of stretches to the next. A wire first looks
for a way that runs straight from its one end to the other; where there is none it may run past an end to a
gallery and come back, which takes a few sweeps up and down the chassis.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from msgspec import Struct, field

from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.cross_section import DEGREES, Clocks, Degrees, Mask, feet, interval_mask
from chassis_gen.plan.drop_bends import wanted_radius
from chassis_gen.plan.grid import GRID_ROUNDING, Grid
from chassis_gen.plan.laying import ANY_STEP, Laid, Steps, Stretch, Visit
from chassis_gen.plan.model import PlacedTerminal, TubeLane
from chassis_gen.shapes.frame import turn_between

_DEAR = 1e7
"""More than any path costs, mm."""
TURN_COST = 10.0
"""What changing the clock counts beside its arc, mm: a wire doesn't turn for a degree or two (chosen)."""
DETOUR = 100.0
"""What lying apart from its bundle counts in each stretch, mm (chosen)."""
CROWD = 60.0
"""What pushing another wire out counts in each stretch, mm (chosen)."""
LOOSE = 2.0
"""What a degree off the nearer side of its room counts for a wire in each stretch, mm (chosen)."""
BODY = 12.0
"""What turning where a splice or another body of the wire might lie counts, mm (chosen)."""
SOUGHT = 8.0
"""What lying where another wire found no way counts in each stretch, by the number of attempts, mm (chosen)."""
SHARP = 150.0
"""What a drop that bends too sharply into its lane counts, mm: another way is better if it is no longer than that
(chosen)."""
MOUTH = 1000.0
"""What ending in the mouth of another wire's drop counts, mm: any other way is better (chosen)."""
SWEEPS = 4
"""Sweeps up and down the chassis: past one end, back past the other, and back once more."""

_ALL: Degrees = np.arange(DEGREES)


class Blocked(Struct, frozen=True):
    """Where a straight search came to an end.

    Args:
        row: the stretch.
        free: degrees at which the wire's window might lie there.
        at_start: True where the first terminal has no way to the surface.
        at_end: True where the last one has none.
        reached: degrees at which the wire comes there, where it comes there at all.
    """

    row: int
    free: Mask
    at_start: bool = False
    at_end: bool = False
    reached: Mask | None = None


class Bends(Struct, frozen=True):
    """What the bend of a drop into its lane costs at each degree, mm: 0, or `SHARP` where it has no room.

    Args:
        up: where the lane runs to higher stations.
        down: where it runs to lower ones.
    """

    up: Clocks
    down: Clocks


_FREE: Clocks = np.zeros(DEGREES)
_NO_BENDS = Bends(_FREE, _FREE)


class _Node(Struct):
    """A joint of stretches in a search: costs of coming there and of going on, and whence."""

    joint: int
    came: Clocks
    on: Clocks
    came_from: list[tuple[int, int] | None] = field(default_factory=lambda: [None] * DEGREES)
    source: Degrees = field(default_factory=lambda: np.full(DEGREES, -1))
    tube: Degrees = field(default_factory=lambda: np.full(DEGREES, -1))
    turned: Degrees = field(default_factory=_ALL.copy)
    begins: Mask = field(default_factory=lambda: np.zeros(DEGREES, dtype=bool))
    bends: Bends = _NO_BENDS


def drop_cost(t: PlacedTerminal, radius: float) -> Clocks:
    """Return the straight distance from a terminal to each clock at a radius, infinite where barred, mm.

    Args:
        t: the terminal.
        radius: of the surface, mm.
    """
    x, y = feet(radius) - np.array([[t.position[0]], [t.position[1]]])
    barred = np.ones(DEGREES, dtype=bool)
    for low, high in t.exits:
        barred &= ~interval_mask(low, high)
    cost: Clocks = np.hypot(x, y)
    cost[barred] = np.inf
    return cost


class Search:
    """A search for one wire's path, with the degrees that are free for it worked out once."""

    def __init__(
        self, grid: Grid, wire: Wire, alone: bool = False, crowd: bool = False, snug: bool = False
    ) -> None:
        self.grid, self.wire, self.alone, self.snug = grid, wire, alone, snug
        self.rows = len(grid.stretches)
        self._free: Mask = np.zeros((self.rows, DEGREES), dtype=bool)
        self._known = np.zeros(self.rows, dtype=bool)
        self._extra: Clocks | None = None
        self._crowd = crowd
        self._beside_drops: frozenset[int] = frozenset()

    def keep_from_drops(self, *terminals: PlacedTerminal) -> None:
        """Bar turns in galleries that are cut where the wire still bends out of a drop of its own."""
        radius = wanted_radius(self.wire, self.grid.ground)
        self._beside_drops = frozenset(
            j
            for j in (self.grid.turning_joints if radius else ())
            if (g := self.grid.stretches[j - 1].gallery) is not None and not g.open_room
            if any(abs(g.z - t.position[2]) < radius for t in terminals)
        )

    def free(self, low: int, high: int) -> Mask:
        """Return at which degrees the window's middle may lie in rows `low` to before `high`."""
        wanted = np.flatnonzero(~self._known[low:high])
        if wanted.size:
            a, b = low + int(wanted[0]), low + int(wanted[-1]) + 1
            self._free[a:b] = self.grid.free(self.wire, a, b, self.alone)
            self._known[a:b] = True
            self._pin(a, b)
            self._count_extra(a, b)
        return self._free[low:high]

    def _pin(self, a: int, b: int) -> None:
        if self.wire.pinned_clock is not None:
            self._free[a:b] &= round(self.wire.pinned_clock) % DEGREES == _ALL
        for via in self.wire.via:
            if via.clock is not None:
                for k in range(a, b):
                    if self.grid.stretches[k].section.name == via.section:
                        self._free[k] &= round(via.clock) % DEGREES == _ALL

    def _count_extra(self, a: int, b: int) -> None:
        """Add up what lying in rows costs beside their length; most wires are spared the array of it."""
        costs: list[Clocks | None] = []
        if self._crowd:
            costs.append(self.grid.crowd_cost(self.wire, a, b, CROWD))
        elif self.wire.mates:
            costs.append(self.grid.mate_cost(self.wire, a, b, DETOUR))
        if not self.alone:
            costs.append(self.grid.passing_cost(self.wire, a, b))
        if self.snug:
            costs.append(self.grid.loose_cost(self.wire, a, b, LOOSE))
            costs.append(self.grid.sought_cost(self.wire, a, b, SOUGHT))
        for cost in costs:
            if cost is not None:
                if self._extra is None:
                    self._extra = np.zeros((self.rows, DEGREES))
                self._extra[a:b] += cost

    def run(self, low: int, high: int) -> Clocks:
        """Return what running straight through rows `low` to before `high` costs at each degree, mm."""
        free = self.free(low, high)
        length = float(self.grid.length[low:high].sum())
        cost = np.where(free.all(axis=0), length, np.inf)
        return cost if self._extra is None else cost + self._extra[low:high].sum(axis=0)

    def _would_lie_in(self, stretch: Stretch) -> bool:
        """Return whether a body of the wire has its place in a hollow section where the wire runs straight on."""
        long = stretch.section.z1 - stretch.section.z0
        return stretch.hollow and any(
            b.length <= long and b.section in (None, stretch.section.name) for b in self.wire.in_line
        )

    def turn(self, joint: int, cost: Clocks) -> tuple[Clocks, Degrees]:
        """Return the cost of going on from a joint and the clock that it came from, turns in its gallery included."""
        steps = None if joint in self._beside_drops else self.grid.steps_at(self.wire, joint, self.alone)
        here = self.grid.stretches[joint - 1] if joint > 0 else None
        after = self.grid.stretches[min(joint, self.rows - 1)]
        straight = cost
        bars = self.grid.crossing_bars(self.wire, joint, self.alone) if joint > 0 else None
        if bars is not None:
            straight = np.where(bars, np.inf, cost)
        if steps is None or here is None:
            return straight, _ALL
        shut = self.grid.through(self.wire, joint, self.alone) if not here.hollow else None
        depth = float(self.grid.needs(self.wire).depth[joint - 1])
        total, came = turned(cost, here, after, depth, steps, shut)
        if self.snug and self._would_lie_in(here):
            total = total + BODY
        return np.where(straight <= total, straight, total), np.where(straight <= total, _ALL, came)

    def straight(self, low: int, high: int, first: Clocks, last: Clocks) -> tuple[Visit, ...] | Blocked:
        """Return the shortest way that runs up from one joint to another, or where it ends.

        Args:
            low: joint where it begins.
            high: joint where it ends, above `low`.
            first: cost of coming to each degree at `low`.
            last: cost of leaving from each degree at `high`.
        """
        joints = [low, *(j for j in self.grid.turning_joints if low < j < high), high]
        self.free(low, high)
        cost, trail = first, list[Degrees]()
        for a, b in itertools.pairwise(joints):
            came = cost + self.run(a, b)
            if not np.isfinite(came).any():
                return self._blocked(a, b, cost, a == low and not np.isfinite(first).any())
            cost, step = self.turn(b, came) if b != high else (came + last, _ALL)
            trail.append(step)
        if not np.isfinite(cost).any():
            free, shut = self.free(high - 1, high)[0], not np.isfinite(last).any()
            return Blocked(high - 1, free, at_end=shut, reached=np.isfinite(came))
        clock = int(np.argmin(cost))
        parts: list[list[Visit]] = []
        for a, b, step in zip(joints[-2::-1], joints[:0:-1], reversed(trail), strict=True):
            clock = int(step[clock])
            parts.append([Visit(k, clock, True) for k in range(a, b)])
        return tuple(v for part in reversed(parts) for v in part)

    def _blocked(self, a: int, b: int, cost: Clocks, at_start: bool) -> Blocked:
        """Return the first row of a run in which no degree that was reached so far goes on."""
        reached = np.isfinite(cost)
        for k in range(a, b):
            free = self.free(k, k + 1)[0]
            if not (reached & free).any():
                return Blocked(k, free, at_start=at_start, reached=reached if reached.any() else None)
            reached = reached & free
        return Blocked(b - 1, self.free(b - 1, b)[0], at_start=at_start)

    def roundabout(
        self,
        start: int,
        end: int,
        first: Clocks,
        last: Clocks,
        arrived: bool = False,
        depth: int = 0,
        bends: tuple[Bends, Bends] = (_NO_BENDS, _NO_BENDS),
    ) -> tuple[Visit, ...] | None:
        """Return the shortest way from one joint to another that may run past either and come back.

        Args:
            start: joint where it begins.
            end: joint where it ends.
            first: cost of being at each degree at `start`.
            last: cost of leaving from each degree at `end`.
            arrived: True where the wire comes to `start` along a lane, so that it may turn there.
            depth: how often a way has been begun anew because it met itself.
            bends: of the drops at `start` and at `end`.
        """
        nodes = self._nodes(start, end)
        by_joint = {n.joint: n for n in nodes}
        begin = by_joint[start]
        begin.on = first.copy()
        if arrived:
            begin.on, begin.turned = self.turn(start, first)
            begin.turned = begin.turned.copy()
        begin.begins, begin.bends = np.isfinite(begin.on), bends[0]
        self._sweep(nodes)
        goal = by_joint[end]
        final = goal.came + last + np.where(goal.source < end, bends[1].down, bends[1].up)
        if not np.isfinite(final).any():
            return None
        visits = self._traced(goal, int(np.argmin(final)), by_joint)
        if visits is None:
            return None
        met = self._meets_itself(visits)
        if met is None:
            return visits
        if depth >= 2 or met == 0:
            return None
        return self._begun_anew(visits[:met], end, last, depth, bends[1])

    def _begun_anew(
        self, kept: tuple[Visit, ...], end: int, last: Clocks, depth: int, bends: Bends
    ) -> tuple[Visit, ...] | None:
        """Return a way whose beginning is kept and bars the rest from its own windows."""
        half = self.grid.needs(self.wire).half
        for v in kept:
            if v.tube is None:
                near = 2 * int(half[v.stretch]) + self.wall_degrees(v.stretch)
                self.free(v.stretch, v.stretch + 1)
                self._free[v.stretch, (v.clock + np.arange(-near, near + 1)) % DEGREES] = False
        first = np.full(DEGREES, np.inf)
        first[kept[-1].clock] = 0.0
        rest = self.roundabout(kept[-1].leaves, end, first, last, True, depth + 1, (_NO_BENDS, bends))
        return None if rest is None else (*kept, *rest)

    def wall_degrees(self, row: int) -> int:
        """Return how many degrees a wall beside a window takes in a row, and one more."""
        wall, depth = self.grid.ground.wall, float(self.grid.needs(self.wire).depth[row])
        return 1 + math.ceil(math.degrees(wall / (self.grid.stretches[row].radius - depth)))

    def _meets_itself(self, visits: Sequence[Visit]) -> int | None:
        """Return how many visits may be kept of a way that lies beside itself too closely, or None."""
        half = self.grid.needs(self.wire).half
        seen: dict[int, list[int]] = {}
        for v in visits:
            if v.tube is not None:
                continue
            near = 2 * int(half[v.stretch]) + self.wall_degrees(v.stretch)
            if any(abs(turn_between(c, v.clock)) <= near for c in seen.get(v.stretch, ())):
                back = (n for n in range(1, len(visits)) if visits[n].up != visits[n - 1].up)
                return next(back, 0)
            seen.setdefault(v.stretch, []).append(v.clock)
        return None

    def _nodes(self, start: int, end: int) -> list[_Node]:
        tubes = [j for _, near, far, _ in self.grid.tubes for j in (near, far)]
        joints = sorted({start, end, 0, self.rows, *self.grid.turning_joints, *tubes})
        return [_Node(j, np.full(DEGREES, np.inf), np.full(DEGREES, np.inf)) for j in joints]

    def _sweep(self, nodes: list[_Node]) -> None:
        for n in range(SWEEPS):
            order = nodes if n % 2 == 0 else nodes[::-1]
            changed = False
            for a, b in itertools.pairwise(order):
                changed |= self._relax(a, b)
            changed |= self._through_tubes(nodes, n % 2 == 0)
            if n and not changed:
                return

    def _relax(self, a: _Node, b: _Node) -> bool:
        """Carry costs from one node to its neighbour; say whether any became less."""
        if not np.isfinite(a.on).any():
            return False
        cost = a.on + self.run(min(a.joint, b.joint), max(a.joint, b.joint))
        if a.bends is not _NO_BENDS:
            cost += np.where(a.begins, a.bends.up if b.joint > a.joint else a.bends.down, 0.0)
        better = cost < b.came - 1e-9
        if not better.any():
            return False
        b.came = np.where(better, cost, b.came)
        b.source[better], b.tube[better] = a.joint, -1
        self._go_on(b)
        return True

    def _go_on(self, node: _Node) -> None:
        on, turned_from = self.turn(node.joint, node.came)
        better = on < node.on - 1e-9
        node.on = np.where(better, on, node.on)
        node.turned[better] = turned_from[better]
        node.begins[better] = False

    def _through_tubes(self, nodes: list[_Node], up: bool) -> bool:
        by_joint = {n.joint: n for n in nodes}
        changed = False
        for i, (tube, near, far, key) in enumerate(self.grid.tubes):
            if not self.alone and not self.grid.tube_takes(self.wire, tube, key):
                continue
            if self.alone and self.wire.outer_diameter > tube.bore:
                continue
            a, b = (by_joint[near], by_joint[far]) if up else (by_joint[far], by_joint[near])
            into = a.on + self.mouth_cost(tube, a.joint, near)
            best = int(np.argmin(into))
            if not np.isfinite(into[best]):
                continue
            cost = float(into[best]) + tube.z1 - tube.z0 + self.mouth_cost(tube, b.joint, near)
            better = cost < b.came - 1e-9
            if better.any():
                b.came = np.where(better, cost, b.came)
                b.source[better] = a.joint
                b.tube[better] = i * DEGREES + best
                self._go_on(b)
                changed = True
        return changed

    def mouth_cost(self, tube: TubeLane, joint: int, near: int) -> Clocks:
        """Return the distance from a tube's mouth to each degree at the surface of the hollow beside it, mm."""
        stretch = self.grid.stretches[joint - 1 if joint == near else joint]
        x, y = feet(stretch.radius - self.wire.outer_diameter / 2)
        at = math.radians(tube.clock_deg)
        gap: Clocks = np.hypot(x - tube.radius * math.cos(at), y - tube.radius * math.sin(at))
        return gap

    def _traced(self, goal: _Node, clock: int, by_joint: dict[int, _Node]) -> tuple[Visit, ...] | None:
        visits: list[Visit] = []
        node = goal
        for _ in range(4 * len(by_joint)):
            source = int(node.source[clock])
            if source < 0:
                return None
            up, tube = source < node.joint, int(node.tube[clock])
            before = by_joint[source]
            if tube >= 0:
                lane, near, far, _ = self.grid.tubes[tube // DEGREES]
                visits.insert(0, Visit(near, round(lane.clock_deg) % DEGREES, up, lane, far - 1))
                clock = tube % DEGREES
            else:
                rows = range(source, node.joint) if up else range(source - 1, node.joint - 1, -1)
                visits = [*(Visit(k, clock, up) for k in rows), *visits]
            if before.begins[clock]:
                return tuple(visits)
            clock, node = int(before.turned[clock]), before
        return None


def turned(
    cost: Clocks,
    stretch: Stretch,
    after: Stretch,
    depth: float,
    steps: Steps = ANY_STEP,
    through: Mask | None = None,
) -> tuple[Clocks, Degrees]:
    """Return the cost at each clock when a wire turns in a gallery, and the clock that it came from.

    Turning costs its arc and `TURN_COST`. In a hollow section the wire goes anywhere; a gallery that is cut needs
    a lane's depth all along its arc.

    Args:
        cost: of coming to each degree.
        stretch: before the gallery.
        after: behind the gallery.
        depth: of lane that the wire needs, mm.
        steps: side steps that the wire's bend allows.
        through: degrees that a cut passage can't cross because a wire runs straight on there.
    """
    assert stretch.gallery is not None
    step = math.radians(1.0) * stretch.radius
    shut = np.zeros(DEGREES, dtype=bool)
    if not stretch.gallery.open_room:
        room = min(stretch.radius, after.radius) - stretch.turn_limit >= depth - GRID_ROUNDING
        shut = ~(room & np.roll(room, 1) & np.roll(room, -1))
        if through is not None:
            shut |= through
    if steps.short < min(steps.long, math.pi * stretch.radius):
        long = min(steps.long / step, DEGREES)
        return _some_steps(cost, step, shut, int(steps.short / step), math.ceil(long))
    up, up_from = _carried(cost, step, shut)
    down, mirrored = (x[::-1] for x in _carried(cost[::-1], step, shut[::-1]))
    down_from = DEGREES - 1 - mirrored
    # passages are cut along the shorter arc, so a way round by the longer one is none
    up = np.where((_ALL - up_from) % DEGREES <= DEGREES // 2, up, np.inf)
    down = np.where((down_from - _ALL) % DEGREES < DEGREES // 2, down, np.inf)
    total = np.minimum(up, down) + TURN_COST
    return total, np.where(up <= down, up_from, down_from)


def _some_steps(cost: Clocks, step: float, shut: Mask, most: int, least: int) -> tuple[Clocks, Degrees]:
    """Return the least cost of coming from up to or from a number of degrees away, never across a shut one."""
    origin = np.flatnonzero(np.isfinite(cost))
    if not origin.size:
        return cost, _ALL
    total = cost[origin, None] + step * _steps(most, least)[origin]
    if shut.any():
        count = np.concatenate([[0], np.cumsum(np.concatenate([shut, shut]))])
        ahead = (_ALL - origin[:, None]) % DEGREES
        up = ahead < DEGREES // 2
        first = np.where(up, origin[:, None], _ALL)
        crossed = count[first + np.where(up, ahead, DEGREES - ahead) + 1] - count[first]
        total = np.where(crossed > 0, np.inf, total)
    best = np.argmin(total, axis=0)
    return total[best, _ALL] + TURN_COST, origin[best]


@lru_cache(maxsize=64)
def _steps(most: int, least: int) -> Clocks:
    """Return how many degrees it is from each degree to each, infinite between `most` and `least`."""
    ahead = (_ALL - _ALL[:, None]) % DEGREES
    away = np.minimum(ahead, DEGREES - ahead)
    return np.where((away <= most) | (away >= least), away, np.inf)


def _carried(cost: Clocks, step: float, shut: Mask) -> tuple[Clocks, Degrees]:
    """Return the least cost at each degree of coming from a lower one, never across a shut one.

    Args:
        cost: at each degree.
        step: cost of one degree.
        shut: degrees that can't be crossed.
    """
    index = np.arange(2 * DEGREES)
    twice, own = np.concatenate([cost, cost]), np.concatenate([shut, shut])
    run = np.cumsum(own)
    # a degree of a later run always counts as cheaper, so that none looks back across a shut one
    level = np.where(own, np.inf, twice) - step * index - _DEAR * run
    origin = np.maximum.accumulate(np.where(level <= np.minimum.accumulate(level), index, 0))
    stays = own | (run[origin] != run)
    origin = np.where(stays, index, origin)
    total = twice[origin] + step * (index - origin)
    half = slice(DEGREES, None)
    return total[half], origin[half] % DEGREES


def way_of(
    search: Search, low: PlacedTerminal, high: PlacedTerminal, joints: tuple[int, int]
) -> Laid | Blocked:
    """Return the path of a search's wire between two terminals, or where the straight way ends.

    Args:
        search: of the wire.
        low: terminal of the lower station.
        high: the other.
        joints: joints of stretches at their stations.
    """
    wire = search.wire
    a, b = joints
    first, last = _drop_at(search, low, a), _drop_at(search, high, b)
    search.keep_from_drops(low, high)
    waypoints = _waypoints(search, a, b)
    blocked: Blocked | None = None
    straight: Laid | None = None
    if not waypoints:
        up, down = _bend_cost(search, low, a, True), _bend_cost(search, high, b, False)
        found = (
            search.straight(a, b, first + up, last + down)
            if a < b
            else _at_one_station(search, a, first, last)
        )
        if not isinstance(found, Blocked):
            straight = Laid(wire, found, low, high, along=a < b)
            if a == b or up[found[0].clock] + down[found[-1].clock] == 0.0:
                return straight
        else:
            blocked = found
            if not (np.isfinite(first).any() and np.isfinite(last).any()):
                return blocked
    bends = _bends_at(search, low, a), _bends_at(search, high, b)
    visits = _by_way_of(search, a, b, first, last, waypoints, bends)
    if visits is None and straight is not None:
        return straight
    if visits is None:
        row = min(a, search.rows - 1)
        return blocked or Blocked(row, search.free(row, row + 1)[0])
    return Laid(wire, visits, low, high)


def _bends_at(search: Search, terminal: PlacedTerminal, joint: int) -> Bends:
    """Return what bending from a terminal's drop into a lane costs at each degree, to either side."""
    up, down = (_bend_cost(search, terminal, joint, way) for way in (True, False))
    return _NO_BENDS if up is down else Bends(up, down)


def _bend_cost(search: Search, terminal: PlacedTerminal, joint: int, up: bool) -> Clocks:
    """Return what bending from a terminal's drop into a lane to one side costs at each degree, mm."""
    well = search.grid.bends_well(search.wire, terminal, joint, up)
    return _FREE if well is None else np.where(well, 0.0, SHARP)


def _waypoints(search: Search, a: int, b: int) -> list[int]:
    """Return the joints that a wire has to pass beyond its own ends, in the order of its vias."""
    points = []
    for via in search.wire.via:
        rows = [k for k, s in enumerate(search.grid.stretches) if s.section.name == via.section]
        if rows and rows[-1] < a:
            points.append(rows[0])
        elif rows and rows[0] >= b:
            points.append(rows[-1] + 1)
    return points


def _by_way_of(
    search: Search,
    a: int,
    b: int,
    first: Clocks,
    last: Clocks,
    waypoints: Sequence[int],
    bends: tuple[Bends, Bends],
) -> tuple[Visit, ...] | None:
    """Return a way through all waypoints, each reached before the next is looked for."""
    visits: tuple[Visit, ...] = ()
    at, cost, arrived, leaving = a, first, False, bends[0]
    for point in waypoints:
        # the farthest gallery on the way there is where the wire turns back
        goal = min(search.grid.turning_joints, key=lambda j: abs(j - point), default=point)
        if goal == at:
            continue
        part = search.roundabout(at, goal, cost, np.zeros(DEGREES), arrived, bends=(leaving, _NO_BENDS))
        if part is None:
            return None
        visits += part
        at, arrived, leaving = goal, True, _NO_BENDS
        cost = np.full(DEGREES, np.inf)
        cost[part[-1].clock] = 0.0
        _bar(search, part)
    rest = search.roundabout(at, b, cost, last, arrived, bends=(leaving, bends[1]))
    return None if rest is None else (*visits, *rest)


def _bar(search: Search, visits: Sequence[Visit]) -> None:
    half = search.grid.needs(search.wire).half
    for v in visits:
        if v.tube is None:
            near = 2 * int(half[v.stretch]) + search.wall_degrees(v.stretch)
            search._free[v.stretch, (v.clock + np.arange(-near, near + 1)) % DEGREES] = False


def _at_one_station(search: Search, joint: int, first: Clocks, last: Clocks) -> tuple[Visit, ...] | Blocked:
    """Return the single place at the surface where the drops of two terminals of one station meet."""
    row = min(max(joint - 1, 0), search.rows - 1)
    free = search.free(row, row + 1)[0]
    cost = np.where(free, first + last, np.inf)
    if not np.isfinite(cost).any():
        return Blocked(row, free, not np.isfinite(first).any(), not np.isfinite(last).any())
    return (Visit(row, int(np.argmin(cost)), True),)


def _drop_at(search: Search, terminal: PlacedTerminal, joint: int) -> Clocks:
    """Return what a drop costs at each degree: its length, and that over which it runs close to other classes, mm."""
    grid = search.grid
    row = min(joint, len(grid.stretches) - 1)
    cost = drop_cost(terminal, grid.stretches[row].radius)
    if search.alone:
        return cost
    shut = grid.shut_mouths(search.wire, terminal, row)
    if shut is not None:
        cost[shut] += MOUTH
    close = grid.close_cost(search.wire, terminal, row)
    return cost if close is None else cost + close
