"""What becomes of the test fits noted on a printer when its file changes: what their terms were and are."""

from __future__ import annotations

import math

from msgspec import Struct

from chassis_gen.params.printer import PrinterFile
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import Loaded, load_build, on_printer
from chassis_gen.plan.sums import CORRECTION, TEST_FIT, Dimension
from chassis_gen.problems import InputError
from chassis_gen.trial.bench import planned
from chassis_gen.trial.changes import LEAST


class Carried(Struct, frozen=True):
    """A dimension with test fits whose printer's file changed.

    Args:
        build: name of the build.
        dimension: the dimension, or empty where the build can't be planned.
        before: sum of its test-fit terms before, mm.
        after: the same now, mm.
        drawn_before: drawn dimension before, mm.
        drawn_after: the same now, mm.
        doubt: why the terms may count something twice, or why the build can't be planned; else empty.
    """

    build: str
    dimension: str = ""
    before: float = 0.0
    after: float = 0.0
    drawn_before: float = 0.0
    drawn_after: float = 0.0
    doubt: str = ""

    @property
    def text(self) -> str:
        """Return the same in a sentence."""
        if not self.dimension:
            return f"{self.build} has test fits and can't be planned: {self.doubt}"
        said = (
            f"{self.build} {self.dimension}: its test fits add {self.after:+.3f} mm where they added "
            f"{self.before:+.3f} mm; drawn {self.drawn_after:.3f} mm, {self.drawn_before:.3f} mm before"
        )
        return f"{said}. {self.doubt}" if self.doubt else said


def noted_terms(dimension: Dimension) -> float:
    """Return the sum of what a trial log adds to a dimension, mm."""
    return math.fsum((dimension.term(TEST_FIT), dimension.term(CORRECTION)))


def carried(workspace: Workspace, printer: str, before: PrinterFile) -> tuple[Carried, ...]:
    """Return what became of the test fits of all builds that name a printer.

    Args:
        workspace: whose builds.
        printer: name of the printer file, as it is now.
        before: the file as it was.
    """
    found: list[Carried] = []
    for build in workspace.builds():
        try:
            loaded = load_build(workspace, build)
            if loaded.inputs.build.build.printer == printer and loaded.inputs.trial:
                found += _of_build(loaded, on_printer(loaded, before, printer))
        except InputError as error:
            if (workspace.build_file(build).with_name("trial-log.toml")).exists():
                found.append(Carried(build, doubt=error.problems[0].text()))
    return tuple(found)


def _of_build(loaded: Loaded, was: Loaded) -> list[Carried]:
    old, new = planned(was), planned(loaded)
    doubts = {
        f.where: f"{f.message}: {f.remedy.text}" if f.remedy else f.message
        for f in new.findings
        if f.code == "trial-compensation"
    }
    found = []
    for name in loaded.inputs.trial:
        if name not in old.dimensions or name not in new.dimensions:
            continue
        a, b = old.dimensions[name], new.dimensions[name]
        if name in doubts or max(abs(b.total - a.total), abs(noted_terms(b) - noted_terms(a))) > LEAST:
            found.append(
                Carried(
                    new.build,
                    name,
                    noted_terms(a),
                    noted_terms(b),
                    a.total,
                    b.total,
                    doubts.get(name, ""),
                )
            )
    return found
