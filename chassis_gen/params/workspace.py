"""The folder a maker works in: where builds, shared files and output lie, and which names are safe."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Literal, NoReturn, get_args

from msgspec import Struct

from chassis_gen.params.codes import Rejection, value_text
from chassis_gen.problems import InputError, Problem, nearest_name

SharedKind = Literal["printers", "tubes", "parts"]

_KINDS: tuple[str, ...] = get_args(SharedKind)
_SINGULAR = {"printers": "printer", "tubes": "tube", "parts": "part"}
_MAX_NAME = 80
_NAME = re.compile(r"[A-Za-z0-9_-](?:[A-Za-z0-9 _.-]*[A-Za-z0-9_-])?")
_NAME_RULE = (
    f"up to {_MAX_NAME} of a-z A-Z 0-9 - _, with spaces and points in between; no Windows device name"
)
# Microsoft, "Naming Files, Paths, and Namespaces": reserved with any extension, in any case
_WINDOWS_RESERVED = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9]) *(?:\.|$)", re.IGNORECASE)


def is_reserved(name: str) -> bool:
    """Return whether some system takes a file's name for a device.

    Args:
        name: the name, with or without extension.
    """
    return _WINDOWS_RESERVED.match(name) is not None


def name_rejection(name: str) -> Rejection | None:
    """Return what is wrong with a name of a build or a shared file, or None if it is safe.

    Args:
        name: the name, without folder and extension.
    """
    if name in (".", "..") or "/" in name or "\\" in name or re.match(r"[A-Za-z]:", name):
        return Rejection("leaves-workspace", "a name must not lead to another folder", _NAME_RULE)
    if name.startswith("-"):
        return Rejection("bad-name", "a name that begins with - would be taken for an option", _NAME_RULE)
    if len(name) > _MAX_NAME or not _NAME.fullmatch(name) or is_reserved(name):
        return Rejection("bad-name", "the name cannot be used as a file name", _NAME_RULE)
    return None


class Workspace(Struct, frozen=True):
    """The folder that holds ``profiles/`` and ``out/``.

    Args:
        root: the folder.
        trusted: True when code that builds bring along may run.
    """

    root: Path
    trusted: bool = False

    def build_file(self, name_or_path: str) -> Path:
        """Return the parameter file of a build.

        Args:
            name_or_path: a folder name under ``profiles/``, or a path to a parameter file (or to the
                folder of a ``build.toml``), which may lie anywhere.

        Raises:
            InputError: if there is no such build, or the name is not safe.
        """
        if _is_path(name_or_path):
            return _given_file(name_or_path)
        _require_safe(name_or_path)
        path = self.root / "profiles" / name_or_path / "build.toml"
        if name_or_path in _KINDS or not _is_file(path):
            _raise_unknown("build", name_or_path, self.builds(), "profiles/")
        self._require_inside(path, name_or_path)
        return path

    def build_name(self, path: Path) -> str:
        """Return the name of a build: that of the folder of a ``build.toml``, else the file's own.

        Args:
            path: the build's parameter file.

        Raises:
            InputError: if the name cannot name a folder of output.
        """
        name = path.absolute().parent.name if path.name == "build.toml" else path.stem
        _require_safe(name)
        return name

    def shared_file(self, kind: SharedKind, name: str) -> Path:
        """Return the file of a printer, a tube or a part that several builds share.

        Args:
            kind: the folder under ``profiles/``.
            name: the file's name without ``.toml``.

        Raises:
            InputError: if there is no such file, or the name is not safe.
        """
        _require_safe(name)
        path = self.root / "profiles" / kind / f"{name}.toml"
        if not _is_file(path):
            _raise_unknown(_SINGULAR[kind], name, self.names(kind), f"profiles/{kind}/")
        self._require_inside(path, name)
        return path

    def new_shared_file(self, kind: SharedKind, name: str) -> Path:
        """Return the file that a printer, a tube or a part has, or that a new one shall have.

        Args:
            kind: the folder under ``profiles/``.
            name: the file's name without ``.toml``.

        Raises:
            InputError: if the name is not safe, or a link leads out of the workspace.
        """
        _require_safe(name)
        path = self.root / "profiles" / kind / f"{name}.toml"
        self._require_inside(path, name)
        return path

    def names(self, kind: SharedKind) -> tuple[str, ...]:
        """Return the names of all shared files of a kind, sorted.

        Args:
            kind: the folder under ``profiles/``.
        """
        files = _listed(self.root / "profiles" / kind)
        return tuple(
            sorted(
                p.stem for p in files if p.suffix == ".toml" and _is_file(p) and not name_rejection(p.stem)
            )
        )

    def builds(self) -> tuple[str, ...]:
        """Return the names of all builds, sorted: the folders under ``profiles/`` with a ``build.toml``."""
        folders = (p for p in _listed(self.root / "profiles") if p.name not in _KINDS)
        return tuple(
            sorted(p.name for p in folders if _is_file(p / "build.toml") and not name_rejection(p.name))
        )

    def out_dir(self, build_name: str) -> Path:
        """Return the folder that a build's output goes to; it need not exist yet.

        Args:
            build_name: the name of the build.

        Raises:
            InputError: if the name is not safe, or a link leads out of the workspace.
        """
        return self._folder("out", build_name)

    def cache_dir(self) -> Path:
        """Return the folder of what was made before; it need not exist yet, and may be thrown away.

        Raises:
            InputError: if a link leads out of the workspace.
        """
        path = self.root / "out" / ".cache"
        self._require_inside(path, "out/.cache")
        return path

    def build_dir(self, build_name: str) -> Path:
        """Return the folder under ``profiles/`` that a build has, or that a new one shall have.

        Args:
            build_name: the name of the build.

        Raises:
            InputError: if the name is not safe, holds shared files, or a link leads out of the workspace.
        """
        if build_name in _KINDS:
            message = f"profiles/{build_name}/ holds shared files"
            raise InputError([_problem(Rejection("bad-name", message, "another name"), build_name)])
        return self._folder("profiles", build_name)

    def _folder(self, parent: str, name: str) -> Path:
        _require_safe(name)
        path = self.root / parent / name
        self._require_inside(path, name)
        return path

    def _require_inside(self, path: Path, name: str) -> None:
        """Reject a path that links lead out of the workspace."""
        try:
            inside = path.resolve().is_relative_to(self.root.resolve())
        except (OSError, RuntimeError):
            inside = False
        if not inside:
            message = "a link leads out of the workspace"
            raise InputError(
                [_problem(Rejection("leaves-workspace", message, "files inside the workspace"), name)]
            )


def _is_path(text: str) -> bool:
    return "/" in text or "\\" in text or text.endswith(".toml")


def _given_file(text: str) -> Path:
    """Return the file that a path on the command line means."""
    path = Path(text)
    if _is_file(path):
        return path
    if _is_file(path / "build.toml"):
        return path / "build.toml"
    raise InputError([_problem(Rejection("missing-file", "there is no such parameter file"), text)])


def _is_file(path: Path) -> bool:
    """Return whether there is such a file, for any text at all."""
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def _listed(folder: Path) -> tuple[Path, ...]:
    try:
        return tuple(folder.iterdir())
    except OSError:
        return ()


def _require_safe(name: str) -> None:
    rejection = name_rejection(name)
    if rejection:
        raise InputError([_problem(rejection, name)])


def _raise_unknown(what: str, name: str, known: Iterable[str], folder: str) -> NoReturn:
    names = list(known)
    allowed = ", ".join(names) if names else f"none yet in {folder}"
    rejection = Rejection("unknown-name", f"there is no such {what}", allowed, nearest_name(name, names))
    raise InputError([_problem(rejection, name)])


def _problem(rejection: Rejection, name: str) -> Problem:
    return Problem(
        rejection.code,
        rejection.message,
        value=value_text(name),
        allowed=rejection.allowed,
        nearest=rejection.nearest,
    )
