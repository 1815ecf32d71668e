"""``chassis-gen new``: a parameter file to start from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from chassis_gen.cli.session import PASS, Session, json_option

if TYPE_CHECKING:
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
    with its comments and layout, its printer and its parts, but without its test-fit adjustments.
    """
    from chassis_gen.params.writing import write_text_atomically
    from chassis_gen.problems import InputError, Problem

    workspace = session.workspace
    path = workspace.build_dir(name) / "build.toml"
    shown = f"profiles/{name}/build.toml"
    if path.exists() or path.is_symlink():
        raise InputError([Problem("already-there", "the build is there already; it is left as it is", shown)])
    text = _titled(_template(), name) if like is None else _taken_over(workspace, like, name)
    path.parent.mkdir(parents=True, exist_ok=True)
    write_text_atomically(path, text)
    document = {"status": "written", "build": name, "file": shown, "like": like}
    session.show(
        document, lambda: f"{shown} is written. Next: change it to fit, then chassis-gen check {name}"
    )
    return PASS


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
