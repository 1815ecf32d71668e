"""What a printer file means for the plan: compensation terms, fit classes, and who compensates, in words."""

from __future__ import annotations

from chassis_gen.findings import Finding
from chassis_gen.params.printer import AllowanceTable, BehaviourKind, BehaviourTable, PrinterFile
from chassis_gen.plan.fitting import Behaviour, PrinterTerms, allowances
from chassis_gen.tables.fits import FitClass, all_fits, printer_allowance, printer_rules, printer_tolerance

SIGMAS_IN_RANGE = 3.0
"""Standard deviations in a plus-minus range: 99.7 % of a normal distribution."""

_WORDS: dict[BehaviourKind, str] = {
    "inner": "inner dimension",
    "outer": "outer dimension",
    "z": "height as printed",
    "standing_hole": "standing hole",
    "lying_hole": "lying hole",
}


def printer_terms(file: PrinterFile | None, name: str | None) -> PrinterTerms:
    """Return a printer's terms: its measured behaviours, or the usual allowances until there are any.

    A kind of hole that wasn't measured behaves like inner dimensions; a height that wasn't is left as it is.

    Args:
        file: the printer file, or None for a printer without one.
        name: the printer's name, for the sources.
    """
    slicer = file is not None and file.compensates == "slicer"
    if file is None or not file.calibrated:
        inner, outer = printer_allowance("inner"), printer_allowance("outer")
        own = file.allowance if file else AllowanceTable()
        added = inner.value if own.inner is None else own.inner
        taken_off = outer.value if own.outer is None else own.outer
        settled = own.inner is not None or own.outer is not None
        origin = f"test fits on {name}" if settled else inner.source
        source = f"uncalibrated printer's allowance, {origin}"
        made = allowances(added, taken_off, added, added, printer_tolerance(False).value, source)
        return made.by_slicer(f"the slicer compensates for {name}") if slicer else made
    b = file.behaviour
    assert b.inner is not None
    assert b.outer is not None
    made = PrinterTerms(
        inner=_behaviour("inner", b.inner, name),
        outer=_behaviour("outer", b.outer, name),
        z=_behaviour("z", b.z, name)
        if b.z
        else Behaviour("height as printed", source=f"not measured on {name}"),
        standing_hole=_behaviour("standing_hole", b.standing_hole or b.inner, name),
        lying_hole=_behaviour("lying_hole", b.lying_hole or b.inner, name),
        source=f"measured on {name}",
        calibrated=True,
    )
    return made.by_slicer(f"the slicer compensates for {name}") if slicer else made


def fit_classes(file: PrinterFile | None, name: str | None) -> dict[str, FitClass]:
    """Return the fit classes by name, a printer's own in place of the table's.

    Args:
        file: the printer file, or None.
        name: the printer's name, for the sources.
    """
    classes = {f.name: f for f in all_fits()}
    for own, row in file.fits.items() if file else ():
        classes[own] = FitClass(own, row.clearance, row.low, row.high, f"printer {name}")
    return classes


def least_wall(file: PrinterFile | None) -> float:
    """Return the thinnest wall that may be drawn, mm: two lines, or more where the gauge print showed that.

    Args:
        file: the printer file, or None.
    """
    rules = printer_rules()
    lines = rules["min_wall_lines"].value * (file.nozzle if file else rules["nozzle_diameter"].value)
    return max(lines, file.smallest_wall or 0.0) if file else lines


def compensation_words(file: PrinterFile | None, name: str | None) -> tuple[str, str]:
    """Return who compensates (``allowance``, ``model`` or ``slicer``) and the same in a sentence.

    Args:
        file: the printer file, or None.
        name: the printer's name.
    """
    if file is not None and file.compensates == "slicer":
        return (
            "slicer",
            f"on {name} the slicer's settings compensate; the model adds nothing to fitted dimensions",
        )
    if file is None or not file.calibrated:
        who = f"{name} is not calibrated" if name else "none is named, so it counts as not calibrated"
        return "allowance", f"{who}; the model adds the usual allowance to fitted dimensions"
    b = file.behaviour
    measured = [t for t in (b.inner, b.outer, b.z, b.standing_hole, b.lying_hole) if t is not None]
    last, count = max(t.date for t in measured), sum(t.readings for t in measured)
    shown = f"what {count} readings up to {last.isoformat()} show"
    text = f"on {name} the model compensates by {shown}; the slicer must not"
    return "model", text


def printer_findings(file: PrinterFile | None, name: str | None, material: str) -> tuple[Finding, ...]:
    """Return a warning when the printer was calibrated with another material than the build's.

    Args:
        file: the printer file, or None.
        name: the printer's name.
        material: what the build is printed of.
    """
    if file is None or not file.calibrated or file.material in (None, material):
        return ()
    message = (
        f"{name} was calibrated with {file.material}, and this build is printed of {material}: "
        f"the measured scale holds the shrink of {file.material}"
    )
    return (Finding("warning", "printer-material", str(name), message),)


def _behaviour(kind: BehaviourKind, table: BehaviourTable, name: str | None) -> Behaviour:
    source = f"measured on {name}, {table.date.isoformat()}, {table.readings} readings"
    return Behaviour(_WORDS[kind], table.scale, table.offset, SIGMAS_IN_RANGE * table.residual_sd, source)
