"""Cell cradle: cells in line, pushed in from the section's top and held by two arms that reach past the axis.

Origin and axes: the tube's; the section's top is the open side.

     |\\       /|   <- arms end at `arm_height`, where the mouth is narrower than the cell by the squeeze
     | \\     / |
     | |  o  | |       the seat lies on the tube's axis
    _|_ \\___/ _|_  <- top of the base
    \\___________/      base (the spine)

Along the axis: end wall, contact room, shoulder, seat, shoulder, contact room, end wall. Over contact rooms
and shoulders all is open above the base, so the arms stand free at both ends and bend as cantilevers.
"""

from __future__ import annotations

import math
from typing import Annotated, ClassVar, Literal

from msgspec import Struct
from msgspec.structs import replace
from pydantic import Field, model_validator

from chassis_gen.findings import Finding, Remedy, wall_left
from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.catalogue import catalogue
from chassis_gen.parts.model import Keepout, Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import (
    OVERLAP,
    Disc,
    Fit,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    PlayProbe,
    SectionPlan,
    Slab,
)
from chassis_gen.plan.sums import (
    CHOSEN,
    FIT_CLEARANCE,
    GRID,
    PART_SIZE,
    WALL,
    Dimension,
    Term,
)
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.shapes.frame import Frame, negated, reversed_axis, topped
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, Within
from chassis_gen.shapes.recipe import Step, add, cut
from chassis_gen.tables.materials import all_materials

Direction = Literal["plus_far", "plus_near"]

SEAT_FIT = "slide"
SQUEEZE_RANGE = (0.2, 0.4)
USUAL_SQUEEZE = 0.3
LEAST_HOLD = 0.1
"""Squeeze per side with which the smallest cell is still held, mm: common practice, no source."""
USUAL_ARM = 1.6
LEVEL_RANGE = (0.35, 0.75)
USUAL_LEVELS = (0.6, 0.65, 0.7, 0.75)
ARM_RELIEF = 1.0
"""Gap between an arm's end and a shoulder, mm: common practice, no source."""
LEAST_GAS_PATH = 3.0
"""Smallest free path for gas, mm2, about a 2 mm hole: common practice, no source."""
WIDEST_DROP = 57.0
"""How far from straight down a wire may leave a pole, degrees: further out its way would leave a knife edge
under the base's top, with less than 30 degrees between both (chosen)."""
LEAST_GROOVE = 0.2
"""Shallowest groove that still takes a thin ribbon, mm: common practice, no source."""
MOST_CELLS = 2
"""How many smaller cells are tried where one has no room (chosen)."""
MARK_DEPTH = 0.5
MARK_LENGTH = 3.2
MARK_STROKE = 0.8
_PACK = "wired_pack"


class CellCradleParams(SectionParams):
    """Keys of a cell cradle."""

    kind: Literal["cell_cradle"] = "cell_cradle"
    part: str = Field("cell 18650", description="cell or wired pack, by its catalogue name")
    cells: int = Field(1, ge=1, le=8, description="number of cells in line")
    directions: tuple[Direction, ...] = Field(
        ("plus_far",),
        description="where each cell's plus pole points, from the near end on; one entry serves all",
    )
    squeeze: Annotated[float, quantity("mm", *SQUEEZE_RANGE)] | None = Field(
        None,
        description="how far a mean cell spreads each arm on its way in; default 0.3, more if cells vary",
    )
    arm_thickness: Annotated[float, quantity("mm", 0.6, 10)] | None = Field(
        None, description="thickness of the arms; default 1.6, thinner where the snap strain asks for it"
    )
    base_level: Annotated[float, Field(ge=LEVEL_RANGE[0], le=LEVEL_RANGE[1])] | None = Field(
        None,
        description="how far below the axis the base ends, in seat radii; default 0.6, more for longer arms "
        "where the snap strain asks for it",
    )
    contact_room_near: NonNegativeLength = Field(
        4.0, description="room for spring, leaf or tab at the near end"
    )
    contact_room_far: NonNegativeLength = Field(
        4.0, description="room for spring, leaf or tab at the far end"
    )
    end_wall: Annotated[float, quantity("mm", 2, 30)] = Field(
        2.4, description="thickness of the two end walls"
    )
    shoulder: PositiveLength = Field(
        1.6, description="thickness of the shoulder that stops the cell at each end"
    )
    ribbon_slot: bool = Field(
        True, description="groove under the cell and gaps in the arms for a pull ribbon"
    )
    ribbon_width: PositiveLength = Field(8.0, description="width of the pull ribbon's groove")
    ribbon_depth: PositiveLength = Field(0.6, description="depth of the pull ribbon's groove in the base")

    @model_validator(mode="after")
    def _one_direction_per_cell(self) -> CellCradleParams:
        if len(self.directions) not in (1, self.cells):
            allowed = f"1 or {self.cells} entries" if self.cells > 1 else "1 entry"
            text = f"{len(self.directions)} directions for {self.cells} cells"
            raise rejected(Rejection("wrong-count", text, allowed, at=("directions",)))
        return self

    @property
    def each_direction(self) -> tuple[Direction, ...]:
        """Return one direction per cell."""
        return self.directions if len(self.directions) == self.cells else self.directions * self.cells


