"""The models of the maker's files: build, printer and tube.

The model of a build depends on the section kinds there are, so it is made by `build_model` from their
parameter classes; this module knows none of them.
"""

from __future__ import annotations

import functools
import operator
from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import BaseModel, Field, create_model

from chassis_gen.params.electrics import ElectricsTable, StateTable
from chassis_gen.params.finish import FinishTable
from chassis_gen.params.lettering import LetteringTable
from chassis_gen.params.quantities import (
    Angle,
    Length,
    NonNegativeLength,
    PositiveLength,
    quantity,
)
from chassis_gen.params.reading import FileModel
from chassis_gen.params.rods import RodTable
from chassis_gen.params.surfaces import SurfaceTable
from chassis_gen.params.wires import NetTable, TerminalTable, WireTable, WiringTable

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
    diameter: Diameter = Field(description="inside diameter, the mean of all readings")
    tolerance: NonNegativeLength = Field(0.1, description="plus-minus of the mean diameter")
    ovality: Annotated[float, quantity("mm", 0, 5)] = Field(
        0.0, description="largest less smallest diameter at one depth"
    )
    taper: Annotated[float, quantity("mm", -5, 5)] = Field(
        0.0, description="how much wider the far end of the stretch is than its near end"
    )


class OuterRow(FileModel):
    """One stretch of a segment's outside."""

    from_mouth: NonNegativeLength = Field(description="station where it begins")
    diameter: Diameter = Field(description="outside diameter")


class SegmentTable(FileModel):
    """[[tube.segment]]: one length of tube."""

    name: str = Field("tube", description="for messages")
    from_mouth: NonNegativeLength = Field(0.0, description="station of its near end")
    length: PositiveLength = Field(description="length along the axis")
    wall: Annotated[float, quantity("mm", 0.2, 25)] = Field(
        1.5, description="wall thickness at the widest bore, where `outer` doesn't give the outside"
    )
    material: str = Field("aluminium", description="what the tube is made of")
    conducts: bool | None = Field(
        None, description="whether that leads current; left out: by the table of materials"
    )
    bores: tuple[BoreRow, ...] = Field(min_length=1, max_length=20, description="bores from the mouth in")
    outer: tuple[OuterRow, ...] = Field(
        (),
        max_length=20,
        description="outside diameters from the mouth in; left out: widest bore and two walls",
    )
    overlap: NonNegativeLength = Field(
        0.0, description="length that the next segment reaches into this one when screwed home"
    )
    stop_clock_deg: Angle | None = Field(
        None, description="clock of its own mark when screwed home on the one before; left out: not known"
    )


class OpeningTable(FileModel):
    """[[tube.opening]]: a hole through the tube's wall."""

    name: Name = Field(description="what sections call it")
    from_mouth: NonNegativeLength = Field(description="station of its axis")
    clock_deg: Angle = Field(90.0, description="clock angle of its axis, from the mark of its segment")
    diameter: PositiveLength = Field(description="diameter")
    segment: str | None = Field(None, description="segment that it is drilled in; left out: by its station")
    from_mouth_tolerance: Annotated[float, quantity("mm", 0, 5)] = Field(
        0.0, description="plus-minus of the station"
    )
    clock_tolerance_deg: Annotated[float, quantity("deg", 0, 45)] = Field(
        0.0, description="plus-minus of the clock"
    )
    diameter_tolerance: Annotated[float, quantity("mm", 0, 5)] = Field(
        0.0, description="plus-minus of the diameter"
    )
    transfer: bool = Field(
        False, description="true: drilled through the tube's hole once the chassis is in its place"
    )


class CollarTable(FileModel):
    """[[tube.collar]]: a ring that slides over the tube and hides what is under it."""

    name: Name = Field(description="for messages")
    from_mouth: NonNegativeLength = Field(description="station of its near end")
    length: PositiveLength = Field(description="length along the axis")
    inner_diameter: Diameter = Field(description="inside diameter")


class PlugTable(FileModel):
    """[[tube.plug]]: a set screw or a plug that closes an opening."""

    name: Name = Field(description="for messages")
    opening: Name = Field(description="opening that it stands in")
    outer_end: PositiveLength = Field(description="its outer end from the tube's axis when it is home")


