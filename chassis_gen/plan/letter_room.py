"""Room for lettering: how deep the face of a blank may be cut, and what is in the way."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.lib.stride_tricks import sliding_window_view

from chassis_gen.parts.extent import extent_of
from chassis_gen.plan.cross_section import DEGREES, innermost_lane_radius
from chassis_gen.plan.letter_faces import TextFace
from chassis_gen.plan.membership import inside
from chassis_gen.plan.model import Obstacle, Outer, SectionPlan
from chassis_gen.plan.outer_room import SKIN, OuterRoom, Patch, columns, outer_room
from chassis_gen.sections.base import Rules
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Point2
from chassis_gen.shapes.recipe import Step

_CHANNELS = ("wire lane", "drop to", "gallery", "web between", "room for", "mouth of", "ramp of")
"""How the labels of steps that make room for wires begin."""
ACROSS = 0.4
"""Distance of the places on a face that are looked at, mm (chosen: a nozzle's width)."""
DOWN = 0.25
"""Distance of the depths that are looked at, mm (chosen)."""
OFFSETS = 0.5
"""Distance of the offsets that are tried, mm (chosen)."""


class Blank(Struct, frozen=True):
    """What a text is cut into.

    Args:
        name: of its recipe: a section, or a lid, cap or carrier.
        steps: its recipe's steps so far, lanes and flat included.
        section: the section, its companions' obstacles included.
        extra: True for a lid, cap or carrier.
        outer: the chassis's outer surface.
        blocked: obstacles of the whole chassis.
        rules: limits of printing.
        taken: what other texts take.
    """

    name: str
    steps: tuple[Step, ...]
    section: SectionPlan
    extra: bool
    outer: Outer
    blocked: tuple[Obstacle, ...]
    rules: Rules
    taken: tuple[Patch, ...] = ()

    def in_the_way(
        self, z0: float, z1: float, clock_from: float, clock_to: float, depth: float, raised: bool
    ) -> tuple[str, ...]:
        """Return the names of what lies under or beside a patch of the outer surface.

        Args:
            z0: from this station, mm.
            z1: to this station, mm.
            clock_from: degrees.
            clock_to: degrees.
            depth: that the patch needs, mm.
            raised: True for a raised text, which keeps off the bearing bands.
        """
        wall = self.rules.least_wall
        here = columns(clock_from, clock_to)
        steps = self.outer.over(z0 - wall, z1 + wall)
        names = ["bearing band"] if raised and any(s.bearing for s in steps) else []
        names += ["edge of a bearing band"] if not raised and len({s.radius for s in steps}) > 1 else []
        radius = min(s.radius for s in steps)
        if any(
            g.open_room and g.z - g.width / 2 < z1 and g.z + g.width / 2 > z0 for g in self.section.galleries
        ):
            names.append("hollow section")
        for o in (*self.section.obstacles, *self.blocked):
            if innermost_lane_radius([o], z0, z1, wall)[here].max() > radius - depth:
                names.append(o.what)
        beside = math.degrees(wall / radius)
        near = set(columns(clock_from - beside, clock_to + beside).tolist())
        for p in self.taken:
            if (
                p.z0 - wall < z1
                and p.z1 + wall > z0
                and near & set(columns(p.clock_from, p.clock_to).tolist())
            ):
                names.append(p.what)
        lanes = (s for s in self.steps if s.label.startswith(_CHANNELS))
        names += [_channel(s.label) for s in lanes if _meets(s, z0, z1, set(here.tolist()))]
        return tuple(dict.fromkeys(names))


def _channel(label: str) -> str:
    """Return what a channel is in words: a lane's number tells nothing."""
    lane = re.fullmatch(r"wire lane (.+) lane \d+", label)
    return f"a wire lane in {lane[1]}" if lane else label


def _meets(step: Step, z0: float, z1: float, here: set[int]) -> bool:
    """Return whether the middle of a wire's channel lies under a patch."""
    (x0, y0, low), (x1, y1, high) = extent_of(step.solid)
    clock = round(math.degrees(math.atan2(y0 + y1, x0 + x1))) % 360
    return low < z1 and high > z0 and clock in here


def stations_of(blank: Blank) -> tuple[float, float]:
    """Return near and far end of what a text is cut into, mm."""
    if not blank.extra:
        return blank.section.z0, blank.section.z1
    extents = [extent_of(s.solid) for s in blank.steps if s.operation == "add"]
    return min(low[2] for low, _ in extents), max(high[2] for _, high in extents)


def round_room(blank: Blank, deepest: float, raised: bool) -> OuterRoom:
    """Return how deep the outer surface of a section may be cut, place by place.

    Engraved letters leave a bearing band as round as it was; a raised text's panel would take its surface away.

    Args:
        blank: the section.
        deepest: how deep to look, mm.
        raised: True for a raised text.
    """
    outer = blank.outer
    if not raised:
        outer = replace(outer, steps=tuple(replace(s, bearing=False) for s in outer.steps))
    wall = blank.rules.least_wall
    return outer_room(blank.section, blank.steps, blank.blocked, outer, wall, deepest, blank.taken)


def free_offsets(room: OuterRoom, patch: tuple[float, float, float, float], depth: float) -> Iterator[float]:
    """Yield shifts along the axis at which a patch has a depth, the smallest first, mm.

    Args:
        room: of the section.
        patch: stations and clocks.
        depth: mm.
    """
    most = math.ceil((room.z1 - room.z0) / OFFSETS)
    for shift in (sign * k * OFFSETS for k in range(1, most + 1) for sign in (1, -1)):
        if room.free(patch[0] + shift, patch[1] + shift, patch[2], patch[3]) >= depth - 1e-9:
            yield shift


def nearest_place(
    room: OuterRoom, patch: tuple[float, float, float, float], depth: float
) -> tuple[float, float] | None:
    """Return the shift (mm) and the turn (degrees) to the nearest place at which a patch has a depth, or None.

    Args:
        room: of the section.
        patch: stations and clocks.
        depth: mm.
    """
    z0, z1, clock_from, clock_to = patch
    long = math.ceil((z1 - z0) / room.row - 1e-9)
    wide = math.ceil(clock_to - clock_from) + 1
    if long > len(room.radii) or wide >= DEGREES:
        return None
    enough = room.depths >= depth - 1e-9
    along = sliding_window_view(enough, long, axis=0).all(axis=-1)
    along &= (np.ptp(sliding_window_view(room.radii, long), axis=-1) < 1e-9)[:, None]
    whole = sliding_window_view(np.concatenate([along, along[:, : wide - 1]], axis=1), wide, axis=1).all(
        axis=-1
    )
    rows, clocks = np.nonzero(whole)
    if not len(rows):
        return None
    shifts = room.z0 + room.row * rows - z0
    turns = (clocks - clock_from + 180.0) % 360.0 - 180.0
    at = int(np.argmin(np.hypot(shifts, np.radians(turns) * room.radii[0])))
    return float(shifts[at]), float(turns[at])


def solid_beneath(
    blank: Blank, face: TextFace, boxes: Sequence[tuple[Point2, Point2]], depth: float
) -> tuple[Vec3, str] | None:
    """Return a place under boxes of a face where there is no material, and what was cut there; or None.

    Args:
        blank: what the face belongs to.
        face: the face.
        boxes: lower left and upper right corners, mm.
        depth: how deep it has to be solid, mm.
    """
    downs = np.linspace(SKIN, depth, max(2, math.ceil(depth / DOWN) + 1))
    rows = []
    for (x0, y0), (x1, y1) in boxes:
        xs = np.linspace(x0, x1, max(2, math.ceil((x1 - x0) / ACROSS) + 1))
        ys = np.linspace(y0, y1, max(2, math.ceil((y1 - y0) / ACROSS) + 1))
        rows.append(np.stack(np.meshgrid(xs, ys, downs, indexing="ij"), axis=-1).reshape(-1, 3))
    local = np.concatenate(rows)
    points = face.points(local[:, 0], local[:, 1], local[:, 2])
    solid = np.zeros(len(points), dtype=bool)
    last = np.full(len(points), -1)
    for k, step in enumerate(blank.steps):
        low, high = extent_of(step.solid)
        near = np.flatnonzero(((points >= low) & (points <= high)).all(axis=1))
        if len(near):
            adds = step.operation == "add"
            hit = near[inside(step.solid, points[near], whole=not adds)]
            solid[hit], last[hit] = adds, k
    if solid.all():
        return None
    at = int(np.argmin(solid))
    x, y, z = points[at]
    what = blank.steps[last[at]].label if last[at] >= 0 else "edge of the piece"
    return (float(x), float(y), float(z)), what
