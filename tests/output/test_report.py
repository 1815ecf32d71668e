import json

import pytest
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.output.human import LEAST_WIDTH, summary_text, table
from chassis_gen.output.markdown import report_markdown
from chassis_gen.output.report import plain, report_json, report_text
from chassis_gen.output.words import direction_words, fact_words, fits_worst_first
from tests.output.support import result


@pytest.fixture(scope="module")
def report() -> dict:
    return report_json(result(), {"chassis": ("pieces/chassis.stl",)}, None, False)


# The keys that other tools may rely on, from the command-line contract in DEVELOPERS.md.
CONTRACT = {
    "pieces": {"name", "files", "volume_mm3", "mass_g", "bounds_mm", "watertight"},
    "fits": {
        "id", "kind", "between", "fit_class", "required_mm", "planned_mm", "measured_mm", "worst_case_mm",
        "likely_mm", "yield", "verdict",
    },
    "findings": {"level", "code", "where", "message", "numbers", "remedy"},
    "wires": {"id", "from", "to", "gauge", "colour", "route", "length_mm", "cut_mm"},
}  # fmt: skip


@pytest.mark.parametrize("key", CONTRACT)
def test_the_contract_s_keys_are_there(report: dict, key: str) -> None:
    assert {"schema", "build", "verdict"} <= set(report)
    assert report[key]
    assert all(CONTRACT[key] <= set(row) for row in report[key])


def test_it_is_plain_json_and_survives_it(report: dict) -> None:
    assert json.loads(report_text(report)) == report


def test_a_piece_s_mass_is_volume_times_density(report: dict) -> None:
    cap = next(p for p in report["pieces"] if p["name"] == "cap")
    # A plate of radius 19 mm and 4 mm with a hole of radius 5 mm: pi (19^2 - 5^2) 4 = 4222.3 mm3.
    assert cap["volume_mm3"] == pytest.approx(4222.30, abs=0.05)
    # PETG at 1.27 g/cm3.
    assert cap["mass_g"] == pytest.approx(5.3623, abs=1e-3)
    assert cap["watertight"] is True
    assert cap["bounds_mm"][0][2] == 100.0


def test_the_fit_shows_planned_and_measured_and_says_unproven(report: dict) -> None:
    (fit,) = report["fits"]
    assert fit["planned_mm"] == pytest.approx(0.15)
    assert fit["measured_mm"] == pytest.approx(0.15, abs=0.015)
    assert fit["verdict"] == "unproven"
    assert report["calibrated"] is False


def test_every_dimension_keeps_its_terms_with_their_sources(report: dict) -> None:
    (dimension,) = report["dimensions"]
    assert sum(t["value"] for t in dimension["terms"]) == pytest.approx(dimension["total"], abs=1e-3)
    assert all(t["source"] for t in dimension["terms"])


def test_figures_are_rounded_and_none_is_negative_zero() -> None:
    assert plain({"a": (0.123456789, -0.00001)}) == {"a": [0.1235, 0.0]}
    assert str(plain(-0.00001)) == "0.0"
    assert plain(float("inf")) is None
    assert plain(True) is True


def test_an_error_in_the_findings_fails_the_build() -> None:
    broken = replace(result(), findings=(Finding("error", "x", "y", "z"),))
    assert report_json(broken, {}, None, False)["verdict"] == "fail"


def test_a_plan_that_has_no_solids_still_has_a_report() -> None:
    blocked = Finding("error", "no-room", "speaker", "the radial sum does not close", blocks_solids=True)
    empty = replace(result(), solids=None, fits=(), plays=(), findings=(blocked,))
    report = report_json(empty, {}, None, False)
    assert report["pieces"] == []
    assert "Pieces: none could be made." in summary_text(report)
    assert "None could be made." in report_markdown(report)


def test_the_worst_fit_comes_first() -> None:
    given = (("a", "pass", 0.1), ("b", "fail", 0.5), ("c", "pass", 0.02), ("d", "unproven", 0.5))
    fits = [
        {"id": name, "verdict": verdict, "required_mm": [0.0, 1.0], "as_printed_mm": at}
        for name, verdict, at in given
    ]
    assert [f["id"] for f in fits_worst_first({"fits": fits})] == ["b", "d", "c", "a"]


@pytest.mark.parametrize("width", [LEAST_WIDTH, 80, 100, 140])
def test_the_terminal_text_keeps_to_its_width(report: dict, width: int) -> None:
    assert max(map(len, summary_text(report, width).splitlines())) <= width


def test_the_terminal_text_has_verdict_fit_remedy_and_cautions(report: dict) -> None:
    text = " ".join(summary_text(report).split())
    assert "small: " in text
    assert "cradle.seat_diameter" in text
    assert "remedy: take the free fit (key section[0].fit), tried: passes" in text
    assert "Lithium cells:" in text


def test_cells_of_a_table_break_where_the_width_asks_for_it() -> None:
    made = table(("a", "b"), [("one two three", "x"), ("four", "y")], 12)
    assert made.splitlines() == [
        "a          b",
        "---------  -",
        "one two    x",
        "three",
        "four       y",
    ]


def test_the_markdown_has_all_that_a_maker_needs(report: dict) -> None:
    text = report_markdown(report)
    for heading in (
        "Findings, worst first",
        "Fits, worst first",
        "Pieces",
        "Wires to cut",
        "Hardware to buy",
    ):
        assert f"\n## {heading}\n" in text
    assert "| 2     | M3 x 8 set screw | cradle |" in text
    assert "Remedy: take the free fit" in text
    assert "**Soldering.**" in text
    assert "\n\n\n" not in text


@pytest.mark.parametrize(
    ("direction", "words"),
    [((0.0, 0.0, 1.0), "in (+z)"), ((0.0, 0.0, -1.0), "out (-z)"), ((0.0, 1.0, 0.0), "clock 90")],
)
def test_directions_are_told_as_the_maker_sees_them(direction: tuple, words: str) -> None:
    assert direction_words(direction) == words


def test_facts_are_told_with_their_unit() -> None:
    assert fact_words("back_volume_cm3", 12.5) == "back volume 12.5 cm3"
    assert fact_words("port_count", 6.0) == "port count 6"
