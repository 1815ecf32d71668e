"""Shorts, reversed polarity, supplies out of range and loads without a limit: errors with or without a state.

Voltages follow Kirchhoff's voltage law (any text on circuits); a lithium-ion cell is full at 4.2 V.
"""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan, InLine, Route
from chassis_gen.plan.electrics import Draw, State
from chassis_gen.plan.model import PlacedTerminal
from tests.electrics.support import bench, led_on_board, lit, wire, with_jack

CELL, CELL_2, BOARD, LED = "cell 18650", "cell 14500", "sound board", "led 5 mm"
FED = (wire("plus", "cell.plus", "board.battery plus"), wire("minus", "cell.minus", "board.battery minus"))


def errors(plan: ChassisPlan) -> dict[str, Finding]:
    return {f.code: f for f in electrics_of(plan)[1] if f.level == "error"}


def with_resistor(route: Route, ohm: float = 51.0) -> Route:
    body = InLine("resistor", 4.0, 12.0, resistance_ohm=ohm)
    return replace(route, wire=replace(route.wire, in_line=(body,)))


def shorted(*states: State, fuse: float = 0.0) -> ChassisPlan:
    return bench(
        {"cell": CELL, "board": BOARD}, (*FED, wire("oops", "cell.plus", "cell.minus", fuse=fuse)), *states
    )


@pytest.mark.parametrize("states", [(), (State("idle"),)])
@pytest.mark.parametrize("fuse", [0.0, 1.0])
def test_a_wire_from_pole_to_pole_is_a_short_and_named_alone(states: tuple[State, ...], fuse: float) -> None:
    """A fuse doesn't make it anything else; nothing proposes to share the current or to cool the cell."""
    plan = shorted(*states, fuse=fuse)
    (code, found), *more = errors(plan).items()
    assert (code, found.where, more) == ("short-circuit", "cell", [])
    assert '"oops" (cell.plus to cell.minus)' in found.message
    said = " ".join(f.remedy.text for f in electrics_of(plan)[1] if f.remedy)
    assert "split" not in said
    assert "metal path" not in said


def test_a_short_round_several_wires_names_each() -> None:
    plan = bench(
        {"cell": CELL, "board": BOARD}, (*FED, wire("net", "board.battery plus", "board.battery minus"))
    )
    found = errors(plan)["short-circuit"]
    assert all(f'"{w}"' in found.message for w in ("plus", "net", "minus"))
    assert found.numbers["ways"] == 3


@pytest.mark.parametrize(
    ("material", "short"),
    [
        ("aluminium", True),
        ("anodised aluminium", True),
        ("titanium", True),
        ("carbon fibre", True),
        ("alluminium", True),
        ("PVC", False),
        ("plywood", False),
    ],
)
def test_two_poles_on_a_conducting_tube_are_a_short(material: str, short: bool) -> None:
    wires = (wire("a", "cell.plus", "cell.far"), wire("b", "cell.minus", "cell.near"))
    plan = bench({"cell": CELL}, wires)
    (cell,) = plan.sections
    lugs = tuple(PlacedTerminal(f"cell.{n}", (0, 20, z), (), 0.9) for n, z in (("far", 14.0), ("near", 6.0)))
    tube = replace(plan.tube, segments=tuple(replace(s, material=material) for s in plan.tube.segments))
    plan = replace(
        plan,
        tube=tube,
        sections=(replace(cell, terminals=(*cell.terminals, *lugs)),),
        own_terminals={t.id: "tube" for t in lugs},
    )
    assert ("short-circuit" in errors(plan)) is short
    # a wire that ends on a wall that leads no current leads nowhere; without a wire it is a contact to no end
    dead = [f.where for f in electrics_of(plan)[1] if f.code == "tube-no-contact" and f.level == "error"]
    assert dead == ([] if short else ["cell.far", "cell.near"])
    bare = electrics_of(replace(plan, routes=()))[1]
    assert {f.level for f in bare if f.code == "tube-no-contact"} == (set() if short else {"warning"})
    if short:
        assert "the tube" in errors(plan)["short-circuit"].message


def test_a_button_across_the_poles_shorts_when_it_is_closed() -> None:
    wires = (*FED, wire("a", "cell.plus", "button.a"), wire("b", "button.b", "cell.minus"))
    found = errors(bench({"cell": CELL, "board": BOARD, "button": "panel button 12 mm"}, wires))
    assert "when button is closed" in found["short-circuit"].message
    assert "the contact of button" in found["short-circuit"].message


