"""``chassis-gen cache`` and what ``batch`` prints."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from chassis_gen.cli import batch as batch_command
from chassis_gen.cli.session import Session
from tests.batch.support import CHORD, files, text, workspace
from tests.cli.support import ran


def test_table_cache_and_dry_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    where = workspace(tmp_path, {"lamp": text("lamp")})
    run = ("--workspace", tmp_path, "batch", "--chord", str(CHORD))
    dry = ran(capsys, *run, "--dry-run")
    assert (dry.status, "none -> pass" in dry.out, (tmp_path / "out").exists()) == (0, True, False)
    assert ran(capsys, *run).status == 0
    before = files(where)
    path = tmp_path / "profiles" / "lamp" / "build.toml"
    path.write_text(text("lamp").replace("add = 0.1", "add = 0.25"), "utf-8")
    dry = ran(capsys, *run, "--dry-run")
    assert files(where) == before
    wet = ran(capsys, *run)
    assert dry.out == wet.out
    shown = " ".join(wet.out.split())
    assert "bay.rail_thickness" in shown
    assert "(test-fit adjustment 0.1 -> 0.25)" in shown
    assert files(where) != before
    cache = ran(capsys, "--workspace", tmp_path, "cache", "--json").document
    assert cache["entries"] > 5
    assert 0 < cache["bytes"] < cache["bound_bytes"]
    cleared = ran(capsys, "--workspace", tmp_path, "cache", "--clear", "--json").document
    assert (cleared["status"], cleared["entries"]) == ("cleared", cache["entries"])
    assert ran(capsys, "--workspace", tmp_path, "cache").out.startswith("out/.cache: 0 entries, 0.0 MiB")
    # without a cache the plan still shows that nothing is to be done
    assert "unchanged" in ran(capsys, *run).out


def test_a_cache_that_links_out_of_the_workspace_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root, other = tmp_path / "ws", tmp_path / "other"
    workspace(root, {"lamp": text("lamp")})
    other.mkdir()
    (root / "out").mkdir()
    (root / "out" / ".cache").symlink_to(other)
    for command in (("cache", "--clear"), ("batch",), ("build", "lamp", "--no-step")):
        done = ran(capsys, "--workspace", root, *command)
        assert (done.status, "[leaves-workspace]" in done.err) == (2, True)
    assert list(other.iterdir()) == []


def test_the_bar_shows_on_terminals_only(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    for stream, wants_json, shown in (
        (Terminal(), False, True),
        (Terminal(), True, False),
        (io.StringIO(), False, False),
    ):
        monkeypatch.setattr(sys, "stderr", stream)
        with batch_command._progress(Session(wants_json)) as progress:
            progress(0, 3, "")
            progress(1, 3, "quay lantern")
        assert ("quay lantern" in stream.getvalue()) is shown
        assert bool(stream.getvalue()) is shown
