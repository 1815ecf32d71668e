"""The netlist of a build: the maker's own terminals, wires and nets, as wires with known sizes."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.plan.chassis import Connector, InLine, Net, Via, Wire
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.laying import Reserved
from chassis_gen.plan.model import Outer, PlacedTerminal, SectionPlan
from chassis_gen.plan.sums import on_grid
from chassis_gen.problems import InputError, nearest_name
from chassis_gen.shapes.frame import unit
from chassis_gen.tables.wire import (
    awg_diameter,
    connector_head,
    insulated_diameter,
    metric_diameter,
    nearest_gauge,
    wire_bodies,
    wiring_rule,
)

WIDE = 25.0
"""How far to each side of its clock a terminal of the maker's own is reached, degrees (chosen)."""
THICKEST = 1.2
"""Thickest bare conductor that a splice or a lug takes, mm (chosen: above AWG 20)."""

Distances = Callable[[Sequence[tuple[str, str]], Wire], Mapping[tuple[str, str], float]]
"""Gives the length of a wire between each of some pairs of terminals, mm."""


class OwnTerminals(Struct, frozen=True):
    """The maker's own terminals: placed in their sections, and the room they take there.

    Args:
        sections: the planned sections with those terminals.
        kinds: terminal id to ``tube``, ``splice`` or ``connector``.
        reserved: room in the lanes.
    """

    sections: tuple[SectionPlan, ...]
    kinds: Mapping[str, str]
    reserved: tuple[Reserved, ...]


def own_terminals(
    inputs: BuildInputs, sections: tuple[SectionPlan, ...], outer: Outer, gathering: Gathering
) -> OwnTerminals:
    """Return the sections with the maker's own terminals in them.

    Args:
        inputs: the build's files.
        sections: the planned sections, in file order.
        outer: the chassis's outer surface.
        gathering: takes unknown sections, names used twice and places outside a section.
    """
    kinds: dict[str, str] = {}
    reserved = []
    by_name = {s.name: s for s in sections}
    for i, row in enumerate(inputs.build.terminal):
        path: KeyPath = ("terminal", i)
        section = by_name.get(row.section)
        if section is None:
            gathering.reject(inputs, (*path, "section"), _unknown("section", row.section, by_name))
            continue
        id = f"{section.name}.{row.name}"
        if any(t.id == id for t in section.terminals):
            why = f'there is a terminal "{id}" already'
            gathering.reject(inputs, (*path, "name"), Rejection("duplicate-name", why, "a name of its own"))
            continue
        placed = _placed(inputs, path, row, section, outer, gathering)
        if placed is None:
            continue
        terminal, room = placed
        by_name[section.name] = replace(section, terminals=(*section.terminals, terminal))
        kinds[id] = row.kind
        if row.kind != "tube":
            reserved.append(room)
    return OwnTerminals(tuple(by_name[s.name] for s in sections), kinds, tuple(reserved))


def _placed(
    inputs: BuildInputs, path: KeyPath, row: Any, section: SectionPlan, outer: Outer, gathering: Gathering
) -> tuple[PlacedTerminal, Reserved] | None:
    """Return a terminal of the maker's own at its place under the surface, and the room that it takes."""
    body = wire_bodies()[row.kind]
    diameter = row.diameter or body.least_diameter
    length = row.length or body.length
    if row.connector is not None:
        try:
            head = connector_head(row.connector.pitch, row.connector.ways)
        except InputError as error:
            gathering.add(inputs.located((*path, "connector", "pitch"), error))
            return None
        diameter, length = math.hypot(head.width, head.thickness), head.length
    long = section.z1 - section.z0
    offset = long / 2 if row.offset is None else row.offset
    if not length / 2 <= offset <= long - length / 2:
        why = f'{length:g} mm of length don\'t lie in "{section.name}" there, which is {long:g} mm long'
        allowed = (
            f"{length / 2:g} to {long - length / 2:g}" if length <= long else f"a section of {length:g} mm"
        )
        key = "offset" if row.offset is not None else "section"
        gathering.reject(inputs, (*path, key), Rejection("not-allowed", why, allowed))
        return None
    z = on_grid(section.z0 + offset)
    near, far = on_grid(z - length / 2), on_grid(z + length / 2)
    radius = outer.smallest_radius(near, far) - diameter / 2
    c, s = unit(row.clock_deg)
    id = f"{section.name}.{row.name}"
    # across a hollow section a wire comes to it from anywhere
    hollow = any(g.open_room for g in section.galleries)
    exits = ((0.0, 360.0),) if hollow else ((row.clock_deg - WIDE, row.clock_deg + WIDE),)
    terminal = PlacedTerminal(id, (radius * c, radius * s, z), exits, THICKEST, must_connect=True)
    return terminal, Reserved(id, row.clock_deg, diameter, near, far)


