"""Antennas: how far each is from where its signal gets out, and the warning where a metal tube screens it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.parts.catalogue import find_part, overridden
from chassis_gen.plan.antenna import antenna_of, cutoff_ghz
from chassis_gen.plan.chassis import ChassisPlan
from tests.plan.support import planned

# the catalogue's radio board: 12 x 20 mm, 1.0 + 2.4 mm high; its antenna's room reaches 3 mm past its +y end
BUILD = """
[build]
title = "a radio"

[tube]
chassis_offset = 4

[[tube.segment]]
name = "grip"
length = 120
bores = [{ from_mouth = 0, diameter = 40 }]

[[tube.segment]]
name = "head"
from_mouth = 120
length = 60
bores = [{ from_mouth = 120, diameter = 40 }]

[[tube.opening]]
name = "window"
from_mouth = 60
diameter = 14

[[section]]
kind = "lead_bay"
name = "bay"
length = 40

[[section]]
kind = "board_tray"
name = "radio"
part = "radio board"

[[section]]
kind = "lead_bay"
name = "far bay"
length = 20
"""
HEAD = 'name = "head"\n'
# the bay ends at 44; end wall 2.4, the board with 0.2 mm before it, then half the antenna's room
STATION = 44 + 2.4 + 0.2 + 20 + 1.5


def plan_of(tmp_path: Path, *edits: tuple[str, str]) -> ChassisPlan:
    text = BUILD
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    return planned(tmp_path, text)


def warning(plan: ChassisPlan) -> Finding | None:
    return next((f for f in plan.findings if f.code == "antenna-in-metal"), None)


def distance(plan: ChassisPlan) -> float:
    (radio,) = (s for s in plan.sections if s.name == "radio")
    return radio.facts["antenna_way_out_mm"]


def to_window(plan: ChassisPlan, station: float = 60.0, diameter: float = 14.0) -> float:
    """Plane geometry: an opening straight over the antenna, taken as a flat disc at the bore."""
    (radio,) = (s for s in plan.sections if s.name == "radio")
    level = radio.parts[0].frame.origin[1] + (1.0 + 2.4) / 2
    return math.hypot(20.0 - level, max(0.0, abs(STATION - station) - diameter / 2))


def test_an_antenna_lies_in_the_middle_of_its_room_or_where_its_part_states_it() -> None:
    board = find_part("radio board")
    assert antenna_of(board) == pytest.approx((0.0, 11.5, 1.7))
    assert antenna_of(find_part("sound board")) is None
    stated = replace(board, antenna=(1.0, 2.0, 3.0))
    assert antenna_of(stated) == (1.0, 2.0, 3.0)
    # what a maker measures anew keeps it
    assert antenna_of(overridden(stated, {"width": 13.0})) == (1.0, 2.0, 3.0)


def test_a_window_near_the_antenna_lets_it_out(tmp_path: Path) -> None:
    plan = plan_of(tmp_path)
    assert distance(plan) == pytest.approx(to_window(plan), abs=0.02)
    # the antenna lies some 18 mm under the wall here: too far from the window
    assert to_window(plan) > 10
    assert warning(plan) is not None
    lifted = plan_of(tmp_path, ('part = "radio board"', 'part = "radio board"\nboard_height = 13'))
    assert distance(lifted) == pytest.approx(to_window(lifted), abs=0.02)
    assert distance(lifted) < 10
    assert warning(lifted) is None


@pytest.mark.parametrize(
    "edit",
    [
        ("diameter = 14", "diameter = 11.9"),
        ("diameter = 14", 'diameter = 14\n\n[[tube.opening]]\nname = "other"\nfrom_mouth = 20\ndiameter = 3'),
    ],
)
def test_an_opening_counts_where_it_is_as_wide_as_the_antennas_room(
    tmp_path: Path, edit: tuple[str, str]
) -> None:
    plan = plan_of(tmp_path, ('part = "radio board"', 'part = "radio board"\nboard_height = 13'), edit)
    assert (warning(plan) is None) == ("other" in edit[1])
    diameter = 14.0 if "other" in edit[1] else 11.9
    assert distance(plan) == pytest.approx(to_window(plan, diameter=diameter), abs=0.02)


def test_inside_metal_the_warning_has_the_numbers_and_usual_practice(tmp_path: Path) -> None:
    plan = plan_of(tmp_path, ("from_mouth = 60\n", "from_mouth = 20\n"))
    found = warning(plan)
    assert found is not None
    assert (found.level, found.where) == ("warning", "radio")
    assert found.numbers["station"] == pytest.approx(STATION, abs=0.01)
    assert found.numbers["to_opening"] == pytest.approx(to_window(plan, 20.0), abs=0.02)
    assert found.numbers["to_end"] == pytest.approx(STATION, abs=0.01)
    assert "to_non_metal" not in found.numbers
    assert "inside aluminium" in found.message
    assert 'opening "window"' in found.message
    assert found.remedy is not None
    assert "common practice, no source" in found.remedy.text


def test_a_segment_that_is_no_metal_is_a_way_out_and_quiet_inside(tmp_path: Path) -> None:
    far = ("from_mouth = 60\n", "from_mouth = 9\n")
    plan = plan_of(tmp_path, far, (HEAD, HEAD + 'material = "acrylic"\n'))
    found = warning(plan)
    assert found is not None
    assert found.numbers["to_non_metal"] == pytest.approx(120 - STATION, abs=0.01)
    assert distance(plan) == pytest.approx(120 - STATION, abs=0.01)
    assert 'segment "head" of acrylic' in found.message
    near = plan_of(tmp_path, far, (HEAD, HEAD + 'material = "acrylic"\n'), ("length = 40", "length = 83"))
    # 43 mm further in the antenna is 9.1 mm from the joint
    assert distance(near) == pytest.approx(120 - STATION - 43, abs=0.01)
    assert warning(near) is None
    inside = plan_of(tmp_path, far, ('name = "grip"\n', 'name = "grip"\nmaterial = "PVC"\n'))
    assert distance(inside) == 0.0
    assert warning(inside) is None
    # a material that nobody tabled counts as metal
    unknown = plan_of(tmp_path, far, ('name = "grip"\n', 'name = "grip"\nmaterial = "mystery"\n'))
    assert warning(unknown) is not None
    assert "tube-material" in {f.code for f in unknown.findings}
    declared = 'name = "grip"\nmaterial = "mystery"\nconducts = false\n'
    told = plan_of(tmp_path, far, ('name = "grip"\n', declared))
    assert warning(told) is None
    assert "tube-material" not in {f.code for f in told.findings}


def test_a_metal_segment_that_overlaps_plastic_covers_it(tmp_path: Path) -> None:
    plan = plan_of(
        tmp_path,
        ("from_mouth = 60\n", "from_mouth = 9\n"),
        ('name = "grip"\n', 'name = "grip"\noverlap = 20\n'),
        ("from_mouth = 120\nlength = 60", 'from_mouth = 100\nlength = 80\nmaterial = "acrylic"'),
        ("{ from_mouth = 120,", "{ from_mouth = 100,"),
    )
    found = warning(plan)
    assert found is not None
    assert found.numbers["to_non_metal"] == pytest.approx(120 - STATION, abs=0.01)


def test_turning_the_board_round_is_tried_where_it_helps(tmp_path: Path) -> None:
    edits = (
        ("from_mouth = 60\n", "from_mouth = 45\n"),
        ('part = "radio board"', 'part = "radio board"\nboard_height = 13'),
    )
    found = warning(plan_of(tmp_path, *edits))
    assert found is not None
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.value, found.remedy.tried) == ("section[1].front", "near", True)


def test_what_another_section_stands_in_is_no_window_but_ones_own_is(tmp_path: Path) -> None:
    own = ('part = "radio board"', 'part = "radio board"\nboard_height = 13\nat_opening = "window"')
    filled = ("length = 40", 'length = "fill"')
    far = ('kind = "lead_bay"\nname = "far bay"', 'kind = "end_plate"\nname = "far bay"')
    plan = plan_of(tmp_path, own, filled, (far[0] + "\nlength = 20", far[1]))
    # the antenna is 11.5 mm beyond the window's middle
    (radio,) = (s for s in plan.sections if s.name == "radio")
    depth = 20.0 - radio.parts[0].frame.origin[1] - 1.7
    assert distance(plan) == pytest.approx(math.hypot(depth, 11.5 - 7.0), abs=0.02)
    assert warning(plan) is None


def test_a_round_metal_tube_carries_no_wave_below_its_first_mode() -> None:
    """Source: the first mode of a round guide, c / (1.706 x diameter), as textbooks on waveguides round it."""
    assert cutoff_ghz(38.0) == pytest.approx(299.792458 / (1.706 * 38.0), rel=1e-3)
