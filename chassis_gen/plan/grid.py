"""What is taken and what is free: every stretch of the chassis by whole degrees of clock, as arrays.

A row is a stretch, a column a degree. What a wire needs in a row follows from its size; whether its window may
lie there follows from the room over obstacles, from the windows of other wires, and from the classes that
keep apart.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TypeVar

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from chassis_gen.plan.apart import CLOSE, QUIET, Line, close_length, gaps, opposed
from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.cross_section import DEGREES, Clocks, Degrees, Mask, feet
from chassis_gen.plan.drop_bends import even_roofs, place_of, wanted_radius
from chassis_gen.plan.laying import (
    ANY_STEP,
    Ground,
    Laid,
    Steps,
    Stretch,
    Turn,
    Window,
    bend_room,
    closed_fill_of,
    half_degrees,
    is_tunnel,
    side_steps,
    size_for,
    turn_width,
)
from chassis_gen.plan.model import PlacedTerminal, TubeLane
from chassis_gen.plan.sums import GRID
from chassis_gen.shapes.frame import turn_between

GRID_ROUNDING = 2 * GRID
"""A room may be short of a depth by the grid's rounding of the radii that it lies between, mm."""
MOST_LOOSE = 12
"""A wire that lies farther off the sides of its room counts as this far, degrees (chosen)."""
RESERVED = -1
"""Stands for a terminal of the maker's own in the array of wires."""

Rows = NDArray[np.intp]
Each = TypeVar("Each", Mask, Degrees)


class Needs(Struct, frozen=True, eq=False):
    """What a wire of one size needs in each row.

    Args:
        depth: of a lane, mm.
        half: degrees to each side of a window's middle degree.
        sizes: half, depth, and the largest share of a lane that wire may fill, row by row.
    """

    depth: Clocks
    half: Rows
    sizes: tuple[tuple[int, float, float], ...]


class _Passage(Struct, frozen=True):
    """A cut cross passage: its arc in degrees, the depth of its wire, mm, and the wire."""

    turn: Turn
    depth: float
    wire: str


