"""The stages in order: files, plan, solids, checks. Each stage imports only what it needs, when needed."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from msgspec import Struct, field
from msgspec.structs import replace
from pydantic import BaseModel

from chassis_gen.cache.store import NOTHING, Keeper
from chassis_gen.extend import Extension, extended
from chassis_gen.findings import Finding, Remedy
from chassis_gen.lettering.brought import Brought, brought_along
from chassis_gen.params.build import TubeFile, build_model
from chassis_gen.params.printer import PrinterFile
from chassis_gen.params.reading import Source, parse_model, read_source
from chassis_gen.params.workspace import Workspace
from chassis_gen.parts.model import Part
from chassis_gen.parts.own import own_part
from chassis_gen.parts.partfile import PartFile
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.laying import MOST_ATTEMPTS
from chassis_gen.plan.planner import first_problems, plan_build
from chassis_gen.problems import InputError, Problem, in_order
from chassis_gen.remedies import looks, with_tried_remedies, with_value
from chassis_gen.sections.base import SectionKind
from chassis_gen.sections.registry import kinds_named, section_kinds
from chassis_gen.trial.log import log_path, read_log
from chassis_gen.trial.sizes import SIZES_FILE, read_sizes, with_sizes

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult, Solids, Tried
    from chassis_gen.shapes.errors import GeometryError
    from chassis_gen.shapes.recipe import Step

SharedModel = TypeVar("SharedModel", bound=BaseModel)
Progress = Callable[[str], None]
DEFAULT_CHORD = 0.01
"""Chord tolerance of meshes, mm."""
OVERRIDES = "overrides"
"""Name among a build's inputs of the values that were set in its file's data."""


def _silent(_: str) -> None:
    """Say nothing."""


class Loaded(Struct, frozen=True):
    """A build read from disk.

    Args:
        inputs: its files as models.
        workspace: where they came from.
        files: every file that was read, for the manifest: shown name to text.
        looked_for: shown names of files that count when they are there.
        kinds: section kinds by name, those of the build's own code included.
        binaries: content of every file that was read and is no text, by shown name.
    """

    inputs: BuildInputs
    workspace: Workspace
    files: dict[str, str]
    looked_for: tuple[str, ...] = ()
    kinds: Mapping[str, SectionKind] = field(default_factory=section_kinds)
    binaries: Mapping[str, bytes] = field(default_factory=dict)

    @property
    def contents(self) -> dict[str, bytes]:
        """Return the content of every file that was read, by shown name."""
        return {**{name: text.encode() for name, text in self.files.items()}, **self.binaries}


def model_of_builds(kinds: Mapping[str, SectionKind] | None = None) -> Any:
    """Return the pydantic model of a build file for the section kinds there are.

    Args:
        kinds: section kinds by name; None for the program's own.
    """
    return build_model([k.Params for k in (section_kinds() if kinds is None else kinds).values()])


def load_build(
    workspace: Workspace, name_or_path: str, overrides: Mapping[str, object] | None = None, name: str = ""
) -> Loaded:
    """Return a build's files, read and checked one by one.

    Args:
        workspace: holds `profiles/` and `out/`.
        name_or_path: a folder name under `profiles/` or a path to a parameter file.
        overrides: values to set in the build file's data, by dotted key.
        name: the build's name where it isn't that of its file.

    Raises:
        InputError: with every problem of the files.
    """
    path = workspace.build_file(name_or_path)
    source = read_source(path, workspace.root)
    if overrides:
        from chassis_gen.overrides import overridden

        source = overridden(source, overrides)
    own = extended(source, path, workspace.root, workspace.trusted, _kinds_of(source))
    loaded = _loaded(workspace, name or workspace.build_name(path), source, log_path(path), own)
    if overrides:
        loaded.files[OVERRIDES] = json.dumps(overrides, sort_keys=True, default=str)
    return loaded


def _kinds_of(source: Source) -> Mapping[str, SectionKind]:
    """Return the section kinds that a build file may use: its own ones, or all where it brings code along."""
    rows = source.data.get("section")
    if "extend" in source.data or not isinstance(rows, list):
        return section_kinds()
    kinds = [row.get("kind") if isinstance(row, dict) else None for row in rows]
    return kinds_named([k if isinstance(k, str) else None for k in kinds])


def _loaded(workspace: Workspace, name: str, source: Source, log_file: Path, own: Extension) -> Loaded:
    try:
        build = parse_model(source, model_of_builds(own.kinds))
    except InputError as error:
        raise _with_unknown_names(error.problems, workspace, source) from None
    files = {source.file: source.text, **own.files}
    problems: list[Problem] = []
    printer: PrinterFile | None = None
    tube_file: TubeFile | None = None
    parts: dict[str, Part] = {}

    def read(path: Path, model: type[SharedModel]) -> SharedModel:
        shared = read_source(path, workspace.root)
        files[shared.file] = shared.text
        return parse_model(shared, model)

    try:
        if build.build.printer is not None:
            path = _shared(workspace, source, "printers", build.build.printer, ("build", "printer"))
            printer = read(path, PrinterFile)
    except InputError as error:
        problems += error.problems
    try:
        if build.tube.like is not None:
            tube_file = read(_shared(workspace, source, "tubes", build.tube.like, ("tube", "like")), TubeFile)
    except InputError as error:
        problems += error.problems
    binaries: dict[str, bytes] = {}
    for part_name in workspace.names("parts"):
        try:
            path = workspace.shared_file("parts", part_name)
            shared = read_source(path, workspace.root)
            files[shared.file] = shared.text
            model = parse_model(shared, PartFile)
            own_one = own_part(model, part_name, shared, path, workspace.root)
            parts[part_name] = own_one.part
            binaries |= own_one.files
        except InputError as error:
            problems += error.problems
    brought = Brought()
    try:
        brought = brought_along(source, build, log_file.parent, workspace.root)
        files |= brought.files
    except InputError as error:
        problems += error.problems
    if problems:
        read_so_far = BuildInputs(name, build, source, printer, tube_file, parts)
        raise _with_first_problems(problems, workspace, read_so_far, own.kinds)
    log = read_log(log_file, workspace.root)
    sizes = read_sizes(workspace.root / "profiles" / SIZES_FILE, workspace.root)
    files |= {kept.file: kept.text for kept in (log, sizes) if kept.text}
    parts, doubts = with_sizes(parts, sizes)
    notices = (*log.findings, *sizes.findings, *doubts)
    inputs = BuildInputs(
        name,
        build,
        source,
        printer,
        tube_file,
        parts,
        log.terms(),
        notices,
        texts=brought.texts,
        figures=brought.figures,
        bases=log.bases(),
    )
    return Loaded(
        inputs, workspace, files, (log.file, sizes.file), own.kinds, {**binaries, **brought.binaries}
    )


def _with_unknown_names(problems: Sequence[Problem], workspace: Workspace, source: Source) -> InputError:
    """Return an error with problems of a build file and the unknown names in it, each once, by their places."""
    from chassis_gen.naming import unknown_names

    return InputError(in_order([*problems, *unknown_names(source, workspace)]))


def _with_first_problems(
    problems: Sequence[Problem], workspace: Workspace, inputs: BuildInputs, kinds: Mapping[str, SectionKind]
) -> InputError:
    """Return an error with problems of the files that a build refers to, and what is wrong with the build itself."""
    if inputs.build.tube.like is not None and inputs.tube_file is None:
        return _with_unknown_names(problems, workspace, inputs.source)
    # a part file that can't be read is told of; that its part isn't known would be wrong
    unread = {f'"{n}"' for n in workspace.names("parts") if n not in inputs.parts}
    first = [p for p in first_problems(inputs, kinds) if p.value not in unread]
    return InputError(in_order([*problems, *first]))


def _shared(workspace: Workspace, source: Source, kind: Any, name: str, key: tuple[str, ...]) -> Path:
    """Return a shared file's path; its problems are placed at the key that names it."""
    from chassis_gen.params.codes import Rejection

    try:
        return workspace.shared_file(kind, name)
    except InputError as error:
        raise InputError(
            [source.problem(key, Rejection(p.code, p.message, p.allowed, p.nearest)) for p in error.problems]
        ) from None


