"""What can't work about a speaker cup: its radial sum, the way in, cone, ports, bayonet, screws and walls."""

from __future__ import annotations

import math

from chassis_gen.findings import Finding, Remedy
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import PART_SIZE
from chassis_gen.plan.surface import narrower_flats
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.screw_hole import hole_finding
from chassis_gen.sections.resonance_cap import CapHold, CapKind, Grille, Ports, port_finding
from chassis_gen.sections.speaker_cup_model import LEAD_ROOM, LEAST_LEDGE, SpeakerCupParams, SpeakerCupPlan
from chassis_gen.sections.speaker_cup_sums import largest_speaker, radial_sum


def findings(
    params: SpeakerCupParams, ctx: SectionContext, part: Part, d: SpeakerCupPlan, radius: float
) -> tuple[Finding, ...]:
    """Return what can't work; a radial sum that does not close is told alone, as all else hangs on it.

    Args:
        params: of the section.
        ctx: of the section.
        part: the speaker.
        d: what was planned.
        radius: of the chassis's outer surface round seat and cap, mm.
    """
    too_wide = _radial_finding(params, ctx, part, radius)
    if too_wide:
        return (too_wide,)
    found = (
        _way_in(ctx, d),
        _sound_out(ctx, d),
        _ledge(ctx, part, d),
        _cone_across(params, ctx, part, d),
        _cone_along(params, ctx, part),
        _ports(params, ctx, d),
        _bayonet_room(params, d),
        _engagement(d),
        _flat(params, ctx, d),
        *_thin_walls(params, ctx),
        *(hole_finding(h) for h in d.screws[:1]),
    )
    return tuple(f for f in found if f)


def _radial_finding(
    params: SpeakerCupParams, ctx: SectionContext, part: Part, radius: float
) -> Finding | None:
    """Return the radial sum that does not close, with the cap and the speaker that would fit."""
    setting = ctx.setting
    needed = radial_sum(params, setting, part)
    if needed.total <= radius + 1e-9:
        return None
    choices: list[tuple[CapKind, CapHold]] = [("round", "friction"), ("face", "friction")]
    own = (params.cap, params.cap_hold)
    parts, candidates = [], []
    for cap, hold in choices:
        other = _with_cap(params, cap, hold)
        total = radial_sum(other, setting, part).total
        closes = total <= radius + 1e-9
        if (cap, hold) == own or params.cap == "none":
            continue
        judged = ", which the radius allows" if closes else " and does not fit either"
        parts.append(f"a {cap} cap held by {hold} needs {total:.2f}{judged}")
        if closes and cap == params.cap:
            candidates.append(Remedy("cap_hold", hold, f"hold the cap by {hold}"))
        elif closes and hold == params.cap_hold:
            candidates.append(Remedy("cap", cap, f"use a {cap} cap"))
    if params.cap == "round" and params.cap_hold != "friction":
        other = _with_cap(params, "face", params.cap_hold)
        if radial_sum(other, setting, part).total <= radius + 1e-9:
            candidates.append(Remedy("cap", "face", "use a face cap"))
    rim = part.size("rim_diameter")
    largest_rim = rim - 2 * (needed.total - radius)
    if not params.bearing and needed.total <= _bearing_radius(ctx) + 1e-9:
        candidates.insert(0, Remedy("bearing", True, "bear on the bore over the whole section"))
    best = largest_speaker(params, setting, radius)
    if best is not None:
        candidates.append(Remedy("part", best.name, f"use {best.name}"))
    bore = math.ceil(20 * (ctx.bore_radius + needed.total - radius)) / 10
    words = f"a tube with a bore of {bore:g} mm or more, or a smaller speaker"
    if any(c.key == "cap" for c in candidates):
        words += "; a face cap together with a narrower printing flat (bearing.flat_width)"
    candidates.append(Remedy(None, None, words))
    terms = " + ".join(f"{t.value:.2f} {t.label}" for t in needed.terms)
    own_text = "no cap" if params.cap == "none" else f"a {params.cap} cap held by {params.cap_hold}"
    speaker = f'"{best.name}"' if best else "none of the catalogue"
    message = (
        f"{part.name} with {own_text} needs a radius of {needed.total:.2f} mm = {terms}; the chassis "
        f"has {radius:.2f} mm in the {2 * ctx.bore_radius:.2f} mm bore, {needed.total - radius:.2f} mm "
        f"too little. "
        f"Largest rim that fits this way: {largest_rim:.2f} mm; largest speaker: {speaker}"
    )
    message += "; " + "; ".join(parts) if parts else ""
    numbers = {
        "needed_radius": needed.total,
        "outer_radius": radius,
        "bore_diameter": 2 * ctx.bore_radius,
        "short": needed.total - radius,
        "largest_rim_diameter": largest_rim,
    }
    return Finding(
        "error", "radial-sum", ctx.name, message, numbers, candidates=tuple(candidates), blocks_solids=True
    )


def _bearing_radius(ctx: SectionContext) -> float:
    """Return the least radius with which the chassis bears anywhere, mm; 0 when it bears nowhere."""
    return min((s.radius for s in ctx.outer.steps if s.bearing), default=0.0)


