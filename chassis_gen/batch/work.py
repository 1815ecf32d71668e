"""What a worker does: one build from its files to the content of its folder; only the cache is written to.

Whoever gave the task puts the folder in place. So a worker that is killed leaves no output behind, and one on
another machine needs none of the maker's disk.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from chassis_gen.batch.task import Made, Task
from chassis_gen.cache.code import package_code
from chassis_gen.cache.store import NOTHING, Keeper, Store
from chassis_gen.problems import InputError, Problem, quoted

if TYPE_CHECKING:
    from chassis_gen.pipeline import Loaded

# The exact kernel's settings hold for the whole process, and some clusters run several threads in one.
_ONE_AT_A_TIME = threading.Lock()


def made(task: Task) -> Made:
    """Return what became of one build.

    Args:
        task: see `Task`.
    """
    if task.core is not None:
        _stay_on(task.core)
    with _ONE_AT_A_TIME:
        try:
            with _loaded(task) as loaded:
                done = _made(task, loaded)
        except InputError as error:
            done = Made("bad-input", problems=error.problems)
        except Exception as error:
            done = Made("bad-input", problems=(_fault(task, error),))
    return replace(done, code=package_code())


def _fault(task: Task, error: Exception) -> Problem:
    """Return a fault of the program itself as a problem of this build, so that the others are still made."""
    what = f"{type(error).__name__}: {' '.join(str(error).split())[:200]}"
    message = f"this is a fault of chassis-gen itself, not of your files: {what}"
    return Problem(
        "program-fault", message, allowed=f"chassis-gen check {quoted(task.target.build)} says more"
    )


def _made(task: Task, loaded: Loaded) -> Made:
    from chassis_gen.batch.changing import piece_changes
    from chassis_gen.output.current import is_current, planned_manifest, same_making
    from chassis_gen.output.manifest import sha256
    from chassis_gen.pipeline import OVERRIDES
    from chassis_gen.plan.planner import plan_build

    inputs = {name: sha256(data) for name, data in loaded.contents.items() if name != OVERRIDES}
    absent = tuple(name for name in loaded.looked_for if name not in inputs)
    plan = plan_build(loaded.inputs, loaded.kinds)
    now = planned_manifest(task.before, plan, loaded.contents, task.chord)
    if is_current(task.before, now, task.exact):
        report = task.before.report
        return Made(report["verdict"], True, counts=_counts(report), inputs=inputs, absent=absent)
    pieces = piece_changes(task.before, plan, now["recipes"], not same_making(task.before, now, task.exact))
    files, report = _files(task, loaded)
    return Made(report["verdict"], False, files, _counts(report), pieces, inputs, absent)


def _files(task: Task, loaded: Loaded) -> tuple[dict[str, bytes], dict[str, Any]]:
    from chassis_gen.output.folder import build_files
    from chassis_gen.pipeline import check_build

    keeper: Keeper = NOTHING
    if task.cache is not None:
        keeper = Store(Path(task.cache), read_only=not task.writes)
    result = check_build(loaded, task.chord, keeper=keeper)
    files = build_files(
        result,
        step=task.writes and task.exact,
        png=False,
        progress=lambda _: None,
        inputs=loaded.contents,
        keeper=keeper,
    )
    if isinstance(keeper, Store):
        keeper.trim()
    return dict(files.files) if task.writes else {}, files.report


@contextlib.contextmanager
def _loaded(task: Task) -> Iterator[Loaded]:
    """Give the build's files, read from the workspace or from those that came with the task."""
    from chassis_gen.params.workspace import Workspace
    from chassis_gen.pipeline import load_build

    target, overrides = task.target, dict(task.target.overrides)
    if task.files is None:
        yield load_build(Workspace(Path(task.root), task.trusted), target.build, overrides, target.name)
        return
    with tempfile.TemporaryDirectory() as folder:
        for name, data in task.files.items():
            path = Path(folder).joinpath(*PurePosixPath(name).parts)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        own = str(Path(folder, target.build))
        yield load_build(Workspace(Path(folder), task.trusted), own, overrides, target.name)


def _counts(report: dict[str, Any] | Any) -> dict[str, int]:
    levels = [f["level"] for f in report["findings"]]
    return {level: levels.count(level) for level in ("error", "warning", "note")}


def _stay_on(core: int) -> None:
    """Keep this process on one core, where the system can; the mesh kernel then runs in one thread.

    It only ever happens in a worker of our own, whose threads start later.
    """
    with contextlib.suppress(AttributeError, OSError):
        allowed = sorted(os.sched_getaffinity(0))
        if len(allowed) > 1:
            os.sched_setaffinity(0, {allowed[core % len(allowed)]})
