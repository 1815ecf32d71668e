"""Lettering of a build: texts put on their faces, held against room, wall and nozzle, and added to the pieces."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.lettering.model import TextOutline
from chassis_gen.params.codes import Rejection
from chassis_gen.params.lettering import LetteringTable
from chassis_gen.plan.beside import with_companions
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.letter_faces import (
    STEEPEST,
    Letter,
    PlacedText,
    PlaneFace,
    RoundFace,
    TextFace,
    end_face,
    engraved,
    flat_face,
    grown,
    letters_on,
    raised,
    text_box,
)
from chassis_gen.plan.letter_room import (
    Blank,
    free_offsets,
    nearest_place,
    round_room,
    solid_beneath,
    stations_of,
)
from chassis_gen.plan.model import OVERLAP, Obstacle, Outer, SectionPlan, clock_of
from chassis_gen.plan.outer_room import OuterRoom, Patch
from chassis_gen.plan.pieces import file_safe
from chassis_gen.plan.sums import on_grid
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import Rules, SectionContext
from chassis_gen.shapes.primitives import Point2, Primitive
from chassis_gen.shapes.recipe import Step, add, cut

FLOOR_SKIN = 0.05
"""The floor's look begins this far beneath it, mm: beyond the sag of facets."""


class Lettering(Struct, frozen=True):
    """Pieces with their texts, the texts as they were placed, and what was found."""

    pieces: tuple[PiecePlan, ...]
    texts: tuple[PlacedText, ...] = ()
    findings: tuple[Finding, ...] = ()

    def patches(self, hosts: Mapping[str, str]) -> dict[str, tuple[Patch, ...]]:
        """Return what the texts take of the outer surface, by the section whose body it is.

        Args:
            hosts: for each companion the section whose body it is cut into.
        """
        found: dict[str, tuple[Patch, ...]] = {}
        for t in self.texts:
            if t.patch:
                name = hosts.get(t.section, t.section)
                found[name] = (*found.get(name, ()), Patch(*t.patch, f'lettering "{t.text}"'))
        return found


class _Place(Struct, frozen=True):
    """Where a text goes: the piece and its recipe, what is known of the section, and the anchor."""

    blank: Blank
    clock_deg: float
    station: float
    face: TextFace


class LaidText(Struct, frozen=True):
    """A text on its face: its letters, what they are cut into, the corners of the field and how deep it is sunk."""

    letters: tuple[Letter, ...]
    place: _Place
    field: tuple[Point2, Point2]
    sunk: float

    @property
    def patch(self) -> tuple[float, float, float, float] | None:
        """Return the stations and clocks of the field on the round face, or None on another."""
        face = self.place.face
        return _patch(face, self.field) if isinstance(face, RoundFace) else None


def laid_text(table: LetteringTable, outline: TextOutline, blank: Blank, top: float) -> LaidText:
    """Return a text on its face, whether it has room there or not.

    Args:
        table: its keys.
        outline: of the text.
        blank: what it is cut into.
        top: clock of the section's top, degrees.
    """
    direction = "round" if table.face in ("near", "far") else table.direction or "along"
    bend = table.face == "outside" and direction.startswith("round")
    scale = table.size / outline.capital
    letters = letters_on(outline, scale, table.align == "start", table.mirrored, direction, bend)
    box = text_box(letters)
    is_raised = table.style == "raised"
    field = grown(box, table.margin) if is_raised else box
    sunk = table.depth + (OVERLAP if is_raised else 0.0)
    return LaidText(letters, _placed(table, blank, top, box), field, sunk)