def test_cells_that_close_a_loop_are_a_short_and_cells_in_series_none() -> None:
    one = (wire("a", "a.plus", "b.minus"),)
    cells = {"a": CELL, "b": CELL}
    assert "short-circuit" not in errors(bench(cells, one))
    found = errors(bench(cells, (*one, wire("b", "b.plus", "a.minus"))))
    assert "loop of cells" in found["short-circuit"].message
    # side by side, plus to plus, nothing drives a current round
    beside = (wire("a", "a.plus", "b.plus"), wire("b", "a.minus", "b.minus"))
    assert "short-circuit" not in errors(bench(cells, beside))


def test_a_resistor_from_pole_to_pole_is_a_load() -> None:
    assert errors(bench({"cell": CELL}, (with_resistor(wire("r", "cell.plus", "cell.minus"), 470.0),))) == {}


REVERSED = (
    wire("first", "cell.plus", "board.battery minus"),
    wire("second", "cell.minus", "board.battery plus"),
)


@pytest.mark.parametrize("states", [(), (State("idle"),), (lit(),)])
def test_a_reversed_board_names_its_wires_and_says_it_once(states: tuple[State, ...]) -> None:
    lights = (wire("l", "board.light plus", "light.plus"), wire("r", "board.light minus", "light.minus"))
    found = errors(bench({"cell": CELL, "board": BOARD, "light": LED}, (*REVERSED, *lights), *states))
    assert set(found) == {"polarity-reversed"}
    assert found["polarity-reversed"].where == "board"
    assert '"first"' in found["polarity-reversed"].message
    assert '"second"' in found["polarity-reversed"].message
    assert found["polarity-reversed"].numbers["volts"] == pytest.approx(-4.2)


def test_a_led_the_wrong_way_round_is_named_on_a_board_and_behind_a_resistor() -> None:
    wires = (
        *FED,
        wire("l", "board.light plus", "light.minus"),
        wire("r", "board.light minus", "light.plus"),
    )
    found = errors(bench({"cell": CELL, "board": BOARD, "light": LED}, wires))
    assert found["polarity-reversed"].where == "light"
    assert '"l"' in found["polarity-reversed"].message
    hung = (wire("l", "cell.minus", "light.plus"), with_resistor(wire("r", "cell.plus", "light.minus")))
    assert errors(bench({"cell": CELL, "light": LED}, hung))["polarity-reversed"].where == "light"
    # a low-side output switches the minus; the plus hangs on the cell
    low = (
        *FED,
        with_resistor(wire("l", "cell.plus", "light.plus")),
        wire("r", "board.light minus", "light.minus"),
    )
    assert errors(bench({"cell": CELL, "board": BOARD, "light": LED}, low)) == {}


def test_a_reversed_jack_is_named() -> None:
    wires = (wire("a", "cell.plus", "jack.minus"), wire("b", "cell.minus", "jack.plus"))
    assert errors(bench({"cell": CELL, "jack": "charge jack"}, wires))["polarity-reversed"].where == "jack"


@pytest.mark.parametrize("stated", [False, True])
def test_cells_in_series_are_held_to_a_boards_range(stated: bool) -> None:
    """Two full cells give 8.4 V; the board bears 5.5 V."""
    wires = (
        wire("middle", "a.plus", "b.minus"),
        wire("plus", "b.plus", "board.battery plus"),
        wire("minus", "a.minus", "board.battery minus"),
    )
    states = (State("idle"),) if stated else ()
    found = errors(bench({"a": CELL, "b": CELL, "board": BOARD}, wires, *states))
    assert set(found) == {"supply-high" if stated else "supply-range"}
    if not stated:
        n = found["supply-range"].numbers
        assert (n["given_v_min"], n["given_v_max"]) == (pytest.approx(6.0), pytest.approx(8.4))


HUNG = (wire("a", "cell.plus", "light.plus"), wire("b", "cell.minus", "light.minus"))


@pytest.mark.parametrize("states", [(), (State("lit"),), (lit(0.02),)])
def test_a_led_straight_on_a_cell_lacks_a_limit(states: tuple[State, ...]) -> None:
    """Ohm's law: (4.2 - 3.2) V / 20 mA = 50 ohm, next in E24 51 ohm."""
    found = errors(bench({"cell": CELL, "light": LED}, HUNG, *states))["no-current-limit"]
    assert found.where == "light"
    assert found.remedy is not None
    assert "resistance_ohm = 51" in found.remedy.text


def test_a_resistor_in_the_wire_or_in_the_draw_or_a_board_limits_it() -> None:
    parts = {"cell": CELL, "light": LED}
    assert errors(bench(parts, (HUNG[0], with_resistor(HUNG[1])))) == {}
    state = State("lit", draws=(Draw("light", series_ohm=51.0),))
    assert "no-current-limit" not in errors(bench(parts, HUNG, state))
    assert errors(led_on_board()) == {}
    assert errors(with_jack()) == {}


