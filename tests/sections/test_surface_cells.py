"""Cells of surface patterns: what each takes from a round bar, against closed forms and integrals."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from chassis_gen.sections.features.surface_cells import (
    Cell,
    flute,
    flute_round,
    groove,
    hexagon,
    least_flute_depth,
    pit,
    pocket,
    stadium,
    turned,
)
from chassis_gen.shapes import mesh
from chassis_gen.shapes.primitives import Cylinder, Pattern

R, DEPTH = 19.35, 0.6
CHORD = 0.002
HALF = 12.0


def taken(cell: Cell, clock: float = 0.0) -> float:
    """Return the volume, mm3, that a cell takes from a bar of radius R."""
    bar = mesh.solid(Cylinder(R, -HALF, HALF), CHORD)
    tools = [mesh.solid(Pattern(s, (cell.frame(clock, 0.0),)), CHORD) for s in cell.solids]
    return bar.volume - bar.cut(*tools).volume


def shell(width_at: Callable[[float], float], reach: float) -> float:
    """Return the volume, mm3, of a straight-walled pocket of constant depth under a round surface.

    Integrated over u: width x (sqrt(R^2 - u^2) - sqrt((R - depth)^2 - u^2)); trapezoidal rule.
    """
    u = np.linspace(-reach, reach, 20001)
    high, low = np.sqrt(R**2 - u**2), np.sqrt((R - DEPTH) ** 2 - u**2)
    return float(np.trapezoid(np.array([width_at(x) for x in u]) * (high - low), u))


def test_a_flute_is_the_lens_of_two_circles() -> None:
    """E. W. Weisstein, Circle-Circle Intersection, MathWorld, eq. 14."""
    r, d = flute_round(R, 3.0, DEPTH)
    assert d - r == pytest.approx(R - DEPTH)
    a = (d**2 + r**2 - R**2) / (2 * d * r)
    b = (d**2 + R**2 - r**2) / (2 * d * R)
    root = math.sqrt((-d + r + R) * (d + r - R) * (d - r + R) * (d + r + R))
    lens = r**2 * math.acos(a) + R**2 * math.acos(b) - root / 2
    cell = flute(R, 3.0, DEPTH, 10.0)
    assert taken(cell) == pytest.approx(lens * 10.0, rel=0.01)
    assert cell.half_clock == pytest.approx(math.degrees(math.asin(1.5 / R)))
    # the sagitta of a chord as wide as the flute
    assert least_flute_depth(R, 3.0) == pytest.approx(R * (1 - math.cos(math.asin(1.5 / R))))


@pytest.mark.parametrize("span", [75.0, 360.0])
def test_a_groove_is_a_sector_of_a_ring(span: float) -> None:
    expected = math.radians(span) / 2 * (R**2 - (R - DEPTH) ** 2) * 2.0
    assert taken(groove(R, 2.0, DEPTH, span), 33.0) == pytest.approx(expected, rel=2e-3)


def test_a_pit_is_a_pyramid_cut_off_by_the_round_surface() -> None:
    """Its point lies R - depth from the axis, its diamond grows with the distance from there to w at R.

    Integrated over the diamond: the surface's height over the pyramid's wall, where it is above it.
    """
    width = 2.2
    u, v = np.meshgrid(np.linspace(-1.1, 1.1, 2201), np.linspace(-1.1, 1.1, 2201))
    wall = (R - DEPTH) + DEPTH * (np.abs(u) + np.abs(v)) / (width / 2)
    height = np.clip(np.sqrt(R**2 - u**2) - wall, 0.0, None)
    expected = float(height.sum()) * 0.001**2
    assert taken(pit(R, width, DEPTH), 200.0) == pytest.approx(expected, rel=5e-3)


def test_pockets_are_as_deep_everywhere() -> None:
    across = 4.5
    side, corner = across / math.sqrt(3.0), across / 2

    def hexagon_height(u: float) -> float:
        # corners up and down the axis, flats across it
        return 2 * (side - abs(u) / math.sqrt(3.0))

    assert taken(pocket(R, DEPTH, ((hexagon(across), ()),)), 120.0) == pytest.approx(
        shell(hexagon_height, corner), rel=5e-3
    )
    # a polygon of 24 sides in a circle holds sin(x) / x of it, x = 2 pi / 24 (its half-round ends only)
    narrow = pocket(R, DEPTH, ((stadium(2.5, 10.0), ()),))
    x = math.pi / 12
    area = 2.5 * 7.5 + math.pi * 1.25**2 * math.sin(x) / x
    # 2.5 mm of a radius of 19 mm lie nearly flat: area x depth within 0.1 %
    assert taken(narrow, 5.0) == pytest.approx(area * DEPTH, rel=5e-3)
    assert narrow.half_length == pytest.approx(5.0)


def test_an_outline_keeps_its_hole_and_isn_t_mirrored() -> None:
    """An L with its foot the way clocks grow and its top away from the mouth."""
    corner = ((-2.0, -2.0), (2.0, -2.0), (2.0, -1.0), (-1.0, -1.0), (-1.0, 2.0), (-2.0, 2.0))
    bar = mesh.solid(Cylinder(R, -HALF, HALF))
    cell = pocket(R, DEPTH, ((corner, ()),))
    left = bar.cut(mesh.solid(Pattern(cell.solids[0], (cell.frame(90.0, 0.0),))))
    turn = math.degrees(1.5 / R)

    def depth_at(clock: float, z: float) -> float:
        c, s = math.cos(math.radians(clock)), math.sin(math.radians(clock))
        ((first, *_),) = left.rays([(c * 25, s * 25, z)], [(-c, -s, 0.0)])
        return 25.0 - first.distance

    assert depth_at(90 + turn, -1.5) == pytest.approx(R - DEPTH, abs=0.02)
    assert depth_at(90 - turn, 1.5) == pytest.approx(R - DEPTH, abs=0.02)
    assert depth_at(90 + turn, 1.5) == pytest.approx(R, abs=0.02)
    frame = (((-2.0, -2.0), (2.0, -2.0), (2.0, 2.0), (-2.0, 2.0)), (((-1.0, -1.0), (1.0, -1.0), (0.0, 1.0)),))
    whole = taken(pocket(R, DEPTH, ((frame[0], ()),)))
    assert taken(pocket(R, DEPTH, (frame,))) == pytest.approx(whole - 2.0 * DEPTH, rel=2e-3)


def test_an_outline_turns_against_the_clock_as_seen_from_outside() -> None:
    assert turned(((1.0, 0.0),), 90.0, 2.0)[0] == pytest.approx((0.0, 2.0))
