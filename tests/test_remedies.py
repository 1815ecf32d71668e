"""Remedies are tried: of the plan and of the electrics; each candidate once, and only so many."""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen.checks import run_checks
from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.findings import Finding, Remedy
from chassis_gen.pipeline import electric_remedies, load_build, plan_of
from chassis_gen.plan.electrics import Draw, State
from chassis_gen.remedies import FIRST_LOOK, SECOND_LOOK, Trials, looks, with_tried_remedies
from tests.builds.support import demo_text
from tests.electrics.support import bench
from tests.electrics.support import wire as bench_wire
from tests.plan.support import write_build
from tests.plan.test_planner import text


def broken(code: str, *candidates: Remedy) -> Finding:
    return Finding("error", code, "here", f"{code} is wrong", candidates=candidates)


def value(of: int, key: str = "a") -> Remedy:
    return Remedy(key, of, f"{key} = {of}")


def test_the_first_candidate_that_brings_no_new_error_is_taken() -> None:
    """1 can't be planned, 2 leaves the finding, 3 brings another error, 4 brings one that was there: it counts."""
    other, known = broken("other"), broken("known")
    answers = {1: None, 2: (broken("x"),), 3: (other,), 4: (known,), 5: ()}
    trials = [Trials(lambda r: answers[int(str(r.value))], 9, 9)]
    finding = broken("x", *map(value, answers), Remedy(None, None, "think again"))
    (tried,) = with_tried_remedies([finding], trials, [known])
    assert tried.remedy is not None
    assert (tried.remedy.value, tried.remedy.tried) == (4, True)
    (words,) = with_tried_remedies([broken("x", value(2), Remedy(None, None, "think again"))], trials)
    assert words.remedy == Remedy(None, None, "think again")


def test_a_hopeless_build_is_tried_a_bounded_number_of_times() -> None:
    asked: list[object] = []

    def never(r: Remedy) -> None:
        asked.append(r.value)

    findings = [broken(f"x{n}", *(value(100 * n + k) for k in range(30))) for n in range(9)]
    assert all(f.remedy is None for f in with_tried_remedies(findings, [Trials(never, 20, 10)]))
    assert len(asked) == 20
    assert sum(v < 100 for v in map(int, map(str, asked))) == 10


def test_a_key_whose_strongest_value_does_nothing_is_put_off() -> None:
    """Values stand mildest first: of "a" only the last is looked at before "b", whose mildest cure is taken."""
    asked: list[object] = []

    def found(r: Remedy) -> tuple[Finding, ...]:
        asked.append((r.key, r.value))
        return () if r.key == "b" and int(str(r.value)) >= 2 else (broken("x"),)

    finding = broken("x", value(1), value(2), value(3), value(1, "b"), value(2, "b"), value(3, "b"))
    (tried,) = with_tried_remedies([finding], [Trials(found, 9, 9)])
    assert tried.remedy is not None
    assert (tried.remedy.key, tried.remedy.value) == ("b", 2)
    assert asked == [("a", 3), ("b", 3), ("b", 1), ("b", 2)]


def test_what_no_first_look_cures_gets_a_few_second_ones() -> None:
    """Wires that lie only after some attempts: the second look takes its time, for few candidates."""
    asked: list[int] = []

    def found(r: Remedy, attempts: int) -> tuple[Finding, ...]:
        asked.append(attempts)
        return () if attempts and r.value == 2 else (broken("x"),)

    (tried,) = with_tried_remedies([broken("x", value(1), value(2))], looks(found, 10))
    assert tried.remedy is not None
    assert (tried.remedy.value, tried.remedy.tried) == (2, True)
    assert asked == [0, 0, 10, 10]
    many = [broken(f"y{n}", *(value(100 * n + k, f"k{k}") for k in range(30))) for n in range(9)]
    asked.clear()
    with_tried_remedies(many, looks(found, 10))
    assert (asked.count(0), asked.count(10)) == (FIRST_LOOK[0], SECOND_LOOK[0])


