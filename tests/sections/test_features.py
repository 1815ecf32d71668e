"""The shared features: their figures against tables and closed forms, their cutters on a block."""

from __future__ import annotations

import math

import pytest

from chassis_gen.plan.model import Outer, OuterStep, ScrewHole
from chassis_gen.plan.strain_relief import plan_relief, relief_cutters, relief_finding
from chassis_gen.problems import InputError
from chassis_gen.sections.features.screw_hole import (
    Counterbore,
    hole_cutters,
    hole_finding,
    lies,
    plan_hole,
    plan_nut,
)
from chassis_gen.sections.features.set_screw_pad import (
    pad_cutters,
    pad_finding,
    pad_obstacle,
    pad_solids,
    plan_pad,
)
from chassis_gen.sections.features.tape_recess import TapeRecess, plan_tape_recess, tape_cutters
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import Frame, radial, reversed_axis
from chassis_gen.shapes.mesh import make
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive
from chassis_gen.shapes.recipe import Recipe, add, cut
from tests.helpers import assert_sound
from tests.sections.support import setting

FITTER = setting().fitter
OUTER = Outer((OuterStep(0.0, 100.0, 20.0, True),))
DOWN_FROM_TOP = reversed_axis(radial(90.0, 0.0, 0.0))
"""A hole that enters at y = 0 and runs toward -y: standing in a print that lies on clock 270."""
INWARD = reversed_axis(radial(0.0, 0.0, 0.0))
"""A hole that enters at x = 0 and runs toward -x: lying in the print."""


def bored(cutters: tuple[Primitive, ...], block: Box) -> Body:
    return make(Recipe("block", (*add("block", block), *cut("hole", *cutters))))


def test_a_standing_hole_has_the_table_s_diameter_and_the_printer_s_term() -> None:
    hole = plan_hole(FITTER, "x.screw", "tapped", "M3", DOWN_FROM_TOP, 8.0, "chassis")
    # ISO 2306: 2.5 mm tap drill for M3; 0.2 mm standing hole of the test setting.
    assert hole.diameter.total == pytest.approx(2.7, abs=1e-4)
    assert not hole.lying
    assert not hole.roofed
    # Two diameters in plastic, wall of half a diameter: common practice, no source.
    assert (hole.engagement, hole.least_engagement, hole.least_wall) == (8.0, 6.0, 1.5)
    body = bored(hole_cutters(hole), Box((-8.0, -20.0, -8.0), (8.0, 0.0, 8.0)))
    assert_sound(body, 16 * 16 * 20 - math.pi * 1.35**2 * 8.0, share=1e-4)


def test_a_lying_clearance_hole_gets_a_roof_and_keeps_its_bore() -> None:
    hole = plan_hole(FITTER, "x.screw", "clearance", "M3", INWARD, 16.0, "chassis", through=True)
    # ISO 273 medium 3.4 mm, 0.2 mm lying hole of the test setting.
    assert hole.diameter.total == pytest.approx(3.6, abs=1e-4)
    assert hole.lying
    assert hole.roofed
    assert hole.engagement == 0.0
    body = bored(hole_cutters(hole), Box((-16.0, -8.0, -8.0), (0.0, 8.0, 8.0)))
    (up, down) = body.rays([(-8.0, 0.0, 0.0)] * 2, [(0.0, 1.0, 0.0), (0.0, -1.0, 0.0)], 7.0)
    assert up[0].distance == pytest.approx(1.2 * 1.8, abs=0.01)
    assert down[0].distance == pytest.approx(1.8, abs=0.01)
    # Flanks of 45 degrees cut flat at 1.2 radii: between the circle's and the full teardrop's area.
    r, long = 1.8, 16.0
    teardrop = (math.pi * 0.75 + 1.0) * r * r
    assert_sound(body, (16**2 * long - teardrop * long, 16**2 * long - math.pi * r * r * long), genus=1)


@pytest.mark.parametrize(
    ("clock", "lying"), [(90.0, False), (60.0, False), (30.0, True), (0.0, True), (270.0, False)]
)
def test_what_lies_is_what_leans_more_than_45_degrees(clock: float, lying: bool) -> None:
    assert lies(radial(clock, 10.0, 5.0)) is lying


def test_a_counterbore_opens_outward_from_where_the_head_bears() -> None:
    wide = FITTER.chosen("x.head", 7.0, "head")
    hole = plan_hole(
        FITTER, "x.screw", "clearance", "M3", DOWN_FROM_TOP.moved((0.0, -4.0, 0.0)), 6.0, "chassis",
        counterbore=Counterbore(wide, 5.0), through=True,
    )  # fmt: skip
    body = bored(hole_cutters(hole), Box((-8.0, -10.0, -8.0), (8.0, 0.0, 8.0)))
    assert_sound(body, 16 * 16 * 10 - math.pi * (3.5**2 * 4 + 1.8**2 * 6), genus=1, share=1e-3)


