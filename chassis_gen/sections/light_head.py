"""Light head: the end of the chassis that holds the light, with a room behind it where its wires are joined.

Origin and axes: planned in a frame that stands on the section's light end, +z going into the chassis,
+y to the section's top.

    light end                              neighbour
      |______________ __ ____________ __|
      | socket or    |le|  wire room  |w|      the wire room is open toward the top;
      | seat     part|dg|             |a|      its walls and floor are the spine
      |______________|e_|_____________|l|

Three kinds of light: a contact board under a socket for a removable light tube; an LED on a metal slug in
a seat from which its rim stands a little proud, so that the tube's end presses on it and takes its heat; a
round LED in a bore.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Angle, NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import (
    OVERLAP,
    BoreProbe,
    Disc,
    ExtraPiece,
    Fit,
    Hardware,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    PlayProbe,
    ScrewHole,
    SectionPlan,
    Sector,
)
from chassis_gen.plan.sums import CHOSEN, PART_SIZE, WALL, Dimension, Term, on_grid
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.screw_hole import hole_cutters, hole_finding, plan_hole
from chassis_gen.shapes.frame import Frame, Vec3, radial, reversed_axis, shifted, topped
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive
from chassis_gen.shapes.recipe import Step, add, cut
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread

Light = Literal["contact_board", "led_slug", "led_round"]

SEAT_FIT = "slide"
LEAD_FIT = "free"
USUAL_PARTS: dict[str, str] = {
    "contact_board": "contact board",
    "led_slug": "led slug 20 mm",
    "led_round": "led 5 mm",
}
PRESS_SHARE = 0.6
"""Share of the pins' travel by which the light tube presses them: common practice, no source."""
LEAST_LEDGE = 1.0
"""Least width of a ledge that bears a part or a light tube, mm: common practice, no source."""
PIN_MARGIN = 1.0
"""Room round the pins' solder joints, mm: common practice, no source."""
LEAD_STUB = 2.0
"""Bare lead that a joint needs in the wire room, and room kept beyond it, mm: common practice, no source."""
OPEN_LEVEL = 0.3
"""How far over the axis the wire room's walls end, in chassis radii."""
_SOURCE = "parameter file or its default"
_PROUD_END = 1.0


class LightHeadParams(SectionParams):
    """Keys of a light head."""

    kind: Literal["light_head"] = "light_head"
    light: Light = Field(
        "contact_board", description="contact board for a light tube, LED on a slug, or round LED"
    )
    part: str | None = Field(
        None, description="the part, by its catalogue name; default the usual one of its kind"
    )
    facing: Literal["far", "near"] = Field(
        "far", description="toward which end of the chassis the light shines"
    )
    carrier: bool = Field(False, description="seat on a piece of its own, held by two screws, wired outside")
    carrier_thread: str = Field(
        "M2.5", description="thread of the carrier's two screws, which form it in the plastic"
    )
    tube_diameter: PositiveLength | None = Field(
        None,
        description="outside diameter of the light tube; default the smallest that stands on its shoulder",
    )
    insertion_depth: PositiveLength = Field(12.0, description="how deep the light tube goes into its socket")
    pin_press: PositiveLength | None = Field(
        None, description="how far the light tube presses the pins; default 0.6 of their travel"
    )
    locking_screw: bool | None = Field(
        None,
        description="set screw on the light tube; default where the socket's wall holds enough of its thread",
    )
    lock_thread: str = Field("M3", description="thread of the locking screw")
    lock_clock_deg: Angle | None = Field(
        None, description="clock angle of the locking screw; default the top"
    )
    proud: Annotated[float, quantity("mm", 0.05, 0.5)] = Field(
        0.15,
        description="how far a slug's front stands out of the end face, so that the metal tube touches it",
    )
    recess: NonNegativeLength = Field(0.0, description="how far a round LED's top stays behind the end face")
    lead_hole_diameter: PositiveLength = Field(2.4, description="hole for a slug's wire")
    ledge: PositiveLength = Field(2.0, description="thickness of the ledge behind the part")
    ledge_width: PositiveLength = Field(2.0, description="how far the ledge reaches in under the part's rim")
    wire_room: PositiveLength = Field(10.0, description="length of the room for joints and wires")
    room_wall: PositiveLength = Field(3.2, description="wall round the wire room")
    end_wall: Annotated[float, quantity("mm", 1.2, 30)] = Field(2.4, description="wall toward the neighbour")


@dataclass(frozen=True)
class Passage:
    """A round way for wires through the ledge: centre, radius and where it begins, mm from the light end."""

    x: float
    y: float
    radius: float
    begins: float