def _unknown(what: str, name: str, known: Mapping[str, Any]) -> Rejection:
    allowed = ", ".join(sorted(known)) or f"none: there is no {what}"
    return Rejection("unknown-name", f'there is no {what} "{name}"', allowed, nearest_name(name, known))


def check_wire_places(inputs: BuildInputs, gathering: Gathering) -> None:
    """Gather ends of wires and nets that stand in no section of the build, where no terminal is known yet.

    Args:
        inputs: the build's files.
        gathering: takes them.
    """
    names = {s.name: s for s in inputs.build.section}
    ends: list[tuple[KeyPath, str]] = []
    for i, row in enumerate(inputs.build.wire):
        ends += [(("wire", i, "from"), row.start), (("wire", i, "to"), row.end)]
    for i, row in enumerate(inputs.build.net):
        ends += [(("net", i, "terminals", k), name) for k, name in enumerate(row.terminals)]
    for path, end in ends:
        if not any(end.startswith(f"{name}.") for name in names):
            gathering.reject(inputs, path, _unknown("section", end.split(".")[0], names))


def asked_wires(
    inputs: BuildInputs, sections: Sequence[SectionPlan], distances: Distances, gathering: Gathering
) -> tuple[tuple[Wire, ...], tuple[Net, ...]]:
    """Return the wires of the build file, those that make its nets after the others, and the nets.

    Args:
        inputs: the build's files.
        sections: the planned sections, whose terminals the wires name.
        distances: lengths of wires between terminals, for choosing a net's tree.
        gathering: takes unknown terminals, names used twice and sizes that aren't tabled.
    """
    terminals = {t.id: t for s in sections for t in s.terminals}
    asked = _Asked(inputs, terminals, {s.name: s for s in sections}, gathering)
    wires = [w for i, row in enumerate(inputs.build.wire) if (w := asked.wire(i, row)) is not None]
    asked.check_pairs()
    nets = []
    for i, row in enumerate(inputs.build.net):
        made = asked.net(i, row, distances)
        if made is not None:
            nets.append(made[0])
            wires += made[1]
    return tuple(wires), tuple(nets)


