"""Lettering of a build: room, printing limits, faces and pieces, checked on the plan and on the solids."""

from __future__ import annotations

import hashlib
import json
import shutil
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from chassis_gen.checks.lettering import check_lettering
from chassis_gen.lettering.shaping import default_font
from chassis_gen.output.stl import check_written, stl_bytes
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import Loaded, load_build, plan_of, solids_of
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.planner import plan_build
from chassis_gen.sections.registry import section_kinds
from chassis_gen.shapes import mesh
from chassis_gen.shapes.primitives import Cylinder
from tests.plan.support import write_build

BUILD = """
[build]
title = "Lettered"

[tube]
chassis_offset = 2.0

[[tube.segment]]
length = 120
bores = [{ from_mouth = 0, diameter = 27 }]

[[tube.opening]]
name = "push"
from_mouth = 100
clock_deg = 90
diameter = 8

[[section]]
kind = "speaker_cup"
name = "cup"
part = "speaker 20 mm"
cap = "none"
back_depth = 12

[[section]]
kind = "cell_cradle"
name = "cell"
part = "cell 14500"
"""
RAISED = 'style = "raised"'


def lettering(text: str, section: str, *more: str) -> str:
    return "\n".join(["", "[[lettering]]", f'text = "{text}"', f'section = "{section}"', *more, ""])


@cache
def loaded(root: Path, *texts: str) -> Loaded:
    return load_build(write_build(root, BUILD + "".join(texts)), "trial")


def planned(root: Path, *texts: str) -> ChassisPlan:
    return plan_of(loaded(root, *texts))


def found(plan: ChassisPlan) -> list[str]:
    return [f.code for f in plan.findings if f.code.startswith("text-")]


GOOD = (
    lettering("FERRY 7", "cell", "size = 4.5", "clock_deg = 320", "offset = 33"),
    lettering("Причал", "cup", "size = 4.5", 'direction = "round"', "clock_deg = 20", "offset = 15"),
    lettering("אב", "cell", "size = 4.5", RAISED, "clock_deg = 222", "offset = 30"),
    lettering("F2", "cell", "size = 4", 'face = "flat"', "depth = 0.4"),
)


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> ChassisPlan:
    return planned(tmp_path_factory.mktemp("good"), *GOOD)


def test_texts_find_their_places(good: ChassisPlan) -> None:
    assert found(good) == []
    assert [t.text for t in good.lettering] == ["FERRY 7", "Причал", "אב", "F2"]
    assert {t.piece for t in good.lettering} == {"chassis"}
    first = good.lettering[0]
    assert first.station == pytest.approx(good.sections[1].z0 + 33)
    assert first.length > first.height > first.size * 0.99


def test_the_lettered_piece_is_one_watertight_body_within_its_surface(good: ChassisPlan) -> None:
    solids = solids_of(good)
    body = solids.pieces["chassis"]
    assert check_written(stl_bytes(body, "chassis"), body, "chassis") == ()
    assert len(body.components()) == 1
    points = body.arrays()[0]
    assert np.hypot(points[:, 0], points[:, 1]).max() <= max(s.radius for s in good.outer.steps) + 0.01
    assert check_lettering(good, solids) == ()
    # each text takes away its area times its depth, or in a panel a part of that rectangle
    bare = solids_of(replace(good, pieces=tuple(_bare(p) for p in good.pieces))).pieces["chassis"]
    engraved = [t for t in good.lettering if t.style == "engraved"]
    assert bare.volume - body.volume > sum(t.area * t.depth for t in engraved) * 0.97


def _bare(piece):  # type: ignore[no-untyped-def]
    kept = (replace(r, steps=tuple(s for s in r.steps if "lettering" not in s.label)) for r in piece.recipes)
    return replace(piece, recipes=tuple(kept))


def test_a_wall_that_is_too_thin_beneath_a_text_is_measured(good: ChassisPlan) -> None:
    solids = solids_of(good)
    text = good.lettering[0]
    hollow = solids.pieces["chassis"].cut(
        mesh.solid(Cylinder(11.7, text.station - 20, text.station + 20), solids.chord)
    )
    faulty = replace(solids, pieces={**solids.pieces, "chassis": hollow})
    hit = {f.where: f for f in check_lettering(good, faulty)}
    assert hit["lettering[0]"].code == "text-wall"
    # of a wall of 0.8 mm from 0.65 to 1.4 mm under the surface, what lies outside a radius of 11.7 is left
    left = (text.floors[0].b.outer_radius - 11.7) / (0.8 - 0.05)
    assert hit["lettering[0]"].numbers["share"] == pytest.approx(left, abs=0.05)


