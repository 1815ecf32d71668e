"""Glow chamber: an open frame that shows a translucent body, lit from one or both ends.

Origin and axes: the tube's. Each end is planned in a frame that stands on its face, +z going into the section,
+y to the section's top; the body goes in from the top.

    lit end                                                unlit end
      |__ ____________ ____ _____ ____ ________________ ____ ______|
      |w | wire room  |led-| LED |lip |    windows     |lip | bulk-|
      |a |            |ge  |     [======== body ===========]| head |
      |l |____________|____|_____|____|________________|____|      |
      |_________________ rear wall, carries the lanes _____________|
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Angle, NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import (
    OVERLAP,
    Disc,
    Fit,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    PlayProbe,
    SectionPlan,
    Sector,
    Slab,
    TubeLane,
)
from chassis_gen.plan.sums import CHOSEN, PART_SIZE, WALL, Dimension, Term, on_grid
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.shapes.frame import Frame, Vec3, clocked, reversed_axis, shifted, topped, unit
from chassis_gen.shapes.primitives import Box, Cylinder, Pattern, Primitive, TubeSegment, Within
from chassis_gen.shapes.recipe import Step, add, cut

BODY_KINDS = ("glow_rod", "glow_prism")
LED_KINDS = ("led_round", "led_slug")
LED_FIT = "slide"
LEAD_FIT = "free"
ROOM_WALL = 3.2
"""Wall round a wire room, mm (chosen)."""
OPEN_LEVEL = 0.3
"""How far over the axis a wire room's walls end, in chassis radii (chosen)."""
LEAD_STUB = 2.0
"""Bare lead that a joint needs in the wire room, and room kept beyond it, mm: common practice, no source."""
LEAST_SHOULDER = 0.5
"""Least width of the ring on which the body's end stands round the LED, mm: common practice, no source."""
BODY_ROOM = 0.5
"""Room between the body's seat and the rear wall's face, mm (chosen)."""
USUAL_WINDOWS = (3, 2, 1)
"""Numbers of windows that are tried in turn where none is asked for (chosen)."""
REAR_SHARE = 1.5
REAR_SIDE = 2.4
"""Usual width of a rear wall in chassis radii, and how thick it is at its sides at least, mm (chosen)."""
SPINE = 8.0
"""Least width of a rear wall, mm: what the chassis keeps as its spine."""
FLUTE_PITCH = 2.4
FLUTE_RADIUS = 0.9
FLUTE_DEPTH = 0.6
FLUTE_END = 1.0
"""Flutes of a wire tube: apart along its circumference, radius, depth, and plain ends, mm (chosen)."""
_SOURCE = "parameter file or its default"


class GlowChamberParams(SectionParams):
    """Keys of a glow chamber."""

    kind: Literal["glow_chamber"] = "glow_chamber"
    part: str = Field(
        "glow rod 12 mm",
        min_length=1,
        max_length=60,
        description="the translucent body: a rod, tube or prism",
    )
    led: str = Field(
        "led 5 mm", min_length=1, max_length=60, description="what lights it: a round LED or one on a slug"
    )
    lit: Literal["near", "far", "both"] = Field("near", description="end or ends with an LED")
    glue_fit: str = Field("free", description="fit class of the gap round the body and at its ends, for glue")
    light_gap: NonNegativeLength = Field(0.5, description="from the LED's top to the body's end")
    windows: Annotated[int, Field(ge=1, le=8)] | None = Field(
        None, description="how many windows; left out: up to 3, as long as the body goes in by one"
    )
    window_deg: Annotated[float, quantity("deg", 5, 350)] | None = Field(
        None, description="clock angle that each window takes; left out: what the pillars leave"
    )
    window_clocks_deg: tuple[Angle, ...] | None = Field(
        None,
        min_length=1,
        max_length=8,
        description="clock angles of the windows' middles; left out: evenly from the top",
    )
    pillar: Literal["flat", "tube", "fluted"] = Field(
        "flat", description="between windows: part of the frame, or a round wire tube, plain or fluted"
    )
    pillar_width: PositiveLength = Field(4.0, description="of a flat pillar, at the outer surface")
    wire_bore: Annotated[float, quantity("mm", 1, 8)] = Field(3.2, description="bore of a wire tube")
    tube_wall: PositiveLength = Field(1.2, description="wall of a wire tube, under its flutes")
    frame_wall: PositiveLength = Field(3.0, description="thickness of a flat pillar, inward from the outside")
    rear_wall: PositiveLength | None = Field(
        None, description="width of the wall behind the body that hides wires; left out: what fits"
    )
    lip: PositiveLength = Field(4.0, description="how much of each end of the body its seat hides")
    bulkhead: Annotated[float, quantity("mm", 1.2, 30)] = Field(3.2, description="wall toward each neighbour")
    ledge: PositiveLength = Field(2.4, description="thickness of the ledge behind the LED")
    wire_room: PositiveLength = Field(9.0, description="length of the room for an LED's joints")
    light_through: bool = Field(False, description="a hole in the unlit end's bulkhead lets light through")


