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
from collections.abc import Mapping
from functools import cached_property
from itertools import pairwise
from typing import ClassVar, Literal

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Length, NonNegativeLength, PositiveLength
from chassis_gen.parts.extent import extent_of
from chassis_gen.parts.model import Keepout, Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import (
    OVERLAP,
    Fit,
    Gallery,
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
from chassis_gen.plan.sums import PART_SIZE, WALL, Dimension, Term
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.surface import without_ribs
from chassis_gen.sections.features.tape_recess import (
    TapeBand,
    TapeRecess,
    plan_tape_recess,
    tape_cutters,
    tape_depth,
    tape_width,
)
from chassis_gen.shapes.frame import Frame, Vec3, topped
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, Prism
from chassis_gen.shapes.recipe import Step, add, cut

REST = 0.02
"""Gap between a resting board and its ledges in the model, mm, so that touching never counts as a hit."""
COVER = 0.2
ROOM_SPARE = 0.5
LEAST_LEDGE = 0.6
LEDGE_MARGIN = 0.2
LIP_SLOPE = 0.2
"""How far a board moves along the tube per height while it comes out from under its lip."""
LIP_GAP = 0.1
LEAST_LIP = 0.4
LEAST_SHOULDER = 0.8
POST_LENGTH = 4.0
POST_WALL = 1.2
HEIGHT_STEP = 0.25
END_INSET = 0.3
GATE_HALF = 1.6
"""Half the length of a wire gate beside a terminal, mm: the thickest wire's way out and a little."""
GATE_JOIN = 2.0
LEAST_GALLERY = 4.0
GATE_DIP = 1.3
"""How far under its middle a wire's way out is cut at most, mm."""


DEFAULT_TAPE = TapeRecess.model_validate({})


class Connector(BaseModel):
    """Keys of a plug or cable that leaves the board sideways or lengthwise."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    side: Literal["near", "far", "left", "right"] = Field(
        description="where it leaves, as seen from the mouth with the top up (left is the +x side)"
    )
    offset: Length = Field(0.0, description="its middle from the board's middle: to the right, or going in")
    width: PositiveLength = Field(description="its width along that side of the board")
    base: Length = Field(0.0, description="its underside over the board's top")


class BoardTrayParams(SectionParams):
    """Keys of a board tray."""

    kind: Literal["board_tray"] = "board_tray"
    part: str = Field("sound board", min_length=1, max_length=60, description="a board")
    hold: Literal["ledges", "standoffs", "edge_grooves"] = Field("ledges", description="what it rests on")
    front: Literal["far", "near"] = Field("far", description="where its +y end (card, antenna) points")
    board_height: Length | None = Field(
        None,
        description="board's underside over the tube's axis (negative: below); left out: where it fits best",
    )
    ledge: PositiveLength = Field(1.5, description="width of the ledges, less where parts stand out below")
    floor: PositiveLength = Field(3.0, description="least material under the room below the board")
    wall: PositiveLength = Field(1.6, description="least material beside the board and its rooms")
    end_wall: PositiveLength = Field(2.4, description="thickness of each end wall")
    top_clearance: NonNegativeLength = Field(0.2, description="components stay this far under the surface")
    lip: PositiveLength = Field(2.0, description="edge_grooves: depth of the lip, less before components")
    card: Literal["room", "through", "closed"] = Field(
        "room",
        description="card slot: room to pull the card in the tray, an opening in the end wall, or neither",
    )
    tape: TapeRecess | None = Field(DEFAULT_TAPE, description="recess for the tape that holds the board down")
    tape_bands: int = Field(1, ge=1, le=3, description="number of tape recesses")
    connector: tuple[Connector, ...] = Field((), max_length=8, description="plugs and cables that leave it")


class BoardTrayPlan(Struct, frozen=True):
    """What a board tray decides: its sums, and the pocket's stations and heights (mm).

    Args:
        length: along the axis.
        end_wall: thickness of each end wall.
        pocket_width: across.
        pocket_length: along the axis, where the board stops at both ends.
        seat_height: ledges over the tube's axis.
        room_below: depth of the room under the board.
        room_width: between the ledges.
        wall: least material beside the pocket.
        lip: depth of the lip over the board's far edge, edge_grooves only.
        peg_diameter: pegs through the board's holes, standoffs only.
        tape: tape recesses.
        tape_depth: of the recesses.
        tape_width: of the recesses.
        near: station of the pocket's near end.
        far: station of the pocket's far end, with what the antenna needs.
        rim: height of the trimmed rims.
        cutters: what to cut after the outer body.
        posts: what to add then.
        reliefs: what to cut last.
    """

    length: Dimension
    end_wall: Dimension
    pocket_width: Dimension
    pocket_length: Dimension
    seat_height: Dimension
    room_below: Dimension
    room_width: Dimension
    wall: Dimension
    lip: Dimension | None
    peg_diameter: Dimension | None
    tape: tuple[TapeBand, ...]
    tape_depth: Dimension | None
    tape_width: Dimension | None
    near: float
    far: float
    rim: float
    cutters: tuple[Step, ...]
    posts: tuple[Step, ...]
    reliefs: tuple[Step, ...]


class Fitted(Struct, frozen=True):
    """The board's fitted sizes, before its height is known."""

    part: Part
    width: Dimension
    length: Dimension
    below: Dimension
    room_width: Dimension

    @property
    def play(self) -> float:
        """Return the sideways play per side in the model, mm."""
        return (self.width.total - self.part.size("width")) / 2

    @property
    def gap(self) -> float:
        """Return the play per end in the model, mm."""
        return (self.length.total - self.part.size("length")) / 2


class Ends(Struct, frozen=True):
    """What the board's ends need along the axis, mm.

    Args:
        open_room: added to the pocket at the front, where nothing stops the board (antenna).
        card_room: beyond the front, narrower than the board, so that shoulders stop it.
        card: the card's keep-out, when it gets room or an opening.
        tilt: in front of the near end, for a board that tilts out from under its lip.
    """

    open_room: float
    card_room: float
    card: Keepout | None
    tilt: float


class BoardTray(SectionKind):
    """A trough for a circuit board."""

    kind: ClassVar[str] = "board_tray"
    title: ClassVar[str] = "trough that a circuit board is laid into from the top"
    Params: ClassVar[type[SectionParams]] = BoardTrayParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return end walls, pocket and what card, antenna or lip need.

        Raises:
            InputError: the part is unknown or no board.
        """
        assert isinstance(params, BoardTrayParams)
        fitted = _fitted(params, setting)
        ends = _ends(params, fitted.part, setting)
        terms = [
            Term(WALL, 2 * params.end_wall, "two end walls"),
            Term("pocket", fitted.length.total, f"{params.name}.pocket_length"),
        ]
        extras = (
            ("antenna room", ends.open_room, f"{params.part}: keep-out past the board's end"),
            ("card room", ends.card_room, f"{params.part}: travel of the card, inside the tray"),
            ("tilt room", ends.tilt, "for the board to come out from under its lip"),
        )
        terms += [Term(label, value, source) for label, value, source in extras if value]
        return setting.fitter.summed(f"{params.name}.length", tuple(terms), "length along the axis")

    def pin_offset(self, params: SectionParams, setting: Setting) -> float:
        """Return the distance of the board's middle from the near end, mm."""
        assert isinstance(params, BoardTrayParams)
        fitted = _fitted(params, setting)
        ends = _ends(params, fitted.part, setting)
        return _near_offset(params, ends) + fitted.length.total / 2

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the board in its trough.

        Raises:
            InputError: the part is unknown or no board.
        """
        assert isinstance(params, BoardTrayParams)
        fitted = _fitted(params, ctx.setting)
        ends = _ends(params, fitted.part, ctx.setting)
        tray = _Tray(params, ctx, fitted, ends)
        length = self.length(params, ctx.setting)
        assert length is not None
        return tray.plan(length)

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return a full bar less trough, rooms and recesses, then posts, then pin reliefs."""
        detail = plan.detail
        assert isinstance(detail, BoardTrayPlan)
        tape = tuple(s for band in detail.tape for s in cut("tape recess", *tape_cutters(band)))
        return (*ctx.shell(), *tape, *detail.cutters, *detail.posts, *detail.reliefs)


# what is known before the station -----------------------------------------------------------------


def _board(name: str, setting: Setting) -> Part:
    part = setting.find_part(name)
    if part.kind != "board":
        message = f"a {part.kind} can't lie in a board tray"
        raise InputError(
            [Problem("wrong-part-kind", message, value=f'"{name}"', allowed="a part of kind board")]
        )
    return part


def _largest(measure: Measure) -> float:
    return measure.value + measure.tolerance


def _fitted(params: BoardTrayParams, setting: Setting) -> Fitted:
    part, fitter, name = _board(params.part, setting), setting.fitter, params.name
    s = part.sizes
    width = fitter.inner(f"{name}.pocket_width", s["width"], "slide", "pocket across", part.name)
    length = fitter.inner(f"{name}.pocket_length", s["length"], "slide", "pocket along the axis", part.name)
    return Fitted(
        part, width, length, _room_below(part, fitter, name), _room_width(params, part, fitter, width)
    )


def _room_below(part: Part, fitter: Fitter, name: str) -> Dimension:
    s = part.sizes
    keys = [k for k in ("height_below", "pin_length") if part.has(k)]
    key = max(keys, key=lambda k: _largest(s[k]))
    size = s[key]
    terms = (
        Term(PART_SIZE, size.value, f"{part.name}: {key.replace('_', ' ')}, {size.source}", size.tolerance),
        Term("tolerance", size.tolerance, "the deepest part"),
        Term("spare", ROOM_SPARE, "air under the joints"),
    )
    return fitter.summed(f"{name}.room_below", terms, "room under the board")


def _room_width(params: BoardTrayParams, part: Part, fitter: Fitter, width: Dimension) -> Dimension:
    """Return the room between the ledges: as wanted, wider where parts stand out below the board."""
    board, margin = part.sizes["width"], part.sizes["margin_below"]
    play = (width.total - board.value) / 2
    name, note = f"{params.name}.room_width", "between the ledges"
    by_ledge = width.total - 2 * params.ledge
    by_parts = board.value - 2 * margin.value + 2 * (play + LEDGE_MARGIN)
    if by_ledge >= by_parts or part.size("height_below") == 0:
        terms: tuple[Term, ...] = (
            Term("pocket", width.total, width.name),
            Term("ledges", -2 * params.ledge, "parameter file or its default"),
        )
    else:
        terms = (
            Term(PART_SIZE, board.value, f"{part.name}: width, {board.source}", board.tolerance),
            Term("margins", -2 * margin.value, f"{part.name}: edge to parts below, {margin.source}"),
            Term("play and spare", 2 * (play + LEDGE_MARGIN), "both sides"),
        )
    return fitter.summed(name, terms, note)


def _beyond(keepout: Keepout, part: Part) -> float:
    """Return how far a keep-out reaches past the board's +y end, mm."""
    return extent_of(keepout.solid)[1][1] - part.size("length") / 2


def _ends(params: BoardTrayParams, part: Part, setting: Setting) -> Ends:
    others = [k for k in part.keepouts if k.name not in ("pins", "card slot") and _beyond(k, part) > 0]
    open_room = max((_beyond(k, part) for k in others), default=0.0)
    card = next((k for k in part.keepouts if k.name == "card slot"), None)
    card = None if params.card == "closed" else card
    card_room = _beyond(card, part) + ROOM_SPARE if card and params.card == "room" else 0.0
    if card and params.card == "room" and not _shoulders(card, part):
        open_room, card_room, card = max(open_room, card_room), 0.0, None
    tilt = 0.75 * LIP_SLOPE * setting.smallest_bore if params.hold == "edge_grooves" else 0.0
    return Ends(open_room, max(0.0, card_room - open_room), card, tilt)


def _shoulders(card: Keepout, part: Part) -> bool:
    """Return whether material beside a card's room can still stop the board."""
    half = extent_of(card.solid)[1][0] + ROOM_SPARE
    return part.size("width") / 2 - half >= LEAST_SHOULDER


def _near_offset(params: BoardTrayParams, ends: Ends) -> float:
    front = ends.open_room + ends.card_room if params.front == "near" else 0.0
    return params.end_wall + ends.tilt + front


# the plan -----------------------------------------------------------------------------------------


class Margins(Struct, frozen=True):
    """How much wider, per side, the board could be at a height, by what limits it (mm)."""

    by_limit: Mapping[str, float]

    @property
    def least(self) -> float:
        """Return the smallest margin, mm."""
        return min(self.by_limit.values())

    @property
    def limit(self) -> str:
        """Return what limits most."""
        return min(self.by_limit, key=lambda k: self.by_limit[k])


def _half_chord(radius: float, height: float) -> float:
    """Return half the chord of a circle at a height, mm; negative outside it."""
    return math.sqrt(radius**2 - height**2) if abs(height) < radius else -abs(height)


def margins(params: BoardTrayParams, fitted: Fitted, radius: float, seat: float) -> Margins:
    """Return how much room a board has beside it when its seat stands at a height.

    Args:
        params: the tray's keys.
        fitted: the board's fitted sizes.
        radius: outer radius of the chassis, mm.
        seat: height of the ledges over the axis, mm.
    """
    s = fitted.part.sizes
    half = fitted.width.total / 2 + params.wall
    top = seat + REST + _largest(s["thickness"])
    components = top + _largest(s["height_above"])
    floor = seat - fitted.below.total
    room = fitted.width if params.hold == "standoffs" else fitted.room_width
    above = s["width"].value / 2 - s["margin_above"].value + fitted.play
    return Margins(
        {
            "board's lower edge": _half_chord(radius, seat) - half,
            "board's upper edge": _half_chord(radius, top) - half,
            "room below": _half_chord(radius, floor) - room.total / 2 - params.wall,
            "components": _half_chord(radius - params.top_clearance, components) - above,
            "floor": radius + floor - params.floor,
        }
    )


def best_height(params: BoardTrayParams, fitted: Fitted, radius: float) -> float:
    """Return the height of the ledges at which the board has most room round it, mm.

    Args:
        params: the tray's keys.
        fitted: the board's fitted sizes.
        radius: outer radius of the chassis, mm.
    """
    count = math.ceil(2 * radius / HEIGHT_STEP)
    heights = [-radius + i * HEIGHT_STEP for i in range(count + 1)]
    return max(heights, key=lambda h: (margins(params, fitted, radius, h).least, -h))


class _Tray(Struct, frozen=True, dict=True):
    """One tray while it is planned: what is asked, where it stands and what follows from both."""

    params: BoardTrayParams
    ctx: SectionContext
    fitted: Fitted
    ends: Ends

    # positions

    @property
    def part(self) -> Part:
        return self.fitted.part

    @cached_property
    def radius(self) -> float:
        return self.ctx.radius

    @cached_property
    def out(self) -> float:
        return self.ctx.outer.largest_radius(self.ctx.z0, self.ctx.z1) + 1.0

    @cached_property
    def seat(self) -> float:
        return self.seat_height.total

    @cached_property
    def seat_height(self) -> Dimension:
        fitter, name = self.ctx.setting.fitter, f"{self.ctx.name}.seat_height"
        note = "ledges over the tube's axis"
        if self.params.board_height is None:
            best = best_height(self.params, self.fitted, self.radius)
            return fitter.chosen(name, best, note, "the height with most room round the board")
        terms = (
            Term("board height", self.params.board_height, "parameter file"),
            Term("rest", -REST, "gap between board and ledges in the model"),
        )
        return fitter.summed(name, terms, note)

    @cached_property
    def floor(self) -> float:
        return self.seat - self.fitted.below.total

    @cached_property
    def half(self) -> float:
        return self.fitted.width.total / 2

    @cached_property
    def rim(self) -> float:
        return _half_chord(self.radius, self.half + self.params.wall)

    @property
    def stop_near(self) -> float:
        """Station where the board's own pocket begins."""
        return self.ctx.z0 + _near_offset(self.params, self.ends)

    @property
    def near(self) -> float:
        return self.stop_near - (self.ends.open_room if self.params.front == "near" else 0.0)

    @property
    def far(self) -> float:
        stop = self.stop_near + self.fitted.length.total
        return stop + (self.ends.open_room if self.params.front == "far" else 0.0)

    @property
    def middle(self) -> float:
        return self.stop_near + self.fitted.length.total / 2

    @property
    def top(self) -> Frame:
        return topped(self.ctx.clock_deg)

    @property
    def board_frame(self) -> Frame:
        """Return the part's frame: +z to the top, +y along the tube toward the front."""
        t, sign = self.top, 1.0 if self.params.front == "far" else -1.0
        x: Vec3 = (-sign * t.x_axis[0], -sign * t.x_axis[1], 0.0)
        return Frame(t.point((0.0, self.seat + REST, self.middle)), x, (0.0, 0.0, sign), t.y_axis)

    @property
    def lip(self) -> float:
        """Return how deep the lip may be: components must pass it, and the board play under it."""
        wanted = self.params.lip + self.fitted.gap
        if self.part.size("height_above") == 0:
            return wanted
        return min(wanted, self.part.size("margin_above") - LIP_GAP)

    # solids

    def box(self, x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> Box:
        """Return a block given across, in height and in stations."""
        return Box((x[0], y[0], z[0]), (x[1], y[1], z[1]), self.top)

    def pocket(self) -> Primitive:
        low = self.floor if self.params.hold == "standoffs" else self.seat
        if self.params.hold != "edge_grooves":
            return self.box((-self.half, self.half), (low, self.out), (self.near, self.far))
        t = self.top
        side = Frame((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), t.y_axis, (-t.x_axis[0], -t.x_axis[1], 0.0))
        board_top = self.seat + REST + _largest(self.part.sizes["thickness"]) + LIP_GAP
        outline = (
            (self.near, low),
            (self.far, low),
            (self.far, board_top),
            (self.far - self.lip, board_top + self.lip / LIP_SLOPE),
            (self.far - self.lip, self.out),
            (self.near - LIP_SLOPE * (self.out - low), self.out),
        )
        return Prism(outline, -self.half, self.half, frame=side)

    def cutters(self) -> tuple[Step, ...]:
        steps = [*cut("board pocket", self.pocket())]
        if self.params.hold != "standoffs":
            w = self.fitted.room_width.total / 2
            room = self.box(
                (-w, w), (self.floor, self.seat + 0.5), (self.near + END_INSET, self.far - END_INSET)
            )
            steps += cut("room below the board", room)
        ends = (self.near - END_INSET, self.far + END_INSET)
        for a, b in ((-self.out, 0.5 - self.half), (self.half - 0.5, self.out)):
            steps += cut("trimmed rim", self.box((a, b), (self.rim, self.out), ends), must_touch=False)
        for gate in self.gates():
            for x in ((-self.out, 0.5 - self.half), (self.half - 0.5, self.out)):
                steps += cut("wire gate", self.box(x, (self.gate_base, self.out), gate))
        if self.ends.card:
            steps += cut("card slot", self.card_box(self.ends.card))
        for c in self.params.connector:
            steps += cut("connector", self.connector_box(c))
        return tuple(steps)

    def card_box(self, card: Keepout) -> Box:
        low, high = extent_of(card.solid)
        half = high[0] + ROOM_SPARE
        base = self.seat + REST
        up = self.out if self.params.card == "room" else base + high[2] + ROOM_SPARE
        y = (base + low[2] - ROOM_SPARE, up)
        if self.params.front == "far":
            end = self.far + self.ends.card_room if self.params.card == "room" else self.ctx.z1 + 2 * OVERLAP
            # before an open room the lip would be a curtain of its own: it is left at the shoulders only
            lip = self.lip if self.params.hold == "edge_grooves" and self.params.card == "room" else 0.0
            return self.box((-half, half), y, (self.far - lip - 0.5, end))
        end = self.near - self.ends.card_room if self.params.card == "room" else self.ctx.z0 - 2 * OVERLAP
        return self.box((-half, half), y, (end, self.near + 0.5))

    def gates(self) -> tuple[tuple[float, float], ...]:
        """Return the stations between which the walls are open beside the terminals, so that wires get out.

        Ways out that were cut one by one would leave webs of no thickness between them.
        """
        spots = sorted(self.board_frame.point(t.position)[2] for t in self.part.terminals)
        spans: list[tuple[float, float]] = []
        for z in spots:
            if spans and z - GATE_HALF - spans[-1][1] < GATE_JOIN:
                spans[-1] = (spans[-1][0], z + GATE_HALF)
            else:
                spans.append((z - GATE_HALF, z + GATE_HALF))
        low, high = self.near - END_INSET, self.far + END_INSET
        return tuple(
            self.without_ribs(
                low if a - self.near < GATE_JOIN else a, high if self.far - b < GATE_JOIN else b
            )
            for a, b in spans
        )

    def without_ribs(self, a: float, b: float) -> tuple[float, float]:
        """Return a gate's stations, moved past what would leave too thin a rib beside it."""
        recesses = [(band.z0, band.z1) for band in self.bands()]
        rib = self.ctx.setting.rules.least_wall
        return without_ribs(self.ctx.outer, recesses, (a, b), rib, END_INSET)

    @cached_property
    def gate_base(self) -> float:
        return self.seat + REST

    def connector_box(self, c: Connector) -> Box:
        base = self.seat + REST + self.part.size("thickness") + c.base - LEDGE_MARGIN
        a, b = c.offset - c.width / 2 - 0.3, c.offset + c.width / 2 + 0.3
        y = (base, self.out)
        if c.side in ("left", "right"):
            x = (self.half - 0.5, self.out) if c.side == "left" else (-self.out, 0.5 - self.half)
            return self.box(x, y, (self.middle + a, self.middle + b))
        z = (self.far - 0.5, self.ctx.z1 + 2 * OVERLAP) if c.side == "far" else (
            self.ctx.z0 - 2 * OVERLAP, self.near + 0.5
        )  # fmt: skip
        return self.box((-b, -a), y, z)

    def hole_places(self) -> tuple[tuple[float, float], ...]:
        if not self.part.has("hole_diameter"):
            return ()
        x, y = self.part.size("hole_pitch_x") / 2, self.part.size("hole_pitch_y") / 2
        return tuple((i * x, j * y) for i in (-1.0, 1.0) for j in (-1.0, 1.0))

    def post_radius(self) -> float:
        return self.part.size("hole_diameter") / 2 + POST_WALL

    def peg(self) -> Dimension | None:
        """Return the pegs' diameter where holes are there and no components fill them in the model."""
        if self.params.hold != "standoffs" or not self.hole_places():
            return None
        clear = self.free_margin() - self.part.size("hole_diameter") / 2
        if clear < 0 or (
            self.part.size("height_above") and self.part.size("margin_above") < self.hole_reach()
        ):
            return None
        note = "pegs through the board's holes"
        size = self.part.sizes["hole_diameter"]
        return self.ctx.setting.fitter.outer(
            f"{self.ctx.name}.peg_diameter", size, "free", note, self.part.name
        )

    def hole_reach(self) -> float:
        """Return how far from the board's edge the holes reach, mm (the nearer of both edges)."""
        s = self.part
        edge = min(s.size("width") - s.size("hole_pitch_x"), s.size("length") - s.size("hole_pitch_y")) / 2
        return edge + s.size("hole_diameter") / 2

    def free_margin(self) -> float:
        """Return the free stretch under the board between a hole's centre and what stands out below."""
        s = self.part
        if s.size("height_below") == 0:
            return math.inf
        edge = min(s.size("width") - s.size("hole_pitch_x"), s.size("length") - s.size("hole_pitch_y")) / 2
        return s.size("margin_below") - edge - self.fitted.play

    def posts(self, peg: Dimension | None) -> tuple[Step, ...]:
        if self.params.hold != "standoffs":
            return ()
        low, seat = self.floor - OVERLAP, self.seat
        if self.hole_places():
            frames = [self.board_frame @ Frame((x, y, -REST)) for x, y in self.hole_places()]
            solids = [Cylinder(self.post_radius(), low - seat, 0.0, f) for f in frames]
            if peg:
                top = self.part.size("thickness") + 0.5
                solids += [Cylinder(peg.total / 2, -0.5, top, f) for f in frames]
            return add("standoff", *solids)
        inner = self.fitted.room_width.total / 2
        stops = (self.stop_near, self.stop_near + self.fitted.length.total)
        blocks = [
            self.box(x, (low, seat), z)
            for x in ((-self.half - OVERLAP, -inner), (inner, self.half + OVERLAP))
            for z in (
                (stops[0] - OVERLAP, stops[0] + POST_LENGTH),
                (stops[1] - POST_LENGTH, stops[1] + OVERLAP),
            )
        ]
        return add("standoff", *blocks)

    def reliefs(self) -> tuple[Step, ...]:
        """Return holes in the ledges for the pins that stand over them."""
        if not self.part.has("pin_length"):
            return ()
        r = self.part.size("pin_diameter") / 2 + max(self.fitted.play, self.fitted.gap) + LEDGE_MARGIN
        wide = self.fitted.room_width.total / 2
        long = self.fitted.length.total / 2 - END_INSET
        solids = [
            Cylinder(r, 0.1 - self.fitted.below.total, 0.5, self.board_frame @ Frame((x, y, -REST)))
            for x, y in ((t.position[0], t.position[1]) for t in self.part.terminals)
            if abs(x) + r > wide or abs(y) + r > long
        ]
        return cut("pin relief", *solids, must_touch=self.params.hold != "standoffs")

    # the rest of the plan

    def bands(self) -> tuple[TapeBand, ...]:
        tape = self.params.tape
        if tape is None:
            return ()
        n = self.params.tape_bands
        width = tape.width + 2 * tape.side_clearance
        long = self.fitted.length.total
        spots = [self.stop_near + long * (i + 0.5) / n for i in range(n)]
        if self.params.hold == "edge_grooves" and n == 1:
            spots = [self.stop_near + min(long / 2, width / 2 + 1.0)]
        name, fitter = f"{self.ctx.name}.tape", self.ctx.setting.fitter
        return tuple(plan_tape_recess(fitter, name, tape, self.ctx.outer, z) for z in spots)

    def placed(self) -> PlacedPart:
        t, play, gap = self.top, self.fitted.play, self.fitted.gap
        room = self.ends.open_room
        near = gap + (room if self.params.front == "near" else 0.0)
        far = gap + (room if self.params.front == "far" else 0.0)
        down: Vec3 = (-t.y_axis[0], -t.y_axis[1], 0.0)
        way = down
        if self.params.hold == "edge_grooves":
            near += REST * LIP_SLOPE
            size = math.hypot(1.0, LIP_SLOPE)
            way = (down[0] / size, down[1] / size, LIP_SLOPE / size)
        x = t.x_axis
        plays = (
            Play(x, play),
            Play((-x[0], -x[1], 0.0), play),
            Play((0.0, 0.0, 1.0), far),
            Play((0.0, 0.0, -1.0), near),
            Play(down, REST),
            Play(t.y_axis, None),
        )
        return PlacedPart(
            self.ctx.name, self.part, self.board_frame, self.ctx.name, self.ctx.piece, way, plays
        )

    def fits(self) -> tuple[Fit, ...]:
        x = self.top.x_axis
        fitter: Fitter = self.ctx.setting.fitter
        across = PlayProbe(self.ctx.name, (x, (-x[0], -x[1], 0.0)))
        stops: tuple[Vec3, ...] = ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0))
        if self.params.hold == "edge_grooves":
            stops = ((0.0, 0.0, 1.0),)
        if self.ends.open_room:
            stops = ((0.0, 0.0, -1.0),) if self.params.front == "far" else ((0.0, 0.0, 1.0),)
        along = PlayProbe(self.ctx.name, stops)
        pair = (self.ctx.name, self.ctx.piece)
        return (
            fitter.fit(self.fitted.width, "part in seat", pair, "slide", across),
            fitter.fit(self.fitted.length, "part in seat", pair, "slide", along),
        )

    def terminals(self) -> tuple[PlacedTerminal, ...]:
        frame, clock, top = self.board_frame, self.ctx.clock_deg, self.top
        found = []
        for t in self.part.terminals:
            at = frame.point(t.position)
            x = at[0] * top.x_axis[0] + at[1] * top.x_axis[1]
            y = at[0] * top.y_axis[0] + at[1] * top.y_axis[1]
            right, left = self.exits(x, y), self.exits(-x, y)
            sides = []
            if right:
                sides.append((clock - 90 + right[0], clock - 90 + right[1]))
            if left:
                sides.append((clock + 90 - left[1], clock + 90 - left[0]))
            found.append(
                PlacedTerminal(
                    f"{self.ctx.name}.{t.name}", at, tuple(sides), t.largest_wire_diameter, t.must_connect
                )
            )
        return tuple(found)

    def exits(self, x: float, y: float) -> tuple[float, float] | None:
        """Return the angles over the level, on the +x side, at which a wire may leave over the edge."""
        good = []
        for angle in range(-89, 90):
            ex, ey = self.radius * math.cos(math.radians(angle)), self.radius * math.sin(math.radians(angle))
            if ex <= self.half or ey > self.rim - 0.5 or x >= self.half:
                continue
            crossing = y + (ey - y) * (self.half - x) / (ex - x)
            if min(crossing, ey) >= self.gate_base + GATE_DIP:
                good.append(float(angle))
        return (good[0], good[-1]) if len(good) > 1 else None

    def obstacles(self) -> tuple[Obstacle, ...]:
        wall, clock, r = self.ctx.setting.rules.least_wall, self.ctx.clock_deg, self.radius
        margin = math.degrees(wall / r)
        w = self.half if self.params.hold == "standoffs" else self.fitted.room_width.total / 2
        near = self.near - (LIP_SLOPE * (self.out - self.seat) if self.params.hold == "edge_grooves" else 0.0)
        z0, z1 = near - END_INSET - wall, self.far + END_INSET + wall
        half = 90 - math.degrees(math.asin(max(-1.0, min(1.0, self.rim / r)))) + margin
        found = [
            Obstacle(Slab(-w, w, self.floor, self.seat, clock), z0, z1, "room below the board"),
            Obstacle(Slab(-self.half, self.half, self.seat, self.rim, clock), z0, z1, "board pocket"),
            Obstacle(Sector(clock - half, clock + half), z0, z1, "open top of the tray"),
        ]
        base = math.degrees(math.asin(self.gate_base / r)) if abs(self.gate_base) < r else 90.0
        for a, b in self.gates():
            # A groove just under a gate would leave a sliver between them.
            found += [
                Obstacle(Sector(clock - 90 + base - 2 * margin, clock - 90 + base), a, b, "wire gate"),
                Obstacle(Sector(clock + 90 - base, clock + 90 - base + 2 * margin), a, b, "wire gate"),
            ]
        if self.ends.card:
            found += self.box_obstacles(self.card_box(self.ends.card), "card slot")
        for c in self.params.connector:
            found += self.box_obstacles(self.connector_box(c), "connector")
        return tuple(found)

    def galleries(self) -> tuple[Gallery, ...]:
        """Return the place beside the card's room where wires may change their clock, if long enough."""
        wall = self.ctx.setting.rules.least_wall
        width = self.ends.card_room - 2 * wall
        if width < LEAST_GALLERY:
            return ()
        half = self.ends.card_room / 2
        z = self.far + half if self.params.front == "far" else self.near - half
        return (Gallery(z, width, self.ctx.name, open_room=False),)

    def box_obstacles(self, b: Box, what: str) -> list[Obstacle]:
        """Return a cut block as an obstacle, with the clocks at which it breaks through the outer surface."""
        wall, clock, r = self.ctx.setting.rules.least_wall, self.ctx.clock_deg, self.radius
        z0, z1 = b.low[2] - wall, b.high[2] + wall
        found = [Obstacle(Slab(b.low[0], b.high[0], b.low[1], min(b.high[1], r), clock), z0, z1, what)]
        margin = math.degrees(wall / r)
        turns = [i / 2 for i in range(-180, 540)]
        rim = ((t, r * math.cos(math.radians(t)), r * math.sin(math.radians(t))) for t in turns)
        open_at = [t for t, x, y in rim if b.low[0] <= x <= b.high[0] and b.low[1] <= y <= b.high[1]]
        if not open_at:
            return found
        low, high = clock - 90 + open_at[0] - margin, clock - 90 + open_at[-1] + margin
        return [*found, Obstacle(Sector(low, high), z0, z1, what)]

    def findings(self) -> tuple[Finding, ...]:
        found = [*self.width_findings(), *self.ledge_findings(), *self.lip_findings(), *self.post_findings()]
        found += [*self.tape_findings(), *self.card_findings()]
        return tuple(found)

    def width_findings(self) -> tuple[Finding, ...]:
        here = margins(self.params, self.fitted, self.radius, self.seat)
        if here.least >= 0:
            return ()
        best = best_height(self.params, self.fitted, self.radius)
        there = margins(self.params, self.fitted, self.radius, best)
        width = self.part.size("width")
        side = {k: v for k, v in here.by_limit.items() if k != "floor"}
        needed = self.fitted.width.total + 2 * self.params.wall
        worst = min(
            self.chord(self.seat), self.chord(self.seat + REST + _largest(self.part.sizes["thickness"]))
        )
        largest = max(0.0, width + 2 * there.least)
        message = (
            f"{self.part.name} does not fit at height {self.seat + REST:.2f} ({here.limit}: "
            f"{-here.least:.2f} mm too little): board {width:.2f} + clearance "
            f"{self.fitted.width.total - width:.2f} + walls {2 * self.params.wall:.2f} = {needed:.2f} mm, "
            f"the chord at its worse edge is {worst:.2f} mm; the widest such board that would fit is "
            f"{largest:.2f} mm, at height {best + REST:.2f}"
        )
        numbers = {
            "needed": needed,
            "chord": worst,
            "lacking": -here.least,
            "largest_width": largest,
            "least_side_margin": min(side.values()),
        }
        candidates: list[Remedy] = []
        if self.params.board_height is not None and there.least >= 0:
            value = round(best + REST, 2)
            candidates.append(Remedy("board_height", value, f"lay the board {value:g} mm over the axis"))
        thin = self.ctx.setting.rules.least_wall
        if self.params.wall > thin:
            candidates.append(Remedy("wall", thin, f"walls of {thin:g} mm beside the board"))
        if self.part.name != "radio board":
            candidates.append(Remedy("part", "radio board", "take a smaller board"))
        return (
            Finding(
                "error", "board-too-wide", self.ctx.name, message, numbers,
                candidates=tuple(candidates), blocks_solids=True,
            ),
        )  # fmt: skip

    def chord(self, height: float) -> float:
        return max(0.0, 2 * _half_chord(self.radius, height))

    def ledge_findings(self) -> tuple[Finding, ...]:
        ledge = (self.part.size("width") - self.fitted.room_width.total) / 2
        if (ledge >= LEAST_LEDGE and self.fitted.room_width.total > 1.0) or (
            self.params.hold == "standoffs" and self.hole_places()
        ):
            return ()
        message = (
            f"ledges of {ledge:.2f} mm under {self.part.name} "
            f"(room {self.fitted.room_width.total:.2f} mm wide); at least {LEAST_LEDGE:g} mm "
            f"and a room over 1 mm are wanted"
        )
        numbers = {"ledge": ledge, "wanted": LEAST_LEDGE}
        remedy = Remedy("ledge", 1.5, "ledges of 1.5 mm")
        return (
            Finding(
                "error",
                "ledge-narrow",
                self.ctx.name,
                message,
                numbers,
                candidates=(remedy,),
                blocks_solids=True,
            ),
        )

    def lip_findings(self) -> tuple[Finding, ...]:
        if self.params.hold != "edge_grooves":
            return ()
        found = []
        over = self.lip - self.fitted.gap
        if over < LEAST_LIP:
            message = (
                f"the lip would cover {over:.2f} mm of {self.part.name} before it meets components; "
                f"{LEAST_LIP:g} mm are wanted"
            )
            remedy = Remedy("hold", "ledges", "hold the board with tape alone")
            numbers = {"lip": over, "wanted": LEAST_LIP}
            found.append(
                Finding(
                    "error",
                    "lip-short",
                    self.ctx.name,
                    message,
                    numbers,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
        if self.ends.open_room and self.params.front == "far":
            message = f"{self.part.name} has no stop at its far end, so that no lip can reach over it"
            remedy = Remedy("front", "near", "turn the board round")
            found.append(
                Finding(
                    "error",
                    "lip-at-antenna",
                    self.ctx.name,
                    message,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
        left = self.near - LIP_SLOPE * (self.radius - self.seat) - self.ctx.z0
        if left < self.ctx.setting.rules.least_wall:
            message = f"{left:.2f} mm of the near end wall are left where the board tilts out"
            more = math.ceil((self.params.end_wall + self.ctx.setting.rules.least_wall - left) * 10) / 10
            remedy = Remedy("end_wall", more, f"an end wall of {more:g} mm")
            numbers = {"left": left, "wanted": self.ctx.setting.rules.least_wall}
            found.append(
                Finding(
                    "error",
                    "end-wall-thin",
                    self.ctx.name,
                    message,
                    numbers,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
        return tuple(found)

    def post_findings(self) -> tuple[Finding, ...]:
        if self.params.hold != "standoffs" or not self.hole_places():
            return ()
        free = self.free_margin() - self.post_radius()
        if free >= 0:
            return ()
        message = (
            f"posts at the holes of {self.part.name} would run {-free:.2f} mm into what stands out below it"
        )
        remedy = Remedy("hold", "ledges", "rest the board on ledges")
        return (
            Finding(
                "error", "post-in-components", self.ctx.name, message, {"overlap": -free},
                candidates=(remedy,), blocks_solids=True,
            ),
        )  # fmt: skip

    def tape_findings(self) -> tuple[Finding, ...]:
        bands = self.bands()
        if not bands:
            return ()
        found = []
        low, high = min(b.z0 for b in bands), max(b.z1 for b in bands)
        spare = min(low - self.ctx.z0, self.ctx.z1 - high)
        apart = min((b.z0 - a.z1 for a, b in pairwise(bands)), default=math.inf)
        if min(spare, apart) < self.ctx.setting.rules.least_wall:
            message = (
                f"{len(bands)} tape recesses of {bands[0].width.total:.2f} mm do not fit on a tray of "
                f"{self.ctx.length:.2f} mm"
            )
            fewer = Remedy("tape_bands", 1, "one band of tape")
            least = max(3.0, math.floor(self.fitted.length.total / 2))
            narrow = Remedy("tape.width", least, f"tape {least:g} mm wide")
            candidates = (fewer,) if len(bands) > 1 else (narrow,)
            numbers = {"spare": spare, "length": self.ctx.length}
            found.append(
                Finding(
                    "error",
                    "tape-too-wide",
                    self.ctx.name,
                    message,
                    numbers,
                    candidates=candidates,
                    blocks_solids=True,
                )
            )
        left = self.params.wall - bands[0].depth.total
        if left < self.ctx.setting.rules.least_wall:
            more = math.ceil((self.ctx.setting.rules.least_wall + bands[0].depth.total) * 10) / 10
            message = f"under the tape {left:.2f} mm of the tray's wall are left"
            remedy = Remedy("wall", more, f"walls of {more:g} mm")
            numbers = {"left": left, "wanted": self.ctx.setting.rules.least_wall}
            found.append(
                Finding(
                    "error",
                    "tape-too-deep",
                    self.ctx.name,
                    message,
                    numbers,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
        return tuple(found)

    def card_findings(self) -> tuple[Finding, ...]:
        if self.params.card != "closed" or not any(k.name == "card slot" for k in self.part.keepouts):
            return ()
        message = f"the card of {self.part.name} can only be changed with the board taken out"
        return (
            Finding(
                "note", "card-closed", self.ctx.name, message, candidates=(Remedy("card", "room", "room"),)
            ),
        )

    def plan(self, length: Dimension) -> SectionPlan:
        p, ctx, fitter = self.params, self.ctx, self.ctx.setting.fitter
        findings, peg = self.findings(), self.peg()
        blocked = any(f.blocks_solids for f in findings)
        tape = p.tape
        detail = BoardTrayPlan(
            length=length,
            end_wall=fitter.chosen(f"{ctx.name}.end_wall", p.end_wall, "thickness of each end wall"),
            pocket_width=self.fitted.width,
            pocket_length=self.fitted.length,
            seat_height=self.seat_height,
            room_below=self.fitted.below,
            room_width=self.fitted.room_width,
            wall=fitter.chosen(f"{ctx.name}.wall", p.wall, "least material beside the pocket"),
            lip=fitter.chosen(
                f"{ctx.name}.lip", self.lip, "lip over the board's far edge, and the gap before it"
            )
            if p.hold == "edge_grooves"
            else None,
            peg_diameter=peg,
            tape=self.bands(),
            tape_depth=tape_depth(fitter, f"{ctx.name}.tape_depth", tape) if tape else None,
            tape_width=tape_width(fitter, f"{ctx.name}.tape_width", tape) if tape else None,
            near=self.near,
            far=self.far,
            rim=self.rim,
            cutters=() if blocked else self.cutters(),
            posts=() if blocked else self.posts(peg),
            reliefs=() if blocked else self.reliefs(),
        )
        hardware = (
            (Hardware(f"tape {tape.width:g} mm wide, {tape.layers} turns", p.tape_bands, ctx.name),)
            if tape
            else ()
        )
        here = margins(p, self.fitted, self.radius, self.seat)
        return SectionPlan(
            kind="board_tray",
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            parts=(self.placed(),),
            fits=self.fits(),
            obstacles=self.obstacles(),
            terminals=self.terminals(),
            galleries=self.galleries(),
            hardware=hardware,
            findings=findings,
            features={"board middle": ((0.0, 0.0, self.middle), self.top.y_axis)},
            facts={"board_side_margin_mm": here.least, "floor_thickness_mm": self.radius + self.floor},
            cautions=self.part.cautions,
            openings=(ctx.opening.name,) if ctx.opening else (),
        )


KIND = BoardTray()
