"""End plate: a bulkhead with holes for rods, screws and captive nuts, or with none.

Origin and axes: the tube's; hole circles are centred on the axis and start from the section's top.

       .--o--.        looking in from the mouth: a circle of holes,
      /       \\       a wire opening in the middle
     |    O    |
      \\ o   o /
       '-----'
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Angle, NonNegativeLength, quantity
from chassis_gen.plan.model import OVERLAP, Disc, Hardware, Obstacle, SectionPlan, Sector
from chassis_gen.plan.sums import CHOSEN, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.screw_hole import (
    NutPocket,
    ShapedHole,
    hole_cutters,
    hole_finding,
    plan_hole,
    plan_nut,
)
from chassis_gen.sections.features.set_screw import (
    AXIS,
    SetScrew,
    SetScrewTable,
    meeting_gap,
    plan_set_screw,
    set_screw_facts,
    set_screw_findings,
    set_screw_hardware,
    turned,
)
from chassis_gen.sections.features.set_screw_pad import pad_cutters, pad_finding, pad_obstacle, pad_width
from chassis_gen.shapes.frame import Frame, clocked, reversed_axis, shifted
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Step, cut
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

LEAST_THICKNESS = 4.0
LANE_ROOM = 2.5
SEVERED = 0.1
"""Chosen, mm: the usual thickness, what a default hole circle leaves for lanes, the wall that is none."""

HoleKind = Literal["clearance", "tapped", "thread_forming", "insert", "captive_nut"]
_NAMES = {
    "clearance": "screw or rod",
    "tapped": "machine screw",
    "thread_forming": "thread-forming screw",
    "insert": "heat-set insert with its screw",
    "captive_nut": "hex nut with its screw",
}


class HoleCircle(BaseModel):
    """Like holes, evenly on a circle."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    kind: HoleKind = Field(default="clearance", description="kind of hole")
    thread: str = Field(default="M3", max_length=20, description="thread of the screw or rod")
    count: int = Field(default=2, ge=1, le=12, description="number of holes")
    circle_diameter: NonNegativeLength | None = Field(
        default=None, description="circle through their centres; by default as wide as leaves room for lanes"
    )
    first_clock_deg: Angle = Field(default=0.0, description="clock of the first hole, from the section's top")
    entry: Literal["near", "far"] = Field(default="near", description="end that the screw enters from")
    nut_entry: Literal["side", "end"] = Field(
        default="side",
        description="captive nut: slides in from the side, or lies in a pocket open at the end",
    )


class EndPlateParams(SectionParams):
    """Keys of an end plate."""

    kind: Literal["end_plate"] = "end_plate"
    thickness: Annotated[float, quantity("mm", 0.8, 100)] | None = Field(
        None, description="thickness of the plate; by default 4 mm or what its holes need"
    )
    holes: tuple[HoleCircle, ...] = Field((), max_length=6, description="circles of holes; none by default")
    wire_opening: NonNegativeLength = Field(0.0, description="diameter of a hole for wires in the middle")
    set_screw: SetScrewTable | None = Field(
        None, description="set screw through the tube's wall that holds the chassis by this plate's rim"
    )

    @model_validator(mode="before")
    @classmethod
    def _pinned_by_its_set_screw(cls, data: Any) -> Any:
        """Return the keys with the set screw's opening as the section's own, where nothing else pins it."""
        screw = data.get("set_screw") if isinstance(data, dict) else None
        name = screw.get("at_opening") if isinstance(screw, Mapping) else None
        if not isinstance(name, str) or data.get("at_opening") is not None or data.get("station") is not None:
            return data
        return {**data, "at_opening": name}


@dataclass(frozen=True)
class Site:
    """A planned hole with its circle.

    Args:
        hole: the hole.
        circle: the keys it comes from.
        clock_deg: of its axis, degrees.
        radius: distance from the tube's axis, mm.
        half: its radius, or the distance of its nut's corners, mm.
    """

    hole: ShapedHole
    circle: HoleCircle
    clock_deg: float
    radius: float
    half: float


@dataclass(frozen=True)
class EndPlatePlan:
    """What an end plate decides: its sums and its holes."""

    length: Dimension
    wire_opening_diameter: Dimension | None
    first_hole_diameter: Dimension | None
    nut_across_flats: Dimension | None
    nut_height: Dimension | None
    sites: tuple[Site, ...]
    set_screw: SetScrew | None


