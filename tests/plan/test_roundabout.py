"""Ways past an end and back, wire tubes, bends, classes that keep apart, pushing out, and bodies in wires."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.plan.chassis import Connector, InLine, Route, Via, Wire
from chassis_gen.plan.lanes import lay_wires
from chassis_gen.plan.laying import Ground, Wiring, bend_room, side_steps, step_length
from chassis_gen.plan.model import Disc, Gallery, Obstacle, SectionPlan, Sector, TubeLane
from chassis_gen.plan.netlist import least_tree
from chassis_gen.plan.search import TURN_COST
from tests.plan.support import RULES, WALL, ground, section, terminal, wire

R = 18.8


def laid(g: Ground, *wires: Wire, **rules: float) -> Wiring:
    return lay_wires(wires, replace(g, rules=replace(g.rules, **rules)))


def bay(name: str, z0: float, z1: float) -> SectionPlan:
    return section(name, z0, z1, galleries=[Gallery((z0 + z1) / 2, z1 - z0, name, open_room=True)])


# past an end and back -------------------------------------------------------------------------------

TWO_EXITS = section(
    "boards",
    0,
    40,
    [Obstacle(Sector(100, 260), 0, 40, "board"), Obstacle(Sector(280, 440), 0, 40, "board")],
    terminals=[terminal("a.plus", 10, ((80, 100),)), terminal("b.plus", 30, ((260, 280),))],
)


def test_a_wire_runs_past_an_end_to_the_nearest_gallery_and_comes_back() -> None:
    """Two terminals of one section whose exits lie opposite, and no gallery between them."""
    wiring = laid(ground([TWO_EXITS, bay("bay", 40, 60)]), wire("w", "a.plus", "b.plus"))
    (route,) = wiring.routes
    assert not wiring.findings
    assert [leg.section for leg in route.legs if leg.kind == "gallery"] == ["bay"]
    assert max(leg.end[2] for leg in route.legs) == 50
    assert route.legs[-1].end[2] == 30
    assert route.length >= 2 * (50 - 30) + 20 + 2 * (R - 1)


def test_no_gallery_on_either_side_leaves_the_wire_out() -> None:
    wiring = laid(ground([TWO_EXITS, section("plate", 40, 60)]), wire("w", "a.plus", "b.plus"))
    assert [f.code for f in wiring.findings] == ["wire-unrouted"]


def test_a_wire_passes_the_section_that_it_is_told_to() -> None:
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5)]),
        section("b", 10, 20, terminals=[terminal("b.x", 15)]),
        bay("far", 20, 40),
    ]
    straight = laid(ground(parts), wire("w", "a.x", "b.x"))
    told = laid(ground(parts), replace(wire("w", "a.x", "b.x"), via=(Via("far"),)))
    assert "far" not in {leg.section for leg in straight.routes[0].legs}
    assert "far" in {leg.section for leg in told.routes[0].legs}


def test_a_clock_may_be_pinned_in_one_section_only() -> None:
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5)]),
        bay("near", 10, 30),
        section("b", 30, 60),
        section("c", 60, 70, terminals=[terminal("c.x", 65)]),
    ]
    pinned = replace(wire("w", "a.x", "c.x"), via=(Via("b", 222.0),))
    wiring = laid(ground(parts), pinned)
    (lane,) = [x for x in wiring.lanes if x.section == "b"]
    assert (lane.clock_from + lane.clock_to) / 2 == 222


# bends -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("arc", "radius", "room"), [(9.6, 4.8, 9.6), (30.0, 4.8, 9.6), (2.0, 5.0, 6.0)])
def test_a_side_step_takes_two_arcs(arc: float, radius: float, room: float) -> None:
    """Plane geometry: arcs of radius r set against each other step by y over sqrt(4 r y - y^2) along."""
    assert bend_room(arc, radius) == pytest.approx(room)
    # the two arcs' centres lie 2 r apart
    along = bend_room(arc, radius)
    if arc < 2 * radius:
        assert math.hypot(along, 2 * radius - arc) == pytest.approx(2 * radius)
        assert side_steps(along, radius).short == pytest.approx(arc)


def drawn(arc: float, room: float, radius: float) -> tuple[float, float, float]:
    """Return how far a side step comes along and across, and its length, drawn in small straight steps.

    It bends one way for as long as it must, runs straight and bends back; the heading at which it comes as far
    across as it should is found by bisection.
    """

    def path(heading: float) -> tuple[float, float, float]:
        # both arcs are alike; what they leave of the room is for the straight line between them
        along, across = radius * math.sin(heading), radius * (1 - math.cos(heading))
        straight = max(0.0, (arc - 2 * across) / math.sin(heading))
        return 2 * along + straight * math.cos(heading), 2 * across, 2 * radius * heading + straight

    low, high = math.pi / 2, math.radians(170.0)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if path(middle)[0] < room else (middle, high)
    return path(low)


@pytest.mark.parametrize(("room", "radius"), [(9.5, 4.8), (7.7, 3.9), (6.0, 4.8)])
def test_a_long_side_step_folds_back(room: float, radius: float) -> None:
    """Plane geometry: past a quarter circle the wire runs back, so a long step fits a room of less than 2 r."""
    steps = side_steps(room, radius)
    assert math.hypot(room, steps.long - 2 * radius) == pytest.approx(2 * radius)
    assert steps.short + steps.long == pytest.approx(4 * radius)
    for arc in (steps.long + 1e-9, steps.long + 1, steps.long + 20):
        along, across, length = drawn(arc, room, radius)
        assert along == pytest.approx(room, abs=1e-6)
        assert across <= arc + 1e-6
        assert step_length(arc, room, radius) == pytest.approx(length, abs=1e-4)
    assert side_steps(1.2 * radius, radius).long == math.inf


def test_a_turn_keeps_three_diameters_of_radius() -> None:
    """A quarter turn of a 1.6 mm wire takes 2 x 3 x 1.6 mm along the axis, 1.25 x 3 x 1.6 folded back."""
    for long, fits in ((9.7, True), (6.1, True), (5.9, False)):
        parts = [
            section("a", 0, 10, terminals=[terminal("a.x", 5, ((60, 70),))]),
            bay("bay", 10, 10 + long),
            section("b", 10 + long, 30 + long, terminals=[terminal("b.x", 20 + long, ((150, 160),))]),
        ]
        assert not laid(ground(parts), wire("w", "a.x", "b.x")).findings
        wiring = laid(ground(parts), wire("w", "a.x", "b.x"), bend=3.0)
        assert (not wiring.findings) == fits
        if not fits:
            assert "a turn of any arc takes 9.6 mm along the axis" in wiring.findings[0].message


# keeping apart -----------------------------------------------------------------------------------------


def test_classes_keep_their_distance_in_lanes() -> None:
    """3 mm between the insulation of a sound wire and that of a power wire, whichever is laid first."""
    parts = [
        section("a", 0, 30, terminals=[terminal("a.x", 5), terminal("a.y", 22)]),
        section("b", 30, 80),
        section("c", 80, 110, terminals=[terminal("c.x", 88), terminal("c.y", 105)]),
    ]
    power = replace(wire("power", "a.x", "c.x", 22), keep_apart="power")
    sound = replace(wire("sound", "a.y", "c.y", 28), keep_apart="sound")

    def gap(second: Wire, apart: float) -> float:
        wiring = laid(ground(parts), power, second, keep_apart=apart)
        p, q = (next(x for x in r.legs if (x.kind, x.section) == ("lane", "b")) for r in wiring.routes)
        return math.dist(p.start[:2], q.start[:2]) - 1.8 / 2 - 1.3 / 2

    for apart in (3.0, 9.0):
        assert apart <= gap(sound, apart) < apart + 1.5
    assert gap(replace(sound, keep_apart="light"), 9.0) < 3.0


def test_what_keeps_apart_and_finds_no_room_says_so() -> None:
    slot = Obstacle(Sector(115, 425), 30, 80, "window")
    parts = [
        section("a", 0, 30, terminals=[terminal("a.x", 5), terminal("a.y", 22)]),
        section("b", 30, 80, [slot]),
        section("c", 80, 110, terminals=[terminal("c.x", 88), terminal("c.y", 105)]),
    ]
    pair = [
        replace(wire("p", "a.x", "c.x"), keep_apart="power"),
        replace(wire("d", "a.y", "c.y"), keep_apart="data"),
    ]
    assert not laid(ground(parts), *pair, keep_apart=3.0).findings
    (finding,) = laid(ground(parts), *pair, keep_apart=20.0).findings
    assert "20 mm from wires of other classes" in finding.message
    assert any(c.key == "wiring.keep_apart" for c in finding.candidates)


# bundles and pushing out -------------------------------------------------------------------------------


def test_wires_of_a_bundle_lie_in_one_lane() -> None:
    """Terminals opposite each other would part them; a bundle lies together where that is possible."""
    sides = ((80.0, 100.0),), ((170.0, 190.0),)
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5, sides[0]), terminal("a.y", 6, sides[1])]),
        bay("near", 10, 30),
        section("b", 30, 90),
        bay("far", 90, 110),
        section("c", 110, 120, terminals=[terminal("c.x", 115, sides[0]), terminal("c.y", 116, sides[1])]),
    ]
    pair = [wire("x", "a.x", "c.x"), wire("y", "a.y", "c.y")]
    assert len([x for x in laid(ground(parts), *pair).lanes if x.section == "b"]) == 2
    together = laid(ground(parts), *(replace(w, bundle="harness") for w in pair))
    (lane,) = [x for x in together.lanes if x.section == "b"]
    assert sorted(lane.wires) == ["x", "y"]


def test_a_twisted_pair_takes_twice_the_depth_and_a_little_more_wire() -> None:
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5), terminal("a.y", 5)]),
        section("c", 10, 70, terminals=[terminal("c.x", 65), terminal("c.y", 65)]),
    ]
    pair = [
        replace(wire("x", "a.x", "c.x"), twisted_with="y"),
        replace(wire("y", "a.y", "c.y"), twisted_with="x"),
    ]
    wiring = laid(ground(parts), *pair, twist=1.035)
    for lane in wiring.lanes:
        assert sorted(lane.wires) == ["x", "y"]
        assert R - lane.bottom_radius >= 2 * 1.6
    for route in wiring.routes:
        assert route.cut_length >= 1.035 * route.length + 2 * RULES.end_allowance


def test_a_wire_without_a_way_pushes_out_one_that_has_another() -> None:
    """Two slots for one wire each: the thick wire, laid first, takes the one that the other is bound to."""
    slots = [Obstacle(Sector(97, 263), 10, 60, "pad"), Obstacle(Sector(277, 443), 10, 60, "pad")]
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5), terminal("a.y", 6, ((80, 100),))]),
        section("b", 10, 60, slots),
        section("c", 60, 70, terminals=[terminal("c.x", 65), terminal("c.y", 66, ((80, 100),))]),
    ]
    first = wire("free", "a.x", "c.x", 22)
    second = wire("bound", "a.y", "c.y", 24)
    wiring = laid(ground(parts), first, second)
    assert not wiring.findings
    assert {r.wire.id for r in wiring.routes} == {"free", "bound"}


# wire tubes --------------------------------------------------------------------------------------------


def chamber(bore: float, wires: int, long: float = 40.0) -> tuple[Wiring, Ground]:
    """Return wires laid past a section whose surface is all blocked but that has one free-standing tube."""
    ends = [[terminal(f"{n}.{i}", z) for i in range(wires)] for n, z in (("a", 5.0), ("c", 45.0 + long))]
    tube = TubeLane(130.0, 12.0, bore, 30.0, 30.0 + long, "glow")
    glow = replace(
        section("glow", 30, 30 + long, [Obstacle(Sector(0, 360), 30, 30 + long, "shell")]), tube_lanes=(tube,)
    )
    parts = [
        section("a", 0, 10, terminals=ends[0]),
        bay("near", 10, 30),
        glow,
        bay("far", 30 + long, 40 + long),
        section("c", 40 + long, 50 + long, terminals=ends[1]),
    ]
    made = ground(parts)
    return laid(made, *(wire(f"w{i}", f"a.{i}", f"c.{i}", 26, "pvc") for i in range(wires))), made


def test_wires_pass_a_free_standing_tube() -> None:
    wiring, _ = chamber(4.0, 2)
    assert not wiring.findings
    for route in wiring.routes:
        (leg,) = [x for x in route.legs if x.kind == "tube"]
        assert (leg.start[2], leg.end[2]) == (30.0, 70.0)
        assert math.hypot(*leg.start[:2]) == pytest.approx(12.0)
    (lane,) = [x for x in wiring.lanes if x.tube]
    assert lane.closed
    assert lane.fill == pytest.approx(2 * 1.4**2 / 4.0**2)
    assert lane.fill <= lane.fill_limit == 0.40
    assert "glow" not in wiring.steps


def test_a_full_tube_takes_no_more() -> None:
    """40 % of a 3.2 mm bore: two wires of 1.4 mm fill 38 %, a third one doesn't go in."""
    wiring, _ = chamber(3.2, 3)
    assert len(wiring.routes) == 2
    assert [f.where for f in wiring.findings] == ["glow"]


