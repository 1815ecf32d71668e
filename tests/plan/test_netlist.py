"""The netlist of a build file: wires, nets, own terminals, and what its checks say."""

from __future__ import annotations

import itertools
import math
from pathlib import Path

import pytest
from msgspec.structs import replace

from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.parts.partfile import PartFile
from chassis_gen.plan.chassis import ChassisPlan, Route, Wire
from chassis_gen.plan.model import ExtraPiece, SectionPlan
from chassis_gen.plan.netlist_checks import netlist_findings
from chassis_gen.plan.reliefs import relief_findings
from chassis_gen.tables.wire import awg_area, connector_head, metric_diameter, nearest_gauge, wiring_rule
from tests.electrics.support import seated
from tests.plan.support import planned, wire

BUILD = """
[build]
title = "netlist"

[[tube.segment]]
length = 320
bores = [{ from_mouth = 0, diameter = 42 }]

[[section]]
kind = "board_tray"
name = "sound"
part = "sound board"

[[section]]
kind = "board_tray"
name = "radio"
part = "radio board"
beside = "sound"
clock_deg = 250
board_height = 12

[[section]]
kind = "lead_bay"
name = "bay"
length = 30

[[section]]
kind = "cell_cradle"
name = "cell"

[[section]]
kind = "lead_bay"
name = "rear bay"
length = 20

[[section]]
kind = "light_head"
name = "light"
light = "led_round"
"""
PLUS = '\n[[wire]]\nname = "supply"\nfrom = "cell.plus"\nto = "sound.battery plus"\n'
MINUS = '\n[[wire]]\nname = "return"\nfrom = "cell.minus"\nto = "sound.battery minus"\n'


def built(root: Path, more: str, base: str = BUILD) -> ChassisPlan:
    return planned(root, base + more)


def codes(plan: ChassisPlan) -> set[str]:
    return {f.code for f in plan.findings if f.level != "note"}


def test_a_board_in_a_tray_beside_another_is_reached(tmp_path: Path) -> None:
    """Exits at different clocks and the lead bay next door: the wire runs there, turns, and comes back."""
    text = BUILD + PLUS + MINUS
    text += (
        '\n[[wire]]\nname = "radio"\nfrom = "radio.battery plus"\nto = "sound.battery plus"\ngauge_awg = 30\n'
    )
    plan = planned(tmp_path, text)
    assert not plan.unrouted
    assert {r.wire.id for r in plan.routes} == {"supply", "return", "radio"}


# sizes -----------------------------------------------------------------------------------------------


def test_a_wire_by_its_cross_section(tmp_path: Path) -> None:
    plan = built(tmp_path, PLUS + "area_mm2 = 0.25\ninsulation = 'pvc'\ncurrent_a = 1.5\n" + MINUS)
    wire = next(w for w in plan.wires if w.id == "supply")
    assert wire.outer_diameter == metric_diameter(0.25, "pvc")
    assert wire.conductor_diameter == pytest.approx(math.sqrt(4 * 0.25 / math.pi))
    assert (wire.gauge_text, wire.current_a) == ("0.25 mm2", 1.5)
    assert awg_area(wire.gauge_awg) <= 0.25 < awg_area(wire.gauge_awg - 1)


@pytest.mark.parametrize(
    ("area", "gauge"), [(0.5, 21), (0.34, 22), (0.25, 24), (0.14, 26), (0.08, 29), (0.01, 32)]
)
def test_the_gauge_that_is_no_thicker_than_a_cross_section(area: float, gauge: int) -> None:
    """ASTM B258: AWG 22 is 0.326 mm2, 24 0.205, 26 0.129, 28 0.081, 29 0.064."""
    assert nearest_gauge(area) == gauge


def test_a_braid_makes_a_wire_thicker_on_both_sides(tmp_path: Path) -> None:
    plan = built(tmp_path, PLUS + "shielded = true\n" + MINUS)
    thick, plain = (w.outer_diameter for w in plan.wires)
    assert thick - plain == pytest.approx(2 * wiring_rule("shield_per_side").value)


def test_heads_of_connectors_grow_by_their_pitch() -> None:
    for ways in (2, 3, 8):
        assert connector_head(2.0, ways).width - connector_head(2.0, 1).width == pytest.approx(
            2.0 * (ways - 1)
        )


# nets and own terminals ---------------------------------------------------------------------------------

NET = """
[[net]]
name = "ground"
terminals = ["cell.minus", "sound.battery minus", "radio.battery minus", "light.minus"]
gauge_awg = 28
"""


