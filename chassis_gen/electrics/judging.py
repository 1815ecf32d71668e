"""What the states' figures are judged against: wires, cells, parts, contacts, cut-off plugs, temperatures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from chassis_gen.electrics.assembly import Conductor, conductors, solved_state
from chassis_gen.electrics.led_strings import assumed_resistors
from chassis_gen.electrics.parts import BOARD, LEDS, figures, part_named, pins, supplies
from chassis_gen.electrics.result import CellResult, LoadResult, StateResult, Temperature, amount
from chassis_gen.electrics.states import NOTHING_A
from chassis_gen.findings import Finding, Level, Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import State
from chassis_gen.problems import InputError
from chassis_gen.tables.electrical import electrical_rule
from chassis_gen.tables.materials import find_material

_ROUNDING = 1e-6


def state_findings(plan: ChassisPlan, state: State, result: StateResult) -> tuple[Finding, ...]:
    """Return what is wrong in a state.

    Args:
        plan: the build.
        state: the state as asked.
        result: what it comes to.
    """
    return (
        *_wires(plan, result),
        *_starved(result),
        *_beyond_reach(plan, state, result),
        *_no_way(state, result),
        *_plug(state, result),
        *_loads(plan, state, result),
        *_cells(plan, result),
        *_boards(plan, result),
        *_contacts(plan, result),
        *_temperatures(plan, result),
    )


def said_once(planned: Sequence[Finding], judged: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return what planning found, less supply ranges that a state's figures say more exactly.

    Args:
        planned: findings of the plan.
        judged: findings of the electrics.
    """
    said = {(f.code, f.where.rpartition(": ")[2]) for f in judged}
    return tuple(f for f in planned if f.code != "supply-range" or not _supply_codes(f) <= said)


def _supply_codes(f: Finding) -> set[tuple[str, str]]:
    """Return what a state would say of the same supply: too high, too low or both."""
    n = f.numbers
    high = n["given_v_max"] > n.get("supply_v_max", n["given_v_max"])
    low = n["given_v_min"] < n.get("supply_v_min", n["given_v_min"])
    return {(code, f.where) for code, off in (("supply-high", high), ("supply-low", low)) if off}


def stated_findings(plan: ChassisPlan) -> tuple[Finding, ...]:
    """Return an error for each wire whose stated current is more than the bundle column lets it carry.

    Args:
        plan: the build.
    """
    return tuple(
        _overload(c, c.wire.current_a, c.limit_a, c.wire.id, f"{c.wire.id} is stated to carry")
        for c in conductors(plan)
        if c.wire.current_a is not None
        and c.limit_a is not None
        and c.wire.current_a > c.limit_a * (1 + _ROUNDING)
    )


def _where(result: StateResult, thing: str) -> str:
    return f"{result.name}: {thing}"


def _wires(plan: ChassisPlan, result: StateResult) -> Iterator[Finding]:
    for w in result.wires:
        if w.worst_a <= NOTHING_A:
            continue
        if w.limit_a is None:
            from chassis_gen.electrics.changes import thicker

            message = f"{w.wire} carries {amount(w.worst_a)}; no rule is published for AWG {w.gauge_awg}"
            numbers = {"current_a": w.worst_a, "gauge_awg": float(w.gauge_awg)}
            conductor = next(c for c in conductors(plan) if c.wire.id == w.wire)
            words = Remedy(None, None, "a thicker gauge, for which a figure is published")
            candidates = (*thicker(conductor, w.worst_a), words)
            yield Finding(
                "note", "wire-unrated", _where(result, w.wire), message, numbers, candidates=candidates
            )
        elif w.worst_a > w.limit_a * (1 + _ROUNDING):
            conductor = next(c for c in conductors(plan) if c.wire.id == w.wire)
            said = f"in state {result.name}, {w.wire} carries"
            yield _overload(conductor, w.worst_a, w.limit_a, _where(result, w.wire), said)


def _overload(c: Conductor, current: float, limit: float, where: str, said: str) -> Finding:
    from chassis_gen.electrics.changes import thicker

    message = (
        f"{said} {current:.2f} A; {c.wire.gauge_text} bundled in a closed space bears {limit:.2f} A "
        f"(MIL-STD-975, EEE-INST-002)"
    )
    numbers = {"current_a": current, "limit_a": limit}
    words = Remedy(None, None, "split the current over several wires")
    candidates = (*thicker(c, current), words)
    return Finding("error", "wire-overload", where, message, numbers, candidates=candidates)


