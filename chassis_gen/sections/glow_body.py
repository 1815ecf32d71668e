"""The translucent body of a glow chamber and what holds its ends: round troughs, or voids of its own form.

Origin and axes: the body's frame, +z along the tube from the body's near end, +y to the clock at which it goes in,
+x across. A body from a model is taken by its envelope's convex pieces. What of them lies in an end's lip is grown
across by the glue gap, its flat end along the axis, and swept out of the way in: each end is held by the gap,
whatever the body is between.

       way in |     |
              |     |        looking in from the mouth: the end's void follows the body below,
             _|/---\\|_       and is straight above it
               \\___/
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, PlacedPart, Play
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext, Setting
from chassis_gen.sections.convex import convex_points
from chassis_gen.sections.features.fit_names import known_fit
from chassis_gen.sections.glow_keys import (
    BodySeat,
    GlowChamberParams,
    GlowChamberPlan,
    body_span,
    checked_part,
)
from chassis_gen.shapes.frame import Frame, Vec3, clocked, negated, shifted, topped
from chassis_gen.shapes.primitives import Box, Cylinder, Hull, Point2
from chassis_gen.shapes.recipe import Step, cut

OWN = "imported"
BODY_KINDS = ("glow_rod", "glow_prism", OWN)
FLAT_END = 0.05
"""How deep what counts as the flat of a body's end may lie, mm (chosen)."""
END_PLANE = 1e-3
"""How far corners of a body's end may lie apart along the axis, mm (chosen)."""
RAYS = 72
"""Directions in which a body's cross-section is looked at (chosen)."""
LEAST_HELD = 0.5
"""Least of each end of a body that its seat is made for, mm (chosen)."""
SIZE_NAMES = ("width", "length", "height")
"""Sizes of a part along its own x, y and z, where it has them; their tolerance goes into the seat's sums."""


def find_body(params: GlowChamberParams, setting: Setting) -> Part:
    """Return the translucent body.

    Raises:
        InputError: it is unknown or of the wrong kind, or the glue's fit class is unknown.
    """
    known_fit(setting.fitter, params.glue_fit)
    return checked_part(params.part, BODY_KINDS, "part", "body that glows", setting)


def body_size(body: Part) -> str:
    """Return the name of the size of a rod or prism that its trough is made for."""
    return "diameter" if body.kind == "glow_rod" else "corner_diameter"


def body_length(params: GlowChamberParams, body: Part) -> Measure:
    """Return the length of a body along the tube, mm."""
    if body.kind != OWN:
        return body.sizes["length"]
    return _measure(body, 1 if params.along == "y" else 2)


def body_room_sum(params: GlowChamberParams, body: Part, fitter: Fitter) -> Dimension:
    """Return the room between the faces at the body's ends."""
    note = "between the faces at the body's ends"
    size = body_length(params, body)
    return fitter.inner(f"{params.name}.body_room", size, params.glue_fit, note, body.name)


def plan_body_seat(
    params: GlowChamberParams, body: Part, room: Dimension, led_reach: float, fitter: Fitter
) -> BodySeat:
    """Return what a body takes across.

    Args:
        params: the keys.
        body: the body.
        room: between the faces at its ends.
        led_reach: how far an LED's bore reaches from the axis, mm.
        fitter: makes labelled sums.
    """
    name, fit = params.name, params.glue_fit
    if body.kind != OWN:
        size = body_size(body)
        note = "troughs for the body's ends"
        made = fitter.inner(f"{name}.body_seat_diameter", body.sizes[size], fit, note, body.name)
        half, stands = made.total / 2, body.size(size) / 2
        if body.kind == "glow_prism":
            stands *= math.cos(math.pi / body.size("sides"))
        return BodySeat(made, None, half, half, half, (stands, stands), True)
    wide, high = _measure(body, 0), _measure(body, 2 if params.along == "y" else 1)
    width = fitter.inner(f"{name}.body_seat_width", wide, fit, "seats of the body's ends, across", body.name)
    height = fitter.inner(
        f"{name}.body_seat_height", high, fit, "seats of the body's ends, in height", body.name
    )
    a, b, c = gaps(params, body, width, height, room)
    long, held = body_length(params, body).value, _held(params.lip, c)
    pieces = _pieces(params, body)
    reach = max(math.hypot(abs(x) + a, abs(y) + b) for p in pieces for x, y, _ in p)
    stands_in = (_cover(pieces, 0.0, held), _cover(pieces, long - held, long))
    flat = (_cover(pieces, 0.0, FLAT_END), _cover(pieces, long - FLAT_END, long))
    steady = min(flat) > led_reach and all(
        _growth(pieces, near, far) <= min(a, b)
        for near, far in (((0.0, held), (0.0, held + c)), _back(long, held, c))
    )
    return BodySeat(width, height, width.total / 2, reach, height.total / 2, stands_in, steady)