def _with_cap(params: SpeakerCupParams, cap: CapKind, hold: CapHold) -> SpeakerCupParams:
    return params.model_copy(update={"cap": cap, "cap_hold": hold})


def _way_in(ctx: SectionContext, d: SpeakerCupPlan) -> Finding | None:
    near = d.facing.near
    if not (ctx.joined_near if near else ctx.joined_far):
        return None
    side, other = ("near", "far") if near else ("far", "near")
    closed = ctx.joined_far if near else ctx.joined_near
    turn = () if closed else (Remedy("facing", other, f"let the speaker look to its {other} end"),)
    own = Remedy("piece", f"{ctx.name}".replace(" ", "-"), "print the cup as a piece of its own")
    text = f"the speaker goes in from the {side} end, where a section of the same piece closes the cup"
    return Finding("error", "way-in-blocked", ctx.name, text, candidates=(*turn, own), blocks_solids=True)


def _sound_out(ctx: SectionContext, d: SpeakerCupPlan) -> Finding | None:
    """Return a warning where what stands before the speaker lets out less sound than its cap's ports."""
    window = ctx.window_near if d.facing.near else ctx.window_far
    if window is None:
        return None
    area, ports = math.pi / 4 * window**2, port_area(d)
    if area >= ports - 1e-9 and window > 0:
        return None
    way = f"a window of {window:.2f} mm, {area:.1f} mm2" if window else "no way through its middle"
    text = f"what stands before the speaker leaves {way}"
    text += f"; the cap's ports have {ports:.1f} mm2" if d.cap else ""
    numbers = {"window_area": area, "port_area": ports}
    wide = math.ceil(10 * math.sqrt(4 / math.pi * ports)) / 10
    words = f"window_diameter = {wide:g} or more there" if d.cap else "window_diameter there"
    return Finding("warning", "sound-covered", ctx.name, text, numbers, Remedy(None, None, words))


def port_area(d: SpeakerCupPlan) -> float:
    """Return the area of the cap's ports as printed, mm2; 0 without a cap.

    Args:
        d: what was planned.
    """
    if d.cap is None or d.port_diameter is None:
        return 0.0
    return len(d.cap.holes) * math.pi / 4 * d.port_diameter.term(PART_SIZE) ** 2


def _ledge(ctx: SectionContext, part: Part, d: SpeakerCupPlan) -> Finding | None:
    ledge = (d.rim_seat_diameter.total - d.bore_diameter.total) / 2
    if ledge >= LEAST_LEDGE:
        return None
    text = (
        f"{part.name}'s rim would rest on a ledge of {ledge:.2f} mm: half of the seat's "
        f"{d.rim_seat_diameter.total:.2f} less the bore's {d.bore_diameter.total:.2f} mm; "
        f"at least {LEAST_LEDGE:.2f} mm is wanted"
    )
    numbers = {"ledge": ledge, "least_ledge": LEAST_LEDGE}
    return Finding("error", "rim-ledge", ctx.name, text, numbers, blocks_solids=True)


def _cone_across(
    params: SpeakerCupParams, ctx: SectionContext, part: Part, d: SpeakerCupPlan
) -> Finding | None:
    if d.chamber_diameter is None or not part.has("cone_diameter"):
        return None
    cone = part.size("cone_diameter")
    if d.chamber_diameter.total >= cone:
        return None
    text = (
        f"the front chamber is {d.chamber_diameter.total:.2f} mm wide where the cap bears on the rim, "
        f"and the cone of {part.name} moves over {cone:.2f} mm"
    )
    remedy = Remedy("cap", "round", "use a round cap, which bears on the whole rim")
    candidates = (remedy,) if params.cap == "face" else ()
    numbers = {"chamber_diameter": d.chamber_diameter.total, "cone_diameter": cone}
    return Finding("error", "cone-room", ctx.name, text, numbers, candidates=candidates)


def _cone_along(params: SpeakerCupParams, ctx: SectionContext, part: Part) -> Finding | None:
    p = params
    if p.cap == "none" or not part.has("cone_travel"):
        return None
    least = part.size("cone_travel") + LEAD_ROOM
    if p.chamber_depth >= least:
        return None
    travel = part.size("cone_travel")
    text = f"the cone comes out {travel:.2f} mm into a chamber {p.chamber_depth:.2f} mm deep"
    remedy = Remedy("chamber_depth", max(2.0, least), f"make the chamber {max(2.0, least):.2f} mm deep")
    numbers = {"chamber_depth": p.chamber_depth, "least_chamber_depth": least}
    return Finding("error", "cone-travel", ctx.name, text, numbers, candidates=(remedy,))


