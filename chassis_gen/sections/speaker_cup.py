"""Speaker cup: seats a round speaker by its rim before a closed back volume, with or without a resonance cap.

Origin and axes: s counts from the section's open end toward the speaker's back (`Facing`); the terminals
look to the lead-in's clock.

    open |cap plate, chamber| rim |basket, magnet | back volume |end wall|
    end  |                  |_____|               |             |        |
         |  front chamber   |seat   ledge, straight bore        |########|
         |__________________|_____________________|_____________|########|
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.quantities import Angle, quantity
from chassis_gen.parts.catalogue import catalogue
from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import (
    OVERLAP,
    Disc,
    ExtraPiece,
    Fit,
    GapProbe,
    Hardware,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    PlayProbe,
    SectionPlan,
    clock_of,
)
from chassis_gen.plan.sums import FIT_CLEARANCE, GRID, PART_SIZE, PRINTER, WALL, Dimension, Term, on_grid
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.bayonet import Bayonet, groove_cutters, lug_solids
from chassis_gen.sections.features.screw_hole import ShapedHole, hole_cutters, hole_finding, plan_hole
from chassis_gen.sections.resonance_cap import (
    HEAD_RECESS,
    SEAM,
    CapHold,
    CapKind,
    CapParams,
    CapPlan,
    Facing,
    Grille,
    Ports,
    Thin,
    bayonet_frame,
    cap_steps,
    countersink_depth,
    grille_places,
    port_finding,
    port_places,
)
from chassis_gen.shapes.frame import Frame, Vec3, radial, shifted
from chassis_gen.shapes.primitives import Box, Cylinder
from chassis_gen.shapes.recipe import Step, add, cut
from chassis_gen.tables.holes import HoleSpec, hole_for
from chassis_gen.tables.threads import find_thread

LEAST_LEDGE = 0.5
CONE_ROOM = 0.3
LEAD_ROOM = 0.5
LEAST_BOSS = 0.2
WAY_OUT_LIMIT_DEG = 90.0
"""Chosen: what a rim rests on, room beside a cone and behind a basket, the lowest boss, widest way out."""


class SpeakerCupParams(CapParams):
    """Keys of a speaker cup."""

    kind: Literal["speaker_cup"] = "speaker_cup"
    part: str = Field(min_length=1, max_length=80, description="the speaker")
    facing: Literal["near", "far"] | None = Field(
        None, description="end that the speaker looks to; by default the open end of the chassis, else near"
    )
    bearing: bool = Field(
        True,
        description="bear on the bore over the section's whole length: cap and cup have no wall to spare",
    )
    rim_fit: Literal["press", "snug", "slide"] = Field("snug", description="fit class of the rim in its seat")
    cup_wall: Thin = Field(1.2, description="least wall of the cup round the rim, as printed")
    back_depth: Annotated[float, quantity("mm", 0.5, 300)] = Field(
        6.0, description="free depth of the closed back volume behind the magnet"
    )
    end_wall: Thin = Field(2.4, description="bulkhead behind the back volume")
    lead_in_deg: Angle = Field(0.0, description="clock of the wires' way out, counted from the section's top")
    lead_in_width: Annotated[float, quantity("mm", 1, 8)] = Field(
        2.6, description="room along the axis for the wires' way out"
    )


@dataclass(frozen=True)
class CupStations:
    """Where things stand, s in mm from the open end.

    Args:
        cup_face: where the cup's own body begins.
        rim_front: the rim's front plane.
        ledge: what the rim rests on.
        shoulder: from here the cup has the chassis's outer surface.
        cap_end: where the cap ends, or 0.
        lead_in: the plane of the wires' way out.
        back: the back volume's end.
        end: the section's other end.
    """

    cup_face: float
    rim_front: float
    ledge: float
    shoulder: float
    cap_end: float
    lead_in: float
    back: float
    end: float


@dataclass(frozen=True)
class Boss:
    """A block in the back volume that a cap screw bites in.

    Args:
        frame: its +z points outward, its origin lies on the tube's axis.
        half: half its width, mm.
        inner: distance of its inner face from the axis, mm.
        outer: where it ends in the wall, mm.
    """

    frame: Frame
    half: float
    inner: float
    outer: float


@dataclass(frozen=True)
class SpeakerCupPlan:
    """What a speaker cup decides."""

    length: Dimension
    rim_seat_diameter: Dimension
    rim_seat_depth: Dimension
    bore_diameter: Dimension
    end_wall: Dimension
    radial_sum: Dimension
    cup_wall: Dimension
    cup_outer_diameter: Dimension | None
    cap_bore_diameter: Dimension | None
    spigot_diameter: Dimension | None
    chamber_diameter: Dimension | None
    port_diameter: Dimension | None
    cap_screw_diameter: Dimension | None
    facing: Facing
    at: CupStations
    cap: CapPlan | None
    bosses: tuple[Boss, ...]
    screws: tuple[ShapedHole, ...]


class SpeakerCup(SectionKind):
    """A cup that seats a speaker at an end of the chassis."""

    kind: ClassVar[str] = "speaker_cup"
    title: ClassVar[str] = "seat and closed back volume of a round speaker, with a resonance cap"
    Params: ClassVar[type[SectionParams]] = SpeakerCupParams

    def length(self, params: SectionParams, setting: Setting) -> Dimension:
        """Return cap, speaker, back volume and end wall as a labelled sum."""
        assert isinstance(params, SpeakerCupParams)
        return _length(params, setting, _speaker(params, setting))

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return seat, cap, wires' way out, and what does not fit."""
        assert isinstance(params, SpeakerCupParams)
        return _Planner(params, ctx).plan()

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the cup's body, its seat and bore, then what holds the cap."""
        detail = plan.detail
        assert isinstance(detail, SpeakerCupPlan)
        return _cup_steps(detail, ctx)


