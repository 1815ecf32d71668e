"""How deep the chassis's outer surface may be cut at each place: for patterns and lettering between the features.

The answer is a grid over a section's outside, a row per short range of stations and a column per whole degree of
clock. It is taken from the section's recipe as it stands with lanes, flat and pads, so that nothing that is cut
can be forgotten, and from the obstacles, which also name what must stay whole though it is solid: screw pads,
thin webs, the places under the tube's openings.

    room = outer_room(section, recipe.steps, obstacles, outer, wall=0.8, deepest=1.0)
    room.free(z0, z1, clock_from, clock_to)      # depth that the whole patch has, mm
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from chassis_gen.plan.cross_section import DEGREES, innermost_lane_radius
from chassis_gen.plan.membership import RoundGrid, solid_on
from chassis_gen.plan.model import Obstacle, Outer, SectionPlan
from chassis_gen.shapes.recipe import Step

Depths = NDArray[np.float64]
ROW = 0.5
"""Length of a row along the axis, mm (chosen: half of the smallest hole that is printed)."""
LAYER = 0.2
"""Distance of the depths at which the recipe is looked at, mm (chosen)."""
MOST_WALL = 6.0
"""The thickest wall that a window goes through, mm (chosen)."""
BEHIND = 2.0
"""Room that a window needs behind the wall, mm (chosen)."""
SKIN = 0.02
"""Depth of the uppermost look, mm: beyond the sag of a facet, short of the shallowest cut."""


class Patch(Struct, frozen=True):
    """A piece of the outer surface that is taken: lettering, a label, a place to grip.

    Args:
        z0: from this station, mm.
        z1: to this station, mm.
        clock_from: degrees.
        clock_to: degrees, more than `clock_from`.
        what: for messages, such as ``lettering``.
    """

    z0: float
    z1: float
    clock_from: float
    clock_to: float
    what: str


class OuterRoom(Struct, frozen=True):
    """The depth that is free below the outer surface of a section.

    Args:
        section: its name.
        z0: station of the first row's near edge, mm.
        row: length of a row, mm.
        deepest: larger depths were not looked for, mm.
        depths: free depth by row and whole degree, mm: what may be cut there so that a wall stays to every void
            beside and below; 0 where the surface must stay as it is.
        radii: outer radius by row, mm.
    """

    section: str
    z0: float
    row: float
    deepest: float
    depths: Depths
    radii: Depths

    @property
    def z1(self) -> float:
        """Return the far edge of the last row, mm."""
        return self.z0 + self.row * len(self.radii)

    def free(self, z0: float, z1: float, clock_from: float, clock_to: float) -> float:
        """Return the depth that a patch has everywhere, mm; 0 where it leaves the section or spans two radii.

        Args:
            z0: from this station, mm.
            z1: to this station, mm.
            clock_from: degrees.
            clock_to: degrees, more than `clock_from`.
        """
        if z0 < self.z0 - 1e-9 or z1 > self.z1 + 1e-9:
            return 0.0
        rows = self.rows(z0, z1)
        if np.ptp(self.radii[rows]) > 1e-9:
            return 0.0
        return float(self.depths[rows][:, columns(clock_from, clock_to)].min())

    def thickest(self, z0: float, z1: float, clock_from: float, clock_to: float) -> float:
        """Return the largest depth of a patch that `free` has found to lie in the section, mm.

        Args:
            z0: from this station, mm.
            z1: to this station, mm.
            clock_from: degrees.
            clock_to: degrees, more than `clock_from`.
        """
        return float(self.depths[self.rows(z0, z1)][:, columns(clock_from, clock_to)].max())

    def within(self, z0: float, z1: float, clock_from: float, clock_to: float) -> OuterRoom:
        """Return the room with nothing free outside a range of stations and a clock interval, rounded outward.

        Args:
            z0: from this station, mm.
            z1: to this station, mm.
            clock_from: degrees.
            clock_to: degrees; where it isn't larger, the interval passes 0.
        """
        edges = self.z0 + self.row * np.arange(len(self.radii) + 1)
        inside = (edges[1:] > z0 + 1e-9) & (edges[:-1] < z1 - 1e-9)
        turned = np.zeros(DEGREES, dtype=bool)
        turned[columns(clock_from, clock_from + ((clock_to - clock_from) % 360.0 or 360.0))] = True
        kept = np.where(inside[:, None] & turned[None, :], self.depths, 0.0)
        return replace(self, depths=kept)

    def rows(self, z0: float, z1: float) -> slice:
        """Return the rows that two stations span."""
        first = math.floor((z0 - self.z0) / self.row + 1e-9)
        return slice(max(first, 0), max(math.ceil((z1 - self.z0) / self.row - 1e-9), first + 1))

    def radius(self, z: float) -> float:
        """Return the outer radius at a station, mm."""
        at = math.floor((z - self.z0) / self.row)
        return float(self.radii[min(max(at, 0), len(self.radii) - 1)])

    def runs_along(self, clock_from: float, clock_to: float, depth: float) -> tuple[tuple[float, float], ...]:
        """Return the ranges of stations over which a strip along the axis has a depth, each on one radius.

        Args:
            clock_from: edge of the strip, degrees.
            clock_to: its other edge, degrees.
            depth: mm.
        """
        enough = np.asarray((self.depths[:, columns(clock_from, clock_to)] >= depth - 1e-9).all(axis=1))
        breaks = np.flatnonzero(np.abs(np.diff(self.radii)) > 1e-9) + 1
        found = []
        for low, high in _runs(enough):
            cuts = [low, *(int(b) for b in breaks if low < b < high), high]
            found += [(self.z0 + self.row * a, self.z0 + self.row * b) for a, b in itertools.pairwise(cuts)]
        return tuple(found)

    def runs_round(self, z0: float, z1: float, depth: float) -> tuple[tuple[float, float], ...]:
        """Return the clock intervals over which a strip round the axis has a depth; (0, 360) for all round.

        Args:
            z0: edge of the strip, mm.
            z1: its other edge, mm.
            depth: mm.
        """
        if z0 < self.z0 - 1e-9 or z1 > self.z1 + 1e-9 or np.ptp(self.radii[self.rows(z0, z1)]) > 1e-9:
            return ()
        enough = np.asarray((self.depths[self.rows(z0, z1)] >= depth - 1e-9).all(axis=0))
        if enough.all():
            return ((0.0, 360.0),)
        # begun at a blocked degree, no run passes the seam
        start = int(np.flatnonzero(~enough)[0])
        turned = np.roll(enough, -start)
        return tuple(
            (float(a + start) % 360.0, float(a + start) % 360.0 + (b - 1 - a))
            for a, b in _runs(turned)
            if b - a > 1
        )


def window_room(
    section: SectionPlan,
    steps: Sequence[Step],
    obstacles: Iterable[Obstacle],
    outer: Outer,
    wall: float,
    taken: Iterable[Patch] = (),
) -> OuterRoom:
    """Return how thick the walls of a hollow section are, place by place, where a window may go through them.

    The depth is 0 outside hollow sections, where there is no wall or a thicker one than `MOST_WALL`, where anything but
    room lies within `BEHIND` of its inner face or an obstacle at that clock, and nearer than a wall to any of these, to
    bands, steps and ends.

    Args:
        section: its plan, obstacles of companions included (`plan.beside.with_companions`).
        steps: its recipe's steps so far.
        obstacles: what bars lanes over the whole chassis: flat, tube openings, transfer holes.
        outer: the chassis's outer surface.
        wall: material to leave, mm.
        taken: patches that other surface work has.
    """
    edges, radii = _row_edges(section, outer)
    if not any(g.open_room for g in section.galleries):
        return OuterRoom(section.name, section.z0, ROW, MOST_WALL, np.zeros((len(radii), DEGREES)), radii)
    reach = MOST_WALL + BEHIND
    depths = np.concatenate([[SKIN], np.linspace(0.0, reach, math.ceil(reach / LAYER) + 1)[1:]])
    grid = RoundGrid((edges[:-1] + edges[1:]) / 2, radii, depths, np.arange(DEGREES, dtype=float))
    solid = solid_on(steps, grid)
    leading = np.logical_and.accumulate(solid, axis=2).sum(axis=2)
    thick = np.append(depths, np.inf)[leading]
    usable = (leading > 0) & (thick <= MOST_WALL) & (solid.sum(axis=2) == leading)
    for o in (*section.obstacles, *obstacles):
        rows = (edges[1:] > o.z0 - wall) & (edges[:-1] < o.z1 + wall)
        if rows.any() and not o.material:
            limit = innermost_lane_radius((o,), o.z0, o.z1, wall)
            usable[rows] &= np.maximum(limit, np.maximum(np.roll(limit, 1), np.roll(limit, -1))) <= 0.0
    thick = np.where(usable, thick, 0.0)
    thickest = float(thick.max())
    rows_beside = math.ceil((wall + ROW / 2) / ROW - 1e-9)
    turns = math.ceil(math.degrees(wall / (float(radii.min()) - thickest)) + 0.5)
    thick = np.where(_lowest_beside(thick, rows_beside, turns) > 0.0, thick, 0.0)
    _take(thick, edges, radii, taken, wall)
    thick[~_plain(edges, outer, section, wall, hollow=True)] = 0.0
    return OuterRoom(section.name, section.z0, ROW, MOST_WALL, thick, radii)


def outer_room(
    section: SectionPlan,
    steps: Sequence[Step],
    obstacles: Iterable[Obstacle],
    outer: Outer,
    wall: float,
    deepest: float,
    taken: Iterable[Patch] = (),
) -> OuterRoom:
    """Return how deep a section's outer surface may be cut, place by place.

    Blocked are: bearing bands and a wall beside them, a wall at the section's ends and at steps of the outer surface,
    hollow sections (what their rails leave is no surface), the printing flat, and everything nearer than a wall to
    a void, an obstacle or a patch that is taken.

    Args:
        section: its plan, obstacles of companions included (`plan.beside.with_companions`).
        steps: its recipe's steps so far, lanes included.
        obstacles: what bars lanes over the whole chassis: flat, tube openings, transfer holes.
        outer: the chassis's outer surface.
        wall: material to leave, mm.
        deepest: how deep to look, mm.
        taken: patches that other surface work has.
    """
    edges, radii = _row_edges(section, outer)
    free = _solid_depths(steps, (edges[:-1] + edges[1:]) / 2, radii, wall, deepest)
    for o in (*section.obstacles, *obstacles):
        rows = (edges[1:] > o.z0 - wall) & (edges[:-1] < o.z1 + wall)
        if rows.any():
            limit = innermost_lane_radius((o,), o.z0, o.z1, wall)
            # a ray between two degrees reaches no farther than the longer one beside it, to within the skin
            limit = np.maximum(limit, np.maximum(np.roll(limit, 1), np.roll(limit, -1)))
            free[rows] = np.minimum(free[rows], radii[rows, None] - limit)
    _take(free, edges, radii, taken, wall)
    free[~_plain(edges, outer, section, wall)] = 0.0
    return OuterRoom(section.name, section.z0, ROW, deepest, np.clip(free, 0.0, deepest), radii)


def _row_edges(section: SectionPlan, outer: Outer) -> tuple[Depths, Depths]:
    """Return the stations between the rows of a section, and each row's outer radius, mm."""
    count = max(1, int((section.z1 - section.z0) / ROW + 1e-9))
    edges = section.z0 + ROW * np.arange(count + 1, dtype=np.float64)
    return edges, np.array([outer.smallest_radius(a, b) for a, b in itertools.pairwise(edges)])


