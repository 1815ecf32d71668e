"""Lid: a stretch of the chassis's outer surface as a piece of its own, and the rebate that it lies in.

Origin and axes: the lid's frame, +y to its middle, +z (here s) along the tube from the end where it hooks in.
The lid's sides stand upright beside that middle, so it lifts straight out; its underside is round about the tube.

          _______          seen along the tube: the lid lies on a round seat between two upright walls
       .-'  lid  '-.
      |.-'  seat '-.|
      |             |
"""

from __future__ import annotations

from msgspec import Struct

from chassis_gen.plan.model import OVERLAP, ExtraPiece
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.screw_hole import ShapedHole, hole_cuts, hole_cutters
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.shapes.frame import Frame, Vec3, clocked
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, Ring, TubeSegment, Within
from chassis_gen.shapes.recipe import Step, add, cut

END_RELIEF = 0.5
"""Depth and reach of the undercut under the lid's free end, so that it never rides on a printed radius, mm."""
SIDE_REST = 1.5
"""How far a frame reaches under the lid's sides, mm: common practice, no source."""
FRAME_BELOW = 0.8
"""How much deeper than its wall a frame's sides go, for what is cut below the seat, mm (chosen)."""
BAY_REST = 2.0
"""How far the lid's sides rest beside a bay of its own, mm (chosen)."""


class Hook(Struct, frozen=True):
    """A tongue at the lid's end and the slot that takes it, mm and degrees.

    Args:
        reach: how far the tongue reaches beyond the lid's end.
        tip_room: room before its tip.
        inner: radius of its underside.
        outer: radius of its top.
        floor: radius of the slot's floor.
        roof: radius of the slot's roof.
        half_angle: half the tongue's angle.
        slot_half_angle: half the slot's angle.
    """

    reach: float
    tip_room: float
    inner: float
    outer: float
    floor: float
    roof: float
    half_angle: float
    slot_half_angle: float


class Lid(Struct, frozen=True):
    """Where a lid and its rebate lie, mm; s runs along `frame`.

    Args:
        frame: the lid's frame.
        length: of the section.
        begin: s where the rebate begins.
        end: s where the rebate ends.
        e0: s where the lid begins, its hook left out.
        e1: s where the lid ends.
        rebate_half: half the rebate's width.
        half: half the lid's width.
        seat_radius: of the round seat.
        under_radius: of the lid's underside.
        open_from: s from which nothing need be solid under the lid.
        open_to: s up to which.
        hole_depth: of the deepest screw hole under the seat.
        wall: the wall of a frame.
        pry: how far a blade's slot reaches under the lid, before it, and below the seat; or None.
        framed: True when the lid brings a frame.
        holes: the screws' holes, through the lid and in what holds them.
        hook: or None.
    """

    frame: Frame
    length: float
    begin: float
    end: float
    e0: float
    e1: float
    rebate_half: float
    half: float
    seat_radius: float
    under_radius: float
    open_from: float
    open_to: float
    hole_depth: float
    wall: float
    pry: tuple[float, float, float] | None
    framed: bool
    holes: tuple[ShapedHole, ...]
    hook: Hook | None

    @property
    def bay_half(self) -> float:
        """Return half the width of a bay of the lid's own, mm."""
        return max(1.0, self.half - BAY_REST)

    def stations(self, a: float, b: float) -> tuple[float, float]:
        """Return the stations of a stretch along the lid's frame, mm."""
        low, high = sorted((self.frame.point((0, 0, a))[2], self.frame.point((0, 0, b))[2]))
        return low, high

    def box(self, half: float, low: float, high: float, a: float, b: float) -> Box:
        """Return a block about the lid's middle: half its width, heights and s from a to b, mm."""
        return Box((-half, low, a), (half, high, b), self.frame)

    def outside(self, radius: float, box: Box, top: float) -> Primitive:
        """Return what of a block lies outside a radius about the tube's axis, mm."""
        low, high = self.stations(box.low[2] - 1.0, box.high[2] + 1.0)
        return Within(box, Ring(radius, 2 * top, low, high))

    def segment(self, inner: float, outer: float, half_angle: float, a: float, b: float) -> TubeSegment:
        """Return a piece of a ring about the tube's axis in the lid's middle, s from a to b, mm and degrees."""
        return TubeSegment(inner, outer, a, b, 90.0 - half_angle, 90.0 + half_angle, self.frame)


def _top(ctx: SectionContext) -> float:
    return ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0


def bay_cuts(lid: Lid) -> tuple[Step, ...]:
    """Return the bay under a lid that stands in a section of its own.

    Args:
        lid: the lid.
    """
    room = lid.box(lid.bay_half, 0.0, lid.seat_radius + 1.0, lid.open_from, lid.open_to)
    return cut("bay under the lid", room)


