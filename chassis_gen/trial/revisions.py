"""Revisions of a build: the files that it was made of, kept whole, one small file per revision.

A revision is the content of the build file, of the shared files that it names, of the sizes measured of its
parts, and of the trial log's terms up to then. Comments and prints make no new revision. Revision N lies in
``revisions/N.toml`` beside the build file: the files' lines as they were, and every drawn dimension. Fonts and
meshes lie in ``revisions/files/`` under their hash, each content once; the revision names them.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import re
import tempfile
import tomllib
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Annotated, Any

from msgspec import Struct, field
from pydantic import Field

from chassis_gen.findings import Finding
from chassis_gen.params.reading import FileModel, read_model, shown_name
from chassis_gen.params.workspace import Workspace
from chassis_gen.params.writing import write_bytes_atomically, write_text_atomically
from chassis_gen.pipeline import Loaded, load_build
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.problems import InputError, Problem
from chassis_gen.trial.kept import FOLDER, Kept, content, keep, kept_as, missing
from chassis_gen.trial.log import Number, log_path
from chassis_gen.trial.rows import value_toml
from chassis_gen.trial.sizes import SIZES_FILE

_NAME = re.compile(r"[1-9][0-9]{0,5}")
_SHARED = ("profiles/parts/", f"profiles/{SIZES_FILE}")


class KeptFile(FileModel):
    """[[file]]: one parameter file as it was."""

    name: Annotated[str, Field(pattern=r"^profiles/", max_length=300)]
    lines: tuple[str, ...]


class KeptBinary(FileModel):
    """[[binary]]: one file that is no text, by its hash."""

    name: Annotated[str, Field(pattern=r"^profiles/", max_length=300)]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    size: Annotated[int, Field(ge=0)]


class RevisionFile(FileModel):
    """One revision."""

    number: Number
    date: datetime.date
    identity: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    drawn: dict[str, float] = Field(default_factory=dict)
    file: tuple[KeptFile, ...] = Field(min_length=1)
    binary: tuple[KeptBinary, ...] = ()


class Revision(Struct, frozen=True):
    """A build as it was.

    Args:
        number: counted from 1.
        date: when it was first seen.
        identity: hash of what decides the plan.
        files: text of the parameter files by name, relative to a workspace.
        drawn: drawn dimensions by name, mm.
        binaries: fonts and meshes by name, likewise.
    """

    number: int
    date: datetime.date
    identity: str
    files: Mapping[str, str]
    drawn: Mapping[str, float]
    binaries: Mapping[str, Kept] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of all its files."""
        return (*self.files, *self.binaries)


class Past(Struct, frozen=True):
    """The revisions of a build.

    Args:
        folder: where they lie.
        revisions: in order; damaged ones are left out.
        findings: a warning for each damaged one, and for each file that isn't kept.
        next_number: of the next revision.
    """

    folder: Path
    revisions: tuple[Revision, ...]
    findings: tuple[Finding, ...]
    next_number: int

    @property
    def last(self) -> Revision | None:
        """Return the newest revision, or None."""
        return self.revisions[-1] if self.revisions else None

    def numbered(self, number: int) -> Revision:
        """Return the revision of a number.

        Raises:
            InputError: when there is none, or it is damaged.
        """
        for r in self.revisions:
            if r.number == number:
                return r
        known = ", ".join(str(r.number) for r in self.revisions) or "none yet: note or log a print first"
        raise InputError(
            [Problem("unknown-name", "there is no such revision", value=str(number), allowed=known)]
        )


def past_folder(build_file: Path) -> Path:
    """Return where the revisions of a build lie.

    Args:
        build_file: its parameter file.
    """
    stem = "" if build_file.name == "build.toml" else f"{build_file.stem}."
    return build_file.with_name(f"{stem}revisions")


