"""``chassis-gen threads``: screw threads with the holes, nuts and screws that belong to them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.session import PASS, Session, json_option
from chassis_gen.cli.text import paragraph, table, terminal_width

if TYPE_CHECKING:
    from chassis_gen.tables.drills import Drill
    from chassis_gen.tables.threads import Thread


@click.command("threads")
@click.argument("designation", required=False)
@click.option(
    "--drill", metavar="DRILL", help='Percent of thread that a drill leaves, such as "#29" or "2.5 mm".'
)
@json_option
@click.pass_obj
def command(session: Session, designation: str | None, drill: str | None) -> int:
    """List the screw threads that are known, or show one.

    DESIGNATION is a thread as it is usually written: M3, "M3 x 0.5", 8-32, "#8-32 UNC", 1/4-20.
    """
    from chassis_gen.problems import InputError, Problem
    from chassis_gen.tables.drills import find_drill
    from chassis_gen.tables.threads import all_threads, find_thread, thread_json

    if designation is None:
        if drill is not None:
            problem = Problem("usage", "--drill needs a thread", allowed="threads DESIGNATION --drill DRILL")
            raise InputError([problem])
        known = all_threads()
        session.show({"threads": [thread_json(t) for t in known]}, lambda: _list(known))
        return PASS
    thread = find_thread(designation)
    if drill is None:
        session.show(thread_json(thread), lambda: _one(thread))
        return PASS
    size = find_drill(drill)
    document = _drilled(thread, size)
    session.show(document, lambda: _drill_text(document))
    return PASS


def _list(threads: tuple[Thread, ...]) -> str:
    rows = [
        (
            t.designation,
            t.series,
            f"{t.major_diameter:.3f}",
            f"{t.pitch:.3f}",
            f"{t.tap_drill:.2f}",
            f"{t.clearance.medium:.2f}",
            t.source,
        )
        for t in threads
    ]
    header = ("thread", "series", "major", "pitch", "tap drill", "clearance", "source")
    return (
        table(header, rows, terminal_width(), right=(2, 3, 4, 5))
        + "\n\nLengths in mm; clearance holes medium."
    )


def _one(thread: Thread) -> str:
    from chassis_gen.tables.threads import thread_rows

    width = terminal_width()
    return "\n".join(
        (
            f"{thread.designation} ({thread.series})",
            "",
            table(("what", "value", "source"), thread_rows(thread), width),
            "",
            _drilling_caution(width),
        )
    )


def _drilled(thread: Thread, drill: Drill) -> dict[str, Any]:
    """Return what a drill leaves of a thread, on both bases."""
    from chassis_gen.tables.threads import BASIS_FACTORS, percent_thread, tap_drill_warning

    return {
        "thread": thread.designation,
        "drill": drill.name,
        "diameter_mm": drill.diameter,
        "percent_thread": {b: percent_thread(thread, drill.diameter, b) for b in BASIS_FACTORS},  # type: ignore[arg-type]
        "warning": tap_drill_warning(thread, drill.diameter),
        "source": drill.source,
    }


def _drill_text(document: dict[str, Any]) -> str:
    width = terminal_width()
    rows = [
        (f"{basis} basis", f"{percent:.1f} %", f"(D - drill) / ({basis} P)")
        for basis, percent in document["percent_thread"].items()
    ]
    lines = [
        f"{document['thread']} drilled {document['drill']}"
        f" ({document['diameter_mm']:.3f} mm; {document['source']})",
        "",
        table(("thread left", "value", "source"), rows, width),
    ]
    if document["warning"]:
        lines += ["", paragraph(f"Warning: {document['warning']}", width)]
    return "\n".join((*lines, "", _drilling_caution(width)))


def _drilling_caution(width: int) -> str:
    from chassis_gen.tables.cautions import cautions

    return "\n".join(paragraph(f"{c.title}: {c.text}", width) for c in cautions(["drilling"]))
