"""``chassis-gen tubes``: stock tubes of the table and the workspace's own tube files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.groups import SHOW, ShowGroup, prompted
from chassis_gen.cli.session import PASS, Session, json_option
from chassis_gen.cli.text import paragraph, table, terminal_width
from chassis_gen.problems import InputError, Problem
from chassis_gen.records import as_data

if TYPE_CHECKING:
    from chassis_gen.params.bore_measuring import BoreForm
    from chassis_gen.params.build import TubeFile
    from chassis_gen.params.hole_measuring import Hole
    from chassis_gen.tables.tubes import StockTube


@click.group("tubes", cls=ShowGroup)
@json_option
def command() -> None:
    """List the tubes that are known, show one, or measure one.

    NAME is a stock tube, or a file in profiles/tubes without .toml.
    """


@command.command(SHOW, hidden=True)
@click.argument("name", required=False)
@json_option
@click.pass_obj
def show(session: Session, name: str | None) -> int:
    """List the tubes that are known, or show one."""
    from chassis_gen.tables.tubes import all_tubes, find_tube

    own = session.workspace.names("tubes")
    if name is None:
        document = {"tubes": [as_data(t) for t in all_tubes()], "own": list(own)}
        session.show(document, lambda: _list(all_tubes(), own))
    elif name in own:
        tube = _own(session, name)
        session.show(tube.model_dump(mode="json"), lambda: _own_text(name, tube))
    else:
        stock = find_tube(name)
        session.show(as_data(stock), lambda: _stock_text(stock))
    return PASS


@command.command("measure")
@click.argument("name")
@click.option("--length", metavar="READINGS", help="Length of the tube, such as 290.1,290.0.")
@click.option("--outside", metavar="READINGS", help="Outside diameter, such as 43.02,43.00.")
@click.option(
    "--bore", "bores", multiple=True, metavar="DEPTH@ANGLE=READINGS", help="Such as 20@90=40.02,40.03."
)
@click.option("--shoulder", "shoulders", multiple=True, type=float, help="Station where the bore steps, mm.")
@click.option(
    "--hole",
    "holes",
    multiple=True,
    metavar="NAME:KEY=READINGS...",
    help='Such as "button: near=111.9 far=124.1 arc=31.4".',
)
@click.option("--paper", type=float, default=0.1, help="Thickness of the wrapped strip, mm (default 0.1).")
@click.option("--accuracy", type=float, default=0.03, help="Plus-minus of the caliper, mm (default 0.03).")
@click.option(
    "--strip-accuracy",
    type=float,
    default=0.25,
    help="Plus-minus of a reading on a strip, mm (default 0.25).",
)
@click.option("--material", help="What the tube is made of.")
@click.option("--title", help="One line for people.")
@click.option("--source", help="Who measured it, with what.")
@json_option
@click.pass_obj
def measure(
    session: Session,
    name: str,
    length: str | None,
    outside: str | None,
    bores: tuple[str, ...],
    shoulders: tuple[float, ...],
    holes: tuple[str, ...],
    paper: float,
    accuracy: float,
    strip_accuracy: float,
    material: str | None,
    title: str | None,
    source: str | None,
) -> int:
    """Write a tube file from readings of bore, outside and holes.

    A hole is read along the tube by its edges (near=, far=) or an edge and its width (width=); round the tube,
    from a mark to its middle or its edges, by a wrapped strip (arc=, arc_near=, arc_far=) or by a caliper
    straight across (chord=, chord_near=, chord_far=). All readings may be several, parted by commas. What isn't
    given is asked for at a terminal. A file that is there keeps its comments and all else.
    """
    from chassis_gen.cli.measuring import write_shared
    from chassis_gen.params.bore_measuring import check_wall, read_bores
    from chassis_gen.params.build import TubeFile
    from chassis_gen.params.hole_measuring import Known, Outside, read_hole
    from chassis_gen.params.readings import averaged, checked_accuracy, read_numbers
    from chassis_gen.params.tube_measuring import tube_values

    accuracy = checked_accuracy(accuracy)
    strip_accuracy = checked_accuracy(strip_accuracy, "--strip-accuracy")
    whole = averaged(
        read_numbers(_given(session, length, "--length", "Length, mm"), "the length", 1, 2000), accuracy
    )
    across = averaged(
        read_numbers(_given(session, outside, "--outside", "Outside diameter, mm"), "the outside", 5, 350),
        accuracy,
    )
    stretches = read_bores(
        bores or _typed(session, "--bore", "Bore, depth@angle=readings"), shoulders, whole.mean, accuracy
    )
    check_wall(across.mean, stretches)
    round_it = Outside(Known(across.mean, across.range), paper, accuracy, strip_accuracy, whole.mean)
    found = [read_hole(h, round_it) for h in holes]
    values = tube_values(whole.mean, across, stretches, found, material, title, source)
    head = f"Measured with chassis-gen tubes measure {name}. Lengths in mm."
    file = write_shared(session, "tubes", name, values, head, TubeFile)
    doubts = [f"bore from station {b.z0:g}: {b.doubt}" for b in stretches if b.doubt]
    remarks = [*doubts, *(r for h in found for r in h.remarks)]
    document = {"status": "written", "tube": name, "file": file, "remarks": remarks, **values}
    session.show(document, lambda: _measured_text(file, stretches, found, remarks))
    return PASS


def _given(session: Session, text: str | None, key: str, label: str) -> str:
    """Return an option's text, or what is typed for it at a terminal.

    Raises:
        InputError: it isn't given and nobody can be asked.
    """
    found = text if text is not None else prompted(label, session.wants_json)
    if not found:
        raise InputError([Problem("missing-key", "no reading is given", key=key, allowed=f"{key} READINGS")])
    return found


def _typed(session: Session, key: str, label: str) -> tuple[str, ...]:
    """Return lines typed at a terminal until an empty one."""
    first = _given(session, None, key, label)
    lines = [first]
    while more := prompted(f"{label}, or nothing", session.wants_json):
        lines.append(more)
    return tuple(lines)


def _measured_text(
    file: str, bores: Sequence[BoreForm], holes: Sequence[Hole], remarks: Sequence[str]
) -> str:
    width = terminal_width()
    rows = [
        (
            f"{b.z0:g} to {b.z1:g}",
            f"{b.diameter:.3f}",
            f"{b.tolerance:.3f}",
            f"{b.ovality:.3f}" if b.turns else "not read",
            f"{b.taper:+.3f} +- {b.taper_range:.3f}" if b.taper_range else "not read",
        )
        for b in bores
    ]
    text = table(("stations", "bore", "+-", "ovality", "taper"), rows, width, (1, 2))
    if holes:
        lines = [
            (
                h.name,
                f"{h.station.value:.2f} +- {h.station.range:.2f}",
                f"{h.clock.value:.1f} +- {h.clock.range:.1f}" if h.clock else "not read",
                f"{h.diameter.value:.2f} +- {h.diameter.range:.2f}",
            )
            for h in holes
        ]
        text += "\n\n" + table(("hole", "station", "clock deg", "diameter"), lines, width)
    noted = "".join(f"\n\n{paragraph(f'Note: {r}.', width)}" for r in remarks)
    return f"{text}{noted}\n\nWritten to {file}. Lengths in mm."


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
