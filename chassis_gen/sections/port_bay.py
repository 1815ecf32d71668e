"""Port bay: a charge or data jack, along the axis at an end of the chassis or radially under a tube opening.

Origin and axes: planned in the mouth's frame: z = 0 is the jack's seat plane (or the front of a connector
board's carrier), +z points out of the mouth. Along the axis its +y is the section's top; radially its +y runs
along the tube.

      recess | plate | room for nut, lugs and wires | end wall       along the axis
      =======|=======|
       plug  | jack body ===lugs   )  wires at their bend radius
      =======|=======|
             ^ z = 0

With a carrier, all up to the plate's back is a piece of its own on one screw, put in when the frame is wired.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import (
    OVERLAP,
    BoreProbe,
    Disc,
    ExtraPiece,
    Fit,
    GapProbe,
    Hardware,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    PlayProbe,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import CHOSEN, PART_SIZE, WALL, Dimension, Term, on_grid
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.cut_off_plug import HEAD_GAP, CutOffPlug, plan_plug, plug_steps
from chassis_gen.sections.features.screw_hole import (
    Counterbore,
    ShapedHole,
    hole_cutters,
    hole_finding,
    plan_hole,
)
from chassis_gen.shapes.frame import Frame, Vec3, radial, reversed_axis, shifted, topped
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, Within
from chassis_gen.shapes.recipe import Step, add, cut
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread
from chassis_gen.tables.wire import wiring_rule

PORT_KINDS = ("charge_jack", "port_board")
SEAT_FIT = "slide"
COVER = 0.3
"""How far everything stays under the chassis's outer surface or under a face, mm (chosen)."""
GRIP_ROOM = 1.0
"""Room round a plug's grip in its recess, mm on the diameter: common practice, no source."""
NUT_ROOM = 1.0
"""Room round a jack's nut for fingers or a thin key, mm per side: common practice, no source."""
REST = 1.5
"""Width of the ledge that a carrier rests on, mm: common practice, no source."""
CORNER_RELIEF = 0.5
"""Depth and width of the undercut along a bay's ends, mm: common practice, no source."""
ROUND_WALL = 0.5
"""How much deeper a hole goes into a round bay, whose wall falls away beside the hole's axis, mm."""
DIMPLE_DEPTH = 0.8
"""Depth of the dimple under a set screw's point, four layers, mm (chosen)."""
CARRIER_WALL = 1.6
"""Wall of a carrier, mm (chosen)."""
HEAD_DIAMETERS = 2.0
"""Width of a screw's head in screw diameters: common practice, no source."""
LEAST_GROOVE = 0.6
"""How far a board's edge must reach into its groove, mm: common practice, no source."""
OPEN_LEVEL = 0.3
"""How far over the axis the walls of a room that is open to the top end, in chassis radii (chosen)."""
_SOURCE = "parameter file or its default"


class PortBayParams(SectionParams):
    """Keys of a port bay."""

    kind: Literal["port_bay"] = "port_bay"
    part: str = Field(
        "charge jack", min_length=1, max_length=60, description="round panel jack or connector on a board"
    )
    mount: Literal["radial", "axial"] = Field(
        "radial", description="through the tube's wall, or out of an end of the chassis"
    )
    facing: Literal["near", "far"] = Field("near", description="axial: out of which end of the chassis")
    carrier: bool | None = Field(
        None, description="the port sits on a piece of its own; left out: a board does, a jack doesn't"
    )
    carrier_hole: Literal["tapped", "insert", "set_screw"] = Field(
        "tapped", description="what holds the carrier's screw"
    )
    carrier_thread: str = Field("M3", min_length=1, max_length=20, description="thread of that screw")
    plate: PositiveLength | None = Field(
        None, description="thickness under the jack's flange; left out: 3 mm, or what a carrier's screw needs"
    )
    recess: NonNegativeLength | None = Field(
        None,
        description="axial: from the end face to the jack's mouth; left out: what the cut-off plug's head needs",
    )
    cap_room: NonNegativeLength = Field(
        0.0, description="axial: free depth inside the end cap or next tube segment over the end face"
    )
    wire_diameter: Annotated[float, quantity("mm", 0.4, 4)] = Field(
        1.6, description="insulated wire that bends behind the port"
    )
    cut_off_plug: bool | None = Field(
        None, description="plug that opens the jack's contact; left out: where the jack's mouth is known"
    )
    plug_reach: PositiveLength | None = Field(
        None, description="how deep the cut-off plug goes into the jack; left out: nearly all the way"
    )
    end_wall: Annotated[float, quantity("mm", 1.2, 30)] = Field(3.2, description="thickness of each end wall")


@dataclass(frozen=True)
class Block:
    """A carrier's cross-section in the mouth's frame, mm: round where `radius` is given, else a rectangle."""

    half_x: float
    low_y: float
    high_y: float
    radius: float | None = None


