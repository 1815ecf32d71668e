"""The whole plan of a build: tube, sections at their stations, wires in lanes, pieces, fits, findings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from msgspec import Struct, field

from chassis_gen.findings import Finding
from chassis_gen.plan.electrics import ElectricsAsked
from chassis_gen.plan.finish import NO_FINISH, Finish, Masked
from chassis_gen.plan.model import Fit, Hardware, Outer, PlacedPart, PlacedTerminal, ScrewHole, SectionPlan
from chassis_gen.plan.sums import Dimension
from chassis_gen.plan.tube import Tube
from chassis_gen.sections.base import Material, Rules, SectionContext
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.primitives import Primitive
from chassis_gen.shapes.recipe import Recipe

if TYPE_CHECKING:
    from chassis_gen.plan.letter_faces import PlacedText


class Connector(Struct, frozen=True):
    """A plug at one end of a wire.

    Args:
        pitch: distance of its contacts, mm.
        ways: number of contacts.
        width: of its head, across the contacts, mm.
        thickness: of its head, mm.
        length: of its head, along the wire, mm.
    """

    pitch: float
    ways: int
    width: float
    thickness: float
    length: float

    @property
    def diameter(self) -> float:
        """Return the diameter of the round hole that its head just passes, mm."""
        return math.hypot(self.width, self.thickness)


class InLine(Struct, frozen=True):
    """A body in a wire that needs room: a splice, a resistor, a fuse, a connector.

    Args:
        kind: what it is.
        diameter: over its sleeve, mm.
        length: over its sleeve, mm.
        section: where the maker wants it, or None.
        resistance_ohm: of a resistor or a fuse, or None.
        rating_a: of a fuse, or None.
        end: ``start`` or ``end`` for a splice to a lead that a part already has, else None.
        lead: length of that lead, mm.
    """

    kind: str
    diameter: float
    length: float
    section: str | None = None
    resistance_ohm: float | None = None
    rating_a: float | None = None
    end: str | None = None
    lead: float = 0.0


class Via(Struct, frozen=True):
    """A section that a wire has to pass, at a clock (degrees) where one is given."""

    section: str
    clock: float | None = None


class Wire(Struct, frozen=True):
    """A wire as the maker asked for it.

    Args:
        id: ``wire 1`` or the maker's name; ``<net> 1`` and so on for the wires of a net.
        start: terminal id.
        end: terminal id.
        gauge_awg: American wire gauge; the next thinner one where the maker gave a cross-section.
        insulation: ``silicone``, ``pvc`` or ``ptfe``.
        colour: in words.
        outer_diameter: over the insulation (and braid), mm.
        conductor_diameter: solid-equivalent conductor diameter, mm.
        pinned_clock: clock that the maker asks for, degrees, or None.
        area_mm2: cross-section that the maker gave instead of a gauge, mm2, or None.
        current_a: largest current, A, or None where nothing is stated.
        key: key path of its table in the build file, such as ``wire[3]``.
        net: name of the `[[net]]` that it belongs to, or None.
        twisted_with: id of the wire that it is twisted with, or None.
        shielded: True with a braid round it.
        ribbon: name of the flat ribbon that it is a way of, or None.
        bundle: name of its bundle, or None.
        keep_apart: ``power``, ``data``, ``sound``, ``light`` or None.
        via: sections that it has to pass.
        start_connector: plug at its start, or None.
        end_connector: plug at its end, or None.
        start_have: length of the lead that the part at its start already has, mm.
        end_have: the same at its end, mm.
        serve_out: how far its part comes out with its joints intact, mm.
        strain_relief: ``glue``, ``own``, ``none``, or None where nothing is asked.
        in_line: bodies in the wire; splices to leads that parts have are among them.
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
    area_mm2: float | None = None
    current_a: float | None = None
    key: str = ""
    net: str | None = None
    twisted_with: str | None = None
    shielded: bool = False
    ribbon: str | None = None
    bundle: str | None = None
    keep_apart: str | None = None
    via: tuple[Via, ...] = ()
    start_connector: Connector | None = None
    end_connector: Connector | None = None
    start_have: float = 0.0
    end_have: float = 0.0
    serve_out: float = 0.0
    strain_relief: str | None = None
    in_line: tuple[InLine, ...] = ()

    @property
    def gauge_text(self) -> str:
        """Return its size in words: ``AWG 26`` or ``0.25 mm2``."""
        return f"AWG {self.gauge_awg}" if self.area_mm2 is None else f"{self.area_mm2:g} mm2"

    @property
    def conductor_area(self) -> float:
        """Return the conductor's cross-section, mm2."""
        return math.pi / 4 * self.conductor_diameter**2

    @property
    def lane_depth(self) -> float:
        """Return the depth of lane that it takes, mm: a twisted pair turns about itself."""
        return self.outer_diameter * (2 if self.twisted_with else 1)

    @property
    def mates(self) -> frozenset[str]:
        """Return what it lies beside where it can: marks of its bundle, ribbon and twisted pair."""
        pair = "/".join(sorted((self.id, self.twisted_with))) if self.twisted_with else None
        marks = (("bundle", self.bundle), ("ribbon", self.ribbon), ("pair", pair))
        return frozenset(f"{kind} {name}" for kind, name in marks if name)


