"""The trial log survives: killed processes, two at once, files cut off or edited anywhere."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from chassis_gen.problems import InputError
from chassis_gen.trial.log import EntryRow, PrintRow, append, log_path, read_log, written
from chassis_gen.trial.rows import locked, row_text
from tests.trial.support import DAY, started

APPENDING = """
import datetime, sys
from pathlib import Path
from chassis_gen.trial.log import EntryRow, append, read_log
from chassis_gen.trial.rows import locked
path, who, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
for i in range(count):
    with locked(path):
        number = read_log(path, path.parent).next_entry
        row = EntryRow(number=number, date=datetime.date(2026, 3, 4), revision=1, dimension=f"{who} {i}",
                       said="tight", term="test fit", value=0.1, reason="x" * 200)
        append(path, "entry", row)
    print(who, i, flush=True)
"""

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
entries = st.builds(
    EntryRow,
    number=st.integers(1, 999_999),
    date=st.dates(datetime.date(2000, 1, 1), datetime.date(2100, 1, 1)),
    revision=st.integers(0, 99),
    dimension=texts.map(lambda t: f"d{t}"),
    said=st.sampled_from(["tight", "loose", "good", "measured"]),
    side=st.sampled_from(["inner", "outer", "other"]),
    term=st.just("test fit"),
    value=st.floats(-2, 2, allow_nan=False),
    reading=st.none() | st.floats(-1000, 1000, allow_nan=False),
    piece=texts,
    photo=texts,
    reason=texts,
)
prints = st.builds(
    PrintRow,
    number=st.integers(1, 999_999),
    date=st.dates(datetime.date(2000, 1, 1), datetime.date(2100, 1, 1)),
    revision=st.integers(0, 99),
    piece=texts,
    lot=texts,
    notes=texts,
)
quick = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def entry(number: int, dimension: str = "cell.seat_diameter", value: float = 0.2, **more: object) -> EntryRow:
    given_: dict[str, object] = {
        "said": "tight",
        "side": "inner",
        "term": "test fit",
        "reason": "sticks",
        **more,
    }
    return EntryRow.model_validate(
        {"number": number, "date": DAY, "revision": 1, "dimension": dimension, "value": value, **given_}
    )


def undo(number: int, cancels: int) -> EntryRow:
    return entry(number, "", 0.0, said="undo", term="", cancels=cancels)


def log_of(path: Path, *rows: EntryRow | PrintRow) -> Path:
    for row in rows:
        append(path, "entry" if isinstance(row, EntryRow) else "print", row)
    return path


def row_of(row: EntryRow | PrintRow) -> str:
    return row_text("entry" if isinstance(row, EntryRow) else "print", written(row), "log")


@quick
@given(rows=st.lists(entries | prints, max_size=4))
def test_rows_are_read_as_they_were_written(rows: list[EntryRow | PrintRow], tmp_path: Path) -> None:
    path = tmp_path / "trial-log.toml"
    path.unlink(missing_ok=True)
    log = read_log(log_of(path, *rows), tmp_path)
    assert log.entries == tuple(r for r in rows if isinstance(r, EntryRow))
    assert log.prints == tuple(r for r in rows if isinstance(r, PrintRow))
    assert not [f for f in log.findings if "stands twice" not in f.message]
    # an independent reader takes the whole file
    assert len(tomllib.loads(path.read_text("utf-8") if rows else "").get("entry", [])) == len(log.entries)


@quick
@given(rows=st.lists(entries | prints, min_size=1, max_size=4), data=st.data())
def test_a_file_cut_off_at_any_byte_keeps_every_earlier_whole_row(
    rows: list[EntryRow | PrintRow], data: st.DataObject, tmp_path: Path
) -> None:
    path = tmp_path / "trial-log.toml"
    parts = [row_of(r).encode() for r in rows]
    whole = b"".join(parts)
    cut = data.draw(st.integers(0, len(whole)))
    path.write_bytes(whole[:cut])
    # a row is whole once its last quotation mark is there; the line end doesn't matter
    ends = [sum(map(len, parts[: i + 1])) - 1 for i in range(len(parts))]
    kept = [r for r, end in zip(rows, ends, strict=True) if cut >= end]
    log = read_log(path, tmp_path)
    assert [*log.entries] == [r for r in kept if isinstance(r, EntryRow)]
    assert [*log.prints] == [r for r in kept if isinstance(r, PrintRow)]
    rest = whole[:cut][ends[len(kept) - 1] + 1 if kept else 0 :]
    damaged = [f for f in log.findings if "counts for nothing" in f.message]
    assert bool(damaged) == bool(rest.strip())
    last = entry(999_999, reason="after the damage")
    append(path, "entry", last)
    again = read_log(path, tmp_path)
    assert again.entries == (*log.entries, last)
    assert path.read_bytes().startswith(whole[:cut])


@pytest.mark.parametrize(
    ("bad", "word"),
    [
        ("value = 0.2.1", "no TOML"),
        ("valeu = 0.2", "valeu"),
        ("value = 25.4", "out-of-range"),
        ('said = "snug"', "said"),
        ("\udcff", "no text file"),
    ],
)
def test_a_line_edited_by_hand_is_named_and_the_other_rows_are_kept(
    bad: str, word: str, tmp_path: Path
) -> None:
    path = log_of(tmp_path / "trial-log.toml", entry(1), entry(2, value=0.3), entry(3))
    lines = path.read_text("utf-8").split("\n")
    assert lines.count("value = 0.3") == 1
    at = lines.index("value = 0.3")
    lines[at] = bad
    path.write_bytes("\n".join(lines).encode("utf-8", "surrogateescape"))
    log = read_log(path, tmp_path)
    assert [e.number for e in log.entries] == [1, 3]
    named = [f for f in log.findings if f.where == f"trial-log.toml:{at + 1}"]
    assert named, log.findings
    assert any(word in f.message for f in named)
    assert log.next_entry == 4


def test_an_entry_may_be_taken_back_and_that_too(tmp_path: Path) -> None:
    path = log_of(tmp_path / "l", entry(1), entry(2, value=0.1))
    assert [t.value for t in read_log(path, tmp_path).terms()["cell.seat_diameter"]] == [0.2, 0.1]
    log_of(path, undo(3, 1))
    assert [t.value for t in read_log(path, tmp_path).terms()["cell.seat_diameter"]] == [0.1]
    log_of(path, undo(4, 3))
    assert [t.value for t in read_log(path, tmp_path).terms()["cell.seat_diameter"]] == [0.2, 0.1]
    assert len(read_log(path, tmp_path).entries) == 4


def test_what_was_seen_on_a_bad_print_does_not_count(tmp_path: Path) -> None:
    print_1 = PrintRow(number=1, date=DAY, revision=1, piece="chassis", notes="")
    bad = entry(3, "", 0.0, said="bad print", term="", print=1)
    path = log_of(tmp_path / "l", print_1, entry(1, print=1), entry(2, value=0.1), bad)
    assert [t.value for t in read_log(path, tmp_path).terms()["cell.seat_diameter"]] == [0.1]


def test_numbers_given_twice_and_undos_of_nothing_are_named(tmp_path: Path) -> None:
    log = read_log(log_of(tmp_path / "l", entry(1), entry(1), undo(2, 9)), tmp_path)
    assert [f.level for f in log.findings] == ["warning", "warning"]
    assert "stands twice" in log.findings[0].message
    assert "takes back entry 9" in log.findings[1].message


def test_a_text_that_no_file_can_hold_is_refused(tmp_path: Path) -> None:
    path = log_of(tmp_path / "l", entry(1))
    before = path.read_bytes()
    with pytest.raises(InputError, match="UTF-8"):
        append(path, "entry", EntryRow.model_construct(**{**dict(entry(2)), "reason": "\ud800"}))
    assert path.read_bytes() == before


def test_the_log_lies_beside_the_build_file(tmp_path: Path) -> None:
    assert log_path(tmp_path / "build.toml") == tmp_path / "trial-log.toml"
    assert log_path(tmp_path / "other.toml") == tmp_path / "other.trial-log.toml"


def test_two_processes_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "trial-log.toml"
    both = [started(APPENDING, path, who, "12") for who in ("a", "b")]
    for process in both:
        process.communicate(timeout=60)
        assert process.returncode == 0
    log = read_log(path, tmp_path)
    assert log.findings == ()
    assert sorted(e.number for e in log.entries) == list(range(1, 25))
    assert {e.dimension for e in log.entries} == {f"{who} {i}" for who in "ab" for i in range(12)}


@pytest.mark.parametrize("rows_first", [1, 4, 9])
def test_a_killed_process_loses_nothing_that_it_had_said(rows_first: int, tmp_path: Path) -> None:
    path = tmp_path / "trial-log.toml"
    process = started(APPENDING, path, "a", "100000")
    assert process.stdout is not None
    said = [process.stdout.readline() for _ in range(rows_first)]
    process.kill()
    rest, _ = process.communicate(timeout=60)
    count = len(said) + rest.count(b"\n")
    log = read_log(path, tmp_path)
    assert log.findings == ()
    # the row after the last one that was said may have been written already
    assert [e.number for e in log.entries][:count] == list(range(1, count + 1))
    assert len(log.entries) in (count, count + 1)
    with locked(path):  # the lock went with the process
        append(path, "entry", entry(log.next_entry))
    assert len(read_log(path, tmp_path).entries) == len(log.entries) + 1
