"""Order of reading: which way each part of one line of text runs, and in which order the eye meets them.

The Unicode Bidirectional Algorithm (Unicode Standard Annex #9) for one line without explicit formatting
characters: rules P2 and P3, W1 to W7, N1, N2, I1, I2, L2. Paired brackets (N0) are taken as other neutrals are.
"""

from __future__ import annotations

import itertools
import unicodedata

from msgspec import Struct

_NEUTRAL = ("B", "S", "WS", "ON")
_NUMBERS = ("EN", "AN")


class Run(Struct, frozen=True):
    """Characters of a text from `start` up to `end` that run one way: odd levels run right to left."""

    start: int
    end: int
    level: int


def visual_runs(text: str) -> tuple[Run, ...]:
    """Return the runs of a line from left to right as the eye meets them.

    Args:
        text: one line in logical order.
    """
    runs: list[Run] = []
    for level, alike in itertools.groupby(enumerate(levels(text)), key=lambda pair: pair[1]):
        places = [i for i, _ in alike]
        runs.append(Run(places[0], places[-1] + 1, level))
    # L2: from the highest level down to the lowest odd one, whatever is at it or above is turned round
    for level in range(max((r.level for r in runs), default=0), 0, -1):
        at = 0
        for turned, group in itertools.groupby(tuple(runs), key=lambda r: r.level >= level):
            members = list(group)
            if turned:
                runs[at : at + len(members)] = members[::-1]
            at += len(members)
    return tuple(runs)


def runs_right_to_left(text: str) -> bool:
    """Return whether a line as a whole runs from right to left: its first letter decides (P2, P3)."""
    kinds = (unicodedata.bidirectional(c) for c in text)
    return next((k for k in kinds if k in ("L", "R", "AL")), "L") != "L"


def levels(text: str) -> tuple[int, ...]:
    """Return the embedding level of each character of a line.

    Args:
        text: one line in logical order.
    """
    kinds = [unicodedata.bidirectional(c) or "L" for c in text]
    base = int(runs_right_to_left(text))
    start = "R" if base else "L"
    return tuple(_level(k, base) for k in _neutrals(_weak(kinds, start), start))


def _level(kind: str, base: int) -> int:
    """Rules I1 and I2."""
    if base:
        return base if kind == "R" else base + 1
    return {"R": 1, "AN": 2, "EN": 2}.get(kind, 0)


def _weak(kinds: list[str], start: str) -> list[str]:
    """Rules W1 to W7; characters without a class of their own go with the one before."""
    found = list(kinds)
    for i, k in enumerate(found):
        if k in ("NSM", "BN"):
            found[i] = found[i - 1] if i else start
    strong = start
    for i, k in enumerate(found):
        strong = k if k in ("L", "R", "AL") else strong
        if k == "EN" and strong == "AL":
            found[i] = "AN"
    found = ["R" if k == "AL" else k for k in found]
    for i in range(1, len(found) - 1):
        before, k, after = found[i - 1 : i + 2]
        if before == after and ((k == "ES" and before == "EN") or (k == "CS" and before in _NUMBERS)):
            found[i] = before
    at = 0
    for kind, group in itertools.groupby(tuple(found)):
        end = at + len(list(group))
        beside = (*found[at - 1 : at], *found[end : end + 1]) if at else tuple(found[end : end + 1])
        if kind == "ET" and "EN" in beside:
            found[at:end] = ["EN"] * (end - at)
        at = end
    found = ["ON" if k in ("ES", "ET", "CS") else k for k in found]
    strong = start
    for i, k in enumerate(found):
        strong = k if k in ("L", "R") else strong
        if k == "EN" and strong == "L":
            found[i] = "L"
    return found


def _neutrals(kinds: list[str], start: str) -> list[str]:
    """Rules N1 and N2: neutrals take the direction of both sides, else the line's; numbers count as R."""
    found = list(kinds)
    at = 0
    for neutral, group in itertools.groupby(kinds, key=lambda k: k in _NEUTRAL):
        end = at + len(list(group))
        if neutral:
            before = _side(kinds[at - 1]) if at else start
            after = _side(kinds[end]) if end < len(kinds) else start
            found[at:end] = [before if before == after else start] * (end - at)
        at = end
    return found


def _side(kind: str) -> str:
    return "L" if kind == "L" else "R"
