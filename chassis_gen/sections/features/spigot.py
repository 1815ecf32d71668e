"""Spigot: a boss at a chassis's end, narrower than the chassis, that enters a smaller bore or a thread's relief.

Origin and axes: a frame on the section's outer end face, +z pointing out of the chassis.

        __________
       |          |   outer face, z = 0
    ___|          |___
   |                  |   shoulder, z = -length
"""

from __future__ import annotations

import math
from typing import Annotated

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import PositiveLength
from chassis_gen.parts.model import Measure
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, Fit, GapProbe
from chassis_gen.plan.sums import FIT_CLEARANCE, PART_SIZE, Dimension, Term
from chassis_gen.plan.tube import Bore, bore_terms
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.fit_names import known_fit
from chassis_gen.shapes.frame import Frame
from chassis_gen.shapes.primitives import Ring
from chassis_gen.shapes.recipe import Step, cut

SAME = 0.01
"""Diameters closer than this are taken for one, mm (chosen)."""


class SpigotTable(BaseModel):
    """A boss that enters a smaller bore."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    length: Annotated[PositiveLength, Field(description="from the shoulder to the outer face")]
    diameter: PositiveLength | None = Field(
        default=None, description="of the boss as printed; left out: what goes into the bore with the fit"
    )
    into_diameter: PositiveLength | None = Field(
        default=None, description="bore or thread relief that it enters; left out: the tube's bore there"
    )
    fit: str = Field(default="slide", max_length=40, description="fit class of the boss in that bore")


class Spigot(Struct, frozen=True):
    """A planned boss, mm.

    Args:
        table: the keys.
        diameter: labelled sum.
        into: diameter of the bore that it is made for.
        z0: station of its near end.
        z1: station of its far end.
        in_tube: True where the tube has that bore there, so that the fit can be measured.
        room: outside diameter of the chassis there.
    """

    table: SpigotTable
    diameter: Dimension
    into: float
    z0: float
    z1: float
    in_tube: bool
    room: float

    @property
    def too_wide(self) -> bool:
        """Return whether the boss is wider than the chassis may be there."""
        return self.diameter.total > self.room + SAME

    @property
    def radius(self) -> float:
        """Return what its radius really is, mm: no more than the chassis's."""
        return min(self.diameter.total, self.room) / 2


def plan_spigot(table: SpigotTable, z0: float, z1: float, ctx: SectionContext) -> Spigot:
    """Return a boss between two stations.

    Args:
        table: the keys.
        z0: station of its near end, mm.
        z1: station of its far end, mm.
        ctx: of the section.

    Raises:
        InputError: there is no such fit class.
    """
    fitter, name = ctx.setting.fitter, f"{ctx.name}.spigot_diameter"
    known_fit(fitter, table.fit)
    there = min((b for b in ctx.bores if b.z0 < z1 and b.z1 > z0), key=lambda b: b.diameter, default=None)
    own = there.diameter if there else 2 * ctx.bore_radius
    into = table.into_diameter or own
    in_tube = abs(into - own) <= SAME
    size = Measure(into, source="bore that it enters, measured by the maker")
    if there is not None and in_tube:
        size = Measure(
            into, there.tolerance, f"tube bore from station {there.z0:g}, measured by the maker", True
        )
    form = bore_terms(there) if there is not None and in_tube else ()
    diameter = _diameter(fitter, name, table, size, form)
    return Spigot(table, diameter, into, z0, z1, in_tube, 2 * ctx.outer.smallest_radius(z0, z1))


def _diameter(
    fitter: Fitter, name: str, table: SpigotTable, size: Measure, form: tuple[Term, ...]
) -> Dimension:
    note = "boss that enters the smaller bore"
    if table.diameter is None:
        return fitter.outer(name, size, table.fit, note, "bore").plus(form)
    terms = (
        Term(PART_SIZE, size.value, f"bore: {size.source}", size.tolerance, size.uniform),
        Term(FIT_CLEARANCE, table.diameter - size.value, f"{table.diameter:g} mm as printed: parameter file"),
    )
    return fitter.printed_sum(name, terms, fitter.printer.outer, note, coats=-2).plus(form)