class Snap(Struct, frozen=True):
    """How the arms hold and bend.

    Args:
        thickness: of an arm, mm.
        level: how far below the axis the base ends, in seat radii.
        length: of an arm, along its middle line from the base to the tip, mm.
        smallest: squeeze per side with the smallest cell, as printed, mm.
        largest: squeeze per side with the largest cell, as printed, mm.
        strain: in the root of an arm while the largest cell passes (fraction).
        limit: the material's, halved or so where the arm bends across the layers (fraction).
    """

    thickness: float
    level: float
    length: float
    smallest: float
    largest: float
    strain: float
    limit: float


class CellCradlePlan(Struct, frozen=True):
    """What a cell cradle decides, mm.

    Args:
        length: of the section.
        seat_diameter: bore of the seat.
        seat_length: of the seat along the axis, between the shoulders.
        mouth_width: between the arms' tips.
        arm_height: of the tips over the axis.
        arm_thickness: of the arms.
        base_height: how far below the axis the base ends.
        end_wall: thickness.
        shoulder: thickness.
        contact_room_near: along the axis.
        contact_room_far: along the axis.
        ribbon_width: of the groove; 0 for none.
        ribbon_depth: of the groove.
        snap: how the arms hold and bend.
        arm_radius: outside of the arms, clipped to the chassis's outer surface.
        seat: first and last station of the seat.
        room: first and last station between the end walls.
        ribbon: first and last station of the ribbon's groove, or None.
        marks: pole at the near and at the far end.
    """

    length: Dimension
    seat_diameter: Dimension
    seat_length: Dimension
    mouth_width: Dimension
    arm_height: Dimension
    arm_thickness: Dimension
    base_height: Dimension
    end_wall: Dimension
    shoulder: Dimension
    contact_room_near: Dimension
    contact_room_far: Dimension
    ribbon_width: Dimension
    ribbon_depth: Dimension
    snap: Snap
    arm_radius: float
    seat: tuple[float, float]
    room: tuple[float, float]
    ribbon: tuple[float, float] | None
    marks: tuple[str, str]


