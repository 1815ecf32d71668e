"""Cautions that rest on the build itself: cells, their path, the jack and bright light; none is silenced by a state."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from msgspec.structs import replace

from chassis_gen.electrics.assembly import Conductor, conductors, nets
from chassis_gen.electrics.parts import (
    BOARD,
    JACK,
    LEDS,
    PORTS,
    SPEAKER,
    Supply,
    figures,
    pins,
    supplies,
)
from chassis_gen.electrics.result import FuseAdvice, amount
from chassis_gen.findings import Finding, Level, Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.tables.electrical import electrical_caution, electrical_rule

_LOADS = (BOARD, *LEDS, SPEAKER, "contact_board")


def caution_findings(plan: ChassisPlan) -> tuple[Finding, ...]:
    """Return the cautions of a build; how grave one is follows from the build, not from what states it has.

    Args:
        plan: the build.
    """
    found = supplies(plan)
    return (
        *_unprotected(found),
        *_reversible(found),
        *_unguarded(plan, found),
        *_series(plan, found),
        *_mixed(plan, found),
        *_jacks(plan, found),
        *_bright(plan),
    )


def fuse_findings(advice: FuseAdvice, guarded: Sequence[Conductor]) -> tuple[Finding, ...]:
    """Return an error for a fuse above what its wire bears, a warning for one below the load.

    Args:
        advice: for one supply.
        guarded: wires in its path.
    """
    limit, fitted = advice.wire_limit_a, advice.fitted_a
    if fitted is None:
        return ()
    if limit is not None and fitted > limit:
        return (_above_wire(advice, fitted, limit, guarded),)
    if fitted < advice.window_a[0] * (1 - 1e-9) and advice.continuous_a > 0:
        return (_below_load(advice, fitted, guarded),)
    return ()


def _above_wire(advice: FuseAdvice, fitted: float, limit: float, guarded: Sequence[Conductor]) -> Finding:
    from chassis_gen.electrics.changes import behind_a_larger_fuse, other_fuses

    message = (
        f"the fuse of {amount(fitted)} is above the {amount(limit)} that the weakest wire behind it bears"
    )
    numbers = {"fuse_a": fitted, "wire_limit_a": limit}
    words = Remedy(None, None, f"fit {_rating(advice)}, or thicker wire")
    candidates = (*other_fuses(advice, guarded), *behind_a_larger_fuse(advice, guarded), words)
    return replace(_finding("error", "fuse-above-wire", advice.cell, message, numbers), candidates=candidates)


def _below_load(advice: FuseAdvice, fitted: float, guarded: Sequence[Conductor]) -> Finding:
    from chassis_gen.electrics.changes import other_fuses

    message = f"the fuse of {amount(fitted)} is below 1.25 times the {amount(advice.continuous_a)} that flows"
    low, high = advice.window_a
    numbers = {"fuse_a": fitted, "least_a": low, "most_a": high}
    words = Remedy(None, None, f"fit {_rating(advice)}")
    candidates = (*other_fuses(advice, guarded), words)
    return Finding("warning", "fuse-small", advice.cell, message, numbers, candidates=candidates)


def _rating(advice: FuseAdvice) -> str:
    return amount(advice.rating_a) if advice.rating_a is not None else "a fuse that the wires bear"


def _finding(
    level: Level,
    code: str,
    where: str,
    fact: str,
    numbers: dict[str, float] | None = None,
    remedy: str | None = None,
) -> Finding:
    message = f"{fact}. {electrical_caution(code)}"
    return Finding(level, code, where, message, numbers or {}, Remedy(None, None, remedy) if remedy else None)


def _unprotected(found: tuple[Supply, ...]) -> Iterator[Finding]:
    for s in found:
        bare = [c.id for c in s.cells if c.figures.get("rechargeable") and not c.figures.get("protected")]
        if bare:
            fact = f"{', '.join(bare)} has no protection board of its own"
            yield _finding(
                "warning", "cell-unprotected", s.section, fact, remedy="use a protected cell or pack"
            )


def _reversible(found: tuple[Supply, ...]) -> Iterator[Finding]:
    for s in found:
        if any(not c.figures.get("polarity_keyed") for c in s.cells):
            fact = f"a cell goes into {s.section} either way round"
            remedy = "mark both ends with plus and minus and key one of them"
            yield _finding("note", "polarity-reversible", s.section, fact, remedy=remedy)


def _unguarded(plan: ChassisPlan, found: tuple[Supply, ...]) -> Iterator[Finding]:
    net = nets(plan)
    wires = conductors(plan)
    loads = [ends for p in plan.parts if p.part.kind in _LOADS and (ends := pins(plan, p.id))]
    for s in found:
        at_cell = [c for c in wires if {c.wire.start, c.wire.end} & {s.plus, s.minus}]
        if not at_cell:
            continue
        fuse = any(c.fuses for c in at_cell)
        always = any(net[a] == net[s.plus] and net[b] == net[s.minus] for a, b in loads)
        lacking = [*([] if fuse else ["no fuse"]), *(["no cut-off"] if always else [])]
        if lacking:
            fact = f"{' and '.join(lacking)} lies in the path of {s.section}"
            fused = "" if fuse else 'add in_line = [{ kind = "fuse" }] to the wire at the plus'
            cut = "take the loads' return through a jack's or a switch's contact" if always else ""
            remedy = "; ".join(r for r in (fused, cut) if r)
            yield _finding("note" if fuse else "warning", "cell-unguarded", s.section, fact, remedy=remedy)


def _series(plan: ChassisPlan, found: tuple[Supply, ...]) -> Iterator[Finding]:
    charged = any(s.charge_at is not None for s in plan.electrics.states)
    if not (charged or _charge_ports(plan, found)) or plan.electrics.balance_leads:
        return
    net = nets(plan)
    strings = [s.section for s in found if sum(bool(c.figures.get("rechargeable")) for c in s.cells) > 1]
    strings += [
        f"{a.section} and {b.section}"
        for a, b in combinations(found, 2)
        if net[a.plus] == net[b.minus] or net[b.plus] == net[a.minus]
    ]
    for name in strings:
        fact = f"cells in series ({name}) share one charge input and have no balance leads"
        remedy = "charge the cells one by one, or add balance leads and set electrics.balance_leads"
        yield _finding("error", "series-unbalanced", name, fact, remedy=remedy)


def _mixed(plan: ChassisPlan, found: tuple[Supply, ...]) -> Iterator[Finding]:
    net = nets(plan)
    for a, b in combinations(found, 2):
        joined = {net[a.plus], net[a.minus]} & {net[b.plus], net[b.minus]}
        names = sorted({c.part.part.name for s in (a, b) for c in s.cells})
        if joined and len(names) > 1:
            fact = f"{' and '.join(names)} are mixed in one circuit"
            remedy = f'the same part in "{a.section}" and "{b.section}"'
            yield _finding("error", "cells-mixed", f"{a.section} / {b.section}", fact, remedy=remedy)


def _charge_ports(plan: ChassisPlan, found: tuple[Supply, ...]) -> list[str]:
    """Return the jacks, and the port boards whose plus is joined to a cell's: others may feed a charger board."""
    net = nets(plan)
    poles = {net[s.plus] for s in found}
    asked = {s.charge_at for s in plan.electrics.states}
    return [
        p.id
        for p in plan.parts
        if p.part.kind == JACK
        or (p.part.kind in PORTS and (p.id in asked or net.get(f"{p.id}.plus") in poles))
    ]


