"""Each compensation stands exactly once in every sum, whoever compensates; printing gives back what was wanted."""

from __future__ import annotations

import copy
import datetime
import math
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from chassis_gen.params.printer import BehaviourTable, PrinterFile
from chassis_gen.params.reading import Source, parse_model
from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build, model_of_builds, on_printer
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.fitting import PrinterTerms
from chassis_gen.plan.planner import plan_build
from chassis_gen.plan.printing import printer_terms
from chassis_gen.plan.sums import ADJUSTMENT, FINISH, GRID, PART_SIZE, PRINTER, Dimension
from chassis_gen.sections.registry import section_kinds

REPOSITORY = Path(__file__).parents[2]
BUILDS = sorted(p.parent.name for p in REPOSITORY.glob("profiles/*/build.toml"))
DAY = datetime.date(2025, 11, 2)


def table(scale: float, offset: float, readings: int) -> dict[str, Any]:
    return {"scale": scale, "offset": offset, "residual_sd": 0.02, "date": DAY, "readings": readings}


MEASURED = {
    "inner": table(0.9982, -0.14, 6),
    "outer": table(0.9978, 0.09, 9),
    "z": table(0.9991, 0.06, 5),
    "standing_hole": table(0.9982, -0.21, 6),
    "lying_hole": table(0.9982, -0.27, 5),
}
PRINTERS = {
    "none": None,
    "uncalibrated": PrinterFile(),
    "calibrated": PrinterFile.model_validate({"behaviour": MEASURED}),
    "two contours": PrinterFile.model_validate({"behaviour": {k: MEASURED[k] for k in ("inner", "outer")}}),
    "slicer": PrinterFile.model_validate({"behaviour": MEASURED, "compensates": "slicer"}),
    "slicer, uncalibrated": PrinterFile.model_validate({"compensates": "slicer"}),
}


def plain(data: dict[str, Any]) -> None:
    """Leave the build as it is."""


def face_cap(data: dict[str, Any]) -> None:
    next(s for s in data["section"] if s["kind"] == "speaker_cup")["cap"] = "face"


def bayonet(data: dict[str, Any]) -> None:
    next(s for s in data["section"] if s["kind"] == "speaker_cup")["cap_hold"] = "bayonet"


def coated(data: dict[str, Any]) -> None:
    data["finish"] = {"coating": 0.05}
    # Coated seats are longer: the sections before a pinned one get the room for that.
    data["tube"]["chassis_offset"] -= 0.5


def adjusted(data: dict[str, Any]) -> None:
    cell = next(s for s in data["section"] if s["kind"] == "cell_cradle")
    data["adjustment"] = [{"dimension": f"{cell['name']}.seat_diameter", "add": 0.2, "why": "tight"}]


CHANGES = (plain, face_cap, bayonet, coated, adjusted)


@cache
def planned(build: str, change: Any, printer: str) -> ChassisPlan:
    """Return a demo build's plan, changed in one respect, on one of the printers."""
    loaded = load_build(Workspace(REPOSITORY), build)
    data = copy.deepcopy(dict(loaded.inputs.source.data))
    change(data)
    source = Source(loaded.inputs.source.file, loaded.inputs.source.text, data)
    inputs = replace(loaded.inputs, source=source, build=parse_model(source, model_of_builds()))
    file = PRINTERS[printer]
    on = on_printer(replace(loaded, inputs=inputs), file, "test printer") if file else None
    return plan_build(on.inputs if on else replace(inputs, printer=None), section_kinds())


VARIED = "quay-lantern"
USUAL = ("uncalibrated", "calibrated", "slicer")


def cases() -> list[Any]:
    """Return one demo build in every variant on every printer, the others as they are on the usual three."""
    first = [(VARIED, change, printer) for change in CHANGES for printer in PRINTERS]
    others = [(build, plain, printer) for build in BUILDS if build != VARIED for printer in USUAL]
    return [pytest.param(b, c, p, id=f"{b}-{c.__name__}-{p}") for b, c, p in (*first, *others)]


def compensations(d: Dimension) -> list[Any]:
    return [t for t in d.terms if PRINTER in t.label]


def holder(plan: ChassisPlan, d: Dimension) -> Dimension:
    """Return the fitted size whose terms a longer sum, such as a section's length, takes over as they are."""
    inside = (
        x for x in plan.dimensions.values() if x != d and set(x.terms) < set(d.terms) and compensations(x)
    )
    return next(inside, d)


def behaviour_of(terms: PrinterTerms, source: str) -> Any:
    """Return the behaviour whose words a term's source begins with."""
    kinds = (terms.inner, terms.outer, terms.z, terms.standing_hole, terms.lying_hole)
    return next(b for b in kinds if source.startswith(f"{b.words}: "))


