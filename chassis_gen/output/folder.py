"""A build's folder: every file of it made first, then put in place as a whole.

pieces/<piece>.stl, .3mf and .step, <build>.3mf, assembly.step, fit-report.json, fit-report.md,
manifest.json, where there are wires wires/cut-list.csv, .md, harness.svg and tests.md, and, when asked for,
pictures/*.png
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.cache.store import NOTHING, Keeper
from chassis_gen.findings import worst_first
from chassis_gen.output import manifest
from chassis_gen.output.current import REPORT_FILE
from chassis_gen.output.cutlist import cut_list, cut_list_csv
from chassis_gen.output.harness_drawing import harness_svg
from chassis_gen.output.markdown import cut_list_markdown, report_markdown
from chassis_gen.output.report import report_json, report_text
from chassis_gen.output.stl import with_written_meshes
from chassis_gen.output.summary import Report
from chassis_gen.output.swap import replaced_folder, stays
from chassis_gen.output.test_table import measurements_markdown
from chassis_gen.params.writing import write_bytes_atomically

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult
    from chassis_gen.output.exact import ExactSolids

Progress = Callable[[str], None]


class Written(Struct, frozen=True):
    """What was written for a build.

    Args:
        folder: where.
        files: names relative to the folder, sorted.
        result: the checks' result with what writing added to its findings.
        report: the fit report as data.
        no_pictures: why pictures that were asked for are missing, or None.
    """

    folder: Path
    files: tuple[str, ...]
    result: CheckResult
    report: Report
    no_pictures: str | None = None


class Made(Struct, frozen=True):
    """A build's files, not yet written.

    Args:
        files: content by name, relative to the folder.
        result: the checks' result with what making the files added to its findings.
        report: the fit report as data.
        no_pictures: why pictures that were asked for are missing, or None.
    """

    files: Mapping[str, bytes]
    result: CheckResult
    report: Report
    no_pictures: str | None = None


def write_build(
    result: CheckResult,
    out_dir: Path,
    *,
    step: bool,
    png: bool,
    progress: Progress,
    inputs: Mapping[str, str | bytes] | None = None,
    keeper: Keeper = NOTHING,
    step_patterns: bool = False,
) -> Written:
    """Write a build's folder; until all of it is made, the old one stands untouched.

    Files of the maker's own in the old folder are kept, generated ones that no longer belong are not.

    Args:
        result: what the checks found.
        out_dir: the build's folder.
        step: whether to write STEP files.
        png: whether to write pictures.
        progress: told what is being made.
        inputs: name and content of every file that the build was read from, for the manifest.
        keeper: gives solids that were made before.
        step_patterns: whether STEP files get surface work and repeated patterns too.

    Raises:
        InputError: when the folder can't be written or the exact kernel is missing.
    """
    made = build_files(
        result,
        step=step,
        png=png,
        progress=progress,
        inputs=inputs or {},
        keeper=keeper,
        step_patterns=step_patterns,
    )
    progress(f"writing {out_dir.name}")
    write_files(out_dir, made.files)
    return Written(out_dir, tuple(sorted(made.files)), made.result, made.report, made.no_pictures)


def write_files(out_dir: Path, files: Mapping[str, bytes]) -> None:
    """Put a build's files in place as a whole; one whose bytes are the same stays, its times included.

    Args:
        out_dir: the build's folder.
        files: content by name, relative to the folder, the manifest included.

    Raises:
        InputError: when the folder can't be written.
    """
    with replaced_folder(out_dir, _generated) as folder:
        for name, data in files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if not stays(out_dir / name, path, data):
                write_bytes_atomically(path, data)


def build_files(
    result: CheckResult,
    *,
    step: bool,
    png: bool,
    progress: Progress,
    inputs: Mapping[str, str | bytes],
    keeper: Keeper = NOTHING,
    step_patterns: bool = False,
) -> Made:
    """Return every file of a build's folder by name, and what making them found.

    Args:
        result: what the checks found.
        step: whether to make STEP files.
        png: whether to make pictures.
        progress: told what is being made.
        inputs: name and content of every file that the build was read from.
        keeper: gives solids that were made before.
        step_patterns: whether STEP files get surface work and repeated patterns too.

    Raises:
        InputError: when the exact kernel is missing.
    """
    progress("writing meshes")
    checked, meshes = with_written_meshes(result)
    files = {f"pieces/{name}.stl": data for name, data in meshes.items()}
    files.update(_threemf_files(checked))
    exact = _exact(checked, progress, keeper, step_patterns) if step else None
    if exact is not None:
        checked = replace(checked, findings=worst_first([*checked.findings, *exact.findings]))
        files.update(exact.files)
    pictures, no_pictures = _pictures(checked, progress) if png else ({}, None)
    files.update(pictures)
    of_pieces = {n: [f for f in sorted(files) if f.rpartition(".")[0] == f"pieces/{n}"] for n in meshes}
    report = report_json(checked, of_pieces, exact, "assembly.step" in files)
    files[REPORT_FILE] = report_text(report).encode()
    files["fit-report.md"] = report_markdown(report).encode()
    if checked.solids is not None and checked.plan.routes:
        files.update(_wire_files(checked, report))
    chord = checked.solids.chord if checked.solids else None
    libraries = [
        *manifest.MESH_LIBRARIES,
        *(manifest.EXACT_LIBRARIES if step else ()),
        *(manifest.PICTURE_LIBRARIES if pictures else ()),
    ]
    text = manifest.manifest_text(checked.plan, chord, inputs, files, libraries)
    files[manifest.FILE_NAME] = text.encode()
    return Made(files, checked, report, no_pictures)


def _wire_files(result: CheckResult, report: Report) -> dict[str, bytes]:
    """Return what a maker needs to make the harness and to test it."""
    plan = result.plan
    return {
        "wires/cut-list.csv": cut_list_csv(cut_list(plan)).encode(),
        "wires/cut-list.md": cut_list_markdown(report).encode(),
        "wires/harness.svg": harness_svg(plan).encode(),
        "wires/tests.md": measurements_markdown(plan).encode(),
    }


def _threemf_files(result: CheckResult) -> dict[str, bytes]:
    from chassis_gen.output.threemf import threemf_bytes

    if result.solids is None or not result.solids.pieces:
        return {}
    plan = result.plan
    pieces = [(name, body, plan.material.name) for name, body in result.solids.pieces.items()]
    files = {f"pieces/{p[0]}.3mf": threemf_bytes([p], f"{plan.title}: {p[0]}") for p in pieces}
    return {**files, f"{plan.build}.3mf": threemf_bytes(pieces, plan.title)}


def _exact(result: CheckResult, progress: Progress, keeper: Keeper, patterns: bool) -> ExactSolids:
    from chassis_gen.output.exact import exact_solids

    return exact_solids(result, progress, keeper, patterns)


def _pictures(result: CheckResult, progress: Progress) -> tuple[dict[str, bytes], str | None]:
    """Return the pictures, or none of them and why."""
    from chassis_gen.output.pictures import OutputUnavailable, assembly_pictures

    if result.solids is None:
        return {}, "no solids could be made, so there is nothing to draw"
    progress("drawing pictures")
    try:
        made = assembly_pictures(result)
    except OutputUnavailable as error:
        return {}, str(error)
    return {f"pictures/{name}.png": data for name, data in made.items()}, None


def _generated(folder: Path) -> Collection[str] | None:
    """Return what the manifest in a folder says was generated there, or None where there is no manifest."""
    path = folder / manifest.FILE_NAME
    if not path.is_file():
        return None
    try:
        listed = json.loads(path.read_text("utf-8"))["files"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return {*listed, manifest.FILE_NAME} if isinstance(listed, dict) else None