def past_of(build_file: Path, root: Path) -> Past:
    """Return the revisions of a build.

    Args:
        build_file: its parameter file.
        root: the workspace.
    """
    folder = past_folder(build_file)
    revisions, findings, highest = [], [], 0
    numbers = sorted(int(p.stem) for p in folder.glob("*.toml") if _NAME.fullmatch(p.stem))
    for number in numbers:
        highest = number
        try:
            revision = _read(folder / f"{number}.toml", number, root)
            revisions.append(revision)
            findings += [
                Finding(
                    "warning", "trial-revision", str(number), f"revision {number} can't be made again: {why}"
                )
                for why in missing(revision.binaries)
            ]
        except InputError as error:
            message = f"revision {number} can't be read: {error.problems[0].text()}"
            findings.append(Finding("warning", "trial-revision", str(number), message))
    return Past(folder, tuple(revisions), tuple(findings), highest + 1)


def recorded(loaded: Loaded, plan: ChassisPlan, build_file: Path, today: datetime.date) -> Revision:
    """Return the build's revision as it is now, written down if it isn't the newest one already.

    The caller holds the trial log's lock.

    Args:
        loaded: the build.
        plan: its plan.
        build_file: its parameter file.
        today: date of a new revision.

    Raises:
        InputError: when it can't be written.
    """
    past = past_of(build_file, loaded.workspace.root)
    now = as_revision(loaded, plan, build_file, past.next_number, today)
    if past.last is not None and past.last.identity == now.identity:
        return past.last
    past.folder.mkdir(exist_ok=True)
    readable = len(past.revisions) == sum(1 for p in past.folder.glob("*.toml") if _NAME.fullmatch(p.stem))
    used = {k.sha256 for r in past.revisions for k in r.binaries.values()} if readable else None
    keep(tuple(loaded.binaries.values()), past.folder, used)
    write_text_atomically(past.folder / f"{now.number}.toml", _text(now, loaded.inputs.name))
    return now


def as_revision(
    loaded: Loaded, plan: ChassisPlan, build_file: Path, number: int, today: datetime.date
) -> Revision:
    """Return a build as the revision of a number, not written.

    Args:
        loaded: the build.
        plan: its plan.
        build_file: its parameter file.
        number: of the revision.
        today: its date.
    """
    name = loaded.inputs.name
    own = {
        loaded.inputs.source.file: f"profiles/{name}/build.toml",
        shown_name(log_path(build_file), loaded.workspace.root): f"profiles/{name}/trial-log.toml",
    }
    folder = Path(shown_name(build_file.parent, loaded.workspace.root))
    own |= {
        shown: f"profiles/{name}/{Path(shown).name}"
        for shown in (*loaded.files, *loaded.binaries)
        if Path(shown).parent == folder and not shown.endswith(".toml")
    }
    files = {own.get(shown, shown): text for shown, text in loaded.files.items()}
    store = past_folder(build_file)
    binaries = {own.get(shown, shown): kept_as(data, store) for shown, data in loaded.binaries.items()}
    drawn = {n: d.total for n, d in plan.dimensions.items()}
    return Revision(number, today, _identity(loaded, plan, files, binaries), files, drawn, binaries)


def loaded_at(revision: Revision, build: str, trusted: bool = False) -> Loaded:
    """Return a build as it was at a revision.

    Args:
        revision: see `Past.numbered`.
        build: the build's name.
        trusted: True when code that it brings along may run.

    Raises:
        InputError: when its files don't suit this version of the program.
    """
    with tempfile.TemporaryDirectory() as folder:
        restore(revision, Path(folder))
        return load_build(Workspace(Path(folder), trusted), build)


def restore(revision: Revision, folder: Path) -> tuple[str, ...]:
    """Write a revision's files into a workspace folder, and return their names.

    Args:
        revision: the revision.
        folder: an empty folder, or one whose files of the same names may be replaced.

    Raises:
        InputError: when a file isn't kept or can't be written, or its name leads out of the folder.
    """
    contents = {name: text.encode() for name, text in revision.files.items()}
    contents |= {name: content(name, kept) for name, kept in revision.binaries.items()}
    for name, data in contents.items():
        pure = PurePosixPath(name)
        if pure.is_absolute() or ".." in pure.parts:
            raise InputError(
                [Problem("leaves-workspace", "a revision's file leads elsewhere", value=f'"{name}"')]
            )
        path = folder.joinpath(*pure.parts)
        path.parent.mkdir(parents=True, exist_ok=True)
        write_bytes_atomically(path, data)
    return revision.names


