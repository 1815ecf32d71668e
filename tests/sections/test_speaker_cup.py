"""Speaker cup and resonance cap: what is promised in the plan is measured on the solids."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from pydantic import ValidationError

from chassis_gen.params.codes import CODES
from chassis_gen.plan.model import GapProbe, Outer, OuterStep, SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.features.bayonet import TURN_DEG
from chassis_gen.sections.speaker_cup import KIND
from chassis_gen.sections.speaker_cup_model import SpeakerCupParams, SpeakerCupPlan
from chassis_gen.shapes import mesh
from chassis_gen.shapes.frame import clocked
from chassis_gen.shapes.mesh import DEFAULT_CHORD, Body
from chassis_gen.shapes.recipe import Recipe, add
from tests.sections.support import planned

TOLERANCE = DEFAULT_CHORD + 0.005


def params(**keys: Any) -> SpeakerCupParams:
    return SpeakerCupParams(**{"kind": "speaker_cup", "name": "speaker", "part": "speaker 32 mm", **keys})


def cup(bore: float = 38.0, **keys: Any) -> tuple[SectionPlan, SectionContext, Recipe]:
    far = keys.get("facing") == "far"
    return planned(KIND, params(**keys), bore, joined=(far, not far), ends=(not far, far))


def solids(plan: SectionPlan, recipe: Recipe) -> tuple[Body, Body, list[Body]]:
    """The cup, the speaker's envelope in its seat, and the caps."""
    seated = plan.parts[0]
    speaker = mesh.make(Recipe("speaker", add("part", *seated.part.envelope))).transformed(seated.frame)
    return mesh.make(recipe), speaker, [mesh.make(Recipe(e.name, e.steps)) for e in plan.extra_pieces]


def detail(plan: SectionPlan) -> SpeakerCupPlan:
    assert isinstance(plan.detail, SpeakerCupPlan)
    return plan.detail


def blocked(plan: SectionPlan) -> bool:
    return any(f.blocks_solids for f in plan.findings)


def assert_one_sound_body(body: Body) -> None:
    assert [c.volume > 0 for c in body.components()] == [True]


@pytest.mark.parametrize("facing", ["near", "far"])
def test_what_stands_before_the_cap_lets_the_sound_of_its_ports_out(facing: str) -> None:
    """Six ports of 3 mm, the default, have 6 x pi / 4 x 3^2 mm2, as much as one hole of 3 x sqrt(6) mm."""
    plan, ctx, _ = cup(42.0, cap="round", facing=facing)
    assert plan.facts["port_area_mm2"] == pytest.approx(6 * math.pi / 4 * 9)

    def told(window: float | None) -> list[str]:
        before = {f"window_{facing}": window}
        made = KIND.plan(params(cap="round", facing=facing), replace(ctx, **before))
        return [f.code for f in made.findings]

    assert told(None) == [] == told(3 * math.sqrt(6) + 1e-6)
    assert told(3 * math.sqrt(6) - 0.01) == ["sound-covered"] == told(0.0)


@pytest.mark.parametrize("facing", ["near", "far"])
@pytest.mark.parametrize("cap", ["round", "face", "none"])
def test_speaker_sits_as_planned(facing: str, cap: str) -> None:
    plan, _, recipe = cup(cap=cap, facing=facing)
    assert plan.findings == ()
    body, speaker, caps = solids(plan, recipe)
    for piece in (body, *caps):
        assert_one_sound_body(piece)
        assert piece.common_volume(speaker) < 1e-3
    for play in plan.parts[0].plays:
        limit = 60.0 if play.expected is None else 5.0
        measured = body.play(speaker, play.direction, play.expected or 0.0, limit)
        assert measured == pytest.approx(60.0 if play.expected is None else play.expected, abs=TOLERANCE)


def test_rim_seat_is_the_labelled_sum() -> None:
    # 32 + 2 x 0.05 snug + 0.1 allowance of an uncalibrated printer (the starting values)
    seat = detail(cup()[0]).rim_seat_diameter
    assert seat.name == "speaker.rim_seat_diameter"
    assert seat.total == pytest.approx(32.2, abs=1e-4)
    assert seat.term("part size") == 32.0


