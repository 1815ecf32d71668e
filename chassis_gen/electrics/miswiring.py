"""What is wired wrong whatever the state: shorts, reversed polarity, supplies out of range, loads without a limit.

Judged with contacts as they stand at rest, then with each switch closed, then with all of them: a short that a
button makes is a short.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from chassis_gen.electrics.assembly import closed_contacts, conductors
from chassis_gen.electrics.led_strings import limit_findings
from chassis_gen.electrics.parts import (
    SPEAKER,
    Contact,
    Supply,
    contacts,
    figures,
    output_pairs,
    pins,
    supplies,
)
from chassis_gen.electrics.poles import Poles, Way, poles, supply_volts
from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import SUPPLIES, TUBE, State
from chassis_gen.plan.model import PlacedPart
from chassis_gen.plan.tube_metal import run_at

_TINY_V = 1e-9
SHORT, REVERSED = "short-circuit", "polarity-reversed"
_SMALL, _OVER = "resistor-small", "above-rating"
_FOLLOWS = ("load-starved", "no-closed-way", "output-low", "supply-low")
"""What a state says of a load whose supply is reversed: it follows from that."""


def miswiring_findings(plan: ChassisPlan) -> tuple[Finding, ...]:
    """Return errors for what the wires do to cells and parts, each once, however many switches have to close.

    Args:
        plan: the build.
    """
    sources = supplies(plan)
    found: dict[tuple[str, str], Finding] = {}
    for closed, when in _positions(plan):
        state = poles(plan, sources, closed)
        judged = (
            *_shorts(state, sources, when),
            *_polarity(plan, state, sources, when),
            *_outputs(plan, state, when),
            *_ranges(plan, state, when),
            *limit_findings(plan, state, when),
            *_speakers(plan, state, when),
        )
        for f in judged:
            found.setdefault((f.code, f.where), f)
    return (*found.values(), *_dead_contacts(plan))


def _dead_contacts(plan: ChassisPlan) -> Iterator[Finding]:
    """Yield a finding for each contact on a wall that leads no current: an error where a wire ends there."""
    for t, kind in plan.own_terminals.items():
        z = plan.terminals[t].position[2]
        if kind != TUBE or run_at(plan.tube, z) is not None:
            continue
        there = next((s for s in plan.tube.segments if s.z0 <= z <= s.z1), None)
        wall = f'segment "{there.name}" of {there.material}' if there else "no part of the tube"
        wires = [f'"{c.wire.id}"' for c in conductors(plan) if t in (c.wire.start, c.wire.end)]
        relied = f", so {', '.join(wires)} ends there at nothing" if wires else ""
        message = f"{t} is a contact on the tube's wall, where {wall} doesn't conduct{relied}"
        text = "a wire instead of the tube, a metal tube, or conducts = true for a segment that does"
        remedy = Remedy(None, None, text)
        yield Finding("error" if wires else "warning", "tube-no-contact", t, message, remedy=remedy)


def is_shorted(plan: ChassisPlan, state: State) -> bool:
    """Return whether a supply is shorted in a state, so that its figures say nothing.

    Args:
        plan: the build.
        state: one of its states.
    """
    return bool(poles(plan, supplies(plan), closed_contacts(plan, state)).shorted)


def less_what_follows(judged: Sequence[Finding], wrong: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return what states' figures say, less what only follows from a reversed supply or a resistor too small.

    Args:
        judged: findings of the states.
        wrong: from `miswiring_findings`.
    """
    follows = _FOLLOWS if any(f.code == REVERSED for f in wrong) else ()
    small = {f.where: f.level for f in wrong if f.code == _SMALL}
    return tuple(f for f in judged if f.code not in follows and not _of_a_resistor(f, small))


def _of_a_resistor(f: Finding, small: Mapping[str, str]) -> bool:
    """Return True for a rating that is passed through a resistor which is said to be too small, as grave or graver."""
    level = small.get(f.where.rpartition(": ")[2])
    return f.code == _OVER and not f.candidates and level in ("error", f.level)


