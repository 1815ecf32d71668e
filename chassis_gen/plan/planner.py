"""The planner: from a build's files to the whole plan, in the order in which the decisions depend on each other."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from chassis_gen.findings import Finding
from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.parts.catalogue import catalogue, find_part, overridden
from chassis_gen.parts.model import Part
from chassis_gen.plan.chassis import ChassisPlan, PiecePlan, Wire
from chassis_gen.plan.fitting import FitClass, Fitter, PrinterTerms, adjustment
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.lanes import Ground, Wiring, WiringRules, lay_wires, whole_chassis_obstacles
from chassis_gen.plan.layout import Slot, Stand, stand_sections
from chassis_gen.plan.model import OVERLAP, Fit, GapProbe, Outer, SectionPlan
from chassis_gen.plan.sums import Dimension, Term, on_grid
from chassis_gen.plan.surface import Bearing, Reach, bore_reaches, outer_surface
from chassis_gen.plan.tube import Bore, Segment, Tube
from chassis_gen.problems import InputError, nearest_name
from chassis_gen.sections.base import (
    Material,
    Opening,
    Rules,
    SectionContext,
    SectionKind,
    SectionParams,
    Setting,
    dimensions,
)
from chassis_gen.shapes.frame import clocked
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Recipe, Step, cut
from chassis_gen.tables.fits import all_fits, printer_allowance, printer_rules, printer_tolerance
from chassis_gen.tables.materials import find_material
from chassis_gen.tables.wire import awg_diameter, insulated_diameter, wiring_rule

DEFAULT_WALL = 1.6
"""The wall that a section draws where nothing else decides: four 0.4 mm lines (common practice, no source), mm."""


def plan_build(inputs: BuildInputs, kinds: Mapping[str, SectionKind]) -> ChassisPlan:
    """Return the plan of a build.

    Args:
        inputs: the build's files.
        kinds: section kinds by name.

    Raises:
        InputError: when the files contradict each other or the sections can't stand in the tube.
    """
    gathering = Gathering()
    tube = _tube(inputs, gathering)
    setting = _setting(inputs, tube, gathering)
    _check_names(inputs, gathering)
    gathering.raise_any()
    stands = _stands(inputs, kinds, setting, gathering)
    gathering.raise_any()
    _check_length(inputs, tube, stands, gathering)
    gathering.raise_any()
    bearing = _bearing(inputs)
    reaches = bore_reaches(tube, stands[0].z0, stands[-1].z1, bearing, setting.fitter)
    outer = outer_surface(reaches, _bands(inputs, tube, stands, reaches, bearing), bearing)
    contexts = _contexts(inputs, setting, tube, outer, stands)
    sections = _sections(inputs, kinds, contexts, gathering)
    gathering.raise_any()
    sums = {d.name: d for d in (*(r.diameter for r in reaches), *(d for s in sections for d in dimensions(s)))}
    wires = _wires(inputs, sections, gathering)
    _check_adjustments(inputs, sums, gathering)
    gathering.raise_any()
    wiring = _wiring(inputs, sections, outer, tube, wires, setting)
    pieces = _pieces(inputs, kinds, sections, contexts, wiring, outer)
    findings = (*(f for s in sections for f in s.findings), *wiring.findings)
    return ChassisPlan(
        build=inputs.name,
        title=inputs.build.build.title,
        printer=inputs.build.build.printer or "uncalibrated",
        calibrated=setting.fitter.printer.calibrated,
        material=setting.material,
        rules=setting.rules,
        tube=tube,
        outer=outer,
        z0=stands[0].z0,
        z1=stands[-1].z1,
        sections=sections,
        contexts=contexts,
        routes=wiring.routes,
        lanes=wiring.lanes,
        pieces=pieces,
        fits=(*_tube_fits(reaches, outer, pieces, tube, bearing, setting.fitter), *(f for s in sections for f in s.fits)),
        dimensions=sums,
        hardware=tuple(h for s in sections for h in s.hardware),
        findings=findings,
        cautions=_cautions(sections),
        unrouted=wiring.unrouted,
    )


def _tube(inputs: BuildInputs, gathering: Gathering) -> Tube:
    table = inputs.build.tube
    if table.like and table.segment:
        gathering.add(
            [inputs.problem(("tube", "like"), Rejection("not-allowed", "both like and segment are given", "one of them"))]
        )
    rows = inputs.tube_file.segment if inputs.tube_file else table.segment
    shared = inputs.tube_file.opening if inputs.tube_file else ()
    if not rows:
        rejection = Rejection("missing-key", "the tube has no segment", "[[tube.segment]], or like = a tube file")
        gathering.add([inputs.problem(("tube",), rejection)])
        gathering.raise_any()
    segments = []
    for i, row in enumerate(rows):
        z0 = row.from_mouth
        z1 = on_grid(z0 + row.length)
        starts = [b.from_mouth for b in row.bores]
        path: KeyPath = ("tube", "segment", i, "bores")
        if starts != sorted(set(starts)) or abs(starts[0] - z0) > 1e-9:
            why = f"bores must begin at the segment's near end {z0:g} and follow each other inwards"
            gathering.add([inputs.problem(path, Rejection("not-allowed", why, f"from_mouth = {z0:g}, then larger ones"))])
        if starts[-1] >= z1:
            why = f"a bore begins at {starts[-1]:g}, beyond the segment's far end {z1:g}"
            gathering.add([inputs.problem(path, Rejection("not-allowed", why, f"from_mouth below {z1:g}"))])
        ends = [*starts[1:], z1]
        bores = tuple(
            Bore(a, b, row_.diameter, row_.tolerance) for row_, a, b in zip(row.bores, starts, ends, strict=True)
        )
        segments.append(Segment(row.name, z0, z1, row.wall, row.material, bores))
    for i, (a, b) in enumerate(itertools.pairwise(segments)):
        if abs(a.z1 - b.z0) > 1e-6:
            why = f'segment "{b.name}" begins at {b.z0:g}, the one before ends at {a.z1:g}'
            path = ("tube", "segment", i + 1, "from_mouth")
            gathering.add([inputs.problem(path, Rejection("not-allowed", why, f"{a.z1:g}"))])
    openings = tuple(
        Opening(o.name, o.from_mouth, o.clock_deg % 360.0, o.diameter) for o in (*shared, *table.opening)
    )
    tube = Tube(tuple(segments), openings)
    for i, o in enumerate(table.opening):
        path = ("tube", "opening", i)
        if o.from_mouth - o.diameter / 2 < 0 or o.from_mouth + o.diameter / 2 > tube.length:
            why = f"the opening reaches from {o.from_mouth - o.diameter / 2:g} to {o.from_mouth + o.diameter / 2:g}, "
            allowed = f"inside the tube, 0 to {tube.length:g}"
            gathering.add([inputs.problem((*path, "from_mouth"), Rejection("not-allowed", why + "outside the tube", allowed))])
        elif o.diameter > tube.outer_diameter(o.from_mouth):
            allowed = f"below the tube's outside diameter {tube.outer_diameter(o.from_mouth):g}"
            gathering.add(
                [inputs.problem((*path, "diameter"), Rejection("not-allowed", "wider than the tube itself", allowed))]
            )
    return tube


def _printer_terms(inputs: BuildInputs) -> PrinterTerms:
    """Return the printer's terms: measured offsets of a calibrated printer, else the usual allowances."""
    p = inputs.printer
    inner, outer = printer_allowance("inner"), printer_allowance("outer")
    tolerance = printer_tolerance(bool(p and p.calibrated))
    if p is not None and p.calibrated:
        source = f"measured on {inputs.build.build.printer}"
        return PrinterTerms(
            p.inner_offset or 0.0,
            p.outer_offset or 0.0,
            p.inner_offset or 0.0 if p.standing_hole_offset is None else p.standing_hole_offset,
            p.inner_offset or 0.0 if p.lying_hole_offset is None else p.lying_hole_offset,
            tolerance.value if p.tolerance is None else p.tolerance,
            source,
            True,
        )
    return PrinterTerms(
        inner.value,
        outer.value,
        inner.value,
        inner.value,
        tolerance.value,
        f"uncalibrated printer's allowance, {inner.source}",
    )


