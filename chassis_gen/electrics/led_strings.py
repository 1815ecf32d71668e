"""What limits the current of LEDs that hang on cells: resistors in their wires, or nothing at all.

A string leads from a net whose voltage the cells fix to another one, through LEDs the right way round and resistors.
Its current with full cells is (voltage - forward voltages) / resistance: Ohm's law, as in any text on LEDs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.electrics.assembly import conductors
from chassis_gen.electrics.loading import e24_at_least, led_resistor
from chassis_gen.electrics.parts import LEDS, contacts, figures, output_pairs, pins, supplies
from chassis_gen.electrics.poles import RESISTOR, Poles, poles, resists
from chassis_gen.electrics.result import amount
from chassis_gen.findings import Finding, Level, Remedy
from chassis_gen.plan.chassis import ChassisPlan, Wire
from chassis_gen.plan.model import PlacedPart
from chassis_gen.tables.electrical import electrical_rule

_ROUNDING = 1e-6


class _Step(Struct, frozen=True):
    """What leads from one net to another: LEDs side by side, or resistors side by side.

    Args:
        a: net that current enters by.
        b: net that it leaves by.
        leds: none where it is a resistor.
        ohm: of the resistors, ohm; 0 for LEDs, not finite where a value isn't stated.
    """

    a: str
    b: str
    leds: tuple[PlacedPart, ...] = ()
    ohm: float = 0.0


def limit_findings(plan: ChassisPlan, state: Poles, when: str) -> Iterator[Finding]:
    """Yield errors for LEDs on cells without a resistor or driver, and what a resistor too small lets through.

    Args:
        plan: the build.
        state: its nets with some contacts closed.
        when: in words what has to be closed for that, or "".
    """
    stated = _stated(plan)
    on_cells = state.fixed
    state = _with_outputs(plan, state)
    for string, groups, full, forward in _fed_strings(plan, state):
        # a board may limit what its output gives; beside a resistor it counts as a switch
        board = not {string[0].a, string[-1].b} <= on_cells
        ohm = sum(s.ohm for s in string) + sum(stated.get(p.id, 0.0) for group in groups for p in group[:1])
        for group in groups:
            for part in group:
                if ohm == 0.0 and not (board or stated.get(part.id)):
                    yield _no_limit(plan, part, full, forward, when)
                elif full > forward and 0.0 < ohm < math.inf:
                    on = " where its board's output is full on" if board else ""
                    yield from _too_small(plan, part, full, forward, ohm, len(group), when + on)


def assumed_resistors(plan: ChassisPlan) -> dict[str, float]:
    """Return, by wire, what its resistors without a value are taken for, ohm: what the LED behind them wants, in E24.

    A wire whose resistor limits no LED on the cells, or on an output that passes them on, isn't among them.

    Args:
        plan: the build.
    """
    found: dict[str, float] = {}
    if not _lacking(plan):
        return found
    stated = _stated(plan)
    state = _with_outputs(plan, poles(plan, supplies(plan), contacts(plan)))
    for string, groups, full, forward in _fed_strings(plan, state):
        wanted = min(len(g) * min(figures(plan, p)["rated_a"] for p in g) for g in groups)
        known = sum(s.ohm for s in string if s.ohm < math.inf)
        known += sum(stated.get(p.id, 0.0) for g in groups for p in g[:1])
        left = (full - forward) / wanted - known
        open_ = next((s for s in string if s.ohm == math.inf), None)
        if open_ is None or left <= 0:
            continue
        ends = {open_.a, open_.b}
        wires = [w for w in _lacking(plan) if {state.net[w.start], state.net[w.end]} == ends]
        for w in wires:
            found[w.id] = max(found.get(w.id, 0.0), e24_at_least(left * len(wires)))
    return found


def unstated_findings(plan: ChassisPlan) -> Iterator[Finding]:
    """Yield a note for each resistor without a value that the figures rest on, and what it is taken for.

    Args:
        plan: the build.
    """
    assumed = assumed_resistors(plan)
    for wire in _lacking(plan):
        ohm = assumed.get(wire.id)
        if ohm is None and not plan.electrics.states:
            continue
        taken = (
            "the states count it as 0 ohm"
            if ohm is None
            else f"{ohm:g} ohm are assumed, the next E24 value that keeps its LED to its rating with full cells"
        )
        message = f'the resistor in "{wire.id}" has no value; {taken}'
        value = "..." if ohm is None else f"{ohm:g}"
        text = f'write what you fit: in_line = [{{ kind = "resistor", resistance_ohm = {value} }}]'
        numbers = {} if ohm is None else {"ohm": ohm}
        yield Finding("note", "resistor-unstated", wire.id, message, numbers, Remedy(None, None, text))


def _lacking(plan: ChassisPlan) -> tuple[Wire, ...]:
    """Return the wires with a resistor that has no value."""
    return tuple(
        c.wire
        for c in conductors(plan)
        if any(b.kind == RESISTOR and b.resistance_ohm is None for b in c.wire.in_line)
    )


def _stated(plan: ChassisPlan) -> dict[str, float]:
    """Return the resistors that draws name before LEDs, ohm by part id."""
    return {d.of: d.series_ohm for s in plan.electrics.states for d in s.draws if d.series_ohm is not None}


def _with_outputs(plan: ChassisPlan, state: Poles) -> Poles:
    """Return the nets with the outputs that pass their board's supply on at its voltages, as switched full on."""
    volts = {}
    for board, plus, minus in output_pairs(plan):
        ends = pins(plan, board.id)
        if ends is None or figures(plan, board).get("light_passes", 0.0) <= 0:
            continue
        for output, pin in ((plus, ends[0]), (minus, ends[1])):
            lent = state.volts.get(state.net[pin])
            if lent is not None and state.net[output] not in state.fixed:
                volts[state.net[output]] = lent
    return replace(state, volts={**state.volts, **volts}, fixed=state.fixed | volts.keys())


