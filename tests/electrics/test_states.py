"""States of a build: what its wires carry and lose, what its cells give, and what is found wrong."""

from __future__ import annotations

import math
from typing import Any

import pytest
from msgspec.structs import replace

from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.electrics.judging import said_once
from chassis_gen.electrics.parts import contacts
from chassis_gen.electrics.result import LoadResult, StateResult, WireResult, amount
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan, InLine
from chassis_gen.plan.electrics import Draw, State
from chassis_gen.plan.model import PlacedTerminal
from chassis_gen.tables.wire import awg_resistance_ohm_per_km
from tests.electrics.support import bench, led_on_board, lit, wire, with_jack

IDLE_A = 0.02
"""What the generic board draws where a state says nothing of it, A."""

LED_OHM = 0.005 / 0.02
"""Of the generic LED: its voltage rises 5 mV up to its rated 20 mA."""


def first(plan: ChassisPlan) -> StateResult:
    return electrics_of(plan)[0].states[0]


def load(result: StateResult, name: str) -> LoadResult:
    return next(found for found in result.loads if found.load == name)


def wired(result: StateResult, name: str) -> WireResult:
    return next(w for w in result.wires if w.wire == name)


def codes(plan: ChassisPlan, level: str | None = None) -> set[str]:
    return {f.code for f in electrics_of(plan)[1] if level in (None, f.level)}


def finding(plan: ChassisPlan, code: str) -> Finding:
    return next(f for f in electrics_of(plan)[1] if f.code == code)


def test_a_light_on_an_output_that_passes_takes_its_current_from_the_cell() -> None:
    result = first(led_on_board(lit(0.2)))
    assert wired(result, "light").current_a == pytest.approx(0.2)
    assert wired(result, "light return").current_a == pytest.approx(-0.2)
    assert wired(result, "plus").current_a == pytest.approx(0.2 + IDLE_A)
    assert result.cells[0].current_a == pytest.approx(0.2 + IDLE_A)


def test_drop_there_and_back_is_ohms_law_on_two_wires_as_cut() -> None:
    """ASTM B258 at 20 C; the wires of 100 mm warm by a few kelvin over the 20 C round the tube."""
    result = first(led_on_board(lit(0.2), ambient_c=20.0))
    one_way = awg_resistance_ohm_per_km(26) * 100.0 * 1e-6
    warm = 1 + 0.00393 * 130.0 * (0.2 / 1.4) ** 2
    assert load(result, "light").drop_v == pytest.approx(2 * one_way * warm * 0.2, rel=1e-4)


def test_a_converter_takes_its_power_over_its_efficiency() -> None:
    """Balance of power: what the cell gives less what its wires lose is what the board takes."""
    figures = {"board": {"light_passes": 0.0, "idle_a": 0.0}}
    result = first(led_on_board(lit(0.2), converter_efficiency=0.8, figures=figures))
    given = result.power_w - sum(w.current_a**2 * w.ohm for w in result.wires if w.wire in ("plus", "minus"))
    light = load(result, "light")
    at_output = 0.2 * (light.volts + light.drop_v)
    assert given == pytest.approx(at_output / 0.8, rel=1e-6)


def test_a_speaker_takes_its_power_at_the_square_root_of_power_over_impedance() -> None:
    """P = I^2 Z: 0.5 W in 8 ohm is 0.25 A; the amplifier of 85 % takes more than it gives."""
    wires = (
        wire("plus", "cell.plus", "board.battery plus"),
        wire("minus", "cell.minus", "board.battery minus"),
        wire("a", "board.speaker plus", "speaker.plus"),
        wire("b", "board.speaker minus", "speaker.minus"),
    )
    parts = {"cell": "cell 18650", "board": "sound board", "speaker": "speaker 32 mm"}
    loud = State("loud", draws=(Draw("board", current_a=0.0), Draw("speaker", power_w=0.5)))
    result = first(bench(parts, wires, loud))
    assert wired(result, "a").current_a == pytest.approx(0.25)
    assert load(result, "speaker").volts == pytest.approx(2.0)
    lost = sum(w.current_a**2 * w.ohm for w in result.wires)
    given_out = 0.5 + 0.25**2 * (wired(result, "a").ohm + wired(result, "b").ohm)
    supply_lost = lost - 0.25**2 * (wired(result, "a").ohm + wired(result, "b").ohm)
    assert result.power_w - supply_lost == pytest.approx(given_out / 0.85, rel=1e-6)


