"""Ways from joints straight out to their lanes: which clocks stay free of what stands beside them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from chassis_gen.plan.model import Covering, Disc, PlacedTerminal, SectionPlan
from chassis_gen.shapes.frame import unit

DROP_HALF = 0.9
"""Half the width of a drop's channel, mm: that of a silicone AWG 24 wire and its room; thicker wires are held to
their walls by the check of the solids."""
_STEP = 0.25

Clocks = npt.NDArray[np.float64]
Barred = npt.NDArray[np.bool_]


def past_holes(terminal: PlacedTerminal, holes: Sequence[Disc], wall: float) -> PlacedTerminal:
    """Return a terminal whose ways out pass holes a wall away.

    Args:
        terminal: the terminal.
        holes: along the tube.
        wall: least wall between both, mm.
    """
    return _without(terminal, [partial(_beside_hole, terminal, h, wall) for h in holes])


def round_lids(
    sections: Sequence[SectionPlan], hosts: Mapping[str, str], wall: float
) -> tuple[SectionPlan, ...]:
    """Return the sections with joints whose ways out pass lids at their sides, a wall away.

    Args:
        sections: all planned sections.
        hosts: for each companion its host.
        wall: least wall, mm.
    """
    lids = [(hosts.get(s.name, s.name), s.covering) for s in sections if s.covering]

    def passing(s: SectionPlan) -> SectionPlan:
        over = [lid for host, lid in lids if host == hosts.get(s.name, s.name)]
        return replace(s, terminals=tuple(_past_lids(t, over, wall) for t in s.terminals))

    return tuple(passing(s) for s in sections) if lids else tuple(sections)


def _past_lids(terminal: PlacedTerminal, lids: Sequence[Covering], wall: float) -> PlacedTerminal:
    return _without(terminal, [partial(_under_lid, terminal, lid, wall) for lid in lids])


def _beside_hole(terminal: PlacedTerminal, hole: Disc, wall: float, clocks: Clocks) -> Barred:
    """Return at which clocks a hole stands beside the straight way from a terminal out."""
    near = hole.radius + DROP_HALF + wall
    out = math.hypot(hole.x, hole.y) + near
    ax, ay, _ = terminal.position
    wx, wy = out * np.cos(np.radians(clocks)) - ax, out * np.sin(np.radians(clocks)) - ay
    long = np.maximum(np.hypot(wx, wy), 1e-9)
    t = np.clip(((hole.x - ax) * wx + (hole.y - ay) * wy) / long**2, 0.0, 1.0)
    barred: Barred = np.hypot(ax + t * wx - hole.x, ay + t * wy - hole.y) < near
    return barred


def _under_lid(terminal: PlacedTerminal, lid: Covering, wall: float, clocks: Clocks) -> Barred:
    """Return at which clocks the straight way from a terminal out comes within a wall of a lid's room."""
    x, y, z = terminal.position
    room = DROP_HALF + wall
    if not lid.z0 - room < z < lid.z1 + room:
        return np.zeros(len(clocks), dtype=np.bool_)
    (up, over), across = unit(lid.clock_deg), unit(lid.clock_deg - 90.0)
    steps = np.linspace(0.0, 1.0, math.ceil(2.0 * lid.outer_radius / _STEP) + 1)[:, None]
    px = x + (lid.outer_radius * np.cos(np.radians(clocks)) - x) * steps
    py = y + (lid.outer_radius * np.sin(np.radians(clocks)) - y) * steps
    met = (
        (np.hypot(px, py) > lid.seat_radius - room)
        & (px * up + py * over > 0.0)
        & (np.abs(px * across[0] + py * across[1]) < lid.half_width + room)
    )
    return np.asarray(met.any(axis=0), dtype=np.bool_)


def _without(terminal: PlacedTerminal, bars: Sequence[Callable[[Clocks], Barred]]) -> PlacedTerminal:
    """Return a terminal whose exits leave out the clocks that something bars."""
    exits = tuple(e for low, high in terminal.exits for e in _free(low, high, bars))
    return terminal if exits == terminal.exits else replace(terminal, exits=exits)


def _free(low: float, high: float, bars: Sequence[Callable[[Clocks], Barred]]) -> list[tuple[float, float]]:
    """Return what is left of an exit: its whole degrees and ends that nothing bars, as intervals."""
    clocks = [low, *range(math.ceil(low), math.floor(high) + 1), high]
    barred = np.zeros(len(clocks), dtype=np.bool_)
    for bar in bars:
        barred |= bar(np.array(clocks, dtype=np.float64))
    if not barred.any():
        return [(low, high)]
    runs = []
    for is_barred, run in itertools.groupby(
        zip(clocks, barred.tolist(), strict=True), key=lambda pair: pair[1]
    ):
        found = [c for c, _ in run]
        if not is_barred and found[-1] > found[0]:
            runs.append((found[0], found[-1]))
    return runs
