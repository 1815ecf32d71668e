"""The manifest of a build's folder: what went in, what came out, and which tools made it, as hashes."""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Iterable, Mapping
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from chassis_gen import __version__
from chassis_gen.cache.code import package_code

if TYPE_CHECKING:
    from chassis_gen.plan.chassis import ChassisPlan

SCHEMA = "chassis-gen manifest 1"
FILE_NAME = "manifest.json"
MESH_LIBRARIES = ("lib3mf", "manifold3d", "numpy", "pydantic")
EXACT_LIBRARIES = ("cadquery", "cadquery-ocp")
PICTURE_LIBRARIES = ("vtk",)


def manifest_text(
    plan: ChassisPlan,
    chord: float | None,
    inputs: Mapping[str, str | bytes],
    files: Mapping[str, bytes],
    libraries: Iterable[str],
) -> str:
    """Return the text of a build's manifest; it holds no time and no path of this machine.

    Args:
        plan: the build; its recipes are what the files are really made of.
        chord: chord tolerance of the meshes, mm, or None where none were made.
        inputs: name and content of every file of the maker's that was read.
        files: name, relative to the build's folder, and content of every file written.
        libraries: names of the libraries that took part.
    """
    hashed = {
        name: sha256(data if isinstance(data, bytes) else data.encode())
        for name, data in sorted(inputs.items())
    }
    recipes = {p.name: sha256(repr(p.recipes).encode()) for p in plan.pieces}
    whole = json.dumps([hashed, recipes, chord], sort_keys=True)
    manifest = {
        "schema": SCHEMA,
        "build": plan.build,
        "input_hash": sha256(whole.encode()),
        "inputs": hashed,
        "recipes": recipes,
        "chord_mm": chord,
        "files": {name: sha256(data) for name, data in sorted(files.items())},
        "code": package_code(),
        "versions": {"chassis-gen": __version__, "python": platform.python_version(), **_versions(libraries)},
    }
    return json.dumps(manifest, indent=1, ensure_ascii=False) + "\n"


def sha256(data: bytes) -> str:
    """Return the SHA-256 of some bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def _versions(libraries: Iterable[str]) -> dict[str, str]:
    found = {}
    for name in sorted(libraries):
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found