def test_a_net_becomes_the_wires_of_its_tree(tmp_path: Path) -> None:
    plan = built(tmp_path, PLUS + NET)
    (net,) = plan.nets
    mine = [w for w in plan.wires if w.net == "ground"]
    assert [w.id for w in mine] == ["ground 1", "ground 2", "ground 3"] == list(net.wires)
    assert {t for w in mine for t in (w.start, w.end)} == set(net.terminals)
    assert not plan.unrouted
    for star in net.terminals:
        other = built(tmp_path, PLUS + NET + f'star = "{star}"\n')
        assert all(star in (w.start, w.end) for w in other.wires if w.net)


OWN = """
[[terminal]]
name = "joint"
section = "bay"
kind = "splice"
clock_deg = 30

[[net]]
name = "supply"
terminals = ["cell.plus", "bay.joint", "sound.battery plus", "radio.battery plus"]
star = "bay.joint"
gauge_awg = 28
"""


def test_a_splice_of_the_makers_own_joins_a_star(tmp_path: Path) -> None:
    plan = built(tmp_path, OWN + MINUS)
    assert plan.own_terminals == {"bay.joint": "splice"}
    place = plan.terminals["bay.joint"].position
    assert math.degrees(math.atan2(place[1], place[0])) == pytest.approx(30)
    assert not plan.unrouted
    assert sum("bay.joint" in (w.start, w.end) for w in plan.wires) == 3


def test_a_terminal_on_the_tube(tmp_path: Path) -> None:
    own = '\n[[terminal]]\nname = "lug"\nsection = "rear bay"\nkind = "tube"\nclock_deg = 0\n'
    wire = '\n[[wire]]\nfrom = "cell.minus"\nto = "rear bay.lug"\n'
    plan = built(tmp_path, own + PLUS + MINUS + wire)
    assert plan.own_terminals["rear bay.lug"] == "tube"
    assert not plan.unrouted
    unused = built(tmp_path, own + PLUS + MINUS)
    assert "terminal-open" in codes(unused)


# checks --------------------------------------------------------------------------------------------------


def test_two_drivers_on_one_net_are_named(tmp_path: Path) -> None:
    more = '\n[[wire]]\nfrom = "sound.speaker plus"\nto = "radio.signal"\ngauge_awg = 30\n'
    plan = built(tmp_path, PLUS + MINUS + more)
    (finding,) = [f for f in plan.findings if f.code == "two-drivers"]
    assert finding.level == "error"
    assert "sound.speaker plus and radio.signal drive one net" in finding.message
    indirect = more.replace("radio.signal", "light.plus") + more.replace("sound.speaker plus", "light.plus")
    assert "two-drivers" in codes(built(tmp_path, PLUS + MINUS + indirect))
    assert "two-drivers" not in codes(built(tmp_path, PLUS + MINUS))


def part(**changes: object) -> str:
    rows = "".join(f"{k} = {v}\n" for k, v in changes.items())
    return f"""kind = "board"
title = "a board"
mass_g = 2
source = "measured"
{rows}
[sizes]
width = 18
length = 40
thickness = 1.6
height_above = 4
height_below = 1.5

[[terminal]]
name = "battery plus"
position = [-5, -18, 1.6]

[[terminal]]
name = "battery minus"
position = [-2.5, -18, 1.6]

[[terminal]]
name = "data"
position = [2.5, -18, 1.6]
"""


def with_part(root: Path, text: str, more: str) -> ChassisPlan:
    folder = root / "profiles" / "parts"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "own board.toml").write_text(text)
    return built(root, more, BUILD.replace('part = "sound board"', 'part = "own board"'))


@pytest.mark.parametrize(
    ("low", "high", "level"), [(2.5, 5.5, None), (4.5, 5.5, "warning"), (2.5, 3.6, "error"), (3.0, 4.2, None)]
)
def test_supply_against_a_parts_range(tmp_path: Path, low: float, high: float, level: str | None) -> None:
    """A lithium-ion cell gives 3.0 V at cut-off and 4.2 V when full."""
    plan = with_part(tmp_path, part(supply_v_min=low, supply_v_max=high), PLUS + MINUS)
    found = [f for f in electrics_of(plan)[1] if f.code == "supply-range"]
    assert [f.level for f in found] == ([level] if level else [])
    if found:
        assert (found[0].numbers["given_v_min"], found[0].numbers["given_v_max"]) == (3.0, 4.2)


