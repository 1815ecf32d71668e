"""Giving tasks to workers: in this process, to processes of this machine, or to a cluster.

A worker that is lost takes its task down, not the others: the task is given to another, three times in all.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Iterator, Sequence

from msgspec.structs import replace

from chassis_gen.batch.task import Made, Task
from chassis_gen.batch.work import made
from chassis_gen.cache.code import package_code
from chassis_gen.problems import InputError, Problem

ATTEMPTS = 3
"""How often a task is given out before its build is reported as not made (chosen)."""

CONNECT_TIME = "10s"
"""How long a cluster may take to answer (chosen)."""

Work = Callable[[Task], Made]
Numbered = tuple[int, Made]


def usual_jobs() -> int:
    """Return how many workers this machine has cores for."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


def in_this_process(tasks: Sequence[Task], work: Work = made) -> Iterator[Numbered]:
    """Yield what becomes of each task, one after another.

    Args:
        tasks: the tasks.
        work: does one.
    """
    for number, task in enumerate(tasks):
        yield number, work(task)


def over_processes(
    tasks: Sequence[Task], jobs: int, work: Work = made, *, pinned: bool = False
) -> Iterator[Numbered]:
    """Yield what becomes of each task as it is done by one of several worker processes.

    Args:
        tasks: the tasks.
        jobs: number of processes.
        work: does one; must be importable.
        pinned: True to keep each worker on a core of its own.
    """
    from joblib import Parallel, delayed
    from joblib.externals.loky.process_executor import TerminatedWorkerError

    waiting = dict(enumerate(tasks))
    for _ in range(ATTEMPTS):
        if not waiting:
            return
        calls = [delayed(_numbered)(work, number, task, pinned) for number, task in waiting.items()]
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)
            run = Parallel(n_jobs=min(jobs, len(calls)), return_as="generator_unordered", batch_size=1)
            try:
                for number, done in run(calls):
                    del waiting[number]
                    yield number, done
            except TerminatedWorkerError:
                continue
    yield from ((number, _lost()) for number in waiting)


def over_cluster(tasks: Sequence[Task], address: str, work: Work = made) -> Iterator[Numbered]:
    """Yield what becomes of each task as it is done by a worker of a cluster.

    Args:
        tasks: the tasks; their files go along.
        address: the scheduler's, such as ``tcp://10.0.0.5:8786``.
        work: does one; must be importable by the workers.

    Raises:
        InputError: when the cluster can't be reached or the extra isn't installed.
    """
    try:
        from distributed import Client, as_completed
        from distributed.scheduler import KilledWorker
    except ImportError:
        message = "the cluster's library is not installed"
        raise InputError(
            [Problem("cluster-missing", message, allowed="pip install chassis-gen[cluster]")]
        ) from None
    try:
        client = Client(address, timeout=CONNECT_TIME, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        message = f"the cluster does not answer ({str(error) or type(error).__name__})"
        allowed = "a scheduler's address such as tcp://10.0.0.5:8786"
        problem = Problem("no-cluster", message, key="--cluster", value=f'"{address}"', allowed=allowed)
        raise InputError([problem]) from None
    with client:
        futures = {client.submit(work, task, pure=False): n for n, task in enumerate(tasks)}
        for future in as_completed(list(futures), loop=client.loop):
            try:
                done = future.result()
            except KilledWorker:
                done = _lost()
            yield futures.pop(future), _of_same_code(done)


def _numbered(work: Work, number: int, task: Task, pinned: bool) -> Numbered:
    return number, work(replace(task, core=_worker_number() - 1) if pinned else task)


def _worker_number() -> int:
    """Return the number, from 1, of this worker process, as its name ends."""
    import multiprocessing

    ending = multiprocessing.current_process().name.rpartition("-")[2]
    return int(ending) if ending.isdigit() else 1


def _lost() -> Made:
    message = f"its worker was lost {ATTEMPTS} times; nothing is written"
    return Made("bad-input", problems=(Problem("worker-lost", message, allowed="--jobs 1"),))


def _of_same_code(done: Made) -> Made:
    """Return a result, or the problem that the cluster runs another version of the program."""
    if done.problems or done.code == package_code():
        return done
    message = "the cluster's workers have another version of chassis-gen or of its libraries"
    return Made(
        "bad-input", problems=(Problem("cluster-differs", message, allowed="the same on all machines"),)
    )
