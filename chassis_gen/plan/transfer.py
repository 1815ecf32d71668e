"""Transfer holes: drilled through the tube once the chassis is in; lanes keep off, solid pads lie under the drill."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.cross_section import innermost_lane_radius
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.model import OVERLAP, Obstacle, Outer, SectionPlan, Sector
from chassis_gen.plan.outer_room import columns
from chassis_gen.plan.sums import on_grid
from chassis_gen.plan.tube import TRANSFER_MARGIN, Tube
from chassis_gen.sections.base import Opening
from chassis_gen.shapes.primitives import TubeSegment
from chassis_gen.shapes.recipe import Step, add

PAD_THICKNESS = 4.0
"""Material under a hole that is drilled through the tube, mm: eight threads of M3 (chosen)."""
MOST_SHIFT = 60.0
"""How far along the tube another place is looked for, mm (chosen)."""
WITHIN_RAIL = 0.5
"""How far within a rail's far edge a pad ends, degrees: faces on one another would meet in arithmetic only."""
TURN = 5
"""By what steps round the tube another place is looked for, degrees (chosen)."""


def transfer_findings(
    inputs: BuildInputs, tube: Tube, bodies: Sequence[SectionPlan], outer: Outer
) -> tuple[Finding, ...]:
    """Return what to do with each transfer hole, and an error where the chassis has no material for one.

    Args:
        inputs: the build's files.
        tube: the tube.
        bodies: the sections in line, with their companions' obstacles.
        outer: the chassis's outer surface.
    """
    return tuple(
        next((f for s in bodies if (f := _over_a_void(inputs, o, s, bodies, outer))), _to_drill(o))
        for o in tube.transfers
    )


def _to_drill(o: Opening) -> Finding:
    message = (
        f'"{o.name}" is a transfer hole: slide the chassis home, then drill it through the tube\'s hole at '
        f"station {o.station:.1f} mm, clock {o.clock_deg:.0f}, with a {o.diameter:.1f} mm hole as the guide; "
        "no cell in the tube while drilling, and clear the chips out"
    )
    numbers = {"station": o.station, "clock_deg": o.clock_deg, "diameter": o.diameter}
    return Finding("note", "transfer-hole", o.name, message, numbers)


def _over_a_void(
    inputs: BuildInputs, o: Opening, section: SectionPlan, bodies: Sequence[SectionPlan], outer: Outer
) -> Finding | None:
    names = what_is_under(o, section, outer)
    if not names:
        return None
    message = (
        f'"{o.name}" is to be drilled into the chassis at station {o.station:.1f} mm, clock {o.clock_deg:.0f}, '
        f'and {PAD_THICKNESS:g} mm of "{section.name}" are wanted solid there, {TRANSFER_MARGIN:g} mm round the '
        f"hole; in the way: {', '.join(names)}"
    )
    numbers = {"station": o.station, "clock_deg": o.clock_deg, "pad": PAD_THICKNESS}
    words = Remedy(None, None, "another place for the hole, over material of the chassis")
    candidates = (*_elsewhere(inputs, o, bodies, outer), words)
    return Finding("error", "transfer-over-void", o.name, message, numbers, candidates=candidates)


def _elsewhere(
    inputs: BuildInputs, o: Opening, bodies: Sequence[SectionPlan], outer: Outer
) -> Iterator[Remedy]:
    """Yield the nearest stations, in and out, and the nearest clock with material for a hole, where its key is."""
    rows = inputs.build.tube.opening
    at = next((i for i, row in enumerate(rows) if row.name == o.name), None)
    if at is None:
        return
    if any(o.name in s.openings for s in bodies):
        yield Remedy(
            f"tube.opening[{at}].transfer", False, "no transfer hole: a part stands under this opening"
        )
    half = o.diameter / 2 + TRANSFER_MARGIN
    low, high = bodies[0].z0 + half, bodies[-1].z1 - half

    def free(place: Opening) -> bool:
        return not any(what_is_under(place, s, outer) for s in bodies)

    for way in (1, -1):
        for k in range(1, round(MOST_SHIFT) + 1):
            station = math.floor(o.station) + way * k
            if low <= station <= high and free(Opening(o.name, station, o.clock_deg, o.diameter)):
                yield Remedy(
                    f"tube.opening[{at}].from_mouth", float(station), f"the hole at station {station:g}"
                )
                break
    for turn in (sign * k for k in range(TURN, 181, TURN) for sign in (1, -1)):
        if free(Opening(o.name, o.station, (o.clock_deg + turn) % 360.0, o.diameter)):
            clock = round((rows[at].clock_deg + turn) % 360.0, 3)
            yield Remedy(f"tube.opening[{at}].clock_deg", clock, f"the hole at clock {clock:g}")
            break


