"""Custom: seats any part, such as one taken from a model, by the way it goes in.

Origin and axes: the tube's; the part's own y lies along the tube, its z toward the section's top (`along` swaps
them). The seat is the room that the part's envelope sweeps on its way in, grown by the fit's clearance on all
sides, so that a narrower lower part leaves ledges for the wider upper one.

       open to the top          looking in from the mouth
      |   |______|   |
      |    |part|    |   ledges where the envelope is narrower
       \\__spine____/
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import ClassVar, Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Length, PositiveLength
from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.model import (
    OVERLAP,
    Fit,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    PlayProbe,
    SectionPlan,
    Slab,
)
from chassis_gen.plan.sums import WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.convex import convex_points
from chassis_gen.sections.features.fit_names import known_fit
from chassis_gen.shapes.frame import IDENTITY, Frame, Vec3
from chassis_gen.shapes.primitives import Hull
from chassis_gen.shapes.recipe import Step, cut

SIZE_NAMES = ("width", "length", "height")
"""Sizes of a part along its own x, y and z, where it has them; their tolerance goes into the seat's sums."""
SPINE_BAND = 8.0
"""Width of the band opposite the top that has to hold both ends together, mm."""
FLAT_DEPTH = 1.0
"""How deep the printing flat may be cut there, mm."""
SPINE_EXIT = 25.0
"""Half the clock interval round the spine that a wire's drop keeps out of, degrees."""


class CustomParams(SectionParams):
    """Keys of a custom section."""

    kind: Literal["custom"] = "custom"
    part: str = Field(min_length=1, max_length=80, description="any part; it is seated by its envelope")
    goes_in: Literal["top", "mouth", "far"] = Field(
        "top", description="where the part comes from: the section's top, the mouth's side, the far side"
    )
    along: Literal["y", "z"] = Field(
        "y", description="the part's own axis that lies along the tube, going in; the other points to the top"
    )
    fit: str = Field("slide", max_length=40, description="fit class of the seat, on all sides")
    end_wall: PositiveLength = Field(2.4, description="thickness of each end wall")
    height: Length | None = Field(
        None, description="part's underside over the tube's axis; left out: the part lies in the middle"
    )


class CustomPlan(Struct, frozen=True):
    """What a custom section decides: its sums, and the swept pieces of its seat."""

    length: Dimension
    end_wall: Dimension
    seat_width: Dimension
    seat_height: Dimension
    seat_length: Dimension
    voids: tuple[Hull, ...]


class _Box(Struct, frozen=True):
    """A part's extents in its own frame and how far its seat stands off them per side, mm."""

    low: Vec3
    high: Vec3
    clearance: Vec3


