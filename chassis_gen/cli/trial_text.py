"""The trial log's results in words and as values that JSON has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from chassis_gen.cli.text import paragraph, table, terminal_width
from chassis_gen.output.summary import plain
from chassis_gen.records import as_data

if TYPE_CHECKING:
    from chassis_gen.trial.advice import Advice
    from chassis_gen.trial.carried import Carried
    from chassis_gen.trial.changes import Change, Changes, FitChange
    from chassis_gen.trial.history import History, Step
    from chassis_gen.trial.log import EntryRow, PrintRow
    from chassis_gen.trial.measuring import SizesNoted
    from chassis_gen.trial.noting import Noted
    from chassis_gen.trial.repeats import Repeat, Settled
    from chassis_gen.trial.rescue import PieceSheet, Region
    from chassis_gen.trial.revisions import Revision

Document = dict[str, Any]

MOST_SHOWN = 6
"""Changed dimensions that a line of history names before it counts the rest."""


def noted_json(noted: Noted, repeats: Sequence[Repeat]) -> Document:
    """Return a note as JSON values."""
    return {
        "status": "fail" if noted.fails else "noted",
        "build": noted.build,
        "file": noted.file,
        "entry": entry_json(noted.entry),
        "revision_before": noted.before,
        "revision_after": noted.after,
        "remarks": list(noted.remarks),
        "changes": changes_json(noted.changes),
        "repeats": [repeat_json(r) for r in repeats],
    }


def noted_text(noted: Noted, repeats: Sequence[Repeat]) -> str:
    """Return a note in words."""
    e = noted.entry
    where = f"{noted.file}: entry {e.number}, {entry_words(e)}."
    lines = [where, *noted.remarks]
    if noted.after != noted.before:
        lines.append(f"Revision {noted.before} becomes {noted.after}.")
    parts = ["\n".join(lines), changes_text(noted.changes)]
    return "\n\n".join((*parts, *(_repeat_words(r) for r in repeats)))


def entry_json(entry: EntryRow) -> Document:
    """Return an entry as JSON values."""
    return plain_row(entry.model_dump())


def plain_row(row: Mapping[str, object]) -> Document:
    """Return a row as JSON values; dates become text."""
    found: Document = plain(row)
    return found


def entry_words(e: EntryRow) -> str:
    """Return an entry in words."""
    said = {
        "undo": f"takes back entry {e.cancels}",
        "bad print": f"print {e.print} is bad",
        "measured": f"{e.dimension} measured {e.reading} mm, {e.value:+g} mm",
        "good": f"{e.dimension} is good",
    }.get(e.said, f"{e.dimension} {e.said}, {e.value:+g} mm")
    on = f" on print {e.print}" if e.print and e.said != "bad print" else ""
    return f"{said}{on}{f': {e.reason}' if e.reason else ''}"


def changes_json(changes: Changes) -> Document:
    """Return what moves as JSON values."""
    return {
        "dimensions": [_change(c) for c in changes.dimensions],
        "stations": [_change(c) for c in changes.stations],
        "holes": [_change(c) for c in changes.holes],
        "wires": [_change(c) for c in changes.wires],
        "fits": [plain(as_data(f)) for f in changes.fits],
        "sections": list(changes.sections),
        "pieces": list(changes.pieces),
        "volumes": [_change(c) for c in changes.volumes],
        "new_findings": [_finding(f) for f in changes.new_findings],
        "gone_findings": [_finding(f) for f in changes.gone_findings],
    }


def _change(c: Change) -> Document:
    return {
        "name": c.name,
        "before": plain(c.before),
        "after": plain(c.after),
        "by": plain(c.by),
        "unit": c.unit,
    }


def _finding(f: Any) -> Document:
    return {"level": f.level, "code": f.code, "where": f.where, "message": f.message}


def changes_text(changes: Changes) -> str:
    """Return what moves in words."""
    if changes.nothing:
        return "Nothing moves."
    parts = []
    if changes.sections:
        parts.append(
            f"Sections that change: {', '.join(changes.sections)}. Pieces: {', '.join(changes.pieces) or 'none'}."
        )
    groups = (
        ("dimension", changes.dimensions),
        ("station", changes.stations),
        ("hole", changes.holes),
        ("wire", changes.wires),
        ("piece volume", changes.volumes),
    )
    parts += [_change_table(title, found) for title, found in groups if found]
    if changes.fits:
        header = ("fit", "wanted", "as printed before", "now", "prints that fit", "between")
        rows = [_fit_row(f) for f in changes.fits]
        parts.append(table(header, rows, terminal_width(), right=(1, 2, 3, 4)))
    parts += [f"New: {f.level.upper()} [{f.code}] {f.where}: {f.message}" for f in changes.new_findings]
    parts += [f"Gone: [{f.code}] {f.where}: {f.message}" for f in changes.gone_findings]
    return "\n\n".join(parts)


def _change_table(title: str, found: Sequence[Change]) -> str:
    rows = [(c.name, _number(c.before), _number(c.after), _by(c), c.unit) for c in found]
    return table((title, "before", "now", "by", "unit"), rows, terminal_width(), right=(1, 2, 3))


def _number(value: float | None, digits: int = 3) -> str:
    return "-" if value is None else f"{value:.{digits}f}"


def _by(c: Change) -> str:
    return "" if c.by is None else f"{c.by:+.3f}"


def _fit_row(f: FitChange) -> tuple[str, ...]:
    before, after = f.share
    share = f"{'-' if before is None else f'{100 * before:.0f}'} to {'-' if after is None else f'{100 * after:.0f}'} %"
    wanted = f"{f.required[0]:.2f} to {f.required[1]:.2f}"
    return f.id, wanted, _number(f.as_printed[0]), _number(f.as_printed[1]), share, " / ".join(f.between)


def print_json(row: PrintRow) -> Document:
    """Return a print as JSON values."""
    return {"status": "noted", "print": plain_row(row.model_dump())}


def print_text(row: PrintRow) -> str:
    """Return a print in words."""
    return f"Print {row.number}: {row.piece}, revision {row.revision}, {row.date.isoformat()}. Readings attach to it."


def sizes_json(noted: SizesNoted) -> Document:
    """Return a part's readings as JSON values."""
    return {
        "status": "fail" if noted.fails else "noted",
        "file": noted.file,
        "part": noted.part,
        "readings": [plain_row(r.model_dump()) for r in noted.rows],
        "builds": {b: changes_json(c) for b, c in noted.builds.items()},
        "problems": {b: [as_data(p) for p in ps] for b, ps in noted.problems.items()},
    }


