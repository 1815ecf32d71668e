"""Reading model files: each format gives the same solid; broken files are refused with an exact sentence."""

from __future__ import annotations

import struct
import time
import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest

from chassis_gen.problems import InputError
from chassis_gen.shapes import models
from chassis_gen.shapes.envelope import envelope_of
from chassis_gen.shapes.models import read_model_bytes
from chassis_gen.shapes.primitives import Box
from tests.shapes.model_files import (
    BOARD,
    CUBE,
    ascii_stl,
    glb,
    joined,
    ladder,
    mesh_object,
    shipped,
    stacked,
    stl,
    threemf,
    zip_bomb,
)

POINTS, FACES = CUBE
HEAD = b"\0" * 80


def said(data: bytes, suffix: str, unit: float = 1.0) -> str:
    """Return what is said of a file that must be refused."""

    def taken() -> None:
        model = read_model_bytes(data, suffix, f"part{suffix}")
        envelope_of(model, model.unit or unit, f"part{suffix}")

    with pytest.raises(InputError) as caught:
        taken()
    (problem,) = caught.value.problems
    return problem.text()


@pytest.mark.parametrize(
    ("suffix", "made", "unit"),
    [
        (".stl", stl, None),
        (".stl", ascii_stl, None),
        (".glb", lambda p, f: glb(p / 1000.0, f), 1000.0),
        (".3mf", lambda p, f: threemf(mesh_object(1, p, f)), 1.0),
        (".3mf", lambda p, f: threemf(mesh_object(1, p / 25.4, f), unit="inch"), 25.4),
    ],
)
def test_every_format_gives_the_same_solid(
    suffix: str, made: Callable[..., bytes], unit: float | None
) -> None:
    """Units: 3MF core specification 1.3, 3.4; glTF 2.0, 3.4 (metres); STL has none."""
    model = read_model_bytes(made(*joined(*BOARD)), suffix, "part")
    assert model.unit == unit
    envelope = envelope_of(model, model.unit or 1.0, "part")
    assert envelope.volume == pytest.approx(20 * 30 * 1.5 + 8 * 6 * 4, rel=1e-5)
    assert (envelope.high - envelope.low).round(2).tolist() == [20.0, 30.0, 5.5]


def test_a_transformed_component_of_a_3mf_stands_where_its_build_puts_it() -> None:
    objects = mesh_object(1, *CUBE) + (
        '<object id="2" type="model"><components><component objectid="1" transform="0 1 0 -1 0 0 0 0 1 8 0 0"/>'
        "</components></object>"
    )
    items = '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 100 0 0"/>'
    model = read_model_bytes(threemf(objects, items), ".3mf", "part.3mf")
    # row vectors: (x, y, z) -> (-y + 8 + 100, x, z)
    assert model.vertices.min(axis=0).tolist() == [100.0, 0.0, 0.0]
    assert model.vertices.max(axis=0).tolist() == [108.0, 10.0, 6.0]


GAP = FACES[1:]
TWO = stacked(Box((0, 0, 0), (4, 4, 4)), Box((10, 0, 0), (14, 4, 4)))
# a tetrahedron of ever the same corner pushed through the opposite wall of the cube
DENT = np.vstack([POINTS, [[5.0, 4.0, -9.0]]])


def _dented() -> tuple[np.ndarray, np.ndarray]:
    """Return the cube with one facet of its top drawn down through its bottom."""
    top = next(i for i, f in enumerate(FACES) if (POINTS[f][:, 2] == 6.0).all())
    a, b, c = FACES[top]
    apex = len(POINTS)
    cone = np.array([(a, b, apex), (b, c, apex), (c, a, apex)])
    return DENT, np.vstack([np.delete(FACES, top, axis=0), cone])


NAN = stl(np.where(POINTS == 10.0, np.nan, POINTS), FACES)
MANY = HEAD + struct.pack("<I", 600_000) + b"\0" * (50 * 600_000)

