"""Set-screw pad: a solid landing in the chassis under a screw that comes through the tube's wall.

Origin and axes: `frame` stands on the outer surface, +z points outward, against the screw.

        | |  screw through the tube
     ___|_|___
    |  |___|  |   dimple: a burr under the point stays below the surface
    |   pad   |
"""

from __future__ import annotations

import math

from msgspec import Struct

from chassis_gen.findings import Finding
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, Obstacle, Outer, Sector
from chassis_gen.plan.sums import CHOSEN, WALL, Dimension, Term
from chassis_gen.sections.features.surface import least_surface
from chassis_gen.shapes.frame import Frame, radial
from chassis_gen.shapes.primitives import Cylinder, Primitive, TubeSegment
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread

DIMPLE_DEPTH = 0.4
"""How deep the dimple is where its rim meets the surface, mm: two layers, common practice, no source."""
THICKNESS = 3.0
"""Solid material wanted under a set screw, mm: common practice, no source."""


class SetScrewPad(Struct, frozen=True):
    """A planned landing.

    Args:
        name: stem of its dimension names.
        thread: designation of the screw.
        station: of the screw's axis, mm.
        clock_deg: of the screw's axis, degrees.
        radius: least distance of the chassis's outer surface from the axis there, mm.
        largest_radius: largest outer radius there, mm.
        width: labelled sum of the solid stretch, along the axis and round the circumference.
        thickness: labelled sum of the solid material under the surface.
        dimple_diameter: labelled sum.
        dimple_depth: labelled sum, from `radius` inward.
    """

    name: str
    thread: str
    station: float
    clock_deg: float
    radius: float
    largest_radius: float
    width: Dimension
    thickness: Dimension
    dimple_diameter: Dimension
    dimple_depth: Dimension

    @property
    def frame(self) -> Frame:
        """Return the frame on the outer surface, +z outward."""
        return radial(self.clock_deg, self.station, self.radius)

    @property
    def half_angle(self) -> float:
        """Return half the clock interval that the pad takes, degrees."""
        return math.degrees(self.width.total / 2 / self.radius)


def pad_width(fitter: Fitter, name: str, thread: str) -> Dimension:
    """Return how wide a solid stretch a set screw wants, along the axis and round the circumference.

    Args:
        fitter: makes labelled sums.
        name: stem of the dimension names.
        thread: designation of the screw.

    Raises:
        InputError: the thread is unknown.
    """
    spec = hole_for("set_screw", find_thread(thread), "plastic")
    source = f"{spec.thread.designation}: {spec.thread.source}"
    screw = Term("screw", spec.thread.major_diameter, source)
    wall = Term(WALL, 2 * spec.min_wall, f"both sides: {spec.sources[-1]}")
    return fitter.summed(f"{name}_width", (screw, wall), "solid stretch under the set screw")


def plan_pad(
    fitter: Fitter,
    name: str,
    thread: str,
    clock_deg: float,
    station: float,
    outer: Outer,
    thickness: float = THICKNESS,
    landing: float | None = None,
) -> SetScrewPad:
    """Return a landing under a set screw.

    The dimple is as deep under its rim as a burr needs, so what the surface curves away comes on top.

    Args:
        fitter: makes labelled sums.
        name: stem of the dimension names.
        thread: designation of the screw.
        clock_deg: clock of its axis, degrees.
        station: station of its axis, mm.
        outer: the chassis's outer surface.
        thickness: solid material wanted under the surface, mm.
        landing: how far from the tube's axis the screw's point is to stand at most, mm; None for a dimple
            no deeper than a burr needs.

    Raises:
        InputError: the thread is unknown.
    """
    found = find_thread(thread)
    width = pad_width(fitter, name, thread)
    half = width.total / 2
    low, high = station - half, station + half
    turn = math.degrees(half / outer.smallest_radius(low, high))
    radius = least_surface(outer, low, high, clock_deg, turn)
    source = "clearance hole of the screw, so that its burr has room"
    dimple = fitter.hole(
        f"{name}_dimple_diameter", found.clearance.coarse, source, "dimple under the set screw"
    )
    terms = [Term(CHOSEN, DIMPLE_DEPTH, "two layers, common practice")]
    # circle geometry: how far the surface lies lower at the dimple's rim than over its middle
    curve = radius - math.sqrt(max(0.0, radius**2 - (dimple.total / 2) ** 2))
    terms.append(Term("curve of the surface", curve, "round surface under a flat dimple"))
    if landing is not None and radius - landing > DIMPLE_DEPTH + curve:
        sunk = radius - landing - DIMPLE_DEPTH - curve
        terms.append(Term("screw's length", sunk, "so that the screw ends level with the tube's outside"))
    return SetScrewPad(
        name=name,
        thread=found.designation,
        station=station,
        clock_deg=clock_deg,
        radius=radius,
        largest_radius=outer.largest_radius(low, high),
        width=width,
        thickness=fitter.chosen(f"{name}_thickness", thickness, "solid material under the set screw"),
        dimple_diameter=dimple,
        dimple_depth=fitter.summed(f"{name}_dimple_depth", tuple(terms), "depth of the dimple"),
    )


def pad_solids(pad: SetScrewPad) -> tuple[Primitive, ...]:
    """Return what to add where the section is hollow under the screw: a block up to the outer surface."""
    half, inner = pad.width.total / 2, pad.radius - pad.thickness.total
    low, high = pad.clock_deg - pad.half_angle, pad.clock_deg + pad.half_angle
    return (TubeSegment(inner, pad.radius, pad.station - half, pad.station + half, low, high),)


def pad_cutters(pad: SetScrewPad) -> tuple[Primitive, ...]:
    """Return what to cut: the dimple."""
    above = pad.largest_radius - pad.radius + OVERLAP
    return (Cylinder(pad.dimple_diameter.total / 2, -pad.dimple_depth.total, above, pad.frame),)


def pad_obstacle(pad: SetScrewPad) -> Obstacle:
    """Return the clock interval that no lane may cross."""
    half = pad.width.total / 2
    sector = Sector(pad.clock_deg - pad.half_angle, pad.clock_deg + pad.half_angle)
    return Obstacle(sector, pad.station - half, pad.station + half, "set-screw pad")


def pad_finding(pad: SetScrewPad, room_radius: float, what: str, hard_stop: bool) -> Finding | None:
    """Return an error when a screw driven too far could reach what lies behind the pad.

    Args:
        pad: the landing.
        room_radius: how far from the tube's axis the room behind reaches under the screw, mm.
        what: what lies there, such as ``cell``.
        hard_stop: True when the screw can't go deeper than the dimple (a shoulder, a metal plate).
    """
    left = pad.radius - pad.dimple_depth.total - room_radius
    if hard_stop or left >= pad.thickness.total:
        return None
    message = (
        f"the set screw {pad.name} stands over the {what} with {left:.2f} mm of plastic between; "
        f"{pad.thickness.total:.2f} mm or a hard stop are wanted"
    )
    numbers = {"left": left, "wanted": pad.thickness.total}
    return Finding("error", "set-screw-over-part", pad.name, message, numbers)