def test_two_returns_in_parallel_share_by_their_conductance() -> None:
    """Current divider, any text: AWG 22 and AWG 28 of one length share as their areas, 4.03 to 1."""
    wires = (
        wire("plus", "cell.plus", "board.battery plus", 22),
        wire("thick", "cell.minus", "board.battery minus", 22),
        wire("thin", "cell.minus", "board.battery minus", 28),
    )
    state = State("on", draws=(Draw("board", current_a=0.05),))
    result = first(bench({"cell": "cell 18650", "board": "sound board"}, wires, state))
    assert wired(result, "thick").current_a / wired(result, "thin").current_a == pytest.approx(
        92 ** (12 / 39), rel=1e-3
    )


def test_a_second_board_returns_through_both_grounds_of_the_first() -> None:
    wires = (
        wire("plus", "cell.plus", "board.battery plus"),
        wire("minus", "cell.minus", "board.battery minus"),
        wire("radio plus", "board.battery plus", "radio.battery plus"),
        wire("radio minus", "board.battery minus", "radio.battery minus"),
        wire("signal minus", "board.button ground", "radio.signal ground"),
    )
    parts = {"cell": "cell 18650", "board": "sound board", "radio": "radio board"}
    result = first(bench(parts, wires, State("on", draws=(Draw("radio", current_a=0.1),))))
    back = [wired(result, n).current_a for n in ("radio minus", "signal minus")]
    assert sum(back) == pytest.approx(-0.1)
    assert all(current < -0.02 for current in back)
    assert wired(result, "minus").current_a == pytest.approx(-0.1 - IDLE_A)


def test_a_plain_led_with_its_resistor_on_the_cell() -> None:
    """(3.6 - 3.2) / (20 + cell 0.05 + LED 0.25 + wires): Ohm's law; the resistor proposed is for a full cell."""
    wires = (wire("a", "cell.plus", "light.plus"), wire("b", "cell.minus", "light.minus"))
    state = State("lit", draws=(Draw("light", series_ohm=20.0),))
    plan = bench({"cell": "cell 18650", "light": "led 5 mm"}, wires, state)
    result = first(plan)
    ohm = 20.0 + 0.05 + LED_OHM + sum(w.ohm for w in result.wires)
    assert load(result, "light").current_a == pytest.approx((3.6 - 3.2) / ohm, rel=1e-6)
    (advice,) = electrics_of(plan)[0].resistors
    assert (advice.exact_ohm, advice.pick_ohm) == (pytest.approx(50.0), 51.0)
    assert "above-rating" not in codes(plan)


def test_runtime_is_the_usable_share_over_the_current() -> None:
    figures = {"cell": {"capacity_mah": 3000.0}, "board": {"idle_a": 0.0}}
    result = first(led_on_board(lit(0.45), figures=figures, usable_share=0.85))
    assert result.runtime_h is not None
    assert result.runtime_h[1] == pytest.approx(5.667, abs=0.0005)
    assert result.runtime_h[0] <= result.runtime_h[1]


def test_a_board_that_stops_early_shortens_the_runtime() -> None:
    figures = {"board": {"idle_a": 0.02, "supply_v_min": 3.6}}
    early, late = first(led_on_board(lit(), figures=figures)), first(led_on_board(lit()))
    assert early.runtime_h is not None
    assert late.runtime_h is not None
    assert early.runtime_h[0] < 0.6 * late.runtime_h[0]
    assert early.runtime_h[1] == late.runtime_h[1]