def spigot_steps(spigot: Spigot, out: Frame, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the cut that leaves a boss of the full bar; none where the bar is no wider.

    Args:
        spigot: the boss.
        out: frame on the outer face, +z outward.
        ctx: of the section.
    """
    if spigot.diameter.total > spigot.room - SAME:
        return ()
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    return cut("round the spigot", Ring(spigot.radius, big, -spigot.table.length, OVERLAP, out))


def spigot_fit(spigot: Spigot, ctx: SectionContext) -> Fit | None:
    """Return the fit of a boss in the tube's bore, or None where the tube's file doesn't have that bore.

    Args:
        spigot: the boss.
        ctx: of the section.
    """
    if not spigot.in_tube or spigot.too_wide:
        return None
    probe = GapProbe(ctx.piece, "tube", spigot.z0 + 2 * OVERLAP, spigot.z1 - 2 * OVERLAP)
    between = (ctx.piece, "tube")
    fitter = ctx.setting.fitter
    return fitter.fit(spigot.diameter, "chassis in tube", between, spigot.table.fit, probe, outer=True)


def spigot_findings(spigot: Spigot, ctx: SectionContext) -> tuple[Finding, ...]:
    """Return what can't work about a boss: too wide for the chassis or its bore, or in no bore that is known.

    Args:
        spigot: the boss.
        ctx: of the section.
    """
    table, wide = spigot.table, spigot.diameter.total
    numbers = {"diameter": wide, "into_diameter": spigot.into, "chassis_diameter": spigot.room}
    clearance = ctx.setting.fitter.classes[table.fit].clearance
    fitting = math.floor(100 * (spigot.into - 2 * clearance)) / 100
    as_printed = wide - spigot.diameter.compensation
    if as_printed >= spigot.into:
        text = f"the spigot is {as_printed:.2f} mm wide as printed; the bore that it is to enter has {spigot.into:.2f} mm"
        remedy = Remedy("spigot.diameter", fitting, f"a spigot of {fitting:g} mm")
        return (
            Finding(
                "error",
                "spigot-wide",
                ctx.name,
                text,
                numbers,
                candidates=(remedy,),
                blocks_solids=spigot.too_wide,
            ),
        )
    if spigot.too_wide:
        text = f"the spigot is {wide:.2f} mm wide; the chassis may have {spigot.room:.2f} mm there to pass the tube's bores"
        into = round(2 * ctx.bore_radius, 2)
        candidates = (
            (Remedy("spigot.into_diameter", into, f"a bore of {into:g} mm"),)
            if table.diameter is None
            else (Remedy("spigot.diameter", math.floor(10 * (spigot.room - 0.5)) / 10, "a narrower spigot"),)
        )
        return (
            Finding(
                "error", "spigot-wide", ctx.name, text, numbers, candidates=candidates, blocks_solids=True
            ),
        )
    if not spigot.in_tube:
        text = (
            f"the spigot is made for a bore of {spigot.into:.2f} mm that the tube doesn't have at stations "
            f"{spigot.z0:.1f} to {spigot.z1:.1f}: its fit isn't measured"
        )
        words = "add the bore to [[tube.segment]] where it belongs to the tube"
        return (Finding("note", "spigot-unmeasured", ctx.name, text, numbers, Remedy(None, None, words)),)
    return ()


def stop_behind(bores: tuple[Bore, ...], station: float, diameter: float) -> float | None:
    """Return the station of the first end of bore behind a station that something of a diameter can't pass.

    Args:
        bores: the tube's, in order of stations.
        station: mm.
        diameter: mm.
    """
    behind = [b for b in bores if b.z1 > station + 1e-9]
    if not behind:
        return None
    return next((b.z0 for b in behind if b.z0 >= station and b.diameter < diameter), behind[-1].z1)
