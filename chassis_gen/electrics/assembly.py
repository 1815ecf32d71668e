"""The network of a build in one state, made of its wires, cells, contacts, boards and what they drive.

A board drives a load through two of its terminals: it takes the load's current from its supply pins (an
output that passes the supply on) or the load's power over an efficiency (an amplifier, a converter), and
pushes the current out at the one terminal and in at the other. Loads that hang on the supply itself draw
straight from it. A board's grounds are one piece of copper, so returns that share it are found in parallel.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.electrics.loading import wire_resistance, wire_rise
from chassis_gen.electrics.network import (
    CurrentLoad,
    Diode,
    Element,
    Feed,
    PowerLoad,
    Resistor,
    Solution,
    Source,
    groups_of,
    solve,
)
from chassis_gen.electrics.parts import (
    BOARD,
    LEDS,
    PORTS,
    SPEAKER,
    Contact,
    Supply,
    contacts,
    figures,
    grounds,
    outputs,
    part_named,
    pins,
    supplies,
)
from chassis_gen.plan.chassis import ChassisPlan, Wire
from chassis_gen.plan.electrics import PAIR, Draw, State
from chassis_gen.plan.tube_metal import run_at
from chassis_gen.tables.electrical import bundle_limit, electrical_rule
from chassis_gen.tables.wire import wiring_rule

_LEAST_OHM = 1e-6
_ROUNDS = 30
_SAME_W = 1e-7
_SAME_K = 0.01
_HOTTEST_C = 400.0
_CHARGE = "charge"
_FUSE = "fuse"
_TUBE = "tube"


class Conductor(Struct, frozen=True):
    """A wire as a conductor: its length as cut (mm), its published limit (A), resistors without a value (ohm)."""

    wire: Wire
    length: float
    limit_a: float | None
    assumed_ohm: float = 0.0

    @property
    def fuses(self) -> tuple[float, ...]:
        """Return the ratings of the fuses that lie in it, A."""
        return tuple(b.rating_a for b in self.wire.in_line if b.kind == _FUSE and b.rating_a is not None)

    @property
    def in_line_ohm(self) -> float:
        """Return the resistance of the fuses and resistors that lie in it, ohm."""
        return sum(b.resistance_ohm or 0.0 for b in self.wire.in_line) + self.assumed_ohm


class Port(Struct, frozen=True):
    """A board's output to one load.

    Args:
        board: part id.
        out: terminal at which the current leaves the board.
        back: terminal at which it returns.
        amps: A.
        efficiency: of the board's converter or amplifier, or None where it passes the supply on.
        load_ohm: what the load comes to at that current, ohm.
    """

    board: str
    out: str
    back: str
    amps: float
    efficiency: float | None
    load_ohm: float


class Load(Struct, frozen=True):
    """What one draw of a state becomes.

    Args:
        of: part id or terminal pair.
        plus: terminal.
        minus: terminal.
        port: the board's output that drives it, or None where it hangs on the supply.
        draw: as asked.
    """

    of: str
    plus: str
    minus: str
    port: Port | None
    draw: Draw


class Solved(Struct, frozen=True):
    """A state's network, solved at one level of charge.

    Args:
        solution: voltages and currents by element.
        loads: the state's loads, boards' idle draw included.
        conductors: the wires.
        temperatures: of the wires, C, by id.
        contacts: closed contacts.
        supplies: the supplies.
    """

    solution: Solution
    loads: tuple[Load, ...]
    conductors: tuple[Conductor, ...]
    temperatures: Mapping[str, float]
    contacts: tuple[Contact, ...]
    supplies: tuple[Supply, ...]

    def live(self, load: Load) -> bool:
        """Return True when a load is fed."""
        names = {input_name(load), feed_name(load)} if load.port else {load.of}
        return not names & (self.solution.without_way | self.solution.starved)


def unlaid(plan: ChassisPlan) -> tuple[Wire, ...]:
    """Return the wires that nobody tried to lay, as a section can't be made: their lengths aren't known."""
    tried = {w.id for w in (*(r.wire for r in plan.routes), *plan.unrouted)}
    return tuple(w for w in plan.wires if w.id not in tried)


def conductors(plan: ChassisPlan) -> tuple[Conductor, ...]:
    """Return the wires as conductors; one without a path counts as straight, with its end allowances."""
    ends = 2 * wiring_rule("end_allowance").value
    spots = {t.id: t.position for t in plan.terminals.values()}
    cut = [(r.wire, r.cut_length) for r in plan.routes]
    straight = (*plan.unrouted, *unlaid(plan))
    cut += [(w, math.dist(spots[w.start], spots[w.end]) + ends) for w in straight]
    return tuple(Conductor(w, length, bundle_limit(w.gauge_awg, w.insulation)) for w, length in cut)


def closed_contacts(plan: ChassisPlan, state: State) -> tuple[Contact, ...]:
    """Return the contacts that are closed in a state: switches named, and cut-offs of jacks without plug."""
    plugged = {*state.plug_in, *([state.charge_at] if state.charge_at else [])}
    return tuple(
        c for c in contacts(plan) if (c.part not in plugged if c.closed_at_rest else c.part in state.closed)
    )


def nets(plan: ChassisPlan, closed: tuple[Contact, ...] = ()) -> dict[str, str]:
    """Return for each terminal the name of its net: what wires, closed contacts and boards' grounds join.

    Args:
        plan: the build.
        closed: contacts that count as joined.
    """
    wires = [(c.wire.start, c.wire.end) for c in conductors(plan)]
    joined = [(c.a, c.b) for c in closed]
    ends = (end for pair in wires for end in pair)
    return groups_of((*plan.terminals, *ends), (*wires, *joined, *ground_ties(plan), *tube_ties(plan)))


def tube_terminals(plan: ChassisPlan) -> tuple[str, ...]:
    """Return the maker's contacts on the wall of a tube that leads current there."""
    return tuple(t for run in _tube_runs(plan).values() for t in run)


