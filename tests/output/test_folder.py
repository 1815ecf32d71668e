import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from msgspec.structs import replace

from chassis_gen.findings import Finding
from chassis_gen.output import folder as folder_module
from chassis_gen.output import swap
from chassis_gen.output.folder import Written, build_files, write_build, write_files
from chassis_gen.output.manifest import sha256
from chassis_gen.output.swap import replaced_folder
from chassis_gen.problems import InputError
from tests.output.support import INPUTS, digests, files, result, silent

ROOT = Path(__file__).resolve().parents[2]


def write(out: Path) -> Written:
    return write_build(result(), out, step=False, png=False, progress=silent, inputs=INPUTS)


def listed(out: Path) -> set[str]:
    return {p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()}


MESH_FILES = {
    "pieces/chassis.stl", "pieces/chassis.3mf", "pieces/cap.stl", "pieces/cap.3mf", "small.3mf",
    "fit-report.json", "fit-report.md", "manifest.json",
    "wires/cut-list.csv", "wires/cut-list.md", "wires/harness.svg", "wires/tests.md",
}  # fmt: skip


def test_the_folder_holds_what_the_contract_says(tmp_path: Path) -> None:
    written = write(tmp_path / "out" / "small")
    assert listed(written.folder) == MESH_FILES == set(written.files)
    assert [p.name for p in written.folder.parent.iterdir()] == ["small"]


def test_the_report_names_the_files_of_each_piece(tmp_path: Path) -> None:
    written = write(tmp_path / "small")
    report = json.loads((written.folder / "fit-report.json").read_text("utf-8"))
    assert report == written.report
    chassis = next(p for p in report["pieces"] if p["name"] == "chassis")
    assert chassis["files"] == ["pieces/chassis.3mf", "pieces/chassis.stl"]


def test_the_manifest_has_the_hash_of_every_other_file(tmp_path: Path) -> None:
    written = write(tmp_path / "small")
    manifest = json.loads((written.folder / "manifest.json").read_text("utf-8"))
    assert set(manifest["files"]) == MESH_FILES - {"manifest.json"}
    assert all(sha256((written.folder / n).read_bytes()) == h for n, h in manifest["files"].items())
    assert manifest["inputs"] == {
        "profiles/small/build.toml": sha256(INPUTS["profiles/small/build.toml"].encode())
    }
    assert {"chassis-gen", "python", "manifold3d", "numpy", "lib3mf"} <= set(manifest["versions"])


def test_another_input_gives_another_input_hash() -> None:
    def input_hash(text: str) -> str:
        made = build_files(result(), step=False, png=False, progress=silent, inputs={"build.toml": text})
        return str(json.loads(made.files["manifest.json"])["input_hash"])

    assert input_hash("a") != input_hash("b")
    assert input_hash("a") == input_hash("a")


def test_a_plan_without_solids_writes_its_report_alone(tmp_path: Path) -> None:
    blocked = Finding("error", "no-room", "speaker", "the radial sum does not close", blocks_solids=True)
    empty = replace(result(), solids=None, fits=(), plays=(), findings=(blocked,))
    written = write_build(empty, tmp_path / "small", step=True, png=True, progress=silent)
    assert listed(written.folder) == {"fit-report.json", "fit-report.md", "manifest.json"}
    assert written.report["verdict"] == "fail"
    assert written.report["step_made"] is False


def test_generated_files_that_no_longer_belong_go_and_the_maker_s_own_stay(tmp_path: Path) -> None:
    out = write(tmp_path / "small").folder
    manifest = json.loads((out / "manifest.json").read_text("utf-8"))
    (out / "pieces" / "old.stl").write_bytes(b"old")
    manifest["files"]["pieces/old.stl"] = sha256(b"old")
    (out / "manifest.json").write_text(json.dumps(manifest), "utf-8")
    (out / "notes.txt").write_text("the cap was tight", "utf-8")
    write(out)
    assert listed(out) == MESH_FILES | {"notes.txt"}
    assert (out / "notes.txt").read_text("utf-8") == "the cap was tight"


