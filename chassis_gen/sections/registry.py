"""The section kinds there are: every module of this package that has a `KIND`."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import lru_cache

import chassis_gen.sections as package
from chassis_gen.sections.base import SectionKind


@lru_cache(maxsize=1)
def section_kinds() -> Mapping[str, SectionKind]:
    """Return the section kinds by name, sorted by name."""
    found = {}
    for info in pkgutil.iter_modules(package.__path__):
        module = importlib.import_module(f"{package.__name__}.{info.name}")
        kind = getattr(module, "KIND", None)
        if isinstance(kind, SectionKind):
            found[kind.kind] = kind
    return dict(sorted(found.items()))
