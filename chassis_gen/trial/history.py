"""The history of a build: its revisions, what changed between them, and what was said and printed at each."""

from __future__ import annotations

import datetime
from collections.abc import Callable

from msgspec import Struct

from chassis_gen.findings import Finding
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import DEFAULT_CHORD, Loaded, load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.problems import InputError, Problem
from chassis_gen.trial.bench import planned
from chassis_gen.trial.changes import Change, Changes, changes, figures_changed, pieces_changed
from chassis_gen.trial.log import EntryRow, PrintRow, TrialLog, log_path, read_log
from chassis_gen.trial.rescue import piece_body
from chassis_gen.trial.revisions import Past, Revision, as_revision, files_changed, loaded_at, past_of

NOW = "now"
"""Stands for the build as its files are at this moment, wherever a revision is asked for."""


class Step(Struct, frozen=True):
    """One revision in a build's history.

    Args:
        revision: its number, or None for changes that belong to no revision yet.
        date: when it was first seen, or None.
        entries: what was said of the revision before, and led to this one.
        files: parameter files that changed.
        drawn: drawn dimensions that changed, mm.
        prints: what was printed of it.
    """

    revision: int | None
    date: datetime.date | None
    entries: tuple[EntryRow, ...]
    files: tuple[str, ...]
    drawn: tuple[Change, ...]
    prints: tuple[PrintRow, ...]


class History(Struct, frozen=True):
    """A build's history.

    Args:
        build: its name.
        steps: oldest first.
        confirmations: entries since the newest revision, which moved nothing.
        cancelled: numbers of entries that no longer count.
        findings: what is wrong with the log and the revisions.
    """

    build: str
    steps: tuple[Step, ...]
    confirmations: tuple[EntryRow, ...]
    cancelled: tuple[int, ...]
    findings: tuple[Finding, ...]


def history(workspace: Workspace, build: str) -> History:
    """Return a build's history; nothing is written.

    Args:
        workspace: where it lies.
        build: its name or path.

    Raises:
        InputError: when there is no such build.
    """
    path = workspace.build_file(build)
    log = read_log(log_path(path), workspace.root)
    past = past_of(path, workspace.root)
    pairs = zip((None, *past.revisions[:-1]), past.revisions, strict=True) if past.revisions else ()
    steps = [_step(before, r, log) for before, r in pairs]
    findings = [*log.findings, *past.findings]
    newest = past.last
    try:
        loaded = load_build(workspace, build)
        now = as_revision(loaded, planned(loaded), path, past.next_number, datetime.date.min)
        if newest is None or newest.identity != now.identity:
            drawn = figures_changed(newest.drawn, now.drawn) if newest else ()
            steps.append(Step(None, None, (), files_changed(newest, now), drawn, ()))
    except InputError as error:
        message = f"the build can't be planned as it is now: {error.problems[0].text()}"
        findings.append(Finding("warning", "trial-build", workspace.build_name(path), message))
    kept = {e.number for e in log.active()}
    return History(
        workspace.build_name(path),
        tuple(steps),
        tuple(e for e in log.entries if newest is None or e.revision >= newest.number),
        tuple(e.number for e in log.entries if e.number not in kept),
        tuple(findings),
    )


def _step(before: Revision | None, revision: Revision, log: TrialLog) -> Step:
    return Step(
        revision.number,
        revision.date,
        tuple(e for e in log.entries if before is not None and before.number <= e.revision < revision.number),
        files_changed(before, revision),
        figures_changed(before.drawn, revision.drawn) if before is not None else (),
        tuple(p for p in log.prints if p.revision == revision.number),
    )


def revision_of(workspace: Workspace, build: str, wanted: str) -> Revision:
    """Return a revision by its number as text.

    Args:
        workspace: where the build lies.
        build: its name or path.
        wanted: the number.

    Raises:
        InputError: when there is no such revision.
    """
    past = _past(workspace, build)
    if not wanted.isdecimal():
        allowed = ", ".join([*(str(r.number) for r in past.revisions), NOW])
        raise InputError(
            [Problem("unknown-name", "there is no such revision", value=f'"{wanted}"', allowed=allowed)]
        )
    return past.numbered(int(wanted))


def loaded_of(workspace: Workspace, build: str, wanted: str) -> Loaded:
    """Return a build as it was at a revision, or as it is now.

    Args:
        workspace: where the build lies.
        build: its name or path.
        wanted: a revision's number, or ``now``.

    Raises:
        InputError: when there is no such revision, or its files don't suit this version of the program.
    """
    if wanted == NOW:
        return load_build(workspace, build)
    revision = revision_of(workspace, build, wanted)
    return loaded_at(revision, workspace.build_name(workspace.build_file(build)), workspace.trusted)


def compare(
    workspace: Workspace,
    build: str,
    a: str,
    b: str,
    progress: Callable[[str], None],
    chord: float = DEFAULT_CHORD,
) -> Changes:
    """Return everything that differs between two revisions, volumes of the pieces that differ included.

    Args:
        workspace: where the build lies.
        build: its name or path.
        a: the older revision's number, or ``now``.
        b: the newer one's.
        progress: told what is being done.
        chord: chord tolerance of the solids, mm.

    Raises:
        InputError: when there is no such revision.
    """
    progress("planning")
    before, after = (planned(loaded_of(workspace, build, r)) for r in (a, b))
    names = pieces_changed(before, after)
    progress("making the pieces that differ")
    return changes(before, after, (_volumes(before, names, chord), _volumes(after, names, chord)))


def _volumes(plan: ChassisPlan, names: tuple[str, ...], chord: float) -> dict[str, float]:
    return {p.name: piece_body(p, chord).volume for p in plan.pieces if p.name in names}


def _past(workspace: Workspace, build: str) -> Past:
    return past_of(workspace.build_file(build), workspace.root)
