"""The layout of a side slot: its sums, where the board stands in it, and what is cut.

Origin and axes: the slot's frame, its origin on the tube's axis, +y out of the slot at the section's clock, +x at
falling clocks, +z along the tube. A board on edge has its component side toward +x.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cached_property
from typing import Literal

from msgspec import Struct
from pydantic import Field

from chassis_gen.params.quantities import NonNegativeLength, PositiveLength
from chassis_gen.parts.model import Part
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import PART_SIZE, Dimension, Term
from chassis_gen.sections.base import SectionContext, SectionParams
from chassis_gen.sections.features.board_seat import (
    AIR,
    BOARD_FIT,
    END_INSET,
    MARGIN,
    deepest_below,
    open_room,
    relief_radius,
)
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.features.surface import half_chord, least_surface, without_ribs
from chassis_gen.sections.features.tape_recess import (
    TapeBand,
    TapeRecess,
    plan_tape_recess,
    tape_depth,
    tape_width,
)
from chassis_gen.sections.features.wire_gate import GATE_DIP, GATE_HALF, joined
from chassis_gen.shapes.frame import Frame, Vec3, topped

SOURCE = "parameter file or its default"
DEFAULT_TAPE = TapeRecess.model_validate({})

Range = tuple[float, float]


class SideSlotParams(SectionParams):
    """Keys of a side slot."""

    kind: Literal["side_slot"] = "side_slot"
    part: str = Field("radio board", min_length=1, max_length=60, description="a small board")
    stand: Literal["flat", "edge"] = Field(
        "flat", description="lying under the surface, or on edge toward the axis"
    )
    front: Literal["far", "near"] = Field("far", description="where its +y end (card, antenna) points")
    sunk: NonNegativeLength = Field(0.0, description="how much deeper than right under the tape it lies")
    ledge: PositiveLength = Field(
        1.5,
        description="width of the ledges, or depth of the grooves; less where parts stand close to the edge",
    )
    end_wall: PositiveLength = Field(2.4, description="thickness of each end wall")
    tape: TapeRecess | None = Field(
        DEFAULT_TAPE, description="recess for the tape over the slot that holds the board"
    )


class Void(Struct, frozen=True):
    """A box that is cut, in the slot's frame, mm."""

    label: str
    x: Range
    y: Range
    z: Range


# what is known before the station -------------------------------------------------------------------------


def seat_length_of(params: SideSlotParams, part: Part, fitter: Fitter) -> Dimension:
    """Return the pocket along the tube, where the board stops, mm.

    Args:
        params: the section's keys.
        part: the board.
        fitter: makes labelled sums.
    """
    name = f"{params.name}.seat_length"
    return fitter.inner(name, part.sizes["length"], BOARD_FIT, "pocket along the tube", part.name)


def middle_offset(params: SideSlotParams, part: Part, fitter: Fitter) -> float:
    """Return how far the board's middle lies from the section's near end, mm.

    Args:
        params: the section's keys.
        part: the board.
        fitter: makes labelled sums.
    """
    front = open_room(part) if params.front == "near" else 0.0
    return params.end_wall + front + seat_length_of(params, part, fitter).total / 2


