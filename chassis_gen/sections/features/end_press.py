"""End press: a room for a compression spring or a foam pad that presses the chassis against the tube's stop.

Origin and axes: a frame on the section's outer end face, +z pointing out of the chassis.

       _______ _______  outer face, z = 0
      |      |#|      |    # spring or pad, closed; it stands out by the gap to the stop
      |      |#|      |
      |______|_|______|  seat's floor, z = -seat_depth
"""

from __future__ import annotations

import math
from typing import Annotated

from msgspec import Struct
from pydantic import BaseModel, ConfigDict, Field, model_validator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import PositiveLength
from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import Fit, PlacedPart, Play
from chassis_gen.plan.sums import FIT_CLEARANCE, PART_SIZE, Dimension, Term
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.fit_names import known_fit
from chassis_gen.sections.features.seat import across, seat_fit
from chassis_gen.shapes.frame import Frame, negated, shifted
from chassis_gen.shapes.primitives import Cylinder

STEEL_G_MM3 = 7.85e-3
"""Density of spring steel, g/mm3 (published material tables)."""
CLASH_SHARE = 0.15
"""Share of a spring's travel that is kept free before it is solid: common practice in spring design, no standard."""
LEAST_SEAT = 1.0
"""Least depth of a seat that keeps spring or pad in its place, mm: common practice, no source."""
_SOURCE = "parameter file or its default"


class SpringTable(BaseModel):
    """A compression spring with closed, ground ends."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    outer_diameter: Annotated[PositiveLength, Field(description="outside diameter, unloaded")]
    wire_diameter: Annotated[PositiveLength, Field(description="diameter of its wire")]
    free_length: Annotated[PositiveLength, Field(description="length, unloaded")]
    solid_length: Annotated[PositiveLength, Field(description="length with all coils touching")]
    preload_length: PositiveLength | None = Field(
        default=None, description="length when the tube is closed; left out: halfway from free to solid"
    )
    rate_n_per_mm: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        default=None, description="spring rate, N/mm, for the force that is shown"
    )
    fit: str = Field(default="free", max_length=40, description="fit class of the seat round it")

    @model_validator(mode="after")
    def _a_spring(self) -> SpringTable:
        if self.outer_diameter <= 2 * self.wire_diameter:
            why = f"a wire of {self.wire_diameter:g} mm leaves no bore in a spring of {self.outer_diameter:g} mm"
            allowed = f"below {self.outer_diameter / 2:g}"
            raise rejected(Rejection("not-allowed", why, allowed, at=("wire_diameter",)))
        if self.solid_length >= self.free_length:
            why = f"unloaded, the spring has {self.free_length:g} mm; solid it can't have {self.solid_length:g} mm"
            allowed = f"below {self.free_length:g}"
            raise rejected(Rejection("not-allowed", why, allowed, at=("solid_length",)))
        if self.solid_length < 3 * self.wire_diameter:
            why = f"solid, it has {self.solid_length / self.wire_diameter:.1f} coils, two of them closed ends"
            allowed = f"at least {3 * self.wire_diameter:g}, three coils"
            raise rejected(Rejection("not-allowed", why, allowed, at=("solid_length",)))
        return self

    @property
    def closed_length(self) -> float:
        """Return its length when the tube is closed, mm."""
        return self.preload_length or (self.free_length + self.solid_length) / 2

    @property
    def coils(self) -> float:
        """Return the number of coils, closed ends included."""
        return self.solid_length / self.wire_diameter


class FoamTable(BaseModel):
    """A round foam pad."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    diameter: Annotated[PositiveLength, Field(description="of the pad")]
    thickness: Annotated[PositiveLength, Field(description="of the pad, unloaded")]
    compression: Annotated[float, Field(ge=0.05, le=0.8)] = Field(
        default=0.25, description="share of its thickness that it gives when the tube is closed"
    )
    fit: str = Field(default="free", max_length=40, description="fit class of the seat round it")

    @property
    def closed_length(self) -> float:
        """Return its thickness when the tube is closed, mm."""
        return self.thickness * (1 - self.compression)


