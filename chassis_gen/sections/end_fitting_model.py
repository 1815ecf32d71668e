"""What the maker asks of an end fitting, and what its plan decides."""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Struct
from pydantic import Field, model_validator

from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import NonNegativeLength, PositiveLength, quantity
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionParams
from chassis_gen.sections.features.end_press import EndPress, FoamTable, SpringTable
from chassis_gen.sections.features.hole_circles import HoleCircle, Site
from chassis_gen.sections.features.lanyard_bar import LanyardBar, LanyardTable
from chassis_gen.sections.features.spigot import Spigot, SpigotTable
from chassis_gen.shapes.frame import Frame

POCKET = "lanyard's pocket"


class EndFittingParams(SectionParams):
    """Keys of an end fitting."""

    kind: Literal["end_fitting"] = "end_fitting"
    bearing: bool = Field(True, description="bear on the bore over the section's whole length")
    end: Literal["near", "far"] = Field(
        "far", description="end of the chassis that it closes: near the mouth, or the far one"
    )
    thickness: Annotated[float, quantity("mm", 0.8, 200)] | None = Field(
        None, description="thickness of the plate; by default 4 mm or what holes and rooms need"
    )
    floor: Annotated[float, quantity("mm", 0.8, 50)] = Field(
        2.4, description="material kept behind a spring, a pad or a lanyard's pocket"
    )
    stop_gap: NonNegativeLength = Field(
        1.0, description="from the outer face to what spring or pad presses against, when the tube is closed"
    )
    spring: SpringTable | None = Field(None, description="room for a compression spring in the outer face")
    foam: FoamTable | None = Field(None, description="room for a foam pad in the outer face")
    lanyard: LanyardTable | None = Field(
        None, description="bar across a pocket in the outer face, for a cord"
    )
    window_diameter: PositiveLength | None = Field(
        None, description="round window right through the middle, for light or sound"
    )
    spigot: SpigotTable | None = Field(None, description="narrower boss that enters a smaller bore")
    holes: tuple[HoleCircle, ...] = Field(
        (), max_length=6, description="circles of holes through the plate, round the spigot; none by default"
    )

    @model_validator(mode="after")
    def _one_thing_in_the_middle(self) -> EndFittingParams:
        given = [k for k in ("spring", "foam", "lanyard") if getattr(self, k) is not None]
        if len(given) > 1:
            why = f"{' and '.join(given)} stand in the same place, the middle of the outer face"
            allowed = "one of spring, foam and lanyard; a second fitting at the other end"
            raise rejected(Rejection("not-allowed", why, allowed, at=(given[1],)))
        if self.window_diameter is not None and self.press is not None:
            why = f"{given[0]} closes the window: both stand in the middle"
            raise rejected(Rejection("not-allowed", why, "one of them", at=("window_diameter",)))
        return self

    @property
    def way_through(self) -> float:
        """Return the diameter of the window through the middle, mm; 0 for none."""
        return self.window_diameter or 0.0

    @property
    def press(self) -> SpringTable | FoamTable | None:
        """Return what presses the chassis against the tube's stop, if anything."""
        return self.spring or self.foam


class EndFittingPlan(Struct, frozen=True):
    """What an end fitting decides.

    Args:
        length: of the section.
        thickness: of the plate.
        press: room for a spring or a pad.
        bar: bar for a lanyard.
        window: diameter of the window through the middle.
        spigot: boss.
        sites: holes.
        out: frame on the outer face, +z pointing out of the chassis.
    """

    length: Dimension
    thickness: Dimension
    press: EndPress | None
    bar: LanyardBar | None
    window: Dimension | None
    spigot: Spigot | None
    sites: tuple[Site, ...]
    out: Frame

    @property
    def beside(self) -> LanyardBar | None:
        """Return the bar where its pocket stands beside the middle."""
        return self.bar if self.bar and self.bar.beside_middle else None

    @property
    def core(self) -> tuple[float, str] | None:
        """Return the radius that the room in the middle takes, mm, and what it is."""
        if self.press:
            return self.press.seat_diameter.total / 2, f"{self.press.key}'s seat"
        if self.bar and not self.beside:
            return self.bar.reach, POCKET
        return (self.window.total / 2, "window") if self.window else None

    @property
    def reach(self) -> tuple[float, str] | None:
        """Return how far rooms in the outer face reach from the axis, mm, and which of them does."""
        return (self.beside.reach, POCKET) if self.beside else self.core
