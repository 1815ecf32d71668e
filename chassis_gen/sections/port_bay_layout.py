"""How a port bay is laid out: the mouth's frame, bay and carrier, the rooms, the carrier's screw."""

from __future__ import annotations

import math

from msgspec.structs import replace

from chassis_gen.parts.model import Part
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import CHOSEN, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.cut_off_plug import CutOffPlug
from chassis_gen.sections.features.head_screw import head_bore, held_down
from chassis_gen.sections.features.screw_hole import Counterbore, ShapedHole, plan_hole
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.sections.port_bay_model import (
    CARRIER_WALL,
    COVER,
    LEAST_GROOVE,
    REST,
    ROUND_WALL,
    SEAT_FIT,
    Block,
    PortBayParams,
    PortBayPlan,
    has_carrier,
)
from chassis_gen.sections.port_bay_sums import (
    board_seat_length,
    depth_of,
    front_of,
    half_block,
    land_length,
    port_plug,
    reach_along,
    recess_radius_of,
    wire_room_sum,
)
from chassis_gen.shapes.frame import Frame, radial, reversed_axis, topped
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread


def laid_out(params: PortBayParams, ctx: SectionContext, part: Part) -> PortBayPlan:
    """Return what a port bay decides.

    Args:
        params: of the section.
        ctx: of the section.
        part: the jack or board.

    Raises:
        InputError: the thread is unknown.
    """
    fitter, name, setting = ctx.setting.fitter, ctx.name, ctx.setting
    plug = port_plug(params, part, setting)
    frame = _mouth(params, ctx, part, plug)
    depth = depth_of(params, part, setting)
    carrier = has_carrier(params, part)
    groove = seat_length = None
    level = 0.0
    if part.kind == "charge_jack":
        note = "hole for the jack's body"
        seat = fitter.inner(f"{name}.seat_diameter", part.sizes["body_diameter"], SEAT_FIT, note, part.name)
    else:
        seat = fitter.inner(
            f"{name}.seat_width", part.sizes["width"], SEAT_FIT, "between the board's grooves", part.name
        )
        groove = fitter.inner(
            f"{name}.groove", part.sizes["thickness"], SEAT_FIT, "groove for the board's edge", part.name
        )
        seat_length = board_seat_length(params, part, fitter)
        level = -(part.size("thickness") + part.size("connector_height") / 2)
    bay = size = bay_length = size_length = None
    block = well = None
    if carrier:
        bay, size, bay_length, size_length = _bay_sums(params, ctx, part)
        well, block = _blocks(params, part, bay, size, bay_length, size_length)
    room = _room(part, well) if well else _open_room(params, ctx, part)
    front = front_of(params, part, setting) if params.mount == "axial" else 0.0
    holes = _screw(params, ctx, part, frame, depth, bay, well) if carrier and bay else ()
    return PortBayPlan(
        length=fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout"),
        seat=seat,
        seat_length=seat_length,
        groove=groove,
        wire_room=wire_room_sum(params, part, setting),
        end_wall=fitter.chosen(f"{name}.end_wall", params.end_wall, "thickness of each end wall"),
        bay=bay,
        bay_length=bay_length,
        carrier_size=size,
        carrier_length=size_length,
        frame=frame,
        depth=depth,
        front=front,
        recess_radius=recess_radius_of(part),
        block=block,
        well=well,
        room=room,
        board_level=level,
        holes=holes,
        plug=plug,
    )


def _mouth(params: PortBayParams, ctx: SectionContext, part: Part, plug: CutOffPlug | None) -> Frame:
    """Return the mouth's frame: under the end face, or as far out as the chassis still slides into the tube."""
    if params.mount == "axial":
        front = front_of(params, part, ctx.setting)
        if params.facing == "far":
            return topped(ctx.clock_deg, ctx.z1 - front)
        return reversed_axis(topped(ctx.clock_deg, ctx.z0 + front))
    station = on_grid(ctx.z0 + params.end_wall + reach_along(params, part, ctx.setting)[0])
    return radial(ctx.clock_deg, station, on_grid(_radial_level(ctx, part, plug)))


def _radial_level(ctx: SectionContext, part: Part, plug: CutOffPlug | None) -> float:
    """Return the height of a radial port's z = 0 over the tube's axis, mm."""
    room = ctx.radius - COVER

    def under(half: float) -> float:
        return half_chord(room, half)

    if part.kind == "port_board":
        out = part.size("connector_overhang") - CARRIER_WALL
        return under(part.size("connector_width") / 2) - max(0.0, out)
    flange = under(part.size("flange_diameter") / 2) - part.size("flange_height")
    if plug is None:
        return flange
    head = under(plug.head_diameter.total / 2) - plug.head_height.total - part.size("flange_height")
    return min(flange, head - OVERLAP)


