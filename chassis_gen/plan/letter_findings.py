"""What can't work about a text: strokes, gaps and depth, where it reaches, and room about it."""

from __future__ import annotations

import math

from chassis_gen.findings import Finding, Remedy
from chassis_gen.lettering.model import TextOutline
from chassis_gen.params.lettering import LetteringTable
from chassis_gen.plan.letter_faces import STEEPEST, PlaneFace, RoundFace, grown
from chassis_gen.plan.letter_laying import LaidText, Place, laid_text, patch_of
from chassis_gen.plan.letter_room import (
    Blank,
    free_offsets,
    nearest_place,
    round_room,
    solid_beneath,
    stations_of,
)
from chassis_gen.plan.model import OVERLAP, clock_of
from chassis_gen.plan.outer_room import OuterRoom
from chassis_gen.sections.base import Rules


def text_findings(
    i: int, table: LetteringTable, outline: TextOutline, laid: LaidText, top: float
) -> tuple[Finding, ...]:
    """Return what can't work about a text where it is laid; one that doesn't fit its face isn't asked about room.

    Args:
        i: number of the text in the build file.
        table: its keys.
        outline: of the text.
        laid: the text on its face.
        top: clock of the section's top, degrees.
    """
    outside = _outside(i, table, laid)
    return (
        *_printing(i, table, outline, laid.place.blank, top),
        *outside,
        *(() if outside else _room(i, table, laid)),
    )


def _printing(i: int, table: LetteringTable, outline: TextOutline, blank: Blank, top: float) -> list[Finding]:
    """Return what of a text's strokes, gaps and depth the printer can't make."""
    found = []
    where, rules, scale = f"lettering[{i}]", blank.rules, table.size / outline.capital
    size = math.ceil(10 * rules.nozzle / min(outline.stroke, outline.gap) * outline.capital) / 10
    wide = [
        ("text-stroke", "the thinnest stroke", outline.stroke * scale),
        ("text-gap", "the narrowest gap between strokes", outline.gap * scale),
    ]
    wide = [w for w in wide if w[2] < rules.nozzle]
    remedies: tuple[Remedy, ...]
    if wide and _fits_somewhere(i, table.model_copy(update={"size": size}), outline, blank, top):
        remedies = (
            Remedy(f"{where}.size", size, f"letters {size:g} mm high"),
            Remedy(None, None, f"letters {size:g} mm high, or a font with wider strokes and gaps"),
        )
    else:
        text = (
            f"a font with wider strokes and gaps, or a shorter text: letters {size:g} mm high have no room on "
            f'"{blank.name}"'
        )
        remedies = (Remedy(None, None, text),)
    for code, what, width in wide:
        message = (
            f'{what} of "{table.text}" is {width:.2f} mm wide at a size of {table.size:g} mm;'
            f" the nozzle's line is {rules.nozzle:g} mm"
        )
        numbers = {"width": width, "nozzle": rules.nozzle}
        found.append(Finding("error", code, where, message, numbers, candidates=remedies))
    if table.depth < rules.layer:
        message = f'"{table.text}" is {table.depth:g} mm deep, less than a layer of {rules.layer:g} mm'
        deeper = Remedy(f"{where}.depth", 2 * rules.layer, f"a depth of two layers, {2 * rules.layer:g} mm")
        numbers = {"depth": table.depth, "layer": rules.layer}
        found.append(Finding("warning", "text-shallow", where, message, numbers, candidates=(deeper,)))
    return found


def _fits_somewhere(i: int, table: LetteringTable, outline: TextOutline, blank: Blank, top: float) -> bool:
    """Return whether a text has room where it stands, or on the round surface anywhere."""
    laid = laid_text(table, outline, blank, top)
    if _outside(i, table, laid):
        return False
    if not isinstance(laid.place.face, RoundFace) or blank.extra:
        return not _room(i, table, laid)
    room = round_room(blank, laid.sunk, table.style == "raised")
    patch = patch_of(laid.place.face, laid.field)
    enough = room.free(*patch) >= laid.sunk - 1e-9
    return enough or nearest_place(room, patch, laid.sunk) is not None


def _outside(i: int, table: LetteringTable, laid: LaidText) -> list[Finding]:
    """Return an error for a text that is longer than its section, goes round on itself, or stands too steeply."""
    where = f"lettering[{i}]"
    place, whole, letters, sunk = laid.place, laid.field, laid.letters, laid.sunk
    wall = place.blank.rules.least_wall
    (x0, y0), (x1, y1) = whole
    if table.face == "flat" and place.blank.outer.flat_distance is None:
        message = f'"{table.text}" is to stand on the printing flat, and there is none'
        remedy = Remedy(None, None, "give [bearing] flat_width a width")
        return [Finding("error", "text-outside", where, message, candidates=(remedy,))]
    if table.face in ("near", "far"):
        return []
    z0, z1 = stations_of(place.blank)
    low, high = place.station + y0, place.station + y1
    if low < z0 + wall - 1e-9 or high > z1 - wall + 1e-9:
        room = z1 - z0 - 2 * wall
        smaller = math.floor(10 * table.size * room / (y1 - y0)) / 10
        message = (
            f'"{table.text}" runs from station {low:.2f} to {high:.2f}; "{place.blank.name}" has'
            f" {z0 + wall:.2f} to {z1 - wall:.2f} for it, a wall of {wall:g} mm kept at its ends"
        )
        remedies = [
            Remedy(f"{where}.offset", round((z1 - z0) / 2 - (y0 + y1) / 2, 2), "the middle of the section")
        ]
        if 1.0 <= smaller < table.size:
            remedies.append(Remedy(f"{where}.size", smaller, f"letters {smaller:g} mm high"))
        remedies.append(Remedy(None, None, "a smaller size, a shorter text or a longer section"))
        numbers = {"length": y1 - y0, "room": room}
        return [Finding("error", "text-outside", where, message, numbers, candidates=tuple(remedies))]
    if isinstance(place.face, PlaneFace):
        return []
    turn = math.degrees((x1 - x0) / place.face.radius)
    slope = max(place.face.slope(x, sunk) for x in letters)
    if turn > 350.0 or slope > STEEPEST:
        share = min(350.0 / turn, STEEPEST / slope)
        smaller = math.floor(10 * table.size * share * 0.98) / 10
        message = (
            f'"{table.text}" takes {turn:.0f} degrees of the surface of radius {place.face.radius:.2f} mm;'
            " 350 are the most"
            if turn > 350.0
            else f'the letters of "{table.text}" are too large to lie on a radius of'
            f" {place.face.radius:.2f} mm: the surface slopes under them by {_slope_deg(slope):.0f} degrees;"
            f" {_slope_deg(STEEPEST):.0f} are the most"
        )
        remedy = Remedy(f"{where}.size", smaller, f"letters {smaller:g} mm high")
        numbers = {"clock_deg": turn, "slope_deg": _slope_deg(slope)}
        return [Finding("error", "text-outside", where, message, numbers, candidates=(remedy,))]
    return []


