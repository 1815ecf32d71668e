"""The port bay: seats, carriers and the cut-off plug measured on the meshes, findings with their numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.findings import Finding
from chassis_gen.plan.model import SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import Opening, SectionContext
from chassis_gen.sections.port_bay import KIND
from chassis_gen.sections.port_bay_model import PortBayParams, PortBayPlan, level_of
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import shifted
from chassis_gen.shapes.mesh import DEFAULT_CHORD, make, solid
from chassis_gen.shapes.primitives import Cylinder
from chassis_gen.shapes.recipe import Recipe
from chassis_gen.tables.wire import insulated_diameter
from tests.sections.seating import TOLERANCE, assert_seated, envelope
from tests.sections.support import planned

# the catalogue's jack: flange 10.5 x 2, body 8 x 11, lugs 5, pin 2.1, mouth 5.6, pin_depth 9.5, contact at 5 mm

CASES: dict[str, dict[str, object]] = {
    "radial": {},
    "radial carrier": {"carrier": True, "clock_deg": 30.0},
    "radial insert": {"carrier": True, "carrier_hole": "insert"},
    "axial": {"mount": "axial"},
    "axial carrier": {"mount": "axial", "carrier": True, "facing": "far"},
    "axial set screw": {"mount": "axial", "carrier": True, "carrier_hole": "set_screw"},
    "axial board": {"mount": "axial", "part": "port board"},
    "radial board": {"part": "port board", "carrier_hole": "insert"},
}


def bay(
    bore: float = 40.0, opening: Opening | None = None, /, **keys: object
) -> tuple[SectionPlan, SectionContext, Recipe]:
    params = PortBayParams.model_validate({"name": "port", **keys})
    axial = params.mount == "axial"
    ends = (axial and params.facing == "near", axial and params.facing == "far")
    return planned(KIND, params, bore, opening=opening, ends=ends, joined=(not ends[0], not ends[1]))


def detail_of(plan: SectionPlan) -> PortBayPlan:
    assert isinstance(plan.detail, PortBayPlan)
    return plan.detail


def head_height(plan: SectionPlan) -> float:
    plug = detail_of(plan).plug
    assert plug is not None
    return plug.head_height.total


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


def codes(plan: SectionPlan) -> set[str]:
    return {f.code for f in plan.findings} - {"port-without-opening"}


def piece(plan: SectionPlan, ending: str) -> Body:
    (extra,) = (e for e in plan.extra_pieces if e.name.endswith(ending))
    return make(Recipe(extra.name, extra.steps))


def test_channels_from_a_radial_port_leave_no_feather_over_them() -> None:
    """Plane geometry: past 30 degrees, the wedge between a channel and the floor is no thin wall."""
    plan, ctx, _ = bay(38.0, clock_deg=0.0)
    d = detail_of(plan)
    floor = level_of(d) - d.depth - d.wire_room.total
    assert all(t.exits for t in plan.terminals)
    for t in plan.terminals:
        for clock in (c for pair in t.exits for c in pair):
            # the top is at clock 0: x is how high, y how far aside
            down = t.position[0] - (ctx.radius - 2.0) * math.cos(math.radians(clock))
            aside = (ctx.radius - 2.0) * math.sin(math.radians(clock)) - t.position[1]
            assert t.position[0] - down < floor
            assert math.degrees(math.atan2(down, abs(aside))) > 30.0


@pytest.mark.parametrize("case", CASES)
def test_the_port_moves_in_its_seat_as_planned(case: str) -> None:
    plan, _, recipe = bay(44.0, **CASES[case])
    assert not codes(plan)
    assert_seated(plan, recipe, "plug")


def test_wires_have_their_bend_radius_behind_the_lugs() -> None:
    plan, _, recipe = bay(mount="axial")
    # body 11 + lugs 5 - plate 3, a wire of 1.8 mm and its bend of 3 diameters (table of wiring rules); 1.8 mm is
    # the table's AWG 22 in silicone, the usual wire
    assert insulated_diameter(22, "silicone") == 1.8
    assert detail_of(plan).wire_room.total == pytest.approx(11 + 5 - 3 + 1.8 + 3 * 1.8, abs=1e-3)
    body = make(recipe)
    lug = plan.terminals[0].position
    (hits,) = body.rays([lug], [(0.0, 0.0, 1.0)])
    assert hits[0].distance == pytest.approx(1.8 * 4, abs=TOLERANCE)


def test_a_radial_port_keeps_under_the_bore_with_its_plug_in() -> None:
    opening = Opening("port", 40.0, 200.0, 12.0)
    plan, ctx, _ = bay(40.0, opening, at_opening="port", carrier=True)
    assert not plan.findings
    origin, axis = plan.features["port axis"]
    c, s = math.cos(math.radians(200.0)), math.sin(math.radians(200.0))
    assert axis == pytest.approx((c, s, 0.0))
    offset = KIND.pin_offset(PortBayParams.model_validate({"name": "port", "carrier": True}), ctx.setting)
    assert origin[2] == pytest.approx(ctx.z0 + offset)
    reach = max(math.hypot(x, y) for x, y, _ in piece(plan, "plug").arrays()[0])
    assert reach < ctx.radius
    # the flat and the grip's notches take the head's widest places away
    assert 20.0 - plan.facts["plug_below_bore_mm"] >= reach - DEFAULT_CHORD
    assert plan.openings == ("port",)


def test_the_plug_is_a_sleeve_that_never_touches_the_jacks_pin() -> None:
    plan, _, _ = bay(mount="axial")
    plug, jack = piece(plan, "plug"), plan.parts[0]
    assert 0.4 <= plan.facts["plug_bore_over_pin_mm"] <= 0.6
    mouth = jack.frame @ shifted(0.0, 0.0, 2.0)
    pin = solid(Cylinder(1.05, -9.5, 0.0, mouth))
    # pin 2.1, bore 2.1 + 0.5 + 0.1 printer: 0.3 mm all round
    assert plug.gap(pin, 1.0) == pytest.approx(0.3, abs=TOLERANCE)
    # a blind bore: on the axis the tip is open and the head is solid
    tip, head = mouth.point((0.0, 0.0, -9.5)), mouth.point((0.0, 0.0, 5.0))
    (from_tip, from_head) = plug.rays([tip, head], [mouth.z_axis, tuple(-v for v in mouth.z_axis)])
    assert from_tip[0].distance == pytest.approx(9.5 + 0.5, abs=1e-3)
    assert len(from_head) == 2
    # nearly to the floor: 9.5 less 0.5 mm; the contact opens at 5 mm
    assert plan.facts["plug_reach_mm"] == pytest.approx(9.0)
    assert plan.facts["plug_past_contact_mm"] == pytest.approx(4.0)
    assert plug.gap(envelope(jack), 1.0) == pytest.approx(0.05, abs=TOLERANCE)


def test_the_plug_lies_on_one_flat_and_takes_a_lanyard() -> None:
    plan, _, _ = bay(mount="axial")
    plug, frame = piece(plan, "plug"), plan.parts[0].frame
    lows = [(y, z) for x, y, z in plug.arrays()[0]]
    bottom = min(y for y, _ in lows)
    on_bed = [z for y, z in lows if y - bottom < 1e-4]
    # sleeve and head: the flat runs over the whole length, 9 mm of reach and the head
    assert max(on_bed) - min(on_bed) == pytest.approx(9.0 + 0.05 + head_height(plan), abs=1e-3)
    # the lanyard's hole goes across the head, 0.55 of its radius over the middle
    middle = frame.point((0.0, 0.55 * 5.25, 2.05 + head_height(plan) / 2))
    (hits,) = plug.rays([(middle[0] - 20.0, middle[1], middle[2])], [(1.0, 0.0, 0.0)])
    assert not hits


def test_a_plug_too_short_for_the_contact_is_refused() -> None:
    plan, _, _ = bay(mount="axial", plug_reach=4.0)
    found = finding(plan, "contact-stays-closed")
    # contact at 5.0 +- 0.5 mm
    assert found.numbers == pytest.approx({"reach": 4.0, "needed": 5.5})
    assert found.candidates[0].value == pytest.approx(5.5)
    deep = finding(bay(mount="axial", plug_reach=12.0)[0], "plug-too-long")
    assert deep.numbers == pytest.approx({"reach": 12.0, "depth": 9.5})


def test_a_plug_that_stands_out_of_the_end_cap_is_refused() -> None:
    plan, _, _ = bay(mount="axial", recess=0.0)
    found = finding(plan, "plug-high")
    # the head: hole 1.5 mm and two walls of 0.8 mm, 0.05 mm off the flange
    assert found.numbers["beyond"] == pytest.approx(3.15, abs=1e-3)
    assert not codes(bay(mount="axial", recess=found.candidates[0].value)[0])
    assert not codes(bay(mount="axial", recess=0.0, cap_room=3.5)[0])


def test_what_cannot_be_is_told() -> None:
    small = Opening("port", 40.0, 90.0, 8.0)
    found = finding(bay(40.0, small, at_opening="port")[0], "opening-small")
    assert found.numbers == {"opening": 8.0, "needed": 10.5}
    for mount in ("axial", "radial"):
        board = finding(bay(mount=mount, part="port board", carrier=False)[0], "board-needs-carrier")
        assert (board.candidates[0].key, board.candidates[0].value) == ("carrier", True)
    kind = finding(bay(carrier=True, carrier_hole="set_screw")[0], "screw-kind")
    assert kind.candidates[0].value == "tapped"
    thick = finding(bay(mount="axial", plate=10.0)[0], "thread-short")
    # body 11 mm less a nut of 2 mm
    assert thick.numbers == {"plate": 10.0, "most": 9.0}
    deep = finding(bay(24.0)[0], "port-deep")
    assert deep.blocks_solids
    with pytest.raises(InputError) as error:
        bay(part="speaker 32 mm")
    assert error.value.problems[0].code == "wrong-part-kind"


def test_an_axial_port_inside_the_chassis_is_covered() -> None:
    params = PortBayParams.model_validate({"name": "port", "mount": "axial"})
    plan, _, _ = planned(KIND, params, ends=(False, True))
    found = finding(plan, "port-covered")
    assert [(c.key, c.value) for c in found.candidates] == [("facing", "far"), ("mount", "radial")]


@settings(max_examples=8, deadline=None)
@given(
    bore=st.floats(18.0, 70.0),
    case=st.sampled_from(sorted(CASES)),
    thread=st.sampled_from(["M2", "M3", "M4"]),
    plate=st.none() | st.floats(1.0, 8.0),
    wire=st.floats(0.8, 3.0),
    clock=st.floats(-180.0, 180.0),
)
def test_any_port_is_sound_or_says_why_not(
    bore: float, case: str, thread: str, plate: float | None, wire: float, clock: float
) -> None:
    keys = {"carrier_thread": thread, "plate": plate, "wire_diameter": wire, "clock_deg": clock}
    plan, ctx, recipe = bay(bore, **{**CASES[case], **keys})
    if any(f.blocks_solids for f in plan.findings):
        return
    made = assert_seated(plan, recipe, "plug")
    for body in made:
        assert max(math.hypot(x, y) for x, y, _ in body.arrays()[0]) <= ctx.radius + 0.02
