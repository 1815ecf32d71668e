"""The stable codes of input problems, and how a validator states one.

A validator of any model raises ``rejected(Rejection(...))``; reading turns it into a located `Problem`.
"""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Mapping
from typing import Any

from msgspec import Struct
from pydantic_core import PydanticCustomError

KeyPath = tuple[str | int, ...]
ABSENT: Any = object()

CODES: dict[str, str] = {
    "syntax": "the file is no valid TOML",
    "duplicate-key": "a key or a table is given twice",
    "encoding": "the file is no UTF-8 text",
    "missing-file": "there is no such file",
    "not-a-file": "the path is a folder or a device",
    "cannot-read": "the system refuses to read the file",
    "cannot-write": "the system refuses to write the file",
    "too-large": "the file is longer than a parameter file may be",
    "too-deep": "lists or tables are nested too deeply",
    "unknown-key": "the key is not one of this table's keys",
    "missing-key": "a key without default is missing",
    "wrong-type": "a value of another type is wanted",
    "wrong-count": "a list has too few or too many entries",
    "out-of-range": "a number lies outside the allowed range",
    "not-finite": "a number is infinite or not a number",
    "bad-number": "a text does not begin with a number that can be read",
    "bad-unit": "the unit is missing, unknown, or measures something else",
    "bad-text": "a text is too short, too long or has characters that are not allowed",
    "unknown-name": "a name is not one of the known names",
    "duplicate-name": "a name that must be unique occurs twice",
    "bad-name": "a name cannot be used as a file name",
    "leaves-workspace": "a name or a link points out of the workspace",
    "bed-small": "the printer's bed is too small for the gauge",
    "missing-library": "an optional library isn't installed",
    "residual": "a reading lies too far from what the others say",
    "too-few": "there are too few readings to say anything",
    "not-allowed": "a value or a combination of values is not allowed",
    "wrong-part-kind": "a section names a part of a kind that it has no seat for",
    "layout-open": "a section is to fill, but nothing stands beyond it to fill up to",
    "layout-fixed": "sections of fixed length do not add up to the room between two pinned stations",
    "layout-full": "the sections between two pinned stations leave too little for those that fill",
    "layout-beside": "a section is longer than the one that it stands beside",
    "layout-long": "the chassis ends beyond the tube's end",
    "unknown-part": "no part has that name, neither in the catalogue nor in the workspace",
    "unknown-material": "no printed material of the table has that name",
    "unknown-opening": "the second switch's opening cannot give its place",
    "unknown-thread": "no thread of the table has that designation",
    "unknown-tube": "no stock tube of the table has that name",
    "unknown-drill": "no drill of the table has that name",
    "unknown-cell": "no cell size of the table has that name",
    "unknown-section": "no section kind has that name",
    "unknown-fit": "no fit class of the table has that name",
    "unknown-hole-kind": "no kind of hole has that name",
    "unknown-screw-fit": "no class of clearance hole has that name",
    "unknown-insulation": "no wire insulation of the table has that name",
    "unknown-wall-material": "no wall material of the hole rules has that name",
    "unknown-tolerance-class": "no tolerance class of the table has that name",
    "unknown-caution": "no caution has that topic",
    "unknown-rule": "no rule of a table has that name",
    "unknown-basis": "percent of thread is not reckoned on that basis",
    "bad-drill": "a drill's diameter is not above zero",
    "no-insert": "no heat-set insert of the table has that thread",
    "hole-kind-material": "that kind of hole cannot be made in that material",
    "size-range": "a size lies outside a tolerance table",
    "wire-gauge": "a wire gauge or cross-section is not tabled",
    "connector-pitch": "no connector of that pitch is tabled",
    "font-format": "a font file is no TrueType or OpenType font",
    "missing-glyph": "a font lacks a character of a text",
    "model-format": "a model of a part isn't what its ending says, or can't be read",
    "model-heavy": "a model of a part asks for too much memory or time",
    "model-open": "the mesh of a part isn't closed",
    "model-crosses": "the mesh of a part passes through itself",
    "model-shells": "the model of a part is in several bodies",
    "model-size": "the model of a part has no size that a part in a tube has",
    "model-units": "nobody says in which unit a model of a part was drawn",
    "readings": "readings contradict each other, or are too few",
    "drawing": "a drawing of an outline can't be read, or shows nothing that can be cut",
    "drawing-open": "a drawing of an outline has lines that aren't closed",
    "drawing-heavy": "a drawing of an outline asks for too much memory or time",
    "not-trusted": "a build brings its own code, and nobody said that it may run",
    "own-section": "a build's own section kind doesn't do what a section kind does",
    "already-there": "a new build would overwrite one that is there",
    "not-our-folder": "a folder of output holds files that no build wrote",
    "kernel-missing": "the exact kernel, or a system library that it needs, cannot be loaded",
    "locked": "another run of the program holds the file",
    "no-cluster": "a batch's cluster does not answer",
    "cluster-missing": "the library that speaks to a cluster is not installed",
    "cluster-differs": "a cluster's workers have another version of the program or of its libraries",
    "worker-lost": "a worker process was killed or crashed each time that a build was given to it",
    "program-fault": "the program itself failed on one build of a batch",
    "system": "the system refuses something, such as room on the disk",
    "usage": "the command line is not one of those that are understood",
}

