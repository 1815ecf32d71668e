"""Noting a test fit: from what was seen to a term of a dimension's sum, and what that moves in the plan."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.params.quantities import Quantity
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import Loaded, load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.planner import plan_build
from chassis_gen.plan.sums import CORRECTION, FINISH, FIT_CLEARANCE, PRINTER, TEST_FIT, Dimension
from chassis_gen.problems import InputError, Problem, nearest_name, quoted
from chassis_gen.trial.changes import Changes, changes
from chassis_gen.trial.kept import missing
from chassis_gen.trial.log import (
    LARGEST,
    EntryRow,
    PrintRow,
    Said,
    Side,
    TrialLog,
    append,
    log_path,
    read_log,
    term_label,
)
from chassis_gen.trial.revisions import Past, Revision, past_of, recorded
from chassis_gen.trial.rows import locked
from chassis_gen.trial.then import Then, as_drawn

DECIMALS = 4
"""Terms are rounded to 0.1 um, far below what a caliper shows."""

_LENGTH = Quantity("mm", -2000.0, 2000.0)
_SIDES: tuple[tuple[str, Side], ...] = (
    ("inner dimension", "inner"),
    ("outer dimension", "outer"),
    ("standing hole", "standing_hole"),
    ("lying hole", "lying_hole"),
)
_MM_PER_INCH = 25.4


class Seen(Struct, frozen=True):
    """What a maker saw.

    Args:
        said: what.
        amount: mm: how tight or loose it was on the whole dimension, or the dimension as measured.
        why: in words.
        print: number of the print that it was seen on, or None for the newest one of the piece.
        piece: name of the piece, or empty.
        photo: file name of a photo, or empty.
    """

    said: Said
    amount: float | None
    why: str
    print: int | None = None
    piece: str = ""
    photo: str = ""


class Noted(Struct, frozen=True):
    """What became of a note.

    Args:
        build: name of the build.
        file: the trial log.
        entry: the new row.
        changes: what it moves.
        before: revision that it was noted on.
        after: revision that it leads to; the same where nothing moves.
        remarks: what else the maker should know, one sentence each.
        fails: True when the plan has errors now that it did not have before.
    """

    build: str
    file: str
    entry: EntryRow
    changes: Changes
    before: int
    after: int
    remarks: tuple[str, ...] = ()

    @property
    def fails(self) -> bool:
        """Return True when the plan has errors now that it did not have before."""
        return any(f.level == "error" for f in self.changes.new_findings)


class Bench(Struct, frozen=True):
    """A build with its trial log locked: what noting works on.

    Args:
        workspace: where it lies.
        path: its parameter file.
        loaded: its files.
        plan: its plan; remedies are not tried.
        log: its trial log.
        revision: as it is now, written down.
        past: its revisions.
    """

    workspace: Workspace
    path: Path
    loaded: Loaded
    plan: ChassisPlan
    log: TrialLog
    revision: Revision
    past: Past


def planned(loaded: Loaded) -> ChassisPlan:
    """Return a build's plan without trying remedies, which a comparison has no use for.

    Args:
        loaded: the build.

    Raises:
        InputError: when the files contradict each other.
    """
    return plan_build(loaded.inputs, loaded.kinds)


def bench(workspace: Workspace, build: str, today: datetime.date) -> Bench:
    """Return a build ready for a note; the caller holds the lock of its trial log.

    Args:
        workspace: where it lies.
        build: its name or path.
        today: date of a new revision.

    Raises:
        InputError: when the build can't be planned as it is.
    """
    path = workspace.build_file(build)
    loaded = load_build(workspace, build)
    plan = planned(loaded)
    revision = recorded(loaded, plan, path, today)
    log = read_log(log_path(path), workspace.root)
    return Bench(workspace, path, loaded, plan, log, revision, past_of(path, workspace.root))


def note(workspace: Workspace, build: str, dimension: str, seen: Seen, today: datetime.date) -> Noted:
    """Append what a test fit showed of a dimension, and return what moves.

    Args:
        workspace: where the build lies.
        build: its name or path.
        dimension: name of the dimension.
        seen: what was seen.
        today: date of the entry.

    Raises:
        InputError: when the note makes no sense or the build can't be planned with it; nothing is noted then.
    """
    with locked(log_path(workspace.build_file(build))):
        at = bench(workspace, build, today)
        entry, remarks = _entry(at, dimension, seen, today)
        return _appended(at, entry, remarks, today)


def take_back(workspace: Workspace, build: str, number: int, why: str, today: datetime.date) -> Noted:
    """Append an entry that takes back an earlier one, and return what moves.

    Args:
        workspace: where the build lies.
        build: its name or path.
        number: of the entry to take back.
        why: in words; may be empty.
        today: date of the entry.

    Raises:
        InputError: when there is no such entry or it is taken back already.
    """
    with locked(log_path(workspace.build_file(build))):
        at = bench(workspace, build, today)
        entry = cancelling(at.log, number, at.revision.number, why or f"takes back entry {number}", today)
        return _appended(at, entry, (), today)


def cancelling(log: TrialLog, number: int, revision: int, why: str, today: datetime.date) -> EntryRow:
    """Return the entry that takes back an earlier one.

    Args:
        log: the trial log.
        number: of the entry to take back.
        revision: of the build now.
        why: in words.
        today: date of the entry.

    Raises:
        InputError: when there is no such entry or it is taken back already.
    """
    active = [e.number for e in log.active()]
    if number not in active:
        there = any(e.number == number for e in log.entries)
        message = (
            "the entry is taken back already, or its print is marked bad"
            if there
            else "there is no such entry"
        )
        allowed = ", ".join(map(str, active)) or "none: the log has no entry in effect"
        raise InputError(
            [Problem("unknown-name", message, log.file, key="--undo", value=str(number), allowed=allowed)]
        )
    old = next(e for e in log.entries if e.number == number)
    return EntryRow(
        number=log.next_entry,
        date=today,
        revision=revision,
        dimension=old.dimension,
        said="undo",
        side=old.side,
        piece=old.piece,
        cancels=number,
        reason=why,
    )


def reject_print(workspace: Workspace, build: str, number: int, why: str, today: datetime.date) -> Noted:
    """Append an entry that marks a print as bad: nothing that was seen on it counts any more.

    Args:
        workspace: where the build lies.
        build: its name or path.
        number: of the print.
        why: what is wrong with it.
        today: date of the entry.

    Raises:
        InputError: when there is no such print.
    """
    with locked(log_path(workspace.build_file(build))):
        at = bench(workspace, build, today)
        row = _print_numbered(at.log, number)
        entry = EntryRow(
            number=at.log.next_entry,
            date=today,
            revision=at.revision.number,
            print=number,
            said="bad print",
            piece=row.piece,
            reason=why,
        )
        return _appended(at, entry, (), today)


class Printed(Struct, frozen=True):
    """What is known of a print that is to be logged.

    Args:
        piece: name of the piece; may be empty where the build has only one.
        lot: material lot.
        slicer_file: name of the slicer settings' file.
        slicer_sha256: its SHA-256.
        orientation: how it lay on the bed.
        notes: anything else.
    """

    piece: str = ""
    lot: str = ""
    slicer_file: str = ""
    slicer_sha256: str = ""
    orientation: str = ""
    notes: str = ""


def log_print(workspace: Workspace, build: str, printed: Printed, today: datetime.date) -> PrintRow:
    """Append a print of the build as it is now, and return its row.

    Args:
        workspace: where the build lies.
        build: its name or path.
        printed: what is known of the print.
        today: its date.

    Raises:
        InputError: when the build has no such piece, or several and none is named.
    """
    path = log_path(workspace.build_file(build))
    with locked(path):
        at = bench(workspace, build, today)
        names = [p.name for p in at.plan.pieces]
        piece = printed.piece or (names[0] if len(names) == 1 else "")
        if not names:
            message = "no piece can be made of the build as it is, so that none can have been printed"
            allowed = f"mend first what `chassis-gen check {quoted(at.plan.build)}` says"
            raise InputError([Problem("not-allowed", message, allowed=allowed)])
        if not piece:
            message = f"the build has {len(names)} pieces, and which one was printed isn't said"
            raise InputError([Problem("missing-key", message, key="--piece", allowed=", ".join(names))])
        if piece not in names:
            raise InputError([_unknown("piece", piece, names, "--piece")])
        row = PrintRow(
            number=at.log.next_print,
            date=today,
            revision=at.revision.number,
            piece=piece,
            lot=printed.lot,
            slicer_file=printed.slicer_file,
            slicer_sha256=printed.slicer_sha256,
            orientation=printed.orientation,
            notes=printed.notes,
        )
        append(path, "print", row)
        return row


def side_of(dimension: Dimension) -> Side:
    """Return what kind of dimension a labelled sum is: by its printer's term, else by its clearance's sign.

    A press fit's clearance is negative on an inner dimension, so the printer's term goes first.

    Args:
        dimension: the sum.
    """
    source = next((t.source for t in dimension.terms if t.label == PRINTER), "")
    for words, side in _SIDES:
        if source.startswith(words):
            return side
    clearance = 0.0 if source else dimension.term(FIT_CLEARANCE)
    if clearance == 0.0:
        return "other"
    return "inner" if clearance > 0 else "outer"


def length(text: str, key: str) -> float:
    """Return a length from the command line, mm: a plain number, or a number with a unit.

    Args:
        text: such as ``18.3`` or ``0.72 in``.
        key: the option, for the error.

    Raises:
        InputError: when it is neither.
    """
    from pydantic_core import PydanticCustomError

    try:
        value = float(text)
        if math.isfinite(value):
            return value
    except ValueError:
        pass
    try:
        return _LENGTH.read(text)
    except PydanticCustomError:
        allowed = f"{_LENGTH.wanted}"
        raise InputError(
            [Problem("bad-number", "this is no length", key=key, value=f'"{text}"', allowed=allowed)]
        ) from None


def _appended(at: Bench, entry: EntryRow, remarks: tuple[str, ...], today: datetime.date) -> Noted:
    """Append an entry after the plan with it has stood, and return what moves."""
    log = replace(at.log, entries=(*at.log.entries, entry))
    trial = replace(at.loaded, inputs=replace(at.loaded.inputs, trial=log.terms(), bases=log.bases()))
    try:
        after = planned(trial)
    except InputError as error:
        message = f"with a term of {entry.value:+g} mm the build can't be laid out; nothing is noted"
        raise InputError([Problem("not-allowed", message, key=entry.dimension), *error.problems]) from None
    _check_effect(entry, after)
    append(log_path(at.path), "entry", entry)
    revision = recorded(load_build(at.workspace, str(at.path)), after, at.path, today)
    moved = changes(at.plan, after)
    remarks = (*remarks, *missing(revision.binaries))
    return Noted(at.plan.build, at.log.file, entry, moved, at.revision.number, revision.number, remarks)


def _check_effect(entry: EntryRow, plan: ChassisPlan) -> None:
    if entry.value == 0.0:
        return
    reason = next(
        (f for f in plan.findings if f.code == "trial-dimension" and f.where == entry.dimension), None
    )
    if reason is not None:
        allowed = reason.remedy.text if reason.remedy else None
        raise InputError([Problem("not-allowed", reason.message, key=entry.dimension, allowed=allowed)])


def _entry(at: Bench, name: str, seen: Seen, today: datetime.date) -> tuple[EntryRow, tuple[str, ...]]:
    dimension = at.plan.dimensions.get(name)
    if dimension is None:
        raise InputError([_unknown("dimension", name, at.plan.dimensions, "DIMENSION")])
    print_row = _print_numbered(at.log, seen.print) if seen.print else _newest_print(at, name, seen.piece)
    piece = seen.piece or (print_row.piece if print_row else "")
    names = [p.name for p in at.plan.pieces]
    if piece and piece not in names:
        raise InputError([_unknown("piece", piece, names, "--piece")])
    side = side_of(dimension)
    then = Then(dimension)
    if seen.said in ("tight", "loose"):
        then = as_drawn(dimension, print_row, at.log, at.past, at.revision, at.loaded, planned)
    value, remarks = _value(at, dimension, side, seen, print_row, then)
    adds = term_label(seen.said)
    row = EntryRow(
        number=at.log.next_entry,
        date=today,
        revision=at.revision.number,
        print=print_row.number if print_row else None,
        dimension=name,
        said=seen.said,
        side=side,
        term=adds,
        value=value,
        compensation=_compensation(dimension, seen.said) if adds else None,
        printer=(at.loaded.inputs.build.build.printer or "") if adds else "",
        reading=seen.amount if seen.said == "measured" else None,
        piece=piece,
        photo=seen.photo,
        reason=seen.why,
    )
    return row, remarks


def _compensation(dimension: Dimension, said: Said) -> float:
    """Return what is made up for on a print, mm: a reading is of the print alone, a fit of the pair."""
    made_up = dimension.printer_made_up if said == "measured" else dimension.pair_made_up
    return round(made_up, DECIMALS) + 0.0


def _value(
    at: Bench, dimension: Dimension, side: Side, seen: Seen, print_row: PrintRow | None, then: Then
) -> tuple[float, tuple[str, ...]]:
    """Return what an entry adds to the drawn dimension, mm, and remarks on it."""
    if seen.said == "good":
        return 0.0, ()
    assert seen.amount is not None
    if seen.said == "measured":
        return _correction(at, dimension, seen.amount, print_row)
    if side == "other":
        message = f"{dimension.name} is no dimension of a fit, so that tight and loose have no direction"
        raise InputError(
            [Problem("not-allowed", message, key=f"--{seen.said}", allowed="--measured or --good")]
        )
    if not 0.0 < seen.amount <= LARGEST:
        allowed = f"0 < mm <= {LARGEST:g}, on the whole dimension"
        message = "the amount is out of range"
        raise InputError(
            [
                Problem(
                    "out-of-range", message, key=f"--{seen.said}", value=f"{seen.amount:g}", allowed=allowed
                )
            ]
        )
    # more room: a wider inner dimension or a narrower outer one
    more = 1.0 if seen.said == "tight" else -1.0
    asked = seen.amount * (-more if side == "outer" else more)
    value = round(asked + then.beyond(dimension), DECIMALS) + 0.0
    if abs(value) > LARGEST:
        message = f"beyond what the printer's term makes up for by now, the term would be {value:+.3f} mm"
        allowed = f"within {LARGEST:g} mm"
        raise InputError([Problem("out-of-range", message, key=f"--{seen.said}", allowed=allowed)])
    return value, then.remarks(dimension, asked, value)


def _correction(
    at: Bench, dimension: Dimension, measured: float, print_row: PrintRow | None
) -> tuple[float, tuple[str, ...]]:
    """Return what makes up for the difference between a measured dimension and what was expected of its print.

    What was drawn for that print less what was measured is what printing and coating took away; the sum's
    printer, finish and correction terms make up for a part of it already.
    """
    drawn = dimension.total
    if print_row is not None:
        then = {r.number: r.drawn for r in at.past.revisions}.get(print_row.revision, {})
        drawn = then.get(dimension.name, drawn)
    made_up = dimension.term(PRINTER) + dimension.term(FINISH) + dimension.term(CORRECTION)
    expected = drawn - made_up
    value = round(expected - measured, DECIMALS)
    if abs(value) > LARGEST:
        inches = abs(measured * _MM_PER_INCH - expected) <= LARGEST
        hint = f"; {measured:g} in would be {measured * _MM_PER_INCH:g} mm" if inches else ""
        message = f"{dimension.name} was expected {expected:.3f} mm as printed, {abs(value):.3f} mm from this reading{hint}"
        allowed = f"within {LARGEST:g} mm of what is expected"
        raise InputError(
            [Problem("out-of-range", message, key="--measured", value=f"{measured:g}", allowed=allowed)]
        )
    remarks = [
        f"expected as printed: {expected:.3f} mm; measured: {measured:.3f} mm; the sum takes {value:+.3f} mm"
    ]
    wishes = [e for e in at.log.readings() if e.dimension == dimension.name and e.term == TEST_FIT]
    for e in wishes:
        remarks.append(
            f"entry {e.number} ({e.said}, {e.value:+g} mm) still acts on it: if this reading explains what was felt, "
            f"take it back with --undo {e.number}"
        )
    return value, tuple(remarks)


def _newest_print(at: Bench, dimension: str, piece: str) -> PrintRow | None:
    """Return the newest good print of the piece that a dimension belongs to, or None when that is not certain."""
    bad = {e.print for e in at.log.active() if e.said == "bad print"}
    sections = sorted(
        (s for s in at.plan.sections if dimension.startswith(f"{s.name}.")), key=lambda s: len(s.name)
    )
    if piece:
        names = {piece}
    elif sections:
        names = {sections[-1].piece, *(e.name for e in sections[-1].extra_pieces)}
    else:
        names = {p.name for p in at.plan.pieces if p.owner is None}
    found = [p for p in at.log.prints if p.piece in names and p.number not in bad]
    return found[-1] if found and len({p.piece for p in found}) == 1 else None


def _print_numbered(log: TrialLog, number: int) -> PrintRow:
    found = log.print_numbered(number)
    if found is None:
        known = ", ".join(str(p.number) for p in log.prints) or "none yet: log one with `trial print`"
        raise InputError(
            [Problem("unknown-name", "there is no such print", log.file, value=str(number), allowed=known)]
        )
    return found


def _unknown(what: str, name: str, known: Mapping[str, object] | list[str], key: str) -> Problem:
    nearest = nearest_name(name, known)
    allowed = ", ".join(known) if len(known) < 20 else "a name that `chassis-gen why BUILD` lists"
    return Problem(
        "unknown-name",
        f"the build has no such {what}",
        key=key,
        value=f'"{name}"',
        allowed=allowed,
        nearest=nearest,
    )