def _starved(result: StateResult) -> Iterator[Finding]:
    for name in result.starved:
        message = (
            f"in state {result.name}, {name} asks for more than the cells can give through these wires "
            f"(full, nominal or empty)"
        )
        remedy = Remedy(None, None, "less draw, thicker or shorter wires, or cells that give more")
        yield Finding("error", "load-starved", _where(result, name), message, remedy=remedy)


def _beyond_reach(plan: ChassisPlan, state: State, result: StateResult) -> Iterator[Finding]:
    """Yield a warning for each load that needs more voltage than its board passes on at the charge shown."""
    for load in result.loads:
        ends = pins(plan, load.fed_by.rpartition(".")[0])
        if load.load not in result.out_of_reach or ends is None:
            continue
        wanted, given = load.volts + load.drop_v, result.terminals[ends[0]] - result.terminals[ends[1]]
        message = (
            f"in state {result.name}, {load.load} is said to draw {amount(load.current_a)}: with what lies in its "
            f"wires that takes {wanted:.2f} V, and its board passes on {given:.2f} V ({state.level} charge)"
        )
        text = (
            "less current or a smaller resistor; of a plain LED state series_ohm = 0 instead, and the program reckons "
            "what flows; or an output with a converter of its own (light_passes = 0), or more cells"
        )
        numbers = {"wanted_v": wanted, "given_v": given, "current_a": load.current_a}
        yield Finding(
            "warning", "output-low", _where(result, load.load), message, numbers, Remedy(None, None, text)
        )


def _no_way(state: State, result: StateResult) -> Iterator[Finding]:
    """Return warnings on what has no closed way although no switch or plug is named that would open it."""
    for name in result.without_way:
        if state.plug_in or (state.charge_at and name != "charge"):
            continue
        message = f"in state {result.name}, no closed way leads from the cells through {name}"
        remedy = Remedy(None, None, "add the missing wire, or name the closed switch in the state's closed")
        yield Finding("warning", "no-closed-way", _where(result, name), message, remedy=remedy)


def _plug(state: State, result: StateResult) -> Iterator[Finding]:
    plugs = tuple(state.plug_in)
    if not plugs or state.charge_at is not None:
        return
    drawn = sum(abs(load.current_a) for load in result.loads if load.fed_by)
    given = sum(c.worst_a for c in result.cells)
    if max(drawn, given) > NOTHING_A:
        message = (
            f"in state {result.name}, a plug is in {', '.join(plugs)} and the cells still give {amount(given)}; "
            f"a cut-off plug must leave no load current"
        )
        remedy = Remedy(None, None, "take the loads' return to the jack's switched lug, not to the cell")
        numbers = {"current_a": given}
        yield Finding("error", "plug-leaves-load", _where(result, plugs[0]), message, numbers, remedy)


def _loads(plan: ChassisPlan, state: State, result: StateResult) -> Iterator[Finding]:
    for load in result.loads:
        part = part_named(plan, load.load)
        if part is None or not load.fed_by:
            continue
        own = figures(plan, part)
        yield from _dim(plan, state, result, load)
        if part.part.kind == BOARD:
            yield from _supply(result, load, own.get("supply_v_min"), own.get("supply_v_max"))
        for key, value, unit in (("rated_a", load.current_a, "A"), ("rated_w", load.power_w, "W")):
            rated = own.get(key)
            if rated is not None and value > rated * (1 + _ROUNDING):
                from chassis_gen.electrics.changes import larger_resistors

                message = (
                    f"in state {result.name}, {load.load} gets {amount(value, unit)}; "
                    f"it is rated {amount(rated, unit)}"
                )
                numbers = {f"is_{unit.casefold()}": value, f"rated_{unit.casefold()}": rated}
                burnt = part.part.kind in LEDS and value > rated * electrical_rule("led_overload").value
                yield Finding(
                    "error" if burnt else "warning",
                    "above-rating",
                    _where(result, load.load),
                    message,
                    numbers,
                    candidates=tuple(larger_resistors(plan, state, load.load)),
                )