def test_the_same_build_gives_the_same_steps(good: ChassisPlan, tmp_path: Path) -> None:
    again = planned(tmp_path, *GOOD)
    assert again.pieces == good.pieces
    assert again.lettering == good.lettering


def test_a_lid_carries_its_own_text(tmp_path: Path) -> None:
    """A cap's face is the plane of its near end; the cap loses the text's area times its depth."""
    capped = BUILD.replace('part = "speaker 20 mm"\ncap = "none"', 'part = "speaker 32 mm"')
    capped = capped.replace("diameter = 27 ", "diameter = 40 ").replace("back_depth = 12", "back_depth = 8")
    text = lettering("F", "cup", 'on = "cup cap"', 'face = "near"', "size = 4", "depth = 0.5")
    plan, bare = (
        plan_of(load_build(write_build(tmp_path / name, capped + more), "trial"))
        for name, more in (("a", text), ("b", ""))
    )
    (placed,) = plan.lettering
    assert placed.piece == "cup-cap"
    assert placed.station == pytest.approx(2.0)
    volumes = [
        mesh.make(next(x for x in p.pieces if x.name == "cup-cap").recipes[0]).volume for p in (plan, bare)
    ]
    assert volumes[1] - volumes[0] == pytest.approx(placed.area * 0.5, rel=1e-3)


def test_a_text_over_a_window_names_it_and_another_clock(tmp_path: Path) -> None:
    plan = planned(tmp_path, lettering("FERRY 7", "cell", "size = 4.5", "offset = 33"))
    (finding,) = [f for f in plan.findings if f.code == "text-room"]
    assert "open above the base" in finding.message
    assert finding.remedy is not None
    assert finding.remedy.key == "lettering[0].clock_deg"
    assert finding.remedy.tried
    assert plan.lettering == ()


def test_a_text_that_is_too_long_says_by_how_much_and_which_size_fits(tmp_path: Path) -> None:
    plan = planned(tmp_path, lettering("FERRY ACROSS THE QUAY", "cell", "clock_deg = 320"))
    (finding,) = [f for f in plan.findings if f.code == "text-outside"]
    assert finding.numbers["length"] > finding.numbers["room"]
    section = plan.sections[1]
    assert finding.numbers["room"] == pytest.approx(section.z1 - section.z0 - 2 * plan.rules.least_wall)
    smaller = finding.candidates[1].value
    assert smaller == pytest.approx(6.0 * finding.numbers["room"] / finding.numbers["length"], abs=0.1)


def test_thin_strokes_and_gaps_ask_for_a_size_that_prints(tmp_path: Path) -> None:
    plan = planned(tmp_path, lettering("mna", "cell", "size = 2.5", "clock_deg = 320", "offset = 33"))
    thin = {f.code: f for f in plan.findings if f.code in ("text-stroke", "text-gap")}
    assert thin["text-stroke"].numbers["width"] < 0.4 == thin["text-stroke"].numbers["nozzle"]
    remedy = thin["text-stroke"].remedy
    assert remedy is not None
    assert remedy.tried
    # widths grow with the size
    share = float(remedy.value) / 2.5  # type: ignore[arg-type]
    assert min(f.numbers["width"] for f in thin.values()) * share == pytest.approx(0.4, abs=0.02)


def test_letters_too_large_for_the_radius_are_refused(tmp_path: Path) -> None:
    plan = planned(tmp_path, lettering("F", "cell", "size = 20", "clock_deg = 320"))
    (finding,) = [f for f in plan.findings if f.code == "text-outside"]
    # the sine of the slope is half the height over the radius of the letters' floor
    radius = plan.outer.smallest_radius(30, 40) - 0.6
    assert finding.numbers["slope_deg"] == pytest.approx(np.degrees(np.arcsin(10 / radius)), abs=0.2)


def test_texts_keep_a_wall_from_each_other(tmp_path: Path) -> None:
    same = [lettering("FERRY", "cell", "size = 4.5", "clock_deg = 320", f"offset = {at}") for at in (33, 36)]
    plan = planned(tmp_path, *same)
    assert [t.id for t in plan.lettering] == ["lettering[0]"]
    (finding,) = [f for f in plan.findings if f.code == "text-room"]
    assert 'lettering "FERRY"' in finding.message


