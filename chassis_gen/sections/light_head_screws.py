"""The screws of a light head: the one that locks the light tube and the two that hold a carrier."""

from __future__ import annotations

from chassis_gen.plan.model import OVERLAP, ScrewHole
from chassis_gen.plan.sums import Dimension, on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.screw_hole import plan_hole
from chassis_gen.sections.light_head_model import LightHeadParams, inward_frame, station_of
from chassis_gen.shapes.frame import radial, reversed_axis, shifted
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread


def lock_holes(
    params: LightHeadParams, ctx: SectionContext, socket: Dimension, piece: str
) -> tuple[ScrewHole, ...]:
    """Return the locking screw's hole: wanted, or by itself where the wall holds enough of its thread."""
    if params.locking_screw is False:
        return ()
    clock = params.lock_clock_deg if params.lock_clock_deg is not None else ctx.clock_deg
    station = on_grid(station_of(params.facing, ctx, params.insertion_depth / 2))
    outer = ctx.outer.largest_radius(station - 2.0, station + 2.0)
    frame = reversed_axis(radial(clock, station, outer))
    engagement = max(0.1, ctx.outer.smallest_radius(station - 2.0, station + 2.0) - socket.total / 2)
    # Half a millimetre more, because the socket's round wall falls away beside the hole's axis.
    depth = outer - socket.total / 2 + 0.5
    hole = plan_hole(
        ctx.setting.fitter,
        f"{ctx.name}.locking_screw",
        "set_screw",
        params.lock_thread,
        frame,
        depth,
        piece,
        engagement,
    )
    room_along = params.insertion_depth / 2 - hole.diameter.total / 2
    holds = hole.engagement >= hole.least_engagement and room_along >= hole.least_wall
    return (hole,) if params.locking_screw or holds else ()


def carrier_holes(
    params: LightHeadParams, ctx: SectionContext, holds: float, joint: float, carrier: str | None
) -> tuple[tuple[float, float] | None, tuple[ScrewHole, ...], tuple[ScrewHole, ...]]:
    """Return boss radius and distance, clearance holes in the carrier and forming holes in the chassis."""
    if carrier is None:
        return None, (), ()
    fitter, inward, thread = ctx.setting.fitter, inward_frame(params.facing, ctx), params.carrier_thread

    def clearance(k: int, x: float) -> ScrewHole:
        id, frame = f"{ctx.name}.carrier_screw_{k}", inward @ shifted(x)
        return plan_hole(fitter, id, "clearance", thread, frame, joint, carrier, through=True)

    def forming(k: int, x: float) -> ScrewHole:
        id, frame = f"{ctx.name}.carrier_screw_{k}_thread", inward @ shifted(x, 0.0, joint)
        least = hole_for("thread_forming", find_thread(thread)).min_engagement
        depth = min(least + 1.0, params.wire_room)
        return plan_hole(fitter, id, "thread_forming", thread, frame, depth, ctx.piece, min(least, depth))

    clear, formed = clearance(1, 0.0), forming(1, 0.0)
    boss = formed.diameter.total / 2 + formed.least_wall
    distance = max(holds + clear.diameter.total / 2 + clear.least_wall, ctx.radius - boss - OVERLAP)
    sides = ((1, distance), (2, -distance))
    through = tuple(clearance(k, x) for k, x in sides)
    return (boss, distance), through, tuple(forming(k, x) for k, x in sides)