def _fit_classes(inputs: BuildInputs) -> dict[str, FitClass]:
    classes = {f.name: FitClass(f.name, f.clearance, f.low, f.high, f.source) for f in all_fits()}
    if inputs.printer:
        for name, row in inputs.printer.fits.items():
            source = f"printer {inputs.build.build.printer}"
            classes[name] = FitClass(name, row.clearance, row.low, row.high, source)
    return classes


def _setting(inputs: BuildInputs, tube: Tube, gathering: Gathering) -> Setting:
    b = inputs.build
    classes = _fit_classes(inputs)
    if b.bearing.fit not in classes:
        rejection = Rejection(
            "unknown-name",
            f'"{b.bearing.fit}" is no fit class',
            ", ".join(classes),
            nearest_name(b.bearing.fit, classes),
        )
        gathering.add([inputs.problem(("bearing", "fit"), rejection)])
    adjustments: dict[str, tuple[Term, ...]] = {}
    for row in b.adjustment:
        adjustments[row.dimension] = (*adjustments.get(row.dimension, ()), adjustment(row.add, row.why))
    try:
        m = find_material(b.build.material)
    except InputError as error:
        gathering.add(inputs.located(("build", "material"), error))
        gathering.raise_any()
        raise
    p = inputs.printer
    rules = printer_rules()
    nozzle = p.nozzle if p else rules["nozzle_diameter"].value
    return Setting(
        fitter=Fitter(classes, _printer_terms(inputs), b.finish.coating, adjustments),
        find_part=_part_finder(inputs, gathering),
        rules=Rules(
            nozzle=nozzle,
            layer=p.layer if p else nozzle / 2,
            least_wall=rules["min_wall_lines"].value * nozzle,
            wall=max(DEFAULT_WALL, 4 * nozzle),
        ),
        material=Material(m.name, m.density.value, m.snap_strain.value, m.layer_factor.value),
        openings={o.name: o for o in tube.openings},
        smallest_bore=min(x.diameter for x in tube.bores),
    )


