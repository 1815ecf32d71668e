"""Why a wire found no way: the true cause in words, and keys that were tried."""

from __future__ import annotations

from pathlib import Path

from chassis_gen.findings import Finding
from chassis_gen.plan.lanes import lay_wires
from chassis_gen.plan.model import Gallery, Obstacle, Sector
from tests.plan.support import ground, planned, section, terminal, wire

TORCH = """
[build]
title = "narrow torch"

[bearing]
flat_width = 4

[tube]
chassis_offset = 1
chassis_end = 100

[[tube.segment]]
length = 102
wall = 1
bores = [{ from_mouth = 0, diameter = 16.0 }]

[[section]]
kind = "cell_cradle"
name = "cell"
bearing = true
part = "cell AAA"

[[section]]
kind = "lead_bay"
name = "bay"

[[section]]
kind = "light_head"
name = "light"
light = "led_round"
part = "led 3 mm"

[[wire]]
from = "cell.minus"
to = "light.minus"
gauge_awg = 30
"""


def unrouted(root: Path, text: str) -> Finding:
    (found,) = (f for f in planned(root, text).findings if f.code == "wire-unrouted")
    return found


def test_a_rail_before_all_clocks_of_a_wire_is_named_and_made_narrower(tmp_path: Path) -> None:
    found = unrouted(tmp_path, TORCH)
    assert found.message.startswith('wire 1 (cell.minus to light.minus) comes to "bay" at clock 2')
    assert "its rail bars it there; between cell.minus and there it passes no gallery" in found.message
    assert "along the axis" not in found.message
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.tried) == ("section[1].rail_width", True)


def test_a_section_without_room_bears_all_along(tmp_path: Path) -> None:
    """A bearing section is wider by the relief of 0.45 mm per side."""
    found = unrouted(
        tmp_path,
        TORCH.replace("bearing = true\n", "").replace('name = "bay"', 'name = "bay"\nrail_width = 4'),
    )
    assert found.message.startswith('"cell" has no room for wire 1')
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.value, found.remedy.tried) == ("section[0].bearing", True, True)


def test_wires_that_their_pins_bar_in_one_section_are_cured_each_by_itself(tmp_path: Path) -> None:
    pins = [f'via = [{{ section = "bay", clock_deg = {c} }}]' for c in (90, 100)]
    wire = '\n[[wire]]\nfrom = "cell.minus"\nto = "light.minus"\ngauge_awg = 32\n'
    roomy = TORCH.partition("[[wire]]")[0].replace("diameter = 16.0", "diameter = 24.0")
    assert not planned(tmp_path, roomy + wire + wire).unrouted
    found = planned(tmp_path, roomy + "".join(f"{wire}{p}\n" for p in pins)).findings
    barred = [f for f in found if f.code == "wire-unrouted"]
    assert [f.where for f in barred] == ["bay", "bay"]
    for k, f in enumerate(barred):
        pinned = f'"bay" at clock {(90, 100)[k]} (via), to which it is pinned; it has a way without that'
        assert f.message.endswith(pinned)
        assert f.remedy is not None
        assert (f.remedy.key, f.remedy.value, f.remedy.tried) == (
            f"wire[{k}].via",
            [{"section": "bay"}],
            True,
        )


def test_galleries_before_the_block_are_not_blamed_for_their_length() -> None:
    """A wire that may turn anywhere in a bay of 48 mm comes to a section that is shut all round but for its exits."""
    shut = Obstacle(Sector(20.0, 340.0), 60.0, 70.0, "pad")
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5, ((60, 70),))]),
        section("bay", 10, 58, galleries=[Gallery(34.0, 48.0, "bay", open_room=True, inner_radius=10.0)]),
        section("b", 58, 80, [shut], terminals=[terminal("b.x", 78, ((150, 160),))]),
    ]
    (found,) = lay_wires([wire("w", "a.x", "b.x")], ground(parts)).findings
    assert (
        "b.x is reached at clock 150 to 160; the galleries before it lead to no other clock" in found.message
    )