def test_an_output_of_stated_voltage_is_held_to_a_parts_range_and_cells_in_series_drive_too() -> None:
    """An output of 9 V on a board for 5.5 V; the pluses of two cradles, one of them with two cells, joined."""
    source, board, cell = (
        seated(n, p, z)
        for n, p, z in (("a", "sound board", 5), ("b", "sound board", 25), ("c", "cell 18650", 45))
    )
    (placed,), (one,) = source.parts, cell.parts
    giving = replace(placed, part=replace(placed.part, gives_v_min=8.0, gives_v_max=9.0))
    source = replace(source, parts=(giving,))
    cells = replace(cell, name="pair", parts=(replace(one, id="pair.1"), replace(one, id="pair.2")))
    fed = netlist_findings((wire("w", "a.light plus", "b.battery plus"),), (source, board))
    assert [(f.code, f.level, f.numbers["given_v_max"]) for f in fed] == [("supply-range", "error", 9.0)]
    twice = netlist_findings((wire("w", "pair.plus", "c.plus"),), (cells, cell))
    assert [(f.code, f.message.split(" drive")[0]) for f in twice] == [
        ("two-drivers", "pair.plus and c.plus")
    ]


def test_a_need_that_no_neighbour_offers_is_named(tmp_path: Path) -> None:
    data = '\n[[wire]]\nfrom = "sound.data"\nto = "radio.signal"\ngauge_awg = 30\n'
    unmet = with_part(tmp_path, part(needs='["two-wire bus"]'), PLUS + MINUS + data)
    (finding,) = [f for f in unmet.findings if f.code == "need-unmet"]
    assert "sound (own board) needs two-wire bus; it is wired to cell, radio" in finding.message
    met = with_part(tmp_path, part(needs='["serial data"]'), PLUS + MINUS + data)
    assert "need-unmet" not in codes(met)
    apart = with_part(tmp_path, part(needs='["serial data"]'), PLUS + MINUS)
    assert any("wire it to radio" in (f.remedy.text if f.remedy else "") for f in apart.findings)


def test_a_part_file_names_only_terminals_that_it_has(tmp_path: Path) -> None:
    from chassis_gen.params.reading import read_model

    (tmp_path / "own.toml").write_text(part(drives='["date"]'))
    with pytest.raises(Exception, match='the part has no terminal "date"'):
        read_model(tmp_path / "own.toml", PartFile, tmp_path)


# remedies and options of whole builds -------------------------------------------------------------------

TIGHT = BUILD.replace("diameter = 42", "diameter = 27").replace(
    'beside = "sound"\nclock_deg = 250\nboard_height = 12', ""
)


def test_options_of_a_wire_come_through_to_its_route(tmp_path: Path) -> None:
    more = (
        PLUS
        + "have_from_mm = 60\nserve_out_mm = 40\nstrain_relief = 'glue'\nkeep_apart = 'power'\n"
        + "from_connector = { pitch = 2.0, ways = 2 }\n"
        + 'in_line = [{ kind = "fuse", rating_a = 2 }]\n'
        + MINUS
    )
    plan = built(tmp_path, more)
    (route,) = [r for r in plan.routes if r.wire.id == "supply"]
    assert {b.body.kind for b in route.bodies} == {"splice", "fuse"}
    assert route.slack == 40
    assert route.slack_section in ("bay", "rear bay")
    assert route.wire.start_connector is not None
    fuse = next(b for b in route.bodies if b.body.kind == "fuse")
    assert fuse.body.rating_a == 2
    splice = next(b for b in route.bodies if b.body.kind == "splice")
    assert splice.from_start <= 60


@pytest.mark.parametrize(
    "kinds", [("fuse", "resistor"), ("resistor", "fuse"), ("fuse", "splice", "resistor")]
)
def test_bodies_keep_the_makers_order_and_a_gap(tmp_path: Path, kinds: tuple[str, ...]) -> None:
    """At least 5 mm of wire between two sleeved bodies: common practice, no source. The lead's splice comes first."""
    rows = ", ".join(f'{{ kind = "{k}" }}' for k in kinds)
    text = BUILD.replace("length = 30", "length = 90")
    plan = built(tmp_path, f"{PLUS}have_from_mm = 45\nin_line = [{rows}]\n{MINUS}", text)
    assert "body-no-room" not in codes(plan)
    (route,) = [r for r in plan.routes if r.wire.id == "supply"]
    along = sorted(route.bodies, key=lambda b: b.from_start)
    assert [b.body.kind for b in along] == ["splice", *kinds]
    for one, two in itertools.pairwise(along):
        between = two.from_start - one.from_start - (one.body.length + two.body.length) / 2
        assert between >= wiring_rule("body_gap").value - 1e-3
        if one.section == two.section:
            assert min(abs(one.z0 - two.z1), abs(two.z0 - one.z1)) >= 5.0 - 1e-3


