"""The way into the tube: chassis and parts pass every bore between the mouth and their place."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from chassis_gen.checks.places import place, section_named, words
from chassis_gen.checks.probes import TUBE
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import PlacedPart
from chassis_gen.plan.tube import Bore
from chassis_gen.sections.base import Opening
from chassis_gen.shapes.frame import unit

Array = npt.NDArray[np.float64]


def check_tube_way(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return errors for what doesn't fit into the tube or doesn't pass a bore on its way in.

    Args:
        plan: the build.
        solids: its solids.
    """
    return (*_length(plan), *_outer_passes(plan), *_pieces_pass(plan, solids), *_parts_inside(plan, solids))


def _length(plan: ChassisPlan) -> Iterator[Finding]:
    length = plan.tube.length
    if plan.z0 < 0 or plan.z1 > length:
        message = (
            f"the chassis reaches from station {plan.z0:.2f} to {plan.z1:.2f} mm; "
            f"the tube from 0 to {length:.2f} mm"
        )
        numbers = {"z0": plan.z0, "z1": plan.z1, "tube_length": length}
        yield Finding("error", "chassis-past-tube", "chassis", message, numbers)


def _outer_passes(plan: ChassisPlan) -> Iterator[Finding]:
    for bore in plan.tube.bores:
        # Everything deeper than a bore's near end has to pass it.
        deeper = (s for s in plan.outer.over(plan.z0, plan.z1) if s.z1 > bore.z0)
        passing = [s for s in deeper if 2 * s.radius >= bore.diameter]
        if passing:
            widest = max(passing, key=lambda s: s.radius)
            yield _blocked(bore, "chassis", 2 * widest.radius, max(widest.z0, bore.z0))


def _pieces_pass(plan: ChassisPlan, solids: Solids) -> Iterator[Finding]:
    """Yield errors for pieces that stick out beyond the planned outer surface, into the bore's wall."""
    for name, body in solids.pieces.items():
        points, _ = body.arrays()
        for bore, reach, point in _too_wide(plan, points, 2 * solids.chord):
            message = (
                f"{name} reaches {reach:.2f} mm from the axis at {words(point)}; the bore from station "
                f"{bore.z0:.1f} that it goes into has a radius of {bore.diameter / 2:.2f} mm"
            )
            numbers = {"reach": reach, "bore_radius": bore.diameter / 2, **place(point)}
            yield Finding("error", "piece-outside-bore", name, message, numbers)


def _parts_inside(plan: ChassisPlan, solids: Solids) -> Iterator[Finding]:
    for part in plan.parts:
        points, _ = solids.parts[part.id].arrays()
        for opening in _openings(plan, part):
            points = points[~_in_opening(points, opening)]
        for bore, reach, point in _too_wide(plan, points, solids.chord):
            message = (
                f"{part.id} reaches {reach:.2f} mm from the axis at {words(point)}; the bore from station "
                f"{bore.z0:.1f} has a radius of {bore.diameter / 2:.2f} mm"
            )
            numbers = {"reach": reach, "bore_radius": bore.diameter / 2, **place(point)}
            yield Finding("error", "part-outside-bore", part.id, message, numbers)


def _too_wide(
    plan: ChassisPlan, points: Array, allowed: float
) -> Iterator[tuple[Bore, float, tuple[float, float, float]]]:
    """Yield each bore that points don't pass, with the farthest of them and its distance from the axis."""
    reach = np.hypot(points[:, 0], points[:, 1])
    for bore in plan.tube.bores:
        wide = np.flatnonzero((points[:, 2] > bore.z0) & (reach > bore.diameter / 2 + allowed))
        if len(wide):
            worst = wide[np.argmax(reach[wide])]
            x, y, z = points[worst].tolist()
            yield bore, float(reach[worst]), (x, y, z)


def _openings(plan: ChassisPlan, part: PlacedPart) -> tuple[Opening, ...]:
    section = section_named(plan, part.section)
    names = set(section.openings) if section else set()
    # A part that goes through the tube on purpose may do so wherever there is an opening.
    return tuple(o for o in plan.tube.openings if o.name in names or TUBE in part.pierces)


def _in_opening(points: Array, opening: Opening) -> npt.NDArray[np.bool_]:
    """Return which points lie in an opening or over it, as a button's head does.

    Whether they touch the tube's wall there is for the interference check.
    """
    c, s = unit(opening.clock_deg)
    outward = points[:, 0] * c + points[:, 1] * s
    aside = np.hypot(points[:, 1] * c - points[:, 0] * s, points[:, 2] - opening.station)
    over: npt.NDArray[np.bool_] = (outward > 0) & (aside <= opening.diameter)
    return over


def _blocked(bore: Bore, what: str, diameter: float, station: float) -> Finding:
    message = (
        f"{what} is {diameter:.2f} mm wide at station {station:.1f} and doesn't pass the bore of "
        f"{bore.diameter:.2f} mm from station {bore.z0:.1f} to {bore.z1:.1f}"
    )
    numbers = {"diameter": diameter, "bore_diameter": bore.diameter, "station": station}
    return Finding("error", "chassis-wont-pass", what, message, numbers)