_Fed: TypeAlias = tuple[tuple[_Step, ...], list[tuple[PlacedPart, ...]], float, float]


def _fed_strings(plan: ChassisPlan, state: Poles) -> Iterator[_Fed]:
    """Yield each string with LEDs that cells feed, its LEDs, its voltage with full cells and its LEDs' forward one, V."""
    steps = (*_led_steps(plan, state.net), *_resistor_steps(plan, state.net))
    for string in _strings(steps, state):
        full = state.volts[string[0].a][1][1] - state.volts[string[-1].b][1][1]
        groups = [s.leds for s in string if s.leds]
        if full > 0 and groups:
            forward = sum(min(figures(plan, p)["forward_v"] for p in group) for group in groups)
            yield string, groups, full, forward


def _led_steps(plan: ChassisPlan, net: Mapping[str, str]) -> Iterator[_Step]:
    beside: dict[tuple[str, str], list[PlacedPart]] = {}
    for part in plan.parts:
        ends = pins(plan, part.id) if part.part.kind in LEDS else None
        if ends is not None and net[ends[0]] != net[ends[1]]:
            beside.setdefault((net[ends[0]], net[ends[1]]), []).append(part)
    return (_Step(a, b, tuple(leds)) for (a, b), leds in beside.items())


def _resistor_steps(plan: ChassisPlan, net: Mapping[str, str]) -> Iterator[_Step]:
    """Yield each group of resistors between two nets both ways; side by side their conductances add up."""
    beside: dict[tuple[str, str], list[float]] = {}
    for wire in (c.wire for c in conductors(plan)):
        a, b = sorted((net[wire.start], net[wire.end]))
        if resists(wire) and a != b:
            beside.setdefault((a, b), []).append(_ohm(wire))
    for (a, b), values in beside.items():
        open_ = math.inf in values
        ohm = 0.0 if 0.0 in values else math.inf if open_ else 1 / sum(1 / v for v in values)
        yield _Step(a, b, ohm=ohm)
        yield _Step(b, a, ohm=ohm)


def _ohm(wire: Wire) -> float:
    values = [b.resistance_ohm for b in wire.in_line if b.kind == RESISTOR]
    return sum(math.inf if v is None else v for v in values)


def _strings(steps: tuple[_Step, ...], state: Poles) -> Iterator[tuple[_Step, ...]]:
    """Yield the strings of steps from one net that cells fix to another, over nets that hang loose between."""
    open_: list[tuple[_Step, ...]] = [(s,) for s in steps if s.a in state.fixed]
    while open_:
        string = open_.pop()
        first, last = string[0].a, string[-1].b
        if last in state.fixed:
            if last != first and state.volts[last][0] == state.volts[first][0]:
                yield string
            continue
        passed = {s.a for s in string} | {last}
        open_ += [(*string, s) for s in steps if s.a == last and s.b not in passed]


def _no_limit(plan: ChassisPlan, part: PlacedPart, full: float, forward: float, when: str) -> Finding:
    own = figures(plan, part)
    lit = full > forward
    message = (
        f"no current limit: {part.id} ({part.part.name}) hangs on the cells with neither resistor nor driver "
        f"between{when}; full cells give {full:g} V, it conducts above {forward:g} V"
        + ("" if lit else ", so it stays dark as long as its own forward voltage isn't lower")
    )
    remedy = _resistor(part, full, forward, own["rated_a"])
    level: Level = "error" if lit else "warning"
    numbers = {"supply_v": full, "forward_v": forward, "rated_a": own["rated_a"]}
    return Finding(level, "no-current-limit", part.id, message, numbers, remedy)


def _too_small(
    plan: ChassisPlan, part: PlacedPart, full: float, forward: float, ohm: float, beside: int, when: str
) -> Iterator[Finding]:
    """Yield a warning where the resistor lets more through than the LED is rated for, an error far beyond that."""
    rated = figures(plan, part)["rated_a"]
    amps = (full - forward) / ohm / beside
    if amps <= rated * (1 + _ROUNDING):
        return
    message = (
        f"{part.id} ({part.part.name}) gets about {amount(amps)} through {ohm:g} ohm with full cells{when}; "
        f"it is rated {amount(rated)}"
    )
    level: Level = "error" if amps > rated * electrical_rule("led_overload").value else "warning"
    numbers = {"is_a": amps, "rated_a": rated, "ohm": ohm}
    yield Finding(
        level, "resistor-small", part.id, message, numbers, _resistor(part, full, forward, rated * beside)
    )


def _resistor(part: PlacedPart, full: float, forward: float, wanted_a: float) -> Remedy:
    """Return the resistor to fit, in words."""
    advice = led_resistor(part.id, full, forward, wanted_a)
    if advice is None:
        return Remedy(None, None, "feed it from a board's output, or put a resistor in its wire")
    text = (
        f"a resistor of {advice.pick_ohm:g} ohm, {advice.rating_w:g} W in its wire: in_line = "
        f'[{{ kind = "resistor", resistance_ohm = {advice.pick_ohm:g} }}] gives {amount(advice.current_a)} '
        "with full cells; or feed it from a driver's output"
    )
    return Remedy(None, None, text)