@pytest.mark.parametrize(("amps", "over"), [(0.95, False), (1.05, True)])
def test_a_wire_is_held_to_the_bundle_column_not_to_free_air(amps: float, over: bool) -> None:
    """MIL-STD-975 and EEE-INST-002: AWG 28 bears 1.0 A in a bundle; the free-air column would let 1.4 A pass."""
    figures = {"light": {"rated_a": 5.0}, "board": {"idle_a": 0.0}}
    plan = led_on_board(lit(amps), gauge=28, figures=figures)
    assert ("wire-overload" in codes(plan, "error")) is over
    if over:
        found = finding(plan, "wire-overload")
        assert found.numbers == {"current_a": pytest.approx(amps), "limit_a": 1.0}
        changes = [(c.key, c.value) for c in found.candidates if c.key is not None]
        assert changes == [("wire[0].gauge_awg", gauge) for gauge in (26, 24, 22, 20)]


def test_a_load_beyond_the_cell_is_an_error() -> None:
    state = State("on", draws=(Draw("board", power_w=200.0),))
    assert "load-starved" in codes(led_on_board(state), "error")


def test_discharge_is_held_to_the_cells_limit() -> None:
    figures = {"cell": {"capacity_mah": 500.0, "max_discharge_c": 1.0}, "light": {"rated_a": 2.0}}
    plan = led_on_board(lit(0.6), gauge=22, figures=figures)
    found = finding(plan, "discharge-high")
    assert found.level == "error"
    assert found.numbers["rate_c"] == pytest.approx((0.6 + IDLE_A) / 0.5, rel=1e-6)


def test_a_cut_off_plug_leaves_no_current() -> None:
    plan = with_jack(State("plug in", plug_in=("jack",)))
    result = first(plan)
    assert all(abs(w.current_a) < 1e-9 for w in result.wires)
    assert "plug-leaves-load" not in codes(plan)
    assert "no-closed-way" not in codes(plan)


def test_a_cut_off_that_is_wired_past_is_an_error() -> None:
    found = finding(with_jack(State("plug in", plug_in=("jack",)), cut_off=False), "plug-leaves-load")
    assert found.level == "error"
    assert found.numbers["current_a"] == pytest.approx(IDLE_A)


def test_without_plug_the_load_runs_through_the_jacks_contact() -> None:
    result = first(with_jack(State("idle")))
    assert result.contacts["jack"] == pytest.approx(IDLE_A)
    assert result.charge_h is None


def test_charging_runs_backward_through_the_cell_and_takes_its_time() -> None:
    """2500 mA h at 0.5 A, a third longer by the constant-voltage end: 6.5 h."""
    plan = with_jack(State("charging", charge_at="jack", charge_a=0.5), charger_v=4.2)
    result = first(plan)
    assert result.cells[0].current_a == pytest.approx(-0.5)
    assert result.cells[0].charging
    assert result.charge_h == pytest.approx(2.5 / 0.5 * 1.3)
    assert result.runtime_h is None
    assert codes(plan, "error") == set()


def test_a_charge_above_the_cells_limit_is_an_error() -> None:
    """2500 mA h at 0.5 C is 1.25 A."""
    found = finding(with_jack(State("charging", charge_at="jack", charge_a=1.3)), "charge-high")
    assert found.level == "error"
    assert (found.candidates[0].key, found.candidates[0].value) == ("state[0].charge.current_a", 1.2)
    assert "charge-high" not in codes(with_jack(State("charging", charge_at="jack", charge_a=1.2)))


@pytest.mark.parametrize(("ambient", "cold"), [(-1.0, True), (0.0, False), (45.0, False), (46.0, True)])
def test_charging_is_held_to_the_cells_window(ambient: float, cold: bool) -> None:
    """Usual window 0 to 45 C (published limits; method of IEC 62133-2 Annex A)."""
    state = State("charging", charge_at="jack", charge_a=0.2)
    assert ("cell-ambient" in codes(with_jack(state, ambient_c=ambient), "error")) is cold


def test_a_primary_cell_is_never_charged() -> None:
    wires = (wire("a", "cell.plus", "jack.plus"), wire("b", "cell.minus", "jack.minus"))
    state = State("charging", charge_at="jack", charge_a=0.1)
    plan = bench({"cell": "cell AA", "jack": "charge jack"}, wires, state)
    assert "charge-primary" in codes(plan, "error")


