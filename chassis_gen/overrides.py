"""Values set in a build file's data before it is checked, by dotted keys."""

from __future__ import annotations

import re
from collections.abc import Mapping

from msgspec.structs import replace

from chassis_gen.params.reading import Source
from chassis_gen.problems import InputError, Problem
from chassis_gen.remedies import with_value

KEY = re.compile(r"[^.\[\]]+(?:\[\d{1,4}\])*(?:\.[^.\[\]]+(?:\[\d{1,4}\])*)*")
EXAMPLE = "keys such as tube.segment[0].bores[0].diameter or section[3].part, counted from 0"


def overridden(source: Source, values: Mapping[str, object]) -> Source:
    """Return a build file with values set in its data; its text stays, so that problems are placed in it.

    Args:
        source: the file as it was read.
        values: value by dotted key.

    Raises:
        InputError: with every key that leads nowhere.
    """
    problems: list[Problem] = []
    data = source.data
    for key, value in values.items():
        if not KEY.fullmatch(key):
            problems.append(Problem("unknown-key", "this is no key", key=key, allowed=EXAMPLE))
            continue
        try:
            data = with_value(data, key, value)
        except (IndexError, KeyError, TypeError, AttributeError):
            problems.append(
                Problem("unknown-key", "the build file has no such entry", key=key, allowed=EXAMPLE)
            )
    if problems:
        raise InputError(problems)
    return replace(source, data=data)
