"""Rework of a printed piece: what differs between it and the piece as needed now, and what to do about it.

The boolean difference of the two solids says where material stands too proud (file, drill) and where it is
missing (tape, a shim, or another print). What is drawn now holds what the test fits showed, so that the
difference of the drawings is the difference that the printed piece needs.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import numpy as np
from msgspec import Struct

from chassis_gen.pipeline import DEFAULT_CHORD
from chassis_gen.plan.chassis import ChassisPlan, PiecePlan
from chassis_gen.plan.model import Fit, ScrewHole, clock_of
from chassis_gen.shapes import mesh
from chassis_gen.shapes.body import Body
from chassis_gen.tables.fits import printer_tolerance
from chassis_gen.tables.trial import trial_rule
from chassis_gen.trial.changes import pieces_changed
from chassis_gen.trial.seen import side_of
from chassis_gen.trial.shim import Shim, make_shim

Action = Literal["file", "drill", "leave", "add"]

LEAST_VOLUME = 0.1
"""Differences below this are faceting, mm3 (chosen: a 0.02 mm skin over 5 mm2)."""
MOVED = 0.02
"""Sections that move along the axis by more than this can't be reworked, mm (chosen: two chords)."""
LEAST_TAKEN_UP = 0.02
"""Fits that are too wide by less than this need nothing, mm (chosen: less than a caliper shows)."""

_ORDER: tuple[Action, ...] = ("drill", "file", "add", "leave")
_RAYS = 120
_ANTI_PARALLEL = -math.cos(math.radians(30.0))
_WHOLE_TURN_GAP = 20.0
_MOST = 0.95
_SKIN = 3.0
_NEAR = 0.5
_HOLE_MARGIN = 0.3
_TEARDROP = math.sqrt(0.5)


class Region(Struct, frozen=True):
    """One place of a piece that differs.

    Args:
        piece: the piece.
        sections: the sections that it lies in.
        action: ``file`` or ``drill`` where material stands too proud, ``leave`` where nothing comes near that,
            ``add`` where it is missing.
        station: from and to, mm.
        clock: from and to, degrees; 0 and 360 all round.
        radius: least and largest distance from the axis, mm.
        volume_mm3: of the difference.
        depth: typical depth, mm.
        depth_most: the largest, mm.
        tool: what to use, in words.
    """

    piece: str
    sections: tuple[str, ...]
    action: Action
    station: tuple[float, float]
    clock: tuple[float, float]
    radius: tuple[float, float]
    volume_mm3: float
    depth: float
    depth_most: float
    tool: str


class Filling(Struct, frozen=True):
    """What takes up a fit that was printed too wide.

    Args:
        dimension: the governing dimension.
        between: what goes together.
        too_wide: on the whole dimension, mm.
        tape_layers: layers of tape that take it up, or 0 where tape doesn't do.
        shim: the shim that takes it up, or None.
        words: the same for people.
    """

    dimension: str
    between: tuple[str, str]
    too_wide: float
    tape_layers: int
    shim: Shim | None
    words: str


class PieceSheet(Struct, frozen=True):
    """What to do with one printed piece.

    Args:
        piece: its name.
        regions: where it differs, what needs work first, then by volume.
        fillings: what takes up wide fits.
        advice: ``keep``, ``rework`` or ``reprint``.
        reasons: why it must be printed again, in words.
        rework_mass_g: of the shims.
        rework_time_s: hand work and printing the shims.
        reprint_mass_g: of the piece.
        reprint_time_s: of printing it.
    """

    piece: str
    regions: tuple[Region, ...]
    fillings: tuple[Filling, ...]
    advice: Literal["keep", "rework", "reprint"]
    reasons: tuple[str, ...]
    rework_mass_g: float
    rework_time_s: float
    reprint_mass_g: float
    reprint_time_s: float


def rescue(printed: ChassisPlan, now: ChassisPlan, chord: float = DEFAULT_CHORD) -> tuple[PieceSheet, ...]:
    """Return a rework sheet for every piece that differs.

    Args:
        printed: the build as it was printed.
        now: the build as it is needed.
        chord: chord tolerance of the solids, mm.
    """
    old, new = ({p.name: p for p in plan.pieces} for plan in (printed, now))
    names = [n for n in pieces_changed(printed, now) if n in new]
    return tuple(_sheet(printed, now, old.get(n), new[n], chord) for n in names)


