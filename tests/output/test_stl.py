import io
import math
import struct
from types import SimpleNamespace

import numpy as np
import pytest
import trimesh

from chassis_gen.output.stl import check_written, stl_bytes, stl_corners, with_written_meshes
from chassis_gen.shapes.body import Body, from_arrays
from chassis_gen.shapes.frame import radial
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Box, Cylinder
from tests.output.support import result


@pytest.fixture(scope="module")
def chassis() -> Body:
    made = result().solids
    assert made is not None
    return made.pieces["chassis"]


def test_another_reader_finds_one_closed_solid_of_the_same_volume(chassis: Body) -> None:
    # trimesh as an independent reader.
    read = trimesh.load(io.BytesIO(stl_bytes(chassis, "chassis")), file_type="stl")
    assert read.is_watertight
    assert read.is_winding_consistent
    assert read.body_count == 1
    assert read.volume == pytest.approx(chassis.volume, rel=1e-6)
    assert np.allclose(read.bounds, chassis.bounds, atol=1e-5)


def test_the_file_is_laid_out_as_binary_stl(chassis: Body) -> None:
    # The format as 3D Systems published it in 1989: 80 bytes, a count, 50 bytes a facet; from memory.
    data = stl_bytes(chassis, "chassis")
    (count,) = struct.unpack_from("<I", data, 80)
    assert len(data) == 84 + 50 * count
    assert data[:80].rstrip() == b"chassis-gen, mm: chassis"
    assert not data.startswith(b"solid")


def test_normals_point_out_and_have_length_one() -> None:
    data = stl_bytes(solid(Box((0.0, 0.0, 0.0), (1.0, 2.0, 3.0))), "box")
    facets = np.frombuffer(data, np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]), offset=84)
    outward = facets["c"].mean(axis=1) - np.array([0.5, 1.0, 1.5])
    assert np.allclose(np.linalg.norm(facets["n"], axis=1), 1.0)
    assert ((facets["n"] * outward).sum(axis=1) > 0).all()


def test_a_sound_solid_passes_its_own_check(chassis: Body) -> None:
    assert check_written(stl_bytes(chassis, "chassis"), chassis) == ()


def test_two_blocks_that_meet_in_an_edge_are_found_with_the_place() -> None:
    blocks = solid(Box((0.0, 0.0, 0.0), (5.0, 5.0, 10.0))).union(
        solid(Box((5.0, 5.0, 0.0), (9.0, 9.0, 10.0)))
    )
    (finding,) = check_written(stl_bytes(blocks, "blocks"), blocks, "blocks")
    assert (finding.level, finding.code, finding.where) == ("error", "written-mesh-open", "blocks")
    # The shared edge stands at x = y = 5: clock 45, and 5 sqrt 2 from the axis.
    assert finding.numbers["clock_deg"] == 45.0
    assert finding.numbers["radius"] == pytest.approx(7.071, abs=1e-3)
    assert finding.numbers["edges"] == 1.0


def test_a_fold_of_no_thickness_along_an_edge_is_left_out_of_the_file() -> None:
    # What a union leaves where the facets of two round pieces coincide: the edge from 0 to 1 is split on both
    # sides, at two vertices (4, 5) in one place, and two facets without area lie back to back between them.
    points = np.array([[0, 0, 0], [6, 0, 0], [0, 6, 0], [0, 0, 6], [2, 0, 0], [2, 0, 0]], dtype=float)
    faces = np.array([[0, 2, 4], [4, 2, 1], [0, 5, 3], [5, 1, 3], [0, 3, 2], [1, 2, 3], [0, 4, 1], [0, 1, 5]])
    folded = SimpleNamespace(arrays=lambda: (points, faces), volume=36.0, area=54.0 + 18.0 * math.sqrt(3.0))
    data = stl_bytes(folded, "fold")  # type: ignore[arg-type]
    assert check_written(data, folded) == ()  # type: ignore[arg-type]
    assert len(stl_corners(data)) == 6
    read = trimesh.load(io.BytesIO(data), file_type="stl")
    assert read.is_watertight
    assert read.volume == pytest.approx(36.0)


def test_a_missing_facet_is_found(chassis: Body) -> None:
    data = stl_bytes(chassis, "chassis")
    (finding,) = check_written(data[:-50], chassis, "chassis")
    assert finding.numbers["edges"] == 3.0


def test_a_file_of_another_solid_is_found(chassis: Body) -> None:
    smaller = chassis.cut(solid(Box((-1.0, -30.0, 62.0), (1.0, 30.0, 63.0))))
    (finding,) = check_written(stl_bytes(smaller, "chassis"), chassis, "chassis")
    assert finding.numbers["made_mm3"] - finding.numbers["written_mm3"] > 1.0


def test_facets_that_vanish_in_float32_leave_the_mesh_closed() -> None:
    # A step of 1e-7 mm at station 205, where neighbouring float32 figures lie 1.5e-5 mm apart.
    box = solid(Box((0.0, 0.0, 200.0), (10.0, 10.0, 210.0))).cut(
        solid(Box((4.0, -1.0, 205.0), (6.0, 11.0, 211.0))),
        solid(Box((5.0, -1.0, 204.9999999), (7.0, 11.0, 211.0))),
    )
    data = stl_bytes(box, "box")
    assert check_written(data, box) == ()
    corners = stl_corners(data)
    assert 0 < len(corners) < len(box.arrays()[1])
    assert not (corners[:, 0] == corners[:, 1]).all(axis=1).any()
    assert trimesh.load(io.BytesIO(data), file_type="stl").is_watertight


def test_the_bytes_depend_on_the_shape_and_not_on_the_order_of_its_facets() -> None:
    body = solid(Cylinder(4.0, 0.0, 9.0, radial(30.0, 50.0, 10.0)))
    points, faces = body.arrays()
    rng = np.random.default_rng(1)
    order = rng.permutation(len(points))
    back = np.argsort(order)
    shuffled = from_arrays(points[order], np.roll(back[faces], 1, axis=1)[rng.permutation(len(faces))], 0.01)
    assert stl_bytes(shuffled, "bar") == stl_bytes(body, "bar")


def test_what_reading_back_shows_joins_the_findings() -> None:
    checked, meshes = with_written_meshes(result())
    assert set(meshes) == {"chassis", "cap"}
    assert checked.findings == result().findings
