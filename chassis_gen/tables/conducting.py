"""Which materials lead current: the one rule for tubes, in checks of shorts and of antennas alike."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache

from msgspec import Struct

from chassis_gen.problems import nearest_name
from chassis_gen.tables.reading import read_csv


class Conducting(Struct, frozen=True):
    """What the table says of a material.

    Args:
        conducts: True or False, or None where nothing in its name is tabled.
        known_as: the tabled name that decides, or None.
        nearest: the tabled name that an unknown one is closest to, or None.
    """

    conducts: bool | None
    known_as: str | None = None
    nearest: str | None = None


@cache
def conducting_materials() -> Mapping[str, bool]:
    """Return for each tabled material whether it leads current."""
    return {row["material"]: row["conducts"] == "yes" for row in read_csv("conducting.csv")}


def named_in(text: str, names: Iterable[str]) -> tuple[str, ...]:
    """Return the names that stand as whole words in a text, the longest first.

    Args:
        text: such as ``anodised aluminium``.
        names: in small letters.
    """
    words = " ".join(re.findall(r"[^\W_]+", text.casefold()))
    found = (n for n in names if f" {n} " in f" {words} ")
    return tuple(sorted(found, key=lambda n: (-len(n), n)))


def conducting(material: str) -> Conducting:
    """Return whether a material leads current, by the words of its name.

    One word of a conductor is enough: a coat (anodised, painted) is no insulation to rely on, as it is
    scratched by the first screw, and a metal coat conducts on plastic too.

    Args:
        material: in words, such as ``anodised aluminium``.
    """
    table = conducting_materials()
    names = named_in(material, table)
    known_as = next((n for n in names if table[n]), names[0] if names else None)
    if known_as is None:
        return Conducting(None, nearest=nearest_name(material, table))
    return Conducting(table[known_as], known_as)