def test_a_draw_without_a_way_is_a_warning() -> None:
    plan = led_on_board(lit())
    cut = replace(plan, routes=tuple(r for r in plan.routes if r.wire.id != "minus"))
    assert "no-closed-way" in codes(cut, "warning")
    assert load(first(cut), "light").current_a == pytest.approx(0.0, abs=1e-12)


def test_an_open_switch_leaves_its_load_off() -> None:
    wires = (
        wire("a", "cell.plus", "button.a"),
        wire("b", "button.b", "light.plus"),
        wire("c", "light.minus", "cell.minus"),
    )
    parts = {"cell": "cell 18650", "button": "panel button 12 mm", "light": "led 5 mm"}
    draws = (Draw("light", series_ohm=40.0),)
    dark, bright = State("off", draws=draws), State("on", closed=("button",), draws=draws)
    found = electrics_of(bench(parts, wires, dark, bright))[0].states
    assert found[0].cells[0].current_a == pytest.approx(0.0, abs=1e-9)
    # the contact's figure is the worst, with full cells: (4.2 - 3.2) V over a little more than 40 ohm
    assert found[1].contacts["button"] == pytest.approx(0.025, rel=0.01)


def test_a_contact_is_held_to_its_rating() -> None:
    wires = (
        wire("a", "cell.plus", "push.a"),
        wire("b", "push.b", "board.battery plus"),
        wire("c", "board.battery minus", "cell.minus"),
    )
    parts = {"cell": "cell 18650", "push": "tactile board", "board": "sound board"}
    state = State("on", closed=("push",), draws=(Draw("board", current_a=0.2),))
    found = finding(bench(parts, wires, state), "contact-overload")
    assert found.numbers["current_a"] == pytest.approx(0.2)


def test_a_light_of_more_volts_than_the_cells_is_named() -> None:
    assert "output-low" in codes(led_on_board(lit(), figures={"light": {"forward_v": 6.4}}), "warning")
    assert "output-low" not in codes(led_on_board(lit()))


def resistor_on_output(ohm: float | None, *states: State) -> ChassisPlan:
    """Return a plain LED on a board's output that passes the supply on, through a resistor in its wire."""
    body = InLine("resistor", 4.0, 12.0, resistance_ohm=ohm)
    out = wire("light", "board.light plus", "light.plus")
    wires = (
        wire("plus", "cell.plus", "board.battery plus"),
        wire("minus", "cell.minus", "board.battery minus"),
        replace(out, wire=replace(out.wire, in_line=(body,))),
        wire("light return", "board.light minus", "light.minus"),
    )
    return bench({"cell": "cell 18650", "board": "sound board", "light": "led 5 mm"}, wires, *states)


def test_a_led_on_an_output_that_passes_gets_no_more_than_its_resistor_lets_through() -> None:
    """By hand: 15 mA in 39 ohm and 3.2 V are 3.79 V, above 3.6 V; 4.2 V drive 1.0 / 39 = 25.6 mA, of 20 mA rated."""
    plan = resistor_on_output(39.0, lit(0.015))
    low = finding(plan, "output-low")
    assert low.numbers["wanted_v"] == pytest.approx(3.2 + 0.015 * 39.0, abs=2e-3)
    assert low.numbers["given_v"] == pytest.approx(3.6, abs=3e-3)
    small = finding(plan, "resistor-small")
    assert (small.level, small.numbers["is_a"]) == ("warning", pytest.approx(1.0 / 39.0))
    assert not {"output-low", "resistor-small"} & codes(resistor_on_output(51.0, lit(0.007)))
    assert finding(resistor_on_output(None, lit(0.007)), "resistor-unstated").numbers == {"ohm": 51.0}
    # what hangs on an output stands above its return, never below the cell's minus
    volts = first(plan).terminals
    assert volts["board.light minus"] == 0.0
    assert volts["light.plus"] == pytest.approx(3.2, abs=2e-3)


def test_supply_ranges_are_judged_with_full_and_empty_cells() -> None:
    high = led_on_board(lit(), figures={"board": {"supply_v_max": 4.0}})
    assert finding(high, "supply-high").remedy is not None
    assert "supply-high" in codes(high, "error")
    assert "supply-low" in codes(led_on_board(lit(), figures={"board": {"supply_v_min": 5.0}}), "error")


