"""Sections beside each other: one section's body is shared, walls and room for lanes are solved for both.

A companion stands at its host's stations, in the middle of its length or where it is pinned, on a clock of its
own. Its cuts go into the host's body; its obstacles and terminals count as the host's when wires are laid.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.params.codes import Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.layout import Stand
from chassis_gen.plan.model import Disc, Obstacle, SectionPlan, Slab
from chassis_gen.plan.sums import Dimension, on_grid, shown
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import SectionKind, SectionParams

Point = tuple[float, float]
_DISC_SIDES = 72
_TURN = 5
"""Step, in degrees, by which another clock is looked for where two rooms overlap (chosen)."""
_RISE = 0.25
"""Step, in mm, by which another height is looked for (chosen)."""
_MOST_RISES = 80


def hosts_of(rows: Sequence[SectionParams]) -> dict[str, str]:
    """Return for each companion the name of its host."""
    return {row.name: row.beside for row in rows if row.beside is not None}


def check_companions(inputs: BuildInputs, kinds: Mapping[str, SectionKind], gathering: Gathering) -> None:
    """Gather companions without a host or of a kind that can't share a body.

    Args:
        inputs: the build's files.
        kinds: section kinds by name.
        gathering: takes the problems.
    """
    rows = inputs.build.section
    in_line = [row.name for row in rows if row.beside is None]
    for i, row in enumerate(rows):
        if row.beside is None:
            continue
        path = ("section", i, "beside")
        if row.beside not in in_line:
            why = f'there is no section "{row.beside}" in line to stand beside'
            known = ", ".join(in_line) or "none"
            gathering.reject(
                inputs, path, Rejection("unknown-name", why, known, nearest_name(row.beside, in_line))
            )
        if not kinds[row.kind].may_stand_beside:
            able = ", ".join(k for k, kind in kinds.items() if kind.may_stand_beside)
            why = f"a section of kind {row.kind} needs a body of its own"
            gathering.reject(inputs, path, Rejection("not-allowed", why, f"one of these kinds: {able}"))


def all_stands(
    inputs: BuildInputs,
    in_line: Sequence[Stand],
    lengths: Sequence[Dimension | None],
    pins: Sequence[float | None],
    gathering: Gathering,
) -> tuple[Stand, ...]:
    """Return the stands of all sections in file order, companions where they are pinned, else in mid-host.

    Args:
        inputs: the build's files.
        in_line: stands of the sections that follow each other.
        lengths: of all sections in file order, None for a fill.
        pins: station of the near end of each that is pinned, mm, else None.
        gathering: takes companions that reach past their hosts.
    """
    by_name = {s.name: s for s in in_line}
    stands = []
    for i, (row, length, pin) in enumerate(zip(inputs.build.section, lengths, pins, strict=True)):
        if row.beside is None:
            stands.append(by_name[row.name])
            continue
        host = by_name[row.beside]
        room = host.z1 - host.z0
        own = length.total if length else room
        if own > room + 1e-9:
            why = f'it is {shown(own)} mm long, "{host.name}" only {shown(room)} mm'
            gathering.reject(
                inputs, ("section", i, "beside"), Rejection("layout-beside", why, f"up to {shown(room)} mm")
            )
        z0 = on_grid(host.z0 + (room - own) / 2 if pin is None else pin)
        z1 = on_grid(z0 + own)
        if own <= room + 1e-9 and (z0 < host.z0 - 1e-9 or z1 > host.z1 + 1e-9):
            past = max(host.z0 - z0, z1 - host.z1)
            where = "below" if z0 < host.z0 else "beyond"
            why = f'pinned, it stands from {shown(z0)} to {shown(z1)} mm, {shown(past)} mm {where} "{host.name}"'
            allowed = f'from {shown(host.z0)} to {shown(host.z1)} mm, where "{host.name}" stands'
            key = "at_opening" if row.at_opening is not None else "station"
            gathering.reject(inputs, ("section", i, key), Rejection("layout-beside", why, allowed))
        stands.append(Stand(row.name, z0, z1))
    return tuple(stands)


def with_companions(sections: Sequence[SectionPlan], hosts: Mapping[str, str]) -> tuple[SectionPlan, ...]:
    """Return the sections in line, each with its companions' obstacles, terminals and galleries.

    Args:
        sections: all planned sections.
        hosts: from `hosts_of`.
    """
    merged = []
    for s in sections:
        if s.name in hosts:
            continue
        others = [c for c in sections if hosts.get(c.name) == s.name]
        merged.append(
            replace(
                s,
                obstacles=(*s.obstacles, *(o for c in others for o in c.obstacles)),
                recesses=(*s.recesses, *(r for c in others for r in c.recesses)),
                terminals=(*s.terminals, *(t for c in others for t in c.terminals)),
                galleries=(*s.galleries, *(g for c in others for g in c.galleries)),
                findings=(*s.findings, *(f for c in others for f in c.findings)),
            )
        )
    return tuple(merged)


def overlap_findings(
    sections: Sequence[SectionPlan], hosts: Mapping[str, str], wall: float, rows: Sequence[SectionParams]
) -> tuple[Finding, ...]:
    """Return an error for each pair of rooms in one body that leave less than a wall between them.

    Args:
        sections: all planned sections, in file order.
        hosts: from `hosts_of`.
        wall: material wanted between them, mm.
        rows: the sections' keys, in file order.
    """
    found = []
    for a, b in itertools.combinations(sections, 2):
        if not _in_one_body(a, b, hosts):
            continue
        worst = _narrowest(a.obstacles, b.obstacles)
        if worst is None or worst[0] >= wall - 1e-6:
            continue
        gap, o, p = worst
        how = f"overlap by {-gap:.2f} mm" if gap < 0 else f"leave {gap:.2f} mm between them"
        message = f'{o.what} of "{a.name}" and {p.what} of "{b.name}" {how}; a wall of {wall:g} mm is wanted'
        numbers = {"gap": gap, "wanted": wall, "short_by": wall - gap}
        companion = b if b.name in hosts else a
        candidates = _remedies(companion, sections, hosts, wall, rows)
        found.append(Finding("error", "beside-overlap", b.name, message, numbers, candidates=candidates))
    return tuple(found)


def hollow_findings(sections: Sequence[SectionPlan], hosts: Mapping[str, str]) -> tuple[Finding, ...]:
    """Return an error for each companion whose host is hollow: it is cut into a body, and there is none.

    A lid says so itself, as it may bring a frame.

    Args:
        sections: all planned sections.
        hosts: from `hosts_of`.
    """
    hollow = {s.name for s in sections if any(g.open_room for g in s.galleries)}
    return tuple(
        error(
            "beside-hollow",
            s.name,
            f'"{hosts[s.name]}" is hollow: nothing is there that "{s.name}" could be cut into',
            None,
            Remedy(None, None, "leave out beside, for a section of its own, or name a section that is solid"),
            blocks=True,
        )
        for s in sections
        if hosts.get(s.name) in hollow and s.covering is None
    )


def _in_one_body(a: SectionPlan, b: SectionPlan, hosts: Mapping[str, str]) -> bool:
    siblings = a.name in hosts and hosts.get(a.name) == hosts.get(b.name)
    return siblings or hosts.get(b.name) == a.name or hosts.get(a.name) == b.name


def _narrowest(
    first: Sequence[Obstacle], second: Sequence[Obstacle]
) -> tuple[float, Obstacle, Obstacle] | None:
    """Return the least gap of two sections' rooms, mm, and between which; None where none share stations."""
    pairs = ((gap, o, p) for o in first for p in second if (gap := _gap(o, p)) is not None)
    return min(pairs, key=lambda found: found[0], default=None)


