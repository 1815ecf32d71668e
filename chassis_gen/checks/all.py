"""All checks of a build, in order."""

from __future__ import annotations

from chassis_gen.checks.bare_conductors import check_bare_conductors
from chassis_gen.checks.bodies import check_bodies
from chassis_gen.checks.fits import check_fits, measure_fits
from chassis_gen.checks.interference import check_interference
from chassis_gen.checks.joints import check_joints
from chassis_gen.checks.lanes_check import check_lanes
from chassis_gen.checks.lettering import check_lettering
from chassis_gen.checks.play import check_play, measure_plays
from chassis_gen.checks.result import CheckResult, Solids, Tried
from chassis_gen.checks.screws import check_screws
from chassis_gen.checks.switch_axis import check_switch_axis
from chassis_gen.checks.threading import check_threading
from chassis_gen.checks.tube_way import check_tube_way
from chassis_gen.checks.walls import check_walls
from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.electrics.judging import said_once
from chassis_gen.findings import worst_first
from chassis_gen.plan.chassis import ChassisPlan


def run_checks(plan: ChassisPlan, solids: Solids | None, tried: Tried | None = None) -> CheckResult:
    """Return what all checks found; without solids, what numbers alone found.

    Args:
        plan: the build.
        solids: its solids, or None where the plan can't be made.
        tried: gives the electrics' findings their remedies; None leaves them with their candidates.
    """
    electrics, judged = electrics_of(plan)
    electrical = tried(judged) if tried else judged
    planned = (*said_once(plan.findings, electrical), *check_joints(plan))
    if solids is None or not plan.buildable:
        return CheckResult(plan, None, (), worst_first((*planned, *electrical)), electrics=electrics)
    plays = measure_plays(plan, solids)
    fits = measure_fits(plan, solids, plays)
    found = (
        *planned,
        *check_play(plan, solids, plays),
        *check_fits(plan, solids, fits),
        *check_bodies(plan, solids),
        *check_walls(plan, solids),
        *check_interference(plan, solids),
        *check_tube_way(plan, solids),
        *check_screws(plan, solids),
        *check_switch_axis(plan, solids),
        *check_lanes(plan, solids),
        *check_lettering(plan, solids),
        *check_threading(plan, solids),
        *check_bare_conductors(plan, solids, plays, fits),
        *electrical,
    )
    return CheckResult(plan, solids, fits, worst_first(found), plays, electrics)
