"""What can't work about a port bay: its place, its room, its part, the carrier's screw, the cut-off plug."""

from __future__ import annotations

import math
from collections.abc import Mapping

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.parts.model import Part
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.head_screw import HEAD_DIAMETERS
from chassis_gen.sections.features.openings import wider_opening
from chassis_gen.sections.features.screw_hole import hole_finding
from chassis_gen.sections.features.surface import half_chord
from chassis_gen.sections.port_bay_model import (
    CARRIER_WALL,
    COVER,
    LEAST_GROOVE,
    PortBayParams,
    PortBayPlan,
    has_carrier,
    level_of,
)
from chassis_gen.sections.port_bay_sums import axial_screw_room
from chassis_gen.tables.threads import find_thread


def findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan, facts: Mapping[str, float]
) -> tuple[Finding, ...]:
    """Return what can't work.

    Args:
        params: of the section.
        ctx: of the section.
        part: the jack or board.
        d: what was planned.
        facts: the section's facts, which tell where a closed plug's head stands.
    """
    return (
        *_mount_findings(params, ctx, part),
        *_room_findings(params, ctx, part, d),
        *_part_findings(params, ctx, part, d),
        *_screw_findings(params, ctx, part, d),
        *_plug_findings(params, ctx, part, d, facts),
    )


def _mount_findings(params: PortBayParams, ctx: SectionContext, part: Part) -> tuple[Finding, ...]:
    found = []
    at_end = ctx.first if params.facing == "near" else ctx.last
    if params.mount == "axial" and not at_end:
        other = "far" if params.facing == "near" else "near"
        turned = ctx.last if other == "far" else ctx.first
        message = f"the port faces the {params.facing} end, but another section stands before it"
        remedies = [Remedy("mount", "radial", "a radial port under a tube opening")]
        if turned:
            remedies.insert(0, Remedy("facing", other, f'facing = "{other}"'))
        found.append(error("port-covered", ctx.name, message, {}, *remedies))
    if params.mount == "radial" and ctx.opening is None:
        message = "no opening of the tube leads to this port: at_opening names one"
        remedy = Remedy(None, None, "a [[tube.opening]] there, named by at_opening")
        found.append(Finding("warning", "port-without-opening", ctx.name, message, remedy=remedy))
    if params.mount == "radial" and ctx.opening is not None:
        grip = part.size("plug_diameter" if part.kind == "charge_jack" else "plug_width")
        if ctx.opening.diameter < grip + 0.5:
            message = (
                f"the plug's grip is {grip:.2f} mm wide, the opening {ctx.opening.name} "
                f"{ctx.opening.diameter:.2f} mm; {grip + 0.5:.2f} mm are needed"
            )
            numbers = {"opening": ctx.opening.diameter, "needed": grip + 0.5}
            found.append(error("opening-small", ctx.name, message, numbers, wider_opening(grip + 0.5)))
    if part.kind == "port_board" and params.carrier is False:
        remedy = Remedy("carrier", True, "a carrier")
        message = "a connector on a board slides into its grooves from behind, so it needs a carrier"
        found.append(error("board-needs-carrier", ctx.name, message, {}, remedy, blocks=True))
    if params.mount == "radial" and params.carrier_hole == "set_screw" and has_carrier(params, part):
        remedy = Remedy("carrier_hole", "tapped", "a tapped hole")
        message = "a set screw has no head to hold a radial carrier down"
        found.append(error("screw-kind", ctx.name, message, {}, remedy, blocks=True))
    return tuple(found)


def _room_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[Finding, ...]:
    least, r = ctx.setting.rules.least_wall, ctx.radius
    found = []
    if params.mount == "axial":
        if d.well and d.well.radius is not None:
            needed = d.recess_radius + CARRIER_WALL
            if part.kind == "port_board":
                low = d.board_level - part.size("height_below") - COVER
                high = (
                    d.board_level
                    + part.size("thickness")
                    + max(part.size("height_above"), part.size("connector_height"))
                )
                half = part.size("width") / 2
                needed = CARRIER_WALL + max(math.hypot(half, low), math.hypot(half, high))
            room = d.well.radius - COVER
        else:
            needed, room = d.recess_radius + 2 * least, r
        if room < needed or d.room[0] < 3.0:
            message = (
                f"{part.name} needs {2 * needed:.2f} mm across at the end face; the chassis leaves "
                f"{2 * max(room, 0.0):.2f} mm"
            )
            numbers = {"needed": 2 * needed, "room": 2 * room}
            found.append(
                error("port-wide", ctx.name, message, numbers, *_narrower(params, part), blocks=True)
            )
        return tuple(found)
    level = level_of(d)
    floor = level - d.depth - d.wire_room.total
    wanted = 4 * least
    if floor < wanted - r:
        message = f"{_under(floor + r)}; {wanted:g} mm are wanted"
        numbers = {"left": floor + r, "wanted": wanted}
        found.append(error("port-deep", ctx.name, message, numbers, *_shallower(params), blocks=True))
    wide = d.well.half_x if d.well else d.recess_radius
    at = level - d.depth if d.well else level
    side = half_chord(r, at) - wide
    if side < 2 * least:
        message = (
            f"beside the port's seat {max(side, 0.0):.2f} mm of wall are left; {2 * least:g} mm are wanted"
        )
        numbers = {"wall": side, "wanted": 2 * least}
        found.append(error("port-wide", ctx.name, message, numbers, *_narrower(params, part), blocks=True))
    low = math.sqrt(max(0.0, r**2 - max(abs(floor), abs(level - d.depth)) ** 2)) - d.room[0]
    if d.well and low < least:
        message = (
            f"beside the room under the port {max(low, 0.0):.2f} mm of wall are left, less than {least:g}"
        )
        numbers = {"wall": low, "least_wall": least}
        ways = (*_shallower(params), *_narrower(params, part))
        found.append(error("wall-thin", ctx.name, message, numbers, *ways, blocks=True))
    return tuple(found)


