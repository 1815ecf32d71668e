"""From a build's text to its plan: pins, fills, wires that follow, pieces, adjustments, problems."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from chassis_gen.pipeline import load_build, plan_of
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import GapProbe
from chassis_gen.plan.pieces import file_safe
from chassis_gen.plan.sums import ADJUSTMENT, GRID
from chassis_gen.problems import InputError, Problem
from tests.plan.support import planned, write_build

TUBE = """
[build]
title = "Trial"

[tube]
chassis_offset = 4.0
{tube}

[[tube.segment]]
length = {length}
bores = {bores}

[[tube.opening]]
name = "hole"
from_mouth = 150
clock_deg = 60
diameter = 10
"""

# two cradles with a fill between; the second one is pinned by the opening, a second fill meets chassis_end
SECTIONS = """
[[section]]
kind = "cell_cradle"
name = "front"
part = "cell 14500"
{front}

[[section]]
kind = "lead_bay"
name = "bay"
rails = 2
rail_width = 5

[[section]]
kind = "cell_cradle"
name = "back"
part = "cell 14500"
at_opening = "hole"
{back}

[[section]]
kind = "lead_bay"
name = "rear"
"""

WIRES = """
[[wire]]
from = "front.plus"
to = "back.minus"
gauge_awg = 24
"""


def text(
    front: str = "",
    back: str = "",
    tube: str = "chassis_end = 225",
    length: float = 240,
    bores: str = "[{ from_mouth = 0, diameter = 34.0 }]",
    more: str = WIRES,
) -> str:
    head = TUBE.format(tube=tube, length=length, bores=bores)
    return head + SECTIONS.format(front=front, back=back) + more


def spans(plan: ChassisPlan) -> dict[str, tuple[float, float]]:
    return {s.name: (s.z0, s.z1) for s in plan.sections}


def problems(root: Path, build: str) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as caught:
        planned(root, build)
    return tuple(caught.value.problems)


def codes(root: Path, build: str) -> dict[str, str | None]:
    return {p.code: p.key for p in problems(root, build)}


def test_opening_pins_the_middle_of_its_section_and_turns_it(tmp_path: Path) -> None:
    """Project rule: pinned stations are met by fill sections; the middle is what is pinned."""
    plan = planned(tmp_path, text())
    z0, z1 = spans(plan)["back"]
    assert (z0 + z1) / 2 == pytest.approx(150.0, abs=GRID)
    assert plan.contexts["back"].clock_deg == 60.0
    assert plan.z0 == 4.0
    assert plan.z1 == 225.0


def test_sections_touch_and_stand_on_the_grid(tmp_path: Path) -> None:
    plan = planned(tmp_path, text())
    for a, b in zip(plan.sections, plan.sections[1:], strict=False):
        assert a.z1 == b.z0
    for s in plan.sections:
        assert (s.z0 / GRID).is_integer()


def test_two_millimetres_more_of_the_pinned_section_come_out_of_the_fills(tmp_path: Path) -> None:
    """Project rule: the pinned axis stays where it was, the neighbouring bays give the length."""
    before = planned(tmp_path / "a", text())
    after = planned(tmp_path / "b", text(back="contact_room_near = 5\ncontact_room_far = 5"))
    old, new = spans(before), spans(after)
    assert sum(new["back"]) == pytest.approx(sum(old["back"]), abs=4 * GRID)
    assert new["back"][1] - new["back"][0] == pytest.approx(
        old["back"][1] - old["back"][0] + 2.0, abs=2 * GRID
    )
    for bay in ("bay", "rear"):
        assert new[bay][1] - new[bay][0] == pytest.approx(old[bay][1] - old[bay][0] - 1.0, abs=2 * GRID)
    assert new["front"] == old["front"]


def test_two_millimetres_more_before_the_fill_leave_the_pinned_axis(tmp_path: Path) -> None:
    before = planned(tmp_path / "a", text())
    after = planned(tmp_path / "b", text(front="contact_room_near = 6"))
    old, new = spans(before), spans(after)
    assert new["back"] == old["back"]
    assert new["bay"] == pytest.approx((old["bay"][0] + 2.0, old["bay"][1]), abs=2 * GRID)


def test_wires_and_lanes_follow(tmp_path: Path) -> None:
    before = planned(tmp_path / "a", text())
    after = planned(tmp_path / "b", text(front="contact_room_far = 6"))
    for plan in (before, after):
        assert not [f for f in plan.findings if f.code == "wire-unrouted"]
        (route,) = plan.routes
        ends = plan.terminals
        assert route.legs[0].start == ends["front.plus"].position
        assert route.legs[-1].end == ends["back.minus"].position
        for lane in plan.lanes:
            z0, z1 = spans(plan)[lane.section]
            assert z0 <= lane.z0 < lane.z1 <= z1
    assert sum(leg.kind == "drop" for leg in before.routes[0].legs) == 2


def test_all_sums_hold_what_the_solids_are_made_with(tmp_path: Path) -> None:
    plan = planned(tmp_path, text())
    for s in plan.sections:
        assert plan.dimensions[f"{s.name}.length"].total == pytest.approx(s.z1 - s.z0, abs=2 * GRID)
    assert all(f.dimension.name in plan.dimensions for f in plan.fits)


ADJUSTED = """
[[adjustment]]
dimension = "{name}"
add = 0.25
why = "test fit"
"""


def test_adjustment_is_one_term_of_its_sum(tmp_path: Path) -> None:
    """Project rule: nothing is counted twice, a section's length included."""
    plain = planned(tmp_path / "plain", text())
    for name in ("front.length", "front.seat_diameter", "chassis.bearing_diameter"):
        plan = planned(tmp_path / name, text(more=WIRES + ADJUSTED.format(name=name)))
        changed = plan.dimensions[name]
        assert [t.value for t in changed.terms if t.label == ADJUSTMENT] == [0.25]
        assert changed.total == pytest.approx(plain.dimensions[name].total + 0.25, abs=2 * GRID)
    (z0, z1) = spans(planned(tmp_path / "x", text(more=ADJUSTED.format(name="front.length"))))["front"]
    assert z1 - z0 == pytest.approx(plain.dimensions["front.length"].total + 0.25, abs=2 * GRID)