@dataclass(frozen=True)
class PortBayPlan:
    """What a port bay decides, mm.

    Args:
        length: of the section.
        seat: hole for the jack's body, or the groove between a board's edges.
        seat_length: along a board, or None.
        groove: height of a board's groove, or None.
        wire_room: along the mouth's axis behind plate or carrier.
        end_wall: thickness.
        bay: size of the bay that takes the carrier, across, or None.
        bay_length: of a radial bay, along the tube, or None.
        frame: the mouth's frame in tube coordinates.
        depth: from z = 0 to the back of plate or carrier.
        front: from z = 0 to the end face (axial) or beyond the surface (radial).
        recess_radius: round a jack's flange and a plug's grip.
        block: the carrier's cross-section as printed, or None.
        well: the bay's cross-section, or None.
        room: half widths of the room behind: across, and along a radial port's tube.
        board_level: a board's underside in the mouth's frame.
        holes: the carrier's screw, first in the chassis, then in the carrier.
        plug: the cut-off plug, or None.
    """

    length: Dimension
    seat: Dimension
    seat_length: Dimension | None
    groove: Dimension | None
    wire_room: Dimension
    end_wall: Dimension
    bay: Dimension | None
    bay_length: Dimension | None
    carrier_size: Dimension | None
    carrier_length: Dimension | None
    frame: Frame
    depth: float
    front: float
    recess_radius: float
    block: Block | None
    well: Block | None
    room: tuple[float, float]
    board_level: float
    holes: tuple[ShapedHole, ...]
    plug: CutOffPlug | None


class PortBay(SectionKind):
    """A charge or data jack."""

    kind: ClassVar[str] = "port_bay"
    title: ClassVar[str] = (
        "charge or data jack, axial or under a tube opening, with a carrier and cut-off plug"
    )
    Params: ClassVar[type[SectionParams]] = PortBayParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return recess, plate, wire room and end wall, or a radial port's bay between two end walls.

        Raises:
            InputError: the part or the thread is unknown, or the part is no port.
        """
        assert isinstance(params, PortBayParams)
        part = _port(params, setting)
        name = f"{params.name}.length"
        if params.mount == "radial":
            low, high = _along(params, part, setting)
            terms: tuple[Term, ...] = (
                Term("port", low + high, f"bay of {part.name}"),
                Term(WALL, 2 * params.end_wall, f"two end walls: {_SOURCE}"),
            )
        else:
            terms = (
                Term("port", _front(params, part, setting) + _depth(params, part, setting), part.name),
                Term("wire room", _wire_room(params, part, setting).total, "behind the port"),
                Term(WALL, params.end_wall, f"end wall: {_SOURCE}"),
            )
        return setting.fitter.summed(name, terms, "length along the axis")

    def pin_offset(self, params: SectionParams, setting: Setting) -> float:
        """Return the distance of the mouth's axis (radial) or of the middle (axial) from the near end, mm."""
        assert isinstance(params, PortBayParams)
        if params.mount == "axial":
            return super().pin_offset(params, setting)
        return on_grid(params.end_wall + _along(params, _port(params, setting), setting)[0])

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the port in its seat, the carrier and the cut-off plug, and what can't work.

        Raises:
            InputError: the part or the thread is unknown, or the part is no port.
        """
        assert isinstance(params, PortBayParams)
        part = _port(params, ctx.setting)
        d = _detail(params, ctx, part)
        findings = _findings(params, ctx, part, d)
        placed = _placed(params, ctx, part, d)
        sound = not any(f.blocks_solids for f in findings)
        served = params.mount == "radial" and ctx.opening is not None
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=(placed,),
            fits=_fits(params, ctx, part, d, placed) if sound else (),
            holes=d.holes,
            obstacles=_obstacles(params, ctx, d),
            terminals=_terminals(params, ctx, part, d, placed),
            extra_pieces=_extra_pieces(params, ctx, part, d) if sound else (),
            hardware=_hardware(params, ctx, part, d),
            findings=findings,
            features={"port axis": (d.frame.origin, d.frame.z_axis)} if served else {},
            facts=_facts(params, ctx, part, d),
            cautions=tuple(dict.fromkeys((*part.cautions, *(("drilling",) if served else ())))),
            openings=(ctx.opening.name,) if served and ctx.opening else (),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with the room behind the port and either its seat or the bay of its carrier."""
        d = plan.detail
        assert isinstance(d, PortBayPlan)
        part = plan.parts[0].part
        steps = [*ctx.shell(), *_room_cuts(d, ctx)]
        if d.well is None:
            return (*steps, *_jack_cuts(d, part, ctx))
        big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
        bay = _solid(d.well, -d.depth, big if d.well.radius is None else d.front + OVERLAP, d.frame)
        own = [h for h in d.holes if h.piece == ctx.piece]
        return (
            *steps,
            *cut("carrier bay", bay),
            *_corner_relief(d),
            *(s for h in own for s in cut("carrier screw", *hole_cutters(h))),
        )


# sums -----------------------------------------------------------------------------------------------------


def _port(params: PortBayParams, setting: Setting) -> Part:
    part = setting.find_part(params.part)
    if part.kind not in PORT_KINDS:
        message = f"a {part.kind.replace('_', ' ')} is no port"
        allowed = f"a part of kind {' or '.join(PORT_KINDS)}"
        problem = Problem("wrong-part-kind", message, key="part", value=f'"{params.part}"', allowed=allowed)
        raise InputError([problem])
    return part


def _has_carrier(params: PortBayParams, part: Part) -> bool:
    return params.carrier if params.carrier is not None else part.kind == "port_board"


def _has_plug(params: PortBayParams, part: Part) -> bool:
    known = part.has("barrel_diameter")
    return known and params.cut_off_plug is not False


def _plug(params: PortBayParams, part: Part, setting: Setting) -> CutOffPlug | None:
    if not _has_plug(params, part):
        return None
    return plan_plug(setting.fitter, f"{params.name}.plug", part, params.plug_reach, setting.rules.least_wall)


def _axial_screw_room(params: PortBayParams) -> float:
    """Return the thickness that a screw across a round carrier needs, mm."""
    spec = hole_for(params.carrier_hole, find_thread(params.carrier_thread))
    return math.ceil((spec.diameter + 0.3 + 2 * spec.min_wall) * 10) / 10