def _under(left: float) -> str:
    """Return in words what is left between the room under a port and the spine's outside."""
    if left < 0:
        return f"the room under the port reaches {-left:.2f} mm beyond the spine's outside"
    return f"under the port {left:.2f} mm are left over the spine's outside"


def _shallower(params: PortBayParams) -> tuple[Remedy, ...]:
    """Return what makes a radial port's room less deep, or gives it more: each is tried."""
    thin = (w for w in (1.4, 1.0) if w < params.wire_diameter)
    return (
        *((Remedy("cut_off_plug", False, "no cut-off plug"),) if params.cut_off_plug is not False else ()),
        *(Remedy("wire_diameter", w, f"room for wires of {w:g} mm") for w in thin),
        Remedy("mount", "axial", "the port at an end of the chassis"),
        *params.wider(),
        Remedy(None, None, "a shorter jack, an end of the chassis, or a larger bore"),
    )


def _narrower(params: PortBayParams, part: Part) -> tuple[Remedy, ...]:
    """Return what makes a port's seat narrower, or gives it more room: each is tried."""
    other = "axial" if params.mount == "radial" else "radial"
    carrier = has_carrier(params, part)
    set_screw = params.mount == "axial" and carrier and params.carrier_hole != "set_screw"
    return (
        *((Remedy("carrier_hole", "set_screw", "a set screw in the frame"),) if set_screw else ()),
        *(
            (Remedy("carrier_thread", "M2", "an M2 screw"),)
            if carrier and params.carrier_thread != "M2"
            else ()
        ),
        *((Remedy("carrier", False, "no carrier"),) if carrier and part.kind == "charge_jack" else ()),
        Remedy("mount", other, f"the port {other}"),
        *params.wider(),
        Remedy(None, None, "a narrower port or a larger bore"),
    )


def _part_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[Finding, ...]:
    found = []
    if part.kind == "port_board":
        groove = part.size("width") / 2 - max(
            part.size("width") / 2 - part.size("margin_above"), part.size("connector_width") / 2
        )
        if groove - COVER < LEAST_GROOVE:
            message = (
                f"beside connector and components {groove:.2f} mm of the board's edge are free for its "
                f"groove; {LEAST_GROOVE + COVER:.2f} mm are wanted"
            )
            numbers = {"edge": groove, "wanted": LEAST_GROOVE + COVER}
            found.append(error("no-groove", ctx.name, message, numbers, blocks=True))
        return tuple(found)
    thread = part.size("body_depth") - d.depth - part.size("nut_height")
    if thread < 0.0:
        thick = math.floor((part.size("body_depth") - part.size("nut_height")) * 10) / 10
        message = (
            f"a plate of {d.depth:.2f} mm leaves {thread:.2f} mm of the jack's thread beyond its nut: "
            f"up to {thick:g} mm hold it"
        )
        numbers = {"plate": d.depth, "most": thick}
        found.append(error("thread-short", ctx.name, message, numbers, Remedy("plate", thick, "thinner")))
    return tuple(found)


