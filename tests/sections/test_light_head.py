"""The light head: figures against sums, plane geometry, the tables and the meshes themselves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.plan.model import PlacedPart, SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import Opening, SectionContext
from chassis_gen.sections.light_head import KIND
from chassis_gen.sections.light_head_model import LightHeadParams, LightHeadPlan
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.mesh import DEFAULT_CHORD, make, solid
from chassis_gen.shapes.primitives import Cylinder, placed
from chassis_gen.shapes.recipe import Recipe
from tests.sections.support import planned

TOLERANCE = DEFAULT_CHORD + 0.005


def params(**keys: object) -> LightHeadParams:
    return LightHeadParams.model_validate({"name": "head", **keys})


def head(bore: float = 40.0, /, **keys: object) -> tuple[SectionPlan, SectionContext, Recipe]:
    """A light head at its own end of the chassis."""
    near = keys.get("facing") == "near"
    return planned(KIND, params(**keys), bore, joined=(not near, near), ends=(near, not near))


def pieces(plan: SectionPlan, recipe: Recipe) -> list[Body]:
    return [make(recipe), *(make(Recipe(e.name, e.steps)) for e in plan.extra_pieces)]


def detail_of(plan: SectionPlan) -> LightHeadPlan:
    assert isinstance(plan.detail, LightHeadPlan)
    return plan.detail


def envelope(part: PlacedPart) -> Body:
    first, *more = (solid(placed(p, part.frame)) for p in part.part.envelope)
    return first.union(*more)


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


@pytest.mark.parametrize(
    ("bore", "keys"),
    [
        (40.0, {}),
        (40.0, {"light": "led_slug"}),
        (26.0, {"light": "led_slug", "facing": "near", "clock_deg": -50.0}),
        (20.0, {"light": "led_round", "facing": "near"}),
        (16.0, {"light": "led_round", "part": "led 3 mm", "recess": 3.0}),
        (40.0, {"carrier": True}),
        (40.0, {"light": "led_slug", "carrier": True}),
    ],
)
def test_lights_move_in_their_seat_as_planned(bore: float, keys: dict[str, object]) -> None:
    plan, _, recipe = head(bore, **keys)
    assert not plan.findings
    made = pieces(plan, recipe)
    assert [len(p.components()) for p in made] == [1] * len(made)
    (part,) = plan.parts
    mover, seat = envelope(part), made[0].union(*made[1:])
    assert seat.common_volume(mover) < 1e-3
    for play in part.plays:
        if play.expected is None:
            assert seat.play(mover, play.direction, 40.0, 40.0) == 40.0
        else:
            measured = seat.play(mover, play.direction, play.expected)
            assert measured == pytest.approx(play.expected, abs=TOLERANCE)


def test_light_tube_presses_the_pins_by_a_share_of_their_travel() -> None:
    plan, ctx, recipe = head()
    body, d = make(recipe), detail_of(plan)
    (part,) = plan.parts
    # The light tube's end stands on the shoulder 12 mm in; pins of 4 mm stand 0.9 of 1.5 mm above it.
    shoulder = ctx.z1 - 12.0
    tips = max(envelope(part).bounds[1][2], 0.0)
    assert tips - shoulder == pytest.approx(0.6 * 1.5, abs=1e-3)
    assert d.seat_depth.total == pytest.approx(12.0 + 4.0 - 0.9 + 1.6, abs=1e-3)
    assert plan.facts["pin_force_n"] == pytest.approx(3 * 0.6)
    light_tube = solid(Cylinder(27.0 / 2, ctx.z1 - 2.0, ctx.z1 + 30.0))
    assert body.play(light_tube, (0.0, 0.0, -1.0), 10.0, 20.0) == pytest.approx(10.0, abs=TOLERANCE)
    assert body.play(light_tube, (1.0, 0.0, 0.0), 0.2) == pytest.approx(0.15 + 0.05, abs=TOLERANCE)


def test_the_locking_screw_holds_by_two_diameters_and_meets_the_light_tube() -> None:
    plan, ctx, recipe = head(lock_clock_deg=30.0)
    body = make(recipe)
    (hole,) = plan.holes
    # Two diameters of thread in plastic: common practice, no standard; tap drill of M3 2.5 mm, ISO 2306.
    assert hole.engagement == pytest.approx(19.8 - 27.4 / 2, abs=1e-3)
    assert hole.engagement >= hole.least_engagement == pytest.approx(6.0)
    assert hole.diameter.total == pytest.approx(2.5 + 0.2, abs=1e-3)
    way = (-math.cos(math.radians(30)), -math.sin(math.radians(30)), 0.0)
    assert hole.frame.z_axis == pytest.approx(way)
    start = tuple(-30.0 * c for c in way)
    z = ctx.z1 - 6.0
    (hits,) = body.rays([(start[0], start[1], z)], [way])
    assert hits[0].distance > 30.0
    screw = solid(Cylinder(1.25, 0.0, 6.0, hole.frame))
    assert body.common_volume(screw) < 1e-3
    origin, axis = plan.features["locking screw axis"]
    assert origin[2] == pytest.approx(z)
    assert axis == hole.frame.z_axis


def test_a_tube_opening_pins_the_locking_screw() -> None:
    for facing in ("far", "near"):
        keys = params(at_opening="lock", facing=facing)
        offset = KIND.pin_offset(keys, head()[1].setting)
        opening = Opening("lock", 16.0 + offset, 200.0, 3.4)
        plan, _, recipe = planned(KIND, keys, opening=opening, ends=(facing == "near", facing == "far"))
        (hole,) = plan.holes
        c, s = math.cos(math.radians(200.0)), math.sin(math.radians(200.0))
        assert hole.frame.origin == pytest.approx((19.8 * c, 19.8 * s, opening.station), abs=1e-4)
        assert plan.openings == ("lock",)
        bar = solid(Cylinder(1.3, -1.0, 6.0, hole.frame))
        assert make(recipe).common_volume(bar) < 1e-3


def test_a_thin_socket_goes_without_locking_screw_unless_asked() -> None:
    plan, ctx, _ = head(34.0)
    assert finding(plan, "no-locking-screw").level == "note"
    assert not plan.holes
    asked = finding(KIND.plan(params(locking_screw=True), ctx), "screw-engagement")
    assert asked.level == "error"
    assert asked.numbers["engagement"] == pytest.approx(16.8 - 27.4 / 2, abs=1e-3)
    (remedy,) = asked.candidates
    again = KIND.plan(params(locking_screw=remedy.value), ctx)
    assert not again.findings


def test_a_slug_stands_proud_of_the_end_face() -> None:
    for facing, sign in (("far", 1.0), ("near", -1.0)):
        plan, ctx, recipe = head(light="led_slug", facing=facing)
        (part,) = plan.parts
        slug = solid(placed(part.part.envelope[0], part.frame))
        low, high = slug.bounds
        out = high[2] - ctx.z1 if facing == "far" else ctx.z0 - low[2]
        assert out == pytest.approx(0.15, abs=1e-3)
        assert part.frame.z_axis == (0.0, 0.0, sign)
        assert len(make(recipe).components()) == 1


def test_a_slug_of_varying_thickness_may_not_touch_the_tube() -> None:
    # The catalogue's slug is 1.6 +- 0.1 mm thick.
    plan, ctx, _ = head(light="led_slug", proud=0.08)
    found = finding(plan, "slug-not-touching")
    assert (found.numbers["proud"], found.numbers["tolerance"]) == (0.08, 0.1)
    (remedy,) = found.candidates
    assert not KIND.plan(params(light="led_slug", proud=remedy.value), ctx).findings


def test_wires_come_through_to_the_wire_room() -> None:
    for keys in ({}, {"light": "led_slug"}, {"light": "led_round"}):
        plan, ctx, recipe = head(**keys)
        body, d = make(recipe), detail_of(plan)
        middle = ctx.z1 - (d.room_starts + d.room_ends) / 2
        for terminal in plan.terminals:
            x, y, z = terminal.position
            assert z == pytest.approx(middle)
            # A wire runs straight from the joint to the end that the light shines at, the part left out.
            (hits,) = body.rays([(x, y, z)], [(0.0, 0.0, 1.0)])
            assert not hits
            for a, b in terminal.exits:
                clock = math.radians((a + b) / 2)
                (walls,) = body.rays([(x, y, z)], [(math.cos(clock), math.sin(clock), 0.0)])
                assert len(walls) == 2


def test_the_wire_room_opens_to_the_top_only() -> None:
    plan, ctx, recipe = head(clock_deg=60.0)
    body, d = make(recipe), detail_of(plan)
    z = ctx.z1 - (d.room_starts + d.room_ends) / 2
    wanted = {60: 0, 150 + 10: 1, 240: 1, 330 - 10: 1}
    clocks = [math.radians(c) for c in wanted]
    rays = body.rays([(0.0, 0.0, z)] * 4, [(math.cos(c), math.sin(c), 0.0) for c in clocks])
    assert [len(hits) // 2 for hits in rays] == list(wanted.values())
    spine = rays[2]
    assert spine[1].distance - spine[0].distance == pytest.approx(3.2, abs=TOLERANCE)


def test_the_carrier_is_a_piece_of_its_own_on_two_screws() -> None:
    plan, _, recipe = head(carrier=True)
    chassis, carrier = pieces(plan, recipe)
    assert plan.parts[0].piece == plan.extra_pieces[0].name == "head carrier"
    assert chassis.common_volume(carrier) == pytest.approx(0.0, abs=1e-6)
    assert chassis.gap(carrier, 1.0) == 0.0
    through = [h for h in plan.holes if h.kind == "clearance"]
    formed = [h for h in plan.holes if h.kind == "thread_forming"]
    assert len(through) == len(formed) == 2
    for a, b in zip(through, formed, strict=True):
        assert a.frame.origin[:2] == b.frame.origin[:2]
        # Clearance hole of M2.5 2.9 mm, ISO 273 medium; least wall 1.2 mm, common practice, no standard.
        assert a.diameter.total == pytest.approx(2.9 + 0.2, abs=1e-3)
        beside = math.hypot(*a.frame.origin[:2]) - a.diameter.total / 2 - 27.4 / 2
        assert beside >= 1.2 - 1e-3
        assert b.engagement == pytest.approx(2 * 2.5)
        assert carrier.common_volume(solid(Cylinder(1.25, 0.0, a.depth, a.frame))) < 1e-3
        core = solid(Cylinder(1.075, 0.0, b.engagement, b.frame))
        thread = solid(Cylinder(1.25, 0.0, b.engagement, b.frame))
        assert chassis.common_volume(core) < 1e-3 < chassis.common_volume(thread)


def test_no_room_for_a_carriers_screws_blocks_the_solids() -> None:
    plan, ctx, _ = head(36.0, carrier=True)
    found = finding(plan, "carrier-no-room")
    assert found.blocks_solids
    # Beside the socket: clearance hole with 1.2 mm of wall inside, boss outside.
    boss = (2.15 + 0.2) / 2 + 1.6
    assert found.numbers["missing"] == pytest.approx(13.7 + 1.55 + 1.2 + boss + 0.0625 - 17.8, abs=2e-3)
    (remedy,) = found.candidates
    again = KIND.plan(params(carrier=remedy.value), ctx)
    assert not [f for f in again.findings if f.level == "error"]


def test_a_light_tube_narrower_than_the_board_has_no_shoulder() -> None:
    plan, ctx, _ = head(tube_diameter=24.5)
    found = finding(plan, "light-tube-narrow")
    assert found.numbers["shoulder"] == pytest.approx((24.5 - 24.0) / 2, abs=1e-3)
    (remedy,) = found.candidates
    assert remedy.value == 27
    assert not KIND.plan(params(tube_diameter=remedy.value), ctx).findings


def test_a_socket_wider_than_the_chassis_names_a_tube_that_fits() -> None:
    plan, ctx, _ = head(34.0, tube_diameter=33.0)
    found = finding(plan, "wall-thin")
    assert found.numbers["wall"] == pytest.approx(16.8 - 33.4 / 2, abs=1e-3)
    assert found.blocks_solids
    remedy = found.candidates[0]
    again = KIND.plan(params(tube_diameter=remedy.value), ctx)
    assert not [f for f in again.findings if f.level == "error"]


def test_a_light_too_wide_for_the_chassis_names_a_narrower_one_and_a_bore() -> None:
    plan, ctx, _ = head(24.0)
    slug, round_led, words = finding(plan, "wall-thin").candidates
    assert (slug.value, round_led.value) == ("led_slug", "led_round")
    again = KIND.plan(params(light=round_led.value), ctx)
    assert "wall-thin" not in [f.code for f in again.findings]
    # The words' bore is the least one, to a tenth of a millimetre.
    bore = float(words.text.split("bore of ")[1].split()[0])
    assert ["wall-thin" in [f.code for f in head(b)[0].findings] for b in (round(bore - 0.1, 1), bore)] == [
        True,
        False,
    ]


@pytest.mark.parametrize(
    ("code", "keys", "value"),
    [
        ("pins-bottom", {"pin_press": 2.0}, 0.9),
        # pressed right through the board: its wires' way was taken for a slug's holes
        ("pins-bottom", {"pin_press": 22.0}, 0.9),
        ("ledge-covers-joints", {"ledge_width": 6.0}, 4.4),
        ("ledge-width", {"ledge_width": 0.5}, 2.0),
        ("leads-long", {"light": "led_round", "wire_room": 5.0}, 6.0 - 2.0 + 2.0),
        ("leads-short", {"light": "led_round", "ledge": 5.0}, 6.0 - 2.0),
    ],
)
def test_a_light_that_cannot_be_seated_names_what_passes(
    code: str, keys: dict[str, object], value: float
) -> None:
    plan, ctx, _ = head(**keys)
    (remedy,) = finding(plan, code).candidates
    assert remedy.value == pytest.approx(value)
    assert not KIND.plan(params(**{**keys, str(remedy.key): remedy.value}), ctx).findings


def test_a_light_in_the_middle_of_the_chassis_is_covered() -> None:
    plan, ctx, _ = planned(KIND, params(), ends=(True, False))
    remedy, words = finding(plan, "light-covered").candidates
    assert (remedy.key, remedy.value) == ("facing", "near")
    assert words.key is None
    assert not KIND.plan(params(facing="near"), ctx).findings
    assert finding(KIND.plan(params(), replace(ctx, first=False)), "light-covered").candidates == (words,)


def test_another_kind_of_part_is_bad_input() -> None:
    with pytest.raises(InputError, match="not a led slug"):
        head(part="led slug 20 mm")
    with pytest.raises(InputError, match="unknown-thread"):
        head(lock_thread="M99")


def test_lengths_add_up() -> None:
    length = KIND.length(params(), head()[1].setting)
    assert length is not None
    assert length.total == pytest.approx(12.0 + 4.0 - 0.9 + 1.6 + 2.0 + 10.0 + 2.4, abs=1e-3)


@settings(max_examples=15, deadline=None)
@given(
    light=st.sampled_from(["contact_board", "led_slug", "led_round"]),
    bore=st.floats(10.0, 60.0),
    clock=st.floats(-180.0, 180.0),
    facing=st.sampled_from(["far", "near"]),
    carrier=st.booleans(),
    tube=st.none() | st.floats(15.0, 50.0),
    ledge=st.tuples(st.floats(0.6, 5.0), st.floats(0.5, 8.0)),
    room=st.tuples(st.floats(3.0, 20.0), st.floats(1.0, 8.0)),
)
def test_any_accepted_light_head_is_sound_or_says_why_not(
    light: str,
    bore: float,
    clock: float,
    facing: str,
    carrier: bool,
    tube: float | None,
    ledge: tuple[float, float],
    room: tuple[float, float],
) -> None:
    plan, ctx, recipe = head(
        bore,
        light=light,
        clock_deg=clock,
        facing=facing,
        carrier=carrier,
        tube_diameter=tube,
        ledge=ledge[0],
        ledge_width=ledge[1],
        wire_room=room[0],
        room_wall=room[1],
    )
    if any(f.blocks_solids for f in plan.findings):
        return
    made = pieces(plan, recipe)
    assert [len(p.components()) for p in made] == [1] * len(made)
    for body in made:
        low, high = body.bounds
        assert max(abs(c) for c in (*low[:2], *high[:2])) <= ctx.radius + DEFAULT_CHORD
    (part,) = plan.parts
    mover, seat = envelope(part), made[0].union(*made[1:])
    assert seat.common_volume(mover) < 1e-3