def test_a_candidate_of_several_findings_is_planned_once() -> None:
    asked: list[object] = []

    def cured(r: Remedy) -> tuple[Finding, ...]:
        asked.append(r.value)
        return ()

    findings = [broken(f"x{n}", value(1)) for n in range(60)]
    assert all(f.remedy and f.remedy.tried for f in with_tried_remedies(findings, [Trials(cured, 20, 10)]))
    assert asked == [1]


# electrics -------------------------------------------------------------------------------------------

STATED = '[[wire]]\nname = "w"\nfrom = "front.plus"\nto = "back.minus"\ngauge_awg = 30\ncurrent_a = 1.2\n'


def judged(root: Path, build: str) -> dict[str, Finding]:
    """Return by code what is found in a build without its solids, electrics' remedies tried."""
    loaded = load_build(write_build(root, build), "trial")
    plan = plan_of(loaded)
    return {f.code: f for f in run_checks(plan, None, electric_remedies(loaded, plan)).findings}


@pytest.mark.parametrize(
    ("most", "gauge"),
    # ASTM B258: AWG 26 is 0.405 mm thick, AWG 28 0.321 mm; MIL-STD-975: AWG 28 bears 1.0 A in a bundle, AWG 26 1.4 A
    [(0.9, 26), (0.35, None)],
)
def test_a_thicker_wire_is_proposed_only_where_its_terminals_take_it(
    tmp_path: Path, most: float, gauge: int | None
) -> None:
    build = text(more=STATED + f'\n[part."cell 14500"]\nlargest_wire_diameter = {most}\n')
    remedy = judged(tmp_path, build)["wire-overload"].remedy
    assert remedy is not None
    if gauge is None:
        assert (remedy.key, remedy.tried) == (None, False)
        assert "several wires" in remedy.text
        return
    assert (remedy.key, remedy.value, remedy.tried) == ("wire[0].gauge_awg", gauge, True)
    cured = judged(tmp_path / "cured", build.replace("gauge_awg = 30", f"gauge_awg = {gauge}"))
    assert "wire-overload" not in cured


def test_a_thicker_cross_section_is_proposed_for_a_wire_of_one(tmp_path: Path) -> None:
    remedy = judged(tmp_path, text(more=STATED.replace("gauge_awg = 30", "area_mm2 = 0.08")))[
        "wire-overload"
    ].remedy
    assert remedy is not None and remedy.tried
    assert remedy.key == "wire[0].area_mm2"
    # AWG 26 has 0.129 mm2 and is the thinnest that bears 1.2 A
    assert isinstance(remedy.value, float) and 0.129 <= remedy.value <= 0.25


@pytest.mark.parametrize(("fitted", "code"), [("5", "fuse-above-wire"), ("0.1", "fuse-small")])
def test_a_fuse_rating_is_proposed_that_passes(tmp_path: Path, fitted: str, code: str) -> None:
    """1.25 times the current or more (UL 248-14, IEC 60127 practice), no more than the weakest wire bears."""
    lines = demo_text("quay-lantern").replace("rating_a = 0.8", f"rating_a = {fitted}").splitlines()
    build = "\n".join(x for x in lines if not x.startswith("printer ="))
    found = judged(tmp_path, build)[code]
    assert found.remedy is not None and found.remedy.tried
    assert (found.remedy.key, found.remedy.value) == ("wire[0].in_line[0].rating_a", 0.8)


def test_a_resistor_is_proposed_that_holds_the_leds_current() -> None:
    """Ohm's law: from a full cell of 4.2 V an LED of 3.2 V and 20 mA wants 50 ohm; E24 (IEC 60063) has 51."""
    wires = (bench_wire("a", "cell.plus", "light.plus"), bench_wire("b", "cell.minus", "light.minus"))

    def found(ohm: float) -> dict[str, Finding]:
        state = State("lit", draws=(Draw("light", series_ohm=ohm),))
        plan = bench({"cell": "cell 18650", "light": "led 5 mm"}, wires, state)
        return {f.code: f for f in electrics_of(plan)[1]}

    (first, *_) = candidates = found(5.0)["above-rating"].candidates
    assert (first.key, first.value) == ("state[0].draws.light.series_ohm", 51.0)
    assert [c.value for c in candidates] == [51.0, 56.0, 62.0]
    assert "above-rating" not in found(51.0)
