"""Changes that would make the electrics' findings go away: thicker wire, other fuses, other resistors.

Each is tried by planning the build with it, as a thicker wire may find no lane any more.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from chassis_gen.electrics.assembly import Conductor
from chassis_gen.electrics.loading import e24_at_least, led_resistor
from chassis_gen.electrics.parts import figures, part_named, supplies
from chassis_gen.electrics.result import FuseAdvice
from chassis_gen.findings import Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import State
from chassis_gen.tables.electrical import bundle_limit, preferred_values
from chassis_gen.tables.wire import metric_wires, nearest_gauge, wiring_rule

_FUSE = "fuse"
_MORE = 1.05
_FEW = 3


def thicker(c: Conductor, current: float) -> Iterator[Remedy]:
    """Yield thicker sizes of a wire that bear a current bundled in a closed space, the thinnest first.

    Args:
        c: the wire.
        current: A.
    """
    wire = c.wire
    if not wire.key:
        return
    if wire.area_mm2 is not None:
        areas = sorted(a for a, kind in metric_wires() if kind == wire.insulation and a > wire.area_mm2)
        for area in areas:
            if (bundle_limit(nearest_gauge(area), wire.insulation) or 0.0) >= current:
                yield Remedy(f"{wire.key}.area_mm2", area, f"use {area:g} mm2 for {wire.id}")
        return
    thickest = int(wiring_rule("smallest_gauge_number").value)
    for gauge in range(wire.gauge_awg - 2 + wire.gauge_awg % 2, thickest - 1, -2):
        if (bundle_limit(gauge, wire.insulation) or 0.0) >= current:
            yield Remedy(f"{wire.key}.gauge_awg", gauge, f"use AWG {gauge} for {wire.id}")


def other_fuses(advice: FuseAdvice, guarded: Sequence[Conductor]) -> Iterator[Remedy]:
    """Yield standard ratings for the fuses of a supply: the proposed one first, then what the wires bear above it.

    Args:
        advice: for the supply.
        guarded: wires in its path.
    """
    if advice.rating_a is None:
        return
    most = advice.wire_limit_a
    ratings = [r for r in preferred_values(_FUSE) if r >= advice.rating_a and (most is None or r <= most)]
    for c in guarded:
        for k, body in enumerate(c.wire.in_line):
            if body.kind == _FUSE and body.rating_a == advice.fitted_a and c.wire.key.startswith("wire["):
                for rating in ratings[:_FEW]:
                    key = f"{c.wire.key}.in_line[{k}].rating_a"
                    yield Remedy(key, rating, f"fit {rating:g} A in {c.wire.id}")


def behind_a_larger_fuse(advice: FuseAdvice, guarded: Sequence[Conductor]) -> Iterator[Remedy]:
    """Yield thicker wire for the weakest wire that a fuse guards.

    Args:
        advice: for the supply.
        guarded: wires in its path.
    """
    weak = [c for c in guarded if c.limit_a is not None and c.limit_a == advice.wire_limit_a]
    if advice.fitted_a is not None and len({c.wire.key for c in weak}) == 1:
        yield from thicker(weak[0], advice.fitted_a)


def larger_resistors(plan: ChassisPlan, state: State, led: str) -> Iterator[Remedy]:
    """Yield E24 values (IEC 60063) of a plain LED's series resistor that hold its rated current, the least first.

    Args:
        plan: the build.
        state: in which too much flows.
        led: part id, as the state's draws name it.
    """
    part = part_named(plan, led)
    draw = next((d for d in state.draws if d.of == led and d.series_ohm is not None), None)
    if part is None or draw is None or set(led) & set(".[]"):
        return
    own = figures(plan, part)
    full = max((sum(c.emf("full") for c in s.cells) for s in supplies(plan)), default=0.0)
    advice = led_resistor(led, full, own["forward_v"], own["rated_a"])
    if advice is None:
        return
    key = f"state[{plan.electrics.states.index(state)}].draws.{led}.series_ohm"
    ohm = advice.pick_ohm
    for _ in range(_FEW):
        yield Remedy(key, ohm, f"{ohm:g} ohm before {led}")
        ohm = e24_at_least(ohm * _MORE)


def slower_charge(plan: ChassisPlan, state: str, most_a: float) -> Iterator[Remedy]:
    """Yield the charge current that a cell bears, rounded down to two digits.

    Args:
        plan: the build.
        state: name of the state that charges.
        most_a: what the cell bears, A, above zero.
    """
    step = 10.0 ** (math.floor(math.log10(most_a)) - 1)
    amps = round(math.floor(most_a / step + 1e-9) * step, 9)
    at = next(i for i, s in enumerate(plan.electrics.states) if s.name == state)
    yield Remedy(f"state[{at}].charge.current_a", amps, f"charge with {amps:g} A")