@dataclass(frozen=True)
class LightHeadPlan:
    """What a light head decides, mm.

    Args:
        length: of the section.
        seat_diameter: bore that locates the part.
        seat_depth: from the light end to the part's back.
        ledge: thickness.
        wire_room: along the axis.
        end_wall: thickness toward the neighbour.
        socket_diameter: bore for the light tube, or None.
        socket_depth: of that bore, or None.
        lead_hole_diameter: hole for an LED's lead or a slug's wire, or None.
        passages: ways for wires through the ledge.
        room_radius: of the wire room's round walls.
        open_level: how far over the axis those walls end.
        facing: toward which end the light shines.
        carrier: name of the carrier piece, or None.
        bosses: radius of the carrier's screw bosses and the distance of their axes from the tube's, or None.
        cutting: holes cut into the seat's piece.
        forming: holes cut into the chassis for the carrier.
    """

    length: Dimension
    seat_diameter: Dimension
    seat_depth: Dimension
    ledge: Dimension
    wire_room: Dimension
    end_wall: Dimension
    socket_diameter: Dimension | None
    socket_depth: Dimension | None
    lead_hole_diameter: Dimension | None
    passages: tuple[Passage, ...]
    room_radius: float
    open_level: float
    facing: str
    carrier: str | None
    bosses: tuple[float, float] | None
    cutting: tuple[ScrewHole, ...]
    forming: tuple[ScrewHole, ...]

    @property
    def seat_radius(self) -> float:
        """Return the largest radius that the part or the light tube takes, mm."""
        wide = max(self.seat_diameter.total, self.socket_diameter.total if self.socket_diameter else 0.0) / 2
        return max([wide, *(math.hypot(p.x, p.y) + p.radius for p in self.passages if p.begins <= 0.0)])

    @property
    def room_starts(self) -> float:
        """Return where the wire room begins, mm from the light end."""
        return self.seat_depth.total + self.ledge.total

    @property
    def room_ends(self) -> float:
        """Return where the wire room ends, mm from the light end."""
        return self.room_starts + self.wire_room.total


class LightHead(SectionKind):
    """The end that holds the light."""

    kind: ClassVar[str] = "light_head"
    title: ClassVar[str] = "the end that holds the light, with a room for its wires behind"
    Params: ClassVar[type[SectionParams]] = LightHeadParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return seat, ledge, wire room and end wall as one sum."""
        assert isinstance(params, LightHeadParams)
        depth = _seat_depth(params.name, params, _light_part(params, setting), setting.fitter)
        terms = (
            Term(WALL, params.ledge, f"ledge behind the part: {_SOURCE}"),
            Term(CHOSEN, params.wire_room, f"wire room: {_SOURCE}"),
            Term(WALL, params.end_wall, f"end wall: {_SOURCE}"),
        )
        return setting.fitter.summed(f"{params.name}.length", depth.terms + terms, "length along the axis")

    def pin_offset(self, params: SectionParams, setting: Setting) -> float:
        """Return how far from the near end a an opening pins it: at the locking screw, or the middle."""
        assert isinstance(params, LightHeadParams)
        length = super().pin_offset(params, setting) * 2
        if params.light != "contact_board":
            return length / 2
        inward = params.insertion_depth / 2
        return on_grid(length - inward if params.facing == "far" else inward)

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the light's seat, its screws, the wire room, and what can't work."""
        assert isinstance(params, LightHeadParams)
        part = _light_part(params, ctx.setting)
        d = _detail(params, ctx, part)
        placed = _placed(params, ctx, part, d)
        lock = next((h for h in d.cutting if h.kind == "set_screw"), None)
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=(placed,),
            fits=_fits(params, ctx, d, placed),
            holes=d.cutting + d.forming,
            obstacles=_obstacles(ctx, d),
            terminals=_terminals(ctx, d, placed),
            extra_pieces=_carrier_piece(ctx, d),
            hardware=_hardware(ctx, d, lock),
            findings=(
                *_place_findings(params, ctx),
                *_part_findings(params, ctx, part, d),
                *_wall_findings(params, ctx, part, d),
                *_screw_findings(params, ctx, d, lock),
            ),
            features={"locking screw axis": (lock.frame.origin, lock.frame.z_axis)} if lock else {},
            openings=(ctx.opening.name,) if ctx.opening and lock else (),
            facts=_facts(params, ctx, part, d, lock),
            cautions=tuple(dict.fromkeys((*part.cautions, "bright_light", *(("drilling",) if lock else ())))),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with wire room and seat cut; with a carrier, only what stands behind it."""
        d = plan.detail
        assert isinstance(d, LightHeadPlan)
        inward = _inward(d.facing, ctx)
        if d.carrier is None:
            return (*ctx.shell(), *_room_cuts(d, ctx, inward), *_seat_cuts(d, inward))
        joint = d.room_starts
        z0, z1 = (ctx.z0, ctx.z1 - joint) if d.facing == "far" else (ctx.z0 + joint, ctx.z1)
        return (
            *add("outer body", *ctx.body(z0, z1)),
            *_room_cuts(d, ctx, inward),
            *add("carrier boss", *_boss_solids(d, ctx, inward)),
            *cut("carrier screw", *(c for h in d.forming for c in hole_cutters(h))),
        )


# sums -------------------------------------------------------------------------------------------------------


def _light_part(params: LightHeadParams, setting: Setting) -> Part:
    """Return the part that the light needs, or say what is wrong with the one that is named."""
    part = setting.find_part(params.part or USUAL_PARTS[params.light])
    if part.kind != params.light:
        text = f'light = "{params.light}" takes another kind of part, not a {part.kind.replace("_", " ")}'
        known = f'a {params.light.replace("_", " ")}, such as "{USUAL_PARTS[params.light]}"'
        raise InputError([Problem("not-allowed", text, key="part", value=f'"{part.name}"', allowed=known)])
    return part


def _pin_press(params: LightHeadParams, part: Part) -> float:
    return params.pin_press if params.pin_press is not None else PRESS_SHARE * part.size("pin_travel")


def _size_term(part: Part, size: str) -> Term:
    m = part.sizes[size]
    return Term(PART_SIZE, m.value, f"{part.name}, {size.replace('_', ' ')}: {m.source}", m.tolerance)


def _seat_depth(name: str, params: LightHeadParams, part: Part, fitter: Fitter) -> Dimension:
    """Return how far behind the light end the part's back lies."""
    if params.light == "contact_board":
        press = _pin_press(params, part)
        terms: tuple[Term, ...] = (
            Term(CHOSEN, params.insertion_depth, f"light tube in its socket: {_SOURCE}"),
            _size_term(part, "pin_height"),
            Term("pin press", -press, f"the light tube presses the pins: {_SOURCE}"),
            _size_term(part, "thickness"),
        )
    elif params.light == "led_slug":
        proud = Term("proud", -params.proud, f"front of the slug outside the end face: {_SOURCE}")
        terms = (_size_term(part, "slug_thickness"), proud)
    else:
        terms = (_size_term(part, "length"), Term(CHOSEN, params.recess, f"behind the end face: {_SOURCE}"))
    return fitter.summed(f"{name}.seat_depth", terms, "from the light end to the part's back")


