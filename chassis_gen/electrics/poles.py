"""What a netlist alone says of its supplies: which terminals they stand at, and by which ways poles are joined.

Wires, a conducting tube, boards' grounds and closed contacts join terminals; a resistor in a wire doesn't. From
the cells' minus on, each joined net stands at the voltages that the cells between lend it, empty and full. A net
that hangs on one voltage alone through resistors takes it, as nothing flows there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from msgspec import Struct

from chassis_gen.electrics.assembly import conductors, ground_ties, tube_ties
from chassis_gen.electrics.network import groups_of
from chassis_gen.electrics.parts import Contact, Supply, part_named
from chassis_gen.plan.chassis import ChassisPlan, Wire

RESISTOR = "resistor"
_SAME_V = 1e-6

Volts = tuple[float, float]
"""Voltage with empty and with full cells, V."""


class Way(Struct, frozen=True):
    """What joins two terminals.

    Args:
        a: terminal id.
        b: terminal id.
        words: for messages.
    """

    a: str
    b: str
    words: str


class Poles(Struct, frozen=True):
    """The nets of a build with some contacts closed, and the voltages that its cells lend them.

    Args:
        ways: what joins terminals.
        net: by terminal, the name of its net.
        volts: by net, its circuit's name and its voltages over that circuit's reference.
        shorted: supplies whose two poles one net holds, or that push against others round a closed loop.
        fixed: nets whose voltage cells fix, not through a resistor.
    """

    ways: tuple[Way, ...]
    net: Mapping[str, str]
    volts: Mapping[str, tuple[str, Volts]]
    shorted: tuple[Supply, ...]
    fixed: frozenset[str]

    def across(self, a: str, b: str) -> Volts | None:
        """Return the voltage of one terminal over another, V, or None where no cells relate the two."""
        at, to = (self.volts.get(self.net.get(t, "")) for t in (a, b))
        if at is None or to is None or at[0] != to[0]:
            return None
        return at[1][0] - to[1][0], at[1][1] - to[1][1]

    def route(self, a: str, b: str) -> tuple[str, ...]:
        """Return in words the fewest ways that join two terminals; none where nothing does."""
        return _route(self.ways, a, b)


def resists(wire: Wire) -> bool:
    """Return whether a resistor lies in a wire."""
    return any(b.kind == RESISTOR for b in wire.in_line)


def poles(plan: ChassisPlan, sources: Sequence[Supply], closed: Iterable[Contact]) -> Poles:
    """Return the nets and their voltages.

    Args:
        plan: the build.
        sources: its supplies.
        closed: contacts that count as joined.
    """
    wires = [c.wire for c in conductors(plan)]
    ways = (
        *(Way(w.start, w.end, f'"{w.id}" ({w.start} to {w.end})') for w in wires if not resists(w)),
        *(Way(c.a, c.b, f"the contact of {c.part}") for c in closed),
        *(Way(a, b, f"the copper of {_owner(plan, a)}") for a, b in ground_ties(plan)),
        *(Way(a, b, "the tube") for a, b in tube_ties(plan)),
    )
    ends = (end for w in wires for end in (w.start, w.end))
    net = groups_of((*plan.terminals, *ends), ((w.a, w.b) for w in ways))
    volts, shorted = _lent(sources, net)
    through = [(net[w.start], net[w.end]) for w in wires if resists(w)]
    return Poles(ways, net, _through_resistors(volts, through), shorted, frozenset(volts))


def _owner(plan: ChassisPlan, terminal: str) -> str:
    id = terminal.rpartition(".")[0]
    part = part_named(plan, id)
    return part.id if part else id


def supply_volts(supply: Supply) -> Volts:
    """Return the voltage of a supply with empty and with full cells, V."""
    return sum(c.emf("cut-off") for c in supply.cells), sum(c.emf("full") for c in supply.cells)


def _lent(
    sources: Sequence[Supply], net: Mapping[str, str]
) -> tuple[dict[str, tuple[str, Volts]], tuple[Supply, ...]]:
    """Return the nets' voltages, and the supplies that are shorted in themselves or round a loop."""
    volts: dict[str, tuple[str, Volts]] = {}
    shorted = [s for s in sources if net[s.plus] == net[s.minus]]
    left = [s for s in sources if s not in shorted]
    while left:
        supply = next((s for s in left if {net[s.plus], net[s.minus]} & set(volts)), left[0])
        left.remove(supply)
        plus, minus, (low, high) = net[supply.plus], net[supply.minus], supply_volts(supply)
        if minus not in volts and plus not in volts:
            volts[minus] = (minus, (0.0, 0.0))
        if minus in volts and plus in volts:
            if abs(volts[plus][1][1] - volts[minus][1][1] - high) > _SAME_V:
                shorted.append(supply)
        elif minus in volts:
            circuit, (a, b) = volts[minus]
            volts[plus] = (circuit, (a + low, b + high))
        else:
            circuit, (a, b) = volts[plus]
            volts[minus] = (circuit, (a - low, b - high))
    return volts, tuple(shorted)


def _through_resistors(
    volts: dict[str, tuple[str, Volts]], through: Sequence[tuple[str, str]]
) -> dict[str, tuple[str, Volts]]:
    """Return the voltages with those of nets that hang on one voltage alone through resistors."""
    loose = [(a, b) for a, b in through if a not in volts or b not in volts]
    free = {n for pair in loose for n in pair if n not in volts}
    group = groups_of(free, ((a, b) for a, b in loose if a in free and b in free))
    seen: dict[str, set[tuple[str, Volts]]] = {}
    for a, b in loose:
        for inner, outer in ((a, b), (b, a)):
            if inner in free and outer in volts:
                seen.setdefault(group[inner], set()).add(volts[outer])
    lone = {g: next(iter(v)) for g, v in seen.items() if len(v) == 1}
    return volts | {n: lone[group[n]] for n in sorted(free) if group[n] in lone}


def _route(ways: Sequence[Way], a: str, b: str) -> tuple[str, ...]:
    """Return the words of the fewest ways from one terminal to another: breadth first."""
    come: dict[str, tuple[str, str]] = {a: ("", "")}
    edge = [a]
    while edge and b not in come:
        after = []
        for at in edge:
            for w in ways:
                far = w.b if w.a == at else w.a if w.b == at else None
                if far is not None and far not in come:
                    come[far] = (at, w.words)
                    after.append(far)
        edge = after
    if b not in come:
        return ()
    words = []
    while b != a:
        b, word = come[b]
        words.append(word)
    return tuple(reversed(words))
