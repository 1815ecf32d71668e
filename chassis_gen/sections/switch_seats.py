"""How one switch sits in a chassis: a panel button in a bore, or a tactile switch board on ledges.

Both work in a *site*: a place on the tube's surface given by station and clock. Heights are counted from
the tube's axis toward the site's clock, across means the way clock angles grow.

    panel button                    tactile board
    __            __  surface       __   | |   __  surface
      |__________|    head          |  |_____|  |  components
      |___    ___|    plate         |__|_____|__|  board on its ledges
          |  |        nut, body        |     |     pins
    ~~~~~~~~~~~~~~~   room, open to both sides
    ==============    spine
"""

from __future__ import annotations

import math
from typing import Literal

from msgspec import Struct

from chassis_gen.findings import Finding, Remedy
from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Fit, PlacedPart, PlacedTerminal, Play, PlayProbe
from chassis_gen.plan.sums import GRID, PART_SIZE, Dimension, Term
from chassis_gen.shapes.frame import Frame, Vec3, radial
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, Within
from chassis_gen.shapes.recipe import Step, cut

REST = 0.02
"""Gap between a resting part and its seat in the model, mm, so that touching never counts as a hit."""
COVER = 0.2
"""How far everything stays under the chassis's outer surface while it slides in, mm."""
LEAST_SPINE = 3.0
LEAST_LEDGE = 0.6
LEDGE_MARGIN = 0.2
NUT_FINGERS = 4.0
THREAD_LEFT = 1.0
EXIT_MARGIN_DEG = 8.0
LEAST_DROP_ANGLE = 32.0
DROP_END = 2.0


class Wishes(Struct, frozen=True):
    """What the maker asks of one switch.

    Args:
        plate_thickness: under the head or the board, mm.
        wire_room: under the lugs or pins, mm.
        spine: wanted thickness of the spine, mm.
        actuator_recess: tactile board: actuator's top under the tube's outer face, mm; None for the highest
            place that still slides in.
        slide_in: panel button: ``free`` keeps the released actuator under the bore, ``pressed``
            the head alone.
    """

    plate_thickness: float
    wire_room: float
    spine: float
    actuator_recess: float | None
    slide_in: Literal["free", "pressed"]


class Site(Struct, frozen=True):
    """Where a switch stands.

    Args:
        id: id of the placed part, and stem of the dimension names.
        section: owner.
        piece: piece that seats it.
        clock_deg: clock of the switch's axis.
        station: station of the switch's axis, mm.
        radius: outer radius of the chassis, mm.
        largest_radius: largest outer radius nearby, mm, for cutters that open to the outside.
        tube_outer_radius: mm.
        bore_radius: mm.
    """

    id: str
    section: str
    piece: str
    clock_deg: float
    station: float
    radius: float
    largest_radius: float
    tube_outer_radius: float
    bore_radius: float

    def frame(self, height: float) -> Frame:
        """Return the frame at a height on the switch's axis: +z outward, +y along the tube."""
        return radial(self.clock_deg, self.station, height)


class SwitchSeat(Struct, frozen=True):
    """A planned switch; the `Dimension` fields are its labelled sums.

    Args:
        part: the switch in its seat.
        seat_height: head's or board's underside over the axis.
        plate_thickness: material under it.
        room_width: the open room under the plate, along the axis.
        spine: material left under the room.
        opening_width: recess or pocket in the outer surface, across.
        opening_length: the same along the axis.
        bore_diameter: panel button only.
        bore_flat_width: panel button only: from the flat to the far side of the bore.
        window_width: tactile board only: between its ledges, across.
        window_length: tactile board only.
        cutters: what to cut above the room.
        fits: fits.
        terminals: where wires end.
        findings: what doesn't work.
        top: highest point of the switch, mm from the axis.
    """

    part: PlacedPart
    seat_height: Dimension
    plate_thickness: Dimension
    room_width: Dimension
    spine: Dimension
    opening_width: Dimension
    opening_length: Dimension
    bore_diameter: Dimension | None
    bore_flat_width: Dimension | None
    window_width: Dimension | None
    window_length: Dimension | None
    cutters: tuple[Step, ...]
    fits: tuple[Fit, ...]
    terminals: tuple[PlacedTerminal, ...]
    findings: tuple[Finding, ...]
    top: float

    @property
    def plate_under(self) -> float:
        """Return the height of the plate's underside over the axis, mm."""
        return self.seat_height.total - self.plate_thickness.total