def _remedies(
    companion: SectionPlan,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    wall: float,
    rows: Sequence[SectionParams],
) -> tuple[Remedy, ...]:
    """Return what may bring a companion clear of its neighbours: another clock, flat, further out, a wider tube."""
    index = _index(sections, companion.name)
    row, key, found = rows[index], f"section[{index}]", []
    clock = None if row.at_opening else _clear_clock(companion, sections, hosts, wall, row.clock_deg)
    if clock is not None:
        found.append(Remedy(f"{key}.clock_deg", clock, f"turn it to clock {clock:g}"))
    if getattr(row, "stand", None) == "edge":
        found.append(Remedy(f"{key}.stand", "flat", "lay the board flat"))
    for s in (companion, next(s for s in sections if s.name == hosts[companion.name])):
        i = _index(sections, s.name)
        height = getattr(rows[i], "board_height", None)
        rise = None if height is None else _clear_rise(s, sections, hosts, wall, rows[i].clock_deg)
        if height is not None and rise is not None:
            text = f'lay the board of "{s.name}" {rise:g} mm further out'
            found.append(Remedy(f"section[{i}].board_height", round(height + rise, 4), text))
    host = _index(sections, hosts[companion.name])
    if getattr(rows[host], "ribbon_slot", False):
        text = f'no ribbon groove in "{sections[host].name}"'
        found.append(Remedy(f"section[{host}].ribbon_slot", False, text))
    return *found, Remedy(None, None, "a wider bore, a smaller part, or a section of its own for it")


