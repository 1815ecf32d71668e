"""What the checks work on and what they give back."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from msgspec import Struct

from chassis_gen.electrics.result import ElectricsResult
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.plan.model import Fit
from chassis_gen.shapes.body import Body
from chassis_gen.shapes.frame import Vec3

Tried = Callable[[tuple[Finding, ...]], tuple[Finding, ...]]


class Solids(Struct, frozen=True):
    """The solids of a build, in tube coordinates.

    Args:
        pieces: printed pieces by name.
        sections: section solids by section name (the chassis pieces are their unions).
        parts: envelopes of the seated parts at nominal size, by part id.
        tube: the tube's wall.
        chord: chord tolerance of the meshes, mm.
    """

    pieces: Mapping[str, Body]
    sections: Mapping[str, Body]
    parts: Mapping[str, Body]
    tube: Body
    chord: float


class MeasuredPlay(Struct, frozen=True):
    """How far a seated part really moves in one direction.

    Args:
        part: part id.
        direction: unit vector in tube coordinates.
        expected: planned play, mm, or None where nothing is promised.
        measured: play found on the solids, mm; where nothing is promised, up to the limit looked at.
            Negative: the part is held with that much squeeze per side. A part that stands in material
            even when its declared squeeze is taken off it has that squeeze, or 0, as its play.
    """

    part: str
    direction: Vec3
    expected: float | None
    measured: float


class MeasuredFit(Struct, frozen=True):
    """A fit, planned and measured.

    Args:
        fit: the plan's fit.
        measured: clearance per side found on the solids, mm, or None where it could not be measured.
        worst_case: smallest and largest clearance per side as printed, mm.
        likely: the same by root sum of squares, mm.
        share: share of prints that fit, 0 to 1.
        verdict: ``pass``, ``fail``, or ``unproven`` (planned and measured agree, printer uncalibrated).
    """

    fit: Fit
    measured: float | None
    worst_case: tuple[float, float]
    likely: tuple[float, float]
    share: float
    verdict: str


class CheckResult(Struct, frozen=True):
    """All that the checks found.

    Args:
        plan: the build.
        solids: what was measured, or None when no solid could be made.
        fits: measured fits.
        findings: worst first, the plan's own included.
        plays: measured play of every seated part.
        electrics: currents, drops and temperatures of the build's states; None where nobody reckoned them.
    """

    plan: ChassisPlan
    solids: Solids | None
    fits: tuple[MeasuredFit, ...]
    findings: tuple[Finding, ...]
    plays: tuple[MeasuredPlay, ...] = ()
    electrics: ElectricsResult | None = None

    @property
    def verdict(self) -> str:
        """Return ``pass`` when no finding is an error, else ``fail``."""
        return "fail" if any(f.level == "error" for f in self.findings) else "pass"
