"""The cut list: sums that add up, totals, joints, points of failure."""

from __future__ import annotations

import csv
import io
import math
from collections import Counter

import pytest
from msgspec.structs import replace

from chassis_gen.output.cutlist import (
    ENDS,
    HAVE,
    JOINTS,
    ROUNDING,
    SLACK,
    TERMS,
    TWIST,
    cut_list,
    cut_list_csv,
    route_words,
)
from chassis_gen.output.failure_points import failure_points, plugs_of
from chassis_gen.output.leads import cut_of, pieces_of
from chassis_gen.output.markdown import cut_list_markdown
from chassis_gen.output.report import harness_report
from chassis_gen.plan.chassis import ChassisPlan, InLine, PlacedBody
from chassis_gen.tables.harness import failure_kinds
from tests.output.harness_support import demo, plan


@pytest.fixture(params=["by hand", "tide-baton", "quay-lantern"])
def build(request: pytest.FixtureRequest) -> ChassisPlan:
    return plan() if request.param == "by hand" else demo(request.param)


def test_the_terms_of_every_wire_add_up_to_what_is_cut(build: ChassisPlan) -> None:
    for row, route in zip(cut_list(build).rows, build.routes, strict=True):
        assert math.fsum(v for _, v in row.terms) == pytest.approx(row.cut_length, abs=1e-9)
        # Rounding up to 5 mm (wiring_rules.toml, cut_round_up) adds less than 5 mm and takes nothing away.
        assert -1e-6 <= row.term(ROUNDING) < 5.0
        assert row.cut_length % 5.0 == 0.0
        assert sum(leg.length for leg in route.legs) == pytest.approx(route.length, abs=1e-6)
        # 15 mm at each end (wiring_rules.toml, end_allowance).
        assert row.term(ENDS) == 30.0


def test_no_wire_is_shorter_than_the_straight_line_between_its_terminals(build: ChassisPlan) -> None:
    for row, route in zip(cut_list(build).rows, build.routes, strict=True):
        a, b = (build.terminals[t].position for t in (row.wire.start, row.wire.end))
        assert row.cut_length - row.term(HAVE) >= math.dist(a, b) + 30.0 - 1e-6
        assert route.length >= math.dist(a, b) - 1e-6


def test_totals_add_up_to_the_rows_and_the_spare_is_a_tenth(build: ChassisPlan) -> None:
    cuts = cut_list(build)
    by_hand: Counter[tuple[str, str]] = Counter()
    for r in build.routes:
        by_hand[r.wire.gauge_text, r.wire.colour] += round(cut_of(r))
    assert {(t.gauge, t.colour): t.length for t in cuts.totals} == by_hand
    assert sum(t.count for t in cuts.totals) == len(build.routes)
    for t in cuts.totals:
        # A tenth (wiring_rules.toml, wire_spare), rounded up to 5 mm.
        assert t.length * 1.1 - 1e-6 <= t.to_buy < t.length * 1.1 + 5.0
        assert t.spare == pytest.approx(t.to_buy - t.length)


def test_the_csv_reads_back(build: ChassisPlan) -> None:
    cuts = cut_list(build)
    rows = list(csv.DictReader(io.StringIO(cut_list_csv(cuts))))
    assert [r["wire"] for r in rows] == [r.wire.id for r in build.routes]
    for row, cut in zip(rows, cuts.rows, strict=True):
        assert float(row["cut_mm"]) == cut.cut_length
        terms = [float(row[f"{t.replace(' ', '_')}_mm"]) for t in TERMS]
        assert sum(terms) == pytest.approx(cut.cut_length, abs=0.005 * len(TERMS))
        assert (row["from"], row["to"], row["route"]) == (cut.wire.start, cut.wire.end, cut.route)


