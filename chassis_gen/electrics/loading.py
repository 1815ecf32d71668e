"""Sums on wires, cells, fuses and resistors: resistance and drop, runtime, charge, fuse and resistor proposals."""

from __future__ import annotations

import math

from chassis_gen.electrics.result import Band, ResistorAdvice
from chassis_gen.tables.electrical import electrical_rule, preferred_values
from chassis_gen.tables.wire import wiring_rule

_ROUNDING = 1e-9
_COPPER_TABLED_C = 20.0


def wire_resistance(area: float, length: float, temperature_c: float = _COPPER_TABLED_C) -> float:
    """Return a copper wire's resistance, ohm: resistivity x length / area, a straight line in temperature.

    Resistivity at 20 C and its coefficient follow IEC 60028, areas of gauges ASTM B258.

    Args:
        area: cross-section of the conductor, mm2.
        length: mm.
        temperature_c: of the conductor, C.
    """
    warmer = 1.0 + electrical_rule("copper_temperature_coefficient").value * (
        temperature_c - _COPPER_TABLED_C
    )
    return wiring_rule("copper_resistivity").value * length * 1e-3 / area * warmer


def wire_rise(current_a: float, limit_a: float | None) -> float:
    """Return how much warmer than its surroundings a bundled wire gets, K: as the square of its loading.

    The bundle column of MIL-STD-975 brings a wire from 70 C to 200 C in vacuum; in air the rise is less.

    Args:
        current_a: A.
        limit_a: what the bundle column lets it carry, A, or None where nothing is published.
    """
    return 0.0 if limit_a is None else electrical_rule("bundle_rise").value * (current_a / limit_a) ** 2


def runtime_h(capacity_mah: float, usable_share: float, current_a: float) -> float:
    """Return how long a cell lasts, h: capacity x usable share / current.

    Args:
        capacity_mah: mA h.
        usable_share: 0 to 1.
        current_a: mean current out of the cell, A, above zero.
    """
    return capacity_mah / 1000.0 * usable_share / current_a


def converter_input_a(output_v: float, output_a: float, efficiency: float, input_v: float) -> float:
    """Return what a converter draws, A: output power / (efficiency x input voltage).

    Args:
        output_v: V.
        output_a: A.
        efficiency: 0 to 1.
        input_v: V.
    """
    return output_v * output_a / (efficiency * input_v)


def charge_h(capacity_mah: float, current_a: float) -> float:
    """Return how long a charge takes, h: capacity / current, longer by the constant-voltage end.

    Args:
        capacity_mah: mA h.
        current_a: charge current, A, above zero.
    """
    return capacity_mah / 1000.0 / current_a * electrical_rule("charge_time_factor").value


def fuse_window(continuous_a: float) -> Band:
    """Return the lowest and highest usual fuse rating for a continuous current, A: 1.25 to 1.5 times it.

    Args:
        continuous_a: A.
    """
    low, high = electrical_rule("fuse_factor_low").value, electrical_rule("fuse_factor_high").value
    return low * continuous_a, high * continuous_a


def fuse_rating(continuous_a: float, wire_limit_a: float | None) -> float | None:
    """Return the smallest standard rating (IEC 60127) at or above 1.25 times the current that the wire bears, A.

    Args:
        continuous_a: A.
        wire_limit_a: what the weakest guarded wire bears, A, or None where that isn't known.

    Returns:
        The rating, or None where even the smallest is more than the wire bears.
    """
    low, _ = fuse_window(continuous_a)
    rating = next((r for r in preferred_values("fuse") if r >= low - _ROUNDING), None)
    fits = rating is not None and (wire_limit_a is None or rating <= wire_limit_a + _ROUNDING)
    return rating if fits else None


def e24_at_least(ohm: float) -> float:
    """Return the next E24 value (IEC 60063) that is at least a resistance, ohm.

    Args:
        ohm: above zero.
    """
    decade = math.floor(math.log10(ohm) + _ROUNDING)
    steps = (v * 10.0**d for d in (decade, decade + 1) for v in preferred_values("e24"))
    return next(round(v, 9) for v in steps if v >= ohm * (1.0 - _ROUNDING))


def led_resistor(led: str, supply_v: float, forward_v: float, wanted_a: float) -> ResistorAdvice | None:
    """Return the series resistor for a plain LED: (supply - forward voltage) / current, next E24 value up.

    Args:
        led: what it is for.
        supply_v: highest voltage that feeds it, V.
        forward_v: of the LED, V.
        wanted_a: the LED's current, A, above zero.

    Returns:
        The proposal, or None where the supply doesn't exceed the forward voltage.
    """
    if supply_v <= forward_v:
        return None
    exact = (supply_v - forward_v) / wanted_a
    pick = e24_at_least(exact)
    current = (supply_v - forward_v) / pick
    power = current**2 * pick
    least = power * electrical_rule("resistor_margin").value
    ratings = preferred_values("resistor_power")
    rating = next((r for r in ratings if r >= least - _ROUNDING), ratings[-1])
    return ResistorAdvice(led, supply_v, forward_v, wanted_a, exact, pick, current, power, rating)
