"""Recipes in the mesh kernel: order of steps, cuts that must touch, and equal bytes in every process."""

import math
import os
import subprocess
import sys

import pytest

from chassis_gen.shapes import mesh
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.frame import radial
from chassis_gen.shapes.primitives import Box, Cylinder, Ring, Within
from chassis_gen.shapes.recipe import Recipe, add, cut
from tests.helpers import assert_sound

BLOCK = add("block", Box((0.0, 0.0, 0.0), (10.0, 10.0, 10.0)))


def test_later_steps_act_on_the_result_of_earlier_ones() -> None:
    hole = Box((4.0, 4.0, -1.0), (6.0, 6.0, 11.0))
    plug = add("plug", Box((3.5, 3.5, 4.0), (6.5, 6.5, 5.0)))
    assert_sound(mesh.make(Recipe("r", BLOCK + cut("hole", hole) + plug)), 1000.0 - 40.0 + 4.0)
    assert_sound(mesh.make(Recipe("r", BLOCK + plug + cut("hole", hole))), 1000.0 - 40.0, genus=1)


def test_radial_holes_raise_the_genus_and_keep_the_volume_bracketed() -> None:
    tube = add("tube", Ring(18.0, 20.0, 0.0, 60.0))
    holes = cut("hole", *(Cylinder(2.0, 15.0, 25.0, radial(a, 30.0)) for a in range(3, 363, 60)))
    body = mesh.make(Recipe("r", tube + holes))
    # Each hole takes at least pi r^2 x wall and, being curved into the wall, at most a tenth more.
    full, hole = math.pi * 76.0 * 60.0, math.pi * 4.0 * 2.0
    assert_sound(body, (full - 6 * 1.1 * hole, full - 6 * hole), genus=1 + 6)


@pytest.mark.parametrize(
    "miss",
    [
        Box((20.0, 0.0, 0.0), (21.0, 1.0, 1.0)),
        Box((10.0, 0.0, 0.0), (11.0, 1.0, 1.0)),
        Cylinder(2.0, -1.0, 11.0, radial(0.0, 0.0)),
    ],
    ids=["far away", "flush", "inside the bore"],
)
def test_a_cut_that_removes_nothing_is_named(miss: Box | Cylinder) -> None:
    body = BLOCK if isinstance(miss, Box) else add("tube", Ring(18.0, 20.0, -30.0, 30.0))
    hit = cut("good", Box((1.0, 1.0, 5.0), (19.0, 2.0, 8.0)))
    with pytest.raises(GeometryError) as caught:
        mesh.make(Recipe("r", body + hit + cut("button hole", miss)))
    assert caught.value.label == "button hole"
    allowed = Recipe("r", body + hit + cut("button hole", miss, must_touch=False))
    assert mesh.make(allowed).volume == pytest.approx(mesh.make(Recipe("r", body + hit)).volume)


def test_a_cut_inside_its_neighbour_still_counts_as_touching() -> None:
    slot = Box((2.0, 2.0, -1.0), (8.0, 8.0, 11.0))
    inner = Within(Box((3.0, 3.0, 1.0), (7.0, 7.0, 9.0)), Cylinder(50.0, 0.0, 8.0))
    body = mesh.make(Recipe("r", BLOCK + cut("slot", slot, slot) + cut("inner", inner)))
    assert_sound(body, 1000.0 - 360.0, genus=1)


def test_errors_carry_the_steps_label() -> None:
    with pytest.raises(GeometryError, match=r"cell seat: cylinder: its radius"):
        mesh.make(Recipe("r", BLOCK + cut("cell seat", Cylinder(-1.0, 0.0, 5.0))))
    with pytest.raises(GeometryError, match=r"all: nothing is left"):
        mesh.make(Recipe("r", BLOCK + cut("all", Box((-1, -1, -1), (11, 11, 11)))))
    with pytest.raises(GeometryError, match=r"early: there is nothing"):
        mesh.make(Recipe("r", cut("early", Cylinder(1.0, 0.0, 5.0)) + BLOCK))
    with pytest.raises(GeometryError, match=r"empty: the recipe has no steps"):
        mesh.make(Recipe("empty", ()))


def test_separate_added_solids_are_left_to_the_checks() -> None:
    body = mesh.make(Recipe("r", BLOCK + add("other", Box((20, 0, 0), (21, 1, 1)))))
    assert len(body.components()) == 2


DIGEST = """
import hashlib
from chassis_gen.shapes import mesh
from chassis_gen.shapes.frame import radial, shifted
from chassis_gen.shapes.primitives import Box, Cylinder, Pattern, Ring, TubeSegment
from chassis_gen.shapes.recipe import Recipe, add, cut
steps = add("tube", Ring(18.0, 20.0, 0.0, 60.0), Box((-3.0, -19.0, 0.5), (3.0, 19.0, 59.5)))
steps += add("rib", *(TubeSegment(9.0, 19.0, z, z + 2.0, 5.0, 200.0 + z) for z in range(3, 50, 9)))
clocks = range(0, 360, 40)
steps += cut("hole", *(Cylinder(1.5, -5.0, 5.0, radial(a + 3.0, 30.0 + a / 90, 19.0)) for a in clocks))
places = tuple(shifted(x * 2.5, 1.0) for x in range(-3, 4))
steps += cut("grille", Pattern(Cylinder(1.0, -1.0, 61.0), places))
vertices, faces = mesh.make(Recipe("r", steps)).arrays()
print(len(faces), hashlib.sha256(vertices.tobytes() + faces.tobytes()).hexdigest())
"""


def test_two_processes_make_the_same_arrays() -> None:
    runs = [
        subprocess.run(
            [sys.executable, "-c", DIGEST],
            capture_output=True,
            text=True,
            check=True,
            env=os.environ | {"PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    ]
    assert runs[0] == runs[1]
    assert int(runs[0].split()[0]) > 1000


def test_a_second_make_in_one_process_gives_the_same_arrays() -> None:
    recipe = Recipe(
        "r", BLOCK + cut("hole", Cylinder(2.0, -1.0, 11.0), Cylinder(1.0, 0.0, 20.0, radial(45, 5)))
    )
    first, second = (mesh.make(recipe).arrays() for _ in range(2))
    assert all(a.tobytes() == b.tobytes() for a, b in zip(first, second, strict=True))


def test_the_mesh_kernel_loads_no_other_heavy_library() -> None:
    heavy = "{'cadquery', 'OCP', 'trimesh', 'scipy', 'shapely'}"
    modules = "chassis_gen.shapes.mesh, chassis_gen.shapes.agreement"
    code = f"import sys, {modules}; print({heavy} & set(sys.modules))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "set()"