class EndPlate(SectionKind):
    """A bulkhead that screws, rods or nuts hold on to."""

    kind: ClassVar[str] = "end_plate"
    title: ClassVar[str] = "bulkhead with holes for rods, screws and captive nuts, or none"
    Params: ClassVar[type[SectionParams]] = EndPlateParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension:
        """Return the plate's thickness: as given, or what its holes need."""
        assert isinstance(params, EndPlateParams)
        return _thickness(params, setting)

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the holes, what lanes must keep away from, and the walls that are too thin."""
        assert isinstance(params, EndPlateParams)
        sites = tuple(_sites(params, ctx))
        opening = _opening(params, ctx)
        nut = next((s.hole.nut for s in sites if s.hole.nut), None)
        screw = plan_set_screw(params.set_screw, params.at_opening, ctx) if params.set_screw else None
        hardware = [Hardware(f"{c.thread} {_NAMES[c.kind]}", c.count, ctx.name) for c in params.holes]
        features = {s.hole.id: (s.hole.frame.origin, s.hole.frame.z_axis) for s in sites}
        if screw:
            hardware.append(set_screw_hardware(screw, ctx.name))
            features[AXIS] = (screw.pad.frame.origin, screw.pad.frame.z_axis)
        detail = EndPlatePlan(
            length=_thickness(params, ctx.setting),
            wire_opening_diameter=opening,
            first_hole_diameter=sites[0].hole.diameter if sites else None,
            nut_across_flats=nut.across_flats if nut else None,
            nut_height=nut.height if nut else None,
            sites=sites,
            set_screw=screw,
        )
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            holes=(*(s.hole for s in sites), *((screw.hole,) if screw else ())),
            obstacles=(*_obstacles(sites, opening, ctx), *((pad_obstacle(screw.pad),) if screw else ())),
            hardware=tuple(hardware),
            findings=(*_findings(params, sites, opening, ctx), *_screw_findings(params, detail, ctx)),
            features=features,
            facts=set_screw_facts(screw) if screw else {},
            cautions=("drilling",) if screw else (),
            openings=(screw.opening.name,) if screw and screw.opening else (),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the plate with its opening and holes cut."""
        detail = plan.detail
        assert isinstance(detail, EndPlatePlan)
        steps = ctx.shell("end plate")
        far = ctx.z1 + OVERLAP + (OVERLAP if ctx.joined_far else 0.0)
        if detail.wire_opening_diameter:
            radius = detail.wire_opening_diameter.total / 2
            steps += cut("wire opening", Cylinder(radius, ctx.z0 - OVERLAP, far))
        for site in detail.sites:
            steps += cut("screw hole", *hole_cutters(site.hole))
        if detail.set_screw:
            steps += cut("set screw's dimple", *pad_cutters(detail.set_screw.pad))
        return steps


def _spec(circle: HoleCircle) -> HoleSpec:
    return hole_for(circle.kind, find_thread(circle.thread))


def _nut(
    circle: HoleCircle, setting: Setting, name: str, z0: float = 0.0, reach: float = 0.0
) -> NutPocket | None:
    if circle.kind != "captive_nut":
        return None
    return plan_nut(setting.fitter, name, circle.thread, z0, circle.nut_entry, 0.0, reach)


def _needed(circle: HoleCircle, setting: Setting) -> tuple[float, str]:
    """Return the thickness that one circle of holes needs, mm, and why."""
    spec, wall = _spec(circle), setting.rules.least_wall
    nut = _nut(circle, setting, "nut")
    if nut:
        walls = 2 * wall if circle.nut_entry == "side" else max(wall, spec.min_wall)
        return nut.height.total + walls, f"{circle.thread} nut pocket with its walls"
    if circle.kind == "insert":
        return spec.min_depth, f"{circle.thread} heat-set insert"
    return spec.min_engagement, f"{circle.thread} thread that bears"


def _needs(params: EndPlateParams, setting: Setting) -> list[tuple[float, str]]:
    """Return the thicknesses that holes and set screw need, mm, each with why."""
    needs = [_needed(c, setting) for c in params.holes]
    if params.set_screw:
        thread = params.set_screw.thread
        width = pad_width(setting.fitter, f"{params.name}.set_screw", thread).total
        needs.append((width, f"{thread} set screw's pad with its walls"))
    return needs


