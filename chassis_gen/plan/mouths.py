"""Drops that end in one mouth though their wires' lanes lead away from it to different sides."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from msgspec import Struct

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.laying import Laid, Stretch
from chassis_gen.shapes.frame import turn_between


class _Mouth(Struct, frozen=True):
    """Where a drop ends under the outer surface: its wire, terminal, section, clock, station and radius."""

    wire: Wire
    terminal: str
    section: str
    clock: int
    z: float
    radius: float


def shared_mouths(laid: Sequence[Laid], stretches: Sequence[Stretch]) -> tuple[Finding, ...]:
    """Return a note for each two drops that end in one mouth: both wires have to be laid through it.

    In a hollow section there are no mouths, and wires of one lane side by side have a mouth each.

    Args:
        laid: the laid wires.
        stretches: what the paths count.
    """
    mouths = sorted(_mouths(laid, stretches), key=lambda m: m.z)
    thickest = max((x.wire.outer_diameter for x in laid), default=0.0)
    found = []
    for k, a in enumerate(mouths):
        for b in itertools.islice(mouths, k + 1, None):
            if b.z - a.z >= (a.wire.outer_diameter + thickest) / 2:
                break
            if _meet(a, b):
                found.append(_shared(a, b))
    return tuple(found)


def _mouths(laid: Sequence[Laid], stretches: Sequence[Stretch]) -> Iterator[_Mouth]:
    for x in laid:
        for terminal, v in x.ends:
            s = stretches[v.stretch]
            if x.along and v.tube is None and not s.hollow:
                radius = s.radius - x.wire.outer_diameter / 2
                yield _Mouth(x.wire, terminal.id, s.section.name, v.clock, terminal.position[2], radius)


def _meet(a: _Mouth, b: _Mouth) -> bool:
    apart = (a.wire.outer_diameter + b.wire.outer_diameter) / 2
    arc = math.radians(abs(turn_between(a.clock, b.clock))) * min(a.radius, b.radius)
    return a.wire.id != b.wire.id and arc < apart and b.z - a.z < apart


def _shared(a: _Mouth, b: _Mouth) -> Finding:
    wires = f"{a.wire.id} and {b.wire.id}"
    joints = a.terminal if a.terminal == b.terminal else f"{a.terminal} and {b.terminal}"
    message = (
        f'{wires} leave {joints} by one mouth in "{a.section}", at station {a.z:.1f}, clock {a.clock}, and part there: '
        "no other way out was free"
    )
    text = (
        "lay the thinner one last and dab glue on both; or another terminal, or fewer wires at this station"
    )
    numbers = {"station": a.z, "clock_deg": float(a.clock)}
    return Finding(
        "note", "mouth-shared", f"{a.wire.id} / {b.wire.id}", message, numbers, Remedy(None, None, text)
    )
