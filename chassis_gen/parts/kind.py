"""What a part kind is: its size names with bounds, and the functions that turn sizes into solids."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

from msgspec import Struct

from chassis_gen.parts.model import Keepout, Terminal
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Primitive

Sizes: TypeAlias = Mapping[str, float]
Terminals: TypeAlias = tuple[Terminal, ...]

UP: Vec3 = (0.0, 0.0, 1.0)
DOWN: Vec3 = (0.0, 0.0, -1.0)


class SizeRule(Struct, frozen=True):
    """One named size of a kind.

    Args:
        name: such as ``rim_diameter``.
        meaning: one line for people.
        low: smallest value that is accepted, in `unit`.
        high: largest value that is accepted, in `unit`.
        unit: ``mm``, ``N`` or ``count``.
        default: value where a part doesn't state it, or None.
        optional: True when a part may lack it and then lacks the feature.
    """

    name: str
    meaning: str
    low: float
    high: float
    unit: str = "mm"
    default: float | None = None
    optional: bool = False

    @property
    def required(self) -> bool:
        """Return whether a part must state the size."""
        return self.default is None and not self.optional

    def with_unit(self, value: float) -> str:
        """Return a value as text with the size's unit."""
        return f"{value:g}" if self.unit == "count" else f"{value:g} {self.unit}"


class Limit(Struct, frozen=True):
    """An upper limit of one size that follows from other sizes.

    Args:
        size: the size that is limited.
        at_most: its largest value, in the size's unit.
        why: the sizes it follows from, as text.
    """

    size: str
    at_most: float
    why: str


def _no_terminals(sizes: Sizes) -> Terminals:
    return ()


def _no_keepouts(sizes: Sizes, terminals: Terminals) -> tuple[Keepout, ...]:
    return ()


def _no_limits(sizes: Sizes) -> tuple[Limit, ...]:
    return ()


def _unmoved(position: Vec3, old: Sizes, new: Sizes) -> Vec3:
    return position


class Kind(Struct, frozen=True):
    """A kind of part.

    Args:
        name: such as ``speaker``.
        frame: where the origin and the axes of its frame lie, one sentence.
        rules: its sizes.
        envelope: sizes to the solids that enclose the part.
        terminals: sizes to the places where wires are joined.
        keepouts: sizes and terminals to the volumes that must stay free.
        limits: sizes to the upper limits that follow from other sizes.
        together: groups of optional sizes that only make sense all at once.
        carried: where a terminal that a part states for itself goes when sizes are overridden.
        cautions: caution topics, keys of `chassis_gen.tables.cautions`.
    """

    name: str
    frame: str
    rules: tuple[SizeRule, ...]
    envelope: Callable[[Sizes], tuple[Primitive, ...]]
    terminals: Callable[[Sizes], Terminals] = _no_terminals
    keepouts: Callable[[Sizes, Terminals], tuple[Keepout, ...]] = _no_keepouts
    limits: Callable[[Sizes], tuple[Limit, ...]] = _no_limits
    together: tuple[tuple[str, ...], ...] = ()
    carried: Callable[[Vec3, Sizes, Sizes], Vec3] = _unmoved
    cautions: tuple[str, ...] = ()

    def rule(self, name: str) -> SizeRule | None:
        """Return the rule of a size name, or None when the kind has no such size."""
        return next((r for r in self.rules if r.name == name), None)

    @property
    def size_names(self) -> tuple[str, ...]:
        """Return the names of all sizes, in the order in which they are listed."""
        return tuple(r.name for r in self.rules)


def ordered(sizes: Sizes, *pairs: tuple[str, str]) -> tuple[Limit, ...]:
    """Return the limits that make the first size of each pair at most the second.

    Args:
        sizes: values by name.
        pairs: (smaller, larger) size names; a pair with an absent size is left out.
    """
    return tuple(Limit(a, sizes[b], b) for a, b in pairs if a in sizes and b in sizes)


WIRE = SizeRule(
    "largest_wire_diameter", "thickest bare conductor that its holes or pads take", 0.1, 3.0, default=0.85
)
