"""Antennas: how far each is from where its signal gets out of the tube.

A tube that leads current screens what is in it. Its ends, its openings and segments of anything else are the ways
out. Which segments lead current, `chassis_gen.plan.tube_metal` says.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.parts.extent import Extent, extent_of
from chassis_gen.parts.model import Part
from chassis_gen.plan.model import PlacedPart, SectionPlan, clock_of
from chassis_gen.plan.tube import Tube
from chassis_gen.plan.tube_metal import metal_at
from chassis_gen.sections.base import Opening, SectionParams
from chassis_gen.shapes.frame import Vec3

KEEPOUT = "antenna"
"""Name of the keep-out that holds a board's antenna."""
FACT = "antenna_way_out_mm"
NEAR = 10.0
"""How far a way out may be from an antenna without a warning, mm (chosen)."""
FIRST_MODE = 1.8412
"""First zero of the derivative of the Bessel function J1: Abramowitz and Stegun, table 9.5."""
LIGHT_MM_GHZ = 299.792458
"""Speed of light, mm GHz: exact by the definition of the metre."""
_PRACTICE = "put the antenna at an end or in a segment that is no metal, or under a window: common practice, no source"


class WayOut(Struct, frozen=True):
    """Where a signal may leave the tube.

    Args:
        sort: ``opening``, ``non-metal`` or ``end``.
        words: for messages.
        distance: from the antenna, mm.
        open: False for an opening that is too narrow for this antenna or taken by a section.
    """

    sort: str
    words: str
    distance: float
    open: bool = True


