"""From the tube tables of a build to the tube: segments that follow each other, bores, openings, collars."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from msgspec import Struct

from chassis_gen.params.build import OpeningTable, PlugTable, SegmentTable
from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.sums import Dimension, Term, on_grid
from chassis_gen.plan.tube import (
    Bore,
    Collar,
    MeasuredOpening,
    OuterStretch,
    Plug,
    Segment,
    Tube,
)
from chassis_gen.problems import nearest_name
from chassis_gen.sections.base import Opening


def build_tube(inputs: BuildInputs, gathering: Gathering) -> Tube:
    """Return the tube of a build, its stations on the grid.

    Args:
        inputs: the build's files.
        gathering: takes what is wrong with the tube.

    Raises:
        InputError: when there is no segment at all.
    """
    table = inputs.build.tube
    if table.like and table.segment:
        rejection = Rejection("not-allowed", "both like and segment are given", "one of them")
        gathering.reject(inputs, ("tube", "like"), rejection)
    rows = inputs.tube_file.segment if inputs.tube_file else table.segment
    if not rows:
        allowed = "[[tube.segment]], or like = a tube file"
        gathering.reject(inputs, ("tube",), Rejection("missing-key", "the tube has no segment", allowed))
        gathering.raise_any()
    segments = tuple(_segment(inputs, i, row, gathering) for i, row in enumerate(rows))
    _check_joints(inputs, segments, gathering)
    shared = inputs.tube_file.opening if inputs.tube_file else ()
    pairs = [
        _opening(inputs, segments, row, _path("opening", k, len(shared)), gathering)
        for k, row in enumerate((*shared, *table.opening))
    ]
    tube = Tube(
        segments,
        tuple(opening for opening, _ in pairs),
        tuple(_collars(inputs)),
        tuple(Plug(p.name, p.opening, p.outer_end) for p in _plug_rows(inputs)),
        tuple(measured for _, measured in pairs),
    )
    for k, opening in enumerate(tube.openings):
        _check_opening(inputs, tube, opening, _path("opening", k, len(shared)), gathering)
    _check_collars(inputs, tube, gathering)
    _check_plugs(inputs, tube, gathering)
    return tube


def _path(table: str, index: int, shared: int) -> KeyPath:
    """Return where a row of several files stands in the build file; shared ones at the tube file's name."""
    return ("tube", table, index - shared) if index >= shared else ("tube", "like")


def _segment(inputs: BuildInputs, i: int, row: SegmentTable, gathering: Gathering) -> Segment:
    z0 = on_grid(row.from_mouth)
    z1 = on_grid(z0 + row.length)
    place = _Place(inputs, i, z0, z1, gathering)
    starts = [on_grid(b.from_mouth) for b in row.bores]
    place.check_starts("bores", "bore", starts)
    bores = tuple(
        Bore(a, b, bore.diameter, bore.tolerance, bore.ovality, bore.taper)
        for bore, a, b in zip(row.bores, starts, [*starts[1:], z1], strict=True)
    )
    edges = [on_grid(o.from_mouth) for o in row.outer]
    outside = tuple(
        OuterStretch(a, b, r.diameter) for r, a, b in zip(row.outer, edges, [*edges, z1][1:], strict=True)
    )
    if outside:
        place.check_starts("outer", "outside", [o.z0 for o in outside])
        place.check_walls(outside, bores)
    if row.overlap >= row.length:
        why = f"an overlap of {row.overlap:g} leaves nothing of a segment of {row.length:g}"
        place.reject("overlap", why, f"below {row.length:g}")
    return Segment(
        row.name,
        z0,
        z1,
        row.wall,
        row.material,
        bores,
        outside,
        on_grid(row.overlap),
        row.stop_clock_deg,
        row.conducts,
    )


