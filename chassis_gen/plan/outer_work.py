"""Work on the outer surface when all else stands: texts, then patterns round them; loaded only where asked for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from chassis_gen.findings import Finding
from chassis_gen.plan.inputs import BuildInputs, Gathering
from chassis_gen.plan.model import Obstacle
from chassis_gen.plan.outer_ground import OuterGround
from chassis_gen.plan.wiring import lay_build

if TYPE_CHECKING:
    from chassis_gen.plan.chassis import PiecePlan, SurfaceWork, Wire
    from chassis_gen.plan.laying import Ground, Wiring
    from chassis_gen.plan.letter_faces import PlacedText


class OuterWork(Struct, frozen=True):
    """Pieces with their surface work, what was placed, and what was found."""

    pieces: tuple[PiecePlan, ...]
    works: tuple[SurfaceWork, ...] = ()
    texts: tuple[PlacedText, ...] = ()
    findings: tuple[Finding, ...] = ()


def check_outer_work(inputs: BuildInputs, ground: OuterGround, gathering: Gathering) -> None:
    """Gather texts and patterns on sections, pieces or faces that there are not.

    Args:
        inputs: the build's files.
        ground: see `OuterGround`.
        gathering: takes the problems.
    """
    g = ground
    if inputs.build.surface:
        from chassis_gen.plan.surface_work import check_surfaces

        check_surfaces(inputs, g.bodies, g.outer, g.rules, gathering)
    if inputs.build.lettering:
        from chassis_gen.plan.lettering import check_lettering

        check_lettering(inputs, g.sections, g.hosts, g.contexts, gathering)


def lay_round_texts(
    inputs: BuildInputs, ground: OuterGround, wires_over: Ground, wires: Sequence[Wire]
) -> tuple[Wiring, tuple[Finding, ...]]:
    """Return a path for every wire that leaves the texts their places where they keep them, and what bars which wire.

    Args:
        inputs: the build's files, checked by `check_outer_work`.
        ground: see `OuterGround`.
        wires_over: what the wires are laid over.
        wires: all wires that were asked for.
    """
    if not any(t.keep_place for t in inputs.build.lettering):
        return lay_build(wires_over, wires, ground.sections), ()
    from chassis_gen.plan.letter_places import laid_round

    return laid_round(inputs, ground, wires_over, wires)


def with_outer_work(
    inputs: BuildInputs, ground: OuterGround, pieces: Sequence[PiecePlan], blocked: Sequence[Obstacle]
) -> OuterWork:
    """Return the pieces with the build's texts, and its patterns round them.

    Args:
        inputs: the build's files, checked by `check_outer_work`.
        ground: see `OuterGround`.
        pieces: with all other steps; none where a section can't be made.
        blocked: obstacles of the whole chassis.
    """
    g = ground
    made = OuterWork(tuple(pieces))
    taken = None
    if inputs.build.lettering:
        from chassis_gen.plan.lettering import letter_pieces

        lettering = letter_pieces(
            inputs, g.sections, g.hosts, g.contexts, made.pieces, blocked, g.outer, g.rules
        )
        made = OuterWork(lettering.pieces, (), lettering.texts, lettering.findings)
        taken = lettering.patches(g.hosts)
    if inputs.build.surface:
        from chassis_gen.plan.surface_work import with_surfaces

        surfaces = with_surfaces(inputs, made.pieces, g.bodies, blocked, g.outer, g.rules, taken)
        found = (*made.findings, *surfaces.findings)
        made = OuterWork(surfaces.pieces, surfaces.works, made.texts, found)
    return made
