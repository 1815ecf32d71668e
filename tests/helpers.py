"""One check for every solid: sound, in one piece, of the right volume and genus, watertight when reread."""

from __future__ import annotations

import io

import numpy as np
import pytest
import trimesh

from chassis_gen.shapes.body import Body

FLOAT32_SHARE = 1e-5


def reread(body: Body) -> trimesh.Trimesh:
    """Return the body as trimesh reads it back from a binary STL, whose figures are float32."""
    vertices, faces = body.arrays()
    written = trimesh.Trimesh(vertices, faces, process=False).export(file_type="stl")
    return trimesh.load(io.BytesIO(written), file_type="stl")


def assert_sound(
    body: Body,
    volume: float | tuple[float, float],
    *,
    genus: int = 0,
    share: float = 1e-9,
) -> trimesh.Trimesh:
    """Assert that a body is a sound solid in one piece, and return it as read back from its STL.

    Args:
        body: the solid.
        volume: its volume, mm3: a closed form, or a lower and an upper bracket.
        genus: number of through holes that it must have.
        share: relative difference from a closed form that is allowed.
    """
    shells = body.components()
    assert len(shells) == 1, f"{len(shells)} shells: {shells}"
    assert body.genus == genus
    assert shells[0].volume == pytest.approx(body.volume, rel=1e-9)
    if isinstance(volume, tuple):
        assert volume[0] <= body.volume <= volume[1]
    else:
        assert body.volume == pytest.approx(volume, rel=share)
    again = reread(body)
    assert again.is_watertight
    assert again.is_winding_consistent
    assert again.volume == pytest.approx(body.volume, rel=FLOAT32_SHARE)
    # Euler's formula V - E + F = 2 - 2 g for a closed surface of genus g.
    assert again.euler_number == 2 - 2 * genus
    assert np.allclose(again.bounds, np.array(body.bounds), rtol=1e-6, atol=1e-5)
    return again
