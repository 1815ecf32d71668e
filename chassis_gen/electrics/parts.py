"""Electrical sides of the seated parts: figures, supplies, pins, contacts, and what their terminals are for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec import Struct

from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import PORT_BOARD, SUPPLIES
from chassis_gen.plan.model import PlacedPart
from chassis_gen.tables.electrical import contact_rows, figures_of

BOARD = "board"
JACK = "charge_jack"
PORTS = (JACK, PORT_BOARD)
"""Part kinds that a charge current comes in by."""
LEDS = ("led_slug", "led_round")
SPEAKER = "speaker"

_PIN_PAIRS = (("battery plus", "battery minus"), ("supply plus", "supply minus"), ("plus", "minus"))
_GROUND = "ground"
_PLUS, _MINUS = " plus", " minus"


class Cell(Struct, frozen=True):
    """One cell or pack of a supply: its part and figures."""

    id: str
    part: PlacedPart
    figures: Mapping[str, float]

    def emf(self, level: str) -> float:
        """Return the open-circuit voltage at a level of charge, V."""
        return self.figures[{"full": "full_v", "nominal": "nominal_v", "cut-off": "cutoff_v"}[level]]


class Supply(Struct, frozen=True):
    """The cells of one section, in series between its two terminals.

    Args:
        section: owner.
        plus: terminal id.
        minus: terminal id.
        cells: from minus to plus.
    """

    section: str
    plus: str
    minus: str
    cells: tuple[Cell, ...]


class Contact(Struct, frozen=True):
    """A contact of a seated part: two terminal ids, and how it stands at rest."""

    part: str
    a: str
    b: str
    closed_at_rest: bool
    ohm: float


def figures(plan: ChassisPlan, part: PlacedPart) -> Mapping[str, float]:
    """Return a part's electrical figures: generic ones, the part's own, the build file's by name and by id.

    Args:
        plan: the build.
        part: a seated part.
    """
    asked = plan.electrics.figures
    stated = {"supply_v_min": part.part.supply_v_min, "supply_v_max": part.part.supply_v_max}
    found = {
        **figures_of(part.part.kind, part.part.name),
        **{name: value for name, value in stated.items() if value is not None},
        **asked.get(part.part.name, {}),
        **asked.get(part.id, {}),
    }
    if part.part.kind in SUPPLIES and plan.electrics.cutoff_v is not None:
        found["cutoff_v"] = plan.electrics.cutoff_v
    return found


def part_named(plan: ChassisPlan, id: str) -> PlacedPart | None:
    """Return a seated part by id, or None."""
    return next((p for p in plan.parts if p.id == id), None)


def supplies(plan: ChassisPlan) -> tuple[Supply, ...]:
    """Return the supplies of a build; several cells in one section are in series."""
    found = []
    for section in plan.sections:
        cells = tuple(Cell(p.id, p, figures(plan, p)) for p in section.parts if p.part.kind in SUPPLIES)
        ends = {t.id for t in section.terminals}
        plus, minus = f"{section.name}.plus", f"{section.name}.minus"
        if cells and {plus, minus} <= ends:
            found.append(Supply(section.name, plus, minus, cells))
    return tuple(found)


def pins(plan: ChassisPlan, id: str) -> tuple[str, str] | None:
    """Return the two terminals between which a part takes its supply, plus first, or None.

    Args:
        plan: the build.
        id: part id.
    """
    known = plan.terminals
    part = part_named(plan, id)
    stated = part.part.supply_terminals if part else ()
    named = ((stated[0], stated[1]),) if len(stated) == 2 else ()
    pairs = ((f"{id}.{a}", f"{id}.{b}") for a, b in (*named, *_PIN_PAIRS))
    return next((p for p in pairs if p[0] in known and p[1] in known), None)


def grounds(plan: ChassisPlan, id: str) -> tuple[str, ...]:
    """Return the terminals of a board that its copper ties to its minus pin: those called a ground."""
    return tuple(t for t in plan.terminals if t.startswith(f"{id}.") and t.endswith(_GROUND))


def outputs(plan: ChassisPlan, id: str) -> tuple[str, ...]:
    """Return the terminals of a board other than its supply pins and grounds."""
    taken = {*(pins(plan, id) or ()), *grounds(plan, id)}
    return tuple(t for t in plan.terminals if t.startswith(f"{id}.") and t not in taken)


def output_pairs(plan: ChassisPlan) -> Iterator[tuple[PlacedPart, str, str]]:
    """Yield the outputs of boards that come as a plus and a minus, such as ``light plus`` and ``light minus``.

    Args:
        plan: the build.
    """
    for part in plan.parts:
        own = pins(plan, part.id)
        for t in part.part.terminals:
            plus = f"{part.id}.{t.name}"
            minus = f"{plus.removesuffix(_PLUS)}{_MINUS}"
            if t.name.endswith(_PLUS) and minus in plan.terminals and own and plus not in own:
                yield part, plus, minus


def contacts(plan: ChassisPlan) -> tuple[Contact, ...]:
    """Return the contacts that the seated parts carry."""
    rows = [(p, row) for p in plan.parts for row in contact_rows() if row.kind == p.part.kind]
    return tuple(
        Contact(
            p.id,
            f"{p.id}.{row.a}",
            f"{p.id}.{row.b}",
            row.closed_at_rest,
            figures(plan, p)["contact_ohm"],
        )
        for p, row in rows
    )
