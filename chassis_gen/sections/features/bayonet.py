"""Quarter-turn bayonet: lugs on a round bar, L-shaped grooves in the bore that goes over it.

Origin and axes: the bore's own frame; z = 0 is the bore's mouth, +z runs into the bore. The side that
bears when the two are pulled apart slopes at 45 degrees on lug and groove, so that both print with the
mouth up or down and the slope draws the cap home.

      mouth
     ___     ______________      the bore's wall laid flat:
        |    \\_____________|     way in on the left, the run
        |__________________|     to the right, sloped toward the mouth
"""

from __future__ import annotations

from msgspec import Struct

from chassis_gen.plan.model import OVERLAP
from chassis_gen.shapes.frame import Frame
from chassis_gen.shapes.primitives import Cone, Primitive, TubeSegment, Within

HALF_LUG_DEG = 12.0
TURN_DEG = {2: 90.0, 3: 60.0}
END_ROOM_DEG = 1.5
LUG_ROOM = 0.1
LUG_FLAT = 1.0
LIP = 1.5
"""Chosen proportions, mm and degrees; three lugs turn less, so that a wall stays between the grooves."""


class Bayonet(Struct, frozen=True):
    """A bayonet between a bar and a bore.

    Args:
        bar_radius: mm.
        bore_radius: mm.
        groove_depth: of the groove beyond the bore, mm.
        lugs: 2 or 3.
        lock_deg: where the first locked lug's middle stands, degrees in the bore's frame.
    """

    bar_radius: float
    bore_radius: float
    groove_depth: float
    lugs: int
    lock_deg: float

    @property
    def gap(self) -> float:
        """Return the clearance between bar and bore, mm."""
        return self.bore_radius - self.bar_radius

    @property
    def room(self) -> float:
        """Return the clearance kept round a lug, mm: more than between bar and bore, so that those guide."""
        return self.gap + LUG_ROOM

    @property
    def groove_radius(self) -> float:
        """Return the radius of the groove's floor, mm."""
        return self.bore_radius + self.groove_depth

    @property
    def lug_radius(self) -> float:
        """Return the radius of a lug's top, mm."""
        return self.groove_radius - self.room

    @property
    def lug_end(self) -> float:
        """Return how deep in the bore a locked lug ends, mm."""
        return LIP + self.lug_radius - self.bar_radius + LUG_FLAT

    @property
    def depth(self) -> float:
        """Return how deep in the bore the grooves end, mm."""
        return self.lug_end + self.room

    def middles(self) -> tuple[float, ...]:
        """Return where the locked lugs' middles stand, degrees."""
        return tuple(self.lock_deg + 360.0 * k / self.lugs for k in range(self.lugs))


def lug_solids(b: Bayonet, frame: Frame) -> tuple[Primitive, ...]:
    """Return the lugs in their locked place, to be added to the bar.

    Args:
        b: the bayonet.
        frame: the bore's frame.
    """
    inner, start = b.bar_radius - OVERLAP, LIP - OVERLAP
    return tuple(
        _sloped(inner, b.lug_radius, start, b.lug_end, (a - HALF_LUG_DEG, a + HALF_LUG_DEG), frame)
        for a in b.middles()
    )


def groove_cutters(b: Bayonet, frame: Frame) -> tuple[Primitive, ...]:
    """Return the ways in and the runs, to be cut from the bore's wall.

    Args:
        b: the bayonet.
        frame: the bore's frame.
    """
    inner, half, turn = b.bore_radius - OVERLAP, HALF_LUG_DEG + END_ROOM_DEG, TURN_DEG[b.lugs]
    start = LIP - b.room - OVERLAP
    made: list[Primitive] = []
    for a in b.middles():
        made.append(_sloped(inner, b.groove_radius, start, b.depth, (a - half, a + turn), frame))
        way_in = (a + turn - half, a + turn + half)
        made.append(TubeSegment(inner, b.groove_radius, -OVERLAP, b.depth, *way_in, frame=frame))
    return tuple(made)


def _sloped(
    inner: float, outer: float, z0: float, z1: float, clocks: tuple[float, float], frame: Frame
) -> Within:
    """Return a sector of a ring whose outside grows at 45 degrees from `inner` at z0 up to `outer`."""
    sector = TubeSegment(inner, outer, z0, z1, *clocks)
    cone = Cone(inner, inner + (z1 - z0) + OVERLAP, z0, z1 + OVERLAP)
    return Within(sector, cone, frame)
