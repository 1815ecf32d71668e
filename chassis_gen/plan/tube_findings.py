"""What numbers alone say of the tube: joints, transfer holes, collars, and how well openings were measured."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from chassis_gen.findings import Finding, Remedy
from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.model import OVERLAP, Obstacle, Outer, PlacedPart, SectionPlan, Sector
from chassis_gen.plan.sums import on_grid
from chassis_gen.plan.tube import TRANSFER_MARGIN, MeasuredOpening, Tube
from chassis_gen.plan.tube_metal import material_findings
from chassis_gen.sections.base import Opening
from chassis_gen.shapes.primitives import TubeSegment, placed
from chassis_gen.shapes.recipe import Step, add

PAD_THICKNESS = 4.0
"""Material under a hole that is drilled through the tube, mm: eight threads of M3 (chosen)."""


def tube_findings(inputs: BuildInputs, tube: Tube, sections: Sequence[SectionPlan]) -> tuple[Finding, ...]:
    """Return what is to be said of the tube as it was measured.

    Args:
        inputs: the build's files.
        tube: the tube.
        sections: the planned sections.
    """
    openings = {o.name: o for o in tube.openings}
    served = {name for s in sections for name in s.openings}
    asked = {s.at_opening for s in inputs.build.section if s.at_opening}
    found: list[Finding] = [*material_findings(tube)]
    for m in tube.measured:
        found += _joint(m)
        if m.transfer:
            found.append(_transfer(openings[m.name]))
        elif m.name in served | asked:
            found += _doubtful(m, openings[m.name], tube)
    parts = [p for s in sections for p in s.parts]
    return (*found, *_plugs(tube, openings), *_under_collars(tube, parts))


def _joint(m: MeasuredOpening) -> Iterator[Finding]:
    if not m.clock_known:
        message = (
            f'opening "{m.name}" is drilled in segment "{m.segment}"; nobody measured at which clock that one '
            "stops when screwed home, so everything at this opening may stand turned"
        )
        text = f'screw the tube home, read the clock of the mark on "{m.segment}", write it as stop_clock_deg'
        yield Finding("warning", "joint-clock-unknown", m.name, message, remedy=Remedy(None, None, text))
    if m.in_thread:
        message = f'opening "{m.name}" goes through the thread where two segments overlap'
        yield Finding("warning", "opening-in-thread", m.name, message, {"station": m.station.total})


def _transfer(o: Opening) -> Finding:
    message = (
        f'"{o.name}" is a transfer hole: slide the chassis home, then drill it through the tube\'s hole at '
        f"station {o.station:.1f} mm, clock {o.clock_deg:.0f}, with a {o.diameter:.1f} mm hole as the guide; "
        "no cell in the tube while drilling, and clear the chips out"
    )
    numbers = {"station": o.station, "clock_deg": o.clock_deg, "diameter": o.diameter}
    return Finding("note", "transfer-hole", o.name, message, numbers)


def _doubtful(m: MeasuredOpening, o: Opening, tube: Tube) -> Iterator[Finding]:
    """Yield a warning where an opening's place is known less well than it lets its part stand off it."""
    round_range = math.radians(m.clock.worst_case) * tube.outer_diameter(o.station) / 2
    off = math.hypot(m.station.worst_case, round_range)
    if off > o.diameter / 2 * _DOUBT:
        message = (
            f'opening "{o.name}" was measured to +-{m.station.worst_case:.2f} mm along and '
            f"+-{round_range:.2f} mm round the tube, {off:.2f} mm together; its hole is {o.diameter:.1f} mm wide"
        )
        text = "measure it more closely, or make it a transfer hole (transfer = true)"
        numbers = {"along": m.station.worst_case, "round": round_range, "together": off}
        yield Finding("warning", "opening-doubtful", o.name, message, numbers, Remedy(None, None, text))


_DOUBT = 0.1
"""Share of a hole's radius by which its place may be unknown before that is said (chosen)."""


def _plugs(tube: Tube, openings: Mapping[str, Opening]) -> Iterator[Finding]:
    """Yield errors for plugs under a collar that don't end below the covered outside."""
    for plug in tube.plugs:
        opening = openings[plug.opening]
        collar = tube.collar_over(opening.station)
        covered = tube.outer_diameter(opening.station) / 2
        if collar is not None and plug.outer_end >= covered:
            message = (
                f'{plug.name} in opening "{opening.name}" ends {plug.outer_end:.2f} mm from the axis; under the '
                f'collar "{collar.name}" it must end below the tube\'s outside, {covered:.2f} mm'
            )
            numbers = {"outer_end": plug.outer_end, "covered_radius": covered}
            text = f"a shorter screw, or sink it by more than {plug.outer_end - covered:.2f} mm"
            yield Finding("error", "collar-blocked", plug.name, message, numbers, Remedy(None, None, text))


def _under_collars(tube: Tube, parts: Iterable[PlacedPart]) -> Iterator[Finding]:
    """Yield errors for parts that stand out of the tube under a collar."""
    for part in parts:
        for collar in tube.collars:
            reach = _reach(part, collar.z0, collar.z1)
            if reach > collar.inner_diameter / 2:
                message = (
                    f'{part.id} reaches {reach:.2f} mm from the axis under the collar "{collar.name}", '
                    f"whose inside is {collar.inner_diameter / 2:.2f} mm from it"
                )
                numbers = {"reach": reach, "collar_radius": collar.inner_diameter / 2}
                yield Finding("error", "collar-blocked", part.id, message, numbers)


def _reach(part: PlacedPart, z0: float, z1: float) -> float:
    """Return how far a part's envelope reaches along x or y between two stations, mm; 0 where it isn't there."""
    boxes = [extent_of(placed(p, part.frame)) for p in part.part.envelope]
    there = [b for b in boxes if b[0][2] < z1 and b[1][2] > z0]
    if not there:
        return 0.0
    low, high = extent(there)
    return max(abs(v) for v in (*low[:2], *high[:2]))


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

    Where the section is hollow, the pad goes on to the rails on both sides of it, so that it hangs on them.

    Args:
        tube: the tube.
        section: the section.
        outer: the chassis's outer surface.
    """
    steps: tuple[Step, ...] = ()
    for o in tube.transfers:
        half = o.diameter / 2 + TRANSFER_MARGIN
        z0, z1 = (on_grid(min(max(z, section.z0), section.z1)) for z in (o.station - half, o.station + half))
        if z1 - z0 <= 2 * OVERLAP:
            continue
        radius = outer.smallest_radius(z0, z1)
        low, high = _pad_clocks(section, o.clock_deg, math.degrees(math.asin(min(1.0, half / radius))))
        # a pad flush with the surface of its section would meet it in arithmetic only
        pad = TubeSegment(radius - PAD_THICKNESS, radius - OVERLAP, z0, z1, low, high)
        steps += add("transfer pad", pad)
    return steps


def _pad_clocks(section: SectionPlan, clock: float, turn: float) -> tuple[float, float]:
    """Return the clock interval of a pad: wide enough for the drill, and out to the rails of a hollow section."""
    low, high = clock - turn, clock + turn
    rails = [o.shape for o in section.obstacles if o.what == "rail" and isinstance(o.shape, Sector)]
    if rails and any(g.open_room for g in section.galleries):
        middles = [(r.clock_from + r.clock_to) / 2 for r in rails]
        below = min((clock - m) % 360.0 for m in middles)
        above = min((m - clock) % 360.0 for m in middles)
        low, high = min(low, clock - below), max(high, clock + above)
    return low, high
