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
from typing import ClassVar

from chassis_gen.plan.model import OVERLAP, Disc, Fit, Obstacle, PlacedPart, Rim, SectionPlan, Sector
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.end_fitting_findings import findings
from chassis_gen.sections.end_fitting_layout import laid_out, plate_of, pocket_of, section_length
from chassis_gen.sections.end_fitting_model import POCKET, EndFittingParams, EndFittingPlan
from chassis_gen.sections.features.end_press import placed_press, press_facts, press_fit
from chassis_gen.sections.features.hole_circles import Plate, hole_hardware, hole_obstacles
from chassis_gen.sections.features.lanyard_bar import bar_facts, bar_steps
from chassis_gen.sections.features.screw_hole import hole_cutters
from chassis_gen.sections.features.spigot import spigot_fit, spigot_steps
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Step, cut


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
        return section_length(params, setting)

    def plan(self, params: EndFittingParams, ctx: SectionContext) -> SectionPlan:
        """Return rooms, bar, spigot and holes, and what can't work.

        Raises:
            InputError: a thread or a fit class is unknown.
        """
        d = laid_out(params, ctx)
        plate = plate_of(d, ctx)
        part = placed_press(d.press, d.out, ctx) if d.press else None
        found = tuple(findings(params, d, plate))
        sound = not any(f.blocks_solids for f in found)
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
            findings=found,
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


def _window_facts(window: Dimension, length: float) -> dict[str, float]:
    """Return the area that sound has, and how far from the axis light from the inner face gets out."""
    radius = window.total / 2
    angle = math.degrees(math.atan(radius / length))
    return {"window_area_mm2": math.pi * radius**2, "window_half_angle_deg": angle}


def _fits(d: EndFittingPlan, part: PlacedPart | None, ctx: SectionContext) -> Iterator[Fit]:
    if d.press and part:
        yield press_fit(d.press, part, ctx)
    found = spigot_fit(d.spigot, ctx) if d.spigot else None
    if found:
        yield found


def _obstacles(d: EndFittingPlan, plate: Plate) -> Iterator[Obstacle]:
    """Yield what keeps lanes away: holes, the room in the outer face, all of the spigot."""
    ctx = plate.ctx
    yield from hole_obstacles(d.sites, plate)
    if d.press:
        z0, z1 = _stations(d, d.press.seat_depth.total)
        yield Obstacle(Disc(0.0, 0.0, d.press.seat_diameter.total / 2), z0, z1, f"{d.press.key}'s seat")
    if d.bar:
        yield Obstacle(pocket_of(d.bar, ctx), *_stations(d, d.bar.pocket_depth.total), POCKET)
    if d.window:
        yield Obstacle(Disc(0.0, 0.0, d.window.total / 2), ctx.z0, ctx.z1, "window")
    if d.spigot:
        yield Obstacle(Sector(0.0, 360.0), d.spigot.z0, d.spigot.z1, "spigot")


def _stations(d: EndFittingPlan, depth: float) -> tuple[float, float]:
    a, b = d.out.origin[2], d.out.point((0.0, 0.0, -depth))[2]
    return min(a, b), max(a, b)


KIND = EndFitting()
