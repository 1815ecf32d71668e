"""What the maker asked of the electrics, checked against the parts and wires that there are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from msgspec import Struct, field

from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.model import PlacedPart, SectionPlan
from chassis_gen.problems import nearest_name
from chassis_gen.tables.electrical import contact_rows, electrical_rule, figure_names

PAIR = " / "
TUBE = "tube"
SUPPLIES = ("cell", "wired_pack")
"""Part kinds that feed a build."""
PORT_BOARD = "port_board"
"""Kind of the boards with a connector that a charge current may come in by, at their plus and minus."""


class Draw(Struct, frozen=True):
    """What one part or terminal pair draws in a state: one figure is set, the others are None.

    Args:
        of: part id, or two terminal ids with " / " between them.
        current_a: A.
        power_w: W.
        series_ohm: ohm, before an LED.
    """

    of: str
    current_a: float | None = None
    power_w: float | None = None
    series_ohm: float | None = None


class State(Struct, frozen=True):
    """A state of the build.

    Args:
        name: what reports call it.
        closed: part ids of the switches that are closed.
        plug_in: part ids of the jacks that hold a plug.
        level: ``full``, ``nominal`` or ``cut-off``: the charge that is reported.
        draws: what is drawn.
        charge_at: part id where a charge current is fed in, or None.
        charge_a: that current, A.
    """

    name: str
    closed: tuple[str, ...] = ()
    plug_in: tuple[str, ...] = ()
    level: str = "nominal"
    draws: tuple[Draw, ...] = ()
    charge_at: str | None = None
    charge_a: float = 0.0


class ElectricsAsked(Struct, frozen=True):
    """[electrics] and the states of a build.

    Args:
        states: in file order.
        ambient_c: round the tube, C.
        usable_share: of the cells' capacity, 0 to 1.
        converter_efficiency: of boards' converters, 0 to 1.
        cutoff_v: per cell, V, or None for the cell's own.
        charger_v: end voltage of a regulated charger, V, or None where none is stated.
        balance_leads: True when the cells of a series string are balanced.
        insulated: terminals, parts, holes or ``tube`` under a sleeve or cover.
        figures: measured figures by part id or catalogue name.
    """

    states: tuple[State, ...] = ()
    ambient_c: float = 25.0
    usable_share: float = 0.85
    converter_efficiency: float = 0.9
    cutoff_v: float | None = None
    charger_v: float | None = None
    balance_leads: bool = False
    insulated: tuple[str, ...] = ()
    figures: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def asked_electrics(
    inputs: BuildInputs, sections: Sequence[SectionPlan], gathering: Gathering
) -> ElectricsAsked:
    """Return the electrics of the build file.

    Args:
        inputs: the build's files.
        sections: the planned sections.
        gathering: takes names that there are not and names used twice.
    """
    table, rows = inputs.build.electrics, inputs.build.state
    known = _Known.of(sections)
    _check_states(inputs, known, gathering)
    for i, name in enumerate(table.insulated):
        known.check(inputs, ("electrics", "insulated", i), name, known.bare, "bare thing", gathering)
    _check_figures(inputs, known, gathering)
    share, efficiency = table.usable_share, table.converter_efficiency
    return ElectricsAsked(
        states=tuple(_state(row) for row in rows),
        ambient_c=table.ambient_c,
        usable_share=electrical_rule("usable_share").value if share is None else share,
        converter_efficiency=(
            electrical_rule("converter_efficiency").value if efficiency is None else efficiency
        ),
        cutoff_v=table.cutoff_v,
        charger_v=table.charger_v,
        balance_leads=table.balance_leads,
        insulated=table.insulated,
        figures=table.part,
    )


def _state(row: Any) -> State:
    draws = tuple(Draw(of, d.current_a, d.power_w, d.series_ohm) for of, d in row.draws.items())
    charge = row.charge
    return State(
        row.name,
        row.closed,
        row.plug_in,
        row.cell,
        draws,
        charge.at if charge else None,
        charge.current_a if charge else 0.0,
    )


class _Known(Struct, frozen=True):
    """The names that a build file's electrics may use."""

    parts: Mapping[str, PlacedPart]
    terminals: tuple[str, ...]
    holes: tuple[str, ...]

    @staticmethod
    def of(sections: Sequence[SectionPlan]) -> _Known:
        """Return the names of a planned build."""
        return _Known(
            {p.id: p for s in sections for p in s.parts},
            tuple(t.id for s in sections for t in s.terminals),
            tuple(h.id for s in sections for h in s.holes),
        )

    @property
    def bare(self) -> tuple[str, ...]:
        """Return all that can be declared insulated."""
        return (*self.terminals, *self.parts, *self.holes, TUBE)

    def having(self, closed_at_rest: bool) -> tuple[str, ...]:
        """Return the ids of parts that carry a contact of that sort."""
        kinds = {row.kind for row in contact_rows() if row.closed_at_rest == closed_at_rest}
        return tuple(i for i, p in self.parts.items() if p.part.kind in kinds)

    def check(
        self,
        inputs: BuildInputs,
        path: KeyPath,
        name: str,
        names: Iterable[str],
        what: str,
        gathering: Gathering,
    ) -> None:
        """Gather a name that isn't one of some names."""
        allowed = tuple(names)
        if name not in allowed:
            rejection = Rejection(
                "unknown-name",
                f'there is no {what} "{name}"',
                ", ".join(sorted(allowed)) or "none in this build",
                nearest_name(name, allowed),
            )
            gathering.reject(inputs, path, rejection)


