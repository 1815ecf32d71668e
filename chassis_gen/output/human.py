"""What the terminal shows of a report: fits and findings, worst first, in plain text."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from chassis_gen.output.words import (
    FIT_HEADINGS,
    calibration,
    count_of,
    finish_words,
    fit_rows,
    headline,
    number,
    remedy_words,
    span,
)

GAP = "  "
LEAST_COLUMN = 6
LEAST_WIDTH = 64
# The terminal is narrow: what goes together and its class stand in the files.
_SHOWN = tuple(i for i, h in enumerate(FIT_HEADINGS) if h not in ("between", "class"))


def summary_text(report: dict[str, Any], width: int = 100) -> str:
    """Return a report as text for a terminal.

    Args:
        report: what `chassis_gen.output.report.report_json` made.
        width: columns of the terminal; fewer than 64 are taken as 64.
    """
    width = max(width, LEAST_WIDTH)
    blocks = [
        wrapped(headline(report), width),
        wrapped(calibration(report), width),
        _fits(report, width),
        _findings(report, width),
        _pieces(report, width),
        _finish(report, width),
        _cautions(report, width),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def wrapped(text: str, width: int, first: str = "", rest: str = "") -> str:
    """Return a paragraph broken at a width.

    Args:
        text: the paragraph.
        width: columns.
        first: what stands before its first line.
        rest: what stands before each further line.
    """
    return textwrap.fill(text, width, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> str:
    """Return a table in plain text; cells are broken over lines where the width asks for it.

    Args:
        headings: one per column.
        rows: the cells.
        width: columns of text at most, as far as `LEAST_COLUMN` per column allows.
    """
    widths = [
        max(map(len, (*heading.split(), *(row[i] for row in rows)))) for i, heading in enumerate(headings)
    ]
    while sum(widths) + len(GAP) * (len(widths) - 1) > width and max(widths) > LEAST_COLUMN:
        widths[widths.index(max(widths))] -= 1
    rule = GAP.join("-" * w for w in widths)
    shown = [_broken(line, widths) for line in (headings, *rows)]
    return "\n".join([shown[0], rule, *shown[1:]])


def _broken(cells: Sequence[str], widths: Sequence[int]) -> str:
    columns = [
        textwrap.wrap(c, w, break_on_hyphens=False) or [""] for c, w in zip(cells, widths, strict=True)
    ]
    height = max(map(len, columns))
    padded = [column + [""] * (height - len(column)) for column in columns]
    lines = zip(*padded, strict=True)
    return "\n".join(
        GAP.join(c.ljust(w) for c, w in zip(line, widths, strict=True)).rstrip() for line in lines
    )


def _fits(report: dict[str, Any], width: int) -> str:
    if not report["fits"]:
        return ""
    rows = [[row[i] for i in _SHOWN] for row in fit_rows(report)]
    title = "Fits, worst first (clearance per side, mm):"
    return f"{title}\n{table([FIT_HEADINGS[i] for i in _SHOWN], rows, width)}"


def _findings(report: dict[str, Any], width: int) -> str:
    if not report["findings"]:
        return "Findings: none."
    lines = ["Findings, worst first:"]
    for f in report["findings"]:
        lines.append(
            wrapped(f"{f['level'].upper()} [{f['code']}] {f['where']}: {f['message']}", width, "- ", "  ")
        )
        remedy = remedy_words(f["remedy"])
        if remedy:
            lines.append(wrapped(f"remedy: {remedy}", width, "  ", "    "))
    return "\n".join(lines)


def _pieces(report: dict[str, Any], width: int) -> str:
    if not report["pieces"]:
        return "Pieces: none could be made."
    mass = sum(p["mass_g"] for p in report["pieces"])
    words = "; ".join(f"{p['name']} {number(p['mass_g'], 1)} g" for p in report["pieces"])
    total = f"Pieces ({report['material']['name']}, printed solid, {number(mass, 1)} g in all)"
    routed = report["wires_routed"]
    wires = f" {count_of(routed, 'wire')} routed." if routed else ""
    return wrapped(f"{total}: {words}.{wires}", width)


def _finish(report: dict[str, Any], width: int) -> str:
    if not report["finish"]["coats"]:
        return ""
    lines = [wrapped(finish_words(report), width)]
    for m in report["finish"]["masked"]:
        stations = span((m["z0"], m["z1"]), 1)
        lines.append(wrapped(f"mask off {m['section']}, stations {stations}: {m['what']}", width, "- ", "  "))
    return "\n".join(lines)


def _cautions(report: dict[str, Any], width: int) -> str:
    if not report["cautions"]:
        return ""
    lines = [wrapped(f"{c['title']}: {c['text']}", width, "- ", "  ") for c in report["cautions"]]
    return "\n".join(["Cautions:", *lines])
