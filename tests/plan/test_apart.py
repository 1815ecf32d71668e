"""Classes of wire that keep apart beside their terminals: ways out that part, and what is told where they can't."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.plan.apart import Line, close_length, gaps
from chassis_gen.plan.chassis import Route, Wire
from chassis_gen.plan.laying import Wiring
from tests.plan.support import ground, section, terminal, wire
from tests.plan.test_roundabout import laid

APART = 3.0
POWER = replace(wire("power", "a.x", "c.x", 22), keep_apart="power")
SOUND = replace(wire("sound", "a.y", "c.y", 28), keep_apart="sound")
SIDES = ((0.0, 60.0), (120.0, 180.0))


def wired(x: float, y: float, *wires: Wire, exits: tuple[tuple[float, float], ...] = SIDES) -> Wiring:
    """Return wires from two terminals of one row, at x and y mm to the side, to two that stand far apart."""
    parts = [
        section("a", 0, 20, terminals=[terminal("a.x", 10, exits, x), terminal("a.y", 10, exits, y)]),
        section("b", 20, 70),
        section("c", 70, 110, terminals=[terminal("c.x", 80), terminal("c.y", 100)]),
    ]
    return laid(ground(parts), *wires, keep_apart=APART)


def close(wiring: Wiring) -> list[Finding]:
    return [f for f in wiring.findings if f.code == "runs-close"]


def sampled(a: Route, b: Route) -> tuple[float, float]:
    """Return over which length of the first wire's drops it runs closer than wanted to the second, and the least
    distance: both drawn as points 0.05 mm apart."""

    def points(r: Route, drops: bool) -> np.ndarray:
        legs = [g for g in r.legs if g.kind == "drop" or not drops]
        return np.concatenate(
            [
                np.linspace(g.start, g.end, max(2, math.ceil(g.length / 0.05)))
                for g in legs
                if g.kind != "gallery"
            ]
        )

    own, other = points(a, True), points(b, False)
    radii = (a.wire.outer_diameter + b.wire.outer_diameter) / 2
    away = np.array([np.linalg.norm(other - p, axis=1).min() for p in own]) - radii
    return float((away < APART).sum()) * 0.05, float(away.min())


def test_ways_out_go_to_the_sides_on_which_their_terminals_stand() -> None:
    """Terminals 10 mm apart: crossing ways out would meet, and the shorter ones part; nothing is left to tell."""
    for x, y in ((5.0, -5.0), (-5.0, 5.0)):
        wiring = wired(x, y, POWER, SOUND)
        assert not close(wiring)
        ends = {r.wire.id: r.legs[0].end[0] for r in wiring.routes}
        assert ends["power"] * x > 0 and ends["sound"] * y > 0


@pytest.mark.parametrize("between", [0.5, 2.54, 3.5])
def test_terminals_that_stand_closer_are_told_with_length_and_least_distance(between: float) -> None:
    """The same lengths and distances come from both wires drawn point by point."""
    wiring = wired(between / 2, -between / 2, POWER, SOUND)
    (finding,) = close(wiring)
    assert (finding.level, finding.where) == ("note", "power / sound")
    power, sound = wiring.routes
    drawn = [sampled(a, b) for a, b in ((power, sound), (sound, power))]
    numbers = finding.numbers
    assert numbers["close_length"] == pytest.approx(max(d[0] for d in drawn), abs=0.6)
    assert numbers["least_distance"] == pytest.approx(max(0.0, min(d[1] for d in drawn)), abs=0.1)
    radii = (POWER.outer_diameter + SOUND.outer_diameter) / 2
    assert numbers["terminals_apart"] == pytest.approx(max(0.0, between - radii))
    assert f"{numbers['close_length']:.1f} mm" in finding.message
    # they part at once: at right angles or more the distance is reached within it and the radii
    assert numbers["close_length"] <= APART + radii + 0.5


def test_wires_that_cross_by_a_pinned_clock_are_a_warning_and_part_without_it() -> None:
    """Terminals 8 mm apart, the wire of the left one pinned to a clock on the right."""
    pinned = replace(SOUND, pinned_clock=10.0)
    (finding,) = close(wired(4.0, -4.0, POWER, pinned))
    radii = (POWER.outer_diameter + SOUND.outer_diameter) / 2
    assert finding.level == "warning"
    assert finding.numbers["terminals_apart"] == pytest.approx(8.0 - radii)
    assert finding.numbers["least_distance"] == 0.0 and "cross" in finding.message
    first = finding.candidates[0]
    assert (first.key, first.value) == ("wire[0].clock_deg", None)
    assert not close(wired(4.0, -4.0, POWER, replace(pinned, pinned_clock=None)))


def test_classes_that_do_not_oppose_each_other_are_not_looked_at() -> None:
    for keep in ("power", "light", None):
        assert not close(wired(0.3, -0.3, POWER, replace(SOUND, keep_apart=keep)))


def test_a_crossing_is_avoided_by_laying_both_anew() -> None:
    """A third, thick wire takes the better side first; all the same the two part."""
    thick = replace(wire("other", "a.x", "c.x", 20), keep_apart=None)
    wiring = wired(4.0, -4.0, thick, POWER, SOUND)
    assert not close(wiring)


@given(
    st.tuples(*[st.floats(-9.0, 9.0)] * 3),
    st.tuples(*[st.floats(-9.0, 9.0)] * 3),
    st.tuples(*[st.floats(-9.0, 9.0)] * 3),
)
def test_gaps_are_those_of_points_on_the_line(
    p: tuple[float, float, float], a: tuple[float, float, float], b: tuple[float, float, float]
) -> None:
    """Least distance over 2,000 points of the line, to within the spacing."""
    along = np.linspace(a, b, 2000)
    least = float(np.linalg.norm(along - np.array(p), axis=1).min())
    found = float(gaps(np.array([p]), [Line(a, b, 0.5)])[0])
    assert found == pytest.approx(least - 0.5, abs=math.dist(a, b) / 1999 + 1e-9)


def test_the_length_that_runs_close_by_hand() -> None:
    """A drop straight over a wire that crosses it at right angles: it is close within a sphere about the crossing.

    Wire of 1 mm and drop of 1 mm, 3 mm wanted: middle lines less than 4 mm apart, so 8 mm of a drop of 20 mm.
    """
    own = replace(wire("w", "a.x", "c.x"), outer_diameter=1.0)
    line = Line((10.0, 0.0, -50.0), (10.0, 0.0, 50.0), 0.5)
    length = close_length(own, terminal("a.x", 0.0), 20.0, [line], APART)
    assert length[0] == pytest.approx(8.0, abs=20.0 / 24)
    # at right angles to it the drop begins 10 mm away and leaves
    assert length[180] == 0.0
