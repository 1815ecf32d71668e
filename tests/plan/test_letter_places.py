"""Places that texts keep: wires go round them, and where they can't, that is told with numbers."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from chassis_gen.checks.lettering import check_lettering
from chassis_gen.findings import Finding
from chassis_gen.pipeline import solids_of
from chassis_gen.plan.chassis import ChassisPlan
from tests.plan.support import planned

KEEP = "keep_place = true"
BUILD = """
[build]
title = "Label"
[tube]
chassis_offset = 2.0
[[tube.segment]]
length = 220
bores = [{ from_mouth = 0, diameter = 40 }]
[[section]]
kind = "speaker_cup"
name = "cup"
part = "speaker 28 mm"
cap = "none"
[[section]]
kind = "lead_bay"
name = "near bay"
length = 16
[[section]]
kind = "end_plate"
name = "label"
thickness = 60
[[section]]
kind = "lead_bay"
name = "far bay"
piece = "FAR"
length = 16
[[section]]
kind = "cell_cradle"
name = "cell"
piece = "FAR"
part = "cell 14500"
[[wire]]
name = "plus"
from = "cell.plus"
to = "cup.plus"
gauge_awg = 26
insulation = "ptfe"
[[wire]]
name = "minus"
from = "cell.minus"
to = "cup.minus"
gauge_awg = 26
insulation = "ptfe"
"""
TURNING = BUILD.replace('"FAR"', '"chassis"')
NO_TURN = (
    TURNING.replace(TURNING[TURNING.index('[[section]]\nkind = "lead_bay"\nname = "far') :], "")
    + (TURNING[TURNING.index('[[section]]\nkind = "cell') :])
)
"""Without a bay before the cell its wires stay at the clocks at which they leave it."""


def text(clock: float, *more: str) -> str:
    lines = ('text = "FERRY"', 'section = "label"', f"clock_deg = {clock}", "size = 5", *more)
    return "\n".join(["[[lettering]]", *lines, ""])


def lane_clock(root: Path, build: str) -> float:
    """Return the clock of a lane that the label's section has without texts."""
    lane = next(x for x in planned(root, build).lanes if x.section == "label")
    return (lane.clock_from + lane.clock_to) / 2 % 360.0


def errors(plan: ChassisPlan) -> list[Finding]:
    return [f for f in plan.findings if f.level == "error"]


def test_wires_go_round_a_place_that_a_text_keeps(tmp_path: Path) -> None:
    clock = lane_clock(tmp_path / "bare", TURNING)
    yields = planned(tmp_path / "yields", TURNING + text(clock))
    assert [f.code for f in errors(yields)] == ["text-room"]

    plan = planned(tmp_path / "keeps", TURNING + text(clock, KEEP))
    assert errors(plan) == []
    (placed,) = plan.lettering
    assert placed.patch is not None
    z0, z1, a, b = placed.patch
    radius = plan.outer.smallest_radius(z0, z1)
    lanes = [x for x in plan.lanes if x.section == "label"]
    assert {w for x in lanes for w in x.wires} == {"plus", "minus"}
    for lane in lanes:
        # round the circle from the text's one edge to the lane, and from the lane to its other edge
        beside = min((lane.clock_from - b) % 360.0, (a - lane.clock_to) % 360.0)
        assert math.radians(beside) * radius >= plan.rules.least_wall
    solids = solids_of(plan)
    assert check_lettering(plan, solids) == ()
    assert len(solids.pieces["chassis"].components()) == 1


def test_a_place_on_an_end_face_is_kept_too(tmp_path: Path) -> None:
    clock = lane_clock(tmp_path / "bare", BUILD)
    rim = text(clock, 'face = "far"', "from_axis = 15.5").replace("FERRY", "F")
    assert "text-room" in [f.code for f in errors(planned(tmp_path / "yields", BUILD + rim))]
    plan = planned(tmp_path / "keeps", BUILD + rim + KEEP)
    assert errors(plan) == []
    assert [t.text for t in plan.lettering] == ["F"]
    assert not plan.unrouted


def test_wires_that_a_place_bars_are_named_with_another_clock_that_passes(tmp_path: Path) -> None:
    fields = ('style = "raised"', "margin = 6", KEEP)
    plan = planned(tmp_path, NO_TURN + text(221, *fields) + text(319, *fields))
    assert [t.text for t in plan.lettering] == ["FERRY", "FERRY"]
    assert {w.id for w in plan.unrouted} == {"plus", "minus"}
    barred = {f.where: f for f in errors(plan) if f.code == "place-bars-wires"}
    assert set(barred) == {"lettering[0]", "lettering[1]"}
    for finding in barred.values():
        assert finding.numbers["wires"] == 1.0
        # letters 5 mm high with 6 mm of panel about them and 0.8 mm of wall; a degree at each side is rounded up
        radius = plan.outer.smallest_radius(finding.numbers["station_from"], finding.numbers["station_to"])
        wide = 5.0 + 2 * (6.0 + 0.8) + 2 * math.radians(1.0) * radius
        assert finding.numbers["width"] == pytest.approx(wide, abs=0.3)
        assert finding.remedy is not None
        assert finding.remedy.tried
        assert str(finding.remedy.key).endswith(".clock_deg")
    one = planned(tmp_path / "one", NO_TURN + text(221, *fields))
    assert errors(one) == []
    assert not one.unrouted
