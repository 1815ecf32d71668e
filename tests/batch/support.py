"""Workspaces of tiny builds: two end plates, a bay and a cell, each in a bore of its own so that no solids are shared."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from chassis_gen.batch.run import Way, run_batch, targets
from chassis_gen.batch.task import Outcome
from chassis_gen.params.workspace import Workspace

CHORD = 0.05

TINY = """\
[build]
title = "{name}"
material = "PETG"

[tube]
chassis_end = {end}

[[tube.segment]]
length = {length}
bores = [{{ from_mouth = 0, diameter = {bore} }}]

[[section]]
kind = "end_plate"
name = "near plate"

[[section]]
kind = "lead_bay"
name = "bay"
{cell}
[[section]]
kind = "end_plate"
name = "far plate"

[[adjustment]]
dimension = "bay.rail_thickness"
add = 0.1
why = "thin"

[bearing]
fit = "slide"
"""

CELL = """
[[section]]
kind = "cell_cradle"
name = "cell"
part = "{part}"

[[section]]
kind = "lead_bay"
name = "rear bay"
length = 12
"""


def text(name: str, bore: float = 40.0, part: str = "") -> str:
    """Return a tiny build's parameter file, with a cell cradle if a part is named."""
    cell = CELL.format(part=part) if part else ""
    return TINY.format(name=name, bore=bore, end=130 if part else 60, length=150 if part else 80, cell=cell)


def workspace(root: Path, builds: Mapping[str, str]) -> Workspace:
    """Return a workspace of builds, given as name to parameter file."""
    for name, content in builds.items():
        folder = root / "profiles" / name
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "build.toml").write_text(content, "utf-8")
    return Workspace(root)


def silent(done: int, of: int, last: str) -> None:
    """Say nothing."""


def batch(where: Workspace, *builds: str, **way: object) -> dict[str, Outcome]:
    """Run a batch of some builds, or of all, in this process if nothing else is asked for."""
    asked = targets(where, builds or where.builds())
    done = run_batch(where, asked, Way(CHORD, **way), silent)  # type: ignore[arg-type]
    return {o.build: o for o in done}


def files(where: Workspace) -> dict[str, bytes]:
    """Return all generated files of a workspace by name, the cache apart."""
    out = where.root / "out"
    found = (p for p in out.rglob("*") if p.is_file() and ".cache" not in p.parts)
    return {p.relative_to(out).as_posix(): p.read_bytes() for p in found}


def times(where: Workspace) -> dict[str, int]:
    """Return when each generated file was last written, ns."""
    out = where.root / "out"
    return {name: os.stat(out / name).st_mtime_ns for name in files(where)}