def _tube_runs(plan: ChassisPlan) -> dict[int, list[str]]:
    """Return the contacts on the tube's wall by the conducting stretch that joins them."""
    found: dict[int, list[str]] = {}
    for t, kind in plan.own_terminals.items():
        run = run_at(plan.tube, plan.terminals[t].position[2]) if kind == _TUBE else None
        if run is not None:
            found.setdefault(run, []).append(t)
    return found


def tube_ties(plan: ChassisPlan) -> list[tuple[str, str]]:
    """Return the pairs of contacts on the tube's wall that the tube joins."""
    return [pair for run in _tube_runs(plan).values() for pair in pairwise(run)]


def ground_ties(plan: ChassisPlan) -> list[tuple[str, str]]:
    """Return the pairs of terminals that boards' copper joins: each ground with the supply's minus."""
    found = []
    for p in plan.parts:
        ends = pins(plan, p.id) if p.part.kind == BOARD else None
        if ends:
            found += [(ground, ends[1]) for ground in grounds(plan, p.id)]
    return found


def input_name(load: Load) -> str:
    """Return the name of what a board takes from its supply for a load."""
    return f"{load.of}: taken by {load.port.board if load.port else ''}"


def feed_name(load: Load) -> str:
    """Return the name of what a board pushes out for a load."""
    return f"{load.of}: given by {load.port.board if load.port else ''}"


def solved_state(
    plan: ChassisPlan, state: State, level: str, assumed: Mapping[str, float] | None = None
) -> Solved:
    """Return the solved network of a build in a state.

    Args:
        plan: the build.
        state: one of its states.
        level: the cells' charge: ``full``, ``nominal`` or ``cut-off``.
        assumed: by wire, what its resistors without a value are taken for, ohm.
    """
    closed, sources = closed_contacts(plan, state), supplies(plan)
    wires = tuple(replace(c, assumed_ohm=(assumed or {}).get(c.wire.id, 0.0)) for c in conductors(plan))
    loads = _loads(plan, state, nets(plan, closed))
    fixed: tuple[Element, ...] = (
        *_sources(sources, level),
        *(Resistor(f"contact {c.part}", c.a, c.b, max(c.ohm, _LEAST_OHM)) for c in closed),
        *_ties(plan),
        *_charge(plan, state),
    )
    warmth = {c.wire.id: plan.electrics.ambient_c for c in wires}
    for _ in range(_ROUNDS):
        elements: tuple[Element, ...] = (*fixed, *_wires(wires, warmth))
        solution = _with_ports(plan, elements, loads)
        warmer = {
            c.wire.id: plan.electrics.ambient_c + wire_rise(solution.currents[c.wire.id], c.limit_a)
            for c in wires
        }
        settled = all(abs(warmer[k] - warmth[k]) < _SAME_K for k in warmth)
        # A conductor beyond what copper and insulation bear is a finding, not a temperature to reckon with.
        warmth = {k: min(v, _HOTTEST_C) for k, v in warmer.items()}
        if settled:
            break
    return Solved(solution, loads, wires, warmth, closed, sources)


