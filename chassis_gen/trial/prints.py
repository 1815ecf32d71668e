"""The prints of a build: logging one, and finding the one that something was seen on."""

from __future__ import annotations

import datetime

from msgspec import Struct

from chassis_gen.params.workspace import Workspace
from chassis_gen.problems import InputError, Problem, quoted
from chassis_gen.trial.bench import Bench, bench, unknown
from chassis_gen.trial.log import PrintRow, TrialLog, append, log_path
from chassis_gen.trial.rows import locked


class Printed(Struct, frozen=True):
    """What is known of a print that is to be logged.

    Args:
        piece: name of the piece; may be empty where the build has only one.
        lot: material lot.
        slicer_file: name of the slicer settings' file.
        slicer_sha256: its SHA-256.
        orientation: how it lay on the bed.
        notes: anything else.
    """

    piece: str = ""
    lot: str = ""
    slicer_file: str = ""
    slicer_sha256: str = ""
    orientation: str = ""
    notes: str = ""


def log_print(workspace: Workspace, build: str, printed: Printed, today: datetime.date) -> PrintRow:
    """Append a print of the build as it is now, and return its row.

    Args:
        workspace: where the build lies.
        build: its name or path.
        printed: what is known of the print.
        today: its date.

    Raises:
        InputError: when the build has no such piece, or several and none is named.
    """
    path = log_path(workspace.build_file(build))
    with locked(path):
        at = bench(workspace, build, today)
        names = [p.name for p in at.plan.pieces]
        piece = printed.piece or (names[0] if len(names) == 1 else "")
        if not names:
            message = "no piece can be made of the build as it is, so that none can have been printed"
            allowed = f"mend first what `chassis-gen check {quoted(at.plan.build)}` says"
            raise InputError([Problem("not-allowed", message, allowed=allowed)])
        if not piece:
            message = f"the build has {len(names)} pieces, and which one was printed isn't said"
            raise InputError([Problem("missing-key", message, key="--piece", allowed=", ".join(names))])
        if piece not in names:
            raise InputError([unknown("piece", piece, names, "--piece")])
        row = PrintRow(
            number=at.log.next_print,
            date=today,
            revision=at.revision.number,
            piece=piece,
            lot=printed.lot,
            slicer_file=printed.slicer_file,
            slicer_sha256=printed.slicer_sha256,
            orientation=printed.orientation,
            notes=printed.notes,
        )
        append(path, "print", row)
        return row


def newest_print(at: Bench, dimension: str, piece: str) -> PrintRow | None:
    """Return the newest good print of the piece that a dimension belongs to, or None when that is not certain.

    Args:
        at: the build.
        dimension: name of the dimension.
        piece: name of the piece where the maker said it, else empty.
    """
    bad = {e.print for e in at.log.active() if e.said == "bad print"}
    sections = sorted(
        (s for s in at.plan.sections if dimension.startswith(f"{s.name}.")), key=lambda s: len(s.name)
    )
    if piece:
        names = {piece}
    elif sections:
        names = {sections[-1].piece, *(e.name for e in sections[-1].extra_pieces)}
    else:
        names = {p.name for p in at.plan.pieces if p.owner is None}
    found = [p for p in at.log.prints if p.piece in names and p.number not in bad]
    return found[-1] if found and len({p.piece for p in found}) == 1 else None


def print_numbered(log: TrialLog, number: int) -> PrintRow:
    """Return a print by its number.

    Args:
        log: the trial log.
        number: of the print.

    Raises:
        InputError: when there is no such print.
    """
    found = log.print_numbered(number)
    if found is None:
        known = ", ".join(str(p.number) for p in log.prints) or "none yet: log one with `trial print`"
        raise InputError(
            [Problem("unknown-name", "there is no such print", log.file, value=str(number), allowed=known)]
        )
    return found
