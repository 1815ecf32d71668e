"""Parameters and plan of a board tray, and the board that lies in it; see `board_tray` for origin and axes."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field

from chassis_gen.params.quantities import Length, NonNegativeLength, PositiveLength
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionParams, Setting
from chassis_gen.sections.features.tape_recess import TapeBand, TapeRecess
from chassis_gen.shapes.recipe import Step

DEFAULT_TAPE = TapeRecess.model_validate({})


class Connector(BaseModel):
    """Keys of a plug or cable that leaves the board sideways or lengthwise."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    side: Literal["near", "far", "left", "right"] = Field(
        description="where it leaves, as seen from the mouth with the top up (left is the +x side)"
    )
    offset: Length = Field(0.0, description="its middle from the board's middle: to the right, or going in")
    width: PositiveLength = Field(description="its width along that side of the board")
    base: Length = Field(0.0, description="its underside over the board's top")


class BoardTrayParams(SectionParams):
    """Keys of a board tray."""

    kind: Literal["board_tray"] = "board_tray"
    part: str = Field("sound board", min_length=1, max_length=60, description="a board")
    hold: Literal["ledges", "standoffs", "edge_grooves"] = Field("ledges", description="what it rests on")
    front: Literal["far", "near"] = Field("far", description="where its +y end (card, antenna) points")
    board_height: Length | None = Field(
        None,
        description="board's underside over the tube's axis (negative: below); left out: where it fits best",
    )
    ledge: PositiveLength = Field(1.5, description="width of the ledges, less where parts stand out below")
    floor: PositiveLength = Field(3.0, description="least material under the room below the board")
    wall: PositiveLength = Field(1.6, description="least material beside the board and its rooms")
    end_wall: PositiveLength = Field(2.4, description="thickness of each end wall")
    top_clearance: NonNegativeLength = Field(0.2, description="components stay this far under the surface")
    lip: PositiveLength = Field(2.0, description="edge_grooves: depth of the lip, less before components")
    card: Literal["room", "through", "closed"] = Field(
        "room",
        description="card slot: room to pull the card in the tray, an opening in the end wall, or neither",
    )
    tape: TapeRecess | None = Field(DEFAULT_TAPE, description="recess for the tape that holds the board down")
    tape_bands: int = Field(1, ge=1, le=3, description="number of tape recesses")
    connector: tuple[Connector, ...] = Field((), max_length=8, description="plugs and cables that leave it")


class BoardTrayPlan(Struct, frozen=True):
    """What a board tray decides: its sums, and the pocket's stations and heights (mm).

    Args:
        length: along the axis.
        end_wall: thickness of each end wall.
        pocket_width: across.
        pocket_length: along the axis, where the board stops at both ends.
        seat_height: ledges over the tube's axis.
        room_below: depth of the room under the board.
        room_width: between the ledges.
        wall: least material beside the pocket.
        lip: depth of the lip over the board's far edge, edge_grooves only.
        peg_diameter: pegs through the board's holes, standoffs only.
        tape: tape recesses.
        tape_depth: of the recesses.
        tape_width: of the recesses.
        near: station of the pocket's near end.
        far: station of the pocket's far end, with what the antenna needs.
        rim: height of the trimmed rims.
        cutters: what to cut after the outer body.
        posts: what to add then.
        reliefs: what to cut last.
    """

    length: Dimension
    end_wall: Dimension
    pocket_width: Dimension
    pocket_length: Dimension
    seat_height: Dimension
    room_below: Dimension
    room_width: Dimension
    wall: Dimension
    lip: Dimension | None
    peg_diameter: Dimension | None
    tape: tuple[TapeBand, ...]
    tape_depth: Dimension | None
    tape_width: Dimension | None
    near: float
    far: float
    rim: float
    cutters: tuple[Step, ...]
    posts: tuple[Step, ...]
    reliefs: tuple[Step, ...]


def board_of(params: BoardTrayParams, setting: Setting) -> Part:
    """Return the board that lies in the tray.

    Raises:
        InputError: the part is unknown or no board.
    """
    part = setting.find_part(params.part)
    if part.kind != "board":
        message = f"a {part.kind} can't lie in a board tray"
        raise InputError(
            [Problem("wrong-part-kind", message, value=f'"{params.part}"', allowed="a part of kind board")]
        )
    return part
