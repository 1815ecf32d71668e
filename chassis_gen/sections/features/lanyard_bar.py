"""Lanyard bar: a printed bar across a pocket in an end face, with an open way round it for the cord.

Origin and axes: a frame on the section's outer end face, +z pointing out of the chassis, +x along the bar, the
bar's middle on its z axis. Beside a window the frame is moved toward the section's top.

       ___       ___   outer face, z = 0
      |   | (o) |   |  the bar, end on, a little below the face
      |   |     |   |
      |    \\___/    |  the cord passes on one side, round below, out on the other
"""

from __future__ import annotations

import math
from typing import Annotated

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Force, NonNegativeLength, PositiveLength, quantity
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import CHOSEN, Dimension, Term
from chassis_gen.sections.base import SectionContext
from chassis_gen.shapes.frame import Frame, shifted
from chassis_gen.shapes.primitives import Box, Cone, Cylinder, Hull
from chassis_gen.shapes.recipe import Step, add, cut

STRANDS = 2
"""Strands of the cord beside each other round the bar: a loop that is drawn through itself."""
CORD_ROOM = 1.0
"""Room beyond the cord, to thread it, mm (chosen)."""
SUNK = 1.0
"""How far the bar stays below the outer face, mm (chosen)."""
ROOT = 1.0
"""How far the bar's ends widen into the walls, mm (chosen)."""
EDGE = 0.8
"""How much is taken off the pocket's edges that the cord runs over, mm (chosen)."""
LEAST_BAR = 4.0
"""Least diameter of a bar, mm: ten lines of a 0.4 mm nozzle (chosen)."""
SAFE_STRESS = 10.0
"""Bending stress that a printed bar may see along its layers, N/mm2: a quarter to a third of what is published
for the strength of common printed plastics (30 to 50 N/mm2, general printing literature; no standard)."""
_SOURCE = "parameter file or its default"


class LanyardTable(BaseModel):
    """A bar for a cord."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    cord_diameter: Annotated[float, quantity("mm", 0.5, 20)] = Field(default=4.0, description="of the cord")
    pull: Annotated[Force, Field(description="pull on the cord that the bar is to bear")] = 50.0
    bar_diameter: PositiveLength | None = Field(
        default=None, description="diameter of the bar; left out: what the pull needs, at least 4 mm"
    )
    off_axis: NonNegativeLength | None = Field(
        default=None,
        description="from the axis to the bar's middle, toward the section's top; left out: 0, or beside a window",
    )


class LanyardBar(Struct, frozen=True):
    """A planned bar, mm.

    Args:
        table: the keys.
        span: length of the bar between the pocket's walls.
        bar_diameter: labelled sum.
        cord_room: between the bar and the pocket's wall, all round.
        pocket_depth: from the outer face to the deepest place of the cord's way.
        least_diameter: what the pull needs.
        stress: bending stress of the bar under the pull, N/mm2.
        allowed_stress: what it may be, N/mm2.
        across_layers: True where the bar stands across the print's layers.
        off_axis: from the tube's axis to the bar's middle.
    """

    table: LanyardTable
    span: Dimension
    bar_diameter: Dimension
    cord_room: Dimension
    pocket_depth: Dimension
    least_diameter: float
    stress: float
    allowed_stress: float
    across_layers: bool
    off_axis: Dimension

    @property
    def half_width(self) -> float:
        """Return half the pocket's width across the bar, mm."""
        return self.bar_diameter.total / 2 + self.cord_room.total

    @property
    def axis_depth(self) -> float:
        """Return how deep the bar's axis lies, mm."""
        return SUNK + self.bar_diameter.total / 2

    @property
    def reach(self) -> float:
        """Return how far the pocket's corners lie from the tube's axis, mm."""
        return math.hypot(self.span.total / 2, self.off_axis.total + self.half_width + EDGE)

    @property
    def inner_edge(self) -> float:
        """Return how far from the tube's axis the pocket begins, mm; negative where it lies over the axis."""
        return self.off_axis.total - self.half_width - EDGE

    @property
    def beside_middle(self) -> bool:
        """Return whether the pocket stands beside the tube's axis."""
        return self.inner_edge > 0


def bending_stress(pull: float, span: float, diameter: float) -> float:
    """Return the largest bending stress of a round bar held at both ends and pulled in its middle, N/mm2.

    The moment is pull x span / 8 and the section modulus pi x diameter^3 / 32 (standard beam tables).

    Args:
        pull: N.
        span: free length, mm.
        diameter: mm.
    """
    return 4 * pull * span / (math.pi * diameter**3)


def bar_diameter_for(pull: float, span: float, stress: float) -> float:
    """Return the diameter at which a bar has just the stress that is allowed, mm; see `bending_stress`.

    Args:
        pull: N.
        span: free length, mm.
        stress: N/mm2.
    """
    return math.cbrt(4 * pull * span / (math.pi * stress))