def _check_states(inputs: BuildInputs, known: _Known, gathering: Gathering) -> None:
    names: set[str] = set()
    supplies = [i for i, p in known.parts.items() if p.part.kind in SUPPLIES]
    ports = [i for i, p in known.parts.items() if p.part.kind == PORT_BOARD]
    feeders = [*supplies, *known.having(closed_at_rest=True), *ports]
    for i, row in enumerate(inputs.build.state):
        at: KeyPath = ("state", i)
        if row.name in names:
            rejection = Rejection(
                "duplicate-name", f'two states are called "{row.name}"', "a name of its own"
            )
            gathering.reject(inputs, (*at, "name"), rejection)
        names.add(row.name)
        for key, wanted, sort in (("closed", row.closed, False), ("plug_in", row.plug_in, True)):
            what = "jack with a cut-off" if sort else "switch"
            for k, name in enumerate(wanted):
                known.check(inputs, (*at, key, k), name, known.having(sort), what, gathering)
        if row.charge is not None:
            path = (*at, "charge", "at")
            known.check(inputs, path, row.charge.at, feeders, "jack, port board or cell", gathering)
        for of, draw in row.draws.items():
            _check_draw(inputs, (*at, "draws", of), of, draw, known, gathering)


def _check_draw(
    inputs: BuildInputs, path: KeyPath, of: str, draw: Any, known: _Known, gathering: Gathering
) -> None:
    if PAIR in of:
        if draw.series_ohm is not None:
            rejection = Rejection("not-allowed", "a terminal pair is no LED", "current_a or power_w")
            gathering.reject(inputs, path, rejection)
        for end in of.split(PAIR, 1):
            known.check(inputs, path, end, known.terminals, "terminal", gathering)
        return
    known.check(inputs, path, of, known.parts, "part", gathering)
    part = known.parts.get(of)
    if part is None:
        return
    if part.part.kind in SUPPLIES:
        gathering.reject(inputs, path, Rejection("not-allowed", f"{of} feeds, it draws nothing", "a load"))
    elif draw.series_ohm is not None and "forward_v" not in figure_names(part.part.kind):
        rejection = Rejection("not-allowed", f"{of} is no LED", "current_a or power_w, or an LED's id")
        gathering.reject(inputs, path, rejection)
    elif not any(t.startswith(f"{of}.") for t in known.terminals):
        rejection = Rejection(
            "not-allowed", f"{of} has no terminals, it draws nothing", "a part with terminals"
        )
        gathering.reject(inputs, path, rejection)


def _check_figures(inputs: BuildInputs, known: _Known, gathering: Gathering) -> None:
    names = (*known.parts, *(p.part.name for p in known.parts.values()))
    for of, figures in inputs.build.electrics.part.items():
        path: KeyPath = ("electrics", "part", of)
        known.check(inputs, path, of, names, "part", gathering)
        kinds = {p.part.kind for i, p in known.parts.items() if of in (i, p.part.name)}
        for name in figures if kinds else ():
            allowed = tuple(n for kind in kinds for n in figure_names(kind))
            known.check(inputs, (*path, name), name, allowed, "electrical figure", gathering)
