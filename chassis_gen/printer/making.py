"""What is printed to measure a printer, put together; and what its calibration writes into the printer file."""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from typing import TYPE_CHECKING

from msgspec import Struct

from chassis_gen.params.printer import BehaviourKind, BehaviourTable, PrinterFile
from chassis_gen.parts.extent import Extent, extent, extent_of
from chassis_gen.parts.model import Part
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.printing import fit_classes, printer_terms
from chassis_gen.printer.features import Feature, gauge_features
from chassis_gen.printer.gauge import gauge_recipe
from chassis_gen.printer.trying import build_ring, tried_part, tried_tube, try_pieces
from chassis_gen.problems import InputError, Problem
from chassis_gen.shapes.recipe import Recipe

if TYPE_CHECKING:
    from chassis_gen.printer.calibrate import Calibration


class GaugeSet(Struct, frozen=True):
    """All that is printed to measure a printer.

    Args:
        printer: its name.
        files: recipes by the name of the file that they are printed from: ``gauge``, ``try`` and ``ring``.
        features: everything that carries a number, in order.
    """

    printer: str
    files: dict[str, tuple[Recipe, ...]]
    features: tuple[Feature, ...]


def gauge_set(
    file: PrinterFile, name: str, part: Part | None, plan: ChassisPlan | None, for_tube: bool
) -> GaugeSet:
    """Return the gauge, and the pieces to try a part, a tube and a build in where they are asked for.

    Args:
        file: the printer file.
        name: the printer's name.
        part: the part that go/no-go pieces are made for, or None.
        plan: the build whose bearing and seat are tried, or None.
        for_tube: True when go/no-go pieces are made for the build's tube.

    Raises:
        InputError: when the bed is too small, the part has no size to try, or the tube's build is missing.
    """
    if for_tube and plan is None:
        allowed = "--build with the build whose tube it is"
        raise InputError(
            [Problem("usage", "a tube is tried for a build", key="--for", value='"tube"', allowed=allowed)]
        )
    files: dict[str, tuple[Recipe, ...]] = {"gauge": (gauge_recipe(),)}
    features = list(gauge_features().values())
    tried = tried_part(part) if part else tried_tube(plan) if for_tube and plan else None
    if tried is not None:
        fitter = Fitter(fit_classes(file, name), printer_terms(file, name))
        pieces = try_pieces(tried, fitter, file.bed[0])
        files["try"] = tuple(p.recipe for p in pieces)
        features += [p.feature for p in pieces]
    if plan is not None:
        files["ring"] = (build_ring(plan),)
    problems = [p for n, recipes in files.items() for p in _off_bed(n, recipes, file, name)]
    if problems:
        raise InputError(problems)
    return GaugeSet(name, files, tuple(features))


def behaviours(found: Calibration, day: datetime.date) -> dict[BehaviourKind, BehaviourTable]:
    """Return what a calibration says, as the printer file holds it.

    Args:
        found: the calibration.
        day: when the readings were taken.
    """
    return {
        kind: BehaviourTable(
            scale=line.scale,
            offset=line.offset,
            scale_sd=line.scale_sd,
            offset_sd=line.offset_sd,
            residual_sd=line.residual_sd,
            date=day,
            readings=len(line.residuals),
        )
        for kind, line in found.lines.items()
    }


def _off_bed(what: str, recipes: Iterable[Recipe], file: PrinterFile, name: str) -> list[Problem]:
    """Return a problem when what stands in one file reaches beyond the bed."""
    low, high = _extent(recipes)
    size = tuple(b - a for a, b in zip(low, high, strict=True))
    if all(s <= room for s, room in zip(size, file.bed, strict=True)):
        return []
    needed, bed = (" x ".join(f"{v:.0f}" for v in sizes) for sizes in (size, file.bed))
    message = f"the {what} needs {needed} mm, more than the bed of {name}"
    return [
        Problem("bed-small", message, key="bed", value=f"{bed} mm", allowed="a larger bed, or a smaller part")
    ]


def _extent(recipes: Iterable[Recipe]) -> Extent:
    return extent(extent_of(s.solid) for r in recipes for s in r.steps if s.operation == "add")