def test_a_supply_off_its_range_is_said_once() -> None:
    """A state's figures take the place of the plan's; what only the plan sees stays."""
    numbers = {"given_v_min": 3.0, "given_v_max": 4.2, "supply_v_max": 4.0}
    planned = Finding("error", "supply-range", "board", "", numbers)
    low = replace(planned, numbers={**numbers, "supply_v_min": 3.5})
    judged = electrics_of(led_on_board(lit(), figures={"board": {"supply_v_max": 4.0}}))[1]
    assert said_once((planned,), judged) == ()
    assert said_once((low,), judged) == (low,)
    assert said_once((replace(planned, where="other"),), judged)


def test_the_fuse_proposed_lies_in_its_window_and_under_what_the_wires_bear() -> None:
    """1.25 to 1.5 times the current (UL 248-14, IEC 60127 practice); AWG 26 bears 1.4 A in a bundle."""
    (advice,) = electrics_of(led_on_board(lit(0.38)))[0].fuses
    assert advice.continuous_a == pytest.approx(0.4)
    assert advice.window_a == pytest.approx((0.5, 0.6))
    assert advice.rating_a == 0.5
    assert advice.wire_limit_a == 1.4


@pytest.mark.parametrize(("fuse", "code"), [(1.6, "fuse-above-wire"), (0.2, "fuse-small"), (0.5, None)])
def test_a_fitted_fuse_is_judged(fuse: float, code: str | None) -> None:
    found = codes(led_on_board(lit(0.38), fuse=fuse)) & {"fuse-above-wire", "fuse-small"}
    assert found == ({code} if code else set())


def test_a_wires_temperature_follows_the_square_of_its_loading() -> None:
    """Joule heating; at the bundle column's current the rule itself lets 130 K (200 C wire in 70 C)."""
    cool, warm = first(led_on_board(lit(0.2))), first(led_on_board(lit(0.4)))
    rises = [wired(r, "light").temperature_c - 25.0 for r in (cool, warm)]
    assert rises[1] / rises[0] == pytest.approx(4.0, rel=1e-3)
    assert math.isclose(rises[0], 130.0 * (0.2 / 1.4) ** 2, rel_tol=1e-3)


@pytest.mark.parametrize(("material", "lit_up"), [("aluminium", True), ("pvc", False)])
def test_a_metal_tube_is_a_return_between_its_contacts(material: str, lit_up: bool) -> None:
    wires = (
        wire("a", "cell.plus", "light.plus"),
        wire("b", "light.minus", "light.far contact"),
        wire("c", "cell.near contact", "cell.minus"),
    )
    state = State("lit", draws=(Draw("light", series_ohm=40.0),))
    plan = bench({"cell": "cell 18650", "light": "led 5 mm"}, wires, state)
    tube = replace(plan.tube, segments=tuple(replace(s, material=material) for s in plan.tube.segments))
    contacts = {"cell.near contact": "tube", "light.far contact": "tube"}
    cell, light = plan.sections
    cell = replace(
        cell, terminals=(*cell.terminals, PlacedTerminal("cell.near contact", (0, 20, 8), (), 0.9))
    )
    light = replace(
        light, terminals=(*light.terminals, PlacedTerminal("light.far contact", (0, 20, 18), (), 0.9))
    )
    result = first(replace(plan, tube=tube, own_terminals=contacts, sections=(cell, light)))
    assert (load(result, "light").current_a > 0.005) is lit_up


@pytest.mark.parametrize(("most", "over"), [(0.21, True), (0.23, False)])
def test_a_board_is_held_to_what_it_bears_with_its_outputs(most: float, over: bool) -> None:
    """Its own 0.02 A and the light's 0.2 A."""
    plan = led_on_board(lit(0.2), figures={"board": {"max_a": most}})
    assert ("board-overload" in codes(plan, "warning")) is over


