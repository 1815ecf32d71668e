"""Where harnesses fail and what is measured on the bench: rows that the parts' kinds agree with."""

from __future__ import annotations

import pytest

from chassis_gen.parts.kinds import KINDS
from chassis_gen.problems import InputError
from chassis_gen.tables.harness import (
    bench_steps,
    between_contacts,
    cell_voltage,
    failure_kinds,
    part_kinds_that_are,
)
from chassis_gen.tables.reading import read_toml


def test_every_kind_named_is_a_kind_of_part() -> None:
    named = {row["kind"] for key in ("bench", "between") for row in read_toml("bench_tests.toml", key)}
    named |= part_kinds_that_are("changed") | part_kinds_that_are("shaken")
    assert named <= set(KINDS)


def test_every_kind_with_a_conductor_has_a_bench_test() -> None:
    # light guides have nothing to measure, of an imported part nobody knows what it is
    assert {k for k in KINDS if not bench_steps(k)} <= {"glow_rod", "glow_prism", "imported"}


def test_what_parts_is_worse_than_what_is_soldered_for_good() -> None:
    """Order asked for: removable joint, connector, splice, long drop; the plain joint is the least of them."""
    names = list(failure_kinds())
    wanted = ["removable_joint", "connector", "splice", "long_drop", "joint"]
    assert [n for n in names if n in wanted] == wanted


def test_cells_are_known_by_their_cautions() -> None:
    lithium, dry = cell_voltage(("lithium_cell", "charging")), cell_voltage(("primary_cell",))
    assert lithium is not None
    assert lithium.low < lithium.nominal < lithium.high
    assert dry is not None
    # IEC 60086-2: the alkaline round cells LR6 and LR03 have a nominal voltage of 1.5 V.
    assert dry.nominal == 1.5
    assert cell_voltage(("soldering",)) is None


def test_a_coil_beeps_and_a_button_only_pressed() -> None:
    assert getattr(between_contacts("speaker"), "beeps", None) == "yes"
    assert getattr(between_contacts("panel_button"), "beeps", None) == "pressed"
    assert between_contacts("board") is None


def test_another_word_for_parts_is_refused() -> None:
    with pytest.raises(InputError):
        part_kinds_that_are("painted")