BAD: dict[str, tuple[str, bytes, str]] = {
    "ending": (
        ".obj",
        b"v 0 0 0",
        'no model format by its ending; read ".obj"; allowed: .stl, .3mf, .glb, .step, .stp',
    ),
    "empty": (".stl", b"", "the file is too short for an STL file; read 0 bytes"),
    "cut off": (
        ".stl",
        stl(*CUBE)[:-7],
        "its header promises 12 triangles, which would be 684 bytes; read 677 bytes",
    ),
    "no triangles": (".stl", HEAD + struct.pack("<I", 0), "the file holds no triangles"),
    "millions": (
        ".stl",
        MANY,
        "the model has too many triangles; read 600000 "
        "triangles; allowed: at most 500000; export it more coarsely",
    ),
    "not finite": (".stl", NAN, "vertex 4 has a coordinate that is no finite number"),
    "open": (
        ".stl",
        stl(POINTS, GAP),
        "the mesh isn't closed: at 3 edges facets are missing or face the wrong way",
    ),
    "two shells": (
        ".stl",
        stl(*TWO),
        "the model is in 2 shells that don't "
        "touch; read round (2.00, 2.00, 2.00), (12.00, "
        "2.00, 2.00) mm; allowed: one body, or --all-shells to take them together as one part",
    ),
    "through itself": (".stl", stl(*_dented()), "the mesh passes through itself; read at x ="),
    "wrong unit, large": (
        ".glb",
        glb(*CUBE),
        "no size that a part in a tube has; read 1e+04 x 8000 x 6000 "
        "mm; allowed: 1 to 500 mm along the longest side; another --units?",
    ),
    "wrong unit, small": (
        ".stl",
        stl(POINTS / 1000, FACES),
        "no size that a part in a tube "
        "has; read 0.01 x 0.008 x 0.006 "
        "mm; allowed: 1 to 500 mm along the longest side; another --units?",
    ),
    "flat": (
        ".stl",
        stl(POINTS * [1, 1, 0], FACES),
        "the model is flat, it encloses nothing; read 10 x 8 x 0 mm",
    ),
    "no zip": (
        ".3mf",
        b"PK\x03\x04 nonsense",
        "this is no 3MF file that can be read (File is not a zip file)",
    ),
    "bomb": (".3mf", zip_bomb(40), "the archive unpacks to far more than a model needs; read over "),
    "ladder": (
        ".3mf",
        threemf(ladder(), '<item objectid="25"/>'),
        "the model has too many triangles; read 201326592 "
        "triangles; allowed: at most 500000; export it more coarsely",
    ),
    "no model": (".3mf", zip_bomb(1), "this is no 3MF file that can be read ("),
    "glb cut off": (
        ".glb",
        glb(*CUBE)[:400],
        "this is no GLB file that can be read (no glTF 2 binary header, or cut off)",
    ),
    "glb claims": (
        ".glb",
        glb(POINTS, FACES, {"accessors": [{"count": 10**12}]}),
        "this is no GLB file that can be read (its accessors claim too many entries)",
    ),
    "glb extension": (
        ".glb",
        glb(POINTS, FACES, {"extensionsRequired": ["X_squeezed"]}),
        "this is no GLB file that can be read (it needs the extension X_squeezed)",
    ),
    "glb ring": (
        ".glb",
        glb(POINTS, FACES, {"nodes": [{"mesh": 0, "children": [1]}, {"children": [1]}]}),
        "this is no GLB file that can be read (its nodes are no tree, or too many)",
    ),
    "no step": (".step", b"solid part", "this is no STEP file: it doesn't begin with ISO-10303-21"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_broken_model_is_refused_with_its_reason(name: str) -> None:
    suffix, data, message = BAD[name]
    text = said(data, suffix)
    whole, _, rest = text.partition("] ")
    assert whole.startswith(f"part{suffix}: [model-")
    assert rest.startswith(message)
    if name not in ("open", "through itself", "bomb", "no model"):
        assert rest == message


def test_where_a_mesh_is_open_is_said() -> None:
    missing = POINTS[FACES[0]]
    text = said(stl(POINTS, GAP), ".stl")
    place = text.split("the first from ")[1].split(" mm")[0]
    a, b = (tuple(float(v) for v in corner.strip("()").split(", ")) for corner in place.split(" to "))
    assert {a, b} <= {tuple(float(v) for v in corner) for corner in missing}


def test_a_facet_turned_inside_out_leaves_the_mesh_open() -> None:
    turned = FACES.copy()
    turned[0] = turned[0][::-1]
    assert "facets are missing or face the wrong way" in said(stl(POINTS, turned), ".stl")


def test_a_mesh_that_faces_inward_as_a_whole_is_turned_right() -> None:
    model = read_model_bytes(stl(POINTS, FACES[:, ::-1]), ".stl", "part.stl")
    assert envelope_of(model, 1.0, "part.stl").volume == pytest.approx(480.0)


def test_a_shell_that_faces_inward_beside_another_is_refused() -> None:
    points, faces = stacked(Box((0, 0, 0), (6, 6, 6)), Box((10, 0, 0), (14, 4, 4)))
    turned = np.where((faces >= 8)[:, :1], faces[:, ::-1], faces)
    assert said(stl(points, turned), ".stl") == (
        "part.stl: [model-open] a shell of the mesh faces inward and isn't a void inside another; read round "
        "(12.00, 2.00, 2.00) mm; allowed: a closed mesh, all its facets facing outward"
    )


def test_a_real_open_mesh_is_refused() -> None:
    """surface2.stl of gmsh's examples is a sheet."""
    assert "[model-open]" in said(shipped("surface2.stl").read_bytes(), ".stl")


def test_a_bomb_costs_neither_memory_nor_time() -> None:
    data = zip_bomb(100)
    tracemalloc.start()
    begun = time.monotonic()
    said(data, ".3mf")
    assert time.monotonic() - begun < 3.0
    assert tracemalloc.get_traced_memory()[1] < 32 * 2**20
    tracemalloc.stop()


def test_a_file_that_is_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(models, "MOST_BYTES", 100)
    text = said(stl(*CUBE), ".stl")
    assert text == "part.stl: [model-heavy] the file is too large; read 684 bytes; allowed: at most 100 bytes"


def test_a_step_file_that_takes_too_long_is_given_up() -> None:
    from chassis_gen.shapes.step_reading import read_step_apart

    with pytest.raises(InputError) as caught:
        read_step_apart(b"ISO-10303-21;", "part.step", seconds=0.05)
    (problem,) = caught.value.problems
    assert (problem.code, problem.allowed) == ("model-heavy", "at most 0.05 s; export a simpler model")