@pytest.mark.parametrize(("exits", "shared"), [(((20, 60),), False), (((40, 41),), True)])
def test_drops_of_one_station_part_though_their_lanes_lead_to_different_sides(
    exits: tuple[tuple[float, float], ...], shared: bool
) -> None:
    """A mouth is as wide as its wire: two wires need two, and where there is one way out it is told."""
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5)]),
        section("b", 10, 50, terminals=[terminal("b.x", 30, exits), terminal("b.y", 30, exits)]),
        section("c", 50, 60, terminals=[terminal("c.x", 55)]),
    ]
    wiring = laid(ground(parts), wire("down", "a.x", "b.x"), wire("up", "b.y", "c.x"))
    assert len(wiring.routes) == 2
    down, up = (next(g for g in r.legs if g.kind == "lane") for r in wiring.routes)
    apart = math.dist(down.end[:2], up.start[:2])
    assert (apart < wiring.routes[0].wire.outer_diameter) is shared
    assert [f.where for f in wiring.findings if f.code == "mouth-shared"] == ["down / up"] * shared


# plugs, splices, slack -----------------------------------------------------------------------------------


def through(closed: bool, *plugs: Connector | None) -> Route:
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5)]),
        section("b", 10, 60),
        section("c", 60, 70, terminals=[terminal("c.x", 65)]),
    ]
    w = replace(wire("w", "a.x", "c.x"), start_connector=plugs[0], end_connector=plugs[-1])
    return laid(ground(parts, closed=["b"] if closed else []), w).routes[0]


