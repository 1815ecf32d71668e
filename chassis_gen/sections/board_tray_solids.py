"""The solid of a board tray: the bar less pocket, rooms, gates and recesses, then posts, then pin reliefs."""

from __future__ import annotations

from chassis_gen.parts.extent import extent_of
from chassis_gen.parts.model import Keepout
from chassis_gen.plan.model import OVERLAP
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.board_tray_layout import LIP_GAP, Range, Tray, wire_gates
from chassis_gen.sections.board_tray_model import BoardTrayPlan, Connector
from chassis_gen.sections.board_tray_sums import LIP_SLOPE
from chassis_gen.sections.features.board_seat import AIR, END_INSET, MARGIN, relief_radius
from chassis_gen.sections.features.seat import REST
from chassis_gen.sections.features.tape_recess import tape_cutters
from chassis_gen.shapes.frame import Frame, shifted
from chassis_gen.shapes.primitives import Box, Cylinder, Primitive, Prism
from chassis_gen.shapes.recipe import Step, cut

CONNECTOR_ROOM = 0.3


def tray_steps(d: BoardTrayPlan, ctx: SectionContext) -> tuple[Step, ...]:
    """Return a full bar less trough, rooms and recesses, then posts, then pin reliefs.

    Args:
        d: what was planned.
        ctx: where it stands.
    """
    tape = tuple(s for band in d.tape for s in cut("tape recess", *tape_cutters(band)))
    return (*ctx.shell(), *tape, *d.cutters, *d.posts, *d.reliefs)


def cutters(tray: Tray) -> tuple[Step, ...]:
    """Return what is cut before posts are added."""
    card, connectors = tray.ends.card, tray.params.connector
    return (
        *cut("board pocket", _pocket(tray)),
        *(cut("room below the board", _room_below(tray)) if tray.params.hold != "standoffs" else ()),
        *(s for b in _rims(tray) for s in cut("trimmed rim", b, must_touch=False)),
        *(s for b in _gates(tray) for s in cut("wire gate", b)),
        *(cut("card slot", card_box(tray, card)) if card else ()),
        *(s for c in connectors for s in cut("connector", connector_box(tray, c))),
    )


def _pocket(tray: Tray) -> Primitive:
    """Return the pocket; under a lip it ends there, and slopes at the near end, where the board tilts out."""
    low = tray.floor if tray.params.hold == "standoffs" else tray.seat
    near, far, out, lip = tray.near, tray.far, tray.out, tray.lip
    if tray.params.hold != "edge_grooves":
        return tray.box((-tray.half, tray.half), (low, out), (near, far))
    t = tray.top
    side = Frame((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), t.y_axis, (-t.x_axis[0], -t.x_axis[1], 0.0))
    under_lip = tray.underside + tray.part.sizes["thickness"].largest + LIP_GAP
    outline = (
        (near, low),
        (far, low),
        (far, under_lip),
        (far - lip, under_lip + lip / LIP_SLOPE),
        (far - lip, out),
        (near - LIP_SLOPE * (out - low), out),
    )
    return Prism(outline, -tray.half, tray.half, frame=side)


def _room_below(tray: Tray) -> Box:
    w = tray.fitted.room_width.total / 2
    return tray.box((-w, w), (tray.floor, tray.seat + 0.5), (tray.near + END_INSET, tray.far - END_INSET))


def _sides(tray: Tray) -> tuple[Range, Range]:
    """Return what lies across beyond the pocket, on the -x side and on the +x side, and a little of it."""
    return (-tray.out, 0.5 - tray.half), (tray.half - 0.5, tray.out)


def _rims(tray: Tray) -> tuple[Box, ...]:
    z = (tray.near - END_INSET, tray.far + END_INSET)
    return tuple(tray.box(x, (tray.rim, tray.out), z) for x in _sides(tray))


def _gates(tray: Tray) -> tuple[Box, ...]:
    y = (tray.underside, tray.out)
    return tuple(tray.box(x, y, z) for z in wire_gates(tray) for x in _sides(tray))


def card_box(tray: Tray, card: Keepout) -> Box:
    """Return what is cut for a card: room to pull it within the tray, or an opening in the end wall.

    Args:
        tray: where the board lies.
        card: the card's keep-out.
    """
    low, high = extent_of(card.solid)
    half, base, in_tray = high[0] + AIR, tray.underside, tray.params.card == "room"
    x, y = (-half, half), (base + low[2] - AIR, tray.out if in_tray else base + high[2] + AIR)
    if tray.params.front == "far":
        end = tray.far + tray.ends.card_room if in_tray else tray.ctx.z1 + 2 * OVERLAP
        # before an open room the lip would be a curtain of its own: it is left at the shoulders only
        lip = tray.lip if tray.params.hold == "edge_grooves" and in_tray else 0.0
        return tray.box(x, y, (tray.far - lip - 0.5, end))
    end = tray.near - tray.ends.card_room if in_tray else tray.ctx.z0 - 2 * OVERLAP
    return tray.box(x, y, (end, tray.near + 0.5))


def connector_box(tray: Tray, c: Connector) -> Box:
    """Return what is cut for a plug or cable.

    Args:
        tray: where the board lies.
        c: the plug's keys.
    """
    base = tray.underside + tray.part.size("thickness") + c.base - MARGIN
    a, b = c.offset - c.width / 2 - CONNECTOR_ROOM, c.offset + c.width / 2 + CONNECTOR_ROOM
    y = (base, tray.out)
    if c.side in ("left", "right"):
        right, left = _sides(tray)
        return tray.box(left if c.side == "left" else right, y, (tray.middle + a, tray.middle + b))
    far = (tray.far - 0.5, tray.ctx.z1 + 2 * OVERLAP)
    near = (tray.ctx.z0 - 2 * OVERLAP, tray.near + 0.5)
    return tray.box((-b, -a), y, far if c.side == "far" else near)


def pin_reliefs(tray: Tray) -> tuple[Step, ...]:
    """Return holes in the ledges for the pins that stand over them."""
    part, fitted = tray.part, tray.fitted
    if not part.has("pin_length"):
        return ()
    r, frame = relief_radius(part, fitted.play, fitted.gap), tray.board_frame
    wide, long = fitted.room_width.total / 2, fitted.length.total / 2 - END_INSET
    solids = [
        Cylinder(r, 0.1 - fitted.below.total, 0.5, frame @ shifted(x, y, -REST))
        for x, y in (t.position[:2] for t in part.terminals)
        if abs(x) + r > wide or abs(y) + r > long
    ]
    return cut("pin relief", *solids, must_touch=tray.params.hold != "standoffs")