def piece_body(piece: PiecePlan, chord: float) -> Body:
    """Return the solid of one piece.

    Args:
        piece: its recipes.
        chord: chord tolerance, mm.
    """
    bodies = [mesh.make(r, chord) for r in piece.recipes]
    return bodies[0].union(*bodies[1:]) if len(bodies) > 1 else bodies[0]


def _sheet(
    printed: ChassisPlan, now: ChassisPlan, old: PiecePlan | None, new: PiecePlan, chord: float
) -> PieceSheet:
    needed = piece_body(new, chord)
    if old is None:
        return _costed(now, new.name, needed, (), (), ("the piece was not there",))
    reasons = _moves(printed, now, new)
    if reasons:
        return _costed(now, new.name, needed, (), (), reasons)
    made = piece_body(old, chord)
    near = _neighbours(now, new, chord)
    proud = [
        _region(now, new, b, "file" if _matters(now, b, near) else "leave")
        for b in _places(now, new, made.cut(needed))
    ]
    missing = [_region(now, new, b, "add") for b in _places(now, new, needed.cut(made))]
    regions = tuple(
        sorted(
            (r for r in (*proud, *missing) if r.depth_most > 2 * chord),
            key=lambda r: (_ORDER.index(r.action), -r.volume_mm3, r.station),
        )
    )
    fillings = _fillings(printed, now, new)
    return _costed(now, new.name, needed, regions, fillings, _too_much(now, regions, fillings, needed))


def _moves(printed: ChassisPlan, now: ChassisPlan, piece: PiecePlan) -> tuple[str, ...]:
    """Return why a piece can't be reworked because its sections stand elsewhere now."""
    before = {s.name: s for s in printed.sections}
    after = {s.name: s for s in now.sections}
    reasons = []
    for name in piece.sections:
        was, is_now = before.get(name), after[name]
        if was is None:
            reasons.append(f'section "{name}" was not there')
            continue
        moved = max((is_now.z0 - was.z0, is_now.z1 - was.z1), key=abs)
        if abs(moved) > MOVED:
            reasons.append(f'section "{name}" moves or grows by {moved:+.2f} mm along the axis')
    return tuple(reasons)


def _region(plan: ChassisPlan, piece: PiecePlan, body: Body, action: Action) -> Region:
    points, _ = body.arrays()
    low, high = body.bounds
    typical, most = _depth(body)
    distances = np.hypot(points[:, 0], points[:, 1])
    hole = _hole(plan.holes, points) if action != "add" else None
    sections = tuple(
        s.name for s in plan.sections if s.name in piece.sections and s.z0 < high[2] and low[2] < s.z1
    )
    return Region(
        piece.name,
        sections,
        "drill" if hole else action,
        (low[2], high[2]),
        _clocks([clock_of(x, y) for x, y in points[:, :2].tolist()]),
        (float(distances.min()), float(distances.max())),
        body.volume,
        typical,
        most,
        _tool(action, hole, most),
    )


def _tool(action: Action, hole: ScrewHole | None, most: float) -> str:
    if hole is not None:
        return f"drill {hole.id} to {hole.diameter.total:.2f} mm, {hole.depth:.1f} mm deep"
    if action == "leave":
        return f"leave it: {most:.2f} mm too much, and nothing comes near"
    if action == "add":
        return f"{most:.2f} mm is missing: leave it, or see below"
    return f"file or scrape up to {most:.2f} mm"


def _places(plan: ChassisPlan, piece: PiecePlan, difference: Body) -> list[Body]:
    """Return the connected places of a difference, parted where sections and bearing bands begin and end."""
    if difference.is_empty:
        return []
    low, high = difference.bounds
    marks = {low[2] - 1.0, high[2] + 1.0}
    marks |= {z for s in plan.outer.steps for z in (s.z0, s.z1)}
    marks |= {z for s in plan.sections if s.name in piece.sections for z in (s.z0, s.z1)}
    inside = sorted(z for z in marks if low[2] - 1.0 <= z <= high[2] + 1.0)
    cuts = [a for a, b in itertools.pairwise(inside) if b - a > LEAST_TAKEN_UP] + [inside[-1]]
    return [
        shell
        for a, b in itertools.pairwise(cuts)
        for shell in difference.cropped(
            (low[0] - 1.0, low[1] - 1.0, a), (high[0] + 1.0, high[1] + 1.0, b)
        ).shells()
        if shell.volume > LEAST_VOLUME
    ]


