"""Display window: a small screen board behind an opening of the tube.

Origin and axes: the tube's; the board lies along the axis at the section's clock, its picture outward. It goes
in from outside; a bezel, a piece of its own, holds it down.

       ___bezel____[ picture ]____bezel____
      |  o   |__________________|    o     |    o: screw that forms its thread
      |      |===board=====|pins|          |
      |      |__relief__|cable slot|       |
"""

from __future__ import annotations

import math
from typing import ClassVar, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import PositiveLength
from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import (
    OVERLAP,
    ExtraPiece,
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
from chassis_gen.plan.sums import WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.carrier import carrier_block, carrier_fit
from chassis_gen.sections.features.part_choice import part_of_kind
from chassis_gen.sections.features.screw_hole import Counterbore, ShapedHole, hole_cuts, plan_hole
from chassis_gen.sections.features.seat import seat_fit
from chassis_gen.shapes.frame import Frame, negated, radial, reversed_axis, shifted, topped
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Step, cut
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread

SEAT_FIT = "slide"
COVER = 0.3
"""How far everything stays under the chassis's outer surface, mm (chosen)."""
REST = 1.5
"""Width of the ledges beside the board that the bezel rests on, mm (chosen)."""
CORNER_RELIEF = 0.5
"""Depth of the undercut along the bay's edges, so that the bezel never rides on a printed radius, mm."""
VIEW_MARGIN = 0.5
"""Room round the picture in the bezel, mm per side (chosen)."""
END_REST = 0.5
"""How much of the board's end still rests beside the cable slot, mm (chosen)."""
PIN_ROOM = 1.0
"""Room round joints in the cable slot, mm: common practice, no source."""
HEAD_DIAMETERS = 2.0
"""Width of a pan head in screw diameters: common practice, no source."""
_SOURCE = "parameter file or its default"


class DisplayWindowParams(SectionParams):
    """Keys of a display window."""

    kind: Literal["display_window"] = "display_window"
    part: str = Field("display 12 mm", min_length=1, max_length=60, description="the screen board")
    bezel: bool = Field(True, description="a bezel with two screws holds the board; without it glue or tape")
    bezel_edge: PositiveLength = Field(1.0, description="thickness of the bezel at its long sides")
    bezel_thread: str = Field(
        "M2", min_length=1, max_length=20, description="thread of the bezel's screws, formed in the plastic"
    )
    turned: bool = Field(False, description="joints toward the far end instead of the near end")
    cable_slot: PositiveLength = Field(3.0, description="depth of the slot under the joints for their wires")
    end_wall: PositiveLength = Field(2.4, description="thickness of each end wall")


class Bezel(Struct, frozen=True):
    """The bezel, mm.

    Args:
        bay_length: of the bay that takes it, along the axis.
        length: of the bezel.
        bay_width: of the bay, across.
        width: of the bezel.
        under: its underside's height over the axis.
        screws: ways through the bezel, then the holes that hold the screws.
    """

    bay_length: Dimension
    length: Dimension
    bay_width: Dimension
    width: Dimension
    under: float
    screws: tuple[ShapedHole, ...]


class DisplayWindowPlan(Struct, frozen=True):
    """What a display window decides; heights over the axis toward the section's top, mm.

    Args:
        length: of the section.
        seat_width: of the pocket, across.
        seat_length: of the pocket, along.
        seat_height: of the board's underside.
        relief: depth of the pocket under the board's middle.
        relief_margin: ledge that bears the board's edge.
        slot: of the cable slot: where it begins and ends along the board from its middle, and its depth.
        view: picture's width, length and how far its middle lies from the section's middle.
        turned: True when the joints lie toward the far end.
        bezel: or None.
    """

    length: Dimension
    seat_width: Dimension
    seat_length: Dimension
    seat_height: float
    relief: float
    relief_margin: float
    slot: tuple[float, float, float]
    view: tuple[float, float, float]
    turned: bool
    bezel: Bezel | None


class DisplayWindow(SectionKind):
    """A screen behind an opening."""

    kind: ClassVar[str] = "display_window"
    title: ClassVar[str] = "small screen board behind an opening of the tube, under a bezel"
    Params: ClassVar[type[SectionParams]] = DisplayWindowParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return the board's seat, the bezel's screw lands and two end walls.

        Raises:
            InputError: the part or the thread is unknown, or the part is no screen.
        """
        assert isinstance(params, DisplayWindowParams)
        seat = _seat_length(params, _screen(params, setting), setting.fitter)
        terms = (
            *seat.terms,
            *_land_terms(params),
            Term(WALL, 2 * params.end_wall, f"two end walls: {_SOURCE}"),
        )
        return setting.fitter.summed(f"{params.name}.length", terms, "length along the axis")

    def pin_offset(self, params: SectionParams, setting: Setting) -> float:
        """Return the distance of the picture's middle from the near end, mm."""
        assert isinstance(params, DisplayWindowParams)
        length = self.length(params, setting)
        assert length is not None
        return on_grid(length.total / 2 + _view_shift(params, _screen(params, setting)))

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the screen in its seat, the bezel, and what hides the picture.

        Raises:
            InputError: the part or the thread is unknown, or the part is no screen.
        """
        assert isinstance(params, DisplayWindowParams)
        part = _screen(params, ctx.setting)
        d = _detail(params, ctx, part)
        placed = _placed(ctx, part, d)
        visible = _visible_share(d, ctx)
        screws = d.bezel.screws if d.bezel else ()
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=(placed,),
            fits=_fits(ctx, d, placed),
            holes=screws,
            obstacles=_obstacles(ctx, d),
            terminals=_terminals(ctx, d, placed),
            extra_pieces=_bezel_piece(ctx, d),
            hardware=_hardware(ctx, d),
            findings=_findings(params, ctx, part, d, visible),
            features={"picture axis": ((0.0, 0.0, _view_station(d, ctx)), _top(ctx).y_axis)},
            facts={
                "picture_below_outer_face_mm": ctx.tube_outer_radius - _face(part, d),
                **({"visible_share": visible} if visible is not None else {}),
            },
            cautions=tuple(dict.fromkeys((*part.cautions, *(("drilling",) if ctx.opening else ())))),
            openings=(ctx.opening.name,) if ctx.opening else (),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with the board's pocket, its relief, the cable slot and the bezel's bay cut."""
        d = plan.detail
        assert isinstance(d, DisplayWindowPlan)
        big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
        x, z = d.seat_width.total / 2, d.seat_length.total / 2
        low, m = d.seat_height, d.relief_margin
        a, b, depth = d.slot
        top = _board_frame(ctx, d)
        steps = [
            *ctx.shell(),
            *cut("screen's seat", Box((-x, low, -z), (x, big, z), top)),
            *cut("cable slot", Box((-x + m, low - depth, a), (x - m, low + OVERLAP, b), top)),
        ]
        if d.relief > 0.0:
            relief = Box((-x + m, low - d.relief, -z + m), (x - m, low + OVERLAP, z - m), top)
            steps += cut("relief under the board", relief, must_touch=False)
        if d.bezel:
            steps += _bay_cuts(d.bezel, ctx)
        return tuple(steps)


# sums -----------------------------------------------------------------------------------------------------


def _screen(params: DisplayWindowParams, setting: Setting) -> Part:
    return part_of_kind(setting, params.part, ("display_board",), "screen", "a display_board")


def _seat_length(params: DisplayWindowParams, part: Part, fitter: Fitter) -> Dimension:
    name = f"{params.name}.seat_length"
    return fitter.inner(name, part.sizes["length"], SEAT_FIT, "pocket for the board, along", part.name)


def _land(params: DisplayWindowParams) -> float:
    """Return the length at each end of the bezel that takes its screw, mm."""
    thread = find_thread(params.bezel_thread)
    spec = hole_for("thread_forming", thread)
    return max(HEAD_DIAMETERS * thread.major_diameter + 0.4, spec.diameter + spec.min_wall) + 2.6


def _land_terms(params: DisplayWindowParams) -> tuple[Term, ...]:
    if not params.bezel:
        return ()
    return (Term("screw lands", 2 * _land(params), f"two {params.bezel_thread} screws of the bezel"),)


def _view_shift(params: DisplayWindowParams, part: Part) -> float:
    """Return how far the picture's middle lies beyond the board's, toward the far end, mm."""
    middle = part.size("view_inset") + part.size("view_length") / 2 - part.size("length") / 2
    return -middle if params.turned else middle


def _detail(params: DisplayWindowParams, ctx: SectionContext, part: Part) -> DisplayWindowPlan:
    fitter, name = ctx.setting.fitter, ctx.name
    width = fitter.inner(
        f"{name}.seat_width", part.sizes["width"], SEAT_FIT, "pocket for the board, across", part.name
    )
    length = _seat_length(params, part, fitter)
    edge = part.size("width") / 2 - part.size("margin_above")
    rim = width.total / 2 + REST if params.bezel else edge
    over = math.sqrt(max(0.0, ctx.radius**2 - rim**2))
    face = over - (params.bezel_edge if params.bezel else 0.0) - COVER
    seat = on_grid(face - _high(part))
    ys = [t.position[1] for t in part.terminals] or [-part.size("length") / 2 + 2 * PIN_ROOM]
    half = part.size("length") / 2
    joints = (
        max(-half + END_REST, min(ys) - PIN_ROOM - part.size("pin_diameter") / 2),
        max(ys) + PIN_ROOM + 1.0,
    )
    pins = part.size("pin_length") if part.has("pin_length") else 0.0
    margin = max(1.0, part.size("margin_below"))
    slot = (joints[0], joints[1], params.cable_slot + max(pins, part.size("height_below")))
    return DisplayWindowPlan(
        length=fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout"),
        seat_width=width,
        seat_length=length,
        seat_height=seat,
        relief=part.size("height_below") + (COVER if part.size("height_below") else 0.0),
        relief_margin=margin,
        slot=slot,
        view=(part.size("view_width"), part.size("view_length"), _view_shift(params, part)),
        turned=params.turned,
        bezel=_bezel(params, ctx, width, length, on_grid(face + COVER)) if params.bezel else None,
    )


def _high(part: Part) -> float:
    return part.size("thickness") + part.size("height_above")


def _face(part: Part, d: DisplayWindowPlan) -> float:
    return d.seat_height + _high(part)


def _seat_term(seat: Dimension) -> Term:
    # As drawn: the seat's own printer term must not count once more in what mates with the bay.
    return Term("seat", seat.total, f"{seat.name} as drawn")


def _bezel(
    params: DisplayWindowParams, ctx: SectionContext, across: Dimension, seat: Dimension, under: float
) -> Bezel:
    fitter, name = ctx.setting.fitter, ctx.name
    note = "bay that takes the bezel, along the axis"
    bay = fitter.summed(f"{name}.bezel_bay_length", (_seat_term(seat), *_land_terms(params)), note)
    length = fitter.mating(f"{name}.bezel_length", bay, SEAT_FIT, "bezel along the axis", outer=False)
    rest = Term(WALL, 2 * REST, "ledges on both sides: chosen")
    wide = fitter.summed(
        f"{name}.bezel_bay_width", (_seat_term(across), rest), "bay that takes the bezel, across"
    )
    width = fitter.mating(f"{name}.bezel_width", wide, SEAT_FIT, "bezel across", outer=False)
    at = (seat.total + bay.total) / 4
    holes = [_screw(params, ctx, under, tag, z) for tag, z in (("near", -at), ("far", at))]
    return Bezel(bay, length, wide, width, under, tuple(h for pair in zip(*holes, strict=True) for h in pair))


def _screw(
    params: DisplayWindowParams, ctx: SectionContext, under: float, tag: str, z: float
) -> tuple[ShapedHole, ShapedHole]:
    """Return the way through the bezel and the hole that holds the screw."""
    fitter, thread = ctx.setting.fitter, params.bezel_thread
    size = find_thread(thread).major_diameter
    id, station = f"{ctx.name}.bezel_{tag}", _middle(ctx) + z
    wide = fitter.hole(
        f"{id}_head_diameter",
        HEAD_DIAMETERS * size + 0.4,
        "two screw diameters wide: common practice, no source",
        "counterbore for the screw's head",
    )
    rim = math.sqrt(max(0.0, (ctx.radius - COVER) ** 2 - (wide.total / 2) ** 2))
    bears = max(rim - 0.7 * size, under + 0.8)
    mouth = Counterbore(wide, ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0 - bears)
    enters = reversed_axis(radial(ctx.clock_deg, station, bears))
    piece = f"{ctx.name} bezel"
    through = plan_hole(
        fitter, id, "clearance", thread, enters, bears - under, piece, counterbore=mouth, through=True
    )
    spec = hole_for("thread_forming", find_thread(thread))
    base = reversed_axis(radial(ctx.clock_deg, station, under))
    held = plan_hole(
        fitter, f"{id}_thread", "thread_forming", thread, base, spec.min_depth, ctx.piece,
        engagement=spec.min_engagement,
    )  # fmt: skip
    return through, held


# places ---------------------------------------------------------------------------------------------------


def _middle(ctx: SectionContext) -> float:
    return on_grid((ctx.z0 + ctx.z1) / 2)


def _top(ctx: SectionContext) -> Frame:
    """Return the frame in the section's middle, +y to its clock."""
    return topped(ctx.clock_deg, _middle(ctx))


def _board_frame(ctx: SectionContext, d: DisplayWindowPlan) -> Frame:
    """Return `_top`, turned about the top where the joints lie toward the far end."""
    return reversed_axis(_top(ctx)) if d.turned else _top(ctx)


def _view_station(d: DisplayWindowPlan, ctx: SectionContext) -> float:
    return _middle(ctx) + d.view[2]


def _placed(ctx: SectionContext, part: Part, d: DisplayWindowPlan) -> PlacedPart:
    top = _board_frame(ctx, d)
    # The board's y runs along the tube, its z to the section's top.
    frame = top @ shifted(0.0, d.seat_height) @ Frame((0, 0, 0), (-1, 0, 0), (0, 0, 1), (0, 1, 0))
    across = (d.seat_width.total - part.size("width")) / 2
    along = (d.seat_length.total - part.size("length")) / 2
    up = d.bezel.under - _face(part, d) if d.bezel else None
    plays = (
        Play(top.x_axis, across),
        Play(negated(top.x_axis), across),
        Play(top.z_axis, along),
        Play(negated(top.z_axis), along),
        Play(negated(top.y_axis), 0.0),
        Play(top.y_axis, up),
    )
    return PlacedPart(ctx.name, part, frame, ctx.name, ctx.piece, negated(top.y_axis), plays)


def _fits(ctx: SectionContext, d: DisplayWindowPlan, placed: PlacedPart) -> tuple[Fit, ...]:
    fitter, x, z = ctx.setting.fitter, _top(ctx).x_axis, _top(ctx).z_axis
    found = [
        seat_fit(fitter, d.seat_width, placed, SEAT_FIT, x),
        seat_fit(fitter, d.seat_length, placed, SEAT_FIT, z),
    ]
    if d.bezel:
        end = _middle(ctx) + d.bezel.length.total / 2
        found.append(carrier_fit(ctx, f"{ctx.name} bezel", d.bezel.length, end - 0.2, end + 0.6))
    return tuple(found)


def _terminals(ctx: SectionContext, d: DisplayWindowPlan, placed: PlacedPart) -> tuple[PlacedTerminal, ...]:
    """Return the joints in the cable slot; wires leave sideways under the seat's walls."""
    low = d.seat_height - d.slot[2] + 1.0
    top = ctx.clock_deg
    exits = ((top + 60.0, top + 120.0), (top - 120.0, top - 60.0))
    found = []
    for t in placed.part.terminals:
        x, y, z = placed.frame.point((t.position[0], t.position[1], low - d.seat_height))
        id = f"{ctx.name}.{t.name}"
        found.append(PlacedTerminal(id, (x, y, z), exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)


def _obstacles(ctx: SectionContext, d: DisplayWindowPlan) -> tuple[Obstacle, ...]:
    """Return the pocket with what lies under it, the mouth toward the top, and the bezel's bay and screws."""
    top, mid, r = ctx.clock_deg, _middle(ctx), ctx.radius
    margin = math.degrees(ctx.setting.rules.least_wall / r)
    x, z = d.seat_width.total / 2, d.seat_length.total / 2
    a, b, depth = d.slot
    slot = (mid - b, mid - a) if d.turned else (mid + a, mid + b)
    corner = math.sqrt(max(0.0, r**2 - x**2))
    mouth = math.degrees(math.atan2(x, corner)) + margin
    m = x - d.relief_margin
    found = [
        Obstacle(Slab(-x, x, d.seat_height, corner, top), mid - z, mid + z, "screen's seat"),
        Obstacle(Slab(-m, m, d.seat_height - d.relief, d.seat_height, top), mid - z, mid + z, "relief"),
        Obstacle(Slab(-m, m, d.seat_height - depth, d.seat_height, top), *slot, "cable slot"),
        Obstacle(Sector(top - mouth, top + mouth), mid - z, mid + z, "screen's mouth"),
    ]
    if d.bezel:
        half = math.degrees(math.asin(min(1.0, d.bezel.bay_width.total / 2 / r))) + margin
        reach = d.bezel.bay_length.total / 2 + ctx.setting.rules.least_wall
        found.append(Obstacle(Sector(top - half, top + half), mid - reach, mid + reach, "bezel's bay"))
        for h in d.bezel.screws:
            if h.piece == ctx.piece:
                wide, s = h.diameter.total / 2 + h.least_wall, h.frame.origin[2]
                slab = Slab(-wide, wide, d.bezel.under - h.depth, d.bezel.under, top)
                found.append(Obstacle(slab, s - wide, s + wide, "bezel screw"))
    return tuple(found)


def _hardware(ctx: SectionContext, d: DisplayWindowPlan) -> tuple[Hardware, ...]:
    if d.bezel is None:
        return ()
    through, held = d.bezel.screws[0], d.bezel.screws[-1]
    length = math.ceil(through.depth + held.engagement)
    return (Hardware(f"screw {held.thread} x {length} for plastic", 2, f"{ctx.name}: holds the bezel"),)


# findings -------------------------------------------------------------------------------------------------


def _visible_share(d: DisplayWindowPlan, ctx: SectionContext) -> float | None:
    """Return the share of the picture that shows through the tube's opening, or None without one.

    Seen straight on: the rectangle's part inside the opening's circle, by strips (plane geometry).
    """
    if ctx.opening is None:
        return None
    width, length, _ = d.view
    off = ctx.opening.station - _view_station(d, ctx)
    r = ctx.opening.diameter / 2
    strips = 400
    seen = 0.0
    for k in range(strips):
        z = (k + 0.5) / strips * length - length / 2 - off
        chord = 2 * math.sqrt(max(0.0, r * r - z * z))
        seen += min(width, chord) / width / strips
    return seen


def _findings(
    params: DisplayWindowParams, ctx: SectionContext, part: Part, d: DisplayWindowPlan, visible: float | None
) -> tuple[Finding, ...]:
    return (*_room_findings(params, ctx, part, d), *_view_findings(ctx, d, visible))


def _room_findings(
    params: DisplayWindowParams, ctx: SectionContext, part: Part, d: DisplayWindowPlan
) -> tuple[Finding, ...]:
    least, found = ctx.setting.rules.least_wall, []
    x = (d.bezel.bay_width if d.bezel else d.seat_width).total / 2
    # The walls beside the board end at the bezel's underside, or at the board's top.
    level = d.bezel.under if d.bezel else d.seat_height + part.size("thickness")
    wall = math.sqrt(max(0.0, ctx.radius**2 - level**2)) - x
    if wall < least or level <= 0.0:
        message = (
            f"beside the board {max(wall, 0.0):.2f} mm of wall are left at its top, less than {least:g} mm"
        )
        numbers = {"wall": wall, "least_wall": least, "width": 2 * x, "chassis": 2 * ctx.radius}
        deeper = math.sqrt(max(0.0, ctx.radius**2 - (x + least) ** 2))
        more = math.ceil((params.bezel_edge + level - deeper) * 10) / 10
        fits = bool(d.bezel) and 0.0 < deeper < level and more <= ctx.radius / 2
        candidates = (Remedy("bezel_edge", more, f"bezel {more:g} mm thick over the screen"),) if fits else ()
        found.append(
            Finding(
                "error", "display-wide", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )
        )
    screws = [h for h in (d.bezel.screws if d.bezel else ()) if h.piece == ctx.piece]
    low = d.seat_height - max(d.slot[2], d.relief)
    if screws and d.bezel:
        low = min(low, d.bezel.under - screws[0].depth)
    left = low + ctx.radius
    if left < 4 * least:
        message = f"under the board's slot and screws {left:.2f} mm are left; {4 * least:g} mm are wanted"
        numbers = {"left": left, "wanted": 4 * least}
        found.append(Finding("error", "spine-thin", ctx.name, message, numbers, blocks_solids=True))
    return tuple(found)


def _view_findings(ctx: SectionContext, d: DisplayWindowPlan, visible: float | None) -> tuple[Finding, ...]:
    if ctx.opening is None or visible is None:
        message = "no opening of the tube shows this screen: at_opening names one"
        return (Finding("note", "display-covered", ctx.name, message),)
    needed = math.hypot(d.view[0], d.view[1])
    if visible >= 0.999:
        return ()
    message = (
        f"the opening {ctx.opening.name}, {ctx.opening.diameter:.2f} mm wide, shows {100 * visible:.0f} % of "
        f"the picture of {d.view[0]:g} x {d.view[1]:g} mm; all of it needs {needed:.2f} mm"
    )
    numbers = {"visible_share": visible, "opening": ctx.opening.diameter, "needed": needed}
    return (Finding("warning", "picture-hidden", ctx.name, message, numbers),)


# solids ---------------------------------------------------------------------------------------------------


def _bay_cuts(bezel: Bezel, ctx: SectionContext) -> tuple[Step, ...]:
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    half = bezel.bay_length.total / 2
    wide, low = bezel.bay_width.total / 2, bezel.under - CORNER_RELIEF
    edges = [
        Box((-wide, low, a), (wide, bezel.under + OVERLAP, b), _top(ctx))
        for a, b in ((-half, -half + CORNER_RELIEF), (half - CORNER_RELIEF, half))
    ]
    return (
        *cut("bezel's bay", Box((-wide, bezel.under, -half), (wide, big, half), _top(ctx))),
        *cut("corner relief", *edges),
        *hole_cuts("bezel screw", bezel.screws, ctx.piece),
    )


def _bezel_piece(ctx: SectionContext, d: DisplayWindowPlan) -> tuple[ExtraPiece, ...]:
    """Return the bezel as assembled: what the bay took away, less the view and the screws' ways."""
    bezel = d.bezel
    if bezel is None:
        return ()
    top = _top(ctx)
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    half = bezel.length.total / 2
    wide = bezel.width.total / 2
    keep = Box((-wide, bezel.under, -half), (wide, big, half), top)
    mid = _middle(ctx)
    w, n, shift = d.view[0] / 2 + VIEW_MARGIN, d.view[1] / 2 + VIEW_MARGIN, d.view[2]
    view = Box((-w, bezel.under - 1.0, shift - n), (w, big, shift + n), top)
    name = f"{ctx.name} bezel"
    steps = (
        *carrier_block("bezel", ctx, keep, mid - half - 0.5, mid + half + 0.5),
        *cut("view", view),
        *hole_cuts("bezel screw", bezel.screws, name),
    )
    return (ExtraPiece(name, steps, negated(top.y_axis), (ctx.piece,)),)


KIND = DisplayWindow()
