"""Workers that are lost: no build is, and a cluster gives the bytes of the local run.

The cluster is one of two worker processes on this machine's own loop-back address.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from chassis_gen.batch import spread
from chassis_gen.batch.task import Made, Target, Task
from chassis_gen.batch.work import made
from chassis_gen.output.current import Before
from chassis_gen.params.workspace import Workspace
from chassis_gen.problems import InputError
from tests.batch.support import CHORD, batch, files, text, workspace
from tests.cli.support import ran

LOST_ONCE = "lost once"


def lost_once(task: Task) -> Made:
    """Kill this worker the first time that the task is given out, then do it."""
    mark = Path(task.root or os.environ["LOST_MARK"], LOST_ONCE)
    if task.target.name == "b0" and not mark.exists():
        mark.write_text("")
        os.kill(os.getpid(), signal.SIGKILL)
    return made(task)


def always_lost(task: Task) -> Made:
    """Kill this worker."""
    os.kill(os.getpid(), signal.SIGKILL)
    return made(task)


def tasks(where: Workspace) -> list[Task]:
    root = str(where.root)
    return [
        Task(Target(name, name), root, None, Before(), CHORD, None, writes=True) for name in where.builds()
    ]


@pytest.fixture(scope="module")
def local(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """A workspace of two builds, built in this process."""
    root = tmp_path_factory.mktemp("local")
    where = workspace(root, {f"b{i}": text(f"b{i}", 36.0 + i) for i in range(2)})
    batch(where)
    return where


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A scheduler's address."""
    distributed = pytest.importorskip("distributed")
    os.environ["LOST_MARK"] = str(tmp_path_factory.mktemp("mark"))
    settings: dict[str, Any] = {"host": "127.0.0.1", "dashboard_address": None, "silence_logs": 50}
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, **settings) as made_here:
        yield made_here.scheduler_address


def contents(where: Workspace, build: str) -> dict[str, bytes]:
    return {n.removeprefix(f"{build}/"): d for n, d in files(where).items() if n.startswith(f"{build}/")}


def test_a_lost_worker_process_loses_nothing(local: Workspace) -> None:
    (local.root / LOST_ONCE).unlink(missing_ok=True)
    done = dict(spread.over_processes(tasks(local), 2, lost_once, pinned=True))
    assert (local.root / LOST_ONCE).exists()
    assert {f"b{n}": dict(m.files) for n, m in done.items()} == {b: contents(local, b) for b in ("b0", "b1")}


def test_a_task_that_always_loses_its_worker_is_reported(
    local: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spread, "ATTEMPTS", 1)
    done = dict(spread.over_processes(tasks(local), 2, always_lost))
    assert [[p.code for p in m.problems] for m in done.values()] == [["worker-lost"], ["worker-lost"]]


def test_a_cluster_gives_the_bytes_of_the_local_run_even_when_a_worker_is_lost(
    local: Workspace, cluster: str, tmp_path: Path
) -> None:
    far = workspace(tmp_path, {f"b{i}": text(f"b{i}", 36.0 + i) for i in range(2)})
    real = spread.over_cluster
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(spread, "over_cluster", lambda given, address: real(given, address, lost_once))
        done = batch(far, cluster=cluster)
    assert Path(os.environ["LOST_MARK"], LOST_ONCE).exists()
    assert {o.verdict for o in done.values()} == {"pass"}
    assert files(far) == files(local)
    assert all(o.unchanged for o in batch(far, cluster=cluster).values())


def test_a_cluster_of_another_version_is_refused(
    local: Workspace, cluster: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spread, "package_code", lambda: "of another version")
    sent = [Task(Target("none.toml", "none"), "", {}, Before(), CHORD, None, writes=True)]
    ((_, done),) = spread.over_cluster(sent, cluster)
    assert [p.code for p in done.problems] == ["missing-file"]
    assert [p.code for p in spread._of_same_code(Made("pass", code="x")).problems] == ["cluster-differs"]


def test_a_cluster_that_does_not_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(spread, "CONNECT_TIME", "1s")
    workspace(tmp_path, {"b0": text("b0")})
    for address in ("tcp://127.0.0.1:9", "nonsense://x"):
        done = ran(capsys, "--workspace", tmp_path, "batch", "--cluster", address)
        assert done.status == 2
        assert "[no-cluster] --cluster: the cluster does not answer" in done.err
    assert not (tmp_path / "out" / "b0").exists()


def test_files_outside_the_workspace_are_not_sent(tmp_path: Path) -> None:
    where = workspace(tmp_path / "ws", {})
    (tmp_path / "lamp.toml").write_text(text("lamp"), "utf-8")
    done = batch(where, str(tmp_path / "lamp.toml"), cluster="tcp://127.0.0.1:9")
    assert [p.code for o in done.values() for p in o.problems] == ["leaves-workspace"]


def test_without_the_extra_the_reason_is_given(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match="cluster-missing"):
        next(spread.over_cluster([], "tcp://127.0.0.1:9"))
