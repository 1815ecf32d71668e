"""The test table: what must beep, what must not, what the cradle shows."""

from __future__ import annotations

import itertools

import pytest
from msgspec.structs import replace

from chassis_gen.output.nets import all_wires
from chassis_gen.output.test_table import AS_ON_BENCH, BEEP, NO_BEEP, measurements, measurements_markdown
from chassis_gen.plan.chassis import ChassisPlan, InLine
from tests.electrics.support import with_jack
from tests.output.harness_support import demo, plan

nx = pytest.importorskip("networkx")


@pytest.fixture(params=["by hand", "tide-baton", "quay-lantern"])
def build(request: pytest.FixtureRequest) -> ChassisPlan:
    return plan() if request.param == "by hand" else demo(request.param)


def wired(build: ChassisPlan) -> list[set[str]]:
    """Return the sets of joined terminals, found by another library."""
    graph = nx.Graph((w.start, w.end) for w in all_wires(build))
    return list(nx.connected_components(graph))


def test_what_must_beep_joins_exactly_what_the_wires_join(build: ChassisPlan) -> None:
    pairs = nx.Graph((t.a, t.b) for t in measurements(build).joined)
    found = sorted(sorted(c) for c in nx.connected_components(pairs))
    assert found == sorted(sorted(c) for c in wired(build))
    # no test is idle: n terminals take n - 1
    assert pairs.number_of_edges() == sum(len(c) - 1 for c in wired(build))


def test_what_must_not_beep_names_every_pair_of_nets_once(build: ChassisPlan) -> None:
    nets = wired(build)
    number = {t: i for i, net in enumerate(nets) for t in net}
    seen = [frozenset((number[t.a], number[t.b])) for t in measurements(build).apart]
    assert sorted(map(sorted, seen)) == sorted(map(list, itertools.combinations(range(len(nets)), 2)))
    assert all(t.expected in (NO_BEEP, AS_ON_BENCH) for t in measurements(build).apart)


def test_the_cell_s_two_nets_come_first_and_must_never_beep(build: ChassisPlan) -> None:
    first = measurements(build).apart[0]
    assert {first.a, first.b} == {"cell.plus", "cell.minus"}
    assert first.expected == NO_BEEP


def test_only_nets_that_share_a_part_are_left_to_the_bench(build: ChassisPlan) -> None:
    nets = {t: c for c in wired(build) for t in c}
    for t in measurements(build).apart:
        parts = [{x.rpartition(".")[0] for x in nets[end]} for end in (t.a, t.b)]
        if t.expected == AS_ON_BENCH:
            assert t.through in parts[0] & parts[1]
        elif {t.a, t.b} != {"cell.plus", "cell.minus"}:
            assert not parts[0] & parts[1]


def test_a_speaker_s_coil_beeps_and_a_button_only_when_pressed() -> None:
    tests = {frozenset((t.a, t.b)): t for t in measurements(demo("quay-lantern")).apart}
    assert "beeps through the coil" in tests[frozenset(("speaker.plus", "speaker.minus"))].note
    assert "only while pressed" in tests[frozenset(("button block.a", "button block.b"))].note


def test_every_net_is_tested_against_the_tube(build: ChassisPlan) -> None:
    nets = wired(build)
    tests = measurements(build).tube
    assert len(tests) == len(nets)
    assert {next(i for i, n in enumerate(nets) if t.a in n) for t in tests} == set(range(len(nets)))
    assert {t.expected for t in tests} == {NO_BEEP}


def test_a_net_that_is_joined_to_the_tube_must_beep_there() -> None:
    build = replace(plan(), own_terminals={"lamp.minus": "tube"})
    expected = {t.nets[0]: t.expected for t in measurements(build).tube}
    assert expected["return"] == BEEP
    assert expected["supply"] == NO_BEEP


def test_the_cradle_names_polarity_voltage_and_who_it_feeds() -> None:
    (cradle,) = measurements(plan()).cradles
    assert (cradle.plus, cradle.minus) == ("cell.plus", "cell.minus")
    assert cradle.feeds == ("board.battery plus",)
    assert set(cradle.returns) == {"board.battery minus", "lamp.minus"}
    # 3.6 V nominal and 4.2 V full: usual for lithium-ion cells with cobalt, nickel or manganese (from memory).
    assert cradle.voltage is not None
    assert (cradle.voltage.nominal, cradle.voltage.high) == (3.6, 4.2)


def test_every_part_that_has_something_to_measure_is_on_the_bench(build: ChassisPlan) -> None:
    tested = {t.part for t in measurements(build).bench}
    assert tested == {p.id for p in build.parts}


