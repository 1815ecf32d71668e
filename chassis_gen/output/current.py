"""Whether a build's folder is what building it again would give."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from chassis_gen.output.folder import REPORT_FILE
from chassis_gen.output.manifest import FILE_NAME, manifest_text, sha256
from chassis_gen.plan.chassis import ChassisPlan

_OWN_VERSIONS = ("chassis-gen", "python")


def current_report(
    plan: ChassisPlan, inputs: Mapping[str, str], chord: float, folder: Path
) -> dict[str, Any] | None:
    """Return the fit report in a build's folder if the whole folder is up to date, else None.

    It is when the input, what is made of it and the versions of all tools are those of the manifest, STEP
    files are there, and every file listed has the content that was written.

    Args:
        plan: the build as it is planned now.
        inputs: name and text of every file that the build was read from.
        chord: chord tolerance that meshes would be made with, mm.
        folder: the build's folder.
    """
    old = _read(folder / FILE_NAME)
    files = old.get("files")
    versions = old.get("versions")
    if not isinstance(files, dict) or not isinstance(versions, dict):
        return None
    libraries = [name for name in versions if name not in _OWN_VERSIONS]
    new = json.loads(manifest_text(plan, chord if plan.buildable else None, inputs, {}, libraries))
    same = all(old.get(key) == new[key] for key in ("schema", "build", "input_hash", "versions"))
    exact = not plan.buildable or any(name.endswith(".step") for name in files)
    if not (same and exact and all(_holds(folder / name, digest) for name, digest in files.items())):
        return None
    return _read(folder / REPORT_FILE) or None


def file_hashes(folder: Path) -> Mapping[str, str]:
    """Return what the manifest in a folder says of its files: name to hash; empty without a manifest.

    Args:
        folder: the build's folder.
    """
    files = _read(folder / FILE_NAME).get("files")
    return files if isinstance(files, dict) else {}


def _read(path: Path) -> dict[str, Any]:
    """Return what a JSON file holds, or nothing where it can't be read."""
    try:
        data = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}


def _holds(path: Path, digest: object) -> bool:
    try:
        return sha256(path.read_bytes()) == digest
    except OSError:
        return False