def _bay_sums(
    params: PortBayParams, ctx: SectionContext, part: Part
) -> tuple[Dimension, Dimension, Dimension | None, Dimension | None]:
    """Return bay and carrier across, and along the tube for a radial one."""
    fitter, name = ctx.setting.fitter, ctx.name
    if params.mount == "axial":
        wall = _axial_wall(params)
        terms = (
            Term("chassis", 2 * ctx.radius, "narrowest outside of the section"),
            Term("screw wall", -2 * wall, f"what a {params.carrier_thread} screw needs round the bay"),
        )
        bay = fitter.summed(f"{name}.bay_diameter", terms, "bay that takes the carrier")
        note = "outside of the carrier"
        return bay, fitter.mating(f"{name}.carrier_diameter", bay, SEAT_FIT, note, outer=False), None, None
    half_x, _ = half_block(params, part)
    low, high = reach_along(params, part, ctx.setting)
    bay = fitter.summed(
        f"{name}.bay_width",
        (Term(CHOSEN, 2 * half_x, f"room of {part.name}"),),
        "bay for the carrier, across",
    )
    along = fitter.summed(
        f"{name}.bay_length",
        (Term(CHOSEN, low + high, f"room of {part.name} and its screw"),),
        "bay for the carrier, along the tube",
    )
    return (
        bay,
        fitter.mating(f"{name}.carrier_width", bay, SEAT_FIT, "carrier across", outer=False),
        along,
        fitter.mating(f"{name}.carrier_length", along, SEAT_FIT, "carrier along the tube", outer=False),
    )


def _axial_wall(params: PortBayParams) -> float:
    """Return the wall round an axial carrier's bay that its screw needs, mm."""
    thread = find_thread(params.carrier_thread)
    if params.carrier_hole == "set_screw":
        return hole_for("set_screw", thread).min_engagement + 0.2
    return thread.major_diameter + CARRIER_WALL + COVER


def _blocks(
    params: PortBayParams,
    part: Part,
    bay: Dimension,
    size: Dimension,
    bay_length: Dimension | None,
    size_length: Dimension | None,
) -> tuple[Block, Block]:
    if bay_length is None or size_length is None:
        return Block(0.0, 0.0, 0.0, bay.total / 2), Block(0.0, 0.0, 0.0, size.total / 2)
    half = half_block(params, part)[1]
    gap = (bay_length.total - size_length.total) / 2
    well = Block(bay.total / 2, -half, bay_length.total - half)
    return well, Block(size.total / 2, -half + gap, bay_length.total - half - gap)


def _room(part: Part, well: Block) -> tuple[float, float]:
    """Return the half sizes of the room behind a carrier, which rests on the ledge round it."""
    if well.radius is not None:
        wide = well.radius - REST
        if part.kind == "port_board":
            # The ledge must also stop the board's corners.
            corner = part.size("thickness") + part.size("connector_height") / 2
            wide = min(wide, math.hypot(part.size("width") / 2, corner) - LEAST_GROOVE)
        return wide, wide
    across = well.half_x - REST
    if part.kind == "port_board":
        across = min(across, part.size("width") / 2 - LEAST_GROOVE)
    return across, -well.low_y - REST


def _open_room(params: PortBayParams, ctx: SectionContext, part: Part) -> tuple[float, float]:
    """Return the half sizes of the room behind a plate of the frame; a radial one opens to both sides."""
    if params.mount == "axial":
        return ctx.radius - 3.2, ctx.radius - 3.2
    return ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0, reach_along(params, part, ctx.setting)[0]


def _screw(
    params: PortBayParams,
    ctx: SectionContext,
    part: Part,
    frame: Frame,
    depth: float,
    bay: Dimension,
    well: Block | None,
) -> tuple[ShapedHole, ...]:
    """Return the holes of the carrier's one screw: across a round carrier, else down through its land."""
    fitter, thread = ctx.setting.fitter, params.carrier_thread
    spec = hole_for(params.carrier_hole, find_thread(thread))
    size, id, carrier = spec.thread.major_diameter, f"{ctx.name}.carrier_screw", f"{ctx.name} carrier"
    wide = head_bore(fitter, f"{id}_head_diameter", thread)
    if params.mount == "axial":
        station = frame.point((0.0, 0.0, -depth / 2))[2]
        inner = bay.total / 2
        if params.carrier_hole == "set_screw":
            outer = ctx.outer.largest_radius(ctx.z0, ctx.z1)
            enters = reversed_axis(radial(ctx.clock_deg, station, outer))
            hole = plan_hole(
                fitter, id, "set_screw", thread, enters, outer - inner + ROUND_WALL, ctx.piece,
                engagement=ctx.radius - inner, through=True,
            )  # fmt: skip
            return (hole,)
        bears = inner + CARRIER_WALL
        enters = reversed_axis(radial(ctx.clock_deg, station, bears))
        mouth = Counterbore(wide, ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0 - bears)
        deep = CARRIER_WALL + ROUND_WALL
        through = plan_hole(
            fitter, id, "clearance", thread, enters, deep, ctx.piece, counterbore=mouth, through=True
        )
        base = reversed_axis(radial(ctx.clock_deg, station, inner))
        held = plan_hole(
            fitter, f"{id}_thread", params.carrier_hole, thread, base, spec.min_depth, carrier,
            engagement=spec.min_engagement,
        )  # fmt: skip
        return through, held
    assert well is not None
    at = well.high_y - land_length(params) / 2 - 0.25
    ledge = frame.origin[0] * frame.z_axis[0] + frame.origin[1] * frame.z_axis[1] - depth
    rim = half_chord(ctx.radius - COVER, wide.total / 2)
    bears = max(min(rim - size, ledge + 2 * size), ledge + CARRIER_WALL)
    station = frame.origin[2] + at
    kind = "tapped" if params.carrier_hole == "set_screw" else params.carrier_hole
    return held_down(
        ctx, id, replace(spec, kind=kind), carrier, wide, (ctx.clock_deg, station), (bears, ledge)
    )
