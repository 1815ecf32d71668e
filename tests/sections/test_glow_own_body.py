"""A translucent body from the maker's own mesh: taken in as a part, held by the glue gap in its own form."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.checks.result import CheckResult
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import check_build, load_build
from chassis_gen.sections.glow_body import clipped, outline_of
from chassis_gen.sections.glow_keys import GlowChamberPlan
from chassis_gen.shapes.frame import Vec3
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Hull, Primitive
from tests.cli.support import ran
from tests.shapes.model_files import joined, stl

BUILD = """
[build]
title = "crystal"

[tube]
chassis_offset = 4

[[tube.segment]]
length = 120
bores = [{ from_mouth = 0, diameter = 40 }]

[[section]]
kind = "glow_chamber"
name = "glow"
part = "crystal"
clock_deg = 70
led = "led 3 mm"
"""
GAP = 0.30 + 0.05
"""Fit class free, per side, and half of the uncalibrated printer's allowance, mm."""


def ring(radius: float, z: float, corners: int = 7, turn: float = 0.2, x: float = 0.0) -> tuple[Vec3, ...]:
    turns = (2 * math.pi * k / corners + turn for k in range(corners))
    return tuple((x + radius * math.cos(t), 0.8 * radius * math.sin(t), z) for t in turns)


def prism(radius: float, corners: int, turn: float) -> Hull:
    return Hull((*ring(radius, 0.0, corners, turn), *ring(radius, 36.0, corners, turn)))


TAPERED = (Hull((*ring(6.5, 0.0), *ring(8.0, 22.0, x=0.5), *ring(6.2, 40.0))),)
POINTED = (Hull(((0.3, 0.0, 0.0), *ring(7.6, 6.0), *ring(6.5, 30.0), *ring(5.5, 40.0))),)
STAR = (prism(8.0, 3, 0.2), prism(8.0, 3, 0.2 + math.pi))
"""Not convex: two three-sided prisms in one another."""


@pytest.fixture
def workspace(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    (tmp_path / "profiles" / "b").mkdir(parents=True)
    return tmp_path


def checked(
    workspace: Path, capsys: pytest.CaptureFixture[str], solids: tuple[Primitive, ...], *more: str
) -> CheckResult:
    """Return the check of a chamber whose body was taken in from a mesh."""
    model = workspace / "crystal.stl"
    model.write_bytes(stl(*joined(*solids)))
    axes = ("--up=+y", "--along=+z")
    done = ran(capsys, "--workspace", workspace, "parts", "from", "crystal", model, "--units", "mm", *axes)
    assert done.status == 0
    (workspace / "profiles" / "b" / "build.toml").write_text("\n".join((BUILD, *more)))
    return check_build(load_build(Workspace(workspace), "b"))


@pytest.mark.parametrize("solids", [TAPERED, STAR])
def test_the_measured_play_is_the_glue_gap_all_round(
    solids: tuple[Primitive, ...], workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Within the job's 0.02 mm for imported parts."""
    result = checked(workspace, capsys, solids)
    assert [f.message for f in result.findings if f.level == "error"] == []
    promised = [p for p in result.plays if p.part == "glow.body" and p.expected is not None]
    assert len(promised) == 5
    for play in promised:
        assert play.expected == pytest.approx(GAP, abs=1e-3)
        assert play.measured == pytest.approx(GAP, abs=0.02)
    (out,) = (p for p in result.plays if p.part == "glow.body" and p.expected is None)
    assert out.measured == pytest.approx(2.0)
    fits = {f.fit.id: f for f in result.fits if "body" in f.fit.id}
    assert set(fits) == {"glow.body_room", "glow.body_seat_width", "glow.body_seat_height"}
    for fit in fits.values():
        assert fit.measured == pytest.approx(fit.fit.planned, abs=0.02)
    assert result.solids is not None
    chassis = result.solids.pieces["chassis"]
    assert len(chassis.components()) == 1
    # The exact mesh comes in by its window without meeting anything.
    (body,) = (p for p in result.plan.parts if p.id == "glow.body")
    mesh = result.solids.parts["glow.body"]
    away = tuple(-c for c in body.way_in)
    assert chassis.play(mesh, (away[0], away[1], away[2]), 45.0, 45.0) == 45.0


def test_a_pointed_body_is_held_by_its_slopes_and_that_is_said(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    result = checked(workspace, capsys, POINTED)
    assert [f.code for f in result.findings if f.level == "error"] == []
    assert "body-on-slopes" in [f.code for f in result.findings]
    promised = [p for p in result.plays if p.part == "glow.body" and p.expected is not None]
    assert len(promised) == 3
    for play in promised:
        assert play.measured == pytest.approx(GAP, abs=0.02)
    detail = result.plan.sections[0].detail
    assert isinstance(detail, GlowChamberPlan)
    assert not detail.seat.steady


def test_a_body_that_slips_over_its_led_is_refused(
    workspace: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    needle = (Hull((*ring(2.4, 0.0), *ring(8.0, 20.0), *ring(6.0, 40.0))),)
    result = checked(workspace, capsys, needle, "lip = 1.0")
    (found,) = (f for f in result.findings if f.code == "body-narrow")
    assert found.numbers["body"] < found.numbers["seat"] + found.numbers["least"]
    assert found.blocks_solids


@settings(max_examples=15, deadline=None)
@given(
    points=st.lists(
        st.tuples(st.floats(-9, 9), st.floats(-9, 9), st.floats(-9, 9)), min_size=8, max_size=16, unique=True
    ),
    cuts=st.tuples(st.floats(-6, -1), st.floats(1, 6)),
)
def test_a_clipped_hull_fills_what_the_kernel_crops(points: list[Vec3], cuts: tuple[float, float]) -> None:
    """Against the mesh kernel's own cropping of the same hull."""
    whole = solid(Hull(tuple(points)))
    low, high = cuts
    if whole.volume < 50.0 or whole.bounds[0][2] > low - 0.5 or whole.bounds[1][2] < high + 0.5:
        return
    mine = solid(Hull(clipped(points, low, high)))
    theirs = whole.cropped((-10.0, -10.0, low), (10.0, 10.0, high))
    assert mine.volume == pytest.approx(theirs.volume, rel=1e-4, abs=1e-3)


def test_the_outline_of_points_has_the_area_of_the_square_round_them() -> None:
    corners = outline_of([(0.0, 0.0), (2.0, 0.0), (1.0, 1.0), (2.0, 2.0), (0.0, 2.0), (1.0, 0.0)])
    pairs = zip(corners, (*corners[1:], corners[0]), strict=True)
    assert sum(a[0] * b[1] - a[1] * b[0] for a, b in pairs) / 2 == pytest.approx(4.0)
    assert len(corners) == 4
