"""The solids of a port bay: its rooms, seat or bay, the carrier and the cut-off plug."""

from __future__ import annotations

from chassis_gen.parts.model import Part
from chassis_gen.plan.model import OVERLAP, ExtraPiece
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.carrier import carrier_block
from chassis_gen.sections.features.cut_off_plug import plug_steps
from chassis_gen.sections.features.screw_hole import ShapedHole, hole_cuts
from chassis_gen.sections.port_bay_model import (
    CARRIER_WALL,
    CORNER_RELIEF,
    COVER,
    DIMPLE_DEPTH,
    LEAST_GROOVE,
    OPEN_LEVEL,
    Block,
    PortBayPlan,
    level_of,
)
from chassis_gen.shapes.frame import Frame, negated, radial, shifted
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive
from chassis_gen.shapes.recipe import Step, add, cut
from chassis_gen.tables.threads import find_thread


def bay_steps(d: PortBayPlan, part: Part, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the bar with the room behind the port and either its seat or the bay of its carrier.

    Args:
        d: what was planned.
        part: the jack or board.
        ctx: of the section.
    """
    steps = (*ctx.shell(), *_room_cuts(d, ctx))
    if d.well is None:
        return (*steps, *_jack_cuts(d, ctx))
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    bay = _solid(d.well, -d.depth, big if d.well.radius is None else d.front + OVERLAP, d.frame)
    return (
        *steps,
        *cut("carrier bay", bay),
        *_corner_relief(d),
        *hole_cuts("carrier screw", d.holes, ctx.piece),
    )


def extra_pieces(ctx: SectionContext, part: Part, d: PortBayPlan) -> tuple[ExtraPiece, ...]:
    """Return the carrier and the cut-off plug as assembled.

    Args:
        ctx: of the section.
        part: the jack or board.
        d: what was planned.
    """
    inward = negated(d.frame.z_axis)
    pieces = []
    if d.block:
        name = f"{ctx.name} carrier"
        steps = [
            *_carrier_body(ctx, d, d.block),
            *(_jack_cuts(d, ctx) if part.kind == "charge_jack" else _board_cuts(d, part, ctx)),
            *hole_cuts("carrier screw", d.holes, name),
        ]
        if d.holes[0].kind == "set_screw":
            steps += _dimple(ctx, d, d.block, d.holes[0])
        pieces.append(ExtraPiece(name, tuple(steps), inward, (ctx.piece,)))
    if d.plug:
        mouth = d.frame @ shifted(0.0, 0.0, part.size("flange_height"))
        pieces.append(ExtraPiece(f"{ctx.name} plug", plug_steps(d.plug, mouth), inward, (ctx.name,)))
    return tuple(pieces)


def _solid(block: Block, z0: float, z1: float, frame: Frame) -> Primitive:
    if block.radius is not None:
        return Cylinder(block.radius, z0, z1, frame)
    return Box((-block.half_x, block.low_y, z0), (block.half_x, block.high_y, z1), frame)


def _room_cuts(d: PortBayPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the room behind the port; under a carrier it reaches into the bay."""
    a = -d.depth - d.wire_room.total
    b = -d.depth + (OVERLAP if d.well else 0.0)
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    if abs(d.frame.z_axis[2]) > 0.5:
        room = cut("room behind the port", Cylinder(d.room[0], a, b, d.frame))
        if d.well:
            return room
        window = Box((-big, OPEN_LEVEL * ctx.radius, a), (big, big, b), d.frame)
        return (*room, *cut("room's window", window))
    x, y = d.room
    return cut("room under the port", Box((-x, -y, a), (x, y, b), d.frame))


def _corner_relief(d: PortBayPlan) -> tuple[Step, ...]:
    """Return the undercut along a rectangular bay's ends: the carrier never rides on a printed radius."""
    well = d.well
    if well is None or well.radius is not None:
        return ()
    x, low = well.half_x, -d.depth - CORNER_RELIEF
    ends = ((well.low_y, well.low_y + CORNER_RELIEF), (well.high_y - CORNER_RELIEF, well.high_y))
    boxes = (Box((-x, a, low), (x, b, -d.depth + OVERLAP), d.frame) for a, b in ends)
    return cut("corner relief", *boxes)


def _jack_cuts(d: PortBayPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the hole for the jack's body and the recess for flange and grip."""
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    out = d.front + OVERLAP if abs(d.frame.z_axis[2]) > 0.5 else big - level_of(d)
    return (
        *cut("jack's hole", Cylinder(d.seat.total / 2, -d.depth - OVERLAP, OVERLAP, d.frame)),
        *cut("jack's recess", Cylinder(d.recess_radius, 0.0, out, d.frame)),
    )


def _board_cuts(d: PortBayPlan, part: Part, ctx: SectionContext) -> tuple[Step, ...]:
    """Return a board's grooves with the room over and under it, and the connector's way out."""
    assert d.groove is not None
    back, front, y = -d.depth - OVERLAP, -CARRIER_WALL, d.board_level
    half, t = part.size("width") / 2, part.size("thickness")
    over = max(half - part.size("margin_above"), part.size("connector_width") / 2) + COVER
    under = half - max(part.size("margin_below"), LEAST_GROOVE + COVER) + COVER
    high = y + d.groove.total + max(part.size("height_above"), part.size("connector_height")) + COVER
    w = part.size("connector_width") / 2 + COVER
    seat = d.seat.total / 2
    cuts = [
        *cut("board's grooves", Box((-seat, y, back), (seat, y + d.groove.total, front), d.frame)),
        *cut("room over the board", Box((-over, y + OVERLAP, back), (over, high, front), d.frame)),
    ]
    if part.size("height_below") > 0.0:
        low = y - part.size("height_below") - COVER
        cuts += cut("room under the board", Box((-under, low, back), (under, y + OVERLAP, front), d.frame))
    window = Box((-w, y + t / 2 - COVER, front - OVERLAP), (w, high, OVERLAP), d.frame)
    cuts += cut("connector's way out", window)
    if abs(d.frame.z_axis[2]) < 0.5:
        gx, gy = part.size("plug_width") / 2 + 0.5, part.size("plug_height") / 2 + 0.5
        cuts += cut("plug's recess", Box((-gx, -gy, 0.0), (gx, gy, ctx.radius), d.frame), must_touch=False)
    return tuple(cuts)


def _carrier_body(ctx: SectionContext, d: PortBayPlan, block: Block) -> tuple[Step, ...]:
    if block.radius is not None:
        return add("carrier", Cylinder(block.radius, -d.depth, d.front, d.frame))
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    keep = _solid(block, -d.depth, big, d.frame)
    z = d.frame.origin[2]
    z0, z1 = max(ctx.z0, z + block.low_y), min(ctx.z1, z + block.high_y)
    return carrier_block("carrier", ctx, keep, z0, z1)


def _dimple(ctx: SectionContext, d: PortBayPlan, block: Block, hole: ShapedHole) -> tuple[Step, ...]:
    """Return the flat-bottomed dimple that the set screw's point stands in."""
    assert block.radius is not None
    thread = find_thread(hole.thread)
    z = hole.frame.origin[2]
    at = radial(ctx.clock_deg, z, block.radius)
    return cut("set screw's dimple", Cylinder(thread.clearance.coarse / 2, -DIMPLE_DEPTH, 1.0, at))