def less_what_states_say(wrong: Sequence[Finding], judged: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return what the wiring does, less resistors whose current a state gives more exactly.

    Args:
        wrong: from `miswiring_findings`.
        judged: findings of the states.
    """
    over = {f.where.rpartition(": ")[2] for f in judged if f.code == _OVER}
    return tuple(f for f in wrong if not (f.code == _SMALL and f.level == "warning" and f.where in over))


def _positions(plan: ChassisPlan) -> Iterator[tuple[tuple[Contact, ...], str]]:
    """Yield sets of closed contacts, and in words what has to be closed."""
    every = contacts(plan)
    rest = tuple(c for c in every if c.closed_at_rest)
    switches = [c for c in every if not c.closed_at_rest]
    yield rest, ""
    for c in switches:
        yield (*rest, c), f" when {c.part} is closed"
    if len(switches) > 1:
        yield every, f" when {' and '.join(dict.fromkeys(c.part for c in switches))} are closed"


def _shorts(state: Poles, sources: Sequence[Supply], when: str) -> Iterator[Finding]:
    for s in state.shorted:
        route = state.route(s.plus, s.minus)
        others = [o for o in sources if o is not s]
        inner = (Way(o.minus, o.plus, f"the cells of {o.section}") for o in others)
        loop = route or _with_cells(state, inner).route(s.plus, s.minus)
        what = "joined by" if route else "closed to a loop of cells by"
        message = (
            f"short circuit: {s.plus} and {s.minus} are {what} {', '.join(loop)}{when}: nothing but the wires "
            "limits the current, which can set fire to wires and cell"
        )
        wanted = "take one of them away" if len(loop) > 1 else f"take {loop[0]} away"
        numbers = {"supply_v": supply_volts(s)[1], "ways": float(len(loop))}
        yield Finding("error", SHORT, s.section, message, numbers, Remedy(None, None, wanted))


def _with_cells(state: Poles, inner: Iterator[Way]) -> Poles:
    return replace(state, ways=(*state.ways, *inner))


def _polarity(plan: ChassisPlan, state: Poles, sources: Sequence[Supply], when: str) -> Iterator[Finding]:
    """Yield an error for each part whose plus stands below its minus."""
    for part, plus, minus in _fed(plan):
        volts = state.across(plus, minus)
        if volts is None or part.part.kind == SPEAKER or volts[1] >= -_TINY_V:
            continue
        ends = [(s.plus, minus) for s in sources] + [(s.minus, plus) for s in sources]
        wires = dict.fromkeys(w for a, b in ends for w in state.route(a, b))
        by = f" by {', '.join(wires)}" if wires else ""
        message = (
            f"{part.id} ({part.part.name}) is fed the wrong way round{when}: {plus} stands {-volts[1]:g} V below "
            f"{minus}{by}"
        )
        remedy = Remedy(None, None, f"swap the wires at {plus} and {minus}")
        yield Finding("error", REVERSED, part.id, message, {"volts": volts[1]}, remedy)


def _fed(plan: ChassisPlan) -> Iterator[tuple[PlacedPart, str, str]]:
    """Yield the parts that take a supply, with its two terminals."""
    for part in plan.parts:
        ends = pins(plan, part.id) if part.part.kind not in SUPPLIES else None
        if ends is not None:
            yield part, *ends


def _outputs(plan: ChassisPlan, state: Poles, when: str) -> Iterator[Finding]:
    """Yield errors for outputs that are shorted or that feed a part the wrong way round."""
    net = state.net
    for board, plus, minus in output_pairs(plan):
        if net[plus] == net[minus]:
            route = ", ".join(state.route(plus, minus))
            message = f"short circuit: the output {plus} is joined to {minus} by {route}{when}"
            remedy = Remedy(None, None, "take one of them away")
            yield Finding("error", SHORT, plus, message, {}, remedy)
            continue
        for part, a, b in _fed(plan):
            if part.part.kind == SPEAKER or part.id == board.id:
                continue
            wrong = [w for x, y in ((minus, a), (plus, b)) if net[x] == net[y] for w in state.route(x, y)]
            if wrong and net[plus] != net[a] and net[minus] != net[b]:
                message = (
                    f"{part.id} ({part.part.name}) is fed the wrong way round by {board.id}{when}: "
                    f"{', '.join(dict.fromkeys(wrong))}"
                )
                remedy = Remedy(None, None, f"swap the wires at {a} and {b}")
                yield Finding("error", REVERSED, part.id, message, {}, remedy)


def _ranges(plan: ChassisPlan, state: Poles, when: str) -> Iterator[Finding]:
    """Yield an error where the cells give more than a part bears, a warning where they give less than it needs."""
    for part, plus, minus in _fed(plan):
        volts = state.across(plus, minus)
        own = figures(plan, part)
        low, high = own.get("supply_v_min"), own.get("supply_v_max")
        if volts is None or volts[1] <= _TINY_V:
            continue
        too_high = high is not None and volts[1] > high + _TINY_V
        too_low = low is not None and volts[0] < low - _TINY_V
        if not (too_high or too_low):
            continue
        span = f"{low or 0:g} to {high:g} V" if high is not None else f"at least {low:g} V"
        message = (
            f"{part.id} ({part.part.name}) works at {span}; the cells give {volts[0]:g} to {volts[1]:g} V "
            f"between {plus} and {minus}{when}"
        )
        numbers = {"given_v_min": volts[0], "given_v_max": volts[1]}
        numbers |= {k: v for k, v in (("supply_v_min", low), ("supply_v_max", high)) if v is not None}
        remedy = Remedy(None, None, "another supply, a converter between them, or a part for this voltage")
        yield Finding("error" if too_high else "warning", "supply-range", part.id, message, numbers, remedy)


def _speakers(plan: ChassisPlan, state: Poles, when: str) -> Iterator[Finding]:
    """Yield an error for each speaker with the cells' direct voltage across its coil."""
    for part, plus, minus in _fed(plan):
        volts = state.across(plus, minus) if part.part.kind == SPEAKER else None
        if volts is None or abs(volts[1]) <= _TINY_V:
            continue
        ohm = figures(plan, part)["impedance_ohm"]
        message = (
            f"{part.id} ({part.part.name}) has the cells' direct voltage across its coil{when}, {abs(volts[1]):g} V: it "
            f"makes no sound of it and its {ohm:g} ohm grow hot"
        )
        remedy = Remedy(None, None, "feed it from an amplifier's output")
        numbers: Mapping[str, float] = {"volts": abs(volts[1]), "power_w": volts[1] ** 2 / ohm}
        yield Finding("error", "speaker-on-supply", part.id, message, numbers, remedy)
