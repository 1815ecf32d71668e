"""The side slot: a small board flat or on edge, alone and beside a cell or a board's tray."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.checks.result import CheckResult
from chassis_gen.findings import Finding
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import check_build, load_build, plan_of
from chassis_gen.plan.model import SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.side_slot import KIND, SideSlotParams, SideSlotPlan
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.primitives import Box, placed
from chassis_gen.shapes.recipe import Recipe
from tests.sections.seating import assert_seated, envelope
from tests.sections.support import planned

# the catalogue's radio board: 12 x 20 x 1.0 mm, parts 2.4 above and 0.8 below, each +-0.2 (thickness +-0.1);
# 3 mm past its +y end stay free for the antenna; its edge is free of parts for 1 mm above and 1.5 mm below

BESIDE = """
[build]
title = "a radio board beside"

[tube]
chassis_offset = 4

[[tube.segment]]
length = 300
material = "acrylic"
bores = [{{ from_mouth = 0, diameter = {bore} }}]

[[section]]
kind = "lead_bay"
name = "bay"
length = 12

[[section]]
kind = "{host}"
name = "host"

[[section]]
kind = "side_slot"
name = "radio"
beside = "host"
clock_deg = {clock}
stand = "{stand}"

[[section]]
kind = "end_plate"
name = "end"
"""


def slot(bore: float = 40.0, /, **keys: object) -> tuple[SectionPlan, SectionContext, Recipe]:
    return planned(KIND, SideSlotParams.model_validate({"name": "radio", **keys}), bore)


def detail(plan: SectionPlan) -> SideSlotPlan:
    assert isinstance(plan.detail, SideSlotPlan)
    return plan.detail


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


def keepouts(plan: SectionPlan) -> list[Body]:
    (part,) = plan.parts
    return [solid(placed(k.solid, part.frame)) for k in part.part.keepouts]


@pytest.mark.parametrize(
    ("bore", "keys"),
    [
        (40.0, {}),
        (40.0, {"stand": "edge"}),
        (46.0, {"front": "near", "clock_deg": 200.0, "sunk": 2.0}),
        (46.0, {"stand": "edge", "front": "near", "tape": {"width": 8.0, "layers": 3}}),
        (40.0, {"part": "sound board"}),
    ],
)
def test_the_board_moves_in_its_slot_as_planned_and_comes_out(bore: float, keys: dict[str, object]) -> None:
    plan, ctx, recipe = slot(bore, **keys)
    assert not plan.findings
    (body,) = assert_seated(plan, recipe)
    (part,) = plan.parts
    out = (-part.way_in[0], -part.way_in[1], -part.way_in[2])
    assert body.play(envelope(part), out, 30.0, 30.0) == 30.0
    assert all(body.common_volume(room) < 1e-6 for room in keepouts(plan))
    # The end stop: the board's -y end meets the pocket after its play; there are two only without an antenna.
    assert [p.expected is None for p in plan.parts[0].plays[2:4]] == [True, False]
    reach = max(math.hypot(x, y) for x, y, _ in body.arrays()[0])
    assert reach <= ctx.radius + 0.01


def test_the_tape_lies_on_the_largest_board() -> None:
    """Plane geometry: over a mouth 12.4 mm wide the tape lies straight, 0.3 mm under the surface at its edges."""
    plan, ctx, recipe = slot()
    d = detail(plan)
    assert d.seat_width.total == pytest.approx(12.0 + 2 * 0.15 + 0.1, abs=1e-4)
    face = math.sqrt((ctx.radius - 0.3) ** 2 - (d.seat_width.total / 2) ** 2)
    largest = (1.0 + 0.1) + (2.4 + 0.2)
    assert d.seat_level.total == pytest.approx(face - largest - 0.02, abs=1e-4)
    assert plan.facts["gap_under_tape_mm"] == pytest.approx(0.1 + 0.2, abs=1e-4)
    # room below: 0.8 mm of parts or pins, the pins' +-0.3, 0.5 mm of air
    assert plan.facts["slot_depth_mm"] == pytest.approx(ctx.radius - d.seat_level.total + 1.6, abs=1e-4)
    assert d.tape is not None
    body = make(recipe)
    z = (d.tape.z0 + d.tape.z1) / 2
    ring = solid(Box((-30.0, -30.0, z - 0.5), (30.0, 0.0, z + 0.5)))
    low = body.common(ring).bounds[0][1]
    assert low == pytest.approx(-(ctx.radius - 0.3), abs=0.02)


def test_on_edge_the_board_stands_in_grooves() -> None:
    plan, _, recipe = slot(stand="edge")
    d = detail(plan)
    assert d.seat_width.total == pytest.approx(1.0 + 2 * 0.15 + 0.1, abs=1e-4)
    assert d.hold.total == pytest.approx(1.0 - 0.2, abs=1e-4)
    body = make(recipe)
    # between the grooves' walls over the floor there is the board's thickness and its play, above them the whole room
    level, (x0, x1) = d.seat_level.total, (-6.0, 6.0)
    z = plan.features["board middle"][0][2]

    def free(at: float) -> float:
        slice_ = solid(Box((x0, level + at, z - 0.1), (x1, level + at + 0.1, z + 0.1)))
        return slice_.volume - body.common_volume(slice_)

    assert free(0.3) == pytest.approx(1.4 * 0.1 * 0.2, rel=0.01)
    room = (0.8 + 0.3 + 0.5 + 0.2) + 1.0 + (2.4 + 0.2 + 0.5 + 0.2)
    assert free(3.0) == pytest.approx(room * 0.1 * 0.2, rel=0.01)
    assert all(len(t.exits) == 1 for t in plan.terminals)


def test_wires_leave_beside_the_joints_clear_of_the_tape() -> None:
    for stand in ("flat", "edge"):
        plan, ctx, recipe = slot(stand=stand)
        body, d = make(recipe), detail(plan)
        assert d.tape is not None
        for t in plan.terminals:
            (low, high), *_ = t.exits
            x, y, z = t.position
            assert z < d.tape.z0 - 0.8
            for clock in (low, (low + high) / 2, high):
                a = math.radians(clock)
                for k in range(1, 20):
                    at = (
                        x + (ctx.radius * math.cos(a) - x) * k / 20,
                        y + (ctx.radius * math.sin(a) - y) * k / 20,
                    )
                    wire = solid(
                        Box((at[0] - 0.5, at[1] - 0.5, z - 0.6), (at[0] + 0.5, at[1] + 0.5, z + 0.6))
                    )
                    assert body.common_volume(wire) < 1e-6


def test_what_does_not_fit_says_by_how_much() -> None:
    found = finding(slot(16.0)[0], "slot-wide")
    # chassis 16 - 0.4 = 15.6 mm; 0.75 radii on each side
    assert found.numbers["largest"] == pytest.approx(0.75 * 15.6, abs=1e-3)
    assert found.numbers["short_by"] == pytest.approx(12.4 - 0.75 * 15.6, abs=1e-3)
    plan, ctx, _ = slot(30.0, stand="edge", sunk=14.0)
    found = finding(plan, "spine-thin")
    assert found.blocks_solids
    assert found.numbers["left"] == pytest.approx(2 * ctx.radius - plan.facts["slot_depth_mm"], abs=1e-3)
    assert found.numbers["short_by"] == pytest.approx(3.2 - found.numbers["left"], abs=1e-3)
    assert found.candidates[0].key == "sunk"
    assert not slot(30.0, stand="edge", sunk=found.candidates[0].value)[0].findings
    found = finding(slot(tape={"width": 20.0})[0], "tape-too-wide")
    # the recess is 1 mm wider than the tape; from the gate's end, 6.6 mm before the middle, and a wall to the board's end
    assert found.numbers["stretch"] == pytest.approx(10.0 + 6.6 - 0.8, abs=1e-3)
    assert not slot(tape={"width": found.candidates[0].value})[0].findings
    found = finding(slot(ledge=0.5)[0], "board-hold-narrow")
    assert found.numbers["held"] == pytest.approx(0.5 - 0.2, abs=1e-3)
    with pytest.raises(InputError) as error:
        slot(part="display 12 mm")
    assert error.value.problems[0].code == "wrong-part-kind"


def test_only_cuts_are_made_in_another_sections_body() -> None:
    plan, ctx, _ = slot()
    assert {s.operation for s in KIND.recipe(plan, replace(ctx, companion=True))} == {"cut"}


def beside(tmp_path: Path, bore: float, host: str, clock: float, stand: str = "flat") -> Path:
    folder = tmp_path / "profiles" / "pair"
    folder.mkdir(parents=True)
    (folder / "build.toml").write_text(BESIDE.format(bore=bore, host=host, clock=clock, stand=stand))
    return tmp_path


def errors(result: CheckResult) -> list[str]:
    return [f.message for f in result.findings if f.level == "error"]


@pytest.mark.parametrize(
    ("bore", "host", "stand"),
    [(40.0, "cell_cradle", "flat"), (46.0, "cell_cradle", "flat"), (40.0, "board_tray", "edge")],
)
def test_beside_a_cell_and_a_board_the_check_finds_no_error(
    tmp_path: Path, bore: float, host: str, stand: str
) -> None:
    folder = beside(tmp_path, bore, host, 250.0, stand)
    result = check_build(load_build(Workspace(folder), "pair"))
    assert errors(result) == []
    assert {p.part for p in result.plays} == {"host", "radio"}
    assert result.solids is not None
    assert len(result.solids.pieces["chassis"].components()) == 1


def test_on_edge_beside_a_cell_the_overlap_is_named_with_a_tried_remedy(tmp_path: Path) -> None:
    plan = plan_of(load_build(Workspace(beside(tmp_path, 46.0, "cell_cradle", 270.0, "edge")), "pair"))
    (found,) = (f for f in plan.findings if f.code == "beside-overlap")
    sections = {s.name: s for s in plan.sections}
    # The ribbon's groove lies 0.6 mm under the cell's seat, the room past the board 0.3 mm under the board.
    groove = sections["host"].detail.seat_diameter.total / 2 + 0.6  # type: ignore[attr-defined]
    gap = sections["radio"].detail.seat_level.total - 0.3 - groove  # type: ignore[attr-defined]
    assert found.numbers["gap"] == pytest.approx(gap, abs=2e-2)
    assert gap < 0
    assert found.numbers["short_by"] == pytest.approx(0.8 - found.numbers["gap"])
    assert "ribbon groove" in found.message
    assert f"overlap by {-found.numbers['gap']:.2f} mm" in found.message
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.value, found.remedy.tried) == ("section[2].stand", "flat", True)


def test_beside_the_open_side_of_a_cradle_another_clock_is_tried(tmp_path: Path) -> None:
    plan = plan_of(load_build(Workspace(beside(tmp_path, 40.0, "cell_cradle", 180.0)), "pair"))
    (found,) = (f for f in plan.findings if f.code == "beside-overlap")
    assert found.remedy is not None
    assert found.remedy.tried
    assert found.remedy.key == "section[2].clock_deg"
    assert 180.0 < float(str(found.remedy.value)) < 270.0


def test_in_a_narrow_tube_the_ribbons_groove_makes_way(tmp_path: Path) -> None:
    plan = plan_of(load_build(Workspace(beside(tmp_path, 36.0, "cell_cradle", 270.0)), "pair"))
    (found,) = (f for f in plan.findings if f.code == "beside-overlap")
    assert 0 < found.numbers["gap"] < 0.8
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.value, found.remedy.tried) == (
        "section[1].ribbon_slot",
        False,
        True,
    )


@settings(max_examples=15, deadline=None)
@given(
    bore=st.floats(14.0, 70.0),
    stand=st.sampled_from(["flat", "edge"]),
    front=st.sampled_from(["near", "far"]),
    part=st.sampled_from(["radio board", "sound board"]),
    sunk=st.floats(0.0, 12.0),
    ledge=st.floats(0.4, 4.0),
    width=st.floats(3.0, 30.0),
    clock=st.floats(-180.0, 180.0),
)
def test_any_slot_is_one_body_or_says_why_not(
    bore: float, stand: str, front: str, part: str, sunk: float, ledge: float, width: float, clock: float
) -> None:
    keys = {"stand": stand, "front": front, "part": part, "sunk": sunk, "ledge": ledge, "clock_deg": clock}
    plan, _, recipe = slot(bore, **keys, tape={"width": width})
    if any(f.blocks_solids for f in plan.findings):
        return
    assert_seated(plan, recipe)
