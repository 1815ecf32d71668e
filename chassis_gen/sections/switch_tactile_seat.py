"""Tactile switch board: how it sits on ledges in a pocket, its actuator under the opening."""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec import Struct

from chassis_gen.findings import Finding, Remedy, error
from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import PART_SIZE, Dimension, Term
from chassis_gen.sections.features.board_seat import LEAST_LEDGE, MARGIN
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.switch_seat_findings import radial_finding
from chassis_gen.sections.switch_seat_model import COVER, Site, SwitchSeat, Wishes
from chassis_gen.sections.switch_seat_places import placed_switch, switch_fit, switch_terminals
from chassis_gen.sections.switch_seat_sums import highest_flat, opening_length, room_width, spine_under
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Step, cut

REMEDY_PLAY = 0.5
"""Play of the board that an offered recess allows for, mm (chosen)."""


class _Pocket(Struct, frozen=True):
    """The board's pocket and the window between its ledges, across and along the tube."""

    width: Dimension
    length: Dimension
    window_width: Dimension
    window_length: Dimension


def plan_tactile(part: Part, fitter: Fitter, site: Site, wishes: Wishes) -> SwitchSeat:
    """Return how a tactile switch board sits at its site.

    Args:
        part: the board.
        fitter: makes labelled sums.
        site: where it stands.
        wishes: what the maker asks.
    """
    s = part.sizes
    width = fitter.inner(f"{site.id}.pocket_width", s["width"], "slide", "board pocket across", part.name)
    length = opening_length(part, fitter, site.id)
    play_x, play_y = (width.total - s["width"].value) / 2, (length.total - s["length"].value) / 2
    window_x = _window(part, fitter, site, "width", play_x)
    window_y = _window(part, fitter, site, "length", play_y)
    seat = _seat_height(part, fitter, site, wishes, max(play_x, play_y))
    frame = site.frame(seat.total + REST)
    lowest = min(seat.total - _depth_below(part), seat.total - wishes.plate_thickness) - wishes.wire_room
    spine = spine_under(fitter, site, lowest, wishes.spine)
    top = seat.total + REST + s["thickness"].value + s["actuator_height"].value
    return SwitchSeat(
        part=placed_switch(part, site, frame, play_x, play_y),
        seat_height=seat,
        plate_thickness=fitter.chosen(
            f"{site.id}.plate_thickness", wishes.plate_thickness, "carries the board"
        ),
        room_width=room_width(part, fitter, site.id),
        spine=spine,
        opening_width=width,
        opening_length=length,
        bore_diameter=None,
        bore_flat_width=None,
        window_width=window_x,
        window_length=window_y,
        cutters=_cutters(part, fitter, site, seat, _Pocket(width, length, window_x, window_y), wishes),
        fits=(switch_fit(fitter, width, site, frame.x_axis), switch_fit(fitter, length, site, frame.y_axis)),
        terminals=switch_terminals(part, site, frame, spine.total),
        findings=(
            *_ledge_finding(part, site, "width", window_x),
            *_ledge_finding(part, site, "length", window_y),
            *_reach_finding(part, site, top),
            *radial_finding(site, part, wishes, spine.total, _radial_rows(part, site, wishes, seat)),
        ),
        top=top,
    )


def _depth_below(part: Part) -> float:
    """Return how far pins and parts reach below the board at most, mm."""
    return max(part.sizes["pin_length"].largest, part.sizes["height_below"].largest)


def _seat_height(part: Part, fitter: Fitter, site: Site, wishes: Wishes, play: float) -> Dimension:
    """Return the height of the board's seat from the actuator's top, down through actuator and board."""
    s = part.sizes
    terms = [
        Term(PART_SIZE, -s[n].value, f"{part.name}: {n.replace('_', ' ')}, {s[n].source}", s[n].tolerance)
        for n in ("actuator_height", "thickness")
    ]
    rest = Term("rest", -REST, "gap between board and ledges in the model")
    all_terms = (*_actuator_top(part, site, wishes, play), *terms, rest)
    return fitter.summed(f"{site.id}.seat_height", all_terms, "board's seat over the tube's axis")


