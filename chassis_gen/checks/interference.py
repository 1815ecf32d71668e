"""Interference: no two things fill the same room, in pairs of parts, pieces, tube and wire lanes.

Parts are shrunk by twice the chord tolerance and their declared squeeze before they are compared, so that
faceted surfaces that touch don't count. Printed pieces can't be shrunk: there an overlap counts where it is
more than a sheet of twice the chord tolerance (deeper where a fit is planned with squeeze).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations

from msgspec import Struct

from chassis_gen.checks.places import middle, place, section_at, section_named, words
from chassis_gen.checks.probes import TUBE, cropped, part_bodies, part_bounds
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan, Lane
from chassis_gen.plan.model import PlacedPart
from chassis_gen.shapes.body import COLLISION_VOLUME, Body, Bounds, bounds_overlap
from chassis_gen.shapes.frame import shifted, unit
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Cylinder, TubeSegment

_CROP_MARGIN = 0.5
_MANY_SHELLS = 20


class Overlap(Struct, frozen=True):
    """What two things fill together: names, volume (mm3) and bounds (mm)."""

    a: str
    b: str
    volume: float
    bounds: Bounds


def check_interference(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return an error for each pair of things that fill the same room without being declared to.

    Args:
        plan: the build.
        solids: its solids.
    """
    movers = {p.id: _Mover(p, solids.chord) for p in plan.parts}
    pairs = (
        *_part_pairs(plan, solids, movers),
        *_part_piece_pairs(plan, solids, movers),
        *_piece_pairs(plan, solids),
        *_lane_pairs(plan, solids, movers),
    )
    return tuple(_finding(plan, o) for o in pairs)


class _Mover:
    """A seated part with the bodies of its shrunk envelope, made when they are first asked for."""

    def __init__(self, part: PlacedPart, chord: float):
        self.part = part
        self.bounds = part_bounds(part)
        self._chord = chord
        self._bodies: tuple[Body, ...] | None = None

    @property
    def bodies(self) -> tuple[Body, ...]:
        """Return the shrunk bodies."""
        if self._bodies is None:
            self._bodies = part_bodies(self.part, self._chord, 2 * self._chord + self.part.squeeze)
        return self._bodies

    def overlap(self, name: str, other: Body) -> Overlap | None:
        """Return what this part and a body fill together, or None."""
        if not bounds_overlap(self.bounds, other.bounds):
            return None
        near = _round(other, self.bounds)
        shared = [near.common(b) for b in self.bodies if bounds_overlap(near.bounds, b.bounds)]
        volume = sum(s.volume for s in shared)
        if volume <= COLLISION_VOLUME:
            return None
        largest = max(shared, key=lambda s: s.volume)
        return Overlap(self.part.id, name, volume, largest.bounds)


def _round(body: Body, bounds: Bounds) -> Body:
    """Return the part of a body round some bounds."""
    low, high = bounds
    m = _CROP_MARGIN
    return cropped(body, (low[0] - m, low[1] - m, low[2] - m), (high[0] + m, high[1] + m, high[2] + m))


def _part_pairs(plan: ChassisPlan, solids: Solids, movers: dict[str, _Mover]) -> Iterator[Overlap]:
    for a, b in combinations(plan.parts, 2):
        declared = b.id in a.pierces or a.id in b.pierces
        apart = not bounds_overlap(movers[a.id].bounds, movers[b.id].bounds)
        found = None if declared or apart else movers[a.id].overlap(b.id, solids.parts[b.id])
        if found:
            yield found


def _part_piece_pairs(plan: ChassisPlan, solids: Solids, movers: dict[str, _Mover]) -> Iterator[Overlap]:
    for part in plan.parts:
        for name, body in (*solids.pieces.items(), (TUBE, solids.tube)):
            found = None if name in part.pierces else movers[part.id].overlap(name, body)
            if found:
                yield found


def _piece_pairs(plan: ChassisPlan, solids: Solids) -> Iterator[Overlap]:
    squeezes = _planned_squeezes(plan)
    for (a, body_a), (b, body_b) in combinations((*solids.pieces.items(), (TUBE, solids.tube)), 2):
        found = deep_overlap(body_a, body_b, squeezes(a, b))
        if found:
            yield Overlap(a, b, *found)


