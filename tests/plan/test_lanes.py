"""Lanes: paths for wires past obstacles, grooves and tunnels of the right size."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.parts.model import Measure
from chassis_gen.plan import lanes, search
from chassis_gen.plan.chassis import Lane, Wire
from chassis_gen.plan.lane_cuts import lane_solid, mouth_solids
from chassis_gen.plan.lanes import lay_wires, whole_chassis_obstacles
from chassis_gen.plan.laying import Ground, Stretch, Wiring
from chassis_gen.plan.model import (
    Disc,
    Gallery,
    Obstacle,
    Outer,
    OuterStep,
    PlacedTerminal,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.shapes.primitives import Box, Cone, Cylinder, TubeSegment
from tests.plan.support import RULES, WALL, fitter, ground, measured, section, terminal, wire

R = 18.8


def one_run(
    wires: Sequence[Wire],
    obstacles: Sequence[Obstacle] = (),
    length: float = 60.0,
    exits: tuple[tuple[float, float], ...] = ((0.0, 360.0),),
    galleries: Sequence[Gallery] = (),
    closed: bool = False,
    radius: float = R,
    blocked: Sequence[Obstacle] = (),
) -> Wiring:
    """Return wires laid through one section from a bay before it to a bay behind it."""
    ends = {w.start for w in wires}, {w.end for w in wires}
    near = section("near", 0, 10, terminals=[terminal(t, 5, exits) for t in sorted(ends[0])])
    middle = section("middle", 10, 10 + length, obstacles, galleries=galleries)
    far = section(
        "far", 10 + length, 20 + length, terminals=[terminal(t, 15 + length, exits) for t in sorted(ends[1])]
    )
    return lay_wires(wires, ground([near, middle, far], radius, blocked, ["middle"] if closed else []))


def lanes_of(wiring: Wiring, name: str = "middle") -> list[Lane]:
    return [lane for lane in wiring.lanes if lane.section == name]


# what passes --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("gauge", "passes"), [(22, True), (20, False), (24, True)])
def test_open_groove_round_a_32_mm_speaker_in_a_38_mm_bore(gauge: int, passes: bool) -> None:
    """Project rule: the groove is 1.85 mm deep; AWG 22 (1.8 mm over silicone) passes, AWG 20 (1.9) doesn't.

    A printer that keeps outer sizes and prints holes 0.10 small: 38 / 2 - 0.15 less (32 + 0.40) / 2 + 0.8.
    """
    f = fitter(measured(-0.10, 0.0, -0.10, -0.10))
    chassis = f.outer("chassis", Measure(38.0, 0.1, "bore"), "slide", "").total / 2
    seat = f.inner("seat", Measure(32.0, 0.1, "speaker"), "slide", "").total / 2
    assert chassis - seat - WALL == pytest.approx(1.85, abs=1e-3)
    cup = Obstacle(Disc(0, 0, seat), 20.0, 40.0, "rim seat")
    wiring = one_run([wire("w", "a.plus", "b.plus", gauge)], [cup], radius=chassis)
    assert len(wiring.routes) == passes
    if passes:
        assert not wiring.findings
        return
    (finding,) = wiring.findings
    assert (finding.level, finding.code, finding.where) == ("error", "wire-unrouted", "middle")
    assert "1.90 mm" in finding.message
    assert "1.85 mm" in finding.message
    assert finding.numbers["short_by"] == pytest.approx(0.05, abs=1e-3)
    assert finding.candidates[0].value == 22
    assert [w.id for w in wiring.unrouted] == ["w"]


def test_blocked_section_names_itself_and_what_is_wanted() -> None:
    everything = Obstacle(Sector(0, 360), 20, 30, "window")
    (finding,) = one_run([wire("w", "a.plus", "b.plus")], [everything]).findings
    assert finding.where == "middle"
    assert '"middle" has no room for w (a.plus to b.plus)' in finding.message
    assert finding.numbers["deepest_room"] == 0.0


def test_terminal_with_no_way_out_is_named() -> None:
    (finding,) = one_run([wire("w", "a.plus", "b.plus")], exits=()).findings
    assert "can't reach a.plus" in finding.message


def test_blocked_sector_is_never_crossed() -> None:
    window = Obstacle(Sector(200, 520), 10, 70, "window")
    wiring = one_run([wire("w", "a.plus", "b.plus", 22)], [window], exits=((150, 210),))
    (lane,) = lanes_of(wiring)
    assert lane.clock_from >= 520 - 360
    assert lane.clock_to <= 200


def test_printing_flat_and_tube_openings_bar_lanes() -> None:
    """A chord at distance d from the axis spans acos(d / r) to each side (geometry)."""
    outer = Outer((OuterStep(0, 80, 18.8, True),), 270.0, 18.25)
    flat, opening = whole_chassis_obstacles(outer, [(40.0, 90.0, 6.1, 19.0)], 0.0, 80.0)
    assert isinstance(flat.shape, Sector)
    assert flat.shape.clock_to - 270 >= math.degrees(math.acos(18.25 / 18.8))
    assert isinstance(opening.shape, Sector)
    assert opening.shape.clock_to - 90 >= math.degrees(math.asin(6.1 / 19.0))
    assert (opening.z0, opening.z1) == pytest.approx((33.9, 46.1))


def test_pinned_clock_is_kept_and_refused_where_barred() -> None:
    (lane,) = lanes_of(one_run([wire("w", "a.plus", "b.plus", clock=137.0)]))
    assert (lane.clock_from + lane.clock_to) / 2 == 137.0
    shut = Obstacle(Sector(120, 150), 30, 40, "pad")
    assert one_run([wire("w", "a.plus", "b.plus", clock=137.0)], [shut]).findings


# size and sharing ---------------------------------------------------------------------------------


def test_groove_is_as_deep_as_the_wire_with_cover_where_there_is_room() -> None:
    w = wire("w", "a.plus", "b.plus", 22)
    (lane,) = lanes_of(one_run([w]))
    assert R - lane.bottom_radius == pytest.approx(1.8 + RULES.cover, abs=1e-3)
    tight = Obstacle(Disc(0, 0, R - 1.8 - WALL - 0.1), 10, 70, "seat")
    (lane,) = lanes_of(one_run([w], [tight]))
    assert R - lane.bottom_radius == pytest.approx(1.9, abs=1e-3)


def test_open_lanes_fill_to_sixty_percent_at_most() -> None:
    """Project rule: 60 % where open and laid in."""
    wires = [wire(f"w{i}", f"a.{i}", f"b.{i}", 20 + 2 * i) for i in range(5)]
    lanes = lanes_of(one_run(wires))
    assert lanes
    for lane in lanes:
        assert lane.fill <= lane.fill_limit == 0.60


def test_neighbours_share_one_lane() -> None:
    """With one narrow way for all, first fit packs windows edge to edge: one lane, no rib between."""
    window = Obstacle(Sector(115, 425), 10, 70, "window")
    wires = [wire(f"w{i}", f"a.{i}", f"b.{i}", 26) for i in range(4)]
    wiring = one_run(wires, [window])
    assert not wiring.findings
    (lane,) = lanes_of(wiring)
    assert sorted(lane.wires) == ["w0", "w1", "w2", "w3"]


def test_shared_lane_is_no_deeper_than_its_shallowest_place() -> None:
    """A thick wire over deep ground and a thin one over shallow ground keep the wall under both."""
    shallow = Obstacle(Disc(0, 0, R - WALL - 1.0), 10, 70, "seat")
    gap = Obstacle(Sector(100, 440), 10, 70, "window")
    deep_half = Obstacle(Slab(-20, 0, -20, 20), 10, 70, "board")
    for obstacles in ([shallow, gap], [deep_half, gap]):
        wires = [wire("thick", "a.0", "b.0", 22), wire("thin", "a.1", "b.1", 30)]
        for lane in lanes_of(one_run(wires, obstacles)):
            assert R - lane.bottom_radius <= room_under(lane, obstacles) + 1e-3


def test_thickest_goes_first_and_a_failed_wire_moves_to_the_front() -> None:
    """A slot for one that a pinned thin wire needs: the thick one, laid first, has to yield."""
    slot = Obstacle(Sector(97, 443), 10, 70, "window")
    alone = one_run([wire("thick", "a.0", "b.0", 22), wire("thin", "a.1", "b.1", 30)], [slot])
    assert [w.id for w in alone.unrouted] == ["thin"]
    way_round = Obstacle(Sector(97, 173), 10, 70, "pad"), Obstacle(Sector(187, 443), 10, 70, "pad")
    both = one_run([wire("thick", "a.0", "b.0", 22), wire("thin", "a.1", "b.1", 30, clock=90.0)], way_round)
    assert not both.findings
    assert {r.wire.id for r in both.routes} == {"thick", "thin"}


# closed lanes -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("gauge", "insulation", "length", "limit"),
    [
        (22, "silicone", 50, 0.40),
        (22, "silicone", 70, 0.30),
        (22, "pvc", 70, 0.40),
        (30, "silicone", 50, 0.40),
    ],
)
def test_closed_lane_keeps_the_fill_limit_and_its_least_diameter(
    gauge: int, insulation: str, length: float, limit: float
) -> None:
    """Project rule: 40 % where pulled through, 30 % for silicone over 60 mm, at least 3 mm."""
    w = wire("w", "a.plus", "b.plus", gauge, insulation)
    (lane,) = lanes_of(one_run([w], length=length, closed=True))
    (bar,) = lane_solid(lane, WALL)
    assert isinstance(bar, Cylinder)
    assert 2 * bar.radius == pytest.approx(max(3.0, w.outer_diameter / math.sqrt(limit)), abs=1e-3)
    assert lane.closed
    assert lane.fill_limit == limit
    assert lane.fill == pytest.approx(w.outer_diameter**2 / (2 * bar.radius) ** 2, abs=1e-3)
    assert lane.fill <= limit + 1e-9


def test_two_short_closed_sections_in_a_row_are_one_long_lane() -> None:
    parts = [section("a", 0, 5, terminals=[terminal("a.x", 2)]), section("b", 5, 40), section("c", 40, 75)]
    parts.append(section("d", 75, 80, terminals=[terminal("d.x", 78)]))
    wiring = lay_wires([wire("w", "a.x", "d.x", 22)], ground(parts, closed=["b", "c"]))
    assert {lane.fill_limit for lane in wiring.lanes if lane.closed} == {0.30}


def test_tunnel_lies_under_a_wall_at_its_narrowest_step_too() -> None:
    """Relief between bands takes 0.45 off the radius; the wall over the tunnel stands there as well."""
    outer = Outer((OuterStep(0, 30, 18.8, True), OuterStep(30, 80, 18.35, False)))
    near = section("near", 0, 10, terminals=[terminal("a", 5)])
    rest = section("middle", 10, 70), section("far", 70, 80, terminals=[terminal("b", 75)])
    wiring = lay_wires([wire("w", "a", "b")], ground([near, *rest], outer=outer, closed=["middle"]))
    (lane,) = lanes_of(wiring)
    (bar,) = lane_solid(lane, WALL)
    assert isinstance(bar, Cylinder)
    top = math.hypot(bar.frame.origin[0], bar.frame.origin[1]) + bar.radius
    assert top <= 18.35 - WALL + 1e-3


def test_tunnels_keep_a_wall_from_each_other() -> None:
    slot = Obstacle(Sector(125, 415), 10, 70, "window")
    wiring = one_run([wire(f"w{i}", f"a.{i}", f"b.{i}") for i in range(2)], [slot], closed=True)
    bars = [lane_solid(lane, WALL)[0] for lane in lanes_of(wiring)]
    assert len(bars) == 2
    a, b = bars
    assert isinstance(a, Cylinder)
    assert isinstance(b, Cylinder)
    assert math.dist(a.frame.origin, b.frame.origin) - a.radius - b.radius >= WALL - 1e-3


def test_mouths_are_opened_by_half_a_millimetre() -> None:
    """Project rule: mouths rounded by 0.5 mm."""
    wiring = one_run([wire("w", "a.plus", "b.plus")], closed=True)
    (lane,) = lanes_of(wiring)
    cones = mouth_solids(lane, WALL, RULES.mouth, near=True, far=True)
    for c in cones:
        assert isinstance(c, Cone)
        assert abs(c.r0 - c.r1) == pytest.approx(0.5)
    assert sum("mouth" in s.label for s in wiring.steps["middle"]) == 2


# galleries ----------------------------------------------------------------------------------------

HALVES = (
    Obstacle(Sector(100, 440), 10, 36, "window"),
    Obstacle(Sector(190, 530), 44, 70, "window"),
)


def test_changing_clock_needs_a_gallery() -> None:
    """Near half open round 90 only, far half round 180 only."""
    w = [wire("w", "a.plus", "b.plus")]
    (finding,) = one_run(w, HALVES).findings
    assert finding.code == "wire-unrouted"
    assert not one_run(w, HALVES, galleries=[Gallery(40, 12, "middle", open_room=True)]).findings


def test_hollow_section_needs_no_cuts_and_its_wire_runs_a_quarter_round() -> None:
    wiring = one_run(
        [wire("w", "a.plus", "b.plus")], HALVES, galleries=[Gallery(40, 12, "middle", open_room=True)]
    )
    (route,) = wiring.routes
    (turn,) = [leg for leg in route.legs if leg.kind == "gallery"]
    assert turn.length == pytest.approx(math.radians(82) * (R - 0.8), rel=0.05)
    assert not lanes_of(wiring)
    assert "middle" not in wiring.steps


def test_cut_gallery_joins_the_two_clocks_over_its_arc() -> None:
    solid = [
        Obstacle(Sector(97, 443), 10, 36, "window"),
        Obstacle(Sector(187, 533), 44, 70, "window"),
    ]
    wiring = one_run(
        [wire("w", "a.plus", "b.plus")], solid, galleries=[Gallery(40, 8, "middle", open_room=False)]
    )
    assert not wiring.findings
    (step,) = [s for s in wiring.steps["middle"] if "gallery" in s.label]
    passage = step.solid
    assert isinstance(passage, TubeSegment)
    low, high = sorted((lane.clock_from + lane.clock_to) / 2 for lane in lanes_of(wiring))
    assert passage.clock_from <= low
    assert passage.clock_to >= high
    assert passage.z1 - passage.z0 >= wire("w", "", "").outer_diameter
    assert R - passage.inner_radius >= wire("w", "", "").outer_diameter - 1e-3


def test_cut_gallery_is_refused_where_an_obstacle_lies_in_its_arc() -> None:
    solid = [
        Obstacle(Sector(97, 443), 10, 36, "window"),
        Obstacle(Sector(187, 533), 44, 70, "window"),
        Obstacle(Sector(130, 140), 38, 42, "screw"),
        Obstacle(Sector(300, 310), 38, 42, "screw"),
    ]
    wiring = one_run(
        [wire("w", "a.plus", "b.plus")], solid, galleries=[Gallery(40, 8, "middle", open_room=False)]
    )
    assert [f.code for f in wiring.findings] == ["wire-unrouted"]


def test_gallery_takes_no_more_wires_than_lie_side_by_side_in_it() -> None:
    """Project rule: changing lane needs a gallery with room along the axis for bundle and walls."""
    solid = [Obstacle(Sector(120, 420), 10, 36, "window"), Obstacle(Sector(210, 510), 44, 70, "window")]
    wires = [wire(f"w{i}", f"a.{i}", f"b.{i}", 26) for i in range(3)]
    od = wires[0].outer_diameter
    wide = [Gallery(40, 3 * od + 0.4 + 2 * WALL, "middle", open_room=False)]
    narrow = [Gallery(40, 2 * od + 0.4 + 2 * WALL, "middle", open_room=False)]
    assert not one_run(wires, solid, galleries=wide).findings
    assert len(one_run(wires, solid, galleries=narrow).findings) == 1


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(st.integers(0, 359), st.floats(0, 80), min_size=1, max_size=6),
    st.lists(st.tuples(st.integers(0, 359), st.integers(1, 60)), max_size=3),
    st.booleans(),
)
def test_turning_costs_the_shorter_arc_against_brute_force(
    costs: dict[int, float], windows: list[tuple[int, int]], open_room: bool
) -> None:
    """Every pair of clocks tried: the least cost of coming round by the shorter arc, where no obstacle bars it."""
    cost, limit = np.full(360, math.inf), np.zeros(360)
    cost[list(costs)] = list(costs.values())
    for first, count in windows:
        limit[(first + np.arange(count)) % 360] = math.inf
    here = Stretch(section("a", 0, 10), 0, 5, R, np.zeros(360), Gallery(5.0, 8.0, "a", open_room), limit)
    gone_round, whence = search.turned(cost, here, here, 1.8)
    total, came = np.minimum(cost, gone_round), np.where(cost <= gone_round, np.arange(360), whence)
    barred = np.isinf(limit) & (not open_room)
    barred = barred | np.roll(barred, 1) | np.roll(barred, -1)
    best = np.minimum(cost, turned(cost, barred))
    assert (total >= best - 1e-6).all()
    if not barred.any():
        assert total == pytest.approx(best, abs=1e-6)
    reached = np.isfinite(total)
    apart = np.abs(np.arange(360) - came)
    apart = np.minimum(apart, 360 - apart)
    own = cost[came] + np.where(apart > 0, np.radians(apart) * R + search.TURN_COST, 0.0)
    assert total[reached] == pytest.approx(own[reached], abs=1e-6)


def turned(cost: np.ndarray, barred: np.ndarray) -> np.ndarray:
    """Return the least cost at each clock of turning from any other by the shorter arc, by brute force."""
    clocks = np.arange(360)
    ahead = (clocks[:, None] - clocks[None, :]) % 360
    turn = np.minimum(ahead, 360 - ahead)
    count = np.concatenate([[0], np.cumsum(np.concatenate([barred, barred]))])
    low = np.where(ahead <= 180, clocks[None, :], clocks[:, None])
    free = count[low + turn + 1] - count[low] == 0
    least: np.ndarray = np.where(free, cost[None, :] + np.radians(turn) * R + search.TURN_COST, math.inf).min(
        axis=1
    )
    return least


# routes -------------------------------------------------------------------------------------------


def test_straight_wire_is_as_long_as_two_drops_and_the_way_between() -> None:
    w = wire("w", "a.plus", "b.plus", 22)
    (route,) = one_run([w]).routes
    drop = R - w.outer_diameter / 2
    assert route.length == pytest.approx(2 * drop + 70, abs=1e-6)
    assert [leg.kind for leg in route.legs] == ["drop", "lane", "lane", "lane", "drop"]
    assert [leg.section for leg in route.legs if leg.kind == "lane"] == ["near", "middle", "far"]


def test_cut_length_adds_both_ends_and_rounds_up() -> None:
    """Project rule: path plus end allowances; tables: rounded up to the next step of 5 mm."""
    (route,) = one_run([wire("w", "a.plus", "b.plus")]).routes
    wanted = route.length + 2 * RULES.end_allowance
    assert route.cut_length % RULES.round_up == 0
    assert wanted <= route.cut_length < wanted + RULES.round_up


def test_wire_named_from_the_deep_end_runs_that_way() -> None:
    near = section("near", 0, 10, terminals=[terminal("a", 5)])
    far = section("far", 10, 40, terminals=[terminal("b", 35)])
    (route,) = lay_wires([wire("w", "b", "a")], ground([near, far])).routes
    assert route.legs[0].start[2] == 35
    assert route.legs[-1].end[2] == 5


def test_drop_reaches_from_the_terminal_through_the_surface() -> None:
    wiring = one_run([wire("w", "a.plus", "b.plus")])
    (lane,) = lanes_of(wiring, "near")
    solids = [s.solid for s in wiring.steps["near"] if s.label == "drop to a.plus"]
    (channel,) = [s for s in solids if isinstance(s, Box)]
    (mouth,) = [s for s in solids if isinstance(s, TubeSegment)]
    assert channel.frame.origin == (0.0, 0.0, 5.0)
    assert channel.high[0] > mouth.inner_radius
    assert R - mouth.inner_radius >= wire("w", "", "").outer_diameter - 1e-3
    assert mouth.clock_from <= lane.clock_from < lane.clock_to <= mouth.clock_to
    assert mouth.outer_radius > R
    assert mouth.z0 < 5.0 < mouth.z1


@pytest.mark.parametrize(("step", "rim"), [(4.0, True), (2.0, False), (6.0, True), (8.0, False)])
def test_no_ridge_is_left_between_a_drop_and_a_step_of_the_surface(step: float, rim: bool) -> None:
    """A mouth of 2 mm about station 5 ends 0 or 2 mm from the step: nearer than a wall of 0.8 mm it goes on to it."""
    end = terminal("a.x", 5.0), terminal("b.x", 35.0)
    w = wire("w", "a.x", "b.x")
    size = w.outer_diameter + 0.4
    near, low, high = 5 - size / 2 - 0.3, 18.0, 18.8
    at = near if step == 4.0 else 10 - near if step == 6.0 else step
    radii = (low, high) if step < 5 else (high, low)
    outer = Outer((OuterStep(0, at, radii[0], False), OuterStep(at, 40, radii[1], True)))
    wiring = lay_wires([w], ground([section("a", 0, 40, terminals=end)], outer=outer))
    solids = [s.solid for s in wiring.steps["a"] if s.label == "drop to a.x"]
    mouth, *more = (s for s in solids if isinstance(s, TubeSegment))
    assert len(more) == rim
    if rim:
        assert more[0].inner_radius < low < more[0].outer_radius
        assert (
            (more[0].z0 < at < mouth.z0 < more[0].z1)
            if step < 5
            else (more[0].z0 < mouth.z1 < at < more[0].z1)
        )


def test_wire_between_terminals_of_one_station_needs_no_lane() -> None:
    """Two drops that meet at the surface are its whole way; no groove runs on into nothing."""
    ends = [terminal("a.x", 20.0, x=-5.0), terminal("a.y", 20.0, x=5.0)]
    w = wire("w", "a.x", "a.y")
    wiring = lay_wires([w], ground([section("a", 0, 40, terminals=ends)]))
    assert wiring.lanes == ()
    labels = {s.label for s in wiring.steps["a"]}
    assert {"drop to a.x", "drop to a.y"} <= labels
    assert all("drop" in label for label in labels)
    (route,) = wiring.routes
    assert {leg.kind for leg in route.legs} == {"drop"}
    assert route.length >= 2 * math.hypot(R - w.outer_diameter / 2 - 5.0, 0.0)


def test_no_wires_no_lanes() -> None:
    assert lay_wires([], ground([section("a", 0, 10)])) == Wiring((), (), {}, ())


# properties ---------------------------------------------------------------------------------------


def room_under(lane: Lane, obstacles: Sequence[Obstacle]) -> float:
    """Return how deep a lane may be by brute force over its clocks: surface to obstacle less the wall."""
    a, r = np.radians(np.arange(lane.clock_from, lane.clock_to, 0.25)), np.arange(0, R, 0.01)
    x, y = np.outer(r, np.cos(a)), np.outer(r, np.sin(a))
    solid = [o.shape for o in obstacles if not isinstance(o.shape, Sector)]
    reaches = [float(np.where(distance(shape, x, y) <= 0, r[:, None], -R).max()) for shape in solid]
    return min((R - far - WALL + 0.01 for far in reaches), default=R)


def distance(shape: Disc | Slab, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return how far points lie outside a shape (at most 0 inside)."""
    if isinstance(shape, Disc):
        return np.asarray(np.hypot(x - shape.x, y - shape.y) - shape.radius)
    turn = math.radians(shape.top_clock - 90)
    u, v = x * math.cos(turn) + y * math.sin(turn), -x * math.sin(turn) + y * math.cos(turn)
    p, q = np.maximum(shape.x0 - u, u - shape.x1), np.maximum(shape.y0 - v, v - shape.y1)
    return np.asarray(np.hypot(np.maximum(p, 0), np.maximum(q, 0)) + np.minimum(np.maximum(p, q), 0))


