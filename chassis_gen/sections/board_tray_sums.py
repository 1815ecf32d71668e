"""What a board tray needs along the axis and across it before its station is known, as numbers and sums, mm."""

from __future__ import annotations

from msgspec import Struct

from chassis_gen.parts.extent import extent_of
from chassis_gen.parts.model import Keepout, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import PART_SIZE, WALL, Dimension, Term
from chassis_gen.sections.base import Setting
from chassis_gen.sections.board_tray_model import BoardTrayParams, board_of
from chassis_gen.sections.features.board_seat import (
    AIR,
    BOARD_FIT,
    MARGIN,
    beyond_end,
    deepest_below,
    length_along,
    open_room,
)

LIP_SLOPE = 0.2
"""How far a board moves along the tube per height while it comes out from under its lip."""
LEAST_SHOULDER = 0.8


class Fitted(Struct, frozen=True):
    """A board's fitted sizes, before its height is known.

    Args:
        part: the board.
        width: of its pocket, across.
        length: of its pocket, along the axis.
        below: depth of the room under it.
        room_width: between the ledges.
    """

    part: Part
    width: Dimension
    length: Dimension
    below: Dimension
    room_width: Dimension

    @property
    def play(self) -> float:
        """Return the sideways play per side in the model, mm."""
        return (self.width.total - self.part.size("width")) / 2

    @property
    def gap(self) -> float:
        """Return the play per end in the model, mm."""
        return (self.length.total - self.part.size("length")) / 2


class Ends(Struct, frozen=True):
    """What the board's ends need along the axis, mm.

    Args:
        open_room: added to the pocket at the front, where nothing stops the board (antenna).
        card_room: beyond the front, narrower than the board, so that shoulders stop it.
        card: the card's keep-out, when it gets room or an opening.
        tilt: in front of the near end, for a board that tilts out from under its lip.
    """

    open_room: float
    card_room: float
    card: Keepout | None
    tilt: float


def fitted_board(params: BoardTrayParams, setting: Setting) -> Fitted:
    """Return the board with its pocket and the room under it.

    Raises:
        InputError: the part is unknown or no board.
    """
    part, fitter, name = board_of(params, setting), setting.fitter, params.name
    s = part.sizes
    width = fitter.inner(f"{name}.pocket_width", s["width"], BOARD_FIT, "pocket across", part.name)
    note = "pocket along the axis"
    length = fitter.inner(f"{name}.pocket_length", s["length"], BOARD_FIT, note, part.name)
    below, room_width = _room_below(part, fitter, name), _room_width(params, part, fitter, width)
    return Fitted(part, width, length, below, room_width)


def _room_below(part: Part, fitter: Fitter, name: str) -> Dimension:
    key = deepest_below(part)
    size = part.sizes[key]
    terms = (
        Term(PART_SIZE, size.value, f"{part.name}: {key.replace('_', ' ')}, {size.source}", size.tolerance),
        Term("tolerance", size.tolerance, "the deepest part"),
        Term("spare", AIR, "air under the joints"),
    )
    return fitter.summed(f"{name}.room_below", terms, "room under the board")


def _room_width(params: BoardTrayParams, part: Part, fitter: Fitter, width: Dimension) -> Dimension:
    """Return the room between the ledges: as wanted, wider where parts stand out below the board."""
    board, margin = part.sizes["width"], part.sizes["margin_below"]
    play = (width.total - board.value) / 2
    name, note = f"{params.name}.room_width", "between the ledges"
    by_ledge = width.total - 2 * params.ledge
    by_parts = board.value - 2 * margin.value + 2 * (play + MARGIN)
    if by_ledge >= by_parts or part.size("height_below") == 0:
        terms: tuple[Term, ...] = (
            Term("pocket", width.total, width.name),
            Term("ledges", -2 * params.ledge, "parameter file or its default"),
        )
    else:
        terms = (
            Term(PART_SIZE, board.value, f"{part.name}: width, {board.source}", board.tolerance),
            Term("margins", -2 * margin.value, f"{part.name}: edge to parts below, {margin.source}"),
            Term("play and spare", 2 * (play + MARGIN), "both sides"),
        )
    return fitter.summed(name, terms, note)


def room_at_ends(params: BoardTrayParams, part: Part, setting: Setting) -> Ends:
    """Return what antenna, card and lip need beyond the board's ends.

    Args:
        params: the tray's keys.
        part: the board.
        setting: tells the smallest bore.
    """
    tilt = 0.75 * LIP_SLOPE * setting.smallest_bore if params.hold == "edge_grooves" else 0.0
    free = open_room(part, apart_from=("pins", "card slot"))
    card = next((k for k in part.keepouts if k.name == "card slot"), None)
    if card is None or params.card == "closed":
        return Ends(free, 0.0, None, tilt)
    if params.card == "through":
        return Ends(free, 0.0, card, tilt)
    travel = beyond_end(card, part) + AIR
    if not _stopped_beside(card, part):
        return Ends(max(free, travel), 0.0, None, tilt)
    return Ends(free, max(0.0, travel - free), card, tilt)


def _stopped_beside(card: Keepout, part: Part) -> bool:
    """Return whether material beside a card's room can still stop the board."""
    half = extent_of(card.solid)[1][0] + AIR
    return part.size("width") / 2 - half >= LEAST_SHOULDER


def pocket_offset(params: BoardTrayParams, ends: Ends) -> float:
    """Return how far from the section's near end the board's own pocket begins, mm."""
    front = ends.open_room + ends.card_room if params.front == "near" else 0.0
    return params.end_wall + ends.tilt + front


def section_length(params: BoardTrayParams, setting: Setting) -> Dimension:
    """Return end walls, pocket and what card, antenna or lip need, as a labelled sum.

    Raises:
        InputError: the part is unknown or no board.
    """
    fitted = fitted_board(params, setting)
    ends = room_at_ends(params, fitted.part, setting)
    rooms = (
        Term("antenna room", ends.open_room, f"{params.part}: keep-out past the board's end"),
        Term("card room", ends.card_room, f"{params.part}: travel of the card, inside the tray"),
        Term("tilt room", ends.tilt, "for the board to come out from under its lip"),
    )
    walls = Term(WALL, 2 * params.end_wall, "two end walls")
    return length_along(setting.fitter, params.name, walls, fitted.length, rooms)
