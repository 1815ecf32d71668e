"""Custom: any part is seated by its envelope; the play measured is the fit's clearance in the model."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.checks.play import Way, free_ways
from chassis_gen.checks.probes import part_bodies
from chassis_gen.parts.catalogue import catalogue
from chassis_gen.plan.model import PlacedPart, SectionPlan
from chassis_gen.problems import InputError
from chassis_gen.sections.base import SectionContext
from chassis_gen.sections.custom import KIND, CustomParams
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.mesh import make
from chassis_gen.shapes.recipe import Recipe
from tests.helpers import reread
from tests.sections.support import planned

PARTS = (
    "sound board",
    "radio board",
    "speaker 28 mm",
    "panel button 12 mm",
    "glow prism 14 mm",
)


def section(part: str, **keys: object) -> CustomParams:
    return CustomParams.model_validate({"kind": "custom", "name": "own", "part": part, **keys})


def measured(plan: SectionPlan, body: Body) -> list[tuple[float, float]]:
    """Return the promised and the measured play of each direction with a promise, mm."""
    (part,) = plan.parts
    movers = part_bodies(part, 0.01, 0.001)
    promised = [(p.direction, p.expected) for p in part.plays if p.expected is not None]
    ways = [Way(d, 2.0, e) for d, e in promised]
    found = free_ways(body, movers, ways)
    assert found is not None
    return [(e, f - 0.001) for (_, e), f in zip(promised, found, strict=True)]


def comes_in(plan: SectionPlan, body: Body, far: float = 45.0) -> bool:
    """Return whether the part goes all the way out against its way in without meeting the section."""
    (part,) = plan.parts
    out = tuple(-c for c in part.way_in)
    return all(
        body.common_volume(m.swept((out[0] * far, out[1] * far, out[2] * far))) < 1e-3
        for m in part_bodies(part, 0.01, 0.02)
    )


def made(plan: tuple[SectionPlan, SectionContext, Recipe]) -> tuple[SectionPlan, Body]:
    return plan[0], make(plan[2], 0.01)


@pytest.mark.parametrize("part", PARTS)
def test_any_part_has_the_play_of_its_fit(part: str) -> None:
    """Slide is 0.15 mm per side and the uncalibrated printer's 0.05 mm per side comes on top (test's own setting)."""
    plan, body = made(planned(KIND, section(part, clock_deg=40.0), bore=46.0))
    assert plan.findings == ()
    reread(body)
    assert len(body.components()) == 1
    plays = measured(plan, body)
    assert len(plays) == 5
    for promised, found in plays:
        assert promised == pytest.approx(0.2, abs=1e-3)
        assert found == pytest.approx(promised, abs=0.02)
    assert comes_in(plan, body)


@pytest.mark.parametrize(("side", "joined"), [("mouth", (False, True)), ("far", (True, False))])
def test_a_part_goes_in_along_the_axis(side: str, joined: tuple[bool, bool]) -> None:
    plan, body = made(planned(KIND, section("cell 14500", along="z", goes_in=side), bore=30.0, joined=joined))
    assert plan.findings == ()
    assert len(body.components()) == 1
    assert len(measured(plan, body)) == 5
    assert comes_in(plan, body, 80.0)


def test_a_cell_lies_along_the_tube() -> None:
    plan, body = made(planned(KIND, section("cell 14500", along="z", clock_deg=200.0), bore=30.0))
    assert plan.findings == ()
    assert plan.z1 - plan.z0 == pytest.approx(plan.parts[0].part.size("length") + 2 * (2.4 + 0.2), abs=0.01)
    for promised, found in measured(plan, body):
        assert found == pytest.approx(promised, abs=0.02)
    assert comes_in(plan, body)


def test_a_neighbour_closes_the_way() -> None:
    plan, _, _ = planned(KIND, section("cell 14500", along="z", goes_in="mouth"), bore=30.0)
    (finding,) = plan.findings
    assert (finding.code, finding.candidates[0].key) == ("way-in-blocked", "goes_in")


def test_too_little_spine_blocks() -> None:
    plan, _, _ = planned(KIND, section("cell 14500", along="z", height=-14.0), bore=30.0)
    finding = next(f for f in plan.findings if f.code == "spine-thin")
    assert finding.blocks_solids
    key, value = finding.candidates[0].key, finding.candidates[0].value
    assert key == "height"
    lifted, _, _ = planned(KIND, section("cell 14500", along="z", height=value), bore=30.0)
    assert [f.code for f in lifted.findings if f.code == "spine-thin"] == []


def test_a_part_that_is_too_large_blocks() -> None:
    plan, _, _ = planned(KIND, section("speaker 40 mm"), bore=30.0)
    finding = next(f for f in plan.findings if f.code == "part-outside-bore")
    assert finding.blocks_solids
    assert finding.numbers["bore_radius"] == 15.0


def test_unknown_names() -> None:
    with pytest.raises(InputError, match="unknown-part"):
        planned(KIND, section("nothing of the kind"))
    with pytest.raises(InputError, match="no such fit class"):
        planned(KIND, section("sound board", fit="slid"))


def test_terminals_stand_where_the_part_has_them() -> None:
    plan, _, _ = planned(KIND, section("sound board"), bore=46.0)
    (part,) = plan.parts
    assert isinstance(part, PlacedPart)
    wanted = {f"own.{t.name}": part.frame.point(t.position)[:2] for t in part.part.terminals}
    assert {t.id: t.position[:2] for t in plan.terminals} == {k: pytest.approx(v) for k, v in wanted.items()}


@settings(max_examples=15, deadline=None)
@given(
    part=st.sampled_from(sorted(catalogue())),
    bore=st.floats(24.0, 60.0),
    clock=st.floats(0.0, 359.0),
    height=st.none() | st.floats(-12.0, 8.0),
    fit=st.sampled_from(["press", "snug", "slide", "free"]),
    along=st.sampled_from(["y", "z"]),
)
def test_any_accepted_input_gives_one_body_or_a_finding_that_blocks(
    part: str, bore: float, clock: float, height: float | None, fit: str, along: str
) -> None:
    keys: dict[str, object] = {"clock_deg": clock, "fit": fit, "along": along} | (
        {} if height is None else {"height": height}
    )
    plan, ctx, recipe = planned(KIND, section(part, **keys), bore=bore)
    if any(f.blocks_solids for f in plan.findings):
        return
    body = make(recipe, 0.01)
    assert len(body.components()) == 1
    assert max(body.bounds[1][0], -body.bounds[0][0]) <= ctx.radius + 0.01


def test_the_exact_kernel_closes_a_seat_whose_hull_has_corners_in_line() -> None:
    brep = pytest.importorskip("chassis_gen.shapes.brep")
    _, _, recipe = planned(KIND, section("speaker 23 mm"))
    shape, body = brep.make(recipe), make(recipe, 0.01)
    assert shape.isValid()
    # 0.03 x chord x area bounds what facets change, as in every comparison of the kernels.
    assert abs(brep.volume(shape) - body.volume) <= 0.03 * 0.01 * body.area
