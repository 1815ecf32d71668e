"""Coats in the sums: each once, none where it is masked off, and a list of what the maker masks."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from chassis_gen.parts.model import Measure
from chassis_gen.pipeline import load_build, plan_of
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.finish import Coat, Finish
from chassis_gen.plan.fitting import Fitter
from chassis_gen.plan.sums import FINISH, FIT_CLEARANCE, GRID, PART_SIZE, PRINTER
from tests.plan.support import CLASSES, fitter, write_build
from tests.plan.test_lettering import BUILD

COATS = (Coat("primer", 0.03), Coat("paint", 0.04), Coat("clear coat", 0.02))
TOML = """
[finish]
surfaces = ["outside", "inside"]
mask = [{mask}]
""" + "".join(f'\n[[finish.coat]]\nname = "{c.name}"\nthickness = {c.thickness}\n' for c in COATS)


def planned(root: Path, mask: str = "") -> ChassisPlan:
    return plan_of(load_build(write_build(root, BUILD + TOML.format(mask=mask)), "trial"))


@pytest.fixture(scope="module")
def coated(tmp_path_factory: pytest.TempPathFactory) -> ChassisPlan:
    return planned(tmp_path_factory.mktemp("coated"))


@pytest.fixture(scope="module")
def masked(tmp_path_factory: pytest.TempPathFactory) -> ChassisPlan:
    return planned(tmp_path_factory.mktemp("masked"), '"bearing", "cell.seat_diameter"')


def test_each_coat_stands_exactly_once_in_every_fitted_sum(coated: ChassisPlan) -> None:
    fitted = [d for d in coated.dimensions.values() if any(t.label == PRINTER for t in d.terms)]
    assert len(fitted) >= 4
    for d in fitted:
        coats = [t for t in d.terms if t.label == FINISH]
        assert [t.source.split(" on ")[0] for t in coats] in ([c.name for c in COATS], []), d.name
        # a coat on both sides narrows a bore and widens a bar by twice its thickness (geometry)
        assert {abs(t.value) for t in coats} <= {2 * c.thickness for c in COATS}
    bearing = coated.dimensions["chassis.bearing_diameter"]
    assert bearing.term(FINISH) == pytest.approx(-2 * 0.09)
    assert coated.dimensions["cell.seat_diameter"].term(FINISH) == pytest.approx(2 * 0.09)


def test_the_fit_that_is_left_after_coating_is_the_one_without_coats(
    coated: ChassisPlan, masked: ChassisPlan
) -> None:
    for a, b in zip(coated.fits, masked.fits, strict=True):
        assert a.as_printed == pytest.approx(b.as_printed, abs=2e-3), a.id


def test_masked_surfaces_take_no_coat_and_are_listed_with_their_stations(masked: ChassisPlan) -> None:
    for name in ("chassis.bearing_diameter", "cell.seat_diameter"):
        d = masked.dimensions[name]
        (term,) = [t for t in d.terms if t.label == FINISH]
        assert term.value == 0.0
        assert "keep primer and paint and clear coat off" in term.source
    bands = [m for m in masked.masked if m.dimension == "chassis.bearing_diameter"]
    assert [(m.z0, m.z1) for m in bands] == [(s.z0, s.z1) for s in masked.outer.steps if s.bearing]
    (seat,) = [m for m in masked.masked if m.dimension == "cell.seat_diameter"]
    cell = next(s for s in masked.sections if s.name == "cell")
    assert (seat.section, seat.z0, seat.z1) == ("cell", cell.z0, cell.z1)
    assert len(masked.masked) == len(bands) + 1


def test_nothing_is_listed_where_nothing_is_masked(coated: ChassisPlan) -> None:
    assert coated.masked == ()


def test_only_the_surfaces_that_are_coated_take_the_coats() -> None:
    f = Fitter(CLASSES, fitter().printer, Finish(COATS, inside=False))
    bore, bar = f.inner("a", Measure(10, 0, "x"), "free", ""), f.outer("b", Measure(10, 0, "x"), "free", "")
    assert bore.term(FINISH) == 0.0
    assert bar.term(FINISH) == pytest.approx(-0.18)


def test_a_mating_pair_with_one_side_masked_keeps_its_clearance() -> None:
    """The start of the second size is the first as it is after printing and coating."""
    f = Fitter(CLASSES, fitter().printer, Finish(COATS, mask=("spigots",)))
    spigot = f.outer("s.spigot", Measure(20, 0, "x"), "free", "")
    bore = f.mating("s.bore", spigot, "slide", "", True)
    assert spigot.term(FINISH) == 0.0
    assert bore.term(PART_SIZE) == pytest.approx(f.as_made(spigot))
    wanted = math.fsum(t.value for t in bore.terms if t.label in (PART_SIZE, FIT_CLEARANCE))
    assert f.as_made(bore) == pytest.approx(wanted, abs=2 * GRID)
    assert f.hole("s.hole", 3.4, "x", "").term(FINISH) == pytest.approx(0.18)


def test_the_report_lists_what_the_maker_masks(masked: ChassisPlan) -> None:
    from chassis_gen.checks.result import CheckResult
    from chassis_gen.output.human import summary_text
    from chassis_gen.output.markdown import report_markdown
    from chassis_gen.output.report import report_json

    report = report_json(CheckResult(masked, None, (), masked.findings), {}, None, False)
    assert [c["thickness_mm"] for c in report["finish"]["coats"]] == [0.03, 0.04, 0.02]
    assert len(report["finish"]["masked"]) == len(masked.masked)
    assert "Finish (outside and inside), mm per surface: primer 0.030, paint 0.040" in report_markdown(report)
    assert "mask off chassis, stations 2.0 to 20.6" in " ".join(summary_text(report, 200).split())
