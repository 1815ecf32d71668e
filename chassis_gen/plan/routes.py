"""The legs of a laid wire, from terminal to terminal, and its length."""

from __future__ import annotations

import math
from collections.abc import Sequence

from chassis_gen.plan.chassis import Leg, Route
from chassis_gen.plan.laying import Ground, Laid, Stretch
from chassis_gen.shapes.frame import Vec3, unit


def route_of(x: Laid, stretches: Sequence[Stretch], ground: Ground) -> Route:
    """Return the legs of a laid wire from its start terminal to its end terminal, its length and cut length.

    Args:
        x: the laid wire.
        stretches: what its path counts.
        ground: its rules give end allowance and rounding.
    """
    legs: list[Leg] = []
    at: Vec3 = x.low.position

    def go(kind: str, where: str, to: Vec3, length: float) -> None:
        nonlocal at
        joins = legs and (legs[-1].kind, legs[-1].section) == (kind, where)
        if joins:
            legs[-1] = Leg(kind, where, legs[-1].start, to, legs[-1].length + length)
        elif length > 1e-9:
            legs.append(Leg(kind, where, at, to, length))
        at = to

    for n, (k, clock) in enumerate(zip(x.stretches, x.clocks, strict=True)):
        stretch = stretches[k]
        name = stretch.section.name
        c, s = unit(clock)
        r = stretch.radius - x.wire.outer_diameter / 2
        here = (r * c, r * s, at[2])
        if n == 0:
            go("drop", name, here, math.dist(at, here))
        elif clock != x.clocks[n - 1]:
            go("gallery", name, here, max(_turn(at, here) * r, math.dist(at, here)))
        far = (r * c, r * s, min(stretch.z1, max(x.high.position[2], stretch.z0)))
        go("lane", name, far, math.dist(at, far))
    go("drop", stretches[x.stretches[-1]].section.name, x.high.position, math.dist(at, x.high.position))
    if x.wire.start != x.low.id:
        legs = [Leg(g.kind, g.section, g.end, g.start, g.length) for g in reversed(legs)]
    length = sum(g.length for g in legs)
    wanted = length + 2 * ground.rules.end_allowance
    up = ground.rules.round_up
    return Route(x.wire, tuple(legs), length, math.ceil(wanted / up - 1e-9) * up)


def _turn(a: Vec3, b: Vec3) -> float:
    """Return the angle between two points about the axis, radians."""
    d = abs(math.atan2(a[1], a[0]) - math.atan2(b[1], b[0])) % (2 * math.pi)
    return min(d, 2 * math.pi - d)
