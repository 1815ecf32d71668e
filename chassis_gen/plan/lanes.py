"""Lanes: a path for every wire through grooves, galleries and drops, on one grid of whole degrees of clock.

The stations of terminals, galleries and section joints cut the chassis into *stretches*. Within a stretch a
wire keeps its clock; at a gallery it may change it. `chassis_gen.plan.search` finds one wire's shortest path over
what `chassis_gen.plan.grid` says is free. Wires are laid thickest first; a wire that finds no way then pushes
out those that bar its shortest one, and they are laid again, as long as fewer wires are left over by it. Where
some are left even then, all are laid anew in another order, with costs that tell of the attempts before.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.plan.apart import CLOSE, close_lengths, close_runs
from chassis_gen.plan.bodies import placed_bodies
from chassis_gen.plan.chassis import Lane, Wire
from chassis_gen.plan.cross_section import DEGREES, innermost_lane_radius
from chassis_gen.plan.drop_bends import drop_bends
from chassis_gen.plan.grid import Grid
from chassis_gen.plan.lane_cuts import lane_cuts
from chassis_gen.plan.laying import Ground, Laid, Stretch, Window, Wiring, is_tunnel
from chassis_gen.plan.model import Gallery, Obstacle, Outer, PlacedTerminal, Sector
from chassis_gen.plan.no_way import no_way
from chassis_gen.plan.routes import finished, route_of
from chassis_gen.plan.search import SHARP, Blocked, Search, way_of
from chassis_gen.plan.sharp_bends import sharp_bends
from chassis_gen.plan.sums import on_grid

MOST_RIPS = 3
"""How often one wire may push others out (chosen)."""
MOST_LAID = 300
"""How many wires such attempts lay together at most, so that many wires aren't laid anew for long (chosen)."""
MOST_LEFT = 4
"""Where more wires than this are left over, laying them anew isn't tried (chosen)."""
EASE_TRIES = 2
"""How often such an order is tried with those first that it leaves over (chosen)."""
LEAST_EASE = 30.0
"""How much less uneasy a state has to be to be taken, mm (chosen)."""


def lay_wires(wires: Sequence[Wire], ground: Ground) -> Wiring:
    """Return a path for every wire, the lanes that carry them and the cuts that make them.

    Args:
        wires: all with known terminals.
        ground: the planned sections.
    """
    if not wires:
        return Wiring((), (), {}, ())
    terminals = {t.id: t for s in ground.sections for t in s.terminals}
    stretches = _stretches(ground, wires, terminals)
    laying = _Laying(wires, stretches, terminals, ground)
    laid, windows, failures = laying.best()
    ordered = sorted(laid, key=lambda x: wires.index(x.wire))
    lanes = (*_lanes(stretches, windows, ground), *_tube_lanes(ordered, laying.grid))
    bends = drop_bends(ordered, lanes, stretches, ground)
    cuts = lane_cuts(ordered, lanes, stretches, ground, bends)
    own: dict[str, list[Lane]] = {}
    for lane in lanes:
        for w in lane.wires:
            own.setdefault(w, []).append(lane)
    routes = [route_of(x, stretches, ground, own) for x in ordered]
    bodies, body_steps, body_findings = placed_bodies(routes, ordered, windows, stretches, ground)
    routes, relief_steps, route_findings = finished(routes, ordered, lanes, bodies, stretches, ground, bends)
    steps = {
        name: (*cuts.get(name, ()), *body_steps.get(name, ()), *relief_steps.get(name, ()))
        for name in dict.fromkeys((*cuts, *body_steps, *relief_steps))
    }
    return Wiring(
        tuple(routes),
        lanes,
        steps,
        (
            *(failures[w.id] for w in wires if w.id in failures),
            *sharp_bends(bends, ordered, laying.grid),
            *close_runs(routes, ground),
            *body_findings,
            *route_findings,
        ),
        tuple(w for w in wires if w.id in failures),
        bodies,
    )


