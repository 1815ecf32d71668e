"""Rod holes: threaded rods through a run of sections, and what anchors their ends.

Origin and axes: the tube's; each rod stands parallel to the axis on one circle about it.

       first section          sections between         last section
      | ___                 |                      |                ___ |
      ||nut|wa|-- clearance |----- clearance ------|--- clearance -|nut||    through nuts, sunk in the end faces
      |        [ insert ]---|                      |                    |    or a blind hole from the joint
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from msgspec import Struct

from chassis_gen.findings import Finding, Remedy, wall_left
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.model import OVERLAP, Disc, Hardware, Obstacle, Outer, ScrewHole
from chassis_gen.plan.sums import on_grid
from chassis_gen.sections.features.screw_hole import (
    ROOF_TOP,
    ShapedHole,
    hole_cutters,
    hole_finding,
    plan_hole,
    plan_nut,
)
from chassis_gen.shapes.frame import reversed_axis, shifted, unit
from chassis_gen.shapes.primitives import Cylinder, Primitive
from chassis_gen.shapes.recipe import Step, cut
from chassis_gen.tables.holes import hole_for
from chassis_gen.tables.threads import find_thread
from chassis_gen.tables.washers import washer_for

BLIND = ("insert", "tapped")
END_TURNS = 2.0
"""Turns of the rod that stand out of a through nut: common practice, no source."""
WRENCH_ROOM = 0.5
"""Room round a through nut's corners or its washer, mm per side: common practice, no source."""


class RodSpan(Struct, frozen=True):
    """A section that rods go through.

    Args:
        name: its name.
        piece: its piece.
        z0: mm.
        z1: mm.
        grows_by: key path of its length or thickness, with what it is now, mm; None where it has no such key.
    """

    name: str
    piece: str
    z0: float
    z1: float
    grows_by: tuple[str, float] | None = None


class RodWish(Struct, frozen=True):
    """What the maker asks of one group of rods.

    Args:
        name: of the group.
        thread: designation.
        clocks_deg: clock of each rod, degrees.
        circle_diameter: of the circle through their axes, mm.
        near_end: ``captive_nut``, ``insert``, ``tapped`` or ``through_nut``.
        far_end: likewise.
        washers: True for a washer under each through nut.
        key: key path of the group, for remedies.
        free_ends: names of sections at whose near, and at whose far, face the rods' ends can be reached.
    """

    name: str
    thread: str
    clocks_deg: tuple[float, ...]
    circle_diameter: float
    near_end: str = "through_nut"
    far_end: str = "through_nut"
    washers: bool = True
    key: str = "rod[0]"
    free_ends: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())


class Recess(Struct, frozen=True):
    """A round recess for nut and washer in an end face: place of its axis, radius, stations (mm)."""

    section: str
    x: float
    y: float
    radius: float
    z0: float
    z1: float


class RodPlan(Struct, frozen=True):
    """Planned rods.

    Args:
        holes: where rods end, by section name; elsewhere they only pass, be it through a room or a wall.
        obstacles: by section name.
        steps: by section name, to be cut after the section's own steps.
        hardware: rods, nuts, washers and inserts.
        findings: what can't work.
        length: of one rod, mm.
        key: key path of the group, for remedies.
    """

    holes: Mapping[str, tuple[ScrewHole, ...]]
    obstacles: Mapping[str, tuple[Obstacle, ...]]
    steps: Mapping[str, tuple[Step, ...]]
    hardware: tuple[Hardware, ...]
    findings: tuple[Finding, ...]
    length: float
    key: str


def plan_rods(
    fitter: Fitter,
    wish: RodWish,
    spans: Sequence[RodSpan],
    outer: Outer,
    covered: tuple[bool, bool] = (False, False),
) -> RodPlan:
    """Return the holes of a group of rods, what keeps lanes away, and the hardware list's lines.

    Args:
        fitter: makes labelled sums.
        wish: what is asked for.
        spans: the sections that they go through, in order of stations; at least one.
        outer: the chassis's outer surface.
        covered: True where a section of the same piece stands before the first or behind the last one.

    Raises:
        InputError: the thread is unknown, or has no insert where one is wanted.
    """
    holes: dict[str, tuple[ScrewHole, ...]] = {}
    obstacles: dict[str, tuple[Obstacle, ...]] = {}
    steps: dict[str, tuple[Step, ...]] = {}
    for k, span in enumerate(spans):
        own = [_hole(fitter, wish, span, i, k == 0, k + 1 == len(spans)) for i in range(len(wish.clocks_deg))]
        recesses = [r for i in range(len(own)) for r in _recesses(wish, span, i, k == 0, k + 1 == len(spans))]
        holes[span.name] = tuple(h for group in own for h in group)
        obstacles[span.name] = (
            *(_hole_obstacle(h, span) for h in holes[span.name]),
            *(Obstacle(Disc(r.x, r.y, r.radius), r.z0, r.z1, "rod's nut") for r in recesses),
        )
        label = f"rod hole of {wish.name}"
        steps[span.name] = (
            *(s for h in holes[span.name] for s in cut(label, *_cutters(fitter, h), must_touch=False)),
            *(s for r in recesses for s in cut("rod's nut", _recess_solid(r, span), must_touch=False)),
        )
    length = _length(wish, spans)
    findings = (
        *_findings(wish, spans, outer, holes),
        *_reach_findings(wish, spans, covered),
    )
    ends = {spans[0].name, spans[-1].name}
    held = {name: found if name in ends else () for name, found in holes.items()}
    return RodPlan(held, obstacles, steps, _hardware(wish, spans, length), findings, length, wish.key)


