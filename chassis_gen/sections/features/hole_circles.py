"""Circles of holes through a plate: for rods, screws, inserts and captive nuts, with the walls that they want.

Origin and axes: the tube's; circles are centred on the axis and start from the section's top.

       .--o--.        looking in from the mouth: a circle of holes round
      /  ___  \\       what is taken in the middle
     |  |___|  |
      \\ o   o /
       '-----'
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations
from typing import Literal

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Angle, NonNegativeLength
from chassis_gen.plan.model import OVERLAP, Disc, Hardware, Obstacle, Sector, Slab
from chassis_gen.plan.sums import CHOSEN, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext, Setting
from chassis_gen.sections.features.screw_hole import NutPocket, ShapedHole, hole_finding, plan_hole, plan_nut
from chassis_gen.shapes.frame import Frame, clocked, reversed_axis, shifted
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

LANE_ROOM = 2.5
THINNER = ("M3", "M2.5", "M2")
"""Screws that are proposed where thicker ones leave no wall (chosen)."""
SEVERED = 0.1
"""Chosen, mm: what a default hole circle leaves for lanes, the wall that is none."""

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


class Site(Struct, frozen=True):
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


def hole_hardware(circles: Sequence[HoleCircle], where: str) -> tuple[Hardware, ...]:
    """Return the fasteners of circles of holes.

    Args:
        circles: the keys.
        where: the section's name.
    """
    return tuple(Hardware(f"{c.thread} {_NAMES[c.kind]}", c.count, where) for c in circles)


class Plate(Struct, frozen=True):
    """The plate that holes go through.

    Args:
        ctx: of the section.
        z0: near face, mm.
        z1: far face, mm.
        joined_far: True where the section behind overlaps the far face.
        taken: radius of what is taken in the middle, mm; 0 for nothing.
        taken_by: what that is, for messages.
        pocket: room beside the middle that holes keep their wall to, or None.
        pocket_by: what that is, for messages.
    """

    ctx: SectionContext
    z0: float
    z1: float
    joined_far: bool
    taken: float = 0.0
    taken_by: str = ""
    pocket: Slab | None = None
    pocket_by: str = ""

    @property
    def length(self) -> float:
        """Return the thickness, mm."""
        return self.z1 - self.z0

    @property
    def surface(self) -> float:
        """Return the least distance of the outer surface from the axis, the flat included, mm."""
        outer = self.ctx.outer
        radius = outer.smallest_radius(self.z0, self.z1)
        return radius if outer.flat_distance is None else min(radius, outer.flat_distance)


def _spec(circle: HoleCircle) -> HoleSpec:
    return hole_for(circle.kind, find_thread(circle.thread))


def _nut(
    circle: HoleCircle, setting: Setting, name: str, z0: float = 0.0, reach: float = 0.0
) -> NutPocket | None:
    if circle.kind != "captive_nut":
        return None
    return plan_nut(setting.fitter, name, circle.thread, z0, circle.nut_entry, 0.0, reach)


def needed_thickness(circle: HoleCircle, setting: Setting) -> tuple[float, str]:
    """Return the thickness that one circle of holes needs, mm, and why.

    Args:
        circle: the keys.
        setting: of the section.

    Raises:
        InputError: the thread is unknown or has no such hole.
    """
    spec, wall = _spec(circle), setting.rules.least_wall
    nut = _nut(circle, setting, "nut")
    if nut:
        walls = 2 * wall if circle.nut_entry == "side" else max(wall, spec.min_wall)
        return nut.height.total + walls, f"{circle.thread} nut pocket with its walls"
    if circle.kind == "insert":
        return spec.min_depth, f"{circle.thread} heat-set insert"
    return spec.min_engagement, f"{circle.thread} thread that bears"


def hole_sites(circles: Sequence[HoleCircle], plate: Plate) -> Iterator[Site]:
    """Yield every hole, circle by circle.

    Args:
        circles: the keys.
        plate: what they go through.

    Raises:
        InputError: a thread is unknown or has no such hole.
    """
    ctx = plate.ctx
    up = (0.0, 1.0, 0.0) if ctx.setting.print_lying else (0.0, 0.0, 1.0)
    for i, circle in enumerate(circles, 1):
        name = f"{ctx.name}.hole_{i}"
        radius, half = _circle_radius(circle, plate, name)
        for k in range(circle.count):
            clock = ctx.clock_deg + circle.first_clock_deg + 360.0 * k / circle.count
            hole = plan_hole(
                ctx.setting.fitter,
                f"{name}_{k + 1}" if circle.count > 1 else name,
                circle.kind,
                circle.thread,
                _frame(circle, clock, radius, plate),
                _depth(circle, plate),
                ctx.piece,
                _engagement(circle, plate),
                up=up,
                nut=_placed_nut(circle, plate, name, radius),
                through=True,
            )
            yield Site(hole, circle, clock, radius, half)


def _depth(circle: HoleCircle, plate: Plate) -> float:
    """Return how far a hole reaches, mm: through the plate and what of it lies in the next section."""
    return plate.length + (OVERLAP if plate.joined_far and circle.entry == "near" else 0.0)


def _engagement(circle: HoleCircle, plate: Plate) -> float | None:
    return plate.length if circle.kind in ("tapped", "thread_forming") else None


def _half_width(circle: HoleCircle, ctx: SectionContext, name: str) -> float:
    """Return the hole's radius, or the distance of its nut's corners from its axis, mm."""
    fitter, spec = ctx.setting.fitter, _spec(circle)
    bore = (
        fitter.hole(f"{name}_diameter", spec.diameter, spec.sources[0], "", ctx.setting.print_lying).total / 2
    )
    nut = _nut(circle, ctx.setting, f"{name}_nut")
    return max(bore, nut.across_flats.total / math.sqrt(3.0)) if nut else bore


def _circle_radius(circle: HoleCircle, plate: Plate, name: str) -> tuple[float, float]:
    """Return where the holes stand and their half width, mm."""
    half = _half_width(circle, plate.ctx, name)
    if circle.circle_diameter is not None:
        return circle.circle_diameter / 2, half
    return max(0.0, on_grid(plate.surface - LANE_ROOM - _spec(circle).min_wall - half)), half


def _frame(circle: HoleCircle, clock: float, radius: float, plate: Plate) -> Frame:
    """Return the hole's frame: its +x points away from the tube's axis."""
    if circle.entry == "near":
        return clocked(clock, plate.z0) @ shifted(radius)
    return reversed_axis(clocked(clock + 180.0, plate.z1)) @ shifted(radius)


def _placed_nut(circle: HoleCircle, plate: Plate, name: str, radius: float) -> NutPocket | None:
    setting = plate.ctx.setting
    nut = _nut(circle, setting, f"{name}_nut")
    if nut is None:
        return None
    height = nut.height.total
    z0 = _depth(circle, plate) - height if circle.nut_entry == "end" else (plate.length - height) / 2
    reach = plate.ctx.outer.largest_radius(plate.z0, plate.z1) - radius + 1.0
    return _nut(circle, setting, f"{name}_nut", on_grid(z0), reach)


def hole_obstacles(sites: Sequence[Site], plate: Plate) -> tuple[Obstacle, ...]:
    """Return what keeps lanes away from holes and from the slots of their nuts.

    Args:
        sites: the holes.
        plate: what they go through.
    """
    rules = plate.ctx.setting.rules
    radius = plate.ctx.outer.smallest_radius(plate.z0, plate.z1)
    found = []
    for s in sites:
        x, y, _ = s.hole.frame.origin
        extra = max(0.0, s.hole.least_wall - rules.least_wall)
        found.append(Obstacle(Disc(x, y, s.half + extra), plate.z0, plate.z1, "screw hole"))
        if s.hole.nut and s.hole.nut.entry == "side":
            wide = s.hole.nut.across_flats.total / 2 + rules.least_wall
            half = math.degrees(math.asin(min(1.0, wide / radius)))
            clock = math.degrees(math.atan2(s.hole.frame.x_axis[1], s.hole.frame.x_axis[0]))
            found.append(Obstacle(Sector(clock - half, clock + half), plate.z0, plate.z1, "nut slot"))
    return tuple(found)


def hole_findings(circles: Sequence[HoleCircle], sites: Sequence[Site], plate: Plate) -> tuple[Finding, ...]:
    """Return what is too thin: walls to the outer surface, to what is taken in the middle, between holes.

    Args:
        circles: the keys.
        sites: the holes.
        plate: what they go through.
    """
    firsts = [next(s for s in sites if s.circle is c) for c in circles]
    found: list[Finding | None] = [hole_finding(s.hole) for s in firsts]
    found += [_edge(s, i, plate) for i, s in enumerate(firsts)]
    found += [_beside_taken(s, i, plate) for i, s in enumerate(firsts)]
    found += [_beside_pocket([s for s in sites if s.circle is c], plate) for c in circles]
    found += [_spacing(a, b, circles, plate) for a, b in _closest_pairs(sites)]
    return tuple(f for f in found if f)


def _closest_pairs(sites: Sequence[Site]) -> Iterator[tuple[Site, Site]]:
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


def too_thin(
    code: str, where: str, what: str, wall: float, least: float, *remedies: Remedy | None
) -> Finding | None:
    """Return an error where a wall is less than is wanted; where there is none, no solid can be made.

    Args:
        code: of the finding.
        where: what it is about.
        what: the wall in words.
        wall: its thickness, mm.
        least: what is wanted, mm.
        remedies: what may help, the likeliest first; None counts for nothing.
    """
    if wall >= least - 1e-9:
        return None
    how = f"is {wall:.2f} mm" if wall > 0 else f"is missing: {-wall:.2f} mm less than none"
    text = f"{what} {how}; at least {least:.2f} mm is wanted"
    candidates = tuple(r for r in remedies if r is not None)
    numbers = {"wall": wall, "least_wall": least}
    return Finding("error", code, where, text, numbers, candidates=candidates, blocks_solids=wall < SEVERED)


def _edge(site: Site, index: int, plate: Plate) -> Finding | None:
    wall = plate.surface - site.radius - site.half
    largest = 2 * (plate.surface - site.half - site.hole.least_wall)
    what = f"the wall between {site.hole.id} on a circle of {2 * site.radius:.2f} mm and the outer surface"
    remedy = _circle_remedy(index, math.floor(largest * 10) / 10) if largest > 0.1 else None
    words = Remedy(None, None, "thinner screws, or a larger bore")
    others = (remedy, *_thinner(site, index), words)
    return too_thin("edge-distance", site.hole.id, what, wall, site.hole.least_wall, *others)


def _thinner(site: Site, index: int) -> Iterator[Remedy]:
    """Yield the thinner screws that the holes of a circle may have instead."""
    for name in THINNER:
        if find_thread(name).major_diameter < find_thread(site.circle.thread).major_diameter:
            yield Remedy(f"holes[{index}].thread", name, f"{name} screws")


def _beside_taken(site: Site, index: int, plate: Plate) -> Finding | None:
    if not plate.taken:
        return None
    wall = site.radius - site.half - plate.taken
    least = 2 * (plate.taken + site.half + site.hole.least_wall)
    what = f"the wall between {site.hole.id} and the {plate.taken_by}"
    value = math.ceil(least * 10) / 10
    room = value <= 2 * (plate.surface - site.half - site.hole.least_wall)
    remedy = _circle_remedy(index, value) if room else None
    words = Remedy(None, None, f"thinner screws, a smaller {plate.taken_by}, or a larger bore")
    others = (remedy, *_thinner(site, index), words)
    return too_thin("hole-spacing", site.hole.id, what, wall, site.hole.least_wall, *others)


def _beside_pocket(sites: Sequence[Site], plate: Plate) -> Finding | None:
    """Return an error where one of a circle's holes leaves no wall to a pocket beside the middle."""
    if plate.pocket is None:
        return None
    walls = [plate.pocket.gap(*s.hole.frame.origin[:2]) - s.half for s in sites]
    wall, site = min(zip(walls, sites, strict=True), key=lambda pair: pair[0])
    what = f"the wall between {site.hole.id} and the {plate.pocket_by}"
    return too_thin("hole-spacing", site.hole.id, what, wall, site.hole.least_wall)