def test_a_stated_current_is_judged_without_any_state() -> None:
    """MIL-STD-975 and EEE-INST-002: AWG 26 bears 1.4 A in a bundle."""
    plan = led_on_board()
    stated = tuple(replace(r, wire=replace(r.wire, current_a=1.5)) for r in plan.routes[:1])
    found = finding(replace(plan, routes=(*stated, *plan.routes[1:])), "wire-overload")
    assert (found.where, found.numbers["limit_a"]) == ("plus", 1.4)


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (0.0004, "A", "0.4 mA"),
        (0.032, "A", "32 mA"),
        (0.0255, "A", "25.5 mA"),
        (0.2, "A", "200 mA"),
        (0.9999, "A", "1.00 A"),
        (1.5, "A", "1.50 A"),
        (0.00128, "W", "1.28 mW"),
        (0.0, "A", "0 mA"),
        (-0.0004, "A", "-0.4 mA"),
        (None, "A", "-"),
    ],
)
def test_small_amounts_keep_their_figures(value: float | None, unit: str, words: str) -> None:
    assert amount(value, unit) == words


def test_a_port_board_takes_a_charge_as_a_jack_does() -> None:
    """A plain 5 V supply at the port over-charges the cell, full at 4.20 V plus-minus 0.05 V."""
    wires = (wire("plus", "port.plus", "cell.plus"), wire("minus", "cell.minus", "port.minus"))
    state = State("charging", charge_at="port", charge_a=0.5)
    parts = {"cell": "cell 18650", "port": "port board"}
    plan = bench(parts, wires, state, charger_v=4.2)
    assert first(plan).cells[0].current_a == pytest.approx(-0.5)
    assert "supply-unregulated" not in codes(plan)
    assert "supply-unregulated" in codes(bench(parts, wires, charger_v=5.0), "error")
    assert "supply-unregulated" not in codes(bench(parts, (), charger_v=5.0))


@pytest.mark.parametrize(("amps", "level"), [(0.02, None), (0.03, "warning"), (0.2, "error")])
def test_a_led_far_beyond_its_rating_is_an_error(amps: float, level: str | None) -> None:
    """The generic LED is rated 20 mA; more than twice that ends it soon (common practice, no source)."""
    plan = led_on_board(lit(amps), figures={"light": {"rated_a": 0.02}})
    assert [f.level for f in electrics_of(plan)[1] if f.code == "above-rating"] == ([level] if level else [])


def in_line(ohm: float | None, *states: State, **electrics: Any) -> ChassisPlan:
    """Return an LED on a cell through a button and a resistor in its wire."""
    back = wire("b", "light.minus", "cell.minus")
    body = InLine("resistor", 4.0, 12.0, resistance_ohm=ohm)
    wires = (
        wire("a", "cell.plus", "button.a"),
        wire("l", "button.b", "light.plus"),
        replace(back, wire=replace(back.wire, in_line=(body,))),
    )
    parts = {"cell": "cell 18650", "button": "panel button 12 mm", "light": "led 5 mm"}
    return bench(parts, wires, *states, **electrics)


PRESSED = State("lit", closed=("button",))


@pytest.mark.parametrize("draws", [(), (Draw("light", series_ohm=0.0),)])
@pytest.mark.parametrize(("level", "volts"), [("nominal", 3.6), ("full", 4.2), ("cut-off", 3.0)])
def test_a_led_on_the_cells_lights_whether_or_not_a_draw_names_it(
    draws: tuple[Draw, ...], level: str, volts: float
) -> None:
    """I = (V - Vf) / (R + r) by hand, Vf = 3.2 V: 5.8 mA from 3.6 V through 68 ohm; none from 3.0 V."""
    plan = in_line(68.0, replace(PRESSED, level=level, draws=draws))
    result = first(plan)
    contact = next(c for c in contacts(plan) if c.part == "button").ohm
    # the wires' ohm holds the 68 in it
    ohm = 0.05 + LED_OHM + contact + sum(w.ohm for w in result.wires)
    assert 68.0 < ohm < 68.5
    wanted = max(0.0, (volts - 3.2) / ohm)
    assert wired(result, "l").current_a == pytest.approx(wanted, rel=1e-6, abs=1e-12)
    assert load(result, "light").current_a == pytest.approx(wanted, rel=1e-6, abs=1e-12)
    assert (result.runtime_h is not None) is (wanted > 0)
    if wanted:
        assert result.runtime_h is not None
        assert result.runtime_h[1] == pytest.approx(2.5 * 0.85 / wanted, rel=1e-6)


