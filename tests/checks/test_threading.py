"""Threading: balls swept along whole routes, on planted faults, on random chassis and on one with wire tubes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any, ClassVar, Literal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen import pipeline
from chassis_gen.checks.threading import check_threading
from chassis_gen.plan.chassis import Connector, Wire
from chassis_gen.plan.lanes import lay_wires
from chassis_gen.plan.laying import Ground, Wiring
from chassis_gen.plan.model import OVERLAP, Disc, Obstacle, Outer, OuterStep, SectionPlan, Sector, TubeLane
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.registry import section_kinds
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import shifted, unit
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Recipe, Step, add, cut
from chassis_gen.shapes.threads import swept_balls
from tests.plan.support import ground, planned, section, terminal, wire
from tests.plan.test_roundabout import R, bay, netlists

CHORD = 0.02


def made(g: Ground, wiring: Wiring) -> dict[str, Body]:
    """Return full bars for all sections that aren't hollow, with what is cut for the wires."""
    radius = {s.name: g.outer.largest_radius(s.z0, s.z1) for s in g.sections}
    return {
        s.name: make(
            Recipe(
                s.name, (*add("bar", Cylinder(radius[s.name], s.z0, s.z1)), *wiring.steps.get(s.name, ()))
            ),
            CHORD,
        )
        for s in g.sections
        if not any(x.open_room for x in s.galleries)
    }


def threaded(wiring: Wiring, pieces: dict[str, Body]) -> tuple[Any, ...]:
    plan: Any = SimpleNamespace(routes=wiring.routes, lanes=wiring.lanes)
    solids: Any = SimpleNamespace(pieces=pieces, chord=CHORD)
    return check_threading(plan, solids)


def straight(closed: bool, plug: Connector | None = None, gauge: int = 26) -> tuple[Ground, Wiring]:
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5)]),
        section("b", 10, 60),
        section("c", 60, 70, terminals=[terminal("c.x", 65)]),
    ]
    g = ground(parts, closed=["b"] if closed else [])
    w: Wire = replace(wire("w", "a.x", "c.x", gauge), start_connector=plug)
    return g, lay_wires([w], g)


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("gauge", [20, 22, 26, 30])
def test_a_sound_way_is_open_through_grooves_tunnels_and_drops(closed: bool, gauge: int) -> None:
    g, wiring = straight(closed, gauge=gauge)
    assert threaded(wiring, made(g, wiring)) == ()


@pytest.mark.parametrize(("z", "place"), [(35.0, '"b" (lane)'), (5.0, '"a" (drop)')])
def test_a_crumb_in_the_way_is_found_where_it_lies(z: float, place: str) -> None:
    g, wiring = straight(False)
    pieces = made(g, wiring)
    leg = next(x for x in wiring.routes[0].legs if x.kind == "lane")
    reach = 0.5 if z == 5.0 else 1.0
    x, y = (v * reach for v in leg.start[:2])
    crumb = solid(Box((x - 0.3, y - 0.3, z - 0.3), (x + 0.3, y + 0.3, z + 0.3)), CHORD)
    (finding,) = threaded(wiring, {**pieces, "crumb": crumb})
    assert (finding.level, finding.code, finding.where) == ("error", "route-blocked", "w")
    assert place in finding.message
    assert finding.numbers["station"] == pytest.approx(z, abs=0.1)
    assert finding.numbers["radius"] == pytest.approx(math.hypot(x, y), abs=0.1)


@pytest.mark.parametrize("closed", [(), ("a", "b", "c")])
def test_a_bend_is_open_where_its_edge_is_flared_and_blocked_where_not(closed: tuple[str, ...]) -> None:
    parts = [
        section("a", 0, 30, terminals=[terminal("a.x", 15)]),
        section("b", 30, 60),
        section("c", 60, 90, terminals=[terminal("c.x", 75)]),
    ]
    g = ground(parts, closed=list(closed))
    g = replace(g, rules=replace(g.rules, bend=3.0))
    wiring = lay_wires([wire("w", "a.x", "c.x", 22)], g)
    assert not wiring.findings
    assert threaded(wiring, made(g, wiring)) == ()
    sharp = {k: tuple(x for x in v if not x.label.startswith("bend")) for k, v in wiring.steps.items()}
    (finding,) = threaded(wiring, made(g, replace(wiring, steps=sharp)))
    assert finding.code == "route-blocked"
    assert "(bend)" in finding.message


