"""The usual cautions, shown wherever output may lead to harm."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.problems import InputError
from chassis_gen.tables.reading import read_toml, unknown


class Caution(Struct, frozen=True):
    """One caution.

    Args:
        topic: stable short name, such as "lithium_cell".
        title: heading.
        text: what to heed; it defers to the maker's data sheet and local rules.
        source: what it rests on.
    """

    topic: str
    title: str
    text: str
    source: str


@cache
def all_cautions() -> Mapping[str, Caution]:
    """Return every caution by topic."""
    return {
        row["topic"]: Caution(row["topic"], row["title"], row["text"], row["source"])
        for row in read_toml("cautions.toml", "caution")
    }


def cautions(topics: Iterable[str]) -> tuple[Caution, ...]:
    """Return the cautions for some topics, each once, in the order of the data file.

    Args:
        topics: such as "lithium_cell", "charging", "soldering", "drilling", "bright_light".

    Raises:
        InputError: code ``unknown-caution`` for each topic that isn't known.
    """
    known = all_cautions()
    wanted = set(topics)
    problems = [
        unknown(name, known, "unknown-caution", "caution topic") for name in sorted(wanted - set(known))
    ]
    if problems:
        raise InputError(problems)
    return tuple(caution for topic, caution in known.items() if topic in wanted)
