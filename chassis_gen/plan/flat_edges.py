"""What the printing flat leaves beside holes that run along the tube."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from chassis_gen.findings import Finding, Remedy, error, wall_left
from chassis_gen.plan.model import Outer, ScrewHole, SectionPlan
from chassis_gen.plan.surface import narrower_flats
from chassis_gen.sections.base import SectionParams
from chassis_gen.sections.features.screw_hole import edge_said

TURNS = (15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 90.0)
"""By how much a section is turned to bring its holes away from the flat, degrees (chosen)."""

_NUT = "captive_nut"
_SLACK = 0.02
"""How much thinner a wall may be, mm: as much as its measure on the solids lets pass, two chord tolerances."""


def flat_edge_findings(
    sections: Sequence[SectionPlan], rows: Sequence[SectionParams], outer: Outer
) -> Iterator[Finding]:
    """Yield an error for each hole along the tube that the printing flat leaves too little material beside.

    Nuts have corners: the material round them is measured on the solids.

    Args:
        sections: all planned sections, in file order.
        rows: the sections' keys, in file order.
        outer: the chassis's outer surface.
    """
    for i, (section, row) in enumerate(zip(sections, rows, strict=True)):
        holes = [h for h in section.holes if h.piece == section.piece and h.kind != _NUT and _along(h)]
        for hole in [h for h in holes if not edge_said(h.id, section.findings)]:
            wall = _wall(hole, outer)
            if wall is not None and wall < hole.least_wall - _SLACK:
                yield _finding(hole, wall, outer, _turned(f"section[{i}]", row, holes, outer))


def _along(hole: ScrewHole) -> bool:
    return abs(hole.frame.z_axis[2]) > 1 - 1e-9


def _wall(hole: ScrewHole, outer: Outer, turn: float = 0.0) -> float | None:
    """Return the material between a hole, turned by some degrees, and the flat, mm; None where there is no flat."""
    if outer.flat_distance is None:
        return None
    x, y, _ = hole.frame.origin
    toward = math.radians(outer.flat_clock - turn)
    reach = x * math.cos(toward) + y * math.sin(toward) + hole.diameter.total / 2
    return outer.flat_distance - reach


def _turned(key: str, row: SectionParams, holes: Sequence[ScrewHole], outer: Outer) -> Iterator[Remedy]:
    """Yield the clock of a section, turned the least, at which all of its holes are clear of the flat."""
    if row.at_opening is not None:
        return
    for turn in TURNS:
        walls = [(h.least_wall, _wall(h, outer, turn)) for h in holes]
        if all(wall is None or wall >= least for least, wall in walls):
            clock = (row.clock_deg + turn) % 360
            yield Remedy(f"{key}.clock_deg", clock, f"the section at clock {clock:g}")
            return


def _finding(hole: ScrewHole, wall: float, outer: Outer, turned: Iterator[Remedy]) -> Finding:
    distance = outer.flat_distance or 0.0
    message = (
        f"between {hole.id} and the printing flat at clock {outer.flat_clock:g} {wall_left(wall)}; "
        f"{hole.thread} needs {hole.least_wall:.2f} mm"
    )
    numbers = {"wall": wall, "least_wall": hole.least_wall, "flat_distance": distance}
    flats = narrower_flats(outer, distance - wall + hole.least_wall)
    return error("screw-edge", hole.id, message, numbers, *turned, *flats)
