"""End fittings: rooms, bars and spigots measured on the solids; what can't work is told with its numbers."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from chassis_gen.checks.fits import measure_fits
from chassis_gen.checks.play import measure_plays
from chassis_gen.findings import Finding
from chassis_gen.pipeline import solids_of
from chassis_gen.plan.cross_section import innermost_lane_radius
from chassis_gen.plan.model import SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.end_fitting import KIND
from chassis_gen.sections.end_fitting_model import EndFittingParams, EndFittingPlan
from chassis_gen.sections.features.end_press import SpringTable, spring_growth
from chassis_gen.shapes.agreement import compare, cut_stations
from chassis_gen.shapes.mesh import DEFAULT_CHORD, make, solid
from chassis_gen.shapes.primitives import Cylinder, placed
from chassis_gen.shapes.recipe import Recipe
from tests.plan.support import planned as planned_build
from tests.sections.seating import TOLERANCE, assert_seated, envelope
from tests.sections.support import planned

SPRING = {"outer_diameter": 10.0, "wire_diameter": 0.8, "free_length": 30.0, "solid_length": 8.0}
PAD = {"diameter": 24.0, "thickness": 8.0}


def fitting(bore: float = 40.0, /, **keys: object) -> tuple[SectionPlan, SectionContext, Recipe]:
    far = keys.get("end", "far") == "far"
    joined = (True, False) if far else (False, True)
    return planned(KIND, EndFittingParams.model_validate({"name": "foot", **keys}), bore, joined=joined)


def detail_of(plan: SectionPlan) -> EndFittingPlan:
    assert isinstance(plan.detail, EndFittingPlan)
    return plan.detail


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


@pytest.mark.parametrize(
    "keys",
    [
        {"spring": SPRING, "holes": [{"kind": "captive_nut", "count": 3}]},
        {
            "spring": SPRING,
            "spigot": {"length": 8.0, "into_diameter": 24.0},
            "end": "near",
            "clock_deg": 20.0,
        },
        {"foam": PAD, "holes": [{"kind": "clearance", "count": 2, "circle_diameter": 32.0}]},
    ],
)
def test_what_presses_moves_in_its_seat_as_planned(keys: dict[str, object]) -> None:
    plan, _, recipe = fitting(**keys)
    assert [f.code for f in plan.findings if f.level != "note"] == []
    (made,) = assert_seated(plan, recipe)
    (part,) = plan.parts
    out = (-part.way_in[0], -part.way_in[1], -part.way_in[2])
    assert made.play(envelope(part), out, 40.0, 40.0) == 40.0
    # When the tube is closed it stands out by the gap to the stop: 1 mm.
    face = detail_of(plan).out.origin[2]
    ends = sorted(abs(envelope(part).bounds[k][2] - face) for k in (0, 1))
    assert ends[0] == pytest.approx(1.0, abs=1e-3)


def test_a_spring_s_sums_and_figures() -> None:
    plan, ctx, _ = fitting(spring={**SPRING, "preload_length": 20.0, "rate_n_per_mm": 2.5})
    press = detail_of(plan).press
    assert press is not None
    # 20 mm when closed less 1 mm to the stop; behind it a floor of 2.4 mm
    assert press.seat_depth.total == pytest.approx(19.0, abs=1e-3)
    assert ctx.length == pytest.approx(19.0 + 2.4, abs=1e-3)
    assert plan.facts == pytest.approx(
        {
            "spring_closed_mm": 20.0,
            "spring_preload_mm": 10.0,
            "spring_travel_left_mm": 12.0,
            "spring_force_n": 25.0,
        }
    )
    grown = press.seat_diameter.term("part size") - 10.0
    # outside diameter, growth, 2 x 0.3 free, 0.1 printer
    assert press.seat_diameter.total == pytest.approx(10.0 + grown + 0.6 + 0.1, abs=1e-3)


def test_a_spring_grows_so_that_its_wire_keeps_its_length() -> None:
    """Against the helix itself: one coil's wire is as long before as after (closed, ground ends: two dead coils)."""
    spring = SpringTable.model_validate(SPRING)
    mean, coils = 10.0 - 0.8, 8.0 / 0.8
    pitch = (30.0 - 2 * 0.8) / (coils - 2)

    def wire(diameter: float, rise: float) -> float:
        points = [
            (diameter / 2 * math.cos(t), diameter / 2 * math.sin(t), rise * t / (2 * math.pi))
            for t in (2 * math.pi * k / 4000 for k in range(4001))
        ]
        return sum(math.dist(a, b) for a, b in itertools.pairwise(points))

    growth = spring_growth(spring)
    assert growth > 0.05
    assert wire(mean + growth, 0.8) == pytest.approx(wire(mean, pitch), rel=1e-6)


