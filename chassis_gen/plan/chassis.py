"""The whole plan of a build: tube, sections at their stations, wires in lanes, pieces, fits, findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from chassis_gen.findings import Finding
from chassis_gen.plan.electrics import ElectricsAsked
from chassis_gen.plan.model import Fit, Hardware, Outer, PlacedPart, PlacedTerminal, ScrewHole, SectionPlan
from chassis_gen.plan.sums import Dimension
from chassis_gen.plan.tube import Tube
from chassis_gen.sections.base import Material, Rules, SectionContext
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.recipe import Recipe


@dataclass(frozen=True)
class Wire:
    """A wire as the maker asked for it.

    Args:
        id: ``wire 1`` or the maker's name.
        start: terminal id.
        end: terminal id.
        gauge_awg: American wire gauge.
        insulation: ``silicone`` or ``pvc``.
        colour: in words.
        outer_diameter: over the insulation, mm.
        conductor_diameter: solid-equivalent conductor diameter, mm.
        pinned_clock: clock that the maker asks for, degrees, or None.
    """

    id: str
    start: str
    end: str
    gauge_awg: int
    insulation: str
    colour: str
    outer_diameter: float
    conductor_diameter: float
    pinned_clock: float | None = None


@dataclass(frozen=True)
class Leg:
    """One straight or round stretch of a wire's path.

    Args:
        kind: ``drop`` (terminal to lane), ``lane`` (along the axis), ``gallery`` (round the axis).
        section: where it lies.
        start: mm.
        end: mm.
        length: mm, along the path.
    """

    kind: str
    section: str
    start: Vec3
    end: Vec3
    length: float


@dataclass(frozen=True)
class Route:
    """The path of one wire and what to cut for it.

    Args:
        wire: the wire.
        legs: in order from the wire's start.
        length: of the path, mm.
        cut_length: with end allowances, rounded up to 5 mm.
    """

    wire: Wire
    legs: tuple[Leg, ...]
    length: float
    cut_length: float


@dataclass(frozen=True)
class Lane:
    """A wire channel in one section.

    Args:
        id: ``section lane n``.
        section: owner.
        clock_from: degrees.
        clock_to: degrees, more than `clock_from`.
        z0: mm.
        z1: mm.
        bottom_radius: mm.
        outer_radius: the chassis's surface there, mm.
        wires: ids of the wires that lie in it.
        closed: True for a tunnel, False for an open groove.
        fill: share of the lane's cross-section that wire fills.
        fill_limit: largest share allowed.
    """

    id: str
    section: str
    clock_from: float
    clock_to: float
    z0: float
    z1: float
    bottom_radius: float
    outer_radius: float
    wires: tuple[str, ...]
    closed: bool
    fill: float
    fill_limit: float


@dataclass(frozen=True)
class PiecePlan:
    """A printed piece: the ready sections that it is the union of.

    Args:
        name: file-safe name.
        recipes: one per section (or one for a cap or a carrier).
        sections: names of its sections, in order.
        way_in: unit vector along which the piece goes on or in.
        owner: for a cap or a carrier, the section it belongs to.
    """

    name: str
    recipes: tuple[Recipe, ...]
    sections: tuple[str, ...]
    way_in: Vec3 = (0.0, 0.0, 1.0)
    owner: str | None = None


@dataclass(frozen=True)
class ChassisPlan:
    """A build, decided.

    Args:
        build: file-safe name.
        title: for people.
        printer: name of the printer file, or ``uncalibrated``.
        calibrated: True when the printer's figures are measured.
        material: what the pieces are printed of.
        rules: limits of printing.
        tube: what the chassis slides into.
        outer: the chassis's outer surface.
        z0: near end of the chassis, mm.
        z1: far end, mm.
        sections: in order of stations.
        contexts: what each section knew, by section name.
        routes: wires that found a path.
        lanes: wire channels.
        pieces: what is printed.
        fits: all fits, the chassis in the tube included.
        dimensions: all labelled sums by name.
        hardware: fasteners to buy.
        findings: what planning found.
        cautions: topics.
        unrouted: wires with no path.
        compensation: who compensates for the printer (``allowance``, ``model``, ``slicer``), and a sentence.
        electrics: states of the build and what else the maker said of its currents.
    """

    build: str
    title: str
    printer: str
    calibrated: bool
    material: Material
    rules: Rules
    tube: Tube
    outer: Outer
    z0: float
    z1: float
    sections: tuple[SectionPlan, ...]
    contexts: Mapping[str, SectionContext]
    routes: tuple[Route, ...]
    lanes: tuple[Lane, ...]
    pieces: tuple[PiecePlan, ...]
    fits: tuple[Fit, ...]
    dimensions: Mapping[str, Dimension]
    hardware: tuple[Hardware, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    unrouted: tuple[Wire, ...] = field(default=())
    compensation: tuple[str, str] = ("allowance", "")
    electrics: ElectricsAsked = ElectricsAsked()

    @property
    def parts(self) -> tuple[PlacedPart, ...]:
        """Return all seated parts."""
        return tuple(p for s in self.sections for p in s.parts)

    @property
    def holes(self) -> tuple[ScrewHole, ...]:
        """Return all screw holes."""
        return tuple(h for s in self.sections for h in s.holes)

    @property
    def terminals(self) -> Mapping[str, PlacedTerminal]:
        """Return all terminals by id."""
        return {t.id: t for s in self.sections for t in s.terminals}

    @property
    def buildable(self) -> bool:
        """Return True when no finding forbids making solids."""
        return not any(f.blocks_solids for f in self.findings)
