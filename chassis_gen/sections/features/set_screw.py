"""Set screw: through the tube's wall on to a pad of solid plastic, which holds the chassis in its place.

Origin and axes: the tube's; the screw's own axis points from the tube's outside to its axis.

    ====| |=====  tube wall: holds the thread
     ___|_|___
    |  |___|  |   dimple in the pad: its floor is the hard stop
    |   pad   |
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field, model_validator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import Angle
from chassis_gen.plan.model import Hardware, ScrewHole
from chassis_gen.problems import InputError, Problem, nearest_name
from chassis_gen.sections.base import Opening, SectionContext
from chassis_gen.sections.features.set_screw_pad import SetScrewPad, plan_pad
from chassis_gen.shapes.frame import radial, reversed_axis
from chassis_gen.tables.holes import WallMaterial, hole_for
from chassis_gen.tables.threads import Thread, all_threads, find_thread

AXIS = "set screw axis"
IN_TUBE = "tube"
"""What a set screw's hole belongs to: the tube, which is no printed piece."""
PLAIN_HOLE = 0.05
"""By how much a hole may be wider than the screw before it can't hold a thread, mm: range of a calliper."""
MOST_THREADS = 3


class SetScrewTable(BaseModel):
    """A set screw through the tube's wall."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    thread: str = Field(default="M3", max_length=20, description="thread of the screw")
    at_opening: str | None = Field(
        default=None,
        description="tapped opening of the tube that it goes through; pins the section where nothing else does",
    )
    clock_deg: Angle | None = Field(
        default=None,
        description="clock of its axis, from the section's top, where no opening says; then it stands in the "
        "section's middle",
    )
    wall: WallMaterial = Field(
        default="metal", description="what the tube's wall, which holds the thread, is made of"
    )

    @model_validator(mode="after")
    def _one_place(self) -> SetScrewTable:
        if self.at_opening is not None and self.clock_deg is not None:
            text = "at_opening and clock_deg both say at which clock the set screw stands"
            raise rejected(Rejection("not-allowed", text, "one of them", at=("clock_deg",)))
        return self


class SetScrew(Struct, frozen=True):
    """A planned set screw.

    Args:
        thread: its thread.
        wall: what the tube's wall is made of.
        opening: tube opening that it goes through, or None where the hole isn't on record.
        hole: the tapped hole in the tube's wall.
        pad: what it lands on.
        length: of the screw, mm.
        sunk: how far its outer end lies below the tube's outside, mm; negative where it stands out.
    """

    thread: Thread
    wall: WallMaterial
    opening: Opening | None
    hole: ScrewHole
    pad: SetScrewPad
    length: float
    sunk: float


def plan_set_screw(table: SetScrewTable, pinned_by: str | None, ctx: SectionContext) -> SetScrew:
    """Return a set screw with its pad: as long as the tube hides, on a dimple deep enough for that.

    Args:
        table: its keys.
        pinned_by: opening that pins the section, which counts where the keys name no place.
        ctx: where the section stands.

    Raises:
        InputError: the thread or the opening is unknown.
    """
    thread = find_thread(table.thread)
    opening = _opening(table, pinned_by, ctx)
    clock = opening.clock_deg if opening else ctx.clock_deg + (table.clock_deg or 0.0)
    station = opening.station if opening else (ctx.z0 + ctx.z1) / 2
    name, fitter = f"{ctx.name}.set_screw", ctx.setting.fitter
    spec = hole_for("set_screw", thread, table.wall)
    wall = ctx.tube_outer_radius - ctx.bore_radius
    pad = plan_pad(fitter, name, thread.designation, clock, station, ctx.outer)
    reach = ctx.tube_outer_radius - _floor(pad)
    length = _length(thread, reach, wall - spec.min_engagement)
    if length > reach:
        landing = ctx.tube_outer_radius - length
        pad = plan_pad(fitter, name, thread.designation, clock, station, ctx.outer, landing=landing)
    sunk = ctx.tube_outer_radius - _floor(pad) - length
    hole = ScrewHole(
        id=name,
        kind=spec.kind,
        thread=thread.designation,
        frame=reversed_axis(radial(clock, station, ctx.tube_outer_radius)),
        depth=wall,
        diameter=fitter.chosen(
            f"{name}_tap_drill", spec.diameter, "tapped hole in the tube's wall", spec.sources[0]
        ),
        engagement=min(wall, wall - sunk),
        least_engagement=spec.min_engagement,
        least_wall=spec.min_wall,
        piece=IN_TUBE,
    )
    return SetScrew(thread, table.wall, opening, hole, pad, length, sunk)


def set_screw_hardware(screw: SetScrew, where: str) -> Hardware:
    """Return the line of the hardware list."""
    return Hardware(f"set screw {screw.thread.designation} x {screw.length:.4g} mm", 1, where)


def set_screw_facts(screw: SetScrew) -> dict[str, float]:
    """Return the figures for the report."""
    return {
        "set_screw_length_mm": screw.length,
        "set_screw_engagement_mm": screw.hole.engagement,
        "set_screw_below_outside_mm": screw.sunk,
        "set_screw_tap_drill_mm": screw.hole.diameter.total,
    }


def set_screw_findings(screw: SetScrew, key: str = "set_screw") -> tuple[Finding, ...]:
    """Return what speaks against a set screw in its tube: too little thread, too wide a hole, none on record.

    Args:
        screw: the screw.
        key: key of its table, for remedies.
    """
    return tuple(f for f in (_thread_finding(screw, key), _hole_finding(screw, key), _to_drill(screw)) if f)


def _opening(table: SetScrewTable, pinned_by: str | None, ctx: SectionContext) -> Opening | None:
    name = table.at_opening or (pinned_by if table.clock_deg is None else None)
    if name is None:
        return None
    openings = ctx.setting.openings
    if name not in openings:
        text = f'the tube has no opening "{name}"'
        allowed = ", ".join(sorted(openings)) or "none yet: add [[tube.opening]]"
        near = nearest_name(name, openings)
        raise InputError(
            [Problem("unknown-name", text, key="set_screw", value=f'"{name}"', allowed=allowed, nearest=near)]
        )
    return openings[name]


def _floor(pad: SetScrewPad) -> float:
    """Return how far from the tube's axis the screw's point stands, mm."""
    return pad.radius - pad.dimple_depth.total


def _length(thread: Thread, reach: float, spare: float) -> float:
    """Return the longest screw that the tube hides and that fills the thread it needs, else the next longer one.

    Args:
        thread: of the screw.
        reach: from the pad's dimple to the tube's outside, mm.
        spare: how much of the tube's wall the screw may leave empty, mm.
    """
    lengths = thread.set_screw.lengths
    hidden = [x for x in lengths if reach - max(spare, 0.0) - 1e-9 <= x <= reach + 1e-9]
    longer = [x for x in lengths if x > reach]
    return max(hidden) if hidden else min(longer, default=lengths[-1])


def _series(thread: Thread) -> bool:
    return thread.designation.startswith("M")


def _holds(thread: Thread, screw: SetScrew) -> bool:
    """Return whether another thread finds enough turns in the tube's wall."""
    return hole_for("set_screw", thread, screw.wall).min_engagement <= screw.hole.depth + 1e-6


