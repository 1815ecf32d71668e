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
from typing import ClassVar

from chassis_gen.parts.model import Part
from chassis_gen.plan.model import (
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
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.display_window_findings import findings
from chassis_gen.sections.display_window_layout import (
    board_frame,
    face_height,
    laid_out,
    middle_of,
    top_of,
    view_station,
    visible_share,
)
from chassis_gen.sections.display_window_model import (
    SEAT_FIT,
    DisplayWindowParams,
    DisplayWindowPlan,
    screen_of,
)
from chassis_gen.sections.display_window_solids import bezel_piece, window_steps
from chassis_gen.sections.display_window_sums import section_length, view_offset
from chassis_gen.sections.features.carrier import carrier_fit
from chassis_gen.sections.features.head_screw import screw_obstacle
from chassis_gen.sections.features.seat import seat_fit
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.shapes.frame import Frame, Vec3, negated, shifted
from chassis_gen.shapes.recipe import Step


class DisplayWindow(SectionKind):
    """A screen behind an opening."""

    kind: ClassVar[str] = "display_window"
    title: ClassVar[str] = "small screen board behind an opening of the tube, under a bezel"
    Params: ClassVar[type[SectionParams]] = DisplayWindowParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: DisplayWindowParams, setting: Setting) -> Dimension:
        """Return the board's seat, the bezel's screw lands and two end walls.

        Raises:
            InputError: the part or the thread is unknown, or the part is no screen.
        """
        return section_length(params, setting)

    def pin_offset(self, params: DisplayWindowParams, setting: Setting) -> float:
        """Return the distance of the picture's middle from the near end, mm."""
        return view_offset(params, setting)

    def plan(self, params: DisplayWindowParams, ctx: SectionContext) -> SectionPlan:
        """Return the screen in its seat, the bezel, and what hides the picture.

        Raises:
            InputError: the part or the thread is unknown, or the part is no screen.
        """
        part = screen_of(params, ctx.setting)
        d = laid_out(params, ctx, part)
        placed = _placed(ctx, part, d)
        visible = visible_share(d, ctx)
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=(placed,),
            fits=_fits(ctx, d, placed),
            holes=d.bezel.screws if d.bezel else (),
            obstacles=_obstacles(ctx, d),
            terminals=_terminals(ctx, d, placed),
            extra_pieces=(bezel_piece(d.bezel, d, ctx),) if d.bezel else (),
            hardware=_hardware(ctx, d),
            findings=findings(params, ctx, part, d, visible),
            features=_bezel_axis(d, ctx),
            facts={
                "picture_below_outer_face_mm": ctx.tube_outer_radius - face_height(d, part),
                **({"visible_share": visible} if visible is not None else {}),
            },
            cautions=tuple(dict.fromkeys((*part.cautions, *(("drilling",) if ctx.opening else ())))),
            openings=(ctx.opening.name,) if ctx.opening else (),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar with the board's pocket, its relief, the cable slot and the bezel's bay cut."""
        d = plan.detail
        assert isinstance(d, DisplayWindowPlan)
        return window_steps(d, ctx)


def _bezel_axis(d: DisplayWindowPlan, ctx: SectionContext) -> dict[str, tuple[Vec3, Vec3]]:
    """Return the axis of the bezel's window; without a bezel no bore stands round the picture's middle."""
    return {"picture axis": ((0.0, 0.0, view_station(d, ctx)), top_of(ctx).y_axis)} if d.bezel else {}


def _placed(ctx: SectionContext, part: Part, d: DisplayWindowPlan) -> PlacedPart:
    top = board_frame(ctx, d)
    # The board's y runs along the tube, its z to the section's top.
    frame = top @ shifted(0.0, d.seat_height) @ Frame((0, 0, 0), (-1, 0, 0), (0, 0, 1), (0, 1, 0))
    across = (d.seat_width.total - part.size("width")) / 2
    along = (d.seat_length.total - part.size("length")) / 2
    up = d.bezel.under - face_height(d, part) if d.bezel else None
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
    fitter, x, z = ctx.setting.fitter, top_of(ctx).x_axis, top_of(ctx).z_axis
    found = [
        seat_fit(fitter, d.seat_width, placed, SEAT_FIT, x),
        seat_fit(fitter, d.seat_length, placed, SEAT_FIT, z),
    ]
    if d.bezel:
        end = middle_of(ctx) + d.bezel.length.total / 2
        found.append(carrier_fit(ctx, f"{ctx.name} bezel", d.bezel.length, end - 0.2, end + 0.6))
    return tuple(found)


def _terminals(ctx: SectionContext, d: DisplayWindowPlan, placed: PlacedPart) -> tuple[PlacedTerminal, ...]:
    """Return the joints in the cable slot; wires leave sideways under the seat's walls."""
    low = d.seat_height - d.slot[2] + 1.0
    top = ctx.clock_deg
    exits = ((top + 60.0, top + 120.0), (top - 120.0, top - 60.0))
    found = []
    for t in placed.part.terminals:
        spot = placed.frame.point((t.position[0], t.position[1], low - d.seat_height))
        id = f"{ctx.name}.{t.name}"
        found.append(PlacedTerminal(id, spot, exits, t.largest_wire_diameter, t.must_connect))
    return tuple(found)


def _obstacles(ctx: SectionContext, d: DisplayWindowPlan) -> tuple[Obstacle, ...]:
    """Return the pocket with what lies under it, the mouth toward the top, and the bezel's bay and screws."""
    top, mid, r = ctx.clock_deg, middle_of(ctx), ctx.radius
    margin = math.degrees(ctx.setting.rules.least_wall / r)
    x, z = d.seat_width.total / 2, d.seat_length.total / 2
    a, b, depth = d.slot
    slot = (mid - b, mid - a) if d.turned else (mid + a, mid + b)
    corner = half_chord(r, x)
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
        held = (h for h in d.bezel.screws if h.piece == ctx.piece)
        found += [screw_obstacle(h, d.bezel.under, top, "bezel screw") for h in held]
    return tuple(found)


def _hardware(ctx: SectionContext, d: DisplayWindowPlan) -> tuple[Hardware, ...]:
    if d.bezel is None:
        return ()
    through, held = d.bezel.screws[0], d.bezel.screws[-1]
    length = math.ceil(through.depth + held.engagement)
    return (Hardware(f"screw {held.thread} x {length} for plastic", 2, f"{ctx.name}: holds the bezel"),)


KIND = DisplayWindow()
