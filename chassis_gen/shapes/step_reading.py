"""Reading a STEP file in a process of its own, so that a file can't take the program's memory or time with it.

Run as ``python -m chassis_gen.shapes.step_reading STEP NPZ``: writes vertices, faces and the chord tolerance.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from chassis_gen.problems import InputError, Problem

CHORD = 0.004
"""Chord tolerance of curved faces, mm; plane faces are exact."""
MOST_SECONDS = 120
MOST_MEMORY = 6 * 2**30

_NOTHING, _REFUSED = 3, 4


def read_step_apart(
    data: bytes, file: str, seconds: float = MOST_SECONDS
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int64], float]:
    """Return vertices (mm), faces and chord tolerance (mm, 0 where all faces are plane) of a STEP file.

    Args:
        data: the file.
        file: its name, for messages.
        seconds: how long reading may take.

    Raises:
        InputError: it can't be read, holds no solid, or takes too long or too much memory.
    """
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "model.step", Path(folder) / "model.npz"
        source.write_bytes(data)
        command = [sys.executable, "-m", "chassis_gen.shapes.step_reading", str(source), str(target)]
        try:
            done = subprocess.run(command, capture_output=True, check=False, timeout=seconds)
        except subprocess.TimeoutExpired:
            message = "reading the model takes too long"
            raise InputError(
                [
                    Problem(
                        "model-heavy", message, file, allowed=f"at most {seconds:g} s; export a simpler model"
                    )
                ]
            ) from None
        if done.returncode == 0:
            with np.load(target, allow_pickle=False) as found:
                return found["vertices"], found["faces"].astype(np.int64), float(found["chord"])
    if done.returncode == _NOTHING:
        message = "the STEP file holds no solid, only curves or surfaces at most"
    elif done.returncode == _REFUSED:
        message = "this is no STEP file that can be read"
    else:
        message = "the exact kernel gave up on the file, or ran out of the memory that it is given"
    raise InputError([Problem("model-format", message, file)])


def _main(source: str, target: str) -> int:
    """Read one file and write what was found; the status says what went wrong."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    import cadquery

    from chassis_gen.shapes.brep import stl_arrays

    try:
        shapes: list[Any] = list(cadquery.importers.importStep(source).vals())
    except Exception:
        return _REFUSED
    solids = [s for shape in shapes for s in shape.Solids()]
    if not solids:
        return _NOTHING
    chord = 0.0 if all(f.geomType() == "PLANE" for s in solids for f in s.Faces()) else CHORD
    vertices, faces, start = [], [], 0
    for one in solids:
        points, triangles = stl_arrays(one, CHORD)
        vertices.append(points)
        faces.append(triangles + start)
        start += len(points)
    np.savez(target, vertices=np.concatenate(vertices), faces=np.concatenate(faces), chord=chord)
    return 0


if __name__ == "__main__":
    sys.exit(_main(*sys.argv[1:3]))
