"""The planner: from a build's files to the whole plan, each decision after those that it depends on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.plan.antenna import antenna_findings, with_antenna_facts
from chassis_gen.plan.beside import (
    all_stands,
    check_companions,
    hollow_findings,
    hosts_of,
    overlap_findings,
    with_companions,
)
from chassis_gen.plan.chassis import ChassisPlan, PiecePlan
from chassis_gen.plan.electrics import asked_electrics
from chassis_gen.plan.finish import check_mask, masked_surfaces
from chassis_gen.plan.flat_edges import flat_edge_findings
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.laying import MOST_ATTEMPTS
from chassis_gen.plan.layout import Stand
from chassis_gen.plan.model import Outer, SectionPlan
from chassis_gen.plan.names import check_names
from chassis_gen.plan.netlist import asked_wires, check_wire_places, own_terminals
from chassis_gen.plan.netlist_checks import netlist_findings, terminal_findings
from chassis_gen.plan.noted import basis_findings, trial_findings
from chassis_gen.plan.outer_ground import OuterGround
from chassis_gen.plan.outer_work import check_outer_work, lay_round_texts, with_outer_work
from chassis_gen.plan.pieces import check_piece_names, plan_pieces, tube_fits
from chassis_gen.plan.printing import compensation_words, printer_findings
from chassis_gen.plan.setting import make_setting
from chassis_gen.plan.standing import bands, contexts_of, lengths_of, pin_of, section_plans, stands_in_line
from chassis_gen.plan.sums import CHOSEN, Dimension, Term, shown
from chassis_gen.plan.surface import Bearing, Reach, bore_reaches, outer_surface
from chassis_gen.plan.transfer import transfer_findings
from chassis_gen.plan.tube import Tube
from chassis_gen.plan.tube_building import build_tube
from chassis_gen.plan.tube_findings import tube_findings
from chassis_gen.plan.wiring import distances_over, ground_of
from chassis_gen.problems import InputError, Problem, nearest_name
from chassis_gen.sections.base import SectionKind, Setting, dimensions
from chassis_gen.shapes.recipe import Step


def plan_build(
    inputs: BuildInputs, kinds: Mapping[str, SectionKind], attempts: int = MOST_ATTEMPTS
) -> ChassisPlan:
    """Return the plan of a build.

    Args:
        inputs: the build's files.
        kinds: section kinds by name.
        attempts: how often all wires are laid anew while any is left over or uneasy; 0 for a first look.

    Raises:
        InputError: when the files contradict each other or the sections can't stand in the tube.
    """
    gathering = Gathering()
    tube, setting, lengths = _begun(inputs, kinds, gathering)
    gathering.raise_any()
    in_line = stands_in_line(inputs, kinds, lengths, setting, gathering)
    gathering.raise_any()
    pins = [pin_of(params, kinds[params.kind], setting) for params in inputs.build.section]
    stands = all_stands(inputs, in_line, lengths, pins, gathering)
    _check_length(inputs, tube, in_line, gathering)
    gathering.raise_any()
    bearing = _bearing(inputs)
    reaches = bore_reaches(tube, in_line[0].z0, in_line[-1].z1, bearing, setting.fitter)
    _check_bearing(inputs, reaches, gathering)
    gathering.raise_any()
    outer = outer_surface(reaches, bands(inputs, tube, stands, reaches, bearing), bearing)
    contexts = contexts_of(inputs, setting, tube, outer, stands)
    sections = section_plans(inputs, kinds, contexts, gathering)
    gathering.raise_any()
    check_piece_names(inputs, sections, gathering)
    sections, rod_steps = _with_rods(inputs, sections, outer, setting, gathering)
    sums = _sums(tube, reaches, lengths, sections)
    own = own_terminals(inputs, sections, outer, gathering)
    hosts = hosts_of(inputs.build.section)
    antennas = with_antenna_facts(own.sections, tube)
    sections, of_lids = _under_lids(inputs, antennas, hosts, setting, gathering)
    bodies = with_companions(sections, hosts)
    ground = replace(ground_of(inputs, bodies, outer, tube, own.reserved, setting), attempts=attempts)
    wires, nets = asked_wires(inputs, sections, distances_over(ground), gathering)
    electrics = asked_electrics(inputs, sections, gathering)
    _check_adjustments(inputs, sums, lengths, gathering)
    face = OuterGround(sections, bodies, hosts, contexts, outer, setting.rules)
    check_outer_work(inputs, face, gathering)
    check_mask(inputs, sums, sections, gathering)
    gathering.raise_any()
    laid, of_places = lay_round_texts(inputs, face, ground, wires)
    wiring = laid.followed_by(rod_steps)
    pieces = plan_pieces(kinds, sections, hosts, contexts, wiring, outer, tube)
    outside = with_outer_work(inputs, face, pieces, ground.blocked)
    of_rods = _rods_in_material(inputs, sections, pieces, setting)
    findings = (
        *(f for s in sections for f in s.findings),
        *hollow_findings(sections, hosts),
        *flat_edge_findings(sections, inputs.build.section, outer),
        *overlap_findings(sections, hosts, setting.rules.least_wall, inputs.build.section),
        *of_lids,
        *of_rods,
        *terminal_findings(wires, sections),
        *netlist_findings(wires, sections),
        *of_places,
        *wiring.findings,
        *printer_findings(inputs.printer, inputs.build.build.printer, setting.material.name),
        *tube_findings(inputs, tube, sections),
        *transfer_findings(inputs, tube, bodies, outer),
        *antenna_findings(sections, tube, inputs.build.section),
        *outside.findings,
        *inputs.notices,
        *trial_findings(inputs, sums, lengths),
        *basis_findings(inputs, sums),
    )
    return ChassisPlan(
        build=inputs.name,
        title=inputs.build.build.title,
        printer=inputs.build.build.printer or "uncalibrated",
        calibrated=setting.fitter.printer.calibrated,
        compensation=compensation_words(inputs.printer, inputs.build.build.printer),
        material=setting.material,
        rules=setting.rules,
        tube=tube,
        outer=outer,
        z0=in_line[0].z0,
        z1=in_line[-1].z1,
        sections=sections,
        contexts=contexts,
        routes=wiring.routes,
        lanes=wiring.lanes,
        pieces=outside.pieces,
        fits=(
            *tube_fits(reaches, outer, bodies, tube, bearing, setting.fitter),
            *(f for s in sections for f in s.fits),
        ),
        dimensions=sums,
        hardware=tuple(h for s in sections for h in s.hardware),
        findings=findings,
        cautions=_cautions(sections),
        unrouted=wiring.unrouted,
        wires=wires,
        nets=nets,
        own_terminals=own.kinds,
        electrics=electrics,
        surfaces=outside.works,
        lettering=outside.texts,
        finish=setting.fitter.finish,
        masked=masked_surfaces(sums, sections, outer),
    )


def first_problems(inputs: BuildInputs, kinds: Mapping[str, SectionKind]) -> tuple[Problem, ...]:
    """Return what a build's names and sizes alone show to be wrong, before any section has its place.

    Args:
        inputs: the build's files, a printer file that can't be read left out.
        kinds: section kinds by name.
    """
    gathering = Gathering()
    try:
        _begun(inputs, kinds, gathering)
    except InputError as error:
        return error.problems
    return tuple(gathering.problems)


def _begun(
    inputs: BuildInputs, kinds: Mapping[str, SectionKind], gathering: Gathering
) -> tuple[Tube, Setting, list[Dimension | None]]:
    """Return the tube, the setting and the sections' lengths, all that is wrong so far gathered at once."""
    tube = build_tube(inputs, gathering)
    setting = make_setting(inputs, tube, gathering)
    check_names(inputs, gathering)
    check_companions(inputs, kinds, gathering)
    lengths = lengths_of(inputs, kinds, setting, gathering)
    if gathering.problems:
        check_wire_places(inputs, gathering)
    return tube, setting, lengths