_VALUE_LENGTH = 60
_SHOWN_INTEGER = 10**18


class Rejection(Struct, frozen=True):
    """What a validator has against a value; the place is added when the file is known.

    Args:
        code: one of `CODES`.
        message: what is wrong, in one sentence without the place.
        allowed: what would be accepted, as text.
        nearest: the nearest valid name for a misspelt one.
        at: path from the validated value down to the culprit, for validators of whole tables.
    """

    code: str
    message: str
    allowed: str | None = None
    nearest: str | None = None
    at: KeyPath = ()


def value_at(data: Any, path: KeyPath) -> Any:
    """Return the value at a path of what was read, or `ABSENT`."""
    for item in path:
        is_entry = isinstance(item, int) and isinstance(data, (list, tuple)) and item < len(data)
        if not is_entry and not (isinstance(data, Mapping) and item in data):
            return ABSENT
        data = data[item]
    return data


def rejected(*rejections: Rejection) -> PydanticCustomError:
    """Return the exception with which a pydantic validator states one or several rejections.

    Args:
        rejections: what is wrong, at least one.
    """
    text = "; ".join(r.message for r in rejections)
    return PydanticCustomError("rejected", "{text}", {"text": text, "rejections": rejections})


def kind_text(value: Any) -> str:
    """Return what kind of TOML value this is, such as ``a boolean`` or ``a table``."""
    if isinstance(value, bool):
        return "a boolean"
    if isinstance(value, (datetime.date, datetime.time)):
        return "a date or time"
    kinds = (
        (str, "text"),
        (int, "a whole number"),
        (float, "a number"),
        (dict, "a table"),
        ((list, tuple), "a list"),
    )
    return next((name for kind, name in kinds if isinstance(value, kind)), "a value")


def value_text(value: Any) -> str:
    """Return a value the way a TOML file would show it, shortened to one readable piece."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        # a huge hexadecimal literal has more decimal digits than int-to-text conversion allows
        return str(value) if abs(value) < _SHOWN_INTEGER else f"an integer of {value.bit_length()} bits"
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else str(value)
    text = json.dumps(value, ensure_ascii=False) if isinstance(value, str) else str(value)
    return text if len(text) <= _VALUE_LENGTH else text[: _VALUE_LENGTH - 4] + "..." + text[-1]


def number_text(value: float) -> str:
    """Return a number in at most ten significant digits, without a needless ``.0``."""
    return f"{value:.10g}"


def options_text(options: list[Any]) -> str:
    """Return the allowed values as ``"a", "b" or "c"``."""
    texts = [value_text(o) for o in options]
    return texts[0] if len(texts) == 1 else ", ".join(texts[:-1]) + " or " + texts[-1]
