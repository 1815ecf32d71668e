"""The glow chamber: seats measured on the meshes, windows by rays, findings with their numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.findings import Finding
from chassis_gen.plan.cross_section import innermost_lane_radius
from chassis_gen.plan.model import SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.glow_chamber import KIND
from chassis_gen.sections.glow_keys import GlowChamberParams, GlowChamberPlan
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Recipe
from tests.sections.seating import assert_seated, envelope
from tests.sections.support import planned


def chamber(bore: float = 40.0, /, **keys: object) -> tuple[SectionPlan, SectionContext, Recipe]:
    return planned(KIND, GlowChamberParams.model_validate({"name": "glow", **keys}), bore)


def detail_of(plan: SectionPlan) -> GlowChamberPlan:
    assert isinstance(plan.detail, GlowChamberPlan)
    return plan.detail


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


@pytest.mark.parametrize(
    ("bore", "keys"),
    [
        (40.0, {}),
        (44.0, {"part": "glow prism 14 mm", "pillar": "fluted", "lit": "both"}),
        (44.0, {"part": "glow tube 16 mm", "led": "led board 9 mm", "light_through": True}),
        (30.0, {"led": "led 3 mm", "lit": "far", "windows": 2, "clock_deg": 20.0}),
    ],
)
def test_body_and_leds_move_in_their_seats_as_planned(bore: float, keys: dict[str, object]) -> None:
    plan, _, recipe = chamber(bore, **keys)
    assert not plan.findings
    (made,) = assert_seated(plan, recipe)
    body = plan.parts[0]
    out = (-body.way_in[0], -body.way_in[1], -body.way_in[2])
    assert made.play(envelope(body), out, 40.0, 40.0) == 40.0


def test_the_length_is_the_sum_of_what_lies_along_the_axis() -> None:
    plan, ctx, _ = chamber()
    # rod 40 + 2 x 0.3 free + 0.1 printer; LED 8.7 + gap 0.5; walls 2 x 3.2; ledge 2.4; wire room 9.
    assert ctx.length == pytest.approx(40.7 + 9.2 + 6.4 + 2.4 + 9.0, abs=1e-3)
    # rod 12 + 2 x 0.3 free + 0.1 printer
    assert detail_of(plan).seat.across.total == pytest.approx(12.7, abs=1e-4)
    assert plan.facts["visible_length_mm"] == pytest.approx(40.7 - 2 * 4.0, abs=1e-3)
    led = plan.parts[1]
    top = led.frame.point((0.0, 0.0, 8.7))[2]
    assert plan.parts[0].frame.origin[2] - top == pytest.approx(0.5 + 0.35, abs=1e-3)


def test_windows_are_open_and_pillars_and_rear_wall_are_not() -> None:
    plan, _, recipe = chamber(clock_deg=60.0)
    body, d = make(recipe), detail_of(plan)
    z = plan.parts[0].frame.origin[2] + 20.0
    expected = {c: 0 for c, _ in d.windows} | {p.clock: 2 for p in d.pillars} | {240.0: 2}
    assert len(d.windows) == 3
    clocks = [math.radians(c) for c in expected]
    rays = body.rays([(0.0, 0.0, z)] * len(clocks), [(math.cos(c), math.sin(c), 0.0) for c in clocks])
    assert [len(hits) for hits in rays] == list(expected.values())
    rear = rays[-1]
    assert rear[1].distance - rear[0].distance == pytest.approx(plan.facts["rear_wall_depth_mm"], abs=0.02)
    # A flat pillar is 3 mm thick.
    pillar = rays[len(d.windows)]
    assert pillar[1].distance - pillar[0].distance == pytest.approx(3.0, abs=0.02)


def test_light_stays_in_unless_it_is_let_through() -> None:
    for keys, hits in (({}, 2), ({"light_through": True}, 0)):
        plan, ctx, recipe = chamber(**keys)
        middle = (0.0, 0.0, plan.parts[0].frame.origin[2] + 20.0)
        to_far, to_near = make(recipe).rays([middle] * 2, [(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)])
        assert len([h for h in to_far if h.distance < ctx.z1 - middle[2] + 0.1]) == hits
        # Toward the LED, the ledge and the wall stand between its two leads.
        assert len(to_near) == 4


def test_wires_go_behind_the_body_or_through_the_wire_tubes() -> None:
    plan, ctx, recipe = chamber(44.0, pillar="tube")
    body, d = make(recipe), detail_of(plan)
    window = plan.parts[0].frame.origin[2] + 20.0
    limits = innermost_lane_radius(plan.obstacles, window, window + 1.0, 0.8)
    free = {i for i, r in enumerate(limits) if r + 1.6 <= ctx.radius}
    assert free
    assert all(abs(i - 270) < 60 for i in free)
    assert len(plan.tube_lanes) == len(d.pillars) > 0
    for lane in plan.tube_lanes:
        x, y = (lane.radius * f(math.radians(lane.clock_deg)) for f in (math.cos, math.sin))
        assert lane.bore == pytest.approx(3.2 + 0.1, abs=0.11)
        (hits,) = body.rays([(x, y, ctx.z0 - 1.0)], [(0.0, 0.0, 1.0)])
        assert not hits
        wire = solid(Cylinder(lane.bore / 2 - 0.02, lane.z0, lane.z1)).moved((x, y, 0.0))
        assert body.common_volume(wire) < 1e-3


def test_a_body_narrower_than_its_led_is_refused_with_a_smaller_led_that_cures_it() -> None:
    plan, ctx, _ = chamber(part="glow rod 12 mm", led="led slug 20 mm")
    found = finding(plan, "body-narrow")
    assert found.blocks_solids
    # slug 20 + 2 x 0.15 slide + 0.1 printer, halved; rod 12 halved
    assert found.numbers["seat"] == pytest.approx(10.2, abs=1e-4)
    assert found.numbers["body"] == pytest.approx(6.0)
    smaller = GlowChamberParams.model_validate({"name": "glow", "led": found.candidates[0].value})
    assert not KIND.plan(smaller, ctx).findings


def test_a_window_too_narrow_for_the_body_names_fewer_windows() -> None:
    plan, _, _ = chamber(windows=8)
    found = finding(plan, "window-narrow")
    # the body's seat of 12.7 mm between pillars whose inside lies at 19.8 - 3 mm: 2 asin(6.35 / 16.8)
    assert found.numbers["needed"] == pytest.approx(2 * math.degrees(math.asin(6.35 / 16.8)), abs=0.01)
    fewer = [c.value for c in found.candidates]
    cured = [n for n in fewer if not chamber(windows=n)[0].findings]
    # 360 less the rear wall's 2 asin(14.85 / 16.8), less pillars of 4 mm at 19.8 mm: 4 windows of 50, 5 of 38
    assert cured == [4, 3, 2, 1]


def test_a_body_too_wide_and_lips_too_long_are_refused() -> None:
    wide = finding(chamber(20.0)[0], "body-wide")
    # seat 6.35 + 0.5 in a frame whose inside lies at 9.8 - 3 mm
    assert wide.numbers["missing"] == pytest.approx(6.35 + 0.5 - 6.8, abs=1e-3)
    assert wide.candidates[0].value == pytest.approx(2.9)
    hidden = finding(chamber(lip=20.0)[0], "body-hidden")
    assert hidden.numbers["visible"] == pytest.approx(0.7, abs=1e-3)


def test_leads_and_the_wrong_part_are_told() -> None:
    long = finding(chamber(wire_room=5.0)[0], "leads-long")
    assert long.numbers == pytest.approx({"stub": 3.6, "wire_room": 5.0, "least_wire_room": 5.6})
    with pytest.raises(InputError) as error:
        chamber(part="cell 18650")
    assert error.value.problems[0].code == "wrong-part-kind"
    assert error.value.problems[0].key == "part"
    assert finding(chamber(lit="both", light_through=True)[0], "no-unlit-end").level == "warning"


@settings(max_examples=12, deadline=None)
@given(
    bore=st.floats(22.0, 60.0),
    part=st.sampled_from(["glow rod 12 mm", "glow tube 16 mm", "glow prism 14 mm"]),
    led=st.sampled_from(["led 5 mm", "led 3 mm", "led board 9 mm"]),
    lit=st.sampled_from(["near", "far", "both"]),
    windows=st.none() | st.integers(1, 6),
    pillar=st.sampled_from(["flat", "tube", "fluted"]),
    clock=st.floats(-180.0, 180.0),
)
def test_any_chamber_is_one_body_or_says_why_not(
    bore: float, part: str, led: str, lit: str, windows: int | None, pillar: str, clock: float
) -> None:
    keys = {"part": part, "led": led, "lit": lit, "windows": windows, "pillar": pillar, "clock_deg": clock}
    plan, ctx, recipe = chamber(bore, **keys)
    if any(f.blocks_solids for f in plan.findings):
        return
    body = make(recipe)
    assert len(body.components()) == 1
    assert math.hypot(*body.bounds[1][:2]) <= 2 * ctx.radius
    for part_ in plan.parts:
        assert body.common_volume(envelope(part_)) < 1e-3