def on_printer(loaded: Loaded, file: PrinterFile, name: str) -> Loaded:
    """Return a build as it would be planned for another printer.

    Args:
        loaded: the build.
        file: the printer file.
        name: the printer's name.
    """
    table = loaded.inputs.build.build.model_copy(update={"printer": name})
    build = loaded.inputs.build.model_copy(update={"build": table})
    return replace(loaded, inputs=replace(loaded.inputs, build=build, printer=file))


def plan_of(loaded: Loaded) -> ChassisPlan:
    """Return a build's plan with its findings' remedies tried.

    Raises:
        InputError: when the files contradict each other.
    """
    plan = plan_build(loaded.inputs, loaded.kinds)
    trials = looks(lambda r, attempts: _found_with(r, loaded, attempts), MOST_ATTEMPTS)
    return replace(plan, findings=with_tried_remedies(plan.findings, trials))


def _found_with(remedy: Remedy, loaded: Loaded, attempts: int) -> tuple[Finding, ...] | None:
    """Return what planning finds in a build with a remedy's value set, or None when it can't be planned."""
    plan = _planned_with(remedy, loaded, attempts)
    return plan.findings if plan is not None else None


def electric_remedies(loaded: Loaded, plan: ChassisPlan) -> Tried:
    """Return what gives the electrics' findings of a plan their remedies: each is planned and its states solved.

    Args:
        loaded: the build.
        plan: of the build.
    """
    trials = looks(lambda r, attempts: _judged_with(r, loaded, attempts), MOST_ATTEMPTS)
    return lambda found: with_tried_remedies(found, trials, plan.findings)