def _index(sections: Sequence[SectionPlan], name: str) -> int:
    return next(i for i, s in enumerate(sections) if s.name == name)


def _clear_clock(
    companion: SectionPlan,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    wall: float,
    clock: float,
) -> float | None:
    """Return the nearest clock at which a companion's rooms keep the wall to all others in its body, or None."""
    others = _others(companion, sections, hosts)
    turns = (s * turn for turn in range(_TURN, 180 + _TURN, _TURN) for s in (1, -1))
    clear = (t for t in turns if _clear(others, [_turned(o, t) for o in companion.obstacles], wall))
    turn = next(clear, None)
    return None if turn is None else (clock + turn) % 360.0


def _clear_rise(
    section: SectionPlan,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    wall: float,
    clock: float,
) -> float | None:
    """Return how far a section's rooms must move toward its top to keep the wall to all others, mm, or None."""
    others = _others(section, sections, hosts)
    rises = (_RISE * k for k in range(1, _MOST_RISES + 1))
    return next(
        (d for d in rises if _clear(others, [_raised(o, clock, d) for o in section.obstacles], wall)), None
    )


def _others(
    section: SectionPlan, sections: Sequence[SectionPlan], hosts: Mapping[str, str]
) -> list[Obstacle]:
    return [o for s in sections if s is not section and _in_one_body(s, section, hosts) for o in s.obstacles]


def _clear(others: Sequence[Obstacle], own: Sequence[Obstacle], wall: float) -> bool:
    worst = _narrowest(others, own)
    return worst is None or worst[0] >= wall


def _raised(o: Obstacle, clock: float, by: float) -> Obstacle:
    """Return an obstacle moved toward a clock, mm; its own top is taken to point there."""
    if isinstance(o.shape, Slab):
        return replace(o, shape=replace(o.shape, y0=o.shape.y0 + by, y1=o.shape.y1 + by))
    if isinstance(o.shape, Disc):
        x, y = o.shape.x + by * math.cos(math.radians(clock)), o.shape.y + by * math.sin(math.radians(clock))
        return replace(o, shape=Disc(x, y, o.shape.radius))
    return o


def _turned(o: Obstacle, degrees: float) -> Obstacle:
    """Return an obstacle turned about the tube's axis."""
    if isinstance(o.shape, Slab):
        return replace(o, shape=replace(o.shape, top_clock=o.shape.top_clock + degrees))
    if isinstance(o.shape, Disc):
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        x, y = o.shape.x, o.shape.y
        return replace(o, shape=Disc(c * x - s * y, s * x + c * y, o.shape.radius))
    return o


def _gap(a: Obstacle, b: Obstacle) -> float | None:
    """Return the gap between two obstacles' cross-sections where they share stations, mm; negative on overlap.

    It is the largest separation along any side's normal: exact for convex outlines that overlap, and never more
    than the true distance for those that don't.
    """
    if min(a.z1, b.z1) <= max(a.z0, b.z0):
        return None
    p, q = _outline(a), _outline(b)
    if p is None or q is None:
        return None
    return max(_separation(p, q), _separation(q, p))


def _outline(o: Obstacle) -> list[Point] | None:
    """Return a disc's or slab's outline, counter-clockwise; None for a sector, which is no room of its own."""
    if isinstance(o.shape, Disc):
        turns = (2 * math.pi * k / _DISC_SIDES for k in range(_DISC_SIDES))
        return [
            (o.shape.x + o.shape.radius * math.cos(t), o.shape.y + o.shape.radius * math.sin(t))
            for t in turns
        ]
    if isinstance(o.shape, Slab):
        b = o.shape
        turn = math.radians(b.top_clock - 90)
        c, s = math.cos(turn), math.sin(turn)
        corners = ((b.x0, b.y0), (b.x1, b.y0), (b.x1, b.y1), (b.x0, b.y1))
        return [(c * x - s * y, s * x + c * y) for x, y in corners]
    return None


def _separation(p: Sequence[Point], q: Sequence[Point]) -> float:
    """Return the largest distance of one outline beyond a side of the other, mm."""
    best = -math.inf
    for (x0, y0), (x1, y1) in zip(p, (*p[1:], p[0]), strict=True):
        long = math.hypot(x1 - x0, y1 - y0)
        nx, ny = (y1 - y0) / long, (x0 - x1) / long
        best = max(best, min((x - x0) * nx + (y - y0) * ny for x, y in q))
    return best
