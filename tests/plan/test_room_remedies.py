"""Remedies of errors on room: the program tries keys that widen or narrow, and names the one that passes."""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen.findings import Finding
from tests.plan.support import planned

HEAD = """
[build]
title = "room"

[tube]
chassis_offset = 2

[[tube.segment]]
length = 240
bores = [{{ from_mouth = 0, diameter = {bore} }}]
"""
CUSTOM = '\n[[section]]\nkind = "custom"\nname = "held"\npart = "cell 18650"\n'
PLATE = '\n[[section]]\nkind = "end_plate"\nname = "{name}"\n{more}\n'
PORT = '\n[[section]]\nkind = "port_bay"\nname = "port"\n'
GLOW = (
    '\n[[section]]\nkind = "glow_chamber"\nname = "glow"\npart = "glow rod 12 mm"\nled = "led 3 mm"\n{more}\n'
)
SUNK = 'holes = [{ kind = "clearance", thread = "M4", circle_diameter = 19.6 }]'


def told(root: Path, bore: float, text: str, code: str) -> Finding:
    return next(f for f in planned(root, HEAD.format(bore=bore) + text).findings if f.code == code)


@pytest.mark.parametrize(
    ("bore", "text", "code", "key", "value"),
    [
        # a cell of 65 mm lies along the tube, not across it
        (44, CUSTOM, "part-outside-bore", "section[0].along", "z"),
        (44, CUSTOM, "spine-thin", "section[0].along", "z"),
        # at the end the jack's 22 mm lie along the tube
        (30, PORT, "port-deep", "section[0].mount", "axial"),
        # a rear wall of 3 mm is narrower than what holds both ends together
        (24, GLOW.format(more="rear_wall = 3"), "rear-wall", "section[0].rear_wall", None),
        (28, PLATE.format(name="p", more=SUNK), "edge-distance", "section[0].holes[0].circle_diameter", None),
    ],
)
def test_an_error_on_room_names_a_key_that_passes(
    tmp_path: Path, bore: float, text: str, code: str, key: str, value: object
) -> None:
    remedy = told(tmp_path, bore, text, code).remedy
    assert remedy is not None
    assert (remedy.key, remedy.tried) == (key, True)
    assert value is None or remedy.value == value


def test_each_of_two_findings_that_bar_the_solids_names_its_own_remedy_untold_of_the_rest(
    tmp_path: Path,
) -> None:
    """Neither plan could be built with one remedy alone, so neither is called passing."""
    two = CUSTOM.replace('"held"', '"one"') + CUSTOM.replace('"held"', '"two"')
    found = [
        f for f in planned(tmp_path, HEAD.format(bore=44) + two).findings if f.code == "part-outside-bore"
    ]
    remedies = [f.remedy for f in found]
    assert [r and (r.key, r.value, r.tried) for r in remedies] == [
        ("section[0].along", "z", False),
        ("section[1].along", "z", False),
    ]
