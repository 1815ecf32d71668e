"""What a batch is asked for, what a worker is given, and what it gives back: plain data that can be sent."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct, field

from chassis_gen.batch.changing import PieceChange
from chassis_gen.output.current import Before
from chassis_gen.problems import Problem

Verdict = Literal["pass", "fail", "bad-input"]
Overrides = tuple[tuple[str, str | int | float | bool | None], ...]


class Target(Struct, frozen=True):
    """One build that a batch is asked for.

    Args:
        build: a folder name under ``profiles/`` or a path to a parameter file.
        name: name of its folder under ``out/``.
        overrides: values set in the file's data, by dotted key.
    """

    build: str
    name: str
    overrides: Overrides = ()


class Task(Struct, frozen=True):
    """What a worker needs to make one build.

    Args:
        target: the build.
        root: the workspace folder.
        files: content of the maker's files by name for a worker that can't see the workspace, else None.
        before: what its folder holds now.
        chord: chord tolerance of meshes, mm.
        cache: the cache's folder, or None to use none.
        writes: False for a dry run: meshes and checks only, and nothing is kept.
        core: number of the core that the worker is to stay on, or None.
        trusted: True when code that builds bring along may run.
        exact: True to make exact solids (STEP), too.
    """

    target: Target
    root: str
    files: Mapping[str, bytes] | None
    before: Before
    chord: float
    cache: str | None
    writes: bool
    core: int | None = None
    trusted: bool = False
    exact: bool = True


class Made(Struct, frozen=True):
    """What a worker gives back.

    Args:
        verdict: ``pass`` or ``fail``; ``bad-input`` where it couldn't be planned or made.
        current: True when the folder is up to date as it is.
        files: content of each file of the folder by name; empty where nothing is to be written.
        counts: findings by level.
        pieces: what changed, piece by piece.
        inputs: hash of each file that was read.
        absent: files that were looked for and not there.
        problems: what is wrong with the input.
        code: hash of the program that made it.
    """

    verdict: Verdict
    current: bool = False
    files: Mapping[str, bytes] = field(default_factory=dict)
    counts: Mapping[str, int] = field(default_factory=dict)
    pieces: tuple[PieceChange, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)
    absent: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    code: str = ""


class Outcome(Struct, frozen=True):
    """What became of one build.

    Args:
        build: its name, or what it was asked for as.
        verdict: ``pass`` or ``fail`` by its report, ``bad-input`` where it could not be planned or written.
        before: verdict of the report that was there before, or None.
        unchanged: True when its folder was up to date and nothing was done.
        changed: generated files that are new, gone or different now, sorted; manifest apart. A dry run
            makes none and names none.
        pieces: what changed, piece by piece.
        counts: findings by level.
        problems: what is wrong with the input.
    """

    build: str
    verdict: Verdict
    before: str | None = None
    unchanged: bool = False
    changed: tuple[str, ...] = ()
    pieces: tuple[PieceChange, ...] = ()
    counts: Mapping[str, int] | None = None
    problems: tuple[Problem, ...] = ()