_SEATED_SIZE = {"contact_board": "diameter", "led_slug": "slug_diameter", "led_round": "flange_diameter"}


def _usual_tube(seat: Dimension, fitter: Fitter) -> float:
    """Return the smallest light tube, in whole mm, that the shoulder round the board's seat stops."""
    clearance = 2 * fitter.classes[SEAT_FIT].clearance
    return math.ceil(fitter.printer.inner.printed(seat.total + 2 * LEAST_LEDGE) - clearance)


def _detail(params: LightHeadParams, ctx: SectionContext, part: Part) -> LightHeadPlan:
    fitter, name = ctx.setting.fitter, ctx.name
    size = part.sizes[_SEATED_SIZE[params.light]]
    seat = fitter.inner(f"{name}.seat_diameter", size, SEAT_FIT, "bore that locates the part", part.name)
    depth = _seat_depth(name, params, part, fitter)
    ledge = fitter.chosen(f"{name}.ledge", params.ledge, "thickness of the ledge behind the part")
    socket = socket_depth = None
    if params.light == "contact_board":
        tube = params.tube_diameter if params.tube_diameter is not None else _usual_tube(seat, fitter)
        tube_size = Measure(tube, 0.1, _SOURCE)
        socket = fitter.inner(
            f"{name}.socket_diameter", tube_size, SEAT_FIT, "bore for the light tube", "light tube"
        )
        socket_depth = fitter.chosen(
            f"{name}.socket_depth", params.insertion_depth, "of the light tube's socket"
        )
    lead = _lead_hole(params, part, ctx)
    passages = _passages(params, part, seat, depth, lead, ctx.setting.rules.least_wall)
    holds = max(seat.total, socket.total if socket else 0.0) / 2
    carrier = f"{name} carrier" if params.carrier else None
    room = _room_radius(params, ctx, passages)
    bosses, cutting, forming = _carrier_holes(params, ctx, holds, depth.total + ledge.total, carrier)
    if socket:
        cutting += _lock(params, ctx, socket, carrier or ctx.piece)
    return LightHeadPlan(
        length=fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout"),
        seat_diameter=seat,
        seat_depth=depth,
        ledge=ledge,
        wire_room=fitter.chosen(
            f"{name}.wire_room", params.wire_room, "room for joints and wires along the axis"
        ),
        end_wall=fitter.chosen(f"{name}.end_wall", params.end_wall, "wall toward the neighbour"),
        socket_diameter=socket,
        socket_depth=socket_depth,
        lead_hole_diameter=lead,
        passages=passages,
        room_radius=room,
        open_level=OPEN_LEVEL * ctx.radius,
        facing=params.facing,
        carrier=carrier,
        bosses=bosses,
        cutting=cutting,
        forming=forming,
    )