def test_a_font_file_of_the_build_is_one_of_its_inputs(tmp_path: Path) -> None:
    workspace = write_build(tmp_path, BUILD + lettering("F", "cell", "clock_deg = 320", 'font = "own.ttf"'))
    (tmp_path / "profiles" / "trial" / "own.ttf").write_bytes(default_font())
    build = load_build(Workspace(workspace.root), "trial")
    name = "profiles/trial/own.ttf"
    assert build.binaries == {name: default_font()}
    from chassis_gen.output.manifest import manifest_text

    text = manifest_text(plan_of(build), None, build.contents, {}, ())
    assert json.loads(text)["inputs"][name] == hashlib.sha256(default_font()).hexdigest()
    shutil.rmtree(tmp_path / "profiles")


def test_a_build_without_lettering_loads_no_font_library(tmp_path: Path) -> None:
    import subprocess
    import sys

    write_build(tmp_path, BUILD)
    code = (
        "import sys; from pathlib import Path; from chassis_gen.params.workspace import Workspace;"
        "from chassis_gen.pipeline import load_build, plan_of;"
        "plan_of(load_build(Workspace(Path(sys.argv[1])), 'trial'));"
        "print(sorted({'uharfbuzz', 'fontTools', 'matplotlib', 'manifold3d'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_the_page_explains_every_key_and_its_examples_are_read() -> None:
    import tomllib

    import chassis_gen.docs
    from chassis_gen.params.finish import FinishTable
    from chassis_gen.params.lettering import LetteringTable

    page = Path(chassis_gen.docs.__file__).parent.joinpath("lettering.md").read_text("utf-8")
    for model in (LetteringTable, FinishTable):
        assert [k for k in model.model_fields if f"| `{k}` |" not in page] == []
    data = tomllib.loads("".join(line[4:] for line in page.splitlines(True) if line.startswith("    ")))
    assert [LetteringTable.model_validate(row).size for row in data["lettering"]] == [5, 6.5]
    assert sum(c.thickness for c in FinishTable.model_validate(data["finish"]).coat) == pytest.approx(0.08)


WORDS = st.sampled_from(["FERRY 7", "й&8", "ΦΩ", "אב 3", "سلام", "Q", "W.m", "i"])


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    text=WORDS,
    section=st.sampled_from(["cup", "cell"]),
    face=st.sampled_from(["outside", "outside", "flat", "far"]),
    style=st.sampled_from(["engraved", "raised"]),
    direction=st.sampled_from(["along", "along_back", "round", "round_back"]),
    size=st.floats(2.0, 8.0),
    depth=st.floats(0.2, 1.2),
    clock=st.integers(0, 359),
    mirrored=st.booleans(),
)
def test_a_text_is_cut_soundly_or_the_plan_says_why_not(
    tmp_path: Path,
    text: str,
    section: str,
    face: str,
    style: str,
    direction: str,
    size: float,
    depth: float,
    clock: int,
    mirrored: bool,
) -> None:
    more = [f'face = "{face}"', f'style = "{style}"', f"size = {size}", f"depth = {depth}"]
    more += [f'direction = "{direction}"'] if face != "far" else []
    more += [f"clock_deg = {clock}"] if face != "flat" else []
    section = "cell" if face == "far" else section
    rows = lettering(text, section, *more, f"mirrored = {str(mirrored).lower()}")
    plan = plan_build(loaded(tmp_path, rows).inputs, section_kinds())
    assert bool(plan.lettering) != bool({"text-room", "text-outside"} & set(found(plan)))
    if plan.lettering:
        solids = solids_of(plan)
        body = solids.pieces["chassis"]
        assert len(body.components()) == 1
        assert check_written(stl_bytes(body, "chassis"), body, "chassis") == ()
        assert check_lettering(plan, solids) == ()


def test_a_size_for_the_nozzle_is_named_only_where_the_section_has_room_for_it(tmp_path):
    for text, fits in (("m", True), ("Cell mmmmmmm", False)):
        tight = next(
            f
            for f in planned(
                tmp_path / text[:1], lettering(text, "cup", "size = 1.5", "clock_deg = 20")
            ).findings
            if f.code in ("text-gap", "text-stroke")
        )
        assert tight.remedy is not None
        assert tight.remedy.tried is fits
        assert ("no room" in tight.remedy.text) is not fits