def cloud(lane: Lane) -> tuple[np.ndarray, np.ndarray]:
    """Return points all over a lane's cross-section."""
    a = np.radians(np.linspace(lane.clock_from, lane.clock_to, 40))
    r = np.linspace(lane.bottom_radius, R, 12)
    return np.outer(r, np.cos(a)), np.outer(r, np.sin(a))


SHAPES = st.one_of(
    st.builds(Disc, st.floats(-12, 12), st.floats(-12, 12), st.floats(0.5, 9)),
    st.builds(
        lambda x, w, y, h, top: Slab(x, x + w, y, y + h, top),
        st.floats(-14, 8), st.floats(1, 20), st.floats(-14, 8), st.floats(1, 12), st.floats(0, 359),
    ),
    st.builds(lambda a, w: Sector(a, a + w), st.floats(0, 359), st.floats(2, 120)),
)  # fmt: skip


@st.composite
def grounds(draw: st.DrawFn) -> tuple[Ground, tuple[Wire, ...]]:
    """Draw three to five sections with obstacles, terminals and galleries, and wires between them."""
    sections: list[SectionPlan] = []
    terminals: list[PlacedTerminal] = []
    z = 0.0
    for i in range(draw(st.integers(3, 5))):
        name, long = f"s{i}", float(draw(st.integers(8, 40)))
        obstacles = []
        for shape in draw(st.lists(SHAPES, max_size=2)):
            at, reach = draw(st.floats(0, 1)) * long, draw(st.floats(0, 1)) * long
            obstacles.append(Obstacle(shape, z + at / 2, z + at / 2 + reach / 2 + 1, "drawn"))
        own = [terminal(f"{name}.t{k}", z + draw(st.integers(1, 7))) for k in range(2)]
        kind = draw(st.sampled_from([None, "cut", "open"]))
        galleries = [Gallery(z + long / 2, 8.0, name, kind == "open")] if kind else []
        sections.append(section(name, z, z + long, obstacles, own, galleries))
        terminals += own
        z += long
    pairs = list(itertools.combinations([t.id for t in terminals], 2))
    chosen = draw(st.lists(st.sampled_from(pairs), min_size=1, max_size=6))
    gauges = st.sampled_from([20, 22, 24, 26, 28, 30])
    wires = tuple(wire(f"w{i}", a, b, draw(gauges)) for i, (a, b) in enumerate(chosen))
    closed = draw(st.lists(st.sampled_from([s.name for s in sections]), max_size=2))
    return ground(sections, closed=closed), wires