def _ports(params: SpeakerCupParams, ctx: SectionContext, d: SpeakerCupPlan) -> Finding | None:
    if not d.cap:
        return None
    wall, p = ctx.setting.rules.least_wall, params
    remedies: tuple[Remedy, ...]
    hole = d.cap.hole_diameter
    if p.grille:
        # holes are drawn wider than they are to be printed: that comes off what is left between them
        web = math.ceil(20 * (wall + hole.total - p.grille.hole_diameter) - 1e-6) / 20
        grid = Grille(hole_diameter=min(p.grille.hole_diameter, 2.0), web=max(p.grille.web, web))
        remedies = (
            Remedy("grille.web", grid.web, f"holes {grid.web:g} mm apart"),
            Remedy("grille", grid.model_dump(), f"holes of {grid.hole_diameter:g} mm, {grid.web:g} mm apart"),
            Remedy(None, None, f"a web of {grid.web:g} mm or more, or smaller holes"),
        )
    else:
        largest = math.floor(d.cap.chamber_radius) - wall
        ports = {"count": 1, "diameter": min((p.ports or Ports()).diameter, largest)}
        remedies = (
            Remedy("ports", ports, f"one port of {ports['diameter']:g} mm in the middle"),
            Remedy(None, None, "fewer or smaller ports, or another circle_diameter for them"),
        )
    return port_finding(d.cap.name, d.cap.holes, hole.total, d.cap.chamber_radius, wall, *remedies)


def _bayonet_room(params: SpeakerCupParams, d: SpeakerCupPlan) -> Finding | None:
    b = d.cap.bayonet if d.cap else None
    if d.cap is None or b is None:
        return None
    room = d.at.cap_end - d.at.cup_face
    # the slope of a lug ends at the bar, and a groove shallower than its clearance holds nothing
    if room >= b.depth and b.lug_radius - b.bar_radius >= 2 * b.room:
        return None
    p, least = params, math.ceil(10 * b.depth + 1) / 10
    text = (
        f"the bayonet's grooves reach {b.depth:.2f} mm and cap and cup overlap by {room:.2f} mm; "
        f"its lugs are {b.lug_radius - b.bar_radius:.2f} mm high with {b.room:.2f} mm of clearance"
    )
    deeper = Remedy("cap_overlap", least, f"let them overlap by {least:g} mm")
    chamber = Remedy("chamber_depth", least + p.foam_gap, f"a chamber {least + p.foam_gap:g} mm deep")
    friction = Remedy("cap_hold", "friction", "hold the cap by friction")
    candidates = (deeper, chamber, friction) if p.cap == "face" else (deeper, friction)
    numbers = {
        "groove_end": b.depth,
        "overlap": room,
        "lug_height": b.lug_radius - b.bar_radius,
        "room": b.room,
    }
    return Finding(
        "error",
        "bayonet-room",
        d.cap.name,
        text,
        numbers,
        candidates=candidates,
        blocks_solids=True,
    )


def _engagement(d: SpeakerCupPlan) -> Finding | None:
    if not d.screws or d.screws[0].engagement >= d.screws[0].least_engagement - 1e-9:
        return None
    h = d.screws[0]
    text = (
        f"the cap's {h.thread} screws bear on {h.engagement:.2f} mm of thread; "
        f"at least {h.least_engagement:.2f} mm is wanted"
    )
    remedy = Remedy("cap_hold", "friction", "hold the cap by friction")
    numbers = {"engagement": h.engagement, "least_engagement": h.least_engagement}
    return Finding("error", "screw-engagement", h.id, text, numbers, candidates=(remedy,))


def _flat(params: SpeakerCupParams, ctx: SectionContext, d: SpeakerCupPlan) -> Finding | None:
    """Return where the flat that the chassis is printed on would leave too little of the cup's wall."""
    distance, least = ctx.outer.flat_distance, ctx.setting.rules.least_wall
    if distance is None:
        return None
    seat = (
        d.cap.bayonet.groove_radius
        if d.cap and d.cap.bayonet and params.cap == "face"
        else d.rim_seat_diameter.total / 2
    )
    if distance - seat >= least - 1e-9:
        return None
    text = (
        f"the flat at {distance:.2f} mm from the axis leaves {distance - seat:.2f} mm of the cup's wall "
        f"round the rim seat of radius {seat:.2f} mm; at least {least:.2f} mm is wanted"
    )
    numbers = {"wall": distance - seat, "least_wall": least}
    remedies = tuple(narrower_flats(ctx.outer, seat + least))
    return Finding("error", "flat-wall", ctx.name, text, numbers, candidates=remedies)


def _thin_walls(params: SpeakerCupParams, ctx: SectionContext) -> tuple[Finding, ...]:
    least, p = ctx.setting.rules.least_wall, params
    keys = ["cup_wall", "end_wall"]
    if p.cap != "none":
        keys += ["cap_plate"] + (["cap_wall"] if p.cap == "round" else [])
    return tuple(
        Finding(
            "error",
            "wall-thin",
            f"{ctx.name}.{key}",
            f"{key.replace('_', ' ')} is {getattr(p, key):.2f} mm; two nozzle widths are {least:.2f} mm",
            {"wall": getattr(p, key), "least_wall": least},
            candidates=(Remedy(key, least, f"{key} = {least:g}"),),
        )
        for key in keys
        if getattr(p, key) < least - 1e-9
    )
