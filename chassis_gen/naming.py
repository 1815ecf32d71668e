"""Names of tables and shared files that a build file uses, looked up before the file is known to be sound.

A file that is rejected is rejected once: what is wrong with its keys and values is told together with the
names that nothing bears.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from chassis_gen.params.codes import KeyPath, Rejection, value_at
from chassis_gen.params.reading import Source
from chassis_gen.params.workspace import Workspace
from chassis_gen.parts.catalogue import catalogue
from chassis_gen.problems import InputError, Problem
from chassis_gen.tables.materials import find_material
from chassis_gen.tables.reading import lookup

_PART_KEYS: tuple[KeyPath, ...] = (("part",), ("led",), ("aux", "part"))


def unknown_names(source: Source, workspace: Workspace) -> tuple[Problem, ...]:
    """Return the names in a build file that no printer, tube, material or part bears, each with its place.

    Args:
        source: the file, whatever it holds.
        workspace: where the shared files are.
    """
    found: list[Problem] = []
    for path, look_up in _references(source, workspace):
        name = value_at(source.data, path)
        if not isinstance(name, str):
            continue
        try:
            look_up(name)
        except InputError as error:
            found += [
                source.problem(path, Rejection(p.code, p.message, p.allowed, p.nearest))
                for p in error.problems
            ]
    return tuple(found)


def _references(source: Source, workspace: Workspace) -> Iterator[tuple[KeyPath, Callable[[str], Any]]]:
    """Yield where a build file may name something, and what looks the name up."""
    yield ("build", "printer"), lambda name: workspace.shared_file("printers", name)
    yield ("build", "material"), find_material
    yield ("tube", "like"), lambda name: workspace.shared_file("tubes", name)
    parts = {**catalogue(), **dict.fromkeys(workspace.names("parts"))}
    rows = source.data.get("section")
    for i in range(len(rows) if isinstance(rows, list) else 0):
        for key in _PART_KEYS:
            yield ("section", i, *key), lambda name: lookup(name, parts, "unknown-part", "part")