def _circle_remedy(index: int, value: float) -> Remedy:
    return Remedy(f"holes[{index}].circle_diameter", value, f"a hole circle of {value:g} mm")


def _spacing(a: Site, b: Site, circles: Sequence[HoleCircle], plate: Plate) -> Finding | None:
    what = f"the wall between {a.hole.id} and {b.hole.id}"
    least = max(a.hole.least_wall, b.hole.least_wall)
    words = Remedy(None, None, "fewer or thinner screws, other clocks, or a larger bore")
    index = next(i for i, c in enumerate(circles) if c is b.circle)
    own = (_wider_or_fewer(b, index, plate), *_thinner(b, index)) if a.circle is b.circle else ()
    return too_thin("hole-spacing", a.hole.id, what, _wall_between(a, b), least, *own, words)


def _wider_or_fewer(site: Site, index: int, plate: Plate) -> Remedy | None:
    """Return the circle on which like holes keep their wall, or how many do on the widest one."""
    circle, pitch = site.circle, 2 * site.half + site.hole.least_wall
    widest = 2 * (plate.surface - site.half - site.hole.least_wall)
    wanted = math.ceil(10 * pitch / math.sin(math.pi / circle.count)) / 10
    if wanted <= widest:
        return _circle_remedy(index, wanted)
    if 2 * site.radius <= pitch:
        return None
    count = math.floor(math.pi / math.asin(pitch / (2 * site.radius)))
    return Remedy(f"holes[{index}].count", count, f"{count} holes on this circle")


