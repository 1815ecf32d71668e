"""A change to a parameter file does what a maker expects: a remedy cures, a longer block leaves its button alone."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

from chassis_gen.pipeline import plan_of
from chassis_gen.plan.chassis import ChassisPlan
from tests.builds.support import (
    checked,
    circle,
    demo_text,
    first_walls,
    loaded,
    onward,
    outward,
    with_key,
    written,
)

GRID = 2.0**-14
"""Stations are rounded to this once, mm."""

TIGHT = """\
[build]
title = "a speaker that is too wide"
material = "PETG"

[tube]
chassis_end = 110

[[tube.segment]]
length = 120
bores = [{ from_mouth = 0, diameter = 38 }]

[[section]]
kind = "speaker_cup"
name = "speaker"
part = "speaker 36 mm"
cap = "round"

[[section]]
kind = "lead_bay"
name = "bay"

[[section]]
kind = "end_plate"
name = "plate"
"""


def test_a_speaker_too_wide_for_a_cap_round_it_is_told_with_its_radial_sum_and_a_remedy_that_passes(
    tmp_path: Path,
) -> None:
    result = checked(tmp_path / "before", TIGHT)
    assert result.verdict == "fail"
    assert result.solids is None
    (finding,) = (f for f in result.findings if f.code == "radial-sum")
    assert finding.where == "speaker"
    # Half of the speaker, then a cup's and a cap's wall: at least speaker + 4 x 0.8 mm across, whatever the rest.
    needed, has = finding.numbers["needed_radius"], finding.numbers["outer_radius"]
    assert 18.0 + 2 * 0.8 < needed < 18.0 + 4.0
    # The chassis slides in a bore of 38 mm.
    assert 19.0 - 0.5 < has < 19.0
    assert finding.numbers["short"] == pytest.approx(needed - has, abs=1e-9)
    for shown in ("18.00 rim radius", f"{needed:.2f} mm", f"{has:.2f} mm", "cup wall", "cap wall"):
        assert shown in finding.message
    terms = finding.message.partition(" = ")[2].partition(";")[0].split(" + ")
    assert sum(float(t.split()[0]) for t in terms) == pytest.approx(needed, abs=0.005)
    remedy = finding.remedy
    assert remedy is not None
    assert remedy.key is not None
    assert remedy.tried
    cured = checked(tmp_path / "after", with_key(TIGHT, remedy.key, remedy.value))
    assert [f for f in cured.findings if f.level == "error"] == []
    assert cured.verdict == "pass"


AUX = 'at_opening = "button"         # pins the station and the clock\n'


def lengthened(text: str, offset: float) -> str:
    """Return the demo with a second switch at a distance going in, and a bay behind the block that fills."""
    longer = text.replace(AUX, f'{AUX}aux = {{ part = "tactile board", offset = {offset} }}\n')
    longer = longer.replace('name = "middle bay"\nlength = 18', 'name = "middle bay"\nlength = "fill"')
    longer = longer.replace('name = "rear bay"\nlength = "fill"', 'name = "rear bay"\nlength = 14')
    assert longer.count("fill") == text.count("fill")
    return with_key(longer, "tube.chassis_end", 284.0)


def stations(plan: ChassisPlan) -> dict[str, tuple[float, float]]:
    """Return near and far end of each section."""
    return {s.name: (s.z0, s.z1) for s in plan.sections}


def test_two_millimetres_more_of_the_switch_block_come_out_of_the_bay_beside_it(tmp_path: Path) -> None:
    text = demo_text("quay-lantern")
    before = checked(tmp_path / "before", lengthened(text, 26.0))
    after = checked(tmp_path / "after", lengthened(text, 28.0))
    assert before.verdict == after.verdict == "pass"
    old, new = stations(before.plan), stations(after.plan)
    moved = {n: (new[n][0] - old[n][0], new[n][1] - old[n][1]) for n in old}
    assert moved["button block"] == pytest.approx((0.0, 2.0), abs=GRID)
    assert moved["middle bay"] == pytest.approx((2.0, 0.0), abs=GRID)
    others = [m for n, m in moved.items() if n not in ("button block", "middle bay")]
    assert others == [(0.0, 0.0)] * len(others)
    for result in (before, after):
        assert_button_at(result, station=118.0, clock=90.0)
        assert_wires_follow(result.plan)


def test_a_block_that_grows_at_both_ends_takes_it_from_both_bays(tmp_path: Path) -> None:
    text = demo_text("quay-lantern")
    grown = text.replace(AUX, f"{AUX}end_wall = 4.2\n")
    old, new = (plan_of(loaded(tmp_path / name, t)) for name, t in (("before", text), ("after", grown)))
    a, b = stations(old), stations(new)
    # The walls are 3.2 mm unless asked otherwise: 1 mm more at each end.
    assert b["button block"][0] - a["button block"][0] == pytest.approx(-1.0, abs=GRID)
    assert b["button block"][1] - a["button block"][1] == pytest.approx(1.0, abs=GRID)
    assert b["front bay"] == pytest.approx((a["front bay"][0], a["front bay"][1] - 1.0), abs=GRID)
    # The middle bay has a length of its own, so what lies behind it moves until the next bay that fills.
    assert b["middle bay"] == pytest.approx(tuple(z + 1.0 for z in a["middle bay"]), abs=GRID)
    assert b["rear bay"] == pytest.approx((a["rear bay"][0] + 1.0, a["rear bay"][1]), abs=GRID)
    for plan in (old, new):
        (button,) = (p for p in plan.parts if p.id == "button block")
        assert button.frame.origin[2] == pytest.approx(118.0, abs=GRID)
        assert plan.unrouted == ()
        assert_wires_follow(plan)


def assert_button_at(result: object, station: float, clock: float) -> None:
    """Assert that the written piece has the head's recess at a station and a clock."""
    seat = next(p for p in result.plan.parts if p.id == "button block")  # type: ignore[attr-defined]
    up = outward(clock)
    middle = (float(np.dot(seat.frame.origin, up)) + 0.6) * up + [0.0, 0.0, station]
    x, z, _ = circle(first_walls(written(result), middle, onward(clock), np.array([0.0, 0.0, 1.0])))  # type: ignore[arg-type]
    assert (x, z) == pytest.approx((0.0, 0.0), abs=0.02)


def assert_wires_follow(plan: ChassisPlan) -> None:
    """Assert that each wire runs unbroken from terminal to terminal and that its lanes meet at the joints."""
    assert plan.routes
    assert plan.unrouted == ()
    ends = stations(plan)
    for route in plan.routes:
        terminals = [plan.terminals[t].position for t in (route.wire.start, route.wire.end)]
        assert route.legs[0].start == pytest.approx(terminals[0], abs=1e-6)
        assert route.legs[-1].end == pytest.approx(terminals[1], abs=1e-6)
        for a, b in itertools.pairwise(route.legs):
            assert b.start == pytest.approx(a.end, abs=1e-6)
        for leg in route.legs:
            low, high = sorted((leg.start[2], leg.end[2]))
            near, far = ends[leg.section]
            assert near - GRID <= low <= high <= far + GRID
        passed = {leg.section for leg in route.legs if leg.kind == "lane"}
        assert all(
            any(route.wire.id in lane.wires and lane.section == name for lane in plan.lanes)
            for name in passed
            if not name.endswith("bay")
        )