def files_changed(before: Revision | None, after: Revision) -> tuple[str, ...]:
    """Return the names of files that differ between two revisions, trial log and sizes apart.

    Args:
        before: the older one, or None.
        after: the newer one.
    """
    if before is None:
        return ()
    names = dict.fromkeys((*before.names, *after.names))
    logs = ("trial-log.toml", SIZES_FILE)
    return tuple(n for n in names if not n.endswith(logs) and _data(before, n) != _data(after, n))


def _data(revision: Revision, name: str) -> object:
    """Return what TOML makes of a kept file, so that comments and layout don't count; None without one.

    A font or a mesh counts by its hash.
    """
    if name in revision.binaries:
        return revision.binaries[name].sha256
    return _content(name, revision.files[name]) if name in revision.files else None


def _content(name: str, text: str) -> object:
    """Return a parameter file's data; any other file (code that a build brings along) counts as it stands."""
    return tomllib.loads(text) if name.endswith(".toml") else text


def _identity(
    loaded: Loaded, plan: ChassisPlan, files: Mapping[str, str], binaries: Mapping[str, Kept]
) -> str:
    """Return the hash of everything that decides the plan: data, not layout, of what the build really uses."""
    data: dict[str, Any] = {
        name: _content(name, text)
        for name, text in files.items()
        if not name.startswith(_SHARED) and not name.endswith("trial-log.toml")
    }
    seated = {p.part.name: p.part for p in plan.parts}
    data["parts"] = {
        n: [[(k, m.value, m.tolerance) for k, m in p.sizes.items()], repr(p.terminals), p.mass_g]
        for n, p in seated.items()
    }
    data |= {name: kept.sha256 for name, kept in binaries.items() if not name.startswith(_SHARED)}
    data |= {
        f"mesh of {n}": hashlib.sha256(p.exact.vertices + p.exact.faces).hexdigest()
        for n, p in seated.items()
        if p.exact is not None
    }
    data["trial"] = {n: [(t.label, t.value) for t in terms] for n, terms in loaded.inputs.trial.items()}
    return hashlib.sha256(json.dumps(data, sort_keys=True, default=str).encode()).hexdigest()


def _read(path: Path, number: int, root: Path) -> Revision:
    model = read_model(path, RevisionFile, root)
    files = {f.name: "\n".join(f.lines) for f in model.file}
    binaries = {b.name: Kept(b.sha256, b.size, path.parent / FOLDER / b.sha256) for b in model.binary}
    return Revision(number, model.date, model.identity, files, model.drawn, binaries)


def _text(revision: Revision, build: str) -> str:
    where = f"revision {revision.number}"
    lines = [
        f"# Revision {revision.number} of {build}: its parameter files as they were. Written by the program.",
        f"number = {revision.number}",
        f"date = {revision.date.isoformat()}",
        f'identity = "{revision.identity}"',
        "",
        "[drawn]",
        *(f"{value_toml(n, where)} = {value_toml(v, where)}" for n, v in revision.drawn.items()),
    ]
    for name, text in sorted(revision.files.items()):
        quoted = [f"  {value_toml(line, where)}," for line in text.split("\n")]
        lines += ["", "[[file]]", f"name = {value_toml(name, where)}", "lines = [", *quoted, "]"]
    for name, kept in sorted(revision.binaries.items()):
        named = f"name = {value_toml(name, where)}"
        lines += ["", "[[binary]]", named, f'sha256 = "{kept.sha256}"', f"size = {kept.size}"]
    return "\n".join(lines) + "\n"
