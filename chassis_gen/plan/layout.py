"""Layout: which station each section stands at, and what the chassis's outer surface is."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from chassis_gen.plan.sums import on_grid, shown

LEAST_FILL = 2.0
"""A fill section shorter than this can't hold its rails' joints, mm (chosen)."""


class Slot(Struct, frozen=True):
    """What the layout needs to know of a section.

    Args:
        name: section name.
        length: its length, mm, or None to fill the slack.
        pin: station that its near end must have, mm, or None.
        pin_source: what pins it, for messages.
    """

    name: str
    length: float | None
    pin: float | None = None
    pin_source: str = ""


class Stand(Struct, frozen=True):
    """A section's near and far end, mm."""

    name: str
    z0: float
    z1: float


class LayoutFault(Struct, frozen=True):
    """Why the sections can't stand: code, section index, message, allowed."""

    code: str
    index: int
    message: str
    allowed: str


def stand_sections(
    slots: Sequence[Slot], near: float, end: float | None
) -> tuple[tuple[Stand, ...], tuple[LayoutFault, ...]]:
    """Return the stations of sections in file order, fills taking up the slack between pins.

    Args:
        slots: sections in order from the mouth in.
        near: station of the chassis's near end, mm.
        end: station that the chassis's far end must have, mm, or None where the last section decides.

    Returns:
        The stands (empty when a fault was found) and the faults.
    """
    stands: list[Stand] = []
    faults: list[LayoutFault] = []
    start, at, source = 0, near, "chassis_offset"
    for i, slot in enumerate(slots):
        if slot.pin is not None:
            stands += _run(slots, start, i, at, slot.pin, source, slot.pin_source, faults)
            start, at, source = i, slot.pin, slot.pin_source
    stands += _run(slots, start, len(slots), at, end, source, "chassis_end", faults)
    return ((), tuple(faults)) if faults else (tuple(stands), ())


def _run(
    slots: Sequence[Slot],
    first: int,
    stop: int,
    z0: float,
    z1: float | None,
    from_what: str,
    to_what: str,
    faults: list[LayoutFault],
) -> list[Stand]:
    """Return the stands of slots[first:stop] from z0 on, meeting z1 where it is given."""
    run = slots[first:stop]
    fixed = sum(s.length for s in run if s.length is not None)
    fills = [i for i, s in enumerate(run) if s.length is None]
    if z1 is None:
        if fills:
            name = run[fills[0]].name
            message = f'"{name}" has length "fill", but nothing pins the chassis beyond it'
            faults.append(
                LayoutFault(
                    "layout-open",
                    first + fills[0],
                    message,
                    "a length, or tube.chassis_end, or a pinned section",
                )
            )
        share = 0.0
    else:
        slack = z1 - z0 - fixed
        share = on_grid(slack / len(fills)) if fills else 0.0
        span = f"{_span(z0, z1, from_what, to_what)}, the sections between take {_mm(fixed)}"
        if not fills and abs(slack) > 1e-6:
            faults.append(_unmet(max(first, stop - 1), span, slack))
        elif fills and share < LEAST_FILL:
            names = ", ".join(f'"{run[i].name}"' for i in fills)
            left = (
                f"{_mm(slack)} are left for {names}"
                if slack >= 0
                else f"{_mm(-slack)} too much, and {names} wants some"
            )
            least = f"at least {LEAST_FILL:g} mm for each fill section"
            faults.append(LayoutFault("layout-full", first + fills[0], f"{span}: {left}", least))
    rest = 0.0 if z1 is None or not fills else z1 - z0 - fixed - share * (len(fills) - 1)
    stands = []
    at = z0
    for k, s in enumerate(run):
        length = s.length if s.length is not None else rest if k == fills[-1] else share
        stands.append(Stand(s.name, at, on_grid(at + length)))
        at = stands[-1].z1
    return stands


def _span(z0: float, z1: float, from_what: str, to_what: str) -> str:
    """Return how far apart two pinned stations are, in words."""
    if z1 <= z0:
        return f"{to_what} at {shown(z1)} lies {_mm(z0 - z1)} before {from_what} at {shown(z0)}"
    return f"from {from_what} at {shown(z0)} to {to_what} at {shown(z1)} there are {_mm(z1 - z0)}"


def _unmet(index: int, span: str, slack: float) -> LayoutFault:
    """Return the fault of sections of fixed length that don't meet the station after them."""
    if slack > 0:
        allowed = f'a lead bay between with length = "fill", or with {_mm(slack)}'
        return LayoutFault("layout-fixed", index, f"{span}: {_mm(slack)} short of the room", allowed)
    allowed = f"{_mm(-slack)} less, or what pins the next section that much further in"
    return LayoutFault("layout-fixed", index, f"{span}: {_mm(-slack)} more than the room", allowed)


def _mm(length: float) -> str:
    return f"{shown(length)} mm"
