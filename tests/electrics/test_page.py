"""The page on electrics names every key, figure and finding that there is."""

from __future__ import annotations

import re
from pathlib import Path

import chassis_gen
from chassis_gen.params.electrics import ElectricsTable, StateTable
from chassis_gen.tables.electrical import part_figures

ROOT = Path(chassis_gen.__file__).parent
PAGE = (ROOT / "docs" / "electrics.md").read_text("utf-8")
FINDING = re.compile(r'"([a-z]+(?:-[a-z]+)+)"')


def test_every_key_is_on_the_page() -> None:
    for name in (*ElectricsTable.model_fields, *StateTable.model_fields):
        assert f"| `{name}` |" in PAGE, name


def test_every_figure_is_on_the_page() -> None:
    assert [f.name for f in part_figures() if f"`{f.name}`" not in PAGE] == []


def test_every_finding_is_on_the_page() -> None:
    modules = [
        *(ROOT / "electrics" / f"{name}.py" for name in ("judging", "miswiring", "led_strings", "evaluate")),
        ROOT / "plan" / "tube_metal.py",
        ROOT / "electrics" / "cautions.py",
        ROOT / "checks" / "bare_conductors.py",
    ]
    named = {code for m in modules for code in FINDING.findall(m.read_text("utf-8"))}
    assert {code for code in named if f"`{code}`" not in PAGE} <= {"cut-off"}
    assert len(named) > 20
