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
from collections.abc import Iterable, Mapping
from typing import Annotated, Any, ClassVar, Literal

from msgspec import Struct
from msgspec.structs import replace
from pydantic import Field, model_validator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import NonNegativeLength, quantity
from chassis_gen.plan.model import OVERLAP, Disc, Obstacle, SectionPlan
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.hole_circles import (
    SEVERED,
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
from chassis_gen.sections.features.screw_hole import hole_cutters
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
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Step, cut

LEAST_THICKNESS = 4.0
"""The usual thickness, mm (chosen)."""


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


class EndPlatePlan(Struct, frozen=True):
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

    def length(self, params: EndPlateParams, setting: Setting) -> Dimension:
        """Return the plate's thickness: as given, or what its holes need."""
        return _thickness(params, setting)

    def plan(self, params: EndPlateParams, ctx: SectionContext) -> SectionPlan:
        """Return the holes, what lanes must keep away from, and the walls that are too thin."""
        opening = _opening(params, ctx)
        plate = _plate(ctx, opening)
        sites = tuple(hole_sites(params.holes, plate))
        nut = next((s.hole.nut for s in sites if s.hole.nut), None)
        screw = plan_set_screw(params.set_screw, params.at_opening, ctx) if params.set_screw else None
        hardware = list(hole_hardware(params.holes, ctx.name))
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
            obstacles=(*_obstacles(sites, plate), *((pad_obstacle(screw.pad),) if screw else ())),
            hardware=tuple(hardware),
            findings=(*_findings(params, sites, opening, plate), *_screw_findings(params, detail, ctx)),
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


def _needs(params: EndPlateParams, setting: Setting) -> list[tuple[float, str]]:
    """Return the thicknesses that holes and set screw need, mm, each with why."""
    needs = [needed_thickness(c, setting) for c in params.holes]
    if params.set_screw:
        thread = params.set_screw.thread
        width = pad_width(setting.fitter, f"{params.name}.set_screw", thread).total
        needs.append((width, f"{thread} set screw's pad with its walls"))
    return needs


def _thickness(params: EndPlateParams, setting: Setting) -> Dimension:
    needs = _needs(params, setting)
    return plate_thickness(setting, f"{params.name}.length", params.thickness, needs, LEAST_THICKNESS)


def _opening(params: EndPlateParams, ctx: SectionContext) -> Dimension | None:
    if not params.wire_opening:
        return None
    name, source = f"{ctx.name}.wire_opening_diameter", "parameter file"
    lying = ctx.setting.print_lying
    return ctx.setting.fitter.hole(name, params.wire_opening, source, "hole for wires", lying)


def _plate(ctx: SectionContext, opening: Dimension | None) -> Plate:
    taken = opening.total / 2 if opening else 0.0
    return Plate(ctx, ctx.z0, ctx.z1, ctx.joined_far, taken, "wire opening")


def _obstacles(sites: tuple[Site, ...], plate: Plate) -> tuple[Obstacle, ...]:
    found = hole_obstacles(sites, plate)
    if not plate.taken:
        return found
    return (*found, Obstacle(Disc(0.0, 0.0, plate.taken), plate.z0, plate.z1, plate.taken_by))


# findings -------------------------------------------------------------------------------------------


def _findings(
    params: EndPlateParams, sites: tuple[Site, ...], opening: Dimension | None, plate: Plate
) -> tuple[Finding, ...]:
    more = (_opening_room(opening, plate), _thin(params, plate))
    return (*hole_findings(params.holes, sites, plate), *(f for f in more if f))


def _opening_room(opening: Dimension | None, plate: Plate) -> Finding | None:
    if opening is None:
        return None
    least = plate.ctx.setting.rules.wall
    largest = math.floor(10 * 2 * (plate.surface - least - 0.25)) / 10
    remedy = Remedy("wire_opening", largest, f"an opening of {largest:g} mm")
    wall = plate.surface - opening.total / 2
    return too_thin("edge-distance", plate.ctx.name, "the wall round the wire opening", wall, least, remedy)


def _thin(params: EndPlateParams, plate: Plate) -> Finding | None:
    nut = params.set_screw is not None or any(c.kind == "captive_nut" for c in params.holes)
    return thin_finding(plate, _needs(params, plate.ctx.setting), nut)


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