def _depth(params: PortBayParams, part: Part, setting: Setting) -> float:
    """Return how thick the plate is, or how deep a board's carrier, mm from z = 0."""
    if part.kind == "port_board":
        return CARRIER_WALL + _seat_length(params, part, setting.fitter).total
    if params.plate is not None:
        return params.plate
    return _axial_screw_room(params) if _has_carrier(params, part) and params.mount == "axial" else 3.0


def _seat_length(params: PortBayParams, part: Part, fitter: Fitter) -> Dimension:
    name = f"{params.name}.seat_length"
    return fitter.inner(name, part.sizes["length"], SEAT_FIT, "room for the board, along", part.name)


def _front(params: PortBayParams, part: Part, setting: Setting) -> float:
    """Return how far an axial port's z = 0 lies behind the end face, mm."""
    if part.kind == "port_board":
        return params.recess or 0.0
    plug = _plug(params, part, setting)
    head = plug.head_height.total + COVER if plug else COVER
    return on_grid(part.size("flange_height") + (head if params.recess is None else params.recess))


def _wire_room(params: PortBayParams, part: Part, setting: Setting) -> Dimension:
    """Return the room behind plate or carrier: what stands out of it and the wires' bend."""
    bend = wiring_rule("bend_radius_diameters")
    source = f"{bend.value:g} outside diameters of {params.wire_diameter:g} mm: {bend.source}"
    terms = [
        Term("bend radius", bend.value * params.wire_diameter, source),
        Term("wire", params.wire_diameter, f"wire's own diameter: {_SOURCE}"),
    ]
    if part.kind == "charge_jack":
        for size in ("body_depth", "lug_length"):
            m = part.sizes[size]
            terms.append(Term(PART_SIZE, m.value, f"{part.name}, {size}: {m.source}", m.tolerance))
        plate = _depth(params, part, setting)
        terms.append(Term("plate", -plate, "the jack stands in the plate"))
    name = f"{params.name}.wire_room"
    return setting.fitter.summed(name, tuple(terms), "room behind the port for soldered wires")


def _recess_radius(part: Part) -> float:
    if part.kind == "port_board":
        return 0.0
    grip = part.size("plug_diameter") + GRIP_ROOM
    return max(part.size("flange_diameter") + 2 * COVER, grip) / 2


def _nut_half(part: Part) -> float:
    return part.size("nut_across_flats") / math.sqrt(3.0) + NUT_ROOM


def _half_block(params: PortBayParams, part: Part) -> tuple[float, float]:
    """Return the half sizes of a rectangular carrier's bay, across and along the tube, without the screw."""
    if part.kind == "charge_jack":
        half = max(_recess_radius(part) + 2 * CARRIER_WALL, _nut_half(part) + REST)
        return half, half
    high = part.size("thickness") / 2 + max(part.size("connector_height"), part.size("height_above"))
    reach = max(part.size("plug_height") / 2 + 0.5, high + part.size("height_below") + COVER)
    return part.size("width") / 2 + 2 * CARRIER_WALL, reach + CARRIER_WALL


def _land(params: PortBayParams) -> float:
    """Return the length of a radial carrier that takes its screw, mm."""
    thread = find_thread(params.carrier_thread)
    wall = hole_for(params.carrier_hole, thread).min_wall
    return HEAD_DIAMETERS * thread.major_diameter + 0.4 + max(wall, 1.2) + 0.5


def _along(params: PortBayParams, part: Part, setting: Setting) -> tuple[float, float]:
    """Return how far a radial port's bay or room reaches from the mouth's axis toward near and far end, mm."""
    if not _has_carrier(params, part):
        half = max(_nut_half(part), _recess_radius(part)) + 0.5
        return half, half
    half = _half_block(params, part)[1]
    return half, half + _land(params)


# places ---------------------------------------------------------------------------------------------------


def _negative(v: Vec3) -> Vec3:
    return -v[0], -v[1], -v[2]


def _mouth(params: PortBayParams, ctx: SectionContext, part: Part, plug: CutOffPlug | None) -> Frame:
    """Return the mouth's frame: under the end face, or as far out as the chassis still slides into the tube."""
    if params.mount == "axial":
        front = _front(params, part, ctx.setting)
        if params.facing == "far":
            return topped(ctx.clock_deg, ctx.z1 - front)
        return reversed_axis(topped(ctx.clock_deg, ctx.z0 + front))
    station = on_grid(ctx.z0 + params.end_wall + _along(params, part, ctx.setting)[0])
    return radial(ctx.clock_deg, station, on_grid(_radial_level(ctx, part, plug)))


def _radial_level(ctx: SectionContext, part: Part, plug: CutOffPlug | None) -> float:
    """Return the height of a radial port's z = 0 over the tube's axis, mm."""
    room = ctx.radius - COVER

    def under(half: float) -> float:
        return math.sqrt(max(0.0, room**2 - half**2))

    if part.kind == "port_board":
        out = part.size("connector_overhang") - CARRIER_WALL
        return under(part.size("connector_width") / 2) - max(0.0, out)
    flange = under(part.size("flange_diameter") / 2) - part.size("flange_height")
    if plug is None:
        return flange
    head = under(plug.head_diameter.total / 2) - plug.head_height.total - part.size("flange_height")
    return min(flange, head - OVERLAP)