class Slot(Struct, frozen=True, dict=True):
    """One slot while it is planned: what is asked, where it stands and what follows from both.

    Args:
        params: the section's keys.
        ctx: where it stands.
        part: the board.
    """

    params: SideSlotParams
    ctx: SectionContext
    part: Part

    # sums

    @property
    def flat(self) -> bool:
        """Return whether the board lies flat."""
        return self.params.stand == "flat"

    @property
    def fitter(self) -> Fitter:
        """Return what makes labelled sums."""
        return self.ctx.setting.fitter

    @cached_property
    def seat_width(self) -> Dimension:
        """Return the pocket across (flat) or the width of the grooves (on edge)."""
        size, note = (
            ("width", "pocket across") if self.flat else ("thickness", "grooves of the board's edges")
        )
        return self.fitter.inner(
            f"{self.ctx.name}.seat_width", self.part.sizes[size], BOARD_FIT, note, self.part.name
        )

    @cached_property
    def seat_length(self) -> Dimension:
        """Return the pocket along the tube."""
        return seat_length_of(self.params, self.part, self.fitter)

    @property
    def play(self) -> float:
        """Return the play across per side in the model, mm."""
        return (self.seat_width.total - self.seat_width.term(PART_SIZE)) / 2

    @property
    def gap(self) -> float:
        """Return the play along per end in the model, mm."""
        return (self.seat_length.total - self.part.size("length")) / 2

    @cached_property
    def room_below(self) -> Dimension:
        """Return the room at the board's underside."""
        return self._room("room_below", deepest_below(self.part), "on the board's underside")

    @cached_property
    def room_above(self) -> Dimension | None:
        """Return the room at the component side of a board on edge."""
        return (
            None if self.flat else self._room("room_above", "height_above", "on the board's component side")
        )

    def _room(self, name: str, key: str, note: str) -> Dimension:
        size = self.part.sizes[key]
        source = f"{self.part.name}: {key.replace('_', ' ')}, {size.source}"
        terms = [
            Term(PART_SIZE, size.value, source, size.tolerance),
            Term("tolerance", size.tolerance, "the largest part"),
            Term("spare", AIR, "air beside parts and joints: chosen"),
        ]
        if not self.flat:
            terms.append(Term("play", self.play, "the board moves in its grooves"))
        return self.fitter.summed(f"{self.ctx.name}.{name}", tuple(terms), f"room {note}")

    @cached_property
    def hold(self) -> Dimension:
        """Return the ledges' width or the grooves' depth: as asked, less where parts stand close to the edge."""
        sides = ("below",) if self.flat else ("below", "above")
        margins = [self.part.size(f"margin_{s}") for s in sides if self.part.size(f"height_{s}") > 0]
        wanted, note = self.params.ledge, "ledges' width" if self.flat else "grooves' depth"
        free = min(margins, default=math.inf) - MARGIN
        source = SOURCE if wanted <= free else f"{self.part.name}: its edge to its parts, less {MARGIN:g}"
        return self.fitter.chosen(f"{self.ctx.name}.hold", max(0.0, min(wanted, free)), note, source)

    @cached_property
    def x(self) -> Range:
        """Return the slot's whole width, in the slot's frame."""
        if self.room_above is None:
            return -self.seat_width.total / 2, self.seat_width.total / 2
        whole = self.room_below.total + self.part.size("thickness") + self.room_above.total
        return -whole / 2, whole / 2

    @cached_property
    def plate(self) -> float:
        """Return where the middle of the board's thickness lies across, on edge."""
        return self.x[0] + self.room_below.total + self.part.size("thickness") / 2

    @cached_property
    def face(self) -> float:
        """Return the level at which the tape lies over the slot's mouth, or the surface without tape."""
        half = self.x[1]
        radius = self.ctx.radius
        angle = math.degrees(math.asin(min(1.0, half / radius)))
        surface = least_surface(self.ctx.outer, self.ctx.z0, self.ctx.z1, self.ctx.clock_deg, angle)
        tape = tape_depth(self.fitter, "", self.params.tape).total if self.params.tape else MARGIN
        return min(surface, radius - tape)

    @cached_property
    def seat_level(self) -> Dimension:
        """Return the level of what the board rests on: right under the tape, less what it is sunk."""
        sizes = ("thickness", "height_above") if self.flat else ("width",)
        half, face = self.x[1], self.face
        sag = face - half_chord(face, half)
        terms = [
            Term("outer radius", self.ctx.radius, "the chassis's smallest radius here"),
            Term("surface", face - self.ctx.radius, "the tape's recess, or the flat; without tape chosen"),
            Term("sagitta", -sag, f"the tape lies straight over {2 * half:.2f} mm of mouth (plane geometry)"),
        ]
        for name in sizes:
            size = self.part.sizes[name]
            words = name.replace("_", " ")
            terms.append(Term(words, -size.value, f"{self.part.name}: {size.source}", size.tolerance))
            terms.append(Term("tolerance", -size.tolerance, f"the largest {words}"))
        terms.append(Term("sunk", -self.params.sunk, SOURCE))
        terms.append(Term("rest", -REST, "gap under the resting board in the model"))
        note = "what the board rests on, over the tube's axis"
        return self.fitter.summed(f"{self.ctx.name}.seat_level", tuple(terms), note)

    # places

    @property
    def sign(self) -> float:
        """Return which way the board's +y end points along the tube."""
        return 1.0 if self.params.front == "far" else -1.0

    @cached_property
    def middle(self) -> float:
        """Return the station of the board's middle, mm."""
        return self.ctx.z0 + middle_offset(self.params, self.part, self.fitter)

    @cached_property
    def frame(self) -> Frame:
        """Return the part's frame in tube coordinates."""
        top, sign = topped(self.ctx.clock_deg), self.sign
        level = self.seat_level.total + REST
        if self.flat:
            x = times(top.x_axis, -sign)
            return Frame(top.point((0.0, level, self.middle)), x, (0.0, 0.0, sign), top.y_axis)
        under = self.plate - self.part.size("thickness") / 2
        origin = top.point((under, level + self.part.size("width") / 2, self.middle))
        return Frame(origin, times(top.y_axis, sign), (0.0, 0.0, sign), top.x_axis)

    def z(self, a: float, b: float) -> Range:
        """Return stations of a range along the board's own y from its middle."""
        ends = sorted((self.middle + self.sign * a, self.middle + self.sign * b))
        return ends[0], ends[1]

    def local(self, position: Vec3) -> tuple[float, float]:
        """Return a place on the part across and over the axis, in the slot's frame."""
        top, p = topped(self.ctx.clock_deg), self.frame.point(position)
        return p[0] * top.x_axis[0] + p[1] * top.x_axis[1], p[0] * top.y_axis[0] + p[1] * top.y_axis[1]

    @cached_property
    def out(self) -> float:
        """Return a radius outside the chassis, mm."""
        return self.ctx.outer.largest_radius(self.ctx.z0, self.ctx.z1) + 1.0

    # voids

    @cached_property
    def voids(self) -> tuple[Void, ...]:
        """Return what is cut."""
        return (*(self._flat_voids() if self.flat else self._edge_voids()), *self._reliefs(), *self._gates())

    def _flat_voids(self) -> Iterator[Void]:
        half, room, hold = self.seat_length.total / 2, open_room(self.part), self.hold.total
        low = self.seat_level.total
        yield Void("board pocket", self.x, (low, self.out), self.z(-half, half + room))
        x = (self.x[0] + hold, self.x[1] - hold)
        y = (low - self.room_below.total, low + 0.5)
        yield Void("room below the board", x, y, self.z(END_INSET - half, half + room - END_INSET))

    def _edge_voids(self) -> Iterator[Void]:
        half, room, hold = self.seat_length.total / 2, open_room(self.part), self.hold.total
        low, groove = self.seat_level.total, self.seat_width.total / 2
        yield Void(
            "board pocket", (self.plate - groove, self.plate + groove), (low, self.out), self.z(-half, half)
        )
        front = half if room else half - hold
        yield Void("room beside the board", self.x, (low + hold, self.out), self.z(hold - half, front))
        if room:
            y = (low - END_INSET, self.out)
            yield Void("room past the board", self.x, y, self.z(half - END_INSET, half + room))

    def _reliefs(self) -> Iterator[Void]:
        """Yield ways in for the pins that stand over ledges or in grooves."""
        if not self.part.has("pin_length"):
            return
        r = relief_radius(self.part, self.play, self.gap)
        held = self.part.size("length") / 2 - (0.0 if self.flat else self.hold.total)
        low = self.seat_level.total
        for t in self.part.terminals:
            x, y = self.local((t.position[0], t.position[1], 0.0))
            v = t.position[1]
            over = abs(x) + r > self.x[1] - self.hold.total if self.flat else y - r < low + self.hold.total
            if not over and abs(v) + r <= held:
                continue
            if self.flat:
                yield Void(
                    "pin relief",
                    (x - r, x + r),
                    (low - self.room_below.total + 0.1, low + 0.5),
                    self.z(v - r, v + r),
                )
            else:
                across = (self.x[0] + 0.1, self.plate)
                yield Void("pin relief", across, (max(y - r, low), self.out), self.z(v - r, v + r))

    def gate_spans(self) -> tuple[Range, ...]:
        """Return the stations between which a wall is open beside the terminals, so that wires get out."""
        end = self.seat_length.total / 2 - (0.0 if self.flat else self.hold.total)
        spans = (
            (min(v, max(v - GATE_HALF, -end)), max(v, min(v + GATE_HALF, end)))
            for v in sorted(t.position[1] for t in self.part.terminals)
        )
        return joined(spans, 2 * self.ctx.setting.rules.least_wall)

    @cached_property
    def gates(self) -> tuple[Range, ...]:
        """Return the stations of the gates, with no thin rib beside them."""
        recesses = ((self.band.z0, self.band.z1),) if self.band else ()
        least = self.ctx.setting.rules.least_wall
        return tuple(
            without_ribs(self.ctx.outer, recesses, self.z(*span), least, END_INSET)
            for span in self.gate_spans()
        )

    @cached_property
    def gate_sides(self) -> tuple[float, ...]:
        """Return on which sides wires leave: both where the board lies flat, else that of the joints."""
        if self.flat:
            return (1.0, -1.0)
        middle = self.part.size("thickness") / 2
        return tuple(sorted({1.0 if t.position[2] >= middle else -1.0 for t in self.part.terminals}))

    @cached_property
    def gate_base(self) -> float:
        """Return the level down to which the gates are open."""
        low = self.seat_level.total + REST
        levels = [self.local(t.position)[1] for t in self.part.terminals]
        wanted = min(levels, default=low) - GATE_DIP
        return min(low, wanted) if self.flat else max(low + MARGIN, wanted)

    def _gates(self) -> Iterator[Void]:
        for z in self.gates:
            for side in self.gate_sides:
                x = (self.x[1] - 0.5, self.out) if side > 0 else (-self.out, self.x[0] + 0.5)
                yield Void("wire gate", x, (self.gate_base, self.out), z)

    # tape

    @cached_property
    def band_place(self) -> tuple[float, float] | None:
        """Return the tape's middle from the board's, and how much longer its stretch is than it, mm.

        Negative where the gates leave too little.
        """
        if self.params.tape is None:
            return None
        wide = tape_width(self.fitter, "", self.params.tape).total
        least, half = self.ctx.setting.rules.least_wall, self.part.size("length") / 2
        marks = [-half, *(m for a, b in self.gate_spans() for m in (a - least, b + least)), half]
        free = [(marks[i], marks[i + 1]) for i in range(0, len(marks), 2)]
        a, b = min(free, key=lambda s: (s[1] - s[0] < wide, max(0.0, abs(s[0] + s[1]) / 2)))
        return min(max(0.0, a + wide / 2), b - wide / 2), b - a - wide

    @cached_property
    def band(self) -> TapeBand | None:
        """Return the tape's recess."""
        tape, place = self.params.tape, self.band_place
        if tape is None or place is None:
            return None
        middle = self.middle + self.sign * place[0]
        return plan_tape_recess(self.fitter, f"{self.ctx.name}.tape", tape, self.ctx.outer, middle)


def times(v: Vec3, k: float) -> Vec3:
    """Return a vector made longer by a factor.

    Args:
        v: the vector.
        k: the factor.
    """
    return k * v[0], k * v[1], k * v[2]