def check_lettering(
    inputs: BuildInputs,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    contexts: Mapping[str, SectionContext],
    gathering: Gathering,
) -> None:
    """Gather texts on sections, pieces or faces that there are not.

    Args:
        inputs: the build's files.
        sections: all planned sections.
        hosts: for each companion the section whose body it is cut into.
        contexts: what each section knows.
        gathering: takes the problems.
    """
    names = [s.name for s in sections]
    for i, table in enumerate(inputs.build.lettering):
        if table.section not in names:
            rejection = Rejection(
                "unknown-name",
                f'there is no section "{table.section}"',
                ", ".join(names),
                nearest_name(table.section, names),
            )
            gathering.reject(inputs, ("lettering", i, "section"), rejection)
            continue
        if table.on is None:
            here = contexts[hosts.get(table.section, table.section)]
            if (table.face == "near" and here.joined_near) or (table.face == "far" and here.joined_far):
                why = f'the {table.face} face of "{here.name}" is joined to the next section of its piece'
                gathering.reject(
                    inputs, ("lettering", i, "face"), Rejection("not-allowed", why, "an end of the piece")
                )
            continue
        section = next(s for s in sections if s.name == table.section)
        own = [e.name for e in section.extra_pieces]
        if file_safe(table.on) not in own:
            rejection = Rejection(
                "unknown-name",
                f'"{table.section}" makes no piece "{table.on}"',
                ", ".join(own) or "none: leave it out for the section itself",
                nearest_name(table.on, own),
            )
            gathering.reject(inputs, ("lettering", i, "on"), rejection)
        elif table.face == "flat":
            why = "the printing flat is cut into the chassis only"
            gathering.reject(
                inputs, ("lettering", i, "face"), Rejection("not-allowed", why, "outside, near or far")
            )


def letter_pieces(
    inputs: BuildInputs,
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    contexts: Mapping[str, SectionContext],
    pieces: Sequence[PiecePlan],
    blocked: Sequence[Obstacle],
    outer: Outer,
    rules: Rules,
) -> Lettering:
    """Return the pieces with the build's texts.

    A text that finds no room isn't cut; the finding says why.

    Args:
        inputs: the build's files, the texts' outlines among them.
        sections: all planned sections.
        hosts: for each companion the section whose body it is cut into.
        contexts: what each section knows.
        pieces: from `chassis_gen.plan.pieces.plan_pieces`; none where a section can't be made.
        blocked: obstacles of the whole chassis.
        outer: the chassis's outer surface.
        rules: limits of printing.
    """
    made = Lettering(tuple(pieces))
    if not pieces:
        return made
    merged = {s.name: s for s in with_companions(sections, hosts)}
    for i, table in enumerate(inputs.build.lettering):
        section = merged[hosts.get(table.section, table.section)]
        name = file_safe(table.on) if table.on else section.name
        blank = Blank(
            name,
            next(r for p in made.pieces for r in p.recipes if r.name == name).steps,
            section,
            table.on is not None,
            outer,
            tuple(blocked),
            rules,
            made.patches(hosts).get(section.name, ()),
        )
        outline = inputs.texts[(table.font, table.text)]
        made = _with_text(made, i, table, outline, blank, contexts[table.section].clock_deg)
    return made


