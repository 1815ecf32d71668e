"""Layout: which station each section stands at, and what the chassis's outer surface is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from chassis_gen.plan.sums import on_grid

LEAST_FILL = 2.0
"""A fill section shorter than this can't hold its rails' joints, mm (chosen)."""


@dataclass(frozen=True)
class Slot:
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


@dataclass(frozen=True)
class Stand:
    """A section's near and far end, mm."""

    name: str
    z0: float
    z1: float


@dataclass(frozen=True)
class LayoutFault:
    """Why the sections can't stand: code, section index, message, allowed."""

    code: str
    index: int
    message: str
    allowed: str


def stand_sections(slots: Sequence[Slot], near: float, end: float | None) -> tuple[tuple[Stand, ...], tuple[LayoutFault, ...]]:
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
                LayoutFault("layout-open", first + fills[0], message, "a length, or tube.chassis_end, or a pinned section")
            )
        share = 0.0
    else:
        slack = z1 - z0 - fixed
        share = slack / len(fills) if fills else 0.0
        span = f"from {from_what} at {z0:g} to {to_what} at {z1:g} there are {z1 - z0:g} mm"
        if not fills and abs(slack) > 1e-6:
            word = "short of" if slack > 0 else "over"
            message = f"{span}, the sections between take {fixed:g} mm: {abs(slack):g} mm {word} the room"
            faults.append(
                LayoutFault("layout-fixed", max(first, stop - 1), message, 'a lead bay with length = "fill" between')
            )
        elif fills and share < LEAST_FILL:
            names = ", ".join(f'"{run[i].name}"' for i in fills)
            message = f"{span}, the sections between take {fixed:g} mm: {slack:g} mm are left for {names}"
            faults.append(
                LayoutFault("layout-full", first + fills[0], message, f"at least {LEAST_FILL:g} mm for each fill section")
            )
    stands = []
    at = z0
    for k, s in enumerate(run):
        last = k + 1 == len(run) and z1 is not None
        after = z1 if last and z1 is not None else on_grid(at + (share if s.length is None else s.length))
        stands.append(Stand(s.name, at, after))
        at = after
    return stands
