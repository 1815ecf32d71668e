"""A test fit and a calibration that saw the same error count it once, whichever came first.

The planted printer makes ``scale x drawn + offset`` of what is drawn. Whatever is noted on its prints, the next
print has to come out as wanted: drawn = (wanted - offset) / scale, the inverse of the planted law.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen.params.printer import PrinterFile
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.sums import PRINTER as PRINTER_TERM
from chassis_gen.plan.sums import TEST_FIT
from chassis_gen.trial.bench import planned
from chassis_gen.trial.carried import carried
from chassis_gen.trial.log import log_path
from chassis_gen.trial.noting import note, take_back
from chassis_gen.trial.prints import Printed, log_print
from chassis_gen.trial.repeats import find_repeats
from chassis_gen.trial.seen import Seen
from tests.trial.support import BUILD, CALIBRATED, DAY, PRINTER, SEAT, workspace

BEARING = "chassis.bearing_diameter"
SCALE = 0.997
OFFSET = {SEAT: -0.2, BEARING: -0.15}
LAW = CALIBRATED.replace("scale = 1.0", f"scale = {SCALE}").replace("-0.12", "-0.2").replace("0.08", "-0.15")
SECOND_ORDER = 2e-3
"""A note is of a printed size and its term of a drawn one: they differ by (1 - scale) x term, under 2 um here."""


def plan(at: Workspace, build: str = "small") -> ChassisPlan:
    return planned(load_build(at, build))


def calibrate(at: Workspace) -> None:
    (at.root / "profiles/printers/p.toml").write_text(LAW, "utf-8")


def wanted(at: Workspace, name: str) -> float:
    d = plan(at).dimensions[name]
    return d.total - d.compensation


def printed(at: Workspace, name: str) -> float:
    return SCALE * plan(at).dimensions[name].total + OFFSET[name]


def felt(at: Workspace, name: str, **more: object) -> Seen:
    """Return what a maker sees of a dimension on a print of the build as it is now."""
    off = printed(at, name) - wanted(at, name)
    tight = off < 0 if name == SEAT else off > 0
    return Seen("tight" if tight else "loose", round(abs(off), 4), "because", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", [SEAT, BEARING])
@pytest.mark.parametrize("said", ["felt", "measured"])
def test_note_and_calibration_in_either_order_draw_the_same(name: str, said: str, tmp_path: Path) -> None:
    drawn = []
    for order in ("note first", "calibration first", "print after calibration"):
        at = workspace(tmp_path / order, "small")
        other = BEARING if name == SEAT else SEAT
        if order == "print after calibration":
            calibrate(at)
        log_print(at, "small", Printed(), DAY)
        seen = felt(at, name) if said == "felt" else Seen("measured", printed(at, name), "caliper")
        if order == "calibration first":
            calibrate(at)
        if said == "measured" or seen.amount:
            note(at, "small", name, seen, DAY)
        if order == "note first":
            calibrate(at)
        dimensions = plan(at).dimensions
        drawn.append(dimensions[name].total)
        # the other dimension goes by the calibration alone
        law = (wanted(at, other) - OFFSET[other]) / SCALE
        assert dimensions[other].total == pytest.approx(law, abs=2**-14)
        assert SCALE * drawn[-1] + OFFSET[name] == pytest.approx(wanted(at, name), abs=SECOND_ORDER)
    assert drawn == pytest.approx([drawn[0]] * 3, abs=SECOND_ORDER)


def test_why_shows_what_the_reading_asked_for_and_what_is_left(tmp_path: Path) -> None:
    at = workspace(tmp_path, "small")
    before = plan(at).dimensions[SEAT].total
    note(at, "small", SEAT, Seen("tight", 0.3, "binds"), DAY)
    assert plan(at).dimensions[SEAT].total == pytest.approx(before + 0.3, abs=2**-13)
    calibrate(at)
    d = plan(at).dimensions[SEAT]
    # the print says what must be drawn: 0.1 of allowance and the 0.3 asked for, in all
    assert d.term(PRINTER_TERM) + d.term(TEST_FIT) == pytest.approx(0.4, abs=1e-4)
    (term,) = (t for t in d.terms if t.label == TEST_FIT)
    assert term.source.startswith("trial entry 1, 2026-03-04: binds; its print asked for +0.300")
    assert f"today's {d.term(PRINTER_TERM):+.3f}" in term.source
    assert [f for f in plan(at).findings if f.code.startswith("trial")] == []
    take_back(at, "small", 1, "", DAY)
    assert plan(at).dimensions[SEAT].term(TEST_FIT) == 0.0


def test_a_second_note_adds_to_the_first_and_a_second_calibration_moves_neither(tmp_path: Path) -> None:
    at = workspace(tmp_path, "small")
    note(at, "small", SEAT, Seen("tight", 0.3, "binds"), DAY)
    calibrate(at)
    note(at, "small", SEAT, Seen("loose", 0.05, "rattles"), DAY)
    once = plan(at).dimensions[SEAT].total
    (at.root / "profiles/printers/p.toml").write_text(LAW.replace("offset = -0.2", "offset = -0.25"), "utf-8")
    assert plan(at).dimensions[SEAT].total == pytest.approx(once, abs=2e-4)
    d = plan(at).dimensions[SEAT]
    assert d.term(PRINTER_TERM) + d.term(TEST_FIT) == pytest.approx(0.1 + 0.3 - 0.05, abs=2e-4)


def test_a_note_on_a_fit_of_two_prints_counts_what_both_are_compensated_by(tmp_path: Path) -> None:
    """A cap was tight by 0.3: bore and cup together have to give that much more room, whatever each is drawn."""
    cup = '[[section]]\nkind = "speaker_cup"\nname = "speaker"\npart = "speaker 32 mm"\n\n[[section]]\nkind = "lead_bay"'
    at = workspace(tmp_path, "small", text=BUILD.replace('[[section]]\nkind = "lead_bay"', cup, 1))
    names = ("speaker.cap_bore_diameter", "speaker.cup_outer_diameter")

    def room() -> float:
        dimensions = plan(at).dimensions
        return dimensions[names[0]].total - dimensions[names[1]].total

    before = room()
    note(at, "small", names[0], Seen("tight", 0.3, "binds"), DAY)
    assert room() == pytest.approx(before + 0.3, abs=2e-4)
    calibrate(at)
    assert room() == pytest.approx(before + 0.3, abs=2e-4)


def test_a_slicer_that_takes_over_is_not_added_to(tmp_path: Path) -> None:
    """0.3 was asked for beyond 0.1; the slicer's settings make up for (14.45 + 0.2) / 0.997 - 14.45 of it."""
    at = workspace(tmp_path, "small")
    note(at, "small", SEAT, Seen("tight", 0.3, "binds"), DAY)
    (at.root / "profiles/printers/p.toml").write_text(f'compensates = "slicer"\n{LAW}', "utf-8")
    by_slicer = (14.45 + 0.2) / SCALE - 14.45
    assert plan(at).dimensions[SEAT].total == pytest.approx(14.45 + 0.4 - by_slicer, abs=2e-4)


