"""What can't work about a board tray: its width, its ledges, its lip, its posts, its tape and its card."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain, pairwise

from chassis_gen.findings import Finding, Remedy, error, wall_left
from chassis_gen.sections.board_tray_height import best_height, margins
from chassis_gen.sections.board_tray_layout import Tray
from chassis_gen.sections.board_tray_posts import on_holes, post_room
from chassis_gen.sections.features.board_seat import LEAST_LEDGE
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.features.surface import half_chord

LEAST_LIP = 0.4


def findings(tray: Tray) -> tuple[Finding, ...]:
    """Return what can't work, as planned."""
    kinds = (_width, _ledge, _lip, _lip_at_antenna, _tilt, _posts, _tape_length, _tape_depth, _card)
    return tuple(chain.from_iterable(of(tray) for of in kinds))


def _width(tray: Tray) -> Iterator[Finding]:
    """Yield an error where the board is too wide at its height, with the widest that fits at the best one."""
    p, fitted, part = tray.params, tray.fitted, tray.part
    radius, seat = tray.ctx.radius, tray.seat
    here = margins(p, fitted, radius, seat)
    if here.least >= 0:
        return
    best = best_height(p, fitted, radius)
    there = margins(p, fitted, radius, best)
    width = part.size("width")
    needed = fitted.width.total + 2 * p.wall
    upper = tray.underside + part.sizes["thickness"].largest
    chord = min(2 * half_chord(radius, h) for h in (seat, upper))
    largest = max(0.0, width + 2 * there.least)
    message = (
        f"{part.name} does not fit at height {tray.underside:.2f} ({here.limit}: "
        f"{-here.least:.2f} mm too little): board {width:.2f} + clearance "
        f"{fitted.width.total - width:.2f} + walls {2 * p.wall:.2f} = {needed:.2f} mm, "
        f"the chord at its worse edge is {chord:.2f} mm; the widest such board that would fit is "
        f"{largest:.2f} mm, at height {best + REST:.2f}"
    )
    numbers = {
        "needed": needed,
        "chord": chord,
        "lacking": -here.least,
        "largest_width": largest,
        "least_side_margin": min(v for k, v in here.by_limit.items() if k != "floor"),
    }
    remedies = _width_remedies(tray, best, fits=there.least >= 0)
    yield error("board-too-wide", tray.ctx.name, message, numbers, *remedies, blocks=True)


def _width_remedies(tray: Tray, best: float, fits: bool) -> Iterator[Remedy]:
    if tray.params.board_height is not None and fits:
        value = round(best + REST, 2)
        yield Remedy(
            "board_height",
            value,
            f"lay the board {abs(value):g} mm {'over' if value >= 0 else 'under'} the axis",
        )
    thin = tray.ctx.setting.rules.least_wall
    if tray.params.wall > thin:
        yield Remedy("wall", thin, f"walls of {thin:g} mm beside the board")
    if tray.part.name != "radio board":
        yield Remedy("part", "radio board", "take a smaller board")
    yield from tray.params.wider()
    yield Remedy(None, None, "a narrower board or a larger bore")


def _ledge(tray: Tray) -> Iterator[Finding]:
    room = tray.fitted.room_width.total
    ledge = (tray.part.size("width") - room) / 2
    if (ledge >= LEAST_LEDGE and room > 1.0) or on_holes(tray):
        return
    message = (
        f"ledges of {ledge:.2f} mm under {tray.part.name} "
        f"(room {room:.2f} mm wide); at least {LEAST_LEDGE:g} mm "
        f"and a room over 1 mm are wanted"
    )
    numbers = {"ledge": ledge, "wanted": LEAST_LEDGE}
    remedy = Remedy("ledge", 1.5, "ledges of 1.5 mm")
    yield error("ledge-narrow", tray.ctx.name, message, numbers, remedy, blocks=True)


def _lip(tray: Tray) -> Iterator[Finding]:
    over = tray.lip - tray.fitted.gap
    if tray.params.hold != "edge_grooves" or over >= LEAST_LIP:
        return
    message = (
        f"the lip would cover {over:.2f} mm of {tray.part.name} before it meets components; "
        f"{LEAST_LIP:g} mm are wanted"
    )
    remedy = Remedy("hold", "ledges", "hold the board with tape alone")
    numbers = {"lip": over, "wanted": LEAST_LIP}
    yield error("lip-short", tray.ctx.name, message, numbers, remedy, blocks=True)


