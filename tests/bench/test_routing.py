"""Speed of routing: 60 wires over 14 sections against I, and 60 wires against 30.

Run with `pytest tests/bench -n 0`. I is the time of `python -c "import cadquery"` in the same run.
"""

from __future__ import annotations

import random
import statistics
import sys
import time

from msgspec.structs import replace

from chassis_gen.plan.chassis import Wire
from chassis_gen.plan.lanes import lay_wires
from chassis_gen.plan.laying import Ground
from chassis_gen.plan.model import Disc, Gallery, Obstacle, PlacedTerminal
from tests.bench.test_speed import seconds
from tests.plan.support import ground, section, terminal, wire

SECTIONS, LONG, RADIUS = 14, 20.0, 24.0
SEEDS = range(8)


def chassis(count: int, seed: int) -> tuple[tuple[Wire, ...], Ground]:
    """Return wires between random terminals of 14 sections, every second hollow, the others round a cell."""
    chance = random.Random(seed)
    ends: list[list[PlacedTerminal]] = [[] for _ in range(SECTIONS)]
    wires = []
    for i in range(count):
        pair = []
        for k in chance.sample(range(SECTIONS), 2):
            z = round(k * LONG + chance.uniform(2, LONG - 2), 2)
            x, y = chance.uniform(-6, 6), chance.uniform(-6, 6)
            pair.append(terminal(f"s{k}.t{len(ends[k])}", z, x=x, y=y))
            ends[k].append(pair[-1])
        wires.append(wire(f"w{i}", pair[0].id, pair[1].id, chance.choice([26, 28, 30])))
    sections = [
        section(
            f"s{k}",
            k * LONG,
            (k + 1) * LONG,
            [] if k % 2 else [Obstacle(Disc(0, 0, RADIUS / 2), k * LONG, (k + 1) * LONG, "cell")],
            ends[k],
            [Gallery((k + 0.5) * LONG, LONG, f"s{k}", open_room=True)] if k % 2 else [],
        )
        for k in range(SECTIONS)
    ]
    made = ground(sections, radius=RADIUS)
    return tuple(wires), replace(made, rules=replace(made.rules, bend=3.0))


def taken(count: int, seed: int) -> float:
    """Return the least time of three runs that route every wire, s."""
    wires, over = chassis(count, seed)
    times = []
    for _ in range(3):
        start = time.perf_counter()
        wiring = lay_wires(wires, over)
        times.append(time.perf_counter() - start)
        assert not wiring.unrouted
    return min(times)


def test_sixty_wires_over_fourteen_sections() -> None:
    unit = seconds(sys.executable, "-c", "import cadquery")
    median = statistics.median(taken(60, seed) for seed in SEEDS)
    print(f"60 wires: {median:.3f} s = {median / unit:.3f} I (I = {unit:.2f} s), goal 0.2 I")
    assert median <= 0.2 * unit


def test_twice_the_wires_take_at_most_two_and_a_half_times_as_long() -> None:
    ratios = [taken(60, seed) / taken(30, seed) for seed in SEEDS]
    print("from 30 to 60 wires: " + ", ".join(f"{r:.2f}" for r in ratios))
    assert statistics.median(ratios) <= 2.5