@pytest.mark.parametrize("clock", [90.0, 0.0])
def test_the_cord_goes_round_the_bar(clock: float) -> None:
    plan, _, recipe = fitting(lanyard={"cord_diameter": 4.0}, clock_deg=clock)
    assert not plan.findings
    body, d = make(recipe), detail_of(plan)
    assert len(body.components()) == 1
    bar = d.bar
    assert bar is not None
    # A bar along the layers bears more than one that stands across them (PETG: half of it, the tests' own setting).
    assert bar.across_layers == (clock == 0.0)
    assert bar.stress <= bar.allowed_stress == (5.0 if clock == 0.0 else 10.0)
    radius = bar.bar_diameter.total / 2
    middle = radius + bar.cord_room.total / 2
    for k in range(13):
        # from straight out on one side, round below, to straight out on the other
        turn = math.pi * k / 12
        y, z = middle * math.cos(turn), -bar.axis_depth - middle * math.sin(turn)
        for x in (-2.0, 2.0):
            at = d.out.point((x, y, z))
            cord = solid(Cylinder(2.0, -0.5, 0.5)).moved(at)
            assert body.common_volume(cord) < 1e-3
    above = d.out.point((0.0, 0.0, 5.0))
    inward = tuple(-c for c in d.out.z_axis)
    (hits,) = body.rays([above], [inward])
    assert hits[0].distance == pytest.approx(5.0 + 1.0, abs=TOLERANCE)
    assert hits[1].distance - hits[0].distance == pytest.approx(2 * radius, abs=2 * TOLERANCE)
    limits = innermost_lane_radius(plan.obstacles, plan.z1 - 1.0, plan.z1, 0.8)
    assert 5.0 < max(limits) < 12.0


NOSE = {"window_diameter": 12.0, "lanyard": {"cord_diameter": 3.0}}


@pytest.mark.parametrize(("end", "clock"), [("far", 90.0), ("near", 20.0)])
def test_a_window_goes_through_and_the_bar_stands_beside_it(end: str, clock: float) -> None:
    plan, ctx, recipe = fitting(52.0, end=end, clock_deg=clock, **NOSE)
    assert not plan.findings
    d, bar = detail_of(plan), detail_of(plan).bar
    assert bar is not None
    # half of the window and a wall of 1.6; half a bar, the cord with 1 mm of room, 0.8 mm off the edge
    off = 6.0 + 1.6 + bar.bar_diameter.total / 2 + 3.0 + 1.0 + 0.8
    assert bar.off_axis.total == pytest.approx(off, abs=1e-3)
    body, inward = make(recipe), tuple(-c for c in d.out.z_axis)
    assert len(body.components()) == 1
    probe = solid(Cylinder(6.0 - TOLERANCE, ctx.z0 - 1.0, ctx.z1 + 1.0))
    assert body.common_volume(probe) < 1e-3
    # on the section's top, whichever way the outer face looks
    turn = math.radians(clock)
    x, y, z = d.out.point((0.0, off, 5.0))
    assert (x, y) == pytest.approx((off * math.cos(turn), off * math.sin(turn)), abs=1e-3)
    (hits,) = body.rays([(x, y, z)], [inward])
    assert hits[0].distance == pytest.approx(5.0 + 1.0, abs=TOLERANCE)
    assert hits[1].distance - hits[0].distance == pytest.approx(bar.bar_diameter.total, abs=2 * TOLERANCE)
    for side in (-1.0, 1.0):
        (open_,) = body.rays([d.out.point((0.0, off + side * (bar.half_width - 0.5), 5.0))], [inward])
        assert open_[0].distance > 5.0 + bar.bar_diameter.total
    # a circle's area, and the widest line from the middle of the inner face out of the window
    assert plan.facts["window_area_mm2"] == pytest.approx(math.pi * 36.0)
    assert math.tan(math.radians(plan.facts["window_half_angle_deg"])) == pytest.approx(6.0 / ctx.length)

    brep = pytest.importorskip("chassis_gen.shapes.brep")
    agreement = compare(recipe, body, brep.make(recipe), DEFAULT_CHORD, cut_stations(recipe, DEFAULT_CHORD))
    assert agreement.ok, "\n".join(agreement.rows())


