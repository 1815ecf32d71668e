"""Letters on their faces: volume, way of reading, room above them, and both kernels."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
import trimesh

from chassis_gen.lettering.outline import text_outline
from chassis_gen.lettering.shaping import default_font
from chassis_gen.output.stl import stl_bytes
from chassis_gen.plan.letter_faces import (
    RoundFace,
    TextFace,
    end_face,
    engraved,
    flat_face,
    letters_on,
    raised,
    text_box,
)
from chassis_gen.plan.model import OVERLAP
from chassis_gen.shapes import mesh
from chassis_gen.shapes.body import Body, from_arrays
from chassis_gen.shapes.frame import clocked
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Recipe, Step, add, cut
from tests.helpers import assert_sound

RADIUS, LENGTH, FLAT, DEPTH = 19.0, 40.0, 17.0, 0.6
BAR = (
    *add("bar", Cylinder(RADIUS, 0.0, LENGTH)),
    *cut("flat", Box((FLAT, -40, -1), (40, 40, LENGTH + 1), clocked(270))),
)
PLAIN = mesh.make(Recipe("bar", BAR))
ROUND = RoundFace(90.0, 20.0, RADIUS, RADIUS)
FACES: dict[str, TextFace] = {
    "outside": ROUND,
    "flat": flat_face(270.0, 20.0, FLAT),
    "near": end_face(0.0, 90.0, 0.0, False),
    "far": end_face(LENGTH, 90.0, 0.0, True),
}


def steps(text: str, face: TextFace, direction: str = "round", size: float = 8.0) -> tuple[Step, ...]:
    outline = text_outline(default_font(), text)
    bend = isinstance(face, RoundFace) and direction.startswith("round")
    letters = letters_on(outline, size / outline.capital, False, False, direction, bend)
    return cut(text, *engraved(face, letters, DEPTH))


def reread(body: Body) -> Body:
    """Return a body as another library reads its STL file."""
    read = trimesh.load(io.BytesIO(stl_bytes(body, "bar")), file_type="stl")
    return from_arrays(read.vertices, read.faces, body.chord)


@pytest.mark.parametrize("face", ["flat", "near", "far"])
def test_letters_on_a_plane_take_away_their_area_times_their_depth(face: str) -> None:
    made = mesh.make(Recipe("bar", (*BAR, *steps("F8", FACES[face], size=6.0))))
    outline = text_outline(default_font(), "F8")
    wanted = outline.area * (6.0 / outline.capital) ** 2 * DEPTH
    # corners lie on a grid of 2^-14 mm
    assert PLAIN.volume - made.volume == pytest.approx(wanted, rel=2e-4)


@pytest.mark.parametrize("direction", ["along", "round"])
def test_letters_on_the_round_surface_take_away_what_lies_between_two_radii(direction: str) -> None:
    """A plane letter within a ring is at least as deep as the ring is thick, and at most by the slope's secant."""
    made = mesh.make(Recipe("bar", (*BAR, *steps("F", ROUND, direction))))
    outline = text_outline(default_font(), "F")
    scale = 8.0 / outline.capital
    plane = outline.area * scale**2 * DEPTH
    half = 4.0 if direction == "along" else (outline.high[0] - outline.low[0]) / 2 * scale
    secant = 1.0 / math.sqrt(1.0 - (half / (RADIUS - DEPTH)) ** 2)
    chord_share = 2 * 0.01 / DEPTH
    assert plane * (1 - chord_share) <= PLAIN.volume - made.volume <= plane * secant * (1 + chord_share)


# where a reader stands, what is right for them, what is up: by hand from the frame's axes
READERS = {
    ("outside", "round"): ((0, 60, 20), (-1, 0, 0), (0, 0, 1)),
    ("outside", "round_back"): ((0, 60, 20), (1, 0, 0), (0, 0, -1)),
    ("outside", "along"): ((0, 60, 20), (0, 0, 1), (1, 0, 0)),
    ("outside", "along_back"): ((0, 60, 20), (0, 0, -1), (-1, 0, 0)),
    ("flat", "along"): ((0, -60, 20), (0, 0, 1), (-1, 0, 0)),
    ("near", "round"): ((0, 0, -60), (-1, 0, 0), (0, 1, 0)),
    ("far", "round"): ((0, 0, 100), (1, 0, 0), (0, 1, 0)),
}


