"""``chassis-gen build``: check builds and write pieces, solids and report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.outcome import CHORD, NO_CACHE, TRUST, status_of
from chassis_gen.cli.session import Session, json_option
from chassis_gen.cli.text import terminal_width

if TYPE_CHECKING:
    from chassis_gen.output.folder import Written
    from chassis_gen.pipeline import Loaded, Progress


@click.command("build")
@click.argument("builds", metavar="BUILD...", nargs=-1, required=True)
@click.option("--no-step", is_flag=True, help="Leave out the exact solids (STEP), which take longest.")
@click.option(
    "--step-patterns",
    is_flag=True,
    help="Put surface work into the STEP files, too: seconds to minutes more.",
)
@click.option("--png", is_flag=True, help="Draw shaded views and a long section, too.")
@NO_CACHE
@CHORD
@TRUST
@json_option
@click.pass_obj
def command(
    session: Session,
    builds: tuple[str, ...],
    no_step: bool,
    step_patterns: bool,
    png: bool,
    cached: bool,
    chord: float,
) -> int:
    """The same, and write pieces, solids and report.

    Does what check does for each BUILD, and writes to out/<build>/. If the input of any of them is bad,
    nothing is written at all.
    """
    with session.progress() as progress:
        loaded = _loaded(session, builds, progress)
        written = [
            _write(session, one, chord, not no_step, step_patterns, png, cached, progress) for one in loaded
        ]
    for text in dict.fromkeys(w.no_pictures for w in written if w.no_pictures):
        click.echo(text, err=True)
    statuses = [status_of(w.report) for w in written]
    document = {
        "status": "fail" if any(statuses) else "pass",
        "builds": [_document(w) for w in written],
    }
    session.show(document, lambda: "\n\n".join(_text(w) for w in written))
    return max(statuses)


def _loaded(session: Session, builds: Sequence[str], progress: Progress) -> list[Loaded]:
    """Return the builds, every one of them sound; several are planned once before any is written.

    Raises:
        InputError: with the problems of all of them.
    """
    from chassis_gen.pipeline import load_build
    from chassis_gen.plan.planner import plan_build
    from chassis_gen.problems import InputError, Problem

    loaded: list[Loaded] = []
    problems: list[Problem] = []
    for build in builds:
        progress(f"reading {build}")
        try:
            one = load_build(session.workspace, build)
            if len(builds) > 1:
                plan_build(one.inputs, one.kinds)
            if one.inputs.name in [x.inputs.name for x in loaded]:
                message = f"two builds would be written to out/{one.inputs.name}/"
                problems.append(
                    Problem("duplicate-name", message, value=f'"{build}"', allowed="each build once")
                )
            loaded.append(one)
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return loaded


def _write(
    session: Session,
    loaded: Loaded,
    chord: float,
    step: bool,
    step_patterns: bool,
    png: bool,
    cached: bool,
    progress: Progress,
) -> Written:
    from chassis_gen.cache.store import NOTHING, Store
    from chassis_gen.output.folder import write_build
    from chassis_gen.pipeline import check_build

    name = loaded.inputs.name
    folder = session.workspace.out_dir(name)
    store = Store(session.workspace.cache_dir()) if cached else None
    result = check_build(loaded, chord, lambda text: progress(f"{name}: {text}"), store or NOTHING)
    written = write_build(
        result,
        folder,
        step=step,
        png=png,
        progress=lambda text: progress(f"{name}: {text}"),
        inputs=loaded.contents,
        keeper=store or NOTHING,
        step_patterns=step_patterns,
    )
    if store is not None:
        store.trim()
    return written


def _document(written: Written) -> dict[str, Any]:
    return {
        "build": written.report["build"],
        "verdict": written.report["verdict"],
        "folder": f"out/{written.folder.name}",
        "files": list(written.files),
        "no_pictures": written.no_pictures,
        "report": written.report,
    }


def _text(written: Written) -> str:
    from chassis_gen.output.human import summary_text

    summary = summary_text(written.report, terminal_width()).rstrip()
    return f"{summary}\n\nWritten to out/{written.folder.name}/: {len(written.files)} files."