class Net(Struct, frozen=True):
    """Terminals that the maker joined with `[[net]]`, and the wires that the program chose for it.

    Args:
        name: the maker's.
        terminals: terminal ids.
        star: the terminal that all wires go to, or None for a tree.
        wires: wire ids.
    """

    name: str
    terminals: tuple[str, ...]
    star: str | None
    wires: tuple[str, ...]


class PlacedBody(Struct, frozen=True):
    """A body in a wire, where it lies.

    Args:
        wire: wire id.
        body: the body.
        section: where it lies.
        position: its middle, mm.
        from_start: distance of its middle from the wire's start along the route, mm.
        z0: near end, mm.
        z1: far end, mm.
        cut: True where a pocket is cut for it, False where it lies in a hollow section.
    """

    wire: str
    body: InLine
    section: str
    position: Vec3
    from_start: float
    z0: float
    z1: float
    cut: bool


class Leg(Struct, frozen=True, gc=False):
    """One straight or round stretch of a wire's path.

    Args:
        kind: ``drop`` (terminal to lane, lane to tube), ``lane`` (along the axis), ``gallery`` (round the axis),
            ``tube`` (along a round wire tube that stands free in a section).
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


class DropBend(Struct, frozen=True):
    """Where a wire bends out of a drop into its lane.

    Args:
        terminal: where the drop begins.
        wanted: least radius of the wire's middle line, mm.
        radius: what there is room for, mm; no more than is wanted.
        path: points along the wire's middle line, from the drop to the lane, mm; none where the lane's roof steps
            before the wire is out of its drop.
    """

    terminal: str
    wanted: float
    radius: float
    path: tuple[Vec3, ...]


class Route(Struct, frozen=True):
    """The path of one wire and what to cut for it.

    Args:
        wire: the wire.
        legs: in order from the wire's start.
        length: of the path, mm.
        cut_length: with end allowances and slack, rounded up to 5 mm.
        slack: extra length that lets its part come out, mm.
        slack_section: hollow section in which that slack lies when closed, or None.
        fit_connector_after: True where a plug doesn't pass the lanes, so that it is fitted after threading.
        bodies: splices and other bodies in it, where they lie.
        reliefs: terminal ids beside whose joint a strain relief is cut.
        bends: of its drops into its lanes.
    """

    wire: Wire
    legs: tuple[Leg, ...]
    length: float
    cut_length: float
    slack: float = 0.0
    slack_section: str | None = None
    fit_connector_after: bool = False
    bodies: tuple[PlacedBody, ...] = ()
    reliefs: tuple[str, ...] = ()
    bends: tuple[DropBend, ...] = ()


class Lane(Struct, frozen=True):
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
        tube: True for a round wire tube that stands free in its section and isn't cut.
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
    tube: bool = False


class PiecePlan(Struct, frozen=True):
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


class SurfaceWork(Struct, frozen=True):
    """A pattern as it was cut into one section's outer surface.

    Args:
        name: the maker's.
        pattern: what was cut.
        section: where.
        depth: mm; of windows the thickest wall that they go through.
        cells: cells that were cut (grooves, for ribs and flutes).
        left_out: cells that had no room.
        through: True for windows.
        figures: what is cut for a drawing of the maker's own, whose gaps are judged by themselves.
    """

    name: str
    pattern: str
    section: str
    depth: float
    cells: int
    left_out: int
    through: bool = False
    figures: tuple[Primitive, ...] = ()


class ChassisPlan(Struct, frozen=True):
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
        wires: all wires that are asked for.
        nets: terminals that the maker joined, with the wires chosen for them.
        own_terminals: kind of each terminal that the build names itself, by its id.
        compensation: who compensates for the printer (``allowance``, ``model``, ``slicer``), and a sentence.
        electrics: states of the build and what else the maker said of its currents.
        surfaces: patterns on the outer surface.
        lettering: texts as they were cut.
        finish: coats on the printed surfaces.
        masked: what is masked off before they go on.
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
    unrouted: tuple[Wire, ...] = ()
    compensation: tuple[str, str] = ("allowance", "")
    wires: tuple[Wire, ...] = ()
    nets: tuple[Net, ...] = ()
    own_terminals: Mapping[str, str] = field(default_factory=dict)
    electrics: ElectricsAsked = field(default_factory=ElectricsAsked)
    surfaces: tuple[SurfaceWork, ...] = ()
    lettering: tuple[PlacedText, ...] = ()
    finish: Finish = NO_FINISH
    masked: tuple[Masked, ...] = ()

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