def _axis(wish: RodWish, i: int) -> tuple[float, float]:
    c, s = unit(wish.clocks_deg[i])
    r = wish.circle_diameter / 2
    return r * c, r * s


def _hole(
    fitter: Fitter, wish: RodWish, span: RodSpan, i: int, first: bool, last: bool
) -> tuple[ShapedHole, ...]:
    """Return a rod's hole in one section: through, or blind where its end is anchored in the plastic."""
    x, y = _axis(wish, i)
    id = f"{span.name}.{wish.name}_{i + 1}"
    anchor = wish.near_end if first else wish.far_end if last else "through_nut"
    near = shifted(x, y, span.z0)
    far = reversed_axis(shifted(x, y, span.z1))
    if anchor in BLIND:
        depth = hole_for(anchor, find_thread(wish.thread)).min_depth
        enters = far if first else near
        engagement = hole_for(anchor, find_thread(wish.thread)).min_engagement
        return (plan_hole(fitter, id, anchor, wish.thread, enters, depth, span.piece, engagement=engagement),)
    if anchor == "captive_nut":
        # The nut goes in from the end face; the hole is seen from the joint behind it.
        start = far if first else near
        back = start.moved(tuple(-OVERLAP * c for c in start.z_axis))  # type: ignore[arg-type]
        long = span.z1 - span.z0 + OVERLAP
        height = plan_nut(fitter, id, wish.thread, 0.0).height.total
        nut = plan_nut(fitter, id, wish.thread, long - height)
        return (
            plan_hole(fitter, id, "captive_nut", wish.thread, back, long, span.piece, nut=nut, through=True),
        )
    long = span.z1 - span.z0 + OVERLAP
    return (plan_hole(fitter, id, "clearance", wish.thread, near, long, span.piece, through=True),)


def _sunk(wish: RodWish) -> float:
    """Return how deep a through nut's recess is, mm: washer, nut and the rod's end."""
    thread = find_thread(wish.thread)
    washer = washer_for(thread).thickness if wish.washers else 0.0
    return on_grid(washer + thread.nut.height_max + END_TURNS * thread.pitch)


def _recess_radius(wish: RodWish) -> float:
    thread = find_thread(wish.thread)
    washer = washer_for(thread).outer_diameter if wish.washers else 0.0
    return max(washer, thread.nut.across_corners) / 2 + WRENCH_ROOM


def _recesses(wish: RodWish, span: RodSpan, i: int, first: bool, last: bool) -> tuple[Recess, ...]:
    x, y = _axis(wish, i)
    radius, deep = _recess_radius(wish), _sunk(wish)
    found = []
    if first and wish.near_end == "through_nut":
        found.append(Recess(span.name, x, y, radius, span.z0, span.z0 + deep))
    if last and wish.far_end == "through_nut":
        found.append(Recess(span.name, x, y, radius, span.z1 - deep, span.z1))
    return tuple(found)


def _recess_solid(r: Recess, span: RodSpan) -> Primitive:
    near = abs(r.z0 - span.z0) < 1e-9
    low = r.z0 - (2 * OVERLAP if near else 0.0)
    high = r.z1 + (0.0 if near else 2 * OVERLAP)
    return Cylinder(r.radius, low, high, shifted(r.x, r.y))


def _cutters(fitter: Fitter, hole: ScrewHole) -> tuple[Primitive, ...]:
    """Return what to cut; where a blind hole meets the next section, their overlap gets that one's wider hole."""
    if hole.kind not in BLIND or hole.frame.z_axis[2] > 0:
        return hole_cutters(hole)
    x, y, z = hole.frame.origin
    place = shifted(x, y, z + OVERLAP)
    mouth = plan_hole(fitter, hole.id, "clearance", hole.thread, place, OVERLAP, hole.piece, through=True)
    return (*hole_cutters(hole), *hole_cutters(mouth))


