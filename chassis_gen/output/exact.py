"""Exact solids of the pieces for exchange, held against the meshes that are printed."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from chassis_gen.cache.solids import exact_of, mesh_of
from chassis_gen.cache.store import NOTHING, Keeper
from chassis_gen.findings import Finding, Remedy
from chassis_gen.output.step import exact_kernel, step_bytes
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


class ExactSolids(Struct, frozen=True):
    """What the exact kernel made of a build.

    Args:
        files: STEP files by name, relative to the build's folder: one per piece, and the assembly.
        sections: both kernels compared, per section recipe.
        pieces: both kernels compared, per piece.
        findings: where they differ, where a solid failed, and what was left out.
    """

    files: Mapping[str, bytes]
    sections: tuple[Agreement, ...]
    pieces: tuple[Agreement, ...]
    findings: tuple[Finding, ...]


def exact_solids(
    result: CheckResult, progress: Progress, keeper: Keeper = NOTHING, patterns: bool = False
) -> ExactSolids:
    """Return the exact solids of a build's pieces and how they agree with its meshes.

    Surface work and repeated patterns take an exact kernel seconds to minutes, so they are left out, and a note
    says so, unless they are asked for; both kernels are compared without them either way. Where the cache has
    everything, no kernel is loaded.

    Args:
        result: what the checks found; without solids nothing is made.
        progress: told what is being made.
        keeper: gives solids, comparisons and files that were made before.
        patterns: whether the files get surface work and repeated patterns too.

    Raises:
        InputError: when the exact kernel is needed and isn't installed.
    """
    if result.solids is None:
        return ExactSolids({}, (), (), ())
    made: list[_Piece] = []
    sections: list[Agreement] = []
    pieces: list[Agreement] = []
    findings: list[Finding] = []
    for planned in result.plan.pieces:
        progress(f"making the exact solid of {planned.name}")
        piece = _Piece(planned, result.solids, keeper, patterns)
        try:
            compared, whole = piece.agreements()
            if patterns:
                piece.complete()
        except GeometryError as error:
            findings.append(_failed(planned.name, error))
            continue
        made.append(piece)
        sections += compared
        pieces.append(whole)
        findings += () if patterns else _left_out(planned)
    findings += [f for a in (*sections, *pieces) for f in _disagreement(a)]
    progress("writing STEP")
    return ExactSolids(
        _files(made, result.plan.build, keeper), tuple(sections), tuple(pieces), tuple(findings)
    )


def _files(pieces: Sequence[_Piece], build: str, keeper: Keeper) -> dict[str, bytes]:
    if not pieces:
        return {}

    def step(members: Sequence[_Piece], title: str) -> bytes:
        content = (title, tuple((p.name, p.written) for p in members))
        return keeper.kept(
            "step", content, lambda: step_bytes([(p.name, p.complete()) for p in members], title)
        )

    files = {f"pieces/{p.name}.step": step([p], p.name) for p in pieces}
    return {**files, "assembly.step": step(pieces, build)}


class _Piece:
    """One piece in the exact kernel; each of its solids and comparisons is made when it is first asked for.

    Every solid goes through its stored form, so that files are the same whether it was made before or not.
    """

    def __init__(self, planned: PiecePlan, solids: Solids, keeper: Keeper, patterns: bool) -> None:
        from chassis_gen.shapes.agreement import without_patterns

        self.name = planned.name
        self._planned = planned
        self._solids = solids
        self._keeper = keeper
        self._recipes = tuple(without_patterns(r) for r in planned.recipes)
        self.steps = tuple(r.steps for r in self._recipes)
        self.written = tuple(r.steps for r in planned.recipes) if patterns else self.steps
        self._shapes: dict[int, Any] = {}
        self._meshes: dict[int, Body] = {}
        self._joined: Any = None

    def agreements(self) -> tuple[tuple[Agreement, ...], Agreement]:
        """Return its sections compared, and itself compared.

        Raises:
            GeometryError: when one of its solids can't be made.
        """
        chord = self._solids.chord
        sections = tuple(
            self._kept_agreement(("section", r, chord), partial(self._compared, n))
            for n, r in enumerate(self._recipes)
        )
        whole = ("piece", self.name, self._recipes, chord)
        return sections, self._kept_agreement(whole, self._compared_whole)

    def joined(self) -> Any:
        """Return the exact solid of all its sections together."""
        if self._joined is None:
            kernel = exact_kernel()
            data = self._keeper.kept("joined", self.steps, lambda: kernel.shape_bytes(self._joining()))
            self._joined = kernel.shape_of(data)
        return self._joined

    def complete(self) -> Any:
        """Return the exact solid that is written: with what was left out of the comparison, where that is asked for.

        Raises:
            GeometryError: when it can't be made.
        """
        if self.written == self.steps:
            return self.joined()
        kernel = exact_kernel()
        data = self._keeper.kept("joined", self.written, lambda: kernel.shape_bytes(self._whole()))
        return kernel.shape_of(data)

    def _whole(self) -> Any:
        shapes = [exact_of(Recipe(self.name, steps), self._keeper) for steps in self.written]
        return self._fused(shapes)

    def _joining(self) -> Any:
        return self._fused([self._shape(n) for n in range(len(self._recipes))])

    def _fused(self, shapes: Sequence[Any]) -> Any:
        first, *more = shapes
        joined = first.fuse(*more) if more else first
        cleaned = _without_seams(joined)
        if cleaned is None and not joined.isValid():
            raise GeometryError(self.name, "the exact kernel made an invalid solid of its sections")
        return joined if cleaned is None else cleaned

    def _compared(self, number: int) -> Agreement:
        from chassis_gen.shapes.agreement import compare, cut_stations

        recipe, chord = self._recipes[number], self._solids.chord
        stations = cut_stations(recipe, chord)
        return compare(recipe, self._mesh(number), self._shape(number), chord, stations)

    def _compared_whole(self) -> Agreement:
        from chassis_gen.shapes.agreement import compare

        first, *more = (self._mesh(n) for n in range(len(self._recipes)))
        steps = tuple(s for r in self._recipes for s in r.steps)
        mesh = first.union(*more) if more else first
        return compare(Recipe(self.name, steps), mesh, self.joined(), self._solids.chord)

    def _kept_agreement(self, content: object, make: Callable[[], Agreement]) -> Agreement:
        from chassis_gen.shapes.agreement import Agreement, Compared

        def text() -> bytes:
            made = make()
            return json.dumps(
                [made.name, [[f.what, f.mesh, f.exact, f.allowed] for f in made.figures]]
            ).encode()

        name, figures = json.loads(self._keeper.kept("agreement", content, text))
        return Agreement(name, tuple(Compared(*f) for f in figures))

    def _shape(self, number: int) -> Any:
        if number not in self._shapes:
            exact_kernel()
            self._shapes[number] = exact_of(self._recipes[number], self._keeper)
        return self._shapes[number]

    def _mesh(self, number: int) -> Body:
        """Return the mesh to compare with: the one that was checked, unless patterns have been left out."""
        if number not in self._meshes:
            planned, recipe, solids = self._planned, self._recipes[number], self._solids
            if recipe.steps == planned.recipes[number].steps and planned.owner is None:
                self._meshes[number] = solids.sections[planned.sections[number]]
            else:
                self._meshes[number] = mesh_of(recipe, solids.chord, self._keeper)
        return self._meshes[number]


def _without_seams(joined: Any) -> Any:
    """Return a union with the seams between its sections taken out, or None where that would spoil it."""
    cleaned = joined.clean()
    kept = math.isclose(cleaned.Volume(), joined.Volume(), rel_tol=SAME_VOLUME)
    same = kept and len(cleaned.Solids()) == len(joined.Solids()) and cleaned.isValid()
    return cleaned if same else None


def _disagreement(agreement: Agreement) -> tuple[Finding, ...]:
    worst = max(agreement.figures, key=lambda f: abs(f.mesh - f.exact) / f.allowed)
    if agreement.ok:
        return ()
    message = f"{agreement.name}: the two kernels made different solids; {worst.text()}"
    numbers = {"mesh": worst.mesh, "exact": worst.exact, "allowed": worst.allowed}
    return (Finding("error", "kernels-disagree", agreement.name, message, numbers),)


def _failed(name: str, error: GeometryError) -> Finding:
    message = f"{name}: the exact kernel could not make the solid ({error}); no STEP file is written for it"
    remedy = Remedy(
        None, None, "`build --no-step` leaves STEP files out; STL and 3MF come from the mesh kernel and hold"
    )
    return Finding("error", "exact-solid-failed", name, message, remedy=remedy)


def _left_out(piece: PiecePlan) -> tuple[Finding, ...]:
    from chassis_gen.shapes.agreement import without_patterns

    labels = dict.fromkeys(
        step.label for r in piece.recipes for step in r.steps if step not in without_patterns(r).steps
    )
    if not labels:
        return ()
    listed = ", ".join(labels)
    message = f"{piece.name}: its STEP file lacks surface work and repeated patterns ({listed}); STL and 3MF have them"
    remedy = Remedy(None, None, "`build --step-patterns` puts them in, in seconds to minutes")
    return (Finding("note", "step-without-patterns", piece.name, message, remedy=remedy),)
