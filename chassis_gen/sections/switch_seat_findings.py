"""The radial sum of a switch that does not close, and what would make it close."""

from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.parts.model import Part
from chassis_gen.sections.switch_seat_model import LEAST_SPINE, Site, Wishes


def radial_finding(
    site: Site, part: Part, wishes: Wishes, spine: float, rows: tuple[tuple[str, float], ...]
) -> Iterator[Finding]:
    """Yield an error with the radial sum where too little is left of the spine.

    Args:
        site: where the switch stands.
        part: the switch.
        wishes: what the maker asks.
        spine: what is left of it, mm.
        rows: label and length of what the switch needs from the surface down to its room for wires, mm.
    """
    if spine >= LEAST_SPINE:
        return
    rows = (*rows, ("wire room", wishes.wire_room), ("spine", LEAST_SPINE))
    needed = math.fsum(v for _, v in rows)
    available = 2 * site.radius
    shown = " + ".join(f"{label} {value:.2f}" for label, value in rows)
    message = (
        f"{part.name} does not fit across the chassis: {shown} = {needed:.2f} mm, "
        f"and the chassis is {available:.2f} mm across, {needed - available:.2f} mm too little"
    )
    numbers = {"needed": needed, "available": available, "short": needed - available}
    remedies = _remedies(part, wishes, LEAST_SPINE - spine)
    yield error("radial-sum", site.id, message, numbers, *remedies, blocks=True)


def _remedies(part: Part, wishes: Wishes, short: float) -> Iterator[Remedy]:
    button = part.kind == "panel_button"
    travel = part.size("travel") if button and wishes.slide_in == "free" else 0.0
    if travel >= short and travel:
        yield Remedy("slide_in", "pressed", "let the actuator be held down while the chassis slides in")
    if wishes.wire_room - short >= 1.0:
        room = math.floor((wishes.wire_room - short) * 10) / 10
        yield Remedy("wire_room", room, f"{room:g} mm under the lugs, wires led off sideways")
    if button and part.size("body_diameter") > 12 and part.name != "panel button 12 mm":
        yield Remedy("part", "panel button 12 mm", "take the panel button 12 mm")
    if part.name != "tactile board":
        yield Remedy("part", "tactile board", "take the tactile board")
