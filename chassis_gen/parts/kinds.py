"""The part kinds and how a part is made from its sizes.

Frames (mm, each in the part's own coordinates; every `Kind` states its own in `frame`):

- ``cell``: z=0 the negative end face, +z along the axis, positive end at z=length.
- ``wired_pack``: like a cell; both leads leave at the z=length end.
- ``speaker``: z=0 the rim's front plane, +z to the back (the magnet); terminals toward -y, looking +z.
- ``board``: origin at the centre of the underside; x across the tube, y along it, +z the component side.
- ``tactile_board``: like a board; the actuator on the z axis, pins downward near the -y edge.
- ``contact_board``: a disc, z=0 its back face (where wires are joined), +z to the removable light tube.
- ``led_slug``: z=0 the slug's back face (the heat path), +z where the light goes.
- ``led_round``: z=0 the flange's back face, dome toward +z, leads toward -z.
- ``panel_button``: z=0 the head's underside (the seat plane), +z outward, anti-turn flat toward +x.
- ``imported``: origin at the centre of the underside; x across, y along, +z up from the face it rests on.
- ``charge_jack``: z=0 the panel seat plane, +z outward (the mouth), body toward -z.
- ``glow_rod``, ``glow_prism``: z=0 the near end face, +z along the axis; a prism's first corner toward +x.
- ``display_board``: like a board; +z where the picture is seen, joints toward the -y edge.
- ``port_board``: like a board; the connector's mouth past the +y edge, joints toward the -y edge.

Nuts of ``panel_button`` and ``charge_jack`` are sizes only: where a nut sits depends on the wall it clamps.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from msgspec.structs import replace

from chassis_gen.parts.board_kinds import BOARD, TACTILE_BOARD
from chassis_gen.parts.extent import extent, extent_of
from chassis_gen.parts.imported_kind import IMPORTED, carried_envelope
from chassis_gen.parts.kind import Kind, SizeRule, Sizes, Terminals
from chassis_gen.parts.model import ELECTRICAL, ExactMesh, Measure, Part
from chassis_gen.parts.panel_kinds import CHARGE_JACK, PANEL_BUTTON
from chassis_gen.parts.round_kinds import (
    CELL,
    CONTACT_BOARD,
    LED_ROUND,
    LED_SLUG,
    PACK,
    SPEAKER,
)
from chassis_gen.parts.show_kinds import DISPLAY_BOARD, GLOW_PRISM, GLOW_ROD, PORT_BOARD
from chassis_gen.problems import InputError, Problem, nearest_name
from chassis_gen.shapes.primitives import Primitive

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        k.name: k
        for k in (
            CELL,
            PACK,
            SPEAKER,
            BOARD,
            TACTILE_BOARD,
            CONTACT_BOARD,
            LED_SLUG,
            LED_ROUND,
            PANEL_BUTTON,
            CHARGE_JACK,
            IMPORTED,
            GLOW_ROD,
            GLOW_PRISM,
            DISPLAY_BOARD,
            PORT_BOARD,
        )
    }
)

GENERIC = "generic, measure your own"
HEAVIEST_G = 20_000.0
_REACH = 5.0


def find_kind(name: str, key: str = "kind") -> Kind:
    """Return a part kind by name.

    Args:
        name: such as ``speaker``.
        key: key path of the name, for the error.

    Raises:
        InputError: no such kind; the nearest is named.
    """
    if name in KINDS:
        return KINDS[name]
    raise InputError(
        [
            Problem(
                "unknown-name",
                "no such part kind",
                key=key,
                value=f'"{name}"',
                allowed=", ".join(KINDS),
                nearest=nearest_name(name, KINDS),
            )
        ]
    )


def unknown_size(kind: Kind, name: str, key: str) -> Problem:
    """Return the problem of a size name that a kind doesn't have.

    Args:
        kind: the part's kind.
        name: what was read.
        key: key path of the table of sizes.
    """
    return Problem(
        "unknown-key",
        f"a {kind.name} has no such size",
        key=f"{key}.{name}",
        allowed=", ".join(kind.size_names),
        nearest=nearest_name(name, kind.size_names),
    )


def make_part(
    name: str,
    kind: str,
    title: str,
    sizes: Mapping[str, Measure],
    mass_g: float,
    source: str = GENERIC,
    *,
    terminals: Terminals | None = None,
    cautions: tuple[str, ...] | None = None,
    envelope: tuple[Primitive, ...] | None = None,
    exact: ExactMesh | None = None,
    key: str = "sizes",
) -> Part:
    """Return a part of a kind from its sizes, with envelope, terminals and keep-outs.

    Args:
        name: the part's name.
        kind: one of `KINDS`.
        title: one line for people.
        sizes: sizes by name, in the unit of the kind's rule; missing ones with a default are filled in.
        mass_g: mass, g.
        source: where the figures come from.
        terminals: where wires are joined, in the part's frame; None for the kind's own.
        cautions: caution topics; None for the kind's own.
        envelope: convex pieces taken from a model; None for the kind's own.
        exact: the model's mesh, where it is kept.
        key: key path of the table of sizes, for errors.

    Raises:
        InputError: every mistake found: kind, names, ranges, sizes at odds, places of terminals.
    """
    made_of = find_kind(kind)
    _stop_at(_mass_problems(mass_g), _size_problems(made_of, sizes, key))
    full = _completed(made_of, sizes)
    values = _values(full)
    _stop_at(_limit_problems(made_of, values, key))
    joined = made_of.terminals(values) if terminals is None else terminals
    solids = made_of.envelope(values) if envelope is None else envelope
    part = Part(
        name=name,
        kind=kind,
        title=title,
        sizes=full,
        mass_g=mass_g,
        envelope=solids,
        terminals=joined,
        keepouts=made_of.keepouts(values, joined),
        source=source,
        cautions=made_of.cautions if cautions is None else cautions,
        exact=exact,
    )
    _stop_at(_terminal_problems(part))
    return part


def resized(part: Part, sizes: Mapping[str, Measure], key: str = "sizes") -> Part:
    """Return the part made again from other sizes.

    Terminals that the kind derives from the sizes are derived again; those that the part states for
    itself are carried along by the kind's own rule.

    Args:
        part: the part so far.
        sizes: all sizes of the new part.
        key: key path of the table of sizes, for errors.

    Raises:
        InputError: as `make_part`.
    """
    made = make_part(
        part.name,
        part.kind,
        part.title,
        sizes,
        part.mass_g,
        part.source,
        terminals=_carried(part, sizes),
        cautions=part.cautions,
        envelope=_carried_envelope(part, sizes),
        key=key,
    )
    return replace(made, antenna=part.antenna, **{name: getattr(part, name) for name in ELECTRICAL})


def _carried_envelope(part: Part, sizes: Mapping[str, Measure]) -> tuple[Primitive, ...] | None:
    """Return the pieces of an imported part at its new sizes; None for a kind that makes its own."""
    known = all(rule.name in sizes for rule in IMPORTED.rules)
    if part.kind != IMPORTED.name or not known:
        return None
    return carried_envelope(part.envelope, _values(part.sizes), _values(sizes))


def _stop_at(*problems: Iterable[Problem]) -> None:
    found = [p for group in problems for p in group]
    if found:
        raise InputError(found)


def _mass_problems(mass_g: float) -> Iterator[Problem]:
    if not 0 <= mass_g <= HEAVIEST_G:
        allowed = f"0 g to {HEAVIEST_G:g} g"
        yield Problem(
            "out-of-range",
            "no mass that a part can have",
            key="mass_g",
            value=f"{mass_g:g} g",
            allowed=allowed,
        )


def _size_problems(kind: Kind, sizes: Mapping[str, Measure], key: str) -> Iterator[Problem]:
    for name, measure in sizes.items():
        rule = kind.rule(name)
        if rule is None:
            yield unknown_size(kind, name, key)
        else:
            yield from _measure_problems(rule, measure, f"{key}.{name}")
    for rule in kind.rules:
        if rule.required and rule.name not in sizes:
            yield Problem(
                "missing-key", f"a {kind.name} needs {rule.name} ({rule.meaning})", key=f"{key}.{rule.name}"
            )
    yield from _group_problems(kind, sizes, key)


def _measure_problems(rule: SizeRule, measure: Measure, key: str) -> Iterator[Problem]:
    value, tolerance = measure.value, measure.tolerance
    allowed = f"{rule.low:g} to {rule.with_unit(rule.high)}"
    if not math.isfinite(value):
        yield Problem("not-finite", "the number is not finite", key=key, value=f"{value:g}", allowed=allowed)
    elif not rule.low <= value <= rule.high:
        yield Problem(
            "out-of-range",
            f"out of range ({rule.meaning})",
            key=key,
            value=rule.with_unit(value),
            allowed=allowed,
        )
    elif rule.unit == "count" and value != round(value):
        yield Problem(
            "not-allowed", "a count is a whole number", key=key, value=f"{value:g}", allowed=allowed
        )
    elif not 0 <= tolerance <= value:
        yield Problem(
            "out-of-range",
            "the tolerance is out of range",
            key=f"{key}.tolerance",
            value=rule.with_unit(tolerance),
            allowed=f"0 to {rule.with_unit(value)}, the value itself",
        )


def _group_problems(kind: Kind, sizes: Mapping[str, Measure], key: str) -> Iterator[Problem]:
    for group in kind.together:
        given = [n for n in group if n in sizes]
        for name in group:
            if given and name not in sizes:
                yield Problem(
                    "missing-key", f"{name} is needed beside {' and '.join(given)}", key=f"{key}.{name}"
                )


def _limit_problems(kind: Kind, values: Sizes, key: str) -> Iterator[Problem]:
    for limit in kind.limits(values):
        rule = kind.rule(limit.size)
        if rule is not None and values[limit.size] > limit.at_most:
            yield Problem(
                "not-allowed",
                f"too large beside the other sizes of a {kind.name}",
                key=f"{key}.{limit.size}",
                value=rule.with_unit(values[limit.size]),
                allowed=f"at most {rule.with_unit(limit.at_most)} ({limit.why})",
            )


def _terminal_problems(part: Part) -> Iterator[Problem]:
    low, high = extent(extent_of(s) for s in part.envelope)
    names = [t.name for t in part.terminals]
    for i, t in enumerate(part.terminals):
        key = f"terminal[{i}]"
        if t.name in names[:i]:
            yield Problem(
                "duplicate-name", "two terminals have the same name", key=f"{key}.name", value=f'"{t.name}"'
            )
        if not all(a - _REACH <= p <= b + _REACH for a, p, b in zip(low, t.position, high, strict=True)):
            allowed = f"within {_REACH:g} mm of the part, {_place(low)} to {_place(high)}"
            yield Problem(
                "out-of-range",
                "the terminal is away from the part",
                key=f"{key}.position",
                value=_place(t.position),
                allowed=allowed,
            )


def _place(point: Iterable[float]) -> str:
    return "(" + ", ".join(f"{v:g}" for v in point) + ")"


def _completed(kind: Kind, sizes: Mapping[str, Measure]) -> dict[str, Measure]:
    """Return the sizes in the kind's order, with defaults where nothing is stated."""
    full: dict[str, Measure] = {}
    for rule in kind.rules:
        if rule.name in sizes:
            full[rule.name] = sizes[rule.name]
        elif rule.default is not None:
            full[rule.name] = Measure(rule.default, 0.0, f"default of the kind {kind.name}")
    return full


def _values(sizes: Mapping[str, Measure]) -> Sizes:
    return {n: m.value for n, m in sizes.items()}


def _carried(part: Part, sizes: Mapping[str, Measure]) -> Terminals | None:
    """Return the part's own terminals, moved to the new sizes, or None where the kind derives them."""
    kind, old, new = KINDS[part.kind], _values(part.sizes), _values(sizes)
    if part.terminals == kind.terminals(old):
        return None
    return tuple(replace(t, position=kind.carried(t.position, old, new)) for t in part.terminals)