def _part_finder(inputs: BuildInputs, gathering: Gathering) -> Callable[[str], Part]:
    """Return the part look-up with the build's own sizes put over the catalogue's."""
    known = {**catalogue(), **inputs.parts}
    changed: dict[str, Part] = {}
    for name, sizes in inputs.build.part.items():
        try:
            changed[name] = overridden(find_part(name, inputs.parts), sizes)
        except InputError as error:
            for p in error.problems:
                key = next((k for k in sizes if k in (p.key or "") or k in p.message), None)
                path: KeyPath = ("part", name, key) if key else ("part", name)
                gathering.add([inputs.problem(path, Rejection(p.code, p.message, p.allowed, p.nearest))])
    return lambda name: find_part(name, {**known, **changed})


def _check_names(inputs: BuildInputs, gathering: Gathering) -> None:
    """Gather names that occur twice and openings that there are not."""
    openings = {o.name for o in inputs.build.tube.opening} | {
        o.name for o in (inputs.tube_file.opening if inputs.tube_file else ())
    }
    seen: set[str] = set()
    for i, s in enumerate(inputs.build.section):
        if s.name in seen:
            rejection = Rejection("duplicate-name", f'two sections are called "{s.name}"', "a name of its own")
            gathering.add([inputs.problem(("section", i, "name"), rejection)])
        seen.add(s.name)
        if s.at_opening is not None and s.at_opening not in openings:
            rejection = Rejection(
                "unknown-name",
                f'the tube has no opening "{s.at_opening}"',
                ", ".join(sorted(openings)) or "none yet: add [[tube.opening]]",
                nearest_name(s.at_opening, openings),
            )
            gathering.add([inputs.problem(("section", i, "at_opening"), rejection)])
        if s.at_opening is not None and s.station is not None:
            rejection = Rejection("not-allowed", "at_opening and station both pin the section", "one of them")
            gathering.add([inputs.problem(("section", i, "station"), rejection)])
    openings_seen: set[str] = set()
    for i, o in enumerate(inputs.build.tube.opening):
        if o.name in openings_seen:
            rejection = Rejection("duplicate-name", f'two openings are called "{o.name}"', "a name of its own")
            gathering.add([inputs.problem(("tube", "opening", i, "name"), rejection)])
        openings_seen.add(o.name)
    order = [k for k, _ in itertools.groupby(inputs.build.section, key=lambda s: s.piece)]
    for name in {n for n in order if order.count(n) > 1}:
        i = max(k for k, s in enumerate(inputs.build.section) if s.piece == name)
        rejection = Rejection("not-allowed", f'the sections of piece "{name}" don\'t follow each other', "one run")
        gathering.add([inputs.problem(("section", i, "piece"), rejection)])


