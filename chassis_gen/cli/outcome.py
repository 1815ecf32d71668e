"""What the commands that make a build have in common: the chord option and the exit status."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import click

from chassis_gen.cli.session import FAIL, PASS, Session

FINEST, COARSEST, USUAL = 0.001, 0.5, 0.01
"""Chord tolerances of meshes, mm; the usual one is `chassis_gen.pipeline.DEFAULT_CHORD`."""


def _chord(ctx: click.Context, param: click.Parameter, value: str | float) -> float:
    """Return the chord tolerance; anything else, not-a-number included, is a usage error."""
    try:
        number = float(value)
    except ValueError:
        number = float("nan")
    # a comparison with not-a-number is never true
    if FINEST <= number <= COARSEST:
        return number
    text = f'"{value}" is no chord tolerance; allowed: {FINEST:g} <= mm <= {COARSEST:g}'
    raise click.BadParameter(text, ctx, param)


CHORD = click.option(
    "--chord",
    metavar="MM",
    default=USUAL,
    type=click.UNPROCESSED,
    callback=_chord,
    help=f"How far a mesh may lie from the true surface (default: {USUAL:g} mm).",
)


def _trust(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    """Take over that a build's own code may run."""
    session = ctx.find_object(Session)
    if value and session is not None:
        session.trusted = True


TRUST = click.option(
    "--trust",
    is_flag=True,
    expose_value=False,
    callback=_trust,
    help="Run the Python files that a build brings along ([extend]); read them first.",
)

NO_CACHE = click.option(
    "--no-cache", "cached", flag_value=False, default=True, help="Make every solid anew and keep none."
)


def status_of(report: Mapping[str, Any]) -> int:
    """Return the exit status for a fit report."""
    return PASS if report["verdict"] == "pass" else FAIL