def plan_bar(
    fitter: Fitter,
    section: str,
    table: LanyardTable,
    across_layers: bool,
    layer_factor: float,
    core: float = 0.0,
) -> LanyardBar:
    """Return a bar with the cord's way round it.

    Args:
        fitter: makes labelled sums.
        section: name of the section, stem of the dimension names.
        table: the keys.
        across_layers: True where the bar stands across the print's layers.
        layer_factor: share of strength left across layers.
        core: radius that a window in the middle takes with its wall, mm; 0 for none.
    """
    strands = Term("cord", STRANDS * table.cord_diameter, f"{STRANDS} strands beside each other: {_SOURCE}")
    room = Term("room to thread it", CORD_ROOM, "chosen")
    roots = Term("roots", 2 * ROOT, "where the bar widens into the walls: chosen")
    span = fitter.summed(f"{section}.bar_span", (strands, room, roots), "length of the bar between the walls")
    allowed = SAFE_STRESS * (layer_factor if across_layers else 1.0)
    least = bar_diameter_for(table.pull, span.total, allowed)
    name, note = f"{section}.bar_diameter", "diameter of the bar that the cord goes round"
    if table.bar_diameter is not None:
        bar = fitter.chosen(name, table.bar_diameter, note)
    else:
        terms = [Term(CHOSEN, LEAST_BAR, "ten lines of a 0.4 mm nozzle")]
        if least > LEAST_BAR:
            why = f"so that {table.pull:g} N bend it with {allowed:g} N/mm2 at most"
            terms.append(Term("strength", math.ceil(10 * least) / 10 - LEAST_BAR, why))
        bar = fitter.summed(name, tuple(terms), note)
    one = Term("cord", table.cord_diameter, _SOURCE)
    cord = fitter.summed(f"{section}.cord_room", (one, room), "between the bar and the pocket, all round")
    depth = fitter.summed(
        f"{section}.bar_pocket_depth",
        (
            Term("bar below the face", SUNK, "chosen"),
            Term("bar", bar.total, bar.name),
            Term("cord's way", cord.total, cord.name),
        ),
        "depth of the pocket",
    )
    stress = bending_stress(table.pull, span.total, bar.total)
    beside = core + bar.total / 2 + cord.total + EDGE if core else 0.0
    name, note = f"{section}.bar_off_axis", "from the axis to the bar's middle"
    if table.off_axis is None:
        off = fitter.chosen(name, beside, note, "beside the window" if core else "in the middle")
    else:
        off = fitter.chosen(name, table.off_axis, note)
    return LanyardBar(table, span, bar, cord, depth, least, stress, allowed, across_layers, off)


def stands_across_layers(out: Frame, ctx: SectionContext) -> bool:
    """Return whether a bar along a frame's x stands across the layers of the print.

    Args:
        out: frame on the outer face.
        ctx: of the section; layers lie parallel to its flat, or across the tube where it is printed standing.
    """
    if not ctx.setting.print_lying:
        return False
    turn = math.radians(ctx.outer.flat_clock)
    x, y, _ = out.x_axis
    return abs(x * math.cos(turn) + y * math.sin(turn)) > math.sin(math.radians(30.0))


def bar_steps(bar: LanyardBar, out: Frame) -> tuple[Step, ...]:
    """Return the pocket and, put back into it, the bar with its roots.

    Args:
        bar: the bar.
        out: frame on the outer face, +z outward, +y to the section's top.
    """
    out = out @ shifted(0.0, bar.off_axis.total)
    half, wide = bar.span.total / 2, bar.half_width
    radius = bar.bar_diameter.total / 2
    along = _along(out, bar.axis_depth)
    pocket = Box((-half, -wide, -bar.axis_depth), (half, wide, OVERLAP), out)
    way = Cylinder(wide, -half, half, along)
    edges = ((-EDGE, wide), (OVERLAP, wide + EDGE + OVERLAP))
    edge = Hull(tuple((x, y, z) for z, b in edges for x in (-half, half) for y in (-b, b)), out)
    # a root goes on into the wall at the same slope
    near = Cone(radius + ROOT + OVERLAP, radius, -half - OVERLAP, -half + ROOT, along)
    far = Cone(radius, radius + ROOT + OVERLAP, half - ROOT, half + OVERLAP, along)
    rod = Cylinder(radius, -half - OVERLAP, half + OVERLAP, along)
    return (*cut("lanyard's pocket", pocket, way, edge), *add("lanyard bar", rod, near, far))


def _along(out: Frame, depth: float) -> Frame:
    """Return the frame of the bar: its +z along the outer frame's x, its +x along that one's y."""
    return Frame(out.point((0.0, 0.0, -depth)), out.y_axis, out.z_axis, out.x_axis)


def bar_facts(bar: LanyardBar) -> dict[str, float]:
    """Return what the maker wants to see of the bar: its stress and the pull that it bears.

    Args:
        bar: the bar.
    """
    bears = bar.allowed_stress / bending_stress(1.0, bar.span.total, bar.bar_diameter.total)
    return {"bar_stress_n_mm2": bar.stress, "bar_bears_n": bears}


def bar_findings(bar: LanyardBar, where: str) -> tuple[Finding, ...]:
    """Return an error where the bar is too thin for the pull or for print.

    Args:
        bar: the bar.
        where: the section's name.
    """
    wanted = max(bar.least_diameter, LEAST_BAR)
    if bar.bar_diameter.total >= wanted - 1e-3:
        return ()
    layers = "across its layers" if bar.across_layers else "along its layers"
    text = (
        f"a bar of {bar.bar_diameter.total:.2f} mm bends under {bar.table.pull:g} N with {bar.stress:.1f} N/mm2; "
        f"{bar.allowed_stress:.1f} are allowed {layers} and {wanted:.2f} mm wanted"
    )
    numbers = {"diameter": bar.bar_diameter.total, "wanted": wanted, "stress": bar.stress}
    value = math.ceil(10 * wanted) / 10
    remedy = Remedy("lanyard.bar_diameter", value, f"a bar of {value:g} mm")
    return (Finding("error", "bar-thin", where, text, numbers, candidates=(remedy,)),)
