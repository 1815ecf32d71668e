"""Small builds in a workspace of their own: end plate, lead bay and a cell cradle, planned in a tenth of a second."""

from __future__ import annotations

import datetime
import os
import subprocess
import sys
from pathlib import Path

from chassis_gen.params.workspace import Workspace

DAY = datetime.date(2026, 3, 4)
REPOSITORY = Path(__file__).parents[2]
SEAT = "cell.seat_diameter"
PRINTER = "# the test printer\nnozzle = 0.4  # brass\nlayer = 0.2\n"
CALIBRATED = """\
nozzle = 0.4
layer = 0.2
[behaviour.inner]
scale = 1.0
offset = -0.12
residual_sd = 0.03
date = 2026-01-02
readings = 12
[behaviour.outer]
scale = 1.0
offset = 0.08
residual_sd = 0.03
date = 2026-01-02
readings = 12
"""
BUILD = """\
[build]
title = "Small"
printer = "p"

[tube]
chassis_offset = 4.0

[[tube.segment]]
length = 200
bores = [{ from_mouth = 0, diameter = 40.0 }]

[[section]]
kind = "end_plate"
name = "near plate"

[[section]]
kind = "lead_bay"
name = "bay"
length = 20

[[section]]
kind = "cell_cradle"
name = "cell"
part = "cell 14500"
"""


def workspace(root: Path, *builds: str, printer: str = PRINTER, text: str = BUILD) -> Workspace:
    """Return a workspace with one printer ``p`` and builds that are all alike."""
    (root / "profiles" / "printers").mkdir(parents=True)
    (root / "profiles" / "printers" / "p.toml").write_text(printer, "utf-8")
    for name in builds:
        (root / "profiles" / name).mkdir()
        (root / "profiles" / name / "build.toml").write_text(text, "utf-8")
    return Workspace(root)


def started(script: str, *arguments: str | Path) -> subprocess.Popen[bytes]:
    """Start a Python script in a process of its own that can import this package."""
    environment = {**os.environ, "PYTHONPATH": str(REPOSITORY)}
    command = [sys.executable, "-c", script, *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, env=environment)
