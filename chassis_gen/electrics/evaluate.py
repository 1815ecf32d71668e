"""The electrics of a whole build: its states, proposals for fuses and resistors, and what is found."""

from __future__ import annotations

from collections.abc import Sequence

from chassis_gen.electrics.assembly import Conductor, conductors, nets, unlaid
from chassis_gen.electrics.cautions import caution_findings, fuse_findings
from chassis_gen.electrics.judging import said_once, state_findings, stated_findings
from chassis_gen.electrics.led_strings import unstated_findings
from chassis_gen.electrics.loading import fuse_rating, fuse_window, led_resistor
from chassis_gen.electrics.miswiring import (
    is_shorted,
    less_what_follows,
    less_what_states_say,
    miswiring_findings,
)
from chassis_gen.electrics.parts import Supply, contacts, figures, part_named, supplies
from chassis_gen.electrics.result import ElectricsResult, FuseAdvice, ResistorAdvice, StateResult
from chassis_gen.electrics.states import NOTHING_A, state_result
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import State

_PLAIN_LED = "led_round"
_SAME_V = 1e-6


def electrics_of(plan: ChassisPlan) -> tuple[ElectricsResult, tuple[Finding, ...]]:
    """Return what the electrics of a build come to, and what is wrong with them.

    A build that states nothing gets the cautions that rest on its parts and wires alone.

    Args:
        plan: the build.
    """
    wrong = miswiring_findings(plan)
    asked = () if unlaid(plan) else plan.electrics.states
    states = tuple(state_result(plan, s) for s in asked)
    guarded = {s.section: _guarded(plan, s) for s in supplies(plan)} if states else {}
    fuses = tuple(_fuse(states, s, guarded[s.section]) for s in supplies(plan)) if states else ()
    # the currents of a short, or of an LED that nothing limits, are no figures to judge wires, cells and plastic by
    sound = [
        not (is_shorted(plan, s) or _unlimited(plan, s, r, wrong)) for s, r in zip(asked, states, strict=True)
    ]
    judged = [
        f
        for state, result, judge in zip(asked, states, sound, strict=True)
        if judge
        for f in state_findings(plan, state, result)
    ]
    judged += [f for advice in fuses if all(sound) for f in fuse_findings(advice, guarded[advice.cell])]
    told = less_what_follows(judged, wrong)
    found = [*told, *said_once(less_what_states_say(wrong, told), judged)]
    found += unstated_findings(plan)
    found += _not_reckoned(plan)
    found += stated_findings(plan)
    found += caution_findings(plan)
    resistors = _resistors(plan) if states else ()
    return ElectricsResult(plan.electrics.ambient_c, states, fuses, resistors), tuple(found)


def _unlimited(plan: ChassisPlan, state: State, result: StateResult, wrong: Sequence[Finding]) -> bool:
    """Return whether an LED lights that hangs on the cells with no limit and no stated draw."""
    stated = {d.of for d in state.draws if d.series_ohm is None}
    bare = {f.where for f in wrong if f.code == "no-current-limit" and f.level == "error"} - stated
    lit = (
        r
        for r in result.loads
        if r.load in bare
        and (part := part_named(plan, r.load)) is not None
        and r.highest_v >= figures(plan, part)["forward_v"] - _SAME_V
    )
    return any(lit)


def _not_reckoned(plan: ChassisPlan) -> tuple[Finding, ...]:
    """Return a note where states are asked for and no wire has a length yet."""
    if not plan.electrics.states or not unlaid(plan):
        return ()
    barring = dict.fromkeys(f.where for f in plan.findings if f.blocks_solids)
    message = (
        f"currents, voltages and runtimes of the states are not reckoned: no wire can be laid while "
        f"{', '.join(barring)} can't be made"
    )
    return (Finding("note", "states-not-reckoned", "electrics", message),)


def _guarded(plan: ChassisPlan, supply: Supply) -> tuple[Conductor, ...]:
    """Return the wires in a supply's path: those that begin at one of its poles."""
    net = nets(plan, contacts(plan))
    ends = {net[supply.plus], net[supply.minus]}
    return tuple(c for c in conductors(plan) if net[c.wire.start] in ends)


def _fuse(states: Sequence[StateResult], supply: Supply, guarded: Sequence[Conductor]) -> FuseAdvice:
    """Return the fuse for a supply's path; it must be no more than the wires bear that a short would load."""
    own = {c.id for c in supply.cells}
    given = [c.worst_a for s in states for c in s.cells if c.cell in own and not c.charging]
    continuous = max(given, default=0.0)
    limit = min((c.limit_a for c in guarded if c.limit_a is not None), default=None)
    fitted = min((rating for c in guarded for rating in c.fuses), default=None)
    rating = fuse_rating(continuous, limit) if continuous > NOTHING_A else None
    return FuseAdvice(supply.section, continuous, fuse_window(continuous), limit, rating, fitted)


def _resistors(plan: ChassisPlan) -> tuple[ResistorAdvice, ...]:
    """Return a series resistor for each plain LED, reckoned from full cells and the LED's rated current."""
    full = max((sum(c.emf("full") for c in s.cells) for s in supplies(plan)), default=0.0)
    found = []
    for p in plan.parts:
        if p.part.kind == _PLAIN_LED:
            own = figures(plan, p)
            found.append(led_resistor(p.id, full, own["forward_v"], own["rated_a"]))
    return tuple(r for r in found if r is not None)