def _with_rods(
    inputs: BuildInputs,
    sections: tuple[SectionPlan, ...],
    outer: Outer,
    setting: Setting,
    gathering: Gathering,
) -> tuple[tuple[SectionPlan, ...], Mapping[str, tuple[Step, ...]]]:
    """Return the sections with the build's rods, and the steps that cut them by section name."""
    if not inputs.build.rod:
        return sections, {}
    from chassis_gen.plan.rods import rod_features

    rods = rod_features(inputs, sections, hosts_of(inputs.build.section), outer, setting, gathering)
    return rods.sections, rods.steps


def _rods_in_material(
    inputs: BuildInputs, sections: Sequence[SectionPlan], pieces: Sequence[PiecePlan], setting: Setting
) -> tuple[Finding, ...]:
    """Return what is to be said of the material round the build's rods."""
    if not inputs.build.rod:
        return ()
    from chassis_gen.plan.rod_material import rod_material_findings

    return rod_material_findings(inputs, sections, pieces, setting.rules.least_wall)


def _under_lids(
    inputs: BuildInputs,
    sections: tuple[SectionPlan, ...],
    hosts: Mapping[str, str],
    setting: Setting,
    gathering: Gathering,
) -> tuple[tuple[SectionPlan, ...], tuple[Finding, ...]]:
    """Return the sections as lids leave them, ways out of joints passing beside, and what doesn't suit the lids."""
    if not any(s.covering for s in sections):
        return sections, ()
    from chassis_gen.plan.covers import check_access, cover_findings, with_access_facts
    from chassis_gen.plan.ways_out import round_lids

    check_access(inputs, sections, gathering)
    passing = round_lids(with_access_facts(sections), hosts, setting.rules.least_wall)
    return passing, cover_findings(passing, hosts, inputs.build.section, setting.rules.least_wall)