def half_length(part: Part, fitter: Fitter, id: str) -> Dimension:
    """Return half of what a switch needs along the axis between two walls, as a labelled sum.

    Args:
        part: panel button or tactile board.
        fitter: makes labelled sums.
        id: stem of the dimension names.
    """
    room = _room_width(part, fitter, id).total
    opening = _opening_length(part, fitter, id).total
    term = Term(PART_SIZE, max(room, opening) / 2, f"{part.name}: half of its room or opening, the larger")
    return Dimension(f"{id}.half_length", (term,), "half of what the switch needs along the axis")


def plan_seat(part: Part, fitter: Fitter, site: Site, wishes: Wishes) -> SwitchSeat:
    """Return how a switch sits at its site.

    Args:
        part: a panel button or a tactile board.
        fitter: makes labelled sums.
        site: where it stands.
        wishes: what the maker asks.
    """
    if part.kind == "panel_button":
        return _plan_button(part, fitter, site, wishes)
    return _plan_tactile(part, fitter, site, wishes)


def largest(measure: Measure) -> float:
    """Return a size at its upper limit, mm."""
    return measure.value + measure.tolerance


# shared arithmetic --------------------------------------------------------------------------------


def _room_width(part: Part, fitter: Fitter, id: str) -> Dimension:
    name = f"{id}.room_width"
    if part.kind == "panel_button":
        nut = part.sizes["nut_across_corners"]
        terms: tuple[Term, ...] = (
            Term(PART_SIZE, nut.value, f"{part.name}: nut across corners, {nut.source}", nut.tolerance),
            Term("fingers", NUT_FINGERS, "room to hold and turn the nut: common practice, no source"),
        )
    else:
        length = part.sizes["length"]
        terms = (
            Term(PART_SIZE, length.value, f"{part.name}: board length, {length.source}", length.tolerance),
        )
    return fitter.summed(name, terms, "open room under the plate, along the axis")


def _opening_length(part: Part, fitter: Fitter, id: str) -> Dimension:
    if part.kind == "panel_button":
        return _recess(part, fitter, id)
    return fitter.inner(
        f"{id}.pocket_length", part.sizes["length"], "slide", "board pocket along the tube", part.name
    )


def _recess(part: Part, fitter: Fitter, id: str) -> Dimension:
    name, note = f"{id}.head_recess_diameter", "recess for the button's head"
    return fitter.inner(name, part.sizes["head_diameter"], "free", note, part.name)


def _under_surface(site: Site, half_width: float) -> float:
    """Return how high a flat top of a half width may reach so that its rim stays under the outer surface."""
    reach = site.radius - COVER
    return math.sqrt(reach**2 - half_width**2) if half_width < reach else 0.0


def _spine(fitter: Fitter, site: Site, needed: float, wanted: float) -> Dimension:
    """Return the spine under a room that must reach down to a height."""
    left = site.radius + needed
    name, note = f"{site.id}.spine", "material left under the room"
    if left >= wanted:
        return fitter.chosen(name, wanted, note)
    terms = (
        Term("outer radius", site.radius, "chassis in tube"),
        Term("room", needed, "lowest point that switch and wires need, over the axis"),
    )
    return fitter.summed(name, terms, note)


def _sum_finding(
    site: Site, part: Part, rows: tuple[tuple[str, float], ...], remedies: tuple[Remedy, ...]
) -> Finding:
    """Return the finding that prints a radial sum which doesn't close."""
    needed = math.fsum(v for _, v in rows)
    available = 2 * site.radius
    shown = " + ".join(f"{label} {value:.2f}" for label, value in rows)
    message = (
        f"{part.name} does not fit across the chassis: {shown} = {needed:.2f} mm, "
        f"and the chassis is {available:.2f} mm across, {needed - available:.2f} mm too little"
    )
    numbers = {"needed": needed, "available": available, "short": needed - available}
    return Finding("error", "radial-sum", site.id, message, numbers, candidates=remedies, blocks_solids=True)


