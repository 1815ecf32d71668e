"""Shrunk envelopes; volumes and bounds by closed form."""

import math

import pytest

from chassis_gen.checks.probes import offset, part_bodies, shrunk
from chassis_gen.shapes.frame import IDENTITY, shifted
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import (
    Box,
    Cone,
    Cylinder,
    Hull,
    Pattern,
    Prism,
    Ring,
    TubeSegment,
    Within,
    centred_box,
)
from tests.checks import support as s

SQUARE = ((0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0))


@pytest.mark.parametrize(
    ("primitive", "volume"),
    [
        (Box((0, 0, 0), (4, 5, 6)), 3.8 * 4.8 * 5.8),
        (Cylinder(3.0, 0.0, 5.0), math.pi * 2.9**2 * 4.8),
        (Ring(2.0, 3.0, 0.0, 5.0), math.pi * (2.9**2 - 2.1**2) * 4.8),
        (Prism(SQUARE, 0.0, 3.0), 3.8**2 * 2.8),
        (Prism(((-4, -4), (8, -4), (8, 8), (-4, 8)), 0.0, 3.0, (SQUARE,)), (11.8**2 - 4.2**2) * 2.8),
        (Within(Cylinder(3.0, 0.0, 5.0), Box((-9, -9, 1), (9, 9, 4))), math.pi * 2.9**2 * 2.8),
        (Pattern(Cylinder(1.0, 0.0, 2.0), (IDENTITY, shifted(5.0))), 2 * math.pi * 0.9**2 * 1.8),
    ],
)
def test_shrinking_moves_every_face_in(primitive, volume):
    less = shrunk(primitive, 0.1)
    assert less is not None
    assert solid(less).volume == pytest.approx(volume, rel=1e-4)


def test_a_cone_keeps_its_slope_when_it_shrinks():
    cone = Cone(5.0, 2.0, 0.0, 4.0)
    less = shrunk(cone, 0.1)
    assert isinstance(less, Cone)
    assert (less.r0 - less.r1) / (less.z1 - less.z0) == pytest.approx(0.75)
    # Distance of the two slanted surfaces: the radius at z = 0.1 is 4.925, the slant's cosine 0.8.
    assert (4.925 - less.r0) * 0.8 == pytest.approx(0.1)


@pytest.mark.parametrize(
    "primitive",
    [
        TubeSegment(5.0, 8.0, 0.0, 6.0, 20.0, 100.0),
        TubeSegment(0.0, 8.0, 0.0, 6.0, 20.0, 100.0),
        Hull(((0, 0, 0), (6, 0, 0), (0, 6, 0), (6, 6, 0), (3, 3, 6))),
        Cone(0.0, 3.0, 0.0, 5.0),
    ],
)
def test_what_is_shrunk_lies_inside_what_it_was(primitive):
    less, whole = shrunk(primitive, 0.1), solid(primitive)
    assert less is not None
    inner = solid(less)
    assert inner.cut(whole).volume == pytest.approx(0.0, abs=1e-6)
    assert 0.8 * whole.volume < inner.volume < whole.volume


@pytest.mark.parametrize(
    "primitive",
    [
        Box((0, 0, 0), (4, 5, 0.2)),
        Cylinder(0.1, 0.0, 5.0),
        Ring(2.0, 2.2, 0.0, 5.0),
        Prism(SQUARE, 0.0, 0.2),
        TubeSegment(5.0, 5.2, 0.0, 6.0, 20.0, 100.0),
        Hull(((0, 0, 0), (6, 0, 0), (0, 6, 0), (6, 6, 0), (3, 3, 0.2))),
        Cone(0.05, 0.05, 0.0, 5.0),
        Pattern(Cylinder(0.1, 0.0, 2.0), (IDENTITY,)),
    ],
)
def test_what_is_thinner_than_the_step_vanishes(primitive):
    assert shrunk(primitive, 0.1) is None


@pytest.mark.parametrize("outline", [SQUARE, SQUARE[::-1]])
def test_an_outline_grows_outward_whichever_way_it_runs(outline):
    grown = offset(outline, 0.5)
    assert sorted(grown) == [(-0.5, -0.5), (-0.5, 4.5), (4.5, -0.5), (4.5, 4.5)]


def test_a_part_becomes_one_body_per_member_where_it_stands():
    envelope = (centred_box((4, 4, 2)), Pattern(Cylinder(0.5, -3.0, 0.5), (shifted(1.0), shifted(-1.0))))
    part = s.cell(part=s.cell().part.__class__("x", "x", "x", {}, 1.0, envelope), frame=shifted(z=50.0))
    bodies = part_bodies(part, s.CHORD)
    assert len(bodies) == 3
    assert min(b.bounds[0][2] for b in bodies) == pytest.approx(47.0)
