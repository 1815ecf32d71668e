"""What the trade knows of harnesses: where they fail, and what to measure before they are closed in."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.tables.reading import lookup, read_toml


class FailureKind(Struct, frozen=True):
    """One way in which a harness fails.

    Args:
        name: such as ``connector``.
        rank: 1 is worst.
        text: what it is.
        remedy: what to do about it.
        source: what the rank rests on.
    """

    name: str
    rank: int
    text: str
    remedy: str
    source: str


class BenchStep(Struct, frozen=True):
    """One test of a part on the bench.

    Args:
        what: what to do.
        expected: what a sound part shows; ``{low}`` and ``{high}`` stand for its cell's voltages.
    """

    what: str
    expected: str


class CellVoltage(Struct, frozen=True):
    """Voltages between which a kind of cell is used, V.

    Args:
        what: the chemistry.
        low: V.
        nominal: V.
        high: V.
        source: where the limits come from.
    """

    what: str
    low: float
    nominal: float
    high: float
    source: str


class Between(Struct, frozen=True):
    """What a meter shows between two contacts of a part.

    Args:
        beeps: ``yes`` or ``pressed``.
        expected: in words.
    """

    beeps: str
    expected: str


@cache
def failure_kinds() -> Mapping[str, FailureKind]:
    """Return the kinds of failure by name, worst first."""
    rows = read_toml("failure_points.toml", "point")
    made = (FailureKind(r["name"], r["rank"], r["text"], r["remedy"], r["source"]) for r in rows)
    return {k.name: k for k in sorted(made, key=lambda k: k.rank)}


def part_kinds_that_are(name: str) -> frozenset[str]:
    """Return the part kinds that are ``changed`` in a build's life, or ``shaken`` in use.

    Args:
        name: one of those two words.

    Raises:
        InputError: code ``unknown-rule``.
    """
    rows = {r["name"]: frozenset(r["part_kinds"]) for r in read_toml("failure_points.toml", "bearing")}
    return lookup(name, rows, "unknown-rule", "bearing of part kinds on failures")


def bench_steps(kind: str) -> tuple[BenchStep, ...]:
    """Return the bench tests of a part kind; none for one that has nothing to measure.

    Args:
        kind: such as ``speaker``.
    """
    rows = read_toml("bench_tests.toml", "bench")
    return tuple(BenchStep(r["what"], r["expected"]) for r in rows if r["kind"] == kind)


def cell_voltage(topics: tuple[str, ...]) -> CellVoltage | None:
    """Return the voltages of the cell that caution topics are about, or None where they are about none.

    Args:
        topics: a part's caution topics, such as ``lithium_cell``.
    """
    rows = read_toml("bench_tests.toml", "voltage")
    found = (
        CellVoltage(r["what"], r["low"], r["nominal"], r["high"], r["source"])
        for r in rows
        if r["caution"] in topics
    )
    return next(found, None)


def between_contacts(kind: str) -> Between | None:
    """Return what a meter shows between the two contacts of a part kind, or None where it depends.

    Args:
        kind: such as ``panel_button``.
    """
    rows = read_toml("bench_tests.toml", "between")
    return next((Between(r["beeps"], r["expected"]) for r in rows if r["kind"] == kind), None)
