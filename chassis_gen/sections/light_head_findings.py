"""What can't work about a light head: its place, its part, the chassis's walls, its screws."""

from __future__ import annotations

import math

from chassis_gen.findings import Finding, Remedy, wall_left
from chassis_gen.parts.model import Part
from chassis_gen.plan.model import OVERLAP, ScrewHole
from chassis_gen.plan.sums import PART_SIZE
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.screw_hole import hole_finding
from chassis_gen.sections.light_head_model import (
    LEAD_STUB,
    LEAST_LEDGE,
    PIN_MARGIN,
    PRESS_SHARE,
    LightHeadParams,
    LightHeadPlan,
    pin_press,
    usual_tube,
)


def findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan, lock: ScrewHole | None
) -> tuple[Finding, ...]:
    """Return what can't work.

    Args:
        params: of the section.
        ctx: of the section.
        part: the light.
        d: what was planned.
        lock: the locking screw's hole, if there is one.
    """
    return (
        *_place_findings(params, ctx, part, d),
        *_part_findings(params, ctx, part, d),
        *_wall_findings(params, ctx, part, d),
        *_screw_findings(params, ctx, d, lock),
    )


def _place_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    """Return an error where something stands in front of the light that it can't shine through."""
    far = params.facing == "far"
    if ctx.last if far else ctx.first:
        return ()
    window = (ctx.window_far if far else ctx.window_near) or 0.0
    needed = _clear_way(params, part, d, ctx.joined_far if far else ctx.joined_near)
    if needed is not None and window >= needed - 1e-9:
        return ()
    least = math.ceil(10 * (needed or 0.0) - 1e-6) / 10
    keys = (ctx.window_keys_far if far else ctx.window_keys_near) if needed is not None else ()
    wider = tuple(Remedy(key, least, f"a window of {least:g} mm") for key in keys)
    if needed is not None and window:
        message = f"what stands before the light leaves a window of {window:.2f} mm; the light needs {needed:.2f} mm"
        words = Remedy(None, None, f"window_diameter = {least:g} or more there")
        numbers = {"window": window, "needed": needed}
        return (Finding("error", "light-covered", ctx.name, message, numbers, candidates=(*wider, words)),)
    other = "near" if params.facing == "far" else "far"
    turned = ctx.first if other == "near" else ctx.last
    turn = (Remedy("facing", other, f'facing = "{other}"'),) if turned else ()
    through = (
        "a window through it"
        if keys
        else "a light that shines through a window (a round LED or a light tube)"
    )
    words = Remedy(None, None, f"{through}, or the light as the last section on its side")
    candidates = (*turn, *wider, words)
    where = "deepest" if params.facing == "far" else "first"
    message = (
        f"the light faces the {params.facing} end, but this isn't the {where} section: the next one covers it"
    )
    return (Finding("error", "light-covered", ctx.name, message, candidates=candidates),)


def _clear_way(params: LightHeadParams, part: Part, d: LightHeadPlan, joined: bool) -> float | None:
    """Return the least window before the light, mm, or None where there can be none.

    A light tube and a round LED shine through a window; in the light's own piece it has to let in the part too. A
    slug presses on the tube's end, which gives no room for anything before it.
    """
    if params.light == "led_slug" or (joined and d.carrier):
        return None
    if d.socket_diameter:
        return max(d.socket_diameter.total, d.seat_diameter.total)
    return d.seat_diameter.total if joined else part.size("body_diameter")


def _part_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    if params.light == "contact_board":
        return (*_pin_findings(params, ctx, part, d), *_ledge_findings(params, ctx, part, d))
    if params.light == "led_slug":
        return (*_proud_findings(params, ctx, part), *_opening_findings(params, ctx, d))
    return (*_web_findings(ctx, part, d), *_lead_findings(params, ctx, part))


def _pin_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    press, travel = pin_press(params, part), part.size("pin_travel")
    if press <= travel:
        return ()
    usual = round(PRESS_SHARE * travel, 2)
    message = (
        f"the light tube would press the pins by {press:.2f} mm, but they travel {travel:.2f} mm: "
        "it can't go home"
    )
    remedy = Remedy("pin_press", usual, f"pins pressed by {usual:g} mm")
    return (
        Finding(
            "error",
            "pins-bottom",
            ctx.name,
            message,
            {"press": press, "travel": travel},
            candidates=(remedy,),
            blocks_solids=d.seat_depth.total <= part.size("thickness"),
        ),
    )


