"""The fit report as data: what `fit-report.json` holds, and what the texts for people are made of.

Lengths are mm rounded to 0.1 um, other figures to four decimals; nothing in it depends on the time or
the machine, so the same input gives the same bytes.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from chassis_gen.checks.yields import is_normal, simulated_share
from chassis_gen.electrics.result import ElectricsResult
from chassis_gen.findings import Finding, Remedy
from chassis_gen.output.cutlist import cut_list, harness_json
from chassis_gen.output.electrics import electrics_json
from chassis_gen.output.leads import cut_of
from chassis_gen.output.stl import closed_meshes
from chassis_gen.output.words import share_words
from chassis_gen.plan.chassis import ChassisPlan, Lane, Route, Wire
from chassis_gen.plan.model import Fit, PlacedPart, SectionPlan
from chassis_gen.plan.sums import ADJUSTMENT, FINISH, PART_SIZE, PRINTER, Dimension
from chassis_gen.tables.cautions import cautions

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult, MeasuredFit, MeasuredPlay
    from chassis_gen.output.exact import ExactSolids
    from chassis_gen.shapes.agreement import Agreement
    from chassis_gen.shapes.body import Body

SCHEMA = "chassis-gen fit report 1"
DECIMALS = 4

Report = dict[str, Any]


def report_json(
    result: CheckResult,
    files: Mapping[str, Sequence[str]],
    agreement: ExactSolids | None,
    step_made: bool,
) -> Report:
    """Return the fit report as plain data.

    Args:
        result: what the checks found, reading its STL files back included (`with_written_meshes`).
        files: names of the files written for each piece, relative to the build's folder.
        agreement: both kernels compared, or None where only one was used.
        step_made: True when STEP files are written.
    """
    plan = result.plan
    bodies = result.solids.pieces if result.solids else {}
    closed = closed_meshes(result)
    return {
        "schema": SCHEMA,
        "build": plan.build,
        "title": plan.title,
        "verdict": result.verdict,
        "printer": plan.printer,
        "calibrated": plan.calibrated,
        "compensation": {"by": plan.compensation[0], "text": plan.compensation[1]},
        "material": plain({"name": plan.material.name, "density_g_cm3": plan.material.density_g_cm3}),
        "chord_mm": plain(result.solids.chord if result.solids else None),
        "step_made": step_made,
        "tube": _tube(plan),
        "chassis": plain({"z0": plan.z0, "z1": plan.z1, "length": plan.z1 - plan.z0}),
        "pieces": [_piece(plan, n, b, files.get(n, ()), closed[n]) for n, b in bodies.items()],
        "fits": [_fit(f) for f in result.fits],
        "plays": [_play(p) for p in result.plays],
        "findings": [_finding(f) for f in result.findings],
        "sections": [_section(s) for s in plan.sections],
        "parts": [_part(p) for p in plan.parts],
        "wires": [_wire(r) for r in plan.routes],
        "unrouted": [_unrouted(w) for w in plan.unrouted],
        "lanes": [_lane(lane) for lane in plan.lanes],
        "harness": plain(harness_json(cut_list(plan))),
        "electrics": plain(electrics_json(result.electrics or ElectricsResult(plan.electrics.ambient_c))),
        "hardware": [{"item": h.item, "count": h.count, "where": h.where} for h in plan.hardware],
        "dimensions": [_dimension(plan.dimensions[name]) for name in sorted(plan.dimensions)],
        "agreement": _agreements(agreement),
        "cautions": _cautions(plan),
    }


def harness_report(plan: ChassisPlan) -> Report:
    """Return the part of the fit report that a cut list is made of; it needs no solids.

    Args:
        plan: the build.
    """
    return {
        "title": plan.title,
        "wires": [_wire(r) for r in plan.routes],
        "unrouted": [_unrouted(w) for w in plan.unrouted],
        "harness": plain(harness_json(cut_list(plan))),
        "cautions": _cautions(plan),
    }


def report_text(report: Report) -> str:
    """Return a report as the text of a JSON file."""
    return json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def plain(value: object) -> Any:
    """Return a value as JSON knows it: figures rounded, mappings and sequences all the way down.

    Args:
        value: any figure, text, mapping or sequence; a figure that isn't finite becomes None.
    """
    if isinstance(value, bool | int | str) or value is None:
        return value
    if isinstance(value, float):
        # Adding 0 turns -0.0 into 0.0.
        return round(value, DECIMALS) + 0.0 if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, Sequence):
        return [plain(v) for v in value]
    return str(value)


def _tube(plan: ChassisPlan) -> Any:
    return plain(
        {
            "length": plan.tube.length,
            "bores": [
                {"z0": b.z0, "z1": b.z1, "diameter": b.diameter, "tolerance": b.tolerance}
                for b in plan.tube.bores
            ],
            "openings": [
                {"name": o.name, "station": o.station, "clock_deg": o.clock_deg, "diameter": o.diameter}
                for o in plan.tube.openings
            ],
        }
    )


def _piece(plan: ChassisPlan, name: str, body: Body, files: Sequence[str], closed: bool) -> Report:
    volume = body.volume
    planned = next((p for p in plan.pieces if p.name == name), None)
    return {
        "name": name,
        "files": list(files),
        "sections": list(planned.sections) if planned else [],
        "owner": planned.owner if planned else None,
        "volume_mm3": plain(volume),
        "mass_g": plain(volume / 1000.0 * plan.material.density_g_cm3),
        "bounds_mm": plain(body.bounds),
        "watertight": closed,
    }


def _fit(measured: MeasuredFit) -> Report:
    fit = measured.fit
    return {
        "id": fit.id,
        "kind": fit.kind,
        "between": list(fit.between),
        "fit_class": fit.fit_class,
        "required_mm": plain(fit.required),
        "designed_mm": plain(fit.dimension.total),
        "designed_clearance_mm": plain(_designed_clearance(fit)),
        "planned_mm": plain(fit.planned),
        "measured_mm": plain(measured.measured),
        "as_printed_mm": plain(fit.as_printed),
        "worst_case_mm": plain(measured.worst_case),
        "likely_mm": plain(measured.likely),
        "yield": plain(measured.share),
        "yield_simulated": None if is_normal(fit) else plain(simulated_share(fit)),
        "prints_that_fit": share_words(measured.share),
        "verdict": measured.verdict,
    }


def _designed_clearance(fit: Fit) -> float:
    """Return the clearance per side that the fit class asks for, mm; what a mouth or a snap has instead counts too."""
    terms = fit.dimension.terms
    other = math.fsum(t.value for t in terms if t.label in (PRINTER, FINISH, ADJUSTMENT))
    more = (fit.dimension.total - fit.dimension.term(PART_SIZE) - other) / 2
    changed = math.fsum(t.value for t in terms if t.label == ADJUSTMENT) / 2
    # An outside dimension is smaller than what it goes into: its clearance counts the other way.
    outside = abs(-more - changed - fit.as_printed) < abs(more + changed - fit.as_printed)
    return -more if outside else more


def _play(play: MeasuredPlay) -> Report:
    return {
        "part": play.part,
        "direction": plain(play.direction),
        "planned_mm": plain(play.expected),
        "measured_mm": plain(play.measured),
    }


def _finding(finding: Finding) -> Report:
    return {
        "level": finding.level,
        "code": finding.code,
        "where": finding.where,
        "message": finding.message,
        "numbers": plain(finding.numbers),
        "remedy": _remedy(finding.remedy),
    }


def _remedy(remedy: Remedy | None) -> Report | None:
    if remedy is None:
        return None
    return {"key": remedy.key, "value": plain(remedy.value), "text": remedy.text, "tried": remedy.tried}


def _section(section: SectionPlan) -> Report:
    return {
        "name": section.name,
        "kind": section.kind,
        "piece": section.piece,
        "z0": plain(section.z0),
        "z1": plain(section.z1),
        "openings": list(section.openings),
        "facts": plain(section.facts),
    }


def _part(placed: PlacedPart) -> Report:
    part = placed.part
    return {
        "id": placed.id,
        "part": part.name,
        "title": part.title,
        "section": placed.section,
        "mass_g": plain(part.mass_g),
    }


def _cautions(plan: ChassisPlan) -> list[Report]:
    return [
        {"topic": c.topic, "title": c.title, "text": c.text, "source": c.source}
        for c in cautions(plan.cautions)
    ]


def _unrouted(wire: Wire) -> Report:
    return {"id": wire.id, "from": wire.start, "to": wire.end, "gauge": wire.gauge_awg}


def _wire(route: Route) -> Report:
    wire = route.wire
    return {
        "id": wire.id,
        "from": wire.start,
        "to": wire.end,
        "gauge": wire.gauge_awg,
        "area_mm2": wire.area_mm2,
        "colour": wire.colour,
        "insulation": wire.insulation,
        "outer_diameter": plain(wire.outer_diameter),
        "route": [
            {
                "kind": leg.kind,
                "section": leg.section,
                "start": plain(leg.start),
                "end": plain(leg.end),
                "length_mm": plain(leg.length),
            }
            for leg in route.legs
        ],
        "length_mm": plain(route.length),
        "cut_mm": plain(cut_of(route)),
    }


def _lane(lane: Lane) -> Report:
    return {
        "id": lane.id,
        "section": lane.section,
        "closed": lane.closed,
        "clock_deg": plain((lane.clock_from, lane.clock_to)),
        "z0": plain(lane.z0),
        "z1": plain(lane.z1),
        "depth": plain(lane.outer_radius - lane.bottom_radius),
        "wires": list(lane.wires),
        "fill": plain(lane.fill),
        "fill_limit": plain(lane.fill_limit),
    }


def _dimension(dimension: Dimension) -> Report:
    return {
        "name": dimension.name,
        "total": plain(dimension.total),
        "unit": dimension.unit,
        "note": dimension.note,
        "terms": [
            {
                "label": t.label,
                "value": plain(t.value),
                "source": t.source,
                "tolerance": plain(t.tolerance),
            }
            for t in dimension.terms
        ],
    }


def _agreements(exact: ExactSolids | None) -> list[Report]:
    if exact is None:
        return []
    return [
        *(_agreement("section", a) for a in exact.sections),
        *(_agreement("piece", a) for a in exact.pieces),
    ]


def _agreement(what: str, agreement: Agreement) -> Report:
    return {
        "of": what,
        "name": agreement.name,
        "ok": agreement.ok,
        "figures": [
            {
                "what": f.what,
                "mesh": plain(f.mesh),
                "exact": plain(f.exact),
                "allowed": plain(f.allowed),
                "ok": f.ok,
            }
            for f in agreement.figures
        ],
    }
