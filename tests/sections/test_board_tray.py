"""The board tray: figures against plane geometry, and against the meshes themselves."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.checks.walls import thin_patches
from chassis_gen.findings import Finding
from chassis_gen.parts.catalogue import find_part
from chassis_gen.parts.model import Part
from chassis_gen.plan.model import OVERLAP, PlacedPart, PlayProbe, SectionPlan, Sector
from chassis_gen.problems import InputError
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.board_tray import KIND, BoardTrayParams, BoardTrayPlan
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.mesh import DEFAULT_CHORD, make, solid
from chassis_gen.shapes.primitives import Box, placed
from chassis_gen.shapes.recipe import Recipe
from tests.helpers import reread
from tests.sections.support import planned, setting

TOLERANCE = DEFAULT_CHORD + 0.005


def params(**keys: object) -> BoardTrayParams:
    return BoardTrayParams.model_validate({"name": "tray", **keys})


def tray(bore: float = 40.0, **keys: object) -> tuple[SectionPlan, SectionContext, Body]:
    plan, ctx, recipe = planned(KIND, params(**keys), bore)
    return plan, ctx, make(recipe)


def detail_of(plan: SectionPlan) -> BoardTrayPlan:
    assert isinstance(plan.detail, BoardTrayPlan)
    return plan.detail


def envelope(part: PlacedPart) -> Body:
    first, *more = (solid(placed(p, part.frame)) for p in part.part.envelope)
    return first.union(*more)


def inside(body: Body, point: tuple[float, float, float]) -> bool:
    """Return whether a speck round a point lies wholly in a body."""
    x, y, z = point
    speck = Box((x - 0.01, y - 0.01, z - 0.01), (x + 0.01, y + 0.01, z + 0.01))
    return body.common_volume(solid(speck)) > 7.9e-6


def finding(plan: SectionPlan, code: str) -> Finding:
    (found,) = (f for f in plan.findings if f.code == code)
    return found


CONNECTORS = [{"side": "left", "width": 6.0}, {"side": "right", "width": 4.0, "offset": -9.0}]


@pytest.mark.parametrize(
    ("bore", "keys"),
    [
        (40.0, {}),
        (23.0, {"wall": 1.2}),
        (40.0, {"clock_deg": 215.0, "front": "near"}),
        (40.0, {"board_height": -6.0, "tape_bands": 2}),
        (40.0, {"hold": "standoffs", "tape": None}),
        (40.0, {"hold": "edge_grooves"}),
        (40.0, {"card": "through", "connector": CONNECTORS}),
        (40.0, {"front": "near", "connector": [{"side": "far", "width": 6.0, "offset": 2.0}]}),
        (30.0, {"part": "radio board"}),
        (40.0, {"part": "radio board", "hold": "edge_grooves", "front": "near"}),
        (40.0, {"part": "radio board", "hold": "standoffs"}),
    ],
)
def test_boards_move_in_their_tray_as_planned(bore: float, keys: dict[str, object]) -> None:
    plan, ctx, body = tray(bore, **keys)
    assert not plan.findings
    assert [c.volume > 0 for c in body.components()] == [True]
    again = reread(body)
    assert again.is_watertight
    assert again.volume == pytest.approx(body.volume, rel=1e-5)
    low, high = body.bounds
    assert max(abs(v) for v in (*low[:2], *high[:2])) <= ctx.radius + DEFAULT_CHORD
    assert (low[2], high[2]) == (ctx.z0, ctx.z1 + OVERLAP)
    (part,) = plan.parts
    mover = envelope(part)
    assert body.common_volume(mover) < 1e-3
    for keepout in part.part.keepouts:
        shared = body.common_volume(solid(placed(keepout.solid, part.frame)))
        assert shared < 1e-3, keepout.name
    for play in part.plays:
        if play.expected is not None:
            got = body.play(mover, play.direction, play.expected)
            assert got == pytest.approx(play.expected, abs=TOLERANCE), play
    way_out = tuple(-v for v in part.way_in)
    assert body.play(mover, way_out, 40.0, 40.0) == 40.0
    # Whatever stands on the board stays under the chassis's outer surface.
    vertices, _ = mover.arrays()
    assert max(math.hypot(x, y) for x, y, _ in vertices) < ctx.radius


def test_the_fits_are_slide_fits_and_measured_along_the_stops() -> None:
    plan, _, _ = tray()
    across, along = plan.fits
    (part,) = plan.parts
    expected = {p.direction: p.expected for p in part.plays}
    for fit in (across, along):
        assert isinstance(fit.probe, PlayProbe)
        assert all(expected[d] == pytest.approx(fit.planned) for d in fit.probe.directions)
        assert fit.as_printed == pytest.approx(0.15, abs=1e-4)
    # 18 + 2 x 0.15 slide + 0.1 printer allowance of the test setting.
    assert detail_of(plan).pocket_width.total == pytest.approx(18.4, abs=1e-4)


def test_the_length_is_walls_pocket_and_the_card_s_travel() -> None:
    plain = KIND.length(params(card="closed"), setting())
    room = KIND.length(params(), setting())
    assert plain is not None
    assert room is not None
    # 2 x 2.4 + 40 + 0.4; the card travels 14 mm and has 0.5 mm to spare.
    assert plain.total == pytest.approx(45.2, abs=1e-3)
    assert room.total - plain.total == pytest.approx(14.5, abs=1e-3)
    # The board's middle, not the tray's, is what an opening pins.
    assert KIND.pin_offset(params(), setting()) == pytest.approx(2.4 + 20.2, abs=1e-3)


def test_the_pocket_s_volume_is_what_the_bar_has_lost() -> None:
    plan, ctx, body = tray(card="closed", tape=None, hold="standoffs", part="radio board")
    detail = detail_of(plan)
    bar = math.pi * ctx.radius**2 * (ctx.length + OVERLAP)
    half, long = detail.pocket_width.total / 2, detail.far - detail.near
    floor = detail.seat_height.total - detail.room_below.total
    # Area between the floor, two upright walls and the circle (plane geometry).
    arc = half * math.sqrt(ctx.radius**2 - half**2) + ctx.radius**2 * math.asin(half / ctx.radius)
    trough = (arc - 2 * half * floor) * long
    # Posts and trimmed rims change it by no more than these blocks.
    posts = 4 * 4.1 * 1.4 * detail.room_below.total
    rims = 2 * 0.7 * 2.5 * (long + 0.6)
    # Wire gates take at most the rest of the segment over the board's underside.
    base = detail.seat_height.total + 0.02
    segment = ctx.radius**2 * math.acos(base / ctx.radius) - base * math.sqrt(ctx.radius**2 - base**2)
    spans = {(o.z0, o.z1) for o in plan.obstacles if o.what == "wire gate"}
    gates = (segment - (arc - 2 * half * base)) * sum(b - a for a, b in spans)
    assert bar - trough - rims - gates <= body.volume <= bar - trough + posts


def test_the_height_of_its_own_accord_is_the_one_for_the_widest_board() -> None:
    plan, _, _ = tray()
    assert plan.facts["board_side_margin_mm"] > 0
    for height in (-8.0, -4.0, 4.0, 8.0):
        other, _, _ = planned(KIND, params(board_height=height))
        assert other.facts["board_side_margin_mm"] < plan.facts["board_side_margin_mm"]


def test_a_board_that_is_too_wide_is_told_the_widest_that_fits() -> None:
    plan, ctx, _ = planned(KIND, params(), 22.0)
    found = finding(plan, "board-too-wide")
    assert found.blocks_solids
    # 18 board + 0.4 clearance + 2 x 1.6 walls.
    assert found.numbers["needed"] == pytest.approx(21.6, abs=1e-3)
    largest = found.numbers["largest_width"]
    assert largest < 18.0
    # Chord at the board's upper edge (plane geometry): seat + rest + 1.6 board + 0.16 tolerance.
    top = detail_of(plan).seat_height.total + 0.02 + 1.76
    assert found.numbers["chord"] == pytest.approx(2 * math.sqrt(ctx.radius**2 - top**2), abs=1e-6)
    # The widest board that would fit, in the same tray, does fit.
    part = resized(find_part("sound board"), "width", math.floor(largest * 100) / 100)
    again = plan_with(ctx, part)
    assert "board-too-wide" not in [f.code for f in again.findings]
    remedy = next(r for r in found.candidates if r.key == "part")
    passed, _, _ = planned(KIND, params(part=remedy.value), 22.0)
    assert not passed.findings


def resized(part: Part, size: str, value: float) -> Part:
    return replace(part, sizes={**part.sizes, size: replace(part.sizes[size], value=value)})


def plan_with(ctx: SectionContext, part: Part) -> SectionPlan:
    return KIND.plan(params(), replace(ctx, setting=replace(ctx.setting, find_part=lambda _: part)))


def test_a_height_that_cannot_be_is_told_one_that_can() -> None:
    plan, _, _ = planned(KIND, params(board_height=13.0))
    found = finding(plan, "board-too-wide")
    (remedy,) = (r for r in found.candidates if r.key == "board_height")
    again, _, _ = planned(KIND, params(board_height=remedy.value))
    assert not again.findings


@pytest.mark.parametrize(
    ("bore", "keys", "code"),
    [
        (40.0, {"hold": "edge_grooves", "part": "radio board"}, "lip-at-antenna"),
        (40.0, {"tape": {"width": 30.0}, "part": "radio board"}, "tape-too-wide"),
        (40.0, {"tape_bands": 3, "part": "radio board"}, "tape-too-wide"),
        (40.0, {"tape_bands": 3}, "tape-too-wide"),  # its remedy keeps two
        (40.0, {"tape": {"thickness": 0.25, "layers": 4}}, "tape-too-deep"),
        (40.0, {"ledge": 0.3}, "ledge-narrow"),
    ],
)
def test_what_cannot_work_is_found_and_its_remedy_passes(
    bore: float, keys: dict[str, object], code: str
) -> None:
    plan, _, _ = planned(KIND, params(**keys), bore)
    found = finding(plan, code)
    assert found.blocks_solids
    remedy = found.candidates[0]
    changed = {k: dict(v) if isinstance(v, dict) else v for k, v in keys.items()}
    *path, last = str(remedy.key).split(".")
    target = changed
    for step in path:
        target = target.setdefault(step, {})  # type: ignore[assignment]
    target[last] = remedy.value
    again, _, _ = planned(KIND, params(**changed), bore)
    assert code not in [f.code for f in again.findings]


def test_posts_stand_at_the_board_s_holes_and_pegs_in_them() -> None:
    part = find_part("radio board")
    holes = {"hole_diameter": 2.0, "hole_pitch_x": 9.0, "hole_pitch_y": 17.0}
    measure = part.sizes["width"]
    sizes = {**part.sizes, **{k: replace(measure, value=v, tolerance=0.0) for k, v in holes.items()}}
    sizes |= {
        k: replace(measure, value=v, tolerance=0.0) for k, v in (("margin_above", 3.0), ("margin_below", 4.5))
    }
    _, ctx, _ = planned(KIND, params(part="radio board", hold="standoffs"))
    held = replace(ctx.setting, find_part=lambda _: replace(part, sizes=sizes, terminals=()))
    here = replace(ctx, setting=held)
    plan = KIND.plan(params(part="radio board", hold="standoffs"), here)
    assert not plan.findings
    peg = detail_of(plan).peg_diameter
    assert peg is not None
    # 2.0 less 2 x 0.30 free and 0.1 printer allowance of the test setting.
    assert peg.total == pytest.approx(1.3, abs=1e-3)
    body = make(Recipe("tray", KIND.recipe(plan, here)))
    assert [c.volume > 0 for c in body.components()] == [True]
    (placed_part,) = plan.parts
    for x in (-4.5, 4.5):
        for y in (-8.5, 8.5):
            assert inside(body, placed_part.frame.point((x, y, 0.5)))
            assert not inside(body, placed_part.frame.point((x + 0.9, y, 0.5)))
            assert inside(body, placed_part.frame.point((x + 1.9, y, -0.1)))
    blocked = replace(part, sizes={**sizes, "margin_below": replace(measure, value=1.0, tolerance=0.0)})
    other = replace(ctx, setting=replace(ctx.setting, find_part=lambda _: blocked))
    assert finding(KIND.plan(params(part="radio board", hold="standoffs"), other), "post-in-components")


def test_pins_over_a_ledge_get_a_relief() -> None:
    part = find_part("sound board")
    far_out = replace(part.terminals[0], position=(-8.0, 0.0, 1.6))
    held = replace(part, terminals=(far_out, *part.terminals[1:]))
    _, ctx, _ = planned(KIND, params())
    here = replace(ctx, setting=replace(ctx.setting, find_part=lambda _: held))
    plan = KIND.plan(params(), here)
    assert detail_of(plan).reliefs
    body = make(Recipe("tray", KIND.recipe(plan, here)))
    frame = plan.parts[0].frame
    assert not inside(body, frame.point((-8.6, 0.0, -0.5)))
    assert inside(body, frame.point((-8.6, 5.0, -0.5)))


def test_a_connector_opens_the_wall_on_its_own_side() -> None:
    plan, _, body = tray(connector=[{"side": "left", "width": 6.0}])
    assert any(isinstance(o.shape, Sector) and o.what == "connector" for o in plan.obstacles)
    middle = plan.features["board middle"][0][2]
    height = plan.parts[0].frame.origin[1] + 3.0
    # Left as seen from the mouth with the top up is +x.
    assert not inside(body, (14.0, height, middle))
    assert inside(body, (-14.0, height, middle))
    assert inside(body, (14.0, height, middle + 5.0))


def test_a_closed_card_slot_is_noted_and_a_part_that_is_no_board_refused() -> None:
    plan, _, _ = planned(KIND, params(card="closed"))
    assert finding(plan, "card-closed").level == "note"
    with pytest.raises(InputError, match="board tray"):
        planned(KIND, params(part="panel button 12 mm"))


def test_terminals_can_be_reached_from_both_sides() -> None:
    plan, _, _ = tray()
    assert {t.id for t in plan.terminals} >= {"tray.battery plus", "tray.speaker minus"}
    blocked = [o.shape for o in plan.obstacles if isinstance(o.shape, Sector)]
    for terminal in plan.terminals:
        right, left = terminal.exits
        assert right[0] < 30 < right[1]
        assert left[0] < 150 < left[1]
        assert all(not s.clock_from < 10 < s.clock_to for s in blocked)


def test_wires_change_their_clock_beside_the_card_s_room() -> None:
    plan, ctx, _ = tray()
    (gallery,) = plan.galleries
    # 14 mm of travel and 0.5 mm to spare, less a least wall of 0.8 mm at each end.
    assert gallery.width == pytest.approx(14.5 - 1.6)
    assert gallery.z + gallery.width / 2 == pytest.approx(ctx.z1 - 2.4 - 0.8, abs=1e-3)
    assert not gallery.open_room
    assert planned(KIND, params(card="through"))[0].galleries == ()


@settings(max_examples=15, deadline=None)
@given(
    bore=st.floats(16.0, 60.0),
    part=st.sampled_from(["sound board", "radio board"]),
    hold=st.sampled_from(["ledges", "standoffs", "edge_grooves"]),
    front=st.sampled_from(["near", "far"]),
    card=st.sampled_from(["room", "through", "closed"]),
    height=st.none() | st.floats(-10.0, 10.0),
    wall=st.floats(0.8, 3.0),
    clock=st.sampled_from([90.0, 0.0, 123.0]),
    bands=st.integers(1, 3),
)
def test_any_tray_is_one_body_or_says_why_not(
    bore: float,
    part: str,
    hold: str,
    front: str,
    card: str,
    height: float | None,
    wall: float,
    clock: float,
    bands: int,
) -> None:
    keys = {"part": part, "hold": hold, "front": front, "card": card, "wall": wall}
    keys["board_height"] = height
    plan, _, recipe = planned(KIND, params(**keys, clock_deg=clock, tape_bands=bands), bore)
    if any(f.blocks_solids for f in plan.findings):
        return
    body = make(recipe)
    assert [c.volume > 0 for c in body.components()] == [True]
    assert reread(body).is_watertight
    (placed_part,) = plan.parts
    assert body.common_volume(envelope(placed_part)) < 1e-3


def test_no_thin_rib_stands_between_a_tape_recess_and_a_wire_gate() -> None:
    plan, ctx, body = tray(36.0, part="radio board")
    (band,) = detail_of(plan).tape

    # the gate beside the radio board's terminals ends 0.1 mm before the band: over the gate's base all is open there
    assert not inside(body, (ctx.radius - 0.6, 4.0, band.z0 - 0.05))
    assert not thin_patches(body, ctx.setting.rules.least_wall - 2 * DEFAULT_CHORD)


def test_a_lip_before_the_card_s_room_is_no_curtain() -> None:
    _, ctx, body = tray(hold="edge_grooves")

    assert not thin_patches(body, ctx.setting.rules.least_wall - 2 * DEFAULT_CHORD)
