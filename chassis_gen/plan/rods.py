"""Rods of a build: their holes, obstacles and hardware, added to the sections that they go through."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy, wall_left
from chassis_gen.params.codes import Rejection
from chassis_gen.params.rods import RodTable
from chassis_gen.parts.extent import extent_of
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.model import Disc, Outer, PlacedPart, SectionPlan
from chassis_gen.plan.ways_out import past_holes
from chassis_gen.problems import InputError, nearest_name
from chassis_gen.sections.base import Setting
from chassis_gen.sections.features.rod_holes import RodPlan, RodSpan, RodWish, plan_rods
from chassis_gen.shapes.frame import Frame, Vec3, unit
from chassis_gen.shapes.primitives import Cylinder, Primitive, Ring
from chassis_gen.shapes.recipe import Step
from chassis_gen.tables.threads import find_thread

TURNS = (15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 90.0)
"""By what rods are turned where one of them meets a part, degrees (chosen)."""
MOST_TURNS = 3
"""How many such turns are proposed (chosen)."""
STEP = 0.5
"""How close along a rod it is looked for in parts, mm."""


class Rods(Struct, frozen=True):
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
    spans = [
        RodSpan(s.name, s.piece, *_stretch(s), grows_by=_grows_by(inputs, s))
        for s in in_line[ends[0] : ends[1] + 1]
    ]
    wish = RodWish(
        table.name,
        table.thread,
        table.clocks_deg,
        table.circle_diameter,
        table.near_end,
        table.far_end,
        table.washers,
        f"rod[{i}]",
        _free_ends(in_line, *ends),
    )
    first, last = ends
    before = first > 0 and in_line[first - 1].piece == spans[0].piece
    behind = last + 1 < len(in_line) and in_line[last + 1].piece == spans[-1].piece
    try:
        return plan_rods(setting.fitter, wish, spans, outer, (before, behind))
    except InputError as error:
        gathering.add(inputs.located(("rod", i, "thread"), error))
        return None


def _grows_by(inputs: BuildInputs, section: SectionPlan) -> tuple[str, float] | None:
    """Return the key that makes a section longer, and what it is now, mm."""
    i, row = next((i, r) for i, r in enumerate(inputs.build.section) if r.name == section.name)
    for key in ("thickness", "length", "end_wall"):
        if hasattr(row, key):
            value = getattr(row, key)
            now = value if isinstance(value, float) else section.z1 - section.z0
            return f"section[{i}].{key}", now
    return None


def _free_ends(
    in_line: Sequence[SectionPlan], first: int, last: int
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the sections at the near and at the far ends of pieces, those nearest to a group's own ends first."""
    near = [k for k, s in enumerate(in_line) if k == 0 or in_line[k - 1].piece != s.piece]
    far = [k for k, s in enumerate(in_line) if k + 1 == len(in_line) or in_line[k + 1].piece != s.piece]
    return (
        tuple(in_line[k].name for k in sorted(near, key=lambda k: abs(k - first)) if k <= last),
        tuple(in_line[k].name for k in sorted(far, key=lambda k: abs(k - last)) if k >= first),
    )


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
    terminals = tuple(past_holes(t, discs, least_wall) for t in section.terminals)
    hits = tuple(
        f
        for table, plan in here
        for p in section.parts
        for f in _hits(table, plan.key, p, section.name, _aside(plan.holes, host))
    )
    if host != section.name:
        return replace(section, terminals=terminals, findings=(*section.findings, *hits))
    hits = (*hits, *(f for table, p in here for f in _in_core(table, p, section, least_wall)))
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


# parts ----------------------------------------------------------------------------------------------------


