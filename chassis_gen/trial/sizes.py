"""Real sizes of parts, recorded once for all builds of a workspace: ``profiles/part-sizes.toml``."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated

from msgspec import Struct
from pydantic import Field, model_validator

from chassis_gen.findings import Finding
from chassis_gen.params.codes import Rejection, rejected
from chassis_gen.params.quantities import Length, NonNegativeLength
from chassis_gen.params.reading import FileModel
from chassis_gen.parts.catalogue import find_part, overridden
from chassis_gen.parts.model import Measure, Part
from chassis_gen.problems import InputError
from chassis_gen.trial.log import Number, Text, written
from chassis_gen.trial.rows import append_row, read_rows

SIZES_FILE = "part-sizes.toml"
HEADING = "Parts as measured. Rows are only ever appended; the last one of a size counts, [part] in a build goes before."


class SizeReading(FileModel):
    """[[size]]: one size of one part as measured, or a reading that is taken back."""

    number: Number = Field(description="of the reading")
    date: datetime.date = Field(description="when it was measured")
    part: Annotated[str, Field(max_length=120)] = Field(default="", description="name of the part")
    size: Annotated[str, Field(max_length=60)] = Field(default="", description="name of the size")
    value: Length | None = Field(default=None, description="as measured")
    tolerance: NonNegativeLength = Field(default=0.0, description="plus-minus of the reading")
    cancels: Number | None = Field(default=None, description="the reading that this one takes back")
    why: Text = Field(description="how it was measured, and on which")

    @model_validator(mode="after")
    def _complete(self) -> SizeReading:
        if self.cancels is None and not (self.part and self.size and self.value is not None):
            raise rejected(
                Rejection("missing-key", "a reading needs part, size and value", "part, size, value")
            )
        return self


class SizesFile(FileModel):
    """A file of measured sizes."""

    size: tuple[SizeReading, ...] = Field(default=(), description="readings")


class PartSizes(Struct, frozen=True):
    """Measured sizes as read.

    Args:
        file: the file's name as shown to the maker.
        text: its text.
        readings: in file order, those taken back included.
        findings: warnings on rows that can't be read.
        next_number: of the next reading.
    """

    file: str
    text: str
    readings: tuple[SizeReading, ...] = ()
    findings: tuple[Finding, ...] = ()
    next_number: int = 1

    def measures(self) -> dict[str, dict[str, Measure]]:
        """Return the sizes in effect by part name and size name."""
        cancelled: set[int] = set()
        kept: list[SizeReading] = []
        for reading in reversed(self.readings):
            if reading.number in cancelled:
                continue
            if reading.cancels is not None:
                cancelled.add(reading.cancels)
            else:
                kept.append(reading)
        found: dict[str, dict[str, Measure]] = {}
        for r in reversed(kept):
            assert r.value is not None
            source = f"measured {r.date.isoformat()}, reading {r.number}: {r.why}"
            found.setdefault(r.part, {})[r.size] = Measure(r.value, r.tolerance, source)
        return found


def read_sizes(path: Path, root: Path) -> PartSizes:
    """Return the measured sizes of a workspace; a missing file has none.

    Args:
        path: the file.
        root: the folder that the file's name is shown relative to.

    Raises:
        InputError: when the system refuses to read the file.
    """
    rows = read_rows(path, SizesFile, root)
    readings = tuple(r for part in rows.parts for r in part.size)
    return PartSizes(rows.file, rows.text, readings, rows.findings, rows.highest.get("size", 0) + 1)


def append_size(path: Path, row: SizeReading) -> None:
    """Append a reading; the caller holds the file's lock.

    Args:
        path: the file.
        row: the reading.

    Raises:
        InputError: when the file can't be written; it is then as it was.
    """
    append_row(path, "size", written(row), HEADING)


def with_sizes(parts: Mapping[str, Part], sizes: PartSizes) -> tuple[dict[str, Part], tuple[Finding, ...]]:
    """Return a workspace's parts with the measured sizes put over the stated ones.

    Args:
        parts: the maker's own parts by name.
        sizes: the measured sizes.

    Returns:
        The parts, generic ones that were measured included, and a warning for each part that isn't known or
        refuses its reading: such readings count for nothing.
    """
    made, findings = dict(parts), []
    for name, measures in sizes.measures().items():
        try:
            part = overridden(find_part(name, parts), measures)
            made[part.name] = part
        except InputError as error:
            for p in error.problems:
                words = f"{p.message}{f'; did you mean {p.nearest}?' if p.nearest else ''}"
                message = f'{sizes.file}: the readings of "{name}" count for nothing: {words}'
                findings.append(Finding("warning", "part-sizes", name, message))
    return made, tuple(findings)
