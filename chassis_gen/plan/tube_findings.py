"""What numbers alone say of the tube: joints, collars, and how well openings were measured."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from chassis_gen.findings import Finding, Remedy
from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.model import PlacedPart, SectionPlan
from chassis_gen.plan.tube import MeasuredOpening, Tube
from chassis_gen.plan.tube_metal import material_findings
from chassis_gen.sections.base import Opening
from chassis_gen.shapes.primitives import placed


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
        if not m.transfer and m.name in served | asked:
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
