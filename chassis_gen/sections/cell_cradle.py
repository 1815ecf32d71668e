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
from collections.abc import Iterator
from typing import ClassVar

from msgspec.structs import replace

from chassis_gen.parts.model import Keepout, Part
from chassis_gen.plan.model import (
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
from chassis_gen.plan.sums import PART_SIZE, Dimension
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.cell_cradle_findings import findings
from chassis_gen.sections.cell_cradle_layout import Cradle, gas_path, laid_out
from chassis_gen.sections.cell_cradle_model import PACK, CellCradleParams, CellCradlePlan
from chassis_gen.sections.cell_cradle_solids import cradle_steps
from chassis_gen.sections.cell_cradle_sums import SEAT_FIT, section_length
from chassis_gen.shapes.frame import negated, reversed_axis, topped
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Step

WIDEST_DROP = 57.0
"""How far from straight down a wire may leave a pole, degrees: further out its way would leave a knife edge
under the base's top, with less than 30 degrees between both (chosen)."""
EDGE_MARGIN = 2.0
"""How far inside the base's edges a wire's way out ends at the outer surface, mm (chosen)."""


class CellCradle(SectionKind):
    """Cells in line that snap in from the section's top."""

    kind: ClassVar[str] = "cell_cradle"
    title: ClassVar[str] = "cells in line, snapped in from the side and held by two arms"
    Params: ClassVar[type[SectionParams]] = CellCradleParams

    def length(self, params: CellCradleParams, setting: Setting) -> Dimension | None:
        """Return walls, contact rooms, shoulders and seat as one sum.

        Raises:
            InputError: the part is unknown, neither cell nor pack, or a pack is to stand in line.
        """
        return section_length(params, setting)

    def plan(self, params: CellCradleParams, ctx: SectionContext) -> SectionPlan:
        """Return the seat, the cells in it, what wires may use, and what can't work.

        Raises:
            InputError: the part is unknown, neither cell nor pack, or a pack is to stand in line.
        """
        cradle = laid_out(params, ctx)
        parts = tuple(_placed(cradle))
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=cradle.detail,
            parts=parts,
            fits=_fits(cradle, parts),
            obstacles=tuple(_obstacles(cradle)),
            terminals=tuple(_terminals(cradle)),
            findings=findings(cradle),
            facts=_facts(cradle),
            cautions=tuple(cradle.cell.cautions),
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar, opened above the base, the arms put back, then seat, rooms, ribbon, marks."""
        assert isinstance(plan.detail, CellCradlePlan)
        return cradle_steps(plan.detail, ctx)


def _held(cradle: Cradle) -> Part:
    """Return the part; a pack's leads bend inside the shoulder's opening, so its keep-out ends there."""
    cell = cradle.cell
    if cell.kind != PACK:
        return cell
    length, reach = cell.size("length"), cell.size("lead_exit_length")
    radius = min(cradle.detail.base_height.total, cell.size("diameter") / 2)
    room = Cylinder(radius, length, length + reach)
    note = "the leads leave and bend here without being pinched"
    return replace(cell, keepouts=(Keepout("lead exit", room, note),))


def _placed(cradle: Cradle) -> Iterator[PlacedPart]:
    """Yield the cells, touching end to end in the middle of the seat."""
    ctx, cell, detail = cradle.ctx, cradle.cell, cradle.detail
    n, length, top = cradle.params.cells, cell.size("length"), ctx.top
    end = _axial_play(detail)
    side = (detail.seat_diameter.total - cell.size("diameter")) / 2
    ids = [ctx.name if n == 1 else f"{ctx.name}.cell_{k + 1}" for k in range(n)]
    for k, direction in enumerate(cradle.params.each_direction):
        upright = topped(ctx.clock_deg, detail.seat[0] + end + k * length)
        turned = reversed_axis(upright.moved((0.0, 0.0, length)))
        plays = (
            Play(top.x_axis, side),
            Play(negated(top.x_axis), side),
            Play(top.y_axis, None),
            Play(negated(top.y_axis), side),
            Play((0.0, 0.0, 1.0), end if k + 1 == n else None),
            Play((0.0, 0.0, -1.0), end if k == 0 else None),
        )
        yield PlacedPart(
            id=ids[k],
            part=_held(cradle),
            frame=upright if direction == "plus_far" else turned,
            section=ctx.name,
            piece=ctx.piece,
            way_in=negated(top.y_axis),
            plays=plays,
            pierces=tuple(ids[j] for j in (k - 1, k + 1) if 0 <= j < n),
            squeeze=max(0.0, (cell.size("diameter") - detail.mouth_width.total) / 2),
        )


def _axial_play(detail: CellCradlePlan) -> float:
    return (detail.seat_length.total - detail.seat_length.term(PART_SIZE)) / 2


def _fits(cradle: Cradle, parts: tuple[PlacedPart, ...]) -> tuple[Fit, ...]:
    """Return the fits of the cell across and along; along, the range of lengths comes on top."""
    ctx, detail, cell = cradle.ctx, cradle.detail, parts[0]
    fitter, top = ctx.setting.fitter, ctx.top
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


def _obstacles(cradle: Cradle) -> Iterator[Obstacle]:
    """Yield what is open above the base, the seat, and the ribbon's groove under it."""
    ctx, detail, bore = cradle.ctx, cradle.detail, cradle.bore
    a, b = detail.room
    wide = 2 * ctx.outer.largest_radius(ctx.z0, ctx.z1)
    above = Slab(-wide, wide, -detail.base_height.total, wide, ctx.clock_deg)
    yield Obstacle(above, a, b, "open above the base")
    yield Obstacle(Disc(0.0, 0.0, bore), a, b, "cell seat")
    if detail.ribbon:
        groove = Disc(0.0, 0.0, bore + detail.ribbon_depth.total)
        yield Obstacle(groove, *detail.ribbon, "ribbon groove")


def _terminals(cradle: Cradle) -> Iterator[PlacedTerminal]:
    """Yield the poles in the middle of the contact rooms; drops leave through the base."""
    ctx, cell, detail = cradle.ctx, cradle.cell, cradle.detail
    (a, b), (s0, s1), shoulder = detail.room, detail.seat, detail.shoulder.total
    near, far = (a + s0 - shoulder) / 2, (s1 + shoulder + b) / 2
    plus_far = cradle.params.each_direction[-1] == "plus_far"
    exits = _exits(cradle)
    lead_end = cell.kind == PACK
    for t in cell.terminals:
        at_far = plus_far if t.name == "plus" or lead_end else not plus_far
        x = t.position[0] * (1.0 if plus_far else -1.0) if lead_end else 0.0
        spot = topped(ctx.clock_deg, far if at_far else near).point((x, 0.0, 0.0))
        name = f"{ctx.name}.{t.name}"
        yield PlacedTerminal(name, spot, exits, t.largest_wire_diameter, t.must_connect)


def _exits(cradle: Cradle) -> tuple[tuple[float, float], ...]:
    """Return the clocks at which wires may leave through the base, from a pole on the tube's axis."""
    radius = cradle.ctx.radius
    reach = math.degrees(math.acos(min(1.0, cradle.detail.base_height.total / radius)))
    half = min(reach - math.degrees(EDGE_MARGIN / radius), WIDEST_DROP)
    bottom = (cradle.ctx.clock_deg + 180.0) % 360.0
    return ((bottom - half, bottom + half),) if half > 0 else ()


def _lift(cradle: Cradle) -> float:
    """Return how far a mean cell can rise before it meets the tips, mm (plane geometry)."""
    radius, half = cradle.cell.size("diameter") / 2, cradle.detail.mouth_width.total / 2
    return cradle.detail.arm_height.total - math.sqrt(max(0.0, radius**2 - half**2))


def _facts(cradle: Cradle) -> dict[str, float]:
    snap = cradle.detail.snap
    return {
        "gas_path_mm2": gas_path(cradle),
        "squeeze_smallest_mm": snap.smallest,
        "squeeze_largest_mm": snap.largest,
        "snap_arm_length_mm": snap.length,
        "snap_strain_percent": 100 * snap.strain,
        "snap_strain_limit_percent": 100 * snap.limit,
        "lift_before_tips_mm": _lift(cradle),
    }


KIND = CellCradle()