def sizes_text(noted: SizesNoted) -> str:
    """Return a part's readings in words."""
    said = [
        f"reading {r.number} of {noted.part}: "
        + (
            f"{r.size} {r.value:g} +-{r.tolerance:g} mm"
            if r.value is not None
            else f"takes back reading {r.cancels}"
        )
        for r in noted.rows
    ]
    parts = [f"{noted.file}: {'; '.join(said)}."]
    parts += [f"{b}:\n{changes_text(c)}" for b, c in noted.builds.items()]
    if not noted.builds:
        parts.append("No build seats it yet.")
    parts += [f"{b} can't be planned: {ps[0].text()}" for b, ps in noted.problems.items()]
    return "\n\n".join(parts)


def history_json(found: History) -> Document:
    """Return a history as JSON values."""
    return {
        "build": found.build,
        "revisions": [_step_json(s) for s in found.steps],
        "since": [entry_json(e) for e in found.confirmations],
        "taken_back": list(found.cancelled),
        "findings": [_finding(f) for f in found.findings],
    }


def _step_json(step: Step) -> Document:
    return {
        "revision": step.revision,
        "date": step.date.isoformat() if step.date else None,
        "entries": [entry_json(e) for e in step.entries],
        "files": list(step.files),
        "drawn": [_change(c) for c in step.drawn],
        "prints": [plain_row(p.model_dump()) for p in step.prints],
    }


