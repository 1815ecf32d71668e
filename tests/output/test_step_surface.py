"""Surface work in STEP files: left out with a note, or put in where that is asked for."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from chassis_gen.checks.result import CheckResult
from chassis_gen.output.exact import exact_solids
from chassis_gen.output.step import exact_kernel
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.sections.features.surface_cells import groove
from chassis_gen.shapes.mesh import make
from chassis_gen.shapes.primitives import Cylinder, Pattern
from chassis_gen.shapes.recipe import Recipe, add, cut
from tests.output.support import result, silent

RADIUS, DEPTH, WIDTH = 10.0, 0.6, 2.0
STATIONS = (4.0, 10.0, 16.0)


def grooved() -> CheckResult:
    cell = groove(RADIUS, WIDTH, DEPTH, 90.0)
    copies = Pattern(cell.solids[0], tuple(cell.frame(30.0, z) for z in STATIONS))
    recipe = Recipe(
        "bar", (*add("bar", Cylinder(RADIUS, 0.0, 20.0)), *cut("ribs of grip", copies, surface=True))
    )
    plan = replace(result().plan, pieces=(PiecePlan("bar", (recipe,), ("button",), owner="button"),))
    solids = result().solids
    assert solids is not None
    return replace(result(), plan=plan, solids=replace(solids, pieces={"bar": make(recipe)}))


def test_patterns_are_left_out_with_a_note_and_put_in_where_asked_for() -> None:
    build = grooved()
    without, with_them = exact_solids(build, silent), exact_solids(build, silent, patterns=True)
    assert [(f.level, f.code) for f in without.findings] == [("note", "step-without-patterns")]
    assert "ribs of grip" in without.findings[0].message
    assert with_them.findings == ()
    assert all(a.ok for a in (*without.pieces, *with_them.pieces))
    whole = math.pi * RADIUS**2 * 20.0
    # a quarter of a ring each
    taken = len(STATIONS) * math.pi / 4 * (RADIUS**2 - (RADIUS - DEPTH) ** 2) * WIDTH
    for made, volume in ((without, whole), (with_them, whole - taken)):
        assert volume_in(made.files["pieces/bar.step"]) == pytest.approx(volume, rel=1e-6)


def volume_in(step: bytes) -> float:
    """Return the volume of a STEP file's solid as the exact kernel reads it, mm3."""
    import tempfile
    from pathlib import Path

    import cadquery

    assert exact_kernel()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bar.step"
        path.write_bytes(step)
        return float(cadquery.importers.importStep(str(path)).val().Volume())