def test_a_body_without_room_speaks_of_splices_only_where_it_is_one(tmp_path: Path) -> None:
    text = BUILD.replace("length = 30", "length = 12").replace("length = 20", "length = 12")
    long = '{ kind = "resistor", length = 60 }, { kind = "fuse", length = 60 }'
    plan = built(tmp_path, f"{PLUS}gauge_awg = 30\nin_line = [{long}]\n{MINUS}gauge_awg = 30\n", text)
    found = [f.message for f in plan.findings if f.code == "body-no-room"]
    assert found
    assert all("splices" not in m and "in the order of in_line" in m for m in found)


def test_joints_without_relief_are_one_note_and_carried_ones_warnings(tmp_path: Path) -> None:
    plan = built(tmp_path, PLUS + MINUS)
    (note,) = [f for f in plan.findings if f.code == "no-strain-relief"]
    assert (note.level, note.numbers["joints"]) == ("note", 4.0)
    served = built(tmp_path, PLUS + "serve_out_mm = 40\n" + MINUS)
    warned = [f for f in served.findings if f.code == "no-strain-relief" and f.level == "warning"]
    assert {f.where for f in warned} == {"supply at cell.plus", "supply at sound.battery plus"}
    own = built(tmp_path, PLUS + "serve_out_mm = 40\nstrain_relief = 'own'\n" + MINUS)
    assert not [f for f in own.findings if f.code == "no-strain-relief" and f.level == "warning"]


def test_only_the_end_on_a_carrier_moves() -> None:
    """A wire from a board in its tray to a light on a carrier: the board's joint stays where it is."""
    board, light = seated("board", "sound board", 5), seated("light", "led 5 mm", 25)
    carrier = ExtraPiece("carrier", (), (0.0, 0.0, 1.0))
    on_carrier = replace(light, parts=(replace(light.parts[0], piece="carrier"),), extra_pieces=(carrier,))
    plain = wire("w", "board.light plus", "light.plus")

    def warned(laid: Wire, *sections: SectionPlan) -> dict[str, bool]:
        found = relief_findings((Route(laid, (), 50.0, 60.0),), sections)
        return {f.where.partition(" at ")[2]: "moves" in f.message for f in found if f.level == "warning"}

    served, glued = replace(plain, serve_out=60.0), replace(plain, strain_relief="glue")
    assert warned(plain, board, on_carrier) == {"light.plus": True}
    assert warned(served, board, on_carrier) == {"light.plus": True}
    assert warned(served, board, light) == {"board.light plus": True, "light.plus": True}
    assert warned(glued, board, on_carrier) == {"board.light plus": False, "light.plus": True}


def test_a_remedy_for_an_unrouted_wire_passes_when_applied(tmp_path: Path) -> None:
    """One clock suits neither section; the program proposes what lets the wire pass, and has tried it."""
    text = BUILD.replace("length = 30", "length = 6").replace("length = 20", "length = 6")
    text += PLUS.replace("\n[[wire]]", "\n[[wire]]", 1) + "gauge_awg = 22\nclock_deg = 0\n" + MINUS
    plan = planned(tmp_path, text)
    (stuck,) = [f for f in plan.findings if f.code == "wire-unrouted"]
    assert {"wanted_area", "free_area"} <= set(stuck.numbers)
    assert "its clock_deg 0, to which it is pinned" in stuck.message
    assert stuck.remedy is not None
    assert (stuck.remedy.key, stuck.remedy.value, stuck.remedy.tried) == ("wire[0].clock_deg", None, True)
    assert "wire-unrouted" not in codes(planned(tmp_path / "applied", text.replace("clock_deg = 0\n", "")))


def test_a_body_in_a_bay_that_fills_is_told_both_lengths_and_what_gives_it_room(tmp_path: Path) -> None:
    """Two millimetres of straight wire before and behind a sleeve of 60 mm make 64 mm (chosen)."""
    text = BUILD.replace("length = 30", 'length = "fill"').replace(
        "[[tube", "[tube]\nchassis_end = 190\n[[tube", 1
    )
    plan = built(
        tmp_path, f'{PLUS}in_line = [{{ kind = "resistor", length = 60, section = "bay" }}]\n{MINUS}', text
    )
    (found,) = [f for f in plan.findings if f.code == "body-no-room"]
    assert found.numbers["wanted_length"] >= 64.0
    longest, wanted = found.numbers["longest_run"], found.numbers["wanted_length"]
    assert f"the longest is {longest:.2f} mm, {wanted:.2f} mm are wanted" in found.message
    ends = [r.value for r in found.candidates if r.key == "tube.chassis_end"]
    assert ends
    assert ends[0] == pytest.approx(190 + wanted - longest, abs=0.15)
    assert found.candidates[-1].key is None
    assert found.remedy is not None
    assert (found.remedy.key, found.remedy.tried) == ("tube.chassis_end", True)
