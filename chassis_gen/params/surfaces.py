"""The model of [[surface]]: patterns that are cut into the chassis's outer surface."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import Angle, NonNegativeLength, quantity
from chassis_gen.params.reading import FileModel

PatternName = Literal["ribs", "flutes", "knurl", "hexagons", "slots", "outline"]
Pitch = Annotated[float, quantity("mm", 1, 100)]
Width = Annotated[float, quantity("mm", 0.4, 100)]


class SurfaceTable(FileModel):
    """[[surface]]: one pattern over a part of the outer surface."""

    name: Annotated[str, Field(min_length=1, max_length=40)] = Field(
        "pattern", description="for messages and the report"
    )
    pattern: PatternName = Field(description="what is cut")
    sections: tuple[str, ...] = Field((), max_length=60, description="where; left out: on all sections")
    stations: tuple[NonNegativeLength, NonNegativeLength] | None = Field(
        None, description="from and to along the axis; left out: each section's whole length"
    )
    clocks_deg: tuple[Angle, Angle] | None = Field(
        None, description="from and to round the axis, the way clocks grow; left out: all round"
    )
    pitch: Pitch | None = Field(None, description="distance of the cells, middle to middle")
    width: Width | None = Field(
        None, description="width of what is cut; of an outline its size across, left out as it was drawn"
    )
    length: Width | None = Field(None, description="length of a slot along the axis")
    depth: Annotated[float, quantity("mm", 0.2, 5)] | None = Field(None, description="how deep it is cut")
    through: bool = Field(
        False, description="true cuts hexagons or slots right through the rails of hollow sections"
    )
    svg: Annotated[str, Field(min_length=5, max_length=80)] | None = Field(
        None, description="SVG file in the build's folder, for an outline"
    )
    turn_deg: Angle = Field(0.0, description="an outline's turn against the clock, seen from outside")

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        faults = []
        if (self.pattern == "outline") != (self.svg is not None):
            why = (
                "an outline needs its file"
                if self.svg is None
                else f'the pattern "{self.pattern}" takes no file'
            )
            at = ("pattern",) if self.svg is None else ("svg",)
            faults.append(Rejection("not-allowed", why, 'pattern = "outline" with svg = "FILE.svg"', at=at))
        if self.length is not None and self.pattern != "slots":
            why = f'the pattern "{self.pattern}" takes no length'
            faults.append(Rejection("not-allowed", why, 'a length with pattern = "slots"', at=("length",)))
        if self.through and self.pattern not in ("hexagons", "slots"):
            why = f'the pattern "{self.pattern}" is not cut through'
            allowed = 'windows with pattern = "hexagons" or "slots"'
            faults.append(Rejection("not-allowed", why, allowed, at=("through",)))
        if self.through and self.depth is not None:
            why = "a window is as deep as the wall that it goes through"
            faults.append(Rejection("not-allowed", why, "depth or through", at=("depth",)))
        if self.turn_deg and self.pattern != "outline":
            why = f'the pattern "{self.pattern}" can\'t be turned'
            faults.append(Rejection("not-allowed", why, 'a turn with pattern = "outline"', at=("turn_deg",)))
        if self.stations is not None and self.stations[1] <= self.stations[0]:
            why = f"the stations run from {self.stations[0]:g} to {self.stations[1]:g}"
            faults.append(
                Rejection("not-allowed", why, "a second station beyond the first", at=("stations",))
            )
        if self.clocks_deg is not None and self.clocks_deg[0] == self.clocks_deg[1]:
            why = "both clocks are the same"
            faults.append(
                Rejection(
                    "not-allowed", why, "two clocks, or no clocks_deg for all round", at=("clocks_deg",)
                )
            )
        if faults:
            raise rejected(*faults)
        return self