def test_window_and_pocket_keep_their_walls_and_name_what_passes() -> None:
    close = finding(fitting(48.0, **{**NOSE, "lanyard": {"off_axis": 10.0}})[0], "edge-distance")
    # 10 mm less half a bar of 4 mm, 4 mm of cord, 1 mm of room and 0.8 mm of edge; the window takes 6 mm
    assert close.numbers["wall"] == pytest.approx(10.0 - 2.0 - 4.0 - 1.0 - 0.8 - 6.0, abs=0.3)
    (remedy,) = close.candidates
    cured = {**NOSE, "lanyard": {"cord_diameter": 2.0, "off_axis": remedy.value}}
    assert "edge-distance" not in [f.code for f in fitting(60.0, **cured)[0].findings]
    wide = finding(fitting(40.0, window_diameter=38.0)[0], "edge-distance")
    (smaller,) = wide.candidates
    assert not fitting(40.0, window_diameter=smaller.value)[0].findings
    # a hole on the pocket's clock runs into it, one beside it doesn't
    hole = {"count": 1, "circle_diameter": 34.0, "thread": "M2"}
    hit = finding(fitting(48.0, **NOSE, holes=[hole])[0], "hole-spacing")
    assert hit.numbers["wall"] < 0
    assert not fitting(48.0, **NOSE, holes=[{**hole, "first_clock_deg": 60.0}])[0].findings


def test_a_thin_bar_names_the_diameter_that_the_pull_needs() -> None:
    """A round bar held at both ends: moment F L / 8, modulus pi d3 / 32 (standard beam tables)."""
    found = finding(fitting(lanyard={"bar_diameter": 3.0, "pull": 80.0})[0], "bar-thin")
    # span: two strands of 4 mm, 1 mm to thread them, two roots of 1 mm
    stress = (80.0 * 11.0 / 8) / (math.pi * 3.0**3 / 32)
    assert found.numbers["stress"] == pytest.approx(stress, rel=1e-4)
    assert found.numbers["wanted"] == pytest.approx(
        (32 * 80.0 * 11.0 / 8 / math.pi / 10.0) ** (1 / 3), rel=1e-4
    )
    (remedy,) = found.candidates
    assert remedy.key == "lanyard.bar_diameter"
    cured, _, _ = fitting(lanyard={"bar_diameter": remedy.value, "pull": 80.0})
    assert not cured.findings


def test_a_spring_too_long_for_its_plate_or_pressed_solid() -> None:
    thin = finding(fitting(spring=SPRING, thickness=15.0)[0], "plate-thin")
    # halfway from 30 to 8 mm, less 1 mm to the stop, with a floor of 2.4 mm
    assert thin.numbers == pytest.approx({"thickness": 15.0, "least_thickness": 19.0 - 1.0 + 2.4}, abs=1e-3)
    assert thin.blocks_solids
    assert not fitting(spring=SPRING, thickness=thin.candidates[0].value)[0].findings
    solid_ = finding(fitting(spring={**SPRING, "preload_length": 7.0})[0], "spring-solid")
    assert (solid_.level, solid_.blocks_solids) == ("error", True)
    # 15 % of 22 mm of travel are kept
    assert solid_.candidates[0].value == pytest.approx(11.3)
    near = finding(fitting(spring={**SPRING, "preload_length": 9.0})[0], "spring-solid")
    assert near.level == "warning"
    slack = finding(fitting(spring={**SPRING, "preload_length": 31.0})[0], "spring-slack")
    assert slack.numbers == {"closed": 31.0, "solid": 8.0, "free": 30.0}
    shallow = finding(fitting(foam={**PAD, "thickness": 2.0})[0], "seat-shallow")
    assert shallow.numbers["seat_depth"] == pytest.approx(0.5, abs=1e-3)


def test_no_wall_and_a_covered_face_are_told() -> None:
    wide = finding(fitting(foam={"diameter": 37.5, "thickness": 8.0})[0], "edge-distance")
    # 19.8 mm of chassis, seat (37.5 + 0.6 + 0.1) / 2
    assert wide.numbers["wall"] == pytest.approx(19.8 - 19.1, abs=1e-3)
    smaller = wide.candidates[0]
    assert smaller.key == "foam.diameter"
    assert not fitting(foam={"diameter": smaller.value, "thickness": 8.0})[0].findings
    inside, _, _ = planned(
        KIND, EndFittingParams.model_validate({"name": "foot", "foam": PAD}), joined=(False, True)
    )
    assert finding(inside, "end-covered").candidates[0].value == "near"


