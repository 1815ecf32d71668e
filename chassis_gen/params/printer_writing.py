"""Writing measured behaviours into a printer file; comments, layout and all other keys stay as they are."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chassis_gen.params.printer import BEHAVIOUR_KINDS, BehaviourKind, BehaviourTable

SCALE_DECIMALS, LENGTH_DECIMALS = 6, 4


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

    document = tomlkit.parse(text)
    for key, value in others.items():
        if value is not None:
            document[key] = round(value, LENGTH_DECIMALS) if isinstance(value, float) else value
    if behaviours and "behaviour" not in document:
        document["behaviour"] = tomlkit.table(is_super_table=True)
    for kind in BEHAVIOUR_KINDS:
        if kind in behaviours:
            _set_table(tomlkit, document["behaviour"], kind, behaviours[kind])
    return tomlkit.dumps(document)


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
