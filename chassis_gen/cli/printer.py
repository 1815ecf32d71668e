"""``chassis-gen printer``: the gauge to print, what its readings say, and what the machine can make."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from chassis_gen.cli.outcome import TRUST
from chassis_gen.cli.session import FAIL, PASS, Session, json_option
from chassis_gen.cli.text import paragraph, table, terminal_width
from chassis_gen.problems import quoted

if TYPE_CHECKING:
    from chassis_gen.params.printer import PrinterFile
    from chassis_gen.printer.calibrate import Calibration, Line
    from chassis_gen.printer.making import GaugeSet
    from chassis_gen.printer.qualify import Qualification
    from chassis_gen.printer.readings import Sheet


@click.group("printer")
@json_option
def command() -> None:
    """Measure a printer: gauge, calibration, and what it can make.

    A PRINTER is a file in profiles/printers without .toml. Print the gauge with the slicer's own size
    compensation off, measure what is engraved, fill in the readings sheet, then calibrate.
    """


@command.command("gauge")
@click.argument("printer")
@click.option("--for", "for_part", metavar="PART", help='Go/no-go pieces for a part, or "tube" with --build.')
@click.option("--build", metavar="BUILD", help="A short ring of the build's own bearing and cell seat.")
@click.option("--places", type=click.Choice(["1", "5"]), default="1", help="Places of the bed on the sheet.")
@TRUST
@json_option
@click.pass_obj
def gauge(session: Session, printer: str, for_part: str | None, build: str | None, places: str) -> int:
    """Write the gauge piece and the sheet for its readings.

    They go to out/printer-PRINTER/. A sheet that is filled in is never written over.
    """
    from chassis_gen.output.gauge import write_gauge
    from chassis_gen.printer.making import gauge_set

    with session.progress() as progress:
        file = _printer_file(session, printer)
        plan, part = _plan(session, build), _part(session, for_part)
        made = gauge_set(file, printer, part, plan, for_part == "tube")
        progress("making the gauge")
        folder = session.workspace.out_dir(f"printer-{printer}")
        written = write_gauge(folder, made, printer, (1,) if places == "1" else (1, 2, 3, 4, 5))
    document = {
        "status": "written",
        "printer": printer,
        "folder": f"out/{folder.name}",
        "files": list(written),
        "features": [
            {"number": f.number, "kind": f.kind, "nominal_mm": f.nominal, "use": f.use, "what": f.what}
            for f in made.features
        ],
    }
    session.show(document, lambda: _gauge_text(made, folder.name, written))
    return PASS


@command.command("calibrate")
@click.argument("printer")
@click.argument("readings", type=click.Path(path_type=Path))
@click.option("--material", help="The material that the gauge was printed of; goes into the printer file.")
@click.option(
    "--date",
    metavar="YYYY-MM-DD",
    type=click.DateTime(["%Y-%m-%d"]),
    help="When it was measured (default: today).",
)
@click.option("--figure", is_flag=True, help="Draw readings and fit, too (needs matplotlib).")
@json_option
@click.pass_obj
def calibrate_command(
    session: Session,
    printer: str,
    readings: Path,
    material: str | None,
    date: datetime.datetime | None,
    figure: bool,
) -> int:
    """Fit offset and scale to the readings and write them into the printer file.

    Its comments and layout stay. Nothing is written when a reading can't be right.
    """
    from chassis_gen.cli.trial_text import carried_json, carried_lines
    from chassis_gen.output.calibration import calibration_png, panels
    from chassis_gen.params.printer_writing import with_behaviours
    from chassis_gen.params.writing import write_bytes_atomically, write_text_atomically
    from chassis_gen.printer.calibrate import calibrate
    from chassis_gen.printer.making import behaviours
    from chassis_gen.trial.carried import carried

    workspace = session.workspace
    path = workspace.shared_file("printers", printer)
    before = _printer_file(session, printer)
    found = calibrate(_sheet(session, readings))
    day = date.date() if date else datetime.date.today()
    others = {
        "material": _known_material(material),
        "smallest_wall": found.smallest_wall,
        "first_layer_flare": found.flare,
    }
    text = with_behaviours(path.read_text("utf-8"), behaviours(found, day), others)
    _require_sound(session, path, text)
    picture = calibration_png(panels(found), f"{printer}, {day.isoformat()}") if figure else None
    write_text_atomically(path, text)
    if picture is not None:
        folder = workspace.out_dir(f"printer-{printer}")
        folder.mkdir(parents=True, exist_ok=True)
        write_bytes_atomically(folder / "calibration.png", picture)
    with session.progress() as progress:
        progress("looking at the builds' test fits")
        notes = carried(workspace, printer, before)
    document = {
        "status": "written",
        "printer": printer,
        "file": f"profiles/printers/{printer}.toml",
        "figure": f"out/printer-{printer}/calibration.png" if figure else None,
        "compensates": before.compensates,
        "smallest_wall_mm": found.smallest_wall,
        "first_layer_flare_mm": found.flare,
        "behaviours": [_line(line) for line in found.lines.values()],
        "test_fits": carried_json(notes),
    }
    session.show(
        document,
        lambda: "\n".join((_calibration_text(found, printer, before.compensates), *carried_lines(notes))),
    )
    return PASS


@command.command("qualify")
@click.argument("printer")
@click.argument("build")
@click.argument("readings", type=click.Path(path_type=Path))
@TRUST
@json_option
@click.pass_obj
def qualify_command(session: Session, printer: str, build: str, readings: Path) -> int:
    """Say whether a build's fits are within reach of the machine.

    The readings are of the gauge printed at five places of the bed (gauge --places 5). Exit status 1: a
    fit is out of reach, or the machine has a fault that no parameter can mend.
    """
    from chassis_gen.checks.fits import share_that_fits
    from chassis_gen.pipeline import load_build, on_printer, plan_of
    from chassis_gen.printer.qualify import qualify

    with session.progress() as progress:
        file, sheet = _printer_file(session, printer), _sheet(session, readings)
        progress("planning")
        plan = plan_of(on_printer(load_build(session.workspace, build), file, printer))
        found = qualify(sheet, plan.fits, share_that_fits)
    m = found.machine
    document = {
        "printer": printer,
        "build": plan.build,
        "verdict": found.verdict,
        "calibrated": plan.calibrated,
        "machine": {
            "skew_mm_per_100_mm": m.skew,
            "skew_range_mm_per_100_mm": list(m.skew_range),
            "ovality_mm": m.ovality,
            "bow_mm": m.bow,
            "evenness_mm": m.evenness,
            "repeatability_sd_mm": m.repeatability,
            "degrees_of_freedom": m.freedom,
        },
        "faults": [{"code": f.code, "message": f.message} for f in found.faults],
        "fits": [
            {"id": r.fit.id, "form_loss_mm": r.form_loss, "yield": r.share, "within_reach": r.within}
            for r in found.reaches
        ],
    }
    session.show(document, lambda: _qualification_text(found, printer, plan.build))
    return PASS if found.verdict == "within reach" else FAIL


def _printer_file(session: Session, printer: str) -> PrinterFile:
    from chassis_gen.params.printer import PrinterFile
    from chassis_gen.params.reading import read_model

    workspace = session.workspace
    return read_model(workspace.shared_file("printers", printer), PrinterFile, workspace.root)


def _sheet(session: Session, path: Path) -> Sheet:
    from chassis_gen.params.reading import read_text
    from chassis_gen.printer.readings import read_sheet

    file, text = read_text(path, session.workspace.root)
    return read_sheet(text, file)


def _plan(session: Session, build: str | None) -> Any:
    if build is None:
        return None
    from chassis_gen.pipeline import load_build, plan_of

    return plan_of(load_build(session.workspace, build))


def _part(session: Session, name: str | None) -> Any:
    if name is None or name == "tube":
        return None
    from chassis_gen.cli.parts import own_parts
    from chassis_gen.parts.catalogue import find_part

    return find_part(name, own_parts(session))


def _known_material(name: str | None) -> str | None:
    if name is None:
        return None
    from chassis_gen.tables.materials import find_material

    return find_material(name).name


def _require_sound(session: Session, path: Path, text: str) -> None:
    """Raise when the printer file would not be read back; it is then left as it is."""
    import tomllib

    from chassis_gen.params.printer import PrinterFile
    from chassis_gen.params.reading import Source, parse_model, shown_name

    parse_model(Source(shown_name(path, session.workspace.root), text, tomllib.loads(text)), PrinterFile)


def _line(line: Line) -> dict[str, Any]:
    return {
        "kind": line.kind,
        "scale": line.scale,
        "scale_95": list(line.scale_interval),
        "offset_mm": line.offset,
        "offset_95_mm": list(line.offset_interval),
        "residual_sd_mm": line.residual_sd,
        "readings": len(line.residuals),
        "residuals": [
            {
                "feature": r.reading.feature.number,
                "place": r.reading.place,
                "nominal_mm": r.reading.feature.nominal,
                "reading_mm": r.reading.value,
                "residual_mm": r.value,
                "studentised": r.studentised,
                "outlier": r.outlier,
                "line": r.reading.line,
            }
            for r in line.residuals
        ],
    }


def _gauge_text(made: GaugeSet, folder: str, files: Sequence[str]) -> str:
    rows = [(f.number, f.kind, f"{f.nominal:.3f}".rstrip("0").rstrip("."), f.what) for f in made.features]
    width = terminal_width()
    lines = [table(("number", "kind", "drawn mm", "what to measure"), rows, width, right=(2,)), ""]
    text = (
        f"Written to out/{folder}/: {', '.join(files)}. Print with the slicer's own size compensation off, let it "
        f"cool, fill in the sheet, then: chassis-gen printer calibrate {quoted(made.printer)} "
        f"{quoted(f'out/{folder}/readings.csv')}"
    )
    return "\n".join((*lines, paragraph(text, width)))


def _calibration_text(found: Calibration, printer: str, compensates: str) -> str:
    width = terminal_width()
    rows = [
        (
            line.kind,
            str(len(line.residuals)),
            f"{line.scale:.4f}",
            _span(line.scale_interval, 4),
            f"{line.offset:+.3f}",
            _span(line.offset_interval, 3),
            f"{line.residual_sd:.3f}",
        )
        for line in found.lines.values()
    ]
    header = ("kind", "readings", "scale", "95 % interval", "offset mm", "95 % interval mm", "sd mm")
    lines = [table(header, rows, width, right=(1, 2, 4)), ""]
    for line in found.lines.values():
        worst = max(line.residuals, key=lambda r: abs(r.value))
        lines.append(
            f"{line.kind}: largest residual {worst.value:+.3f} mm (feature {worst.reading.feature.number})"
        )
        for r in line.outliers:
            lines.append(
                f"  outlier on line {r.reading.line}: feature {r.reading.feature.number} reads {r.reading.value:g} mm, "
                f"{r.value:+.3f} mm off the line; measure it again"
            )
    if found.smallest_wall is not None:
        lines.append(f"smallest wall that printed: {found.smallest_wall:g} mm")
    if found.flare is not None:
        lines.append(f"first layers are {found.flare:+.2f} mm wider")
    who = (
        "the slicer compensates: set its own size compensation from these figures; the model adds nothing"
        if compensates == "slicer"
        else "the model compensates: leave the slicer's own size compensation off"
    )
    return "\n".join((*lines, "", paragraph(f"profiles/printers/{printer}.toml is written; {who}.", width)))


def _qualification_text(found: Qualification, printer: str, build: str) -> str:
    m, width = found.machine, terminal_width()
    rows = [
        ("out of square", f"{m.skew:+.3f} mm per 100 mm", f"{_span(m.skew_range, 3)} over the bed"),
        ("ovality", f"{m.ovality:+.3f} mm", "a round along the bed less across it"),
        ("bow", f"{m.bow:+.3f} mm", "ends of the gauge over its middle, the worst place"),
        ("evenness", f"{m.evenness:.3f} mm", "heights between the places of the bed"),
        ("repeatability", f"{m.repeatability:.3f} mm", f"standard deviation, {m.freedom} degrees of freedom"),
    ]
    fits = [
        (
            r.fit.id,
            f"{r.form_loss:.3f}",
            f"{100 * r.share:.0f} % of prints fit",
            "within" if r.within else "out of reach",
        )
        for r in found.reaches
    ]
    lines = [
        f"{build} on {printer}: {found.verdict.upper()}",
        "",
        table(("figure", "value", "what it is"), rows, width),
        "",
        table(("fit", "lost to form mm", "yield", "reach"), fits, width, right=(1,)),
    ]
    for fault in found.faults:
        lines += ["", paragraph(f"No parameter mends this: {fault.message}.", width)]
    return "\n".join(lines)


def _span(limits: tuple[float, float], digits: int) -> str:
    return f"{limits[0]:.{digits}f} to {limits[1]:.{digits}f}"
