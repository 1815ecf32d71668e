"""What the netlist says of itself: open terminals, two drivers, supplies out of range, interfaces not offered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.electrics import SUPPLIES
from chassis_gen.plan.model import PlacedPart, PlacedTerminal, SectionPlan
from chassis_gen.plan.no_way import thin_insulation, thinner
from chassis_gen.tables.electrical import figures_of

_SUPPLY_PINS = (("battery plus", "battery minus"), ("supply plus", "supply minus"))


def terminal_findings(wires: Sequence[Wire], sections: Sequence[SectionPlan]) -> tuple[Finding, ...]:
    """Return errors for wires too thick for a terminal, and warnings for terminals that lack their wire.

    Args:
        wires: all wires that were asked for.
        sections: the planned sections.
    """
    terminals = {t.id: t for s in sections for t in s.terminals}
    found = []
    for wire in wires:
        for t in (terminals[wire.start], terminals[wire.end]):
            if wire.conductor_diameter > t.largest_wire_diameter:
                found.append(_too_thick(wire, t))
    found += _no_room_to_bend(wires, sections)
    ends = {end for wire in wires for end in (wire.start, wire.end)}
    for t in terminals.values():
        if t.must_connect and t.id not in ends:
            remedy = Remedy(None, None, f"add a [[wire]] from or to {t.id}")
            message = f"no wire ends at {t.id}"
            found.append(Finding("warning", "terminal-open", t.id, message, candidates=(remedy,)))
    return tuple(found)


def _too_thick(wire: Wire, terminal: PlacedTerminal) -> Finding:
    d, most = wire.conductor_diameter, terminal.largest_wire_diameter
    return Finding(
        "error",
        "wire-thick",
        terminal.id,
        f"{wire.id}: {wire.gauge_text} has a {d:.2f} mm conductor, {terminal.id} takes {most:.2f} mm",
        {"conductor_diameter": d, "largest_wire_diameter": most},
        candidates=tuple(thinner(wire)),
    )


def _no_room_to_bend(wires: Sequence[Wire], sections: Sequence[SectionPlan]) -> Iterator[Finding]:
    """Yield an error for each section behind whose part the thickest of its wires has no room to bend."""
    for i, s in enumerate(sections):
        rooms = {t.id: t.room_for for t in s.terminals if t.room_for is not None}
        here = [w for w in wires if w.start in rooms or w.end in rooms]
        if not here:
            continue
        thickest, room = max(here, key=lambda w: w.outer_diameter), min(rooms.values())
        d = thickest.outer_diameter
        if d <= room + 1e-9:
            continue
        message = (
            f"{thickest.id} is {d:.2f} mm over its insulation; behind {s.name} there is room for the bend of a wire "
            f"of {room:.2f} mm"
        )
        wide = Remedy(f"section[{i}].wire_diameter", d, f"room for wires of {d:g} mm")
        yield Finding(
            "error",
            "wire-bend-room",
            s.name,
            message,
            {"outer_diameter": d, "room_for": room},
            candidates=(wide, *thinner(thickest), *thin_insulation(thickest)),
        )


def netlist_findings(wires: Sequence[Wire], sections: Sequence[SectionPlan]) -> tuple[Finding, ...]:
    """Return errors for nets with two drivers, supplies out of a part's range and interfaces not offered.

    Args:
        wires: all wires that were asked for.
        sections: the planned sections.
    """
    parts = {p.id: p for s in sections for p in s.parts}
    # the cells of a section are in series between its own plus and minus
    feeds = {f"{s.name}.plus" for s in sections if any(p.part.kind in SUPPLIES for p in s.parts)}
    nets = joined(wires)
    return (
        *_two_drivers(nets, parts, feeds),
        *_supplies_out_of_range(nets, parts),
        *_needs_unmet(nets, parts),
    )


def joined(wires: Sequence[Wire]) -> tuple[tuple[str, ...], ...]:
    """Return the terminals that wires join, net by net, in the order in which wires name them."""
    nets: list[list[str]] = []
    for wire in wires:
        own = [n for n in nets if wire.start in n or wire.end in n]
        merged = list(dict.fromkeys((*(t for n in own for t in n), wire.start, wire.end)))
        nets = [n for n in nets if n not in own] + [merged]
    return tuple(tuple(n) for n in nets)


def _owner(terminal: str, parts: Mapping[str, PlacedPart]) -> tuple[PlacedPart, str] | None:
    """Return the part that a terminal belongs to, and the terminal's name on it."""
    owners = [p for p in parts.values() if terminal.startswith(f"{p.id}.")]
    if not owners:
        return None
    part = max(owners, key=lambda p: len(p.id))
    return part, terminal[len(part.id) + 1 :]