class TubeTable(FileModel):
    """[tube]: what the chassis slides into."""

    like: str | None = Field(None, description="name of a file in profiles/tubes, without .toml")
    chassis_offset: NonNegativeLength = Field(2.0, description="station of the chassis's near end")
    chassis_end: PositiveLength | None = Field(
        None, description="station of the chassis's far end, met by fill"
    )
    segment: tuple[SegmentTable, ...] = Field((), max_length=8, description="lengths of tube")
    opening: tuple[OpeningTable, ...] = Field((), max_length=24, description="holes through the wall")
    collar: tuple[CollarTable, ...] = Field((), max_length=12, description="rings over the tube")
    plug: tuple[PlugTable, ...] = Field((), max_length=24, description="set screws and plugs in openings")


class TubeFile(FileModel):
    """A file in profiles/tubes: segments and openings shared by builds."""

    title: str = ""
    source: str = Field("", description="how it was measured")
    segment: tuple[SegmentTable, ...] = Field(min_length=1, max_length=8)
    opening: tuple[OpeningTable, ...] = Field((), max_length=24)
    collar: tuple[CollarTable, ...] = Field((), max_length=12)
    plug: tuple[PlugTable, ...] = Field((), max_length=24)


class ExtendTable(FileModel):
    """[extend]: the build's own section kinds, as Python files beside its parameter file."""

    sections: tuple[Annotated[str, Field(min_length=4, max_length=80)], ...] = Field(
        (), max_length=8, description="Python files in the build's folder; run only with --trust"
    )


class BearingTable(FileModel):
    """[bearing]: where the chassis touches the tube."""

    fit: str = Field("slide", description="fit class of the bearing bands in the bore")
    band: Annotated[float, quantity("mm", 4, 40)] = Field(9.0, description="length of a bearing band")
    relief: Annotated[float, quantity("mm", 0, 3)] = Field(
        0.45, description="relief per side between the bands"
    )
    flat_width: Annotated[float, quantity("mm", 0, 60)] = Field(9.0, description="width of the printing flat")
    flat_clock_deg: Angle = Field(270.0, description="clock angle of the printing flat")


class Adjustment(FileModel):
    """[[adjustment]]: a change of what is wanted, one more term of a sum; test fits go into the log."""

    dimension: str = Field(description="name of the dimension, as `why BUILD` lists it")
    add: SmallLength = Field(description="added to the drawn dimension")
    why: str = Field(min_length=1, description="why it is wanted")


def build_model(section_params: Sequence[type[BaseModel]]) -> type[BaseModel]:
    """Return the model of a build file for the section kinds there are.

    Args:
        section_params: the parameter classes; each has a literal field ``kind``.
    """
    union: Any = functools.reduce(operator.or_, section_params)
    if len(section_params) > 1:
        union = Annotated[union, Field(discriminator="kind")]
    return create_model(
        "BuildFile",
        __base__=FileModel,
        __doc__="A build's parameter file.",
        build=(BuildTable, ...),
        tube=(TubeTable, ...),
        bearing=(BearingTable, BearingTable.model_validate({})),
        finish=(FinishTable, FinishTable.model_validate({})),
        extend=(ExtendTable, ExtendTable.model_validate({})),
        section=(
            tuple[union, ...],
            Field(min_length=1, max_length=60, description="sections from the mouth in"),
        ),
        part=(
            dict[str, dict[str, Length]],
            Field(default_factory=dict, description="sizes of parts as measured, by part name"),
        ),
        wire=(tuple[WireTable, ...], Field((), max_length=200, description="wires")),
        net=(tuple[NetTable, ...], Field((), max_length=60, description="terminals that are joined")),
        terminal=(
            tuple[TerminalTable, ...],
            Field((), max_length=60, description="terminals of the maker's own"),
        ),
        wiring=(WiringTable, WiringTable.model_validate({})),
        rod=(tuple[RodTable, ...], Field((), max_length=4, description="threaded rods")),
        surface=(
            tuple[SurfaceTable, ...],
            Field((), max_length=24, description="patterns on the outer surface"),
        ),
        lettering=(
            tuple[LetteringTable, ...],
            Field((), max_length=24, description="engraved or raised text"),
        ),
        adjustment=(
            tuple[Adjustment, ...],
            Field((), max_length=500, description="changes of what is wanted"),
        ),
        electrics=(ElectricsTable, ElectricsTable.model_validate({})),
        state=(tuple[StateTable, ...], Field((), max_length=24, description="states of the build")),
    )
