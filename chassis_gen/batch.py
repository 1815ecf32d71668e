"""Many builds, one after another: what is up to date is left alone, and one that fails stops no other."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from chassis_gen.params.workspace import Workspace
from chassis_gen.problems import InputError, Problem

Progress = Callable[[str], None]
Verdict = Literal["pass", "fail", "bad-input"]


@dataclass(frozen=True)
class Outcome:
    """What became of one build.

    Args:
        build: its name, or what it was asked for as.
        verdict: ``pass`` or ``fail`` by its report, ``bad-input`` where it could not be planned or written.
        unchanged: True when its folder was up to date and nothing was done.
        changed: generated files that are new, gone or different now, sorted; manifest apart.
        counts: findings by level.
        problems: what is wrong with the input.
    """

    build: str
    verdict: Verdict
    unchanged: bool = False
    changed: tuple[str, ...] = ()
    counts: Mapping[str, int] | None = None
    problems: tuple[Problem, ...] = ()


def run_batch(
    workspace: Workspace, builds: Sequence[str], chord: float, progress: Callable[[str], None]
) -> tuple[Outcome, ...]:
    """Return what became of each build, in order.

    Args:
        workspace: where they lie.
        builds: names or paths.
        chord: chord tolerance of meshes, mm.
        progress: told what is being done.
    """
    return tuple(_one(workspace, build, chord, progress) for build in builds)


def _one(workspace: Workspace, build: str, chord: float, progress: Progress) -> Outcome:
    try:
        return _built(workspace, build, chord, lambda text: progress(f"{build}: {text}"))
    except InputError as error:
        return Outcome(build, "bad-input", problems=error.problems)


def _built(workspace: Workspace, build: str, chord: float, progress: Progress) -> Outcome:
    from chassis_gen.output.current import current_report, file_hashes
    from chassis_gen.output.folder import write_build
    from chassis_gen.pipeline import check_build, load_build
    from chassis_gen.plan.planner import plan_build
    from chassis_gen.sections.registry import section_kinds

    loaded = load_build(workspace, build)
    name = loaded.inputs.name
    folder = workspace.out_dir(name)
    report = current_report(plan_build(loaded.inputs, section_kinds()), loaded.files, chord, folder)
    if report is not None:
        return Outcome(name, report["verdict"], unchanged=True, counts=_counts(report))
    before = file_hashes(folder)
    result = check_build(loaded, chord, progress)
    written = write_build(result, folder, step=True, png=False, progress=progress, inputs=loaded.files)
    after = file_hashes(folder)
    changed = sorted(n for n in {*before, *after} if before.get(n) != after.get(n))
    return Outcome(name, written.report["verdict"], False, tuple(changed), _counts(written.report))


def _counts(report: Mapping[str, Any]) -> dict[str, int]:
    levels = [f["level"] for f in report["findings"]]
    return {level: levels.count(level) for level in ("error", "warning", "note")}