@pytest.mark.parametrize(("build", "change", "printer"), cases())
def test_each_compensation_stands_exactly_once_in_every_sum(build: str, change: Any, printer: str) -> None:
    plan = planned(build, change, printer)
    terms = printer_terms(PRINTERS[printer], "test printer")
    assert any(compensations(d) for d in plan.dimensions.values())
    for d in plan.dimensions.values():
        found = compensations(d)
        labels = [t.label for t in found]
        assert len(set(labels)) == len(labels), d
        assert not any("shrink" in t.label.casefold() for t in d.terms), d
        for t in found:
            sources = ["allowance" in t.source, "measured on" in t.source]
            assert sum(sources) == 1, t
            assert ("measured on" in t.source) == plan.calibrated
            if "slicer" in printer:
                assert t.value == 0.0
                assert "the slicer compensates" in t.source
        own = [t for t in found if t.label == PRINTER]
        if own:
            (term,) = own
            fitted = holder(plan, d)
            assert term in fitted.terms
            wanted = math.fsum(t.value for t in fitted.terms if t.label not in (PRINTER, ADJUSTMENT))
            b = behaviour_of(terms, term.source)
            # Wanted = scale x drawn + offset, solved for drawn, less wanted.
            expected = 0.0 if "slicer" in printer else (wanted - b.offset) / b.scale - wanted
            assert term.value == pytest.approx(expected, abs=1e-9), d
            assert term.tolerance == pytest.approx(0.06 if plan.calibrated else 0.2)


@pytest.mark.parametrize(("build", "change", "printer"), cases())
def test_printing_what_is_drawn_gives_the_clearance_that_was_wanted(
    build: str, change: Any, printer: str
) -> None:
    plan = planned(build, change, printer)
    terms = printer_terms(PRINTERS[printer], "test printer")
    reference = planned(build, change, "slicer").fits
    for fit, same in zip(plan.fits, reference, strict=True):
        # A fit on the tube is named by its station, which moves with what the seats are drawn to.
        assert fit.id.partition("@")[0] == same.id.partition("@")[0]
        d = fit.dimension
        (term,) = [t for t in d.terms if t.label == PRINTER]
        b = behaviour_of(terms, term.source)
        adjustment = d.term(ADJUSTMENT)
        # The machine's own law, not the model's: scale, offset, then the coating on both sides.
        printed = d.total if "slicer" in printer else b.scale * d.total + b.offset
        coat = -d.term(FINISH)
        clearance = (printed + coat - d.term(PART_SIZE)) / 2
        signed = clearance if b.words != "outer dimension" else -clearance
        assert signed == pytest.approx(fit.as_printed, abs=2 * GRID + 0.005 * abs(adjustment)), fit.id
        assert fit.as_printed == pytest.approx(same.as_printed, abs=1e-3), fit.id


def test_there_are_demo_builds_to_look_at() -> None:
    assert "quay-lantern" in BUILDS


def test_a_measured_scale_replaces_the_allowance_and_grows_with_the_size() -> None:
    inner = printer_terms(PRINTERS["calibrated"], "p").inner
    # (20 + 0.14) / 0.9982 - 20 and (40 + 0.14) / 0.9982 - 40, by hand.
    assert inner.compensation(20.0) == pytest.approx(0.176317, abs=1e-6)
    assert inner.compensation(40.0) == pytest.approx(0.212382, abs=1e-6)
    assert inner.printed(20.0 + inner.compensation(20.0)) == pytest.approx(20.0, abs=1e-12)
    source = inner.term(20.0).source
    assert all(words in source for words in ("measured on p", "2025-11-02", "6 readings"))


def test_an_unmeasured_kind_of_hole_behaves_like_inner_dimensions_and_heights_are_left_alone() -> None:
    terms = printer_terms(PRINTERS["two contours"], "p")
    assert terms.lying_hole.compensation(5.0) == terms.inner.compensation(5.0)
    assert terms.z.compensation(5.0) == 0.0


def test_a_build_of_another_material_than_the_calibrated_one_is_warned_of() -> None:
    file = PRINTERS["calibrated"].model_copy(update={"material": "PLA"})
    loaded = on_printer(load_build(Workspace(REPOSITORY), "quay-lantern"), file, "p")
    (finding,) = [
        f for f in plan_build(loaded.inputs, section_kinds()).findings if f.code == "printer-material"
    ]
    assert finding.level == "warning"
    assert "calibrated with PLA" in finding.message


def test_the_plan_says_who_compensates() -> None:
    said = {name: planned("quay-lantern", plain, name).compensation for name in PRINTERS}
    assert {name: by for name, (by, _) in said.items()} == {
        "none": "allowance",
        "uncalibrated": "allowance",
        "calibrated": "model",
        "two contours": "model",
        "slicer": "slicer",
        "slicer, uncalibrated": "slicer",
    }
    assert "the slicer must not" in said["calibrated"][1]
    assert "the model adds nothing" in said["slicer"][1]


def test_readings_without_a_partner_contour_are_refused() -> None:
    with pytest.raises(ValueError, match=r"stands without \[behaviour.outer\]"):
        PrinterFile.model_validate({"behaviour": {"inner": MEASURED["inner"]}})
    assert BehaviourTable.model_validate(MEASURED["z"]).scale_sd == 0.0