def _detail(params: PortBayParams, ctx: SectionContext, part: Part) -> PortBayPlan:
    fitter, name, setting = ctx.setting.fitter, ctx.name, ctx.setting
    plug = _plug(params, part, setting)
    frame = _mouth(params, ctx, part, plug)
    depth = _depth(params, part, setting)
    carrier = _has_carrier(params, part)
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
        seat_length = _seat_length(params, part, fitter)
        level = -(part.size("thickness") + part.size("connector_height") / 2)
    bay = size = bay_length = size_length = None
    block = well = None
    if carrier:
        bay, size, bay_length, size_length = _bay_sums(params, ctx, part)
        well, block = _blocks(params, part, bay, size, bay_length, size_length)
    room = _room(part, well) if well else _open_room(params, ctx, part)
    front = _front(params, part, setting) if params.mount == "axial" else 0.0
    holes = _screw(params, ctx, part, frame, depth, bay, well) if carrier and bay else ()
    return PortBayPlan(
        length=fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout"),
        seat=seat,
        seat_length=seat_length,
        groove=groove,
        wire_room=_wire_room(params, part, setting),
        end_wall=fitter.chosen(f"{name}.end_wall", params.end_wall, "thickness of each end wall"),
        bay=bay,
        bay_length=bay_length,
        carrier_size=size,
        carrier_length=size_length,
        frame=frame,
        depth=depth,
        front=front,
        recess_radius=_recess_radius(part),
        block=block,
        well=well,
        room=room,
        board_level=level,
        holes=holes,
        plug=plug,
    )


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
    half_x, _ = _half_block(params, part)
    low, high = _along(params, part, ctx.setting)
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
    half = _half_block(params, part)[1]
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
    return ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0, _along(params, part, ctx.setting)[0]


# the carrier's screw --------------------------------------------------------------------------------------


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
    wide = fitter.hole(
        f"{id}_head_diameter",
        HEAD_DIAMETERS * size + 0.4,
        "two screw diameters wide: common practice, no source",
        "counterbore for the screw's head",
    )
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
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
        mouth = Counterbore(wide, big - bears)
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
    at = well.high_y - _land(params) / 2 - 0.25
    ledge = frame.origin[0] * frame.z_axis[0] + frame.origin[1] * frame.z_axis[1] - depth
    rim = math.sqrt(max(0.0, (ctx.radius - COVER) ** 2 - (wide.total / 2) ** 2))
    bears = max(min(rim - size, ledge + 2 * size), ledge + CARRIER_WALL)
    station = frame.origin[2] + at
    enters = reversed_axis(radial(ctx.clock_deg, station, bears))
    mouth = Counterbore(wide, big - bears)
    through = plan_hole(
        fitter, id, "clearance", thread, enters, bears - ledge, carrier, counterbore=mouth, through=True
    )
    base = reversed_axis(radial(ctx.clock_deg, station, ledge))
    kind = "tapped" if params.carrier_hole == "set_screw" else params.carrier_hole
    held = plan_hole(
        fitter, f"{id}_thread", kind, thread, base, spec.min_depth, ctx.piece, engagement=spec.min_engagement
    )
    return through, held


# parts, fits, wires ---------------------------------------------------------------------------------------


