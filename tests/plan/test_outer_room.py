"""How deep the outer surface may be cut: against closed forms, and against rays through every kind's solid."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from chassis_gen.plan.membership import inside
from chassis_gen.plan.model import Disc, Gallery, Obstacle, Outer, OuterStep, SectionPlan, Sector
from chassis_gen.plan.outer_room import OuterRoom, Patch, columns, outer_room
from chassis_gen.sections.registry import section_kinds
from chassis_gen.shapes import mesh
from chassis_gen.shapes.frame import Frame, clocked, radial, shifted
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
)
from chassis_gen.shapes.recipe import Step, add, cut
from tests.sections.support import planned

R, WALL, DEEPEST = 20.0, 0.8, 1.0
SLANTED = Frame((2.0, -1.0, 3.0), (0.6, 0.8, 0.0), (0.0, 0.0, 1.0), (0.8, -0.6, 0.0))
BAR = add("bar", Cylinder(R, -1.0, 41.0))
PLAIN = Outer((OuterStep(-50.0, 90.0, R, False),))


def section(obstacles: tuple[Obstacle, ...] = (), galleries: tuple[Gallery, ...] = ()) -> SectionPlan:
    return SectionPlan("bar", "bar", 0.0, 40.0, "chassis", None, obstacles=obstacles, galleries=galleries)


def room(
    steps: tuple[Step, ...] = BAR, plan: SectionPlan | None = None, outer: Outer = PLAIN, **more: Any
) -> OuterRoom:
    return outer_room(plan or section(), steps, (), outer, WALL, DEEPEST, **more)


@pytest.mark.parametrize(
    ("primitive", "volume"),
    [
        (Box((-1, -2, -3), (2, 2, 1), SLANTED), 3 * 4 * 4.0),
        (Cylinder(2.0, -1.0, 3.0, SLANTED), math.pi * 4 * 4),
        (Cone(1.0, 3.0, 0.0, 4.0, SLANTED), math.pi * 4 / 3 * (1 + 3 + 9)),
        (Ring(1.0, 3.0, 0.0, 2.0, SLANTED), math.pi * 8 * 2),
        (TubeSegment(1.0, 3.0, 0.0, 2.0, 300.0, 420.0, SLANTED), math.pi * 8 * 2 / 3),
        (Prism(((-3, -3), (3, -3), (0, 3)), 0.0, 2.0, (((-0.5, -1.5), (0.5, -1.5), (0, -0.5)),)), 35.0),
        (Within(Cylinder(2.0, -2.0, 2.0), Box((0, -3, -3), (3, 3, 3))), math.pi * 4 * 4 / 2),
        (Pattern(Cylinder(1.0, 0.0, 2.0), (shifted(x=-2.0), shifted(x=2.0))), math.pi * 4),
        (Hull(((0, 0, 0), (2, 0, 0), (0, 3, 0), (0, 0, 4))), 2 * 3 * 4.0),
    ],
    ids=lambda p: type(p).__name__ if not isinstance(p, float) else "",
)
def test_points_in_a_primitive_fill_its_volume(primitive: Primitive, volume: float) -> None:
    """Closed forms; a hull counts with the box round it, as it does where it is cut."""
    step = 0.2
    axis = np.arange(-7.0, 7.0, step) + step / 2 + 0.013
    points = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    found = np.count_nonzero(inside(primitive, points, whole=True)) * step**3
    assert found == pytest.approx(volume, rel=0.05)


def test_a_solid_bar_is_free_but_for_a_wall_at_its_ends() -> None:
    made = room()
    assert made.free(WALL + 0.2, 40.0 - WALL - 0.2, 0.0, 359.0) == DEEPEST
    assert made.free(0.0, 2.0, 10.0, 20.0) == 0.0
    assert made.free(38.5, 40.0, 10.0, 20.0) == 0.0
    assert made.free(-1.0, 5.0, 10.0, 20.0) == 0.0


def test_a_bore_beneath_leaves_what_is_over_it_less_a_wall() -> None:
    """A bore of 4 mm whose far side lies 1.5 mm under the surface at clock 0: 0.7 mm are free over it."""
    bore = cut("bore", Cylinder(4.0, -1.0, 50.0, shifted(x=R - 1.5 - 4.0)))
    made = room((*BAR, *bore))
    # layers of 0.2 mm: a depth is found to one of them, and never too large
    assert 0.7 - 0.2 <= made.free(10.0, 12.0, 0.0, 0.0) <= 0.7
    # beside it a wall stays as well: the circle's edge at 1.8 mm depth lies 3.9 mm off, or 12 degrees
    assert made.free(10.0, 12.0, 25.0, 335.0) == DEEPEST


def test_a_hole_in_the_surface_keeps_its_wall_all_round() -> None:
    """A radial hole 3 mm wide at clock 90, station 20: no cut within 1.5 + 0.8 mm of its axis."""
    hole = cut("hole", Cylinder(1.5, 5.0, 30.0, radial(90.0, 20.0)))
    made = room((*BAR, *hole))
    rim = 1.5 + WALL
    turn = math.degrees(rim / R)
    for z, clock in (
        (20.0, 90.0),
        (20.0 + rim - 0.1, 90.0),
        (20.0, 90.0 + turn - 0.4),
        (20.0, 90.0 - turn + 0.4),
    ):
        assert made.free(z - 0.05, z + 0.05, clock, clock) == 0.0
    # at most a row and a half of 0.5 mm, or two degrees of 0.35 mm, are lost beyond
    for z, clock in ((20.0 + rim + 0.8, 90.0), (20.0 - rim - 0.8, 90.0), (20.0, 90.0 + turn + 2.5)):
        assert made.free(z - 0.05, z + 0.05, clock, clock) == DEEPEST


def test_what_is_added_later_is_solid_again() -> None:
    pocket = cut("pocket", TubeSegment(15.0, 21.0, 10.0, 30.0, 80.0, 100.0))
    post = add("post", TubeSegment(14.0, R, 9.0, 31.0, 79.0, 101.0))
    assert room((*BAR, *pocket)).free(15.0, 20.0, 85.0, 95.0) == 0.0
    assert room((*BAR, *pocket, *post)).free(15.0, 20.0, 85.0, 95.0) == DEEPEST


def test_obstacles_bands_hollows_and_patches_are_blocked() -> None:
    pad = Obstacle(Sector(80.0, 100.0), 10.0, 14.0, "pad")
    rod = Obstacle(Disc(R - 3.0, 0.0, 1.5), 0.0, 40.0, "rod")
    made = room(plan=section((pad, rod)))
    assert made.free(11.0, 12.0, 85.0, 95.0) == 0.0
    assert made.free(16.0, 18.0, 85.0, 95.0) == DEEPEST
    # the rod ends 1.5 mm under the surface
    assert made.free(16.0, 18.0, 0.0, 0.0) == pytest.approx(1.5 - WALL)
    bands = Outer((OuterStep(0.0, 9.0, 20.4, True), OuterStep(9.0, 40.0, R, False)))
    banded = room((*BAR, *add("band", Cylinder(20.4, -1.0, 9.0))), outer=bands)
    assert banded.free(2.0, 8.0, 40.0, 50.0) == 0.0
    assert banded.free(9.0, 9.0 + WALL - 0.1, 40.0, 50.0) == 0.0
    assert banded.free(10.0, 30.0, 40.0, 50.0) == DEEPEST
    hollow = Gallery(20.0, 10.0, "bar", open_room=True)
    assert room(plan=section(galleries=(hollow,))).free(22.0, 24.0, 40.0, 50.0) == 0.0
    taken = room(taken=(Patch(20.0, 30.0, 350.0, 370.0, "lettering"),))
    assert taken.free(24.0, 26.0, 0.0, 5.0) == 0.0
    assert taken.free(30.0 + WALL + 0.5, 34.0, 0.0, 5.0) == DEEPEST


def test_runs_end_at_what_bars_them() -> None:
    pad = Obstacle(Sector(80.0, 100.0), 10.0, 14.0, "pad")
    made = room(plan=section((pad,)))
    assert made.runs_along(85.0, 95.0, DEEPEST) == ((1.0, 9.0), (15.0, 39.0))
    assert made.runs_along(120.0, 130.0, DEEPEST) == ((1.0, 39.0),)
    assert made.runs_round(20.0, 22.0, DEEPEST) == ((0.0, 360.0),)
    ((first, last),) = made.runs_round(11.0, 13.0, DEEPEST)
    # the sector holds its own margin; its edge degrees are rounded outward by one
    assert (first, last) == (102.0, 360.0 + 78.0)
    inner = made.within(15.0, 25.0, 350.0, 10.0)
    assert inner.runs_round(18.0, 20.0, DEEPEST) == ((350.0, 370.0),)
    assert inner.runs_along(0.0, 5.0, DEEPEST) == ((15.0, 25.0),)
    assert columns(-1.5, 1.0).tolist() == [358, 359, 0, 1]


ASKED = {"speaker_cup": {"part": "speaker 32 mm"}, "custom": {"part": "radio board"}}


@pytest.mark.parametrize("kind", section_kinds())
def test_every_kind_has_the_material_that_is_called_free(kind: str) -> None:
    """Rays from outside enter at the surface and leave no sooner than the depth and a wall below it."""
    known = section_kinds()[kind]
    params = known.Params.model_validate({"kind": kind, "name": kind, **ASKED.get(kind, {})})
    mouth = kind == "speaker_cup"
    plan, ctx, recipe = planned(known, params, ends=(mouth, False), joined=(not mouth, True))
    radius = ctx.radius
    outer = Outer((OuterStep(ctx.z0 - 50, ctx.z1 + 50, radius, False),))
    made = outer_room(plan, recipe.steps, (), outer, WALL, DEEPEST)
    rows, clocks = np.nonzero(made.depths >= 0.2)
    if not len(rows):
        return
    random = np.random.default_rng(5)
    pick = random.choice(len(rows), min(len(rows), 250), replace=False)
    rows, clocks = rows[pick], clocks[pick]
    turns = np.radians(clocks + random.uniform(-0.5, 0.5, len(pick)))
    out = np.stack([np.cos(turns), np.sin(turns), np.zeros(len(pick))], axis=1)
    starts = out * (radius + 0.5)
    starts[:, 2] = made.z0 + made.row * (rows + random.random(len(pick)))
    body = mesh.make(recipe)
    for hits, depth in zip(body.rays(starts, -out, reach=4.0), made.depths[rows, clocks], strict=True):
        assert abs(hits[0].distance - 0.5) < 0.03
        assert len(hits) < 2 or hits[1].distance - hits[0].distance >= depth + WALL - 0.03


def test_a_turned_section_has_its_room_turned() -> None:
    bore = Cylinder(4.0, -1.0, 50.0, shifted(x=R - 5.5))
    straight = room((*BAR, *cut("bore", bore)))
    turned = Cylinder(4.0, -1.0, 50.0, clocked(70.0) @ bore.frame)
    assert np.allclose(np.roll(straight.depths, 70, axis=1), room((*BAR, *cut("bore", turned))).depths)