class CellCradle(SectionKind):
    """Cells in line that snap in from the section's top."""

    kind: ClassVar[str] = "cell_cradle"
    title: ClassVar[str] = "cells in line, snapped in from the side and held by two arms"
    Params: ClassVar[type[SectionParams]] = CellCradleParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return walls, contact rooms, shoulders and seat as one sum."""
        assert isinstance(params, CellCradleParams)
        cell = _cell(params, setting)
        seat = _seat_length(params.name, params, cell, setting.fitter)
        source = "parameter file or its default"
        terms = (
            Term(WALL, 2 * params.end_wall, f"both end walls: {source}"),
            Term(CHOSEN, params.contact_room_near, f"contact room at the near end: {source}"),
            Term(CHOSEN, params.contact_room_far, f"contact room at the far end: {source}"),
            Term(CHOSEN, 2 * params.shoulder, f"both shoulders: {source}"),
        )
        return setting.fitter.summed(f"{params.name}.length", terms + seat.terms, "length along the axis")

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the seat, the cells in it, what wires may use, and what can't work."""
        assert isinstance(params, CellCradleParams)
        cell = _cell(params, ctx.setting)
        detail = _detail(params, ctx, cell)
        parts = _placed(params, ctx, cell, detail)
        gas = _gas_path(ctx, detail)
        findings = (
            *_hold_findings(params, ctx, cell, detail),
            *_wall_findings(params, ctx, detail),
            *_order_findings(params, ctx),
            *_gas_findings(ctx, gas),
        )
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            parts=parts,
            fits=_fits(ctx, detail, parts),
            obstacles=_obstacles(ctx, detail),
            terminals=_terminals(params, ctx, cell, detail),
            findings=findings,
            facts=_facts(cell, detail, gas),
            cautions=tuple(cell.cautions),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar, opened above the base, the arms put back, then seat, rooms, ribbon, marks."""
        d = plan.detail
        assert isinstance(d, CellCradlePlan)
        frame = topped(ctx.clock_deg)
        big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
        base, (a, b), (s0, s1) = d.base_height.total, d.room, d.seat
        bore = d.seat_diameter.total / 2
        steps = [
            *ctx.shell(),
            *cut("open above the base", Box((-big, -base, a), (big, big, b), frame)),
            *add("arms", *(_arms(d, lo, hi, big, frame) for lo, hi in _arm_spans(d))),
            *cut("cell seat", Cylinder(bore, s0, s1, frame)),
        ]
        if s0 - d.shoulder.total - a > OVERLAP:
            steps += cut("near contact room", Cylinder(bore, a, s0 - d.shoulder.total, frame))
        if b - s1 - d.shoulder.total > OVERLAP:
            steps += cut("far contact room", Cylinder(bore, s1 + d.shoulder.total, b, frame))
        if d.ribbon:
            steps += cut("ribbon groove", Cylinder(bore + d.ribbon_depth.total, *d.ribbon, frame))
        near, far = d.marks
        steps += cut(f"{near} mark", *_mark(near, ctx.z0, a, ctx, frame))
        steps += cut(f"{far} mark", *_mark(far, b, ctx.z1, ctx, frame))
        return tuple(steps)


# sums -------------------------------------------------------------------------------------------------------


def _cell(params: CellCradleParams, setting: Setting) -> Part:
    """Return the cell or pack, or say what is wrong with the part."""
    part = setting.find_part(params.part)
    if part.kind not in ("cell", _PACK):
        text = f"a {part.kind.replace('_', ' ')} doesn't go into a cell cradle"
        raise InputError(
            [Problem("not-allowed", text, key="part", value=part.name, allowed="a cell or a wired pack")]
        )
    if part.kind == _PACK and params.cells > 1:
        text = "a wired pack has both leads at one end: it stands alone"
        raise InputError([Problem("not-allowed", text, key="cells", value=str(params.cells), allowed="1")])
    return part


def _seat_length(name: str, params: CellCradleParams, cell: Part, fitter: Fitter) -> Dimension:
    """Return the seat's length: the longest cells in line still slide between the shoulders."""
    size, n = cell.sizes["length"], params.cells
    clearance = fitter.classes[SEAT_FIT]
    terms = (
        Term(PART_SIZE, n * size.value, f"{n} x {cell.name}: {size.source}", n * size.tolerance),
        Term("longest cell", n * size.tolerance, f"{n} x upper limit of the length: {size.source}"),
        Term(
            FIT_CLEARANCE,
            2 * clearance.clearance,
            f"{SEAT_FIT}, {clearance.clearance:g} per side: {clearance.source}",
        ),
    )
    note = "between the shoulders, along the axis"
    return fitter.printed_sum(f"{name}.seat_length", terms, fitter.printer.inner, note, coats=2)


def _mouth_width(name: str, squeeze: float, cell: Part, fitter: Fitter) -> Dimension:
    size = cell.sizes["diameter"]
    terms = (
        Term(PART_SIZE, size.value, f"{cell.name}: {size.source}", size.tolerance),
        Term("squeeze", -2 * squeeze, f"{squeeze:g} per side: parameter file or its default"),
    )
    note = "between the arms' tips"
    return fitter.printed_sum(f"{name}.mouth_width", terms, fitter.printer.inner, note, coats=2)


def _least_squeeze(diameter: Measure) -> float:
    """Return the squeeze that still holds the smallest cell, mm, rounded up to 0.01."""
    return math.ceil((LEAST_HOLD + diameter.tolerance / 2) * 100 - 1e-6) / 100


def _squeeze(params: CellCradleParams, cell: Part) -> float:
    if params.squeeze is not None:
        return params.squeeze
    return min(SQUEEZE_RANGE[1], max(USUAL_SQUEEZE, _least_squeeze(cell.sizes["diameter"])))


def cantilever_strain(thickness: float, deflection: float, length: float) -> float:
    """Return the largest strain in a uniform cantilever bent by a force at its tip: 3 t d / (2 L^2).

    Source: beam tables (tip load: M = F L, d = F L^3 / 3 E I, strain = M t / 2 E I).

    Args:
        thickness: in the direction of bending, mm.
        deflection: of the tip, mm.
        length: from root to tip, mm.
    """
    return 3 * thickness * deflection / (2 * length**2)


