"""The command ``chassis-gen``: which commands there are, and what becomes of errors.

A command's module is imported when the command runs, so that ``--help`` answers at once.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TextIO

import click

from chassis_gen import __version__
from chassis_gen.cli.session import BAD_INPUT, PASS, Session, json_option, json_text
from chassis_gen.problems import InputError, Problem, nearest_name, printable
from chassis_gen.records import as_data

BUG, INTERRUPTED, BROKEN_PIPE = 70, 130, 141
"""Exit statuses: EX_SOFTWARE of sysexits.h; 128 + SIGINT and 128 + SIGPIPE as shells count them."""

TRACE = "CHASSIS_GEN_TRACE"
"""Environment variable that asks for a traceback when the program itself is at fault."""

COMMANDS: dict[str, str] = {
    "new": "Write a commented parameter file to start from.",
    "check": "Plan, make and measure a build in memory; write nothing.",
    "build": "The same, and write pieces, solids and report.",
    "batch": "Build what changed, and say what changed.",
    "cache": "Show how large the cache of solids is, or clear it.",
    "why": "Print one dimension's labelled sum.",
    "trial": "Keep the test-fit log: prints, what was tight, and what follows.",
    "printer": "Measure a printer: gauge, calibration, and what it can make.",
    "parts": "List the bought parts that are known, show one, or take a new one in.",
    "threads": "List the screw threads that are known, or show one.",
    "sections": "List the section kinds, or print one's reference page.",
    "tubes": "List the tubes that are known, show one, or measure one.",
}


class LazyGroup(click.Group):
    """A group that knows its commands' names and one-line helps without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the commands in the order in which a maker needs them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, importing its module."""
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(f"chassis_gen.cli.{cmd_name}").command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command that the arguments begin with.

        Raises:
            InputError: with the nearest command for a misspelt one.
        """
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            nearest = nearest_name(name, COMMANDS)
            raise InputError([_usage("there is no such command", f'"{name}"', ", ".join(COMMANDS), nearest)])
        return super().resolve_command(ctx, args)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--workspace",
    metavar="DIR",
    type=click.Path(path_type=Path),
    default=Path(),
    help="Folder that holds profiles/ and out/ (default: here).",
)
@json_option
@click.version_option(__version__, prog_name="chassis-gen", message="%(prog)s %(version)s")
@click.pass_context
def cli(ctx: click.Context, workspace: Path) -> None:
    """Lay out, check and write printed chassis for hand-held light and sound props in round tubes.

    A BUILD is a folder name under profiles/ or a path to a parameter file.
    Exit status: 0 all well; 1 the design fails a check; 2 bad input, nothing written.
    """
    session = ctx.find_object(Session)
    assert session is not None
    if not _is_folder(workspace):
        raise InputError(
            [Problem("missing-file", "there is no such folder", key="--workspace", value=f'"{workspace}"')]
        )
    session.root = workspace


def run(arguments: Sequence[str]) -> int:
    """Run the command line and return its exit status.

    Args:
        arguments: without the program's name.
    """
    options = arguments[: arguments.index("--")] if "--" in arguments else arguments
    session = Session("--json" in options)
    try:
        with _readable_output():
            if not session.wants_json:
                return _outcome(arguments, session)
            with contextlib.redirect_stdout(sys.stderr):
                status = _outcome(arguments, session)
            document = session.document
            click.echo(json_text({"status": "ok"} if document is None else document))
            return status
    except BrokenPipeError:
        _abandon_output()
        return BROKEN_PIPE


def main() -> None:
    """Run the command line of this process."""
    # A command makes plain data that lives as long as it runs: looking for cycles often, and at the end again and
    # again, costs a sixth of the time of `check`; looking for plugins of pydantic a hundredth.
    gc.set_threshold(1_000_000)
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    status = run(sys.argv[1:])
    if "cadquery" in sys.modules:
        # Exact solids leave meshes in cycles, of which the mesh kernel complains when the interpreter ends.
        gc.collect()
    gc.freeze()
    sys.exit(status)


def _outcome(arguments: Sequence[str], session: Session) -> int:
    """Run a command; every error becomes a line for people, a document for programs and a status."""
    try:
        # not cli.main, which ends a broken pipe with status 1, here the status of a failed check
        with cli.make_context("chassis-gen", list(arguments), obj=session) as context:
            status = cli.invoke(context)
        return status if isinstance(status, int) else PASS
    except click.exceptions.Exit as end:
        return end.exit_code
    except BrokenPipeError:
        raise
    except InputError as error:
        return _bad_input(session, error.problems)
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        session.document = _document([_usage("the command is missing", None, ", ".join(COMMANDS))])
        return BAD_INPUT
    except click.UsageError as error:
        status = _bad_input(session, [_usage_problem(error)])
        if error.ctx is not None:
            click.echo(f"See {error.ctx.command_path} --help.", err=True)
        return status
    except KeyboardInterrupt:
        session.document = {"status": "interrupted"}
        click.echo("interrupted", err=True)
        return INTERRUPTED
    except OSError as error:
        return _bad_input(session, [_system_problem(error)])
    except Exception as error:
        return _bug(session, error)


def _bad_input(session: Session, problems: Iterable[Problem]) -> int:
    found = tuple(problems)
    session.document = _document(found)
    for problem in found:
        click.echo(problem.text(), err=True)
    return BAD_INPUT


def _document(problems: Iterable[Problem]) -> dict[str, object]:
    return {"status": "bad-input", "problems": [as_data(p) for p in problems]}


def _bug(session: Session, error: Exception) -> int:
    """Report a fault of the program itself."""
    kind, text = type(error).__name__, " ".join(str(error).split())[:200]
    session.document = {"status": "bug", "type": kind, "message": text}
    click.echo(
        f"This is a fault of chassis-gen itself, not of your files: {kind}: {printable(text)}", err=True
    )
    if os.environ.get(TRACE):
        import traceback

        click.echo(traceback.format_exc(), err=True)
    else:
        click.echo(f"Please report it, with the parameter file and what {TRACE}=1 adds to this.", err=True)
    return BUG


def _usage(
    message: str, value: str | None = None, allowed: str | None = None, nearest: str | None = None
) -> Problem:
    return Problem("usage", message, value=value, allowed=allowed, nearest=nearest)


def _usage_problem(error: click.UsageError) -> Problem:
    """Return what is wrong with the arguments, in the program's own form."""
    if isinstance(error, click.NoSuchOption):
        nearest = next(iter(error.possibilities or ()), None)
        return _usage("there is no such option", f'"{error.option_name}"', nearest=nearest)
    return _usage(" ".join(error.format_message().split()))


def _system_problem(error: OSError) -> Problem:
    name = os.fsdecode(error.filename) if isinstance(error.filename, (str, bytes)) else None
    return Problem("system", f"the system refuses ({error.strerror or error})", name)


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


@contextlib.contextmanager
def _readable_output() -> Iterator[None]:
    """Write characters that a terminal lacks as escapes, and write everything out at the end."""
    for stream in _streams():
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="backslashreplace")  # type: ignore[attr-defined]
    yield
    for stream in _streams():
        stream.flush()


def _streams() -> tuple[TextIO, ...]:
    return tuple(s for s in (sys.stdout, sys.stderr) if s is not None)


def _abandon_output() -> None:
    """Turn output that nobody reads any more to nowhere, so that the interpreter can close it in peace."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for stream in _streams():
        try:
            stream.flush()
        except OSError:
            with contextlib.suppress(OSError, ValueError):
                os.dup2(nowhere, stream.fileno())
    os.close(nowhere)


if __name__ == "__main__":
    main()
