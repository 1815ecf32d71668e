"""Kinds of screw hole: what diameter, engagement and wall each asks for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, Literal

from msgspec import Struct

from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.reading import lookup, read_toml
from chassis_gen.tables.threads import Insert, Thread

WallMaterial = Literal["plastic", "metal"]
ScrewFit = Literal["fine", "medium", "coarse"]


class HoleRule(Struct, frozen=True):
    """What one kind of hole asks of one wall material; the columns of ``hole_kinds.toml``.

    Args:
        kind: "tapped", "thread_forming", "clearance", "insert", "captive_nut" or "set_screw".
        wall_material: "plastic" or "metal".
        engagement_basis: what engagement counts in: "diameters", "turns", "nut heights" or "none".
        engagement: least thread engagement, in that basis.
        extra_turns: turns by which a blind hole goes on beyond the engaged thread.
        extra_depth: mm by which a blind hole goes on beyond the engaged thread, insert or nut.
        wall_diameters: least wall round the hole, in screw diameters.
        wall_floor: least wall round the hole, mm.
        teardrop_from: mm, hole diameter from which a lying hole gets a teardrop roof; 0 for never.
        min_major_diameter: mm, smallest screw that is advised.
        unit: units of the figures.
        source: where the figures come from.
        revision: year and month of the row.
    """

    kind: str
    wall_material: WallMaterial
    engagement_basis: str
    engagement: float
    extra_turns: float
    extra_depth: float
    wall_diameters: float
    wall_floor: float
    teardrop_from: float
    min_major_diameter: float
    unit: str
    source: str
    revision: str


class HoleSpec(Struct, frozen=True):
    """One screw hole as it must be after printing, lengths in mm.

    Args:
        kind: kind of hole.
        thread: the screw's thread; nut, insert and set screw are found on it.
        diameter: hole diameter, for a captive nut that of the screw's way through.
        min_engagement: least length of thread that carries; 0 for a clearance hole.
        min_depth: least depth of a blind hole; for a captive nut, of its pocket with the screw's end.
        depth_rule: how the depth comes about, in words.
        min_wall: least wall round the hole; round the nut's corners for a captive nut.
        teardrop_when_lying: whether a hole printed lying gets a teardrop roof.
        finding: level and text when the choice is doubtful, else None.
        sources: where the figures come from.
    """

    kind: str
    thread: Thread
    diameter: float
    min_engagement: float
    min_depth: float
    depth_rule: str
    min_wall: float
    teardrop_when_lying: bool
    finding: tuple[str, str] | None
    sources: tuple[str, ...]


@cache
def hole_rules() -> Mapping[tuple[str, str], HoleRule]:
    """Return the rules by kind of hole and wall material."""
    rows = (HoleRule(**row) for row in read_toml("hole_kinds.toml", "rule"))
    return {(rule.kind, rule.wall_material): rule for rule in rows}


def hole_kinds(wall_material: str | None = None) -> tuple[str, ...]:
    """Return the kinds of hole there are, or those a wall material allows.

    Args:
        wall_material: "plastic", "metal" or None for all kinds.
    """
    kinds = (kind for kind, material in hole_rules() if wall_material in (None, material))
    return tuple(dict.fromkeys(kinds))


def hole_for(
    kind: str, thread: Thread, wall_material: WallMaterial = "plastic", fit: ScrewFit = "medium"
) -> HoleSpec:
    """Return what a hole of one kind needs for one thread.

    Args:
        kind: "tapped", "thread_forming", "clearance", "insert", "captive_nut" or "set_screw".
        thread: the screw's thread.
        wall_material: "plastic" (printed) or "metal" (the tube).
        fit: clearance class of a clearance hole and of the way through a captive nut.

    Returns:
        The hole after printing: printer terms and fit adjustments are added where it is dimensioned.

    Raises:
        InputError: ``unknown-hole-kind``, ``unknown-wall-material``, ``unknown-screw-fit``,
            ``hole-kind-material`` for a kind the wall material doesn't allow, ``no-insert`` for a
            thread without a usual insert.
    """
    rule = _rule(kind, wall_material)
    diameter, source = _diameter(rule.kind, thread, fit)
    engagement = _engagement(rule, thread)
    depth, depth_rule = _depth(rule, thread, engagement)
    return HoleSpec(
        kind=rule.kind,
        thread=thread,
        diameter=diameter,
        min_engagement=engagement,
        min_depth=depth,
        depth_rule=depth_rule,
        min_wall=_wall(rule, thread),
        teardrop_when_lying=0.0 < rule.teardrop_from <= diameter,
        finding=_finding(rule, thread),
        sources=(source, rule.source),
    )


def _rule(kind: str, wall_material: str) -> HoleRule:
    known: dict[str, Any] = dict.fromkeys(hole_kinds())
    lookup(kind, known, "unknown-hole-kind", "kind of hole")
    materials = {material: material for _, material in hole_rules()}
    material = lookup(wall_material, materials, "unknown-wall-material", "wall material")
    rule = hole_rules().get((kind.casefold(), material))
    if rule is None:
        allowed = ", ".join(hole_kinds(material))
        message = f"a {material} wall doesn't take this kind of hole"
        raise InputError([Problem("hole-kind-material", message, value=f'"{kind}"', allowed=allowed)])
    return rule


def _diameter(kind: str, thread: Thread, fit: str) -> tuple[float, str]:
    if kind in ("tapped", "set_screw"):
        return thread.tap.diameter, thread.tap.source
    if kind == "thread_forming":
        return thread.forming.diameter, thread.forming.source
    if kind == "insert":
        insert = _insert(thread)
        return insert.hole_diameter, insert.source
    hole = thread.clearance
    sizes = {"fine": hole.fine, "medium": hole.medium, "coarse": hole.coarse}
    return lookup(fit, sizes, "unknown-screw-fit", "clearance class"), hole.source


def _insert(thread: Thread) -> Insert:
    if thread.insert is None:
        message = f"no heat-set insert is in usual use for {thread.designation}"
        raise InputError(
            [Problem("no-insert", message, value=f'"{thread.designation}"', allowed="M2 or #2-56 and up")]
        )
    return thread.insert


def _engagement(rule: HoleRule, thread: Thread) -> float:
    per_unit = {
        "none": 0.0,
        "diameters": thread.major_diameter,
        "turns": thread.pitch,
        "nut heights": thread.nut.height_max,
    }
    return rule.engagement * per_unit[rule.engagement_basis]


def _depth(rule: HoleRule, thread: Thread, engagement: float) -> tuple[float, str]:
    base, words = engagement, "least engagement"
    if rule.kind == "insert":
        base, words = _insert(thread).length, "insert length"
    elif rule.kind == "captive_nut":
        base, words = thread.nut.height_max, "nut height"
    elif rule.kind == "clearance":
        return 0.0, "goes through"
    extra = rule.extra_turns * thread.pitch + rule.extra_depth
    terms = [f"{words} {base:.2f}"]
    if rule.extra_turns:
        terms.append(f"{rule.extra_turns:g} turns {rule.extra_turns * thread.pitch:.2f}")
    if rule.extra_depth:
        terms.append(f"room beyond {rule.extra_depth:.2f}")
    return base + extra, " + ".join(terms) + " mm"


def _wall(rule: HoleRule, thread: Thread) -> float:
    wall = max(rule.wall_diameters * thread.major_diameter, rule.wall_floor)
    return max(wall, _insert(thread).min_wall) if rule.kind == "insert" else wall


def _finding(rule: HoleRule, thread: Thread) -> tuple[str, str] | None:
    if thread.major_diameter >= rule.min_major_diameter:
        return None
    text = (
        f"{thread.designation} is too small to be tapped in printed {rule.wall_material}: its thread is "
        f"thinner than the printed lines; use M3 or #4 and up, a heat-set insert or a thread-forming screw"
    )
    return "warning", text
