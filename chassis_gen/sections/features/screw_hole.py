"""Screw hole: bore, counterbore for the head, pocket for a captive nut, roof where it lies in the print.

Origin and axes: the hole's own frame; z = 0 is the face where the screw enters or its head bears,
the screw advances along +z. A hole that lies in the print gets a flat-topped teardrop roof toward
print-up, because a round roof sags.

         .---.          seen along the hole:
        /     \\         45 degree flanks meet a short bridge
       |   o   |        instead of the round top
        \\_____/
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Literal

from msgspec import Struct

from chassis_gen.findings import Finding, Remedy
from chassis_gen.parts.model import Measure
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, ScrewHole
from chassis_gen.plan.sums import Dimension
from chassis_gen.shapes.frame import Frame, Vec3
from chassis_gen.shapes.primitives import Cylinder, Primitive, Prism
from chassis_gen.shapes.recipe import Step, cut
from chassis_gen.tables.holes import ScrewFit, hole_for
from chassis_gen.tables.threads import find_thread

UP: Vec3 = (0.0, 1.0, 0.0)
LYING_LIMIT = math.sqrt(0.5)
"""Sine of the slope from the bed up to which a hole lies: 45 degrees, the usual overhang limit."""
ROOF_TOP = 1.2
"""Height of a roof's flat top over the axis, in radii; a full teardrop would reach the square root of 2."""
_TANGENT = 0.99
"""Flanks start this share of the radius out, so that they cross the round wall instead of grazing it."""


class Counterbore(Struct, frozen=True):
    """A wider, flat-bottomed mouth for a screw's head, outward from the face on which the head bears.

    Args:
        diameter: labelled sum, mm.
        reach: from that face outward, mm.
    """

    diameter: Dimension
    reach: float


class NutPocket(Struct, frozen=True):
    """A hexagonal pocket that holds a nut against turning.

    Args:
        across_flats: labelled sum, mm.
        height: labelled sum of the pocket's size along the hole, mm.
        z0: where the pocket begins along the hole, mm.
        entry: ``end``: open at its far end, the nut goes in against the screw; ``side``: open to one side.
        side_deg: side entry: direction in the hole's frame, degrees from +x toward +y.
        side_reach: side entry: how far from the axis the slot runs, mm.
    """

    across_flats: Dimension
    height: Dimension
    z0: float
    entry: Literal["end", "side"] = "end"
    side_deg: float = 0.0
    side_reach: float = 0.0


class ShapedHole(ScrewHole, frozen=True):
    """A screw hole with what surrounds it.

    Args:
        counterbore: mouth for the head, if any.
        nut: pocket for a captive nut, if any.
        roofed: True when the bore gets a roof toward `up`.
        up: unit vector that points up in the print.
        through: True when the bore leaves the material at `depth` and the cutter overshoots there.
    """

    counterbore: Counterbore | None = None
    nut: NutPocket | None = None
    roofed: bool = False
    up: Vec3 = UP
    through: bool = False


def lies(frame: Frame, up: Vec3 = UP) -> bool:
    """Return whether a hole's axis lies in the print, within 45 degrees of level.

    Args:
        frame: the hole's frame.
        up: unit vector that points up in the print.
    """
    return abs(sum(a * u for a, u in zip(frame.z_axis, up, strict=True))) < LYING_LIMIT


