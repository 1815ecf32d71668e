"""Revisions: what they hold, when there is a new one, and that an old one can be planned again."""

from __future__ import annotations

from pathlib import Path

import pytest
import trimesh

from chassis_gen.output.stl import stl_bytes
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build, plan_of
from chassis_gen.problems import InputError
from chassis_gen.trial.bench import planned
from chassis_gen.trial.history import compare, history, loaded_of, revision_of
from chassis_gen.trial.measuring import note_sizes
from chassis_gen.trial.noting import note, take_back
from chassis_gen.trial.prints import Printed, log_print
from chassis_gen.trial.rescue import piece_body
from chassis_gen.trial.revisions import restore
from chassis_gen.trial.seen import Seen
from tests.trial.support import DAY, SEAT, workspace


@pytest.fixture
def small(tmp_path: Path) -> Workspace:
    return workspace(tmp_path / "w", "small")


def build_file(at: Workspace) -> Path:
    return at.root / "profiles/small/build.toml"


def tight(at: Workspace, amount: float = 0.2, dimension: str = SEAT) -> None:
    note(at, "small", dimension, Seen("tight", amount, "sticks"), DAY)


def silent(_: str) -> None:
    """Take what is being done."""


def test_an_old_revision_plans_as_it_did(small: Workspace) -> None:
    before = planned(load_build(small, "small"))
    tight(small)
    changed = planned(load_build(small, "small"))
    build_file(small).write_text(build_file(small).read_text().replace("length = 20", "length = 25"))
    log_print(small, "small", Printed(), DAY)
    at = {n: planned(loaded_of(small, "small", n)) for n in ("1", "2", "3")}
    assert at["1"].pieces == before.pieces
    assert at["1"].dimensions == before.dimensions
    assert at["2"].pieces == changed.pieces
    assert at["3"].pieces == planned(load_build(small, "small")).pieces != changed.pieces


def test_a_restored_revision_is_a_workspace_to_build_in(small: Workspace, tmp_path: Path) -> None:
    text = build_file(small).read_text()
    tight(small)
    build_file(small).write_text(text + "# later\n")
    names = restore(revision_of(small, "small", "1"), tmp_path / "old")
    assert set(names) == {"profiles/small/build.toml", "profiles/printers/p.toml"}
    assert (tmp_path / "old/profiles/small/build.toml").read_text() == text
    again = plan_of(load_build(Workspace(tmp_path / "old"), "small"))
    assert again.dimensions[SEAT].total == revision_of(small, "small", "1").drawn[SEAT]


def test_a_comment_is_no_revision_but_a_shared_file_is_one(small: Workspace) -> None:
    tight(small)
    build_file(small).write_text(build_file(small).read_text() + "# a comment\n")
    log_print(small, "small", Printed(), DAY)
    assert [s.revision for s in history(small, "small").steps] == [1, 2]
    printer = small.root / "profiles/printers/p.toml"
    printer.write_text(printer.read_text().replace("0.4", "0.6"))
    assert [(s.revision, s.files) for s in history(small, "small").steps][-1] == (
        None,
        ("profiles/printers/p.toml",),
    )
    log_print(small, "small", Printed(), DAY)
    assert [s.revision for s in history(small, "small").steps] == [1, 2, 3]


def test_history_says_what_changed_and_why(small: Workspace) -> None:
    log_print(small, "small", Printed(lot="grey"), DAY)
    tight(small)
    take_back(small, "small", 1, "was the paint", DAY)
    note(small, "small", SEAT, Seen("good", None, "fits"), DAY)
    found = history(small, "small")
    first, second, third = found.steps
    assert [p.lot for p in first.prints] == ["grey"]
    assert [e.reason for e in second.entries] == ["sticks"]
    assert [(c.name, round(c.by or 0, 3)) for c in second.drawn if c.name == SEAT] == [(SEAT, 0.2)]
    assert [(e.said, e.cancels) for e in third.entries] == [("undo", 1)]
    assert [e.said for e in found.confirmations] == ["good"]
    assert found.cancelled == (1,)


def test_a_damaged_revision_is_named_and_its_number_is_not_given_again(small: Workspace) -> None:
    tight(small)
    (build_file(small).parent / "revisions/2.toml").write_text("number = 2\n")
    found = history(small, "small")
    assert [f.code for f in found.findings] == ["trial-revision"]
    with pytest.raises(InputError, match="no such revision"):
        loaded_of(small, "small", "2")
    tight(small, 0.1)
    assert [s.revision for s in history(small, "small").steps] == [1, 3, 4]