@settings(max_examples=40, deadline=None)
@given(grounds())
def test_lanes_keep_room_and_walls(drawn: tuple[Ground, tuple[Wire, ...]]) -> None:
    """By brute force, whatever the obstacles: deep enough, and a wall from obstacles and each other."""
    g, wires = drawn
    wiring = lay_wires(wires, g)
    assert {r.wire.id for r in wiring.routes} | {w.id for w in wiring.unrouted} == {w.id for w in wires}
    assert len(wiring.findings) == len(wiring.unrouted)
    size = {w.id: w.outer_diameter for w in wires}
    owner = {s.name: s for s in g.sections}
    for lane in wiring.lanes:
        assert R - lane.bottom_radius >= max(size[w] for w in lane.wires) - 1e-3
        assert lane.fill <= lane.fill_limit + 1e-6
        x, y = cloud(lane)
        for o in owner[lane.section].obstacles:
            if o.z0 - WALL < lane.z1 and o.z1 + WALL > lane.z0:
                if isinstance(o.shape, Sector):
                    assert not arcs_meet(lane, o.shape)
                else:
                    assert distance(o.shape, x, y).min() >= WALL - 0.02
    for a, b in itertools.combinations(wiring.lanes, 2):
        if a.section == b.section and a.z0 < b.z1 - 1e-9 and b.z0 < a.z1 - 1e-9:
            assert arc_between(a, b) * (max(a.bottom_radius, b.bottom_radius)) >= WALL - 1e-3