def _planned_squeezes(plan: ChassisPlan) -> Callable[[str, str], float]:
    """Return a function that tells how far two pieces are planned to press into each other, mm per side."""
    owners = {p.name: p.owner for p in plan.pieces if p.owner}

    def squeeze(a: str, b: str) -> float:
        names = {a, b} | {owner for n in (a, b) if (owner := owners.get(n))}
        pressed = (-f.planned for f in plan.fits if f.planned < 0 and names & set(f.between))
        return max(pressed, default=0.0)

    return squeeze


def deep_overlap(a: Body, b: Body, squeeze: float = 0.0) -> tuple[float, Bounds] | None:
    """Return volume (mm3) and bounds of what two printed bodies fill together, or None where they only touch.

    A sheet of thickness t and face area A has the volume t x A and the surface 2 x A; facets of two round
    surfaces of one radius overlap in sheets no thicker than the chord tolerance.

    Args:
        a: a body.
        b: another body.
        squeeze: planned interference per side, mm.
    """
    low = tuple(max(p, q) - _CROP_MARGIN for p, q in zip(a.bounds[0], b.bounds[0], strict=True))
    high = tuple(min(p, q) + _CROP_MARGIN for p, q in zip(a.bounds[1], b.bounds[1], strict=True))
    if not bounds_overlap(a.bounds, b.bounds):
        return None
    shared = a.cropped((low[0], low[1], low[2]), (high[0], high[1], high[2])).common(b)
    if shared.volume <= COLLISION_VOLUME:
        return None
    sheet = max(a.chord, b.chord) + squeeze / 2
    deep = [(s.volume, s.bounds) for s in _parts_of(shared) if s.volume > COLLISION_VOLUME + sheet * s.area]
    return max(deep, key=lambda d: d[0]) if deep else None


def _parts_of(body: Body) -> list[Body]:
    shells = [s for s in body.components() if s.volume > COLLISION_VOLUME]
    if not 1 < len(shells) <= _MANY_SHELLS:
        return [body]
    return [body.cropped(*s.bounds) for s in shells]


def _lane_pairs(plan: ChassisPlan, solids: Solids, movers: dict[str, _Mover]) -> Iterator[Overlap]:
    for lane in plan.lanes:
        section = section_named(plan, lane.section)
        others = {n: b for n, b in solids.pieces.items() if section is None or n != section.piece}
        beside = [m for m in movers.values() if m.bounds[0][2] < lane.z1 and m.bounds[1][2] > lane.z0]
        if not beside and not any(_beside(b, lane) for b in others.values()):
            continue
        volume = lane_body(lane, solids.chord, plan.rules.least_wall)
        found = [m.overlap(lane.id, volume) for m in beside if lane.id not in m.part.pierces]
        yield from (o for o in found if o)
        for name, body in others.items():
            deep = deep_overlap(body, volume)
            if deep:
                yield Overlap(name, lane.id, *deep)


def _beside(body: Body, lane: Lane) -> bool:
    low, high = body.bounds
    return low[2] < lane.z1 and high[2] > lane.z0


def lane_body(lane: Lane, chord: float, wall: float) -> Body:
    """Return the volume that a lane keeps for its wires.

    Args:
        lane: the lane.
        chord: chord tolerance, mm.
        wall: material left over a closed lane, mm.
    """
    if lane.closed:
        bore = lane.outer_radius - wall - lane.bottom_radius
        c, s = unit((lane.clock_from + lane.clock_to) / 2)
        middle = lane.bottom_radius + bore / 2
        return solid(Cylinder(bore / 2, lane.z0, lane.z1, shifted(middle * c, middle * s)), chord)
    sector = TubeSegment(
        lane.bottom_radius, lane.outer_radius, lane.z0, lane.z1, lane.clock_from, lane.clock_to
    )
    return solid(sector, chord)


def _finding(plan: ChassisPlan, overlap: Overlap) -> Finding:
    at = middle(overlap.bounds)
    section = section_at(plan, at[2])
    message = f"{overlap.a} and {overlap.b} overlap by {overlap.volume:.2f} mm3 in {section} at {words(at)}"
    sizes = (h - lo for lo, h in zip(*overlap.bounds, strict=True))
    extents = dict(zip(("size_x", "size_y", "size_z"), (round(s, 3) for s in sizes), strict=True))
    numbers = {"volume_mm3": overlap.volume, **extents, **place(at)}
    return Finding("error", "interference", f"{overlap.a} / {overlap.b}", message, numbers)