def _screw_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan
) -> tuple[Finding, ...]:
    if not d.holes or d.well is None:
        return ()
    found = [f for f in (hole_finding(h) for h in d.holes[-1:]) if f]
    last = d.holes[-1]
    if params.mount == "axial" and d.well.radius is not None:
        room = axial_screw_room(params)
        if d.depth < room and part.kind == "charge_jack":
            message = f"a plate of {d.depth:.2f} mm can't take the carrier's screw: {room:g} mm are needed"
            remedy = Remedy("plate", room, f"a plate of {room:g} mm")
            numbers = {"plate": d.depth, "needed": room}
            found.append(error("plate-thin", ctx.name, message, numbers, remedy, blocks=True))
        if last.kind != "set_screw":
            core = d.seat.total / 2
            if part.kind == "port_board":
                core = d.board_level + part.size("thickness") + part.size("connector_height") + 0.5
            left = d.well.radius - last.depth - core
            wall = ctx.setting.rules.least_wall
            if left < wall:
                message = (
                    f"between the carrier's screw hole and the port {max(left, 0.0):.2f} mm are left, "
                    f"less than {wall:g} mm"
                )
                numbers = {"left": left, "least_wall": wall}
                found.append(
                    error("screw-deep", last.id, message, numbers, *_narrower(params, part), blocks=True)
                )
        return tuple(found)
    left = level_of(d) - d.depth - last.depth + ctx.radius
    if left < last.least_wall:
        message = (
            f"{max(left, 0.0):.2f} mm are left under the carrier's screw; {last.least_wall:.2f} mm are wanted"
        )
        numbers = {"left": left, "wanted": last.least_wall}
        other = "insert" if last.kind == "tapped" else "tapped"
        ways = (
            *((Remedy("carrier_thread", "M2", "an M2 screw"),) if params.carrier_thread != "M2" else ()),
            Remedy("carrier_hole", other, f"a hole of kind {other}"),
            *_shallower(params),
        )
        found.append(error("screw-deep", last.id, message, numbers, *ways, blocks=True))
    bears = d.holes[0].depth
    head = level_of(d) - d.depth + bears + find_thread(last.thread).major_diameter
    rim = math.hypot(head, HEAD_DIAMETERS * find_thread(last.thread).major_diameter / 2)
    if rim > ctx.radius:
        message = f"the screw's head reaches {rim:.2f} mm from the axis, the chassis {ctx.radius:.2f} mm"
        thinner = Remedy("carrier_thread", "M2", "an M2 screw")
        found.append(error("head-high", last.id, message, {"reach": rim, "radius": ctx.radius}, thinner))
    return tuple(found)


def _plug_findings(
    params: PortBayParams, ctx: SectionContext, part: Part, d: PortBayPlan, facts: Mapping[str, float]
) -> tuple[Finding, ...]:
    if part.kind != "charge_jack" or params.cut_off_plug is False:
        return ()
    if d.plug is None:
        if not params.cut_off_plug:
            return ()
        message = f"{part.name} lacks barrel_diameter, the mouth that a cut-off plug goes into"
        remedy = Remedy("cut_off_plug", False, "no cut-off plug")
        return (error("no-barrel", ctx.name, message, {}, remedy),)
    found: list[Finding] = []
    plug = d.plug
    if part.has("contact_depth"):
        m = part.sizes["contact_depth"]
        needed = m.largest
        if plug.reach.total < needed:
            message = (
                f"the cut-off plug reaches {plug.reach.total:.2f} mm into the jack; its contact opens at up to "
                f"{needed:.2f} mm and stays closed"
            )
            numbers = {"reach": plug.reach.total, "needed": needed}
            deep = math.ceil(needed * 10) / 10
            fits = deep <= part.size("pin_depth")
            candidates = (Remedy("plug_reach", deep, f"a reach of {deep:g} mm"),) if fits else ()
            found.append(error("contact-stays-closed", ctx.name, message, numbers, *candidates))
    else:
        message = (
            f"{part.name} lacks contact_depth: measure whether {plug.reach.total:.2f} mm open its contact"
        )
        found.append(Finding("warning", "contact-depth-unknown", ctx.name, message))
    if plug.reach.total > part.size("pin_depth"):
        message = (
            f"the cut-off plug reaches {plug.reach.total:.2f} mm, the jack's mouth is "
            f"{part.size('pin_depth'):.2f} mm deep"
        )
        numbers = {"reach": plug.reach.total, "depth": part.size("pin_depth")}
        usual = math.floor((part.size("pin_depth") - 0.5) * 10) / 10
        remedy = Remedy("plug_reach", usual, f"a reach of {usual:g} mm")
        found.append(error("plug-too-long", ctx.name, message, numbers, remedy, blocks=True))
    if plug.sleeve_wall < ctx.setting.rules.least_wall / 2:
        message = f"the cut-off plug's sleeve has a wall of {plug.sleeve_wall:.2f} mm round the jack's pin"
        remedy = Remedy("cut_off_plug", False, "no cut-off plug")
        numbers = {"wall": plug.sleeve_wall}
        found.append(error("plug-thin", ctx.name, message, numbers, remedy, blocks=True))
    below = facts["plug_below_bore_mm" if params.mount == "radial" else "plug_below_cap_mm"]
    if below < 0.0:
        what = "the tube's bore" if params.mount == "radial" else "the room inside the end cap"
        message = f"closed, the cut-off plug's head stands {-below:.2f} mm beyond {what}"
        remedies: tuple[Remedy, ...] = ()
        if params.mount == "axial":
            deep = math.ceil(((params.recess or 0.0) - below) * 10) / 10
            remedies = (Remedy("recess", deep, f"a recess of {deep:g} mm"),)
        found.append(error("plug-high", ctx.name, message, {"beyond": -below}, *remedies))
    if params.mount == "radial" and ctx.opening and ctx.opening.diameter < plug.head_diameter.total + 0.3:
        message = (
            f"the cut-off plug's head is {plug.head_diameter.total:.2f} mm wide and doesn't pass the opening "
            f"{ctx.opening.name} of {ctx.opening.diameter:.2f} mm"
        )
        numbers = {"head": plug.head_diameter.total, "opening": ctx.opening.diameter}
        found.append(error("plug-wide", ctx.name, message, numbers))
    return tuple(found)