def test_fill_takes_no_adjustment(tmp_path: Path) -> None:
    """What the layout leaves isn't drawn, so nothing can be added to it."""
    (problem,) = problems(tmp_path, text(more=ADJUSTED.format(name="bay.length")))
    assert (problem.code, problem.key) == ("not-allowed", "adjustment[0].dimension")


def test_unknown_adjustment_names_the_nearest_dimension(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, text(more=ADJUSTED.format(name="front.seat_diametre")))
    assert (problem.code, problem.nearest) == ("unknown-name", "front.seat_diameter")
    assert problem.line is not None


def test_pieces_are_split_by_name_and_bear_at_their_joint(tmp_path: Path) -> None:
    """Project rule: a chassis bears at the ends of its pieces; a piece is the union of its sections."""
    plan = planned(tmp_path, text(front='piece = "Front half"', tube="chassis_end = 225"))
    assert [(p.name, p.sections) for p in plan.pieces] == [
        ("front-half", ("front",)),
        ("chassis", ("bay", "back", "rear")),
    ]
    joint = spans(plan)["front"][1]
    assert not plan.contexts["front"].joined_far
    assert not plan.contexts["bay"].joined_near
    assert {p.piece for p in plan.parts if p.section == "front"} == {"front-half"}
    on_tube = [f for f in plan.fits if f.kind == "chassis in tube"]
    for f in on_tube:
        assert isinstance(f.probe, GapProbe)
        low, high = (4.0, joint) if f.probe.a == "front-half" else (joint, 225.0)
        assert low <= f.probe.z0 < f.probe.z1 <= high
    assert any(
        f.probe.a == "front-half" and f.probe.z1 == joint for f in on_tube if isinstance(f.probe, GapProbe)
    )