def _speaker(params: SpeakerCupParams, setting: Setting) -> Part:
    part = setting.find_part(params.part)
    if part.kind != "speaker":
        known = ", ".join(f'"{p.name}"' for p in _speakers())
        message = f"{params.name} seats a speaker, this part is a {part.kind.replace('_', ' ')}"
        raise InputError([Problem("not-allowed", message, key="part", value=f'"{part.name}"', allowed=known)])
    return part


def _speakers() -> tuple[Part, ...]:
    """Return the generic speakers, the largest rim first."""
    found = (p for p in catalogue().values() if p.kind == "speaker")
    return tuple(sorted(found, key=lambda p: -p.size("rim_diameter")))


# along the axis --------------------------------------------------------------------------------------


def _screw(params: SpeakerCupParams) -> HoleSpec:
    return hole_for("thread_forming", find_thread(params.cap_screw))


def _screw_way(params: SpeakerCupParams) -> float:
    """Return the drawn-size diameter of a cap screw's clearance hole, mm."""
    return hole_for("clearance", find_thread(params.cap_screw)).diameter


def _boss_half(params: SpeakerCupParams, fitter: Fitter) -> float:
    """Return half the width of a boss round a cap screw, mm: the hole as drawn and a wall."""
    spec, p = _screw(params), fitter.printer
    more = max(b.compensation(spec.diameter) for b in (p.lying_hole, p.standing_hole))
    return on_grid((spec.diameter + more) / 2 + spec.min_wall)


def _screw_place(params: SpeakerCupParams, fitter: Fitter, part: Part) -> float:
    """Return how far behind the cup's face the screws of a cap round the cup stand, mm."""
    return on_grid(part.size("basket_depth") + LEAD_ROOM + _boss_half(params, fitter))


def _overlap(params: SpeakerCupParams, fitter: Fitter, part: Part) -> float:
    """Return how far cap and cup reach over each other, mm; a foam ring is left room on a spigot."""
    if params.cap == "face":
        return on_grid(min(params.overlap, params.chamber_depth - params.foam_gap))
    if params.cap == "round" and params.cap_hold == "screws":
        head = params.screw_head_diameter / 2 + HEAD_RECESS
        return on_grid(max(params.overlap, _screw_place(params, fitter, part) + head + params.cap_wall))
    return on_grid(params.overlap)


def _rim_room(part: Part) -> float:
    """Return the rim's thickness rounded up to the station grid, mm, so that it clears its ledge."""
    return math.ceil(part.size("rim_thickness") / GRID - GRID) * GRID


def _rim_front(params: SpeakerCupParams) -> float:
    return on_grid(params.cap_plate + params.chamber_depth) if params.cap != "none" else 0.0


def _lead_in(params: SpeakerCupParams, setting: Setting, part: Part) -> float:
    """Return the plane of the wires' way out, s in mm: behind the basket, the cap and its screws."""
    front, overlap, wall = (
        _rim_front(params),
        _overlap(params, setting.fitter, part),
        setting.rules.least_wall,
    )
    behind = [front + part.size("basket_depth") + LEAD_ROOM]
    if params.cap == "round":
        behind.append(front + overlap + SEAM + wall)
    if params.cap == "face" and params.cap_hold == "screws":
        behind.append(front - params.foam_gap - overlap + _screw(params).min_depth + wall)
    return on_grid(max(behind) + params.lead_in_width / 2)


def _length(params: SpeakerCupParams, setting: Setting, part: Part) -> Dimension:
    source = "parameter file or its default"
    depth = part.sizes["depth"]
    terms = []
    if params.cap != "none":
        terms.append(Term("front plate", params.cap_plate, source))
        terms.append(Term("front chamber", params.chamber_depth, source))
    terms.append(Term(PART_SIZE, depth.value, f"{part.name}: {depth.source}"))
    terms.append(Term("back volume", params.back_depth, source))
    needed = _lead_in(params, setting, part) + params.lead_in_width / 2 + LEAD_ROOM
    short = needed - math.fsum(t.value for t in terms)
    if short > 0:
        terms.append(Term("room for the wires' way out", short, "behind the cap and the basket"))
    terms.append(Term(WALL, params.end_wall, f"end wall: {source}"))
    return setting.fitter.summed(f"{params.name}.length", tuple(terms), "length along the axis, cap included")


# across the axis -------------------------------------------------------------------------------------


def _rim_seat(params: SpeakerCupParams, fitter: Fitter, part: Part) -> Dimension:
    name, note = f"{params.name}.rim_seat_diameter", "counterbore that centres the speaker's rim"
    return fitter.inner(name, part.sizes["rim_diameter"], params.rim_fit, note, part.name)


_RIM_LABELS = {PART_SIZE: "rim radius", FIT_CLEARANCE: "rim clearance"}