def _dim(plan: ChassisPlan, state: State, result: StateResult, load: LoadResult) -> Iterator[Finding]:
    """Yield a warning where a stated draw would leave an LED on the cells below its forward voltage."""
    part = part_named(plan, load.load)
    on_cells = load.fed_by in {s.section for s in supplies(plan)}
    drawn = any(d.of == load.load and d.series_ohm is None for d in state.draws)
    if part is None or part.part.kind not in LEDS or not (on_cells and drawn):
        return
    forward = figures(plan, part)["forward_v"]
    if load.volts >= forward - electrical_rule("led_forward_spread").value:
        return
    free = replace(state, draws=tuple(d for d in state.draws if d.of != load.load))
    flows = solved_state(plan, free, state.level, assumed_resistors(plan)).solution.currents[load.load]
    message = (
        f"in state {result.name}, {load.load} is said to draw {amount(load.current_a)}: that leaves it "
        f"{load.volts:.2f} V, and it conducts above {forward:g} V; through what lies in its wires it gets "
        f"{amount(flows)}"
    )
    remedy = Remedy(None, None, "leave its draw out: the program reckons what flows; or state its forward_v")
    numbers = {"volts": load.volts, "forward_v": forward, "stated_a": load.current_a, "flows_a": flows}
    yield Finding("warning", "led-below-forward", _where(result, load.load), message, numbers, remedy)


def _supply(
    result: StateResult, load: LoadResult, least: float | None, most: float | None
) -> Iterator[Finding]:
    where = _where(result, load.load)
    less = Remedy(None, None, "fewer cells in series, a converter between them, or a part for this voltage")
    more = Remedy(None, None, "less draw, thicker or shorter wires, more cells, or a part for this voltage")
    if most is not None and load.highest_v > most:
        message = f"{load.load} gets {load.highest_v:.2f} V with full cells; it bears {most:g} V"
        yield Finding("error", "supply-high", where, message, {"volts": load.highest_v, "most_v": most}, less)
    if least is not None and load.highest_v < least:
        message = f"{load.load} gets {load.highest_v:.2f} V even with full cells; it needs {least:g} V"
        yield Finding(
            "error", "supply-low", where, message, {"volts": load.highest_v, "least_v": least}, more
        )
    elif least is not None and load.volts < least:
        message = f"in state {result.name}, {load.load} gets {load.volts:.2f} V; it needs {least:g} V"
        yield Finding("warning", "supply-low", where, message, {"volts": load.volts, "least_v": least}, more)


def _cells(plan: ChassisPlan, result: StateResult) -> Iterator[Finding]:
    known = {c.id: c.figures for s in supplies(plan) for c in s.cells}
    for c in result.cells:
        if c.charging and not known[c.cell].get("rechargeable", 1.0):
            message = (
                f"in state {result.name}, {c.cell} is charged with {amount(c.worst_a)}; it is a primary cell"
            )
            remedy = Remedy(
                None, None, "no charge in this state, or a rechargeable cell with a charger made for it"
            )
            numbers = {"current_a": c.worst_a}
            yield Finding("error", "charge-primary", _where(result, c.cell), message, numbers, remedy)
        elif c.rate_c is not None and c.limit_c is not None and c.rate_c > c.limit_c * (1 + _ROUNDING):
            yield _rate(plan, result, c, c.rate_c, c.limit_c)
        yield from _ambient(plan, result, c)


def _rate(plan: ChassisPlan, result: StateResult, c: CellResult, rate: float, limit: float) -> Finding:
    from chassis_gen.electrics.changes import slower_charge

    way = "charged" if c.charging else "discharged"
    message = (
        f"in state {result.name}, {c.cell} is {way} at {amount(c.worst_a)} = {rate:.2f} C; its limit is {limit:g} C "
        f"(the cell maker's data sheet comes first)"
    )
    code = "charge-high" if c.charging else "discharge-high"
    numbers = {"rate_c": rate, "limit_c": limit}
    candidates = (
        *(slower_charge(plan, result.name, c.worst_a / rate * limit) if c.charging else ()),
        Remedy(None, None, f"less current, a larger cell, or one whose data sheet lets it be {way} faster"),
    )
    return Finding("error", code, _where(result, c.cell), message, numbers, candidates=candidates)


