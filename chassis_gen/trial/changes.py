"""What differs between two plans of a build: dimensions, stations, holes, wires, fits, pieces and findings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from msgspec import Struct

from chassis_gen.checks.fits import share_that_fits
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import Fit, clock_of

LEAST = 5e-5
"""Differences below this are rounding, mm: half of the last digit of a report."""


class Change(Struct, frozen=True):
    """One figure that differs.

    Args:
        name: what it is of.
        before: figure before, or None where there was none.
        after: figure now, or None where there is none any more.
        unit: of both.
    """

    name: str
    before: float | None
    after: float | None
    unit: str = "mm"

    @property
    def by(self) -> float | None:
        """Return the difference, or None where one figure is missing."""
        return None if self.before is None or self.after is None else self.after - self.before


class FitChange(Struct, frozen=True):
    """A fit that differs: clearances per side, mm, and the share of prints that fit, before and now.

    Args:
        id: of the fit.
        between: what goes together.
        required: range of the clearance as printed.
        planned: in the model, before and now.
        as_printed: expected after printing, before and now.
        share: of prints that fit, before and now.
    """

    id: str
    between: tuple[str, str]
    required: tuple[float, float]
    planned: tuple[float | None, float | None]
    as_printed: tuple[float | None, float | None]
    share: tuple[float | None, float | None]


class Changes(Struct, frozen=True):
    """All that differs between two plans.

    Args:
        dimensions: totals of labelled sums.
        stations: near and far ends of sections.
        holes: diameter, depth, station, clock and distance from the axis of screw holes.
        wires: length and cut length.
        fits: see `FitChange`.
        sections: names of sections whose shape or place differs.
        pieces: names of pieces whose shape differs, is new or gone.
        volumes: of those pieces, mm3; empty where no solids were made.
        new_findings: errors and warnings that were not there before.
        gone_findings: errors and warnings that are no longer there.
    """

    dimensions: tuple[Change, ...]
    stations: tuple[Change, ...]
    holes: tuple[Change, ...]
    wires: tuple[Change, ...]
    fits: tuple[FitChange, ...]
    sections: tuple[str, ...]
    pieces: tuple[str, ...]
    volumes: tuple[Change, ...] = ()
    new_findings: tuple[Finding, ...] = ()
    gone_findings: tuple[Finding, ...] = ()

    @property
    def nothing(self) -> bool:
        """Return whether the plans are alike."""
        return not any((self.dimensions, self.stations, self.holes, self.wires, self.fits, self.pieces))


def changes(
    before: ChassisPlan,
    after: ChassisPlan,
    volumes: tuple[Mapping[str, float], Mapping[str, float]] | None = None,
) -> Changes:
    """Return what differs between two plans.

    Args:
        before: the older plan.
        after: the newer one.
        volumes: volume by piece name, mm3, before and now; pieces that are alike may be left out.
    """
    dims = {n: d.unit for p in (before, after) for n, d in p.dimensions.items()}
    found = figures_changed(
        {n: d.total for n, d in before.dimensions.items()}, {n: d.total for n, d in after.dimensions.items()}
    )
    shapes = (_shapes(before), _shapes(after))
    seen = tuple({(f.code, f.where): f for f in p.findings if f.level != "note"} for p in (before, after))
    return Changes(
        tuple(Change(c.name, c.before, c.after, dims[c.name]) for c in found),
        figures_changed(_stations(before), _stations(after)),
        _units(figures_changed(_holes(before), _holes(after)), " clock", "deg"),
        figures_changed(_wires(before), _wires(after)),
        _fits(before, after),
        tuple(n for n in {**shapes[0], **shapes[1]} if shapes[0].get(n) != shapes[1].get(n)),
        pieces_changed(before, after),
        tuple(Change(c.name, c.before, c.after, "mm3") for c in figures_changed(*volumes)) if volumes else (),
        tuple(f for key, f in seen[1].items() if key not in seen[0]),
        tuple(f for key, f in seen[0].items() if key not in seen[1]),
    )


def pieces_changed(before: ChassisPlan, after: ChassisPlan) -> tuple[str, ...]:
    """Return the names of pieces whose recipe differs, is new or gone.

    Args:
        before: the older plan.
        after: the newer one.
    """
    old, new = ({p.name: p.recipes for p in plan.pieces} for plan in (before, after))
    return tuple(n for n in {**old, **new} if old.get(n) != new.get(n))


def figures_changed(before: Mapping[str, float], after: Mapping[str, float]) -> tuple[Change, ...]:
    """Return the figures that differ, are new or gone, in order of their first occurrence.

    Args:
        before: figures by name.
        after: figures by name.
    """
    made = (Change(n, before.get(n), after.get(n)) for n in {**before, **after})
    return tuple(c for c in made if c.by is None or abs(c.by) > LEAST)


def _units(found: tuple[Change, ...], ending: str, unit: str) -> tuple[Change, ...]:
    return tuple(
        Change(c.name, c.before, c.after, unit if c.name.endswith(ending) else c.unit) for c in found
    )


def _stations(plan: ChassisPlan) -> dict[str, float]:
    return {f"{s.name} {end} end": z for s in plan.sections for end, z in (("near", s.z0), ("far", s.z1))}


def _holes(plan: ChassisPlan) -> dict[str, float]:
    found = {}
    for h in plan.holes:
        x, y, z = h.frame.origin
        found[f"{h.id} diameter"] = h.diameter.total
        found[f"{h.id} depth"] = h.depth
        found[f"{h.id} station"] = z
        found[f"{h.id} distance from the axis"] = math.hypot(x, y)
        if math.hypot(x, y) > LEAST:
            found[f"{h.id} clock"] = clock_of(x, y)
    return found


def _wires(plan: ChassisPlan) -> dict[str, float]:
    return {
        f"{r.wire.id} {what}": length
        for r in plan.routes
        for what, length in (("length", r.length), ("cut length", r.cut_length))
    }


def _shapes(plan: ChassisPlan) -> dict[str, tuple[object, ...]]:
    recipes = {r.name: r for p in plan.pieces if p.owner is None for r in p.recipes}
    return {s.name: (s.z0, s.z1, recipes.get(s.name), s.extra_pieces) for s in plan.sections}


def _fits(before: ChassisPlan, after: ChassisPlan) -> tuple[FitChange, ...]:
    old, new = (_by_place(p.fits) for p in (before, after))
    return tuple(
        _fit(old.get(n), new.get(n)) for n in {**old, **new} if _figures(old.get(n)) != _figures(new.get(n))
    )


def _by_place(fits: Iterable[Fit]) -> dict[tuple[object, ...], Fit]:
    """Return fits by what they are of: an id may hold a station, which moves."""
    found: dict[tuple[object, ...], Fit] = {}
    for f in fits:
        place = (f.dimension.name, f.kind, f.between)
        found[(*place, sum(known[:3] == place for known in found))] = f
    return found


def _figures(fit: Fit | None) -> tuple[object, ...]:
    if fit is None:
        return ()
    return tuple(round(v, 4) for v in (*fit.required, fit.planned, fit.as_printed, share_that_fits(fit)))


def _fit(old: Fit | None, new: Fit | None) -> FitChange:
    known = new or old
    assert known is not None
    return FitChange(
        known.id,
        known.between,
        known.required,
        (old.planned if old else None, new.planned if new else None),
        (old.as_printed if old else None, new.as_printed if new else None),
        (share_that_fits(old) if old else None, share_that_fits(new) if new else None),
    )
