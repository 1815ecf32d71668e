"""The contract of a section kind: frozen parameters, a plan made of numbers, a recipe made of primitives.

A section kind is one module in this package with a module-level `KIND`, an instance of a subclass of
`SectionKind`; it is found by `chassis_gen.sections.registry`. A section knows nothing of other sections,
of files or of the command line. All geometry stands in the tube's coordinates: +z is the station, counted
from the mouth going in; clock angles count from +x toward +y, 90 is the top. A section's own top is turned
to its `clock_deg`; `SectionContext.top` is the frame for that.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from msgspec import Struct
from msgspec.structs import replace
from pydantic import Field

from chassis_gen.findings import Remedy
from chassis_gen.params.quantities import Angle, NonNegativeLength
from chassis_gen.params.reading import FileModel
from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, Outer, SectionPlan
from chassis_gen.plan.sums import Dimension
from chassis_gen.records import field_names
from chassis_gen.shapes.frame import Frame, topped
from chassis_gen.shapes.primitives import Cylinder, Primitive
from chassis_gen.shapes.recipe import Step, add

if TYPE_CHECKING:
    from chassis_gen.plan.tube import Bore


class SectionParams(FileModel):
    """Keys that every section has."""

    kind: str
    name: str = Field(min_length=1, max_length=60, description="the section's own name, unique in the build")
    clock_deg: Angle = Field(90.0, description="clock angle of the section's top")
    piece: str = Field("chassis", min_length=1, max_length=40, description="the printed piece it belongs to")
    at_opening: str | None = Field(None, description="tube opening that pins the section's station and clock")
    station: NonNegativeLength | None = Field(None, description="pins the section's near end at this station")
    beside: str | None = Field(None, description="stand beside the section of this name, at its stations")
    bearing: bool = Field(False, description="bear on the bore over the section's whole length")
    lanes: Literal["open", "closed"] = Field(
        "open", description="open grooves or closed tunnels for wires here"
    )

    @property
    def way_through(self) -> float:
        """Return the diameter of the way right through the section's middle, mm; 0 where it is closed."""
        return 0.0

    def wider(self) -> tuple[Remedy, ...]:
        """Return what leaves the section a wider outside: it bears on the bore all along, or no section is relieved."""
        return (*self._bears(), Remedy("bearing.relief", 0.0, "no relief between the bearing bands"))

    def roomier(self) -> tuple[Remedy, ...]:
        """Return changes of own keys that leave wires more room here, the likeliest first; each will be tried."""
        return self._bears()

    def _bears(self) -> tuple[Remedy, ...]:
        return (
            () if self.bearing else (Remedy("bearing", True, f'"{self.name}" bears on the bore all along'),)
        )


class Opening(Struct, frozen=True):
    """A hole through the tube's wall: name, station and clock of its axis, diameter (mm, degrees)."""

    name: str
    station: float
    clock_deg: float
    diameter: float


class Material(Struct, frozen=True):
    """What the chassis is printed of: name, density (g/cm3), strain limit of a snap (fraction)."""

    name: str
    density_g_cm3: float
    snap_strain_limit: float
    across_layers: float


class Rules(Struct, frozen=True):
    """Limits of printing, mm.

    Args:
        nozzle: nozzle diameter.
        layer: layer height.
        least_wall: two nozzle widths.
        wall: the wall that a section draws where nothing else decides.
    """

    nozzle: float
    layer: float
    least_wall: float
    wall: float


class Setting(Struct, frozen=True):
    """What a section may know before its station is known.

    Args:
        fitter: makes labelled sums.
        find_part: part by name, overrides applied; raises InputError on an unknown name.
        rules: limits of printing.
        material: printed material.
        openings: the tube's openings by name.
        smallest_bore: the smallest bore of the tube, mm.
        print_lying: True when the chassis is printed lying on its flat, False when standing on an end.
    """

    fitter: Fitter
    find_part: Callable[[str], Part]
    rules: Rules
    material: Material
    openings: Mapping[str, Opening]
    smallest_bore: float
    print_lying: bool = True


_SLIVER = 1e-3
_PAST = 0.5


