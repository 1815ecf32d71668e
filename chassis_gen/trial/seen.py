"""What a maker saw of a dimension, and what that adds to its sum."""

from __future__ import annotations

import datetime
import math

from msgspec import Struct

from chassis_gen.params.quantities import Quantity
from chassis_gen.plan.sums import CORRECTION, FINISH, FIT_CLEARANCE, PRINTER, TEST_FIT, Dimension
from chassis_gen.problems import InputError, Problem
from chassis_gen.trial.bench import Bench, planned, unknown
from chassis_gen.trial.log import LARGEST, EntryRow, PrintRow, Said, Side, term_label
from chassis_gen.trial.prints import newest_print, print_numbered
from chassis_gen.trial.then import Then, as_drawn

DECIMALS = 4
"""Terms are rounded to 0.1 um, far below what a caliper shows."""
_LENGTH = Quantity("mm", -2000.0, 2000.0)
_SIDES: tuple[tuple[str, Side], ...] = (
    ("inner dimension", "inner"),
    ("outer dimension", "outer"),
    ("standing hole", "standing_hole"),
    ("lying hole", "lying_hole"),
)
_MM_PER_INCH = 25.4


class Seen(Struct, frozen=True):
    """What a maker saw.

    Args:
        said: what.
        amount: mm: how tight or loose it was on the whole dimension, or the dimension as measured.
        why: in words.
        print: number of the print that it was seen on, or None for the newest one of the piece.
        piece: name of the piece, or empty.
        photo: file name of a photo, or empty.
    """

    said: Said
    amount: float | None
    why: str
    print: int | None = None
    piece: str = ""
    photo: str = ""


def side_of(dimension: Dimension) -> Side:
    """Return what kind of dimension a labelled sum is: by its printer's term, else by its clearance's sign.

    A press fit's clearance is negative on an inner dimension, so the printer's term goes first.

    Args:
        dimension: the sum.
    """
    source = next((t.source for t in dimension.terms if t.label == PRINTER), "")
    for words, side in _SIDES:
        if source.startswith(words):
            return side
    clearance = 0.0 if source else dimension.term(FIT_CLEARANCE)
    if clearance == 0.0:
        return "other"
    return "inner" if clearance > 0 else "outer"


def length(text: str, key: str) -> float:
    """Return a length from the command line, mm: a plain number, or a number with a unit.

    Args:
        text: such as ``18.3`` or ``0.72 in``.
        key: the option, for the error.

    Raises:
        InputError: when it is neither.
    """
    from pydantic_core import PydanticCustomError

    try:
        value = float(text)
        if math.isfinite(value):
            return value
    except ValueError:
        pass
    try:
        return _LENGTH.read(text)
    except PydanticCustomError:
        allowed = f"{_LENGTH.wanted}"
        raise InputError(
            [Problem("bad-number", "this is no length", key=key, value=f'"{text}"', allowed=allowed)]
        ) from None


def entry_of(at: Bench, name: str, seen: Seen, today: datetime.date) -> tuple[EntryRow, tuple[str, ...]]:
    """Return the row that says what was seen of a dimension, and remarks on it.

    Args:
        at: the build.
        name: of the dimension.
        seen: what was seen.
        today: date of the entry.

    Raises:
        InputError: when there is no such dimension, piece or print, or the amount makes no sense.
    """
    dimension = at.plan.dimensions.get(name)
    if dimension is None:
        raise InputError([unknown("dimension", name, at.plan.dimensions, "DIMENSION")])
    print_row = print_numbered(at.log, seen.print) if seen.print else newest_print(at, name, seen.piece)
    piece = seen.piece or (print_row.piece if print_row else "")
    names = [p.name for p in at.plan.pieces]
    if piece and piece not in names:
        raise InputError([unknown("piece", piece, names, "--piece")])
    side = side_of(dimension)
    then = Then(dimension)
    if seen.said in ("tight", "loose"):
        then = as_drawn(dimension, print_row, at.log, at.past, at.revision, at.loaded, planned)
    value, remarks = _value(at, dimension, side, seen, print_row, then)
    adds = term_label(seen.said)
    row = EntryRow(
        number=at.log.next_entry,
        date=today,
        revision=at.revision.number,
        print=print_row.number if print_row else None,
        dimension=name,
        said=seen.said,
        side=side,
        term=adds,
        value=value,
        compensation=_compensation(dimension, seen.said) if adds else None,
        printer=(at.loaded.inputs.build.build.printer or "") if adds else "",
        reading=seen.amount if seen.said == "measured" else None,
        piece=piece,
        photo=seen.photo,
        reason=seen.why,
    )
    return row, remarks


