"""Where seat, rooms, arms and ribbon of a cell cradle lie, and what is left of its walls and for gas."""

from __future__ import annotations

import math

from msgspec import Struct

from chassis_gen.parts.model import Part
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.cell_cradle_arms import arm_height, usual_snap
from chassis_gen.sections.cell_cradle_model import CellCradleParams, CellCradlePlan, cell_of
from chassis_gen.sections.cell_cradle_sums import SEAT_FIT, mouth_width, seat_length_of, squeeze_of


class Cradle(Struct, frozen=True):
    """One cradle where it stands.

    Args:
        params: the cradle's keys.
        ctx: where it stands.
        cell: what it holds.
        detail: what was decided.
    """

    params: CellCradleParams
    ctx: SectionContext
    cell: Part
    detail: CellCradlePlan

    @property
    def bore(self) -> float:
        """Return the seat's radius, mm."""
        return self.detail.seat_diameter.total / 2


class Walls(Struct, frozen=True):
    """What is left round a seat, mm: beside it for the arms, under it, and how deep the ribbon's groove is there."""

    arms: float
    floor: float
    groove: float

    @property
    def under(self) -> float:
        """Return what is left under the cell, less the ribbon's groove, mm."""
        return self.floor - self.groove


def laid_out(params: CellCradleParams, ctx: SectionContext) -> Cradle:
    """Return the cradle with the cell that its file names.

    Args:
        params: the cradle's keys.
        ctx: where it stands.

    Raises:
        InputError: the part is unknown, neither cell nor pack, or a pack is to stand in line.
    """
    return laid_out_for(cell_of(params, ctx.setting), params, ctx)


def laid_out_for(cell: Part, params: CellCradleParams, ctx: SectionContext) -> Cradle:
    """Return the cradle as it would be for a cell.

    Args:
        cell: any cell or pack.
        params: the cradle's keys.
        ctx: where it stands.
    """
    return Cradle(params, ctx, cell, _detail(params, ctx, cell))


def _detail(params: CellCradleParams, ctx: SectionContext, cell: Part) -> CellCradlePlan:
    setting, fitter, name = ctx.setting, ctx.setting.fitter, ctx.name
    seat = fitter.inner(
        f"{name}.seat_diameter", cell.sizes["diameter"], SEAT_FIT, "bore of the cell seat", cell.name
    )
    seat_length = seat_length_of(params, cell, fitter)
    mouth = mouth_width(name, squeeze_of(params, cell), cell, fitter)
    bore = seat.total / 2
    snap = usual_snap(params, setting, cell, bore, mouth, ctx.radius - bore)
    base = fitter.chosen(f"{name}.base_height", snap.level * bore, "from the axis down to the base's top")
    height = fitter.chosen(
        f"{name}.arm_height",
        arm_height(bore, mouth.total),
        "tips over the axis",
        "seat bore and mouth width",
    )
    wall = fitter.chosen(f"{name}.end_wall", params.end_wall, "each end wall")
    shoulder = fitter.chosen(f"{name}.shoulder", params.shoulder, "each shoulder")
    near = fitter.chosen(f"{name}.contact_room_near", params.contact_room_near, "along the axis")
    far = fitter.chosen(f"{name}.contact_room_far", params.contact_room_far, "along the axis")
    width = fitter.chosen(
        f"{name}.ribbon_width", params.ribbon_width if params.ribbon_slot else 0.0, "of the groove"
    )
    s0 = ctx.z0 + wall.total + near.total + shoulder.total
    s1 = s0 + seat_length.total
    middle = s0 + seat_length.total * 2 / 3
    half = min(width.total, seat_length.total / 3) / 2
    first, last = params.each_direction[0], params.each_direction[-1]
    return CellCradlePlan(
        length=fitter.chosen(f"{name}.length", ctx.length, "length along the axis", "layout"),
        seat_diameter=seat,
        seat_length=seat_length,
        mouth_width=mouth,
        arm_height=height,
        arm_thickness=fitter.chosen(f"{name}.arm_thickness", snap.thickness, "of each arm"),
        base_height=base,
        end_wall=wall,
        shoulder=shoulder,
        contact_room_near=near,
        contact_room_far=far,
        ribbon_width=width,
        ribbon_depth=fitter.chosen(f"{name}.ribbon_depth", params.ribbon_depth, "of the groove"),
        snap=snap,
        arm_radius=min(bore + snap.thickness, ctx.radius),
        seat=(s0, s1),
        room=(ctx.z0 + wall.total, s1 + shoulder.total + far.total),
        ribbon=(middle - half, middle + half) if params.ribbon_slot else None,
        marks=("minus" if first == "plus_far" else "plus", "plus" if last == "plus_far" else "minus"),
    )


def gas_path(cradle: Cradle) -> float:
    """Return the narrowest of the mouth over the cell and the ring between chassis and bore, mm2.

    Both as made: what is drawn to make up for printing and coating is no part of the chassis in the tube.
    """
    ctx, detail = cradle.ctx, cradle.detail
    made = ctx.setting.fitter.as_made
    mouth = made(detail.mouth_width) * made(detail.seat_length)
    ring = min(_ring(s.made_radius, ctx) for s in ctx.outer.over(ctx.z0, ctx.z1))
    return max(0.0, min(mouth, ring))


def _ring(radius: float, ctx: SectionContext) -> float:
    """Return the ring between the chassis at a radius as made and the bore round it there, mm2.

    A step wider than the section's smallest bore stands in a wider one; bands have the same clearance in all.
    """
    clearance = ctx.bore_radius - max(
        (s.made_radius for s in ctx.outer.steps if s.made_radius < ctx.bore_radius), default=ctx.bore_radius
    )
    bore = ctx.bore_radius if radius <= ctx.bore_radius else radius + clearance
    return math.pi * (bore**2 - radius**2)


def walls_of(cradle: Cradle) -> Walls:
    """Return what is left round the seat."""
    ctx, detail, bore = cradle.ctx, cradle.detail, cradle.bore
    groove = detail.ribbon_depth.total if detail.ribbon else 0.0
    return Walls(ctx.radius - bore, _bottom_radius(ctx) - bore, groove)


def _bottom_radius(ctx: SectionContext) -> float:
    """Return how far from the axis the material ends below the cell, the printing flat considered, mm."""
    flat = ctx.outer.flat_distance
    off = abs((ctx.outer.flat_clock - ctx.clock_deg - 180.0 + 180.0) % 360.0 - 180.0)
    return min(ctx.radius, flat) if flat is not None and off < 60.0 else ctx.radius