def _fits_hole(thread: Thread, screw: SetScrew) -> bool:
    return screw.opening is None or screw.opening.diameter <= thread.major_diameter + PLAIN_HOLE


def _thread_finding(screw: SetScrew, key: str) -> Finding | None:
    hole = screw.hole
    if hole.engagement >= hole.least_engagement - 1e-6:
        return None
    message = (
        f"{hole.id}: {hole.thread} holds over {hole.engagement:.2f} mm in the tube's wall of {hole.depth:.2f} mm; "
        f"a set screw needs {hole.least_engagement:.2f} mm there"
    )
    finer = [
        t
        for t in sorted(all_threads(), key=lambda t: -t.major_diameter)
        if _series(t) == _series(screw.thread)
        and t.pitch < screw.thread.pitch
        and _holds(t, screw)
        and _fits_hole(t, screw)
    ]
    candidates = (
        *(
            Remedy(f"{key}.thread", t.designation, f"a set screw {t.designation}")
            for t in finer[:MOST_THREADS]
        ),
        Remedy(None, None, "a boss or a nut on the tube that holds more thread"),
    )
    numbers = {"engagement": hole.engagement, "least_engagement": hole.least_engagement, "wall": hole.depth}
    return Finding("error", "screw-engagement", hole.id, message, numbers, candidates=candidates)


def _hole_finding(screw: SetScrew, key: str) -> Finding | None:
    if screw.opening is None or _fits_hole(screw.thread, screw):
        return None
    o, major = screw.opening, screw.thread.major_diameter
    message = (
        f'{screw.hole.id}: opening "{o.name}" is {o.diameter:.2f} mm wide, wider than the {major:.2f} mm of '
        f"{screw.thread.designation}: it can't hold its thread"
    )
    wider = [
        t
        for t in sorted(all_threads(), key=lambda t: t.major_diameter)
        if _series(t) == _series(screw.thread)
        and _fits_hole(t, screw)
        and t.tap_drill >= o.diameter - PLAIN_HOLE
    ]
    candidates = tuple(
        Remedy(f"{key}.thread", t.designation, f"tap it {t.designation} instead")
        for t in wider[:MOST_THREADS]
    )
    numbers = {"diameter": o.diameter, "major_diameter": major}
    return Finding("error", "set-screw-loose", screw.hole.id, message, numbers, candidates=candidates)


def _to_drill(screw: SetScrew) -> Finding | None:
    if screw.opening is not None:
        return None
    hole, clock = screw.hole, screw.pad.clock_deg % 360.0
    message = (
        f"{hole.id}: the tube wants a hole tapped {hole.thread} at station {screw.pad.station:.2f} mm, clock "
        f"{clock:.0f}: drill {screw.thread.tap_drill_name} with no cell in the tube, tap, and clear the chips out"
    )
    numbers = {"station": screw.pad.station, "clock_deg": clock, "tap_drill": hole.diameter.total}
    text = "measure the hole that you drilled, write it as [[tube.opening]] and name it with at_opening"
    return Finding("note", "set-screw-hole", hole.id, message, numbers, Remedy(None, None, text))


def meeting_gap(screw: SetScrew, clock_deg: float, radius: float, half: float) -> float:
    """Return how far a round void parallel to the axis stays from the solid stretch under a screw, mm.

    Args:
        screw: the screw.
        clock_deg: of the void's axis, degrees.
        radius: distance of its axis from the tube's, mm.
        half: its radius, mm.

    Returns:
        Negative where both meet; the stretch already holds the wall that the screw wants.
    """
    pad = screw.pad
    off = math.radians(clock_deg - pad.clock_deg)
    beside = abs(radius * math.sin(off)) - pad.width.total / 2
    under = _floor(pad) - pad.thickness.total - radius * math.cos(off)
    if beside < 0 and under < 0:
        return max(beside, under) - half
    return math.hypot(max(beside, 0.0), max(under, 0.0)) - half


def turned(step: float = 5.0) -> Iterator[float]:
    """Yield turns to try, smallest first: degrees one way and the other, up to half a turn."""
    for k in range(1, int(180 / step) + 1):
        yield step * k
        yield -step * k
