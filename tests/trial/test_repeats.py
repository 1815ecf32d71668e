"""Test fits that repeat on one printer are moved to it, and the drawn dimensions stay."""

from __future__ import annotations

import statistics
import tomllib
from pathlib import Path

import pytest

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build, plan_of
from chassis_gen.problems import InputError
from chassis_gen.trial.log import log_path, read_log
from chassis_gen.trial.noting import note
from chassis_gen.trial.repeats import find_repeats, settle
from chassis_gen.trial.seen import Seen
from tests.trial.support import CALIBRATED, DAY, PRINTER, SEAT, workspace

BUILDS = ("a", "b", "c")
AMOUNTS = (0.18, 0.2, 0.22)


def noted(
    root: Path, *amounts: float, printer: str = PRINTER, said: str = "tight", dimension: str = SEAT
) -> Workspace:
    at = workspace(root, *BUILDS[: len(amounts)], printer=printer)
    for build, amount in zip(BUILDS, amounts, strict=False):
        note(at, build, dimension, Seen(said, amount, "because"), DAY)  # type: ignore[arg-type]
    return at


def test_three_alike_are_the_printers(tmp_path: Path) -> None:
    (found,) = find_repeats(noted(tmp_path, *AMOUNTS))
    assert (found.printer, found.side, len(found.shown)) == ("p", "inner", 3)
    assert found.mean == pytest.approx(0.2)
    assert found.sd == pytest.approx(statistics.stdev(AMOUNTS))
    assert "in a, b, c" in found.text
    assert "+0.18 to +0.22 mm" in found.text
    assert found.command == "chassis-gen trial settle p"


@pytest.mark.parametrize("amounts", [(0.2, 0.2), (0.05, 0.2, 0.4)])
def test_two_or_three_unlike_ones_are_not(amounts: tuple[float, ...], tmp_path: Path) -> None:
    at = noted(tmp_path, *amounts)
    assert find_repeats(at) == ()
    with pytest.raises(InputError, match="agree"):
        settle(at, "p", DAY)


def test_settling_moves_the_mean_to_an_uncalibrated_printers_allowance(tmp_path: Path) -> None:
    at = noted(tmp_path, *AMOUNTS)
    before = plan_of(load_build(at, "b")).dimensions[SEAT]
    done = settle(at, "p", DAY)
    assert done.changed == (("allowance.inner", 0.1, 0.3),)
    text = (tmp_path / "profiles/printers/p.toml").read_text()
    assert text.startswith(PRINTER)
    assert tomllib.loads(text)["allowance"] == {"inner": 0.3}
    after = plan_of(load_build(at, "b")).dimensions[SEAT]
    # b wanted the mean exactly: drawn as before, by the printer's term alone
    assert after.total == before.total
    assert (before.term("test fit"), after.term("test fit")) == (0.2, 0.0)
    assert after.term("printer compensation") == pytest.approx(0.3)
    assert [t.label for t in after.terms].count("printer compensation") == 1
    for build in BUILDS:
        log = read_log(log_path(at.build_file(build)), tmp_path)
        assert [(e.said, e.cancels) for e in log.entries] == [("tight", None), ("undo", 1)]
        assert log.terms() == {}
    assert find_repeats(at) == ()


@pytest.mark.parametrize(
    ("dimension", "side", "offset"), [(SEAT, "inner", -0.32), ("chassis.bearing_diameter", "outer", 0.28)]
)
def test_settling_moves_a_calibrated_printers_offset(
    dimension: str, side: str, offset: float, tmp_path: Path
) -> None:
    at = noted(tmp_path, *AMOUNTS, printer=CALIBRATED, dimension=dimension)
    before = plan_of(load_build(at, "b")).dimensions[dimension].total
    settle(at, "p", DAY)
    data = tomllib.loads((tmp_path / "profiles/printers/p.toml").read_text())
    assert data["behaviour"][side]["offset"] == pytest.approx(offset)
    assert plan_of(load_build(at, "b")).dimensions[dimension].total == pytest.approx(before, abs=2.0**-14)


def test_a_test_fit_of_its_own_on_the_same_printer_stays_as_drawn_and_is_told_of(tmp_path: Path) -> None:
    at = noted(tmp_path, *AMOUNTS)
    (tmp_path / "profiles/d").mkdir()
    (tmp_path / "profiles/d/build.toml").write_text((tmp_path / "profiles/a/build.toml").read_text())
    note(at, "d", SEAT, Seen("loose", 0.3, "rattles"), DAY)
    before = plan_of(load_build(at, "d")).dimensions[SEAT].total
    done = settle(at, "p", DAY)
    assert plan_of(load_build(at, "d")).dimensions[SEAT].total == pytest.approx(before, abs=2.0**-13)
    (told,) = done.carried
    # 0.2 went to the printer, so that the note takes off that much more
    assert (told.build, told.before, told.after) == ("d", -0.3, pytest.approx(-0.5, abs=1e-4))


def test_loose_ones_go_the_other_way(tmp_path: Path) -> None:
    assert settle(noted(tmp_path, *AMOUNTS, said="loose"), "p", DAY).changed == (
        ("allowance.inner", 0.1, -0.1),
    )


def test_a_slicer_that_compensates_is_told_so_and_nothing_is_written(tmp_path: Path) -> None:
    at = noted(tmp_path, *AMOUNTS, printer='nozzle = 0.4\ncompensates = "slicer"\n')
    with pytest.raises(InputError, match="change its settings instead"):
        settle(at, "p", DAY)
    assert len(read_log(log_path(at.build_file("a")), tmp_path).entries) == 1
