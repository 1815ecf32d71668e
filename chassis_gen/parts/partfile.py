"""A maker's own part: the model of a file in ``profiles/parts``, read with `chassis_gen.params.reading`."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from typing import Annotated

from pydantic import Field, model_validator

from chassis_gen.params.codes import KeyPath, Rejection, rejected
from chassis_gen.params.quantities import Length, Mass, NonNegativeLength, quantity
from chassis_gen.params.reading import FileModel
from chassis_gen.parts.kinds import make_part
from chassis_gen.parts.model import Measure, Part, Terminal
from chassis_gen.problems import InputError, Problem, nearest_name
from chassis_gen.shapes.frame import Vec3
from chassis_gen.tables.cautions import all_cautions

Text = Annotated[str, Field(min_length=1, max_length=120)]
Position = tuple[Length, Length, Length]
_Share = Annotated[float, Field(ge=-1000, le=1000)]
Direction = tuple[_Share, _Share, _Share]

_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


class SizeRow(FileModel):
    """A size with its tolerance."""

    value: Length = Field(description="as measured")
    tolerance: NonNegativeLength = Field(0.0, description="plus-minus")


class TerminalRow(FileModel):
    """[[terminal]]: a place where a wire is joined, in the part's frame."""

    name: Text = Field(description="what wires call it")
    position: Position = Field(description="x, y, z")
    direction: Direction = Field((0.0, 0.0, 1.0), description="which way the wire leaves, any length but 0")
    largest_wire_diameter: Annotated[float, quantity("mm", 0.1, 3)] = Field(
        0.9, description="thickest bare conductor that its hole or pad takes"
    )
    must_connect: bool = Field(False, description="true when a build without a wire here is a mistake")

    @model_validator(mode="after")
    def _points_somewhere(self) -> TerminalRow:
        if not math.hypot(*self.direction) > 0:
            raise rejected(
                Rejection(
                    "not-allowed", "the direction has no length", "x, y, z not all 0", at=("direction",)
                )
            )
        return self


class PartFile(FileModel):
    """A file in profiles/parts: one bought part as measured."""

    kind: Text = Field(description="one of the part kinds")
    title: Text = Field(description="one line for people")
    mass_g: Mass = Field(description="mass")
    sizes: dict[str, Length | SizeRow] = Field(description="sizes by name, a number or { value, tolerance }")
    terminal: tuple[TerminalRow, ...] | None = Field(
        None, min_length=1, max_length=60, description="where wires are joined; default the kind's own"
    )
    cautions: tuple[Text, ...] | None = Field(None, description="caution topics; default the kind's own")
    source: Text = Field(description="who measured it, or which data sheet")

    def part(self, name: str) -> Part:
        """Return the part that the file describes.

        Args:
            name: what builds call it, usually the file's name without its ending.

        Raises:
            InputError: every mistake that `chassis_gen.parts.kinds.make_part` finds.
        """
        return make_part(
            name,
            self.kind,
            self.title,
            {n: _measure(s, self.source) for n, s in self.sizes.items()},
            self.mass_g,
            self.source,
            terminals=None if self.terminal is None else tuple(_terminal(t) for t in self.terminal),
            cautions=self.cautions,
        )

    @model_validator(mode="after")
    def _makes_a_part(self) -> PartFile:
        found = [*self._size_rejections(), *_caution_rejections(self.cautions or ())]
        if found:
            raise rejected(*found)
        return self

    def _size_rejections(self) -> Iterator[Rejection]:
        try:
            self.part("part")
        except InputError as error:
            yield from map(_rejection, error.problems)


def _caution_rejections(topics: Iterable[str]) -> Iterator[Rejection]:
    known = all_cautions()
    for i, topic in enumerate(topics):
        if topic not in known:
            nearest = nearest_name(topic, known)
            yield Rejection(
                "unknown-name", "no such caution topic", ", ".join(known), nearest, ("cautions", i)
            )


def _measure(size: float | SizeRow, source: str) -> Measure:
    if isinstance(size, SizeRow):
        return Measure(size.value, size.tolerance, source)
    return Measure(size, 0.0, source)


def _terminal(row: TerminalRow) -> Terminal:
    length = math.hypot(*row.direction)
    x, y, z = row.direction
    unit: Vec3 = (x / length, y / length, z / length)
    return Terminal(row.name, row.position, unit, row.largest_wire_diameter, row.must_connect)


def _rejection(problem: Problem) -> Rejection:
    return Rejection(
        problem.code, problem.message, problem.allowed, problem.nearest, _path(problem.key or "")
    )


def _path(key: str) -> KeyPath:
    """Return a key path as text, such as ``terminal[1].position``, as its steps."""
    return tuple(int(index) if index else name for name, index in _STEP.findall(key))
