"""Switch block: a panel button or a tactile switch board under an opening of the tube.

Origin and axes: the tube's; the switch's axis stands radially at the section's clock, `pin_offset` from the
near end. The room under the switch is open to both sides, so that nut, fingers and wires get in.

      near wall        far wall
       |  ___ head ___  |
       | |___plate____| |     the plate, or a separate carrier held by two screws
       |     room       |
       |______spine_____|
"""

from __future__ import annotations

import math
from typing import ClassVar, Literal

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Angle, NonNegativeLength, PositiveLength
from chassis_gen.parts.model import Part
from chassis_gen.plan.model import (
    OVERLAP,
    ExtraPiece,
    Hardware,
    Obstacle,
    ScrewHole,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import WALL, Dimension, Term
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.carrier import carrier_block, carrier_fit
from chassis_gen.sections.features.screw_hole import Counterbore, ShapedHole, hole_cuts, plan_hole
from chassis_gen.sections.features.surface import level_angle
from chassis_gen.sections.switch_seats import COVER, REST, Site, SwitchSeat, Wishes, half_length, plan_seat
from chassis_gen.shapes.frame import radial, reversed_axis, topped
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Step, cut
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread

SWITCH_KINDS = ("panel_button", "tactile_board")
HEAD_DIAMETERS = 2.0
LEAST_UNDER_HEAD = 1.6
CORNER_RELIEF = 0.5
OPENING_CLEARANCE = 0.3


class AuxSwitch(BaseModel):
    """Keys of a second switch."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    part: str = Field("tactile board", min_length=1, max_length=60, description="the second switch")
    offset: PositiveLength | None = Field(
        None, description="its axis from the first switch's axis, going in; left out: as near as it fits"
    )
    clock_deg: Angle | None = Field(None, description="clock angle of its axis; left out: the section's")
    at_opening: str | None = Field(
        None,
        max_length=60,
        description="tube opening that gives its offset and clock, where the section has one too",
    )
    actuator_recess: NonNegativeLength | None = Field(
        None,
        description="tactile board: actuator's top under the tube's outer face; left out: it still slides in",
    )
    slide_in: Literal["free", "pressed"] = Field("free", description="panel button: as for the first switch")


class SwitchBlockParams(SectionParams):
    """Keys of a switch block."""

    kind: Literal["switch_block"] = "switch_block"
    part: str = Field(
        "panel button 12 mm", min_length=1, max_length=60, description="panel button or tactile board"
    )
    plate_thickness: PositiveLength = Field(
        3.0, description="thickness under the button's head or under the board"
    )
    wire_room: PositiveLength = Field(4.0, description="room under the lugs or pins for the wires to bend")
    spine: PositiveLength = Field(
        8.0, description="material left opposite the switch, less where there is no room"
    )
    end_wall: PositiveLength = Field(3.2, description="thickness of each end wall")
    actuator_recess: NonNegativeLength | None = Field(
        None,
        description="tactile board: actuator's top under the tube's outer face; left out: it still slides in",
    )
    slide_in: Literal["free", "pressed"] = Field(
        "free", description="panel button: clears the bore released, or only while held down"
    )
    aux: AuxSwitch | None = Field(None, description="a second switch further in")
    carrier: bool = Field(False, description="the first switch sits on a piece of its own, wired outside")
    carrier_thread: str = Field(
        "M3", min_length=1, max_length=20, description="thread of the carrier's two screws"
    )
    carrier_hole: Literal["tapped", "thread_forming", "insert"] = Field(
        "thread_forming", description="kind of hole that holds the carrier's screws"
    )


class Carrier(Struct, frozen=True):
    """A planned carrier: its sums, its two screws and where it stands (stations, mm)."""

    bay_length: Dimension
    length: Dimension
    ledge_height: float
    z0: float
    z1: float
    holes: tuple[ShapedHole, ...]


class SwitchBlockPlan(Struct, frozen=True):
    """What a switch block decides: its length, its switches and its carrier."""

    length: Dimension
    end_wall: Dimension
    main: SwitchSeat
    aux: SwitchSeat | None
    carrier: Carrier | None


class SwitchBlock(SectionKind):
    """A switch under an opening of the tube."""

    kind: ClassVar[str] = "switch_block"
    title: ClassVar[str] = "panel button or tactile switch board under an opening of the tube"
    Params: ClassVar[type[SectionParams]] = SwitchBlockParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return end walls, rooms and, for a second switch, the distance between the axes.

        Raises:
            InputError: a part or thread is unknown or a part is no switch.
        """
        assert isinstance(params, SwitchBlockParams)
        fitter = setting.fitter
        main = _half(params.part, setting, params.name)
        land = _land(params)
        terms = [
            Term(WALL, 2 * params.end_wall, "two end walls"),
            Term("switch", main + (main if params.aux is None else 0.0), f"room of {params.part}"),
        ]
        if land:
            terms.append(Term("screw lands", 2 * land, f"two {params.carrier_thread} screws of the carrier"))
        if params.aux:
            apart = max(_aux_offset(params, setting), _least_offset(params, setting))
            terms.append(Term("switch distance", apart - land, "between the two axes"))
            terms.append(
                Term("second switch", _half(params.aux.part, setting, f"{params.name}.aux"), params.aux.part)
            )
        return fitter.summed(f"{params.name}.length", tuple(terms), "length along the axis")

    def pin_offset(self, params: SectionParams, setting: Setting) -> float:
        """Return the distance of the first switch's axis from the near end, mm."""
        assert isinstance(params, SwitchBlockParams)
        return params.end_wall + _land(params) + _half(params.part, setting, params.name)

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the switches in their seats.

        Raises:
            InputError: a part or thread is unknown or a part is no switch.
        """
        assert isinstance(params, SwitchBlockParams)
        setting = ctx.setting
        station = ctx.z0 + self.pin_offset(params, setting)
        piece = f"{ctx.name} carrier" if params.carrier else ctx.piece
        main = _seat(params, ctx, ctx.name, params.part, ctx.clock_deg, station, piece)
        aux = None
        if params.aux:
            at = station + max(_aux_offset(params, setting), _least_offset(params, setting))
            clock = _aux_clock(params, ctx)
            aux = _seat(params, ctx, f"{ctx.name}.aux", params.aux.part, clock, at, ctx.piece, params.aux)
        length = self.length(params, setting)
        assert length is not None
        wall = setting.fitter.chosen(f"{ctx.name}.end_wall", params.end_wall, "thickness of each end wall")
        carrier = _carrier(params, ctx, main, station) if params.carrier else None
        detail = SwitchBlockPlan(length, wall, main, aux, carrier)
        return _section(params, ctx, detail)

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return a full bar less rooms, seats and, with a carrier, the bay that takes it."""
        detail = plan.detail
        assert isinstance(detail, SwitchBlockPlan)
        steps = list(ctx.shell())
        steps += cut("room under the switch", _room(detail.main, ctx, 0.5 if detail.carrier else 0.0))
        if detail.carrier:
            steps += _bay_steps(detail.carrier, ctx)
        else:
            steps += detail.main.cutters
        if detail.aux:
            steps += cut("room under the second switch", _room(detail.aux, ctx))
            steps += detail.aux.cutters
        return tuple(steps)


def _switch(name: str, setting: Setting) -> Part:
    """Return a part that is a switch."""
    part = setting.find_part(name)
    if part.kind not in SWITCH_KINDS:
        allowed = "a part of kind panel_button or tactile_board"
        message = f"a {part.kind} can't sit in a switch block"
        raise InputError([Problem("wrong-part-kind", message, value=f'"{name}"', allowed=allowed)])
    return part


def _half(name: str, setting: Setting, id: str) -> float:
    return half_length(_switch(name, setting), setting.fitter, id).total


def _land(params: SwitchBlockParams) -> float:
    """Return how much longer the block is at each end for a carrier's screw, mm: head, walls, play."""
    if not params.carrier:
        return 0.0
    thread = find_thread(params.carrier_thread)
    wall = hole_for(params.carrier_hole, thread).min_wall
    return HEAD_DIAMETERS * thread.major_diameter + 2 * max(wall, 1.2) + 0.5


def _least_offset(params: SwitchBlockParams, setting: Setting) -> float:
    assert params.aux is not None
    halves = _half(params.part, setting, params.name) + _half(params.aux.part, setting, f"{params.name}.aux")
    return halves + _land(params) + setting.rules.wall


def _aux_offset(params: SwitchBlockParams, setting: Setting) -> float:
    """Return the distance between the two axes, mm: as asked, or as near as they fit.

    Raises:
        InputError: the second switch's opening can't give its place.
    """
    assert params.aux is not None
    if params.aux.at_opening is None:
        return params.aux.offset or _least_offset(params, setting)
    first = setting.openings.get(params.at_opening or "")
    second = setting.openings.get(params.aux.at_opening)
    if first is None or second is None:
        message = (
            "the second switch can be at an opening only where the section is at another opening of the tube"
        )
        allowed = ", ".join(setting.openings) or "no openings in this tube"
        problem = Problem("unknown-opening", message, value=f'"{params.aux.at_opening}"', allowed=allowed)
        raise InputError([problem])
    return second.station - first.station


def _aux_clock(params: SwitchBlockParams, ctx: SectionContext) -> float:
    assert params.aux is not None
    opening = ctx.setting.openings.get(params.aux.at_opening or "")
    if opening:
        return opening.clock_deg
    return ctx.clock_deg if params.aux.clock_deg is None else params.aux.clock_deg


def _seat(
    params: SwitchBlockParams,
    ctx: SectionContext,
    id: str,
    part: str,
    clock: float,
    station: float,
    piece: str,
    aux: AuxSwitch | None = None,
) -> SwitchSeat:
    own = aux or params
    site = Site(
        id,
        ctx.name,
        piece,
        clock,
        station,
        ctx.radius,
        ctx.outer.largest_radius(ctx.z0, ctx.z1),
        ctx.tube_outer_radius,
        ctx.bore_radius,
    )
    wishes = Wishes(params.plate_thickness, params.wire_room, params.spine, own.actuator_recess, own.slide_in)
    return plan_seat(_switch(part, ctx.setting), ctx.setting.fitter, site, wishes)


def _station(seat: SwitchSeat) -> float:
    return seat.part.frame.origin[2]


def _clock(seat: SwitchSeat) -> float:
    z = seat.part.frame.z_axis
    return math.degrees(math.atan2(z[1], z[0])) % 360.0


def _floor(seat: SwitchSeat, ctx: SectionContext) -> float:
    return seat.spine.total - ctx.radius


def _room(seat: SwitchSeat, ctx: SectionContext, over: float = 0.0) -> Box:
    """Return the cross-wise room under a switch, reaching over the plate's underside by a length, mm."""
    half, wide = seat.room_width.total / 2, ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    low, high = (-wide, _floor(seat, ctx), -half), (wide, seat.plate_under + over, half)
    return Box(low, high, topped(_clock(seat), _station(seat)))


# carrier ------------------------------------------------------------------------------------------


def _carrier(params: SwitchBlockParams, ctx: SectionContext, seat: SwitchSeat, station: float) -> Carrier:
    fitter, land = ctx.setting.fitter, _land(params)
    half = _half(params.part, ctx.setting, params.name)
    terms = (
        Term("switch", 2 * half, f"room of {params.part}"),
        Term("screw lands", 2 * land, f"two {params.carrier_thread} screws"),
    )
    bay = fitter.summed(f"{ctx.name}.carrier_bay_length", terms, "bay that takes the carrier, along the axis")
    length = fitter.mating(f"{ctx.name}.carrier_length", bay, "slide", "carrier along the axis", outer=False)
    at = seat.room_width.total / 2 + (half - seat.room_width.total / 2 + land) / 2
    holes = tuple(
        hole
        for tag, z in (("near", station - at), ("far", station + at))
        for hole in _screw(params, ctx, seat, tag, z)
    )
    middle = length.total / 2
    return Carrier(bay, length, seat.plate_under, station - middle, station + middle, holes)


def _screw(
    params: SwitchBlockParams, ctx: SectionContext, seat: SwitchSeat, tag: str, z: float
) -> tuple[ShapedHole, ShapedHole]:
    """Return the way through the carrier and the hole that holds the screw, for one screw."""
    fitter = ctx.setting.fitter
    spec = hole_for(params.carrier_hole, find_thread(params.carrier_thread))
    size = spec.thread.major_diameter
    id = f"{ctx.name}.carrier_{tag}"
    note = "counterbore for the screw's head, two screw diameters wide: common practice, no source"
    wide = fitter.hole(f"{id}_head_diameter", HEAD_DIAMETERS * size + 0.4, note, "counterbore")
    bears = math.sqrt(max(0.0, (ctx.radius - COVER) ** 2 - (wide.total / 2) ** 2)) - size
    clock = _clock(seat)
    mouth = Counterbore(wide, ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0 - bears)
    through = plan_hole(
        fitter,
        id,
        "clearance",
        params.carrier_thread,
        reversed_axis(radial(clock, z, bears)),
        bears - seat.plate_under,
        f"{ctx.name} carrier",
        counterbore=mouth,
        through=True,
    )
    base = reversed_axis(radial(clock, z, seat.plate_under))
    held = plan_hole(
        fitter, f"{id}_thread", params.carrier_hole, params.carrier_thread, base, spec.min_depth, ctx.piece,
        engagement=spec.min_engagement,
    )  # fmt: skip
    return through, held


def _bay_steps(carrier: Carrier, ctx: SectionContext) -> tuple[Step, ...]:
    half = carrier.bay_length.total / 2
    middle = (carrier.z0 + carrier.z1) / 2
    wide = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    top = topped(ctx.clock_deg, middle)
    low = carrier.ledge_height
    # The corners are undercut so that the carrier's edges never ride on a printed radius.
    corners = [
        Box((-wide, low - CORNER_RELIEF, a), (wide, low + OVERLAP, b), top)
        for a, b in ((-half - CORNER_RELIEF / 2, -half + 1.0), (half - 1.0, half + CORNER_RELIEF / 2))
    ]
    return (
        *cut("carrier bay", Box((-wide, low, -half), (wide, wide, half), top)),
        *cut("corner relief", *corners),
        *hole_cuts("carrier screw", carrier.holes, ctx.piece),
    )


def _carrier_steps(carrier: Carrier, seat: SwitchSeat, ctx: SectionContext) -> tuple[Step, ...]:
    wide = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    half = carrier.length.total / 2
    top = topped(ctx.clock_deg, (carrier.z0 + carrier.z1) / 2)
    keep = Box((-wide, carrier.ledge_height + REST, -half), (wide, wide, half), top)
    block = carrier_block("carrier", ctx, keep, carrier.z0 - 0.5, carrier.z1 + 0.5)
    return (*block, *seat.cutters, *hole_cuts("carrier screw", carrier.holes, f"{ctx.name} carrier"))


# the section's plan -------------------------------------------------------------------------------


def _section(params: SwitchBlockParams, ctx: SectionContext, detail: SwitchBlockPlan) -> SectionPlan:
    seats = (detail.main, *((detail.aux,) if detail.aux else ()))
    carrier = detail.carrier
    holes: tuple[ScrewHole, ...] = carrier.holes if carrier else ()
    fits = tuple(f for s in seats for f in s.fits)
    extra: tuple[ExtraPiece, ...] = ()
    hardware: tuple[Hardware, ...] = ()
    if carrier:
        fits += (carrier_fit(ctx, f"{ctx.name} carrier", carrier.length, carrier.z1 - 0.6, carrier.z1 + 0.6),)
        steps = _carrier_steps(carrier, detail.main, ctx)
        inward = detail.main.part.way_in
        extra = (ExtraPiece(f"{ctx.name} carrier", steps, inward, (ctx.piece,)),)
        length = carrier.holes[0].depth + carrier.holes[1].engagement
        hardware = (Hardware(f"screw {carrier.holes[0].thread}, at least {length:.1f} mm long", 2, ctx.name),)
    parts = tuple(s.part for s in seats)
    served = params.aux.at_opening if params.aux else None
    openings = tuple(n for n in (ctx.opening.name if ctx.opening else None, served) if n)
    # Only what an opening serves is an axis to be checked against one.
    second = "second button axis" if served else "second button"
    cautions = tuple(dict.fromkeys(c for p in parts for c in p.part.cautions))
    return SectionPlan(
        kind="switch_block",
        name=ctx.name,
        z0=ctx.z0,
        z1=ctx.z1,
        piece=ctx.piece,
        detail=detail,
        parts=parts,
        fits=fits,
        holes=holes,
        obstacles=tuple(o for s in seats for o in _obstacles(s, ctx)) + _bay_obstacles(detail, ctx),
        terminals=tuple(t for s in seats for t in s.terminals),
        extra_pieces=extra,
        hardware=hardware,
        findings=tuple(f for s in seats for f in s.findings) + _findings(params, ctx, detail),
        features={
            name: ((0.0, 0.0, _station(s)), s.part.frame.z_axis)
            for name, s in zip(("button axis", second), seats, strict=False)
        },
        facts={"switch_below_outer_face_mm": ctx.tube_outer_radius - detail.main.top},
        cautions=cautions,
        openings=openings,
    )


def _clock_margin(ctx: SectionContext) -> float:
    return math.degrees(ctx.setting.rules.least_wall / ctx.radius)


def _obstacles(seat: SwitchSeat, ctx: SectionContext) -> tuple[Obstacle, ...]:
    """Return the room with its two open sides, and the opening in the outer surface."""
    r, wall, top, z = ctx.radius, ctx.setting.rules.least_wall, _clock(seat), _station(seat)
    margin, floor, under = _clock_margin(ctx), _floor(seat, ctx), seat.plate_under
    low, high = level_angle(floor, r) - margin, level_angle(under, r) + margin
    room = seat.room_width.total / 2 + wall
    half_chord = math.sqrt(max(0.0, r**2 - floor**2))
    along = seat.opening_length.total / 2 + wall
    wide = seat.opening_width.total / 2
    half = math.degrees(math.asin(min(1.0, wide / r))) + margin
    beside = Slab(-wide, wide, min(floor, under), 2 * r, top)
    return (
        # a groove's sides point to the axis, the opening's don't: further in they come nearer
        Obstacle(beside, z - along, z + along, "switch opening"),
        Obstacle(
            Slab(-half_chord, half_chord, floor, under, top), z - room, z + room, "room under the switch"
        ),
        Obstacle(Sector(top - 90 + low, top - 90 + high), z - room, z + room, "open side"),
        Obstacle(Sector(top + 90 - high, top + 90 - low), z - room, z + room, "open side"),
        Obstacle(Sector(top - half, top + half), z - along, z + along, "switch opening"),
    )


def _bay_obstacles(detail: SwitchBlockPlan, ctx: SectionContext) -> tuple[Obstacle, ...]:
    carrier = detail.carrier
    if carrier is None:
        return ()
    wall = ctx.setting.rules.least_wall
    half = 90 - level_angle(carrier.ledge_height - CORNER_RELIEF, ctx.radius) + _clock_margin(ctx)
    reach = carrier.bay_length.total / 2 + CORNER_RELIEF + wall
    middle = (carrier.z0 + carrier.z1) / 2
    top = ctx.clock_deg
    bay = Obstacle(Sector(top - half, top + half), middle - reach, middle + reach, "carrier bay")
    screws = tuple(
        Obstacle(
            Slab(
                -h.diameter.total / 2 - h.least_wall,
                h.diameter.total / 2 + h.least_wall,
                carrier.ledge_height - h.depth - wall,
                carrier.ledge_height,
                top,
            ),
            h.frame.origin[2] - h.diameter.total / 2 - h.least_wall,
            h.frame.origin[2] + h.diameter.total / 2 + h.least_wall,
            "carrier screw",
        )
        for h in carrier.holes
        if h.piece == ctx.piece
    )
    return (bay, *screws)


def _findings(params: SwitchBlockParams, ctx: SectionContext, detail: SwitchBlockPlan) -> tuple[Finding, ...]:
    found: list[Finding] = []
    if params.aux:
        least, offset = _least_offset(params, ctx.setting), _aux_offset(params, ctx.setting)
        if offset < least - 1e-6:
            value = math.ceil(least * 10) / 10
            message = (
                f"the two switches stand {offset:.2f} mm apart; with a wall between them "
                f"they need {least:.2f} mm"
            )
            remedy = Remedy("aux.offset", value, f"put the second switch {value:g} mm further in")
            numbers = {"offset": offset, "needed": least}
            found.append(
                Finding(
                    "error",
                    "switches-too-close",
                    ctx.name,
                    message,
                    numbers,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
    found += _opening_findings(ctx, detail.main)
    found += _plate_findings(params, ctx, detail)
    return tuple(found)


def _opening_findings(ctx: SectionContext, seat: SwitchSeat) -> tuple[Finding, ...]:
    """Return what is wrong between a tube opening and an actuator that stands in it."""
    part = seat.part.part
    if ctx.opening is None or part.kind != "tactile_board":
        return ()
    wanted = part.size("actuator_diameter") + 2 * OPENING_CLEARANCE
    if (
        math.hypot(seat.top, part.size("actuator_diameter") / 2) < ctx.bore_radius
        or ctx.opening.diameter >= wanted
    ):
        return ()
    message = (
        f"the actuator of {part.name} stands in the opening {ctx.opening.name}, which is "
        f"{ctx.opening.diameter:.2f} mm wide; {wanted:.2f} mm are needed"
    )
    numbers = {"opening": ctx.opening.diameter, "needed": wanted}
    return (Finding("error", "opening-small", ctx.name, message, numbers),)


def _plate_findings(
    params: SwitchBlockParams, ctx: SectionContext, detail: SwitchBlockPlan
) -> tuple[Finding, ...]:
    """Return what is wrong with the material that carries the switch and the carrier's screws."""
    found: list[Finding] = []
    for seat in (detail.main, *((detail.aux,) if detail.aux else ())):
        room = seat.plate_under - _floor(seat, ctx)
        seated = math.hypot(seat.seat_height.total, seat.opening_width.total / 2)
        if seated + ctx.setting.rules.least_wall > ctx.radius and seat.part.part.kind == "panel_button":
            found.append(_wide_finding(ctx, seat, seated))
        if room < params.wire_room and not any(f.blocks_solids for f in seat.findings):
            message = (
                f"under the plate of {seat.part.part.name} {room:.2f} mm are left over the spine; "
                f"{params.wire_room:.2f} mm are wanted for the wires"
            )
            thin = math.floor((params.plate_thickness - params.wire_room + room) * 10) / 10
            remedies = (Remedy("plate_thickness", thin, f"a plate of {thin:g} mm"),) if thin >= 1.0 else ()
            numbers = {"room": room, "wanted": params.wire_room}
            found.append(
                Finding(
                    "error",
                    "no-wire-room",
                    seat.part.id,
                    message,
                    numbers,
                    candidates=remedies,
                    blocks_solids=True,
                )
            )
    if detail.carrier:
        found += _screw_findings(params, ctx, detail.carrier)
    return tuple(found)


def _wide_finding(ctx: SectionContext, seat: SwitchSeat, seated: float) -> Finding:
    part = seat.part.part
    message = (
        f"the recess for {part.name} is {seat.opening_width.total:.2f} mm wide and reaches "
        f"{seated:.2f} mm from the axis at its seat; the chassis reaches {ctx.radius:.2f} mm"
    )
    remedy = Remedy("part", "tactile board", "take the tactile board")
    numbers = {"reach": seated, "radius": ctx.radius}
    return Finding(
        "error", "recess-too-wide", part.name, message, numbers, candidates=(remedy,), blocks_solids=True
    )


def _screw_findings(params: SwitchBlockParams, ctx: SectionContext, carrier: Carrier) -> tuple[Finding, ...]:
    found: list[Finding] = []
    # Both screws are alike: one finding speaks for both.
    for hole in carrier.holes[:2]:
        if hole.counterbore and hole.depth < LEAST_UNDER_HEAD:
            left = hole.depth
            more = math.ceil((params.plate_thickness + LEAST_UNDER_HEAD - left) * 10) / 10
            message = f"the carrier is {left:.2f} mm thick under a screw; {LEAST_UNDER_HEAD:g} mm are wanted"
            remedy = Remedy("plate_thickness", more, f"a plate of {more:g} mm")
            numbers = {"left": left, "wanted": LEAST_UNDER_HEAD}
            found.append(
                Finding(
                    "error",
                    "carrier-thin",
                    hole.id,
                    message,
                    numbers,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
        if hole.counterbore is None:
            left = carrier.ledge_height - hole.depth + ctx.radius
            if left < hole.least_wall:
                message = (
                    f"{left:.2f} mm are left under the carrier's screw; {hole.least_wall:.2f} mm are wanted"
                )
                numbers = {"left": left, "wanted": hole.least_wall}
                found.append(
                    Finding("error", "screw-too-deep", hole.id, message, numbers, blocks_solids=True)
                )
    return tuple(found)


KIND = SwitchBlock()