class _Place(Struct, frozen=True):
    """A segment's stations and its row in the build file, for placing what is wrong with it."""

    inputs: BuildInputs
    index: int
    z0: float
    z1: float
    gathering: Gathering

    def reject(self, key: str, why: str, allowed: str) -> None:
        """Gather what is wrong with one key of the segment."""
        path: KeyPath = ("tube", "segment", self.index, key)
        self.gathering.reject(self.inputs, path, Rejection("not-allowed", why, allowed))

    def check_starts(self, key: str, what: str, starts: Sequence[float]) -> None:
        """Gather stretches that don't begin at the segment's near end or don't follow each other inwards."""
        if list(starts) != sorted(set(starts)) or starts[0] != self.z0:
            why = f"{key} must begin at the segment's near end {self.z0:g} and follow each other inwards"
            self.reject(key, why, f"from_mouth = {self.z0:g}, then larger ones")
        if starts[-1] >= self.z1:
            article = "an" if what[0] in "aeiou" else "a"
            why = f"{article} {what} begins at {starts[-1]:g}, beyond the segment's far end {self.z1:g}"
            self.reject(key, why, f"from_mouth below {self.z1:g}")

    def check_walls(self, outside: Sequence[OuterStretch], bores: Sequence[Bore]) -> None:
        """Gather an outside that isn't wider than the bore within it."""
        for o in outside:
            inside = max((b.diameter for b in bores if b.z0 < o.z1 and b.z1 > o.z0), default=0.0)
            if o.diameter <= inside:
                why = f"the outside from {o.z0:g} is {o.diameter:g} wide, the bore within it {inside:g}"
                self.reject("outer", why, f"above {inside:g}")
                return


def _check_joints(inputs: BuildInputs, segments: Sequence[Segment], gathering: Gathering) -> None:
    """Gather a first segment that leaves the mouth open to nothing, and segments that don't meet."""
    if segments[0].z0 != 0.0:
        why = f"the first segment begins at {segments[0].z0:g}, the mouth is station 0"
        path: KeyPath = ("tube", "segment", 0, "from_mouth")
        gathering.reject(inputs, path, Rejection("not-allowed", why, "0"))
    for i, (a, b) in enumerate(itertools.pairwise(segments)):
        wanted = on_grid(a.z1 - a.overlap)
        if b.z0 != wanted:
            less = f" and overlaps by {a.overlap:g}" if a.overlap else ""
            why = f'segment "{b.name}" begins at {b.z0:g}, the one before ends at {a.z1:g}{less}'
            path = ("tube", "segment", i + 1, "from_mouth")
            gathering.reject(inputs, path, Rejection("not-allowed", why, f"{wanted:g}"))
    if segments[-1].overlap:
        path = ("tube", "segment", len(segments) - 1, "overlap")
        why = "the last segment has no next one to overlap with"
        gathering.reject(inputs, path, Rejection("not-allowed", why, "0"))


def _opening(
    inputs: BuildInputs,
    segments: Sequence[Segment],
    row: OpeningTable,
    path: KeyPath,
    gathering: Gathering,
) -> tuple[Opening, MeasuredOpening]:
    """Return an opening in the tube's clock, and what is known of how well it was measured."""
    station = on_grid(row.from_mouth)
    there = [s for s in segments if s.z0 <= station <= s.z1] or [segments[-1]]
    own = _own_segment(inputs, segments, there, row, path, gathering)
    first = own is segments[0]
    clock = (row.clock_deg + (0.0 if first else own.stop_clock_deg or 0.0)) % 360.0
    overlapping = len(there) > 1 and there[1].z0 < station < there[0].z1
    name = f"tube.{row.name}"
    seen = (
        "measured by the maker" if row.from_mouth_tolerance or row.clock_tolerance_deg else "parameter file"
    )
    terms = [Term("clock from its segment's mark", row.clock_deg, seen, row.clock_tolerance_deg)]
    if not first:
        known = own.stop_clock_deg is not None
        stop = f'where the mark of "{own.name}" stands when screwed home'
        terms.append(Term("stop clock", own.stop_clock_deg or 0.0, stop if known else f"{stop}: not known"))
    measured = MeasuredOpening(
        row.name,
        own.name,
        from_joint=not first,
        clock_known=first or own.stop_clock_deg is not None,
        in_thread=overlapping,
        station=_sum(f"{name}.station", "station", station, seen, row.from_mouth_tolerance, "of its axis"),
        clock=Dimension(f"{name}.clock", tuple(terms), "clock angle of its axis in the tube", "deg"),
        diameter=_sum(
            f"{name}.diameter", "diameter", row.diameter, seen, row.diameter_tolerance, "of the hole"
        ),
        transfer=row.transfer,
    )
    return Opening(row.name, station, clock, row.diameter), measured


def _sum(name: str, label: str, value: float, source: str, tolerance: float, note: str) -> Dimension:
    return Dimension(name, (Term(label, value, source, tolerance),), f"{label} {note}")


