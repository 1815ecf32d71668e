"""``chassis-gen batch``: build what changed."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.outcome import CHORD
from chassis_gen.cli.session import BAD_INPUT, FAIL, PASS, Session, json_option
from chassis_gen.cli.text import table, terminal_width

if TYPE_CHECKING:
    from chassis_gen.batch import Outcome

STATUS = {"pass": PASS, "fail": FAIL, "bad-input": BAD_INPUT}


@click.command("batch")
@click.argument("builds", metavar="[BUILD...]", nargs=-1)
@CHORD
@json_option
@click.pass_obj
def command(session: Session, builds: tuple[str, ...], chord: float) -> int:
    """Build what changed, and say what changed.

    Without BUILD, all builds of the workspace. A build whose input and output are those of its last run
    is left alone, and one that fails stops no other. The exit status is that of the worst.
    """
    from chassis_gen.batch import run_batch
    from chassis_gen.problems import InputError, Problem

    names = builds or session.workspace.builds()
    if not names:
        raise InputError(
            [Problem("unknown-name", "there is no build in profiles/", allowed="chassis-gen new NAME")]
        )
    with session.progress() as progress:
        outcomes = run_batch(session.workspace, names, chord, progress)
    for problem in (p for o in outcomes for p in o.problems):
        click.echo(problem.text(), err=True)
    worst = max((o.verdict for o in outcomes), key=STATUS.__getitem__)
    session.show({"status": worst, "builds": [_document(o) for o in outcomes]}, lambda: _text(outcomes))
    return STATUS[worst]


def _document(outcome: Outcome) -> dict[str, Any]:
    return {
        **asdict(outcome),
        "changed": list(outcome.changed),
        "problems": [asdict(p) for p in outcome.problems],
    }


def _text(outcomes: tuple[Outcome, ...]) -> str:
    rows = [(o.build, o.verdict, _findings(o), _changes(o)) for o in outcomes]
    return table(("build", "verdict", "findings", "what changed"), rows, terminal_width())


def _findings(outcome: Outcome) -> str:
    if outcome.counts is None:
        return f"{len(outcome.problems)} problems"
    shown = [f"{n} {level}{'s' if n > 1 else ''}" for level, n in outcome.counts.items() if n]
    return ", ".join(shown) or "none"


def _changes(outcome: Outcome) -> str:
    if outcome.problems:
        return "nothing written"
    if outcome.unchanged:
        return "unchanged"
    return ", ".join(outcome.changed) or "rebuilt to the same files"