class Grid:
    """The state of laying: windows taken, passages cut, wire tubes filled. It changes as wires are laid."""

    def __init__(self, stretches: Sequence[Stretch], ground: Ground, wires: Sequence[Wire]) -> None:
        self.stretches, self.ground = stretches, ground
        self.wires = {w.id: w for w in wires}
        self.number = {w.id: i + 1 for i, w in enumerate(wires)}
        rows = len(stretches)
        self.windows: dict[int, list[Window]] = {k: [] for k in range(rows)}
        self.turning: dict[int, list[str]] = {k: [] for k in range(rows + 1)}
        self.in_tube: dict[tuple[str, int], list[str]] = {}
        self.taken: NDArray[np.int32] = np.zeros((rows, DEGREES), dtype=np.int32)
        self.depth_at: Clocks = np.zeros((rows, DEGREES))
        self.sought: dict[str, Clocks] = {}
        self.passages: dict[int, list[_Passage]] = {}
        self.laid: dict[str, Laid] = {}
        self.ending: dict[int, dict[str, Laid]] = {}
        self._thickest = max((w.outer_diameter for w in wires), default=1.0)
        self.places = {t.id: t.position for s in ground.sections for t in s.terminals}
        self._bends: dict[tuple[str, float, float, int, int], Mask | None] = {}
        self._needs: dict[tuple[float, float, str], Needs] = {}
        self.radius: Clocks = np.array([s.radius for s in stretches])
        self.closed = np.array([is_tunnel(s.section, ground) for s in stretches])
        self.hollow = np.array([s.hollow for s in stretches])
        self.length: Clocks = np.array([s.z1 - s.z0 for s in stretches])
        room = self.radius[:, None] - np.stack([s.limit for s in stretches])
        self.room: Clocks = np.minimum(room, np.minimum(np.roll(room, 1, 1), np.roll(room, -1, 1)))
        self._reserve()
        self._own = self._unlike()

    def _reserve(self) -> None:
        for r in self.ground.reserved:
            for k, s in enumerate(self.stretches):
                if s.z0 < r.z1 - 1e-9 and s.z1 > r.z0 + 1e-9:
                    half = half_degrees(r.diameter, s.radius - r.diameter)
                    window = Window(r.terminal, round(r.clock) % DEGREES, half, r.diameter, 0.0, 1.0, False)
                    degrees = (window.first + np.arange(window.count)) % DEGREES
                    self.windows[k].append(window)
                    self.taken[k, degrees] = RESERVED
                    self.depth_at[k, degrees] = window.depth

    @cached_property
    def turning_joints(self) -> tuple[int, ...]:
        """Return the joints of stretches at which there is a gallery."""
        last = len(self.stretches) - 1
        return tuple(k + 1 for k, s in enumerate(self.stretches) if s.gallery is not None and k < last)

    @cached_property
    def _even_roofs(self) -> list[tuple[float, float]]:
        return even_roofs(self.stretches, self.ground)

    @cached_property
    def tubes(self) -> tuple[tuple[TubeLane, int, int, tuple[str, int]], ...]:
        """Return the wire tubes with the joints at their ends and their key, those between hollow sections."""
        found = []
        for s in self.ground.sections:
            rows = [k for k, x in enumerate(self.stretches) if x.section.name == s.name]
            near, far = rows[0], rows[-1] + 1
            for i, tube in enumerate(s.tube_lanes):
                open_ends = (
                    near > 0
                    and far < len(self.stretches)
                    and self.stretches[near - 1].hollow
                    and self.stretches[far].hollow
                )
                if open_ends:
                    found.append((tube, near, far, (s.name, i)))
        return tuple(found)

    def tube_takes(self, wire: Wire, tube: TubeLane, key: tuple[str, int]) -> bool:
        """Return whether a wire tube has room for one more wire by the rule for closed lanes."""
        inside = [self.wires[w].outer_diameter for w in self.in_tube.get(key, ())]
        area = sum(d * d for d in (*inside, wire.outer_diameter))
        clearance = wire.outer_diameter <= tube.bore
        return (
            clearance and area <= self.tube_fill(tube, [*self.in_tube.get(key, ()), wire.id]) * tube.bore**2
        )

    def tube_fill(self, tube: TubeLane, wires: Iterable[str]) -> float:
        """Return the largest share of a wire tube that its wires may fill."""
        rules = self.ground.rules
        grip = tube.z1 - tube.z0 > rules.long_closed and any(
            self.wires[w].insulation == "silicone" for w in wires
        )
        return rules.closed_fill_silicone if grip else rules.closed_fill

    def needs(self, wire: Wire) -> Needs:
        """Return what a wire needs in each row."""
        key = (wire.outer_diameter, wire.lane_depth, wire.insulation)
        if key not in self._needs:
            self._needs[key] = self._needs_of(wire)
        return self._needs[key]

    def _needs_of(self, wire: Wire) -> Needs:
        depth, half = np.zeros(len(self.stretches)), np.zeros(len(self.stretches), dtype=np.intp)
        fill = np.full(len(self.stretches), self.ground.rules.open_fill)
        known: dict[tuple[bool, float, float], tuple[float, int]] = {}
        fills: dict[str, float] = {}
        for k, s in enumerate(self.stretches):
            if self.closed[k]:
                name = s.section.name
                fill[k] = fills[name] if name in fills else closed_fill_of(wire, s, self.ground)
                fills[name] = float(fill[k])
            place = (bool(self.closed[k]), float(fill[k]), s.radius)
            if place not in known:
                deep, wide = size_for(wire, place[0], place[1], self.ground)
                known[place] = (deep, half_degrees(wide, s.radius - deep))
            depth[k], half[k] = known[place]
        return Needs(depth, half, tuple(zip(half.tolist(), depth.tolist(), fill.tolist(), strict=True)))

    def bends_well(self, wire: Wire, terminal: PlacedTerminal, joint: int, up: bool) -> Mask | None:
        """Return at which degrees a wire's drop bends well into a lane to one side of a joint; None where all do.

        Args:
            wire: the wire.
            terminal: where the drop begins.
            joint: of stretches at its station.
            up: True where the lane runs to higher stations.
        """
        row = joint if up else joint - 1
        if not self.ground.rules.bend or not 0 <= row < len(self.stretches) or self.hollow[row]:
            return None
        needs, stretch = self.needs(wire), self.stretches[row]
        depth, half = float(needs.depth[row]), int(needs.half[row])
        key = (terminal.id, wire.outer_diameter, depth, half, row)
        if key not in self._bends:
            bottom, until = stretch.radius - depth, self._even_roofs[row][up]
            place = place_of(terminal, wire, stretch, bottom, half, up, until, self.ground)
            well = place.fits(wanted_radius(wire, self.ground), self.ground)
            self._bends[key] = None if well.all() else well
        return self._bends[key]

    # windows -------------------------------------------------------------------------------------

    def free(self, wire: Wire, low: int, high: int, alone: bool = False) -> Mask:
        """Return at which degrees the middle of a wire's window may lie in the rows from `low` to before `high`.

        Args:
            wire: the wire.
            low: first row.
            high: row after the last.
            alone: True to leave other wires out of account.
        """
        needs = self.needs(wire)
        begins = self._begins(low, high)
        rows = low + np.flatnonzero(begins)
        depth, half = needs.depth[rows], needs.half[rows]
        taken = self.taken[rows] if not alone else np.minimum(self.taken[rows], 0)
        occupied = taken != 0
        room = self.room[rows]
        ok = _runs(~occupied & (room >= depth[:, None] - GRID_ROUNDING), 2 * half + 1)
        busy = np.flatnonzero(occupied.any(axis=1) & ~self.hollow[rows])
        if busy.size:
            ok[busy] &= self._beside(rows[busy], occupied[busy], depth[busy], half[busy], alone)
        loud = self._others(wire, taken)
        if loud is not None:
            gap = np.ceil(np.degrees(self.ground.rules.keep_apart / (self.radius[rows] - depth))).astype(int)
            ok &= _rolled(_runs(~loud, 2 * half + 1 + 2 * gap), gap)
        found: Mask = _rolled(ok, half)[np.cumsum(begins) - 1]
        return found

    def _begins(self, low: int, high: int) -> Mask:
        """Return which rows from `low` to before `high` aren't like the row before, as a wire sees them.

        Most rows begin where some wire's terminal stands, and are like the row before while that wire isn't laid.
        """
        begins = np.ones(high - low, dtype=bool)
        taken = self.taken[low:high]
        begins[1:] = self._own[low + 1 : high] | (taken[1:] != taken[:-1]).any(axis=1)
        return begins

    def _unlike(self) -> Mask:
        """Return which rows aren't like the row before, no wire laid: in surface, room, lanes or what is reserved."""
        unlike = np.ones(len(self.stretches), dtype=bool)
        rows = (self.radius[:, None], self.closed[:, None], self.hollow[:, None], self.room, self.depth_at)
        unlike[1:] = np.any([(x[1:] != x[:-1]).any(axis=1) for x in rows], axis=0)
        return unlike

    def _others(self, wire: Wire, taken: NDArray[np.int32]) -> Mask | None:
        """Return which degrees are taken by wires that this one keeps apart from; None where nothing is."""
        if not self.ground.rules.keep_apart or wire.keep_apart is None:
            return None
        numbers = [self.number[w.id] for w in self.opposing(wire)]
        return np.isin(taken, numbers) if numbers else None

    def _beside(self, rows: Rows, occupied: Mask, depth: Clocks, half: Rows, alone: bool) -> Mask:
        """Return where windows keep a wall from all taken ones, or touch lanes that they may join."""
        deepest = self.depth_at[rows].max(axis=1) if not alone else np.zeros(len(rows))
        shared = np.maximum(depth, deepest)
        floor = self.radius[rows] - shared - self.ground.rules.cover
        wall = np.maximum(1, np.ceil(np.degrees(self.ground.wall / floor))).astype(int)
        count = 2 * half + 1
        enough = shared[:, None] - GRID_ROUNDING
        room = self.room[rows]
        deep = room >= enough
        joinable = occupied & ~self.closed[rows, None]
        tight = np.flatnonzero((joinable & ~deep).any(axis=1))
        if tight.size:
            joinable[tight] &= _least_of_runs(occupied[tight], room[tight]) >= enough[tight]
        joins = _runs(deep, count)
        clear = _rolled(_runs(~occupied, count + 2 * wall), wall)
        after = _rolled(joinable, -count) | _runs(_rolled(~occupied, -count), wall)
        mirrored = _rolled(joinable[:, ::-1], -count) | _runs(_rolled(~occupied[:, ::-1], -count), wall)
        before = _rolled(mirrored[:, ::-1], -(count - 1))
        free: Mask = clear | (joins & after & before)
        return free

    def _drops(self, laid: Laid) -> list[Line]:
        """Return the drops of a laid wire."""
        depth, lines = self.needs(laid.wire).depth, []
        for terminal, v in laid.ends:
            radius, a = self.radius[v.stretch] - depth[v.stretch], math.radians(v.clock)
            foot = (radius * math.cos(a), radius * math.sin(a), terminal.position[2])
            lines.append(Line(terminal.position, foot, laid.wire.outer_diameter / 2))
        return lines

    def _lines(self, laid: Laid) -> list[Line]:
        """Return the drops and the lanes of a laid wire."""
        half, lines = laid.wire.outer_diameter / 2, self._drops(laid)
        for v in laid.visits:
            if v.tube is None and laid.along:
                s, a = self.stretches[v.stretch], math.radians(v.clock)
                x, y = (s.radius - half) * math.cos(a), (s.radius - half) * math.sin(a)
                lines.append(Line((x, y, s.z0), (x, y, s.z1), half))
        return lines

    def shut_mouths(self, wire: Wire, terminal: PlacedTerminal, row: int) -> Mask | None:
        """Return at which degrees a drop would end in the mouth of another wire's; None where nowhere.

        A mouth is as wide as its wire, though their lanes may lead away from it to different sides.

        Args:
            wire: the wire.
            terminal: where the drop begins.
            row: of the stretch that it ends in.
        """
        shut = None
        for clock, reach, _ in self._mouths(wire, terminal, row):
            shut = np.zeros(DEGREES, dtype=bool) if shut is None else shut
            shut[(clock + np.arange(-reach, reach + 1)) % DEGREES] = True
        return shut

    def _mouths(self, wire: Wire, terminal: PlacedTerminal, row: int) -> Iterator[tuple[int, int, str]]:
        """Yield clock, degrees to each side that a wire can't end in, and wire of the drops at a terminal's station."""
        half = int(self.needs(wire).half[row])
        z, at = terminal.position[2], self._bin(terminal)
        near = {w: x for k in (at - 1, at, at + 1) for w, x in self.ending.get(k, {}).items()}
        for other in near.values():
            apart = (wire.outer_diameter + other.wire.outer_diameter) / 2
            for t, v in other.ends:
                if abs(t.position[2] - z) < apart:
                    # lanes are wider than their wires: two mouths that share a degree still hold both
                    yield v.clock, half + int(self.needs(other.wire).half[v.stretch]) - 1, other.wire.id

    def _bin(self, terminal: PlacedTerminal) -> int:
        """Return the number of the bin of stations that a terminal lies in: one is as long as wires are thick."""
        return math.floor(terminal.position[2] / self._thickest)

    def opposing(self, wire: Wire) -> list[Wire]:
        """Return the wires of classes that a wire keeps apart from."""
        if not self.ground.rules.keep_apart or wire.keep_apart is None:
            return []
        return [w for w in self.wires.values() if opposed(w, wire)]

    def close_cost(self, wire: Wire, terminal: PlacedTerminal, row: int) -> Clocks | None:
        """Return what running close to wires of other classes costs a drop at each degree, mm.

        Those that aren't laid yet count with their terminals.

        Args:
            wire: the wire.
            terminal: where the drop begins.
            row: of the stretch that it ends in.
        """
        lines = []
        for other in self.opposing(wire):
            if other.id in self.laid:
                lines += self._lines(self.laid[other.id])
            else:
                places = (self.places[t] for t in (other.start, other.end))
                lines += [Line(at, at, other.outer_diameter / 2) for at in places]
        z, reach = terminal.position[2], self.ground.rules.keep_apart + 5.0
        near = [
            x
            for x in lines
            if min(x.start[2], x.end[2]) < z + reach and max(x.start[2], x.end[2]) > z - reach
        ]
        if not near:
            return None
        foot = float(self.radius[row] - self.needs(wire).depth[row])
        return CLOSE * close_length(wire, terminal, foot, near, self.ground.rules.keep_apart)

    def passing_cost(self, wire: Wire, low: int, high: int) -> Clocks | None:
        """Return what passing drops of other classes closely costs a wire at each degree of each row, mm."""
        drops = [x for w in self.opposing(wire) if w.id in self.laid for x in self._drops(self.laid[w.id])]
        if not drops:
            return None
        half = wire.outer_diameter / 2
        cost = np.zeros((high - low, DEGREES))
        for drop in drops:
            z = drop.start[2]
            for k in range(low, high):
                s = self.stretches[k]
                apart = self.ground.rules.keep_apart + half + drop.radius
                if not s.z0 - apart < z < s.z1 + apart:
                    continue
                x, y = feet(s.radius - half)
                away = gaps(np.stack([x, y, np.full(DEGREES, z)], axis=-1), [drop])
                reach = np.sqrt(np.maximum(apart**2 - (away + drop.radius) ** 2, 0.0))
                long = np.minimum(z + reach, s.z1) - np.maximum(z - reach, s.z0)
                cost[k - low] += CLOSE * np.maximum(long, 0.0)
        return cost

    def mate_cost(self, wire: Wire, low: int, high: int, detour: float) -> Clocks | None:
        """Return what lying apart from its bundle costs a wire at each degree of each row, mm."""
        mates = [self.number[w.id] for w in self.wires.values() if w.id != wire.id and w.mates & wire.mates]
        if not mates:
            return None
        theirs = np.isin(self.taken[low:high], mates)
        if not theirs.any():
            return None
        half = self.needs(wire).half[low:high]
        beside = _rolled(theirs, half + 1) | _rolled(theirs, -half - 1)
        any_there = np.asarray(theirs.any(axis=1))[:, None]
        apart: Clocks = np.where(any_there & ~beside, detour, 0.0)
        return apart

    def crowd_cost(self, wire: Wire, low: int, high: int, each: float) -> Clocks:
        """Return what pushing other wires out costs at each degree of each row, mm."""
        crowd = _runs(self.taken[low:high] <= 0, 2 * self.needs(wire).half[low:high] + 1)
        return np.where(_rolled(crowd, self.needs(wire).half[low:high]), 0.0, each)

    def loose_cost(self, wire: Wire, low: int, high: int, each: float) -> Clocks:
        """Return what lying off the sides of the room that is left costs at each degree of each row, mm.

        A wire in the middle of a narrow place leaves too little to both sides of it for another one.

        Args:
            wire: the wire.
            low: first row.
            high: row after the last.
            each: cost of a degree to the nearer side, mm.
        """
        rows = np.arange(low, high)
        needs = self.needs(wire)
        depth, half = needs.depth[rows], needs.half[rows]
        shut = (self.taken[rows] != 0) | (self.room[rows] < depth[:, None] - GRID_ROUNDING)
        above = _since(shut[:, ::-1])[:, ::-1]
        left = _rolled(_since(shut), half) - 1
        right = _rolled(above, -half) - 1
        loose = np.minimum(np.minimum(left, right), MOST_LOOSE)
        cost: Clocks = np.where(self.hollow[rows, None] | ~shut.any(axis=1)[:, None], 0.0, each * loose)
        return cost

    def sought_cost(self, wire: Wire, low: int, high: int, each: float) -> Clocks:
        """Return what lying where others found no way costs at each degree of each row, mm.

        Args:
            wire: the wire.
            low: first row.
            high: row after the last.
            each: cost where one attempt left one wire over, mm.
        """
        half = self.needs(wire).half[low:high]
        others = [s[low:high] for w, s in self.sought.items() if w != wire.id]
        if not others:
            return np.zeros((high - low, DEGREES))
        total = np.cumsum(np.concatenate([np.sum(others, axis=0)] * 3, axis=1), axis=1)
        middle, row = np.arange(DEGREES, 2 * DEGREES), np.arange(high - low)[:, None]
        over = total[row, middle + half[:, None]] - total[row, middle - half[:, None] - 1]
        cost: Clocks = each * over / (2 * half + 1)[:, None]
        return cost

    def seek(self, laid: Laid) -> None:
        """Note where a wire that was left over would lie."""
        half = self.needs(laid.wire).half
        sought = self.sought.setdefault(laid.wire.id, np.zeros((len(half), DEGREES)))
        for v in laid.visits:
            if v.tube is None:
                wide = int(half[v.stretch])
                sought[v.stretch, (v.clock + np.arange(-wide, wide + 1)) % DEGREES] += 1.0

    # turns ---------------------------------------------------------------------------------------

    def steps_at(self, wire: Wire, joint: int, alone: bool = False) -> Steps | None:
        """Return how far a wire may step sideways at a joint of stretches; None where it can't turn.

        Args:
            wire: the wire.
            joint: number of the stretch that begins there.
            alone: True to leave other wires out of account.
        """
        gallery = self.stretches[joint - 1].gallery if joint > 0 else None
        if gallery is None:
            return None
        others = [] if alone else [self.wires[w] for w in self.turning[joint]]
        wall, apart = self.ground.wall, self._apart(wire, others)
        wanted = turn_width(
            [*(w.outer_diameter for w in others), wire.outer_diameter], not gallery.open_room, wall
        )
        if wanted + apart > gallery.width + 1e-9:
            return None
        bends = self.ground.rules.bend
        if not bends:
            return ANY_STEP
        room = gallery.width - apart
        if not gallery.open_room:
            # in a passage that is cut, bent wires lie side by side; in a hollow section over one another
            room -= 0.4 + 2 * wall + sum(w.outer_diameter for w in others)
        thickest = (
            wire.outer_diameter if gallery.open_room else max(w.outer_diameter for w in (*others, wire))
        )
        return side_steps(room, bends * thickest)

    def _apart(self, wire: Wire, others: Sequence[Wire]) -> float:
        """Return the room along the axis that keeping classes apart takes in a gallery, mm."""
        sides = {c in QUIET for w in (*others, wire) if (c := w.keep_apart) is not None}
        return self.ground.rules.keep_apart if len(sides) > 1 else 0.0

    def crossing_bars(self, wire: Wire, joint: int, alone: bool = False) -> Mask | None:
        """Return the degrees at which a wire can't run straight on, because a cut passage crosses too deep."""
        bars = None
        depth = self.needs(wire).depth[joint - 1]
        for p in () if alone else self.passages.get(joint, ()):
            bars = np.zeros(DEGREES, dtype=bool) if bars is None else bars
            arc = (p.turn.low + np.arange(p.turn.span + 1)) % DEGREES
            room = np.minimum(self.room[joint - 1], self.room[min(joint, len(self.room) - 1)])[arc]
            bars[arc] |= room < depth + p.depth - GRID_ROUNDING
        return bars

    def through(self, wire: Wire, joint: int, alone: bool = False) -> Mask:
        """Return the degrees at which a cut passage for a wire would meet a wire that runs straight on."""
        if alone or joint >= len(self.stretches):
            return np.zeros(DEGREES, dtype=bool)
        a, b = self.taken[joint - 1], self.taken[joint]
        room = np.minimum(self.room[joint - 1], self.room[joint])
        depth = self.needs(wire).depth[joint - 1] + self.depth_at[joint]
        barred: Mask = (a == b) & (a > 0) & (room < depth - GRID_ROUNDING)
        return barred

    # laying --------------------------------------------------------------------------------------

    def place(self, laid: Laid) -> None:
        """Take the windows, turns and tubes of a laid wire."""
        wire, needs = laid.wire, self.needs(laid.wire)
        self.laid[wire.id] = laid
        for t in (laid.low, laid.high):
            self.ending.setdefault(self._bin(t), {})[wire.id] = laid
        area = math.pi * wire.outer_diameter**2 / 4
        alike: dict[tuple[int, tuple[int, float, float]], list[int]] = {}
        for v in laid.visits:
            if v.tube is not None:
                key = next(key for tube, _, _, key in self.tubes if tube == v.tube)
                self.in_tube.setdefault(key, []).append(wire.id)
                continue
            alike.setdefault((v.clock, needs.sizes[v.stretch]), []).append(v.stretch)
        for (clock, (half, depth, fill)), rows in alike.items():
            window = Window(wire.id, clock, half, depth, area, fill, laid.along)
            for k in rows:
                self.windows[k].append(window)
            where = np.array(rows)[:, None], (clock + np.arange(-half, half + 1)) % DEGREES
            self.taken[where] = self.number[wire.id]
            self.depth_at[where] = depth
        for turn in laid.turns:
            self.turning[turn.joint].append(wire.id)
            gallery = self.stretches[turn.joint - 1].gallery
            if gallery is not None and not gallery.open_room:
                passage = _Passage(turn, float(needs.depth[turn.joint - 1]), wire.id)
                self.passages.setdefault(turn.joint, []).append(passage)

    def remove(self, laid: Laid) -> None:
        """Give back what a laid wire took."""
        id, number = laid.wire.id, self.number[laid.wire.id]
        del self.laid[id]
        for t in (laid.low, laid.high):
            self.ending[self._bin(t)].pop(id, None)
        for v in laid.visits:
            if v.tube is not None:
                for inside in self.in_tube.values():
                    inside[:] = [w for w in inside if w != id]
                continue
            self.windows[v.stretch] = [w for w in self.windows[v.stretch] if w.wire != id]
            mine = self.taken[v.stretch] == number
            self.taken[v.stretch][mine] = 0
            self.depth_at[v.stretch][mine] = 0.0
        for turn in laid.turns:
            self.turning[turn.joint] = [w for w in self.turning[turn.joint] if w != id]
            self.passages[turn.joint] = [p for p in self.passages.get(turn.joint, ()) if p.wire != id]

    def in_the_way(self, laid: Laid) -> tuple[str, ...]:
        """Return the wires whose windows, turns or tubes bar a path, in the order of their laying."""
        needs, found = self.needs(laid.wire), dict[str, None]()
        for v in laid.visits:
            if v.tube is not None:
                found.update(dict.fromkeys(w for inside in self.in_tube.values() for w in inside))
                continue
            k, half = v.stretch, int(needs.half[v.stretch])
            floor = self.stretches[k].radius - max(float(needs.depth[k]), float(self.depth_at[k].max()))
            gap = max(self.ground.wall, self.ground.rules.keep_apart)
            near = half + math.ceil(math.degrees(gap / (floor - self.ground.rules.cover))) + 1
            degrees = (v.clock + np.arange(-near, near + 1)) % DEGREES
            found.update(dict.fromkeys(int_ids(self.taken[k, degrees], self.windows[k], self.number)))
        for turn in laid.turns:
            found.update(dict.fromkeys(self.turning[turn.joint]))
            if not self.stretches[turn.joint - 1].hollow:
                arc = (turn.low + np.arange(turn.span + 1)) % DEGREES
                row = self.taken[turn.joint - 1, arc]
                found.update(dict.fromkeys(int_ids(row, self.windows[turn.joint - 1], self.number)))
        for terminal, v in laid.ends:
            for clock, reach, w in self._mouths(laid.wire, terminal, v.stretch):
                if abs(turn_between(v.clock, clock)) <= reach:
                    found[w] = None
        return tuple(found)


