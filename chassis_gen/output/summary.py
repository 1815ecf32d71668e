"""What the report says first, as data: verdict, pieces, fits and findings; all that a terminal shows.

Lengths are mm rounded to 0.1 um, other figures to four decimals; nothing in it depends on the time or
the machine, so the same input gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from chassis_gen.findings import Finding, Remedy
from chassis_gen.output.stl import closed_meshes
from chassis_gen.output.words import share_words
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import Fit
from chassis_gen.plan.sums import ADJUSTMENT, FINISH, PART_SIZE, PRINTER
from chassis_gen.tables.cautions import cautions

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult, MeasuredFit
    from chassis_gen.shapes.body import Body

DECIMALS = 4

Report = dict[str, Any]


def summary_json(result: CheckResult, files: Mapping[str, Sequence[str]]) -> Report:
    """Return the part of the fit report that the summary for people is made of.

    Args:
        result: what the checks found, reading its STL files back included (`with_written_meshes`).
        files: names of the files written for each piece, relative to the build's folder.
    """
    plan = result.plan
    bodies = result.solids.pieces if result.solids else {}
    closed = closed_meshes(result)
    return {
        "build": plan.build,
        "title": plan.title,
        "verdict": result.verdict,
        "printer": plan.printer,
        "calibrated": plan.calibrated,
        "compensation": {"by": plan.compensation[0], "text": plan.compensation[1]},
        "material": plain({"name": plan.material.name, "density_g_cm3": plan.material.density_g_cm3}),
        "pieces": [_piece(plan, n, b, files.get(n, ()), closed[n]) for n, b in bodies.items()],
        "fits": [_fit(f) for f in result.fits],
        "findings": [_finding(f) for f in result.findings],
        "wires_routed": len(plan.routes),
        "finish": _finish(plan),
        "cautions": cautions_json(plan),
    }


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


def cautions_json(plan: ChassisPlan) -> list[Report]:
    """Return the cautions that a build calls for, with their sources."""
    return [
        {"topic": c.topic, "title": c.title, "text": c.text, "source": c.source}
        for c in cautions(plan.cautions)
    ]


def _finish(plan: ChassisPlan) -> Report:
    return {
        "coats": [{"name": c.name, "thickness_mm": plain(c.thickness)} for c in plan.finish.coats],
        "outside": plan.finish.outside,
        "inside": plan.finish.inside,
        "masked": [
            {
                "what": m.what,
                "section": m.section,
                "z0": plain(m.z0),
                "z1": plain(m.z1),
                "dimension": m.dimension,
                "size_mm": plain(m.size),
            }
            for m in plan.masked
        ],
    }
