"""Polygons of circles and arcs: areas and distances from plane geometry."""

import math

import numpy as np
import pytest

from chassis_gen.shapes import facets
from chassis_gen.shapes.frame import clocked, radial, reversed_axis


@pytest.mark.parametrize("radius", [0.4, 1.5, 9.0, 20.5, 60.0])
@pytest.mark.parametrize("chord", [0.005, 0.01, 0.05])
def test_a_circles_polygon_has_the_circles_area(radius: float, chord: float) -> None:
    corners = facets.circle(radius, chord)
    assert facets.signed_area(corners) == pytest.approx(math.pi * radius**2, rel=1e-12)
    assert len(corners) % 4 == 0
    assert len(corners) >= 24


@pytest.mark.parametrize("radius", [0.4, 1.5, 9.0, 20.5, 60.0])
@pytest.mark.parametrize("chord", [0.005, 0.01, 0.05])
def test_a_circles_polygon_stays_within_the_chord_tolerance(radius: float, chord: float) -> None:
    corners = facets.circle(radius, chord)
    outward = float(np.hypot(*corners.T).max()) - radius
    middles = (corners + np.roll(corners, -1, axis=0)) / 2.0
    inward = radius - float(np.hypot(*middles.T).min())
    assert 0.0 < outward < chord
    assert 0.0 < inward < chord


def test_the_sagitta_sets_the_number_of_facets() -> None:
    # r (1 - cos(pi / n)) <= chord: for r = 20, chord = 0.01, n >= 99.3; the next multiple of 4 is 100.
    assert facets.facet_count(20.0, 0.01) == 100
    assert 20.0 * (1.0 - math.cos(math.pi / 100)) <= 0.01 < 20.0 * (1.0 - math.cos(math.pi / 99))


def test_an_arcs_inner_corners_are_those_of_the_full_circle() -> None:
    full = {tuple(p) for p in facets.circle(9.0, 0.01).tolist()}
    corners = facets.arc(9.0, 13.0, 251.0, 0.01).tolist()
    assert all(tuple(p) in full for p in corners[1:-1])
    for corner, clock in ((corners[0], 13.0), (corners[-1], 251.0)):
        assert math.degrees(math.atan2(corner[1], corner[0])) % 360.0 == pytest.approx(clock, abs=1e-9)


def test_an_arc_that_ends_on_a_corner_uses_that_corner() -> None:
    full = facets.circle(9.0, 0.01)
    corners = facets.arc(9.0, 90.0, 180.0, 0.01)
    assert tuple(corners[0]) == tuple(full[len(full) // 4])
    assert tuple(corners[-1]) == tuple(full[len(full) // 2])


@pytest.mark.parametrize("span", [0.5, 10.0, 77.7, 180.0, 359.0])
def test_a_sector_has_its_area_within_a_fraction_of_a_facet(span: float) -> None:
    # Sector area (R^2 - r^2) / 2 * angle (plane geometry); only the two cut facets at each arc's ends err.
    area = facets.signed_area(facets.sector(7.0, 9.0, 5.0, 5.0 + span, 0.01))
    assert area == pytest.approx((81.0 - 49.0) / 2.0 * math.radians(span), abs=0.01)


def test_coaxial_frames_share_one_facet_grid() -> None:
    turned, clock = facets.round_frame(clocked(37.0, 5.0))
    assert turned.x_axis == (1.0, 0.0, 0.0)
    assert clock == pytest.approx(37.0, abs=1e-12)
    back, _ = facets.round_frame(reversed_axis(clocked(37.0)))
    assert back.x_axis == (1.0, 0.0, 0.0)
    assert back.z_axis == (0.0, 0.0, -1.0)
    outward, clock = facets.round_frame(radial(30.0, 8.0, 20.0))
    assert np.dot(outward.x_axis, outward.z_axis) == pytest.approx(0.0, abs=1e-15)
    assert clock == pytest.approx(0.0, abs=1e-9)
