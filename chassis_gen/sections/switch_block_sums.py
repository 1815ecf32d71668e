"""What a switch block needs along the axis, and where its second switch stands, as numbers and sums, mm."""

from __future__ import annotations

from chassis_gen.plan.sums import WALL, Dimension, Term
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, Setting
from chassis_gen.sections.features.head_screw import HEAD_DIAMETERS
from chassis_gen.sections.switch_block_model import AuxSwitch, SwitchBlockParams, switch_of
from chassis_gen.sections.switch_seat_sums import half_length
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

LEAST_SCREW_WALL = 1.2
SCREW_SPARE = 0.5


def main_half(params: SwitchBlockParams, setting: Setting) -> float:
    """Return half of what the first switch needs along the axis, mm.

    Raises:
        InputError: the part is unknown or no switch.
    """
    return half_length(switch_of(params.part, setting), setting.fitter, params.name).total


def _aux_half(params: SwitchBlockParams, aux: AuxSwitch, setting: Setting) -> float:
    return half_length(switch_of(aux.part, setting), setting.fitter, f"{params.name}.aux").total


def carrier_screw(params: SwitchBlockParams) -> HoleSpec:
    """Return what the tables say of the hole that holds a screw of the carrier.

    Raises:
        InputError: the thread is unknown.
    """
    return hole_for(params.carrier_hole, find_thread(params.carrier_thread))


def land(params: SwitchBlockParams) -> float:
    """Return how much longer the block is at each end for a carrier's screw, mm: head, walls, play."""
    if not params.carrier:
        return 0.0
    spec = carrier_screw(params)
    head = HEAD_DIAMETERS * spec.thread.major_diameter
    return head + 2 * max(spec.min_wall, LEAST_SCREW_WALL) + SCREW_SPARE


def main_offset(params: SwitchBlockParams, setting: Setting) -> float:
    """Return how far the first switch's axis lies from the near end, mm.

    Raises:
        InputError: the part or the thread is unknown, or the part is no switch.
    """
    return params.end_wall + land(params) + main_half(params, setting)


def least_distance(params: SwitchBlockParams, aux: AuxSwitch, setting: Setting) -> float:
    """Return the least distance between the two axes, with a wall between the switches, mm."""
    halves = main_half(params, setting) + _aux_half(params, aux, setting)
    return halves + land(params) + setting.rules.wall


def asked_distance(params: SwitchBlockParams, aux: AuxSwitch, setting: Setting) -> float:
    """Return the distance between the two axes, mm: as asked, or as near as they fit.

    Raises:
        InputError: the second switch's opening can't give its place.
    """
    if aux.at_opening is None:
        return aux.offset or least_distance(params, aux, setting)
    first = setting.openings.get(params.at_opening or "")
    second = setting.openings.get(aux.at_opening)
    if first is None or second is None:
        message = (
            "the second switch can be at an opening only where the section is at another opening of the tube"
        )
        allowed = ", ".join(setting.openings) or "no openings in this tube"
        raise InputError([Problem("unknown-opening", message, value=f'"{aux.at_opening}"', allowed=allowed)])
    return second.station - first.station


def distance(params: SwitchBlockParams, aux: AuxSwitch, setting: Setting) -> float:
    """Return the distance between the two axes, mm: as asked, and never so near that they don't fit.

    Raises:
        InputError: the second switch's opening can't give its place.
    """
    return max(asked_distance(params, aux, setting), least_distance(params, aux, setting))


def aux_clock(aux: AuxSwitch, ctx: SectionContext) -> float:
    """Return the clock of the second switch's axis, degrees."""
    opening = ctx.setting.openings.get(aux.at_opening or "")
    if opening:
        return opening.clock_deg
    return ctx.clock_deg if aux.clock_deg is None else aux.clock_deg


def section_length(params: SwitchBlockParams, setting: Setting) -> Dimension:
    """Return end walls, rooms and, for a second switch, the distance between the axes, as a labelled sum.

    Raises:
        InputError: a part or thread is unknown or a part is no switch.
    """
    main, aux, more = main_half(params, setting), params.aux, land(params)
    terms = [
        Term(WALL, 2 * params.end_wall, "two end walls"),
        Term("switch", main if aux else 2 * main, f"room of {params.part}"),
    ]
    if more:
        terms.append(Term("screw lands", 2 * more, f"two {params.carrier_thread} screws of the carrier"))
    if aux:
        apart = distance(params, aux, setting)
        terms.append(Term("switch distance", apart - more, "between the two axes"))
        terms.append(Term("second switch", _aux_half(params, aux, setting), aux.part))
    return setting.fitter.summed(f"{params.name}.length", tuple(terms), "length along the axis")