class SectionContext(Struct, frozen=True):
    """What a section may know when it is planned.

    Args:
        setting: see `Setting`.
        name: the section's name.
        piece: its piece.
        z0: near end, mm.
        z1: far end, mm.
        outer: the chassis's outer surface.
        bore_radius: radius of the tube's bore round this section, mm.
        tube_outer_radius: outside radius of the tube here, mm.
        opening: the tube opening that pins the section, if any.
        clock_deg: clock angle of the section's top, that of its opening where it has one.
        first: True for the section nearest the mouth.
        last: True for the deepest section.
        joined_near: True when the section before belongs to the same piece.
        joined_far: True when the section after belongs to the same piece.
        companion: True when the section stands beside another, whose body it is cut into.
        bores: all bores of the tube, in order of stations.
        window_near: diameter of the way through the middle of all that stands toward the mouth, mm; None where
            nothing does.
        window_far: likewise toward the far end.
        window_keys_near: the keys of the windows of what stands toward the mouth.
        window_keys_far: likewise toward the far end.
    """

    setting: Setting
    name: str
    piece: str
    z0: float
    z1: float
    outer: Outer
    bore_radius: float
    tube_outer_radius: float
    opening: Opening | None
    clock_deg: float
    first: bool
    last: bool
    joined_near: bool
    joined_far: bool
    companion: bool = False
    bores: tuple[Bore, ...] = ()
    window_near: float | None = None
    window_far: float | None = None
    window_keys_near: tuple[str, ...] = ()
    window_keys_far: tuple[str, ...] = ()

    @property
    def top(self) -> Frame:
        """Return the frame whose +y points to the section's clock, at the section's near end."""
        return topped(self.clock_deg, self.z0)

    @property
    def radius(self) -> float:
        """Return the smallest outer radius over the section, mm."""
        return self.outer.smallest_radius(self.z0, self.z1)

    @property
    def wall_angle(self) -> float:
        """Return what the least wall takes of the smallest outer radius, degrees."""
        return math.degrees(self.setting.rules.least_wall / self.radius)

    @property
    def length(self) -> float:
        """Return the section's length, mm."""
        return self.z1 - self.z0

    def body(self, z0: float | None = None, z1: float | None = None) -> tuple[Cylinder, ...]:
        """Return bars that fill the chassis's outer surface between two stations (default: the section).

        The far end reaches into the next section by the overlap where both belong to one piece.
        """
        low = self.z0 if z0 is None else z0
        high = self.z1 if z1 is None else z1
        end = high + (OVERLAP if self.joined_far and abs(high - self.z1) < 1e-9 else 0.0)
        bars = []
        steps = self.outer.over(low, high)
        for i, s in enumerate(steps):
            before = steps[i - 1].radius if i else 0.0
            after = steps[i + 1].radius if i + 1 < len(steps) else 0.0
            a = s.z0 - (OVERLAP if i and before > s.radius else 0.0)
            b = s.z1 + (OVERLAP if after >= s.radius else 0.0)
            bars.append(Cylinder(s.radius, a, end if i + 1 == len(steps) else b))
        return tuple(bars)

    def bars_about(self, z0: float, z1: float) -> tuple[Primitive, ...]:
        """Return the bars of which a block between two stations keeps a part, reaching past it at both ends.

        A block's faces then lie in no bar's, and each bar has something of the block: where the outer surface
        steps right beside it, the bar beyond the step has not.
        """
        bars = list(replace(self, joined_far=False).body(z0 + _SLIVER, z1 - _SLIVER))
        bars[0] = replace(bars[0], z0=z0 - _PAST)
        bars[-1] = replace(bars[-1], z1=z1 + _PAST)
        return tuple(bars)

    def shell(self, label: str = "outer body") -> tuple[Step, ...]:
        """Return steps that add the whole section as a solid bar; none for a companion, whose host has it."""
        return () if self.companion else add(label, *self.body())


class SectionKind(ABC):
    """One kind of section.

    What its methods get as `params` was read as its own `Params`, so a kind names that class there.
    """

    kind: ClassVar[str]
    title: ClassVar[str]
    Params: ClassVar[type[SectionParams]]
    may_stand_beside: ClassVar[bool] = False
    """True for a kind that only cuts into a full bar, so that it can share another section's body."""

    @abstractmethod
    def length(self, params: Any, setting: Setting) -> Dimension | None:
        """Return the section's length as a labelled sum named ``<name>.length``, or None to fill the slack."""

    def pin_offset(self, params: Any, setting: Setting) -> float:
        """Return how far from the near end the point lies that `at_opening` pins, mm (default: the middle)."""
        length = self.length(params, setting)
        return length.total / 2 if length else 0.0

    @abstractmethod
    def plan(self, params: Any, ctx: SectionContext) -> SectionPlan:
        """Return what the section decides at its station."""

    @abstractmethod
    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the section's own steps: body first, then cuts; lanes and the flat are cut afterwards."""


def dimensions(plan: SectionPlan) -> tuple[Dimension, ...]:
    """Return the labelled sums of a section, in the order of its detail's fields, nested ones included."""
    return tuple({d.name: d for d in _dimensions_in(plan.detail)}.values())


def _dimensions_in(value: object) -> Iterator[Dimension]:
    if isinstance(value, Dimension):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from _dimensions_in(item)
    elif (names := field_names(value)) and not isinstance(value, _NO_SUMS):
        for name in names:
            yield from _dimensions_in(getattr(value, name))


_NO_SUMS = (Frame, Part, Step)
"""Records of a detail that hold no sums of the section."""