@dataclass(frozen=True)
class End:
    """One end of the chamber, mm from its own face.

    Args:
        facing: ``near`` or ``far``.
        lit: True with an LED.
        room_starts: where the wire room begins (lit).
        room_ends: where it ends.
        ledge_ends: where the LED's back lies.
        body_starts: where the room for the body begins.
        led_id: id of its LED (lit).
        prefix: before its terminals' names.
    """

    facing: str
    lit: bool
    room_starts: float
    room_ends: float
    ledge_ends: float
    body_starts: float
    led_id: str = ""
    prefix: str = ""


@dataclass(frozen=True)
class Pillar:
    """Material between two windows.

    Args:
        clock: of its middle, degrees.
        half: half the angle that it takes at the outer surface, degrees.
    """

    clock: float
    half: float


@dataclass(frozen=True)
class WireTube:
    """What the round pillars are, mm: bore, radius of the outside, radius on which their axes stand."""

    bore: Dimension
    radius: float
    distance: float
    fluted: bool


@dataclass(frozen=True)
class GlowChamberPlan:
    """What a glow chamber decides, mm and degrees.

    Args:
        length: of the section.
        body_seat_diameter: of the troughs that hold the body's ends.
        body_room: between the faces at the body's ends.
        led_seat_diameter: bore for the LED's flange or slug.
        led_seat_depth: from the body's end to the LED's back.
        lead_hole_diameter: for one lead, or for a slug's wires.
        lip: length of a trough.
        through_diameter: of the hole that lets light into the neighbour, or None.
        ends: both ends, near first.
        pillars: between the windows.
        windows: middle clock and half angle of each, degrees.
        tube: what round pillars are, or None for flat ones.
        entry_clock: clock at which the body goes in.
        hollow_radius: of the chamber round the body.
        rear_level: distance of the rear wall's face from the axis.
        rear_wall: its width.
        room_radius: of the wire rooms.
    """

    length: Dimension
    body_seat_diameter: Dimension
    body_room: Dimension
    led_seat_diameter: Dimension
    led_seat_depth: Dimension
    lead_hole_diameter: Dimension
    lip: Dimension
    through_diameter: Dimension | None
    ends: tuple[End, End]
    pillars: tuple[Pillar, ...]
    windows: tuple[tuple[float, float], ...]
    tube: WireTube | None
    entry_clock: float
    hollow_radius: float
    rear_level: float
    rear_wall: float
    room_radius: float


class GlowChamber(SectionKind):
    """A body that glows, in an open frame."""

    kind: ClassVar[str] = "glow_chamber"
    title: ClassVar[str] = "open frame that shows a translucent body lit from one or both ends"
    Params: ClassVar[type[SectionParams]] = GlowChamberParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return both ends and the room for the body as one sum.

        Raises:
            InputError: a part is unknown or of the wrong kind.
        """
        assert isinstance(params, GlowChamberParams)
        room = _body_room(params, _body(params, setting), setting.fitter)
        terms = [*room.terms, Term(WALL, 2 * params.bulkhead, f"two bulkheads: {_SOURCE}")]
        for facing in _lit(params):
            depth = _led_depth(params, _led(params, setting), setting.fitter)
            where = f"{facing} end"
            terms += [
                Term("LED", depth.total, f"LED and light gap, {where}"),
                Term(WALL, params.ledge, f"ledge behind the LED, {where}: {_SOURCE}"),
                Term(CHOSEN, params.wire_room, f"wire room, {where}: {_SOURCE}"),
            ]
        return setting.fitter.summed(f"{params.name}.length", tuple(terms), "length along the axis")

    def pin_offset(self, params: SectionParams, setting: Setting) -> float:
        """Return the distance of the body's middle from the near end, mm."""
        assert isinstance(params, GlowChamberParams)
        near, _ = _ends(params, setting)
        return near.body_starts + _body_room(params, _body(params, setting), setting.fitter).total / 2

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return body, LEDs, windows and wire ways, and what can't work.

        Raises:
            InputError: a part is unknown or of the wrong kind.
        """
        assert isinstance(params, GlowChamberParams)
        body, led = _body(params, ctx.setting), _led(params, ctx.setting)
        d = _detail(params, ctx, body, led)
        parts = (_placed_body(ctx, body, d), *(_placed_led(ctx, led, d, e) for e in d.ends if e.lit))
        findings = _findings(params, ctx, body, led, d)
        sound = not any(f.blocks_solids for f in findings)
        visible = d.body_room.total - 2 * d.lip.total
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=parts,
            fits=_fits(params, ctx, d, parts) if sound else (),
            obstacles=_obstacles(ctx, led, d),
            terminals=tuple(
                t for e, p in zip(_lit_ends(d), parts[1:], strict=True) for t in _terminals(ctx, d, e, p)
            ),
            tube_lanes=_tube_lanes(ctx, d),
            findings=findings,
            facts={
                "visible_length_mm": visible,
                "window_share": sum(2 * h for _, h in d.windows) / 360.0,
                "rear_wall_depth_mm": ctx.radius - d.rear_level,
            },
            cautions=tuple(dict.fromkeys(("bright_light", *led.cautions))),
            openings=(ctx.opening.name,) if ctx.opening else (),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with the chamber, its windows, the rear wall, the seats and the wire rooms."""
        d = plan.detail
        assert isinstance(d, GlowChamberPlan)
        led = next(p.part for p in plan.parts if p.part.kind in LED_KINDS)
        return (*ctx.shell(), *_chamber_steps(d, ctx), *_seat_cuts(d, ctx), *_end_cuts(d, ctx, led))


