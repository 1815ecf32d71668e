"""The printing flat beside holes along the tube: figures against plane geometry, and remedies that pass."""

import math
from pathlib import Path

import pytest

from chassis_gen import pipeline
from chassis_gen.checks.result import CheckResult
from chassis_gen.params.workspace import Workspace

CUP = """
[build]
title = "cap with three screws"

[[tube.segment]]
length = 200
bores = [{ from_mouth = 0, diameter = 44 }]

[[section]]
kind = "speaker_cup"
name = "speaker"
part = "speaker 32 mm"
cap = "face"
cap_hold = "screws"
cap_screws = 3

[[section]]
kind = "end_plate"
name = "end"
"""


def checked(tmp_path: Path, text: str) -> CheckResult:
    folder = tmp_path / "profiles" / "cup"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_text(text)
    return pipeline.check_build(pipeline.load_build(Workspace(tmp_path), "cup"))


def test_a_screw_at_the_flat_is_told_by_the_plan_with_remedies_that_the_solids_confirm(
    tmp_path: Path,
) -> None:
    result = checked(tmp_path, CUP)
    errors = [f for f in result.findings if f.level == "error"]
    (found,) = errors
    assert (found.code, found.where) == ("screw-edge", "speaker.cup_screw_2")
    # The flat is the chord of 9 mm at the narrowest radius: Pythagoras; the hole's far side lies below its axis.
    narrowest = min(s.radius for s in result.plan.outer.steps)
    (hole,) = [h for h in result.plan.holes if h.id == found.where]
    reach = -hole.frame.origin[1] + hole.diameter.total / 2
    assert found.numbers["wall"] == pytest.approx(math.sqrt(narrowest**2 - 4.5**2) - reach, abs=1e-3)
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.value, found.remedy.tried) == ("section[0].clock_deg", 105.0, True)
    flats = [c.value for c in found.candidates if c.key == "bearing.flat_width"]
    turned = CUP.replace("cap_screws = 3", "cap_screws = 3\nclock_deg = 105")
    for text in (turned, *(f"{CUP}\n[bearing]\nflat_width = {w}\n" for w in flats)):
        assert not [f for f in checked(tmp_path, text).findings if f.level == "error"], text
