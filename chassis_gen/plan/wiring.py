"""The wires of a build: what the maker asked for, and the ground that they are laid over."""

from __future__ import annotations

from collections.abc import Sequence

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.codes import Rejection
from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.lanes import lay_wires, whole_chassis_obstacles
from chassis_gen.plan.laying import Ground, Wiring, WiringRules
from chassis_gen.plan.model import Outer, PlacedTerminal, SectionPlan
from chassis_gen.plan.tube import Tube
from chassis_gen.problems import InputError, nearest_name
from chassis_gen.sections.base import Opening, Setting
from chassis_gen.tables.wire import awg_diameter, insulated_diameter, wiring_rule


def asked_wires(
    inputs: BuildInputs, sections: Sequence[SectionPlan], gathering: Gathering
) -> tuple[Wire, ...]:
    """Return the wires of the build file.

    Args:
        inputs: the build's files.
        sections: the planned sections, whose terminals the wires name.
        gathering: takes unknown terminals, names used twice and gauges that aren't tabled.
    """
    terminals = {t.id: t for s in sections for t in s.terminals}
    wires = []
    names: set[str] = set()
    for i, row in enumerate(inputs.build.wire):
        for key, value in (("from", row.start), ("to", row.end)):
            if value not in terminals:
                rejection = Rejection(
                    "unknown-name",
                    f'there is no terminal "{value}"',
                    ", ".join(sorted(terminals)) or "none: no section has a part with terminals",
                    nearest_name(value, terminals),
                )
                gathering.reject(inputs, ("wire", i, key), rejection)
        if row.start == row.end:
            rejection = Rejection("not-allowed", "the wire ends where it begins", "another terminal")
            gathering.reject(inputs, ("wire", i, "to"), rejection)
        name = row.name or f"wire {i + 1}"
        if name in names:
            rejection = Rejection("duplicate-name", f'two wires are called "{name}"', "a name of its own")
            gathering.reject(inputs, ("wire", i, "name"), rejection)
        names.add(name)
        try:
            diameter = insulated_diameter(row.gauge_awg, row.insulation)
        except InputError as error:
            gathering.add(inputs.located(("wire", i, "gauge_awg"), error))
            continue
        wires.append(
            Wire(
                name,
                row.start,
                row.end,
                row.gauge_awg,
                row.insulation,
                row.colour,
                diameter,
                awg_diameter(row.gauge_awg),
                row.clock_deg,
            )
        )
    return tuple(wires)


def terminal_findings(wires: Sequence[Wire], sections: Sequence[SectionPlan]) -> tuple[Finding, ...]:
    """Return errors for wires too thick for a terminal, and warnings for terminals that lack their wire.

    Args:
        wires: from `asked_wires`.
        sections: the planned sections.
    """
    terminals = {t.id: t for s in sections for t in s.terminals}
    found = []
    for i, wire in enumerate(wires):
        for t in (terminals[wire.start], terminals[wire.end]):
            if wire.conductor_diameter > t.largest_wire_diameter:
                found.append(_too_thick(i, wire, t))
    ends = {end for wire in wires for end in (wire.start, wire.end)}
    for t in terminals.values():
        if t.must_connect and t.id not in ends:
            remedy = Remedy(None, None, f"add a [[wire]] from or to {t.id}")
            message = f"no wire ends at {t.id}"
            found.append(Finding("warning", "terminal-open", t.id, message, candidates=(remedy,)))
    return tuple(found)


def _too_thick(index: int, wire: Wire, terminal: PlacedTerminal) -> Finding:
    d, most = wire.conductor_diameter, terminal.largest_wire_diameter
    gauges = [g for g in range(wire.gauge_awg + 2, 33, 2) if awg_diameter(g) <= most]
    return Finding(
        "error",
        "wire-thick",
        terminal.id,
        f"{wire.id}: AWG {wire.gauge_awg} has a {d:.2f} mm conductor, {terminal.id} takes {most:.2f} mm",
        {"conductor_diameter": d, "largest_wire_diameter": most},
        candidates=tuple(Remedy(f"wire[{index}].gauge_awg", g, f"use AWG {g} for {wire.id}") for g in gauges),
    )


def _bore_radius(tube: Tube, opening: Opening) -> float:
    half = opening.diameter / 2
    return tube.smallest_bore(opening.station - half, opening.station + half).diameter / 2


def lay_build(
    inputs: BuildInputs,
    sections: tuple[SectionPlan, ...],
    outer: Outer,
    tube: Tube,
    wires: Sequence[Wire],
    setting: Setting,
) -> Wiring:
    """Return a path for every wire of the build, or nothing while a section can't be made.

    Args:
        inputs: the build's files.
        sections: the planned sections.
        outer: the chassis's outer surface.
        tube: the tube, whose openings bar lanes.
        wires: from `asked_wires`.
        setting: see `Setting`.
    """
    if any(f.blocks_solids for s in sections for f in s.findings):
        return Wiring((), (), {}, ())
    openings = [
        (o.station, o.clock_deg, o.diameter / 2, _bore_radius(tube, o))
        for o in tube.openings
        if sections[0].z0 < o.station + o.diameter / 2 and o.station - o.diameter / 2 < sections[-1].z1
    ]
    ground = Ground(
        sections,
        outer,
        whole_chassis_obstacles(outer, openings, sections[0].z0, sections[-1].z1),
        frozenset(s.name for s in inputs.build.section if s.lanes == "closed"),
        setting.rules.least_wall,
        WiringRules(
            open_fill=wiring_rule("open_fill").value,
            closed_fill=wiring_rule("closed_fill").value,
            closed_fill_silicone=wiring_rule("silicone_long_fill").value,
            long_closed=wiring_rule("silicone_long_length").value,
            least_closed=wiring_rule("closed_lane_min").value,
            mouth=wiring_rule("mouth_round").value,
            cover=wiring_rule("groove_cover").value,
            end_allowance=wiring_rule("end_allowance").value,
            round_up=wiring_rule("cut_round_up").value,
        ),
    )
    return lay_wires(wires, ground)