def test_a_plug_that_does_not_pass_is_fitted_after_threading() -> None:
    """A tunnel is 3 mm wide; an open lane takes any plug, because its wire is laid in from outside."""
    large, small = Connector(2.0, 2, 5.9, 4.8, 7.9), Connector(1.0, 1, 2.0, 1.5, 4.0)
    assert not through(False, large).fit_connector_after
    assert through(True, large).fit_connector_after
    assert not through(True, small).fit_connector_after
    assert not through(True, large, small).fit_connector_after
    assert not through(True, None).fit_connector_after


def splices(count: int, lead: float = 200.0, long: float = 80.0) -> Wiring:
    terms = [[terminal(f"{n}.{i}", z) for i in range(count)] for n, z in (("a", 5.0), ("c", 15.0 + long))]
    parts = [
        section("a", 0, 10, terminals=terms[0]),
        bay("bay", 10, 10 + long),
        section("c", 10 + long, 20 + long, terminals=terms[1]),
    ]
    body = InLine("splice", 2.6, 12.0, end="start", lead=lead)
    wires = [replace(wire(f"w{i}", f"a.{i}", f"c.{i}"), in_line=(body,)) for i in range(count)]
    return laid(ground(parts), *wires)


def test_splices_are_staggered_and_lie_straight() -> None:
    """Project rule: at least 15 mm from splice to splice, none in a bend."""
    wiring = splices(4, lead=110.0)
    assert not wiring.findings
    stations = sorted(b.position[2] for b in wiring.bodies)
    assert len(stations) == 4
    assert min(b - a for a, b in itertools.pairwise(stations)) >= 15.0
    for route in wiring.routes:
        (body,) = route.bodies
        lane = next(x for x in route.legs if x.kind == "lane" and x.section == "bay")
        assert lane.start[2] + 2.0 <= body.z0 < body.z1 <= lane.end[2] - 2.0
        assert body.from_start <= 110.0
        assert not body.cut


