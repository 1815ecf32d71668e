"""What is measured on a body: distances, sections, rays, shells and play, against plane geometry."""

import math

import numpy as np
import pytest

from chassis_gen.shapes import mesh
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.frame import Frame, clocked, radial, shifted
from chassis_gen.shapes.primitives import Box, Cylinder, Ring
from tests.helpers import assert_sound

BORE, CELL = 9.5, 9.2
PLAY_TOLERANCE = mesh.DEFAULT_CHORD + 0.005


def cube(low: float, high: float) -> mesh.Body:
    return mesh.solid(Box((low, low, low), (high, high, high)))


def test_booleans_of_overlapping_cubes() -> None:
    # Cubes of 2 mm overlapping in a cube of 1 mm: union 8 + 8 - 1, cut 7, common 1.
    a, b = cube(0.0, 2.0), cube(1.0, 3.0)
    assert_sound(a.union(b), 15.0)
    assert_sound(a.cut(b), 7.0)
    assert_sound(a.common(b), 1.0)
    assert a.common_volume(b) == pytest.approx(1.0)
    assert a.common_volume(b.moved((5.0, 0.0, 0.0))) == 0.0
    assert a.area == pytest.approx(24.0)


def test_gap_is_zero_on_contact_overlap_and_containment() -> None:
    a, inside = cube(0.0, 4.0), cube(1.0, 2.0)
    assert a.gap(cube(5.0, 6.0), 9.0) == pytest.approx(math.sqrt(3.0))
    assert a.gap(a.moved((6.5, 0.0, 0.0)), 9.0) == pytest.approx(2.5)
    assert a.gap(a.moved((6.5, 0.0, 0.0)), 1.0) == 1.0
    assert a.gap(a.moved((4.0, 0.0, 0.0)), 1.0) == 0.0
    assert a.gap(a.moved((3.0, 0.0, 0.0)), 1.0) == 0.0
    assert a.gap(inside, 1.0) == 0.0
    assert inside.gap(a, 1.0) == 0.0


def test_a_loose_body_inside_a_void_has_a_gap() -> None:
    hollow = cube(0.0, 8.0).cut(cube(1.0, 7.0))
    assert hollow.gap(cube(3.0, 5.0), 9.0) == pytest.approx(2.0)


def test_shells_are_counted_and_a_trapped_void_is_negative() -> None:
    body = cube(0.0, 8.0).cut(cube(1.0, 3.0)).union(cube(10.0, 11.0))
    volumes = [shell.volume for shell in body.components()]
    assert volumes == pytest.approx([512.0, 1.0, -8.0])
    assert body.components()[1].bounds == ((10.0, 10.0, 10.0), (11.0, 11.0, 11.0))


def test_bodies_that_touch_in_an_edge_alone_count_as_two() -> None:
    corner = mesh.solid(Box((1.0, 1.0, 0.0), (2.0, 2.0, 1.0)))
    assert len(cube(0.0, 1.0).union(corner).components()) == 2


def test_sections_have_the_area_of_the_ring() -> None:
    ring = mesh.solid(Ring(7.0, 9.0, 10.0, 20.0))
    area = math.pi * (81.0 - 49.0)
    assert ring.slice_area(15.0) == pytest.approx(area, rel=1e-9)
    assert ring.slice_area(21.0) == 0.0
    assert len(ring.slice_polygons(15.0)) == 2
    # A plane along the axis cuts two rectangles of 2 x 10 mm; corners stand off by less than a chord.
    along = radial(0.0, 15.0)
    assert ring.section_area(along) == pytest.approx(2 * 2.0 * 10.0, abs=4 * 10.0 * ring.chord)
    moved = clocked(33.0, 4.0) @ radial(10.0, 3.0, 2.0)
    assert ring.transformed(moved).section_area(moved @ shifted(z=15.0)) == pytest.approx(area, rel=1e-9)


def test_cropping_keeps_what_lies_in_the_box() -> None:
    assert cube(0.0, 4.0).cropped((1.0, -1.0, 2.0), (3.0, 1.0, 9.0)).volume == pytest.approx(2 * 1 * 2)