def _own_segment(
    inputs: BuildInputs,
    segments: Sequence[Segment],
    there: Sequence[Segment],
    row: OpeningTable,
    path: KeyPath,
    gathering: Gathering,
) -> Segment:
    """Return the segment that an opening is drilled in, as it says or as its station says."""
    if row.segment is None:
        return there[0]
    names = [s.name for s in segments]
    at: KeyPath = (*path, "segment") if path[-1] != "like" else path
    if row.segment not in names:
        rejection = Rejection(
            "unknown-name",
            f'the tube has no segment "{row.segment}"',
            ", ".join(names),
            nearest_name(row.segment, names),
        )
        gathering.reject(inputs, at, rejection)
        return there[0]
    own = segments[names.index(row.segment)]
    if own not in there:
        why = f'segment "{own.name}" reaches from {own.z0:g} to {own.z1:g}, the opening lies at {row.from_mouth:g}'
        gathering.reject(inputs, at, Rejection("not-allowed", why, ", ".join(s.name for s in there)))
    return own


def _check_opening(
    inputs: BuildInputs, tube: Tube, opening: Opening, path: KeyPath, gathering: Gathering
) -> None:
    """Gather an opening that leaves the tube or is wider; a shared one is placed at the tube file's name."""
    own = path[-1] != "like"
    low, high = opening.station - opening.diameter / 2, opening.station + opening.diameter / 2
    if low < 0 or high > tube.length:
        why = f"the opening reaches from {low:g} to {high:g}, outside the tube"
        rejection = Rejection("not-allowed", why, f"inside the tube, 0 to {tube.length:g}")
        gathering.reject(inputs, (*path, "from_mouth") if own else path, rejection)
    elif opening.diameter > tube.outer_diameter(opening.station):
        allowed = f"below the tube's outside diameter {tube.outer_diameter(opening.station):g}"
        rejection = Rejection("not-allowed", "wider than the tube itself", allowed)
        gathering.reject(inputs, (*path, "diameter") if own else path, rejection)


def _collars(inputs: BuildInputs) -> Iterator[Collar]:
    shared = inputs.tube_file.collar if inputs.tube_file else ()
    for row in (*shared, *inputs.build.tube.collar):
        z0 = on_grid(row.from_mouth)
        yield Collar(row.name, z0, on_grid(z0 + row.length), row.inner_diameter)


def _check_collars(inputs: BuildInputs, tube: Tube, gathering: Gathering) -> None:
    """Gather collars that reach past the tube or can't be slid over it."""
    shared = len(inputs.tube_file.collar) if inputs.tube_file else 0
    for k, collar in enumerate(tube.collars):
        path = _path("collar", k, shared)
        own = path[-1] != "like"
        if collar.z1 > tube.length:
            why = f'collar "{collar.name}" ends at {collar.z1:g}, beyond the tube\'s end'
            rejection = Rejection("not-allowed", why, f"an end by {tube.length:g}")
            gathering.reject(inputs, (*path, "length") if own else path, rejection)
        covered = [o.diameter for o in tube.profile if o.z0 < collar.z1 and o.z1 > collar.z0]
        if covered and collar.inner_diameter < max(covered):
            why = (
                f'collar "{collar.name}" is {collar.inner_diameter:g} wide inside, '
                f"the tube under it {max(covered):g}"
            )
            rejection = Rejection("not-allowed", why, f"at least {max(covered):g}")
            gathering.reject(inputs, (*path, "inner_diameter") if own else path, rejection)


def _plug_rows(inputs: BuildInputs) -> tuple[PlugTable, ...]:
    shared = inputs.tube_file.plug if inputs.tube_file else ()
    own: tuple[PlugTable, ...] = inputs.build.tube.plug
    return (*shared, *own)


def _check_plugs(inputs: BuildInputs, tube: Tube, gathering: Gathering) -> None:
    """Gather plugs of openings that there are not."""
    names = [o.name for o in tube.openings]
    shared = len(inputs.tube_file.plug) if inputs.tube_file else 0
    for k, plug in enumerate(tube.plugs):
        if plug.opening not in names:
            path = _path("plug", k, shared)
            rejection = Rejection(
                "unknown-name",
                f'the tube has no opening "{plug.opening}"',
                ", ".join(names) or "none yet: add [[tube.opening]]",
                nearest_name(plug.opening, names),
            )
            gathering.reject(inputs, (*path, "opening") if path[-1] != "like" else path, rejection)