def _wires(wires: tuple[Conductor, ...], warmth: Mapping[str, float]) -> list[Resistor]:
    return [Resistor(c.wire.id, c.wire.start, c.wire.end, conductor_ohm(c, warmth[c.wire.id])) for c in wires]


def conductor_ohm(c: Conductor, temperature_c: float) -> float:
    """Return a wire's resistance with what lies in it, ohm.

    Args:
        c: the wire.
        temperature_c: of the wire, C.
    """
    return max(_LEAST_OHM, wire_resistance(c.wire.conductor_area, c.length, temperature_c) + c.in_line_ohm)


def _sources(sources: tuple[Supply, ...], level: str) -> list[Source]:
    found = []
    for s in sources:
        inner = [f"{s.section}: between cells {k + 1} and {k + 2}" for k in range(len(s.cells) - 1)]
        ends = [s.minus, *inner, s.plus]
        for cell, minus, plus in zip(s.cells, ends[:-1], ends[1:], strict=True):
            ohm = max(_LEAST_OHM, cell.figures["internal_resistance_ohm"])
            found.append(Source(f"cell {cell.id}", plus, minus, cell.emf(level), ohm))
    return found


def _ties(plan: ChassisPlan) -> list[Resistor]:
    copper, tube = electrical_rule("board_tie").value, electrical_rule("tube_contact").value
    return [
        *(Resistor(f"copper {a}", a, b, copper) for a, b in ground_ties(plan)),
        *(Resistor(f"tube {a}", a, b, 2 * tube) for a, b in tube_ties(plan)),
    ]


def _charge(plan: ChassisPlan, state: State) -> list[Feed]:
    if state.charge_at is None:
        return []
    part = part_named(plan, state.charge_at)
    owner = part.section if part is not None and part.part.kind not in PORTS else state.charge_at
    plus, minus = f"{owner}.plus", f"{owner}.minus"
    return [Feed(_CHARGE, minus, plus, state.charge_a)] if {plus, minus} <= set(plan.terminals) else []


def _loads(plan: ChassisPlan, state: State, net: Mapping[str, str]) -> tuple[Load, ...]:
    loads = [load for draw in state.draws if (load := _load(plan, draw, net)) is not None]
    named = {draw.of for draw in state.draws}
    for p in plan.parts:
        idle = figures(plan, p).get("idle_a", 0.0)
        ends = pins(plan, p.id)
        if p.part.kind == BOARD and p.id not in named and ends and idle > 0:
            loads.append(Load(p.id, *ends, None, Draw(p.id, current_a=idle)))
    return (*loads, *_leds_on_the_supply(plan, named, net))


def _leds_on_the_supply(plan: ChassisPlan, named: set[str], net: Mapping[str, str]) -> Iterator[Load]:
    """Yield the LEDs that no draw names: the network says whether they light. A board's output that none asks is off."""
    pairs = {frozenset(of.split(PAIR)) for of in named}
    for p in plan.parts:
        ends = pins(plan, p.id) if p.part.kind in LEDS and p.id not in named else None
        draw = Draw(p.id, series_ohm=0.0)
        if ends is not None and frozenset(ends) not in pairs and _port(plan, draw, net, ends) is None:
            yield Load(p.id, *ends, None, draw)


def _load(plan: ChassisPlan, draw: Draw, net: Mapping[str, str]) -> Load | None:
    if PAIR in draw.of:
        a, b = draw.of.split(PAIR, 1)
        ends: tuple[str, str] | None = (a, b)
    else:
        ends = pins(plan, draw.of)
    if ends is None:
        return None
    plus, minus = ends
    part = part_named(plan, draw.of)
    if part is not None and part.part.kind == BOARD:
        return Load(draw.of, plus, minus, None, draw)
    return Load(draw.of, plus, minus, _port(plan, draw, net, (plus, minus)), draw)


def _port(plan: ChassisPlan, draw: Draw, net: Mapping[str, str], ends: tuple[str, str]) -> Port | None:
    """Return the board's output that drives a load, or None where no board has a hand in it."""
    for p in plan.parts:
        supply = pins(plan, p.id)
        if p.part.kind != BOARD or supply is None:
            continue
        signals = outputs(plan, p.id)
        own = (*supply, *grounds(plan, p.id), *signals)
        out = [t for t in own if net[t] == net[ends[0]]]
        back = [t for t in own if net[t] == net[ends[1]]]
        # An output's own terminal is where the current runs, though a supply pin may share its net.
        pair = next(
            ((a, b) for a in _first(out, signals) for b in _first(back, signals) if {a, b} & set(signals)),
            None,
        )
        if pair:
            return _made_port(plan, draw, p.id, pair)
    return None