def test_a_splice_lies_as_far_as_its_lead_goes() -> None:
    (body,) = splices(1, lead=60.0).bodies
    assert 58.0 <= body.from_start <= 60.0


def test_a_lead_that_reaches_needs_no_splice() -> None:
    assert splices(1, lead=400.0).bodies == ()


def test_too_many_splices_for_their_bay() -> None:
    wiring = splices(4, lead=50.0, long=30.0)
    assert {f.code for f in wiring.findings} == {"body-no-room"}
    assert wiring.findings[0].numbers["wanted_length"] == 16.0


def test_a_body_in_a_groove_gets_a_pocket_under_which_the_wall_stands() -> None:
    room = {True: 3.0, False: 2.5}
    for fits, depth in room.items():
        seat = Obstacle(Disc(0, 0, R - WALL - depth), 10, 70, "seat")
        parts = [
            section("a", 0, 10, terminals=[terminal("a.x", 5)]),
            section("b", 10, 70, [seat]),
            section("c", 70, 80, terminals=[terminal("c.x", 75)]),
        ]
        w = replace(wire("w", "a.x", "c.x"), in_line=(InLine("fuse", 2.6, 12.0, section="b"),))
        wiring = laid(ground(parts), w)
        assert (not wiring.findings) == fits
        if fits:
            (body,) = wiring.bodies
            assert body.cut
            assert any("pocket for the fuse in w" in s.label for s in wiring.steps["b"])


