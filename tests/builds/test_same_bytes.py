"""The same input gives the same bytes, whatever order a process's hashes put things in."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.builds.support import ROOT, demo_text, workspace

PROGRAM = "from chassis_gen.cli.main import main; main()"


def test_two_processes_with_other_hash_seeds_write_the_same_folder(tmp_path: Path) -> None:
    runs = []
    for seed in ("1", "4242"):
        workspace(tmp_path / seed, demo_text("quay-lantern"), "quay-lantern")
        arguments = ("--workspace", str(tmp_path / seed), "build", "quay-lantern", "--no-step")
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": seed}
        runs.append(
            subprocess.Popen(
                [sys.executable, "-c", PROGRAM, *arguments],
                cwd=tmp_path,
                env=environment,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
            )
        )
    for run in runs:
        said, _ = run.communicate(timeout=120)
        assert run.returncode == 0, said.decode()
    one, other = ({p.relative_to(out).as_posix(): p.read_bytes() for p in out.rglob("*") if p.is_file()}
                  for out in (tmp_path / seed / "out" / "quay-lantern" for seed in ("1", "4242")))  # fmt: skip
    assert {
        "manifest.json",
        "fit-report.json",
        "fit-report.md",
        "pieces/chassis.stl",
        "quay-lantern.3mf",
    } <= set(one)
    assert set(one) == set(other)
    assert [name for name in sorted(one) if one[name] != other[name]] == []
