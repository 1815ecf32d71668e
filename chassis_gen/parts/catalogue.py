"""The generic catalogue, look-up by name, and sizes overridden by what a maker measured."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.parts.extent import Extent, extent, extent_of
from chassis_gen.parts.kind import UP
from chassis_gen.parts.kinds import (
    GENERIC,
    KINDS,
    find_kind,
    make_part,
    resized,
    unknown_size,
)
from chassis_gen.parts.model import ELECTRICAL, Keepout, Measure, Part, Terminal
from chassis_gen.problems import InputError
from chassis_gen.tables.cells import CellSize, find_cell, pack_rule
from chassis_gen.tables.reading import lookup

MEASURED = "build file"
ROW_HEADER = ("size", "value", "tolerance", "unit", "meaning", "source")

_NO_PARTS: Mapping[str, Part] = MappingProxyType({})


@cache
def catalogue() -> Mapping[str, Part]:
    """Return the generic parts by name, in the order of the data file."""
    import tomllib
    from importlib.resources import files

    text = files("chassis_gen.parts").joinpath("data", "catalogue.toml").read_text(encoding="utf-8")
    return MappingProxyType({n: _generic(n, entry) for n, entry in tomllib.loads(text)["part"].items()})


def find_part(name: str, extra: Mapping[str, Part] = _NO_PARTS) -> Part:
    """Return a part by name; case doesn't matter.

    Args:
        name: such as ``speaker 32 mm``.
        extra: the maker's own parts by name; they come before generic ones of the same name.

    Raises:
        InputError: code ``unknown-part``, with the nearest known name.
    """
    return lookup(name, {**catalogue(), **extra}, "unknown-part", "part")


def overridden(part: Part, overrides: Mapping[str, float | Measure], key: str | None = None) -> Part:
    """Return the part with some sizes as a maker measured them.

    A plain number keeps the tolerance that the size had (0 for a size the part lacked); a `Measure`
    brings its own tolerance and source.

    Args:
        part: the part.
        overrides: sizes by name, in the unit of the kind's rule.
        key: key path of the overrides for errors; default ``part."<name>"``.

    Raises:
        InputError: every unknown size with the nearest known one, else every value that the kind refuses.
    """
    if not overrides:
        return part
    place = key or f'part."{part.name}"'
    kind = KINDS[part.kind]
    unknown = [unknown_size(kind, name, place) for name in overrides if kind.rule(name) is None]
    if unknown:
        raise InputError(unknown)
    sizes = {**part.sizes, **{n: _measured(part, n, v) for n, v in overrides.items()}}
    return resized(part, sizes, place)


def part_rows(part: Part) -> tuple[tuple[str, ...], ...]:
    """Return one row of text per size, under `ROW_HEADER`.

    Args:
        part: the part.
    """
    rows = ((rule, part.sizes[rule.name]) for rule in KINDS[part.kind].rules if part.has(rule.name))
    return tuple(
        (r.name, f"{m.value:g}", f"{m.tolerance:g}" if m.tolerance else "", r.unit, r.meaning, m.source)
        for r, m in rows
    )


def part_json(part: Part) -> dict[str, Any]:
    """Return everything known of a part as values that JSON has; lengths in mm.

    Args:
        part: the part.
    """
    kind = find_kind(part.kind)
    return {
        "name": part.name,
        "kind": part.kind,
        "title": part.title,
        "frame": kind.frame,
        "mass_g": part.mass_g,
        "sizes": {
            r.name: {
                "value": part.sizes[r.name].value,
                "tolerance": part.sizes[r.name].tolerance,
                "unit": r.unit,
                "meaning": r.meaning,
                "source": part.sizes[r.name].source,
            }
            for r in kind.rules
            if part.has(r.name)
        },
        "bounds_mm": _corners(part_extent(part)),
        "terminals": [_terminal_json(t) for t in part.terminals],
        "keepouts": [_keepout_json(k) for k in part.keepouts],
        "electrical": {k: v for k in ELECTRICAL if (v := getattr(part, k)) not in (None, ())},
        "source": part.source,
        "cautions": list(part.cautions),
    }


def part_extent(part: Part) -> Extent:
    """Return the lowest and highest corner of the part's envelope in its own frame, mm.

    Args:
        part: the part.
    """
    return extent(extent_of(s) for s in part.envelope)


def _measured(part: Part, name: str, value: float | Measure) -> Measure:
    if isinstance(value, Measure):
        return value
    return Measure(value, part.sizes[name].tolerance if part.has(name) else 0.0, MEASURED)


def _terminal_json(t: Terminal) -> dict[str, Any]:
    return {
        "name": t.name,
        "position": list(t.position),
        "direction": list(t.direction),
        "largest_wire_diameter": t.largest_wire_diameter,
        "must_connect": t.must_connect,
    }


def _keepout_json(k: Keepout) -> dict[str, Any]:
    return {"name": k.name, "reason": k.reason, "bounds_mm": _corners(extent_of(k.solid))}


def _corners(box: Extent) -> dict[str, list[float]]:
    return {"low": list(box[0]), "high": list(box[1])}


class _Base(Struct, frozen=True):
    """What an entry takes from elsewhere: sizes, mass, source and cautions."""

    sizes: Mapping[str, Measure]
    mass_g: float | None
    source: str
    cautions: tuple[str, ...] | None


def _generic(name: str, entry: Mapping[str, Any]) -> Part:
    """Return the part of one entry of the data file."""
    base = _base(entry)
    stated = {n: _measure(raw, base.source) for n, raw in entry.get("sizes", {}).items()}
    rows = entry.get("terminal")
    made = make_part(
        name,
        entry["kind"],
        entry["title"],
        {**base.sizes, **stated},
        entry.get("mass_g", base.mass_g),
        base.source,
        terminals=tuple(_terminal(row, entry["largest_wire_diameter"]) for row in rows) if rows else None,
        cautions=base.cautions,
    )
    electrical: dict[str, Any] = {
        k: tuple(entry[k]) if isinstance(entry[k], list) else entry[k] for k in ELECTRICAL if k in entry
    }
    return replace(made, **electrical)


def _base(entry: Mapping[str, Any]) -> _Base:
    if "cell" in entry:
        cell = find_cell(entry["cell"])
        return _Base(_cell_sizes(cell), cell.mass_g, cell.source, cell.cautions)
    if "pack_of" in entry:
        cell = find_cell(entry["pack_of"])
        source = f"{cell.source}; tabs, insulators and sleeve by common practice"
        return _Base(_pack_sizes(cell), cell.mass_g, source, (*cell.cautions, "soldering"))
    return _Base({}, None, entry.get("source", GENERIC), None)


def _between(low: float, high: float, source: str) -> Measure:
    """Return the middle of a range with the tolerance that covers it, so that a seat is drawn to the mean."""
    return Measure(round((low + high) / 2, 6), round((high - low) / 2, 6), source)


def _cell_sizes(cell: CellSize) -> dict[str, Measure]:
    return {
        "diameter": _between(cell.min_diameter, cell.max_diameter, cell.source),
        "length": _between(cell.min_length, cell.max_length, cell.source),
    }


def _pack_sizes(cell: CellSize) -> dict[str, Measure]:
    """Return a wrapped cell's sizes: sleeve round it, a tab and an insulator at each end."""
    sleeve = 2 * pack_rule("sleeve_per_side").value
    ends = 2 * (pack_rule("tab_per_end").value + pack_rule("insulator_per_end").value)
    exit_room = pack_rule("lead_exit")
    source = f"{cell.source}; with what the table of pack allowances adds"
    return {
        "diameter": _between(cell.min_diameter + sleeve, cell.max_diameter + sleeve, source),
        "length": _between(cell.min_length + ends, cell.max_length + ends, source),
        "lead_exit_length": Measure(exit_room.value, 0.0, exit_room.source),
    }


def _measure(raw: float | Mapping[str, float], source: str) -> Measure:
    if isinstance(raw, Mapping):
        return Measure(float(raw["value"]), float(raw["tolerance"]), source)
    return Measure(float(raw), 0.0, source)


def _terminal(row: Mapping[str, Any], largest_wire: float) -> Terminal:
    x, y, z = (float(v) for v in row["position"])
    return Terminal(row["name"], (x, y, z), UP, largest_wire, row.get("must_connect", False))
