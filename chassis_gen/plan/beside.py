"""Sections beside each other: one section's body is shared, walls and room for lanes are solved for both.

A companion stands at its host's stations, in the middle of its length, on a clock of its own. Its cuts go into
the host's body; its obstacles and terminals count as the host's when wires are laid.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from chassis_gen.findings import Finding
from chassis_gen.params.codes import Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.layout import Stand
from chassis_gen.plan.model import Disc, Obstacle, SectionPlan, Slab
from chassis_gen.plan.sums import Dimension, on_grid
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import SectionKind, SectionParams

Point = tuple[float, float]
_DISC_SIDES = 72


def hosts_of(rows: Sequence[SectionParams]) -> dict[str, str]:
    """Return for each companion the name of its host."""
    return {row.name: row.beside for row in rows if row.beside is not None}


def check_companions(inputs: BuildInputs, kinds: Mapping[str, SectionKind], gathering: Gathering) -> None:
    """Gather companions without a host, of a kind that can't share a body, or pinned by themselves.

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
        if row.station is not None or row.at_opening is not None:
            why = "a section beside another stands where that one stands"
            allowed = "pin the section that it stands beside"
            gathering.reject(inputs, path, Rejection("not-allowed", why, allowed))


def all_stands(
    inputs: BuildInputs,
    in_line: Sequence[Stand],
    lengths: Sequence[Dimension | None],
    gathering: Gathering,
) -> tuple[Stand, ...]:
    """Return the stands of all sections in file order, companions in the middle of their hosts.

    Args:
        inputs: the build's files.
        in_line: stands of the sections that follow each other.
        lengths: of all sections in file order, None for a fill.
        gathering: takes companions that are longer than their hosts.
    """
    by_name = {s.name: s for s in in_line}
    stands = []
    for i, (row, length) in enumerate(zip(inputs.build.section, lengths, strict=True)):
        if row.beside is None:
            stands.append(by_name[row.name])
            continue
        host = by_name[row.beside]
        room = host.z1 - host.z0
        own = length.total if length else room
        if own > room + 1e-9:
            why = f'it is {own:g} mm long, "{host.name}" only {room:g} mm'
            gathering.reject(
                inputs, ("section", i, "beside"), Rejection("layout-beside", why, f"up to {room:g} mm")
            )
        z0 = on_grid(host.z0 + (room - own) / 2)
        stands.append(Stand(row.name, z0, on_grid(z0 + own)))
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
                terminals=(*s.terminals, *(t for c in others for t in c.terminals)),
                galleries=(*s.galleries, *(g for c in others for g in c.galleries)),
                findings=(*s.findings, *(f for c in others for f in c.findings)),
            )
        )
    return tuple(merged)


def overlap_findings(
    sections: Sequence[SectionPlan], hosts: Mapping[str, str], wall: float
) -> tuple[Finding, ...]:
    """Return an error for each pair of rooms in one body that leave less than a wall between them.

    Args:
        sections: all planned sections.
        hosts: from `hosts_of`.
        wall: material wanted between them, mm.
    """
    found = []
    for a, b in itertools.combinations(sections, 2):
        one_body = hosts.get(b.name) == a.name or hosts.get(a.name) == b.name
        siblings = a.name in hosts and hosts.get(a.name) == hosts.get(b.name)
        if not (one_body or siblings):
            continue
        worst = min(
            ((gap, o, p) for o in a.obstacles for p in b.obstacles if (gap := _gap(o, p)) is not None),
            key=lambda found: found[0],
            default=None,
        )
        if worst is None or worst[0] >= wall - 1e-6:
            continue
        gap, o, p = worst
        how = f"overlap by {-gap:.2f} mm" if gap < 0 else f"leave {gap:.2f} mm between them"
        message = f'{o.what} of "{a.name}" and {p.what} of "{b.name}" {how}; a wall of {wall:g} mm is wanted'
        numbers = {"gap": gap, "wanted": wall, "short_by": wall - gap}
        found.append(Finding("error", "beside-overlap", b.name, message, numbers))
    return tuple(found)


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