def _lip_at_antenna(tray: Tray) -> Iterator[Finding]:
    if tray.params.hold != "edge_grooves" or not tray.ends.open_room or tray.params.front != "far":
        return
    message = f"{tray.part.name} has no stop at its far end, so that no lip can reach over it"
    remedies = (
        Remedy("front", "near", "turn the board round"),
        Remedy("hold", "ledges", "hold the board with tape alone"),
        Remedy(None, None, 'a board held by tape (hold = "ledges"), or turned round (front = "near")'),
    )
    yield error("lip-at-antenna", tray.ctx.name, message, {}, *remedies, blocks=True)


def _tilt(tray: Tray) -> Iterator[Finding]:
    left, least = tray.tilt_near - tray.ctx.z0, tray.ctx.setting.rules.least_wall
    if tray.params.hold != "edge_grooves" or left >= least:
        return
    message = f"{max(left, 0.0):.2f} mm of the near end wall are left where the board tilts out"
    more = math.ceil((tray.params.end_wall + least - left) * 10) / 10
    remedy = Remedy("end_wall", more, f"an end wall of {more:g} mm")
    numbers = {"left": left, "wanted": least}
    yield error("end-wall-thin", tray.ctx.name, message, numbers, remedy, blocks=True)


def _posts(tray: Tray) -> Iterator[Finding]:
    if not on_holes(tray) or (free := post_room(tray)) >= 0:
        return
    message = f"posts at the holes of {tray.part.name} would run {-free:.2f} mm into what stands out below it"
    remedy = Remedy("hold", "ledges", "rest the board on ledges")
    yield error("post-in-components", tray.ctx.name, message, {"overlap": -free}, remedy, blocks=True)


def _tape_length(tray: Tray) -> Iterator[Finding]:
    """Yield an error where the recesses leave no wall between each other or beside the tray's ends."""
    bands, ctx = tray.bands, tray.ctx
    if not bands:
        return
    spare = min(min(b.z0 for b in bands) - ctx.z0, ctx.z1 - max(b.z1 for b in bands))
    apart = min((b.z0 - a.z1 for a, b in pairwise(bands)), default=math.inf)
    left, least = min(spare, apart), ctx.setting.rules.least_wall
    if left >= least:
        return
    many = f"{len(bands)} tape recesses" if len(bands) > 1 else "a tape recess"
    message = (
        f"{many} of {bands[0].width.total:.2f} mm over the board of a tray {ctx.length:.2f} mm long: "
        f"{wall_left(left)} {'beside an end' if spare < apart else 'between two'}, less than {least:g} mm"
    )
    fewer = (
        Remedy("tape_bands", n, f"{n} bands of tape" if n > 1 else "one band of tape")
        for n in range(len(bands) - 1, 0, -1)
        if n == 1 or tray.fitted.length.total / n - bands[0].width.total >= least
    )
    width = max(3.0, math.floor(tray.fitted.length.total / 2))
    narrow = Remedy("tape.width", width, f"tape {width:g} mm wide")
    numbers = {"wall": left, "least_wall": least, "spare": spare, "length": ctx.length}
    yield error("tape-too-wide", ctx.name, message, numbers, *fewer, narrow, blocks=True)


def _tape_depth(tray: Tray) -> Iterator[Finding]:
    if not tray.bands:
        return
    depth, least = tray.bands[0].depth.total, tray.ctx.setting.rules.least_wall
    left = tray.params.wall - depth
    if left >= least:
        return
    more = math.ceil((least + depth) * 10) / 10
    message = f"under the tape {max(left, 0.0):.2f} mm of the tray's wall are left"
    remedy = Remedy("wall", more, f"walls of {more:g} mm")
    numbers = {"left": left, "wanted": least}
    yield error("tape-too-deep", tray.ctx.name, message, numbers, remedy, blocks=True)


def _card(tray: Tray) -> Iterator[Finding]:
    if tray.params.card != "closed" or not any(k.name == "card slot" for k in tray.part.keepouts):
        return
    message = f"the card of {tray.part.name} can only be changed with the board taken out"
    remedy = Remedy("card", "room", "room")
    yield Finding("note", "card-closed", tray.ctx.name, message, candidates=(remedy,))