@pytest.mark.parametrize("up", [False, True])
@pytest.mark.parametrize("gauge", [20, 28])
def test_a_bend_beside_a_step_of_the_surface_ends_on_its_lanes_floor(up: bool, gauge: int) -> None:
    """Slanting drops on both sides of the edge of a bearing band, lanes that run through the band: the lower surface
    behind the edge bars no bend before it."""
    edge = 65.0 if up else 75.0
    band = Outer(
        (OuterStep(0, 65, R - 0.45, False), OuterStep(65, 75, R, True), OuterStep(75, 140, R - 0.45, False))
    )
    starts, ends = [], []
    for k, beyond in enumerate((-6.0, -3.0, -1.5, -1.0, -0.6, -0.3, 0.4, 1.2, 3.0)):
        c, s = unit(40.0 * k)
        z, x, y = edge + (-beyond if up else beyond), -4.0 * s, 4.0 * c
        pinned = ((40.0 * k - 1.0, 40.0 * k + 1.0),)
        starts.append(terminal(f"a.t{k}", z, pinned, x, y))
        ends.append(terminal(f"b.t{k}" if up else f"c.t{k}", 130.0 - k if up else 10.0 + k, pinned))
    near, far = ([], ends) if up else (ends, [])
    parts = [
        section("c", 0, 40, terminals=near),
        section("a", 40, 100, terminals=starts),
        section("b", 100, 140, terminals=far),
    ]
    g = ground(parts, outer=band)
    g = replace(g, rules=replace(g.rules, bend=3.0))
    wires = [wire(f"w{k}", a.id, b.id, gauge) for k, (a, b) in enumerate(zip(starts, ends, strict=True))]
    wiring = lay_wires(wires, g)
    assert len(wiring.routes) == len(wires) and not wiring.findings
    for route in wiring.routes:
        bend = next(b for b in route.bends if b.terminal.startswith("a"))
        if bend.path and abs(bend.path[-1][2] - bend.path[0][2]) > bend.wanted - 1e-6:
            x, y, z = bend.path[-1]
            floor = next(
                lane.bottom_radius
                for lane in wiring.lanes
                if route.wire.id in lane.wires and lane.z0 - 1e-6 <= z <= lane.z1 + 1e-6
            )
            assert math.hypot(x, y) - route.wire.outer_diameter / 2 >= floor - 1e-3
    assert threaded(wiring, made(g, wiring)) == ()


def bent(sections: Sequence[SectionPlan], *wires: Wire, closed: Sequence[str] = ()) -> tuple[Ground, Wiring]:
    g = ground(sections, closed=closed)
    g = replace(g, rules=replace(g.rules, bend=3.0))
    return g, lay_wires(wires, g)


def test_a_bend_is_open_where_its_lane_becomes_shallower_behind_its_drop() -> None:
    """A thicker wire shares the lane's first millimetre, so that it is 0.1 mm deeper there than the flare's end."""
    parts = [
        section("a", 0, 13, [Obstacle(Disc(0, 0, 12), 0, 13, "seat")], [
            terminal("a.x", 1, ((-16.0, 24.0),)), terminal("a.y", 2, ((317.0, 357.0),)),
        ]),
        section("b", 13, 37, terminals=[terminal("b.x", 26, ((-20.0, 20.0),))]),
    ]  # fmt: skip
    wires = wire("thin", "a.x", "a.y", 24), wire("long", "a.x", "b.x", 24), wire("thick", "a.x", "a.y", 22)
    g, wiring = bent(parts, *wires)
    bottoms = {lane.bottom_radius for lane in wiring.lanes if "long" in lane.wires}
    assert max(bottoms) - min(bottoms) == pytest.approx(0.1, abs=1e-3)
    assert threaded(wiring, made(g, wiring)) == ()


@pytest.mark.parametrize("gauge", [22, 26])
def test_a_drop_over_a_joint_is_open_though_its_bend_needs_no_flare(gauge: int) -> None:
    """1 mm from the joint a channel of 2.2 mm is 0.1 mm wider than its section; the wire comes up along that wall."""
    parts = [
        section("a", 0, 26),
        section("b", 26, 42, terminals=[terminal("b.x", 27), terminal("b.y", 28.3)]),
    ]
    g, wiring = bent(parts, wire("w", "b.x", "b.y", gauge))
    assert not any(step.label.startswith("bend") for steps in wiring.steps.values() for step in steps)
    assert threaded(wiring, made(g, wiring)) == ()


