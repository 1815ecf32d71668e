"""What can't work about an end fitting: its walls, its thickness, what covers it, and where the tube stops it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.end_fitting_layout import needs, pocket_of
from chassis_gen.sections.end_fitting_model import EndFittingParams, EndFittingPlan
from chassis_gen.sections.features.end_press import LEAST_SEAT, EndPress, SpringTable, press_findings
from chassis_gen.sections.features.hole_circles import Plate, hole_findings, thin_finding, too_thin
from chassis_gen.sections.features.lanyard_bar import LanyardBar, bar_findings
from chassis_gen.sections.features.spigot import spigot_findings, stop_behind

STOP_DOUBT = 0.5
"""How far the tube's stop may lie from where the fitting takes it to be before that is said, mm (chosen)."""


def findings(params: EndFittingParams, d: EndFittingPlan, plate: Plate) -> Iterator[Finding]:
    """Yield what can't work, as planned.

    Args:
        params: the fitting's keys.
        d: what was decided.
        plate: what the holes go through.
    """
    ctx = plate.ctx
    yield from hole_findings(params.holes, d.sites, plate)
    if d.spigot:
        yield from spigot_findings(d.spigot, ctx)
    if d.press:
        yield from press_findings(d.press, ctx.name)
        yield from _stop_finding(params, d.press, ctx)
    if d.bar:
        yield from bar_findings(d.bar, ctx.name)
    found = (_wall_round(d, plate), _web(d, ctx), _thin(params, plate), _covered(params, ctx))
    yield from (f for f in found if f)


def _thin(params: EndFittingParams, plate: Plate) -> Finding | None:
    rooms = params.press is not None or params.lanyard is not None
    blocks = rooms or any(c.kind == "captive_nut" for c in params.holes)
    return thin_finding(plate, needs(params, plate.ctx.setting), blocks)


def _wall_round(d: EndFittingPlan, plate: Plate) -> Finding | None:
    """Return an error where the room in the outer face leaves no wall under the surface round it."""
    if d.reach is None:
        return None
    reach, what = d.reach
    ctx, flat = plate.ctx, plate.ctx.outer.flat_distance
    surface = ctx.outer.smallest_radius(plate.z0, plate.z1)
    if d.spigot:
        surface = min(surface, d.spigot.radius)
    if flat is not None:
        # the flat is nearer than the round surface, but only on its own side of a pocket
        surface = min(surface, flat + reach - (_toward_flat(d.beside, ctx) if d.beside else reach))
    where = "spigot's surface" if d.spigot else "outer surface"
    words = f"the wall between the {what}, which reaches {reach:.2f} mm from the axis, and the {where}"
    least = ctx.setting.rules.wall
    return too_thin(
        "edge-distance", ctx.name, words, surface - reach, least, *_smaller(d, surface - least - reach)
    )


def _toward_flat(bar: LanyardBar, ctx: SectionContext) -> float:
    """Return how far the lanyard's pocket reaches toward the printing flat, mm."""
    p = pocket_of(bar, ctx)
    turn = math.radians(ctx.outer.flat_clock - p.top_clock)
    return max(y * math.cos(turn) - x * math.sin(turn) for x in (p.x0, p.x1) for y in (p.y0, p.y1))


def _web(d: EndFittingPlan, ctx: SectionContext) -> Finding | None:
    """Return an error where window and lanyard's pocket leave no wall between them."""
    if d.window is None or d.bar is None:
        return None
    words, least = "the wall between the window and the lanyard's pocket", ctx.setting.rules.wall
    wall = d.bar.inner_edge - d.window.total / 2
    off = math.ceil(10 * (d.bar.off_axis.total + least - wall)) / 10
    remedy = Remedy("lanyard.off_axis", off, f"the bar {off:g} mm from the axis")
    return too_thin("edge-distance", ctx.name, words, wall, least, remedy)


def _smaller(d: EndFittingPlan, room: float) -> tuple[Remedy, ...]:
    """Return a smaller spring, pad, cord or window that leaves the wall."""
    larger = Remedy(None, None, "a larger bore, or an end without it")
    if d.bar:
        cords = (c for c in (3.0, 2.0, 1.5) if c < d.bar.table.cord_diameter)
        return (*(Remedy("lanyard.cord_diameter", c, f"a cord of {c:g} mm") for c in cords), larger)
    if d.window:
        value = math.floor(10 * (d.window.total + 2 * room) - 0.01) / 10
        return (Remedy("window_diameter", value, f"a window of {value:g} mm"),) if value > 0 else (larger,)
    if d.press is None:
        return ()
    table = d.press.table
    old = table.outer_diameter if isinstance(table, SpringTable) else table.diameter
    value = math.floor(10 * (old + 2 * room)) / 10
    if value <= 0 or (isinstance(table, SpringTable) and value <= 2 * table.wire_diameter):
        return (larger,)
    key = "outer_diameter" if isinstance(table, SpringTable) else "diameter"
    return Remedy(f"{d.press.key}.{key}", value, f"a {d.press.part.name} of {value:g} mm"), larger


def _covered(params: EndFittingParams, ctx: SectionContext) -> Finding | None:
    """Return an error where what stands at the outer face is inside the piece."""
    far = params.end == "far"
    busy = params.press or params.lanyard or params.spigot
    if not busy or not (ctx.joined_far if far else ctx.joined_near):
        return None
    side, other = ("behind", "near") if far else ("before", "far")
    text = f"the {params.end} face of {ctx.name} is inside the piece {ctx.piece}: a section stands {side} it"
    free = not (ctx.joined_near if far else ctx.joined_far)
    candidates = (Remedy("end", other, f"turned to the {other} end"),) if free else ()
    return Finding("error", "end-covered", ctx.name, text, candidates=candidates, blocks_solids=True)


def _stop_finding(params: EndFittingParams, press: EndPress, ctx: SectionContext) -> Iterator[Finding]:
    """Yield a warning where the tube's end isn't where the fitting takes its stop to be."""
    if params.end == "near" or not ctx.last:
        return
    stop = stop_behind(ctx.bores, ctx.z1, press.part.size("diameter"))
    if stop is None or abs(stop - ctx.z1 - params.stop_gap) <= STOP_DOUBT:
        return
    room = stop - ctx.z1
    text = (
        f"the outer face stands {room:.2f} mm before the bore's end at station {stop:.2f}; the {press.part.name} "
        f"is planned for a stop {params.stop_gap:.2f} mm behind it"
    )
    numbers = {"room": room, "stop_gap": params.stop_gap, "stop": stop}
    more = room - params.stop_gap
    value, floor = round(room, 2), round(params.floor + more, 2)
    # a plate that is as thick as the room needs goes with the gap; then it is the floor that moves the face
    candidates = []
    if 0 <= value < press.table.closed_length - LEAST_SEAT:
        candidates.append(Remedy("stop_gap", value, f"a gap of {value:g} mm"))
    if floor >= 0.8:
        candidates.append(Remedy("floor", floor, f"a floor of {floor:g} mm"))
    yield Finding("warning", "stop-gap", ctx.name, text, numbers, candidates=tuple(candidates))