def _lead_hole(params: LightHeadParams, part: Part, ctx: SectionContext) -> Dimension | None:
    fitter, name = ctx.setting.fitter, f"{ctx.name}.lead_hole_diameter"
    if params.light == "led_slug":
        return fitter.hole(name, params.lead_hole_diameter, _SOURCE, "way for a wire past the slug")
    if params.light == "led_round":
        return fitter.inner(
            name, part.sizes["lead_diameter"], LEAD_FIT, "hole for one of the LED's leads", part.name
        )
    return None


def _passages(
    params: LightHeadParams,
    part: Part,
    seat: Dimension,
    depth: Dimension,
    lead: Dimension | None,
    least_wall: float,
) -> tuple[Passage, ...]:
    """Return the ways for wires: one wide opening inside the ledge, or one hole per lead."""
    opening = seat.total / 2 - params.ledge_width
    if lead is None:
        return (Passage(0.0, 0.0, opening, depth.total),)
    r = lead.total / 2
    if params.light == "led_slug":
        beside = seat.total / 2
        # Opening and wire holes keep a wall apart, however narrow the ledge is asked to be.
        open_ledge = Passage(0.0, 0.0, min(opening, beside - r - least_wall - OVERLAP), depth.total)
        return open_ledge, Passage(0.0, beside, r, -_PROUD_END), Passage(0.0, -beside, r, -_PROUD_END)
    x = part.size("lead_spacing") / 2
    return Passage(x, 0.0, r, depth.total), Passage(-x, 0.0, r, depth.total)


def _room_radius(params: LightHeadParams, ctx: SectionContext, passages: tuple[Passage, ...]) -> float:
    """Return the wire room's radius: inside its wall, wide enough for what leads into it."""
    least = 2 * ctx.setting.rules.least_wall
    wanted = max(math.hypot(p.x, p.y) + p.radius for p in passages)
    return min(max(ctx.radius - params.room_wall, wanted), ctx.radius - least)


# screws -----------------------------------------------------------------------------------------------------


def _lock(
    params: LightHeadParams, ctx: SectionContext, socket: Dimension, piece: str
) -> tuple[ScrewHole, ...]:
    """Return the locking screw's hole: wanted, or by itself where the wall holds enough of its thread."""
    if params.locking_screw is False:
        return ()
    clock = params.lock_clock_deg if params.lock_clock_deg is not None else ctx.clock_deg
    station = on_grid(_station(params.facing, ctx, params.insertion_depth / 2))
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


def _carrier_holes(
    params: LightHeadParams, ctx: SectionContext, holds: float, joint: float, carrier: str | None
) -> tuple[tuple[float, float] | None, tuple[ScrewHole, ...], tuple[ScrewHole, ...]]:
    """Return boss radius and distance, clearance holes in the carrier and forming holes in the chassis."""
    if carrier is None:
        return None, (), ()
    fitter, inward, thread = ctx.setting.fitter, _inward(params.facing, ctx), params.carrier_thread

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


# parts, fits, wires -----------------------------------------------------------------------------------------


def _inward(facing: str, ctx: SectionContext) -> Frame:
    """Return the frame on the light end, +z going into the chassis, +y to the section's top."""
    if facing == "far":
        return reversed_axis(topped(ctx.clock_deg, ctx.z1))
    return topped(ctx.clock_deg, ctx.z0)


def _station(facing: str, ctx: SectionContext, inward: float) -> float:
    """Return the station of a point that lies so far behind the light end, mm."""
    return ctx.z1 - inward if facing == "far" else ctx.z0 + inward


def _span(facing: str, ctx: SectionContext, a: float, b: float) -> tuple[float, float]:
    """Return the stations between two distances behind the light end, the smaller first."""
    z0, z1 = sorted((_station(facing, ctx, a), _station(facing, ctx, b)))
    return z0, z1


def _negative(v: Vec3) -> Vec3:
    return -v[0], -v[1], -v[2]


def _notched_play(seat: float, part: float, notch: float) -> float:
    """Return how far a disc can move toward a notch in its round seat, mm: it meets the notch's two corners.

    Plane geometry: the notch, a circle about a point of the seat's own circle, ends where the two cross.

    Args:
        seat: radius of the seat, mm.
        part: radius of the disc, mm.
        notch: radius of the notch, mm.
    """
    angle = 2 * math.asin(notch / (2 * seat))
    return seat * math.cos(angle) - math.sqrt(part**2 - (seat * math.sin(angle)) ** 2)


