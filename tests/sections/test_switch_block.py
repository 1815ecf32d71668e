"""The switch block: figures against plane geometry, and against the meshes themselves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.plan.cross_section import innermost_lane_radius
from chassis_gen.plan.model import GapProbe, PlacedPart, PlayProbe, SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import Opening, SectionContext
from chassis_gen.sections.switch_block import KIND, SwitchBlockParams, SwitchBlockPlan
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.mesh import DEFAULT_CHORD, make, solid
from chassis_gen.shapes.primitives import placed
from chassis_gen.shapes.recipe import Recipe
from tests.helpers import reread
from tests.sections.support import planned, setting

TOLERANCE = DEFAULT_CHORD + 0.005


def params(**keys: object) -> SwitchBlockParams:
    return SwitchBlockParams.model_validate({"name": "block", **keys})


def block(
    bore: float = 40.0, opening: Opening | None = None, **keys: object
) -> tuple[SectionPlan, SectionContext, dict[str, Body]]:
    plan, ctx, recipe = planned(KIND, params(**keys), bore, opening=opening)
    bodies = {ctx.piece: make(recipe)}
    bodies |= {e.name: make(Recipe(e.name, e.steps)) for e in plan.extra_pieces}
    return plan, ctx, bodies


def detail_of(plan: SectionPlan) -> SwitchBlockPlan:
    assert isinstance(plan.detail, SwitchBlockPlan)
    return plan.detail


def envelope(part: PlacedPart) -> Body:
    first, *more = (solid(placed(p, part.frame)) for p in part.part.envelope)
    return first.union(*more)


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


def but_the_opening(plan: SectionPlan) -> list[Finding]:
    """Return what is found in a block that was planned without a tube opening, but for that."""
    return [f for f in plan.findings if f.code != "switch-without-opening"]


def test_a_panel_button_s_head_stays_under_the_surface_rim_and_travel_included() -> None:
    plan, ctx, _ = block()
    seat = detail_of(plan).main
    # Pythagoras on the head's rim: 14.1 mm head at its limit, 0.2 mm play in a 12.4 mm bore, 0.2 mm cover.
    rim = math.sqrt((ctx.radius - 0.2) ** 2 - (14.1 / 2 + 0.2) ** 2)
    assert seat.seat_height.total == pytest.approx(rim - 1.5 - 2.0 - 0.1 - 0.02, abs=1e-3)
    assert seat.bore_diameter is not None
    assert seat.bore_diameter.total == pytest.approx(12.0 + 2 * 0.15 + 0.1, abs=1e-4)
    assert plan.facts["switch_below_outer_face_mm"] == pytest.approx(21.5 - seat.top)
    pressed, _, _ = block(slide_in="pressed")
    assert detail_of(pressed).main.seat_height.total == pytest.approx(seat.seat_height.total + 1.5, abs=1e-3)


@pytest.mark.parametrize(
    ("bore", "keys"),
    [
        (40.0, {}),
        (40.0, {"part": "panel button 16 mm", "clock_deg": 30.0}),
        (40.0, {"part": "tactile board"}),
        (32.0, {"part": "tactile board", "clock_deg": 200.0, "actuator_recess": 3.0}),
        (40.0, {"carrier": True}),
        (40.0, {"carrier": True, "part": "tactile board", "carrier_hole": "tapped"}),
        (40.0, {"aux": {"part": "tactile board", "clock_deg": 0.0}}),
        (40.0, {"carrier": True, "aux": {"part": "panel button 12 mm"}}),
    ],
)
def test_switches_move_in_their_seats_as_planned(bore: float, keys: dict[str, object]) -> None:
    plan, ctx, bodies = block(bore, **keys)
    assert not but_the_opening(plan)
    for name, body in bodies.items():
        assert [c.volume > 0 for c in body.components()] == [True], name
        again = reread(body)
        assert again.is_watertight
        assert again.volume == pytest.approx(body.volume, rel=1e-5)
        low, high = body.bounds
        assert max(abs(v) for v in (*low[:2], *high[:2])) <= ctx.radius + DEFAULT_CHORD
    for part in plan.parts:
        mover = envelope(part)
        for body in bodies.values():
            assert body.common_volume(mover) < 1e-3
            for keepout in part.part.keepouts:
                assert body.common_volume(solid(placed(keepout.solid, part.frame))) < 1e-3
        seat = bodies[part.piece]
        for play in part.plays:
            if play.expected is not None:
                got = seat.play(mover, play.direction, play.expected)
                assert got == pytest.approx(play.expected, abs=TOLERANCE), play
        way_out = tuple(-v for v in part.way_in)
        assert all(b.play(mover, way_out, 40.0, 40.0) == 40.0 for b in bodies.values())


def test_the_fit_that_is_planned_is_the_play_that_is_planned() -> None:
    for keys in ({}, {"part": "tactile board"}):
        plan, _, _ = block(**keys)
        (part,) = plan.parts
        expected = {p.direction: p.expected for p in part.plays}
        for fit in plan.fits:
            assert isinstance(fit.probe, PlayProbe)
            assert all(expected[d] == pytest.approx(fit.planned) for d in fit.probe.directions)
            # Slide fit, 0.15 mm per side after printing: the class of the test setting.
            assert fit.as_printed == pytest.approx(0.15, abs=1e-4)


def test_a_tactile_board_reaches_the_outer_face_less_its_recess() -> None:
    plan, _, bodies = block(part="tactile board", actuator_recess=0.5)
    (part,) = plan.parts
    top = envelope(part).bounds[1][1]
    # Tube outer radius 21.5 (40 mm bore, 1.5 mm wall) less 0.5.
    assert top == pytest.approx(21.0, abs=1e-3)
    assert [t.label for t in detail_of(plan).main.seat_height.terms][:2] == [
        "tube outer radius",
        "actuator recess",
    ]
    warning = finding(plan, "switch-past-bore")
    assert warning.level == "warning"
    assert warning.numbers["reach"] == pytest.approx(math.hypot(21.0, 1.75), abs=1e-3)
    (remedy,) = warning.candidates
    again, _, _ = block(part="tactile board", **{str(remedy.key): remedy.value})
    assert not but_the_opening(again)
    assert len(bodies["chassis"].components()) == 1


def test_a_tube_opening_pins_station_and_clock() -> None:
    opening = Opening("button", 120.0, 37.0, 12.2)
    s = setting(40.0, (opening,))
    p = params(at_opening="button")
    z0 = opening.station - KIND.pin_offset(p, s)
    plan, _, recipe = planned(KIND, p, 40.0, z0=z0, opening=opening)
    point, direction = plan.features["button axis"]
    assert point[2] == pytest.approx(120.0)
    assert direction == pytest.approx((math.cos(math.radians(37)), math.sin(math.radians(37)), 0.0))
    assert plan.openings == ("button",)
    # The head's recess is found on the mesh: its walls lie evenly round the opening's axis.
    body = make(recipe)
    recess = detail_of(plan).main.opening_width.total / 2
    at = tuple(17.0 * d + p0 for d, p0 in zip(direction, point, strict=True))
    ways = [
        (-direction[1], direction[0], 0.0),
        (direction[1], -direction[0], 0.0),
        (0.0, 0.0, 1.0),
        (0.0, 0.0, -1.0),
    ]
    for hits in body.rays([at] * 4, ways):
        assert hits[0].distance == pytest.approx(recess, abs=0.02)


def test_a_second_switch_stands_at_its_own_opening() -> None:
    openings = (Opening("main", 100.0, 90.0, 12.2), Opening("mode", 130.0, 0.0, 6.0))
    s = setting(40.0, openings)
    p = params(at_opening="main", aux={"part": "tactile board", "at_opening": "mode"})
    z0, length = 100.0 - KIND.pin_offset(p, s), KIND.length(p, s)
    assert length is not None
    _, ctx, _ = planned(KIND, params(), 40.0, z0=z0, opening=openings[0])
    plan = KIND.plan(p, replace(ctx, setting=s, z1=z0 + length.total))
    assert not plan.findings
    assert plan.openings == ("main", "mode")
    assert plan.features["button axis"][0][2] == pytest.approx(100.0, abs=1e-3)
    point, direction = plan.features["second button axis"]
    assert point[2] == pytest.approx(130.0, abs=1e-3)
    assert direction == pytest.approx((1.0, 0.0, 0.0))
    with pytest.raises(InputError, match="another opening"):
        KIND.length(params(aux={"part": "tactile board", "at_opening": "mode"}), s)


def test_a_switch_under_a_closed_wall_is_told() -> None:
    # The default block's axis stands at station 16 + half its length; the tube's outside is 43 mm wide.
    station = 16.0 + KIND.pin_offset(params(), setting())
    edge = 21.5 * math.radians(16.0)
    assert 6.0 < edge < 6.1
    openings = {
        "over it": Opening("o", station, 90.0, 12.2),
        "beside it, its edge over the axis": Opening("o", station, 106.0, 2 * edge + 0.1),
        "beside it": Opening("o", station, 106.0, 2 * edge - 0.1),
        "behind it": Opening("o", station, 270.0, 12.2),
        "beyond it": Opening("o", station + 7.0, 90.0, 12.2),
    }
    told = []
    for what, opening in openings.items():
        _, ctx, _ = planned(KIND, params(), 40.0)
        ctx = replace(ctx, setting=setting(40.0, (opening,)))
        plan = KIND.plan(params(), ctx)
        told += [what for f in plan.findings if f.code == "switch-without-opening"]
    assert told == ["beside it", "behind it", "beyond it"]
    assert finding(plan, "switch-without-opening").candidates[0].key == "at_opening"


def test_the_carrier_lies_in_its_bay_with_the_planned_gap() -> None:
    plan, ctx, bodies = block(carrier=True)
    (fit,) = (f for f in plan.fits if f.kind == "carrier in bay")
    assert isinstance(fit.probe, GapProbe)
    low, high = (-50.0, -50.0, fit.probe.z0), (50.0, 50.0, fit.probe.z1)
    gap = bodies[fit.probe.a].cropped(low, high).gap(bodies[fit.probe.b].cropped(low, high), 2.0)
    assert gap == pytest.approx(fit.planned, abs=TOLERANCE)
    carrier, chassis = bodies["block carrier"], bodies["chassis"]
    assert chassis.gap(carrier, 1.0) == pytest.approx(0.02, abs=1e-3)
    (extra,) = plan.extra_pieces
    out = tuple(-v for v in extra.way_in)
    assert chassis.play(carrier, out, 30.0, 30.0) == 30.0
    assert len(plan.holes) == 4
    (hardware,) = plan.hardware
    assert hardware.count == 2
    # Two diameters of thread in plastic (common practice, no source), M3.
    assert all(h.engagement >= 6.0 for h in plan.holes if h.kind == "thread_forming")
    # Head and counterbore stay under the outer surface by the cover of 0.2 mm.
    for hole in plan.holes:
        if hole.kind == "clearance":
            bears = math.hypot(*hole.frame.origin[:2])
            assert math.hypot(bears + 3.0, 3.3) <= ctx.radius - 0.2 + 1e-4


def test_a_sum_that_does_not_close_is_printed() -> None:
    plan, _, _ = planned(KIND, params(), 24.0)
    found = finding(plan, "radial-sum")
    assert found.blocks_solids
    # 2 x 11.8 mm is what a chassis with 0.2 mm clearance has in a 24 mm bore.
    assert found.numbers["available"] == pytest.approx(23.6)
    assert found.numbers["needed"] - 23.6 == pytest.approx(found.numbers["short"])
    shown = found.message.split(": ")[1].split(" = ")[0]
    assert sum(float(t.split()[-1]) for t in shown.split(" + ")) == pytest.approx(
        found.numbers["needed"], abs=0.04
    )
    fits = [r for r in found.candidates if r.key == "part"]
    assert [r.value for r in fits] == ["tactile board"]
    again, _, _ = planned(KIND, params(part="tactile board"), 24.0)
    assert not but_the_opening(again)


@pytest.mark.parametrize(
    ("bore", "keys", "code"),
    [
        (40.0, {"plate_thickness": 12.5}, "plate-too-thick"),
        (40.0, {"aux": {"part": "tactile board", "offset": 15.0}}, "switches-too-close"),
        (40.0, {"carrier": True, "plate_thickness": 1.0, "slide_in": "pressed"}, "carrier-thin"),
    ],
)
def test_what_cannot_work_is_found_and_its_remedy_passes(
    bore: float, keys: dict[str, object], code: str
) -> None:
    plan, _, _ = planned(KIND, params(**keys), bore)
    found = finding(plan, code)
    remedy = found.candidates[0]
    changed = {k: dict(v) if isinstance(v, dict) else v for k, v in keys.items()}
    *path, last = str(remedy.key).split(".")
    target = changed
    for step in path:
        target = target[step]  # type: ignore[assignment]
    target[last] = remedy.value
    again, _, _ = planned(KIND, params(**changed), bore)
    assert code not in [f.code for f in again.findings]


def test_a_part_that_is_no_switch_is_refused() -> None:
    with pytest.raises(InputError, match="switch block"):
        planned(KIND, params(part="sound board"))


def test_lengthening_leaves_the_axis_where_it_is() -> None:
    s = setting()
    longer = params(end_wall=4.2)
    assert KIND.pin_offset(longer, s) - KIND.pin_offset(params(), s) == pytest.approx(1.0)
    a, b = KIND.length(longer, s), KIND.length(params(), s)
    assert a is not None
    assert b is not None
    assert a.total - b.total == pytest.approx(2.0)


@settings(max_examples=15, deadline=None)
@given(
    bore=st.floats(20.0, 60.0),
    part=st.sampled_from(["panel button 12 mm", "panel button 16 mm", "tactile board"]),
    plate=st.floats(1.0, 6.0),
    clock=st.sampled_from([90.0, 0.0, 123.0]),
    carrier=st.booleans(),
    aux=st.booleans(),
    recess=st.none() | st.floats(0.0, 6.0),
)
def test_any_block_is_one_body_or_says_why_not(
    bore: float, part: str, plate: float, clock: float, carrier: bool, aux: bool, recess: float | None
) -> None:
    keys: dict[str, object] = {
        "part": part,
        "plate_thickness": plate,
        "clock_deg": clock,
        "carrier": carrier,
        "actuator_recess": recess,
    }
    if aux:
        keys["aux"] = {"part": "tactile board", "clock_deg": clock + 90}
    plan, ctx, recipe = planned(KIND, params(**keys), bore)
    if any(f.blocks_solids for f in plan.findings):
        return
    bodies = {ctx.piece: make(recipe)}
    bodies |= {e.name: make(Recipe(e.name, e.steps)) for e in plan.extra_pieces}
    for body in bodies.values():
        assert [c.volume > 0 for c in body.components()] == [True]
        assert reread(body).is_watertight
    for placed_part in plan.parts:
        mover = envelope(placed_part)
        assert all(b.common_volume(mover) < 1e-3 for b in bodies.values())


def test_grooves_keep_a_wall_beside_the_board_s_opening_at_any_depth() -> None:
    plan, ctx, _ = planned(KIND, params(part="tactile board"), 27.0)
    assert isinstance(plan.detail, SwitchBlockPlan)
    half = plan.detail.main.opening_width.total / 2
    z = plan.parts[0].frame.origin[2]
    limit = innermost_lane_radius(plan.obstacles, z - 1, z + 1, 0.8)

    free = [c for c in range(20, 90) if limit[c] <= ctx.radius]
    # plane geometry: the bottom corner of a groove lies a wall beside the opening's upright side
    assert free and all(limit[c] * math.cos(math.radians(c)) >= half + 0.8 - 1e-9 for c in free)


def test_wires_meet_the_floor_at_no_knife_edge() -> None:
    plan, ctx, _ = planned(KIND, params(), 40.0)

    for terminal in plan.terminals:
        x, y, _ = terminal.position
        ((low, high),) = terminal.exits
        for clock in (low, high):
            ex = (ctx.radius - 2) * math.cos(math.radians(clock))
            ey = (ctx.radius - 2) * math.sin(math.radians(clock))
            # 30 degrees is where the wall check begins to count a wedge as a wall
            assert math.degrees(math.atan2(y - ey, abs(ex - x))) >= 30
