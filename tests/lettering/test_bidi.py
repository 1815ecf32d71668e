"""The order of reading against the Unicode Bidirectional Algorithm as another library has it."""

from __future__ import annotations

import pytest
from bidi import get_display
from hypothesis import given, settings
from hypothesis import strategies as st

from chassis_gen.lettering.bidi import levels, runs_right_to_left, visual_runs

LETTERS = st.text(alphabet="abZ אבג ابت 012 ٠١ .,:+-%$/!", min_size=1, max_size=24)


def shown(text: str) -> str:
    """Return the characters from left to right."""
    parts = ((text[r.start : r.end], r.level) for r in visual_runs(text))
    return "".join(part[::-1] if level % 2 else part for part, level in parts)


@settings(max_examples=400, deadline=None)
@given(LETTERS)
def test_the_order_is_that_of_the_reference_library(text: str) -> None:
    """python-bidi wraps the crate unicode-bidi, an implementation of its own of Annex 9."""
    line = text.strip()
    assert shown(line) == get_display(line, base_dir="R" if runs_right_to_left(line) else "L")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        # Unicode Standard Annex 9, rules I1 and I2: left to right 0, right to left 1, numbers among those 2
        ("abc", (0, 0, 0)),
        ("אבג", (1, 1, 1)),
        ("א 12", (1, 1, 2, 2)),
        ("a אב c", (0, 0, 1, 1, 0, 0)),
        ("אב ab", (1, 1, 1, 2, 2)),
    ],
)
def test_levels_of_lines_worked_by_hand(text: str, wanted: tuple[int, ...]) -> None:
    assert levels(text) == wanted
