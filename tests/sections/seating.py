"""What the tests of section kinds measure alike: pieces, seated parts and their play."""

from __future__ import annotations

import pytest

from chassis_gen.plan.model import PlacedPart, SectionPlan
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.mesh import DEFAULT_CHORD, make, solid
from chassis_gen.shapes.primitives import placed
from chassis_gen.shapes.recipe import Recipe

TOLERANCE = DEFAULT_CHORD + 0.005


def pieces(plan: SectionPlan, recipe: Recipe) -> list[Body]:
    """Return the section's body and its own pieces."""
    return [make(recipe), *(make(Recipe(e.name, e.steps)) for e in plan.extra_pieces)]


def envelope(part: PlacedPart) -> Body:
    """Return a seated part's body."""
    first, *more = (solid(placed(p, part.frame)) for p in part.part.envelope)
    return first.union(*more)


def assert_seated(plan: SectionPlan, recipe: Recipe, *loose: str) -> list[Body]:
    """Assert that all pieces are one body, keep apart, and that every part moves as planned.

    Args:
        plan: the section.
        recipe: its recipe.
        loose: endings of the names of pieces that stand in a part, not on the chassis.
    """
    made = pieces(plan, recipe)
    assert [len(b.components()) for b in made] == [1] * len(made)
    chassis, *extra = made
    for e, body in zip(plan.extra_pieces, extra, strict=True):
        assert chassis.common_volume(body) < 1e-3
        if not e.name.endswith(loose or "?"):
            assert chassis.gap(body, 1.0) == pytest.approx(0.0, abs=1e-6)
            # The piece leaves the way it came in.
            out = (-e.way_in[0], -e.way_in[1], -e.way_in[2])
            assert chassis.play(body, out, 30.0, 30.0) == 30.0
    seat = chassis.union(*extra)
    for part in plan.parts:
        mover = envelope(part)
        assert seat.common_volume(mover) < 1e-3
        for play in part.plays:
            if play.expected is not None:
                measured = seat.play(mover, play.direction, play.expected)
                assert measured == pytest.approx(play.expected, abs=TOLERANCE)
    return made
