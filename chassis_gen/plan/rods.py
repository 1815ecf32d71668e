"""Rods of a build: their holes, obstacles and hardware, added to the sections that they go through."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from chassis_gen.findings import Finding
from chassis_gen.params.codes import Rejection
from chassis_gen.params.rods import RodTable
from chassis_gen.parts.extent import extent_of
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.laying import Wiring
from chassis_gen.plan.model import Disc, Outer, PlacedPart, PlacedTerminal, SectionPlan
from chassis_gen.problems import InputError, nearest_name
from chassis_gen.sections.base import Setting
from chassis_gen.sections.features.rod_holes import RodPlan, RodSpan, RodWish, plan_rods
from chassis_gen.shapes.frame import Frame, Vec3, unit
from chassis_gen.shapes.primitives import Cylinder, Primitive, Ring
from chassis_gen.shapes.recipe import Step
from chassis_gen.tables.threads import find_thread

STEP = 0.5
"""How close along a rod it is looked for in parts, mm."""
DROP_HALF = 0.9
"""Half the width of a drop's channel, mm: that of a silicone AWG 24 wire and its room; thicker wires are held to
their walls by the check of the solids."""


@dataclass(frozen=True)
class Rods:
    """Sections with their rods' holes, and the steps that cut them by section name."""

    sections: tuple[SectionPlan, ...]
    steps: Mapping[str, tuple[Step, ...]]


def rod_features(
    inputs: BuildInputs,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    outer: Outer,
    setting: Setting,
    gathering: Gathering,
) -> Rods:
    """Return the sections with holes, obstacles, hardware and findings of the build's rods.

    Args:
        inputs: the build's files.
        sections: all planned sections, in file order.
        hosts: for each companion the section that it stands beside; rods go through hosts.
        outer: the chassis's outer surface.
        setting: see `Setting`.
        gathering: takes unknown sections and threads.
    """
    rods = [
        (table, plan)
        for i, table in enumerate(inputs.build.rod)
        if (plan := _planned(inputs, i, table, sections, hosts, outer, setting, gathering))
    ]
    steps: dict[str, tuple[Step, ...]] = {}
    for _, plan in rods:
        for name, more in plan.steps.items():
            steps[name] = steps.get(name, ()) + more
    return Rods(
        tuple(_with_rods(s, sections, hosts, rods, setting.rules.least_wall) for s in sections), steps
    )


def with_rod_steps(wiring: Wiring, rods: Rods) -> Wiring:
    """Return a wiring whose steps also cut the rods' holes, after the lanes.

    Args:
        wiring: as it was laid.
        rods: from `rod_features`.
    """
    names = dict.fromkeys((*wiring.steps, *rods.steps))
    steps = {n: (*wiring.steps.get(n, ()), *rods.steps.get(n, ())) for n in names}
    return replace(wiring, steps=steps)


def _planned(
    inputs: BuildInputs,
    i: int,
    table: RodTable,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    outer: Outer,
    setting: Setting,
    gathering: Gathering,
) -> RodPlan | None:
    in_line = [s for s in sections if s.name not in hosts]
    names = [s.name for s in in_line]
    ends = []
    for key, name, usual in (("from", table.start, names[0]), ("to", table.end, names[-1])):
        if name is not None and name not in names:
            rejection = Rejection(
                "unknown-name",
                f'there is no section "{name}" in line',
                ", ".join(names),
                nearest_name(name, names),
            )
            gathering.reject(inputs, ("rod", i, key), rejection)
            return None
        ends.append(names.index(name or usual))
    if ends[0] > ends[1]:
        why = f'"{table.end}" comes before "{table.start}"'
        gathering.reject(inputs, ("rod", i, "to"), Rejection("not-allowed", why, "a section further in"))
        return None
    spans = [RodSpan(s.name, s.piece, *s.plate) for s in in_line[ends[0] : ends[1] + 1]]
    wish = RodWish(
        table.name,
        table.thread,
        table.clocks_deg,
        table.circle_diameter,
        table.near_end,
        table.far_end,
        table.washers,
        f"rod[{i}]",
    )
    first, last = ends
    before = first > 0 and in_line[first - 1].piece == spans[0].piece
    behind = last + 1 < len(in_line) and in_line[last + 1].piece == spans[-1].piece
    try:
        return plan_rods(setting.fitter, wish, spans, outer, (before, behind))
    except InputError as error:
        gathering.add(inputs.located(("rod", i, "thread"), error))
        return None


