"""Nodal analysis of a network of direct current: Kirchhoff's current law at every node, solved as one system.

Every group of nodes that conductors join gets a reference node of its own: the first source's minus, where there
is none what a driver's current returns to, so that an output stands above its return. Loads of constant power are
linearised at the voltage found last (Newton's method, begun at the open circuit); an LED conducts above its forward
voltage and is off below. Method: the modified conductance matrix of any text on circuit analysis.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

Array: TypeAlias = npt.NDArray[np.float64]

_ROUNDS = 100
_CONVERGED_V = 1e-9
_NO_CURRENT = 1e-12


class Resistor(Struct, frozen=True):
    """A wire, a closed contact, a fuse or a resistor between two nodes; ohm is above zero."""

    name: str
    a: str
    b: str
    ohm: float


class Source(Struct, frozen=True):
    """A cell: its open-circuit voltage (V) behind its internal resistance (ohm, above zero)."""

    name: str
    plus: str
    minus: str
    volts: float
    ohm: float


class CurrentLoad(Struct, frozen=True):
    """A load that draws a constant current from `a` to `b`, A, where a source feeds it."""

    name: str
    a: str
    b: str
    amps: float


class PowerLoad(Struct, frozen=True):
    """A load that draws a constant power between `a` and `b`, W, where a source feeds it."""

    name: str
    a: str
    b: str
    watts: float


class Diode(Struct, frozen=True):
    """An LED from `a` to `b`: no current below its forward voltage (V), a resistance (ohm) above it."""

    name: str
    a: str
    b: str
    forward_v: float
    ohm: float


class Feed(Struct, frozen=True):
    """A driver or charger that pushes a fixed current in at `a` through itself and out at `b`, A."""

    name: str
    a: str
    b: str
    amps: float


Element: TypeAlias = Resistor | Source | CurrentLoad | PowerLoad | Diode | Feed


class Solution(Struct, frozen=True):
    """What the network does.

    Args:
        voltages: of the nodes against their group's reference, V.
        currents: by element, A: from `a` to `b`; out of its plus for a source.
        without_way: loads, diodes and feeds that no closed way joins to what feeds them; they carry nothing.
        starved: loads that the network can't feed: more power than there is, or no voltage left.
    """

    voltages: Mapping[str, float]
    currents: Mapping[str, float]
    without_way: frozenset[str] = frozenset()
    starved: frozenset[str] = frozenset()

    def across(self, a: str, b: str) -> float:
        """Return the voltage of one node over another, V; 0 for a node that nothing leads to."""
        return self.voltages.get(a, 0.0) - self.voltages.get(b, 0.0)


def groups_of(nodes: Iterable[str], ties: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return for each node the name of its group: the nodes that ties join.

    Args:
        nodes: all nodes.
        ties: pairs of joined nodes.
    """
    root = {n: n for n in nodes}

    def find(n: str) -> str:
        while root[n] != n:
            root[n] = root[root[n]]
            n = root[n]
        return n

    for a, b in ties:
        root[find(a)] = find(b)
    return {n: find(n) for n in root}


def solve(elements: Sequence[Element]) -> Solution:
    """Return voltages and currents of a network.

    Args:
        elements: with names of their own.
    """
    off: set[str] = set()
    starved: set[str] = set()
    seen: set[frozenset[str]] = set()
    while True:
        network = _Network(elements, off | starved)
        answer = network.solved()
        worst = _starved(network, answer)
        if worst:
            starved |= worst
            continue
        dark = {d.name for d in network.live if isinstance(d, Diode) and network.current(d, answer) < 0}
        lit = {
            d.name
            for d in elements
            if isinstance(d, Diode) and d.name in off and network.could_light(d, answer)
        }
        if not (dark or lit) or frozenset(off) in seen:
            break
        seen.add(frozenset(off))
        off = (off | dark) - lit
    currents = {e.name: 0.0 for e in elements}
    currents |= {e.name: network.current(e, answer) for e in network.live}
    voltages = dict(zip(network.nodes, answer.tolist(), strict=True))
    return Solution(voltages, currents, frozenset(network.without_way), frozenset(starved))


def _starved(network: _Network, answer: Array) -> set[str]:
    """Return the loads that get no voltage, or all of constant power where no voltages satisfy them."""
    if not np.all(np.isfinite(answer)):
        return {e.name for e in network.live if isinstance(e, PowerLoad)}
    loads = (e for e in network.live if isinstance(e, CurrentLoad | PowerLoad) and _asks(e))
    return {e.name for e in loads if network.volts(e.a, e.b, answer) <= 0}


