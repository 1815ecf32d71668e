"""A setting and a context for planning one section alone, without a build file."""

from __future__ import annotations

from chassis_gen.parts.catalogue import find_part
from chassis_gen.plan.fitting import Fitter, allowances
from chassis_gen.plan.model import Outer, OuterStep, SectionPlan
from chassis_gen.sections.base import (
    Material,
    Opening,
    Rules,
    SectionContext,
    SectionKind,
    SectionParams,
    Setting,
)
from chassis_gen.shapes.recipe import Recipe
from chassis_gen.tables.fits import FitClass

CLASSES = {
    "press": FitClass("press", -0.025, -0.05, 0.02, "test"),
    "snug": FitClass("snug", 0.05, 0.0, 0.10, "test"),
    "slide": FitClass("slide", 0.15, 0.08, 0.25, "test"),
    "free": FitClass("free", 0.30, 0.20, 0.45, "test"),
}


def setting(bore: float = 40.0, openings: tuple[Opening, ...] = ()) -> Setting:
    """Return a setting with an uncalibrated printer."""
    printer = allowances(0.1, 0.1, 0.2, 0.2, 0.2, "uncalibrated printer")
    return Setting(
        fitter=Fitter(CLASSES, printer),
        find_part=find_part,
        rules=Rules(nozzle=0.4, layer=0.2, least_wall=0.8, wall=1.6),
        material=Material("PETG", 1.27, 0.04, 0.5),
        openings={o.name: o for o in openings},
        smallest_bore=bore,
    )


def planned(
    kind: SectionKind,
    params: SectionParams,
    bore: float = 40.0,
    z0: float = 16.0,
    opening: Opening | None = None,
    joined: tuple[bool, bool] = (True, True),
    ends: tuple[bool, bool] = (False, False),
    length: float | None = None,
) -> tuple[SectionPlan, SectionContext, Recipe]:
    """Return plan, context and recipe of one section standing in a plain tube of a bore, mm."""
    s = setting(bore, (opening,) if opening else ())
    own = kind.length(params, s)
    z1 = z0 + (own.total if own else (length or 20.0))
    radius = bore / 2 - 0.2
    outer = Outer((OuterStep(z0 - 50, z1 + 50, radius, True),))
    ctx = SectionContext(
        s, params.name, params.piece, z0, z1, outer, bore / 2, bore / 2 + 1.5, opening,
        opening.clock_deg if opening else params.clock_deg, *ends, *joined,
    )  # fmt: skip
    plan = kind.plan(params, ctx)
    return plan, ctx, Recipe(params.name, kind.recipe(plan, ctx))