def _radial_remedies(part: Part, wishes: Wishes, short: float) -> tuple[Remedy, ...]:
    remedies: list[Remedy] = []
    travel = part.size("travel") if part.kind == "panel_button" and wishes.slide_in == "free" else 0.0
    if travel >= short and travel:
        remedies.append(
            Remedy("slide_in", "pressed", "let the actuator be held down while the chassis slides in")
        )
    if wishes.wire_room - short >= 1.0:
        room = math.floor((wishes.wire_room - short) * 10) / 10
        remedies.append(Remedy("wire_room", room, f"{room:g} mm under the lugs, wires led off sideways"))
    smaller = "panel button 12 mm" if part.kind == "panel_button" and part.size("body_diameter") > 12 else ""
    remedies += [
        Remedy("part", n, f"take the {n}") for n in (smaller, "tactile board") if n and n != part.name
    ]
    return tuple(remedies)


def _terminals(part: Part, site: Site, frame: Frame, spine: float) -> tuple[PlacedTerminal, ...]:
    """Return the terminals; wires drop through the floor of the room, which is solid below its open sides."""
    floor = spine - site.radius
    edge = math.degrees(math.asin(min(1.0, max(-1.0, -floor / site.radius))))
    widest = 90.0 - edge - EXIT_MARGIN_DEG
    return tuple(
        PlacedTerminal(
            f"{site.id}.{t.name}",
            frame.point(t.position),
            _exits(frame.point(t.position), site, widest),
            t.largest_wire_diameter,
            t.must_connect,
        )
        for t in part.terminals
    )


def _exits(spot: Vec3, site: Site, widest: float) -> tuple[tuple[float, float], ...]:
    """Return the clocks at which a wire may leave a terminal through the room's floor, degrees.

    A drop that met the floor at a shallow angle would leave a knife edge beside it.

    Args:
        spot: the terminal.
        site: the switch's place.
        widest: how far from straight down the floor is solid, degrees.
    """
    top = math.radians(site.clock_deg)
    x = spot[0] * math.sin(top) - spot[1] * math.cos(top)
    y = spot[0] * math.cos(top) + spot[1] * math.sin(top)
    reach, steepest = site.radius - DROP_END, math.tan(math.radians(LEAST_DROP_ANGLE))
    good = [
        turn
        for turn in range(-math.floor(max(widest, 0.0)), math.floor(max(widest, 0.0)) + 1)
        if y + reach * math.cos(math.radians(turn))
        >= steepest * abs(reach * math.sin(math.radians(turn)) - x)
    ]
    down = site.clock_deg + 180.0
    return ((down + good[0], down + good[-1]),) if len(good) > 1 else ()


# panel button -------------------------------------------------------------------------------------


def _plan_button(part: Part, fitter: Fitter, site: Site, wishes: Wishes) -> SwitchSeat:
    s = part.sizes
    recess = _recess(part, fitter, site.id)
    bore = fitter.inner(
        f"{site.id}.bore_diameter", s["body_diameter"], "slide", "bore for the body", part.name
    )
    across = Measure(
        s["body_diameter"].value - s["flat_depth"].value,
        s["body_diameter"].tolerance,
        f"body less its flat, {s['body_diameter'].source}",
    )
    flat = fitter.inner(
        f"{site.id}.bore_flat_width", across, "slide", "bore across its anti-turn flat", part.name
    )
    seat = _button_height(part, fitter, site, wishes, (bore.total - s["body_diameter"].value) / 2)
    frame = site.frame(seat.total + REST)
    back = largest(s["body_depth"]) + largest(s["lug_length"])
    spine = _spine(fitter, site, seat.total - back - wishes.wire_room, wishes.spine)
    play = (bore.total - s["body_diameter"].value) / 2
    placed = _placed(part, site, frame, play, play)
    plate = fitter.chosen(
        f"{site.id}.plate_thickness", wishes.plate_thickness, "clamped between head and nut"
    )
    return SwitchSeat(
        part=placed,
        seat_height=seat,
        plate_thickness=plate,
        room_width=_room_width(part, fitter, site.id),
        spine=spine,
        opening_width=recess,
        opening_length=recess,
        bore_diameter=bore,
        bore_flat_width=flat,
        window_width=None,
        window_length=None,
        cutters=_button_cutters(site, seat, recess, bore, flat, wishes.plate_thickness),
        fits=(_fit(fitter, bore, placed, site),),
        terminals=_terminals(part, site, frame, spine.total),
        findings=_button_findings(part, site, wishes, seat, spine.total, plate.total),
        top=seat.total + REST + s["head_height"].value,
    )


