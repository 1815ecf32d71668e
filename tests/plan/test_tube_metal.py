"""Where a tube leads current: declared over tabled, unknown as a conductor, segments that meet as one."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from chassis_gen.plan.tube import Bore, Segment, Tube
from chassis_gen.plan.tube_metal import leads, material_findings, metal_at, metal_runs, run_at


def segment(material: str, z0: float, z1: float, conducts: bool | None = None) -> Segment:
    return Segment(material, z0, z1, 1.5, material, (Bore(z0, z1, 40.0, 0.1),), conducts=conducts)


def test_metal_that_meets_is_one_stretch_and_plastic_parts_two() -> None:
    tube = Tube(
        (
            segment("brass", 0, 50),
            segment("steel", 40, 100),
            segment("acrylic", 100, 120),
            segment("brass", 120, 150),
        ),
        (),
    )
    assert metal_runs(tube) == ((0, 100), (120, 150))
    assert [run_at(tube, z) for z in (10, 90, 110, 130)] == [0, 0, None, 1]
    assert [metal_at(tube, z) for z in (90, 110, 130)] == ["steel", None, "brass"]


@pytest.mark.parametrize(
    ("material", "declared", "conducts", "warned"),
    [
        ("mystery", None, True, "no known material"),
        ("alluminium", None, True, 'nearest known name is "aluminium"'),
        ("mystery", False, False, None),
        ("mystery", True, True, None),
        ("anodised aluminium", None, True, None),
        ("anodised aluminium", False, False, "no insulation to rely on"),
        ("acrylic", None, False, None),
        ("acrylic", True, True, None),
    ],
)
def test_what_is_declared_wins_and_doubt_is_said(
    material: str, declared: bool | None, conducts: bool, warned: str | None
) -> None:
    one = segment(material, 0, 50, declared)
    found = material_findings(Tube((one,), ()))
    assert leads(one) is conducts
    assert [f.code for f in found] == (["tube-material"] if warned else [])
    assert all(f.level == "warning" and (warned or "") in f.message for f in found)
    assert leads(replace(one, conducts=not conducts)) is not conducts
