"""The tables of the netlist: wires, nets, terminals of the maker's own, and how classes of wire keep apart."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import (
    Angle,
    Current,
    Length,
    NonNegativeLength,
    PositiveLength,
    Resistance,
    quantity,
)
from chassis_gen.params.reading import FileModel

Name = Annotated[str, Field(min_length=1, max_length=60)]
Pitch = Annotated[float, quantity("mm", 0.5, 10)]
WireClass = Literal["power", "data", "sound", "light"]
BodyKind = Literal["splice", "resistor", "fuse", "connector"]


class ConnectorTable(FileModel):
    """A plug at one end of a wire, by pitch and ways; its head's size comes from a table."""

    pitch: Pitch = Field(description="distance of its contacts")
    ways: Annotated[int, Field(ge=1, le=40)] = Field(description="number of contacts in a row")


class ViaTable(FileModel):
    """A section that a wire has to pass, at a clock where one is given."""

    section: Name = Field(description="name of the section")
    clock_deg: Angle | None = Field(None, description="pins the lane's clock in that section")


class InLineTable(FileModel):
    """A body in a wire that needs room: a splice, a resistor, a fuse, a connector."""

    kind: BodyKind = Field(description="what it is")
    section: Name | None = Field(None, description="where it lies; default wherever there is room")
    diameter: PositiveLength | None = Field(None, description="over its sleeve; default from the table")
    length: PositiveLength | None = Field(None, description="over its sleeve; default from the table")
    resistance_ohm: Resistance | None = Field(None, description="of a resistor or a fuse")
    rating_a: Current | None = Field(None, description="of a fuse")


class Conductor(FileModel):
    """Keys that a wire and a net share."""

    gauge_awg: Annotated[int, Field(ge=20, le=32)] = Field(26, description="American wire gauge")
    area_mm2: Annotated[float, Field(ge=0.05, le=1.0)] = Field(
        0.0, description="conductor's cross-section in mm2, instead of a gauge; 0 for none"
    )
    insulation: Literal["silicone", "pvc", "ptfe"] = Field("silicone", description="insulation")
    colour: str = Field("", description="colour in words")
    current_a: Current | None = Field(None, description="largest current that it carries")
    shielded: bool = Field(False, description="true for a wire with a braid round it")
    keep_apart: WireClass | None = Field(None, description="class that other classes keep a distance from")
    bundle: Name | None = Field(None, description="wires of one bundle lie in one lane where they can")

    @model_validator(mode="after")
    def _one_size(self) -> Conductor:
        if {"gauge_awg", "area_mm2"} <= self.model_fields_set:
            why = "a wire has either a gauge or a cross-section"
            raise rejected(Rejection("not-allowed", why, "gauge_awg or area_mm2", at=("area_mm2",)))
        return self

    @property
    def gauge(self) -> int | None:
        """Return the gauge, or None where a cross-section is given."""
        return None if self.area_mm2 else self.gauge_awg


class WireTable(Conductor):
    """[[wire]]: from terminal to terminal."""

    name: str | None = Field(None, description="for messages; default wire 1, wire 2, ...")
    start: str = Field(alias="from", description="terminal, as section.terminal")
    end: str = Field(alias="to", description="terminal, as section.terminal")
    clock_deg: Angle | None = Field(None, description="pins the lane's clock")
    via: tuple[ViaTable, ...] = Field((), max_length=8, description="sections that it has to pass")
    twisted_with: Name | None = Field(None, description="name of the wire that it is twisted with")
    ribbon: Name | None = Field(None, description="name of the flat ribbon that it is a way of")
    from_connector: ConnectorTable | None = Field(None, description="plug at its beginning")
    to_connector: ConnectorTable | None = Field(None, description="plug at its end")
    have_from_mm: NonNegativeLength = Field(
        0.0, description="lead that the part at its beginning already has"
    )
    have_to_mm: NonNegativeLength = Field(0.0, description="lead that the part at its end already has")
    serve_out_mm: NonNegativeLength = Field(
        0.0, description="how far its part comes out of the chassis with its joints intact"
    )
    strain_relief: Literal["glue", "own", "none"] | None = Field(
        None, description='"glue": a glue land is cut beside each joint; "own": you see to it; "none": none'
    )
    in_line: tuple[InLineTable, ...] = Field((), max_length=6, description="bodies in the wire")


class NetTable(Conductor):
    """[[net]]: terminals that are joined, and how."""

    name: Name = Field(description="such as ground")
    terminals: tuple[Name, ...] = Field(min_length=2, max_length=60, description="section.terminal each")
    star: Name | None = Field(
        None, description="the terminal that all wires go to; default the tree of least wire"
    )


class TerminalTable(FileModel):
    """[[terminal]]: a place of the maker's own where wires are joined."""

    name: Name = Field(description="wires call it section.name")
    section: Name = Field(description="section that it lies in")
    kind: Literal["tube", "splice", "connector"] = Field(
        description="a contact on the tube's wall, a splice, or a connector that is parked"
    )
    offset: Length | None = Field(None, description="from the section's near end; default its middle")
    clock_deg: Angle = Field(90.0, description="clock at which it lies")
    diameter: PositiveLength | None = Field(None, description="over its sleeve; default from the table")
    length: PositiveLength | None = Field(None, description="along the axis; default from the table")
    connector: ConnectorTable | None = Field(None, description="pitch and ways, of a connector")


class WiringTable(FileModel):
    """[wiring]: what holds for all wires."""

    keep_apart: NonNegativeLength | None = Field(
        None, description="least distance of data and sound from power and light; default from the table"
    )
