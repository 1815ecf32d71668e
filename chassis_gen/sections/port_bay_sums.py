"""What a port bay needs along and across, as numbers and labelled sums, mm."""

from __future__ import annotations

import math

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import PART_SIZE, WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import Setting
from chassis_gen.sections.features.cut_off_plug import CutOffPlug, plan_plug
from chassis_gen.sections.features.head_screw import head_width
from chassis_gen.sections.port_bay_model import (
    CARRIER_WALL,
    COVER,
    GRIP_ROOM,
    NUT_ROOM,
    REST,
    SEAT_FIT,
    SOURCE,
    PortBayParams,
    has_carrier,
)
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread
from chassis_gen.tables.wire import wiring_rule


def section_length(params: PortBayParams, part: Part, setting: Setting) -> Dimension:
    """Return recess, plate, wire room and end wall, or a radial port's bay between two end walls."""
    name = f"{params.name}.length"
    if params.mount == "radial":
        low, high = reach_along(params, part, setting)
        terms: tuple[Term, ...] = (
            Term("port", low + high, f"bay of {part.name}"),
            Term(WALL, 2 * params.end_wall, f"two end walls: {SOURCE}"),
        )
    else:
        terms = (
            Term("port", front_of(params, part, setting) + depth_of(params, part, setting), part.name),
            Term("wire room", wire_room_sum(params, part, setting).total, "behind the port"),
            Term(WALL, params.end_wall, f"end wall: {SOURCE}"),
        )
    return setting.fitter.summed(name, terms, "length along the axis")


def _has_plug(params: PortBayParams, part: Part) -> bool:
    known = part.has("barrel_diameter")
    return known and params.cut_off_plug is not False


def port_plug(params: PortBayParams, part: Part, setting: Setting) -> CutOffPlug | None:
    """Return the cut-off plug, or None where there is none."""
    if not _has_plug(params, part):
        return None
    return plan_plug(setting.fitter, f"{params.name}.plug", part, params.plug_reach, setting.rules.least_wall)


def axial_screw_room(params: PortBayParams) -> float:
    """Return the thickness that a screw across a round carrier needs, mm."""
    spec = hole_for(params.carrier_hole, find_thread(params.carrier_thread))
    return math.ceil((spec.diameter + 0.3 + 2 * spec.min_wall) * 10) / 10


def depth_of(params: PortBayParams, part: Part, setting: Setting) -> float:
    """Return how thick the plate is, or how deep a board's carrier, mm from z = 0."""
    if part.kind == "port_board":
        return CARRIER_WALL + board_seat_length(params, part, setting.fitter).total
    if params.plate is not None:
        return params.plate
    return axial_screw_room(params) if has_carrier(params, part) and params.mount == "axial" else 3.0


def board_seat_length(params: PortBayParams, part: Part, fitter: Fitter) -> Dimension:
    """Return the room for a board in its carrier, along the board."""
    name = f"{params.name}.seat_length"
    return fitter.inner(name, part.sizes["length"], SEAT_FIT, "room for the board, along", part.name)


def front_of(params: PortBayParams, part: Part, setting: Setting) -> float:
    """Return how far an axial port's z = 0 lies behind the end face, mm."""
    if part.kind == "port_board":
        return params.recess or 0.0
    plug = port_plug(params, part, setting)
    head = plug.head_height.total + COVER if plug else COVER
    return on_grid(part.size("flange_height") + (head if params.recess is None else params.recess))


def wire_room_sum(params: PortBayParams, part: Part, setting: Setting) -> Dimension:
    """Return the room behind plate or carrier: what stands out of it and the wires' bend."""
    bend = wiring_rule("bend_radius_diameters")
    source = f"{bend.value:g} outside diameters of {params.wire_diameter:g} mm: {bend.source}"
    terms = [
        Term("bend radius", bend.value * params.wire_diameter, source),
        Term("wire", params.wire_diameter, f"wire's own diameter: {SOURCE}"),
    ]
    if part.kind == "charge_jack":
        for size in ("body_depth", "lug_length"):
            m = part.sizes[size]
            terms.append(Term(PART_SIZE, m.value, f"{part.name}, {size}: {m.source}", m.tolerance))
        plate = depth_of(params, part, setting)
        terms.append(Term("plate", -plate, "the jack stands in the plate"))
    name = f"{params.name}.wire_room"
    return setting.fitter.summed(name, tuple(terms), "room behind the port for soldered wires")


def recess_radius_of(part: Part) -> float:
    """Return the radius of the recess round a jack's flange and a plug's grip, mm; 0 for a board."""
    if part.kind == "port_board":
        return 0.0
    grip = part.size("plug_diameter") + GRIP_ROOM
    return max(part.size("flange_diameter") + 2 * COVER, grip) / 2


def _nut_half(part: Part) -> float:
    return part.size("nut_across_flats") / math.sqrt(3.0) + NUT_ROOM


def half_block(params: PortBayParams, part: Part) -> tuple[float, float]:
    """Return the half sizes of a rectangular carrier's bay, across and along the tube, without the screw."""
    if part.kind == "charge_jack":
        half = max(recess_radius_of(part) + 2 * CARRIER_WALL, _nut_half(part) + REST)
        return half, half
    high = part.size("thickness") / 2 + max(part.size("connector_height"), part.size("height_above"))
    reach = max(part.size("plug_height") / 2 + 0.5, high + part.size("height_below") + COVER)
    return part.size("width") / 2 + 2 * CARRIER_WALL, reach + CARRIER_WALL


def land_length(params: PortBayParams) -> float:
    """Return the length of a radial carrier that takes its screw, mm."""
    thread = find_thread(params.carrier_thread)
    wall = hole_for(params.carrier_hole, thread).min_wall
    return head_width(params.carrier_thread) + max(wall, 1.2) + 0.5


def reach_along(params: PortBayParams, part: Part, setting: Setting) -> tuple[float, float]:
    """Return how far a radial port's bay or room reaches from the mouth's axis toward near and far end, mm."""
    if not has_carrier(params, part):
        half = max(_nut_half(part), recess_radius_of(part)) + 0.5
        return half, half
    half = half_block(params, part)[1]
    return half, half + land_length(params)