def test_piece_names_make_safe_file_names() -> None:
    """A file's name holds no way out of its folder."""
    assert file_safe("../../Outer Cap") == "outer-cap"
    assert file_safe("a/b\\c") == "a-b-c"
    # Microsoft, "Naming Files, Paths, and Namespaces": device names
    assert (file_safe("Con"), file_safe("cone")) == ("con-piece", "cone")
    assert file_safe("..") == "piece"
    assert file_safe("Häuschen_2/vorn") == "häuschen-2-vorn"
    assert file_safe("e\u0301") == file_safe("é") != file_safe("ü")  # Unicode normal form C


def test_caps_go_by_their_file_safe_names_throughout(tmp_path: Path) -> None:
    build = (
        TUBE.format(tube="", length=240, bores="[{ from_mouth = 0, diameter = 40.0 }]")
        + '[[section]]\nkind = "speaker_cup"\nname = "Big speaker"\npart = "speaker 32 mm"\n'
        + '[[section]]\nkind = "lead_bay"\nname = "bay"\nlength = 30\n'
    )
    plan = planned(tmp_path, build)
    names = {p.name for p in plan.pieces}
    assert len(names) == 2
    for f in plan.fits:
        if isinstance(f.probe, GapProbe):
            assert {f.probe.a, f.probe.b} <= names | {"tube"}


def test_stepped_bore_steps_the_chassis(tmp_path: Path) -> None:
    bores = "[{ from_mouth = 0, diameter = 35.0 }, { from_mouth = 90.2, diameter = 34.0 }]"
    plan = planned(tmp_path, text(bores=bores))
    assert plan.dimensions["chassis.bearing_diameter"].term("part size") == 35.0
    assert plan.dimensions["chassis.bearing_diameter_2"].term("part size") == 34.0
    assert plan.outer.largest_radius(90.2, 225) < 17.0
    assert plan.outer.largest_radius(4, 80) > 17.0
    assert {f.id.split("@")[0] for f in plan.fits if f.kind == "chassis in tube"} == {
        "chassis.bearing_diameter", "chassis.bearing_diameter_2",
    }  # fmt: skip


# what contradicts itself --------------------------------------------------------------------------


def test_chassis_longer_than_the_tube(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, text(length=220))
    assert problem.code == "layout-long"
    assert "225" in problem.message
    assert "5 mm beyond" in problem.message


def test_fill_squeezed_out_names_the_numbers(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, text(front="cells = 2"))
    assert problem.code == "layout-full"
    assert '"bay"' in problem.message


def test_problems_are_told_together_and_by_line(tmp_path: Path) -> None:
    build = text(front='station = 4\nat_opening = "holle"').replace('name = "rear"', 'name = "bay"')
    found = problems(tmp_path, build)
    assert [p.code for p in found] == ["not-allowed", "unknown-name", "duplicate-name"]
    assert found[1].nearest == "hole"
    assert [p.line for p in found] == sorted(p.line or 0 for p in found)


@pytest.mark.parametrize(
    ("old", "new", "code", "key"),
    [
        ("from_mouth = 150", "from_mouth = 238", "not-allowed", "tube.opening[0]"),
        ("diameter = 10", "diameter = 50", "not-allowed", "tube.opening[0]"),
        ("from_mouth = 0, diameter", "from_mouth = 3, diameter", "not-allowed", "tube.segment[0]"),
        ("length = 240", "length = 240\nfrom_mouth = 5", "not-allowed", "tube.segment[0]"),
        ('to = "back.minus"', 'to = "front.plus"', "not-allowed", "wire[0].to"),
        ('to = "back.minus"', 'to = "back.minis"', "unknown-name", "wire[0].to"),
        ('title = "Trial"', 'title = "Trial"\nmaterial = "PETT"', "unknown-material", "build.material"),
        ("[[tube.segment]]", "[bearing]\nfit = 'slid'\n[[tube.segment]]", "unknown-name", "bearing.fit"),
        ("[[tube.segment]]", "[bearing]\nflat_width = 40\n[[tube.segment]]", "not-allowed", "bearing.flat"),
    ],
)  # fmt: skip
def test_contradictions_stand_at_their_keys(tmp_path: Path, old: str, new: str, code: str, key: str) -> None:
    build = text()
    assert old in build
    found = problems(tmp_path, build.replace(old, new))
    assert found[0].code == code
    assert (found[0].key or "").replace(' "hole"', "").replace(' "tube"', "").startswith(key)


