"""Tape recess: a shallow ring in the outer surface, so that tape wrapped round the chassis lies flush.

Origin and axes: the tube's; the band runs all round between two stations.

      ________        ________   outer surface
              |______|           recess: layers of tape and a little to spare
"""

from __future__ import annotations

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.params.quantities import NonNegativeLength, PositiveLength
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Hardware, Outer
from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.shapes.primitives import Primitive, Ring


class TapeRecess(BaseModel):
    """Keys of a tape recess."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    width: PositiveLength = Field(12.0, description="width of the tape")
    layers: int = Field(2, ge=1, le=10, description="turns of tape that lie over each other")
    thickness: PositiveLength = Field(0.1, description="thickness of one layer of tape")
    spare: NonNegativeLength = Field(0.1, description="how far the outermost layer stays below the surface")
    side_clearance: NonNegativeLength = Field(0.5, description="room at each edge of the tape")


class TapeBand(Struct, frozen=True):
    """A planned tape recess.

    Args:
        depth: labelled sum of its radial depth.
        width: labelled sum of its width along the axis.
        z0: near edge, mm.
        z1: far edge, mm.
        inner_radius: radius of its floor, mm.
        outer_radius: largest outer radius over the band, mm.
    """

    depth: Dimension
    width: Dimension
    z0: float
    z1: float
    inner_radius: float
    outer_radius: float


def tape_depth(fitter: Fitter, name: str, tape: TapeRecess) -> Dimension:
    """Return the depth of a tape recess as a labelled sum.

    Args:
        fitter: makes labelled sums.
        name: dimension name.
        tape: the recess's keys.
    """
    terms = (
        Term(
            "tape",
            tape.layers * tape.thickness,
            f"{tape.layers} layers of {tape.thickness:g} mm: parameter file",
        ),
        Term("spare", tape.spare, "parameter file or its default"),
    )
    return fitter.summed(name, terms, "radial depth of the tape recess")


def tape_width(fitter: Fitter, name: str, tape: TapeRecess) -> Dimension:
    """Return the width of a tape recess along the axis as a labelled sum.

    Args:
        fitter: makes labelled sums.
        name: dimension name.
        tape: the recess's keys.
    """
    terms = (
        Term("tape", tape.width, "width of the tape: parameter file or its default"),
        Term("side clearance", 2 * tape.side_clearance, "both edges: parameter file or its default"),
    )
    return fitter.summed(name, terms, "width of the tape recess along the axis")


def plan_tape_recess(fitter: Fitter, name: str, tape: TapeRecess, outer: Outer, middle: float) -> TapeBand:
    """Return a tape recess whose middle stands at a station.

    Args:
        fitter: makes labelled sums.
        name: stem of the dimension names; ``_depth`` and ``_width`` are added.
        tape: the recess's keys.
        outer: the chassis's outer surface.
        middle: station of the band's middle, mm.
    """
    depth = tape_depth(fitter, f"{name}_depth", tape)
    width = tape_width(fitter, f"{name}_width", tape)
    z0, z1 = middle - width.total / 2, middle + width.total / 2
    low, high = outer.smallest_radius(z0, z1), outer.largest_radius(z0, z1)
    return TapeBand(depth, width, z0, z1, low - depth.total, high)


def tape_cutters(band: TapeBand) -> tuple[Primitive, ...]:
    """Return what to cut for a tape recess: one ring."""
    return (Ring(band.inner_radius, band.outer_radius + 1.0, band.z0, band.z1),)


def tape_sums(
    fitter: Fitter, section: str, tape: TapeRecess | None
) -> tuple[Dimension, Dimension] | tuple[None, None]:
    """Return depth and width of a section's tape recesses as labelled sums, both None without tape.

    Args:
        fitter: makes labelled sums.
        section: the section's name.
        tape: the recess's keys, or None.
    """
    if tape is None:
        return None, None
    name = f"{section}.tape"
    return tape_depth(fitter, f"{name}_depth", tape), tape_width(fitter, f"{name}_width", tape)


def tape_hardware(tape: TapeRecess | None, bands: int, section: str) -> tuple[Hardware, ...]:
    """Return the tape to buy.

    Args:
        tape: the recess's keys, or None.
        bands: number of recesses.
        section: where it is used.
    """
    if tape is None:
        return ()
    return (Hardware(f"tape {tape.width:g} mm wide, {tape.layers} turns", bands, section),)