def _take(free: Depths, edges: Depths, radii: Depths, taken: Iterable[Patch], wall: float) -> None:
    """Leave nothing free on patches that are taken, and a wall about them."""
    for patch in taken:
        turn = math.degrees(wall / float(radii.min()))
        rows = (edges[1:] > patch.z0 - wall) & (edges[:-1] < patch.z1 + wall)
        free[np.ix_(rows, columns(patch.clock_from - turn, patch.clock_to + turn))] = 0.0


def columns(clock_from: float, clock_to: float) -> NDArray[np.intp]:
    """Return the whole degrees that a clock interval touches, its edges rounded outward.

    Args:
        clock_from: degrees.
        clock_to: degrees, not less than `clock_from`.
    """
    first, last = math.floor(clock_from + 1e-9), math.ceil(clock_to - 1e-9)
    return np.arange(first, min(max(last, first), first + DEGREES - 1) + 1) % DEGREES


def _solid_depths(
    steps: Sequence[Step], middles: Depths, radii: Depths, wall: float, deepest: float
) -> Depths:
    """Return the free depth that the recipe's own solid leaves, a wall to every void kept."""
    reach = deepest + wall
    depths = np.concatenate([[SKIN], np.linspace(0.0, reach, max(2, math.ceil(reach / LAYER) + 1))[1:]])
    grid = RoundGrid(middles, radii, depths, np.arange(DEGREES, dtype=float))
    solid = solid_on(steps, grid)
    # the deepest look above which all is solid; a void begins somewhere between that and the next look
    above = np.concatenate([[0.0], depths])
    whole = above[np.logical_and.accumulate(solid, axis=2).sum(axis=2)]
    rows = math.ceil((wall + ROW / 2) / ROW - 1e-9)
    turns = math.ceil(math.degrees(wall / float(radii.min() - reach)) + 0.5)
    return _lowest_beside(whole, rows, turns) - wall


