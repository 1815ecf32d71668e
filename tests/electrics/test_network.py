"""Nodal analysis: laws that hold in every network, other ways to reckon the same, and what isn't linear."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.electrics.network import (
    CurrentLoad,
    Diode,
    Element,
    Feed,
    PowerLoad,
    Resistor,
    Solution,
    Source,
    solve,
)


@st.composite
def resistor_networks(draw: st.DrawFn) -> list[Resistor]:
    """Make connected networks: a chain through all nodes and more resistors between any two."""
    count = draw(st.integers(2, 8))
    ohms = st.floats(0.01, 1000.0)
    chain = [Resistor(f"r{i}", f"n{i}", f"n{i + 1}", draw(ohms)) for i in range(count - 1)]
    ends = st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)).filter(lambda p: p[0] != p[1])
    more = [
        Resistor(f"m{k}", f"n{a}", f"n{b}", draw(ohms))
        for k, (a, b) in enumerate(draw(st.lists(ends, max_size=8)))
    ]
    return [*chain, *more]


def sums_at_nodes(elements: list[Element], s: Solution) -> dict[str, float]:
    """Return the current that leaves each node through its elements."""
    sums: dict[str, float] = {}
    for e in elements:
        current = s.currents[e.name]
        out, into = (e.minus, e.plus) if isinstance(e, Source) else (e.a, e.b)
        sums[out] = sums.get(out, 0.0) + current
        sums[into] = sums.get(into, 0.0) - current
    return sums


@settings(max_examples=60, deadline=None)
@given(resistor_networks(), st.floats(0.5, 20.0), st.floats(0.001, 1.0))
def test_kirchhoffs_current_law_and_the_balance_of_power_hold(
    resistors: list[Resistor], volts: float, ohm: float
) -> None:
    """Kirchhoff's current law; Tellegen's theorem: what the source gives is what the resistors turn to heat."""
    last = max((r.b for r in resistors if r.name.startswith("r")), key=lambda n: int(n[1:]))
    source = Source("cell", "n0", last, volts, ohm)
    elements: list[Element] = [source, *resistors]
    s = solve(elements)
    scale = max(1e-9, abs(s.currents["cell"]))
    assert all(abs(v) < 1e-9 * scale for v in sums_at_nodes(elements, s).values())
    heat = sum(s.currents[r.name] ** 2 * r.ohm for r in resistors) + s.currents["cell"] ** 2 * ohm
    assert heat == pytest.approx(volts * s.currents["cell"], rel=1e-7)


@settings(max_examples=40, deadline=None)
@given(resistor_networks())
def test_the_resistance_between_two_nodes_is_the_graphs_resistance_distance(
    resistors: list[Resistor],
) -> None:
    """networkx reckons it from the pseudo-inverse of the graph's Laplacian, another way than ours."""
    nx = pytest.importorskip("networkx")
    graph = nx.Graph()
    for r in resistors:
        before = graph.get_edge_data(r.a, r.b, {"siemens": 0.0})["siemens"]
        graph.add_edge(r.a, r.b, siemens=before + 1.0 / r.ohm)
    last = f"n{graph.number_of_nodes() - 1}"
    wanted = nx.resistance_distance(graph, "n0", last, weight="siemens", invert_weight=False)
    s = solve([*resistors, Feed("one ampere", last, "n0", 1.0)])
    assert s.across("n0", last) == pytest.approx(wanted, rel=1e-7)


