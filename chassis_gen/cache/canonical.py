"""One text for equal data, in any process and on any machine, and its hash.

Neither ``pickle`` nor ``hash()`` gives that: the one keeps which objects are shared, the other is salted.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping

from chassis_gen.records import field_names


def digest(value: object) -> str:
    """Return the SHA-256 of some plain data as 64 hexadecimal digits.

    Args:
        value: texts, figures, bytes, None, sequences, mappings with text keys, and records of those, such as
            recipes. Every figure counts with all its bits.

    Raises:
        TypeError: when it holds anything else.
    """
    tokens: list[bytes] = []
    _put(value, tokens.append)
    return hashlib.sha256(b"".join(tokens)).hexdigest()


def _put(value: object, put: Callable[[bytes], None]) -> None:
    """Put a value as tokens that say their type and length, so that no two values give the same row."""
    if isinstance(value, float):
        put(b"f%s;" % value.hex().encode())
    elif isinstance(value, tuple | list):
        put(b"t%d:" % len(value))
        for item in value:
            _put(item, put)
    elif value is None or isinstance(value, bool | int):
        put(f"{value!r};".encode())
    elif isinstance(value, str | bytes):
        data = value.encode("utf-8", "surrogatepass") if isinstance(value, str) else value
        put(b"%s%d:" % (b"s" if isinstance(value, str) else b"b", len(data)))
        put(data)
    elif isinstance(value, Mapping):
        put(b"m%d:" % len(value))
        for key in sorted(value):
            _put(key, put)
            _put(value[key], put)
    elif names := field_names(value):
        _put(f"{type(value).__qualname__} {' '.join(names)}", put)
        for name in names:
            _put(getattr(value, name), put)
    else:
        raise TypeError(f"no canonical form of {type(value).__name__}")