class Custom(SectionKind):
    """A seat for any part."""

    kind: ClassVar[str] = "custom"
    title: ClassVar[str] = "seat for any part, by the way it goes in; for parts taken from a model"
    Params: ClassVar[type[SectionParams]] = CustomParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: CustomParams, setting: Setting) -> Dimension | None:
        """Return the part's length with its clearance and two end walls.

        Raises:
            InputError: the part or the fit class is unknown.
        """
        seat = _sums(params, setting)[1]
        terms = (
            Term(WALL, 2 * params.end_wall, "two end walls"),
            Term("seat", seat.total, f"{params.name}.seat_length"),
        )
        return setting.fitter.summed(f"{params.name}.length", terms, "length along the axis")

    def plan(self, params: CustomParams, ctx: SectionContext) -> SectionPlan:
        """Return the part in its seat.

        Raises:
            InputError: the part or the fit class is unknown.
        """
        setting, part = ctx.setting, ctx.setting.find_part(params.part)
        width, along, height = _sums(params, setting)
        low, high = extent(extent_of(s) for s in part.envelope)
        box = _Box(low, high, _by_axis(params, (_per_side(width), _per_side(along), _per_side(height))))
        frame = _frame(params, ctx, box)
        way_in = _way_in(params, ctx)
        reach = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
        voids = tuple(_voids(part, frame, box.clearance, way_in, _travel(params, ctx, reach)))
        detail = CustomPlan(
            _own_length(self, params, setting),
            setting.fitter.chosen(f"{ctx.name}.end_wall", params.end_wall, "thickness of each end wall"),
            width,
            height,
            along,
            voids,
        )
        return SectionPlan(
            kind=self.kind,
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            parts=(
                PlacedPart(
                    ctx.name,
                    part,
                    frame,
                    ctx.name,
                    ctx.piece,
                    way_in,
                    tuple(_plays(frame, box.clearance, way_in)),
                ),
            ),
            fits=tuple(_fits(params, ctx, detail, frame, way_in)),
            obstacles=tuple(_obstacles(voids, ctx)),
            terminals=tuple(_terminals(part, frame, params, ctx)),
            findings=tuple(_findings(params, ctx, detail, part, frame)),
            facts={"part_mass_g": part.mass_g},
            cautions=part.cautions,
        )

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return a full bar less the swept seat."""
        detail = plan.detail
        assert isinstance(detail, CustomPlan)
        return (*ctx.shell(), *cut("part's seat", *detail.voids))


def _own_length(kind: Custom, params: CustomParams, setting: Setting) -> Dimension:
    length = kind.length(params, setting)
    assert length is not None
    return length


def _sums(params: CustomParams, setting: Setting) -> tuple[Dimension, Dimension, Dimension]:
    """Return the seat's size across, along the tube and in height."""
    known_fit(setting.fitter, params.fit)
    part = setting.find_part(params.part)
    low, high = extent(extent_of(s) for s in part.envelope)
    along, up = _axes(params)
    named = (
        ("seat_width", 0, "across"),
        ("seat_length", along, "along the tube"),
        ("seat_height", up, "in height"),
    )
    made = []
    for name, k, words in named:
        size = SIZE_NAMES[k]
        tolerance = part.sizes[size].tolerance if part.has(size) else 0.0
        measure = Measure(high[k] - low[k], tolerance, part.source)
        note = f"size of the part's seat {words}"
        made.append(setting.fitter.inner(f"{params.name}.{name}", measure, params.fit, note, params.part))
    return made[0], made[1], made[2]


def _axes(params: CustomParams) -> tuple[int, int]:
    """Return which of the part's axes lies along the tube, and which points to the section's top."""
    return (1, 2) if params.along == "y" else (2, 1)


def _by_axis(params: CustomParams, across_along_up: Vec3) -> Vec3:
    """Return values across, along and in height in the order of the part's own axes."""
    across, along, up = across_along_up
    return (across, along, up) if params.along == "y" else (across, up, along)


def _per_side(seat: Dimension) -> float:
    return (seat.total - seat.term("part size")) / 2


def _way_in(params: CustomParams, ctx: SectionContext) -> Vec3:
    if params.goes_in == "top":
        return ctx.top.vector((0.0, -1.0, 0.0))
    return (0.0, 0.0, 1.0) if params.goes_in == "mouth" else (0.0, 0.0, -1.0)


def _frame(params: CustomParams, ctx: SectionContext, box: _Box) -> Frame:
    """Return the part's frame: its x across, one of the others along the tube, the third toward the top."""
    along, up = _axes(params)
    height = params.height - box.low[up] if params.height is not None else -(box.low[up] + box.high[up]) / 2
    station = ctx.z0 + params.end_wall + box.clearance[along] - box.low[along]
    top = ctx.top
    origin = top.point((-(box.low[0] + box.high[0]) / 2, height, station - ctx.z0))
    if params.along == "z":
        return Frame(origin, top.vector((1.0, 0.0, 0.0)), top.vector((0.0, 1.0, 0.0)), (0.0, 0.0, 1.0))
    # right-handed with y along the tube and z toward the top, its x runs against the section's
    origin = top.point(((box.low[0] + box.high[0]) / 2, height, station - ctx.z0))
    return Frame(origin, top.vector((-1.0, 0.0, 0.0)), (0.0, 0.0, 1.0), top.vector((0.0, 1.0, 0.0)))


