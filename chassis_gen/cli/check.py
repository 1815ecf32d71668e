"""``chassis-gen check``: plan, solids and all checks in memory."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.outcome import CHORD, TRUST, status_of
from chassis_gen.cli.session import Session, json_option
from chassis_gen.cli.text import terminal_width

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult


@click.command("check")
@click.argument("build")
@CHORD
@TRUST
@json_option
@click.pass_obj
def command(session: Session, build: str, chord: float) -> int:
    """Plan, make and measure a build in memory; write nothing.

    BUILD is a folder name under profiles/ or a path to a parameter file.
    """
    from chassis_gen.output.human import summary_text
    from chassis_gen.output.stl import with_written_meshes
    from chassis_gen.output.summary import summary_json
    from chassis_gen.pipeline import check_build, load_build

    with session.progress() as progress:
        checked, _ = with_written_meshes(check_build(load_build(session.workspace, build), chord, progress))
        report = _report(checked) if session.wants_json else summary_json(checked, {})
    session.show(report, lambda: summary_text(report, terminal_width()))
    return status_of(report)


def _report(checked: CheckResult) -> dict[str, Any]:
    from chassis_gen.output.report import report_json

    return report_json(checked, {}, None, False)