def _actuator_top(part: Part, site: Site, wishes: Wishes, play: float) -> tuple[Term, ...]:
    """Return the terms of the actuator's top: under the tube's outer face, or as high as it still slides in."""
    if wishes.actuator_recess is not None:
        return (
            Term("tube outer radius", site.tube_outer_radius, "tube"),
            Term("actuator recess", -wishes.actuator_recess, "under the tube's outer face: parameter file"),
        )
    s, rims = part.sizes, _free_top(part, site, play) - (site.radius - COVER)
    spread = s["actuator_height"].tolerance + s["thickness"].tolerance
    return (
        Term("outer radius", site.radius, "chassis in tube"),
        Term("cover", -COVER, "under the outer surface while sliding in"),
        Term("rims", rims, "flat tops under a round surface"),
        Term("tolerance", -spread, "the highest actuator"),
    )


def _free_top(part: Part, site: Site, play: float) -> float:
    """Return how high the actuator's top may reach so that all of the part stays under the surface, mm."""
    s = part.sizes
    actuator = highest_flat(site, s["actuator_diameter"].largest / 2 + play)
    block = highest_flat(site, s["width"].largest / 2 - s["margin_above"].value + play)
    above = s["actuator_height"].value - s["height_above"].value
    return min(actuator, block + above)


def _window(part: Part, fitter: Fitter, site: Site, size: str, play: float) -> Dimension:
    """Return the clear size between two ledges: what stands out below must not touch them."""
    board, margin = part.sizes[size], part.sizes["margin_below"]
    terms = (
        Term(PART_SIZE, board.value, f"{part.name}: {size}, {board.source}", board.tolerance),
        Term("margin", -2 * margin.value, f"{part.name}: edge to what stands out below, {margin.source}"),
        Term("play", 2 * play, "sideways play of the board, both sides"),
        Term("spare", 2 * MARGIN, "both sides"),
    )
    return fitter.summed(f"{site.id}.window_{size}", terms, f"between the board's ledges, {size}")


def _cutters(
    part: Part, fitter: Fitter, site: Site, seat: Dimension, pocket: _Pocket, wishes: Wishes
) -> tuple[Step, ...]:
    frame, through = site.frame(seat.total), -wishes.plate_thickness - 0.5
    x, y, out = pocket.width.total / 2, pocket.length.total / 2, site.largest_radius + 1.0 - seat.total
    wx, wy = pocket.window_width.total / 2, pocket.window_length.total / 2
    name, size = f"{site.id}.pin_relief_diameter", part.sizes["pin_diameter"]
    pin = fitter.inner(name, size, "free", "pin relief", part.name)
    spots = [t.position for t in part.terminals]
    pins = [Cylinder(pin.total / 2, through, 0.5, frame @ shifted(p[0], p[1])) for p in spots]
    return (
        *cut("board pocket", Box((-x, -y, 0.0), (x, y, out), frame)),
        *cut("window under the board", Box((-wx, -wy, through), (wx, wy, 0.5), frame)),
        *cut("pin relief", *pins),
    )


def _ledge_finding(part: Part, site: Site, size: str, window: Dimension) -> Iterator[Finding]:
    ledge = (part.size(size) - window.total) / 2
    if ledge >= LEAST_LEDGE and window.total >= 1.0:
        return
    message = (
        f"a ledge of {ledge:.2f} mm is left under {part.name} ({size} {part.size(size):.2f}, "
        f"window {window.total:.2f} mm); {LEAST_LEDGE:g} mm are wanted: look at its margin_below"
    )
    yield error("ledge-narrow", site.id, message, {"ledge": ledge, "wanted": LEAST_LEDGE}, blocks=True)


def _reach_finding(part: Part, site: Site, top: float) -> Iterator[Finding]:
    """Yield a warning where the actuator reaches past the bore."""
    reach = math.hypot(top, part.size("actuator_diameter") / 2)
    if reach <= site.bore_radius:
        return
    least = math.ceil((site.tube_outer_radius - _free_top(part, site, REMEDY_PLAY)) * 10 + 5) / 10
    message = (
        f"the actuator of {part.name} reaches {reach:.2f} mm from the axis, "
        f"{reach - site.bore_radius:.2f} mm past the bore: the chassis cannot slide in with it"
    )
    numbers = {"reach": reach, "bore_radius": site.bore_radius}
    words = f"keep the actuator {least:g} mm under the tube's outer face"
    remedy = Remedy("actuator_recess", least, words)
    yield Finding("warning", "switch-past-bore", site.id, message, numbers, candidates=(remedy,))


def _radial_rows(part: Part, site: Site, wishes: Wishes, seat: Dimension) -> tuple[tuple[str, float], ...]:
    """Return what the board needs from the surface down to its pins, by label, mm."""
    return (
        ("surface to board seat", site.radius - seat.total),
        ("pins or plate", max(_depth_below(part), wishes.plate_thickness)),
    )