def test_a_spigot_in_no_known_bore_and_one_that_is_too_wide() -> None:
    plan, _, recipe = fitting(spigot={"length": 9.0, "into_diameter": 30.0})
    assert [f.code for f in plan.findings] == ["spigot-unmeasured"]
    body = make(recipe)
    # 30 less 2 x 0.15 slide and 0.1 printer
    d = detail_of(plan).spigot
    assert d is not None
    assert d.diameter.total == pytest.approx(29.6, abs=1e-3)
    boss = body.cropped((-30.0, -30.0, plan.z1 - 8.9), (30.0, 30.0, plan.z1 + 1.0))
    assert boss.bounds[1][0] == pytest.approx(14.8, abs=TOLERANCE)
    assert boss.bounds[0][2] + 8.9 == pytest.approx(plan.z1, abs=1e-3)
    wide = finding(fitting(spigot={"length": 9.0, "diameter": 30.4, "into_diameter": 30.0})[0], "spigot-wide")
    assert wide.numbers["into_diameter"] == 30.0
    assert wide.candidates[0].value == pytest.approx(29.7)
    past = finding(fitting(spigot={"length": 9.0, "into_diameter": 42.0})[0], "spigot-wide")
    assert past.blocks_solids
    assert past.numbers["chassis_diameter"] == pytest.approx(39.6, abs=1e-3)


def test_keys_that_contradict_each_other() -> None:
    def rejected(**keys: object) -> str:
        with pytest.raises(ValidationError) as error:
            EndFittingParams.model_validate({"name": "foot", **keys})
        return str(error.value.errors()[0]["msg"])

    assert "spring and lanyard stand in the same place" in rejected(spring=SPRING, lanyard={})
    assert "solid it can't have 30 mm" in rejected(spring={**SPRING, "solid_length": 30.0})
    assert "leaves no bore" in rejected(spring={**SPRING, "wire_diameter": 5.0})
    assert "2.5 coils" in rejected(spring={**SPRING, "solid_length": 2.0})
    with pytest.raises(InputError, match="no such fit class"):
        fitting(foam={**PAD, "fit": "sloppy"})


BUILD = """
[build]
title = "foot in a stepped bore"

[tube]
chassis_offset = 4

[[tube.segment]]
length = 78
bores = [{ from_mouth = 0, diameter = 50 }, { from_mouth = 70, diameter = 28 }]

[[section]]
kind = "end_fitting"
name = "nose"
end = "near"
lanyard = {}

[[section]]
kind = "lead_bay"
name = "bay"
length = 43.4

[[section]]
kind = "end_fitting"
name = "foot"
spring = { outer_diameter = 12, wire_diameter = 1, free_length = 20, solid_length = 8 }
spigot = { length = 9, fit = "free" }

[[rod]]
clocks_deg = [0, 180]
circle_diameter = 38
"""


def test_a_spigot_s_fit_is_measured_in_the_bore_and_rods_end_at_its_shoulder(tmp_path: Path) -> None:
    plan = planned_build(tmp_path, BUILD)
    assert [f.code for f in plan.findings if f.level == "error"] == []
    # The tube ends at 78; the outer face stands at 76.4, not 1 mm before it.
    (stop,) = (f for f in plan.findings if f.code == "stop-gap")
    assert stop.numbers["room"] == pytest.approx(1.6, abs=1e-3)
    cured = BUILD.replace(
        "spigot =", f"{stop.candidates[1].key.split('.')[-1]} = {stop.candidates[1].value}\nspigot ="
    )
    assert "stop-gap" not in [f.code for f in planned_build(tmp_path / "cured", cured).findings]
    solids = solids_of(plan)
    assert len(solids.pieces["chassis"].components()) == 1
    fits = {f.fit.id: f for f in measure_fits(plan, solids, measure_plays(plan, solids))}
    spigot = fits["foot.spigot_diameter"]
    # free: 0.3 per side, and half of the printer's 0.1
    assert spigot.fit.planned == pytest.approx(0.35, abs=1e-3)
    assert spigot.fit.kind == "chassis in tube"
    for fit in fits.values():
        assert fit.measured == pytest.approx(fit.fit.planned, abs=TOLERANCE)
    assert sum(i.startswith("chassis.bearing_diameter") for i in fits) == 2
    nose, _, foot = plan.sections
    assert nose.facts["rods_length_mm"] == pytest.approx(foot.z1 - 9.0 - nose.z0, abs=1e-3)


def test_a_rod_that_comes_into_the_spigot_is_told(tmp_path: Path) -> None:
    plan = planned_build(tmp_path, BUILD.replace("circle_diameter = 38", "circle_diameter = 33"))
    (found,) = (f for f in plan.findings if f.code == "rod-in-core")
    # a washer of 7 mm with 0.5 mm round it, on a circle of 33; the spigot is (28 - 0.6 - 0.1) / 2
    assert found.numbers["reach"] == pytest.approx(16.5 - 4.0, abs=1e-3)
    assert found.numbers["core"] == pytest.approx(13.65, abs=1e-3)