def _drivers(net: Sequence[str], parts: Mapping[str, PlacedPart]) -> tuple[str, ...]:
    owned = ((t, _owner(t, parts)) for t in net)
    return tuple(t for t, o in owned if o is not None and o[1] in o[0].part.drives)


def _two_drivers(
    nets: Sequence[Sequence[str]], parts: Mapping[str, PlacedPart], feeds: Set[str]
) -> Iterator[Finding]:
    for net in nets:
        outputs = _drivers(net, parts)
        drivers = [t for t in net if t in outputs or t in feeds]
        if len(drivers) > 1:
            names = " and ".join(drivers)
            message = f"{names} drive one net: {', '.join(net)}"
            remedy = Remedy(None, None, f"take one of the wires that join {names} away")
            yield Finding(
                "error", "two-drivers", drivers[0], message, {"drivers": float(len(drivers))}, remedy
            )


def _supplies_out_of_range(
    nets: Sequence[Sequence[str]], parts: Mapping[str, PlacedPart]
) -> Iterator[Finding]:
    """Yield errors for parts whose supply pin hangs on an output of known voltage that isn't in its range.

    What cells give hangs on all that lies between their poles: `chassis_gen.electrics.miswiring` says that.
    """
    for net in nets:
        for driver in _drivers(net, parts):
            owned = _owner(driver, parts)
            given = _given(owned[0]) if owned else None
            if given is None:
                continue
            for t in net:
                part = _owner(t, parts)
                if part is not None and t != driver and _is_supply_pin(part[0], part[1]):
                    yield from _out_of_range(part[0], t, driver, given)


def _given(part: PlacedPart) -> tuple[float, float] | None:
    """Return the lowest and highest voltage that a part's outputs are stated to give, V."""
    p = part.part
    return (p.gives_v_min, p.gives_v_max) if p.gives_v_min is not None and p.gives_v_max is not None else None


def _is_supply_pin(part: PlacedPart, terminal: str) -> bool:
    stated = part.part.supply_terminals
    pins = (stated[0],) if stated else tuple(a for a, _ in _SUPPLY_PINS)
    return terminal in pins


def _out_of_range(
    part: PlacedPart, terminal: str, driver: str, given: tuple[float, float]
) -> Iterator[Finding]:
    p = part.part
    figures = figures_of(p.kind, p.name)
    low = p.supply_v_min if p.supply_v_min is not None else figures.get("supply_v_min")
    high = p.supply_v_max if p.supply_v_max is not None else figures.get("supply_v_max")
    too_low = low is not None and given[0] < low - 1e-9
    too_high = high is not None and given[1] > high + 1e-9
    if not (too_low or too_high):
        return
    span = f"{low if low is not None else 0:g} to {high:g} V" if high is not None else f"at least {low:g} V"
    message = (
        f"{part.id} ({p.name}) works at {span}; {driver} gives {given[0]:g} to {given[1]:g} V on {terminal}"
    )
    numbers = {"given_v_min": given[0], "given_v_max": given[1]}
    numbers |= {"supply_v_min": low} if low is not None else {}
    numbers |= {"supply_v_max": high} if high is not None else {}
    remedy = Remedy(None, None, "another supply, a converter between them, or a part for this voltage")
    yield Finding("error" if too_high else "warning", "supply-range", part.id, message, numbers, remedy)


def _needs_unmet(nets: Sequence[Sequence[str]], parts: Mapping[str, PlacedPart]) -> Iterator[Finding]:
    """Yield an error for each interface that a part needs and no part that it is wired to offers."""
    for part in parts.values():
        if not part.part.needs:
            continue
        beside = {
            owned[0].id
            for net in nets
            if any((o := _owner(t, parts)) is not None and o[0].id == part.id for t in net)
            for t in net
            if (owned := _owner(t, parts)) is not None and owned[0].id != part.id
        }
        if not beside:
            continue
        offers = {o for id in beside for o in parts[id].part.offers}
        for need in part.part.needs:
            if need in offers:
                continue
            able = [p.id for p in parts.values() if need in p.part.offers and p.id != part.id]
            wired = ", ".join(sorted(beside))
            message = f"{part.id} ({part.part.name}) needs {need}; it is wired to {wired}, which offers none"
            text = (
                f"wire it to {', '.join(able)}"
                if able
                else f"a part that offers {need}, before this one is bought"
            )
            yield Finding("error", "need-unmet", part.id, message, {}, Remedy(None, None, text))
