"""Test fits that repeat across builds on one printer: there the printer, not the parts, explains them."""

from __future__ import annotations

import datetime
import math
import statistics
from collections.abc import Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.params.printer import PrinterFile
from chassis_gen.params.reading import read_model, read_source
from chassis_gen.params.workspace import Workspace
from chassis_gen.params.writing import write_text_atomically
from chassis_gen.pipeline import load_build
from chassis_gen.plan.printing import printer_terms
from chassis_gen.problems import InputError, Problem, quoted
from chassis_gen.tables.trial import trial_rule
from chassis_gen.trial.bench import Bench, bench, planned
from chassis_gen.trial.carried import Carried, carried, noted_terms
from chassis_gen.trial.changes import LEAST
from chassis_gen.trial.log import EntryRow, Side, TrialLog, append, log_path, read_log
from chassis_gen.trial.noting import cancelling
from chassis_gen.trial.rows import locked

if TYPE_CHECKING:
    from tomlkit.items import Table

DECIMALS = 4


class Shown(Struct, frozen=True):
    """What a build's test fits say of one dimension.

    Args:
        build: the build.
        dimension: the dimension.
        value: sum of the terms that the trial log adds to it, mm.
        entries: numbers of the entries that they come from.
    """

    build: str
    dimension: str
    value: float
    entries: tuple[int, ...]


class Repeat(Struct, frozen=True):
    """Test fits on one printer that agree.

    Args:
        printer: name of the printer file.
        side: kind of dimension whose figure on the printer explains them.
        shown: the dimensions, by build and name.
        mean: of their terms, mm.
        sd: standard deviation, mm.
    """

    printer: str
    side: Side
    shown: tuple[Shown, ...]
    mean: float
    sd: float

    @property
    def command(self) -> str:
        """Return the command that moves the correction to the printer."""
        return f"chassis-gen trial settle {quoted(self.printer)}"

    @property
    def text(self) -> str:
        """Return what repeats, in one sentence, with the numbers."""
        values = [s.value for s in self.shown]
        builds = sorted({s.build for s in self.shown})
        kind = {"standing_hole": "standing holes", "lying_hole": "lying holes"}.get(
            self.side, f"{self.side} dimensions"
        )
        return (
            f"{len(self.shown)} {kind} printed on {self.printer} (in {', '.join(builds)}) want "
            f"{min(values):+.2f} to {max(values):+.2f} mm, {self.mean:+.3f} on average with a standard deviation of "
            f"{self.sd:.3f}: the printer's calibration explains that, not the parts"
        )


class Settled(Struct, frozen=True):
    """What became of repeats that were moved to a printer.

    Args:
        printer: name of the printer file.
        file: its file.
        repeats: what was moved.
        changed: key, figure before and figure now, per repeat.
        taken_back: build and entry number of every entry that was taken back.
        carried: what became of the other test fits on the printer.
    """

    printer: str
    file: str
    repeats: tuple[Repeat, ...]
    changed: tuple[tuple[str, float, float], ...]
    taken_back: tuple[tuple[str, int], ...]
    carried: tuple[Carried, ...] = ()


def find_repeats(workspace: Workspace, printer: str | None = None) -> tuple[Repeat, ...]:
    """Return the test fits that repeat, by printer and kind of dimension.

    Args:
        workspace: whose builds and printers.
        printer: only this one, or None for all.

    Raises:
        InputError: when a printer file can't be read.
    """
    count = int(trial_rule("repeat_count").value)
    groups: dict[tuple[str, Side], list[Shown]] = {}
    for build in workspace.builds():
        name = _printer_of(workspace, build)
        if name is None or (printer is not None and name != printer):
            continue
        log = read_log(log_path(workspace.build_file(build)), workspace.root)
        file = read_model(workspace.shared_file("printers", name), PrinterFile, workspace.root)
        for side, shown in _shown(build, log, file):
            groups.setdefault((name, side), []).append(shown)
    found = (
        _repeat(name, side, [left for s in shown if (left := _left(workspace, s))])
        for (name, side), shown in sorted(groups.items())
        if len(shown) >= count
    )
    return tuple(r for r in found if r is not None)


def settle(workspace: Workspace, printer: str, today: datetime.date) -> Settled:
    """Move what repeats on a printer to its file, and take the builds' own terms back.

    Every log is locked, and the build planned as it is, before anything is written.

    Args:
        workspace: where they lie.
        printer: name of the printer file.
        today: date of the entries.

    Raises:
        InputError: when nothing repeats on it, or its slicer compensates; nothing is written then.
    """
    path = workspace.shared_file("printers", printer)
    with ExitStack() as stack:
        stack.enter_context(locked(path))
        named = sorted({s.build for r in find_repeats(workspace, printer) for s in r.shown})
        for build in named:
            stack.enter_context(locked(log_path(workspace.build_file(build))))
        repeats = find_repeats(workspace, printer)
        if not repeats:
            count, window = trial_rule("repeat_count"), trial_rule("repeat_window")
            message = f"fewer than {count.value:g} test fits on it agree within {window.value:g} mm of each other's middle"
            raise InputError([Problem("not-allowed", message, value=f'"{printer}"')])
        file = read_model(path, PrinterFile, workspace.root)
        _check_settles(file, printer, repeats)
        benches = {b: bench(workspace, b, today) for b in named}
        text, changed = _moved(read_source(path, workspace.root).text, file, printer, repeats, today)
        taken = _taken_back(benches, repeats, printer, changed, today)
        write_text_atomically(path, text)
    shown_path = path.relative_to(workspace.root).as_posix()
    return Settled(printer, shown_path, repeats, changed, taken, carried(workspace, printer, file))


