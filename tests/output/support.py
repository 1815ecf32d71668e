"""A small checked build of two sections and a second piece, for writing."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache

from chassis_gen.checks.all import run_checks
from chassis_gen.checks.result import CheckResult
from chassis_gen.findings import Finding, Remedy
from chassis_gen.output.folder import build_files
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.plan.model import Hardware
from chassis_gen.shapes.mesh import make
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Recipe, add, cut
from tests.checks import support

INPUTS = {"profiles/small/build.toml": 'title = "small"\n'}
CAP = Recipe(
    "cap",
    (
        *add("plate", Cylinder(19.0, 100.0, 104.0)),
        *cut("port", Cylinder(5.0, 99.0, 105.0), must_touch=True),
    ),
)


@cache
def result() -> CheckResult:
    """Return the checked build."""
    recipes = (Recipe("cradle", support.cradle_steps()), Recipe("button", support.button_steps()))
    fit = support.seat_fit()
    plan = support.plan(
        pieces=(
            PiecePlan("chassis", recipes, ("cradle", "button")),
            PiecePlan("cap", (CAP,), ("button",), owner="button"),
        ),
        dimensions={fit.id: fit.dimension},
        hardware=(Hardware("M3 x 8 set screw", 2, "cradle"),),
        cautions=("lithium_cell", "soldering"),
        findings=(
            Finding(
                "warning",
                "worth-a-look",
                "cradle",
                "the cell is snug",
                {"room": 0.05},
                Remedy("section[0].fit", "free", "take the free fit", tried=True),
            ),
        ),
    )
    return run_checks(plan, support.solids(plan, cap=make(CAP, support.CHORD)))


def files(step: bool) -> Mapping[str, bytes]:
    """Return the build's files."""
    return build_files(result(), step=step, png=False, progress=silent, inputs=INPUTS).files


def digests(made: Mapping[str, bytes]) -> dict[str, str]:
    """Return the SHA-256 of each file."""
    return {name: hashlib.sha256(data).hexdigest() for name, data in sorted(made.items())}


def silent(_: str) -> None:
    """Say nothing."""
