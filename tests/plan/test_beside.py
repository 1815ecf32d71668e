"""Sections beside each other: gaps against plane geometry, and one build with a companion."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from chassis_gen import pipeline
from chassis_gen.params.workspace import Workspace
from chassis_gen.plan.beside import _gap
from chassis_gen.plan.model import Disc, Obstacle, Sector, Slab
from chassis_gen.problems import InputError

BUILD = """
[build]
title = "two boards in one body"

[tube]
chassis_offset = 4

[[tube.segment]]
length = 200
bores = [{ from_mouth = 0, diameter = 40 }]

[[section]]
kind = "lead_bay"
name = "bay"
length = 12

[[section]]
kind = "board_tray"
name = "sound"
part = "sound board"

[[section]]
kind = "board_tray"
name = "radio"
part = "radio board"
beside = "sound"
clock_deg = 250
board_height = 11

[[section]]
kind = "end_plate"
name = "end"
"""


def planned(tmp_path: Path, text: str = BUILD) -> pipeline.ChassisPlan:
    folder = tmp_path / "profiles" / "pair"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_text(text)
    return pipeline.plan_of(pipeline.load_build(Workspace(tmp_path), "pair"))


def room(shape: Disc | Slab | Sector, z0: float = 0.0, z1: float = 10.0) -> Obstacle:
    return Obstacle(shape, z0, z1, "room")


def test_gap_of_two_slabs_is_the_distance_of_their_sides() -> None:
    a, b = Slab(-5, 5, 0, 3), Slab(-4, 4, -6, -1.2)
    assert _gap(room(a), room(b)) == pytest.approx(1.2)


def test_overlap_is_the_least_way_apart() -> None:
    a, b = Slab(-5, 5, 0, 3), Slab(-4, 4, -6, 0.7)
    assert _gap(room(a), room(b)) == pytest.approx(-0.7)


def test_disc_and_turned_slab() -> None:
    """Plane geometry: a slab turned by 90 degrees with its face at x = -3 and a disc of radius 2 at x = 1."""
    slab = Slab(-4, 4, 3, 6, top_clock=180)
    assert _gap(room(slab), room(Disc(1, 0, 2))) == pytest.approx(2.0, abs=2 * (1 - math.cos(math.pi / 72)))


@pytest.mark.parametrize("other", [room(Slab(-4, 4, -6, 1), 10.0, 20.0), room(Sector(0, 40))])
def test_rooms_at_other_stations_and_windows_leave_no_gap_to_judge(other: Obstacle) -> None:
    assert _gap(room(Slab(-5, 5, 0, 3)), other) is None


def test_companion_stands_in_the_middle_of_its_host_on_its_own_clock(tmp_path: Path) -> None:
    plan = planned(tmp_path)
    sections = {s.name: s for s in plan.sections}
    sound, radio = sections["sound"], sections["radio"]
    assert radio.z0 + radio.z1 == pytest.approx(sound.z0 + sound.z1, abs=1e-3)
    assert plan.z1 == sections["end"].z1
    assert plan.contexts["radio"].clock_deg == 250
    assert [r.name for p in plan.pieces for r in p.recipes] == ["bay", "sound", "end"]


def test_both_boards_are_seated_in_one_body(tmp_path: Path) -> None:
    folder = tmp_path
    planned(folder)
    result = pipeline.check_build(pipeline.load_build(Workspace(folder), "pair"))
    assert not [f for f in result.findings if f.level == "error"]
    assert {p.part for p in result.plays} == {"sound", "radio"}
    assert result.solids is not None
    assert len(result.solids.pieces["chassis"].components()) == 1


def test_rooms_that_overlap_are_an_error_with_the_overlap(tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD.replace("board_height = 11", "board_height = 3"))
    (finding,) = [f for f in plan.findings if f.code == "beside-overlap"]
    assert finding.where == "radio"
    assert finding.numbers["gap"] < 0
    assert finding.numbers["short_by"] == pytest.approx(0.8 - finding.numbers["gap"])


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('beside = "sound"', 'beside = "sond"', 'there is no section "sond" in line to stand beside'),
        ('beside = "sound"', 'beside = "radio"', 'there is no section "radio" in line to stand beside'),
        ('beside = "sound"', 'beside = "bay"', 'long, "bay" only 12 mm'),
        ('beside = "sound"', 'beside = "sound"\nstation = 30', "stands where that one stands"),
        (
            'kind = "end_plate"',
            'kind = "end_plate"\nbeside = "sound"',
            "a section of kind end_plate needs a body of its own",
        ),
    ],
)
def test_companions_that_can_not_be(tmp_path: Path, old: str, new: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        planned(tmp_path, BUILD.replace(old, new))
    assert any(message in p.message for p in caught.value.problems)
