"""End fitting: the foot or the nose of a chassis, an end plate with something at its outer face.

Origin and axes: the tube's. What stands at the outer face is planned in a frame there, +z pointing out of the
chassis, +y to the section's top.

    end = "near" turns this round        ______ _______ ______
                                        |      |       |      |  spigot into a smaller bore
             outer end, far:         ___|      |spring |      |___
                                    |          | room  |  o       |  plate, holes round the spigot
                                    |__________|_______|__o_______|
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal

from msgspec import Struct
from msgspec.structs import replace
from pydantic import Field, model_validator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import NonNegativeLength, PositiveLength, quantity
from chassis_gen.plan.model import OVERLAP, Disc, Fit, Obstacle, PlacedPart, Rim, SectionPlan, Sector, Slab
from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.end_press import (
    LEAST_SEAT,
    EndPress,
    FoamTable,
    SpringTable,
    placed_press,
    plan_press,
    press_facts,
    press_findings,
    press_fit,
)
from chassis_gen.sections.features.hole_circles import (
    HoleCircle,
    Plate,
    Site,
    hole_findings,
    hole_hardware,
    hole_obstacles,
    hole_sites,
    needed_thickness,
    plate_thickness,
    thin_finding,
    too_thin,
)
from chassis_gen.sections.features.lanyard_bar import (
    EDGE,
    LanyardBar,
    LanyardTable,
    bar_facts,
    bar_findings,
    bar_steps,
    plan_bar,
    stands_across_layers,
)
from chassis_gen.sections.features.screw_hole import hole_cutters
from chassis_gen.sections.features.spigot import (
    SAME,
    Spigot,
    SpigotTable,
    plan_spigot,
    spigot_findings,
    spigot_fit,
    spigot_steps,
    stop_behind,
)
from chassis_gen.shapes.frame import Frame, reversed_axis, topped
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Step, cut

LEAST_THICKNESS = 4.0
"""The usual thickness of the plate, mm (chosen)."""
POCKET = "lanyard's pocket"
STOP_DOUBT = 0.5
"""How far the tube's stop may lie from where the fitting takes it to be before that is said, mm (chosen)."""


class EndFittingParams(SectionParams):
    """Keys of an end fitting."""

    kind: Literal["end_fitting"] = "end_fitting"
    bearing: bool = Field(True, description="bear on the bore over the section's whole length")
    end: Literal["near", "far"] = Field(
        "far", description="end of the chassis that it closes: near the mouth, or the far one"
    )
    thickness: Annotated[float, quantity("mm", 0.8, 200)] | None = Field(
        None, description="thickness of the plate; by default 4 mm or what holes and rooms need"
    )
    floor: Annotated[float, quantity("mm", 0.8, 50)] = Field(
        2.4, description="material kept behind a spring, a pad or a lanyard's pocket"
    )
    stop_gap: NonNegativeLength = Field(
        1.0, description="from the outer face to what spring or pad presses against, when the tube is closed"
    )
    spring: SpringTable | None = Field(None, description="room for a compression spring in the outer face")
    foam: FoamTable | None = Field(None, description="room for a foam pad in the outer face")
    lanyard: LanyardTable | None = Field(
        None, description="bar across a pocket in the outer face, for a cord"
    )
    window_diameter: PositiveLength | None = Field(
        None, description="round window right through the middle, for light or sound"
    )
    spigot: SpigotTable | None = Field(None, description="narrower boss that enters a smaller bore")
    holes: tuple[HoleCircle, ...] = Field(
        (), max_length=6, description="circles of holes through the plate, round the spigot; none by default"
    )

    @model_validator(mode="after")
    def _one_thing_in_the_middle(self) -> EndFittingParams:
        given = [k for k in ("spring", "foam", "lanyard") if getattr(self, k) is not None]
        if len(given) > 1:
            why = f"{' and '.join(given)} stand in the same place, the middle of the outer face"
            allowed = "one of spring, foam and lanyard; a second fitting at the other end"
            raise rejected(Rejection("not-allowed", why, allowed, at=(given[1],)))
        if self.window_diameter is not None and self.press is not None:
            why = f"{given[0]} closes the window: both stand in the middle"
            raise rejected(Rejection("not-allowed", why, "one of them", at=("window_diameter",)))
        return self

    @property
    def way_through(self) -> float:
        """Return the diameter of the window through the middle, mm; 0 for none."""
        return self.window_diameter or 0.0

    @property
    def press(self) -> SpringTable | FoamTable | None:
        """Return what presses the chassis against the tube's stop, if anything."""
        return self.spring or self.foam