def test_length_adds_up_cap_speaker_back_volume_and_wall() -> None:
    # 1.6 plate + 5 chamber + 9 speaker + 6 behind it + 2.4 wall, by hand
    assert detail(cup()[0]).length.total == pytest.approx(24.0, abs=1e-4)
    assert detail(cup(cap="none")[0]).length.total == pytest.approx(17.4, abs=1e-4)


@pytest.mark.parametrize("facing", ["near", "far"])
@pytest.mark.parametrize(("cap", "bore"), [("round", 38.0), ("face", 36.0)])
def test_cap_keeps_its_planned_gap(facing: str, cap: str, bore: float) -> None:
    plan, ctx, recipe = cup(bore, cap=cap, facing=facing)
    body, _, (lid,) = solids(plan, recipe)
    fit = plan.fits[1]
    assert isinstance(fit.probe, GapProbe)
    assert fit.probe.a == "speaker-cap"

    def crop(b: Body) -> Body:
        return b.cropped((-50, -50, fit.probe.z0), (50, 50, fit.probe.z1))

    assert crop(lid).gap(crop(body), 2.0) == pytest.approx(fit.planned, abs=TOLERANCE)
    # by hand: 0.05 snug, half of 0.1 for each of the two printed sizes
    assert fit.planned == pytest.approx(0.15, abs=1e-4)
    assert fit.as_printed == pytest.approx(0.05, abs=1e-4)
    (x0, y0, z0), (x1, y1, z1) = lid.union(body).bounds
    assert max(-x0, -y0, x1, y1) <= ctx.radius + DEFAULT_CHORD
    open_end = z0 if facing == "near" else z1
    assert open_end == pytest.approx(ctx.z0 if facing == "near" else ctx.z1, abs=1e-4)


def test_back_volume_is_what_the_solids_leave_free() -> None:
    for keys in ({}, {"cap_hold": "screws"}, {"cap": "none", "back_depth": 15}):
        plan, ctx, recipe = cup(40.0, **keys)
        body, speaker, _ = solids(plan, recipe)
        at = detail(plan).at
        bar = body.hull().cropped((-50, -50, ctx.z0 + at.ledge), (50, 50, ctx.z0 + at.back))
        free = bar.cut(body).cropped((-16, -16, ctx.z0), (16, 16, ctx.z1)).cut(speaker)
        holes = sum(math.pi / 4 * h.diameter.total**2 * h.depth for h in detail(plan).screws)
        volume = plan.facts["back_volume_cm3"] * 1000
        inside = max(c.volume for c in free.components())
        assert inside == pytest.approx(volume, rel=2e-3), (keys, holes)


def test_port_area_and_ports_in_the_plate() -> None:
    plan, ctx, recipe = cup(ports={"count": 5, "diameter": 4.0})
    _, _, (lid,) = solids(plan, recipe)
    # five discs of 4 mm, closed form
    assert plan.facts["port_area_mm2"] == pytest.approx(5 * math.pi * 4, rel=1e-9)
    drawn = 5 * math.pi / 4 * detail(plan).port_diameter.total ** 2  # type: ignore[union-attr]
    bar = math.pi * ctx.radius**2
    assert bar - lid.slice_area(ctx.z0 + 0.8) == pytest.approx(drawn, rel=5e-3)
    assert lid.genus == 5


def test_a_36_mm_speaker_with_a_round_cap_does_not_fit_38_mm_and_the_remedy_does() -> None:
    plan, _, _ = cup(part="speaker 36 mm")
    (finding,) = plan.findings
    assert (finding.code, finding.level, finding.blocks_solids) == ("radial-sum", "error", True)
    # by hand: 18 + 0.05 + 0.05 + 1.2 + 0.05 + 0.05 + 1.2 against 38 / 2 - 0.2
    assert finding.numbers["needed_radius"] == pytest.approx(20.6, abs=1e-3)
    assert finding.numbers["outer_radius"] == pytest.approx(18.8, abs=1e-3)
    assert finding.numbers["largest_rim_diameter"] == pytest.approx(32.4, abs=1e-3)
    assert "20.60 mm = 18.00 rim radius + 0.05 rim clearance" in finding.message
    assert 'largest speaker: "speaker 32 mm"' in finding.message
    # a face cap needs 18 + 0.05 + 0.05 + 1.2 = 19.3 and is honestly not offered
    assert "a face cap held by friction needs 19.30 and does not fit either" in finding.message
    remedy, words = finding.candidates
    assert (remedy.key, remedy.value) == ("part", "speaker 32 mm")
    # by hand: 38 + 2 x (20.6 - 18.8), up to a tenth
    assert (words.key, words.text) == (None, "a tube with a bore of 41.6 mm or more, or a smaller speaker")
    assert cup(part=remedy.value)[0].findings == ()