def _hole_obstacle(hole: ScrewHole, span: RodSpan) -> Obstacle:
    x, y, z = hole.frame.origin
    far = z + hole.depth * hole.frame.z_axis[2]
    z0, z1 = max(span.z0, min(z, far)), min(span.z1, max(z, far))
    roofed = isinstance(hole, ShapedHole) and hole.roofed
    radius = hole.diameter.total / 2 * (ROOF_TOP if roofed else 1.0)
    if isinstance(hole, ShapedHole) and hole.nut:
        radius = max(radius, hole.nut.across_flats.total / math.sqrt(3.0))
    return Obstacle(Disc(x, y, radius), z0, z1, "rod")


def _reach_in(wish: RodWish, anchor: str, span: RodSpan) -> float:
    """Return how much of the first or last section's length a rod fills, mm."""
    if anchor in BLIND:
        return hole_for(anchor, find_thread(wish.thread)).min_engagement
    return span.z1 - span.z0


def _length(wish: RodWish, spans: Sequence[RodSpan]) -> float:
    """Return the length of one rod, mm; a through nut or captive nut ends it at the section's face."""
    between = sum(s.z1 - s.z0 for s in spans[1:-1])
    ends = _reach_in(wish, wish.near_end, spans[0])
    if len(spans) > 1:
        ends += _reach_in(wish, wish.far_end, spans[-1])
    return float(between + ends)


def _hardware(wish: RodWish, spans: Sequence[RodSpan], length: float) -> tuple[Hardware, ...]:
    thread, n = find_thread(wish.thread).designation, len(wish.clocks_deg)
    anchors = (wish.near_end, wish.far_end)
    nuts = n * sum(a in ("through_nut", "captive_nut") for a in anchors)
    washers = n * sum(a == "through_nut" for a in anchors) if wish.washers else 0
    inserts = n * sum(a == "insert" for a in anchors)
    where = f"{wish.name}: {spans[0].name} to {spans[-1].name}"
    # Rounded down, so that no end stands out of its face.
    lines = (
        (f"threaded rod {thread} x {math.floor(length)}", n),
        (f"nut {thread}", nuts),
        (f"washer {thread}", washers),
        (f"heat-set insert {thread}", inserts),
    )
    return tuple(Hardware(item, count, where) for item, count in lines if count)


def _findings(
    wish: RodWish,
    spans: Sequence[RodSpan],
    outer: Outer,
    holes: Mapping[str, tuple[ScrewHole, ...]],
) -> tuple[Finding, ...]:
    found: list[Finding] = []
    if len(spans) == 1 and (wish.near_end in BLIND or wish.far_end in BLIND):
        message = f"{wish.name} go through one section only: a blind end needs a joint to start from"
        remedy = Remedy(f"{wish.key}.near_end", "through_nut", "through nuts")
        found.append(Finding("error", "rod-single", wish.name, message, candidates=(remedy,)))
    found += _outside_findings(wish, spans, outer, holes)
    found += _apart_findings(wish, spans, holes)
    for k in sorted({0, len(spans) - 1}):
        span = spans[k]
        first = holes[span.name][0]
        told = hole_finding(first)
        if told:
            found.append(told)
        needed = _end_room(wish, span, k == 0, k + 1 == len(spans), first)
        if span.z1 - span.z0 < needed:
            message = (
                f"{span.name} is {span.z1 - span.z0:.2f} mm long; the rods' end needs {needed:.2f} mm there"
            )
            numbers = {"length": span.z1 - span.z0, "needed": needed}
            longer = _longer(span, needed)
            found.append(
                Finding(
                    "error", "rod-end-room", first.id, message, numbers, candidates=longer, blocks_solids=True
                )
            )
    return tuple(found)


def _longer(span: RodSpan, needed: float) -> tuple[Remedy, ...]:
    if span.grows_by is None:
        return ()
    key, now = span.grows_by
    value = math.ceil((now + needed - (span.z1 - span.z0)) * 10 - 1e-6) / 10
    return (Remedy(key, value, f"{span.name} of {value:g} mm"),)