def _first(terminals: list[str], signals: tuple[str, ...]) -> list[str]:
    return sorted(terminals, key=lambda t: t not in signals)


def _made_port(plan: ChassisPlan, draw: Draw, board: str, pair: tuple[str, str]) -> Port:
    part, driver = part_named(plan, draw.of), part_named(plan, board)
    kind = part.part.kind if part else ""
    own = figures(plan, part) if part else {}
    boards = figures(plan, driver) if driver else {}
    nominal = max((sum(c.emf("nominal") for c in s.cells) for s in supplies(plan)), default=1.0)
    if kind == SPEAKER:
        ohm = own["impedance_ohm"]
        amps = math.sqrt((draw.power_w or 0.0) / ohm) if draw.current_a is None else draw.current_a
        return Port(board, *pair, amps, boards["amplifier_efficiency"], ohm)
    volts = own.get("forward_v", nominal)
    amps = (draw.power_w or 0.0) / volts if draw.current_a is None else draw.current_a
    passes = boards.get("light_passes", 1.0) > 0
    efficiency = None if passes else plan.electrics.converter_efficiency
    return Port(board, *pair, amps, efficiency, volts / amps if amps else math.inf)


def _with_ports(plan: ChassisPlan, elements: tuple[Element, ...], loads: tuple[Load, ...]) -> Solution:
    """Return the solution in which each board takes what its outputs give; one without supply gives nothing."""
    watts = {load.of: 0.0 for load in loads}
    dead: set[str] = set()
    solution = Solution({}, {})
    for _ in range(_ROUNDS):
        parts = [e for load in loads for e in _load_elements(plan, load, watts[load.of], load.of in dead)]
        solution = solve([*elements, *parts])
        unfed = solution.without_way | solution.starved
        newly = {load.of for load in loads if load.port and input_name(load) in unfed} - dead
        asked = {load.of: _taken(load, solution) for load in loads if load.of not in dead}
        settled = all(abs(asked[k] - watts[k]) < _SAME_W for k in asked)
        if newly:
            dead |= newly
        elif settled:
            break
        watts |= asked
    return solution


def _taken(load: Load, solution: Solution) -> float:
    port = load.port
    if port is None or port.efficiency is None or load.draw.series_ohm is not None:
        return 0.0
    return max(0.0, solution.across(port.out, port.back)) * port.amps / port.efficiency


def _load_elements(plan: ChassisPlan, load: Load, watts: float, dead: bool) -> list[Element]:
    draw, port = load.draw, load.port
    if draw.series_ohm is not None:
        return [_lit(plan, load), *_passing(plan, load)]
    if port is None:
        if draw.power_w is not None:
            return [PowerLoad(load.of, load.plus, load.minus, draw.power_w)]
        return [CurrentLoad(load.of, load.plus, load.minus, draw.current_a or 0.0)]
    plus, minus = pins(plan, port.board) or (load.plus, load.minus)
    if port.efficiency is None:
        taken: Element = CurrentLoad(input_name(load), plus, minus, port.amps)
    else:
        taken = PowerLoad(input_name(load), plus, minus, watts)
    if dead or not math.isfinite(port.load_ohm):
        return [taken, Resistor(load.of, load.plus, load.minus, 1.0)]
    return [
        taken,
        Feed(feed_name(load), port.back, port.out, port.amps),
        Resistor(load.of, load.plus, load.minus, port.load_ohm),
    ]


def _lit(plan: ChassisPlan, load: Load) -> Diode:
    part = part_named(plan, load.of)
    own = figures(plan, part) if part else {}
    # without a resistance of their own, wires of a few milliohm would say how LEDs side by side share
    slope = electrical_rule("led_slope").value / own["rated_a"] if own else 0.0
    ohm = max(_LEAST_OHM, slope + (load.draw.series_ohm or 0.0))
    return Diode(load.of, load.plus, load.minus, own.get("forward_v", 0.0), ohm)


def _passing(plan: ChassisPlan, load: Load) -> list[Resistor]:
    """Return the board's switch, closed, where a plain LED hangs on an output that passes the supply on."""
    if load.port is None:
        return []
    plus, minus = pins(plan, load.port.board) or (load.plus, load.minus)
    ohm = electrical_rule("board_tie").value
    ties = ((load.port.out, plus), (load.port.back, minus))
    return [Resistor(f"{load.of}: {a} passes", a, b, ohm) for a, b in ties if a != b]
