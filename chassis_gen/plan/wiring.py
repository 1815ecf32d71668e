"""The wires of a build laid over its ground: rules, obstacles and rows of the build file put together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.lanes import lay_wires, whole_chassis_obstacles, wire_lengths
from chassis_gen.plan.laying import Ground, Reserved, SectionRow, Wiring, WiringRules
from chassis_gen.plan.model import Outer, SectionPlan
from chassis_gen.plan.netlist import Distances
from chassis_gen.plan.reliefs import relief_findings
from chassis_gen.plan.transfer import transfer_obstacles
from chassis_gen.plan.tube import Tube
from chassis_gen.sections.base import Opening, Setting
from chassis_gen.tables.wire import wiring_rule


def _bore_radius(tube: Tube, opening: Opening) -> float:
    half = opening.diameter / 2
    return tube.smallest_bore(opening.station - half, opening.station + half).diameter / 2


def ground_of(
    inputs: BuildInputs,
    sections: tuple[SectionPlan, ...],
    outer: Outer,
    tube: Tube,
    reserved: tuple[Reserved, ...],
    setting: Setting,
) -> Ground:
    """Return what the wires of a build are laid over.

    Args:
        inputs: the build's files.
        sections: the planned sections in line, with what stands beside them.
        outer: the chassis's outer surface.
        tube: the tube, whose openings bar lanes.
        reserved: room of the maker's own terminals.
        setting: see `Setting`.
    """
    openings = [
        (o.station, o.clock_deg, o.diameter / 2, _bore_radius(tube, o))
        for o in tube.openings
        if sections[0].z0 < o.station + o.diameter / 2 and o.station - o.diameter / 2 < sections[-1].z1
    ]
    return Ground(
        sections,
        outer,
        (
            *whole_chassis_obstacles(outer, openings, sections[0].z0, sections[-1].z1),
            *transfer_obstacles(tube, sections),
        ),
        frozenset(s.name for s in inputs.build.section if s.lanes == "closed"),
        setting.rules.least_wall,
        _rules(inputs),
        reserved,
        _rows(inputs),
        setting.fitter,
    )


def _rules(inputs: BuildInputs) -> WiringRules:
    apart = inputs.build.wiring.keep_apart
    return WiringRules(
        open_fill=wiring_rule("open_fill").value,
        closed_fill=wiring_rule("closed_fill").value,
        closed_fill_silicone=wiring_rule("silicone_long_fill").value,
        long_closed=wiring_rule("silicone_long_length").value,
        least_closed=wiring_rule("closed_lane_min").value,
        mouth=wiring_rule("mouth_round").value,
        cover=wiring_rule("groove_cover").value,
        end_allowance=wiring_rule("end_allowance").value,
        round_up=wiring_rule("cut_round_up").value,
        bend=wiring_rule("bend_radius_diameters").value,
        keep_apart=wiring_rule("keep_apart_distance").value if apart is None else apart,
        stagger=wiring_rule("splice_stagger").value,
        twist=wiring_rule("twist_lengthening").value,
        slack_fill=wiring_rule("slack_fill").value,
        relief=wiring_rule("strain_relief_distance").value,
    )


def _rows(inputs: BuildInputs) -> Mapping[str, SectionRow]:
    rows = {}
    for i, s in enumerate(inputs.build.section):
        length = getattr(s, "length", None)
        roomier = tuple(replace(r, key=f"section[{i}].{r.key}") for r in s.roomier())
        given = float(length) if isinstance(length, int | float) else None
        rows[s.name] = SectionRow(i, s.kind, given, roomier)
    return rows


def distances_over(ground: Ground) -> Distances:
    """Return a function that gives the lengths of wires over a ground on which nothing lies yet.

    Args:
        ground: from `ground_of`.
    """
    return lambda pairs, like: wire_lengths(pairs, like, ground)


def lay_build(ground: Ground, wires: Sequence[Wire], sections: Sequence[SectionPlan]) -> Wiring:
    """Return a path for every wire of the build, or nothing while a section can't be made.

    Args:
        ground: from `ground_of`.
        wires: all wires that were asked for.
        sections: all planned sections.
    """
    if any(f.blocks_solids for s in ground.sections for f in s.findings):
        return Wiring((), (), {}, ())
    wiring = lay_wires(wires, ground)
    return replace(wiring, findings=(*wiring.findings, *relief_findings(wiring.routes, sections)))
