"""Rods in a build: named sections, parts they must not meet, wires that avoid them, the hardware list."""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.problems import InputError
from tests.plan.support import planned

BUILD = """
[build]
title = "rods"

[tube]
chassis_offset = 4

[[tube.segment]]
length = 200
bores = [{ from_mouth = 0, diameter = 44 }]

[[section]]
kind = "end_plate"
name = "plate"
thickness = 8

[[section]]
kind = "light_head"
name = "light"
light = "led_round"
part = "led 5 mm"
facing = "near"

[[section]]
kind = "cell_cradle"
name = "cell"
part = "cell 18650"

[[section]]
kind = "end_plate"
name = "end"
thickness = 8
"""
ROD = """
[[rod]]
clocks_deg = [0, 180]
circle_diameter = {circle}
from = "{start}"
to = "{end}"
"""


def built(root: Path, circle: float = 32.0, start: str = "plate", end: str = "end") -> ChassisPlan:
    return planned(root, BUILD + ROD.format(circle=circle, start=start, end=end))


def test_each_section_on_the_way_gets_the_rods_steps_and_obstacles(tmp_path: Path) -> None:
    plan = built(tmp_path)
    assert [f.code for f in plan.findings if f.code.startswith("rod")] == []
    for section, recipe in zip(plan.sections, plan.pieces[0].recipes, strict=True):
        assert sum(o.what == "rod" for o in section.obstacles) == 2
        assert any(s.label == "rod hole of rods" for s in recipe.steps)
    assert {h.id for s in plan.sections for h in s.holes if "rods" in h.id} == {
        f"{s}.rods_{k}" for s in ("plate", "end") for k in (1, 2)
    }
    assert "plate.rods_1_diameter" in plan.dimensions
    long = plan.z1 - plan.z0
    assert [(h.item, h.count) for h in plan.hardware if "M3" in h.item] == [
        (f"threaded rod M3 x {int(long)}", 2),
        ("nut M3", 4),
        ("washer M3", 4),
    ]


def test_a_rod_through_a_cell_is_an_error(tmp_path: Path) -> None:
    # the cell's radius is 9.2 mm, the rod's 1.5: a circle of 20 mm lies inside both
    hits = [f for f in built(tmp_path, 20.0).findings if f.code == "rod-hits-part"]
    assert [f.where for f in hits] == ["cell", "cell"]
    assert not [f for f in built(tmp_path, 24.0).findings if f.code == "rod-hits-part"]


def test_ways_from_joints_to_lanes_avoid_the_rods(tmp_path: Path) -> None:
    text = BUILD + ROD.format(circle=32.0, start="plate", end="end").replace("[0, 180]", "[250, 290]")
    before, after = (
        next(t for s in plan.sections for t in s.terminals if t.id == "light.plus")
        for plan in (built(tmp_path), planned(tmp_path, text))
    )
    assert len(after.exits) > len(before.exits)
    assert not any(low <= 250 <= high or low <= 290 <= high for low, high in after.exits)


def test_sections_that_there_are_not_and_threads_are_told(tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        built(tmp_path, start="plat")
    (problem,) = error.value.problems
    assert (problem.code, problem.key, problem.nearest) == ("unknown-name", "rod[0].from", "plate")
    with pytest.raises(InputError) as error:
        built(tmp_path, start="end", end="plate")
    assert error.value.problems[0].key == "rod[0].to"
    with pytest.raises(InputError) as error:
        planned(tmp_path, BUILD + ROD.format(circle=32, start="plate", end="end") + 'thread = "M99"\n')
    assert (error.value.problems[0].code, error.value.problems[0].key) == ("unknown-thread", "rod[0].thread")