def _jacks(plan: ChassisPlan, found: tuple[Supply, ...]) -> Iterator[Finding]:
    full = max((sum(c.emf("full") for c in s.cells) for s in found), default=None)
    stated = plan.electrics.charger_v
    for jack in _charge_ports(plan, found) if full is not None else []:
        most = full + electrical_rule("full_charge_tolerance").value if full is not None else 0.0
        if stated is None:
            fact = f"nothing says that what is plugged into {jack} is regulated"
            remedy = "set electrics.charger_v to the charger's end voltage"
            yield _finding("warning", "supply-unregulated", jack, fact, remedy=remedy)
        elif stated > most:
            fact = f"the charger at {jack} ends at {stated:g} V; these cells are full at {full:g} V"
            numbers = {"charger_v": stated, "most_v": most}
            remedy = f"a charger that ends at {full:g} V, then electrics.charger_v = {full:g}"
            yield _finding("error", "supply-unregulated", jack, fact, numbers, remedy)


def _bright(plan: ChassisPlan) -> Iterator[Finding]:
    least = electrical_rule("bright_current").value
    bright = [
        p.id for p in plan.parts if p.part.kind in LEDS and figures(plan, p).get("rated_a", 0.0) >= least
    ]
    if bright:
        yield _finding(
            "note", "bright-light", bright[0], f"{', '.join(bright)} can be bright enough to hurt eyes"
        )