def _hits(table: RodTable, key: str, part: PlacedPart, section: str, aside: Remedy) -> list[Finding]:
    """Return an error for each rod that goes through a part without being declared to.

    Round solids are taken as they are, others as the block round them. `aside` is told where no turn is tried or helps.
    """
    radius = find_thread(table.thread).major_diameter / 2
    found = []
    axes = _axes(table)

    def turned(turn: float) -> bool:
        places = _axes(table.model_copy(update={"clocks_deg": tuple(c + turn for c in table.clocks_deg)}))
        return not any(_meets(solid, part.frame, *p, radius) for solid in part.part.envelope for p in places)

    for k, (x, y) in enumerate(axes):
        name = f"{table.name}_{k + 1}"
        if name in part.pierces or table.name in part.pierces:
            continue
        if any(_meets(solid, part.frame, x, y, radius) for solid in part.part.envelope):
            message = f"rod {name} goes through {part.id} ({part.part.name}) in {section}"
            numbers = {"clock_deg": table.clocks_deg[k], "circle_diameter": table.circle_diameter}
            turns = (t for t in TURNS if turned(t))
            remedies = (*(_turned(table, key, t) for t in itertools.islice(turns, MOST_TURNS)), aside)
            found.append(Finding("error", "rod-hits-part", part.id, message, numbers, candidates=remedies))
    return found


def _aside(holes: Collection[str], host: str) -> Remedy:
    """Return in words how rods get out of the way of a part in a section, the first or last of their own or between."""
    names = list(holes)
    if len(names) == 1:
        ways = "or between other sections (from, to)"
    elif host == names[0]:
        ways = f'or only from the section behind it (from = "{names[1]}")'
    else:
        ways = f'or only as far as the section before it (to = "{names[names.index(host) - 1]}")'
    return Remedy(None, None, f"rods at other clocks, on another circle, {ways}")


def _turned(table: RodTable, key: str, turn: float) -> Remedy:
    clocks = [(c + turn) % 360.0 for c in table.clocks_deg]
    return Remedy(f"{key}.clocks_deg", clocks, f"rods at clocks {', '.join(f'{c:g}' for c in clocks)}")


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


def _stretch(section: SectionPlan) -> tuple[float, float]:
    """Return the stations between which rods go through a section: a spigot stands out beyond their ends."""
    return (section.rim.z0, section.rim.z1) if section.rim else (section.z0, section.z1)


def _in_core(table: RodTable, plan: RodPlan, section: SectionPlan, least_wall: float) -> Iterator[Finding]:
    """Yield an error where a rod's hole or nut comes into what takes the middle of an end's plate."""
    discs = [o.shape for o in plan.obstacles[section.name] if isinstance(o.shape, Disc)]
    rim = section.rim
    if rim is None or not discs:
        return
    yield from _in_pocket(table, discs, section, least_wall)
    nearest = min(math.hypot(d.x, d.y) - d.radius for d in discs)
    if nearest >= rim.core:
        return
    message = (
        f"the rods {table.name} stand on a circle of {table.circle_diameter:.2f} mm: in {section.name} their holes reach "
        f"to {nearest:.2f} mm from the axis, into the {rim.what}, which takes {rim.core:.2f} mm"
    )
    numbers = {"circle_diameter": table.circle_diameter, "reach": nearest, "core": rim.core}
    circle = math.ceil(10 * (table.circle_diameter + 2 * (rim.core - nearest))) / 10
    words = Remedy(None, None, f"a circle of {circle:g} mm or more")
    where = f"{section.name}.{table.name}"
    yield Finding("error", "rod-in-core", where, message, numbers, words, blocks_solids=True)


def _in_pocket(
    table: RodTable, discs: Sequence[Disc], section: SectionPlan, least_wall: float
) -> Iterator[Finding]:
    """Yield an error where a rod's hole or nut leaves no wall to a pocket beside the middle."""
    pocket = section.rim.pocket if section.rim else None
    if pocket is None:
        return
    wall = min(pocket.gap(d.x, d.y) - d.radius for d in discs)
    if wall >= least_wall - 1e-6:
        return
    message = (
        f"between the rods {table.name} and the lanyard's pocket in {section.name} {wall_left(wall)}; at least "
        f"{least_wall:.2f} mm is wanted"
    )
    numbers = {"wall": wall, "least_wall": least_wall}
    words = Remedy(None, None, f"other clocks for the rods, or another clock_deg for {section.name}")
    where = f"{section.name}.{table.name}"
    yield Finding("error", "rod-in-pocket", where, message, numbers, words, blocks_solids=wall < 0.1)


def _local(frame: Frame, p: Vec3) -> Vec3:
    d = tuple(a - b for a, b in zip(p, frame.origin, strict=True))
    x, y, z = (
        sum(a * b for a, b in zip(d, axis, strict=True))
        for axis in (frame.x_axis, frame.y_axis, frame.z_axis)
    )
    return x, y, z