def antenna_of(part: Part) -> Vec3 | None:
    """Return where a part's antenna is, in the part's frame, mm: stated, or the middle of its keep-out.

    Args:
        part: the part.
    """
    room = _room(part)
    if part.antenna is not None or room is None:
        return part.antenna
    (x0, y0, z0), (x1, y1, z1) = room
    return (x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2


def _room(part: Part) -> Extent | None:
    return next((extent_of(k.solid) for k in part.keepouts if k.name == KEEPOUT), None)


def _least_window(part: Part) -> float:
    """Return how wide an opening has to be for a part's antenna, mm: as wide as the antenna's room."""
    room = _room(part)
    return max(h - lo for lo, h in zip(*room, strict=True)) if room else NEAR


def cutoff_ghz(bore: float) -> float:
    """Return the frequency below which an empty round metal tube carries no wave, GHz.

    The first mode of a round guide is cut off at 1.8412 c / (pi x bore) (textbooks on waveguides). Plastic in the
    tube lowers it, wires along it carry some of the signal past it.

    Args:
        bore: inside diameter, mm.
    """
    return FIRST_MODE * LIGHT_MM_GHZ / (math.pi * bore)


def ways_out(tube: Tube, antenna: Vec3, least_window: float, taken: Mapping[str, str]) -> tuple[WayOut, ...]:
    """Return the ways out of a metal tube, nearest first.

    Args:
        tube: the tube.
        antenna: where the antenna is, mm.
        least_window: width of an opening that lets its signal through, mm.
        taken: openings in which something stands, with the section's name.
    """
    found = [*_free_stretches(tube, antenna[2]), *_ends(tube, antenna[2])]
    for o in tube.openings:
        owner = taken.get(o.name)
        inside = f', in which "{owner}" stands' if owner else ""
        words = f'opening "{o.name}" ({o.diameter:g} mm wide{inside})'
        open_ = owner is None and o.diameter >= least_window
        found.append(WayOut("opening", words, _to_opening(tube, o, antenna), open_))
    return tuple(sorted(found, key=lambda w: w.distance))


def _ends(tube: Tube, z: float) -> list[WayOut]:
    low, high = min(s.z0 for s in tube.segments), tube.length
    return [
        WayOut("end", "the tube's mouth", max(0.0, z - low)),
        WayOut("end", "the tube's far end", max(0.0, high - z)),
    ]


def _free_stretches(tube: Tube, z: float) -> list[WayOut]:
    """Return the stretches that no metal covers, with how far they are along the tube."""
    found = []
    marks = sorted({m for s in tube.segments for m in (s.z0, s.z1)})
    for a, b in itertools.pairwise(marks):
        if metal_at(tube, (a + b) / 2) is None:
            there = next((s for s in tube.segments if s.z0 < b and s.z1 > a), tube.segments[-1])
            words = f'segment "{there.name}" of {there.material}'
            found.append(WayOut("non-metal", words, max(0.0, a - z, z - b)))
    return found


def _to_opening(tube: Tube, o: Opening, p: Vec3) -> float:
    """Return the distance of a point from an opening, taken as a flat disc at the bore, mm."""
    c, s = math.cos(math.radians(o.clock_deg)), math.sin(math.radians(o.clock_deg))
    surface = tube.smallest_bore(o.station - 1.0, o.station + 1.0).diameter / 2
    out, round_, along = p[0] * c + p[1] * s, p[1] * c - p[0] * s, p[2] - o.station
    return math.hypot(out - surface, max(0.0, math.hypot(round_, along) - o.diameter / 2))


def with_antenna_facts(sections: Sequence[SectionPlan], tube: Tube) -> tuple[SectionPlan, ...]:
    """Return the sections, those that carry an antenna with its distance to the nearest way out as a fact.

    Args:
        sections: the planned sections.
        tube: the tube.
    """
    return tuple(
        replace(s, facts={**s.facts, FACT: max(far)})
        if (
            far := [_nearest(tube, p, _taken(sections, s)) for p in s.parts if antenna_of(p.part) is not None]
        )
        else s
        for s in sections
    )


def _taken(sections: Sequence[SectionPlan], own: SectionPlan) -> dict[str, str]:
    """Return the openings that other sections serve: one that serves the antenna's own section is its window."""
    return {name: s.name for s in sections for name in s.openings if s.name != own.name}


def _place(part: PlacedPart) -> Vec3:
    at = antenna_of(part.part)
    assert at is not None
    return part.frame.point(at)


def _nearest(tube: Tube, part: PlacedPart, taken: Mapping[str, str]) -> float:
    """Return how far the nearest way out is, mm: 0 where no metal is round the antenna."""
    at = _place(part)
    if metal_at(tube, at[2]) is None:
        return 0.0
    return ways_out(tube, at, _least_window(part.part), taken)[0].distance


def antenna_findings(
    sections: Sequence[SectionPlan], tube: Tube, rows: Sequence[SectionParams]
) -> tuple[Finding, ...]:
    """Return a warning for each antenna inside metal that has no way out near it.

    Args:
        sections: the planned sections, in file order.
        tube: the tube.
        rows: the sections' keys, in file order.
    """
    return tuple(
        found
        for i, (s, row) in enumerate(zip(sections, rows, strict=True))
        for part in s.parts
        if antenna_of(part.part) is not None and (found := _finding(i, row, part, tube, _taken(sections, s)))
    )


def _has_way(ways: Sequence[WayOut]) -> bool:
    return any(w.open and w.distance <= NEAR for w in ways)


def _finding(
    index: int, row: SectionParams, part: PlacedPart, tube: Tube, taken: Mapping[str, str]
) -> Finding | None:
    at, window = _place(part), _least_window(part.part)
    metal = metal_at(tube, at[2])
    ways = ways_out(tube, at, window, taken)
    if metal is None or _has_way(ways):
        return None
    bore = tube.smallest_bore(at[2] - 1.0, at[2] + 1.0).diameter
    cutoff = cutoff_ghz(bore)
    message = (
        f"the antenna of {part.id} lies inside {metal}, at station {at[2]:.1f}, clock {clock_of(at[0], at[1]):.0f}: "
        f"there is no way out for its signal; the nearest is {ways[0].words}, {ways[0].distance:.1f} mm away, and an "
        f"empty bore of {bore:g} mm carries no wave below {cutoff:.1f} GHz. Up to {NEAR:g} mm count as near, for an "
        f"opening that nothing stands in and that is at least {window:g} mm wide"
    )
    nearest = {sort: next((w.distance for w in ways if w.sort == sort), None) for sort in _NUMBERS}
    numbers = {_NUMBERS[sort]: far for sort, far in nearest.items() if far is not None}
    numbers |= {"near": NEAR, "least_window": window, "bore": bore, "cutoff_ghz": cutoff, "station": at[2]}
    turned = _turned(index, row, part, tube, taken)
    candidates = (*turned, Remedy(None, None, _PRACTICE))
    return Finding("warning", "antenna-in-metal", part.id, message, numbers, candidates=candidates)


_NUMBERS = {"opening": "to_opening", "non-metal": "to_non_metal", "end": "to_end"}


def _turned(
    index: int, row: SectionParams, part: PlacedPart, tube: Tube, taken: Mapping[str, str]
) -> tuple[Remedy, ...]:
    """Return the section's `front` the other way, where that would bring the antenna near a way out."""
    front = getattr(row, "front", None)
    if front not in ("near", "far"):
        return ()
    x, y, z = _place(part)
    at = (x, y, 2 * part.frame.origin[2] - z)
    other = "near" if front == "far" else "far"
    if metal_at(tube, at[2]) is not None and not _has_way(
        ways_out(tube, at, _least_window(part.part), taken)
    ):
        return ()
    return (
        Remedy(f"section[{index}].front", other, f"turn the board round: its antenna toward the {other} end"),
    )