def _radial_sum(params: SpeakerCupParams, setting: Setting, part: Part) -> Dimension:
    """Return what the speaker, the cup and the cap need from the axis out to the chassis's outer surface."""
    fitter, wall = setting.fitter, setting.rules.least_wall
    source = "parameter file or its default"
    halves = _rim_seat(params, fitter, part).terms
    terms = [
        replace(
            t, label=_RIM_LABELS.get(t.label, f"rim {t.label}"), value=t.value / 2, tolerance=t.tolerance / 2
        )
        for t in halves
    ]
    if params.cap == "face" and params.cap_hold == "screws":
        spec = _screw(params)
        room = 2 * _boss_half(params, fitter)
        terms.append(
            Term("cup wall", max(params.cup_wall, room), f"{spec.thread.designation} screw with its walls")
        )
    else:
        terms.append(Term("cup wall", params.cup_wall, source))
    if params.cap == "round":
        c = fitter.classes[params.cap_fit]
        terms.append(Term("cap clearance", c.clearance, f"{params.cap_fit} per side: {c.source}"))
        bore = 2 * math.fsum(t.value for t in terms)
        cap = fitter.printer.inner.term(bore, f"cap {PRINTER}", 0.5)
        terms.append(replace(cap, tolerance=0.0))
    if params.cap != "none" and params.cap_hold == "bayonet":
        terms.append(Term("bayonet groove", params.bayonet_depth, source))
    if params.cap == "round":
        head = countersink_depth(_screw_way(params), params.screw_head_diameter, HEAD_RECESS) + wall
        if params.cap_hold == "screws" and head > params.cap_wall:
            terms.append(Term("cap wall", head, "countersunk head and the wall under it"))
        else:
            terms.append(Term("cap wall", params.cap_wall, source))
    return Dimension(f"{params.name}.radial_sum", tuple(terms), "radius that speaker, cup and cap need")


def _largest(params: SpeakerCupParams, setting: Setting, radius: float) -> Part | None:
    """Return the largest generic speaker that closes the radial sum, or None."""
    fits = (p for p in _speakers() if _radial_sum(params, setting, p).total <= radius + 1e-9)
    return next(fits, None)


def _bearing_radius(ctx: SectionContext) -> float:
    """Return the least radius with which the chassis bears anywhere, mm; 0 when it bears nowhere."""
    return min((s.radius for s in ctx.outer.steps if s.bearing), default=0.0)


def _with(params: SpeakerCupParams, cap: CapKind, hold: CapHold) -> SpeakerCupParams:
    return params.model_copy(update={"cap": cap, "cap_hold": hold})


def _radial_finding(
    params: SpeakerCupParams, ctx: SectionContext, part: Part, radius: float
) -> Finding | None:
    """Return the radial sum that does not close, with the cap and the speaker that would fit."""
    setting = ctx.setting
    needed = _radial_sum(params, setting, part)
    if needed.total <= radius + 1e-9:
        return None
    choices: list[tuple[CapKind, CapHold]] = [("round", "friction"), ("face", "friction")]
    own = (params.cap, params.cap_hold)
    parts, candidates = [], []
    for cap, hold in choices:
        other = _with(params, cap, hold)
        total = _radial_sum(other, setting, part).total
        closes = total <= radius + 1e-9
        if (cap, hold) == own or params.cap == "none":
            continue
        parts.append(
            f"a {cap} cap held by {hold} needs {total:.2f} and {'fits' if closes else 'does not fit either'}"
        )
        if closes and cap == params.cap:
            candidates.append(Remedy("cap_hold", hold, f"hold the cap by {hold}"))
        elif closes and hold == params.cap_hold:
            candidates.append(Remedy("cap", cap, f"use a {cap} cap"))
    if params.cap == "round" and params.cap_hold != "friction":
        other = _with(params, "face", params.cap_hold)
        if _radial_sum(other, setting, part).total <= radius + 1e-9:
            candidates.append(Remedy("cap", "face", "use a face cap"))
    rim = part.size("rim_diameter")
    largest_rim = rim - 2 * (needed.total - radius)
    if not params.bearing and needed.total <= _bearing_radius(ctx) + 1e-9:
        candidates.insert(0, Remedy("bearing", True, "bear on the bore over the whole section"))
    best = _largest(params, setting, radius)
    if best is not None:
        candidates.append(Remedy("part", best.name, f"use {best.name}"))
    terms = " + ".join(f"{t.value:.2f} {t.label}" for t in needed.terms)
    own_text = "no cap" if params.cap == "none" else f"a {params.cap} cap held by {params.cap_hold}"
    speaker = f'"{best.name}"' if best else "none of the catalogue"
    message = (
        f"{part.name} with {own_text} needs a radius of {needed.total:.2f} mm = {terms}; the chassis "
        f"has {radius:.2f} mm in the {2 * ctx.bore_radius:.2f} mm bore, {needed.total - radius:.2f} mm "
        f"too little. "
        f"Largest rim that fits this way: {largest_rim:.2f} mm; largest speaker: {speaker}"
    )
    message += "; " + "; ".join(parts) if parts else ""
    numbers = {
        "needed_radius": needed.total,
        "outer_radius": radius,
        "bore_diameter": 2 * ctx.bore_radius,
        "short": needed.total - radius,
        "largest_rim_diameter": largest_rim,
    }
    return Finding(
        "error", "radial-sum", ctx.name, message, numbers, candidates=tuple(candidates), blocks_solids=True
    )


# the plan --------------------------------------------------------------------------------------------


