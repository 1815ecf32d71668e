"""How a speaker cup is laid out: stations, mating diameters, chamber, what holds the cap, and the cap itself."""

from __future__ import annotations

from chassis_gen.parts.model import Measure, Part
from chassis_gen.plan.model import OVERLAP
from chassis_gen.plan.sums import PART_SIZE, WALL, Dimension, Term, on_grid
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.bayonet import Bayonet
from chassis_gen.sections.features.screw_hole import ShapedHole, plan_hole
from chassis_gen.sections.resonance_cap import (
    HEAD_RECESS,
    SEAM,
    CapPlan,
    Facing,
    Ports,
    grille_places,
    port_places,
)
from chassis_gen.sections.speaker_cup_model import (
    CONE_ROOM,
    LEAST_BOSS,
    Boss,
    CupStations,
    SpeakerCupParams,
    SpeakerCupPlan,
)
from chassis_gen.sections.speaker_cup_sums import (
    boss_half,
    cap_overlap,
    lead_in,
    radial_sum,
    rim_front,
    rim_room,
    rim_seat,
    screw_place,
    screw_spec,
    section_length,
)
from chassis_gen.shapes.frame import Frame, radial, reversed_axis, shifted


def lead_clock(params: SpeakerCupParams, ctx: SectionContext) -> float:
    """Return the clock of the wires' way out, degrees."""
    return ctx.clock_deg + params.lead_in_deg


def radius_round(facing: Facing, at: CupStations, ctx: SectionContext) -> float:
    """Return the radius of the chassis's outer surface round cap and seat, mm."""
    return ctx.outer.smallest_radius(*facing.span(0.0, max(at.shoulder, at.ledge)))


def laid_out(params: SpeakerCupParams, ctx: SectionContext, part: Part) -> SpeakerCupPlan:
    """Return what a speaker cup decides.

    Args:
        params: of the section.
        ctx: of the section.
        part: the speaker.
    """
    return _Layout(params, ctx, part).detail()


class _Layout:
    """Lays out one speaker cup; each method is one decision that later ones build on."""

    def __init__(self, params: SpeakerCupParams, ctx: SectionContext, part: Part) -> None:
        self.params, self.ctx, self.fitter = params, ctx, ctx.setting.fitter
        self.part = part
        far = params.facing == "far" or (params.facing is None and ctx.last and not ctx.first)
        self.facing = Facing(not far, ctx.z1 if far else ctx.z0, ctx.clock_deg)
        self.at = self._stations()
        self.radius = radius_round(self.facing, self.at, ctx)
        self.rim_seat = rim_seat(params, self.fitter, self.part)
        self.bore = self.fitter.inner(
            f"{ctx.name}.bore_diameter",
            self.part.sizes["basket_diameter"],
            "free",
            "bore behind the ledge, for basket and magnet",
            self.part.name,
        )
        self.needed = radial_sum(params, ctx.setting, self.part)
        self.spare = self.radius - self.needed.total
        self.up = (0.0, 1.0, 0.0) if ctx.setting.print_lying else (0.0, 0.0, 1.0)
        self.cup_outer, self.cap_bore, self.spigot = self._mates()
        self.chamber = self._chamber()
        self.bayonet = self._bayonet()
        self.bosses, self.screws, self.cap_screws = self._screws()
        self.port, self.cap = self._cap()

    def _stations(self) -> CupStations:
        p, part = self.params, self.part
        overlap, front = cap_overlap(p, self.fitter, part), rim_front(p)
        face = on_grid(front - (p.foam_gap + overlap if p.cap == "face" else 0.0))
        shoulder = on_grid(face + overlap + SEAM) if p.cap == "round" else face
        end = on_grid(self.ctx.z1 - self.ctx.z0)
        return CupStations(
            cup_face=face,
            rim_front=front,
            ledge=on_grid(front + rim_room(part)),
            shoulder=shoulder,
            cap_end={"round": shoulder - SEAM, "face": face + overlap, "none": 0.0}[p.cap],
            lead_in=lead_in(p, self.ctx.setting, part),
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
        clocks = [
            lead_clock(self.params, self.ctx) + 180.0 + (k - middle) * pitch for k in range(p.cap_screws)
        ]
        return self._radial_screws(clocks) if p.cap == "round" else self._axial_screws(clocks)

    def _radial_screws(
        self, clocks: list[float]
    ) -> tuple[tuple[Boss, ...], tuple[ShapedHole, ...], tuple[ShapedHole, ...]]:
        assert self.cup_outer is not None
        p, wall = self.params, self.ctx.setting.rules.least_wall
        station = self.facing.z(self.at.cup_face + screw_place(p, self.fitter, self.part))
        head = p.screw_head_diameter / 2
        surface = self.ctx.outer.largest_radius(station - head, station + head)
        outside, magnet = self.cup_outer.total / 2, self.part.size("magnet_diameter") / 2
        more = self.fitter.printer.inner.compensation(2 * magnet)
        free = self.fitter.classes["free"].clearance + more / 2
        inner = max(magnet + free, outside - screw_spec(p).min_depth - wall)
        depth = max(outside - inner - wall, 0.5)
        bosses, holes, ways = [], [], []
        for k, clock in enumerate(clocks, 1):
            frame = radial(clock, station)
            if inner < self.bore.total / 2 - LEAST_BOSS:
                bosses.append(Boss(frame, boss_half(p, self.fitter), inner, self.bore.total / 2 + OVERLAP))
            holes.append(self._cup_hole(k, reversed_axis(radial(clock, station, outside)), depth))
            ways.append(self._cap_hole(k, reversed_axis(radial(clock, station, surface)), surface - outside))
        return tuple(bosses), tuple(holes), tuple(ways)

    def _axial_screws(
        self, clocks: list[float]
    ) -> tuple[tuple[Boss, ...], tuple[ShapedHole, ...], tuple[ShapedHole, ...]]:
        p, face = self.params, self.at.cup_face
        circle = (self.radius + self.rim_seat.total / 2) / 2
        holes, ways = [], []
        for k, clock in enumerate(clocks, 1):
            place = shifted(0.0, circle)
            holes.append(self._cup_hole(k, self.facing.turned(clock, face) @ place, screw_spec(p).min_depth))
            ways.append(self._cap_hole(k, self.facing.turned(clock) @ place, face - SEAM))
        return (), tuple(holes), tuple(ways)

    def _cup_hole(self, k: int, frame: Frame, depth: float) -> ShapedHole:
        p = self.params
        spec = screw_spec(p)
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

    def _cap_name(self) -> str:
        return f"{self.ctx.name}-cap".replace(" ", "-")

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
            head_recess=HEAD_RECESS if p.cap == "round" else 0.0,
            gridded=p.grille is not None,
        )

    def detail(self) -> SpeakerCupPlan:
        """Return what was decided."""
        p, fitter, name, part = self.params, self.fitter, self.ctx.name, self.part
        thickness = part.sizes["rim_thickness"]
        depth = [Term(PART_SIZE, thickness.value, f"{part.name}: {thickness.source}", thickness.tolerance)]
        if p.cap == "face":
            depth.append(Term("foam gap", p.foam_gap, "parameter file or its default"))
            depth.append(Term("spigot", cap_overlap(p, fitter, part), "how far the cap's spigot reaches in"))
        outside = self.cup_outer.total / 2 if self.cup_outer else self.radius
        wall = Term(WALL, outside - self.rim_seat.total / 2, "outside less rim seat, as drawn")
        return SpeakerCupPlan(
            length=section_length(p, self.ctx.setting, part),
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