def _lowest_beside(values: Depths, rows: int, turns: int) -> Depths:
    """Return the lowest value within some rows and degrees of each place; rows end, degrees go round."""
    lowest = values.copy()
    for k in range(1, rows + 1):
        lowest[k:] = np.minimum(lowest[k:], values[:-k])
        lowest[:-k] = np.minimum(lowest[:-k], values[k:])
    return np.asarray(np.min([np.roll(lowest, k, axis=1) for k in range(-turns, turns + 1)], axis=0))


def _plain(
    edges: Depths, outer: Outer, section: SectionPlan, wall: float, hollow: bool = False
) -> NDArray[np.bool_]:
    """Return which rows lie on relieved surface, a wall from bands, steps and the section's ends, hollow or not."""
    low, high = edges[:-1], edges[1:]
    plain = (low >= section.z0 + wall - 1e-9) & (high <= section.z1 - wall + 1e-9)
    before = None
    for step in outer.over(section.z0 - wall, section.z1 + wall):
        if step.bearing:
            plain &= (high <= step.z0 - wall + 1e-9) | (low >= step.z1 + wall - 1e-9)
        if before is not None:
            plain &= (high <= step.z0 - wall + 1e-9) | (low >= step.z0 + wall - 1e-9)
        before = step
    for gallery in section.galleries:
        if gallery.open_room and not hollow:
            z0, z1 = gallery.z - gallery.width / 2 - wall, gallery.z + gallery.width / 2 + wall
            plain &= (high <= z0 + 1e-9) | (low >= z1 - 1e-9)
    return plain


def _runs(enough: NDArray[np.bool_]) -> tuple[tuple[int, int], ...]:
    """Return the runs of True as (first, one past the last)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], enough, [False]]).astype(np.int8)))
    return tuple((int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True))