def wire_lengths(
    pairs: Sequence[tuple[str, str]], like: Wire, ground: Ground
) -> dict[tuple[str, str], float]:
    """Return how long a wire between each pair of terminals is when nothing else lies in the lanes, mm.

    Args:
        pairs: terminal ids.
        like: a wire of the size that is meant.
        ground: the planned sections.
    """
    terminals = {t.id: t for s in ground.sections for t in s.terminals}
    wires = [replace(like, id=f"{a} / {b}", start=a, end=b) for a, b in pairs]
    stretches = _stretches(ground, wires, terminals)
    grid = Grid(stretches, ground, wires)
    joints = _Joints(stretches)
    lengths = {}
    for wire in wires:
        low, high = _ends(wire, terminals)
        found = way_of(Search(grid, wire, alone=True), low, high, (joints(low), joints(high)))
        far = math.dist(low.position, high.position)
        # where there is no way, the pair comes after all that have one
        lengths[wire.start, wire.end] = (
            10 * far + 1e4 if isinstance(found, Blocked) else route_of(found, stretches, ground).length
        )
    return lengths


def _stretches(
    ground: Ground, wires: Sequence[Wire], terminals: Mapping[str, PlacedTerminal]
) -> tuple[Stretch, ...]:
    """Return the stretches between all breakpoints, with the room for lanes in each."""
    stations = [terminals[t].position[2] for w in wires for t in (w.start, w.end)]
    stations += [z for r in ground.reserved for z in (r.z0, r.z1)]
    found = []
    for s in ground.sections:
        marks = (
            {s.z0, s.z1}
            | {z for z in stations if s.z0 < z < s.z1}
            | {g.z for g in s.galleries if s.z0 < g.z < s.z1}
        )
        ordered = _apart(sorted(marks))
        obstacles = (*s.obstacles, *ground.blocked)
        for a, b in itertools.pairwise(ordered):
            limit = innermost_lane_radius(obstacles, a, b, ground.wall)
            gallery = _gallery_at(s.galleries, b)
            half = max(gallery.width / 2 - ground.wall, 0.0) if gallery else 0.0
            turn_limit = (
                innermost_lane_radius(obstacles, b - half, b + half, ground.wall) if gallery else limit
            )
            radius = ground.outer.smallest_radius(a, b)
            if is_tunnel(s, ground):
                under = (r for z0, z1, r in s.recesses if z0 - ground.wall < b and z1 + ground.wall > a)
                radius = min(radius, min(under, default=radius))
            found.append(Stretch(s, a, b, radius, limit, gallery, turn_limit))
    return tuple(found)


def _apart(marks: Sequence[float]) -> list[float]:
    """Return ascending stations without those that are the one before but for rounding."""
    kept = [marks[0]]
    for z in marks[1:]:
        if z - kept[-1] > 1e-6:
            kept.append(z)
    kept[-1] = marks[-1]
    return kept


def _gallery_at(galleries: Sequence[Gallery], z: float) -> Gallery | None:
    """Return the gallery at a station, the roomiest where there are several."""
    here = (g for g in galleries if abs(g.z - z) < 1e-6)
    return max(here, key=lambda g: (g.open_room, g.width), default=None)


class _Joints:
    """Finds the joint of stretches at a terminal's station."""

    def __init__(self, stretches: Sequence[Stretch]) -> None:
        self._stations = np.array([stretches[0].z0, *(s.z1 for s in stretches)])

    def __call__(self, terminal: PlacedTerminal) -> int:
        return int(np.argmin(np.abs(self._stations - terminal.position[2])))


def _ends(wire: Wire, terminals: Mapping[str, PlacedTerminal]) -> tuple[PlacedTerminal, PlacedTerminal]:
    low, high = sorted((terminals[wire.start], terminals[wire.end]), key=lambda t: t.position[2])
    return low, high


class _State(Struct, frozen=True):
    """Wires laid, those left over, and those with bodies that found no place."""

    laid: tuple[Laid, ...]
    left: tuple[str, ...]
    bodies: tuple[str, ...] = ()

    @property
    def faults(self) -> tuple[int, int]:
        return len(self.left), len(self.bodies)


