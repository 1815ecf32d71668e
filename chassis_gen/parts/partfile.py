"""A maker's own part: the model of a file in ``profiles/parts``, read with `chassis_gen.params.reading`."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from typing import Annotated

from msgspec.structs import replace
from pydantic import Field, model_validator

from chassis_gen.params.codes import KeyPath, Rejection, rejected
from chassis_gen.params.quantities import Length, Mass, NonNegativeLength, Voltage, quantity
from chassis_gen.params.reading import FileModel
from chassis_gen.parts.imported_kind import IMPORTED
from chassis_gen.parts.kinds import make_part
from chassis_gen.parts.model import ELECTRICAL, ExactMesh, Measure, Part, Terminal
from chassis_gen.problems import InputError, Problem, nearest_name
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Hull
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
    spread: NonNegativeLength | None = Field(None, description="largest less smallest reading")
    readings: tuple[Length, ...] | None = Field(
        None, min_length=1, max_length=200, description="what the caliper showed, kept for the record"
    )


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


class EnvelopeRow(FileModel):
    """[[envelope]]: one convex piece of a part that was taken from a model."""

    points: tuple[Position, ...] = Field(
        min_length=4, max_length=400, description="its corners in the part's frame"
    )

    @model_validator(mode="after")
    def _encloses_something(self) -> EnvelopeRow:
        if not _solid(self.points):
            raise rejected(
                Rejection("not-allowed", "the points lie in one plane", "corners of a solid", at=("points",))
            )
        return self


class MeshRow(FileModel):
    """[mesh]: the exact mesh beside the part file."""

    file: Annotated[str, Field(pattern=r"^[A-Za-z0-9_ .-]{1,120}\.npz$")] = Field(
        description="name of a file in the same folder"
    )
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")] = Field(description="what it must hash to")


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
    envelope: tuple[EnvelopeRow, ...] | None = Field(
        None, min_length=1, max_length=32, description="convex pieces, for the kind imported"
    )
    mesh: MeshRow | None = Field(None, description="the exact mesh, for the kind imported")
    supply_v_min: Voltage | None = Field(None, description="lowest supply that it works at")
    supply_v_max: Voltage | None = Field(None, description="highest supply that it bears")
    supply_terminals: tuple[Text, Text] | None = Field(
        None, description="the plus and the minus that its supply goes to"
    )
    gives_v_min: Voltage | None = Field(None, description="lowest voltage of its driving terminals")
    gives_v_max: Voltage | None = Field(None, description="highest voltage of its driving terminals")
    drives: tuple[Text, ...] = Field(
        (), max_length=60, description="terminals that put a level or a supply on their net"
    )
    needs: tuple[Text, ...] = Field(
        (), max_length=20, description="interfaces that a part wired to it has to offer"
    )
    offers: tuple[Text, ...] = Field((), max_length=20, description="interfaces that it offers")
    antenna: Position | None = Field(
        None, description="x, y, z of its antenna; left out: in a board's antenna room, or none"
    )

    def part(self, name: str, exact: ExactMesh | None = None) -> Part:
        """Return the part that the file describes.

        Args:
            name: what builds call it, usually the file's name without its ending.
            exact: the mesh that stands beside the file, if any.

        Raises:
            InputError: every mistake that `chassis_gen.parts.kinds.make_part` finds.
        """
        made = make_part(
            name,
            self.kind,
            self.title,
            {n: _measure(s, self.source) for n, s in self.sizes.items()},
            self.mass_g,
            self.source,
            terminals=None if self.terminal is None else tuple(_terminal(t) for t in self.terminal),
            cautions=self.cautions,
            envelope=self._hulls(),
            exact=exact,
        )
        stated = {k: v for k in ELECTRICAL if (v := getattr(self, k)) is not None}
        return replace(made, antenna=self.antenna, **stated)

    def _hulls(self) -> tuple[Hull, ...] | None:
        return None if self.envelope is None else tuple(Hull(row.points) for row in self.envelope)

    @model_validator(mode="after")
    def _makes_a_part(self) -> PartFile:
        found = [
            *self._size_rejections(),
            *_caution_rejections(self.cautions or ()),
            *self._envelope_rejections(),
            *self._terminal_rejections(),
        ]
        if found:
            raise rejected(*found)
        return self

    def _terminal_rejections(self) -> Iterator[Rejection]:
        """Yield names of driving and supply terminals that the part hasn't."""
        try:
            known = [t.name for t in self.part("part").terminals]
        except InputError:
            return
        for key in ("drives", "supply_terminals"):
            for i, name in enumerate(getattr(self, key) or ()):
                if name not in known:
                    why = f'the part has no terminal "{name}"'
                    allowed = ", ".join(known) or "none: it has no terminals"
                    yield Rejection("unknown-name", why, allowed, nearest_name(name, known), (key, i))

    def _envelope_rejections(self) -> Iterator[Rejection]:
        if self.kind != IMPORTED.name:
            for key in ("envelope", "mesh"):
                if getattr(self, key) is not None:
                    why = f"a {self.kind} makes its own envelope"
                    yield Rejection("not-allowed", why, 'leave it out, or kind = "imported"', at=(key,))

    def _size_rejections(self) -> Iterator[Rejection]:
        try:
            self.part("part")
        except InputError as error:
            yield from map(_rejection, error.problems)


def _solid(points: tuple[Vec3, ...]) -> bool:
    """Return whether points span a body: some four of them don't lie in one plane."""
    x0, y0, z0 = points[0]
    rows = [(x - x0, y - y0, z - z0) for x, y, z in points[1:]]
    a = max(rows, key=lambda r: math.hypot(*r))
    b = max(rows, key=lambda r: math.hypot(*_cross(a, r)))
    normal = _cross(a, b)
    size = math.hypot(*a)
    return any(
        abs(sum(p * q for p, q in zip(normal, r, strict=True))) > 1e-9 * max(size**3, 1e-9) for r in rows
    )


def _cross(a: Vec3, b: Vec3) -> Vec3:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


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
