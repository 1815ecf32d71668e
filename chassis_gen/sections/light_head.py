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
from typing import ClassVar

from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.model import (
    OVERLAP,
    BoreProbe,
    Disc,
    Fit,
    Hardware,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    ScrewHole,
    SectionPlan,
    Sector,
)
from chassis_gen.plan.sums import CHOSEN, PART_SIZE, WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.seat import seat_fit
from chassis_gen.sections.light_head_findings import findings
from chassis_gen.sections.light_head_model import (
    LEAD_FIT,
    OPEN_LEVEL,
    PROUD_END,
    SEAT_FIT,
    SEATED_SIZE,
    SOURCE,
    LightHeadParams,
    LightHeadPlan,
    Passage,
    inward_frame,
    light_part,
    pin_press,
    seat_depth,
    span_of,
    station_of,
    usual_tube,
)
from chassis_gen.sections.light_head_screws import carrier_holes, lock_holes
from chassis_gen.sections.light_head_solids import carrier_piece, head_steps
from chassis_gen.shapes.frame import Frame, negated, reversed_axis, shifted, topped
from chassis_gen.shapes.recipe import Step


class LightHead(SectionKind):
    """The end that holds the light."""

    kind: ClassVar[str] = "light_head"
    title: ClassVar[str] = "the end that holds the light, with a room for its wires behind"
    Params: ClassVar[type[SectionParams]] = LightHeadParams

    def length(self, params: LightHeadParams, setting: Setting) -> Dimension | None:
        """Return seat, ledge, wire room and end wall as one sum."""
        depth = seat_depth(params.name, params, light_part(params, setting), setting.fitter)
        terms = (
            Term(WALL, params.ledge, f"ledge behind the part: {SOURCE}"),
            Term(CHOSEN, params.wire_room, f"wire room: {SOURCE}"),
            Term(WALL, params.end_wall, f"end wall: {SOURCE}"),
        )
        return setting.fitter.summed(f"{params.name}.length", depth.terms + terms, "length along the axis")

    def pin_offset(self, params: LightHeadParams, setting: Setting) -> float:
        """Return how far from the near end a an opening pins it: at the locking screw, or the middle."""
        length = super().pin_offset(params, setting) * 2
        if params.light != "contact_board":
            return length / 2
        inward = params.insertion_depth / 2
        return on_grid(length - inward if params.facing == "far" else inward)

    def plan(self, params: LightHeadParams, ctx: SectionContext) -> SectionPlan:
        """Return the light's seat, its screws, the wire room, and what can't work."""
        part = light_part(params, ctx.setting)
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
            extra_pieces=carrier_piece(ctx, d),
            hardware=_hardware(ctx, d, lock),
            findings=findings(params, ctx, part, d, lock),
            features={"locking screw axis": (lock.frame.origin, lock.frame.z_axis)} if lock else {},
            openings=(ctx.opening.name,) if ctx.opening and lock else (),
            facts=_facts(params, ctx, part, d, lock),
            cautions=tuple(dict.fromkeys((*part.cautions, "bright_light", *(("drilling",) if lock else ())))),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with wire room and seat cut; with a carrier, only what stands behind it."""
        d = plan.detail
        assert isinstance(d, LightHeadPlan)
        return head_steps(d, ctx)


def _detail(params: LightHeadParams, ctx: SectionContext, part: Part) -> LightHeadPlan:
    fitter, name = ctx.setting.fitter, ctx.name
    size = part.sizes[SEATED_SIZE[params.light]]
    seat = fitter.inner(f"{name}.seat_diameter", size, SEAT_FIT, "bore that locates the part", part.name)
    depth = seat_depth(name, params, part, fitter)
    ledge = fitter.chosen(f"{name}.ledge", params.ledge, "thickness of the ledge behind the part")
    socket = socket_depth = None
    if params.light == "contact_board":
        tube = params.tube_diameter if params.tube_diameter is not None else usual_tube(seat, fitter)
        tube_size = Measure(tube, 0.1, SOURCE)
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
    bosses, cutting, forming = carrier_holes(params, ctx, holds, depth.total + ledge.total, carrier)
    if socket:
        cutting += lock_holes(params, ctx, socket, carrier or ctx.piece)
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
        return fitter.hole(name, params.lead_hole_diameter, SOURCE, "way for a wire past the slug")
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
        return open_ledge, Passage(0.0, beside, r, -PROUD_END), Passage(0.0, -beside, r, -PROUD_END)
    x = part.size("lead_spacing") / 2
    return Passage(x, 0.0, r, depth.total), Passage(-x, 0.0, r, depth.total)


def _room_radius(params: LightHeadParams, ctx: SectionContext, passages: tuple[Passage, ...]) -> float:
    """Return the wire room's radius: inside its wall, wide enough for what leads into it."""
    least = 2 * ctx.setting.rules.least_wall
    wanted = max(math.hypot(p.x, p.y) + p.radius for p in passages)
    return min(max(ctx.radius - params.room_wall, wanted), ctx.radius - least)


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
    inward = inward_frame(params.facing, ctx)
    back = reversed_axis(inward @ shifted(0.0, 0.0, d.seat_depth.total))
    if params.light == "led_slug":
        back = back @ Frame(x_axis=(0.0, 1.0, 0.0), y_axis=(-1.0, 0.0, 0.0))
    radius = part.size(SEATED_SIZE[params.light]) / 2
    across = along = d.seat_diameter.total / 2 - radius
    if d.lead_hole_diameter and params.light == "led_slug":
        along = _notched_play(d.seat_diameter.total / 2, radius, d.lead_hole_diameter.total / 2)
    if d.lead_hole_diameter and params.light == "led_round":
        across = along = min(across, (d.lead_hole_diameter.total - part.size("lead_diameter")) / 2)
    plays = (
        Play(inward.x_axis, across),
        Play(negated(inward.x_axis), across),
        Play(inward.y_axis, along),
        Play(negated(inward.y_axis), along),
        Play(inward.z_axis, 0.0),
        Play(negated(inward.z_axis), None),
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
    fitter, inward = ctx.setting.fitter, inward_frame(params.facing, ctx)
    found = [seat_fit(fitter, d.seat_diameter, placed, SEAT_FIT, inward.x_axis)]
    if d.socket_diameter and d.socket_depth:
        # Clear of the locking screw, which stands half way.
        where = 0.9 * d.socket_depth.total
        probe = BoreProbe(placed.piece, inward, where, d.socket_diameter.term(PART_SIZE))
        between = ("light tube", ctx.name)
        found.append(fitter.fit(d.socket_diameter, "part in seat", between, SEAT_FIT, probe))
    return tuple(found)


def _obstacles(ctx: SectionContext, d: LightHeadPlan) -> tuple[Obstacle, ...]:
    a, b = span_of(d.facing, ctx, d.room_starts, d.room_ends)
    half = math.degrees(math.acos(d.open_level / ctx.radius)) + ctx.wall_angle
    light, ledge = span_of(d.facing, ctx, 0.0, d.room_starts)
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
    z = station_of(d.facing, ctx, (d.room_starts + d.room_ends) / 2)
    bottom, half = (ctx.clock_deg + 180.0) % 360.0, 60.0 if d.bosses else 85.0
    beside = d.passages[1:] if placed.part.kind == "led_slug" else ()
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
        press = pin_press(params, part)
        facts["pin_force_n"] = part.size("pin_count") * part.size("pin_force_n")
        facts["pin_press_mm"] = press
        facts["pin_reserve_mm"] = part.size("pin_travel") - press
    if params.light == "led_slug":
        facts["slug_proud_mm"] = params.proud
        facts["slug_rim_outside_pads_mm"] = part.size("pad_inset")
    if lock:
        facts["locking_screw_station_mm"] = lock.frame.origin[2]
    return facts


KIND = LightHead()