def test_an_extension_ends_at_its_splice_and_slack_is_added() -> None:
    rows = {r.wire.id: r for r in cut_list(plan()).rows}
    lamp = next(r for r in plan().routes if r.wire.id == "lamp")
    # The splice lies 90 mm along the wire; beyond it runs the lead that the lamp has.
    assert rows["lamp"].term(HAVE) == pytest.approx(90.0 - lamp.length)
    # 90 mm to the splice and 15 mm at each end, for joint and lap.
    assert rows["lamp"].cut_length == 120.0
    assert rows["sound"].term(SLACK) == 40.0
    assert 'splice 90 mm from the "from" terminal, in "lamp"' in rows["lamp"].notes


def test_a_wire_with_a_fuse_and_a_resistor_is_cut_into_three() -> None:
    """Each piece runs from middle to middle with 15 mm at both ends (end_allowance), up to the next 5 mm."""
    old = plan().routes[0]
    wire = replace(old.wire, start_connector=None)
    bodies = tuple(
        PlacedBody(old.wire.id, InLine(kind, 3.0, 12.0), "bay", (0.0, 0.0, 60.0), at, 54.0, 66.0, False)
        for kind, at in (("fuse", 41.0), ("resistor", 101.0))
    )
    route = replace(old, wire=replace(wire, in_line=tuple(b.body for b in bodies)), bodies=bodies, slack=0.0)
    (row,) = cut_list(replace(plan(), routes=(route,))).rows
    assert pieces_of(route) == (75.0, 90.0, math.ceil((route.length - 101.0 + 30.0) / 5) * 5)
    assert row.cut_length == sum(pieces_of(route))
    assert (row.term(ENDS), row.term(JOINTS)) == (30.0, 60.0)
    assert 0.0 <= row.term(ROUNDING) < 15.0
    last = f"{pieces_of(route)[2]:.0f}"
    assert f'pieces from the "from" terminal: 75 mm, fuse, 90 mm, resistor, {last} mm' in row.notes
    # the slack is cut in the piece that passes its section
    slack = replace(route, slack=40.0, slack_section=route.legs[0].section)
    assert pieces_of(slack) == (115.0, *pieces_of(route)[1:])


def test_a_lead_that_goes_all_the_way_leaves_nothing_to_cut_and_no_splice() -> None:
    old = next(r for r in plan().routes if r.wire.id == "lamp")
    lead = math.ceil(old.length) + 15.0
    body = replace(old.wire.in_line[0], lead=lead)
    reaching = replace(old, wire=replace(old.wire, end_have=lead, in_line=(body,)), bodies=())
    cuts = cut_list(replace(plan(), routes=(reaching,)))
    (row,) = cuts.rows
    assert row.cut_length == 0.0
    assert math.fsum(v for _, v in row.terms) == pytest.approx(0.0, abs=1e-9)
    assert row.term(HAVE) == pytest.approx(-old.length - 15.0)
    assert cuts.totals == ()
    # only board.lamp is left to solder
    assert [j.soldered for j in cuts.joints] == [1]
    assert "splice" not in {p.kind.name for p in cuts.points}


def test_a_twisted_wire_is_longer_by_its_twist() -> None:
    old = plan().routes[2]
    made = replace(old, wire=replace(old.wire, twisted_with="sound return"), cut_length=old.cut_length + 5.0)
    (row,) = cut_list(replace(plan(), routes=(made,))).rows
    # A helix with a lay of twelve wire diameters: sqrt(1 + (pi / 12)^2) = 1.0337 of the straight line.
    assert row.term(TWIST) == pytest.approx(old.length * (math.hypot(1, math.pi / 12) - 1), rel=0.05)


def test_the_route_names_sections_clocks_and_turns_in_order() -> None:
    supply = plan().routes[0]
    words = route_words(plan(), supply)
    assert words == (
        "drop in cell at station 116; along cell, bay at clock 300; turn in bay at station 65 to clock 20; "
        "along bay, board at clock 20; drop in board at station 34"
    )


