"""A build on the bench: planned, its trial log locked, its revision written down."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import Loaded, load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.planner import plan_build
from chassis_gen.problems import Problem, nearest_name
from chassis_gen.trial.log import TrialLog, log_path, read_log
from chassis_gen.trial.revisions import Past, Revision, past_of, recorded


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


def unknown(what: str, name: str, known: Mapping[str, object] | list[str], key: str) -> Problem:
    """Return the problem of a name that the build doesn't have.

    Args:
        what: is named, such as ``piece``.
        name: as given.
        known: the names that there are.
        key: the option or argument that it was given by.
    """
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
