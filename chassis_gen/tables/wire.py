"""Wire: conductor sizes by formula, insulated diameters and lane rules from data files."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.reading import Rule, length_mm, lookup, read_csv, read_rules

# ASTM B258: gauge 36 is 0.005 in, gauge 0000 is 0.46 in, 39 equal ratios between them.
GAUGE_36_DIAMETER = 0.127
RATIO_OF_39_STEPS = 92.0


class InsulatedWire(Struct, frozen=True):
    """A stranded wire with its insulation.

    Args:
        gauge_awg: American wire gauge number.
        insulation: "silicone", "pvc" or "ptfe".
        diameter: mm, usual outside diameter.
        max_diameter: mm, largest usual outside diameter; lanes are sized by it.
        source: where the sizes come from.
    """

    gauge_awg: int
    insulation: str
    diameter: float
    max_diameter: float
    source: str


@cache
def all_insulated() -> Mapping[tuple[int, str], InsulatedWire]:
    """Return the insulated wires by gauge and insulation."""
    wires = (
        InsulatedWire(
            int(row["gauge"]),
            row["insulation"],
            length_mm(row, "diameter"),
            length_mm(row, "max_diameter"),
            row["source"],
        )
        for row in read_csv("insulated_wire.csv")
    )
    return {(wire.gauge_awg, wire.insulation): wire for wire in wires}


def awg_diameter(gauge: int) -> float:
    """Return the diameter of a solid conductor, mm: 0.127 x 92^((36 - gauge) / 39) (ASTM B258).

    Args:
        gauge: American wire gauge number, 20 to 32.

    Raises:
        InputError: code ``wire-gauge`` outside that range.
    """
    rules = wiring_rules()
    low, high = rules["smallest_gauge_number"].value, rules["largest_gauge_number"].value
    if not (low <= gauge <= high and gauge == int(gauge)):
        allowed = f"whole numbers {low:.0f} to {high:.0f}"
        raise InputError(
            [Problem("wire-gauge", "no such wire gauge here", value=f"AWG {gauge}", allowed=allowed)]
        )
    return GAUGE_36_DIAMETER * float(RATIO_OF_39_STEPS ** ((36 - gauge) / 39))


def awg_area(gauge: int) -> float:
    """Return the cross-section of a solid conductor, mm2: pi d^2 / 4 with d by ASTM B258.

    Args:
        gauge: American wire gauge number, 20 to 32.

    Raises:
        InputError: code ``wire-gauge`` outside that range.
    """
    return math.pi / 4.0 * awg_diameter(gauge) ** 2


def awg_resistance_ohm_per_km(gauge: int) -> float:
    """Return the resistance of a solid copper conductor at 20 C, ohm per km (ASTM B258, IEC 60028).

    Args:
        gauge: American wire gauge number, 20 to 32.

    Raises:
        InputError: code ``wire-gauge`` outside that range.
    """
    return wiring_rule("copper_resistivity").value * 1000.0 / awg_area(gauge)


def insulated_wire(gauge: int, insulation: str = "silicone") -> InsulatedWire:
    """Return the insulated wire of a gauge; only even gauges are tabled and nothing is interpolated.

    Args:
        gauge: American wire gauge number.
        insulation: "silicone", "pvc" or "ptfe".

    Raises:
        InputError: ``unknown-insulation`` with the nearest name, or ``wire-gauge`` with the gauges there are.
    """
    kinds = {name: name for _, name in all_insulated()}
    name = lookup(insulation, kinds, "unknown-insulation", "wire insulation")
    wire = all_insulated().get((gauge, name))
    if wire is None:
        gauges = sorted(number for number, kind in all_insulated() if kind == name)
        allowed = ", ".join(str(number) for number in gauges)
        message = f"no {name} wire of this gauge is tabled"
        raise InputError([Problem("wire-gauge", message, value=f"AWG {gauge}", allowed=allowed)])
    return wire


def insulated_diameter(gauge: int, insulation: str = "silicone") -> float:
    """Return the largest usual outside diameter of an insulated wire, mm; lanes are sized by it.

    Args:
        gauge: American wire gauge number.
        insulation: "silicone", "pvc" or "ptfe".

    Raises:
        InputError: ``unknown-insulation`` or ``wire-gauge``.
    """
    return insulated_wire(gauge, insulation).max_diameter


class ConnectorHead(Struct, frozen=True):
    """The outside of a plug of one row of contacts, mm.

    Args:
        pitch: distance of contacts.
        width: across the contacts.
        thickness: across the row.
        length: along the wire.
        source: where the sizes come from.
    """

    pitch: float
    width: float
    thickness: float
    length: float
    source: str


class WireBody(Struct, frozen=True):
    """What a splice, a resistor, a fuse or a parked connector takes in a wire's way, mm.

    Args:
        kind: what it is.
        added_diameter: its sleeve beyond the wire's outside diameter.
        least_diameter: its diameter is no smaller.
        length: along the wire.
        source: where the sizes come from.
    """

    kind: str
    added_diameter: float
    least_diameter: float
    length: float
    source: str


@cache
def metric_wires() -> Mapping[tuple[float, str], float]:
    """Return the largest usual outside diameters, mm, by cross-section (mm2) and insulation."""
    return {
        (float(row["area_mm2"]), row["insulation"]): length_mm(row, "max_diameter")
        for row in read_csv("insulated_metric.csv")
    }


def metric_diameter(area_mm2: float, insulation: str = "silicone") -> float:
    """Return the largest usual outside diameter of a wire given by its cross-section, mm.

    Args:
        area_mm2: of the conductor; only tabled ones are known.
        insulation: "silicone", "pvc" or "ptfe".

    Raises:
        InputError: ``unknown-insulation`` with the nearest name, or ``wire-gauge`` with the areas there are.
    """
    kinds = {name: name for _, name in metric_wires()}
    name = lookup(insulation, kinds, "unknown-insulation", "wire insulation")
    diameter = metric_wires().get((area_mm2, name))
    if diameter is None:
        allowed = ", ".join(f"{area:g}" for area, kind in metric_wires() if kind == name) + " mm2"
        message = f"no {name} wire of this cross-section is tabled"
        raise InputError([Problem("wire-gauge", message, value=f"{area_mm2:g} mm2", allowed=allowed)])
    return diameter


def thinner_areas(area_mm2: float, insulation: str) -> tuple[float, ...]:
    """Return the tabled cross-sections below one, mm2, the largest first.

    Args:
        area_mm2: where to begin, mm2.
        insulation: "silicone", "pvc" or "ptfe".
    """
    return tuple(
        sorted((a for a, kind in metric_wires() if kind == insulation and a < area_mm2), reverse=True)
    )


def nearest_gauge(area_mm2: float) -> int:
    """Return the thickest gauge of the table whose conductor is no larger than a cross-section.

    Args:
        area_mm2: cross-section, mm2; below the table's thinnest that one is returned.
    """
    rules = wiring_rules()
    low, high = (int(rules[k].value) for k in ("smallest_gauge_number", "largest_gauge_number"))
    return next((g for g in range(low, high + 1) if awg_area(g) <= area_mm2), high)


def connector_head(pitch: float, ways: int) -> ConnectorHead:
    """Return the head of a plug by pitch and ways.

    Args:
        pitch: distance of its contacts, mm; only tabled ones are known.
        ways: number of contacts in one row.

    Raises:
        InputError: ``connector-pitch`` with the pitches there are.
    """
    rows = {length_mm(row, "pitch"): row for row in read_csv("connectors.csv")}
    row = rows.get(pitch)
    if row is None:
        allowed = ", ".join(f"{p:g}" for p in rows) + " mm"
        message = "no connector of this pitch is tabled"
        raise InputError([Problem("connector-pitch", message, value=f"{pitch:g} mm", allowed=allowed)])
    width = pitch * (ways - 1) + length_mm(row, "beyond_contacts")
    return ConnectorHead(pitch, width, length_mm(row, "thickness"), length_mm(row, "length"), row["source"])


@cache
def wire_bodies() -> Mapping[str, WireBody]:
    """Return the bodies that lie in or at the end of a wire, by kind."""
    bodies = (
        WireBody(
            row["kind"],
            length_mm(row, "added_diameter"),
            length_mm(row, "least_diameter"),
            length_mm(row, "length"),
            row["source"],
        )
        for row in read_csv("wire_bodies.csv")
    )
    return {body.kind: body for body in bodies}


def wiring_rules() -> Mapping[str, Rule]:
    """Return the rules for wires and lanes by name."""
    return read_rules("wiring_rules.toml")


def wiring_rule(name: str) -> Rule:
    """Return one rule for wires and lanes, such as "closed_lane_min" or "mouth_round".

    Args:
        name: name of the rule.

    Raises:
        InputError: code ``unknown-rule``.
    """
    return lookup(name, wiring_rules(), "unknown-rule", "wiring rule")


def fill_rule(closed: bool, insulation: str, length: float) -> Rule:
    """Return the largest share of a lane's cross-section that wires may take.

    Args:
        closed: whether the wires are pulled through; open lanes have them laid in.
        insulation: "silicone", "pvc" or "ptfe".
        length: mm, length of the lane.
    """
    if not closed:
        return wiring_rule("open_fill")
    long = insulation.casefold() == "silicone" and length > wiring_rule("silicone_long_length").value
    return wiring_rule("silicone_long_fill" if long else "closed_fill")
