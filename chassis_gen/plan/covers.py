"""Lids: what they give access to, what they lie on, and what lies under and beside them.

A section knows nothing of others; here a lid meets the section that it lies over and those beside it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.findings import Finding, Remedy
from chassis_gen.params.codes import Rejection
from chassis_gen.parts.extent import extent_of
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.model import Covering, Disc, Obstacle, Rest, SectionPlan, Sector
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import SectionParams
from chassis_gen.shapes.frame import Frame, Vec3, topped
from chassis_gen.shapes.primitives import Box, Hull, Primitive, Prism, placed

OVER_PARTS = 0.2
"""Room between a lid and what lies under it, mm (chosen: as a board tray's components under the surface)."""
LARGEST_ARC = 130
"""The widest lid that a cover takes, degrees."""
THROUGH = 1.0
"""Material on the straight way from a part to the lid that still counts as none, mm (chosen)."""
_STEP = 0.25
_SMALL = 1e-3


class Reached(Struct, frozen=True):
    """What is to be reached under a lid, in the lid's frame: across, toward the lid, along the tube (mm).

    Args:
        section: whose part has it.
        id: of a keep-out or terminal.
        low: lowest corner.
        high: highest corner.
        behind: material on the straight way from its middle to the lid, mm.
    """

    section: str
    id: str
    low: Vec3
    high: Vec3
    behind: float

    def beyond(self, lid: Covering) -> tuple[float, float]:
        """Return how far it reaches beyond the lid's sides and ends, mm; negative inside."""
        across = max(self.high[0], -self.low[0]) - lid.half_width
        return across, max(lid.z0 - self.low[2], self.high[2] - lid.z1)


def check_access(inputs: BuildInputs, sections: Sequence[SectionPlan], gathering: Gathering) -> None:
    """Gather what a lid is to give access to and that no part has.

    Args:
        inputs: the build's files.
        sections: the planned sections, in file order.
        gathering: takes the problems.
    """
    known = sorted({name for s in sections for name in _names(s)})
    for i, s in enumerate(sections):
        for j, name in enumerate(s.covering.gives_access_to if s.covering else ()):
            if name in known:
                continue
            owner = name.partition(".")[0]
            near = [n for n in known if n.startswith(f"{owner}.")] or known
            why = f'no part has a keep-out or terminal "{name}"'
            allowed = ", ".join(near) or "none: no section here carries a part with keep-outs or terminals"
            rejection = Rejection("unknown-name", why, allowed, nearest_name(name, known))
            gathering.reject(inputs, ("section", i, "gives_access_to", j), rejection)


def with_access_facts(sections: Sequence[SectionPlan]) -> tuple[SectionPlan, ...]:
    """Return the sections, lids with how far inside them lies what they give access to.

    Args:
        sections: the planned sections.
    """
    return tuple(replace(s, facts={**s.facts, **_inside(s.covering, sections)}) for s in sections)


def _inside(lid: Covering | None, sections: Sequence[SectionPlan]) -> dict[str, float]:
    reached = _reached(lid, sections) if lid else ()
    return {f"inside_lid_{r.id}_mm": -max(r.beyond(lid)) for r in reached if lid}


def cover_findings(
    sections: Sequence[SectionPlan],
    hosts: Mapping[str, str],
    rows: Sequence[SectionParams],
    wall: float,
) -> tuple[Finding, ...]:
    """Return what is wrong between lids and what they lie over: no access, no rest, no room.

    Args:
        sections: all planned sections, in file order.
        hosts: for each companion its host.
        rows: the sections' keys, in file order.
        wall: least wall, mm.
    """
    by_name = {s.name: i for i, s in enumerate(sections)}
    found: list[Finding] = []
    for s in sections:
        if s.covering is None:
            continue
        host = by_name[hosts.get(s.name, s.name)]
        beside = [o for o in sections if o.name != s.name and hosts.get(o.name) == sections[host].name]
        found += _access_findings(s, s.covering, sections, by_name, rows)
        if s.name in hosts:
            found += _rest_findings(s, s.covering, sections[host], (by_name[s.name], host), rows[host])
            found += _side_findings(s, s.covering, sections[host], by_name[s.name])
        found += _low_findings(s, s.covering, (sections[host], *beside), by_name, rows)
        found += [f for o in beside for f in _meeting(s, s.covering, o, wall)]
    return tuple(found)


# access ---------------------------------------------------------------------------------------------------


def _names(section: SectionPlan) -> Iterator[str]:
    yield from (f"{section.name}.{k.name}" for p in section.parts for k in p.part.keepouts)
    yield from (t.id for t in section.terminals)


def _to_lid(lid: Covering, placing: Frame) -> Frame:
    """Return a frame of the tube as seen from the lid's, whose +y points to its clock."""
    top = topped(lid.clock_deg)

    def seen(v: Vec3) -> Vec3:
        return (
            sum(a * b for a, b in zip(v, top.x_axis, strict=True)),
            sum(a * b for a, b in zip(v, top.y_axis, strict=True)),
            v[2],
        )

    return Frame(*(seen(v) for v in (placing.origin, placing.x_axis, placing.y_axis, placing.z_axis)))


def _behind(lid: Covering, low: Vec3, high: Vec3, voids: Sequence[Obstacle]) -> float:
    """Return how much material lies on the straight way from a room's middle to the lid, mm.

    A way is free where a void that the sections told of holds it.
    """
    x, z = (low[0] + high[0]) / 2, (low[2] + high[2]) / 2
    end = math.sqrt(max(0.0, lid.seat_radius**2 - x**2))
    count = max(0, math.floor((end - high[1]) / _STEP))
    top = topped(lid.clock_deg)
    way = (top.point((x, high[1] + (k + 0.5) * _STEP, z)) for k in range(count))
    return _STEP * sum(not any(_holds(o, at) for o in voids) for at in way)


def _holds(o: Obstacle, at: Vec3) -> bool:
    x, y, z = at
    if not o.z0 <= z <= o.z1:
        return False
    if isinstance(o.shape, Disc):
        return math.hypot(x - o.shape.x, y - o.shape.y) <= o.shape.radius
    if isinstance(o.shape, Sector):
        return False
    frame = topped(o.shape.top_clock)
    u, v = x * frame.x_axis[0] + y * frame.x_axis[1], x * frame.y_axis[0] + y * frame.y_axis[1]
    return o.shape.x0 <= u <= o.shape.x1 and o.shape.y0 <= v <= o.shape.y1


def _reached(lid: Covering, sections: Sequence[SectionPlan]) -> Iterator[Reached]:
    """Yield what a lid gives access to, each keep-out of that name and each terminal."""
    wanted = set(lid.gives_access_to)
    voids = [o for s in sections for o in s.obstacles if o.z0 < lid.z1 and o.z1 > lid.z0]
    hollow = [(s.z0, s.z1) for s in sections if any(g.open_room for g in s.galleries)]
    for s in sections:
        for id, low, high in _rooms(lid, s):
            if id not in wanted:
                continue
            free = any(a <= (low[2] + high[2]) / 2 <= b for a, b in hollow)
            yield Reached(s.name, id, low, high, 0.0 if free else _behind(lid, low, high, voids))


def _rooms(lid: Covering, s: SectionPlan) -> Iterator[tuple[str, Vec3, Vec3]]:
    """Yield id and corners, in the lid's frame, of the keep-outs and terminals of a section."""
    for p in s.parts:
        for k in p.part.keepouts:
            yield (f"{s.name}.{k.name}", *extent_of(placed(k.solid, _to_lid(lid, p.frame))))
    for t in s.terminals:
        at = _to_lid(lid, Frame(t.position)).origin
        yield t.id, at, at


def _access_findings(
    s: SectionPlan,
    lid: Covering,
    sections: Sequence[SectionPlan],
    by_name: Mapping[str, int],
    rows: Sequence[SectionParams],
) -> Iterator[Finding]:
    for r in _reached(lid, sections):
        across, along = r.beyond(lid)
        if r.behind <= THROUGH and max(across, along) <= _SMALL:
            continue
        how = []
        if across > _SMALL:
            how.append(f"{across:.2f} mm beyond its sides")
        if along > _SMALL:
            how.append(f"{along:.2f} mm beyond its ends")
        if r.behind > THROUGH:
            how.append(f"{r.behind:.1f} mm of material between them")
        message = (
            f"{r.id} does not lie under the lid: {' and '.join(how)} (seen from the lid at clock "
            f"{lid.clock_deg:g} it takes {r.low[0]:.2f} to {r.high[0]:.2f} mm across and stations "
            f"{r.low[2]:.2f} to {r.high[2]:.2f}; the lid {-lid.half_width:.2f} to {lid.half_width:.2f} mm "
            f"and {lid.z0:.2f} to {lid.z1:.2f})"
        )
        numbers = {
            "beyond_sides": across, "beyond_ends": along, "x0": r.low[0], "x1": r.high[0], "z0": r.low[2],
            "z1": r.high[2], "lid_z0": lid.z0, "lid_z1": lid.z1, "lid_half_width": lid.half_width, "material": r.behind,
        }  # fmt: skip
        candidates = _toward(f"section[{by_name[s.name]}]", lid, across, rows[by_name[r.section]])
        yield Finding("error", "cover-misses", s.name, message, numbers, candidates=candidates)


def _toward(key: str, lid: Covering, across: float, owner: SectionParams) -> tuple[Remedy, ...]:
    """Return what may bring a lid over what it should give access to: another clock, a wider lid."""
    turned = Remedy(f"{key}.clock_deg", owner.clock_deg, f"the lid at clock {owner.clock_deg:g}")
    half = math.asin(min(1.0, (lid.half_width + max(across, 0.0) + OVER_PARTS) / lid.outer_radius))
    arc = math.ceil(math.degrees(2 * half)) + 1
    wider = across > _SMALL and arc <= LARGEST_ARC
    return (turned, Remedy(f"{key}.arc_deg", float(arc), f"a lid of {arc} degrees")) if wider else (turned,)


# what it lies on ------------------------------------------------------------------------------------------


def _rest_findings(
    s: SectionPlan, lid: Covering, host: SectionPlan, indices: tuple[int, int], row: SectionParams
) -> Iterator[Finding]:
    """Yield an error for each end of the lid under which its host is hollow."""
    if lid.framed:
        return
    if any(g.open_room for g in host.galleries):
        why = f"the lid's ends have nothing to lie on: {host.name} is hollow"
        frame = _framed(indices[0])
        yield Finding(
            "error", "cover-rest", s.name, why, {"short_by": lid.z1 - lid.z0}, candidates=(frame,)
        )  # fmt: skip
        return
    worst = [w for far in (False, True) if (w := _worst(lid, host, far))]
    longest = max((short for short, _, _ in worst), default=0.0)
    for short, rest, o in worst:
        message = (
            f"the {rest.what} at its {'far' if rest.far else 'near'} end needs {host.name} solid from station "
            f"{rest.z0:.2f} to {rest.z1:.2f}, out from {rest.inner_radius:.2f} mm; its {o.what} with a wall "
            f"reaches {short:.2f} mm into that"
        )
        numbers = {"short_by": short, "z0": rest.z0, "z1": rest.z1, "inner_radius": rest.inner_radius}
        thick = (*_thicker(row, indices[1], longest), _framed(indices[0]))
        yield Finding("error", "cover-rest", s.name, message, numbers, candidates=thick)


def _framed(index: int) -> Remedy:
    return Remedy(f"section[{index}].frame", True, "a lid with a frame of its own")


def _worst(lid: Covering, host: SectionPlan, far: bool) -> tuple[float, Rest, Obstacle] | None:
    """Return how far a host's room reaches most into what has to be solid at one end of a lid, and both."""
    rests = [r for r in lid.rests if r.far == far]
    found = ((_short(r, o), r, o) for r in rests for o in host.obstacles if _hollow_at(r, o))
    return max(found, key=lambda w: w[0], default=None)


def _thicker(row: SectionParams, index: int, short: float) -> tuple[Remedy, ...]:
    wall = getattr(row, "end_wall", None)
    if not isinstance(wall, float):
        return ()
    value = math.ceil((wall + short) * 10) / 10
    return (Remedy(f"section[{index}].end_wall", value, f"end walls of {value:g} mm in {row.name}"),)


def _hollow_at(rest: Rest, o: Obstacle) -> bool:
    """Return whether a room reaches into what has to be solid; a window's sector says nothing of its depth."""
    if isinstance(o.shape, Sector) or min(o.z1, rest.z1) - max(o.z0, rest.z0) <= _SMALL:
        return False
    from chassis_gen.plan.cross_section import interval_mask, reach

    at = interval_mask(math.floor(rest.clock_from), math.ceil(rest.clock_to))
    return float(reach(o.shape)[at].max()) > rest.inner_radius


def _short(rest: Rest, o: Obstacle) -> float:
    return o.z1 - rest.z0 if rest.far else rest.z1 - o.z0


def _side_findings(s: SectionPlan, lid: Covering, host: SectionPlan, index: int) -> Iterator[Finding]:
    """Yield a warning where the host's open side is wider than the lid."""
    turn = math.degrees(math.asin(min(1.0, lid.half_width / lid.outer_radius)))
    if lid.framed:
        return
    for o in host.obstacles:
        if not isinstance(o.shape, Sector) or min(o.z1, lid.z1) - max(o.z0, lid.z0) <= _SMALL:
            continue
        half = (o.shape.clock_to - o.shape.clock_from) / 2
        off = (o.shape.clock_from + half - lid.clock_deg + 180.0) % 360.0 - 180.0
        if abs(off) >= half or abs(off) + half <= turn:
            continue
        past = abs(off) + half - turn
        arc = math.ceil(2 * (turn + past)) + 2
        message = (
            f"the {o.what} of {host.name} reaches {past:.1f} degrees beyond the side of the lid, which covers "
            f"{2 * turn:.1f} degrees: there it has nothing to lie on"
        )
        numbers = {"beyond_deg": past, "lid_deg": 2 * turn, "open_deg": 2 * half}
        wider = (Remedy(f"section[{index}].arc_deg", float(arc), f"a lid of {arc} degrees"),)
        yield Finding(
            "warning",
            "cover-narrow",
            s.name,
            message,
            numbers,
            candidates=wider if arc <= LARGEST_ARC else (),
        )


# what lies under it and beside it -------------------------------------------------------------------------


def _low_findings(
    s: SectionPlan,
    lid: Covering,
    under: Sequence[SectionPlan],
    by_name: Mapping[str, int],
    rows: Sequence[SectionParams],
) -> Iterator[Finding]:
    """Yield an error for each part that reaches into the lid; round envelopes are left to the solids."""
    for part in (p for o in under for p in o.parts):
        frame = _to_lid(lid, part.frame)
        reaches = (_reach(lid, [frame.point(p) for p in corners(e)]) for e in part.part.envelope)
        highest = max(reaches, default=0.0)
        over = highest + OVER_PARTS - lid.under_radius
        if over <= _SMALL:
            continue
        message = (
            f"{part.id} reaches {highest:.2f} mm from the axis; the lid's underside lies at "
            f"{lid.under_radius:.2f} mm and wants {OVER_PARTS:g} mm of room"
        )
        numbers = {"reach": highest, "underside": lid.under_radius, "short_by": over}
        i = by_name[part.section]
        clear = getattr(rows[i], "top_clearance", None)
        lower: tuple[Remedy, ...] = ()
        if isinstance(clear, float):
            value = math.ceil((clear + over) * 10) / 10
            text = f"{part.id} {value:g} mm under the surface"
            lower = (Remedy(f"section[{i}].top_clearance", value, text),)
        yield Finding("error", "cover-low", s.name, message, numbers, candidates=lower)


def _reach(lid: Covering, points: Sequence[Vec3]) -> float:
    """Return how far from the axis a flat-sided solid reaches under the lid, mm; 0 where it lies beside it."""
    if not points:
        return 0.0
    xs, ys, zs = zip(*points, strict=True)
    if min(zs) >= lid.z1 or max(zs) <= lid.z0 or min(xs) >= lid.half_width or max(xs) <= -lid.half_width:
        return 0.0
    return max(
        (math.hypot(min(abs(x), lid.half_width), y) for x, y in zip(xs, ys, strict=True) if y > 0),
        default=0.0,
    )


def corners(solid: Primitive) -> tuple[Vec3, ...]:
    """Return the corners of a flat-sided solid in its outer coordinates, mm; none of a round one.

    Args:
        solid: the solid.
    """
    match solid:
        case Box():
            found = tuple(itertools.product(*zip(solid.low, solid.high, strict=True)))
        case Prism():
            found = tuple((x, y, z) for x, y in solid.outline for z in (solid.z0, solid.z1))
        case Hull():
            found = solid.points
        case _:
            found = ()
    return tuple(solid.frame.point((x, y, z)) for x, y, z in found)


def _meeting(s: SectionPlan, lid: Covering, other: SectionPlan, wall: float) -> Iterator[Finding]:
    """Yield an error where another section beside the same host reaches into the lid's rebate or seat."""
    from chassis_gen.plan.cross_section import BLOCKED, interval_mask, reach

    turn = math.degrees(math.asin(min(1.0, lid.half_width / lid.outer_radius)))
    spread = math.degrees(wall / lid.outer_radius)
    arc = interval_mask(math.floor(lid.clock_deg - turn - spread), math.ceil(lid.clock_deg + turn + spread))
    for o in other.obstacles:
        if min(o.z1, lid.z1) - max(o.z0, lid.z0) <= _SMALL:
            continue
        reaches = reach(o.shape)
        if float(reaches[arc].max()) <= lid.seat_radius - wall:
            continue
        meets = int((arc & (reaches > lid.seat_radius - wall)).sum())
        how = "opens" if float(reaches[arc].max()) == BLOCKED else "reaches"
        message = (
            f'the {o.what} of "{other.name}" {how} within {meets} degrees of the lid, which with a wall of {wall:g} mm '
            f"takes clock {lid.clock_deg - turn - spread:.0f} to {lid.clock_deg + turn + spread:.0f}"
        )
        numbers = {"overlap_deg": float(meets), "lid_deg": 2 * turn}
        yield Finding("error", "cover-meets", s.name, message, numbers)
        return