def _thickness(params: EndPlateParams, setting: Setting) -> Dimension:
    name, note = f"{params.name}.length", "thickness of the plate"
    if params.thickness is not None:
        return setting.fitter.chosen(name, params.thickness, note)
    terms = [Term(CHOSEN, LEAST_THICKNESS, "default")]
    needed, why = max(_needs(params, setting), default=(0.0, ""))
    if needed > LEAST_THICKNESS:
        terms.append(Term("room for holes", needed - LEAST_THICKNESS, why))
    return setting.fitter.summed(name, tuple(terms), note)


def _opening(params: EndPlateParams, ctx: SectionContext) -> Dimension | None:
    if not params.wire_opening:
        return None
    name, source = f"{ctx.name}.wire_opening_diameter", "parameter file"
    lying = ctx.setting.print_lying
    return ctx.setting.fitter.hole(name, params.wire_opening, source, "hole for wires", lying)


def _sites(params: EndPlateParams, ctx: SectionContext) -> Iterator[Site]:
    """Yield every hole, circle by circle."""
    up = (0.0, 1.0, 0.0) if ctx.setting.print_lying else (0.0, 0.0, 1.0)
    for i, circle in enumerate(params.holes, 1):
        name = f"{ctx.name}.hole_{i}"
        radius, half = _circle_radius(circle, ctx, name)
        for k in range(circle.count):
            clock = ctx.clock_deg + circle.first_clock_deg + 360.0 * k / circle.count
            hole = plan_hole(
                ctx.setting.fitter,
                f"{name}_{k + 1}" if circle.count > 1 else name,
                circle.kind,
                circle.thread,
                _frame(circle, clock, radius, ctx),
                _depth(circle, ctx),
                ctx.piece,
                _engagement(circle, ctx),
                up=up,
                nut=_placed_nut(circle, ctx, name, radius),
                through=True,
            )
            yield Site(hole, circle, clock, radius, half)


def _depth(circle: HoleCircle, ctx: SectionContext) -> float:
    """Return how far a hole reaches, mm: through the plate and what of it lies in the next section."""
    return ctx.length + (OVERLAP if ctx.joined_far and circle.entry == "near" else 0.0)


def _engagement(circle: HoleCircle, ctx: SectionContext) -> float | None:
    return ctx.length if circle.kind in ("tapped", "thread_forming") else None


def _half_width(circle: HoleCircle, ctx: SectionContext, name: str) -> float:
    """Return the hole's radius, or the distance of its nut's corners from its axis, mm."""
    fitter, spec = ctx.setting.fitter, _spec(circle)
    bore = (
        fitter.hole(f"{name}_diameter", spec.diameter, spec.sources[0], "", ctx.setting.print_lying).total / 2
    )
    nut = _nut(circle, ctx.setting, f"{name}_nut")
    return max(bore, nut.across_flats.total / math.sqrt(3.0)) if nut else bore


def _circle_radius(circle: HoleCircle, ctx: SectionContext, name: str) -> tuple[float, float]:
    """Return where the holes stand and their half width, mm."""
    half = _half_width(circle, ctx, name)
    if circle.circle_diameter is not None:
        return circle.circle_diameter / 2, half
    return max(0.0, on_grid(_surface(ctx) - LANE_ROOM - _spec(circle).min_wall - half)), half


def _surface(ctx: SectionContext) -> float:
    """Return the least distance of the outer surface from the axis, the flat included, mm."""
    flat = ctx.outer.flat_distance
    return ctx.radius if flat is None else min(ctx.radius, flat)


def _frame(circle: HoleCircle, clock: float, radius: float, ctx: SectionContext) -> Frame:
    """Return the hole's frame: its +x points away from the tube's axis."""
    if circle.entry == "near":
        return clocked(clock, ctx.z0) @ shifted(radius)
    return reversed_axis(clocked(clock + 180.0, ctx.z1)) @ shifted(radius)