def _stands(
    inputs: BuildInputs, kinds: Mapping[str, SectionKind], setting: Setting, gathering: Gathering
) -> tuple[Stand, ...]:
    slots = []
    for i, params in enumerate(inputs.build.section):
        try:
            slots.append(_slot(params, kinds[params.kind], setting))
        except InputError as error:
            gathering.add(_at_key(inputs, i, params, error))
    gathering.raise_any()
    tube = inputs.build.tube
    stands, faults = stand_sections(slots, on_grid(tube.chassis_offset), tube.chassis_end)
    for fault in faults:
        path: KeyPath = ("section", fault.index)
        gathering.add([inputs.problem(path, Rejection(fault.code, fault.message, fault.allowed))])
    return stands


def _slot(params: SectionParams, kind: SectionKind, setting: Setting) -> Slot:
    length = kind.length(params, setting)
    total = length.total if length else None
    if params.at_opening is not None:
        opening = setting.openings[params.at_opening]
        pin = on_grid(opening.station - kind.pin_offset(params, setting))
        return Slot(params.name, total, pin, f'"{params.name}" at opening "{params.at_opening}"')
    if params.station is not None:
        return Slot(params.name, total, on_grid(params.station), f'"{params.name}" station')
    return Slot(params.name, total)


def _at_key(inputs: BuildInputs, i: int, params: SectionParams, error: InputError) -> list[Any]:
    """Return a section's problems placed at the key that they name, else at its part."""
    found = []
    for p in error.problems:
        text = f"{p.key or ''} {p.message}"
        keys = [k for k, v in params if isinstance(v, str) and v and v in text and k not in ("kind", "name")]
        key = p.key if p.key in type(params).model_fields else next(iter(keys), None)
        path: KeyPath = ("section", i, key) if key else ("section", i)
        found += [p] if p.file else [inputs.problem(path, Rejection(p.code, p.message, p.allowed, p.nearest))]
    return found


def _check_length(inputs: BuildInputs, tube: Tube, stands: Sequence[Stand], gathering: Gathering) -> None:
    end = stands[-1].z1
    if end > tube.length + 1e-9:
        longest = max(stands, key=lambda s: s.z1 - s.z0)
        i = next(k for k, s in enumerate(stands) if s is longest)
        why = (
            f"the chassis ends at station {end:g}, {end - tube.length:g} mm beyond the tube's end at {tube.length:g};"
            f' its longest section is "{longest.name}" with {longest.z1 - longest.z0:g} mm'
        )
        allowed = f"sections that end by station {tube.length:g}"
        gathering.add([inputs.problem(("section", i), Rejection("layout-long", why, allowed))])


def _bearing(inputs: BuildInputs) -> Bearing:
    b = inputs.build.bearing
    return Bearing(b.fit, b.band, b.relief, b.flat_width, b.flat_clock_deg)