def _ambient(plan: ChassisPlan, result: StateResult, c: CellResult) -> Iterator[Finding]:
    """Return an error where a cell is worked in surroundings outside of its window."""
    if c.worst_a <= NOTHING_A:
        return
    low, high = _window(plan, c)
    ambient = plan.electrics.ambient_c
    if not low <= ambient <= high:
        way = "charging" if c.charging else "discharging"
        message = f"{c.cell}: {way} is for {low:g} to {high:g} C; it is {ambient:g} C round the tube"
        numbers = {"ambient_c": ambient, "low_c": low, "high_c": high}
        remedy = Remedy(None, None, f"{way} between {low:g} and {high:g} C, or a cell made for {ambient:g} C")
        yield Finding("error", "cell-ambient", _where(result, c.cell), message, numbers, remedy)


def _window(plan: ChassisPlan, c: CellResult) -> tuple[float, float]:
    part = part_named(plan, c.cell)
    own = figures(plan, part) if part else {}
    way = "charge" if c.charging else "discharge"
    return own.get(f"{way}_low_c", -273.0), own.get(f"{way}_high_c", 1000.0)


def _boards(plan: ChassisPlan, result: StateResult) -> Iterator[Finding]:
    for id, current in result.boards.items():
        part = part_named(plan, id)
        most = figures(plan, part).get("max_a") if part else None
        if most is not None and current > most * (1 + _ROUNDING):
            message = f"in state {result.name}, {id} takes {amount(current)} with its outputs; it bears {amount(most)}"
            numbers = {"current_a": current, "most_a": most}
            remedy = Remedy(
                None, None, "less on its outputs, or a board that bears more (max_a of its data sheet)"
            )
            yield Finding("warning", "board-overload", _where(result, id), message, numbers, remedy)


def _contacts(plan: ChassisPlan, result: StateResult) -> Iterator[Finding]:
    for id, current in result.contacts.items():
        part = part_named(plan, id)
        rated = figures(plan, part).get("rated_a") if part else None
        if rated is not None and current > rated * (1 + _ROUNDING):
            message = f"in state {result.name}, the contact of {id} carries {amount(current)}; it is rated {amount(rated)}"
            numbers = {"current_a": current, "rated_a": rated}
            remedy = Remedy(
                None, None, "a contact made for this current, or let it switch a board's input instead"
            )
            yield Finding("error", "contact-overload", _where(result, id), message, numbers, remedy)


def _temperatures(plan: ChassisPlan, result: StateResult) -> Iterator[Finding]:
    windows = {c.cell: _window(plan, c)[1] for c in result.cells if c.worst_a > NOTHING_A}
    try:
        plastic = find_material(plan.material.name).service_temperature.value
    except InputError:
        plastic = None
    for t in result.temperatures:
        part = part_named(plan, t.part)
        own = figures(plan, part).get("max_case_c") if part else None
        if t.part in windows:
            yield from _hot(result, t, windows[t.part], "cell-hot", "the cell's window")
        elif own is not None:
            yield from _hot(result, t, own, "part-hot", "its own limit")
        if plastic is not None:
            yield from _hot(
                result, t, plastic, "plastic-hot", f"what printed {plan.material.name} bears in use"
            )


def _hot(result: StateResult, t: Temperature, limit: float, code: str, what: str) -> Iterator[Finding]:
    """Return an error where even the coolest estimate is too hot, a warning or a note where a warmer one is."""
    levels: tuple[tuple[Level, float], ...] = (
        ("error", t.low_c),
        ("warning", t.estimate_c),
        ("note", t.high_c),
    )
    level = next((name for name, value in levels if value > limit), None)
    if level is None:
        return
    message = (
        f"in state {result.name}, {t.part} ({t.heat_w:.2f} W) gets to about {t.estimate_c:.0f} C "
        f"({t.low_c:.0f} to {t.high_c:.0f} C, estimated); {what} is {limit:g} C"
    )
    numbers = {"estimate_c": t.estimate_c, "low_c": t.low_c, "high_c": t.high_c, "limit_c": limit}
    remedy = Remedy(None, None, "less current, a metal path to the tube, or a plastic for more heat")
    yield Finding(level, code, _where(result, t.part), message, numbers, remedy)