def test_slack_needs_a_hollow_section_of_its_size() -> None:
    """60 mm of a 1.6 mm wire are 121 mm3; a quarter of a 20 mm bay in a bore of 37.6 mm takes 5.5 cm3."""
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5)]),
        bay("bay", 10, 30),
        section("c", 30, 40, terminals=[terminal("c.x", 35)]),
    ]
    w = replace(wire("w", "a.x", "c.x"), serve_out=60.0)
    (route,) = laid(ground(parts), w).routes
    plain = laid(ground(parts), wire("w", "a.x", "c.x")).routes[0]
    assert (route.slack, route.slack_section) == (60.0, "bay")
    assert route.cut_length == pytest.approx(plain.cut_length + 60.0)
    none = laid(ground([parts[0], section("bay", 10, 30), parts[2]]), w)
    assert [f.code for f in none.findings] == ["slack-no-room"]
    much = laid(ground(parts), replace(w, serve_out=3000.0))
    assert much.findings[0].numbers["free_volume"] == pytest.approx(0.25 * math.pi * R**2 * 20, rel=1e-6)


# nets ----------------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 1000), min_size=2, max_size=7, unique=True), st.randoms(use_true_random=False))
def test_a_net_is_the_tree_of_least_wire(stations: list[int], chance: object) -> None:
    """Against scipy's minimum spanning tree."""
    from scipy.sparse.csgraph import minimum_spanning_tree  # type: ignore[import-untyped]

    names = [f"t{i}" for i in range(len(stations))]
    weight = np.random.default_rng(sum(stations)).uniform(1, 100, (len(names), len(names)))
    length = {(a, b): float(weight[i, j]) for (i, a), (j, b) in itertools.combinations(enumerate(names), 2)}
    pairs = least_tree(names, lambda _, __: length, wire("w", "t0", "t1"))
    total = sum(length.get(p, length.get((p[1], p[0]), 0.0)) for p in pairs)
    matrix = np.zeros_like(weight)
    for (a, b), value in length.items():
        matrix[names.index(a), names.index(b)] = value
    assert total == pytest.approx(minimum_spanning_tree(matrix).sum())
    assert {t for p in pairs for t in p} == set(names)


# properties ----------------------------------------------------------------------------------------------


