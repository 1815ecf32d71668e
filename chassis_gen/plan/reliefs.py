"""Strain reliefs: glue lands in the lanes beside soldered joints, and findings where a joint has none."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Lane, Route
from chassis_gen.plan.drop_bends import Bend
from chassis_gen.plan.laying import Ground, Laid, Stretch, Visit, lies_in
from chassis_gen.plan.model import PlacedTerminal, SectionPlan
from chassis_gen.plan.strain_relief import plan_relief, relief_cutters
from chassis_gen.plan.sums import on_grid
from chassis_gen.shapes.frame import radial
from chassis_gen.shapes.recipe import Step, cut

LEAST_LAND = 0.2
"""A shallower trough holds no glue, mm (chosen)."""
FROM_DROP = 1.0
"""Wall of the lane between a drop with its flare and the land behind it, mm (chosen)."""


def cut_reliefs(
    laid: Sequence[Laid],
    lanes: Sequence[Lane],
    stretches: Sequence[Stretch],
    ground: Ground,
    bends: Sequence[Bend] = (),
) -> tuple[dict[str, tuple[str, ...]], Mapping[str, tuple[Step, ...]]]:
    """Return for each wire the terminals beside whose joints a glue land is cut, and the cuts by section.

    Args:
        laid: the laid wires.
        lanes: the lanes that they lie in.
        stretches: what the paths count.
        ground: the planned sections.
        bends: of the drops, behind whose flares a land begins.
    """
    flares = {(b.wire, b.terminal): b.along for b in bends if b.cuts}
    reliefs: dict[str, tuple[str, ...]] = {}
    steps: dict[str, tuple[Step, ...]] = {}
    for x in laid:
        if x.wire.strain_relief != "glue" or not x.along:
            continue
        ends = ((x.low, x.visits[0], x.visits[0].up), (x.high, x.visits[-1], not x.visits[-1].up))
        for terminal, visit, up in ends:
            flare = flares.get((x.wire.id, terminal.id), 0.0)
            made = _land(x, terminal, visit, up, lanes, stretches, ground, flare)
            if made is not None:
                name = stretches[visit.stretch].section.name
                reliefs[x.wire.id] = (*reliefs.get(x.wire.id, ()), terminal.id)
                steps[name] = (*steps.get(name, ()), *made)
    return reliefs, steps


def _land(
    x: Laid,
    terminal: PlacedTerminal,
    visit: Visit,
    up: bool,
    lanes: Sequence[Lane],
    stretches: Sequence[Stretch],
    ground: Ground,
    flare: float,
) -> tuple[Step, ...] | None:
    """Return the cut of a glue land in the lane's floor beside a joint, or None where there is no room for it."""
    stretch = stretches[visit.stretch]
    own = [y for y in lanes if x.wire.id in y.wires and not y.closed and lies_in(y, stretch, visit.clock)]
    if not own:
        return None
    bottom = own[0].bottom_radius
    spare = bottom - float(max(stretch.limit[(visit.clock + k) % 360] for k in range(-8, 9)))
    name = f"relief of {x.wire.id} at {terminal.id}"
    if ground.fitter is None or spare < LEAST_LAND:
        return None
    relief = plan_relief(
        ground.fitter, name, "glue", radial(visit.clock, 0.0), 2 * spare, x.wire.outer_diameter
    )
    away = x.wire.outer_diameter / 2 + flare + FROM_DROP + relief.length.total / 2
    z = terminal.position[2] + (away if up else -away)
    frame = radial(visit.clock, on_grid(z), bottom)
    inside = (
        stretch.z0 - 1e-9 <= z - relief.length.total / 2 and z + relief.length.total / 2 <= stretch.z1 + 1e-9
    )
    near = math.dist(frame.origin, terminal.position) <= ground.rules.relief
    if not inside or not near:
        return None
    return cut(name, *relief_cutters(replace(relief, frame=frame)), must_touch=False)


def relief_findings(routes: Sequence[Route], sections: Sequence[SectionPlan]) -> tuple[Finding, ...]:
    """Return a note on joints without strain relief, and a warning for each on a part that comes out.

    Args:
        routes: all routes.
        sections: the planned sections.
    """
    carried = carried_by(sections)
    bare: list[str] = []
    found = []
    for r in routes:
        if r.wire.strain_relief in ("own", "none"):
            continue
        ends = (r.wire.start, r.wire.end)
        # where neither end is on a carrier or a cap, the slack may be for either
        served = r.wire.serve_out > 0 and not any(carried(t) for t in ends)
        for t in ends:
            if t in r.reliefs:
                continue
            moves = carried(t) or served
            if moves or r.wire.strain_relief == "glue":
                found.append(_no_relief(r, t, moves))
            else:
                bare.append(t)
    if bare:
        names = tuple(dict.fromkeys(bare))
        message = (
            f"{len(names)} joints have no strain relief within 15 mm, a drop of glue or a tie: "
            + ", ".join(names[:6])
            + (" and others" if len(names) > 6 else "")
        )
        text = (
            'strain_relief = "glue" cuts a glue land beside a wire\'s joints; "own" says that you see to it'
        )
        numbers = {"joints": float(len(names))}
        found.append(
            Finding("note", "no-strain-relief", "wiring", message, numbers, Remedy(None, None, text))
        )
    return tuple(found)


def carried_by(sections: Sequence[SectionPlan]) -> Callable[[str], bool]:
    """Return a test of whether a terminal belongs to a part that a carrier or a cap holds.

    Args:
        sections: the planned sections.
    """
    parts = [p.id for s in sections for p in s.parts if p.piece in {e.name for e in s.extra_pieces}]
    return lambda terminal: any(terminal.startswith(f"{p}.") for p in parts)


def _no_relief(route: Route, terminal: str, moves: bool) -> Finding:
    wire = route.wire
    why = (
        "its lane has no room for a glue land there" if wire.strain_relief == "glue" else "none is asked for"
    )
    moving = " moves and" if moves else ""
    message = f"{wire.id}: the joint at {terminal}{moving} has no strain relief within 15 mm: {why}"
    candidates = [Remedy(None, None, 'a drop of glue or a tie beside the joint, then strain_relief = "own"')]
    if wire.key and wire.strain_relief is None:
        candidates.insert(0, Remedy(f"{wire.key}.strain_relief", "glue", f"a glue land for {wire.id}"))
    return Finding(
        "warning", "no-strain-relief", f"{wire.id} at {terminal}", message, {}, candidates=tuple(candidates)
    )
