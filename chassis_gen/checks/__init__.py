"""Checks: each takes the plan and the solids and returns findings; none prints or touches a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult, Solids, Tried
    from chassis_gen.plan.chassis import ChassisPlan


def run_checks(plan: ChassisPlan, solids: Solids | None, tried: Tried | None = None) -> CheckResult:
    """Return what all checks found; without solids, what the plan itself found.

    Args:
        plan: the build.
        solids: its solids, or None where the plan can't be made.
        tried: gives the electrics' findings their remedies; None leaves them with their candidates.
    """
    # The package is imported for its data classes too; the kernel is loaded only where it is used.
    from chassis_gen.checks.all import run_checks as run

    return run(plan, solids, tried)