def test_a_mesh_of_parallel_paths_agrees_with_a_sparse_solver() -> None:
    """scipy solves Kirchhoff's laws in sparse-tableau form: all branch currents and voltages as unknowns."""
    linalg = pytest.importorskip("scipy.linalg")
    ohms = [0.4, 1.1, 2.3, 0.9, 3.1]
    ends = [(0, 1), (1, 2), (0, 2), (1, 3), (2, 3)]
    incidence = np.zeros((4, 6))
    for k, (a, b) in enumerate([*ends, (3, 0)]):
        incidence[a, k] += 1.0
        incidence[b, k] -= 1.0
    reduced = incidence[1:]
    # unknowns: six branch currents, three node voltages; the last branch is 5 V behind 0.2 ohm
    laws = np.zeros((9, 9))
    laws[:3, :6] = reduced
    laws[3:, :6] = -np.diag([*ohms, 0.2])
    laws[3:, 6:] = reduced.T
    right = np.zeros(9)
    right[8] = -5.0
    wanted = linalg.solve(laws, right)[:6]
    resistors = [
        Resistor(f"r{k}", f"n{a}", f"n{b}", r) for k, ((a, b), r) in enumerate(zip(ends, ohms, strict=True))
    ]
    s = solve([*resistors, Source("cell", "n0", "n3", 5.0, 0.2)])
    assert [s.currents[f"r{k}"] for k in range(5)] == pytest.approx(list(wanted[:5]), rel=1e-9)
    assert s.currents["cell"] == pytest.approx(wanted[5], rel=1e-9)


def test_constant_power_is_the_upper_root_of_the_quadratic() -> None:
    """P = V (E - V) / R has the closed form V = E/2 + sqrt(E^2/4 - P R); the upper root is the stable one."""
    e, r, p = 3.7, 0.35, 4.0
    s = solve(
        [Source("cell", "p", "m", e, 0.1), Resistor("w", "p", "x", 0.25), PowerLoad("load", "x", "m", p)]
    )
    assert s.across("x", "m") == pytest.approx(e / 2 + math.sqrt(e**2 / 4 - p * r), rel=1e-9)


@pytest.mark.parametrize(("watts", "fed"), [(9.7, True), (9.9, False)])
def test_no_more_power_is_given_than_a_matched_load_takes(watts: float, fed: bool) -> None:
    """Maximum power theorem: E^2 / (4 R) = 9.78 W with 3.7 V and 0.35 ohm."""
    s = solve([Source("cell", "p", "m", 3.7, 0.35), PowerLoad("load", "p", "m", watts)])
    assert ("load" not in s.starved) is fed


def test_an_led_lights_above_its_forward_voltage_only() -> None:
    """Ohm's law on what the forward voltage leaves: (4.2 - 2.0) / 220 = 10 mA (series-resistor rule)."""
    source = Source("cell", "p", "m", 4.2, 1e-6)
    s = solve([source, Diode("red", "p", "m", 2.0, 220.0), Diode("two in one", "p", "m", 6.0, 10.0)])
    assert s.currents["red"] == pytest.approx(0.010, rel=1e-6)
    assert s.currents["two in one"] == 0.0


def test_two_leds_in_series_share_one_current() -> None:
    """Kirchhoff's voltage law: (4.2 - 1.8 - 1.8) / (30 + 30), less what cell and wire take of 60 ohm."""
    s = solve(
        [
            Source("cell", "p", "m", 4.2, 0.05),
            Diode("a", "p", "x", 1.8, 30.0),
            Resistor("between", "x", "y", 0.01),
            Diode("b", "y", "m", 1.8, 30.0),
        ]
    )
    assert s.currents["a"] == pytest.approx(0.6 / 60.06, rel=1e-9)
    assert s.currents["b"] == pytest.approx(s.currents["a"], rel=1e-9)


def test_a_load_with_one_open_end_draws_nothing() -> None:
    s = solve(
        [
            Source("cell", "p", "m", 3.6, 0.1),
            Resistor("w", "p", "x", 0.1),
            CurrentLoad("load", "x", "nowhere", 1.0),
        ]
    )
    assert s.without_way == {"load"}
    assert s.currents == {
        "cell": pytest.approx(0.0, abs=1e-12),
        "w": pytest.approx(0.0, abs=1e-12),
        "load": 0.0,
    }


def test_a_load_across_one_pole_is_starved() -> None:
    elements = [
        Source("cell", "p", "m", 3.6, 0.1),
        Resistor("a", "p", "x", 0.1),
        Resistor("b", "p", "y", 0.1),
        CurrentLoad("load", "x", "y", 1.0),
    ]
    assert solve(elements).starved == {"load"}
