"""[electrics] and [[state]] in a build file: what is read, what is refused with its place, what a report shows."""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen.electrics.evaluate import electrics_of
from chassis_gen.output.electrics import electrics_json, electrics_markdown
from chassis_gen.output.markdown import aligned
from chassis_gen.output.summary import plain
from chassis_gen.plan.electrics import Draw
from chassis_gen.problems import InputError, Problem
from tests.electrics.support import led_on_board, lit
from tests.plan.support import planned

LANTERN = (Path(__file__).parents[2] / "profiles" / "quay-lantern" / "build.toml").read_text("utf-8")
BARE = LANTERN.split("[electrics]", maxsplit=1)[0].replace('printer = "workshop-300"', "")


def problems(tmp_path: Path, text: str) -> list[Problem]:
    with pytest.raises(InputError) as caught:
        planned(tmp_path, f"{BARE}\n{text}\n")
    return list(caught.value.problems)


def test_the_lantern_is_read_and_sound(tmp_path: Path) -> None:
    asked = planned(tmp_path, f"{BARE}[electrics]{LANTERN.split('[electrics]', maxsplit=1)[1]}")
    assert [s.name for s in asked.electrics.states] == ["idle", "lit", "loud"]
    assert Draw("light", current_a=0.2) in asked.electrics.states[1].draws
    result, found = electrics_of(asked)
    assert [f for f in found if f.level == "error"] == []
    loud = result.states[2]
    # 0.8 W in 8 ohm is 0.316 A; the light's 0.2 A passes through the board
    assert next(w for w in loud.wires if w.wire == "speaker").current_a == pytest.approx(0.1**0.5)
    assert next(w for w in loud.wires if w.wire == "light").current_a == pytest.approx(0.2)


def test_a_build_without_states_says_so_little(tmp_path: Path) -> None:
    result, found = electrics_of(planned(tmp_path, BARE))
    assert result.states == ()
    assert len(found) <= 5
    assert {f.level for f in found} <= {"note", "warning"}
    assert electrics_markdown(plain(electrics_json(result)), aligned) == ""


@pytest.mark.parametrize(
    ("text", "code", "nearest"),
    [
        ('[[state]]\nname = "x"\ndraws = { "ligth" = { current_a = 1 } }', "unknown-name", "light"),
        ('[[state]]\nname = "x"\nclosed = ["button blok"]', "unknown-name", "button block"),
        ('[[state]]\nname = "x"\nplug_in = ["light"]', "unknown-name", None),
        ('[[state]]\nname = "x"\ndraws = { "cell" = { current_a = 1 } }', "not-allowed", None),
        ('[[state]]\nname = "x"\ndraws = { "speaker" = { series_ohm = 10 } }', "not-allowed", None),
        ('[[state]]\nname = "x"\ndraws = { "light" = { current_a = 1, power_w = 1 } }', "not-allowed", None),
        ('[[state]]\nname = "x"\ncharge = { at = "light", current_a = 1 }', "unknown-name", None),
        (
            '[[state]]\nname = "x"\ndraws = { "light.plus / light.minsu" = { current_a = 1 } }',
            "unknown-name",
            "light.minus",
        ),
        ('[[state]]\nname = "x"\n[[state]]\nname = "x"', "duplicate-name", None),
        ('[electrics]\ninsulated = ["tub"]', "unknown-name", "tube"),
        ('[electrics.part."cell"]\ncapacity = 1', "unknown-name", "capacity_mah"),
        ('[electrics.part."cel"]\ncapacity_mah = 1', "unknown-name", "cell"),
    ],
)
def test_mistakes_are_placed_and_the_nearest_name_is_given(
    tmp_path: Path, text: str, code: str, nearest: str | None
) -> None:
    (problem,) = problems(tmp_path, text)
    assert problem.code == code
    assert problem.line is not None
    assert problem.line > BARE.count("\n")
    if nearest is not None:
        assert problem.nearest == nearest


def test_the_report_shows_states_wires_and_the_fuse() -> None:
    data = plain(electrics_json(electrics_of(led_on_board(lit(0.2)))[0]))
    (state,) = data["states"]
    assert state["name"] == "lit"
    light = next(w for w in state["wires"] if w["wire"] == "light")
    assert light["current_a"] == pytest.approx(0.2)
    assert light["loading"] == pytest.approx(0.2 / 1.4, abs=1e-4)
    assert set(state["terminals"]) >= {"cell.plus", "cell.minus", "light.plus"}
    shown = electrics_markdown(data, aligned)
    assert "### lit" in shown
    assert "| fuse of" in shown
    assert f"{0.2 / 1.4 * 100:.0f} %" in shown