def _arm_length(seat_radius: float, thickness: float, base: float, height: float) -> float:
    """Return the length of an arm's middle line, an arc from the base's level to the tip's, mm."""
    middle = seat_radius + thickness / 2
    return middle * (math.asin(min(1.0, base / middle)) + math.asin(min(1.0, height / middle)))


def _arm_height(seat_radius: float, mouth: float) -> float:
    """Return the height over the axis at which the seat's circle is as wide as the mouth, mm."""
    return math.sqrt(max(0.0, seat_radius**2 - (mouth / 2) ** 2))


def _snap(
    setting: Setting, cell: Part, seat_radius: float, mouth: Dimension, level: float, thickness: float
) -> Snap:
    """Return how arms of a thickness hold the smallest and bend under the largest cell.

    Lying in the print, an arm is built up layer on layer from root to tip, so it bends across the layers;
    standing, each layer holds a whole arm.
    """
    size = cell.sizes["diameter"]
    printed = setting.fitter.as_made(mouth)
    smallest = (size.value - size.tolerance - printed) / 2
    largest = (size.value + size.tolerance - printed) / 2
    length = _arm_length(seat_radius, thickness, level * seat_radius, _arm_height(seat_radius, mouth.total))
    material = setting.material
    limit = material.snap_strain_limit * (material.across_layers if setting.print_lying else 1.0)
    strain = cantilever_strain(thickness, max(0.0, largest), length)
    return Snap(thickness, level, length, smallest, largest, strain, limit)


def _usual_thicknesses(setting: Setting) -> tuple[float, ...]:
    """Return the arm thicknesses to try: 1.6 mm, then whole nozzle widths down to the least wall."""
    nozzle, least = setting.rules.nozzle, setting.rules.least_wall
    widths = range(math.floor(USUAL_ARM / nozzle - 1e-9), 1, -1)
    thinner = tuple(nozzle * k for k in widths if least - 1e-9 <= nozzle * k < USUAL_ARM - 1e-9)
    return (max(USUAL_ARM, least), *thinner)


def _usual_snap(
    params: CellCradleParams, setting: Setting, cell: Part, seat_radius: float, mouth: Dimension, room: float
) -> Snap:
    """Return the arms that are asked for, or else the stoutest usual ones whose strain stays within limit."""
    asked, level = params.arm_thickness, params.base_level
    thicknesses = (asked,) if asked is not None else _usual_thicknesses(setting)
    levels = (level,) if level is not None else USUAL_LEVELS
    snaps = [_snap(setting, cell, seat_radius, mouth, v, min(t, room)) for v in levels for t in thicknesses]
    return next((s for s in snaps if s.strain <= s.limit), min(snaps, key=lambda s: s.strain))


