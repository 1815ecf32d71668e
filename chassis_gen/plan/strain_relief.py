"""Strain relief: a pair of slots for a cable tie, or a land for a drop of glue, near a soldered joint.

Origin and axes: `frame` stands on the wall that holds the wires, +z points out of the wall toward the
wires, +y runs along them.

     [ ]  wires  [ ]     tie: two slots, the tie loops round wires and web
      ===========        glue: a shallow trough across the wires
"""

from __future__ import annotations

import math
from typing import Literal

from msgspec import Struct

from chassis_gen.findings import Finding
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.shapes.frame import Frame, Vec3
from chassis_gen.shapes.primitives import Box, Primitive
from chassis_gen.tables.wire import wiring_rule

TIE_WIDTH = 2.5
TIE_THICKNESS = 1.1
TIE_SOURCE = "smallest usual cable tie, 2.5 x 1.1 mm: common practice, no standard"
GLUE_DEPTH = 0.6


class StrainRelief(Struct, frozen=True):
    """A planned strain relief.

    Args:
        name: stem of its dimension names.
        kind: ``tie`` or ``glue``.
        frame: on the wall, +z toward the wires, +y along them.
        wall: thickness of the wall, mm.
        span: labelled sum: clear width between the slots, or width of the glue land.
        length: labelled sum: size along the wires.
        depth: labelled sum: thickness of a slot across the wires, or depth of the glue land.
    """

    name: str
    kind: Literal["tie", "glue"]
    frame: Frame
    wall: float
    span: Dimension
    length: Dimension
    depth: Dimension


def plan_relief(
    fitter: Fitter, name: str, kind: Literal["tie", "glue"], frame: Frame, wall: float, bundle_diameter: float
) -> StrainRelief:
    """Return a strain relief for a bundle of wires.

    Args:
        fitter: makes labelled sums.
        name: stem of the dimension names.
        kind: ``tie`` or ``glue``.
        frame: on the wall, +z toward the wires, +y along them.
        wall: thickness of the wall, mm.
        bundle_diameter: of all wires together, mm.
    """
    bundle = Term("bundle", bundle_diameter, "wires in the parameter file")
    span = fitter.summed(f"{name}_span", (bundle,), "between the tie's slots, or width of the glue land")
    if kind == "tie":
        length = fitter.hole(f"{name}_slot_length", TIE_WIDTH, TIE_SOURCE, "slot along the wires")
        depth = fitter.hole(f"{name}_slot_width", TIE_THICKNESS, TIE_SOURCE, "slot across the wires")
    else:
        length = fitter.chosen(
            f"{name}_land_length", max(5.0, 2 * bundle_diameter), "glue land along the wires"
        )
        depth = fitter.chosen(f"{name}_land_depth", min(GLUE_DEPTH, wall / 2), "depth of the glue land")
    return StrainRelief(name, kind, frame, wall, span, length, depth)


def relief_cutters(relief: StrainRelief) -> tuple[Primitive, ...]:
    """Return what to cut: two slots through the wall, or one shallow trough."""
    half, y = relief.span.total / 2, relief.length.total / 2
    if relief.kind == "glue":
        return (Box((-half, -y, -relief.depth.total), (half, y, OVERLAP), relief.frame),)
    far = half + relief.depth.total
    low, high = -relief.wall - OVERLAP, OVERLAP
    return tuple(Box((a, -y, low), (b, y, high), relief.frame) for a, b in ((-far, -half), (half, far)))


def relief_finding(relief: StrainRelief, joint: Vec3) -> Finding | None:
    """Return a warning when a relief stands farther from a joint than the wiring rules allow.

    Args:
        relief: the relief.
        joint: the soldered joint in tube coordinates, mm.
    """
    limit = wiring_rule("strain_relief_distance")
    distance = math.dist(relief.frame.origin, joint)
    if distance <= limit.value:
        return None
    message = (
        f"the strain relief {relief.name} stands {distance:.1f} mm from its joint, "
        f"at most {limit.value:.0f} mm are wanted ({limit.source})"
    )
    return Finding(
        "warning", "strain-relief-far", relief.name, message, {"distance": distance, "limit": limit.value}
    )
