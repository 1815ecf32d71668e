"""``chassis-gen batch``: build what changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.outcome import CHORD, NO_CACHE, TRUST
from chassis_gen.cli.session import BAD_INPUT, FAIL, PASS, Session, json_option
from chassis_gen.cli.text import table, terminal_width
from chassis_gen.records import as_data

if TYPE_CHECKING:
    from chassis_gen.batch.changing import DimensionChange, PieceChange
    from chassis_gen.batch.run import Progress
    from chassis_gen.batch.task import Outcome

STATUS = {"pass": PASS, "fail": FAIL, "bad-input": BAD_INPUT}
MOST_SHOWN = 6
"""How many changed dimensions of a piece the table shows; --json has all."""


@click.command("batch")
@click.argument("builds", metavar="[BUILD...]", nargs=-1)
@click.option("--no-step", is_flag=True, help="Leave out the exact solids (STEP), which take longest.")
@click.option("--dry-run", is_flag=True, help="Plan and check, say what would change, write nothing.")
@click.option(
    "--jobs",
    metavar="N",
    type=click.IntRange(1, 256),
    default=None,
    help="Worker processes (default: one per core).",
)
@click.option(
    "--pin/--no-pin", default=True, help="Keep each worker process on a core of its own (default: yes)."
)
@click.option(
    "--cluster", metavar="ADDRESS", default=None, help="Work on a cluster: its scheduler's address."
)
@click.option(
    "--matrix",
    metavar="FILE",
    type=click.Path(path_type=Path),
    default=None,
    help="Make one BUILD for each row of a table of overrides (CSV or TOML).",
)
@NO_CACHE
@CHORD
@TRUST
@json_option
@click.pass_obj
def command(
    session: Session,
    builds: tuple[str, ...],
    no_step: bool,
    dry_run: bool,
    jobs: int | None,
    pin: bool,
    cluster: str | None,
    matrix: Path | None,
    cached: bool,
    chord: float,
) -> int:
    """Build what changed, and say what changed.

    Without BUILD, all builds of the workspace. A build whose input and output are those of its last run
    is left alone, and one that fails stops no other. The exit status is that of the worst.

    With --matrix, the rows go to out/<build>-<row>/. The first column is the row's name, the others are
    keys of the parameter file, such as section[3].part, counted from 0. What the build's trial log shows
    counts for every row.
    """
    from chassis_gen.batch.run import Way, run_batch, targets
    from chassis_gen.problems import InputError, Problem

    names = builds or session.workspace.builds()
    if not names:
        raise InputError(
            [Problem("unknown-name", "there is no build in profiles/", allowed="chassis-gen new NAME")]
        )
    way = Way(chord, jobs or _usual_jobs(), pin, cluster, cached, dry_run, not no_step)
    with _progress(session) as progress:
        if matrix is None:
            outcomes = run_batch(session.workspace, targets(session.workspace, names), way, progress)
        else:
            outcomes = _of_matrix(session, builds, matrix, way, progress)
    for problem in (p for o in outcomes for p in o.problems):
        click.echo(problem.text(), err=True)
    worst = max((o.verdict for o in outcomes), key=STATUS.__getitem__)
    document = {"status": worst, "dry_run": dry_run, "builds": [_document(o) for o in outcomes]}
    session.show(document, lambda: _text(outcomes))
    return STATUS[worst]


def _of_matrix(
    session: Session, builds: Sequence[str], path: Path, way: Any, progress: Progress
) -> tuple[Outcome, ...]:
    from chassis_gen.batch.matrix import read_matrix
    from chassis_gen.batch.run import run_batch
    from chassis_gen.problems import InputError, Problem

    if len(builds) != 1:
        message = "a table of overrides goes with one build"
        raise InputError([Problem("usage", message, key="--matrix", allowed="batch BUILD --matrix FILE")])
    found = read_matrix(path, session.root)
    rows = found.targets(session.workspace, builds[0])
    outcomes = run_batch(session.workspace, rows, way, progress)
    return tuple(found.placed(o, n) for n, o in enumerate(outcomes))


def _usual_jobs() -> int:
    from chassis_gen.batch.spread import usual_jobs

    return usual_jobs()


@contextmanager
def _progress(session: Session) -> Iterator[Progress]:
    """Yield what shows a bar on a terminal once there is something to make."""
    if not session.shows_progress:
        yield lambda done, of, last: None
        return
    from contextlib import ExitStack

    with ExitStack() as stack:
        shown: list[Any] = []

        def say(done: int, of: int, last: str) -> None:
            if not shown:
                from rich.console import Console
                from rich.progress import Progress as Bar

                bar = stack.enter_context(Bar(console=Console(stderr=True), transient=True))
                shown.extend((bar, bar.add_task("working", total=of)))
            shown[0].update(shown[1], completed=done, description=last or "working")

        yield say


def _document(outcome: Outcome) -> dict[str, Any]:
    return {**as_data(outcome), "changed": list(outcome.changed)}


def _text(outcomes: Sequence[Outcome]) -> str:
    rows = [row for o in outcomes for row in _rows(o)]
    return table(("build", "piece", "verdict", "findings", "what changed"), rows, terminal_width())


def _rows(outcome: Outcome) -> Iterator[tuple[str, ...]]:
    head = (outcome.build, _verdicts(outcome), _findings(outcome))
    if outcome.problems:
        yield head[0], "", *head[1:], "nothing written"
    elif outcome.unchanged:
        yield head[0], "", *head[1:], "unchanged"
    elif not outcome.pieces:
        yield head[0], "", *head[1:], "no dimension and no shape"
    for number, piece in enumerate(outcome.pieces):
        yield (
            (head[0], piece.piece, *head[1:], _changes(piece))
            if not number
            else (
                "",
                piece.piece,
                "",
                "",
                _changes(piece),
            )
        )


def _verdicts(outcome: Outcome) -> str:
    before = outcome.before or "none"
    return outcome.verdict if before == outcome.verdict else f"{before} -> {outcome.verdict}"


def _findings(outcome: Outcome) -> str:
    if outcome.counts is None:
        return f"{len(outcome.problems)} problem{'s' if len(outcome.problems) > 1 else ''}"
    shown = [f"{n} {level}{'s' if n > 1 else ''}" for level, n in outcome.counts.items() if n]
    return ", ".join(shown) or "none"


def _changes(piece: PieceChange) -> str:
    said = [_dimension(d) for d in piece.dimensions[:MOST_SHOWN]]
    more = len(piece.dimensions) - len(said)
    if more:
        said.append(f"and {more} more (--json)")
    if piece.how == "changed":
        return "; ".join(said) or "its shape, by no dimension of its own"
    return f"{piece.how}: {'; '.join(said)}" if said else piece.how


def _dimension(change: DimensionChange) -> str:
    figures = f"{change.name} {_figure(change.old)} -> {_figure(change.new)} {change.unit}"
    terms = [f"{t.label} {_figure(t.old or 0.0)} -> {_figure(t.new or 0.0)}" for t in change.terms]
    known = change.old is not None and change.new is not None
    return f"{figures} ({', '.join(terms)})" if terms and known else figures


def _figure(value: float | None) -> str:
    return "none" if value is None else f"{value:g}"
