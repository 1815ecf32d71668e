"""End plate: holes stand where the plan says, and walls that are too thin are found."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.plan.model import SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.end_plate import KIND, EndPlateParams
from chassis_gen.shapes import mesh
from chassis_gen.shapes.mesh import DEFAULT_CHORD
from chassis_gen.shapes.recipe import Recipe
from tests.sections.support import planned


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
