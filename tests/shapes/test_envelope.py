"""A part's envelope: convex pieces that are never smaller than the model."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.problems import InputError
from chassis_gen.shapes.envelope import MOST_PIECES, Envelope, envelope_of
from chassis_gen.shapes.mesh import from_arrays, solid
from chassis_gen.shapes.models import Model, read_model_bytes
from chassis_gen.shapes.primitives import Box, Cylinder, Hull, Ring
from tests.shapes.model_files import BOARD, joined, shipped, stacked


def taken(*solids: object, **flags: object) -> Envelope:
    points, faces = joined(*solids)  # type: ignore[arg-type]
    return envelope_of(Model(points, faces, 1.0), 1.0, "part", **flags)  # type: ignore[arg-type]


def left_outside(envelope: Envelope) -> float:
    """Return the volume of the model outside the union of its pieces, by a boolean of our own."""
    model = from_arrays(envelope.vertices, envelope.faces, 0.01)
    hulls = [solid(Hull(tuple(map(tuple, p.tolist())))) for p in envelope.pieces]
    return model.cut(*hulls).volume


def test_a_board_with_a_component_is_two_boxes() -> None:
    e = taken(*BOARD)
    assert len(e.pieces) == 2
    assert e.waste < 0.5
    assert left_outside(e) <= 1e-6 * e.volume
    assert e.low.round(2).tolist() == [-10.0, -15.0, 0.0]
    assert e.high.round(2).tolist() == [10.0, 15.0, 5.5]


def test_a_ring_isnt_filled() -> None:
    e = taken(Ring(8.0, 12.0, 0.0, 5.0))
    ring, disc = math.pi * (12**2 - 8**2) * 5, math.pi * 12**2 * 5
    assert e.volume == pytest.approx(ring, rel=1e-3)
    assert e.volume + e.waste < ring + 0.5 * (disc - ring)
    assert left_outside(e) <= 1e-6 * e.volume


@settings(max_examples=12, deadline=None)
@given(
    st.lists(
        st.tuples(*[st.floats(0, 20) for _ in range(3)], *[st.floats(2, 15) for _ in range(3)]),
        min_size=1,
        max_size=4,
    )
)
def test_the_pieces_are_never_smaller_than_the_model(boxes: list[tuple[float, ...]]) -> None:
    bars = [Box((x, y, z), (x + a, y + b, z + c)) for x, y, z, a, b, c in boxes]
    e = taken(*bars, all_shells=True)
    assert left_outside(e) <= 1e-6 * e.volume
    assert len(e.pieces) <= MOST_PIECES
    assert (e.low <= e.vertices.min(axis=0)).all()
    assert (e.high >= e.vertices.max(axis=0)).all()


def test_a_model_from_a_package_is_covered() -> None:
    """object.stl ships with gmsh's examples."""
    model = read_model_bytes(shipped("object.stl").read_bytes(), ".stl", "object.stl")
    e = envelope_of(model, 1.0, "object.stl")
    assert left_outside(e) <= 1e-6 * e.volume
    assert e.waste < 0.15 * e.volume


def test_the_part_stands_on_its_largest_face_and_lies_along_its_longest_side() -> None:
    e = taken(Box((0, 0, 0), (3, 40, 20)), Box((2, 10, 5), (9, 16, 12)))
    size = (e.high - e.low).round(2).tolist()
    assert size == [20.0, 40.0, 9.0]
    # the component stands up from the board, above its underside at z = 0
    assert e.low[2] == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize("round_", ["torus", "sphere"])
def test_a_body_that_is_round_all_over_stays_as_it_was_drawn(round_: str) -> None:
    """A ring of 20 mm from middle to middle, 6 mm thick: no facet of it is what it rests on."""
    if round_ == "sphere":
        made = manifold3d.Manifold.sphere(9.0, 48)
        size = [18.0, 18.0, 18.0]
    else:
        circle = manifold3d.CrossSection.circle(3.0, 32).translate((10.0, 0.0))
        made = manifold3d.Manifold.revolve(circle, 64)
        size = [26.0, 26.0, 6.0]
    mesh = made.to_mesh64()
    model = Model(np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, np.int64), 1.0)
    e = envelope_of(model, 1.0, "part")
    assert (e.high - e.low).tolist() == pytest.approx(size, abs=0.02)
    assert (e.turn[2].tolist(), e.stands_on) == ([0.0, 0.0, 1.0], 0.0)


def test_flags_turn_the_part() -> None:
    bar = Box((0, 0, 0), (3, 40, 20))
    e = taken(bar, up="+y", along="-x")
    assert (e.high - e.low).round(2).tolist() == [20.0, 3.0, 40.0]
    with pytest.raises(InputError, match="lie along one axis"):
        taken(bar, up="+y", along="-y")
    with pytest.raises(InputError, match="no axis of the model"):
        taken(bar, up="y")


def test_shells_that_overlap_are_one_part() -> None:
    points, faces = stacked(*BOARD)
    e = envelope_of(Model(points, faces, 1.0), 1.0, "part")
    assert e.volume == pytest.approx(20 * 30 * 1.5 + 8 * 6 * 4)


def test_a_void_inside_counts_as_part() -> None:
    points, faces = joined(Box((0, 0, 0), (10, 10, 10)))
    inner, turned = joined(Box((3, 3, 3), (6, 6, 6)))
    hollow = np.vstack([points, inner]), np.vstack([faces, turned[:, ::-1] + len(points)])
    assert envelope_of(Model(*hollow, 1.0), 1.0, "part").volume == pytest.approx(1000.0)


def test_a_round_body_keeps_few_corners() -> None:
    e = taken(Cylinder(8.0, 0.0, 20.0))
    assert sum(len(p) for p in e.pieces) <= 200
    assert e.waste < 0.02 * e.volume
    assert left_outside(e) <= 1e-6 * e.volume