class EndFittingPlan(Struct, frozen=True):
    """What an end fitting decides.

    Args:
        length: of the section.
        thickness: of the plate.
        press: room for a spring or a pad.
        bar: bar for a lanyard.
        window: diameter of the window through the middle.
        spigot: boss.
        sites: holes.
        out: frame on the outer face, +z pointing out of the chassis.
    """

    length: Dimension
    thickness: Dimension
    press: EndPress | None
    bar: LanyardBar | None
    window: Dimension | None
    spigot: Spigot | None
    sites: tuple[Site, ...]
    out: Frame

    @property
    def beside(self) -> LanyardBar | None:
        """Return the bar where its pocket stands beside the middle."""
        return self.bar if self.bar and self.bar.beside_middle else None

    @property
    def core(self) -> tuple[float, str] | None:
        """Return the radius that the room in the middle takes, mm, and what it is."""
        if self.press:
            return self.press.seat_diameter.total / 2, f"{self.press.key}'s seat"
        if self.bar and not self.beside:
            return self.bar.reach, POCKET
        return (self.window.total / 2, "window") if self.window else None

    @property
    def reach(self) -> tuple[float, str] | None:
        """Return how far rooms in the outer face reach from the axis, mm, and which of them does."""
        return (self.beside.reach, POCKET) if self.beside else self.core


class EndFitting(SectionKind):
    """The foot or the nose of a chassis."""

    kind: ClassVar[str] = "end_fitting"
    title: ClassVar[str] = "foot or nose: end plate with spring or foam room, lanyard bar, window, spigot"
    Params: ClassVar[type[SectionParams]] = EndFittingParams

    def length(self, params: EndFittingParams, setting: Setting) -> Dimension:
        """Return the plate's thickness and the spigot's length as one sum.

        Raises:
            InputError: a thread or a fit class is unknown.
        """
        thickness = _thickness(params, setting)
        terms = thickness.terms
        if params.spigot:
            terms = (*terms, Term("spigot", params.spigot.length, "parameter file"))
        return setting.fitter.summed(f"{params.name}.length", terms, "length along the axis")

    def plan(self, params: EndFittingParams, ctx: SectionContext) -> SectionPlan:
        """Return rooms, bar, spigot and holes, and what can't work.

        Raises:
            InputError: a thread or a fit class is unknown.
        """
        d = _detail(self, params, ctx)
        plate = _plate(d, ctx)
        part = placed_press(d.press, d.out, ctx) if d.press else None
        findings = tuple(_findings(params, d, plate))
        sound = not any(f.blocks_solids for f in findings)
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=d,
            parts=(part,) if part else (),
            fits=tuple(_fits(d, part, ctx)) if sound else (),
            holes=tuple(s.hole for s in d.sites),
            obstacles=tuple(_obstacles(d, plate)),
            hardware=hole_hardware(params.holes, ctx.name),
            findings=findings,
            features={s.hole.id: (s.hole.frame.origin, s.hole.frame.z_axis) for s in d.sites},
            facts={
                **(press_facts(d.press) if d.press else {}),
                **(bar_facts(d.bar) if d.bar else {}),
                **(_window_facts(d.window, ctx.length) if d.window else {}),
            },
            openings=(ctx.opening.name,) if ctx.opening else (),
            rim=Rim(plate.z0, plate.z1, plate.taken, plate.taken_by, plate.pocket)
            if plate.taken or plate.pocket
            else None,
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar, cut back to the spigot, with the room in its outer face and its holes."""
        d = plan.detail
        assert isinstance(d, EndFittingPlan)
        steps = ctx.shell("end fitting")
        if d.spigot:
            steps += spigot_steps(d.spigot, d.out, ctx)
        if d.press:
            radius, depth = d.press.seat_diameter.total / 2, d.press.seat_depth.total
            steps += cut(f"seat of the {d.press.part.name}", Cylinder(radius, -depth, OVERLAP, d.out))
        if d.window:
            radius, z0, z1 = d.window.total / 2, ctx.z0 - OVERLAP, ctx.z1 + OVERLAP
            steps += cut("window", Cylinder(radius, z0, z1))
        for site in d.sites:
            steps += cut("screw hole", *hole_cutters(site.hole))
        return (*steps, *(bar_steps(d.bar, d.out) if d.bar else ()))


# sums -----------------------------------------------------------------------------------------------------


def _spigot_length(params: EndFittingParams) -> float:
    return params.spigot.length if params.spigot else 0.0


def _needs(params: EndFittingParams, setting: Setting) -> Iterator[tuple[float, str]]:
    """Yield the thicknesses that holes and rooms need, mm, each with why; a room begins at the spigot's end."""
    yield from (needed_thickness(c, setting) for c in params.holes)
    fitter, less = setting.fitter, _spigot_length(params)
    if params.press:
        press = plan_press(fitter, params.name, params.press, params.stop_gap)
        yield press.seat_depth.total + params.floor - less, f"the {press.part.name}'s seat with its floor"
    if params.lanyard:
        # the thickest bar, which stands across the layers
        bar = plan_bar(fitter, params.name, params.lanyard, True, setting.material.across_layers)
        yield bar.pocket_depth.total + params.floor - less, "the lanyard's pocket with its floor"


