"""Recipes: what a section's or a piece's solid is made of, as an ordered list of labelled steps."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Literal

from msgspec import Struct

from chassis_gen.shapes.primitives import Primitive

Operation = Literal["add", "cut"]


class Step(Struct, frozen=True):
    """One primitive that is added or cut.

    Args:
        operation: ``add`` or ``cut``.
        label: what the primitive is for, such as ``cell seat``; shown when a kernel fails on it.
        solid: the primitive.
        must_touch: True when a cut that removes nothing is an error (the default for cuts).
        surface: True for surface work that exchanged solids may leave out.
    """

    operation: Operation
    label: str
    solid: Primitive
    must_touch: bool = True
    surface: bool = False


class Recipe(Struct, frozen=True):
    """The ordered steps that make one solid; later steps act on the result of earlier ones."""

    name: str
    steps: tuple[Step, ...]

    def batches(self) -> Iterator[tuple[Operation, tuple[Step, ...]]]:
        """Yield runs of equal operations, so that a kernel does each run as one boolean."""
        for operation, run in groupby(self.steps, key=lambda s: s.operation):
            yield operation, tuple(run)

    def then(self, steps: Iterable[Step]) -> Recipe:
        """Return the recipe with more steps at its end."""
        return Recipe(self.name, self.steps + tuple(steps))


def add(label: str, *solids: Primitive) -> tuple[Step, ...]:
    """Return steps that add solids under one label."""
    return tuple(Step("add", label, s) for s in solids)


def cut(label: str, *solids: Primitive, must_touch: bool = True, surface: bool = False) -> tuple[Step, ...]:
    """Return steps that cut solids under one label."""
    return tuple(Step("cut", label, s, must_touch, surface) for s in solids)