def _ledge_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    """Return what is wrong with the board's ledge and with the light tube's shoulder."""
    found = list(_opening_findings(params, ctx, d))
    need = (part.size("pin_circle_diameter") + part.size("pin_diameter")) / 2 + PIN_MARGIN
    opening = d.passages[0].radius
    if need > opening + 1e-9 and not found:
        width = math.floor((d.seat_diameter.total / 2 - need) * 10) / 10
        message = f"the ledge's opening of {2 * opening:.2f} mm covers joints that need {2 * need:.2f} mm"
        candidates = (
            (Remedy("ledge_width", width, f"ledge {width:g} mm wide"),) if width >= LEAST_LEDGE else ()
        )
        numbers = {"opening": 2 * opening, "needed": 2 * need}
        found.append(
            Finding("error", "ledge-covers-joints", ctx.name, message, numbers, candidates=candidates)
        )
    assert d.socket_diameter is not None
    shoulder = (d.socket_diameter.total - d.seat_diameter.total) / 2
    if shoulder < LEAST_LEDGE - 1e-3:
        wanted = usual_tube(d.seat_diameter, ctx.setting.fitter)
        message = (
            f"the light tube's socket is {d.socket_diameter.total:.2f} mm wide and the board's seat "
            f"{d.seat_diameter.total:.2f} mm: a shoulder of {shoulder:.2f} mm "
            f"can't stop the light tube, {LEAST_LEDGE:g} mm can"
        )
        numbers = {"shoulder": shoulder, "least": LEAST_LEDGE, "least_tube_diameter": float(wanted)}
        remedy = Remedy("tube_diameter", wanted, f"light tube of {wanted:g} mm or more")
        blocks = shoulder < OVERLAP
        found.append(
            Finding(
                "error",
                "light-tube-narrow",
                ctx.name,
                message,
                numbers,
                candidates=(remedy,),
                blocks_solids=blocks,
            )
        )
    return tuple(found)


def _opening_findings(params: LightHeadParams, ctx: SectionContext, d: LightHeadPlan) -> tuple[Finding, ...]:
    """Return an error where the ledge is too narrow to bear, or leaves no opening for wires."""
    width, opening = params.ledge_width, d.passages[0].radius
    if width >= LEAST_LEDGE and opening >= LEAST_LEDGE:
        return ()
    message = f"a ledge {width:.2f} mm wide leaves an opening of {2 * max(opening, 0.0):.2f} mm in the seat"
    numbers = {"ledge_width": width, "opening": 2 * opening}
    fits = d.seat_diameter.total / 2 - 2.0 >= LEAST_LEDGE
    candidates = (Remedy("ledge_width", 2.0, "ledge 2 mm wide"),) if fits else ()
    blocks = opening < OVERLAP
    return (
        Finding(
            "error", "ledge-width", ctx.name, message, numbers, candidates=candidates, blocks_solids=blocks
        ),
    )


def _proud_findings(params: LightHeadParams, ctx: SectionContext, part: Part) -> tuple[Finding, ...]:
    spread = part.sizes["slug_thickness"].tolerance
    if params.proud > spread:
        return ()
    wanted = round(spread + 0.05, 2)
    message = (
        f"the slug stands {params.proud:.2f} mm proud but its thickness varies by {spread:.2f} mm: "
        "a thin one doesn't touch the metal tube, and stays hot"
    )
    candidates = (Remedy("proud", wanted, f"{wanted:g} mm proud"),) if wanted <= 0.5 else ()
    numbers = {"proud": params.proud, "tolerance": spread}
    return (Finding("warning", "slug-not-touching", ctx.name, message, numbers, candidates=candidates),)


def _web_findings(ctx: SectionContext, part: Part, d: LightHeadPlan) -> tuple[Finding, ...]:
    assert d.lead_hole_diameter is not None
    web, least = part.size("lead_spacing") - d.lead_hole_diameter.total, ctx.setting.rules.least_wall
    if web >= least:
        return ()
    message = f"between the two lead holes {wall_left(web)}, less than {least:g} mm"
    numbers = {"wall": web, "least_wall": least}
    return (Finding("error", "wall-thin", ctx.name, message, numbers, blocks_solids=web < least / 2),)


