"""Each state of a build, solved with the cells full, at their nominal voltage and empty, and what it comes to."""

from __future__ import annotations

from collections.abc import Mapping

from chassis_gen.electrics.assembly import (
    Load,
    Solved,
    conductor_ohm,
    feed_name,
    input_name,
    solved_state,
)
from chassis_gen.electrics.led_strings import assumed_resistors
from chassis_gen.electrics.loading import charge_h, runtime_h
from chassis_gen.electrics.parts import BOARD, Cell, Supply, figures, part_named, pins
from chassis_gen.electrics.result import Band, CellResult, LoadResult, StateResult, WireResult
from chassis_gen.electrics.thermal import temperatures
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import State

LEVELS = ("full", "nominal", "cut-off")
NOTHING_A = 1e-6
"""A current below this is none, A."""
NOTHING_W = 1e-4
"""Heat below this warms nothing, W."""

Levels = Mapping[str, Solved]


def state_result(plan: ChassisPlan, state: State) -> StateResult:
    """Return what a state of a build comes to.

    Args:
        plan: the build.
        state: one of its states.
    """
    assumed = assumed_resistors(plan)
    levels = {level: solved_state(plan, state, level, assumed) for level in LEVELS}
    shown = levels[state.level]
    loads = tuple(_load(levels, shown, load) for load in shown.loads if not _unasked(levels, state, load))
    cells = tuple(_cell(plan, levels, shown, c) for s in shown.supplies for c in s.cells)
    starved = {load.of for s in levels.values() for load in s.loads if _starved(s, load)}
    power = sum(max(0.0, c.current_a) * c.volts for c in cells)
    return StateResult(
        name=state.name,
        level=state.level,
        wires=_wires(levels, shown),
        loads=loads,
        cells=cells,
        terminals={t: v for t in plan.terminals if (v := shown.solution.voltages.get(t)) is not None},
        power_w=power,
        runtime_h=_runtime(plan, levels, shown),
        charge_h=_charge_time(shown, state),
        temperatures=temperatures(plan, _heats(plan, shown)),
        contacts=_contact_currents(levels),
        starved=tuple(sorted(starved)),
        without_way=_without_way(state, shown),
        out_of_reach=_out_of_reach(plan, shown),
        boards=_board_currents(plan, levels),
    )


def _unasked(levels: Levels, state: State, load: Load) -> bool:
    """Return True for an LED that no draw names and that stays dark at every charge."""
    dark = all(s.solution.currents[load.of] <= NOTHING_A for s in levels.values())
    return load.draw.series_ohm is not None and dark and load.of not in {d.of for d in state.draws}


def _board_currents(plan: ChassisPlan, levels: Levels) -> dict[str, float]:
    """Return the largest current that each board takes from its supply, A, for itself and its outputs."""
    found: dict[str, float] = {}
    for solved in levels.values():
        taken: dict[str, float] = {}
        for load in solved.loads:
            part = part_named(plan, load.of)
            if part is not None and part.part.kind == BOARD:
                taken[load.of] = taken.get(load.of, 0.0) + solved.solution.currents[load.of]
            if load.port:
                own = load.of if load.draw.series_ohm is not None else input_name(load)
                taken[load.port.board] = taken.get(load.port.board, 0.0) + solved.solution.currents[own]
        found |= {board: max(amps, found.get(board, 0.0)) for board, amps in taken.items()}
    return found


def _out_of_reach(plan: ChassisPlan, shown: Solved) -> tuple[str, ...]:
    """Return the loads that need more voltage than their board gets, on outputs that pass the supply on."""
    found = []
    for load in shown.loads:
        port, supply = load.port, pins(plan, load.port.board) if load.port else None
        if not port or not supply or port.efficiency is not None or load.draw.series_ohm is not None:
            continue
        if shown.live(load) and shown.solution.across(port.out, port.back) > shown.solution.across(*supply):
            found.append(load.of)
    return tuple(found)


def _wires(levels: Levels, shown: Solved) -> tuple[WireResult, ...]:
    found = []
    for c in shown.conductors:
        id, current = c.wire.id, shown.solution.currents[c.wire.id]
        worst = max(abs(s.solution.currents[id]) for s in levels.values())
        warmth = shown.temperatures[id]
        ohm = conductor_ohm(c, warmth)
        loading = None if c.limit_a is None else worst / c.limit_a
        found.append(
            WireResult(
                id, c.wire.gauge_awg, current, worst, c.limit_a, loading, ohm, abs(current) * ohm, warmth
            )
        )
    return tuple(found)


def _load(levels: Levels, shown: Solved, load: Load) -> LoadResult:
    current, volts = shown.solution.currents[load.of], shown.solution.across(load.plus, load.minus)
    live = shown.live(load) and current > NOTHING_A
    fed_by, feed_v = _fed_by(shown, load) if live else ("", volts)
    over = [s.solution.across(load.plus, load.minus) for s in levels.values()]
    return LoadResult(
        load.of,
        current,
        volts,
        max(0.0, feed_v - volts),
        volts * current,
        min(over),
        max(over),
        fed_by,
    )


def _fed_by(shown: Solved, load: Load) -> tuple[str, float]:
    """Return what feeds a load and the voltage there, V: a board's output, or the supply it hangs on."""
    at = shown.solution
    if load.port and load.draw.series_ohm is None:
        return load.port.out, at.across(load.port.out, load.port.back)
    busiest = max(
        shown.supplies, key=lambda s: sum(at.currents[f"cell {c.id}"] for c in s.cells), default=None
    )
    if busiest is None:
        return "", at.across(load.plus, load.minus)
    return busiest.section, at.across(busiest.plus, busiest.minus)


