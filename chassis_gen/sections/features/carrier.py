"""Carrier: a printed piece of its own that screws hold in a bay of the chassis, flush with its surface.

    ___ carrier ___
   |_______________|      the carrier is the chassis's own bar within a block;
___| bay           |___   the bay is the block and the clearance of the fit
"""

from __future__ import annotations

from chassis_gen.plan.model import Fit, GapProbe
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext
from chassis_gen.shapes.primitives import Primitive, Within
from chassis_gen.shapes.recipe import Step, add

CARRIER_FIT = "slide"
"""Fit class of a carrier in its bay (chosen)."""


def carrier_block(label: str, ctx: SectionContext, keep: Primitive, z0: float, z1: float) -> tuple[Step, ...]:
    """Return the steps that add what of the chassis's bar lies within a block.

    Args:
        label: of the steps.
        ctx: of the section.
        keep: the block, in tube coordinates.
        z0: station at which the block begins, mm.
        z1: station at which it ends, mm.
    """
    return add(label, *(Within(bar, keep) for bar in ctx.bars_about(z0, z1)))


def carrier_fit(ctx: SectionContext, carrier: str, size: Dimension, z0: float, z1: float) -> Fit:
    """Return the fit of a carrier in its bay, measured as the smallest gap to the chassis's piece.

    Args:
        ctx: of the section.
        carrier: name of the carrier's piece.
        size: the carrier's size in the direction of that gap, mm.
        z0: first station of the measurement, mm.
        z1: last one, mm.
    """
    pair = (carrier, ctx.piece)
    probe = GapProbe(*pair, z0, z1)
    return ctx.setting.fitter.fit(size, "carrier in bay", pair, CARRIER_FIT, probe, outer=True)
