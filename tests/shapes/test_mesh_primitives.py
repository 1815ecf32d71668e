"""Every primitive against the closed forms of solid geometry (mensuration formulas)."""

import math

import numpy as np
import pytest

from chassis_gen.shapes import mesh
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.frame import IDENTITY, Frame, clocked, radial, reversed_axis, shifted
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
    placed,
)
from tests.helpers import assert_sound

FRAMES = [IDENTITY, clocked(37.0, 12.5), radial(30.0, 40.0, 19.0), reversed_axis(radial(200.0, 7.0, 3.0))]


def sector_centre(inner: float, outer: float, half_angle: float) -> float:
    """Distance of a ring sector's centroid from the axis: 2/3 (R^3 - r^3)/(R^2 - r^2) sin(a)/a."""
    return 2.0 / 3.0 * (outer**3 - inner**3) / (outer**2 - inner**2) * math.sin(half_angle) / half_angle


def cone_centre(r0: float, r1: float, height: float) -> float:
    """Height of a truncated cone's centroid: h/4 (r0^2 + 2 r0 r1 + 3 r1^2)/(r0^2 + r0 r1 + r1^2)."""
    return height / 4.0 * (r0**2 + 2 * r0 * r1 + 3 * r1**2) / (r0**2 + r0 * r1 + r1**2)


SQUARE = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
WINDOW = ((1.0, 1.0), (3.0, 1.0), (3.0, 3.0), (1.0, 3.0))
REACH = sector_centre(7.0, 9.0, math.radians(60.0))

# A plane that cuts a polygon inside a facet leaves part of it, so the area isn't the circle's to the bit.
CUT_FACET = 2e-4

# (primitive, volume mm3, centre of mass mm, through holes, relative volume error allowed)
CLOSED_FORMS: list[tuple[Primitive, float, tuple[float, float, float], int, float]] = [
    (Box((-1.0, 0.0, 2.0), (2.0, 5.0, 9.0)), 3.0 * 5.0 * 7.0, (0.5, 2.5, 5.5), 0, 1e-12),
    (Cylinder(9.5, -2.0, 6.0), math.pi * 9.5**2 * 8.0, (0.0, 0.0, 2.0), 0, 1e-12),
    (
        Cone(5.0, 2.0, 1.0, 4.0),
        math.pi * 3.0 / 3.0 * (25.0 + 10.0 + 4.0),
        (0.0, 0.0, 1.0 + cone_centre(5.0, 2.0, 3.0)),
        0,
        1e-12,
    ),
    (Cone(0.0, 3.0, 0.0, 4.0), math.pi * 9.0 * 4.0 / 3.0, (0.0, 0.0, 3.0), 0, 1e-12),
    (Cone(3.0, 0.0, 0.0, 4.0), math.pi * 9.0 * 4.0 / 3.0, (0.0, 0.0, 1.0), 0, 1e-12),
    (Ring(7.0, 9.0, 0.0, 5.0), math.pi * 32.0 * 5.0, (0.0, 0.0, 2.5), 1, 1e-12),
    (
        TubeSegment(7.0, 9.0, 0.0, 5.0, 30.0, 150.0),
        math.pi / 3.0 * 32.0 * 5.0,
        (0.0, REACH, 2.5),
        0,
        CUT_FACET,
    ),
    (
        TubeSegment(0.0, 9.0, 0.0, 5.0, -45.0, 45.0),
        math.pi / 4.0 * 81.0 * 5.0,
        (sector_centre(0.0, 9.0, math.pi / 4.0), 0.0, 2.5),
        0,
        CUT_FACET,
    ),
    (Prism(SQUARE, 0.0, 3.0), 72.0, (3.0, 2.0, 1.5), 0, 1e-12),
    (
        Prism(SQUARE, 0.0, 3.0, (WINDOW,)),
        60.0,
        ((24.0 * 3.0 - 4.0 * 2.0) / 20.0, 2.0, 1.5),
        1,
        1e-12,
    ),
    (Hull(((0, 0, 0), (3, 0, 0), (0, 3, 0), (0, 0, 3))), 4.5, (0.75, 0.75, 0.75), 0, 1e-12),
    (
        # Two equal cylinders crossing at a right angle: 16 r^3 / 3 (Archimedes).
        Within(Cylinder(3.0, -5.0, 5.0), Cylinder(3.0, -5.0, 5.0, radial(0.0, 0.0))),
        16.0 * 27.0 / 3.0,
        (0.0, 0.0, 0.0),
        0,
        3e-3,
    ),
    (
        # Half a cylinder: its centroid lies 4 r / (3 pi) from the flat side.
        Within(Cylinder(3.0, 0.0, 5.0), Box((-4.0, 0.0, -1.0), (4.0, 4.0, 6.0))),
        math.pi * 9.0 * 5.0 / 2.0,
        (0.0, 4.0 * 3.0 / (3.0 * math.pi), 2.5),
        0,
        CUT_FACET,
    ),
    (
        # Bars 1 mm apart that overlap by half their length.
        Pattern(Box((0.0, 0.0, 0.0), (2.0, 1.0, 1.0)), (shifted(0.0), shifted(1.0), shifted(2.0))),
        4.0,
        (2.0, 0.5, 0.5),
        0,
        1e-12,
    ),
]