@pytest.mark.parametrize("closed", [(), ("a",), ("a", "b"), ("b",)])
@pytest.mark.parametrize(("x", "y", "clock"), [(3.9, -12.76, 16), (-7.57, -11.66, 16), (0.0, 12.0, 33)])
def test_a_slanting_drop_and_its_bend_are_open(
    closed: tuple[str, ...], x: float, y: float, clock: int
) -> None:
    """Drops that reach their lanes at up to 52 degrees off the way straight out, into grooves and tunnels."""
    exits = ((clock - 1.0, clock + 1.0),)
    parts = [
        section("a", 0, 30, terminals=[terminal("a.x", 20, exits, x, y)]),
        section("b", 30, 60, terminals=[terminal("b.x", 50, exits, x, y)]),
    ]
    g, wiring = bent(parts, wire("w", "a.x", "b.x", 22), closed=closed)
    assert not wiring.findings
    assert threaded(wiring, made(g, wiring)) == ()


@pytest.mark.parametrize("closed", [("b",), ("a", "c"), ("c",), ("d",)])
def test_a_tunnel_too_short_for_its_ramps_lets_its_wire_stay_level(closed: tuple[str, ...]) -> None:
    """1.1 mm from the drop to the joint, or a plate of 3 mm between grooves; a ramp of 1.9 mm of height takes 3.7 mm."""
    parts = [
        section("a", 0, 20, terminals=[terminal("a.x", 18.9)]),
        section("b", 20, 23),
        section("c", 23, 60),
        section("d", 60, 63, terminals=[terminal("d.x", 61.5)]),
    ]
    # where grooves have no room for a cover, a steep wire meets the edge of their floor
    parts = [
        s if s.name in closed else replace(s, obstacles=(Obstacle(Disc(0, 0, 17.0), s.z0, s.z1, "seat"),))
        for s in parts
    ]
    g = ground(parts, closed=closed)
    wiring = lay_wires([wire("w", "a.x", "d.x", 30)], g)
    assert not wiring.findings
    assert threaded(wiring, made(g, wiring)) == ()


def test_a_lane_that_is_a_little_too_shallow_is_found() -> None:
    """The ball is shrunk by the chord and 0.03 mm; a groove that lacks 0.2 mm of its depth meets it."""
    g, wiring = straight(False)
    pieces = made(g, wiring)
    bottom = min(x.bottom_radius for x in wiring.lanes)
    ledge = solid(Cylinder(bottom + 0.3 + 0.2, 20.0, 30.0), CHORD)
    assert [f.where for f in threaded(wiring, {**pieces, "ledge": ledge})] == ["w"]
    lower = solid(Cylinder(bottom + 0.3 - 0.05, 20.0, 30.0), CHORD)
    assert threaded(wiring, {**pieces, "ledge": lower}) == ()


def test_a_plug_passes_a_tunnel_or_is_fitted_after_threading() -> None:
    """Both cases: a head of 2 x 1.5 mm (2.5 mm across corners) in a 3 mm tunnel, and one of 5.9 x 4.8 mm."""
    small, large = Connector(1.0, 1, 2.0, 1.5, 4.0), Connector(2.0, 2, 5.9, 4.8, 7.9)
    for plug, after in ((small, False), (large, True)):
        g, wiring = straight(True, plug)
        pieces = made(g, wiring)
        assert wiring.routes[0].fit_connector_after == after
        assert threaded(wiring, pieces) == ()
        pretended = replace(wiring, routes=(replace(wiring.routes[0], fit_connector_after=False),))
        assert bool(threaded(pretended, pieces)) == after


