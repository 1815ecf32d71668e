"""A shim: a thin strip, printed flat, that takes up a seat that was printed too wide; with a fit of its own.

Origin and axes: the strip lies on the bed, its thickness along +z, its length along +y, its middle on x = 0.

      ____________
     |____________|   thickness in whole layers; thin enough to bend to the seat
"""

from __future__ import annotations

import math

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.checks.fits import WANTED_SHARE, share_that_fits
from chassis_gen.output.stl import check_written, stl_bytes
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import Fit
from chassis_gen.plan.pieces import file_safe
from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.shapes import mesh
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Recipe, add
from chassis_gen.tables.trial import trial_rule

QUARTER_TURN = math.pi / 4
"""Width of a strip that lies along a quarter of a round seat, per diameter."""
WIDEST, END_MARGIN, SHORTEST = 20.0, 2.0, 4.0
"""Largest width, and how much shorter than its section it is at each end, and the least length, mm (chosen)."""
THICKEST = 0.8
"""A thicker strip doesn't bend to a seat, mm (common practice, no source)."""


class Shim(Struct, frozen=True):
    """A shim and what it makes of its fit.

    Args:
        name: file-safe name.
        thickness: labelled sum of its drawn thickness.
        width: mm.
        length: mm.
        volume_mm3: of its solid.
        measured_thickness: found on its solid, mm.
        fit: the fit with the shim in place.
        share: share of prints that fit with it.
        verdict: ``pass``, ``fail``, or ``unproven`` on a printer that isn't calibrated.
        stl: its file, whose edges are all closed.
    """

    name: str
    thickness: Dimension
    width: float
    length: float
    volume_mm3: float
    measured_thickness: float
    fit: Fit
    share: float
    verdict: str
    stl: bytes


def make_shim(plan: ChassisPlan, fit: Fit, too_wide: float) -> Shim | None:
    """Return the shim that takes up a seat, or None where no strip of whole layers can be printed and bent.

    Args:
        plan: the build as it is needed.
        fit: the fit of the seat as it is needed.
        too_wide: how much wider than that the seat was printed, mm on the whole dimension.
    """
    section = next((s for s in plan.sections if fit.dimension.name.startswith(f"{s.name}.")), None)
    if section is None:
        return None
    thickness = _thickness(plan, section.name, fit, too_wide)
    length = section.z1 - section.z0 - 2 * END_MARGIN
    if not 0.0 < thickness.total <= THICKEST or length < SHORTEST:
        return None
    width = min(WIDEST, QUARTER_TURN * fit.dimension.total)
    name = file_safe(f"shim {fit.dimension.name}")
    box = Box((-width / 2, 0.0, 0.0), (width / 2, length, thickness.total))
    body = mesh.make(Recipe(name, add("shim", box)), 0.01)
    data = stl_bytes(body, name)
    low, high = body.bounds
    measured = high[2] - low[2]
    with_shim = _with_shim(fit, too_wide, measured, thickness)
    share = share_that_fits(with_shim)
    sound = not check_written(data, body, name)
    return Shim(
        name,
        thickness,
        width,
        length,
        body.volume,
        measured,
        with_shim,
        share,
        _verdict(with_shim, share, sound, plan.calibrated),
        data,
    )


def _thickness(plan: ChassisPlan, section: str, fit: Fit, too_wide: float) -> Dimension:
    """Return the drawn thickness: what is to be taken up, made up for the printer, in whole layers."""
    setting = plan.contexts[section].setting
    layer, height = setting.rules.layer, setting.fitter.printer.z
    source = f"how much wider than needed {fit.dimension.name} was printed"
    tolerance = trial_rule("shim_layer_tolerance")
    made_up = height.compensation(too_wide)
    whole = round((too_wide + made_up) / layer) * layer
    terms = (
        Term("to be taken up", too_wide, source),
        replace(height.term(too_wide), tolerance=tolerance.value),
        Term("whole layers", whole - too_wide - made_up, f"layers of {layer:g} mm"),
    )
    return Dimension(f"{fit.dimension.name} shim", terms, "thickness of the shim as drawn")


def _with_shim(fit: Fit, too_wide: float, drawn: float, thickness: Dimension) -> Fit:
    printed = drawn - thickness.compensation
    change = (too_wide - printed) / 2
    return replace(
        fit,
        id=f"{fit.id} with shim",
        kind="part in shimmed seat",
        planned=fit.planned + change,
        as_printed=fit.as_printed + change,
        tolerance_terms=(*fit.tolerance_terms, thickness.worst_case / 2),
    )


def _verdict(fit: Fit, share: float, sound: bool, calibrated: bool) -> str:
    low, high = fit.required
    if not sound or not low - 1e-3 <= fit.as_printed <= high + 1e-3:
        return "fail"
    if not calibrated:
        return "unproven"
    return "pass" if share >= WANTED_SHARE else "fail"