def _slope_deg(sine: float) -> float:
    return math.degrees(math.asin(min(1.0, sine)))


def _room(i: int, table: LetteringTable, laid: LaidText) -> list[Finding]:
    """Return an error for a text over a void, a lane or a surface that has to stay, with places that are free."""
    where = f"lettering[{i}]"
    place, letters, whole, sunk = laid.place, laid.letters, laid.field, laid.sunk
    blank, face = place.blank, place.face
    wall = blank.rules.least_wall
    if isinstance(face, RoundFace) and not blank.extra:
        is_raised = table.style == "raised"
        room = round_room(blank, sunk, is_raised)
        patch = patch_of(face, whole)
        free = room.free(*patch)
        if free >= sunk - 1e-9:
            return []
        names = blank.in_the_way(*patch, sunk, is_raised)
        if not names:
            void = solid_beneath(blank, face, [grown(whole, wall)], sunk + wall)
            names = (void[1],) if void else ("a void beside it",)
        message = (
            f'"{table.text}" needs {sunk:.2f} mm of depth and {wall:g} mm of wall about it from station'
            f" {patch[0]:.1f} to {patch[1]:.1f} and clock {patch[2] % 360:.0f} to {patch[3] % 360:.0f}; {free:.2f} mm are"
            f" free there: {', '.join(names)}"
        )
        remedies = (
            *_elsewhere(i, place, room, patch, sunk),
            *_shallower(i, table, free, blank.rules),
            _advice(place, room, patch, sunk),
        )
        numbers = {"needed": sunk, "free": free}
        return [Finding("error", "text-room", where, message, numbers, candidates=remedies)]
    boxes = [x.box for x in letters] if table.style == "engraved" else [whole]
    void = solid_beneath(blank, face, [grown(b, wall) for b in boxes], sunk + wall)
    if void is None:
        return []
    (x, y, z), what = void
    message = (
        f'"{table.text}" needs {sunk:.2f} mm of depth and {wall:g} mm of wall beside and beneath it; there is'
        f" no material at station {z:.1f}, {math.hypot(x, y):.1f} mm from the axis at clock"
        f" {clock_of(x, y):.0f}: {what}"
    )
    numbers = {"x": x, "y": y, "z": z}
    advice = Remedy(None, None, "another place, a smaller size or less depth")
    return [Finding("error", "text-room", where, message, numbers, candidates=(advice,))]


def _elsewhere(
    i: int,
    place: Place,
    room: OuterRoom,
    patch: tuple[float, float, float, float],
    sunk: float,
) -> tuple[Remedy, ...]:
    """Return other offsets and clocks at which the text has room, the nearest of each first."""
    where = f"lettering[{i}]"
    z0, _ = stations_of(place.blank)
    here = place.station - z0
    found = []
    shift = next(iter(free_offsets(room, patch, sunk)), None)
    if shift is not None:
        offset = round(here + shift, 2)
        found.append(Remedy(f"{where}.offset", offset, f"{offset:g} mm from the section's near end"))
    for turn in (sign * k for k in range(1, 181) for sign in (1, -1)):
        if room.free(patch[0], patch[1], patch[2] + turn, patch[3] + turn) >= sunk - 1e-9:
            clock = round((place.clock_deg + turn) % 360.0, 2)
            found.append(Remedy(f"{where}.clock_deg", clock, f"clock {clock:g}"))
            break
    return tuple(found)


def _advice(
    place: Place,
    room: OuterRoom,
    patch: tuple[float, float, float, float],
    sunk: float,
) -> Remedy:
    """Return in words where a text of this size finds room, or what else would give it some."""
    nearest = nearest_place(room, patch, sunk)
    if nearest is None:
        return Remedy(None, None, "a smaller size or less depth: the section has no room for this one")
    offset = place.station + nearest[0] - stations_of(place.blank)[0]
    clock = (place.clock_deg + nearest[1]) % 360.0
    text = f"the nearest place with room for it has offset = {offset:.2f} and clock_deg = {clock:.1f}"
    return Remedy(None, None, text)


def _shallower(i: int, table: LetteringTable, free: float, rules: Rules) -> tuple[Remedy, ...]:
    less = math.floor(20 * (free - (table.style == "raised") * OVERLAP)) / 20
    if less < 1.5 * rules.layer or less >= table.depth:
        return ()
    return (Remedy(f"lettering[{i}].depth", less, f"{less:g} mm deep"),)
