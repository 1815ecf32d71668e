"""Speed of batches, in multiples of I or as ratios of two of our own runs, each a fresh process.

24 builds like the pocket beacon, each in a bore of its own so that no solids are shared. Run with
`pytest tests/bench -n 0 -s` on a machine that does nothing else: the runs are minutes apart.
"""

from __future__ import annotations

import os
import re
import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
COUNT = int(os.environ.get("CHASSIS_GEN_BENCH_BUILDS", "24"))
BORE = re.compile(r"(bores = \[\{ from_mouth = 0, diameter = )([0-9.]+)")


def run_time(*command: str, core: int | None = None) -> float:
    """Return the wall time of a command that succeeds, s; on one core if asked."""
    pinned = (lambda: os.sched_setaffinity(0, {core})) if core is not None else None
    start = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL, preexec_fn=pinned)
    return time.perf_counter() - start


def batch_time(root: Path, *more: str, core: int | None = None) -> float:
    return run_time(sys.executable, "-m", "chassis_gen", "--workspace", str(root), "batch", *more, core=core)


@pytest.fixture(scope="module")
def unit_time() -> float:
    """Return I, s; once unmeasured, so that files are in the page cache."""
    times = [run_time(sys.executable, "-c", "import cadquery") for _ in range(6)]
    return statistics.median(times[1:])


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a workspace of many builds, none of them made."""
    folder = tmp_path_factory.mktemp("batch")
    text = (ROOT / "profiles" / "pocket-beacon" / "build.toml").read_text("utf-8")
    shutil.copytree(ROOT / "profiles", folder / "profiles")
    for name in ("pocket-beacon", "quay-lantern", "tide-baton"):
        shutil.rmtree(folder / "profiles" / name)
    for number in range(COUNT):
        own, count = BORE.subn(lambda m: f"{m[1]}{float(m[2]) + number / 64}", text)  # noqa: B023
        assert count == 1
        path = folder / "profiles" / f"beacon-{number:02d}" / "build.toml"
        path.parent.mkdir()
        path.write_text(own, "utf-8")
    return folder


@pytest.fixture(scope="module")
def cold(root: Path) -> dict[str, float]:
    """Return the times of cold batches: one worker on one core, two on a core each.

    With CHASSIS_GEN_BENCH_WAYS=all also one worker and two workers that may use all cores.
    """
    ways: dict[str, tuple[tuple[str, ...], int | None]] = {
        "1 pinned": (("--jobs", "1"), min(os.sched_getaffinity(0))),
        "2 pinned": (("--jobs", "2", "--pin"), None),
    }
    if os.environ.get("CHASSIS_GEN_BENCH_WAYS") == "all":
        ways |= {"1 free": (("--jobs", "1"), None), "2 free": (("--jobs", "2", "--no-pin"), None)}
    times = {}
    for name, (options, core) in ways.items():
        shutil.rmtree(root / "out", ignore_errors=True)
        times[name] = batch_time(root, *options, core=core)
        print(f"cold batch of {COUNT}, {name}: {times[name]:.1f} s")
    return times


def test_two_pinned_workers_against_one(cold: dict[str, float]) -> None:
    ratio = cold["1 pinned"] / cold["2 pinned"]
    print(
        f"2 jobs, each on a core: {ratio:.2f} times one on one core; best: {min(cold, key=cold.__getitem__)}"
    )
    assert ratio >= 1.6


def test_nothing_to_do(root: Path, cold: dict[str, float], unit_time: float) -> None:
    batch_time(root)
    taken = statistics.median(batch_time(root) for _ in range(5))
    print(f"nothing to do over {COUNT} builds: {taken / unit_time:.3f} I (I = {unit_time:.2f} s)")
    assert taken < unit_time


def test_one_dimension_changed(root: Path, cold: dict[str, float]) -> None:
    """Against regenerating all with as many workers as is usual."""
    path = root / "profiles" / "beacon-00" / "build.toml"
    adjustment = '\n[[adjustment]]\ndimension = "speaker.rim_seat_diameter"\nadd = 0.1\nwhy = "bench"\n'
    path.write_text(path.read_text("utf-8") + adjustment, "utf-8")
    taken = batch_time(root)
    ratio = cold["2 pinned"] / taken
    print(f"one dimension changed in one of {COUNT}: {taken:.1f} s, {ratio:.1f} times as fast as all")
    assert ratio >= 10