class _Planner:
    """Decides one speaker cup; each method is one decision that later ones build on."""

    def __init__(self, params: SpeakerCupParams, ctx: SectionContext) -> None:
        self.params, self.ctx, self.fitter = params, ctx, ctx.setting.fitter
        self.part = _speaker(params, ctx.setting)
        far = params.facing == "far" or (params.facing is None and ctx.last and not ctx.first)
        self.facing = Facing(not far, ctx.z1 if far else ctx.z0, ctx.clock_deg)
        self.at = self._stations()
        self.radius = ctx.outer.smallest_radius(*self.facing.span(0.0, max(self.at.shoulder, self.at.ledge)))
        self.rim_seat = _rim_seat(params, self.fitter, self.part)
        self.bore = self.fitter.inner(
            f"{ctx.name}.bore_diameter",
            self.part.sizes["basket_diameter"],
            "free",
            "bore behind the ledge, for basket and magnet",
            self.part.name,
        )
        self.needed = _radial_sum(params, ctx.setting, self.part)
        self.spare = self.radius - self.needed.total
        self.up = (0.0, 1.0, 0.0) if ctx.setting.print_lying else (0.0, 0.0, 1.0)
        self.cup_outer, self.cap_bore, self.spigot = self._mates()
        self.chamber = self._chamber()
        self.bayonet = self._bayonet()
        self.bosses, self.screws, self.cap_screws = self._screws()
        self.port, self.cap = self._cap()

    def plan(self) -> SectionPlan:
        """Return the section's plan."""
        p, ctx = self.params, self.ctx
        placed = self._placed()
        cautions = self.part.cautions + (("adhesives",) if p.cap == "none" else ())
        return SectionPlan(
            kind="speaker_cup",
            name=ctx.name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=self._detail(),
            parts=(placed,),
            fits=self._fits(),
            holes=(*self.screws, *self.cap_screws),
            obstacles=self._obstacles(),
            terminals=self._terminals(placed.frame),
            extra_pieces=self._extra_pieces(),
            hardware=self._hardware(),
            findings=self._findings(),
            facts=self._facts(),
            cautions=cautions,
        )

    def _stations(self) -> CupStations:
        p, part = self.params, self.part
        overlap, front = _overlap(p, self.fitter, part), _rim_front(p)
        face = on_grid(front - (p.foam_gap + overlap if p.cap == "face" else 0.0))
        shoulder = on_grid(face + overlap + SEAM) if p.cap == "round" else face
        end = on_grid(self.ctx.z1 - self.ctx.z0)
        return CupStations(
            cup_face=face,
            rim_front=front,
            ledge=on_grid(front + _rim_room(part)),
            shoulder=shoulder,
            cap_end={"round": shoulder - SEAM, "face": face + overlap, "none": 0.0}[p.cap],
            lead_in=_lead_in(p, self.ctx.setting, part),
            back=on_grid(end - p.end_wall),
            end=end,
        )

    def _mates(self) -> tuple[Dimension | None, Dimension | None, Dimension | None]:
        """Return the cup's outside under a cap, the cap's bore, and the spigot's outside."""
        p, fitter, name, seat = self.params, self.fitter, self.ctx.name, self.rim_seat
        if p.cap == "round":
            terms = (
                Term("rim seat", seat.total, f"{seat.name}"),
                Term(WALL, 2 * p.cup_wall, "cup: parameter file or its default"),
                Term("spare room", on_grid(2 * self.spare), f"what {self.needed.name} leaves"),
            )
            cup_name, note = f"{name}.cup_outer_diameter", "outside of the cup under its cap"
            cup = fitter.printed_sum(cup_name, terms, fitter.printer.outer, note, coats=-2)
            return cup, fitter.mating(f"{name}.cap_bore_diameter", cup, p.cap_fit, "cap over cup", True), None
        if p.cap == "face":
            room = Measure(fitter.as_made(seat), fitter.printer.inner.tolerance, f"{seat.name} as made")
            spigot = fitter.outer(
                f"{name}.spigot_diameter", room, p.cap_fit, "cap's spigot in the seat", seat.name
            )
            return None, None, spigot
        return None, None, None

    def _chamber(self) -> Dimension | None:
        """Return the front chamber's diameter: clear of the cone, and still bearing on the rim."""
        p, part, wall = self.params, self.part, self.ctx.setting.rules.least_wall
        if p.cap == "none":
            return None
        bearing = self.spigot.total if self.spigot else part.size("rim_diameter")
        widest = bearing - 2 * wall
        wanted = part.size("cone_diameter") + 2 * CONE_ROOM if part.has("cone_diameter") else widest
        note, source = (
            "front chamber",
            f"{part.name}: cone and room round it, at most what leaves a wall on the rim",
        )
        return self.fitter.chosen(f"{self.ctx.name}.chamber_diameter", min(wanted, widest), note, source)

    def _bayonet(self) -> Bayonet | None:
        p = self.params
        if p.cap == "none" or p.cap_hold != "bayonet":
            return None
        inside, outside = (
            (self.cup_outer, self.cap_bore) if p.cap == "round" else (self.spigot, self.rim_seat)
        )
        assert inside is not None
        assert outside is not None
        return Bayonet(inside.total / 2, outside.total / 2, p.bayonet_depth, p.bayonet_lugs, 0.0)

    def _screws(self) -> tuple[tuple[Boss, ...], tuple[ShapedHole, ...], tuple[ShapedHole, ...]]:
        """Return bosses, holes in the cup and holes in the cap."""
        p = self.params
        if p.cap == "none" or p.cap_hold != "screws":
            return (), (), ()
        pitch, middle = 360.0 / p.cap_screws, (p.cap_screws - 1) / 2
        clocks = [self._lead_clock() + 180.0 + (k - middle) * pitch for k in range(p.cap_screws)]
        return self._radial_screws(clocks) if p.cap == "round" else self._axial_screws(clocks)

    def _radial_screws(
        self, clocks: list[float]
    ) -> tuple[tuple[Boss, ...], tuple[ShapedHole, ...], tuple[ShapedHole, ...]]:
        assert self.cup_outer is not None
        p, wall = self.params, self.ctx.setting.rules.least_wall
        station = self.facing.z(self.at.cup_face + _screw_place(p, self.fitter, self.part))
        head = p.screw_head_diameter / 2
        surface = self.ctx.outer.largest_radius(station - head, station + head)
        outside, magnet = self.cup_outer.total / 2, self.part.size("magnet_diameter") / 2
        more = self.fitter.printer.inner.compensation(2 * magnet)
        free = self.fitter.classes["free"].clearance + more / 2
        inner = max(magnet + free, outside - _screw(p).min_depth - wall)
        depth = max(outside - inner - wall, 0.5)
        bosses, holes, ways = [], [], []
        for k, clock in enumerate(clocks, 1):
            frame = radial(clock, station)
            if inner < self.bore.total / 2 - LEAST_BOSS:
                bosses.append(Boss(frame, _boss_half(p, self.fitter), inner, self.bore.total / 2 + OVERLAP))
            holes.append(self._cup_hole(k, _inward(frame, outside), depth))
            ways.append(self._cap_hole(k, _inward(frame, surface), surface - outside))
        return tuple(bosses), tuple(holes), tuple(ways)

    def _axial_screws(
        self, clocks: list[float]
    ) -> tuple[tuple[Boss, ...], tuple[ShapedHole, ...], tuple[ShapedHole, ...]]:
        p, face = self.params, self.at.cup_face
        circle = (self.radius + self.rim_seat.total / 2) / 2
        holes, ways = [], []
        for k, clock in enumerate(clocks, 1):
            place = shifted(0.0, circle)
            holes.append(self._cup_hole(k, self.facing.turned(clock, face) @ place, _screw(p).min_depth))
            ways.append(self._cap_hole(k, self.facing.turned(clock) @ place, face - SEAM))
        return (), tuple(holes), tuple(ways)

    def _cup_hole(self, k: int, frame: Frame, depth: float) -> ShapedHole:
        p = self.params
        spec = _screw(p)
        room = spec.min_depth - spec.min_engagement
        bears = max(0.0, min(depth - room, spec.min_engagement))
        return plan_hole(
            self.fitter, f"{self.ctx.name}.cup_screw_{k}", "thread_forming", p.cap_screw, frame, depth,
            self.ctx.piece, bears, up=self.up,
        )  # fmt: skip

    def _cap_hole(self, k: int, frame: Frame, depth: float) -> ShapedHole:
        return plan_hole(
            self.fitter, f"{self.ctx.name}.cap_screw_{k}", "clearance", self.params.cap_screw, frame, depth,
            self._cap_name(), up=self.facing.inward, through=True,
        )  # fmt: skip

    def _extra_pieces(self) -> tuple[ExtraPiece, ...]:
        if not self.cap:
            return ()
        return (ExtraPiece(self.cap.name, cap_steps(self.cap, self.facing, self.ctx), self.facing.inward),)

    def _hardware(self) -> tuple[Hardware, ...]:
        if not self.cap_screws:
            return ()
        way, hole = self.cap_screws[0], self.screws[0]
        longest = way.depth + hole.depth - _head_recess(self.params)
        words = f"countersunk {way.thread} screw for plastic, at most {math.floor(longest)} mm"
        return (Hardware(words, len(self.cap_screws), self._cap_name()),)

    def _cap_name(self) -> str:
        return f"{self.ctx.name}-cap".replace(" ", "-")

    def _lead_clock(self) -> float:
        return self.ctx.clock_deg + self.params.lead_in_deg

    def _openings(self, radius: float) -> tuple[Dimension, tuple[tuple[float, float], ...]]:
        """Return drawn port diameter and places."""
        p, wall, source = self.params, self.ctx.setting.rules.least_wall, "parameter file or its default"
        name = f"{self.ctx.name}.port_diameter"
        if p.grille is not None:
            hole = self.fitter.hole(name, p.grille.hole_diameter, source, "hole of the grille")
            return hole, grille_places(hole.total + p.grille.web, radius - wall - hole.total / 2)
        ports = p.ports or Ports()
        hole = self.fitter.hole(name, ports.diameter, source, "port in the front plate")
        return hole, port_places(ports, hole.total, radius, wall)

    def _cap(self) -> tuple[Dimension | None, CapPlan | None]:
        p, at = self.params, self.at
        if p.cap == "none" or self.chamber is None:
            return None, None
        port, places = self._openings(self.chamber.total / 2)
        mate = self.cap_bore or self.spigot
        assert mate is not None
        face = p.cap == "face"
        return port, CapPlan(
            name=self._cap_name(),
            kind=p.cap,
            plate=on_grid(p.cap_plate),
            chamber_radius=self.chamber.total / 2,
            body_end=at.cup_face - SEAM if face else at.cap_end,
            rim_end=on_grid(at.rim_front - p.foam_gap),
            mate_radius=mate.total / 2,
            holes=places,
            hole_diameter=port,
            bayonet=self.bayonet,
            bayonet_mouth=at.cup_face if face else at.cap_end,
            screws=self.cap_screws,
            head_diameter=p.screw_head_diameter,
            head_recess=_head_recess(p),
            gridded=p.grille is not None,
        )

    def _placed(self) -> PlacedPart:
        frame = self.facing.turned(self._lead_clock() + 180.0, self.at.rim_front)
        side = (self.rim_seat.total - self.part.size("rim_diameter")) / 2
        inward = self.facing.inward
        outward = (0.0, 0.0, -inward[2])
        plays = tuple(Play(d, side) for d in _across(frame))
        return PlacedPart(
            id=self.ctx.name,
            part=self.part,
            frame=frame,
            section=self.ctx.name,
            piece=self.ctx.piece,
            way_in=inward,
            plays=(*plays, Play(inward, 0.0), Play(outward, None)),
            squeeze=max(0.0, -side),
        )

    def _fits(self) -> tuple[Fit, ...]:
        p, name = self.params, self.ctx.name
        across = _across(self.facing.turned(self._lead_clock() + 180.0))
        rim = self.fitter.fit(
            self.rim_seat, "part in seat", (self.part.name, name), p.rim_fit, PlayProbe(name, across)
        )
        if p.cap == "none":
            return (rim,)
        start = self.at.cup_face if p.cap == "face" else self.at.rim_front
        margin = min(0.5, (self.at.cap_end - start) / 4)
        span = self.facing.span(start + margin, self.at.cap_end - margin)
        probe = GapProbe(self._cap_name(), self.ctx.piece, *span)
        between = (self._cap_name(), name)
        if self.cap_bore and self.cup_outer:
            fit = self.fitter.fit(self.cap_bore, "cap on cup", between, p.cap_fit, probe)
            return rim, replace(fit, planned=(self.cap_bore.total - self.cup_outer.total) / 2)
        assert self.spigot is not None
        fit = self.fitter.fit(self.spigot, "cap on cup", between, p.cap_fit, probe, outer=True)
        return rim, replace(fit, planned=(self.rim_seat.total - self.spigot.total) / 2)

    def _obstacles(self) -> tuple[Obstacle, ...]:
        at, wall = self.at, self.ctx.setting.rules.least_wall
        whole = self.ctx.outer.largest_radius(self.ctx.z0, self.ctx.z1)
        found = []

        def block(radius: float, s0: float, s1: float, what: str) -> None:
            if s1 > s0:
                found.append(Obstacle(Disc(0.0, 0.0, radius), *self.facing.span(s0, s1), what))

        if self.cap:
            closed = at.shoulder if self.cap.kind == "round" else at.cup_face
            block(whole, 0.0, closed + wall, "resonance cap")
        lip = self.bayonet.groove_radius if self.bayonet and self.cap and self.cap.kind == "face" else 0.0
        block(max(lip, self.rim_seat.total / 2), at.cup_face, at.ledge, "rim seat")
        block(self.bore.total / 2, at.ledge, at.back, "back volume")
        if self.cap and self.cap.kind == "face":
            for h in self.screws:
                x, y, _ = h.frame.origin
                z0, z1 = self.facing.span(at.cup_face, at.cup_face + h.depth)
                found.append(Obstacle(Disc(x, y, h.diameter.total / 2 + h.least_wall), z0, z1, "cap screw"))
        return tuple(found)

    def _terminals(self, frame: Frame) -> tuple[PlacedTerminal, ...]:
        """Return the terminals where their wires leave the back volume, behind the basket and the cap."""
        magnet = self.part.size("magnet_diameter") / 2 + self.params.lead_in_width / 2
        found = []
        for t in self.part.terminals:
            x, y, _ = frame.point(t.position)
            at = math.hypot(x, y)
            # the straight line that just clears the magnet from the terminal out to the surface
            way = math.acos(min(1.0, magnet / at)) + math.acos(min(1.0, magnet / self.radius))
            half = min(WAY_OUT_LIMIT_DEG, math.degrees(way))
            clock = clock_of(x, y)
            spot, exits = (x, y, self.facing.z(self.at.lead_in)), ((clock - half, clock + half),)
            name = f"{self.ctx.name}.{t.name}"
            found.append(PlacedTerminal(name, spot, exits, t.largest_wire_diameter, t.must_connect))
        return tuple(found)

    def _facts(self) -> dict[str, float]:
        """Return volumes by closed form: bars and rings, the speaker taken as its solid envelope."""
        part, at = self.part, self.at

        def bar(diameter: float, depth: float) -> float:
            return math.pi / 4 * diameter**2 * depth

        basket = part.size("basket_depth")
        back = bar(self.bore.total, at.back - at.ledge)
        back -= bar(part.size("basket_diameter"), basket - part.size("rim_thickness"))
        back -= bar(part.size("magnet_diameter"), part.size("depth") - basket)
        back -= sum(_boss_volume(b, self.bore.total / 2) for b in self.bosses)
        facts = {"back_volume_cm3": back / 1000, "back_depth_mm": at.back - at.rim_front - part.size("depth")}
        if self.cap and self.chamber and self.port:
            facts["front_volume_cm3"] = bar(self.chamber.total, at.rim_front - self.cap.plate) / 1000
            facts["port_count"] = float(len(self.cap.holes))
            facts["port_area_mm2"] = len(self.cap.holes) * bar(self.port.term(PART_SIZE), 1.0)
            facts["port_length_mm"] = self.cap.plate
        return facts

    def _findings(self) -> tuple[Finding, ...]:
        radial_sum = _radial_finding(self.params, self.ctx, self.part, self.radius)
        if radial_sum:
            return (radial_sum,)
        found = (
            self._way_in(), self._ledge(), self._cone_across(), self._cone_along(), self._ports(),
            self._bayonet_room(), self._engagement(), self._flat(), *self._thin_walls(),
            *(hole_finding(h) for h in self.screws[:1]),
        )  # fmt: skip
        return tuple(f for f in found if f)

    def _way_in(self) -> Finding | None:
        ctx, near = self.ctx, self.facing.near
        if not (ctx.joined_near if near else ctx.joined_far):
            return None
        side, other = ("near", "far") if near else ("far", "near")
        closed = ctx.joined_far if near else ctx.joined_near
        turn = () if closed else (Remedy("facing", other, f"let the speaker look to its {other} end"),)
        own = Remedy("piece", f"{ctx.name}".replace(" ", "-"), "print the cup as a piece of its own")
        text = f"the speaker goes in from the {side} end, where a section of the same piece closes the cup"
        return Finding("error", "way-in-blocked", ctx.name, text, candidates=(*turn, own), blocks_solids=True)

    def _ledge(self) -> Finding | None:
        ledge = (self.rim_seat.total - self.bore.total) / 2
        if ledge >= LEAST_LEDGE:
            return None
        text = (
            f"{self.part.name}'s rim would rest on a ledge of {ledge:.2f} mm: half of the seat's "
            f"{self.rim_seat.total:.2f} less the bore's {self.bore.total:.2f} mm; "
            f"at least {LEAST_LEDGE:.2f} mm is wanted"
        )
        numbers = {"ledge": ledge, "least_ledge": LEAST_LEDGE}
        return Finding("error", "rim-ledge", self.ctx.name, text, numbers, blocks_solids=True)

    def _cone_across(self) -> Finding | None:
        if self.chamber is None or not self.part.has("cone_diameter"):
            return None
        cone = self.part.size("cone_diameter")
        if self.chamber.total >= cone:
            return None
        text = (
            f"the front chamber is {self.chamber.total:.2f} mm wide where the cap bears on the rim, "
            f"and the cone of {self.part.name} moves over {cone:.2f} mm"
        )
        remedy = Remedy("cap", "round", "use a round cap, which bears on the whole rim")
        candidates = (remedy,) if self.params.cap == "face" else ()
        numbers = {"chamber_diameter": self.chamber.total, "cone_diameter": cone}
        return Finding("error", "cone-room", self.ctx.name, text, numbers, candidates=candidates)

    def _cone_along(self) -> Finding | None:
        p = self.params
        if p.cap == "none" or not self.part.has("cone_travel"):
            return None
        least = self.part.size("cone_travel") + LEAD_ROOM
        if p.chamber_depth >= least:
            return None
        travel = self.part.size("cone_travel")
        text = f"the cone comes out {travel:.2f} mm into a chamber {p.chamber_depth:.2f} mm deep"
        remedy = Remedy("chamber_depth", max(2.0, least), f"make the chamber {max(2.0, least):.2f} mm deep")
        numbers = {"chamber_depth": p.chamber_depth, "least_chamber_depth": least}
        return Finding("error", "cone-travel", self.ctx.name, text, numbers, candidates=(remedy,))

    def _ports(self) -> Finding | None:
        if not self.cap:
            return None
        wall, p = self.ctx.setting.rules.least_wall, self.params
        if p.grille:
            grid = Grille(hole_diameter=min(p.grille.hole_diameter, 2.0), web=max(p.grille.web, wall))
            remedy = Remedy(
                "grille", grid.model_dump(), f"holes of {grid.hole_diameter:g} mm, {grid.web:g} mm apart"
            )
        else:
            largest = math.floor(self.cap.chamber_radius) - wall
            ports = {"count": 1, "diameter": min((p.ports or Ports()).diameter, largest)}
            remedy = Remedy("ports", ports, f"one port of {ports['diameter']:g} mm in the middle")
        name, radius, hole = self.cap.name, self.cap.chamber_radius, self.cap.hole_diameter.total
        return port_finding(name, self.cap.holes, hole, radius, wall, remedy)

    def _bayonet_room(self) -> Finding | None:
        b = self.bayonet
        if b is None:
            return None
        room = self.at.cap_end - self.at.cup_face
        # the slope of a lug ends at the bar, and a groove shallower than its clearance holds nothing
        if room >= b.depth and b.lug_radius - b.bar_radius >= 2 * b.room:
            return None
        p, least = self.params, math.ceil(10 * b.depth + 1) / 10
        text = (
            f"the bayonet's grooves reach {b.depth:.2f} mm and cap and cup overlap by {room:.2f} mm; "
            f"its lugs are {b.lug_radius - b.bar_radius:.2f} mm high with {b.room:.2f} mm of clearance"
        )
        deeper = Remedy("cap_overlap", least, f"let them overlap by {least:g} mm")
        chamber = Remedy("chamber_depth", least + p.foam_gap, f"a chamber {least + p.foam_gap:g} mm deep")
        friction = Remedy("cap_hold", "friction", "hold the cap by friction")
        candidates = (deeper, chamber, friction) if p.cap == "face" else (deeper, friction)
        numbers = {
            "groove_end": b.depth,
            "overlap": room,
            "lug_height": b.lug_radius - b.bar_radius,
            "room": b.room,
        }
        return Finding(
            "error",
            "bayonet-room",
            self._cap_name(),
            text,
            numbers,
            candidates=candidates,
            blocks_solids=True,
        )

    def _engagement(self) -> Finding | None:
        if not self.screws or self.screws[0].engagement >= self.screws[0].least_engagement - 1e-9:
            return None
        h = self.screws[0]
        text = (
            f"the cap's {h.thread} screws bear on {h.engagement:.2f} mm of thread; "
            f"at least {h.least_engagement:.2f} mm is wanted"
        )
        remedy = Remedy("cap_hold", "friction", "hold the cap by friction")
        numbers = {"engagement": h.engagement, "least_engagement": h.least_engagement}
        return Finding("error", "screw-engagement", h.id, text, numbers, candidates=(remedy,))

    def _flat(self) -> Finding | None:
        """Return where the flat that the chassis is printed on would leave too little of the cup's wall."""
        distance, least = self.ctx.outer.flat_distance, self.ctx.setting.rules.least_wall
        if distance is None:
            return None
        seat = (
            self.bayonet.groove_radius
            if self.bayonet and self.params.cap == "face"
            else self.rim_seat.total / 2
        )
        if distance - seat >= least - 1e-9:
            return None
        text = (
            f"the flat at {distance:.2f} mm from the axis leaves {distance - seat:.2f} mm of the cup's wall "
            f"round the rim seat of radius {seat:.2f} mm; at least {least:.2f} mm is wanted"
        )
        numbers = {"wall": distance - seat, "least_wall": least}
        remedies = tuple(_narrower_flats(self.ctx, seat + least))
        return Finding("error", "flat-wall", self.ctx.name, text, numbers, candidates=remedies)

    def _thin_walls(self) -> tuple[Finding, ...]:
        least, p = self.ctx.setting.rules.least_wall, self.params
        keys = ["cup_wall", "end_wall"]
        if p.cap != "none":
            keys += ["cap_plate"] + (["cap_wall"] if p.cap == "round" else [])
        return tuple(
            Finding(
                "error",
                "wall-thin",
                f"{self.ctx.name}.{key}",
                f"{key.replace('_', ' ')} is {getattr(p, key):.2f} mm; two nozzle widths are {least:.2f} mm",
                {"wall": getattr(p, key), "least_wall": least},
                candidates=(Remedy(key, least, f"{key} = {least:g}"),),
            )
            for key in keys
            if getattr(p, key) < least - 1e-9
        )

    def _detail(self) -> SpeakerCupPlan:
        p, fitter, name, part = self.params, self.fitter, self.ctx.name, self.part
        thickness = part.sizes["rim_thickness"]
        depth = [Term(PART_SIZE, thickness.value, f"{part.name}: {thickness.source}", thickness.tolerance)]
        if p.cap == "face":
            depth.append(Term("foam gap", p.foam_gap, "parameter file or its default"))
            depth.append(Term("spigot", _overlap(p, fitter, part), "how far the cap's spigot reaches in"))
        outside = self.cup_outer.total / 2 if self.cup_outer else self.radius
        wall = Term(WALL, outside - self.rim_seat.total / 2, "outside less rim seat, as drawn")
        return SpeakerCupPlan(
            length=_length(p, self.ctx.setting, part),
            rim_seat_diameter=self.rim_seat,
            rim_seat_depth=Dimension(f"{name}.rim_seat_depth", tuple(depth), "cup's face to the ledge"),
            bore_diameter=self.bore,
            end_wall=fitter.chosen(f"{name}.end_wall", p.end_wall, "bulkhead behind the back volume"),
            radial_sum=self.needed,
            cup_wall=Dimension(f"{name}.cup_wall", (wall,), "wall of the cup round the rim"),
            cup_outer_diameter=self.cup_outer,
            cap_bore_diameter=self.cap_bore,
            spigot_diameter=self.spigot,
            chamber_diameter=self.chamber,
            port_diameter=self.port,
            cap_screw_diameter=self.screws[0].diameter if self.screws else None,
            facing=self.facing,
            at=self.at,
            cap=self.cap,
            bosses=self.bosses,
            screws=self.screws,
        )


