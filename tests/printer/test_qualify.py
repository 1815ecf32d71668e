"""A machine's faults are found with their planted numbers, and told from what calibration mends."""

from __future__ import annotations

import math

import numpy as np
import pytest
from msgspec.structs import replace

from chassis_gen.checks.fits import share_that_fits
from chassis_gen.plan.sums import PRINTER, Term
from chassis_gen.printer.qualify import form_loss, measured_machine, qualify
from chassis_gen.printer.readings import PLACES, read_sheet
from chassis_gen.problems import InputError
from tests.checks.support import seat_fit
from tests.printer.support import Machine, readings, text_of


def sheet(machine: Machine, seed: int = 4):
    return read_sheet(text_of(readings(machine, seed, PLACES)), "readings.csv")


def fits():
    fit = replace(seat_fit(), required=(0.08, 0.25), as_printed=0.15, tolerance_terms=(0.03,))
    terms = (*fit.dimension.terms, Term(PRINTER, 0.0, "test", 0.06))
    return [replace(fit, dimension=replace(fit.dimension, terms=terms))]


def test_planted_faults_are_measured() -> None:
    m = measured_machine(sheet(Machine(sd=0.01, skew=0.5, ovality=0.12, bow=0.4, uneven=0.3)))
    assert m.skew == pytest.approx(0.5, abs=0.06)
    assert m.ovality == pytest.approx(0.12, abs=0.02)
    assert m.bow == pytest.approx(0.4, abs=0.03)
    # From -0.15 at place 1 to +0.15 at place 5.
    assert m.evenness == pytest.approx(0.3, abs=0.03)
    assert m.repeatability == pytest.approx(0.01, rel=0.25)
    assert m.freedom == 4 * (6 + 12)


def test_a_sheared_rounds_diameters_are_those_of_linear_algebra() -> None:
    # Singular values of the shear matrix, numpy: longest and shortest diameter of the sheared circle.
    angle, diameter = 0.004, 40.0
    longest, shortest = np.linalg.svd(np.array([[1.0, angle], [0.0, 1.0]]))[1] * diameter
    m = replace(measured_machine(sheet(Machine())), skew=100 * angle, ovality=0.0)
    assert form_loss(diameter, m) == pytest.approx((diameter - shortest) / 2, rel=0.01)
    assert form_loss(diameter, m) == pytest.approx((longest - diameter) / 2, rel=0.01)
    assert form_loss(diameter, replace(m, skew=0.0, ovality=0.2)) == pytest.approx(0.05)


def test_a_sound_machine_is_within_reach() -> None:
    found = qualify(sheet(Machine(sd=0.02)), fits(), share_that_fits)
    assert (found.verdict, found.faults) == ("within reach", ())
    assert found.reaches[0].share > 0.99


def test_the_printers_own_range_gives_way_to_the_measured_repeatability() -> None:
    (reach,) = qualify(sheet(Machine(sd=0.02)), fits(), share_that_fits).reaches
    sd = measured_machine(sheet(Machine(sd=0.02))).repeatability / 2
    low, high = 0.08 + reach.form_loss, 0.25 - reach.form_loss
    expected = (math.erf((high - 0.15) / sd / math.sqrt(2)) - math.erf((low - 0.15) / sd / math.sqrt(2))) / 2
    assert reach.share == pytest.approx(expected, abs=1e-9)


def test_a_machine_that_scatters_is_out_of_reach_without_a_fault() -> None:
    found = qualify(sheet(Machine(sd=0.15)), fits(), share_that_fits)
    assert found.reaches[0].square_share < 0.95
    assert "skew" not in {f.code for f in found.faults} or abs(found.machine.skew) > 0.2


@pytest.mark.parametrize(
    ("machine", "code", "number"),
    [
        (Machine(sd=0.01, skew=0.6), "skew", "+0.6"),
        (Machine(sd=0.01, ovality=0.3), "oval", "+0.3"),
        (Machine(sd=0.01, uneven=0.25), "uneven", "0.2"),
        (Machine(sd=0.01, bow=0.5), "bow", "+0.5"),
    ],
)
def test_what_no_parameter_mends_is_a_fault_with_its_number(machine: Machine, code: str, number: str) -> None:
    found = qualify(sheet(machine), fits(), share_that_fits)
    assert found.verdict == "fault"
    assert [f.code for f in found.faults] == [code]
    assert number in found.faults[0].message


def test_every_missing_place_of_a_form_feature_is_named() -> None:
    rows = [r for r in readings(places=PLACES) if (r["feature"], r["place"]) != ("38", "4")]
    with pytest.raises(InputError, match=r"place 4 has no reading of feature 38") as error:
        measured_machine(read_sheet(text_of(rows), "a"))
    assert len(error.value.problems) == 1
