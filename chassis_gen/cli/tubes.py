"""``chassis-gen tubes``: stock tubes of the table and the workspace's own tube files."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.session import PASS, Session, json_option
from chassis_gen.cli.text import table, terminal_width

if TYPE_CHECKING:
    from chassis_gen.params.build import TubeFile
    from chassis_gen.tables.tubes import StockTube


@click.command("tubes")
@click.argument("name", required=False)
@json_option
@click.pass_obj
def command(session: Session, name: str | None) -> int:
    """List the tubes that are known, or show one.

    NAME is a stock tube, or a file in profiles/tubes without .toml.
    """
    from chassis_gen.tables.tubes import all_tubes, find_tube

    own = session.workspace.names("tubes")
    if name is None:
        document = {"tubes": [asdict(t) for t in all_tubes()], "own": list(own)}
        session.show(document, lambda: _list(all_tubes(), own))
    elif name in own:
        tube = _own(session, name)
        session.show(tube.model_dump(mode="json"), lambda: _own_text(name, tube))
    else:
        stock = find_tube(name)
        session.show(asdict(stock), lambda: _stock_text(stock))
    return PASS


def _own(session: Session, name: str) -> TubeFile:
    from chassis_gen.params.build import TubeFile
    from chassis_gen.params.reading import read_model

    return read_model(session.workspace.shared_file("tubes", name), TubeFile, session.root)


def _list(tubes: tuple[StockTube, ...], own: tuple[str, ...]) -> str:
    rows = [
        (t.name, t.material, f"{t.outer_diameter:.3f}", f"{t.wall:.3f}", f"{t.bore_diameter:.3f}", t.source)
        for t in tubes
    ]
    header = ("tube", "material", "outside", "wall", "bore", "source")
    text = table(header, rows, terminal_width(), right=(2, 3, 4))
    named = f"\nIn profiles/tubes: {', '.join(own)}." if own else ""
    return f"{text}\n\nNominal sizes in mm: measure the bore of the tube in hand.{named}"


def _stock_text(tube: StockTube) -> str:
    rows: list[tuple[str, str]] = [
        ("material", tube.material),
        ("outside diameter", f"{tube.outer_diameter:.3f} mm"),
        ("wall", f"{tube.wall:.3f} mm"),
        ("bore diameter", f"{tube.bore_diameter:.3f} mm"),
        ("source", tube.source),
    ]
    text = table((tube.name, ""), rows, terminal_width())
    return f"{text}\n\nNominal sizes: measure the bore of the tube in hand."


def _own_text(name: str, tube: TubeFile) -> str:
    rows: list[tuple[str, ...]] = []
    for segment in tube.segment:
        for bore in segment.bores:
            size = f"{bore.diameter:g} +- {bore.tolerance:g}"
            rows.append((segment.name, f"{bore.from_mouth:g}", size, f"{segment.wall:g}", segment.material))
    lines = [f"{name}: {tube.title}" if tube.title else name, ""]
    lines.append(
        table(("segment", "from mouth", "bore", "wall", "material"), rows, terminal_width(), right=(1, 2, 3))
    )
    if tube.opening:
        holes: list[Any] = [
            (o.name, f"{o.from_mouth:g}", f"{o.clock_deg:g}", f"{o.diameter:g}") for o in tube.opening
        ]
        lines += [
            "",
            table(("opening", "from mouth", "clock deg", "diameter"), holes, terminal_width(), right=(1, 2)),
        ]
    return "\n".join((*lines, "", "Lengths in mm." + (f" Source: {tube.source}" if tube.source else "")))
