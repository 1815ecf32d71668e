"""The files of a gauge: meshes to print, one 3MF of all pieces, and the sheet for the readings."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from chassis_gen.output.stl import check_written, stl_bytes
from chassis_gen.output.threemf import threemf_bytes
from chassis_gen.params.writing import write_bytes_atomically
from chassis_gen.printer.making import GaugeSet
from chassis_gen.printer.readings import has_readings, sheet_text
from chassis_gen.problems import InputError, Problem
from chassis_gen.shapes.body import Body

SHEET = "readings"
GAUGE_MATERIAL = "as the builds"


def write_gauge(folder: Path, made: GaugeSet, title: str, places: Sequence[int]) -> tuple[str, ...]:
    """Write a gauge's files and return their names.

    A sheet that is filled in is left alone; the new one then gets the next free number.

    Args:
        folder: where to; it is made if need be.
        made: what is printed.
        title: the printer's name.
        places: places of the bed on the sheet.

    Raises:
        InputError: when a file can't be written, or a written mesh isn't closed.
    """
    files = gauge_files(made, title)
    sheet = sheet_text(places)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        files[_free_sheet(folder)] = sheet.encode()
    except OSError as error:
        message = f"the folder cannot be written ({error.strerror or error})"
        raise InputError([Problem("cannot-write", message, str(folder))]) from None
    for name, data in files.items():
        write_bytes_atomically(folder / name, data)
    for name in ("try.stl", "ring.stl"):
        if name not in files:
            # What an earlier run made for another part would be taken for this one's.
            (folder / name).unlink(missing_ok=True)
    return tuple(sorted(files))


def gauge_files(made: GaugeSet, title: str) -> dict[str, bytes]:
    """Return a gauge's meshes by file name; the same gauge gives the same bytes.

    Args:
        made: what is printed.
        title: the printer's name.

    Raises:
        InputError: when a written mesh isn't closed.
    """
    from chassis_gen.shapes.mesh import make

    bodies = {name: [(r.name, make(r)) for r in recipes] for name, recipes in made.files.items()}
    files: dict[str, bytes] = {}
    for name, pieces in bodies.items():
        whole = _together([b for _, b in pieces])
        data = stl_bytes(whole, f"{title} {name}")
        problems = [Problem(f.code, f.message) for f in check_written(data, whole, name)]
        if problems:
            raise InputError(problems)
        files[f"{name}.stl"] = data
    everything = [(n, b, GAUGE_MATERIAL) for pieces in bodies.values() for n, b in pieces]
    files["gauge.3mf"] = threemf_bytes(everything, f"gauge for {title}")
    return files


def _together(bodies: Sequence[Body]) -> Body:
    return bodies[0].union(*bodies[1:]) if len(bodies) > 1 else bodies[0]


def _free_sheet(folder: Path) -> str:
    number = 1
    while True:
        name = f"{SHEET}.csv" if number == 1 else f"{SHEET}-{number}.csv"
        path = folder / name
        if not path.exists() or (path.is_file() and not has_readings(path.read_text("utf-8", "replace"))):
            return name
        number += 1
