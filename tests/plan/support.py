"""Printers, sections, terminals and grounds to plan with, and builds written to a workspace of their own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from chassis_gen.params.workspace import Workspace
from chassis_gen.pipeline import load_build, plan_of
from chassis_gen.plan.chassis import ChassisPlan, Wire
from chassis_gen.plan.finish import single_coat
from chassis_gen.plan.fitting import Behaviour, Fitter, PrinterTerms, allowances
from chassis_gen.plan.laying import Ground, WiringRules
from chassis_gen.plan.model import Gallery, Obstacle, Outer, OuterStep, PlacedTerminal, SectionPlan
from chassis_gen.plan.sums import Term
from chassis_gen.tables.fits import all_fits, printer_allowance, printer_tolerance
from chassis_gen.tables.wire import awg_diameter, insulated_diameter, wiring_rule

CLASSES = {f.name: f for f in all_fits()}
INNER, OUTER = printer_allowance("inner").value, printer_allowance("outer").value
TOLERANCE = printer_tolerance(False).value
UNCALIBRATED = allowances(INNER, OUTER, INNER, INNER, TOLERANCE, "allowance")
WALL = 0.8
"""Two widths of a 0.4 mm nozzle."""
ANYWHERE = ((0.0, 360.0),)
RULES = WiringRules(
    open_fill=wiring_rule("open_fill").value,
    closed_fill=wiring_rule("closed_fill").value,
    closed_fill_silicone=wiring_rule("silicone_long_fill").value,
    long_closed=wiring_rule("silicone_long_length").value,
    least_closed=wiring_rule("closed_lane_min").value,
    mouth=wiring_rule("mouth_round").value,
    cover=wiring_rule("groove_cover").value,
    end_allowance=wiring_rule("end_allowance").value,
    round_up=wiring_rule("cut_round_up").value,
)


def measured(
    inner: float, outer: float, standing: float, lying: float, tolerance: float = 0.05
) -> PrinterTerms:
    """Return a calibrated printer of scale 1 whose prints are off by given offsets, mm."""

    def off(by: float) -> Behaviour:
        return Behaviour("printed", 1.0, by, tolerance, "gauge")

    return PrinterTerms(off(inner), off(outer), off(0.0), off(standing), off(lying), "gauge", calibrated=True)


def fitter(
    printer: PrinterTerms = UNCALIBRATED,
    finish: float = 0.0,
    adjustments: Mapping[str, tuple[Term, ...]] | None = None,
) -> Fitter:
    """Return a fitter with the tabled fit classes."""
    return Fitter(CLASSES, printer, single_coat(finish), adjustments or {})


def wire(
    id: str, start: str, end: str, gauge: int = 26, insulation: str = "silicone", clock: float | None = None
) -> Wire:
    """Return a wire of tabled diameters."""
    od = insulated_diameter(gauge, insulation)
    return Wire(id, start, end, gauge, insulation, "", od, awg_diameter(gauge), clock, key="wire[0]")


def terminal(
    id: str, z: float, exits: tuple[tuple[float, float], ...] = ANYWHERE, x: float = 0.0, y: float = 0.0
) -> PlacedTerminal:
    """Return a terminal that is reached from the given clocks."""
    return PlacedTerminal(id, (x, y, z), exits, 0.9)


def section(
    name: str,
    z0: float,
    z1: float,
    obstacles: Sequence[Obstacle] = (),
    terminals: Sequence[PlacedTerminal] = (),
    galleries: Sequence[Gallery] = (),
) -> SectionPlan:
    """Return a section that is nothing but obstacles, terminals and galleries."""
    return SectionPlan(
        "test", name, z0, z1, "chassis", None,
        obstacles=tuple(obstacles), terminals=tuple(terminals), galleries=tuple(galleries),
    )  # fmt: skip


def ground(
    sections: Sequence[SectionPlan],
    radius: float = 18.8,
    blocked: Sequence[Obstacle] = (),
    closed: Sequence[str] = (),
    outer: Outer | None = None,
) -> Ground:
    """Return a ground of one radius over all sections."""
    plain = Outer((OuterStep(sections[0].z0, sections[-1].z1, radius, True),))
    return Ground(tuple(sections), outer or plain, tuple(blocked), frozenset(closed), WALL, RULES)


def write_build(root: Path, text: str, name: str = "trial") -> Workspace:
    """Return a workspace that holds one build of a text."""
    folder = root / "profiles" / name
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "build.toml").write_text(text, "utf-8")
    return Workspace(root)


def planned(root: Path, text: str) -> ChassisPlan:
    """Return the plan of a build given as text."""
    return plan_of(load_build(write_build(root, text), "trial"))
