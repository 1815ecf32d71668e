"""The chassis's outer surface: bearing bands, relief between them, steps for smaller bores, the flat."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Remedy
from chassis_gen.parts.model import Measure
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Outer, OuterStep
from chassis_gen.plan.sums import GRID, Dimension, on_grid, shown
from chassis_gen.plan.tube import Bore, Tube, bore_terms

STEP_MARGIN = 1.0
"""How far before a bore's shoulder the chassis steps down, mm (chosen)."""
LEAST_STEP = 0.5
"""Steps of the outer surface shorter than this are merged into their neighbour, mm (chosen)."""


class Bearing(Struct, frozen=True):
    """How the chassis bears on the tube.

    Args:
        fit: fit class of the bands.
        band: length of a band, mm.
        relief: relief per side between the bands, mm.
        flat_width: width of the printing flat, mm; 0 for none.
        flat_clock: its clock, degrees.
    """

    fit: str
    band: float
    relief: float
    flat_width: float
    flat_clock: float


class Reach(Struct, frozen=True):
    """A range of stations that has to pass one bore on the way in."""

    z0: float
    z1: float
    bore: Bore
    diameter: Dimension


def bore_reaches(tube: Tube, z0: float, z1: float, bearing: Bearing, fitter: Fitter) -> tuple[Reach, ...]:
    """Return the smallest bore that each range of stations passes, with the bearing diameter for it.

    A station passes every bore between the mouth and itself.

    Args:
        tube: the tube.
        z0: near end of the chassis, mm.
        z1: far end, mm.
        bearing: see `Bearing`.
        fitter: makes the labelled sums.
    """
    marks = sorted(
        {z0, z1} | {on_grid(b.z0 - STEP_MARGIN) for b in tube.bores if z0 < b.z0 - STEP_MARGIN < z1}
    )
    reaches: list[Reach] = []
    for a, b in itertools.pairwise(marks):
        bore = tube.smallest_bore(0.0, min(b + STEP_MARGIN - GRID, z1))
        if reaches and reaches[-1].bore.diameter == bore.diameter:
            reaches[-1] = Reach(reaches[-1].z0, b, reaches[-1].bore, reaches[-1].diameter)
            continue
        suffix = "" if not reaches else f"_{len(reaches) + 1}"
        size = Measure(
            bore.diameter,
            bore.tolerance,
            f"tube bore from station {shown(bore.z0)}, measured by the maker",
            # Limits without a distribution are taken as uniform: JCGM 100:2008 (GUM), 4.3.7.
            uniform=True,
        )
        note = f"outside diameter where the chassis bears, from station {shown(a)}"
        name = f"chassis.bearing_diameter{suffix}"
        made = fitter.outer(name, size, bearing.fit, note, "tube bore").plus(bore_terms(bore))
        reaches.append(Reach(a, b, bore, made))
    return tuple(reaches)


def outer_surface(reaches: Sequence[Reach], bands: Sequence[tuple[float, float]], bearing: Bearing) -> Outer:
    """Return the outer surface of bands and relief.

    Args:
        reaches: from `bore_reaches`.
        bands: ranges of stations that bear, mm; may overlap.
        bearing: see `Bearing`.
    """
    z0, z1 = reaches[0].z0, reaches[-1].z1
    marks = {z0, z1} | {r.z0 for r in reaches}
    for a, b in bands:
        marks |= {on_grid(min(max(z, z0), z1)) for z in (a, b)}
    ordered = sorted(marks)
    kept = [ordered[0]]
    for z in ordered[1:-1]:
        if z - kept[-1] >= LEAST_STEP and z1 - z >= LEAST_STEP:
            kept.append(z)
    kept.append(z1)
    steps: list[OuterStep] = []
    for a, b in itertools.pairwise(kept):
        middle = (a + b) / 2
        reach = next(r for r in reaches if r.z0 <= middle <= r.z1)
        bears = any(p <= middle <= q for p, q in bands)
        radius = on_grid(reach.diameter.total / 2 - (0.0 if bears else bearing.relief))
        step = OuterStep(a, b, radius, bears, reach.diameter.compensation / 2)
        if steps and replace(step, z0=steps[-1].z0, z1=a) == steps[-1]:
            steps[-1] = replace(steps[-1], z1=b)
        else:
            steps.append(step)
    smallest = min(s.radius for s in steps)
    half = bearing.flat_width / 2
    flat = on_grid(math.sqrt(smallest**2 - half**2)) if 0 < half < smallest else None
    return Outer(tuple(steps), bearing.flat_clock, flat)


def narrower_flats(outer: Outer, distance: float) -> Iterator[Remedy]:
    """Yield the widest printing flat that stays a distance from the axis, by half a millimetre, and none.

    The flat is one plane over the whole chassis, as wide as asked for where the chassis is narrowest.

    Args:
        outer: the chassis's outer surface.
        distance: from the axis, mm.
    """
    narrowest = min(s.radius for s in outer.steps)
    width = math.floor(4 * math.sqrt(max(narrowest**2 - distance**2, 0.0))) / 2
    if width >= 1.0:
        yield Remedy("bearing.flat_width", width, f"printing flat of {width:g} mm")
    yield Remedy("bearing.flat_width", 0.0, "no printing flat")