def arcs_meet(lane: Lane, sector: Sector) -> bool:
    turn = (sector.clock_from - lane.clock_from) % 360
    back = (lane.clock_from - sector.clock_from) % 360
    return turn < lane.clock_to - lane.clock_from or back < sector.clock_to - sector.clock_from


def arc_between(a: Lane, b: Lane) -> float:
    """Return the smaller gap between two lanes round the circle, radians (negative where they meet)."""
    ahead = (b.clock_from - a.clock_from) % 360 - (a.clock_to - a.clock_from)
    behind = (a.clock_from - b.clock_from) % 360 - (b.clock_to - b.clock_from)
    return math.radians(min(ahead, behind))


@settings(max_examples=25, deadline=None)
@given(grounds())
def test_routes_are_unbroken_and_no_shorter_than_a_straight_line(
    drawn: tuple[Ground, tuple[Wire, ...]],
) -> None:
    g, wires = drawn
    places = {t.id: t.position for s in g.sections for t in s.terminals}
    for route in lay_wires(wires, g).routes:
        assert route.legs[0].start == places[route.wire.start]
        assert route.legs[-1].end == places[route.wire.end]
        for a, b in itertools.pairwise(route.legs):
            assert math.dist(a.end, b.start) < 1e-6
        for leg in route.legs:
            assert leg.length >= math.dist(leg.start, leg.end) - 1e-6
        assert route.length == pytest.approx(sum(leg.length for leg in route.legs))
        assert route.length >= math.dist(places[route.wire.start], places[route.wire.end]) - 1e-6