def _thickness(params: EndFittingParams, setting: Setting) -> Dimension:
    name = f"{params.name}.plate_thickness"
    return plate_thickness(setting, name, params.thickness, _needs(params, setting), LEAST_THICKNESS)


def _detail(kind: EndFitting, params: EndFittingParams, ctx: SectionContext) -> EndFittingPlan:
    setting = ctx.setting
    far = params.end == "far"
    out = topped(ctx.clock_deg, ctx.z1) if far else reversed_axis(topped(ctx.clock_deg, ctx.z0))
    long = _spigot_length(params)
    spigot = None
    if params.spigot:
        z0, z1 = (ctx.z1 - long, ctx.z1) if far else (ctx.z0, ctx.z0 + long)
        spigot = plan_spigot(params.spigot, z0, z1, ctx)
    press = plan_press(setting.fitter, ctx.name, params.press, params.stop_gap) if params.press else None
    window = None
    if params.window_diameter is not None:
        name, note = f"{ctx.name}.window_diameter", "window through the middle"
        window = setting.fitter.chosen(name, params.window_diameter, note)
    bar = None
    if params.lanyard:
        across, weak = stands_across_layers(out, ctx), setting.material.across_layers
        core = window.total / 2 + setting.rules.wall if window else 0.0
        bar = plan_bar(setting.fitter, ctx.name, params.lanyard, across, weak, core)
    bare = EndFittingPlan(
        kind.length(params, setting), _thickness(params, setting), press, bar, window, spigot, (), out
    )
    return replace(bare, sites=tuple(hole_sites(params.holes, _plate(bare, ctx))))


def _window_facts(window: Dimension, length: float) -> dict[str, float]:
    """Return the area that sound has, and how far from the axis light from the inner face gets out."""
    radius = window.total / 2
    angle = math.degrees(math.atan(radius / length))
    return {"window_area_mm2": math.pi * radius**2, "window_half_angle_deg": angle}


def _plate(d: EndFittingPlan, ctx: SectionContext) -> Plate:
    """Return what the holes go through: the plate round the spigot, or all of it."""
    taken, by = d.core or (0.0, "")
    z0, z1 = ctx.z0, ctx.z1
    if d.spigot and d.spigot.radius < d.spigot.room / 2 - SAME:
        z0, z1 = (ctx.z0, d.spigot.z0) if d.spigot.z0 > ctx.z0 + 1e-9 else (d.spigot.z1, ctx.z1)
        taken, by = max((d.spigot.radius, "spigot"), (taken, by))
    joined_far = ctx.joined_far and z1 == ctx.z1
    pocket = _pocket(d.beside, ctx) if d.beside else None
    return Plate(ctx, z0, z1, joined_far, taken, by, pocket, POCKET)


