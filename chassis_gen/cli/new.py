"""``chassis-gen new``: a parameter file to start from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from chassis_gen.cli.session import PASS, Session, json_option
from chassis_gen.problems import quoted

if TYPE_CHECKING:
    from chassis_gen.params.taking_over import Brought
    from chassis_gen.params.workspace import Workspace

DROPPED = "adjustment"
"""The tables that belong to one printed chassis only and are not taken over."""


@click.command("new")
@click.argument("name")
@click.option("--like", metavar="BUILD", help="Start from another build instead of the template.")
@json_option
@click.pass_obj
def command(session: Session, name: str, like: str | None) -> int:
    """Write a commented parameter file to start from.

    It is profiles/NAME/build.toml and builds as it is. With --like, another build's file is taken over
    with its comments and layout, but without its test-fit adjustments. The shared files and the files beside it
    that it names come along from its workspace; nothing that is there is written over.
    """
    from chassis_gen.params.reading import read_source
    from chassis_gen.params.taking_over import Brought, bring_along
    from chassis_gen.params.writing import write_text_atomically
    from chassis_gen.problems import InputError, Problem

    workspace = session.workspace
    path = workspace.build_dir(name) / "build.toml"
    shown = f"profiles/{name}/build.toml"
    if path.exists() or path.is_symlink():
        raise InputError([Problem("already-there", "the build is there already; it is left as it is", shown)])
    text = _titled(_template(), name) if like is None else _taken_over(workspace, like, name)
    path.parent.mkdir(parents=True, exist_ok=True)
    brought = Brought()
    if like is not None:
        origin = workspace.build_file(like)
        brought = bring_along(read_source(origin, workspace.root), origin, workspace, path.parent)
    write_text_atomically(path, text)
    document = {
        "status": "written",
        "build": name,
        "file": shown,
        "like": like,
        "brought": list(brought.written),
        "kept": list(brought.kept),
        "missing": list(brought.missing),
    }
    session.show(document, lambda: _text(shown, name, brought))
    return PASS


def _text(shown: str, name: str, brought: Brought) -> str:
    """Return what was written, what came along, and what is still to be done."""
    lines = [f"{shown} is written."]
    if brought.written:
        lines.append(f"Brought along: {', '.join(brought.written)}.")
    if brought.kept:
        lines.append(
            f"Left as they are, though those of the other build differ: {', '.join(brought.kept)}. Compare them."
        )
    if brought.missing:
        lines.append(
            f"The build names what isn't here: write {', '.join(brought.missing)}, or name another one."
        )
    lines.append(f"Next: change it to fit, then chassis-gen check {quoted(name)}")
    return "\n".join(lines)


def _template() -> str:
    from importlib.resources import files

    return files("chassis_gen.cli").joinpath("data", "template.toml").read_text(encoding="utf-8")


def _titled(text: str, title: str, without: str | None = None) -> str:
    """Return a parameter file's text with another title, and without one kind of table."""
    import tomlkit

    document = tomlkit.parse(text)
    document["build"]["title"] = title
    if without is not None and without in document:
        document.remove(without)
    return tomlkit.dumps(document)


def _taken_over(workspace: Workspace, like: str, title: str) -> str:
    """Return another build's file, which must be sound in itself, for a new build."""
    from chassis_gen.params.reading import parse_model, read_source
    from chassis_gen.pipeline import model_of_builds

    source = read_source(workspace.build_file(like), workspace.root)
    parse_model(source, model_of_builds())
    return _titled(source.text, title, DROPPED)