def _placed(params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan) -> PlacedPart:
    """Return the part with its back on the ledge; a slug is turned so that its pads face the wire holes."""
    inward = _inward(params.facing, ctx)
    back = reversed_axis(inward @ shifted(0.0, 0.0, d.seat_depth.total))
    if params.light == "led_slug":
        back = back @ Frame(x_axis=(0.0, 1.0, 0.0), y_axis=(-1.0, 0.0, 0.0))
    radius = part.size(_SEATED_SIZE[params.light]) / 2
    across = along = d.seat_diameter.total / 2 - radius
    if d.lead_hole_diameter and params.light == "led_slug":
        along = _notched_play(d.seat_diameter.total / 2, radius, d.lead_hole_diameter.total / 2)
    if d.lead_hole_diameter and params.light == "led_round":
        across = along = min(across, (d.lead_hole_diameter.total - part.size("lead_diameter")) / 2)
    plays = (
        Play(inward.x_axis, across),
        Play(_negative(inward.x_axis), across),
        Play(inward.y_axis, along),
        Play(_negative(inward.y_axis), along),
        Play(inward.z_axis, 0.0),
        Play(_negative(inward.z_axis), None),
    )
    return PlacedPart(
        id=ctx.name,
        part=part,
        frame=back,
        section=ctx.name,
        piece=d.carrier or ctx.piece,
        way_in=inward.z_axis,
        plays=plays,
    )


def _fits(
    params: LightHeadParams, ctx: SectionContext, d: LightHeadPlan, placed: PlacedPart
) -> tuple[Fit, ...]:
    fitter, inward = ctx.setting.fitter, _inward(params.facing, ctx)
    sides = PlayProbe(placed.id, (inward.x_axis, _negative(inward.x_axis)))
    found = [fitter.fit(d.seat_diameter, "part in seat", (placed.id, ctx.name), SEAT_FIT, sides)]
    if d.socket_diameter and d.socket_depth:
        # Clear of the locking screw, which stands half way.
        where = 0.9 * d.socket_depth.total
        probe = BoreProbe(placed.piece, inward, where, d.socket_diameter.term(PART_SIZE))
        between = ("light tube", ctx.name)
        found.append(fitter.fit(d.socket_diameter, "part in seat", between, SEAT_FIT, probe))
    return tuple(found)


def _obstacles(ctx: SectionContext, d: LightHeadPlan) -> tuple[Obstacle, ...]:
    rules = ctx.setting.rules
    a, b = _span(d.facing, ctx, d.room_starts, d.room_ends)
    half = math.degrees(math.acos(d.open_level / ctx.radius)) + math.degrees(rules.least_wall / ctx.radius)
    light, ledge = _span(d.facing, ctx, 0.0, d.room_starts)
    found = [
        Obstacle(Sector(ctx.clock_deg - half, ctx.clock_deg + half), a, b, "wire room's window"),
        Obstacle(Disc(0.0, 0.0, d.room_radius), a, b, "wire room"),
    ]
    if d.carrier is None:
        found.append(Obstacle(Disc(0.0, 0.0, d.seat_radius), light, ledge, "light's seat"))
    else:
        found.append(Obstacle(Sector(0.0, 360.0), light, ledge, "carrier"))
    for hole in d.cutting:
        if hole.kind == "set_screw":
            x, y, z = hole.frame.origin
            reach = hole.diameter.total / 2 + hole.least_wall
            clock, turn = math.degrees(math.atan2(y, x)), math.degrees(reach / ctx.radius)
            found.append(Obstacle(Sector(clock - turn, clock + turn), z - reach, z + reach, "locking screw"))
    if d.bosses:
        radius, distance = d.bosses
        spots = (topped(ctx.clock_deg).point((side * distance, 0.0, 0.0)) for side in (1.0, -1.0))
        found += [Obstacle(Disc(x, y, radius), a, b, "carrier boss") for x, y, _ in spots]
    return tuple(found)


