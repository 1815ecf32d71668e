"""The electrics of a build for the report: as data, and as a block of the Markdown file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from chassis_gen.electrics.result import ElectricsResult, amount
from chassis_gen.output.words import number
from chassis_gen.records import as_data

Table = Callable[[Sequence[str], Sequence[Sequence[str]]], str]

_PERCENT = 100.0


def electrics_json(result: ElectricsResult) -> dict[str, Any]:
    """Return the electrics as mappings and lists; keys carry the unit.

    Args:
        result: from `chassis_gen.electrics.evaluate.electrics_of`.
    """
    data: dict[str, Any] = as_data(result)
    return data


def electrics_markdown(electrics: dict[str, Any], table: Table) -> str:
    """Return the block on electrics, or nothing where the build states none.

    Args:
        electrics: the report's ``electrics``.
        table: makes a table from headings and rows.
    """
    states = electrics["states"]
    if not states:
        return ""
    headings = ("state", "power", "current", "runtime, h", "charge, h", "hottest part")
    blocks = [
        f"Reckoned at {electrics['ambient_c']:g} C round the tube, from the figures of the parts: generic ones "
        "where none were measured. Temperatures and runtimes are estimates.",
        table(headings, [_state(s) for s in states]),
        *(_state_block(s, table) for s in states),
        *_fuses(electrics["fuses"], table),
        *_resistors(electrics["resistors"], table),
    ]
    return "\n\n".join(b for b in blocks if b)


def _state(s: dict[str, Any]) -> tuple[str, ...]:
    runtime = s["runtime_h"]
    hottest = max(s["temperatures"], key=lambda t: t["estimate_c"], default=None)
    return (
        s["name"],
        amount(s["power_w"], "W"),
        amount(sum(c["current_a"] for c in s["cells"])),
        f"{number(runtime[0], 1)} to {number(runtime[1], 1)}" if runtime else "-",
        number(s["charge_h"], 1),
        f"{hottest['part']} {_range(hottest)}" if hottest else "-",
    )


def _range(t: dict[str, Any]) -> str:
    return f"{t['estimate_c']:.0f} C ({t['low_c']:.0f} to {t['high_c']:.0f})"


def _state_block(s: dict[str, Any], table: Table) -> str:
    wires = [
        (
            w["wire"],
            f"AWG {w['gauge_awg']}",
            amount(w["current_a"]),
            amount(w["worst_a"]),
            amount(w["limit_a"]),
            "-" if w["loading"] is None else f"{w['loading'] * _PERCENT:.0f} %",
            number(w["drop_v"] * 1000.0, 1),
        )
        for w in s["wires"]
        if w["worst_a"] > 0
    ]
    loads = [
        (
            load["load"],
            load["fed_by"] or "nothing",
            amount(load["current_a"]),
            number(load["volts"], 2),
            number(load["drop_v"] * 1000.0, 1),
            amount(load["power_w"], "W"),
            f"{number(load['lowest_v'], 2)} to {number(load['highest_v'], 2)}",
        )
        for load in s["loads"]
    ]
    wire_headings = ("wire", "gauge", "current", "worst", "bears", "loading", "drop, mV")
    load_headings = (
        "load", "fed by", "current", "voltage, V", "drop there and back, mV", "power", "empty to full, V",
    )  # fmt: skip
    tables = [table(load_headings, loads)] if loads else []
    tables += [table(wire_headings, wires)] if wires else []
    return "\n\n".join([f"### {s['name']} (cells: {s['level']})", *tables]) if tables else ""


def _fuses(rows: Sequence[dict[str, Any]], table: Table) -> list[str]:
    found = [
        (
            f["cell"],
            amount(f["continuous_a"]),
            f"{amount(f['window_a'][0])} to {amount(f['window_a'][1])}",
            amount(f["wire_limit_a"]),
            amount(f["rating_a"]),
            "none" if f["fitted_a"] is None else amount(f["fitted_a"]),
        )
        for f in rows
        if f["continuous_a"] > 0
    ]
    headings = ("fuse of", "continuous", "1.25 to 1.5 times", "wires bear", "proposed", "fitted")
    return [table(headings, found)] if found else []


def _resistors(rows: Sequence[dict[str, Any]], table: Table) -> list[str]:
    found = [
        (
            r["led"],
            number(r["supply_v"], 2),
            number(r["forward_v"], 2),
            number(r["exact_ohm"], 1),
            f"{r['pick_ohm']:g} ohm, {r['rating_w']:g} W",
            amount(r["current_a"]),
            amount(r["power_w"], "W"),
        )
        for r in rows
    ]
    headings = (
        "LED",
        "supply, V",
        "forward, V",
        "exact, ohm",
        "resistor (E24)",
        "current",
        "its power",
    )
    return [table(headings, found)] if found else []