class _Asked:
    """Reads wires and nets, gathering what is wrong with them."""

    def __init__(
        self,
        inputs: BuildInputs,
        terminals: Mapping[str, PlacedTerminal],
        sections: Mapping[str, SectionPlan],
        gathering: Gathering,
    ) -> None:
        self.inputs, self.terminals, self.sections = inputs, terminals, sections
        self.gathering = gathering
        self.names: dict[str, int] = {}

    def reject(self, path: KeyPath, rejection: Rejection) -> None:
        self.gathering.reject(self.inputs, path, rejection)

    def _terminal(self, path: KeyPath, name: str) -> None:
        if name not in self.terminals:
            known = ", ".join(sorted(self.terminals)) or "none: no section has a part with terminals"
            nearest = nearest_name(name, self.terminals)
            self.reject(path, Rejection("unknown-name", f'there is no terminal "{name}"', known, nearest))

    def wire(self, i: int, row: Any) -> Wire | None:
        """Return the wire of a `[[wire]]` table, or None where its size isn't known."""
        path: KeyPath = ("wire", i)
        for key, value in (("from", row.start), ("to", row.end)):
            self._terminal((*path, key), value)
        if row.start == row.end:
            why = "the wire ends where it begins"
            self.reject((*path, "to"), Rejection("not-allowed", why, "another terminal"))
        name = row.name or f"wire {i + 1}"
        if name in self.names:
            why = f'two wires are called "{name}"'
            self.reject((*path, "name"), Rejection("duplicate-name", why, "a name of its own"))
        self.names[name] = i
        for k, via in enumerate(row.via):
            if via.section not in self.sections:
                self.reject((*path, "via", k, "section"), _unknown("section", via.section, self.sections))
        base = self._sized(path, row, name, row.start, row.end)
        if base is None:
            return None
        return replace(
            base,
            pinned_clock=row.clock_deg,
            key=f"wire[{i}]",
            twisted_with=row.twisted_with,
            ribbon=row.ribbon,
            via=tuple(Via(v.section, v.clock_deg) for v in row.via),
            start_connector=self._plug((*path, "from_connector", "pitch"), row.from_connector),
            end_connector=self._plug((*path, "to_connector", "pitch"), row.to_connector),
            start_have=row.have_from_mm,
            end_have=row.have_to_mm,
            serve_out=row.serve_out_mm,
            strain_relief=row.strain_relief,
            in_line=(*self._bodies(path, row, base), *_lead_splices(row, base)),
        )

    def _sized(self, path: KeyPath, row: Any, id: str, start: str, end: str) -> Wire | None:
        """Return a wire with its sizes from the tables."""
        gauge = row.gauge
        try:
            if gauge is not None:
                diameter, conductor = insulated_diameter(gauge, row.insulation), awg_diameter(gauge)
            else:
                diameter = metric_diameter(row.area_mm2, row.insulation)
                conductor = math.sqrt(4 * row.area_mm2 / math.pi)
        except InputError as error:
            key = "gauge_awg" if gauge is not None else "area_mm2"
            self.gathering.add(self.inputs.located((*path, key), error))
            return None
        if row.shielded:
            diameter += 2 * wiring_rule("shield_per_side").value
        return Wire(
            id,
            start,
            end,
            gauge if gauge is not None else nearest_gauge(row.area_mm2),
            row.insulation,
            row.colour,
            diameter,
            conductor,
            area_mm2=row.area_mm2 or None,
            current_a=row.current_a,
            shielded=row.shielded,
            bundle=row.bundle,
            keep_apart=row.keep_apart,
        )

    def _plug(self, path: KeyPath, row: Any) -> Connector | None:
        if row is None:
            return None
        try:
            head = connector_head(row.pitch, row.ways)
        except InputError as error:
            self.gathering.add(self.inputs.located(path, error))
            return None
        return Connector(row.pitch, row.ways, head.width, head.thickness, head.length)

    def _bodies(self, path: KeyPath, row: Any, wire: Wire) -> tuple[InLine, ...]:
        found = []
        for k, body in enumerate(row.in_line):
            if body.section is not None and body.section not in self.sections:
                self.reject(
                    (*path, "in_line", k, "section"), _unknown("section", body.section, self.sections)
                )
            size = in_line_body(body.kind, wire.outer_diameter)
            found.append(
                replace(
                    size,
                    diameter=body.diameter or size.diameter,
                    length=body.length or size.length,
                    section=body.section,
                    resistance_ohm=body.resistance_ohm,
                    rating_a=body.rating_a,
                )
            )
        return tuple(found)

    def check_pairs(self) -> None:
        """Gather wires twisted with a wire that there isn't, or that is twisted with another."""
        rows = self.inputs.build.wire
        for i, row in enumerate(rows):
            if row.twisted_with is None:
                continue
            path: KeyPath = ("wire", i, "twisted_with")
            name = row.name or f"wire {i + 1}"
            if row.twisted_with not in self.names or row.twisted_with == name:
                others = {n: k for n, k in self.names.items() if n != name}
                self.reject(path, _unknown("other wire", row.twisted_with, others))
            elif rows[self.names[row.twisted_with]].twisted_with != name:
                why = f'"{row.twisted_with}" isn\'t twisted with "{name}"'
                allowed = f'twisted_with = "{name}" in the other wire too'
                self.reject(path, Rejection("not-allowed", why, allowed))

    def net(self, i: int, row: Any, distances: Distances) -> tuple[Net, list[Wire]] | None:
        """Return the net of a `[[net]]` table and the wires that make it."""
        path: KeyPath = ("net", i)
        known = True
        for k, name in enumerate(row.terminals):
            self._terminal((*path, "terminals", k), name)
            known &= name in self.terminals
            if name in row.terminals[:k]:
                why = f'the net has "{name}" twice'
                self.reject((*path, "terminals", k), Rejection("duplicate-name", why, "each terminal once"))
                known = False
        if row.star is not None and row.star not in row.terminals:
            why = f"the star \"{row.star}\" isn't among the net's terminals"
            nearest = nearest_name(row.star, row.terminals)
            self.reject((*path, "star"), Rejection("unknown-name", why, ", ".join(row.terminals), nearest))
            known = False
        base = self._sized(path, row, row.name, row.terminals[0], row.terminals[1])
        if not known or base is None:
            return None
        pairs = _star(row) if row.star is not None else least_tree(row.terminals, distances, base)
        wires = []
        for k, (a, b) in enumerate(pairs):
            name = f"{row.name} {k + 1}"
            if name in self.names:
                why = f'a wire is called "{name}", which the net makes too'
                self.reject((*path, "name"), Rejection("duplicate-name", why, "another name"))
            self.names[name] = -1
            wires.append(replace(base, id=name, start=a, end=b, net=row.name, key=f"net[{i}]"))
        return Net(row.name, row.terminals, row.star, tuple(w.id for w in wires)), wires