def _placed(params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan) -> PlacedPart:
    piece = f"{ctx.name} carrier" if d.block else ctx.piece
    f = d.frame
    if part.kind == "charge_jack":
        across = (d.seat.total - part.size("body_diameter")) / 2
        plays = (
            *(Play(v, across) for v in (f.x_axis, _negative(f.x_axis), f.y_axis, _negative(f.y_axis))),
            Play(_negative(f.z_axis), 0.0),
            Play(f.z_axis, None),
        )
        return PlacedPart(ctx.name, part, f, ctx.name, piece, _negative(f.z_axis), plays)
    assert d.groove is not None
    assert d.seat_length is not None
    # The board's +y edge lies against the carrier's front wall.
    place = shifted(0.0, d.board_level, -CARRIER_WALL - part.size("length") / 2)
    turned = Frame((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    across = (d.seat.total - part.size("width")) / 2
    plays = (
        Play(f.x_axis, across),
        Play(_negative(f.x_axis), across),
        Play(f.y_axis, d.groove.total - part.size("thickness")),
        Play(_negative(f.y_axis), 0.0),
        Play(f.z_axis, 0.0),
        Play(_negative(f.z_axis), d.seat_length.total - part.size("length")),
    )
    return PlacedPart(ctx.name, part, f @ place @ turned, ctx.name, piece, f.z_axis, plays)


def _fits(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan, placed: PlacedPart
) -> tuple[Fit, ...]:
    fitter, x, between = ctx.setting.fitter, d.frame.x_axis, (placed.id, ctx.name)
    probe = PlayProbe(placed.id, (x, _negative(x)))
    found = [fitter.fit(d.seat, "part in seat", between, SEAT_FIT, probe)]
    if d.groove:
        y = d.frame.y_axis
        probe = PlayProbe(placed.id, (y, _negative(y)))
        found.append(fitter.fit(d.groove, "part in seat", between, SEAT_FIT, probe))
    if d.carrier_size:
        found.append(_carrier_fit(ctx, d, d.carrier_length or d.carrier_size))
    if d.plug:
        found.append(_bore_fit(ctx, d, d.plug, part))
    return tuple(found)


def _carrier_fit(ctx: SectionContext, d: PortBayPlan, size: Dimension) -> Fit:
    """Return the carrier in its bay: round the middle of a round one, at the far end of another."""
    pair = (f"{ctx.name} carrier", ctx.piece)
    if d.block and d.block.radius is None:
        end = d.frame.origin[2] + d.block.high_y
        probe = GapProbe(*pair, end - 0.2, end + 0.6)
    else:
        z0, z1 = _stations(ctx, d, -0.8 * d.depth, -0.6 * d.depth)
        probe = GapProbe(*pair, z0, z1)
    return ctx.setting.fitter.fit(size, "carrier in bay", pair, SEAT_FIT, probe, outer=True)


def _bore_fit(ctx: SectionContext, d: PortBayPlan, plug: CutOffPlug, part: Part) -> Fit:
    """Return the jack's pin in the plug's blind bore."""
    z = part.size("flange_height") - plug.reach.total / 2
    bore = BoreProbe(f"{ctx.name} plug", d.frame, z, part.size("pin_diameter"))
    between = ("jack's pin", f"{ctx.name} plug")
    return ctx.setting.fitter.fit(plug.bore_diameter, "part in seat", between, plug.pin_fit, bore)


def _terminals(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan, placed: PlacedPart
) -> tuple[PlacedTerminal, ...]:
    """Return the joints, where wires leave sideways (radial) or toward the spine (axial)."""
    top = ctx.clock_deg
    found = []
    for t in placed.part.terminals:
        x, y, z = placed.frame.point(t.position)
        if params.mount == "axial":
            exits: tuple[tuple[float, float], ...] = ((top + 95.0, top + 265.0),)
        else:
            exits = ((top + 60.0, top + 130.0), (top - 130.0, top - 60.0))
        if part.kind == "port_board":
            # Wires leave behind the board, in the middle of the room past the carrier's back.
            x, y, z = d.frame.point((-t.position[0], 0.0, -d.depth - d.wire_room.total / 2))
        id = f"{ctx.name}.{t.name}"
        found.append(PlacedTerminal(id, (x, y, z), exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)


def _stations(ctx: SectionContext, d: PortBayPlan, a: float, b: float) -> tuple[float, float]:
    """Return the stations of two places on an axial port's axis, the smaller first."""
    z0, z1 = sorted(d.frame.point((0.0, 0.0, z))[2] for z in (a, b))
    return z0, z1


def _obstacles(params: PortBayParams, ctx: SectionContext, d: PortBayPlan) -> tuple[Obstacle, ...]:
    wall, r, top = ctx.setting.rules.least_wall, ctx.radius, ctx.clock_deg
    margin = math.degrees(wall / r)
    back = -d.depth - d.wire_room.total
    found: list[Obstacle] = []
    if params.mount == "axial":
        behind = _stations(ctx, d, back, -d.depth)
        ahead = _stations(ctx, d, -d.depth, d.front)
        found += [
            Obstacle(Disc(0.0, 0.0, d.room[0]), *behind, "room behind the port"),
            Obstacle(Disc(0.0, 0.0, _front_radius(d)), *ahead, "port"),
        ]
        if d.well is None:
            half = math.degrees(math.acos(OPEN_LEVEL)) + margin
            found.append(Obstacle(Sector(top - half, top + half), *behind, "room's window"))
        for h in d.holes:
            z, reach = h.frame.origin[2], _hole_reach(h)
            turn = math.degrees(reach / r)
            found.append(Obstacle(Sector(top - turn, top + turn), z - reach, z + reach, "carrier screw"))
        return tuple(found)
    z = d.frame.origin[2]
    level = _level(d)
    floor = level + back
    half_y = d.room[1] + wall
    if d.well is None:
        low, high = _across(floor, r) - margin, _across(level - d.depth, r) + margin
        found += [
            Obstacle(Slab(-r, r, floor, level - d.depth, top), z - half_y, z + half_y, "room under the port"),
            Obstacle(Sector(top - 90 + low, top - 90 + high), z - half_y, z + half_y, "open side"),
            Obstacle(Sector(top + 90 - high, top + 90 - low), z - half_y, z + half_y, "open side"),
        ]
        wide = d.recess_radius
        span = (z - wide - wall, z + wide + wall)
    else:
        under = Slab(-d.room[0], d.room[0], floor, level - d.depth, top)
        found.append(Obstacle(under, z - half_y, z + half_y, "room under the port"))
        wide = d.well.half_x
        span = (z + d.well.low_y - wall, z + d.well.high_y + wall)
        found.append(Obstacle(Slab(-wide, wide, level - d.depth, r, top), *span, "carrier bay"))
        for h in d.holes:
            if h.piece == ctx.piece:
                reach, s = h.diameter.total / 2 + h.least_wall, h.frame.origin[2]
                screw = Slab(-reach, reach, level - d.depth - h.depth, level - d.depth, top)
                found.append(Obstacle(screw, s - reach, s + reach, "carrier screw"))
    half = math.degrees(math.asin(min(1.0, wide / r))) + margin
    found.append(Obstacle(Sector(top - half, top + half), *span, "port's mouth"))
    return tuple(found)


def _front_radius(d: PortBayPlan) -> float:
    return d.well.radius if d.well and d.well.radius is not None else max(d.recess_radius, d.seat.total / 2)


def _hole_reach(hole: ShapedHole) -> float:
    wide = hole.counterbore.diameter.total if hole.counterbore else hole.diameter.total
    return wide / 2 + hole.least_wall


def _level(d: PortBayPlan) -> float:
    """Return the height of a radial port's z = 0 over the tube's axis, mm."""
    o, z = d.frame.origin, d.frame.z_axis
    return o[0] * z[0] + o[1] * z[1]


def _across(height: float, radius: float) -> float:
    """Return the angle over the level at which a height meets the outer surface, degrees."""
    return math.degrees(math.asin(max(-1.0, min(1.0, height / radius))))


def _hardware(params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan) -> tuple[Hardware, ...]:
    if not d.holes:
        return ()
    first, last = d.holes[0], d.holes[-1]
    where = f"{ctx.name}: holds the carrier"
    if first.kind == "set_screw" and d.block and d.block.radius is not None:
        # The longest in stock that stands in its dimple and still ends under the outside.
        room = ctx.radius - d.block.radius + DIMPLE_DEPTH
        stock = [n for n in find_thread(first.thread).set_screw.lengths if n <= room]
        return (Hardware(f"set screw {first.thread} x {max(stock, default=math.floor(room)):g}", 1, where),)
    length = math.ceil(first.depth + last.engagement)
    screw = Hardware(f"screw {first.thread} x {length}", 1, where)
    insert = (Hardware(f"heat-set insert {last.thread}", 1, where),) if last.kind == "insert" else ()
    return (screw, *insert)


def _facts(params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan) -> dict[str, float]:
    facts = {"wire_room_mm": d.wire_room.total}
    if d.plug is None:
        return facts
    facts["plug_reach_mm"] = d.plug.reach.total
    if part.has("contact_depth"):
        facts["plug_past_contact_mm"] = d.plug.reach.total - part.size("contact_depth")
    bore = ctx.setting.fitter.as_made(d.plug.bore_diameter)
    facts["plug_bore_over_pin_mm"] = bore - part.size("pin_diameter")
    top = part.size("flange_height") + HEAD_GAP + d.plug.head_height.total
    if params.mount == "radial":
        corner = math.hypot(_level(d) + top, d.plug.head_diameter.total / 2)
        facts["plug_below_bore_mm"] = ctx.bore_radius - corner
        facts["plug_below_outer_face_mm"] = ctx.tube_outer_radius - corner
    else:
        facts["plug_below_cap_mm"] = d.front + params.cap_room - top
    return facts


# findings -------------------------------------------------------------------------------------------------


def _error(
    code: str,
    where: str,
    message: str,
    numbers: dict[str, float],
    *candidates: Remedy,
    blocks: bool = False,
) -> Finding:
    return Finding("error", code, where, message, numbers, candidates=candidates, blocks_solids=blocks)


def _findings(params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan) -> tuple[Finding, ...]:
    return (
        *_mount_findings(params, ctx, part),
        *_room_findings(params, ctx, part, d),
        *_part_findings(params, ctx, part, d),
        *_screw_findings(params, ctx, part, d),
        *_plug_findings(params, ctx, part, d),
    )


def _mount_findings(params: PortBayParams, ctx: SectionContext, part: Part) -> tuple[Finding, ...]:
    found = []
    at_end = ctx.first if params.facing == "near" else ctx.last
    if params.mount == "axial" and not at_end:
        other = "far" if params.facing == "near" else "near"
        turned = ctx.last if other == "far" else ctx.first
        message = f"the port faces the {params.facing} end, but another section stands before it"
        remedies = [Remedy("mount", "radial", "a radial port under a tube opening")]
        if turned:
            remedies.insert(0, Remedy("facing", other, f'facing = "{other}"'))
        found.append(_error("port-covered", ctx.name, message, {}, *remedies))
    if params.mount == "radial" and ctx.opening is None:
        message = "no opening of the tube leads to this port: at_opening names one"
        found.append(Finding("warning", "port-without-opening", ctx.name, message))
    if params.mount == "radial" and ctx.opening is not None:
        grip = part.size("plug_diameter" if part.kind == "charge_jack" else "plug_width")
        if ctx.opening.diameter < grip + 0.5:
            message = (
                f"the plug's grip is {grip:.2f} mm wide, the opening {ctx.opening.name} "
                f"{ctx.opening.diameter:.2f} mm; {grip + 0.5:.2f} mm are needed"
            )
            numbers = {"opening": ctx.opening.diameter, "needed": grip + 0.5}
            found.append(_error("opening-small", ctx.name, message, numbers))
    if part.kind == "port_board" and params.carrier is False:
        remedy = Remedy("carrier", True, "a carrier")
        message = "a connector on a board slides into its grooves from behind, so it needs a carrier"
        found.append(_error("board-needs-carrier", ctx.name, message, {}, remedy, blocks=True))
    if params.mount == "radial" and params.carrier_hole == "set_screw" and _has_carrier(params, part):
        remedy = Remedy("carrier_hole", "tapped", "a tapped hole")
        message = "a set screw has no head to hold a radial carrier down"
        found.append(_error("screw-kind", ctx.name, message, {}, remedy, blocks=True))
    return tuple(found)


def _room_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[Finding, ...]:
    least, r = ctx.setting.rules.least_wall, ctx.radius
    found = []
    if params.mount == "axial":
        if d.well and d.well.radius is not None:
            needed = d.recess_radius + CARRIER_WALL
            if part.kind == "port_board":
                low = d.board_level - part.size("height_below") - COVER
                high = (
                    d.board_level
                    + part.size("thickness")
                    + max(part.size("height_above"), part.size("connector_height"))
                )
                half = part.size("width") / 2
                needed = CARRIER_WALL + max(math.hypot(half, low), math.hypot(half, high))
            room = d.well.radius - COVER
        else:
            needed, room = d.recess_radius + 2 * least, r
        if room < needed or d.room[0] < 3.0:
            message = (
                f"{part.name} needs {2 * needed:.2f} mm across at the end face; the chassis leaves "
                f"{2 * max(room, 0.0):.2f} mm"
            )
            found.append(
                _error("port-wide", ctx.name, message, {"needed": 2 * needed, "room": 2 * room}, blocks=True)
            )
        return tuple(found)
    level = _level(d)
    floor = level - d.depth - d.wire_room.total
    wanted = 4 * least
    if floor < wanted - r:
        message = (
            f"under the port {floor + r:.2f} mm are left over the spine's outside; {wanted:g} mm are wanted"
        )
        found.append(
            _error("port-deep", ctx.name, message, {"left": floor + r, "wanted": wanted}, blocks=True)
        )
    wide = d.well.half_x if d.well else d.recess_radius
    at = level - d.depth if d.well else level
    side = math.sqrt(max(0.0, r**2 - at**2)) - wide
    if side < 2 * least:
        message = (
            f"beside the port's seat {max(side, 0.0):.2f} mm of wall are left; {2 * least:g} mm are wanted"
        )
        found.append(_error("port-wide", ctx.name, message, {"wall": side, "wanted": 2 * least}, blocks=True))
    low = math.sqrt(max(0.0, r**2 - max(abs(floor), abs(level - d.depth)) ** 2)) - d.room[0]
    if d.well and low < least:
        message = (
            f"beside the room under the port {max(low, 0.0):.2f} mm of wall are left, less than {least:g}"
        )
        found.append(_error("wall-thin", ctx.name, message, {"wall": low, "least_wall": least}, blocks=True))
    return tuple(found)


def _part_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[Finding, ...]:
    found = []
    if part.kind == "port_board":
        groove = part.size("width") / 2 - max(
            part.size("width") / 2 - part.size("margin_above"), part.size("connector_width") / 2
        )
        if groove - COVER < LEAST_GROOVE:
            message = (
                f"beside connector and components {groove:.2f} mm of the board's edge are free for its "
                f"groove; {LEAST_GROOVE + COVER:.2f} mm are wanted"
            )
            numbers = {"edge": groove, "wanted": LEAST_GROOVE + COVER}
            found.append(_error("no-groove", ctx.name, message, numbers, blocks=True))
        return tuple(found)
    thread = part.size("body_depth") - d.depth - part.size("nut_height")
    if thread < 0.0:
        thick = math.floor((part.size("body_depth") - part.size("nut_height")) * 10) / 10
        message = (
            f"a plate of {d.depth:.2f} mm leaves {thread:.2f} mm of the jack's thread beyond its nut: "
            f"up to {thick:g} mm hold it"
        )
        numbers = {"plate": d.depth, "most": thick}
        found.append(_error("thread-short", ctx.name, message, numbers, Remedy("plate", thick, "thinner")))
    return tuple(found)


def _screw_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[Finding, ...]:
    if not d.holes or d.well is None:
        return ()
    found = [f for f in (hole_finding(h) for h in d.holes[-1:]) if f]
    last = d.holes[-1]
    if params.mount == "axial" and d.well.radius is not None:
        room = _axial_screw_room(params)
        if d.depth < room and part.kind == "charge_jack":
            message = f"a plate of {d.depth:.2f} mm can't take the carrier's screw: {room:g} mm are needed"
            remedy = Remedy("plate", room, f"a plate of {room:g} mm")
            numbers = {"plate": d.depth, "needed": room}
            found.append(_error("plate-thin", ctx.name, message, numbers, remedy, blocks=True))
        if last.kind != "set_screw":
            core = d.seat.total / 2
            if part.kind == "port_board":
                core = d.board_level + part.size("thickness") + part.size("connector_height") + 0.5
            left = d.well.radius - last.depth - core
            wall = ctx.setting.rules.least_wall
            if left < wall:
                message = (
                    f"between the carrier's screw hole and the port {max(left, 0.0):.2f} mm are left, "
                    f"less than {wall:g} mm"
                )
                remedy = Remedy("carrier_hole", "set_screw", "a set screw in the frame")
                numbers = {"left": left, "least_wall": wall}
                found.append(_error("screw-deep", last.id, message, numbers, remedy, blocks=True))
        return tuple(found)
    left = _level(d) - d.depth - last.depth + ctx.radius
    if left < last.least_wall:
        message = f"{left:.2f} mm are left under the carrier's screw; {last.least_wall:.2f} mm are wanted"
        found.append(
            _error("screw-deep", last.id, message, {"left": left, "wanted": last.least_wall}, blocks=True)
        )
    bears = d.holes[0].depth
    head = _level(d) - d.depth + bears + find_thread(last.thread).major_diameter
    rim = math.hypot(head, HEAD_DIAMETERS * find_thread(last.thread).major_diameter / 2)
    if rim > ctx.radius:
        message = f"the screw's head reaches {rim:.2f} mm from the axis, the chassis {ctx.radius:.2f} mm"
        thinner = Remedy("carrier_thread", "M2", "an M2 screw")
        found.append(_error("head-high", last.id, message, {"reach": rim, "radius": ctx.radius}, thinner))
    return tuple(found)


def _plug_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[Finding, ...]:
    if part.kind != "charge_jack" or params.cut_off_plug is False:
        return ()
    if d.plug is None:
        if not params.cut_off_plug:
            return ()
        message = f"{part.name} lacks barrel_diameter, the mouth that a cut-off plug goes into"
        remedy = Remedy("cut_off_plug", False, "no cut-off plug")
        return (_error("no-barrel", ctx.name, message, {}, remedy),)
    found: list[Finding] = []
    plug = d.plug
    if part.has("contact_depth"):
        m = part.sizes["contact_depth"]
        needed = m.value + m.tolerance
        if plug.reach.total < needed:
            message = (
                f"the cut-off plug reaches {plug.reach.total:.2f} mm into the jack; its contact opens at up to "
                f"{needed:.2f} mm and stays closed"
            )
            numbers = {"reach": plug.reach.total, "needed": needed}
            deep = math.ceil(needed * 10) / 10
            fits = deep <= part.size("pin_depth")
            candidates = (Remedy("plug_reach", deep, f"a reach of {deep:g} mm"),) if fits else ()
            found.append(_error("contact-stays-closed", ctx.name, message, numbers, *candidates))
    else:
        message = (
            f"{part.name} lacks contact_depth: measure whether {plug.reach.total:.2f} mm open its contact"
        )
        found.append(Finding("warning", "contact-depth-unknown", ctx.name, message))
    if plug.reach.total > part.size("pin_depth"):
        message = (
            f"the cut-off plug reaches {plug.reach.total:.2f} mm, the jack's mouth is "
            f"{part.size('pin_depth'):.2f} mm deep"
        )
        numbers = {"reach": plug.reach.total, "depth": part.size("pin_depth")}
        usual = math.floor((part.size("pin_depth") - 0.5) * 10) / 10
        remedy = Remedy("plug_reach", usual, f"a reach of {usual:g} mm")
        found.append(_error("plug-too-long", ctx.name, message, numbers, remedy, blocks=True))
    if plug.sleeve_wall < ctx.setting.rules.least_wall / 2:
        message = f"the cut-off plug's sleeve has a wall of {plug.sleeve_wall:.2f} mm round the jack's pin"
        remedy = Remedy("cut_off_plug", False, "no cut-off plug")
        numbers = {"wall": plug.sleeve_wall}
        found.append(_error("plug-thin", ctx.name, message, numbers, remedy, blocks=True))
    facts = _facts(params, ctx, part, d)
    below = facts["plug_below_bore_mm" if params.mount == "radial" else "plug_below_cap_mm"]
    if below < 0.0:
        what = "the tube's bore" if params.mount == "radial" else "the room inside the end cap"
        message = f"closed, the cut-off plug's head stands {-below:.2f} mm beyond {what}"
        remedies: tuple[Remedy, ...] = ()
        if params.mount == "axial":
            deep = math.ceil(((params.recess or 0.0) - below) * 10) / 10
            remedies = (Remedy("recess", deep, f"a recess of {deep:g} mm"),)
        found.append(_error("plug-high", ctx.name, message, {"beyond": -below}, *remedies))
    if params.mount == "radial" and ctx.opening and ctx.opening.diameter < plug.head_diameter.total + 0.3:
        message = (
            f"the cut-off plug's head is {plug.head_diameter.total:.2f} mm wide and doesn't pass the opening "
            f"{ctx.opening.name} of {ctx.opening.diameter:.2f} mm"
        )
        numbers = {"head": plug.head_diameter.total, "opening": ctx.opening.diameter}
        found.append(_error("plug-wide", ctx.name, message, numbers))
    return tuple(found)


# solids ---------------------------------------------------------------------------------------------------


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


def _jack_cuts(d: PortBayPlan, part: Part, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the hole for the jack's body and the recess for flange and grip."""
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    out = d.front + OVERLAP if abs(d.frame.z_axis[2]) > 0.5 else big - _level(d)
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


def _extra_pieces(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[ExtraPiece, ...]:
    inward = _negative(d.frame.z_axis)
    pieces = []
    if d.block:
        name = f"{ctx.name} carrier"
        own = [h for h in d.holes if h.piece == name]
        steps = [
            *_carrier_body(params, ctx, d, d.block),
            *(_jack_cuts(d, part, ctx) if part.kind == "charge_jack" else _board_cuts(d, part, ctx)),
            *(s for h in own for s in cut("carrier screw", *hole_cutters(h))),
        ]
        if d.holes[0].kind == "set_screw":
            steps += _dimple(ctx, d, d.block, d.holes[0])
        pieces.append(ExtraPiece(name, tuple(steps), inward, (ctx.piece,)))
    if d.plug:
        mouth = d.frame @ shifted(0.0, 0.0, part.size("flange_height"))
        pieces.append(ExtraPiece(f"{ctx.name} plug", plug_steps(d.plug, mouth), inward, (ctx.name,)))
    return tuple(pieces)


def _carrier_body(
    params: PortBayParams, ctx: SectionContext, d: PortBayPlan, block: Block
) -> tuple[Step, ...]:
    if block.radius is not None:
        return add("carrier", Cylinder(block.radius, -d.depth, d.front, d.frame))
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    keep = _solid(block, -d.depth, big, d.frame)
    z = d.frame.origin[2]
    bars = ctx.body(max(ctx.z0, z + block.low_y - 0.5), min(ctx.z1, z + block.high_y + 0.5))
    return add("carrier", *(Within(bar, keep) for bar in bars))


def _dimple(ctx: SectionContext, d: PortBayPlan, block: Block, hole: ShapedHole) -> tuple[Step, ...]:
    """Return the flat-bottomed dimple that the set screw's point stands in."""
    assert block.radius is not None
    thread = find_thread(hole.thread)
    z = hole.frame.origin[2]
    at = radial(ctx.clock_deg, z, block.radius)
    return cut("set screw's dimple", Cylinder(thread.clearance.coarse / 2, -DIMPLE_DEPTH, 1.0, at))


KIND = PortBay()
