"""A report's harness in words: what to cut, to buy and to solder, and where it may fail."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from chassis_gen.output.words import Rows, count_of, number

CUT_HEADINGS = ("wire", "net", "from", "to", "gauge", "colour", "sum, mm", "cut to, mm")
TOTAL_HEADINGS = ("gauge", "insulation", "colour", "wires", "cut, mm", "spare, mm", "buy, mm")
JOINT_HEADINGS = ("net", "terminals", "joints to solder", "connectors")


def cut_rows(report: dict[str, Any]) -> Rows:
    """Return one row of words per wire, to go with `CUT_HEADINGS`."""
    cuts = {r["id"]: r for r in report["harness"]["wires"]}
    return [
        (
            w["id"],
            cuts[w["id"]]["net"],
            w["from"],
            w["to"],
            f"{gauge_words(w)} {w['insulation']}",
            w["colour"] or "-",
            sum_words(cuts[w["id"]]["terms_mm"]),
            number(w["cut_mm"], 0),
        )
        for w in report["wires"]
    ]


def gauge_words(wire: dict[str, Any]) -> str:
    """Return a wire's size in words, such as ``AWG 26`` or ``0.25 mm2``."""
    area = wire.get("area_mm2")
    return f"AWG {wire['gauge']}" if area is None else f"{area:g} mm2"


def sum_words(terms: dict[str, float]) -> str:
    """Return the terms of a length, such as ``along lanes 190.0 + drops 31.7 + ends 30.0``, mm."""
    words = [f"{'-' if v < 0 else '+'} {label} {abs(v):.1f}" for label, v in terms.items()]
    return " ".join(words).removeprefix("+ ")


def route_lines(report: dict[str, Any]) -> Sequence[str]:
    """Return one Markdown line per wire: its way, and what to heed."""
    return [
        f"- **{r['id']}**: {r['route']}." + (f" Note: {'; '.join(r['notes'])}." if r["notes"] else "")
        for r in report["harness"]["wires"]
    ]


def total_rows(report: dict[str, Any]) -> Rows:
    """Return one row of words per sort of wire, to go with `TOTAL_HEADINGS`."""
    return [
        (
            t["gauge"],
            t["insulation"],
            t["colour"] or "-",
            str(t["count"]),
            number(t["length_mm"], 0),
            number(t["spare_mm"], 0),
            number(t["to_buy_mm"], 0),
        )
        for t in report["harness"]["totals"]
    ]


def spare_words(report: dict[str, Any]) -> str:
    """Return what the spare is, in a sentence."""
    return f"Spare: {100 * report['harness']['spare_share']:.0f} % of each sort, rounded up."


def joint_rows(report: dict[str, Any]) -> Rows:
    """Return one row of words per net and one of their sums, to go with `JOINT_HEADINGS`."""
    joints = report["harness"]["joints"]
    rows = [(j["net"], ", ".join(j["terminals"]), str(j["soldered"]), str(j["connectors"])) for j in joints]
    if not joints:
        return []
    sums = [str(sum(j[key] for j in joints)) for key in ("soldered", "connectors")]
    return [*rows, ("all", "", *sums)]


def connector_lines(report: dict[str, Any]) -> tuple[str, ...]:
    """Return what becomes of each connector, as a Markdown list, or nothing where there is none."""
    lines = [
        f"- {p['wire']}, connector at {p['where']}: "
        + (f"stays, {p['keeps']}" if p["keeps"] else "nothing needs it, solder instead")
        for p in report["harness"]["connectors"]
    ]
    return ("\n".join(lines),) if lines else ()


def failure_lines(report: dict[str, Any]) -> Sequence[str]:
    """Return one line of a Markdown list per kind of failure, worst first, with its places and what to do."""
    groups: dict[tuple[int, str], list[dict[str, Any]]] = {}
    for p in report["harness"]["failure_points"]:
        groups.setdefault((p["rank"], p["text"]), []).append(p)
    return [
        f"{n}. **{text}**, {len(points)}: {'; '.join(_places(points))}. Do: {points[0]['remedy']}."
        for n, ((_, text), points) in enumerate(groups.items(), start=1)
    ]


def _places(points: Sequence[dict[str, Any]]) -> Sequence[str]:
    """Return where some points of one kind are: each place once, with its wires."""
    there: dict[tuple[str, str], list[str]] = {}
    for p in points:
        there.setdefault((p["where"], p["detail"]), []).extend(p["wires"])
    return [
        f"{where} ({', '.join(dict.fromkeys(wires))}{f': {detail}' if detail else ''})"
        for (where, detail), wires in there.items()
    ]


def failure_count(report: dict[str, Any]) -> str:
    """Return how many points of failure there are before and after needless connectors go."""
    harness = report["harness"]
    before, after = harness["failure_count"], harness["failure_count_without_needless_connectors"]
    needless = sum(1 for p in harness["connectors"] if p["keeps"] is None)
    if not needless:
        return f"{count_of(before, 'point')} of failure; no connector is needless."
    gone = count_of(needless, "needless connector")
    return f"{count_of(before, 'point')} of failure; {after} once {gone} {'is' if needless == 1 else 'are'} soldered."
