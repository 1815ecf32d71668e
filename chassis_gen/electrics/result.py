"""What the electrics of a build come to, as plain data for checks and reports."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

Band = tuple[float, float]

_WHOLE_MILLI = 100.0


def amount(value: float | None, unit: str = "A") -> str:
    """Return an amount with three figures and its unit, with the prefix milli below one, or a dash for none.

    Args:
        value: in `unit`, or None.
        unit: such as ``A``.
    """
    if value is None:
        return "-"
    milli = value * 1000.0
    if abs(value) >= 1.0 or round(abs(milli)) >= 1000:
        return f"{value:.2f} {unit}"
    return f"{milli + 0.0:.0f} m{unit}" if abs(milli) >= _WHOLE_MILLI else f"{milli + 0.0:.3g} m{unit}"


class WireResult(Struct, frozen=True):
    """One wire in one state.

    Args:
        wire: wire id.
        gauge_awg: American wire gauge.
        current_a: from its start to its end, A, at the state's charge of the cell.
        worst_a: largest amount over full, nominal and empty cell, A.
        limit_a: what the bundle column lets it carry, A, or None where nothing is published.
        loading: `worst_a` as a share of `limit_a`, or None.
        ohm: resistance at its temperature, fuse included, ohm.
        drop_v: voltage lost along it, V.
        temperature_c: C, estimated from the loading.
    """

    wire: str
    gauge_awg: int
    current_a: float
    worst_a: float
    limit_a: float | None
    loading: float | None
    ohm: float
    drop_v: float
    temperature_c: float


class LoadResult(Struct, frozen=True):
    """One load in one state.

    Args:
        load: part id or terminal pair.
        current_a: A.
        volts: across it, V.
        drop_v: lost there and back between what feeds it and the load, V.
        power_w: W.
        lowest_v: across it with the cell empty, V.
        highest_v: across it with the cell full, V.
        fed_by: the cells or the board's output that feeds it; empty where nothing does.
    """

    load: str
    current_a: float
    volts: float
    drop_v: float
    power_w: float
    lowest_v: float
    highest_v: float
    fed_by: str


class CellResult(Struct, frozen=True):
    """One cell or pack in one state.

    Args:
        cell: part id.
        current_a: out of its plus, A; below zero while it is charged.
        worst_a: largest amount over full, nominal and empty cell, A.
        volts: across its terminals, V.
        rate_c: `worst_a` over its capacity, 1/h, or None where the capacity isn't known.
        limit_c: what it may be discharged or charged at, 1/h, or None.
        charging: True while it is charged.
    """

    cell: str
    current_a: float
    worst_a: float
    volts: float
    rate_c: float | None
    limit_c: float | None
    charging: bool


class Temperature(Struct, frozen=True):
    """A part's steady temperature, estimated.

    Args:
        part: part id.
        heat_w: heat it gives off, W.
        low_c: with good contact and moved air, C.
        estimate_c: C.
        high_c: with poor contact and still air, C.
    """

    part: str
    heat_w: float
    low_c: float
    estimate_c: float
    high_c: float


class StateResult(Struct, frozen=True):
    """One state.

    Args:
        name: of the state.
        level: the cell's charge that the figures are for.
        wires: all wires.
        loads: what was asked to draw, boards' idle draw included.
        cells: all cells.
        terminals: voltage at each terminal against its net's reference, V.
        power_w: what the cells give, W.
        runtime_h: shortest and longest estimate, h, or None.
        charge_h: estimated charge time, h, or None.
        temperatures: of what gives off heat.
        contacts: current through each closed contact, A, by part id.
        starved: loads that the cells can't feed, worst case.
        without_way: loads and charge currents with no closed way.
        boards: largest current that each board takes from its supply, A, by part id.
        out_of_reach: loads on outputs that pass the supply on, with more voltage than their board gets.
    """

    name: str
    level: str
    wires: tuple[WireResult, ...]
    loads: tuple[LoadResult, ...]
    cells: tuple[CellResult, ...]
    terminals: Mapping[str, float]
    power_w: float
    runtime_h: Band | None
    charge_h: float | None
    temperatures: tuple[Temperature, ...] = ()
    contacts: Mapping[str, float] = field(default_factory=dict)
    starved: tuple[str, ...] = ()
    without_way: tuple[str, ...] = ()
    out_of_reach: tuple[str, ...] = ()
    boards: Mapping[str, float] = field(default_factory=dict)


class FuseAdvice(Struct, frozen=True):
    """A fuse for one cell's path.

    Args:
        cell: section of the cells.
        continuous_a: largest current of all states, A.
        window_a: 1.25 to 1.5 times that, A.
        wire_limit_a: what the weakest wire that the fuse guards bears, A, or None.
        rating_a: the standard rating proposed, or None where none fits the wires.
        fitted_a: the rating of the fuse in the build file, or None.
    """

    cell: str
    continuous_a: float
    window_a: Band
    wire_limit_a: float | None
    rating_a: float | None
    fitted_a: float | None


class ResistorAdvice(Struct, frozen=True):
    """A series resistor for a plain LED.

    Args:
        led: part id.
        supply_v: the highest voltage that feeds it, V.
        forward_v: of the LED, V.
        wanted_a: rated current, A.
        exact_ohm: ohm by Ohm's law.
        pick_ohm: next E24 value up.
        current_a: with that value, A.
        power_w: in the resistor, W.
        rating_w: next common rating of at least twice that, W.
    """

    led: str
    supply_v: float
    forward_v: float
    wanted_a: float
    exact_ohm: float
    pick_ohm: float
    current_a: float
    power_w: float
    rating_w: float


class ElectricsResult(Struct, frozen=True):
    """The electrics of a build.

    Args:
        ambient_c: temperature round the tube, C.
        states: in file order; none where the build states none.
        fuses: one proposal per supply.
        resistors: one proposal per plain LED.
    """

    ambient_c: float
    states: tuple[StateResult, ...] = ()
    fuses: tuple[FuseAdvice, ...] = ()
    resistors: tuple[ResistorAdvice, ...] = ()
