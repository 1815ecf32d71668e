"""Where the sections stand and what each of them plans there: lengths, stations, contexts, section plans."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.layout import Slot, Stand, stand_sections
from chassis_gen.plan.model import Outer, SectionPlan
from chassis_gen.plan.pieces import file_safe, with_file_names
from chassis_gen.plan.sums import Dimension, on_grid
from chassis_gen.plan.surface import Bearing, Reach
from chassis_gen.plan.tube import Tube
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting


def lengths_of(
    inputs: BuildInputs, kinds: Mapping[str, SectionKind], setting: Setting, gathering: Gathering
) -> list[Dimension | None]:
    """Return each section's length in file order, None for a fill; gather what bars one.

    Args:
        inputs: the build's files.
        kinds: section kinds by name.
        setting: what sections may know.
        gathering: takes what is wrong.
    """
    lengths: list[Dimension | None] = []
    for i, params in enumerate(inputs.build.section):
        try:
            lengths.append(kinds[params.kind].length(params, setting))
        except InputError as error:
            gathering.add(_at_key(inputs, i, params, error))
    return lengths


def stands_in_line(
    inputs: BuildInputs,
    kinds: Mapping[str, SectionKind],
    lengths: Sequence[Dimension | None],
    setting: Setting,
    gathering: Gathering,
) -> tuple[Stand, ...]:
    """Return where the sections in line stand; gather where they have no room.

    Args:
        inputs: the build's files.
        kinds: section kinds by name.
        lengths: of the sections in file order, None for a fill.
        setting: what sections may know.
        gathering: takes what is wrong.
    """
    slots = [
        _slot(params, kinds[params.kind], length, setting)
        for params, length in zip(inputs.build.section, lengths, strict=True)
        if params.beside is None
    ]
    tube = inputs.build.tube
    end = None if tube.chassis_end is None else on_grid(tube.chassis_end)
    stands, faults = stand_sections(slots, on_grid(tube.chassis_offset), end)
    index = [i for i, params in enumerate(inputs.build.section) if params.beside is None]
    for fault in faults:
        rejection = Rejection(fault.code, fault.message, fault.allowed)
        gathering.reject(inputs, ("section", index[fault.index]), rejection)
    return stands


def _slot(params: SectionParams, kind: SectionKind, length: Dimension | None, setting: Setting) -> Slot:
    total, pin = length.total if length else None, pin_of(params, kind, setting)
    if pin is None:
        return Slot(params.name, total)
    how = "station" if params.at_opening is None else f'at_opening "{params.at_opening}"'
    return Slot(params.name, total, pin, f'"{params.name}" ({how})')


def pin_of(params: SectionParams, kind: SectionKind, setting: Setting) -> float | None:
    """Return the station of a section's near end where the maker pins it, mm, or None.

    Args:
        params: the section's keys.
        kind: its kind.
        setting: knows the openings.
    """
    if params.at_opening is not None:
        return on_grid(setting.openings[params.at_opening].station - kind.pin_offset(params, setting))
    return None if params.station is None else on_grid(params.station)


def _at_key(inputs: BuildInputs, i: int, params: SectionParams, error: InputError) -> list[Problem]:
    """Return a section's problems placed at the key that they name, else at the value that they quote."""
    found: list[Problem] = []
    for p in error.problems:
        quoted = _path_of(inputs.source.data["section"][i], (p.value or "").strip('"'))
        path: KeyPath = (
            ("section", i, p.key) if p.key in type(params).model_fields else ("section", i, *quoted)
        )
        found += [p] if p.file else [inputs.problem(path, Rejection(p.code, p.message, p.allowed, p.nearest))]
    return found


def _path_of(table: Any, text: str) -> KeyPath:
    """Return the path of the first value in a section's table that is a given text, or none."""
    entries = table.items() if isinstance(table, Mapping) else enumerate(table)
    for key, value in entries:
        if key in ("kind", "name"):
            continue
        if value == text:
            return (key,)
        if isinstance(value, (Mapping, list)) and (inner := _path_of(value, text)):
            return (key, *inner)
    return ()