def _with_text(
    made: Lettering, i: int, table: LetteringTable, outline: TextOutline, blank: Blank, top: float
) -> Lettering:
    scale = table.size / outline.capital
    laid = laid_text(table, outline, blank, top)
    letters, place, whole, sunk, box = laid.letters, laid.place, laid.field, laid.sunk, text_box(laid.letters)
    findings = [*_printing(i, table, outline, blank, top), *_outside(i, table, laid)]
    if not any(f.code == "text-outside" for f in findings):
        findings += _room(i, table, laid)
    left_out = any(f.code in ("text-outside", "text-room") for f in findings)
    found = tuple(findings)
    if left_out:
        return replace(made, findings=(*made.findings, *found))
    make = engraved if table.style == "engraved" else raised
    solids = make(place.face, letters, table.depth)
    piece = next(p for p in made.pieces if any(r.name == blank.name for r in p.recipes))
    recipes = tuple(
        r.then(_steps(table, place.face, solids, whole)) if r.name == blank.name else r for r in piece.recipes
    )
    wall = blank.rules.least_wall
    under = sunk + wall, sunk + FLOOR_SKIN
    floors = (
        tuple(place.face.solid(x, *under) for x in letters)
        if table.style == "engraved"
        else tuple(place.face.solid(x, *under) for x in (_rectangle(whole),))
    )
    (x0, y0), (x1, y1) = box
    across = table.face in ("outside", "flat") and (table.direction or "along").startswith("along")
    text = PlacedText(
        id=f"lettering[{i}]",
        text=table.text,
        section=table.section,
        piece=piece.name,
        face=table.face,
        style=table.style,
        font=outline.font,
        clock_deg=place.clock_deg,
        station=place.station,
        size=table.size,
        depth=table.depth,
        length=y1 - y0 if across else x1 - x0,
        height=x1 - x0 if across else y1 - y0,
        stroke=outline.stroke * scale,
        gap=outline.gap * scale,
        area=outline.area * scale**2,
        letters=solids,
        floors=floors,
        patch=_patch(place.face, whole) if isinstance(place.face, RoundFace) and not blank.extra else None,
    )
    others = tuple(replace(p, recipes=recipes) if p is piece else p for p in made.pieces)
    return Lettering(others, (*made.texts, text), (*made.findings, *found))


def _placed(table: LetteringTable, blank: Blank, top: float, box: tuple[Point2, Point2]) -> _Place:
    """Return the anchor and the face of a text."""
    z0, z1 = stations_of(blank)
    clock = top if table.clock_deg is None else table.clock_deg
    if table.face in ("near", "far"):
        station = on_grid(z1 if table.face == "far" else z0)
        return _Place(blank, clock, station, end_face(station, clock, table.from_axis, table.face == "far"))
    # a text that begins somewhere begins a wall and half its size from the end
    offset = table.offset
    if offset is None:
        (_, y0), (_, y1) = box
        offset = (z1 - z0) / 2 - ((y0 + y1) / 2 if table.align == "start" else 0.0)
    station = on_grid(z0 + offset)
    if table.face == "flat":
        distance = blank.outer.flat_distance
        flat = flat_face(blank.outer.flat_clock, station, distance if distance is not None else 0.0)
        return _Place(blank, blank.outer.flat_clock, station, flat)
    a, b = max(z0, station + box[0][1]), min(z1, station + box[1][1])
    inside = blank.outer.over(a, b) or blank.outer.over(z0, z1)
    radius, highest = min(s.radius for s in inside), max(s.radius for s in inside)
    return _Place(blank, clock, station, RoundFace(clock, station, radius, highest))


def _steps(
    table: LetteringTable, face: TextFace, letters: Sequence[Primitive], whole: tuple[Point2, Point2]
) -> tuple[Step, ...]:
    label = f'lettering "{table.text}"'
    if table.style == "engraved":
        steps = cut(label, *letters)
    else:
        steps = (
            *cut(f"panel of {label}", face.panel(*whole, table.depth + OVERLAP)),
            *add(label, *letters),
        )
    # letters on the round surface take an exact kernel seconds, those on planes a tenth of that
    return tuple(replace(s, surface=isinstance(face, RoundFace)) for s in steps)


def _rectangle(box: tuple[Point2, Point2]) -> Letter:
    (x0, y0), (x1, y1) = box
    return Letter(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), ())


def _patch(face: RoundFace, box: tuple[Point2, Point2]) -> tuple[float, float, float, float]:
    """Return stations and clocks between two corners of the round face."""
    (x0, y0), (x1, y1) = box
    a, b = (face.clock_deg + math.degrees(x / face.radius) for x in (x0, x1))
    return face.station + y0, face.station + y1, a, b


# findings ---------------------------------------------------------------------------------------------------


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
    patch = _patch(laid.place.face, laid.field)
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
        patch = _patch(face, whole)
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
    place: _Place,
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
    place: _Place,
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
