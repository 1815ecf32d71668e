"""Part kinds: each frame as its kind states it; expected places follow from the sizes (geometry, calc)."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.parts import kinds as kinds_module
from chassis_gen.parts.catalogue import catalogue, find_part, overridden, part_extent
from chassis_gen.parts.extent import Extent, extent_of
from chassis_gen.parts.kinds import KINDS, make_part
from chassis_gen.parts.model import Measure, Part
from chassis_gen.problems import InputError
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.mesh import make, solid
from chassis_gen.shapes.recipe import Recipe, add


def made(kind: str, **sizes: float) -> Part:
    return make_part("x", kind, "x", {n: Measure(v) for n, v in sizes.items()}, 1.0)


def place(part: Part, terminal: str) -> Vec3:
    found = part.terminal(terminal)
    assert found is not None
    return found.position


def way(part: Part, terminal: str) -> Vec3:
    found = part.terminal(terminal)
    assert found is not None
    return found.direction


def room(part: Part, keepout: str) -> Extent:
    (found,) = [k for k in part.keepouts if k.name == keepout]
    return extent_of(found.solid)


def volume(part: Part) -> float:
    return make(Recipe("x", add("envelope", *part.envelope))).volume


def bar(diameter: float, length: float) -> float:
    return math.pi * diameter**2 / 4 * length


SPEAKER = {
    "rim_diameter": 32.0, "rim_thickness": 2.0, "basket_diameter": 28.0, "basket_depth": 5.0,
    "magnet_diameter": 18.0, "depth": 9.0,
}  # fmt: skip
BUTTON = {
    "head_diameter": 14.0, "head_height": 2.0, "body_diameter": 12.0, "body_depth": 15.0,
    "nut_across_flats": 14.0, "nut_across_corners": 16.0, "nut_height": 2.0, "travel": 1.5, "lug_length": 4.0,
}  # fmt: skip
BOARD = {"width": 18.0, "length": 40.0, "thickness": 1.6, "height_above": 4.5, "height_below": 1.5}


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda k: k.name)
def test_kind_is_documented(kind) -> None:  # type: ignore[no-untyped-def]
    assert f"``{kind.name}``" in (kinds_module.__doc__ or "")
    assert kind.frame
    assert len(set(kind.size_names)) == len(kind.rules)
    for rule in kind.rules:
        assert rule.meaning and rule.unit in ("mm", "N", "count")
        assert rule.low < rule.high
        assert rule.default is None or rule.low <= rule.default <= rule.high
    assert all(kind.rule(n).optional for group in kind.together for n in group)


@pytest.mark.parametrize("kind", KINDS)
def test_every_missing_size_is_named(kind: str) -> None:
    with pytest.raises(InputError) as error:
        make_part("x", kind, "x", {}, 1.0)
    named = {p.key for p in error.value.problems if p.code == "missing-key"}
    assert named == {f"sizes.{r.name}" for r in KINDS[kind].rules if r.required}


def test_cell_runs_from_minus_to_plus() -> None:
    cell = made("cell", diameter=18.4, length=65.0)
    assert part_extent(cell) == ((-9.2, -9.2, 0.0), (9.2, 9.2, 65.0))
    assert (place(cell, "minus"), way(cell, "minus")) == ((0, 0, 0), (0, 0, -1))
    assert (place(cell, "plus"), way(cell, "plus")) == ((0, 0, 65), (0, 0, 1))


def test_pack_leads_leave_at_its_far_end() -> None:
    pack = made("wired_pack", diameter=19.0, length=67.0, lead_spacing=5.0, lead_exit_length=7.0)
    assert (place(pack, "plus"), place(pack, "minus")) == ((2.5, 0, 67), (-2.5, 0, 67))
    assert room(pack, "lead exit") == ((-9.5, -9.5, 67.0), (9.5, 9.5, 74.0))


def test_speaker_is_rim_basket_and_magnet() -> None:
    speaker = made("speaker", **SPEAKER)
    assert part_extent(speaker) == ((-16.0, -16.0, 0.0), (16.0, 16.0, 9.0))
    # closed form: three stacked bars, each as far as its own depth
    assert volume(speaker) == pytest.approx(bar(32, 2) + bar(28, 3) + bar(18, 4), rel=1e-6)
    assert speaker.keepouts == ()
    for name, x in (("plus", 3.0), ("minus", -3.0)):
        assert place(speaker, name) == (x, -(18 + 28) / 4, 5.0)
        assert 18 / 2 < math.hypot(*place(speaker, name)[:2]) < 28 / 2
        assert way(speaker, name) == (0, 0, 1)


def test_speaker_cone_moves_in_front() -> None:
    speaker = made("speaker", **SPEAKER, cone_diameter=27.0, cone_travel=1.2)
    assert room(speaker, "cone travel") == ((-13.5, -13.5, -1.2), (13.5, 13.5, 0.0))


def test_board_lies_on_its_underside() -> None:
    board = made("board", **BOARD)
    assert part_extent(board) == ((-9.0, -20.0, -1.5), (9.0, 20.0, 6.1))
    # closed form: plate, box above inset by 1 each side, box below inset by 1.5
    assert volume(board) == pytest.approx(18 * 40 * 1.6 + 16 * 38 * 4.5 + 15 * 37 * 1.5)


def test_bare_board_is_its_plate() -> None:
    bare = made("board", **{**BOARD, "height_above": 0.0, "height_below": 0.0})
    assert volume(bare) == pytest.approx(18 * 40 * 1.6)


def test_board_keepouts() -> None:
    board = find_part("sound board")
    assert room(board, "card slot") == ((-6.0, 20.0, 1.6), (6.0, 34.0, 3.6))
    low, high = room(board, "pins")
    assert low == pytest.approx((-5.08 - 0.9, -18.2 - 0.9, -1.5))
    assert high == pytest.approx((5.08 + 0.9, -15.66 + 0.9, 0.0))
    assert room(find_part("radio board"), "antenna") == ((-6.0, 10.0, 0.0), (6.0, 13.0, 3.4))


def test_tactile_board() -> None:
    board = made(
        "tactile_board", width=10, length=14, thickness=1.6, height_above=3.6, height_below=1.0,
        actuator_diameter=3.5, actuator_height=5.0, travel=0.25, pin_length=3.0,
    )  # fmt: skip
    assert part_extent(board) == ((-5.0, -7.0, -3.0), (5.0, 7.0, 6.6))
    assert (place(board, "a"), place(board, "b")) == ((2.5, -5.0, -3.0), (-2.5, -5.0, -3.0))
    assert way(board, "a") == (0, 0, -1)
    assert room(board, "actuator travel") == ((-1.75, -1.75, 6.35), (1.75, 1.75, 6.6))


def test_contact_board_faces_the_light_tube() -> None:
    board = find_part("contact board")
    assert part_extent(board) == ((-12.0, -12.0, 0.0), (12.0, 12.0, 5.6))
    assert place(board, "plus") == (6.0, 0.0, 0.0)
    assert place(board, "minus") == pytest.approx((-3.0, 6 * math.sqrt(3) / 2, 0.0))
    assert place(board, "data") == pytest.approx((-3.0, -6 * math.sqrt(3) / 2, 0.0))
    assert {t.direction for t in board.terminals} == {(0, 0, -1)}
    assert volume(board) == pytest.approx(bar(24, 1.6) + 3 * bar(1.5, 4.0), rel=1e-6)
    low, high = room(board, "pin travel")
    assert (low[2], high[2]) == pytest.approx((4.1, 5.6))


def test_led_slug_stands_on_its_heat_path() -> None:
    slug = made("led_slug", slug_diameter=20, slug_thickness=1.6, dome_diameter=8, height=6)
    assert part_extent(slug) == ((-10, -10, 0), (10, 10, 6))
    assert (place(slug, "plus"), way(slug, "plus")) == ((8.5, 0, 1.6), (1, 0, 0))
    assert (place(slug, "minus"), way(slug, "minus")) == ((-8.5, 0, 1.6), (-1, 0, 0))
    assert "bright_light" in slug.cautions


def test_round_led_shines_along_z() -> None:
    led = made(
        "led_round", body_diameter=5, flange_diameter=5.8, flange_thickness=1, length=8.7, lead_spacing=2.54
    )
    assert part_extent(led) == ((-2.9, -2.9, -6.0), (2.9, 2.9, 8.7))
    assert place(led, "plus") == (1.27, 0, -6)
    assert way(led, "plus") == (0, 0, -1)
    # closed form: flange, body over it and two round leads under it
    assert volume(led) == pytest.approx(bar(5.8, 1) + bar(5, 7.7) + 2 * bar(0.7, 6), rel=1e-6)


def test_panel_button_hangs_from_its_seat_plane() -> None:
    button = made("panel_button", **BUTTON)
    assert part_extent(button) == ((-7.0, -7.0, -19.0), (7.0, 7.0, 2.0))
    assert (place(button, "a"), place(button, "b")) == ((0, 2.5, -19), (0, -2.5, -19))
    assert room(button, "actuator travel") == ((-7.0, -7.0, 2.0), (7.0, 7.0, 3.5))


def test_anti_turn_flat_is_on_the_plus_x_side() -> None:
    button = made("panel_button", **BUTTON, flat_depth=0.8)
    body = solid(button.envelope[1])
    assert body.bounds[0][0] == pytest.approx(-6.0, abs=0.01)
    assert body.bounds[1][0] == pytest.approx(12.0 - 0.8 - 6.0, abs=1e-6)
    # closed form of the segment that the flat takes off: r^2 acos(d/r) - d sqrt(r^2 - d^2)
    r, d = 6.0, 5.2
    segment = r**2 * math.acos(d / r) - d * math.sqrt(r**2 - d**2)
    assert body.slice_area(-10.0) == pytest.approx(math.pi * r**2 - segment, rel=1e-3)


def test_charge_jack_opens_outward() -> None:
    jack = find_part("charge jack")
    assert part_extent(jack) == ((-5.25, -5.25, -16.0), (5.25, 5.25, 2.0))
    assert {t.name for t in jack.terminals} == {"plus", "minus", "switched"}
    assert {t.position[2] for t in jack.terminals} == {-16.0}
    assert room(jack, "plug") == ((-5.0, -5.0, 2.0), (5.0, 5.0, 34.0))
    assert "charging" in jack.cautions


@pytest.mark.parametrize(
    ("kind", "sizes", "culprit"),
    [
        ("speaker", {**SPEAKER, "basket_diameter": 33.0}, "basket_diameter"),
        ("speaker", {**SPEAKER, "magnet_diameter": 28.5}, "magnet_diameter"),
        ("speaker", {**SPEAKER, "basket_depth": 9.5}, "basket_depth"),
        ("speaker", {**SPEAKER, "rim_thickness": 5.5}, "rim_thickness"),
        ("speaker", {**SPEAKER, "terminal_spacing": 17.0}, "terminal_spacing"),
        ("panel_button", {**BUTTON, "body_diameter": 14.0 - 1e-9, "nut_across_flats": 13.0}, "body_diameter"),
        ("panel_button", {**BUTTON, "head_diameter": 11.0}, "body_diameter"),
        ("panel_button", {**BUTTON, "nut_across_corners": 13.9}, "nut_across_flats"),
        ("panel_button", {**BUTTON, "flat_depth": 3.5}, "flat_depth"),
        ("panel_button", {**BUTTON, "lug_spacing": 10.0}, "lug_spacing"),
        ("board", {**BOARD, "margin_above": 9.0}, "margin_above"),
        (
            "board",
            {**BOARD, "hole_diameter": 2.0, "hole_pitch_x": 17.0, "hole_pitch_y": 36.0},
            "hole_pitch_x",
        ),
        ("wired_pack", {"diameter": 10.0, "length": 40.0, "lead_spacing": 11.0}, "lead_spacing"),
    ],
)
def test_contradicting_sizes_are_refused(kind: str, sizes: dict[str, float], culprit: str) -> None:
    with pytest.raises(InputError) as error:
        made(kind, **sizes)
    assert f"sizes.{culprit}" in {p.key for p in error.value.problems}
    assert {p.code for p in error.value.problems} == {"not-allowed"}


@st.composite
def resized_parts(draw: st.DrawFn) -> tuple[Part, dict[str, float]]:
    """Return a generic part and some of its sizes, each between 0.6 and 1.6 times as large."""
    part = draw(st.sampled_from(list(catalogue().values())))
    names = [r.name for r in KINDS[part.kind].rules if part.has(r.name) and r.unit == "mm"]
    chosen = draw(st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True))
    return part, {n: part.size(n) * draw(st.floats(0.6, 1.6)) for n in chosen}


@settings(max_examples=60, deadline=None)
@given(resized_parts())
def test_sizes_make_a_sound_part_or_a_typed_error(case: tuple[Part, dict[str, float]]) -> None:
    whole, sizes = case
    try:
        part = overridden(whole, sizes)
    except InputError as error:
        assert {p.code for p in error.problems} <= {"not-allowed", "out-of-range"}
        assert all(p.allowed for p in error.problems)
        return
    body = make(Recipe("x", add("envelope", *part.envelope)))
    assert len(body.components()) == 1
    low, high = part_extent(part)
    assert all(a - 0.011 <= p for a, p in zip(low, body.bounds[0], strict=True))
    assert all(p <= b + 0.011 for p, b in zip(body.bounds[1], high, strict=True))
