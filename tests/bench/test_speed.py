"""Speed of whole commands, as multiples of I: the time that `python -c "import cadquery"` takes in the same run.

Run with `pytest tests/bench -n 0`. Times vary between machines and runs; ratios hold better. Every command is
a fresh process; the figure is the median of several.
"""

from __future__ import annotations

import shutil
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
COMMAND = (sys.executable, "-m", "chassis_gen")


UNIT = (sys.executable, "-c", "import cadquery")
ROUNDS = 5


def seconds(*command: str) -> float:
    """Return the wall time of a command, s."""
    start = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def in_units(*command: str) -> tuple[float, float]:
    """Return the median of a command's time in I, and the median of I, s.

    A machine's clock wanders by a third within minutes, so each round takes I right before the command; the
    first of both goes unmeasured, so that files are in the page cache.
    """
    seconds(*UNIT)
    seconds(*command)
    pairs = [(seconds(*UNIT), seconds(*command)) for _ in range(ROUNDS)]
    return statistics.median(t / unit for unit, t in pairs), statistics.median(unit for unit, _ in pairs)


@pytest.mark.parametrize(
    ("arguments", "goal"),
    [
        (("--help",), 0.06),
        (("check", "quay-lantern"), 0.5),
        (("check", "ferry-beacon"), 1.0),
        (("build", "quay-lantern", "--no-step", "--no-cache"), 0.8),
        (("build", "quay-lantern", "--no-cache"), 3.0),
    ],
    ids=["help", "check", "check the largest", "build without STEP", "build with STEP"],
)
def test_command_time_in_units_of_I(
    benchmark: Callable[..., object],
    tmp_path: Path,
    arguments: tuple[str, ...],
    goal: float,
) -> None:
    copy = tmp_path / "workspace"
    shutil.copytree(ROOT / "profiles", copy / "profiles")
    command = (*COMMAND, "--workspace", str(copy), *arguments)
    taken: list[tuple[float, float]] = []
    benchmark.pedantic(lambda: taken.append(in_units(*command)), rounds=1, iterations=1)  # type: ignore[attr-defined]
    ((ratio, unit),) = taken
    benchmark.extra_info.update(I_s=unit, ratio=ratio, goal=goal)  # type: ignore[attr-defined]
    print(f"{' '.join(arguments)}: {ratio:.3f} I (I = {unit:.2f} s), goal {goal} I")
    assert ratio <= goal


def test_memory_of_check() -> None:
    code = (
        "import resource, subprocess, sys\n"
        f"subprocess.run({[*COMMAND, 'check', 'quay-lantern']!r}, stdout=subprocess.DEVNULL)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    done = subprocess.run((sys.executable, "-c", code), cwd=ROOT, check=True, capture_output=True, text=True)
    megabytes = int(done.stdout) / 1024
    print(f"check quay-lantern: {megabytes:.0f} MB at most")
    assert megabytes < 150


def test_mesh_kernel_against_brep_kernel() -> None:
    """Each kernel from recipe to STL bytes with its edges counted, on the demo's own recipes.

    The exact kernel's facets need not close (its light head's don't): only the mesh kernel's are printed.
    """
    code = (
        "import time\n"
        "import numpy as np\n"
        "from pathlib import Path\n"
        "from chassis_gen import pipeline\n"
        "from chassis_gen.params.workspace import Workspace\n"
        "from chassis_gen.output.stl import check_written, stl_bytes\n"
        "from chassis_gen.shapes import brep, mesh\n"
        f"plan = pipeline.plan_of(pipeline.load_build(Workspace(Path({str(ROOT)!r})), 'quay-lantern'))\n"
        "recipes = [r for p in plan.pieces for r in p.recipes]\n"
        "def by_mesh():\n"
        "    for r in recipes:\n"
        "        body = mesh.make(r, 0.01)\n"
        "        assert not check_written(stl_bytes(body, r.name), body)\n"
        "def by_brep():\n"
        "    for r in recipes:\n"
        "        vertices, faces = brep.stl_arrays(brep.make(r), 0.01)\n"
        "        vertices[faces].astype('<f4').tobytes()\n"
        "        edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)\n"
        "        np.unique(edges, axis=0, return_counts=True)\n"
        "def timed(f):\n"
        "    f()\n"
        "    start = time.perf_counter(); f(); return time.perf_counter() - start\n"
        "print(timed(by_brep) / timed(by_mesh))\n"
    )
    done = subprocess.run((sys.executable, "-c", code), cwd=ROOT, check=True, capture_output=True, text=True)
    ratio = float(done.stdout)
    print(f"mesh kernel: {ratio:.1f} times as fast as brep")
    assert ratio >= 4
