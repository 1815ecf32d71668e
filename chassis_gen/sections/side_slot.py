"""Side slot: a small board in a slot at the side of the chassis, flat or on edge, held by wrapped tape.

Origin and axes: the tube's. Planned in the slot's frame: its origin on the tube's axis at the middle of the board,
+y out of the slot at the section's clock, +z along the tube, x across.

      __tape_______________            __tape__
     |   |  parts   |   |             |  |   |  |   on edge: the board stands in grooves,
     |   |===board==|   |   flat      |  | b |p |   its component side toward +x
     |   |_| room |_|   |             |  | o |a |
      \\                 /              \\ |_|_|  /
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import ClassVar

from msgspec import Struct

from chassis_gen.findings import Finding, Remedy
from chassis_gen.parts.model import Part
from chassis_gen.plan.model import (
    Fit,
    Obstacle,
    PlacedPart,
    PlacedTerminal,
    Play,
    SectionPlan,
    Sector,
    Slab,
)
from chassis_gen.plan.sums import WALL, Dimension, Term
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.sections.features.board_seat import MARGIN, board_fits, length_along, open_room
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.features.surface import half_chord, least_surface
from chassis_gen.sections.features.tape_recess import TapeBand, tape_cutters, tape_hardware, tape_sums
from chassis_gen.sections.features.wire_gate import exit_angles
from chassis_gen.sections.side_slot_layout import (
    SOURCE,
    Range,
    SideSlotParams,
    Slot,
    Void,
    middle_offset,
    seat_length_of,
    times,
)
from chassis_gen.shapes.frame import Frame, Vec3, topped
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import Step, cut

LEAST_HOLD = 0.4
"""How far a ledge or groove still holds the board when it lies against the other side, mm (chosen)."""
MOST_MOUTH = 0.75
"""Widest slot in chassis radii on each side: beyond it the walls at the mouth end in edges under 41 degrees."""


class SideSlotPlan(Struct, frozen=True):
    """What a side slot decides; levels over the tube's axis toward the section's clock, mm.

    Args:
        length: of the section.
        end_wall: thickness of each end wall.
        seat_width: of the pocket across (flat), or of the grooves (on edge).
        seat_length: of the pocket along the tube, where the board stops.
        seat_level: of what the board rests on, over the tube's axis.
        room_below: beside or under the board's underside.
        room_above: beside the board's component side (on edge).
        hold: width of the ledges, or depth of the grooves.
        tape: the tape recess, or None.
        tape_depth: of the recess.
        tape_width: of the recess.
        voids: what is cut, in the slot's frame: label, x, y and z ranges.
    """

    length: Dimension
    end_wall: Dimension
    seat_width: Dimension
    seat_length: Dimension
    seat_level: Dimension
    room_below: Dimension
    room_above: Dimension | None
    hold: Dimension
    tape: TapeBand | None
    tape_depth: Dimension | None
    tape_width: Dimension | None
    voids: tuple[Void, ...]


class SideSlot(SectionKind):
    """A slot at the chassis's side for a small board."""

    kind: ClassVar[str] = "side_slot"
    title: ClassVar[str] = "slot at the side for a small board, flat or on edge, held by wrapped tape"
    Params: ClassVar[type[SectionParams]] = SideSlotParams
    may_stand_beside: ClassVar[bool] = True

    def length(self, params: SideSlotParams, setting: Setting) -> Dimension | None:
        """Return two end walls, the pocket and the room that an antenna or a card needs.

        Raises:
            InputError: the part is unknown or no board.
        """
        part = _board(params, setting)
        seat = seat_length_of(params, part, setting.fitter)
        walls = Term(WALL, 2 * params.end_wall, f"two end walls: {SOURCE}")
        room = Term("open room", open_room(part), f"{part.name}: keep-out past the board's end")
        return length_along(setting.fitter, params.name, walls, seat, (room,))

    def pin_offset(self, params: SideSlotParams, setting: Setting) -> float:
        """Return the distance of the board's middle from the near end, mm."""
        return middle_offset(params, _board(params, setting), setting.fitter)

    def plan(self, params: SideSlotParams, ctx: SectionContext) -> SectionPlan:
        """Return the board in its slot.

        Raises:
            InputError: the part is unknown or no board.
        """
        length = self.length(params, ctx.setting)
        assert length is not None
        return _Planned(params, ctx, _board(params, ctx.setting)).plan(length)

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the bar less tape recess, pocket, rooms, reliefs and the wires' gates."""
        d = plan.detail
        assert isinstance(d, SideSlotPlan)
        frame = topped(ctx.clock_deg)
        return (
            *ctx.shell(),
            *(cut("tape recess", *tape_cutters(d.tape)) if d.tape else ()),
            *(s for v in d.voids for s in cut(v.label, _box(v, frame), must_touch=v.label == "board pocket")),
        )