# sums -----------------------------------------------------------------------------------------------------


def _checked(name: str, kinds: tuple[str, ...], key: str, what: str, setting: Setting) -> Part:
    part = setting.find_part(name)
    if part.kind not in kinds:
        message = f"a {part.kind.replace('_', ' ')} is no {what}"
        allowed = f"a part of kind {' or '.join(kinds)}"
        raise InputError([Problem("wrong-part-kind", message, key=key, value=f'"{name}"', allowed=allowed)])
    return part


def _body(params: GlowChamberParams, setting: Setting) -> Part:
    return _checked(params.part, BODY_KINDS, "part", "body that glows", setting)


def _led(params: GlowChamberParams, setting: Setting) -> Part:
    return _checked(params.led, LED_KINDS, "led", "LED for a glow chamber", setting)


def _lit(params: GlowChamberParams) -> tuple[str, ...]:
    return ("near", "far") if params.lit == "both" else (params.lit,)


def _body_size(body: Part) -> str:
    return "diameter" if body.kind == "glow_rod" else "corner_diameter"


def _led_sizes(led: Part) -> tuple[str, str]:
    """Return the names of the size that a seat locates and of the height over the LED's back."""
    return ("flange_diameter", "length") if led.kind == "led_round" else ("slug_diameter", "height")


def _body_room(params: GlowChamberParams, body: Part, fitter: Fitter) -> Dimension:
    note = "between the faces at the body's ends"
    return fitter.inner(f"{params.name}.body_room", body.sizes["length"], params.glue_fit, note, body.name)


def _led_depth(params: GlowChamberParams, led: Part, fitter: Fitter) -> Dimension:
    size = _led_sizes(led)[1]
    m = led.sizes[size]
    terms = (
        Term(PART_SIZE, m.value, f"{led.name}, {size}: {m.source}", m.tolerance),
        Term("light gap", params.light_gap, f"from the LED's top to the body's end: {_SOURCE}"),
    )
    return fitter.summed(f"{params.name}.led_seat_depth", terms, "from the body's end to the LED's back")


def _ends(params: GlowChamberParams, setting: Setting) -> tuple[End, End]:
    depth = _led_depth(params, _led(params, setting), setting.fitter).total
    both = params.lit == "both"

    def end(facing: str) -> End:
        if facing not in _lit(params):
            wall = params.bulkhead
            return End(facing, False, wall, wall, wall, wall)
        room = params.bulkhead + params.wire_room
        ledge = room + params.ledge
        id = f"{params.name}.{facing} led" if both else f"{params.name}.led"
        prefix = f"{facing} " if both else ""
        return End(facing, True, params.bulkhead, room, ledge, ledge + depth, id, prefix)

    return end("near"), end("far")


def _lit_ends(d: GlowChamberPlan) -> tuple[End, ...]:
    return tuple(e for e in d.ends if e.lit)


def _wire_tube(params: GlowChamberParams, ctx: SectionContext) -> WireTube | None:
    if params.pillar == "flat":
        return None
    name = f"{ctx.name}.wire_bore"
    bore = ctx.setting.fitter.hole(name, params.wire_bore, _SOURCE, "bore of a wire tube")
    radius = bore.total / 2 + params.tube_wall + (FLUTE_DEPTH if params.pillar == "fluted" else 0.0)
    return WireTube(bore, radius, ctx.radius - radius - OVERLAP, params.pillar == "fluted")


def _detail(params: GlowChamberParams, ctx: SectionContext, body: Part, led: Part) -> GlowChamberPlan:
    fitter, name = ctx.setting.fitter, ctx.name
    length = fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout")
    size = _body_size(body)
    note = "troughs for the body's ends"
    seat = fitter.inner(f"{name}.body_seat_diameter", body.sizes[size], params.glue_fit, note, body.name)
    located = _led_sizes(led)[0]
    led_seat = fitter.inner(
        f"{name}.led_seat_diameter", led.sizes[located], LED_FIT, "bore that locates the LED", led.name
    )
    tube = _wire_tube(params, ctx)
    hollow = ctx.radius - (2 * tube.radius + OVERLAP if tube else params.frame_wall)
    rear = _rear_width(params, ctx, seat.total / 2 + BODY_ROOM)
    windows, pillars = _windows(params, ctx, tube, hollow, rear, _entry_half(seat, hollow))
    through = None
    if params.light_through and params.lit != "both":
        wide = max(1.0, body.size(size) - 2 * LEAST_SHOULDER)
        through = fitter.chosen(f"{name}.through_diameter", wide, "hole that lets light into the neighbour")
    room = ctx.radius - ROOM_WALL
    if tube:
        room = min(room, tube.distance - tube.bore.total / 2 - ctx.setting.rules.least_wall)
    top = ctx.clock_deg
    return GlowChamberPlan(
        length=length,
        body_seat_diameter=seat,
        body_room=_body_room(params, body, fitter),
        led_seat_diameter=led_seat,
        led_seat_depth=_led_depth(params, led, fitter),
        lead_hole_diameter=_lead_hole(led, ctx),
        lip=fitter.chosen(f"{name}.lip", params.lip, "how much of the body's end its seat hides"),
        through_diameter=through,
        ends=_ends(params, ctx.setting),
        pillars=pillars,
        windows=windows,
        tube=tube,
        entry_clock=min((c for c, _ in windows), key=lambda c: (abs(_turn(c, top)), c)),
        hollow_radius=hollow,
        rear_level=seat.total / 2 + BODY_ROOM,
        rear_wall=rear,
        room_radius=room,
    )


