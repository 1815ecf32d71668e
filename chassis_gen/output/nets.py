"""Who is joined to whom: the nets that a build's wires make, and the part and piece at each terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from chassis_gen.electrics.network import Feed, Resistor, groups_of, solve
from chassis_gen.electrics.poles import RESISTOR, resists
from chassis_gen.plan.chassis import ChassisPlan, Wire
from chassis_gen.plan.model import PlacedPart

_COPPER_OHM = 1e-6


class JoinedNet(Struct, frozen=True):
    """Terminals that wires join.

    Args:
        name: the maker's name of a `[[net]]`, or the name of its first wire.
        terminals: in the order in which the wires name them.
        wires: in the order of the build file.
    """

    name: str
    terminals: tuple[str, ...]
    wires: tuple[Wire, ...]


class Site(Struct, frozen=True):
    """Where a terminal is.

    Args:
        terminal: its id.
        part: the part that it belongs to, or None where it is a place of the chassis itself.
        piece: the printed piece that carries it, or None where the plan doesn't tell.
        removable: True where that piece comes off the chassis: a cap, a carrier.
    """

    terminal: str
    part: PlacedPart | None
    piece: str | None
    removable: bool

    @property
    def kind(self) -> str | None:
        """Return the kind of the part there, or None."""
        return self.part.part.kind if self.part else None


def all_wires(plan: ChassisPlan) -> tuple[Wire, ...]:
    """Return the wires of a plan, those without a path last."""
    return (*(r.wire for r in plan.routes), *plan.unrouted)


def joined_nets(wires: Sequence[Wire]) -> tuple[JoinedNet, ...]:
    """Return the nets that some wires make, in the order of their first wires.

    Args:
        wires: each joins its two terminals.
    """
    groups: list[list[int]] = []
    for i, wire in enumerate(wires):
        ends = {wire.start, wire.end}
        touched = [g for g in groups if any(ends & {wires[k].start, wires[k].end} for k in g)]
        groups = [g for g in groups if g not in touched] + [[*sorted(k for g in touched for k in g), i]]
    return tuple(_net([wires[k] for k in sorted(g)]) for g in sorted(groups, key=min))


def _net(wires: Sequence[Wire]) -> JoinedNet:
    terminals = tuple(dict.fromkeys(end for w in wires for end in (w.start, w.end)))
    asked = next((w.net for w in wires if w.net), None)
    return JoinedNet(asked or wires[0].id, terminals, tuple(wires))


def beeping_with(net: JoinedNet, terminal: str) -> tuple[str, ...]:
    """Return the terminals of a net that no resistor parts from one of them, itself among them.

    Args:
        net: the net.
        terminal: one of its terminals.
    """
    group = groups_of(net.terminals, ((w.start, w.end) for w in net.wires if not resists(w)))
    return tuple(t for t in net.terminals if group[t] == group[terminal])


def resistance(net: JoinedNet, a: str, b: str) -> float | None:
    """Return what a meter shows between two terminals of a net, ohm: its resistors solved as a network.

    The meter's current is 1 A in the sum, so its voltage is the resistance (Ohm's law).

    Args:
        net: the net.
        a: one of its terminals.
        b: another one.

    Returns:
        The resistance without that of copper, or None where a resistor's value isn't stated.
    """
    stated = {w.id: [b.resistance_ohm for b in w.in_line if b.kind == RESISTOR] for w in net.wires}
    if any(ohm is None for values in stated.values() for ohm in values):
        return None
    wires = [
        Resistor(w.id, w.start, w.end, max(_COPPER_OHM, sum(v for v in stated[w.id] if v is not None)))
        for w in net.wires
    ]
    return solve([*wires, Feed("meter", b, a, 1.0)]).across(a, b)


def net_names(nets: Sequence[JoinedNet]) -> Mapping[str, str]:
    """Return the name of the net of every wire, by the wire's id.

    Args:
        nets: from `joined_nets`.
    """
    return {w.id: n.name for n in nets for w in n.wires}


def site_of(plan: ChassisPlan, terminal: str) -> Site:
    """Return where a terminal is.

    Args:
        plan: the build.
        terminal: its id, ``section.terminal`` or ``section.part.terminal``.
    """
    owners = [p for p in plan.parts if terminal.startswith(f"{p.id}.")]
    own = terminal in plan.own_terminals
    part = None if own else max(owners, key=lambda p: len(p.id), default=None)
    section = next((s for s in plan.sections if any(t.id == terminal for t in s.terminals)), None)
    piece = part.piece if part else section.piece if section else None
    removable = any(p.name == piece and p.owner is not None for p in plan.pieces)
    return Site(terminal, part, piece, removable)


def sites_of(plan: ChassisPlan) -> Mapping[str, Site]:
    """Return where every terminal is that a wire names, by its id."""
    ids = dict.fromkeys(end for w in all_wires(plan) for end in (w.start, w.end))
    return {i: site_of(plan, i) for i in ids}