def _pocket(bar: LanyardBar, ctx: SectionContext) -> Slab:
    """Return the cross-section of the lanyard's pocket."""
    half, wide, off = bar.span.total / 2, bar.half_width + EDGE, bar.off_axis.total
    return Slab(-half, half, off - wide, off + wide, ctx.clock_deg)


def _fits(d: EndFittingPlan, part: PlacedPart | None, ctx: SectionContext) -> Iterator[Fit]:
    if d.press and part:
        yield press_fit(d.press, part, ctx)
    found = spigot_fit(d.spigot, ctx) if d.spigot else None
    if found:
        yield found


# lanes ----------------------------------------------------------------------------------------------------


def _obstacles(d: EndFittingPlan, plate: Plate) -> Iterator[Obstacle]:
    """Yield what keeps lanes away: holes, the room in the outer face, all of the spigot."""
    ctx = plate.ctx
    yield from hole_obstacles(d.sites, plate)
    if d.press:
        z0, z1 = _stations(d, d.press.seat_depth.total)
        yield Obstacle(Disc(0.0, 0.0, d.press.seat_diameter.total / 2), z0, z1, f"{d.press.key}'s seat")
    if d.bar:
        yield Obstacle(_pocket(d.bar, ctx), *_stations(d, d.bar.pocket_depth.total), POCKET)
    if d.window:
        yield Obstacle(Disc(0.0, 0.0, d.window.total / 2), ctx.z0, ctx.z1, "window")
    if d.spigot:
        yield Obstacle(Sector(0.0, 360.0), d.spigot.z0, d.spigot.z1, "spigot")


def _stations(d: EndFittingPlan, depth: float) -> tuple[float, float]:
    a, b = d.out.origin[2], d.out.point((0.0, 0.0, -depth))[2]
    return min(a, b), max(a, b)


# findings -------------------------------------------------------------------------------------------------


def _findings(params: EndFittingParams, d: EndFittingPlan, plate: Plate) -> Iterator[Finding]:
    ctx = plate.ctx
    yield from hole_findings(params.holes, d.sites, plate)
    if d.spigot:
        yield from spigot_findings(d.spigot, ctx)
    if d.press:
        yield from press_findings(d.press, ctx.name)
        yield from _stop_finding(params, d.press, ctx)
    if d.bar:
        yield from bar_findings(d.bar, ctx.name)
    found = (_wall_round(d, plate), _web(d, ctx), _thin(params, plate), _covered(params, ctx))
    yield from (f for f in found if f)


def _thin(params: EndFittingParams, plate: Plate) -> Finding | None:
    rooms = params.press is not None or params.lanyard is not None
    blocks = rooms or any(c.kind == "captive_nut" for c in params.holes)
    return thin_finding(plate, _needs(params, plate.ctx.setting), blocks)


def _wall_round(d: EndFittingPlan, plate: Plate) -> Finding | None:
    """Return an error where the room in the outer face leaves no wall under the surface round it."""
    if d.reach is None:
        return None
    reach, what = d.reach
    ctx, flat = plate.ctx, plate.ctx.outer.flat_distance
    surface = ctx.outer.smallest_radius(plate.z0, plate.z1)
    if d.spigot:
        surface = min(surface, d.spigot.radius)
    if flat is not None:
        # the flat is nearer than the round surface, but only on its own side of a pocket
        surface = min(surface, flat + reach - (_toward_flat(d.beside, ctx) if d.beside else reach))
    where = "spigot's surface" if d.spigot else "outer surface"
    words = f"the wall between the {what}, which reaches {reach:.2f} mm from the axis, and the {where}"
    least = ctx.setting.rules.wall
    return too_thin(
        "edge-distance", ctx.name, words, surface - reach, least, *_smaller(d, surface - least - reach)
    )


def _toward_flat(bar: LanyardBar, ctx: SectionContext) -> float:
    """Return how far the lanyard's pocket reaches toward the printing flat, mm."""
    p = _pocket(bar, ctx)
    turn = math.radians(ctx.outer.flat_clock - p.top_clock)
    return max(y * math.cos(turn) - x * math.sin(turn) for x in (p.x0, p.x1) for y in (p.y0, p.y1))


