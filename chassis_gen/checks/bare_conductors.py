"""Bare conductors: joints, lugs, cell ends, screws, rods, nuts and a metal tube of different nets, measured apart.

Each bare thing is a small solid at its place; it is shifted by the play that its part was measured to have, and
the way to the next bare thing must stay at least 1 mm, unless one of the two is declared insulated. Pads of one
part keep the distance that its maker gave them and aren't judged.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import combinations

from msgspec import Struct

from chassis_gen.checks.places import place, words
from chassis_gen.checks.result import MeasuredFit, MeasuredPlay, Solids
from chassis_gen.electrics.assembly import nets, tube_terminals
from chassis_gen.findings import Finding, Level, Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import TUBE
from chassis_gen.plan.model import PlacedPart, ScrewHole
from chassis_gen.plan.tube_metal import metal_runs
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Cylinder, Hull
from chassis_gen.tables.electrical import electrical_rule
from chassis_gen.tables.threads import find_thread

_LUGGED = "lug_length"
_NUT = "captive_nut"
_IN_TUBE = "chassis in tube"
_NUT_ACROSS = 2.0
_OPEN: Vec3 = (0.0, 0.0, 0.0)


class Bare(Struct, frozen=True):
    """A bare conductor.

    Args:
        id: terminal, hole or ``tube``.
        owner: part that it moves and is spaced with, or its own id.
        net: name of its net; its own id for a screw or the tube.
        body: its solid, mm.
        at: its middle, mm.
        shifts: where play can take it, mm; the first is no shift.
    """

    id: str
    owner: str
    net: str
    body: Body
    at: Vec3
    shifts: tuple[Vec3, ...]


def check_bare_conductors(
    plan: ChassisPlan,
    solids: Solids,
    plays: tuple[MeasuredPlay, ...],
    fits: tuple[MeasuredFit, ...] = (),
) -> tuple[Finding, ...]:
    """Return findings on bare conductors of different nets that come closer than 1 mm at worst-case play.

    Args:
        plan: the build.
        solids: its solids.
        plays: measured plays.
        fits: measured fits, that of the chassis in its tube among them.
    """
    least = electrical_rule("bare_gap").value
    joints = [b for b in _bare(plan, plays) if not _insulated(plan, b)]
    found = [f for a, b in combinations(joints, 2) if (f := _pair(plan, a, b, least))]
    if metal_runs(plan.tube) and not _sleeved_tube(plan):
        joined = {b.net for b in joints if b.id in tube_terminals(plan)}
        slack = max((f.worst_case[1] for f in fits if f.fit.kind == _IN_TUBE), default=0.0)
        found += [
            f for b in joints if b.net not in joined and (f := _near_tube(plan, solids, b, slack, least))
        ]
    return tuple(found)


def _sleeved_tube(plan: ChassisPlan) -> bool:
    return TUBE in plan.electrics.insulated


def _insulated(plan: ChassisPlan, bare: Bare) -> bool:
    return bool({bare.id, bare.owner} & set(plan.electrics.insulated))


def _bare(plan: ChassisPlan, plays: tuple[MeasuredPlay, ...]) -> Iterator[Bare]:
    net = nets(plan)
    owners = _owners(plan)
    on_tube = set(tube_terminals(plan))
    for t in plan.terminals.values():
        # the maker's own splices and parked plugs are sized over their sleeves
        if t.id in plan.own_terminals and t.id not in on_tube:
            continue
        part = owners.get(t.id)
        shifts = _shifts(part, plays) if part else (_OPEN,)
        body = _joint(t.position, _lug(part, t.id))
        yield Bare(t.id, part.id if part else t.id, net[t.id], body, t.position, shifts)
    for hole in plan.holes:
        metal = _screw(hole)
        if metal is not None:
            middle = hole.frame.point((0.0, 0.0, hole.depth / 2))
            yield Bare(hole.id, hole.id, hole.id, metal, middle, (_OPEN,))


def _owners(plan: ChassisPlan) -> Mapping[str, PlacedPart]:
    """Return the part that each terminal moves with: the longest part id that its name begins with."""
    found = {}
    for t in plan.terminals:
        parts = [p for p in plan.parts if t.startswith(f"{p.id}.")]
        if parts:
            found[t] = max(parts, key=lambda p: len(p.id))
    return found


def _shifts(part: PlacedPart, plays: tuple[MeasuredPlay, ...]) -> tuple[Vec3, ...]:
    """Return where the promised plays take a part; an open way in is closed once the chassis is in its tube."""
    own = [p for p in plays if p.part == part.id and p.expected is not None and p.measured > 0]
    moved = (
        (p.direction[0] * p.measured, p.direction[1] * p.measured, p.direction[2] * p.measured) for p in own
    )
    return (_OPEN, *moved)


def _lug(part: PlacedPart | None, terminal: str) -> Vec3:
    """Return the way from a terminal back along its lug, mm; none where it is a pad or a pole."""
    if part is None or not part.part.has(_LUGGED):
        return _OPEN
    named = part.part.terminal(terminal.removeprefix(f"{part.id}."))
    if named is None:
        return _OPEN
    length = part.part.size(_LUGGED)
    x, y, z = part.frame.vector(named.direction)
    return -x * length, -y * length, -z * length


def _joint(at: Vec3, lug: Vec3) -> Body:
    """Return a soldered joint as a small eight-sided ball, drawn out along its lug."""
    r = electrical_rule("joint_radius").value
    ends = (at, (at[0] + lug[0], at[1] + lug[1], at[2] + lug[2]))
    ways = [(x, y, z) for x in (-r, 0.0, r) for y in (-r, 0.0, r) for z in (-r, 0.0, r) if (x, y, z) != _OPEN]
    on_ball = [tuple(c * r / math.hypot(*w) for c in w) for w in ways]
    points = tuple((e[0] + p[0], e[1] + p[1], e[2] + p[2]) for e in ends for p in on_ball)
    return solid(Hull(points))


def _screw(hole: ScrewHole) -> Body | None:
    """Return the metal in a hole: a bar of the thread's diameter, wider where a nut lies in it."""
    if hole.depth <= 0:
        return None
    radius = find_thread(hole.thread).major_diameter / 2
    wide = radius * _NUT_ACROSS if hole.kind == _NUT else radius
    return solid(Cylinder(wide, 0.0, hole.depth, hole.frame))


