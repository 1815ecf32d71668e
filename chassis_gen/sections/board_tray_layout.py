"""Where a board lies in its tray: heights, stations, tape recesses and the gates that its wires leave through.

Origin and axes: the tube's; heights count from the tube's axis toward the section's top, across runs at right
angles to it.
"""

from __future__ import annotations

from msgspec import Struct

from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Dimension
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.board_tray_height import reach_across, seat_height
from chassis_gen.sections.board_tray_model import BoardTrayParams
from chassis_gen.sections.board_tray_sums import (
    LIP_SLOPE,
    Ends,
    Fitted,
    fitted_board,
    pocket_offset,
    room_at_ends,
)
from chassis_gen.sections.features.board_seat import END_INSET
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.features.surface import without_ribs
from chassis_gen.sections.features.tape_recess import TapeBand, plan_tape_recess
from chassis_gen.sections.features.wire_gate import GATE_HALF, joined
from chassis_gen.shapes.frame import Frame, Vec3, topped
from chassis_gen.shapes.primitives import Box

LIP_GAP = 0.1
GATE_JOIN = 2.0
"""Less than this between two gates, or between a gate and the pocket's end, is cut away too, mm (chosen)."""

Range = tuple[float, float]


class Tray(Struct, frozen=True):
    """One tray where it stands, mm.

    Args:
        params: the tray's keys.
        ctx: where it stands.
        fitted: the board's fitted sizes.
        ends: what the board's ends need.
        seat_height: of the ledges over the axis.
        stop_near: station where the board's own pocket begins.
        stop_far: station where it ends.
        near: station of the pocket's near end, with what the antenna needs.
        far: station of its far end, likewise.
        bands: tape recesses.
    """

    params: BoardTrayParams
    ctx: SectionContext
    fitted: Fitted
    ends: Ends
    seat_height: Dimension
    stop_near: float
    stop_far: float
    near: float
    far: float
    bands: tuple[TapeBand, ...]

    @property
    def part(self) -> Part:
        """Return the board."""
        return self.fitted.part

    @property
    def seat(self) -> float:
        """Return the height of the ledges."""
        return self.seat_height.total

    @property
    def underside(self) -> float:
        """Return the height of the resting board's underside, down to which wire gates are open."""
        return self.seat + REST

    @property
    def floor(self) -> float:
        """Return the height of the floor of the room below the board."""
        return self.seat - self.fitted.below.total

    @property
    def half(self) -> float:
        """Return half the pocket's width."""
        return self.fitted.width.total / 2

    @property
    def rim(self) -> float:
        """Return the height to which the walls beside the pocket are trimmed."""
        return reach_across(self.ctx.radius, self.half + self.params.wall)

    @property
    def lip(self) -> float:
        """Return how deep the lip may be: components must pass it, and the board play under it."""
        wanted = self.params.lip + self.fitted.gap
        if self.part.size("height_above") == 0:
            return wanted
        return min(wanted, self.part.size("margin_above") - LIP_GAP)

    @property
    def tilt_near(self) -> float:
        """Return the station that a board tilting out from under its lip reaches at the surface."""
        return self.near - LIP_SLOPE * (self.ctx.radius - self.seat)

    @property
    def middle(self) -> float:
        """Return the station of the board's middle."""
        return self.stop_near + self.fitted.length.total / 2

    @property
    def out(self) -> float:
        """Return a radius outside the chassis."""
        return self.ctx.outer.largest_radius(self.ctx.z0, self.ctx.z1) + 1.0

    @property
    def top(self) -> Frame:
        """Return the frame whose +y points to the section's top, at the tube's origin."""
        return topped(self.ctx.clock_deg)

    @property
    def down(self) -> Vec3:
        """Return the direction away from the section's top."""
        y = self.top.y_axis
        return (-y[0], -y[1], 0.0)

    @property
    def across(self) -> tuple[Vec3, Vec3]:
        """Return both directions across."""
        x = self.top.x_axis
        return x, (-x[0], -x[1], 0.0)

    @property
    def board_frame(self) -> Frame:
        """Return the part's frame: +z to the top, +y along the tube toward the front."""
        t, sign = self.top, 1.0 if self.params.front == "far" else -1.0
        x: Vec3 = (-sign * t.x_axis[0], -sign * t.x_axis[1], 0.0)
        return Frame(t.point((0.0, self.underside, self.middle)), x, (0.0, 0.0, sign), t.y_axis)

    def box(self, x: Range, y: Range, z: Range) -> Box:
        """Return a block given across, in height and in stations."""
        return Box((x[0], y[0], z[0]), (x[1], y[1], z[1]), self.top)


def laid_out(params: BoardTrayParams, ctx: SectionContext) -> Tray:
    """Return where the board, its pocket and its tape lie.

    Raises:
        InputError: the part is unknown or no board.
    """
    fitted = fitted_board(params, ctx.setting)
    ends = room_at_ends(params, fitted.part, ctx.setting)
    stop_near = ctx.z0 + pocket_offset(params, ends)
    stop_far = stop_near + fitted.length.total
    at_near = params.front == "near"
    return Tray(
        params=params,
        ctx=ctx,
        fitted=fitted,
        ends=ends,
        seat_height=seat_height(params, ctx, fitted),
        stop_near=stop_near,
        stop_far=stop_far,
        near=stop_near - (ends.open_room if at_near else 0.0),
        far=stop_far + (0.0 if at_near else ends.open_room),
        bands=_tape_bands(params, ctx, stop_near, fitted.length.total),
    )


def _tape_bands(
    params: BoardTrayParams, ctx: SectionContext, stop_near: float, long: float
) -> tuple[TapeBand, ...]:
    """Return the tape recesses, evenly over the board; a single one at the end that no lip holds."""
    tape, n = params.tape, params.tape_bands
    if tape is None:
        return ()
    spots = [stop_near + long * (i + 0.5) / n for i in range(n)]
    if params.hold == "edge_grooves" and n == 1:
        width = tape.width + 2 * tape.side_clearance
        spots = [stop_near + min(long / 2, width / 2 + 1.0)]
    name, fitter = f"{ctx.name}.tape", ctx.setting.fitter
    return tuple(plan_tape_recess(fitter, name, tape, ctx.outer, z) for z in spots)


def wire_gates(tray: Tray) -> tuple[Range, ...]:
    """Return the stations between which the walls are open beside the terminals, so that wires get out."""
    frame = tray.board_frame
    spots = sorted(frame.point(t.position)[2] for t in tray.part.terminals)
    low, high = tray.near - END_INSET, tray.far + END_INSET
    recesses = [(band.z0, band.z1) for band in tray.bands]
    rib, outer = tray.ctx.setting.rules.least_wall, tray.ctx.outer

    def gate(a: float, b: float) -> Range:
        a, b = low if a - tray.near < GATE_JOIN else a, high if tray.far - b < GATE_JOIN else b
        return without_ribs(outer, recesses, (a, b), rib, END_INSET)

    return tuple(gate(*span) for span in joined(((z - GATE_HALF, z + GATE_HALF) for z in spots), GATE_JOIN))