def _head_recess(params: SpeakerCupParams) -> float:
    """Return how far the head of a cap screw stands below the surface, mm."""
    return HEAD_RECESS if params.cap == "round" else 0.0


def _across(frame: Frame) -> tuple[Vec3, ...]:
    """Return the four directions across a seat's axis."""
    x, y = frame.x_axis, frame.y_axis
    return x, (-x[0], -x[1], -x[2]), y, (-y[0], -y[1], -y[2])


def _inward(frame: Frame, radius: float) -> Frame:
    """Return a radial frame moved out to a radius and turned to look at the axis."""
    x, y, z = frame.x_axis, frame.y_axis, frame.z_axis
    return Frame(frame.point((0.0, 0.0, radius)), (-x[0], -x[1], -x[2]), y, (-z[0], -z[1], -z[2]))


def _narrower_flats(ctx: SectionContext, distance: float) -> Iterator[Remedy]:
    """Yield the widest printing flat that stays a distance from the axis, by half a millimetre, and none.

    The flat is one plane over the whole chassis, as wide as asked for where the chassis is narrowest.
    """
    narrowest = min(s.radius for s in ctx.outer.steps)
    width = math.floor(4 * math.sqrt(max(0.0, narrowest**2 - distance**2))) / 2
    if width >= 1.0:
        yield Remedy("bearing.flat_width", width, f"printing flat of {width:g} mm")
    yield Remedy("bearing.flat_width", 0.0, "no printing flat")


