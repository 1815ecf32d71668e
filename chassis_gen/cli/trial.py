"""``chassis-gen trial``: what was printed, what was tight, and what follows from it."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from chassis_gen.cli.outcome import TRUST
from chassis_gen.cli.session import FAIL, PASS, Session, json_option

if TYPE_CHECKING:
    from chassis_gen.trial.noting import Noted
    from chassis_gen.trial.seen import Seen

_DATE = click.option(
    "--date",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    help="When it was seen (default: today).",
)


@click.group("trial")
@json_option
def command() -> None:
    """Keep the test-fit log: prints, what was tight, and what follows.

    Every note is one more row in the log beside the build's parameter file, and one more term in a
    dimension's sum; nothing is ever deleted. Each state of the build is kept as a numbered revision.
    """


@command.command("note")
@click.argument("build", required=False)
@click.argument("dimension", required=False)
@click.option("--tight", metavar="MM", help="It was this much too tight, on the whole dimension.")
@click.option("--loose", metavar="MM", help="It was this much too loose, on the whole dimension.")
@click.option("--good", is_flag=True, help="It fits; nothing changes.")
@click.option(
    "--measured", metavar="MM", multiple=True, help="What a caliper shows; with --part: SIZE=MM, repeatable."
)
@click.option(
    "--undo", metavar="N", type=click.IntRange(1), help="Take back entry N (with --part: reading N)."
)
@click.option("--part", metavar="PART", help="A part's real size, for every build that seats it.")
@click.option(
    "--print", "print_number", metavar="N", type=click.IntRange(1), help="The print that it was seen on."
)
@click.option("--piece", metavar="PIECE", default="", help="The piece that it was seen on.")
@click.option("--photo", metavar="FILE", default="", help="A photo to keep with it, by name.")
@click.option("--why", metavar="TEXT", default="", help="What was seen, in words.")
@_DATE
@TRUST
@json_option
@click.pass_obj
def note(
    session: Session,
    build: str | None,
    dimension: str | None,
    tight: str | None,
    loose: str | None,
    good: bool,
    measured: tuple[str, ...],
    undo: int | None,
    part: str | None,
    print_number: int | None,
    piece: str,
    photo: str,
    why: str,
    date: datetime.datetime | None,
) -> int:
    """Note what a test fit showed, and say what moves.

    DIMENSION is a name that `chassis-gen why BUILD` lists. With --part, a part's size is noted once for all
    builds: `chassis-gen trial note --part "sound board" --measured width=18.3 --why "caliper"`.
    """
    said = [o for o, given in (("--tight", tight), ("--loose", loose), ("--good", good), ("--measured", measured),
                               ("--undo", undo)) if given]  # fmt: skip
    if len(said) != 1:
        given = f"{' and '.join(said)} stand together" if said else "what was seen is missing"
        raise click.UsageError(f"{given}; one of --tight, --loose, --good, --measured, --undo is wanted")
    if said[0] not in ("--good", "--undo") and not why.strip():
        raise click.UsageError("--why is missing: a reading without its reason is worth little in a year")
    today = date.date() if date else datetime.date.today()
    if part is not None:
        if build is not None or said[0] not in ("--measured", "--undo"):
            raise click.UsageError("--part takes --measured SIZE=MM or --undo N, and no BUILD")
        return _note_part(session, part, measured, undo, why, today)
    if build is None or (dimension is None) != (undo is not None):
        raise click.UsageError("BUILD and DIMENSION are wanted, with --undo BUILD alone, with --part neither")
    return _note_build(
        session,
        build,
        dimension,
        undo,
        _seen(tight, loose, good, measured, why, print_number, piece, photo),
        today,
    )


def _seen(
    tight: str | None,
    loose: str | None,
    good: bool,
    measured: tuple[str, ...],
    why: str,
    print_number: int | None,
    piece: str,
    photo: str,
) -> Seen:
    from chassis_gen.trial.seen import Seen, length

    if len(measured) > 1:
        raise click.UsageError("--measured stands once where a dimension is noted")
    if tight is not None:
        return Seen("tight", length(tight, "--tight"), why, print_number, piece, photo)
    if loose is not None:
        return Seen("loose", length(loose, "--loose"), why, print_number, piece, photo)
    if measured:
        return Seen("measured", length(measured[0], "--measured"), why, print_number, piece, photo)
    return Seen("good", None, why, print_number, piece, photo)


def _note_build(
    session: Session, build: str, dimension: str | None, undo: int | None, seen: Seen, today: datetime.date
) -> int:
    from chassis_gen.cli.trial_text import noted_json, noted_text
    from chassis_gen.trial.noting import note as note_one
    from chassis_gen.trial.noting import take_back
    from chassis_gen.trial.repeats import find_repeats

    with session.progress() as progress:
        progress("planning")
        if undo is not None:
            noted = take_back(session.workspace, build, undo, seen.why, today)
        else:
            noted = note_one(session.workspace, build, dimension or "", seen, today)
        progress("looking at the other builds")
        repeats = [r for r in find_repeats(session.workspace) if noted.build in {s.build for s in r.shown}]
    session.show(noted_json(noted, repeats), lambda: noted_text(noted, repeats))
    return _status(noted)


def _status(noted: Noted) -> int:
    return FAIL if noted.fails else PASS


def _note_part(
    session: Session, part: str, measured: tuple[str, ...], undo: int | None, why: str, today: datetime.date
) -> int:
    from chassis_gen.cli.trial_text import sizes_json, sizes_text
    from chassis_gen.trial.measuring import note_sizes, take_back_size
    from chassis_gen.trial.seen import length

    sizes = {}
    for text in measured:
        name, given, value = text.partition("=")
        if not given:
            raise click.UsageError(f'"{text}" is no SIZE=MM, such as width=18.3')
        sizes[name.strip()] = length(value.strip(), "--measured")
    with session.progress() as progress:
        progress("planning the builds")
        if undo is not None:
            noted = take_back_size(session.workspace, part, undo, why, today)
        else:
            noted = note_sizes(session.workspace, part, sizes, why, today)
    session.show(sizes_json(noted), lambda: sizes_text(noted))
    return FAIL if noted.fails else PASS


@command.command("print")
@click.argument("build")
@click.option("--piece", metavar="PIECE", default="", help="Which piece (default: the only one).")
@click.option("--lot", metavar="TEXT", default="", help="Material lot.")
@click.option(
    "--slicer", metavar="FILE", type=click.Path(path_type=Path), help="Slicer settings; kept as their hash."
)
@click.option("--orientation", metavar="TEXT", default="", help="How it lay on the bed.")
@click.option("--notes", metavar="TEXT", default="", help="Anything worth keeping.")
@click.option(
    "--bad", metavar="N", type=click.IntRange(1), help="Print N was bad: what was seen on it doesn't count."
)
@click.option("--why", metavar="TEXT", default="", help="With --bad: what is wrong with it.")
@_DATE
@TRUST
@json_option
@click.pass_obj
def print_command(
    session: Session,
    build: str,
    piece: str,
    lot: str,
    slicer: Path | None,
    orientation: str,
    notes: str,
    bad: int | None,
    why: str,
    date: datetime.datetime | None,
) -> int:
    """Log a print of the build as it is now, or mark one as bad.

    Readings attach to a print, so that a bad print doesn't become a bad dimension.
    """
    from chassis_gen.cli.trial_text import noted_json, noted_text, print_json, print_text
    from chassis_gen.trial.noting import reject_print
    from chassis_gen.trial.prints import Printed, log_print

    today = date.date() if date else datetime.date.today()
    if bad is not None:
        if not why.strip():
            raise click.UsageError("--bad needs --why")
        noted = reject_print(session.workspace, build, bad, why, today)
        session.show(noted_json(noted, []), lambda: noted_text(noted, []))
        return _status(noted)
    name, digest = _hashed(slicer)
    printed = Printed(piece, lot, name, digest, orientation, notes)
    with session.progress() as progress:
        progress("planning")
        row = log_print(session.workspace, build, printed, today)
    session.show(print_json(row), lambda: print_text(row))
    return PASS


def _hashed(slicer: Path | None) -> tuple[str, str]:
    """Return a slicer settings file's name and SHA-256, or two empty texts."""
    import hashlib

    from chassis_gen.problems import InputError, Problem

    if slicer is None:
        return "", ""
    try:
        return slicer.name, hashlib.sha256(slicer.read_bytes()).hexdigest()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        message = f"the slicer settings can't be read ({reason})"
        raise InputError([Problem("cannot-read", message, str(slicer), key="--slicer")]) from None