def test_the_markdown_begins_with_cautions_and_puts_the_cell_last(build: ChassisPlan) -> None:
    text = measurements_markdown(build)
    order = [
        "## Cautions",
        "**Lithium cells.**",
        "## Each part on the bench",
        "## These pairs must beep",
        "## These pairs must not beep",
        "## The tube",
        "## The cradle: cell",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert "{" not in text
    assert "3.0 to 4.2 V" in text


def test_the_cradle_of_a_cell_that_nothing_is_wired_to_says_so() -> None:
    build = replace(plan(), routes=plan().routes[2:3])
    assert "No wire ends at both contacts of cell" in measurements_markdown(build)


def test_cells_in_series_are_not_fed_from_a_supply_one_by_one() -> None:
    """The first cell's plus goes to the second's minus: neither alone has the voltage that the board wants."""
    second = replace(plan().parts[2], id="lamp")
    sections = tuple(replace(s, parts=(second,)) if s.name == "lamp" else s for s in plan().sections)
    first, back, *_ = plan().routes
    link = replace(first, wire=replace(first.wire, id="series", end="lamp.minus", start_connector=None))
    up = replace(first, wire=replace(first.wire, start="lamp.plus"))
    build = replace(plan(), sections=sections, routes=(up, back, link))
    assert [c.alone for c in measurements(build).cradles] == [False, False]
    assert "limited to 100 mA, red at" not in measurements_markdown(build)
    assert "limited to 100 mA, red at" in measurements_markdown(plan())


def test_a_resistor_in_a_wire_is_read_in_ohm_and_parts_its_net() -> None:
    """470 ohm between cell and lamp: a meter that beeps below some 30 ohm stays silent, and 2.2 ohm beep."""
    supply, back, _, _, lamp, *_ = plan().routes
    for ohm, expected in (
        (470.0, "470 ohm, no beep"),
        (2.2, "2.2 ohm and beeps"),
        (4700.0, "4.7 kohm, no beep"),
    ):
        body = InLine("resistor", 3.0, 10.0, resistance_ohm=ohm)
        fed = replace(lamp.wire, id="fed", start="cell.plus", end="lamp.plus", in_line=(body,))
        build = replace(plan(), routes=(supply, back, replace(lamp, wire=fed)))
        tests = {t.b: t for t in measurements(build).joined if t.a == "cell.plus"}
        assert tests["board.battery plus"].expected == BEEP
        assert tests["lamp.plus"].expected == expected
        assert '"fed"' in tests["lamp.plus"].note
        (cradle,) = measurements(build).cradles
        assert cradle.feeds == ("board.battery plus",)


def test_resistors_side_by_side_halve_and_an_unstated_value_is_said() -> None:
    """Two equal resistors in parallel: half of one (Ohm's law)."""
    body = InLine("resistor", 3.0, 10.0, resistance_ohm=100.0)
    first, *_ = plan().routes
    pair = tuple(
        replace(first, wire=replace(first.wire, id=n, start_connector=None, in_line=(body,))) for n in "ab"
    )
    (test,) = measurements(replace(plan(), routes=pair)).joined
    assert test.expected.startswith("50 ohm")
    unstated = replace(pair[0], wire=replace(pair[0].wire, in_line=(replace(body, resistance_ohm=None),)))
    (test,) = measurements(replace(plan(), routes=(unstated,))).joined
    assert test.expected == "its resistor's value"


def test_a_fuse_beeps_and_says_what_silence_means() -> None:
    first, *_ = plan().routes
    fused = replace(first, wire=replace(first.wire, in_line=(InLine("fuse", 3.2, 12.0, rating_a=1.0),)))
    (test,) = measurements(replace(plan(), routes=(fused,))).joined
    assert test.expected == BEEP
    assert "blown" in test.note


def test_a_tube_that_does_not_conduct_is_not_measured() -> None:
    acrylic = tuple(replace(s, material="acrylic") for s in plan().tube.segments)
    build = replace(plan(), tube=replace(plan().tube, segments=acrylic))
    assert measurements(build).tube == ()
    assert "## The tube" not in measurements_markdown(build)


def test_a_jack_s_cut_off_is_tested_with_the_plug_in() -> None:
    """Nets that only its contact joins must not beep while the plug is in, neither at the jack nor elsewhere."""
    build = with_jack()
    cut_off = next(t for t in measurements(build).apart if {t.a, t.b} == {"jack.minus", "jack.switched"})
    assert cut_off.expected == NO_BEEP
    assert "take the plug out, and it beeps" in cut_off.note
    text = measurements_markdown(build)
    assert "With a plug that leads to nothing in jack. One terminal of each net is enough." in text
    assert "With a plug" not in measurements_markdown(plan())
