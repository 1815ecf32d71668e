"""The long demo build's wiring: what it is there to show, and that every wire can be laid."""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen import pipeline
from chassis_gen.checks.result import CheckResult
from chassis_gen.params.workspace import Workspace

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def tide() -> CheckResult:
    return pipeline.check_build(pipeline.load_build(Workspace(ROOT), "tide-baton"))


def test_every_wire_is_laid_and_its_way_is_open(tide: CheckResult) -> None:
    assert tide.verdict == "pass"
    assert not tide.plan.unrouted
    assert not [f for f in tide.findings if f.code in ("route-blocked", "wire-unrouted", "body-no-room")]


def test_it_carries_what_it_is_to_show(tide: CheckResult) -> None:
    """At least 14 wires over 6 parts: a shared return, a pair of classes, a part that comes out, a lead."""
    plan = tide.plan
    parts = {w.rpartition(".")[0] for r in plan.routes for w in (r.wire.start, r.wire.end)}
    assert len(plan.routes) >= 14
    assert len(parts) >= 6
    assert any(len(net.terminals) >= 3 for net in plan.nets)
    assert {"sound", "power"} <= {w.keep_apart for w in plan.wires}
    served = [r for r in plan.routes if r.wire.serve_out]
    assert served
    # beside the carrier that comes out, so that no slack has to be drawn through lanes
    assert {r.slack_section for r in served} == {"head bay"}
    carriers = {e.name for s in plan.sections for e in s.extra_pieces}
    assert any(p.piece in carriers for p in plan.parts if p.id == "light")
    (splice,) = [b for r in plan.routes for b in r.bodies if b.body.end]
    assert splice.from_start <= splice.body.lead