def _compensation(dimension: Dimension, said: Said) -> float:
    """Return what is made up for on a print, mm: a reading is of the print alone, a fit of the pair."""
    made_up = dimension.printer_made_up if said == "measured" else dimension.pair_made_up
    return round(made_up, DECIMALS) + 0.0


def _value(
    at: Bench, dimension: Dimension, side: Side, seen: Seen, print_row: PrintRow | None, then: Then
) -> tuple[float, tuple[str, ...]]:
    """Return what an entry adds to the drawn dimension, mm, and remarks on it."""
    if seen.said == "good":
        return 0.0, ()
    assert seen.amount is not None
    if seen.said == "measured":
        return _correction(at, dimension, seen.amount, print_row)
    if side == "other":
        message = f"{dimension.name} is no dimension of a fit, so that tight and loose have no direction"
        raise InputError(
            [Problem("not-allowed", message, key=f"--{seen.said}", allowed="--measured or --good")]
        )
    if not 0.0 < seen.amount <= LARGEST:
        allowed = f"0 < mm <= {LARGEST:g}, on the whole dimension"
        message = "the amount is out of range"
        raise InputError(
            [
                Problem(
                    "out-of-range", message, key=f"--{seen.said}", value=f"{seen.amount:g}", allowed=allowed
                )
            ]
        )
    # more room: a wider inner dimension or a narrower outer one
    more = 1.0 if seen.said == "tight" else -1.0
    asked = seen.amount * (-more if side == "outer" else more)
    value = round(asked + then.beyond(dimension), DECIMALS) + 0.0
    if abs(value) > LARGEST:
        message = f"beyond what the printer's term makes up for by now, the term would be {value:+.3f} mm"
        allowed = f"within {LARGEST:g} mm"
        raise InputError([Problem("out-of-range", message, key=f"--{seen.said}", allowed=allowed)])
    return value, then.remarks(dimension, asked, value)


def _correction(
    at: Bench, dimension: Dimension, measured: float, print_row: PrintRow | None
) -> tuple[float, tuple[str, ...]]:
    """Return what makes up for the difference between a measured dimension and what was expected of its print.

    What was drawn for that print less what was measured is what printing and coating took away; the sum's
    printer, finish and correction terms make up for a part of it already.
    """
    drawn = dimension.total
    if print_row is not None:
        then = {r.number: r.drawn for r in at.past.revisions}.get(print_row.revision, {})
        drawn = then.get(dimension.name, drawn)
    made_up = dimension.term(PRINTER) + dimension.term(FINISH) + dimension.term(CORRECTION)
    expected = drawn - made_up
    value = round(expected - measured, DECIMALS)
    if abs(value) > LARGEST:
        inches = abs(measured * _MM_PER_INCH - expected) <= LARGEST
        hint = f"; {measured:g} in would be {measured * _MM_PER_INCH:g} mm" if inches else ""
        message = f"{dimension.name} was expected {expected:.3f} mm as printed, {abs(value):.3f} mm from this reading{hint}"
        allowed = f"within {LARGEST:g} mm of what is expected"
        raise InputError(
            [Problem("out-of-range", message, key="--measured", value=f"{measured:g}", allowed=allowed)]
        )
    remarks = [
        f"expected as printed: {expected:.3f} mm; measured: {measured:.3f} mm; the sum takes {value:+.3f} mm"
    ]
    wishes = [e for e in at.log.readings() if e.dimension == dimension.name and e.term == TEST_FIT]
    for e in wishes:
        remarks.append(
            f"entry {e.number} ({e.said}, {e.value:+g} mm) still acts on it: if this reading explains what was felt, "
            f"take it back with --undo {e.number}"
        )
    return value, tuple(remarks)