def _box(v: Void, frame: Frame) -> Box:
    return Box((v.x[0], v.y[0], v.z[0]), (v.x[1], v.y[1], v.z[1]), frame)


def _board(params: SideSlotParams, setting: Setting) -> Part:
    part = setting.find_part(params.part)
    if part.kind != "board":
        message = f"a part of kind {part.kind.replace('_', ' ')} can't stand in a side slot"
        problem = Problem(
            "wrong-part-kind", message, key="part", value=f'"{params.part}"', allowed="a part of kind board"
        )
        raise InputError([problem])
    return part


class _Planned(Slot, frozen=True, dict=True):
    """A slot with what others need to know of it."""

    def placed(self) -> PlacedPart:
        top, room = topped(self.ctx.clock_deg), open_room(self.part)
        along: Vec3 = (0.0, 0.0, self.sign)
        plays = (
            Play(top.x_axis, self.play),
            Play(times(top.x_axis, -1.0), self.play),
            Play(along, None if room else self.gap),
            Play(times(along, -1.0), self.gap),
            Play(times(top.y_axis, -1.0), REST),
            Play(top.y_axis, None),
        )
        name, way_in = self.ctx.name, times(top.y_axis, -1.0)
        return PlacedPart(name, self.part, self.frame, name, self.ctx.piece, way_in, plays)

    def fits(self) -> tuple[Fit, ...]:
        x = topped(self.ctx.clock_deg).x_axis
        stop: Vec3 = (0.0, 0.0, -self.sign)
        stops = (stop,) if open_room(self.part) else (stop, times(stop, -1.0))
        return board_fits(self.ctx, self.seat_width, self.seat_length, (x, times(x, -1.0)), stops)

    def terminals(self) -> tuple[PlacedTerminal, ...]:
        clock = self.ctx.clock_deg
        found = []
        for t in self.part.terminals:
            x, y = self.local(t.position)
            exits = []
            for side in self.gate_sides:
                if span := self.ways_out(side * x, y, abs(self.x[1] if side > 0 else self.x[0])):
                    low, high = (90.0 - span[1], 90.0 - span[0])
                    exits.append((clock - high, clock - low) if side > 0 else (clock + low, clock + high))
            at = self.frame.point(t.position)
            id = f"{self.ctx.name}.{t.name}"
            found.append(PlacedTerminal(id, at, tuple(exits), t.largest_wire_diameter, t.must_connect))
        return tuple(found)

    def ways_out(self, x: float, y: float, half: float) -> Range | None:
        """Return the angles over the level at which a wire may leave through the gate on the +x side, degrees."""
        r = self.ctx.radius
        return exit_angles((x, y), half, r, self.gate_base, half_chord(r, half) - 0.5, range(-30, 90))

    def obstacles(self) -> tuple[Obstacle, ...]:
        r, clock, least = self.ctx.radius, self.ctx.clock_deg, self.ctx.setting.rules.least_wall
        margin = math.degrees(least / r)
        solid = [v for v in self.voids if v.label != "wire gate"]
        found = [
            Obstacle(Slab(*v.x, v.y[0], min(v.y[1], self._surface(v)), clock), *v.z, v.label) for v in solid
        ]
        low, high = (math.degrees(math.asin(max(-1.0, min(1.0, x / r)))) for x in self.x)
        z0, z1 = min(v.z[0] for v in solid), max(v.z[1] for v in solid)
        mouth = Sector(clock - high - margin, clock - low + margin)
        found.append(Obstacle(mouth, z0 - least, z1 + least, "slot's mouth"))
        base = math.degrees(math.acos(max(-1.0, min(1.0, self.gate_base / r))))
        for z in self.gates:
            # A groove just under a gate would leave a sliver between them.
            for side in self.gate_sides:
                ends = sorted((clock - side * base, clock - side * (base + 2 * margin)))
                found.append(Obstacle(Sector(ends[0], ends[1]), *z, "wire gate"))
        return tuple(found)

    def _surface(self, v: Void) -> float:
        """Return the level at which a void's sides meet the chassis's surface."""
        return math.sqrt(max(v.y[0] ** 2, self.ctx.radius**2 - max(abs(x) for x in v.x) ** 2))

    # findings

    @cached_property
    def lowest(self) -> float:
        return min(v.y[0] for v in self.voids)

    def findings(self) -> tuple[Finding, ...]:
        found = (self.width_finding(), self.spine_finding(), self.hold_finding(), self.tape_finding())
        return tuple(f for f in found if f)

    def _other_stand(self) -> tuple[Remedy, ...]:
        words = {"flat": "lay the board flat", "edge": "stand the board on edge"}
        other = "edge" if self.flat else "flat"
        return (Remedy("stand", other, words[other]),)

    def width_finding(self) -> Finding | None:
        radius, width = self.ctx.radius, 2 * self.x[1]
        largest = 2 * MOST_MOUTH * radius
        if width <= largest:
            return None
        message = (
            f"the slot of {self.part.name} is {width:.2f} mm wide; a chassis of {2 * radius:.2f} mm takes one of "
            f"{largest:.2f} mm before the walls at its mouth end in knife edges"
        )
        numbers = {"width": width, "largest": largest, "short_by": width - largest}
        bore = math.ceil(20 * (self.ctx.bore_radius + (width - largest) / (2 * MOST_MOUTH))) / 10
        text = Remedy(None, None, f"a tube with a bore of {bore:g} mm or more, or a smaller board")
        candidates = (*self._other_stand(), text)
        return Finding(
            "error", "slot-wide", self.ctx.name, message, numbers, candidates=candidates, blocks_solids=True
        )

    def spine_finding(self) -> Finding | None:
        """Return an error where too little is left under the slot to hold both ends together."""
        least, outer = self.ctx.setting.rules.least_wall, self.ctx.outer
        far = least_surface(outer, self.ctx.z0, self.ctx.z1, self.ctx.clock_deg + 180.0, 15.0)
        corners = (
            self.ctx.radius - math.hypot(max(abs(x) for x in v.x), v.y[0])
            for v in self.voids
            if v.y[0] < 0 and v.label != "wire gate"
        )
        under, beside = far + self.lowest, min(corners, default=math.inf)
        left, wanted = min((under, 4 * least), (beside, 2 * least), key=lambda p: p[0] - p[1])
        if left >= wanted:
            return None
        message = (
            f"under the slot of {self.part.name} {max(left, 0.0):.2f} mm of the chassis are left, {wanted:g} mm are "
            f"wanted: it reaches {self.ctx.radius - self.lowest:.2f} mm into a chassis of {2 * self.ctx.radius:.2f} mm"
        )
        numbers = {"left": left, "wanted": wanted, "short_by": wanted - left}
        higher = math.floor(10 * (self.params.sunk - (wanted - left))) / 10
        raised = (Remedy("sunk", higher, f"sink the board only {higher:g} mm"),) if higher >= 0 else ()
        bore = math.ceil(20 * (self.ctx.bore_radius + (wanted - left) / 2)) / 10
        text = Remedy(None, None, f"a tube with a bore of {bore:g} mm or more, or a smaller board")
        candidates = (*raised, *self._other_stand(), text)
        return Finding(
            "error", "spine-thin", self.ctx.name, message, numbers, candidates=candidates, blocks_solids=True
        )

    def hold_finding(self) -> Finding | None:
        free = self.play if self.flat else max(self.gap, REST)
        held = self.hold.total - free
        if held >= LEAST_HOLD and (not self.flat or 2 * self.hold.total < self.seat_width.total - 1.0):
            return None
        what = "ledges" if self.flat else "grooves"
        message = (
            f"the {what} hold {held:.2f} mm of the edge of {self.part.name} (drawn {self.hold.total:.2f} mm, "
            f"parts keep {MARGIN:g} mm from them); at least {LEAST_HOLD:g} mm, and a room over 1 mm, are wanted"
        )
        numbers = {"held": held, "wanted": LEAST_HOLD, "drawn": self.hold.total}
        candidates = (Remedy("ledge", 1.5, f"{what} of 1.5 mm"), *self._other_stand())
        return Finding(
            "error", "board-hold-narrow", self.ctx.name, message, numbers, candidates=candidates,
            blocks_solids=True,
        )  # fmt: skip

    def tape_finding(self) -> Finding | None:
        tape, place, band = self.params.tape, self.band_place, self.band
        if tape is None or place is None or band is None or place[1] >= 0:
            return None
        stretch = band.width.total + place[1]
        message = (
            f"the tape's recess of {band.width.total:.2f} mm has {max(stretch, 0.0):.2f} mm of {self.part.name} "
            "beside the ways out of its wires"
        )
        narrower = math.floor(stretch - 2 * tape.side_clearance)
        numbers = {"recess": band.width.total, "stretch": stretch, "short_by": -place[1]}
        candidates = (
            (Remedy("tape.width", float(narrower), f"tape {narrower:g} mm wide"),) if narrower >= 3 else ()
        )
        return Finding(
            "error", "tape-too-wide", self.ctx.name, message, numbers, candidates=candidates,
            blocks_solids=True,
        )  # fmt: skip

    # all together

    def facts(self) -> dict[str, float]:
        top = self.seat_level.total + REST
        sizes = ("thickness", "height_above") if self.flat else ("width",)
        high = top + sum(self.part.size(s) for s in sizes)
        return {
            "gap_under_tape_mm": half_chord(self.face, self.x[1]) - high,
            "slot_depth_mm": self.ctx.radius - self.lowest,
        }

    def plan(self, length: Dimension) -> SectionPlan:
        p, ctx, name = self.params, self.ctx, self.ctx.name
        depth, width = tape_sums(self.fitter, name, p.tape)
        detail = SideSlotPlan(
            length=length,
            end_wall=self.fitter.chosen(f"{name}.end_wall", p.end_wall, "thickness of each end wall"),
            seat_width=self.seat_width,
            seat_length=self.seat_length,
            seat_level=self.seat_level,
            room_below=self.room_below,
            room_above=self.room_above,
            hold=self.hold,
            tape=self.band,
            tape_depth=depth,
            tape_width=width,
            voids=self.voids,
        )
        return SectionPlan(
            kind="side_slot",
            recesses=((detail.tape.z0, detail.tape.z1, detail.tape.inner_radius),) if detail.tape else (),
            name=name,
            z0=ctx.z0,
            z1=ctx.z1,
            piece=ctx.piece,
            detail=detail,
            parts=(self.placed(),),
            fits=self.fits(),
            obstacles=self.obstacles(),
            terminals=self.terminals(),
            hardware=tape_hardware(p.tape, 1, name),
            findings=self.findings(),
            features={"board middle": ((0.0, 0.0, self.middle), topped(ctx.clock_deg).y_axis)},
            facts=self.facts(),
            cautions=self.part.cautions,
            openings=(ctx.opening.name,) if ctx.opening else (),
        )


KIND = SideSlot()
