"""The part that a section's file names: of a kind that the section can hold."""

from __future__ import annotations

from chassis_gen.parts.model import Part
from chassis_gen.problems import InputError, Problem
from chassis_gen.sections.base import Setting


def part_of_kind(
    setting: Setting, name: str, kinds: tuple[str, ...], noun: str, allowed: str, key: str = "part"
) -> Part:
    """Return a part by name, or say that it is of another kind.

    Args:
        setting: finds parts.
        name: what the maker gave.
        kinds: kinds of part that the section holds.
        noun: what such a part is, for the message, such as ``screen``.
        allowed: what the maker may name, for the message.
        key: that names it.

    Raises:
        InputError: the part is unknown, or (code ``wrong-part-kind``) of none of the kinds.
    """
    part = setting.find_part(name)
    if part.kind not in kinds:
        message = f"a {part.kind.replace('_', ' ')} is no {noun}"
        raise InputError([Problem("wrong-part-kind", message, key=key, value=f'"{name}"', allowed=allowed)])
    return part
