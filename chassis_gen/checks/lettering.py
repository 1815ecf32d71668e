"""Lettering: beneath every letter there is material as thick as the least wall, measured on the solids."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chassis_gen.checks.result import Solids
from chassis_gen.findings import Finding
from chassis_gen.plan.chassis import ChassisPlan
from chassis_gen.shapes.body import Body

if TYPE_CHECKING:
    from chassis_gen.plan.letter_faces import PlacedText

WHOLE = 0.98
"""Share of the layer beneath a text that has to be material: a letter's facets and the layer's own differ by less."""


def check_lettering(plan: ChassisPlan, solids: Solids) -> tuple[Finding, ...]:
    """Return an error for each text beneath which the wall is too thin.

    Args:
        plan: the build.
        solids: its solids.
    """
    if not plan.lettering:
        return ()
    return tuple(f for t in plan.lettering if (f := _thin(plan, t, solids.pieces[t.piece], solids.chord)))


def _thin(plan: ChassisPlan, text: PlacedText, piece: Body, chord: float) -> Finding | None:
    from chassis_gen.shapes import mesh

    first, *others = (mesh.solid(p, chord) for p in text.floors)
    floor = first.union(*others)
    share = piece.common_volume(floor) / floor.volume
    if share >= WHOLE:
        return None
    wall = plan.rules.least_wall
    message = f'beneath "{text.text}" on {text.piece} only {share:.0%} of a wall of {wall:g} mm is material'
    numbers = {"share": share, "least_wall": wall}
    return Finding("error", "text-wall", text.id, message, numbers)