def _button_height(part: Part, fitter: Fitter, site: Site, wishes: Wishes, play: float) -> Dimension:
    """Return the height of the head's seat: all above it stays under the outer surface, rim included."""
    head, diameter = part.sizes["head_height"], part.sizes["head_diameter"]
    top = _under_surface(site, largest(diameter) / 2 + play)
    terms = [
        Term("outer radius", site.radius, "chassis in tube"),
        Term("cover", -COVER, "under the outer surface while sliding in"),
        Term("head's rim", top - (site.radius - COVER), f"a flat head {diameter.value:g} mm wide"),
    ]
    if wishes.slide_in == "free":
        travel = part.sizes["travel"]
        terms.append(Term("travel", -travel.value, f"{part.name}: the released actuator: {travel.source}"))
    terms += [
        Term(PART_SIZE, -head.value, f"{part.name}: head height, {head.source}", head.tolerance),
        Term("tolerance", -head.tolerance, f"{part.name}: the highest head"),
        Term("rest", -REST, "gap between head and seat in the model"),
    ]
    return fitter.summed(f"{site.id}.seat_height", tuple(terms), "head's seat over the tube's axis")


def _button_cutters(
    site: Site, seat: Dimension, recess: Dimension, bore: Dimension, flat: Dimension, plate: float
) -> tuple[Step, ...]:
    frame = site.frame(seat.total)
    out = site.largest_radius + 1.0 - seat.total
    r = bore.total / 2
    barrel = Cylinder(r, -plate - 0.5, 0.5)
    # The far side of the bore stands at -r, so the flat stands at its width less r.
    keep = Box((-r - 1.0, -r - 1.0, -plate - 1.0), (flat.total - r, r + 1.0, 1.0))
    return (
        *cut("head recess", Cylinder(recess.total / 2, 0.0, out, frame)),
        *cut("button bore", Within(barrel, keep, frame)),
    )


def _button_findings(
    part: Part, site: Site, wishes: Wishes, seat: Dimension, spine: float, plate: float
) -> tuple[Finding, ...]:
    s = part.sizes
    found: list[Finding] = []
    nut = plate + largest(s["nut_height"]) + THREAD_LEFT
    if nut > s["body_depth"].value + GRID:
        thickest = math.floor((s["body_depth"].value - largest(s["nut_height"]) - THREAD_LEFT) * 10) / 10
        message = (
            f"plate {plate:.2f} + nut {largest(s['nut_height']):.2f} + {THREAD_LEFT:g} mm of thread = "
            f"{nut:.2f} mm, but the body of {part.name} is {s['body_depth'].value:.2f} mm deep"
        )
        remedies = (
            (Remedy("plate_thickness", thickest, f"a plate of {thickest:g} mm"),) if thickest > 0 else ()
        )
        numbers = {"needed": nut, "available": s["body_depth"].value}
        found.append(Finding("error", "plate-too-thick", site.id, message, numbers, candidates=remedies))
    if spine < LEAST_SPINE:
        rows = (
            (
                "cover and rim",
                site.radius - seat.total - largest(s["head_height"]) - REST - _travel(part, wishes),
            ),
            ("travel", _travel(part, wishes)),
            ("head", largest(s["head_height"]) + REST),
            ("body", largest(s["body_depth"])),
            ("lugs", largest(s["lug_length"])),
            ("wire room", wishes.wire_room),
            ("spine", LEAST_SPINE),
        )
        found.append(_sum_finding(site, part, rows, _radial_remedies(part, wishes, LEAST_SPINE - spine)))
    return tuple(found)


def _travel(part: Part, wishes: Wishes) -> float:
    return part.size("travel") if wishes.slide_in == "free" else 0.0


def _placed(part: Part, site: Site, frame: Frame, across: float, along: float) -> PlacedPart:
    x, y, z = frame.x_axis, frame.y_axis, frame.z_axis
    plays = (
        Play(x, across),
        Play(_neg(x), across),
        Play(y, along),
        Play(_neg(y), along),
        Play(_neg(z), REST),
        Play(z, None),
    )
    return PlacedPart(site.id, part, frame, site.section, site.piece, _neg(z), plays)