def test_the_route_names_every_section_of_a_real_build_s_wires() -> None:
    for route in demo("tide-baton").routes:
        words = route_words(demo("tide-baton"), route)
        assert all(leg.section in words for leg in route.legs)


def test_joints_are_counted_per_net() -> None:
    """Counted by hand: who is soldered where, of the harness in harness_support."""
    joints = {j.name: (j.soldered, j.connectors) for j in cut_list(plan()).joints}
    assert joints == {
        # board.battery plus; the plug at cell.plus is one
        "supply": (1, 1),
        # cell.minus once for two wires, lamp.minus; the plug at board.battery minus
        "return": (2, 1),
        "sound": (2, 0),
        # cup.minus, board.out minus, board.lamp, and the splice; lamp.plus has its lead already;
        # plugs of "sound return" and "link"
        "sound return": (4, 2),
    }


def test_a_plug_stays_where_something_must_part_and_no_other_does() -> None:
    keeps = {(p.wire, p.at): p.keeps for p in plugs_of(plan())}
    assert keeps == {
        ("supply", "start"): "the cell wears out and is changed",
        ("return", "end"): "the cell wears out and is changed",
        ("sound return", "start"): "cap comes off",
        ("link", "end"): None,
    }


def test_of_two_plugs_on_a_cell_s_wire_only_the_one_at_the_cell_stays() -> None:
    first = plan().routes[0]
    both = replace(first, wire=replace(first.wire, end_connector=first.wire.start_connector))
    build = replace(plan(), routes=(both, *plan().routes[1:]))
    kept = [p for p in plugs_of(build) if p.wire == "supply" and p.keeps]
    assert [(p.at, p.where) for p in kept] == [("start", "cell.plus")]


def test_points_of_failure_come_worst_first_and_fall_when_needless_plugs_go() -> None:
    cuts = cut_list(plan())
    ranks = [p.kind.rank for p in cuts.points]
    assert ranks == sorted(ranks)
    assert [p.wire for p in cuts.needless] == ["link"]
    # a soldered end counts one, a plugged end two
    assert len(cuts.left) == len(cuts.points) - 1 - _newly_shared(cuts.points, cuts.left)
    count = Counter(p.kind.name for p in cuts.points)
    assert count["connector"] == count["crimp"] == 4
    assert count["splice"] == 1
    # joints of "sound" and "sound return" at the cup, whose speaker sits on the cap
    assert {p.where for p in cuts.points if p.kind.name == "removable_joint"} == {"cup.plus", "cup.minus"}
    # wires of cell and lamp pass from piece aft to piece fore
    crossing = {w for p in cuts.points if p.kind.name == "piece_crossing" for w in p.wires}
    assert crossing == {"supply", "return", "lamp"}


def _newly_shared(before: tuple, after: tuple) -> int:
    """Return how many joints came to hold two wires when plugs gave way to solder, as less than none."""
    return sum(p.kind.name == "shared_joint" for p in before) - sum(
        p.kind.name == "shared_joint" for p in after
    )


def test_without_plugs_nothing_is_needless_and_the_count_stays() -> None:
    cuts = cut_list(demo("tide-baton"))
    if not cuts.plugs:
        assert len(cuts.left) == len(cuts.points)
    assert failure_points(demo("tide-baton")) == cuts.points


def test_every_kind_of_failure_has_its_own_rank() -> None:
    ranks = [k.rank for k in failure_kinds().values()]
    assert ranks == list(range(1, len(ranks) + 1))


def test_the_markdown_lists_every_wire_with_its_sum_and_the_cautions(build: ChassisPlan) -> None:
    report = harness_report(build)
    text = cut_list_markdown(report)
    for row in report["harness"]["wires"]:
        assert f"**{row['id']}**: {row['route']}." in text
    for heading in ("Wires to cut", "Wire to buy", "Joints", "Where it may fail, worst first"):
        assert f"\n## {heading}\n" in text
    assert f"{report['harness']['failure_count']} points of failure" in text