@st.composite
def netlists(draw: st.DrawFn) -> tuple[Ground, list[Wire]]:
    """Draw a chassis of bays and bodies and wires between its terminals, some of which lie opposite."""
    parts: list[SectionPlan] = []
    ids: list[str] = []
    z = 0.0
    for i in range(draw(st.integers(3, 6))):
        long = float(draw(st.integers(12, 40)))
        if draw(st.booleans()) and i:
            parts.append(bay(f"s{i}", z, z + long))
        else:
            obstacles = [Obstacle(Disc(0, 0, draw(st.floats(4, 15))), z, z + long, "seat")]
            terms = []
            for k in range(draw(st.integers(1, 3))):
                clock = draw(st.integers(0, 359))
                exits = ((clock - 20.0, clock + 20.0),)
                terms.append(terminal(f"s{i}.t{k}", z + draw(st.floats(1, long - 1)), exits))
            parts.append(section(f"s{i}", z, z + long, obstacles, terms))
            ids += [t.id for t in terms]
        z += long
    pairs = [(a, b) for a in ids for b in ids if a < b]
    if not pairs:
        parts.append(
            section("end", z, z + 20, terminals=[terminal("end.a", z + 5), terminal("end.b", z + 15)])
        )
        pairs = [("end.a", "end.b")]
    chosen = draw(st.lists(st.sampled_from(pairs), min_size=1, max_size=8))
    gauges = st.sampled_from([22, 24, 26, 28, 30])
    wires = [wire(f"w{i}", a, b, draw(gauges)) for i, (a, b) in enumerate(chosen)]
    return ground(parts), wires


def windows_apart(wiring: Wiring, g: Ground) -> None:
    """Assert that no two wires' ways lie closer at one station than their insulation allows, hollow or not."""
    radius = {r.wire.id: r.wire.outer_diameter / 2 for r in wiring.routes}
    runs = [
        (r.wire.id, leg) for r in wiring.routes for leg in r.legs if leg.kind == "lane" and leg.length > 0.5
    ]
    for (a, p), (b, q) in itertools.combinations(runs, 2):
        low = max(min(p.start[2], p.end[2]), min(q.start[2], q.end[2]))
        high = min(max(p.start[2], p.end[2]), max(q.start[2], q.end[2]))
        if high - low > 0.01:
            gap = math.dist(p.start[:2], q.start[:2])
            assert gap >= radius[a] + radius[b] - 0.01, (a, b, p, q)


@settings(max_examples=40, deadline=None)
@given(netlists())
def test_random_netlists_reach_both_ends_and_keep_apart(drawn: tuple[Ground, list[Wire]]) -> None:
    g, wires = drawn
    wiring = laid(g, *wires, bend=3.0)
    places = {t.id: t.position for s in g.sections for t in s.terminals}
    assert {r.wire.id for r in wiring.routes} | {w.id for w in wiring.unrouted} == {w.id for w in wires}
    for route in wiring.routes:
        assert route.legs[0].start == places[route.wire.start]
        assert route.legs[-1].end == places[route.wire.end]
        assert route.length >= math.dist(places[route.wire.start], places[route.wire.end]) - 1e-6
        for a, b in itertools.pairwise(route.legs):
            assert math.dist(a.end, b.start) < 1e-6
    for lane in wiring.lanes:
        assert lane.fill <= lane.fill_limit + 1e-6
    windows_apart(wiring, g)


@settings(max_examples=25, deadline=None)
@given(netlists())
def test_adding_a_wire_never_shortens_another_below_its_need(drawn: tuple[Ground, list[Wire]]) -> None:
    """Whatever lies beside it, no wire is shorter than the shortest way it has when it is alone."""
    g, wires = drawn
    alone = {w.id: laid(g, w, bend=3.0).routes for w in wires}
    for count in (len(wires) - 1, len(wires)):
        for route in laid(g, *wires[:count], bend=3.0).routes:
            (own,) = alone[route.wire.id]
            assert cost(route) >= cost(own) - DROPS
            ends = route.wire.serve_out + 2 * RULES.end_allowance
            assert route.cut_length >= sum(leg.length for leg in route.legs) + ends - 1e-6


DROPS = 2 * (1.8 + RULES.cover)
"""By how much both drops of a wire may differ with the depth of the lanes that they go down to, mm."""


def cost(route: Route) -> float:
    """Return what a way counts: its length, and so much for each turn as the search sets for it."""
    return route.length + TURN_COST * sum(leg.kind == "gallery" for leg in route.legs)


@settings(max_examples=10, deadline=None)
@given(netlists())
def test_laying_twice_gives_the_same(drawn: tuple[Ground, list[Wire]]) -> None:
    g, wires = drawn
    assert laid(g, *wires, bend=3.0) == laid(g, *wires, bend=3.0)