def _judged_with(remedy: Remedy, loaded: Loaded, attempts: int) -> tuple[Finding, ...] | None:
    """Return what planning and the electrics find in a build with a remedy's value set, or None."""
    from chassis_gen.electrics.evaluate import electrics_of

    plan = _planned_with(remedy, loaded, attempts)
    return (*plan.findings, *electrics_of(plan)[1]) if plan is not None and plan.buildable else None


def _planned_with(remedy: Remedy, loaded: Loaded, attempts: int) -> ChassisPlan | None:
    """Return the plan of a build with a remedy's value set, or None when it can't be planned."""
    data = with_value(loaded.inputs.source.data, remedy.key or "", remedy.value)
    source = replace(loaded.inputs.source, data=data)
    try:
        build = parse_model(source, model_of_builds(loaded.kinds))
        return plan_build(replace(loaded.inputs, build=build, source=source), loaded.kinds, attempts)
    except InputError:
        return None


def solids_of(
    plan: ChassisPlan,
    chord: float = DEFAULT_CHORD,
    progress: Progress = _silent,
    keeper: Keeper = NOTHING,
) -> Solids:
    """Return the mesh solids of a plan: sections, pieces, part envelopes and the tube's wall.

    Args:
        plan: a buildable plan.
        chord: chord tolerance, mm.
        progress: told what is being made.
        keeper: gives section solids that were made before.
    """
    from chassis_gen.cache.solids import mesh_of
    from chassis_gen.checks.result import Solids
    from chassis_gen.shapes import mesh
    from chassis_gen.shapes.body import Body

    sections: dict[str, Body] = {}
    pieces: dict[str, Body] = {}
    for piece in plan.pieces:
        bodies = []
        for recipe in piece.recipes:
            progress(f"making {recipe.name}")
            bodies.append(mesh_of(recipe, chord, keeper))
        if piece.owner is None:
            sections.update(zip(piece.sections, bodies, strict=True))
        pieces[piece.name] = bodies[0].union(*bodies[1:]) if len(bodies) > 1 else bodies[0]
    parts = {}
    for placed in plan.parts:
        exact = placed.part.exact
        if exact is not None:
            parts[placed.id] = mesh.from_bytes(exact.vertices, exact.faces, chord).transformed(placed.frame)
            continue
        solids = [mesh.solid(p, chord).transformed(placed.frame) for p in placed.part.envelope]
        parts[placed.id] = solids[0].union(*solids[1:]) if len(solids) > 1 else solids[0]
    return Solids(pieces, sections, parts, _tube_wall(plan, chord), chord)


def _tube_wall(plan: ChassisPlan, chord: float) -> Any:
    from chassis_gen.plan.model import OVERLAP
    from chassis_gen.shapes import mesh
    from chassis_gen.shapes.primitives import Cylinder
    from chassis_gen.shapes.recipe import Recipe, add, cut

    tube = plan.tube
    steps: list[Step] = []
    for o in tube.profile:
        steps += add("tube", Cylinder(o.diameter / 2, o.z0 - (OVERLAP if o.z0 else 0.0), o.z1))
    for b in tube.bores:
        steps += cut("bore", Cylinder(b.diameter / 2, b.z0 - OVERLAP, b.z1 + OVERLAP), must_touch=False)
    return mesh.make(Recipe("tube", tuple(steps)), chord)


def check_build(
    loaded: Loaded,
    chord: float = DEFAULT_CHORD,
    progress: Progress = _silent,
    keeper: Keeper = NOTHING,
) -> CheckResult:
    """Return everything that planning, measuring and checking found; nothing is written.

    Args:
        loaded: the build.
        chord: chord tolerance, mm.
        progress: told what is being done.
        keeper: gives section solids that were made before.

    Raises:
        InputError: when the files contradict each other.
    """
    from chassis_gen.checks import run_checks
    from chassis_gen.shapes.errors import GeometryError

    progress("planning")
    plan = plan_of(loaded)
    solids = None
    if plan.buildable:
        try:
            solids = solids_of(plan, chord, progress, keeper)
        except GeometryError as error:
            plan = replace(plan, findings=(*plan.findings, _no_solid(error)))
    progress("checking")
    return run_checks(plan, solids, electric_remedies(loaded, plan))


def _no_solid(error: GeometryError) -> Finding:
    """Return the finding for a recipe of which no solid could be made."""
    message = f"no solid can be made of this plan: {error.label}: {error.why}"
    return Finding("error", "no-solid", error.label, message, blocks_solids=True)
