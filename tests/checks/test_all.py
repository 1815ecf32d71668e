"""All checks together."""

from chassis_gen.checks import run_checks
from chassis_gen.findings import Finding
from chassis_gen.shapes.primitives import Box
from chassis_gen.shapes.recipe import add
from tests.checks import support as s


def test_a_sound_build_passes_with_its_fits_and_plays():
    build = s.plan()
    result = run_checks(build, s.solids(build))
    assert (result.verdict, result.findings) == ("pass", ())
    assert len(result.fits) == 1
    assert len(result.plays) == 6


def test_findings_of_plan_and_solids_come_worst_first():
    build = s.plan(findings=(Finding("note", "a-note", "plan", "a note"),))
    steps = (*s.cradle_steps(), *add("rib", Box((-2.0, -12.0, 30.0), (2.0, 5.0, 34.0))))
    result = run_checks(build, s.solids(build, cradle=steps))
    assert result.verdict == "fail"
    assert {"interference", "play-differs"} <= {f.code for f in result.findings}
    assert [f.level for f in result.findings] == sorted(
        (f.level for f in result.findings), key=["error", "warning", "note"].index
    )


def test_a_plan_that_cant_be_made_gives_its_own_findings_alone():
    blocked = Finding("error", "no-room", "speaker", "no room", blocks_solids=True)
    result = run_checks(s.plan(findings=(blocked,)), None)
    assert (result.verdict, result.findings, result.solids) == ("fail", (blocked,), None)
