"""Head screw: a screw whose head is sunk in a carrier, and the hole under the carrier that holds it.

Origin and axes: the tube's; the screw stands radially, heights count from the tube's axis.

      |   |____|   |  surface    the head bears in its counterbore,
      |    |  |    |  carrier    the shank passes through the carrier,
      =====|  |=====  ledge      its thread is held below the ledge
           |__|
"""

from __future__ import annotations

from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Obstacle, Slab
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.screw_hole import Counterbore, ShapedHole, plan_hole
from chassis_gen.shapes.frame import radial, reversed_axis
from chassis_gen.tables.holes import HoleSpec
from chassis_gen.tables.threads import find_thread

HEAD_DIAMETERS = 2.0
HEAD_HEIGHT = 0.7
"""Width and height of a pan head in screw diameters: common practice, no source."""
HEAD_ROOM = 0.4
"""Room round a head in its counterbore, mm on the diameter (chosen)."""


def head_height(thread: str) -> float:
    """Return the height of a screw's pan head, mm.

    Args:
        thread: designation.

    Raises:
        InputError: the thread is unknown.
    """
    return HEAD_HEIGHT * find_thread(thread).major_diameter


def head_width(thread: str) -> float:
    """Return the width of what takes a screw's pan head, mm.

    Args:
        thread: designation.

    Raises:
        InputError: the thread is unknown.
    """
    return HEAD_DIAMETERS * find_thread(thread).major_diameter + HEAD_ROOM


def head_bore(fitter: Fitter, name: str, thread: str) -> Dimension:
    """Return the diameter of the counterbore that takes a screw's pan head, as a labelled sum.

    Args:
        fitter: makes labelled sums.
        name: dimension name.
        thread: designation.

    Raises:
        InputError: the thread is unknown.
    """
    source = "two screw diameters wide: common practice, no source"
    return fitter.hole(name, head_width(thread), source, "counterbore for the screw's head")


def held_down(
    ctx: SectionContext,
    id: str,
    spec: HoleSpec,
    carrier: str,
    head: Dimension,
    place: tuple[float, float],
    heights: tuple[float, float],
) -> tuple[ShapedHole, ShapedHole]:
    """Return the way through a carrier and the hole in the section's piece that holds the screw.

    Args:
        ctx: of the section.
        id: ``section.hole`` of the way; that of the hole below has ``_thread`` added.
        spec: of the hole that holds the screw.
        carrier: the carrier's piece.
        head: diameter of the counterbore, mm.
        place: clock of the screw, degrees, and its station, mm.
        heights: where the head bears and where the carrier rests, mm from the axis.
    """
    fitter, thread, (bears, rests) = ctx.setting.fitter, spec.thread.designation, heights
    mouth = Counterbore(head, ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0 - bears)
    way = plan_hole(
        fitter, id, "clearance", thread, reversed_axis(radial(*place, bears)), bears - rests, carrier,
        counterbore=mouth, through=True,
    )  # fmt: skip
    held = plan_hole(
        fitter, f"{id}_thread", spec.kind, thread, reversed_axis(radial(*place, rests)), spec.min_depth,
        ctx.piece, engagement=spec.min_engagement,
    )  # fmt: skip
    return way, held


def screw_obstacle(hole: ShapedHole, level: float, clock_deg: float, what: str) -> Obstacle:
    """Return a radial hole with its wall as what bars wires.

    Args:
        hole: that holds a screw.
        level: height of its mouth over the axis, mm.
        clock_deg: of the section's top.
        what: it is called.
    """
    wide, station = hole.diameter.total / 2 + hole.least_wall, hole.frame.origin[2]
    slab = Slab(-wide, wide, level - hole.depth, level, clock_deg)
    return Obstacle(slab, station - wide, station + wide, what)
