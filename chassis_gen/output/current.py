"""What an earlier run left in a build's folder, and whether making it again would give the same."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct, field

from chassis_gen.output.manifest import FILE_NAME, manifest_text, sha256

if TYPE_CHECKING:
    from chassis_gen.plan.chassis import ChassisPlan

REPORT_FILE = "fit-report.json"
_OWN_VERSIONS = ("chassis-gen", "python")


class Before(Struct, frozen=True):
    """A build's folder as it was found.

    Args:
        manifest: what its manifest holds; empty without one.
        report: what its fit report holds; empty without one.
        whole: True when every file that the manifest lists has the content that was written.
        manifest_hash: SHA-256 of the manifest's file, or empty.
    """

    manifest: Mapping[str, Any] = field(default_factory=dict)
    report: Mapping[str, Any] = field(default_factory=dict)
    whole: bool = False
    manifest_hash: str = ""

    @property
    def files(self) -> Mapping[str, str]:
        """Return the hash of each file that was written, by name."""
        files = self.manifest.get("files")
        return files if isinstance(files, dict) else {}

    def made(self, exact: bool) -> bool:
        """Return whether the folder holds what is asked for: STEP files, too, where there are pieces at all.

        Args:
            exact: True where STEP files are asked for.
        """
        pieces = self.report.get("pieces")
        return not exact or not pieces or any(name.endswith(".step") for name in self.files)

    @property
    def verdict(self) -> str | None:
        """Return the verdict of the report, or None where there is none."""
        verdict = self.report.get("verdict")
        return verdict if verdict in ("pass", "fail") else None


def read_before(folder: Path) -> Before:
    """Return a build's folder as it is.

    Args:
        folder: the build's folder; it need not exist.
    """
    manifest, manifest_hash = _read(folder / FILE_NAME)
    report, report_hash = _read(folder / REPORT_FILE)
    files = manifest.get("files")
    if not isinstance(files, dict) or not files:
        return Before()
    whole = files.get(REPORT_FILE) == report_hash and all(
        name == REPORT_FILE or _holds(folder / name, digest) for name, digest in files.items()
    )
    return Before(manifest, report, whole, manifest_hash)


def planned_manifest(
    before: Before, plan: ChassisPlan, inputs: Mapping[str, str | bytes], chord: float
) -> dict[str, Any]:
    """Return what the manifest would hold, files apart, if a build were made now with the libraries of before.

    Args:
        before: the folder as it is.
        plan: the build as it is planned now.
        inputs: name and content of every file that the build was read from.
        chord: chord tolerance that meshes would be made with, mm.
    """
    versions = before.manifest.get("versions")
    libraries = [n for n in versions if n not in _OWN_VERSIONS] if isinstance(versions, dict) else []
    text = manifest_text(plan, chord if plan.buildable else None, inputs, {}, libraries)
    manifest: dict[str, Any] = json.loads(text)
    return manifest


def same_making(before: Before, now: Mapping[str, Any], exact: bool = True) -> bool:
    """Return whether a folder is whole and was made as it would be made now.

    Args:
        before: the folder.
        now: see `planned_manifest`.
        exact: True where STEP files belong to it.
    """
    alike = all(before.manifest.get(key) == now[key] for key in ("schema", "code", "versions", "chord_mm"))
    return before.whole and alike and before.made(exact)


def is_current(before: Before, now: Mapping[str, Any], exact: bool = True) -> bool:
    """Return whether a folder is what building the plan again would give.

    Args:
        before: the folder.
        now: see `planned_manifest`.
        exact: True where STEP files belong to it.
    """
    same_input = all(before.manifest.get(key) == now[key] for key in ("build", "input_hash"))
    return same_making(before, now, exact) and same_input


def _read(path: Path) -> tuple[dict[str, Any], str]:
    """Return what a JSON file holds and its hash; nothing where it can't be read."""
    try:
        text = path.read_bytes()
        data = json.loads(text)
    except (OSError, ValueError):
        return {}, ""
    return (data, sha256(text)) if isinstance(data, dict) else ({}, "")


def _holds(path: Path, digest: object) -> bool:
    try:
        return sha256(path.read_bytes()) == digest
    except OSError:
        return False
