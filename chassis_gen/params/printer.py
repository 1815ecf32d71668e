"""The model of a printer file: bed, nozzle, own fit classes, and how prints differ from what is drawn.

A behaviour says ``printed = scale x drawn + offset`` for one kind of dimension. Its figures come from
readings of a gauge print; the scale holds the shrink of the calibrated material, which is never a term of
its own.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Literal, get_args

from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import PositiveLength, quantity
from chassis_gen.params.reading import FileModel

BehaviourKind = Literal["inner", "outer", "z", "standing_hole", "lying_hole"]
BEHAVIOUR_KINDS: tuple[BehaviourKind, ...] = get_args(BehaviourKind)

SmallLength = Annotated[float, quantity("mm", -2, 2)]
Spread = Annotated[float, quantity("mm", 0, 1)]


class FitRow(FileModel):
    """[fits] row of a printer file: a fit class of one's own figures, per side, as printed."""

    clearance: SmallLength
    low: SmallLength
    high: SmallLength


class BehaviourTable(FileModel):
    """[behaviour.<kind>]: printed = scale x drawn + offset, measured."""

    scale: float = Field(ge=0.9, le=1.1, description="printed size per drawn size, shrink included")
    offset: SmallLength = Field(description="added to every printed dimension, whole dimension")
    scale_sd: float = Field(0.0, ge=0.0, le=0.1, description="standard deviation of scale")
    offset_sd: Spread = Field(0.0, description="standard deviation of offset")
    residual_sd: Spread = Field(description="standard deviation of one printed dimension about the line")
    date: datetime.date = Field(description="when the readings were taken")
    readings: int = Field(ge=1, le=100_000, description="number of readings behind the figures")


class BehaviourTables(FileModel):
    """[behaviour]: one table per kind of dimension that was measured."""

    inner: BehaviourTable | None = Field(None, description="bores, pockets and slots")
    outer: BehaviourTable | None = Field(None, description="outside dimensions")
    z: BehaviourTable | None = Field(None, description="heights as printed")
    standing_hole: BehaviourTable | None = Field(
        None, description="round holes whose axis stands up in the print"
    )
    lying_hole: BehaviourTable | None = Field(
        None, description="round holes whose axis lies flat in the print"
    )

    @model_validator(mode="after")
    def _both_contours(self) -> BehaviourTables:
        for one, other in (("inner", "outer"), ("outer", "inner")):
            if getattr(self, one) is not None and getattr(self, other) is None:
                message = f"[behaviour.{one}] stands without [behaviour.{other}]"
                raise rejected(Rejection("not-allowed", message, "both of them, or neither"))
        return self


class AllowanceTable(FileModel):
    """[allowance]: what an uncalibrated printer is taken to do, as test fits showed it; whole dimension."""

    inner: SmallLength | None = Field(default=None, description="added to bores, pockets, slots and holes")
    outer: SmallLength | None = Field(default=None, description="taken off outside dimensions")


class PrinterFile(FileModel):
    """A file in profiles/printers."""

    title: str = ""
    nozzle: Annotated[float, quantity("mm", 0.1, 2)] = Field(0.4, description="nozzle diameter")
    layer: Annotated[float, quantity("mm", 0.02, 1)] = Field(0.2, description="layer height")
    bed: tuple[PositiveLength, PositiveLength, PositiveLength] = Field(
        (220.0, 220.0, 220.0), description="x, y, z"
    )
    material: str | None = Field(None, description="the material that the behaviours were measured with")
    flow: float = Field(1.0, ge=0.5, le=1.5, description="flow factor that this material is printed with")
    smallest_wall: Annotated[float, quantity("mm", 0.1, 5)] | None = Field(
        None, description="thinnest wall that this printer prints"
    )
    first_layer_flare: SmallLength | None = Field(
        None, description="how much wider the first layer prints, whole dimension"
    )
    compensates: Literal["model", "slicer"] = Field(
        "model",
        description="who makes up for the behaviours: the model's dimensions or the slicer's settings",
    )
    behaviour: BehaviourTables = Field(
        default_factory=lambda: BehaviourTables.model_validate({}), description="what was measured"
    )
    allowance: AllowanceTable = Field(
        default_factory=AllowanceTable, description="in place of the usual allowance, until it is calibrated"
    )
    fits: dict[str, FitRow] = Field(default_factory=dict, description="fit classes of one's own")

    @property
    def calibrated(self) -> bool:
        """Return whether inner and outer dimensions were measured on this printer."""
        return self.behaviour.inner is not None and self.behaviour.outer is not None