def bands(
    inputs: BuildInputs, tube: Tube, stands: Sequence[Stand], reaches: Sequence[Reach], bearing: Bearing
) -> list[tuple[float, float]]:
    """Return where the chassis bears: ends of pieces, pinned openings, each bore, asked-for sections.

    Args:
        inputs: the build's files.
        tube: the tube.
        stands: of all sections in file order.
        reaches: the bores that the chassis stands in.
        bearing: how it bears.
    """
    band = bearing.band
    near, far = min(s.z0 for s in stands), max(s.z1 for s in stands)
    bands = [(near, near + band), (far - band, far)]
    openings = {o.name: o for o in tube.openings}
    for params, stand in zip(inputs.build.section, stands, strict=True):
        if params.bearing:
            bands.append((stand.z0, stand.z1))
        if params.at_opening is not None:
            z = openings[params.at_opening].station
            bands.append((z - band / 2, z + band / 2))
    rows = [x for x in zip(inputs.build.section, stands, strict=True) if x[0].beside is None]
    for (before, stand), (after, _) in itertools.pairwise(rows):
        if file_safe(before.piece) != file_safe(after.piece):
            bands.append((stand.z1 - band, stand.z1 + band))
    for r in reaches:
        if not any(a < r.z1 and b > r.z0 + band / 2 for a, b in bands):
            bands.append((r.z0, min(r.z0 + band, r.z1)))
    return bands


def contexts_of(
    inputs: BuildInputs, setting: Setting, tube: Tube, outer: Outer, stands: Sequence[Stand]
) -> dict[str, SectionContext]:
    """Return what each section may know where it stands, by name.

    Args:
        inputs: the build's files.
        setting: what sections may know.
        tube: the tube.
        outer: the chassis's outer surface.
        stands: of all sections in file order.
    """
    rows = inputs.build.section
    in_line = [row for row in rows if row.beside is None]
    place = {row.name: i for i, row in enumerate(in_line)}
    pieces = [file_safe(row.piece) for row in in_line]
    contexts = {}
    for params, stand in zip(rows, stands, strict=True):
        i = place[params.beside or params.name]
        opening = setting.openings.get(params.at_opening) if params.at_opening else None
        contexts[params.name] = SectionContext(
            setting=setting,
            name=params.name,
            piece=pieces[i],
            z0=stand.z0,
            z1=stand.z1,
            outer=outer,
            bore_radius=tube.smallest_bore(stand.z0, stand.z1).diameter / 2,
            tube_outer_radius=tube.outer_diameter((stand.z0 + stand.z1) / 2) / 2,
            opening=opening,
            clock_deg=opening.clock_deg if opening else params.clock_deg % 360.0,
            first=i == 0,
            last=i + 1 == len(in_line),
            joined_near=i > 0 and pieces[i - 1] == pieces[i],
            joined_far=i + 1 < len(in_line) and pieces[i + 1] == pieces[i],
            companion=params.beside is not None,
            bores=tube.bores,
            window_near=min((row.way_through for row in in_line[:i]), default=None),
            window_far=min((row.way_through for row in in_line[i + 1 :]), default=None),
            window_keys_near=_window_keys(rows, in_line[:i]),
            window_keys_far=_window_keys(rows, in_line[i + 1 :]),
        )
    return contexts


def _window_keys(rows: Sequence[SectionParams], among: Sequence[SectionParams]) -> tuple[str, ...]:
    return tuple(
        f"section[{rows.index(row)}].window_diameter" for row in among if hasattr(row, "window_diameter")
    )


def section_plans(
    inputs: BuildInputs,
    kinds: Mapping[str, SectionKind],
    contexts: Mapping[str, SectionContext],
    gathering: Gathering,
) -> tuple[SectionPlan, ...]:
    """Return what the sections plan, their remedies' keys made whole; gather what bars one.

    Args:
        inputs: the build's files.
        kinds: section kinds by name.
        contexts: what each section may know, by name.
        gathering: takes what is wrong.
    """
    plans = []
    for i, params in enumerate(inputs.build.section):
        try:
            plan = kinds[params.kind].plan(params, contexts[params.name])
        except InputError as error:
            gathering.add(_at_key(inputs, i, params, error))
            continue
        keyed = replace(plan, findings=tuple(_keyed(f, i) for f in plan.findings))
        plans.append(with_file_names(keyed))
    return tuple(plans)


def _keyed(finding: Finding, index: int) -> Finding:
    """Return a section's finding with its remedies' keys made whole."""
    candidates = tuple(
        replace(c, key=f"section[{index}].{c.key}")
        if c.key and not c.key.startswith(("section[", "bearing.", "build."))
        else c
        for c in finding.candidates
    )
    return replace(finding, candidates=candidates)
