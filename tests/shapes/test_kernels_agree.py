"""The exact kernel against closed forms and against the mesh kernel, on fixed and on random recipes."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.shapes import mesh
from chassis_gen.shapes.agreement import Agreement, compare, cut_stations, without_patterns
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.frame import clocked, radial, reversed_axis, shifted
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
from chassis_gen.shapes.recipe import Recipe, Step, add, cut

brep = pytest.importorskip("chassis_gen.shapes.brep")

CHORD = mesh.DEFAULT_CHORD
SQUARE = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
WINDOW = ((1.0, 1.0), (3.0, 1.0), (3.0, 3.0), (1.0, 3.0))

# (primitive, volume mm3) from the mensuration formulas of solid geometry
CLOSED_FORMS: list[tuple[Primitive, float]] = [
    (Box((-1.0, 0.0, 2.0), (2.0, 5.0, 9.0)), 105.0),
    (Cylinder(9.5, -2.0, 6.0), math.pi * 9.5**2 * 8.0),
    (Cone(5.0, 2.0, 1.0, 4.0), math.pi * (25.0 + 10.0 + 4.0)),
    (Cone(0.0, 3.0, 0.0, 4.0), math.pi * 12.0),
    (Ring(7.0, 9.0, 0.0, 5.0), math.pi * 160.0),
    (TubeSegment(7.0, 9.0, 0.0, 5.0, 13.0, 133.0), math.pi * 160.0 / 3.0),
    (TubeSegment(0.0, 9.0, 0.0, 5.0, -140.0, 140.0), math.pi * 405.0 * 280.0 / 360.0),
    (Prism(SQUARE, 0.0, 3.0, (WINDOW,)), 60.0),
    (Hull(((0, 0, 0), (3, 0, 0), (0, 3, 0), (0, 0, 3), (1, 1, 0))), 4.5),
    (Within(Cylinder(3.0, -5.0, 5.0), Cylinder(3.0, -5.0, 5.0, radial(0.0, 0.0))), 16.0 * 27.0 / 3.0),
    (Pattern(Box((0, 0, 0), (2, 1, 1)), (shifted(0.0), shifted(1.0), shifted(2.0))), 4.0),
]


@pytest.mark.parametrize("case", CLOSED_FORMS, ids=lambda c: type(c[0]).__name__)
def test_the_exact_kernel_meets_the_closed_forms_and_the_mesh(case: tuple[Primitive, float]) -> None:
    primitive, volume = case
    moved = placed(primitive, reversed_axis(radial(33.0, 7.0, 3.0)))
    shape = brep.solid(moved)
    assert shape.isValid()
    assert brep.solid_count(shape) == 1
    assert brep.volume(shape) == pytest.approx(volume, rel=1e-6)
    body = mesh.solid(moved)
    assert np.allclose(brep.bounds(shape), body.bounds, atol=CHORD)
    assert abs(body.volume - brep.volume(shape)) <= 0.03 * CHORD * body.area + 1e-6


def test_bounds_are_exact_whatever_mesh_the_shape_carries() -> None:
    shape = brep.solid(Cylinder(16.0, 0.0, 5.0))
    shape.tessellate(2.0)
    assert np.allclose(brep.bounds(shape), ((-16, -16, 0), (16, 16, 5)), atol=1e-6)


def test_section_of_a_ring_in_any_plane() -> None:
    frame = clocked(33.0, 4.0) @ radial(10.0, 3.0, 2.0)
    shape = brep.solid(Ring(7.0, 9.0, 10.0, 20.0, frame))
    across = brep.section_areas(shape, frame, [12.0, 25.0, 15.0])
    assert across == pytest.approx((math.pi * 32.0, 0.0, math.pi * 32.0), rel=1e-9)
    assert brep.section_areas(shape, frame @ radial(0.0, 15.0), [0.0]) == pytest.approx((40.0,), rel=1e-9)


def test_a_tessellation_is_welded_closed_and_inscribed() -> None:
    shape = brep.make(TUBE)
    vertices, faces = brep.stl_arrays(shape, 0.01)
    body = mesh.from_arrays(vertices, faces, 0.01)
    assert len(body.components()) == 1
    # A wall's facets stand off by at most the tolerance: |dV| <= tolerance x area.
    assert abs(body.volume - brep.volume(shape)) <= 0.01 * body.area
    assert brep.stl_arrays(shape, 0.2)[1].shape[0] < len(faces)


def test_cuts_that_remove_nothing_are_named() -> None:
    block = add("block", Box((0, 0, 0), (10, 10, 10)))
    with pytest.raises(GeometryError, match=r"slot: this cut removes nothing"):
        brep.make(Recipe("r", block + cut("slot", Box((20, 0, 0), (21, 1, 1)))))
    tube = add("tube", Ring(7.0, 9.0, 0.0, 10.0))
    with pytest.raises(GeometryError, match=r"bore: this cut removes nothing"):
        brep.make(Recipe("r", tube + cut("bore", Cylinder(3.0, 1.0, 8.0))))
    with pytest.raises(GeometryError, match=r"seat: cylinder: its radius"):
        brep.make(Recipe("r", block + cut("seat", Cylinder(0.0, 1.0, 8.0))))
    with pytest.raises(GeometryError, match=r"all: nothing is left"):
        brep.make(Recipe("r", block + cut("all", Box((-1, -1, -1), (11, 11, 11)))))


TUBE = Recipe(
    "tube",
    add("tube", Ring(17.0, 20.0, 0.0, 50.0), Box((-3.0, -18.5, 0.5), (3.0, 18.5, 49.5)))
    + cut("seat", Cylinder(9.0, 20.0, 51.0))
    + cut("button hole", Cylinder(1.5, -6.0, 6.0, radial(40.0, 9.0, 18.5)))
    + cut("lane", TubeSegment(18.5, 21.0, -1.0, 51.0, 200.0, 230.0)),
)


def agreed(recipe: Recipe, made_of: Recipe | None = None) -> Agreement:
    """Compare a recipe's exact solid with the mesh of the same, or of another, recipe."""
    body = mesh.make(made_of or recipe, CHORD)
    return compare(recipe, body, brep.make(recipe), CHORD, cut_stations(recipe, CHORD))


