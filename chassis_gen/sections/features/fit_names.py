"""Fit classes by the names that a maker gives."""

from __future__ import annotations

from chassis_gen.plan.fitting import Fitter
from chassis_gen.problems import InputError, Problem, nearest_name


def known_fit(fitter: Fitter, name: str) -> str:
    """Return a fit class's name as it was given.

    Args:
        fitter: holds the classes.
        name: what the maker gave.

    Raises:
        InputError: code ``unknown-fit``, with the nearest known name.
    """
    if name in fitter.classes:
        return name
    known = ", ".join(fitter.classes)
    nearest = nearest_name(name, fitter.classes)
    problem = Problem("unknown-fit", "no such fit class", value=f'"{name}"', allowed=known, nearest=nearest)
    raise InputError([problem])
