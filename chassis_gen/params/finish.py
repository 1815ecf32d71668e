"""The model of [finish]: coats on the printed surfaces, where they go, and what is masked off."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import quantity
from chassis_gen.params.reading import FileModel

Thickness = Annotated[float, quantity("mm", 0, 0.5)]


class CoatTable(FileModel):
    """[[finish.coat]]: one coat, such as primer, paint or clear coat."""

    name: Annotated[str, Field(min_length=1, max_length=40)] = Field(description="what it is")
    thickness: Thickness = Field(description="thickness on each surface when it is dry")


class FinishTable(FileModel):
    """[finish]: coats on the fitted surfaces."""

    coating: Thickness = Field(0.0, description="thickness per surface of everything together")
    coat: tuple[CoatTable, ...] = Field(
        (), max_length=8, description="coats one by one, instead of `coating`"
    )
    surfaces: tuple[Literal["outside", "inside"], ...] = Field(
        ("outside", "inside"), min_length=1, max_length=2, description="where the coats go"
    )
    mask: tuple[Annotated[str, Field(min_length=1, max_length=120)], ...] = Field(
        (),
        max_length=60,
        description='what is kept free: "bearing", "seats", "spigots", "holes", a section or a dimension',
    )

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        faults = []
        if self.coating and self.coat:
            why = "a coating stands beside coats that are given one by one"
            faults.append(Rejection("not-allowed", why, "coating or [[finish.coat]]", at=("coating",)))
        names = [c.name for c in self.coat]
        for i, name in enumerate(names):
            if name in names[:i]:
                why = f'two coats are called "{name}"'
                faults.append(Rejection("duplicate-name", why, "a name of its own", at=("coat", i, "name")))
        if faults:
            raise rejected(*faults)
        return self
