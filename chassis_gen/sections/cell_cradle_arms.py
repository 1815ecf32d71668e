"""How thick, how long and how low the arms of a cell cradle are, and how far they bend as cantilevers."""

from __future__ import annotations

import math

from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import Setting
from chassis_gen.sections.cell_cradle_model import CellCradleParams, Snap

USUAL_ARM = 1.6
USUAL_LEVELS = (0.6, 0.65, 0.7, 0.75)


def cantilever_strain(thickness: float, deflection: float, length: float) -> float:
    """Return the largest strain in a uniform cantilever bent by a force at its tip: 3 t d / (2 L^2).

    Source: beam tables (tip load: M = F L, d = F L^3 / 3 E I, strain = M t / 2 E I).

    Args:
        thickness: in the direction of bending, mm.
        deflection: of the tip, mm.
        length: from root to tip, mm.
    """
    return 3 * thickness * deflection / (2 * length**2)


def _arm_length(seat_radius: float, thickness: float, base: float, height: float) -> float:
    """Return the length of an arm's middle line, an arc from the base's level to the tip's, mm."""
    middle = seat_radius + thickness / 2
    return middle * (math.asin(min(1.0, base / middle)) + math.asin(min(1.0, height / middle)))


def arm_height(seat_radius: float, mouth: float) -> float:
    """Return the height over the axis at which the seat's circle is as wide as the mouth, mm.

    Args:
        seat_radius: mm.
        mouth: width between the tips, mm.
    """
    return math.sqrt(max(0.0, seat_radius**2 - (mouth / 2) ** 2))


def snap_of(
    setting: Setting, cell: Part, seat_radius: float, mouth: Dimension, level: float, thickness: float
) -> Snap:
    """Return how arms of a thickness hold the smallest and bend under the largest cell.

    Lying in the print, an arm is built up layer on layer from root to tip, so it bends across the layers;
    standing, each layer holds a whole arm.

    Args:
        setting: how and of what the chassis is printed.
        cell: what the arms hold.
        seat_radius: mm.
        mouth: width between the tips.
        level: how far below the axis the base ends, in seat radii.
        thickness: of the arms, mm.
    """
    size = cell.sizes["diameter"]
    printed = setting.fitter.as_made(mouth)
    smallest = (size.value - size.tolerance - printed) / 2
    largest = (size.value + size.tolerance - printed) / 2
    length = _arm_length(seat_radius, thickness, level * seat_radius, arm_height(seat_radius, mouth.total))
    material = setting.material
    limit = material.snap_strain_limit * (material.across_layers if setting.print_lying else 1.0)
    strain = cantilever_strain(thickness, max(0.0, largest), length)
    return Snap(thickness, level, length, smallest, largest, strain, limit)


def _usual_thicknesses(setting: Setting) -> tuple[float, ...]:
    """Return the arm thicknesses to try: 1.6 mm, then whole nozzle widths down to the least wall."""
    nozzle, least = setting.rules.nozzle, setting.rules.least_wall
    widths = range(math.floor(USUAL_ARM / nozzle - 1e-9), 1, -1)
    thinner = tuple(nozzle * k for k in widths if least - 1e-9 <= nozzle * k < USUAL_ARM - 1e-9)
    return (max(USUAL_ARM, least), *thinner)


def usual_snap(
    params: CellCradleParams, setting: Setting, cell: Part, seat_radius: float, mouth: Dimension, room: float
) -> Snap:
    """Return the arms that are asked for, or else the stoutest usual ones whose strain stays within limit.

    Args:
        params: the cradle's keys.
        setting: how and of what the chassis is printed.
        cell: what the arms hold.
        seat_radius: mm.
        mouth: width between the tips.
        room: what the outer surface leaves the arms, mm.
    """
    asked, level = params.arm_thickness, params.base_level
    thicknesses = (asked,) if asked is not None else _usual_thicknesses(setting)
    levels = (level,) if level is not None else USUAL_LEVELS
    snaps = [snap_of(setting, cell, seat_radius, mouth, v, min(t, room)) for v in levels for t in thicknesses]
    return next((s for s in snaps if s.strain <= s.limit), min(snaps, key=lambda s: s.strain))
