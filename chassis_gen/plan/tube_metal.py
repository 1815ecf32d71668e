"""Where a tube leads current: what the maker declared, else the table; what neither knows counts as a conductor.

Shorts through the tube, bare joints near it and antennas inside it are all judged by what stands here.
"""

from __future__ import annotations

from collections.abc import Iterator

from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.tube import Segment, Tube
from chassis_gen.tables.conducting import conducting

_NEAR = 1e-6


def leads(segment: Segment) -> bool:
    """Return whether a segment counts as a conductor: declared, tabled, or not known (the safe guess)."""
    if segment.conducts is not None:
        return segment.conducts
    return conducting(segment.material).conducts is not False


def metal_runs(tube: Tube) -> tuple[tuple[float, float], ...]:
    """Return the stretches over which a tube leads current, mm: segments that meet make one.

    Args:
        tube: the tube.
    """
    runs: list[tuple[float, float]] = []
    for s in sorted((s for s in tube.segments if leads(s)), key=lambda s: s.z0):
        if runs and s.z0 <= runs[-1][1] + _NEAR:
            runs[-1] = (runs[-1][0], max(runs[-1][1], s.z1))
        else:
            runs.append((s.z0, s.z1))
    return tuple(runs)


def metal_at(tube: Tube, z: float) -> str | None:
    """Return the material that leads current round a station, or None where none does or the tube ends.

    Args:
        tube: the tube.
        z: station, mm.
    """
    return next((s.material for s in tube.segments if s.z0 <= z <= s.z1 and leads(s)), None)


def run_at(tube: Tube, z: float) -> int | None:
    """Return the number of the conducting stretch at a station, or None where the tube doesn't lead current.

    Args:
        tube: the tube.
        z: station, mm.
    """
    return next((i for i, (a, b) in enumerate(metal_runs(tube)) if a <= z <= b), None)


def material_findings(tube: Tube) -> tuple[Finding, ...]:
    """Return a warning for each segment whose material isn't known, or that is declared against its name.

    Args:
        tube: the tube.
    """
    return tuple(f for s in tube.segments for f in _material(s))


def _material(s: Segment) -> Iterator[Finding]:
    known = conducting(s.material)
    if known.conducts is None and s.conducts is None:
        nearest = f'; the nearest known name is "{known.nearest}"' if known.nearest else ""
        message = (
            f'"{s.material}" of segment "{s.name}" is no known material{nearest}. It counts as a conductor: '
            "bare joints keep clear of it, its contacts are joined, and antennas in it count as screened"
        )
        words = Remedy(
            None, None, "write its common name, or declare conducts = true or false for the segment"
        )
        yield Finding("warning", "tube-material", s.name, message, remedy=words)
    if known.conducts and s.conducts is False:
        message = (
            f'segment "{s.name}" is declared not to conduct, but "{s.material}" names {known.known_as}: '
            "a coat is no insulation to rely on, a scratch bares the metal"
        )
        text = 'leave conducts out; a sleeve inside the tube is declared by electrics.insulated = ["tube"]'
        yield Finding("warning", "tube-material", s.name, message, remedy=Remedy(None, None, text))