def _with_rods(
    section: SectionPlan,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    rods: Sequence[tuple[RodTable, RodPlan]],
    least_wall: float,
) -> SectionPlan:
    """Return a section with the rods that go through it; a companion only keeps its terminals clear of them."""
    host = hosts.get(section.name, section.name)
    here = [(t, p) for t, p in rods if host in p.holes]
    if not here:
        return section
    discs = [o.shape for _, p in here for o in p.obstacles[host] if isinstance(o.shape, Disc)]
    terminals = tuple(_clear(t, discs, DROP_HALF + least_wall) for t in section.terminals)
    hits = tuple(f for table, _ in here for p in section.parts for f in _hits(table, p, section.name))
    if host != section.name:
        return replace(section, terminals=terminals, findings=(*section.findings, *hits))
    first = [p for _, p in here if next(iter(p.holes)) == section.name]
    return replace(
        section,
        terminals=terminals,
        holes=(*section.holes, *(h for _, p in here for h in p.holes[section.name])),
        obstacles=(*section.obstacles, *(o for _, p in here for o in p.obstacles[section.name])),
        hardware=(*section.hardware, *(h for p in first for h in p.hardware)),
        findings=(*section.findings, *(f for p in first for f in p.findings), *hits),
        facts={**section.facts, **{f"{t.name}_length_mm": p.length for t, p in here if p in first}},
    )


def _axes(table: RodTable) -> list[tuple[float, float]]:
    r = table.circle_diameter / 2
    return [(r * c, r * s) for c, s in map(unit, table.clocks_deg)]


# wires' ways out ------------------------------------------------------------------------------------------


def _clear(terminal: PlacedTerminal, holes: Sequence[Disc], beside: float) -> PlacedTerminal:
    """Return a terminal whose exits leave out the clocks at which a rod's hole stands in the way.

    Args:
        terminal: the terminal.
        holes: outlines of the rods' holes and nuts.
        beside: room that a way takes beside its middle, mm.
    """
    exits = tuple(
        e for low, high in terminal.exits for e in _free(terminal.position, low, high, holes, beside)
    )
    return terminal if exits == terminal.exits else replace(terminal, exits=exits)


def _free(
    place: Vec3, low: float, high: float, holes: Sequence[Disc], beside: float
) -> list[tuple[float, float]]:
    """Return what is left of an exit: its whole degrees with no rod beside the way, as intervals."""
    clocks = [low, *range(math.ceil(low), math.floor(high) + 1), high]
    free = [not any(_in_way(place, c, hole, beside) for hole in holes) for c in clocks]
    if all(free):
        return [(low, high)]
    runs = []
    for is_free, run in itertools.groupby(zip(clocks, free, strict=True), key=lambda pair: pair[1]):
        found = [c for c, _ in run]
        if is_free and found[-1] > found[0]:
            runs.append((found[0], found[-1]))
    return runs


def _in_way(place: Vec3, clock: float, hole: Disc, beside: float) -> bool:
    """Return whether a hole stands beside the straight way from a terminal out to a clock."""
    c, s = unit(clock)
    x, y, near = hole.x, hole.y, hole.radius + beside
    out = math.hypot(x, y) + near
    ax, ay, bx, by = place[0], place[1], out * c, out * s
    long = math.hypot(bx - ax, by - ay)
    if long == 0.0:
        return False
    along = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / long
    t = min(max(along, 0.0), long) / long
    return math.hypot(ax + t * (bx - ax) - x, ay + t * (by - ay) - y) < near


# parts ----------------------------------------------------------------------------------------------------


def _hits(table: RodTable, part: PlacedPart, section: str) -> list[Finding]:
    """Return an error for each rod that goes through a part without being declared to.

    Round solids are taken as they are, others as the block round them.
    """
    radius = find_thread(table.thread).major_diameter / 2
    found = []
    for k, (x, y) in enumerate(_axes(table)):
        name = f"{table.name}_{k + 1}"
        if name in part.pierces or table.name in part.pierces:
            continue
        if any(_meets(solid, part.frame, x, y, radius) for solid in part.part.envelope):
            message = f"rod {name} goes through {part.id} ({part.part.name}) in {section}"
            numbers = {"clock_deg": table.clocks_deg[k], "circle_diameter": table.circle_diameter}
            found.append(Finding("error", "rod-hits-part", part.id, message, numbers))
    return found


def _meets(solid: Primitive, frame: Frame, x: float, y: float, radius: float) -> bool:
    """Return whether a rod of a radius at (x, y) comes into a part's solid."""
    whole = frame @ solid.frame if isinstance(solid, (Cylinder, Ring)) else frame
    low, high = extent_of(replace(solid, frame=Frame()) if isinstance(solid, (Cylinder, Ring)) else solid)
    sides = tuple(zip(low, high, strict=True))
    corners = [whole.point((a, b, c))[2] for a, b, c in itertools.product(*sides)]
    station, last = min(corners), max(corners)
    while station <= last + STEP:
        p = _local(whole, (x, y, min(station, last)))
        if all(a - radius < v < b + radius for a, v, b in zip(low, p, high, strict=True)):
            if not isinstance(solid, (Cylinder, Ring)):
                return True
            outer = solid.radius if isinstance(solid, Cylinder) else solid.outer_radius
            inner = 0.0 if isinstance(solid, Cylinder) else solid.inner_radius
            if inner - radius < math.hypot(p[0], p[1]) < outer + radius:
                return True
        station += STEP
    return False


def _local(frame: Frame, p: Vec3) -> Vec3:
    d = tuple(a - b for a, b in zip(p, frame.origin, strict=True))
    x, y, z = (
        sum(a * b for a, b in zip(d, axis, strict=True))
        for axis in (frame.x_axis, frame.y_axis, frame.z_axis)
    )
    return x, y, z
