"""Noting a test fit: an entry is appended once the plan with it stands, and what it moves is told."""

from __future__ import annotations

import datetime

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.problems import InputError, Problem
from chassis_gen.trial.bench import Bench, bench, planned
from chassis_gen.trial.changes import Changes, changes
from chassis_gen.trial.kept import missing
from chassis_gen.trial.log import EntryRow, TrialLog, append, log_path
from chassis_gen.trial.prints import print_numbered
from chassis_gen.trial.revisions import recorded
from chassis_gen.trial.rows import locked
from chassis_gen.trial.seen import Seen, entry_of


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
        entry, remarks = entry_of(at, dimension, seen, today)
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
        row = print_numbered(at.log, number)
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
