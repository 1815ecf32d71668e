"""Remedies are tried, not guessed: a finding's candidates are planned until one makes the finding go away."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable, Iterable
from typing import Any

from msgspec.structs import replace

from chassis_gen.findings import LEVELS, Finding, Remedy
from chassis_gen.plan.chassis import ChassisPlan

MOST_TRIALS = 24
"""How many candidates are planned for one build at most, so that a hopeless one is answered soon (chosen)."""


def with_tried_remedies(
    findings: Iterable[Finding], planned_with: Callable[[Remedy], ChassisPlan | None]
) -> tuple[Finding, ...]:
    """Return findings, each with the first of its candidates that makes it go away and brings no new error.

    Args:
        findings: with their candidates, best first; one that has a remedy is left as it is.
        planned_with: plans the build with a candidate, or returns None when it can't be planned.
    """
    findings = tuple(findings)
    errors = frozenset((f.code, f.where) for f in findings if f.level == "error")
    trials = MOST_TRIALS
    tried: list[Finding] = []
    for finding in findings:
        remedy = finding.remedy
        for candidate in finding.candidates:
            if remedy is not None or trials == 0:
                break
            if candidate.key is None:
                continue
            trials -= 1
            if _cures(finding, planned_with(candidate), errors):
                remedy = replace(candidate, tried=True)
        in_words = next((c for c in finding.candidates if c.key is None), None)
        tried.append(replace(finding, remedy=remedy or in_words))
    return tuple(tried)


def _cures(finding: Finding, plan: ChassisPlan | None, errors: frozenset[tuple[str, str]]) -> bool:
    """Return True when a plan can be built, doesn't say the finding as gravely and has no error beside those known."""
    if plan is None or not plan.buildable:
        return False
    own, worst = (finding.code, finding.where), LEVELS.index(finding.level)
    return not any(
        ((f.code, f.where) == own and LEVELS.index(f.level) <= worst)
        or (f.level == "error" and (f.code, f.where) not in errors)
        for f in plan.findings
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
