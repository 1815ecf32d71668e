"""Where the slack of wires to removable parts lies when the chassis is closed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Route
from chassis_gen.plan.laying import Ground
from chassis_gen.plan.model import SectionPlan
from chassis_gen.plan.reliefs import carried_by


def lay_slack(routes: Sequence[Route], ground: Ground) -> tuple[dict[str, str], tuple[Finding, ...]]:
    """Return for each wire that serves out the hollow section its slack lies in, and a finding where none has room.

    Loosely folded wire takes a share of a hollow section's round; a fold needs the length of two bends. Of several
    sections it is the one nearest to the part that comes out, so that no slack has to be drawn through lanes.

    Args:
        routes: all routes.
        ground: its rules give the share and the bend.
    """
    left = {s.name: _room(s, ground) for s in ground.sections if any(g.open_room for g in s.galleries)}
    carried = carried_by(ground.sections)
    places: dict[str, str] = {}
    found = []
    for r in routes:
        if not r.wire.serve_out:
            continue
        volume = math.pi / 4 * r.wire.outer_diameter**2 * r.wire.serve_out
        legs = reversed(r.legs) if carried(r.wire.end) and not carried(r.wire.start) else r.legs
        passed = dict.fromkeys(leg.section for leg in legs if leg.section in left)
        name = next((n for n in passed if left[n] >= volume and _folds(n, r, ground)), None)
        if name is None:
            found.append(_no_place(r, volume, max((left[n] for n in passed), default=0.0), ground))
            continue
        places[r.wire.id] = name
        left[name] -= volume
    return places, tuple(found)


def _room(section: SectionPlan, ground: Ground) -> float:
    """Return how much folded wire a hollow section takes, mm3."""
    radius = ground.outer.smallest_radius(section.z0, section.z1)
    return math.pi * radius**2 * (section.z1 - section.z0) * ground.rules.slack_fill


def _folds(name: str, route: Route, ground: Ground) -> bool:
    section = next(s for s in ground.sections if s.name == name)
    return section.z1 - section.z0 >= 2 * ground.rules.bend * route.wire.outer_diameter - 1e-9


def _no_place(route: Route, wanted: float, free: float, ground: Ground) -> Finding:
    wire = route.wire
    message = (
        f"{wire.id}: {wire.serve_out:g} mm of slack have no place to lie: no hollow section on its way has "
        f"{wanted:.0f} mm3 free for folded wire and room for the fold (the roomiest has {free:.0f} mm3)"
    )
    candidates = [
        Remedy(f"section[{row.index}].length", row.length + more, f'"{name}" {row.length + more:g} mm long')
        for name, row in ground.rows.items()
        if row.kind == "lead_bay" and row.length is not None
        for more in (5.0, 10.0, 20.0)
    ]
    words = Remedy(None, None, f"a lead bay on the way of {wire.id}, or less serve_out_mm")
    numbers = {"wanted_volume": wanted, "free_volume": free, "serve_out": wire.serve_out}
    return Finding("error", "slack-no-room", wire.id, message, numbers, candidates=(*candidates, words))