UNDER_A_NOSE = """
[build]
title = "trial"
[tube]
chassis_offset = 0
chassis_end = 70
[[tube.segment]]
from_mouth = 0
length = 80
wall = 2
bores = [{ from_mouth = 0, diameter = 48 }]
[[section]]
kind = "end_plate"
name = "plate"
thickness = 11
[[section]]
kind = "lead_bay"
name = "bay"
length = "fill"
[[section]]
kind = "light_head"
name = "light"
light = "led_round"
room_wall = 8.5
[[section]]
kind = "end_fitting"
name = "nose"
piece = "nose"
window_diameter = 12
lanyard = { cord_diameter = 3 }
[[rod]]
name = "rods"
thread = "M3"
clocks_deg = [35, 145, 215, 325]
circle_diameter = 36
from = "plate"
to = "nose"
near_end = "tapped"
far_end = "through_nut"
"""


def test_a_nose_of_its_own_lets_the_light_out_and_its_pocket_keeps_clear_of_rods(tmp_path: Path) -> None:
    plan = planned_build(tmp_path, UNDER_A_NOSE)
    assert [f.code for f in plan.findings if f.level == "error"] == []
    light, nose = (next(s for s in plan.sections if s.name == n) for n in ("light", "nose"))
    solids = solids_of(plan)
    assert len(solids.pieces["nose"].components()) == 1
    # nothing printed stands before the LED
    (led,) = (p for p in plan.parts if p.section == "light")
    beam = solid(Cylinder(led.part.size("body_diameter") / 2, light.z1 + 0.01, nose.z1 + 1.0))
    assert solids.pieces["nose"].common_volume(beam) < 1e-6

    narrow = planned_build(tmp_path / "narrow", UNDER_A_NOSE.replace("= 12\nlan", "= 4\nlan"))
    (covered,) = (f for f in narrow.findings if f.code == "light-covered")
    assert covered.numbers == pytest.approx({"window": 4.0, "needed": led.part.size("body_diameter")})
    assert covered.candidates[0].value == pytest.approx(led.part.size("body_diameter"))
    assert str(covered.candidates[0].key).endswith("].window_diameter")
    # in the light's own piece the flange of 5.8 mm has to pass too, and nuts can't be put on inside a piece
    joined = UNDER_A_NOSE.replace('piece = "nose"', "").replace("= 12\nlan", "= 5.5\nlan")
    (covered,) = (f for f in planned_build(tmp_path / "joined", joined).findings if f.code == "light-covered")
    assert covered.numbers["needed"] > 5.8

    turned = planned_build(tmp_path / "turned", UNDER_A_NOSE.replace("[35, 145", "[90, 145"))
    (hit,) = (f for f in turned.findings if f.code == "rod-in-pocket")
    assert hit.numbers["wall"] < 0


@settings(max_examples=12, deadline=None)
@given(
    bore=st.floats(18.0, 60.0),
    end=st.sampled_from(["near", "far"]),
    middle=st.sampled_from(
        [
            {},
            {"spring": SPRING},
            {"foam": PAD},
            {"lanyard": {}},
            {"lanyard": {"cord_diameter": 2.0, "pull": 200.0}},
            {"lanyard": {"cord_diameter": 2.0, "off_axis": 9.0}},
            {"lanyard": {"cord_diameter": 2.0}, "window_diameter": 5.0},
            {"window_diameter": 11.0},
        ]
    ),
    spigot=st.none() | st.floats(10.0, 50.0),
    holes=st.booleans(),
    clock=st.floats(-180.0, 180.0),
)
def test_any_fitting_is_one_body_or_says_why_not(
    bore: float, end: str, middle: dict[str, object], spigot: float | None, holes: bool, clock: float
) -> None:
    keys: dict[str, object] = {"end": end, "clock_deg": clock, **middle}
    if spigot is not None:
        keys["spigot"] = {"length": 6.0, "into_diameter": spigot}
    if holes:
        keys["holes"] = [{"kind": "insert", "count": 2}]
    plan, ctx, recipe = fitting(bore, **keys)
    if any(f.blocks_solids for f in plan.findings):
        return
    body = make(recipe)
    assert len(body.components()) == 1
    assert math.hypot(*body.bounds[1][:2]) <= math.sqrt(2) * ctx.radius + 0.02
    for part in plan.parts:
        inside = solid(placed(part.part.envelope[0], part.frame))
        assert body.common_volume(inside) < 1e-3