def _reach_findings(
    wish: RodWish, spans: Sequence[RodSpan], covered: tuple[bool, bool]
) -> tuple[Finding, ...]:
    """Return errors for nuts and inserts that nobody can put in: inside one printed piece."""
    found = []
    joints = (spans[:2], spans[-2:])
    for k, (end, anchor) in enumerate((("near", wish.near_end), ("far", wish.far_end))):
        section = spans[0] if k == 0 else spans[-1]
        nut = anchor in ("through_nut", "captive_nut") and covered[k]
        pair = joints[k]
        insert = anchor == "insert" and len(pair) == 2 and pair[0].piece == pair[1].piece
        if not (nut or insert):
            continue
        if nut:
            why = (
                f"the {end} face of {section.name} is inside the piece {section.piece}: its nuts can't go in"
            )
        else:
            why = f"the insert in {section.name} is inside the piece {section.piece}: it can't be set there"
        word = ("from", "to")[k]
        remedies = (
            Remedy(f"{wish.key}.{end}_end", "tapped", "a tapped hole"),
            *(Remedy(f"{wish.key}.{word}", name, f'rods {word} "{name}"') for name in wish.free_ends[k]),
            Remedy(
                None,
                None,
                f"a tapped {end} end where there is material, or rods {word} the {end} end of a piece",
            ),
        )
        found.append(
            Finding("error", "rod-end-covered", f"{section.name}.{wish.name}", why, candidates=remedies)
        )
    return tuple(found)


def _end_room(wish: RodWish, span: RodSpan, first: bool, last: bool, hole: ScrewHole) -> float:
    """Return the length that a section needs at a rod's end, mm: hole or recess, and a wall behind it."""
    anchors = [wish.near_end] if first else []
    if last:
        anchors.append(wish.far_end)
    each = {"through_nut": _sunk(wish), "captive_nut": find_thread(wish.thread).nut.height_max}
    return sum(each.get(a, hole.depth) for a in anchors) + 2 * hole.least_wall


def _outside_findings(
    wish: RodWish, spans: Sequence[RodSpan], outer: Outer, holes: Mapping[str, tuple[ScrewHole, ...]]
) -> list[Finding]:
    worst: tuple[float, str, float, float] | None = None
    for k, span in enumerate(spans):
        hole = holes[span.name][0]
        shape = _hole_obstacle(hole, span).shape
        assert isinstance(shape, Disc)
        half = shape.radius
        if (k == 0 and wish.near_end == "through_nut") or (
            k + 1 == len(spans) and wish.far_end == "through_nut"
        ):
            half = _recess_radius(wish)
        radius = outer.smallest_radius(span.z0, span.z1)
        over = wish.circle_diameter / 2 + half + hole.least_wall - radius
        if worst is None or over > worst[0]:
            worst = (over, span.name, half, radius)
    if worst is None or worst[0] <= 1e-6:
        return []
    over, section, half, radius = worst
    circle = math.floor((wish.circle_diameter - 2 * over) * 10) / 10
    wall = radius - wish.circle_diameter / 2 - half
    message = (
        f"the rods {wish.name} stand on a circle of {wish.circle_diameter:.2f} mm: outside their holes in {section} "
        f"{wall_left(wall)}, {over:.2f} mm too little"
    )
    numbers = {"circle_diameter": wish.circle_diameter, "wall": wall, "missing": over}
    remedy = Remedy(f"{wish.key}.circle_diameter", circle, f"a circle of {circle:g} mm")
    words = Remedy(
        None, None, "a smaller circle where there is material, other clocks, thinner rods or other ends"
    )
    candidates = (remedy, words) if circle > 0 else (words,)
    return [
        Finding(
            "error",
            "rod-outside",
            f"{section}.{wish.name}",
            message,
            numbers,
            candidates=candidates,
            blocks_solids=wall < 0.4,
        )
    ]


def _apart_findings(
    wish: RodWish, spans: Sequence[RodSpan], holes: Mapping[str, tuple[ScrewHole, ...]]
) -> list[Finding]:
    """Return an error where two rods stand so close that their nuts or holes meet."""
    clocks = sorted(c % 360.0 for c in wish.clocks_deg)
    turns = [(b - a) % 360.0 for a, b in zip(clocks, [*clocks[1:], clocks[0]], strict=True)]
    apart = wish.circle_diameter * math.sin(math.radians(min(*turns, 180.0) / 2))
    needed = 2 * _recess_radius(wish) + holes[spans[0].name][0].least_wall
    if apart >= needed:
        return []
    message = f"two of the rods {wish.name} stand {apart:.2f} mm apart; their nuts need {needed:.2f} mm"
    numbers = {"apart": apart, "needed": needed}
    even = [round(clocks[0] + k * 360.0 / len(clocks), 3) % 360.0 for k in range(len(clocks))]
    wide = math.ceil(wish.circle_diameter * needed / max(apart, 1e-3) * 10) / 10
    candidates = (
        Remedy(f"{wish.key}.clocks_deg", even, "rods spread evenly"),
        Remedy(f"{wish.key}.circle_diameter", wide, f"a circle of {wide:g} mm"),
    )
    return [
        Finding("error", "rods-close", wish.name, message, numbers, candidates=candidates, blocks_solids=True)
    ]