def host_cuts(lid: Lid, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the rebate with its relief, the hook's slot, the slot for a blade and the screws' holes.

    Args:
        lid: the lid.
        ctx: the section.
    """
    top, half = _top(ctx), lid.rebate_half
    rebate = lid.outside(lid.seat_radius, lid.box(half, 0.0, top, lid.begin, lid.end), top)
    relief_box = lid.box(half, 0.0, lid.seat_radius + 1.0, lid.e1 - END_RELIEF, lid.end)
    relief = lid.outside(lid.seat_radius - END_RELIEF, relief_box, top)
    steps = [*cut("rebate of the lid", rebate), *cut("relief under the lid's end", relief, must_touch=False)]
    if lid.hook:
        h = lid.hook
        a, b = lid.e0 - h.reach - h.tip_room, lid.begin + OVERLAP
        slot = lid.segment(h.floor, h.roof, h.slot_half_angle, a, b)
        steps += cut("slot of the hook", slot, must_touch=False)
    if lid.pry:
        under, before, depth = lid.pry
        end = max(lid.e1 + before, lid.end + OVERLAP)
        blade = lid.box(min(4.0, lid.half - 1.0), lid.seat_radius - depth, top, lid.e1 - under, end)
        steps += cut("slot for a blade", blade, must_touch=False)
    own = [h for h in lid.holes if h.piece == ctx.piece]
    return (*steps, *(s for h in own for s in cut("screw of the lid", *hole_cutters(h), must_touch=False)))


def frame_steps(lid: Lid, ctx: SectionContext) -> tuple[Step, ...]:
    """Return a frame round the opening under the lid, for a host that is hollow there.

    Args:
        lid: the lid.
        ctx: the section.
    """
    wide = lid.rebate_half + lid.wall
    near, far = (ctx.joined_near, ctx.joined_far)
    if lid.frame.z_axis[2] < 0.0:
        near, far = far, near
    a, b = (-OVERLAP if near else 0.0), lid.length + (OVERLAP if far else 0.0)
    ends = lid.seat_radius - lid.hole_depth - lid.wall
    sides = lid.seat_radius - lid.wall
    inner = lid.rebate_half - SIDE_REST
    # Nothing is wanted below the seat's outermost edge.
    edge = half_chord(lid.seat_radius, lid.rebate_half)
    low = max(0.0, edge - FRAME_BELOW - lid.wall)
    blocks = [
        (lid.box(wide, low, _top(ctx), a, lid.open_from), sides if lid.hook else ends),
        (lid.box(wide, low, _top(ctx), lid.open_to, b), ends),
        (Box((inner, low, a), (wide, _top(ctx), b), lid.frame), sides),
        (Box((-wide, low, a), (-inner, _top(ctx), b), lid.frame), sides),
    ]
    # What stands in the opening would be left as a sliver under the rebate.
    opening = lid.box(inner, 0.0, _top(ctx), lid.open_from, lid.open_to)
    return cut("opening under the lid", opening, must_touch=False) + tuple(
        step
        for box, radius in blocks
        for bar in ctx.body(*lid.stations(box.low[2], box.high[2]))
        for step in add("frame of the lid", Within(bar, lid.outside(radius, box, _top(ctx))))
    )


def lid_piece(lid: Lid, ctx: SectionContext) -> ExtraPiece:
    """Return the lid as assembled; its outside is the chassis's own.

    Args:
        lid: the lid.
        ctx: the section.
    """
    name, top = f"{ctx.name} lid", _top(ctx)
    y = ctx.top.y_axis
    inward: Vec3 = (-y[0], -y[1], 0.0)
    keep = lid.box(lid.half, 0.0, top, lid.e0, lid.e1)
    low, high = lid.stations(lid.e0, lid.e1)
    steps = [*add("lid", *(Within(bar, keep) for bar in ctx.bars_about(low, high)))]
    steps += cut("underside of the lid", Cylinder(lid.under_radius, low - 1.0, high + 1.0))
    if lid.hook:
        h = lid.hook
        tongue = lid.segment(h.inner, h.outer, h.half_angle, lid.e0 - h.reach, lid.e0 + OVERLAP)
        steps += add("hook", tongue)
    steps += hole_cuts("screw through the lid", lid.holes, name)
    steps += _flat(ctx, low, high)
    return ExtraPiece(name, tuple(steps), inward, (ctx.piece,))


def _flat(ctx: SectionContext, low: float, high: float) -> tuple[Step, ...]:
    """Return the cut that keeps a lid within the chassis's printing flat."""
    if ctx.outer.flat_distance is None:
        return ()
    wide = 2 * _top(ctx)
    box = Box(
        (ctx.outer.flat_distance, -wide, low - 1.0), (wide, wide, high + 1.0), clocked(ctx.outer.flat_clock)
    )
    return cut("printing flat", box, must_touch=False)
