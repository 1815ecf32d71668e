"""Running the command line inside the test's own process or in a fresh one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from chassis_gen.cli.main import run

REPOSITORY = Path(__file__).parents[2]
PROGRAM = [sys.executable, "-c", "from chassis_gen.cli.main import main; main()"]


@dataclass(frozen=True)
class Ran:
    """What a run left: exit status, standard output and standard error."""

    status: int
    out: str
    err: str

    @property
    def document(self) -> Any:
        """Return the one JSON document of standard output."""
        return json.loads(self.out)


def ran(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> Ran:
    """Run the command line in this process."""
    capsys.readouterr()
    status = run([str(a) for a in arguments])
    captured = capsys.readouterr()
    return Ran(status, captured.out, captured.err)


def process(*arguments: str | Path, program: list[str] | None = None, **environment: str) -> Ran:
    """Run the command line in a fresh process, as an installed command would."""
    done = subprocess.run(
        [*(program or PROGRAM), *map(str, arguments)],
        capture_output=True,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY), **environment},
        check=False,
        timeout=60,
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())
