"""Writing measured behaviours into a printer file; comments, layout and all other keys stay as they are."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from chassis_gen.params.printer import BEHAVIOUR_KINDS, BehaviourKind, BehaviourTable

SCALE_DECIMALS, LENGTH_DECIMALS = 6, 4

_HEADER = re.compile(r"""\s*\[{1,2}[A-Za-z0-9_."' -]+\]{1,2}\s*(#.*)?""")


def with_behaviours(
    text: str, behaviours: Mapping[BehaviourKind, BehaviourTable], others: Mapping[str, str | float | None]
) -> str:
    """Return a printer file's text with new behaviours and other top-level keys set.

    Args:
        text: the printer file, valid TOML.
        behaviours: what was measured; kinds that are not in it keep what the file says of them.
        others: top-level keys to set; None leaves a key as it is.
    """
    import tomlkit

    wanted = {
        k: round(v, LENGTH_DECIMALS) if isinstance(v, float) else v
        for k, v in others.items()
        if v is not None
    }
    known = tomllib.loads(text)
    lines = [f"{k} = {tomlkit.item(v).as_string()}\n" for k, v in wanted.items() if k not in known]
    document = tomlkit.parse(_before_tables(text, "".join(lines)))
    for key, value in wanted.items():
        document[key] = value
    if behaviours and "behaviour" not in document:
        document["behaviour"] = tomlkit.table(is_super_table=True)
    for kind in BEHAVIOUR_KINDS:
        if kind in behaviours:
            _set_table(tomlkit, document["behaviour"], kind, behaviours[kind])
    return tomlkit.dumps(document)


def _before_tables(text: str, lines: str) -> str:
    """Return the text with lines put behind its last top-level key, before the comments of the first table.

    Where a line only looks like a table, inside a text of several lines, the file is left as it is.
    """
    rows = text.splitlines(keepends=True)
    at = next((i for i, row in enumerate(rows) if _HEADER.fullmatch(row.rstrip("\r\n"))), None)
    if at is None or not lines:
        return text
    while at > 0 and (not rows[at - 1].strip() or rows[at - 1].lstrip().startswith("#")):
        at -= 1
    made = "".join((*rows[:at], lines, *rows[at:]))
    try:
        return made if tomllib.loads(made) == tomllib.loads(lines) | tomllib.loads(text) else text
    except tomllib.TOMLDecodeError:
        return text


def _set_table(tomlkit: Any, parent: Any, kind: str, table: BehaviourTable) -> None:
    if kind not in parent:
        parent[kind] = tomlkit.table()
    place = parent[kind]
    for key, value in (
        ("scale", round(table.scale, SCALE_DECIMALS)),
        ("offset", round(table.offset, LENGTH_DECIMALS)),
        ("scale_sd", round(table.scale_sd, SCALE_DECIMALS)),
        ("offset_sd", round(table.offset_sd, LENGTH_DECIMALS)),
        ("residual_sd", round(table.residual_sd, LENGTH_DECIMALS)),
        ("date", table.date),
        ("readings", table.readings),
    ):
        place[key] = value
