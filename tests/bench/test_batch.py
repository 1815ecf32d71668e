"""Speed of batches, in multiples of I or as ratios of two of our own runs, each a fresh process.

24 builds as a workshop may have them: of six, three are like the pocket beacon, two like the quay lantern and one
is like the tide baton, each in bores of its own so that they share no solids. Run with `pytest tests/bench -n 0 -s`
on a machine that does nothing else: the runs are minutes apart. What the machine's second core really gives is
measured beside them: many machines' cores share their units, caches or power.
"""

from __future__ import annotations

import os
import re
import resource
import shutil
import statistics
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
COUNT = int(os.environ.get("CHASSIS_GEN_BENCH_BUILDS", "24"))
KINDS = ("pocket-beacon", "quay-lantern", "pocket-beacon", "tide-baton", "quay-lantern", "pocket-beacon")
BORE = re.compile(r"(from_mouth = [0-9]+, diameter = )([0-9.]+)")
LOOP = (
    "import time; t = time.perf_counter(); sum(i * i for i in range(10**7)); print(time.perf_counter() - t)"
)
GOAL = 1.6


@dataclass(frozen=True)
class Taken:
    """What a command took, s.

    Args:
        wall: from start to end.
        cores: on all cores together.
    """

    wall: float
    cores: float


def taken(*command: str, core: int | None = None) -> Taken:
    """Return what a command took that succeeded; on one core if asked."""
    pinned = (lambda: os.sched_setaffinity(0, {core})) if core is not None else None
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL, preexec_fn=pinned)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return Taken(wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def batch(root: Path, *more: str, core: int | None = None) -> Taken:
    return taken(sys.executable, "-m", "chassis_gen", "--workspace", str(root), "batch", *more, core=core)


def second_core() -> float:
    """Return how many times as much two cores do as one does, by a loop that needs nothing but its core."""

    def loops(cores: list[int]) -> float:
        code = "import os, sys; os.sched_setaffinity(0, {int(sys.argv[1])}); " + LOOP
        runs = [
            subprocess.Popen([sys.executable, "-c", code, str(core)], stdout=subprocess.PIPE)
            for core in cores
        ]
        return max(float(run.communicate()[0]) for run in runs)

    two = sorted(os.sched_getaffinity(0))[:2]
    return statistics.median(2.0 * loops(two[:1]) / loops(two) for _ in range(5))


@pytest.fixture(scope="module")
def unit_time() -> float:
    """Return I, s; once unmeasured, so that files are in the page cache."""
    times = [taken(sys.executable, "-c", "import cadquery").wall for _ in range(6)]
    return statistics.median(times[1:])


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a workspace of many builds, none of them made."""
    folder = tmp_path_factory.mktemp("batch")
    shutil.copytree(ROOT / "profiles", folder / "profiles")
    texts = {name: (ROOT / "profiles" / name / "build.toml").read_text("utf-8") for name in set(KINDS)}
    tube = (ROOT / "profiles" / "tubes" / "tide-tube.toml").read_text("utf-8")
    for name in texts:
        shutil.rmtree(folder / "profiles" / name)
    for number in range(COUNT):
        kind = KINDS[number % len(KINDS)]
        path = folder / "profiles" / f"{kind}-{number:02d}" / "build.toml"
        path.parent.mkdir()
        own, count = wider(texts[kind], number)
        if not count:
            own = own.replace('like = "tide-tube"', f'like = "tube-{number:02d}"')
            own_tube, count = wider(tube, number)
            (folder / "profiles" / "tubes" / f"tube-{number:02d}.toml").write_text(own_tube, "utf-8")
        assert count
        path.write_text(own, "utf-8")
    return folder


def wider(text: str, number: int) -> tuple[str, int]:
    """Return a file with wider bores, by a 64th of a mm for each number, and how many there are."""
    return BORE.subn(lambda m: f"{m[1]}{float(m[2]) + number / 64}", text)


@dataclass(frozen=True)
class Cold:
    """Cold batches: what each way took, and what two cores gave at the time."""

    ways: dict[str, Taken]
    second_core: float


@pytest.fixture(scope="module")
def cold(root: Path) -> Cold:
    """Return what cold batches take: one worker on one core, two on a core each.

    With CHASSIS_GEN_BENCH_WAYS=all also one worker and two workers that may use all cores.
    """
    ways: dict[str, tuple[tuple[str, ...], int | None]] = {
        "1 pinned": (("--jobs", "1"), min(os.sched_getaffinity(0))),
        "2 pinned": (("--jobs", "2", "--pin"), None),
    }
    if os.environ.get("CHASSIS_GEN_BENCH_WAYS") == "all":
        ways |= {"1 free": (("--jobs", "1"), None), "2 free": (("--jobs", "2", "--no-pin"), None)}
    times, gains = {}, [second_core()]
    for name, (options, core) in ways.items():
        shutil.rmtree(root / "out", ignore_errors=True)
        times[name] = batch(root, *options, core=core)
        gains.append(second_core())
        print(f"cold batch of {COUNT}, {name}: {times[name].wall:.1f} s, {times[name].cores:.1f} s of cores")
    shown = ", ".join(f"{g:.2f}" for g in gains)
    print(f"two cores do {shown} times what one does (before, between, after); load {os.getloadavg()[0]:.1f}")
    return Cold(times, min(gains))


def test_two_pinned_workers_against_one(cold: Cold) -> None:
    one, two = cold.ways["1 pinned"], cold.ways["2 pinned"]
    ratio, best = one.wall / two.wall, min(cold.ways, key=lambda w: cold.ways[w].wall)
    busy = two.cores / (2.0 * two.wall)
    print(f"2 jobs, each on a core: {ratio:.2f} times one on one core, cores {busy:.0%} busy; best: {best}")
    if one.cores < 0.95 * one.wall:
        pytest.skip(f"the one worker only had its core for {one.cores / one.wall:.0%} of the time")
    if ratio < GOAL and cold.second_core < GOAL:
        pytest.skip(f"two cores of this machine only do {cold.second_core:.2f} times what one does now")
    assert ratio >= GOAL


def test_nothing_to_do(root: Path, cold: Cold, unit_time: float) -> None:
    batch(root)
    spent = statistics.median(batch(root).wall for _ in range(5))
    print(f"nothing to do over {COUNT} builds: {spent / unit_time:.3f} I (I = {unit_time:.2f} s)")
    assert spent < unit_time


@pytest.mark.parametrize("kind", sorted(set(KINDS)))
def test_one_dimension_changed(root: Path, cold: Cold, kind: str) -> None:
    """Against regenerating all with as many workers as is usual."""
    path = next((root / "profiles").glob(f"{kind}-*/build.toml"))
    adjustment = '\n[[adjustment]]\ndimension = "speaker.rim_seat_diameter"\nadd = 0.1\nwhy = "bench"\n'
    path.write_text(path.read_text("utf-8") + adjustment, "utf-8")
    spent = batch(root)
    ratio = cold.ways["2 pinned"].wall / spent.wall
    print(
        f"one dimension changed in one of {COUNT} ({kind}): {spent.wall:.1f} s, {ratio:.1f} times as fast as all"
    )
    assert ratio >= 10
