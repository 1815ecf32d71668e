"""The gauge is one sound piece whose features have their nominal sizes, measured on the mesh with trimesh."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh

from chassis_gen.params.printer import PrinterFile
from chassis_gen.parts.catalogue import find_part
from chassis_gen.printer import features as g
from chassis_gen.printer.features import gauge_features
from chassis_gen.printer.gauge import gauge_recipe
from chassis_gen.printer.making import gauge_set
from chassis_gen.printer.marks import mark
from chassis_gen.problems import InputError
from chassis_gen.shapes.mesh import make, solid
from tests.helpers import assert_sound, reread


@pytest.fixture(scope="module")
def gauge() -> trimesh.Trimesh:
    body = make(gauge_recipe())
    through = len(g.STANDING_HOLES) + len(g.LYING_HOLES) + len(g.SLOTS) + 1
    # The plate alone holds 110 x 98 x 2 mm3; what stands on it is less than as much again.
    return assert_sound(body, (0.8 * 110 * 98 * 2, 2 * 110 * 98 * 2), genus=through)


def widths(mesh: trimesh.Trimesh, z: float) -> list[tuple[float, float]]:
    """Return the extents of every closed outline of a level section, mm."""
    section = mesh.section(plane_origin=(0, 0, z), plane_normal=(0, 0, 1))
    return [tuple(np.ptp(line, axis=0)[:2]) for line in section.discrete]


# Round outlines are polygons of equal area: at a chord of 0.01 mm their corners stand out by up to 0.007 mm.
def has(found: list[tuple[float, float]], width: float, depth: float, within: float = 0.02) -> bool:
    return any(abs(x - width) < within and abs(y - depth) < within for x, y in found)


def test_holes_slots_pegs_and_walls_have_their_nominal_sizes(gauge: trimesh.Trimesh) -> None:
    plate, above = widths(gauge, 1.0), widths(gauge, g.PLATE_THICKNESS + 4.5)
    assert all(has(plate, d, d) for d in g.STANDING_HOLES)
    assert all(has(plate, w, 8.0) for w in (*g.SLOTS, g.LONG_SLOT))
    assert has(plate, g.PLATE_LENGTH, g.PLATE_WIDTH)
    assert all(has(above, d, d) for d in (*g.PEGS, g.DISC, g.OCTAGON))
    assert all(has(above, w, 7.0) for w in g.WALLS)


def test_the_octagons_sloping_flats_are_as_far_apart_as_the_straight_ones(gauge: trimesh.Trimesh) -> None:
    section = gauge.section(plane_origin=(0, 0, 7.0), plane_normal=(0, 0, 1))
    octagon = next(d for d in section.discrete if np.allclose(np.ptp(d, axis=0)[:2], g.OCTAGON, atol=1e-4))
    for direction in ((1, 1), (1, -1)):
        across = octagon[:, :2] @ (np.array(direction) / math.sqrt(2))
        assert np.ptp(across) == pytest.approx(g.OCTAGON, abs=1e-4)


def test_steps_and_posts_have_their_heights_and_lying_holes_their_diameters(gauge: trimesh.Trimesh) -> None:
    levels = gauge.vertices[:, 2]
    for height in (*g.STEPS, g.POST_HEIGHT):
        assert np.any(np.abs(levels - height) < 1e-5)
    block = gauge.section(plane_origin=(0, 89.0, 0), plane_normal=(0, 1, 0))
    found = [np.ptp(line, axis=0) for line in block.discrete]
    assert all(any(abs(e[0] - d) < 0.02 and abs(e[2] - d) < 0.02 for e in found) for d in g.LYING_HOLES)


def test_every_feature_has_its_number_engraved_where_it_stands() -> None:
    labels = {s.label for s in gauge_recipe().steps}
    assert {f"number {n}" for n in gauge_features()} <= labels
    assert len(gauge_features()) == len({f.number for f in gauge_features().values()})


def test_engraved_strokes_are_two_lines_of_the_usual_nozzle_and_digits_differ() -> None:
    made = {}
    for digit in "0123456789":
        boxes = mark(digit, 0.0, 0.0, 2.0, 0.6)
        assert min(min(b.high[k] - b.low[k] for k in (0, 1)) for b in boxes) >= 2 * 0.4 - 1e-9
        body = solid(boxes[0]).union(*(solid(b) for b in boxes[1:]))
        assert len(body.components()) == 1
        made[digit] = tuple(sorted((b.low, b.high) for b in boxes))
    assert len(set(made.values())) == 10


PRINTER = PrinterFile.model_validate({"bed": (300.0, 300.0, 300.0)})


def test_go_and_no_go_rings_are_drawn_for_the_limits_of_each_fit_class() -> None:
    made = gauge_set(PRINTER, "p", find_part("speaker 32 mm"), None, False)
    tried = [f for f in made.features if f.use == "try"]
    assert [f.number for f in tried] == [f"9{c}{n}" for c in range(1, 5) for n in (1, 2, 3)]
    # Rim 32 mm, slide 0.08 / 0.15 / 0.25 per side, and the 0.10 mm allowance of an uncalibrated printer.
    slide = [f.nominal for f in tried if f.number.startswith("93")]
    assert slide == pytest.approx([32.26, 32.4, 32.6], abs=1e-4)
    for recipe, feature in zip(made.files["try"], tried, strict=True):
        again = reread(make(recipe))
        assert again.is_watertight
        section = again.section(plane_origin=(0, 0, 1.0), plane_normal=(0, 0, 1))
        bores = [np.ptp(d, axis=0)[:2] for d in section.discrete]
        assert any(np.allclose(b, feature.nominal, atol=0.02) for b in bores), feature


def test_no_part_without_a_seated_size_no_tube_without_build_no_bed_too_small() -> None:
    with pytest.raises(InputError, match="a tube is tried for a build"):
        gauge_set(PRINTER, "p", None, None, True)
    small = PrinterFile.model_validate({"bed": (100.0, 100.0, 100.0)})
    with pytest.raises(InputError, match="more than the bed of p") as error:
        gauge_set(small, "p", None, None, False)
    assert error.value.problems[0].value == "100 x 100 x 100 mm"


def test_pieces_of_one_set_never_touch_each_other() -> None:
    made = gauge_set(PRINTER, "p", find_part("sound board"), None, False)
    bodies = [make(r) for r in made.files["try"]]
    whole = bodies[0].union(*bodies[1:])
    assert len(whole.components()) == len(bodies)
