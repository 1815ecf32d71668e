"""Lead bay: rails stand where the plan says, and ties find their slots below the outer surface."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.plan.model import SectionPlan
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.lead_bay import KIND, LeadBayParams, LeadBayPlan, Tie
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import unit
from chassis_gen.shapes.mesh import DEFAULT_CHORD, make
from chassis_gen.tables.wire import wiring_rule
from tests.sections.support import planned


def bay(length: float = 40.0, bore: float = 38.0, **keys: Any) -> tuple[SectionPlan, SectionContext, Body]:
    params = LeadBayParams.model_validate({"name": "bay", "length": length, **keys})
    plan, ctx, recipe = planned(KIND, params, bore, joined=(False, False))
    return plan, ctx, make(recipe)


def ties_of(plan: SectionPlan) -> tuple[Tie, ...]:
    assert isinstance(plan.detail, LeadBayPlan)
    return plan.detail.ties


def rails_volume(radius: float, thickness: float, width: float, count: int, length: float) -> float:
    """Volume of segments of a ring, the width measured along its outer circumference (plane geometry)."""
    return count * (width / radius) / 2 * (radius**2 - (radius - thickness) ** 2) * length


def test_a_bay_without_ties_is_its_rails() -> None:
    plan, ctx, body = bay()
    assert (plan.findings, plan.hardware) == ((), ())
    assert plan.facts == {}
    assert body.volume == pytest.approx(rails_volume(ctx.radius, 3.2, 10.0, 2, 40.0), rel=1e-3)


@pytest.mark.parametrize(("ties", "pairs"), [("near", 1), ("far", 1), ("both", 2)])
@pytest.mark.parametrize("rails", [2, 4])
def test_ties_go_through_every_rail_but_the_spine(ties: str, pairs: int, rails: int) -> None:
    plan, ctx, body = bay(ties=ties, rails=rails)
    assert plan.findings == ()
    assert len(body.components()) == rails
    found = ties_of(plan)
    assert len(found) == plan.hardware[0].count == plan.facts["tie_slot_pairs"] == pairs * (rails - 1)
    # common practice, no standard: relief within 15 mm of the joint
    limit = wiring_rule("strain_relief_distance").value
    for t in found:
        assert min(t.station - ctx.z0, ctx.z1 - t.station) <= limit
        assert abs(math.cos(math.radians(t.clock_deg - 270.0)) - 1.0) > 1e-6
        c, s = unit(t.clock_deg)
        middle = (t.relief.span.total + t.relief.depth.total) / 2
        for side in (-middle, middle):
            start = (30 * c - side * s, 30 * s + side * c, t.station)
            assert body.rays([start], [(-c, -s, 0.0)], 29.0) == ((),)
        hits = body.rays([(30 * c, 30 * s, t.station)], [(-c, -s, 0.0)], 29.0)[0]
        # the web is met at the groove's floor and left at the rail's inner face
        assert 30 - hits[0].distance == pytest.approx(t.groove, abs=1e-3)
        assert hits[1].distance - hits[0].distance == pytest.approx(t.web, abs=DEFAULT_CHORD + 1e-3)


def test_the_tie_lies_below_the_outer_surface() -> None:
    plan, ctx, _ = bay(ties="near")
    (tie,) = ties_of(plan)
    reach = tie.relief.span.total / 2 + tie.relief.depth.total
    # smallest usual cable tie, 2.5 x 1.1 mm (common practice, no standard): its outer corners over the slots
    assert math.hypot(reach, tie.groove + 1.1) < ctx.radius
    assert tie.relief.length.total > 2.5
    assert tie.relief.depth.total > 1.1


def test_the_walls_beside_the_slots_are_those_of_the_rules() -> None:
    plan, ctx, body = bay(ties="near")
    (tie,) = ties_of(plan)
    inner = ctx.radius - 3.2
    half = inner * math.sin(5.0 / ctx.radius)
    assert half - tie.relief.span.total / 2 - tie.relief.depth.total == pytest.approx(0.8, abs=1e-3)
    # what is left of the rail's section at the slots: both sides and the web
    full = (5.0 / ctx.radius) * (ctx.radius**2 - inner**2)
    lost = 2 * full - body.slice_area(tie.station)
    slots = 2 * 3.2 * tie.relief.depth.total
    groove = tie.relief.span.total * (3.2 - tie.web)
    assert lost == pytest.approx(slots + groove, rel=0.06)


def test_a_short_bay_has_one_pair_in_its_middle() -> None:
    plan, ctx, _ = bay(length=12.0, ties="both")
    assert plan.findings == ()
    (tie,) = ties_of(plan)
    assert tie.station == pytest.approx((ctx.z0 + ctx.z1) / 2)


@pytest.mark.parametrize(
    ("keys", "code", "number", "value"),
    [
        # slot of 2.5 + 0.1 printed standing in the test printer, and 1.5 mm of rail to each side
        ({"length": 4.0, "ties": "near"}, "tie-room", "least_length", 2.6 + 3.0),
        ({"ties": "near", "rail_width": 6.0}, "tie-web", "web", None),
        ({"ties": "near", "rail_thickness": 1.8}, "tie-web", "wall", None),
    ],
)
def test_rails_and_bays_too_small_for_ties_are_found_with_what_helps(
    keys: dict[str, Any], code: str, number: str, value: float | None
) -> None:
    params = LeadBayParams.model_validate({"name": "bay", "length": 40.0, **keys})
    plan, _, _ = planned(KIND, params, 38.0)
    (finding,) = plan.findings
    assert finding.code == code
    if value is not None:
        assert finding.numbers[number] == pytest.approx(value, abs=0.11)
    first, without = finding.candidates
    assert (without.key, without.value) == ("ties", "none")
    for remedy in finding.candidates:
        changed = LeadBayParams.model_validate(
            {"name": "bay", "length": 40.0, **keys, remedy.key: remedy.value}
        )
        assert planned(KIND, changed, 38.0)[0].findings == ()
    assert first.key == {"tie-room": "length"}.get(code, finding.where.removeprefix("bay."))


@settings(max_examples=15, deadline=None)
@given(
    length=st.floats(2.0, 60.0),
    rails=st.integers(2, 4),
    width=st.floats(4.0, 16.0),
    thickness=st.floats(1.0, 6.0),
    ties=st.sampled_from(["none", "near", "far", "both"]),
    bore=st.floats(24.0, 60.0),
)
def test_any_accepted_bay_is_its_rails(
    length: float, rails: int, width: float, thickness: float, ties: str, bore: float
) -> None:
    params = LeadBayParams.model_validate(
        {
            "name": "bay",
            "length": length,
            "rails": rails,
            "rail_width": width,
            "rail_thickness": thickness,
            "ties": ties,
        }
    )
    plan, ctx, recipe = planned(KIND, params, bore, joined=(False, False))
    if any(f.blocks_solids for f in plan.findings):
        return
    body = make(recipe)
    assert len(body.components()) == (rails if rails * math.degrees(width / ctx.radius) < 360 else 1)
    low, high = body.bounds
    assert max(high[0], high[1], -low[0], -low[1]) <= ctx.radius + DEFAULT_CHORD
