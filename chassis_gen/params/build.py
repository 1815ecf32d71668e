"""The models of the maker's files: build, printer and tube.

The model of a build depends on the section kinds there are, so it is made by `build_model` from their
parameter classes; this module knows none of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal, Union

from pydantic import BaseModel, Field, create_model

from chassis_gen.params.quantities import (
    Angle,
    Length,
    NonNegativeLength,
    PositiveLength,
    quantity,
)
from chassis_gen.params.reading import FileModel

Diameter = Annotated[float, quantity("mm", 5, 300)]
SmallLength = Annotated[float, quantity("mm", -2, 2)]
Name = Annotated[str, Field(min_length=1, max_length=60)]


class BuildTable(FileModel):
    """[build]: what is built, of what, on which printer."""

    title: Annotated[str, Field(min_length=1, max_length=120, description="one line for people")]
    printer: str | None = Field(None, description="name of a file in profiles/printers, without .toml")
    material: str = Field("PETG", description="a material of the materials table")
    note: str = Field("", description="anything worth keeping; goes into the report")


class BoreRow(FileModel):
    """One stretch of bore."""

    from_mouth: NonNegativeLength = Field(description="station where it begins")
    diameter: Diameter = Field(description="inside diameter")
    tolerance: NonNegativeLength = Field(0.1, description="plus-minus of the diameter")


class SegmentTable(FileModel):
    """[[tube.segment]]: one length of tube."""

    name: str = Field("tube", description="for messages")
    from_mouth: NonNegativeLength = Field(0.0, description="station of its near end")
    length: PositiveLength = Field(description="length along the axis")
    wall: Annotated[float, quantity("mm", 0.2, 25)] = Field(
        1.5, description="wall thickness at the widest bore"
    )
    material: str = Field("aluminium", description="what the tube is made of")
    bores: tuple[BoreRow, ...] = Field(min_length=1, max_length=20, description="bores from the mouth in")


class OpeningTable(FileModel):
    """[[tube.opening]]: a hole through the tube's wall."""

    name: Name = Field(description="what sections call it")
    from_mouth: NonNegativeLength = Field(description="station of its axis")
    clock_deg: Angle = Field(90.0, description="clock angle of its axis")
    diameter: PositiveLength = Field(description="diameter")


class TubeTable(FileModel):
    """[tube]: what the chassis slides into."""

    like: str | None = Field(None, description="name of a file in profiles/tubes, without .toml")
    chassis_offset: NonNegativeLength = Field(2.0, description="station of the chassis's near end")
    chassis_end: PositiveLength | None = Field(
        None, description="station of the chassis's far end, met by fill"
    )
    segment: tuple[SegmentTable, ...] = Field((), max_length=8, description="lengths of tube")
    opening: tuple[OpeningTable, ...] = Field((), max_length=24, description="holes through the wall")


class TubeFile(FileModel):
    """A file in profiles/tubes: segments and openings shared by builds."""

    title: str = ""
    source: str = Field("", description="how it was measured")
    segment: tuple[SegmentTable, ...] = Field(min_length=1, max_length=8)
    opening: tuple[OpeningTable, ...] = Field((), max_length=24)


class BearingTable(FileModel):
    """[bearing]: where the chassis touches the tube."""

    fit: str = Field("slide", description="fit class of the bearing bands in the bore")
    band: Annotated[float, quantity("mm", 4, 40)] = Field(9.0, description="length of a bearing band")
    relief: Annotated[float, quantity("mm", 0, 3)] = Field(
        0.45, description="relief per side between the bands"
    )
    flat_width: Annotated[float, quantity("mm", 0, 60)] = Field(9.0, description="width of the printing flat")
    flat_clock_deg: Angle = Field(270.0, description="clock angle of the printing flat")


class WireTable(FileModel):
    """[[wire]]: from terminal to terminal."""

    name: str | None = Field(None, description="for messages; default wire 1, wire 2, ...")
    start: str = Field(alias="from", description="terminal, as section.terminal")
    end: str = Field(alias="to", description="terminal, as section.terminal")
    gauge_awg: Annotated[int, Field(ge=20, le=32)] = Field(26, description="American wire gauge")
    insulation: Literal["silicone", "pvc"] = Field("silicone", description="insulation")
    colour: str = Field("", description="colour in words")
    clock_deg: Angle | None = Field(None, description="pins the lane's clock")


class Adjustment(FileModel):
    """[[adjustment]]: what a test fit showed, as one more term of a dimension's sum."""

    dimension: str = Field(description="name of the dimension, as `why BUILD` lists it")
    add: SmallLength = Field(description="added to the drawn dimension")
    why: str = Field(min_length=1, description="what was seen")


class FinishTable(FileModel):
    """[finish]: a coating on every fitted surface."""

    coating: Annotated[float, quantity("mm", 0, 0.5)] = Field(0.0, description="thickness per surface")


def build_model(section_params: Sequence[type[BaseModel]]) -> type[BaseModel]:
    """Return the model of a build file for the section kinds there are.

    Args:
        section_params: the parameter classes; each has a literal field ``kind``.
    """
    if len(section_params) == 1:
        union: Any = section_params[0]
    else:
        union = Annotated[Union[tuple(section_params)], Field(discriminator="kind")]
    return create_model(
        "BuildFile",
        __base__=FileModel,
        __doc__="A build's parameter file.",
        build=(BuildTable, ...),
        tube=(TubeTable, ...),
        bearing=(BearingTable, BearingTable.model_validate({})),
        finish=(FinishTable, FinishTable.model_validate({})),
        section=(
            tuple[union, ...],
            Field(min_length=1, max_length=60, description="sections from the mouth in"),
        ),
        part=(
            dict[str, dict[str, Length]],
            Field(default_factory=dict, description="sizes of parts as measured, by part name"),
        ),
        wire=(tuple[WireTable, ...], Field((), max_length=200, description="wires")),
        adjustment=(tuple[Adjustment, ...], Field((), max_length=500, description="test-fit terms")),
    )
