"""Bare conductors: distances measured on the solids with play taken off, and what silences a finding."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from chassis_gen.checks.bare_conductors import check_bare_conductors
from chassis_gen.checks.result import MeasuredFit, MeasuredPlay
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import ElectricsAsked
from chassis_gen.plan.model import PlacedTerminal
from tests.checks import support

BALL = 0.9
"""Radius of a joint, mm (table of electrical rules)."""


def build(a: tuple[float, float, float], b: tuple[float, float, float], **electrics: object) -> ChassisPlan:
    """Return the small build with one joint on the cradle's cell and one on the button's section."""
    cradle, button = support.plan().sections
    cradle = replace(cradle, terminals=(PlacedTerminal("cradle.plus", a, (), 0.9),))
    button = replace(button, terminals=(PlacedTerminal("button.a", b, (), 0.9),))
    return support.plan(sections=(cradle, button), electrics=ElectricsAsked(**electrics))


def found(plan: ChassisPlan, play: float = 0.0, fits: tuple[MeasuredFit, ...] = ()) -> tuple[Finding, ...]:
    plays = (MeasuredPlay("cradle", support.X, play, play), MeasuredPlay("cradle", support.Y, None, 2.0))
    return check_bare_conductors(plan, support.solids(plan), plays, fits)


@pytest.mark.parametrize(("way", "close"), [(1.05, False), (0.95, True)])
def test_two_joints_of_different_nets_keep_a_millimetre(way: float, close: bool) -> None:
    """Common practice at low voltage, no standard."""
    plan = build((0.0, 0.0, 62.0), (2 * BALL + way, 0.0, 62.0))
    gaps = [f.numbers["gap"] for f in found(plan)]
    assert gaps == ([pytest.approx(way, abs=0.02)] if close else [])


def test_play_is_taken_off() -> None:
    plan = build((0.0, 0.0, 62.0), (2 * BALL + 1.2, 0.0, 62.0))
    assert found(plan) == ()
    (one,) = found(plan, play=0.3)
    assert one.numbers["gap"] == pytest.approx(0.9, abs=0.02)
    assert one.numbers["gap_at_rest"] == pytest.approx(1.2, abs=0.02)


def test_joints_of_one_net_may_touch() -> None:
    plan = build((0.0, 0.0, 62.0), (1.0, 0.0, 62.0))
    joined = replace(plan.routes[0].wire, start="cradle.plus", end="button.a")
    assert found(plan)
    assert found(replace(plan, routes=(replace(plan.routes[0], wire=joined),))) == ()


@pytest.mark.parametrize("name", ["cradle.plus", "button.a", "cradle"])
def test_a_sleeve_on_either_is_enough(name: str) -> None:
    assert found(build((0.0, 0.0, 62.0), (1.0, 0.0, 62.0), insulated=(name,))) == ()


def test_a_metal_tube_is_a_conductor() -> None:
    """The small build's bore is 40 mm: a joint of 0.9 mm at radius 18.5 leaves 0.6 mm."""
    near = build((-18.5, 0.0, 62.0), (0.0, 0.0, 80.0))
    (one,) = found(near)
    assert one.where == "cradle.plus / tube"
    assert one.numbers["gap"] == pytest.approx(0.6, abs=0.02)
    assert found(build((-18.5, 0.0, 62.0), (0.0, 0.0, 80.0), insulated=("tube",))) == ()
    plain = tuple(replace(s, material="pvc") for s in near.tube.segments)
    assert found(replace(near, tube=replace(near.tube, segments=plain))) == ()


def test_a_screw_is_a_conductor_of_its_own() -> None:
    """The small build's M3 hole enters at station 41, clock 225, radius 19.8, and is 7 mm deep."""
    hole = support.screw()
    x, y, z = hole.frame.point((0.0, 0.0, 3.0))
    plan = build((x, y, z + 1.5 + BALL + 0.5), (0.0, 0.0, 80.0))
    with_screw = replace(plan, sections=(replace(plan.sections[0], holes=(hole,)), plan.sections[1]))
    pairs = {f.where: f.numbers["gap"] for f in found(with_screw)}
    assert pairs["cradle.plus / cradle.screw"] == pytest.approx(0.5, abs=0.03)
