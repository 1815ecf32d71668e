"""Labelled sums: totals on the station grid, worst case and root of squares."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chassis_gen.plan.sums import GRID, PRINTER, Dimension, Term, on_grid

LENGTHS = st.floats(-2000, 2000, allow_nan=False)

# textbook tolerance stacks; the figures were calculated apart from this program:
# terms (size, plus-minus), mean gap, worst case, root of the summed squares
STACKS = [
    pytest.param(
        [(32.00, 0.12), (-18.35, 0.15), (-2.40, 0.20), (-2.40, 0.20), (-1.60, 0.16), (-6.50, 0.20)],
        0.75, 1.030, 0.427, (-0.280, 1.780), (0.323, 1.177), id="bore, cell, two walls, board and plug",
    ),
    pytest.param(
        [(180.0, 0.5), (-70.0, 0.4), (-65.2, 0.3), (-22.0, 0.2), (-20.0, 0.2)],
        2.80, 1.600, 0.762, (1.200, 4.400), (2.038, 3.562), id="four parts in a length",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("terms", "mean", "worst", "rss", "worst_range", "rss_range"), STACKS)
def test_worked_stacks(
    terms: list[tuple[float, float]],
    mean: float,
    worst: float,
    rss: float,
    worst_range: tuple[float, float],
    rss_range: tuple[float, float],
) -> None:
    gap = Dimension("gap", tuple(Term(f"term {i}", v, "worked stack", t) for i, (v, t) in enumerate(terms)))
    assert gap.total == pytest.approx(mean, abs=GRID)
    assert gap.worst_case == pytest.approx(worst, abs=1e-9)
    assert gap.rss == pytest.approx(rss, abs=0.0005)
    assert (gap.total - gap.worst_case, gap.total + gap.worst_case) == pytest.approx(worst_range, abs=GRID)
    assert (gap.total - gap.rss, gap.total + gap.rss) == pytest.approx(rss_range, abs=0.0006)


@given(LENGTHS, LENGTHS, LENGTHS)
def test_grid_stations_add_exactly(a: float, b: float, c: float) -> None:
    """IEEE 754: multiples of 2**-14 below 2**38 are exact in double, and so are their sums in any order."""
    x, y, z = on_grid(a), on_grid(b), on_grid(c)
    assert abs(x - a) <= GRID / 2
    assert (x / GRID).is_integer()
    assert (x + y) + z == x + (y + z) == math.fsum((x, y, z))


@given(LENGTHS)
def test_grid_rounding_is_done_once(a: float) -> None:
    assert on_grid(on_grid(a)) == on_grid(a)


def test_terms_keep_order_source_and_label() -> None:
    """Project rule: a test-fit change is one more term, not an edited number."""
    d = Dimension("seat", (Term("part size", 18.5, "measured", 0.1), Term(PRINTER, 0.1, "allowance", 0.2)))
    more = d.plus([Term(PRINTER, 0.05, "gauge print")])
    assert [t.source for t in more.terms] == ["measured", "allowance", "gauge print"]
    assert more.term(PRINTER) == pytest.approx(0.15)
    assert more.term("finish") == 0.0
    assert more.spread(PRINTER) == pytest.approx(0.2)
    assert d.total == on_grid(18.6)