@pytest.mark.parametrize("entry", ["end", "side"])
def test_a_nut_pocket_takes_the_largest_nut_and_holds_it(entry: str) -> None:
    side = entry == "side"
    nut = plan_nut(FITTER, "x.nut", "M3", 6.0, "side" if side else "end", 90.0, 12.0)
    # ISO 4032: at most 5.5 across flats and 2.4 high; 2 x 0.15 slide, 0.1 printer term of the test setting.
    assert nut.across_flats.total == pytest.approx(5.9, abs=1e-4)
    assert nut.height.total == pytest.approx(2.8, abs=1e-4)
    depth = 12.0 if side else 6.0 + nut.height.total
    hole = plan_hole(
        FITTER, "x.screw", "captive_nut", "M3", DOWN_FROM_TOP, depth, "chassis", nut=nut, through=True
    )
    assert hole.engagement == hole.least_engagement == 2.4
    body = bored(hole_cutters(hole), Box((-10.0, -depth, -10.0), (10.0, 0.0, 10.0)))
    # A hexagon on flats s has the area s**2 sqrt(3) / 2.
    hexagon = 5.9**2 * math.sqrt(3) / 2
    bore = math.pi * 1.8**2
    lost = 20 * 20 * depth - body.volume
    if side:
        # Half a hexagon and a slot to the side of the block, less where the bore already is.
        slot = hexagon / 2 + 5.9 * 10.0
        assert lost == pytest.approx(bore * 12 + (slot - bore) * 2.8, rel=1e-3)
    else:
        assert lost == pytest.approx(bore * 6 + hexagon * 2.8, rel=1e-3)
    assert len(body.components()) == 1


def test_a_screw_too_small_to_tap_is_said_and_an_unknown_one_refused() -> None:
    small = plan_hole(FITTER, "x.screw", "tapped", "M2", DOWN_FROM_TOP, 6.0, "chassis")
    found = hole_finding(small)
    assert found is not None
    assert (found.code, found.where) == ("screw-too-small", "x.screw")
    assert hole_finding(plan_hole(FITTER, "x.screw", "tapped", "M3", DOWN_FROM_TOP, 6.0, "chassis")) is None
    with pytest.raises(InputError, match="thread"):
        plan_hole(FITTER, "x.screw", "tapped", "M3.1", DOWN_FROM_TOP, 6.0, "chassis")


def test_a_plain_screw_hole_of_the_plan_can_be_cut_too() -> None:
    d = FITTER.chosen("x.d", 4.0, "bore")
    hole = ScrewHole("x.rod", "clearance", "M4", DOWN_FROM_TOP, 5.0, d, 0.0, 0.0, 1.0, "chassis")
    body = bored(hole_cutters(hole), Box((-8.0, -10.0, -8.0), (8.0, 0.0, 8.0)))
    assert_sound(body, 16 * 16 * 10 - math.pi * 4 * 5, share=1e-4)


def test_tape_lies_under_the_surface_in_its_recess() -> None:
    tape = TapeRecess.model_validate({"width": 12.0, "layers": 3, "thickness": 0.15, "spare": 0.05})
    band = plan_tape_recess(FITTER, "x.tape", tape, OUTER, 50.0)
    assert band.depth.total == pytest.approx(0.5, abs=1e-4)
    assert (band.z0, band.z1) == (43.5, 56.5)
    bar = make(Recipe("bar", (*add("bar", Cylinder(20.0, 0.0, 100.0)), *cut("tape", *tape_cutters(band)))))
    assert_sound(bar, math.pi * (400 * 100 - (400 - 19.5**2) * 13), share=1e-4)


def test_a_set_screw_lands_on_solid_material() -> None:
    pad = plan_pad(FITTER, "x.pad", "M4", 30.0, 50.0, OUTER)
    # M4 screw and a wall of half a diameter each side, at least 1.6 mm (common practice, no source).
    assert pad.width.total == pytest.approx(4.0 + 2 * 2.0, abs=1e-4)
    shell = Recipe("x", add("pad", *pad_solids(pad))).then(cut("dimple", *pad_cutters(pad)))
    body = make(shell)
    assert len(body.components()) == 1
    far = max(math.hypot(x, y) for x, y, _ in body.arrays()[0])
    assert far <= 20.0 + 0.02
    obstacle = pad_obstacle(pad)
    assert obstacle.z1 - obstacle.z0 == pytest.approx(8.0, abs=1e-3)
    assert pad_finding(pad, 16.0, "cell", hard_stop=False) is None
    over = pad_finding(pad, 18.0, "cell", hard_stop=False)
    assert over is not None
    assert over.level == "error"
    # the dimple lies 0.4 under its rim: M4's coarse clearance of 4.8 (ISO 273), 0.2 printer, circle geometry
    rim = math.sqrt(20.0**2 - (5.0 / 2) ** 2)
    assert over.numbers["left"] == pytest.approx(rim - 0.4 - 18.0, abs=1e-3)
    assert pad_finding(pad, 18.0, "cell", hard_stop=True) is None


def test_a_strain_relief_is_cut_and_held_against_its_distance() -> None:
    frame = Frame((0.0, 0.0, 0.0))
    wall = Box((-10.0, -10.0, -3.0), (10.0, 10.0, 0.0))
    tie = plan_relief(FITTER, "x.tie", "tie", frame, 3.0, 4.0)
    body = bored(relief_cutters(tie), wall)
    assert_sound(body, 20 * 20 * 3 - 2 * tie.length.total * tie.depth.total * 3, genus=2)
    glue = plan_relief(FITTER, "x.glue", "glue", frame, 3.0, 4.0)
    body = bored(relief_cutters(glue), wall)
    assert_sound(body, 20 * 20 * 3 - 4 * glue.length.total * glue.depth.total)
    # 15 mm: common practice, no standard.
    assert relief_finding(tie, (0.0, 14.9, 0.0)) is None
    far = relief_finding(tie, (0.0, 15.1, 0.0))
    assert far is not None
    assert far.numbers == {"distance": pytest.approx(15.1), "limit": 15.0}