@pytest.mark.parametrize(
    ("bore", "keys", "first"),
    [
        (42.0, {"part": "speaker 40 mm", "cap": "none"}, ("part", "speaker 36 mm")),
        (40.0, {"part": "speaker 36 mm"}, ("cap", "face")),
        (38.0, {"cap_hold": "bayonet"}, ("cap_hold", "friction")),
        (39.0, {"cap": "face", "cap_hold": "screws"}, ("cap_hold", "friction")),
    ],
)
def test_radial_remedies_pass_when_applied(bore: float, keys: dict[str, Any], first: tuple[str, str]) -> None:
    (finding,) = cup(bore, **keys)[0].findings
    assert finding.code == "radial-sum"
    assert (finding.candidates[0].key, finding.candidates[0].value) == first
    assert finding.candidates[-1].key is None
    for remedy in finding.candidates[:-1]:
        assert cup(bore, **{**keys, str(remedy.key): remedy.value})[0].findings == (), remedy


@pytest.mark.parametrize("facing", ["near", "far"])
@pytest.mark.parametrize("lugs", [2, 3])
@pytest.mark.parametrize("cap", ["round", "face"])
def test_bayonet_turns_on_and_holds(cap: str, lugs: int, facing: str) -> None:
    plan, _, recipe = cup(41.0, cap=cap, cap_hold="bayonet", bayonet_lugs=lugs, facing=facing)
    assert plan.findings == ()
    body, _, (lid,) = solids(plan, recipe)
    assert_one_sound_body(body)
    assert_one_sound_body(lid)
    out = -plan.extra_pieces[0].way_in[2]
    sense = 1.0 if facing == "near" else -1.0
    turn = TURN_DEG[lugs]

    def clash(turned: float, pulled: float) -> float:
        return body.common_volume(lid.transformed(clocked(sense * turned)).moved((0.0, 0.0, out * pulled)))

    assert max(clash(turn * k / 6, 0.0) for k in range(7)) < 1e-3
    assert max(clash(turn, 0.75 * k) for k in range(16)) < 1e-3
    assert clash(0.0, 1.0) > 1.0
    assert clash(-4.0, 0.0) > 0.5


@pytest.mark.parametrize(("cap", "bore"), [("round", 40.0), ("face", 44.0)])
def test_screws_of_cap_and_cup_share_their_axes(cap: str, bore: float) -> None:
    plan, _, recipe = cup(bore, cap=cap, cap_hold="screws", cap_screws=3)
    assert plan.findings == ()
    body, speaker, (lid,) = solids(plan, recipe)
    assert_one_sound_body(body)
    assert_one_sound_body(lid)
    assert body.common_volume(speaker) < 1e-3
    assert body.play(speaker, (0.0, 0.0, -1.0), 0.0, 60.0) == 60.0
    # thread-forming holes bear on two diameters in plastic (common practice, no standard)
    inside = [h for h in plan.holes if h.piece == "chassis"]
    outside = [h for h in plan.holes if h.piece == "speaker-cap"]
    for a, b in zip(inside, outside, strict=True):
        assert a.engagement == pytest.approx(4.0)
        assert a.frame.z_axis == b.frame.z_axis
        start, along = b.frame.origin, b.frame.z_axis
        (hits,) = body.rays([start], [along])
        # a free line down both axes meets only the bottom of the cup's hole
        assert hits[0].distance == pytest.approx(
            math.dist(start, a.frame.point((0.0, 0.0, a.depth))), abs=TOLERANCE
        )
        assert not lid.rays([start], [along])[0] or lid.rays([start], [along])[0][0].distance > 20
    assert plan.hardware[0].count == 3


