"""The model of [[lettering]]: text that is engraved into the chassis or stands raised in a sunk panel."""

from __future__ import annotations

import unicodedata
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import Angle, Length, NonNegativeLength, quantity
from chassis_gen.params.reading import FileModel

Face = Literal["outside", "flat", "near", "far"]
Direction = Literal["along", "along_back", "round", "round_back"]
_JOINERS = "\u200c\u200d"
"""Zero width non-joiner and joiner: the only unseen characters that shape letters."""


class LetteringTable(FileModel):
    """[[lettering]]: one line of text."""

    text: Annotated[str, Field(min_length=1, max_length=80)] = Field(description="one line, in any script")
    section: Annotated[str, Field(min_length=1, max_length=60)] = Field(
        description="section that it stands on"
    )
    on: Annotated[str, Field(min_length=1, max_length=60)] | None = Field(
        None, description="a lid, cap or carrier of that section; left out: the section itself"
    )
    face: Face = Field(
        "outside",
        description='"outside": wrapped on the outer surface; "flat": the printing flat; "near", "far": an end face',
    )
    style: Literal["engraved", "raised"] = Field(
        "engraved", description='"raised" letters stand in a sunk panel, their tops under the outer surface'
    )
    font: Annotated[str, Field(min_length=5, max_length=80)] | None = Field(
        None, description="TrueType or OpenType file in the build's folder; left out: a bold free font"
    )
    size: Annotated[float, quantity("mm", 1, 100)] = Field(6.0, description="height of a capital H")
    depth: Annotated[float, quantity("mm", 0.1, 5)] = Field(
        0.6, description="how deep letters are engraved, or how high they stand over their panel"
    )
    clock_deg: Angle | None = Field(
        None, description="clock of the anchor; on an end face, where its top points; left out: the section's"
    )
    offset: NonNegativeLength | None = Field(
        None, description="station of the anchor from the near end; left out: the middle"
    )
    from_axis: Length = Field(
        0.0, description="on an end face: the anchor's distance from the axis to its clock"
    )
    direction: Direction | None = Field(
        None,
        description='"along" reads going in, "along_back" toward the mouth; "round" has its top farther in, '
        '"round_back" nearer the mouth; left out: along',
    )
    align: Literal["centre", "start"] = Field("centre", description="which point of the text is the anchor")
    margin: Annotated[float, quantity("mm", 0.2, 20)] = Field(
        1.0, description="of a raised text's panel round the letters"
    )
    mirrored: bool = Field(False, description="true for a stamp")
    keep_place: bool = Field(
        False,
        description="true keeps wire lanes and galleries off its place; else the text yields to the wires",
    )

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        faults = []
        unseen = [c for c in self.text if unicodedata.category(c)[0] == "C" and c not in _JOINERS]
        if unseen:
            why = f"the text holds the control character U+{ord(unseen[0]):04X}"
            faults.append(Rejection("not-allowed", why, "one line of letters and spaces", at=("text",)))
        elif not self.text.strip():
            faults.append(Rejection("not-allowed", "the text is all spaces", "letters", at=("text",)))
        round_face = self.face in ("outside", "flat")
        if self.direction is not None and not round_face:
            why = "an end face has no direction along or round"
            faults.append(Rejection("not-allowed", why, "clock_deg, where the top points", at=("direction",)))
        if self.offset is not None and not round_face:
            why = "an end face lies at one station"
            faults.append(Rejection("not-allowed", why, "from_axis", at=("offset",)))
        if self.from_axis and round_face:
            why = "only a text on an end face stands off the axis"
            faults.append(Rejection("not-allowed", why, 'face = "near" or "far"', at=("from_axis",)))
        if self.face == "flat" and self.clock_deg is not None:
            why = "the printing flat has its own clock"
            faults.append(Rejection("not-allowed", why, "[bearing] flat_clock_deg", at=("clock_deg",)))
        if self.keep_place and (self.on is not None or self.face == "flat"):
            what = "the printing flat" if self.on is None else "a lid, cap or carrier"
            why = f"no lane runs in {what}: there is no place to keep"
            faults.append(Rejection("not-allowed", why, "leave it out", at=("keep_place",)))
        if faults:
            raise rejected(*faults)
        return self