def int_ids(taken: NDArray[np.int32], windows: Sequence[Window], number: Mapping[str, int]) -> list[str]:
    """Return the ids of the wires whose numbers stand in a row of degrees.

    Args:
        taken: the degrees.
        windows: of the whole row.
        number: of each wire.
    """
    there = set(taken[taken > 0].tolist())
    return [w.wire for w in windows if number.get(w.wire) in there]


def _since(shut: Mask) -> Degrees:
    """Return at each degree how many degrees ago the last shut one was, round the circle (0 at one itself)."""
    index = np.arange(2 * DEGREES)
    last = np.maximum.accumulate(np.where(np.concatenate([shut, shut], axis=1), index, -DEGREES), axis=1)
    since: Degrees = (index - last)[:, DEGREES:]
    return since


def _each(mask: Each, values: Rows, made: Callable[[Each, int], Each]) -> Each:
    """Return a mask made row by row with a value of each row's own."""
    distinct = set(values.tolist())
    if len(distinct) == 1:
        return made(mask, distinct.pop())
    out = np.empty_like(mask)
    for value in sorted(distinct):
        rows = np.flatnonzero(values == value)
        out[rows] = made(mask[rows], value)
    return out


def _rolled(mask: Each, by: Rows) -> Each:
    """Return each row turned by its own number of degrees."""
    return _each(mask, by, _roll)


