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
from collections.abc import Iterator
from typing import ClassVar

from chassis_gen.parts.model import Part
from chassis_gen.plan.model import (
    BoreProbe,
    Disc,
    Fit,
    Hardware,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import Dimension, on_grid
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.carrier import carrier_fit
from chassis_gen.sections.features.cut_off_plug import HEAD_GAP, CutOffPlug
from chassis_gen.sections.features.head_screw import screw_obstacle
from chassis_gen.sections.features.screw_hole import ShapedHole
from chassis_gen.sections.features.seat import across, seat_fit
from chassis_gen.sections.features.straight_ways import Clocks, across_and_toward, is_steep, straight_ways
from chassis_gen.sections.features.surface import level_angle
from chassis_gen.sections.port_bay_findings import findings
from chassis_gen.sections.port_bay_layout import laid_out
from chassis_gen.sections.port_bay_model import (
    CARRIER_WALL,
    DIMPLE_DEPTH,
    OPEN_LEVEL,
    SEAT_FIT,
    PortBayParams,
    PortBayPlan,
    level_of,
    port_part,
)
from chassis_gen.sections.port_bay_solids import bay_steps, extra_pieces
from chassis_gen.sections.port_bay_sums import reach_along, section_length
from chassis_gen.shapes.frame import Frame, negated, shifted
from chassis_gen.shapes.recipe import Step
from chassis_gen.tables.threads import find_thread

SIDEWAYS = 60
"""A radial port's wires go down at least as steeply as this from its own clock, degrees (chosen)."""


class PortBay(SectionKind):
    """A charge or data jack."""

    kind: ClassVar[str] = "port_bay"
    title: ClassVar[str] = (
        "charge or data jack, axial or under a tube opening, with a carrier and cut-off plug"
    )
    Params: ClassVar[type[SectionParams]] = PortBayParams

    def length(self, params: PortBayParams, setting: Setting) -> Dimension | None:
        """Return recess, plate, wire room and end wall, or a radial port's bay between two end walls.

        Raises:
            InputError: the part or the thread is unknown, or the part is no port.
        """
        return section_length(params, port_part(params, setting), setting)

    def pin_offset(self, params: PortBayParams, setting: Setting) -> float:
        """Return the distance of the mouth's axis (radial) or of the middle (axial) from the near end, mm."""
        if params.mount == "axial":
            return super().pin_offset(params, setting)
        return on_grid(params.end_wall + reach_along(params, port_part(params, setting), setting)[0])

    def plan(self, params: PortBayParams, ctx: SectionContext) -> SectionPlan:
        """Return the port in its seat, the carrier and the cut-off plug, and what can't work.

        Raises:
            InputError: the part or the thread is unknown, or the part is no port.
        """
        part = port_part(params, ctx.setting)
        d = laid_out(params, ctx, part)
        facts = _facts(params, ctx, part, d)
        found = findings(params, ctx, part, d, facts)
        placed = _placed(ctx, part, d)
        sound = not any(f.blocks_solids for f in found)
        obstacles = _axial_obstacles if params.mount == "axial" else _radial_obstacles
        served = params.mount == "radial" and ctx.opening is not None
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=(placed,),
            fits=_fits(ctx, part, d, placed) if sound else (),
            holes=d.holes,
            obstacles=tuple(obstacles(ctx, d)),
            terminals=tuple(_terminals(params, ctx, part, d, placed)),
            extra_pieces=extra_pieces(ctx, part, d) if sound else (),
            hardware=_hardware(ctx, d),
            findings=found,
            features={"port axis": (d.frame.origin, d.frame.z_axis)} if served else {},
            facts=facts,
            cautions=tuple(dict.fromkeys((*part.cautions, *(("drilling",) if served else ())))),
            openings=(ctx.opening.name,) if served and ctx.opening else (),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with the room behind the port and either its seat or the bay of its carrier."""
        d = plan.detail
        assert isinstance(d, PortBayPlan)
        return bay_steps(d, plan.parts[0].part, ctx)


def _placed(ctx: SectionContext, part: Part, d: PortBayPlan) -> PlacedPart:
    piece = f"{ctx.name} carrier" if d.block else ctx.piece
    f = d.frame
    if part.kind == "charge_jack":
        play = (d.seat.total - part.size("body_diameter")) / 2
        plays = (
            *(Play(way, play) for way in across(f)),
            Play(negated(f.z_axis), 0.0),
            Play(f.z_axis, None),
        )
        return PlacedPart(ctx.name, part, f, ctx.name, piece, negated(f.z_axis), plays)
    assert d.groove is not None
    assert d.seat_length is not None
    # The board's +y edge lies against the carrier's front wall.
    place = shifted(0.0, d.board_level, -CARRIER_WALL - part.size("length") / 2)
    turned = Frame((0.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    play = (d.seat.total - part.size("width")) / 2
    plays = (
        Play(f.x_axis, play),
        Play(negated(f.x_axis), play),
        Play(f.y_axis, d.groove.total - part.size("thickness")),
        Play(negated(f.y_axis), 0.0),
        Play(f.z_axis, 0.0),
        Play(negated(f.z_axis), d.seat_length.total - part.size("length")),
    )
    return PlacedPart(ctx.name, part, f @ place @ turned, ctx.name, piece, f.z_axis, plays)


def _fits(ctx: SectionContext, part: Part, d: PortBayPlan, placed: PlacedPart) -> tuple[Fit, ...]:
    fitter = ctx.setting.fitter
    found = [seat_fit(fitter, d.seat, placed, SEAT_FIT, d.frame.x_axis)]
    if d.groove:
        found.append(seat_fit(fitter, d.groove, placed, SEAT_FIT, d.frame.y_axis))
    if d.carrier_size:
        found.append(_carrier_fit(ctx, d, d.carrier_length or d.carrier_size))
    if d.plug:
        found.append(_bore_fit(ctx, d, d.plug, part))
    return tuple(found)


def _carrier_fit(ctx: SectionContext, d: PortBayPlan, size: Dimension) -> Fit:
    """Return the carrier in its bay: round the middle of a round one, at the far end of another."""
    carrier = f"{ctx.name} carrier"
    if d.block and d.block.radius is None:
        end = d.frame.origin[2] + d.block.high_y
        return carrier_fit(ctx, carrier, size, end - 0.2, end + 0.6)
    return carrier_fit(ctx, carrier, size, *_stations(d, -0.8 * d.depth, -0.6 * d.depth))


def _bore_fit(ctx: SectionContext, d: PortBayPlan, plug: CutOffPlug, part: Part) -> Fit:
    """Return the jack's pin in the plug's blind bore."""
    z = part.size("flange_height") - plug.reach.total / 2
    bore = BoreProbe(f"{ctx.name} plug", d.frame, z, part.size("pin_diameter"))
    between = ("jack's pin", f"{ctx.name} plug")
    return ctx.setting.fitter.fit(plug.bore_diameter, "part in seat", between, plug.pin_fit, bore)


def _terminals(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan, placed: PlacedPart
) -> Iterator[PlacedTerminal]:
    """Yield the joints, where wires leave through the floor or the sides (radial) or toward the spine (axial)."""
    spine: Clocks = ((ctx.clock_deg + 95.0, ctx.clock_deg + 265.0),)
    for t in placed.part.terminals:
        spot = placed.frame.point(t.position)
        if part.kind == "port_board":
            # Wires leave behind the board, in the middle of the room past the carrier's back.
            spot = d.frame.point((-t.position[0], 0.0, -d.depth - d.wire_room.total / 2))
        exits = spine if params.mount == "axial" else _out_of_room(ctx, d, (spot[0], spot[1]))
        id, most = f"{ctx.name}.{t.name}", t.largest_wire_diameter
        yield PlacedTerminal(id, spot, exits, most, t.must_connect, room_for=params.wire_diameter)


def _out_of_room(ctx: SectionContext, d: PortBayPlan, joint: tuple[float, float]) -> Clocks:
    """Return the clocks to which a channel from a joint leaves a radial port's room through its floor or a side."""
    x, y = at = across_and_toward(joint, ctx.clock_deg)
    half, floor = d.room[0], level_of(d) - d.depth - d.wire_room.total

    def leads_out(across: float, up: float) -> bool:
        to_side = (half - math.copysign(x, x * across)) / max(abs(across), 1e-9)
        to_floor = (y - floor) / -up if up < 0 else math.inf
        if min(to_side, to_floor) >= 1.0:
            return False
        return is_steep(-up, across) if to_floor <= to_side else is_steep(abs(across), up)

    return straight_ways(at, ctx.clock_deg, ctx.radius, range(SIDEWAYS, 361 - SIDEWAYS), leads_out)


def _stations(d: PortBayPlan, a: float, b: float) -> tuple[float, float]:
    """Return the stations of two places on an axial port's axis, the smaller first."""
    z0, z1 = sorted(d.frame.point((0.0, 0.0, z))[2] for z in (a, b))
    return z0, z1


def _axial_obstacles(ctx: SectionContext, d: PortBayPlan) -> Iterator[Obstacle]:
    """Yield the port, the room behind it with its window, and the screws of its carrier."""
    r, top = ctx.radius, ctx.clock_deg
    behind = _stations(d, -d.depth - d.wire_room.total, -d.depth)
    ahead = _stations(d, -d.depth, d.front)
    yield Obstacle(Disc(0.0, 0.0, d.room[0]), *behind, "room behind the port")
    yield Obstacle(Disc(0.0, 0.0, _front_radius(d)), *ahead, "port")
    if d.well is None:
        half = math.degrees(math.acos(OPEN_LEVEL)) + ctx.wall_angle
        yield Obstacle(Sector(top - half, top + half), *behind, "room's window")
    for h in d.holes:
        z, reach = h.frame.origin[2], _hole_reach(h)
        turn = math.degrees(reach / r)
        yield Obstacle(Sector(top - turn, top + turn), z - reach, z + reach, "carrier screw")


def _radial_obstacles(ctx: SectionContext, d: PortBayPlan) -> Iterator[Obstacle]:
    """Yield the room under the port, its mouth, and what leads into both: open sides, or a carrier's bay."""
    wall, r, top, margin = ctx.setting.rules.least_wall, ctx.radius, ctx.clock_deg, ctx.wall_angle
    z, half_y = d.frame.origin[2], d.room[1] + wall
    level = level_of(d)
    roof, floor = level - d.depth, level + (-d.depth - d.wire_room.total)
    if d.well is None:
        low, high = level_angle(floor, r) - margin, level_angle(roof, r) + margin
        yield Obstacle(Slab(-r, r, floor, roof, top), z - half_y, z + half_y, "room under the port")
        yield Obstacle(Sector(top - 90 + low, top - 90 + high), z - half_y, z + half_y, "open side")
        yield Obstacle(Sector(top + 90 - high, top + 90 - low), z - half_y, z + half_y, "open side")
        wide = d.recess_radius
        span = (z - wide - wall, z + wide + wall)
    else:
        under = Slab(-d.room[0], d.room[0], floor, roof, top)
        yield Obstacle(under, z - half_y, z + half_y, "room under the port")
        wide = d.well.half_x
        span = (z + d.well.low_y - wall, z + d.well.high_y + wall)
        yield Obstacle(Slab(-wide, wide, roof, r, top), *span, "carrier bay")
        for h in d.holes:
            if h.piece == ctx.piece:
                yield screw_obstacle(h, roof, top, "carrier screw")
    half = math.degrees(math.asin(min(1.0, wide / r))) + margin
    yield Obstacle(Sector(top - half, top + half), *span, "port's mouth")


def _front_radius(d: PortBayPlan) -> float:
    return d.well.radius if d.well and d.well.radius is not None else max(d.recess_radius, d.seat.total / 2)


def _hole_reach(hole: ShapedHole) -> float:
    wide = hole.counterbore.diameter.total if hole.counterbore else hole.diameter.total
    return wide / 2 + hole.least_wall


def _hardware(ctx: SectionContext, d: PortBayPlan) -> tuple[Hardware, ...]:
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
        corner = math.hypot(level_of(d) + top, d.plug.head_diameter.total / 2)
        facts["plug_below_bore_mm"] = ctx.bore_radius - corner
        facts["plug_below_outer_face_mm"] = ctx.tube_outer_radius - corner
    else:
        facts["plug_below_cap_mm"] = d.front + params.cap_room - top
    return facts


KIND = PortBay()