def _pair(plan: ChassisPlan, a: Bare, b: Bare, least: float) -> Finding | None:
    if a.owner == b.owner or a.net == b.net or (_is_hole(plan, a) and _is_hole(plan, b)):
        return None
    most = least + _reach(a) + _reach(b)
    if math.dist(a.at, b.at) > most + _size(a.body) + _size(b.body):
        return None
    still = a.body.gap(b.body, most)
    if still >= most:
        return None
    closest = min(a.body.moved(_minus(s, t)).gap(b.body, most) for s in a.shifts for t in b.shifts)
    return None if closest >= least else _finding(f"{a.id} / {b.id}", a.id, b.id, closest, still, least, a.at)


def _is_hole(plan: ChassisPlan, bare: Bare) -> bool:
    return any(h.id == bare.id for h in plan.holes)


def _near_tube(plan: ChassisPlan, solids: Solids, b: Bare, slack: float, least: float) -> Finding | None:
    if _is_hole(plan, b):
        return None
    most = least + slack + _reach(b)
    low, high = b.body.bounds
    margin = most + 1.0
    if not any(z0 - margin < high[2] and low[2] < z1 + margin for z0, z1 in metal_runs(plan.tube)):
        return None
    near = solids.tube.cropped(
        (low[0] - margin, low[1] - margin, low[2] - margin),
        (high[0] + margin, high[1] + margin, high[2] + margin),
    )
    if near.is_empty:
        return None
    still = b.body.gap(near, most)
    closest = min((b.body.moved(s).gap(near, most) for s in b.shifts), default=still) - slack
    if closest >= least:
        return None
    return _finding(f"{b.id} / {TUBE}", b.id, "the conducting tube", max(0.0, closest), still, least, b.at)


def _finding(where: str, a: str, b: str, closest: float, still: float, least: float, at: Vec3) -> Finding:
    level: Level = "warning"
    message = (
        f"{a} and {b} are bare and of different nets; they come within {closest:.2f} mm at worst-case play "
        f"({words(at)}), {least:g} mm is wanted"
    )
    numbers = {"gap": closest, "gap_at_rest": still, "least_gap": least, **place(at)}
    text = f'sleeve one of them and add it to electrics.insulated, such as "{a}"'
    return Finding(level, "bare-close", where, message, numbers, Remedy(None, None, text))


def _reach(bare: Bare) -> float:
    return max(math.hypot(*s) for s in bare.shifts)


def _size(body: Body) -> float:
    return math.dist(*body.bounds) / 2


def _minus(a: Vec3, b: Vec3) -> Vec3:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]