def test_an_open_button_keeps_a_led_dark_and_out_of_the_loads() -> None:
    result = first(in_line(68.0, State("idle")))
    assert result.loads == ()
    assert result.without_way == ()
    assert wired(result, "l").current_a == 0.0
    # a board's output that no draw asks for is off
    assert [r.load for r in first(led_on_board(State("idle"))).loads] == ["board"]


def test_a_draw_that_leaves_a_led_below_its_forward_voltage_is_told() -> None:
    """20 mA drop 1.36 V in 68 ohm: 3.6 V leave 2.24 V, and the LED conducts above 3.2 V; 5.8 mA flow."""
    found = finding(
        in_line(68.0, replace(PRESSED, draws=(Draw("light", current_a=0.02),))), "led-below-forward"
    )
    assert found.level == "warning"
    assert found.numbers["volts"] == pytest.approx(2.24, abs=0.01)
    assert found.numbers["flows_a"] == pytest.approx(0.4 / 68.5, rel=5e-3)
    sound = in_line(68.0, replace(PRESSED, draws=(Draw("light", current_a=0.006),)))
    assert "led-below-forward" not in codes(sound)


def test_a_resistor_without_a_value_is_taken_for_the_proposed_one() -> None:
    """(4.2 - 3.2) V / 20 mA = 50 ohm, next in E24 (IEC 60063) 51 ohm; then (3.6 - 3.2) V / 51 ohm = 7.8 mA."""
    plan = in_line(None, PRESSED)
    assert load(first(plan), "light").current_a == pytest.approx(0.4 / 51.4, rel=3e-3)
    said = finding(plan, "resistor-unstated")
    assert (said.level, said.numbers) == ("note", {"ohm": 51.0})
    assert not {"no-current-limit", "above-rating", "resistor-small"} & codes(plan)
    assert finding(in_line(None), "resistor-unstated").numbers == {"ohm": 51.0}
    assert "resistor-unstated" not in codes(in_line(68.0, PRESSED))


def test_what_a_led_without_limit_draws_judges_no_wire_or_cell() -> None:
    plan = in_line(0.0, PRESSED)
    assert codes(plan, "error") == {"no-current-limit"}
    named = in_line(0.0, replace(PRESSED, draws=(Draw("light", series_ohm=0.0),)))
    assert codes(named, "error") == {"no-current-limit"}


@pytest.mark.parametrize(("ohm", "level"), [(33.0, "warning"), (10.0, "error")])
def test_a_resistor_too_small_is_told_once(ohm: float, level: str) -> None:
    """1 V over 33 and 10 ohm: 30 and 100 mA with full cells; the LED is rated 20 mA."""
    found = electrics_of(in_line(ohm, PRESSED))[1]
    told = [(f.code, f.level) for f in found if f.code in ("above-rating", "resistor-small")]
    assert told == [("resistor-small", level)]


def test_leds_of_one_sort_side_by_side_share() -> None:
    """(4.2 - 3.2) V / 40 mA = 25 ohm, next in E24 27 ohm; (3.6 - 3.2) V / 27 ohm = 14.8 mA, half for each."""
    front = wire("p", "cell.plus", "one.plus")
    wires = (
        replace(front, wire=replace(front.wire, in_line=(InLine("resistor", 4.0, 12.0),))),
        wire("q", "one.plus", "two.plus"),
        wire("r", "one.minus", "cell.minus"),
        wire("s", "two.minus", "cell.minus"),
    )
    plan = bench({"cell": "cell 18650", "one": "led 5 mm", "two": "led 5 mm"}, wires, State("on"))
    assert finding(plan, "resistor-unstated").numbers == {"ohm": 27.0}
    for led in ("one", "two"):
        assert load(first(plan), led).current_a == pytest.approx(0.4 / 27 / 2, rel=0.05)
