"""Which code made something: hashes of this package's own files and the versions of the libraries that took part.

A version number alone would not do: while somebody changes the program it stays the same.
"""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Iterable
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1]
LIBRARIES = ("cadquery", "cadquery-ocp", "lib3mf", "manifold3d", "numpy", "pydantic")
_SOLIDS = ("shapes/*.py", "cache/solids.py", "output/exact.py", "output/step.py")


@cache
def solids_code() -> str:
    """Return the hash of all that decides what solid a recipe becomes: ``shapes/``, STEP writing, the kernels."""
    return _hash_of(path for pattern in _SOLIDS for path in PACKAGE.glob(pattern))


@cache
def package_code() -> str:
    """Return the hash of the whole package, its tables included, and of the libraries that it computes with."""
    return _hash_of(p for p in PACKAGE.rglob("*") if p.is_file() and "__pycache__" not in p.parts)


def _hash_of(paths: Iterable[Path]) -> str:
    found = hashlib.sha256(platform.python_version().encode())
    for name in LIBRARIES:
        found.update(f"{name} {_version(name)}\n".encode())
    for path in sorted(set(paths)):
        data = path.read_bytes()
        found.update(f"{path.relative_to(PACKAGE).as_posix()} {len(data)}\n".encode())
        found.update(data)
    return found.hexdigest()


def _version(name: str) -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(name)
    except PackageNotFoundError:
        return "none"
