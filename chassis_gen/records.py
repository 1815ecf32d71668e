"""What a record of data holds, read from outside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import is_dataclass
from typing import Any

from msgspec import Struct


def field_names(value: object) -> tuple[str, ...] | None:
    """Return the names of a record's fields in their order, or None for what is no record.

    Args:
        value: any object. The package's own records are structs; a maker's own section may use data classes.
    """
    if isinstance(value, Struct):
        return value.__struct_fields__
    if is_dataclass(value) and not isinstance(value, type):
        return tuple(value.__dataclass_fields__)
    return None


def as_data(value: Any) -> Any:
    """Return records as mappings by field name and tuples as lists, all the way down.

    Args:
        value: a record, or what may stand in one; anything else is returned as it is.
    """
    if names := field_names(value):
        return {name: as_data(getattr(value, name)) for name in names}
    if isinstance(value, tuple | list):
        return [as_data(v) for v in value]
    return {k: as_data(v) for k, v in value.items()} if isinstance(value, Mapping) else value