def test_wire_too_thick_for_its_terminal_is_an_error_with_a_tried_gauge(tmp_path: Path) -> None:
    """ASTM B258: AWG 20 is 0.812 mm thick, AWG 24 0.511 mm."""
    build = text(more=WIRES.replace("24", "20") + '\n[part."cell 14500"]\nlargest_wire_diameter = 0.6\n')
    found = [f for f in planned(tmp_path, build).findings if f.code == "wire-thick"]
    assert [f.level for f in found] == ["error", "error"]
    assert found[0].numbers["conductor_diameter"] == pytest.approx(0.812, abs=5e-4)
    assert found[0].remedy is not None
    assert (found[0].remedy.value, found[0].remedy.tried) == (24, True)


def test_wires_that_go_to_a_port_have_room_to_bend_behind_it(tmp_path: Path) -> None:
    """AWG 22 in silicone is 1.8 mm thick by the table of wires."""
    port = '\n[[section]]\nkind = "port_bay"\nname = "port"\nmount = "axial"\nfacing = "far"\nwire_diameter = 0.8\n'
    wires = '\n[[wire]]\nfrom = "port.plus"\nto = "back.plus"\ngauge_awg = 22\n'
    build = text(more=port + wires)
    (found,) = (f for f in planned(tmp_path, build).findings if f.code == "wire-bend-room")
    assert (found.where, found.numbers) == ("port", {"outer_diameter": 1.8, "room_for": 0.8})
    assert found.remedy is not None
    assert (found.remedy.value, found.remedy.tried) == (1.8, True)
    assert found.remedy.key is not None
    assert found.remedy.key.endswith("].wire_diameter")


def test_terminals_that_want_a_wire_are_warned_of(tmp_path: Path) -> None:
    found = [f for f in planned(tmp_path, text()).findings if f.code == "terminal-open"]
    assert sorted(f.where for f in found) == ["back.plus", "front.minus"]
    assert {f.level for f in found} == {"warning"}


# apart from kernels, and the same twice -----------------------------------------------------------

PLAN_ELSEWHERE = """
import hashlib, json, sys
from pathlib import Path
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build, plan_of
plan = plan_of(load_build(Workspace(Path(sys.argv[1])), "trial"))
kernels = {"manifold3d", "cadquery", "OCP", "trimesh", "vtk", "vtkmodules", "scipy", "pint", "lib3mf"}
said = repr((plan.routes, plan.lanes, plan.pieces, plan.fits, sorted(plan.dimensions.items()), plan.findings))
print(json.dumps([sorted(kernels & set(sys.modules)), hashlib.sha256(said.encode()).hexdigest()]))
"""


def said(plan: ChassisPlan) -> str:
    whole = (plan.routes, plan.lanes, plan.pieces, plan.fits, sorted(plan.dimensions.items()), plan.findings)
    return hashlib.sha256(repr(whole).encode()).hexdigest()


def test_planning_imports_no_kernel_and_says_the_same_in_another_process(tmp_path: Path) -> None:
    """Project rule: the plan is decided with no geometry kernel imported."""
    workspace = write_build(tmp_path, text())
    here = said(plan_of(load_build(workspace, "trial")))
    assert said(plan_of(load_build(workspace, "trial"))) == here
    env = {**os.environ, "PYTHONHASHSEED": "12345"}
    run = [sys.executable, "-c", PLAN_ELSEWHERE, str(tmp_path)]
    done = subprocess.run(
        run, capture_output=True, text=True, check=True, env=env, cwd=Path(__file__).parents[2]
    )
    kernels, there = json.loads(done.stdout)
    assert kernels == []
    assert there == here