@pytest.mark.parametrize("wanted", ["0", "9", "-1", "one", "²"])
def test_revisions_that_there_are_not(wanted: str, small: Workspace) -> None:
    tight(small)
    with pytest.raises(InputError, match="no such revision"):
        loaded_of(small, "small", wanted)


def test_compare_lists_dimensions_stations_wires_and_the_volume_that_trimesh_finds(small: Workspace) -> None:
    wire = '\n[[wire]]\nname = "w"\nfrom = "cell.plus"\nto = "cell.minus"\ngauge_awg = 26\n'
    build_file(small).write_text(build_file(small).read_text() + wire)
    tight(small, 1.5, "cell.seat_length")
    found = compare(small, "small", "1", "2", silent)
    assert {c.name: round(c.by or 0, 3) for c in found.dimensions} == {
        "cell.length": 1.5,
        "cell.seat_length": 1.5,
    }
    assert [(c.name, round(c.by or 0, 3)) for c in found.stations] == [("cell far end", 1.5)]
    (volume,) = found.volumes
    for at, figure in (("1", volume.before), ("2", volume.after)):
        body = piece_body(planned(loaded_of(small, "small", at)).pieces[0], 0.01)
        data = trimesh.util.wrap_as_stream(stl_bytes(body, "chassis"))
        mesh = trimesh.load(data, file_type="stl")
        assert figure == pytest.approx(mesh.volume, rel=1e-5)
    assert compare(small, "small", "2", "now", silent).nothing


def test_compare_lists_holes(small: Workspace) -> None:
    text = build_file(small).read_text()
    holes = 'name = "near plate"\nholes = [{ count = 2, thread = "M3" }]'
    build_file(small).write_text(text.replace('name = "near plate"', holes))
    log_print(small, "small", Printed(), DAY)
    build_file(small).write_text(text.replace('name = "near plate"', holes.replace("M3", "M4")))
    log_print(small, "small", Printed(), DAY)
    found = compare(small, "small", "1", "2", silent)
    diameters = [c for c in found.holes if c.name.endswith("diameter")]
    # ISO 273, medium: 3.4 mm for M3 and 4.5 mm for M4
    assert [round(c.by or 0, 3) for c in diameters] == [1.1, 1.1]


def test_a_size_measured_once_reaches_every_build_that_seats_the_part(tmp_path: Path) -> None:
    both = workspace(tmp_path, "a", "b", "own")
    own = tmp_path / "profiles/own/build.toml"
    own.write_text(own.read_text() + '\n[part."cell 14500"]\ndiameter = 14.2\n')
    done = note_sizes(both, "Cell 14500", {"diameter": 14.3}, "caliper, three cells", DAY)
    assert done.part == "cell 14500"
    assert set(done.builds) == {"a", "b", "own"}
    drawn = {b: plan_of(load_build(both, b)).dimensions[SEAT] for b in ("a", "b", "own")}
    assert drawn["a"].term("part size") == drawn["b"].term("part size") == 14.3
    assert "caliper, three cells" in drawn["a"].terms[0].source
    # a build's own [part] goes before
    assert drawn["own"].term("part size") == 14.2
    assert SEAT not in [c.name for c in done.builds["own"].dimensions]


def test_the_last_reading_of_a_size_counts_and_unknown_sizes_are_refused(tmp_path: Path) -> None:
    at = workspace(tmp_path, "a")
    note_sizes(at, "cell 14500", {"diameter": 14.3}, "x", DAY)
    note_sizes(at, "cell 14500", {"diameter": 14.4}, "x", DAY)
    assert plan_of(load_build(at, "a")).dimensions[SEAT].term("part size") == 14.4
    before = (tmp_path / "profiles/part-sizes.toml").read_bytes()
    with pytest.raises(InputError, match="diameter"):
        note_sizes(at, "cell 14500", {"diametre": 14.4}, "x", DAY)
    with pytest.raises(InputError, match="cell 14500"):
        note_sizes(at, "cell 1450", {"diameter": 14.4}, "x", DAY)
    assert (tmp_path / "profiles/part-sizes.toml").read_bytes() == before


def test_readings_of_a_part_that_is_gone_are_named(tmp_path: Path) -> None:
    at = workspace(tmp_path, "a")
    note_sizes(at, "cell 14500", {"diameter": 14.3}, "x", DAY)
    path = tmp_path / "profiles/part-sizes.toml"
    path.write_text(path.read_text().replace("cell 14500", "cell 14501"))
    found = [f for f in plan_of(load_build(at, "a")).findings if f.code == "part-sizes"]
    assert [f.level for f in found] == ["warning"]
    assert "did you mean cell 14500" in found[0].message