def _rear_width(params: GlowChamberParams, ctx: SectionContext, level: float) -> float:
    """Return the width of the rear wall, mm: as asked, or wide where its sides stay thick enough."""
    if params.rear_wall is not None:
        return params.rear_wall
    side = level + REAR_SIDE
    return on_grid(min(REAR_SHARE * ctx.radius, 2 * math.sqrt(max(0.0, ctx.radius**2 - side**2))))


def _lead_hole(led: Part, ctx: SectionContext) -> Dimension:
    fitter, name = ctx.setting.fitter, f"{ctx.name}.lead_hole_diameter"
    if led.kind == "led_slug":
        return fitter.hole(
            name, 2.4, "a wire and its insulation: common practice, no source", "way for a wire"
        )
    return fitter.inner(name, led.sizes["lead_diameter"], LEAD_FIT, "hole for one of the leads", led.name)


# windows --------------------------------------------------------------------------------------------------


def _turn(clock: float, start: float) -> float:
    """Return the angle from one clock to another, degrees from -180 up to 180."""
    return (clock - start + 180.0) % 360.0 - 180.0


def _rear_half(width: float, radius: float) -> float:
    """Return half the angle that the rear wall takes at a radius, degrees."""
    return math.degrees(math.asin(min(1.0, width / 2 / radius)))


def _entry_half(seat: Dimension, hollow: float) -> float:
    """Return half the angle that the body needs to go in between two pillars, degrees."""
    half = seat.total / 2
    return math.degrees(math.asin(min(1.0, half / max(hollow, half))))


def _windows(
    params: GlowChamberParams,
    ctx: SectionContext,
    tube: WireTube | None,
    hollow: float,
    rear: float,
    entry: float,
) -> tuple[tuple[tuple[float, float], ...], tuple[Pillar, ...]]:
    """Return the windows (middle clock and half angle) and the pillars between them, from the top round.

    What stands between an outermost window and the rear wall belongs to the rear wall.
    """
    top, free = ctx.clock_deg, 180.0 - _rear_half(rear, max(hollow, 1.0))
    pillar = math.degrees((2 * tube.radius if tube else params.pillar_width) / ctx.radius)
    if params.window_clocks_deg is None:
        halves = {n: (2 * free - (n - 1) * pillar) / n / 2 for n in range(1, 9)}
        n = params.windows or next((k for k in USUAL_WINDOWS if halves[k] >= entry), 1)
        half = halves[n]
        step = 2 * half + pillar
        middles = [top + (k - (n - 1) / 2) * step for k in range(n)]
    else:
        middles = sorted(params.window_clocks_deg, key=lambda c: _turn(c, top))
        gaps = [_turn(b, a) % 360.0 for a, b in itertools.pairwise(middles)]
        half = (min(gaps) - pillar) / 2 if gaps else free
    if params.window_deg is not None:
        half = params.window_deg / 2 if params.window_clocks_deg else min(half, params.window_deg / 2)
    windows = tuple((m % 360.0, half) for m in middles)
    pillars = []
    for (a, _), (b, _) in itertools.pairwise(windows):
        apart = (b - a) % 360.0
        pillars.append(Pillar((a + apart / 2) % 360.0, apart / 2 - half))
    return windows, tuple(pillars)


# parts ----------------------------------------------------------------------------------------------------


def _inward(end: End, ctx: SectionContext, clock: float | None = None) -> Frame:
    """Return the frame on an end's face, +z going into the section, +y to a clock (default the top)."""
    top = ctx.clock_deg if clock is None else clock
    return topped(top, ctx.z0) if end.facing == "near" else reversed_axis(topped(top, ctx.z1))


def _negative(v: Vec3) -> Vec3:
    return -v[0], -v[1], -v[2]


def _span(d: GlowChamberPlan, ctx: SectionContext) -> tuple[float, float]:
    """Return the stations between which the body lies."""
    near, far = d.ends
    return ctx.z0 + near.body_starts, ctx.z1 - far.body_starts


def _window_span(d: GlowChamberPlan, ctx: SectionContext) -> tuple[float, float]:
    a, b = _span(d, ctx)
    return a + d.lip.total, b - d.lip.total


def _lie(sides: int) -> float:
    """Return the turn of a faceted body, degrees: no corner where the trough's straight sides begin."""
    return -90.0 if sides % 4 == 2 else -90.0 + 180.0 / sides


