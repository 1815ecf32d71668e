import struct
import sys
import zlib

import numpy as np
import pytest

from chassis_gen.output.folder import build_files
from chassis_gen.output.pictures import NO_RENDERER, OutputUnavailable, assembly_pictures, pictures
from chassis_gen.output.rendering import BACKGROUND
from chassis_gen.output.scene import Item, Scene, View
from chassis_gen.shapes.mesh import solid
from chassis_gen.shapes.primitives import Box
from tests.output.support import result, silent

RED, BLUE = (0.8, 0.1, 0.1), (0.1, 0.2, 0.8)


def pixels(data: bytes) -> np.ndarray:
    """Return the colours of a PNG of 8-bit colours whose rows all use filter 2 (W3C PNG, 9.2: up)."""
    assert data.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack_from(">II", data, 16)
    at = data.index(b"IDAT")
    (length,) = struct.unpack_from(">I", data, at - 4)
    rows = np.frombuffer(zlib.decompress(data[at + 4 : at + 4 + length]), np.uint8).reshape(height, -1)
    assert (rows[:, 0] == 2).all()
    return np.cumsum(rows[:, 1:].astype(np.int64), axis=0).astype(np.uint8).reshape(height, width, 3)


def near(colour: np.ndarray, wanted: tuple[float, float, float]) -> bool:
    return bool(np.abs(colour / 255.0 - np.array(wanted)).max() < 0.02)


def test_a_cut_seen_from_clock_180_has_the_mouth_left_and_the_top_up() -> None:
    low = Item(*solid(Box((0.0, -10.0, 0.0), (1.0, 10.0, 20.0))).arrays(), RED, edges=False, flat=True)
    high = Item(*solid(Box((0.0, 0.0, 20.0), (1.0, 10.0, 40.0))).arrays(), BLUE, edges=False, flat=True)
    try:
        (data,) = pictures([Scene([low, high], View((-1.0, 0.0, 0.0), size=(220, 120)))])
    except OutputUnavailable as error:
        pytest.skip(str(error))
    shown = pixels(data)
    assert shown.shape == (120, 220, 3)
    assert near(shown[30, 60], RED)
    assert near(shown[90, 60], RED)
    assert near(shown[30, 160], BLUE)
    assert near(shown[90, 160], BACKGROUND)
    assert near(shown[1, 1], BACKGROUND)


def test_a_lost_renderer_is_an_answer_and_no_crash(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "no-such-program")
    with pytest.raises(OutputUnavailable, match="libegl1"):
        assembly_pictures(result())


def test_a_build_without_a_renderer_has_all_but_the_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "no-such-program")
    made = build_files(result(), step=False, png=True, progress=silent, inputs={})
    assert made.no_pictures == NO_RENDERER
    assert "pieces/chassis.stl" in made.files
    assert not any(name.endswith(".png") for name in made.files)
