"""Bought components as data: sizes with tolerance, envelope, terminals, keep-outs, mass and source.

A part stands in its own frame; each kind says in `chassis_gen.parts.kinds` where that frame's origin and axes lie.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Primitive


class Measure(Struct, frozen=True):
    """A size with its tolerance.

    Args:
        value: mm (or the unit in the size's name).
        tolerance: plus-minus, same unit.
        source: where the figure comes from.
        uniform: True when only the limits are known, so that every value between them is as likely.
    """

    value: float
    tolerance: float = 0.0
    source: str = "generic, measure your own"
    uniform: bool = False

    @property
    def largest(self) -> float:
        """Return the size at its upper limit."""
        return self.value + self.tolerance


class Terminal(Struct, frozen=True):
    """A place on a part where a wire is joined.

    Args:
        name: such as ``plus`` or ``battery plus``.
        position: in the part's frame, mm.
        direction: unit vector in which the wire leaves.
        largest_wire_diameter: the thickest conductor (bare) that the hole or pad takes, mm.
        must_connect: True when a build without a wire here is a mistake.
    """

    name: str
    position: Vec3
    direction: Vec3
    largest_wire_diameter: float
    must_connect: bool = False


class Keepout(Struct, frozen=True):
    """A volume in the part's frame that must stay free of material: a plug, a card, actuator travel.

    Args:
        name: such as ``card slot``.
        solid: the volume.
        reason: what happens there.
    """

    name: str
    solid: Primitive
    reason: str


class ExactMesh(Struct, frozen=True):
    """The mesh of an imported part in the part's frame, as bytes so that it can be compared and hashed.

    Args:
        vertices: little-endian doubles, x, y, z of each vertex, mm.
        faces: little-endian 32-bit vertex numbers, three of each facet.
    """

    vertices: bytes
    faces: bytes


ELECTRICAL = (
    "supply_v_min",
    "supply_v_max",
    "supply_terminals",
    "gives_v_min",
    "gives_v_max",
    "drives",
    "needs",
    "offers",
)
"""What a part may state of its electrical side, beside its sizes."""


class Part(Struct, frozen=True):
    """A bought component.

    Args:
        name: catalogue name, such as ``speaker 32 mm``.
        kind: one of the part kinds, such as ``speaker``.
        title: one line for people.
        sizes: named sizes, such as ``rim_diameter``.
        mass_g: mass, g.
        envelope: solids in the part's frame whose union encloses the part at nominal size.
        terminals: where wires are joined.
        keepouts: volumes that must stay free.
        source: where the figures come from.
        cautions: caution topics, keys of `chassis_gen.tables.cautions`.
        supply_v_min: lowest supply that it works at, V, or None where nothing is stated.
        supply_v_max: highest supply that it bears, V, or None where nothing is stated.
        supply_terminals: the plus and the minus that its supply goes to.
        gives_v_min: lowest voltage that its driving terminals give, V, or None where nothing is stated.
        gives_v_max: highest voltage that they give, V.
        drives: names of the terminals that put a level or a supply on their net.
        needs: interfaces that a part wired to it has to offer, such as ``i2c``.
        offers: interfaces that it offers.
        exact: the mesh that an imported part's envelope was taken from; the checks prefer it.
        antenna: where its antenna is, in the part's frame, mm; None where a keep-out of that name tells it, or
            where there is none.
    """

    name: str
    kind: str
    title: str
    sizes: Mapping[str, Measure]
    mass_g: float
    envelope: tuple[Primitive, ...]
    terminals: tuple[Terminal, ...] = ()
    keepouts: tuple[Keepout, ...] = ()
    source: str = "generic, measure your own"
    cautions: tuple[str, ...] = ()
    supply_v_min: float | None = None
    supply_v_max: float | None = None
    supply_terminals: tuple[str, ...] = ()
    gives_v_min: float | None = None
    gives_v_max: float | None = None
    drives: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    offers: tuple[str, ...] = ()
    exact: ExactMesh | None = None
    antenna: Vec3 | None = None

    def size(self, name: str) -> float:
        """Return a named size's value, mm.

        Raises:
            KeyError: the kind has no such size (a mistake in a section, not in the input).
        """
        return self.sizes[name].value

    def has(self, name: str) -> bool:
        """Return whether the part has a named size."""
        return name in self.sizes

    def terminal(self, name: str) -> Terminal | None:
        """Return the terminal of a name, or None."""
        return next((t for t in self.terminals if t.name == name), None)