def _placed_nut(circle: HoleCircle, ctx: SectionContext, name: str, radius: float) -> NutPocket | None:
    nut = _nut(circle, ctx.setting, f"{name}_nut")
    if nut is None:
        return None
    height = nut.height.total
    z0 = _depth(circle, ctx) - height if circle.nut_entry == "end" else (ctx.length - height) / 2
    reach = ctx.outer.largest_radius(ctx.z0, ctx.z1) - radius + 1.0
    return _nut(circle, ctx.setting, f"{name}_nut", on_grid(z0), reach)


def _obstacles(
    sites: tuple[Site, ...], opening: Dimension | None, ctx: SectionContext
) -> tuple[Obstacle, ...]:
    found = []
    for s in sites:
        x, y, _ = s.hole.frame.origin
        extra = max(0.0, s.hole.least_wall - ctx.setting.rules.least_wall)
        found.append(Obstacle(Disc(x, y, s.half + extra), ctx.z0, ctx.z1, "screw hole"))
        if s.hole.nut and s.hole.nut.entry == "side":
            wide = s.hole.nut.across_flats.total / 2 + ctx.setting.rules.least_wall
            half = math.degrees(math.asin(min(1.0, wide / ctx.radius)))
            clock = math.degrees(math.atan2(s.hole.frame.x_axis[1], s.hole.frame.x_axis[0]))
            found.append(Obstacle(Sector(clock - half, clock + half), ctx.z0, ctx.z1, "nut slot"))
    if opening:
        found.append(Obstacle(Disc(0.0, 0.0, opening.total / 2), ctx.z0, ctx.z1, "wire opening"))
    return tuple(found)


# findings -------------------------------------------------------------------------------------------


def _findings(
    params: EndPlateParams, sites: tuple[Site, ...], opening: Dimension | None, ctx: SectionContext
) -> tuple[Finding, ...]:
    firsts = [next(s for s in sites if s.circle is c) for c in params.holes]
    found: list[Finding | None] = [hole_finding(s.hole) for s in firsts]
    found += [_edge(s, i, ctx) for i, s in enumerate(firsts)]
    found += [_beside_opening(s, i, opening, ctx) for i, s in enumerate(firsts)]
    found += [_spacing(a, b, params, ctx) for a, b in _closest_pairs(sites)]
    found += [_opening_room(opening, ctx), _thin(params, ctx)]
    return tuple(f for f in found if f)


def _closest_pairs(sites: tuple[Site, ...]) -> Iterator[tuple[Site, Site]]:
    """Yield for each pair of circles the two holes with the least wall between them."""
    closest: dict[tuple[int, int], tuple[float, Site, Site]] = {}
    for a, b in combinations(sites, 2):
        key = (id(a.circle), id(b.circle))
        wall = _wall_between(a, b)
        if key not in closest or wall < closest[key][0] - 1e-9:
            closest[key] = (wall, a, b)
    yield from ((a, b) for _, a, b in closest.values())


def _wall_between(a: Site, b: Site) -> float:
    return math.dist(a.hole.frame.origin[:2], b.hole.frame.origin[:2]) - a.half - b.half


def _too_thin(
    code: str, where: str, what: str, wall: float, least: float, remedy: Remedy | None = None
) -> Finding | None:
    if wall >= least - 1e-9:
        return None
    text = f"{what} is {wall:.2f} mm; at least {least:.2f} mm is wanted"
    candidates = (remedy,) if remedy else ()
    numbers = {"wall": wall, "least_wall": least}
    return Finding("error", code, where, text, numbers, candidates=candidates, blocks_solids=wall < SEVERED)


def _edge(site: Site, index: int, ctx: SectionContext) -> Finding | None:
    wall = _surface(ctx) - site.radius - site.half
    largest = 2 * (_surface(ctx) - site.half - site.hole.least_wall)
    what = f"the wall between {site.hole.id} on a circle of {2 * site.radius:.2f} mm and the outer surface"
    remedy = _circle_remedy(index, math.floor(largest * 10) / 10) if largest > 0.1 else None
    return _too_thin("edge-distance", site.hole.id, what, wall, site.hole.least_wall, remedy)