def _terminals(ctx: SectionContext, d: LightHeadPlan, placed: PlacedPart) -> tuple[PlacedTerminal, ...]:
    """Return where each wire's joint lies: in the middle of the wire room, behind its terminal.

    Drops leave through the walls on the spine's side; a carrier's bosses are kept clear.
    """
    z = _station(d.facing, ctx, (d.room_starts + d.room_ends) / 2)
    bottom, half = (ctx.clock_deg + 180.0) % 360.0, 60.0 if d.bosses else 85.0
    beside = [p for p in d.passages if p.begins < 0.0]
    found = []
    for k, t in enumerate(placed.part.terminals):
        x, y, _ = placed.frame.point((t.position[0], t.position[1], 0.0))
        if beside:
            # A slug's wires come through the holes beside it, on the side of their pads.
            away = math.hypot(beside[k].x, beside[k].y) / math.hypot(x, y)
            x, y = x * away, y * away
        id, exits = f"{ctx.name}.{t.name}", ((bottom - half, bottom + half),)
        found.append(PlacedTerminal(id, (x, y, z), exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)


def _hardware(ctx: SectionContext, d: LightHeadPlan, lock: ScrewHole | None) -> tuple[Hardware, ...]:
    found = []
    if lock:
        found.append(Hardware(f"set screw {lock.thread}", 1, f"{ctx.name}: locks the light tube"))
    if d.carrier:
        hole = d.forming[0]
        length = math.ceil(d.room_starts + hole.engagement)
        found.append(
            Hardware(f"screw {hole.thread} x {length} for plastic", 2, f"{ctx.name}: holds the carrier")
        )
    return tuple(found)


def _facts(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan, lock: ScrewHole | None
) -> dict[str, float]:
    facts = {"light_wall_mm": ctx.radius - d.seat_radius}
    if params.light == "contact_board":
        press = _pin_press(params, part)
        facts["pin_force_n"] = part.size("pin_count") * part.size("pin_force_n")
        facts["pin_press_mm"] = press
        facts["pin_reserve_mm"] = part.size("pin_travel") - press
    if params.light == "led_slug":
        facts["slug_proud_mm"] = params.proud
        facts["slug_rim_outside_pads_mm"] = part.size("pad_inset")
    if lock:
        facts["locking_screw_station_mm"] = lock.frame.origin[2]
    return facts


# findings ---------------------------------------------------------------------------------------------------


def _place_findings(params: LightHeadParams, ctx: SectionContext) -> tuple[Finding, ...]:
    """Return an error where something stands in front of the light."""
    if (params.facing == "far" and ctx.last) or (params.facing == "near" and ctx.first):
        return ()
    other = "near" if params.facing == "far" else "far"
    turned = ctx.first if other == "near" else ctx.last
    candidates = (Remedy("facing", other, f'facing = "{other}"'),) if turned else ()
    where = "deepest" if params.facing == "far" else "first"
    message = (
        f"the light faces the {params.facing} end, but this isn't the {where} section: the next one covers it"
    )
    return (Finding("error", "light-covered", ctx.name, message, candidates=candidates),)


def _part_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    if params.light == "contact_board":
        return (*_pin_findings(params, ctx, part), *_ledge_findings(params, ctx, part, d))
    if params.light == "led_slug":
        return (*_proud_findings(params, ctx, part), *_opening_findings(params, ctx, d))
    return (*_web_findings(ctx, part, d), *_lead_findings(params, ctx, part))


def _pin_findings(params: LightHeadParams, ctx: SectionContext, part: Part) -> tuple[Finding, ...]:
    press, travel = _pin_press(params, part), part.size("pin_travel")
    if press <= travel:
        return ()
    usual = round(PRESS_SHARE * travel, 2)
    message = (
        f"the light tube would press the pins by {press:.2f} mm, but they travel {travel:.2f} mm: "
        "it can't go home"
    )
    remedy = Remedy("pin_press", usual, f"pins pressed by {usual:g} mm")
    return (
        Finding(
            "error",
            "pins-bottom",
            ctx.name,
            message,
            {"press": press, "travel": travel},
            candidates=(remedy,),
        ),
    )


def _ledge_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    """Return what is wrong with the board's ledge and with the light tube's shoulder."""
    found = list(_opening_findings(params, ctx, d))
    need = (part.size("pin_circle_diameter") + part.size("pin_diameter")) / 2 + PIN_MARGIN
    opening = d.passages[0].radius
    if need > opening + 1e-9 and not found:
        width = math.floor((d.seat_diameter.total / 2 - need) * 10) / 10
        message = f"the ledge's opening of {2 * opening:.2f} mm covers joints that need {2 * need:.2f} mm"
        candidates = (
            (Remedy("ledge_width", width, f"ledge {width:g} mm wide"),) if width >= LEAST_LEDGE else ()
        )
        numbers = {"opening": 2 * opening, "needed": 2 * need}
        found.append(
            Finding("error", "ledge-covers-joints", ctx.name, message, numbers, candidates=candidates)
        )
    assert d.socket_diameter is not None
    shoulder = (d.socket_diameter.total - d.seat_diameter.total) / 2
    if shoulder < LEAST_LEDGE - 1e-3:
        wanted = _usual_tube(d.seat_diameter, ctx.setting.fitter)
        message = (
            f"the light tube's socket is {d.socket_diameter.total:.2f} mm wide and the board's seat "
            f"{d.seat_diameter.total:.2f} mm: a shoulder of {shoulder:.2f} mm "
            f"can't stop the light tube, {LEAST_LEDGE:g} mm can"
        )
        numbers = {"shoulder": shoulder, "least": LEAST_LEDGE, "least_tube_diameter": float(wanted)}
        remedy = Remedy("tube_diameter", wanted, f"light tube of {wanted:g} mm or more")
        blocks = shoulder < OVERLAP
        found.append(
            Finding(
                "error",
                "light-tube-narrow",
                ctx.name,
                message,
                numbers,
                candidates=(remedy,),
                blocks_solids=blocks,
            )
        )
    return tuple(found)


def _opening_findings(params: LightHeadParams, ctx: SectionContext, d: LightHeadPlan) -> tuple[Finding, ...]:
    """Return an error where the ledge is too narrow to bear, or leaves no opening for wires."""
    width, opening = params.ledge_width, d.passages[0].radius
    if width >= LEAST_LEDGE and opening >= LEAST_LEDGE:
        return ()
    message = f"a ledge {width:.2f} mm wide leaves an opening of {2 * max(opening, 0.0):.2f} mm in the seat"
    numbers = {"ledge_width": width, "opening": 2 * opening}
    fits = d.seat_diameter.total / 2 - 2.0 >= LEAST_LEDGE
    candidates = (Remedy("ledge_width", 2.0, "ledge 2 mm wide"),) if fits else ()
    blocks = opening < OVERLAP
    return (
        Finding(
            "error", "ledge-width", ctx.name, message, numbers, candidates=candidates, blocks_solids=blocks
        ),
    )


def _proud_findings(params: LightHeadParams, ctx: SectionContext, part: Part) -> tuple[Finding, ...]:
    spread = part.sizes["slug_thickness"].tolerance
    if params.proud > spread:
        return ()
    wanted = round(spread + 0.05, 2)
    message = (
        f"the slug stands {params.proud:.2f} mm proud but its thickness varies by {spread:.2f} mm: "
        "a thin one doesn't touch the metal tube, and stays hot"
    )
    candidates = (Remedy("proud", wanted, f"{wanted:g} mm proud"),) if wanted <= 0.5 else ()
    numbers = {"proud": params.proud, "tolerance": spread}
    return (Finding("warning", "slug-not-touching", ctx.name, message, numbers, candidates=candidates),)


def _web_findings(ctx: SectionContext, part: Part, d: LightHeadPlan) -> tuple[Finding, ...]:
    assert d.lead_hole_diameter is not None
    web, least = part.size("lead_spacing") - d.lead_hole_diameter.total, ctx.setting.rules.least_wall
    if web >= least:
        return ()
    message = f"between the two lead holes {web:.2f} mm of wall are left, less than {least:g} mm"
    numbers = {"wall": web, "least_wall": least}
    return (Finding("error", "wall-thin", ctx.name, message, numbers, blocks_solids=web < least / 2),)


def _lead_findings(params: LightHeadParams, ctx: SectionContext, part: Part) -> tuple[Finding, ...]:
    """Return an error where a round LED's leads end in the ledge or run into the end wall."""
    length = part.size("lead_length")
    stub = length - params.ledge
    if stub < LEAD_STUB:
        thinner = length - LEAD_STUB
        message = (
            f"leads {length:.2f} mm long stand {stub:.2f} mm out of a ledge of {params.ledge:.2f} mm: "
            f"a joint needs {LEAD_STUB:g} mm"
        )
        enough = thinner >= ctx.setting.rules.least_wall
        candidates = (Remedy("ledge", thinner, f"ledge {thinner:g} mm thick"),) if enough else ()
        numbers = {"stub": stub, "least": LEAD_STUB}
        return (Finding("error", "leads-short", ctx.name, message, numbers, candidates=candidates),)
    if stub + LEAD_STUB <= params.wire_room:
        return ()
    wanted = math.ceil((stub + LEAD_STUB) * 10 - 1e-6) / 10
    message = (
        f"leads stand {stub:.2f} mm into a wire room of {params.wire_room:.2f} mm: joint and wire need "
        f"{LEAD_STUB:g} mm more than the leads"
    )
    numbers = {"stub": stub, "wire_room": params.wire_room, "least_wire_room": wanted}
    candidates = (Remedy("wire_room", wanted, f"wire room {wanted:g} mm long"),)
    blocks = stub > params.wire_room
    return (
        Finding(
            "error", "leads-long", ctx.name, message, numbers, candidates=candidates, blocks_solids=blocks
        ),
    )


def _wall_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    """Return an error where seat or socket leave too little of the chassis's wall."""
    least, left = ctx.setting.rules.least_wall, ctx.radius - d.seat_radius
    if left >= least and d.room_radius > 1.0:
        return ()
    message = (
        f"the light takes {2 * d.seat_radius:.2f} mm of the chassis's {2 * ctx.radius:.2f} mm: "
        f"{left:.2f} mm of wall are left, less than {least:g} mm"
    )
    numbers = {"wall": left, "least_wall": least, "light_diameter": 2 * d.seat_radius}
    candidates = []
    if d.socket_diameter:
        usual = _usual_tube(d.seat_diameter, ctx.setting.fitter)
        beyond = d.socket_diameter.total - d.socket_diameter.term(PART_SIZE)
        if ctx.radius - (usual + beyond) / 2 >= least and usual < d.socket_diameter.term(PART_SIZE):
            candidates.append(Remedy("tube_diameter", usual, f"light tube of {usual:g} mm"))
    blocks = left < least / 2 or d.room_radius <= 1.0
    return (
        Finding(
            "error",
            "wall-thin",
            ctx.name,
            message,
            numbers,
            candidates=tuple(candidates),
            blocks_solids=blocks,
        ),
    )


def _screw_findings(
    params: LightHeadParams, ctx: SectionContext, d: LightHeadPlan, lock: ScrewHole | None
) -> tuple[Finding, ...]:
    found = [f for f in (hole_finding(h) for h in d.cutting[:1] + d.forming[:1]) if f]
    if params.light == "contact_board" and lock is None and params.locking_screw is None:
        message = (
            "no locking screw: the socket's wall is too thin or too short to hold its thread; "
            "hold the light tube otherwise"
        )
        found.append(Finding("note", "no-locking-screw", ctx.name, message))
    if lock and lock.engagement < lock.least_engagement:
        message = (
            f"the locking screw {lock.thread} has {lock.engagement:.2f} mm of wall to hold in and needs "
            f"{lock.least_engagement:.2f} mm"
        )
        numbers = {"engagement": lock.engagement, "least_engagement": lock.least_engagement}
        remedy = Remedy("locking_screw", False, "no locking screw")
        found.append(Finding("error", "screw-engagement", lock.id, message, numbers, candidates=(remedy,)))
    if d.bosses:
        radius, distance = d.bosses
        over = distance + radius + OVERLAP - ctx.radius
        if over > 1e-6:
            message = (
                f"beside the light there is no room for the carrier's {params.carrier_thread} screws: "
                f"{over:.2f} mm are missing on each side"
            )
            remedy = Remedy("carrier", False, "no carrier")
            numbers = {"missing": over, "boss_diameter": 2 * radius}
            found.append(
                Finding(
                    "error",
                    "carrier-no-room",
                    ctx.name,
                    message,
                    numbers,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
    return tuple(found)


# solids -----------------------------------------------------------------------------------------------------


def _room_cuts(d: LightHeadPlan, ctx: SectionContext, inward: Frame) -> tuple[Step, ...]:
    """Return the cuts of the wire room; under a carrier it opens into the joint."""
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    a, b = d.room_starts - (OVERLAP if d.carrier else 0.0), d.room_ends
    return (
        *cut("wire room", Cylinder(d.room_radius, a, b, inward)),
        *cut("wire room's window", Box((-big, d.open_level, a), (big, big, b), inward)),
    )


def _seat_cuts(d: LightHeadPlan, inward: Frame) -> tuple[Step, ...]:
    """Return the cuts of socket, seat, passages and screws."""
    depth, end = d.seat_depth.total, d.room_starts + OVERLAP
    steps: list[Step] = []
    low = -_PROUD_END
    if d.socket_diameter and d.socket_depth:
        low = d.socket_depth.total - OVERLAP
        steps += cut(
            "light tube's socket", Cylinder(d.socket_diameter.total / 2, -_PROUD_END, low + OVERLAP, inward)
        )
    steps += cut("light's seat", Cylinder(d.seat_diameter.total / 2, low, depth, inward))
    for p in d.passages:
        begins = p.begins - OVERLAP if p.begins > 0.0 else p.begins
        steps += cut("wire passage", Cylinder(p.radius, begins, end, inward @ shifted(p.x, p.y)))
    for hole in d.cutting:
        steps += cut(hole.id, *hole_cutters(hole))
    return tuple(steps)


def _carrier_piece(ctx: SectionContext, d: LightHeadPlan) -> tuple[ExtraPiece, ...]:
    """Return the carrier: the light end up to the wire room, as assembled."""
    if d.carrier is None:
        return ()
    inward = _inward(d.facing, ctx)
    z0, z1 = _span(d.facing, ctx, 0.0, d.room_starts)
    bars = tuple(Cylinder(s.radius, s.z0, s.z1) for s in ctx.outer.over(z0, z1))
    steps = (*add("carrier", *_joined(bars)), *_seat_cuts(d, inward))
    return (ExtraPiece(d.carrier, steps, inward.z_axis, (ctx.piece,)),)


def _joined(bars: tuple[Cylinder, ...]) -> tuple[Cylinder, ...]:
    """Return bars of a stepped outside, the wider of two reaching no further, the narrower into it."""
    found = []
    for i, bar in enumerate(bars):
        low = bar.z0 - (OVERLAP if i and bars[i - 1].radius > bar.radius else 0.0)
        high = bar.z1 + (OVERLAP if i + 1 < len(bars) and bars[i + 1].radius >= bar.radius else 0.0)
        found.append(Cylinder(bar.radius, low, high))
    return tuple(found)


def _boss_solids(d: LightHeadPlan, ctx: SectionContext, inward: Frame) -> tuple[Primitive, ...]:
    """Return the bosses for the carrier's screws along the wire room, grown into its walls and end."""
    if d.bosses is None:
        return ()
    radius, distance = d.bosses
    a, b = d.room_starts, d.room_ends + OVERLAP
    return tuple(Cylinder(radius, a, b, inward @ shifted(side * distance)) for side in (1.0, -1.0))


KIND = LightHead()
