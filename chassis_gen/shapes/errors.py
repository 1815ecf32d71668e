"""What a geometry kernel reports when it can't make a solid."""

from __future__ import annotations


class GeometryError(Exception):
    """A solid could not be made.

    Args:
        label: the recipe step or primitive that failed, such as ``cell seat``.
        why: what went wrong, in words for a maker.
    """

    def __init__(self, label: str, why: str):
        self.label = label
        self.why = why
        super().__init__(f"{label}: {why}")
