"""The harness page of the package shows what the program makes of its demo build today."""

from __future__ import annotations

import pytest

from chassis_gen.harness_page import BUILD, docs_folder, page_files, with_cut_list
from tests.output.harness_support import demo


def test_the_page_its_drawing_and_its_tests_are_up_to_date() -> None:
    page = (docs_folder() / "harness.md").read_text("utf-8")
    for name, text in page_files(demo(BUILD), page).items():
        assert (docs_folder() / name).read_text("utf-8") == text, "run: python -m chassis_gen.harness_page"


def test_the_demo_carries_at_least_fourteen_wires_over_six_parts() -> None:
    plan = demo(BUILD)
    assert len(plan.routes) >= 14
    ends = {t.rpartition(".")[0] for r in plan.routes for t in (r.wire.start, r.wire.end)}
    assert len(ends) >= 6


def test_a_page_without_its_markers_is_refused() -> None:
    with pytest.raises(ValueError, match="lacks"):
        with_cut_list("# The harness\n", "")
