"""Frames and clock angles against a clock face."""

from __future__ import annotations

import pytest

from chassis_gen.shapes.frame import turn_between


@pytest.mark.parametrize(
    ("clock", "other", "turn"), [(350, 10, 20), (10, 350, -20), (90, 90, 0), (0, 180, -180), (-30, 400, 70)]
)
def test_a_turn_between_clocks_goes_the_shorter_way(clock: float, other: float, turn: float) -> None:
    """On a clock face of 360 degrees: from 350 to 10 is 20 onward, not 340 back."""
    assert turn_between(clock, other) == turn