def test_a_folder_that_is_not_a_build_s_is_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "small"
    out.mkdir()
    (out / "letters.txt").write_text("dear", "utf-8")
    with pytest.raises(InputError) as caught:
        write(out)
    assert [p.code for p in caught.value.problems] == ["not-our-folder"]
    problem = caught.value.problems[0]
    assert problem.message.startswith("it has no manifest.json, so what an earlier run made")
    assert (
        problem.allowed
        == "move or delete the folder, then run this again; own files may be moved back after that"
    )
    (out / "manifest.json").write_text("{", "utf-8")
    with pytest.raises(InputError, match=r"its manifest.json can't be read, .* such as letters.txt"):
        write(out)
    (out / "manifest.json").unlink()
    assert listed(out) == {"letters.txt"}
    assert [p.name for p in tmp_path.iterdir()] == ["small"]


def test_a_file_in_the_folder_s_place_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "small").write_text("mine", "utf-8")
    with pytest.raises(InputError, match="not-our-folder"):
        write(tmp_path / "small")
    assert (tmp_path / "small").read_text("utf-8") == "mine"


def test_an_error_half_way_leaves_the_old_folder_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = write(tmp_path / "small").folder
    before = {n: (out / n).read_bytes() for n in listed(out)}
    real, calls = folder_module.write_bytes_atomically, []

    def full_disc(path: Path, data: bytes) -> None:
        calls.append(path)
        if len(calls) == 4:
            raise OSError(28, "No space left on device")
        real(path, data)

    monkeypatch.setattr(folder_module, "write_bytes_atomically", full_disc)
    # files that stay as they are need no room; here each is taken to be another
    monkeypatch.setattr(folder_module, "stays", lambda old, new, data: False)
    with pytest.raises(InputError, match="No space left on device"):
        write(out)
    assert {n: (out / n).read_bytes() for n in listed(out)} == before
    assert [p.name for p in tmp_path.iterdir()] == ["small"]


@pytest.mark.parametrize("links", [True, False])
def test_a_file_whose_bytes_are_the_same_keeps_its_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    def no_links(source: Path, target: Path) -> None:
        raise OSError(95, "Operation not supported")

    if not links:
        monkeypatch.setattr(swap.os, "link", no_links)
    out = tmp_path / "small"
    write_files(
        out, {"a.stl": b"a", "pieces/b.stl": b"b", "manifest.json": manifest_of("a.stl", "pieces/b.stl")}
    )
    for name in listed(out):
        os.utime(out / name, (1e9, 1e9))
    write_files(
        out, {"a.stl": b"a", "pieces/b.stl": b"c", "manifest.json": manifest_of("a.stl", "pieces/b.stl")}
    )
    kept = {name for name in listed(out) if (out / name).stat().st_mtime == 1e9}
    assert kept == {"a.stl", "manifest.json"}
    assert (out / "pieces" / "b.stl").read_bytes() == b"c"
    # a link to somewhere else is no generated file: it is replaced, not kept
    (tmp_path / "mine").write_bytes(b"a")
    (out / "a.stl").unlink()
    (out / "a.stl").symlink_to(tmp_path / "mine")
    write_files(out, {"a.stl": b"a", "manifest.json": manifest_of("a.stl")})
    assert not (out / "a.stl").is_symlink()
    assert listed(out) == {"a.stl", "manifest.json"}


def manifest_of(*names: str) -> bytes:
    return json.dumps({"files": dict.fromkeys(names, "")}).encode()


@pytest.mark.parametrize("one_step", [True, False])
def test_a_folder_is_replaced_with_and_without_an_exchange_of_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, one_step: bool
) -> None:
    if not one_step:
        monkeypatch.setattr(swap, "_exchanged", lambda a, b: False)
    out = tmp_path / "small"
    for text in ("one", "two"):
        with replaced_folder(out, lambda _: {"made.txt"}) as part:
            (part / "made.txt").write_text(text, "utf-8")
    assert (out / "made.txt").read_text("utf-8") == "two"
    assert [p.name for p in tmp_path.iterdir()] == ["small"]


def gone_process() -> int:
    """Return the number of a process that has ended."""
    done = subprocess.Popen([sys.executable, "-c", ""])
    done.wait()
    return done.pid