def _detail(params: CellCradleParams, ctx: SectionContext, cell: Part) -> CellCradlePlan:
    setting, fitter, name = ctx.setting, ctx.setting.fitter, ctx.name
    seat = fitter.inner(
        f"{name}.seat_diameter", cell.sizes["diameter"], SEAT_FIT, "bore of the cell seat", cell.name
    )
    seat_length = _seat_length(name, params, cell, fitter)
    mouth = _mouth_width(name, _squeeze(params, cell), cell, fitter)
    bore = seat.total / 2
    snap = _usual_snap(params, setting, cell, bore, mouth, ctx.radius - bore)
    base = fitter.chosen(f"{name}.base_height", snap.level * bore, "from the axis down to the base's top")
    height = fitter.chosen(
        f"{name}.arm_height",
        _arm_height(bore, mouth.total),
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


# parts, fits, wires -----------------------------------------------------------------------------------------


def _held(cell: Part, detail: CellCradlePlan) -> Part:
    """Return the part; a pack's leads bend inside the shoulder's opening, so its keep-out ends there."""
    if cell.kind != _PACK:
        return cell
    length, reach = cell.size("length"), cell.size("lead_exit_length")
    room = Cylinder(min(detail.base_height.total, cell.size("diameter") / 2), length, length + reach)
    return replace(
        cell, keepouts=(Keepout("lead exit", room, "the leads leave and bend here without being pinched"),)
    )


def _placed(
    params: CellCradleParams, ctx: SectionContext, cell: Part, detail: CellCradlePlan
) -> tuple[PlacedPart, ...]:
    """Return the cells, touching end to end in the middle of the seat."""
    n, length, top = params.cells, cell.size("length"), ctx.top
    end = _axial_play(detail)
    side = (detail.seat_diameter.total - cell.size("diameter")) / 2
    ids = [ctx.name if n == 1 else f"{ctx.name}.cell_{k + 1}" for k in range(n)]
    placed = []
    for k, direction in enumerate(params.each_direction):
        z = detail.seat[0] + end + k * length
        upright = topped(ctx.clock_deg, z)
        plays = (
            Play(top.x_axis, side),
            Play(negated(top.x_axis), side),
            Play(top.y_axis, None),
            Play(negated(top.y_axis), side),
            Play((0.0, 0.0, 1.0), end if k + 1 == n else None),
            Play((0.0, 0.0, -1.0), end if k == 0 else None),
        )
        placed.append(
            PlacedPart(
                id=ids[k],
                part=_held(cell, detail),
                frame=upright
                if direction == "plus_far"
                else reversed_axis(upright.moved((0.0, 0.0, length))),
                section=ctx.name,
                piece=ctx.piece,
                way_in=negated(top.y_axis),
                plays=plays,
                pierces=tuple(ids[j] for j in (k - 1, k + 1) if 0 <= j < n),
                squeeze=max(0.0, (cell.size("diameter") - detail.mouth_width.total) / 2),
            )
        )
    return tuple(placed)


def _axial_play(detail: CellCradlePlan) -> float:
    return (detail.seat_length.total - detail.seat_length.term(PART_SIZE)) / 2


def _fits(ctx: SectionContext, detail: CellCradlePlan, parts: tuple[PlacedPart, ...]) -> tuple[Fit, ...]:
    """Return the fits of the cell across and along; along, the range of lengths comes on top."""
    fitter, top, cell = ctx.setting.fitter, ctx.top, parts[0]
    around = PlayProbe(cell.id, (top.x_axis, negated(top.x_axis), negated(top.y_axis)))
    down, up = (0.0, 0.0, -1.0), (0.0, 0.0, 1.0)
    along = PlayProbe(cell.id, (down, up) if len(parts) == 1 else (down,))
    between = (cell.id, ctx.name)
    axial = fitter.fit(detail.seat_length, "part in seat", between, SEAT_FIT, along)
    low, high = axial.required
    spread = detail.seat_length.term("longest cell")
    return (
        fitter.fit(detail.seat_diameter, "part in seat", between, SEAT_FIT, around),
        replace(axial, required=(low, high + spread)),
    )


def _base_half_angle(ctx: SectionContext, detail: CellCradlePlan, margin: float) -> float:
    """Return how far round from its middle the base reaches at the outer surface, less a margin, degrees."""
    reach = math.degrees(math.acos(min(1.0, detail.base_height.total / ctx.radius)))
    return max(0.0, reach - math.degrees(margin / ctx.radius))


def _obstacles(ctx: SectionContext, detail: CellCradlePlan) -> tuple[Obstacle, ...]:
    a, b = detail.room
    bore = detail.seat_diameter.total / 2
    wide = 2 * ctx.outer.largest_radius(ctx.z0, ctx.z1)
    above = Slab(-wide, wide, -detail.base_height.total, wide, ctx.clock_deg)
    found = [
        Obstacle(above, a, b, "open above the base"),
        Obstacle(Disc(0.0, 0.0, bore), a, b, "cell seat"),
    ]
    if detail.ribbon:
        found.append(
            Obstacle(Disc(0.0, 0.0, bore + detail.ribbon_depth.total), *detail.ribbon, "ribbon groove")
        )
    return tuple(found)


def _terminals(
    params: CellCradleParams, ctx: SectionContext, cell: Part, detail: CellCradlePlan
) -> tuple[PlacedTerminal, ...]:
    """Return the poles in the middle of the contact rooms; drops leave through the base."""
    (a, b), (s0, s1), shoulder = detail.room, detail.seat, detail.shoulder.total
    near, far = (a + s0 - shoulder) / 2, (s1 + shoulder + b) / 2
    plus_far = params.each_direction[-1] == "plus_far"
    half = min(_base_half_angle(ctx, detail, 2.0), WIDEST_DROP)
    bottom = (ctx.clock_deg + 180.0) % 360.0
    exits = ((bottom - half, bottom + half),) if half > 0 else ()
    lead_end = cell.kind == _PACK
    found = []
    for t in cell.terminals:
        at_far = plus_far if t.name == "plus" or lead_end else not plus_far
        x = t.position[0] * (1.0 if plus_far else -1.0) if lead_end else 0.0
        spot = topped(ctx.clock_deg, far if at_far else near).point((x, 0.0, 0.0))
        found.append(
            PlacedTerminal(f"{ctx.name}.{t.name}", spot, exits, t.largest_wire_diameter, t.must_connect)
        )
    return tuple(found)


def _gas_path(ctx: SectionContext, detail: CellCradlePlan) -> float:
    """Return the narrowest of the mouth over the cell and the ring between chassis and bore, mm2.

    Both as made: what is drawn to make up for printing and coating is no part of the chassis in the tube.
    """
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


def _lift(cell: Part, detail: CellCradlePlan) -> float:
    """Return how far a mean cell can rise before it meets the tips, mm (plane geometry)."""
    half = detail.mouth_width.total / 2
    return detail.arm_height.total - math.sqrt(max(0.0, (cell.size("diameter") / 2) ** 2 - half**2))


def _facts(cell: Part, detail: CellCradlePlan, gas: float) -> dict[str, float]:
    snap = detail.snap
    return {
        "gas_path_mm2": gas,
        "squeeze_smallest_mm": snap.smallest,
        "squeeze_largest_mm": snap.largest,
        "snap_arm_length_mm": snap.length,
        "snap_strain_percent": 100 * snap.strain,
        "snap_strain_limit_percent": 100 * snap.limit,
        "lift_before_tips_mm": _lift(cell, detail),
    }


# findings ---------------------------------------------------------------------------------------------------


def _hold_findings(
    params: CellCradleParams, ctx: SectionContext, cell: Part, detail: CellCradlePlan
) -> tuple[Finding, ...]:
    snap, found = detail.snap, []
    if snap.smallest < LEAST_HOLD - GRID:
        wanted = _least_squeeze(cell.sizes["diameter"])
        remedies = (
            (Remedy("squeeze", wanted, f"squeeze {wanted:g} mm"),)
            if wanted <= SQUEEZE_RANGE[1] + 1e-9
            else ()
        )
        message = (
            f"the smallest {cell.name} spreads each arm by {snap.smallest:.3f} mm, less than "
            f"{LEAST_HOLD:g} mm: it can fall out; measure your own cell or squeeze more"
        )
        numbers = {"squeeze_smallest": snap.smallest, "least": LEAST_HOLD}
        found.append(Finding("error", "cell-held-loosely", ctx.name, message, numbers, candidates=remedies))
    if snap.strain > snap.limit:
        layers = "across the layers" if ctx.setting.print_lying else "along the layers"
        message = (
            f"the largest {cell.name} spreads each arm by {snap.largest:.3f} mm: "
            f"{100 * snap.strain:.2f} % strain in "
            f"{ctx.setting.material.name}, which takes {100 * snap.limit:.2f} % {layers}"
        )
        numbers = {
            "strain_percent": 100 * snap.strain,
            "limit_percent": 100 * snap.limit,
            "arm_length": snap.length,
            "arm_thickness": snap.thickness,
            "squeeze_largest": snap.largest,
        }
        candidates = _strain_remedies(params, ctx, cell, detail)
        found.append(Finding("error", "snap-strain", ctx.name, message, numbers, candidates=candidates))
    return tuple(found)


def _strain_remedies(
    params: CellCradleParams, ctx: SectionContext, cell: Part, detail: CellCradlePlan
) -> tuple[Remedy, ...]:
    """Return thinner arms, a lower base, less squeeze and plastics, each only where it would be enough."""
    setting, bore = ctx.setting, detail.seat_diameter.total / 2
    least = setting.rules.least_wall

    def strain_of(thickness: float, base: float, squeeze: float) -> float:
        mouth = _mouth_width(ctx.name, squeeze, cell, setting.fitter)
        return _snap(setting, cell, bore, mouth, base, thickness).strain

    now = (detail.snap.thickness, detail.snap.level, _squeeze(params, cell))
    limit = detail.snap.limit
    thinner = [t / 10 for t in range(math.floor(now[0] * 10 - 1e-6), 0, -1) if t / 10 >= least - 1e-9]
    lower = [b / 100 for b in range(math.ceil(now[1] * 100 + 1e-6), 76)]
    softer = [s / 100 for s in range(math.floor(now[2] * 100 - 1e-6), round(SQUEEZE_RANGE[0] * 100) - 1, -1)]
    softer = [s for s in softer if s >= _least_squeeze(cell.sizes["diameter"]) - 1e-9]
    thickness = next((t for t in thinner if strain_of(t, now[1], now[2]) <= limit), None)
    base = next((b for b in lower if strain_of(now[0], b, now[2]) <= limit), None)
    squeeze = next((s for s in softer if strain_of(now[0], now[1], s) <= limit), None)
    choices = (
        ("arm_thickness", thickness, f"arms {thickness} mm thick"),
        ("base_level", base, f"base down to {base} seat radii"),
        ("squeeze", squeeze, f"squeeze {squeeze} mm"),
    )
    across = setting.print_lying
    limits = {m.name: m.snap_strain_across_layers if across else m.snap_strain_limit for m in all_materials()}
    plastics = sorted((v, name) for name, v in limits.items() if v >= detail.snap.strain)
    return (
        *(Remedy(key, value, text) for key, value, text in choices if value is not None),
        *(Remedy("build.material", name, f"print in {name}; mind its own settings") for _, name in plastics),
        Remedy(
            None,
            None,
            "a plastic that takes more strain, a smaller squeeze with a cell of your own measured, "
            "or a wider tube, in which the arms are longer",
        ),
    )


def _walls(ctx: SectionContext, detail: CellCradlePlan) -> tuple[float, float, float]:
    """Return what is left beside the seat, what is left under it, and how deep the ribbon's groove is, mm."""
    bore = detail.seat_diameter.total / 2
    groove = detail.ribbon_depth.total if detail.ribbon else 0.0
    return ctx.radius - bore, _bottom_radius(ctx) - bore, groove


def _wall_findings(
    params: CellCradleParams, ctx: SectionContext, detail: CellCradlePlan
) -> tuple[Finding, ...]:
    """Return what is too thin: arms clipped by the outer surface, the base under seat and ribbon."""
    least, bore = ctx.setting.rules.least_wall, detail.seat_diameter.total / 2
    arms, floor, groove = _walls(ctx, detail)
    blocks = min(arms, floor) - groove < least / 2
    if arms < least:
        message = (
            f"between the seat's {2 * bore:.2f} mm bore and the chassis's {2 * ctx.radius:.2f} mm outside "
            f"{wall_left(arms)}, less than {least:g} mm"
        )
        numbers = {"wall": arms, "least_wall": least, "largest_seat": 2 * (ctx.radius - least)}
        candidates = _room_remedies(params, ctx, detail)
        return (
            Finding(
                "error", "wall-thin", ctx.name, message, numbers, candidates=candidates, blocks_solids=blocks
            ),
        )
    if floor - groove >= least:
        return ()
    remedies = []
    if detail.ribbon and floor >= least:
        depth = math.floor((floor - least) * 10 + 1e-6) / 10
        if depth >= LEAST_GROOVE:
            remedies.append(Remedy("ribbon_depth", depth, f"ribbon groove {depth:g} mm deep"))
        remedies.append(Remedy("ribbon_slot", False, "no ribbon slot"))
    remedies += _room_remedies(params, ctx, detail)
    message = f"{wall_left(floor - groove)} under the cell, less than {least:g} mm"
    numbers = {"wall": floor - groove, "least_wall": least, "groove": groove}
    return (
        Finding(
            "error", "wall-thin", ctx.name, message, numbers, candidates=tuple(remedies), blocks_solids=blocks
        ),
    )


def _room_remedies(
    params: CellCradleParams, ctx: SectionContext, detail: CellCradlePlan
) -> tuple[Remedy, ...]:
    """Return what gives a cell its wall: bearing all along, the largest like cells that fit, a wider tube.

    Thinner arms or another squeeze don't: the seat's bore alone decides what is left beside it.
    """
    least = ctx.setting.rules.least_wall
    arms, floor, groove = _walls(ctx, detail)
    short = least - min(arms, floor - groove)
    wider = max((s.radius for s in ctx.outer.steps if s.bearing), default=ctx.radius) - ctx.radius
    found = []
    if not params.bearing and wider > GRID and arms + wider >= least and floor >= least:
        found.append(Remedy("bearing", True, "bear on the bore over the whole section"))
    found += [
        Remedy(
            "part", c.name, f"{c.name}, the largest of its sort that fits; mind its capacity and protection"
        )
        for c in _cells_that_fit(params, ctx)[:MOST_CELLS]
    ]
    bore = math.ceil(20 * (ctx.bore_radius + short)) / 10
    words = f"a tube with a bore of {bore:g} mm or more, or a thinner cell"
    if detail.ribbon and floor >= least:
        words += "; without its ribbon slot (ribbon_slot = false) the wall would do, if all else has room"
    return *found, Remedy(None, None, words)


def _cells_that_fit(params: CellCradleParams, ctx: SectionContext) -> list[Part]:
    """Return the generic cells of the same sort that leave enough wall, the thickest first, of these the longest.

    Of the same sort are those whose cautions are the same: another chemistry has another voltage.
    """
    own, least = ctx.setting.find_part(params.part), ctx.setting.rules.least_wall
    fitting = []
    for generic in catalogue().values():
        if generic.kind != own.kind or generic.cautions != own.cautions or generic.name == own.name:
            continue
        cell = ctx.setting.find_part(generic.name)
        arms, floor, groove = _walls(ctx, _detail(params, ctx, cell))
        if arms >= least and floor - groove >= least:
            fitting.append(cell)
    return sorted(fitting, key=lambda c: (-c.size("diameter"), -c.size("length")))


def _bottom_radius(ctx: SectionContext) -> float:
    """Return how far from the axis the material ends below the cell, the printing flat considered, mm."""
    flat = ctx.outer.flat_distance
    off = abs((ctx.outer.flat_clock - ctx.clock_deg - 180.0 + 180.0) % 360.0 - 180.0)
    return min(ctx.radius, flat) if flat is not None and off < 60.0 else ctx.radius


def _order_findings(params: CellCradleParams, ctx: SectionContext) -> tuple[Finding, ...]:
    each = params.each_direction
    clash = next((k for k in range(1, len(each)) if each[k] != each[k - 1]), None)
    if clash is None:
        return ()
    pole = "plus" if each[clash - 1] == "plus_far" else "minus"
    message = f"cells {clash} and {clash + 1} meet {pole} to {pole}: they don't add up"
    remedy = Remedy("directions", [each[0]], f"all cells {each[0]}")
    return (
        Finding("error", "cells-opposed", ctx.name, message, {"cell": float(clash)}, candidates=(remedy,)),
    )


def _gas_findings(ctx: SectionContext, gas: float) -> tuple[Finding, ...]:
    if gas >= LEAST_GAS_PATH:
        return ()
    message = (
        f"gas from the cell has {gas:.1f} mm2 to the outside past the chassis, less than "
        f"{LEAST_GAS_PATH:g} mm2: it must never be sealed in; give the chassis more clearance in the tube"
    )
    numbers = {"gas_path_mm2": gas, "least_mm2": LEAST_GAS_PATH}
    return (Finding("error", "gas-path-closed", ctx.name, message, numbers),)


# solids -----------------------------------------------------------------------------------------------------


def _arm_spans(detail: CellCradlePlan) -> tuple[tuple[float, float], ...]:
    """Return the stations of the arms: free of the shoulders, and open where the ribbon comes up."""
    lo, hi = detail.seat[0] + ARM_RELIEF, detail.seat[1] - ARM_RELIEF
    if detail.ribbon is None:
        return ((lo, hi),)
    return (lo, detail.ribbon[0]), (detail.ribbon[1], hi)


def _arms(detail: CellCradlePlan, lo: float, hi: float, big: float, frame: Frame) -> Primitive:
    """Return both arms as one round bar cut level with the tips; the seat is cut out of it later."""
    box = Box((-big, -detail.base_height.total - OVERLAP, lo - 1.0), (big, detail.arm_height.total, hi + 1.0))
    return Within(Cylinder(detail.arm_radius, lo, hi), box, frame)


def _mark(pole: str, z0: float, z1: float, ctx: SectionContext, frame: Frame) -> tuple[Primitive, ...]:
    """Return the strokes of a plus or a minus in the top of an end wall."""
    low = ctx.outer.smallest_radius(z0, z1) - MARK_DEPTH
    high = ctx.outer.largest_radius(z0, z1) + 1.0
    z, half, stroke = (z0 + z1) / 2, MARK_LENGTH / 2, MARK_STROKE / 2
    across = Box((-half, low, z - stroke), (half, high, z + stroke), frame)
    if pole == "minus":
        return (across,)
    along = min(half, (z1 - z0) / 2 - stroke)
    return across, Box((-stroke, low, z - along), (stroke, high, z + along), frame)


KIND = CellCradle()