def history_text(found: History) -> str:
    """Return a history in words."""
    gone = set(found.cancelled)
    rows = [
        (str(s.revision or "now"), s.date.isoformat() if s.date else "", _step_words(s, gone))
        for s in found.steps
    ]
    parts = [table(("revision", "date", "what changed and why"), rows, terminal_width())]
    if found.confirmations:
        parts.append("\n".join(f"Since then: {_entry_line(e, gone)}" for e in found.confirmations))
    parts += [f"{f.level.upper()} [{f.code}] {f.where}: {f.message}" for f in found.findings]
    return "\n\n".join(parts)


def _step_words(step: Step, gone: set[int]) -> str:
    said = [_entry_line(e, gone) for e in step.entries]
    said += [f"{name} edited" for name in step.files]
    shown = [f"{c.name} {_number(c.before)} to {_number(c.after)}" for c in step.drawn[:MOST_SHOWN]]
    more = len(step.drawn) - len(shown)
    said += [*shown, *([f"and {more} more dimensions"] if more > 0 else [])]
    said += [f"print {p.number} of {p.piece}{f' ({p.lot})' if p.lot else ''}" for p in step.prints]
    if step.revision is None:
        said.append("not a revision yet: the next note or print makes it one")
    return "; ".join(said) or "first seen"


def _entry_line(e: EntryRow, gone: set[int]) -> str:
    return f"entry {e.number}, {entry_words(e)}{' (taken back)' if e.number in gone else ''}"


def at_json(revision: Revision, to: Path | None) -> Document:
    """Return a revision as JSON values."""
    return {
        "revision": revision.number,
        "date": revision.date.isoformat(),
        "identity": revision.identity,
        "files": dict(revision.files),
        "binaries": {
            name: {"sha256": kept.sha256, "size": kept.size, "kept": kept.there}
            for name, kept in revision.binaries.items()
        },
        "drawn": plain(revision.drawn),
        "written_to": str(to) if to else None,
    }


def at_text(revision: Revision, to: Path | None) -> str:
    """Return a revision in words: its files' text, or where they were written."""
    if to is not None:
        names = ", ".join(revision.names)
        return f"Revision {revision.number} is written to {to}: {names}. Use it with --workspace {to}."
    texts = [f"# ---- {name} ----\n{text.rstrip()}\n" for name, text in revision.files.items()]
    others = [f"# ---- {name}: {kept.size} bytes, no text ----\n" for name, kept in revision.binaries.items()]
    return "\n".join([*texts, *others])


def advice_json(a: Advice) -> Document:
    """Return an advice as JSON values."""
    return {**plain(as_data(a)), "gain": plain(a.gain)}


def advice_text(found: Sequence[Advice]) -> str:
    """Return advices in words, the best first."""
    if not found:
        return "No reading would shrink any fit's spread."
    header = ("yield now", "after", "of its variance", "reading")
    rows = [
        (
            f"{100 * a.before:.1f} %",
            f"{100 * a.after:.1f} %",
            f"{100 * a.variance_share:.0f} %",
            f"{a.what} ({', '.join(a.dimensions)}): {a.command}",
        )
        for a in found
    ]
    return table(header, rows, terminal_width(), right=(0, 1, 2))


def sheet_json(sheet: PieceSheet) -> Document:
    """Return a rework sheet as JSON values."""
    return {
        "piece": sheet.piece,
        "advice": sheet.advice,
        "reasons": list(sheet.reasons),
        "regions": [plain(as_data(r)) for r in sheet.regions],
        "fillings": [
            {
                "dimension": f.dimension,
                "between": list(f.between),
                "too_wide": plain(f.too_wide),
                "tape_layers": f.tape_layers,
                "words": f.words,
                "shim": plain(
                    {
                        "name": f.shim.name,
                        "thickness": f.shim.thickness.total,
                        "width": f.shim.width,
                        "length": f.shim.length,
                        "measured_thickness": f.shim.measured_thickness,
                        "as_printed": f.shim.fit.as_printed,
                        "required": f.shim.fit.required,
                        "yield": f.shim.share,
                        "verdict": f.shim.verdict,
                    }
                )
                if f.shim
                else None,
            }
            for f in sheet.fillings
        ],
        "rework": plain({"mass_g": sheet.rework_mass_g, "time_s": sheet.rework_time_s}),
        "reprint": plain({"mass_g": sheet.reprint_mass_g, "time_s": sheet.reprint_time_s}),
    }