def _web(d: EndFittingPlan, ctx: SectionContext) -> Finding | None:
    """Return an error where window and lanyard's pocket leave no wall between them."""
    if d.window is None or d.bar is None:
        return None
    words, least = "the wall between the window and the lanyard's pocket", ctx.setting.rules.wall
    wall = d.bar.inner_edge - d.window.total / 2
    off = math.ceil(10 * (d.bar.off_axis.total + least - wall)) / 10
    remedy = Remedy("lanyard.off_axis", off, f"the bar {off:g} mm from the axis")
    return too_thin("edge-distance", ctx.name, words, wall, least, remedy)


def _smaller(d: EndFittingPlan, room: float) -> tuple[Remedy, ...]:
    """Return a smaller spring, pad, cord or window that leaves the wall."""
    larger = Remedy(None, None, "a larger bore, or an end without it")
    if d.bar:
        cords = (c for c in (3.0, 2.0, 1.5) if c < d.bar.table.cord_diameter)
        return (*(Remedy("lanyard.cord_diameter", c, f"a cord of {c:g} mm") for c in cords), larger)
    if d.window:
        value = math.floor(10 * (d.window.total + 2 * room) - 0.01) / 10
        return (Remedy("window_diameter", value, f"a window of {value:g} mm"),) if value > 0 else (larger,)
    if d.press is None:
        return ()
    table = d.press.table
    old = table.outer_diameter if isinstance(table, SpringTable) else table.diameter
    value = math.floor(10 * (old + 2 * room)) / 10
    if value <= 0 or (isinstance(table, SpringTable) and value <= 2 * table.wire_diameter):
        return (larger,)
    key = "outer_diameter" if isinstance(table, SpringTable) else "diameter"
    return Remedy(f"{d.press.key}.{key}", value, f"a {d.press.part.name} of {value:g} mm"), larger


def _covered(params: EndFittingParams, ctx: SectionContext) -> Finding | None:
    """Return an error where what stands at the outer face is inside the piece."""
    far = params.end == "far"
    busy = params.press or params.lanyard or params.spigot
    if not busy or not (ctx.joined_far if far else ctx.joined_near):
        return None
    side, other = ("behind", "near") if far else ("before", "far")
    text = f"the {params.end} face of {ctx.name} is inside the piece {ctx.piece}: a section stands {side} it"
    free = not (ctx.joined_near if far else ctx.joined_far)
    candidates = (Remedy("end", other, f"turned to the {other} end"),) if free else ()
    return Finding("error", "end-covered", ctx.name, text, candidates=candidates, blocks_solids=True)


def _stop_finding(params: EndFittingParams, press: EndPress, ctx: SectionContext) -> Iterator[Finding]:
    """Yield a warning where the tube's end isn't where the fitting takes its stop to be."""
    if params.end == "near" or not ctx.last:
        return
    stop = stop_behind(ctx.bores, ctx.z1, press.part.size("diameter"))
    if stop is None or abs(stop - ctx.z1 - params.stop_gap) <= STOP_DOUBT:
        return
    room = stop - ctx.z1
    text = (
        f"the outer face stands {room:.2f} mm before the bore's end at station {stop:.2f}; the {press.part.name} "
        f"is planned for a stop {params.stop_gap:.2f} mm behind it"
    )
    numbers = {"room": room, "stop_gap": params.stop_gap, "stop": stop}
    more = room - params.stop_gap
    value, floor = round(room, 2), round(params.floor + more, 2)
    # a plate that is as thick as the room needs goes with the gap; then it is the floor that moves the face
    candidates = []
    if 0 <= value < press.table.closed_length - LEAST_SEAT:
        candidates.append(Remedy("stop_gap", value, f"a gap of {value:g} mm"))
    if floor >= 0.8:
        candidates.append(Remedy("floor", floor, f"a floor of {floor:g} mm"))
    yield Finding("warning", "stop-gap", ctx.name, text, numbers, candidates=tuple(candidates))


KIND = EndFitting()