def _neg(v: tuple[float, float, float]) -> tuple[float, float, float]:
    return (0.0 - v[0], 0.0 - v[1], 0.0 - v[2])


def _fit(fitter: Fitter, dimension: Dimension, placed: PlacedPart, site: Site, axis: str = "both") -> Fit:
    x, y = placed.frame.x_axis, placed.frame.y_axis
    ways = {"both": (x, _neg(x), y, _neg(y)), "x": (x, _neg(x)), "y": (y, _neg(y))}[axis]
    return fitter.fit(dimension, "part in seat", (site.id, site.piece), "slide", PlayProbe(site.id, ways))


# tactile board ------------------------------------------------------------------------------------


def _plan_tactile(part: Part, fitter: Fitter, site: Site, wishes: Wishes) -> SwitchSeat:
    s = part.sizes
    width = fitter.inner(f"{site.id}.pocket_width", s["width"], "slide", "board pocket across", part.name)
    length = _opening_length(part, fitter, site.id)
    play_x, play_y = (width.total - s["width"].value) / 2, (length.total - s["length"].value) / 2
    seat = _board_height(part, fitter, site, wishes, max(play_x, play_y))
    frame = site.frame(seat.total + REST)
    below = max(largest(s["pin_length"]), largest(s["height_below"]))
    lowest = min(seat.total - below, seat.total - wishes.plate_thickness) - wishes.wire_room
    spine = _spine(fitter, site, lowest, wishes.spine)
    window_x = _window(part, fitter, site, "width", play_x)
    window_y = _window(part, fitter, site, "length", play_y)
    placed = _placed(part, site, frame, play_x, play_y)
    return SwitchSeat(
        part=placed,
        seat_height=seat,
        plate_thickness=fitter.chosen(
            f"{site.id}.plate_thickness", wishes.plate_thickness, "carries the board"
        ),
        room_width=_room_width(part, fitter, site.id),
        spine=spine,
        opening_width=width,
        opening_length=length,
        bore_diameter=None,
        bore_flat_width=None,
        window_width=window_x,
        window_length=window_y,
        cutters=_tactile_cutters(part, fitter, site, seat, (width, length, window_x, window_y), wishes),
        fits=(_fit(fitter, width, placed, site, "x"), _fit(fitter, length, placed, site, "y")),
        terminals=_terminals(part, site, frame, spine.total),
        findings=_tactile_findings(part, site, wishes, seat, spine.total, window_x, window_y),
        top=seat.total + REST + s["thickness"].value + s["actuator_height"].value,
    )


def _board_height(part: Part, fitter: Fitter, site: Site, wishes: Wishes, play: float) -> Dimension:
    """Return the height of the board's seat from the actuator's top, down through actuator and board."""
    s = part.sizes
    if wishes.actuator_recess is None:
        start = [
            Term("outer radius", site.radius, "chassis in tube"),
            Term("cover", -COVER, "under the outer surface while sliding in"),
            Term(
                "rims", _free_top(part, site, play) - (site.radius - COVER), "flat tops under a round surface"
            ),
            Term(
                "tolerance",
                -(s["actuator_height"].tolerance + s["thickness"].tolerance),
                "the highest actuator",
            ),
        ]
    else:
        start = [
            Term("tube outer radius", site.tube_outer_radius, "tube"),
            Term("actuator recess", -wishes.actuator_recess, "under the tube's outer face: parameter file"),
        ]
    terms = [
        Term(PART_SIZE, -s[n].value, f"{part.name}: {n.replace('_', ' ')}, {s[n].source}", s[n].tolerance)
        for n in ("actuator_height", "thickness")
    ]
    rest = Term("rest", -REST, "gap between board and ledges in the model")
    return fitter.summed(
        f"{site.id}.seat_height", (*start, *terms, rest), "board's seat over the tube's axis"
    )


def _free_top(part: Part, site: Site, play: float) -> float:
    """Return how high the actuator's top may reach so that all of the part stays under the surface."""
    s = part.sizes
    actuator = _under_surface(site, largest(s["actuator_diameter"]) / 2 + play)
    block = _under_surface(site, largest(s["width"]) / 2 - s["margin_above"].value + play)
    above = s["actuator_height"].value - s["height_above"].value
    return min(actuator, block + above)


