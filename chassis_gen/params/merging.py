"""Writing measured values into a maker's file; comments, layout and all other keys stay as they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any


def merged_text(text: str, values: Mapping[str, Any]) -> str:
    """Return a TOML text with values set.

    A mapping is merged into the table of its key; a list of mappings that have names replaces the rows of
    those names in its array of tables and adds the others; anything else replaces what stands there. None
    takes a key away.

    Args:
        text: the file so far, valid TOML; may be empty.
        values: what is to stand in it.
    """
    import tomlkit

    document = tomlkit.parse(text)
    _merge(document, values)
    return tomlkit.dumps(document)


def _merge(table: Any, values: Mapping[str, Any]) -> None:
    import tomlkit

    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        elif isinstance(value, Mapping):
            if key not in table:
                table[key] = tomlkit.table()
            _merge(table[key], value)
        elif _rows(value) and all("name" in row for row in value) and key in table:
            _merge_rows(table[key], value)
        elif _rows(value):
            table[key] = _array_of_tables(value)
        else:
            table[key] = _item(value)


def _rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(row, Mapping) for row in value)


def _merge_rows(there: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    known = {row.get("name"): row for row in there}
    for row in rows:
        if row["name"] in known:
            _merge(known[row["name"]], row)
        else:
            there.append(_table(row))


def _array_of_tables(rows: Sequence[Mapping[str, Any]]) -> Any:
    import tomlkit

    made = tomlkit.aot()
    for row in rows:
        made.append(_table(row))
    return made


def _table(row: Mapping[str, Any]) -> Any:
    import tomlkit

    made = tomlkit.table()
    for key, value in row.items():
        made[key] = _item(value)
    return made


def _item(value: Any) -> Any:
    """Return a value as it is written: small tables inline, long lists of lists a line each."""
    import tomlkit

    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        inline.update({k: _item(v) for k, v in value.items()})
        return inline
    if isinstance(value, list):
        made = tomlkit.array()
        made.extend([_item(v) for v in value])
        deep = bool(value) and isinstance(value[0], (list, Mapping))
        return made.multiline(deep)
    return tomlkit.item(value)