def _beside_opening(site: Site, index: int, opening: Dimension | None, ctx: SectionContext) -> Finding | None:
    if opening is None:
        return None
    wall = site.radius - site.half - opening.total / 2
    least = 2 * (opening.total / 2 + site.half + site.hole.least_wall)
    what = f"the wall between {site.hole.id} and the wire opening"
    remedy = _circle_remedy(index, math.ceil(least * 10) / 10)
    return _too_thin("hole-spacing", site.hole.id, what, wall, site.hole.least_wall, remedy)


def _circle_remedy(index: int, value: float) -> Remedy:
    return Remedy(f"holes[{index}].circle_diameter", value, f"a hole circle of {value:g} mm")


def _spacing(a: Site, b: Site, params: EndPlateParams, ctx: SectionContext) -> Finding | None:
    what = f"the wall between {a.hole.id} and {b.hole.id}"
    least = max(a.hole.least_wall, b.hole.least_wall)
    remedy = _wider_or_fewer(b, params, ctx) if a.circle is b.circle else None
    return _too_thin("hole-spacing", a.hole.id, what, _wall_between(a, b), least, remedy)


def _wider_or_fewer(site: Site, params: EndPlateParams, ctx: SectionContext) -> Remedy | None:
    """Return the circle on which like holes keep their wall, or how many do on the widest one."""
    circle, pitch = site.circle, 2 * site.half + site.hole.least_wall
    index = next(i for i, c in enumerate(params.holes) if c is circle)
    widest = 2 * (_surface(ctx) - site.half - site.hole.least_wall)
    wanted = math.ceil(10 * pitch / math.sin(math.pi / circle.count)) / 10
    if wanted <= widest:
        return _circle_remedy(index, wanted)
    if 2 * site.radius <= pitch:
        return None
    count = math.floor(math.pi / math.asin(pitch / (2 * site.radius)))
    return Remedy(f"holes[{index}].count", count, f"{count} holes on this circle")


def _opening_room(opening: Dimension | None, ctx: SectionContext) -> Finding | None:
    if opening is None:
        return None
    least = ctx.setting.rules.wall
    largest = math.floor(10 * 2 * (_surface(ctx) - least - 0.25)) / 10
    remedy = Remedy("wire_opening", largest, f"an opening of {largest:g} mm")
    wall = _surface(ctx) - opening.total / 2
    return _too_thin("edge-distance", ctx.name, "the wall round the wire opening", wall, least, remedy)


def _thin(params: EndPlateParams, ctx: SectionContext) -> Finding | None:
    """Return where a given thickness is less than the holes need."""
    needed, why = max(_needs(params, ctx.setting), default=(0.0, ""))
    if ctx.length >= needed - 1e-3:
        return None
    value = math.ceil(needed * 10) / 10
    text = f"the plate is {ctx.length:.2f} mm thick; {why} needs {needed:.2f} mm"
    numbers = {"thickness": ctx.length, "least_thickness": needed}
    remedy = Remedy("thickness", value, f"a plate {value:g} mm thick")
    nut = params.set_screw is not None or any(c.kind == "captive_nut" for c in params.holes)
    return Finding("error", "plate-thin", ctx.name, text, numbers, candidates=(remedy,), blocks_solids=nut)


def _screw_findings(params: EndPlateParams, detail: EndPlatePlan, ctx: SectionContext) -> tuple[Finding, ...]:
    """Return what speaks against the set screw: its tube, its place, and voids behind its pad."""
    screw = detail.set_screw
    if screw is None:
        return ()
    found = [*set_screw_findings(screw), _off_plate(params, screw, ctx)]
    found.append(_over_opening(params, screw, detail.wire_opening_diameter))
    for i, circle in enumerate(params.holes):
        found.append(_over_hole(i, [s for s in detail.sites if s.circle is circle], screw, detail.sites, ctx))
    return tuple(f for f in found if f)


