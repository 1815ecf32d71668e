"""A command that lists or shows by itself and has further commands below it."""

from __future__ import annotations

import sys
from typing import Any

import click

SHOW = "show"


class ShowGroup(click.Group):
    """A group whose first argument may be a name to show instead of a command; without any it lists."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put the hidden command that shows before arguments that name no command."""
        words = [a for a in args if not a.startswith("-")]
        wants_help = any(a in ("--help", "-h") for a in args)
        if not (words and words[0] in self.commands) and not (wants_help and not words):
            args = [SHOW, *args]
        return super().parse_args(ctx, args)

    def format_usage(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the usage with a name or a command."""
        formatter.write_usage(ctx.command_path, "[OPTIONS] [NAME | COMMAND [ARGS]...]")


def prompted(label: str, session_json: bool, **options: Any) -> str | None:
    """Return what a maker types at a terminal, or None where nobody can be asked.

    Args:
        label: what is asked for.
        session_json: True when a program reads along, which can't be asked.
        options: as `click.prompt` takes them.
    """
    if session_json or sys.stdin is None or not sys.stdin.isatty():
        return None
    text: str = click.prompt(label, err=True, default="", show_default=False, **options)
    return text.strip()