def test_a_swept_ball_has_the_volume_of_its_polyhedron() -> None:
    """A ball of 2 mm swept 10 mm: below cylinder and ball together, and above nine tenths of them."""
    (body,) = swept_balls([((0.0, 0.0, 0.0), (0.0, 0.0, 10.0))], [2.0], CHORD)
    exact = math.pi * 10 + 4 / 3 * math.pi
    assert 0.9 * exact < body.volume < exact
    apart = swept_balls(
        [((0.0, 0.0, 0.0), (0.0, 0.0, 5.0)), ((0.0, 0.0, 5.0), (0.0, 5.0, 5.0))], [2.0, 2.0], CHORD
    )
    assert len(apart) == 2


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(netlists())
def test_random_netlists_pass_the_ball(drawn: tuple[Ground, list[Wire]]) -> None:
    g, wires = drawn
    g = replace(g, rules=replace(g.rules, bend=3.0))
    wiring = lay_wires(wires, g)
    assert threaded(wiring, made(g, wiring)) == ()


@st.composite
def rough_chassis(draw: st.DrawFn) -> tuple[Ground, list[Wire]]:
    """Draw a netlist whose joints stand off the axis, on a chassis with steps and tunnels."""
    g, wires = draw(netlists())
    sections = []
    for s in g.sections:
        room = max(
            0.0, min((o.shape.radius for o in s.obstacles if isinstance(o.shape, Disc)), default=1) - 1
        )
        off, turn = st.floats(0, room), st.integers(0, 359)
        spots = [(draw(off), math.radians(draw(turn))) for _ in s.terminals]
        moved = [
            replace(t, position=(d * math.cos(a), d * math.sin(a), t.position[2]))
            for t, (d, a) in zip(s.terminals, spots, strict=True)
        ]
        sections.append(replace(s, terminals=tuple(moved)))
    closed = draw(st.lists(st.sampled_from([s.name for s in sections]), max_size=4))
    steps = [OuterStep(s.z0, s.z1, draw(st.sampled_from([R, R, R - 0.5])), True) for s in sections]
    return ground(sections, closed=closed, outer=Outer(tuple(steps))), wires


def test_a_slanting_drop_ends_at_the_bottom_of_its_own_lane_not_of_a_deeper_one_that_it_leaves() -> None:
    """Beside the thick wires, up to their drops, the thin one's lane is deeper than at its own end, 3 mm farther."""

    def disc(radius: float, z0: float, z1: float) -> Obstacle:
        return Obstacle(Disc(0.0, 0.0, radius), z0, z1, "seat", material=False)

    off = replace(terminal("c.x", 25.0, ((200.0, 240.0),)), position=(-9.44, 0.49, 25.0))
    g = ground(
        [
            section("a", 0, 12, [disc(4.0, 0, 12)], [terminal("a.x", 1.0, ((-20.0, 20.0),))]),
            section(
                "b",
                12,
                24,
                [disc(4.0, 12, 24)],
                [terminal("b.x", 22.75, ((142.0, 182.0),)), terminal("b.y", 13.0, ((-20.0, 20.0),))],
            ),
            section("c", 24, 36, [disc(11.95, 24, 36)], [off, terminal("c.y", 28.45, ((172.0, 212.0),))]),
            bay("d", 36, 48),
        ],
        outer=Outer(tuple(OuterStep(z, z + 12.0, R, True) for z in (0.0, 12.0, 24.0, 36.0))),
    )
    g = replace(g, rules=replace(g.rules, bend=3.0))
    wiring = lay_wires(
        [wire("thin", "b.x", "c.x", 30), wire("p", "a.x", "c.y", 22), wire("q", "b.y", "c.y", 22)], g
    )
    ways = [y.bottom_radius for y in wiring.lanes if y.section == "c" and "thin" in y.wires]
    assert len(set(ways)) > 1
    assert threaded(wiring, made(g, wiring)) == ()


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rough_chassis())
def test_random_netlists_pass_the_ball_through_steps_tunnels_and_slanting_drops(
    drawn: tuple[Ground, list[Wire]],
) -> None:
    g, wires = drawn
    g = replace(g, rules=replace(g.rules, bend=3.0))
    wiring = lay_wires(wires, g)
    assert threaded(wiring, made(g, wiring)) == ()


class StandParams(SectionParams):
    """Keys of the test's own section."""

    kind: Literal["stand"] = "stand"