class EndPress(Struct, frozen=True):
    """A planned room, mm.

    Args:
        key: ``spring`` or ``foam``, the table it comes from.
        table: that table.
        seat_diameter: labelled sum.
        seat_depth: labelled sum, from the outer face to the seat's floor.
        clearance: expected play across, per side, in the model.
        part: spring or pad as it is when closed.
    """

    key: str
    table: SpringTable | FoamTable
    seat_diameter: Dimension
    seat_depth: Dimension
    clearance: float
    part: Part


def spring_growth(spring: SpringTable) -> float:
    """Return how much a spring's outside diameter grows until its coils touch, mm.

    The wire of one coil keeps its length while its pitch goes down to the wire's diameter (geometry of a
    helix); pitch of closed, ground ends: free length = pitch x active coils + 2 wire diameters.

    Args:
        spring: the spring.
    """
    d, mean = spring.wire_diameter, spring.outer_diameter - spring.wire_diameter
    pitch = (spring.free_length - 2 * d) / (spring.coils - 2)
    return math.sqrt(mean**2 + max(0.0, pitch**2 - d**2) / math.pi**2) - mean


def plan_press(fitter: Fitter, section: str, table: SpringTable | FoamTable, stop_gap: float) -> EndPress:
    """Return the room for a spring or a pad.

    Args:
        fitter: makes labelled sums.
        section: name of the section, stem of the dimension names.
        table: the keys.
        stop_gap: from the outer face to the stop when the tube is closed, mm.

    Raises:
        InputError: there is no such fit class.
    """
    clearance = fitter.classes[known_fit(fitter, table.fit)]
    if isinstance(table, SpringTable):
        key, words, wide = "spring", "compression spring", table.outer_diameter
        sizes: tuple[Term, ...] = (
            Term(PART_SIZE, wide, f"spring, outside diameter: {_SOURCE}"),
            Term(
                PART_SIZE, spring_growth(table), "growth until its coils touch: helix of the same wire length"
            ),
        )
        wire = math.pi / 4 * table.wire_diameter**2 * math.pi * (wide - table.wire_diameter) * table.coils
        mass = wire * STEEL_G_MM3
    else:
        key, words, wide, mass = "foam", "foam pad", table.diameter, 0.0
        sizes = (Term(PART_SIZE, wide, f"foam pad, diameter: {_SOURCE}"),)
    gap = Term(
        FIT_CLEARANCE,
        2 * clearance.clearance,
        f"{table.fit}, {clearance.clearance:g} per side: {clearance.source}",
    )
    diameter = fitter.printed_sum(
        f"{section}.{key}_seat_diameter",
        (*sizes, gap),
        fitter.printer.inner,
        f"bore round the {words}",
        coats=2,
    )
    depth = fitter.summed(
        f"{section}.{key}_seat_depth",
        (
            Term(f"{key} when closed", table.closed_length, _SOURCE),
            Term("gap to the stop", -stop_gap, f"from the outer face to the tube's stop: {_SOURCE}"),
        ),
        f"depth of the bore for the {words}",
    )
    widest = diameter.term(PART_SIZE)
    part = Part(
        name=words,
        kind=key,
        title=f"{words}, as it is when the tube is closed",
        sizes={"diameter": Measure(widest), "length": Measure(table.closed_length)},
        mass_g=mass,
        envelope=(Cylinder(widest / 2, 0.0, table.closed_length),),
        source="the build's own figures",
    )
    return EndPress(key, table, diameter, depth, (diameter.total - widest) / 2, part)


