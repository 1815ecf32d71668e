"""A text laid on its face: its letters, the anchor, and the field that it takes."""

from __future__ import annotations

import math

from msgspec import Struct

from chassis_gen.lettering.model import TextOutline
from chassis_gen.params.lettering import LetteringTable
from chassis_gen.plan.letter_faces import (
    Letter,
    RoundFace,
    TextFace,
    end_face,
    flat_face,
    grown,
    letters_on,
    text_box,
)
from chassis_gen.plan.letter_room import Blank, stations_of
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import on_grid
from chassis_gen.shapes.primitives import Point2


class Place(Struct, frozen=True):
    """Where a text goes: the piece and its recipe, what is known of the section, and the anchor."""

    blank: Blank
    clock_deg: float
    station: float
    face: TextFace


class LaidText(Struct, frozen=True):
    """A text on its face: its letters, what they are cut into, the corners of the field and how deep it is sunk."""

    letters: tuple[Letter, ...]
    place: Place
    field: tuple[Point2, Point2]
    sunk: float

    @property
    def patch(self) -> tuple[float, float, float, float] | None:
        """Return the stations and clocks of the field on the round face, or None on another."""
        face = self.place.face
        return patch_of(face, self.field) if isinstance(face, RoundFace) else None


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


def _placed(table: LetteringTable, blank: Blank, top: float, box: tuple[Point2, Point2]) -> Place:
    """Return the anchor and the face of a text."""
    z0, z1 = stations_of(blank)
    clock = top if table.clock_deg is None else table.clock_deg
    if table.face in ("near", "far"):
        station = on_grid(z1 if table.face == "far" else z0)
        return Place(blank, clock, station, end_face(station, clock, table.from_axis, table.face == "far"))
    # a text that begins somewhere begins a wall and half its size from the end
    offset = table.offset
    if offset is None:
        (_, y0), (_, y1) = box
        offset = (z1 - z0) / 2 - ((y0 + y1) / 2 if table.align == "start" else 0.0)
    station = on_grid(z0 + offset)
    if table.face == "flat":
        distance = blank.outer.flat_distance
        flat = flat_face(blank.outer.flat_clock, station, distance if distance is not None else 0.0)
        return Place(blank, blank.outer.flat_clock, station, flat)
    a, b = max(z0, station + box[0][1]), min(z1, station + box[1][1])
    inside = blank.outer.over(a, b) or blank.outer.over(z0, z1)
    radius, highest = min(s.radius for s in inside), max(s.radius for s in inside)
    return Place(blank, clock, station, RoundFace(clock, station, radius, highest))


def patch_of(face: RoundFace, box: tuple[Point2, Point2]) -> tuple[float, float, float, float]:
    """Return stations and clocks between two corners of the round face.

    Args:
        face: the round face.
        box: two corners on it, mm.
    """
    (x0, y0), (x1, y1) = box
    a, b = (face.clock_deg + math.degrees(x / face.radius) for x in (x0, x1))
    return face.station + y0, face.station + y1, a, b