@pytest.mark.parametrize("frame", FRAMES)
@pytest.mark.parametrize("case", CLOSED_FORMS, ids=lambda c: type(c[0]).__name__)
def test_volume_and_centre_match_the_closed_form(
    case: tuple[Primitive, float, tuple[float, float, float], int, float], frame: Frame
) -> None:
    primitive, volume, centre, genus, share = case
    body = mesh.solid(placed(primitive, frame))
    again = assert_sound(body, volume, genus=genus, share=share)
    # The centroid of an arc on a polygon differs from the circle's by a fraction of the chord.
    assert np.allclose(again.center_mass, frame.point(centre), atol=0.5 * body.chord)


def test_stations_survive_to_the_last_bit() -> None:
    z0, z1 = 12345 / 2**14, 678901 / 2**14
    for body in (
        mesh.solid(Cylinder(9.0, z0, z1)),
        mesh.solid(Cylinder(9.0, z0, z1)).union(mesh.solid(Box((-1.0, -1.0, z0 + 1), (1.0, 1.0, z1 - 1)))),
    ):
        (_, _, low), (_, _, high) = body.bounds
        assert (low, high) == (z0, z1)


def test_coaxial_solids_of_one_radius_share_their_facets_however_they_are_clocked() -> None:
    bar = mesh.solid(Cylinder(9.0, 0.0, 10.0, clocked(37.0)))
    longer = mesh.solid(Cylinder(9.0, -1.0, 11.0, clocked(101.0)))
    assert bar.cut(longer).is_empty
    joined = bar.union(mesh.solid(Cylinder(9.0, 5.0, 15.0, reversed_axis(clocked(11.0, 15.0)))))
    assert joined.volume == pytest.approx(math.pi * 81.0 * 10.0, rel=1e-12)


def test_a_segment_cut_from_a_bar_of_its_radius_leaves_no_sliver() -> None:
    bar = mesh.solid(Cylinder(9.0, 0.0, 10.0))
    segment = mesh.solid(TubeSegment(7.0, 9.0, -1.0, 11.0, 13.3, 77.7, clocked(41.0)))
    left = bar.cut(segment)
    assert len(left.components()) == 1
    assert left.volume == pytest.approx(bar.volume - segment.volume * 10.0 / 12.0, rel=1e-9)


@pytest.mark.parametrize(
    ("primitive", "label"),
    [
        (Box((0, 0, 0), (1, 0, 1)), "box"),
        (Cylinder(0.0, 0.0, 1.0), "cylinder"),
        (Cylinder(1.0, 1.0, 1.0), "cylinder"),
        (Cylinder(math.nan, 0.0, 1.0), "cylinder"),
        (Cone(0.0, 0.0, 0.0, 1.0), "cone"),
        (Cone(-1.0, 2.0, 0.0, 1.0), "cone"),
        (Ring(3.0, 3.0, 0.0, 1.0), "ring"),
        (Ring(0.0, 3.0, 0.0, 1.0), "ring"),
        (TubeSegment(1.0, 2.0, 0.0, 1.0, 10.0, 10.0), "tube segment"),
        (TubeSegment(1.0, 2.0, 0.0, 1.0, 0.0, 360.0), "tube segment"),
        (Prism(((0, 0), (2, 2), (2, 0), (0, 2)), 0.0, 1.0), "prism"),
        (Prism(((0, 0), (1, 0)), 0.0, 1.0), "prism"),
        (Prism(SQUARE, 0.0, 1.0, (((5, 1), (8, 1), (8, 2)),)), "prism"),
        (Hull(((0, 0, 0), (1, 0, 0), (0, 1, 0), (1, 1, 0))), "hull"),
        (Within(Box((0, 0, 0), (1, 1, 1)), Box((2, 2, 2), (3, 3, 3))), "within"),
        (Pattern(Cylinder(1.0, 0.0, 1.0), ()), "pattern"),
    ],
)
def test_figures_that_enclose_nothing_are_named(primitive: Primitive, label: str) -> None:
    with pytest.raises(GeometryError) as caught:
        mesh.solid(primitive)
    assert caught.value.label == label


def test_an_outline_may_run_either_way() -> None:
    assert mesh.solid(Prism(SQUARE[::-1], 0.0, 3.0, (WINDOW[::-1],))).volume == pytest.approx(60.0)
