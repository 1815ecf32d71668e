"""A build's own section kinds: Python files beside its parameter file, run only where the maker says so."""

from __future__ import annotations

import hashlib
import sys
import traceback
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import ModuleType
from typing import ClassVar, TypeVar

from msgspec import Struct

from chassis_gen.params.beside import file_beside
from chassis_gen.params.codes import KeyPath, Rejection
from chassis_gen.params.reading import Source, read_text
from chassis_gen.plan.model import SectionPlan
from chassis_gen.plan.sums import Dimension
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import SectionContext, SectionKind, SectionParams, Setting
from chassis_gen.shapes.recipe import Step

Result = TypeVar("Result")

PAGE = "the page own-sections of the documentation"


class Extension(Struct, frozen=True):
    """What a build brings along.

    Args:
        kinds: section kinds by name, the program's own included.
        files: text of each file that was run, by its name as shown.
    """

    kinds: Mapping[str, SectionKind]
    files: Mapping[str, str]


def extended(
    source: Source, build_file: Path, workspace: Path, trusted: bool, built_in: Mapping[str, SectionKind]
) -> Extension:
    """Return the section kinds that a build may use.

    Args:
        source: the build file.
        build_file: where it lies; its folder holds the Python files.
        workspace: the folder that files' names are shown relative to.
        trusted: True when the maker said that the build's own code may run.
        built_in: the program's own kinds.

    Raises:
        InputError: the code isn't trusted, lies elsewhere, fails, or makes no section kind.
    """
    names = _asked(source)
    if not names:
        return Extension(built_in, {})
    problems: list[Problem] = []
    kinds, files = dict(built_in), {}
    for i, name in enumerate(names):
        path: KeyPath = ("extend", "sections", i)
        try:
            allowed = 'a Python file in the build\'s folder, such as "my_sections.py"'
            file = file_beside(source, path, name, build_file.parent, ".py", allowed)
            if not trusted:
                why = f"the build brings its own code, {name}, which can do anything that you can do"
                allowed = "read it, then run the command again with --trust"
                raise InputError([source.problem(path, Rejection("not-trusted", why, allowed))])
            shown, text = read_text(file, workspace)
            files[shown] = text
            kinds.update(_kinds(source, path, shown, text, kinds))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return Extension(kinds, files)


def _asked(source: Source) -> Sequence[str]:
    """Return the files that a build names; what isn't a list of texts is left to the model to refuse."""
    table = source.data.get("extend", {})
    rows = table.get("sections", []) if isinstance(table, Mapping) else []
    return [r for r in rows if isinstance(r, str)] if isinstance(rows, list) else []


def _kinds(
    source: Source, path: KeyPath, shown: str, text: str, taken: Mapping[str, SectionKind]
) -> dict[str, SectionKind]:
    """Run a file and return the section kinds in it: its `KIND`, or those of its `KINDS`."""
    module = _run(shown, text)
    found = getattr(module, "KINDS", None) or (getattr(module, "KIND", None),)
    kinds: dict[str, SectionKind] = {}
    for kind in found:
        if not isinstance(kind, SectionKind):
            why = f"{shown} has no KIND that is a SectionKind"
            raise InputError([source.problem(path, Rejection("own-section", why, PAGE))])
        name = kind.kind
        if name in taken or name in kinds:
            why = f'{shown} makes a section kind "{name}", which there is already'
            raise InputError([source.problem(path, Rejection("duplicate-name", why, "a name of its own"))])
        if kind.Params.model_fields["kind"].default != name:
            why = f'the parameters of "{name}" in {shown} have another kind by default'
            allowed = f'kind: Literal["{name}"] = "{name}"'
            raise InputError([source.problem(path, Rejection("own-section", why, allowed))])
        kinds[name] = OwnKind(kind, shown)
    return kinds


def _run(shown: str, text: str) -> ModuleType:
    """Return a file's text run as a module.

    Raises:
        InputError: it fails, with the line.
    """
    name = f"chassis_gen_own_{hashlib.sha256((shown + text).encode()).hexdigest()[:16]}"
    if name in sys.modules:
        return sys.modules[name]
    module = ModuleType(name)
    module.__file__ = shown
    sys.modules[name] = module
    try:
        exec(compile(text, shown, "exec", dont_inherit=True), module.__dict__)
    except SyntaxError as error:
        del sys.modules[name]
        problem = Problem(
            "own-section", f"this is no Python ({error.msg})", shown, error.lineno, error.offset
        )
        raise InputError([problem]) from None
    except (Exception, SystemExit) as error:
        del sys.modules[name]
        raise InputError([_failure(error, shown, "when it was loaded")]) from None
    return module


def _failure(error: Exception | SystemExit, shown: str, when: str) -> Problem:
    """Return what a maker's own code raised as a problem at its line."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if f.filename == shown]
    line = frames[-1].lineno if frames else None
    said = " ".join(str(error).split())[:160]
    message = f"the build's own code failed {when}: {type(error).__name__}{f': {said}' if said else ''}"
    return Problem("own-section", message, shown, line)


class OwnKind(SectionKind):
    """A maker's own kind: it does what that one does, and a mistake in it is said with its line."""

    kind: ClassVar[str] = ""
    title: ClassVar[str] = ""
    Params: ClassVar[type[SectionParams]] = SectionParams

    def __init__(self, inner: SectionKind, shown: str) -> None:
        self._inner, self._shown = inner, shown
        # a kind's facts are its class's; this one has those of the kind that it stands for
        for name in ("kind", "title", "Params", "may_stand_beside"):
            object.__setattr__(self, name, getattr(inner, name))

    def length(self, params: SectionParams, setting: Setting) -> Dimension | None:
        """Return the length that the maker's kind gives."""
        return self._guarded(
            lambda: self._inner.length(params, setting), "at its length", (Dimension, type(None))
        )

    def pin_offset(self, params: SectionParams, setting: Setting) -> float:
        """Return the pinned point that the maker's kind gives, mm."""
        return self._guarded(
            lambda: self._inner.pin_offset(params, setting), "at its pinned point", (int, float)
        )

    def plan(self, params: SectionParams, ctx: SectionContext) -> SectionPlan:
        """Return the plan that the maker's kind makes."""
        return self._guarded(lambda: self._inner.plan(params, ctx), "at its plan", (SectionPlan,))

    def recipe(self, plan: SectionPlan, ctx: SectionContext) -> tuple[Step, ...]:
        """Return the steps that the maker's kind makes."""
        return self._guarded(lambda: self._inner.recipe(plan, ctx), "at its recipe", (tuple,))

    def _guarded(self, make: Callable[[], Result], when: str, wanted: tuple[type, ...]) -> Result:
        try:
            made = make()
        except InputError:
            raise
        except (Exception, SystemExit) as error:
            raise InputError([_failure(error, self._shown, when)]) from None
        if not isinstance(made, wanted):
            what = " or ".join("nothing" if t is type(None) else t.__name__ for t in wanted)
            message = f'the section kind "{self.kind}" gives {type(made).__name__} {when}, {what} is wanted'
            raise InputError([Problem("own-section", message, self._shown, allowed=PAGE)])
        return made