def _window(part: Part, fitter: Fitter, site: Site, size: str, play: float) -> Dimension:
    """Return the clear size between two ledges: what stands out below must not touch them."""
    s = part.sizes
    board, margin = s[size], s["margin_below"]
    terms = (
        Term(PART_SIZE, board.value, f"{part.name}: {size}, {board.source}", board.tolerance),
        Term("margin", -2 * margin.value, f"{part.name}: edge to what stands out below, {margin.source}"),
        Term("play", 2 * play, "sideways play of the board, both sides"),
        Term("spare", 2 * LEDGE_MARGIN, "both sides"),
    )
    return fitter.summed(f"{site.id}.window_{size}", terms, f"between the board's ledges, {size}")


def _tactile_cutters(
    part: Part,
    fitter: Fitter,
    site: Site,
    seat: Dimension,
    sizes: tuple[Dimension, Dimension, Dimension, Dimension],
    wishes: Wishes,
) -> tuple[Step, ...]:
    width, length, window_x, window_y = (d.total / 2 for d in sizes)
    frame = site.frame(seat.total)
    out = site.largest_radius + 1.0 - seat.total
    through = -wishes.plate_thickness - 0.5
    pin = fitter.inner(
        f"{site.id}.pin_relief_diameter", part.sizes["pin_diameter"], "free", "pin relief", part.name
    )
    pins: list[Primitive] = [
        Cylinder(pin.total / 2, through, 0.5, radial_at(frame, t.position[0], t.position[1]))
        for t in part.terminals
    ]
    return (
        *cut("board pocket", Box((-width, -length, 0.0), (width, length, out), frame)),
        *cut(
            "window under the board", Box((-window_x, -window_y, through), (window_x, window_y, 0.5), frame)
        ),
        *cut("pin relief", *pins),
    )


def radial_at(frame: Frame, x: float, y: float) -> Frame:
    """Return a frame shifted in its own x-y plane, mm."""
    return frame @ Frame((x, y, 0.0))


def _tactile_findings(
    part: Part,
    site: Site,
    wishes: Wishes,
    seat: Dimension,
    spine: float,
    window_x: Dimension,
    window_y: Dimension,
) -> tuple[Finding, ...]:
    s = part.sizes
    found: list[Finding] = []
    for window, size in ((window_x, "width"), (window_y, "length")):
        ledge = (s[size].value - window.total) / 2
        if ledge < LEAST_LEDGE or window.total < 1.0:
            message = (
                f"a ledge of {ledge:.2f} mm is left under {part.name} ({size} {s[size].value:.2f}, "
                f"window {window.total:.2f} mm); {LEAST_LEDGE:g} mm are wanted: look at its margin_below"
            )
            numbers = {"ledge": ledge, "wanted": LEAST_LEDGE}
            found.append(Finding("error", "ledge-narrow", site.id, message, numbers, blocks_solids=True))
    top = seat.total + REST + s["thickness"].value + s["actuator_height"].value
    reach = math.hypot(top, s["actuator_diameter"].value / 2)
    if reach > site.bore_radius:
        least = math.ceil((site.tube_outer_radius - _free_top(part, site, 0.5)) * 10 + 5) / 10
        message = (
            f"the actuator of {part.name} reaches {reach:.2f} mm from the axis, "
            f"{reach - site.bore_radius:.2f} mm past the bore: the chassis cannot slide in with it"
        )
        numbers = {"reach": reach, "bore_radius": site.bore_radius}
        remedy = Remedy(
            "actuator_recess", least, f"keep the actuator {least:g} mm under the tube's outer face"
        )
        found.append(Finding("warning", "switch-past-bore", site.id, message, numbers, candidates=(remedy,)))
    if spine < LEAST_SPINE:
        above = site.radius - seat.total
        below = max(largest(s["pin_length"]), largest(s["height_below"]), wishes.plate_thickness)
        rows = (
            ("surface to board seat", above),
            ("pins or plate", below),
            ("wire room", wishes.wire_room),
            ("spine", LEAST_SPINE),
        )
        found.append(_sum_finding(site, part, rows, _radial_remedies(part, wishes, LEAST_SPINE - spine)))
    return tuple(found)
