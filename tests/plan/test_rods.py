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


def test_rods_that_end_where_a_section_is_open_are_told_and_end_elsewhere(tmp_path: Path) -> None:
    """A cell cradle is open above its base: at clocks 60 and 120 there is nothing that a rod's nut could pull on."""
    text = BUILD + ROD.format(circle=32, start="cell", end="end").replace("[0, 180]", "[60, 120]")
    found = next(f for f in planned(tmp_path, text).findings if f.code == "rod-outside")
    assert found.where == "cell.rods"
    assert "1.20 mm of material is left round it" in found.message
    text = text.replace('name = "cell"', 'name = "cell"\npiece = "aft"').replace(
        'name = "end"', 'name = "end"\npiece = "aft"'
    )
    found = next(f for f in planned(tmp_path / "b", text).findings if f.code == "rod-outside")
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.value, found.remedy.tried) == ("rod[0].from", "plate", True)


def test_a_circle_that_leads_into_a_void_is_no_remedy(tmp_path: Path) -> None:
    """At 42 mm the rods break through the outside of a 44 mm bore; farther in, the cell's cradle is open."""
    text = BUILD + ROD.format(circle=42, start="cell", end="end").replace("[0, 180]", "[60, 120]")
    found = [f for f in planned(tmp_path, text).findings if f.code == "rod-outside"]
    assert found
    assert all(f.remedy is None or f.remedy.key != "rod[0].circle_diameter" for f in found)


def test_an_end_too_short_for_a_rods_end_grows(tmp_path: Path) -> None:
    text = (BUILD + ROD.format(circle=32, start="plate", end="end")).replace(
        "thickness = 8", "thickness = 4", 1
    )
    (found,) = (f for f in planned(tmp_path, text).findings if f.code == "rod-end-room")
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.tried) == ("section[0].thickness", True)
    assert found.remedy.value == pytest.approx(found.numbers["needed"], abs=0.1)


def test_the_first_section_s_part_is_passed_by_beginning_behind_it(tmp_path: Path) -> None:
    text = BUILD + ROD.format(circle=20.0, start="cell", end="end")
    hits = [f for f in planned(tmp_path, text).findings if f.code == "rod-hits-part" and f.where == "cell"]
    assert hits
    words = hits[0].candidates[-1]
    assert words.key is None
    assert "(from = " in words.text
    assert "before it" not in words.text