def _bands(
    inputs: BuildInputs, tube: Tube, stands: Sequence[Stand], reaches: Sequence[Reach], bearing: Bearing
) -> list[tuple[float, float]]:
    """Return where the chassis bears: its ends, pieces' ends, pinned openings, each bore, asked-for sections."""
    band = bearing.band
    bands = [(stands[0].z0, stands[0].z0 + band), (stands[-1].z1 - band, stands[-1].z1)]
    openings = {o.name: o for o in tube.openings}
    for params, stand in zip(inputs.build.section, stands, strict=True):
        if params.bearing:
            bands.append((stand.z0, stand.z1))
        if params.at_opening is not None:
            z = openings[params.at_opening].station
            bands.append((z - band / 2, z + band / 2))
    for (before, stand), (after, _) in itertools.pairwise(zip(inputs.build.section, stands, strict=True)):
        if before.piece != after.piece:
            bands.append((stand.z1 - band, stand.z1 + band))
    for r in reaches:
        if not any(a < r.z1 and b > r.z0 + band / 2 for a, b in bands):
            bands.append((r.z0, min(r.z0 + band, r.z1)))
    return bands


def _contexts(
    inputs: BuildInputs, setting: Setting, tube: Tube, outer: Outer, stands: Sequence[Stand]
) -> dict[str, SectionContext]:
    rows = inputs.build.section
    contexts = {}
    for i, (params, stand) in enumerate(zip(rows, stands, strict=True)):
        opening = setting.openings.get(params.at_opening) if params.at_opening else None
        contexts[params.name] = SectionContext(
            setting=setting,
            name=params.name,
            piece=params.piece,
            z0=stand.z0,
            z1=stand.z1,
            outer=outer,
            bore_radius=tube.smallest_bore(stand.z0, stand.z1).diameter / 2,
            tube_outer_radius=tube.outer_diameter((stand.z0 + stand.z1) / 2) / 2,
            opening=opening,
            clock_deg=opening.clock_deg if opening else params.clock_deg % 360.0,
            first=i == 0,
            last=i + 1 == len(rows),
            joined_near=i > 0 and rows[i - 1].piece == params.piece,
            joined_far=i + 1 < len(rows) and rows[i + 1].piece == params.piece,
        )
    return contexts


def _sections(
    inputs: BuildInputs,
    kinds: Mapping[str, SectionKind],
    contexts: Mapping[str, SectionContext],
    gathering: Gathering,
) -> tuple[SectionPlan, ...]:
    plans = []
    for i, params in enumerate(inputs.build.section):
        try:
            plan = kinds[params.kind].plan(params, contexts[params.name])
        except InputError as error:
            gathering.add(_at_key(inputs, i, params, error))
            continue
        plans.append(replace(plan, findings=tuple(_keyed(f, i) for f in plan.findings)))
    return tuple(plans)


def _keyed(finding: Finding, index: int) -> Finding:
    """Return a section's finding with its remedies' keys made whole."""
    candidates = tuple(
        replace(c, key=f"section[{index}].{c.key}") if c.key and not c.key.startswith(("section[", "bearing.")) else c
        for c in finding.candidates
    )
    return replace(finding, candidates=candidates)


def _wires(inputs: BuildInputs, sections: Sequence[SectionPlan], gathering: Gathering) -> tuple[Wire, ...]:
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
                gathering.add([inputs.problem(("wire", i, key), rejection)])
        if row.start == row.end:
            rejection = Rejection("not-allowed", "the wire ends where it begins", "another terminal")
            gathering.add([inputs.problem(("wire", i, "to"), rejection)])
        name = row.name or f"wire {i + 1}"
        if name in names:
            rejection = Rejection("duplicate-name", f'two wires are called "{name}"', "a name of its own")
            gathering.add([inputs.problem(("wire", i, "name"), rejection)])
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


def _check_adjustments(inputs: BuildInputs, sums: Mapping[str, Dimension], gathering: Gathering) -> None:
    for i, row in enumerate(inputs.build.adjustment):
        if row.dimension not in sums:
            rejection = Rejection(
                "unknown-name",
                f'there is no dimension "{row.dimension}"',
                "a name that `chassis-gen why BUILD` lists",
                nearest_name(row.dimension, sums),
            )
            gathering.add([inputs.problem(("adjustment", i, "dimension"), rejection)])


