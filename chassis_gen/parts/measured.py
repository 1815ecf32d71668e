"""What a part file says of a part that was measured with a caliper."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from chassis_gen.params.readings import Averaged, averaged, read_numbers
from chassis_gen.parts.kinds import find_kind, make_part, unknown_size
from chassis_gen.parts.model import Measure, Part
from chassis_gen.problems import InputError


def read_sizes(kind: str, given: Mapping[str, str], accuracy: float) -> dict[str, Averaged]:
    """Return the readings of a part's sizes, averaged.

    Args:
        kind: the part's kind.
        given: text of readings by size name.
        accuracy: plus-minus of the caliper, mm.

    Raises:
        InputError: every size that the kind doesn't have, else the first reading that can't be right.
    """
    made_of = find_kind(kind, "--kind")
    unknown = [unknown_size(made_of, name, "--size") for name in given if made_of.rule(name) is None]
    if unknown:
        raise InputError(unknown)
    found = {}
    for name, text in given.items():
        rule = made_of.rule(name)
        assert rule is not None
        readings = read_numbers(text, name, rule.low, rule.high, rule.unit)
        found[name] = averaged(readings, accuracy if rule.unit == "mm" else 0.0)
    return found


def measured_values(
    name: str,
    kind: str,
    found: Mapping[str, Averaged],
    like: Part | None,
    mass_g: float | None,
    title: str | None,
    source: str | None,
) -> dict[str, Any]:
    """Return the values of a part file.

    Args:
        name: the part's.
        kind: its kind.
        found: measured sizes.
        like: a part of the same kind that has the other sizes, or None.
        mass_g: mass, g, or None for that of `like`.
        title: one line, or None for that of `like`.
        source: who measured, or None.

    Raises:
        InputError: what is wrong with the part, such as a size that is missing.
    """
    same = like is not None and like.kind == kind
    sizes: dict[str, Measure] = dict(like.sizes) if like is not None and same else {}
    sizes |= {n: Measure(a.mean, a.tolerance, "measured") for n, a in found.items()}
    mass = mass_g if mass_g is not None else (like.mass_g if like is not None else 0.0)
    words = title or (like.title if like is not None else name)
    said = source or "measured with a caliper"
    make_part(name, kind, words, sizes, mass, said, key="--size")
    rows: dict[str, Any] = {}
    for n, m in sizes.items():
        if n in found:
            a = found[n]
            rows[n] = {
                "value": a.mean,
                "tolerance": a.tolerance,
                "spread": a.spread,
                "readings": list(a.readings),
            }
        else:
            rows[n] = {"value": m.value, "tolerance": m.tolerance}
    return {"kind": kind, "title": words, "mass_g": mass, "source": said, "sizes": rows}
