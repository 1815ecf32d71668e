"""A build's trial log: what was printed and what each test fit showed; rows are appended and never changed."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from msgspec import Struct
from pydantic import Field, model_validator

from chassis_gen.findings import Finding
from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import Length, quantity
from chassis_gen.params.reading import FileModel
from chassis_gen.plan.sums import CORRECTION, TEST_FIT, Basis, Term
from chassis_gen.tables.fits import printer_tolerance
from chassis_gen.trial.rows import Rows, append_row, read_rows

LOG_FILE = "trial-log.toml"
HEADING = (
    "Test-fit log. Rows are only ever appended: take one back with `chassis-gen trial note BUILD --undo N`."
)
LARGEST = 2.0
"""The largest term that a test fit may add, mm: more is another part or a slip of the unit (chosen)."""

Said = Literal["tight", "loose", "good", "measured", "bad print", "undo"]
SAID: tuple[Said, ...] = get_args(Said)
Side = Literal["inner", "outer", "standing_hole", "lying_hole", "other"]
Value = Annotated[float, quantity("mm", -LARGEST, LARGEST)]
Compensation = Annotated[float, quantity("mm", -100, 100)]
Number = Annotated[int, Field(ge=1, le=999_999)]
Revision = Annotated[int, Field(ge=0, le=999_999)]
Text = Annotated[str, Field(max_length=500)]

_ON_A_DIMENSION = ("tight", "loose", "good", "measured")


class PrintRow(FileModel):
    """[[print]]: one print of one piece."""

    number: Number = Field(description="of the print")
    date: datetime.date = Field(description="when it was printed")
    revision: Revision = Field(description="of the build that was printed")
    piece: Text = Field(description="which piece")
    lot: Text = Field(default="", description="material lot")
    slicer_file: Text = Field(default="", description="the slicer settings' file name")
    slicer_sha256: Annotated[str, Field(pattern=r"^([0-9a-f]{64})?$")] = Field(
        default="", description="its SHA-256"
    )
    orientation: Text = Field(default="", description="how it lay on the bed")
    notes: Text = Field(description="anything worth keeping")


class EntryRow(FileModel):
    """[[entry]]: what one test fit showed, or which earlier entry is taken back."""

    number: Number = Field(description="of the entry")
    date: datetime.date = Field(description="when it was noted")
    revision: Revision = Field(description="of the build when it was noted")
    print: Number | None = Field(default=None, description="the print that it was seen on")
    dimension: Text = Field(default="", description="name of the dimension, as `why BUILD` lists it")
    said: Said = Field(description="what was seen")
    side: Side = Field(default="other", description="what kind of dimension it is")
    term: Literal["", "test fit", "print correction"] = Field(
        default="", description="label of the term that it adds"
    )
    value: Value = Field(default=0.0, description="what the term adds to the drawn dimension")
    compensation: Compensation | None = Field(
        default=None, description="printer's term of its print, less that of the print it mates with"
    )
    printer: Text = Field(default="", description="the printer that it was reckoned for")
    reading: Length | None = Field(default=None, description="the dimension as measured")
    piece: Text = Field(default="", description="the piece that it was seen on")
    photo: Text = Field(default="", description="file name of a photo")
    cancels: Number | None = Field(default=None, description="the entry that this one takes back")
    reason: Text = Field(description="what was seen, in words")

    @model_validator(mode="after")
    def _complete(self) -> EntryRow:
        wanted = {"undo": "cancels", "bad print": "print"}.get(self.said, "dimension")
        if not getattr(self, wanted):
            raise rejected(
                Rejection("missing-key", f'an entry that says "{self.said}" needs {wanted}', wanted)
            )
        if (self.value != 0.0) and not self.term:
            raise rejected(Rejection("missing-key", "a value without its term's label", "term"))
        return self


class LogFile(FileModel):
    """A trial log."""

    print: tuple[PrintRow, ...] = Field(default=(), description="prints")
    entry: tuple[EntryRow, ...] = Field(default=(), description="entries")


class TrialLog(Struct, frozen=True):
    """A trial log as read.

    Args:
        file: its name as shown to the maker.
        text: its text.
        prints: in file order.
        entries: in file order, those taken back included.
        findings: a warning for every row that can't be read or doesn't make sense.
        next_print: number of the next print.
        next_entry: number of the next entry.
    """

    file: str
    text: str
    prints: tuple[PrintRow, ...] = ()
    entries: tuple[EntryRow, ...] = ()
    findings: tuple[Finding, ...] = ()
    next_print: int = 1
    next_entry: int = 1

    def active(self) -> tuple[EntryRow, ...]:
        """Return the entries that are not taken back, in file order.

        An undo may itself be undone. Entries on a print that is marked bad don't count.
        """
        cancelled: set[int] = set()
        kept: list[EntryRow] = []
        for entry in reversed(self.entries):
            if entry.number in cancelled:
                continue
            if entry.said == "undo" and entry.cancels is not None:
                cancelled.add(entry.cancels)
            kept.append(entry)
        bad = {e.print for e in kept if e.said == "bad print"}
        return tuple(
            e for e in reversed(kept) if e.said == "bad print" or e.print is None or e.print not in bad
        )

    def readings(self) -> tuple[EntryRow, ...]:
        """Return the active entries that say something of a dimension."""
        return tuple(e for e in self.active() if e.said in _ON_A_DIMENSION)

    def terms(self) -> dict[str, tuple[Term, ...]]:
        """Return the terms that the log adds, by dimension name.

        A measured print's term carries the range that its next print is taken to have.
        """
        found: dict[str, tuple[Term, ...]] = {}
        for e in self.readings():
            if e.term:
                range_ = printer_tolerance(True).value if e.term == CORRECTION else 0.0
                source = f"trial entry {e.number}, {e.date.isoformat()}: {e.reason}"
                term = Term(e.term, e.value, source, range_)
                found[e.dimension] = (*found.get(e.dimension, ()), term)
        return found

    def bases(self) -> dict[str, Basis]:
        """Return what the first entry with a term was reckoned on, by dimension name."""
        found: dict[str, Basis] = {}
        for e in self.readings():
            if e.term and e.dimension not in found:
                found[e.dimension] = Basis(e.number, e.date, e.compensation, e.printer)
        return found

    def print_numbered(self, number: int) -> PrintRow | None:
        """Return the print of a number, or None."""
        return next((p for p in reversed(self.prints) if p.number == number), None)


def log_path(build_file: Path) -> Path:
    """Return where a build's trial log lies: beside its parameter file.

    Args:
        build_file: the parameter file.
    """
    if build_file.name == "build.toml":
        return build_file.with_name(LOG_FILE)
    return build_file.with_name(f"{build_file.stem}.{LOG_FILE}")


def read_log(path: Path, root: Path) -> TrialLog:
    """Return a trial log; a missing file is an empty one, and a damaged row is named and left out.

    Args:
        path: the file.
        root: the folder that the file's name is shown relative to.

    Raises:
        InputError: when the system refuses to read the file.
    """
    rows: Rows[LogFile] = read_rows(path, LogFile, root)
    prints = tuple(p for part in rows.parts for p in part.print)
    entries = tuple(e for part in rows.parts for e in part.entry)
    return TrialLog(
        rows.file,
        rows.text,
        prints,
        entries,
        (*rows.findings, *_senseless(rows.file, prints, entries)),
        rows.highest.get("print", 0) + 1,
        rows.highest.get("entry", 0) + 1,
    )


def append(path: Path, table: Literal["print", "entry"], row: PrintRow | EntryRow) -> None:
    """Append a print or an entry; the caller holds the log's lock.

    Args:
        path: the log.
        table: which.
        row: the row; keys at their defaults are left out.

    Raises:
        InputError: when the file can't be written; it is then as it was.
    """
    append_row(path, table, written(row), HEADING)


def written(row: FileModel) -> Mapping[str, Any]:
    """Return a row's keys and values as they are written: those at their defaults are left out.

    Args:
        row: the row.
    """
    return row.model_dump(exclude_defaults=True)


def term_label(said: Said) -> Literal["", "test fit", "print correction"]:
    """Return the label of the term that an entry adds.

    Args:
        said: what was seen.
    """
    if said == "measured":
        return CORRECTION
    return TEST_FIT if said in ("tight", "loose") else ""


def _senseless(file: str, prints: Iterable[PrintRow], entries: Iterable[EntryRow]) -> list[Finding]:
    """Return warnings on numbers given twice and on entries that take back what isn't there."""
    found: list[Finding] = []
    seen: set[int] = set()
    for e in entries:
        if e.number in seen:
            message = f"entry {e.number} stands twice in {file}; both count, and an undo takes both back"
            found.append(Finding("warning", "trial-row", file, message))
        if e.cancels is not None and e.cancels not in seen:
            message = (
                f"entry {e.number} takes back entry {e.cancels}, which doesn't stand before it in {file}"
            )
            found.append(Finding("warning", "trial-row", file, message))
        seen.add(e.number)
    known = {p.number for p in prints}
    for e in entries:
        if e.print is not None and e.print not in known:
            message = f"entry {e.number} was seen on print {e.print}, which {file} doesn't have; it counts all the same"
            found.append(Finding("warning", "trial-row", file, message))
    return found
