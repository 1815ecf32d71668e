"""The outer surface: bands and relief, steps for smaller bores, the printing flat."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chassis_gen.plan.model import Outer
from chassis_gen.plan.sums import GRID, on_grid
from chassis_gen.plan.surface import STEP_MARGIN, Bearing, Reach, bore_reaches, outer_surface
from chassis_gen.plan.tube import Bore, Segment, Tube
from tests.plan.support import OUTER, fitter

BEARING = Bearing("slide", 9.0, 0.45, 9.0, 270.0)
TAKEN = 2 * 0.15 + OUTER
"""A slide fit's clearance on both sides and the uncalibrated printer's outer allowance, mm."""


def tube(*bores: tuple[float, float, float]) -> Tube:
    rows = tuple(Bore(a, b, d, 0.1) for a, b, d in bores)
    return Tube((Segment("tube", rows[0].z0, rows[-1].z1, 1.5, "aluminium", rows),), ())


def reaches(t: Tube, z0: float, z1: float, bearing: Bearing = BEARING) -> tuple[Reach, ...]:
    return bore_reaches(t, z0, z1, bearing, fitter())


def surface(t: Tube, z0: float, z1: float, bearing: Bearing = BEARING) -> Outer:
    bands = [(z0, z0 + bearing.band), (z1 - bearing.band, z1)]
    return outer_surface(reaches(t, z0, z1, bearing), bands, bearing)


def test_bands_bear_and_the_rest_is_relieved() -> None:
    outer = surface(tube((0, 200, 40.0)), 4.0, 150.0)
    assert [(s.z0, s.z1, s.bearing) for s in outer.steps] == [
        (4.0, 13.0, True), (13.0, 141.0, False), (141.0, 150.0, True),
    ]  # fmt: skip
    bearing_radius = (40.0 - TAKEN) / 2
    assert outer.largest_radius(4, 150) == pytest.approx(bearing_radius, abs=GRID)
    assert outer.smallest_radius(4, 150) == pytest.approx(bearing_radius - 0.45, abs=GRID)


@pytest.mark.parametrize("shoulder", [60.0, 60.2, 61.7, 59.99])
def test_chassis_steps_down_before_a_bores_shoulder_and_not_sooner(shoulder: float) -> None:
    """A deeper smaller bore limits only deeper stations."""
    found = reaches(tube((0, shoulder, 41.0), (shoulder, 200, 40.0)), 4.0, 150.0)
    assert [r.diameter.total for r in found] == pytest.approx([41.0 - TAKEN, 40.0 - TAKEN], abs=GRID)
    assert found[0].z1 == pytest.approx(shoulder - STEP_MARGIN, abs=GRID)


def test_narrower_mouth_limits_everything_behind_it() -> None:
    found = reaches(tube((0, 20, 38.0), (20, 200, 41.0)), 4.0, 150.0)
    assert [r.bore.diameter for r in found] == [38.0]
    assert (found[0].z0, found[0].z1) == (4.0, 150.0)


def test_narrow_ring_in_the_middle_limits_what_passes_it() -> None:
    found = reaches(tube((0, 50, 41.0), (50, 60, 39.0), (60, 200, 41.0)), 4.0, 150.0)
    assert [(r.bore.diameter, r.z0, r.z1) for r in found] == [(41.0, 4.0, 49.0), (39.0, 49.0, 150.0)]


@given(
    st.lists(st.tuples(st.floats(3, 60), st.floats(30, 44)), min_size=1, max_size=5),
    st.floats(0, 5),
    st.floats(0.2, 0.9),
)
def test_every_station_clears_every_bore_that_it_passes(
    rows: list[tuple[float, float]], near: float, share: float
) -> None:
    """Brute force: a station clears by the fit each bore between the mouth and itself."""
    at, bores = 0.0, []
    for length, d in rows:
        bores.append((at, at + length, d))
        at += length
    near, far = on_grid(near), on_grid(near + share * (at - near))
    if far - near < 2 or at - near < 3:
        return
    outer = surface(tube(*bores), near, far)
    assert outer.steps[0].z0 == near
    assert outer.steps[-1].z1 == far
    for a, b in zip(outer.steps, outer.steps[1:], strict=False):
        assert a.z1 == b.z0
    for step in outer.steps:
        passed = min(d for z0, _, d in bores if z0 < step.z1 - 1e-3)
        assert step.radius <= (passed - TAKEN) / 2 + GRID


def test_flat_has_its_width_at_the_smallest_radius() -> None:
    """Chord of a circle: half width squared plus distance squared is the radius squared."""
    outer = surface(tube((0, 200, 40.0)), 4.0, 150.0)
    assert outer.flat_distance is not None
    half = math.sqrt(outer.smallest_radius(4, 150) ** 2 - outer.flat_distance**2)
    assert 2 * half == pytest.approx(9.0, abs=0.002)


def test_no_flat_when_none_is_asked_for() -> None:
    assert (
        surface(tube((0, 200, 40.0)), 4.0, 150.0, Bearing("slide", 9.0, 0.45, 0.0, 270.0)).flat_distance
        is None
    )