def _placed_body(ctx: SectionContext, body: Part, d: GlowChamberPlan) -> PlacedPart:
    a, b = _span(d, ctx)
    frame = topped(d.entry_clock, (a + b - body.size("length")) / 2)
    turned = frame
    across: float | None = (d.body_seat_diameter.total - body.size(_body_size(body))) / 2
    if body.kind == "glow_prism":
        # A faceted body touches a round trough with single corners: how far it moves is not promised.
        turned, across = frame @ clocked(_lie(round(body.size("sides")))), None
    along = (d.body_room.total - body.size("length")) / 2
    plays = (
        Play(frame.x_axis, across),
        Play(_negative(frame.x_axis), across),
        Play(frame.y_axis, None),
        Play(_negative(frame.y_axis), across),
        Play(frame.z_axis, along),
        Play(_negative(frame.z_axis), along),
    )
    way = _negative(frame.y_axis)
    return PlacedPart(f"{ctx.name}.body", body, turned, ctx.name, ctx.piece, way, plays)


def _placed_led(ctx: SectionContext, led: Part, d: GlowChamberPlan, end: End) -> PlacedPart:
    inward = _inward(end, ctx)
    # The leads lie side by side, level in the print; a slug's pads lie toward top and bottom.
    frame = inward @ shifted(0.0, 0.0, end.ledge_ends)
    across: float = (d.led_seat_diameter.total - led.size(_led_sizes(led)[0])) / 2
    along: float | None = across
    if led.kind == "led_round":
        across = along = min(across, (d.lead_hole_diameter.total - led.size("lead_diameter")) / 2)
    else:
        frame = frame @ Frame(x_axis=(0.0, 1.0, 0.0), y_axis=(-1.0, 0.0, 0.0))
        along = None
    plays = (
        Play(inward.x_axis, across),
        Play(_negative(inward.x_axis), across),
        Play(inward.y_axis, along),
        Play(_negative(inward.y_axis), along),
        Play(inward.z_axis, None),
        Play(_negative(inward.z_axis), 0.0),
    )
    return PlacedPart(end.led_id, led, frame, ctx.name, ctx.piece, _negative(inward.z_axis), plays)


def _fits(
    params: GlowChamberParams, ctx: SectionContext, d: GlowChamberPlan, parts: tuple[PlacedPart, ...]
) -> tuple[Fit, ...]:
    fitter, body = ctx.setting.fitter, parts[0]
    x_axis = topped(d.entry_clock).x_axis
    along = PlayProbe(body.id, (body.frame.z_axis, _negative(body.frame.z_axis)))
    found = [fitter.fit(d.body_room, "part in seat", (body.id, ctx.name), params.glue_fit, along)]
    if body.part.kind == "glow_rod":
        across = PlayProbe(body.id, (x_axis, _negative(x_axis)))
        found.append(
            fitter.fit(d.body_seat_diameter, "part in seat", (body.id, ctx.name), params.glue_fit, across)
        )
    led = parts[1]
    if led.part.kind == "led_slug":
        x = _inward(_lit_ends(d)[0], ctx).x_axis
        probe = PlayProbe(led.id, (x, _negative(x)))
        found.append(fitter.fit(d.led_seat_diameter, "part in seat", (led.id, ctx.name), LED_FIT, probe))
    return tuple(found)