def plan_hole(
    fitter: Fitter,
    id: str,
    kind: str,
    thread: str,
    frame: Frame,
    depth: float,
    piece: str,
    engagement: float | None = None,
    *,
    up: Vec3 = UP,
    counterbore: Counterbore | None = None,
    nut: NutPocket | None = None,
    through: bool = False,
    screw_fit: ScrewFit = "medium",
) -> ShapedHole:
    """Return a screw hole with its diameter, least engagement and least wall from the tables.

    Args:
        fitter: makes labelled sums.
        id: ``section.hole``; the diameter's name is the id with ``_diameter`` added.
        kind: hole kind of `chassis_gen.tables.holes`.
        thread: designation.
        frame: the hole's frame.
        depth: how far the hole reaches, mm.
        piece: owner.
        engagement: threaded length that bears, mm; by default `depth` where the plastic holds the
            thread, the least engagement in a nut or insert, 0 in a clearance hole.
        up: unit vector that points up in the print.
        counterbore: mouth for the head.
        nut: pocket for a captive nut.
        through: True when the bore leaves the material at `depth`.
        screw_fit: clearance class of a clearance hole.

    Raises:
        InputError: the thread or the kind is unknown.
    """
    spec = hole_for(kind, find_thread(thread), "plastic", screw_fit)
    lying = lies(frame, up)
    note = f"{kind.replace('_', ' ')} hole for {spec.thread.designation}"
    in_metal = spec.kind in ("captive_nut", "insert")
    bears = spec.min_engagement if in_metal or not spec.min_engagement else depth
    return ShapedHole(
        id=id,
        kind=spec.kind,
        thread=spec.thread.designation,
        frame=frame,
        depth=depth,
        diameter=fitter.hole(f"{id}_diameter", spec.diameter, spec.sources[0], note, lying),
        engagement=bears if engagement is None else engagement,
        least_engagement=spec.min_engagement,
        least_wall=spec.min_wall,
        piece=piece,
        lying=lying,
        counterbore=counterbore,
        nut=nut,
        roofed=lying and spec.teardrop_when_lying,
        up=up,
        through=through,
    )


def plan_nut(
    fitter: Fitter,
    name: str,
    thread: str,
    z0: float,
    entry: Literal["end", "side"] = "end",
    side_deg: float = 0.0,
    side_reach: float = 0.0,
) -> NutPocket:
    """Return a pocket that a nut slides into and can't turn in.

    Args:
        fitter: makes labelled sums.
        name: stem of the dimension names; ``_across_flats`` and ``_height`` are added.
        thread: designation of the screw.
        z0: where the pocket begins along the hole, mm.
        entry: how the nut goes in.
        side_deg: side entry: direction in the hole's frame, degrees.
        side_reach: side entry: how far from the axis the slot runs, mm.

    Raises:
        InputError: the thread is unknown.
    """
    nut = find_thread(thread).nut
    flats = _between(nut.across_flats_min, nut.across_flats_max, nut.source)
    height = _between(nut.height_min, nut.height_max, nut.source)
    return NutPocket(
        fitter.inner(f"{name}_across_flats", flats, "slide", "nut pocket between its flats", "nut"),
        fitter.inner(f"{name}_height", height, "slide", "nut pocket along the screw", "nut"),
        z0,
        entry,
        side_deg,
        side_reach,
    )


def hole_finding(hole: ScrewHole) -> Finding | None:
    """Return what the tables have to say against a thread in this kind of hole, if anything.

    Args:
        hole: the hole.
    """
    spec = hole_for(hole.kind, find_thread(hole.thread))
    if spec.finding is None:
        return None
    level, text = spec.finding
    remedy = Remedy(None, None, "another kind of hole (an insert, thread-forming), or a thicker screw")
    return Finding(
        "error" if level == "error" else "warning", "screw-too-small", hole.id, text, remedy=remedy
    )


def edge_said(hole_id: str, findings: Iterable[Finding]) -> bool:
    """Return whether findings say already that there is too little material beside a hole.

    What is said of one hole of a circle is meant of all of them.

    Args:
        hole_id: such as ``plate.hole_1_2``.
        findings: what is said.
    """
    return any(
        (f.code == "screw-edge" and f.where == hole_id)
        or (f.code in _OF_A_CIRCLE and circle_of(f.where) == circle_of(hole_id))
        for f in findings
    )


def circle_of(hole_id: str) -> str:
    """Return the name of the circle that a hole belongs to, its own where it stands alone.

    Args:
        hole_id: such as ``plate.hole_1_2``, the second of the first circle.
    """
    return hole_id.rpartition("_")[0] if _IN_A_CIRCLE.search(hole_id) else hole_id


