"""What is cut for wires: grooves and tunnels along the axis, cross passages, ways from terminals to lanes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from chassis_gen.plan.chassis import Lane
from chassis_gen.plan.laying import Ground, Laid, Stretch, lane_size, turn_width
from chassis_gen.plan.model import OVERLAP, PlacedTerminal
from chassis_gen.plan.sums import on_grid
from chassis_gen.shapes.frame import clocked, unit
from chassis_gen.shapes.primitives import Box, Cone, Cylinder, Primitive, TubeSegment
from chassis_gen.shapes.recipe import Step, cut


def lane_solid(lane: Lane, wall: float) -> tuple[Primitive, ...]:
    """Return the cutters of one lane, overshooting at its ends and through the outer surface.

    Args:
        lane: the lane.
        wall: material left over a closed lane, mm.
    """
    z0, z1 = lane.z0 - 2 * OVERLAP, lane.z1 + 2 * OVERLAP
    if not lane.closed:
        return (
            TubeSegment(lane.bottom_radius, lane.outer_radius + 1.0, z0, z1, lane.clock_from, lane.clock_to),
        )
    bore = lane.outer_radius - wall - lane.bottom_radius
    middle = (lane.clock_from + lane.clock_to) / 2
    c, s = unit(middle)
    r = lane.bottom_radius + bore / 2
    frame = replace(clocked(middle), origin=(r * c, r * s, 0.0))
    return (Cylinder(bore / 2, z0, z1, frame),)


def mouth_solids(lane: Lane, wall: float, mouth: float, near: bool, far: bool) -> tuple[Primitive, ...]:
    """Return the cones that break the edges of a closed lane's mouths.

    Args:
        lane: a closed lane.
        wall: material left over it, mm.
        mouth: chamfer, mm.
        near: True where its near end is a mouth.
        far: True where its far end is a mouth.
    """
    bar = lane_solid(lane, wall)[0]
    assert isinstance(bar, Cylinder)
    r = bar.radius
    cones = []
    if near:
        cones.append(Cone(r + mouth, r, lane.z0 - OVERLAP, lane.z0 + mouth, bar.frame))
    if far:
        cones.append(Cone(r, r + mouth, lane.z1 - mouth, lane.z1 + OVERLAP, bar.frame))
    return tuple(cones)


def lane_cuts(
    laid: Sequence[Laid], lanes: Sequence[Lane], stretches: Sequence[Stretch], ground: Ground
) -> dict[str, tuple[Step, ...]]:
    """Return the cutting steps by section: lanes, drops and galleries, then the mouths of closed lanes.

    Args:
        laid: the laid wires.
        lanes: the lanes that they lie in.
        stretches: what the wires' paths count.
        ground: holds outer surface, walls and rules.
    """
    steps: dict[str, tuple[Step, ...]] = {}

    def more(section: str, label: str, *solids: Primitive) -> None:
        steps[section] = steps.get(section, ()) + cut(label, *solids, must_touch=False)

    for lane in lanes:
        more(lane.section, f"wire lane {lane.id}", *lane_solid(lane, ground.wall))
    for x in laid:
        size = x.wire.outer_diameter + 0.4
        for t, k, clock in ((x.low, x.stretches[0], x.clocks[0]), (x.high, x.stretches[-1], x.clocks[-1])):
            holder = next(s.name for s in ground.sections if any(q.id == t.id for q in s.terminals))
            more(holder, f"drop to {t.id}", _drop_solid(t, clock, stretches[k].radius, size))
        for section, solid in _galleries(x, laid, stretches, ground):
            more(section, f"gallery for {x.wire.id}", solid)
    for lane in lanes:
        if lane.closed:
            owner = next(s for s in ground.sections if s.name == lane.section)
            near, far = lane.z0 - owner.z0 < 1e-9, owner.z1 - lane.z1 < 1e-9
            more(
                lane.section,
                f"mouth of {lane.id}",
                *mouth_solids(lane, ground.wall, ground.rules.mouth, near, far),
            )
    return steps


def _drop_solid(t: PlacedTerminal, clock: float, radius: float, size: float) -> Box:
    """Return the straight channel from a terminal out to the surface at a clock, square of a size, mm."""
    c, s = unit(clock)
    dx, dy = radius * c - t.position[0], radius * s - t.position[1]
    long = math.hypot(dx, dy)
    heading = math.degrees(math.atan2(dy, dx))
    frame = replace(clocked(heading), origin=(t.position[0], t.position[1], on_grid(t.position[2])))
    return Box((0.0, -size / 2, -size / 2), (long + 1.0, size / 2, size / 2), frame)


def _galleries(
    x: Laid, laid: Sequence[Laid], stretches: Sequence[Stretch], ground: Ground
) -> list[tuple[str, TubeSegment]]:
    """Return the cross passages that have to be cut for one wire, with their sections.

    The wires that turn in one gallery lie side by side, so each passage is as wide as they are together.
    """
    found = []
    for k, a, b in zip(x.stretches, x.clocks, x.clocks[1:], strict=False):
        here = stretches[k]
        if here.gallery is None or here.gallery.open_room or a == b:
            continue
        after = stretches[x.stretches[x.stretches.index(k) + 1]]
        ahead = (b - a) % 360
        low, span = (a, ahead) if ahead <= 180 else (b, 360 - ahead)
        bundle = [y.wire for y in laid if k in y.turns]
        depth = max(lane_size(w, here, ground)[0] for w in bundle)
        half = turn_width([w.outer_diameter for w in bundle], True, 0.0) / 2
        radius = min(here.radius, after.radius)
        passage = TubeSegment(
            on_grid(radius - depth),
            ground.outer.largest_radius(here.z0, after.z1) + 1.0,
            on_grid(here.gallery.z - half),
            on_grid(here.gallery.z + half),
            low - 1.0,
            low + span + 1.0,
        )
        found.append((here.section.name, passage))
    return found
