"""The tube as it really is: joints, collars, form of the bore, openings measured more or less well."""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import check_build, load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import Sector
from chassis_gen.plan.transfer import PAD_THICKNESS, transfer_obstacles
from chassis_gen.plan.tube import Bore, OuterStretch, Segment, Tube
from chassis_gen.problems import InputError
from tests.plan.support import planned, write_build

BUILD = """
[build]
title = "two lengths"

[tube]
chassis_offset = 4
chassis_end = 150

[[tube.segment]]
name = "grip"
length = 100
overlap = 12
bores = [{ from_mouth = 0, diameter = 40.0 }]

[[tube.segment]]
name = "head"
from_mouth = 88
length = 90
bores = [{ from_mouth = 88, diameter = 36.0 }, { from_mouth = 110, diameter = 38.0 }]

[[tube.opening]]
name = "button"
from_mouth = 120
clock_deg = 30
diameter = 12.2

[[section]]
kind = "end_plate"
name = "near"

[[section]]
kind = "lead_bay"
name = "bay"

[[section]]
kind = "end_plate"
name = "far"
"""
HEAD = 'name = "head"\n'
SECOND = '[[section]]\nkind = "lead_bay"\nname = "second"\n\n'


def findings(plan: ChassisPlan, code: str) -> list[str]:
    return [f.message for f in plan.findings if f.code == code]