def test_a_row_that_does_not_say_what_it_was_drawn_with_is_warned_of(tmp_path: Path) -> None:
    at = workspace(tmp_path, "small")
    note(at, "small", SEAT, Seen("tight", 0.3, "binds"), DAY)
    path = log_path(at.build_file("small"))
    kept = [x for x in path.read_text().split("\n") if not x.startswith(("compensation", "printer"))]
    path.write_text("\n".join(kept))
    assert [f for f in plan(at).findings if f.code == "trial-compensation"] == []
    before = PrinterFile.model_validate({})
    (at.root / "profiles/printers/p.toml").write_text(LAW.replace("2026-01-02", "2026-03-05"), "utf-8")
    (found,) = (f for f in plan(at).findings if f.code == "trial-compensation")
    assert (found.level, found.where, found.numbers["value"]) == ("warning", SEAT, 0.3)
    assert found.numbers["compensation"] == pytest.approx((14.45 + 0.2) / SCALE - 14.45)
    assert found.remedy is not None
    assert "`chassis-gen trial note small --undo 1`" in found.remedy.text
    (told,) = carried(at, "p", before)
    assert (told.dimension, told.before, told.after) == (SEAT, 0.3, 0.3)
    assert "--undo 1" in told.text
    # calibrated before it was noted: nothing to doubt
    (at.root / "profiles/printers/p.toml").write_text(LAW, "utf-8")
    assert [f for f in plan(at).findings if f.code == "trial-compensation"] == []


def test_a_print_of_another_printer_is_warned_of(tmp_path: Path) -> None:
    at = workspace(tmp_path, "small")
    note(at, "small", SEAT, Seen("tight", 0.3, "binds"), DAY)
    (tmp_path / "profiles/printers/q.toml").write_text(LAW, "utf-8")
    path = at.build_file("small")
    path.write_text(path.read_text().replace('printer = "p"', 'printer = "q"'))
    (found,) = (f for f in plan(at).findings if f.code == "trial-compensation")
    assert 'a print of "p", and the build names "q" now' in found.message


def test_a_note_without_a_print_after_calibration_says_what_it_is_taken_for(tmp_path: Path) -> None:
    at = workspace(tmp_path, "small")
    note(at, "small", SEAT, Seen("good", None, ""), DAY)
    calibrate(at)
    done = note(at, "small", SEAT, Seen("tight", 0.1, "binds"), DAY)
    assert done.entry.value == 0.1
    assert "revision 1 had +0.100 mm" in done.remarks[0]


def test_what_a_calibration_explains_repeats_no_more(tmp_path: Path) -> None:
    builds = ("a", "b", "c")
    at = workspace(tmp_path, *builds, printer=PRINTER)
    law = CALIBRATED.replace("-0.12", "-0.3")
    for build in builds:
        note(at, build, SEAT, Seen("tight", 0.2, "because"), DAY)
    assert len(find_repeats(at)) == 1
    before = PrinterFile.model_validate({})
    (tmp_path / "profiles/printers/p.toml").write_text(law, "utf-8")
    assert find_repeats(at) == ()
    told = carried(at, "p", before)
    assert [(c.build, c.dimension) for c in told] == [(b, SEAT) for b in builds]
    assert told[0].after == pytest.approx(0.0, abs=1e-4)
    assert told[0].drawn_after == pytest.approx(told[0].drawn_before, abs=2e-4)