def _asks(e: CurrentLoad | PowerLoad) -> bool:
    return (e.amps if isinstance(e, CurrentLoad) else e.watts) > _NO_CURRENT


def _ends(e: Element) -> tuple[str, str]:
    return (e.plus, e.minus) if isinstance(e, Source) else (e.a, e.b)


class _Network:
    """The conductance matrix of the elements that take part."""

    def __init__(self, elements: Sequence[Element], left_out: set[str]):
        self.nodes = list(dict.fromkeys(n for e in elements for n in _ends(e)))
        self._at = {n: i for i, n in enumerate(self.nodes)}
        parts = [e for e in elements if e.name not in left_out]
        ties = [_ends(e) for e in parts if isinstance(e, Resistor | Source | Diode)]
        self.group = groups_of(self.nodes, ties)
        fed = {self.group[e.plus] for e in parts if isinstance(e, Source)}
        loose = {e.name for e in parts if not self._joined(e, fed)}
        self.live = [e for e in parts if e.name not in loose and _ends(e)[0] != _ends(e)[1]]
        self.without_way = loose
        self._fixed = self._references()

    def _joined(self, e: Element, fed: set[str]) -> bool:
        a, b = _ends(e)
        together = self.group[a] == self.group[b]
        return together and (not isinstance(e, CurrentLoad | PowerLoad) or self.group[a] in fed)

    def _references(self) -> list[int]:
        chosen: dict[str, str] = {}
        for e in self.live:
            if isinstance(e, Source):
                chosen.setdefault(self.group[e.minus], e.minus)
        for e in self.live:
            if isinstance(e, Feed):
                chosen.setdefault(self.group[e.a], e.a)
        for n in self.nodes:
            chosen.setdefault(self.group[n], n)
        return [self._at[n] for n in chosen.values()]

    def volts(self, a: str, b: str, answer: Array) -> float:
        """Return the voltage between two nodes, V."""
        return float(answer[self._at[a]] - answer[self._at[b]])

    def could_light(self, d: Diode, answer: Array) -> bool:
        """Return True when a dark diode stands in one group above its forward voltage."""
        return self.group[d.a] == self.group[d.b] and self.volts(d.a, d.b, answer) > d.forward_v

    def current(self, e: Element, answer: Array) -> float:
        """Return an element's current, A."""
        v = self.volts(*_ends(e), answer)
        match e:
            case Resistor():
                return v / e.ohm
            case Source():
                return (e.volts - v) / e.ohm
            case Diode():
                return (v - e.forward_v) / e.ohm
            case PowerLoad():
                return e.watts / v if v else 0.0
            case _:
                return e.amps

    def solved(self) -> Array:
        """Return the nodes' voltages; not finite where loads of constant power can't be satisfied."""
        powers = [e for e in self.live if isinstance(e, PowerLoad) and _asks(e)]
        answer = self._linear({})
        if not powers:
            return answer
        for _ in range(_ROUNDS):
            at = {e.name: self.volts(e.a, e.b, answer) for e in powers}
            if any(not v > 0 for v in at.values()):
                break
            after = self._linear(at)
            if np.max(np.abs(after - answer)) < _CONVERGED_V:
                return after
            answer = after
        return np.full(len(self.nodes), np.nan)

    def _linear(self, at: Mapping[str, float]) -> Array:
        """Return the voltages with loads of constant power linearised at given voltages (none: left out)."""
        n = len(self.nodes)
        g, i = np.zeros((n, n)), np.zeros(n)
        for e in self.live:
            a, b = (self._at[k] for k in _ends(e))
            conductance, drawn = _companion(e, at)
            g[a, a] += conductance
            g[b, b] += conductance
            g[a, b] -= conductance
            g[b, a] -= conductance
            i[a] -= drawn
            i[b] += drawn
        g[self._fixed, :] = 0.0
        g[self._fixed, self._fixed] = 1.0
        i[self._fixed] = 0.0
        try:
            found: Array = np.asarray(np.linalg.solve(g, i), dtype=np.float64)
        except np.linalg.LinAlgError:
            return np.full(n, np.nan)
        return found


def _companion(e: Element, at: Mapping[str, float]) -> tuple[float, float]:
    """Return an element as a conductance (S) and a current drawn from `a` to `b` beside it (A)."""
    match e:
        case Resistor():
            return 1.0 / e.ohm, 0.0
        case Source():
            return 1.0 / e.ohm, -e.volts / e.ohm
        case Diode():
            return 1.0 / e.ohm, -e.forward_v / e.ohm
        case PowerLoad():
            if e.name not in at:
                return 0.0, 0.0
            v = at[e.name]
            return -e.watts / v**2, 2.0 * e.watts / v
        case _:
            return 0.0, e.amps
