"""What every command shares: the workspace, whether a program reads along, and how to say things."""

from __future__ import annotations

import json
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from msgspec import Struct, field

from chassis_gen.problems import printable

if TYPE_CHECKING:
    from chassis_gen.params.workspace import Workspace

PASS, FAIL, BAD_INPUT = 0, 1, 2
"""Exit statuses: all well; the design fails a check; bad input, nothing written."""

QUIET_TIME = 1.0
"""How long a command may work before it says what it is doing, s."""


class Session(Struct):
    """One run of the command line.

    Args:
        wants_json: True when one JSON document is wanted on standard output.
        root: the workspace folder.
        trusted: True when code that builds bring along may run.
        document: what is printed as JSON when the command has ended.
    """

    wants_json: bool
    root: Path = field(default_factory=Path)
    trusted: bool = False
    document: Any = None

    @property
    def workspace(self) -> Workspace:
        """Return the workspace that the command works in."""
        from chassis_gen.params.workspace import Workspace

        return Workspace(self.root, self.trusted)

    def show(self, document: Any, text: Callable[[], str]) -> None:
        """Give a command's result to whoever reads it.

        Args:
            document: the result as values that JSON has.
            text: makes the result for people; it is printed on standard output, which a run that wants
                JSON has turned to standard error.
        """
        self.document = document
        click.echo(printable(text()))

    @property
    def shows_progress(self) -> bool:
        """Return whether somebody at a terminal is to see what is being done."""
        return not self.wants_json and sys.stderr is not None and sys.stderr.isatty()

    @contextmanager
    def progress(self) -> Iterator[Callable[[str], None]]:
        """Yield a function that is told what is being done.

        It shows one line on a terminal's standard error once a second has passed, and takes it away again.
        """
        if not self.shows_progress:
            yield lambda _: None
            return
        line = _ProgressLine()
        try:
            yield line.say
        finally:
            line.close()


class _ProgressLine:
    """A line on the terminal that appears late and is overwritten in place."""

    def __init__(self) -> None:
        self._started = time.monotonic()
        self._text = "working"
        self._lock = threading.Lock()
        self._closed = False
        self._timer = threading.Timer(QUIET_TIME, self._show)
        self._timer.daemon = True
        self._timer.start()

    def say(self, text: str) -> None:
        """Take over what is being done now."""
        self._text = text
        if time.monotonic() - self._started >= QUIET_TIME:
            self._show()

    def close(self) -> None:
        """Take the line away."""
        self._timer.cancel()
        with self._lock:
            self._closed = True
            if time.monotonic() - self._started >= QUIET_TIME:
                self._write("\r\x1b[K")

    def _show(self) -> None:
        with self._lock:
            if not self._closed:
                self._write(f"\r\x1b[K{printable(self._text)[:70]} ...")

    def _write(self, text: str) -> None:
        sys.stderr.write(text)
        sys.stderr.flush()


def json_text(document: Any) -> str:
    """Return a document as JSON text that any terminal's encoding takes; infinite numbers are refused."""
    return json.dumps(document, indent=2, allow_nan=False)


def json_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--json`` to a command; whether it was given is known before any command is looked at."""
    return click.option(
        "--json", is_flag=True, expose_value=False, help="One JSON document on standard output."
    )(command)
