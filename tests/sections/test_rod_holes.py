"""Rods: holes cut through joined sections, anchors, lengths and what they keep clear of."""

from __future__ import annotations

import math

import pytest

from chassis_gen.plan.model import Outer, OuterStep
from chassis_gen.problems import InputError
from chassis_gen.sections.features.rod_holes import RodPlan, RodSpan, RodWish, plan_rods
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Recipe, add
from chassis_gen.tables.threads import find_thread
from chassis_gen.tables.washers import all_washers, washer_for
from tests.sections.support import setting

SPANS = (
    RodSpan("a", "front", 10.0, 24.0),
    RodSpan("b", "front", 24.0, 60.0),
    RodSpan("c", "back", 60.0, 80.0),
)
OUTER = Outer((OuterStep(0.0, 100.0, 19.8, True),))
CLOCKS = (30.0, 150.0, 270.0)


def rods(**keys: object) -> RodPlan:
    wish = {"name": "rods", "thread": "M3", "clocks_deg": CLOCKS, "circle_diameter": 28.0, **keys}
    return plan_rods(setting().fitter, RodWish(**wish), SPANS, OUTER)  # type: ignore[arg-type]


def drilled(plan: RodPlan) -> Body:
    """Return three full bars that overlap as joined sections do, drilled one by one."""
    bars = []
    for s in SPANS:
        bar = add("bar", Cylinder(19.8, s.z0, s.z1 + (0.0 if s is SPANS[-1] else 0.0625)))
        bars.append(make(Recipe(s.name, (*bar, *plan.steps[s.name]))))
    first, *more = bars
    return first.union(*more)


@pytest.mark.parametrize("near", ["through_nut", "captive_nut", "tapped", "insert"])
@pytest.mark.parametrize("far", ["through_nut", "captive_nut", "tapped"])
def test_rods_pass_all_sections_and_end_as_asked(near: str, far: str) -> None:
    plan = rods(near_end=near, far_end=far)
    assert [f for f in plan.findings if f.code != "rod-end-covered"] == []
    body = drilled(plan)
    assert len([c for c in body.components() if c.volume > 0]) == 1
    open_ends = (near in ("through_nut", "captive_nut"), far in ("through_nut", "captive_nut"))
    for clock in CLOCKS:
        x, y = 14.0 * math.cos(math.radians(clock)), 14.0 * math.sin(math.radians(clock))
        (hits,) = body.rays([(x, y, 0.0)], [(0.0, 0.0, 1.0)])
        assert len(hits) == 2 * open_ends.count(False)
        z0 = 10.0 if open_ends[0] else 24.0
        z1 = 80.0 if open_ends[1] else 60.0
        assert body.common_volume(solid(Cylinder(1.5, z0, z1)).moved((x, y, 0.0))) < 1e-3


def test_a_through_nut_and_its_washer_sink_into_the_end_face() -> None:
    body = drilled(rods())
    nut, washer = find_thread("M3").nut, washer_for(find_thread("M3"))
    # ISO 4032 M3: 5.5 across flats, 2.4 high; ISO 7089 M3: 7.0 x 0.5 (0.55 at most)
    assert (nut.across_flats_max, nut.height_max) == (5.5, 2.4)
    assert (washer.outer_diameter, washer.thickness) == (7.0, 0.55)
    x, y = 14.0 * math.cos(math.radians(30.0)), 14.0 * math.sin(math.radians(30.0))
    ring = solid(Cylinder(washer.outer_diameter / 2, 5.0, 10.0)).moved((x, y, 0.0))
    # washer, nut and two turns of 0.5 mm
    assert body.play(ring, (0.0, 0.0, 1.0), 0.55 + 2.4 + 1.0) == pytest.approx(3.95, abs=0.01)


def test_a_captive_nut_goes_in_from_the_end_face_and_cannot_turn() -> None:
    body = drilled(rods(near_end="captive_nut"))
    x, y = 14.0 * math.cos(math.radians(30.0)), 14.0 * math.sin(math.radians(30.0))
    inscribed = solid(Cylinder(5.5 / 2, 9.0, 10.0)).moved((x, y, 0.0))
    depth = body.play(inscribed, (0.0, 0.0, 1.0), 2.4 + 0.3 + 0.1)
    assert depth >= 2.4
    circumscribed = solid(Cylinder(5.5 / math.sqrt(3.0) + 0.3, 10.0, 12.0)).moved((x, y, 0.0))
    assert body.common_volume(circumscribed) > 0.5


def test_rods_are_listed_with_length_nuts_and_washers() -> None:
    lines = {h.item: h.count for h in rods().hardware}
    assert lines == {"threaded rod M3 x 70": 3, "nut M3": 6, "washer M3": 6}
    # two diameters of thread in plastic at the far end: common practice, no standard
    blind = rods(far_end="tapped", washers=False)
    assert {h.item: h.count for h in blind.hardware} == {"threaded rod M3 x 56": 3, "nut M3": 3}
    assert blind.length == pytest.approx(14 + 36 + 6)
    assert {h.item for h in rods(far_end="insert").hardware} >= {"heat-set insert M3"}


def test_only_the_ends_are_holes_that_must_bear() -> None:
    plan = rods(far_end="insert")
    assert {name: len(h) for name, h in plan.holes.items()} == {"a": 3, "b": 0, "c": 3}
    assert plan.holes["c"][0].kind == "insert"
    for span in SPANS:
        assert len([o for o in plan.obstacles[span.name] if o.what == "rod"]) == 3


def test_rods_too_far_out_or_too_close_are_refused() -> None:
    (found,) = rods(circle_diameter=36.0).findings
    assert found.code == "rod-outside"
    # recess: washer 7 / 2 + 0.5; wall round a clearance hole 1.2 mm: 18 + 4 + 1.2 - 19.8
    assert found.numbers["missing"] == pytest.approx(3.4, abs=1e-3)
    assert found.candidates[0].key == "rod[0].circle_diameter"
    assert found.candidates[0].value == pytest.approx(29.2)
    assert rods(circle_diameter=29.2).findings == ()
    (close,) = rods(clocks_deg=(0.0, 30.0)).findings
    assert close.code == "rods-close"
    assert close.numbers["apart"] == pytest.approx(28.0 * math.sin(math.radians(15.0)))


def test_ends_that_nobody_can_reach_are_refused() -> None:
    wish = RodWish("rods", "M3", CLOCKS, 28.0)
    plan = plan_rods(setting().fitter, wish, SPANS[:2], OUTER, (True, False))
    (found,) = plan.findings
    assert (found.code, found.where) == ("rod-end-covered", "a.rods")
    (inside,) = rods(near_end="insert").findings
    assert inside.code == "rod-end-covered"
    short = plan_rods(setting().fitter, wish, (RodSpan("a", "front", 0.0, 5.0),), OUTER)
    (room,) = short.findings
    # two recesses of 3.95 mm and two walls of 1.2 mm
    assert room.numbers == pytest.approx({"length": 5.0, "needed": 2 * 3.95 + 2.4}, abs=1e-3)
    with pytest.raises(InputError):
        rods(thread="M99")


def test_tabled_washers_are_wider_than_their_nuts() -> None:
    for size, washer in all_washers().items():
        assert washer.outer_diameter > find_thread(size).nut.across_flats_max
    # no row: common practice, ample
    thread = find_thread("#8-32")
    assert washer_for(thread).outer_diameter > thread.nut.across_flats_max
