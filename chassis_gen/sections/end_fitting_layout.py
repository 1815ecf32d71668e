"""How thick an end fitting is, and where its rooms, window, spigot and holes stand."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from chassis_gen.plan.model import Slab
from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.sections.base import SectionContext, Setting
from chassis_gen.sections.end_fitting_model import POCKET, EndFittingParams, EndFittingPlan
from chassis_gen.sections.features.end_press import plan_press
from chassis_gen.sections.features.hole_circles import Plate, hole_sites, needed_thickness, plate_thickness
from chassis_gen.sections.features.lanyard_bar import EDGE, LanyardBar, plan_bar, stands_across_layers
from chassis_gen.sections.features.spigot import SAME, plan_spigot
from chassis_gen.shapes.frame import reversed_axis, topped

LEAST_THICKNESS = 4.0
"""The usual thickness of the plate, mm (chosen)."""


def _spigot_length(params: EndFittingParams) -> float:
    return params.spigot.length if params.spigot else 0.0


def needs(params: EndFittingParams, setting: Setting) -> Iterator[tuple[float, str]]:
    """Yield the thicknesses that holes and rooms need, mm, each with why; a room begins at the spigot's end.

    Args:
        params: the fitting's keys.
        setting: makes the sums.
    """
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
    return plate_thickness(setting, name, params.thickness, needs(params, setting), LEAST_THICKNESS)


def section_length(params: EndFittingParams, setting: Setting) -> Dimension:
    """Return the plate's thickness and the spigot's length as one sum.

    Args:
        params: the fitting's keys.
        setting: makes the sums.

    Raises:
        InputError: a thread or a fit class is unknown.
    """
    terms = _thickness(params, setting).terms
    if params.spigot:
        terms = (*terms, Term("spigot", params.spigot.length, "parameter file"))
    return setting.fitter.summed(f"{params.name}.length", terms, "length along the axis")


def laid_out(params: EndFittingParams, ctx: SectionContext) -> EndFittingPlan:
    """Return what an end fitting decides where it stands.

    Args:
        params: the fitting's keys.
        ctx: where it stands.

    Raises:
        InputError: a thread or a fit class is unknown.
    """
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
        section_length(params, setting), _thickness(params, setting), press, bar, window, spigot, (), out
    )
    return replace(bare, sites=tuple(hole_sites(params.holes, plate_of(bare, ctx))))


def plate_of(d: EndFittingPlan, ctx: SectionContext) -> Plate:
    """Return what the holes go through: the plate round the spigot, or all of it.

    Args:
        d: what was decided; its holes don't matter.
        ctx: where the fitting stands.
    """
    taken, by = d.core or (0.0, "")
    z0, z1 = ctx.z0, ctx.z1
    if d.spigot and d.spigot.radius < d.spigot.room / 2 - SAME:
        z0, z1 = (ctx.z0, d.spigot.z0) if d.spigot.z0 > ctx.z0 + 1e-9 else (d.spigot.z1, ctx.z1)
        taken, by = max((d.spigot.radius, "spigot"), (taken, by))
    joined_far = ctx.joined_far and z1 == ctx.z1
    pocket = pocket_of(d.beside, ctx) if d.beside else None
    return Plate(ctx, z0, z1, joined_far, taken, by, pocket, POCKET)


def pocket_of(bar: LanyardBar, ctx: SectionContext) -> Slab:
    """Return the cross-section of the lanyard's pocket.

    Args:
        bar: over the pocket.
        ctx: where the fitting stands.
    """
    half, wide, off = bar.span.total / 2, bar.half_width + EDGE, bar.off_axis.total
    return Slab(-half, half, off - wide, off + wide, ctx.clock_deg)
