"""``chassis-gen parts``: the generic catalogue, the workspace's own parts, and how one is measured or imported."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from chassis_gen.cli.groups import SHOW, ShowGroup
from chassis_gen.cli.session import PASS, Session, json_option
from chassis_gen.cli.text import paragraph, table, terminal_width

if TYPE_CHECKING:
    from chassis_gen.parts.model import Part


@click.group("parts", cls=ShowGroup)
@json_option
def command() -> None:
    """List the bought parts that are known, show one, or take a new one in.

    NAME is a part of the generic catalogue, or a file in profiles/parts without .toml.
    """


@command.command(SHOW, hidden=True)
@click.argument("name", required=False)
@json_option
@click.pass_obj
def show(session: Session, name: str | None) -> int:
    """List the bought parts that are known, or show one."""
    from chassis_gen.parts.catalogue import catalogue, find_part, part_json

    known = {**catalogue(), **own_parts(session)}
    if name is None:
        session.show({"parts": [part_json(p) for p in known.values()]}, lambda: _list(known))
    else:
        part = find_part(name, known)
        session.show(part_json(part), lambda: _one(part))
    return PASS


@command.command("measure")
@click.argument("name")
@click.option("--kind", help="Part kind; left out: that of --like, or of the file that is there.")
@click.option("--like", metavar="PART", help="A known part that has the sizes which are not measured.")
@click.option(
    "--size", "sizes", multiple=True, metavar="SIZE=READINGS", help="Such as rim_diameter=32.1,32.0,32.2."
)
@click.option("--mass-g", type=float, help="Mass, g.")
@click.option("--title", help="One line for people.")
@click.option("--source", help="Who measured it, with what.")
@click.option("--accuracy", type=float, default=None, help="Plus-minus of the caliper, mm (default 0.03).")
@json_option
@click.pass_obj
def measure(
    session: Session,
    name: str,
    kind: str | None,
    like: str | None,
    sizes: tuple[str, ...],
    mass_g: float | None,
    title: str | None,
    source: str | None,
    accuracy: float | None,
) -> int:
    """Write a part file from caliper readings, several per size.

    The mean becomes the size, and the tolerance covers every reading and the caliper. On a terminal, sizes
    that aren't given are asked for. A file that is there keeps its comments and all else.
    """
    from chassis_gen.cli.measuring import Measuring

    return Measuring(session, name).part(kind, like, sizes, mass_g, title, source, accuracy)


@command.command("from")
@click.argument("name")
@click.argument("model", type=click.Path(path_type=Path))
@click.option("--units", type=click.Choice(["mm", "cm", "m", "in"]), help="Unit that the model was drawn in.")
@click.option(
    "--up", metavar="AXIS", help="Axis of the model that points up from where the part rests, such as +z."
)
@click.option("--along", metavar="AXIS", help="Axis of the model that goes along the tube, such as +x.")
@click.option("--all-shells", is_flag=True, help="Take separate bodies together as one part.")
@click.option("--tolerance", type=float, default=0.1, help="Plus-minus of the real part's sizes, mm.")
@click.option("--mass-g", type=float, help="Mass, g (left out: estimated from the volume).")
@click.option("--title", help="One line for people.")
@click.option(
    "--terminal",
    "terminals",
    multiple=True,
    metavar="NAME=X,Y,Z",
    help="Where a wire is joined, in the part's frame.",
)
@json_option
@click.pass_obj
def take_in(
    session: Session,
    name: str,
    model: Path,
    units: str | None,
    up: str | None,
    along: str | None,
    all_shells: bool,
    tolerance: float,
    mass_g: float | None,
    title: str | None,
    terminals: tuple[str, ...],
) -> int:
    """Write a part file from a model: STEP, STL, 3MF or GLB.

    The model becomes a few convex pieces that are never smaller than it. Its unit is taken from the file
    where the format has one; else it has to be given with --units, or is asked for at a terminal. Without --up
    the part rests on its largest plane face, or as drawn where it is round all over; what was taken is said.
    """
    from chassis_gen.cli.measuring import Importing

    asked = Importing(session, name, model, units, up, along, all_shells, tolerance, mass_g, title, terminals)
    return asked.run()


def own_parts(session: Session) -> dict[str, Part]:
    """Return the parts of the workspace's own files."""
    from chassis_gen.params.reading import parse_model, read_source
    from chassis_gen.parts.own import own_part
    from chassis_gen.parts.partfile import PartFile

    workspace = session.workspace
    found = {}
    for name in workspace.names("parts"):
        path = workspace.shared_file("parts", name)
        source = read_source(path, workspace.root)
        found[name] = own_part(parse_model(source, PartFile), name, source, path, workspace.root).part
    return found


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
