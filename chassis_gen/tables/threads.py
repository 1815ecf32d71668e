"""Screw threads: basic sizes, tap drills, clearance holes, nuts, set screws and inserts.

Only major diameters and pitches are tabled; pitch and minor diameters follow from the profile that
ISO 68-1 and ASME B1.1 share: a 60 degree triangle of height H = (sqrt 3 / 2) P.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Literal

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.problems import InputError, Problem, nearest_name
from chassis_gen.records import as_data
from chassis_gen.tables.drills import Drill
from chassis_gen.tables.reading import (
    MM_PER_UNIT,
    length_mm,
    lengths_mm,
    lookup,
    read_csv,
    read_rules,
    unknown,
)

Basis = Literal["1.299", "1.0825"]

TRIANGLE_HEIGHT = math.sqrt(3.0) / 2.0  # H / P of a 60 degree thread, ISO 68-1
# Full thread as the double depth it is measured by: 3H/4 each side in cutting-tap practice, 5H/8 in ISO 68-1.
BASIS_FACTORS: Mapping[str, float] = {
    "1.299": 2.0 * TRIANGLE_HEIGHT * 3.0 / 4.0,
    "1.0825": 2.0 * TRIANGLE_HEIGHT * 5.0 / 8.0,
}


class Clearance(Struct, frozen=True):
    """Clearance holes of one screw size.

    Args:
        fine: mm, ISO 273 fine or ASME B18.2.8 close.
        medium: mm, ISO 273 medium or ASME B18.2.8 normal.
        coarse: mm, ISO 273 coarse or ASME B18.2.8 loose.
        drills: names of the three drills, in the same order.
        source: where the sizes come from.
    """

    fine: float
    medium: float
    coarse: float
    drills: tuple[str, str, str]
    source: str


class Nut(Struct, frozen=True):
    """Hexagon nut of one screw size, limits of size.

    Args:
        across_flats_max: mm.
        across_flats_min: mm.
        height_max: mm.
        height_min: mm.
        across_corners_min: mm, least width across corners the standard allows.
        source: where the sizes come from.
    """

    across_flats_max: float
    across_flats_min: float
    height_max: float
    height_min: float
    across_corners_min: float
    source: str

    @property
    def across_corners(self) -> float:
        """Largest width across corners, mm: a sharp hexagon on the largest flats (2 / sqrt 3 times)."""
        return self.across_flats_max * 2.0 / math.sqrt(3.0)


class SetScrew(Struct, frozen=True):
    """Hexagon-socket set screw of one size.

    Args:
        key: mm, hexagon key across flats.
        lengths: mm, lengths usually in stock, shortest first.
        source: where the sizes come from.
    """

    key: float
    lengths: tuple[float, ...]
    source: str


class Insert(Struct, frozen=True):
    """Heat-set insert of one thread.

    Args:
        hole_diameter: mm, straight hole after printing.
        hole_low: mm, smallest hole in use for such inserts.
        hole_high: mm, largest hole in use for such inserts.
        length: mm.
        min_wall: mm of plastic round the hole.
        source: where the sizes come from.
    """

    hole_diameter: float
    hole_low: float
    hole_high: float
    length: float
    min_wall: float
    source: str


class Thread(Struct, frozen=True):
    """One screw thread with everything tabled for it, lengths in mm.

    Args:
        designation: "M3" or "#8-32".
        series: "M coarse", "UNC" or "UNF".
        major_diameter: basic major diameter D.
        pitch: distance between neighbouring threads P.
        tap: drill for a hole that is tapped.
        clearance: clearance holes.
        nut: hexagon nut.
        set_screw: set screw.
        insert: heat-set insert, or None where none is in use.
        forming: hole in which a screw forms its own thread in plastic; its name is its size.
        source: where major diameter and pitch come from.
    """

    designation: str
    series: str
    major_diameter: float
    pitch: float
    tap: Drill
    clearance: Clearance
    nut: Nut
    set_screw: SetScrew
    insert: Insert | None
    forming: Drill
    source: str

    @property
    def pitch_diameter(self) -> float:
        """Basic pitch diameter D - 2 (3/8) H = D - 0.649519 P, mm (ISO 724, ASME B1.1)."""
        return self.major_diameter - 2.0 * 3.0 / 8.0 * TRIANGLE_HEIGHT * self.pitch

    @property
    def minor_diameter(self) -> float:
        """Basic minor diameter of the nut thread D - 2 (5/8) H = D - 1.082532 P, mm (ISO 724, ASME B1.1)."""
        return self.major_diameter - 2.0 * 5.0 / 8.0 * TRIANGLE_HEIGHT * self.pitch

    @property
    def tap_drill(self) -> float:
        """Tap drill diameter, mm."""
        return self.tap.diameter

    @property
    def tap_drill_name(self) -> str:
        """Tap drill as it is sold: "2.5 mm" or "#29"."""
        return self.tap.name

    @property
    def forming_diameter(self) -> float:
        """Hole diameter for a screw that forms its own thread in plastic, mm."""
        return self.forming.diameter

    @property
    def sources(self) -> tuple[str, ...]:
        """Every source used for this thread, each once."""
        return tuple(dict.fromkeys(source for _, _, source in thread_rows(self)))


@cache
def all_threads() -> tuple[Thread, ...]:
    """Return every thread tabled: ISO metric coarse first, then unified, each by size."""
    tables = {
        file: {next(iter(row.values())): row for row in read_csv(f"{file}.csv")}
        for file in ("tap_drills", "clearance_holes", "nuts", "set_screws", "inserts", "forming_holes")
    }
    return tuple(_thread(row, tables) for row in read_csv("threads.csv"))


def find_thread(text: str) -> Thread:
    """Return the thread a maker names: "M3", "m3x0.5", "8-32", "#8-32 UNC", "1/4-20".

    Args:
        text: designation, with or without pitch (metric), "#" and series (unified).

    Raises:
        InputError: code ``unknown-thread``, with the nearest known designation.
    """
    wanted = _folded(text)
    for thread in all_threads():
        if wanted in _spellings(thread):
            return thread
    names = [thread.designation for thread in all_threads()]
    problem = unknown(text, names, "unknown-thread", "thread in the tables")
    # a metric size with a fine pitch is nearest to the same size with its coarse pitch
    raise InputError([replace(problem, nearest=nearest_name(text.casefold().partition("x")[0], names))])


def percent_thread(thread: Thread, drill_diameter: float, basis: Basis = "1.299") -> float:
    """Return how much of a full thread a drilled hole leaves, in percent.

    The basis names the double depth, in pitches, that counts as full: 1.299 (3H/4 each side, what
    tap-drill charts use) or 1.0825 (5H/8 each side, the basic internal thread of ISO 68-1).

    Args:
        thread: the thread to be cut.
        drill_diameter: mm.
        basis: "1.299" or "1.0825".

    Raises:
        InputError: ``bad-drill`` for a diameter that isn't above zero, ``unknown-basis`` for another basis.
    """
    factor = lookup(str(basis), BASIS_FACTORS, "unknown-basis", "thread basis")
    if not (math.isfinite(drill_diameter) and drill_diameter > 0.0):
        raise InputError(
            [
                Problem(
                    "bad-drill",
                    "a drill has a diameter above zero",
                    value=f"{drill_diameter} mm",
                    allowed="> 0 mm",
                )
            ]
        )
    return 100.0 * (thread.major_diameter - drill_diameter) / (factor * thread.pitch)


def tap_drill_warning(thread: Thread, drill_diameter: float) -> str | None:
    """Return a warning when a hole is too small to be tapped safely, else None.

    Args:
        thread: the thread to be cut.
        drill_diameter: mm.

    Raises:
        InputError: code ``bad-drill`` for a diameter that isn't above zero.
    """
    limit = read_rules("thread_rules.toml")["tap_percent_limit"]
    percent = percent_thread(thread, drill_diameter, "1.299")
    if percent <= limit.value:
        return None
    return (
        f"a {drill_diameter:.3f} mm hole leaves {percent:.0f} % thread for {thread.designation} "
        f"on the 1.299 basis, over {limit.value:.0f} %: the tap may jam and break; "
        f"drill {thread.tap_drill_name} ({thread.tap_drill:.3f} mm)"
    )


def thread_rows(thread: Thread) -> list[tuple[str, str, str]]:
    """Return a thread as lines for people: label, value with unit, source.

    Args:
        thread: the thread to describe.
    """
    return [
        ("major diameter", _mm(thread.major_diameter), thread.source),
        ("pitch", _mm(thread.pitch), thread.source),
        *_profile_rows(thread),
        *_hole_rows(thread),
        *_hardware_rows(thread),
    ]


def thread_json(thread: Thread) -> dict[str, Any]:
    """Return a thread as plain data for JSON: lengths in mm, percents on both bases, sources beside values.

    Args:
        thread: the thread to describe.
    """
    data: dict[str, Any] = as_data(thread)
    data["unit"] = "mm"
    data["pitch_diameter"] = thread.pitch_diameter
    data["minor_diameter"] = thread.minor_diameter
    data["nut"]["across_corners_max"] = thread.nut.across_corners
    data["percent_thread"] = {b: percent_thread(thread, thread.tap_drill, b) for b in ("1.299", "1.0825")}
    return data


def _profile_rows(thread: Thread) -> Iterator[tuple[str, str, str]]:
    source = "ISO 724 formula" if thread.series.startswith("M") else "ASME B1.1 formula"
    yield "pitch diameter", _mm(thread.pitch_diameter), f"{source} D - 0.649519 P"
    yield "minor diameter (internal)", _mm(thread.minor_diameter), f"{source} D - 1.082532 P"


def _hole_rows(thread: Thread) -> Iterator[tuple[str, str, str]]:
    yield "tap drill", _named(thread.tap), thread.tap.source
    bases: tuple[Basis, ...] = ("1.299", "1.0825")
    for basis in bases:
        percent = percent_thread(thread, thread.tap_drill, basis)
        yield f"thread left by it, {basis} basis", f"{percent:.1f} %", f"(D - drill) / ({basis} P)"
    hole = thread.clearance
    for label, size, drill in zip(
        ("fine", "medium", "coarse"), (hole.fine, hole.medium, hole.coarse), hole.drills, strict=True
    ):
        yield f"clearance hole, {label}", _named(Drill(drill, size, hole.source)), hole.source
    yield "thread-forming hole in plastic", _mm(thread.forming.diameter), thread.forming.source


def _hardware_rows(thread: Thread) -> Iterator[tuple[str, str, str]]:
    nut, screw, insert = thread.nut, thread.set_screw, thread.insert
    flats = f"{nut.across_flats_min:.2f} to {nut.across_flats_max:.2f} mm"
    yield "nut across flats", flats, nut.source
    yield (
        "nut across corners, at most",
        _mm(nut.across_corners, 2),
        f"{nut.source}; sharp hexagon, 2 / sqrt 3",
    )
    yield "nut height", f"{nut.height_min:.2f} to {nut.height_max:.2f} mm", nut.source
    yield "set-screw key", _mm(screw.key), screw.source
    yield "set-screw lengths", ", ".join(f"{length:.4g}" for length in screw.lengths) + " mm", screw.source
    if insert:
        hole = f"{insert.hole_diameter:.2f} mm ({insert.hole_low:.2f} to {insert.hole_high:.2f} in use)"
        yield "heat-set insert hole", hole, insert.source
        yield "heat-set insert length", _mm(insert.length, 2), insert.source
        yield "heat-set insert wall, at least", _mm(insert.min_wall, 2), insert.source


def _mm(value: float, digits: int = 3) -> str:
    return f"{value:.{digits}f} mm"


def _named(drill: Drill) -> str:
    return _mm(drill.diameter) if drill.name.endswith("mm") else f"{_mm(drill.diameter)} ({drill.name})"


def _folded(text: str) -> str:
    plain = re.sub(r"[\s\"'\u2033]", "", text.casefold()).replace("\u00d7", "x")
    plain = re.sub(r"^(number|no\.?|#)(?=\d)", "", plain)
    # "x0.50" and "x.5" are the same pitch as "x0.5"
    return re.sub(r"x(\d*\.?\d+)$", lambda pitch: f"x{float(pitch[1]):g}", plain)


def _spellings(thread: Thread) -> tuple[str, ...]:
    base = _folded(thread.designation)
    if thread.series == "M coarse":
        return base, f"{base}x{thread.pitch:g}", f"{base}coarse"
    return base, base + thread.series.casefold()


def _thread(row: Mapping[str, str], tables: Mapping[str, Mapping[str, Mapping[str, str]]]) -> Thread:
    name = row["designation"]
    size = name.partition("-")[0]
    pitch = length_mm(row, "pitch") if row["pitch"] else MM_PER_UNIT["in"] / float(row["threads_per_inch"])
    tap, forming = tables["tap_drills"][name], tables["forming_holes"][name]
    return Thread(
        designation=name,
        series=row["series"],
        major_diameter=length_mm(row, "major_diameter"),
        pitch=pitch,
        tap=Drill(tap["drill"], length_mm(tap, "diameter"), tap["source"]),
        clearance=_clearance(tables["clearance_holes"][size]),
        nut=_nut(tables["nuts"][size]),
        set_screw=_set_screw(tables["set_screws"][size]),
        insert=_insert(tables["inserts"].get(name)),
        forming=Drill(f"{forming['diameter']} mm", length_mm(forming, "diameter"), forming["source"]),
        source=row["source"],
    )


def _clearance(row: Mapping[str, str]) -> Clearance:
    fine, medium, coarse = (length_mm(row, fit) for fit in ("fine", "medium", "coarse"))
    drills = (row["fine_drill"], row["medium_drill"], row["coarse_drill"])
    return Clearance(fine, medium, coarse, drills, row["source"])


def _nut(row: Mapping[str, str]) -> Nut:
    return Nut(
        across_flats_max=length_mm(row, "across_flats_max"),
        across_flats_min=length_mm(row, "across_flats_min"),
        height_max=length_mm(row, "height_max"),
        height_min=length_mm(row, "height_min"),
        across_corners_min=length_mm(row, "across_corners_min"),
        source=row["source"],
    )


def _set_screw(row: Mapping[str, str]) -> SetScrew:
    return SetScrew(length_mm(row, "key"), lengths_mm(row, "lengths"), row["source"])


def _insert(row: Mapping[str, str] | None) -> Insert | None:
    if row is None:
        return None
    return Insert(
        hole_diameter=length_mm(row, "hole_diameter"),
        hole_low=length_mm(row, "hole_low"),
        hole_high=length_mm(row, "hole_high"),
        length=length_mm(row, "length"),
        min_wall=length_mm(row, "min_wall"),
        source=row["source"],
    )