def test_wires_leave_behind_cap_and_basket_and_pass_the_magnet() -> None:
    plan, ctx, recipe = cup()
    body, _, _ = solids(plan, recipe)
    at, magnet = detail(plan).at, plan.parts[0].part.size("magnet_diameter") / 2
    assert [t.id for t in plan.terminals] == ["speaker.plus", "speaker.minus"]
    for t in plan.terminals:
        x, y, z = t.position
        # by hand: a wall of 0.8 and half the way out of 2.6 behind the shoulder
        assert z == pytest.approx(ctx.z0 + at.shoulder + 0.8 + 1.3, abs=1e-3)
        assert z > ctx.z0 + at.rim_front + plan.parts[0].part.size("basket_depth")
        assert math.hypot(x, y) < detail(plan).bore_diameter.total / 2
        for clock in t.exits[0]:
            way = math.radians(clock)
            ex, ey = ctx.radius * math.cos(way), ctx.radius * math.sin(way)
            # distance of the straight way out from the axis, plane geometry
            assert abs(x * ey - y * ex) / math.hypot(ex - x, ey - y) >= magnet
            (hits,) = body.rays([t.position], [(ex - x, ey - y, 0.0)])
            assert hits[-1].distance == pytest.approx(math.hypot(ex - x, ey - y), abs=TOLERANCE)


def test_lead_in_gets_its_room_as_a_term_of_the_length() -> None:
    length = detail(cup(cap_overlap=20)[0]).length
    assert length.term("room for the wires' way out") > 0


def test_relieved_outer_surface_is_never_exceeded() -> None:
    _, ctx, _ = cup(40.0)
    steps = (
        OuterStep(-40.0, 20.0, 19.8, True),
        OuterStep(20.0, 30.0, 19.4, False),
        OuterStep(30.0, 99.0, 19.8, True),
    )
    stepped = replace(ctx, outer=Outer(steps))
    for keys in ({}, {"cap_hold": "screws"}, {"cap_hold": "bayonet", "cap": "face"}):
        plan = KIND.plan(params(**keys), stepped)
        assert plan.findings == ()
        body, _, (lid,) = solids(plan, Recipe("speaker", KIND.recipe(plan, stepped)))
        assert_one_sound_body(body)
        assert_one_sound_body(lid)
        for z in (24.0, 27.0):
            for piece in (body, lid):
                reach = max((math.hypot(*p) for q in piece.slice_polygons(z) for p in q), default=0.0)
                assert reach <= 19.4 + DEFAULT_CHORD


def test_a_relieved_cup_without_room_is_told_to_bear() -> None:
    _, ctx, _ = cup()
    steps = (OuterStep(0.0, 20.0, 18.8, True), OuterStep(20.0, 60.0, 18.4, False))
    (finding,) = KIND.plan(params(bearing=False), replace(ctx, outer=Outer(steps))).findings
    assert finding.code == "radial-sum"
    assert (finding.candidates[0].key, finding.candidates[0].value) == ("bearing", True)


def test_flat_that_cuts_the_cup_is_found() -> None:
    _, ctx, _ = cup(cap="none")
    flat = replace(ctx, outer=replace(ctx.outer, flat_distance=16.6))
    (finding,) = KIND.plan(params(cap="none"), flat).findings
    # 16.6 less half of 32.2
    assert finding.code == "flat-wall"
    widths = [c.value for c in finding.candidates if c.key == "bearing.flat_width"]
    assert 0.0 in widths
    # Pythagoras: each flat stays clear of the seat by the least wall
    radius, seat = min(s.radius for s in ctx.outer.steps), 16.1
    assert all(math.sqrt(radius**2 - (w / 2) ** 2) >= seat + 0.8 for w in widths if isinstance(w, float))
    assert finding.numbers["wall"] == pytest.approx(0.5, abs=1e-3)


