"""Patterns on a whole build: one sound body, walls measured on the mesh, bands, seats and fits as they were."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from chassis_gen.checks.result import CheckResult
from chassis_gen.checks.walls import check_walls
from chassis_gen.output.folder import build_files
from chassis_gen.pipeline import check_build, load_build, plan_of, solids_of
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.sections.features.surface_cells import OFF_FACETS_DEG
from chassis_gen.shapes.agreement import without_patterns
from chassis_gen.shapes.primitives import Pattern
from chassis_gen.shapes.recipe import Step
from tests.builds.support import loaded, silent, stl, workspace
from tests.helpers import assert_sound

BASE = """\
[build]
title = "patterns"

[tube]
chassis_offset = 4

[[tube.segment]]
length = 260
bores = [{ from_mouth = 0, diameter = 40 }]

[[section]]
kind = "display_window"
name = "screen"

[[section]]
kind = "cell_cradle"
name = "cell"

[[section]]
kind = "board_tray"
name = "board"

[[wire]]
from = "cell.plus"
to = "board.battery plus"
gauge_awg = 24
"""
PATTERNS = """
[[surface]]
name = "mark"
pattern = "outline"
svg = "leaf.svg"
sections = ["screen"]
clocks_deg = [180, 260]
width = 12

[[surface]]
name = "facets"
pattern = "hexagons"
sections = ["screen"]

[[surface]]
name = "grip"
pattern = "knurl"
sections = ["cell"]
clocks_deg = [180, 360]

[[surface]]
name = "reeds"
pattern = "flutes"
sections = ["board"]
clocks_deg = [100, 200]

[[surface]]
name = "rings"
pattern = "ribs"
sections = ["board"]
clocks_deg = [280, 360]
"""
LEAF = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 30">'
    '<path fill-rule="evenodd" d="M0 15 Q20 -15 40 15 Q20 45 0 15z M16 15 a4 4 0 1 0 8 0 a4 4 0 1 0 -8 0z"/></svg>'
)
NAMES = {"mark", "facets", "grip", "reeds", "rings"}


def with_leaf(folder: Path, text: str) -> Path:
    workspace(folder, text)
    (folder / "profiles" / "own" / "leaf.svg").write_text(LEAF)
    return folder


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> CheckResult:
    return check_build(loaded(tmp_path_factory.mktemp("plain"), BASE))


@pytest.fixture(scope="module")
def worked(tmp_path_factory: pytest.TempPathFactory) -> CheckResult:
    folder = with_leaf(tmp_path_factory.mktemp("worked"), BASE + PATTERNS)
    return check_build(loaded(folder, BASE + PATTERNS))


def surface_steps(plan: ChassisPlan) -> Iterator[Step]:
    for piece in plan.pieces:
        for recipe in piece.recipes:
            yield from (s for s in recipe.steps if s.surface)


def body_of(result: CheckResult) -> Any:
    assert result.solids is not None
    return result.solids.pieces["chassis"]


def test_every_pattern_has_cells_and_the_body_stays_one(plain: CheckResult, worked: CheckResult) -> None:
    assert {w.name for w in worked.plan.surfaces} == NAMES
    assert all(w.cells for w in worked.plan.surfaces)
    before, after = body_of(plain), body_of(worked)
    assert_sound(after, (0.97 * before.volume, before.volume - 200.0), genus=before.genus)


def test_ribs_leave_what_the_closed_form_says(tmp_path: Path, plain: CheckResult) -> None:
    """Each groove takes span / 2 (R^2 - (R - depth)^2) width, its ends drawn in a little."""
    table = '[[surface]]\npattern = "ribs"\nsections = ["screen"]\nclocks_deg = [170, 230]\ndepth = 0.5\nwidth = 3\npitch = 6\n'
    made = check_build(loaded(tmp_path, BASE + table))
    (work,) = made.plan.surfaces
    band = next(s for s in made.plan.outer.steps if not s.bearing)
    each = math.radians(60.0 - 2 * OFF_FACETS_DEG) / 2 * (band.radius**2 - (band.radius - 0.5) ** 2) * 3.0
    assert work.left_out == 0
    assert body_of(plain).volume - body_of(made).volume == pytest.approx(work.cells * each, rel=2e-3)


def test_all_cells_keep_a_wall_and_stay_below_the_surface(worked: CheckResult) -> None:
    """Rays from the axis' side of each cell: from its floor inward at least two nozzle widths are solid."""
    body, plan = body_of(worked), worked.plan
    starts, ways = [], []
    for step in surface_steps(plan):
        assert isinstance(step.solid, Pattern)
        for frame in step.solid.frames:
            clock, z = math.atan2(frame.x_axis[1], frame.x_axis[0]), frame.origin[2]
            radius = plan.outer.smallest_radius(z - 0.01, z + 0.01)
            for off in (-1.0, 0.0, 1.0):
                for dz in (-0.7, 0.0, 0.7):
                    a = clock + off / radius
                    starts.append((math.cos(a) * (radius + 0.2), math.sin(a) * (radius + 0.2), z + dz))
                    ways.append((-math.cos(a), -math.sin(a), 0.0))
    assert len(starts) > 1000
    pick = np.random.default_rng(3).choice(len(starts), 900, replace=False)
    for hits in body.rays(np.array(starts)[pick], np.array(ways)[pick], reach=5.0):
        assert hits[0].distance > 0.17
        assert hits[0].distance < 0.2 + 0.6 + 0.02
        # a ray through an edge meets both of its facets
        beyond = [h.distance - hits[0].distance for h in hits if h.distance > hits[0].distance + 1e-3]
        assert not beyond or beyond[0] >= plan.rules.least_wall - 0.02