def test_a_run_lost_between_its_two_steps_is_put_right_by_the_next(tmp_path: Path) -> None:
    pid = gone_process()
    (tmp_path / f".small.old-{pid}").mkdir()
    (tmp_path / f".small.old-{pid}" / "made.txt").write_text("whole", "utf-8")
    (tmp_path / f".small.part-{pid}").mkdir()
    swap.recover(tmp_path / "small")
    assert (tmp_path / "small" / "made.txt").read_text("utf-8") == "whole"
    assert [p.name for p in tmp_path.iterdir()] == ["small"]


def test_the_folder_of_a_run_that_still_goes_on_is_left_to_it(tmp_path: Path) -> None:
    other = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    try:
        (tmp_path / f".small.part-{other.pid}").mkdir()
        swap.recover(tmp_path / "small")
        assert [p.name for p in tmp_path.iterdir()] == [f".small.part-{other.pid}"]
    finally:
        other.kill()
        other.wait()


KILLED = """
import sys, time
from pathlib import Path
from chassis_gen.output.swap import replaced_folder
with replaced_folder(Path(sys.argv[1]), lambda _: {"made.txt"}) as part:
    (part / "made.txt").write_text("half", "utf-8")
    print("half way", flush=True)
    time.sleep(60)
"""


@pytest.mark.skipif(os.name != "posix", reason="sends a signal")
def test_a_killed_run_leaves_the_old_folder_whole_and_the_next_one_cleans_up(tmp_path: Path) -> None:
    out = tmp_path / "small"
    with replaced_folder(out, lambda _: set()) as part:
        (part / "made.txt").write_text("whole", "utf-8")
    run = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(out)],
        stdout=subprocess.PIPE,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert run.stdout is not None
    assert run.stdout.readline() == b"half way\n"
    run.send_signal(signal.SIGKILL)
    run.wait()
    run.stdout.close()
    assert (out / "made.txt").read_text("utf-8") == "whole"
    assert len(list(tmp_path.iterdir())) == 2
    with replaced_folder(out, lambda _: {"made.txt"}) as part:
        (part / "made.txt").write_text("next", "utf-8")
    assert (out / "made.txt").read_text("utf-8") == "next"
    assert [p.name for p in tmp_path.iterdir()] == ["small"]


def test_another_run_may_put_its_folder_there_first(tmp_path: Path) -> None:
    """The folder is missing when this run looks, and whole, with files of the other run, when it is done."""
    out = tmp_path / "small"
    with replaced_folder(out, lambda _: None) as part:
        (part / "made.txt").write_text("this run's", "utf-8")
        out.mkdir()
        (out / "made.txt").write_text("the other's", "utf-8")
    assert (out / "made.txt").read_text("utf-8") == "this run's"
    assert [p.name for p in tmp_path.iterdir()] == ["small"]


def test_what_was_generated_is_asked_of_the_folder_that_was_listed(tmp_path: Path) -> None:
    """Asked before the listing, a folder that another run puts there in between would seem to be the maker's own."""
    out = tmp_path / "small"
    out.mkdir()
    (out / "made.txt").write_text("the other's", "utf-8")
    asked: list[bool] = []

    def generated(folder: Path) -> set[str]:
        asked.append((folder / "made.txt").exists())
        return {"made.txt"}

    with replaced_folder(out, generated) as part:
        (part / "new.txt").write_text("this run's", "utf-8")
    assert asked == [True]
    assert [p.name for p in out.iterdir()] == ["new.txt"]


def test_writing_meshes_loads_no_exact_kernel_and_no_renderer() -> None:
    code = (
        "import sys\n"
        "from tests.output.support import files\n"
        "files(False)\n"
        "print([m for m in ('cadquery', 'OCP', 'vtkmodules', 'trimesh', 'scipy') if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
                          capture_output=True, text=True, check=True)  # fmt: skip
    assert done.stdout.strip() == "[]"


def test_another_process_at_another_time_writes_the_same_bytes() -> None:
    code = (
        "import json\n"
        "from tests.output.support import digests, files\n"
        "print(json.dumps(digests(files(False))))\n"
    )
    time.sleep(1.1)
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "7"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout) == digests(files(False))