def plate_thickness(
    setting: Setting, name: str, given: float | None, needs: Iterable[tuple[float, str]], usual: float
) -> Dimension:
    """Return a plate's thickness: as given, or the usual one with what is needed on top.

    Args:
        setting: of the section.
        name: of the dimension.
        given: the maker's thickness, mm, or None.
        needs: thicknesses that something needs, mm, each with why.
        usual: thickness where nothing needs more, mm.
    """
    note = "thickness of the plate"
    if given is not None:
        return setting.fitter.chosen(name, given, note)
    terms = [Term(CHOSEN, usual, "default")]
    needed, why = max(needs, default=(0.0, ""))
    if needed > usual:
        terms.append(Term("room", needed - usual, why))
    return setting.fitter.summed(name, tuple(terms), note)


def thin_finding(plate: Plate, needs: Iterable[tuple[float, str]], blocks: bool) -> Finding | None:
    """Return an error where a plate is thinner than something needs.

    Args:
        plate: the plate.
        needs: thicknesses that something needs, mm, each with why.
        blocks: True where no solid can be made then.
    """
    needed, why = max(needs, default=(0.0, ""))
    if plate.length >= needed - 1e-3:
        return None
    value = math.ceil(needed * 10) / 10
    text = f"the plate is {plate.length:.2f} mm thick; {why} needs {needed:.2f} mm"
    numbers = {"thickness": plate.length, "least_thickness": needed}
    remedy = Remedy("thickness", value, f"a plate {value:g} mm thick")
    where = plate.ctx.name
    return Finding("error", "plate-thin", where, text, numbers, candidates=(remedy,), blocks_solids=blocks)