def _check_length(inputs: BuildInputs, tube: Tube, stands: Sequence[Stand], gathering: Gathering) -> None:
    end = stands[-1].z1
    if end > tube.length + 1e-9:
        longest = max(stands, key=lambda s: s.z1 - s.z0)
        i = next(k for k, row in enumerate(inputs.build.section) if row.name == longest.name)
        why = (
            f"the chassis ends at station {shown(end)}, {shown(end - tube.length)} mm beyond the tube's end at"
            f' {shown(tube.length)}; its longest section is "{longest.name}" with {shown(longest.z1 - longest.z0)} mm'
        )
        path: KeyPath = ("section", i) if inputs.build.tube.chassis_end is None else ("tube", "chassis_end")
        allowed = f"a chassis that ends by station {shown(tube.length)}"
        gathering.reject(inputs, path, Rejection("layout-long", why, allowed))


def _bearing(inputs: BuildInputs) -> Bearing:
    b = inputs.build.bearing
    return Bearing(b.fit, b.band, b.relief, b.flat_width, b.flat_clock_deg)


def _check_bearing(inputs: BuildInputs, reaches: Sequence[Reach], gathering: Gathering) -> None:
    """Gather a relief or a printing flat that leaves too little of the narrowest part of the chassis."""
    b = inputs.build.bearing
    radius = min(r.diameter.total for r in reaches) / 2
    if b.relief > radius / 2:
        why = f"a relief of {b.relief:g} leaves less than half of the chassis's radius {radius:g}"
        gathering.reject(
            inputs, ("bearing", "relief"), Rejection("not-allowed", why, f"up to {radius / 2:g}")
        )
    elif b.flat_width >= 2 * (radius - b.relief):
        widest = 2 * (radius - b.relief)
        why = f"a flat {b.flat_width:g} wide is wider than the relieved chassis, {widest:g}"
        rejection = Rejection("not-allowed", why, f"below {widest:g}, or 0 for none")
        gathering.reject(inputs, ("bearing", "flat_width"), rejection)


def _sums(
    tube: Tube,
    reaches: Sequence[Reach],
    lengths: Sequence[Dimension | None],
    sections: Sequence[SectionPlan],
) -> dict[str, Dimension]:
    """Return all labelled sums by name: bearing, layout, then each section's own, its holes' and its fits'.

    A length is the sum that the layout went by, or what it left to a fill.
    """
    found = {r.diameter.name: r.diameter for r in reaches}
    for s, length in zip(sections, lengths, strict=True):
        left = Dimension(f"{s.name}.length", (Term(CHOSEN, s.z1 - s.z0, "layout"),), "what the layout left")
        own = (length or left, *dimensions(s), *(h.diameter for h in s.holes), *(f.dimension for f in s.fits))
        for d in own:
            found.setdefault(d.name, d)
    for d in (d for m in tube.measured for d in m.dimensions):
        found.setdefault(d.name, d)
    return found


def _check_adjustments(
    inputs: BuildInputs,
    sums: Mapping[str, Dimension],
    lengths: Sequence[Dimension | None],
    gathering: Gathering,
) -> None:
    """Gather adjustments of dimensions that there are not, or of a fill's length, which isn't drawn."""
    rows = zip(inputs.build.section, lengths, strict=True)
    fills = {f"{params.name}.length": params.name for params, length in rows if length is None}
    for i, row in enumerate(inputs.build.adjustment):
        path: KeyPath = ("adjustment", i, "dimension")
        if row.dimension not in sums:
            rejection = Rejection(
                "unknown-name",
                f'there is no dimension "{row.dimension}"',
                "a name that `chassis-gen why BUILD` lists",
                nearest_name(row.dimension, sums),
            )
            gathering.reject(inputs, path, rejection)
        elif row.dimension in fills:
            why = f'"{fills[row.dimension]}" takes up what the layout leaves; its length can\'t be adjusted'
            gathering.reject(inputs, path, Rejection("not-allowed", why, "another section's length"))


def _cautions(sections: Sequence[SectionPlan]) -> tuple[str, ...]:
    topics = dict.fromkeys(
        t for s in sections for t in (*s.cautions, *(c for p in s.parts for c in p.part.cautions))
    )
    return tuple(topics)