def _boss_volume(boss: Boss, bore: float) -> float:
    """Return a boss's volume inside the bore, mm3: its length times the area from its flat to the circle."""
    # a low boss ends where its flat meets the bore
    half = min(boss.half, math.sqrt(bore**2 - boss.inner**2))
    a = half / bore
    area = bore**2 * (math.asin(a) + a * math.sqrt(1 - a * a)) - 2 * half * boss.inner
    return 2 * boss.half * area


def _cup_steps(detail: SpeakerCupPlan, ctx: SectionContext) -> tuple[Step, ...]:
    at, facing = detail.at, detail.facing
    frame = facing.frame
    steps = add("cup body", *ctx.body(*facing.span(at.shoulder, at.end)))
    if detail.cup_outer_diameter:
        outside = detail.cup_outer_diameter.total / 2
        steps += add("cup under its cap", Cylinder(outside, at.cup_face, at.shoulder + OVERLAP, frame))
    if detail.cap and detail.cap.bayonet and detail.cap.kind == "round":
        steps += add("bayonet lug", *lug_solids(detail.cap.bayonet, bayonet_frame(detail.cap, facing)))
    seat = Cylinder(detail.rim_seat_diameter.total / 2, at.cup_face - OVERLAP, at.ledge, frame)
    steps += cut("rim seat", seat)
    steps += cut("back volume", Cylinder(detail.bore_diameter.total / 2, at.ledge - OVERLAP, at.back, frame))
    if detail.cap and detail.cap.bayonet and detail.cap.kind == "face":
        steps += cut("bayonet groove", *groove_cutters(detail.cap.bayonet, bayonet_frame(detail.cap, facing)))
    for b in detail.bosses:
        steps += add("cap screw boss", Box((-b.half, -b.half, b.inner), (b.half, b.half, b.outer), b.frame))
    for hole in detail.screws:
        steps += cut("cap screw hole", *hole_cutters(hole))
    return steps


KIND = SpeakerCup()
