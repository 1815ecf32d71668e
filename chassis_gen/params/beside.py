"""Files that a build brings along: they lie beside its parameter file and nowhere else."""

from __future__ import annotations

from pathlib import Path

from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.params.reading import Source
from chassis_gen.problems import InputError


def file_beside(source: Source, path: KeyPath, name: str, folder: Path, ending: str, what: str) -> Path:
    """Return a file inside the build's folder.

    Args:
        source: the build file, for placing problems.
        path: the key that names the file.
        name: what stands there.
        folder: the build's folder.
        ending: how its name has to end, such as ``.svg``.
        what: what would be accepted, such as ``an SVG file in the build's folder``.

    Raises:
        InputError: it lies elsewhere, also by a link, or isn't there.
    """
    file = folder / name
    if "/" in name or "\\" in name or not name.lower().endswith(ending) or name.startswith("."):
        raise InputError(
            [source.problem(path, Rejection("leaves-workspace", "no file of the build's own", what))]
        )
    try:
        there, inside = file.is_file(), file.resolve().parent == folder.resolve()
    except (OSError, RuntimeError, ValueError):
        there, inside = False, False
    if not there:
        why = f"there is no such file beside {Path(source.file).name}"
        raise InputError([source.problem(path, Rejection("missing-file", why, None))])
    if not inside:
        allowed = "the file itself in the build's folder"
        why = "a link leads out of the build's folder"
        raise InputError([source.problem(path, Rejection("leaves-workspace", why, allowed))])
    return file