@settings(max_examples=10, deadline=None)
@given(grounds())
def test_laying_twice_gives_the_same(drawn: tuple[Ground, tuple[Wire, ...]]) -> None:
    assert lay_wires(drawn[1], drawn[0]) == lay_wires(drawn[1], drawn[0])


@settings(max_examples=25, deadline=None)
@given(grounds())
def test_what_is_free_over_many_stretches_is_what_is_free_in_each(
    drawn: tuple[Ground, tuple[Wire, ...]],
) -> None:
    """Stretches that are alike are worked out once; asked for one by one, none is like another."""
    g, wires = drawn
    terminals = {t.id: t for s in g.sections for t in s.terminals}
    laying = lanes._Laying(wires, lanes._stretches(g, wires, terminals), terminals, g)
    laying.best()
    rows = range(len(laying.stretches))
    for w, alone in itertools.product(wires, (False, True)):
        together = laying.grid.free(w, 0, len(rows), alone)
        assert (together == np.concatenate([laying.grid.free(w, k, k + 1, alone) for k in rows])).all()


def test_a_tunnel_under_a_tape_recess_keeps_its_wall() -> None:
    """Two layers of tape of 0.1 mm and 0.1 mm to spare are cut 0.3 mm deep; below that the least wall stands."""
    parts = [
        section("near", 0, 10, terminals=[terminal("near.x", 5)]),
        replace(section("tray", 10, 60), recesses=((30.0, 42.0, R - 0.3),)),
        section("far", 60, 70, terminals=[terminal("far.x", 65)]),
    ]
    for closed in (["tray"], []):
        (lane,) = lanes_of(lay_wires([wire("w", "near.x", "far.x")], ground(parts, closed=closed)), "tray")
        (solid,) = lane_solid(lane, WALL)
        if closed:
            assert isinstance(solid, Cylinder)
            roof = math.hypot(*solid.frame.origin[:2]) + solid.radius
            assert R - 0.3 - roof == pytest.approx(WALL, abs=2e-4)
        else:
            # an open groove lies in the surface itself and is no deeper for it
            assert lane.bottom_radius > R - 2.5


def test_a_wire_that_was_left_over_is_laid_where_it_has_a_way_after_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What was over while a state was made may have a way once all else lies as it does there."""

    def none_laid(laying: lanes._Laying, order: Sequence[Wire], most_rips: int) -> lanes._State:
        laying._lay_again(lanes._State((), tuple(w.id for w in order)))
        return laying._state()

    monkeypatch.setattr(lanes._Laying, "_laid_in", none_laid)
    ends = [
        section("a", 0, 40, terminals=[terminal("a.x", 10)]),
        section("b", 40, 80, terminals=[terminal("b.x", 70)]),
    ]
    wiring = lay_wires((wire("w", "a.x", "b.x", 26),), ground(ends))
    assert [r.wire.id for r in wiring.routes] == ["w"]
    assert not wiring.unrouted
