"""Drops that bend into their lanes more sharply than a wire bears: how much, and what would help."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from chassis_gen.findings import Finding, Level, Remedy
from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.cross_section import interval_mask
from chassis_gen.plan.drop_bends import Bend
from chassis_gen.plan.grid import Grid
from chassis_gen.plan.laying import Laid
from chassis_gen.plan.no_way import longer_bays, thin_insulation, thinner
from chassis_gen.plan.sums import GRID
from chassis_gen.tables.wire import wiring_rule

FEW = 4
"""How many other clocks are proposed for a wire that is pinned to one (chosen)."""


def sharp_bends(bends: Sequence[Bend], laid: Sequence[Laid], grid: Grid) -> tuple[Finding, ...]:
    """Return a warning for each bend of a drop with less room than its radius wants, an error for one far below it.

    Args:
        bends: of all drops.
        laid: the laid wires.
        grid: what is taken.
    """
    by_wire = {x.wire.id: x for x in laid}
    return tuple(_sharp(b, by_wire[b.wire], grid) for b in bends if b.radius < b.wanted - GRID)


def _sharp(b: Bend, x: Laid, grid: Grid) -> Finding:
    rule = wiring_rule("bend_radius_diameters")
    message = (
        f'{b.wire}: where its drop from {b.terminal} turns into its lane in "{b.section}" there is room for a bend of '
        f"{b.radius:.1f} mm radius; {b.wanted:.1f} mm are wanted, {rule.value:g} outside diameters ({rule.source})"
    )
    numbers = {
        "radius": b.radius,
        "wanted_radius": b.wanted,
        "short_by": b.wanted - b.radius,
        "clock_deg": float(b.clock),
    }
    words = Remedy(
        None, None, f"a thinner or softer wire, or a terminal of {b.section} with more room beside it"
    )
    candidates = (*_remedies(b, x.wire, x, grid), words)
    tight = wiring_rule("tight_bend_radius_diameters").value * x.wire.outer_diameter
    level: Level = "warning" if b.radius >= tight - GRID else "error"
    return Finding(level, "bend-sharp", f"{b.wire} at {b.terminal}", message, numbers, candidates=candidates)


def _remedies(b: Bend, wire: Wire, x: Laid, grid: Grid) -> Iterator[Remedy]:
    """Yield what might help, the likeliest first: each is tried by planning the build with it."""
    if wire.key and wire.pinned_clock is not None:
        yield Remedy(f"{wire.key}.clock_deg", None, f"no clock_deg for {wire.id}: it finds its own lanes")
        for clock in _better_clocks(b, x, grid):
            yield Remedy(f"{wire.key}.clock_deg", float(clock), f"{wire.id} at clock {clock}")
    yield from thin_insulation(wire)
    yield from thinner(wire)
    yield from longer_bays(b.section, grid)


def _better_clocks(b: Bend, x: Laid, grid: Grid) -> list[int]:
    """Return a few clocks, spread evenly, at which the drop bends well."""
    terminal = next(t for t in (x.low, x.high) if t.id == b.terminal)
    stations = np.array([grid.stretches[0].z0, *(s.z1 for s in grid.stretches)])
    joint = int(np.argmin(np.abs(stations - terminal.position[2])))
    well = grid.bends_well(x.wire, terminal, joint, b.faces > 0)
    if well is None:
        return []
    within = np.any([interval_mask(low, high) for low, high in terminal.exits], axis=0)
    clocks = np.flatnonzero(well & within)
    return [int(c) for c in clocks[:: max(1, len(clocks) // FEW)][:FEW]]