def test_a_frame_turns_and_shifts_a_body() -> None:
    frame = Frame((1.0, 2.0, 3.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    turned = mesh.solid(Box((0, 0, 0), (4, 2, 1))).transformed(frame)
    assert np.allclose(turned.bounds, ((-1.0, 2.0, 3.0), (1.0, 6.0, 4.0)))


def test_rays_meet_each_wall_of_a_ring_with_its_normal() -> None:
    ring = mesh.solid(Ring(7.0, 9.0, 0.0, 10.0))
    through, beside, up = ring.rays(
        [(-20.0, 0.01, 5.0), (-20.0, 15.0, 5.0), (8.0, 0.01, -2.0)],
        [(2.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)],
    )
    assert [h.distance for h in through] == pytest.approx([11.0, 13.0, 27.0, 29.0], abs=ring.chord)
    assert [round(h.normal[0]) for h in through] == [-1, 1, -1, 1]
    assert beside == ()
    assert [h.distance for h in up] == pytest.approx([2.0, 12.0])
    (short,) = ring.rays([(-20.0, 0.01, 5.0)], [(1.0, 0.0, 0.0)], reach=12.0)
    assert [h.distance for h in short] == pytest.approx([11.0], abs=ring.chord)


def test_inward_rays_measure_a_wall() -> None:
    wall = mesh.solid(Ring(17.0, 18.6, 0.0, 30.0))
    clocks = np.radians(np.arange(0.0, 360.0, 7.0))
    out = np.column_stack([np.cos(clocks), np.sin(clocks), 0.0 * clocks])
    hits = wall.rays(out * 20.0 + [0.0, 0.0, 11.0], -out, reach=5.0)
    measured = [h[1].distance - h[0].distance for h in hits]
    assert np.allclose(measured, 1.6, atol=wall.chord)


@pytest.mark.parametrize("clock", [0.0, 17.0, 45.0, 90.0, 200.0])
@pytest.mark.parametrize("expected", [0.3, 0.05, 2.0])
def test_lateral_play_of_a_round_part_in_a_bore_is_the_difference_of_radii(
    clock: float, expected: float
) -> None:
    seat = mesh.solid(Ring(BORE, 12.0, 0.0, 30.0))
    cell = mesh.solid(Cylinder(CELL, 1.0, 29.0))
    way = (math.cos(math.radians(clock)), math.sin(math.radians(clock)), 0.0)
    assert seat.play(cell, way, expected) == pytest.approx(BORE - CELL, abs=PLAY_TOLERANCE)


def test_play_of_a_round_part_that_lies_off_centre() -> None:
    # From (e, 0) inside a clearance circle of radius c: c - e and c + e along x, sqrt(c^2 - e^2) across.
    c, e = BORE - CELL, 0.18
    seat = mesh.solid(Ring(BORE, 12.0, 0.0, 30.0))
    cell = mesh.solid(Cylinder(CELL, 1.0, 29.0, shifted(e)))
    for way, travel in (((1, 0, 0), c - e), ((-1, 0, 0), c + e), ((0, 1, 0), math.sqrt(c * c - e * e))):
        assert seat.play(cell, way, travel) == pytest.approx(travel, abs=PLAY_TOLERANCE)


def test_play_of_flat_faces_is_exact() -> None:
    wall = mesh.solid(Box((10.0, -5.0, -5.0), (12.0, 5.0, 5.0)))
    block = mesh.solid(Box((-1.0, -1.0, -1.0), (1.0, 1.0, 1.0)))
    # The 4 mm2 face may enter by 1e-3 mm3 / 4 mm2 before that counts.
    assert wall.play(block, (2.0, 0.0, 0.0), 9.0, 20.0) == pytest.approx(9.0, abs=1.5e-3)
    assert wall.play(block, (2.0, 0.0, 0.0), 1.0, 20.0) == pytest.approx(9.0, abs=1.5e-3)
    assert wall.play(block, (1.0, 0.0, 0.0), 9.004, 20.0, resolution=0.02) == pytest.approx(9.004)


def test_no_wall_is_too_thin_to_stop_a_part() -> None:
    foil = mesh.solid(Box((3.0, -5.0, -5.0), (3.03, 5.0, 5.0)))
    chip = mesh.solid(Box((-0.02, -1.0, -1.0), (0.0, 1.0, 1.0)))
    for expected in (0.0, 3.0, 4.0, 8.0):
        assert foil.play(chip, (1.0, 0.0, 0.0), expected, 10.0) == pytest.approx(3.0, abs=1.5e-3)


def test_a_part_that_isnt_convex_is_moved_as_it_is() -> None:
    # A ring round a post: its hull would overlap the post from the start.
    post = mesh.solid(Cylinder(4.0, 0.0, 20.0))
    ring = mesh.solid(Ring(5.0, 6.0, 8.0, 10.0))
    assert not ring.is_convex
    for expected in (1.0, 0.2, 3.0):
        assert post.play(ring, (0.0, 1.0, 0.0), expected) == pytest.approx(1.0, abs=PLAY_TOLERANCE)
    assert post.play(ring, (0.0, 0.0, 1.0), 0.0, 3.0) == 3.0


def test_a_free_way_returns_the_limit_and_an_overlap_at_the_start_zero() -> None:
    wall, block = cube(10.0, 12.0), cube(0.0, 1.0)
    assert wall.play(block, (-1.0, 0.0, 0.0), 1.0, 6.0) == 6.0
    assert wall.play(wall.moved((0.5, 0.0, 0.0)), (1.0, 0.0, 0.0), 1.0) == 0.0


def test_a_body_from_arrays_must_be_closed_and_face_outward() -> None:
    vertices, faces = cube(0.0, 2.0).arrays()
    assert mesh.from_arrays(vertices, faces, 0.01).volume == pytest.approx(8.0)
    with pytest.raises(GeometryError, match="envelope"):
        mesh.from_arrays(vertices, faces[:-1], 0.01, "envelope")
    with pytest.raises(GeometryError, match="inward"):
        mesh.from_arrays(vertices, faces[:, ::-1], 0.01)
