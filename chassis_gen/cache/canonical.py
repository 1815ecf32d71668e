"""One text for equal data, in any process and on any machine, and its hash.

Neither ``pickle`` nor ``hash()`` gives that: the one keeps which objects are shared, the other is salted.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass


def digest(value: object) -> str:
    """Return the SHA-256 of some plain data as 64 hexadecimal digits.

    Args:
        value: texts, figures, bytes, None, sequences, mappings with text keys, and frozen dataclasses of
            those, such as recipes. Every figure counts with all its bits.

    Raises:
        TypeError: when it holds anything else.
    """
    found = hashlib.sha256()
    for token in _tokens(value):
        found.update(token)
    return found.hexdigest()


def _tokens(value: object) -> Iterator[bytes]:
    """Yield a value as tokens that say their type and length, so that no two values give the same row."""
    if value is None or isinstance(value, bool | int):
        yield f"{value!r};".encode()
    elif isinstance(value, float):
        yield f"f{value.hex()};".encode()
    elif isinstance(value, str | bytes):
        data = value.encode("utf-8", "surrogatepass") if isinstance(value, str) else value
        yield f"{'s' if isinstance(value, str) else 'b'}{len(data)}:".encode()
        yield data
    elif isinstance(value, Mapping):
        yield f"m{len(value)}:".encode()
        for key in sorted(value):
            yield from _tokens(key)
            yield from _tokens(value[key])
    elif isinstance(value, tuple | list):
        yield f"t{len(value)}:".encode()
        for item in value:
            yield from _tokens(item)
    elif is_dataclass(value) and not isinstance(value, type):
        names = [f.name for f in fields(value)]
        yield from _tokens(f"{type(value).__qualname__} {' '.join(names)}")
        for name in names:
            yield from _tokens(getattr(value, name))
    else:
        raise TypeError(f"no canonical form of {type(value).__name__}")