def _neighbours(plan: ChassisPlan, piece: PiecePlan, chord: float) -> tuple[Body, ...]:
    """Return what goes together with a piece: the parts in its sections, and the caps and carriers there."""
    bodies = []
    for p in plan.parts:
        if p.section in piece.sections:
            solids = [mesh.solid(s, chord).transformed(p.frame) for s in p.part.envelope]
            bodies.append(solids[0].union(*solids[1:]))
    bodies += [
        piece_body(other, chord)
        for other in plan.pieces
        if other.name != piece.name
        and set(other.sections) & set(piece.sections)
        and (other.owner is not None or piece.owner is not None)
    ]
    return tuple(bodies)


def _matters(plan: ChassisPlan, region: Body, near: Iterable[Body]) -> bool:
    """Return whether a part, another piece or the tube comes near a region."""
    points, _ = region.arrays()
    low, high = region.bounds
    middle = (low[2] + high[2]) / 2
    bears = (s.radius for s in plan.outer.steps if s.bearing and s.z0 <= middle <= s.z1)
    if float(np.hypot(points[:, 0], points[:, 1]).max()) > max(bears, default=math.inf) - _NEAR:
        return True
    return any(body.gap(region, _NEAR) < _NEAR for body in near)


def _hole(holes: Iterable[ScrewHole], points: np.ndarray) -> ScrewHole | None:
    """Return the screw hole whose wall all points lie at, or None."""
    for h in holes:
        f = h.frame
        local = points - np.array(f.origin)
        off = np.hypot(local @ np.array(f.x_axis), local @ np.array(f.y_axis))
        if float(off.max()) <= h.diameter.total * _TEARDROP + _HOLE_MARGIN:
            return h
    return None


