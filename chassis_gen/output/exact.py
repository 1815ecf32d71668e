"""Exact solids of the pieces for exchange, held against the meshes that are printed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from chassis_gen.findings import Finding
from chassis_gen.output.step import exact_kernel
from chassis_gen.plan.chassis import PiecePlan
from chassis_gen.shapes.errors import GeometryError
from chassis_gen.shapes.recipe import Recipe

if TYPE_CHECKING:
    from chassis_gen.checks.result import CheckResult, Solids
    from chassis_gen.shapes.agreement import Agreement
    from chassis_gen.shapes.body import Body

Progress = Callable[[str], None]
SAME_VOLUME = 1e-9
"""Relative difference of volumes that the exact kernel's own rounding may make."""


@dataclass(frozen=True)
class ExactSolids:
    """What the exact kernel made of a build.

    Args:
        shapes: exact solid by piece name.
        sections: both kernels compared, per section recipe.
        pieces: both kernels compared, per piece.
        findings: where they differ, where a solid failed, and what was left out.
    """

    shapes: Mapping[str, Any]
    sections: tuple[Agreement, ...]
    pieces: tuple[Agreement, ...]
    findings: tuple[Finding, ...]


def exact_solids(result: CheckResult, progress: Progress) -> ExactSolids:
    """Return the exact solids of a build's pieces and how they agree with its meshes.

    Repeated patterns take an exact kernel seconds to minutes, so they are left out, and a note says so;
    both kernels are then compared without them.

    Args:
        result: what the checks found; without solids nothing is made.
        progress: told what is being made.

    Raises:
        InputError: when the exact kernel isn't installed.
    """
    if result.solids is None:
        return ExactSolids({}, (), (), ())
    exact_kernel()
    shapes: dict[str, Any] = {}
    sections: list[Agreement] = []
    pieces: list[Agreement] = []
    findings: list[Finding] = []
    for piece in result.plan.pieces:
        progress(f"making the exact solid of {piece.name}")
        try:
            made, compared, whole = _piece(piece, result.solids)
        except GeometryError as error:
            findings.append(_failed(piece.name, error))
            continue
        shapes[piece.name] = made
        sections += compared
        pieces.append(whole)
        findings += _left_out(piece)
    findings += [f for a in (*sections, *pieces) for f in _disagreement(a)]
    return ExactSolids(shapes, tuple(sections), tuple(pieces), tuple(findings))


def _piece(piece: PiecePlan, solids: Solids) -> tuple[Any, list[Agreement], Agreement]:
    """Return a piece's exact solid, its sections compared, and itself compared."""
    from chassis_gen.shapes import brep
    from chassis_gen.shapes.agreement import compare, cut_frames, without_patterns

    plain = [without_patterns(r) for r in piece.recipes]
    meshes = [
        _mesh(recipe, whole, piece, number, solids)
        for number, (recipe, whole) in enumerate(zip(plain, piece.recipes, strict=True))
    ]
    shapes = [brep.make(recipe) for recipe in plain]
    compared = [
        compare(recipe, mesh, shape, solids.chord, cut_frames(recipe, solids.chord))
        for recipe, mesh, shape in zip(plain, meshes, shapes, strict=True)
    ]
    joined = _without_seams(shapes[0].fuse(*shapes[1:]) if len(shapes) > 1 else shapes[0])
    if not joined.isValid():
        raise GeometryError(piece.name, "the exact kernel made an invalid solid of its sections")
    whole_mesh = meshes[0].union(*meshes[1:]) if len(meshes) > 1 else meshes[0]
    steps = tuple(s for recipe in plain for s in recipe.steps)
    return joined, compared, compare(Recipe(piece.name, steps), whole_mesh, joined, solids.chord)


def _without_seams(joined: Any) -> Any:
    """Return a union with the seams between its sections taken out, or as it is where that would spoil it."""
    cleaned = joined.clean()
    kept = math.isclose(cleaned.Volume(), joined.Volume(), rel_tol=SAME_VOLUME)
    same = kept and len(cleaned.Solids()) == len(joined.Solids()) and cleaned.isValid()
    return cleaned if same else joined


def _mesh(recipe: Recipe, whole: Recipe, piece: PiecePlan, number: int, solids: Solids) -> Body:
    """Return the mesh to compare with: the one that was checked, unless patterns have been left out."""
    from chassis_gen.shapes import mesh

    if recipe.steps != whole.steps:
        return mesh.make(recipe, solids.chord)
    if piece.owner is None:
        return solids.sections[piece.sections[number]]
    return solids.pieces[piece.name] if len(piece.recipes) == 1 else mesh.make(recipe, solids.chord)


def _disagreement(agreement: Agreement) -> tuple[Finding, ...]:
    worst = max(agreement.figures, key=lambda f: abs(f.mesh - f.exact) / f.allowed)
    if agreement.ok:
        return ()
    message = f"{agreement.name}: the two kernels made different solids; {worst.text()}"
    numbers = {"mesh": worst.mesh, "exact": worst.exact, "allowed": worst.allowed}
    return (Finding("error", "kernels-disagree", agreement.name, message, numbers),)


def _failed(name: str, error: GeometryError) -> Finding:
    message = f"{name}: the exact kernel could not make the solid ({error}); no STEP file is written for it"
    return Finding("error", "exact-solid-failed", name, message)


def _left_out(piece: PiecePlan) -> tuple[Finding, ...]:
    from chassis_gen.shapes.agreement import without_patterns

    labels = dict.fromkeys(
        step.label for r in piece.recipes for step in r.steps if step not in without_patterns(r).steps
    )
    if not labels:
        return ()
    listed = ", ".join(labels)
    message = f"{piece.name}: its STEP file lacks the repeated patterns ({listed}); STL and 3MF have them"
    return (Finding("note", "step-without-patterns", piece.name, message),)
