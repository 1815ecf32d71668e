"""Remedies are tried, not guessed: a finding's candidates are planned until one makes the finding go away."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from msgspec.structs import replace

from chassis_gen.findings import LEVELS, Finding, Remedy

FIRST_LOOK = (24, 12)
"""How many different candidates are planned for one build at a first look, and for one finding of it (chosen)."""
SECOND_LOOK = (2, 2)
"""The same where none of them cured an error and wires are laid with patience, which takes ten times as long (chosen)."""

Found = tuple[Finding, ...] | None


class Trials:
    """Candidates that are tried for one build: each is planned once, whoever proposes it, and only so many are.

    Args:
        found_with: plans the build with a candidate and returns what is found then, or None when it can't be planned.
        most: how many different candidates are planned for the build.
        each: how many of them are planned for one finding, so that the first leaves some for the others.
    """

    def __init__(self, found_with: Callable[[Remedy], Found], most: int, each: int) -> None:
        self._found_with, self._most, self.each = found_with, most, each
        self._known: dict[tuple[str | None, str], Found] = {}

    def knows(self, candidate: Remedy) -> bool:
        """Return whether a candidate was planned before."""
        return _mark(candidate) in self._known

    @property
    def spent(self) -> bool:
        """Return whether no more candidates are planned."""
        return len(self._known) >= self._most

    def found(self, candidate: Remedy) -> Found:
        """Return what is found in the build with a candidate."""
        mark = _mark(candidate)
        if mark not in self._known:
            self._known[mark] = self._found_with(candidate)
        return self._known[mark]


def _mark(candidate: Remedy) -> tuple[str | None, str]:
    return candidate.key, repr(candidate.value)


def looks(found_with: Callable[[Remedy, int], Found], attempts: int) -> tuple[Trials, Trials]:
    """Return a first and a second look at candidates: with the wires laid once, and laid anew where some are over.

    Args:
        found_with: what is found with a candidate and so many attempts at laying all wires; None when it can't be planned.
        attempts: of the second look.
    """
    return (
        Trials(lambda r: found_with(r, 0), *FIRST_LOOK),
        Trials(lambda r: found_with(r, attempts), *SECOND_LOOK),
    )


def with_tried_remedies(
    findings: Iterable[Finding], trials: Sequence[Trials], known: Iterable[Finding] = ()
) -> tuple[Finding, ...]:
    """Return findings, each with the first of its candidates that makes it go away and brings no new error.

    Args:
        findings: with their candidates, best first; one that has a remedy is left as it is.
        trials: try candidates, one after the other; those after the first only for errors.
        known: what else was found, whose errors aren't new.
    """
    findings = tuple(findings)
    errors = frozenset((f.code, f.where) for f in (*findings, *known) if f.level == "error")
    bars = frozenset((f.code, f.where) for f in findings if f.blocks_solids)

    def remedied(finding: Finding) -> Finding:
        if finding.remedy is not None:
            return finding
        first, *patient = trials
        for t in (first, *(patient if finding.level == "error" else ())):
            cure = _cure(finding, _Limited(t), _alike(finding, findings), errors, bars)
            if cure is not None:
                # while another finding bars the solids, wires aren't laid: what they say then isn't known
                barred = any(f.blocks_solids for f in t.found(cure) or ())
                return replace(finding, remedy=replace(cure, tried=not barred))
        return replace(finding, remedy=next((c for c in finding.candidates if c.key is None), None))

    return tuple(remedied(f) for f in findings)


class _Limited:
    """What is found with a candidate, for one finding: None once its share of trials is used up."""

    def __init__(self, trials: Trials) -> None:
        self._trials, self._planned = trials, 0

    def __call__(self, candidate: Remedy) -> Found:
        if not self._trials.knows(candidate):
            if self._trials.spent or self._planned == self._trials.each:
                return None
            self._planned += 1
        return self._trials.found(candidate)


def _cure(
    finding: Finding,
    found_with: Callable[[Remedy], Found],
    alike: int,
    errors: frozenset[tuple[str, str]],
    bars: frozenset[tuple[str, str]],
) -> Remedy | None:
    """Return the candidate to propose: of the first key that has one that cures, the mildest that does.

    The values of a key stand mildest first. Where the last does nothing the others seldom do, so they are put off.
    """

    def cures(candidate: Remedy) -> bool:
        return _cures(finding, found_with(candidate), alike, errors, bars)

    by_key: dict[str, list[Remedy]] = {}
    for c in finding.candidates:
        if c.key is not None:
            by_key.setdefault(c.key, []).append(c)
    put_off: list[Remedy] = []
    for *milder, strongest in by_key.values():
        if cures(strongest):
            return next(filter(cures, milder), strongest)
        put_off += milder
    return next(filter(cures, put_off), None)


def _alike(finding: Finding, found: Iterable[Finding]) -> int:
    """Return how many findings say the same of the same place as gravely, such as two wires without room in a section."""
    worst = LEVELS.index(finding.level)
    own = (finding.code, finding.where)
    return sum(1 for f in found if (f.code, f.where) == own and LEVELS.index(f.level) <= worst)


def _cures(
    finding: Finding,
    found: Found,
    alike: int,
    errors: frozenset[tuple[str, str]],
    bars: frozenset[tuple[str, str]],
) -> bool:
    """Return True when a build can be planned, says the finding less often and has no error beside those known.

    What barred the solids before may go on doing so: each of several such findings is cured by its own remedy.
    """
    if found is None:
        return False
    if _alike(finding, found) >= alike:
        return False
    return not any(
        (f.level == "error" and (f.code, f.where) not in errors)
        or (f.blocks_solids and (f.code, f.where) not in bars)
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
