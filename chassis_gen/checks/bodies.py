"""Bodies: each piece is one connected solid with no void sealed inside."""

from __future__ import annotations

from chassis_gen.checks.places import middle, place, section_at, words
from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding, Remedy
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.shapes.body import Component


def check_bodies(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return an error for each loose part of a piece and for each void trapped in one.

    The kernel's solids are closed and manifold by construction; only their being in one is looked at.

    Args:
        plan: the build.
        solids: its solids.
    """
    found: list[Finding] = []
    for name, body in solids.pieces.items():
        shells = body.components()
        if not shells:
            found.append(Finding("error", "piece-empty", name, f"nothing is left of {name}"))
        outer = [s for s in shells if s.volume > 0]
        found += [_loose(plan, name, shell, len(outer)) for shell in outer[1:]]
        found += [_void(plan, name, shell) for shell in shells if shell.volume < 0]
    return tuple(found)


def _loose(plan: ChassisPlan, name: str, shell: Component, count: int) -> Finding:
    at = middle(shell.bounds)
    section = section_at(plan, at[2], name)
    message = (
        f"{name} falls into {count} bodies: one of {shell.volume:.2f} mm3 in {section} at {words(at)} "
        f"isn't joined to the rest"
    )
    numbers = {"bodies": float(count), "volume_mm3": shell.volume, **place(at)}
    bay = any(s.name == section and s.kind == "lead_bay" for s in plan.sections)
    text = (
        "an end plate at the open end, or rails at the next bay's clocks"
        if bay
        else f"thicker walls or smaller rooms in {section}"
    )
    return Finding("error", "piece-falls-apart", name, message, numbers, Remedy(None, None, text))


def _void(plan: ChassisPlan, name: str, shell: Component) -> Finding:
    at = middle(shell.bounds)
    section = section_at(plan, at[2], name)
    message = f"{name} has a void of {-shell.volume:.2f} mm3 sealed in {section} at {words(at)}"
    remedy = Remedy(None, None, f"a lead bay beside {section}, or no hole or room there")
    numbers = {"volume_mm3": -shell.volume, **place(at)}
    return Finding("error", "trapped-void", name, message, numbers, remedy)