class Stand(SectionKind):
    """Two plates on a core, and a wire tube that stands free between them; the surface carries no lanes."""

    kind: ClassVar[str] = "stand"
    title: ClassVar[str] = "two plates and a wire tube, for tests"
    Params: ClassVar[type[SectionParams]] = StandParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        return setting.fitter.chosen(f"{params.name}.length", 30.0, "test")

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        return SectionPlan(
            "stand",
            ctx.name,
            ctx.z0,
            ctx.z1,
            ctx.piece,
            None,
            obstacles=(Obstacle(Sector(0, 360), ctx.z0, ctx.z1, "nothing to cut into"),),
            tube_lanes=(TubeLane(40.0, 12.0, 4.0, ctx.z0, ctx.z1, ctx.name),),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        c, s = unit(40.0)
        at = shifted(12 * c, 12 * s)
        plates = (*ctx.body(ctx.z0, ctx.z0 + 3), *ctx.body(ctx.z1 - 3, ctx.z1))
        bore = Cylinder(2.0, ctx.z0 - OVERLAP, ctx.z1 + 2 * OVERLAP, at)
        return (
            *add(
                "plates, core, tube",
                *plates,
                Cylinder(4.0, ctx.z0, ctx.z1),
                Cylinder(3.2, ctx.z0, ctx.z1, at),
            ),
            *cut("bore", bore),
        )


STAND = """
[build]
title = "wires through a tube"

[[tube.segment]]
length = 200
bores = [{ from_mouth = 0, diameter = 40 }]

[[section]]
kind = "board_tray"
name = "board"

[[section]]
kind = "lead_bay"
name = "near bay"
length = 20

[[section]]
kind = "stand"
name = "stand"

[[section]]
kind = "lead_bay"
name = "far bay"
length = 20

[[section]]
kind = "switch_block"
name = "button"
part = "tactile board"

[[wire]]
from = "board.button"
to = "button.a"
gauge_awg = 30

[[wire]]
from = "board.button ground"
to = "button.b"
gauge_awg = 30
"""


@pytest.fixture
def kinds(monkeypatch: pytest.MonkeyPatch) -> None:
    known = {**section_kinds(), "stand": Stand()}
    monkeypatch.setattr(pipeline, "kinds_named", lambda _: known)


@pytest.mark.usefixtures("kinds")
def test_wires_pass_a_section_in_a_free_standing_tube(tmp_path: Path) -> None:
    """Two wires of 0.9 mm in a 4 mm bore, on the mesh; a plug in the bore is found."""
    plan = planned(tmp_path, STAND)
    assert plan.buildable
    assert [[leg.section for leg in r.legs if leg.kind == "tube"] for r in plan.routes] == [
        ["stand"],
        ["stand"],
    ]
    (lane,) = [x for x in plan.lanes if x.tube]
    assert lane.fill == pytest.approx(2 * 0.9**2 / 16)
    solids = pipeline.solids_of(plan, CHORD)
    assert check_threading(plan, solids) == ()
    c, s = unit(40.0)
    z = (lane.z0 + lane.z1) / 2
    shut = solid(Cylinder(2.5, z, z + 1, shifted(12 * c, 12 * s)), CHORD)
    found = check_threading(plan, replace(solids, pieces={**solids.pieces, "shut": shut}))
    assert {f.where for f in found} <= {"wire 1", "wire 2"}
    assert all('"stand" (tube)' in f.message for f in found)
    assert found


@pytest.mark.usefixtures("kinds")
def test_bays_of_rails_are_passed_inside_the_rails(tmp_path: Path) -> None:
    """A wire that turns past a rail goes under it; the mesh has the rails."""
    text = STAND.replace('kind = "stand"', 'kind = "end_plate"').replace(
        'name = "near bay"\nlength = 20', 'name = "near bay"\nlength = 20\nrails = 4'
    )
    text = text.replace("gauge_awg = 30", 'gauge_awg = 30\nvia = [{ section = "stand", clock_deg = 225 }]', 1)
    plan = planned(tmp_path, text)
    route = plan.routes[0]
    assert any(leg.kind == "gallery" for leg in route.legs)
    assert check_threading(plan, pipeline.solids_of(plan, CHORD)) == ()


def test_a_hollow_way_needs_no_cut() -> None:
    parts = [
        section("a", 0, 10, terminals=[terminal("a.x", 5, ((0, 10),))]),
        bay("bay", 10, 30),
        section("c", 30, 40, terminals=[terminal("c.x", 35, ((170, 180),))]),
    ]
    g = ground(parts)
    wiring = lay_wires([wire("w", "a.x", "c.x")], g)
    assert threaded(wiring, made(g, wiring)) == ()
