"""Joints: where two pieces meet face to face, each hole along the axis goes on in the other piece."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise

from msgspec import Struct

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import OVERLAP, ScrewHole, SectionPlan, clock_of

SAME_AXIS = 0.1
"""How far two holes' axes may lie apart and still be one, mm: half of a fine clearance (ISO 273: 0.2 for M3)."""
AT_FACE = 2 * OVERLAP
_STRAIGHT = 1e-6
_TOUCH = 1e-3


class _Side(Struct, frozen=True):
    """One side of a joint: its piece, its holes that open there, all holes along the axis on that side."""

    piece: str
    holes: tuple[ScrewHole, ...]
    every: tuple[ScrewHole, ...]


def check_joints(plan: ChassisPlan) -> tuple[Finding, ...]:
    """Return a warning for each hole that meets no hole of the piece it is joined to.

    A piece without any hole at the joint is met by holes on purpose more often than not (an end wall closes
    them, they are tapped from the other side), so that is a note.

    Args:
        plan: the build.
    """
    found: list[Finding] = []
    for near, far in _joints(plan.sections):
        found += _unmatched(near, far)
    return tuple(found)


def _joints(sections: Sequence[SectionPlan]) -> Iterator[tuple[_Side, _Side]]:
    """Yield both sides of each joint between pieces that touch."""
    ordered = sorted(sections, key=lambda s: (s.z0, s.z1))
    runs = [tuple(run) for _, run in groupby(ordered, key=lambda s: s.piece)]
    for before, after in pairwise(runs):
        z = max(s.z1 for s in before)
        if abs(min(s.z0 for s in after) - z) > _TOUCH:
            continue
        nearer = [s for s in ordered if s.z1 <= z + _TOUCH]
        farther = [s for s in ordered if s.z0 >= z - _TOUCH]
        yield (
            _Side(before[0].piece, _open_at(before, z), _axial(nearer)),
            _Side(after[0].piece, _open_at(after, z), _axial(farther)),
        )


def _axial(sections: Sequence[SectionPlan]) -> tuple[ScrewHole, ...]:
    """Return the holes of printed sections that run along the tube."""
    return tuple(
        h
        for s in sections
        for h in s.holes
        if h.piece == s.piece and math.hypot(*h.frame.z_axis[:2]) <= _STRAIGHT
    )


def _open_at(sections: Sequence[SectionPlan], z: float) -> tuple[ScrewHole, ...]:
    """Return the holes along the tube that reach a joint's face."""
    return tuple(h for h in _axial(sections) if any(abs(end - z) <= AT_FACE for end in _ends(h)))


def _ends(hole: ScrewHole) -> tuple[float, float]:
    return hole.frame.origin[2], hole.frame.point((0.0, 0.0, hole.depth))[2]


def _unmatched(near: _Side, far: _Side) -> Iterator[Finding]:
    """Yield a finding for each hole without a partner; a pair of holes that miss each other counts once."""
    named: set[str] = set()
    for own, other in ((near, far), (far, near)):
        # a rod's holes stand where it ends, which may lie beyond the section at the joint
        alone = [h for h in own.holes if all(_apart(h, o) > SAME_AXIS for o in other.every)]
        for hole in alone:
            if not other.holes:
                yield _faces_none(hole, other.piece)
                continue
            nearest = min(other.holes, key=lambda o: _apart(hole, o))
            if hole.id in named:
                continue
            named.add(nearest.id)
            yield _misses(hole, nearest, other.piece)


def _apart(a: ScrewHole, b: ScrewHole) -> float:
    return math.dist(a.frame.origin[:2], b.frame.origin[:2])


def _where(hole: ScrewHole) -> tuple[float, float]:
    x, y, _ = hole.frame.origin
    return clock_of(x, y), math.hypot(x, y)


def _words(hole: ScrewHole) -> str:
    clock, radius = _where(hole)
    kind = hole.kind.replace("_", " ")
    return f"{hole.id} ({hole.thread} {kind}, clock {clock:.1f}, {radius:.2f} mm from the axis)"


def _misses(hole: ScrewHole, nearest: ScrewHole, piece: str) -> Finding:
    off = _apart(hole, nearest)
    (clock, radius), (other_clock, other_radius) = _where(hole), _where(nearest)
    message = f'{_words(hole)} meets no hole of piece "{piece}"; the nearest there is {_words(nearest)}, {off:.2f} mm off'
    numbers = {
        "off": off,
        "clock_deg": clock,
        "radius": radius,
        "other_clock_deg": other_clock,
        "other_radius": other_radius,
    }
    text = (
        "give both circles of holes the same circle_diameter and the same clocks, or the screws can't go in"
    )
    return Finding("warning", "joint-misaligned", hole.id, message, numbers, Remedy(None, None, text))


def _faces_none(hole: ScrewHole, piece: str) -> Finding:
    clock, radius = _where(hole)
    message = f'{_words(hole)} ends at piece "{piece}", which has no hole at this joint'
    text = "put a hole of the same clock and circle there, if a screw or rod is to hold both pieces"
    numbers = {"clock_deg": clock, "radius": radius}
    return Finding("note", "joint-closed", hole.id, message, numbers, Remedy(None, None, text))