def what_is_under(o: Opening, section: SectionPlan, outer: Outer) -> tuple[str, ...]:
    """Return the names of what leaves no room in a section for the pad under a hole.

    Args:
        o: the hole.
        section: the section, with its companions' obstacles.
        outer: the chassis's outer surface.
    """
    span = _pad_stations(o, section)
    if span is None:
        return ()
    z0, z1 = span
    radius = outer.smallest_radius(z0, z1)
    low, high = _pad_clocks(section, o.clock_deg, _half_turn(o, radius))
    under = columns(low, high)
    names = (
        x.what
        for x in section.obstacles
        if not x.material and innermost_lane_radius([x], z0, z1, 0.0)[under].max() > radius - PAD_THICKNESS
    )
    return tuple(dict.fromkeys(names))


def _half_turn(o: Opening, radius: float) -> float:
    return math.degrees(math.asin(min(1.0, (o.diameter / 2 + TRANSFER_MARGIN) / radius)))


def _pad_stations(o: Opening, section: SectionPlan) -> tuple[float, float] | None:
    """Return what of a hole's pad lies in a section, or None."""
    half = o.diameter / 2 + TRANSFER_MARGIN
    z0, z1 = (on_grid(min(max(z, section.z0), section.z1)) for z in (o.station - half, o.station + half))
    return (z0, z1) if z1 - z0 > 2 * OVERLAP else None


def transfer_obstacles(tube: Tube, sections: Sequence[SectionPlan]) -> tuple[Obstacle, ...]:
    """Return what keeps lanes away from where a drill comes through the tube, and from the pads under it.

    Args:
        tube: the tube.
        sections: the planned sections.
    """
    z0, z1 = min(s.z0 for s in sections), max(s.z1 for s in sections)
    found = []
    for o in tube.transfers:
        half = o.diameter / 2 + TRANSFER_MARGIN
        if o.station + half > z0 and o.station - half < z1:
            surface = tube.smallest_bore(o.station - o.diameter / 2, o.station + o.diameter / 2).diameter / 2
            turn = math.degrees(math.asin(min(1.0, half / surface)))
            beside = [s for s in sections if s.z0 < o.station + half and s.z1 > o.station - half]
            clocks = [_pad_clocks(s, o.clock_deg, turn) for s in beside] or [
                (o.clock_deg - turn, o.clock_deg + turn)
            ]
            sector = Sector(min(a for a, _ in clocks), max(b for _, b in clocks))
            found.append(Obstacle(sector, o.station - half, o.station + half, "transfer hole"))
    return tuple(found)


def transfer_pads(tube: Tube, section: SectionPlan, outer: Outer) -> tuple[Step, ...]:
    """Return the solid pads that a section is given under holes that are drilled in their place.

    Where the section is hollow, the pad goes on over the rails on both sides of it, so that it hangs on them. Where
    something is in its way there is none, and a finding says so.

    Args:
        tube: the tube.
        section: the section, with its companions' obstacles.
        outer: the chassis's outer surface.
    """
    steps: tuple[Step, ...] = ()
    for o in tube.transfers:
        span = _pad_stations(o, section)
        if span is None or what_is_under(o, section, outer):
            continue
        radius = outer.smallest_radius(*span)
        low, high = _pad_clocks(section, o.clock_deg, _half_turn(o, radius))
        # a pad flush with the surface of its section would meet it in arithmetic only
        pad = TubeSegment(radius - PAD_THICKNESS, radius - OVERLAP, *span, low, high)
        steps += add("transfer pad", pad)
    return steps


def _pad_clocks(section: SectionPlan, clock: float, turn: float) -> tuple[float, float]:
    """Return the clock interval of a pad: wide enough for the drill, and over the rails of a hollow section."""
    low, high = clock - turn, clock + turn
    rails = [o.shape for o in section.obstacles if o.what == "rail" and isinstance(o.shape, Sector)]
    if rails and any(g.open_room for g in section.galleries):
        edges = [(r.clock_from + WITHIN_RAIL, r.clock_to - WITHIN_RAIL) for r in rails]
        below = min((clock - (a + b) / 2) % 360.0 + (b - a) / 2 for a, b in edges)
        above = min(((a + b) / 2 - clock) % 360.0 + (b - a) / 2 for a, b in edges)
        low, high = min(low, clock - below), max(high, clock + above)
    return low, high