def _wiring(
    inputs: BuildInputs,
    sections: tuple[SectionPlan, ...],
    outer: Outer,
    tube: Tube,
    wires: Sequence[Wire],
    setting: Setting,
) -> Wiring:
    if any(f.blocks_solids for s in sections for f in s.findings):
        return Wiring((), (), {}, ())
    openings = [
        (o.station, o.clock_deg, o.diameter / 2, tube.smallest_bore(o.station, o.station + 0.1).diameter / 2)
        for o in tube.openings
        if sections[0].z0 < o.station < sections[-1].z1
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


def _pieces(
    inputs: BuildInputs,
    kinds: Mapping[str, SectionKind],
    sections: Sequence[SectionPlan],
    contexts: Mapping[str, SectionContext],
    wiring: Wiring,
    outer: Outer,
) -> tuple[PiecePlan, ...]:
    if any(f.blocks_solids for s in sections for f in s.findings):
        return ()
    pieces = []
    for name, run in itertools.groupby(sections, key=lambda s: s.piece):
        members = tuple(run)
        recipes = tuple(
            Recipe(
                s.name,
                (
                    *kinds[s.kind].recipe(s, contexts[s.name]),
                    *_flat(outer, s),
                    *wiring.steps.get(s.name, ()),
                ),
            )
            for s in members
        )
        pieces.append(PiecePlan(_file_safe(name), recipes, tuple(s.name for s in members)))
    for s in sections:
        for extra in s.extra_pieces:
            recipe = Recipe(extra.name, extra.steps)
            pieces.append(PiecePlan(_file_safe(extra.name), (recipe,), (s.name,), extra.way_in, owner=s.name))
    return tuple(pieces)


def _flat(outer: Outer, section: SectionPlan) -> tuple[Step, ...]:
    """Return the cut of the printing flat over a section."""
    if outer.flat_distance is None:
        return ()
    wide = 2 * max(s.radius for s in outer.steps)
    z0, z1 = section.z0 - 2 * OVERLAP, section.z1 + 2 * OVERLAP
    box = Box((outer.flat_distance, -wide, z0), (wide, wide, z1), clocked(outer.flat_clock))
    return cut("printing flat", box, must_touch=False)


def _file_safe(name: str) -> str:
    return "-".join(name.lower().split())


def _tube_fits(
    reaches: Sequence[Reach],
    outer: Outer,
    pieces: Sequence[PiecePlan],
    tube: Tube,
    bearing: Bearing,
    fitter: Fitter,
) -> tuple[Fit, ...]:
    """Return the fit of the bearing bands in the bores that they were made for."""
    fits = []
    for reach in reaches:
        for step in outer.over(reach.z0, reach.z1):
            here = tube.smallest_bore(step.z0, step.z1).diameter
            if not step.bearing or abs(here - reach.bore.diameter) > 1e-9:
                continue
            owner = _piece_at(pieces, outer, (step.z0 + step.z1) / 2)
            if owner is None:
                continue
            probe = GapProbe(owner, "tube", step.z0, step.z1)
            fit = fitter.fit(reach.diameter, "chassis in tube", (owner, "tube"), bearing.fit, probe, outer=True)
            fits.append(replace(fit, id=f"{fit.id}@{step.z0:g}"))
    return tuple(fits)


def _piece_at(pieces: Sequence[PiecePlan], outer: Outer, z: float) -> str | None:
    """Return the chassis piece at a station."""
    mains = [p for p in pieces if p.owner is None]
    return mains[0].name if len(mains) == 1 else next((p.name for p in mains if _covers(p, z)), None)


def _covers(piece: PiecePlan, z: float) -> bool:
    spans = [s.solid for r in piece.recipes for s in r.steps if s.operation == "add"]
    lows = [getattr(x, "z0", None) for x in spans]
    highs = [getattr(x, "z1", None) for x in spans]
    low = min((v for v in lows if v is not None), default=0.0)
    high = max((v for v in highs if v is not None), default=0.0)
    return low <= z <= high


def _cautions(sections: Sequence[SectionPlan]) -> tuple[str, ...]:
    topics = dict.fromkeys(t for s in sections for t in (*s.cautions, *(c for p in s.parts for c in p.part.cautions)))
    return tuple(topics)