@pytest.mark.parametrize(("ohm", "level"), [(51.0, None), (33.0, "warning"), (10.0, "error")])
def test_a_resistor_too_small_is_named(ohm: float, level: str | None) -> None:
    """Ohm's law: 1 V across 51, 33 and 10 ohm drives 19.6, 30.3 and 100 mA; the LED is rated 20 mA."""
    plan = bench({"cell": CELL, "light": LED}, (HUNG[0], with_resistor(HUNG[1], ohm)))
    found = [f for f in electrics_of(plan)[1] if f.code == "resistor-small"]
    assert [f.level for f in found] == ([level] if level else [])
    assert all(f.numbers["is_a"] == pytest.approx(1.0 / ohm) for f in found)
    assert all(f.remedy is not None and "51 ohm" in f.remedy.text for f in found)


def test_resistors_side_by_side_and_leds_side_by_side_share() -> None:
    """Two of 20 ohm side by side are 10 ohm (textbook: conductances add up); LEDs side by side halve the current."""
    wires = (
        *(with_resistor(wire(n, "cell.plus", "one.plus"), 20.0) for n in "ab"),
        wire("c", "one.plus", "two.plus"),
        wire("d", "one.minus", "cell.minus"),
        wire("e", "two.minus", "cell.minus"),
    )
    found = [
        f
        for f in electrics_of(bench({"cell": CELL, "one": LED, "two": LED}, wires))[1]
        if f.code == "resistor-small"
    ]
    # 1 V across 10 ohm are 100 mA, 50 mA for each
    assert {f.where: f.numbers["is_a"] for f in found} == {
        "one": pytest.approx(0.05),
        "two": pytest.approx(0.05),
    }


def test_a_led_across_two_cells_in_series_lacks_a_limit_too() -> None:
    wires = (
        wire("middle", "a.plus", "b.minus"),
        wire("l", "b.plus", "light.plus"),
        wire("r", "a.minus", "light.minus"),
    )
    found = errors(bench({"a": CELL, "b": CELL, "light": LED}, wires))["no-current-limit"]
    assert found.numbers["supply_v"] == pytest.approx(8.4)


def test_a_string_of_leds_is_added_up_and_a_switch_is_no_limit() -> None:
    """Two of 3.2 V in a string stay dark on 4.2 V: said as a warning; each alone behind a button is an error."""
    parts = {"cell": CELL, "one": LED, "two": LED, "button": "panel button 12 mm"}
    string = (
        wire("a", "cell.plus", "one.plus"),
        wire("b", "one.minus", "two.plus"),
        wire("c", "two.minus", "cell.minus"),
    )
    found = [f for f in electrics_of(bench(parts, string))[1] if f.code == "no-current-limit"]
    assert [(f.level, f.where, f.numbers["forward_v"]) for f in found] == [
        ("warning", "one", 6.4),
        ("warning", "two", 6.4),
    ]
    switched = (
        wire("a", "cell.plus", "button.a"),
        wire("b", "button.b", "one.plus"),
        wire("c", "one.minus", "cell.minus"),
    )
    assert "when button is closed" in errors(bench(parts, switched))["no-current-limit"].message


def test_a_speaker_takes_no_direct_voltage() -> None:
    """Joule's law: 4.2 V across 8 ohm are 2.2 W in a coil rated 1 W."""
    wires = (wire("a", "cell.plus", "cup.plus"), wire("b", "cell.minus", "cup.minus"))
    found = errors(bench({"cell": CELL, "cup": "speaker 32 mm"}, wires))["speaker-on-supply"]
    assert found.numbers["power_w"] == pytest.approx(4.2**2 / 8)


def test_wires_that_nothing_could_lay_are_judged_all_the_same_and_states_said_to_wait() -> None:
    """A section that can't be made bars every route: no state is called open for it, and a short stays a short."""
    barred = Finding("error", "port-deep", "port", "", blocks_solids=True)
    sound = led_on_board(lit())
    wires = tuple(r.wire for r in sound.routes)
    plan = replace(sound, routes=(), wires=wires, findings=(barred,))
    result, found = electrics_of(plan)
    said = {f.code: f.message for f in found}
    assert result.states == ()
    assert "while port can't be made" in said["states-not-reckoned"]
    assert not {"no-closed-way", "load-starved"} & set(said)
    oops = wire("oops", "cell.plus", "cell.minus").wire
    assert "short-circuit" in errors(replace(plan, wires=(*wires, oops)))
