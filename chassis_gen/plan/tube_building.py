"""From the tube tables of a build to the tube: segments that follow each other, bores, openings."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from chassis_gen.params.build import SegmentTable
from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.sums import on_grid
from chassis_gen.plan.tube import Bore, Segment, Tube
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
    openings = tuple(
        Opening(o.name, on_grid(o.from_mouth), o.clock_deg % 360.0, o.diameter)
        for o in (*shared, *table.opening)
    )
    tube = Tube(segments, openings)
    for k, opening in enumerate(openings):
        i = k - len(shared)
        _check_opening(
            inputs, tube, opening, ("tube", "opening", i) if i >= 0 else ("tube", "like"), gathering
        )
    return tube


def _segment(inputs: BuildInputs, i: int, row: SegmentTable, gathering: Gathering) -> Segment:
    z0 = on_grid(row.from_mouth)
    z1 = on_grid(z0 + row.length)
    starts = [on_grid(b.from_mouth) for b in row.bores]
    path: KeyPath = ("tube", "segment", i, "bores")
    if starts != sorted(set(starts)) or starts[0] != z0:
        why = f"bores must begin at the segment's near end {z0:g} and follow each other inwards"
        gathering.reject(
            inputs, path, Rejection("not-allowed", why, f"from_mouth = {z0:g}, then larger ones")
        )
    if starts[-1] >= z1:
        why = f"a bore begins at {starts[-1]:g}, beyond the segment's far end {z1:g}"
        gathering.reject(inputs, path, Rejection("not-allowed", why, f"from_mouth below {z1:g}"))
    bores = tuple(
        Bore(a, b, bore.diameter, bore.tolerance)
        for bore, a, b in zip(row.bores, starts, [*starts[1:], z1], strict=True)
    )
    return Segment(row.name, z0, z1, row.wall, row.material, bores)


def _check_joints(inputs: BuildInputs, segments: Sequence[Segment], gathering: Gathering) -> None:
    """Gather a first segment that leaves the mouth open to nothing, and segments that don't meet."""
    if segments[0].z0 != 0.0:
        why = f"the first segment begins at {segments[0].z0:g}, the mouth is station 0"
        path: KeyPath = ("tube", "segment", 0, "from_mouth")
        gathering.reject(inputs, path, Rejection("not-allowed", why, "0"))
    for i, (a, b) in enumerate(itertools.pairwise(segments)):
        if a.z1 != b.z0:
            why = f'segment "{b.name}" begins at {b.z0:g}, the one before ends at {a.z1:g}'
            path = ("tube", "segment", i + 1, "from_mouth")
            gathering.reject(inputs, path, Rejection("not-allowed", why, f"{a.z1:g}"))


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
