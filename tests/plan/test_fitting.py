"""Fitted dimensions: each compensation stands exactly once."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.parts.model import Measure
from chassis_gen.plan.fitting import Behaviour, PrinterTerms, adjustment
from chassis_gen.plan.model import PlayProbe
from chassis_gen.plan.sums import ADJUSTMENT, FINISH, FIT_CLEARANCE, GRID, PART_SIZE, PRINTER, Dimension
from tests.plan.support import CLASSES, INNER, OUTER, TOLERANCE, fitter, measured

MEASURED = measured(-0.17, 0.06, -0.21, -0.24)
PROBE = PlayProbe("cell", ((1.0, 0.0, 0.0),))
SIZES = st.floats(3, 60)
FITS = st.sampled_from(sorted(CLASSES))
BEHAVIOURS = st.builds(
    Behaviour,
    words=st.just("drawn"),
    scale=st.floats(0.985, 1.01),
    offset=st.floats(-0.4, 0.2),
    tolerance=st.floats(0, 0.3),
    source=st.just("drawn by hypothesis"),
)
PRINTERS = st.builds(
    PrinterTerms, BEHAVIOURS, BEHAVIOURS, BEHAVIOURS, BEHAVIOURS, BEHAVIOURS, st.just("drawn"), st.just(True)
)
FINISHES = st.sampled_from([0.0, 0.03, 0.1])


def labels(d: Dimension) -> Counter[str]:
    return Counter(t.label for t in d.terms)


def test_uncalibrated_printer_gives_its_allowance_once() -> None:
    """Project rule: an uncalibrated printer adds its own allowance, 0.10 on inner dimensions."""
    d = fitter().inner("cell.seat_diameter", Measure(18.5, 0.1, "measured"), "slide", "seat")
    assert labels(d) == {PART_SIZE: 1, FIT_CLEARANCE: 1, PRINTER: 1}
    assert d.term(PRINTER) == pytest.approx(INNER)
    assert INNER == 0.10
    assert d.total == pytest.approx(18.5 + 2 * 0.15 + 0.10, abs=GRID)


def test_calibrated_printer_gives_its_measured_offset_instead() -> None:
    """Project rule: a calibrated printer contributes its measured offsets instead of the allowance."""
    f = fitter(MEASURED)
    assert labels(f.inner("a", Measure(10, 0, "x"), "snug", ""))[PRINTER] == 1
    assert f.inner("a", Measure(10, 0, "x"), "snug", "").term(PRINTER) == pytest.approx(0.17)
    assert f.outer("b", Measure(10, 0, "x"), "snug", "").term(PRINTER) == pytest.approx(-0.06)
    assert f.hole("c", 3.4, "ISO 273", "").term(PRINTER) == pytest.approx(0.21)
    assert f.hole("d", 3.4, "ISO 273", "", lying=True).term(PRINTER) == pytest.approx(0.24)


def test_scale_holds_the_shrink_and_is_undone_for_the_whole_size() -> None:
    """Worked value: 30.00 wanted of a material that shrinks 0.7 % is drawn 30 / (1 - 0.007) = 30.2115."""
    shrinks = Behaviour("outer", 1 - 0.007, 0.0, 0.05, "gauge")
    assert 30.0 + shrinks.compensation(30.0) == pytest.approx(30.2115, abs=5e-5)
    assert shrinks.printed(30.2115) == pytest.approx(30.0, abs=5e-5)
    f = fitter(replace(MEASURED, outer=shrinks))
    d = f.outer("b", Measure(30.3, 0, "x"), "slide", "")
    assert labels(d) == {PART_SIZE: 1, FIT_CLEARANCE: 1, PRINTER: 1}
    assert d.total == pytest.approx(30.2115, abs=1e-4)


def test_slicer_that_compensates_leaves_the_model_at_the_wanted_size() -> None:
    """Nothing is counted twice: what the slicer makes up for is no term of the sum but 0."""
    d = fitter(MEASURED.by_slicer("slicer")).inner("a", Measure(10, 0, "x"), "slide", "")
    assert d.total == pytest.approx(10.3, abs=GRID)
    assert labels(d)[PRINTER] == 1


def test_outer_dimension_mirrors_the_signs() -> None:
    d = fitter().outer("chassis.bearing_diameter", Measure(38.0, 0.1, "measured"), "slide", "")
    assert d.total == pytest.approx(38.0 - 2 * 0.15 - OUTER, abs=GRID)


def test_finish_is_two_coats_in_every_kind_of_sum() -> None:
    """A coat on each of two facing walls narrows a bore by two thicknesses (geometry)."""
    f = fitter(finish=0.04)
    bore, bar = f.inner("a", Measure(10, 0, "x"), "free", ""), f.outer("b", Measure(10, 0, "x"), "free", "")
    hole = f.hole("c", 4.5, "ISO 273 medium", "")
    for d, sign in ((bore, 1), (bar, -1), (hole, 1)):
        assert labels(d)[FINISH] == 1
        assert d.term(FINISH) == pytest.approx(sign * 0.08)


def test_adjustments_are_added_once_to_their_own_dimension() -> None:
    f = fitter(adjustments={"a": (adjustment(0.05, "tight"), adjustment(-0.02, "then loose"))})
    a, b = f.chosen("a", 2.0, ""), f.chosen("b", 2.0, "")
    assert a.total == pytest.approx(2.03, abs=GRID)
    assert a.term(ADJUSTMENT) == pytest.approx(0.03)
    assert labels(a)[ADJUSTMENT] == 2
    assert labels(b)[ADJUSTMENT] == 0


@given(SIZES, FITS, PRINTERS, FINISHES, st.floats(-0.2, 0.2), st.booleans())
def test_what_remains_is_the_fit_and_the_adjustment(
    size: float, fit: str, printer: PrinterTerms, finish: float, adjusted: float, outer: bool
) -> None:
    """Fit clearances are what remains: printer and finish drop out."""
    f = fitter(printer, finish, {"x": (adjustment(adjusted, "test fit"),)})
    measure = Measure(size, 0.1, "measured")
    d = f.outer("x", measure, fit, "") if outer else f.inner("x", measure, fit, "")
    made = f.fit(d, "part in seat", ("part", "seat"), fit, PROBE, outer=outer)
    own = -adjusted if outer else adjusted
    makes = printer.outer if outer else printer.inner
    printed = makes.printed(d.total - adjusted) + adjusted + (2 if outer else -2) * finish
    assert abs(printed - size) / 2 == pytest.approx(abs(CLASSES[fit].clearance + own / 2), abs=2 * GRID)
    assert labels(d) == {PART_SIZE: 1, FIT_CLEARANCE: 1, PRINTER: 1, ADJUSTMENT: 1} | (
        {FINISH: 1} if finish else {}
    )
    assert made.as_printed == pytest.approx(CLASSES[fit].clearance + own / 2, abs=GRID)
    assert made.required == (CLASSES[fit].low, CLASSES[fit].high)
    assert sum(made.tolerance_terms) == pytest.approx((0.1 + makes.tolerance) / 2)


@given(SIZES, FITS, FITS, PRINTERS, FINISHES, st.booleans())
def test_mating_pair_keeps_the_clearance_between_printed_and_coated_faces(
    size: float, first: str, fit: str, printer: PrinterTerms, finish: float, over: bool
) -> None:
    """Each half prints off by its own printer term and grows by its own coats; what is left is the fit."""
    f = fitter(printer, finish)
    room = Measure(size, 0.1, "measured")
    other = f.outer("cup", room, first, "") if over else f.inner("bay", room, first, "")
    mate = f.mating("mate", other, fit, "", outer=over)
    bore, bar = (mate, other) if over else (other, mate)
    bore_made = printer.inner.printed(bore.total) - 2 * finish
    bar_made = printer.outer.printed(bar.total) + 2 * finish
    assert (bore_made - bar_made) / 2 == pytest.approx(CLASSES[fit].clearance, abs=3 * GRID)


def test_mating_pair_has_two_printer_tolerances_and_no_part_tolerance() -> None:
    """What a cup was made for isn't there when its cap goes on: only the two printed sizes vary."""
    cup = fitter().outer("cup", Measure(38, 0.1, "bore"), "slide", "")
    cap = fitter().mating("cap", cup, "snug", "", outer=True)
    assert cap.worst_case == pytest.approx(2 * TOLERANCE)