_IN_A_CIRCLE = re.compile(r"_\d+_\d+$")
_OF_A_CIRCLE = ("edge-distance", "hole-spacing")


def hole_cutters(hole: ScrewHole) -> tuple[Primitive, ...]:
    """Return what to cut for a screw hole, in tube coordinates.

    Args:
        hole: the hole; a `ShapedHole` also gets its roof, counterbore and nut pocket.
    """
    if not isinstance(hole, ShapedHole):
        return (_bore(hole, hole.depth),)
    end = hole.depth + (OVERLAP if hole.through else 0.0)
    cutters: list[Primitive] = [_bore(hole, end)]
    if hole.roofed:
        cutters.append(_roof(hole, end))
    if hole.counterbore:
        c = hole.counterbore
        cutters.append(Cylinder(c.diameter.total / 2, -c.reach, 0.0, hole.frame))
    if hole.nut:
        cutters.append(_nut_solid(hole.nut, hole.frame))
    return tuple(cutters)


def hole_cuts(label: str, holes: Iterable[ScrewHole], piece: str | None = None) -> tuple[Step, ...]:
    """Return the steps that cut screw holes, in tube coordinates.

    Args:
        label: of the steps.
        holes: the holes.
        piece: only those of this piece; left out: all.
    """
    own = (h for h in holes if piece is None or h.piece == piece)
    return tuple(step for h in own for step in cut(label, *hole_cutters(h)))


def _bore(hole: ScrewHole, end: float) -> Cylinder:
    return Cylinder(hole.diameter.total / 2, -OVERLAP, end, hole.frame)


def _roof(hole: ShapedHole, end: float) -> Prism:
    """Return the kite over the bore whose flanks stand at 45 degrees and whose tip is cut flat."""
    r = hole.diameter.total / 2
    side, tip, flat = r * _TANGENT * math.sqrt(0.5), r * _TANGENT * math.sqrt(2.0), r * ROOF_TOP
    outline = ((0.0, 0.0), (side, side), (tip - flat, flat), (flat - tip, flat), (-side, side))
    return Prism(outline, -OVERLAP, end, frame=_upright(hole))


def _upright(hole: ShapedHole) -> Frame:
    """Return the hole's frame turned about its axis so that its +y points as far up as it can."""
    z = hole.frame.z_axis
    along = sum(a * u for a, u in zip(z, hole.up, strict=True))
    level = tuple(u - along * a for a, u in zip(z, hole.up, strict=True))
    size = math.hypot(*level)
    y = (level[0] / size, level[1] / size, level[2] / size)
    x = (y[1] * z[2] - y[2] * z[1], y[2] * z[0] - y[0] * z[2], y[0] * z[1] - y[1] * z[0])
    return Frame(hole.frame.origin, x, y, z)


def _nut_solid(nut: NutPocket, frame: Frame) -> Prism:
    half = nut.across_flats.total / 2
    corner = half * 2 / math.sqrt(3.0)
    z1 = nut.z0 + nut.height.total
    if nut.entry == "end":
        hexagon = tuple(
            (corner * math.cos(t), corner * math.sin(t)) for t in (math.pi / 3 * k for k in range(6))
        )
        return Prism(hexagon, nut.z0, z1 + OVERLAP, frame=frame)
    reach = max(nut.side_reach, corner)
    outline = ((reach, -half), (reach, half), (-corner / 2, half), (-corner, 0.0), (-corner / 2, -half))
    turn = math.radians(nut.side_deg)
    c, s = math.cos(turn), math.sin(turn)
    turned = Frame((0.0, 0.0, 0.0), (c, s, 0.0), (-s, c, 0.0), (0.0, 0.0, 1.0))
    return Prism(outline, nut.z0, z1, frame=frame @ turned)


def _between(low: float, high: float, source: str) -> Measure:
    """Return the largest size that a table allows: a pocket must take every nut."""
    return Measure(high, 0.0, f"{source}, largest of {low:g} to {high:g}")