def _terminals(
    ctx: SectionContext, d: GlowChamberPlan, end: End, placed: PlacedPart
) -> tuple[PlacedTerminal, ...]:
    """Return where each wire's joint lies: in the middle of the wire room, in line with its lead or hole."""
    inward = _inward(end, ctx)
    middle = (end.room_starts + end.room_ends) / 2
    bottom = (ctx.clock_deg + 180.0) % 360.0
    found = []
    for t in placed.part.terminals:
        x, y, _ = t.position
        if placed.part.kind == "led_slug":
            away = d.led_seat_diameter.total / 2 / math.hypot(x, y)
            x, y = x * away, y * away
        px, py, _ = placed.frame.point((x, y, 0.0))
        z = inward.point((0.0, 0.0, middle))[2]
        id = f"{ctx.name}.{end.prefix}{t.name}"
        exits = ((bottom - 85.0, bottom + 85.0),)
        found.append(PlacedTerminal(id, (px, py, z), exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)


# lanes ----------------------------------------------------------------------------------------------------


def _ways(led: Part, d: GlowChamberPlan) -> tuple[tuple[float, float], ...]:
    """Return the places of lead or wire holes in an end's frame, mm."""
    if led.kind == "led_slug":
        r = d.led_seat_diameter.total / 2
        return (0.0, r), (0.0, -r)
    x = led.size("lead_spacing") / 2
    return (x, 0.0), (-x, 0.0)


def _obstacles(ctx: SectionContext, led: Part, d: GlowChamberPlan) -> tuple[Obstacle, ...]:
    """Return what keeps lanes away: in the chamber all but the rear wall, at the ends seats and rooms."""
    wall, r = ctx.setting.rules.least_wall, ctx.radius
    margin = math.degrees(wall / r)
    a, b = _span(d, ctx)
    w0, w1 = _window_span(d, ctx)
    seat, top, rear = d.body_seat_diameter.total / 2, ctx.clock_deg, ctx.clock_deg + 180.0
    entry = math.degrees(math.asin(min(1.0, seat / r))) + margin
    clear = _rear_half(max(d.rear_wall - 2 * wall, 0.1), r)
    half = d.rear_wall / 2
    found = [
        Obstacle(Disc(0.0, 0.0, seat), a, b, "body's seat"),
        Obstacle(Sector(d.entry_clock - entry, d.entry_clock + entry), a, b, "body's way in"),
        Obstacle(Sector(rear + clear, rear + 360.0 - clear), w0, w1, "open frame"),
        Obstacle(Slab(-half, half, -d.rear_level, r, top), w0, w1, "chamber"),
    ]
    for end in d.ends:
        inward = _inward(end, ctx)

        def span(low: float, high: float, frame: Frame = inward) -> tuple[float, float]:
            z0, z1 = sorted(frame.point((0.0, 0.0, z))[2] for z in (low, high))
            return z0, z1

        if end.lit:
            room = math.degrees(math.acos(OPEN_LEVEL)) + margin
            reach = d.led_seat_diameter.total / 2
            if led.kind == "led_slug":
                reach += d.lead_hole_diameter.total / 2
            z0, z1 = span(end.room_starts, end.room_ends)
            found += [
                Obstacle(Disc(0.0, 0.0, d.room_radius), z0, z1, "wire room"),
                Obstacle(Sector(top - room, top + room), z0, z1, "wire room's window"),
                Obstacle(Disc(0.0, 0.0, reach), *span(end.room_ends, end.body_starts), "LED's seat"),
            ]
        elif d.through_diameter:
            z0, z1 = span(0.0, end.body_starts)
            found.append(Obstacle(Disc(0.0, 0.0, d.through_diameter.total / 2), z0, z1, "way for light"))
    if d.tube:
        for p in d.pillars:
            x, y, _ = topped(p.clock).point((0.0, d.tube.distance, 0.0))
            found.append(Obstacle(Disc(x, y, d.tube.bore.total / 2), ctx.z0, ctx.z1, "wire tube"))
            turn = math.degrees((d.tube.bore.total / 2 + wall) / d.tube.distance)
            found.append(Obstacle(Sector(p.clock - turn, p.clock + turn), ctx.z0, ctx.z1, "wire tube"))
    return tuple(found)


def _tube_lanes(ctx: SectionContext, d: GlowChamberPlan) -> tuple[TubeLane, ...]:
    tube = d.tube
    if tube is None:
        return ()
    return tuple(
        TubeLane(p.clock, tube.distance, tube.bore.total, ctx.z0, ctx.z1, ctx.name) for p in d.pillars
    )


# findings -------------------------------------------------------------------------------------------------


def _findings(
    params: GlowChamberParams, ctx: SectionContext, body: Part, led: Part, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    return (
        *_room_findings(params, ctx, d),
        *_window_findings(params, ctx, body, d),
        *_led_findings(params, ctx, body, led, d),
        *_through_findings(params, ctx, d),
    )


def _room_findings(params: GlowChamberParams, ctx: SectionContext, d: GlowChamberPlan) -> tuple[Finding, ...]:
    """Return errors where the chamber, the LED's seat or the rear wall have no room in the chassis."""
    least, found = ctx.setting.rules.least_wall, []
    seat = d.body_seat_diameter.total / 2
    if seat + BODY_ROOM > d.hollow_radius:
        message = (
            f"the body's seat reaches {seat:.2f} mm from the axis, the room inside the pillars "
            f"{d.hollow_radius:.2f} mm; {BODY_ROOM:g} mm between them are wanted"
        )
        numbers = {"seat": seat, "room": d.hollow_radius, "missing": seat + BODY_ROOM - d.hollow_radius}
        thin = math.floor((ctx.radius - seat - BODY_ROOM) * 10) / 10
        fits = not d.tube and thin >= 2 * least
        candidates = (Remedy("frame_wall", thin, f"pillars {thin:g} mm thick"),) if fits else ()
        found.append(
            Finding(
                "error", "body-wide", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )
        )
    rear = _chord(ctx.radius, d.rear_wall) - d.rear_level
    if rear < 2 * least or d.rear_wall < min(SPINE, ctx.radius):
        message = (
            f"a rear wall {d.rear_wall:.2f} mm wide is {max(rear, 0.0):.2f} mm thick at its sides; "
            f"{min(SPINE, ctx.radius):g} mm wide and {2 * least:g} mm thick are wanted"
        )
        numbers = {"width": d.rear_wall, "thickness": rear, "least_thickness": 2 * least}
        remedy = Remedy("rear_wall", SPINE, f"rear wall {SPINE:g} mm wide")
        fits = _chord(ctx.radius, SPINE) - d.rear_level >= 2 * least and d.rear_wall != SPINE
        candidates = (remedy,) if fits else ()
        blocks = rear < least or d.rear_wall < 2 * least
        found.append(
            Finding(
                "error", "rear-wall", ctx.name, message, numbers, candidates=candidates, blocks_solids=blocks
            )
        )
    if d.room_radius < 2.0:
        message = f"the wire room's radius is {d.room_radius:.2f} mm; 2 mm are wanted"
        numbers = {"room_radius": d.room_radius, "least": 2.0}
        found.append(Finding("error", "wire-room-small", ctx.name, message, numbers, blocks_solids=True))
    wide = d.led_seat_diameter.total / 2
    if ctx.radius - wide < 2 * least + d.lead_hole_diameter.total / 2:
        message = (
            f"the LED's seat is {2 * wide:.2f} mm wide; the chassis's {2 * ctx.radius:.2f} mm leave no wall"
        )
        numbers = {"seat": 2 * wide, "chassis": 2 * ctx.radius}
        remedy = Remedy("led", "led 5 mm", "take a round LED")
        found.append(
            Finding(
                "error", "wall-thin", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=True
            )
        )
    return tuple(found)


def _chord(radius: float, width: float) -> float:
    """Return the distance from the axis of a chord of a width, mm; 0 where it is wider than the circle."""
    return math.sqrt(max(0.0, radius**2 - (width / 2) ** 2))


def _window_findings(
    params: GlowChamberParams, ctx: SectionContext, body: Part, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    visible = d.body_room.total - 2 * d.lip.total
    if visible < 2.0:
        message = f"lips of {d.lip.total:.2f} mm leave {visible:.2f} mm of the body in sight; 2 mm are wanted"
        lip = math.floor(d.body_room.total / 5 * 10) / 10
        numbers = {"visible": visible, "lip": d.lip.total}
        remedy = Remedy("lip", lip, f"lips of {lip:g} mm")
        found.append(
            Finding(
                "error", "body-hidden", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=True
            )
        )
    entry = next(h for c, h in d.windows if c == d.entry_clock)
    needed = _entry_half(d.body_seat_diameter, d.hollow_radius)
    if entry < needed and not any(f.blocks_solids for f in found):
        message = (
            f"the window that the body goes in by takes {2 * max(entry, 0.0):.1f} degrees; "
            f"{body.name} needs {2 * needed:.1f}"
        )
        numbers = {"window": 2 * entry, "needed": 2 * needed}
        fewer = range(len(d.windows) - 1, 0, -1) if not params.window_clocks_deg else ()
        candidates = tuple(Remedy("windows", n, f"{n} windows") for n in fewer)
        found.append(
            Finding(
                "error",
                "window-narrow",
                ctx.name,
                message,
                numbers,
                candidates=candidates,
                blocks_solids=True,
            )
        )
    least = math.degrees(2 * ctx.setting.rules.least_wall / ctx.radius)
    if d.tube:
        least = 2 * math.degrees(d.tube.radius / ctx.radius)
    thin = min((2 * p.half for p in d.pillars), default=least)
    if thin < least - 1e-6:
        message = (
            f"a pillar between two windows takes {max(thin, 0.0):.1f} degrees; {least:.1f} are wanted for it"
        )
        numbers = {"pillar": thin, "wanted": least}
        narrower = math.floor(2 * d.windows[0][1] - (least - thin))
        candidates = (
            (Remedy("window_deg", narrower, f"windows of {narrower:g} degrees"),) if narrower > 5 else ()
        )
        found.append(
            Finding(
                "error", "pillar-thin", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )
        )
    turn = abs(_turn(d.entry_clock, ctx.clock_deg))
    if turn > 90.0:
        message = f"the body goes in {turn:.0f} degrees from the top; its seat is open there up to 90 degrees"
        found.append(Finding("error", "entry-turned", ctx.name, message, {"turn": turn}, blocks_solids=True))
    return tuple(found)


def _led_findings(
    params: GlowChamberParams, ctx: SectionContext, body: Part, led: Part, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    least = ctx.setting.rules.least_wall
    reach = d.led_seat_diameter.total / 2
    stands = body.size(_body_size(body)) / 2
    if body.kind == "glow_prism":
        stands *= math.cos(math.pi / body.size("sides"))
    if stands - reach < LEAST_SHOULDER:
        message = (
            f"the LED's seat reaches {reach:.2f} mm from the axis and the body {stands:.2f} mm: its end has "
            f"no shoulder of {LEAST_SHOULDER:g} mm to stand on, and slips over the LED"
        )
        numbers = {"seat": reach, "body": stands, "least": LEAST_SHOULDER}
        usual = ("led 5 mm", "led 3 mm")
        smaller = usual[usual.index(led.name) + 1 :] if led.name in usual else usual
        candidates = tuple(Remedy("led", name, f"take {name}") for name in smaller)
        found.append(
            Finding(
                "error", "body-narrow", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )
        )
    if led.kind == "led_slug":
        return tuple(found)
    web = led.size("lead_spacing") - d.lead_hole_diameter.total
    if web < least:
        message = f"between the two lead holes {web:.2f} mm of wall are left, less than {least:g} mm"
        numbers = {"wall": web, "least_wall": least}
        found.append(Finding("error", "wall-thin", ctx.name, message, numbers, blocks_solids=web < least / 2))
    stub = led.size("lead_length") - params.ledge
    if stub < LEAD_STUB:
        thin = led.size("lead_length") - LEAD_STUB
        message = (
            f"leads stand {stub:.2f} mm out of a ledge of {params.ledge:.2f} mm: "
            f"a joint needs {LEAD_STUB:g} mm"
        )
        candidates = (Remedy("ledge", thin, f"ledge {thin:g} mm thick"),) if thin >= least else ()
        numbers = {"stub": stub, "least": LEAD_STUB}
        found.append(Finding("error", "leads-short", ctx.name, message, numbers, candidates=candidates))
    elif stub + LEAD_STUB > params.wire_room:
        wanted = math.ceil((stub + LEAD_STUB) * 10 - 1e-6) / 10
        message = (
            f"leads stand {stub:.2f} mm into a wire room of {params.wire_room:.2f} mm: joint and wire need "
            f"{LEAD_STUB:g} mm more than the leads"
        )
        numbers = {"stub": stub, "wire_room": params.wire_room, "least_wire_room": wanted}
        remedy = Remedy("wire_room", wanted, f"wire room {wanted:g} mm long")
        blocks = stub > params.wire_room
        found.append(
            Finding(
                "error", "leads-long", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=blocks
            )
        )
    return tuple(found)


def _through_findings(
    params: GlowChamberParams, ctx: SectionContext, d: GlowChamberPlan
) -> tuple[Finding, ...]:
    if not params.light_through or params.lit != "both":
        return ()
    message = "both ends have an LED, so no bulkhead is left that could let light through"
    remedy = Remedy("light_through", False, "keep the light in")
    return (Finding("warning", "no-unlit-end", ctx.name, message, candidates=(remedy,)),)


# solids ---------------------------------------------------------------------------------------------------


def _bars(ctx: SectionContext, z0: float, z1: float, keep: Primitive) -> tuple[Primitive, ...]:
    """Return what a solid keeps of the chassis's full bar between two stations."""
    return tuple(Within(bar, keep) for bar in ctx.body(z0, z1))


def _chamber_steps(d: GlowChamberPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the hollow, the windows, then rear wall and wire tubes put back from bulkhead to bulkhead."""
    a, b = _window_span(d, ctx)
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    steps = list(cut("chamber", Cylinder(d.hollow_radius, a, b)))
    inner = d.hollow_radius - OVERLAP
    if d.tube:
        steps += cut("windows", Cylinder(big, a, b))
    else:
        low = [TubeSegment(inner, big, a, b, c - h, c + h) for c, h in d.windows]
        steps += cut("window", *low)
    wide = d.rear_wall / 2
    a, b = a - OVERLAP, b + OVERLAP
    keep = Box((-wide, -big, a), (wide, -d.rear_level, b), topped(ctx.clock_deg))
    steps += add("rear wall", *_bars(ctx, a, b, keep))
    if d.tube:
        steps += _tube_steps(d, d.tube, ctx, a, b)
    return tuple(steps)


def _tube_steps(
    d: GlowChamberPlan, tube: WireTube, ctx: SectionContext, a: float, b: float
) -> tuple[Step, ...]:
    steps: list[Step] = []
    for p in d.pillars:
        frame = topped(p.clock) @ shifted(0.0, tube.distance)
        steps += add("wire tube", Cylinder(tube.radius, a, b, frame))
        if tube.fluted:
            steps += cut("flutes", _flutes(tube, a + FLUTE_END, b - FLUTE_END, frame))
        steps += cut("wire tube's bore", Cylinder(tube.bore.total / 2, ctx.z0 - 1.0, ctx.z1 + 1.0, frame))
    return tuple(steps)


def _flutes(tube: WireTube, z0: float, z1: float, frame: Frame) -> Pattern:
    """Return the round grooves along a wire tube."""
    count = math.floor(2 * math.pi * tube.radius / FLUTE_PITCH)
    away = tube.radius - FLUTE_DEPTH + FLUTE_RADIUS
    places = (unit(360.0 * (k + 0.5) / count) for k in range(count))
    frames = tuple(shifted(away * c, away * s) for c, s in places)
    return Pattern(Cylinder(FLUTE_RADIUS, z0, z1), frames, frame)


def _seat_cuts(d: GlowChamberPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the trough for the body and its way in."""
    a, b = _span(d, ctx)
    seat = d.body_seat_diameter.total / 2
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    way = Box((-seat, 0.0, a), (seat, big, b), topped(d.entry_clock))
    return (*cut("body's seat", Cylinder(seat, a, b)), *cut("body's way in", way))


def _end_cuts(d: GlowChamberPlan, ctx: SectionContext, led: Part) -> tuple[Step, ...]:
    """Return at each lit end the LED's seat, its lead holes and the wire room; else the way for light."""
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    steps: list[Step] = []
    for end in d.ends:
        inward = _inward(end, ctx)
        if not end.lit:
            if d.through_diameter:
                bar = Cylinder(d.through_diameter.total / 2, -OVERLAP, end.body_starts + OVERLAP, inward)
                steps += cut("way for light", bar)
            continue
        a, b = end.room_starts, end.room_ends
        steps += cut("wire room", Cylinder(d.room_radius, a, b, inward))
        level = OPEN_LEVEL * ctx.radius
        steps += cut("wire room's window", Box((-big, level, a), (big, big, b), inward))
        seat = Cylinder(d.led_seat_diameter.total / 2, end.ledge_ends, end.body_starts + OVERLAP, inward)
        steps += cut("LED's seat", seat)
        high = end.body_starts + OVERLAP if led.kind == "led_slug" else end.ledge_ends + OVERLAP
        for x, y in _ways(led, d):
            hole = Cylinder(d.lead_hole_diameter.total / 2, b - OVERLAP, high, inward @ shifted(x, y))
            steps += cut("lead hole", hole)
    return tuple(steps)


KIND = GlowChamber()