def _roll(mask: Each, by: int) -> Each:
    cut = -by % DEGREES
    return np.concatenate([mask[:, cut:], mask[:, :cut]], axis=1) if cut else mask


def _runs(good: Mask, count: Rows) -> Mask:
    """Return at which degrees of each row a run of `count` good degrees begins."""
    return _each(good, count, _runs_of)


def _runs_of(good: Mask, count: int) -> Mask:
    if count >= DEGREES:
        return np.repeat(good.all(axis=1, keepdims=True), DEGREES, axis=1)
    # runs of 1, 2, 4, ... degrees, each of two of the size before, and one more that overlaps to fill the count
    run, size = np.concatenate([good, good[:, :count]], axis=1), 1
    while size * 2 <= count:
        run = run[:, :-size] & run[:, size:]
        size *= 2
    if size < count:
        run = run[:, : -(count - size)] & run[:, count - size :]
    return run[:, :DEGREES]


def _least_of_runs(occupied: Mask, values: Clocks) -> Clocks:
    """Return at every degree the least value over the run of equal degrees that it belongs to, round the circle."""
    rows = len(occupied)
    starts = np.ones((rows, DEGREES), dtype=bool)
    starts[:, 1:] = occupied[:, 1:] != occupied[:, :-1]
    at = np.flatnonzero(starts)
    least = np.minimum.reduceat(values.ravel(), at)
    run = np.cumsum(starts.ravel()) - 1
    first, last = run[::DEGREES], run[DEGREES - 1 :: DEGREES]
    wraps = occupied[:, 0] == occupied[:, -1]
    both = np.minimum(least[first], least[last])
    least[first[wraps]] = both[wraps]
    least[last[wraps]] = both[wraps]
    found: Clocks = least[run].reshape(rows, DEGREES)
    return found


def step_room(turns: Sequence[tuple[float, float]], bends: float) -> float:
    """Return the length along the axis that the widest of several side steps takes, mm.

    Args:
        turns: arc and outside diameter of each wire, mm.
        bends: least radius of a wire's middle line in its outside diameters.
    """
    return max((bend_room(arc, bends * d) for arc, d in turns), default=0.0) if bends else 0.0
