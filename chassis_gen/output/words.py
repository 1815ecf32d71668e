"""A report's rows in words, worst first: shared by the terminal's text and the Markdown file."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

Rows = list[tuple[str, ...]]

VERDICTS = ("fail", "unproven", "pass")
FIT_HEADINGS = (
    "verdict", "fit", "between", "class", "wanted", "planned", "measured", "as printed", "worst case",
    "prints that fit",
)  # fmt: skip


def number(value: float | None, digits: int = 2) -> str:
    """Return a figure with a fixed count of decimals, or a dash where there is none."""
    return "-" if value is None else f"{value + 0.0:.{digits}f}"


def ohm_words(ohm: float) -> str:
    """Return a resistance with three figures, in ohm, kilohm or megohm."""
    for size, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if ohm >= size:
            return f"{ohm / size:.3g} {unit}"
    return f"{ohm:.3g} ohm"


def span(limits: Sequence[float], digits: int = 2) -> str:
    """Return two limits as ``low to high``."""
    return f"{number(limits[0], digits)} to {number(limits[1], digits)}"


def finish_words(report: dict[str, Any]) -> str:
    """Return the coats of a build and where they go as a sentence."""
    finish = report["finish"]
    coats = ", ".join(f"{c['name']} {number(c['thickness_mm'], 3)}" for c in finish["coats"])
    total = sum(c["thickness_mm"] for c in finish["coats"])
    sides = " and ".join(name for name in ("outside", "inside") if finish[name])
    masked = "" if finish["masked"] else " Nothing is masked off."
    return f"Finish ({sides}), mm per surface: {coats}; {number(total, 3)} in all.{masked}"


def count_of(count: int, what: str) -> str:
    """Return a count with its noun, in the plural where needed."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def fits_worst_first(report: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the fits: failed first, and within a verdict the one nearest to its limits first."""

    def badness(fit: dict[str, Any]) -> tuple[int, float, str]:
        low, high = fit["required_mm"]
        return (
            VERDICTS.index(fit["verdict"]),
            min(fit["as_printed_mm"] - low, high - fit["as_printed_mm"]),
            fit["id"],
        )

    return sorted(report["fits"], key=badness)


def fit_rows(report: dict[str, Any]) -> Rows:
    """Return one row of words per fit, worst first, to go with `FIT_HEADINGS`; clearances are per side."""
    return [
        (
            f["verdict"],
            f["id"],
            " / ".join(f["between"]),
            f["fit_class"],
            span(f["required_mm"]),
            number(f["planned_mm"], 3),
            number(f["measured_mm"], 3),
            number(f["as_printed_mm"], 3),
            span(f["worst_case_mm"]),
            share_words(f["yield"]).removesuffix(" of prints fit"),
        )
        for f in fits_worst_first(report)
    ]


def headline(report: dict[str, Any]) -> str:
    """Return the verdict in one sentence, with how many findings of each level there are."""
    levels = [f["level"] for f in report["findings"]]
    counts = ", ".join(count_of(levels.count(level), level) for level in ("error", "warning", "note"))
    return (
        f"{report['build']}: {report['verdict'].upper()} ({count_of(len(report['fits']), 'fit')}; {counts})"
    )


def calibration(report: dict[str, Any]) -> str:
    """Return who compensates for the printer, and what the fits rest on."""
    who = f"Printer: {report['compensation']['text']}."
    if report["calibrated"]:
        return f"{who} Fits are judged on the share of prints that fit."
    return (
        f"{who} Fits rest on planned and measured figures and stay "
        f'"unproven" until the printer is calibrated.'
    )


def share_words(share: float) -> str:
    """Return a share of prints in words, such as ``97 % of prints fit``; all but all is not all.

    Args:
        share: 0 to 1.
    """
    percent = round(100 * share)
    if percent == 100 and share < 0.9995:
        return "over 99 % of prints fit"
    if percent == 0 and share > 0.0005:
        return "under 1 % of prints fit"
    return f"{percent} % of prints fit"


def remedy_words(remedy: dict[str, Any] | None) -> str | None:
    """Return a remedy in words: what to change, where, and whether the program has tried it."""
    if remedy is None:
        return None
    key = f" (key {remedy['key']})" if remedy["key"] else ""
    return f"{remedy['text']}{key}{', tried: passes' if remedy['tried'] else ''}"


def play_rows(report: dict[str, Any]) -> Rows:
    """Return one row of words per seated part and direction: part, direction, planned, measured."""
    return [
        (p["part"], direction_words(p["direction"]), number(p["planned_mm"], 3), number(p["measured_mm"], 3))
        for p in report["plays"]
    ]


def direction_words(direction: Sequence[float]) -> str:
    """Return a direction in words: ``in`` and ``out`` along the axis, else a clock angle."""
    x, y, z = direction
    if abs(z) > 0.999:
        return "in (+z)" if z > 0 else "out (-z)"
    clock = f"clock {math.degrees(math.atan2(y, x)) % 360.0:.0f}"
    return clock if abs(z) < 1e-3 else f"{clock}, along {z:+.2f}"


_UNITS = {
    "mm": "mm", "mm2": "mm2", "mm3": "mm3", "cm2": "cm2", "cm3": "cm3", "deg": "degrees", "g": "g", "n": "N",
    "v": "V", "a": "A", "hz": "Hz", "percent": "%",
}  # fmt: skip


def fact_words(name: str, value: float) -> str:
    """Return a section's named figure, such as ``back volume 12.4 cm3`` from ``back_volume_cm3``.

    Args:
        name: words joined by underscores, the unit last where it is known.
        value: the figure.
    """
    words, unit = _unit_of(name)
    return f"{words} {value:g}{f' {unit}' if unit else ''}"


def _unit_of(name: str) -> tuple[str, str]:
    words = name.split("_")
    unit = _UNITS.get(words[-1]) if len(words) > 1 else None
    return " ".join(words[:-1] if unit else words), unit or ""