def gaps(params: GlowChamberParams, body: Part, width: Dimension, height: Dimension, room: Dimension) -> Vec3:
    """Return the gap round a body of its own form in the model, per side: across, in height, along, mm."""
    low, high = _extent(params, body)
    sizes = (width.total, height.total, room.total)
    a, b, c = (max(0.0, (s - (q - p)) / 2) for s, p, q in zip(sizes, low, high, strict=True))
    return a, b, c


def lip_voids(
    params: GlowChamberParams, ctx: SectionContext, body: Part, d: GlowChamberPlan
) -> tuple[Hull, ...]:
    """Return what is cut out of both ends for a body of its own form; nothing for round troughs."""
    if d.seat.height is None:
        return ()
    a, b, c = gaps(params, body, d.seat.across, d.seat.height, d.body_room)
    long, held = body_length(params, body).value, _held(params.lip, c)
    frame = _body_frame(d, ctx, long)
    out = ctx.outer.largest_radius(ctx.z0, ctx.z1) + d.seat.reach + 1.0
    moves = [(i * a, y) for i in (-1, 1) for y in (-b, out)]
    voids = []
    for piece in _pieces(params, body):
        # sides keep the body's slope, so that it is met by faces; only its flat end goes back by the gap
        ends = (
            (clipped(piece, 0.0, held + OVERLAP), 0.0, (-c, OVERLAP)),
            (clipped(piece, long - held - OVERLAP, long), long, (c, -OVERLAP)),
        )
        for points, z, stretch in ends:
            end = {(x, y) for x, y, height in points if abs(height - z) < END_PLANE}
            swept = [(*points,), tuple((x, y, z + s) for x, y in end for s in stretch)]
            voids += [
                Hull(tuple((x + p, y + q, r) for x, y, r in corners for p, q in moves), frame)
                for corners in swept
                if len({r for *_, r in corners}) > 1
            ]
    return tuple(voids)


def placed_body(params: GlowChamberParams, ctx: SectionContext, body: Part, d: GlowChamberPlan) -> PlacedPart:
    """Return the body in its seat."""
    long = body_length(params, body).value
    frame = _body_frame(d, ctx, long)
    turned = frame
    across: float | None = (
        (d.seat.across.total - body.size(body_size(body))) / 2 if body.kind != OWN else None
    )
    down, along = across, (d.body_room.total - long) / 2
    if body.kind == "glow_prism":
        # A faceted body touches a round trough with single corners: how far it moves is not promised.
        turned, across, down = frame @ clocked(_lie(round(body.size("sides")))), None, None
    promised: float | None = along if d.seat.steady else None
    if d.seat.height is not None:
        turned = frame @ _own_frame(params, body)
        across, down, _ = gaps(params, body, d.seat.across, d.seat.height, d.body_room)
    plays = (
        Play(frame.x_axis, across),
        Play(negated(frame.x_axis), across),
        Play(frame.y_axis, None),
        Play(negated(frame.y_axis), down),
        Play(frame.z_axis, promised),
        Play(negated(frame.z_axis), promised),
    )
    way = negated(frame.y_axis)
    return PlacedPart(f"{ctx.name}.body", body, turned, ctx.name, ctx.piece, way, plays)


def seat_cuts(d: GlowChamberPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return the troughs for the body and its way in."""
    if d.lips:
        # a piece may lie in what another one has cut already
        return cut("body's seat", *d.lips, must_touch=False)
    a, b = body_span(d, ctx)
    seat = d.seat.half
    big = ctx.outer.largest_radius(ctx.z0, ctx.z1) + 1.0
    way = Box((-seat, 0.0, a), (seat, big, b), topped(d.entry_clock))
    return (*cut("body's seat", Cylinder(seat, a, b)), *cut("body's way in", way))


def _body_frame(d: GlowChamberPlan, ctx: SectionContext, long: float) -> Frame:
    a, b = body_span(d, ctx)
    return topped(d.entry_clock, (a + b - long) / 2)


def _lie(sides: int) -> float:
    """Return the turn of a faceted body, degrees: no corner where the trough's straight sides begin."""
    return -90.0 if sides % 4 == 2 else -90.0 + 180.0 / sides


# bodies of their own form ---------------------------------------------------------------------------------


def _measure(body: Part, axis: int) -> Measure:
    """Return the size of a body along one of the part's own axes."""
    low, high = extent(extent_of(s) for s in body.envelope)
    name = SIZE_NAMES[axis]
    tolerance = body.sizes[name].tolerance if body.has(name) else 0.0
    return Measure(high[axis] - low[axis], tolerance, body.source)


def _own_frame(params: GlowChamberParams, body: Part) -> Frame:
    """Return the part's frame in the body's: in the middle across and in height, its near end at 0."""
    low, high = extent(extent_of(s) for s in body.envelope)
    x, y, z = ((p + q) / 2 for p, q in zip(low, high, strict=True))
    if params.along == "z":
        return shifted(-x, -y, -low[2])
    return Frame((x, -z, -low[1]), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))


