"""The tube: its segments, bores, outside, openings, and what is put over it and into its wall."""

from __future__ import annotations

import itertools

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.plan.sums import Dimension, Term
from chassis_gen.sections.base import Opening

TRANSFER_MARGIN = 2.0
"""How far round a hole that is drilled through the tube no lane may lie, mm: the drill wanders (chosen)."""


class Bore(Struct, frozen=True):
    """A stretch of bore.

    Args:
        z0: from this station, mm.
        z1: to this station, mm.
        diameter: mm.
        tolerance: plus-minus, mm.
        ovality: largest less smallest diameter at one depth, mm.
        taper: diameter at its far end less that at its near end, mm.
    """

    z0: float
    z1: float
    diameter: float
    tolerance: float
    ovality: float = 0.0
    taper: float = 0.0


class OuterStretch(Struct, frozen=True):
    """An outside diameter over a range of stations, mm."""

    z0: float
    z1: float
    diameter: float


class Segment(Struct, frozen=True):
    """One screwed length of tube.

    Args:
        name: for messages.
        z0: station of its near end, mm.
        z1: station of its far end, mm.
        wall: wall thickness at its widest bore, mm.
        material: what it is made of.
        bores: contiguous over the segment.
        outside: outside diameters, contiguous over the segment; empty where bore and wall give it.
        overlap: how far the next segment reaches into this one, mm.
        stop_clock_deg: clock of its own mark when it is screwed home, or None where nobody measured it.
        conducts: what the maker declared of its material, or None where the table decides.
    """

    name: str
    z0: float
    z1: float
    wall: float
    material: str
    bores: tuple[Bore, ...]
    outside: tuple[OuterStretch, ...] = ()
    overlap: float = 0.0
    stop_clock_deg: float | None = None
    conducts: bool | None = None

    @property
    def profile(self) -> tuple[OuterStretch, ...]:
        """Return the outside diameters along the segment."""
        widest = max(b.diameter for b in self.bores) + 2 * self.wall
        return self.outside or (OuterStretch(self.z0, self.z1, widest),)

    @property
    def outer_diameter(self) -> float:
        """Return the largest outside diameter, mm."""
        return max(s.diameter for s in self.profile)


class Collar(Struct, frozen=True):
    """A ring over the tube: its stations and its inside diameter, mm."""

    name: str
    z0: float
    z1: float
    inner_diameter: float


class Plug(Struct, frozen=True):
    """A set screw or plug in an opening, and how far from the axis its outer end stands, mm."""

    name: str
    opening: str
    outer_end: float


class MeasuredOpening(Struct, frozen=True):
    """What is known of an opening beside its place.

    Args:
        name: the opening's.
        segment: segment that it is drilled in.
        from_joint: True when that segment isn't the one with the mouth.
        clock_known: False when its clock depends on a joint whose stop nobody measured.
        in_thread: True when it lies where two segments overlap.
        station: labelled sum, mm.
        clock: labelled sum, degrees.
        diameter: labelled sum, mm.
        transfer: True when the hole is drilled through the tube once the chassis is in.
    """

    name: str
    segment: str
    from_joint: bool
    clock_known: bool
    in_thread: bool
    station: Dimension
    clock: Dimension
    diameter: Dimension
    transfer: bool

    @property
    def dimensions(self) -> tuple[Dimension, ...]:
        """Return the labelled sums of the opening."""
        return self.station, self.clock, self.diameter


class Tube(Struct, frozen=True):
    """What the chassis slides into, from the mouth (station 0) in."""

    segments: tuple[Segment, ...]
    openings: tuple[Opening, ...]
    collars: tuple[Collar, ...] = ()
    plugs: tuple[Plug, ...] = ()
    measured: tuple[MeasuredOpening, ...] = ()

    @property
    def length(self) -> float:
        """Return the station of the deepest end, mm."""
        return max(s.z1 for s in self.segments)

    @property
    def bores(self) -> tuple[Bore, ...]:
        """Return what is open, in order of stations: where segments overlap, the narrower bore."""
        every = sorted((b for s in self.segments for b in s.bores), key=lambda b: b.z0)
        if all(a.z1 <= b.z0 for a, b in itertools.pairwise(every)):
            return tuple(every)
        marks = sorted({z for b in every for z in (b.z0, b.z1)})
        found: list[tuple[Bore, Bore]] = []
        for z0, z1 in itertools.pairwise(marks):
            there = min((b for b in every if b.z0 < z1 and b.z1 > z0), key=lambda b: b.diameter)
            if found and found[-1][0] is there:
                found[-1] = (there, replace(found[-1][1], z1=z1))
            else:
                found.append((there, replace(there, z0=z0, z1=z1)))
        return tuple(clipped for _, clipped in found)

    @property
    def profile(self) -> tuple[OuterStretch, ...]:
        """Return the outside diameters of all segments, overlaps included."""
        return tuple(o for s in self.segments for o in s.profile)

    @property
    def transfers(self) -> tuple[Opening, ...]:
        """Return the openings through which the chassis is drilled in its place."""
        names = {m.name for m in self.measured if m.transfer}
        return tuple(o for o in self.openings if o.name in names)

    def smallest_bore(self, z0: float, z1: float) -> Bore:
        """Return the smallest bore over a range of stations."""
        return min((b for b in self.bores if b.z0 < z1 and b.z1 > z0), key=lambda b: b.diameter)

    def outer_diameter(self, z: float) -> float:
        """Return the outside diameter at a station, mm."""
        there = [o.diameter for o in self.profile if o.z0 <= z <= o.z1]
        return max(there, default=self.segments[-1].outer_diameter)

    def collar_over(self, z: float) -> Collar | None:
        """Return the collar that covers a station, or None."""
        return next((c for c in self.collars if c.z0 <= z <= c.z1), None)


def bore_terms(bore: Bore) -> tuple[Term, ...]:
    """Return what the form of a bore adds to the range of a diameter that is made for its mean.

    Out of round by e, the narrowest diameter lies e/2 under the mean and the widest e/2 over it; the same
    holds for the ends of a taper. Every value between is as likely as any other.

    Args:
        bore: the bore.
    """
    form = (("bore ovality", bore.ovality), ("bore taper", abs(bore.taper)))
    return tuple(
        Term(label, 0.0, f"{value:g} mm from end to end of the range, measured by the maker", value / 2, True)
        for label, value in form
        if value
    )
