"""The finish: coats on the printed surfaces, what of it each sum takes, and what is masked off."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal, get_args

from msgspec import Struct

from chassis_gen.params.codes import Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.model import Outer, SectionPlan
from chassis_gen.plan.sums import FINISH, Dimension, Term
from chassis_gen.problems import nearest_name

Group = Literal["bearing", "seats", "spigots", "holes"]
"""What a fitted surface is: the bands in the tube's bore, pockets that take something, outsides that go into
something printed, round holes."""

BEARING_DIMENSION = "chassis.bearing_diameter"
_MASKED = "masked off: "


class Coat(Struct, frozen=True):
    """One coat: its name and its thickness on each surface, mm."""

    name: str
    thickness: float


class Finish(Struct, frozen=True):
    """The coats of a build and where they go.

    Args:
        coats: in the order in which they go on.
        outside: True where outside surfaces are coated.
        inside: True where bores and pockets are.
        mask: groups, sections or dimensions that are kept free of every coat.
    """

    coats: tuple[Coat, ...] = ()
    outside: bool = True
    inside: bool = True
    mask: tuple[str, ...] = ()

    @property
    def thickness(self) -> float:
        """Return the thickness of all coats together, mm."""
        return sum(c.thickness for c in self.coats)

    def terms(self, dimension: str, sides: int, group: Group) -> tuple[Term, ...]:
        """Return what a fitted size leaves room for: a term per coat, or one that says that it is masked.

        Args:
            dimension: its name.
            sides: coats that it crosses: 2 for a bore, -2 for an outside, 0 for none.
            group: what kind of surface it is.
        """
        coats = [c for c in self.coats if c.thickness]
        if not coats or not sides or not (self.inside if sides > 0 else self.outside):
            return ()
        by = self._masked_by(dimension, group)
        if by is not None:
            kept_off = " and ".join(c.name for c in coats)
            return (Term(FINISH, 0.0, f"{_MASKED}{by}; keep {kept_off} off"),)
        return tuple(Term(FINISH, sides * c.thickness, f"{c.name} on both sides") for c in coats)

    def _masked_by(self, dimension: str, group: Group) -> str | None:
        """Return the entry of the mask that a dimension falls under, or None."""
        own = "bearing" if dimension.startswith(BEARING_DIMENSION) else group
        names = (own, dimension, dimension.rpartition(".")[0])
        return next((m for m in self.mask if m in names), None)


NO_FINISH = Finish()


def single_coat(thickness: float) -> Finish:
    """Return a finish of one coat on every fitted surface, or none at all.

    Args:
        thickness: mm.
    """
    return Finish((Coat("coating", thickness),)) if thickness else NO_FINISH


class Masked(Struct, frozen=True):
    """A surface that the maker masks off before the finish goes on.

    Args:
        what: the surface, in words.
        section: section or ``chassis``.
        z0: from this station, mm.
        z1: to this station, mm.
        dimension: its dimension's name.
        size: as drawn, mm.
    """

    what: str
    section: str
    z0: float
    z1: float
    dimension: str
    size: float


def masked_surfaces(
    sums: Mapping[str, Dimension], sections: Sequence[SectionPlan], outer: Outer
) -> tuple[Masked, ...]:
    """Return what has to be masked off, by station.

    Args:
        sums: all labelled sums of the build.
        sections: all planned sections.
        outer: the chassis's outer surface; its bands are masked one by one.
    """
    found = []
    for d in sums.values():
        # a section's length that takes over a seat's terms is no surface of its own
        if not _is_masked(d) or d.name.endswith(".length"):
            continue
        for section, z0, z1 in _places(d, sections, outer):
            found.append(Masked(d.note or d.name, section, z0, z1, d.name, d.total))
    return tuple(sorted(found, key=lambda m: (m.z0, m.z1, m.dimension)))


def _is_masked(d: Dimension) -> bool:
    return any(t.label == FINISH and t.source.startswith(_MASKED) for t in d.terms)


def _places(
    d: Dimension, sections: Sequence[SectionPlan], outer: Outer
) -> Iterable[tuple[str, float, float]]:
    if not d.name.startswith(BEARING_DIMENSION):
        return [(s.name, s.z0, s.z1) for s in sections if d.name.startswith(f"{s.name}.")]
    return [("chassis", s.z0, s.z1) for s in outer.steps if s.bearing and abs(2 * s.radius - d.total) < 1e-3]


def check_mask(
    inputs: BuildInputs, sums: Mapping[str, Dimension], sections: Sequence[SectionPlan], gathering: Gathering
) -> None:
    """Gather entries of the mask that name nothing.

    Args:
        inputs: the build's files.
        sums: all labelled sums of the build.
        sections: all planned sections.
        gathering: takes the problems.
    """
    groups = get_args(Group)
    names = {*groups, *(s.name for s in sections), *sums}
    for i, entry in enumerate(inputs.build.finish.mask):
        if entry not in names:
            rejection = Rejection(
                "unknown-name",
                f'there is no surface "{entry}" to mask off',
                f"{', '.join(groups)}, a section, or a dimension that `chassis-gen why BUILD` lists",
                nearest_name(entry, names),
            )
            gathering.reject(inputs, ("finish", "mask", i), rejection)