@pytest.mark.parametrize(
    ("bore", "keys", "code", "numbers"),
    [
        (38.0, {"chamber_depth": 2.0, "part": "speaker 28 mm", "foam_gap": 0.1}, None, {}),
        (38.0, {"cap_wall": 0.5}, "wall-thin", {"wall": 0.5, "least_wall": 0.8}),
        (38.0, {"ports": {"count": 30, "diameter": 4.0}}, "port-room", {"largest_reach": 13.25}),
        (38.0, {"ports": {"count": 2, "diameter": 3, "circle_diameter": 3}}, "port-room", {"pitch": 3.0}),
        (42.0, {"cap_hold": "bayonet", "cap_overlap": 2.0}, "bayonet-room", {"overlap": 2.0}),
        (
            42.0,
            {"cap": "face", "cap_hold": "bayonet", "chamber_depth": 3.0},
            "bayonet-room",
            {"overlap": 2.7},
        ),
    ],
)
def test_what_can_not_work_is_found(
    bore: float, keys: dict[str, Any], code: str | None, numbers: dict[str, float]
) -> None:
    plan = cup(bore, **keys)[0]
    assert [f.code for f in plan.findings] == ([code] if code else [])
    for finding in plan.findings:
        for name, value in numbers.items():
            assert finding.numbers[name] == pytest.approx(value, abs=2e-3)
        changed = {**keys, str(finding.candidates[0].key): finding.candidates[0].value}
        again = cup(bore, **changed)[0]
        assert code not in [f.code for f in again.findings] or len(finding.candidates) > 1


def test_a_closed_way_in_is_found() -> None:
    plan, _, _ = planned(KIND, params(), 38.0, joined=(True, False))
    assert [f.code for f in plan.findings] == ["way-in-blocked"]
    assert plan.findings[0].candidates[0].value == "far"


def test_a_part_of_another_kind_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        cup(part="panel button 12 mm")
    (problem,) = caught.value.problems
    assert (problem.code, problem.key) == ("not-allowed", "part")
    assert problem.code in CODES


def test_ports_and_grille_exclude_each_other() -> None:
    with pytest.raises(ValidationError):
        params(ports={}, grille={})


@settings(max_examples=15, deadline=None)
@given(
    part=st.sampled_from([20, 23, 28, 32, 36, 40]),
    spare=st.floats(1.5, 9.0),
    cap=st.sampled_from(["round", "face", "none"]),
    hold=st.sampled_from(["friction", "screws", "bayonet"]),
    facing=st.sampled_from(["near", "far"]),
    chamber=st.floats(2.0, 12.0),
    back=st.floats(0.5, 20.0),
    wall=st.floats(0.8, 2.0),
    overlap=st.one_of(st.none(), st.floats(1.0, 12.0)),
    count=st.integers(1, 10),
    clock=st.integers(0, 359),
)
def test_any_accepted_cup_is_one_body_with_its_speaker_free(
    part: int, spare: float, cap: str, hold: str, facing: str, chamber: float, back: float, wall: float,
    overlap: float | None, count: int, clock: int,
) -> None:  # fmt: skip
    plan, _, recipe = cup(
        part + 2 * spare, part=f"speaker {part} mm", cap=cap, cap_hold=hold, facing=facing,
        chamber_depth=chamber,
        back_depth=back, cup_wall=wall, cap_overlap=overlap, ports={"count": count, "diameter": 2.0},
        clock_deg=float(clock),
    )  # fmt: skip
    if blocked(plan):
        return
    body, speaker, caps = solids(plan, recipe)
    for piece in (body, *caps):
        assert_one_sound_body(piece)
        assert piece.common_volume(speaker) < 1e-3
    for lid in caps:
        assert body.common_volume(lid) < 1e-3
    out = tuple(-v for v in plan.parts[0].way_in)
    assert body.play(speaker, (out[0], out[1], out[2]), 0.0, 40.0) == 40.0


def test_a_grille_whose_webs_print_too_thin_gets_wider_ones() -> None:
    grille = {"hole_diameter": 3.0, "web": 0.6}
    (finding,) = cup(38.0, grille=grille)[0].findings
    assert finding.code == "port-room"
    wider, smaller, words = finding.candidates
    assert (wider.key, words.key) == ("grille.web", None)
    assert cup(38.0, grille={**grille, "web": wider.value})[0].findings == ()
    assert cup(38.0, grille=smaller.value)[0].findings == ()
