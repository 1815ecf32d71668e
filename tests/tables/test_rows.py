"""Every row of every data file carries unit, source and revision, and nothing heavy is loaded to read it."""

from __future__ import annotations

import csv
import math
import subprocess
import sys
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

from chassis_gen.tables import reading
from chassis_gen.tables.reading import TableError, check_provenance

DATA = files("chassis_gen.tables").joinpath("data")
NAMES = sorted(item.name for item in DATA.iterdir())


def rows_of(name: str) -> list[dict[str, object]]:
    text = DATA.joinpath(name).read_text(encoding="utf-8")
    if name.endswith(".csv"):
        return list(csv.DictReader(text.splitlines()))
    arrays = [value for value in tomllib.loads(text).values() if isinstance(value, list)]
    return [row for array in arrays for row in array]


def test_there_are_only_csv_and_toml_files() -> None:
    assert len(NAMES) >= 15
    assert {Path(name).suffix for name in NAMES} == {".csv", ".toml"}


@pytest.mark.parametrize("name", NAMES)
def test_every_row_has_unit_source_and_revision(name: str) -> None:
    rows = rows_of(name)
    assert rows
    check_provenance(rows, name)


@pytest.mark.parametrize("name", [name for name in NAMES if name.endswith("_rules.toml")])
def test_every_rule_has_its_own_name_and_a_finite_value_above_zero(name: str) -> None:
    rules = reading.read_rules(name)
    assert len(rules) == len(rows_of(name))
    assert all(0.0 < rule.value < math.inf for rule in rules.values())


@pytest.mark.parametrize("name", [name for name in NAMES if name.endswith(".csv")])
def test_every_row_has_one_cell_per_column(name: str) -> None:
    lines = list(csv.reader(DATA.joinpath(name).read_text(encoding="utf-8").splitlines()))
    assert {len(line) for line in lines} == {len(lines[0])}


@pytest.mark.parametrize("column", ["unit", "source", "revision"])
@pytest.mark.parametrize("cell", ["", "  ", None])
def test_a_row_without_one_of_them_is_refused(column: str, cell: str | None) -> None:
    row = {"unit": "mm", "source": "ISO 273", "revision": "1979"}
    check_provenance([row], "sound.csv")
    with pytest.raises(TableError, match=rf"broken\.csv: row 2 lacks {column}"):
        check_provenance([row, row | {column: cell}], "broken.csv")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("size,unit,source,revision\n1,mm,,1979\n", "row 1 lacks source"),
        ("size,unit,source,revision\n1,mm,ISO 273\n", "one cell per column"),
        ("size,unit,source,revision\n1,mm,ISO 273,1979,more\n", "one cell per column"),
    ],
)
def test_the_csv_reader_refuses_unsound_files(
    monkeypatch: pytest.MonkeyPatch, text: str, message: str
) -> None:
    monkeypatch.setattr(reading, "data_text", lambda file: text)
    reading.read_csv.cache_clear()
    with pytest.raises(TableError, match=message):
        reading.read_csv("unsound.csv")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[[rule]]\nname = "a"\nvalue = 1.0\nunit = "mm"\nsource = "x"\n', "row 1 lacks revision"),
        ("rule = 3\n", r"no \[\[rule\]\] rows"),
    ],
)
def test_the_toml_reader_refuses_unsound_files(
    monkeypatch: pytest.MonkeyPatch, text: str, message: str
) -> None:
    monkeypatch.setattr(reading, "data_text", lambda file: text)
    reading.read_toml.cache_clear()
    with pytest.raises(TableError, match=message):
        reading.read_toml("unsound.toml", "rule")


def test_reading_every_table_loads_no_kernel_and_no_heavy_library() -> None:
    script = (
        "import sys\n"
        "from chassis_gen.tables import cautions, cells, drills, fits, holes, materials, threads\n"
        "from chassis_gen.tables import tolerances, tubes, wire\n"
        "threads.all_threads(); holes.hole_rules(); wire.all_insulated(); wire.wiring_rules()\n"
        "cells.all_cells(); cells.pack_rules(); tubes.all_tubes(); materials.all_materials()\n"
        "fits.all_fits(); fits.printer_rules(); cautions.all_cautions(); drills.all_drills()\n"
        "tolerances.linear_tolerance(10.0)\n"
        "heavy = {'numpy', 'pydantic', 'cadquery', 'trimesh', 'manifold3d', 'scipy', 'pint'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