@command.command("history")
@click.argument("build")
@click.option("--at", metavar="N", help="Print the parameter files as of revision N.")
@click.option(
    "--to",
    metavar="DIR",
    type=click.Path(path_type=Path),
    help="With --at: write them into this folder, a workspace to check and build in.",
)
@TRUST
@json_option
@click.pass_obj
def history_command(session: Session, build: str, at: str | None, to: Path | None) -> int:
    """List a build's revisions, with what changed and why.

    With --at N, print the parameters as of revision N; with --to DIR, write them into a workspace of their own.
    """
    from chassis_gen.cli.trial_text import at_json, at_text, history_json, history_text
    from chassis_gen.trial.history import history, revision_of
    from chassis_gen.trial.revisions import restore

    if at is None:
        if to is not None:
            raise click.UsageError("--to needs --at")
        found = history(session.workspace, build)
        session.show(history_json(found), lambda: history_text(found))
        return PASS
    revision = revision_of(session.workspace, build, at)
    if to is not None:
        to.mkdir(parents=True, exist_ok=True)
        restore(revision, to)
    session.show(at_json(revision, to), lambda: at_text(revision, to))
    return PASS


@command.command("compare")
@click.argument("build")
@click.argument("a")
@click.argument("b")
@TRUST
@json_option
@click.pass_obj
def compare_command(session: Session, build: str, a: str, b: str) -> int:
    """List what differs between two revisions of a build.

    A and B are numbers that `chassis-gen trial history BUILD` lists, or "now".
    """
    from chassis_gen.cli.trial_text import changes_json, changes_text
    from chassis_gen.trial.history import compare

    with session.progress() as progress:
        found = compare(session.workspace, build, a, b, progress)
    document = {"build": build, "a": a, "b": b, **changes_json(found)}
    session.show(document, lambda: f"{build}, from {a} to {b}:\n\n{changes_text(found)}")
    return PASS


