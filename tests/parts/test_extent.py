"""The box round primitives; expected figures follow from the primitives' definitions (geometry, calc)."""

from __future__ import annotations

import math

import pytest

from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.shapes.frame import clocked, radial, shifted
from chassis_gen.shapes.primitives import (
    Box,
    Cone,
    Cylinder,
    Hull,
    Pattern,
    Primitive,
    Prism,
    Ring,
    TubeSegment,
    Within,
)


@pytest.mark.parametrize(
    ("solid", "low", "high"),
    [
        (Box((-1, -2, -3), (4, 5, 6)), (-1, -2, -3), (4, 5, 6)),
        (Cylinder(3, 1, 4, shifted(10, 20, 30)), (7, 17, 31), (13, 23, 34)),
        (Cone(3, 5, 0, 2), (-5, -5, 0), (5, 5, 2)),
        (Ring(3, 5, 0, 2), (-5, -5, 0), (5, 5, 2)),
        (Prism(((0, 0), (4, 0), (0, 3)), 1, 2), (0, 0, 1), (4, 3, 2)),
        (Hull(((0, 0, 0), (1, 0, 0), (0, 2, 0), (0, 0, 3))), (0, 0, 0), (1, 2, 3)),
        (Within(Cylinder(5, 0, 9), Box((-9, -9, -9), (4, 9, 9))), (-5, -5, 0), (4, 5, 9)),
        (Pattern(Cylinder(1, 0, 2), (shifted(5), shifted(-5))), (-6, -1, 0), (6, 1, 2)),
        # at clock 90 a radial frame's x points to -x, its y along the tube and its z to +y
        (Box((0, -1, -2), (3, 1, 2), radial(90, 50, 10)), (-3, 8, 49), (0, 12, 51)),
    ],
)
def test_box_is_the_smallest_upright_one(
    solid: Primitive, low: tuple[float, ...], high: tuple[float, ...]
) -> None:
    found = extent_of(solid)
    assert found[0] == pytest.approx(low)
    assert found[1] == pytest.approx(high)


def test_a_turned_square_reaches_to_its_corners() -> None:
    low, high = extent_of(Box((-1, -1, 0), (1, 1, 1), clocked(45)))
    assert low == pytest.approx((-math.sqrt(2), -math.sqrt(2), 0))
    assert high == pytest.approx((math.sqrt(2), math.sqrt(2), 1))


def test_a_sector_is_enclosed() -> None:
    low, high = extent_of(TubeSegment(3, 5, 0, 1, 10, 80))
    assert all(a <= 0 for a in low)
    assert all(b >= p for b, p in zip(high, (5 * math.cos(math.radians(10)), 5, 1), strict=True))


def test_extent_of_several() -> None:
    assert extent([((0, 0, 0), (1, 1, 1)), ((-1, 2, 0), (0, 3, 5))]) == ((-1, 0, 0), (1, 3, 5))