def _depth(body: Body) -> tuple[float, float]:
    """Return the typical and the largest thickness of a thin region, mm: rays inward from its largest facets."""
    points, faces = body.arrays()
    corners = points[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.linalg.norm(normals, axis=1) / 2
    chosen = np.argsort(-areas)[:_RAYS]
    chosen = chosen[areas[chosen] > 0]
    inward = -normals[chosen] / (2 * areas[chosen])[:, None]
    # a start just inside the facet doesn't meet the facet itself
    starts = corners[chosen].mean(axis=1) + inward * 1e-6
    found = []
    for hits, way, area in zip(body.rays(starts, inward), inward, areas[chosen], strict=True):
        if hits and float(np.dot(hits[0].normal, -way)) < _ANTI_PARALLEL:
            found.append((hits[0].distance, float(area)))
    plate = 2 * body.volume / body.area
    # rays along a skin say nothing of its thickness; a wedge is up to twice as thick as the plate
    found = [(d, area) for d, area in found if d <= _SKIN * plate]
    if not found:
        # no two faces stand against each other: a wedge, taken as thick as a plate of its volume and surface
        return plate, plate
    return _quantile(found, 0.5), _quantile(found, _MOST)


def _quantile(found: Sequence[tuple[float, float]], share: float) -> float:
    """Return the value below which a share of the weight lies."""
    wanted, so_far = math.fsum(w for _, w in found) * share, 0.0
    for value, weight in sorted(found):
        so_far += weight
        if so_far >= wanted:
            return value
    return max(found)[0]


def _clocks(angles: Sequence[float]) -> tuple[float, float]:
    """Return the shortest interval of clock angles that holds all, degrees; 0 and 360 where it is all round."""
    turn = sorted(set(angles))
    gaps = [((turn[(i + 1) % len(turn)] - a) % 360.0 or 360.0, i) for i, a in enumerate(turn)]
    gap, i = max(gaps)
    if gap < _WHOLE_TURN_GAP:
        return 0.0, 360.0
    start = turn[(i + 1) % len(turn)]
    return start, start + 360.0 - gap


def _fillings(printed: ChassisPlan, now: ChassisPlan, piece: PiecePlan) -> tuple[Filling, ...]:
    """Return what takes up every fit of a piece whose inner dimension was printed wider than it is needed."""
    before: Mapping[str, Fit] = {f.dimension.name: f for f in printed.fits}
    found: dict[str, Filling] = {}
    for fit in now.fits:
        old = before.get(fit.dimension.name)
        if old is None or fit.dimension.name in found or not _belongs(now, piece, fit):
            continue
        inner = side_of(fit.dimension) != "outer"
        too_wide = (old.dimension.total - fit.dimension.total) * (1.0 if inner else -1.0)
        if too_wide > LEAST_TAKEN_UP:
            found[fit.dimension.name] = _filling(now, fit, too_wide, inner)
    return tuple(found.values())


def _belongs(plan: ChassisPlan, piece: PiecePlan, fit: Fit) -> bool:
    if piece.name in fit.between:
        return True
    return any(fit.dimension.name.startswith(f"{s}.") for s in piece.sections) and piece.owner is None


def _filling(plan: ChassisPlan, fit: Fit, too_wide: float, inner: bool) -> Filling:
    layer, most = trial_rule("tape_layer").value, int(trial_rule("tape_layers_most").value)
    # tape on both sides of an outside, on one side of what lies in a seat
    sides = 1 if inner else 2
    layers = round(too_wide / sides / layer)
    pair = f"{fit.between[0]} and {fit.between[1]}"
    low, high = fit.required
    left = fit.as_printed + (too_wide - sides * layers * layer) / 2
    if 0 < layers <= most and low <= left <= high:
        where = "in the seat, on one side" if inner else "round the outside"
        words = f"{layers} x {layer:g} mm tape {where}: {pair} then have {left:.3f} mm per side"
        return Filling(fit.dimension.name, fit.between, too_wide, layers, None, words)
    shim = make_shim(plan, fit, too_wide) if inner else None
    if shim is not None and shim.verdict != "fail":
        words = (
            f"a shim {shim.thickness.total:.2f} mm thick, on one side of the seat: {pair} then have "
            f"{shim.fit.as_printed:.3f} mm per side ({shim.verdict}, {100 * shim.share:.0f} % of prints fit)"
        )
        return Filling(fit.dimension.name, fit.between, too_wide, 0, shim, words)
    words = f"{pair} have {too_wide:.2f} mm too much room; neither tape nor a shim brings them into range"
    return Filling(fit.dimension.name, fit.between, too_wide, 0, None, words)


def _too_much(
    plan: ChassisPlan, regions: Sequence[Region], fillings: Sequence[Filling], needed: Body
) -> tuple[str, ...]:
    """Return why a piece is better printed again."""
    spread = printer_tolerance(plan.calibrated).value
    deepest, share = trial_rule("file_depth_most").value, trial_rule("rework_share_most").value
    reasons = [
        f"{r.depth_most:.2f} mm would have to be filed away in {', '.join(r.sections)}, more than {deepest:g}"
        for r in regions
        if r.action == "file" and r.depth_most > deepest
    ]
    changed = math.fsum(r.volume_mm3 for r in regions) / needed.volume
    if changed > share:
        reasons.append(f"{100 * changed:.0f} % of its volume changes, more than {100 * share:.0f} %")
    reasons += [f.words for f in fillings if not f.tape_layers and f.shim is None]
    filled = {f.dimension.rpartition(".")[0] for f in fillings}
    reasons += [
        f"up to {r.depth_most:.2f} mm of material is missing in {', '.join(r.sections)}, and no fit takes it up"
        for r in regions
        if r.action == "add" and r.depth_most > spread and not filled & {*r.sections, "chassis"}
    ]
    return tuple(dict.fromkeys(reasons))


def _costed(
    plan: ChassisPlan,
    piece: str,
    needed: Body,
    regions: tuple[Region, ...],
    fillings: tuple[Filling, ...],
    reasons: tuple[str, ...],
) -> PieceSheet:
    rate, filing, hand = (trial_rule(n).value for n in ("print_rate", "file_rate", "hand_time"))
    density = plan.material.density_g_cm3
    shims = math.fsum(f.shim.volume_mm3 for f in fillings if f.shim)
    hand_jobs = sum(r.action == "drill" for r in regions) + len(fillings)
    filed = math.fsum(r.volume_mm3 for r in regions if r.action == "file")
    advice: Literal["keep", "rework", "reprint"] = "rework" if regions or fillings else "keep"
    return PieceSheet(
        piece,
        regions,
        fillings,
        "reprint" if reasons else advice,
        reasons,
        shims / 1000 * density,
        shims / rate + filed / filing + hand_jobs * hand,
        needed.volume / 1000 * density,
        needed.volume / rate,
    )