def _cell(plan: ChassisPlan, levels: Levels, shown: Solved, cell: Cell) -> CellResult:
    name = f"cell {cell.id}"
    current = shown.solution.currents[name]
    worst = max((s.solution.currents[name] for s in levels.values()), key=abs)
    charging = worst < -NOTHING_A
    capacity = cell.figures.get("capacity_mah")
    limit = cell.figures.get("max_charge_c" if charging else "max_discharge_c")
    volts = cell.emf(shown_level(levels, shown)) - current * cell.figures["internal_resistance_ohm"]
    rate = None if not capacity else abs(worst) / (capacity / 1000.0)
    return CellResult(cell.id, current, abs(worst), volts, rate, limit, charging)


def shown_level(levels: Levels, shown: Solved) -> str:
    """Return the level of charge that a state's figures are shown for."""
    return next(level for level, solved in levels.items() if solved is shown)


def _starved(solved: Solved, load: Load) -> bool:
    return bool({load.of, input_name(load)} & solved.solution.starved)


def _without_way(state: State, shown: Solved) -> tuple[str, ...]:
    lost = shown.solution.without_way
    asked = {d.of for d in state.draws}
    loads = [
        load.of
        for load in shown.loads
        if load.of in asked and {load.of, input_name(load), feed_name(load)} & lost
    ]
    return (*loads, *(["charge"] if "charge" in lost else []))


def _runtime(plan: ChassisPlan, levels: Levels, shown: Solved) -> Band | None:
    """Return the shortest and longest runtime, h, of the supply that is empty first, or None.

    The longest counts the usable share of the capacity; the shortest ends where the first board's least
    supply voltage is met, on a straight line from full to empty. Lithium-ion cells stay above that line
    for most of their charge.
    """
    found: list[Band] = []
    for supply in shown.supplies:
        for cell in supply.cells:
            current = shown.solution.currents[f"cell {cell.id}"]
            capacity = cell.figures.get("capacity_mah")
            if not capacity or current <= NOTHING_A:
                continue
            longest = runtime_h(capacity, plan.electrics.usable_share, current)
            found.append((longest * _share_above(plan, levels, supply, shown), longest))
    return min(found, default=None)


def _share_above(plan: ChassisPlan, levels: Levels, supply: Supply, shown: Solved) -> float:
    full, empty = (sum(c.emf(level) for c in supply.cells) for level in ("full", "cut-off"))
    stop = empty
    for load in levels["cut-off"].loads:
        part = part_named(plan, load.of)
        if part is None or part.part.kind != BOARD:
            continue
        least = figures(plan, part).get("supply_v_min", 0.0)
        ends = pins(plan, part.id)
        if ends:
            lost = empty - levels["cut-off"].solution.across(*ends)
            stop = max(stop, least + max(0.0, min(lost, full - empty)))
    return max(0.0, (full - stop) / (full - empty)) if full > empty else 1.0


def _charge_time(shown: Solved, state: State) -> float | None:
    if state.charge_at is None or "charge" in shown.solution.without_way:
        return None
    times = [
        charge_h(cell.figures["capacity_mah"], -shown.solution.currents[f"cell {cell.id}"])
        for s in shown.supplies
        for cell in s.cells
        if cell.figures.get("capacity_mah") and shown.solution.currents[f"cell {cell.id}"] < -NOTHING_A
    ]
    return max(times, default=None)


def _contact_currents(levels: Levels) -> dict[str, float]:
    found: dict[str, float] = {}
    for solved in levels.values():
        for c in solved.contacts:
            current = abs(solved.solution.currents[f"contact {c.part}"])
            found[c.part] = max(found.get(c.part, 0.0), current)
    return found


def _heats(plan: ChassisPlan, shown: Solved) -> dict[str, float]:
    """Return the heat of each part, W: cells and contacts by their resistance, boards by what they keep."""
    at = shown.solution
    heats: dict[str, float] = {}

    def more(part: str, watts: float) -> None:
        if watts > NOTHING_W:
            heats[part] = heats.get(part, 0.0) + watts

    for supply in shown.supplies:
        for cell in supply.cells:
            more(cell.id, at.currents[f"cell {cell.id}"] ** 2 * cell.figures["internal_resistance_ohm"])
    for c in shown.contacts:
        more(c.part, at.currents[f"contact {c.part}"] ** 2 * c.ohm)
    for load in shown.loads:
        part = part_named(plan, load.of)
        if part is not None and shown.live(load):
            share = figures(plan, part).get("heat_share", 1.0)
            more(part.id, _kept(shown, load) * share)
        if load.port and shown.live(load) and load.draw.series_ohm is None:
            plus, minus = pins(plan, load.port.board) or (load.plus, load.minus)
            taken = at.across(plus, minus) * at.currents[input_name(load)]
            more(load.port.board, taken - at.across(load.port.out, load.port.back) * load.port.amps)
    return heats


def _kept(shown: Solved, load: Load) -> float:
    """Return the power in a load itself, W; a plain LED's resistor stands elsewhere."""
    current = shown.solution.currents[load.of]
    across = shown.solution.across(load.plus, load.minus) - current * (load.draw.series_ohm or 0.0)
    return across * current
