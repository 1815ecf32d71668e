"""``chassis-gen parts``: the generic catalogue and the workspace's own parts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import click

from chassis_gen.cli.session import PASS, Session, json_option
from chassis_gen.cli.text import paragraph, table, terminal_width

if TYPE_CHECKING:
    from chassis_gen.parts.model import Part


@click.command("parts")
@click.argument("name", required=False)
@json_option
@click.pass_obj
def command(session: Session, name: str | None) -> int:
    """List the bought parts that are known, or show one.

    NAME is a part of the generic catalogue, or a file in profiles/parts without .toml.
    """
    from chassis_gen.parts.catalogue import catalogue, find_part, part_json

    known = {**catalogue(), **own_parts(session)}
    if name is None:
        session.show({"parts": [part_json(p) for p in known.values()]}, lambda: _list(known))
    else:
        part = find_part(name, known)
        session.show(part_json(part), lambda: _one(part))
    return PASS


def own_parts(session: Session) -> dict[str, Part]:
    """Return the parts of the workspace's own files."""
    from chassis_gen.params.reading import read_model
    from chassis_gen.parts.partfile import PartFile

    workspace = session.workspace
    return {
        name: read_model(workspace.shared_file("parts", name), PartFile, workspace.root).part(name)
        for name in workspace.names("parts")
    }


def _list(parts: Mapping[str, Part]) -> str:
    rows = [(p.name, p.kind, f"{p.mass_g:g}", p.title) for p in parts.values()]
    return table(("part", "kind", "mass g", "what it is"), rows, terminal_width(), right=(2,))


def _one(part: Part) -> str:
    from chassis_gen.parts.catalogue import part_rows
    from chassis_gen.parts.kinds import find_kind
    from chassis_gen.tables.cautions import cautions

    width = terminal_width()
    rows = [
        (size, value if unit == "count" else f"{value} {unit}", plus_minus, meaning)
        for size, value, plus_minus, unit, meaning, _ in part_rows(part)
    ]
    lines = [
        f"{part.name}: {part.title} ({part.kind}, {part.mass_g:g} g)",
        paragraph(f"Source: {part.source}", width),
        paragraph(f"Its own frame: {find_kind(part.kind).frame}", width),
        "",
        table(("size", "value", "+-", "meaning"), rows, width, right=(1, 2)),
    ]
    if part.terminals:
        wires = [
            (
                t.name,
                ", ".join(f"{v:g}" for v in t.position),
                f"{t.largest_wire_diameter:g}",
                _must(t.must_connect),
            )
            for t in part.terminals
        ]
        lines += ["", table(("terminal", "x, y, z", "largest wire", "connect"), wires, width, right=(2,))]
    if part.keepouts:
        lines += ["", table(("keep free", "why"), [(k.name, k.reason) for k in part.keepouts], width)]
    for c in cautions(part.cautions):
        lines += ["", paragraph(f"{c.title}: {c.text}", width)]
    return "\n".join(lines)


def _must(must: bool) -> str:
    return "always" if must else "as needed"
