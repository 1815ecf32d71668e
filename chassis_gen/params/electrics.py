"""[electrics] and [[state]]: what a build draws in each of its states, and what its cells and sleeves are."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import Current, Power, Resistance, Voltage, quantity
from chassis_gen.params.reading import FileModel

Text = Annotated[str, Field(min_length=1, max_length=120)]
Names = Annotated[tuple[Text, ...], Field(max_length=60)]
Amperes = Annotated[float, quantity("A", 0, 50, positive=True)]
Level = Literal["full", "nominal", "cut-off"]


class DrawTable(FileModel):
    """One entry of a state's draws: one of a current, a power, or a series resistor before a plain LED."""

    current_a: Current | None = Field(None, description="current drawn")
    power_w: Power | None = Field(None, description="power drawn")
    series_ohm: Resistance | None = Field(None, description="an LED that is lit through this resistor")

    @model_validator(mode="after")
    def _one_of_them(self) -> DrawTable:
        given = [n for n in ("current_a", "power_w", "series_ohm") if getattr(self, n) is not None]
        if len(given) != 1:
            raise rejected(
                Rejection(
                    "not-allowed",
                    f"{len(given)} of current_a, power_w and series_ohm are given",
                    "exactly one of them",
                )
            )
        return self


class ChargeTable(FileModel):
    """A state's charge: which part feeds the current in."""

    at: Text = Field(description="part id of the charge jack, or of the cell when it is charged by itself")
    current_a: Amperes = Field(description="charge current")


class StateTable(FileModel):
    """[[state]]: one state of the build: idle, lit, loud, charging, plug in, ..."""

    name: Text = Field(description="what reports call it")
    closed: Names = Field((), description="part ids of the switches whose contacts are closed")
    plug_in: Names = Field((), description="part ids of the jacks that hold a plug; their cut-off is open")
    cell: Level = Field("nominal", description="the cell's charge that currents and drops are shown for")
    draws: dict[str, DrawTable] = Field(
        default_factory=dict,
        description='what is drawn, by part id or terminal pair such as "light.plus / light.minus"',
    )
    charge: ChargeTable | None = Field(None, description="the current that is charged in")


class ElectricsTable(FileModel):
    """[electrics]: what holds in every state."""

    ambient_c: Annotated[float, Field(ge=-40, le=60)] = Field(
        25.0, description="temperature round the tube, C"
    )
    cutoff_v: Voltage | None = Field(None, description="voltage at which one cell counts as empty")
    converter_efficiency: Annotated[float, Field(gt=0, le=1)] | None = Field(
        None, description="of boards' converters, 0 to 1"
    )
    usable_share: Annotated[float, Field(gt=0, le=1)] | None = Field(
        None, description="share of the cells' capacity to count on, 0 to 1"
    )
    charger_v: Voltage | None = Field(
        None, description="end voltage of the regulated charger that feeds the jack; left out: not known"
    )
    balance_leads: bool = Field(False, description="true when each cell of a series string is balanced")
    insulated: Names = Field(
        (), description='bare things under a sleeve or cover: terminals, part ids, screw holes, "tube"'
    )
    part: dict[str, dict[str, Annotated[float, Field(ge=-100, le=1e6)]]] = Field(
        default_factory=dict, description="electrical figures as measured, by part id or catalogue name"
    )
