"""Places that texts keep: barred to lanes and galleries before wires are laid, and told of where wires want them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Lane, Wire
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.laying import Ground, Wiring
from chassis_gen.plan.letter_faces import PlaneFace
from chassis_gen.plan.letter_laying import LaidText, laid_text
from chassis_gen.plan.letter_room import Blank
from chassis_gen.plan.model import Obstacle, Outer, SectionPlan, Sector, Slab
from chassis_gen.plan.outer_ground import OuterGround
from chassis_gen.plan.outer_room import ROW
from chassis_gen.plan.wiring import lay_build

DEGREE = 1.0
"""By how much a place is wider than text and wall at both sides, degrees: lanes and room go by whole degrees."""
NAMED = 6
"""How many wires are named in a finding (chosen)."""
TURNS = 20
"""Distance of the other clocks that are proposed, degrees (chosen)."""
MOST_TURNS = 4
"""How many of them (chosen)."""


class KeptPlace(Struct, frozen=True):
    """The place that a text keeps.

    Args:
        index: of the text in the build file.
        text: the text.
        section: name of the section whose body it stands on.
        clock_deg: of its anchor, degrees.
        obstacle: what bars it to lanes.
    """

    index: int
    text: str
    section: str
    clock_deg: float
    obstacle: Obstacle


def laid_round(
    inputs: BuildInputs, face: OuterGround, ground: Ground, wires: Sequence[Wire]
) -> tuple[Wiring, tuple[Finding, ...]]:
    """Return a path for every wire round the places that texts keep, and which places bar which wires.

    Args:
        inputs: the build's files.
        face: what the texts stand on.
        ground: what the wires are laid over.
        wires: all wires that were asked for.
    """
    places = tuple(_places(inputs, face, ground.blocked))
    barred = (*ground.blocked, *(p.obstacle for p in places))
    wiring = lay_build(replace(ground, blocked=barred), wires, face.sections)
    if not wiring.unrouted:
        return wiring, ()
    free = lay_build(ground, wires, face.sections)
    over = {w.id for w in free.unrouted}
    gained = [w.id for w in wiring.unrouted if w.id not in over]
    return wiring, tuple(_findings(places, gained, free.lanes, face.outer)) if gained else ()


def _places(inputs: BuildInputs, face: OuterGround, blocked: tuple[Obstacle, ...]) -> Iterator[KeptPlace]:
    bodies = {s.name: s for s in face.bodies}
    for i, table in enumerate(inputs.build.lettering):
        if not table.keep_place:
            continue
        section = bodies[face.hosts.get(table.section, table.section)]
        blank = Blank(section.name, (), section, False, face.outer, blocked, face.rules)
        outline = inputs.texts[(table.font, table.text)]
        laid = laid_text(table, outline, blank, face.contexts[table.section].clock_deg)
        obstacle = _obstacle(laid, section, face.rules.least_wall, f'place of lettering "{table.text}"')
        yield KeptPlace(i, table.text, section.name, laid.place.clock_deg, obstacle)


def _obstacle(laid: LaidText, section: SectionPlan, wall: float, what: str) -> Obstacle:
    """Return what bars a text's field: to the round surface with its wall, on an end face as deep as it needs.

    Lanes keep the wall to an obstacle's stations and to a rectangle themselves, to a sector they don't.
    """
    if laid.patch is not None:
        z0, z1, clock_from, clock_to = laid.patch
        beside = math.degrees(wall / laid.place.blank.outer.smallest_radius(section.z0, section.z1)) + DEGREE
        low, high = max(z0 - ROW, section.z0 + wall), min(z1 + ROW, section.z1 - wall)
        return Obstacle(Sector(clock_from - beside, clock_to + beside), low, high, what)
    face, ((x0, y0), (x1, y1)) = laid.place.face, laid.field
    assert isinstance(face, PlaneFace)
    far = face.frame.z_axis[2] > 0
    from_axis = math.hypot(*face.frame.origin[:2])
    # seen from the mouth, the near face reads mirrored
    left, right = (x0, x1) if far else (-x1, -x0)
    slab = Slab(left, right, from_axis + y0, from_axis + y1, laid.place.clock_deg)
    z, deep = face.frame.origin[2], laid.sunk
    return Obstacle(slab, *((z - deep, z) if far else (z, z + deep)), what)


# findings -------------------------------------------------------------------------------------------------


def _findings(
    places: Sequence[KeptPlace], gained: Sequence[str], lanes: Sequence[Lane], outer: Outer
) -> Iterator[Finding]:
    """Yield an error for each place that wires would go through; for all of them where none goes through any."""
    through: Mapping[int, list[str]] = {
        p.index: [w for w in gained if any(w in lane.wires and _meet(lane, p) for lane in lanes)]
        for p in places
    }
    direct = any(through.values())
    for p in places:
        wires = through[p.index] if direct else list(gained)
        if wires:
            yield _finding(p, wires, lanes, outer)


def _finding(place: KeptPlace, wires: Sequence[str], lanes: Sequence[Lane], outer: Outer) -> Finding:
    o, where = place.obstacle, f"lettering[{place.index}]"
    numbers = {"wires": float(len(wires)), "station_from": o.z0, "station_to": o.z1}
    field = f"station {o.z0:.1f} to {o.z1:.1f}"
    if isinstance(o.shape, Sector):
        a, b = o.shape.clock_from, o.shape.clock_to
        width = math.radians(b - a) * outer.smallest_radius(o.z0, o.z1)
        numbers |= {"clock_from": a % 360.0, "clock_to": b % 360.0, "width": width}
        field += f" and clock {a % 360:.0f} to {b % 360:.0f}, {width:.1f} mm of the surface"
    shown = ", ".join(wires[:NAMED]) + (" and others" if len(wires) > NAMED else "")
    message = (
        f'"{place.text}" keeps its place in "{place.section}", {field}; without that, {len(wires)} more'
        f" {'wire finds its' if len(wires) == 1 else 'wires find their'} way: {shown}"
    )
    words = Remedy(
        None, None, "another place or a smaller size; without keep_place the text yields to the wires"
    )
    elsewhere = (Remedy(f"{where}.clock_deg", c, f"clock {c:g}") for c in _clocks(place, lanes))
    return Finding("error", "place-bars-wires", where, message, numbers, candidates=(*elsewhere, words))


def _clocks(place: KeptPlace, lanes: Sequence[Lane]) -> Iterator[float]:
    """Yield other clocks of a text on the round surface, nearest first, where no lane would go through its place."""
    if not isinstance(place.obstacle.shape, Sector):
        return
    found: list[int] = []
    for turn in (sign * k for k in range(1, 181) for sign in (1, -1)):
        if any(abs(turn - t) < TURNS for t in found) or len(found) == MOST_TURNS:
            continue
        if not any(_meet(lane, place, turn) for lane in lanes):
            found.append(turn)
            yield round((place.clock_deg + turn) % 360.0, 2)


def _meet(lane: Lane, place: KeptPlace, turn: float = 0.0) -> bool:
    """Return whether a lane would go through a place that is turned by an angle, degrees."""
    o = place.obstacle
    if lane.section != place.section or lane.tube or lane.z0 >= o.z1 or lane.z1 <= o.z0:
        return False
    if not isinstance(o.shape, Sector):
        return True
    low, span = o.shape.clock_from + turn, o.shape.clock_to - o.shape.clock_from
    wide = lane.clock_to - lane.clock_from
    return (lane.clock_from - low) % 360.0 < span or (low - lane.clock_from) % 360.0 < wide
