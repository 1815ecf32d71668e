"""The display window: the seat, the bezel and what of the picture shows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.plan.model import Outer, OuterStep, SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import Opening, SectionContext
from chassis_gen.sections.display_window import KIND, DisplayWindowParams, DisplayWindowPlan
from chassis_gen.sections.display_window_solids import bezel_piece
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Recipe
from tests.sections.seating import assert_seated, envelope
from tests.sections.support import planned

# the catalogue's screen: 12 x 38 x 1.2 mm, picture 5.6 x 22.4 mm that begins 8.5 mm from the joints' edge


def window(
    bore: float = 40.0, opening: Opening | None = None, /, **keys: object
) -> tuple[SectionPlan, SectionContext, Recipe]:
    return planned(
        KIND, DisplayWindowParams.model_validate({"name": "screen", **keys}), bore, opening=opening
    )


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


@pytest.mark.parametrize(
    ("bore", "keys"), [(40.0, {}), (30.0, {"turned": True, "clock_deg": 35.0}), (40.0, {"bezel": False})]
)
def test_the_screen_moves_in_its_seat_as_planned(bore: float, keys: dict[str, object]) -> None:
    plan, ctx, recipe = window(bore, **keys)
    assert [f.code for f in plan.findings] == ["display-covered"]
    made = assert_seated(plan, recipe)
    (part,) = plan.parts
    out = (-part.way_in[0], -part.way_in[1], -part.way_in[2])
    # Without the bezel the board comes out the way it went in.
    assert made[0].play(envelope(part), out, 30.0, 30.0) == 30.0
    assert len(made) == (1 if keys.get("bezel") is False else 2)
    for body in made:
        reach = max(math.hypot(x, y) for x, y, _ in body.arrays()[0])
        assert reach <= ctx.radius + 0.01


@pytest.mark.parametrize("border", [-0.3, -1e-5, 1e-5, 20.0])
def test_a_bezel_is_made_wherever_the_chassis_steps_near_it(border: float) -> None:
    plan, ctx, _ = window()
    (whole,) = (make(Recipe("bezel", e.steps)) for e in plan.extra_pieces)
    assert isinstance(plan.detail, DisplayWindowPlan) and plan.detail.bezel
    near = (ctx.z0 + ctx.z1 - plan.detail.bezel.length.total) / 2
    # The same surface all over, in two steps that meet beside the bezel's near end or within it.
    steps = [OuterStep(a, b, ctx.radius, True) for a, b in ((0.0, near + border), (near + border, 200.0))]
    bezel = bezel_piece(plan.detail.bezel, plan.detail, replace(ctx, outer=Outer(tuple(steps))))
    made = make(Recipe("bezel", bezel.steps))
    assert made.volume == pytest.approx(whole.volume, rel=1e-6)
    assert made.bounds == pytest.approx(np.array(whole.bounds), abs=1e-6)


def test_the_bezel_shows_the_picture_and_nothing_less() -> None:
    for turned in (False, True):
        plan, ctx, _recipe = window(turned=turned)
        bezel = make(Recipe("bezel", plan.extra_pieces[0].steps))
        middle = (ctx.z0 + ctx.z1) / 2
        off = (8.5 + 22.4 / 2 - 38.0 / 2) * (-1 if turned else 1)
        origin, axis = plan.features["picture axis"]
        assert origin[2] == pytest.approx(middle + off, abs=1e-3)
        assert axis == pytest.approx((0.0, 1.0, 0.0))
        z0, z1 = middle + off - 11.2, middle + off + 11.2
        picture = solid(Box((-2.8, 0.0, z0), (2.8, 40.0, z1)))
        assert bezel.common_volume(picture) < 1e-6
        larger = solid(Box((-2.8 - 0.6, 0.0, z0 - 0.6), (2.8 + 0.6, 40.0, z1 + 0.6)))
        assert bezel.common_volume(larger) > 1.0


def test_without_a_bezel_no_bore_stands_round_the_picture() -> None:
    """The board's pocket is centred on the board, not on the picture, so it is no bore under the opening."""
    assert window()[0].features
    assert not window(bezel=False)[0].features


def test_an_opening_that_hides_the_picture_is_warned_of() -> None:
    offset = KIND.pin_offset(DisplayWindowParams.model_validate({"name": "screen"}), window()[1].setting)
    wide = Opening("hole", 16.0 + offset, 90.0, 24.0)
    plan, _, _ = window(40.0, wide, at_opening="hole")
    # the picture's diagonal: hypot(5.6, 22.4) = 23.09 mm
    assert not plan.findings
    assert plan.facts["visible_share"] == pytest.approx(1.0)
    plan, _, _ = window(40.0, Opening("hole", 16.0 + offset, 90.0, 10.0), at_opening="hole")
    found = finding(plan, "picture-hidden")
    assert found.level == "warning"
    assert found.numbers["needed"] == pytest.approx(math.hypot(5.6, 22.4))
    # what a circle of radius 5 shares with a strip 5.6 wide: area of a circle less two caps (plane geometry)
    cap = 25 * math.acos(2.8 / 5) - 2.8 * math.sqrt(25 - 2.8**2)
    share = (25 * math.pi - 2 * cap) / (5.6 * 22.4)
    assert found.numbers["visible_share"] == pytest.approx(share, abs=2e-3)


def test_joints_lie_in_the_cable_slot() -> None:
    plan, _, recipe = window(turned=True)
    body = make(recipe)
    assert {t.id for t in plan.terminals} == {f"screen.{n}" for n in ("plus", "minus", "clock", "data")}
    for t in plan.terminals:
        x, y, z = t.position
        room = solid(Box((x - 0.8, y - 0.8, z - 0.8), (x + 0.8, y + 0.8, z + 0.8)))
        assert body.common_volume(room) < 1e-6
        assert t.exits


def test_a_screen_too_wide_for_the_tube_blocks() -> None:
    found = finding(window(16.0)[0], "display-wide")
    assert found.blocks_solids
    assert found.numbers["wall"] < found.numbers["least_wall"] == 0.8
    with pytest.raises(InputError) as error:
        window(part="sound board")
    assert error.value.problems[0].code == "wrong-part-kind"


def test_only_cuts_are_made_in_another_sections_body() -> None:
    assert KIND.may_stand_beside
    plan, ctx, _ = window()
    steps = KIND.recipe(plan, replace(ctx, companion=True))
    assert {s.operation for s in steps} == {"cut"}


@settings(max_examples=12, deadline=None)
@given(
    bore=st.floats(14.0, 80.0),
    bezel=st.booleans(),
    turned=st.booleans(),
    edge=st.floats(0.8, 3.0),
    thread=st.sampled_from(["M2", "M2.5", "M3"]),
    clock=st.floats(-180.0, 180.0),
)
def test_any_window_is_one_body_or_says_why_not(
    bore: float, bezel: bool, turned: bool, edge: float, thread: str, clock: float
) -> None:
    keys = {"bezel": bezel, "turned": turned, "bezel_edge": edge, "bezel_thread": thread, "clock_deg": clock}
    plan, _, recipe = window(bore, **keys)
    assert isinstance(plan.detail, DisplayWindowPlan)
    if any(f.blocks_solids for f in plan.findings):
        return
    assert_seated(plan, recipe)
