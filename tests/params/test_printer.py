"""The printer file: what it may say of measured behaviours, and how new ones are written into it."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path

import pytest

from chassis_gen.params.printer import BehaviourTable, PrinterFile
from chassis_gen.params.printer_writing import with_behaviours
from chassis_gen.params.reading import read_model
from chassis_gen.problems import InputError

REPOSITORY = Path(__file__).parents[2]
TABLE = BehaviourTable(
    scale=0.9971234567, offset=-0.123456, residual_sd=0.02, date=datetime.date(2025, 11, 2), readings=6
)
TEXT = """# ours
nozzle = 0.4
bed = [
  300, 300,
  320,
]

# fits that we like
[fits]
slide = { clearance = 0.16, low = 0.08, high = 0.26 }  # tried
"""


def test_the_demo_printers_are_valid() -> None:
    for path in (REPOSITORY / "profiles" / "printers").glob("*.toml"):
        assert read_model(path, PrinterFile, REPOSITORY).compensates == "model"


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        ("[behaviour.inner]\nscale = 0.5\n", "out-of-range", 2),
        ("nozzle = 0.4\n[behaviour.iner]\nscale = 1.0\n", "unknown-key", 2),
        ('compensates = "both"\n', "unknown-name", 1),
        ("inner_offset = 0.1\n", "unknown-key", 1),
    ],
)
def test_mistakes_are_placed(tmp_path: Path, text: str, code: str, line: int) -> None:
    path = tmp_path / "p.toml"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError) as error:
        read_model(path, PrinterFile, tmp_path)
    assert (code, line) in {(p.code, p.line) for p in error.value.problems}


def test_behaviours_are_added_behind_everything_that_stands_there() -> None:
    others = {"material": "PETG", "smallest_wall": 0.6, "first_layer_flare": None}
    made = with_behaviours(TEXT, {"inner": TABLE, "outer": TABLE}, others)
    expected = TEXT.replace("]\n\n# fits", ']\nmaterial = "PETG"\nsmallest_wall = 0.6\n\n# fits')
    assert made.startswith(expected)
    data = tomllib.loads(made)
    assert data["behaviour"]["inner"]["scale"] == 0.997123
    assert data["behaviour"]["outer"]["offset"] == -0.1235
    assert PrinterFile.model_validate(data).calibrated


def test_what_was_not_measured_again_keeps_its_figures_and_comments() -> None:
    first = with_behaviours(TEXT, {"inner": TABLE, "outer": TABLE}, {"material": "PETG"})
    noted = first.replace("[behaviour.outer]\n", "[behaviour.outer]  # pegs\n")
    again = TABLE.model_copy(update={"scale": 0.999})
    second = with_behaviours(noted, {"inner": again}, {"material": "PLA"})
    changed = [b for a, b in zip(noted.splitlines(), second.splitlines(), strict=True) if a != b]
    assert changed == ['material = "PLA"', "scale = 0.999"]


def test_a_text_that_only_looks_like_a_table_is_left_whole() -> None:
    text = 'title = """\n[fits]\n"""\n'
    made = with_behaviours(text, {}, {"material": "PETG"})
    assert tomllib.loads(made) == {"title": "[fits]\n", "material": "PETG"}