def _pieces(params: GlowChamberParams, body: Part) -> tuple[tuple[Vec3, ...], ...]:
    """Return the corners of a body's convex pieces in the body's frame."""
    return convex_points(body.envelope, _own_frame(params, body))


def _extent(params: GlowChamberParams, body: Part) -> tuple[Vec3, Vec3]:
    points = [p for piece in _pieces(params, body) for p in piece]
    low, high = (tuple(f(c) for c in zip(*points, strict=True)) for f in (min, max))
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _held(lip: float, gap: float) -> float:
    """Return how much of a body's end lies in its lip, mm: the body's end stands off the face by the gap."""
    return max(LEAST_HELD, lip - gap)


def _back(long: float, held: float, gap: float) -> tuple[tuple[float, float], tuple[float, float]]:
    return (long - held, long), (long - held - gap, long)


def clipped(points: Sequence[Vec3], z0: float, z1: float) -> tuple[Vec3, ...]:
    """Return points whose hull is what the hull of others has between two heights; none where it isn't there.

    A convex body's cross-section is the hull of where the lines between its corners cross the plane.

    Args:
        points: corners of a convex body, mm.
        z0: from this height, mm.
        z1: to this height, mm.
    """
    kept = [p for p in points if z0 - 1e-9 <= p[2] <= z1 + 1e-9]
    return (*kept, *_crossed(points, z0), *_crossed(points, z1))


def _crossed(points: Sequence[Vec3], z: float) -> Iterator[Vec3]:
    """Yield the corners of a convex body's cross-section."""
    below, above = [p for p in points if p[2] < z - 1e-9], [p for p in points if p[2] > z + 1e-9]
    crossings = []
    for p in below:
        for q in above:
            t = (z - p[2]) / (q[2] - p[2])
            crossings.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
    yield from ((x, y, z) for x, y in outline_of(crossings))


def outline_of(points: Sequence[Point2]) -> tuple[Point2, ...]:
    """Return the corners of the convex hull of points in a plane, counter-clockwise (Andrew's monotone chain).

    Args:
        points: mm.
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return tuple(ordered)
    return (*_chain(ordered), *_chain(ordered[::-1]))


def _chain(ordered: Sequence[Point2]) -> list[Point2]:
    chain: list[Point2] = []
    for p in ordered:
        while len(chain) > 1 and _turn(chain[-2], chain[-1], p) <= 0:
            chain.pop()
        chain.append(p)
    return chain[:-1]


def _turn(a: Point2, b: Point2, c: Point2) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _cover(pieces: Sequence[Sequence[Vec3]], z0: float, z1: float) -> float:
    """Return the radius round the axis that a body covers somewhere between two heights, seen along the axis, mm.

    Looked at in `RAYS` directions; 0 where the axis misses the body there.
    """
    shown = [outline_of([(x, y) for x, y, _ in clipped(p, z0, z1)]) for p in pieces]
    turns = (2 * math.pi * k / RAYS for k in range(RAYS))
    return min(_covered([_on_ray(o, math.cos(t), math.sin(t)) for o in shown if len(o) > 2]) for t in turns)


def _covered(stretches: Sequence[tuple[float, float]]) -> float:
    """Return how far stretches of a ray that overlap reach from its start, mm."""
    far = 0.0
    for low, high in sorted(stretches):
        if low <= far + END_PLANE:
            far = max(far, high)
    return far


def _on_ray(outline: Sequence[Point2], c: float, s: float) -> tuple[float, float]:
    """Return between which distances from the origin a ray lies in a convex outline, mm; far off where it doesn't."""
    low, high = 0.0, math.inf
    for a, b in zip(outline, (*outline[1:], outline[0]), strict=True):
        inside, along = _turn(a, b, (0.0, 0.0)), (b[0] - a[0]) * s - (b[1] - a[1]) * c
        if abs(along) > 1e-12:
            meets = -inside / along
            low, high = (max(low, meets), high) if along > 0 else (low, min(high, meets))
        elif inside < 0:
            return math.inf, math.inf
    return (low, high) if low < high else (math.inf, math.inf)


def _growth(pieces: Sequence[Sequence[Vec3]], near: tuple[float, float], far: tuple[float, float]) -> float:
    """Return how much farther across and down a body reaches between two heights than between two others, mm."""
    boxes = []
    for z0, z1 in (near, far):
        points = [p for piece in pieces for p in clipped(piece, z0, z1)]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        boxes.append((max(xs, default=0.0), -min(xs, default=0.0), -min(ys, default=0.0)))
    return float(max(b - a for a, b in zip(*boxes, strict=True)))
