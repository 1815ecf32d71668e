"""The section kinds there are: every module of this package that has a `KIND`."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable, Mapping
from functools import lru_cache

import chassis_gen.sections as package
from chassis_gen.sections.base import SectionKind


@lru_cache(maxsize=1)
def section_kinds() -> Mapping[str, SectionKind]:
    """Return the section kinds by name, sorted by name."""
    return _kinds_in(_module_names())


def kinds_named(names: Iterable[str | None]) -> Mapping[str, SectionKind]:
    """Return the section kinds of some names, importing no other; all kinds where one of them is unknown.

    A kind's module bears its name, so that a build pays only for the kinds it uses.

    Args:
        names: what a build file gives as `kind`; None for what is no text.
    """
    asked = set(names)
    found = _kinds_in(name for name in _module_names() if name in asked)
    return found if found and set(found) == asked else section_kinds()


@lru_cache(maxsize=1)
def _module_names() -> tuple[str, ...]:
    return tuple(info.name for info in pkgutil.iter_modules(package.__path__))


def _kinds_in(modules: Iterable[str]) -> Mapping[str, SectionKind]:
    found = {}
    for name in modules:
        kind = getattr(importlib.import_module(f"{package.__name__}.{name}"), "KIND", None)
        if isinstance(kind, SectionKind):
            found[kind.kind] = kind
    return dict(sorted(found.items()))