def test_a_section_like_recipe_agrees() -> None:
    found = agreed(TUBE)
    assert found.ok, "\n".join(found.rows())
    assert len(found.figures) == 1 + 6 + 2
    assert all(row.startswith("tube: ") and row.endswith("agrees") for row in found.rows())


def test_a_plane_goes_through_the_middle_half_of_each_cut() -> None:
    """Of the lane, 0 to 50, that is 12.5 to 37.5; of the hole, in walls and web, 8.25 to 9.75.

    The seat cuts the web from 20 to 49.5, of which that is 27.375 to 42.125.
    """
    assert cut_stations(TUBE, CHORD) == pytest.approx((9.75, 37.5), abs=0.01)


def test_a_hull_with_corners_in_line_is_its_box_in_both_kernels() -> None:
    """Middles of edges and faces, most of them a rounding off, leave facets without height; 2 x 3 x 5 mm3 stays."""
    turned = radial(33.0, 7.0, 11.0)
    grid = [(x, y, z) for x in (0.0, 1.0, 2.0) for y in (0.0, 1.5, 3.0) for z in (0.0, 2.5, 5.0)]
    shape = brep.solid(Hull(tuple(turned.point(p) for p in grid)))
    assert shape.isValid()
    assert len(shape.Faces()) == 6
    assert brep.volume(shape) == pytest.approx(30.0, rel=1e-6)


