"""The fit report as data: what `fit-report.json` holds, and what the texts for people are made of.

Lengths are mm rounded to 0.1 um, other figures to four decimals; nothing in it depends on the time or
the machine, so the same input gives the same bytes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from chassis_gen.checks.yields import is_normal, simulated_share
from chassis_gen.electrics.result import ElectricsResult
from chassis_gen.output.cutlist import cut_list, harness_json
from chassis_gen.output.electrics import electrics_json
from chassis_gen.output.leads import cut_of
from chassis_gen.output.summary import Report, cautions_json, plain, summary_json
from chassis_gen.plan.chassis import ChassisPlan, Lane, Route, SurfaceWork, Wire
from chassis_gen.plan.model import PlacedPart, SectionPlan
from chassis_gen.plan.sums import Dimension

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult, MeasuredPlay
    from chassis_gen.output.exact import ExactSolids
    from chassis_gen.plan.letter_faces import PlacedText
    from chassis_gen.shapes.agreement import Agreement

SCHEMA = "chassis-gen fit report 1"


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
    first = summary_json(result, files)
    drawn = [None if is_normal(f.fit) else plain(simulated_share(f.fit)) for f in result.fits]
    return {
        "schema": SCHEMA,
        **first,
        "fits": [{**f, "yield_simulated": y} for f, y in zip(first["fits"], drawn, strict=True)],
        "chord_mm": plain(result.solids.chord if result.solids else None),
        "step_made": step_made,
        "tube": _tube(plan),
        "chassis": plain({"z0": plan.z0, "z1": plan.z1, "length": plan.z1 - plan.z0}),
        "plays": [_play(p) for p in result.plays],
        "sections": [_section(s) for s in plan.sections],
        "parts": [_part(p) for p in plan.parts],
        "wires": [_wire(r) for r in plan.routes],
        "unrouted": [_unrouted(w) for w in plan.unrouted],
        "lanes": [_lane(lane) for lane in plan.lanes],
        "surfaces": [_surface(work) for work in plan.surfaces],
        "lettering": [_text(t) for t in plan.lettering],
        "harness": plain(harness_json(cut_list(plan))),
        "electrics": plain(electrics_json(result.electrics or ElectricsResult(plan.electrics.ambient_c))),
        "hardware": [{"item": h.item, "count": h.count, "where": h.where} for h in plan.hardware],
        "dimensions": [_dimension(plan.dimensions[name]) for name in sorted(plan.dimensions)],
        "agreement": _agreements(agreement),
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
        "cautions": cautions_json(plan),
    }


def report_text(report: Report) -> str:
    """Return a report as the text of a JSON file."""
    return json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


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


def _play(play: MeasuredPlay) -> Report:
    return {
        "part": play.part,
        "direction": plain(play.direction),
        "planned_mm": plain(play.expected),
        "measured_mm": plain(play.measured),
    }


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


def _text(text: PlacedText) -> Report:
    return {
        "id": text.id,
        "text": text.text,
        "section": text.section,
        "piece": text.piece,
        "face": text.face,
        "style": text.style,
        "font": text.font,
        "clock_deg": plain(text.clock_deg),
        "station": plain(text.station),
        "size_mm": plain(text.size),
        "depth_mm": plain(text.depth),
        "length_mm": plain(text.length),
        "height_mm": plain(text.height),
        "thinnest_stroke_mm": plain(text.stroke),
        "narrowest_gap_mm": plain(text.gap),
        "area_mm2": plain(text.area),
    }


def _surface(work: SurfaceWork) -> Report:
    return {
        "name": work.name,
        "pattern": work.pattern,
        "section": work.section,
        "depth_mm": plain(work.depth),
        "cells": work.cells,
        "left_out": work.left_out,
        "through": work.through,
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
