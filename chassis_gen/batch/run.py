"""A batch from the builds asked for to what became of each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from msgspec import Struct
from msgspec.structs import replace

from chassis_gen.batch.records import Record, read_record, write_record
from chassis_gen.batch.task import Made, Outcome, Target, Task, Verdict
from chassis_gen.cache.store import Store
from chassis_gen.output.current import Before, read_before
from chassis_gen.output.manifest import FILE_NAME, sha256
from chassis_gen.problems import InputError, Problem

if TYPE_CHECKING:
    from chassis_gen.params.workspace import Workspace


class Progress(Protocol):
    """Is told how far a batch is."""

    def __call__(self, done: int, of: int, last: str) -> None:
        """Take note.

        Args:
            done: how many builds are made.
            of: how many there are to make.
            last: name of the one made last, or empty.
        """


class Way(Struct, frozen=True):
    """How a batch is run.

    Args:
        chord: chord tolerance of meshes, mm.
        jobs: number of worker processes; with 1 all is done in this one.
        pinned: True to keep each worker process on a core of its own.
        cluster: a cluster's scheduler, or None.
        cached: False to neither use nor fill the cache.
        dry: True to say what would change and write nothing.
        exact: True to make exact solids (STEP), too.
    """

    chord: float
    jobs: int = 1
    pinned: bool = False
    cluster: str | None = None
    cached: bool = True
    dry: bool = False
    exact: bool = True


def targets(workspace: Workspace, builds: Sequence[str]) -> tuple[Target | Outcome, ...]:
    """Return the builds as asked for; one that isn't there or comes twice is bad input already.

    Args:
        workspace: where they lie.
        builds: names or paths.
    """
    found: list[Target | Outcome] = []
    taken: set[str] = set()
    for build in builds:
        try:
            name = workspace.build_name(workspace.build_file(build))
            if name in taken:
                message = f"two builds would be written to out/{name}/"
                raise InputError(
                    [Problem("duplicate-name", message, value=f'"{build}"', allowed="each build once")]
                )
            workspace.out_dir(name)
            taken.add(name)
            found.append(Target(build, name))
        except InputError as error:
            found.append(Outcome(build, "bad-input", problems=error.problems))
    return tuple(found)


def run_batch(
    workspace: Workspace, asked: Sequence[Target | Outcome], way: Way, progress: Progress
) -> tuple[Outcome, ...]:
    """Return what became of each build, in order.

    Args:
        workspace: where they lie.
        asked: see `targets`.
        way: how to run.
        progress: told how far it is; not at all when there is nothing to make.

    Raises:
        InputError: when a cluster can't be reached; builds that were made before that are in place.
    """
    store = Store(workspace.cache_dir(), read_only=way.dry) if way.cached else None
    outcomes: dict[int, Outcome] = {}
    tasks: dict[int, Task] = {}
    for number, target in enumerate(asked):
        found = target if isinstance(target, Outcome) else _looked_at(workspace, target, way, store)
        if isinstance(found, Task):
            tasks[number] = found
        else:
            outcomes[number] = found
    numbers = sorted(tasks, key=lambda n: -_length(workspace, asked[n]))
    if tasks:
        progress(0, len(tasks), "")
    for done, (which, made) in enumerate(_results([tasks[n] for n in numbers], way), 1):
        number = numbers[which]
        target = asked[number]
        assert isinstance(target, Target)
        outcomes[number] = _put_in_place(workspace, target, tasks[number].before, made, way, store)
        progress(done, len(tasks), target.name)
    return tuple(outcomes[number] for number in range(len(asked)))


def _length(workspace: Workspace, target: Target | Outcome) -> int:
    """Return how long a build's parameter file is: the more it holds the longer it takes, as a rule.

    With the longest first, no worker is left alone with a long one while the others have nothing to do.
    """
    try:
        return workspace.build_file(target.build).stat().st_size
    except (InputError, OSError):
        return 0


def _looked_at(workspace: Workspace, target: Target, way: Way, store: Store | None) -> Outcome | Task:
    """Return the outcome of a build that is known to be up to date, or the task to look at it closely."""
    try:
        before = read_before(workspace.out_dir(target.name))
        record = read_record(store, workspace, target, way.chord) if store else None
        if record and before.whole and record.manifest == before.manifest_hash and before.made(way.exact):
            verdict: Verdict = "pass" if record.verdict == "pass" else "fail"
            return Outcome(target.name, verdict, before.verdict, unchanged=True, counts=record.counts)
        return _task(workspace, target, way, before)
    except InputError as error:
        return Outcome(target.name, "bad-input", problems=error.problems)


def _task(workspace: Workspace, target: Target, way: Way, before: Before) -> Task:
    """Return the task of a build: a worker of this machine reads the workspace, a cluster's is sent its files."""
    if way.cluster is None:
        root = str(workspace.root.absolute())
        contents: Mapping[str, bytes] | None = None
        cache = str(workspace.cache_dir().absolute()) if way.cached else None
    else:
        root, cache = "", None
        target, contents = _sendable(workspace, target)
    return Task(
        target,
        root,
        contents,
        before,
        way.chord,
        cache,
        not way.dry,
        trusted=workspace.trusted,
        exact=way.exact,
    )


def _sendable(workspace: Workspace, target: Target) -> tuple[Target, Mapping[str, bytes]]:
    """Return a build by its file's name in the workspace, and all files that it is made of."""
    from chassis_gen.pipeline import load_build

    loaded = load_build(workspace, target.build)
    outside = [name for name in loaded.contents if Path(name).is_absolute()]
    if outside:
        message = "a cluster is only sent files of the workspace"
        raise InputError([Problem("leaves-workspace", message, outside[0], allowed="a build in profiles/")])
    return replace(target, build=loaded.inputs.source.file), loaded.contents


def _results(tasks: Sequence[Task], way: Way) -> Iterator[tuple[int, Made]]:
    from chassis_gen.batch import spread

    if not tasks:
        return iter(())
    if way.cluster is not None:
        return spread.over_cluster(tasks, way.cluster)
    if way.jobs > 1 and len(tasks) > 1:
        return spread.over_processes(tasks, way.jobs, pinned=way.pinned)
    return spread.in_this_process(tasks)


def _put_in_place(
    workspace: Workspace, target: Target, before: Before, made: Made, way: Way, store: Store | None
) -> Outcome:
    """Write a build's folder and its record, and return what became of it."""
    from chassis_gen.output.folder import write_files

    name = target.name
    if made.problems:
        return Outcome(name, "bad-input", before.verdict, problems=made.problems)
    manifest = before.manifest_hash
    changed: tuple[str, ...] = ()
    if made.files:
        try:
            write_files(workspace.out_dir(name), made.files)
        except InputError as error:
            return Outcome(name, "bad-input", before.verdict, problems=error.problems)
        after = {n: sha256(data) for n, data in made.files.items() if n != FILE_NAME}
        changed = tuple(sorted(n for n in {*before.files, *after} if before.files.get(n) != after.get(n)))
        manifest = sha256(made.files[FILE_NAME])
    if store is not None and not way.dry:
        parts = workspace.names("parts")
        record = Record(made.inputs, made.absent, parts, manifest, made.verdict, made.counts)
        write_record(store, workspace, target, way.chord, record)
    return Outcome(name, made.verdict, before.verdict, made.current, changed, made.pieces, made.counts)