class _Laying:
    """Wires laid one after the other, with the best state that was come to."""

    def __init__(
        self,
        wires: Sequence[Wire],
        stretches: Sequence[Stretch],
        terminals: Mapping[str, PlacedTerminal],
        ground: Ground,
    ) -> None:
        self.wires, self.stretches, self.ground = wires, stretches, ground
        self.order = sorted(wires, key=lambda w: (-w.outer_diameter, w.id))
        self.ends = {w.id: _ends(w, terminals) for w in wires}
        at = _Joints(stretches)
        self.joints = {w: (at(low), at(high)) for w, (low, high) in self.ends.items()}
        self.grid = Grid(stretches, ground, wires)
        self.laid: dict[str, Laid] = {}
        self.left: dict[str, None] = {}
        self.snug = False

    def best(self) -> tuple[tuple[Laid, ...], dict[int, list[Window]], dict[str, Finding]]:
        """Return the paths, windows and failures of the state that leaves the fewest wires over.

        Where few are left over, all are laid anew: those first that found no way, the others at some cost where
        those would lie, and closer to the sides of their room.
        """
        best = state = self._laid_in(self.order, MOST_RIPS)
        hopeless = [w for w in best.left if isinstance(self._way(self._wire(w), True), Blocked)]
        weight: dict[str, int] = {}
        for _ in range(min(self.ground.attempts, MOST_LAID // len(self.wires))):
            if best.faults == (len(hopeless), 0) or len(best.left) - len(hopeless) > MOST_LEFT:
                break
            self._seek(state, weight)
            self.snug = True
            order = sorted(self.order, key=lambda w: -weight.get(w.id, 0))
            state = self._laid_in(order, 1)
            best = min(best, state, key=lambda s: s.faults)
        best = self._eased(best) if self.ground.attempts else best
        self._lay_again(best)
        # what was over while the state was made may have a way now that all else lies as it does
        over = [w for w in best.left if not self._try(self._wire(w))]
        failures = {w: self._no_way(self._wire(w)) for w in over}
        windows = {k: list(v) for k, v in self.grid.windows.items()}
        return tuple(self.laid.values()), windows, failures

    def _eased(self, best: _State) -> _State:
        """Return a state with fewer sharp bends and less that runs close to other classes, if there is one.

        What is uneasy in a state is laid before everything else, in its own order and the other way round.
        """
        worst = self._unease(best)
        uneasy = [w for w in self.order if w.id in worst]
        for turned in (False, True) if uneasy else ():
            first = uneasy[::-1] if turned else uneasy
            for _ in range(EASE_TRIES):
                state = self._laid_in([*first, *(w for w in self.order if w not in first)], 1)
                if state.faults <= best.faults:
                    now = self._unease(state)
                    if sum(now.values()) < sum(worst.values()) - LEAST_EASE:
                        return state
                    break
                over = [self._wire(w) for w in dict.fromkeys((*state.left, *state.bodies))]
                first = [*over, *(w for w in first if w not in over)]
        return best

    def _unease(self, state: _State) -> dict[str, float]:
        """Return by wire what a state's sharp bends and what runs close to other classes count, mm."""
        found: dict[str, float] = {}
        for x in state.laid:
            (a, b), first, last = self.joints[x.wire.id], x.visits[0], x.visits[-1]
            ends = ((x.low, a, first.up, first.clock), (x.high, b, not last.up, last.clock))
            for terminal, joint, up, clock in ends if x.along else ():
                well = self.grid.bends_well(x.wire, terminal, joint, up)
                if well is not None and not well[clock]:
                    found[x.wire.id] = found.get(x.wire.id, 0.0) + SHARP
        kept = [x for x in state.laid if self.grid.opposing(x.wire)]
        close = close_lengths([route_of(x, self.stretches, self.ground) for x in kept], self.ground)
        for pair, length in close.items():
            for w in pair:
                found[w] = found.get(w, 0.0) + CLOSE * length / 2
        return found

    def _seek(self, state: _State, weight: dict[str, int]) -> None:
        """Note where the wires that a state leaves over would lie, and count them."""
        self._lay_again(state)
        for w in (*state.left, *state.bodies):
            weight[w] = weight.get(w, 0) + 1
            wanted = self._way(self._wire(w), alone=True, crowd=True)
            if isinstance(wanted, Laid):
                self.grid.seek(wanted)

    def _laid_in(self, order: Sequence[Wire], most_rips: int) -> _State:
        """Return the best state that laying in an order comes to, wires left over pushing others out."""
        self._lay_again(_State((), ()))
        for wire in order:
            self._try(wire)
        state = self._state()
        rips: dict[str, int] = {}
        queue = [w for w in self.order if w.id in self.left]
        while queue:
            wire = queue.pop(0)
            rips[wire.id] = rips.get(wire.id, 0) + 1
            pushed = self._push_in(wire) if rips[wire.id] <= most_rips else []
            again = [w for w in pushed if not self._try(w)]
            queue += [w for w in again if w not in queue]
            if len(self.left) < len(state.left):
                state = self._state()
        return replace(state, bodies=self._bodies_over(state))

    def _state(self) -> _State:
        return _State(tuple(self.laid.values()), tuple(self.left))

    def _lay_again(self, state: _State) -> None:
        """Take all wires up and lay those of a state, unless just those lie there."""
        if (tuple(self.laid.values()), tuple(self.left)) == (state.laid, state.left):
            return
        for x in self.laid.values():
            self.grid.remove(x)
        self.laid = {x.wire.id: x for x in state.laid}
        self.left = dict.fromkeys(state.left)
        for x in state.laid:
            self.grid.place(x)

    def _bodies_over(self, state: _State) -> tuple[str, ...]:
        """Return the wires of a state with splices or other bodies that have no room on their way."""
        if not any(w.in_line for w in self.wires):
            return ()
        self._lay_again(state)
        routes = [route_of(x, self.stretches, self.ground) for x in state.laid]
        _, _, found = placed_bodies(routes, state.laid, self.grid.windows, self.stretches, self.ground)
        return tuple(f.where for f in found)

    def _wire(self, id: str) -> Wire:
        return self.grid.wires[id]

    def _way(self, wire: Wire, alone: bool = False, crowd: bool = False) -> Laid | Blocked:
        low, high = self.ends[wire.id]
        return way_of(Search(self.grid, wire, alone, crowd, self.snug), low, high, self.joints[wire.id])

    def _no_way(self, wire: Wire) -> Finding:
        """Return why a wire that was left over has no way."""
        found = self._way(wire)
        assert isinstance(found, Blocked)
        return no_way(wire, found, self.ends[wire.id], self.grid, self._way(wire, True))

    def _try(self, wire: Wire) -> bool:
        """Lay a wire if there is a way for it, else leave it over."""
        found = self._way(wire)
        if isinstance(found, Blocked):
            self.left[wire.id] = None
            return False
        self.left.pop(wire.id, None)
        self.laid[wire.id] = found
        self.grid.place(found)
        return True

    def _push_in(self, wire: Wire) -> list[Wire]:
        """Lay a wire where others lie that bar it, and return those, thickest first."""
        wanted = self._way(wire, alone=True, crowd=True)
        if isinstance(wanted, Blocked):
            return []
        barring = [w for w in self.grid.in_the_way(wanted) if w in self.laid and w != wire.id]
        taken_up = [self.laid.pop(w) for w in barring]
        for x in taken_up:
            self.grid.remove(x)
        if not self._try(wire):
            for x in taken_up:
                self.laid[x.wire.id] = x
                self.grid.place(x)
            return []
        out = [x.wire for x in taken_up]
        return sorted(out, key=self.order.index)


def _lane_depth(stretch: Stretch, group: Sequence[Window], ground: Ground) -> float:
    """Return a lane's depth: what its thickest wire needs, and a cover where there is room, mm."""
    need = max(w.depth for w in group)
    if is_tunnel(stretch.section, ground):
        return need
    first, last = group[0].first - 1, group[-1].first + group[-1].count + 1
    span = (last - first) % DEGREES or DEGREES
    room = stretch.radius - float(np.max(stretch.limit[(first + np.arange(span)) % DEGREES]))
    return max(need, min(room, need + ground.rules.cover))


def _groups(windows: Sequence[Window], closed: bool) -> list[list[Window]]:
    """Return windows grouped into lanes: those that touch share an open lane, closed ones stay apart."""
    groups: list[list[Window]] = []
    for w in sorted(windows, key=lambda w: w.first % DEGREES):
        touching = groups and (groups[-1][-1].first + groups[-1][-1].count) % DEGREES == w.first % DEGREES
        if touching and not closed:
            groups[-1].append(w)
        else:
            groups.append([w])
    if len(groups) > 1 and not closed:
        last = groups[-1][-1]
        if (last.first + last.count) % DEGREES == groups[0][0].first % DEGREES:
            groups[0] = groups.pop() + groups[0]
    return groups


def _lanes(
    stretches: Sequence[Stretch], windows: Mapping[int, Sequence[Window]], ground: Ground
) -> tuple[Lane, ...]:
    """Return the lanes of every stretch that isn't hollow; one that goes on unchanged is one lane."""
    lanes: list[Lane] = []
    ends: list[float] = []
    numbers: dict[str, int] = {}
    running: dict[tuple[Window, ...], int] = {}
    for k, stretch in enumerate(stretches):
        before = running if k and _alike(stretches[k - 1], stretch, ground) else {}
        running = {}
        if stretch.hollow or not windows[k]:
            continue
        closed = is_tunnel(stretch.section, ground)
        for group in _groups([w for w in windows[k] if w.along], closed):
            key = tuple(group)
            at = before.get(key)
            if at is None:
                number = numbers[stretch.section.name] = numbers.get(stretch.section.name, 0) + 1
                at = len(lanes)
                lanes.append(_lane(f"{stretch.section.name} lane {number}", stretch, group, closed, ground))
                ends.append(stretch.z1)
            ends[at] = stretch.z1
            running[key] = at
    return tuple(replace(lane, z1=end) for lane, end in zip(lanes, ends, strict=True))


def _alike(a: Stretch, b: Stretch, ground: Ground) -> bool:
    """Return whether a lane of one stretch is the same lane in the next."""
    same = a.section is b.section and a.radius == b.radius and bool((a.limit == b.limit).all())
    outer = ground.outer
    return same and outer.largest_radius(a.z0, a.z1) == outer.largest_radius(b.z0, b.z1)


def _lane(id: str, stretch: Stretch, group: Sequence[Window], closed: bool, ground: Ground) -> Lane:
    depth = _lane_depth(stretch, group, ground)
    first, count = group[0].first, sum(w.count for w in group)
    bottom = stretch.radius - depth
    width = math.radians(count) * bottom
    space = math.pi * (depth - ground.wall) ** 2 / 4 if closed else width * depth
    return Lane(
        id,
        stretch.section.name,
        first - 0.5,
        first + count - 0.5,
        stretch.z0,
        stretch.z1,
        on_grid(bottom),
        stretch.radius if closed else ground.outer.largest_radius(stretch.z0, stretch.z1),
        tuple(w.wire for w in group),
        closed,
        sum(w.area for w in group) / space,
        min(w.fill_limit for w in group),
    )


def _tube_lanes(laid: Sequence[Laid], grid: Grid) -> tuple[Lane, ...]:
    """Return the wire tubes that carry wires, as closed lanes that need no cutting."""
    lanes = []
    for tube, _, _, key in grid.tubes:
        inside = [x.wire for x in laid if any(v.tube == tube for v in x.visits)]
        if not inside:
            continue
        half = math.degrees(math.asin(min(1.0, tube.bore / 2 / max(tube.radius, tube.bore / 2))))
        fill = sum(w.outer_diameter**2 for w in inside) / tube.bore**2
        lanes.append(
            Lane(
                f"{tube.section} tube {key[1] + 1}",
                tube.section,
                tube.clock_deg - half,
                tube.clock_deg + half,
                tube.z0,
                tube.z1,
                tube.radius - tube.bore / 2,
                # closed lanes are looked for under a wall
                tube.radius + tube.bore / 2 + grid.ground.wall,
                tuple(w.id for w in inside),
                True,
                fill,
                grid.tube_fill(tube, (w.id for w in inside)),
                tube=True,
            )
        )
    return tuple(lanes)


def whole_chassis_obstacles(
    outer: Outer, openings: Sequence[tuple[float, float, float, float]], z0: float, z1: float
) -> tuple[Obstacle, ...]:
    """Return what bars lanes over the whole chassis: the printing flat and the tube's openings.

    Args:
        outer: the outer surface.
        openings: (station, clock, radius, surface radius) of each opening, mm and degrees.
        z0: near end of the chassis, mm.
        z1: far end, mm.
    """
    found = []
    if outer.flat_distance is not None:
        widest = max(s.radius for s in outer.steps)
        half = math.degrees(math.acos(min(1.0, outer.flat_distance / widest))) + 2.0
        found.append(
            Obstacle(Sector(outer.flat_clock - half, outer.flat_clock + half), z0, z1, "printing flat")
        )
    for station, clock, radius, surface in openings:
        half = math.degrees(math.asin(min(1.0, (radius + 1.0) / surface)))
        found.append(
            Obstacle(Sector(clock - half, clock + half), station - radius, station + radius, "tube opening")
        )
    return tuple(found)
