"""What the maker asks of a cell cradle, and what its plan decides."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import NonNegativeLength, PositiveLength, quantity
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionParams, Setting

Direction = Literal["plus_far", "plus_near"]

SQUEEZE_RANGE = (0.2, 0.4)
LEVEL_RANGE = (0.35, 0.75)
PACK = "wired_pack"


class CellCradleParams(SectionParams):
    """Keys of a cell cradle."""

    kind: Literal["cell_cradle"] = "cell_cradle"
    part: str = Field("cell 18650", description="cell or wired pack, by its catalogue name")
    cells: int = Field(1, ge=1, le=8, description="number of cells in line")
    directions: tuple[Direction, ...] = Field(
        ("plus_far",),
        description="where each cell's plus pole points, from the near end on; one entry serves all",
    )
    squeeze: Annotated[float, quantity("mm", *SQUEEZE_RANGE)] | None = Field(
        None,
        description="how far a mean cell spreads each arm on its way in; default 0.3, more if cells vary",
    )
    arm_thickness: Annotated[float, quantity("mm", 0.6, 10)] | None = Field(
        None, description="thickness of the arms; default 1.6, thinner where the snap strain asks for it"
    )
    base_level: Annotated[float, Field(ge=LEVEL_RANGE[0], le=LEVEL_RANGE[1])] | None = Field(
        None,
        description="how far below the axis the base ends, in seat radii; default 0.6, more for longer arms "
        "where the snap strain asks for it",
    )
    contact_room_near: NonNegativeLength = Field(
        4.0, description="room for spring, leaf or tab at the near end"
    )
    contact_room_far: NonNegativeLength = Field(
        4.0, description="room for spring, leaf or tab at the far end"
    )
    end_wall: Annotated[float, quantity("mm", 2, 30)] = Field(
        2.4, description="thickness of the two end walls"
    )
    shoulder: PositiveLength = Field(
        1.6, description="thickness of the shoulder that stops the cell at each end"
    )
    ribbon_slot: bool = Field(
        True, description="groove under the cell and gaps in the arms for a pull ribbon"
    )
    ribbon_width: PositiveLength = Field(8.0, description="width of the pull ribbon's groove")
    ribbon_depth: PositiveLength = Field(0.6, description="depth of the pull ribbon's groove in the base")

    @model_validator(mode="after")
    def _one_direction_per_cell(self) -> CellCradleParams:
        if len(self.directions) not in (1, self.cells):
            allowed = f"1 or {self.cells} entries" if self.cells > 1 else "1 entry"
            text = f"{len(self.directions)} directions for {self.cells} cells"
            raise rejected(Rejection("wrong-count", text, allowed, at=("directions",)))
        return self

    @property
    def each_direction(self) -> tuple[Direction, ...]:
        """Return one direction per cell."""
        return self.directions if len(self.directions) == self.cells else self.directions * self.cells


class Snap(Struct, frozen=True):
    """How the arms hold and bend.

    Args:
        thickness: of an arm, mm.
        level: how far below the axis the base ends, in seat radii.
        length: of an arm, along its middle line from the base to the tip, mm.
        smallest: squeeze per side with the smallest cell, as printed, mm.
        largest: squeeze per side with the largest cell, as printed, mm.
        strain: in the root of an arm while the largest cell passes (fraction).
        limit: the material's, halved or so where the arm bends across the layers (fraction).
    """

    thickness: float
    level: float
    length: float
    smallest: float
    largest: float
    strain: float
    limit: float


class CellCradlePlan(Struct, frozen=True):
    """What a cell cradle decides, mm.

    Args:
        length: of the section.
        seat_diameter: bore of the seat.
        seat_length: of the seat along the axis, between the shoulders.
        mouth_width: between the arms' tips.
        arm_height: of the tips over the axis.
        arm_thickness: of the arms.
        base_height: how far below the axis the base ends.
        end_wall: thickness.
        shoulder: thickness.
        contact_room_near: along the axis.
        contact_room_far: along the axis.
        ribbon_width: of the groove; 0 for none.
        ribbon_depth: of the groove.
        snap: how the arms hold and bend.
        arm_radius: outside of the arms, clipped to the chassis's outer surface.
        seat: first and last station of the seat.
        room: first and last station between the end walls.
        ribbon: first and last station of the ribbon's groove, or None.
        marks: pole at the near and at the far end.
    """

    length: Dimension
    seat_diameter: Dimension
    seat_length: Dimension
    mouth_width: Dimension
    arm_height: Dimension
    arm_thickness: Dimension
    base_height: Dimension
    end_wall: Dimension
    shoulder: Dimension
    contact_room_near: Dimension
    contact_room_far: Dimension
    ribbon_width: Dimension
    ribbon_depth: Dimension
    snap: Snap
    arm_radius: float
    seat: tuple[float, float]
    room: tuple[float, float]
    ribbon: tuple[float, float] | None
    marks: tuple[str, str]


def cell_of(params: CellCradleParams, setting: Setting) -> Part:
    """Return the cell or pack that the cradle holds.

    Raises:
        InputError: the part is unknown, neither cell nor pack, or a pack is to stand in line.
    """
    part = setting.find_part(params.part)
    if part.kind not in ("cell", PACK):
        text = f"a {part.kind.replace('_', ' ')} doesn't go into a cell cradle"
        raise InputError(
            [Problem("not-allowed", text, key="part", value=part.name, allowed="a cell or a wired pack")]
        )
    if part.kind == PACK and params.cells > 1:
        text = "a wired pack has both leads at one end: it stands alone"
        raise InputError([Problem("not-allowed", text, key="cells", value=str(params.cells), allowed="1")])
    return part