def refused(root: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        planned(root, text)
    return [p.text() for p in caught.value.problems]


def test_where_segments_overlap_the_narrower_bore_stands() -> None:
    a = Segment("a", 0.0, 100.0, 2.0, "brass", (Bore(0.0, 100.0, 40.0, 0.1),), overlap=12.0)
    b = Segment("b", 88.0, 178.0, 2.0, "brass", (Bore(88.0, 110.0, 36.0, 0.1), Bore(110.0, 178.0, 38.0, 0.1)))
    tube = Tube((a, b), ())
    assert [(s.z0, s.z1, s.diameter) for s in tube.bores] == [
        (0.0, 88.0, 40.0), (88.0, 110.0, 36.0), (110.0, 178.0, 38.0),
    ]  # fmt: skip
    # the outside in the overlap is that of the wider segment: 40 and two walls of 2
    assert (tube.outer_diameter(95.0), tube.outer_diameter(120.0)) == (44.0, 42.0)


def test_an_outer_profile_stands_before_the_wall() -> None:
    bores = (Bore(0.0, 50.0, 30.0, 0.1),)
    s = Segment("a", 0.0, 50.0, 2.0, "brass", bores, (OuterStretch(0, 20, 36.0), OuterStretch(20, 50, 38.0)))
    tube = Tube((s,), ())
    assert (tube.outer_diameter(10.0), tube.outer_diameter(30.0)) == (36.0, 38.0)


def test_an_overlap_moves_the_next_segment(tmp_path: Path) -> None:
    planned(tmp_path, BUILD)
    (text,) = refused(tmp_path, BUILD.replace("overlap = 12", "overlap = 10"))
    assert text.endswith(
        'segment "head" begins at 88, the one before ends at 100 and overlaps by 10; read 88; allowed: 90'
    )


def test_a_joint_whose_stop_is_unknown_is_warned_of(tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD)
    (message,) = findings(plan, "joint-clock-unknown")
    assert message.startswith('opening "button" is drilled in segment "head"; nobody measured at which clock')


def test_a_measured_stop_turns_the_openings_of_its_segment(tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD.replace(HEAD, HEAD + "stop_clock_deg = 350\n"))
    assert findings(plan, "joint-clock-unknown") == []
    (opening,) = plan.tube.openings
    assert opening.clock_deg == 20.0
    assert [t.value for t in plan.dimensions["tube.button.clock"].terms] == [30.0, 350.0]


def test_an_opening_in_the_first_segment_needs_no_stop(tmp_path: Path) -> None:
    plan = planned(tmp_path, BUILD.replace("from_mouth = 120", "from_mouth = 60"))
    assert findings(plan, "joint-clock-unknown") == []


def test_an_opening_in_the_overlap_goes_through_the_thread(tmp_path: Path) -> None:
    text = BUILD.replace("from_mouth = 120", "from_mouth = 94")
    assert len(findings(planned(tmp_path, text), "opening-in-thread")) == 1
    other = text.replace("diameter = 12.2", 'diameter = 12.2\nsegment = "head"')
    assert len(findings(planned(tmp_path, other), "joint-clock-unknown")) == 1


def test_an_opening_of_a_segment_that_isnt_there(tmp_path: Path) -> None:
    wrong = BUILD.replace("diameter = 12.2", 'diameter = 12.2\nsegment = "hed"')
    (text,) = refused(tmp_path, wrong)
    assert text.endswith(
        'the tube has no segment "hed"; read "hed"; allowed: grip, head; did you mean "head"?'
    )
    wrong = BUILD.replace("diameter = 12.2", 'diameter = 12.2\nsegment = "grip"')
    (text,) = refused(tmp_path, wrong)
    assert 'segment "grip" reaches from 0 to 100, the opening lies at 120' in text


def test_the_form_of_a_bore_is_in_its_sum_and_its_fit(tmp_path: Path) -> None:
    """Half the ovality and half the taper lie either side of the mean diameter."""
    text = BUILD.replace("diameter = 40.0 }", "diameter = 40.0, ovality = 0.08, taper = -0.05 }")
    plan, plain = planned(tmp_path, text), planned(tmp_path, BUILD)
    bearing = plan.dimensions["chassis.bearing_diameter"]
    assert [(t.label, t.value, t.tolerance, t.uniform) for t in bearing.terms[-2:]] == [
        ("bore ovality", 0.0, 0.04, True), ("bore taper", 0.0, 0.025, True),
    ]  # fmt: skip
    assert bearing.total == plain.dimensions["chassis.bearing_diameter"].total
    fit = next(f for f in plan.fits if f.id == "chassis.bearing_diameter@4")
    before = next(f for f in plain.fits if f.id == "chassis.bearing_diameter@4")
    assert set(fit.uniform_terms) - set(before.uniform_terms) == {0.02, 0.0125}


COLLAR = """
[[tube.collar]]
name = "ring"
from_mouth = 110
length = 20
inner_diameter = {inner}

[[tube.plug]]
name = "grub screw"
opening = "button"
outer_end = {end}
"""


def test_a_plug_under_a_collar_ends_below_the_covered_outside(tmp_path: Path) -> None:
    """The head's outside is 38 + 2 x 1.5 = 41, its radius 20.5."""
    low = BUILD + COLLAR.format(inner=41.4, end=20.2)
    assert findings(planned(tmp_path, low), "collar-blocked") == []
    high = BUILD + COLLAR.format(inner=41.4, end=20.6)
    (message,) = findings(planned(tmp_path, high), "collar-blocked")
    assert message == (
        'grub screw in opening "button" ends 20.60 mm from the axis; under the collar "ring" it must end below '
        "the tube's outside, 20.50 mm"
    )
    beside = high.replace("from_mouth = 110\nlength", "from_mouth = 130\nlength")
    assert findings(planned(tmp_path, beside), "collar-blocked") == []


def test_a_part_stands_in_a_collars_way(tmp_path: Path) -> None:
    """A board 1.6 mm thick whose underside lies 20 mm over the axis: 21.6 mm and what stands on it."""
    section = (
        '[[section]]\nkind = "custom"\nname = "high"\npart = "radio board"\nheight = 20\nstation = 105\n\n'
    )
    section += SECOND
    at = BUILD.index('[[section]]\nkind = "end_plate"\nname = "far"')
    text = BUILD[:at] + section + BUILD[at:] + COLLAR.split("[[tube.plug]]", maxsplit=1)[0].format(inner=41.4)
    (message,) = findings(planned(tmp_path, text), "collar-blocked")
    assert message.startswith("high reaches 2")
    assert message.endswith('under the collar "ring", whose inside is 20.70 mm from it')


def test_collars_and_plugs_that_cant_be(tmp_path: Path) -> None:
    (text,) = refused(tmp_path, BUILD + COLLAR.format(inner=40.5, end=20))
    assert text.endswith(
        'collar "ring" is 40.5 wide inside, the tube under it 41; read 40.5; allowed: at least 41'
    )
    long = COLLAR.format(inner=42, end=20).replace("length = 20", "length = 90")
    (text,) = refused(tmp_path, BUILD + long)
    assert 'collar "ring" ends at 200, beyond the tube\'s end' in text
    (text,) = refused(tmp_path, BUILD + COLLAR.format(inner=42, end=20).replace('"button"', '"buton"'))
    assert 'the tube has no opening "buton"' in text


TRANSFER = BUILD.replace("diameter = 12.2", "diameter = 3.2\ntransfer = true").replace(
    "from_mouth = 120", "from_mouth = 60"
)


def test_a_transfer_hole_has_a_pad_a_step_and_no_lane(tmp_path: Path) -> None:
    """No lane within the drill's radius and 2 mm: the job's own figure."""
    plan = planned(tmp_path, TRANSFER)
    (message,) = findings(plan, "transfer-hole")
    assert (
        "slide the chassis home, then drill it through the tube's hole at station 60.0 mm, clock 30"
        in message
    )
    (obstacle,) = transfer_obstacles(plan.tube, plan.sections)
    assert (obstacle.z0, obstacle.z1) == (60 - 3.6, 60 + 3.6)
    assert isinstance(obstacle.shape, Sector)
    # half the chord of 7.2 mm on the bore's radius of 20 mm is an angle of 10.37 degrees
    assert obstacle.shape.clock_from <= 30 - 10.36
    assert obstacle.shape.clock_to >= 30 + 10.36


def test_the_pad_of_a_transfer_hole_is_solid_and_hangs_on_the_rails(tmp_path: Path) -> None:
    result = check_build(load_build(write_build(tmp_path, TRANSFER), "trial"))
    assert result.verdict == "pass"
    assert result.solids is not None
    body = result.solids.pieces["chassis"]
    assert len(body.components()) == 1
    from chassis_gen.shapes.frame import radial
    from chassis_gen.shapes.mesh import solid
    from chassis_gen.shapes.primitives import Cylinder

    radius = result.plan.outer.smallest_radius(56.0, 64.0)
    drill = solid(Cylinder(1.6, radius - PAD_THICKNESS + 0.3, radius - 0.4, radial(30.0, 60.0)), 0.01)
    assert body.common_volume(drill) == pytest.approx(drill.volume, rel=1e-6)


TRAY = """
[build]
title = "drilled over a tray"

[tube]
chassis_offset = 2

[[tube.segment]]
length = 140
bores = [{ from_mouth = 0, diameter = 44.0 }]

[[tube.opening]]
name = "drill"
from_mouth = 30
diameter = 6
transfer = true

[[section]]
kind = "board_tray"
name = "tray"
part = "sound board"

[[section]]
kind = "lead_bay"
name = "bay"
length = 20
"""


def test_a_transfer_hole_over_an_open_tray_is_told_with_a_place_that_is_solid(tmp_path: Path) -> None:
    """Where a pad would lie in a board's way there is none: it would hang in the air."""
    result = check_build(load_build(write_build(tmp_path / "a", TRAY), "trial"))
    assert [f.code for f in result.findings if f.level == "error"] == ["transfer-over-void"]
    (told,) = (f for f in result.findings if f.code == "transfer-over-void")
    assert told.where == "drill"
    assert "board pocket, open top of the tray" in told.message
    assert not any(f.code == "transfer-hole" for f in result.findings)
    remedy = told.remedy
    assert remedy is not None
    assert remedy.tried
    assert remedy.key == "tube.opening[0].from_mouth"
    moved = TRAY.replace("from_mouth = 30", f"from_mouth = {remedy.value}")
    result = check_build(load_build(write_build(tmp_path / "b", moved), "trial"))
    assert result.verdict == "pass"


def test_a_pad_keeps_out_of_the_slots_of_a_tie(tmp_path: Path) -> None:
    """The bay's second rail stands on top and has slots 5 mm from the bay's ends; 3.2 / 2 + 2 mm lie under the drill."""
    tied = TRANSFER.replace('kind = "lead_bay"', 'kind = "lead_bay"\nties = "both"').replace(
        "clock_deg = 30", "clock_deg = 80"
    )
    bay = next(s for s in planned(tmp_path, tied).sections if s.name == "bay")
    near = tied.replace("from_mouth = 60", f"from_mouth = {bay.z0 + 6}")
    plan = planned(tmp_path, near)
    assert "in the way: tie's slots" in findings(plan, "transfer-over-void")[0]
    assert findings(planned(tmp_path, tied), "transfer-over-void") == []


def test_an_opening_that_was_measured_badly_is_doubtful(tmp_path: Path) -> None:
    """0.3 mm along and 2 degrees on a radius of 20.5 mm, 0.716 mm: together 0.776 mm, over a tenth of 6.1 mm."""
    text = BUILD.replace(
        "diameter = 12.2", "diameter = 12.2\nfrom_mouth_tolerance = 0.3\nclock_tolerance_deg = 2"
    )
    section = '[[section]]\nkind = "switch_block"\nname = "button"\nat_opening = "button"\n\n' + SECOND
    at = text.index('[[section]]\nkind = "end_plate"\nname = "far"')
    plan = planned(tmp_path, text[:at] + section + text[at:])
    (message,) = findings(plan, "opening-doubtful")
    assert "+-0.30 mm along and +-0.72 mm round the tube, 0.78 mm together" in message


def test_a_tube_file_with_collars_serves_a_build(tmp_path: Path) -> None:
    (tmp_path / "profiles" / "tubes").mkdir(parents=True)
    tube = BUILD[BUILD.index("[[tube.segment]]") : BUILD.index("[[section]]")].replace("[[tube.", "[[")
    (tmp_path / "profiles" / "tubes" / "own.toml").write_text(
        tube + COLLAR.format(inner=42, end=20).replace("[[tube.", "[[")
    )
    head, rest = BUILD[: BUILD.index("[[tube.segment]]")], BUILD[BUILD.index("[[section]]") :]
    build = head.replace("[tube]\n", '[tube]\nlike = "own"\n') + rest
    (tmp_path / "profiles" / "b").mkdir()
    (tmp_path / "profiles" / "b" / "build.toml").write_text(build)
    plan = load_build(Workspace(tmp_path), "b").inputs
    assert plan.tube_file is not None
    assert [c.name for c in plan.tube_file.collar] == ["ring"]
