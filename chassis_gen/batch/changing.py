"""What changed since a build's folder was written: piece by piece, dimension by dimension, term by term.

The old figures are those of the fit report that lies in the folder, the new ones those of the plan.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Literal

from msgspec import Struct

if TYPE_CHECKING:
    from chassis_gen.output.current import Before
    from chassis_gen.plan.chassis import ChassisPlan, PiecePlan

How = Literal["new", "changed", "gone", "made again", "report only"]
LEAST = 5e-5
"""Differences below this are rounding, mm: half of the last digit of a report."""


class TermChange(Struct, frozen=True):
    """A term of a labelled sum that differs; None where the sum has no such term."""

    label: str
    old: float | None
    new: float | None


class DimensionChange(Struct, frozen=True):
    """A dimension or a station that differs.

    Args:
        name: such as ``speaker.rim_seat_diameter``.
        old: figure before, or None where there was none.
        new: figure now, or None where there is none any more.
        unit: of both.
        terms: which terms of its sum differ; none for a station.
    """

    name: str
    old: float | None
    new: float | None
    unit: str = "mm"
    terms: tuple[TermChange, ...] = ()


class PieceChange(Struct, frozen=True):
    """A piece that is made anew, and why.

    Args:
        piece: its name; empty for changes that reach no piece.
        how: ``new``, ``changed`` (its shape), ``gone``, ``made again`` (the same shape by other tools or at
            another chord, or its files were not whole) or ``report only``.
        dimensions: what changed on it.
    """

    piece: str
    how: How
    dimensions: tuple[DimensionChange, ...] = ()


def piece_changes(
    before: Before, plan: ChassisPlan, recipes: Mapping[str, str], again: bool
) -> tuple[PieceChange, ...]:
    """Return what changed since the folder was written.

    Args:
        before: the folder.
        plan: the build as it is planned now.
        recipes: hash of each piece's recipes, as in a manifest.
        again: True when pieces of the same shape are made again, too.
    """
    old = before.manifest.get("recipes", {}) if before.report else {}
    old = old if isinstance(old, dict) else {}
    dimensions = _dimensions(before.report, plan)
    stations = _stations(before.report, plan)
    rows: list[PieceChange] = []
    shown: set[str] = set()
    for piece in plan.pieces:
        if piece.name not in old:
            rows.append(PieceChange(piece.name, "new"))
        elif old[piece.name] != recipes[piece.name]:
            own = tuple(d for d in (*dimensions, *stations) if _belongs(d.name, piece, plan))
            shown |= {d.name for d in own}
            rows.append(PieceChange(piece.name, "changed", own))
        elif again:
            rows.append(PieceChange(piece.name, "made again"))
    names = {p.name for p in plan.pieces}
    rows += [PieceChange(name, "gone") for name in old if name not in names]
    # without a piece of its own to stand at, a change that was worked out is still said
    rest = tuple(d for d in (*dimensions, *stations) if d.name not in shown) if old else ()
    return (*rows, PieceChange("", "report only", rest)) if rest else tuple(rows)


def _belongs(name: str, piece: PiecePlan, plan: ChassisPlan) -> bool:
    """Return whether a dimension may be a piece's: one of its sections', or one of the whole chassis."""
    sections = {s.name for s in plan.sections}
    owner = max((s for s in sections if name.startswith((f"{s}.", f"{s} "))), key=len, default=None)
    return piece.owner is None if owner is None else owner in piece.sections


def _dimensions(report: Mapping[str, Any], plan: ChassisPlan) -> tuple[DimensionChange, ...]:
    old = {d["name"]: d for d in _rows(report, "dimensions")}
    found = []
    for name in {**dict.fromkeys(old), **dict.fromkeys(sorted(plan.dimensions))}:
        was, now = old.get(name), plan.dimensions.get(name)
        figures = (_figure(was, "total"), now.total if now else None)
        terms = _terms(
            [(t.get("label"), t.get("value")) for t in _rows(was or {}, "terms")],
            [(t.label, t.value) for t in now.terms] if now else [],
        )
        if _differ(*figures) or terms:
            unit = now.unit if now else str((was or {}).get("unit", "mm"))
            found.append(DimensionChange(name, _round(figures[0]), _round(figures[1]), unit, terms))
    return tuple(found)


def _terms(old: Iterable[tuple[Any, Any]], new: Iterable[tuple[Any, Any]]) -> tuple[TermChange, ...]:
    """Return the labels whose terms add up to something else."""
    was, now = _by_label(old), _by_label(new)
    return tuple(
        TermChange(label, _round(was.get(label)), _round(now.get(label)))
        for label in {**was, **now}
        if abs(was.get(label, 0.0) - now.get(label, 0.0)) > 2 * LEAST
    )


def _by_label(terms: Iterable[tuple[Any, Any]]) -> dict[str, float]:
    found: dict[str, float] = {}
    for label, value in terms:
        if isinstance(value, int | float):
            found[str(label)] = found.get(str(label), 0.0) + value
    return found


def _stations(report: Mapping[str, Any], plan: ChassisPlan) -> tuple[DimensionChange, ...]:
    old = {
        f"{s['name']} {end} end": _figure(s, key)
        for s in _rows(report, "sections")
        for end, key in (("near", "z0"), ("far", "z1"))
    }
    new = {f"{s.name} {end} end": z for s in plan.sections for end, z in (("near", s.z0), ("far", s.z1))}
    return tuple(
        DimensionChange(name, _round(old.get(name)), _round(new.get(name)))
        for name in {**old, **new}
        if _differ(old.get(name), new.get(name))
    )


def _rows(data: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    """Return the named tables of a list in a report that may be of another version."""
    rows = data.get(key)
    wanted = "label" if key == "terms" else "name"
    return [r for r in rows if isinstance(r, dict) and wanted in r] if isinstance(rows, list) else []


def _figure(row: Mapping[str, Any] | None, key: str) -> float | None:
    value = (row or {}).get(key)
    return float(value) if isinstance(value, int | float) else None


def _differ(old: float | None, new: float | None) -> bool:
    if old is None or new is None:
        return old is not new
    return not math.isclose(old, new, rel_tol=0.0, abs_tol=2 * LEAST)


def _round(figure: float | None) -> float | None:
    return None if figure is None else round(figure, 4) + 0.0
