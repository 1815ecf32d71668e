"""Bends of drops into lanes: plane geometry, the room they are given, what is found where there is none."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.drop_bends import DROP_ROOM, Corner
from chassis_gen.plan.lanes import lay_wires
from chassis_gen.plan.laying import Ground, Wiring
from chassis_gen.plan.model import Gallery, Obstacle, SectionPlan, Sector, Slab
from chassis_gen.shapes.frame import Vec3
from chassis_gen.tables.wire import wiring_rule
from tests.plan.support import WALL, ground, section, terminal, wire
from tests.plan.test_roundabout import R

BEND = wiring_rule("bend_radius_diameters").value


def laid(g: Ground, *wires: Wire) -> Wiring:
    return lay_wires(wires, replace(g, rules=replace(g.rules, bend=BEND)))


def corner(diameter: float, deep: float, long: float = 30.0, slant: float = 1.0) -> Corner:
    return Corner(diameter, deep, np.array([long]), np.array([slant]))


@pytest.mark.parametrize("diameter", [1.0, 1.8, 3.0])
def test_an_edge_stays_up_to_what_the_channels_room_gives(diameter: float) -> None:
    """Plane geometry: between two pairs of walls, each wider than the wire by w, the inner side of a right-angled
    bend is an arc of w / (1 - cos 45)."""
    plain = diameter / 2 + DROP_ROOM / (1 - math.cos(math.radians(45)))
    here = corner(diameter, diameter + DROP_ROOM)
    assert here.rounding(plain - 1e-6)[0][0] == 0.0
    assert here.rounding(plain + 1e-3)[0][0] > 0.0


@given(
    st.floats(0.8, 3.5),
    st.floats(0.0, 0.6),
    st.floats(0.5, 30.0),
    st.floats(1.0, 2.0),
    st.floats(0.0, 1.0),
)
def test_a_flared_edge_clears_the_wire(
    diameter: float, cover: float, long: float, slant: float, share: float
) -> None:
    """The arc's middle line, drawn point by point, keeps half the wire to what is left of the edge and to the walls.

    The lane's floor lies some share of its cover higher behind the flare. Distances across the lane's floor, which a slanting drop meets at an angle, count as shorter by the slant.
    """
    radius = BEND * diameter
    here = corner(diameter, diameter + cover, long, slant)
    high, far = (float(v[0]) for v in here.centre(radius))
    below, along = (float(v[0]) for v in here.rounding(radius, share * cover))
    floor = share * cover * slant
    ends = np.array([[-below, 0.0], [floor, along]])
    # the whole of what is left of the edge: down the drop, over the flare, along the lane
    left = np.concatenate(
        [
            np.linspace([-max(long, below), 0.0], ends[0], 200),
            np.linspace(ends[0], ends[1], 200),
            np.linspace(ends[1], [floor, along + 20.0], 400),
        ]
    )
    turns = np.linspace(0.0, math.pi / 2, 200)
    path = np.stack([high + radius * np.cos(turns), far - radius * np.sin(turns)], axis=1)
    path = path[path[:, 0] >= -long]
    # the far wall of the drop and the lane's roof
    assert path[:, 1].min() >= diameter / 2 - here.size - 1e-9
    assert path[:, 0].max() <= (here.deep - diameter / 2) * slant + 1e-9
    gaps = np.linalg.norm((path[:, None] - left[None]) * [1 / slant, 1.0], axis=2)
    assert gaps.min() >= diameter / 2 - 0.01


def curvature(a: Vec3, b: Vec3, c: Vec3) -> float:
    """Return the radius of the circle through three points: product of the sides over four times the area."""
    sides = math.dist(a, b), math.dist(b, c), math.dist(c, a)
    s = sum(sides) / 2
    return math.prod(sides) / 4 / math.sqrt(s * math.prod(s - x for x in sides))


def ends(
    *obstacles: Obstacle, exits: tuple[tuple[float, float], ...] = ((0.0, 360.0),), long: float = 60.0
) -> list[SectionPlan]:
    """Return a section with a terminal on the axis, and one behind it that can be reached anywhere."""
    return [
        section("a", 0, long, obstacles, terminals=[terminal("a.x", 20, exits)]),
        section("b", long, long + 20, terminals=[terminal("b.x", long + 10)]),
    ]


@pytest.mark.parametrize("gauge", [20, 26, 30])
def test_a_wire_is_laid_with_its_radius_and_under_the_outer_surface(gauge: int) -> None:
    w = wire("w", "a.x", "b.x", gauge)
    wiring = laid(ground(ends()), w)
    assert not wiring.findings
    (route,) = wiring.routes
    assert [b.terminal for b in route.bends] == ["a.x", "b.x"]
    for bend in route.bends:
        assert bend.radius == bend.wanted == pytest.approx(3.0 * w.outer_diameter)
        for three in zip(bend.path, bend.path[1:], bend.path[2:], strict=False):
            # straight out in the lane's own depth the bend is only told a little flatter
            assert curvature(*three) >= bend.wanted - 1e-6
        assert max(math.hypot(*p[:2]) for p in bend.path) <= R - w.outer_diameter / 2 + 1e-9
        assert abs(bend.path[-1][2] - bend.path[0][2]) == pytest.approx(bend.wanted)


def ledge(clock: float) -> Obstacle:
    """Return what stands just under lanes beside the drop, toward the other terminal, at a clock."""
    return Obstacle(Slab(-6.0, 6.0, R - 3.6 - WALL, R - 2.6 - WALL, clock), 22.0, 40.0, "ledge")


def test_a_drop_leaves_where_it_bends_well() -> None:
    """Two exits of equal length; under the lane of the one there is no room for the flare."""
    pinched = ((88.0, 92.0), (178.0, 182.0))
    for clock in (90.0, 180.0):
        wiring = laid(ground(ends(ledge(clock), exits=pinched)), wire("w", "a.x", "b.x", 22))
        assert not wiring.findings
        (lane,) = [x for x in wiring.lanes if x.section == "a"]
        assert abs((lane.clock_from + lane.clock_to) / 2 - clock) > 80.0


def test_a_bend_without_room_is_told_in_numbers_and_a_thinner_wire_bends() -> None:
    g = ground(ends(ledge(90.0), exits=((88.0, 92.0),)))
    thick = replace(wire("w", "a.x", "b.x", 22), key="wire[0]")
    (finding,) = laid(g, thick).findings
    assert (finding.level, finding.code, finding.where) == ("error", "bend-sharp", "w at a.x")
    wanted, there = finding.numbers["wanted_radius"], finding.numbers["radius"]
    assert wanted == pytest.approx(3.0 * thick.outer_diameter)
    assert thick.outer_diameter / 2 < there < wanted
    assert f"{there:.1f} mm" in finding.message and f"{wanted:.1f} mm" in finding.message
    assert "workshop practice" in finding.message and '"a"' in finding.message
    gauges = [c.value for c in finding.candidates if c.key == "wire[0].gauge_awg"]
    assert gauges == [24, 26, 28, 30, 32]
    assert any(not laid(g, wire("w", "a.x", "b.x", int(gauge))).findings for gauge in gauges)  # type: ignore[call-overload]


def test_two_drops_close_behind_each_other_leave_half_their_distance() -> None:
    """A wire that goes out and in again over a short way turns half a circle; ends stand 6 mm apart along the axis."""
    near = [
        section(
            "a",
            0,
            40,
            terminals=[terminal("a.x", 10, ((80.0, 100.0),)), terminal("a.y", 16, ((80.0, 100.0),))],
        )
    ]
    found = laid(ground(near), wire("w", "a.x", "a.y", 22)).findings
    assert {f.code for f in found} == {"bend-sharp"}
    assert found[0].numbers["radius"] == pytest.approx((6.0 + DROP_ROOM) / 2, abs=0.01)


def test_a_turn_is_not_begun_before_the_drop_has_bent() -> None:
    """A gallery that is cut 3 mm behind a drop turns nothing that still bends; 12 mm behind it does."""
    bar = Obstacle(Sector(30.0, 330.0), 40.0, 60.0, "bar")
    for behind, turns in ((3.0, False), (12.0, True)):
        gallery = Gallery(20.0 + behind, 16.0, "a", open_room=False)
        parts = [
            section("a", 0, 60, [bar], terminals=[terminal("a.x", 20, ((85.0, 95.0),))], galleries=[gallery]),
            section("b", 60, 80, terminals=[terminal("b.x", 70)]),
        ]
        wiring = laid(ground(parts), wire("w", "a.x", "b.x", 26))
        assert bool(wiring.routes) == turns
