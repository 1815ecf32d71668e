"""What the planner starts from: the files of one build, read and checked one by one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.params.build import TubeFile
from chassis_gen.params.codes import KeyPath, Rejection, value_at
from chassis_gen.params.printer import PrinterFile
from chassis_gen.params.reading import Source
from chassis_gen.parts.model import Part
from chassis_gen.plan.sums import Basis, Term
from chassis_gen.problems import InputError, Problem, in_order

if TYPE_CHECKING:
    from chassis_gen.lettering.model import Figure, TextOutline


class BuildInputs(Struct, frozen=True):
    """A build's files as models.

    Args:
        name: file-safe build name.
        build: the build file's model (made by `chassis_gen.params.build.build_model`).
        source: the build file's text, for placing problems.
        printer: the printer file, or None for an uncalibrated printer of default figures.
        tube_file: the shared tube file that the build refers to, or None.
        parts: the maker's own parts by name, and generic ones that were measured.
        trial: terms that test fits showed, by dimension name.
        notices: what reading the test fits found.
        texts: outlines of the lettering, by font file (None for the default) and text.
        figures: the maker's own outlines by the name of their file.
        bases: by dimension name, what the first of its test fits was reckoned on.
    """

    name: str
    build: Any
    source: Source
    printer: PrinterFile | None
    tube_file: TubeFile | None
    parts: Mapping[str, Part]
    trial: Mapping[str, tuple[Term, ...]] = field(default_factory=dict)
    notices: tuple[Finding, ...] = ()
    texts: Mapping[tuple[str | None, str], TextOutline] = field(default_factory=dict)
    figures: Mapping[str, Figure] = field(default_factory=dict)
    bases: Mapping[str, Basis] = field(default_factory=dict)

    def problem(self, path: KeyPath, rejection: Rejection) -> Problem:
        """Return what is wrong with a value of the build file, with its place."""
        found = self.source.problem(path, rejection)
        # what was read says nothing where a whole table is meant
        return replace(found, value=None) if isinstance(value_at(self.source.data, path), Mapping) else found

    def located(self, path: KeyPath, error: InputError) -> tuple[Problem, ...]:
        """Return problems that a room without files found, placed at a key of the build file."""
        return tuple(
            p if p.file else self.problem(path, Rejection(p.code, p.message, p.allowed, p.nearest))
            for p in error.problems
        )


class Gathering:
    """Collects problems so that one run reports all of them."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def add(self, problems: Iterable[Problem]) -> None:
        """Keep more problems."""
        self.problems.extend(problems)

    def reject(self, inputs: BuildInputs, path: KeyPath, rejection: Rejection) -> None:
        """Keep what is wrong with a value of the build file."""
        self.problems.append(inputs.problem(path, rejection))

    def raise_any(self) -> None:
        """Raise what was gathered, sorted by line.

        Raises:
            InputError: when there is any problem.
        """
        if self.problems:
            raise InputError(in_order(self.problems))
