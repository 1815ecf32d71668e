"""Findings: what a check says of a design, as data that names its remedy."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from msgspec import Struct, field

Level = Literal["error", "warning", "note"]
LEVELS: tuple[Level, ...] = ("error", "warning", "note")


class Remedy(Struct, frozen=True):
    """A change that would make a finding go away.

    Args:
        key: dotted key path in the parameter file, such as ``section[0].cap``.
        value: the value to set.
        text: the same in words.
        tried: True when the program has planned the build with the change and the finding was gone.
    """

    key: str | None
    value: object
    text: str
    tried: bool = False


class Finding(Struct, frozen=True):
    """One result of a check.

    Args:
        level: ``error``, ``warning`` or ``note``.
        code: stable short code, such as ``wall-thin``.
        where: section, part, piece or dimension.
        message: one sentence.
        numbers: named figures, mm unless the name carries the unit.
        remedy: what to change, or None where nothing in the parameter file would help.
        candidates: changes to try, best first; the first that works becomes the remedy.
        blocks_solids: True when no solid can be made of the plan.
    """

    level: Level
    code: str
    where: str
    message: str
    numbers: Mapping[str, float] = field(default_factory=dict)
    remedy: Remedy | None = None
    candidates: tuple[Remedy, ...] = ()
    blocks_solids: bool = False


def error(
    code: str,
    where: str,
    message: str,
    numbers: Mapping[str, float] | None = None,
    *candidates: Remedy,
    blocks: bool = False,
) -> Finding:
    """Return an error with its figures.

    Args:
        code: stable short code.
        where: section, part, piece or dimension.
        message: one sentence.
        numbers: named figures, mm unless the name carries the unit.
        candidates: changes to try, best first.
        blocks: True when no solid can be made of the plan.
    """
    return Finding("error", code, where, message, numbers or {}, candidates=candidates, blocks_solids=blocks)


def wall_left(wall: float) -> str:
    """Return in words how much of a wall is left, also where there is less than none.

    Args:
        wall: mm.
    """
    return (
        f"{wall:.2f} mm of wall are left" if wall > 0 else f"no wall is left, {-wall:.2f} mm less than none"
    )


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings sorted by level (errors first), then code and place."""
    return tuple(sorted(findings, key=lambda f: (LEVELS.index(f.level), f.code, f.where)))
