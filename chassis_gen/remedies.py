"""Remedies are tried, not guessed: a finding's candidates are planned until one makes the finding go away."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterable
from typing import Any

from msgspec.structs import replace

from chassis_gen.findings import LEVELS, Finding, Remedy

MOST_TRIALS = 20
"""How many different candidates are planned for one build at most, so that a hopeless one is answered soon (chosen)."""
MOST_EACH = 10
"""How many of them are planned for one finding at most, so that the first leaves some for the others (chosen)."""

Found = tuple[Finding, ...] | None


class Trials:
    """Candidates that are tried for one build: each is planned once, whoever proposes it, and only so many are.

    Args:
        found_with: plans the build with a candidate and returns what is found then, or None when it can't be made.
    """

    def __init__(self, found_with: Callable[[Remedy], Found]) -> None:
        self._found_with = found_with
        self._known: dict[tuple[str | None, str], Found] = {}

    def knows(self, candidate: Remedy) -> bool:
        """Return whether a candidate was planned before."""
        return _mark(candidate) in self._known

    @property
    def spent(self) -> bool:
        """Return whether no more candidates are planned."""
        return len(self._known) >= MOST_TRIALS

    def found(self, candidate: Remedy) -> Found:
        """Return what is found in the build with a candidate."""
        mark = _mark(candidate)
        if mark not in self._known:
            self._known[mark] = self._found_with(candidate)
        return self._known[mark]


def _mark(candidate: Remedy) -> tuple[str | None, str]:
    return candidate.key, repr(candidate.value)


def with_tried_remedies(
    findings: Iterable[Finding], trials: Trials, known: Iterable[Finding] = ()
) -> tuple[Finding, ...]:
    """Return findings, each with the first of its candidates that makes it go away and brings no new error.

    Args:
        findings: with their candidates, best first; one that has a remedy is left as it is.
        trials: tries candidates.
        known: what else was found, whose errors aren't new.
    """
    findings = tuple(findings)
    errors = frozenset((f.code, f.where) for f in (*findings, *known) if f.level == "error")
    return tuple(_tried(f, trials, errors) for f in findings)


def _tried(finding: Finding, trials: Trials, errors: frozenset[tuple[str, str]]) -> Finding:
    """Return a finding with the first of its candidates that cures it, else with the one in words."""
    remedy, planned = finding.remedy, 0
    for candidate in finding.candidates if remedy is None else ():
        if candidate.key is None:
            continue
        if not trials.knows(candidate):
            if trials.spent or planned == MOST_EACH:
                continue
            planned += 1
        if _cures(finding, trials.found(candidate), errors):
            remedy = replace(candidate, tried=True)
            break
    in_words = next((c for c in finding.candidates if c.key is None), None)
    return replace(finding, remedy=remedy or in_words)


def _cures(finding: Finding, found: Found, errors: frozenset[tuple[str, str]]) -> bool:
    """Return True when a build can be made, doesn't say the finding as gravely and has no error beside those known."""
    if found is None:
        return False
    own, worst = (finding.code, finding.where), LEVELS.index(finding.level)
    return not any(
        ((f.code, f.where) == own and LEVELS.index(f.level) <= worst)
        or (f.level == "error" and (f.code, f.where) not in errors)
        for f in found
    )


def with_value(data: Any, key: str, value: object) -> Any:
    """Return a copy of a parameter file's data with one value set.

    Args:
        data: what TOML made of the file.
        key: dotted key path such as ``section[2].part``.
        value: the value to set.
    """
    changed = copy.deepcopy(dict(data))
    path = [int(x) if x.isdigit() else x for x in re.findall(r"[^.\[\]]+", key)]
    at: Any = changed
    for i, step in enumerate(path[:-1]):
        empty: Any = [] if isinstance(path[i + 1], int) else {}
        at = at[step] if isinstance(step, int) else at.setdefault(step, empty)
    at[path[-1]] = value
    return changed
