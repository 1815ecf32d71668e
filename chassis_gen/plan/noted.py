"""Test fits in the plan: what they were reckoned on, and which of them can't count or may count twice."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.inputs import BuildInputs
from chassis_gen.plan.sums import PRINTER, Basis, Dimension
from chassis_gen.problems import nearest_name, quoted


def known_bases(inputs: BuildInputs) -> dict[str, float]:
    """Return what was made up for on the prints that test fits were seen on, mm, by dimension name.

    A print of another printer says nothing of this one's compensation and is left out.

    Args:
        inputs: the build's files.
    """
    printer = inputs.build.build.printer or ""
    return {
        name: b.compensation
        for name, b in inputs.bases.items()
        if b.compensation is not None and b.printer == printer
    }


def basis_findings(inputs: BuildInputs, sums: Mapping[str, Dimension]) -> tuple[Finding, ...]:
    """Return warnings on test fits that may count what the printer's term makes up for already.

    Args:
        inputs: the build's files.
        sums: the build's dimensions.
    """
    found = []
    for name, basis in inputs.bases.items():
        d = sums.get(name)
        if d is None or all(t.label != PRINTER for t in d.terms):
            continue
        why = _doubt(inputs, basis)
        if why is None:
            continue
        value = math.fsum(t.value for t in inputs.trial[name])
        numbers = {"value": value, "compensation": d.pair_made_up}
        if basis.compensation is not None:
            numbers["compensation_then"] = basis.compensation
        message = (
            f"{name}: entry {basis.entry} of the trial log {why}, so that its {value:+.3f} mm may count a second time "
            f"what the printer's term of {d.pair_made_up:+.3f} mm makes up for"
        )
        text = (
            "print and measure again, or take it back with "
            f"`chassis-gen trial note {quoted(inputs.name)} --undo {basis.entry}`"
        )
        found.append(
            Finding("warning", "trial-compensation", name, message, numbers, Remedy(None, None, text))
        )
    return tuple(found)


def _doubt(inputs: BuildInputs, basis: Basis) -> str | None:
    """Return why a test fit may not belong to today's printer term, or None where it does."""
    printer = inputs.build.build.printer or ""
    if basis.compensation is not None:
        if basis.printer == printer:
            return None
        then = f'was seen on a print of "{basis.printer}"' if basis.printer else "was noted without a printer"
        now = f'"{printer}"' if printer else "none"
        return f"{then}, and the build names {now} now"
    file = inputs.printer
    if file is None or not file.calibrated:
        return None
    b = file.behaviour
    dates = [t.date for t in (b.inner, b.outer, b.z, b.standing_hole, b.lying_hole) if t is not None]
    if basis.date > max(dates):
        return None
    return (
        f"of {basis.date.isoformat()} doesn't say with which printer compensation its print was drawn, "
        f"and {printer} was calibrated on {max(dates).isoformat()}"
    )


def trial_findings(
    inputs: BuildInputs, sums: Mapping[str, Dimension], lengths: Sequence[Dimension | None]
) -> tuple[Finding, ...]:
    """Return warnings on test fits of dimensions that there are not (any more), or of a fill's length.

    Args:
        inputs: the build's files.
        sums: the build's dimensions.
        lengths: of the sections in the build file's order, None for one that takes up what is left.
    """
    rows = zip(inputs.build.section, lengths, strict=True)
    fills = {f"{params.name}.length" for params, length in rows if length is None}
    found = []
    for name, terms in inputs.trial.items():
        # a sum that follows from others takes no term of its own
        there = {(t.label, t.source) for t in sums[name].terms} if name in sums else set()
        taken = name not in fills and all(
            any(label == t.label and source.startswith(t.source) for label, source in there) for t in terms
        )
        if taken:
            continue
        said = "; ".join(t.source for t in terms)
        if name in fills:
            why, text = "a fill takes up what the layout leaves", "note it on another section's length"
        elif name in sums:
            why, text = "it follows from other dimensions", "note it on a dimension that this one is made of"
        else:
            nearest = nearest_name(name, sums)
            why = f"the build has no such dimension{f'; the nearest is {nearest}' if nearest else ''}"
            text = f"note it again on {nearest or 'the dimension of its new name'} and take the old entry back (--undo)"
        message = f"{name}: {why}, so this test fit has no effect: {said}"
        numbers = {"value": sum(t.value for t in terms)}
        found.append(Finding("warning", "trial-dimension", name, message, numbers, Remedy(None, None, text)))
    return tuple(found)