def sheet_text(build: str, since: str, sheets: Sequence[PieceSheet]) -> str:
    """Return a rework sheet in words."""
    head = f"Rework of {build}, printed at revision {since}"
    if not sheets:
        return f"{head}: no piece differs from what is needed now."
    return "\n\n".join((head, *(_piece_text(s) for s in sheets)))


def _piece_text(s: PieceSheet) -> str:
    lines = [f"{s.piece}: {s.advice.upper()}", *(f"  because {r}" for r in s.reasons)]
    parts = ["\n".join(lines)]
    left = sum(r.action == "leave" for r in s.regions)
    shown = [r for r in s.regions if r.action != "leave"]
    if shown:
        header = ("where", "stations", "clock", "radius", "depth", "volume mm3", "how")
        parts.append(table(header, [_region_row(r) for r in shown], terminal_width(), right=(4, 5)))
    if left:
        parts.append(f"Places where it differs and nothing comes near, to be left as they are: {left}.")
    parts += [paragraph(f"- {f.words}", terminal_width()) for f in s.fillings]
    parts.append(
        f"Rework: {s.rework_mass_g:.1f} g printed, about {s.rework_time_s / 60:.0f} min. "
        f"Printing it again: {s.reprint_mass_g:.1f} g, about {s.reprint_time_s / 3600:.1f} h "
        "(printed solid, at a usual rate)."
    )
    return "\n\n".join(parts)


def _region_row(r: Region) -> tuple[str, ...]:
    clock = "all round" if r.clock == (0.0, 360.0) else f"{r.clock[0]:.0f} to {r.clock[1] % 360:.0f}"
    return (
        ", ".join(r.sections),
        f"{r.station[0]:.1f} to {r.station[1]:.1f}",
        clock,
        f"{r.radius[0]:.1f} to {r.radius[1]:.1f}",
        f"{r.depth:.2f}",
        f"{r.volume_mm3:.1f}",
        r.tool,
    )


def repeat_json(r: Repeat) -> Document:
    """Return a repeat as JSON values."""
    return {**plain(as_data(r)), "text": r.text, "command": r.command}


def repeats_text(found: Sequence[Repeat]) -> str:
    """Return repeats in words."""
    return "\n\n".join(_repeat_words(r) for r in found) or "No test fits repeat across builds on one printer."


def _repeat_words(r: Repeat) -> str:
    shown = "\n".join(
        f"  {s.build} {s.dimension}: {s.value:+.3f} mm (entries {', '.join(map(str, s.entries))})"
        for s in r.shown
    )
    return f"Note: {r.text}.\n{shown}\nMove the correction there with: {r.command}"


def settled_json(done: Settled) -> Document:
    """Return what was settled as JSON values."""
    return {
        "status": "settled",
        "printer": done.printer,
        "file": done.file,
        "changed": [{"key": k, "before": plain(b), "after": plain(a)} for k, b, a in done.changed],
        "taken_back": [{"build": b, "entry": n} for b, n in done.taken_back],
        "repeats": [repeat_json(r) for r in done.repeats],
        "test_fits": carried_json(done.carried),
    }


def settled_text(done: Settled) -> str:
    """Return what was settled in words."""
    lines = [f"{done.file}: {k} was {b:g} and is {a:g} now." for k, b, a in done.changed]
    taken = ", ".join(f"{b} {n}" for b, n in done.taken_back)
    return "\n".join(
        (*lines, f"Taken back, each by an entry of its own: {taken}.", *carried_lines(done.carried))
    )


def carried_json(found: Sequence[Carried]) -> list[Document]:
    """Return what became of test fits when a printer's file changed, as JSON values."""
    return [{**plain(as_data(c)), "text": c.text} for c in found]


def carried_lines(found: Sequence[Carried]) -> list[str]:
    """Return what became of test fits when a printer's file changed, one paragraph each."""
    if not found:
        return []
    head = "Test fits that were noted before count for what they asked for beyond the new compensation:"
    return ["", head, *(paragraph(f"- {c.text}", terminal_width()) for c in found)]