def _lead_findings(params: LightHeadParams, ctx: SectionContext, part: Part) -> tuple[Finding, ...]:
    """Return an error where a round LED's leads end in the ledge or run into the end wall."""
    length = part.size("lead_length")
    stub = length - params.ledge
    if stub < LEAD_STUB:
        thinner = length - LEAD_STUB
        message = (
            f"leads {length:.2f} mm long stand {stub:.2f} mm out of a ledge of {params.ledge:.2f} mm: "
            f"a joint needs {LEAD_STUB:g} mm"
        )
        enough = thinner >= ctx.setting.rules.least_wall
        candidates = (Remedy("ledge", thinner, f"ledge {thinner:g} mm thick"),) if enough else ()
        numbers = {"stub": stub, "least": LEAD_STUB}
        return (Finding("error", "leads-short", ctx.name, message, numbers, candidates=candidates),)
    if stub + LEAD_STUB <= params.wire_room:
        return ()
    wanted = math.ceil((stub + LEAD_STUB) * 10 - 1e-6) / 10
    message = (
        f"leads stand {stub:.2f} mm into a wire room of {params.wire_room:.2f} mm: joint and wire need "
        f"{LEAD_STUB:g} mm more than the leads"
    )
    numbers = {"stub": stub, "wire_room": params.wire_room, "least_wire_room": wanted}
    candidates = (Remedy("wire_room", wanted, f"wire room {wanted:g} mm long"),)
    blocks = stub > params.wire_room
    return (
        Finding(
            "error", "leads-long", ctx.name, message, numbers, candidates=candidates, blocks_solids=blocks
        ),
    )


def _wall_findings(
    params: LightHeadParams, ctx: SectionContext, part: Part, d: LightHeadPlan
) -> tuple[Finding, ...]:
    """Return an error where seat or socket leave too little of the chassis's wall."""
    least, left = ctx.setting.rules.least_wall, ctx.radius - d.seat_radius
    if left >= least and d.room_radius > 1.0:
        return ()
    message = (
        f"the light takes {2 * d.seat_radius:.2f} mm of the chassis's {2 * ctx.radius:.2f} mm: "
        f"{wall_left(left)}, less than {least:g} mm"
    )
    numbers = {"wall": left, "least_wall": least, "light_diameter": 2 * d.seat_radius}
    candidates = []
    if d.socket_diameter:
        usual = usual_tube(d.seat_diameter, ctx.setting.fitter)
        beyond = d.socket_diameter.total - d.socket_diameter.term(PART_SIZE)
        if ctx.radius - (usual + beyond) / 2 >= least and usual < d.socket_diameter.term(PART_SIZE):
            candidates.append(Remedy("tube_diameter", usual, f"light tube of {usual:g} mm"))
    if params.light == "contact_board" and params.part is None:
        candidates.append(Remedy("light", "led_slug", "an LED on a slug, which takes less room"))
    if params.light != "led_round" and params.part is None:
        candidates.append(Remedy("light", "led_round", "a round LED, which takes least room"))
    bore = math.ceil((ctx.bore_radius + least - left) * 20) / 10
    candidates.append(Remedy(None, None, f"a smaller light, or a tube with a bore of {bore:g} mm or more"))
    blocks = left < least / 2 or d.room_radius <= 1.0
    return (
        Finding(
            "error",
            "wall-thin",
            ctx.name,
            message,
            numbers,
            candidates=tuple(candidates),
            blocks_solids=blocks,
        ),
    )


def _screw_findings(
    params: LightHeadParams, ctx: SectionContext, d: LightHeadPlan, lock: ScrewHole | None
) -> tuple[Finding, ...]:
    found = [f for f in (hole_finding(h) for h in d.cutting[:1] + d.forming[:1]) if f]
    if params.light == "contact_board" and lock is None and params.locking_screw is None:
        message = (
            "no locking screw: the socket's wall is too thin or too short to hold its thread; "
            "hold the light tube otherwise"
        )
        found.append(Finding("note", "no-locking-screw", ctx.name, message))
    if lock and lock.engagement < lock.least_engagement:
        message = (
            f"the locking screw {lock.thread} has {lock.engagement:.2f} mm of wall to hold in and needs "
            f"{lock.least_engagement:.2f} mm"
        )
        numbers = {"engagement": lock.engagement, "least_engagement": lock.least_engagement}
        remedy = Remedy("locking_screw", False, "no locking screw")
        found.append(Finding("error", "screw-engagement", lock.id, message, numbers, candidates=(remedy,)))
    if d.bosses:
        radius, distance = d.bosses
        over = distance + radius + OVERLAP - ctx.radius
        if over > 1e-6:
            message = (
                f"beside the light there is no room for the carrier's {params.carrier_thread} screws: "
                f"{over:.2f} mm are missing on each side"
            )
            remedy = Remedy("carrier", False, "no carrier")
            numbers = {"missing": over, "boss_diameter": 2 * radius}
            found.append(
                Finding(
                    "error",
                    "carrier-no-room",
                    ctx.name,
                    message,
                    numbers,
                    candidates=(remedy,),
                    blocks_solids=True,
                )
            )
    return tuple(found)
