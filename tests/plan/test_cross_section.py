"""Obstacles by whole degrees of clock, against closed forms and brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chassis_gen.plan.cross_section import innermost_lane_radius, interval_mask, reach, windowed_max
from chassis_gen.plan.model import Disc, Obstacle, Sector, Slab

R = np.linspace(0.0, 40.0, 8001)
STEP = R[1]
XY = st.floats(-15, 15)


def sampled_reach(inside: object, clock: int) -> float:
    """Return the farthest sample of a ray that lies inside a shape."""
    a = math.radians(clock)
    hit = inside(R * math.cos(a), R * math.sin(a))  # type: ignore[operator]
    return float(R[hit].max()) if hit.any() else 0.0


def in_slab(b: Slab, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    turn = math.radians(b.top_clock - 90)
    u, v = x * math.cos(turn) + y * math.sin(turn), -x * math.sin(turn) + y * math.cos(turn)
    return (u >= b.x0) & (u <= b.x1) & (v >= b.y0) & (v <= b.y1)


def test_disc_round_the_axis_reaches_its_radius_everywhere() -> None:
    assert reach(Disc(0, 0, 9.3)) == pytest.approx(np.full(360, 9.3))


def test_disc_beside_the_axis_reaches_centre_plus_radius_and_ends_at_its_tangents() -> None:
    """Closed form: tangents from the axis stand asin(radius / distance) beside the centre's clock."""
    r = reach(Disc(0, 10, 4))
    assert r[90] == pytest.approx(14.0)
    half = math.degrees(math.asin(0.4))
    assert [bool(r[k] > 0) for k in (90 - int(half), 90 - int(half) - 1)] == [True, False]
    assert r[270] == 0.0


@given(XY, XY, st.floats(0.3, 10), st.integers(0, 359))
def test_disc_against_samples(x: float, y: float, radius: float, clock: int) -> None:
    found = reach(Disc(x, y, radius))[clock]
    a = math.radians(clock)
    grazing = abs(radius - abs(x * math.sin(a) - y * math.cos(a))) < 1e-3
    expected = sampled_reach(lambda p, q: (p - x) ** 2 + (q - y) ** 2 <= radius**2, clock)
    if not grazing:
        assert found == pytest.approx(expected, abs=2 * STEP)


def test_slab_reaches_side_and_corner() -> None:
    """A board 20 wide, from 2 below to 3 above the axis: side at clock 0, top at 90, corner by Pythagoras."""
    r = reach(Slab(-10, 10, -2, 3))
    assert (r[0], r[90], r[180], r[270]) == pytest.approx((10, 3, 10, 2))
    corner = math.degrees(math.atan2(3, 10))
    nearest = max(r[math.floor(corner)], r[math.ceil(corner)])
    assert nearest == pytest.approx(math.hypot(10, 3), abs=0.06)


def test_slab_turns_with_its_top() -> None:
    turned = reach(Slab(-10, 10, -2, 3, top_clock=0.0))
    assert (turned[0], turned[90]) == pytest.approx((3, 10))


@given(XY, st.floats(0.5, 12), XY, st.floats(0.5, 12), st.integers(0, 359), st.integers(0, 359))
def test_slab_against_samples(x: float, wide: float, y: float, high: float, top: int, clock: int) -> None:
    slab = Slab(x, x + wide, y, y + high, float(top))
    found = float(reach(slab)[clock])

    def sampled(grown: float) -> float:
        other = Slab(x - grown, x + wide + grown, y - grown, y + high + grown, float(top))
        return sampled_reach(lambda p, q: in_slab(other, p, q), clock)

    assert sampled(-0.01) - STEP <= found <= sampled(0.01) + STEP


@given(st.floats(0, 360), st.floats(0, 350))
def test_sector_blocks_every_degree_it_touches(start: float, span: float) -> None:
    r = reach(Sector(start, start + span))
    for k in range(math.ceil(start), math.floor(start + span) + 1):
        assert math.isinf(r[k % 360])
    assert np.isinf(r).any()
    assert np.isinf(r).sum() <= span + 3


def test_sector_past_zero_in_either_writing() -> None:
    assert interval_mask(350, 370).nonzero()[0].tolist() == interval_mask(350, 10).nonzero()[0].tolist()
    assert interval_mask(350, 370).sum() == 21
    assert interval_mask(0, 360).all()


def test_lane_bottom_keeps_the_wall_over_and_beside_an_obstacle() -> None:
    """A disc grown by the wall: 0.8 over its top, and tangents of the larger circle beside it."""
    seat = Obstacle(Disc(0, 10, 4), 20.0, 40.0, "seat")
    limit = innermost_lane_radius([seat], 25, 30, 0.8)
    assert limit[90] == pytest.approx(14.8)
    half = math.degrees(math.asin(4.8 / 10))
    assert limit[90 + int(half)] > 0 == limit[90 + int(half) + 1]


def test_obstacle_counts_a_wall_beyond_its_ends_along_the_axis() -> None:
    seat = Obstacle(Disc(0, 0, 9), 20.0, 40.0, "seat")
    assert innermost_lane_radius([seat], 40.5, 50, 0.8).max() == pytest.approx(9.8)
    assert innermost_lane_radius([seat], 40.9, 50, 0.8).max() == 0.0


def test_windowed_max_goes_round_the_circle() -> None:
    values = np.zeros(360)
    values[359] = 5.0
    wide = windowed_max(values, 2)
    assert wide.nonzero()[0].tolist() == [0, 1, 357, 358, 359]
