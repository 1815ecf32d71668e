"""Noting a part's real size once for all builds, and what that moves in each build that seats the part."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct

from chassis_gen.params.reading import read_model
from chassis_gen.params.workspace import Workspace
from chassis_gen.parts.catalogue import find_part, overridden
from chassis_gen.parts.model import Measure, Part
from chassis_gen.parts.partfile import PartFile
from chassis_gen.pipeline import load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.trial import trial_rule
from chassis_gen.trial.bench import planned
from chassis_gen.trial.changes import Changes, changes
from chassis_gen.trial.rows import locked
from chassis_gen.trial.sizes import SIZES_FILE, SizeReading, append_size, read_sizes


class SizesNoted(Struct, frozen=True):
    """What became of readings of a part.

    Args:
        file: where they are kept.
        part: name of the part.
        rows: the new rows.
        builds: what moves in every build that seats the part, by build name.
        problems: builds that can't be planned with it, or could not before.
    """

    file: str
    part: str
    rows: tuple[SizeReading, ...]
    builds: Mapping[str, Changes]
    problems: Mapping[str, tuple[Problem, ...]]

    @property
    def fails(self) -> bool:
        """Return True when a build has errors now that it did not have, or can't be planned."""
        new = (f for c in self.builds.values() for f in c.new_findings)
        return bool(self.problems) or any(f.level == "error" for f in new)


def note_sizes(
    workspace: Workspace, part: str, sizes: Mapping[str, float], why: str, today: datetime.date
) -> SizesNoted:
    """Append real sizes of a part for all builds, and return what moves in each that seats it.

    Args:
        workspace: whose builds.
        part: name of the part.
        sizes: measured values by size name, mm.
        why: how and on which they were measured.
        today: date of the readings.

    Raises:
        InputError: when there is no such part or it refuses a size.
    """
    path = workspace.root / "profiles" / SIZES_FILE
    path.parent.mkdir(exist_ok=True)
    with locked(path):
        before = read_sizes(path, workspace.root)
        known = find_part(part, _own_parts(workspace))
        tolerance = trial_rule("caliper_tolerance").value
        overridden(known, {n: Measure(v, tolerance, why) for n, v in sizes.items()})
        rows = tuple(
            SizeReading(
                number=before.next_number + i,
                date=today,
                part=known.name,
                size=n,
                value=v,
                tolerance=tolerance,
                why=why,
            )
            for i, (n, v) in enumerate(sizes.items())
        )
        return _with_rows(workspace, path, known.name, rows)


def take_back_size(
    workspace: Workspace, part: str, number: int, why: str, today: datetime.date
) -> SizesNoted:
    """Append a row that takes back an earlier reading of a part, and return what moves.

    Args:
        workspace: whose builds.
        part: name of the part.
        number: of the reading.
        why: in words; may be empty.
        today: date of the row.

    Raises:
        InputError: when there is no such reading of that part.
    """
    path = workspace.root / "profiles" / SIZES_FILE
    path.parent.mkdir(exist_ok=True)
    with locked(path):
        before = read_sizes(path, workspace.root)
        known = find_part(part, _own_parts(workspace))
        numbers = [r.number for r in before.readings if r.part == known.name]
        if number not in numbers:
            allowed = ", ".join(map(str, numbers)) or "none"
            message = f'there is no such reading of "{known.name}"'
            raise InputError(
                [
                    Problem(
                        "unknown-name", message, before.file, key="--undo", value=str(number), allowed=allowed
                    )
                ]
            )
        row = SizeReading(
            number=before.next_number,
            date=today,
            part=known.name,
            cancels=number,
            why=why or f"takes back reading {number}",
        )
        return _with_rows(workspace, path, known.name, (row,))


def _own_parts(workspace: Workspace) -> dict[str, Part]:
    found = {}
    for name in workspace.names("parts"):
        found[name] = read_model(workspace.shared_file("parts", name), PartFile, workspace.root).part(name)
    return found


def _with_rows(workspace: Workspace, path: Path, part: str, rows: tuple[SizeReading, ...]) -> SizesNoted:
    problems: dict[str, tuple[Problem, ...]] = {}
    before = _plans(workspace, problems)
    for row in rows:
        append_size(path, row)
    after = _plans(workspace, problems)
    seating = [b for b, plan in after.items() if b in before and any(p.part.name == part for p in plan.parts)]
    moved = {b: changes(before[b], after[b]) for b in seating}
    file = path.relative_to(workspace.root).as_posix()
    return SizesNoted(file, part, rows, moved, problems)


def _plans(workspace: Workspace, problems: dict[str, tuple[Problem, ...]]) -> dict[str, ChassisPlan]:
    found = {}
    for build in workspace.builds():
        try:
            found[build] = planned(load_build(workspace, build))
        except InputError as error:
            problems[build] = error.problems
    return found
