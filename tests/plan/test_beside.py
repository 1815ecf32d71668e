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


def test_a_companion_is_pinned_within_its_host(tmp_path: Path) -> None:
    radio = planned(tmp_path, BUILD.replace('beside = "sound"', 'beside = "sound"\nstation = 17.5')).sections[
        2
    ]
    assert (radio.name, radio.z0) == ("radio", 17.5)


def test_both_boards_are_seated_in_one_body(tmp_path: Path) -> None:
    folder = tmp_path
    planned(folder)
    result = pipeline.check_build(pipeline.load_build(Workspace(folder), "pair"))
    assert not [f for f in result.findings if f.level == "error"]
    assert {p.part for p in result.plays} == {"sound", "radio"}
    assert result.solids is not None
    assert len(result.solids.pieces["chassis"].components()) == 1


def test_a_companion_of_a_hollow_bay_is_told_so_and_no_solid_is_tried(tmp_path: Path) -> None:
    planned(
        tmp_path, BUILD.replace("length = 12", "length = 60").replace('beside = "sound"', 'beside = "bay"')
    )
    result = pipeline.check_build(pipeline.load_build(Workspace(tmp_path), "pair"))
    (finding,) = [f for f in result.findings if f.level == "error"]
    assert (finding.code, finding.where) == ("beside-hollow", "radio")
    assert result.solids is None


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
        ('beside = "sound"', 'beside = "sound"\nstation = 15', '1 mm below "sound"'),
        ('beside = "sound"', 'beside = "sound"\nstation = 60', 'mm beyond "sound"'),
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


SCREEN = """
[[section]]
kind = "display_window"
name = "screen"
beside = "sound"
clock_deg = 270
"""
# the catalogue's screen board: 12 mm wide, 1.2 thick, 1.6 high, 1.2 below; the sound board: pins 1.5 +-0.5 below
THICK = '[part."{part}"]\n{size} = {value}\n'


def with_screen(bore: float) -> str:
    text = BUILD.replace("diameter = 40", f"diameter = {bore:g}")
    first, last = (
        text.index('[[section]]\nkind = "board_tray"\nname = "radio"'),
        text.index('[[section]]\nkind = "end_plate"'),
    )
    sound = text[:first].replace('part = "sound board"', 'part = "sound board"\nboard_height = 0')
    return sound + SCREEN + "\n" + text[last:]


def gap_to_screen(bore: float, thickness: float = 1.2, below: float = 1.5 + 0.5) -> float:
    """Plane geometry: the screen's cable slot over the axis, less how far the room under the board reaches down.

    The chassis is 0.15 mm per side and the printer's 0.1 mm smaller than the bore, and relieved by 0.45 mm; the bezel
    is 1 mm thick where it is 12.4 + 2 x 1.5 mm wide, and the screen lies 0.3 mm under it.
    """
    radius = (bore - 2 * 0.15 - 0.1) / 2 - 0.45
    face = math.sqrt(radius**2 - (12.4 / 2 + 1.5) ** 2) - 1.0 - 0.3
    slot = face - (thickness + 1.6) - (3.0 + 1.2)
    return slot - (below + 0.5 + 0.02)


def test_a_display_beside_a_board_keeps_its_wall(tmp_path: Path) -> None:
    assert gap_to_screen(31) > 0.8
    plan = planned(tmp_path, with_screen(31))
    assert not [f for f in plan.findings if f.level == "error"]


@pytest.mark.parametrize(
    ("part", "size", "value", "gap"),
    [
        ("display 12 mm", "thickness", 1.2 + 3, gap_to_screen(31, thickness=4.2)),
        ("sound board", "height_below", 1.5 + 3, gap_to_screen(31, below=4.5 + 0.3)),
    ],
)
def test_a_display_beside_a_board_3_mm_too_thick_names_the_overlap(
    tmp_path: Path, part: str, size: str, value: float, gap: float
) -> None:
    text = with_screen(31) + THICK.format(part=part, size=size, value=value)
    plan = planned(tmp_path, text)
    (found,) = [f for f in plan.findings if f.level == "error"]
    assert (found.code, found.where) == ("beside-overlap", "screen")
    assert found.numbers["gap"] == pytest.approx(gap, abs=1e-3)
    assert found.numbers["short_by"] == pytest.approx(0.8 - gap, abs=1e-3)
    assert 'room below the board of "sound" and cable slot of "screen"' in found.message
    assert f"overlap by {-gap:.2f} mm" in found.message


def test_overlapping_boards_get_a_tried_remedy(tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD.replace("board_height = 11", "board_height = 3"))
    (found,) = [f for f in plan.findings if f.code == "beside-overlap"]
    assert found.remedy is not None
    assert found.remedy.tried
    assert found.remedy.key == "section[2].board_height"
    text = BUILD.replace("board_height = 11", f"board_height = {found.remedy.value}")
    assert not [f for f in planned(tmp_path, text).findings if f.level == "error"]


@pytest.mark.parametrize(("bore", "companion"), [(40, ""), (42, "radio")])
def test_no_thin_lip_stands_between_a_wire_gate_and_a_bands_end(
    tmp_path: Path, bore: float, companion: str
) -> None:
    """The default tray first in the chassis: its gate ends 0.46 mm before the band does."""
    text = BUILD.replace("diameter = 40", f"diameter = {bore}")
    bay = text.index('[[section]]\nkind = "lead_bay"')
    first, radio, end = (text.index(f'name = "{n}"') for n in ("sound", "radio", "end"))
    cut = {
        n: text.rindex("[[section]]", 0, at) for n, at in (("sound", first), ("radio", radio), ("end", end))
    }
    text = text[:bay] + text[cut["sound"] : cut["end"] if companion else cut["radio"]]
    planned(tmp_path, text)
    result = pipeline.check_build(pipeline.load_build(Workspace(tmp_path), "pair"))
    assert not [f for f in result.findings if f.level == "error"]