@command.command("next")
@click.argument("build")
@TRUST
@json_option
@click.pass_obj
def next_command(session: Session, build: str) -> int:
    """Say which reading would lower the chance of failure most.

    Ranked by the yield to expect after it: the share of chassis whose fits all fit.
    """
    from chassis_gen.cli.trial_text import advice_json, advice_text
    from chassis_gen.pipeline import load_build
    from chassis_gen.trial.advice import advice
    from chassis_gen.trial.bench import planned

    with session.progress() as progress:
        progress("planning")
        found = advice(planned(load_build(session.workspace, build)), build)
    session.show({"build": build, "readings": [advice_json(a) for a in found]}, lambda: advice_text(found))
    return PASS


@command.command("rescue")
@click.argument("build")
@click.option("--from", "since", metavar="N", required=True, help="The revision that was printed.")
@click.option("--dry-run", is_flag=True, help="Show the sheet and write nothing.")
@TRUST
@json_option
@click.pass_obj
def rescue_command(session: Session, build: str, since: str, dry_run: bool) -> int:
    """Say how to rework a printed piece, or when to print it again.

    Writes the rework sheet and the shims it needs to out/<build>-rework/.
    """
    from chassis_gen.cli.trial_text import sheet_json, sheet_text
    from chassis_gen.params.writing import write_bytes_atomically, write_text_atomically
    from chassis_gen.pipeline import load_build
    from chassis_gen.trial.bench import planned
    from chassis_gen.trial.history import loaded_of
    from chassis_gen.trial.rescue import rescue

    with session.progress() as progress:
        progress("planning")
        printed = planned(loaded_of(session.workspace, build, since))
        now = planned(load_build(session.workspace, build))
        progress("comparing the solids")
        sheets = rescue(printed, now)
    shims = {f"{f.shim.name}.stl": f.shim.stl for s in sheets for f in s.fillings if f.shim}
    text = sheet_text(now.build, since, sheets)
    files: list[str] = []
    if not dry_run:
        folder = session.workspace.out_dir(f"{now.build}-rework")
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in shims.items():
            write_bytes_atomically(folder / name, data)
        write_text_atomically(folder / "rework-sheet.txt", text + "\n")
        files = [f"out/{folder.name}/{n}" for n in (*shims, "rework-sheet.txt")]
    document = {"build": now.build, "from": since, "files": files, "pieces": [sheet_json(s) for s in sheets]}
    session.show(document, lambda: "\n".join((text, *(f"Written: {f}" for f in files))))
    return PASS


@command.command("repeats")
@TRUST
@json_option
@click.pass_obj
def repeats_command(session: Session) -> int:
    """Say which test fits repeat across builds on one printer.

    There the printer's calibration explains them, not the parts; `trial settle PRINTER` moves the correction.
    """
    from chassis_gen.cli.trial_text import repeat_json, repeats_text
    from chassis_gen.trial.repeats import find_repeats

    found = find_repeats(session.workspace)
    session.show({"repeats": [repeat_json(r) for r in found]}, lambda: repeats_text(found))
    return PASS


@command.command("settle")
@click.argument("printer")
@_DATE
@TRUST
@json_option
@click.pass_obj
def settle_command(session: Session, printer: str, date: datetime.datetime | None) -> int:
    """Move what repeats on a printer to its file, and take the builds' own terms back.

    The printer file keeps its comments and layout; the logs get cancelling entries.
    """
    from chassis_gen.cli.trial_text import settled_json, settled_text
    from chassis_gen.trial.repeats import settle

    with session.progress() as progress:
        progress("planning the builds")
        done = settle(session.workspace, printer, date.date() if date else datetime.date.today())
    session.show(settled_json(done), lambda: settled_text(done))
    return PASS