def _off_plate(params: EndPlateParams, screw: SetScrew, ctx: SectionContext) -> Finding | None:
    """Return where a screw's opening isn't over the plate."""
    half, station = screw.pad.width.total / 2, screw.pad.station
    out = max(ctx.z0 - (station - half), station + half - ctx.z1)
    if screw.opening is None or out <= 1e-3 or ctx.length < 2 * half - 1e-3:
        return None
    text = (
        f'the set screw\'s opening "{screw.opening.name}" at station {station:.2f} wants solid plastic '
        f"{half:.2f} mm to each side; the plate stands at stations {ctx.z0:.2f} to {ctx.z1:.2f}"
    )
    numbers = {"station": station, "half_width": half, "z0": ctx.z0, "z1": ctx.z1, "out": out}
    near = round(station - ctx.length / 2, 3)
    key, value, words = (
        ("station", near, f"the plate at station {near:g}")
        if params.station is not None
        else ("at_opening", screw.opening.name, f'the plate at opening "{screw.opening.name}"')
    )
    return Finding(
        "error",
        "set-screw-off-plate",
        screw.hole.id,
        text,
        numbers,
        candidates=(Remedy(key, value, words),),
        blocks_solids=out > half - screw.pad.dimple_diameter.total / 2,
    )


def _over_opening(params: EndPlateParams, screw: SetScrew, opening: Dimension | None) -> Finding | None:
    """Return where too little is left between the screw's point and the wire opening."""
    if opening is None:
        return None
    found = pad_finding(screw.pad, opening.total / 2, "wire opening", hard_stop=False)
    if found is None:
        return None
    most = params.wire_opening - 2 * (found.numbers["wanted"] - found.numbers["left"])
    value = math.floor(most * 10) / 10
    remedy = Remedy("wire_opening", value, f"an opening of {value:g} mm" if value > 0 else "no wire opening")
    blocks = found.numbers["left"] < SEVERED
    return replace(found, candidates=(remedy,) if value >= 0 else (), blocks_solids=blocks)


def _clashes(sites: Iterable[Site], screw: SetScrew, turn: float = 0.0) -> list[tuple[float, Site]]:
    """Return the holes that stand in the solid stretch under a screw, with how far they stay from it, mm.

    Args:
        sites: the holes.
        screw: the screw.
        turn: by how much the holes are turned about the tube's axis first, degrees.
    """
    found = []
    for s in sites:
        clock = s.clock_deg + turn
        gap = meeting_gap(screw, clock, s.radius, s.half)
        if s.hole.nut and s.hole.nut.entry == "side":
            # the nut's slot runs out to the surface
            off = math.radians(clock - screw.pad.clock_deg)
            sides = (screw.pad.width.total + s.hole.nut.across_flats.total) / 2
            beside = screw.pad.radius * abs(math.sin(off)) - sides if math.cos(off) > 0 else gap
            gap = min(gap, beside)
        if gap < -1e-6:
            found.append((gap, s))
    return found


def _over_hole(
    index: int, sites: list[Site], screw: SetScrew, every: tuple[Site, ...], ctx: SectionContext
) -> Finding | None:
    """Return where a circle's hole stands in the solid stretch under a screw."""
    worst = min(_clashes(sites, screw), key=lambda found: found[0], default=None)
    if worst is None:
        return None
    gap, site = worst
    text = (
        f"the set screw {screw.hole.id} at clock {screw.pad.clock_deg % 360:.0f} stands over {site.hole.id} at clock "
        f"{site.clock_deg % 360:.0f}, which reaches {-gap:.2f} mm into the solid stretch that it wants"
    )
    numbers = {
        "overlap": -gap,
        "clock_deg": screw.pad.clock_deg % 360,
        "hole_clock_deg": site.clock_deg % 360,
    }
    circle = site.circle
    step = next((t for t in turned() if not _clashes(sites, screw, t)), None)
    candidates = []
    if screw.opening is None:
        free = next((t for t in turned() if not _clashes(every, screw, t)), None)
        if free is not None:
            # holes turned one way stand to the screw as a screw turned the other way does to them
            value = _half_turn(screw.pad.clock_deg - ctx.clock_deg - free)
            candidates.append(Remedy("set_screw.clock_deg", value, f"the set screw at {value:g} degrees"))
    if step is not None:
        value = _half_turn(circle.first_clock_deg + step)
        candidates.append(
            Remedy(f"holes[{index}].first_clock_deg", value, f"the first hole at {value:g} degrees")
        )
    return Finding("error", "set-screw-over-part", screw.hole.id, text, numbers, candidates=tuple(candidates))


def _half_turn(clock: float) -> float:
    """Return a clock as an angle from -180 up to 180 degrees, rounded to 0.01."""
    return round((clock + 180.0) % 360.0 - 180.0, 2)


KIND = EndPlate()
