"""A file is written whole or not at all."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from chassis_gen.params.writing import write_bytes_atomically, write_text_atomically
from chassis_gen.problems import InputError


def refused(path: Path, text: str) -> str:
    with pytest.raises(InputError) as caught:
        write_text_atomically(path, text)
    (problem,) = caught.value.problems
    return problem.text()


def test_text_is_written_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    write_text_atomically(path, "ü\r\n\n")
    assert path.read_bytes() == b"\xc3\xbc\r\n\n"
    write_bytes_atomically(path, b"\x00\xff")
    assert path.read_bytes() == b"\x00\xff"
    assert os.listdir(tmp_path) == ["a.toml"]


def test_new_file_has_ordinary_rights_and_an_old_one_keeps_its_own(tmp_path: Path) -> None:
    plain, new, old = tmp_path / "plain", tmp_path / "new", tmp_path / "old"
    plain.write_text("")
    write_text_atomically(new, "x")
    assert new.stat().st_mode == plain.stat().st_mode
    old.write_text("")
    old.chmod(0o640)
    write_text_atomically(old, "x")
    assert old.stat().st_mode & 0o777 == 0o640


def test_a_link_is_replaced_not_followed(tmp_path: Path) -> None:
    target, link = tmp_path / "target", tmp_path / "link"
    target.write_text("old")
    link.symlink_to(target)
    write_text_atomically(link, "new")
    assert (target.read_text(), link.read_text(), link.is_symlink()) == ("old", "new", False)


def test_what_cannot_be_written(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("old")
    prefix = "[cannot-write] the file cannot be written"
    assert refused(tmp_path / "no" / "a", "x") == f"{tmp_path}/no/a: {prefix} (its folder does not exist)"
    assert refused(file / "a", "x") == f"{file}/a: {prefix} (its folder does not exist)"
    assert refused(tmp_path, "x").startswith(f"{tmp_path}: {prefix} (")
    assert refused(tmp_path / ("x" * 300), "x").endswith(f"{prefix} (File name too long)")
    assert refused(tmp_path / "a\0b", "x").endswith(f"{prefix} (embedded null byte)")
    assert "UTF-8 has no bytes for" in refused(file, "\ud800")
    assert file.read_text() == "old"
    assert os.listdir(tmp_path) == ["file"]


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_write_access(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    assert refused(tmp_path / "a", "x").endswith("(Permission denied)")
    tmp_path.chmod(0o700)


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failed_step_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    path = tmp_path / "a"
    path.write_text("old")
    monkeypatch.setattr(os, step, fail)
    assert refused(path, "new").endswith("(No space left on device)")
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["a"]


def test_a_killed_run_leaves_the_old_file_whole(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_text("old")
    code = (
        "import os, sys, signal, pathlib\n"
        "from chassis_gen.params.writing import write_text_atomically\n"
        "os.replace = lambda *_: os.kill(os.getpid(), signal.SIGKILL)\n"
        "write_text_atomically(pathlib.Path(sys.argv[1]), 'new' * 1000)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], cwd=Path(__file__).parents[2], check=False)
    assert done.returncode == -signal.SIGKILL
    assert path.read_text() == "old"
