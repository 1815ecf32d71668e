"""The tube: its segments, bores and openings."""

from __future__ import annotations

from dataclasses import dataclass

from chassis_gen.sections.base import Opening


@dataclass(frozen=True)
class Bore:
    """A stretch of bore.

    Args:
        z0: from this station, mm.
        z1: to this station, mm.
        diameter: mm.
        tolerance: plus-minus, mm.
    """

    z0: float
    z1: float
    diameter: float
    tolerance: float


@dataclass(frozen=True)
class Segment:
    """One screwed length of tube.

    Args:
        name: for messages.
        z0: station of its near end, mm.
        z1: station of its far end, mm.
        wall: wall thickness at its widest bore, mm.
        material: what it is made of.
        bores: contiguous over the segment.
    """

    name: str
    z0: float
    z1: float
    wall: float
    material: str
    bores: tuple[Bore, ...]

    @property
    def outer_diameter(self) -> float:
        """Return the outside diameter, mm: the widest bore plus two walls."""
        return max(b.diameter for b in self.bores) + 2 * self.wall


@dataclass(frozen=True)
class Tube:
    """What the chassis slides into, from the mouth (station 0) in."""

    segments: tuple[Segment, ...]
    openings: tuple[Opening, ...]

    @property
    def length(self) -> float:
        """Return the station of the deepest end, mm."""
        return max(s.z1 for s in self.segments)

    @property
    def bores(self) -> tuple[Bore, ...]:
        """Return all bores in order of stations."""
        return tuple(sorted((b for s in self.segments for b in s.bores), key=lambda b: b.z0))

    def smallest_bore(self, z0: float, z1: float) -> Bore:
        """Return the smallest bore over a range of stations."""
        return min((b for b in self.bores if b.z0 < z1 and b.z1 > z0), key=lambda b: b.diameter)

    def outer_diameter(self, z: float) -> float:
        """Return the outside diameter at a station, mm."""
        inside = [s for s in self.segments if s.z0 <= z <= s.z1] or list(self.segments[-1:])
        return inside[0].outer_diameter
