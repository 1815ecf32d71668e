"""A maker's part file: read, made into a part, and refused with the place of every mistake."""

from __future__ import annotations

from pathlib import Path

import pytest

from chassis_gen.params.reading import read_model
from chassis_gen.parts.model import Measure, Part
from chassis_gen.parts.partfile import PartFile
from chassis_gen.problems import InputError

SPEAKER = """\
kind = "speaker"
title = "Drawer speaker, 31 mm"
mass_g = 12.5
source = "caliper, two pieces"

[sizes]
rim_diameter = { value = 31.4, tolerance = 0.1 }
rim_thickness = 1.5
basket_diameter = "1.1 in"
basket_depth = 4.6
magnet_diameter = 17.0
depth = 8.2
"""

BOARD = """\
kind = "board"
title = "Own board"
mass_g = 3
source = "caliper"

[sizes]
width = 15
length = 30
thickness = 1.6
height_above = 3
height_below = 1

[[terminal]]
name = "battery plus"
position = [5, -13, 1.6]
must_connect = true

[[terminal]]
name = "battery minus"
position = [-5, -13, 1.6]
direction = [0, -2, 0]
largest_wire_diameter = 1.1
"""


def read(folder: Path, text: str) -> PartFile:
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return read_model(path, PartFile, folder)


def errors(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as error:
        read(folder, text)
    return [p.text() for p in error.value.problems]


def test_a_measured_speaker(tmp_path: Path) -> None:
    part = read(tmp_path, SPEAKER).part("own")
    assert (part.name, part.kind, part.mass_g) == ("own", "speaker", 12.5)
    assert part.sizes["rim_diameter"] == Measure(31.4, 0.1, "caliper, two pieces")
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
    assert part.size("basket_diameter") == pytest.approx(1.1 * 25.4)
    assert [t.name for t in part.terminals] == ["plus", "minus"]
    assert part.cautions == ("soldering",)


def test_a_board_states_its_own_terminals(tmp_path: Path) -> None:
    part: Part = read(tmp_path, BOARD).part("own")
    plus, minus = part.terminals
    assert (plus.position, plus.direction, plus.must_connect) == ((5, -13, 1.6), (0, 0, 1), True)
    assert (minus.direction, minus.largest_wire_diameter) == ((0, -1, 0), 1.1)
    assert part.antenna is None


def test_any_part_may_state_where_its_antenna_is(tmp_path: Path) -> None:
    part = read(tmp_path, BOARD.replace("mass_g = 3", "mass_g = 3\nantenna = [0, 14, 1.6]")).part("own")
    assert part.antenna == (0, 14, 1.6)


def test_cautions_are_topics(tmp_path: Path) -> None:
    part = read(tmp_path, 'cautions = ["drilling", "dust"]\n' + SPEAKER).part("own")
    assert part.cautions == ("drilling", "dust")


@pytest.mark.parametrize(
    ("text", "old", "new", "expected"),
    [
        (
            SPEAKER, 'kind = "speaker"', 'kind = "speeker"',
            ['own.toml:1:8: [unknown-name] kind: no such part kind; read "speeker"; '
             'allowed: cell, wired_pack, '
             "speaker, board, tactile_board, contact_board, led_slug, led_round, panel_button, charge_jack, "
             "imported, glow_rod, glow_prism, display_board, port_board; "
             'did you mean "speaker"?'],
        ),
        (
            SPEAKER, "rim_thickness = 1.5", "rim_thicknes = 1.5",
            ["own.toml:6:1: [missing-key] sizes.rim_thickness: a speaker needs "
             "rim_thickness (front plane to the "
             "rim's back)",
             "own.toml:8:1: [unknown-key] sizes.rim_thicknes: a speaker has no such size; read 1.5; allowed: "
             "rim_diameter, rim_thickness, basket_diameter, basket_depth, magnet_diameter, "
             "depth, cone_diameter, "
             'cone_travel, terminal_spacing, largest_wire_diameter; did you mean "rim_thickness"?'],
        ),
        (
            SPEAKER, "magnet_diameter = 17.0", "magnet_diameter = 30",
            ["own.toml:11:19: [not-allowed] sizes.magnet_diameter: too large beside the "
             "other sizes of a speaker; "
             "read 30; allowed: at most 27.94 mm (basket_diameter)"],
        ),
        (
            SPEAKER, "tolerance = 0.1", "tolerance = 40",
            ["own.toml:7:44: [out-of-range] sizes.rim_diameter.tolerance: the tolerance "
             "is out of range; read 40; "
             "allowed: 0 to 31.4 mm, the value itself"],
        ),
        (
            SPEAKER, "mass_g = 12.5", "mass_g = 12.5\nmas = 1",
            ["own.toml:4:1: [unknown-key] mas: unknown key; read 1; allowed: kind, "
             "title, mass_g, sizes, terminal, "
             'cautions, source, envelope, mesh, supply_v_min, supply_v_max, supply_terminals, gives_v_min, gives_v_max, drives, needs, offers, antenna; did you mean "mass_g"?'],
        ),
        (
            SPEAKER, "mass_g = 12.5", 'mass_g = 12.5\ncautions = ["driling"]',
            ['own.toml:4:13: [unknown-name] cautions[0]: no such caution topic; read "driling"; allowed: '
             "lithium_cell, primary_cell, charging, soldering, drilling, bright_light, adhesives, dust; "
             'did you mean "drilling"?'],
        ),
        (
            BOARD, "position = [-5, -13, 1.6]", "position = [-5, -130, 1.6]",
            ['own.toml:20:12: [out-of-range] terminal[1] "battery minus".position: the '
             'terminal is away from the '
             "part; read a list of 3; allowed: within 5 mm of the part, (-7.5, -15, -1) to (7.5, 15, 4.6)"],
        ),
        (
            BOARD, "battery minus", "battery plus",
            ['own.toml:19:8: [duplicate-name] terminal[1] "battery plus".name: two '
             'terminals have the same name; '
             'read "battery plus"'],
        ),
        (
            BOARD, "direction = [0, -2, 0]", "direction = [0, 0, 0]",
            ['own.toml:21:13: [not-allowed] terminal[1] "battery minus".direction: the '
             'direction has no length; '
             "read a list of 3; allowed: x, y, z not all 0"],
        ),
    ],
)  # fmt: skip
def test_mistakes_have_their_place(
    tmp_path: Path, text: str, old: str, new: str, expected: list[str]
) -> None:
    assert old in text
    assert errors(tmp_path, text.replace(old, new)) == expected