def placed_press(press: EndPress, out: Frame, ctx: SectionContext) -> PlacedPart:
    """Return spring or pad in its seat, closed.

    Args:
        press: the room.
        out: frame on the outer face, +z outward.
        ctx: of the section.
    """
    frame = out @ shifted(0.0, 0.0, -press.seat_depth.total)
    back = negated(frame.z_axis)
    plays = (*(Play(d, press.clearance) for d in across(frame)), Play(frame.z_axis, None), Play(back, 0.0))
    return PlacedPart(f"{ctx.name}.{press.key}", press.part, frame, ctx.name, ctx.piece, back, plays)


def press_fit(press: EndPress, placed: PlacedPart, ctx: SectionContext) -> Fit:
    """Return the fit of spring or pad in its seat.

    Args:
        press: the room.
        placed: the part in it.
        ctx: of the section.
    """
    return seat_fit(ctx.setting.fitter, press.seat_diameter, placed, press.table.fit, placed.frame.x_axis)


def press_facts(press: EndPress) -> dict[str, float]:
    """Return what the maker wants to see of the preload: lengths in mm, force in N.

    Args:
        press: the room.
    """
    table = press.table
    if isinstance(table, FoamTable):
        return {
            "foam_closed_mm": table.closed_length,
            "foam_squeeze_mm": table.thickness - table.closed_length,
        }
    preload = table.free_length - table.closed_length
    facts = {
        "spring_closed_mm": table.closed_length,
        "spring_preload_mm": preload,
        "spring_travel_left_mm": table.closed_length - table.solid_length,
    }
    return facts | ({"spring_force_n": preload * table.rate_n_per_mm} if table.rate_n_per_mm else {})


def press_findings(press: EndPress, where: str) -> tuple[Finding, ...]:
    """Return what can't work about a spring's or pad's lengths.

    Args:
        press: the room.
        where: the section's name.
    """
    table, found = press.table, []
    if isinstance(table, SpringTable):
        found += _lengths(table, where)
    if press.seat_depth.total < LEAST_SEAT and not found:
        text = (
            f"closed, the {press.part.name} is {table.closed_length:.2f} mm long and its seat "
            f"{press.seat_depth.total:.2f} mm deep; {LEAST_SEAT:g} mm are wanted to keep it in its place"
        )
        numbers = {"seat_depth": press.seat_depth.total, "least": LEAST_SEAT}
        closer = math.floor(10 * (table.closed_length - LEAST_SEAT)) / 10
        candidates = (Remedy("stop_gap", closer, f"{closer:g} mm to the stop"),) if closer >= 0 else ()
        found.append(
            Finding("error", "seat-shallow", where, text, numbers, candidates=candidates, blocks_solids=True)
        )
    return tuple(found)


def _lengths(spring: SpringTable, where: str) -> list[Finding]:
    closed, solid, free = spring.closed_length, spring.solid_length, spring.free_length
    numbers = {"closed": closed, "solid": solid, "free": free}
    least = math.ceil(10 * (solid + CLASH_SHARE * (free - solid))) / 10
    remedy = Remedy("spring.preload_length", least, f"{least:g} mm when closed")
    if closed <= solid:
        text = f"closed, the spring is to be {closed:.2f} mm long; its coils touch at {solid:.2f} mm"
        return [
            Finding("error", "spring-solid", where, text, numbers, candidates=(remedy,), blocks_solids=True)
        ]
    if closed >= free:
        text = f"closed, the spring has {closed:.2f} mm; unloaded it is {free:.2f} mm long and presses on nothing"
        half = round((free + solid) / 2, 2)
        halfway = Remedy("spring.preload_length", half, f"{half:g} mm when closed")
        return [Finding("error", "spring-slack", where, text, numbers, candidates=(halfway,))]
    if closed < solid + CLASH_SHARE * (free - solid) - 1e-9:
        text = (
            f"closed, the spring is {closed - solid:.2f} mm from solid; "
            f"{CLASH_SHARE * (free - solid):.2f} mm of its travel are kept free as a rule"
        )
        return [Finding("warning", "spring-solid", where, text, numbers, candidates=(remedy,))]
    return []