@pytest.mark.parametrize(("face", "direction"), READERS)
def test_who_looks_at_the_written_mesh_from_outside_reads_an_f(face: str, direction: str) -> None:
    """F has ink at the top right and none at the bottom right: mirrored or turned, it would have it elsewhere."""
    eye, right, up = (np.array(v, dtype=float) for v in READERS[face, direction])
    ahead = np.cross(up, right)
    assert np.dot(ahead, np.array([0.0, 0.0, 20.0]) - eye) > 0 or face in ("near", "far")
    made = reread(mesh.make(Recipe("bar", (*BAR, *steps("F", FACES[face], direction)))))
    outline = text_outline(default_font(), "F")
    scale = 8.0 / outline.capital
    wide = (outline.high[0] - outline.low[0]) * scale

    def depth(x: float, y: float) -> float:
        start = tuple(eye + right * x + up * y)
        found = [b.rays([start], [tuple(ahead)], 200.0)[0][0].distance for b in (made, PLAIN)]
        return found[0] - found[1]

    stem, arm, below = (-wide / 2 + 0.4, -3.0), (wide / 2 - 0.8, 3.7), (wide / 2 - 0.8, -3.0)
    assert depth(*stem) == pytest.approx(DEPTH, abs=0.05)
    assert depth(*arm) == pytest.approx(DEPTH, abs=0.05)
    assert depth(*below) == pytest.approx(0.0, abs=0.02)


def test_raised_letters_stay_below_the_surface_and_stand_on_their_panel() -> None:
    outline = text_outline(default_font(), "אF")
    letters = letters_on(outline, 6.0 / outline.capital, False, False, "round", True)
    low, high = text_box(letters)
    panel = ROUND.panel((low[0] - 1, low[1] - 1), (high[0] + 1, high[1] + 1), DEPTH + OVERLAP)
    sunk = mesh.make(Recipe("sunk", (*BAR, *cut("panel", panel))))
    made = mesh.make(
        Recipe("text", (*BAR, *cut("panel", panel), *add("text", *raised(ROUND, letters, DEPTH))))
    )
    standing = made.volume - sunk.volume
    area = outline.area * (6.0 / outline.capital) ** 2
    assert standing == pytest.approx(area * DEPTH, rel=0.05)
    assert_sound(made, (sunk.volume, PLAIN.volume))
    # letters on the round surface are cut by a ring whose top lies an overlap below it
    tops = made.cut(sunk).arrays()[0]
    radii = np.hypot(tops[:, 0], tops[:, 1])
    assert radii.max() == pytest.approx(RADIUS - OVERLAP, abs=0.011)


def test_mirrored_and_begun_at_an_anchor() -> None:
    outline = text_outline(default_font(), "F")
    plain, mirrored = (letters_on(outline, 8.0, False, m, "round", False)[0] for m in (False, True))
    assert sorted((-x, y) for x, y in mirrored.outline) == sorted(plain.outline)
    (x0, _), _ = text_box(letters_on(outline, 8.0, True, False, "round", False))
    assert x0 == pytest.approx(0.0, abs=1e-4)
    # a line of Hebrew begins at its right end
    hebrew = text_outline(default_font(), "אב")
    _, (x1, _) = text_box(letters_on(hebrew, 8.0, True, False, "round", False))
    assert x1 == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize(("face", "direction"), [("outside", "round"), ("flat", "along")])
def test_both_kernels_make_the_same_of_it(face: str, direction: str) -> None:
    from chassis_gen.shapes import brep
    from chassis_gen.shapes.agreement import compare

    recipe = Recipe("bar", (*BAR, *steps("7ם", FACES[face], direction)))
    agreement = compare(recipe, mesh.make(recipe), brep.make(recipe), 0.01)
    assert agreement.ok, agreement.rows()
