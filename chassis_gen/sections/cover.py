"""Cover: a lid over another section's open side, or over a small bay of its own.

Origin and axes: planned in the lid's frame. +y points to the section's clock, +z (here s) runs along the tube
from the end where the lid hooks in, or from the near end of a lid with screws alone; radii count from the axis.

         hook                                        screw
      ___   ______________________________________    o  _____
     |roof|_|                 lid                 |  |  | lip |     slot: finger or blade, and the way that
     |   ___|_____________________________________|__|__|     |     the lid slides to come off its hook
     |  |  rest |          open side           |  rest  |     |
     0 hook     e0                                      e1    length
"""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Literal

from msgspec import Struct
from msgspec.structs import replace
from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import PositiveLength, quantity
from chassis_gen.parts.model import Measure
from chassis_gen.plan.model import (
    Covering,
    Fit,
    GapProbe,
    Hardware,
    Obstacle,
    Rest,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.lid import (
    END_RELIEF,
    Hook,
    Lid,
    bay_cuts,
    frame_steps,
    host_cuts,
    lid_piece,
)
from chassis_gen.sections.features.screw_hole import Counterbore, ShapedHole, plan_hole
from chassis_gen.shapes.frame import Frame, radial, reversed_axis, topped
from chassis_gen.shapes.recipe import Step
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

LID_FIT = "slide"
UNDER_SURFACE = 0.3
"""How far a screw's head or end stays under the outer surface, mm (chosen)."""
HEAD_DIAMETERS = 2.0
HEAD_HEIGHT = 0.7
"""Width and height of a pan head in screw diameters: common practice, no source."""
HOOK_HALF_WIDTH = 5.0
"""Half the width of the hook, mm: it stays where the round surface is nearly flat (chosen)."""
HOOK_SIDE = 0.5
"""Room beside the hook and before its tip, mm (chosen)."""
HEAD_SPARE = 0.1
"""More than the least wall under a screw's head, mm (chosen)."""
SLIM_LID = 2.2
"""Thickness of a lid without a screw's head in it, mm: hook and roof of 0.9 with the hook's fit (chosen)."""
FLOOR_STEP = 0.1
"""How far the floor of the hook's slot lies below the seat, mm (chosen)."""
PRY_LENGTH = 1.2
PRY_UNDER = 0.5
PRY_DEPTH = 0.8
"""Slot for a blade: before the lid's end, under it, and how deep, mm: common practice, no source."""
LEAST_OPEN = 2.0
"""A lid that opens less than this along the axis is a mistake, mm (chosen)."""
_SOURCE = "parameter file or its default"


class CoverParams(SectionParams):
    """Keys of a cover."""

    kind: Literal["cover"] = "cover"
    hold: Literal["hook", "set_screw", "screws"] = Field(
        "hook",
        description="hook and a screw at the other end, hook and a set screw as a pin, or screws at both ends",
    )
    hook_end: Literal["near", "far"] = Field("near", description="end at which the lid hooks in")
    screw: Literal["thread_forming", "tapped", "insert"] = Field(
        "thread_forming", description="what holds the screws; a set screw's thread is tapped or an insert's"
    )
    thread: str | None = Field(
        None, min_length=1, max_length=20, description="of the screws; left out: M2, M3 for a set screw"
    )
    screws_per_end: int = Field(1, ge=1, le=2, description="screws at each end that has any")
    screw_offset_deg: Annotated[float, quantity("deg", -60, 60)] = Field(
        0.0, description="how far a screw stands from the lid's middle; a pair stands at both sides"
    )
    arc_deg: Annotated[float, quantity("deg", 20, 130)] = Field(
        90.0, description="how far round the chassis the lid reaches"
    )
    length: PositiveLength | None = Field(
        None,
        description="along the axis, its lips included; left out: as long as the section it stands beside",
    )
    thickness: PositiveLength | None = Field(
        None, description="of the lid; left out: what the screw's head or the hook needs"
    )
    lip: Annotated[float, quantity("mm", 0.8, 30)] = Field(
        1.6, description="what is left of the chassis between the lid and the section's end"
    )
    rest: Annotated[float, quantity("mm", 1, 30)] = Field(
        1.5, description="how far the lid's ends rest on the chassis"
    )
    hook_reach: Annotated[float, quantity("mm", 0.6, 5)] = Field(
        1.0, description="how far the hook reaches under the chassis"
    )
    pry_slot: bool = Field(True, description="a slot for a fingernail or blade at the lid's free end")
    frame: bool = Field(
        False, description="bring a frame for the lid to lie on, where the other section is hollow"
    )
    gives_access_to: tuple[Annotated[str, Field(min_length=1, max_length=120)], ...] = Field(
        (), max_length=16, description="what is reached with the lid off: keep-outs and terminals of parts"
    )


class CoverPlan(Struct, frozen=True):
    """What a cover decides, mm.

    Args:
        length: of the section.
        thickness: of the lid at the least outer radius.
        lid_inside_diameter: of the lid's underside.
        seat_diameter: of what the lid lies on.
        rebate_width: of the rebate, across.
        lid_width: of the lid.
        rebate_length: of the rebate, along the axis.
        lid_length: of the lid, its hook left out.
        lip: at the end of the screw, or at both ends.
        hook_lip: before the lid at the hook's end, or None.
        hook_height: thickness of the hook, or None.
        hook_slot_height: of the slot it goes into, or None.
        lid: the lid's places.
        gives_access_to: what it gives access to.
    """

    length: Dimension
    thickness: Dimension
    lid_inside_diameter: Dimension
    seat_diameter: Dimension
    rebate_width: Dimension
    lid_width: Dimension
    rebate_length: Dimension
    lid_length: Dimension
    lip: Dimension
    hook_lip: Dimension | None
    hook_height: Dimension | None
    hook_slot_height: Dimension | None
    lid: Lid
    gives_access_to: tuple[str, ...]


class Cover(SectionKind):
    """A lid."""

    kind: ClassVar[str] = "cover"
    title: ClassVar[str] = "lid over another section's open side or over a bay of its own"
    Params: ClassVar[type[SectionParams]] = CoverParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return the length as given, or None for all that the other section or the layout leaves."""
        assert isinstance(params, CoverParams)
        if params.length is None:
            return None
        return setting.fitter.chosen(f"{params.name}.length", params.length, "length along the axis")

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the lid in its rebate, what holds it, and what can't work.

        Raises:
            InputError: the thread is unknown, or has no such hole.
        """
        assert isinstance(params, CoverParams)
        d = _detail(params, ctx)
        findings = _findings(params, ctx, d)
        sound = not any(f.blocks_solids for f in findings)
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            fits=_fits(params, ctx, d) if sound else (),
            holes=d.lid.holes,
            obstacles=_obstacles(ctx, d),
            extra_pieces=(lid_piece(d.lid, ctx),) if sound else (),
            hardware=_hardware(params, ctx, d),
            findings=findings,
            facts=_facts(params, d),
            openings=(ctx.opening.name,) if ctx.opening else (),
            covering=_covering(params, ctx, d),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the rebate, the hook's slot and the screws' holes, in a frame of their own where asked."""
        d = plan.detail
        assert isinstance(d, CoverPlan)
        own = () if ctx.companion else bay_cuts(d.lid)
        frame = frame_steps(d.lid, ctx) if d.lid.framed else ()
        return (*ctx.shell(), *own, *frame, *host_cuts(d.lid, ctx))


# sums -----------------------------------------------------------------------------------------------------


def _hooked(params: CoverParams) -> bool:
    return params.hold != "screws"


def _thread(params: CoverParams) -> str:
    return params.thread or ("M3" if params.hold == "set_screw" else "M2")


def _spec(params: CoverParams) -> HoleSpec:
    kind = "set_screw" if params.hold == "set_screw" and params.screw != "insert" else params.screw
    return hole_for(kind, find_thread(_thread(params)))


def _head(params: CoverParams, ctx: SectionContext) -> Dimension | None:
    """Return the counterbore for a screw's head, or None for a set screw, which has none."""
    if params.hold == "set_screw":
        return None
    return ctx.setting.fitter.hole(
        f"{ctx.name}.head_diameter",
        HEAD_DIAMETERS * find_thread(_thread(params)).major_diameter + 0.4,
        "two screw diameters wide: common practice, no source",
        "counterbore for the screw's head",
    )


def _thickness(params: CoverParams, ctx: SectionContext, head: Dimension | None) -> Dimension:
    name, note, fitter = f"{ctx.name}.thickness", "thickness of the lid", ctx.setting.fitter
    if params.thickness is not None:
        return fitter.chosen(name, params.thickness, note)
    if head is None:
        return fitter.chosen(name, SLIM_LID, note, "hook and roof of 0.9 mm with the hook's fit: chosen")
    size = find_thread(_thread(params)).major_diameter
    least = max(ctx.setting.rules.least_wall, 0.4 * size)
    terms = (
        Term("head", HEAD_HEIGHT * size, "0.7 screw diameters high: common practice, no source"),
        Term("under the surface", UNDER_SURFACE, "so that the head never touches the tube: chosen"),
        Term("round surface", on_grid(ctx.radius - UNDER_SURFACE - _rim(ctx, head)), "falls beside the head"),
        Term(WALL, least + HEAD_SPARE, "under the head"),
    )
    return fitter.summed(name, terms, note)


def _rim(ctx: SectionContext, head: Dimension) -> float:
    """Return the height of the outer surface beside a screw's head, less what covers it, mm."""
    return math.sqrt(max(0.0, (ctx.radius - UNDER_SURFACE) ** 2 - (head.total / 2) ** 2))


def _detail(params: CoverParams, ctx: SectionContext) -> CoverPlan:
    fitter, name, r = ctx.setting.fitter, ctx.name, ctx.radius
    head = _head(params, ctx)
    thickness = _thickness(params, ctx, head)
    terms: tuple[Term, ...] = (
        Term("outer surface", 2 * r, "the chassis's least outer diameter here"),
        Term("lid", -2 * thickness.total, f"twice {thickness.name}"),
    )
    inside = fitter.summed(f"{name}.lid_inside_diameter", terms, "inside diameter of the lid")
    seat = fitter.mating(f"{name}.seat_diameter", inside, LID_FIT, "what the lid lies on", outer=False)
    chord = Term(
        "chord", 2 * r * math.sin(math.radians(params.arc_deg / 2)), f"of {params.arc_deg:g} degrees"
    )
    rebate_width = fitter.summed(f"{name}.rebate_width", (chord,), "rebate that takes the lid, across")
    width = fitter.mating(f"{name}.lid_width", rebate_width, LID_FIT, "lid across", outer=False)
    lip = fitter.chosen(f"{name}.lip", params.lip, "chassis between the lid and the section's end")
    hook_lip = _hook_lip(params, ctx) if _hooked(params) else None
    height = slot = None
    if hook_lip:
        clear = fitter.inner("hook", Measure(0.0), LID_FIT, "").total
        high = max(0.2, (thickness.total - clear) / 2)
        height = fitter.chosen(f"{name}.hook_height", on_grid(high), "thickness of the hook", "half the lid")
        made = Measure(height.total, 0.0, "hook as drawn")
        slot = fitter.inner(f"{name}.hook_slot_height", made, LID_FIT, "slot that takes the hook", "hook")
    at_hook = hook_lip or lip
    terms = (
        Term("section", ctx.length, f"{name}.length"),
        Term(WALL, -at_hook.total, at_hook.name),
        Term(WALL, -lip.total, lip.name),
    )
    rebate_length = fitter.summed(f"{name}.rebate_length", terms, "rebate that takes the lid, along the axis")
    room, way = rebate_length, 0.0
    if hook_lip:
        way = params.hook_reach
        slide = Term("slide", -way, "the lid slides this far to come off its hook")
        room = Dimension(f"{rebate_length.name} less the slide", (*rebate_length.terms, slide))
    length = fitter.mating(
        f"{name}.lid_length", room, LID_FIT, "lid along the axis, hook left out", outer=False
    )
    gap = (room.total - length.total) / 2
    e0 = on_grid(at_hook.total + gap)
    lid = _lid(
        params, ctx, head, _Sizes(inside, seat, rebate_width, width), (at_hook.total, e0, length.total)
    )
    return CoverPlan(
        length=fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout"),
        thickness=thickness,
        lid_inside_diameter=inside,
        seat_diameter=seat,
        rebate_width=rebate_width,
        lid_width=width,
        rebate_length=rebate_length,
        lid_length=length,
        lip=lip,
        hook_lip=hook_lip,
        hook_height=height,
        hook_slot_height=slot,
        lid=_with_hook(lid, params, ctx, height, slot),
        gives_access_to=params.gives_access_to,
    )


def _hook_lip(params: CoverParams, ctx: SectionContext) -> Dimension:
    """Return the stretch before the lid that roofs its hook, at least as long as the other lip."""
    least = ctx.setting.rules.least_wall
    terms = (
        Term("hook", params.hook_reach, f"hook_reach: {_SOURCE}"),
        Term("tip room", HOOK_SIDE, "before the hook's tip: chosen"),
        Term(WALL, max(least, params.lip - params.hook_reach - HOOK_SIDE), "behind the hook's slot"),
    )
    return ctx.setting.fitter.summed(f"{ctx.name}.hook_lip", terms, "chassis before the lid at its hook")


class _Sizes(Struct, frozen=True):
    """Sizes of lid and rebate in the cross-section."""

    inside: Dimension
    seat: Dimension
    rebate_width: Dimension
    width: Dimension


def _lid(
    params: CoverParams,
    ctx: SectionContext,
    head: Dimension | None,
    sizes: _Sizes,
    along: tuple[float, float, float],
) -> Lid:
    """Return the lid's places, its hook left out.

    Args:
        params: the cover's keys.
        ctx: where it stands.
        head: counterbore for the screws' heads.
        sizes: across.
        along: where the rebate begins, where the lid begins, the lid's length, mm along the lid's frame.
    """
    begin, e0, length = along
    flip = _hooked(params) and params.hook_end == "far"
    frame = reversed_axis(topped(ctx.clock_deg, ctx.z1)) if flip else topped(ctx.clock_deg, ctx.z0)
    e1 = on_grid(e0 + length)
    spec, least = _spec(params), ctx.setting.rules.least_wall
    hole = ctx.setting.fitter.hole("hole", spec.diameter, "", "").total / 2
    beside = max((head.total / 2 if head else 0.0) + least, PRY_UNDER + hole + spec.min_wall)
    spots = [e1 - beside] if _hooked(params) else [e0 + beside, e1 - beside]
    offsets = [params.screw_offset_deg]
    if params.screws_per_end == 2:
        offsets = [-abs(params.screw_offset_deg), abs(params.screw_offset_deg)]
    places = [(on_grid(s), o) for s in spots for o in offsets]
    holes: list[ShapedHole] = []
    for i, (s, offset) in enumerate(places):
        tag = f"_{i + 1}" if len(places) > 1 else ""
        holes += _screw(params, ctx, head, sizes, frame, s, offset, tag)
    deep = max(h.depth for h in holes if h.piece == ctx.piece)
    land = max(hole + spec.min_wall, params.rest)
    return Lid(
        frame=frame,
        length=ctx.length,
        begin=begin,
        end=on_grid(ctx.length - params.lip),
        e0=e0,
        e1=e1,
        rebate_half=sizes.rebate_width.total / 2,
        half=sizes.width.total / 2,
        seat_radius=sizes.seat.total / 2,
        under_radius=sizes.inside.total / 2,
        open_from=on_grid(e0 + params.rest if _hooked(params) else spots[0] + land),
        open_to=on_grid(spots[-1] - land),
        hole_depth=deep,
        wall=ctx.setting.rules.wall,
        pry=(PRY_UNDER, min(PRY_LENGTH, ctx.length - e1 - least), PRY_DEPTH) if params.pry_slot else None,
        framed=params.frame,
        holes=tuple(holes),
        hook=None,
    )


def _with_hook(
    lid: Lid, params: CoverParams, ctx: SectionContext, height: Dimension | None, slot: Dimension | None
) -> Lid:
    if height is None or slot is None:
        return lid
    half = max(1.0, min(HOOK_HALF_WIDTH, lid.half - 2.0))
    turn = math.degrees(math.asin(min(1.0, half / lid.under_radius)))
    side = math.degrees(HOOK_SIDE / lid.under_radius)
    hook = Hook(
        reach=params.hook_reach,
        tip_room=HOOK_SIDE,
        inner=lid.under_radius,
        outer=on_grid(lid.under_radius + height.total),
        # The floor lies below the seat, so that both never meet in one surface.
        floor=on_grid(min(lid.under_radius - (slot.total - height.total) / 2, lid.seat_radius) - FLOOR_STEP),
        roof=on_grid(lid.under_radius + (height.total + slot.total) / 2),
        half_angle=turn,
        slot_half_angle=turn + side,
    )
    return replace(lid, hook=hook)


def _screw(
    params: CoverParams,
    ctx: SectionContext,
    head: Dimension | None,
    sizes: _Sizes,
    frame: Frame,
    s: float,
    offset: float,
    tag: str,
) -> tuple[ShapedHole, ShapedHole]:
    """Return the way through the lid and the hole that holds the screw."""
    fitter, spec, thread = ctx.setting.fitter, _spec(params), _thread(params)
    station, clock = frame.point((0.0, 0.0, s))[2], ctx.clock_deg + offset
    under, seat = sizes.inside.total / 2, sizes.seat.total / 2
    top = ctx.outer.largest_radius(ctx.z0, ctx.z1)
    mouth, bears = None, top
    if head is not None:
        bears = max(_rim(ctx, head) - HEAD_HEIGHT * find_thread(thread).major_diameter, under + 0.3)
        mouth = Counterbore(head, top + 1.0 - bears)
    # The lid's round underside falls away beside the hole.
    way = hole_for("clearance", find_thread(thread)).diameter / 2 + 0.3
    fall = under - math.sqrt(max(0.0, under**2 - way**2))
    lid = plan_hole(
        fitter,
        f"{ctx.name}.lid_hole{tag}",
        "clearance",
        thread,
        reversed_axis(radial(clock, station, bears)),
        bears - under + fall,
        f"{ctx.name} lid",
        up=radial(clock, station).z_axis,
        counterbore=mouth,
        through=True,
    )
    depth, engagement = spec.min_depth, spec.min_engagement
    if head is None:
        held = _set_screw_length(params, ctx, seat) - _stands_out(ctx, seat)
        depth, engagement = max(depth, held + 0.5), held if spec.kind == "set_screw" else engagement
    base = reversed_axis(radial(clock, station, seat))
    own = plan_hole(
        fitter,
        f"{ctx.name}.screw_hole{tag}",
        spec.kind,
        thread,
        base,
        depth,
        ctx.piece,
        engagement=engagement,
    )
    return lid, own


def _stands_out(ctx: SectionContext, seat_radius: float) -> float:
    """Return how far a set screw stands out of its hole, into the lid's hole, mm."""
    return ctx.radius - UNDER_SURFACE - seat_radius


def _set_screw_length(params: CoverParams, ctx: SectionContext, seat_radius: float) -> float:
    """Return the shortest length in stock that holds and stands in the lid, mm."""
    wanted = _spec(params).min_engagement + _stands_out(ctx, seat_radius)
    stock = find_thread(_thread(params)).set_screw.lengths
    return min((x for x in stock if x >= wanted), default=math.ceil(wanted))


# places ---------------------------------------------------------------------------------------------------


def _half_angle(lid: Lid, ctx: SectionContext) -> float:
    """Return half the angle that the rebate takes of the outer surface, degrees."""
    return math.degrees(math.asin(min(1.0, lid.rebate_half / ctx.radius)))


def _obstacles(ctx: SectionContext, d: CoverPlan) -> tuple[Obstacle, ...]:
    """Return the lid's whole arc: neither rebate nor screws leave a groove any room; and the own bay."""
    lid, top = d.lid, ctx.clock_deg
    half = _half_angle(lid, ctx) + math.degrees(ctx.setting.rules.least_wall / ctx.radius)
    found = [Obstacle(Sector(top - half, top + half), ctx.z0, ctx.z1, "lid")]
    if not ctx.companion:
        x = lid.bay_half
        low, high = lid.stations(lid.open_from, lid.open_to)
        found.append(Obstacle(Slab(-x, x, 0.0, lid.seat_radius, top), low, high, "bay under the lid"))
    return tuple(found)


def _covering(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Covering:
    lid = d.lid
    z0, z1 = lid.stations(lid.e0, lid.e1)
    return Covering(
        clock_deg=ctx.clock_deg,
        half_width=lid.half,
        z0=z0,
        z1=z1,
        outer_radius=ctx.radius,
        under_radius=lid.under_radius,
        seat_radius=lid.seat_radius,
        gap=lid.under_radius - lid.seat_radius,
        framed=lid.framed,
        rests=_rests(params, ctx, lid),
        gives_access_to=params.gives_access_to,
    )


def _rests(params: CoverParams, ctx: SectionContext, lid: Lid) -> tuple[Rest, ...]:
    least, half = ctx.setting.rules.least_wall, _half_angle(lid, ctx)
    arc = (ctx.clock_deg - half, ctx.clock_deg + half)
    depth = PRY_DEPTH if lid.pry else END_RELIEF
    flip = lid.frame.z_axis[2] < 0.0
    ends = (
        (lid.stations(0.0, lid.e0 + params.rest), lid.seat_radius - least, flip, "end of the lid"),
        (
            lid.stations(lid.e1 - params.rest, lid.length),
            lid.seat_radius - depth - least,
            not flip,
            "end of the lid",
        ),
    )
    found = [Rest(*arc, z[0], z[1], r, far, what) for z, r, far, what in ends]
    for h in lid.holes:
        if h.piece != ctx.piece:
            continue
        wide = h.diameter.total / 2 + h.least_wall
        bottom = lid.seat_radius - h.depth - least
        turn = math.degrees(math.asin(min(1.0, wide / max(bottom, wide))))
        clock = math.degrees(math.atan2(h.frame.origin[1], h.frame.origin[0]))
        z = h.frame.origin[2]
        far = z > (ctx.z0 + ctx.z1) / 2
        found.append(Rest(clock - turn, clock + turn, z - wide, z + wide, bottom, far, "screw of the lid"))
    return tuple(found)


def _fits(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> tuple[Fit, ...]:
    """Return how the lid goes into its rebate, lies on its seat and hooks in.

    Each is measured where it is the smallest gap: across at the relief under the lid's end, on the seat where
    the lid rests, at the hook before the lid.
    """
    fitter, lid = ctx.setting.fitter, d.lid
    name = f"{ctx.name} lid"
    pair = (name, ctx.piece)

    def gap(a: float, b: float) -> GapProbe:
        return GapProbe(name, ctx.piece, *lid.stations(a, b))

    across = gap(lid.e1 - END_RELIEF + 0.05, lid.e1 - 0.05)
    seat = gap(lid.e0 + 0.1, lid.open_from - 0.1)
    found = [
        fitter.fit(d.lid_width, "lid in rebate", pair, LID_FIT, across, outer=True),
        fitter.fit(d.seat_diameter, "lid on seat", pair, LID_FIT, seat, outer=True),
    ]
    if d.hook_slot_height and lid.hook:
        hook = gap(lid.e0 - lid.hook.reach + 0.1, lid.begin - 0.1)
        found.append(fitter.fit(d.hook_slot_height, "hook in slot", pair, LID_FIT, hook))
    else:
        end = gap(lid.e1 - 0.2, lid.e1 + 0.6)
        found.append(fitter.fit(d.lid_length, "lid in rebate", pair, LID_FIT, end, outer=True))
    return tuple(found)


def _hardware(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> tuple[Hardware, ...]:
    own = [h for h in d.lid.holes if h.piece == ctx.piece]
    count, thread, where = len(own), _thread(params), f"{ctx.name}: holds the lid"
    insert = (Hardware(f"heat-set insert {thread}", count, where),) if own[0].kind == "insert" else ()
    if params.hold == "set_screw":
        length = _set_screw_length(params, ctx, d.lid.seat_radius)
        return (Hardware(f"set screw {thread} x {length:g}", count, where), *insert)
    bears = math.hypot(*d.lid.holes[0].frame.origin[:2])
    long = math.ceil(bears - d.lid.seat_radius + own[0].engagement)
    for_plastic = " for plastic" if own[0].kind == "thread_forming" else ""
    return (Hardware(f"screw {thread} x {long}{for_plastic}", count, where), *insert)


def _facts(params: CoverParams, d: CoverPlan) -> dict[str, float]:
    facts = {
        "lid_length_mm": d.lid_length.total,
        "lid_width_mm": d.lid_width.total,
        "lid_thickness_mm": d.thickness.total,
    }
    return {**facts, "lid_slide_mm": params.hook_reach} if _hooked(params) else facts


# findings -------------------------------------------------------------------------------------------------


def _findings(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> tuple[Finding, ...]:
    checks = (_wide(params, ctx, d), _short(params, ctx, d), _thin(params, ctx, d), _off_lid(params, ctx, d))
    return tuple(f for f in checks if f)


def _wide(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Finding | None:
    """Return a finding where the round seat doesn't reach below the lid's sides."""
    lid, least = d.lid, ctx.setting.rules.least_wall
    floor = lid.seat_radius - max(PRY_DEPTH, END_RELIEF)
    side = lid.rebate_half
    if side + least <= floor:
        return None
    half = math.degrees(math.asin(max(0.1, min(1.0, (floor - least) / ctx.radius))))
    best = math.floor(2 * half)
    message = (
        f"a lid of {params.arc_deg:g} degrees is {2 * side:.2f} mm wide, wider than what it would lie on, "
        f"{2 * (floor - least):.2f} mm under {d.thickness.total:.2f} mm of lid"
    )
    numbers = {"width": 2 * side, "largest": 2 * (floor - least), "thickness": d.thickness.total}
    candidates = (Remedy("arc_deg", best, f"a lid of {best:g} degrees"),) if best >= 20 else ()
    return Finding(
        "error", "cover-wide", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
    )


def _short(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Finding | None:
    lid = d.lid
    opens = lid.open_to - lid.open_from
    if opens >= LEAST_OPEN - 1e-6:
        return None
    least = math.ceil((ctx.length + LEAST_OPEN - opens) * 10) / 10
    message = (
        f"a cover {ctx.length:.2f} mm long is all lips, rests and screws; with an opening of {LEAST_OPEN:g} mm "
        f"it is {least:g} mm long"
    )
    numbers = {"length": ctx.length, "least_length": least, "opening": opens}
    words = Remedy("length", least, f"a cover {least:g} mm long")
    return Finding(
        "error", "cover-short", ctx.name, message, numbers, candidates=(words,), blocks_solids=True
    )


def _thin(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Finding | None:
    """Return a finding where a wall of the lid, its hook or the hook's roof is thinner than can be printed."""
    lid, least = d.lid, ctx.setting.rules.least_wall
    walls = {"lid": d.thickness.total}
    through = lid.holes[0]
    if through.counterbore:
        head = through.counterbore.diameter
        bears = _rim(ctx, head) - HEAD_HEIGHT * find_thread(through.thread).major_diameter
        walls["wall under the screw's head"] = bears - lid.under_radius
    if lid.hook:
        walls["hook"] = lid.hook.outer - lid.hook.inner
        walls["roof over the hook"] = ctx.radius - lid.hook.roof
    what, wall = min(walls.items(), key=lambda w: w[1])
    if wall >= least - 1e-3:
        return None
    # Hook and roof share the lid's thickness.
    share = 2.0 if "hook" in what else 1.0
    more = math.ceil((d.thickness.total + share * (least - wall)) * 10) / 10
    message = (
        f"of a lid {d.thickness.total:.2f} mm thick the {what} is {max(wall, 0.0):.2f} mm; "
        f"the printer needs {least:g} mm"
    )
    numbers = {"wall": wall, "least_wall": least, "thickness": d.thickness.total}
    remedy = Remedy("thickness", more, f"a lid {more:g} mm thick")
    return Finding(
        "error", "cover-thin", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=True
    )


def _off_lid(params: CoverParams, ctx: SectionContext, d: CoverPlan) -> Finding | None:
    """Return a finding where screws stand too near the lid's sides or each other."""
    lid, least = d.lid, ctx.setting.rules.least_wall
    through = lid.holes[0]
    wide = (through.counterbore.diameter if through.counterbore else through.diameter).total / 2
    offset = math.radians(abs(params.screw_offset_deg))
    edge = lid.half - ctx.radius * math.sin(offset) - wide
    apart = 2 * (ctx.radius * math.sin(offset) - wide) if params.screws_per_end == 2 else math.inf
    wall = min(edge, apart)
    if wall >= least - 1e-3:
        return None
    most = math.degrees(math.asin(max(0.0, min(1.0, (lid.half - wide - least) / ctx.radius))))
    fewest = math.degrees(math.asin(min(1.0, (wide + least / 2) / ctx.radius)))
    message = (
        f"screws at {params.screw_offset_deg:g} degrees leave {max(wall, 0.0):.2f} mm of the lid beside them"
    )
    numbers = {"wall": wall, "least_wall": least, "largest_offset_deg": most}
    value = math.floor(most) if edge < least or fewest > most else math.ceil(fewest)
    remedy = Remedy("screw_offset_deg", float(value), f"screws at {value:g} degrees")
    return Finding(
        "error", "cover-screw", ctx.name, message, numbers, candidates=(remedy,), blocks_solids=True
    )


KIND = Cover()
