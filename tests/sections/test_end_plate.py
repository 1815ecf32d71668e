"""End plate: holes stand where the plan says, and walls that are too thin are found."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from pydantic import ValidationError

from chassis_gen.checks.result import Solids
from chassis_gen.checks.switch_axis import check_switch_axis
from chassis_gen.plan.cross_section import innermost_lane_radius
from chassis_gen.plan.model import SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import Opening, SectionContext
from chassis_gen.sections.end_plate import KIND, EndPlateParams
from chassis_gen.shapes import mesh
from chassis_gen.shapes.mesh import DEFAULT_CHORD
from chassis_gen.shapes.recipe import Recipe
from tests.checks import support
from tests.sections.support import planned, setting


def plate(
    bore: float = 38.0, joined: tuple[bool, bool] = (True, True), **keys: Any
) -> tuple[SectionPlan, SectionContext, Recipe]:
    return planned(KIND, EndPlateParams(**{"kind": "end_plate", "name": "end", **keys}), bore, joined=joined)


def test_a_plate_without_holes_is_a_disc() -> None:
    plan, ctx, recipe = plate(joined=(False, False))
    assert plan.findings == ()
    # closed form: 4 mm of a bar of radius 18.8
    assert mesh.make(recipe).volume == pytest.approx(math.pi * 18.8**2 * 4.0, rel=1e-4)
    assert ctx.length == 4.0


@pytest.mark.parametrize("entry", ["near", "far"])
@pytest.mark.parametrize("kind", ["clearance", "tapped", "thread_forming", "insert", "captive_nut"])
def test_holes_stand_on_their_circle(kind: str, entry: str) -> None:
    circle = {"kind": kind, "count": 3, "circle_diameter": 22.0, "first_clock_deg": 20.0, "entry": entry}
    plan, ctx, recipe = plate(holes=[circle])
    assert plan.findings == ()
    body = mesh.make(recipe)
    assert [c.volume > 0 for c in body.components()] == [True]
    for k, hole in enumerate(plan.holes):
        clock = math.radians(90.0 + 20.0 + 120.0 * k)
        x, y = 11.0 * math.cos(clock), 11.0 * math.sin(clock)
        assert hole.frame.origin[:2] == pytest.approx((x, y), abs=1e-9)
        start = ctx.z0 - 1 if entry == "near" else ctx.z1 + 1
        assert body.rays([(x, y, start)], [(0.0, 0.0, 1.0 if entry == "near" else -1.0)]) == ((),)
    assert plan.hardware[0].count == 3


def test_m3_rod_hole_is_a_clearance_hole() -> None:
    # ISO 273 medium: 3.4 mm for M3; the lying hole of the test printer adds 0.2
    plan, ctx, recipe = plate(holes=[{"count": 1, "circle_diameter": 0}])
    assert plan.holes[0].diameter.total == pytest.approx(3.6, abs=1e-4)
    drawn = math.pi * ctx.radius**2 - mesh.make(recipe).slice_area(ctx.z0 + 2)
    round_part = math.pi / 4 * 3.6**2
    # the roof adds less than the corner of a full teardrop, (1 - pi / 4) r2
    assert round_part - 0.02 < drawn < round_part + (1 - math.pi / 4) * 1.8**2 + 0.02


def test_thickness_follows_what_the_holes_need() -> None:
    # ISO 4032: an M3 nut is at most 2.4 high; + 2 x 0.15 slide + 0.1 printer + two walls of 0.8
    assert plate(holes=[{"kind": "captive_nut"}])[1].length == pytest.approx(4.4, abs=1e-4)
    # two diameters of thread in plastic (common practice, no standard)
    assert plate(holes=[{"kind": "tapped", "thread": "M4"}])[1].length == pytest.approx(8.0, abs=1e-4)


@pytest.mark.parametrize(
    ("keys", "code", "wall"),
    [
        # 18.8 outer radius less 17 and half of 3.6
        ({"holes": [{"count": 2, "circle_diameter": 34}]}, "edge-distance", 0.0),
        # chord of 12 on a 14 mm circle, 14 sin 15 deg, less 3.6
        (
            {"holes": [{"count": 12, "circle_diameter": 14}]},
            "hole-spacing",
            14 * math.sin(math.pi / 12) - 3.6,
        ),
        # 6 less 1.8 less half of 8.2
        ({"holes": [{"circle_diameter": 12}], "wire_opening": 8}, "hole-spacing", 0.1),
        ({"wire_opening": 36}, "edge-distance", 0.7),
    ],
)
def test_thin_walls_are_found_with_their_numbers(keys: dict[str, Any], code: str, wall: float) -> None:
    plan, _, _ = plate(**keys)
    (finding,) = plan.findings
    assert finding.code == code
    assert finding.numbers["wall"] == pytest.approx(wall, abs=1e-3)
    remedy = finding.candidates[0]
    assert remedy.key is not None
    if remedy.key.startswith("holes[0]."):
        circle = {**keys["holes"][0], remedy.key.removeprefix("holes[0]."): remedy.value}
        changed = {**keys, "holes": [circle]}
    else:
        changed = {**keys, remedy.key: remedy.value}
    assert plate(**changed)[0].findings == ()


def test_a_plate_too_thin_for_its_nuts_is_found() -> None:
    plan, _, _ = plate(thickness=3, holes=[{"kind": "captive_nut"}])
    (finding,) = plan.findings
    assert (finding.code, finding.candidates[0].value) == ("plate-thin", 4.4)
    assert finding.blocks_solids


def test_an_unknown_thread_is_an_input_error() -> None:
    with pytest.raises(InputError):
        plate(holes=[{"thread": "M3.14"}])


def test_nut_slots_block_lanes() -> None:
    plan, _, _ = plate(holes=[{"kind": "captive_nut", "count": 2}])
    assert [o.what for o in plan.obstacles] == ["screw hole", "nut slot"] * 2


@settings(max_examples=15, deadline=None)
@given(
    kind=st.sampled_from(["clearance", "thread_forming", "insert", "captive_nut"]),
    thread=st.sampled_from(["M2", "M3", "M4", "#6-32"]),
    count=st.integers(1, 6),
    circle=st.one_of(st.none(), st.floats(0.0, 40.0)),
    opening=st.sampled_from([0.0, 4.0, 12.0]),
    entry=st.sampled_from(["near", "far"]),
    nut=st.sampled_from(["side", "end"]),
    joined=st.tuples(st.booleans(), st.booleans()),
)
def test_any_accepted_plate_is_one_body(
    kind: str, thread: str, count: int, circle: float | None, opening: float, entry: str, nut: str,
    joined: tuple[bool, bool],
) -> None:  # fmt: skip
    holes = {
        "kind": kind,
        "thread": thread,
        "count": count,
        "circle_diameter": circle,
        "entry": entry,
        "nut_entry": nut,
    }
    plan, ctx, recipe = plate(joined=joined, holes=[holes], wire_opening=opening)
    if any(f.blocks_solids for f in plan.findings):
        return
    body = mesh.make(recipe)
    assert [c.volume > 0 for c in body.components()] == [True]
    low, high = body.bounds
    assert max(high[0], high[1], -low[0], -low[1]) <= ctx.radius + DEFAULT_CHORD


# set screw ------------------------------------------------------------------------------------------

TAPPED = Opening("lock", 18.0, 30.0, 2.5)


def held(
    opening: Opening | None = TAPPED, station: float | None = None, bore: float = 38.0, **keys: Any
) -> tuple[SectionPlan, SectionContext, Recipe]:
    """Return a plate that stands with its middle under an opening, or at a station."""
    screw = {"at_opening": opening.name} if opening else {}
    params = EndPlateParams.model_validate(
        {"name": "end", **keys, "set_screw": {**screw, **keys.get("set_screw", {})}}
    )
    own = KIND.length(params, setting(bore))
    assert own is not None
    z0 = station if station is not None else 18.0 - own.total / 2
    return planned(KIND, params, bore, z0=z0, opening=opening)


def test_a_set_screw_pins_its_plate_and_stands_under_its_opening() -> None:
    plan, ctx, recipe = held()
    assert (
        EndPlateParams.model_validate({"name": "a", "set_screw": {"at_opening": "lock"}}).at_opening == "lock"
    )
    both = {"name": "a", "station": 5.0, "set_screw": {"at_opening": "lock"}}
    assert EndPlateParams.model_validate(both).at_opening is None
    assert plan.findings == ()
    assert plan.openings == ("lock",)
    point, direction = plan.features["set screw axis"]
    c, s = math.cos(math.radians(30.0)), math.sin(math.radians(30.0))
    assert direction == pytest.approx((c, s, 0.0))
    assert point[2] == 18.0
    assert math.hypot(point[0] * s - point[1] * c) == pytest.approx(0.0, abs=1e-9)
    # M3 and a wall of 1.6 mm each side (common practice, no source)
    assert ctx.length == pytest.approx(6.2, abs=1e-3)
    body = mesh.make(recipe)
    hits = body.rays([(30 * c, 30 * s, 18.0)], [(-c, -s, 0.0)], 25.0)[0]
    # an M3 x 3 screw ends level with the outside of the tube, which has a wall of 1.5 mm in the test
    assert 30 - hits[0].distance == pytest.approx(19.0 + 1.5 - 3.0, abs=1e-3)
    assert len(hits) == 1, "solid behind the dimple: the hard stop"
    assert plan.facts["set_screw_below_outside_mm"] == pytest.approx(0.0, abs=1e-3)
    assert [(h.item, h.count) for h in plan.hardware] == [("set screw M3 x 3 mm", 1)]


def test_a_set_screw_has_its_thread_in_the_tube() -> None:
    plan, ctx, _ = held()
    (hole,) = plan.holes
    # ISO 261: M3 has a pitch of 0.5; three turns in a metal wall (common practice, no standard)
    assert (hole.piece, hole.least_engagement) == ("tube", 1.5)
    assert hole.engagement == pytest.approx(1.5)
    assert hole.diameter.total == pytest.approx(2.5, abs=1e-3)
    assert math.hypot(*hole.frame.origin[:2]) == pytest.approx(ctx.tube_outer_radius)


def test_a_wall_too_thin_for_three_turns_names_a_finer_screw() -> None:
    plan, *_ = held(replace(TAPPED, diameter=2.0), set_screw={"thread": "M4"})
    (finding,) = plan.findings
    # ISO 261: M4 has a pitch of 0.7
    assert finding.code == "screw-engagement"
    assert finding.numbers["least_engagement"] == pytest.approx(2.1)
    assert finding.numbers["engagement"] == pytest.approx(1.5)
    thread = finding.candidates[0].value
    assert (finding.candidates[0].key, thread) == ("set_screw.thread", "M3")
    assert held(replace(TAPPED, diameter=2.0), set_screw={"thread": thread})[0].findings == ()


def test_a_hole_wider_than_the_screw_cannot_be_tapped_for_it() -> None:
    plan, *_ = held(replace(TAPPED, diameter=3.3), set_screw={"thread": "M3"})
    (finding,) = plan.findings
    assert finding.code == "set-screw-loose"
    # ISO 2306: 3.3 mm is the tap drill of M4
    assert finding.candidates[0].value == "M4"


def test_no_lane_crosses_the_pad() -> None:
    plan, ctx, _ = held()
    (obstacle,) = (o for o in plan.obstacles if o.what == "set-screw pad")
    limit = innermost_lane_radius([obstacle], ctx.z0, ctx.z1, 0.8)
    half = math.degrees(3.1 / ctx.radius)
    assert math.isinf(limit[30]) and math.isinf(limit[30 + int(half)]) and limit[30 + int(half) + 2] == 0.0


def test_a_screw_at_a_clock_says_what_to_drill() -> None:
    plan, _, recipe = held(None, station=20.0, set_screw={"clock_deg": -45.0}, thickness=8.0)
    (finding,) = plan.findings
    assert (finding.level, finding.code) == ("note", "set-screw-hole")
    assert finding.numbers == pytest.approx({"station": 24.0, "clock_deg": 45.0, "tap_drill": 2.5})
    assert plan.openings == ()
    assert len(mesh.make(recipe).components()) == 1


@pytest.mark.parametrize(
    ("keys", "code", "key"),
    [
        # 30 mm: 18.8 - 1.3 - 0.1 - 15.1 leave less than 3 mm
        ({"wire_opening": 30.0}, "set-screw-over-part", "wire_opening"),
        (
            {"holes": [{"first_clock_deg": 0.0, "count": 2}]},
            "set-screw-over-part",
            "holes[0].first_clock_deg",
        ),
        (
            {"holes": [{"kind": "captive_nut", "first_clock_deg": 10.0, "count": 3, "circle_diameter": 16}]},
            "set-screw-over-part",
            "holes[0].first_clock_deg",
        ),
        ({"thickness": 5.0}, "plate-thin", "thickness"),
    ],
)
def test_nothing_hollow_may_lie_behind_a_set_screw(keys: dict[str, Any], code: str, key: str) -> None:
    plan, *_ = held(**keys)
    (finding,) = plan.findings
    remedy = finding.candidates[0]
    assert (finding.code, remedy.key) == (code, key)
    if key.startswith("holes"):
        changed = {**keys, "holes": [{**keys["holes"][0], "first_clock_deg": remedy.value}]}
    else:
        changed = {**keys, key: remedy.value}
    assert held(**changed)[0].findings == ()


def test_a_screw_at_a_clock_moves_away_from_holes() -> None:
    keys: dict[str, Any] = {"holes": [{"count": 3}], "set_screw": {"clock_deg": 0.0}}
    plan, *_ = held(None, 20.0, **keys)
    finding = next(f for f in plan.findings if f.level == "error")
    remedy = finding.candidates[0]
    assert (finding.code, remedy.key) == ("set-screw-over-part", "set_screw.clock_deg")
    plan, *_ = held(None, 20.0, **{**keys, "set_screw": {"clock_deg": remedy.value}})
    assert [f.level for f in plan.findings] == ["note"]


def test_a_plate_beside_its_opening_is_found() -> None:
    plan, *_ = held(station=10.0)
    finding = next(f for f in plan.findings if f.code == "set-screw-off-plate")
    # 3.1 mm to each side of 18 on a plate from 10 to 16.2
    assert finding.numbers["out"] == pytest.approx(18.0 + 3.1 - 16.2, abs=1e-3)
    assert finding.blocks_solids
    assert (finding.candidates[0].key, finding.candidates[0].value) == ("at_opening", "lock")


def test_the_keys_of_a_set_screw_are_checked() -> None:
    with pytest.raises(ValidationError, match="both say"):
        EndPlateParams.model_validate({"name": "a", "set_screw": {"at_opening": "lock", "clock_deg": 3.0}})
    with pytest.raises(InputError) as error:
        planned(
            KIND,
            EndPlateParams.model_validate({"name": "a", "set_screw": {"at_opening": "look"}}),
            opening=TAPPED,
        )
    assert error.value.problems[0].nearest == "lock"


def test_the_solids_check_finds_the_dimple_under_the_opening_and_misses_it_elsewhere() -> None:
    plan, ctx, recipe = held()
    for off, code in ((0.0, ()), (0.2, ("axis-off",))):
        opening = replace(TAPPED, station=18.0 + off)
        build = support.plan(
            sections=(plan,),
            tube=replace(support.tube(), openings=(opening,)),
            outer=ctx.outer,
            z0=ctx.z0,
            z1=ctx.z1,
        )
        solids = Solids({"chassis": mesh.make(recipe)}, {}, {}, support.tube_body(build), DEFAULT_CHORD)
        assert tuple(f.code for f in check_switch_axis(build, solids)) == code


@settings(max_examples=12, deadline=None)
@given(
    thread=st.sampled_from(["M2", "M3", "M5", "#6-32"]),
    clock=st.floats(-180.0, 180.0),
    bore=st.floats(20.0, 60.0),
    opening=st.sampled_from([0.0, 8.0]),
    wall=st.sampled_from(["metal", "plastic"]),
    count=st.integers(0, 3),
)
def test_any_accepted_set_screw_leaves_one_body(
    thread: str, clock: float, bore: float, opening: float, wall: str, count: int
) -> None:
    keys: dict[str, Any] = {
        "set_screw": {"thread": thread, "clock_deg": clock, "wall": wall},
        "wire_opening": opening,
        "holes": [{"count": count}] if count else [],
    }
    plan, ctx, recipe = held(None, 20.0, bore, **keys)
    if any(f.blocks_solids for f in plan.findings):
        return
    body = mesh.make(recipe)
    assert [c.volume > 0 for c in body.components()] == [True]
    low, high = body.bounds
    assert max(high[0], high[1], -low[0], -low[1]) <= ctx.radius + DEFAULT_CHORD
