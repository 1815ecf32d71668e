"""The fit report for a maker to read or print: `fit-report.md`, which also reads well as plain text."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from chassis_gen.output.electrics import electrics_markdown
from chassis_gen.output.harness_words import (
    CUT_HEADINGS,
    JOINT_HEADINGS,
    TOTAL_HEADINGS,
    connector_lines,
    cut_rows,
    failure_count,
    failure_lines,
    joint_rows,
    route_lines,
    spare_words,
    total_rows,
)
from chassis_gen.output.words import (
    FIT_HEADINGS,
    calibration,
    fact_words,
    finish_words,
    fit_rows,
    headline,
    number,
    play_rows,
    remedy_words,
    span,
)

Rows = Sequence[Sequence[str]]


def report_markdown(report: dict[str, Any]) -> str:
    """Return a report as Markdown.

    Args:
        report: what `chassis_gen.output.report.report_json` made.
    """
    blocks = [
        f"# Fit report: {report['title']}",
        headline(report),
        calibration(report),
        *_block("Findings, worst first", _findings(report)),
        *_block("Fits, worst first", _fits(report)),
        *_block("Play of the seated parts", _plays(report)),
        *_block("Pieces", _pieces(report)),
        *_block("Sections", _sections(report)),
        *_block("Surface work", _surfaces(report)),
        *_block("Lettering", _lettering(report)),
        *_block("Finish", _finish(report)),
        *_harness(report),
        *_block("Electrics", electrics_markdown(report["electrics"], aligned)),
        *_block("Hardware to buy", _hardware(report)),
        *_block("Both kernels compared", _agreement(report)),
        *_block("Cautions", "\n\n".join(f"**{c['title']}.** {c['text']}" for c in report["cautions"])),
    ]
    return "\n\n".join(blocks) + "\n"


def cut_list_markdown(report: dict[str, Any]) -> str:
    """Return the cut list of a report as Markdown, with the cautions for soldering.

    Args:
        report: what `chassis_gen.output.report.report_json` made.
    """
    shown = [c for c in report["cautions"] if c["topic"] in ("soldering", "lithium_cell", "primary_cell")]
    blocks = [
        f"# Cut list: {report['title']}",
        *_harness(report),
        *_block("Cautions", "\n\n".join(f"**{c['title']}.** {c['text']}" for c in shown)),
    ]
    return "\n\n".join(blocks) + "\n"


def aligned(headings: Sequence[str], rows: Rows) -> str:
    """Return a Markdown table whose columns also line up as plain text.

    Args:
        headings: one per column.
        rows: the cells; a bar or a line end in one is made harmless.
    """
    lines = [[_cell(c) for c in line] for line in (headings, *rows)]
    widths = [max(3, *(len(line[i]) for line in lines)) for i in range(len(headings))]
    shown = [
        "| " + " | ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)) + " |" for line in lines
    ]
    rule = "| " + " | ".join("-" * w for w in widths) + " |"
    return "\n".join([shown[0], rule, *shown[1:]])


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "/").split())


def _block(title: str, body: str) -> tuple[str, ...]:
    return (f"## {title}", body) if body else ()


def _findings(report: dict[str, Any]) -> str:
    return "\n".join(_finding(f) for f in report["findings"]) or "None."


def _finding(finding: dict[str, Any]) -> str:
    line = f"- **{finding['level']}** `{finding['code']}` {finding['where']}: {finding['message']}"
    remedy = remedy_words(finding["remedy"])
    return f"{line}\n  Remedy: {remedy}" if remedy else line


def _fits(report: dict[str, Any]) -> str:
    if not report["fits"]:
        return ""
    return f"Clearances are per side, mm.\n\n{aligned(FIT_HEADINGS, fit_rows(report))}"


def _plays(report: dict[str, Any]) -> str:
    if not report["plays"]:
        return ""
    note = (
        "How far each part moves before it touches, mm, measured on the solids; a dash: nothing is promised."
    )
    return f"{note}\n\n{aligned(('part', 'direction', 'planned', 'measured'), play_rows(report))}"


def _pieces(report: dict[str, Any]) -> str:
    if not report["pieces"]:
        return "None could be made."
    rows = [
        (
            p["name"],
            number(p["volume_mm3"] / 1000, 2),
            number(p["mass_g"], 1),
            " x ".join(number(b - a, 1) for a, b in zip(*p["bounds_mm"], strict=True)),
            "yes" if p["watertight"] else "NO",
            ", ".join(p["files"]) or "-",
        )
        for p in report["pieces"]
    ]
    headings = ("piece", "volume, cm3", "mass, g", "size x y z, mm", "watertight", "files")
    return f"{report['material']['name']}, printed solid.\n\n{aligned(headings, rows)}"


def _sections(report: dict[str, Any]) -> str:
    rows = [
        (
            s["name"],
            s["kind"].replace("_", " "),
            span((s["z0"], s["z1"])),
            "; ".join(fact_words(k, v) for k, v in s["facts"].items()) or "-",
        )
        for s in report["sections"]
    ]
    return aligned(("section", "kind", "stations, mm", "figures"), rows) if rows else ""


def _lettering(report: dict[str, Any]) -> str:
    rows = [
        (
            t["text"],
            t["piece"],
            t["face"],
            t["style"],
            number(t["station"], 1),
            number(t["clock_deg"], 0),
            number(t["size_mm"], 1),
            number(t["depth_mm"], 2),
            number(t["thinnest_stroke_mm"], 2),
            number(t["narrowest_gap_mm"], 2),
        )
        for t in report["lettering"]
    ]
    headings = ("text", "piece", "face", "style", "station", "clock", "size", "depth", "stroke", "gap")
    return aligned(headings, rows) if rows else ""


def _finish(report: dict[str, Any]) -> str:
    if not report["finish"]["coats"]:
        return ""
    rows = [
        (m["what"], m["section"], span((m["z0"], m["z1"]), 1), number(m["size_mm"], 2))
        for m in report["finish"]["masked"]
    ]
    said = finish_words(report)
    headings = ("mask off", "section", "stations, mm", "size, mm")
    return f"{said}\n\n{aligned(headings, rows)}" if rows else said


def _surfaces(report: dict[str, Any]) -> str:
    rows = [
        (
            s["name"],
            f"{s['pattern']}, through" if s["through"] else s["pattern"],
            s["section"],
            number(s["depth_mm"], 2),
            str(s["cells"]),
            str(s["left_out"]),
        )
        for s in report["surfaces"]
    ]
    headings = ("name", "pattern", "section", "depth, mm", "cells", "left out for want of room")
    return aligned(headings, rows) if rows else ""


def _harness(report: dict[str, Any]) -> tuple[str, ...]:
    return (
        *_block("Wires to cut", _wires(report)),
        *_block("Wire to buy", _table(TOTAL_HEADINGS, total_rows(report), spare_words(report))),
        *_block("Joints", _table(JOINT_HEADINGS, joint_rows(report), *connector_lines(report))),
        *_block("Where it may fail, worst first", _failures(report)),
    )


def _wires(report: dict[str, Any]) -> str:
    lost = [f"**No path:** {w['id']}, from {w['from']} to {w['to']}." for w in report["unrouted"]]
    cuts = _table(CUT_HEADINGS, cut_rows(report), "\n".join(route_lines(report)))
    return "\n\n".join([*lost, *([cuts] if cuts else [])])


def _failures(report: dict[str, Any]) -> str:
    lines = failure_lines(report)
    return "\n".join([*lines, "", failure_count(report)]) if lines else ""


def _table(headings: Sequence[str], rows: Rows, *below: str) -> str:
    """Return a table with what goes below it, or nothing where it has no rows."""
    return "\n\n".join([aligned(headings, rows), *(b for b in below if b)]) if rows else ""


def _hardware(report: dict[str, Any]) -> str:
    rows = [(str(h["count"]), h["item"], h["where"]) for h in report["hardware"]]
    return aligned(("count", "item", "where"), rows) if rows else ""


def _agreement(report: dict[str, Any]) -> str:
    rows = [
        (a["of"], a["name"], "agree" if a["ok"] else "DIFFER", f"{len(a['figures'])}")
        for a in report["agreement"]
    ]
    return aligned(("of", "name", "mesh and exact solid", "figures compared"), rows) if rows else ""