def test_bearing_bands_and_section_ends_are_as_they_were(plain: CheckResult, worked: CheckResult) -> None:
    before, after = body_of(plain), body_of(worked)
    places = [
        s.z0 + t * (s.z1 - s.z0) for s in plain.plan.outer.steps if s.bearing for t in (0.01, 0.5, 0.99)
    ]
    places += [s.z0 + 0.3 for s in plain.plan.sections]
    for z in places:
        assert after.slice_area(z) == pytest.approx(before.slice_area(z), abs=1e-6)


def test_seats_fits_and_holes_are_as_they_were(plain: CheckResult, worked: CheckResult) -> None:
    assert worked.plays == plain.plays
    assert [(f.fit.id, f.measured, f.verdict) for f in worked.fits] == [
        (f.fit.id, f.measured, f.verdict) for f in plain.fits
    ]
    codes = {(f.level, f.code, f.where) for f in plain.findings}
    assert {(f.level, f.code, f.where) for f in worked.findings} == codes


def test_the_same_input_gives_the_same_bytes_and_the_report_lists_the_patterns(
    worked: CheckResult, tmp_path: Path
) -> None:
    first = build_files(worked, step=False, png=False, progress=silent, inputs={})
    folder = with_leaf(tmp_path, BASE + PATTERNS)
    plan = plan_of(load_build(workspace(folder, BASE + PATTERNS), "own"))
    again = replace(worked, plan=plan, solids=solids_of(plan))
    second = build_files(again, step=False, png=False, progress=silent, inputs={})
    assert first.files == second.files
    assert stl(first.files).is_watertight
    rows = first.report["surfaces"]
    assert {r["name"] for r in rows} == NAMES
    assert all(r["depth_mm"] == 0.6 for r in rows)
    assert "## Surface work" in first.files["fit-report.md"].decode()


def test_without_patterns_the_recipe_is_the_plain_one(plain: CheckResult, worked: CheckResult) -> None:
    for bare, full in zip(plain.plan.pieces, worked.plan.pieces, strict=True):
        assert tuple(map(without_patterns, full.recipes)) == tuple(map(without_patterns, bare.recipes))
    assert all(s.operation == "cut" for s in surface_steps(worked.plan))


def test_a_pattern_without_room_is_a_warning_with_a_depth_that_works(tmp_path: Path) -> None:
    table = '[[surface]]\nname = "deep"\npattern = "slots"\nsections = ["cell"]\nclocks_deg = [180, 220]\ndepth = 5\n'
    build = loaded(tmp_path, BASE + table)
    (found,) = [f for f in plan_of(build).findings if f.code == "surface-no-room"]
    assert (found.level, found.where) == ("warning", "deep")
    assert found.numbers["free"] < 5.0
    assert found.remedy is not None
    assert found.remedy.tried
    assert found.remedy.key == "surface[0].depth"
    assert isinstance(found.remedy.value, float)
    assert found.remedy.value == pytest.approx(math.floor(found.numbers["free"] * 10 + 1e-6) / 10)


def test_a_fine_outline_is_warned_of(tmp_path: Path) -> None:
    table = '[[surface]]\npattern = "outline"\nsvg = "leaf.svg"\nsections = ["screen"]\nwidth = 2\nclocks_deg = [180, 260]\n'
    folder = with_leaf(tmp_path, BASE + table)
    (found,) = [
        f for f in plan_of(load_build(workspace(folder, BASE + table), "own")).findings if "fine" in f.code
    ]
    # the ring round the hole is widest at the middle: half of 15 less 4 of 40 drawn, of 2 mm
    assert found.code == "surface-fine"
    assert found.numbers["finest"] < 0.4


BARS = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20"><path d="M2 2 H9.7 V18 H2 Z M10.3 2 H18 V18 H10.3 Z"/></svg>'
PLATE = """
[build]
title = "two bars"

[[tube.segment]]
length = 80
bores = [{ from_mouth = 0, diameter = 40 }]

[[section]]
kind = "end_plate"
name = "plate"
thickness = 50

[[surface]]
pattern = "outline"
svg = "bars.svg"
sections = ["plate"]
width = 14
clocks_deg = [60, 120]
"""


def test_what_stands_between_two_parts_of_a_drawing_is_no_wall(tmp_path: Path) -> None:
    """Drawn 0.6 of 16 wide, on 14 mm: 0.525 mm, wider than the nozzle's line and narrower than a wall."""
    build = workspace(tmp_path, PLATE)
    (tmp_path / "profiles" / "own" / "bars.svg").write_text(BARS)
    result = check_build(load_build(build, "own"))
    assert [w.cells for w in result.plan.surfaces] == [1]
    assert result.findings == ()
    bare = replace(result.plan, surfaces=())
    assert result.solids is not None
    (ridge,) = check_walls(bare, result.solids)
    assert ridge.numbers["thickness"] == pytest.approx(0.525, abs=0.01)
