"""Board tray: a trough that a circuit board is laid into from the top and held in with tape.

Origin and axes: the tube's; the section's top is where the trough opens. Heights count from the tube's axis
toward the top, across runs at right angles to it.

      .-|   components   |-.     rims trimmed so that they keep a wall
     /  |_____board______|  \\    pocket with a slide fit round the board
    |   |_|  room    |_|   |    ledges (or posts) and room below
     \\     ----------      /
       '---- floor ------'
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import ClassVar

from chassis_gen.plan.model import (
    Fit,
    Gallery,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.board_tray_findings import findings
from chassis_gen.sections.board_tray_height import margins
from chassis_gen.sections.board_tray_layout import Tray, laid_out, wire_gates
from chassis_gen.sections.board_tray_model import BoardTrayParams, BoardTrayPlan
from chassis_gen.sections.board_tray_posts import peg_diameter, posts
from chassis_gen.sections.board_tray_solids import (
    card_box,
    connector_box,
    cutters,
    pin_reliefs,
    tray_steps,
)
from chassis_gen.sections.board_tray_sums import (
    LIP_SLOPE,
    fitted_board,
    pocket_offset,
    room_at_ends,
    section_length,
)
from chassis_gen.sections.features.board_seat import END_INSET, board_fits
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.features.tape_recess import tape_hardware, tape_sums
from chassis_gen.sections.features.wire_gate import exit_angles
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Step

LEAST_GALLERY = 4.0


class BoardTray(SectionKind):
    """A trough for a circuit board."""

    kind: ClassVar[str] = "board_tray"
    title: ClassVar[str] = "trough that a circuit board is laid into from the top"
    Params: ClassVar[type[SectionParams]] = BoardTrayParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: BoardTrayParams, setting: Setting) -> Dimension:
        """Return end walls, pocket and what card, antenna or lip need.

        Raises:
            InputError: the part is unknown or no board.
        """
        return section_length(params, setting)

    def pin_offset(self, params: BoardTrayParams, setting: Setting) -> float:
        """Return the distance of the board's middle from the near end, mm."""
        fitted = fitted_board(params, setting)
        ends = room_at_ends(params, fitted.part, setting)
        return pocket_offset(params, ends) + fitted.length.total / 2

    def plan(self, params: BoardTrayParams, ctx: SectionContext) -> SectionPlan:
        """Return the board in its trough.

        Raises:
            InputError: the part is unknown or no board.
        """
        tray = laid_out(params, ctx)
        found = findings(tray)
        here = margins(params, tray.fitted, ctx.radius, tray.seat)
        detail = _detail(tray, blocked=any(f.blocks_solids for f in found))
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            parts=(_placed(tray),),
            fits=_fits(tray),
            obstacles=(*_void_obstacles(tray), *_gate_obstacles(tray), *_opening_obstacles(tray)),
            terminals=tuple(_terminals(tray)),
            galleries=_galleries(tray),
            hardware=tape_hardware(params.tape, params.tape_bands, ctx.name),
            findings=found,
            features={"board middle": ((0.0, 0.0, tray.middle), tray.top.y_axis)},
            facts={"board_side_margin_mm": here.least, "floor_thickness_mm": ctx.radius + tray.floor},
            cautions=tray.part.cautions,
            openings=(ctx.opening.name,) if ctx.opening else (),
            recesses=tuple((b.z0, b.z1, b.inner_radius) for b in detail.tape),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return a full bar less trough, rooms and recesses, then posts, then pin reliefs."""
        detail = plan.detail
        assert isinstance(detail, BoardTrayPlan)
        return tray_steps(detail, ctx)


def _detail(tray: Tray, blocked: bool) -> BoardTrayPlan:
    """Return what was decided; without solids where a finding blocks them."""
    p, name, fitter, fitted = tray.params, tray.ctx.name, tray.ctx.setting.fitter, tray.fitted
    depth, width = tape_sums(fitter, name, p.tape)
    peg, lip = peg_diameter(tray), None
    if p.hold == "edge_grooves":
        note = "lip over the board's far edge, and the gap before it"
        lip = fitter.chosen(f"{name}.lip", tray.lip, note)
    return BoardTrayPlan(
        length=section_length(p, tray.ctx.setting),
        end_wall=fitter.chosen(f"{name}.end_wall", p.end_wall, "thickness of each end wall"),
        pocket_width=fitted.width,
        pocket_length=fitted.length,
        seat_height=tray.seat_height,
        room_below=fitted.below,
        room_width=fitted.room_width,
        wall=fitter.chosen(f"{name}.wall", p.wall, "least material beside the pocket"),
        lip=lip,
        peg_diameter=peg,
        tape=tray.bands,
        tape_depth=depth,
        tape_width=width,
        near=tray.near,
        far=tray.far,
        rim=tray.rim,
        cutters=() if blocked else cutters(tray),
        posts=() if blocked else posts(tray, peg),
        reliefs=() if blocked else pin_reliefs(tray),
    )


def _placed(tray: Tray) -> PlacedPart:
    """Return the board in its pocket; under a lip it comes out along a slope."""
    fitted, room, down = tray.fitted, tray.ends.open_room, tray.down
    near = fitted.gap + (room if tray.params.front == "near" else 0.0)
    far = fitted.gap + (room if tray.params.front == "far" else 0.0)
    way = down
    if tray.params.hold == "edge_grooves":
        near += REST * LIP_SLOPE
        size = math.hypot(1.0, LIP_SLOPE)
        way = (down[0] / size, down[1] / size, LIP_SLOPE / size)
    plays = (
        *(Play(direction, fitted.play) for direction in tray.across),
        Play((0.0, 0.0, 1.0), far),
        Play((0.0, 0.0, -1.0), near),
        Play(down, REST),
        Play(tray.top.y_axis, None),
    )
    name, piece = tray.ctx.name, tray.ctx.piece
    return PlacedPart(name, tray.part, tray.board_frame, name, piece, way, plays)


def _fits(tray: Tray) -> tuple[Fit, ...]:
    far: Vec3 = (0.0, 0.0, 1.0)
    near: Vec3 = (0.0, 0.0, -1.0)
    stops: tuple[Vec3, ...] = (far, near)
    if tray.ends.open_room:
        stops = (near,) if tray.params.front == "far" else (far,)
    elif tray.params.hold == "edge_grooves":
        stops = (far,)
    return board_fits(tray.ctx, tray.fitted.width, tray.fitted.length, tray.across, stops)


def _terminals(tray: Tray) -> Iterator[PlacedTerminal]:
    """Yield the terminals; wires leave over the walls beside the board, on either side."""
    frame, clock, top = tray.board_frame, tray.ctx.clock_deg, tray.top
    edge = (tray.half, tray.ctx.radius, tray.underside, tray.rim - 0.5, range(-89, 90))
    for t in tray.part.terminals:
        at = frame.point(t.position)
        x = at[0] * top.x_axis[0] + at[1] * top.x_axis[1]
        y = at[0] * top.y_axis[0] + at[1] * top.y_axis[1]
        sides = []
        if right := exit_angles((x, y), *edge):
            sides.append((clock - 90 + right[0], clock - 90 + right[1]))
        if left := exit_angles((-x, y), *edge):
            sides.append((clock + 90 - left[1], clock + 90 - left[0]))
        name = f"{tray.ctx.name}.{t.name}"
        yield PlacedTerminal(name, at, tuple(sides), t.largest_wire_diameter, t.must_connect)


def _void_obstacles(tray: Tray) -> tuple[Obstacle, ...]:
    """Return the pocket with the room below it and its open top."""
    ctx, p, rim, half = tray.ctx, tray.params, tray.rim, tray.half
    wall, clock, r = ctx.setting.rules.least_wall, ctx.clock_deg, ctx.radius
    w = half if p.hold == "standoffs" else tray.fitted.room_width.total / 2
    near = tray.near - (LIP_SLOPE * (tray.out - tray.seat) if p.hold == "edge_grooves" else 0.0)
    z = near - END_INSET - wall, tray.far + END_INSET + wall
    turn = 90 - math.degrees(math.asin(max(-1.0, min(1.0, rim / r)))) + ctx.wall_angle
    return (
        Obstacle(Slab(-w, w, tray.floor, tray.seat, clock), *z, "room below the board"),
        Obstacle(Slab(-half, half, tray.seat, rim, clock), *z, "board pocket"),
        Obstacle(Sector(clock - turn, clock + turn), *z, "open top of the tray"),
    )


def _gate_obstacles(tray: Tray) -> Iterator[Obstacle]:
    """Yield what lies just under the wire gates: a groove there would leave a sliver between them."""
    clock, r, low = tray.ctx.clock_deg, tray.ctx.radius, tray.underside
    margin = tray.ctx.wall_angle
    base = math.degrees(math.asin(low / r)) if abs(low) < r else 90.0
    for a, b in wire_gates(tray):
        yield Obstacle(Sector(clock - 90 + base - 2 * margin, clock - 90 + base), a, b, "wire gate")
        yield Obstacle(Sector(clock + 90 - base, clock + 90 - base + 2 * margin), a, b, "wire gate")


def _opening_obstacles(tray: Tray) -> Iterator[Obstacle]:
    if tray.ends.card:
        yield from _box_obstacles(tray.ctx, card_box(tray, tray.ends.card), "card slot")
    for c in tray.params.connector:
        yield from _box_obstacles(tray.ctx, connector_box(tray, c), "connector")


def _box_obstacles(ctx: SectionContext, b: Box, what: str) -> Iterator[Obstacle]:
    """Yield a cut block as an obstacle, with the clocks at which it breaks through the outer surface."""
    wall, clock, r = ctx.setting.rules.least_wall, ctx.clock_deg, ctx.radius
    z0, z1 = b.low[2] - wall, b.high[2] + wall
    yield Obstacle(Slab(b.low[0], b.high[0], b.low[1], min(b.high[1], r), clock), z0, z1, what)
    margin = ctx.wall_angle
    turns = [i / 2 for i in range(-180, 540)]
    rim = ((t, r * math.cos(math.radians(t)), r * math.sin(math.radians(t))) for t in turns)
    open_at = [t for t, x, y in rim if b.low[0] <= x <= b.high[0] and b.low[1] <= y <= b.high[1]]
    if open_at:
        low, high = clock - 90 + open_at[0] - margin, clock - 90 + open_at[-1] + margin
        yield Obstacle(Sector(low, high), z0, z1, what)


def _galleries(tray: Tray) -> tuple[Gallery, ...]:
    """Return the place beside the card's room where wires may change their clock, if long enough."""
    width = tray.ends.card_room - 2 * tray.ctx.setting.rules.least_wall
    if width < LEAST_GALLERY:
        return ()
    half = tray.ends.card_room / 2
    z = tray.far + half if tray.params.front == "far" else tray.near - half
    return (Gallery(z, width, tray.ctx.name, open_room=False),)


KIND = BoardTray()
