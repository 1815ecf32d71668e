"""Cautions: each says the usual practice, a standard's scope and whose word comes first; few where nothing is stated."""

from __future__ import annotations

import pytest

from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.electrics import State
from tests.electrics.support import bench, led_on_board, lit, wire, with_jack

STATIC = {
    "cell-unprotected",
    "polarity-reversible",
    "cell-unguarded",
    "bright-light",
    "supply-unregulated",
    "series-unbalanced",
    "cells-mixed",
}


def cautions(plan: ChassisPlan) -> dict[str, Finding]:
    return {f.code: f for f in electrics_of(plan)[1] if f.code in STATIC}


def test_a_build_without_states_gets_a_handful_of_cautions_and_nothing_else() -> None:
    result, found = electrics_of(led_on_board())
    assert result.states == ()
    assert {f.code: f.level for f in found} == {
        "cell-unprotected": "warning",
        "polarity-reversible": "note",
        "cell-unguarded": "warning",
        "bright-light": "note",
    }


def test_a_state_makes_no_caution_graver() -> None:
    plain, stated = cautions(led_on_board()), cautions(led_on_board(lit()))
    assert {c: f.level for c, f in plain.items()} == {c: f.level for c, f in stated.items()}
    assert cautions(with_jack())["supply-unregulated"].level == "warning"


@pytest.mark.parametrize("code", sorted(STATIC))
def test_each_names_practice_or_scope_and_defers(code: str) -> None:
    from chassis_gen.tables.electrical import electrical_caution

    text = electrical_caution(code)
    assert "Usual practice" in text
    assert "data sheet" in text
    # marks of polarity have no standard of their own; all others name theirs
    assert code == "polarity-reversible" or "IEC" in text


def test_a_protected_cell_with_fuse_and_cut_off_is_quiet() -> None:
    wires = (
        wire("plus", "cell.plus", "board.battery plus", fuse=0.5),
        wire("minus", "cell.minus", "jack.minus"),
        wire("charge", "cell.plus", "jack.plus"),
        wire("return", "jack.switched", "board.battery minus"),
    )
    parts = {"cell": "cell 18650 protected", "board": "sound board", "jack": "charge jack"}
    found = cautions(bench(parts, wires, State("idle"), charger_v=4.2))
    assert set(found) == {"polarity-reversible"}


def test_a_jack_wants_a_regulated_charger() -> None:
    """Usual cells are full at 4.20 V plus-minus 0.05 V; a plain 5 V supply over-charges them."""
    assert cautions(with_jack(State("idle")))["supply-unregulated"].level == "warning"
    assert "supply-unregulated" not in cautions(with_jack(State("idle"), charger_v=4.2))
    assert cautions(with_jack(State("idle"), charger_v=5.0))["supply-unregulated"].level == "error"


def series(first: str = "cell 18650", second: str = "cell 18650", **electrics: object) -> ChassisPlan:
    wires = (
        wire("middle", "a.plus", "b.minus"),
        wire("plus", "b.plus", "jack.plus"),
        wire("minus", "a.minus", "jack.minus"),
    )
    return bench({"a": first, "b": second, "jack": "charge jack"}, wires, **electrics)


def test_cells_in_series_on_one_charge_input_are_an_error_unless_balanced() -> None:
    assert cautions(series())["series-unbalanced"].level == "error"
    assert "series-unbalanced" not in cautions(series(balance_leads=True))


def test_two_cells_in_a_circuit_must_be_of_one_type() -> None:
    assert "cells-mixed" not in cautions(series(balance_leads=True))
    assert cautions(series(second="cell 21700", balance_leads=True))["cells-mixed"].level == "error"