def _travel(params: CustomParams, ctx: SectionContext, reach: float) -> float:
    """Return how far the part's envelope is swept back along its way in, mm: out of the section."""
    return 2 * reach if params.goes_in == "top" else ctx.length + 2 * OVERLAP


def _voids(part: Part, frame: Frame, clearance: Vec3, way_in: Vec3, travel: float) -> Iterator[Hull]:
    """Yield one hull per convex piece, in the part's frame: grown by the clearance along its axes, and swept."""
    a, b, c = clearance
    moves = [(i * a, j * b, k * c) for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)]
    axes = (frame.x_axis, frame.y_axis, frame.z_axis)
    x, y, z = (-travel * round(sum(p * q for p, q in zip(way_in, axis, strict=True))) for axis in axes)
    for points in convex_points(part.envelope, IDENTITY):
        grown = [(p[0] + m[0], p[1] + m[1], p[2] + m[2]) for p in points for m in moves]
        yield Hull((*grown, *((p[0] + x, p[1] + y, p[2] + z) for p in grown)), frame)


def _placed(void: Hull) -> tuple[Vec3, ...]:
    return tuple(void.frame.point(p) for p in void.points)


def _plays(frame: Frame, clearance: Vec3, way_in: Vec3) -> Iterator[Play]:
    for axis, play in zip((frame.x_axis, frame.y_axis, frame.z_axis), clearance, strict=True):
        for sign in (1.0, -1.0):
            d = (sign * axis[0], sign * axis[1], sign * axis[2])
            out = sum(a * b for a, b in zip(d, way_in, strict=True)) < -0.5
            yield Play(d, None if out else play)


def _fits(
    params: CustomParams, ctx: SectionContext, detail: CustomPlan, frame: Frame, way_in: Vec3
) -> Iterator[Fit]:
    fitter = ctx.setting.fitter
    sums = (detail.seat_width, detail.seat_length, detail.seat_height)
    axes = (frame.x_axis, frame.y_axis, frame.z_axis)
    for k, seat in zip((0, *_axes(params)), sums, strict=True):
        axis = axes[k]
        along = sum(a * b for a, b in zip(axis, way_in, strict=True))
        opposite = (-axis[0], -axis[1], -axis[2])
        ways = (axis, opposite) if abs(along) < 0.5 else (axis if along > 0 else opposite,)
        probe = PlayProbe(ctx.name, ways)
        yield fitter.fit(seat, "part in seat", (params.part, ctx.piece), params.fit, probe)


def _box_of(points: Iterable[Vec3], frame: Frame) -> tuple[Vec3, Vec3]:
    """Return the extents of points in a frame turned like the section's top, origin on the axis."""
    rows = [
        (
            sum(a * b for a, b in zip(p, frame.x_axis, strict=True)),
            sum(a * b for a, b in zip(p, frame.y_axis, strict=True)),
            p[2],
        )
        for p in points
    ]
    low, high = (tuple(f(c) for c in zip(*rows, strict=True)) for f in (min, max))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _obstacles(voids: tuple[Hull, ...], ctx: SectionContext) -> Iterator[Obstacle]:
    for void in voids:
        low, high = _box_of(_placed(void), ctx.top)
        slab = Slab(low[0], high[0], low[1], high[1], ctx.clock_deg)
        yield Obstacle(slab, max(low[2], ctx.z0), min(high[2], ctx.z1), "part's seat")


def _terminals(
    part: Part, frame: Frame, params: CustomParams, ctx: SectionContext
) -> Iterator[PlacedTerminal]:
    """Yield the part's terminals; a drop goes sideways through the seat's wall, clear of spine and open top."""
    top = ctx.clock_deg
    sides = ((top - 180 + SPINE_EXIT, top - 40.0), (top + 40.0, top + 180 - SPINE_EXIT))
    for t in part.terminals:
        x, y, z = frame.point(t.position)
        inside = min(max(z, ctx.z0 + params.end_wall), ctx.z1 - params.end_wall)
        yield PlacedTerminal(
            f"{ctx.name}.{t.name}", (x, y, on_grid(inside)), sides, t.largest_wire_diameter, t.must_connect
        )