def in_line_body(kind: str, wire_diameter: float) -> InLine:
    """Return a body of a kind in a wire, at its usual size.

    Args:
        kind: ``splice``, ``resistor``, ``fuse`` or ``connector``.
        wire_diameter: over the insulation, mm.
    """
    body = wire_bodies()[kind]
    return InLine(kind, max(body.least_diameter, wire_diameter + body.added_diameter), body.length)


def _lead_splices(row: Any, wire: Wire) -> tuple[InLine, ...]:
    """Return the splices to leads that parts have already."""
    splice = in_line_body("splice", wire.outer_diameter)
    ends = (("start", row.have_from_mm), ("end", row.have_to_mm))
    return tuple(replace(splice, end=end, lead=lead) for end, lead in ends if lead)


def _star(row: Any) -> list[tuple[str, str]]:
    return [(row.star, t) for t in row.terminals if t != row.star]


def least_tree(terminals: Sequence[str], distances: Distances, like: Wire) -> list[tuple[str, str]]:
    """Return the pairs of terminals that join all of them with the least wire: Prim's tree.

    Args:
        terminals: ids.
        distances: lengths of wires between terminals.
        like: a wire of the size that is meant.
    """
    length = distances(list(itertools.combinations(terminals, 2)), like)
    joined, pairs = [terminals[0]], list[tuple[str, str]]()
    while len(joined) < len(terminals):
        a, b = min(
            ((a, b) for a in joined for b in terminals if b not in joined),
            key=lambda p: (length[p] if p in length else length[p[1], p[0]], terminals.index(p[1])),
        )
        joined.append(b)
        pairs.append((a, b))
    return pairs
