"""Wire: conductor sizes by formula, insulated diameters and lane rules from data files."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.reading import Rule, length_mm, lookup, read_csv, read_rules

# ASTM B258: gauge 36 is 0.005 in, gauge 0000 is 0.46 in, 39 equal ratios between them.
GAUGE_36_DIAMETER = 0.127
RATIO_OF_39_STEPS = 92.0


@dataclass(frozen=True)
class InsulatedWire:
    """A stranded wire with its insulation.

    Args:
        gauge_awg: American wire gauge number.
        insulation: "silicone" or "pvc".
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
        insulation: "silicone" or "pvc".

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
        insulation: "silicone" or "pvc".

    Raises:
        InputError: ``unknown-insulation`` or ``wire-gauge``.
    """
    return insulated_wire(gauge, insulation).max_diameter


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
        insulation: "silicone" or "pvc".
        length: mm, length of the lane.
    """
    if not closed:
        return wiring_rule("open_fill")
    long = insulation.casefold() == "silicone" and length > wiring_rule("silicone_long_length").value
    return wiring_rule("silicone_long_fill" if long else "closed_fill")
