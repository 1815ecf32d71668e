"""The harness drawing: sound SVG, each wire once and in its place, the same bytes every time."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from xml.etree import ElementTree as ET

import pytest

from chassis_gen.output.cutlist import cut_list, cut_list_csv
from chassis_gen.output.harness_drawing import BOTTOM, LEFT, TOP, harness_svg, y_of
from chassis_gen.output.harness_style import OTHER, Box, free_spot, paint_of
from chassis_gen.output.markdown import cut_list_markdown
from chassis_gen.output.report import harness_report, report_text
from chassis_gen.output.test_table import measurements_markdown
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import clock_of
from tests.output.harness_support import ROOT, demo, plan

NS = "{http://www.w3.org/2000/svg}"


@pytest.fixture(params=["by hand", "tide-baton", "quay-lantern"])
def build(request: pytest.FixtureRequest) -> ChassisPlan:
    return plan() if request.param == "by hand" else demo(request.param)


def of_class(root: ET.Element, name: str) -> list[ET.Element]:
    return [e for e in root.iter() if name in (e.get("class") or "").split()]


def points(path: str) -> list[tuple[float, float]]:
    numbers = [float(x) for x in re.findall(r"-?\d+\.?\d*(?:e-?\d+)?", path)]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


def test_every_wire_is_drawn_once_with_its_stations(build: ChassisPlan) -> None:
    root = ET.fromstring(harness_svg(build))
    drawn = of_class(root, "wire")
    assert sorted(g.get("data-wire") for g in drawn) == sorted(r.wire.id for r in build.routes)
    routes = {r.wire.id: r for r in build.routes}
    for g in drawn:
        route = routes[g.get("data-wire")]
        stations = [float(s) for s in g.get("data-stations").split()]
        ends = [build.terminals[t].position[2] for t in (route.wire.start, route.wire.end)]
        assert stations == pytest.approx(ends, abs=0.01)


def test_a_wire_s_line_spans_its_own_stations_to_scale(build: ChassisPlan) -> None:
    """One mm of station is one mm of sheet; turns that lie side by side may shift by the gallery's wires."""
    root = ET.fromstring(harness_svg(build))
    routes = {r.wire.id: r for r in build.routes}
    for g in of_class(root, "wire"):
        route = routes[g.get("data-wire")]
        (core,) = [p for p in g.findall(f"{NS}path") if p.get("class") == "core"]
        assert float(core.get("stroke-width")) == pytest.approx(route.wire.outer_diameter)
        xs = [x for x, _ in points(core.get("d"))]
        at = [p[2] for leg in route.legs if leg.kind != "drop" for p in (leg.start, leg.end)]
        assert min(xs) - LEFT + build.z0 == pytest.approx(min(at), abs=6.0)
        assert max(xs) - LEFT + build.z0 == pytest.approx(max(at), abs=6.0)
        assert all(TOP - 0.01 <= y <= BOTTOM + 0.01 for _, y in points(core.get("d")))


def test_each_lane_leg_is_drawn_at_its_clock(build: ChassisPlan) -> None:
    root = ET.fromstring(harness_svg(build))
    routes = {r.wire.id: r for r in build.routes}
    for g in of_class(root, "wire"):
        (core,) = [p for p in g.findall(f"{NS}path") if p.get("class") == "core"]
        ys = [y for _, y in points(core.get("d"))]
        for leg in routes[g.get("data-wire")].legs:
            if leg.kind == "lane":
                y = y_of(clock_of(leg.start[0], leg.start[1]))
                assert min(abs(y - drawn) for drawn in ys) < 0.02


def test_a_turn_past_clock_0_goes_on_at_the_other_edge() -> None:
    """By hand: the supply turns from clock 300 to 20, 60 degrees down to 360 and 20 from 0."""
    root = ET.fromstring(harness_svg(plan()))
    (g,) = [e for e in of_class(root, "wire") if e.get("data-wire") == "supply"]
    (core,) = [p for p in g.findall(f"{NS}path") if p.get("class") == "core"]
    assert core.get("d").count("M") == 2
    ys = [y for _, y in points(core.get("d"))]
    assert {y_of(0.0), y_of(360.0)} <= set(ys)
    first, second = core.get("d").split("M")[1:]
    assert all(y >= y_of(300.0) for _, y in points(first))
    assert all(y <= y_of(20.0) for _, y in points(second))


def test_sections_terminals_drops_and_list_are_there(build: ChassisPlan) -> None:
    root = ET.fromstring(harness_svg(build))
    assert [g.get("data-section") for g in of_class(root, "section")] == [s.name for s in build.sections]
    ends = {t for r in build.routes for t in (r.wire.start, r.wire.end)}
    assert {g.get("data-terminal") for g in of_class(root, "terminal")} == ends
    assert len(of_class(root, "row")) == len(of_class(root, "tag")) == len(build.routes)
    dropping = [r for r in build.routes if any(leg.kind == "drop" for leg in r.legs)]
    drops = [p for p in of_class(root, "drop") if "core" in p.get("class")]
    assert len(drops) == len(dropping)


def test_labels_keep_apart_in_the_demo_of_fifteen_wires() -> None:
    root = ET.fromstring(harness_svg(demo("tide-baton")))
    boxes = []
    for rect in of_class(root, "label"):
        x, y, w, h = (float(rect.get(k)) for k in ("x", "y", "width", "height"))
        boxes.append(Box(x, y, x + w, y + h))
    assert len(boxes) >= 14
    assert not [(a, b) for i, a in enumerate(boxes) for b in boxes[:i] if a.touches(b)]


def test_a_label_goes_where_there_is_room() -> None:
    sheet = Box(0.0, 0.0, 100.0, 100.0)
    taken = [Box(50.0, 0.0, 100.0, 100.0)]
    box = free_spot((50.0, 50.0), 20.0, 3.0, taken, sheet)
    assert box.x1 < 50.0
    assert box.within(sheet)


def test_colours_are_known_by_their_words() -> None:
    assert paint_of("dark red") == paint_of("red")
    assert paint_of("") == OTHER


def test_another_process_writes_the_same_bytes() -> None:
    code = (
        "import hashlib\n"
        "from tests.output.test_harness_drawing import everything\n"
        "print(hashlib.sha256(everything().encode()).hexdigest())\n"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "7"}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=env, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == hashlib.sha256(everything().encode()).hexdigest()


def everything() -> str:
    """Return all texts of the harness made by hand."""
    cuts, report = cut_list_csv(cut_list(plan())), harness_report(plan())
    return "\n".join(
        (
            harness_svg(plan()),
            cuts,
            cut_list_markdown(report),
            report_text(report),
            measurements_markdown(plan()),
        )
    )