def _printer_of(workspace: Workspace, build: str) -> str | None:
    """Return the printer that a build names, or None where it names none or can't be read."""
    try:
        table = read_source(workspace.build_file(build), workspace.root).data.get("build")
        name = table.get("printer") if isinstance(table, dict) else None
        if not isinstance(name, str):
            return None
        workspace.shared_file("printers", name)
    except InputError:
        return None
    return name


def _shown(build: str, log: TrialLog, file: PrinterFile) -> list[tuple[Side, Shown]]:
    by_name: dict[str, list[EntryRow]] = {}
    for e in log.readings():
        if e.value != 0.0 and e.side != "other":
            by_name.setdefault(e.dimension, []).append(e)
    return [
        (_figure(rows[-1].side, file), Shown(build, name, total, tuple(e.number for e in rows)))
        for name, rows in by_name.items()
        if (total := math.fsum(e.value for e in rows)) != 0.0
    ]


def _left(workspace: Workspace, shown: Shown) -> Shown | None:
    """Return what test fits still ask for beyond what the printer's term makes up for by now, or None for nothing."""
    try:
        d = planned(load_build(workspace, shown.build)).dimensions.get(shown.dimension)
    except InputError:
        return shown
    value = noted_terms(d) if d else shown.value
    return replace(shown, value=value) if abs(value) > LEAST else None


def _figure(side: Side, file: PrinterFile) -> Side:
    """Return which of a printer's figures a kind of dimension goes by: holes that weren't measured are inner."""
    if side in ("standing_hole", "lying_hole") and (
        not file.calibrated or getattr(file.behaviour, side) is None
    ):
        return "inner"
    return side


def _repeat(printer: str, side: Side, shown: Iterable[Shown]) -> Repeat | None:
    """Return the dimensions of one sign that lie within the window round their median, if they are enough."""
    count, window = int(trial_rule("repeat_count").value), trial_rule("repeat_window").value
    best: Repeat | None = None
    for sign in (1.0, -1.0):
        alike = [s for s in shown if s.value * sign > 0]
        if len(alike) < count:
            continue
        middle = statistics.median(s.value for s in alike)
        near = tuple(s for s in alike if abs(s.value - middle) <= window)
        if len(near) < count or (best is not None and len(best.shown) >= len(near)):
            continue
        values = [s.value for s in near]
        best = Repeat(printer, side, near, statistics.fmean(values), statistics.stdev(values))
    return best


def _check_settles(file: PrinterFile, printer: str, repeats: Iterable[Repeat]) -> None:
    if file.compensates == "slicer":
        wanted = "; ".join(f"{r.side} dimensions {r.mean:+.3f} mm" for r in repeats)
        message = f"the slicer compensates for {printer}: change its settings instead ({wanted})"
        raise InputError([Problem("not-allowed", message, value=f'"{printer}"')])


def _moved(
    text: str, file: PrinterFile, printer: str, repeats: Iterable[Repeat], today: datetime.date
) -> tuple[str, tuple[tuple[str, float, float], ...]]:
    """Return a printer file's text with the corrections in it, and what changed in it.

    A behaviour draws (wanted - offset) / scale, so that a term moves to it as minus scale times the term; an
    allowance is what is added to an inner dimension or taken off an outer one.
    """
    import tomlkit

    document = tomlkit.parse(text)
    terms = printer_terms(file, printer)
    changed = []
    for r in repeats:
        if file.calibrated:
            behaviour = getattr(file.behaviour, r.side)
            key, before = f"behaviour.{r.side}.offset", behaviour.offset
            now = round(before - behaviour.scale * r.mean, DECIMALS)
            table: Any = document["behaviour"][r.side]
            table["offset"] = now
        else:
            key = f"allowance.{r.side}"
            before = -terms.inner.offset if r.side == "inner" else terms.outer.offset
            now = round(before + (r.mean if r.side == "inner" else -r.mean), DECIMALS)
            table = _table(document, "allowance")
            table[r.side] = now
        table[r.side if not file.calibrated else "offset"].comment(
            f"{before:g} until {today.isoformat()}; {len(r.shown)} test fits wanted {r.mean:+g}"
        )
        changed.append((key, before, now))
    return tomlkit.dumps(document), tuple(changed)


def _table(document: Any, name: str) -> Table:
    import tomlkit

    if name not in document:
        document.add(name, tomlkit.table())
    table: Table = document[name]
    return table


def _taken_back(
    benches: dict[str, Bench],
    repeats: Iterable[Repeat],
    printer: str,
    changed: Iterable[tuple[str, float, float]],
    today: datetime.date,
) -> tuple[tuple[str, int], ...]:
    """Append the cancelling entries to the logs, which are locked, and return what they take back."""
    taken = []
    for r, (key, before, now) in zip(repeats, changed, strict=True):
        reason = f"moved to printer {printer}: {key} from {before:g} to {now:g}"
        for s in r.shown:
            at = benches[s.build]
            path: Path = log_path(at.path)
            for number in s.entries:
                log = read_log(path, at.workspace.root)
                append(path, "entry", cancelling(log, number, at.revision.number, reason, today))
                taken.append((s.build, number))
    return tuple(taken)