def _findings(
    params: CustomParams, ctx: SectionContext, detail: CustomPlan, part: Part, frame: Frame
) -> Iterator[Finding]:
    boxes = [_box_of(_placed(v), ctx.top) for v in detail.voids]
    wall = ctx.setting.rules.least_wall
    yield from _spine_finding(params, ctx, min(b[0][1] for b in boxes), wall)
    corners = (p for points in convex_points(part.envelope, frame) for p in points)
    reach = max(math.hypot(p[0], p[1]) for p in corners)
    if reach > ctx.bore_radius:
        message = (
            f"{params.part} reaches {reach:.2f} mm from the axis in {ctx.name}; the bore's radius there is "
            f"{ctx.bore_radius:.2f} mm"
        )
        numbers = {"reach": reach, "bore_radius": ctx.bore_radius}
        yield Finding(
            "error",
            "part-outside-bore",
            ctx.name,
            message,
            numbers,
            candidates=(*_laid_otherwise(params), Remedy(None, None, "a smaller part or a larger bore")),
            blocks_solids=True,
        )
    blocked = (params.goes_in == "mouth" and ctx.joined_near) or (params.goes_in == "far" and ctx.joined_far)
    if blocked:
        side = "before" if params.goes_in == "mouth" else "after"
        message = (
            f"{params.part} is to go into {ctx.name} from the {params.goes_in} side, where the section {side} it "
            "closes the way"
        )
        candidates = (Remedy("goes_in", "top", "let the part in from the top"),)
        yield Finding("error", "way-in-blocked", ctx.name, message, candidates=candidates)
    if params.goes_in != "top":
        side_reach = max(math.hypot(p[0], p[1]) for v in detail.voids for p in _placed(v))
        if side_reach > ctx.radius - wall:
            message = (
                f"the seat of {params.part} reaches {side_reach:.2f} mm from the axis in {ctx.name} and leaves no "
                f"{wall:.2f} mm of wall under the chassis's surface at {ctx.radius:.2f} mm"
            )
            numbers = {"reach": side_reach, "wall": wall, "radius": ctx.radius}
            candidates = (Remedy("goes_in", "top", "let the part in from the top"),)
            yield Finding(
                "error", "seat-thin", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
            )


def _laid_otherwise(params: CustomParams) -> tuple[Remedy, ...]:
    """Return a part's other axis along the tube, and the part in the middle of it."""
    other = "z" if params.along == "y" else "y"
    turned = Remedy("along", other, f"its {other} axis along the tube")
    middle = (Remedy("height", None, "the part in the middle"),) if params.height is not None else ()
    return (turned, *middle)


def _spine_finding(
    params: CustomParams, ctx: SectionContext, lowest: float, wall: float
) -> Iterator[Finding]:
    """Yield an error where too little is left under the seat to hold both ends together."""
    band = min(SPINE_BAND, ctx.radius)
    under = math.sqrt(ctx.radius**2 - (band / 2) ** 2)
    flat = abs((ctx.clock_deg + 180 - ctx.outer.flat_clock + 180) % 360.0 - 180) < 45
    left = lowest + under - (FLAT_DEPTH if flat and ctx.outer.flat_distance is not None else 0.0)
    if left < 2 * wall:
        height = params.height if params.height is not None else 0.0
        need = 2 * wall - left
        message = (
            f"the seat of {params.part} leaves {max(left, 0.0):.2f} mm of spine under it in {ctx.name}; "
            f"{2 * wall:.2f} mm are needed"
        )
        numbers = {"left": left, "needed": 2 * wall, "lift": need}
        lift = round(height + need + 0.05, 2)
        lifted = (Remedy("height", lift, f"lift the part by {need:.2f} mm"),)
        candidates = (
            *(lifted if params.height is not None else ()),
            *_laid_otherwise(params),
            *params.wider(),
            Remedy(None, None, "a smaller part or a larger bore"),
        )
        yield Finding(
            "error", "spine-thin", ctx.name, message, numbers, candidates=candidates, blocks_solids=True
        )


KIND = Custom()
