"""What a speaker cup needs along the axis and across it, as numbers and labelled sums, mm."""

from __future__ import annotations

import math

from msgspec.structs import replace

from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import FIT_CLEARANCE, GRID, PART_SIZE, PRINTER, WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import Setting
from chassis_gen.sections.resonance_cap import HEAD_RECESS, SEAM, countersink_depth
from chassis_gen.sections.speaker_cup_model import LEAD_ROOM, SpeakerCupParams, speakers
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

# along the axis --------------------------------------------------------------------------------------


def screw_spec(params: SpeakerCupParams) -> HoleSpec:
    """Return what the tables say of the hole that a cap screw forms its thread in."""
    return hole_for("thread_forming", find_thread(params.cap_screw))


def screw_way(params: SpeakerCupParams) -> float:
    """Return the drawn-size diameter of a cap screw's clearance hole, mm."""
    return hole_for("clearance", find_thread(params.cap_screw)).diameter


def boss_half(params: SpeakerCupParams, fitter: Fitter) -> float:
    """Return half the width of a boss round a cap screw, mm: the hole as drawn and a wall."""
    spec, p = screw_spec(params), fitter.printer
    more = max(b.compensation(spec.diameter) for b in (p.lying_hole, p.standing_hole))
    return on_grid((spec.diameter + more) / 2 + spec.min_wall)


def screw_place(params: SpeakerCupParams, fitter: Fitter, part: Part) -> float:
    """Return how far behind the cup's face the screws of a cap round the cup stand, mm."""
    return on_grid(part.size("basket_depth") + LEAD_ROOM + boss_half(params, fitter))


def cap_overlap(params: SpeakerCupParams, fitter: Fitter, part: Part) -> float:
    """Return how far cap and cup reach over each other, mm; a foam ring is left room on a spigot."""
    if params.cap == "face":
        return on_grid(min(params.overlap, params.chamber_depth - params.foam_gap))
    if params.cap == "round" and params.cap_hold == "screws":
        head = params.screw_head_diameter / 2 + HEAD_RECESS
        return on_grid(max(params.overlap, screw_place(params, fitter, part) + head + params.cap_wall))
    return on_grid(params.overlap)


def rim_room(part: Part) -> float:
    """Return the rim's thickness rounded up to the station grid, mm, so that it clears its ledge."""
    return math.ceil(part.size("rim_thickness") / GRID - GRID) * GRID


def rim_front(params: SpeakerCupParams) -> float:
    """Return the rim's front plane, s in mm: behind plate and chamber of a cap, else at the open end."""
    return on_grid(params.cap_plate + params.chamber_depth) if params.cap != "none" else 0.0


def lead_in(params: SpeakerCupParams, setting: Setting, part: Part) -> float:
    """Return the plane of the wires' way out, s in mm: behind the basket, the cap and its screws."""
    front, overlap, wall = (
        rim_front(params),
        cap_overlap(params, setting.fitter, part),
        setting.rules.least_wall,
    )
    behind = [front + part.size("basket_depth") + LEAD_ROOM]
    if params.cap == "round":
        behind.append(front + overlap + SEAM + wall)
    if params.cap == "face" and params.cap_hold == "screws":
        behind.append(front - params.foam_gap - overlap + screw_spec(params).min_depth + wall)
    return on_grid(max(behind) + params.lead_in_width / 2)


def section_length(params: SpeakerCupParams, setting: Setting, part: Part) -> Dimension:
    """Return cap, speaker, back volume and end wall as a labelled sum."""
    source = "parameter file or its default"
    depth = part.sizes["depth"]
    terms = []
    if params.cap != "none":
        terms.append(Term("front plate", params.cap_plate, source))
        terms.append(Term("front chamber", params.chamber_depth, source))
    terms.append(Term(PART_SIZE, depth.value, f"{part.name}: {depth.source}"))
    terms.append(Term("back volume", params.back_depth, source))
    needed = lead_in(params, setting, part) + params.lead_in_width / 2 + LEAD_ROOM
    short = needed - math.fsum(t.value for t in terms)
    if short > 0:
        terms.append(Term("room for the wires' way out", short, "behind the cap and the basket"))
    terms.append(Term(WALL, params.end_wall, f"end wall: {source}"))
    return setting.fitter.summed(f"{params.name}.length", tuple(terms), "length along the axis, cap included")


# across the axis -------------------------------------------------------------------------------------


def rim_seat(params: SpeakerCupParams, fitter: Fitter, part: Part) -> Dimension:
    """Return the diameter of the counterbore that centres the rim."""
    name, note = f"{params.name}.rim_seat_diameter", "counterbore that centres the speaker's rim"
    return fitter.inner(name, part.sizes["rim_diameter"], params.rim_fit, note, part.name)


_RIM_LABELS = {PART_SIZE: "rim radius", FIT_CLEARANCE: "rim clearance"}


def radial_sum(params: SpeakerCupParams, setting: Setting, part: Part) -> Dimension:
    """Return what the speaker, the cup and the cap need from the axis out to the chassis's outer surface."""
    fitter, wall = setting.fitter, setting.rules.least_wall
    source = "parameter file or its default"
    halves = rim_seat(params, fitter, part).terms
    terms = [
        replace(
            t, label=_RIM_LABELS.get(t.label, f"rim {t.label}"), value=t.value / 2, tolerance=t.tolerance / 2
        )
        for t in halves
    ]
    if params.cap == "face" and params.cap_hold == "screws":
        spec = screw_spec(params)
        room = 2 * boss_half(params, fitter)
        terms.append(
            Term("cup wall", max(params.cup_wall, room), f"{spec.thread.designation} screw with its walls")
        )
    else:
        terms.append(Term("cup wall", params.cup_wall, source))
    if params.cap == "round":
        c = fitter.classes[params.cap_fit]
        terms.append(Term("cap clearance", c.clearance, f"{params.cap_fit} per side: {c.source}"))
        bore = 2 * math.fsum(t.value for t in terms)
        cap = fitter.printer.inner.term(bore, f"cap {PRINTER}", 0.5)
        terms.append(replace(cap, tolerance=0.0))
    if params.cap != "none" and params.cap_hold == "bayonet":
        terms.append(Term("bayonet groove", params.bayonet_depth, source))
    if params.cap == "round":
        head = countersink_depth(screw_way(params), params.screw_head_diameter, HEAD_RECESS) + wall
        if params.cap_hold == "screws" and head > params.cap_wall:
            terms.append(Term("cap wall", head, "countersunk head and the wall under it"))
        else:
            terms.append(Term("cap wall", params.cap_wall, source))
    return Dimension(f"{params.name}.radial_sum", tuple(terms), "radius that speaker, cup and cap need")


def largest_speaker(params: SpeakerCupParams, setting: Setting, radius: float) -> Part | None:
    """Return the largest generic speaker that closes the radial sum, or None."""
    fits = (p for p in speakers() if radial_sum(params, setting, p).total <= radius + 1e-9)
    return next(fits, None)
