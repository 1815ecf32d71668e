"""Windows through the walls of hollow sections: they open into room only, and leave struts and edges that hold."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from chassis_gen.pipeline import solids_of
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.sections.features.surface_cells import OFF_FACETS_DEG
from chassis_gen.shapes import mesh
from chassis_gen.shapes.agreement import compare, cut_stations
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import radial
from chassis_gen.shapes.mesh import DEFAULT_CHORD
from chassis_gen.shapes.primitives import Cylinder, Pattern
from chassis_gen.shapes.recipe import Recipe
from tests.plan.support import planned

BUILD = """
[build]
title = "Windows"
[tube]
chassis_offset = 2.0
[[tube.segment]]
length = 220
bores = [{ from_mouth = 0, diameter = 46 }]
[[section]]
kind = "end_plate"
name = "near"
thickness = 8
[[section]]
kind = "lead_bay"
name = "bay"
length = 46
rails = 3
rail_width = 30
[[section]]
kind = "end_plate"
name = "far"
thickness = 8
[[surface]]
name = "lattice"
pattern = "hexagons"
through = true
width = 5
pitch = 7.5
"""
WALL = 3.2
"""Thickness of the rails, their default, mm."""
RODS = """
[[rod]]
name = "rods"
thread = "M3"
clocks_deg = [30, 90]
circle_diameter = 32
"""


def recipe_of(plan: ChassisPlan) -> Recipe:
    return next(r for p in plan.pieces for r in p.recipes if r.name == "bay")


def windows(plan: ChassisPlan) -> list[Pattern]:
    return [s.solid for s in recipe_of(plan).steps if isinstance(s.solid, Pattern)]


def struts(body: Body, radius: float, station: float, step: float = 0.05) -> list[float]:
    """Return the widths of what stands between two openings on a circle, mm, found with rays from the axis."""
    count = round(2 * math.pi * radius / step)
    turns = [2 * math.pi * k / count for k in range(count)]
    hits = body.rays([(0.0, 0.0, station)] * count, [(math.cos(t), math.sin(t), 0.0) for t in turns])
    solid = np.array([bool(h) for h in hits])
    solid = np.roll(solid, -int(np.argmin(solid)))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], solid.astype(int), [0]])))
    return [(b - a) * 2 * math.pi * radius / count for a, b in zip(edges[::2], edges[1::2], strict=True)]


@pytest.fixture(scope="module")
def lattice(tmp_path_factory: pytest.TempPathFactory) -> ChassisPlan:
    return planned(tmp_path_factory.mktemp("lattice"), BUILD)


def test_windows_open_into_the_bay_and_struts_stand_between_them(lattice: ChassisPlan) -> None:
    assert not lattice.findings
    (work,) = lattice.surfaces
    assert (work.section, work.through) == ("bay", True)
    # looked up in steps of 0.2 mm
    assert WALL <= work.depth <= WALL + 0.2
    body = solids_of(lattice).pieces["chassis"]
    assert len(body.components()) == 1
    bay = lattice.sections[1]
    inner = lattice.outer.smallest_radius(bay.z0, bay.z1) - WALL
    placements = [f for p in windows(lattice) for f in p.frames]
    assert len(placements) == work.cells > 20
    stations = sorted({f.origin[2] for f in placements})
    assert min(b - a for a, b in pairwise(stations)) == pytest.approx(7.5 * math.sqrt(3) / 2, abs=1e-3)
    for station in stations:
        between = struts(body, inner, station)
        # the three rails are whole at their edges and between windows: two nozzle widths
        assert len(between) > 3
        assert min(between) >= 0.8 - 0.1
    # half way between two rows of windows their diagonal struts still stand
    assert min(struts(body, inner, (stations[0] + stations[1]) / 2)) >= 0.8 - 0.1


def test_both_kernels_make_the_same_windows(tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD + "clocks_deg = [124, 176]\nstations = [22, 36]\n")
    brep = pytest.importorskip("chassis_gen.shapes.brep")
    recipe = recipe_of(plan)
    body, shape = mesh.make(recipe), brep.make(recipe)
    assert shape.isValid()
    agreement = compare(recipe, body, shape, DEFAULT_CHORD, cut_stations(recipe, DEFAULT_CHORD))
    assert agreement.ok, "\n".join(agreement.rows())
    # by plane geometry: a hexagon 5 mm over its flats through 3.2 mm of wall, a little more as it is cut straight
    bare = mesh.make(Recipe("bay", tuple(s for s in recipe.steps if not isinstance(s.solid, Pattern))))
    (work,) = plan.surfaces
    prism = work.cells * math.sqrt(3) / 2 * 25.0 * WALL
    assert prism * 0.98 < bare.volume - body.volume < prism * 1.02


def test_no_window_stands_before_a_rod_a_tie_or_another_section(tmp_path: Path) -> None:
    plan = planned(tmp_path / "rods", BUILD + RODS)
    assert [f.code for f in plan.findings if f.level == "error"] == []
    assert windows(plan)
    for pattern in windows(plan):
        for frame in pattern.frames:
            clock = math.degrees(math.atan2(frame.x_axis[1], frame.x_axis[0])) % 360
            away = min(abs((clock - c + 180) % 360 - 180) for c in (30, 90))
            # half of a rod and a wall on its circle, half of a window on the inner face
            least = math.degrees(math.asin((1.5 + 0.8) / 16) + math.asin(2.5 / 19.4))
            assert away > least

    tied = BUILD.replace("rail_width = 30", 'rail_width = 30\nrail_thickness = 5.4\nties = "both"')
    plan = planned(tmp_path / "ties", tied.replace("pitch = 7.5", "pitch = 8.5"))
    slots = [s.solid for s in recipe_of(plan).steps if s.label.startswith("tie")]
    assert slots
    assert windows(plan)
    for pattern in windows(plan):
        for slot in slots:
            assert mesh.solid(pattern).common_volume(mesh.solid(slot)) == 0.0


def test_windows_that_leave_no_struts_name_the_pitch_that_does(tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD.replace("pitch = 7.5", "pitch = 6.2"))
    assert not windows(plan)
    (finding,) = plan.findings
    assert finding.code == "surface-struts"
    assert finding.remedy is not None
    assert finding.remedy.tried
    # two walls 5 mm apart that stand on the surface's pitch come together toward the inner face
    bay = plan.sections[1]
    outside = plan.outer.smallest_radius(bay.z0, bay.z1)
    inner = outside - WALL
    needed = outside * (0.8 / inner + 2 * math.asin(2.5 / inner))
    assert finding.numbers["least_pitch"] == pytest.approx(needed, abs=0.1)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("through = true", 'through = true\nsections = ["near"]'),
        ("rail_width = 30", "rail_width = 5"),
        ("rail_width = 30", "rail_width = 30\nrail_thickness = 7"),
    ],
)
def test_where_no_window_can_be_that_is_said(old: str, new: str, tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD.replace(old, new))
    assert not windows(plan)
    assert [f.code for f in plan.findings] == ["surface-no-room"]


def test_the_far_side_of_a_window_is_free(lattice: ChassisPlan) -> None:
    """A pin through each window, from outside into the room, touches nothing."""
    body = solids_of(lattice).pieces["chassis"]
    for pattern in windows(lattice):
        for frame in pattern.frames[::5]:
            pin = mesh.solid(Cylinder(2.4, 14.0, 30.0, frame @ radial(OFF_FACETS_DEG, 0.0)))
            assert body.common_volume(pin) < 1e-6
