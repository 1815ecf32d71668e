"""A note becomes a term with the right sign, moves what it should, and is refused where it makes no sense."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build, plan_of
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.sums import FIT_CLEARANCE, PART_SIZE, PRINTER, Dimension, Term
from chassis_gen.problems import InputError
from chassis_gen.trial.log import read_log
from chassis_gen.trial.noting import note, reject_print, take_back
from chassis_gen.trial.prints import Printed, log_print
from chassis_gen.trial.rescue import piece_body
from chassis_gen.trial.revisions import past_of
from chassis_gen.trial.seen import Seen, length, side_of
from tests.trial.support import BUILD, DAY, SEAT, workspace

BEARING = "chassis.bearing_diameter"
GRID = 2.0**-14
"""Dimensions lie on this grid, so that figures agree to half of it."""


@pytest.fixture
def small(tmp_path: Path) -> Workspace:
    return workspace(tmp_path, "small")


def plan(at: Workspace) -> ChassisPlan:
    return plan_of(load_build(at, "small"))


def seen(said: str, amount: float | None = 0.2, **more: object) -> Seen:
    return Seen(said, amount, "because", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("dimension", "said", "term"),
    [(SEAT, "tight", 0.2), (SEAT, "loose", -0.2), (BEARING, "tight", -0.2), (BEARING, "loose", 0.2)],
)
def test_tight_makes_room_and_loose_takes_it(
    dimension: str, said: str, term: float, small: Workspace
) -> None:
    before = plan(small)
    done = note(small, "small", dimension, seen(said), DAY)
    after = plan(small)
    assert done.entry.value == term
    assert after.dimensions[dimension].total - before.dimensions[dimension].total == pytest.approx(
        term, abs=GRID
    )
    moved = next(c for c in done.changes.dimensions if c.name == dimension)
    assert moved.by == pytest.approx(term, abs=GRID)
    assert "trial entry 1, 2026-03-04: because" in [t.source for t in after.dimensions[dimension].terms]


def test_what_a_test_fit_showed_restores_the_clearance_and_leaves_the_expected_one(small: Workspace) -> None:
    before = {f.dimension.name: f for f in plan(small).fits}[SEAT]
    note(small, "small", SEAT, seen("tight"), DAY)
    after = {f.dimension.name: f for f in plan(small).fits}[SEAT]
    assert after.planned - before.planned == pytest.approx(0.1, abs=GRID)
    assert after.as_printed == pytest.approx(before.as_printed, abs=GRID)


def test_the_mesh_changes_by_the_noted_amount(small: Workspace) -> None:
    """The seat's floor, met by a ray from the cell's axis, lies half of the noted 0.2 mm lower."""

    def floor(at: ChassisPlan) -> float:
        part = at.parts[0]
        x, y, z = part.frame.origin
        start = (x, y, z + 20.0)
        hits = piece_body(at.pieces[0], 0.01).rays([start], [(0.0, -1.0, 0.0)], 30.0)[0]
        return hits[0].distance

    before = floor(plan(small))
    note(small, "small", SEAT, seen("tight"), DAY)
    assert floor(plan(small)) - before == pytest.approx(0.1, abs=0.01)


def test_only_what_it_touches_moves(small: Workspace) -> None:
    done = note(small, "small", SEAT, seen("tight"), DAY)
    assert done.changes.sections == ("cell",)
    assert done.changes.pieces == ("chassis",)
    assert done.changes.stations == ()
    assert [f.id for f in done.changes.fits] == [SEAT]
    longer = note(small, "small", "cell.seat_length", seen("tight"), DAY)
    assert [(c.name, round(c.by or 0, 3)) for c in longer.changes.stations] == [("cell far end", 0.2)]


def test_a_measured_print_sets_what_makes_up_for_it_and_a_second_reading_replaces_the_first(
    small: Workspace,
) -> None:
    """Expected as printed: 14.15 + 0.3 (the sum less its printer term). A print of 14.25 wants 0.2 more."""
    log_print(small, "small", Printed(), DAY)
    wanted = 14.45
    done = note(small, "small", SEAT, seen("measured", 14.25), DAY)
    assert done.entry.value == pytest.approx(wanted - 14.25, abs=GRID)
    assert (done.entry.term, done.entry.print) == ("print correction", 1)
    # the same print read again, now 14.30: the correction is set to 0.15, not added to
    note(small, "small", SEAT, seen("measured", 14.30), DAY)
    terms = read_log(small.root / "profiles/small/trial-log.toml", small.root).terms()[SEAT]
    assert sum(t.value for t in terms) == pytest.approx(wanted - 14.30, abs=GRID)
    # the next print comes out right: nothing more to correct
    log_print(small, "small", Printed(), DAY)
    right = note(small, "small", SEAT, seen("measured", wanted), DAY)
    assert right.entry.value == pytest.approx(0.0, abs=GRID)


def test_good_is_kept_and_changes_nothing(small: Workspace) -> None:
    done = note(small, "small", SEAT, seen("good", None), DAY)
    assert done.changes.nothing
    assert done.before == done.after == 1
    assert read_log(small.root / "profiles/small/trial-log.toml", small.root).terms() == {}


def test_taking_an_entry_back_gives_the_old_plan_and_keeps_both_rows(small: Workspace) -> None:
    before = plan(small)
    note(small, "small", SEAT, seen("tight"), DAY)
    done = take_back(small, "small", 1, "", DAY)
    assert plan(small).dimensions == before.dimensions
    assert plan(small).pieces == before.pieces
    log = read_log(small.root / "profiles/small/trial-log.toml", small.root)
    assert [(e.number, e.said, e.cancels) for e in log.entries] == [(1, "tight", None), (2, "undo", 1)]
    assert (done.before, done.after) == (2, 3)
    with pytest.raises(InputError, match="taken back already"):
        take_back(small, "small", 1, "", DAY)


def test_readings_on_a_print_that_turns_out_bad_have_no_effect(small: Workspace) -> None:
    before = plan(small)
    log_print(small, "small", Printed(lot="grey"), DAY)
    assert note(small, "small", SEAT, seen("tight"), DAY).entry.print == 1
    reject_print(small, "small", 1, "layer shift", DAY)
    assert plan(small).pieces == before.pieces


@pytest.mark.parametrize(
    ("dimension", "said", "amount", "words"),
    [
        ("cell.seat_diamter", "tight", 0.2, r'did you mean "cell\.seat_diameter"'),
        ("cell.end_wall", "tight", 0.2, "no direction"),
        (SEAT, "tight", 0.0, "out of range"),
        (SEAT, "tight", 2.5, "out of range"),
        (SEAT, "measured", 0.57, "0.57 in would be 14.478 mm"),
        (SEAT, "measured", 19.0, "from this reading"),
    ],
)
def test_a_note_that_makes_no_sense_is_refused_and_writes_nothing(
    dimension: str, said: str, amount: float, words: str, small: Workspace
) -> None:
    with pytest.raises(InputError, match=words):
        note(small, "small", dimension, seen(said, amount), DAY)
    assert not (small.root / "profiles/small/trial-log.toml").exists()


def test_unknown_prints_and_pieces_are_refused(small: Workspace) -> None:
    with pytest.raises(InputError, match="no such print"):
        note(small, "small", SEAT, seen("good", None, print=3), DAY)
    with pytest.raises(InputError, match="no such piece"):
        note(small, "small", SEAT, seen("good", None, piece="chasis"), DAY)
    with pytest.raises(InputError, match="no such piece"):
        log_print(small, "small", Printed(piece="cap"), DAY)


def test_a_print_of_one_of_several_pieces_needs_its_name(tmp_path: Path) -> None:
    cup = 'kind = "speaker_cup"\nname = "speaker"\npart = "speaker 32 mm"'
    at = workspace(tmp_path, "small", text=BUILD.replace('kind = "end_plate"\nname = "near plate"', cup))
    with pytest.raises(InputError) as caught:
        log_print(at, "small", Printed(), DAY)
    assert caught.value.problems[0].text() == (
        "[missing-key] --piece: the build has 2 pieces, and which one was printed isn't said; "
        "allowed: chassis, speaker-cap"
    )
    path = at.build_file("small")
    # a speaker behind another section doesn't face the mouth: nothing can be made
    plate = '[[section]]\nkind = "end_plate"\nname = "near plate"\n\n[[section]]\nkind = "speaker_cup"'
    path.write_text(path.read_text().replace('[[section]]\nkind = "speaker_cup"', plate))
    with pytest.raises(InputError, match="mend first what `chassis-gen check small` says"):
        log_print(at, "small", Printed(), DAY)


def test_a_renamed_dimension_is_explained_not_dropped(small: Workspace) -> None:
    note(small, "small", SEAT, seen("tight"), DAY)
    path = small.root / "profiles/small/build.toml"
    path.write_text(path.read_text().replace('name = "cell"', 'name = "cells"'))
    found = [f for f in plan(small).findings if f.code == "trial-dimension"]
    assert [f.level for f in found] == ["warning"]
    assert "the nearest is cells.seat_diameter" in found[0].message
    assert "trial entry 1" in found[0].message
    assert found[0].numbers == {"value": 0.2}
    assert found[0].remedy is not None


def test_a_damaged_row_is_a_warning_of_the_plan(small: Workspace) -> None:
    note(small, "small", SEAT, seen("tight"), DAY)
    path = small.root / "profiles/small/trial-log.toml"
    path.write_text(path.read_text() + "\n[[entry]]\nnumber = 2\nrea")
    at = plan(small)
    assert at.dimensions[SEAT].term("test fit") == 0.2
    assert [(f.level, f.where) for f in at.findings if f.code == "trial-row"] == [
        ("warning", "profiles/small/trial-log.toml:18")
    ]


def test_the_kind_of_a_dimension_follows_from_its_printer_term_else_from_its_clearance() -> None:
    def made(clearance: float, source: str | None) -> Dimension:
        terms = (Term(PART_SIZE, 10.0, "x"), Term(FIT_CLEARANCE, clearance, "press"))
        return Dimension("d", (*terms, *((Term(PRINTER, 0.1, source),) if source else ())))

    assert side_of(made(-0.1, "inner dimension: x")) == "inner"
    assert side_of(made(-0.1, "outer dimension: x")) == "outer"
    assert side_of(made(0.1, "lying hole: x")) == "lying_hole"
    assert side_of(made(0.1, None)) == "inner"
    assert side_of(made(-0.1, None)) == "outer"
    assert side_of(Dimension("d", (Term("wall", 1.0, "x"),))) == "other"


def test_lengths_take_units() -> None:
    assert length("18.3", "--measured") == 18.3
    assert math.isclose(length("0.5 in", "--measured"), 12.7)
    for text in ("wide", "nan", "1 kg"):
        with pytest.raises(InputError, match="no length"):
            length(text, "--measured")


def test_each_note_makes_one_revision_and_a_confirmation_none(small: Workspace) -> None:
    path = small.root / "profiles/small/build.toml"
    for said in ("good", "tight", "good", "loose"):
        note(small, "small", SEAT, seen(said, None if said == "good" else 0.1), DAY)
    assert [r.number for r in past_of(path, small.root).revisions] == [1, 2, 3]
