"""Small models that stand for any parameter file."""

from __future__ import annotations

import enum
from typing import Annotated, Literal

from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import Angle, Current, Length, PositiveLength
from chassis_gen.params.reading import FileModel


class Colour(enum.Enum):
    RED = "red"
    BLACK = "black"


class Bore(FileModel):
    from_mouth: Length
    diameter: PositiveLength


class Tube(FileModel):
    wall: PositiveLength = 1.5
    bores: tuple[Bore, ...] = Field(default=(), max_length=3)
    corner: tuple[Length, Length] = (0.0, 0.0)


class Cup(FileModel):
    kind: Literal["cup"]
    name: str = Field(default="", max_length=12)
    part: str
    clock_deg: Angle = 90.0
    ports: int = Field(default=4, ge=1, le=8)
    sealed: bool = False


class Bay(FileModel):
    kind: Literal["bay"]
    name: str = ""
    length: PositiveLength | Literal["fill"] = "fill"
    rest: Bore | PositiveLength | None = None


class Wire(FileModel):
    start: str = Field(alias="from")
    current_a: Current | None = None
    gain: float = Field(default=1.0, gt=0)
    end: Literal["bare", "tinned"] = "bare"


Section = Annotated[Cup | Bay, Field(discriminator="kind")]


class Build(FileModel):
    title: str
    tube: Tube = Tube()
    section: tuple[Section, ...] = ()
    wire: tuple[Wire, ...] = ()
    limits: dict[str, PositiveLength] = {}

    @model_validator(mode="after")
    def _names_once(self) -> Build:
        seen: list[str] = []
        again: list[Rejection] = []
        for i, section in enumerate(self.section):
            if section.name and section.name in seen:
                again.append(
                    Rejection(
                        "duplicate-name", "the name is taken", "another name", at=("section", i, "name")
                    )
                )
            seen.append(section.name)
        if again:
            raise rejected(*again)
        return self