def test_a_cut_in_a_room_that_is_open_already_changes_nothing() -> None:
    within = cut("way", Box((-2.0, -2.0, 25.0), (2.0, 2.0, 30.0)), must_touch=False)
    assert brep.volume(brep.make(TUBE.then(within))) == pytest.approx(brep.volume(brep.make(TUBE)), rel=1e-12)
    only_air = Recipe(
        "r",
        add("block", Box((0, 0, 0), (1, 2, 3)))
        + cut("way", placed(Box((0, 0, 0), (1, 1, 1)), shifted(9.0)), must_touch=False),
    )
    assert brep.volume(brep.make(only_air)) == pytest.approx(6.0)


@pytest.mark.parametrize("label", ["seat", "button hole", "lane"])
def test_a_forgotten_cut_shows(label: str) -> None:
    less = replace(TUBE, steps=tuple(s for s in TUBE.steps if s.label != label))
    found = agreed(TUBE, less)
    assert not found.ok
    assert any(not f.ok and f.what.startswith("section") for f in found.figures)


def test_a_shifted_cut_shows_in_a_section_although_the_volume_agrees() -> None:
    hole = TUBE.steps[3]
    moved = Step("cut", hole.label, placed(hole.solid, shifted(z=9.0)))
    found = agreed(TUBE, replace(TUBE, steps=(*TUBE.steps[:3], moved, *TUBE.steps[4:])))
    assert found.figures[0].ok
    assert not found.ok


def test_patterns_can_be_left_out() -> None:
    knurl = cut("grille", Pattern(Cylinder(0.5, -1.0, 51.0), (shifted(18.0), shifted(-18.0))))
    inside = cut(
        "text", Within(Ring(19.0, 21.0, 0.0, 50.0), Pattern(Box((0, 0, 0), (30, 2, 2)), (shifted(),)))
    )
    assert without_patterns(TUBE.then(knurl + inside)) == TUBE
    assert without_patterns(TUBE) == TUBE


def on_grid(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths on the plan's grid of 2^-14 mm."""
    return st.integers(int(low * 2**14), int(high * 2**14)).map(lambda n: n / 2**14)


BORE = 18.0
ADDED = st.one_of(
    st.builds(lambda z, t: Cylinder(BORE - 0.5, z, z + t), on_grid(2, 30), on_grid(1, 3)),
    st.builds(
        lambda r, z, a, w: TubeSegment(r, BORE - 0.5, z, z + 2.0, a, a + w),
        on_grid(3, 8),
        on_grid(2, 30),
        on_grid(0, 360),
        on_grid(90, 300),
    ),
    st.builds(lambda r, z: Cone(BORE - 0.4, r, z, z + 3.0), on_grid(3, 9), on_grid(2, 30)),
)
CUTS = st.one_of(
    st.builds(
        lambda r, a, z: Cylinder(r, -6.0, 6.0, radial(a, z, BORE)),
        on_grid(1, 3),
        on_grid(0, 360),
        on_grid(5, 30),
    ),
    st.builds(
        lambda r, z, a, w: TubeSegment(r, r + 5.3, z, z + 4.0, a, a + w),
        on_grid(4, 8),
        on_grid(2, 30),
        on_grid(0, 360),
        on_grid(10, 90),
    ),
    st.builds(lambda r, z: Cylinder(r, z, 37.0), on_grid(3, 8), on_grid(5, 30)),
    st.builds(
        lambda s, a, z: Within(
            Box((-s, -s, -9.0), (s, s, 9.0), radial(a, z, BORE)), Ring(BORE - 1, BORE + 1, 0.0, 36.0)
        ),
        on_grid(1, 4),
        on_grid(0, 360),
        on_grid(5, 30),
    ),
)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(added=st.lists(ADDED, min_size=1, max_size=3), cuts=st.lists(CUTS, min_size=1, max_size=4))
def test_random_recipes_agree(added: list[Primitive], cuts: list[Primitive]) -> None:
    shell = add("shell", Ring(BORE - 2.0, BORE, 0.0, 36.0), Box((-3.0, -17.0, 0.5), (2.5, 17.0, 35.5)))
    recipe = Recipe("random", shell + add("rib", *added) + cut("cut", *cuts, must_touch=False))
    found = agreed(recipe)
    assert found.ok, "\n".join(found.rows())
